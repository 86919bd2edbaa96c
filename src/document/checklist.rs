//! The lock-off checklist: isolation points, readings, circuits, and the removal order.

mod live;
mod locks;

use super::Input;
use super::name::{self, CircuitName};
use super::steps::{self, Chapter, Step};
use super::ways;
use crate::model::*;
use crate::plan::{Act, Proof};
use crate::units::Minutes;
use live::Enclosures;
use locks::{Padlock, Removal};
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    visits: Vec<Visit>,
    locks: Vec<Padlock>,
    neutrals: Vec<String>,
}

#[derive(Serialize)]
struct Visit {
    title: String,
    sheets: Vec<Sheet>,
    removal: Vec<Removal>,
}

/// One step of the checklist; a template sets what it has.
#[derive(Serialize, Default)]
struct Sheet {
    step: usize,
    title: String,
    from: String,
    by: String,
    people: String,
    place: String,
    points: Vec<Point>,
    others: Vec<Other>,
    proofs: Vec<Proving>,
    circuits: Vec<Row>,
    /// What is live where the step's conductors are; none where it lays none open.
    live: Option<Enclosures>,
    pointer: bool,
    /// `part 1 of 3` of a step that is longer than a page may hold.
    part: String,
    /// The last part, or the only one: here the step is signed.
    signed: bool,
}

/// A point of isolation.
#[derive(Serialize)]
struct Point {
    time: String,
    place: String,
    act: String,
    /// Whether a padlock goes on it.
    locked: bool,
    padlock: String,
    owner: String,
    key: String,
    tag: String,
}

/// Something else to be done in the step.
#[derive(Serialize)]
struct Other {
    time: String,
    what: String,
    who: String,
}

#[derive(Serialize)]
struct Proving {
    place: String,
    only: String,
    instrument: String,
    by: String,
    time: String,
    points: Vec<Readings>,
    count: usize,
}

#[derive(Serialize)]
struct Readings {
    node: String,
    pairs: Vec<String>,
}

#[derive(Serialize)]
struct Row {
    name: CircuitName,
    /// What its own terminals are measured between.
    pairs: Vec<String>,
    neutral: String,
    time: String,
}

/// The checklist's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    View {
        visits: steps::chapters(input, all)
            .into_iter()
            .map(|Chapter { title, steps, .. }| Visit {
                title,
                sheets: steps.iter().filter_map(|s| sheet(input, s)).flat_map(parts).collect(),
                removal: steps.iter().flat_map(|s| locks::removals(input, s)).collect(),
            })
            .filter(|v| !v.sheets.is_empty() || !v.removal.is_empty())
            .collect(),
        locks: locks::padlocks(input),
        neutrals: neutrals(input),
    }
}

fn sheet(input: &Input, step: &Step) -> Option<Sheet> {
    let plan = input.sound.plan();
    let clock = &input.site.clock;
    let mut out = Sheet {
        step: step.number,
        title: steps::title(input, step),
        from: clock.short(step.period.from),
        by: match step.period.length() {
            Minutes::ZERO => String::new(),
            _ => clock.time(step.period.to),
        },
        people: name::people(input, &step.people.iter().copied().collect::<Vec<_>>()),
        place: steps::place(input, step),
        ..Sheet::default()
    };
    for event in &step.acts {
        let time = clock.time(event.at);
        match &event.act {
            Act::Lock(by, d, lock, key) => out.points.push(Point {
                time,
                place: name::device(input, *d),
                act: if opens(step, *d) { "open, lock, tag" } else { "already open: lock, tag" }
                    .to_owned(),
                locked: true,
                padlock: plan.locks.name(*lock).to_owned(),
                owner: name::who(input, by.who),
                key: steps::key_text(input, *key, by.who),
                tag: tag(input, by.who, &purpose(input, step, *d), step.number),
            }),
            Act::Open(by, d) if !locks(step, *d) && step.kind == Some(TaskKind::Isolate) => {
                out.points.push(Point {
                    time,
                    place: name::device(input, *d),
                    act: "open only: without a padlock it isolates nothing".to_owned(),
                    locked: false,
                    padlock: "none".to_owned(),
                    owner: name::who(input, by.who),
                    key: "none".to_owned(),
                    tag: "none".to_owned(),
                });
            }
            Act::BoxLock(by, _) | Act::Rest(by, _, true) | Act::Surge(by, _, false) => {
                out.others.push(Other {
                    time,
                    what: steps::act_text(input, &event.act),
                    who: name::who(input, by.who),
                });
            }
            Act::Prove(by, proof) => {
                let begun = by.task.and_then(|t| input.sound.replay().task(t));
                let begun = clock.time(begun.map_or(step.period.from, |run| run.start));
                let time = format!("{begun} to {time}");
                out.proofs.push(proving(input, proof, time, name::who(input, by.who)));
            }
            Act::Unlock(..) | Act::BoxUnlock(..) => out.pointer = true,
            _ => {}
        }
    }
    if matches!(step.kind, Some(TaskKind::Disconnect | TaskKind::Unhook)) {
        out.circuits = rows(input, step);
    }
    let mut places: Vec<PositionId> = Vec::new();
    for p in step.proofs().map(|(_, _, p)| p.position).chain(
        step.tasks
            .iter()
            .filter(|_| !out.circuits.is_empty())
            .filter_map(|t| plan.tasks[*t].position),
    ) {
        if !places.contains(&p) {
            places.push(p);
        }
    }
    out.live = (!places.is_empty()).then(|| live::enclosures(input, step, &places));
    let blank = out.points.is_empty()
        && out.others.is_empty()
        && out.proofs.is_empty()
        && out.circuits.is_empty()
        && !out.pointer;
    (!blank).then_some(out)
}

/// Up to so many a step is printed in one piece.
const WHOLE_PROOFS: usize = 1;
const WHOLE_CIRCUITS: usize = 6;
/// Circuits in a part of a longer step; of proofs, one.
const PART_CIRCUITS: usize = 6;

/// A long step in parts, none of which is split between pages: its points of isolation and what
/// is live come with the first, the signature with the last.
fn parts(mut sheet: Sheet) -> Vec<Sheet> {
    let proofs = match sheet.proofs.len() {
        n if n > WHOLE_PROOFS => n,
        _ => 1,
    };
    let circuits = match sheet.circuits.len() {
        n if n > WHOLE_CIRCUITS => n.div_ceil(PART_CIRCUITS),
        _ => 1,
    };
    let count = proofs.max(circuits);
    let mut out = Vec::new();
    for i in (1..count).rev() {
        out.push(Sheet {
            step: sheet.step,
            title: sheet.title.clone(),
            from: sheet.from.clone(),
            by: sheet.by.clone(),
            people: sheet.people.clone(),
            place: sheet.place.clone(),
            proofs: if i < proofs { tail(&mut sheet.proofs, i) } else { Vec::new() },
            circuits: if i < circuits { tail(&mut sheet.circuits, i) } else { Vec::new() },
            part: format!("part {} of {count}", i + 1),
            signed: i + 1 == count,
            ..Sheet::default()
        });
    }
    sheet.signed = count == 1;
    if count > 1 {
        sheet.part = format!("part 1 of {count}");
    }
    out.push(sheet);
    out.reverse();
    out
}

/// The last of the rows that are left, to be shared by parts 0 to `i`.
fn tail<T>(rows: &mut Vec<T>, i: usize) -> Vec<T> {
    rows.split_off(rows.len() * i / (i + 1))
}

fn opens(step: &Step, d: DeviceId) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Open(_, o) if o == d))
}

fn locks(step: &Step, d: DeviceId) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Lock(_, o, ..) if o == d))
}

/// What the isolation is for: a board, a temporary supply at its own device, or else the job.
fn purpose(input: &Input, step: &Step, d: DeviceId) -> String {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let board = step.tasks.iter().find_map(|t| plan.tasks[*t].board);
    let device = &job.devices[d];
    let fed = |s: &Supply| [device.a, device.b].contains(&s.node);
    let supply = job.supplies.iter().find(|(_, s)| fed(s)).map(|(id, _)| job.supplies.name(id));
    match (board, supply) {
        (Some(b), _) => name::board(input, b),
        (None, Some(supply)) => supply.to_owned(),
        (None, None) => job.name.clone(),
    }
}

fn tag(input: &Input, owner: Who, purpose: &str, step: usize) -> String {
    let phone = match owner {
        Who::Person(p) => input.site.people[p.index()].phone.as_str(),
        Who::Outsider(_) => "",
    };
    let call = if phone.is_empty() { String::new() } else { format!(", {phone}") };
    format!(
        "DO NOT SWITCH ON. People at work on {purpose}. Locked off by {}{call}. Plan {}, step {step}.",
        name::who(input, owner),
        input.fingerprint,
    )
}

fn proving(input: &Input, proof: &Proof, time: String, by: String) -> Proving {
    Proving {
        place: name::position(input, proof.position),
        only: proof.circuit.map(|c| name::circuit_text(input, c)).unwrap_or_default(),
        instrument: name::instrument(input, proof.instrument),
        by,
        time,
        points: proof
            .readings
            .iter()
            .map(|(n, pairs)| Readings {
                node: name::node(input, *n),
                pairs: pairs.keys().cloned().collect(),
            })
            .collect(),
        count: proof.readings.values().map(|p| p.len()).sum(),
    }
}

/// One row a circuit: its own terminals and its neutral, before it is disconnected.
fn rows(input: &Input, step: &Step) -> Vec<Row> {
    let plan = input.sound.plan();
    let mut out = Vec::new();
    for task in &step.tasks {
        let Some(c) = plan.tasks[*task].circuit else { continue };
        let start = input.sound.replay().task(*task).map_or(step.period.from, |r| r.start);
        let shared: Vec<String> =
            ways::sharers(input, c).into_iter().map(|o| name::circuit_text(input, o)).collect();
        out.push(Row {
            name: name::circuit(input, c),
            pairs: pairs(input, c),
            neutral: match shared.is_empty() {
                true => String::new(),
                false => format!("NEUTRAL SHARED with {}", name::list(&shared)),
            },
            time: input.site.clock.time(start),
        });
    }
    out
}

/// The pairs between which a circuit's own terminals are measured.
fn pairs(input: &Input, c: CircuitId) -> Vec<String> {
    let job = input.sound.job();
    let mut wires: Vec<&str> = Vec::new();
    if let Some(n) = job.circuits[c].nodes.first() {
        wires = job.nodes[*n].wires.iter().filter(|w| *w != Wire::PE).map(Wire::name).collect();
    }
    wires.push("E");
    let mut out = Vec::new();
    for (i, a) in wires.iter().enumerate() {
        for b in &wires[i + 1..] {
            out.push(format!("{a}-{b}"));
        }
    }
    out
}

fn neutrals(input: &Input) -> Vec<String> {
    let groups = &input.sound.job().neutral_groups;
    groups
        .iter()
        .map(|g| {
            let all: Vec<String> = g.iter().map(|c| name::circuit_text(input, *c)).collect();
            name::list(&all)
        })
        .collect()
}
