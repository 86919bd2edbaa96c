//! Label sheet: way labels of the new boards to cut out, ferrules, and the notices that each
//! board has to carry, with the reason.

use super::Input;
use super::name;
use super::steps::Step;
use super::ways::on;
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    boards: Vec<Board>,
    ferrules: Vec<String>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    /// Name without what becomes of it: what is painted on it.
    plain: String,
    fed_from: String,
    ways: Vec<Way>,
    spare: i64,
    notices: Vec<Notice>,
}

#[derive(Serialize)]
struct Way {
    reference: String,
    number: String,
    serves: String,
    device: String,
}

#[derive(Serialize)]
struct Notice {
    what: &'static str,
    clause: &'static str,
    why: String,
}

/// The sheet's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let new = |b: &BoardId| site.boards[b.index()].role == "NEW" || !on(input, *b).is_empty();
    let moved = site.circuits.iter().filter(|c| c.new.is_some());
    View {
        boards: job.boards.ids().filter(new).map(|b| board(input, b)).collect(),
        ferrules: moved.map(|c| c.number.clone()).collect(),
    }
}

fn board(input: &Input, b: BoardId) -> Board {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.boards[b.index()];
    let ways: Vec<Way> = on(input, b)
        .into_iter()
        .map(|c| {
            let circuit = &site.circuits[c.index()];
            Way {
                reference: circuit
                    .new
                    .as_ref()
                    .map(|w| w.reference.rsplit('/').next().unwrap_or_default().to_owned())
                    .unwrap_or_default(),
                number: circuit.number.clone(),
                serves: circuit.serves.clone(),
                device: circuit.device.clone(),
            }
        })
        .collect();
    let used: i64 = label.used.iter().map(|u| u.after).sum();
    Board {
        name: name::board(input, b),
        plain: job.boards.name(b).to_owned(),
        fed_from: name::with_roles(input, &label.fed_from),
        ways,
        spare: (label.outlets - used).max(0),
        notices: notices(input, b),
    }
}

/// Which notices a board has to carry. Clauses are those of BS 7671 as the trade quotes them; the
/// wording is the standard's own, on bought labels.
fn notices(input: &Input, b: BoardId) -> Vec<Notice> {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.boards[b.index()];
    let mut out = Vec::new();
    let mut add = |what, clause, why: String| out.push(Notice { what, clause, why });
    add(
        "Name of the board, and what feeds it",
        "514.1.1",
        format!("fed from {}", name::with_roles(input, &label.fed_from)),
    );
    add(
        "Purpose of each device; every way identified",
        "514.8.1",
        "the way labels below".to_owned(),
    );
    add("Circuit chart in the door", "514.9.1", "the circuit chart of this pack".to_owned());
    add(
        "Date of this and of the next inspection",
        "514.12.1",
        "written on after the tests".to_owned(),
    );
    let rcds = on(input, b).iter().filter(|c| site.circuits[c.index()].rcd_ma.is_some()).count();
    if rcds > 0 {
        add(
            "Test button of residual-current devices, every six months",
            "514.12.2",
            format!("{rcds} circuits have one"),
        );
    }
    let fed: Vec<NodeId> = [job.boards[b].incoming, job.boards[b].ways]
        .iter()
        .flat_map(|p| job.positions[*p].other_fed.iter().copied())
        .collect();
    if !fed.is_empty() {
        let mut names: Vec<String> = fed.into_iter().map(|n| name::node(input, n)).collect();
        names.sort();
        names.dedup();
        add(
            "More than one device to switch off before this board is dead",
            "514.11.1, number from memory",
            format!("fed from elsewhere: {}", name::list(&names)),
        );
    }
    let sources: Vec<String> = job
        .nodes
        .iter()
        .filter(|(_, n)| n.source().is_some())
        .map(|(id, _)| name::node(input, id))
        .collect();
    if sources.len() > 1 {
        add(
            "Second source: isolate both",
            "514.15.1, number from memory",
            format!(
                "sources here: {}; also at the intake, the meter and the points of isolation",
                name::list(&sources)
            ),
        );
    }
    let surge =
        job.surges.rows().iter().any(|s| s.board == Some(b) && s.kind == SurgeKind::Cartridge);
    if surge {
        add(
            "Surge protection: out before insulation tests",
            "number not certain",
            "its indicator is looked at with every inspection".to_owned(),
        );
    }
    add(
        "Earth connection: do not remove",
        "514.13.1",
        "where the earthing conductor or a bond is connected".to_owned(),
    );
    add(
        "Two sets of wiring colours",
        "514.14.1, number from memory",
        "only if cables in the old colours stay: look, and cross out if not".to_owned(),
    );
    out
}
