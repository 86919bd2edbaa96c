//! The job's folder as written, and the job that it means.
//!
//! ```text
//! folder ─ read ─▶ JobFile (every key with its place) ─ resolve ─▶ Resolved { job, labour, site }
//! ```
//!
//! [`read`] fails only where the text itself cannot be read. All other faults, of keys, values
//! and meaning, are told together by [`resolve`].

mod files;
mod matrix;
mod resolve;
pub mod schema;
mod starter;
mod summary;
pub mod tables;
pub mod value;
pub mod when;

pub use files::{JobFile, read};
pub use matrix::{Matrix, MatrixRow, Part, Verdict};
pub use resolve::{Resolved, resolve, survey};
pub use starter::{starter_job, starter_schedule};
pub use summary::{Summary, summary};
