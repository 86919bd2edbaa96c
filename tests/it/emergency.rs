//! Emergency lighting from the survey to the papers: the matrix old against new, charge, dates,
//! what is refused and why.

mod autonomy;
mod charge;
mod matrix;
mod neighbours;
mod papers;
mod parted;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// A folder of its own, taken away at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(label: &str, toml: &str, csv: &str) -> Scratch {
        let path = std::env::temp_dir().join(format!("wayover-em-{label}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a temporary folder");
        std::fs::write(path.join("job.toml"), toml).expect("a writable folder");
        std::fs::write(path.join("circuits.csv"), csv).expect("a writable folder");
        Scratch(path)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn demo(name: &str, file: &str) -> String {
    std::fs::read_to_string(folder("demo").join(name).join(file)).expect("a readable demo")
}

/// `text` with one part of it changed; the part has to be there once.
fn with(text: &str, part: &str, other: &str) -> String {
    assert_eq!(text.matches(part).count(), 1, "`{part}` is not there once");
    text.replace(part, other)
}

/// The built program.
fn wayover(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wayover")).args(args).output().expect("the program runs")
}

fn said(output: &Output) -> (Option<i32>, String, String) {
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code(), text(&output.stdout), text(&output.stderr))
}
