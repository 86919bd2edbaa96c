//! The charge ledger of emergency-lighting groups (E2), and what occupied areas need (E3).
//!
//! A group loses a minute a minute while lit on its battery and during its function test, holds
//! while at rest, and gains rated ÷ recharge a minute while fed, up to rated. All exact.

use super::breach::{Kind, Report, facts};
use super::site::{Site, stated};
use super::track::Track;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::Zero;

/// What a group's battery is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Charging {
    /// Its supply is live.
    Fed,
    /// Its supply is dead, and it is lit or would be.
    Lit,
    /// Its supply is dead, and it is in rest mode.
    AtRest,
    /// Its function test is on.
    Tested,
}

/// A stretch of a charge ledger.
#[derive(Clone, Debug, PartialEq)]
pub struct ChargeStep {
    /// From when.
    pub from: Minutes,
    /// What the battery does from then on.
    pub does: Charging,
    /// Minutes of autonomy at that instant.
    pub charge: Exact,
}

/// Charge over time, and when each area counts as occupied.
#[derive(Debug)]
pub(super) struct Ledger {
    pub groups: Vec<Vec<ChargeStep>>,
    /// Occupied spans, people at work without task lighting of their own included.
    pub occupied: Vec<Vec<Period>>,
}

/// Charge after `minutes` more of the same.
pub(super) fn after(group: &Group, step: &ChargeStep, minutes: Minutes) -> Exact {
    let rated = group.rated.exact();
    match step.does {
        Charging::AtRest => step.charge.clone(),
        Charging::Lit | Charging::Tested => (&step.charge - minutes.exact()).max(Exact::zero()),
        Charging::Fed if group.recharge.0 <= 0 => rated,
        Charging::Fed => {
            let gained = &step.charge + &rated * minutes.exact() / group.recharge.exact();
            gained.min(rated)
        }
    }
}

impl Ledger {
    pub fn new(site: &Site, charging: &[Track<Charging>], work: &[Vec<Period>]) -> Ledger {
        let job = site.job;
        let groups = job
            .groups
            .iter()
            .map(|(g, group)| {
                let mut steps: Vec<ChargeStep> = Vec::new();
                for (from, does) in charging[g.index()].changes() {
                    let charge = match steps.last() {
                        Some(last) => after(group, last, from - last.from),
                        None => group.charge.clone().min(group.rated.exact()),
                    };
                    if steps.last().is_some_and(|s| s.from == from) {
                        steps.pop();
                    }
                    steps.push(ChargeStep { from, does: *does, charge });
                }
                steps
            })
            .collect();
        let occupied = job
            .areas
            .iter()
            .map(|(a, area)| {
                let mut spans = area.occupied.clone();
                if !stated(&area.task_lighting) {
                    spans.extend(&work[a.index()]);
                }
                spans
            })
            .collect();
        Ledger { groups, occupied }
    }

    /// E3: an occupied area has the autonomy that the job requires, or names a measure.
    pub fn e3_autonomy(&self, job: &Job, out: &mut Report) {
        for (g, group) in job.groups.iter() {
            let steps = &self.groups[g.index()];
            for a in &group.areas {
                let area = &job.areas[*a];
                if stated(&area.measure) {
                    continue;
                }
                'spans: for span in &self.occupied[a.index()] {
                    for (i, step) in steps.iter().enumerate() {
                        let until = steps.get(i + 1).map_or(job.span.to, |s| s.from);
                        let from = step.from.max(span.from);
                        let to = until.min(span.to);
                        if from >= to {
                            continue;
                        }
                        let rest = step.does == Charging::AtRest;
                        let least = if rest {
                            Exact::zero()
                        } else {
                            after(group, step, from - step.from).min(after(
                                group,
                                step,
                                to - step.from,
                            ))
                        };
                        if least < area.autonomy.exact() {
                            out.add_at(
                                Kind::TooDark,
                                Some(from),
                                None,
                                facts![g, *a, area.autonomy],
                            );
                            continue 'spans;
                        }
                    }
                }
            }
        }
    }

    /// The first occupied area that a full-duration test at `at` leaves without enough.
    pub fn short_after_full_test(
        &self,
        job: &Job,
        g: GroupId,
        at: Minutes,
    ) -> Option<(AreaId, Minutes)> {
        let group = &job.groups[g];
        let done = at + group.rated;
        for a in &group.areas {
            let area = &job.areas[*a];
            if stated(&area.measure) || area.autonomy.0 <= 0 {
                continue;
            }
            for span in &self.occupied[a.index()] {
                let from = span.from.max(at);
                if from >= span.to || from >= job.span.to {
                    continue;
                }
                let gained = if from <= done || group.recharge.0 <= 0 {
                    whole(0)
                } else {
                    (group.rated.exact() * (from - done).exact() / group.recharge.exact())
                        .min(group.rated.exact())
                };
                if gained < area.autonomy.exact() {
                    return Some((*a, from));
                }
            }
        }
        None
    }
}
