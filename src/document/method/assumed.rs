//! What the plan takes for granted: what was fixed, and what is still to be asked.

use crate::document::Input;
use crate::model::Site;
use crate::model::site::Severity;
use std::collections::BTreeMap;

pub fn fixed(input: &Input) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for pin in input.labour.pins.iter().filter(|p| !p.reason.is_empty()) {
        if !out.contains(&pin.reason) {
            out.push(pin.reason.clone());
        }
    }
    out
}

pub fn questions(site: &Site) -> Vec<[String; 3]> {
    let words: BTreeMap<Severity, &str> = BTreeMap::from([
        (Severity::Safety, "SAFETY"),
        (Severity::Plan, "may change the plan"),
        (Severity::Note, "clear up on the way"),
    ]);
    site.questions
        .iter()
        .map(|q| {
            let severity = words.get(&q.severity).copied().unwrap_or_default();
            [severity.to_owned(), q.what.clone(), q.who.clone()]
        })
        .collect()
}
