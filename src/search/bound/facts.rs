//! What the relaxations of the bound count with: minutes of work, and the price of a minute out.
//!
//! Prices are whole millionths of the cost, rounded down, so that every sum is one of integers and
//! every rounding lowers the bound. A reading of the model that all relaxations share: a circuit is
//! disconnected, connected and dead-tested at the position where its way there is bare. Nothing is
//! counted for isolating, proving and energising: an act may stand within another task, one task may
//! prove several positions, and any of them may run beside another.

use crate::model::*;
use crate::search::ground::Ground;
use crate::units::{Exact, Minutes, whole};
use num_traits::{One, ToPrimitive};

/// So many parts has one unit of cost.
pub const SCALE: i64 = 1_000_000;

/// An amount of cost in parts of [`SCALE`].
pub type Parts = i128;

/// The parts of an amount, rounded down.
pub fn parts(amount: &Exact) -> Parts {
    (amount * whole(SCALE)).floor().to_integer().to_i128().unwrap_or(0)
}

/// The least that work takes: minutes, and minutes times people.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Work {
    /// How long.
    pub minutes: i64,
    /// How long times how many.
    pub crew_minutes: i64,
    /// How many.
    pub people: i64,
}

impl Work {
    /// The least of some efforts, each figure on its own.
    pub fn least<'a>(efforts: impl IntoIterator<Item = &'a Effort>) -> Work {
        let each = efforts.into_iter().map(|e| {
            let people = i64::try_from(e.people).unwrap_or(0);
            Work { minutes: e.planned.0, crew_minutes: e.planned.0 * people, people }
        });
        let least = |a: Work, b: Work| Work {
            minutes: a.minutes.min(b.minutes),
            crew_minutes: a.crew_minutes.min(b.crew_minutes),
            people: a.people.min(b.people),
        };
        each.reduce(least).unwrap_or_default()
    }

    /// Both, one after the other.
    pub fn and(self, other: Work) -> Work {
        Work {
            minutes: self.minutes + other.minutes,
            crew_minutes: self.crew_minutes + other.crew_minutes,
            people: self.people.max(other.people),
        }
    }
}

/// A circuit that moves, with what hangs on it.
#[derive(Clone, Debug)]
pub struct Member {
    /// Which.
    pub circuit: CircuitId,
    /// Disconnect.
    pub off: Work,
    /// Connect.
    pub connect: Work,
    /// Dead test.
    pub dead_test: Work,
    /// Live test.
    pub live_test: Work,
    /// Minutes to put it on a temporary supply.
    pub hook_up: i64,
    /// Minutes to take it off one.
    pub unhook: i64,
    /// Price of a minute out of the loads that are counted with it.
    pub rate: Parts,
    /// Price of one counted outage of theirs.
    pub once: Parts,
    /// Minutes for which function tests hold its own device open, and how often, in a plan that gives
    /// switching its own time.
    pub opened: [i64; 2],
    /// What a minute on a temporary supply saves of `rate`; nothing if it cannot ride.
    pub saved: Parts,
    /// It can ride.
    pub rides: bool,
    /// Each outage of those loads lies in one window.
    pub tight: bool,
}

impl Member {
    /// Connect and dead test.
    pub fn back(&self) -> Work {
        self.connect.and(self.dead_test)
    }
}

/// The work on a circuit in its least state.
pub fn least(g: &Ground, c: CircuitId, of: impl Fn(&CircuitLabour) -> &Varied) -> Work {
    let labour = &g.labour.circuits[c.index()];
    let varied = of(labour);
    match labour.readiness {
        Readiness::Unprepared => Work::least([&varied.fresh]),
        _ => Work::least([&varied.fresh, &varied.prepared]),
    }
}

/// Whether a circuit is moved in every plan.
pub fn moves(g: &Ground, c: CircuitId) -> bool {
    let route = &g.routes[c.index()];
    !route.new.is_empty() && !route.old.is_empty() && g.job.circuits[c].left_off.is_none()
}

/// Whether some joint puts a circuit on a temporary supply.
pub fn may_ride(g: &Ground, c: CircuitId) -> bool {
    let on = |j: &Joint| matches!(j.of, Some((x, Place::On(_))) if x == c);
    g.job.joints.rows().iter().any(on)
}

/// The least share of its weight that a minute out of a load costs: 1 where each window open for
/// it lies within hours in which it is needed, else the smaller of 1 and `f`.
pub fn share(g: &Ground, load: &Load) -> Exact {
    let policy = &g.job.policy;
    let open = g.job.windows.rows().iter();
    let mut open = open.filter(|w| load.areas.iter().all(|a| w.areas.contains(a)));
    let needed =
        |w: &Window| load.needed.iter().any(|n| n.from <= w.period.from && w.period.to <= n.to);
    let free =
        load.may_stay_out || load.circuits.iter().any(|c| g.job.circuits[*c].left_off.is_some());
    if !free && open.all(needed) { Exact::one() } else { policy.f.clone().min(Exact::one()) }
}

/// The circuit with which a load is counted: one that it needs and that moves, best one that
/// cannot ride, then the one with the most work. None where it has a choice of circuits, a
/// battery, or may end off.
pub fn counted_with(g: &Ground, load: &Load) -> Option<CircuitId> {
    let all_moved = load.quorum() >= load.circuits.len();
    let may_end_off = load.circuits.iter().any(|c| g.job.circuits[*c].left_off.is_some());
    if !all_moved || may_end_off || load.ride_through > Minutes::ZERO {
        return None;
    }
    let work = |c: CircuitId| {
        least(g, c, |l| &l.connect).minutes
            + least(g, c, |l| &l.dead_test).minutes
            + least(g, c, |l| &l.live_test).minutes
    };
    let moved = load.circuits.iter().copied().filter(|c| moves(g, *c));
    moved.max_by_key(|c| (!may_ride(g, *c), work(*c), std::cmp::Reverse(*c)))
}

/// The circuits of `these`, with the loads that are counted with each.
pub fn members(g: &Ground, these: &[CircuitId]) -> Vec<Member> {
    let policy = &g.job.policy;
    let carrying = parts(&(&policy.h / whole(60)));
    let member = |c: CircuitId| {
        let mut m = Member {
            circuit: c,
            off: least(g, c, |l| &l.disconnect),
            connect: least(g, c, |l| &l.connect),
            dead_test: least(g, c, |l| &l.dead_test),
            live_test: least(g, c, |l| &l.live_test),
            hook_up: g.labour.circuits[c.index()].hook_up.planned.0,
            unhook: g.labour.circuits[c.index()].unhook.planned.0,
            rate: 0,
            once: 0,
            opened: function_tests(g, c),
            saved: 0,
            rides: may_ride(g, c),
            tight: true,
        };
        for id in &g.loads_of[c.index()] {
            let load = &g.job.loads[*id];
            if counted_with(g, load) == Some(c) {
                let rate = &load.weight * share(g, load);
                m.rate += parts(&rate);
                m.once += parts(&(rate * &policy.q));
                m.tight &= !load.may_stay_out;
            }
        }
        // Rounded down, `rate` is at most one part too small for each load: so is what riding saves.
        m.saved = if m.rides { (m.rate - carrying).max(0) } else { 0 };
        m
    };
    these.iter().map(|c| member(*c)).collect()
}

/// Minutes of the function tests of the groups that a circuit feeds, but for the first and the last
/// of each, and how many there are.
fn function_tests(g: &Ground, c: CircuitId) -> [i64; 2] {
    let fed = g.job.groups.iter().filter(|(_, group)| group.feed == c);
    let minutes = fed.map(|(id, _)| g.labour.groups[id.index()].function_test.planned.0 - 2);
    minutes.filter(|m| *m > 0).fold([0, 0], |[sum, n], m| [sum + m, n + 1])
}

/// The temporary supplies on which some of them can ride.
pub fn supplies(g: &Ground, members: &[Member]) -> Vec<SupplyId> {
    let of_members = |s: SupplyId| {
        let on = |j: &Joint| matches!(j.of, Some((c, Place::On(x))) if x == s && members.iter().any(|m| m.circuit == c));
        g.job.joints.rows().iter().any(on)
    };
    g.job.supplies.ids().filter(|s| of_members(*s)).collect()
}

/// `a / b` rounded up, for sums of work.
pub fn up(a: i64, b: i64) -> i64 {
    a / b.max(1) + i64::from(a % b.max(1) > 0)
}
