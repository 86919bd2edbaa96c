//! What the plan takes for granted: what was fixed, and what is still to be asked.

use crate::document::Input;
use crate::model::Site;
use crate::model::site::Severity;
use std::collections::BTreeMap;

/// What was fixed, why, and what it costs where that was worked out.
pub fn fixed(input: &Input) -> Vec<String> {
    let job = input.sound.job();
    let mut out: Vec<String> = Vec::new();
    let mut last = None;
    for pin in &input.labour.pins {
        let words = pin.words(job, &input.site.clock);
        if last == Some(pin.decision)
            && let Some(row) = out.last_mut()
        {
            *row = format!("{words}; {row}");
            continue;
        }
        last = Some(pin.decision);
        let cost = input.costs.iter().find(|c| c.decision == pin.decision);
        let cost = cost.map_or_else(String::new, |c| format!(" {}", c.words()));
        out.push(format!("{words}. Reason: {}.{cost}", pin.reason.trim_end_matches('.')));
    }
    out.into_iter().map(|row| row.replace('`', "")).collect()
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
            [severity.to_owned(), q.what.replace('`', ""), q.who.clone()]
        })
        .collect()
}
