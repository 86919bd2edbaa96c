//! Every plan worth trying for a tiny job whose two boards are fed apart, by Dijkstra's method.
//!
//! **Jobs.** Old and new board side by side, each with a supply of its own; 1 to 3 circuits, all
//! prepared, one load each; one or two people; one instrument; no temporary supply. Windows are long,
//! and nothing is needed in them; no break falls due, and proofs last.
//!
//! **Plans.** One visit, of as many people as pay for themselves. Either board may be isolated,
//! proved and made live as often as it helps, so that circuits may move together, one by one or by
//! parts. Whoever locks a board makes it live again; whoever works at a board was at its proof; an
//! old board is covered before it is live. Every order, choice of people and useful wait is
//! tried: an isolation may start at any minute, everything else when something has just ended,
//! since only an isolation makes a minute dearer. Of an isolation the last act is at its end, with
//! the opening a minute before, or two where there are cartridges to take out.
//!
//! **What costs nothing.** The new board is tested and made live once, and locked and proved again,
//! before the first load is out; the old one is stripped out on another day, since no load hangs on
//! it (planning model, section 8: work outside windows costs no visit).

use super::tiny::Tiny;
use std::cmp::Reverse;
use std::collections::{BinaryHeap, HashMap};
use wayover::model::*;
use wayover::units::{Exact, whole};

/// What somebody may do; circuits by their numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Deed {
    Isolate(Side),
    Prove(Side),
    CoverOld,
    Energise(Side),
    Disconnect(u8),
    Connect(u8),
    DeadTest(u8),
    LiveTest(u8),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Side {
    Old,
    New,
}
use Deed::*;
use Side::{New, Old};

/// An outage in hours in which nothing is needed, in tenths of a weight.
const INTERRUPTED: i64 = 5;

/// A board: live, or locked by one person (as a bit), with the people who saw it proved as bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Board {
    locked_by: Option<u8>,
    proved_for: u8,
    open: bool,
    /// How often, 2 for more.
    isolated: u8,
}

/// Where everything stands. A circuit is on the old board, off it, connected, dead-tested, or in
/// service from the new one.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
struct Moment {
    stage: Vec<u8>,
    boards: [Board; 2],
    /// What is being done, minutes left, by whom as bits; in order.
    running: Vec<(Deed, u8, u8)>,
    fresh: bool,
}

struct Jobs<'a> {
    t: &'a Tiny,
    people: u8,
    weight: Vec<i64>,
    old: BoardId,
    new: BoardId,
}

/// The least cost of a plan, and who does what in it.
pub fn best(t: &Tiny, weight: &[i64]) -> (Exact, String) {
    let crews = (1..=t.job.people.len()).map(|people| {
        let (tenths, plan) = with(t, weight, people as u8);
        let visits = &t.job.policy.v * whole(people as i64);
        (Exact::new(tenths.into(), 10.into()) + visits, plan)
    });
    crews.min_by_key(|(j, _)| j.clone()).expect("somebody")
}

fn with(t: &Tiny, weight: &[i64], people: u8) -> (i64, String) {
    let board = |role: fn(BoardRole) -> bool| {
        t.job.boards.ids().find(|b| role(t.labour.boards[b.index()].role)).expect("a board")
    };
    let old = board(|r| r == BoardRole::Old);
    let new = board(|r| r != BoardRole::Old);
    let jobs = Jobs { t, people, weight: weight.to_vec(), old, new };
    let start = Moment {
        stage: vec![0; weight.len()],
        boards: [
            Board { locked_by: None, proved_for: 0, open: false, isolated: 0 },
            Board { locked_by: Some(1), proved_for: (1 << people) - 1, open: false, isolated: 2 },
        ],
        running: Vec::new(),
        fresh: true,
    };
    let mut queue = BinaryHeap::from([Reverse((0, 0_usize))]);
    // By number: the moment, its least cost so far, where it came from, what was begun there.
    let mut known = vec![(start.clone(), 0, 0, String::new())];
    let mut number = HashMap::from([(start, 0_usize)]);
    while let Some(Reverse((cost, at))) = queue.pop() {
        if cost > known[at].1 {
            continue;
        }
        let moment = known[at].0.clone();
        if moment.stage.iter().all(|s| *s == 4) {
            return (cost, told(&known, at));
        }
        for begun in jobs.choices(&moment) {
            let Some((next, minutes, price)) = jobs.next(&moment, &begun) else { continue };
            let cost = cost + price;
            let words = format!("{minutes} min, from {begun:?}");
            let fresh = *number.entry(next.clone()).or_insert(known.len());
            if fresh == known.len() {
                known.push((next, cost, at, words));
            } else if cost < known[fresh].1 {
                known[fresh] = (next, cost, at, words);
            } else {
                continue;
            }
            queue.push(Reverse((cost, fresh)));
        }
    }
    panic!("seed {}: no plan at all", t.seed)
}

fn told(known: &[(Moment, i64, usize, String)], mut at: usize) -> String {
    let mut lines = Vec::new();
    while at != 0 {
        lines.push(format!("{} (cost so far {})", known[at].3, known[at].1));
        at = known[at].2;
    }
    lines.reverse();
    lines.join("\n")
}

impl Jobs<'_> {
    fn deeds(&self) -> impl Iterator<Item = Deed> {
        let boards = [
            Isolate(Old),
            Prove(Old),
            CoverOld,
            Energise(Old),
            Isolate(New),
            Prove(New),
            Energise(New),
        ];
        let circuits = (0..self.weight.len() as u8)
            .flat_map(|c| [Disconnect(c), Connect(c), DeadTest(c), LiveTest(c)]);
        boards.into_iter().chain(circuits)
    }

    fn minutes(&self, at: &Moment, deed: Deed) -> u8 {
        let labour = &self.t.labour;
        let id = |s: Side| if s == Old { self.old } else { self.new };
        let board = |s: Side| &labour.boards[id(s).index()];
        let times = |s: Side| at.boards[s as usize].isolated;
        let circuit = |c: u8| &labour.circuits[usize::from(c)];
        let effort = match deed {
            Isolate(s) if times(s) > 0 => &board(s).isolate_again,
            Isolate(s) => &board(s).isolate,
            Prove(s) => {
                let b = &self.t.job.boards[id(s)];
                // The new board's terminals stay shrouded.
                let places = if s == Old { vec![b.incoming, b.ways] } else { vec![b.ways] };
                let again = times(s) > 1 || at.boards[s as usize].proved_for != 0;
                let one = |p: &PositionId| {
                    let labour = &labour.positions[p.index()];
                    if again { labour.prove_again.planned.0 } else { labour.prove.planned.0 }
                };
                return places.iter().map(one).sum::<i64>() as u8;
            }
            CoverOld => &board(Old).covers_again,
            Energise(s) => &board(s).energise_again,
            Disconnect(c) => &circuit(c).disconnect.prepared,
            Connect(c) => &circuit(c).connect.prepared,
            DeadTest(c) => &circuit(c).dead_test.prepared,
            LiveTest(c) => &circuit(c).live_test.prepared,
        };
        effort.planned.0 as u8
    }

    /// Who may begin this now, beside what runs: each choice of people as bits.
    fn crews(&self, at: &Moment, running: &[(Deed, u8, u8)], deed: Deed) -> Vec<u8> {
        if !at.fresh && !matches!(deed, Isolate(_)) {
            return Vec::new();
        }
        let runs = |d: Deed| running.iter().any(|r| r.0 == d);
        let dead_at = |s: Side| {
            running.iter().any(|r| match r.0 {
                Disconnect(_) | CoverOld => s == Old,
                Connect(_) | DeadTest(_) => s == New,
                Prove(other) => s == other,
                _ => false,
            })
        };
        let takes = |d: Deed| matches!(d, Prove(_) | DeadTest(_) | LiveTest(_));
        let board = |s: Side| &at.boards[s as usize];
        let stage = |c: u8| at.stage[usize::from(c)];
        let locked = |s: Side| board(s).locked_by.is_some() && !runs(Energise(s));
        let live = |s: Side| board(s).locked_by.is_none() && !runs(Isolate(s));
        let tested_live = running.iter().any(|r| matches!(r.0, LiveTest(_)));
        let may = match deed {
            Isolate(Old) => live(Old),
            Isolate(New) => live(New) && !tested_live,
            Prove(s) => locked(s),
            CoverOld => locked(Old) && board(Old).open && !dead_at(Old),
            Energise(Old) => locked(Old) && !board(Old).open && !dead_at(Old),
            Energise(New) => locked(New) && !dead_at(New),
            Disconnect(c) => stage(c) == 0 && locked(Old) && !runs(CoverOld),
            Connect(c) => stage(c) == 1 && locked(New),
            DeadTest(c) => stage(c) == 2 && locked(New),
            LiveTest(c) => stage(c) == 3 && live(New),
        };
        let instrument = takes(deed) && running.iter().any(|r| takes(r.0));
        if !may || runs(deed) || instrument {
            return Vec::new();
        }
        let busy = running.iter().fold(0, |x, r| x | r.2);
        let free = (0..self.people).map(|p| 1 << p).filter(|p| busy & p == 0);
        match deed {
            Prove(s) => {
                let all = free.fold(0, |x, p| x | p) & !board(s).proved_for;
                (1..1 << self.people).filter(|who| who & !all == 0).collect()
            }
            Energise(s) => free.filter(|p| board(s).locked_by == Some(*p)).collect(),
            Disconnect(_) | CoverOld => free.filter(|p| board(Old).proved_for & p != 0).collect(),
            Connect(_) | DeadTest(_) => free.filter(|p| board(New).proved_for & p != 0).collect(),
            Isolate(_) | LiveTest(_) => free.collect(),
        }
    }

    /// Everything that may be begun at this moment, the empty choice too.
    fn choices(&self, at: &Moment) -> Vec<Vec<(Deed, u8, u8)>> {
        let mut all = vec![Vec::new()];
        for deed in self.deeds() {
            for before in all.clone() {
                let running: Vec<_> = at.running.iter().chain(&before).copied().collect();
                for who in self.crews(at, &running, deed) {
                    let mut more = before.clone();
                    more.push((deed, self.minutes(at, deed), who));
                    all.push(more);
                }
            }
        }
        all
    }

    /// The next moment, how far off it is, and what is paid till then.
    fn next(&self, at: &Moment, begun: &[(Deed, u8, u8)]) -> Option<(Moment, i64, i64)> {
        let mut next = at.clone();
        next.running.extend(begun);
        let soonest = next.running.iter().map(|r| r.1).min()?;
        // Where an isolation could start at any minute, every minute is a moment.
        let waits = [Old, New].into_iter().any(|s| at.boards[s as usize].locked_by.is_none());
        let step = if waits { 1 } else { soonest };
        let out = |c: usize| match at.stage[c] {
            0 => at.boards[0].locked_by.is_some(),
            4 => at.boards[1].locked_by.is_some(),
            _ => true,
        };
        let rate: i64 = (0..self.weight.len()).filter(|c| out(*c)).map(|c| self.weight[c]).sum();
        let mut price = rate * i64::from(step);
        for (deed, _, _) in begun {
            // The cover is off from the start of what needs it off.
            if matches!(deed, Prove(Old) | Disconnect(_)) {
                next.boards[0].open = true;
            }
        }
        let (ended, mut running): (Vec<_>, Vec<_>) =
            next.running.iter().map(|r| (r.0, r.1 - step, r.2)).partition(|r| r.1 == 0);
        running.sort_unstable();
        next.running = running;
        next.fresh = !ended.is_empty();
        for (deed, _, who) in ended {
            match deed {
                Isolate(s) => {
                    let board = &mut next.boards[s as usize];
                    board.locked_by = Some(who);
                    board.isolated = (board.isolated + 1).min(2);
                    // Whoever was in service is out since the opening, once more.
                    let (from, opened) = if s == Old { (0, 1) } else { (4, 2) };
                    let hit = (0..self.weight.len()).filter(|c| at.stage[*c] == from);
                    price += hit.map(|c| self.weight[c] * (opened + INTERRUPTED)).sum::<i64>();
                }
                Prove(s) => next.boards[s as usize].proved_for |= who,
                CoverOld => next.boards[0].open = false,
                Energise(s) => {
                    let board = &mut next.boards[s as usize];
                    (board.locked_by, board.proved_for) = (None, 0);
                }
                Disconnect(c) => next.stage[usize::from(c)] = 1,
                Connect(c) => next.stage[usize::from(c)] = 2,
                DeadTest(c) => next.stage[usize::from(c)] = 3,
                LiveTest(c) => next.stage[usize::from(c)] = 4,
            }
        }
        Some((next, i64::from(step), price))
    }
}
