//! Data for the installation certificate: what the job knows, blanks for what is measured or
//! judged, and the defects seen in what was there before.

use super::Input;
use super::name::{self, CircuitName};
use super::steps::Step;
use super::ways::main_switch;
use crate::model::*;
use crate::units::plain;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    client: String,
    place: String,
    company: String,
    author: String,
    approver: String,
    scope: String,
    boards: Vec<Board>,
    sources: Vec<Source>,
    circuits: usize,
    defects: Vec<Defect>,
    seen: Vec<Seen>,
    neutrals: Vec<String>,
    departures: Vec<[String; 2]>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    place: String,
    fed_from: String,
    main: String,
    circuits: usize,
}

#[derive(Serialize)]
struct Source {
    name: String,
    system: &'static str,
    lines: String,
    rating: String,
    neutral: String,
}

/// A defect of a circuit.
#[derive(Serialize)]
struct Defect {
    name: CircuitName,
    what: String,
}

/// A defect that belongs to no one circuit.
#[derive(Serialize)]
struct Seen {
    what: String,
    at: String,
    action: String,
}

/// The paper's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let moved = |b: BoardId| {
        site.circuits.iter().filter(|c| c.new.as_ref().is_some_and(|w| w.board == b)).count()
    };
    View {
        client: site.paper.client.clone(),
        place: site.paper.place.clone(),
        company: site.paper.company.clone(),
        author: site.paper.author.clone(),
        approver: site.paper.approver.clone(),
        scope: site.paper.scope.clone(),
        boards: job
            .boards
            .ids()
            .filter(|b| site.boards[b.index()].role == "NEW" || moved(*b) > 0)
            .map(|b| Board {
                name: name::board(input, b),
                place: site.boards[b.index()].place.clone(),
                fed_from: name::with_roles(input, &site.boards[b.index()].fed_from),
                main: main_switch(job, b)
                    .map(|d| format!("{} A", plain(&job.devices[d].rating.0)))
                    .unwrap_or_default(),
                circuits: moved(b),
            })
            .collect(),
        sources: sources(input),
        circuits: site.circuits.iter().filter(|c| c.new.is_some()).count(),
        defects: job
            .circuits
            .ids()
            .filter(|c| !site.circuits[c.index()].defects.is_empty())
            .map(|c| Defect {
                name: name::circuit(input, c),
                what: site.circuits[c.index()].defects.clone(),
            })
            .collect(),
        seen: site
            .defects
            .iter()
            .map(|d| Seen { what: d.what.clone(), at: d.at.clone(), action: d.action.clone() })
            .collect(),
        neutrals: job
            .neutral_groups
            .iter()
            .map(|g| {
                let all: Vec<String> = g.iter().map(|c| name::circuit_text(input, *c)).collect();
                format!("{} share a neutral", name::list(&all))
            })
            .collect(),
        departures: departures(input),
    }
}

fn sources(input: &Input) -> Vec<Source> {
    let job = input.sound.job();
    job.nodes
        .iter()
        .filter_map(|(id, node)| {
            let source = node.source()?;
            let lines: Vec<&str> =
                node.wires.iter().filter(|w| w.is_line()).map(Wire::name).collect();
            Some(Source {
                name: name::node(input, id),
                system: match source.system {
                    Some(Earthing::Tn) => "TN",
                    Some(Earthing::Tt) => "TT",
                    Some(Earthing::It) => "IT",
                    None => "",
                },
                lines: lines.join(" "),
                rating: format!("{} A", plain(&source.rating.0)),
                neutral: source.neutral_earthed.clone().unwrap_or_default(),
            })
        })
        .collect()
}

/// Circuits without a protective conductor, and circuits that end with no way, each with its reason.
fn departures(input: &Input) -> Vec<[String; 2]> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out: Vec<[String; 2]> = job
        .circuits
        .iter()
        .filter_map(|(c, facts)| {
            let why = facts.no_earth.as_ref()?;
            let what = format!("no protective conductor: {why}");
            Some([name::circuit_text(input, c), what])
        })
        .collect();
    out.extend(
        site.ends
            .iter()
            .filter(|e| e.end != "stays")
            .map(|e| [name::circuit_text(input, e.circuit), format!("{}: {}", e.end, e.why)]),
    );
    out
}
