//! wayover plans, proves and prints the changeover of distribution boards in buildings that
//! stay in use.
//!
//! ```text
//! record file ─ record::read ─▶ Job, Plan          Job, Plan ─ record::write ─▶ record file
//! ```
#![forbid(unsafe_code)]

pub mod units;

pub mod model;
pub mod plan;
pub mod record;
pub mod schedule;
