//! Charge of the emergency groups: what dead time does to them, where rest mode helps, and when
//! the full-duration test may be (planning model, section 5).

use super::ground::Ground;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::Zero;

/// What happens to a group over the time looked at, as spans.
#[derive(Clone, Copy, Debug)]
pub struct Course<'a> {
    /// Its feed is dead.
    pub dead: &'a [Period],
    /// It is at rest.
    pub resting: &'a [Period],
    /// It is under function test.
    pub tested: &'a [Period],
}

/// The charge of a group at an instant and how it goes on until the next.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// From when.
    pub from: Minutes,
    /// Minutes of autonomy then.
    pub charge: Exact,
    /// At rest: counts as none.
    pub resting: bool,
}

fn inside(spans: &[Period], at: Minutes) -> bool {
    spans.iter().any(|s| s.contains(at))
}

/// What the charge gains a minute from `at` on; less than 0 while it loses.
fn rate(group: &Group, course: Course, at: Minutes) -> Exact {
    if inside(course.tested, at) {
        whole(-1)
    } else if !inside(course.dead, at) {
        group.rated.exact() / group.recharge.exact()
    } else if inside(course.resting, at) {
        Exact::zero()
    } else {
        whole(-1)
    }
}

/// The charge after `minutes` at `rate`, kept between empty and full.
fn run(group: &Group, charge: &Exact, rate: &Exact, minutes: Minutes) -> Exact {
    (charge + rate * minutes.exact()).max(Exact::zero()).min(group.rated.exact())
}

/// The course of the charge from `span.from` to `span.to`, a leg for each change.
pub fn legs(group: &Group, course: Course, span: Period) -> Vec<Leg> {
    let spans = course.dead.iter().chain(course.resting).chain(course.tested);
    let mut times: Vec<Minutes> = spans.flat_map(|s| [s.from, s.to]).collect();
    times.extend([span.from, span.to]);
    times.retain(|t| span.from <= *t && *t <= span.to);
    times.sort_unstable();
    times.dedup();
    let mut charge = group.charge.clone();
    let mut legs = Vec::new();
    for (i, &at) in times.iter().enumerate() {
        let resting = inside(course.resting, at);
        legs.push(Leg { from: at, charge: charge.clone(), resting });
        if let Some(next) = times.get(i + 1) {
            charge = run(group, &charge, &rate(group, course, at), *next - at);
        }
    }
    legs
}

/// When an area is occupied, counting `work` there unless its task lighting is named.
pub fn occupied(area: &Area, work: &[Period]) -> Vec<Period> {
    let mut all = area.occupied.clone();
    if area.task_lighting.is_none() {
        all.extend(work);
    }
    all.sort_unstable();
    all
}

/// The first moment at which a group has less than an area of its needs, if there is one, and by
/// how many minutes it falls short there (E3).
pub fn shortfall(
    g: &Ground,
    group: GroupId,
    course: Course,
    work_in: &dyn Fn(AreaId) -> Vec<Period>,
) -> Option<(Minutes, AreaId, Exact)> {
    let it = &g.job.groups[group];
    let legs = legs(it, course, g.job.span);
    let mut worst: Option<(Minutes, AreaId, Exact)> = None;
    for &id in &it.areas {
        let area = &g.job.areas[id];
        if area.measure.is_some() || area.autonomy <= Minutes::ZERO {
            continue;
        }
        let need = area.autonomy.exact();
        for span in occupied(area, &work_in(id)) {
            for (i, leg) in legs.iter().enumerate() {
                let to = legs.get(i + 1).map_or(g.job.span.to, |l| l.from);
                let (from, to) = (leg.from.max(span.from), to.min(span.to));
                if from >= to {
                    continue;
                }
                // Within a leg the charge is monotone, so that its ends tell the least.
                let rate = rate(it, course, leg.from);
                let ends = [from, to].map(|t| (t, run(it, &leg.charge, &rate, t - leg.from)));
                let least = ends.into_iter().min_by(|a, b| a.1.cmp(&b.1));
                let Some((at, charge)) = least else { continue };
                let has = if leg.resting { Exact::zero() } else { charge };
                if has < need && worst.as_ref().is_none_or(|w| at < w.0) {
                    worst = Some((at, id, &need - has));
                }
            }
        }
    }
    worst
}

/// When each group has its full-duration test: as soon as it may, groups of the same area or of
/// areas next to each other never at one time; `None` where no time is left for it.
pub fn full_duration_tests(
    g: &Ground,
    earliest: &[Minutes],
    work_in: &dyn Fn(AreaId) -> Vec<Period>,
) -> Vec<Option<Minutes>> {
    let groups = &g.job.groups;
    let mut order: Vec<GroupId> = groups.ids().collect();
    order.sort_by_key(|id| (earliest[id.index()], *id));
    let mut dates: Vec<Option<Minutes>> = vec![None; groups.len()];
    for id in order {
        let taken: Vec<Period> = groups
            .iter()
            .filter(|(_, other)| g.labour.near(&groups[id].areas, &other.areas))
            .filter_map(|(o, other)| dates[o.index()].map(|at| (at, at + other.rated)))
            .map(|(from, to)| Period { from, to })
            .collect();
        dates[id.index()] = full_duration_test(g, id, earliest[id.index()], &taken, work_in);
    }
    dates
}

/// The earliest time, no sooner than `from`, for a group's full-duration test: empty from its
/// start to its end, then charging, it breaks no occupied hour's autonomy, and no moment of it is
/// one of `taken`. `None` if there is none within the time looked at.
fn full_duration_test(
    g: &Ground,
    group: GroupId,
    from: Minutes,
    taken: &[Period],
    work_in: &dyn Fn(AreaId) -> Vec<Period>,
) -> Option<Minutes> {
    let it = &g.job.groups[group];
    let end = g.job.span.to;
    let fits = |at: Minutes| -> Option<Minutes> {
        // `None` if it fits, else the next time worth trying.
        let over = at + it.rated;
        let test = Period { from: at, to: over };
        if let Some(other) = taken.iter().find(|other| other.overlaps(test)) {
            return Some(other.to);
        }
        for &id in &it.areas {
            let area = &g.job.areas[id];
            if area.measure.is_some() || area.autonomy <= Minutes::ZERO {
                continue;
            }
            for span in occupied(area, &work_in(id)) {
                if span.to <= at {
                    continue;
                }
                let start = span.from.max(at);
                let charged = (start - over).max(Minutes::ZERO).exact() * it.rated.exact()
                    / it.recharge.exact();
                if start < over || charged < area.autonomy.exact() {
                    return Some(span.to);
                }
            }
        }
        None
    };
    let mut at = from;
    while at + it.rated <= end {
        match fits(at) {
            None => return Some(at),
            Some(next) => at = next,
        }
    }
    None
}
