//! The sequence: visits with their steps.

use crate::document::Input;
use crate::document::name::{self, CircuitName};
use crate::document::steps::{self, Step};
use crate::model::TaskKind::Energise;
use crate::model::*;
use crate::plan::{Act, Event};
use crate::units::Minutes;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub struct Visit {
    title: String,
    steps: Vec<Printed>,
}

#[derive(Clone, Serialize)]
struct Printed {
    number: usize,
    title: String,
    start: String,
    /// By when; blank for what takes no time.
    done: String,
    people: String,
    place: String,
    hold: bool,
    instrument: String,
    acts: Vec<Line>,
    rows: Vec<Row>,
    /// `part 1 of 2` of a step that is too long for one.
    part: String,
    /// Whether any row has an act.
    acted: bool,
    /// What is live in the enclosure while the step goes on.
    live: Vec<String>,
    /// Said before the step.
    bars: Vec<String>,
}

#[derive(Clone, Serialize)]
struct Line {
    time: String,
    what: String,
}

#[derive(Clone, Serialize)]
struct Row {
    name: CircuitName,
    from: String,
    done: String,
    who: String,
    acts: String,
}

/// The visits with their printed steps, and the work outside them.
pub fn visits(input: &Input, all: &[Step]) -> Vec<Visit> {
    let points = &input.sound.plan().back_out.points_of_no_return;
    let mut out: Vec<Visit> = Vec::new();
    for chapter in steps::chapters(input, all) {
        let mut told = false;
        let mut printed_steps = Vec::new();
        for step in &chapter.steps {
            let mut bars = Vec::new();
            let point = points.iter().find(|p| chapter.visit.is_some_and(|v| p.visit.overlaps(v)));
            if let Some(at) = point.and_then(|p| p.at).filter(|at| !told && *at <= step.period.from)
            {
                told = true;
                bars.push(format!(
                    "POINT OF NO RETURN, {}: until then go back if work is late; after it go on",
                    input.site.clock.short(at)
                ));
            }
            printed_steps.extend(parts(printed(input, step, bars)));
        }
        out.push(Visit { title: chapter.title, steps: printed_steps });
    }
    out
}

fn printed(input: &Input, step: &Step, bars: Vec<String>) -> Printed {
    let clock = &input.site.clock;
    let rows = rows(input, step);
    let instruments: Vec<String> = instruments(input, step);
    Printed {
        number: step.number,
        title: steps::title(input, step),
        start: clock.short(step.period.from),
        done: match clock.day(step.period.from) == clock.day(step.period.to) {
            _ if step.period.from == step.period.to => String::new(),
            true => clock.time(step.period.to),
            false => clock.short(step.period.to),
        },
        people: match step.kind {
            Some(TaskKind::Hold) => steps::hold_by(input, step),
            _ => name::people(input, &step.people.iter().copied().collect::<Vec<_>>()),
        },
        place: steps::place(input, step),
        hold: step.kind == Some(TaskKind::Hold),
        instrument: name::list(&instruments),
        acts: lines(input, step, rows.is_empty()),
        acted: rows.iter().any(|r| !r.acts.is_empty()),
        live: steps::live(input, step),
        rows,
        part: String::new(),
        bars,
    }
}

/// The acts of a step, those in the rows of circuits left out; areas handed back in one minute are
/// one line.
fn lines(input: &Input, step: &Step, all: bool) -> Vec<Line> {
    let mut out: Vec<Line> = Vec::new();
    let mut back: Option<Minutes> = None;
    for e in step.acts.iter().filter(|e| all || !of_a_row(input, step, &e.act)) {
        let area = match e.act {
            Act::HandBack(_, area) => Some(input.sound.job().areas.name(area)),
            _ => None,
        };
        match (area, out.last_mut()) {
            (Some(area), Some(line)) if back == Some(e.at) => {
                line.what.push_str(", ");
                line.what.push_str(area);
            }
            _ => out.push(Line { time: time(input, e), what: steps::act_text(input, &e.act) }),
        }
        back = area.map(|_| e.at);
    }
    out.extend(already(input, step).filter(|_| step.acts.is_empty()));
    out
}

/// What stands for the acts of energising a board that is live through another.
fn already(input: &Input, step: &Step) -> Option<Line> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let board = plan.tasks[*step.tasks.first()?].board.filter(|_| step.kind == Some(Energise))?;
    let live = |n: &NodeId| !input.sound.replay().live(*n).at(step.period.from).is_empty();
    job.positions[job.boards[board].ways].points.iter().any(live).then(|| Line {
        time: input.site.clock.time(step.period.from),
        what: format!(
            "{} is live already: no lock to take off, nothing to close; measure its voltages",
            name::board(input, board)
        ),
    })
}

/// Up to so many circuits a step is printed in one piece, and so many are in a part of a longer one.
const MOST_ROWS: usize = 14;

/// A long step in parts, none of which is split between pages.
fn parts(mut step: Printed) -> Vec<Printed> {
    let count = step.rows.len().div_ceil(MOST_ROWS).max(1);
    let mut out = Vec::new();
    for i in (1..count).rev() {
        let rows = step.rows.split_off(step.rows.len() * i / (i + 1));
        out.push(Printed {
            part: format!("part {} of {count}", i + 1),
            acts: Vec::new(),
            bars: Vec::new(),
            rows,
            ..step.clone()
        });
    }
    if count > 1 {
        step.part = format!("part 1 of {count}");
    }
    out.push(step);
    out.reverse();
    out
}

fn instruments(input: &Input, step: &Step) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for t in &step.tasks {
        if let Some(i) = input.sound.replay().task(*t).and_then(|r| r.instrument) {
            let text = input.sound.job().instruments.name(i).to_owned();
            if !out.contains(&text) {
                out.push(text);
            }
        }
    }
    out
}

/// When an act is done; a proof, from when to when its readings are taken.
fn time(input: &Input, event: &Event) -> String {
    let clock = &input.site.clock;
    let done = clock.time(event.at);
    let Act::Prove(by, _) = &event.act else { return done };
    match by.task.and_then(|t| input.sound.replay().task(t)) {
        Some(run) => format!("{} to {done}", clock.time(run.start)),
        None => done,
    }
}

/// Whether the act is told in the row of its circuit.
fn of_a_row(input: &Input, step: &Step, act: &Act) -> bool {
    let task = steps::by(act).and_then(|b| b.task);
    task.is_some_and(|t| step.tasks.contains(&t) && input.sound.plan().tasks[t].circuit.is_some())
}

/// What closing the device of a new way is called in a row.
const CLOSED: &str = "close NEW way";

/// An act in the row of its circuit, which names the circuit and its ways.
fn row_text(input: &Input, c: CircuitId, act: &Act) -> String {
    let job = input.sound.job();
    let (joint, verb) = match act {
        Act::Close(_, d) if name::device(input, *d) == name::circuit(input, c).new => {
            return CLOSED.to_owned();
        }
        Act::Make(_, j) => (*j, "on"),
        Act::Break(_, j) => (*j, "off"),
        _ => return steps::act_text(input, act),
    };
    match job.joints[joint].of {
        Some((_, Place::Old)) => format!("{verb} OLD way"),
        Some((_, Place::New)) => format!("{verb} NEW way"),
        Some((_, Place::On(s))) => format!("{verb} {}", job.supplies.name(s)),
        None => steps::act_text(input, act),
    }
}

/// One row a task that is for a circuit.
fn rows(input: &Input, step: &Step) -> Vec<Row> {
    let (plan, clock) = (input.sound.plan(), &input.site.clock);
    let mut acts: BTreeMap<TaskId, Vec<String>> = BTreeMap::new();
    for e in &step.acts {
        let task = steps::by(&e.act).and_then(|b| b.task);
        if let Some((t, c)) = task.and_then(|t| Some((t, plan.tasks[t].circuit?))) {
            acts.entry(t).or_default().push(row_text(input, c, &e.act));
        }
    }
    // Circuits that share a new way: its device is closed with the first of them.
    let closes = |t: &TaskId| acts.get(t).is_some_and(|a| a.iter().any(|w| w == CLOSED));
    let closed: BTreeMap<String, (TaskId, String)> = (step.tasks.iter().filter(|t| closes(t)))
        .filter_map(|t| Some((*t, name::circuit(input, plan.tasks[*t].circuit?))))
        .map(|(t, c)| (c.new, (t, c.number)))
        .collect();
    step.tasks
        .iter()
        .filter_map(|t| plan.tasks[*t].circuit.map(|c| (*t, c)))
        .map(|(t, c)| {
            let name = name::circuit(input, c);
            let with = closed.get(&name.new).filter(|(first, _)| *first != t);
            let with = with.map(|(_, number)| format!("closed with {number}"));
            let run = input.sound.replay().task(t);
            let start = run.map_or(step.period.from, |r| r.start);
            let end: Minutes = run.and_then(|r| r.end).map_or(step.period.to, |(e, _)| e);
            Row {
                name,
                from: clock.time(start),
                done: clock.time(end),
                who: run.map(|r| name::people(input, &r.who)).unwrap_or_default(),
                acts: acts.get(&t).map(|a| a.join("; ")).or(with).unwrap_or_default(),
            }
        })
        .collect()
}
