//! Tasks as they start and finish (S3): order, people, instruments, working space, deliveries.

use super::breach::{Kind, Report, facts};
use super::now::Now;
use crate::model::*;
use crate::plan::{Act, By};
use std::collections::BTreeSet;

pub(super) fn before(now: &Now, act: &Act, out: &mut Report) {
    if !now.possible(act) {
        return;
    }
    match act {
        Act::Start { task, who, instrument } if now.run(*task).is_none() => {
            start(now, *task, who, *instrument, out);
        }
        Act::Finish { task, .. } if now.is_running(*task) => {
            let row = now.site.task(*task);
            let took = now.run(*task).map_or(now.t, |r| r.start);
            if now.t - took != row.planned {
                out.add(Kind::NotAsPlanned, now, facts![*task, now.t - took, row.planned]);
            }
            if let Act::Finish { pass: true, .. } = act
                && row.kind == TaskKind::LiveTest
                && row.circuit.is_some_and(|c| !now.circuit_live(c))
            {
                out.add(Kind::LiveTestDead, now, facts![*task]);
            }
            if row.kind == TaskKind::StripOut {
                stripped_bare(now, *task, out);
            }
        }
        Act::Open(by, d) | Act::Close(by, d) => device(now, *by, *d, true, out),
        Act::Lock(by, d, ..) => device(now, *by, *d, false, out),
        Act::Unlock(by, ..) if matches!(by.who, Who::Outsider(_)) => {
            if let Act::Unlock(_, d, _) = act {
                device(now, *by, *d, false, out);
            }
        }
        Act::BoxLock(by, _) | Act::BoxUnlock(by, _) if by.task.is_none() => {
            if let Who::Person(p) = by.who
                && let Some(task) = now.task_of(p)
            {
                out.add(Kind::BoxBesideTask, now, facts![p, task]);
            }
        }
        Act::Make(by, joint) | Act::Break(by, joint) => {
            belongs(now, *by, out);
            joint_of_task(now, *by, *joint, matches!(act, Act::Make(..)), out);
        }
        Act::Prove(by, proof) => {
            belongs(now, *by, out);
            let kinds = &now.site.job.instruments[proof.instrument].kinds;
            let elsewhere = now.running.iter().any(|t| {
                Some(*t) != by.task
                    && now.run(*t).and_then(|r| r.instrument) == Some(proof.instrument)
            });
            if !kinds.iter().any(|k| k == DETECTOR) || elsewhere {
                out.add(Kind::NoDetector, now, facts![proof.instrument, proof.position]);
            }
        }
        Act::Unlock(by, ..)
        | Act::BoxLock(by, _)
        | Act::BoxUnlock(by, _)
        | Act::Surge(by, ..)
        | Act::Rest(by, ..) => belongs(now, *by, out),
        _ => {}
    }
}

/// An act belongs to a running task of the person who does it.
fn belongs(now: &Now, by: By, out: &mut Report) {
    let good = match (by.task, by.who) {
        (Some(task), Who::Person(p)) => now.is_running(task) && now.people(task).contains(&p),
        _ => false,
    };
    if !good {
        out.add(Kind::OutsideTask, now, facts![by.who; by.task]);
    }
}

/// A third party's device is worked by its owner in an appointment; a lock may be added by all.
fn device(now: &Now, by: By, id: DeviceId, operates: bool, out: &mut Report) {
    let device = &now.site.job.devices[id];
    match &device.third_party {
        Some(third) if by.who == third.owner && by.task.is_none() => {
            if !third.appointments.iter().any(|a| a.from <= now.t && now.t <= a.to) {
                out.add(Kind::NoAppointment, now, facts![id]);
            }
        }
        Some(_) if operates => out.add(Kind::NotTheirDevice, now, facts![id, by.who]),
        _ => belongs(now, by, out),
    }
}

fn start(
    now: &Now,
    id: TaskId,
    who: &[PersonId],
    instrument: Option<InstrumentId>,
    out: &mut Report,
) {
    let site = now.site;
    let job = site.job;
    let row = site.task(id);
    let distinct: BTreeSet<PersonId> = who.iter().copied().collect();
    if who.len() != row.people || distinct.len() != who.len() {
        out.add(Kind::PeopleCount, now, facts![id, who.len() as i64, row.people as i64]);
    }
    let [shortest, _, longest] = row.duration;
    if row.planned < shortest || longest < row.planned {
        out.add(Kind::PlannedOutside, now, facts![id, row.planned]);
    }
    for p in &distinct {
        let person = &job.people[*p];
        if !person.may.contains(&row.kind) {
            out.add(Kind::MayNot, now, facts![*p, id]);
        }
        let end = now.t + row.planned;
        if !person.present.iter().any(|s| s.from <= now.t && end <= s.to) {
            out.add(Kind::NotPresent, now, facts![*p, id]);
        }
        if let Some(other) = now.task_of(*p) {
            out.add(Kind::TwoTasks, now, facts![*p, other, id]);
        }
    }
    instruments(now, id, instrument, out);
    for before in &row.after {
        if !now.passed(*before) {
            out.add(Kind::BeforeItsTime, now, facts![id, *before]);
        }
    }
    if let Some(d) = row.delivery.filter(|d| now.t < job.deliveries[*d]) {
        out.add(Kind::NotDelivered, now, facts![id, d]);
    }
    if let Some(p) = row.position {
        let there: usize = now
            .running
            .iter()
            .filter(|t| site.task(**t).position == Some(p))
            .map(|t| now.people(*t).len())
            .sum();
        if there as i64 + who.len() as i64 > job.positions[p].hands {
            out.add(Kind::NoWorkingSpace, now, facts![id, p]);
        }
    }
    if !well_formed(row) {
        out.add(Kind::IllFormed, now, facts![id]);
    }
    super::sequence::start(now, id, out);
}

fn instruments(now: &Now, id: TaskId, instrument: Option<InstrumentId>, out: &mut Report) {
    let job = now.site.job;
    let row = now.site.task(id);
    let by_kind = match row.kind {
        TaskKind::ProveDead => Some(DETECTOR),
        TaskKind::HookUp | TaskKind::DeadTest | TaskKind::TestBoard | TaskKind::LiveTest => {
            Some(TESTER)
        }
        _ => None,
    };
    let has =
        |kind: &str| instrument.is_some_and(|i| job.instruments[i].kinds.iter().any(|k| k == kind));
    if row.instrument.as_deref().into_iter().chain(by_kind).any(|kind| !has(kind)) {
        out.add(Kind::NoInstrument, now, facts![id]);
    }
    if let Some(i) = instrument {
        for other in &now.running {
            if now.run(*other).and_then(|r| r.instrument) == Some(i) {
                out.add(Kind::InstrumentInUse, now, facts![i, *other, id]);
            }
        }
    }
}

/// The fields that a task of its kind needs.
fn well_formed(t: &Task) -> bool {
    use TaskKind::*;
    let position = !matches!(t.kind.mode(), Mode::Dead | Mode::Live) || t.position.is_some();
    let circuit =
        !matches!(t.kind, Identify | Disconnect | HookUp | Unhook | Connect | DeadTest | LiveTest)
            || t.circuit.is_some();
    let board = !matches!(
        t.kind,
        StripOut | Mount | ConnectTails | FitSurge | TestBoard | FitCovers | Dress
    ) || t.board.is_some();
    let group = t.kind != FunctionTest || t.group.is_some();
    position && circuit && board && group
}

/// A joint is worked in a task that is there for it; one of no circuit where one end is bare.
fn joint_of_task(now: &Now, by: By, id: JointId, make: bool, out: &mut Report) {
    let site = now.site;
    let joint = &site.job.joints[id];
    let Some(task) = by.task else { return };
    let row = site.task(task);
    let kind_fits = match joint.of {
        Some((c, place)) => {
            row.circuit == Some(c)
                && row.kind
                    == match (place, make) {
                        (Place::Old, false) => TaskKind::Disconnect,
                        (Place::On(_), false) => TaskKind::Unhook,
                        (Place::New, true) => TaskKind::Connect,
                        (Place::On(_), true) => TaskKind::HookUp,
                        _ => TaskKind::Prepare,
                    }
        }
        None => row.circuit.is_none(),
    };
    let board = site.board_of(row);
    let bare = joint.of.is_some()
        || row
            .position
            .iter()
            .flat_map(|p| super::site::nodes_bare(&site.job.positions[*p]))
            .chain(board.into_iter().flat_map(|b| site.board_nodes(b)))
            .any(|n| n == joint.a || n == joint.b);
    if !kind_fits || !bare {
        out.add(Kind::JointMismatch, now, facts![id, task]);
    }
}

/// When a board has been stripped out no joint is left on it.
fn stripped_bare(now: &Now, task: TaskId, out: &mut Report) {
    let site = now.site;
    let Some(b) = site.board_of(site.task(task)) else { return };
    let own = site.board_own_nodes(b);
    for (j, joint) in site.job.joints.iter() {
        if now.joints[j.index()] && (own.contains(&joint.a) || own.contains(&joint.b)) {
            out.add(Kind::JointLeft, now, facts![b, j]);
        }
    }
}
