//! From timed sessions to the events of a plan: who opens, locks, proves, makes and closes what.

mod isolate;
mod revive;

use super::ground::Ground;
use super::proofs::{Missing, Proofs};
use super::switching::{self, Flick};
use super::timing::Timed;
use crate::model::*;
use crate::network::State;
use crate::plan::{Act, By, Event, Key, Proof};
use crate::units::Minutes;
use crate::work::{Crew, Piece, Role};
use std::collections::{BTreeMap, BTreeSet};

/// What the events of a plan are made into.
#[derive(Clone)]
pub struct Script {
    /// The tasks.
    pub tasks: Table<TaskId, Task>,
    /// Padlocks.
    pub locks: Table<LockId, ()>,
    /// Lock boxes.
    pub boxes: Table<BoxId, ()>,
    /// The events, in order.
    pub events: Vec<Event>,
    /// The switching state after them.
    pub state: State,
}

/// A lock that is on.
#[derive(Clone, Copy)]
struct Padlock {
    lock: LockId,
    owner: Who,
    /// The dead set that it belongs to; none for a temporary supply's.
    set: Option<usize>,
}

/// When an event stands among those of its minute.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Slot {
    /// Within running tasks, and what ends them.
    Ending,
    /// Between tasks: own locks on and off boxes.
    Between,
    /// What starts tasks, and what is done as they start.
    Starting,
    /// After everything.
    Last,
}

/// Writes the events of all sessions, in order.
pub fn script(g: &Ground, sessions: &[Timed]) -> Script {
    let mut scribe = Scribe::new(g);
    for timed in sessions {
        scribe.add(timed);
    }
    scribe.finish(sessions)
}

/// Writes a plan session by session, and knows the state after each.
#[derive(Clone)]
pub struct Scribe<'a> {
    writer: Writer<'a>,
    proofs: Proofs,
}

impl<'a> Scribe<'a> {
    /// Nothing has been done yet.
    pub fn new(g: &'a Ground<'a>) -> Scribe<'a> {
        let writer = Writer {
            g,
            out: Script {
                tasks: Table::new(),
                locks: Table::new(),
                boxes: Table::new(),
                events: Vec::new(),
                state: State::old(g.job),
            },
            queue: Vec::new(),
            padlocks: BTreeMap::new(),
            opened: BTreeMap::new(),
            fitted: g.job.surges.rows().iter().map(|s| s.fitted).collect(),
            gone: BTreeSet::new(),
            identified: BTreeMap::new(),
            free_from: BTreeMap::new(),
            box_free: BTreeMap::new(),
        };
        Scribe { writer, proofs: Proofs::new(g) }
    }

    /// The next session. Returns the first of its pieces that stands on no proof that holds.
    pub fn add(&mut self, timed: &Timed) -> Option<Missing> {
        let w = &mut self.writer;
        let (queued, first) = (w.queue.len(), w.out.tasks.len());
        w.session(timed);
        let mut new: Vec<_> = w.queue[queued..].iter().collect();
        new.sort_by_key(|(at, slot, seq, _)| (*at, *slot, *seq));
        let events = new.into_iter().map(|(at, _, _, act)| (*at, act));
        self.proofs.follow(w.g, timed, first, events)
    }

    /// The next session, whose proofs are not followed, nor those of any after it.
    pub fn write(&mut self, timed: &Timed) {
        self.writer.session(timed);
    }

    /// The switching state after the sessions so far.
    pub fn state(&self) -> &State {
        &self.writer.out.state
    }

    /// All events in order, with every area handed back; `sessions` are those that were added.
    pub fn finish(mut self, sessions: &[Timed]) -> Script {
        let w = &mut self.writer;
        w.hand_back(sessions);
        w.queue.sort_by_key(|(at, slot, seq, _)| (*at, *slot, *seq));
        w.out.events = w.queue.drain(..).map(|(at, _, _, act)| Event { at, act }).collect();
        self.writer.out
    }
}

#[derive(Clone)]
struct Writer<'a> {
    g: &'a Ground<'a>,
    out: Script,
    queue: Vec<(Minutes, Slot, usize, Act)>,
    padlocks: BTreeMap<DeviceId, Vec<Padlock>>,
    /// Devices opened for a dead set of the running session, to be closed again.
    opened: BTreeMap<usize, Vec<DeviceId>>,
    fitted: Vec<bool>,
    /// Old boards that have been stripped out.
    gone: BTreeSet<BoardId>,
    identified: BTreeMap<CircuitId, TaskId>,
    /// When each instrument is free again.
    free_from: BTreeMap<InstrumentId, Minutes>,
    /// The people whose lock is on the box of each dead set.
    box_free: BTreeMap<usize, Vec<PersonId>>,
}

impl Writer<'_> {
    fn put(&mut self, at: Minutes, slot: Slot, act: Act) {
        self.queue.push((at, slot, self.queue.len(), act));
    }

    fn session(&mut self, timed: &Timed) {
        let ids = self.tasks(timed);
        self.opened.clear();
        let mut moments: Vec<(Minutes, bool, usize)> = Vec::new();
        for i in 0..timed.pieces.len() {
            moments.push((timed.start[i], true, i));
            moments.push((timed.end(i), false, i));
        }
        // What ends at a minute is over before what starts at it.
        moments.sort_unstable();
        for (at, begins, i) in moments {
            if begins {
                self.begin(timed, &ids, i, at);
            } else {
                self.end(timed, &ids, i, at);
            }
        }
    }

    /// The record's tasks for the pieces.
    fn tasks(&mut self, timed: &Timed) -> Vec<TaskId> {
        let first = self.out.tasks.len();
        for (i, piece) in timed.pieces.iter().enumerate() {
            let id = TaskId::new(first + i);
            let mut after: Vec<TaskId> =
                piece.after.iter().map(|(p, _)| TaskId::new(first + p)).collect();
            if let Role::Disconnect(c) = piece.role {
                after.extend(self.identified.get(&c));
            }
            if let Role::Identify(c) = piece.role {
                self.identified.insert(c, id);
            }
            self.out.tasks.add(piece.name.clone(), task(piece, after, timed.crew[i].len()));
        }
        (0..timed.pieces.len()).map(|i| TaskId::new(first + i)).collect()
    }

    fn begin(&mut self, timed: &Timed, ids: &[TaskId], i: usize, at: Minutes) {
        let piece = &timed.pieces[i];
        let instrument = piece.instrument.and_then(|kind| self.take(kind, at, timed.end(i)));
        let start = Act::Start { task: ids[i], who: timed.crew[i].clone(), instrument };
        self.put(at, Slot::Starting, start);
        let turn = Turn { timed, piece: i, task: ids[i], from: at, to: timed.end(i) };
        match &piece.role {
            Role::Isolate(k) => self.isolate(&turn, *k),
            Role::Prove(positions) => self.prove(&turn, positions, instrument),
            Role::SupplyOn(supply) => self.supply_on(&turn, *supply),
            Role::SupplyOff(supply) => self.supply_off(&turn, *supply),
            Role::Energise(board) => self.energise(&turn, *board),
            Role::LocksOff(k) => self.locks_off(&turn, *k),
            Role::LiveTest(circuit) => self.live_test(&turn, *circuit),
            Role::FunctionTest(group) => self.function_test(&turn, *group),
            _ => {}
        }
    }

    fn end(&mut self, timed: &Timed, ids: &[TaskId], i: usize, at: Minutes) {
        let piece = &timed.pieces[i];
        let turn = Turn { timed, piece: i, task: ids[i], from: timed.start[i], to: at };
        match &piece.role {
            Role::Disconnect(c) => {
                for joint in self.g.routes[c.index()].old.clone() {
                    self.part(&turn, joint);
                }
            }
            Role::Connect(c) => {
                for joint in self.g.routes[c.index()].new.clone() {
                    self.make(&turn, joint);
                }
            }
            Role::HookUp(c, s) => {
                for joint in self.riding_joints(*c, *s) {
                    self.make(&turn, joint);
                }
            }
            Role::Unhook(c, s) => {
                for joint in self.riding_joints(*c, *s) {
                    self.part(&turn, joint);
                }
            }
            Role::Tails(t) => {
                let tails = self.g.labour.tails[*t].clone();
                for joint in tails.breaks {
                    self.part(&turn, joint);
                }
                for joint in tails.makes {
                    self.make(&turn, joint);
                }
            }
            Role::FitSurge(board)
                if timed.session.window.is_none() && !timed.session.test.contains(board) =>
            {
                // Not tested before a later session, and no window may end with cartridges out (F5).
                for (id, surge) in self.g.job.surges.iter() {
                    if surge.board == Some(*board) && !self.fitted[id.index()] {
                        self.fitted[id.index()] = true;
                        self.put(at, Slot::Ending, Act::Surge(turn.lead(), id, true));
                    }
                }
            }
            Role::StripOut(board) => {
                for joint in self.left_on(*board) {
                    self.part(&turn, joint);
                }
                self.gone.insert(*board);
            }
            _ => {}
        }
        self.put(at, Slot::Ending, Act::Finish { task: ids[i], pass: true });
    }

    fn make(&mut self, turn: &Turn, joint: JointId) {
        if !self.out.state.made.has(joint) {
            self.put(turn.to, Slot::Ending, Act::Make(turn.lead(), joint));
            self.out.state.make(joint);
        }
    }

    fn part(&mut self, turn: &Turn, joint: JointId) {
        if self.out.state.made.has(joint) {
            self.put(turn.to, Slot::Ending, Act::Break(turn.lead(), joint));
            self.out.state.insulate(joint);
        }
    }

    fn riding_joints(&self, circuit: CircuitId, supply: SupplyId) -> Vec<JointId> {
        let wanted = Some((circuit, Place::On(supply)));
        (self.g.job.joints.iter()).filter(|(_, j)| j.of == wanted).map(|(id, _)| id).collect()
    }

    /// What is still joined to an old board when it is stripped out.
    fn left_on(&self, board: BoardId) -> Vec<JointId> {
        let job = self.g.job;
        let b = &job.boards[board];
        let bare = |n: NodeId| {
            let inside = |p: PositionId| job.positions[p].bare.contains(&n);
            let elsewhere = (job.positions.iter())
                .any(|(_, p)| p.board.is_some_and(|o| o != board) && p.bare.contains(&n));
            (inside(b.incoming) || inside(b.ways)) && !elsewhere
        };
        (job.joints.iter())
            .filter(|(id, j)| self.out.state.made.has(*id) && j.of.is_none())
            .filter(|(_, j)| bare(j.a) || bare(j.b))
            .map(|(id, _)| id)
            .collect()
    }

    /// An instrument of that kind that is free; the one that serves as least else first.
    fn take(&mut self, kind: &str, from: Minutes, to: Minutes) -> Option<InstrumentId> {
        let free = |id: &InstrumentId| self.free_from.get(id).is_none_or(|t| *t <= from);
        let (id, _) = (self.g.job.instruments.iter())
            .filter(|(id, i)| i.kinds.iter().any(|k| k == kind) && free(id))
            .min_by_key(|(id, i)| (i.kinds.len(), *id))?;
        self.free_from.insert(id, to);
        Some(id)
    }

    fn prove(&mut self, turn: &Turn, positions: &[PositionId], instrument: Option<InstrumentId>) {
        let Some(instrument) = instrument else { return };
        for supply in self.g.job.supplies.ids() {
            let labour = &self.g.labour.supplies[supply.index()];
            if positions == [labour.position].as_slice() {
                self.lock_supply(turn, supply, turn.from, Slot::Starting);
            }
        }
        for &position in positions {
            let p = &self.g.job.positions[position];
            let mut readings = BTreeMap::new();
            for &node in p.points.iter().chain(&p.other_fed) {
                let pairs = pairs(self.g.job.nodes[node].wires);
                readings.insert(node, pairs.into_iter().map(|pair| (pair, None)).collect());
            }
            let proof = Proof {
                position,
                circuit: None,
                instrument,
                tester_before: true,
                tester_after: true,
                readings,
            };
            self.put(turn.to, Slot::Ending, Act::Prove(turn.lead(), proof));
        }
    }

    fn hand_back(&mut self, sessions: &[Timed]) {
        for (n, timed) in sessions.iter().enumerate() {
            let Some(window) = timed.session.window else { continue };
            let visit = self.g.job.windows[window].period;
            let next = sessions.get(n + 1).map(|s| s.session.period.from);
            if next.is_some_and(|from| from < visit.to) {
                continue;
            }
            let lead = By { task: None, who: Who::Person(timed.session.people[0]) };
            // What is done when the windows are over is work in some area too.
            let rest = &sessions[n..];
            let over = rest[1..].iter().all(|s| s.session.window.is_none());
            let last = if over { rest.iter().map(Timed::finish).max() } else { None };
            for area in self.g.job.areas.ids() {
                let at = last.unwrap_or(timed.finish());
                self.put(at, Slot::Last, Act::HandBack(lead, area));
            }
        }
    }
}

/// A piece as its acts are written.
struct Turn<'t> {
    timed: &'t Timed,
    piece: usize,
    task: TaskId,
    from: Minutes,
    to: Minutes,
}

impl Turn<'_> {
    fn crew(&self) -> &[PersonId] {
        &self.timed.crew[self.piece]
    }

    fn by(&self, person: PersonId) -> By {
        By { task: Some(self.task), who: Who::Person(person) }
    }

    /// The first of its crew, who does its acts.
    fn lead(&self) -> By {
        self.by(self.crew().first().copied().unwrap_or(PersonId::new(0)))
    }

    /// The minutes at which `count` acts are done, one a minute where there is time, ending with
    /// the task.
    fn spread_to_end(&self, count: usize) -> Vec<Minutes> {
        let length = (self.to - self.from).0;
        let n = count as i64;
        let first = if n <= length { length - n + 1 } else { 0 };
        let step = |i: i64| if n <= length { first + i } else { (i + 1) * length / n.max(1) };
        (0..n).map(|i| self.from + Minutes(step(i))).collect()
    }

    /// The minutes at which `count` acts are done, one a minute where there is time, from the
    /// first minute of the task.
    fn spread_from_start(&self, count: usize) -> Vec<Minutes> {
        let length = (self.to - self.from).0;
        let n = count as i64;
        let step = |i: i64| if n <= length { i + 1 } else { (i + 1) * length / n.max(1) };
        (0..n).map(|i| self.from + Minutes(step(i))).collect()
    }
}

/// The task of the record that a piece becomes, done by so many people.
fn task(piece: &Piece, after: Vec<TaskId>, people: usize) -> Task {
    let of = |role: &Role| match role {
        Role::FunctionTest(g) => Some(*g),
        _ => None,
    };
    Task {
        kind: piece.kind,
        duration: piece.effort.duration,
        planned: piece.effort.planned,
        people: if piece.crew == Crew::Nobody { 0 } else { people },
        after,
        position: piece.position,
        area: piece.area,
        circuit: piece.role.circuit(),
        board: piece.board,
        group: of(&piece.role),
        instrument: piece.instrument.map(str::to_owned),
        delivery: piece.delivery,
    }
}

/// Every pair out of a point's lines, neutral and earth.
fn pairs(wires: WireSet) -> Vec<String> {
    let mut names: Vec<&str> = wires.iter().filter(|w| *w != Wire::PE).map(Wire::name).collect();
    names.push("E");
    let mut pairs = Vec::new();
    for (i, a) in names.iter().enumerate() {
        pairs.extend(names[i + 1..].iter().map(|b| format!("{a}-{b}")));
    }
    pairs
}
