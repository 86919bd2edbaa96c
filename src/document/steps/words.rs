//! Steps and acts in the words of the trade.

use super::{Step, circuits};
use crate::document::Input;
use crate::document::name;
use crate::model::*;
use crate::plan::Act;
use std::collections::BTreeMap;

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

/// A task with the number of its step: `step 41: dead test of C52`.
pub fn task_text(input: &Input, all: &[Step], task: TaskId) -> String {
    use TaskKind::*;
    let facts = &input.sound.plan().tasks[task];
    let Some(step) = all.iter().find(|s| s.tasks.contains(&task)) else {
        return name::with_roles(input, &plain_name(input.sound.plan().tasks.name(task)));
    };
    let circuit = facts.circuit.map(|c| input.site.circuits[c.index()].number.clone());
    let what = match (circuit, facts.kind) {
        (Some(c), Disconnect) => format!("{c} off its old way"),
        (Some(c), Connect) => format!("{c} on its new way"),
        (Some(c), DeadTest) => format!("dead test of {c}"),
        (Some(c), LiveTest) => format!("live test of {c}"),
        (Some(c), HookUp) => format!("{c} on temporary supply"),
        (Some(c), Unhook) => format!("{c} off temporary supply"),
        _ => title(input, step),
    };
    format!("step {}: {what}", step.number)
}

/// A task's name without the number of its visit.
fn plain_name(name: &str) -> String {
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
            let box_name = name::lock_box(input, *b);
            format!("{} puts a lock of their own on {box_name}", name::who(input, by.who))
        }
        Act::BoxUnlock(by, b) => {
            let box_name = name::lock_box(input, *b);
            format!("{} takes their own lock off {box_name}", name::who(input, by.who))
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
        crate::plan::Key::Boxed(b) => format!("key into {}", name::lock_box(input, b)),
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

/// Whose act a hold is.
pub fn hold_by(input: &Input, step: &Step) -> String {
    let task = step.tasks.first().map(|t| input.sound.plan().tasks.name(*t));
    let mut holds = input.labour.holds.iter();
    let hold = holds.find(|h| task.is_some_and(|t| t.contains(h.name.as_str())));
    hold.map(|h| h.who.clone()).unwrap_or_default()
}
