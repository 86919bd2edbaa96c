//! Contactors in front of a lighting circuit's lamps, and which of their coils an emergency group
//! has to watch (rule E1 of the planning model).

use super::ids::{CircuitId, DeviceId};
use super::job::{Group, Job};

impl Job {
    /// The contactors behind which the lamps watched by a group are, each with the circuit of its
    /// coil; none that a declared sensing relay covers.
    pub fn watched_coils(&self, group: &Group) -> Vec<(DeviceId, CircuitId)> {
        let own = &self.circuits[group.watches].nodes;
        let coil_of = |node| self.circuits.iter().find(|(_, c)| c.nodes.contains(&node));
        self.devices
            .iter()
            .filter(|(_, d)| own.contains(&d.a) && own.contains(&d.b))
            .filter_map(|(id, d)| Some((id, coil_of(d.self_acting?.node)?.0)))
            .filter(|(_, coil)| ![group.watches, *coil].iter().any(|c| group.relays.contains(c)))
            .collect()
    }
}
