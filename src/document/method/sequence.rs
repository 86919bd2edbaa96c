//! The sequence: visits with their steps.

use crate::document::Input;
use crate::document::name::{self, CircuitName};
use crate::document::steps::{self, Step};
use crate::model::*;
use crate::plan::Act;
use crate::units::Minutes;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub struct Visit {
    title: String,
    steps: Vec<Printed>,
}

#[derive(Serialize)]
struct Printed {
    number: usize,
    title: String,
    start: String,
    done: String,
    people: String,
    place: String,
    hold: bool,
    instrument: String,
    acts: Vec<Line>,
    rows: Vec<Row>,
    timed: bool,
    /// Said before the step.
    bars: Vec<String>,
}

#[derive(Serialize)]
struct Line {
    time: String,
    what: String,
}

#[derive(Serialize)]
struct Row {
    name: CircuitName,
    from: String,
    done: String,
    who: String,
    acts: String,
}

/// The visits with their printed steps; work between visits goes with the visit before it.
pub fn visits(input: &Input, all: &[Step]) -> Vec<Visit> {
    let visits = input.sound.replay().visits();
    let mut out: Vec<Visit> = Vec::new();
    let mut told: Vec<bool> = vec![false; input.sound.plan().back_out.points_of_no_return.len()];
    for (i, visit) in visits.iter().enumerate() {
        let mut steps = Vec::new();
        for step in all.iter().filter(|s| {
            (i == 0 || s.period.from >= visit.from)
                && visits.get(i + 1).is_none_or(|v| s.period.from < v.from)
        }) {
            let mut bars = Vec::new();
            for (k, point) in input.sound.plan().back_out.points_of_no_return.iter().enumerate() {
                let Some(at) = point.at else { continue };
                if !told[k] && at <= step.period.from && point.visit.overlaps(*visit) {
                    told[k] = true;
                    bars.push(format!(
                        "POINT OF NO RETURN, {}: until then go back if work is late; after it go on",
                        input.site.clock.short(at)
                    ));
                }
            }
            steps.push(printed(input, step, bars));
        }
        if !steps.is_empty() {
            let title = format!("Visit {}: {}", i + 1, name::span(input, *visit));
            out.push(Visit { title, steps });
        }
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
            true => clock.time(step.period.to),
            false => clock.short(step.period.to),
        },
        people: name::people(input, &step.people.iter().copied().collect::<Vec<_>>()),
        place: steps::place(input, step),
        hold: step.kind == Some(TaskKind::Hold),
        instrument: name::list(&instruments),
        acts: step
            .acts
            .iter()
            .filter(|e| rows.is_empty() || !of_a_row(input, step, &e.act))
            .map(|e| Line { time: clock.time(e.at), what: steps::act_text(input, &e.act) })
            .collect(),
        timed: rows.len() > 1,
        rows,
        bars,
    }
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

/// Whether the act is told in the row of its circuit.
fn of_a_row(input: &Input, step: &Step, act: &Act) -> bool {
    let task = steps::by(act).and_then(|b| b.task);
    task.is_some_and(|t| step.tasks.contains(&t) && input.sound.plan().tasks[t].circuit.is_some())
}

/// One row a task that is for a circuit.
fn rows(input: &Input, step: &Step) -> Vec<Row> {
    let (plan, clock) = (input.sound.plan(), &input.site.clock);
    let mut acts: BTreeMap<TaskId, Vec<String>> = BTreeMap::new();
    for e in &step.acts {
        if let Some(t) = steps::by(&e.act).and_then(|b| b.task) {
            acts.entry(t).or_default().push(steps::act_text(input, &e.act));
        }
    }
    step.tasks
        .iter()
        .filter_map(|t| plan.tasks[*t].circuit.map(|c| (*t, c)))
        .map(|(t, c)| {
            let run = input.sound.replay().task(t);
            let start = run.map_or(step.period.from, |r| r.start);
            let end: Minutes = run.and_then(|r| r.end).map_or(step.period.to, |(e, _)| e);
            Row {
                name: name::circuit(input, c),
                from: clock.time(start),
                done: clock.time(end),
                who: run.map(|r| name::people(input, &r.who)).unwrap_or_default(),
                acts: acts.remove(&t).unwrap_or_default().join("; "),
            }
        })
        .collect()
}
