//! What outages cost (planning model, section 8), from the spans in which each load is out.

use super::ground::Ground;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use num_traits::{ToPrimitive, Zero};
use std::collections::BTreeMap;

/// The parts of the cost, exactly.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Minutes out in needed hours.
    pub needed: Exact,
    /// Minutes out in other hours.
    pub other: Exact,
    /// Counted outages of both kinds.
    pub counted: Exact,
    /// Person-visits.
    pub visits: Exact,
    /// Circuit-hours on temporary supplies.
    pub riding: Exact,
}

impl Cost {
    /// Nothing.
    pub fn zero() -> Cost {
        let zero = Exact::zero;
        Cost { needed: zero(), other: zero(), counted: zero(), visits: zero(), riding: zero() }
    }

    /// The five parts in the order of the record.
    pub fn parts(&self) -> [&Exact; 5] {
        [&self.needed, &self.other, &self.counted, &self.visits, &self.riding]
    }

    /// J.
    pub fn total(&self) -> Exact {
        self.parts().into_iter().sum()
    }
}

/// The nearest float, to compare by when nothing hangs on the last digit.
pub fn approx(value: &Exact) -> f64 {
    value.to_f64().unwrap_or(f64::MAX)
}

/// An outage as it counts: what the battery carried is taken off its start.
#[derive(Clone, Debug, PartialEq)]
pub struct Counted {
    /// When it begins to count.
    pub from: Exact,
    /// When it ends.
    pub to: Exact,
}

/// The counted outages of a load, in order. An outage no longer than what is left of the
/// ride-through counts as none; what was used comes back in proportion while in service.
pub fn counted(load: &Load, outages: &[Period]) -> Vec<Counted> {
    let full = load.ride_through.exact();
    let recharge = load.ride_recharge.map_or_else(|| &full * whole(10), Minutes::exact);
    let mut left = full.clone();
    let mut back: Option<Minutes> = None;
    let mut all = Vec::new();
    for outage in outages {
        if let Some(back) = back.filter(|_| !full.is_zero()) {
            let gained = if recharge.is_zero() {
                full.clone()
            } else {
                (outage.from - back).exact() * &full / &recharge
            };
            left = (left + gained).min(full.clone());
        }
        let length = outage.length().exact();
        let used = left.clone().min(length.clone());
        if used < length {
            let from = outage.from.exact() + &used;
            all.push(Counted { from, to: outage.to.exact() });
        }
        left -= used;
        back = Some(outage.to);
    }
    all
}

/// How much of `[from, to)` lies in `spans`.
pub fn overlap(spans: &[Period], from: &Exact, to: &Exact) -> Exact {
    let mut total = Exact::zero();
    for span in spans {
        let start = span.from.exact().max(from.clone());
        let end = span.to.exact().min(to.clone());
        if start < end {
            total += end - start;
        }
    }
    total
}

/// What the outages of one load cost.
pub fn outages(policy: &Policy, load: &Load, outages: &[Period], into: &mut Cost) {
    for outage in counted(load, outages) {
        let inside = overlap(&load.needed, &outage.from, &outage.to);
        let outside = &outage.to - &outage.from - &inside;
        let once = &load.weight * &policy.q;
        into.counted += if inside.is_zero() { once * &policy.f } else { once };
        into.needed += &load.weight * inside;
        into.other += &load.weight * &policy.f * outside;
    }
}

/// The cost of the outages of all loads.
pub fn all_outages(g: &Ground, spans: &BTreeMap<LoadId, Vec<Period>>) -> Cost {
    let mut cost = Cost::zero();
    for (id, spans) in spans {
        outages(&g.job.policy, &g.job.loads[*id], spans, &mut cost);
    }
    cost
}

/// The spans in which a load is out, from those in which its circuits are.
pub fn load_outages(load: &Load, out: &dyn Fn(CircuitId) -> Vec<Period>) -> Vec<Period> {
    let mut steps: Vec<(Minutes, i64)> = Vec::new();
    for c in &load.circuits {
        for span in out(*c) {
            steps.push((span.from, 1));
            steps.push((span.to, -1));
        }
    }
    steps.sort_unstable();
    let spare = load.circuits.len() as i64 - load.quorum() as i64;
    let mut down = 0;
    let mut since: Option<Minutes> = None;
    let mut spans: Vec<Period> = Vec::new();
    let mut i = 0;
    while i < steps.len() {
        let t = steps[i].0;
        while i < steps.len() && steps[i].0 == t {
            down += steps[i].1;
            i += 1;
        }
        match (down > spare, since) {
            (true, None) => since = Some(t),
            (false, Some(from)) => {
                spans.push(Period { from, to: t });
                since = None;
            }
            _ => {}
        }
    }
    spans
}
