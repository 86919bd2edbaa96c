//! Two checkers, written apart from the same pages, on spoilt plans: they must agree.
//!
//! Where an act is impossible (S2) or out of its order (S3) there is no telling what the people
//! would do instead, and each checker goes on in its own way; both must then name that rule, but
//! what else they find further on is not compared.
//!
//! The other one is `tests/outside/check_record.py`; `tests/outside/spoil.py` spoils one fact of
//! a sound record at a time. Where no `python3` is found there is nothing to compare with. For a
//! longer run: `SPOILT="<seed> <count>" cargo test --test it second_opinion -- --nocapture`.

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::process::Command;

const SOUND: [&str; 5] = [
    "01-sound-same-place",
    "02-sound-side-by-side",
    "07-sound-covers-first",
    "48-sound-no-added-load",
    "80-sound-two-sessions",
];

fn tests() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests")
}

fn python(args: &[String]) -> Option<String> {
    let run = Command::new("python3").args(args).output().ok()?;
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    Some(String::from_utf8_lossy(&run.stdout).into_owned())
}

fn ours(text: &str) -> Option<(BTreeSet<String>, Vec<String>)> {
    let (job, plan) = wayover::record::read(text).ok()?;
    let (_, breaches) = wayover::verify::replay(&job, &plan);
    let rules = breaches.iter().map(|b| b.rule.name().to_owned()).collect();
    let words = breaches.iter().map(|b| format!("{} {}", b.rule, b.words(&job, &plan))).collect();
    Some((rules, words))
}

#[test]
fn two_checkers_agree_on_spoilt_plans() {
    let spoilt = std::env::var("SPOILT").unwrap_or_else(|_| "1 24".to_owned());
    let (seed, count) = spoilt.split_once(' ').expect("a seed and a count");
    let dir = std::env::temp_dir().join(format!("spoilt-{seed}-{count}-{}", std::process::id()));
    let path = |p: PathBuf| p.to_string_lossy().into_owned();
    let mut args = vec![path(tests().join("outside/spoil.py")), seed.into(), count.into()];
    args.push(path(dir.clone()));
    args.extend(SOUND.map(|name| path(tests().join(format!("records/{name}.json")))));
    if python(&args).is_none() {
        eprintln!("no python3: nothing to compare with");
        return;
    }
    let mut files: Vec<PathBuf> = std::fs::read_dir(&dir)
        .expect("the folder just written")
        .map(|entry| entry.expect("a readable folder").path())
        .collect();
    files.sort();
    assert_eq!(files.len().to_string(), count);
    let mut args = vec![path(tests().join("outside/check_record.py"))];
    args.extend(files.iter().cloned().map(path));
    let theirs = python(&args).expect("python3 was found before");
    let mut apart = Vec::new();
    for (file, line) in files.iter().zip(theirs.lines()) {
        let text = std::fs::read_to_string(file).expect("a file just written");
        let verdict: serde_json::Value = serde_json::from_str(line).expect("a line of JSON");
        let record: serde_json::Value = serde_json::from_str(&text).expect("a record");
        let Some((rules, words)) = ours(&text) else { continue };
        let theirs: Option<BTreeSet<String>> = verdict["rules"]
            .as_array()
            .map(|all| all.iter().filter_map(|r| r.as_str()).map(str::to_owned).collect());
        let agree = theirs.as_ref().is_some_and(|theirs| {
            let adrift = ["S2", "S3"].iter().any(|r| rules.contains(*r) && theirs.contains(*r));
            adrift || *theirs == rules
        });
        if !agree {
            let told: Vec<String> = verdict["breaches"]
                .as_array()
                .into_iter()
                .flatten()
                .map(|b| format!("{} {}", b["rule"], b["what"]))
                .collect();
            apart.push(format!(
                "{} {}\n  ours {rules:?}\n    {}\n  theirs {theirs:?} {}\n    {}",
                file.file_name().unwrap_or_default().to_string_lossy(),
                record["case"]["says"],
                words.join("\n    "),
                verdict["error"],
                told.join("\n    ")
            ));
        }
    }
    std::fs::remove_dir_all(&dir).expect("the folder just written");
    assert!(apart.is_empty(), "{} of {count} apart:\n{}", apart.len(), apart.join("\n"));
}
