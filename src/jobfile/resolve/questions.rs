//! Open questions: what the survey did not answer, and how much that matters.

use super::build::{Build, get, rows, text};
use crate::jobfile::schema::{CircuitRow, Identified, OnOff, Profile, Severity as Word};
use crate::model::site::{OpenQuestion, Severity};
use crate::model::*;

/// Gathers the open questions.
pub(super) fn questions(b: &mut Build, all: &[CircuitRow]) {
    for row in rows(&b.root.question) {
        let severity = match get(&row.matters).unwrap_or(Word::Safety) {
            Word::Safety => Severity::Safety,
            Word::Plan => Severity::Plan,
            Word::Note => Severity::Note,
        };
        ask(b, severity, text(&row.what), text(&row.who));
    }
    for row in all {
        circuit(b, row);
    }
    for (_, group) in b.job.groups.clone().iter() {
        if let Some(why) = &group.old_state_exempt {
            let feed = b.job.circuits.name(group.feed).to_string();
            let what = format!(
                "emergency lighting fed from `{feed}` was not on the circuit of its lighting: {why}"
            );
            ask(b, Severity::Note, what, String::new());
        }
    }
    let by_profile = b.job.nodes.rows().iter().any(|n| {
        n.source()
            .and_then(|s| s.neutral_earthed.as_ref())
            .is_some_and(|w| w.ends_with("(profile uk)"))
    });
    if by_profile && b.frame.profile == Profile::Uk {
        let what = "have the distributor's earthing arrangement confirmed: that the neutral is reliably earthed is taken from the profile".to_string();
        ask(b, Severity::Note, what, "the distributor".to_string());
    }
}

fn circuit(b: &mut Build, row: &CircuitRow) {
    let number = text(&row.circuit);
    let Some(id) = b.job.circuits.find(&number) else { return };
    let load = b.job.loads.iter().find(|(_, l)| l.circuits.contains(&id)).map(|(l, _)| l);
    let important = load.is_some_and(|l| {
        let word = b.site.loads[l.index()].importance.as_str();
        matches!(word, "life safety" | "critical" | "high")
    });
    let emergency = row.emergency.is_some();
    let serves = text(&row.serves);
    match get(&row.identified) {
        Some(Identified::Unknown) => {
            let what = format!("circuit `{number}` ({serves}) was not identified: trace it");
            ask(b, Severity::Safety, what, String::new());
        }
        Some(Identified::Chart) => {
            let severity = if important || emergency { Severity::Safety } else { Severity::Plan };
            let what = format!(
                "circuit `{number}` ({serves}) is known from the board chart only: trace it"
            );
            ask(b, severity, what, String::new());
        }
        _ => {}
    }
    let ends = row.new.as_ref().is_some_and(|n| !n.value.contains('/'));
    if get(&row.found) == Some(OnOff::Off) && !ends {
        let what =
            format!("circuit `{number}` ({serves}) was found off: ask why before it is energised");
        ask(b, Severity::Plan, what, text(&row.decides));
    }
    let rides =
        b.job.joints.rows().iter().any(|j| matches!(j.of, Some((c, Place::On(_))) if c == id));
    if rides && row.current_a.is_none() {
        let what = format!(
            "design current of circuit `{number}` ({serves}) is not known: on a temporary supply its device's rating counts"
        );
        ask(b, Severity::Plan, what, String::new());
    }
    if row.fallback.is_some() && row.decides.is_none() {
        let what = format!("who decides on the fallback of circuit `{number}` ({serves})?");
        ask(b, Severity::Note, what, String::new());
    }
}

fn ask(b: &mut Build, severity: Severity, what: String, who: String) {
    b.site.questions.push(OpenQuestion { severity, what, who });
}
