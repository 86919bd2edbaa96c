//! wayover plans, proves and prints the changeover of distribution boards in buildings that
//! stay in use.
//!
//! ```text
//! job folder ─ jobfile::read ─▶ JobFile ─ jobfile::resolve ─▶ Job, Labour, Site
//! Job ─ network::Network::build ─▶ Network      Network, State ─ lock_sets, Tracer ─▶ answers
//! Job, Labour ─ search::plan ─▶ Plan with its claims, or what stood in the way ─▶ Refusal
//!   Session ─ work::session::pieces ─▶ tasks ─ schedule::improve ─▶ times and people
//! Job, Plan ─ record::write ─▶ record file ─ record::read ─▶ Job, Plan
//! Job, Plan ─ verify::check ─▶ SoundPlan, or every Breach
//! SoundPlan, Site ─ document::pack ─▶ papers as HTML
//! ```
#![forbid(unsafe_code)]

pub mod cli;

pub mod jobfile;

pub mod network;
pub mod schedule;
pub mod work;

pub mod document;
pub mod search;

pub mod record;
pub mod verify;

pub mod model;
pub mod plan;

pub mod diag;
pub mod units;
