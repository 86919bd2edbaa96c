//! wayover plans, proves and prints the changeover of distribution boards in buildings that
//! stay in use.
//!
//! ```text
//! record file ─ record::read ─▶ Job, Plan          Job, Plan ─ record::write ─▶ record file
//! Job ─ Network::build ─▶ Network                  Network, State ─ lock_sets ─▶ LockSets
//! ```
#![forbid(unsafe_code)]

pub mod diag;
pub mod units;

pub mod jobfile;
pub mod model;
pub mod network;
pub mod plan;
pub mod record;
pub mod schedule;
pub mod search;
pub mod verify;
pub mod work;
