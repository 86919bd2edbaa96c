//! Outages of loads, counted parts after battery hold-up, and how circuits ride.

use super::now::Now;
use super::site::Site;
use super::track::Track;
use crate::model::*;
use crate::units::{Exact, Minutes, Period};
use num_traits::Zero;

/// Service and riding, as the replay goes on.
#[derive(Debug)]
pub(super) struct Service {
    /// Whether each circuit is live for service.
    pub circuits: Vec<Track<bool>>,
    /// Which temporary supply carries each circuit.
    pub riding: Vec<Track<Option<SupplyId>>>,
    since: Vec<Option<Minutes>>,
    outages: Vec<Vec<Period>>,
    loads_of: Vec<Vec<LoadId>>,
}

impl Service {
    pub fn new(now: &Now) -> Service {
        let job = now.site.job;
        let mut loads_of = vec![Vec::new(); job.circuits.len()];
        for (id, load) in job.loads.iter() {
            for c in &load.circuits {
                loads_of[c.index()].push(id);
            }
        }
        let from = job.span.from;
        let mut service = Service {
            circuits: job.circuits.ids().map(|c| Track::new(from, now.serves(c))).collect(),
            riding: job.circuits.ids().map(|c| Track::new(from, now.rides(c))).collect(),
            since: vec![None; job.loads.len()],
            outages: vec![Vec::new(); job.loads.len()],
            loads_of,
        };
        for load in job.loads.ids() {
            service.note(now, load);
        }
        service
    }

    pub fn after(&mut self, now: &Now) {
        let job = now.site.job;
        for c in job.circuits.ids() {
            self.riding[c.index()].set(now.t, now.event, now.rides(c));
            let serves = now.serves(c);
            if *self.circuits[c.index()].last() != serves {
                self.circuits[c.index()].set(now.t, now.event, serves);
                for load in self.loads_of[c.index()].clone() {
                    self.note(now, load);
                }
            }
        }
    }

    fn note(&mut self, now: &Now, id: LoadId) {
        let load = &now.site.job.loads[id];
        let serving = load.circuits.iter().filter(|c| *self.circuits[c.index()].last()).count();
        let served = serving >= load.quorum();
        let i = id.index();
        match (self.since[i], served) {
            (None, false) => self.since[i] = Some(now.t),
            (Some(from), true) => {
                self.since[i] = None;
                // Off and on within a minute is an outage of one minute.
                add(&mut self.outages[i], Period { from, to: now.t.max(from + Minutes(1)) });
            }
            _ => {}
        }
    }

    /// Whole outages of each load, up to the end of the time looked at.
    pub fn outages(&self, job: &Job, end: Minutes) -> Vec<Vec<Period>> {
        let mut all = self.outages.clone();
        for load in job.loads.ids() {
            if let Some(from) = self.since[load.index()] {
                let to = end.max(job.span.to).max(from + Minutes(1));
                add(&mut all[load.index()], Period { from, to });
            }
        }
        all
    }
}

/// Touching spans are one outage.
fn add(spans: &mut Vec<Period>, span: Period) {
    match spans.last_mut() {
        Some(last) if span.from <= last.to => last.to = last.to.max(span.to),
        _ => spans.push(span),
    }
}

/// An outage with what the battery leaves of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Outage {
    /// The whole of it.
    pub whole: Period,
    /// What the battery could still carry when it began, in minutes.
    pub battery: Exact,
    /// From when it counts, if it does.
    pub counts_from: Option<Exact>,
}

impl Outage {
    /// How long it counts, in minutes.
    pub fn counted(&self) -> Exact {
        match &self.counts_from {
            Some(from) => self.whole.to.exact() - from,
            None => Exact::zero(),
        }
    }
}

/// The outages of a load with the battery hold-up taken off (section 8).
pub(super) fn hold_up(load: &Load, spans: &[Period]) -> Vec<Outage> {
    let full = load.ride_through.exact();
    let recharge = load.ride_recharge.unwrap_or(Minutes(load.ride_through.0.saturating_mul(10)));
    let mut battery = full.clone();
    let mut last_end: Option<Minutes> = None;
    let mut all = Vec::new();
    for whole in spans {
        if let Some(end) = last_end {
            let served = (whole.from - end).exact();
            battery = if recharge.0 <= 0 {
                full.clone()
            } else {
                (battery + served * &full / recharge.exact()).min(full.clone())
            };
        }
        let length = whole.length().exact();
        let counts_from = (length > battery).then(|| whole.from.exact() + &battery);
        all.push(Outage { whole: *whole, battery: battery.clone(), counts_from });
        battery = (&battery - length).max(Exact::zero());
        last_end = Some(whole.to);
    }
    all
}

/// Minutes that each circuit is carried by temporary supplies.
pub(super) fn riding_minutes(site: &Site, riding: &[Track<Option<SupplyId>>], end: Minutes) -> i64 {
    let end = end.max(site.job.span.to);
    riding
        .iter()
        .map(|track| {
            let mut total = 0;
            let mut since: Option<Minutes> = None;
            for (t, on) in track.changes() {
                if let Some(from) = since {
                    total += (t - from).0;
                }
                since = on.map(|_| t);
            }
            total + since.map_or(0, |from| (end - from).0)
        })
        .sum()
}
