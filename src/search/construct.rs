//! Which sessions, in which windows: candidates are built whole, priced exactly, and the best
//! is improved by moving units between sessions and on and off temporary supplies.

use super::acts;
use super::build::{self, Spec, Unsafe};
use super::claims::{self, History};
use super::fit::{self, Effort, NoFit};
use super::ground::Ground;
use super::judge::{self, Trouble};
use super::riders::{self, Riding};
use super::timing::Timed;
use crate::model::*;
use crate::network::State;
use crate::schedule::Why;
use crate::units::{Exact, Minutes, Period};
use crate::work::{Project, Ride};
use num_traits::Zero;
use std::collections::BTreeMap;

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
    let Start { sessions, prepared, mounted, scribe } = start;
    let (mut sessions, mounted, mut scribe) = (sessions.clone(), *mounted, scribe.clone());
    let mut known: Vec<BoardId> = Vec::new();
    for (i, &window) in d.windows.iter().enumerate() {
        let state = scribe.state().clone();
        let (people, period) = team(g, window, d.people).ok_or(Miss::NoTeam(window))?;
        let busy = sessions.iter().map(Timed::finish).max();
        let from = period.from + if i == 0 { d.offset } else { Minutes::ZERO };
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
fn rested(g: &Ground, mut sessions: Vec<Timed>, mut script: acts::Script) -> Candidate {
    loop {
        let history = claims::history(g, &script.tasks, &script.events);
        let troubles = judge::troubles(g, &sessions, &history);
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

/// What stands before a project's first outage: the sessions that are fixed already, and the
/// work ahead, as much as fits before that outage.
#[derive(Clone)]
pub struct Start<'a> {
    sessions: Vec<Timed>,
    /// By circuit: prepared when its outage begins.
    prepared: Vec<bool>,
    /// The new boards are mounted.
    mounted: bool,
    scribe: acts::Scribe<'a>,
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
        let mounted = ahead(g, &mut sessions, project, nth, first, &mut prepared);
        let mut scribe = acts::Scribe::new(g);
        for timed in &sessions {
            scribe.add(timed);
        }
        Start { sessions, prepared, mounted, scribe }
    }
}

/// What goes before the names of a session's tasks.
fn tag(g: &Ground, nth: usize, session: usize) -> String {
    let visit = format!("{}", session + 1);
    if g.projects.len() == 1 { format!("{visit} ") } else { format!("{}.{visit} ", nth + 1) }
}

fn beforehand(g: &Ground, project: &Project) -> Vec<usize> {
    let stage = |t: &usize| g.labour.tails[*t].stage == TailsStage::Beforehand;
    project.tails.iter().copied().filter(stage).collect()
}

/// Work ahead of the first outage, as much as fits before it. Returns whether the new boards are
/// mounted then.
fn ahead(
    g: &Ground,
    sessions: &mut Vec<Timed>,
    project: &Project,
    nth: usize,
    until: Minutes,
    prepared: &mut [bool],
) -> bool {
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
    let until = until - rest;
    if from >= until {
        return false;
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
    let people: Vec<PersonId> = lead_first(g).into_iter().filter(able).collect();
    if people.is_empty() {
        return false;
    }
    let whole = beside.len() == project.new.len() && !beside.is_empty();
    let mut tries =
        vec![(identify.clone(), beside.clone()), (identify, Vec::new()), (Vec::new(), beside)];
    tries.retain(|(i, b)| !(i.is_empty() && b.is_empty()));
    let tries = tries.into_iter().flat_map(|t| begins.iter().map(move |from| (t.clone(), *from)));
    for ((identify, mount), from) in tries {
        let period = Period { from, to: period.to };
        let pair: Vec<PersonId> = if mount.is_empty() {
            people.clone()
        } else {
            people.iter().copied().take(2).collect()
        };
        let Ok(session) =
            build::ahead(g, &state, project, pair, period, identify.clone(), mount.clone())
        else {
            continue;
        };
        // Only if nothing that is live goes dead by it.
        let locks: Vec<DeviceId> = session.dead.iter().flat_map(|s| s.locks.clone()).collect();
        if !g.lost(&state, &locks).is_empty() {
            continue;
        }
        let effort = Effort { moves: 0, tries: 0, seed: 0, audit: true };
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
            return whole && !mount.is_empty();
        }
    }
    false
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

/// So many people who are there in a window, and the stretch of it for which all of them are.
pub fn team(g: &Ground, window: WindowId, count: usize) -> Option<(Vec<PersonId>, Period)> {
    let whole = g.job.windows[window].period;
    let mut period = whole;
    let mut people = Vec::new();
    for p in lead_first(g) {
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

/// How long the dead work of a unit takes, for splitting.
fn minutes_of(g: &Ground, project: &Project, unit: usize) -> i64 {
    project.units[unit]
        .iter()
        .map(|c| {
            let l = &g.labour.circuits[c.index()];
            let ready = l.readiness != Readiness::Unprepared;
            let of = |v: &Varied| if ready { v.prepared.planned.0 } else { v.fresh.planned.0 };
            of(&l.disconnect) + of(&l.connect) + of(&l.dead_test) + of(&l.live_test)
        })
        .sum()
}

/// When the last thing that a unit waits for is there. What comes after the last window holds
/// nothing up where the job says that the circuit may stay off.
fn ready_at(g: &Ground, project: &Project, unit: usize) -> Minutes {
    let last = g.job.windows.rows().iter().map(|w| w.period.to).max().unwrap_or_default();
    project.units[unit]
        .iter()
        .filter_map(|c| {
            let at = g.job.deliveries[g.labour.circuits[c.index()].delivery?];
            (at < last || g.job.circuits[*c].left_off.is_none()).then_some(at)
        })
        .max()
        .unwrap_or(Minutes(i64::MIN))
}

/// The best candidate for a project, after the sessions that are fixed already.
///
/// # Errors
/// Everything that stood in the way, if nothing fits.
pub fn project<'a>(
    g: &'a Ground<'a>,
    before: &[Timed],
    nth: usize,
    effort: Effort,
) -> Result<Candidate, Vec<Miss>> {
    let project = &g.projects[nth];
    let mut misses: Vec<Miss> = Vec::new();
    let quick = Effort { moves: 0, audit: false, ..effort };
    // Much of what comes before an outage is the same for all that begin at one time.
    let mut begun: BTreeMap<Minutes, Start> = BTreeMap::new();
    let mut consider = |d: Decision, e: Effort, best: &mut Option<(Candidate, Decision)>| {
        let first = g.job.windows[d.windows[0]].period.from + d.offset;
        let start =
            begun.entry(first).or_insert_with(|| Start::new(g, before, project, nth, first));
        match build(g, start, project, nth, &d, e) {
            Ok(c) => {
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
        }
    };
    // The best start for each number of sessions, since small changes seldom lead from one
    // number to another.
    let mut starts: BTreeMap<usize, Option<(Candidate, Decision)>> = BTreeMap::new();
    let spread = first_decisions(g, before, project);
    let most = effort.tries.max(8);
    let step = spread.len().div_ceil(most).max(1);
    let mut built = 0;
    // Evenly over all of them, then between those, until enough of them came to something.
    let order = (0..step).flat_map(|first| (first..spread.len()).step_by(step));
    for (nth, at) in order.take(most * 8).enumerate() {
        if nth >= most && built >= most / 4 {
            break;
        }
        let start = starts.entry(spread[at].windows.len()).or_default();
        let mut next = Some(spread[at].clone());
        for _ in 0..8 {
            let Some(d) = next.take() else { break };
            let tried = consider(d.clone(), quick, start);
            built += usize::from(matches!(tried, Tried::Built { .. }));
            // Where a session is too full, some of its units go to another.
            if let Tried::Missed { full: Some(window) } = tried {
                next = lighten(g, project, &d, window);
            }
        }
    }
    let mut starts: Vec<(Candidate, Decision)> = starts.into_values().flatten().collect();
    if starts.is_empty() {
        // Where nothing fits at once, a better order may.
        let harder = Effort { moves: effort.moves.min(600), ..effort };
        let mut one = None;
        for d in first_decisions(g, before, project).into_iter().take(effort.tries.div_ceil(4)) {
            consider(d, harder, &mut one);
        }
        starts.extend(one);
    }
    starts.sort_by_cached_key(|(c, _)| c.key());
    let mut finalists: Vec<(Candidate, Decision)> = Vec::new();
    for (nth, (candidate, d)) in starts.into_iter().enumerate() {
        let mut one = Some((candidate, d.clone()));
        if nth < 2 {
            refine(g, project, d, quick, &mut one, &mut consider);
        }
        finalists.extend(one);
    }
    finalists.sort_by_cached_key(|(c, _)| c.key());
    // Proofs are followed act by act only here: it takes longer than all the rest of a candidate.
    for (_, d) in finalists {
        let mut best = None;
        consider(d.clone(), Effort { audit: true, ..quick }, &mut best);
        for seed in 0..2 {
            let seed = effort.seed.wrapping_add(seed);
            consider(d.clone(), Effort { seed, audit: true, ..effort }, &mut best);
        }
        if let Some((candidate, _)) = best {
            return Ok(candidate);
        }
    }
    Err(misses)
}

/// The decision of the best so far, without borrowing it.
trait CloneDecision {
    fn clone_decision(&self) -> Option<((), Decision)>;
}

impl CloneDecision for Option<(Candidate, Decision)> {
    fn clone_decision(&self) -> Option<((), Decision)> {
        self.as_ref().map(|(_, d)| ((), d.clone()))
    }
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

/// The decision with some units moved out of a session that is too full, to the one that has
/// least to do, a later one if there is one.
fn lighten(g: &Ground, project: &Project, d: &Decision, window: WindowId) -> Option<Decision> {
    let i = d.windows.iter().position(|w| *w == window)?;
    let work = |n: usize| -> i64 {
        let room = g.job.windows[d.windows[n]].period.length().0 - overhead(g, project, n == 0);
        let used: i64 = d.split[n].iter().map(|u| minutes_of(g, project, *u)).sum();
        used * 1000 / room.max(1)
    };
    let to = (0..d.windows.len()).filter(|n| *n != i).min_by_key(|n| (work(*n), *n))?;
    let mut e = d.clone();
    let mut movable: Vec<usize> = e.split[i].clone();
    movable.sort_by_key(|u| (riders::weight(g, project, *u) * 1000.0) as i64);
    let some = movable.len().div_ceil(6);
    for unit in movable.into_iter().take(some) {
        let mut f = e.clone();
        f.split[i].retain(|u| *u != unit);
        f.split[to].push(unit);
        if let Some(supply) = f.riding[i].remove(&unit) {
            f.riding[to].insert(unit, supply);
        }
        if !f.split[i].is_empty() && allowed(g, project, &f) {
            e = f;
        }
    }
    (e != *d).then_some(e)
}

/// Small changes of the best decision, as long as they help.
fn refine(
    g: &Ground,
    project: &Project,
    start: Decision,
    effort: Effort,
    best: &mut Option<(Candidate, Decision)>,
    consider: &mut Consider,
) {
    let mut d = start;
    let mut tries = 0;
    loop {
        let mut better = false;
        for change in changes(g, project, &d) {
            tries += 1;
            if consider(change, effort, best) == (Tried::Built { better: true }) {
                better = true;
                break;
            }
            if tries >= effort.tries {
                return;
            }
        }
        match best.clone_decision() {
            Some((_, next)) if better => d = next,
            _ => return,
        }
    }
}

/// Neighbours of a decision, the most promising first.
fn changes(g: &Ground, project: &Project, d: &Decision) -> Vec<Decision> {
    let mut all = Vec::new();
    for people in [d.people.saturating_sub(1), d.people + 1] {
        if people >= 2 && people <= g.job.people.len() {
            all.push(Decision { people, ..d.clone() });
        }
    }
    for gate in [10usize, 8, 5, 0] {
        if gate != d.gate && d.riding.iter().any(|r| !r.is_empty()) {
            all.push(Decision { gate, ..d.clone() });
        }
    }
    for (i, riding) in d.riding.iter().enumerate() {
        for unit in riding.keys() {
            let mut e = d.clone();
            e.riding[i].remove(unit);
            all.push(e);
        }
    }
    let mut units: Vec<(usize, usize)> = Vec::new();
    for (i, split) in d.split.iter().enumerate() {
        units.extend(split.iter().map(|u| (i, *u)));
    }
    units.sort_by_key(|(_, u)| -(riders::weight(g, project, *u) * 1000.0) as i64);
    for (i, unit) in units {
        for j in 0..d.split.len() {
            let window = g.job.windows[d.windows[j]].period;
            if j == i || ready_at(g, project, unit) > window.to {
                continue;
            }
            let mut e = d.clone();
            e.split[i].retain(|u| *u != unit);
            e.split[j].push(unit);
            if let Some(supply) = e.riding[i].remove(&unit) {
                e.riding[j].insert(unit, supply);
            }
            // A session without work is none.
            if e.split[i].is_empty() && e.late.is_empty() {
                e.split.remove(i);
                e.riding.remove(i);
                e.windows.remove(i);
            }
            all.push(e);
        }
    }
    for i in 0..d.windows.len() {
        for w in g.job.windows.ids() {
            let order = |x: WindowId| g.job.windows[x].period;
            let after = i == 0 || order(d.windows[i - 1]) < order(w);
            let before = d.windows.get(i + 1).is_none_or(|n| order(w) < order(*n));
            if w != d.windows[i] && after && before {
                let mut e = d.clone();
                e.windows[i] = w;
                all.push(e);
            }
        }
    }
    all.retain(|e| allowed(g, project, e));
    all
}

/// Whether a decision keeps what the user fixed, the deliveries, and what a link carries.
fn allowed(g: &Ground, project: &Project, d: &Decision) -> bool {
    let fits = |i: usize, unit: usize| {
        let window = d.windows[i];
        ready_at(g, project, unit) < g.job.windows[window].period.to - Minutes(60)
            && pinned(g, project, unit, window) != Some(false)
    };
    let placed = d.split.iter().enumerate().all(|(i, units)| units.iter().all(|u| fits(i, *u)));
    let used = |w: &WindowId| !g.labour.pins.iter().any(|p| p.what == PinKind::WindowUnused(*w));
    placed && d.windows.iter().all(used) && link_holds(g, project, &d.split)
}

/// What the user fixed about a unit in a window: it must be there, it must not, or nothing.
fn pinned(g: &Ground, project: &Project, unit: usize, w: WindowId) -> Option<bool> {
    let mut verdict = None;
    for pin in &g.labour.pins {
        match &pin.what {
            PinKind::CircuitIn(c, at) if project.units[unit].contains(c) => {
                verdict = Some(*at == w);
            }
            PinKind::CircuitNotIn(c, at) if project.units[unit].contains(c) && *at == w => {
                return Some(false);
            }
            PinKind::NotBefore(c, t)
                if project.units[unit].contains(c) && g.job.windows[w].period.from < *t =>
            {
                return Some(false);
            }
            _ => {}
        }
    }
    verdict
}

/// A spread of whole decisions to start from.
fn first_decisions(g: &Ground, before: &[Timed], project: &Project) -> Vec<Decision> {
    let mut all = Vec::new();
    let unused = |w: &WindowId| g.labour.pins.iter().any(|p| p.what == PinKind::WindowUnused(*w));
    let busy = before.iter().filter(|t| t.session.window.is_some()).map(Timed::finish).max();
    let mut windows: Vec<WindowId> = g.job.windows.ids().filter(|w| !unused(w)).collect();
    windows.sort_by_key(|w| g.job.windows[*w].period);
    let state = acts::script(g, before).state;
    let circuits: Vec<CircuitId> = project.units.iter().flatten().copied().collect();
    windows.retain(|w| {
        let period = g.job.windows[*w].period;
        busy.is_none_or(|b| b < period.to) && g.window_open(*w, &circuits)
    });
    let needs_one =
        project.new.iter().any(|b| g.labour.boards[b.index()].role == BoardRole::NewSamePlace);
    let has = |stage| project.tails.iter().any(|t| g.labour.tails[*t].stage == stage);
    let only_one = needs_one || (has(TailsStage::CutIn) && !has(TailsStage::LinkOn));
    let most_visits = g.labour.pins.iter().find_map(|p| match p.what {
        PinKind::AtMostVisits(n) => Some(n as usize),
        _ => None,
    });
    let late = if only_one { late_riders(g, project, &windows, &state) } else { Vec::new() };
    let most = if only_one { 1 } else { 6 }.min(windows.len()).min(most_visits.unwrap_or(6));
    let orders = orders(g, project);
    let locks: Vec<DeviceId> = Vec::new();
    let enough = if g.job.policy.alone.is_some() { 1 } else { 2 };
    let longest = windows.iter().map(|w| g.job.windows[*w].period.length()).max();
    let long =
        |w: &WindowId| longest.is_some_and(|l| g.job.windows[*w].period.length().0 * 4 >= l.0 * 3);
    let mut lists = vec![windows.clone()];
    let long: Vec<WindowId> = windows.iter().copied().filter(long).collect();
    if long.len() < windows.len() {
        lists.insert(0, long);
    }
    for people in (enough..=g.job.people.len()).rev() {
        for (k, windows) in (1..=most).flat_map(|k| lists.iter().map(move |l| (k, l))) {
            for s in 0..(windows.len() + 1).saturating_sub(k).min(4) {
                let mut chosen: Vec<WindowId> = windows[s..s + k].to_vec();
                let prompt = |u: &usize| !late.iter().any(|(l, _)| l == u);
                let latest =
                    (0..project.units.len()).filter(prompt).map(|u| ready_at(g, project, u)).max();
                let last_ok = |w: &WindowId| {
                    latest.is_none_or(|l| g.job.windows[*w].period.to > l + Minutes(60))
                };
                if !last_ok(&chosen[k - 1]) {
                    let Some(later) = windows[s + k..].iter().find(|w| last_ok(w)) else {
                        continue;
                    };
                    chosen[k - 1] = *later;
                }
                for (n, order) in orders.iter().enumerate() {
                    if k == 1 && n > 0 {
                        break;
                    }
                    let order: Vec<usize> = order.iter().copied().filter(prompt).collect();
                    let Some(mut split) = split(g, project, &order, &chosen) else { continue };
                    let mut chosen = chosen.clone();
                    let Some(late) = wait(g, project, &late, windows, &mut chosen, &mut split)
                    else {
                        continue;
                    };
                    if k > 1 && !only_one {
                        all.extend(across(g, project, &order, &chosen, people, &state));
                    }
                    for all_ride in [false, true] {
                        let riding: Vec<Riding> = split
                            .iter()
                            .map(|units| {
                                riders::choose(g, project, units, &state, &locks, all_ride)
                            })
                            .collect();
                        if all_ride && riding.iter().all(Riding::is_empty) {
                            continue;
                        }
                        all.push(Decision {
                            windows: chosen.clone(),
                            split: split.clone(),
                            riding,
                            late: late.clone(),
                            people,
                            offset: Minutes::ZERO,
                            gate: 8,
                        });
                    }
                }
            }
        }
    }
    all.dedup();
    all
}

/// Units that an only session cannot wait for, each with a supply that may carry it meanwhile.
fn late_riders(
    g: &Ground,
    project: &Project,
    windows: &[WindowId],
    state: &State,
) -> Vec<(usize, SupplyId)> {
    let Some(first) = windows.first().map(|w| g.job.windows[*w].period) else { return Vec::new() };
    let mut all: Vec<(usize, SupplyId)> = Vec::new();
    for unit in 0..project.units.len() {
        if ready_at(g, project, unit) < first.to {
            continue;
        }
        let fits = |s: &SupplyId| {
            let mut on: Vec<usize> = all.iter().filter(|(_, x)| x == s).map(|(u, _)| *u).collect();
            on.push(unit);
            riders::can_ride(g, project, unit, *s)
                && riders::carries(g, project, &on, *s, state, &[])
        };
        if let Some(supply) = g.job.supplies.ids().find(fits) {
            all.push((unit, supply));
        }
    }
    all
}

/// What must not be out for as long as a session takes rides from the first session to the last.
fn across(
    g: &Ground,
    project: &Project,
    order: &[usize],
    windows: &[WindowId],
    people: usize,
    state: &State,
) -> Option<Decision> {
    let pressing = riders::choose(g, project, order, state, &[], false);
    if pressing.is_empty() {
        return None;
    }
    let rest: Vec<usize> = order.iter().copied().filter(|u| !pressing.contains_key(u)).collect();
    let split = split(g, project, &rest, windows)?;
    let off = windows.len() - 1;
    let late = pressing.into_iter().map(|(unit, supply)| Late { unit, supply, on: 0, off });
    Some(Decision {
        windows: windows.to_vec(),
        riding: vec![Riding::new(); split.len()],
        split,
        late: late.collect(),
        people,
        offset: Minutes::ZERO,
        gate: 8,
    })
}

/// Gives late units a session of their own, after the first: the earliest window in which all
/// that they wait for is there. `None` if there is no such window.
fn wait(
    g: &Ground,
    project: &Project,
    late: &[(usize, SupplyId)],
    windows: &[WindowId],
    chosen: &mut Vec<WindowId>,
    split: &mut Vec<Vec<usize>>,
) -> Option<Vec<Late>> {
    if late.is_empty() {
        return Some(Vec::new());
    }
    let ready = late.iter().map(|(u, _)| ready_at(g, project, *u)).max()?;
    let last = g.job.windows[*chosen.last()?].period.to;
    let window = windows.iter().find(|w| {
        let period = g.job.windows[**w].period;
        period.from >= last && period.from >= ready
    })?;
    chosen.push(*window);
    split.push(Vec::new());
    let off = chosen.len() - 1;
    Some(late.iter().map(|(u, s)| Late { unit: *u, supply: *s, on: 0, off }).collect())
}

/// Orders in which units may be dealt out to sessions: as they stand, light first, heavy first.
fn orders(g: &Ground, project: &Project) -> Vec<Vec<usize>> {
    let plain: Vec<usize> = (0..project.units.len()).collect();
    let key = |u: &usize| {
        let weight = riders::weight(g, project, *u) * 1000.0;
        (weight / minutes_of(g, project, *u).max(1) as f64) as i64
    };
    let mut light = plain.clone();
    light.sort_by_key(|u| (key(u), *u));
    let mut heavy = plain.clone();
    heavy.sort_by_key(|u| (-key(u), *u));
    vec![light, plain, heavy]
}

/// Deals units out to sessions in proportion to the time that each has, none before what it waits
/// for is there. `None` if one never is.
fn split(
    g: &Ground,
    project: &Project,
    order: &[usize],
    windows: &[WindowId],
) -> Option<Vec<Vec<usize>>> {
    let k = windows.len();
    let total: i64 = order.iter().map(|u| minutes_of(g, project, *u)).sum();
    let room: Vec<i64> = (windows.iter().enumerate())
        .map(|(i, w)| {
            let length = g.job.windows[*w].period.length() - g.job.policy.margin;
            (length.0 - overhead(g, project, i == 0)).max(1)
        })
        .collect();
    let all: i64 = room.iter().sum();
    let share: Vec<i64> = room.iter().map(|r| total * r / all + 1).collect();
    let mut split: Vec<Vec<usize>> = vec![Vec::new(); k];
    let mut used = vec![0i64; k];
    // Those that have to wait are dealt first, so that the others fill what is left.
    let mut order = order.to_vec();
    order.sort_by_key(|u| ready_at(g, project, *u) < g.job.windows[windows[0]].period.from);
    for unit in order {
        let ready = ready_at(g, project, unit);
        let allowed: Vec<usize> = (0..k)
            .filter(|i| ready < g.job.windows[windows[*i]].period.to - Minutes(60))
            .filter(|i| pinned(g, project, unit, windows[*i]) != Some(false))
            .collect();
        let place =
            allowed.iter().copied().find(|i| used[*i] < share[*i]).or(allowed.last().copied())?;
        used[place] += minutes_of(g, project, unit);
        split[place].push(unit);
    }
    // Empty sessions but the last, which strips out, are no sessions.
    if split.iter().any(Vec::is_empty) && k > 1 {
        return None;
    }
    link_carries(g, project, &mut split, windows).then_some(split)
}

/// Minutes of a session in which no circuit is moved: isolation, proof, energising, and in the
/// first one the tails.
fn overhead(g: &Ground, project: &Project, first: bool) -> i64 {
    let boards = project.boards().map(|b| &g.labour.boards[b.index()]);
    let each: i64 = boards.map(|b| (b.isolate.planned + b.energise_again.planned).0).sum();
    let stage = |t: &&usize| {
        matches!(
            g.labour.tails[**t].stage,
            TailsStage::CutIn | TailsStage::LinkOn | TailsStage::SupplyEnd
        )
    };
    let tails: i64 =
        project.tails.iter().filter(stage).map(|t| g.labour.tails[*t].effort.planned.0).sum();
    let tests: i64 =
        project.new.iter().map(|b| g.labour.boards[b.index()].test_board.planned.0).sum();
    30 + each + if first { tails + tests } else { 0 }
}

/// Moves units forward until what stays on the old board after the first session is no more than
/// its temporary link carries (T2).
fn link_carries(
    g: &Ground,
    project: &Project,
    split: &mut [Vec<usize>],
    windows: &[WindowId],
) -> bool {
    if split.len() < 2 {
        return true;
    }
    while let Some(line) = link_over(g, project, split) {
        let later: Vec<usize> = split[1..].iter().flatten().copied().collect();
        let first = g.job.windows[windows[0]].period;
        let movable = later.into_iter().filter(|u| ready_at(g, project, *u) < first.to);
        let heaviest =
            movable.map(|u| (amps(g, project, &[u], line), u)).filter(|(a, _)| !a.is_zero()).max();
        let Some((_, unit)) = heaviest else { return false };
        for part in split[1..].iter_mut() {
            part.retain(|u| *u != unit);
        }
        split[0].push(unit);
    }
    // Sessions that were emptied are none; the caller has decided on so many.
    split.iter().all(|part| !part.is_empty())
}

/// The design current of units on one line of the old board.
fn amps(g: &Ground, project: &Project, units: &[usize], line: Wire) -> Exact {
    let circuits = units.iter().flat_map(|u| &project.units[*u]);
    let of = |c: &CircuitId| -> Exact {
        let known = g.job.circuits[*c].amps.iter().filter(|(w, _)| *w == line);
        known.map(|(_, a)| a.0.clone()).sum()
    };
    circuits.map(of).sum()
}

/// A line on which the temporary links carry less than what stays on the old board after the
/// first session.
fn link_over(g: &Ground, project: &Project, split: &[Vec<usize>]) -> Option<Wire> {
    if !links_here(g, project) {
        return None;
    }
    let later: Vec<usize> = split.iter().skip(1).flatten().copied().collect();
    let links: Vec<&Device> = g.job.devices.rows().iter().filter(|d| d.temporary).collect();
    Wire::LINES.into_iter().find(|line| {
        let amps = amps(g, project, &later, *line);
        links.iter().any(|d| &amps * &d.diversity > d.rating.0)
    })
}

fn link_holds(g: &Ground, project: &Project, split: &[Vec<usize>]) -> bool {
    link_over(g, project, split).is_none()
}

fn links_here(g: &Ground, project: &Project) -> bool {
    project.tails.iter().any(|t| g.labour.tails[*t].stage == TailsStage::LinkOn)
}

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
