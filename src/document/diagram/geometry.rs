//! From columns and ranks to tenths of a millimetre: columns as wide as makes the drawing low.

use super::labels;
use super::layout::Layout;
use super::notes::{LONGEST, Note, Of, PAD, Words};
use super::symbols::SOURCE;
use super::text::{self, ROW};
use std::collections::BTreeMap;

/// Room for a drawing across an A4 page that lies, in tenths of a millimetre.
pub const PAGE: i64 = 2690;
/// From a line to the text beside it.
pub const BESIDE: i64 = 26;
/// What stands left of a line.
pub const LEFT: i64 = 46;
/// The narrowest column with text in it, and without.
const NARROWEST: (i64, i64) = (235, 120);
/// The widest that looks like a drawing, where width brings nothing else.
const WIDEST: i64 = 420;
/// By how much a column is made wider at a time.
const STEP: i64 = 20;
const TRACK: i64 = 26;
const GAP: i64 = 9;
/// From the top of a zone to what stands in it.
pub const INSET: i64 = GAP;

/// Positions of everything, in tenths of a millimetre.
pub struct Geometry {
    /// The line of each column, then where that of one more would be.
    lines: Vec<i64>,
    /// Top of each rank's bars, then the bottom of the drawing.
    pub ranks: Vec<i64>,
    /// Top of the zone below each rank.
    pub zones: Vec<i64>,
    /// Width of the drawing.
    pub width: i64,
    rooms: Vec<(Of, Option<usize>, i64)>,
}

impl Geometry {
    /// As low as `target` where that can be had in the given width, or nothing where not even the
    /// narrowest columns find room.
    pub fn within(
        layout: &Layout,
        words: &Words,
        notes: &[Note],
        width: i64,
        target: i64,
    ) -> Option<Geometry> {
        let least: i64 = narrowest(layout, notes).iter().sum();
        (least <= width).then(|| Geometry::new(layout, words, notes, width, target))
    }

    /// As low as can be had in the given width, or in the narrowest columns where those are wider.
    pub fn new(
        layout: &Layout,
        words: &Words,
        notes: &[Note],
        width: i64,
        target: i64,
    ) -> Geometry {
        let mut widths = narrowest(layout, notes);
        let least: i64 = widths.iter().sum();
        let width = width.max(least);
        widen(layout, words, notes, &mut widths, width, target);
        let lines = lines(&widths);
        let need = need(layout, notes, &lines);
        let mut y = need.head + GAP;
        let (mut ranks, mut zones) = (Vec::new(), Vec::new());
        for (rank, tracks) in layout.tracks.iter().enumerate() {
            ranks.push(y);
            y += *tracks as i64 * TRACK;
            zones.push(y - TRACK / 2);
            y += need.zones[rank];
        }
        // What hangs on the lowest rank ends one zone further down.
        ranks.push(y);
        zones.push(y);
        ranks.push(if ends_below(layout, words) { y + need.zones[layout.tracks.len()] } else { y });
        let rooms = notes.iter().map(|n| (n.of, n.zone, n.room(&lines))).collect();
        Geometry { lines, ranks, zones, width, rooms }
    }

    /// Where the drawing ends.
    pub fn bottom(&self) -> i64 {
        self.ranks.last().copied().unwrap_or(0)
    }

    /// The line of a column.
    pub fn x(&self, column: usize) -> i64 {
        self.lines[column]
    }

    /// The height of a bar.
    pub fn y(&self, layout: &Layout, net: usize) -> i64 {
        let bar = layout.bars[net];
        self.ranks[bar.rank] + bar.track as i64 * TRACK
    }

    /// Where the text of something begins, and its room.
    pub fn place(&self, of: Of) -> (i64, i64) {
        let found = self.rooms.iter().find(|(o, ..)| *o == of);
        let (_, zone, room) = found.copied().unwrap_or((of, None, PAGE));
        (zone.map_or(0, |z| self.zones[z] + INSET), room)
    }
}

fn lines(widths: &[i64]) -> Vec<i64> {
    let mut at = LEFT + 4;
    let mut out = vec![at];
    for width in widths {
        at += width;
        out.push(at);
    }
    out
}

/// Columns that hold the widest word of what can stand nowhere else.
fn narrowest(layout: &Layout, notes: &[Note]) -> Vec<i64> {
    let mut out = vec![NARROWEST.1; layout.width];
    let mut written: Vec<&Note> = notes.iter().filter(|n| !n.pieces.is_empty()).collect();
    written.sort_by_key(|n| n.end - n.column);
    for note in written {
        let words = note.pieces.iter().map(|p| text::widest(&p.text, p.strong));
        let most = words.max().unwrap_or(0) + note.lost;
        let there: i64 = out[note.column..note.end].iter().sum();
        out[note.column] += (most.clamp(NARROWEST.0, WIDEST) - there).max(0);
    }
    out
}

/// What the zones need.
struct Need {
    head: i64,
    zones: Vec<i64>,
}

impl Need {
    fn new(layout: &Layout) -> Need {
        Need { head: SOURCE, zones: vec![GAP * 2; layout.tracks.len() + 1] }
    }

    fn take(&mut self, note: &Note, rows: i64) {
        let high = tall(note, rows);
        match note.zone {
            None => self.head = self.head.max(high),
            Some(zone) => self.zones[zone] = self.zones[zone].max(GAP * 2 + high),
        }
    }

    fn height(&self, layout: &Layout, words: &Words) -> i64 {
        let tracks: usize = layout.tracks.iter().sum();
        let zones = layout.tracks.len() + usize::from(ends_below(layout, words));
        self.head + GAP + tracks as i64 * TRACK + self.zones[..zones].iter().sum::<i64>()
    }
}

/// How high a text is with what it stands beside.
fn tall(note: &Note, rows: i64) -> i64 {
    let boxed = matches!(note.of, Of::Below(..)) && note.symbol == 0;
    let frame = if boxed { 2 * PAD } else { 0 };
    (rows * ROW + frame).max(note.symbol)
}

fn rows(note: &Note, lines: &[i64]) -> i64 {
    labels::set(note.pieces, note.room(lines)).len() as i64
}

fn need(layout: &Layout, notes: &[Note], lines: &[i64]) -> Need {
    let mut out = Need::new(layout);
    for note in notes {
        out.take(note, rows(note, lines));
    }
    out
}

/// Whether something hangs on the lowest rank.
fn ends_below(layout: &Layout, words: &Words) -> bool {
    let mut bars = layout.bars.iter().zip(&words.slots);
    bars.any(|(bar, slots)| !slots.is_empty() && bar.rank + 1 == layout.tracks.len())
}

/// Gives columns what is left of the width, where it makes the drawing lowest: again and again the
/// zone that gets lower for the least width.
fn widen(
    layout: &Layout,
    words: &Words,
    notes: &[Note],
    widths: &mut [i64],
    width: i64,
    target: i64,
) {
    loop {
        let lines = lines(widths);
        let set: Vec<i64> = notes.iter().map(|n| rows(n, &lines)).collect();
        let mut need = Need::new(layout);
        notes.iter().zip(&set).for_each(|(n, rows)| need.take(n, *rows));
        let left = width - widths.iter().sum::<i64>();
        if need.height(layout, words) <= target {
            break;
        }
        let zones = std::iter::once(None).chain((0..layout.tracks.len() + 1).map(Some));
        let lower = zones.filter_map(|zone| lower(zone, notes, &set, &lines, left));
        let Some((_, wider)) = lower.max_by_key(|(worth, _)| *worth) else { break };
        for (column, by) in wider {
            widths[column] += by;
        }
    }
    // The rest to all alike.
    while let Some(narrow) = (0..widths.len()).min_by_key(|c| widths[*c])
        && widths[narrow] < WIDEST
        && widths.iter().sum::<i64>() + STEP <= width
    {
        widths[narrow] += STEP;
    }
}

/// What it takes to make a zone lower: which columns have to be wider, and by how much; and what
/// it brings for that width, as a measure. Nothing if it takes more than is left.
fn lower(
    zone: Option<usize>,
    notes: &[Note],
    set: &[i64],
    lines: &[i64],
    left: i64,
) -> Option<(i64, BTreeMap<usize, i64>)> {
    let all: Vec<(&Note, i64)> =
        notes.iter().zip(set.iter().copied()).filter(|(n, _)| n.zone == zone).collect();
    let most = all.iter().map(|(n, rows)| tall(n, *rows)).max()?;
    let mut wider: BTreeMap<usize, i64> = BTreeMap::new();
    let mut next = 0;
    for (note, rows) in all {
        if tall(note, rows) < most {
            next = next.max(tall(note, rows));
            continue;
        }
        // No text gets lower than a row a piece, nor lower than the symbol that it stands beside.
        if rows <= note.pieces.len() as i64 || tall(note, rows - 1) == most {
            return None;
        }
        let room = note.room(lines);
        let by = (1..).map(|i| i * STEP).take_while(|by| *by <= left);
        let by = by.into_iter().find(|by| {
            let room = (room + by).min(LONGEST);
            (labels::set(note.pieces, room).len() as i64) < rows
        })?;
        next = next.max(tall(note, rows - 1));
        let column = wider.entry(note.column).or_default();
        *column = by.max(*column);
    }
    let cost: i64 = wider.values().sum();
    (cost <= left).then(|| ((most - next) * 1000 / cost, wider))
}
