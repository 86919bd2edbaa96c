//! Handover sheet: how everything stands when the team leaves, and what is handed over.

use super::Input;
use super::name::{self, CircuitName};
use super::steps::Step;
use super::timeline;
use crate::model::*;
use crate::plan::Key;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    finish: String,
    boards: Vec<Board>,
    circuits: Vec<Circuit>,
    in_service: usize,
    locks: Vec<[String; 3]>,
    tests: Vec<[String; 2]>,
    areas: Vec<String>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    place: String,
    state: &'static str,
}

/// A circuit that does not simply stand on its new way.
#[derive(Serialize)]
struct Circuit {
    name: CircuitName,
    state: String,
    why: String,
}

/// The sheet's view, from the replay's last state.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site, replay) = (input.sound.job(), input.site, input.sound.replay());
    View {
        finish: site.clock.full(replay.finish()),
        boards: job
            .boards
            .ids()
            .map(|b| Board {
                name: name::board(input, b),
                place: site.boards[b.index()].place.clone(),
                state: board(input, b),
            })
            .collect(),
        circuits: job.circuits.ids().filter_map(|c| circuit(input, c)).collect(),
        in_service: job.circuits.ids().filter(|c| *replay.in_service(*c).last()).count(),
        locks: locks(input),
        tests: input
            .sound
            .plan()
            .claims
            .full_duration_tests
            .iter()
            .map(|(g, t)| [job.groups.name(*g).to_owned(), site.clock.full(*t)])
            .collect(),
        areas: job.areas.names().map(str::to_owned).collect(),
    }
}

/// How a board stands at the end.
fn board(input: &Input, b: BoardId) -> &'static str {
    let (job, plan, replay) = (input.sound.job(), input.sound.plan(), input.sound.replay());
    let stripped = plan.tasks.iter().any(|(id, t)| {
        t.kind == TaskKind::StripOut
            && t.board == Some(b)
            && replay.task(id).is_some_and(|r| r.end.is_some())
    });
    let live = timeline::lanes::live(job, b)
        .into_iter()
        .any(|n| replay.live(n).last().iter().any(|(w, _)| w.is_line()));
    match (stripped, live, replay.cover_on(b).last()) {
        (true, ..) => "taken out",
        (false, true, true) => "LIVE, covers on",
        (false, true, false) => "LIVE, COVERS OFF, shrouded",
        (false, false, true) => "dead, covers on",
        (false, false, false) => "dead, covers off",
    }
}

/// What is to be said of a circuit, if anything is.
fn circuit(input: &Input, c: CircuitId) -> Option<Circuit> {
    let (job, site, replay) = (input.sound.job(), input.site, input.sound.replay());
    let name = name::circuit(input, c);
    let end = site.ends.iter().find(|e| e.circuit == c);
    let why = end.map(|e| e.why.clone()).unwrap_or_default();
    let state = match (replay.riding(c).last(), *replay.in_service(c).last(), end) {
        (Some(s), ..) => format!("ON TEMPORARY SUPPLY {}", job.supplies.name(*s)),
        (None, _, Some(end)) if end.end == "stays" => return None,
        (None, _, Some(end)) => end.end.to_uppercase(),
        (None, false, None) => "OFF".to_owned(),
        (None, true, None) => return None,
    };
    Some(Circuit { name, state, why })
}

/// Padlocks that stay, each with its owner and its reason.
fn locks(input: &Input) -> Vec<[String; 3]> {
    let (job, plan, replay) = (input.sound.job(), input.sound.plan(), input.sound.replay());
    let mut out = Vec::new();
    for d in job.devices.ids() {
        for lock in &replay.device(d).last().locks {
            let why = job.standing_locks.iter().find(|s| s.device == d).map(|s| s.reason.clone());
            let key = match lock.key {
                Key::Kept => name::who(input, lock.owner),
                Key::Boxed(b) => plan.boxes.name(b).to_owned(),
            };
            out.push([
                format!("{} on {}", plan.locks.name(lock.lock), name::device(input, d)),
                format!("{}, key with {key}", name::who(input, lock.owner)),
                why.unwrap_or_default(),
            ]);
        }
    }
    out
}
