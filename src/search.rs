//! From a job to a plan: which sessions, in which windows, in which order, by whom.
//!
//! ```text
//! Job, Labour ─ Ground::new ─▶ everything looked up once
//! Ground ─ construct::project ─▶ Candidate: sessions with times, their history, what is wrong
//!   decision ─ build::session ─▶ Session ─ fit::fit ─▶ Timed        (for each session)
//!   Timed sessions ─ acts::script ─▶ events ─ claims::history ─▶ outages and cost
//! Candidate ─ plan ─▶ Plan with its claims and its back-out
//! ```
//!
//! The best candidate is the one with nothing wrong and the least cost; what is wrong in it is
//! only what the search looks at, so that every plan still goes through `verify`.

pub mod acts;
pub mod backout;
pub mod bound;
pub mod build;
pub mod changes;
pub mod claims;
pub mod construct;
pub mod dark;
pub mod emergency;
pub mod fit;
pub mod ground;
pub mod impact;
pub mod judge;
pub mod lapse;
pub mod minimal;
pub mod part;
pub mod parted;
pub mod pin_costs;
pub mod pins;
pub mod price;
pub mod proofs;
pub mod refuse;
pub mod riders;
pub mod several;
pub mod switching;
pub mod timing;
pub mod watch;
pub mod why;

use crate::model::*;
use crate::plan::{Claims, Plan};
use crate::units::{Exact, tenths};
use construct::{Candidate, Miss};
use fit::Effort;
use ground::Ground;
use judge::Trouble;
use refuse::Refusal;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use watch::Watch;

/// How hard to look for a better plan.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// Changes of the order of tasks that are tried for each session at the end.
    pub moves: u64,
    /// Changes of the decisions that are tried from each start.
    pub tries: usize,
    /// Seed of the search; the same seed gives the same plan.
    pub seed: u64,
}

/// So many moves are worth a search of waiting.
const WAITING_FROM: u64 = 10_000;

/// With no more circuits than this so many moves take no longer than anybody minds.
const FEW_CIRCUITS: usize = 50;

impl Options {
    /// As hard as is usual on a large job. Whether there is a plan at all is never decided with less.
    pub const LARGE: Options = Options { moves: 3_000, tries: 30, seed: 1 };

    /// As hard as is usual on this job: on one of a few dozen circuits the wider search is a matter of
    /// a second or two.
    pub fn usual(job: &Job) -> Options {
        let few = job.circuits.len() <= FEW_CIRCUITS;
        Options { moves: if few { WAITING_FROM } else { Options::LARGE.moves }, ..Options::LARGE }
    }

    /// The search without waiting, from the same seed.
    fn narrow(self) -> Options {
        Options { seed: self.seed, ..Options::LARGE }
    }

    /// A hundredth of the effort.
    fn glance(self) -> Options {
        Options { moves: self.moves / 100, tries: (self.tries / 100).max(1), ..self }
    }

    /// What is searched besides.
    fn besides(self) -> Vec<Options> {
        if self.waits() {
            vec![self.narrow(), self.glance()]
        } else if self.moves >= Options::LARGE.moves {
            vec![self.glance()]
        } else {
            Vec::new()
        }
    }

    /// Whether waiting on purpose, one attendant and stripping out later are searched too: it takes
    /// many moves to pay, and with fewer more resources may seem to harm.
    pub fn waits(&self) -> bool {
        self.moves >= WAITING_FROM
    }
}

/// What came of the search.
pub enum Outcome {
    /// A plan, still to be checked.
    Plan(Box<Plan>),
    /// None was found with nothing wrong: what stood in the way of the candidates, and what is
    /// wrong with the nearest of those that broke only limits.
    None {
        /// Why candidates came to nothing.
        misses: Vec<Miss>,
        /// What is wrong with the nearest.
        troubles: Vec<Trouble>,
    },
}

/// The answer to a job: where nothing is found and nothing proves that there is no plan, the usual
/// effort is spent too, and then each window in turn is left alone. So no effort and no window more
/// turns a plan into none.
pub fn answer(job: &Job, labour: &Labour, options: Options, watch: &Watch) -> Outcome {
    let first = plan_watched(job, labour, options, watch);
    let Outcome::None { misses, .. } = &first else { return first };
    if !refuse::facts(&Ground::new(job, labour), misses).is_empty() {
        return first;
    }
    let usual = options.narrow();
    let mut again: Vec<(Labour, Options)> = Vec::new();
    if !options.waits() && (options.moves, options.tries) != (usual.moves, usual.tries) {
        again.push((labour.clone(), usual));
    }
    // Where there is no plan at all, every one of them takes its time in vain.
    let windows = job.windows.ids().filter(|_| (2..=MOST_LEFT_ALONE).contains(&job.windows.len()));
    again.extend(windows.map(|window| {
        let mut labour = labour.clone();
        let reason = "left alone by the search".to_owned();
        let decision = labour.pins.len();
        labour.pins.push(Pin { what: PinKind::WindowUnused(window), reason, decision });
        (labour, options)
    }));
    for (labour, options) in again {
        if watch.enough(false) {
            break;
        }
        if let found @ Outcome::Plan(_) = plan_watched(job, &labour, options, watch) {
            return found;
        }
    }
    first
}

/// With more windows than this none is left alone in turn.
const MOST_LEFT_ALONE: usize = 5;

/// Looks for the best plan of a job.
pub fn plan(job: &Job, labour: &Labour, options: Options) -> Outcome {
    plan_watched(job, labour, options, &watch::NOBODY)
}

/// The same, for somebody who waits: [`Watch::braked`] says afterwards whether it ended early. The
/// cheapest of what several searches find counts: what the narrow one finds is not always found by the
/// wider one, nor what a glance finds by either, since what is cheaper for an early board may leave the
/// later ones less.
pub fn plan_watched(job: &Job, labour: &Labour, options: Options, watch: &Watch) -> Outcome {
    let mut best = search_once(job, labour, options, watch);
    for options in options.besides() {
        let least = match &best {
            Outcome::Plan(plan) => Some(&plan.claims.j),
            Outcome::None { .. } => None,
        };
        if watch.enough(least.is_some()) {
            break;
        }
        // Where there is no plan, less effort finds none.
        if least.is_none() && options.moves < Options::LARGE.moves {
            continue;
        }
        match search_once(job, labour, options, watch) {
            Outcome::Plan(other) if least.is_none_or(|j| other.claims.j < *j) => {
                best = Outcome::Plan(other);
            }
            _ => (),
        }
    }
    best
}

fn search_once(job: &Job, labour: &Labour, options: Options, watch: &Watch) -> Outcome {
    let g = Ground::watched(job, labour, watch);
    let Options { moves, tries, seed } = options;
    let effort = Effort { moves, tries, seed, audit: true, waits: options.waits() };
    let mut first = None;
    let shares = several::shares(&g);
    if g.projects.len() > 1
        && let Some(best) = several::in_parts(&g, &shares, effort)
    {
        return Outcome::Plan(Box::new(assemble(&g, best)));
    }
    for share in shares {
        match several::in_turn(&g, &share, effort) {
            Ok(best) => return Outcome::Plan(Box::new(assemble(&g, best))),
            Err(none) => first = first.or(Some(none)),
        }
        if watch.enough(false) {
            break;
        }
    }
    first.unwrap_or(Outcome::None { misses: Vec::new(), troubles: Vec::new() })
}

/// Does the same to each of these on all cores; what comes out stands in their order, whatever
/// came first.
pub fn side_by_side<T: Sync, R: Send>(all: &[T], of: impl Fn(&T) -> R + Sync) -> Vec<R> {
    let cores = std::thread::available_parallelism().map_or(1, |n| n.get());
    let next = AtomicUsize::new(0);
    let mut found: Vec<(usize, R)> = std::thread::scope(|scope| {
        let work = || {
            let mut mine = Vec::new();
            loop {
                let i = next.fetch_add(1, Ordering::Relaxed);
                let Some(one) = all.get(i) else { return mine };
                mine.push((i, of(one)));
            }
        };
        let threads: Vec<_> = (0..cores.min(all.len())).map(|_| scope.spawn(work)).collect();
        let joined = threads.into_iter().map(|t| t.join());
        joined.flat_map(|r| r.unwrap_or_else(|e| std::panic::resume_unwind(e))).collect()
    });
    found.sort_by_key(|(i, _)| *i);
    found.into_iter().map(|(_, r)| r).collect()
}

/// Why there is no plan, with the changes that would make one.
pub fn refusal(job: &Job, labour: &Labour, misses: &[Miss], troubles: &[Trouble]) -> Refusal {
    let g = Ground::new(job, labour);
    let facts = refuse::facts(&g, misses);
    let met = if facts.is_empty() { refuse::met(misses, troubles, 5) } else { Vec::new() };
    let (minimal, mends) = std::thread::scope(|scope| {
        let minimal = scope.spawn(|| minimal::minimal(job, labour));
        let mends = refuse::mends(job, labour);
        (minimal.join().unwrap_or_else(|e| std::panic::resume_unwind(e)), mends)
    });
    Refusal { facts, met, minimal, mends }
}

/// The plan of a candidate, with everything that it says of itself.
pub fn assemble(g: &Ground, best: Candidate) -> Plan {
    let script = acts::script(g, &best.sessions);
    let history = best.history;
    let dates = judge::full_tests(g, &best.sessions, &history);
    let full_duration_tests: BTreeMap<GroupId, _> =
        (g.job.groups.ids().zip(dates)).filter_map(|(id, date)| Some((id, date?))).collect();
    let j = history.cost.total();
    let bound = g.bound().clone();
    debug_assert!(bound <= j, "the bound is above the cost of a plan: one of its proofs is wrong");
    debug_assert!(
        bound::lower_bound_in_own_tasks(g) <= j,
        "the same of plans like those made here"
    );
    // A release says of a bound that is proved wrong no more than that it is not above the cost.
    let bound = bound.min(j.clone());
    let lower_bound: Exact = bound.floor();
    let stated = tenths(&j);
    let back_out = backout::back_out(g, &best.sessions, &history);
    Plan {
        tasks: script.tasks,
        locks: script.locks,
        boxes: script.boxes,
        events: script.events,
        claims: Claims {
            outages: history.outages,
            gap: claims::gap(&stated, &lower_bound),
            j: stated,
            parts: history.cost.parts().map(tenths),
            lower_bound,
            finish: history.finish,
            lock_operations: history.lock_operations,
            walking: history.walking,
            full_duration_tests,
            still_live: history.still_live,
        },
        back_out,
    }
}
