//! The order in which one machine keeps the sum of weight times completion least.
//!
//! Smith's rule: by weight over duration, falling (W. E. Smith, "Various optimizers for
//! single-stage production", Naval Research Logistics Quarterly 3, 1956). Pieces that are tied,
//! so that each counts as complete only when the last of them is, make one composite piece of the
//! sum of durations and of weights: doing something else between them could go before the first
//! of them without delaying anything.

use super::problem::Time;

/// Something to be done by the one machine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Piece {
    /// Minutes, 0 or more.
    pub duration: Time,
    /// Cost of each minute until it is complete, 0 or more.
    pub weight: i64,
}

/// What [`smith`] returns.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SmithOrder {
    /// All pieces, first things first; tied ones stand together, in the order they were given.
    pub order: Vec<usize>,
    /// Sum of weight times completion, from a start at 0; the most an `i64` holds if it is more.
    pub cost: i64,
}

/// The cheapest order of the pieces on one machine that starts at 0 and never stops.
///
/// `tied` holds groups of indices of pieces. A piece in no group stands alone; a piece already in
/// an earlier group, or no piece at all, is passed over. Of equals the one whose first piece has
/// the lower index goes first.
pub fn smith(pieces: &[Piece], tied: &[Vec<usize>]) -> SmithOrder {
    let mut grouped = vec![false; pieces.len()];
    let mut composites: Vec<Composite> = Vec::new();
    let alone = (0..pieces.len()).map(|piece| vec![piece]);
    for group in tied.iter().cloned().chain(alone) {
        let mut composite = Composite::default();
        for member in group {
            if grouped.get(member) == Some(&false) {
                grouped[member] = true;
                composite.duration += i128::from(pieces[member].duration);
                composite.weight += i128::from(pieces[member].weight);
                composite.members.push(member);
            }
        }
        if !composite.members.is_empty() {
            composites.push(composite);
        }
    }
    // Falling weight over duration, multiplied out: what takes no time goes first.
    composites.sort_by(|a, b| {
        let fraction = (b.weight * a.duration).cmp(&(a.weight * b.duration));
        let no_time = (a.duration > 0).cmp(&(b.duration > 0));
        no_time.then(fraction).then(a.members.iter().min().cmp(&b.members.iter().min()))
    });
    let mut result = SmithOrder::default();
    let (mut now, mut cost) = (0, 0);
    for composite in composites {
        now += composite.duration;
        cost += composite.weight * now;
        result.order.extend(composite.members);
    }
    result.cost = i64::try_from(cost).unwrap_or(i64::MAX);
    result
}

#[derive(Default)]
struct Composite {
    duration: i128,
    weight: i128,
    members: Vec<usize>,
}
