//! Whom work waits for, which locks may stay, and walks.

use super::build::{Build, get, rows};
use crate::jobfile::schema::HoldWhen;
use crate::jobfile::value::At;
use crate::model::*;
use crate::units::Minutes;

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
