//! Work when the windows are over: old boards stripped out with nothing on them.

use super::ahead::lead_first;
use crate::model::*;
use crate::search::acts;
use crate::search::build;
use crate::search::fit::{self, Effort};
use crate::search::ground::Ground;
use crate::search::pins;
use crate::search::timing::Timed;
use crate::units::{Minutes, Period};
use crate::work::Project;

/// What came before: the circuits prepared, and the boards isolated once already.
pub(super) struct Prepared<'p> {
    pub(super) circuits: &'p [bool],
    pub(super) known: &'p [BoardId],
}

/// Whether nothing but tidiness hangs on when the old boards are stripped out: new boards stand
/// beside them with supplies of their own, nothing of the old tails is wanted, no outside person
/// has to be asked, and no other project comes after. Where there is emergency lighting people at work
/// are occupants, and nothing of this is tried.
pub(super) fn may_strip_after(g: &Ground, project: &Project) -> bool {
    let beside = |b: &BoardId| g.labour.boards[b.index()].role == BoardRole::NewBeside;
    let own = |t: &usize| {
        matches!(g.labour.tails[*t].stage, TailsStage::Beforehand | TailsStage::StripOut)
    };
    !g.partial
        && g.projects.len() == 1
        && g.labour.holds.is_empty()
        && g.job.groups.is_empty()
        && project.new.iter().all(beside)
        && project.tails.iter().all(own)
}

/// The old boards isolated, proved and stripped out in the first stretch between the windows that is
/// long enough, after these sessions. `None` if there is none, or if a load would go dead by it.
pub(super) fn strip_after(
    g: &Ground,
    project: &Project,
    scribe: &mut acts::Scribe,
    before: &[Timed],
    prepared: Prepared,
    tag: String,
) -> Option<Timed> {
    let state = scribe.state().clone();
    let done = before.iter().map(Timed::finish).max()? + g.job.policy.break_length;
    let visits = g.visits();
    let ends = visits.iter().map(|v| v.to).filter(|to| *to >= done);
    for from in ends {
        let next = visits.iter().map(|v| v.from).filter(|x| *x > from).min();
        let period = Period { from: from + Minutes(1), to: next.unwrap_or(g.job.span.to) };
        let there = |p: &PersonId| g.job.people[*p].present.iter().any(|s| s.overlaps(period));
        let mut people = pins::team(g, project, lead_first(g));
        people.retain(there);
        people.truncate(2);
        if people.len() < 2 {
            continue;
        }
        let Ok(session) = build::stripping(g, &state, project, people, period, prepared.known)
        else {
            continue;
        };
        let locks: Vec<DeviceId> = session.dead.iter().flat_map(|s| s.locks.clone()).collect();
        if !g.lost(&state, &locks).is_empty() {
            return None;
        }
        let effort = Effort { moves: 0, tries: 0, seed: 0, audit: true, waits: false };
        let mut written = None;
        let mut audit = |timed: &Timed| {
            let mut next = scribe.clone();
            let missing = next.add(timed);
            written = Some(next);
            missing
        };
        let fitted = fit::fit(g, &state, &session, prepared.circuits, &tag, effort, &mut audit);
        if let (Ok(timed), Some(next)) = (fitted, written) {
            *scribe = next;
            return Some(timed);
        }
    }
    None
}
