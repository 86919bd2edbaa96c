//! How one goes back, or on, from every step with something off.

use crate::document::Input;
use crate::document::name;
use crate::document::steps;
use crate::model::*;
use crate::plan::{BackOutStep, BackOutTask, Checkpoint, Subject, Way};
use crate::units::Minutes;
use serde::Serialize;

#[derive(Serialize)]
pub struct Turning {
    visit: String,
    at: String,
}

#[derive(Serialize)]
pub struct Step {
    /// Number of the step, or of the first and the last that are turned back from alike.
    number: String,
    during: String,
    way: &'static str,
    acts: Vec<String>,
    minutes: String,
}

/// The point of no return of each visit.
pub fn turning(input: &Input) -> Vec<Turning> {
    let points = &input.sound.plan().back_out.points_of_no_return;
    points
        .iter()
        .map(|p| Turning {
            visit: name::span(input, p.visit),
            at: match p.at {
                Some(t) => input.site.clock.full(t),
                None => "none: at no moment is going back right; go on with the plan".to_owned(),
            },
        })
        .collect()
}

/// One row a printed step and way, the longest of its tasks standing for all; steps in a row that
/// have the same acts are one row, with the longest time of them.
pub fn steps(input: &Input, all: &[steps::Step]) -> Vec<Step> {
    let plan = input.sound.plan();
    let mut rows: Vec<(Vec<&steps::Step>, Way, Vec<String>, Minutes)> = Vec::new();
    for step in all {
        for way in [Way::Back, Way::Forward] {
            let worst: Option<&BackOutStep> = plan
                .back_out
                .steps
                .iter()
                .filter(|s| s.way == way && step.tasks.contains(&s.task))
                .max_by_key(|s| s.minutes);
            let Some(worst) = worst else { continue };
            let acts = acts(input, worst);
            match rows.last_mut() {
                Some((of, same, told, minutes)) if *same == way && *told == acts => {
                    of.push(step);
                    *minutes = worst.minutes.max(*minutes);
                }
                _ => rows.push((vec![step], way, acts, worst.minutes)),
            }
        }
    }
    rows.into_iter().map(|(of, way, acts, minutes)| row(input, &of, way, acts, minutes)).collect()
}

fn row(input: &Input, of: &[&steps::Step], way: Way, acts: Vec<String>, minutes: Minutes) -> Step {
    let numbers = of.iter().map(|s| s.number.to_string());
    let titles = of.iter().map(|s| steps::title(input, s));
    Step {
        number: first_to_last(numbers.collect(), " to "),
        during: first_to_last(titles.collect(), ", up to: "),
        way: match way {
            Way::Back => "BACK",
            Way::Forward => "ON",
        },
        acts,
        minutes: name::minutes(minutes),
    }
}

/// The first and the last of some, or the only one.
fn first_to_last(mut all: Vec<String>, between: &str) -> String {
    match (all.len(), all.pop()) {
        (0 | 1, only) => only.unwrap_or_default(),
        (_, last) => format!("{}{between}{}", all.swap_remove(0), last.unwrap_or_default()),
    }
}

/// What has to be finished by when, and what else: step, time, act.
pub fn checkpoints(input: &Input, all: &[steps::Step]) -> Vec<[String; 3]> {
    let checkpoints = &input.sound.plan().back_out.checkpoints;
    let row = |c: &Checkpoint| {
        let task = steps::task_text(input, all, c.task);
        [task, input.site.clock.full(c.latest), c.otherwise.clone()]
    };
    checkpoints.iter().map(row).collect()
}

/// Acts in order, those of one kind in a row told together.
fn acts(input: &Input, step: &BackOutStep) -> Vec<String> {
    if step.way == Way::Forward && step.acts.is_empty() {
        return vec!["Go on with the plan as it stands".to_owned()];
    }
    let mut rows: Vec<(TaskKind, Vec<String>)> = Vec::new();
    for act in &step.acts {
        let of = subject(input, act, step.way);
        match rows.last_mut() {
            Some((kind, all)) if *kind == act.kind => {
                if !all.contains(&of) {
                    all.push(of);
                }
            }
            _ => rows.push((act.kind, vec![of])),
        }
    }
    shortened(rows)
}

/// From so many on, things are not listed again.
const MANY: usize = 3;

/// The rows in words; a list that stood in a row before is not told once more.
fn shortened(rows: Vec<(TaskKind, Vec<String>)>) -> Vec<String> {
    let mut out: Vec<(String, String)> = Vec::new();
    let mut last: &[String] = &[];
    for (kind, of) in &rows {
        let mut before = rows.iter().take_while(|(k, _)| k != kind);
        let earlier = before.find(|(_, o)| o == of).map(|(k, _)| words(*k));
        let many = of.len() >= MANY;
        match (out.last_mut(), earlier.filter(|_| many)) {
            (Some((before, _)), Some(_)) if last == of.as_slice() => {
                before.push_str(&format!(", then {}", words(*kind).to_lowercase()));
            }
            (_, Some(earlier)) => {
                out.push((words(*kind).to_owned(), format!("the same as under {earlier}")));
            }
            _ => out.push((words(*kind).to_owned(), of.join(", "))),
        }
        last = of;
    }
    out.into_iter().map(|(what, of)| format!("{what}: {of}")).collect()
}

/// What is worked on. Going back a circuit comes off its new way and goes on its old one.
fn subject(input: &Input, act: &BackOutTask, way: Way) -> String {
    let job = input.sound.job();
    match act.of {
        None => "as planned".to_owned(),
        Some(Subject::Circuit(c)) => {
            let name = name::circuit(input, c);
            let back = way == Way::Back && act.kind != TaskKind::Disconnect;
            let end = if back { name.old } else { name.new };
            format!("{}\u{a0}({end})", name.number)
        }
        Some(Subject::Board(b)) => name::board(input, b),
        Some(Subject::Group(g)) => format!("emergency group {}", job.groups.name(g)),
        Some(Subject::Position(p)) => name::position(input, p),
    }
}

fn words(kind: TaskKind) -> &'static str {
    use TaskKind::*;
    match kind {
        Disconnect => "Take off the new way",
        Connect => "Terminate",
        DeadTest => "Dead test",
        HookUp => "Put on temporary supply",
        Unhook => "Take off temporary supply",
        StripOut => "Strip out",
        Mount => "Mount",
        ConnectTails => "Tails on",
        FitSurge => "Fit surge protection",
        TestBoard => "Dead test of board",
        FitCovers => "Covers on",
        Dress => "Dress ways",
        LiveTest => "Live test",
        Isolate => "Isolate and lock off",
        ProveDead => "Prove dead",
        Energise => "Locks off and energise",
        FunctionTest => "Function test",
        Prepare => "Prepare",
        Identify => "Identify",
        Hold => "Wait for",
    }
}
