//! When a group may be run down for its full-duration test.
//!
//! A test may start at every minute from which rule E4 of the planning model holds: one full
//! recharge after the last thing that happened to the group, and, empty from its start to its end
//! and then on charge, with enough again whenever people are in. Groups of one area, or of areas
//! next to each other, are never run down at one time.

use crate::document::Input;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::ToPrimitive;

/// When a group may have its full-duration test.
pub struct Dates {
    /// As planned.
    pub planned: Minutes,
    /// Stretches of minutes at which it may start, in order; neighbours left out of account.
    pub starts: Vec<Period>,
    /// Groups never tested at one time with it.
    pub apart: Vec<GroupId>,
}

impl Dates {
    /// The stretch of starts in which it is planned.
    pub fn stretch(&self) -> Option<Period> {
        self.starts.iter().copied().find(|s| s.contains(self.planned))
    }

    /// The last minute within the time looked at at which it may still start.
    pub fn last(&self) -> Option<Minutes> {
        self.starts.last().map(|s| s.to - Minutes(1))
    }
}

/// The dates of a group; none if the plan has no test of it.
pub fn dates(input: &Input, g: GroupId) -> Option<Dates> {
    let job = input.sound.job();
    let planned = *input.sound.plan().claims.full_duration_tests.get(&g)?;
    let last = input.sound.replay().charge(g).last().map_or(job.span.from, |s| s.from);
    let ready = last + job.groups[g].recharge;
    let apart = job
        .groups
        .iter()
        .filter(|(o, other)| *o != g && input.labour.near(&job.groups[g].areas, &other.areas))
        .map(|(o, _)| o)
        .collect();
    Some(Dates { planned, starts: starts(input, g, ready), apart })
}

/// All tests of neighbours that overlap, as planned.
pub fn at_once(input: &Input) -> Vec<[GroupId; 2]> {
    let job = input.sound.job();
    let tests = &input.sound.plan().claims.full_duration_tests;
    let span =
        |g: &GroupId| tests.get(g).map(|t| Period { from: *t, to: *t + job.groups[*g].rated });
    let mut all = Vec::new();
    for one in job.groups.ids() {
        for two in job.groups.ids().filter(|two| one < *two) {
            let near = input.labour.near(&job.groups[one].areas, &job.groups[two].areas);
            let overlap = span(&one).zip(span(&two)).is_some_and(|(a, b)| a.overlaps(b));
            if near && overlap {
                all.push([one, two]);
            }
        }
    }
    all
}

fn starts(input: &Input, g: GroupId, ready: Minutes) -> Vec<Period> {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let group = &job.groups[g];
    let mut shut: Vec<Period> = Vec::new();
    for a in &group.areas {
        let area = &job.areas[*a];
        if area.measure.is_some() || area.autonomy <= Minutes::ZERO {
            continue;
        }
        let need = up(area.autonomy.exact() * group.recharge.exact() / group.rated.exact());
        for span in replay.occupied(*a).iter().filter(|s| s.from < job.span.to) {
            // Enough again at its start only if the test has ended, and the charge has come
            // back, by then; more than the rated duration never comes back.
            let before = group.rated + need;
            let from = if area.autonomy > group.rated {
                job.span.from
            } else {
                span.from - before + Minutes(1)
            };
            shut.push(Period { from, to: span.to });
        }
    }
    shut.sort_unstable();
    let mut free = Vec::new();
    let mut at = ready;
    let end = job.span.to - group.rated + Minutes(1);
    for span in shut.into_iter().chain([Period { from: end, to: end }]) {
        let to = span.from.min(end);
        if at < to {
            free.push(Period { from: at, to });
        }
        at = at.max(span.to);
    }
    free
}

/// Whole minutes, rounded up.
pub fn up(minutes: Exact) -> Minutes {
    Minutes(minutes.ceil().to_i64().unwrap_or(i64::MAX))
}

/// Autonomy as printed: rounded down to 15 minutes.
pub fn printed(charge: &Exact) -> i64 {
    (charge / whole(15)).floor().to_i64().unwrap_or(0) * 15
}
