//! Who does the work, and with what.

use crate::document::Input;
use crate::document::name;
use crate::model::*;

pub fn roles(input: &Input) -> Vec<[String; 4]> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out: Vec<[String; 4]> = job
        .people
        .iter()
        .map(|(id, person)| {
            let label = &site.people[id.index()];
            let all = TaskKind::ALL.iter().filter(|k| **k != TaskKind::Hold);
            let may = if all.clone().all(|k| person.may.contains(k)) {
                "all work of this plan".to_owned()
            } else {
                let not: Vec<String> = all
                    .filter(|k| !person.may.contains(k))
                    .map(|k| k.name().replace('_', " "))
                    .collect();
                format!("all but: {}", not.join(", "))
            };
            let role = if label.role.is_empty() { "electrician" } else { &label.role };
            [job.people.name(id).to_owned(), role.to_owned(), may, label.phone.clone()]
        })
        .collect();
    for o in job.outsiders.names() {
        out.push([
            o.to_owned(),
            "third party".to_owned(),
            "own devices and locks only".to_owned(),
            String::new(),
        ]);
    }
    out
}

/// A kind of instrument in the words of the trade.
fn kind(kind: &str) -> String {
    match kind {
        "detector" => "voltage detector",
        "tester" => "multifunction tester",
        other => other,
    }
    .to_owned()
}

pub fn tools(input: &Input) -> Vec<String> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out: Vec<String> = job
        .instruments
        .iter()
        .map(|(id, i)| {
            let kinds: Vec<String> = i.kinds.iter().map(|k| kind(k)).collect();
            format!("{}: {}", name::instrument(input, id), name::list(&kinds))
        })
        .collect();
    let locks: Vec<String> = plan.locks.names().map(str::to_owned).collect();
    let boxes: Vec<String> = plan.boxes.names().map(str::to_owned).collect();
    let each = locks.len();
    out.push(format!("Padlocks, each with one key only, and tags ({each}): {}", locks.join(", ")));
    if !boxes.is_empty() {
        out.push(format!(
            "{}, and for each person on site one personal lock for it",
            name::list(&boxes)
        ));
    }
    out.push("Proving unit or known live source for the voltage detector".to_owned());
    out.push(
        "Insulated tools, shrouding, barriers, battery task lights, ferrules and labels".to_owned(),
    );
    out.push(
        "Clamp meter for neutrals; low-resistance and insulation tester, loop and RCD tester"
            .to_owned(),
    );
    out
}

pub fn materials(input: &Input) -> Vec<[String; 2]> {
    let job = input.sound.job();
    input
        .site
        .materials
        .iter()
        .map(|m| {
            let comes = m.delivery.map(|d| {
                let at = input.site.clock.full(job.deliveries[d]);
                format!("with {}, {at}", job.deliveries.name(d))
            });
            [
                format!("{} {} {}", m.number, m.unit, m.what),
                comes.unwrap_or_else(|| "no delivery stated".to_owned()),
            ]
        })
        .collect()
}
