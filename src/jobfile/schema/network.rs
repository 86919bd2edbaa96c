//! Tables about sources, boards, devices and terminations.

use super::{Amps, Factor, Milliamps};
use crate::jobfile::tables::{tables, words};
use crate::jobfile::value::{At, Int, Mins, Num};
use crate::jobfile::when::Hours;

words! {
    /// What a source is.
    SourceKind {
        Incoming "incoming" "the supply of the building";
        Generator "generator" "a generator";
        Ups "ups" "the output of an uninterruptible supply";
        Inverter "inverter" "an inverter, such as photovoltaics";
        Battery "battery" "a battery system";
    }
    /// System earthing.
    SystemWord {
        Tn "TN" "neutral earthed at the source";
        Tt "TT" "local electrode";
        It "IT" "isolated, or earthed through an impedance";
    }
    /// What a device is; this sets what it is taken to be fit for.
    DeviceKind {
        Breaker "breaker" "isolates, on load, protects";
        Rcbo "rcbo" "isolates, on load, protects, with a residual-current rating";
        Fuse "fuse" "isolates, off load only, protects";
        SwitchFuse "switch-fuse" "isolates, on load, protects";
        SwitchDisconnector "switch-disconnector" "isolates, on load";
        Disconnector "disconnector" "isolates, off load only";
        Switch "switch" "on load; does not isolate";
        Contactor "contactor" "on load; does not isolate";
        Rccb "rccb" "isolates, on load, with a residual-current rating";
        Link "removable link" "isolates, off load only";
    }
    /// What becomes of a board.
    Role {
        Old "old" "it goes";
        New "new" "it comes";
        Stays "stays" "it stays";
    }
    /// Where a new board comes.
    Where {
        SamePlace "same place" "the old board has to be out first";
        Beside "beside" "it can be mounted before any outage";
    }
    /// When a device that acts by itself is closed.
    While {
        Live "live" "while the node that it follows is live";
        Dead "dead" "while it is dead";
    }
    /// What a node is.
    NodeWord {
        Bar "bar" "conductors joined solidly";
        Load "load" "where a load takes its supply";
    }
    /// When work on terminations is due.
    StageWord {
        Beforehand "beforehand" "before any outage";
        SupplyEnd "supply end" "under the isolation of the board above";
        CutIn "tails changeover" "when the incoming cable moves";
        LinkOn "link on" "when a temporary link goes on";
        LinkOff "link off" "when it comes off";
        StripOut "strip out" "with the old board";
    }
    /// What is taken out for an insulation test.
    SurgeWord {
        Cartridge "cartridge" "a surge-protective cartridge";
        Electronics "electronics" "electronics that the test may harm";
    }
}

tables! {
    /// A source.
    SourceRow "[[source]]" {
        name: String, "required", "what it is called";
        kind: SourceKind, "required", "what it is";
        lines: String, "L1 L2 L3", "its lines";
        neutral: bool, "true", "whether it has a neutral";
        system: SystemWord, "by profile for the incoming supply; else not stated", "its earthing system";
        neutral_earthed_by: String, "by profile for the incoming supply; else nobody", "who declares its neutral reliably earthed";
        rating_a: Amps, "required", "amperes per line";
        diversity: Factor, "1", "factor on the sum of design currents";
        starts_when_dead: String, "", "feed, board or node that a standby generator watches";
        place: String, "", "where it is";
    }
    /// A device above the boards, with the cable below it.
    FeedRow "[[feed]]" {
        name: String, "required", "what the device is called; boards name it in `fed_from`";
        from: String, "required", "source, feed, transfer switch, board, way or node above it";
        kind: DeviceKind, "required", "what it is";
        rating_a: Amps, "required", "amperes per line";
        lockable: bool, "false", "can be locked open";
        isolates: bool, "by kind", "suitable for isolation";
        on_load: bool, "by kind", "may be operated on load";
        breaks: String, "all lines and N", "conductors that it opens";
        rcd_ma: Milliamps, "", "residual-current rating";
        closed: bool, "true, but false where it feeds only new boards", "closed at the start";
        diversity: Factor, "1", "factor on the sum of design currents";
        third_party: ThirdPartyRow, "", "who operates it, if not the team";
        place: String, "", "where it is";
        cable: String, "", "the cable below it";
    }
    /// Somebody else's device.
    ThirdPartyRow "third_party" {
        owner: String, "required", "who opens, closes and locks it";
        appointments: Vec<At<Hours>>, "required", "when they come";
    }
    /// A transfer switch.
    TransferRow "[[transfer]]" {
        name: String, "required", "what it is called";
        normal: String, "required", "feed or node of the normal supply";
        standby: String, "required", "feed or node of the standby supply";
        rating_a: Amps, "required", "amperes per line";
        lockable: bool, "false", "both sides can be locked open";
        isolates: bool, "false", "suitable for isolation";
        place: String, "", "where it is";
    }
    /// A distribution board.
    BoardRow "[[board]]" {
        name: String, "required", "what is painted on it";
        role: Role, "required", "what becomes of it";
        ways: Int<1, 200>, "required", "number of ways; a three-phase way has three outlets";
        phases: Int<1, 3>, "3", "1 or 3";
        line: String, "L1", "the line of a single-phase board";
        fed_from: String, "required", "feed, or way of a board that stays (`MP/8`)";
        replaces: String, "the only old board", "the old board whose circuits it takes (new boards)";
        place: Where, "beside", "where it comes (new boards)";
        main: MainRow, "", "its main switch";
        way_device: DeviceKind, "breaker; fuse on an old board must be stated", "what its ways have where the schedule says nothing";
        ways_lockable: bool, "false", "devices of its ways can be locked open";
        ways_break: String, "lines", "conductors that single-pole devices of its ways open: `lines` or `lines N`";
        incoming_shrouded: bool, "false", "incoming terminals stay shrouded to IP2X with the cover off";
        ways_shrouded: bool, "false", "ways stay shrouded to IP2X with the cover off";
        covers_on: bool, "true", "cover on and unused ways blanked at the start";
        within_reach: Vec<At<String>>, "", "boards within reach of who works at this one";
        one_way: String, "", "why one way at a time may be worked on while the board is live";
        none_found: bool, "true for a new board, else it has to be stated", "the survey found nothing in it that is fed from elsewhere";
        fed_from_elsewhere: Vec<FedRow>, "", "what in it is fed from elsewhere";
        passing: Vec<At<String>>, "", "nodes, feeds or temporary supplies whose cables pass through its enclosure and may stay live";
        room_for: Int<1, 20>, "2", "how many can work at its ways at once";
        room_at_incoming: Int<1, 20>, "2", "how many can work at its incoming terminals at once";
        discharge_min: Mins, "5", "minutes from isolation to proving";
        live_before: bool, "false", "a conductor there may have been live between survey and start";
        surge_protection: String, "", "name of the surge protection of a new board";
        banks: Vec<At<String>>, "dressing is free", "banks of ways in dressing order, such as `1-8`";
        tails_mm2: Int<1, 240>, "25", "size of its incoming conductors";
        delivery: String, "", "what mounting it waits for";
        area: String, "", "area in which it stands";
        at: String, "", "where it is";
        sources_note: String, "", "a word on what feeds it, for the papers";
        mount_min: Vec<Mins>, "by size", "durations of mounting it";
        strip_out_min: Vec<Mins>, "by size", "durations of stripping it out";
        test_min: Vec<Mins>, "by table", "durations of its dead test";
        tails_min: Vec<Mins>, "by size", "durations of its tails";
        surge_min: Vec<Mins>, "by table", "durations of fitting its surge protection";
        covers_min: Vec<Mins>, "by table", "durations of fitting its covers, blanks and labels";
        supply_end_min: Vec<Mins>, "by size", "durations of terminating the supply end of its submain";
    }
    /// A main switch.
    MainRow "[board.main]" {
        kind: DeviceKind, "switch-disconnector", "what it is";
        rating_a: Amps, "100", "amperes per line";
        lockable: bool, "false", "can be locked open";
        isolates: bool, "by kind", "suitable for isolation";
        on_load: bool, "by kind", "may be operated on load";
        breaks: String, "all lines and N", "conductors that it opens";
        rcd_ma: Milliamps, "", "residual-current rating";
    }
    /// Something fed from elsewhere.
    FedRow "[[board.fed_from_elsewhere]]" {
        name: String, "required", "what it is";
        from: String, "required", "source, feed, circuit or node that feeds it";
        lines: String, "L1", "its lines";
        neutral: bool, "true", "whether it has a neutral";
        through: String, "NAME fuse", "its own device";
        lockable: bool, "false", "that device can be locked open";
        rating_a: Amps, "6", "rating of that device";
        shrouded: bool, "false", "it stays behind shrouds, out of reach, and may stay live";
        at: String, "", "where in the enclosure it is";
    }
    /// A temporary link.
    LinkRow "[[link]]" {
        name: String, "required", "what it is called";
        from: String, "required", "the new board, whose busbars feed it";
        to: String, "required", "the old board, whose busbars it keeps alive";
        rating_a: Amps, "required", "rating of its device";
        lockable: bool, "true", "its device can be locked open";
        on_min: Vec<Mins>, "by table", "durations of putting it on";
        off_min: Vec<Mins>, "by table", "durations of taking it off";
    }
    /// A temporary supply.
    SupplyRow "[[temporary_supply]]" {
        name: String, "required", "what it is called";
        from: String, "required", "feed, board, way, source or node that feeds it";
        lines: String, "L1 L2 L3", "its lines";
        ways: Int<1, 48>, "required", "outgoing ways";
        rating_a: Amps, "required", "amperes per line of lead and device";
        diversity: Factor, "1", "factor on the sum of design currents";
        lead_mm2: Num<100, 12_000, 0>, "", "size of the flexible lead: gives drop and impedance a metre";
        mv_per_a_m: Num<1, 10_000, 5>, "by `lead_mm2`", "voltage drop";
        length_m: Num<0, 100_000, 4>, "required", "length of the lead";
        drop_limit_v: Num<1, 10_000, 2>, "11.5", "limit of the drop";
        feed_loop_n_ohm: Num<0, 100_000, 3>, "required", "loop impedance of its feed, line and neutral, hot";
        feed_loop_e_ohm: Num<0, 100_000, 3>, "required", "loop impedance of its feed, line and earth, hot";
        lead_n_ohm_m: Num<0, 1_000, 6>, "by `lead_mm2`", "loop impedance of the lead a metre, line and neutral, hot";
        lead_e_ohm_m: Num<0, 1_000, 6>, "by `lead_mm2`", "loop impedance of the lead a metre, line and earth, hot";
        loop_limit_ohm: Num<1, 100_000, 3>, "required", "loop impedance up to which its device disconnects in time";
        rcd_ma: Milliamps, "", "residual-current device there";
        room_for: Int<1, 20>, "1", "how many can work at its box at once";
        none_found: bool, "true", "nothing in its box is fed from elsewhere";
        area: String, "", "area in which its box stands";
        at: String, "", "where its box is";
    }
    /// A contactor.
    ContactorRow "[[contactor]]" {
        name: String, "required", "what it is called";
        circuit: String, "required", "circuit that it switches";
        coil: String, "required", "circuit that feeds its coil";
        at: String, "", "where it is";
    }
    /// Electronics and surge protection.
    SurgeRow "[[surge]]" {
        name: String, "required", "what it is";
        kind: SurgeWord, "required", "what it is";
        circuit: String, "", "the circuit whose electronics they are";
        board: String, "", "the board that it belongs to";
        node: String, "", "the node that it hangs on, where it is neither";
        fitted: bool, "true for electronics and on old boards", "in at the start";
    }
    /// A node.
    NodeRow "[[node]]" {
        name: String, "required", "its id";
        kind: NodeWord, "bar", "what it is";
        wires: String, "L1 L2 L3 N PE", "its conductors";
        neutral_bar: bool, "false", "it is a neutral bar";
        at: String, "", "where it is";
    }
    /// A device.
    DeviceRow "[[device]]" {
        name: String, "required", "its id";
        a: String, "", "node at one end (required for a further one)";
        b: String, "", "node at the other";
        wires: String, "what both ends have", "conductors carried; `L1>L2` joins L1 at `a` to L2 at `b`";
        breaks: String, "all but PE", "conductors that it opens, as named at `a`";
        kind: DeviceKind, "switch-disconnector", "what it is";
        isolates: bool, "by kind", "suitable for isolation";
        lockable: bool, "false", "can be locked open";
        on_load: bool, "by kind", "may be operated on load";
        overcurrent: bool, "by kind", "is an overcurrent device";
        rcd_ma: Milliamps, "", "residual-current rating";
        closed: bool, "true", "closed at the start";
        rating_a: Amps, "100", "amperes per line";
        diversity: Factor, "1", "factor on the sum of design currents";
        enclosure: String, "", "board that it is part of";
        temporary: bool, "false", "part of a temporary link";
        follows: String, "", "node that it follows, if it acts by itself";
        closed_while: While, "live", "when it is closed then";
        third_party: ThirdPartyRow, "", "who operates it, if not the team";
        at: String, "", "where it is";
    }
    /// A joint.
    JointRow "[[joint]]" {
        name: String, "required", "its id";
        a: String, "", "node at one end (required for a further one)";
        b: String, "", "node at the other";
        wires: String, "what both ends have", "conductors; `L1>L2` joins L1 at `a` to L2 at `b`";
        made: bool, "true", "there at the start";
        circuit: String, "", "circuit that it belongs to";
        place: String, "", "`old`, `new` or a temporary supply";
    }
    /// A position.
    PositionRow "[[position]]" {
        name: String, "required", "its id";
        room_for: Int<1, 20>, "1", "how many can work there at once";
        bare: Vec<At<String>>, "", "nodes bare there, added to what is known";
        points: Vec<At<String>>, "the first bare node", "nodes at which to prove dead, added to what is known";
        row: Vec<At<String>>, "by way number", "way nodes in the order in which they stand";
        fed_from_elsewhere: Vec<At<String>>, "", "nodes fed from elsewhere that are bare there";
        enclosed: Vec<At<String>>, "", "nodes that stay behind shrouds or pass through";
        none_found: bool, "", "the survey found nothing there that is fed from elsewhere";
        discharge_min: Mins, "5", "minutes from isolation to proving";
        live_before: bool, "false", "a conductor there may have been live between survey and start";
        area: String, "", "area in which it is";
        at: String, "", "where it is";
    }
    /// Work on terminations.
    TailsRow "[[tails]]" {
        name: String, "required", "what is done";
        stage: StageWord, "required", "when it is due";
        board: String, "required", "the board that it belongs to";
        position: String, "incoming terminals of the board", "where it is done";
        breaks: Vec<At<String>>, "", "terminations taken off, in order";
        makes: Vec<At<String>>, "", "terminations put on, in order";
        minutes: Vec<Mins>, "by size", "durations";
    }
}
