//! The way by which a node is fed, held against what is live when anything else is opened.

use super::secured::case;
use wayover::network::Network;

#[test]
fn a_node_stays_live_whatever_is_opened_off_the_way_that_feeds_it() {
    let (mut ways, mut opened) = (0, 0);
    for seed in 0..600 {
        let (job, state) = case(seed);
        let net = Network::build(&job);
        let live = net.live(&state);
        let step = 1 + job.nodes.len() / 8;
        for node in job.nodes.ids().skip(seed as usize % step).step_by(step) {
            let Some(way) = net.way_to(&state, node) else {
                // Only what acts by itself, or a source that does, may feed it all the same.
                let alone = job.devices.rows().iter().all(|d| d.self_acting.is_none())
                    && job
                        .nodes
                        .rows()
                        .iter()
                        .all(|n| n.source().is_none_or(|s| s.watches.is_none()));
                assert!(!(alone && net.live_node(&live, node)), "seed {seed}, {node:?}");
                continue;
            };
            ways += 1;
            assert!(net.live_node(&live, node), "seed {seed}, {node:?}");
            for device in job.devices.ids().filter(|d| !way.contains(d)) {
                let mut open = state.clone();
                open.closed.remove(device);
                let after = net.live(&open);
                assert!(net.live_node(&after, node), "seed {seed}, {node:?}, {device:?} opened");
                opened += 1;
            }
        }
    }
    assert!(ways > 300 && opened > 1_000, "{ways} ways, {opened} opened");
}
