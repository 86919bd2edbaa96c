//! Fits a session into its window: an order of its pieces, and every proof that the order needs.

use super::ground::Ground;
use super::impact::{Impact, Priced};
use super::lapse::Lapses;
use super::proofs::Missing;
use super::timing::{self, Timed};
use crate::model::*;
use crate::network::State;
use crate::schedule::{self, Improved, Problem, Schedule, Scratch, Stuck, Waits};
use crate::units::{Minutes, Period};
use crate::work::session::{exposed, pieces, sum};
use crate::work::{Crew, Piece, Role, Session};
use std::collections::BTreeMap;

/// How hard to look.
#[derive(Clone, Copy, Debug)]
pub struct Effort {
    /// Changes of the order tried for a session.
    pub moves: u64,
    /// Changes of the decisions tried from each start.
    pub tries: usize,
    /// Seed of the search.
    pub seed: u64,
    /// Proofs are followed act by act.
    pub audit: bool,
    /// Waiting is searched too. Not where emergency lighting decides: orders are improved for their cost
    /// alone, and what is cheapest seldom leaves the autonomy that is asked for.
    pub waits: bool,
}

/// The share of the moves that are tried anew for each proof that an order turned out to need.
const AGAIN: u64 = 3;
/// The same where waiting is not searched.
const AGAIN_AT_ONCE: u64 = 8;

/// Why a session does not fit.
#[derive(Clone, Debug)]
pub struct NoFit {
    /// The piece that found no time, if one is to blame.
    pub piece: Option<Piece>,
    /// Why.
    pub stuck: Option<Stuck>,
}

/// Times and people for all pieces of a session. `audit` follows the events that they come to and
/// says which piece stands on no proof that holds.
///
/// # Errors
/// If no order that was tried fits.
pub fn fit(
    g: &Ground,
    state: &State,
    session: &Session,
    prepared: &[bool],
    tag: &str,
    effort: Effort,
    audit: &mut dyn FnMut(&Timed) -> Option<Missing>,
) -> Result<Timed, Box<NoFit>> {
    let mut parts = pieces(g.material(prepared), session, tag);
    let impact = Impact::new(g, state, session);
    impact.hold_back(g, state, session, &mut parts);
    let mut order: Option<Vec<usize>> = None;
    let (free, mut waits) = if effort.moves > 0 && effort.waits {
        (ungated(session), kept_back(g, session, &parts))
    } else {
        (None, Waits::default())
    };
    let session = match &free {
        Some(free) => {
            parts = pieces(g.material(prepared), free, tag);
            impact.hold_back(g, state, free, &mut parts);
            free
        }
        None => session,
    };
    for round in 0..12 {
        let problem = timing::problem(g, session, &parts);
        let start = order.take();
        let blame =
            |stuck: Stuck| NoFit { piece: parts.get(stuck.task).cloned(), stuck: Some(stuck) };
        let first = timing::first_order(g, session, &parts);
        let priced = Priced::new(g, &impact, session, &parts, effort.waits);
        let lapses = Lapses::new(g, session, &parts, priced.minute(session.period));
        let objective = |s: &Schedule| priced.cost(s).saturating_add(lapses.cost(s));
        let start = start.unwrap_or_else(|| first.clone());
        let found = if effort.moves == 0 {
            schedule::decode(&problem, &start, &mut Scratch::default()).map(|s| (start, s))
        } else {
            let enough = |found| g.watch.enough(found);
            // An order that came out of the search is a good one with a proof more in it.
            let again = if effort.waits { AGAIN } else { AGAIN_AT_ONCE };
            let moves = if round == 0 { effort.moves } else { effort.moves / again };
            let seed = effort.seed;
            let with = std::mem::take(&mut waits);
            schedule::improve_until(&problem, start, with, objective, moves, seed, enough).map(
                |found| {
                    let found = if effort.waits {
                        in_first_order(&problem, &parts, &first, found, &priced)
                    } else {
                        found
                    };
                    waits = found.waits;
                    (found.order, found.schedule)
                },
            )
        };
        let (best, schedule) = found.map_err(blame)?;
        let schedule = as_late(&problem, &parts, schedule);
        let timed = timing::timed(session, parts.clone(), &schedule);
        match missing_proof(g, &timed).or_else(|| audit(&timed)) {
            None => return Ok(timed),
            Some((first, at)) => {
                let new = add_proof(g, &mut parts, &timed, first, &at, tag);
                let mut again = best;
                let place = again.iter().position(|i| *i == first).unwrap_or(0);
                again.insert(place, new);
                order = Some(again);
            }
        }
    }
    Err(Box::new(NoFit { piece: None, stuck: None }))
}

/// What was found, with the live tests in the order that they had at first where that is no dearer.
fn in_first_order(
    problem: &Problem,
    parts: &[Piece],
    first: &[usize],
    found: Improved,
    priced: &Priced,
) -> Improved {
    let live = |i: &&usize| matches!(parts[**i].role, Role::LiveTest(_));
    let mut tests = first.iter().filter(live);
    let mut order = found.order.clone();
    for place in order.iter_mut().filter(|i| live(&&**i)) {
        *place = tests.next().copied().unwrap_or(*place);
    }
    let decoded = schedule::decode_waiting(problem, &order, &found.waits, &mut Scratch::default());
    match decoded.map(|schedule| (priced.cost(&schedule), schedule)) {
        Ok((cost, schedule)) if cost < found.cost => Improved { order, schedule, cost, ..found },
        _ => found,
    }
}

/// The session in which nothing but the search keeps riders on their supply.
fn ungated(session: &Session) -> Option<Session> {
    (session.gate > 0 && !session.rides.is_empty()).then(|| Session { gate: 0, ..session.clone() })
}

/// What may be kept back on purpose, and until when it is at first: temporary supplies are
/// switched off when so many connections are done, and boards isolated at once.
fn kept_back(g: &Ground, session: &Session, parts: &[Piece]) -> Waits {
    let off = |p: &Piece| matches!(p.role, Role::SupplyOff(_));
    let problem = timing::problem(g, session, parts);
    let order = timing::first_order(g, session, parts);
    let first = schedule::decode(&problem, &order, &mut Scratch::default()).ok();
    let at = |i: usize| match &first {
        Some(schedule) if off(&parts[i]) => schedule.start[i],
        _ => session.period.from.0,
    };
    let may_wait = |p: &Piece| off(p) || matches!(p.role, Role::Isolate(_));
    let held = (0..parts.len()).filter(|i| may_wait(&parts[*i])).map(|i| (i, at(i)));
    Waits { held: held.collect(), insists: vec![false; parts.len()], ..Waits::default() }
}

/// Circuits come off their temporary supply, and boards go dead, as late as the rest allows.
fn as_late(problem: &Problem, parts: &[Piece], schedule: Schedule) -> Schedule {
    let movable: Vec<bool> = parts
        .iter()
        .map(|p| match p.role {
            Role::SupplyOff(_) | Role::Unhook(..) | Role::Isolate(_) => true,
            Role::Prove(_) => matches!(p.crew, Crew::These(_)),
            _ => false,
        })
        .collect();
    if movable.iter().any(|m| *m) {
        let shifted = schedule::right_shift(problem, &schedule, &movable, &mut Scratch::default());
        shifted.unwrap_or(schedule)
    } else {
        schedule
    }
}

/// The first dead piece that starts on a proof that does not hold, with the positions that need
/// one. A proof holds while somebody is there at least every so often, for those who saw it.
fn missing_proof(g: &Ground, timed: &Timed) -> Option<Missing> {
    let life = g.job.policy.proof_life;
    let session = &timed.session;
    let mut needed: Vec<PositionId> = Vec::new();
    for set in &session.dead {
        needed.extend(set.prove.iter().chain(&set.prove_after_strip));
    }
    for ride in &session.rides {
        needed.push(g.labour.supplies[ride.supply.index()].position);
    }
    let mut starts: Vec<usize> = (0..timed.pieces.len()).collect();
    starts.sort_by_key(|i| (timed.start[*i], *i));
    let visits = presence(g, timed);
    for i in starts {
        let piece = &timed.pieces[i];
        let Some(position) = piece.position else { continue };
        if !is_dead_work(g, piece) {
            continue;
        }
        let missing: Vec<PositionId> = exposed(g.job, position)
            .into_iter()
            .filter(|p| needed.contains(p))
            .filter(|p| !holds(timed, &visits, *p, i, life))
            .collect();
        if !missing.is_empty() {
            return Some((i, missing));
        }
    }
    None
}

/// Whether the piece is dead work where it is done: covers are not on a board shrouded all over.
pub fn is_dead_work(g: &Ground, piece: &Piece) -> bool {
    let board = piece.position.and_then(|p| g.job.positions[p].board).map(|b| &g.job.boards[b]);
    let shrouded = board.is_some_and(|b| b.incoming_shrouded && b.ways_shrouded);
    piece.kind.mode() == Mode::Dead && !(piece.kind == TaskKind::FitCovers && shrouded)
}

/// The positions at which a piece keeps a proof alive.
pub fn there(g: &Ground, piece: &Piece) -> Vec<PositionId> {
    match (&piece.role, piece.position) {
        (Role::Prove(at), _) => at.clone(),
        (_, Some(p)) if piece.kind.mode() == Mode::Dead => exposed(g.job, p),
        _ => Vec::new(),
    }
}

/// When somebody is on a task at each position.
fn presence(g: &Ground, timed: &Timed) -> BTreeMap<PositionId, Vec<Period>> {
    let mut all: BTreeMap<PositionId, Vec<Period>> = BTreeMap::new();
    for (i, piece) in timed.pieces.iter().enumerate() {
        for p in there(g, piece) {
            all.entry(p).or_default().push(Period { from: timed.start[i], to: timed.end(i) });
        }
    }
    for spans in all.values_mut() {
        spans.sort_unstable();
    }
    all
}

/// Whether piece `i` starts on a good proof of the position.
fn holds(
    timed: &Timed,
    visits: &BTreeMap<PositionId, Vec<Period>>,
    position: PositionId,
    i: usize,
    life: Minutes,
) -> bool {
    let start = timed.start[i];
    let proofs = (0..timed.pieces.len()).filter(|q| match &timed.pieces[*q].role {
        Role::Prove(at) => at.contains(&position) && timed.end(*q) <= start,
        _ => false,
    });
    let Some(proof) = proofs.max_by_key(|q| timed.end(*q)) else { return false };
    let seen = timed.crew[i].iter().all(|p| timed.crew[proof].contains(p));
    // Locks that come off for another board may have been what this proof relied on.
    let sets = &timed.session.dead;
    let here = sets.iter().position(|set| set.prove.contains(&position));
    let free = sets.iter().all(|set| set.apart);
    let may_matter = |k: Option<usize>| k == here || !free;
    let unlocked = (0..timed.pieces.len()).any(|q| {
        let matters = match timed.pieces[q].role {
            Role::Energise(b) => may_matter(timed.session.dead_of(b)),
            Role::LocksOff(k) => may_matter(Some(k)),
            _ => false,
        };
        matters && timed.start[q] >= timed.end(proof) && timed.start[q] < start
    });
    if unlocked {
        return false;
    }
    let mut there = timed.end(proof);
    for span in visits.get(&position).into_iter().flatten() {
        if span.from >= start {
            break;
        }
        if span.to > there {
            if span.from > there + life {
                return false;
            }
            there = span.to;
        }
    }
    seen && start <= there + life
}

/// Adds a proof of `at` before the dead piece `first`, after all that is done there before.
fn add_proof(
    g: &Ground,
    parts: &mut Vec<Piece>,
    timed: &Timed,
    first: usize,
    at: &[PositionId],
    tag: &str,
) -> usize {
    let start = timed.start[first];
    let efforts = at.iter().map(|p| &g.labour.positions[p.index()].prove_again);
    let effort = sum(efforts);
    let keeper = match &timed.pieces[first].crew {
        Crew::These(people) => Crew::These(people.clone()),
        _ => Crew::Everybody,
    };
    let names: Vec<&str> = at.iter().map(|p| g.job.positions.name(*p)).collect();
    let mut name = format!("{tag}prove {} dead again", names.join(" and "));
    while parts.iter().any(|p| p.name == name) {
        name.push_str(", once more");
    }
    let before: Vec<(usize, Minutes)> = (0..parts.len())
        .filter(|i| timed.end(*i) <= start && parts[*i].kind.mode() != Mode::Free)
        .filter(|i| timed.end(*i) + Minutes(45) >= start)
        .map(|i| (i, Minutes::ZERO))
        .collect();
    let new = parts.len();
    parts.push(Piece {
        name,
        role: Role::Prove(at.to_vec()),
        kind: TaskKind::ProveDead,
        effort,
        crew: keeper,
        position: None,
        area: at.first().and_then(|p| g.labour.positions[p.index()].area),
        board: None,
        instrument: Some(DETECTOR),
        delivery: None,
        release: parts[first].release,
        after: before,
        apart: Vec::new(),
    });
    // Whatever starts there from then on starts on this proof, unless it has to come before.
    let later: Vec<usize> = (0..new)
        .filter(|i| timed.start[*i] >= start && is_dead_work(g, &parts[*i]))
        .filter(|i| {
            let open = parts[*i].position.map(|p| exposed(g.job, p)).unwrap_or_default();
            open.iter().any(|p| at.contains(p))
        })
        .collect();
    for i in later {
        parts[i].after.push((new, Minutes::ZERO));
    }
    new
}
