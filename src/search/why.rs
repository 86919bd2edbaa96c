//! Why something is out when it is: what its outage waits for, task by task, and which outages
//! weigh most.

use super::price;
use crate::model::*;
use crate::plan::{Act, Plan};
use crate::units::{Exact, Minutes, Period, whole};
use std::collections::BTreeMap;

/// A task of the plan with its time, its people and its instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// The task.
    pub task: TaskId,
    /// When.
    pub period: Period,
    /// Who.
    pub who: Vec<PersonId>,
    /// With what.
    pub instrument: Option<InstrumentId>,
}

/// What a task waited for before it started.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waited {
    /// Nothing: the outage begins within it.
    Begins,
    /// The task before is one that has to be over.
    Order,
    /// Somebody was still on the task before.
    Person(PersonId),
    /// Its instrument was.
    Instrument(InstrumentId),
    /// So was its place.
    Place,
}

/// A link of the chain.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// The task.
    pub span: Span,
    /// What it waited for: the link before it.
    pub waited: Waited,
}

/// Every task of a plan, by start.
pub fn spans(plan: &Plan) -> Vec<Span> {
    let mut open: BTreeMap<TaskId, Span> = BTreeMap::new();
    let mut all = Vec::new();
    for event in &plan.events {
        match &event.act {
            Act::Start { task, who, instrument } => {
                let period = Period { from: event.at, to: event.at };
                let span = Span { task: *task, period, who: who.clone(), instrument: *instrument };
                open.insert(*task, span);
            }
            Act::Finish { task, .. } => {
                if let Some(mut span) = open.remove(task) {
                    span.period.to = event.at;
                    all.push(span);
                }
            }
            _ => {}
        }
    }
    all.sort_by_key(|s| (s.period, s.task));
    all
}

/// What ended an outage of these circuits, and what that waited for, back to the task in which
/// the outage began; in order of time.
pub fn chain(plan: &Plan, circuits: &[CircuitId], outage: Period) -> Vec<Link> {
    let spans = spans(plan);
    let ends_it = |s: &&Span| s.period.from < outage.to && outage.to <= s.period.to;
    let rank = |s: &&Span| {
        let task = &plan.tasks[s.task];
        let own = task.circuit.is_some_and(|c| circuits.contains(&c));
        let makes_live = matches!(task.kind, TaskKind::Energise | TaskKind::FunctionTest);
        (own, makes_live, task.kind == TaskKind::LiveTest, std::cmp::Reverse(s.task))
    };
    let mut all = Vec::new();
    let mut next = spans.iter().filter(ends_it).max_by_key(rank);
    while let Some(span) = next.take() {
        if span.period.from <= outage.from {
            all.push(Link { span: span.clone(), waited: Waited::Begins });
            break;
        }
        let before = spans.iter().filter_map(|s| Some((s, waits(plan, span, s)?)));
        let last = before.max_by_key(|(s, w)| (s.period.to, strength(*w), s.task));
        let waited = last.map_or(Waited::Begins, |(_, w)| w);
        all.push(Link { span: span.clone(), waited });
        next = last.map(|(s, _)| s);
    }
    all.reverse();
    all
}

fn strength(waited: Waited) -> u8 {
    match waited {
        Waited::Order => 4,
        Waited::Person(_) => 3,
        Waited::Instrument(_) => 2,
        Waited::Place => 1,
        Waited::Begins => 0,
    }
}

/// Why `span` could not start before `earlier` was over, if so.
fn waits(plan: &Plan, span: &Span, earlier: &Span) -> Option<Waited> {
    if earlier.period.to > span.period.from || earlier.task == span.task {
        return None;
    }
    let (one, two) = (&plan.tasks[span.task], &plan.tasks[earlier.task]);
    if one.after.contains(&earlier.task) {
        return Some(Waited::Order);
    }
    if let Some(person) = span.who.iter().find(|p| earlier.who.contains(p)) {
        return Some(Waited::Person(*person));
    }
    if let Some(i) = span.instrument.filter(|_| span.instrument == earlier.instrument) {
        return Some(Waited::Instrument(i));
    }
    (one.position.is_some() && one.position == two.position).then_some(Waited::Place)
}

/// An outage of a load and what it weighs.
#[derive(Clone, Debug, PartialEq)]
pub struct Dear {
    /// Who is out.
    pub load: LoadId,
    /// When.
    pub outage: Period,
    /// Counted minutes in needed hours.
    pub needed: Exact,
    /// And in others.
    pub other: Exact,
    /// Importance times minutes, those in other hours at their price.
    pub costs: Exact,
}

/// The dearest outages of a plan, so many of them.
pub fn dearest(job: &Job, plan: &Plan, most: usize) -> Vec<Dear> {
    let mut all = Vec::new();
    for (id, outages) in &plan.claims.outages {
        let load = &job.loads[*id];
        for counted in price::counted(load, outages) {
            let Some(outage) = outages.iter().find(|o| o.to.exact() == counted.to) else {
                continue;
            };
            let overlap = |n: &Period| {
                let from = n.from.exact().max(counted.from.clone());
                (n.to.exact().min(counted.to.clone()) - from).max(whole(0))
            };
            let needed: Exact = load.needed.iter().map(overlap).sum();
            let other = &counted.to - &counted.from - &needed;
            let costs = &load.weight * (&needed + &job.policy.f * &other);
            all.push(Dear { load: *id, outage: *outage, needed, other, costs });
        }
    }
    all.sort_by(|a, b| b.costs.cmp(&a.costs).then(a.load.cmp(&b.load)));
    all.truncate(most);
    all
}

/// How long a load is out in all.
pub fn minutes_out(plan: &Plan, load: LoadId) -> Minutes {
    Minutes(plan.claims.outages.get(&load).map_or(0, |o| o.iter().map(|p| p.length().0).sum()))
}
