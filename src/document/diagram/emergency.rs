//! Emergency lighting below a drawing: what each group's battery does.

use super::super::name;
use super::draw::{Sheet, text};
use super::geometry::{BESIDE, INSET, LEFT};
use super::labels::{Piece, set};
use super::symbols;
use super::text::ROW;
use crate::model::*;
use std::fmt::Write;

impl Sheet<'_> {
    /// The emergency groups below the drawing, in rows of `room`, and how high that is.
    pub fn groups(&self, top: i64, room: i64) -> (String, i64) {
        let job = self.input.sound.job();
        let mut out = String::new();
        if job.groups.is_empty() {
            return (out, 0);
        }
        let cell = 440;
        let across = (room / cell).max(1);
        let mut high = 0;
        let mut y = top + INSET;
        for (i, g) in job.groups.ids().enumerate() {
            let place = i as i64 % across;
            if place == 0 && i > 0 {
                y += high + INSET;
                high = 0;
            }
            let x = LEFT + place * cell;
            let rows = set(&self.emergency(g), cell - BESIDE - LEFT);
            let _ =
                write!(out, r#"<g data-group="{}">{}</g>"#, g.index(), symbols::battery(x, y + 8));
            text(&mut out, x + BESIDE, y, &rows);
            high = high.max(rows.len() as i64 * ROW).max(60);
        }
        (out, y + high + INSET - top)
    }

    fn emergency(&self, g: GroupId) -> Vec<Piece> {
        use crate::verify::Charging;
        let job = self.input.sound.job();
        let replay = self.input.sound.replay();
        let facts = &job.groups[g];
        let does = replay.charging_at(g, self.moment.at);
        let left = replay.charge_at(job, g, self.moment.at).floor().to_integer();
        // Autonomy is printed in steps of 15 min, rounded down.
        let left = i64::try_from(left / 15).unwrap_or(0) * 15;
        let left = name::minutes(crate::units::Minutes(left));
        let (key, words) = match does {
            Some(Charging::Fed) | None => ("fed", format!("on charge, {left} in battery")),
            Some(Charging::Lit) => ("battery", format!("ON BATTERY, {left} left")),
            Some(Charging::AtRest) => ("rest", format!("at rest, lamps off, {left} in battery")),
            Some(Charging::Tested) => ("tested", format!("function test, {left} left")),
        };
        let feed = &self.input.site.circuits[facts.feed.index()].number;
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
}
