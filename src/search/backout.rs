//! What to do when the plan cannot be carried out: back or forward from every task, and the
//! point of no return of each visit (planning model, section 9).

use super::claims::History;
use super::ground::Ground;
use super::price;
use super::timing::Timed;
use crate::model::*;
use crate::plan::{BackOut, BackOutStep, BackOutTask, Checkpoint, PointOfNoReturn, Subject, Way};
use crate::units::{Exact, Minutes, Period};
use crate::work::Role;
use std::collections::BTreeMap;

/// The back-out of a whole plan. `sessions` are in order of time; the tasks of the plan stand in
/// the order of their pieces.
pub fn back_out(g: &Ground, sessions: &[Timed], history: &History) -> BackOut {
    let mut out = BackOut::default();
    let mut first = 0;
    let offsets: Vec<usize> = sessions
        .iter()
        .map(|t| {
            let offset = first;
            first += t.pieces.len();
            offset
        })
        .collect();
    for visit in g.visits() {
        let here: Vec<(usize, &Timed)> = sessions
            .iter()
            .zip(&offsets)
            .filter(|(t, _)| t.session.window.is_some() && visit.contains(t.session.period.from))
            .map(|(t, o)| (*o, t))
            .collect();
        if !here.is_empty() {
            Visit { g, visit, here, history }.write(&mut out);
        }
    }
    out
}

struct Visit<'a> {
    g: &'a Ground<'a>,
    visit: Period,
    here: Vec<(usize, &'a Timed)>,
    history: &'a History,
}

/// A task of the visit.
struct Bit {
    task: TaskId,
    from: Minutes,
    /// Its end.
    end: Minutes,
    /// Another begins in the same minute.
    paired: bool,
    /// Its last moment: to its end, and on to the next start of any task in the visit.
    to: Minutes,
    kind: TaskKind,
}

impl Visit<'_> {
    fn write(&self, out: &mut BackOut) {
        let bits = self.bits();
        let outages: Vec<Period> = (self.history.outages.values().flatten())
            .filter(|o| o.from < self.visit.to && self.visit.from < o.to)
            .copied()
            .collect();
        if outages.is_empty() {
            return;
        }
        let strip = bits.iter().filter(|b| b.kind == TaskKind::StripOut).map(|b| b.from).min();
        let point = self.for_whole_tasks(&bits, self.point_of_no_return(&bits, strip));
        let point = self.in_either_reading(&bits, point);
        for bit in &bits {
            let moments = self.moments(bit);
            if !moments.iter().any(|m| self.out_at(*m)) {
                continue;
            }
            let back = point.is_some_and(|p| bit.to <= p);
            out.steps.push(if back {
                let longest = self.longest_way_back(&moments);
                let minutes = length(&longest);
                BackOutStep { task: bit.task, way: Way::Back, acts: longest, minutes }
            } else {
                let minutes = moments.iter().map(|m| self.forward(*m)).max().unwrap_or_default();
                BackOutStep { task: bit.task, way: Way::Forward, acts: Vec::new(), minutes }
            });
        }
        out.points_of_no_return.push(PointOfNoReturn { visit: self.visit, at: point });
        self.checkpoints(&bits, point, out);
    }

    fn bits(&self) -> Vec<Bit> {
        let mut bits: Vec<Bit> = Vec::new();
        for (offset, timed) in &self.here {
            for i in 0..timed.pieces.len() {
                bits.push(Bit {
                    task: TaskId::new(offset + i),
                    from: timed.start[i],
                    end: timed.end(i),
                    paired: false,
                    to: timed.end(i),
                    kind: timed.pieces[i].kind,
                });
            }
        }
        bits.sort_by_key(|b| (b.from, b.task));
        let starts: Vec<Minutes> = bits.iter().map(|b| b.from).collect();
        for bit in &mut bits {
            bit.paired = starts.iter().filter(|s| **s == bit.from).count() > 1;
            let next = starts.iter().copied().find(|s| *s > bit.from);
            bit.to = bit.to.max(next.unwrap_or(bit.to));
        }
        bits
    }

    /// The moments of a task at which the answer may change: its first, its last, and every
    /// start and end of a task in between.
    fn moments(&self, bit: &Bit) -> Vec<Minutes> {
        let mut all = vec![bit.from, bit.to];
        for (_, timed) in &self.here {
            for i in 0..timed.pieces.len() {
                all.extend([timed.start[i], timed.end(i)]);
            }
        }
        for outage in self.history.outages.values().flatten() {
            all.extend([outage.from, outage.to]);
        }
        all.retain(|t| bit.from <= *t && *t <= bit.to);
        all.sort_unstable();
        all.dedup();
        all
    }

    fn out_at(&self, at: Minutes) -> bool {
        self.history.outages.values().flatten().any(|o| o.contains(at))
    }

    /// From a moment until every load then out is in service again under the plan.
    fn forward(&self, at: Minutes) -> Minutes {
        let ends = self.history.outages.values().flatten().filter(|o| o.contains(at)).map(|o| o.to);
        ends.max().map_or(Minutes::ZERO, |end| end - at)
    }

    /// The longest way back from any of the moments at which a load is out.
    fn longest_way_back(&self, moments: &[Minutes]) -> Vec<BackOutTask> {
        (moments.iter().filter(|m| self.out_at(**m)))
            .filter_map(|m| self.going_back(*m, *m))
            .max_by_key(|acts| length(acts))
            .unwrap_or_default()
    }

    /// The way back from `at`, with the work of `state_at` begun; none where a third party's
    /// device has no appointment left to be closed in.
    fn going_back(&self, state_at: Minutes, at: Minutes) -> Option<Vec<BackOutTask>> {
        let mut acts = self.undoing(state_at);
        let mut waiting = self.others_locked(state_at);
        let mut late = Minutes::ZERO;
        for act in &mut acts {
            act.at += late;
            let Some(Subject::Board(board)) = act.of.filter(|_| act.kind == TaskKind::Energise)
            else {
                continue;
            };
            while let Some(i) = waiting.iter().position(|(boards, _)| boards.contains(&board)) {
                let (_, device) = waiting.swap_remove(i);
                let from = at + act.at;
                let third = self.g.job.devices[device].third_party.as_ref()?;
                let meets = |a: &&Period| from.max(a.from) + act.minutes < a.to;
                let start = third.appointments.iter().filter(meets).map(|a| a.from.max(from)).min();
                late += start? - from;
                act.at += start? - from;
            }
        }
        Some(acts)
    }

    /// Third parties' devices that are locked open by then, with the boards that they keep dead.
    fn others_locked(&self, at: Minutes) -> Vec<(Vec<BoardId>, DeviceId)> {
        let mut all = Vec::new();
        for (_, timed) in &self.here {
            for (i, piece) in timed.pieces.iter().enumerate() {
                let Role::Isolate(k) = piece.role else { continue };
                if timed.start[i] <= at {
                    let set = &timed.session.dead[k];
                    let others =
                        set.locks.iter().filter(|d| self.g.job.devices[**d].third_party.is_some());
                    all.extend(others.map(|d| (set.boards.clone(), *d)));
                }
            }
        }
        all
    }

    /// The point of no return such that one figure does for each whole task before it: a way back
    /// that waits for an appointment is longest from the task's first moment, and is told for the
    /// last one too.
    fn for_whole_tasks(&self, bits: &[Bit], point: Option<Minutes>) -> Option<Minutes> {
        if self.g.job.devices.rows().iter().all(|d| d.third_party.is_none()) {
            return point;
        }
        let fails = |bit: &&Bit| {
            let moments = self.moments(bit);
            let minutes = length(&self.longest_way_back(&moments));
            moments.iter().any(|m| self.out_at(*m) && !self.in_limits(*m, *m + minutes))
        };
        let before = bits.iter().filter(|b| point.is_some_and(|p| b.to <= p));
        match before.filter(fails).map(|b| b.to).min() {
            Some(to) => Some(to - Minutes(1)).filter(|p| *p >= self.visit.from),
            None => point,
        }
    }

    /// The point of no return at or before this one that parts the tasks alike whether the next start
    /// after a task may be that of another in the same minute or not.
    fn in_either_reading(&self, bits: &[Bit], point: Option<Minutes>) -> Option<Minutes> {
        let mut point = point?;
        let parted = |p: Minutes| {
            let parted = bits.iter().filter(|b| b.paired && b.end <= p && p < b.to);
            parted.map(|b| b.end).min()
        };
        while let Some(end) = parted(point) {
            point = end - Minutes(1);
        }
        Some(point).filter(|p| *p >= self.visit.from)
    }

    /// How the boards are put back as they stood when the visit began.
    fn undoing(&self, at: Minutes) -> Vec<BackOutTask> {
        let testers = self.g.job.instruments.rows().iter();
        let testers = testers.filter(|i| i.kinds.iter().any(|k| k == TESTER)).count();
        let mut crew = Crewing::new(self.people());
        let at_least = self.planned();
        let (mut undo, mut redo, mut test, mut tails) = (vec![], vec![], vec![], vec![]);
        let mut live = Vec::new();
        for (_, timed) in &self.here {
            for (i, piece) in timed.pieces.iter().enumerate() {
                if timed.start[i] > at {
                    continue;
                }
                let labour = |c: CircuitId| &self.g.labour.circuits[c.index()];
                let one =
                    |kind, c, e: &Effort| (kind, Some(Subject::Circuit(c)), e.planned, e.people);
                match piece.role {
                    Role::Connect(c) => {
                        undo.push(one(TaskKind::Disconnect, c, &labour(c).disconnect.fresh));
                    }
                    Role::HookUp(c, _) if !self.is_off_again(c, at) => {
                        undo.push(one(TaskKind::Unhook, c, &labour(c).unhook));
                    }
                    Role::Disconnect(c) => {
                        redo.push(one(TaskKind::Connect, c, &labour(c).connect.fresh));
                        test.push(one(TaskKind::DeadTest, c, &labour(c).dead_test.fresh));
                        live.push(one(TaskKind::LiveTest, c, &labour(c).live_test.fresh));
                    }
                    Role::Tails(t) => {
                        let tails_of = &self.g.labour.tails[t];
                        let board = Some(Subject::Board(tails_of.board));
                        let e = &piece.effort;
                        tails.push((TaskKind::ConnectTails, board, e.planned, e.people));
                    }
                    _ => {}
                }
            }
        }
        crew.all(&undo, usize::MAX);
        crew.all(&tails, usize::MAX);
        crew.all(&redo, usize::MAX);
        crew.all(&test, testers);
        crew.join();
        for board in self.boards() {
            let b = &self.g.labour.boards[board.index()];
            if self.g.labour.boards[board.index()].role != BoardRole::NewSamePlace {
                if !self.shrouded(board) {
                    let covers = &b.covers_again;
                    crew.one(TaskKind::FitCovers, Some(Subject::Board(board)), covers.planned, 1);
                    crew.join();
                }
                let e = if b.role == BoardRole::Old { &b.energise } else { &b.energise_again };
                crew.one(TaskKind::Energise, Some(Subject::Board(board)), e.planned, e.people);
            }
        }
        crew.join();
        crew.all(&live, testers);
        crew.stretch(&at_least)
    }

    /// The longest time planned for each kind of task and its subject: nothing goes back faster.
    fn planned(&self) -> BTreeMap<(TaskKind, Option<Subject>), Minutes> {
        let mut longest = BTreeMap::new();
        for (_, timed) in &self.here {
            for piece in &timed.pieces {
                let subject = match piece.role.circuit() {
                    Some(c) => Some(Subject::Circuit(c)),
                    None => piece.board.map(Subject::Board),
                };
                let most = longest.entry((piece.kind, subject)).or_insert(Minutes::ZERO);
                *most = piece.effort.planned.max(*most);
            }
        }
        longest
    }

    fn shrouded(&self, board: BoardId) -> bool {
        let b = &self.g.job.boards[board];
        b.incoming_shrouded && b.ways_shrouded
    }

    fn is_off_again(&self, circuit: CircuitId, at: Minutes) -> bool {
        self.here.iter().any(|(_, t)| {
            (0..t.pieces.len()).any(|i| {
                matches!(t.pieces[i].role, Role::Unhook(c, _) if c == circuit) && t.end(i) <= at
            })
        })
    }

    fn people(&self) -> usize {
        self.here.iter().map(|(_, t)| t.session.people.len()).max().unwrap_or(1)
    }

    fn boards(&self) -> Vec<BoardId> {
        let mut all: Vec<BoardId> =
            self.here.iter().flat_map(|(_, t)| t.session.boards()).collect();
        all.sort_unstable();
        all.dedup();
        // What was live when the visit began: old boards, boards that stay, and new ones that
        // an earlier visit had energised.
        let earlier = |b: BoardId| {
            let role = self.g.labour.boards[b.index()].role;
            let new = matches!(role, BoardRole::NewBeside | BoardRole::NewSamePlace);
            !new || !self.here.iter().any(|(_, t)| t.session.test.contains(&b))
        };
        all.retain(|b| earlier(*b));
        all
    }

    /// The last moment such that going back from every moment up to it keeps the limits.
    fn point_of_no_return(&self, bits: &[Bit], strip: Option<Minutes>) -> Option<Minutes> {
        let mut moments: Vec<Minutes> = bits.iter().flat_map(|b| self.moments(b)).collect();
        moments.sort_unstable();
        moments.dedup();
        let mut point = None;
        for (i, &m) in moments.iter().enumerate() {
            if strip.is_some_and(|s| m >= s) {
                break;
            }
            // Between two moments nothing begins, so that the way back is as long throughout,
            // and the later the worse.
            let until = moments.get(i + 1).map_or(m, |next| *next);
            if !self.back_in_time(m, m) {
                break;
            }
            point = Some(m);
            if until > m && !self.back_in_time(m, until - Minutes(1)) {
                // Somewhere in between it becomes too late.
                let mut last = m;
                while self.back_in_time(m, last + Minutes(1)) {
                    last += Minutes(1);
                }
                point = Some(last);
                break;
            }
        }
        point.filter(|_| bits.iter().any(|b| self.out_at(b.from) || self.out_at(b.to)))
    }

    /// Whether turning back at `at`, with the work of `state_at` begun, keeps F1 to F4 for every
    /// load then out.
    fn back_in_time(&self, state_at: Minutes, at: Minutes) -> bool {
        self.going_back(state_at, at).is_some_and(|acts| self.in_limits(at, at + length(&acts)))
    }

    /// Whether F1 to F4 are kept for every load out at `at` if it is in service again at `back`.
    fn in_limits(&self, at: Minutes, back: Minutes) -> bool {
        let job = self.g.job;
        self.history.outages.iter().all(|(id, outages)| {
            let load = &job.loads[*id];
            let Some(current) = outages.iter().find(|o| o.contains(at)) else { return true };
            let mut told: Vec<Period> = outages.iter().filter(|o| o.to <= at).copied().collect();
            let to = back.max(current.from + Minutes(1));
            told.push(Period { from: current.from, to });
            let open = job.windows.rows().iter().any(|w| {
                load.areas.iter().all(|a| w.areas.contains(a))
                    && w.period.from <= current.from
                    && to <= w.period.to - job.policy.margin
            });
            let counted = price::counted(load, &told);
            let lengths: Vec<Exact> = counted.iter().map(|c| &c.to - &c.from).collect();
            let total: Exact = lengths.iter().sum();
            let single = load.max_single.is_none_or(|m| lengths.iter().all(|l| *l <= m.exact()));
            let whole = load.max_total.is_none_or(|m| total <= m.exact());
            let safe = !load.life_safety || load.measure.is_some() || counted.is_empty();
            open && single && whole && safe
        })
    }

    /// One checkpoint: everything that lies before the point of no return is done by then.
    fn checkpoints(&self, bits: &[Bit], point: Option<Minutes>, out: &mut BackOut) {
        let Some(point) = point else { return };
        let end = |task: TaskId| {
            self.here.iter().find_map(|(offset, t)| {
                task.index().checked_sub(*offset).filter(|i| *i < t.pieces.len()).map(|i| t.end(i))
            })
        };
        let done: Option<(Minutes, TaskId)> = bits
            .iter()
            .filter_map(|b| end(b.task).filter(|e| *e <= point).map(|e| (e, b.task)))
            .max();
        if let Some((_, task)) = done {
            out.checkpoints.push(Checkpoint {
                task,
                latest: point,
                otherwise: "stop, and go back: put the circuits back on their old ways and \
                            energise what was live when this visit began"
                    .to_owned(),
            });
        }
    }
}

/// When the last task of a way back is over.
fn length(acts: &[BackOutTask]) -> Minutes {
    acts.iter().map(|a| a.at + a.minutes).max().unwrap_or_default()
}

/// People who do tasks one after the other, each when somebody is free.
struct Crewing {
    free: Vec<Minutes>,
    done: Vec<BackOutTask>,
}

impl Crewing {
    fn new(people: usize) -> Crewing {
        Crewing { free: vec![Minutes::ZERO; people.max(1)], done: Vec::new() }
    }

    fn one(&mut self, kind: TaskKind, of: Option<Subject>, minutes: Minutes, people: usize) {
        self.free.sort_unstable();
        let n = people.clamp(1, self.free.len());
        let at = self.free[n - 1];
        for free in &mut self.free[..n] {
            *free = at + minutes;
        }
        self.done.push(BackOutTask { kind, of, at, minutes });
    }

    /// Tasks side by side, at most so many at once, when all before them are done.
    fn all(&mut self, tasks: &[(TaskKind, Option<Subject>, Minutes, usize)], at_once: usize) {
        self.join();
        let idle = self.free.split_off(at_once.clamp(1, self.free.len()));
        for (kind, of, minutes, people) in tasks {
            self.one(*kind, *of, *minutes, *people);
        }
        self.free.extend(idle);
    }

    /// The tasks, one after the other in the same groups, none shorter than planned for it.
    fn stretch(self, least: &BTreeMap<(TaskKind, Option<Subject>), Minutes>) -> Vec<BackOutTask> {
        let mut done = self.done;
        let mut late = Minutes::ZERO;
        for act in &mut done {
            act.at += late;
            let floor = least.get(&(act.kind, act.of)).copied().unwrap_or_default();
            if floor > act.minutes {
                late += floor - act.minutes;
                act.minutes = floor;
            }
        }
        done
    }

    /// Everybody waits for the last.
    fn join(&mut self) {
        let last = self.free.iter().copied().max().unwrap_or_default();
        self.free.fill(last);
    }
}
