//! Waste that the job leaves, and the snag list: what is known to be open is on it already.

use super::Input;
use super::name;
use super::steps::Step;
use crate::model::site::Severity;
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    waste: Vec<Waste>,
    snags: Vec<Snag>,
}

#[derive(Serialize)]
struct Waste {
    what: String,
    from: String,
    care: &'static str,
}

/// Something known to be open.
#[derive(Serialize)]
struct Snag {
    place: String,
    what: String,
    who: String,
}

/// The list's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    View { waste: waste(input), snags: snags(input) }
}

fn waste(input: &Input) -> Vec<Waste> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out = Vec::new();
    for b in job.boards.ids().filter(|b| site.boards[b.index()].role == "OLD") {
        let label = &site.boards[b.index()];
        out.push(Waste {
            what: format!("{}, {} ways, with its devices", job.boards.name(b), label.ways),
            from: label.place.clone(),
            care: "check for asbestos (flash guards, backings, ropes) before it is touched; electrical waste",
        });
    }
    for end in site.ends.iter().filter(|e| e.end == "removed") {
        let label = &site.circuits[end.circuit.index()];
        out.push(Waste {
            what: match label.cable.is_empty() {
                true => format!("{}, {}", label.number, label.serves),
                false => {
                    format!("{}, {}, and its cable, {}", label.number, label.serves, label.cable)
                }
            },
            from: end.why.clone(),
            care: "cable to copper scrap; appliance to electrical waste",
        });
    }
    for (what, care) in [
        ("cable ends, old tails", "copper scrap"),
        ("packaging", "card and plastic kept apart"),
        ("lamps, batteries", "never with other waste"),
        ("dust and offcuts in and about the boards", "cleared before the first lock comes off"),
    ] {
        out.push(Waste { what: what.to_owned(), from: String::new(), care });
    }
    out
}

fn snags(input: &Input) -> Vec<Snag> {
    let (job, site, replay) = (input.sound.job(), input.site, input.sound.replay());
    let mut out = Vec::new();
    for c in job.circuits.ids() {
        let label = &site.circuits[c.index()];
        let place = name::circuit_text(input, c);
        if !label.defects.is_empty() {
            out.push(Snag {
                place: place.clone(),
                what: label.defects.clone(),
                who: String::new(),
            });
        }
        if let Some(s) = replay.riding(c).last() {
            let what = format!("still on temporary supply {}", job.supplies.name(*s));
            out.push(Snag { place: place.clone(), what, who: label.decides.clone() });
        }
        let off =
            site.ends.iter().find(|e| e.circuit == c && e.end != "removed" && e.end != "stays");
        if let Some(end) = off {
            let what = format!("{}: {}", end.end, end.why);
            out.push(Snag { place, what, who: label.decides.clone() });
        }
    }
    for d in &site.defects {
        let what = [d.what.as_str(), d.action.as_str()];
        let what: Vec<&str> = what.into_iter().filter(|t| !t.is_empty()).collect();
        out.push(Snag { place: d.at.clone(), what: what.join("; "), who: String::new() });
    }
    for q in site.questions.iter().filter(|q| q.severity == Severity::Note) {
        out.push(Snag { place: String::new(), what: q.what.clone(), who: q.who.clone() });
    }
    for (g, t) in &input.sound.plan().claims.full_duration_tests {
        let what = format!("full-duration test due {}", site.clock.full(*t));
        out.push(Snag {
            place: format!("emergency group {}", job.groups.name(*g)),
            what,
            who: String::new(),
        });
    }
    out
}
