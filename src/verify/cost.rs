//! What the plan costs (section 8), and whether it says so itself (C1).

use super::breach::{Kind, Report, facts};
use super::outages::Outage;
use super::site::Site;
use crate::model::*;
use crate::plan::Act;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::{Signed, Zero};
use std::collections::{BTreeMap, BTreeSet};

/// The five terms of the cost, exact.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Minutes out in needed hours, weighted.
    pub needed: Exact,
    /// Minutes out in other hours, weighted and reduced.
    pub other: Exact,
    /// Counted outages of both kinds.
    pub counted: Exact,
    /// Person-visits.
    pub visits: Exact,
    /// Circuit-hours on temporary supplies.
    pub riding: Exact,
}

impl Cost {
    /// J, their sum.
    pub fn total(&self) -> Exact {
        self.parts().into_iter().sum()
    }

    /// The five terms in the order of the record.
    pub fn parts(&self) -> [Exact; 5] {
        [&self.needed, &self.other, &self.counted, &self.visits, &self.riding].map(Clone::clone)
    }
}

/// Tasks as they were carried out: people, start, end.
pub(super) type Worked = Vec<(TaskId, Vec<PersonId>, Minutes, Minutes)>;

/// The cost of the plan as replayed.
pub(super) fn cost(site: &Site, outages: &[Vec<Outage>], worked: &Worked, riding: i64) -> Cost {
    let job = site.job;
    let p = &job.policy;
    let mut cost = Cost {
        needed: Exact::zero(),
        other: Exact::zero(),
        counted: Exact::zero(),
        visits: Exact::zero(),
        riding: whole(riding) * &p.h / whole(60),
    };
    for (id, load) in job.loads.iter() {
        for o in &outages[id.index()] {
            let Some(from) = &o.counts_from else { continue };
            let to = o.whole.to.exact();
            let needed: Exact = load
                .needed
                .iter()
                .map(|n| {
                    (to.clone().min(n.to.exact()) - from.clone().max(n.from.exact()))
                        .max(Exact::zero())
                })
                .sum();
            let other = &to - from - &needed;
            let touches = needed.is_positive();
            cost.needed += &load.weight * needed;
            cost.other += &load.weight * other * &p.f;
            let once = &load.weight * &p.q;
            cost.counted += if touches { once } else { once * &p.f };
        }
    }
    let mut visits: BTreeSet<(PersonId, usize)> = BTreeSet::new();
    for (_, who, start, end) in worked {
        let span = Period { from: *start, to: *end };
        for (i, _) in site.visits.iter().enumerate().filter(|(_, v)| v.overlaps(span)) {
            visits.extend(who.iter().map(|p| (*p, i)));
        }
    }
    cost.visits = whole(visits.len() as i64) * &p.v;
    cost
}

/// Locks put on or taken off, devices and boxes.
pub(super) fn lock_operations(site: &Site) -> i64 {
    let is_lock = |act: &Act| {
        matches!(act, Act::Lock(..) | Act::Unlock(..) | Act::BoxLock(..) | Act::BoxUnlock(..))
    };
    site.plan.events.iter().filter(|e| is_lock(&e.act)).count() as i64
}

/// The walking figure over each person's tasks that have a position.
pub(super) fn walking(site: &Site, worked: &Worked) -> i64 {
    let mut last: BTreeMap<PersonId, TaskId> = BTreeMap::new();
    let mut total = 0;
    let mut in_order: Vec<_> = worked.iter().collect();
    in_order.sort_by_key(|(_, _, start, _)| *start);
    for (task, who, _, _) in in_order {
        let row = site.task(*task);
        let Some(position) = row.position else { continue };
        for person in who {
            if let Some(before) = last.insert(*person, *task) {
                let before = site.task(before);
                if before.position != Some(position)
                    || (way_apart(site, position, before.circuit, row.circuit))
                {
                    total += 1;
                }
            }
        }
    }
    total
}

fn way_apart(site: &Site, at: PositionId, a: Option<CircuitId>, b: Option<CircuitId>) -> bool {
    let row = &site.job.positions[at].row;
    let place = |c: Option<CircuitId>| -> Option<usize> {
        let joints = &site.own[c?.index()].joints;
        row.iter().position(|n| {
            joints.iter().any(|j| site.job.joints[*j].a == *n || site.job.joints[*j].b == *n)
        })
    };
    matches!((place(a), place(b)), (Some(x), Some(y)) if x.abs_diff(y) > 1)
}

/// What the replay found, to hold the claims against.
pub(super) struct Found<'a> {
    pub outages: &'a [Vec<Outage>],
    pub cost: &'a Cost,
    pub finish: Minutes,
    pub lock_operations: i64,
    pub walking: i64,
    pub still_live: &'a BTreeMap<TaskId, BTreeSet<NodeId>>,
}

/// A claim to a tenth is at most half a tenth away. Which way a half was rounded is not judged:
/// the given records hold one that was rounded down.
fn to_a_tenth(exact: &Exact, claimed: &Exact) -> bool {
    (exact - claimed).abs() <= Exact::new(1.into(), 20.into())
}

/// C1: every claim is what the replay gives.
pub(super) fn c1_claims(site: &Site, found: &Found, out: &mut Report) {
    let claims = &site.plan.claims;
    let mut differs = |kind: Kind, same: bool| {
        if !same {
            out.add_at(kind, None, None, facts![]);
        }
    };
    let total = found.cost.total();
    differs(Kind::ClaimJ, to_a_tenth(&total, &claims.j));
    let parts = found.cost.parts();
    differs(Kind::ClaimParts, parts.iter().zip(&claims.parts).all(|(p, c)| to_a_tenth(p, c)));
    let bound = &claims.lower_bound;
    differs(Kind::ClaimBound, !bound.is_negative() && *bound <= total);
    let gap = if total.is_zero() { Exact::zero() } else { (&total - bound) / &total };
    differs(Kind::ClaimGap, (gap - &claims.gap).abs() <= Exact::new(1.into(), 1000.into()));
    differs(Kind::ClaimFinish, claims.finish == found.finish);
    differs(Kind::ClaimLocks, claims.lock_operations == found.lock_operations);
    differs(Kind::ClaimWalking, claims.walking == found.walking);
    for (id, _) in site.job.loads.iter() {
        let none = Vec::new();
        let claimed = claims.outages.get(&id).unwrap_or(&none);
        if !found.outages[id.index()].iter().map(|o| &o.whole).eq(claimed) {
            out.add_at(Kind::ClaimOutages, None, None, facts![id]);
        }
    }
    let tasks: BTreeSet<TaskId> =
        found.still_live.keys().chain(claims.still_live.keys()).copied().collect();
    for task in tasks {
        let claimed: Option<BTreeSet<NodeId>> =
            claims.still_live.get(&task).map(|nodes| nodes.iter().copied().collect());
        if claimed.as_ref() != found.still_live.get(&task) {
            out.add_at(Kind::ClaimStillLive, None, None, facts![task]);
        }
    }
}
