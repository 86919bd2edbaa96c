//! What it costs that a proof of dead lapses because nobody was there for too long (W2): enough to
//! compare orders by. Which proofs a schedule needs in the end, `fit` finds out.

use super::fit::{is_dead_work, there};
use super::ground::Ground;
use crate::model::*;
use crate::schedule::Schedule;
use crate::work::{Piece, Role, Session};

/// The pieces that keep the proofs of a session's positions, and what a lapse costs at each.
pub struct Lapses {
    positions: Vec<Proved>,
    minutes: Vec<i64>,
    life: i64,
}

struct Proved {
    /// Pieces that are there, and whether each needs the proof, or makes it.
    there: Vec<(usize, Use)>,
    /// One more proof, in millionths of J.
    price: i64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Use {
    Makes,
    Needs,
    Passes,
}

impl Lapses {
    /// `minute`: what a minute more of the dead time costs, in millionths of J.
    pub fn new(g: &Ground, session: &Session, parts: &[Piece], minute: i64) -> Lapses {
        let mut at: Vec<PositionId> = (session.dead.iter())
            .flat_map(|set| set.prove.iter().chain(&set.prove_after_strip))
            .chain(session.rides.iter().map(|r| &g.labour.supplies[r.supply.index()].position))
            .copied()
            .collect();
        at.sort_unstable();
        at.dedup();
        let positions = at.into_iter().map(|position| {
            let use_of = |piece: &Piece| match piece.role {
                Role::Prove(_) => Use::Makes,
                _ if is_dead_work(g, piece) => Use::Needs,
                _ => Use::Passes,
            };
            let here = |i: &usize| there(g, &parts[*i]).contains(&position);
            let there = (0..parts.len()).filter(here).map(|i| (i, use_of(&parts[i])));
            let again = g.labour.positions[position.index()].prove_again.planned.0;
            Proved { there: there.collect(), price: again.saturating_mul(minute) }
        });
        Lapses {
            positions: positions.collect(),
            minutes: parts.iter().map(|p| p.effort.planned.0).collect(),
            life: g.job.policy.proof_life.0,
        }
    }

    /// What the proofs that lapse in a schedule cost, in millionths of J.
    pub fn cost(&self, s: &Schedule) -> i64 {
        self.positions.iter().map(|p| p.price.saturating_mul(self.lapses(p, s))).sum()
    }

    fn lapses(&self, at: &Proved, s: &Schedule) -> i64 {
        let span = |i: usize| (s.start[i], s.start[i] + self.minutes[i]);
        let mut visits: Vec<(i64, i64, Use)> =
            (at.there.iter()).map(|&(i, used)| (span(i).0, span(i).1, used)).collect();
        visits.sort_unstable_by_key(|v| (v.0, v.1));
        let mut proved: Option<i64> = None;
        let mut lapses = 0;
        for (from, to, used) in visits {
            match (&mut proved, used) {
                (_, Use::Makes) => proved = Some(to),
                (Some(seen), _) => {
                    if used == Use::Needs && from > *seen + self.life {
                        lapses += 1;
                    }
                    *seen = to.max(*seen);
                }
                (None, _) => {}
            }
        }
        lapses
    }
}
