//! What the user has fixed or ruled out: one decision a `[[fixed]]` table, each with its reason.

use super::build::{Build, get, text};
use crate::diag::Fault;
use crate::jobfile::schema::FixedRow;
use crate::jobfile::value::{At, Int};
use crate::model::*;

/// What a `[[fixed]]` table decides; `decision` is its number.
pub(super) fn pins(b: &mut Build, row: &FixedRow, decision: usize) -> Vec<Pin> {
    let reason = text(&row.why);
    let circuit = row.circuit.as_ref().and_then(|n| b.circuit(n));
    let mut said: Vec<Vec<PinKind>> = Vec::new();
    if let Some(c) = circuit {
        let window = row.window.as_ref().and_then(|w| window(b, w));
        said.extend(window.map(|w| vec![PinKind::CircuitIn(c, w)]));
        let not = row.not_window.as_ref().and_then(|w| self::window(b, w));
        said.extend(not.map(|w| vec![PinKind::CircuitNotIn(c, w)]));
        if let Some(at) = &row.not_before {
            let zone = b.frame.zone.clone();
            let at = zone.moment(at, &mut b.cx);
            said.extend(at.map(|t| vec![PinKind::NotBefore(c, t)]));
        }
    }
    let served = row.load.as_ref().map_or(Vec::new(), |name| load(b, name));
    let circuits: Vec<CircuitId> = circuit.into_iter().chain(served).collect();
    if !circuits.is_empty() {
        let each =
            |kind: &dyn Fn(CircuitId) -> PinKind| circuits.iter().map(|c| kind(*c)).collect();
        let on = row.supply.as_ref().and_then(|s| supply(b, s));
        said.extend(on.map(|s| each(&|c| PinKind::RidesOn(c, s))));
        let not = row.not_supply.as_ref().and_then(|s| supply(b, s));
        said.extend(not.map(|s| each(&|c| PinKind::RidesNotOn(c, s))));
        if get(&row.no_supply) == Some(true) {
            said.push(each(&PinKind::RidesOnNone));
        }
    }
    if let Some(list) = &row.together {
        let all: Vec<CircuitId> = list.value.iter().filter_map(|n| b.circuit(n)).collect();
        said.push(vec![PinKind::Together(all)]);
    }
    if let Some(name) = &row.person {
        let person = b.job.people.find(&name.value);
        if person.is_none() {
            b.cx.unknown("person", name, b.job.people.names());
        }
        let board = row.board.as_ref().and_then(|x| b.board(x));
        said.extend(person.zip(board).map(|(p, x)| vec![PinKind::PersonOn(p, x)]));
        let not = row.not_board.as_ref().and_then(|x| b.board(x));
        said.extend(person.zip(not).map(|(p, x)| vec![PinKind::PersonNotOn(p, x)]));
    }
    if let Some(at) = &row.most_visits {
        let Int(n) = at.value;
        said.push(vec![PinKind::AtMostVisits(u32::try_from(n).unwrap_or(u32::MAX))]);
    }
    let unused = row.unused.as_ref().and_then(|w| window(b, w));
    said.extend(unused.map(|w| vec![PinKind::WindowUnused(w)]));
    let lock = row.lock_at.as_ref().and_then(|d| b.find_device(d));
    said.extend(lock.map(|d| vec![PinKind::LockAt(d)]));
    let no_lock = row.no_lock_at.as_ref().and_then(|d| b.find_device(d));
    said.extend(no_lock.map(|d| vec![PinKind::NoLockAt(d)]));
    if said.len() != 1 && b.cx.faults.is_empty() {
        let why = "a `[[fixed]]` table says one thing: one decision a table".to_string();
        b.cx.fault(Fault::Conflict { why }, row.span);
    }
    let what = said.pop().unwrap_or_default();
    what.into_iter().map(|what| Pin { what, reason: reason.clone(), decision }).collect()
}

fn window(b: &mut Build, at: &At<String>) -> Option<WindowId> {
    let found = b.job.windows.find(&at.value);
    if found.is_none() {
        b.cx.unknown("window", at, b.job.windows.names());
    }
    found
}

fn supply(b: &mut Build, at: &At<String>) -> Option<SupplyId> {
    let found = b.job.supplies.find(&at.value);
    if found.is_none() {
        let known: Vec<String> = b.job.supplies.names().map(String::from).collect();
        b.cx.unknown("temporary supply", at, known.iter().map(String::as_str));
    }
    found
}

/// The circuits of a load.
fn load(b: &mut Build, at: &At<String>) -> Vec<CircuitId> {
    match b.job.loads.find(&at.value) {
        Some(load) => b.job.loads[load].circuits.clone(),
        None => {
            let known: Vec<String> = b.job.loads.names().map(String::from).collect();
            b.cx.unknown("load", at, known.iter().map(String::as_str));
            Vec::new()
        }
    }
}
