//! What the user has fixed: who may work where, whether a plan keeps it, what cannot all be kept.

use super::claims;
use super::ground::Ground;
use crate::model::*;
use crate::plan::{Act, Event, Plan};
use crate::units::{Minutes, Period};
use crate::work::{Piece, Project, Role, Session};
use std::collections::{BTreeMap, BTreeSet};

/// A board with those that its circuits move to or come from.
fn sides(g: &Ground, board: BoardId) -> BTreeSet<BoardId> {
    let ends = g.routes.iter().map(|r| [r.from, r.to]);
    let mut all: BTreeSet<BoardId> =
        ends.filter(|e| e.contains(&Some(board))).flatten().flatten().collect();
    all.insert(board);
    all.extend(g.job.boards[board].replaces);
    all.extend(g.job.boards.iter().filter(|(_, b)| b.replaces == Some(board)).map(|(id, _)| id));
    all
}

/// Whether a person is kept off a board.
fn kept_off(g: &Ground, person: PersonId, board: BoardId) -> bool {
    g.labour.pins.iter().any(|pin| match pin.what {
        PinKind::PersonOn(p, b) => p == person && !sides(g, b).contains(&board),
        PinKind::PersonNotOn(p, b) => p == person && b == board,
        _ => false,
    })
}

/// Who must not do a piece of work.
pub struct Barred(Vec<PersonId>);

impl Barred {
    /// Those who are kept off a board that the piece is at.
    pub fn at(g: &Ground, session: &Session, piece: &Piece) -> Barred {
        let about_people =
            |p: &Pin| matches!(p.what, PinKind::PersonOn(..) | PinKind::PersonNotOn(..));
        if !g.labour.pins.iter().any(about_people) {
            return Barred(Vec::new());
        }
        let of = |p: &PositionId| g.job.positions[*p].board;
        let mut boards: Vec<BoardId> = piece.board.into_iter().collect();
        boards.extend(piece.position.as_ref().and_then(of));
        match &piece.role {
            Role::Prove(at) => boards.extend(at.iter().filter_map(of)),
            Role::Isolate(k) | Role::LocksOff(k) => {
                boards.extend(session.dead.get(*k).map_or(&[][..], |set| &set.boards));
            }
            _ => {}
        }
        let barred = |p: &PersonId| boards.iter().any(|b| kept_off(g, *p, *b));
        Barred(session.people.iter().copied().filter(barred).collect())
    }

    /// Whether this is one of them.
    pub fn is(&self, person: PersonId) -> bool {
        self.0.contains(&person)
    }
}

/// Of these people those who may work on a board of the project, first those who may on each,
/// since the first of all isolates them.
pub fn team(g: &Ground, project: &Project, people: Vec<PersonId>) -> Vec<PersonId> {
    let boards = || project.old.iter().chain(&project.new);
    let off = |p: &PersonId| boards().filter(|b| kept_off(g, *p, **b)).count();
    let most = boards().count();
    let mut people: Vec<PersonId> =
        people.into_iter().filter(|p| most == 0 || off(p) < most).collect();
    people.sort_by_key(|p| off(p) > 0);
    people
}

/// The decisions that a plan does not keep, by their places in the labour's list, worked out from
/// its tasks and events alone.
pub fn not_kept(job: &Job, labour: &Labour, plan: &Plan) -> Vec<usize> {
    if labour.pins.is_empty() {
        return Vec::new();
    }
    let g = Ground::new(job, labour);
    let out = claims::history(&g, &plan.tasks, &plan.events).out;
    broken(&g, &plan.tasks, &plan.events, &out)
}

/// The same, with the times at which each circuit is out known already. Of circuits that no event
/// is about nothing is asked: a plan for some of the boards is judged by what there is of it.
pub fn broken(
    g: &Ground,
    tasks: &Table<TaskId, Task>,
    events: &[Event],
    out: &[Vec<Period>],
) -> Vec<usize> {
    if g.labour.pins.is_empty() {
        return Vec::new();
    }
    let seen = Seen::new(g, tasks, events, out);
    let pins = g.labour.pins.iter().enumerate();
    pins.filter(|(_, pin)| !seen.keeps(&pin.what)).map(|(i, _)| i).collect()
}

/// What a plan does, as far as decisions are about it.
struct Seen<'a> {
    g: &'a Ground<'a>,
    tasks: &'a Table<TaskId, Task>,
    events: &'a [Event],
    out: &'a [Vec<Period>],
    visits: Vec<Period>,
    /// By circuit: when it comes off its old way, or goes on its new one.
    moved: BTreeMap<CircuitId, Vec<Minutes>>,
    /// When any work on a circuit starts that is not ahead of its outage.
    worked: Vec<(CircuitId, Minutes)>,
    /// The supplies that each circuit was on.
    rode: BTreeSet<(CircuitId, SupplyId)>,
    /// Who was on which task.
    crews: Vec<(PersonId, TaskId)>,
    /// Boards of the places that a task proved.
    proved: Vec<(TaskId, BoardId)>,
    locked: BTreeSet<DeviceId>,
}

impl<'a> Seen<'a> {
    fn new(
        g: &'a Ground<'a>,
        tasks: &'a Table<TaskId, Task>,
        events: &'a [Event],
        out: &'a [Vec<Period>],
    ) -> Seen<'a> {
        let mut seen = Seen {
            g,
            tasks,
            events,
            out,
            visits: g.visits(),
            moved: BTreeMap::new(),
            worked: Vec::new(),
            rode: BTreeSet::new(),
            crews: Vec::new(),
            proved: Vec::new(),
            locked: BTreeSet::new(),
        };
        for event in events {
            seen.note(event);
        }
        seen
    }

    fn note(&mut self, event: &Event) {
        match &event.act {
            Act::Start { task, who, .. } => {
                let it = &self.tasks[*task];
                self.crews.extend(who.iter().map(|p| (*p, *task)));
                let ahead = matches!(it.kind, TaskKind::Identify | TaskKind::Prepare);
                if let Some(c) = it.circuit.filter(|_| !ahead) {
                    self.worked.push((c, event.at));
                    if matches!(it.kind, TaskKind::Disconnect | TaskKind::Connect) {
                        self.moved.entry(c).or_default().push(event.at);
                    }
                }
            }
            Act::Make(_, joint) => {
                if let Some((c, Place::On(s))) = self.g.job.joints[*joint].of {
                    self.rode.insert((c, s));
                }
            }
            Act::Prove(by, proof) => {
                let board = self.g.job.positions[proof.position].board;
                self.proved.extend(by.task.zip(board));
            }
            Act::Lock(_, device, ..) => {
                self.locked.insert(*device);
            }
            _ => {}
        }
    }

    fn keeps(&self, pin: &PinKind) -> bool {
        let moved = |c: &CircuitId| self.moved.get(c).map_or(&[][..], Vec::as_slice);
        let period = |w: &WindowId| self.g.job.windows[*w].period;
        let within = |w: &WindowId, t: &Minutes| period(w).from <= *t && *t < period(w).to;
        match pin {
            PinKind::CircuitIn(c, w) => moved(c).iter().all(|t| within(w, t)),
            PinKind::CircuitNotIn(c, w) => !moved(c).iter().any(|t| within(w, t)),
            PinKind::NotBefore(c, t) => {
                self.out[c.index()].iter().all(|o| o.from >= *t) && moved(c).iter().all(|m| m >= t)
            }
            PinKind::Together(all) => {
                let times = all.iter().flat_map(moved);
                let visits: BTreeSet<_> = times.map(|t| self.visit(*t)).collect();
                visits.len() <= 1
            }
            PinKind::PersonOn(p, b) => {
                let may = sides(self.g, *b);
                self.boards_of(*p).all(|x| may.contains(&x))
            }
            PinKind::PersonNotOn(p, b) => self.boards_of(*p).all(|x| x != *b),
            PinKind::RidesOn(c, s) => moved(c).is_empty() || self.rode.contains(&(*c, *s)),
            PinKind::RidesNotOn(c, s) => !self.rode.contains(&(*c, *s)),
            PinKind::RidesOnNone(c) => !self.rode.iter().any(|(x, _)| x == c),
            PinKind::AtMostVisits(n) => self.used().len() <= *n as usize,
            PinKind::WindowUnused(w) => {
                let others = self.g.job.windows.iter().filter(|(x, _)| x != w);
                let others: Vec<Period> = others.map(|(_, x)| x.period).collect();
                let elsewhere = |t: &Minutes| others.iter().any(|o| o.from <= *t && *t < o.to);
                self.at_work().all(|t| !within(w, &t) || elsewhere(&t))
            }
            PinKind::LockAt(d) => self.events.is_empty() || self.locked.contains(d),
            PinKind::NoLockAt(d) => !self.locked.contains(d),
        }
    }

    /// The boards at which a person has a task.
    fn boards_of(&self, person: PersonId) -> impl Iterator<Item = BoardId> + '_ {
        let tasks = self.crews.iter().filter(move |(p, _)| *p == person).map(|(_, t)| *t);
        tasks.flat_map(|t| {
            let task = &self.tasks[t];
            let at = task.position.and_then(|p| self.g.job.positions[p].board);
            let proved = self.proved.iter().filter(move |(x, _)| *x == t).map(|(_, b)| *b);
            at.into_iter().chain(task.board).chain(proved)
        })
    }

    /// When work on a circuit starts, and when one goes out.
    fn at_work(&self) -> impl Iterator<Item = Minutes> + '_ {
        let outages = self.out.iter().flatten().map(|o| o.from);
        self.worked.iter().map(|(_, t)| *t).chain(outages)
    }

    fn visit(&self, at: Minutes) -> Option<usize> {
        self.visits.iter().position(|v| v.from <= at && at < v.to)
    }

    /// The visits in which a circuit is worked on or goes out.
    fn used(&self) -> BTreeSet<usize> {
        self.at_work().filter_map(|t| self.visit(t)).collect()
    }
}

/// Decisions that cannot all be kept, whatever the plan: small sets, each proved from the words of
/// the decisions alone.
pub fn contradictions(g: &Ground) -> Vec<Vec<usize>> {
    let pins = &g.labour.pins;
    let mut all: Vec<Vec<usize>> = Vec::new();
    for (i, one) in pins.iter().enumerate() {
        for (k, two) in pins.iter().enumerate().skip(i + 1) {
            if clash(g, &one.what, &two.what) || clash(g, &two.what, &one.what) {
                all.push(vec![i, k]);
            }
        }
        if let PinKind::RidesOn(c, s) = &one.what
            && !g.job.joints.rows().iter().any(|j| j.of == Some((*c, Place::On(*s))))
        {
            all.push(vec![i]);
        }
    }
    all.extend(no_window_left(g));
    all
}

/// Circuits that move in one session.
fn tied(g: &Ground, a: CircuitId, b: CircuitId) -> bool {
    a == b || g.projects.iter().flat_map(|p| &p.units).any(|u| u.contains(&a) && u.contains(&b))
}

fn clash(g: &Ground, one: &PinKind, two: &PinKind) -> bool {
    let meet = |a: WindowId, b: WindowId| g.job.windows[a].period.overlaps(g.job.windows[b].period);
    match (one, two) {
        (PinKind::CircuitIn(a, v), PinKind::CircuitIn(b, w)) => tied(g, *a, *b) && !meet(*v, *w),
        (PinKind::CircuitIn(a, v), PinKind::CircuitNotIn(b, w)) => tied(g, *a, *b) && v == w,
        (PinKind::CircuitIn(_, v), PinKind::WindowUnused(w)) => v == w,
        (PinKind::CircuitIn(c, w), PinKind::NotBefore(b, t)) => {
            tied(g, *c, *b) && *t >= g.job.windows[*w].period.to
        }
        (PinKind::RidesOn(c, _), PinKind::RidesOnNone(x)) => c == x,
        (PinKind::RidesOn(c, s), PinKind::RidesNotOn(x, t)) => c == x && s == t,
        (PinKind::LockAt(d), PinKind::NoLockAt(e)) => d == e,
        _ => false,
    }
}

/// A unit whose every window is ruled out, and more visits than are allowed asked for by name.
fn no_window_left(g: &Ground) -> Vec<Vec<usize>> {
    let pins = || g.labour.pins.iter().enumerate();
    let mut all = Vec::new();
    for unit in g.projects.iter().flat_map(|p| &p.units) {
        let rules_out = |pin: &PinKind, w: WindowId| match pin {
            PinKind::CircuitNotIn(c, x) => unit.contains(c) && *x == w,
            PinKind::WindowUnused(x) => *x == w,
            PinKind::NotBefore(c, t) => unit.contains(c) && *t >= g.job.windows[w].period.to,
            _ => false,
        };
        let by: Vec<Option<usize>> = (g.job.windows.ids())
            .map(|w| pins().find(|(_, p)| rules_out(&p.what, w)).map(|(i, _)| i))
            .collect();
        if let Some(set) = by.into_iter().collect::<Option<BTreeSet<usize>>>() {
            let set: Vec<usize> = set.into_iter().collect();
            if !set.is_empty() && !all.contains(&set) {
                all.push(set);
            }
        }
    }
    let visits = g.visits();
    let visit = |w: &WindowId| {
        let from = g.job.windows[*w].period.from;
        visits.iter().position(|v| v.from <= from && from < v.to)
    };
    let mut named: BTreeMap<Option<usize>, usize> = BTreeMap::new();
    for (i, pin) in pins() {
        if let PinKind::CircuitIn(_, w) = &pin.what {
            named.entry(visit(w)).or_insert(i);
        }
    }
    for (i, pin) in pins() {
        if let PinKind::AtMostVisits(n) = pin.what
            && named.len() > n as usize
        {
            let mut set: Vec<usize> = named.values().copied().take(n as usize + 1).collect();
            set.push(i);
            all.push(set);
        }
    }
    all
}
