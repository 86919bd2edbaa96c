//! A drawing over as many pages as its letters need.
//!
//! It is cut where nothing is written: across at the bars of a rank, which are drawn on both
//! pages, and down between two columns; not through the frame of a board where that can be helped.

use super::geometry::{Geometry, LEFT, PAGE};
use super::layout::Layout;

/// Room for a drawing down an A4 page that lies, in tenths of a millimetre.
pub const TALL: i64 = 1780;
/// How far a drawing is made smaller at most, in thousandths: its letters are 6 pt then.
pub const LEAST: i64 = 963;
/// How far it is made larger at most: its letters are 8.25 pt then.
const MOST: i64 = 1325;
/// What of a rank's bars is drawn on the page before and on the page after a cut.
const BAR: i64 = 13;

/// A part of a drawing, in tenths of a millimetre.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tile {
    /// Its left edge.
    pub left: i64,
    /// Its upper edge.
    pub top: i64,
    /// Its width.
    pub width: i64,
    /// Its height.
    pub height: i64,
    /// Its size on paper, in thousandths.
    pub scale: i64,
}

/// A place where a drawing may be cut: the end of one part and the start of the next.
#[derive(Clone, Copy)]
struct Cut {
    end: i64,
    start: i64,
    /// Goes through the frame of a board.
    spoils: bool,
}

/// A frame of a board: left, top, right, bottom.
pub type Frame = (i64, i64, i64, i64);

/// The edges between parts that stand side by side, from 0 to the width.
pub fn columns(geometry: &Geometry, layout: &Layout, frames: &[Frame]) -> Vec<(i64, i64)> {
    let cuts: Vec<Cut> = (1..layout.width)
        .map(|c| {
            let x = geometry.x(c) - LEFT - 2;
            let spoils = frames.iter().any(|f| f.0 < x && x < f.2);
            Cut { end: x, start: x, spoils }
        })
        .collect();
    pieces(&cuts, geometry.width, PAGE * 1000 / LEAST)
}

/// The parts of a drawing of this height, of which `beside` is room for text on the page of one
/// that needs no cut.
pub fn tiles(
    geometry: &Geometry,
    layout: &Layout,
    frames: &[Frame],
    height: i64,
    beside: i64,
) -> Vec<Tile> {
    let across = columns(geometry, layout, frames);
    let fits = |room: i64| room * 1000 / height.max(1);
    let whole = fits(TALL - beside).min(PAGE * 1000 / geometry.width).min(MOST);
    if across.len() == 1 && (whole >= LEAST || fits(TALL) >= LEAST) {
        let scale = whole.max(LEAST);
        return vec![Tile { left: 0, top: 0, width: geometry.width, height, scale }];
    }
    let cuts: Vec<Cut> = (1..layout.tracks.len())
        .map(|r| {
            let (first, last) = (geometry.ranks[r], geometry.zones[r] - 15);
            let spoils = frames.iter().any(|f| f.1 < first && first < f.3);
            Cut { end: last + BAR, start: first - BAR, spoils }
        })
        .chain([Cut { end: geometry.bottom(), start: geometry.bottom(), spoils: false }])
        .collect();
    let down = pieces(&cuts, height, TALL);
    let mut out = Vec::new();
    for (top, end) in down {
        for (left, right) in &across {
            let (width, height) = (right - left, end - top);
            let scale = (PAGE * 1000 / width).min(TALL * 1000 / height).min(1000);
            out.push(Tile { left: *left, top, width, height, scale });
        }
    }
    out
}

/// From 0 to `end` in pieces of at most `room`, where the cuts allow that.
fn pieces(cuts: &[Cut], end: i64, room: i64) -> Vec<(i64, i64)> {
    let mut out = Vec::new();
    let mut start = 0;
    while end - start > room {
        let within = |c: &&Cut| c.start > start && c.end - start <= room;
        // In equal pieces where that can be had: the supplies on one page, the boards on the next.
        let count = (end - start + room - 1) / room;
        let rests = |c: &&Cut| within(c) && !c.spoils && end - c.start <= room * (count - 1);
        let good =
            cuts.iter().filter(rests).min_by_key(|c| (c.end - start - (end - start) / count).abs());
        let any = || cuts.iter().rfind(within);
        // Where not even one rank or column fits, the next cut has to do.
        let next = || cuts.iter().find(|c| c.start > start);
        let Some(cut) = good.or_else(any).or_else(next) else { break };
        out.push((start, cut.end));
        start = cut.start;
    }
    out.push((start, end));
    out
}
