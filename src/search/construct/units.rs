//! Units of a project: how long they take, when they are ready, what is fixed about them.

use super::link::link_holds;
use super::{Decision, Late, needs_place};
use crate::model::*;
use crate::search::ground::Ground;
use crate::units::Minutes;
use crate::work::Project;

/// How long the dead work of a unit takes, for splitting.
pub(super) fn minutes_of(g: &Ground, project: &Project, unit: usize) -> i64 {
    project.units[unit]
        .iter()
        .map(|c| {
            let l = &g.labour.circuits[c.index()];
            let ready = l.readiness != Readiness::Unprepared;
            let of = |v: &Varied| if ready { v.prepared.planned.0 } else { v.fresh.planned.0 };
            of(&l.disconnect) + of(&l.connect) + of(&l.dead_test) + of(&l.live_test)
        })
        .sum()
}

/// When the last thing that a unit waits for is there. What comes after the last window holds
/// nothing up where the job says that the circuit may stay off.
pub(super) fn ready_at(g: &Ground, project: &Project, unit: usize) -> Minutes {
    let last = g.job.windows.rows().iter().map(|w| w.period.to).max().unwrap_or_default();
    project.units[unit]
        .iter()
        .filter_map(|c| {
            let at = g.job.deliveries[g.labour.circuits[c.index()].delivery?];
            (at < last || g.job.circuits[*c].left_off.is_none()).then_some(at)
        })
        .max()
        .unwrap_or(Minutes(i64::MIN))
}

/// How long a window is, its margin and what comes before the job's span taken off.
pub(super) fn room(g: &Ground, window: WindowId) -> i64 {
    let period = g.job.windows[window].period;
    (period.to - period.from.max(g.job.span.from) - g.job.policy.margin).0
}

/// Whether a decision keeps what the user fixed, the deliveries, and what a link carries.
pub(super) fn allowed(g: &Ground, project: &Project, d: &Decision) -> bool {
    let fits = |i: usize, unit: usize| {
        let window = d.windows[i];
        ready_at(g, project, unit) < g.job.windows[window].period.to - Minutes(60)
            && pinned(g, project, unit, window) != Some(false)
    };
    let placed = d.split.iter().enumerate().all(|(i, units)| units.iter().all(|u| fits(i, *u)));
    let used = |w: &WindowId| !g.labour.pins.iter().any(|p| p.what == PinKind::WindowUnused(*w));
    // What waits for the cut-in waits in one window, on the new board if that is there, or on a
    // temporary supply from the first session to the cut-in.
    let through = |l: &Late| l.on == 0 && l.off == d.early && fits(0, l.unit);
    let early = d.early < d.windows.len()
        && d.windows.iter().all(|w| *w == d.windows[0])
        && d.riding[..d.early].iter().all(|r| r.is_empty())
        && d.late.iter().all(through)
        && (0..d.early).all(|i| match needs_place(g, project) {
            true => d.split[i].is_empty() && i == 0 && !d.late.is_empty(),
            false => !d.split[i].is_empty() || (i == 0 && !d.late.is_empty()),
        });
    let holds = if d.early > 0 { early } else { link_holds(g, project, &d.split) };
    placed && holds && d.windows.iter().all(used)
}

/// What the user fixed about a unit in a window: it must be there, it must not, or nothing.
pub(super) fn pinned(g: &Ground, project: &Project, unit: usize, w: WindowId) -> Option<bool> {
    let mut verdict = None;
    for pin in &g.labour.pins {
        match &pin.what {
            // Members of a unit fixed in two windows leave it none.
            PinKind::CircuitIn(c, at) if project.units[unit].contains(c) => {
                if *at != w {
                    return Some(false);
                }
                verdict = Some(true);
            }
            PinKind::CircuitNotIn(c, at) if project.units[unit].contains(c) && *at == w => {
                return Some(false);
            }
            PinKind::NotBefore(c, t)
                if project.units[unit].contains(c) && g.job.windows[w].period.to <= *t =>
            {
                return Some(false);
            }
            _ => {}
        }
    }
    verdict
}
