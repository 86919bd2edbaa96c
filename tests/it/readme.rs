//! README against the code: its tables are made from the code, and its sample job runs.
//!
//! `WAYOVER_WRITE_README=1 cargo test --test it readme` writes the tables anew.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;
use wayover::diag::Code;
use wayover::jobfile::schema;
use wayover::verify::Rule;

fn path() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md")
}

fn readme() -> String {
    std::fs::read_to_string(path()).expect("README.md")
}

fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

fn keys() -> String {
    let mut out = String::new();
    for (table, keys) in schema::reference() {
        let _ = write!(
            out,
            "\n#### `{table}`\n\n| key | value | default | meaning |\n|---|---|---|---|\n"
        );
        for key in keys {
            let kind = cell(&key.kind);
            let _ = writeln!(
                out,
                "| `{}` | {kind} | {} | {} |",
                key.name,
                cell(key.default),
                cell(key.about)
            );
        }
    }
    out
}

fn faults() -> String {
    let mut out = "\n| code | cause | cure |\n|---|---|---|\n".to_owned();
    for entry in Code::ALL {
        let _ = writeln!(
            out,
            "| {} | {} | {} |",
            entry.code.name(),
            cell(entry.cause),
            cell(entry.cure)
        );
    }
    out
}

fn rules() -> String {
    let mut out = "\n| rule | what it asks |\n|---|---|\n".to_owned();
    for rule in Rule::ALL {
        let _ = writeln!(out, "| {} | {} |", rule.name(), cell(rule.meaning()));
    }
    out
}

/// The text with the part between two marks replaced.
fn with(text: &str, mark: &str, new: &str) -> String {
    let (open, close) = (format!("<!-- {mark} -->\n"), format!("<!-- end of {mark} -->"));
    let (before, rest) = text.split_once(&open).unwrap_or_else(|| panic!("no {open}"));
    let (_, after) = rest.split_once(&close).unwrap_or_else(|| panic!("no {close}"));
    format!("{before}{open}{new}\n{close}{after}")
}

#[test]
fn its_tables_are_those_of_the_code() {
    let is = readme();
    let mut should = is.clone();
    for (mark, new) in [("keys", keys()), ("faults", faults()), ("rules", rules())] {
        should = with(&should, mark, &new);
    }
    if std::env::var("WAYOVER_WRITE_README").is_ok() {
        std::fs::write(path(), &should).expect("a README that can be written");
        return;
    }
    assert!(is == should, "README is behind the code: run this with WAYOVER_WRITE_README=1");
}

/// The fenced block in this language after a heading.
pub fn block(heading: &str, language: &str) -> String {
    let text = readme();
    let (_, after) = text.split_once(heading).unwrap_or_else(|| panic!("no {heading}"));
    let (_, block) = after.split_once(&format!("```{language}\n")).expect("a block");
    block.split_once("```").expect("its end").0.to_owned()
}

#[test]
fn its_plain_job_is_short_and_gets_a_plan() {
    let (job, circuits) = (block("### A plain job", "toml"), block("### A plain job", "csv"));
    assert!(job.lines().count() < 40, "{} lines", job.lines().count());
    let dir = std::env::temp_dir().join(format!("wayover-readme-{}", std::process::id()));
    std::fs::create_dir_all(&dir).expect("a folder");
    std::fs::write(dir.join("job.toml"), job).expect("a file");
    std::fs::write(dir.join("circuits.csv"), circuits).expect("a file");
    for verb in ["check", "plan"] {
        let run = Command::new(env!("CARGO_BIN_EXE_wayover"))
            .arg(verb)
            .arg(&dir)
            .output()
            .expect("the program runs");
        assert_eq!(run.status.code(), Some(0), "{}", String::from_utf8_lossy(&run.stdout));
    }
    std::fs::remove_dir_all(&dir).expect("the folder just made");
}

#[test]
fn it_tells_every_command_and_every_demo() {
    let text = readme();
    let help = Command::new(env!("CARGO_BIN_EXE_wayover")).arg("--help").output().expect("help");
    let help = String::from_utf8_lossy(&help.stdout).into_owned();
    for verb in ["new", "check", "plan", "print", "verify", "why", "trace"] {
        assert!(text.contains(&format!("`wayover {verb} ")), "{verb}");
        assert!(help.contains(verb), "{verb} in --help");
    }
    for line in text.lines().filter_map(|l| l.split_once("](")) {
        let link = line.1.split(')').next().unwrap_or_default();
        if !link.starts_with("http") && !link.starts_with('#') {
            let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(link);
            assert!(file.exists(), "{link}");
        }
    }
}
