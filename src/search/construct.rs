//! Which sessions, in which windows: candidates are built whole, priced exactly, and the best
//! is improved by moving units between sessions and on and off temporary supplies.

mod ahead;
mod close;
mod first;
mod link;
mod moves;
mod units;

pub use ahead::{Start, lead_first};

use self::ahead::beforehand;
use self::close::Close;
use self::first::first_decisions;
use self::moves::{lighten, refine};
use super::acts;
use super::build::{self, Spec, Unsafe};
use super::claims::{self, History};
use super::fit::{self, Effort, NoFit};
use super::ground::Ground;
use super::judge::{self, Trouble};
use super::pins;
use super::riders::{self, Riding};
use super::timing::Timed;
use crate::model::*;
use crate::schedule::Why;
use crate::units::{Exact, Minutes, Period};
use crate::work::{Project, Ride};
use std::cell::RefCell;
use std::collections::BTreeMap;

/// How many lists of windows are looked at in all their variants.
const BEST_LISTS: usize = 4;

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
        let stripped = (0..d.windows.len()).rev().find(|n| moving(*n)).unwrap_or(0);
        let spec = Spec {
            window,
            period,
            people,
            units,
            first: i == 0,
            last: i + 1 == d.windows.len(),
            strip: i == stripped,
            gone: i > stripped,
            riders: rides,
            tested: *tested,
            mount: if i == 0 && !mounted { project.new.clone() } else { Vec::new() },
            beforehand: if i == 0 && !mounted { beforehand(g, project) } else { Vec::new() },
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
        known.extend(timed.session.boards());
        sessions.push(timed);
    }
    let script = scribe.finish(&sessions);
    Ok(rested(g, sessions, script))
}

/// The candidate of these sessions, with rest mode for each group that would run too low
/// without: it is decided here because it moves no task.
pub fn rested(g: &Ground, mut sessions: Vec<Timed>, mut script: acts::Script) -> Candidate {
    loop {
        let history = claims::history(g, &script.tasks, &script.events);
        let mut troubles = judge::troubles(g, &sessions, &history);
        let broken = pins::broken(g, &script.tasks, &script.events, &history.out);
        troubles.extend(broken.into_iter().map(Trouble::Fixed));
        let low = troubles.iter().find_map(|t| match t {
            Trouble::Autonomy { group, .. } => Some(*group),
            _ => None,
        });
        let mut added = false;
        if let Some(group) = low.filter(|group| g.job.groups[*group].rest_mode) {
            for timed in &mut sessions {
                if timed.session.may_rest.contains(&group) && !timed.session.rest.contains(&group) {
                    timed.session.rest.push(group);
                    added = true;
                }
            }
        }
        if !added {
            return Candidate { sessions, history, troubles };
        }
        script = acts::script(g, &sessions);
    }
}

/// What goes before the names of a session's tasks.
fn tag(g: &Ground, nth: usize, session: usize) -> String {
    let visit = format!("{}", session + 1);
    if g.projects.len() == 1 { format!("{visit} ") } else { format!("{}.{visit} ", nth + 1) }
}

/// So many people who are there in a window, and the stretch of it for which all of them are.
pub fn team(
    g: &Ground,
    project: &Project,
    window: WindowId,
    count: usize,
) -> Option<(Vec<PersonId>, Period)> {
    let whole = g.job.windows[window].period;
    let mut period = whole;
    let mut people = Vec::new();
    for p in pins::team(g, project, lead_first(g)) {
        let spans = &g.job.people[p].present;
        let longest = spans
            .iter()
            .map(|s| Period { from: s.from.max(whole.from), to: s.to.min(whole.to) })
            .filter(|s| s.length() > Minutes::ZERO)
            .max_by_key(|s| s.length());
        if let Some(there) = longest
            && people.len() < count
        {
            let both = Period { from: period.from.max(there.from), to: period.to.min(there.to) };
            if both.length().0 * 2 >= whole.length().0 {
                period = both;
                people.push(p);
            }
        }
    }
    let enough = if g.job.policy.alone.is_some() { 1 } else { 2 };
    (people.len() == count && count >= enough).then_some((people, period))
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
    let mut consider = |d: Decision, e: Effort, best: &mut Option<(Candidate, Decision)>| {
        if d.windows.iter().any(|w| g.job.windows[*w].period.to > until) {
            return Tried::Missed { full: None };
        }
        let first = g.job.windows[d.windows[0]].period.from + d.offset;
        let start =
            begun.entry(first).or_insert_with(|| Start::new(g, before, project, nth, first));
        match build(g, start, project, nth, &d, e) {
            Ok(c) => {
                close.borrow_mut().note(&c, &d);
                if all_boards && c.troubles.is_empty() {
                    let cost = c.history.cost.total();
                    least = Some(least.take().map_or(cost.clone(), |l| l.min(cost)));
                }
                g.watch.tried(least.as_ref(), || g.bound().clone());
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
                g.watch.tried(least.as_ref(), || g.bound().clone());
                Tried::Missed { full }
            }
        }
    };
    // One decision for each list of windows first, evenly over those lists; then all that there is
    // for the best lists, since small changes seldom lead from one list to another.
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
    let step = lists.len().div_ceil(most).max(1);
    // Evenly over all of them, then between those, until enough of them came to something.
    let order = (0..step).flat_map(|first| (first..lists.len()).step_by(step));
    for (nth, at) in order.take(most * 8).enumerate() {
        if nth >= most && starts.len() >= most / 4 {
            break;
        }
        let mut best = None;
        start_from(lists[at][0].clone(), &mut best);
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
        let harder = Effort { moves: effort.moves.min(600), ..effort };
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
    for (_, d) in finalists {
        let mut best = None;
        consider(d.clone(), Effort { audit: true, ..quick }, &mut best);
        for seed in 0..2 {
            if g.watch.enough(best.as_ref().is_some_and(|(c, _)| c.troubles.is_empty())) {
                break;
            }
            let seed = effort.seed.wrapping_add(seed);
            consider(d.clone(), Effort { seed, audit: true, ..effort }, &mut best);
        }
        let Some(found) = best else { continue };
        let mut best = Some(found);
        // What looked dearer before its order was improved may be cheaper.
        let others = close.borrow_mut().take();
        for other in others.into_iter().filter(|o| *o != d) {
            let good = best.as_ref().is_some_and(|(c, _)| c.troubles.is_empty());
            if g.watch.enough(good) {
                break;
            }
            consider(other.clone(), Effort { audit: true, ..effort }, &mut best);
        }
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
