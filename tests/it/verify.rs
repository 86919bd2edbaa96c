//! The checker: every given record gets exactly the rules that it must, and every spoilt fact
//! of a sound one exactly the rules that it breaks.

use std::collections::BTreeSet;
use wayover::verify::{self, Rule};

fn expected(text: &str) -> BTreeSet<String> {
    let record: serde_json::Value = serde_json::from_str(text).expect("a record");
    let expect = record["case"]["expect"].as_array().expect("what it must get");
    expect.iter().map(|r| r.as_str().expect("a rule").to_owned()).collect()
}

#[test]
fn every_given_record_gets_exactly_its_verdict() {
    let mut wrong = Vec::new();
    for (name, text) in crate::records::all() {
        let (job, plan) = wayover::record::read(&text).expect("a record that can be read");
        let (_, breaches) = verify::replay(&job, &plan);
        let got: BTreeSet<String> = breaches.iter().map(|b| b.rule.name().to_owned()).collect();
        if got != expected(&text) {
            let words: Vec<String> = breaches
                .iter()
                .map(|b| format!("  {} at {:?}: {}", b.rule, b.at, b.words(&job, &plan)))
                .collect();
            wrong.push(format!("{name}: {got:?}\n{}", words.join("\n")));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_rule_has_a_meaning() {
    assert!(Rule::ALL.iter().all(|r| !r.meaning().is_empty()));
    assert_eq!(Rule::ALL.len(), 14 + 4 + 4 + 3 + 5 + 2);
}
