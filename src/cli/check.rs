//! `check`: every fault at once, then what was understood. Emergency lighting that a change would
//! break is shown old against new, faults or not.

use super::{Exit, load, out};
use std::path::Path;

pub fn run(folder: &Path) -> anyhow::Result<Exit> {
    let (matrix, job) = load::survey(folder);
    let job = match job {
        Ok(job) => job,
        Err(exit) => {
            if matrix.broken() {
                out(&matrix.text());
            }
            return Ok(exit);
        }
    };
    out(&crate::jobfile::summary(&job).text());
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}
