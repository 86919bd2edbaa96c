//! A task with what the planner has to know of it beyond the record.

use crate::model::*;
use crate::units::Minutes;

/// One task of a session.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Its name in the plan, unique.
    pub name: String,
    /// What it is for.
    pub role: Role,
    /// What kind of work it is.
    pub kind: TaskKind,
    /// What it takes.
    pub effort: Effort,
    /// Who does it.
    pub crew: Crew,
    /// Where it lays conductors open.
    pub position: Option<PositionId>,
    /// Where its people are.
    pub area: Option<AreaId>,
    /// The board that it works on or switches.
    pub board: Option<BoardId>,
    /// The instrument that it takes.
    pub instrument: Option<&'static str>,
    /// The delivery that it waits for.
    pub delivery: Option<DeliveryId>,
    /// It starts no earlier.
    pub release: Minutes,
    /// Pieces of the same session that are over before it starts, with minutes in between.
    pub after: Vec<(usize, Minutes)>,
    /// Pieces of the same session that never run beside it.
    pub apart: Vec<usize>,
}

/// Who does a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Crew {
    /// So many of those who may, as the effort says.
    Free,
    /// Everybody who takes part.
    Everybody,
    /// So many as the effort says, the lead among them.
    WithLead,
    /// Exactly these.
    These(Vec<PersonId>),
    /// Nobody of the team.
    Nobody,
}

/// What a piece is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Role {
    /// An outside person's act, by its place in the labour's list.
    Hold(usize),
    /// Open and lock what makes the boards of a dead set safe; `0` is the first set of the session.
    Isolate(usize),
    /// Prove positions dead.
    Prove(Vec<PositionId>),
    /// Take a circuit off its old way.
    Disconnect(CircuitId),
    /// Put a circuit on a temporary supply.
    HookUp(CircuitId, SupplyId),
    /// Switch a temporary supply on.
    SupplyOn(SupplyId),
    /// Switch it off and lock it.
    SupplyOff(SupplyId),
    /// Take a circuit off it.
    Unhook(CircuitId, SupplyId),
    /// Work on terminations, by its place in the labour's list.
    Tails(usize),
    /// Strip an old board out, with the terminations that come off with it.
    StripOut(BoardId),
    /// Mount a new board.
    Mount(BoardId),
    /// Dress a bank, by its place in the labour's list.
    Dress(usize),
    /// Fit surge protection.
    FitSurge(BoardId),
    /// Terminate a circuit on its new way.
    Connect(CircuitId),
    /// Test it dead.
    DeadTest(CircuitId),
    /// Test a board dead.
    TestBoard(BoardId),
    /// Covers on.
    Covers(BoardId),
    /// Take a dead set's locks off and close what feeds this board.
    Energise(BoardId),
    /// Take the locks off that are left when nothing is closed.
    LocksOff(usize),
    /// Test a circuit live.
    LiveTest(CircuitId),
    /// Test an emergency group.
    FunctionTest(GroupId),
    /// Identify and mark a circuit before its outage.
    Identify(CircuitId),
}

impl Role {
    /// The circuit that it is for.
    pub fn circuit(&self) -> Option<CircuitId> {
        match self {
            Role::Disconnect(c)
            | Role::HookUp(c, _)
            | Role::Unhook(c, _)
            | Role::Connect(c)
            | Role::DeadTest(c)
            | Role::LiveTest(c)
            | Role::Identify(c) => Some(*c),
            _ => None,
        }
    }
}
