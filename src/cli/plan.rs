//! `plan`: a summary to read, or the record.

use super::{Exit, Search, load, out, say};
use std::path::Path;

pub fn run(folder: &Path, details: bool, json: bool, search: &Search) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let mut checked = match load::plan(&job, search.options(&job.job), &search.wait()) {
        Ok(checked) => checked,
        Err(exit) => return Ok(exit),
    };
    if !json && !search.skip_decision_costs {
        load::price_decisions(&job, &mut checked, search.options(&job.job));
    }
    if json {
        out(&checked.record);
        if let Some(why) = checked.early {
            eprintln!("{}", say::early(why));
        }
    } else {
        out(&say::plan(&job, &checked, details));
    }
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}
