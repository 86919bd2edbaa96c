//! The test record: a sheet a board, limits filled in, readings blank.

use super::{Cell, Sheet, label, way};
use crate::document::Input;
use crate::document::limits;
use crate::document::name;
use crate::document::ways;
use crate::model::*;

const COLUMNS: [(&str, f64); 28] = [
    ("No.", 7.0),
    ("Board", 13.0),
    ("Way", 6.0),
    ("Lines", 10.0),
    ("Serves", 28.0),
    ("Device", 16.0),
    ("Rating, A", 8.0),
    ("RCD, mA", 8.0),
    ("Cable", 18.0),
    ("Length, m", 8.0),
    ("Disconnection within, s", 10.0),
    ("Zs at most, Ω", 9.0),
    ("Zs cold at most, Ω", 9.0),
    ("Insulation at least, MΩ", 10.0),
    ("RCD at most, ms", 9.0),
    ("r1, Ω", 8.0),
    ("rn, Ω", 8.0),
    ("r2, Ω", 8.0),
    ("R1+R2 or R2, Ω", 9.0),
    ("Test, V d.c.", 8.0),
    ("Live to live, MΩ", 9.0),
    ("Live to earth, MΩ", 9.0),
    ("Polarity", 9.0),
    ("Zs, Ω", 8.0),
    ("RCD, ms", 8.0),
    ("Buttons: RCD, AFDD", 10.0),
    ("Date, initials", 16.0),
    ("Remarks", 36.0),
];

/// The readings' columns, which stay blank.
const READINGS: usize = 12;

/// A sheet for each board with a circuit to be tested on it.
pub fn sheets(input: &Input) -> Vec<Sheet> {
    let boards = input.sound.job().boards.ids();
    let sheet = |b: BoardId| Sheet {
        name: name::board(input, b),
        columns: COLUMNS.to_vec(),
        rows: ways::on(input, b).into_iter().map(|c| row(input, c)).collect(),
    };
    boards.map(sheet).filter(|s| !s.rows.is_empty()).collect()
}

fn row(input: &Input, c: CircuitId) -> Vec<Cell> {
    let circuit = label(input, c);
    let limits = limits::limits(input, c);
    let most = |text: &str| Cell::figure(text.trim_start_matches("≤ ").trim_end_matches(" cold"));
    let said = [&circuit.defects, &circuit.remarks];
    let remarks: Vec<&str> = said.iter().map(|t| t.as_str()).filter(|t| !t.is_empty()).collect();
    let mut cells = vec![Cell::text(circuit.number.clone())];
    cells.extend(way(input, circuit.new.as_ref()));
    cells.extend([
        Cell::text(circuit.serves.clone()),
        Cell::text(circuit.device.clone()),
        Cell::exact(circuit.rating.as_ref()),
        Cell::exact(circuit.rcd_ma.as_ref()),
        Cell::text(circuit.cable.clone()),
        Cell::figure(circuit.length.trim_end_matches(" m")),
        Cell::figure(&limits.disconnect),
        most(&limits.zs),
        most(&limits.zs_cold),
        // BS 7671:2018+A2:2022, Table 64, as the printed sheet tells.
        Cell::Number(1.0),
        most(&limits.rcd),
    ]);
    cells.extend((0..READINGS).map(|_| Cell::Blank));
    cells.push(Cell::text(remarks.join("; ")));
    cells
}
