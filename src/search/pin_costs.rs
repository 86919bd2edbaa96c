//! What each decision of the user costs: the job planned again without it, as hard and with the
//! same seed.
//!
//! A plan that keeps a decision is a plan of the job without it too, so that the better of the
//! two stands for that job, and no decision costs less than nothing.

use super::{Options, Outcome};
use crate::model::*;
use crate::plan::{DecisionCost, Plan};

/// The cost of each decision in this plan, in their order.
pub fn costs(job: &Job, labour: &Labour, plan: &Plan, options: Options) -> Vec<DecisionCost> {
    let mut decisions: Vec<usize> = labour.pins.iter().map(|p| p.decision).collect();
    decisions.sort_unstable();
    decisions.dedup();
    let with = &plan.claims.j;
    let without = super::side_by_side(&decisions, |decision| {
        let free = without(labour, *decision);
        match super::plan(job, &free, options) {
            Outcome::Plan(other) => other.claims.j.clone().min(with.clone()),
            Outcome::None { .. } => with.clone(),
        }
    });
    let of = |(decision, without)| DecisionCost { decision, with: with.clone(), without };
    decisions.into_iter().zip(without).map(of).collect()
}

/// The job's work without a decision.
pub fn without(labour: &Labour, decision: usize) -> Labour {
    let mut free = labour.clone();
    free.pins.retain(|p| p.decision != decision);
    free
}
