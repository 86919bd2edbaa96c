//! The final chart of each board, for its door.

use super::Input;
use super::name;
use super::steps::Step;
use super::ways;
use crate::model::site::{CircuitLabel, WayLabel};
use crate::model::*;
use crate::units::plain;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    boards: Vec<Board>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    place: String,
    fed_from: String,
    ways: String,
    rows: Vec<Row>,
    /// Ways and lines of ways that nothing is on.
    spare: String,
}

#[derive(Serialize)]
struct Row {
    way: String,
    number: String,
    serves: String,
    device: String,
    rcd: String,
    cable: String,
    terminal: String,
    notes: Vec<String>,
}

/// A chart for each new board, and for each that stays and keeps circuits of the job.
pub fn view(input: &Input, _: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    let boards = job
        .boards
        .ids()
        .filter(|b| site.boards[b.index()].role == "NEW")
        .map(|b| board(input, b))
        .collect();
    View { boards }
}

fn board(input: &Input, b: BoardId) -> Board {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.boards[b.index()];
    let way = |c: &CircuitId| site.circuits[c.index()].new.as_ref();
    let here = ways::on(input, b);
    Board {
        name: job.boards.name(b).to_owned(),
        place: label.place.clone(),
        fed_from: name::without_roles(input, &label.fed_from),
        ways: ways::count(input, b),
        rows: here.iter().filter_map(|c| Some(row(input, way(c)?, *c))).collect(),
        spare: name::list(&ways::spare(input, b)),
    }
}

fn row(input: &Input, way: &WayLabel, c: CircuitId) -> Row {
    let job = input.sound.job();
    let label: &CircuitLabel = &input.site.circuits[c.index()];
    let groups = job.groups.iter().filter(|(_, g)| g.feed == c || g.watches == c);
    let mut notes: Vec<String> =
        groups.map(|(g, _)| format!("emergency lighting {}", job.groups.name(g))).collect();
    if let Some(others) = ways::shared_with(input, c) {
        notes.push(format!("neutral shared with {others}"));
    }
    Row {
        way: format!("{} {}", way.way, way.lines).trim().to_owned(),
        number: label.number.clone(),
        serves: label.serves.clone(),
        device: label.device.clone(),
        rcd: label.rcd_ma.as_ref().map(|ma| format!("{} mA", plain(ma))).unwrap_or_default(),
        cable: label.cable.clone(),
        terminal: label.terminal.clone(),
        notes,
    }
}
