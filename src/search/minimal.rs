//! A smallest set of reasons for a refusal: what the job asks for, taken away piece by piece until
//! nothing more can go and there is still no plan.
//!
//! A reason that is not needed stays away for good, so that what is left is a set of which each
//! member is needed: without any one of them there is a plan. There may be other such sets. That
//! there is no plan is proved by facts, or only that none was found; every plan is a found one.

use super::refuse::{self, Mend};
use super::{Options, Outcome};
use crate::model::*;
use crate::units::Minutes;

/// Something that the job asks for, with what stands in its place when it is taken away.
#[derive(Clone, Debug, PartialEq)]
pub enum Reason {
    /// So many people; two more, there as the first is.
    People,
    /// So many testers; two more.
    Testers,
    /// Outages end so long before their window does; no sooner than the window.
    Margin,
    /// Emergency lighting of an area; none asked for.
    Autonomy(AreaId),
    /// A load that serves life safety is never out; it may be.
    LifeSafety(LoadId),
    /// The longest single outage of a load; any.
    Single(LoadId),
    /// The longest outage of a load in all; any.
    Total(LoadId),
    /// When a delivery comes; from the start.
    Delivery(DeliveryId),
    /// Which areas a window is open for; all.
    Areas,
    /// How long the windows are; each six hours longer, at its start.
    Windows,
    /// A decision of the user; left to the planner.
    Fixed(usize),
}

/// Everything of the job that could be to blame, what is asked least often first: it is tried in
/// this order, so that what comes last is left where either would do.
pub fn reasons(job: &Job, labour: &Labour) -> Vec<Reason> {
    let mut all = vec![Reason::Margin, Reason::People, Reason::Testers, Reason::Areas];
    all.extend(job.areas.ids().filter(|a| job.areas[*a].autonomy.0 > 0).map(Reason::Autonomy));
    for (id, load) in job.loads.iter() {
        if load.life_safety && load.measure.is_none() {
            all.push(Reason::LifeSafety(id));
        }
        all.extend(load.max_single.map(|_| Reason::Single(id)));
        all.extend(load.max_total.map(|_| Reason::Total(id)));
    }
    all.extend(job.deliveries.ids().map(Reason::Delivery));
    let mut decisions: Vec<usize> = labour.pins.iter().map(|p| p.decision).collect();
    decisions.dedup();
    all.extend(decisions.into_iter().map(Reason::Fixed));
    all.push(Reason::Windows);
    all
}

/// The job without these.
pub fn without(job: &Job, labour: &Labour, dropped: &[Reason]) -> (Job, Labour) {
    let (mut job, mut labour) = (job.clone(), labour.clone());
    for reason in dropped {
        match reason {
            Reason::People => {
                for _ in 0..2 {
                    job = refuse::mended(&job, &Mend::Person);
                }
            }
            Reason::Testers => {
                for _ in 0..2 {
                    job = refuse::mended(&job, &Mend::Tester);
                }
            }
            Reason::Margin => job.policy.margin = Minutes::ZERO,
            Reason::Autonomy(a) => job.areas[*a].autonomy = Minutes::ZERO,
            Reason::LifeSafety(l) => job.loads[*l].life_safety = false,
            Reason::Single(l) => job.loads[*l].max_single = None,
            Reason::Total(l) => job.loads[*l].max_total = None,
            Reason::Delivery(d) => job.deliveries[*d] = job.span.from,
            Reason::Areas => {
                let all: Vec<AreaId> = job.areas.ids().collect();
                for w in job.windows.ids().collect::<Vec<_>>() {
                    job.windows[w].areas.clone_from(&all);
                }
            }
            Reason::Windows => job = refuse::mended(&job, &Mend::LongerWindows(Minutes(360))),
            Reason::Fixed(decision) => labour.pins.retain(|p| p.decision != *decision),
        }
    }
    (job, labour)
}

/// Whether a plan is found without these.
pub fn planned_without(job: &Job, labour: &Labour, dropped: &[Reason]) -> bool {
    let (job, labour) = without(job, labour, dropped);
    let proved = !refuse::facts(&super::Ground::new(&job, &labour), &[]).is_empty();
    let options = Options { moves: 200, tries: 6, seed: 1 };
    !proved && matches!(super::plan(&job, &labour, options), Outcome::Plan(_))
}

/// Asks for plans of the job without some of the reasons, and keeps in mind what was found: what is
/// a plan without a few is one without more, though a run that is free to do more may miss it.
struct Runs<'a> {
    job: &'a Job,
    labour: &'a Labour,
    /// Sets without which there is a plan.
    planned: Vec<Vec<Reason>>,
}

impl Runs<'_> {
    /// Whether there is a plan without these, as far as runs without them or fewer of them show.
    fn plan_without(&mut self, dropped: &[Reason]) -> bool {
        let known = |set: &Vec<Reason>| set.iter().all(|r| dropped.contains(r));
        if self.planned.iter().any(known) {
            return true;
        }
        // Without the user's decisions the job is what it would be for anybody else.
        let is_decision = |r: &&Reason| matches!(r, Reason::Fixed(_));
        let decisions: Vec<Reason> = dropped.iter().filter(is_decision).cloned().collect();
        for set in [dropped, &decisions] {
            if !set.is_empty() && planned_without(self.job, self.labour, set) {
                self.planned.push(set.to_vec());
                return true;
            }
            if decisions.len() == dropped.len() {
                break;
            }
        }
        false
    }

    /// Of the user's decisions as few as give a plan when they are given up.
    fn decisions_to_give_up(&mut self, all: &[Reason]) -> Vec<Reason> {
        let mut given_up: Vec<Reason> =
            all.iter().filter(|r| matches!(r, Reason::Fixed(_))).cloned().collect();
        if given_up.is_empty() || !self.plan_without(&given_up) {
            return Vec::new();
        }
        for kept in given_up.clone() {
            let fewer: Vec<Reason> = given_up.iter().filter(|r| **r != kept).cloned().collect();
            if !fewer.is_empty() && self.plan_without(&fewer) {
                given_up = fewer;
            }
        }
        given_up
    }
}

/// A smallest set.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimal {
    /// The reasons; without any one of them, and without `spare`, there is a plan.
    pub needed: Vec<Reason>,
    /// Those of them without which there is a plan though nothing else is taken away.
    pub enough: Vec<Reason>,
    /// What could be taken away as well, and there is still no plan.
    pub spare: Vec<Reason>,
    /// Decisions of the user without which there is a plan, nothing else taken away, though with
    /// any one of them kept there is none; empty where that is not enough.
    pub give_up: Vec<Reason>,
}

/// A smallest set of reasons; none if there is no plan even without all of them, since it is
/// something else then, such as a board that cannot be isolated.
pub fn minimal(job: &Job, labour: &Labour) -> Option<Minimal> {
    let all = reasons(job, labour);
    let mut runs = Runs { job, labour, planned: Vec::new() };
    if !runs.plan_without(&all) {
        return None;
    }
    let mut found =
        Minimal { needed: Vec::new(), enough: Vec::new(), spare: Vec::new(), give_up: Vec::new() };
    found.shrink(&mut runs, &all, all.len());
    let mut alone = |r: &&Reason| runs.plan_without(std::slice::from_ref(*r));
    found.enough = found.needed.iter().filter(&mut alone).cloned().collect();
    found.give_up = runs.decisions_to_give_up(&all);
    Some(found)
}

impl Minimal {
    /// Goes through `some` by halves: what can go together goes in one run. Without all of the
    /// `count` reasons there is a plan, as was seen before.
    fn shrink(&mut self, runs: &mut Runs, some: &[Reason], count: usize) {
        let dropped = [&self.spare[..], some].concat();
        if dropped.len() < count && !runs.plan_without(&dropped) {
            self.spare.extend_from_slice(some);
        } else if let [one] = some {
            self.needed.push(one.clone());
        } else {
            let (first, rest) = some.split_at(some.len() / 2);
            self.shrink(runs, first, count);
            self.shrink(runs, rest, count);
        }
    }
}
