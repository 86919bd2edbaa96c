//! Work ahead of a first outage: circuits identified, new boards beside the old ones mounted.

use crate::model::*;
use crate::search::acts;
use crate::search::build;
use crate::search::fit::{self, Effort};
use crate::search::ground::Ground;
use crate::search::pins;
use crate::search::timing::Timed;
use crate::units::{Minutes, Period};
use crate::work::Project;

/// What stands before a project's first outage: the sessions that are fixed already, and the
/// work ahead, as much as fits before that outage.
#[derive(Clone)]
pub struct Start<'a> {
    pub(super) sessions: Vec<Timed>,
    /// By circuit: prepared when its outage begins.
    pub(super) prepared: Vec<bool>,
    /// The new boards are mounted.
    pub(super) mounted: bool,
    /// They have been tested, and live once.
    pub(super) tested: bool,
    pub(super) scribe: acts::Scribe<'a>,
}

impl<'a> Start<'a> {
    /// Before a first outage at `first`.
    pub fn new(
        g: &'a Ground<'a>,
        before: &[Timed],
        project: &Project,
        nth: usize,
        first: Minutes,
    ) -> Start<'a> {
        let mut sessions = before.to_vec();
        let mut prepared: Vec<bool> =
            g.labour.circuits.iter().map(|c| c.readiness == Readiness::Prepared).collect();
        for timed in before {
            for c in &timed.session.identify {
                prepared[c.index()] = true;
            }
        }
        let (mounted, tested) = ahead(g, &mut sessions, project, nth, first, &mut prepared);
        let mut scribe = acts::Scribe::new(g);
        for timed in &sessions {
            scribe.add(timed);
        }
        Start { sessions, prepared, mounted, tested, scribe }
    }
}

pub(super) fn beforehand(g: &Ground, project: &Project) -> Vec<usize> {
    let stage = |t: &usize| g.labour.tails[*t].stage == TailsStage::Beforehand;
    project.tails.iter().copied().filter(stage).collect()
}

/// Whether the new boards can be tested and made live before anything is moved: their supply waits
/// for no other work.
fn fed_beforehand(g: &Ground, project: &Project) -> bool {
    let stage = |t: &usize| g.labour.tails[*t].stage;
    let own = |t: &&usize| project.new.contains(&g.labour.tails[**t].board);
    let mut tails = project.tails.iter().filter(own).peekable();
    let later = |t: &usize| {
        matches!(stage(t), TailsStage::SupplyEnd | TailsStage::CutIn | TailsStage::LinkOn)
    };
    tails.peek().is_some() && !project.tails.iter().any(later)
}

/// Work ahead of the first outage, as much as fits before it. Returns whether the new boards are
/// mounted then, and whether they have been live.
fn ahead(
    g: &Ground,
    sessions: &mut Vec<Timed>,
    project: &Project,
    nth: usize,
    until: Minutes,
    prepared: &mut [bool],
) -> (bool, bool) {
    let role = |b: &BoardId| g.labour.boards[b.index()].role;
    let beside: Vec<BoardId> =
        project.new.iter().copied().filter(|b| role(b) == BoardRole::NewBeside).collect();
    let mut scribe = acts::Scribe::new(g);
    for timed in sessions.iter() {
        scribe.add(timed);
    }
    let state = scribe.state().clone();
    let busy = sessions.iter().map(Timed::finish).max();
    // A break before and after, since each session counts its own stretch of work only.
    let rest = g.job.policy.break_length;
    let from = busy.map_or(g.job.span.from, |b| b + rest);
    let (outage, until) = (until, until - rest);
    if from >= until {
        return (false, false);
    }
    let period = Period { from, to: until };
    // No window ends while locks are on or a proof is relied on, so it may begin when one has ended.
    let ends: Vec<Minutes> = g.visits().into_iter().map(|v| v.to).collect();
    let begins: Vec<Minutes> = [from]
        .into_iter()
        .chain(ends.iter().copied().filter(|e| from < *e && *e < until))
        .collect();
    let identify: Vec<CircuitId> = (project.units.iter().flatten().copied())
        .filter(|c| g.labour.circuits[c.index()].readiness == Readiness::CanPrepare)
        .collect();
    let able = |p: &PersonId| g.job.people[*p].present.iter().any(|s| s.overlaps(period));
    let people: Vec<PersonId> =
        pins::team(g, project, lead_first(g)).into_iter().filter(able).collect();
    if people.is_empty() {
        return (false, false);
    }
    let whole = beside.len() == project.new.len() && !beside.is_empty();
    let live = whole && fed_beforehand(g, project);
    let mut tries = vec![
        (identify.clone(), beside.clone(), live),
        (identify.clone(), beside.clone(), false),
        (identify, Vec::new(), false),
        (Vec::new(), beside.clone(), live),
        (Vec::new(), beside, false),
    ];
    tries.retain(|(i, b, _)| !(i.is_empty() && b.is_empty()));
    tries.dedup();
    let tries = tries.into_iter().flat_map(|t| begins.iter().map(move |from| (t.clone(), *from)));
    // Its cover is off until the outage if it is not made live, and no window ends with a cover off
    // (F5).
    let bare = |b: &BoardId| {
        let board = &g.job.boards[*b];
        !(board.incoming_shrouded && board.ways_shrouded)
    };
    for ((identify, mount, live), from) in tries {
        if !live && mount.iter().any(bare) && ends.iter().any(|e| from < *e && *e <= outage) {
            continue;
        }
        let period = Period { from, to: period.to };
        let pair: Vec<PersonId> = if mount.is_empty() {
            people.clone()
        } else {
            people.iter().copied().take(2).collect()
        };
        let work = build::Ahead { identify: identify.clone(), mount: mount.clone(), live };
        let Ok(session) = build::ahead(g, &state, project, pair, period, work) else {
            continue;
        };
        // Only if nothing that is live goes dead by it.
        let locks: Vec<DeviceId> = session.dead.iter().flat_map(|s| s.locks.clone()).collect();
        if !g.lost(&state, &locks).is_empty() {
            continue;
        }
        let effort = Effort { moves: 0, tries: 0, seed: 0, audit: true, waits: false };
        let name = if g.projects.len() == 1 { "0 ".to_owned() } else { format!("{}.0 ", nth + 1) };
        let mut audit = |timed: &Timed| scribe.clone().add(timed);
        let fitted = fit::fit(g, &state, &session, prepared, &name, effort, &mut audit);
        let interrupted = |timed: &Timed| {
            let first = timed.start.iter().min().copied().unwrap_or(from);
            !locks.is_empty() && ends.iter().any(|e| first < *e && *e <= timed.finish())
        };
        if let Some(timed) = fitted.ok().filter(|timed| !interrupted(timed)) {
            for c in &identify {
                prepared[c.index()] = true;
            }
            sessions.push(timed);
            return (whole && !mount.is_empty(), live);
        }
    }
    (false, false)
}

/// Everybody, those first who may do most of what a lead does.
pub fn lead_first(g: &Ground) -> Vec<PersonId> {
    let leads = [TaskKind::Isolate, TaskKind::Energise, TaskKind::ProveDead];
    let mut people: Vec<PersonId> = g.job.people.ids().collect();
    people.sort_by_key(|p| {
        let may = &g.job.people[*p].may;
        (leads.iter().filter(|k| !may.contains(k)).count(), *p)
    });
    people
}
