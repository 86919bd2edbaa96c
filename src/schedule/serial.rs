//! Serial schedule generation: the first task in the order whose predecessors are placed goes to
//! the earliest time at which it fits, gaps included.

use super::decode::{RankSet, Stuck, Why};
use super::problem::{Schedule, Time};
use super::tables::Tables;
use super::timeline::Timeline;

/// Memory of the decoder.
#[derive(Clone, Debug, Default)]
pub(super) struct Serial {
    eligible: RankSet,
    waiting: Vec<u32>,
    earliest: Vec<Time>,
}

impl Serial {
    pub(super) fn run(
        &mut self,
        t: &Tables,
        order: &[usize],
        rank: &[u32],
        timeline: &mut Timeline,
        into: &mut Schedule,
    ) -> Result<(), Stuck> {
        self.eligible.clear(t.tasks());
        self.waiting.clone_from(&t.predecessors);
        self.earliest.clone_from(&t.release);
        timeline.clear(t);
        for (task, &waiting) in self.waiting.iter().enumerate() {
            if waiting == 0 {
                self.eligible.insert(rank[task]);
            }
        }
        let mut placed = 0;
        while let Some(next) = self.eligible.first() {
            let task = order[next];
            self.eligible.remove(next as u32);
            let found = timeline.earliest(task, self.earliest[task], t);
            let Some((start, crew)) = found else {
                return Err(Stuck { task, why: Why::Absent, placed });
            };
            let end = start + t.duration[task];
            if end > t.due[task] {
                return Err(Stuck { task, why: Why::Late { by: end - t.due[task] }, placed });
            }
            timeline.insert(task, start, crew, t);
            into.start[task] = start;
            into.crew[task] = crew;
            placed += 1;
            for &(successor, lag) in t.successors.row(task) {
                let after = successor as usize;
                self.earliest[after] = self.earliest[after].max(end + lag);
                self.waiting[after] -= 1;
                if self.waiting[after] == 0 {
                    self.eligible.insert(rank[after]);
                }
            }
        }
        Ok(())
    }
}
