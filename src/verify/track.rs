//! How one thing changed over time.

use crate::units::Minutes;

/// A value that changes at events, with every change kept.
#[derive(Clone, Debug)]
pub struct Track<T> {
    steps: Vec<(Minutes, usize, T)>,
}

impl<T: PartialEq + Clone> Track<T> {
    /// Its value at the start of the time looked at.
    pub(super) fn new(from: Minutes, value: T) -> Track<T> {
        Track { steps: vec![(from, 0, value)] }
    }

    /// From the event `event` on (counted from 1), which happens at `at`.
    pub(super) fn set(&mut self, at: Minutes, event: usize, value: T) {
        if self.last() == &value {
            return;
        }
        match self.steps.last_mut() {
            Some(step) if step.1 == event && event > 0 => step.2 = value,
            _ => self.steps.push((at, event, value)),
        }
    }

    /// Its last value.
    pub fn last(&self) -> &T {
        // A track is made with a first value and never loses one.
        &self.steps[self.steps.len() - 1].2
    }

    /// Its value at `t`, after all events of that minute.
    pub fn at(&self, t: Minutes) -> &T {
        let after = self.steps.partition_point(|s| s.0 <= t);
        &self.steps[after.saturating_sub(1)].2
    }

    /// Its value after the event with index `event` (before all events: `None`).
    pub fn after(&self, event: Option<usize>) -> &T {
        let number = event.map_or(0, |e| e + 1);
        let after = self.steps.partition_point(|s| s.1 <= number);
        &self.steps[after.saturating_sub(1)].2
    }

    /// Every value with the instant from which it holds; several may share a minute.
    pub fn changes(&self) -> impl Iterator<Item = (Minutes, &T)> {
        self.steps.iter().map(|(t, _, v)| (*t, v))
    }
}
