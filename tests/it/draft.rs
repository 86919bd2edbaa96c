//! A job with an open question on safety: each command says so, and so does every page.

use super::bad_input::{Scratch, wayover};

const MARK: &str = "DRAFT, NOT FOR SITE";

#[test]
fn an_important_circuit_known_from_the_chart_only_makes_every_page_a_draft() {
    let s = Scratch::new("draft");
    s.edit("circuits.csv", "3,high,,traced,yes,lead TS-1", "3,high,,chart only,yes,lead TS-1");
    let home = s.path("");
    let (code, told, _) = wayover(&["check", "job"], &home);
    assert_eq!(code, 3);
    assert!(
        told.contains("SAFETY: circuit `C4` (bait freezer) is known from the board chart only")
    );
    let (code, told, _) = wayover(&["plan", "job"], &home);
    assert!(code == 3 && told.lines().nth(1).is_some_and(|l| l.starts_with(MARK)), "{told}");
    let (code, told, _) = wayover(&["print", "job", "--out", "papers"], &home);
    assert!(code == 3 && told.contains(MARK), "{told}");
    let mut papers = 0;
    for entry in std::fs::read_dir(s.path("papers")).expect("papers") {
        let path = entry.expect("an entry").path();
        let name = path.display().to_string();
        if path.extension().is_none_or(|e| e != "html") {
            continue;
        }
        papers += 1;
        let text = std::fs::read_to_string(&path).expect("text");
        assert!(text.contains(&format!(">{MARK}</div>")), "{name}: nothing across the sheet");
        // Every kind of page has its margin, and the mark stands in each.
        let heads: Vec<&str> = text.lines().filter(|l| l.contains("@top-left {")).collect();
        assert!(!heads.is_empty(), "{name}");
        for head in heads {
            assert!(head.contains(&format!("content: \"{MARK}")), "{name}: {head}");
        }
    }
    assert!(papers > 15, "{papers}");
}

#[test]
fn a_job_without_open_questions_is_no_draft() {
    let s = Scratch::new("no-draft");
    let args = ["print", "job", "--out", "papers", "--effort", "quick"];
    let (code, told, err) = wayover(&args, &s.path(""));
    assert!(code == 0 && !told.contains("DRAFT"), "{told}{err}");
    let text = std::fs::read_to_string(s.path("papers/method-statement.html")).expect("text");
    assert!(!text.contains(MARK));
}
