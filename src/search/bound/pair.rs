//! An old board and the new one that takes circuits of it over, with the work on either.

use super::facts::{Member, Work, members, moves, supplies};
use super::own_tasks::reached;
use crate::model::*;
use crate::search::ground::Ground;
use crate::work::session::exposed;
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
    /// All that can ride do so on one supply, at whose box one person works while it is dead.
    pub one_box: bool,
    /// The least that switching a supply takes.
    pub switching_supplies: SwitchingSupplies,
    /// Work on tails during which nothing on either board is in service, in order.
    pub tails: Vec<Work>,
    /// The first of it leaves the old board without a supply, but for a link.
    pub old_tails_first: bool,
    /// Work on a temporary link that may feed one of the two from the other, so far as nothing on
    /// either is in service meanwhile; none if there is no link.
    pub link: Option<Work>,
    /// Stripping the old board out, where work at its ways lays open a node through which alone
    /// either board is fed: while anybody works there nothing on either is in service (W1).
    pub strip: Option<Work>,
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

/// Minutes that switching a temporary supply takes at least.
#[derive(Clone, Copy, Debug, Default)]
pub struct SwitchingSupplies {
    /// On.
    pub on: i64,
    /// Off and locked.
    pub off: i64,
    /// Proving its box again.
    pub prove: i64,
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
    let leads = supplies(g, &members);
    let shared = shared_tails(g, old, new);
    let (o, n) = (&g.job.boards[old], &g.job.boards[new]);
    let testers =
        g.job.instruments.rows().iter().filter(|i| i.kinds.iter().any(|k| k == TESTER)).count();
    Pair {
        old,
        new,
        ways: leads.iter().filter_map(|s| usize::try_from(g.job.supplies[*s].ways).ok()).sum(),
        one_box: leads.len() == 1 && leads.iter().all(|s| one_at_a_time(g, *s)),
        switching_supplies: switching_supplies(g, &leads),
        strip: opens_feed(g, old, new)
            .then(|| Work::least([&g.labour.boards[old.index()].strip_out])),
        link: link(g, old, new),
        old_tails_first: shared.first().is_some_and(|t| takes_off(g, old, new, t)),
        tails: shared.into_iter().map(|t| Work::least([&t.effort])).collect(),
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

/// Whether one person works at the box of a supply, and its end is bare there.
fn one_at_a_time(g: &Ground, supply: SupplyId) -> bool {
    let at = &g.job.positions[g.labour.supplies[supply.index()].position];
    at.hands <= 1 && at.bare.contains(&g.job.supplies[supply].node)
}

fn switching_supplies(g: &Ground, supplies: &[SupplyId]) -> SwitchingSupplies {
    let least = |of: &dyn Fn(&SupplyLabour) -> i64| {
        supplies.iter().map(|s| of(&g.labour.supplies[s.index()])).min().unwrap_or(0)
    };
    let box_ = |l: &SupplyLabour| &g.labour.positions[l.position.index()];
    SwitchingSupplies {
        on: least(&|l| l.energise.planned.0),
        off: least(&|l| l.isolate.planned.0),
        prove: least(&|l| box_(l).prove.planned.0.min(box_(l).prove_again.planned.0)),
    }
}

/// Whether a node is one through which alone either board is fed.
fn feeds_both(g: &Ground, old: BoardId, new: BoardId, node: NodeId) -> bool {
    let live = reached(g, Some(node), &[]);
    let dead = |n: &NodeId| *n != node && !live.contains(n);
    [old, new].into_iter().all(|b| {
        let ways = &g.job.positions[g.job.boards[b].ways];
        !ways.bare.is_empty() && ways.points.iter().chain(&ways.bare).all(dead)
    })
}

/// Work on joints at a node through which alone either board is fed: whoever does it has that node
/// secured (W1).
fn shared_tails<'a>(g: &Ground<'a>, old: BoardId, new: BoardId) -> Vec<&'a Tails> {
    let shared = |t: &&Tails| {
        let cut_in = t.stage == TailsStage::CutIn && (t.board == old || t.board == new);
        let ends = |j: &JointId| [g.job.joints[*j].a, g.job.joints[*j].b];
        let mut nodes = t.breaks.iter().chain(&t.makes).flat_map(ends);
        cut_in && nodes.any(|n| feeds_both(g, old, new, n))
    };
    g.labour.tails.iter().filter(shared).collect()
}

/// Whether work at the old board's ways lays open a node through which alone either board is fed.
fn opens_feed(g: &Ground, old: BoardId, new: BoardId) -> bool {
    let role = g.labour.boards[old.index()].role;
    role == BoardRole::Old && opens_feed_at(g, old, new, g.job.boards[old].ways)
}

fn opens_feed_at(g: &Ground, old: BoardId, new: BoardId, position: PositionId) -> bool {
    let open = exposed(g.job, position);
    let mut bare = open.iter().flat_map(|p| &g.job.positions[*p].bare);
    bare.any(|n| feeds_both(g, old, new, *n))
}

/// The work on a link between two boards.
fn link_tails<'a>(g: &Ground<'a>, old: BoardId, new: BoardId) -> impl Iterator<Item = &'a Tails> {
    g.labour.tails.iter().filter(move |t| {
        matches!(t.stage, TailsStage::LinkOn | TailsStage::LinkOff)
            && (t.board == old || t.board == new)
    })
}

/// Whether this work leaves the old board without a supply, but for a link.
fn takes_off(g: &Ground, old: BoardId, new: BoardId, tails: &Tails) -> bool {
    let links = link_tails(g, old, new).flat_map(|t| t.makes.iter().chain(&t.breaks));
    let apart: Vec<JointId> = tails.breaks.iter().chain(links).copied().collect();
    let live = reached(g, None, &apart);
    let mut ways = (g.routes.iter().filter(|r| r.from == Some(old))).flat_map(|r| &r.old);
    let dead =
        |j: &JointId| [g.job.joints[*j].a, g.job.joints[*j].b].iter().all(|n| !live.contains(n));
    tails.board == old && !tails.breaks.is_empty() && ways.all(dead)
}

/// See [`Pair::link`].
fn link(g: &Ground, old: BoardId, new: BoardId) -> Option<Work> {
    let work = |t: &Tails| match opens_feed_at(g, old, new, t.position) {
        true => Work::least([&t.effort]),
        false => Work::default(),
    };
    link_tails(g, old, new).map(work).reduce(Work::and)
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
