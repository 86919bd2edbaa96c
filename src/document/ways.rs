//! What boards are, and which circuits are on their ways.

use super::Input;
use super::name;
use crate::model::*;
use std::collections::{BTreeMap, BTreeSet};

/// `three-phase` or `single-phase`.
pub fn phases(input: &Input, b: BoardId) -> &'static str {
    match input.site.boards[b.index()].three_phase {
        true => "three-phase",
        false => "single-phase",
    }
}

/// `24 ways, three-phase`.
pub fn count(input: &Input, b: BoardId) -> String {
    format!("{} ways, {}", input.site.boards[b.index()].ways, phases(input, b))
}

/// The circuits with a new way on a board, in the order of its ways.
pub fn on(input: &Input, b: BoardId) -> Vec<CircuitId> {
    let site = input.site;
    let mut all: Vec<(i64, String, CircuitId)> = input
        .sound
        .job()
        .circuits
        .ids()
        .filter_map(|c| {
            let way = site.circuits[c.index()].new.as_ref().filter(|w| w.board == b)?;
            Some((way.way, way.lines.clone(), c))
        })
        .collect();
    all.sort();
    all.into_iter().map(|(_, _, c)| c).collect()
}

/// The switch between a board's incoming terminals and its ways.
pub fn main_switch(job: &Job, b: BoardId) -> Option<DeviceId> {
    let (incoming, ways) =
        (&job.positions[job.boards[b].incoming], &job.positions[job.boards[b].ways]);
    let at = |n: NodeId, p: &Position| p.bare.contains(&n) || p.enclosed.contains(&n);
    job.devices
        .iter()
        .filter(|(_, d)| d.enclosure == Some(b))
        .find(|(_, d)| at(d.a, incoming) && at(d.b, ways) && !ways.row.contains(&d.b))
        .map(|(id, _)| id)
}

/// The circuits that share a neutral with this one.
pub fn sharers(input: &Input, c: CircuitId) -> Vec<CircuitId> {
    let groups = input.sound.job().neutral_groups.iter().filter(|g| g.contains(&c));
    groups.flatten().copied().filter(|o| *o != c).collect()
}

/// `C29 and C30`: the numbers of the circuits that share a neutral with this one.
pub fn shared_with(input: &Input, c: CircuitId) -> Option<String> {
    let number = |o: &CircuitId| input.site.circuits[o.index()].number.clone();
    let numbers: Vec<String> = sharers(input, c).iter().map(number).collect();
    (!numbers.is_empty()).then(|| name::list(&numbers))
}

/// Whether a circuit has this conductor.
pub fn has(input: &Input, c: CircuitId, wire: Wire) -> bool {
    let job = input.sound.job();
    job.circuits[c].nodes.first().is_none_or(|n| job.nodes[*n].wires.has(wire))
}

/// Outlets of a board's ways that nothing is on when the job is done: `14 L1`, or `7` where a way
/// is wholly free. Ways that feed a board or a link are not free.
pub fn spare(input: &Input, b: BoardId) -> Vec<String> {
    let job = input.sound.job();
    let (label, before) = (&input.site.boards[b.index()], format!("{}/", job.boards.name(b)));
    let mut used: BTreeMap<i64, BTreeSet<Wire>> = BTreeMap::new();
    for (n, node) in job.nodes.iter() {
        let Some(way) = job.nodes.name(n).strip_prefix(&before) else { continue };
        let digits: String = way.chars().take_while(char::is_ascii_digit).collect();
        if let Ok(number) = digits.parse() {
            used.entry(number).or_default().extend(node.wires.iter().filter(|w| w.is_line()));
        }
    }
    let mut out = Vec::new();
    for n in 1..=label.ways {
        match used.get(&n) {
            None => out.push(n.to_string()),
            Some(lines) if label.three_phase => {
                let free = Wire::LINES.iter().filter(|w| !lines.contains(w));
                out.extend(free.map(|w| format!("{n} {}", w.name())));
            }
            Some(_) => {}
        }
    }
    out
}
