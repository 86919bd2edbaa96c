//! An old board and the new one that takes circuits of it over, with the work on either.

use super::facts::{Member, Work, members, moves, ways};
use crate::model::*;
use crate::search::ground::Ground;
use std::collections::BTreeSet;

/// Two boards, and what has to be done at them.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The board that goes.
    pub old: BoardId,
    /// The board that comes.
    pub new: BoardId,
    /// Circuits that go from the one to the other.
    pub members: Vec<Member>,
    /// How many of them can ride at once.
    pub ways: usize,
    /// Work on all circuits that leave the old board.
    pub off: Vec<Work>,
    /// Connection and dead test of all circuits that come to the new board.
    pub back: Vec<(Work, Work)>,
    /// How many can work at the old board's ways.
    pub hands_old: i64,
    /// How many can work at the new board's ways.
    pub hands_new: i64,
    /// Dead test of the new board.
    pub test: Work,
    /// Testers of the job.
    pub testers: i64,
    /// All that is out is out in one window.
    pub tight: bool,
}

/// All pairs of a job. Boards on which one way at a time may be worked while they are live are
/// left out, and circuits whose ways are not bare where the board is worked on.
pub fn pairs(g: &Ground) -> Vec<Pair> {
    let ends: BTreeSet<(BoardId, BoardId)> = g
        .job
        .circuits
        .ids()
        .filter(|c| moves(g, *c))
        .filter_map(|c| Some((g.routes[c.index()].from?, g.routes[c.index()].to?)))
        .collect();
    let whole = |b: BoardId| g.job.boards[b].one_way.is_none();
    let ends = ends.into_iter().filter(|(old, new)| old != new && whole(*old) && whole(*new));
    ends.map(|(old, new)| pair(g, old, new)).collect()
}

fn pair(g: &Ground, old: BoardId, new: BoardId) -> Pair {
    let leaves = |c: &CircuitId| moves(g, *c) && at(g, *c, old, Place::Old);
    let comes = |c: &CircuitId| moves(g, *c) && at(g, *c, new, Place::New);
    let of = |keep: &dyn Fn(&CircuitId) -> bool| -> Vec<CircuitId> {
        g.job.circuits.ids().filter(|c| keep(c)).collect()
    };
    let members = members(g, &of(&|c| leaves(c) && comes(c)));
    let labour = &g.labour.boards[new.index()];
    let (o, n) = (&g.job.boards[old], &g.job.boards[new]);
    let testers =
        g.job.instruments.rows().iter().filter(|i| i.kinds.iter().any(|k| k == TESTER)).count();
    Pair {
        old,
        new,
        ways: ways(g, &members),
        tight: members.iter().all(|m| m.tight),
        members,
        off: of(&leaves)
            .into_iter()
            .map(|c| super::facts::least(g, c, |l| &l.disconnect))
            .collect(),
        back: of(&comes)
            .into_iter()
            .map(|c| {
                let of = |w: fn(&CircuitLabour) -> &Varied| super::facts::least(g, c, w);
                (of(|l| &l.connect), of(|l| &l.dead_test))
            })
            .collect(),
        hands_old: g.job.positions[o.ways].hands.max(1),
        hands_new: g.job.positions[n.ways].hands.max(1),
        test: Work::least([&labour.test_board]),
        testers: i64::try_from(testers).unwrap_or(i64::MAX).max(1),
    }
}

/// Whether a way of the circuit is bare at the board's ways.
fn at(g: &Ground, c: CircuitId, board: BoardId, place: Place) -> bool {
    let bare = &g.job.positions[g.job.boards[board].ways].bare;
    let route = &g.routes[c.index()];
    let joints = if place == Place::Old { &route.old } else { &route.new };
    let ends = |j: &JointId| [g.job.joints[*j].a, g.job.joints[*j].b];
    !joints.is_empty() && joints.iter().all(|j| ends(j).iter().any(|n| bare.contains(n)))
}

impl Pair {
    /// How many live tests run at once with so many people.
    pub fn machines(&self, people: i64) -> i64 {
        self.testers.min(people)
    }

    /// The most minutes of these that fit beside each other at one position.
    pub fn at_hands(works: impl Iterator<Item = Work> + Clone, hands: i64, people: i64) -> i64 {
        let sum = works.clone().map(|w| w.crew_minutes).sum();
        let longest = works.map(|w| w.minutes).max().unwrap_or(0);
        super::facts::up(sum, hands.min(people)).max(longest)
    }
}
