//! Circuits: one row of the schedule, one cable, with its old and its new way or a stated end.

use super::build::{Build, get, rows, text};
use super::kinds::{figure, lines, wires};
use super::ways::Reference;
use crate::diag::Fault;
use crate::jobfile::schema::{CircuitRow, OnOff};
use crate::jobfile::value::{At, clip};
use crate::model::site::StatedEnd;
use crate::model::*;
use crate::units::{Amperes, Exact};

/// What stands in `new`.
enum NewPlace {
    Way(Reference),
    End(&'static str),
}

const ENDS: [&str; 4] = ["removed", "left off", "found off", "stays"];

/// Makes every circuit with its load point, ways and joints.
pub(super) fn circuits(b: &mut Build, all: &[CircuitRow]) {
    // A schedule that could not be read has been told already.
    let read = b.cx.faults.iter().all(|f| f.code() > crate::diag::Code::J006);
    if all.is_empty() && read {
        b.cx.fault(Fault::NoneOf { what: "circuit" }, b.root.span);
    }
    for row in all {
        circuit(b, row);
    }
    shared_ways(b, all);
    neutral_groups(b, all);
}

fn circuit(b: &mut Build, row: &CircuitRow) -> Option<()> {
    let number = row.circuit.as_ref()?;
    if !b.fresh("circuit", &number.value, number.span) {
        return None;
    }
    let old = row.old.as_ref().and_then(|at| b.reference(at));
    let new = new_place(b, row, number);
    let old_lines = old_lines(b, row, old, &new);
    let mut bare = WireSet::EMPTY.with(Wire::N).with(Wire::PE);
    if let Some(at) = &row.wires {
        bare = if at.value == "none" {
            WireSet::EMPTY
        } else {
            wires(at, &mut b.cx)?.iter().filter(|w| !w.is_line()).collect()
        };
    }
    let own: WireSet = old_lines.iter().copied().chain(bare.iter()).collect();
    let node = b.node(
        &number.value,
        Node { kind: NodeKind::Load, wires: own, neutral_bar: false },
        number.span,
    )?;
    b.node_words.insert(node, format!("{} ({})", number.value, text(&row.serves)));
    let no_earth = (!own.has(Wire::PE)).then(|| text(&row.why));
    if no_earth.as_ref().is_some_and(String::is_empty) {
        let what = format!("circuit `{}` without protective conductor", number.value);
        b.cx.fault(
            Fault::ReasonMissing { what },
            row.wires.as_ref().map_or(number.span, |w| w.span),
        );
    }
    let amps = match figure(&row.current_a) {
        Some(a) => old_lines.iter().map(|l| (*l, Amperes(a.clone()))).collect(),
        None => Vec::new(),
    };
    let off = row.found.as_ref().is_some_and(|f| f.value == OnOff::Off);
    let mut left_off = off.then(|| "found off on survey".to_string());
    if let NewPlace::End(end @ ("left off" | "found off")) = &new {
        left_off = Some(format!("{end}: {}", text(&row.why)));
    }
    let circuit = Circuit { nodes: vec![node], amps, no_earth, left_off };
    let id = b.job.circuits.add(number.value.clone(), circuit)?;
    if let (Some(r), Some(at)) = (old, &row.old) {
        on_way(b, id, node, r, at, Place::Old, &old_lines, &old_lines);
        let words = row.old_device.clone();
        let way = b.shown(r);
        if let Some(made) = b.ways.get(&way).map(|w| w.node) {
            // An old device of unknown rating is taken to have that of the new one.
            let rating = if words.is_none() { rating(row) } else { None };
            b.describe_way(made, &words, rating.as_ref(), None, at.span);
            if off && let Some(device) = b.job.devices.find(&way) {
                b.job.devices[device].closed = false;
            }
        }
        join_way(b, &way, id);
    }
    match new {
        NewPlace::Way(r) => {
            let at = row.new.as_ref()?;
            let there = new_lines(b, row, r, &old_lines, at)?;
            on_way(b, id, node, r, at, Place::New, &there, &old_lines);
            let rcd = row.rcd_ma.as_ref().map(|m| At { value: m.value.0.clone(), span: m.span });
            let way = b.shown(r);
            if let Some(made) = b.ways.get(&way).map(|w| w.node) {
                b.describe_way(made, &row.device, rating(row).as_ref(), rcd.as_ref(), at.span);
            }
            join_way(b, &way, id);
        }
        NewPlace::End(end) => {
            let why = text(&row.why);
            if why.is_empty() && end != "stays" && end != "found off" {
                let what = format!("the end `{end}` of circuit `{}`", number.value);
                b.cx.fault(
                    Fault::ReasonMissing { what },
                    row.new.as_ref().map_or(number.span, |n| n.span),
                );
            }
            b.site.ends.push(StatedEnd { circuit: id, end, why });
        }
    }
    for name in rows(&row.temporary) {
        on_supply(b, id, node, &name, own);
    }
    Some(())
}

/// The rating, as a plain figure with its place.
fn rating(row: &CircuitRow) -> Option<At<Exact>> {
    let said = row.rating_a.as_ref().map(|r| At { value: r.value.0.clone(), span: r.span });
    said.or_else(|| {
        let device = row.device.as_ref()?;
        let rating = super::kinds::described(&device.value).1?;
        Some(At { value: rating.0, span: device.span })
    })
}

fn join_way(b: &mut Build, way: &str, id: CircuitId) {
    if let Some(made) = b.ways.get_mut(way)
        && !made.circuits.contains(&id)
    {
        made.circuits.push(id);
    }
}

fn new_place(b: &mut Build, row: &CircuitRow, number: &At<String>) -> NewPlace {
    let Some(at) = &row.new else {
        let hint = "fill `new` with a way, or with `removed`, `left off`, `found off` or `stays`";
        b.cx.hinted(Fault::NoNewWay { circuit: clip(&number.value) }, number.span, hint);
        return NewPlace::End("stays");
    };
    let lower = at.value.to_lowercase();
    if let Some(end) = ENDS.iter().find(|e| **e == lower) {
        return NewPlace::End(end);
    }
    if !at.value.contains('/') {
        let hint = crate::diag::nearest(&lower, ENDS).map(|n| format!("did you mean `{n}`?"));
        let words = ENDS.to_vec();
        b.cx.tell(Fault::NotOneOf { found: clip(&at.value), words }, at.span, None, hint);
        return NewPlace::End("stays");
    }
    let Some(r) = b.reference(at) else { return NewPlace::End("stays") };
    if b.boards[r.board.index()].role == BoardRole::Old {
        let why = format!("`{}` is a way of an old board, so it cannot be new", clip(&at.value));
        b.cx.fault(Fault::WrongPlace { why }, at.span);
    }
    NewPlace::Way(r)
}

/// The circuit's lines as named at its old way, or at its new way if it has no old one.
fn old_lines(b: &mut Build, row: &CircuitRow, old: Option<Reference>, new: &NewPlace) -> Vec<Wire> {
    let written = row.lines.as_ref().and_then(|at| lines(at, &mut b.cx));
    let from = match (old, new) {
        (Some(r), _) => Some(r),
        (None, NewPlace::Way(r)) => Some(*r),
        _ => None,
    };
    let Some(r) = from else { return written.unwrap_or_else(|| vec![Wire::L1]) };
    let made = &b.boards[r.board.index()];
    let by_reference = match (r.line, made.phases) {
        (Some(line), _) => Some(vec![line]),
        (None, 3) => None,
        (None, _) => Some(vec![made.line]),
    };
    match (by_reference, written) {
        (Some(said), Some(also)) if said != also => {
            let why = format!("`lines` says {}, but the way has {}", joined(&also), joined(&said));
            b.cx.fault(Fault::Lines { why }, row.lines.as_ref().map_or(row.span, |l| l.span));
            said
        }
        (Some(said), _) | (None, Some(said)) => said,
        (None, None) => Wire::LINES.to_vec(),
    }
}

/// The lines of the new way that the circuit's own lines meet, in their order.
fn new_lines(
    b: &mut Build,
    row: &CircuitRow,
    r: Reference,
    own: &[Wire],
    at: &At<String>,
) -> Option<Vec<Wire>> {
    let written = match &row.new_lines {
        Some(l) => Some(lines(l, &mut b.cx)?),
        None => None,
    };
    let made = &b.boards[r.board.index()];
    let there = match (r.line, written) {
        (Some(line), _) => vec![line],
        (None, Some(said)) => said,
        (None, None) if made.phases == 1 => vec![made.line],
        (None, None) => own.to_vec(),
    };
    if there.len() != own.len() {
        let why = format!(
            "circuit `{}` has {} at its old way, but {} at its new one",
            text(&row.circuit),
            joined(own),
            joined(&there)
        );
        b.cx.fault(Fault::Lines { why }, at.span);
        return None;
    }
    Some(there)
}

pub(super) fn joined(lines: &[Wire]) -> String {
    let names: Vec<&str> = lines.iter().map(|w| w.name()).collect();
    names.join(" ")
}

/// Makes the joint between a way and the circuit; `there` are the way's lines for `own`.
#[allow(clippy::too_many_arguments)]
fn on_way(
    b: &mut Build,
    id: CircuitId,
    node: NodeId,
    r: Reference,
    at: &At<String>,
    place: Place,
    there: &[Wire],
    own: &[Wire],
) {
    let others: Vec<Wire> = b.job.nodes[node].wires.iter().filter(|w| !w.is_line()).collect();
    let at_way: WireSet = there.iter().copied().chain(others.iter().copied()).collect();
    let Some(way) = b.way(r, at_way, at.span) else { return };
    let mut wires = Lanes::default();
    for (a, c) in there.iter().zip(own) {
        wires.join(*a, *c);
    }
    for w in others {
        wires.join(w, w);
    }
    let name = format!("{} on {}", b.job.circuits.name(id), b.shown(r));
    // A circuit that stays where it is has one joint.
    let made = place == Place::Old;
    let joint = Joint { a: way, b: node, wires, made, of: Some((id, place)) };
    b.add_joint(&name, joint, at.span);
}

fn on_supply(b: &mut Build, id: CircuitId, node: NodeId, name: &At<String>, own: WireSet) {
    let supplies: Vec<SupplyId> = if name.value == "any" {
        b.job.supplies.ids().collect()
    } else {
        match b.job.supplies.find(&name.value) {
            Some(found) => vec![found],
            None => {
                let known: Vec<String> = b.job.supplies.names().map(String::from).collect();
                b.cx.unknown("temporary supply", name, known.iter().map(String::as_str));
                return;
            }
        }
    };
    for supply in supplies {
        let from = b.job.supplies[supply].node;
        let there = b.job.nodes[from].wires;
        let label = format!("{} on {}", b.job.circuits.name(id), b.job.supplies.name(supply));
        // A single-phase lead takes whatever single line the circuit has.
        let single: Vec<Wire> = there.iter().filter(|w| w.is_line()).collect();
        let mine: Vec<Wire> = own.iter().filter(|w| w.is_line()).collect();
        let mut wires = Lanes::default();
        for w in own.iter() {
            if there.has(w) {
                wires.join(w, w);
            } else if w.is_line() && mine.len() == 1 && single.len() == 1 {
                wires.join(single[0], w);
            } else {
                if name.value != "any" {
                    let why = format!(
                        "temporary supply `{}` has no {w} for circuit `{}`",
                        b.job.supplies.name(supply),
                        b.job.circuits.name(id)
                    );
                    b.cx.fault(Fault::Lines { why }, name.span);
                }
                wires = Lanes::default();
                break;
            }
        }
        if wires != Lanes::default() {
            let joint =
                Joint { a: from, b: node, wires, made: false, of: Some((id, Place::On(supply))) };
            b.add_joint(&label, joint, name.span);
        }
    }
}

/// Further own conductors, which only the explicit tables make.
pub(super) fn further(b: &mut Build, all: &[CircuitRow]) {
    for row in all {
        let own = row.circuit.as_ref().and_then(|n| b.job.circuits.find(&n.value));
        let Some(id) = own else { continue };
        for name in rows(&row.nodes) {
            if let Some(node) = b.end(&name) {
                b.job.circuits[id].nodes.push(node);
            }
        }
    }
}

/// Circuits on one way have to say so.
fn shared_ways(b: &mut Build, all: &[CircuitRow]) {
    let find = |number: &str| all.iter().find(|r| text(&r.circuit) == number);
    for (way, made) in b.ways.clone() {
        for (i, second) in made.circuits.iter().enumerate().skip(1) {
            let (first, second) = (
                b.job.circuits.name(made.circuits[0]).to_string(),
                b.job.circuits.name(*second).to_string(),
            );
            let (Some(x), Some(y)) = (find(&first), find(&second)) else { continue };
            let listed =
                |row: &CircuitRow, name: &str| rows(&row.with).iter().any(|w| w.value == name);
            let tied = |x: &CircuitRow, y: &CircuitRow| {
                rows(&x.emergency).iter().any(|a| {
                    rows(&y.emergency).iter().any(|c| group_of(&a.value) == group_of(&c.value))
                })
            };
            let declared = made.circuits.iter().take(i).any(|other| {
                let other = b.job.circuits.name(*other).to_string();
                find(&other).is_some_and(|x| {
                    listed(x, &second)
                        || listed(y, &other)
                        || tied(x, y)
                        || get(&x.neutral_with).is_some_and(|n| n.iter().any(|m| m.value == second))
                        || get(&y.neutral_with).is_some_and(|n| n.iter().any(|m| m.value == other))
                })
            });
            if !declared {
                let at = |row: &CircuitRow| {
                    [&row.old, &row.new]
                        .into_iter()
                        .flatten()
                        .find(|r| r.value.to_uppercase().ends_with(&way.to_uppercase()))
                        .map_or(row.span, |r| r.span)
                };
                let (here, there) = (at(y), at(x));
                let hint =
                    format!("if that is so, write `{first}` in the column `with` of `{second}`");
                let fault = Fault::WayShared { way: way.clone(), first, second };
                b.cx.tell(fault, here, Some((there, "already here")), Some(hint));
            }
        }
    }
    for row in all {
        for name in rows(&row.with) {
            b.circuit(&name);
        }
    }
}

/// The group that an entry of the column `emergency` names.
pub(super) fn group_of(entry: &str) -> &str {
    entry.trim().trim_end_matches(" feed").trim_end_matches(" lighting").trim()
}

/// Circuits that share a neutral, as one group each.
fn neutral_groups(b: &mut Build, all: &[CircuitRow]) {
    let mut groups: Vec<Vec<CircuitId>> = Vec::new();
    for row in all {
        let Some(own) = row.circuit.as_ref().and_then(|n| b.job.circuits.find(&n.value)) else {
            continue;
        };
        for other in rows(&row.neutral_with) {
            let Some(other_id) = b.circuit(&other) else { continue };
            if other_id == own {
                let why = format!("circuit `{}` cannot share a neutral with itself", other.value);
                b.cx.fault(Fault::WrongPlace { why }, other.span);
                continue;
            }
            let (mut merged, rest): (Vec<_>, Vec<_>) =
                groups.into_iter().partition(|g| g.contains(&own) || g.contains(&other_id));
            let mut all: Vec<CircuitId> =
                merged.drain(..).flatten().chain([own, other_id]).collect();
            all.sort();
            all.dedup();
            groups = rest;
            groups.push(all);
        }
    }
    groups.sort();
    b.job.neutral_groups = groups;
}
