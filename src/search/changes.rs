//! Changes of resources, and what the job costs with each: every figure from a run of its own, as
//! hard and with the same seed.
//!
//! A plan of the job is a plan of the job with more to work with, so that a run which comes out
//! dearer shows nothing but the search's own limits: such a change is told as no help.

use super::refuse::{self, Mend};
use super::{Options, Outcome};
use crate::model::*;
use crate::plan::Plan;
use crate::units::{Exact, Minutes, Period};

/// One more of something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// A person, there as the first is.
    Person,
    /// A tester.
    Tester,
    /// A temporary supply like this one, beside it.
    Supply(SupplyId),
    /// A window like the last, so many days later, with the same people.
    Window(i64),
    /// Every window so much longer, at its start.
    Longer(Minutes),
    /// A circuit identified and pre-tested before its outage.
    Prepared(CircuitId),
}

/// All changes of resources that can be made in a job.
pub fn resources(job: &Job) -> Vec<Change> {
    let mut all = vec![Change::Person, Change::Tester];
    all.extend(job.supplies.ids().map(Change::Supply));
    all.extend(free_day(job).map(Change::Window));
    all.push(Change::Longer(Minutes(60)));
    all
}

/// The first day on which the last window could stand again: within the time looked at, beside
/// all others, and with nobody in its areas who is not there in the window itself.
fn free_day(job: &Job) -> Option<i64> {
    let last = job.windows.rows().iter().max_by_key(|w| w.period)?;
    let people_in = |p: Period| {
        let areas = last.areas.iter().flat_map(|a| &job.areas[*a].occupied);
        areas.filter(|o| o.overlaps(p)).count()
    };
    (1..=7).find(|days| {
        let period = moved(last.period, *days);
        period.to <= job.span.to
            && !job.windows.rows().iter().any(|w| w.period.overlaps(period))
            && people_in(period) <= people_in(last.period)
    })
}

fn moved(period: Period, days: i64) -> Period {
    let by = Minutes(days * 1440);
    Period { from: period.from + by, to: period.to + by }
}

/// The job with a change made.
pub fn made(job: &Job, labour: &Labour, change: Change) -> (Job, Labour) {
    let mut labour = labour.clone();
    let job = match change {
        Change::Person => refuse::mended(job, &Mend::Person),
        Change::Tester => refuse::mended(job, &Mend::Tester),
        Change::Longer(by) => refuse::mended(job, &Mend::LongerWindows(by)),
        Change::Window(days) => another_window(job, days),
        Change::Supply(supply) => another_supply(job, &mut labour, supply),
        Change::Prepared(circuit) => {
            labour.circuits[circuit.index()].readiness = Readiness::Prepared;
            job.clone()
        }
    };
    (job, labour)
}

fn another_window(job: &Job, days: i64) -> Job {
    let mut job = job.clone();
    let Some(last) = job.windows.rows().iter().max_by_key(|w| w.period).cloned() else {
        return job;
    };
    let period = moved(last.period, days);
    for p in job.people.ids().collect::<Vec<_>>() {
        let there = job.people[p].present.iter().filter(|s| s.overlaps(last.period));
        let more = there.map(|s| moved(*s, days));
        job.people[p].present = Period::merged(more.chain(job.people[p].present.iter().copied()));
    }
    job.windows.add("one more window", Window { period, ..last });
    job
}

/// A lead beside another, with a device, a box and joints of its own.
fn another_supply(job: &Job, labour: &mut Labour, supply: SupplyId) -> Job {
    let mut job = job.clone();
    let it = job.supplies[supply].clone();
    let old = it.node;
    let Some(node) = job.nodes.add("one more lead", job.nodes[old].clone()) else { return job };
    let swap = |n: NodeId| if n == old { node } else { n };
    for (id, device) in job.devices.clone().iter() {
        if device.a == old || device.b == old {
            let name = format!("{} of one more lead", job.devices.name(id));
            let device = Device { a: swap(device.a), b: swap(device.b), ..device.clone() };
            job.devices.add(name, device);
        }
    }
    let place = labour.supplies[supply.index()].position;
    let mut position = job.positions[place].clone();
    for list in [
        &mut position.bare,
        &mut position.points,
        &mut position.row,
        &mut position.other_fed,
        &mut position.enclosed,
    ] {
        for n in list.iter_mut() {
            *n = swap(*n);
        }
    }
    let Some(position) = job.positions.add("box of one more lead", position) else { return job };
    let row = labour.positions[place.index()].clone();
    labour.positions.push(row);
    let Some(new) = job.supplies.add("one more lead", Supply { node, ..it }) else { return job };
    let row = SupplyLabour { position, ..labour.supplies[supply.index()].clone() };
    labour.supplies.push(row);
    for (id, joint) in job.joints.clone().iter() {
        if let Some((c, Place::On(s))) = joint.of
            && s == supply
        {
            let name = format!("{} of one more lead", job.joints.name(id));
            let of = Some((c, Place::On(new)));
            let joint = Joint { a: swap(joint.a), b: swap(joint.b), of, ..joint.clone() };
            job.joints.add(name, joint);
        }
    }
    job
}

/// A change that helps, with the plan that shows it.
pub struct Help {
    /// What is changed.
    pub change: Change,
    /// The downtime cost with it.
    pub after: Exact,
    /// The plan with it; its job has the change made.
    pub plan: Plan,
}

/// Those of the changes with which a plan costs less than `before`, the cheapest plan first.
pub fn helps(
    job: &Job,
    labour: &Labour,
    changes: &[Change],
    before: &Exact,
    options: Options,
) -> Vec<Help> {
    let runs = super::side_by_side(changes, |change| {
        let (job, labour) = made(job, labour, *change);
        match super::plan(&job, &labour, options) {
            Outcome::Plan(plan) if plan.claims.j < *before => {
                Some(Help { change: *change, after: plan.claims.j.clone(), plan: *plan })
            }
            _ => None,
        }
    });
    let mut found: Vec<Help> = runs.into_iter().flatten().collect();
    found.sort_by(|a, b| a.after.cmp(&b.after));
    found
}
