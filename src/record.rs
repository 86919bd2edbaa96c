//! The plan record: one JSON file with a job and a plan for it, and the only room that knows
//! its syntax.
//!
//! `raw` is the file as written, `read` looks every name up, `write` does the reverse. A record
//! read back is what gets judged, so that nothing the planner knows but did not write can count.

mod raw;
mod read;
mod write;

pub use read::{RecordFault, read};
pub use write::write;

/// The format that this room reads and writes.
pub const FORMAT: &str = "changeover-record/3";
