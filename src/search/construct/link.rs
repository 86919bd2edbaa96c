//! What a temporary link carries while circuits are still on the old board (T2).

use super::units::ready_at;
use crate::model::*;
use crate::search::ground::Ground;
use crate::units::Exact;
use crate::work::Project;
use num_traits::Zero;

/// Moves units forward until what stays on the old board after the first session is no more than
/// its temporary link carries (T2).
pub(super) fn link_carries(
    g: &Ground,
    project: &Project,
    split: &mut [Vec<usize>],
    windows: &[WindowId],
) -> bool {
    if split.len() < 2 {
        return true;
    }
    while let Some(line) = link_over(g, project, split) {
        let later: Vec<usize> = split[1..].iter().flatten().copied().collect();
        let first = g.job.windows[windows[0]].period;
        let movable = later.into_iter().filter(|u| ready_at(g, project, *u) < first.to);
        let heaviest =
            movable.map(|u| (amps(g, project, &[u], line), u)).filter(|(a, _)| !a.is_zero()).max();
        let Some((_, unit)) = heaviest else { return false };
        for part in split[1..].iter_mut() {
            part.retain(|u| *u != unit);
        }
        split[0].push(unit);
    }
    // Sessions that were emptied are none; the caller has decided on so many.
    split.iter().all(|part| !part.is_empty())
}

/// The design current of units on one line of the old board.
pub(super) fn amps(g: &Ground, project: &Project, units: &[usize], line: Wire) -> Exact {
    let circuits = units.iter().flat_map(|u| &project.units[*u]);
    let of = |c: &CircuitId| -> Exact {
        let known = g.job.circuits[*c].amps.iter().filter(|(w, _)| *w == line);
        known.map(|(_, a)| a.0.clone()).sum()
    };
    circuits.map(of).sum()
}

/// A line on which the temporary links carry less than what stays on the old board after the
/// first session.
pub(super) fn link_over(g: &Ground, project: &Project, split: &[Vec<usize>]) -> Option<Wire> {
    if !links_here(g, project) {
        return None;
    }
    let later: Vec<usize> = split.iter().skip(1).flatten().copied().collect();
    let links: Vec<&Device> = g.job.devices.rows().iter().filter(|d| d.temporary).collect();
    Wire::LINES.into_iter().find(|line| {
        let amps = amps(g, project, &later, *line);
        links.iter().any(|d| &amps * &d.diversity > d.rating.0)
    })
}

pub(super) fn link_holds(g: &Ground, project: &Project, split: &[Vec<usize>]) -> bool {
    link_over(g, project, split).is_none()
}

pub(super) fn links_here(g: &Ground, project: &Project) -> bool {
    project.tails.iter().any(|t| g.labour.tails[*t].stage == TailsStage::LinkOn)
}
