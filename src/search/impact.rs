//! What a schedule of a session costs in outages, quickly: enough to compare orders by.
//!
//! Everything that no order changes is looked up once, so that a schedule is priced from the times
//! of a few of its pieces.

use super::ground::Ground;
use super::price::{approx, load_outages};
use super::switching;
use crate::model::*;
use crate::network::State;
use crate::schedule::Schedule;
use crate::units::{Minutes, Period};
use crate::work::{Piece, Role, Session};
use std::collections::BTreeMap;

/// Which circuits go dead in a session, each with the dead set that takes it down.
pub struct Impact {
    cut: Vec<(CircuitId, usize)>,
}

impl Impact {
    /// What the sets of locks take down, one after the other.
    pub fn new(g: &Ground, state: &State, session: &Session) -> Impact {
        let mut cut: Vec<(CircuitId, usize)> = Vec::new();
        let mut state = state.clone();
        for (k, set) in session.dead.iter().enumerate() {
            cut.extend(g.lost(&state, &set.locks).into_iter().map(|c| (c, k)));
            state = state.with_locks(&set.locks);
        }
        Impact { cut }
    }

    /// Boards with circuits that the user does not want cut before some time are isolated so late
    /// that the first device is opened then, or not much later.
    pub fn hold_back(&self, g: &Ground, state: &State, session: &Session, parts: &mut [Piece]) {
        let mut state = state.clone();
        for (k, set) in session.dead.iter().enumerate() {
            let (flicks, after) = switching::make_dead(g, &state, &set.locks);
            state = after;
            let about = |c: &CircuitId| self.cut.iter().any(|(x, of)| x == c && *of == k);
            let times = g.labour.pins.iter().filter_map(|pin| match &pin.what {
                PinKind::NotBefore(c, t) if about(c) => Some(*t),
                _ => None,
            });
            let Some(time) = times.max() else { continue };
            // Each act has a minute at the task's end: a lock may be four of them, with its key.
            let most = 4 * flicks.len() + g.job.surges.len() + session.rest.len();
            for piece in parts.iter_mut().filter(|p| p.role == Role::Isolate(k)) {
                let idle = (piece.effort.planned.0 - most as i64).max(0);
                piece.release = piece.release.max(time - Minutes(idle));
            }
        }
    }
}

/// Minutes from the start of an energising until what it feeds is live.
const SWITCHED: i64 = 4;
/// A minute over what a load may be out, in the unit of the cost.
const TOO_LONG: i64 = 1_000_000;

/// When a circuit comes back: at the end of this piece, or some minutes after the start of the
/// last of these (at the end of everything where there is none).
enum Back {
    Tested(usize),
    Revived(Vec<usize>),
}

/// A circuit that goes dead.
struct Cut<'a> {
    circuit: CircuitId,
    /// The piece that takes it down; none if it is off, or on a temporary supply, when the session
    /// begins.
    isolated: Option<usize>,
    back: Back,
    ride: Option<Carried>,
    loads: &'a [LoadId],
}

/// The pieces between which a temporary supply carries a circuit.
#[derive(Clone, Copy)]
struct Carried {
    on: Option<usize>,
    off: Option<usize>,
}

/// A load that goes dead, priced in millionths.
struct Loss<'a> {
    load: &'a Load,
    /// The only circuit of those cut that it has, where any outage of that is one of the load.
    only: Option<usize>,
    needed: Vec<Period>,
    /// A minute in needed hours, and one in others.
    price: [i64; 2],
    longest: Option<i64>,
    rides: i64,
}

/// The pieces of a session, ready to be priced.
pub struct Priced<'a> {
    minutes: Vec<i64>,
    cuts: Vec<Cut<'a>>,
    losses: Vec<Loss<'a>>,
    /// Hooked up and unhooked, for each circuit on a temporary supply.
    carried: Vec<(Option<usize>, Option<usize>)>,
    /// A minute on a temporary supply.
    lead: i64,
    from: i64,
    to: i64,
}

fn thousandths(x: f64) -> i64 {
    (x * 1000.0).round() as i64
}

impl<'a> Priced<'a> {
    /// Looks up what the pieces do to whom; what temporary supplies cost only where waiting is searched.
    pub fn new(
        g: &'a Ground,
        impact: &Impact,
        session: &Session,
        parts: &[Piece],
        waits: bool,
    ) -> Priced<'a> {
        let find = |role: Role| parts.iter().position(|p| p.role == role);
        let revive = |b: BoardId| find(Role::Energise(b));
        let cuts: Vec<Cut> = (impact.cut.iter())
            .filter_map(|&(circuit, k)| {
                let route = &g.routes[circuit.index()];
                let moved = session.off.contains(&circuit) || session.on.contains(&circuit);
                let home = if moved { None } else { route.from.or(route.to) };
                let set = || -> Vec<usize> {
                    let of = |b: &&BoardId| session.dead[k].boards.contains(b);
                    session.alive.iter().filter(of).filter_map(|b| revive(*b)).collect()
                };
                let back = match find(Role::LiveTest(circuit)) {
                    Some(test) => Back::Tested(test),
                    None if session.waiting.contains(&circuit) => Back::Revived(Vec::new()),
                    None => {
                        let board = home.and_then(revive).or(route.to.and_then(revive));
                        Back::Revived(board.map_or_else(set, |b| vec![b]))
                    }
                };
                let ride = session.ride(circuit).and_then(|ride| {
                    let on = find(Role::SupplyOn(ride.supply));
                    let off = find(Role::SupplyOff(ride.supply));
                    (on.is_some() || off.is_some()).then_some(Carried {
                        on: on.filter(|_| ride.goes_on),
                        off: off.filter(|_| ride.comes_off),
                    })
                });
                let isolated = Some(find(Role::Isolate(k))?);
                let loads = g.loads_of[circuit.index()].as_slice();
                Some(Cut { circuit, isolated, back, ride, loads })
            })
            .chain(session.waited.iter().filter_map(|&circuit| {
                let back = Back::Tested(find(Role::LiveTest(circuit))?);
                let loads = g.loads_of[circuit.index()].as_slice();
                Some(Cut { circuit, isolated: None, back, ride: None, loads })
            }))
            .chain(session.rides.iter().filter(|r| r.comes_off && !r.goes_on).filter_map(|r| {
                let known = impact.cut.iter().any(|(c, _)| *c == r.circuit);
                let back = Back::Tested(find(Role::LiveTest(r.circuit)).filter(|_| !known)?);
                let ride = Carried { on: None, off: Some(find(Role::SupplyOff(r.supply))?) };
                let loads = g.loads_of[r.circuit.index()].as_slice();
                Some(Cut { circuit: r.circuit, isolated: None, back, ride: Some(ride), loads })
            }))
            .collect();
        let mut loads: Vec<LoadId> = cuts.iter().flat_map(|c| c.loads).copied().collect();
        loads.sort_unstable();
        loads.dedup();
        let span = Period { from: session.period.from, to: session.period.to + Minutes(1440) };
        let other = thousandths(approx(&g.job.policy.f));
        let losses = loads.into_iter().map(|id| {
            let load = &g.job.loads[id];
            let weight = thousandths(approx(&load.weight));
            let single = load.circuits.len() == load.quorum();
            let mut mine = (0..cuts.len()).filter(|i| cuts[*i].loads.contains(&id));
            let only = match (mine.next(), mine.next()) {
                (Some(one), None) if single => Some(one),
                _ => None,
            };
            Loss {
                load,
                only,
                needed: load.needed.iter().copied().filter(|n| n.overlaps(span)).collect(),
                price: [weight * 1000, weight * other],
                longest: load.max_single.map(|m| m.0),
                rides: load.ride_through.0,
            }
        });
        let losses = losses.collect();
        let carried = session.rides.iter().map(|r| {
            (find(Role::HookUp(r.circuit, r.supply)), find(Role::Unhook(r.circuit, r.supply)))
        });
        Priced {
            minutes: parts.iter().map(|p| p.effort.planned.0).collect(),
            carried: carried.collect(),
            cuts,
            losses,
            // Without waiting nothing keeps riders on longer than they have to be.
            lead: if waits { thousandths(approx(&g.job.policy.h)) * 1000 / 60 } else { 0 },
            from: session.period.from.0,
            to: session.period.to.0,
        }
    }

    /// What a minute of a session costs in which everything that it cuts is out.
    pub fn minute(&self, period: Period) -> i64 {
        let other = |loss: &Loss| !loss.needed.iter().any(|n| n.overlaps(period));
        let price = |loss: &Loss| loss.price[usize::from(other(loss))];
        self.losses.iter().map(price).sum()
    }

    /// The cost, in millionths of J, but for what no order changes.
    pub fn cost(&self, s: &Schedule) -> i64 {
        let end = |i: usize| s.start[i] + self.minutes[i];
        let last = (0..self.minutes.len()).map(end).max().unwrap_or(0);
        let mut total = 0;
        for loss in &self.losses {
            if let Some(only) = loss.only {
                let (spans, count) = self.spans(&self.cuts[only], s, last);
                for span in &spans[..count] {
                    total += loss.price_of(*span);
                }
            } else {
                let mut out: BTreeMap<CircuitId, Vec<Period>> = BTreeMap::new();
                for cut in self.cuts.iter().filter(|cut| loss.load.circuits.contains(&cut.circuit))
                {
                    let (spans, count) = self.spans(cut, s, last);
                    out.insert(cut.circuit, spans[..count].to_vec());
                }
                let of = |c: CircuitId| out.get(&c).cloned().unwrap_or_default();
                for span in load_outages(loss.load, &of) {
                    total += loss.price_of(span);
                }
            }
        }
        for &(on, off) in &self.carried {
            let (from, to) = (on.map_or(self.from, end), off.map_or(self.to, end));
            total += self.lead * (to - from).max(0);
        }
        // Of two that cost the same, the shorter night.
        total + last.max(0)
    }

    /// When a circuit is out: one span or two.
    fn spans(&self, cut: &Cut, s: &Schedule, last: i64) -> ([Period; 2], usize) {
        let end = |i: usize| s.start[i] + self.minutes[i];
        let from = cut.isolated.map_or(self.from, end);
        let back = match &cut.back {
            Back::Tested(test) => end(*test),
            Back::Revived(all) => all.iter().map(|i| s.start[*i] + SWITCHED).max().unwrap_or(last),
        };
        let back = back.max(from + 1);
        let nothing = Period::new(from, from);
        match cut.ride {
            None => ([Period::new(from, back), nothing], 1),
            Some(Carried { on, off }) => {
                let first = on.map(|on| Period::new(from, end(on).max(from + 1)));
                let second = off.map(|off| Period::new(end(off), back.max(end(off) + 1)));
                match (first, second) {
                    (Some(a), Some(b)) => ([a, b], 2),
                    (Some(a), None) | (None, Some(a)) => ([a, nothing], 1),
                    (None, None) => ([nothing, nothing], 0),
                }
            }
        }
    }
}

impl Loss<'_> {
    fn price_of(&self, span: Period) -> i64 {
        let over = |n: &Period| (n.to.min(span.to) - n.from.max(span.from)).0.max(0);
        let needed: i64 = self.needed.iter().map(over).sum();
        let length = span.length().0;
        let late = self.longest.map_or(0, |most| (length - self.rides - most).max(0));
        self.price[0] * needed + self.price[1] * (length - needed) + TOO_LONG * late
    }
}
