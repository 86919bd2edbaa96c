//! What is decided before anything is scheduled.

use crate::model::*;
use crate::units::Period;

/// The big decisions of a plan.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Structure {
    /// In order of time. A later one begins when the one before is over.
    pub sessions: Vec<Session>,
}

/// A stretch of work with one or more boards dead, or work ahead of any outage.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// The window; none for work ahead of any outage.
    pub window: Option<WindowId>,
    /// All of it lies in here.
    pub period: Period,
    /// Who takes part; the first is the lead, who owns the locks.
    pub people: Vec<PersonId>,
    /// The boards laid open, by sets that are isolated as one, each set with its own box of keys.
    pub dead: Vec<DeadSet>,
    /// Circuits identified and marked.
    pub identify: Vec<CircuitId>,
    /// Circuits that come off their old way.
    pub off: Vec<CircuitId>,
    /// Circuits that go on their new way.
    pub on: Vec<CircuitId>,
    /// Those of them that are tested live in a later session, since their board is not fed before.
    pub waiting: Vec<CircuitId>,
    /// Circuits that went on their new way in an earlier session and are tested live in this one.
    pub waited: Vec<CircuitId>,
    /// Circuits that go on a temporary supply, or come off it.
    pub rides: Vec<Ride>,
    /// How many of the other connections are done before riders start to come off their supply.
    pub gate: usize,
    /// Work on terminations that belong to no circuit, as indices into the labour's list.
    pub tails: Vec<usize>,
    /// Old boards stripped out while the new board is dead (same place, or no other way to make
    /// them safe).
    pub strip_dead: Vec<BoardId>,
    /// Old boards stripped out when the new board is live again.
    pub strip_late: Vec<BoardId>,
    /// New boards mounted.
    pub mount: Vec<BoardId>,
    /// New boards that get their surge protection.
    pub surge: Vec<BoardId>,
    /// New boards that get their dead test and then their first supply.
    pub test: Vec<BoardId>,
    /// Boards that are energised at the end, in this order.
    pub alive: Vec<BoardId>,
    /// New boards that get their covers for good.
    pub cover: Vec<BoardId>,
    /// Groups whose feed goes dead, so that rest mode could be asked for.
    pub may_rest: Vec<GroupId>,
    /// Those of them that are put in rest mode while their feed is dead.
    pub rest: Vec<GroupId>,
    /// Groups whose function test closes this session.
    pub function_tests: Vec<GroupId>,
    /// Boards that were isolated in an earlier session.
    pub known: Vec<BoardId>,
    /// It is the first session of its visit, and the first in a window at all.
    pub opening: Opening,
}

/// Where a session stands among others, which decides which holds it has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opening {
    /// Work ahead of any outage.
    Ahead,
    /// The first session in a window.
    FirstOfAll,
    /// A later one.
    Later,
}

/// Boards that are isolated, proved and locked as one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct DeadSet {
    /// The boards, in the order in which they are worked.
    pub boards: Vec<BoardId>,
    /// The devices locked.
    pub locks: Vec<DeviceId>,
    /// Positions proved dead when the locks are on.
    pub prove: Vec<PositionId>,
    /// Positions proved dead when the old board is out.
    pub prove_after_strip: Vec<PositionId>,
    /// No lock of one set of the session secures anything that is proved for another, so that each may
    /// be isolated, proved and made live again whatever becomes of the others.
    pub apart: bool,
    /// Something goes dead by its locks.
    pub cuts: bool,
}

/// A circuit on a temporary supply.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ride {
    /// Which circuit.
    pub circuit: CircuitId,
    /// Which supply.
    pub supply: SupplyId,
    /// It goes on in this session.
    pub goes_on: bool,
    /// It comes off in this session.
    pub comes_off: bool,
}

impl Session {
    /// The ride of a circuit, if it has one here.
    pub fn ride(&self, circuit: CircuitId) -> Option<&Ride> {
        self.rides.iter().find(|r| r.circuit == circuit)
    }

    /// The dead set of a board.
    pub fn dead_of(&self, board: BoardId) -> Option<usize> {
        self.dead.iter().position(|set| set.boards.contains(&board))
    }

    /// Circuits that are tested live here.
    pub fn tested_live(&self) -> impl Iterator<Item = CircuitId> + '_ {
        let here = self.on.iter().filter(|c| !self.waiting.contains(c));
        here.chain(&self.waited).copied()
    }

    /// All boards laid open.
    pub fn boards(&self) -> impl Iterator<Item = BoardId> + '_ {
        self.dead.iter().flat_map(|set| set.boards.iter().copied())
    }
}
