//! Which boards are dead as one, and what has to be proved at each.

use super::{Build, Unsafe};
use crate::model::*;
use crate::network::State;
use crate::search::switching;
use crate::work::DeadSet;
use crate::work::session::exposed;

impl Build<'_> {
    /// The state in which all work on terminations of the session is done: what must be safe
    /// while it goes on must be safe either way, so old and new terminations both count.
    fn with_tails(&self, tails: &[usize]) -> State {
        let mut state = self.state.clone();
        for t in tails {
            for joint in &self.g.labour.tails[*t].makes {
                state.make(*joint);
            }
        }
        state
    }

    pub(super) fn dead_sets(
        &self,
        off: &[CircuitId],
        on: &[CircuitId],
        tails: &[usize],
    ) -> Result<Vec<DeadSet>, Unsafe> {
        let g = self.g;
        let old: Vec<BoardId> = if self.spec.gone { Vec::new() } else { self.project.old.clone() };
        // What takes the old one's place is not there before the cut-in.
        let there = |b: &&BoardId| {
            !(self.spec.early && g.labour.boards[b.index()].role == BoardRole::NewSamePlace)
        };
        let new: Vec<BoardId> = self.project.new.iter().filter(there).copied().collect();
        let joined = self.with_tails(tails);
        let mut sets: Vec<Vec<BoardId>> = self.stays(tails).into_iter().map(|b| vec![b]).collect();
        if self.separable(&old, &new, off, on, tails, &joined) {
            sets.extend([old, new]);
        } else {
            sets.push(old.into_iter().chain(new).collect());
        }
        sets.retain(|s| !s.is_empty());
        let locks: Vec<Vec<DeviceId>> = sets
            .iter()
            .map(|boards| self.locks(boards, off, on, tails, &joined))
            .collect::<Result<_, _>>()?;
        // What one set's locks keep from another set's place has to be proved there too.
        let locked = joined.with_locks(&locks.concat());
        let around = |state: &State, p: PositionId| {
            let mut devices = g.net.securing_devices(state, p);
            devices.sort_unstable();
            devices
        };
        let all = sets.into_iter().zip(locks).map(|(boards, locks)| {
            let (mut prove, mut prove_after_strip) = (Vec::new(), Vec::new());
            for &board in &boards {
                let same_place = g.labour.boards[board.index()].role == BoardRole::NewSamePlace
                    && self.spec.mount.contains(&board);
                let positions = self.to_prove(board, tails, &locked);
                if same_place {
                    prove_after_strip.extend(positions);
                } else {
                    prove.extend(positions);
                }
            }
            let alone = joined.with_locks(&locks);
            let mut proved = prove.iter().chain(&prove_after_strip);
            let apart = proved.all(|p| around(&alone, *p) == around(&locked, *p));
            let cuts = !g.lost(self.state, &locks).is_empty();
            DeadSet { boards, locks, prove, prove_after_strip, apart, cuts }
        });
        let mut all: Vec<DeadSet> = all.collect();
        if !all.iter().all(|set| set.apart) {
            all.iter_mut().for_each(|set| set.apart = false);
        }
        Ok(all)
    }

    /// Whether old and new boards can be isolated and come back each on its own.
    fn separable(
        &self,
        old: &[BoardId],
        new: &[BoardId],
        off: &[CircuitId],
        on: &[CircuitId],
        tails: &[usize],
        joined: &State,
    ) -> bool {
        if old.is_empty() || new.is_empty() {
            return false;
        }
        let stages = tails.iter().map(|t| self.g.labour.tails[*t].stage);
        let shared = stages
            .into_iter()
            .any(|s| matches!(s, TailsStage::CutIn | TailsStage::LinkOn | TailsStage::LinkOff));
        // A board that nothing feeds yet is worked at when the circuits are off the old one.
        let parted = if self.spec.early { off } else { &[] };
        let (Ok(a), Ok(b)) =
            (self.locks(old, off, &[], tails, joined), self.locks(new, parted, on, tails, joined))
        else {
            return false;
        };
        let feeds = |boards: &[BoardId], alive: &[BoardId]| -> Vec<DeviceId> {
            let paths = boards.iter().map(|x| switching::feed_path(self.g, joined, *x, alive));
            paths.flatten().collect()
        };
        let everything: Vec<BoardId> = self.g.job.boards.ids().collect();
        let (fa, fb) = (feeds(old, &everything), feeds(new, &everything));
        let stays = self
            .g
            .job
            .boards
            .ids()
            .filter(|x| self.g.labour.boards[x.index()].role == BoardRole::Stays);
        let apart: Vec<BoardId> = stays.chain(old.iter().copied()).collect();
        let fa_alone = feeds(old, &apart);
        let through_new =
            fa.iter().any(|d| self.g.job.devices[*d].enclosure.is_some_and(|e| new.contains(&e)));
        !shared
            && !through_new
            && !fa_alone.is_empty()
            && !a.iter().any(|d| fb.contains(d) && !b.contains(d))
            && !a.iter().any(|d| b.contains(d) && fb.contains(d))
            && !b.iter().any(|d| fa.contains(d))
    }

    /// The positions of a board that the session's work lays open.
    pub(super) fn laid_open(&self, board: BoardId, tails: &[usize]) -> Vec<PositionId> {
        let job = self.g.job;
        let mut at = exposed(job, job.boards[board].ways);
        for t in tails.iter().map(|t| &self.g.labour.tails[*t]) {
            if job.positions[t.position].board == Some(board) {
                at.extend(exposed(job, t.position));
            }
        }
        at.sort_unstable();
        at.dedup();
        at
    }

    /// The positions of a board that have to be proved dead: where something was live, or a
    /// securing device keeps something from being so.
    fn to_prove(&self, board: BoardId, tails: &[usize], locked: &State) -> Vec<PositionId> {
        let job = self.g.job;
        let before = self.g.net.live(&State::old(job));
        let now = self.g.net.live(self.state);
        self.laid_open(board, tails)
            .into_iter()
            .filter(|p| {
                let at = &job.positions[*p];
                let nodes = || at.bare.iter().chain(&at.other_fed);
                let live = nodes()
                    .any(|n| self.g.net.live_node(&before, *n) || self.g.net.live_node(&now, *n));
                let secured = !self.g.net.securing_devices(locked, *p).is_empty();
                !at.points.is_empty() && (live || at.live_before || secured)
            })
            .collect()
    }

    /// Whether an old board stays safe when the locks that the new one needs off are off: its
    /// tails are, or its locks are its own.
    pub(super) fn safe_without_supply(
        &self,
        set: &DeadSet,
        strip: &[BoardId],
        off: &[CircuitId],
        tails: &[usize],
    ) -> bool {
        if set.boards.iter().all(|b| strip.contains(b)) {
            return true;
        }
        let mut state = self.state.clone();
        for c in off {
            for joint in &self.g.routes[c.index()].old {
                state.insulate(*joint);
            }
        }
        for t in tails {
            for joint in &self.g.labour.tails[*t].breaks {
                state.insulate(*joint);
            }
            for joint in &self.g.labour.tails[*t].makes {
                state.make(*joint);
            }
        }
        let job = self.g.job;
        set.boards.iter().filter(|b| strip.contains(b)).all(|b| {
            let nodes: Vec<NodeId> = exposed(job, job.boards[*b].ways)
                .into_iter()
                .flat_map(|p| {
                    job.positions[p].bare.iter().chain(&job.positions[p].other_fed).copied()
                })
                .collect();
            self.g.net.secured(&state, &nodes)
        })
    }
}
