//! `plan`: a summary to read, or the record.

use super::{Exit, load, out, say};
use crate::search::Options;
use std::path::Path;

pub fn run(folder: &Path, details: bool, json: bool, options: Options) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let checked = match load::plan(&job, options) {
        Ok(checked) => checked,
        Err(exit) => return Ok(exit),
    };
    if json {
        out(&checked.record);
    } else {
        out(&say::plan(&job, &checked, details));
    }
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}
