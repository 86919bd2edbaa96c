//! The job's files: what is read, what is refused, and what the job means.

use std::path::{Path, PathBuf};
use wayover::diag;
use wayover::jobfile::{Resolved, read, resolve};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The resolved job of a folder, or the faults as drawn.
fn job(folder: &Path) -> Result<Resolved, String> {
    read(folder).and_then(resolve).map_err(|f| diag::render(&f))
}

#[test]
fn every_demo_is_read() {
    for entry in std::fs::read_dir(folder("demo")).expect("demos are part of the checkout") {
        let path = entry.expect("a readable folder").path();
        let found = job(&path).unwrap_or_else(|f| panic!("{}:\n{f}", path.display()));
        assert!(found.labour.fits(&found.job));
    }
}
