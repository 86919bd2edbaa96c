//! The circuit chart: old reference to new, new to old, and the order in which circuits move.

use super::Input;
use super::feed;
use super::name;
use super::steps::Step;
use super::ways;
use crate::model::site::WayLabel;
use crate::model::*;
use crate::units::Minutes;
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub struct View {
    by_old: Vec<Row>,
    by_new: Vec<Row>,
    /// Whether any circuit has a terminal told.
    terminals: bool,
    order: Vec<Moved>,
}

/// A circuit on the chart.
#[derive(Clone, Serialize)]
pub struct Row {
    number: String,
    old: String,
    new: String,
    lines: String,
    /// The lines at both ends differ.
    changed: bool,
    serves: String,
    device: String,
    cable: String,
    neutral: String,
    earth: String,
    temporary: Vec<String>,
    order: String,
    marks: Vec<String>,
}

#[derive(Serialize)]
struct Moved {
    order: usize,
    visit: String,
    /// The first of its visit, but not of all.
    begins: bool,
    number: String,
    old: String,
    new: String,
    serves: String,
    off: String,
    back: String,
}

/// The chart's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let moves = feed::moves(input);
    let place: BTreeMap<CircuitId, usize> =
        moves.iter().enumerate().rev().map(|(i, m)| (m.circuit, i + 1)).collect();
    let mut old: Vec<CircuitId> = job.circuits.ids().collect();
    let mut new = old.clone();
    old.sort_by_key(|c| (key(site.circuits[c.index()].old.as_ref()), *c));
    new.sort_by_key(|c| (key(site.circuits[c.index()].new.as_ref()), *c));
    let row = |c: &CircuitId| row(input, *c, place.get(c).copied());
    let visits = input.sound.replay().visits();
    let clock = &site.clock;
    let visit_of = |t: Minutes| visits.iter().position(|v| v.from <= t && t <= v.to);
    let by_old: Vec<Row> = old.iter().map(row).collect();
    let told = |t: &str| !t.is_empty();
    View {
        terminals: by_old.iter().any(|r| told(&r.neutral) || told(&r.earth)),
        by_old,
        by_new: new.iter().map(row).collect(),
        order: moves
            .iter()
            .enumerate()
            .map(|(i, m)| {
                let row = row(&m.circuit);
                let visit = visit_of(m.off);
                Moved {
                    order: i + 1,
                    visit: visit.map(|v| clock.day(visits[v].from)).unwrap_or_default(),
                    begins: i > 0 && visit_of(moves[i - 1].off) != visit,
                    number: row.number,
                    old: row.old,
                    new: row.new,
                    serves: row.serves,
                    off: clock.short(m.off),
                    back: m.back.map(|t| clock.short(t)).unwrap_or_default(),
                }
            })
            .collect(),
    }
}

/// Ways in the order in which they stand; what has none comes last.
fn key(way: Option<&WayLabel>) -> (bool, Option<BoardId>, i64, String) {
    match way {
        Some(w) => (false, Some(w.board), w.way, w.lines.clone()),
        None => (true, None, 0, String::new()),
    }
}

fn row(input: &Input, c: CircuitId, order: Option<usize>) -> Row {
    let site = input.site;
    let label = &site.circuits[c.index()];
    let lines = |w: &Option<WayLabel>| w.as_ref().map(|w| w.lines.clone()).unwrap_or_default();
    let (from, to) = (lines(&label.old), lines(&label.new));
    let changed = !from.is_empty() && !to.is_empty() && from != to;
    let reference = |w: &Option<WayLabel>| w.as_ref().map(|w| w.reference.clone());
    let end = site.ends.iter().find(|e| e.circuit == c).map(|e| e.end.to_owned());
    let stays = name::stays(input, c);
    let device = match (stays, label.device.is_empty()) {
        (true, _) | (_, true) => &label.old_device,
        _ => &label.device,
    };
    // The schedule numbers its neutral and earth terminals alike.
    let terminal = |wire: Wire| match ways::has(input, c, wire) {
        true => label.terminal.clone(),
        false => "none".to_owned(),
    };
    Row {
        number: label.number.clone(),
        old: reference(&label.old).unwrap_or_else(|| "none".to_owned()),
        new: reference(&label.new)
            .or(stays.then(|| "stays".to_owned()))
            .or(end)
            .unwrap_or_else(|| "none".to_owned()),
        lines: match (changed, from.is_empty()) {
            (true, _) => format!("{from} to {to}"),
            (_, true) => to,
            _ => from,
        },
        changed,
        serves: label.serves.clone(),
        device: device.clone(),
        cable: label.cable.clone(),
        neutral: terminal(Wire::N),
        earth: terminal(Wire::PE),
        temporary: rides(input, c),
        order: order.map(|n| n.to_string()).unwrap_or_default(),
        marks: marks(input, c),
    }
}

fn rides(input: &Input, c: CircuitId) -> Vec<String> {
    feed::rides(input, c)
        .into_iter()
        .map(|(s, from, to)| {
            let name = input.sound.job().supplies.name(s);
            match to {
                Some(to) => {
                    format!("{name}, {} to {}", name::dated(input, from), name::dated(input, to))
                }
                None => format!("{name}, from {}", name::dated(input, from)),
            }
        })
        .collect()
}

/// What must not be forgotten about a circuit.
pub fn marks(input: &Input, c: CircuitId) -> Vec<String> {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.circuits[c.index()];
    let number = |c: &CircuitId| site.circuits[c.index()].number.clone();
    let mut out = Vec::new();
    for (g, group) in job.groups.iter() {
        let name = job.groups.name(g);
        match (group.feed == c, group.watches == c) {
            (true, true) => out.push(format!("EMERGENCY {name}: feeds it and is watched by it")),
            (true, false) => out
                .push(format!("EMERGENCY {name}: feeds it; moves with {}", number(&group.watches))),
            (false, true) => out.push(format!(
                "EMERGENCY {name}: watched by it; moves with {}",
                number(&group.feed)
            )),
            _ => {}
        }
    }
    if let Some(others) = ways::shared_with(input, c) {
        out.push(format!("NEUTRAL SHARED with {others}"));
    }
    if let Some(d) = input.labour.circuits[c.index()].delivery {
        let at = site.clock.full(job.deliveries[d]);
        out.push(format!("LATE: waits for {}, {at}", job.deliveries.name(d)));
    }
    if label.ring {
        out.push("ring: both legs".to_owned());
    }
    if !label.found_on {
        out.push("found OFF on survey".to_owned());
    }
    out
}
