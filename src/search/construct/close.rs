//! Decisions that are nearly the cheapest: improving their order may turn them round.

use super::{Candidate, Decision};
use crate::search::judge::Trouble;
use crate::units::{Exact, Minutes};
use std::collections::BTreeMap;

/// [`Candidate::key`].
type Key = (Exact, Exact, Minutes);

/// The cheapest decisions with nothing wrong.
#[derive(Default)]
pub(super) struct Close {
    dark: bool,
    found: Vec<(Key, Decision)>,
    /// The cheapest of each shape: whether anything rides in one session, or through several, and
    /// whether anything comes off before the cut-in. What is best without temporary supplies is one of
    /// them.
    shapes: BTreeMap<(bool, bool, bool), (Key, Decision)>,
}

impl Close {
    /// How many are kept, and how many of them count where none was short of autonomy.
    const MOST: usize = 8;
    const FEW: usize = 4;

    pub(super) fn note(&mut self, candidate: &Candidate, d: &Decision) {
        let dark = |t: &Trouble| matches!(t, Trouble::Autonomy { .. } | Trouble::NoTest { .. });
        self.dark |= candidate.troubles.iter().any(dark);
        let rides = d.riding.iter().any(|r| !r.is_empty());
        let key = candidate.key();
        let shape = (rides, !d.late.is_empty(), d.early > 0);
        let cheaper = self.shapes.get(&shape).is_none_or(|(known, _)| key < *known);
        if candidate.troubles.is_empty() && cheaper {
            self.shapes.insert(shape, (key, d.clone()));
        }
        if candidate.troubles.is_empty() && self.found.iter().all(|(_, known)| known != d) {
            self.found.push((candidate.key(), d.clone()));
            self.found.sort_by(|a, b| a.0.cmp(&b.0));
            self.found.truncate(Close::MOST);
        }
    }

    /// Whether some candidate was short of autonomy.
    pub(super) fn dark(&self) -> bool {
        self.dark
    }

    /// The cheapest.
    pub(super) fn cheapest(&self) -> Option<Decision> {
        self.found.first().map(|(_, d)| d.clone())
    }

    /// The decisions, cheapest first; where no candidate was short of autonomy only those that are
    /// within a twentieth of the cheapest. The cheapest of each shape is always one of them: a shape that
    /// looks dearer gains more by a better order than another, and no temporary supply more makes a plan
    /// dearer.
    pub(super) fn take(&mut self) -> Vec<Decision> {
        let found = std::mem::take(&mut self.found);
        let Some(((_, least, _), _)) = found.first() else { return Vec::new() };
        let most = least.clone() * Exact::new(21.into(), 20.into());
        let near = |((_, cost, _), _): &(_, _)| self.dark || *cost <= most;
        let many = if self.dark { Close::MOST } else { Close::FEW };
        let mut all: Vec<Decision> =
            found.into_iter().take(many).filter(near).map(|(_, d)| d).collect();
        for (_, d) in std::mem::take(&mut self.shapes).into_values() {
            if !all.contains(&d) {
                all.push(d);
            }
        }
        all
    }
}
