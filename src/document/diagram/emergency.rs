//! Emergency lighting below a drawing: what each group's battery does.

use super::super::{Input, name};
use super::draw::text;
use super::geometry::{BESIDE, INSET, LEFT};
use super::labels::{Piece, set};
use super::states::Moment;
use super::symbols;
use super::text::ROW;
use crate::model::*;
use std::fmt::Write;

/// The emergency groups of a job at a moment, in cells below one another where a row is full.
pub struct Cells {
    cells: Vec<(GroupId, Vec<Piece>)>,
    /// Width of a cell.
    cell: i64,
    across: i64,
    /// Height of a row of cells.
    row: i64,
}

/// The narrowest and the widest cell.
const CELL: (i64, i64) = (440, 800);

impl Cells {
    /// In cells that fill `room`.
    pub fn new(input: &Input, moment: &Moment, room: i64) -> Cells {
        let groups = input.sound.job().groups.ids();
        let cells: Vec<(GroupId, Vec<Piece>)> =
            groups.map(|g| (g, emergency(input, moment, g))).collect();
        let most = (room / CELL.0).max(1);
        let across = (cells.len() as i64).clamp(1, most);
        let cell = (room / across).min(CELL.1).max(CELL.0);
        let rows = cells.iter().map(|(_, c)| set(c, cell - BESIDE - LEFT).len() as i64 * ROW);
        let row = rows.max().unwrap_or(0).max(60) + INSET;
        Cells { cells, cell, across, row }
    }

    /// How high all of them are.
    pub fn height(&self) -> i64 {
        let rows = (self.cells.len() as i64 + self.across - 1) / self.across;
        if rows == 0 { 0 } else { rows * self.row + INSET }
    }

    /// Drawn from `top` down.
    pub fn draw(&self, top: i64) -> String {
        let mut out = String::new();
        for (i, (g, pieces)) in self.cells.iter().enumerate() {
            let i = i as i64;
            let (x, y) =
                (LEFT + i % self.across * self.cell, top + INSET + i / self.across * self.row);
            let _ =
                write!(out, r#"<g data-group="{}">{}</g>"#, g.index(), symbols::battery(x, y + 8));
            text(&mut out, x + BESIDE, y, &set(pieces, self.cell - BESIDE - LEFT));
        }
        out
    }
}

fn emergency(input: &Input, moment: &Moment, g: GroupId) -> Vec<Piece> {
    use crate::verify::Charging;
    let job = input.sound.job();
    let replay = input.sound.replay();
    let facts = &job.groups[g];
    let does = replay.charging_at(g, moment.at);
    let left = replay.charge_at(job, g, moment.at).floor().to_integer();
    // Autonomy is printed in steps of 15 min, rounded down.
    let left = i64::try_from(left / 15).unwrap_or(0) * 15;
    let left = name::minutes(crate::units::Minutes(left));
    let (key, words) = match does {
        Some(Charging::Fed) | None => ("fed", format!("on charge, {left} in battery")),
        Some(Charging::Lit) => ("battery", format!("ON BATTERY, {left} left")),
        Some(Charging::AtRest) => ("rest", format!("at rest, lamps off, {left} in battery")),
        Some(Charging::Tested) => ("tested", format!("function test, {left} left")),
    };
    let feed = &input.site.circuits[facts.feed.index()].number;
    vec![
        Piece {
            text: format!("emergency lighting {}, fed by {feed}", job.groups.name(g)),
            strong: false,
            data: String::new(),
        },
        Piece {
            text: words,
            strong: key != "fed",
            data: format!(r#" data-group="{}" data-does="{key}""#, g.index()),
        },
    ]
}
