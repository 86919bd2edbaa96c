//! Which room may import which: the table of DEVELOPERS.md, held against the code.

use std::path::{Path, PathBuf};

const ROOMS: &[(&str, &[&str])] = &[
    ("units", &[]),
    ("diag", &[]),
    ("model", &["units"]),
    ("plan", &["model", "units"]),
    ("jobfile", &["diag", "model", "units"]),
    ("record", &["model", "plan", "units"]),
    ("network", &["model", "units"]),
    ("schedule", &[]),
    ("work", &["model", "units"]),
    ("search", &["work", "schedule", "network", "plan", "model", "units"]),
    ("verify", &["plan", "model", "units"]),
    ("document", &["verify", "plan", "model", "units"]),
];

fn files(dir: &Path, all: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(dir) else { return };
    for entry in entries {
        let path = entry.expect("a readable folder").path();
        if path.is_dir() {
            files(&path, all);
        } else if path.extension().is_some_and(|e| e == "rs") {
            all.push(path);
        }
    }
}

#[test]
fn no_room_imports_one_that_it_may_not() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut wrong = Vec::new();
    let mut seen = 0;
    for (room, allowed) in ROOMS {
        let mut all = vec![src.join(format!("{room}.rs"))];
        files(&src.join(room), &mut all);
        for path in all.iter().filter(|p| p.exists()) {
            let text = std::fs::read_to_string(path).expect("a readable file");
            for rest in text.split("crate::").skip(1) {
                let name: String =
                    rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                seen += 1;
                let known = ROOMS.iter().any(|(r, _)| *r == name) || name == "cli";
                if known && name != *room && !allowed.contains(&name.as_str()) {
                    wrong.push(format!("{} imports {name}", path.display()));
                }
            }
        }
    }
    assert!(seen > 100, "only {seen} imports seen");
    assert!(wrong.is_empty(), "{wrong:#?}");
}
