//! Whether each dead task stands on a proof that holds (W2), found by following the events.
//!
//! `fit` places proofs by rules of thumb that look at times alone. Which lock secures which
//! position when depends on the whole state, so this follows it act by act, as the planning model
//! says when a proof is void. It is the planner's own guard: `verify` has another.

use super::ground::Ground;
use super::timing::Timed;
use crate::model::*;
use crate::network::{State, Upstream};
use crate::plan::Act;
use crate::units::Minutes;
use crate::work::Role;
use crate::work::session::exposed;
use std::collections::{BTreeMap, BTreeSet};

/// What is known of proofs after the sessions so far.
#[derive(Clone, Debug)]
pub struct Proofs {
    state: State,
    locks: BTreeMap<DeviceId, usize>,
    /// Something bare at the position has been live since the survey.
    was_live: Vec<bool>,
    /// Devices that a proof made since they were locked has relied on.
    relied: BTreeSet<DeviceId>,
    /// Positions with a proof that is not void: who saw one, and the devices around them.
    valid: BTreeMap<PositionId, (BTreeSet<PersonId>, BTreeSet<DeviceId>)>,
    /// When the last task at a position ended.
    left: BTreeMap<PositionId, Minutes>,
}

/// A piece whose people have no proof that holds, and the positions that have to be proved.
pub type Missing = (usize, Vec<PositionId>);

impl Proofs {
    /// Before any work.
    pub fn new(g: &Ground) -> Proofs {
        let mut new = Proofs {
            state: State::old(g.job),
            locks: BTreeMap::new(),
            was_live: g.job.positions.rows().iter().map(|p| p.live_before).collect(),
            relied: BTreeSet::new(),
            valid: BTreeMap::new(),
            left: BTreeMap::new(),
        };
        new.note_live(g);
        new
    }

    /// Follows the events of a session, whose tasks are numbered from `first`. Returns the first
    /// piece that is left without a proof.
    pub fn follow<'e>(
        &mut self,
        g: &Ground,
        timed: &Timed,
        first: usize,
        events: impl Iterator<Item = (Minutes, &'e Act)>,
    ) -> Option<Missing> {
        // No window ends within a session, and every one ends before the next begins.
        self.valid.clear();
        let mut running: BTreeSet<usize> = BTreeSet::new();
        let mut missing = None;
        for (at, act) in events {
            let ask = self.act(g, timed, first, &mut running, at, act);
            if ask && missing.is_none() {
                missing = self.ask(g, timed, &running);
            }
        }
        missing
    }

    /// Carries out one act. Returns whether a proof may be missing after it.
    fn act(
        &mut self,
        g: &Ground,
        timed: &Timed,
        first: usize,
        running: &mut BTreeSet<usize>,
        at: Minutes,
        act: &Act,
    ) -> bool {
        match act {
            Act::Open(_, d) => {
                self.state.closed.remove(*d);
                false
            }
            Act::Close(_, d) => {
                self.state.closed.insert(*d);
                self.note_live(g);
                false
            }
            Act::Lock(_, d, ..) => {
                *self.locks.entry(*d).or_default() += 1;
                self.state.lock(*d);
                self.look_around(g);
                true
            }
            Act::Unlock(_, d, _) => {
                let left = self.locks.entry(*d).or_default();
                *left = left.saturating_sub(1);
                if *left == 0 {
                    self.relied.remove(d);
                    self.valid.retain(|_, (_, around)| !around.contains(d));
                    self.state.unlock(*d);
                    self.look_around(g);
                }
                true
            }
            Act::Make(_, j) => {
                self.state.make(*j);
                self.look_around(g);
                true
            }
            Act::Break(_, j) => {
                self.state.insulate(*j);
                false
            }
            Act::Start { task, .. } => {
                let Some(piece) = task.index().checked_sub(first) else { return false };
                let life = g.job.policy.proof_life;
                self.valid.retain(|p, _| self.left.get(p).is_none_or(|left| at <= *left + life));
                running.insert(piece);
                for p in there(g, timed, piece) {
                    self.left.remove(&p);
                }
                true
            }
            Act::Finish { task, .. } => {
                let Some(piece) = task.index().checked_sub(first) else { return false };
                running.remove(&piece);
                for p in there(g, timed, piece) {
                    let others = running.iter().any(|r| there(g, timed, *r).contains(&p));
                    if !others {
                        self.left.insert(p, at);
                    }
                }
                false
            }
            Act::Prove(by, proof) => {
                let piece = by.task.and_then(|t| t.index().checked_sub(first));
                let people = piece.map(|i| timed.crew[i].clone()).unwrap_or_default();
                let around = self.around(g, proof.position);
                self.relied.extend(&around);
                let held = self.valid.entry(proof.position).or_default();
                held.0.extend(people);
                held.1 = around;
                self.left.remove(&proof.position);
                true
            }
            _ => false,
        }
    }

    fn around(&self, g: &Ground, position: PositionId) -> BTreeSet<DeviceId> {
        g.net.securing_devices(&self.state, position).into_iter().collect()
    }

    /// A proof is void when the locks around its place gain one that no proof has relied on.
    fn look_around(&mut self, g: &Ground) {
        if self.valid.is_empty() {
            return;
        }
        let up = Upstream::joined(&g.net, &self.state);
        let places: Vec<PositionId> = self.valid.keys().copied().collect();
        for position in places {
            let spots = g.net.spots(g.net.bare(position));
            let around: BTreeSet<DeviceId> =
                up.securing_devices(&g.net, &self.state, &spots).into_iter().collect();
            if around.iter().all(|d| self.relied.contains(d)) {
                self.valid.entry(position).and_modify(|held| held.1 = around);
            } else {
                self.valid.remove(&position);
            }
        }
    }

    fn note_live(&mut self, g: &Ground) {
        let live = g.net.live(&self.state);
        for p in g.job.positions.ids() {
            self.was_live[p.index()] |= g.net.bare(p).iter().any(|n| g.net.live_node(&live, *n));
        }
    }

    /// The first running piece whose people have no proof where they need one.
    fn ask(&self, g: &Ground, timed: &Timed, running: &BTreeSet<usize>) -> Option<Missing> {
        for &piece in running {
            if !super::fit::is_dead_work(g, &timed.pieces[piece]) {
                continue;
            }
            let Some(position) = timed.pieces[piece].position else { continue };
            let seen = |p: &PositionId| {
                let held = self.valid.get(p);
                held.is_some_and(|(people, _)| timed.crew[piece].iter().all(|x| people.contains(x)))
            };
            let needed =
                |p: &PositionId| self.was_live[p.index()] || !self.around(g, *p).is_empty();
            let missing: Vec<PositionId> = exposed(g.job, position)
                .into_iter()
                .filter(|p| !g.net.bare(*p).is_empty() && !seen(p) && needed(p))
                .collect();
            if !missing.is_empty() {
                return Some((piece, missing));
            }
        }
        None
    }
}

/// Where a piece is: what it lays open, or what it proves.
fn there(g: &Ground, timed: &Timed, piece: usize) -> Vec<PositionId> {
    let piece = &timed.pieces[piece];
    match (&piece.role, piece.position) {
        (Role::Prove(at), _) => at.clone(),
        (_, Some(p)) if piece.kind.mode() == Mode::Dead => exposed(g.job, p),
        _ => Vec::new(),
    }
}
