//! Why emergency lighting lets no plan through: which groups, by how many minutes of autonomy, and
//! what would mend it.
//!
//! Every figure comes from runs of the planner on a changed job. A plan that keeps a requirement
//! keeps every smaller one, so the least number of minutes by which the requirement has to fall is
//! searched for by halving; that no plan was found a minute above it is no proof that there is
//! none.

use super::judge::Trouble;
use super::{Options, Outcome};
use crate::model::*;
use crate::units::{Minutes, Period};
use std::collections::BTreeSet;

/// A group with an area that it lights and the minutes required there.
pub type Short = (GroupId, AreaId, Minutes);

/// What is short, and what mends it.
#[derive(Clone, Debug, PartialEq)]
pub struct Dark {
    /// Which groups.
    pub groups: Vec<Short>,
    /// With so many minutes less required of each there is a plan, with one less than that none
    /// was found.
    pub short: Minutes,
    /// Changes with which there is a plan, each from runs of its own.
    pub mends: Vec<DarkMend>,
}

/// A change of the job with which its emergency lighting has enough.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DarkMend {
    /// These circuits may go on this temporary supply, which has so many ways then.
    Supply(SupplyId, Vec<CircuitId>, i64),
    /// Every window, with its people, is so much earlier.
    Earlier(Minutes),
    /// These areas stay closed until then.
    Closed(Vec<(AreaId, Minutes)>),
    /// These areas stay closed all this time, so that there is a time for the full-duration test.
    ClosedFor(Vec<AreaId>, Period),
}

/// What is short of a job for which the search ended with these troubles; none if emergency
/// lighting is not what stands in the way.
pub fn dark(job: &Job, labour: &Labour, troubles: &[Trouble]) -> Option<Dark> {
    let (groups, short) = short(job, labour, troubles)?;
    let mends = mends(job, labour, &groups, troubles);
    Some(Dark { groups, short, mends })
}

/// The groups that are short, and by how many minutes.
pub fn short(job: &Job, labour: &Labour, troubles: &[Trouble]) -> Option<(Vec<Short>, Minutes)> {
    let groups = short_groups(job, troubles);
    let most = groups.iter().map(|(.., need)| need.0).max()?;
    let planned = |less: i64| found(&lowered(job, &groups, Minutes(less)), labour);
    if !planned(most) {
        return None;
    }
    // Invariant: none found with `none` less, one found with `some` less.
    let (mut none, mut some) = (0, most);
    while some - none > 1 {
        let middle = none + (some - none) / 2;
        if planned(middle) { some = middle } else { none = middle }
    }
    Some((groups, Minutes(some)))
}

const QUICK: Options = Options { moves: 300, tries: 6, seed: 1 };

fn found(job: &Job, labour: &Labour) -> bool {
    matches!(super::plan(job, labour, QUICK), Outcome::Plan(_))
}

/// The groups that troubles name, each with the area that asks most.
fn short_groups(job: &Job, troubles: &[Trouble]) -> Vec<Short> {
    let named: BTreeSet<GroupId> = troubles
        .iter()
        .filter_map(|t| match t {
            Trouble::Autonomy { group, .. } | Trouble::NoTest { group } => Some(*group),
            _ => None,
        })
        .collect();
    let asks = |a: &AreaId| match job.areas[*a].measure {
        Some(_) => Minutes::ZERO,
        None => job.areas[*a].autonomy,
    };
    named
        .into_iter()
        .filter_map(|g| {
            let area =
                job.groups[g].areas.iter().max_by_key(|a| (asks(a), std::cmp::Reverse(**a)))?;
            (asks(area) > Minutes::ZERO).then(|| (g, *area, asks(area)))
        })
        .collect()
}

/// The job with so many minutes less required wherever these groups light.
fn lowered(job: &Job, groups: &[Short], less: Minutes) -> Job {
    let mut job = job.clone();
    let areas: BTreeSet<AreaId> =
        groups.iter().flat_map(|(g, ..)| job.groups[*g].areas.clone()).collect();
    for a in areas {
        let area = &mut job.areas[a];
        area.autonomy = (area.autonomy - less).max(Minutes::ZERO);
    }
    job
}

fn mends(job: &Job, labour: &Labour, groups: &[Short], troubles: &[Trouble]) -> Vec<DarkMend> {
    let mut all = Vec::new();
    for supply in job.supplies.ids() {
        let Some((changed, circuits)) = riding(job, labour, supply, groups) else { continue };
        // With the ways that it has if that does; else with a way more for each.
        let ways = changed.supplies[supply].ways;
        let more = i64::try_from(circuits.len()).unwrap_or(0);
        let enough = [ways, ways + more].into_iter().find(|ways| {
            let mut changed = changed.clone();
            changed.supplies[supply].ways = *ways;
            found(&changed, labour)
        });
        if let Some(ways) = enough {
            all.push(DarkMend::Supply(supply, circuits, ways));
            break;
        }
    }
    let earlier = [60, 120, 180, 240].map(Minutes);
    if let Some(by) = earlier.into_iter().find(|by| found(&shifted(job, *by), labour)) {
        all.push(DarkMend::Earlier(by));
    }
    all.extend(closing(job, labour, troubles).map(DarkMend::Closed));
    all.extend(a_day_for_the_test(job, labour, troubles));
    all
}

/// The first time of use that has to fall away so that a full-duration test has its time.
fn a_day_for_the_test(job: &Job, labour: &Labour, troubles: &[Trouble]) -> Option<DarkMend> {
    let undated = troubles.iter().filter_map(|t| match t {
        Trouble::NoTest { group } => Some(&job.groups[*group].areas),
        _ => None,
    });
    let areas: BTreeSet<AreaId> = undated.flatten().copied().collect();
    let first = job.windows.rows().iter().map(|w| w.period.to).min()?;
    let spans = areas.iter().flat_map(|a| &job.areas[*a].occupied);
    let spans: BTreeSet<Period> = spans.filter(|s| s.from >= first).copied().collect();
    spans.into_iter().take(10).find_map(|span| {
        let mut changed = job.clone();
        for a in &areas {
            changed.areas[*a].occupied.retain(|s| !s.overlaps(span));
        }
        found(&changed, labour).then(|| DarkMend::ClosedFor(areas.iter().copied().collect(), span))
    })
}

/// The job in which the lighting of these groups may go on a temporary supply, if a lead can be
/// joined to it.
fn riding(
    job: &Job,
    labour: &Labour,
    supply: SupplyId,
    groups: &[Short],
) -> Option<(Job, Vec<CircuitId>)> {
    let mut changed = job.clone();
    let from = job.supplies[supply].node;
    let single = |wires: WireSet| {
        let mut lines = wires.iter().filter(|w| w.is_line());
        lines.next().filter(|_| lines.next().is_none())
    };
    let wanted: BTreeSet<CircuitId> =
        groups.iter().flat_map(|(g, ..)| [job.groups[*g].feed, job.groups[*g].watches]).collect();
    let mut circuits = Vec::new();
    for c in wanted {
        let on = |j: &&Joint| matches!(j.of, Some((x, Place::On(_))) if x == c);
        if job.joints.rows().iter().any(|j| on(&j)) {
            continue;
        }
        let node = job.circuits[c].nodes[0];
        let (there, own) = (job.nodes[from].wires, job.nodes[node].wires);
        let mut wires = Lanes::default();
        for w in own.iter() {
            match (
                there.has(w),
                w.is_line().then(|| single(there).filter(|_| single(own).is_some())),
            ) {
                (true, _) => wires.join(w, w),
                (false, Some(Some(line))) => wires.join(line, w),
                _ => return None,
            }
        }
        let name = format!("{} on {}", job.circuits.name(c), job.supplies.name(supply));
        let of = Some((c, Place::On(supply)));
        changed.joints.add(name, Joint { a: from, b: node, wires, made: false, of })?;
        // Its lead passes the boards on which the circuit is, and may be live there.
        let ways: Vec<NodeId> = (job.joints.rows().iter())
            .filter(|j| matches!(j.of, Some((x, Place::Old | Place::New)) if x == c))
            .map(|j| j.a)
            .collect();
        for p in changed.positions.ids().collect::<Vec<_>>() {
            let position = &mut changed.positions[p];
            if ways.iter().any(|w| position.row.contains(w)) && !position.enclosed.contains(&from) {
                position.enclosed.push(from);
            }
        }
        circuits.push(c);
    }
    (!circuits.is_empty() && labour.fits(&changed)).then_some((changed, circuits))
}

/// The job with every window, and the presence of its people, so much earlier.
fn shifted(job: &Job, by: Minutes) -> Job {
    let mut job = job.clone();
    let earlier = |p: &mut Period| *p = Period { from: p.from - by, to: p.to - by };
    for w in job.windows.ids().collect::<Vec<_>>() {
        earlier(&mut job.windows[w].period);
    }
    for p in job.people.ids().collect::<Vec<_>>() {
        job.people[p].present.iter_mut().for_each(earlier);
    }
    job
}

/// Until when areas have to stay closed so that there is a plan; none if that was not found.
fn closing(job: &Job, labour: &Labour, troubles: &[Trouble]) -> Option<Vec<(AreaId, Minutes)>> {
    let mut changed = job.clone();
    let mut closed: Vec<(AreaId, Minutes)> = Vec::new();
    let mut troubles = troubles.to_vec();
    // Each round closes an area for longer, so that this ends; a refusal need not wait for ever.
    for _ in 0..8 {
        let mut moved = false;
        for trouble in &troubles {
            let Trouble::Autonomy { group, area, at, short } = trouble else { continue };
            let it = &job.groups[*group];
            let wait = (short * it.recharge.exact() / it.rated.exact()).ceil();
            let wait = num_traits::ToPrimitive::to_i64(&wait).unwrap_or(i64::MAX).max(1);
            let until = *at + Minutes(wait);
            for span in &mut changed.areas[*area].occupied {
                if span.from < until && *at < span.to {
                    span.from = until.min(span.to);
                    moved = true;
                }
            }
            changed.areas[*area].occupied.retain(|s| s.from < s.to);
            closed.retain(|(a, t)| a != area || *t <= *at);
            closed.push((*area, until));
        }
        if !moved {
            return None;
        }
        match super::plan(&changed, labour, QUICK) {
            Outcome::Plan(_) => {
                closed.sort_unstable();
                closed.dedup();
                return Some(closed);
            }
            Outcome::None { troubles: left, .. } => troubles = left,
        }
    }
    None
}
