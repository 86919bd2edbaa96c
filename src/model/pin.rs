//! What the user has fixed or ruled out, each with a reason that is printed.

use super::ids::*;
use super::job::Job;
use super::site::Clock;
use crate::units::Minutes;

/// A decision that is not the planner's.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// What is decided.
    pub what: PinKind,
    /// Why, in the user's words; printed.
    pub reason: String,
    /// Which of the user's decisions it is part of, counted from 0: one about a load with several
    /// circuits is one pin for each.
    pub decision: usize,
}

/// What can be decided beforehand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PinKind {
    /// The circuit moves in that window.
    CircuitIn(CircuitId, WindowId),
    /// The circuit does not move in that window.
    CircuitNotIn(CircuitId, WindowId),
    /// Nothing of the circuit is cut before that instant.
    NotBefore(CircuitId, Minutes),
    /// These move in one session.
    Together(Vec<CircuitId>),
    /// The person works on no other board than this and those that its circuits move to or from.
    PersonOn(PersonId, BoardId),
    /// The person does not work on that board.
    PersonNotOn(PersonId, BoardId),
    /// The circuit rides on that supply.
    RidesOn(CircuitId, SupplyId),
    /// The circuit does not ride on that supply.
    RidesNotOn(CircuitId, SupplyId),
    /// The circuit rides on none.
    RidesOnNone(CircuitId),
    /// At most so many visits.
    AtMostVisits(u32),
    /// The window is not used.
    WindowUnused(WindowId),
    /// The device is among the locks wherever it can be.
    LockAt(DeviceId),
    /// The device is not among the locks.
    NoLockAt(DeviceId),
}

impl Pin {
    /// What is decided, in words, without the reason.
    pub fn words(&self, job: &Job, clock: &Clock) -> String {
        let circuit = |c: &CircuitId| job.circuits.name(*c);
        match &self.what {
            PinKind::CircuitIn(c, w) => {
                format!("`{}` moves in window `{}`", circuit(c), job.windows.name(*w))
            }
            PinKind::CircuitNotIn(c, w) => {
                format!("`{}` does not move in window `{}`", circuit(c), job.windows.name(*w))
            }
            PinKind::NotBefore(c, t) => {
                format!("`{}` is not cut before {}", circuit(c), clock.full(*t))
            }
            PinKind::Together(all) => {
                let names: Vec<String> = all.iter().map(|c| format!("`{}`", circuit(c))).collect();
                format!("{} move together", names.join(", "))
            }
            PinKind::PersonOn(p, b) => {
                format!("{} works on `{}` only", job.people.name(*p), job.boards.name(*b))
            }
            PinKind::PersonNotOn(p, b) => {
                format!("{} does not work on `{}`", job.people.name(*p), job.boards.name(*b))
            }
            PinKind::RidesOn(c, s) => {
                format!("`{}` goes on temporary supply `{}`", circuit(c), job.supplies.name(*s))
            }
            PinKind::RidesNotOn(c, s) => {
                let supply = job.supplies.name(*s);
                format!("`{}` does not go on temporary supply `{supply}`", circuit(c))
            }
            PinKind::RidesOnNone(c) => format!("`{}` goes on no temporary supply", circuit(c)),
            PinKind::AtMostVisits(n) => {
                format!("at most {n} {}", if *n == 1 { "visit" } else { "visits" })
            }
            PinKind::WindowUnused(w) => format!("window `{}` is not used", job.windows.name(*w)),
            PinKind::LockAt(d) => format!("`{}` is locked off", job.devices.name(*d)),
            PinKind::NoLockAt(d) => format!("`{}` is not locked off", job.devices.name(*d)),
        }
    }
}
