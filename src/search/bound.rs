//! A lower bound on the cost of every plan without a breach.

pub mod shortest;

use super::ground::Ground;
use crate::units::Exact;

/// A number that no plan without a breach costs less than.
pub fn lower_bound(g: &Ground) -> Exact {
    shortest::lower_bound(g)
}
