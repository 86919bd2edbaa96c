//! Live work (W5), bare live parts (W13) and not being alone (W14).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::stated;
use crate::model::*;
use crate::plan::Act;
use crate::units::{Minutes, Period};

/// Whether everybody on `task` is on `other` as well.
fn same_people(now: &Now, task: TaskId, other: TaskId) -> bool {
    now.people(task).iter().all(|p| now.people(other).contains(p))
}

/// W5, after every event.
pub(super) fn w5_after(now: &Now, act: &Act, out: &mut Report) {
    let site = now.site;
    match act {
        Act::Open(by, device) | Act::Close(by, device) => {
            let named = by.task.map(|t| site.task(t)).and_then(|t| t.board);
            for b in site.job.devices[*device].enclosure.into_iter().chain(named) {
                for dead in now.dead_tasks() {
                    let others = now.people(dead).iter().any(|p| by.who != Who::Person(*p));
                    if site.board_of(site.task(dead)) == Some(b) && others {
                        out.add(Kind::SwitchedAtWork, now, facts![*device, dead]);
                    }
                }
            }
        }
        Act::Start { task, .. } => {
            let running = now.running.clone();
            for other in running.into_iter().filter(|o| o != task) {
                w5_pair(now, *task, other, out);
                w5_pair(now, other, *task, out);
            }
        }
        _ => {}
    }
    if matches!(act, Act::Start { .. } | Act::Prove(..)) {
        w5_cover_off(now, out);
    }
}

/// What `first`, a test, a live test or switching of a board, forbids `second`.
fn w5_pair(now: &Now, first: TaskId, second: TaskId, out: &mut Report) {
    let site = now.site;
    let (a, b) = (site.task(first), site.task(second));
    if !site.dead(b) || same_people(now, second, first) {
        return;
    }
    let board = site.board_of(a);
    let switches =
        matches!(a.kind, TaskKind::Isolate | TaskKind::Energise | TaskKind::FunctionTest);
    if (a.kind == TaskKind::LiveTest || switches) && board.is_some() && site.board_of(b) == board {
        let kind = if switches { Kind::BoardSwitchedAtWork } else { Kind::LiveTestAtWork };
        out.add(kind, now, facts![first, second]);
    }
    let tests_circuit = matches!(a.kind, TaskKind::DeadTest | TaskKind::HookUp);
    if let (true, Some(c), Some(d)) = (tests_circuit, a.circuit, b.circuit)
        && (site.own[c.index()].group.contains(&d) || shares_way(now, c, d))
    {
        out.add(Kind::TestedAtWork, now, facts![first, second]);
    }
    if a.kind == TaskKind::TestBoard && board.is_some() && site.board_of(b) == board {
        out.add(Kind::TestedAtWork, now, facts![first, second]);
    }
}

/// Whether two circuits are on one way, so that what is put on the one is on the other.
fn shares_way(now: &Now, a: CircuitId, b: CircuitId) -> bool {
    let own = &now.site.own;
    let (a, b) = (&own[a.index()].lines, &own[b.index()].lines);
    a.iter().any(|x| b.iter().any(|y| now.solid(*x, *y)))
}

/// With the cover off and no shrouds nobody but the people on a live test is at the board.
fn w5_cover_off(now: &Now, out: &mut Report) {
    let site = now.site;
    for test in &now.running {
        let row = site.task(*test);
        let Some(b) = site.board_of(row).filter(|_| row.kind == TaskKind::LiveTest) else {
            continue;
        };
        if now.covers[b.index()] || site.both_shrouded(b) {
            continue;
        }
        for other in &now.running {
            let there = site.board_of(site.task(*other)) == Some(b);
            if other != test && there && !same_people(now, *other, *test) {
                out.add(Kind::AtLiveTest, now, facts![*test, *other, b]);
            }
        }
    }
}

/// W13, of a state that lasts.
pub(super) fn w13_lasting(now: &Now, out: &mut Report) {
    let site = now.site;
    let job = site.job;
    for (id, position) in job.positions.iter() {
        let live = || super::site::nodes_bare(position).find(|n| now.node_live(*n));
        let Some(b) = position.board else {
            let open = now.proving.iter().any(|(p, _)| *p == id)
                || now.running.iter().any(|t| site.open[t.index()].contains(&id));
            if open && let Some(node) = live() {
                out.add(Kind::BareLive, now, facts![id, node]);
            }
            continue;
        };
        if !now.mounted[b.index()] {
            continue;
        }
        if now.stripped[b.index()] {
            let left = super::site::nodes_bare(position)
                .find(|n| now.node_live(*n) && !taken_over(now, *n));
            if let Some(node) = left {
                out.add(Kind::LeftLive, now, facts![b, node]);
            }
            continue;
        }
        if now.covers[b.index()] || site.shrouded(id) {
            continue;
        }
        let Some(node) = live() else { continue };
        w13_attended(now, b, id, node, out);
    }
}

/// Whether a node is bare at a board that is there.
fn taken_over(now: &Now, node: NodeId) -> bool {
    now.site.job.boards.ids().any(|b| {
        now.mounted[b.index()]
            && !now.stripped[b.index()]
            && now.site.board_nodes(b).contains(&node)
    })
}

fn w13_attended(now: &Now, b: BoardId, id: PositionId, node: NodeId, out: &mut Report) {
    let site = now.site;
    let boards = &site.job.boards;
    let at = |t: &TaskId| site.board_of(site.task(*t));
    let attending: Vec<TaskId> = now
        .running
        .iter()
        .copied()
        .filter(|t| {
            at(t) == Some(b) && matches!(site.task(*t).kind.mode(), Mode::Live | Mode::Switching)
        })
        .collect();
    let [one] = attending[..] else {
        out.add(Kind::BareLive, now, facts![id, node]);
        return;
    };
    for other in now.running.iter().filter(|t| **t != one) {
        let near = at(other).is_some_and(|o| {
            o == b || boards[b].within_reach.contains(&o) || boards[o].within_reach.contains(&b)
        });
        if near && !same_people(now, *other, one) {
            out.add(Kind::WithinReach, now, facts![id, one, *other]);
        }
    }
}

/// W14: while somebody proves, switches or tests live, another person of the job is there.
pub(super) fn w14_lasting(now: &Now, span: Period, out: &mut Report) {
    let job = now.site.job;
    if stated(&job.policy.alone) {
        return;
    }
    for task in &now.running {
        let mode = now.site.task(*task).kind.mode();
        if !matches!(mode, Mode::Live | Mode::Switching) {
            continue;
        }
        for person in now.people(*task) {
            if alone(job, *person, span).is_some() {
                out.add(Kind::Alone, now, facts![*task, *person]);
            }
        }
    }
}

/// W14 for an act at an instant.
pub(super) fn w14_after(now: &Now, act: &Act, out: &mut Report) {
    let job = now.site.job;
    let by = match act {
        Act::Open(by, _) | Act::Close(by, _) | Act::Prove(by, _) => by,
        _ => return,
    };
    let instant = Period::new(now.t.0, now.t.0 + 1);
    if let (Who::Person(person), Some(task)) = (by.who, by.task)
        && !stated(&job.policy.alone)
        && alone(job, person, instant).is_some()
        && !at_the_last_minute(now, task, person)
    {
        out.add(Kind::Alone, now, facts![task, person]);
    }
}

/// An act in the very minute in which others leave is still done beside them.
fn at_the_last_minute(now: &Now, task: TaskId, person: PersonId) -> bool {
    let begun = now.run(task).map_or(now.t, |r| r.start);
    begun < now.t && alone(now.site.job, person, Period::new(now.t.0 - 1, now.t.0)).is_none()
}

/// The first minute of `span` in which nobody but `person` is there.
fn alone(job: &Job, person: PersonId, span: Period) -> Option<Minutes> {
    let mut t = span.from;
    while t < span.to {
        let until = job
            .people
            .iter()
            .filter(|(p, _)| *p != person)
            .flat_map(|(_, row)| &row.present)
            .filter(|s| s.contains(t))
            .map(|s| s.to)
            .max();
        match until {
            Some(to) => t = to,
            None => return Some(t),
        }
    }
    None
}
