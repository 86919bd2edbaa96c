//! Tables about the site, its people and its times.

use super::{Factor, Price};
use crate::jobfile::tables::{tables, words};
use crate::jobfile::value::{At, Int, Mins, Num};
use crate::jobfile::when::{Day, Hours, Moment};

words! {
    /// The usual earthing of a country.
    Profile {
        Uk "uk" "TN, with a neutral that the distributor declares reliably earthed";
        Iec "iec" "TN, whose neutral counts like a line until somebody declares it earthed";
    }
    /// The figure that plans use for a duration.
    Figure {
        Mean "mean" "(shortest + 4 x likely + longest) / 6, rounded up";
        Likely "likely" "the likely one";
        Percentile "percentile" "the one that is met with a stated chance";
    }
    /// When an outside person's act is due.
    HoldWhen {
        BeforeIsolation "before isolation" "before anything is switched";
        AfterProof "after proof" "after isolation and proof, before dead work";
        BeforeLocksOff "before locks off" "after dead work, before the first lock comes off";
        AfterEnergising "after energising" "when supplies are back";
    }
    /// Whose lock, key or decision.
    Severity {
        Safety "safety" "the papers stay drafts until it is answered";
        Plan "plan" "the plan may change with the answer";
        Note "note" "to be cleared up on the way";
    }
}

tables! {
    /// What the job is.
    JobRow "[job]" {
        name: String, "required", "what the job is called";
        zone: String, "required", "IANA time zone of the site";
        from: Moment, "required", "start of the time looked at; everything is in its old state then";
        to: Moment, "required", "end of the time looked at";
        profile: Profile, "uk", "country profile for the usual earthing";
        schedule: String, "circuits.csv", "file name of the circuit schedule in the folder";
        durations_file: String, "", "TOML file in the folder with the firm's own durations";
        planned: Figure, "mean", "which figure of a duration plans use";
        percentile: Int<1, 99>, "80", "for `planned = \"percentile\"`";
        parallel: Vec<Vec<At<String>>>, "none", "lists of sources that may run in parallel";
        lock_box: String, "lock box", "name of the team's lock box";
    }
    /// The survey.
    SurveyRow "[survey]" {
        by: String, "required", "who surveyed";
        on: Day, "required", "when";
    }
    /// Names and numbers for the papers.
    PaperRow "[paper]" {
        place: String, "", "address of the site";
        client: String, "", "who ordered the job";
        company: String, "", "whose papers they are";
        logo: String, "", "picture file in the folder";
        number: String, "", "document number";
        author: String, "", "who wrote the papers";
        approver: String, "", "who approves them";
        revision: Vec<RevisionRow>, "", "revisions, oldest first";
        emergency_number: String, "", "number to call in an emergency";
        first_aid: String, "", "where first aid and extinguishers are";
        scope: String, "", "what the job covers, in a sentence or two";
    }
    /// A revision.
    RevisionRow "[[paper.revision]]" {
        mark: String, "required", "letter or number";
        on: Day, "required", "date";
        what: String, "required", "what changed";
        by: String, "", "who made it";
    }
    /// Prices and limits.
    PolicyRow "[policy]" {
        other_hours: Factor, "0.1", "price of a minute out in hours in which the load is not needed, against one in which it is";
        per_outage: Price, "5", "price of each outage, in minutes";
        per_attendance: Price, "200", "price of one person in one visit";
        per_temporary_hour: Price, "3", "price of an hour of one circuit on a temporary supply";
        margin_min: Mins, "30", "how long before the end of its window every supply is back";
        dead_volts: Num<0, 5_000, 2>, "10", "a reading up to this counts as dead";
        proof_life_min: Mins, "60", "after how long with nobody at work a proof no longer holds";
        longest_stretch_min: Mins, "360", "longest stretch of work without a break";
        break_min: Mins, "30", "how long a break is";
        working_alone: String, "", "why one person may switch, prove and test alone";
    }
    /// Importance words.
    ImportanceRow "[importance]" {
        life_safety: Price, "50", "weight";
        critical: Price, "20", "weight";
        high: Price, "5", "weight";
        normal: Price, "2", "weight";
        low: Price, "1", "weight";
    }
    /// An area of the building.
    AreaRow "[[area]]" {
        name: String, "required", "what it is called";
        occupied: Vec<At<Hours>>, "required", "rules for when people are in it";
        closed: Vec<Day>, "", "days on which those rules do not start";
        autonomy_min: Mins, "required", "minutes of emergency lighting that it must have while occupied; 0 where none is required";
        measure: String, "", "what is done where that autonomy is not there";
        task_lighting: String, "", "task lighting of people at work there";
        next_to: Vec<At<String>>, "", "areas next to it: their emergency lighting is never run down for test at the same time";
        notice_to: String, "", "who tells the people there";
    }
    /// A window.
    WindowRow "[[window]]" {
        name: String, "required", "what it is called; each day of a rule has its date added";
        when: Hours, "required", "rule for its times";
        except: Vec<Day>, "", "days on which it does not start";
        areas: Vec<At<String>>, "all areas", "areas for which it is open";
    }
    /// One of the team.
    PersonRow "[[person]]" {
        name: String, "required", "name or initials";
        role: String, "electrician", "role";
        phone: String, "", "phone";
        may: Vec<At<String>>, "all work", "kinds of work, by the names of the table of durations";
        may_not: Vec<At<String>>, "", "kinds of work that they do not do";
        present: Vec<At<Hours>>, "the windows", "rules for when they are there";
        away: Vec<Day>, "", "days on which those rules do not start";
    }
    /// An instrument.
    InstrumentRow "[[instrument]]" {
        name: String, "required", "what it is called; its number is printed with it";
        kinds: Vec<At<String>>, "required", "`detector` proves dead, `tester` tests; others as you name them";
        number: String, "", "serial number";
        calibrated_to: Day, "", "calibration holds until";
    }
    /// A delivery.
    DeliveryRow "[[delivery]]" {
        name: String, "required", "what comes";
        at: Moment, "required", "when it is there for sure";
        supplier: String, "", "from whom";
    }
    /// An outside person's act.
    HoldRow "[[hold]]" {
        name: String, "required", "what is done";
        who: String, "required", "who does it";
        when: HoldWhen, "required", "when it is due";
        board: String, "any board", "only where this board is laid open";
        once: bool, "false", "only in the first visit";
        minutes: Vec<Mins>, "[1, 5, 15]", "shortest, likely and longest duration";
    }
    /// A decision of the user.
    FixedRow "[[fixed]]" {
        why: String, "required", "the reason, printed";
        circuit: String, "", "the circuit that it is about";
        window: String, "", "`circuit` moves in this window";
        not_window: String, "", "`circuit` does not move in this window";
        not_before: Moment, "", "nothing of `circuit` is cut before";
        load: String, "", "the load that `supply`, `not_supply` or `no_supply` is about: all its circuits";
        supply: String, "", "`circuit` goes on this temporary supply";
        not_supply: String, "", "`circuit` does not go on this temporary supply";
        no_supply: bool, "false", "`circuit` goes on none";
        together: Vec<At<String>>, "", "circuits that move in one visit";
        person: String, "", "the person that it is about";
        board: String, "", "`person` works on no other board than this and its counterpart";
        not_board: String, "", "`person` does not work on this board";
        most_visits: Int<1, 1000>, "", "at most so many visits";
        unused: String, "", "a window that is not used";
        lock_at: String, "", "a device that is locked wherever that helps";
        no_lock_at: String, "", "a device that is not locked";
    }
    /// A lock that may stay.
    StandingLockRow "[[standing_lock]]" {
        device: String, "required", "where";
        owner: String, "required", "whose: one of the team, or somebody else";
        why: String, "required", "why";
    }
    /// A walk.
    WalkRow "[[walk]]" {
        from: String, "required", "a board or a place";
        to: String, "required", "another";
        minutes: Mins, "required", "how long it takes, either way";
    }
    /// Somebody to ask.
    ContactRow "[[contact]]" {
        name: String, "required", "who";
        role: String, "", "what they decide or know";
        phone: String, "", "phone";
    }
    /// Keys and access.
    AccessRow "[[access]]" {
        what: String, "required", "room, panel or key";
        holder: String, "required", "who has it";
        how: String, "", "how it is got";
    }
    /// Material.
    MaterialRow "[[material]]" {
        what: String, "required", "what";
        number: Int<1, 1_000_000>, "1", "how many";
        unit: String, "", "of what: pieces, metres";
        delivery: String, "", "the delivery that it comes with";
    }
    /// A danger of this site.
    RiskRow "[[risk]]" {
        hazard: String, "required", "the danger, and where";
        who: String, "", "who can be harmed";
        control: String, "required", "what is done about it";
        owner: String, "", "who sees to that";
    }
    /// A defect that belongs to no one circuit.
    DefectRow "[[defect]]" {
        what: String, "required", "what is wrong";
        at: String, "", "where";
        action: String, "", "what is done about it, and by whom";
    }
    /// An open question.
    QuestionRow "[[question]]" {
        what: String, "required", "what is not known";
        who: String, "", "who can answer it";
        matters: Severity, "safety", "how much it matters";
    }
}
