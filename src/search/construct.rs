//! Which sessions, in which windows: candidates are built whole, priced exactly, and the best
//! is improved by moving units between sessions and on and off temporary supplies.

mod after;
mod ahead;
mod before;
mod close;
mod first;
mod link;
mod lists;
mod moves;
mod rest;
mod team;
mod units;

pub use ahead::{Start, lead_first};
pub use rest::rested;

use self::after::{Prepared, strip_after};
use self::ahead::beforehand;
use self::close::Close;
use self::first::first_decisions;
use self::lists::by_shape;
use self::moves::{fuller, lighten, other_riders, refine};
use self::team::team;
use self::units::allowed;
use super::build::{self, Spec, Unsafe};
use super::claims::History;
use super::fit::{self, Effort, NoFit};
use super::ground::Ground;
use super::judge::Trouble;
use super::riders::{self, Riding};
use super::side_by_side;
use super::timing::Timed;
use crate::model::*;
use crate::schedule::Why;
use crate::units::{Exact, Minutes, Period};
use crate::work::{Project, Ride};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// How many lists of windows are looked at in all their variants.
const BEST_LISTS: usize = 4;

/// How many decisions have their order improved a little, and how many of those at length, with so
/// many times the moves: a long run finds more than several short ones, but not always.
const SCREENED: usize = 10;
const LAST: usize = 2;
const LONGER: u64 = 4;

/// A whole candidate.
pub struct Candidate {
    /// Its sessions, in order of time.
    pub sessions: Vec<Timed>,
    /// What they come to.
    pub history: History,
    /// What is wrong with it.
    pub troubles: Vec<Trouble>,
}

impl Candidate {
    /// Less is better: what is wrong, then the cost, then the end.
    pub fn key(&self) -> (Exact, Exact, Minutes) {
        let wrong = self.troubles.iter().map(|t| t.minutes() + Exact::from_integer(1.into())).sum();
        (wrong, self.history.cost.total(), self.history.finish)
    }
}

/// Why a decision came to nothing.
#[derive(Clone, Debug)]
pub enum Miss {
    /// A board cannot be made safe.
    Unsafe(Unsafe),
    /// A session does not fit its window.
    NoFit(Box<NoFit>, WindowId),
    /// No window is open for what would be cut.
    NoWindow(Vec<AreaId>),
    /// Nobody is there, or too few.
    NoTeam(WindowId),
    /// A breaker comes after the last window in which it could be fitted.
    Late(CircuitId),
    /// A temporary supply would itself go dead in that window.
    Supply(SupplyId, WindowId),
}

/// The decisions for one project.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Decision {
    /// The windows of its sessions.
    pub windows: Vec<WindowId>,
    /// So many of the sessions come before the cut-in: what moves in them waits on the new board, or on
    /// a temporary supply, while the old one serves the others again.
    pub early: usize,
    /// The units of each session.
    pub split: Vec<Vec<usize>>,
    /// Who rides in each session.
    pub riding: Vec<Riding>,
    /// Units that come off in one session and wait on a temporary supply for a later one.
    pub late: Vec<Late>,
    /// How many take part.
    pub people: usize,
    /// How much later than the window each session begins.
    pub offset: Minutes,
    /// Connections done before riders come off, in parts of ten.
    pub gate: usize,
    /// The old boards are stripped out when the windows are over, since no load hangs on it: who does
    /// only that attends no visit.
    pub strip_after: bool,
}

/// A unit that rides from one session to a later one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Late {
    /// The unit.
    pub unit: usize,
    /// What carries it.
    pub supply: SupplyId,
    /// The session in which it goes on.
    pub on: usize,
    /// The session in which it comes off, and on its new way.
    pub off: usize,
}

/// Builds a decision, after the sessions that are fixed already.
///
/// # Errors
/// What stands in its way.
pub fn build(
    g: &Ground,
    start: &Start,
    project: &Project,
    nth: usize,
    d: &Decision,
    effort: Effort,
) -> Result<Candidate, Miss> {
    let Start { sessions, prepared, mounted, tested, scribe } = start;
    let (mut sessions, mounted, mut scribe) = (sessions.clone(), *mounted, scribe.clone());
    let mut known: Vec<BoardId> = Vec::new();
    let mounting = if needs_place(g, project) { d.early } else { 0 };
    for (i, &window) in d.windows.iter().enumerate() {
        let state = scribe.state().clone();
        let (people, period) = team(g, project, window, d.people).ok_or(Miss::NoTeam(window))?;
        let busy = sessions.iter().map(Timed::finish).max();
        let from = period.from + if i == 0 { d.offset } else { Minutes::ZERO };
        let from = from.max(g.job.span.from);
        // Between two boards in one window there is a break, since each session counts its own
        // stretch of work only.
        let rested = busy.map_or(from, |b| b + g.job.policy.break_length);
        let period = Period { from: from.max(rested), to: period.to };
        if period.length() <= Minutes::ZERO {
            return Err(Miss::NoTeam(window));
        }
        let staying: usize = d.split[i]
            .iter()
            .filter(|u| !d.riding[i].contains_key(u))
            .map(|u| project.units[*u].len())
            .sum();
        let mut units = d.split[i].clone();
        let mut rides = riders::rides(project, &d.riding[i]);
        for late in &d.late {
            if late.on == i {
                units.push(late.unit);
            }
            if late.on == i || late.off == i {
                rides.extend(project.units[late.unit].iter().map(|circuit| Ride {
                    circuit: *circuit,
                    supply: late.supply,
                    goes_on: late.on == i,
                    comes_off: late.off == i,
                }));
            }
        }
        let moving = |n: usize| !d.split[n].is_empty() || d.late.iter().any(|l| l.on == n);
        let last = (0..d.windows.len()).rev().find(|n| moving(*n)).unwrap_or(0);
        // The old board's tails come off in the cut-in, even if nothing is left on it by then.
        let stripped = last.max(d.early);
        let early = i < d.early;
        let waited = d.split[..i.min(d.early)].iter().flatten();
        let waited = waited.flat_map(|u| project.units[*u].iter().copied());
        let spec = Spec {
            early,
            waited: waited.collect(),
            window,
            period,
            people,
            units,
            first: i == d.early,
            last: i + 1 == d.windows.len(),
            strip: i == stripped && !d.strip_after,
            gone: i > stripped && !d.strip_after,
            riders: rides,
            tested: *tested,
            mount: if i == mounting && !mounted { project.new.clone() } else { Vec::new() },
            beforehand: if i == mounting && !mounted { beforehand(g, project) } else { Vec::new() },
            gate: staying * d.gate / 10,
        };
        let mut session =
            build::session(g, &state, project, &spec, &known).map_err(Miss::Unsafe)?;
        let locks: Vec<DeviceId> = session.dead.iter().flat_map(|s| s.locks.clone()).collect();
        let lost = g.lost(&state, &locks);
        session.may_rest =
            g.job.groups.ids().filter(|x| lost.contains(&g.job.groups[*x].feed)).collect();
        if !g.window_open(window, &lost) {
            return Err(Miss::NoWindow(g.areas_of(&lost)));
        }
        let carried = d.riding[i]
            .values()
            .copied()
            .chain(d.late.iter().filter(|l| l.on <= i && i <= l.off).map(|l| l.supply));
        let live = g.net.live(&state.with_locks(&locks));
        if let Some(supply) =
            carried.into_iter().find(|s| !g.net.live_node(&live, g.job.supplies[*s].feed))
        {
            return Err(Miss::Supply(supply, window));
        }
        let tag = tag(g, nth, i);
        let mut written = None;
        let mut audit = |timed: &Timed| {
            let mut next = scribe.clone();
            let missing = if effort.audit {
                next.add(timed)
            } else {
                next.write(timed);
                None
            };
            written = Some(next);
            missing
        };
        let timed = fit::fit(g, &state, &session, prepared, &tag, effort, &mut audit)
            .map_err(|n| Miss::NoFit(n, window))?;
        if let Some(next) = written {
            scribe = next;
        }
        // A new board that nothing feeds yet is not known as one that was proved.
        known.extend(timed.session.boards().filter(|b| !early || !project.new.contains(b)));
        sessions.push(timed);
    }
    if d.strip_after {
        let last = *d.windows.last().unwrap_or(&WindowId::new(0));
        let prepared = Prepared { circuits: prepared, known: &known };
        let timed =
            strip_after(g, project, &mut scribe, &sessions, prepared, tag(g, nth, d.windows.len()))
                .ok_or(Miss::NoTeam(last))?;
        sessions.push(timed);
    }
    let script = scribe.finish(&sessions);
    Ok(rested(g, sessions, script))
}

/// Whether a new board takes an old one's place.
fn needs_place(g: &Ground, project: &Project) -> bool {
    project.new.iter().any(|b| g.labour.boards[b.index()].role == BoardRole::NewSamePlace)
}

/// What goes before the names of a session's tasks.
fn tag(g: &Ground, nth: usize, session: usize) -> String {
    let visit = format!("{}", session + 1);
    if g.projects.len() == 1 { format!("{visit} ") } else { format!("{}.{visit} ", nth + 1) }
}

/// The best candidate for a project, after the sessions that are fixed already, that uses no window
/// which ends after `until`.
///
/// # Errors
/// Everything that stood in the way, if nothing fits.
pub fn project<'a>(
    g: &'a Ground<'a>,
    before: &[Timed],
    nth: usize,
    until: Minutes,
    effort: Effort,
) -> Result<Candidate, Vec<Miss>> {
    let project = &g.projects[nth];
    let mut misses: Vec<Miss> = Vec::new();
    let quick = Effort { moves: 0, audit: false, ..effort };
    let all_boards = nth + 1 == g.projects.len() && !g.partial;
    let mut least: Option<Exact> = None;
    // Much of what comes before an outage is the same for all that begin at one time.
    let mut begun: BTreeMap<Minutes, Start> = BTreeMap::new();
    let close = RefCell::new(Close::default());
    let mut settle =
        |d: Decision, built: Result<Candidate, Miss>, best: &mut Option<(Candidate, Decision)>| {
            let tried = match built {
                Ok(c) => {
                    close.borrow_mut().note(&c, &d);
                    if all_boards && c.troubles.is_empty() {
                        let cost = c.history.cost.total();
                        least = Some(least.take().map_or(cost.clone(), |l| l.min(cost)));
                    }
                    let better = best.as_ref().is_none_or(|(b, _)| c.key() < b.key());
                    if better {
                        *best = Some((c, d));
                    }
                    Tried::Built { better }
                }
                Err(miss) => {
                    let full = match &miss {
                        Miss::NoFit(_, window) => Some(*window),
                        _ => None,
                    };
                    misses.push(miss);
                    Tried::Missed { full }
                }
            };
            g.watch.tried(least.as_ref(), || g.bound().clone());
            tried
        };
    let in_time = |d: &Decision| d.windows.iter().all(|w| g.job.windows[*w].period.to <= until);
    let first = |d: &Decision| g.job.windows[d.windows[0]].period.from + d.offset;
    let mut consider = |d: Decision, e: Effort, best: &mut Option<(Candidate, Decision)>| {
        if !in_time(&d) {
            return Tried::Missed { full: None };
        }
        let first = first(&d);
        let start =
            begun.entry(first).or_insert_with(|| Start::new(g, before, project, nth, first));
        let built = build(g, start, project, nth, &d, e);
        settle(d, built, best)
    };
    // One decision for each list of windows first; then all that there is for the best lists, since
    // small changes seldom lead from one list to another.
    let mut lists: Vec<Vec<Decision>> = Vec::new();
    for d in first_decisions(g, before, project, until) {
        match lists.iter_mut().find(|list| list[0].windows == d.windows) {
            Some(list) => list.push(d),
            None => lists.push(vec![d]),
        }
    }
    let most = effort.tries.max(8);
    let mut good = false;
    let mut start_from = |d: Decision, best: &mut Option<(Candidate, Decision)>| {
        let mut next = Some(d);
        for _ in 0..8 {
            let Some(d) = next.take().filter(|_| !g.watch.enough(good)) else { break };
            let tried = consider(d.clone(), quick, best);
            good |= best.as_ref().is_some_and(|(c, _)| c.troubles.is_empty());
            // Where a session is too full, some of its units go to another.
            if let Tried::Missed { full: Some(window) } = tried {
                next = lighten(g, project, &d, window);
            }
        }
    };
    let mut starts: Vec<(usize, (Candidate, Decision))> = Vec::new();
    let lists = by_shape(g, project, lists);
    for (at, list) in lists.iter().enumerate().take(most * 8) {
        if at >= most && starts.len() >= most / 4 {
            break;
        }
        let mut best = None;
        start_from(list[0].clone(), &mut best);
        starts.extend(best.map(|found| (at, found)));
    }
    starts.sort_by_cached_key(|(_, (c, _))| c.key());
    starts.truncate(BEST_LISTS);
    let listed = starts.iter().map(|(at, _)| lists[*at].len()).sum::<usize>();
    let step = listed.div_ceil(most).max(1);
    let mut starts: Vec<(Candidate, Decision)> = (starts.into_iter())
        .filter_map(|(at, found)| {
            let mut best = Some(found);
            for d in lists[at].iter().skip(1).step_by(step) {
                start_from(d.clone(), &mut best);
            }
            best
        })
        .collect();
    if starts.is_empty() {
        // Where nothing fits at once, a better order may.
        let harder = Effort { waits: false, moves: effort.moves.min(600), ..effort };
        let mut one = None;
        for d in
            first_decisions(g, before, project, until).into_iter().take(effort.tries.div_ceil(4))
        {
            if g.watch.enough(one.is_some()) {
                break;
            }
            consider(d, harder, &mut one);
        }
        starts.extend(one);
    }
    starts.sort_by_cached_key(|(c, _)| c.key());
    let mut finalists: Vec<(Candidate, Decision)> = Vec::new();
    for (nth, (candidate, d)) in starts.into_iter().enumerate() {
        let mut one = Some((candidate, d.clone()));
        let good = finalists.iter().any(|(c, _)| c.troubles.is_empty());
        if nth < 2 && !g.watch.enough(good) {
            refine(g, project, d, quick, good, &mut one, &mut consider);
        }
        finalists.extend(one);
    }
    finalists.sort_by_cached_key(|(c, _)| c.key());
    // Proofs are followed act by act only here: it takes longer than all the rest of a candidate.
    let mut improve = |all: Vec<(Decision, Effort)>, best: &mut Option<(Candidate, Decision)>| {
        let all: Vec<_> = all.into_iter().filter(|(d, _)| in_time(d)).collect();
        for (d, _) in &all {
            let first = first(d);
            begun.entry(first).or_insert_with(|| Start::new(g, before, project, nth, first));
        }
        let begun = &begun;
        let good = best.as_ref().is_some_and(|(c, _)| c.troubles.is_empty());
        // The first of all is wanted whatever the brake says.
        let only = all.len() == 1 && best.is_none();
        let built = side_by_side(&all, |(d, e)| {
            (only || !g.watch.enough(good))
                .then(|| build(g, &begun[&first(d)], project, nth, d, *e))
        });
        for ((d, _), built) in all.into_iter().zip(built) {
            if let Some(built) = built {
                settle(d, built, best);
            }
        }
    };
    for (_, d) in finalists {
        let mut best = None;
        improve(vec![(d.clone(), Effort { audit: true, ..quick })], &mut best);
        // What looked dearer before its order was improved may be cheaper: all that are close, a
        // little, and then the best of them at length.
        let near = if effort.waits { close.borrow_mut().take() } else { Vec::new() };
        // A group that cannot be put at rest may be short of autonomy in any order.
        let awake = g.job.groups.rows().iter().any(|group| !group.rest_mode);
        if !effort.waits || awake || close.borrow().dark() {
            // Orders are improved for their cost and not for autonomy: each may turn out to have it.
            let at_once = Effort { audit: true, waits: false, ..effort };
            let again = Effort { seed: effort.seed.wrapping_add(1), ..at_once };
            improve(vec![(d.clone(), at_once), (d.clone(), again)], &mut best);
            let near = if effort.waits { near } else { close.borrow_mut().take() };
            let others = near.into_iter().filter(|other| *other != d);
            improve(others.map(|other| (other, at_once)).collect(), &mut best);
            match best {
                Some((candidate, _)) => return Ok(candidate),
                None => continue,
            }
        }
        let mut all: Vec<Decision> = vec![d.clone()];
        all.extend(near);
        for d in all.clone() {
            all.extend(fuller(g, project, &d));
        }
        let mut seen: Vec<Decision> = Vec::new();
        all.retain(|d| {
            !seen.contains(d) && allowed(g, project, d) && {
                seen.push(d.clone());
                true
            }
        });
        all.truncate(SCREENED);
        let some = Effort { audit: true, moves: effort.moves.div_ceil(6), ..effort };
        improve(all.into_iter().map(|d| (d, some)).collect(), &mut best);
        let best_so_far = close.borrow().cheapest().filter(|_| !g.job.supplies.is_empty());
        if let Some(d) = best_so_far {
            let mut all = other_riders(g, project, &d);
            all.retain(|d| !seen.contains(d));
            all.truncate(SCREENED);
            improve(all.into_iter().map(|d| (d, some)).collect(), &mut best);
        }
        let mut last: Vec<(Decision, Effort)> = Vec::new();
        let mut close = close.borrow_mut().take();
        if close.is_empty() {
            close.push(d);
        }
        for (nth, d) in close.into_iter().take(LAST).enumerate() {
            for (times, more) in [(LONGER, 0), (LONGER / 2, 1)].into_iter().skip(nth.min(1)) {
                let moves = effort.moves.saturating_mul(times);
                let seed = effort.seed.wrapping_add(more);
                last.push((d.clone(), Effort { moves, seed, audit: true, ..effort }));
            }
        }
        improve(last, &mut best);
        if let Some((candidate, _)) = best {
            return Ok(candidate);
        }
    }
    Err(misses)
}

/// What came of a decision.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Tried {
    /// A candidate, better or not than the best before.
    Built { better: bool },
    /// None; and the window that was too short, if that was it.
    Missed { full: Option<WindowId> },
}

type Consider<'c> = dyn FnMut(Decision, Effort, &mut Option<(Candidate, Decision)>) -> Tried + 'c;

/// In words for the search's own use: how far a session that did not fit was over.
pub fn over_by(miss: &Miss) -> Option<i64> {
    match miss {
        Miss::NoFit(no, _) => no.stuck.as_ref().and_then(|s| match s.why {
            Why::Late { by } => Some(by),
            _ => None,
        }),
        _ => None,
    }
}
