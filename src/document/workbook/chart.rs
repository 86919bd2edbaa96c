//! The circuit chart's sheet: a row a circuit.

use super::{Cell, Sheet, label, way};
use crate::document::Input;
use crate::document::chart;
use crate::document::feed;
use crate::document::steps::Step;
use crate::document::ways;
use crate::model::*;

const COLUMNS: [(&str, f64); 23] = [
    ("No.", 7.0),
    ("OLD board", 13.0),
    ("OLD way", 7.0),
    ("OLD lines", 10.0),
    ("NEW board", 13.0),
    ("NEW way", 7.0),
    ("NEW lines", 10.0),
    ("Serves", 28.0),
    ("Device", 16.0),
    ("Rating, A", 8.0),
    ("RCD, mA", 8.0),
    ("Cable", 18.0),
    ("Length, m", 8.0),
    ("N terminal", 9.0),
    ("E terminal", 9.0),
    ("Order", 7.0),
    ("Off its old way", 21.0),
    ("In service on its new way", 21.0),
    ("Temporary supply", 18.0),
    ("On it from", 21.0),
    ("On it to", 21.0),
    ("Stated end", 14.0),
    ("Notes", 45.0),
];

/// The chart, by working number as the schedule has it.
pub fn sheets(input: &Input, _: &[Step]) -> Vec<Sheet> {
    let moves = feed::moves(input);
    let row = |c: CircuitId| {
        let circuit = label(input, c);
        let moved = moves.iter().position(|m| m.circuit == c);
        let rides = feed::rides(input, c);
        let first = rides.first();
        let terminal = |wire: Wire| match ways::has(input, c, wire) {
            true => Cell::figure(&circuit.terminal),
            false => Cell::text("none"),
        };
        let device = match circuit.device.is_empty() {
            true => &circuit.old_device,
            false => &circuit.device,
        };
        let mut cells = vec![Cell::text(circuit.number.clone())];
        cells.extend(way(input, circuit.old.as_ref()));
        cells.extend(way(input, circuit.new.as_ref()));
        let end = input.site.ends.iter().find(|e| e.circuit == c);
        let mut mind = chart::marks(input, c);
        if rides.len() > 1 {
            mind.push(format!("on temporary supply {} times: see the printed chart", rides.len()));
        }
        cells.extend([
            Cell::text(circuit.serves.clone()),
            Cell::text(device.clone()),
            Cell::exact(circuit.rating.as_ref()),
            Cell::exact(circuit.rcd_ma.as_ref()),
            Cell::text(circuit.cable.clone()),
            Cell::figure(circuit.length.trim_end_matches(" m")),
            terminal(Wire::N),
            terminal(Wire::PE),
            moved.map_or(Cell::Blank, |i| Cell::figure(&(i + 1).to_string())),
            Cell::at(moved.map(|i| moves[i].off)),
            Cell::at(moved.and_then(|i| moves[i].back)),
            first.map_or(Cell::Blank, |r| {
                Cell::text(input.sound.job().supplies.name(r.0).to_owned())
            }),
            Cell::at(first.map(|r| r.1)),
            Cell::at(first.and_then(|r| r.2)),
            Cell::text(end.map(|e| e.end).unwrap_or_default()),
            Cell::text(mind.join("; ")),
        ]);
        cells
    };
    let rows = input.sound.job().circuits.ids().map(row).collect();
    vec![Sheet { name: "Circuits".to_owned(), columns: COLUMNS.to_vec(), rows }]
}
