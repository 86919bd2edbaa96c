//! `new`: a commented starter job.

use super::{Exit, out};
use anyhow::{Context, bail};
use std::path::Path;

pub fn run(folder: &Path) -> anyhow::Result<Exit> {
    if folder.exists() {
        bail!("`{}` is there already; name a folder that is not", folder.display());
    }
    let made = || -> std::io::Result<()> {
        std::fs::create_dir_all(folder)?;
        std::fs::write(folder.join("job.toml"), crate::jobfile::starter_job())?;
        std::fs::write(folder.join("circuits.csv"), crate::jobfile::starter_schedule())
    };
    if let Err(e) = made() {
        // Nothing half-written stays.
        let _ = std::fs::remove_dir_all(folder);
        return Err(e).with_context(|| format!("cannot write `{}`", folder.display()));
    }
    out(&format!(
        "Made {0}/job.toml and {0}/circuits.csv.\nFill in what you surveyed, then: wayover check {0}\n",
        folder.display()
    ));
    Ok(Exit::Safe)
}
