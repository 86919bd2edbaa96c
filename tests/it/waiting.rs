//! Somebody waits for the search: the brake, Ctrl-C, progress.

use crate::bad_input::wayover;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU64, Ordering};
use wayover::jobfile;
use wayover::search::watch::{Brake, NOBODY, Progress, Watch};
use wayover::search::{self, Options, Outcome};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

/// Wherever the brake falls, what was found so far is kept and is sound; the sooner it falls the
/// fewer plans are tried, and a brake that never falls changes nothing.
#[test]
fn whenever_the_brake_falls_the_best_plan_so_far_is_sound() {
    let folder = root().join("demo/a-boathouse");
    let r = jobfile::resolve(jobfile::read(&folder).expect("a job")).expect("a resolved job");
    let options = Options { moves: 300, tries: 6, seed: 1 };
    let run = |after: u64| {
        let (asked, tried) = (AtomicU64::new(0), AtomicU64::new(0));
        let brake = || {
            let nth = asked.fetch_add(1, Ordering::Relaxed);
            if nth >= after { Brake::FirstPlan } else { Brake::Off }
        };
        let tell = |p: &Progress| {
            assert!(p.best.as_ref().is_none_or(|b| *b >= p.bound), "{p:?}");
            tried.store(p.tried, Ordering::Relaxed);
        };
        let watch = Watch::new(&brake, Some(&tell));
        let Outcome::Plan(plan) = search::plan_watched(&r.job, &r.labour, options, &watch) else {
            panic!("no plan when the brake falls at question {after}")
        };
        let record = wayover::record::write(&r.job, &plan);
        let (job, read) = wayover::record::read(&record).expect("a good record");
        wayover::verify::check(&job, &read).expect("a sound plan");
        (plan.claims.j.clone(), tried.load(Ordering::Relaxed), watch.braked())
    };
    let full = run(u64::MAX);
    let mut before = 0;
    for after in [0, 1, 3, 10, 30] {
        let (cost, tried, braked) = run(after);
        // A late brake falls when all plans are tried and the order of the best is improved.
        assert!(braked && tried <= full.1, "{tried} tried, {} without a brake", full.1);
        assert!(after > 1 || tried < full.1, "an early brake spares tries: {tried}");
        assert!(tried >= before && cost >= full.0, "question {after}: {cost} after {tried}");
        before = tried;
    }
    assert!(!full.2);
    let Outcome::Plan(plain) = search::plan_watched(&r.job, &r.labour, options, &NOBODY) else {
        panic!("no plan")
    };
    assert_eq!(plain.claims.j, full.0);
}

#[test]
fn a_tiny_limit_leaves_no_plan_of_a_large_job_and_says_so() {
    let (code, out, err) = wayover(&["plan", "demo/b-library", "--at-most", "1ms"], &root());
    assert_eq!((code, out.as_str()), (1, ""), "{err}");
    assert_eq!(err, "stopped early, by --at-most, before any plan was found\n");
    let (code, _, err) = wayover(&["plan", "demo/b-library", "--at-most", "soon"], &root());
    assert!(code == 2 && err.contains("such as 30s"), "{err}");
}

/// Ctrl-C, sent as the signal that it is, as soon as progress tells of a plan.
#[cfg(unix)]
#[test]
fn ctrl_c_keeps_the_best_plan_found_so_far() {
    use std::io::{BufRead, BufReader, Read};
    let mut child = Command::new(env!("CARGO_BIN_EXE_wayover"))
        .args(["plan", "demo/b-library", "--progress", "--effort", "thorough", "--format", "json"])
        .current_dir(root())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut stdout = child.stdout.take().expect("piped");
    let record = std::thread::spawn(move || {
        let mut text = String::new();
        stdout.read_to_string(&mut text).map(|_| text)
    });
    let mut told = Vec::new();
    let mut sent = false;
    for line in BufReader::new(child.stderr.take().expect("piped")).lines() {
        let line = line.expect("text");
        if !sent && line.contains("downtime cost") {
            let kill = Command::new("kill").args(["-INT", &child.id().to_string()]).status();
            assert!(kill.expect("kill runs").success());
            sent = true;
        }
        told.push(line);
    }
    let code = child.wait().expect("it ends").code();
    let record = record.join().expect("no panic").expect("text");
    assert!(sent && code == Some(0), "{code:?} {told:#?}");
    assert!(told.iter().any(|l| l.starts_with("stopped early, by Ctrl-C")), "{told:#?}");
    let (job, plan) = wayover::record::read(&record).expect("a record");
    wayover::verify::check(&job, &plan).expect("a sound plan");
}
