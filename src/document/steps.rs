//! Events to printed steps: like tasks in a row become one step with its list of circuits.

use super::Input;
use super::name;
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

/// What the step is, in the words of the trade.
pub fn title(input: &Input, step: &Step) -> String {
    use TaskKind::*;
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let Some(kind) = step.kind else {
        return match step.acts.first().map(|e| &e.act) {
            Some(Act::HandBack(..)) => "Hand back to the users",
            Some(Act::BoxLock(..)) => "Own lock on the lock box before work",
            Some(Act::BoxUnlock(..)) => "Own lock off the lock box: work done, clear",
            _ => "Act of the third party",
        }
        .to_owned();
    };
    let first = step.tasks.first().map(|t| &plan.tasks[*t]);
    let task_name = step
        .tasks
        .first()
        .map(|t| name::with_roles(input, &plain_name(plan.tasks.name(*t))))
        .unwrap_or_default();
    let board = first
        .and_then(|t| t.board.or_else(|| t.position.and_then(|p| job.positions[p].board)))
        .map(|b| name::board(input, b));
    let at = board.clone().map(|b| format!(" {b}")).unwrap_or_default();
    let n = circuits(input, step).len();
    let count = if n == 1 { "1 circuit".to_owned() } else { format!("{n} circuits") };
    let supply = || supply_text(input, step).map(|s| format!(" {s}")).unwrap_or_default();
    let place = || proved_places(input, step);
    match kind {
        Disconnect => format!("Take {count} off the old way, at{at}"),
        Connect => format!("Terminate {count} on the new way, at{at}"),
        DeadTest => format!("Dead test of {count}: continuity, insulation, polarity"),
        HookUp => format!("Put {count} on temporary supply{}", supply()),
        Unhook => format!("Take {count} off temporary supply{}", supply()),
        StripOut => format!("Strip out{at}"),
        Mount => format!("Mount{at}"),
        ConnectTails => sentence(&task_name),
        FitSurge => format!("Fit surge protection in{at}"),
        TestBoard => format!("Dead test of{at}"),
        FitCovers => format!("Covers, blanks and labels on{at}"),
        Dress => format!("Dress a bank of ways at{at}"),
        LiveTest => format!("Live test of {count}: polarity, loop impedance, RCD, function"),
        Isolate if board.is_some() => format!("Isolate and lock off{at}"),
        ProveDead => format!("Prove dead: {}", place()),
        Energise if board.is_some() => format!("Locks off and energise{at}"),
        FunctionTest => match first.and_then(|t| t.group) {
            Some(g) => format!("Function test of emergency group {}", job.groups.name(g)),
            None => "Function test of emergency lighting".to_owned(),
        },
        Identify => format!("Identify, mark and pre-test {count}"),
        Hold => format!("HOLD: {task_name}"),
        Isolate | Energise | Prepare => sentence(&task_name),
    }
}

/// A task's name without the number of its visit.
pub fn plain_name(name: &str) -> String {
    match name.split_once(' ') {
        Some((n, rest)) if !n.is_empty() && n.chars().all(|c| c.is_ascii_digit()) => {
            rest.to_owned()
        }
        _ => name.to_owned(),
    }
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    match chars.next() {
        Some(first) => first.to_uppercase().collect::<String>() + chars.as_str(),
        None => String::new(),
    }
}

fn supply_text(input: &Input, step: &Step) -> Option<String> {
    let job = input.sound.job();
    step.acts.iter().find_map(|e| match e.act {
        Act::Make(_, j) | Act::Break(_, j) => match job.joints[j].of {
            Some((_, Place::On(s))) => Some(job.supplies.name(s).to_owned()),
            _ => None,
        },
        _ => None,
    })
}

/// The places that the step proves dead.
pub fn proved_places(input: &Input, step: &Step) -> String {
    let all: Vec<PositionId> = step.proofs().map(|(_, _, proof)| proof.position).collect();
    name::places(input, &all)
}

/// Where the step is done; a proof, at every board or box that it proves.
pub fn place(input: &Input, step: &Step) -> String {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    if step.kind == Some(TaskKind::ProveDead) {
        let mut all: Vec<String> = Vec::new();
        for (_, _, proof) in step.proofs() {
            let spot = match job.positions[proof.position].board {
                Some(b) => at_board(input, b),
                None => name::position(input, proof.position),
            };
            if !all.contains(&spot) {
                all.push(spot);
            }
        }
        return all.join("; ");
    }
    let Some(task) = step.tasks.first().map(|t| &plan.tasks[*t]) else {
        return String::new();
    };
    match (task.position, task.board, task.area) {
        (Some(p), ..) => name::position(input, p),
        (None, Some(b), _) => at_board(input, b),
        (None, None, Some(a)) => job.areas.name(a).to_owned(),
        (None, None, None) => String::new(),
    }
}

/// A board with where it hangs.
fn at_board(input: &Input, b: BoardId) -> String {
    match input.site.boards[b.index()].place.as_str() {
        "" => name::board(input, b),
        place => format!("{}, {place}", name::board(input, b)),
    }
}

/// An act in the words of the trade.
pub fn act_text(input: &Input, act: &Act) -> String {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    match act {
        Act::Start { .. } | Act::Finish { .. } => String::new(),
        Act::Open(_, d) => format!("Open {}", name::device(input, *d)),
        Act::Close(_, d) => format!("Close {}", name::device(input, *d)),
        Act::Lock(by, d, lock, key) => format!(
            "Lock {} open with {} of {} and hang the tag; {}",
            name::device(input, *d),
            plan.locks.name(*lock),
            name::who(input, by.who),
            key_text(input, *key, by.who),
        ),
        Act::Unlock(by, d, lock) => format!(
            "Take {} of {} off {}",
            plan.locks.name(*lock),
            name::who(input, by.who),
            name::device(input, *d)
        ),
        Act::BoxLock(by, b) => {
            format!(
                "{} puts a lock of their own on {}",
                name::who(input, by.who),
                plan.boxes.name(*b)
            )
        }
        Act::BoxUnlock(by, b) => {
            format!("{} takes their own lock off {}", name::who(input, by.who), plan.boxes.name(*b))
        }
        Act::Make(_, j) => format!("{} made", joint(input, *j)),
        Act::Break(_, j) => format!("{} removed", joint(input, *j)),
        Act::Prove(_, proof) => {
            let pairs: usize = proof.readings.values().map(BTreeMap::len).sum();
            let what = match proof.circuit {
                Some(c) => format!("the way of {} only", name::circuit_text(input, c)),
                None => format!("{pairs} readings"),
            };
            format!(
                "Prove {} dead with {}, proved before and after: {what}",
                name::position(input, proof.position),
                job.instruments.name(proof.instrument),
            )
        }
        Act::Surge(_, s, true) => format!("{} in", job.surges.name(*s)),
        Act::Surge(_, s, false) => format!("{} out", job.surges.name(*s)),
        Act::Rest(_, g, on) => format!(
            "Emergency group {}: rest mode {}{}",
            job.groups.name(*g),
            if *on { "on" } else { "off" },
            match input.site.groups[g.index()].key_switch.as_str() {
                "" => String::new(),
                key => format!(", at {key}"),
            }
        ),
        Act::HandBack(_, a) => format!("Hand back {}", job.areas.name(*a)),
    }
}

/// Where the key of a padlock goes.
pub fn key_text(input: &Input, key: crate::plan::Key, owner: Who) -> String {
    match key {
        crate::plan::Key::Kept => format!("{} keeps the key", name::who(input, owner)),
        crate::plan::Key::Boxed(b) => format!("key into {}", input.sound.plan().boxes.name(b)),
    }
}

/// A termination: the circuit's on a way, or what the site calls it.
fn joint(input: &Input, j: JointId) -> String {
    let job = input.sound.job();
    let Some((c, place)) = job.joints[j].of else {
        return sentence(&name::with_roles(input, job.joints.name(j)));
    };
    let circuit = name::circuit(input, c);
    match place {
        Place::Old => format!("Termination of {} on {}", circuit.number, circuit.old),
        Place::New => format!("Termination of {} on {}", circuit.number, circuit.new),
        Place::On(s) => {
            format!(
                "Termination of {} on temporary supply {}",
                circuit.number,
                job.supplies.name(s)
            )
        }
    }
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
