//! Windows and limits of loads (F1 to F4).

use super::breach::{Kind, Report, facts};
use super::outages::{Outage, hold_up};
use super::site::{Site, stated};
use crate::model::*;
use crate::units::{Exact, Minutes, Period};
use num_traits::Zero;

/// Every load's outages with what counts of them.
pub(super) fn judge(site: &Site, outages: &[Vec<Outage>], out: &mut Report) {
    let job = site.job;
    for (id, load) in job.loads.iter() {
        let mine = &outages[id.index()];
        if !left_off(job, load) {
            for o in mine {
                if !f1_fits(job, load, o.whole) {
                    let facts = facts![id, o.whole.from, o.whole.to];
                    out.add_at(Kind::OutsideWindow, Some(o.whole.from), None, facts);
                }
            }
            f4_in_service(job, id, mine, out);
        }
        f2_lengths(id, load, mine, out);
        if load.life_safety && !stated(&load.measure) {
            for o in mine.iter().filter(|o| o.counts_from.is_some()) {
                let facts = facts![id, o.whole.from, o.whole.to];
                out.add_at(Kind::LifeSafetyOut, Some(o.whole.from), None, facts);
            }
        }
    }
}

/// A load of a circuit that the job leaves off is judged without F1 and F4.
pub(super) fn left_off(job: &Job, load: &Load) -> bool {
    load.circuits.iter().any(|c| stated(&job.circuits[*c].left_off))
}

/// The windows open for all of a load's areas.
fn own_windows(job: &Job, load: &Load) -> Vec<Period> {
    let mut all: Vec<Period> = job
        .windows
        .rows()
        .iter()
        .filter(|w| load.areas.iter().all(|a| w.areas.contains(a)))
        .map(|w| w.period)
        .collect();
    all.sort_unstable();
    all
}

fn needed_between(load: &Load, from: Minutes, to: Minutes) -> bool {
    from < to && load.needed.iter().any(|n| n.overlaps(Period { from, to }))
}

/// F1 of one outage: it begins in a window of the load, and ends in that one or a later one in
/// good time.
pub(super) fn f1_fits(job: &Job, load: &Load, outage: Period) -> bool {
    let windows = own_windows(job, load);
    let margin = job.policy.margin;
    windows.iter().filter(|w| w.contains(outage.from)).any(|first| {
        windows.iter().any(|last| {
            let ends = last.from <= outage.to && outage.to + margin <= last.to;
            let later = load.may_stay_out
                && last.from >= first.from
                && !needed_between(load, first.to, last.from);
            ends && (last == first || later)
        })
    })
}

fn f2_lengths(id: LoadId, load: &Load, outages: &[Outage], out: &mut Report) {
    let mut total = Exact::zero();
    for o in outages {
        let counted = o.counted();
        if let Some(limit) = load.max_single.filter(|l| counted > l.exact()) {
            let facts = facts![id, o.whole.from, o.whole.to, limit];
            out.add_at(Kind::OutageTooLong, Some(o.whole.from), None, facts);
        }
        total += counted;
    }
    if let Some(limit) = load.max_total.filter(|l| total > l.exact()) {
        out.add_at(Kind::OutagesTooLong, None, None, facts![id, limit]);
    }
}

fn f4_in_service(job: &Job, id: LoadId, outages: &[Outage], out: &mut Report) {
    let load = &job.loads[id];
    let windows = own_windows(job, load);
    for w in &windows {
        let next = windows
            .iter()
            .filter(|n| *n != w && n.to > w.to)
            .map(|n| n.from.max(w.to))
            .min()
            .unwrap_or(job.span.to);
        let off = outages.iter().any(|o| o.whole.contains(w.to));
        if off && needed_between(load, w.to, next) {
            out.add_at(Kind::OutAtWindowEnd, Some(w.to), None, facts![id, w.to]);
        }
    }
}

/// Whether going back would keep F1 to F3 for a load that is out, if it came back at `back`
/// (F4 is kept where F1 is).
pub(super) fn back_in_time(
    site: &Site,
    id: LoadId,
    spans: &[Period],
    outage: usize,
    back: Minutes,
) -> bool {
    let job = site.job;
    let load = &job.loads[id];
    let mut until: Vec<Period> = spans[..=outage].to_vec();
    until[outage].to = back.max(until[outage].from + Minutes(1));
    let held = hold_up(load, &until);
    let this = &held[outage];
    let total: Exact = held.iter().map(Outage::counted).sum();
    let single = load.max_single.is_none_or(|l| this.counted() <= l.exact());
    let together = load.max_total.is_none_or(|l| total <= l.exact());
    let safe = !load.life_safety || stated(&load.measure) || this.counts_from.is_none();
    let window = left_off(job, load) || f1_fits(job, load, this.whole);
    single && together && safe && window
}
