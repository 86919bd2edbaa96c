//! Task templates: what each piece of work takes, for whom it waits, and what is decided.
//!
//! The job file states them or takes them from the table of defaults; the room `work` makes the
//! tasks of a plan out of them. The vectors here run in step with the tables of the job.

use super::ids::*;
use super::job::Job;
use super::pin::Pin;
use crate::units::Minutes;

/// Everything about the work that the record of a plan does not tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Labour {
    /// By circuit.
    pub circuits: Vec<CircuitLabour>,
    /// By board.
    pub boards: Vec<BoardLabour>,
    /// By position.
    pub positions: Vec<PositionLabour>,
    /// By emergency group.
    pub groups: Vec<GroupLabour>,
    /// By temporary supply.
    pub supplies: Vec<SupplyLabour>,
    /// Work on terminations that belong to no circuit, each done once, in the order listed.
    pub tails: Vec<Tails>,
    /// Banks of ways to be dressed on a new board.
    pub banks: Vec<Bank>,
    /// Acts of outside people that work waits for.
    pub holds: Vec<Hold>,
    /// What the user has fixed or ruled out.
    pub pins: Vec<Pin>,
    /// Areas next to each other, once a pair: their full-duration tests are never at one time.
    pub neighbours: Vec<[AreaId; 2]>,
    /// Name of the lock box that the team uses.
    pub lock_box: String,
}

/// How long a piece of work takes, and how many people.
#[derive(Clone, Debug, PartialEq)]
pub struct Effort {
    /// Shortest, likely and longest duration.
    pub duration: [Minutes; 3],
    /// The figure that plans use.
    pub planned: Minutes,
    /// How many people.
    pub people: usize,
}

/// Durations of a circuit's work, before and after it has been prepared.
#[derive(Clone, Debug, PartialEq)]
pub struct Varied {
    /// Not identified, marked and pre-tested before the outage.
    pub fresh: Effort,
    /// Prepared.
    pub prepared: Effort,
}

/// Whether a circuit was identified, marked and pre-tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Readiness {
    /// It was, on survey.
    Prepared,
    /// It can be, outside the enclosure, before its outage: an `identify` task does it.
    CanPrepare,
    /// It cannot be: it keeps the durations of an unprepared circuit.
    Unprepared,
}

/// What a circuit's work takes.
#[derive(Clone, Debug, PartialEq)]
pub struct CircuitLabour {
    /// Whether its short durations hold.
    pub readiness: Readiness,
    /// Identify, mark and pre-test before the outage.
    pub identify: Effort,
    /// Take it off its old way.
    pub disconnect: Varied,
    /// Terminate it on its new way.
    pub connect: Varied,
    /// Dead test.
    pub dead_test: Varied,
    /// Live test.
    pub live_test: Varied,
    /// Put it on a temporary supply.
    pub hook_up: Effort,
    /// Take it off again.
    pub unhook: Effort,
    /// What its new way waits for.
    pub delivery: Option<DeliveryId>,
    /// Lengthening, awkward entry and the like is in the durations; this is its rank in the
    /// dressing order of its bank (0 first), or `None` where the job frees it.
    pub dressing_rank: Option<u32>,
    /// What is done if its test fails or its breaker is late.
    pub fallback: Option<Fallback>,
}

/// What is done if a circuit cannot be brought back as planned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fallback {
    /// It stays off, disconnected and locked.
    LeftOff,
    /// It rides on a temporary supply until it can be.
    TemporarySupply(SupplyId),
    /// A stand-in breaker serves until the right one comes.
    StandIn,
}

/// What becomes of a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BoardRole {
    /// It goes.
    Old,
    /// It comes, in the place of an old board that has to be out first.
    NewSamePlace,
    /// It comes beside the old one, and can be mounted before any outage.
    NewBeside,
    /// It stays; some end of a cable there may be worked on.
    Stays,
}

/// What a board's work takes.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardLabour {
    /// What becomes of it.
    pub role: BoardRole,
    /// Isolate and lock the first time.
    pub isolate: Effort,
    /// Isolate and lock again at a known point.
    pub isolate_again: Effort,
    /// First energising, with phase rotation and polarity.
    pub energise: Effort,
    /// Energise again what was left as it was.
    pub energise_again: Effort,
    /// Strip out (old boards).
    pub strip_out: Effort,
    /// Mount (new boards).
    pub mount: Effort,
    /// Fit surge protection (new boards that have some).
    pub fit_surge: Effort,
    /// Dead test of the board with its submain or link (new boards).
    pub test_board: Effort,
    /// Covers, blanks, labels, chart for good.
    pub fit_covers: Effort,
    /// Covers on again for the time between two visits.
    pub covers_again: Effort,
    /// What mounting waits for.
    pub delivery: Option<DeliveryId>,
}

/// What proving at a position takes.
#[derive(Clone, Debug, PartialEq)]
pub struct PositionLabour {
    /// The area in which its people stand.
    pub area: Option<AreaId>,
    /// Prove all its points the first time.
    pub prove: Effort,
    /// Prove them again.
    pub prove_again: Effort,
}

/// What a group's function test takes.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupLabour {
    /// Open the final-circuit device, see the group lit, close again.
    pub function_test: Effort,
}

/// What switching a temporary supply takes, and where circuits are put on it.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyLabour {
    /// The position at which its joints are made.
    pub position: PositionId,
    /// Isolate and lock it.
    pub isolate: Effort,
    /// Energise it.
    pub energise: Effort,
}

/// When work on terminations that belong to no circuit is due.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum TailsStage {
    /// On a new board before any outage, or where a same-place board stands as soon as it is mounted.
    Beforehand,
    /// The supply end of a new submain, under the isolation of the board that feeds it.
    SupplyEnd,
    /// Tails changeover: the incoming cable comes off the old board or goes on the new one.
    CutIn,
    /// A temporary link that keeps the old board alive from the new one goes on.
    LinkOn,
    /// It comes off, when no circuit is left on the old board.
    LinkOff,
    /// Comes off with the old board, as part of stripping it out.
    StripOut,
}

/// Work on terminations that belong to no circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Tails {
    /// What the site calls it, such as "new tails on".
    pub name: String,
    /// When it is due.
    pub stage: TailsStage,
    /// The board that it belongs to.
    pub board: BoardId,
    /// Where it is done.
    pub position: PositionId,
    /// Joints taken off, in this order.
    pub breaks: Vec<JointId>,
    /// Joints put on, in this order, after those.
    pub makes: Vec<JointId>,
    /// What it takes (not used for `StripOut`, which the strip-out contains).
    pub effort: Effort,
}

/// A bank of ways.
#[derive(Clone, Debug, PartialEq)]
pub struct Bank {
    /// The new board.
    pub board: BoardId,
    /// Its ways, in dressing order.
    pub ways: Vec<NodeId>,
    /// What dressing it takes.
    pub effort: Effort,
}

/// When an outside person's act is waited for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HoldStage {
    /// Before anything is switched: lifts parked, alarm centre told, racks shut down.
    BeforeIsolation,
    /// After isolation and proof, before dead work: permit issued.
    AfterProof,
    /// After dead work, before the first lock comes off: permit cleared.
    BeforeLocksOff,
    /// When supplies are back: users confirm.
    AfterEnergising,
}

/// An outside person's act that work waits for.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// What the site calls it.
    pub name: String,
    /// Who does it.
    pub who: String,
    /// When.
    pub stage: HoldStage,
    /// Only where this board is laid open; `None`: wherever any is.
    pub board: Option<BoardId>,
    /// Only in the first visit.
    pub once: bool,
    /// How long it takes (no people of the team).
    pub effort: Effort,
}

impl Labour {
    /// Whether two groups of areas share one, or have two next to each other.
    pub fn near(&self, one: &[AreaId], two: &[AreaId]) -> bool {
        one.iter().any(|a| {
            two.iter().any(|b| a == b || self.neighbours.contains(&[*a.min(b), *a.max(b)]))
        })
    }

    /// Whether every vector runs in step with its table.
    pub fn fits(&self, job: &Job) -> bool {
        self.circuits.len() == job.circuits.len()
            && self.boards.len() == job.boards.len()
            && self.positions.len() == job.positions.len()
            && self.groups.len() == job.groups.len()
            && self.supplies.len() == job.supplies.len()
    }
}
