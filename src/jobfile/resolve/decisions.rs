//! Whom work waits for, what the user has fixed, which locks may stay, and walks.

use super::build::{Build, get, rows, text};
use crate::diag::{Fault, Span};
use crate::jobfile::schema::{FixedRow, HoldWhen};
use crate::jobfile::value::{At, Int};
use crate::model::*;
use crate::units::Minutes;
use std::collections::BTreeMap;

/// Locks that may stay, walks, and sources in parallel.
pub(super) fn locks_and_walks(b: &mut Build) {
    for row in rows(&b.root.standing_lock) {
        let (Some(device), Some(owner), Some(why)) = (&row.device, &row.owner, &row.why) else {
            continue;
        };
        let Some(device) = b.find_device(device) else { continue };
        let owner = b.who(&owner.value);
        b.job.standing_locks.push(StandingLock { device, owner, reason: why.value.clone() });
    }
    let parallel = b.root.job.as_ref().map_or(Vec::new(), |j| rows(&j.value.parallel));
    for list in parallel {
        let mut sources = Vec::new();
        for name in list {
            match b.job.nodes.find(&name.value).filter(|n| b.job.nodes[*n].source().is_some()) {
                Some(source) => sources.push(source),
                None => {
                    let sources = b.job.nodes.iter().filter(|(_, n)| n.source().is_some());
                    let known: Vec<&str> = sources.map(|(id, _)| b.job.nodes.name(id)).collect();
                    b.cx.unknown("source", &name, known);
                }
            }
        }
        b.job.parallel.push(sources);
    }
    for row in rows(&b.root.walk) {
        let (Some(from), Some(to), Some(minutes)) = (&row.from, &row.to, &row.minutes) else {
            continue;
        };
        let (from, to) = (places(b, from), places(b, to));
        for a in &from {
            for z in &to {
                if a != z {
                    b.job.walks.push(Walk { a: *a, b: *z, minutes: Minutes(minutes.value.0) });
                }
            }
        }
    }
}

fn places(b: &mut Build, name: &At<String>) -> Vec<PositionId> {
    if let Some(board) = b.job.boards.find(&name.value) {
        return vec![b.job.boards[board].incoming, b.job.boards[board].ways];
    }
    if let Some(supply) = b.job.supplies.find(&name.value) {
        return vec![b.supply_positions[supply.index()]];
    }
    if let Some(position) = b.job.positions.find(&name.value) {
        return vec![position];
    }
    let known: Vec<String> =
        b.job.boards.names().chain(b.job.positions.names()).map(String::from).collect();
    b.cx.unknown("board or place", name, known.iter().map(String::as_str));
    Vec::new()
}

/// Acts of outside people.
pub(super) fn holds(b: &mut Build) -> Vec<Hold> {
    let mut holds = Vec::new();
    for row in rows(&b.root.hold) {
        let (Some(name), Some(who), Some(when)) = (&row.name, &row.who, &row.when) else {
            continue;
        };
        let stage = match when.value {
            HoldWhen::BeforeIsolation => HoldStage::BeforeIsolation,
            HoldWhen::AfterProof => HoldStage::AfterProof,
            HoldWhen::BeforeLocksOff => HoldStage::BeforeLocksOff,
            HoldWhen::AfterEnergising => HoldStage::AfterEnergising,
        };
        let duration = match &row.minutes {
            Some(at) => b.three(at),
            None => {
                b.default("how long an outside person's act takes", "1 / 5 / 15 min");
                None
            }
        };
        let effort = b.effort(duration.unwrap_or([1, 5, 15]), 0);
        holds.push(Hold {
            name: name.value.clone(),
            who: who.value.clone(),
            stage,
            board: row.board.as_ref().and_then(|n| b.board(n)),
            once: get(&row.once).unwrap_or(false),
            effort,
        });
    }
    holds
}

fn window(b: &mut Build, at: &At<String>) -> Option<WindowId> {
    let found = b.job.windows.find(&at.value);
    if found.is_none() {
        b.cx.unknown("window", at, b.job.windows.names());
    }
    found
}

/// What one `[[fixed]]` table decides.
pub(super) fn pin(b: &mut Build, row: &FixedRow) -> Option<Pin> {
    let reason = text(&row.why);
    let circuit = row.circuit.as_ref().and_then(|n| b.circuit(n));
    let mut found: Vec<PinKind> = Vec::new();
    if let Some(c) = circuit {
        found.extend(
            row.window.as_ref().and_then(|w| window(b, w)).map(|w| PinKind::CircuitIn(c, w)),
        );
        found.extend(
            row.not_window.as_ref().and_then(|w| window(b, w)).map(|w| PinKind::CircuitNotIn(c, w)),
        );
        if let Some(at) = &row.not_before {
            let zone = b.frame.zone.clone();
            found.extend(zone.moment(at, &mut b.cx).map(|t| PinKind::NotBefore(c, t)));
        }
        if let Some(name) = &row.supply {
            match b.job.supplies.find(&name.value) {
                Some(s) => found.push(PinKind::RidesOn(c, s)),
                None => {
                    let known: Vec<String> = b.job.supplies.names().map(String::from).collect();
                    b.cx.unknown("temporary supply", name, known.iter().map(String::as_str));
                }
            }
        }
        if get(&row.no_supply) == Some(true) {
            found.push(PinKind::RidesOnNone(c));
        }
    }
    if let Some(list) = &row.together {
        let all: Vec<CircuitId> = list.value.iter().filter_map(|n| b.circuit(n)).collect();
        found.push(PinKind::Together(all));
    }
    if let (Some(person), Some(board)) = (&row.person, &row.board) {
        let p = b.job.people.find(&person.value);
        if p.is_none() {
            b.cx.unknown("person", person, b.job.people.names());
        }
        found.extend(p.zip(b.board(board)).map(|(p, x)| PinKind::PersonOn(p, x)));
    }
    if let Some(at) = &row.most_visits {
        let Int(n) = at.value;
        found.push(PinKind::AtMostVisits(u32::try_from(n).unwrap_or(u32::MAX)));
    }
    found.extend(row.unused.as_ref().and_then(|w| window(b, w)).map(PinKind::WindowUnused));
    found.extend(row.lock_at.as_ref().and_then(|d| b.find_device(d)).map(PinKind::LockAt));
    found.extend(row.no_lock_at.as_ref().and_then(|d| b.find_device(d)).map(PinKind::NoLockAt));
    if found.len() != 1 && b.cx.faults.is_empty() {
        let why = "a `[[fixed]]` table says one thing: one decision a table".to_string();
        b.cx.fault(Fault::Conflict { why }, row.span);
    }
    found.pop().map(|what| Pin { what, reason })
}

/// Circuits that move together are not fixed in two windows.
pub(super) fn one_window(b: &mut Build) {
    let mut fixed: BTreeMap<CircuitId, (WindowId, Span)> = BTreeMap::new();
    for row in rows(&b.root.fixed) {
        let circuit = row.circuit.as_ref().and_then(|c| b.job.circuits.find(&c.value));
        let at = row.window.as_ref();
        let found = at.and_then(|w| Some((b.job.windows.find(&w.value)?, w.span)));
        fixed.extend(circuit.zip(found));
    }
    let coils = |group: &Group| b.job.watched_coils(group).into_iter().map(|(_, coil)| coil);
    let mut sets: Vec<Vec<CircuitId>> = (b.job.groups.rows().iter())
        .map(|group| [group.feed, group.watches].into_iter().chain(coils(group)).collect())
        .collect();
    sets.extend(b.job.neutral_groups.iter().cloned());
    for set in sets {
        let mut known = set.iter().filter_map(|c| Some((*c, *fixed.get(c)?)));
        let Some((first, (window, span))) = known.next() else { continue };
        if let Some((other, (_, at))) = known.find(|(_, (w, _))| *w != window) {
            let [x, y] = [first, other].map(|c| b.job.circuits.name(c));
            let why = format!("`{x}` and `{y}` move together, and are fixed in two windows");
            b.cx.tell(Fault::Conflict { why }, at, Some((span, "the other")), None);
        }
    }
}
