//! What stands on the screen: 80 columns, no escape codes, the same twice; and records judged.

use super::bad_input::{Scratch, wayover};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).to_path_buf()
}

#[test]
fn every_row_fits_80_columns_and_two_runs_say_the_same() {
    let runs: [&[&str]; 13] = [
        &["check", "demo/a-boathouse"],
        &["plan", "demo/a-boathouse"],
        &["plan", "demo/a-boathouse", "--details"],
        &["trace", "demo/a-boathouse", "DB-B.ways"],
        &["trace", "demo/a-boathouse", "C2"],
        &["trace", "demo/a-boathouse", "DB-B.ways", "--without", "isolator Q1", "--at", "5"],
        &["check", "demo/c-music-school"],
        &["plan", "demo/c-music-school"],
        &["plan", "demo/c-music-school", "--details"],
        &["trace", "demo/c-music-school", "DB-K"],
        &["trace", "demo/c-music-school", "7"],
        &["verify", "tests/records/01-sound-same-place.json"],
        &["verify", "tests/records/31-e2-rest-while-fed.json"],
    ];
    for args in runs {
        let first = wayover(args, &root());
        let (code, out, err) = &first;
        assert!(*code <= 1 && !out.is_empty(), "{args:?}: {err}");
        for line in out.lines().chain(err.lines()) {
            assert!(line.chars().count() <= 80, "{args:?}: {line}");
            assert!(!line.contains('\u{1b}'), "{args:?}: {line}");
        }
        assert_eq!(wayover(args, &root()), first, "{args:?}");
    }
}

#[test]
fn a_circuit_is_traced_by_its_number() {
    let trace = |job: &str, place: &str| wayover(&["trace", job, place], &root());
    let (code, out, _) = trace("demo/a-boathouse", "C2");
    assert!(code == 0 && out.starts_with("C2, before the work\n"), "{out}");
    assert!(out.contains("chosen  isolator Q1"), "{out}");
    let with_letters = trace("demo/c-music-school", "K7");
    assert!(with_letters.0 == 0 && with_letters.1.starts_with("K7, "), "{}", with_letters.1);
    assert_eq!(trace("demo/c-music-school", "7"), with_letters);
    // Two circuits have this number, so it is asked and not guessed.
    let (code, _, err) = trace("demo/c-music-school", "2");
    assert!(code == 2 && err.contains("did you mean `K2` or `M2`?"), "{err}");
}

#[test]
fn a_spoilt_record_is_not_sound_and_garbage_is_no_record() {
    let s = Scratch::new("records");
    let (code, record, _) = wayover(&["plan", "job", "--format", "json"], &s.path(""));
    assert_eq!(code, 0);
    let judge = |text: &[u8]| {
        std::fs::write(s.path("record.json"), text).expect("a writable folder");
        wayover(&["verify", "record.json"], &s.path(""))
    };
    assert_eq!(judge(record.as_bytes()).0, 0);
    let mut value: serde_json::Value = serde_json::from_str(&record).expect("json");
    let events = value["plan"]["events"].as_array_mut().expect("events");
    let lock = events.iter().position(|e| e["do"] == "lock").expect("a lock");
    events.remove(lock);
    let (code, out, _) = judge(value.to_string().as_bytes());
    assert_eq!(code, 1, "{out}");
    let last = out.lines().last().unwrap_or_default();
    assert!(last.starts_with("not sound: ") && last.contains("W1 "), "{out}");
    let cut = &record.as_bytes()[..record.len() / 2];
    for garbage in [&b""[..], b"plan", b"[[[[", b"{}", b"\xff\xfe{\0}\0", cut] {
        let (code, out, err) = judge(garbage);
        assert!(code == 2 && out.is_empty() && err.starts_with("error: "), "{err}");
        assert!(!err.contains("panicked"));
    }
}
