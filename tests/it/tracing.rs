//! `trace` as it is run: a step of the plan by its number, and decisions about locks.

use std::path::Path;
use std::process::Command;

fn trace(folder: &Path, args: &[&str]) -> String {
    let mut run = Command::new(env!("CARGO_BIN_EXE_wayover"));
    let out = run.arg("trace").arg(folder).args(args).output().expect("the program");
    String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr)
}

/// The words of a text, however its rows are broken.
fn words(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn demo(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name)
}

#[test]
fn a_step_is_asked_for_by_its_number() {
    let before = trace(&demo("a-boathouse"), &["DB-B.ways"]);
    assert!(before.contains("NOT isolated and locked off"), "{before}");
    let during = trace(&demo("a-boathouse"), &["DB-B.ways", "--at", "5"]);
    assert!(during.contains("\nisolated and locked off"), "{during}");
    let circuit = trace(&demo("a-boathouse"), &["C1"]);
    assert!(words(&circuit).contains("at least: isolate, prove dead and energise"), "{circuit}");
    assert!(words(&before).contains("besides the place's own: nothing"), "{before}");
    let never = trace(&demo("a-boathouse"), &["DB-B.ways", "--at", "999"]);
    assert!(never.contains("no step, minute or task of the plan"), "{never}");
}

#[test]
fn a_device_that_is_not_to_be_locked_is_told_with_its_reason() {
    let folder = std::env::temp_dir().join(format!("tracing-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a writable folder");
    let from = demo("c-music-school");
    std::fs::copy(from.join("circuits.csv"), folder.join("circuits.csv")).expect("a copy");
    let job = std::fs::read_to_string(from.join("job.toml")).expect("a job");
    let fixed =
        |d: &str| format!("\n[[fixed]]\nno_lock_at = \"{d}\"\nwhy = \"its handle is worn\"\n");
    let mut told = Vec::new();
    let mut text = job;
    for devices in [&["MP/5"][..], &["MP.main", "main isolator Q0"]] {
        devices.iter().for_each(|d| text.push_str(&fixed(d)));
        std::fs::write(folder.join("job.toml"), &text).expect("a writable folder");
        told.push(trace(&folder, &["DB-K"]));
    }
    std::fs::remove_dir_all(&folder).expect("the folder just written");
    assert!(told[0].contains("chosen  MP.main"), "{}", told[0]);
    assert!(told[0].contains("MP/5 is never locked: its handle is worn"), "{}", told[0]);
    assert!(told[1].contains("nothing breaks L1 of DB-K.submain"), "{}", told[1]);
    let add = "would have to be added at termination DB-K supply end";
    assert!(words(&told[1]).contains(add), "{}", told[1]);
}
