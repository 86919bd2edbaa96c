//! What is wrong with a candidate, in minutes: outage limits, life safety, autonomy.
//!
//! This is how the search tells candidates apart; whether a plan is safe to issue is for
//! `verify` alone.

use super::claims::History;
use super::emergency::{self, Course};
use super::ground::Ground;
use super::price;
use super::timing::Timed;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::Zero;

/// A limit that a candidate passes.
#[derive(Clone, Debug, PartialEq)]
pub enum Trouble {
    /// One outage of a load is so much longer than it may be (F2).
    TooLong {
        /// The load.
        load: LoadId,
        /// How long it may be out.
        limit: Minutes,
        /// How long it is.
        is: Exact,
    },
    /// All outages of a load together are (F2).
    TooMuch {
        /// The load.
        load: LoadId,
        /// How long it may be out.
        limit: Minutes,
        /// How long it is.
        is: Exact,
    },
    /// A life-safety load is out, and no measure is named (F3).
    LifeSafety {
        /// The load.
        load: LoadId,
        /// For how long, what its battery carries taken off.
        out: Exact,
    },
    /// An outage lies in no window that is open for it, or ends too close to its end (F1).
    Window {
        /// The load.
        load: LoadId,
        /// The outage.
        outage: Period,
        /// By so much.
        by: Minutes,
    },
    /// A group has too little left while its area is occupied (E3).
    Autonomy {
        /// The group.
        group: GroupId,
        /// Where.
        area: AreaId,
        /// When first.
        at: Minutes,
        /// Minutes of autonomy missing.
        short: Exact,
    },
    /// A group's feed and the lighting that it watches are parted between two acts (E1).
    Parted {
        /// The group.
        group: GroupId,
        /// When first.
        at: Minutes,
    },
    /// It does not keep what the user fixed, by its place in the labour's list.
    Fixed(usize),
    /// There is no time for a group's full-duration test within the time looked at (E4).
    NoTest {
        /// The group.
        group: GroupId,
    },
}

impl Trouble {
    /// How much is missing, in minutes, to tell near misses from far ones.
    pub fn minutes(&self) -> Exact {
        match self {
            Trouble::TooLong { limit, is, .. } | Trouble::TooMuch { limit, is, .. } => {
                is - limit.exact()
            }
            Trouble::LifeSafety { out, .. } => out.clone(),
            Trouble::Window { by, .. } => by.exact(),
            Trouble::Autonomy { short, .. } => short.clone(),
            Trouble::NoTest { .. } => whole(100),
            Trouble::Fixed(_) => whole(1_000),
            // No requirement to come nearer to: everything else is looked for first.
            Trouble::Parted { .. } => whole(10_000),
        }
    }
}

/// Everything that is wrong, in a fixed order.
pub fn troubles(g: &Ground, sessions: &[Timed], history: &History) -> Vec<Trouble> {
    let mut all = Vec::new();
    for (id, outages) in &history.outages {
        loads(g, *id, outages, &mut all);
    }
    let work_in = |area: AreaId| work_in(sessions, area);
    for id in g.job.groups.ids() {
        let course = course(history, id);
        if let Some((at, area, short)) = emergency::shortfall(g, id, course, &work_in) {
            all.push(Trouble::Autonomy { group: id, area, at, short });
        }
    }
    for (group, at) in g.job.groups.ids().zip(&history.parted) {
        all.extend(at.map(|at| Trouble::Parted { group, at }));
    }
    let dates = full_tests(g, sessions, history);
    let undated = g.job.groups.ids().zip(dates).filter(|(_, date)| date.is_none());
    all.extend(undated.map(|(group, _)| Trouble::NoTest { group }));
    all
}

/// When each group has its full-duration test.
pub fn full_tests(g: &Ground, sessions: &[Timed], history: &History) -> Vec<Option<Minutes>> {
    let earliest: Vec<Minutes> =
        g.job.groups.ids().map(|id| earliest_test(g, history, id)).collect();
    emergency::full_duration_tests(g, &earliest, &|area| work_in(sessions, area))
}

/// What happens to a group, for its charge.
pub fn course(history: &History, group: GroupId) -> Course<'_> {
    Course {
        dead: &history.feed_dead[group.index()],
        resting: &history.resting[group.index()],
        tested: &history.function_tests[group.index()],
    }
}

/// When people of the team are at work in an area.
pub fn work_in(sessions: &[Timed], area: AreaId) -> Vec<Period> {
    Period::merged(sessions.iter().flat_map(|t| {
        (0..t.pieces.len())
            .filter(move |i| t.pieces[*i].area == Some(area) && !t.crew[*i].is_empty())
            .map(|i| Period { from: t.start[i], to: t.end(i) })
    }))
}

/// No sooner than this may a group's full-duration test be: one recharge after the later of its
/// function test and the last return of its feed.
pub fn earliest_test(g: &Ground, history: &History, group: GroupId) -> Minutes {
    let tests = history.function_tests[group.index()].iter().map(|p| p.to);
    let returns = history.feed_dead[group.index()].iter().map(|p| p.to);
    let last = tests.chain(returns).max().unwrap_or(g.job.span.from);
    last + g.job.groups[group].recharge
}

fn loads(g: &Ground, id: LoadId, outages: &[Period], all: &mut Vec<Trouble>) {
    let load = &g.job.loads[id];
    let left_off = load.circuits.iter().any(|c| g.job.circuits[*c].left_off.is_some());
    let counted = price::counted(load, outages);
    let lengths: Vec<Exact> = counted.iter().map(|c| &c.to - &c.from).collect();
    if let (Some(limit), Some(longest)) = (load.max_single, lengths.iter().max())
        && *longest > limit.exact()
    {
        all.push(Trouble::TooLong { load: id, limit, is: longest.clone() });
    }
    let total: Exact = lengths.iter().sum();
    if let Some(limit) = load.max_total.filter(|l| total > l.exact()) {
        all.push(Trouble::TooMuch { load: id, limit, is: total.clone() });
    }
    if load.life_safety && load.measure.is_none() && !total.is_zero() {
        all.push(Trouble::LifeSafety { load: id, out: total });
    }
    if left_off {
        return;
    }
    for outage in outages {
        let room = g
            .job
            .windows
            .rows()
            .iter()
            .filter(|w| load.areas.iter().all(|a| w.areas.contains(a)))
            .filter(|w| w.period.from <= outage.from && outage.from < w.period.to)
            .map(|w| w.period.to - g.job.policy.margin)
            .max();
        let by = match room {
            Some(room) if outage.to <= room || load.may_stay_out => continue,
            Some(room) => outage.to - room,
            None => outage.length(),
        };
        all.push(Trouble::Window { load: id, outage: *outage, by });
    }
}
