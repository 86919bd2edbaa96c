//! Decisions that are nearly the cheapest: improving their order may turn them round.

use super::{Candidate, Decision};
use crate::search::judge::Trouble;
use crate::units::{Exact, Minutes};

/// The cheapest decisions with nothing wrong, where emergency lighting ruled some others out.
#[derive(Default)]
pub(super) struct Close {
    dark: bool,
    found: Vec<((Exact, Exact, Minutes), Decision)>,
}

impl Close {
    /// How many are kept.
    const MOST: usize = 4;

    pub(super) fn note(&mut self, candidate: &Candidate, d: &Decision) {
        let dark = |t: &Trouble| matches!(t, Trouble::Autonomy { .. } | Trouble::NoTest { .. });
        self.dark |= candidate.troubles.iter().any(dark);
        if candidate.troubles.is_empty() && self.found.iter().all(|(_, known)| known != d) {
            self.found.push((candidate.key(), d.clone()));
            self.found.sort_by(|a, b| a.0.cmp(&b.0));
            self.found.truncate(Close::MOST);
        }
    }

    /// The decisions, cheapest first; none where no candidate was short of autonomy.
    pub(super) fn take(&mut self) -> Vec<Decision> {
        let found = std::mem::take(&mut self.found);
        if self.dark { found.into_iter().map(|(_, d)| d).collect() } else { Vec::new() }
    }
}
