//! Theorem: where the incoming cable moves over, every circuit that goes from the old board to the
//! new one is out while old tails come off, new tails go on and the new board is tested, one after
//! the other.
//!
//! Old tails off is work at the old board, which is dead meanwhile (W1). With them off, and while
//! both ends of the new tails are dead, no source reaches the old board by any way that is not the
//! new board; and that has no supply before its test has passed (W4). No circuit is in service on
//! the new board before. The tails are worked in the order in which the job lists them.
//!
//! Dropped: all tails but one of each board, links, and switching. Each only adds time.
//! Tried, with the others, by `bound_is_never_above_the_cost_of_a_generated_job`.

use super::facts::Work;
use super::pair::Pair;
use crate::model::*;
use crate::search::ground::{Edge, Ground};
use std::collections::BTreeSet;

/// What all circuits are out for together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Over {
    /// One after the other.
    pub minutes: i64,
    /// Minutes times people.
    pub crew_minutes: i64,
    /// The test of the new board among them.
    pub test: i64,
}

/// The changeover of a pair's tails; nothing if the cable does not move over.
pub fn tails_over(g: &Ground, pair: &Pair) -> Over {
    let cut_in = |t: &&Tails| t.stage == TailsStage::CutIn;
    let mut tails = g.labour.tails.iter().filter(cut_in);
    let off = tails.by_ref().find(|t| t.board == pair.old && !t.breaks.is_empty());
    let on = tails.find(|t| t.board == pair.new && !t.makes.is_empty());
    let (Some(off), Some(on)) = (off, on) else { return Over::default() };
    let at_board = g.job.positions[off.position].board == Some(pair.old);
    if !at_board || reaches(g, pair, &off.breaks, &on.makes) {
        return Over::default();
    }
    let all = Work::least([&off.effort]).and(Work::least([&on.effort])).and(pair.test);
    Over { minutes: all.minutes, crew_minutes: all.crew_minutes, test: pair.test.minutes }
}

/// Whether a source can reach the old board without these joints, the ends of those, the new
/// board, and the joints of circuits.
fn reaches(g: &Ground, pair: &Pair, without: &[JointId], ends: &[JointId]) -> bool {
    let (old, new) = (&g.job.boards[pair.old], &g.job.boards[pair.new]);
    let bare = |b: &Board| -> Vec<NodeId> {
        [b.ways, b.incoming].into_iter().flat_map(|p| g.job.positions[p].bare.clone()).collect()
    };
    let from: BTreeSet<NodeId> = g.job.positions[old.ways].bare.iter().copied().collect();
    // What is bare at both, such as the end of a link, is passed through.
    let shared = bare(old);
    let mut closed: BTreeSet<NodeId> =
        bare(new).into_iter().filter(|n| !shared.contains(n)).collect();
    closed.extend(ends.iter().flat_map(|j| [g.job.joints[*j].a, g.job.joints[*j].b]));
    let mut reached: BTreeSet<NodeId> = from.difference(&closed).copied().collect();
    let mut open: Vec<NodeId> = reached.iter().copied().collect();
    while let Some(node) = open.pop() {
        if g.job.nodes[node].source().is_some() {
            return true;
        }
        for (far, edge) in &g.edges[node.index()] {
            let carries = |lanes: Lanes| lanes.at_a().iter().any(Wire::is_line);
            let passes = match edge {
                Edge::Device(d) => carries(g.job.devices[*d].wires),
                Edge::Joint(j) => {
                    let joint = &g.job.joints[*j];
                    joint.of.is_none() && !without.contains(j) && carries(joint.wires)
                }
            };
            if passes && !closed.contains(far) && reached.insert(*far) {
                open.push(*far);
            }
        }
    }
    false
}
