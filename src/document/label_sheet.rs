//! Label sheet: way labels of the new boards to cut out, ferrules, and the notices that each
//! board has to carry, with the reason.

use super::Input;
use super::name;
use super::steps::Step;
use super::ways::{on, spare};
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    boards: Vec<Board>,
    sheets: Vec<Sheet>,
}

/// What a board has to carry.
#[derive(Serialize)]
struct Board {
    name: String,
    notices: Vec<Notice>,
}

/// Labels to cut out: one page, with nothing wanted on its back.
#[derive(Serialize)]
struct Sheet {
    title: String,
    /// The label of the board itself, on its first sheet.
    large: Vec<Large>,
    ways: Vec<Way>,
    /// What is said of spare outlets, on its last sheet.
    spare: String,
    ferrules: Vec<String>,
}

#[derive(Serialize)]
struct Large {
    /// Name without what becomes of it: what is painted on it.
    plain: String,
    fed_from: String,
}

#[derive(Clone, Serialize)]
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

/// How many way labels and how many pairs of ferrules are on one page.
const LABELS: usize = 40;
const FERRULES: usize = 120;

/// The sheet's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let new = |b: &BoardId| site.boards[b.index()].role == "NEW" || !on(input, *b).is_empty();
    let boards: Vec<BoardId> = job.boards.ids().filter(new).collect();
    let mut sheets: Vec<Sheet> = boards.iter().flat_map(|b| labels(input, *b)).collect();
    let moved = site.circuits.iter().filter(|c| c.new.is_some());
    let ferrules: Vec<String> = moved.map(|c| c.number.clone()).collect();
    match sheets.last_mut() {
        Some(last) if share(last, ferrules.len()) => {
            last.ferrules = ferrules;
        }
        _ => sheets.extend(ferrules.chunks(FERRULES).map(|some| Sheet {
            title: String::new(),
            large: Vec::new(),
            ways: Vec::new(),
            spare: String::new(),
            ferrules: some.to_vec(),
        })),
    }
    let notices = |b: &BoardId| Board { name: name::board(input, *b), notices: notices(input, *b) };
    View { boards: boards.iter().map(notices).collect(), sheets }
}

/// Whether the ferrules of so many circuits find room below the labels of a sheet: a row of labels
/// has 4 and takes 21 mm, one of ferrules 8 and 7 mm.
fn share(sheet: &Sheet, circuits: usize) -> bool {
    let rows = sheet.ways.len().div_ceil(4) * 21 + circuits.div_ceil(4) * 7;
    rows + sheet.large.len() * 25 <= 215
}

/// The sheets of one board.
fn labels(input: &Input, b: BoardId) -> Vec<Sheet> {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.boards[b.index()];
    let mut ways: Vec<Way> = Vec::new();
    for c in on(input, b) {
        let circuit = &site.circuits[c.index()];
        let way = circuit.new.as_ref().map_or("", |w| w.reference.as_str());
        let reference = way.rsplit('/').next().unwrap_or_default();
        // One way, one label, whatever the number of its circuits.
        match ways.iter_mut().find(|w| w.reference == reference) {
            Some(label) => {
                label.number.push_str(&format!(", {}", circuit.number));
                label.serves.push_str(&format!("; {}", circuit.serves));
            }
            None => ways.push(Way {
                reference: reference.to_owned(),
                number: circuit.number.clone(),
                serves: circuit.serves.clone(),
                device: circuit.device.clone(),
            }),
        }
    }
    let large = Large {
        plain: job.boards.name(b).to_owned(),
        fed_from: name::without_roles(input, &label.fed_from),
    };
    let sheet = |ways: &[Way]| Sheet {
        title: name::board(input, b),
        large: Vec::new(),
        ways: ways.to_vec(),
        spare: String::new(),
        ferrules: Vec::new(),
    };
    let mut sheets: Vec<Sheet> = ways.chunks(LABELS).map(sheet).collect();
    if sheets.is_empty() {
        sheets.push(sheet(&[]));
    }
    sheets[0].large.push(large);
    let spare = spare(input, b);
    if let Some(last) = sheets.last_mut().filter(|_| !spare.is_empty()) {
        let (is, each) =
            if spare.len() == 1 { ("Spare way", "it is") } else { ("Spare ways", "each is") };
        last.spare = format!(
            "{is}: {}. Blanked; where a device is fitted, {each} labelled \"spare\".",
            name::list(&spare)
        );
    }
    sheets
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
        "the way labels to cut out, on the next sheets".to_owned(),
    );
    add("Circuit chart in the door", "514.9.1", "the paper “Board chart”".to_owned());
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
            "514.11.1 (check)",
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
            "514.15.1 (check)",
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
            "(check)",
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
        "514.14.1 (check)",
        "only if cables in the old colours stay: look, and cross out if not".to_owned(),
    );
    out
}
