//! Whoever waits for the search: what it tells them on the way, and when they have had enough.
//!
//! The effort of a search is counted in moves, so its result is the same everywhere; a brake only
//! ends it sooner. Nothing here decides between candidates.

use crate::units::{Exact, tenths};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

/// Whether the search is to go on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Brake {
    /// As far as the effort goes.
    Off,
    /// Only until there is a plan at all.
    FirstPlan,
    /// At once.
    Now,
}

/// How far the search has come.
#[derive(Clone, Debug)]
pub struct Progress {
    /// Plans tried so far.
    pub tried: u64,
    /// What the best of them costs, to a tenth; `None` as long as there is none for all boards.
    pub best: Option<Exact>,
    /// No plan costs less; whole minutes.
    pub bound: Exact,
}

/// Who waits, and what they said.
pub struct Watch<'a> {
    brake: &'a (dyn Fn() -> Brake + Sync),
    tell: Option<&'a (dyn Fn(&Progress) + Sync)>,
    tried: AtomicU64,
    braked: AtomicBool,
}

/// Nobody waits: the search goes as far as its effort.
pub static NOBODY: Watch<'static> = Watch::new(&|| Brake::Off, None);

impl<'a> Watch<'a> {
    /// The search asks `brake` before each plan that it tries and often in between, and tells
    /// `tell` of each.
    pub const fn new(
        brake: &'a (dyn Fn() -> Brake + Sync),
        tell: Option<&'a (dyn Fn(&Progress) + Sync)>,
    ) -> Watch<'a> {
        Watch { brake, tell, tried: AtomicU64::new(0), braked: AtomicBool::new(false) }
    }

    /// Whether the search ended before its effort was spent.
    pub fn braked(&self) -> bool {
        self.braked.load(Ordering::Relaxed)
    }

    /// Whether to end here, where a plan has been found or not.
    pub fn enough(&self, found: bool) -> bool {
        let enough = (self.brake)() >= if found { Brake::FirstPlan } else { Brake::Now };
        if enough {
            self.braked.store(true, Ordering::Relaxed);
        }
        enough
    }

    /// One more plan was tried. `best` is the least cost of those for all boards with nothing
    /// wrong in them; `bound` computes the lower bound.
    pub fn tried(&self, best: Option<&Exact>, bound: impl FnOnce() -> Exact) {
        let tried = self.tried.fetch_add(1, Ordering::Relaxed) + 1;
        if let Some(tell) = self.tell {
            tell(&Progress { tried, best: best.map(tenths), bound: bound().floor() });
        }
    }
}
