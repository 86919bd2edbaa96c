//! Plans that give switching its own time, and what that takes at a pair of boards.
//!
//! The planning model lets an act stand in a task of any kind, and leaves out isolating, proving
//! and energising where no task is named for them. A bound on every plan counts nothing for them.
//! A plan *gives switching its own time* if
//!
//! - a device is opened and locked for dead work in a task of the kind isolate, opened at least a
//!   minute before the task ends, and closed again in a task of the kind energise, of the board's
//!   figures, the first one for the first time, of which nothing is closed in the first minute;
//! - each position that the work at a board lays open, and that could be live, is proved in a task
//!   of its figure, those of a board one after the other, after the isolation and before the first
//!   dead work there; where a board takes another's place, after that one is stripped out and before
//!   the new one is mounted, and where both are fed through one joint that is worked on, both after the
//!   isolation for that and before any dead work at either that follows it;
//! - a board is energised when the dead work at it is over, and its live tests begin after that;
//! - work on tails, and on joints of a temporary link, is done in the tasks listed for it, that on tails in
//!   the order listed, the board's own test after it;
//! - the device opened for a function test is open from the task's first minute to its last, neither
//!   counted, and its board is not isolated meanwhile;
//! - a temporary supply is switched on in a task after the circuits are hooked up, switched off in
//!   a task before they are unhooked, and its box is proved again between the two.
//!
//! All plans that this program writes do. The bound on these plans is told apart from the bound on
//! every plan, and only the latter makes a plan the best there is.

use super::facts::Work;
use super::riders::Stretch;
use crate::model::*;
use crate::search::ground::{Edge, Ground};
use crate::work::session::exposed;
use std::collections::BTreeSet;

/// What switching takes at a pair of boards; nothing where every plan counts.
#[derive(Clone, Copy, Debug, Default)]
pub struct OwnTasks {
    /// Whether only plans that give switching its own time count.
    pub given: bool,
    /// Minutes from the opening to the end of an isolation, and from the start of an energising
    /// to the closing.
    pub switching: i64,
    /// Minutes to prove the old board the first time, and again.
    pub prove_old: [i64; 2],
    /// Minutes to prove the new board the first time, and again.
    pub prove_new: [i64; 2],
    /// Isolating the old board the first time.
    pub isolate: Work,
    /// Energising the new board the first time.
    pub energise: Work,
    /// Energising it again.
    pub energise_again: Work,
    /// Minutes for the covers without which the old board is not live again.
    pub covers_old: i64,
}

impl OwnTasks {
    /// Of an old board and the new one that takes circuits over.
    pub fn of(g: &Ground, old: BoardId, new: BoardId) -> OwnTasks {
        let (a, b) = (&g.labour.boards[old.index()], &g.labour.boards[new.index()]);
        let proof = |board: BoardId| -> [i64; 2] {
            let at = to_prove(g, board);
            let sum = |of: fn(&PositionLabour) -> &Effort| -> i64 {
                at.iter().map(|p| of(&g.labour.positions[p.index()]).planned.0).sum()
            };
            let (first, again) = (sum(|l| &l.prove), sum(|l| &l.prove_again));
            [first, first.min(again)]
        };
        let board = &g.job.boards[old];
        let shrouded = board.incoming_shrouded && board.ways_shrouded;
        OwnTasks {
            given: true,
            switching: 1,
            prove_old: proof(old),
            prove_new: proof(new),
            // Old boards that go dead as one are isolated by the figures of one of them.
            isolate: Work::least(
                (g.labour.boards.iter()).filter(|l| l.role == BoardRole::Old).map(|l| &l.isolate),
            ),
            energise: Work::least([&b.energise]),
            energise_again: Work::least([&b.energise, &b.energise_again]),
            covers_old: if shrouded {
                0
            } else {
                a.covers_again.planned.0.min(a.fit_covers.planned.0)
            },
        }
    }

    /// The least time for which all on the old board are out once more if it is live in between.
    pub fn old_again(&self) -> i64 {
        2 * self.switching + self.prove_old[1] + self.covers_old
    }

    /// The same of the new board.
    pub fn new_again(&self) -> i64 {
        2 * self.switching + self.prove_new[1]
    }

    /// What everybody does in one stretch with a dead time, from the isolation on.
    pub fn stretch(&self, policy: &Policy) -> Stretch {
        Stretch {
            before: (self.isolate.minutes - self.switching).max(0),
            work: (self.isolate.crew_minutes - self.switching).max(0),
            longest: policy.longest_stretch.0,
            break_length: policy.break_length.0,
        }
    }
}

/// The positions that work at a board's ways lays open, and that a source could reach once its
/// tails are on.
fn to_prove(g: &Ground, board: BoardId) -> Vec<PositionId> {
    let live = reached(g, None, &[]);
    let could = |p: &PositionId| g.job.positions[*p].bare.iter().any(|n| live.contains(n));
    let mut at = exposed(g.job, g.job.boards[board].ways);
    let tails = g.labour.tails.iter().filter(|t| t.stage == TailsStage::CutIn);
    let tails = tails.map(|t| t.position).filter(|p| g.job.positions[*p].board == Some(board));
    at.extend(tails.flat_map(|p| exposed(g.job, p)));
    at.sort_unstable();
    at.dedup();
    at.retain(|p| !g.job.positions[*p].points.is_empty() && could(p));
    at
}

/// The nodes that some way joins to a source, through any device and any joint that belongs to no
/// circuit, but not through `without` or a joint that is `apart`.
pub fn reached(g: &Ground, without: Option<NodeId>, apart: &[JointId]) -> BTreeSet<NodeId> {
    let sources = g.job.nodes.iter().filter(|(id, n)| n.source().is_some() && Some(*id) != without);
    let mut next: Vec<NodeId> = sources.map(|(id, _)| id).collect();
    let mut seen: BTreeSet<NodeId> = next.iter().copied().collect();
    while let Some(node) = next.pop() {
        for (far, edge) in &g.edges[node.index()] {
            let open = |j: &JointId| g.job.joints[*j].of.is_some() || apart.contains(j);
            let barred = matches!(edge, Edge::Joint(j) if open(j)) || Some(*far) == without;
            if !barred && seen.insert(*far) {
                next.push(*far);
            }
        }
    }
    seen
}
