//! How things are left at a window's end and at the plan's end (F5).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::stated;
use crate::model::*;
use crate::units::Minutes;
use std::collections::BTreeSet;

/// The circuits that each source reaches through what is closed.
pub(super) fn reached(now: &Now) -> BTreeSet<(NodeId, CircuitId)> {
    let job = now.site.job;
    let mut all = BTreeSet::new();
    for c in job.loads.rows().iter().flat_map(|l| &l.circuits) {
        for line in &now.site.own[c.index()].lines {
            let feeds = now.live.feeds(*line).iter();
            all.extend(feeds.filter(|f| f.wire.is_line()).map(|f| (f.source, *c)));
        }
    }
    all
}

/// F5 of the state at the end of a visit, or of the plan.
pub(super) fn f5_left(now: &Now, at: Minutes, out: &mut Report) {
    let site = now.site;
    let job = site.job;
    let there = |b: BoardId| now.mounted[b.index()] && !now.stripped[b.index()];
    for (b, _) in job.boards.iter() {
        if there(b) && !now.covers[b.index()] && !site.both_shrouded(b) {
            out.add_at(Kind::CoverLeftOff, Some(at), None, facts![b]);
        }
    }
    for (id, state) in now.devices.iter().enumerate() {
        let device: DeviceId = Id::new(id);
        for l in &state.locks {
            let named = job
                .standing_locks
                .iter()
                .any(|s| s.device == device && s.owner == l.owner && !s.reason.trim().is_empty());
            if !named {
                out.add_at(Kind::LockLeft, Some(at), None, facts![device, l.lock, l.owner]);
            }
        }
    }
    for (id, owners) in now.boxes.iter().enumerate() {
        for owner in owners {
            out.add_at(Kind::BoxLockLeft, Some(at), None, facts![*owner, BoxId::new(id)]);
        }
    }
    for (s, surge) in job.surges.iter() {
        let away = surge.board.is_some_and(|b| !there(b));
        let unfitted =
            surge.kind == SurgeKind::Cartridge && surge.board.is_some_and(|b| !protected(now, b));
        if !now.surges[s.index()] && !away && !unfitted {
            out.add_at(Kind::CartridgeLeftOut, Some(at), None, facts![s]);
        }
    }
    for g in job.groups.ids().filter(|g| now.rest[g.index()]) {
        out.add_at(Kind::LeftAtRest, Some(at), None, facts![g]);
    }
}

/// Whether a board's surge protection is fitted: all that the plan has of it is finished.
fn protected(now: &Now, b: BoardId) -> bool {
    now.site
        .plan
        .tasks
        .iter()
        .filter(|(_, t)| t.kind == TaskKind::FitSurge && now.site.board_of(t) == Some(b))
        .all(|(id, _)| now.passed(id))
}

/// At the plan's end every source reaches again what it reached at the start.
pub(super) fn f5_sources(now: &Now, old: &BTreeSet<(NodeId, CircuitId)>, out: &mut Report) {
    let new = reached(now);
    for (source, c) in old.difference(&new) {
        if !stated(&now.site.job.circuits[*c].left_off) {
            out.add_at(Kind::SourceLost, Some(now.t), None, facts![*source, *c]);
        }
    }
}
