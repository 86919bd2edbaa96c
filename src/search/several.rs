//! Several projects in one job: planned one after the other, each on its part where it has one.

use super::construct::{self, Candidate};
use super::fit::Effort;
use super::ground::Ground;
use super::part::Part;
use super::timing::Timed;
use super::{FEW_CIRCUITS, Options, Outcome, acts};
use crate::model::*;
use crate::units::Minutes;

/// How late each project may end, one list to be tried after the other: without limit; then each
/// leaves the later ones their share of the windows; then all with fewer windows, since what needs
/// the fewest is not always among the first that are tried.
pub(super) fn shares(g: &Ground) -> Vec<Vec<Minutes>> {
    let mut ends: Vec<Minutes> = g.job.windows.rows().iter().map(|w| w.period.to).collect();
    ends.sort_unstable();
    ends.dedup();
    let projects = g.projects.len();
    let mut all = vec![vec![Minutes(i64::MAX); projects]];
    for used in (1..=ends.len()).rev() {
        let end = |nth: usize| ends[((nth + 1) * used).div_ceil(projects.max(1)) - 1];
        all.push((0..projects).map(end).collect());
    }
    all.retain(|share| share.iter().any(|end| Some(end) != ends.last()));
    // Where there is no plan at all, every one of them takes its time in vain.
    all.truncate(4);
    all
}

/// The plan with the first of these shares that gives one, each project planned on its own part of the
/// job.
pub(super) fn in_parts(g: &Ground, shares: &[Vec<Minutes>], effort: Effort) -> Option<Candidate> {
    shares.iter().find_map(|share| one_by_one(g, share, effort))
}

/// Project after project, each on its own part of the job; nothing where one of them cuts what is
/// not in its part, or where what comes of it is wrong anywhere in the whole.
fn one_by_one(g: &Ground, until: &[Minutes], effort: Effort) -> Option<Candidate> {
    let mut sessions: Vec<Timed> = Vec::new();
    let mut scribe = acts::Scribe::new(g);
    for (nth, &until) in until.iter().enumerate() {
        let mut part = Part::of(g, nth)?;
        if let Some(busy) = sessions.iter().map(Timed::finish).max() {
            part.begin(busy + g.job.policy.break_length);
        }
        let mut ground = Ground::part_of(&part.job, &part.labour, g);
        // Who comes for one board costs no more for the next in the same visit.
        ground.attended = g.attended_by(sessions.iter().flat_map(Timed::work));
        if ground.projects.len() != 1 {
            return None;
        }
        let found = part_planned(&ground, until, effort)?;
        if !found.troubles.is_empty() {
            return None;
        }
        for timed in found.sessions.iter().map(|timed| part.in_whole(timed)) {
            let locks: Vec<DeviceId> =
                timed.session.dead.iter().flat_map(|set| set.locks.clone()).collect();
            let reaches = part.reaches(&g.lost(scribe.state(), &locks));
            if !reaches || scribe.add(&timed).is_some() {
                return None;
            }
            sessions.push(timed);
        }
    }
    let script = scribe.finish(&sessions);
    Some(construct::rested(g, sessions, script)).filter(|best| best.troubles.is_empty())
}

/// The plan of a part. Of a few circuits without emergency lighting waiting is searched too: here a
/// third of the moves pays for it, since the cheaper of both plans is taken.
fn part_planned(g: &Ground, until: Minutes, effort: Effort) -> Option<Candidate> {
    let found = construct::project(g, &[], 0, until, effort).ok();
    let few = g.job.circuits.len() <= FEW_CIRCUITS && g.job.groups.is_empty();
    let sound = |c: &Candidate| c.troubles.is_empty();
    let more = few && !effort.waits && effort.moves >= Options::LARGE.moves;
    if !more || g.watch.enough(found.as_ref().is_some_and(sound)) {
        return found;
    }
    let waits = Effort { waits: true, moves: effort.moves / 3, ..effort };
    let waiting = construct::project(g, &[], 0, until, waits).ok();
    found.into_iter().chain(waiting).min_by_key(Candidate::key)
}

/// Project after project, each the best after those before it.
pub(super) fn in_turn(g: &Ground, until: &[Minutes], effort: Effort) -> Result<Candidate, Outcome> {
    let mut sessions = Vec::new();
    let mut last = None;
    for (nth, &until) in until.iter().enumerate() {
        match construct::project(g, &sessions, nth, until, effort) {
            Ok(candidate) => {
                sessions.clone_from(&candidate.sessions);
                last = Some(candidate);
            }
            Err(misses) => return Err(Outcome::None { misses, troubles: Vec::new() }),
        }
    }
    match last {
        Some(best) if best.troubles.is_empty() => Ok(best),
        Some(best) => Err(Outcome::None { misses: Vec::new(), troubles: best.troubles }),
        None => Err(Outcome::None { misses: Vec::new(), troubles: Vec::new() }),
    }
}
