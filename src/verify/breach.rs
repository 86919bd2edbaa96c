//! Breaches: which rule, when, and the facts; and the words that tell them.

use super::now::Now;
use super::route::Route;
use super::rules::Rule;
use crate::model::*;
use crate::plan::Plan;
use crate::units::{Amperes, Minutes, Ohms, Volts};
use std::collections::BTreeSet;

macro_rules! fact {
    ($($name:ident($of:ty);)*) => {
        /// Something that a breach is about.
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
        pub enum Fact {$(
            #[doc = concat!("See `", stringify!($of), "`.")]
            $name($of),
        )*}
        $(impl From<$of> for Fact {
            fn from(of: $of) -> Fact {
                Fact::$name(of)
            }
        })*
    };
}

fact! {
    Node(NodeId);
    Device(DeviceId);
    Joint(JointId);
    Board(BoardId);
    Position(PositionId);
    Circuit(CircuitId);
    Load(LoadId);
    Area(AreaId);
    Group(GroupId);
    Supply(SupplyId);
    Surge(SurgeId);
    Person(PersonId);
    Instrument(InstrumentId);
    Delivery(DeliveryId);
    Task(TaskId);
    Lock(LockId);
    LockBox(BoxId);
    Who(Who);
    Wire(Wire);
    Time(Minutes);
    Count(i64);
    Amperes(Amperes);
    Volts(Volts);
    Ohms(Ohms);
    Route(Route);
}

/// Facts in order; after a semicolon, some that may be missing.
macro_rules! facts {
    ($($fact:expr),* $(; $($some:expr),*)?) => {{
        #[allow(unused_mut)]
        let mut all: Vec<$crate::verify::breach::Fact> = vec![$(($fact).into()),*];
        $($(all.extend(($some).map($crate::verify::breach::Fact::from));)*)?
        all
    }};
}
pub(super) use facts;

macro_rules! kinds {
    ($($rule:ident { $($name:ident $text:literal;)* })*) => {
        /// What exactly is wrong.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Kind {$($(
            #[doc = $text]
            $name,
        )*)*}

        impl Kind {
            /// The rule that it breaks.
            pub fn rule(self) -> Rule {
                match self {$($(Kind::$name => Rule::$rule,)*)*}
            }

            /// The sentence, with `{0}`, `{1}`... for the facts.
            fn text(self) -> &'static str {
                match self {$($(Kind::$name => $text,)*)*}
            }
        }
    };
}

kinds! {
    S1 {
        FedFromElsewhereUnknown "at {0} nothing is listed as fed from elsewhere or enclosed, and nobody states that none was found";
        OtherFedWithoutSource "at {0}, {1} is said to be fed from elsewhere, but no source is joined with it";
        BreaksEarth "{0} breaks the protective conductor";
        NoEarthNoReason "circuit {0} has no protective conductor, and no reason is given";
        ConnectWithoutTests "circuit {0} is connected, but has no dead test or no live test";
        HookUpWithoutUnhook "circuit {0} is put on a temporary supply, but nothing takes it off";
        MountWithoutTest "{0} mounts a board that is not tested";
        LinesChanged "three-phase circuit {0} changes the order of its lines at termination {1}, which its loads do not allow";
        NoIsolatorAbove "between the incoming terminals of {0} and source {1} there is no isolating device that can be locked";
        LightingUnwatched "in {0} no emergency group or relay watches lighting circuit {1}";
    }
    S2 {
        TimeGoesBack "an event is written after a later one";
        OutsideTime "an event lies outside the time looked at";
        StartedAlready "{0} has been started before";
        NotRunning "{0} is finished, but does not run";
        OpenAlready "{0} is opened, but is open";
        ClosedAlready "{0} is closed, but is closed already";
        ClosedLocked "{0} is closed, but is locked";
        ActsByItself "{0} acts by itself, and is not worked by hand";
        LockedClosed "{0} is closed when lock {1} goes on";
        NotLockable "{0} cannot be locked, but lock {1} goes on";
        LockInUse "lock {0} goes on, but is on already";
        NoSuchLock "lock {1} comes off {0}, but is not on it";
        BoxLockedAlready "{0} has a lock on {1} already";
        BoxNotLocked "{0} has no lock on {1} to take off";
        MadeAlready "termination {0} is made, but is made already";
        NotMade "termination {0} is taken off, but is not there";
        SurgeAlready "{0} is as it was before";
        RestAlready "rest mode of {0} is as it was before";
        NoRestMode "{0} has no rest mode";
    }
    S3 {
        NotAsPlanned "{0} takes {1}, planned are {2}";
        PlannedOutside "{0} is planned at {1}, outside its shortest and longest duration";
        PeopleCount "{0} has {1} people, not {2}";
        MayNot "{0} may not do {1}";
        NotPresent "{0} is not there for the whole of {1}";
        TwoTasks "{0} is on {1} when {2} starts";
        NoInstrument "{0} has not the instrument that it takes";
        InstrumentInUse "{0} is in use in {1} when {2} starts";
        NoDetector "{0} is no free voltage detector for proving {1} dead";
        BeforeItsTime "{0} starts before {1} is finished and passed";
        OutOfOrder "{0} starts before {1}, which comes first, is finished and passed";
        NothingToUnhook "{0} starts, but its circuit is on no temporary supply";
        StillJoined "{0} starts while termination {1} of its circuit is there";
        NotDelivered "{0} starts before {1} is delivered";
        NoWorkingSpace "{0} finds no working space at {1}";
        IllFormed "{0} lacks the position, circuit, board or group that its kind needs";
        StrippedConnected "{0} is stripped out while termination {1} is there";
        JointLeft "when {0} is stripped out, termination {1} is left";
        OldBoardThere "{0} is mounted while {1} is there";
        BoardGone "{0} works at {1}, which has been stripped out";
        LiveTestDead "{0} passes, but its circuit is dead";
        OutsideTask "{0} acts outside a task of theirs";
        BoxBesideTask "{0} uses a lock box outside {1}, which they are on";
        NoAppointment "{0} is worked by its owner outside an appointment";
        NotTheirDevice "{0} is a third party's, but {1} operates it";
        JointMismatch "termination {0} is not for {1} to work on";
        NoTimeToWalk "{0} has not the {2} to walk to {1}";
        NoBreak "{0} works {1} without a break";
        NotFinished "{0} is never finished";
        NotPassed "{0} is not passed, and not done again";
        NeverBegun "{0} is never begun";
        NotMoved "circuit {0} is not on its new way alone by the end of the last window";
        NotTested "circuit {0} is not connected, dead-tested and live-tested by the end of the last window";
        NotLiveAtEnd "circuit {0} is not live at the end of the last window";
    }
    W1 {
        NotSecured "{0} is at work, but {1} is not isolated and locked off{2}";
        EndNotSecured "termination {0} is worked on, but its end {1} is not isolated and locked off{2}";
    }
    W2 {
        TesterNotProved "at {0} the tester is not proved before and after the readings";
        NothingProved "at {0} there is no point to prove";
        PointNotRead "at {0} point {1} is not read";
        PairNotRead "at {0} a pair of conductors at {1} is not read";
        ReadingNotDead "at {0} a reading at {1} is not dead";
        ProvedLive "at {0} point {1} is live when it is proved{2}";
        NotDischarged "at {0} proving starts before the discharge time is over";
        NotProved "{0} is at work, but {2} has no proof that {1} is dead that still holds";
    }
    W3 {
        KeyIntoLockedBox "the key of lock {1} on {0} goes into box {2}, which is locked";
        KeyFromLockedBox "the key of lock {1} on {0} comes out of box {2}, which is locked";
        NotTheOwner "lock {1} comes off {0} by {2}, who does not own it";
        LockReliedOn "lock {1} comes off {0} while {2} relies on it";
        NotHeld "{0} is at work, but {1} holds no lock that keeps {2} isolated{3}";
        EndNotHeld "{1} works on termination {0}, but holds no lock that keeps {2} isolated{3}";
    }
    W4 {
        Incomplete "circuit {0} becomes live, but is not complete and tested";
        BoardUntested "board {0} becomes live before its dead test has passed";
        EnergisedAtWork "{1} becomes live while {0} is at work there";
        LineBeforeNeutral "at {0} a line becomes live before its neutral";
    }
    W5 {
        SwitchedAtWork "{0} is switched while {1} is at work at that board";
        BoardSwitchedAtWork "{0} switches the board while {1} is at work at it";
        LiveTestAtWork "{0} tests live while {1} is at work at that board";
        AtLiveTest "with the cover off {2} while {0} tests live, {1} is at the board";
        TestedAtWork "{0} puts its test voltage where {1} is at work";
    }
    W6 {
        OffLoad "{0} must not be operated on load, but switches circuit {1}";
        OffLoadParallel "{0} must not be operated on load, but opens or closes a parallel path";
    }
    W7 { SourceNotLockedBefore "{0} was not locked off from {2} before the supply that it watches went dead, and {1} starts there{3}"; }
    W8 {
        FittedDuringTest "{0} is in while {1} tests insulation";
        EnergisedWithoutCartridge "the cartridge of {0} is out when its board becomes live";
    }
    W9 {
        OneWayUnjustified "{0} is at work on one way of live board {1}, and no reason is given";
        OneWayUnshrouded "{0} is at work on one way of live board {1}, whose ways are not shrouded";
        OneWayNotAlone "{0} is at work on one way of live board {2} beside {1}";
        OneWayNotLocked "{0} is at work on one way, but {1} has no lock on {2}";
    }
    W10 {
        LiveWithoutEarth "circuit {0} is live without its protective conductor";
        EarthTakenOff "termination {0} takes the protective conductor off circuit {1}, which is not isolated and locked off";
    }
    W11 { Joined "{1} of {0} and {3} of {2} are joined"; }
    W12 {
        NoSingleBar "circuit {0} is live, but its neutral does not lead to one neutral bar";
        OtherBar "circuits {0} and {1} share a neutral, but are live on two neutral bars, {2} and {3}{4}";
        OtherRcd "circuits {0} and {1} share a neutral, but not every residual-current device of one protects the other";
    }
    W13 {
        BareLive "{1} is live at {0} without a cover, and not attended by one task alone";
        WithinReach "{0} is live without a cover for {1}, and {2} is within reach";
        LeftLive "{1} stays live at {0}, which has been stripped out";
    }
    W14 { Alone "{1} is alone on site during {0}"; }
    E1 {
        LivesAlone "of {0} and the lighting that it watches one is live, but circuit {1} is not wholly";
        NoOvercurrent "{0} or the lighting that it watches has no overcurrent device";
        OtherOvercurrent "{0} is fed by circuit {1} behind another overcurrent device than circuit {2}, which it watches";
        OtherControl "the control circuit of contactor {1} is behind another overcurrent device than the lighting that {0} watches";
    }
    E2 { RestWhileFed "{0} is put in rest mode while its supply is live"; }
    E3 { TooDark "{1} is occupied, but {0} has less than {2} left"; }
    E4 {
        NotHandedBack "{0} is never handed back";
        WorkAfterHandBack "{1} is at work in {0} after it has been handed back";
        NoFunctionTest "{0} has no function test before {1} is handed back";
        NoFullTest "{0} has no date for its full-duration test";
        FullTestTooSoon "the full-duration test of {0} at {1} is before it is charged at {2}, or outside the time looked at";
        FullTestLeavesShort "the full-duration test of {0} at {2} leaves {1} with too little while occupied";
    }
    T1 { FeedDead "{0} carries circuits while its own supply {1} is dead"; }
    T2 {
        TooFewWays "{0} carries {1} circuits, more than it has ways";
        DeviceOverloaded "{0} carries {1} on one line, more than {2}";
        LeadOverloaded "the lead of {0} carries {2} on {1}, more than {3}";
        SourceOverloaded "{0} carries {2} on {1}, more than {3}";
    }
    T3 {
        Drop "the drop on the lead of {0} is {1}, more than {2}";
        LoopNeutral "the loop impedance to neutral at the end of {0} is {1}, more than {2}";
        LoopEarth "the loop impedance to earth at the end of {0} is {1}, more than {2}, and no residual-current device of 30 mA serves instead";
    }
    T4 { RidesAlone "circuit {1} is on temporary supply {0} without circuit {2}, which belongs with it"; }
    F1 { OutsideWindow "{0} is out from {1} to {2}, which fits no window with its margin"; }
    F2 {
        OutageTooLong "{0} is out from {1} to {2}, longer than {3}";
        OutagesTooLong "{0} is out longer than {1} in all";
    }
    F3 { LifeSafetyOut "life-safety load {0} is out from {1} to {2}, and no measure is named"; }
    F4 { OutAtWindowEnd "{0} is out at the window's end {1}, but needed before the next"; }
    F5 {
        CoverLeftOff "the cover of {0} is left off";
        LockLeft "lock {1} of {2} is left on {0}";
        BoxLockLeft "a lock of {0} is left on {1}";
        CartridgeLeftOut "{0} is left out";
        LeftAtRest "{0} is left in rest mode";
        SourceLost "{0} no longer reaches circuit {1}";
    }
    B1 {
        PointTwice "the visit at {0} has two points of no return";
        PointOutsideVisit "the point of no return for the visit at {0} is of no visit, outside it, or after a strip-out has begun";
        NoStep "{0} has no back-out, but a load is out";
        StepTwice "{0} has two back-outs";
        StepLength "the back-out of {0} does not take the {1} that it states";
        BackOutTaskTooShort "in the back-out of {0} a task takes {1}, less than the {2} planned";
        ShouldGoBack "{0} is before the point of no return, but goes forward";
        ShouldGoForward "{0} is after the point of no return, but goes back";
        ForwardTooShort "going forward from {0} takes {2}, not {1}";
        BackAfterStrip "{0} goes back, but a strip-out has begun";
        BackTooLate "going back from {0} in {2} brings {1} back too late";
        CheckpointMissed "{0} is not finished by {1}";
        CheckpointSilent "the checkpoint at {0} does not say what to do if it is missed";
    }
    C1 {
        ClaimJ "the downtime cost is not as claimed";
        ClaimParts "the parts of the downtime cost are not as claimed";
        ClaimBound "the best possible is not between nothing and the downtime cost";
        ClaimGap "how close the plan is to the best possible is not as claimed";
        ClaimFinish "the finish is not as claimed";
        ClaimLocks "the number of lock operations is not as claimed";
        ClaimWalking "the walking is not as claimed";
        ClaimOutages "the outages of {0} are not as claimed";
        ClaimStillLive "what stays live during {0} is not as claimed";
    }
}

/// One breach of one rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Breach {
    /// The rule.
    pub rule: Rule,
    /// When, where it has a time.
    pub at: Option<Minutes>,
    /// Index of the event at which it was found, where it was found at one.
    pub event: Option<usize>,
    /// What is wrong.
    pub kind: Kind,
    /// What it is about, in the order of the sentence.
    pub facts: Vec<Fact>,
}

impl Breach {
    /// The breach in the trade's words, names in backticks.
    pub fn words(&self, job: &Job, plan: &Plan) -> String {
        let mut text = self.kind.text().to_owned();
        for (i, fact) in self.facts.iter().enumerate() {
            text = text.replace(&format!("{{{i}}}"), &name(fact, job, plan));
        }
        // A way that is no longer there leaves its place in the sentence empty.
        for i in self.facts.len()..5 {
            text = text.replace(&format!("{{{i}}}"), "");
        }
        text
    }
}

fn name(fact: &Fact, job: &Job, plan: &Plan) -> String {
    let quoted = |text: &str| format!("`{text}`");
    match fact {
        Fact::Node(id) => quoted(job.nodes.name(*id)),
        Fact::Device(id) => quoted(job.devices.name(*id)),
        Fact::Joint(id) => quoted(job.joints.name(*id)),
        Fact::Board(id) => quoted(job.boards.name(*id)),
        Fact::Position(id) => quoted(job.positions.name(*id)),
        Fact::Circuit(id) => quoted(job.circuits.name(*id)),
        Fact::Load(id) => quoted(job.loads.name(*id)),
        Fact::Area(id) => quoted(job.areas.name(*id)),
        Fact::Group(id) => quoted(job.groups.name(*id)),
        Fact::Supply(id) => quoted(job.supplies.name(*id)),
        Fact::Surge(id) => quoted(job.surges.name(*id)),
        Fact::Person(id) => quoted(job.people.name(*id)),
        Fact::Instrument(id) => quoted(job.instruments.name(*id)),
        Fact::Delivery(id) => quoted(job.deliveries.name(*id)),
        Fact::Task(id) => quoted(plan.tasks.name(*id)),
        Fact::Lock(id) => quoted(plan.locks.name(*id)),
        Fact::LockBox(id) => quoted(plan.boxes.name(*id)),
        Fact::Who(Who::Person(id)) => quoted(job.people.name(*id)),
        Fact::Who(Who::Outsider(id)) => quoted(job.outsiders.name(*id)),
        Fact::Wire(wire) => wire.to_string(),
        Fact::Time(t) => t.to_string(),
        Fact::Count(n) => n.to_string(),
        Fact::Amperes(a) => a.to_string(),
        Fact::Volts(v) => v.to_string(),
        Fact::Ohms(o) => o.to_string(),
        Fact::Route(route) => route.words(job),
    }
}

/// Breaches as they are found, each told once.
#[derive(Debug, Default)]
pub(super) struct Report {
    seen: BTreeSet<(Kind, Vec<Fact>)>,
    found: Vec<Breach>,
}

impl Report {
    /// A breach found at the event now applied.
    pub fn add(&mut self, kind: Kind, now: &Now, facts: Vec<Fact>) {
        self.add_at(kind, Some(now.t), now.event.checked_sub(1), facts);
    }

    /// A breach that is told once of its subject, whatever its other facts.
    pub fn once(&mut self, kind: Kind, now: &Now, of: Fact, facts: Vec<Fact>) {
        if self.seen.insert((kind, vec![of])) {
            self.add(kind, now, facts);
        }
    }

    /// A breach with a time of its own, or none.
    pub fn add_at(
        &mut self,
        kind: Kind,
        at: Option<Minutes>,
        event: Option<usize>,
        facts: Vec<Fact>,
    ) {
        if self.seen.insert((kind, facts.clone())) {
            self.found.push(Breach { rule: kind.rule(), at, event, kind, facts });
        }
    }

    /// All breaches, by rule and then by time.
    pub fn into_breaches(mut self) -> Vec<Breach> {
        self.found.sort_by(|a, b| {
            let key = |x: &Breach| (x.rule, x.at, x.event, x.kind);
            key(a).cmp(&key(b)).then_with(|| a.facts.cmp(&b.facts))
        });
        self.found
    }
}
