//! The starter job of `new`.

/// Its `job.toml`.
pub fn starter_job() -> &'static str {
    ""
}

/// Its `circuits.csv`.
pub fn starter_schedule() -> &'static str {
    ""
}
