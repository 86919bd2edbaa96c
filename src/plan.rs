//! A plan as plain data: its tasks, its events in order, what it claims, and its back-out.
//!
//! Nothing here is judged. Only `verify` says whether a plan is safe to issue.

use crate::model::{
    AreaId, BoxId, CircuitId, DeviceId, GroupId, InstrumentId, JointId, LoadId, LockId, NodeId,
    PersonId, PositionId, SurgeId, Table, Task, TaskId, TaskKind, Who,
};
use crate::units::{Exact, Minutes, Period, Volts, fixed, whole};
use std::collections::BTreeMap;

/// One plan for one job.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// All tasks of the job under this plan.
    pub tasks: Table<TaskId, Task>,
    /// Padlocks, by the names stamped on them.
    pub locks: Table<LockId, ()>,
    /// Lock boxes.
    pub boxes: Table<BoxId, ()>,
    /// What happens, in order of time; events of one minute in the order written.
    pub events: Vec<Event>,
    /// What the plan says of itself.
    pub claims: Claims,
    /// What to do when it cannot be carried out.
    pub back_out: BackOut,
}

/// Something that happens at an instant.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When.
    pub at: Minutes,
    /// What.
    pub act: Act,
}

/// One person doing something as part of a running task.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct By {
    /// The running task; none for a third party, or a box lock between tasks.
    pub task: Option<TaskId>,
    /// Who.
    pub who: Who,
}

/// Where the key of a lock goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Key {
    /// The owner keeps it.
    Kept,
    /// Into a lock box.
    Boxed(BoxId),
}

/// What happens (the events of a plan record).
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// A task starts.
    Start {
        /// Which.
        task: TaskId,
        /// Its people.
        who: Vec<PersonId>,
        /// Its instrument.
        instrument: Option<InstrumentId>,
    },
    /// A task ends; its people and its instrument are free again.
    Finish {
        /// Which.
        task: TaskId,
        /// Passed.
        pass: bool,
    },
    /// A device is opened.
    Open(By, DeviceId),
    /// A device is closed.
    Close(By, DeviceId),
    /// A padlock goes on; `By::who` owns it.
    Lock(By, DeviceId, LockId, Key),
    /// A padlock comes off.
    Unlock(By, DeviceId, LockId),
    /// Somebody's own lock goes on a box.
    BoxLock(By, BoxId),
    /// It comes off.
    BoxUnlock(By, BoxId),
    /// A joint is made.
    Make(By, JointId),
    /// A joint is removed.
    Break(By, JointId),
    /// Readings that prove a position dead.
    Prove(By, Proof),
    /// A cartridge or electronics in (`true`) or out.
    Surge(By, SurgeId, bool),
    /// Rest mode on (`true`) or off.
    Rest(By, GroupId, bool),
    /// An area goes back to its users.
    HandBack(By, AreaId),
}

/// Readings that prove a position, or one circuit's way there, dead.
#[derive(Clone, Debug, PartialEq)]
pub struct Proof {
    /// Where.
    pub position: PositionId,
    /// Only this circuit's way there (W9).
    pub circuit: Option<CircuitId>,
    /// With what.
    pub instrument: InstrumentId,
    /// The instrument is proved before.
    pub tester_before: bool,
    /// And after.
    pub tester_after: bool,
    /// By point: each pair of its conductors and earth (as written, `"L1-N"`) with its reading,
    /// `None` while still to be measured.
    pub readings: BTreeMap<NodeId, BTreeMap<String, Option<Volts>>>,
}

/// What a plan says of itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Claims {
    /// Whole outages of each load.
    pub outages: BTreeMap<LoadId, Vec<Period>>,
    /// The cost, to a tenth.
    pub j: Exact,
    /// Its five terms: needed, other, counted, visits, riding; each to a tenth.
    pub parts: [Exact; 5],
    /// No plan without a breach costs less; rounded down.
    pub lower_bound: Exact,
    /// (J − lower bound) / J.
    pub gap: Exact,
    /// Time of the last event.
    pub finish: Minutes,
    /// How many locks are put on or taken off, devices and boxes.
    pub lock_operations: i64,
    /// The walking figure of section 8.
    pub walking: i64,
    /// When each group has its full-duration test.
    pub full_duration_tests: BTreeMap<GroupId, Minutes>,
    /// By dead task: the enclosed nodes that are live at some minute of it.
    pub still_live: BTreeMap<TaskId, Vec<NodeId>>,
}

/// What a decision of the user costs.
#[derive(Clone, Debug, PartialEq)]
pub struct DecisionCost {
    /// Its number among the user's decisions.
    pub decision: usize,
    /// The downtime cost of the plan, which keeps it.
    pub with: Exact,
    /// That of the best plan found for the job without it; never more.
    pub without: Exact,
}

impl DecisionCost {
    /// The two costs and what lies between them.
    pub fn words(&self) -> String {
        let costs = &self.with - &self.without;
        let [with, without] = [&self.with, &self.without].map(|j| fixed(j, 1));
        if costs == whole(0) {
            format!("It costs nothing: the downtime cost is {with} without it too.")
        } else {
            let costs = fixed(&costs, 1);
            format!("It costs {costs}: the downtime cost is {with} with it, {without} without.")
        }
    }
}

/// What to do when the plan cannot be carried out (planning model, section 9).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BackOut {
    /// A step for every task with a moment at which a load is out.
    pub steps: Vec<BackOutStep>,
    /// The last moment of each visit at which going back still keeps F1 to F4.
    pub points_of_no_return: Vec<PointOfNoReturn>,
    /// What has to be finished by when.
    pub checkpoints: Vec<Checkpoint>,
}

/// How the loads come back from any moment of a task.
#[derive(Clone, Debug, PartialEq)]
pub struct BackOutStep {
    /// The task.
    pub task: TaskId,
    /// Which way.
    pub way: Way,
    /// What is done.
    pub acts: Vec<BackOutTask>,
    /// The loads then out are back at most this much later.
    pub minutes: Minutes,
}

/// Back to how it stood, or on with the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// As it stood when the visit began.
    Back,
    /// The plan as it stands.
    Forward,
}

/// What a back-out task is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// A circuit.
    Circuit(CircuitId),
    /// A board.
    Board(crate::model::BoardId),
    /// An emergency group.
    Group(GroupId),
    /// A position.
    Position(PositionId),
}

/// One task of a back-out.
#[derive(Clone, Debug, PartialEq)]
pub struct BackOutTask {
    /// What kind of work.
    pub kind: TaskKind,
    /// What it is for.
    pub of: Option<Subject>,
    /// When it begins, counted from the moment of turning back.
    pub at: Minutes,
    /// How long it takes.
    pub minutes: Minutes,
}

/// The last moment of a visit at which going back is still right.
#[derive(Clone, Debug, PartialEq)]
pub struct PointOfNoReturn {
    /// The visit.
    pub visit: Period,
    /// The moment, if there is one.
    pub at: Option<Minutes>,
}

/// What has to be finished by when, and what else.
#[derive(Clone, Debug, PartialEq)]
pub struct Checkpoint {
    /// The task.
    pub task: TaskId,
    /// It is finished by then.
    pub latest: Minutes,
    /// What to do if it is not.
    pub otherwise: String,
}
