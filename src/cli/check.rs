//! `check`: every fault at once, then what was understood.

use super::{Exit, load, out};
use std::path::Path;

pub fn run(folder: &Path) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    out(&crate::jobfile::summary(&job).text());
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}
