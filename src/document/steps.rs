//! Events to printed steps: like tasks in a row become one step with its list of circuits.

mod words;

pub use words::{act_text, hold_by, key_text, place, proved_places, task_text, title};

use super::Input;
use super::name;
use super::shrouds;
use crate::model::*;
use crate::plan::{Act, By, Event, Proof};
use crate::units::{Minutes, Period};
use std::collections::{BTreeMap, BTreeSet};

/// A step as printed, numbered from 1 through the whole job.
pub struct Step<'a> {
    /// Its number.
    pub number: usize,
    /// What kind of work; none for acts that belong to no task.
    pub kind: Option<TaskKind>,
    /// Its tasks, in order of their start.
    pub tasks: Vec<TaskId>,
    /// From the first start to the last finish.
    pub period: Period,
    /// Its people, in order of the team.
    pub people: BTreeSet<PersonId>,
    /// What happens in it, in order; starts and finishes left out.
    pub acts: Vec<&'a Event>,
}

impl Step<'_> {
    /// The position at which it lays conductors open, if any.
    pub fn position(&self, job: &crate::plan::Plan) -> Option<PositionId> {
        self.tasks.first().and_then(|t| job.tasks[*t].position)
    }

    /// Its proofs, each with its time.
    pub fn proofs(&self) -> impl Iterator<Item = (Minutes, By, &Proof)> {
        self.acts.iter().filter_map(|e| match &e.act {
            Act::Prove(by, proof) => Some((e.at, *by, proof)),
            _ => None,
        })
    }
}

/// Work of one kind on several circuits that is printed as one step.
fn gathers(kind: TaskKind) -> bool {
    use TaskKind::*;
    matches!(
        kind,
        Disconnect | Connect | DeadTest | HookUp | Unhook | LiveTest | Identify | Prepare
    )
}

/// Work that ends a row of like tasks for its people: what comes after it is another step.
fn ends_a_row(kind: TaskKind) -> bool {
    use TaskKind::*;
    kind.mode() == Mode::Switching && kind != FunctionTest
        || matches!(kind, StripOut | Mount | ConnectTails | Hold)
}

/// All steps of a plan, in order of their start.
pub fn steps<'a>(input: &Input<'a>) -> Vec<Step<'a>> {
    let plan = input.sound.plan();
    let visits = input.sound.replay().visits();
    let visit_of = |t: Minutes| visits.iter().position(|v| v.from <= t && t <= v.to);
    let mut steps: Vec<Step<'a>> = Vec::new();
    let mut of: BTreeMap<TaskId, usize> = BTreeMap::new();
    for event in &plan.events {
        match &event.act {
            Act::Start { task, who, .. } => {
                let facts = &plan.tasks[*task];
                let found = gathers(facts.kind)
                    .then(|| {
                        steps.iter().rposition(|s| {
                            s.kind == Some(facts.kind)
                                && s.position(plan) == facts.position
                                && plan.tasks[s.tasks[0]].board == facts.board
                                && visit_of(s.period.from) == visit_of(event.at)
                                && event.at - s.period.to <= Minutes(60)
                        })
                    })
                    .flatten()
                    .filter(|i| {
                        let waits = facts.after.iter().filter_map(|t| of.get(t)).all(|j| j <= i);
                        let row = of.iter().all(|(t, j)| {
                            let other = &plan.tasks[*t];
                            let same = facts.circuit.is_some() && other.circuit == facts.circuit;
                            let ours = steps[*j].people.iter().any(|p| who.contains(p));
                            j <= i || !(same || ours && ends_a_row(other.kind))
                        });
                        waits && row
                    });
                let index = found.unwrap_or_else(|| {
                    steps.push(Step {
                        number: steps.len() + 1,
                        kind: Some(facts.kind),
                        tasks: Vec::new(),
                        period: Period { from: event.at, to: event.at },
                        people: BTreeSet::new(),
                        acts: Vec::new(),
                    });
                    steps.len() - 1
                });
                let end = input
                    .sound
                    .replay()
                    .task(*task)
                    .and_then(|run| run.end)
                    .map_or(event.at, |(end, _)| end);
                let step = &mut steps[index];
                step.tasks.push(*task);
                step.people.extend(who.iter().copied());
                step.period.to = step.period.to.max(end);
                of.insert(*task, index);
            }
            Act::Finish { .. } => {}
            act => {
                let index = by(act).and_then(|b| b.task).and_then(|t| of.get(&t).copied());
                // Own locks that go on a box as the isolation ends belong to it.
                let index = index.or_else(|| {
                    let isolation = steps.iter().rposition(|s| {
                        s.kind == Some(TaskKind::Isolate) && s.period.to == event.at
                    });
                    isolation.filter(|_| matches!(act, Act::BoxLock(..)))
                });
                let index = index.or_else(|| {
                    let last = steps.last()?;
                    let first = last.acts.first().map(|e| &e.act);
                    let like = first.is_some_and(|a| {
                        std::mem::discriminant(a) == std::mem::discriminant(act)
                            || !boxed(a) && !boxed(act)
                    });
                    let same = last.kind.is_none() && last.period.to == event.at && like;
                    same.then(|| steps.len() - 1)
                });
                let index = index.unwrap_or_else(|| {
                    steps.push(Step {
                        number: steps.len() + 1,
                        kind: None,
                        tasks: Vec::new(),
                        period: Period { from: event.at, to: event.at },
                        people: BTreeSet::new(),
                        acts: Vec::new(),
                    });
                    steps.len() - 1
                });
                let step = &mut steps[index];
                step.acts.push(event);
                step.period.to = step.period.to.max(event.at);
                if let Some(By { who: Who::Person(p), .. }) = by(act) {
                    step.people.insert(p);
                }
            }
        }
    }
    steps
}

/// Who does it.
pub fn by(act: &Act) -> Option<By> {
    match act {
        Act::Start { .. } | Act::Finish { .. } => None,
        Act::Open(by, _)
        | Act::Close(by, _)
        | Act::Lock(by, ..)
        | Act::Unlock(by, ..)
        | Act::BoxLock(by, _)
        | Act::BoxUnlock(by, _)
        | Act::Make(by, _)
        | Act::Break(by, _)
        | Act::Prove(by, _)
        | Act::Surge(by, ..)
        | Act::Rest(by, ..)
        | Act::HandBack(by, _) => Some(*by),
    }
}

fn boxed(act: &Act) -> bool {
    matches!(act, Act::BoxLock(..) | Act::BoxUnlock(..) | Act::HandBack(..))
}

/// The circuits of a step, each once, in the order in which they come.
pub fn circuits(input: &Input, step: &Step) -> Vec<CircuitId> {
    let plan = input.sound.plan();
    let mut out = Vec::new();
    for c in step.tasks.iter().filter_map(|t| plan.tasks[*t].circuit) {
        if !out.contains(&c) {
            out.push(c);
        }
    }
    out
}

/// Conductors enclosed at the place of the step that are live at some minute of it, those fed from
/// elsewhere, and terminals of the board that are live behind their shroud.
pub fn live(input: &Input, step: &Step) -> Vec<String> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut nodes: Vec<NodeId> = Vec::new();
    let mut shrouded: Vec<NodeId> = Vec::new();
    for t in step.tasks.iter().filter(|t| plan.tasks[**t].kind.mode() == Mode::Dead) {
        let fed = plan.tasks[*t].position.map(|p| job.positions[p].other_fed.as_slice());
        nodes.extend(fed.unwrap_or_default());
        nodes.extend(plan.claims.still_live.get(t).into_iter().flatten());
        let run = input.sound.replay().task(*t).and_then(|r| r.end.map(|(end, _)| (r.start, end)));
        if let (Some(p), Some((from, to))) = (plan.tasks[*t].position, run) {
            shrouded.extend(shrouds::live(input, p, Period { from, to }));
        }
    }
    for all in [&mut nodes, &mut shrouded] {
        all.sort_unstable();
        all.dedup();
    }
    let shrouded = shrouded.into_iter().map(|n| format!("{}, shrouded", shrouds::name(input, n)));
    shrouded.chain(nodes.into_iter().map(|n| name::node(input, n))).collect()
}

/// Steps in a row that share a heading.
pub struct Chapter<'s, 'a> {
    /// Its heading.
    pub title: String,
    /// The visit, if supplies are cut in it.
    pub visit: Option<Period>,
    /// Its steps.
    pub steps: Vec<&'s Step<'a>>,
}

/// The steps by visit; work outside every visit at which something is switched stands apart.
pub fn chapters<'s, 'a>(input: &Input, all: &'s [Step<'a>]) -> Vec<Chapter<'s, 'a>> {
    let inside = |v: &Period, s: &Step| v.from <= s.period.from && s.period.from <= v.to;
    let visits: Vec<Period> = input
        .sound
        .replay()
        .visits()
        .iter()
        .filter(|v| all.iter().any(|s| inside(v, s) && s.kind == Some(TaskKind::Isolate)))
        .copied()
        .collect();
    let mut out: Vec<Chapter> = Vec::new();
    for step in all {
        let visit = visits.iter().position(|v| inside(v, step));
        let period = visit.map(|i| visits[i]);
        match out.last_mut() {
            Some(last) if last.visit == period => last.steps.push(step),
            _ => {
                let title = match visit {
                    Some(i) => format!("Visit {}: {}", i + 1, name::span(input, visits[i])),
                    None => format!(
                        "Work outside the visits, from {}",
                        input.site.clock.full(step.period.from)
                    ),
                };
                out.push(Chapter { title, visit: period, steps: vec![step] });
            }
        }
    }
    out
}
