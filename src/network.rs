//! The conductors of a job as a graph: what is live, what is secured, by which path, and which
//! locks would secure it cheapest (planning model, sections 1 and 2).
//!
//! ```text
//! Job ─ Network::build ─▶ Network          Network, State ─ live ─▶ LiveSet
//! Network, State ─ secured, securing_devices, own_conductors, first_overcurrent ─▶ answers
//! Network, State ─ Upstream::new ─▶ all places at once: secured or not, and the paths
//! Network, State, places, Price ─ lock_sets ─▶ LockSets or Unbreakable
//! Job, Network, State ─ Tracer::new ─▶ Tracer ─ trace, without ─▶ Trace, Unsafe
//! ```
//!
//! A vertex is one conductor at one node, an edge is one lane of a device or a joint. The
//! checker has a walk of its own and never uses this room.

mod bits;
mod cut;
mod flow;
mod frontier;
mod graph;
mod live;
mod locks;
mod outage;
mod own;
mod paths;
mod secure;
mod state;
mod trace;
mod upstream;
mod walk;

pub use bits::IdSet;
pub use frontier::FirstOvercurrent;
pub use graph::{Lane, Link, Network, Spot};
pub use live::LiveSet;
pub use locks::{Cost, Each, LockSet, LockSets, Price, Unbreakable, lock_sets};
pub use outage::{Down, Loss, Outage, Outages};
pub use paths::{Cut, Path};
pub use state::State;
pub use trace::{Alternative, Conductor, Place, Trace, Tracer, Unsafe};
pub use upstream::Upstream;
pub use walk::Hop;
