//! The plan records handed to the project, each with the verdict that it must get.

use pretty_assertions::assert_eq;
use std::path::PathBuf;

/// All given records, by file name.
pub fn all() -> Vec<(String, String)> {
    let dir = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/records");
    let mut records: Vec<_> = std::fs::read_dir(dir)
        .expect("the records are part of the checkout")
        .map(|entry| entry.expect("a readable folder").path())
        .filter(|path| path.extension().is_some_and(|e| e == "json"))
        .map(|path| {
            let name = path.file_name().expect("a file").to_string_lossy().into_owned();
            (name, std::fs::read_to_string(path).expect("a readable record"))
        })
        .collect();
    records.sort();
    assert!(records.len() > 30, "only {} records found", records.len());
    records
}

#[test]
fn a_record_written_and_read_back_is_the_same() {
    for (name, text) in all() {
        let (job, plan) = wayover::record::read(&text).unwrap_or_else(|f| panic!("{name}: {f:?}"));
        let written = wayover::record::write(&job, &plan);
        let (job2, plan2) =
            wayover::record::read(&written).unwrap_or_else(|f| panic!("{name}: {f:?}"));
        assert!(job == job2 && plan == plan2, "{name} changes when written");
        assert_eq!(written, wayover::record::write(&job2, &plan2));
    }
}
