//! `verify`: judges a record, whoever made it.

use super::{Exit, load, out};
use anyhow::Context;
use std::fmt::Write;
use std::path::Path;

pub fn run(path: &Path) -> anyhow::Result<Exit> {
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read `{}` as text", path.display()))?;
    let (job, plan) = match crate::record::read(&text) {
        Ok(record) => record,
        Err(faults) => {
            for fault in &faults {
                eprintln!("error: {}: {fault}", path.display());
            }
            return Ok(Exit::Unusable);
        }
    };
    match crate::verify::check(&job, &plan) {
        Ok(sound) => {
            let plan = sound.plan();
            out(&format!(
                "sound: {} events, {} tasks, fingerprint {}\n",
                plan.events.len(),
                plan.tasks.len(),
                load::fingerprint(&text)
            ));
            Ok(Exit::Safe)
        }
        Err(breaches) => {
            let mut rules: Vec<&str> = breaches.iter().map(|b| b.rule.name()).collect();
            rules.dedup();
            let mut text = String::new();
            for breach in &breaches {
                // Writing to a String cannot fail.
                let _ = writeln!(text, "{}", super::say::breach(breach, &job, &plan));
            }
            let _ = writeln!(text, "\n{}", super::say::labelled("not sound: ", &rules.join(" ")));
            out(&text);
            Ok(Exit::Refused)
        }
    }
}
