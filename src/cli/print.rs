//! `print`: plans, checks, writes the papers.

use super::{Exit, load, out};
use crate::search::Options;
use anyhow::Context;
use std::path::Path;

pub fn run(folder: &Path, to: &Path, options: Options) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let checked = match load::plan(&job, options) {
        Ok(checked) => checked,
        Err(exit) => return Ok(exit),
    };
    let pack = crate::document::pack(&crate::document::Input {
        sound: &checked.sound,
        site: &job.site,
        labour: &job.labour,
        fingerprint: &checked.fingerprint,
    })?;
    write(to, &pack, &checked.record)
        .with_context(|| format!("cannot write `{}`", to.display()))?;
    let mut text = format!("Wrote {} papers to {}:\n", pack.papers.len(), to.display());
    text.push_str(&format!("  {:<28} {}\n", "index.html", "what each is for: begin here"));
    for paper in &pack.papers {
        text.push_str(&format!("  {:<28} {}\n", paper.file, paper.title));
    }
    for extra in &pack.extras {
        text.push_str(&format!("  {:<28} {}\n", extra.file, extra.purpose));
    }
    text.push_str(&format!("fingerprint {}\n", checked.fingerprint));
    if job.site.draft() {
        text.push_str(
            "Questions of the survey are open: every page is marked DRAFT, NOT FOR SITE.\n",
        );
    }
    out(&text);
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}

/// Everything goes into a folder beside the one asked for, which then takes its place: a pack is
/// there whole or not at all.
fn write(to: &Path, pack: &crate::document::Pack, record: &str) -> std::io::Result<()> {
    let name = to.file_name().map_or_else(|| "papers".into(), |n| n.to_os_string());
    let mut fresh = name.clone();
    fresh.push(".part");
    let fresh = to.with_file_name(fresh);
    if fresh.exists() {
        std::fs::remove_dir_all(&fresh)?;
    }
    std::fs::create_dir_all(&fresh)?;
    let written = || -> std::io::Result<()> {
        for paper in &pack.papers {
            std::fs::write(fresh.join(&paper.file), &paper.content)?;
        }
        for extra in &pack.extras {
            std::fs::write(fresh.join(&extra.file), &extra.content)?;
        }
        std::fs::write(fresh.join("index.html"), &pack.index)?;
        std::fs::write(fresh.join("plan.json"), record)
    };
    if let Err(e) = written() {
        let _ = std::fs::remove_dir_all(&fresh);
        return Err(e);
    }
    if to.is_dir() {
        // Only what is ours is replaced; what else lies there stays.
        for entry in std::fs::read_dir(&fresh)? {
            let entry = entry?;
            std::fs::rename(entry.path(), to.join(entry.file_name()))?;
        }
        return std::fs::remove_dir_all(&fresh);
    }
    std::fs::rename(&fresh, to)
}
