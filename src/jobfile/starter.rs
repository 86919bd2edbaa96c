//! The starter job of `new`: a small job that passes `check`, with a word on every line.

/// Its `job.toml`.
pub fn starter_job() -> &'static str {
    include_str!("starter/job.toml")
}

/// Its `circuits.csv`.
pub fn starter_schedule() -> &'static str {
    include_str!("starter/circuits.csv")
}
