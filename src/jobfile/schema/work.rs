//! Tables about circuits, loads, emergency groups and durations.

use super::{Amps, Milliamps, Price};
use crate::jobfile::tables::{tables, words};
use crate::jobfile::value::{At, Int, Mins, Num};
use crate::jobfile::when::{Day, Hours};

words! {
    /// How a circuit was identified.
    Identified {
        Traced "traced" "followed to its end";
        Chart "chart only" "known from the board chart only";
        Unknown "unknown" "not known";
    }
    /// Whether a circuit was found live.
    OnOff {
        On "on" "found on";
        Off "off" "found off";
    }
    /// Whether the short durations hold.
    Prepared {
        Yes "yes" "identified, marked and pre-tested";
        CanBe "can be" "it can be, outside the enclosure, before its outage";
        No "no" "it cannot be";
    }
    /// What a conductor has left.
    Length {
        Enough "enough" "long enough";
        Short "short" "to be lengthened";
    }
    /// Kind of final circuit, for durations.
    Wiring {
        Radial "radial" "a radial";
        Ring "ring" "a ring";
    }
    /// How important a load is.
    Importance {
        LifeSafety "life safety" "no outage unless a measure is named";
        Critical "critical" "as the table of importance";
        High "high" "as the table of importance";
        Normal "normal" "as the table of importance";
        Low "low" "as the table of importance";
    }
}

tables! {
    /// A circuit: a row of the schedule.
    CircuitRow "circuit" {
        circuit: String, "required", "working number: the ferrule on the cable";
        old: String, "", "old reference: BOARD/WAY, with L1, L2 or L3 for one line of a three-phase way";
        new: String, "", "new reference, or `removed`, `left off`, `found off` or `stays`";
        serves: String, "required", "what it serves";
        lines: String, "by the reference", "its lines at the old way, such as `L2` or `L1 L2 L3`";
        new_lines: String, "by the reference", "which line of the new way each meets, in the order of `lines`";
        wires: String, "lines N PE", "further conductors: `N PE`, `PE`, `N` or `none`";
        wiring: Wiring, "radial", "for durations";
        device: String, "way_device of the board", "new device in words, such as `rcbo C16`";
        old_device: String, "way_device of the board", "old device in words";
        rating_a: Amps, "from `device`", "rating of its device";
        rcd_ma: Milliamps, "30 for an rcbo", "residual-current rating of its device";
        current_a: Amps, "not known: the rating counts", "design current per line";
        cable: String, "", "cable";
        length_m: Num<0, 1_000_000, 4>, "", "its length";
        load: String, "one of its own", "load that it serves; several circuits may serve one";
        importance: Importance, "normal", "how important that load is";
        area: Vec<At<String>>, "the only area", "areas that it serves, `+` between";
        emergency: Vec<At<String>>, "", "`GROUP` where it feeds the group and is the lighting that it watches, else `GROUP feed` or `GROUP lighting`; `+` between several";
        lights: bool, "true where it is watched by an emergency group", "it is normal lighting of its areas";
        neutral_with: Vec<At<String>>, "", "circuits with which it shares a neutral";
        with: Vec<At<String>>, "", "circuits with which it shares its old or new way on purpose";
        identified: Identified, "required", "how it was identified";
        found: OnOff, "on", "found on or off at the survey";
        length_left: Length, "enough", "what its conductors have left";
        entry: String, "", "side of entry";
        prepared: Prepared, "no", "identified, marked and pre-tested";
        waits_for: String, "", "delivery that its new way waits for";
        fallback: String, "", "if its test fails or its breaker is late: `left off`, `stand-in breaker` or a temporary supply";
        decides: String, "", "who decides that";
        temporary: Vec<At<String>>, "", "temporary supplies that it may go on; `any` for all";
        nodes: Vec<At<String>>, "", "further nodes that are its own conductors, beyond devices of its own";
        why: String, "", "reason of its end, or of a missing protective conductor";
        defects: String, "", "defects seen";
        terminal: String, "", "number of its neutral and earth terminals";
        remarks: String, "", "remarks";
    }
    /// A load.
    LoadRow "[[load]]" {
        name: String, "required", "the load, as in the schedule";
        importance: Importance, "as in the schedule", "how important it is";
        weight: Price, "by importance", "its weight";
        needed: Vec<At<Hours>>, "while its areas are occupied", "rules for when it is needed";
        not_needed: Vec<Day>, "", "days on which those rules do not start";
        needs: Int<1, 1000>, "all", "how many of its circuits serve it";
        areas: Vec<At<String>>, "as in the schedule", "areas that must be open for an outage";
        hold_up_min: Mins, "0", "minutes that its battery carries it";
        hold_up_recharge_min: Mins, "ten times that", "minutes on supply that restore it";
        longest_outage_min: Mins, "", "longest single outage";
        total_outage_min: Mins, "", "longest total outage";
        measure: String, "", "what is done instead, for life safety";
        may_stay_out: bool, "false", "may stay out into a later window";
        any_order: bool, "false", "its three lines may come in any order";
        notice: String, "", "what its users do before the outage";
    }
    /// An emergency group.
    GroupRow "[[emergency_group]]" {
        name: String, "required", "the group, as in the schedule";
        areas: Vec<At<String>>, "those of the lighting that it watches", "areas that it lights";
        rated_min: Mins, "required", "rated duration";
        recharge_min: Mins, "1440", "minutes on charge that restore it";
        maintained: bool, "false", "lit all the time";
        full_test: Day, "", "last full-duration test passed";
        charge_min: Mins, "rated if tested within 12 months, else half", "minutes of autonomy at the start";
        rest_mode: bool, "false", "can be put in rest mode";
        key_switch: String, "", "its test key switch";
        key_switch_at: String, "", "where that is";
        luminaires: Int<1, 10_000>, "", "how many luminaires";
        relays: Vec<At<String>>, "", "circuits that a declared sensing relay covers";
        old_state: String, "", "why its old state does not hold the rule of one circuit";
        test_min: Vec<Mins>, "by table", "durations of its function test";
    }
    /// Durations, each `[shortest, likely, longest]` in minutes.
    DurationsRow "[durations]" {
        identify: Vec<Mins>, "[6, 12, 30]", "identify, mark and pre-test before the outage";
        disconnect: Vec<Mins>, "[4, 7, 15]", "disconnect a single-phase circuit";
        disconnect_3ph: Vec<Mins>, "[6, 10, 25]", "disconnect a three-phase circuit";
        disconnect_prepared: Vec<Mins>, "[1, 2, 5]", "the same, prepared";
        disconnect_prepared_3ph: Vec<Mins>, "[2, 4, 8]", "the same, prepared";
        connect: Vec<Mins>, "[5, 8, 20]", "terminate a single-phase circuit";
        connect_3ph: Vec<Mins>, "[8, 14, 35]", "terminate a three-phase circuit";
        connect_prepared: Vec<Mins>, "[3, 5, 12]", "the same, prepared";
        connect_prepared_3ph: Vec<Mins>, "[5, 9, 18]", "the same, prepared";
        lengthen_core: Vec<Mins>, "[4, 7, 15]", "lengthen a short conductor, per core";
        dead_test: Vec<Mins>, "[5, 9, 25]", "dead test of a radial";
        dead_test_ring: Vec<Mins>, "[12, 20, 50]", "dead test of a ring";
        dead_test_3ph: Vec<Mins>, "[8, 14, 35]", "dead test of a three-phase circuit";
        dead_test_prepared: Vec<Mins>, "[2, 4, 12]", "the same, prepared";
        dead_test_prepared_3ph: Vec<Mins>, "[4, 7, 16]", "the same, prepared";
        live_test: Vec<Mins>, "[4, 7, 18]", "live test of a radial";
        live_test_ring: Vec<Mins>, "[8, 14, 35]", "live test of a ring";
        live_test_3ph: Vec<Mins>, "[6, 10, 25]", "live test of a three-phase circuit";
        live_test_prepared: Vec<Mins>, "[2, 4, 10]", "the same, prepared";
        live_test_prepared_3ph: Vec<Mins>, "[4, 7, 15]", "the same, prepared";
        hook_up: Vec<Mins>, "[6, 12, 30]", "put a circuit on a temporary supply";
        unhook: Vec<Mins>, "[3, 6, 15]", "take it off";
        isolate: Vec<Mins>, "[8, 15, 30]", "isolate, lock and tag a board";
        isolate_again: Vec<Mins>, "[4, 6, 12]", "the same at a known point";
        prove_dead: Vec<Mins>, "[5, 10, 20]", "prove dead, first point";
        prove_again: Vec<Mins>, "[3, 5, 10]", "prove again, first point";
        prove_point: Vec<Mins>, "[2, 3, 5]", "each further point";
        energise: Vec<Mins>, "[10, 15, 30]", "energise a new board: polarity, rotation, loop impedance";
        energise_again: Vec<Mins>, "[3, 5, 10]", "energise a board left as it was";
        strip_out_24: Vec<Mins>, "[20, 35, 75]", "strip out a board of up to 24 outlets";
        strip_out_36: Vec<Mins>, "[30, 50, 100]", "of up to 36 outlets";
        strip_out_48: Vec<Mins>, "[40, 65, 130]", "of up to 48 outlets; more in proportion";
        mount_24: Vec<Mins>, "[30, 45, 100]", "mount a board of up to 24 outlets";
        mount_36: Vec<Mins>, "[35, 60, 130]", "of up to 36 outlets";
        mount_48: Vec<Mins>, "[45, 75, 160]", "of up to 48 outlets; more in proportion";
        tails: Vec<Mins>, "[20, 30, 60]", "tails up to 35 mm2";
        tails_large: Vec<Mins>, "[30, 50, 110]", "larger tails";
        link: Vec<Mins>, "[10, 15, 30]", "put a temporary link on, or take it off";
        fit_surge: Vec<Mins>, "[10, 20, 45]", "fit surge protection and its leads";
        test_board: Vec<Mins>, "[10, 15, 40]", "dead test of a board";
        fit_covers: Vec<Mins>, "[10, 20, 40]", "covers, blanks, labels, chart";
        covers_again: Vec<Mins>, "[3, 5, 10]", "covers on again";
        function_test: Vec<Mins>, "[4, 8, 20]", "function test of an emergency group";
        dress: Vec<Mins>, "[15, 30, 60]", "dress a bank of ways";
    }
    /// How many people.
    CrewRow "[people_needed]" {
        isolate: Int<1, 20>, "1", "isolate";
        prove_dead: Int<1, 20>, "2, or the whole of a smaller team", "prove dead; who works there proves or sees it";
        energise: Int<1, 20>, "2, or the whole of a smaller team", "energise a new board";
        energise_again: Int<1, 20>, "1", "energise a board left as it was";
        strip_out: Int<1, 20>, "2, or the whole of a smaller team", "strip out";
        mount: Int<1, 20>, "2, or the whole of a smaller team", "mount";
        tails: Int<1, 20>, "2, or the whole of a smaller team", "tails";
        link: Int<1, 20>, "1", "temporary link";
        test_board: Int<1, 20>, "1", "dead test of a board";
        function_test: Int<1, 20>, "1", "function test of an emergency group";
    }
}
