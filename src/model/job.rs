//! The job resolved: every fact that a plan is judged by, each name looked up.
//!
//! Field by field these are the facts of the `job` object of a plan record; the page that
//! fixes the record fixes their meaning. Tasks are not here: which there are is the plan's choice.

mod wiring;

pub use wiring::*;

use super::ids::*;
use super::wires::Wire;
use crate::units::{Amperes, Exact, Metres, Minutes, Ohms, Period, Volts};

/// A changeover job.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// What the job is called.
    pub name: String,
    /// The instant of minute 0, ISO 8601 with offset. Nothing computes with it but printing.
    pub epoch: String,
    /// The time looked at; everything is in its old state at its start.
    pub span: Period,
    /// Prices and limits that hold for the whole job.
    pub policy: Policy,
    /// The node whose PE is the main earthing terminal.
    pub earth: NodeId,
    /// Sets of sources that may run in parallel.
    pub parallel: Vec<Vec<NodeId>>,
    /// Circuits that share a neutral; disjoint.
    pub neutral_groups: Vec<Vec<CircuitId>>,
    /// Minutes from one position to another and back. A pair not listed takes 0.
    pub walks: Vec<Walk>,
    /// Locks that may stay on at a window's end and at the plan's end.
    pub standing_locks: Vec<StandingLock>,
    /// Nodes of the network.
    pub nodes: Table<NodeId, Node>,
    /// Switchable connections.
    pub devices: Table<DeviceId, Device>,
    /// Connections made or removed by hand.
    pub joints: Table<JointId, Joint>,
    /// Distribution boards, old and new.
    pub boards: Table<BoardId, Board>,
    /// Places where conductors are bare while work goes on.
    pub positions: Table<PositionId, Position>,
    /// Circuits.
    pub circuits: Table<CircuitId, Circuit>,
    /// Loads.
    pub loads: Table<LoadId, Load>,
    /// Areas of the building.
    pub areas: Table<AreaId, Area>,
    /// Emergency-lighting groups.
    pub groups: Table<GroupId, Group>,
    /// Temporary supplies.
    pub supplies: Table<SupplyId, Supply>,
    /// Surge protection, and electronics taken out for insulation tests.
    pub surges: Table<SurgeId, Surge>,
    /// Windows in which supplies may be cut.
    pub windows: Table<WindowId, Window>,
    /// The team.
    pub people: Table<PersonId, Person>,
    /// Instruments.
    pub instruments: Table<InstrumentId, Instrument>,
    /// Deliveries.
    pub deliveries: Table<DeliveryId, Minutes>,
    /// Everybody outside the team who owns a lock or operates a device.
    pub outsiders: Table<OutsiderId, ()>,
}

/// Prices of the cost and limits that hold for the whole job (planning model, sections 2, 3 and 8).
#[derive(Clone, Debug, PartialEq)]
pub struct Policy {
    /// Price of a minute out in other hours, against one in needed hours.
    pub f: Exact,
    /// Price of a counted outage, in minutes.
    pub q: Exact,
    /// Price of a person-visit.
    pub v: Exact,
    /// Price of a circuit-hour on a temporary supply.
    pub h: Exact,
    /// How long before its window's end an outage is over (F1).
    pub margin: Minutes,
    /// A reading up to this counts as dead.
    pub dead_volts: Volts,
    /// After how long with nobody at work a proof is void (section 2).
    pub proof_life: Minutes,
    /// Why working alone is allowed (W14), if it is.
    pub alone: Option<String>,
    /// The longest stretch without a break (section 3).
    pub longest_stretch: Minutes,
    /// How long a break is.
    pub break_length: Minutes,
}

/// Minutes from one position to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Walk {
    /// One end.
    pub a: PositionId,
    /// The other.
    pub b: PositionId,
    /// How long it takes, either way.
    pub minutes: Minutes,
}

/// Somebody who switches, locks or owns a lock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Who {
    /// One of the team.
    Person(PersonId),
    /// Somebody outside it.
    Outsider(OutsiderId),
}

/// A lock that the job allows to stay.
#[derive(Clone, Debug, PartialEq)]
pub struct StandingLock {
    /// Where.
    pub device: DeviceId,
    /// Whose.
    pub owner: Who,
    /// Why.
    pub reason: String,
}

/// A circuit.
#[derive(Clone, Debug, PartialEq)]
pub struct Circuit {
    /// Its own conductors beyond its joints.
    pub nodes: Vec<NodeId>,
    /// Design current by line, as named at those nodes.
    pub amps: Vec<(Wire, Amperes)>,
    /// Why it has no protective conductor, if it has none.
    pub no_earth: Option<String>,
    /// Why it may end off, if it may.
    pub left_off: Option<String>,
}

/// A load.
#[derive(Clone, Debug, PartialEq)]
pub struct Load {
    /// The circuits that serve it.
    pub circuits: Vec<CircuitId>,
    /// How many of them it needs; `None`: all.
    pub needs: Option<usize>,
    /// Areas that must be open for an outage.
    pub areas: Vec<AreaId>,
    /// Importance.
    pub weight: Exact,
    /// When it is needed.
    pub needed: Vec<Period>,
    /// Minutes that its battery carries it.
    pub ride_through: Minutes,
    /// Minutes in service that restore the whole of it; `None`: ten times ride-through.
    pub ride_recharge: Option<Minutes>,
    /// Longest single outage allowed.
    pub max_single: Option<Minutes>,
    /// Longest total outage allowed.
    pub max_total: Option<Minutes>,
    /// No outage at all unless `measure` says what is done instead.
    pub life_safety: bool,
    /// The measure taken instead.
    pub measure: Option<String>,
    /// May stay out from one window into a later one.
    pub may_stay_out: bool,
    /// Its three lines may come in any order.
    pub any_order: bool,
}

impl Load {
    /// How many of its circuits must be live for it to be in service.
    pub fn quorum(&self) -> usize {
        self.needs.unwrap_or(self.circuits.len())
    }
}

/// An area of the building.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    /// When people are in it.
    pub occupied: Vec<Period>,
    /// Minutes of emergency lighting required while occupied.
    pub autonomy: Minutes,
    /// The measure taken instead of that autonomy.
    pub measure: Option<String>,
    /// The task lighting of people at work there.
    pub task_lighting: Option<String>,
    /// Its normal-lighting circuits.
    pub lighting: Vec<CircuitId>,
}

/// An emergency-lighting group.
#[derive(Clone, Debug, PartialEq)]
pub struct Group {
    /// Areas that it lights.
    pub areas: Vec<AreaId>,
    /// The normal-lighting circuit that it watches.
    pub watches: CircuitId,
    /// Circuits that a declared sensing relay covers.
    pub relays: Vec<CircuitId>,
    /// The circuit that feeds it.
    pub feed: CircuitId,
    /// Lit all the time, not only on failure.
    pub maintained: bool,
    /// Rated duration.
    pub rated: Minutes,
    /// Minutes on charge that restore the rated duration.
    pub recharge: Minutes,
    /// Minutes of autonomy at the start.
    pub charge: Exact,
    /// Can be put in rest mode.
    pub rest_mode: bool,
    /// Why E1 does not hold in the old state, if it does not.
    pub old_state_exempt: Option<String>,
}

/// An impedance to neutral and one to earth.
#[derive(Clone, Debug, PartialEq)]
pub struct Loop<T> {
    /// Line and neutral.
    pub neutral: T,
    /// Line and protective conductor.
    pub earth: T,
}

/// A temporary supply.
#[derive(Clone, Debug, PartialEq)]
pub struct Supply {
    /// The node that supplies it.
    pub feed: NodeId,
    /// The end of its lead.
    pub node: NodeId,
    /// Outgoing ways.
    pub ways: i64,
    /// Amperes per line.
    pub rating: Amperes,
    /// Factor on the sum of design currents.
    pub diversity: Exact,
    /// Voltage drop of its lead, in mV per ampere and metre.
    pub mv_per_a_m: Exact,
    /// Length of its lead.
    pub length: Metres,
    /// Limit of the drop.
    pub drop_limit: Volts,
    /// Loop impedance of its feed at operating temperature.
    pub feed_loop: Loop<Ohms>,
    /// Loop impedance of its lead a metre, at operating temperature, in Ω/m.
    pub lead_per_m: Loop<Exact>,
    /// Up to which either disconnects in time.
    pub loop_limit: Ohms,
    /// Residual-current device there, in mA.
    pub rcd_ma: Option<Exact>,
}

/// What has to be out while insulation is tested.
#[derive(Clone, Debug, PartialEq)]
pub struct Surge {
    /// Its board.
    pub board: Option<BoardId>,
    /// The node that it hangs on.
    pub node: NodeId,
    /// What it is.
    pub kind: SurgeKind,
    /// In at the start.
    pub fitted: bool,
}

/// A surge cartridge, or electronics to be disconnected likewise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SurgeKind {
    /// A surge-protective cartridge.
    Cartridge,
    /// Listed electronics.
    Electronics,
}

/// A window in which supplies may be cut.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// When.
    pub period: Period,
    /// For which areas.
    pub areas: Vec<AreaId>,
}

/// One of the team.
#[derive(Clone, Debug, PartialEq)]
pub struct Person {
    /// What they may do.
    pub may: Vec<super::task::TaskKind>,
    /// When they are there.
    pub present: Vec<Period>,
}

/// An instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    /// What it serves as: `detector`, `tester`, others.
    pub kinds: Vec<String>,
}

/// The instrument kind that proves dead.
pub const DETECTOR: &str = "detector";
/// The instrument kind that tests.
pub const TESTER: &str = "tester";
