//! Tasks: what work there is, and of which kind.

use super::ids::*;
use crate::units::Minutes;

/// A task of a plan (planning model, section 3).
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// What kind of work it is.
    pub kind: TaskKind,
    /// Shortest, likely and longest duration.
    pub duration: [Minutes; 3],
    /// The duration that every figure of the plan uses.
    pub planned: Minutes,
    /// How many people it takes; none for a hold.
    pub people: usize,
    /// Tasks that are finished before it starts.
    pub after: Vec<TaskId>,
    /// Where it lays conductors open.
    pub position: Option<PositionId>,
    /// Where its people are.
    pub area: Option<AreaId>,
    /// The circuit that it is for.
    pub circuit: Option<CircuitId>,
    /// The board that it works on or switches.
    pub board: Option<BoardId>,
    /// The emergency group that it tests.
    pub group: Option<GroupId>,
    /// The kind of instrument that it takes.
    pub instrument: Option<String>,
    /// The delivery that it waits for.
    pub delivery: Option<DeliveryId>,
}

/// Whether a task needs things dead, live, or changes them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// Dead work.
    Dead,
    /// Work on live conductors.
    Live,
    /// Switching.
    Switching,
    /// Neither.
    Free,
}

macro_rules! kinds {
    ($($name:ident $text:literal $mode:ident $doc:literal;)*) => {
        /// A kind of task.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum TaskKind {$(
            #[doc = $doc]
            $name,
        )*}

        impl TaskKind {
            /// All kinds.
            pub const ALL: &'static [TaskKind] = &[$(TaskKind::$name,)*];

            /// Its name in files.
            pub fn name(self) -> &'static str {
                match self {$(TaskKind::$name => $text,)*}
            }

            /// Whether it needs things dead, live, or changes them.
            pub fn mode(self) -> Mode {
                match self {$(TaskKind::$name => Mode::$mode,)*}
            }

            /// The kind with this name in files.
            pub fn read(text: &str) -> Option<TaskKind> {
                TaskKind::ALL.iter().copied().find(|k| k.name() == text)
            }
        }
    };
}

kinds! {
    Disconnect "disconnect" Dead "Take a circuit off its old way.";
    Connect "connect" Dead "Terminate a circuit on its new way.";
    DeadTest "dead_test" Dead "Continuity, insulation and polarity of a circuit.";
    HookUp "hook_up" Dead "Put a circuit on a temporary supply.";
    Unhook "unhook" Dead "Take it off again.";
    StripOut "strip_out" Dead "Take an old board out.";
    Mount "mount" Dead "Mount a new board.";
    ConnectTails "connect_tails" Dead "Work on terminations that belong to no circuit.";
    FitSurge "fit_surge" Dead "Fit surge protection.";
    TestBoard "test_board" Dead "Dead test of a new board, its submain or link included.";
    FitCovers "fit_covers" Dead "Fit covers and blanks.";
    Dress "dress" Dead "Dress a bank of ways.";
    LiveTest "live_test" Live "Polarity, loop impedance, residual-current device and function of a circuit.";
    Isolate "isolate" Switching "Open and lock.";
    ProveDead "prove_dead" Switching "Prove dead at positions.";
    Energise "energise" Switching "Take locks off and close.";
    FunctionTest "function_test" Switching "Function test of an emergency group.";
    Prepare "prepare" Free "Work that touches nothing electrical.";
    Identify "identify" Free "Identify and mark a circuit where that opens nothing live.";
    Hold "hold" Free "An outside person's act that work waits for.";
}

impl TaskKind {
    /// Whether it takes the cover of its board off: dead work other than fitting covers.
    pub fn opens_board(self) -> bool {
        self.mode() == Mode::Dead && self != TaskKind::FitCovers
    }
}
