//! The lock-off checklist: isolation points, readings, circuits, and the removal order.

use super::Input;
use super::name::{self, CircuitName};
use super::steps::{self, Chapter, Step};
use crate::model::*;
use crate::plan::{Act, Proof};
use crate::units::{Minutes, Period};
use serde::Serialize;
use std::collections::BTreeSet;

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
    points: Vec<Point>,
    others: Vec<Other>,
    proofs: Vec<Proving>,
    circuits: Vec<Row>,
    live: Vec<Live>,
    none_found: Vec<String>,
    covered: bool,
    pointer: bool,
}

/// A point of isolation.
#[derive(Serialize)]
struct Point {
    time: String,
    place: String,
    act: String,
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

/// What is live in an enclosure.
#[derive(Serialize)]
struct Live {
    what: String,
    why: String,
}

#[derive(Serialize)]
struct Removal {
    step: usize,
    time: String,
    what: String,
    who: String,
    lock: bool,
}

#[derive(Serialize)]
struct Padlock {
    name: String,
    owner: String,
    uses: Vec<String>,
}

/// The checklist's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    View {
        visits: steps::chapters(input, all)
            .into_iter()
            .map(|Chapter { title, steps, .. }| Visit {
                title,
                sheets: steps.iter().filter_map(|s| sheet(input, s)).collect(),
                removal: steps.iter().flat_map(|s| removals(input, s)).collect(),
            })
            .filter(|v| !v.sheets.is_empty() || !v.removal.is_empty())
            .collect(),
        locks: padlocks(input),
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
        by: clock.time(step.period.to),
        people: name::people(input, &step.people.iter().copied().collect::<Vec<_>>()),
        ..Sheet::default()
    };
    let purpose = purpose(input, step);
    for event in &step.acts {
        let time = clock.time(event.at);
        match &event.act {
            Act::Lock(by, d, lock, key) => out.points.push(Point {
                time,
                place: name::device(input, *d),
                act: if opens(step, *d) { "open, lock, tag" } else { "already open: lock, tag" }
                    .to_owned(),
                padlock: plan.locks.name(*lock).to_owned(),
                owner: name::who(input, by.who),
                key: steps::key_text(input, *key, by.who),
                tag: tag(input, by.who, &purpose, step.number),
            }),
            Act::Open(by, d) if !locks(step, *d) && step.kind == Some(TaskKind::Isolate) => {
                out.points.push(Point {
                    time,
                    place: name::device(input, *d),
                    act: "open; no padlock here".to_owned(),
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
    for p in &places {
        live(input, step, *p, &mut out);
    }
    out.covered = !places.is_empty();
    let blank = out.points.is_empty()
        && out.others.is_empty()
        && out.proofs.is_empty()
        && out.circuits.is_empty()
        && !out.pointer;
    (!blank).then_some(out)
}

fn opens(step: &Step, d: DeviceId) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Open(_, o) if o == d))
}

fn locks(step: &Step, d: DeviceId) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Lock(_, o, ..) if o == d))
}

/// What the isolation is for.
fn purpose(input: &Input, step: &Step) -> String {
    let plan = input.sound.plan();
    let board = step.tasks.iter().find_map(|t| plan.tasks[*t].board);
    match board {
        Some(b) => name::board(input, b),
        None => input.sound.job().name.clone(),
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
        instrument: instrument(input, proof.instrument),
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

/// An instrument with its number and calibration.
pub fn instrument(input: &Input, i: InstrumentId) -> String {
    let (name, label) = (input.sound.job().instruments.name(i), &input.site.instruments[i.index()]);
    if label.is_empty() || label == name { name.to_owned() } else { format!("{name} ({label})") }
}

/// One row a circuit: its own terminals and its neutral, before it is disconnected.
fn rows(input: &Input, step: &Step) -> Vec<Row> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out = Vec::new();
    for task in &step.tasks {
        let Some(c) = plan.tasks[*task].circuit else { continue };
        let start = input.sound.replay().task(*task).map_or(step.period.from, |r| r.start);
        let shared: Vec<String> = job
            .neutral_groups
            .iter()
            .filter(|g| g.contains(&c))
            .flatten()
            .filter(|o| **o != c)
            .map(|o| name::circuit_text(input, *o))
            .collect();
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

/// What is still live where the step's conductors are.
fn live(input: &Input, step: &Step, p: PositionId, out: &mut Sheet) {
    let (job, plan, replay) = (input.sound.job(), input.sound.plan(), input.sound.replay());
    let position = &job.positions[p];
    let place = name::position(input, p);
    let mut seen: BTreeSet<NodeId> = BTreeSet::new();
    for n in &position.other_fed {
        seen.insert(*n);
        out.live.push(Live {
            what: name::node(input, *n),
            why: format!("{place}: fed from elsewhere, stays live unless proved dead here"),
        });
    }
    // Every dead task at this place up to the end of the visit: what is live at some minute of it.
    let end = replay
        .visits()
        .iter()
        .find(|v| v.contains(step.period.from))
        .map_or(step.period.to, |v| v.to);
    let span = Period { from: step.period.from, to: end.max(step.period.to) };
    let later = plan.claims.still_live.iter().filter(|(t, _)| {
        plan.tasks[**t].position == Some(p)
            && replay.task(**t).is_some_and(|r| span.from <= r.start && r.start < span.to)
    });
    let mut claimed: BTreeSet<NodeId> = later.flat_map(|(_, n)| n.iter().copied()).collect();
    claimed.extend(position.enclosed.iter().filter(|n| hot(input, **n, step.period.to)));
    for n in claimed {
        if seen.insert(n) {
            let why = match hot(input, n, step.period.to) {
                true => "behind its shroud or passing through, LIVE now".to_owned(),
                false => format!(
                    "behind its shroud or passing through; {}",
                    next_live(input, n, span)
                        .unwrap_or_else(|| "goes live during the work".to_owned())
                ),
            };
            out.live.push(Live { what: name::node(input, n), why: format!("{place}: {why}") });
        }
    }
    for n in &position.enclosed {
        if seen.insert(*n) {
            out.live.push(Live {
                what: name::node(input, *n),
                why: format!("{place}: behind its shroud, not proved here; treat as live"),
            });
        }
    }
    if let Some(none) = &position.none_found {
        let besides = if seen.is_empty() { "" } else { "besides what is listed above, " };
        out.none_found.push(format!(
            "{place}: {besides}nothing fed from elsewhere was found on survey, {}, {}. Look again.",
            none.by, none.when
        ));
    }
}

fn hot(input: &Input, n: NodeId, t: Minutes) -> bool {
    input.sound.replay().live(n).at(t).iter().any(|(w, _)| w.is_line())
}

fn next_live(input: &Input, n: NodeId, span: Period) -> Option<String> {
    let mut changes = input.sound.replay().live(n).changes();
    changes
        .find(|(t, now)| *t > span.from && *t < span.to && now.iter().any(|(w, _)| w.is_line()))
        .map(|(t, _)| format!("GOES LIVE at {}", input.site.clock.short(t)))
}

/// The acts of a step that take isolation away again, in order.
fn removals(input: &Input, step: &Step) -> Vec<Removal> {
    let back = matches!(step.kind, Some(TaskKind::Energise)) || step.kind.is_none();
    step.acts
        .iter()
        .filter(|e| match &e.act {
            Act::Unlock(..) | Act::BoxUnlock(..) | Act::Rest(_, _, false) => true,
            Act::Close(..) | Act::Surge(_, _, true) => back || unlocks(step),
            _ => false,
        })
        .map(|e| Removal {
            step: step.number,
            time: input.site.clock.short(e.at),
            what: steps::act_text(input, &e.act),
            who: steps::by(&e.act).map(|b| name::who(input, b.who)).unwrap_or_default(),
            lock: matches!(e.act, Act::Unlock(..) | Act::BoxUnlock(..)),
        })
        .collect()
}

fn unlocks(step: &Step) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Unlock(..)))
}

/// Every padlock with its owner and where it hangs from when to when.
fn padlocks(input: &Input) -> Vec<Padlock> {
    let plan = input.sound.plan();
    let clock = &input.site.clock;
    let mut out = Vec::new();
    for lock in plan.locks.ids() {
        let mut owner = String::new();
        let mut uses = Vec::new();
        let mut on: Option<(Minutes, DeviceId)> = None;
        for e in &plan.events {
            match &e.act {
                Act::Lock(by, d, l, _) if *l == lock => {
                    owner = name::who(input, by.who);
                    on = Some((e.at, *d));
                }
                Act::Unlock(_, d, l) if *l == lock => {
                    let from =
                        on.take().map_or_else(|| "the start".to_owned(), |(t, _)| clock.short(t));
                    uses.push(format!(
                        "{}, {from} to {}",
                        name::device(input, *d),
                        clock.short(e.at)
                    ));
                }
                _ => {}
            }
        }
        if let Some((t, d)) = on {
            uses.push(format!("{}, from {}; STAYS ON", name::device(input, d), clock.short(t)));
        }
        out.push(Padlock { name: plan.locks.name(lock).to_owned(), owner, uses });
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
