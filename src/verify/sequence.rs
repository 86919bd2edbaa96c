//! The order of section 3 for each circuit, board and emergency group (S3).

use super::breach::{Kind, Report, facts};
use super::now::Now;
use super::site::Site;
use crate::model::*;
use TaskKind::*;

/// The order of a circuit's work; those of one rank may come in turn.
fn circuit_rank(kind: TaskKind) -> Option<u8> {
    Some(match kind {
        Identify => 0,
        Disconnect => 1,
        HookUp | Unhook => 2,
        Connect => 3,
        DeadTest => 4,
        LiveTest => 5,
        _ => return None,
    })
}

/// Asked when a task starts: what has to come before it has been finished.
pub(super) fn start(now: &Now, id: TaskId, out: &mut Report) {
    let site = now.site;
    let row = site.task(id);
    if let (Some(c), Some(rank)) = (row.circuit, circuit_rank(row.kind)) {
        for (other, t) in site.plan.tasks.iter() {
            let earlier = t.circuit == Some(c) && circuit_rank(t.kind).is_some_and(|r| r < rank);
            // Marking and riding are the plan's choice; what it does of them comes before.
            let chosen = matches!(t.kind, Identify | HookUp | Unhook);
            let owed = !chosen || now.run(other).is_some();
            if earlier && owed && !now.passed(other) && other != id {
                out.add(Kind::OutOfOrder, now, facts![id, other]);
            }
        }
        match row.kind {
            Unhook if now.rides(c).is_none() => out.add(Kind::NothingToUnhook, now, facts![id]),
            Connect | HookUp => {
                for joint in site.own[c.index()].joints.iter().filter(|j| now.joints[j.index()]) {
                    out.add(Kind::StillJoined, now, facts![id, *joint]);
                }
            }
            _ => {}
        }
    }
    if let Some(b) = site.board_of(row).or(row.board) {
        board(now, id, b, out);
    }
    if let (FunctionTest, Some(g)) = (row.kind, row.group) {
        let group = &site.job.groups[g];
        for c in [group.feed, group.watches] {
            for test in site.tasks_of(c, LiveTest) {
                require(now, id, test, out);
            }
        }
    }
}

fn require(now: &Now, id: TaskId, before: TaskId, out: &mut Report) {
    if before != id && !now.passed(before) {
        out.add(Kind::OutOfOrder, now, facts![id, before]);
    }
}

fn at_board<'s>(site: &'s Site, b: BoardId, kind: TaskKind) -> impl Iterator<Item = TaskId> + 's {
    site.plan
        .tasks
        .iter()
        .filter(move |(_, t)| t.kind == kind && site.board_of(t) == Some(b))
        .map(|(id, _)| id)
}

fn board(now: &Now, id: TaskId, b: BoardId, out: &mut Report) {
    let site = now.site;
    let row = site.task(id);
    let here = site.board_of(row) == Some(b) && row.position.is_some();
    match row.kind {
        StripOut => {
            let own = site.board_own_nodes(b);
            for (j, joint) in site.job.joints.iter() {
                let on_it = own.contains(&joint.a) || own.contains(&joint.b);
                if joint.of.is_some() && now.joints[j.index()] && on_it {
                    out.add(Kind::StrippedConnected, now, facts![b, j]);
                }
            }
        }
        Mount => {
            if let Some(old) = site.job.boards[b].replaces
                && !now.stripped[old.index()]
            {
                out.add(Kind::OldBoardThere, now, facts![b, old]);
            }
        }
        TestBoard => {
            for kind in [FitSurge, ConnectTails] {
                for before in at_board(site, b, kind) {
                    require(now, id, before, out);
                }
            }
        }
        _ => {}
    }
    let works_there = matches!(row.kind.mode(), Mode::Dead | Mode::Live);
    if here && works_there && row.kind != Mount {
        for mount in at_board(site, b, Mount) {
            require(now, id, mount, out);
        }
        if now.stripped[b.index()] && row.kind != StripOut {
            out.add(Kind::BoardGone, now, facts![id, b]);
        }
    }
}
