//! The network as surveyed: nodes, devices, joints, and the boards and positions where it is bare.

use super::Who;
use crate::model::ids::*;
use crate::model::wires::{Lanes, WireSet};
use crate::units::{Amperes, Exact, Minutes, Period};

/// A node of the network.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// What it is.
    pub kind: NodeKind,
    /// Its conductors.
    pub wires: WireSet,
    /// Whether it is a neutral bar (W12).
    pub neutral_bar: bool,
}

/// What a node is.
#[derive(Clone, Debug, PartialEq)]
pub enum NodeKind {
    /// It can put voltage on a conductor by itself.
    Source(Source),
    /// Conductors joined solidly.
    Bar,
    /// Where a load takes its supply.
    Load,
}

impl Node {
    /// The source at this node, if it is one.
    pub fn source(&self) -> Option<&Source> {
        match &self.kind {
            NodeKind::Source(source) => Some(source),
            _ => None,
        }
    }
}

/// What can put voltage on a conductor by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// The node that it watches, if it starts by itself while that node is dead; else it always runs.
    pub watches: Option<NodeId>,
    /// Its earthing system, where stated.
    pub system: Option<Earthing>,
    /// Who declares its neutral reliably earthed.
    pub neutral_earthed: Option<String>,
    /// Amperes per line.
    pub rating: Amperes,
    /// Factor on the sum of design currents.
    pub diversity: Exact,
}

impl Source {
    /// Whether a path along N alone is no path to it: TN with a neutral declared reliably earthed.
    pub fn earthed_neutral(&self) -> bool {
        self.system == Some(Earthing::Tn) && self.neutral_earthed.is_some()
    }
}

/// System earthing (IEC 60364-1, 312.2).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Earthing {
    /// Neutral earthed at the source, protective conductor from there.
    Tn,
    /// Local electrode.
    Tt,
    /// Isolated or earthed through an impedance.
    It,
}

/// A switchable connection.
#[derive(Clone, Debug, PartialEq)]
pub struct Device {
    /// One end.
    pub a: NodeId,
    /// The other.
    pub b: NodeId,
    /// What it carries.
    pub wires: Lanes,
    /// What it opens, as named at `a`; the others go straight through.
    pub breaks: WireSet,
    /// Suitable for isolation.
    pub isolates: bool,
    /// Can be locked open.
    pub lockable: bool,
    /// May be operated on load.
    pub on_load: bool,
    /// Is an overcurrent device.
    pub overcurrent: bool,
    /// Rated residual current in mA, if it has one.
    pub rcd_ma: Option<Exact>,
    /// Closed at the start.
    pub closed: bool,
    /// Amperes per line.
    pub rating: Amperes,
    /// Factor on the sum of design currents.
    pub diversity: Exact,
    /// The board that it is part of.
    pub enclosure: Option<BoardId>,
    /// Part of a temporary link.
    pub temporary: bool,
    /// The node that it follows, if it acts by itself.
    pub self_acting: Option<SelfActing>,
    /// Who operates it, if it is a third party's.
    pub third_party: Option<ThirdParty>,
}

/// How a transfer switch or a contactor acts by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SelfActing {
    /// The node that it follows.
    pub node: NodeId,
    /// Closed while that node is live (else while it is dead).
    pub closed_while_live: bool,
}

/// A third party's hand on a device.
#[derive(Clone, Debug, PartialEq)]
pub struct ThirdParty {
    /// Who opens, closes and locks it.
    pub owner: Who,
    /// When they come.
    pub appointments: Vec<Period>,
}

/// A connection made or removed by hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// One end.
    pub a: NodeId,
    /// The other.
    pub b: NodeId,
    /// Which conductor meets which.
    pub wires: Lanes,
    /// There at the start.
    pub made: bool,
    /// The circuit that it belongs to, and where it puts that circuit.
    pub of: Option<(CircuitId, Place)>,
}

/// Where a circuit's joint puts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// Its old way.
    Old,
    /// Its new way.
    New,
    /// A temporary supply.
    On(SupplyId),
}

/// A distribution board.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// Supply-side terminals, line side of the main switch.
    pub incoming: PositionId,
    /// Busbars and outgoing ways.
    pub ways: PositionId,
    /// The incoming terminals stay shrouded to IP2X with the cover off.
    pub incoming_shrouded: bool,
    /// The ways stay shrouded to IP2X with the cover off.
    pub ways_shrouded: bool,
    /// Cover on and unused ways blanked at the start (true for a board still to come).
    pub covers_on: bool,
    /// Boards within reach of who works at this one (W13).
    pub within_reach: Vec<BoardId>,
    /// The board whose place it takes.
    pub replaces: Option<BoardId>,
    /// Why one way at a time may be worked on while the board is live (W9), if it may.
    pub one_way: Option<String>,
}

/// A place where conductors are bare while work goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct Position {
    /// Its board, unless it stands alone (a hook-up box).
    pub board: Option<BoardId>,
    /// How many can work there at once.
    pub hands: i64,
    /// Nodes bare there.
    pub bare: Vec<NodeId>,
    /// Nodes at which to prove dead.
    pub points: Vec<NodeId>,
    /// Way nodes in the order in which they stand.
    pub row: Vec<NodeId>,
    /// Nodes fed from elsewhere: bare there, and points too.
    pub other_fed: Vec<NodeId>,
    /// Nodes behind shrouds or passing through, which may stay live.
    pub enclosed: Vec<NodeId>,
    /// Who stated, and when, that nothing there is fed from elsewhere.
    pub none_found: Option<NoneFound>,
    /// Minutes from opening the last securing device to proving.
    pub discharge: Minutes,
    /// A conductor there may have been live between survey and start.
    pub live_before: bool,
}

/// A statement that no conductor fed from elsewhere was found.
#[derive(Clone, Debug, PartialEq)]
pub struct NoneFound {
    /// Who looked.
    pub by: String,
    /// When.
    pub when: String,
}
