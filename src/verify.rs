//! The independent checker: replays a plan on its job, and makes a [`SoundPlan`] of it or tells
//! every breach.
//!
//! It knows no network and no search: its own walk over conductors (`wiring`, `reach`, `ways`,
//! `first_met`), its own replay of locks, keys, covers and proofs (`now`, `apply`, `proof`), its
//! own impedance (`temporary`) and cost (`cost`). A bad plan is an answer, never a crash.
//!
//! Every event is judged in the state before it, applied, and the state after it judged; what
//! W13, W14 and the ledgers ask is asked of every state that lasts. Where the planning model is
//! silent the stricter reading holds.

mod apply;
mod backout;
mod breach;
mod charge;
mod cost;
mod dead;
mod emergency;
mod energise;
mod first_met;
mod keys;
mod labour;
mod leave;
mod ledger;
mod limits;
mod live_work;
mod neutral;
mod now;
mod order;
mod outages;
mod proof;
mod reach;
mod replay;
mod route;
mod rules;
mod run;
mod sequence;
mod simple_path;
mod site;
mod surges;
mod survey;
mod temporary;
mod track;
mod ways;
mod wiring;

pub use breach::{Breach, Fact, Kind};
pub use charge::{ChargeStep, Charging};
pub use cost::Cost;
pub use ledger::LockSpan;
pub use now::{DeviceState, Padlock};
pub use outages::Outage;
pub use replay::{Replay, TaskRun};
pub use route::{Gap, Leg, Route};
pub use rules::Rule;
pub use track::Track;

use crate::model::Job;
use crate::plan::Plan;

/// A plan that has been replayed without a breach, with its job and the replay. Only [`check`]
/// makes one.
#[derive(Debug)]
pub struct SoundPlan {
    job: Job,
    plan: Plan,
    replay: Replay,
}

impl SoundPlan {
    /// The job that it is for.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// The plan.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// What the replay found: states, outages, charge, cost.
    pub fn replay(&self) -> &Replay {
        &self.replay
    }
}

/// Judges a plan by every rule of the planning model.
///
/// # Errors
///
/// Every breach found, once each, by rule and then by time.
pub fn check(job: &Job, plan: &Plan) -> Result<SoundPlan, Vec<Breach>> {
    let (replay, breaches) = run::run(job, plan);
    if breaches.is_empty() {
        Ok(SoundPlan { job: job.clone(), plan: plan.clone(), replay })
    } else {
        Err(breaches)
    }
}

/// Replays a plan whatever its faults: what it would do and cost, and every breach.
pub fn replay(job: &Job, plan: &Plan) -> (Replay, Vec<Breach>) {
    run::run(job, plan)
}
