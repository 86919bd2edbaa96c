//! Test record sheets: limits printed, boxes for what is measured. Nothing measured is printed.
//!
//! The columns are those of the schedules of BS 7671, appendix 6: circuit, then results.

use super::Input;
use super::limits::{self, Limits};
use super::name::{self, CircuitName};
use super::steps::Step;
use super::ways;
use crate::model::*;
use crate::units::plain;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    boards: Vec<Sheet>,
    instruments: Vec<Tool>,
    sources: Vec<&'static str>,
}

#[derive(Serialize)]
struct Tool {
    name: String,
    used_as: String,
}

/// The sheet of one board.
#[derive(Serialize)]
struct Sheet {
    name: String,
    place: String,
    fed_from: String,
    supply_device: String,
    phases: &'static str,
    three_phase: bool,
    main: String,
    surge: String,
    vulnerable: Vec<String>,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct Row {
    name: CircuitName,
    lines: String,
    three_phase: bool,
    device: String,
    rcd: String,
    cable: String,
    length: String,
    ring: bool,
    limits: Limits,
    remarks: String,
}

/// The sheets' view: one for each board with a circuit to be tested on it.
pub fn view(input: &Input, _: &[Step]) -> View {
    let job = input.sound.job();
    let tested: Vec<CircuitId> = job.boards.ids().flat_map(|b| ways::on(input, b)).collect();
    View {
        boards: job.boards.ids().filter_map(|b| sheet(input, b)).collect(),
        instruments: job
            .instruments
            .iter()
            .map(|(id, i)| Tool {
                name: name::instrument(input, id),
                used_as: name::list(&i.kinds.iter().map(|k| used_for(k)).collect::<Vec<_>>()),
            })
            .collect(),
        sources: limits::sources(input, &tested),
    }
}

/// The job file's words for what an instrument does, in running words.
fn used_for(kind: &str) -> String {
    match kind {
        "detector" => "proving dead".to_owned(),
        "tester" => "testing".to_owned(),
        other => other.to_owned(),
    }
}

fn sheet(input: &Input, b: BoardId) -> Option<Sheet> {
    let (job, site) = (input.sound.job(), input.site);
    let label = &site.boards[b.index()];
    let rows: Vec<Row> = ways::on(input, b).into_iter().map(|c| row(input, c)).collect();
    if rows.is_empty() && label.role != "NEW" {
        return None;
    }
    let surge: Vec<String> = job
        .surges
        .iter()
        .filter(|(_, s)| s.board == Some(b) && s.kind == SurgeKind::Cartridge)
        .map(|(id, _)| job.surges.name(id).to_owned())
        .collect();
    Some(Sheet {
        name: name::board(input, b),
        place: label.place.clone(),
        fed_from: name::with_roles(input, &label.fed_from),
        supply_device: supply_device(input, &label.fed_from),
        phases: ways::phases(input, b),
        three_phase: label.three_phase,
        main: ways::main_switch(job, b)
            .map(|d| format!("{} A", plain(&job.devices[d].rating.0)))
            .unwrap_or_default(),
        surge: name::list(&surge),
        vulnerable: vulnerable(input, b),
        rows,
    })
}

/// The device that feeds a board, by the name that the board gives it.
fn supply_device(input: &Input, fed_from: &str) -> String {
    let job = input.sound.job();
    match job.devices.find(fed_from) {
        Some(d) => format!("{}, {} A", name::device(input, d), plain(&job.devices[d].rating.0)),
        None => String::new(),
    }
}

/// What is taken out before insulation is tested on a board.
fn vulnerable(input: &Input, b: BoardId) -> Vec<String> {
    let job = input.sound.job();
    let circuits = ways::on(input, b);
    job.surges
        .iter()
        .filter(|(_, s)| {
            s.board == Some(b) || circuits.iter().any(|c| job.circuits[*c].nodes.contains(&s.node))
        })
        .map(|(id, _)| job.surges.name(id).to_owned())
        .collect()
}

fn row(input: &Input, c: CircuitId) -> Row {
    let label = &input.site.circuits[c.index()];
    let lines = label.new.as_ref().map(|w| w.lines.clone()).unwrap_or_default();
    let remarks: Vec<String> =
        [&label.defects, &label.remarks].into_iter().filter(|t| !t.is_empty()).cloned().collect();
    Row {
        name: name::circuit(input, c),
        three_phase: lines.split_whitespace().count() > 1,
        lines,
        device: label.device.clone(),
        rcd: limits::rcd_text(label),
        cable: label.cable.clone(),
        length: label.length.clone(),
        ring: label.ring,
        limits: limits::limits(input, c),
        remarks: remarks.join("; "),
    }
}
