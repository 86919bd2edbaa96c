//! A device that somebody else works, at appointments: the plain job of README with its isolator
//! given to the network operator.

use crate::readme::block;
use std::path::PathBuf;
use std::process::{Command, Output};
use wayover::model::Who;
use wayover::plan::Act;
use wayover::units::Minutes;

/// The job in a folder of its own, with these appointments.
fn job(name: &str, appointments: &str) -> PathBuf {
    let dir = std::env::temp_dir().join(format!("wayover-{name}-{}", std::process::id()));
    std::fs::create_dir_all(&dir).expect("a folder");
    let plain = block("### A plain job", "toml");
    let third = format!(
        "lockable = true, third_party = {{ owner = \"network operator\", appointments = [{appointments}] }} }}]"
    );
    let text = plain.replacen("lockable = true }]", &third, 1);
    assert_ne!(plain, text);
    std::fs::write(dir.join("job.toml"), text).expect("a file");
    std::fs::write(dir.join("circuits.csv"), block("### A plain job", "csv")).expect("a file");
    dir
}

fn run(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wayover")).args(args).output().expect("the program runs")
}

#[test]
fn isolation_and_energising_lie_in_the_appointments() {
    let dir = job("appointments", "\"2027-03-06 08:00-08:30\", \"2027-03-06 13:00-14:00\"");
    let path = dir.to_string_lossy().into_owned();
    let out = run(&["plan", &path, "--format", "json"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stdout));
    let (job, plan) =
        wayover::record::read(&String::from_utf8_lossy(&out.stdout)).expect("a record");
    wayover::verify::check(&job, &plan).expect("a sound plan");
    // Minute 0 is the midnight before Monday, so Saturday 08:00 is minute 7680.
    let there = |t: Minutes| (7680..7710).contains(&t.0) || (7980..8040).contains(&t.0);
    let theirs: Vec<_> = (plan.events.iter())
        .filter(|e| match &e.act {
            Act::Open(by, _) | Act::Close(by, _) | Act::Lock(by, ..) | Act::Unlock(by, ..) => {
                matches!(by.who, Who::Outsider(_))
            }
            _ => false,
        })
        .collect();
    assert_eq!(theirs.len(), 4, "opened, locked, unlocked and closed");
    assert!(theirs.iter().all(|e| there(e.at)), "{theirs:?}");
    let out = run(&["print", &path, "--out", &dir.join("papers").to_string_lossy()]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    for paper in ["method-statement.html", "lock-off-checklist.html"] {
        let text = std::fs::read_to_string(dir.join("papers").join(paper)).expect("a paper");
        assert!(text.contains("network operator"), "{paper} does not say who works the isolator");
    }
    std::fs::remove_dir_all(&dir).expect("the folder just made");
}

#[test]
fn without_a_second_appointment_there_is_no_plan() {
    let dir = job("appointment", "\"2027-03-06 08:00-08:30\"");
    let out = run(&["plan", &dir.to_string_lossy()]);
    assert_eq!(out.status.code(), Some(1), "{}", String::from_utf8_lossy(&out.stdout));
    std::fs::remove_dir_all(&dir).expect("the folder just made");
}
