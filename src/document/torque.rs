//! Torque record: every termination that the job makes, a box for the maker's figure and the tool.
//!
//! No figure is printed: the maker's governs (BS 7671, 134.1.1, 526.1), and the test torques of
//! the product standards are no settings.

use super::Input;
use super::name::{self, CircuitName};
use super::steps::Step;
use super::ways::{has, on};
use crate::model::*;
use serde::Serialize;
use std::collections::BTreeSet;

#[derive(Serialize)]
pub struct View {
    boards: Vec<Board>,
    tails: Vec<Tail>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    /// Terminals of the board itself.
    own: Vec<String>,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct Row {
    name: CircuitName,
    device: String,
    cable: String,
    lines: Vec<String>,
    neutral: bool,
    earth: bool,
    terminal: String,
}

/// Terminations that belong to no circuit.
#[derive(Serialize)]
struct Tail {
    what: String,
    place: String,
    /// Conductors that are put on.
    wires: Vec<&'static str>,
}

/// The record's view: new boards, and boards that stay with a termination made on them.
pub fn view(input: &Input, _: &[Step]) -> View {
    let job = input.sound.job();
    View { boards: job.boards.ids().filter_map(|b| board(input, b)).collect(), tails: tails(input) }
}

fn board(input: &Input, b: BoardId) -> Option<Board> {
    let new = input.site.boards[b.index()].role == "NEW";
    let rows: Vec<Row> = on(input, b).into_iter().map(|c| row(input, c)).collect();
    if rows.is_empty() && !new {
        return None;
    }
    let mut own = Vec::new();
    if new {
        let three = input.site.boards[b.index()].three_phase;
        let lines: &[&str] = if three { &["L1", "L2", "L3"] } else { &["L"] };
        for side in ["supply side", "load side"] {
            own.extend(lines.iter().chain(&["N"]).map(|w| format!("main switch, {side}, {w}")));
        }
        own.push("main earth terminal of the board".to_owned());
        own.push("busbar or pan to main switch".to_owned());
        let surges = input.sound.job().surges.iter();
        own.extend(
            surges
                .filter(|(_, s)| s.board == Some(b) && s.kind == SurgeKind::Cartridge)
                .map(|(id, _)| format!("{}, line, N and earth", input.sound.job().surges.name(id))),
        );
    }
    Some(Board { name: name::board(input, b), own, rows })
}

fn row(input: &Input, c: CircuitId) -> Row {
    let label = &input.site.circuits[c.index()];
    let lines = label.new.as_ref().map(|w| w.lines.clone()).unwrap_or_default();
    Row {
        name: name::circuit(input, c),
        device: label.device.clone(),
        cable: label.cable.clone(),
        lines: lines.split_whitespace().map(str::to_owned).collect(),
        neutral: has(input, c, Wire::N),
        earth: has(input, c, Wire::PE),
        terminal: label.terminal.clone(),
    }
}

/// Tails and links, each once, with the place of the work.
fn tails(input: &Input) -> Vec<Tail> {
    let made = |t: &Tails| !t.makes.is_empty();
    input
        .labour
        .tails
        .iter()
        .filter(|t| made(t))
        .map(|t| Tail {
            what: name::with_roles(input, &t.name),
            place: name::position(input, t.position),
            wires: conductors(input, t),
        })
        .collect()
}

/// The conductors of what tails put on, each once, as named there.
fn conductors(input: &Input, t: &Tails) -> Vec<&'static str> {
    let joints = &input.sound.job().joints;
    let on: BTreeSet<Wire> = t.makes.iter().flat_map(|j| joints[*j].wires.at_a().iter()).collect();
    on.into_iter().map(|w| if w == Wire::PE { "E" } else { w.name() }).collect()
}
