//! From the pieces of a session to a scheduling problem, and from a schedule to times and people.

use super::ground::Ground;
use super::pins;
use crate::model::*;
use crate::schedule::{Problem, Schedule, Task as Slot, Worker, WorkerSet};
use crate::units::{Minutes, Period};
use crate::work::{Crew, Piece, Role, Session};

/// A session with a time and a crew for each piece.
#[derive(Clone, Debug)]
pub struct Timed {
    /// What was decided.
    pub session: Session,
    /// Its pieces.
    pub pieces: Vec<Piece>,
    /// When each starts.
    pub start: Vec<Minutes>,
    /// Who does each.
    pub crew: Vec<Vec<PersonId>>,
}

impl Timed {
    /// When a piece ends.
    pub fn end(&self, piece: usize) -> Minutes {
        self.start[piece] + self.pieces[piece].effort.planned
    }

    /// When the last piece ends.
    pub fn finish(&self) -> Minutes {
        (0..self.pieces.len()).map(|i| self.end(i)).max().unwrap_or(self.session.period.from)
    }

    /// Who is at work, and when.
    pub fn work(&self) -> impl Iterator<Item = (PersonId, Period)> + '_ {
        (0..self.pieces.len()).flat_map(|i| {
            let period = Period { from: self.start[i], to: self.end(i) };
            self.crew[i].iter().map(move |person| (*person, period))
        })
    }

    /// The piece with this role.
    pub fn find(&self, role: &Role) -> Option<usize> {
        self.pieces.iter().position(|p| p.role == *role)
    }
}

/// Pools of instruments: one for each kind, and one for both, since some are both.
const DETECTORS: usize = 0;
const TESTERS: usize = 1;
const EITHER: usize = 2;
const POOLS: usize = 3;

/// The scheduling problem of a session's pieces.
pub fn problem(g: &Ground, session: &Session, pieces: &[Piece]) -> Problem {
    let kinds = |wanted: &[&str]| {
        let has = |i: &&Instrument| i.kinds.iter().any(|k| wanted.contains(&k.as_str()));
        g.job.instruments.rows().iter().filter(has).count() as u32
    };
    let mut pools = vec![kinds(&[DETECTOR]), kinds(&[TESTER]), kinds(&[DETECTOR, TESTER])];
    let mut places: Vec<PositionId> = pieces.iter().filter_map(|p| p.position).collect();
    places.sort_unstable();
    places.dedup();
    pools.extend(places.iter().map(|p| u32::try_from(g.job.positions[*p].hands).unwrap_or(0)));
    let mut others = others_devices(g);
    others.retain(|d| pieces.iter().any(|p| operates(g, session, p, *d)));
    let tasks = (pieces.iter())
        .map(|p| {
            let mut slot = slot(g, session, p, &places);
            let workers = (others.iter().enumerate())
                .filter(|(_, d)| operates(g, session, p, **d))
                .map(|(i, _)| session.people.len() + i);
            slot.crew_fixed = slot.crew_fixed.map(|crew| workers.fold(crew, WorkerSet::with));
            slot
        })
        .collect();
    let mut after = Vec::new();
    let mut blocks = Vec::new();
    let earlier = earlier(pieces);
    for (i, piece) in pieces.iter().enumerate() {
        after.extend(piece.after.iter().map(|(before, lag)| (*before, i, lag.0)));
        // What comes one after the other anyway need not be kept apart.
        let may_meet = |j: &usize| !earlier[i].has(*j) && !earlier[*j].has(i);
        let apart: Vec<usize> = piece.apart.iter().copied().filter(may_meet).collect();
        if !apart.is_empty() {
            blocks.push((i, apart));
        }
    }
    Problem {
        tasks,
        workers: (session.people.iter())
            .map(|p| Worker {
                present: g.job.people[*p].present.iter().map(|s| (s.from.0, s.to.0)).collect(),
            })
            .chain(others.iter().map(|d| at_appointments(g, *d)))
            .collect(),
        pools,
        after,
        blocks,
        travel: places.iter().map(|a| places.iter().map(|b| g.walk(*a, *b)).collect()).collect(),
        longest_stretch: g.job.policy.longest_stretch.0,
        break_len: g.job.policy.break_length.0,
        ..Problem::default()
    }
}

/// A set of pieces.
#[derive(Clone, Default)]
struct Pieces(Vec<u64>);

impl Pieces {
    fn has(&self, piece: usize) -> bool {
        self.0.get(piece / 64).is_some_and(|word| word & (1 << (piece % 64)) != 0)
    }

    fn add(&mut self, piece: usize) {
        self.0[piece / 64] |= 1 << (piece % 64);
    }
}

/// For each piece all that are over before it starts.
fn earlier(pieces: &[Piece]) -> Vec<Pieces> {
    let mut all = vec![Pieces(vec![0; pieces.len().div_ceil(64)]); pieces.len()];
    // Pieces mostly follow those that they wait for, so that two rounds are nearly always enough.
    loop {
        let mut changed = false;
        for i in 0..pieces.len() {
            let mut mine = std::mem::take(&mut all[i]);
            let over = |(before, lag): &&(usize, Minutes)| *before != i && *lag >= Minutes::ZERO;
            for (before, _) in pieces[i].after.iter().filter(over) {
                changed |= !mine.has(*before);
                mine.add(*before);
                for (word, theirs) in mine.0.iter_mut().zip(&all[*before].0) {
                    changed |= *word | theirs != *word;
                    *word |= theirs;
                }
            }
            all[i] = mine;
        }
        if !changed {
            return all;
        }
    }
}

/// Devices that third parties work.
fn others_devices(g: &Ground) -> Vec<DeviceId> {
    g.job.devices.iter().filter(|(_, d)| d.third_party.is_some()).map(|(id, _)| id).collect()
}

/// Whoever works a third party's device, as one more worker who is there at its appointments
/// only. The last minute of an appointment is not used: its end may be read as outside it.
fn at_appointments(g: &Ground, device: DeviceId) -> Worker {
    let third = g.job.devices[device].third_party.as_ref();
    let spans = third.map(|t| t.appointments.as_slice()).unwrap_or_default();
    Worker { present: spans.iter().map(|s| (s.from.0, s.to.0 - 1)).collect() }
}

/// Whether a piece opens, locks, unlocks or closes a third party's device. Its whole time then
/// lies within an appointment.
fn operates(g: &Ground, session: &Session, piece: &Piece, device: DeviceId) -> bool {
    let locks = |k: usize| session.dead.get(k).is_some_and(|set| set.locks.contains(&device));
    match piece.role {
        Role::Isolate(k) | Role::LocksOff(k) => locks(k),
        Role::Energise(board) => {
            session.dead_of(board).is_some_and(locks) || !g.job.devices[device].closed
        }
        _ => false,
    }
}

fn slot(g: &Ground, session: &Session, piece: &Piece, places: &[PositionId]) -> Slot {
    let barred = pins::Barred::at(g, session, piece);
    let mut able: WorkerSet = session
        .people
        .iter()
        .enumerate()
        .filter(|(_, p)| g.job.people[**p].may.contains(&piece.kind) && !barred.is(**p))
        .map(|(i, _)| i)
        .collect();
    let index = |p: &PersonId| session.people.iter().position(|q| q == p);
    let mut crew_fixed: Option<WorkerSet> = match &piece.crew {
        Crew::Free | Crew::Nobody => None,
        Crew::Everybody => {
            let there = session.people.iter().enumerate().filter(|(_, p)| !barred.is(**p));
            Some(there.map(|(i, _)| i).collect())
        }
        Crew::These(people) => Some(people.iter().filter_map(index).collect()),
        Crew::WithLead => {
            let others = able.without(0).iter().take(piece.effort.people.saturating_sub(1));
            Some(others.fold(WorkerSet::only(0), WorkerSet::with))
        }
    };
    let crew = match &piece.crew {
        Crew::Nobody => 0,
        _ => piece.effort.people as u32,
    };
    // Who attends alone does nothing that takes two: then nobody is found for it.
    if session.people.len() == 1 && crew_fixed.is_some_and(|c| c.len() < crew) {
        (able, crew_fixed) = (WorkerSet::default(), None);
    }
    let heads = crew_fixed.map_or(crew, |c| c.len());
    let mut uses = Vec::new();
    match piece.instrument {
        Some(DETECTOR) => uses.extend([(DETECTORS, 1), (EITHER, 1)]),
        Some(TESTER) => uses.extend([(TESTERS, 1), (EITHER, 1)]),
        _ => {}
    }
    let place = piece.position.and_then(|p| places.iter().position(|q| *q == p));
    uses.extend(place.map(|place| (POOLS + place, heads)));
    let delivery = piece.delivery.map(|d| g.job.deliveries[d]).unwrap_or(Minutes(i64::MIN));
    let window = session.window.map(|w| g.job.windows[w].period);
    let margin =
        matches!(piece.kind, TaskKind::LiveTest | TaskKind::Energise | TaskKind::FunctionTest);
    let end = session.period.to;
    let due = match window {
        Some(_) if margin => end - g.job.policy.margin,
        _ => end,
    };
    Slot {
        duration: piece.effort.planned.0,
        release: piece.release.max(delivery).max(session.period.from).0,
        due: Some(due.0),
        crew,
        able,
        crew_fixed,
        uses,
        place,
    }
}

/// The session with the times and people of a schedule.
pub fn timed(session: &Session, pieces: Vec<Piece>, schedule: &Schedule) -> Timed {
    let crew = schedule
        .crew
        .iter()
        .map(|set| set.iter().filter_map(|i| session.people.get(i).copied()).collect())
        .collect();
    let start = schedule.start.iter().map(|t| Minutes(*t)).collect();
    Timed { session: session.clone(), pieces, start, crew }
}

/// A sensible order of the pieces, first things first.
///
/// Riders first, so that they are out for a short time only; a dead test as soon as its circuit
/// is connected, so that the tester is never idle while somebody connects; live tests by
/// importance against time (Smith 1956). Of what may start at one time, the earlier kind goes.
pub fn first_order(g: &Ground, session: &Session, pieces: &[Piece]) -> Vec<usize> {
    let weight = |c: CircuitId| -> f64 {
        let loads = &g.loads_of[c.index()];
        loads.iter().map(|l| super::price::approx(&g.job.loads[*l].weight)).sum()
    };
    let rides = |c: CircuitId| session.ride(c).is_some();
    // A board that comes back before another is worked at does so as soon as it may; one that
    // feeds nothing yet is made safe beforehand.
    let free = session.dead.iter().all(|set| set.apart) && session.dead.len() > 1;
    let early = |k: usize| free && !session.dead[k].cuts;
    let worked_last = session.dead.len().saturating_sub(1);
    let back = |b: BoardId| free && session.dead_of(b).is_some_and(|k| k < worked_last);
    let set_proved = |at: &[PositionId]| session.dead.iter().position(|set| set.prove == at);
    let rank = |p: &Piece| -> (u8, f64) {
        let minutes = p.effort.planned.0.max(1) as f64;
        let by_weight = |c: CircuitId| -weight(c) / minutes;
        match p.role {
            Role::Hold(_) => (0, 0.0),
            Role::Identify(_) => (1, 0.0),
            Role::Isolate(k) if early(k) => (2, -2.0),
            Role::Isolate(k) if free && k == worked_last => (6, 1e6),
            Role::Isolate(_) => (2, 0.0),
            Role::HookUp(..) | Role::SupplyOn(_) => (3, 0.0),
            Role::Prove(ref at) if set_proved(at).is_some_and(early) => (2, -1.0),
            Role::Prove(ref at) if free && set_proved(at) == Some(worked_last) => (6, 2e6),
            Role::Prove(_) => (4, 0.0),
            Role::Covers(b) if back(b) => (6, 1e5),
            Role::Energise(b) if back(b) => (6, 2e5),
            Role::Disconnect(c) if rides(c) => (5, 0.0),
            Role::Disconnect(_) => (6, minutes),
            Role::StripOut(_) => (7, 0.0),
            Role::Mount(_) => (8, 0.0),
            Role::Tails(_) => (9, 0.0),
            Role::DeadTest(_) => (10, -minutes),
            Role::FitSurge(_) => (11, 0.0),
            Role::Dress(_) => (12, 0.0),
            Role::Connect(c) if !rides(c) => (13, -minutes),
            Role::SupplyOff(_) | Role::Unhook(..) | Role::Connect(_) => (14, 0.0),
            Role::TestBoard(_) => (15, 0.0),
            Role::Energise(_) => (16, 0.0),
            Role::LiveTest(c) => (17, by_weight(c)),
            Role::FunctionTest(_) => (18, 0.0),
            Role::Covers(_) => (19, 0.0),
            Role::LocksOff(_) => (20, 0.0),
        }
    };
    let mut order: Vec<usize> = (0..pieces.len()).collect();
    order.sort_by(|a, b| {
        let (x, y) = (rank(&pieces[*a]), rank(&pieces[*b]));
        x.0.cmp(&y.0).then(x.1.total_cmp(&y.1)).then(a.cmp(b))
    });
    order
}
