//! From columns and ranks to tenths of a millimetre.

use super::super::Input;
use super::labels::{self, Piece};
use super::layout::Layout;
use super::skeleton::{Link, Skeleton};
use super::states::{Group, Moment};
use super::symbols::{JOINT, SOURCE, SWITCH};
use super::text::ROW;
use crate::model::*;

/// Room for a drawing across an A4 page that lies, in tenths of a millimetre.
pub const PAGE: i64 = 2690;
/// The narrowest column that can be read.
const NARROWEST: i64 = 285;
/// The widest that looks like a drawing.
const WIDEST: i64 = 460;
/// From a line to the text beside it.
pub const BESIDE: i64 = 26;
/// What stands left of a line.
pub const LEFT: i64 = 46;
const TRACK: i64 = 30;
const GAP: i64 = 11;

/// A group of ways, and what is written beside its symbol and beside its arrow.
pub type Slot = (Group, Vec<Piece>, Vec<Piece>);

/// Everything that is written on one drawing.
pub struct Words {
    /// By edge: of the board, if it goes into one's busbars.
    pub over: Vec<Vec<Piece>>,
    /// By edge: of the connection and of what it ends at.
    pub edge: Vec<Vec<Piece>>,
    /// By net: beside its source.
    pub source: Vec<Vec<Piece>>,
    /// By net, by slot.
    pub slots: Vec<Vec<Slot>>,
}

/// The edge over which a board's name stands, by board.
pub fn board_edge(job: &Job, skeleton: &Skeleton, layout: &Layout, b: BoardId) -> Option<usize> {
    let bus = skeleton.bus(b)?;
    let own = |e: usize| match skeleton.edges[e].link {
        Link::Device(d) => job.devices[d].enclosure == Some(b),
        Link::Joint(_) => false,
    };
    (0..skeleton.edges.len())
        .filter(|e| skeleton.edges[*e].down == bus)
        .min_by_key(|e| (!own(*e), layout.columns[*e]))
}

/// What is written at one moment.
pub fn words(input: &Input, skeleton: &Skeleton, layout: &Layout, moment: &Moment) -> Words {
    let job = input.sound.job();
    let mut over: Vec<Vec<Piece>> = skeleton.edges.iter().map(|_| Vec::new()).collect();
    for b in job.boards.ids() {
        if let Some(e) = board_edge(job, skeleton, layout, b) {
            over[e] = labels::board(input, moment, b);
        }
    }
    let mut told = vec![false; skeleton.nets.len()];
    let mut edge = Vec::new();
    for e in &skeleton.edges {
        let mut pieces = labels::link(input, moment, e.link);
        if !std::mem::replace(&mut told[e.down], true) {
            pieces.extend(labels::net(input, moment, &skeleton.nets[e.down]));
        }
        edge.push(pieces);
    }
    let source = skeleton.nets.iter().map(|n| match n.source {
        Some(node) => labels::source(input, moment, node),
        None => Vec::new(),
    });
    let source = source.collect();
    let mut slots: Vec<Vec<Slot>> = skeleton.nets.iter().map(|_| Vec::new()).collect();
    for group in moment.groups(skeleton) {
        let beside = labels::ways(&group);
        let below = labels::group(input, skeleton, &group);
        slots[group.net].push((group, beside, below));
    }
    Words { over, edge, source, slots }
}

/// Positions of everything, in tenths of a millimetre.
pub struct Geometry {
    /// Width of a column.
    pub column: i64,
    /// Top of each rank's bars, then the bottom of the drawing.
    pub ranks: Vec<i64>,
    /// Top of the zone below each rank.
    pub zones: Vec<i64>,
    /// Width of the drawing.
    pub width: i64,
}

impl Geometry {
    /// Heights that hold what is written.
    pub fn new(skeleton: &Skeleton, layout: &Layout, words: &Words) -> Geometry {
        let columns = layout.width as i64;
        let column = (PAGE / columns).clamp(NARROWEST, WIDEST);
        let mut out = Geometry {
            column,
            ranks: Vec::new(),
            zones: Vec::new(),
            width: (column * columns).max(PAGE),
        };
        let mut need = vec![GAP * 2; layout.tracks.len() + 1];
        let mut head = SOURCE;
        for (i, e) in skeleton.edges.iter().enumerate() {
            let zone = out.zone(layout, skeleton, i, !words.over[i].is_empty());
            let over = out.rows(&words.over[i], out.over_room(layout, skeleton, i));
            let beside = out.rows(&words.edge[i], out.room());
            let symbol = height(e.link);
            need[zone] = need[zone].max(GAP * 2 + over + beside.max(symbol));
        }
        for (net, slots) in words.slots.iter().enumerate() {
            let rank = layout.bars[net].rank;
            for (_, beside, below) in slots {
                let symbol = if beside.is_empty() { 0 } else { SWITCH };
                let first = out.rows(beside, out.room()).max(symbol) + GAP * 2;
                need[rank] = need[rank].max(first);
                let second = out.rows(below, out.room()).max(JOINT + 40) + GAP * 2;
                need[rank + 1] = need[rank + 1].max(second);
            }
        }
        for pieces in &words.source {
            head = head.max(out.rows(pieces, out.room()));
        }
        let mut y = head + GAP;
        for (rank, tracks) in layout.tracks.iter().enumerate() {
            out.ranks.push(y);
            y += *tracks as i64 * TRACK;
            out.zones.push(y - TRACK / 2);
            y += need[rank];
        }
        // A group at the lowest rank writes one zone further down.
        out.ranks.push(y);
        out.zones.push(y);
        let last = layout
            .slots
            .iter()
            .zip(&layout.bars)
            .any(|(slots, bar)| !slots.is_empty() && bar.rank + 1 == layout.tracks.len());
        out.ranks.push(if last { y + need[layout.tracks.len()] } else { y });
        out
    }

    /// Where the drawing ends.
    pub fn bottom(&self) -> i64 {
        self.ranks.last().copied().unwrap_or(0)
    }

    /// The line of a column.
    pub fn x(&self, column: usize) -> i64 {
        LEFT + 4 + column as i64 * self.column
    }

    /// The height of a bar.
    pub fn y(&self, layout: &Layout, net: usize) -> i64 {
        let bar = layout.bars[net];
        self.ranks[bar.rank] + bar.track as i64 * TRACK
    }

    /// Room for text beside a line, up to what stands left of the next.
    pub fn room(&self) -> i64 {
        self.column - BESIDE - LEFT - 12
    }

    /// Room for what stands over a board.
    pub fn over_room(&self, layout: &Layout, skeleton: &Skeleton, edge: usize) -> i64 {
        let column = layout.columns[edge];
        let slots = &layout.slots[skeleton.edges[edge].down];
        let right = slots.iter().copied().max().unwrap_or(column).max(column);
        self.room() + (right - column) as i64 * self.column
    }

    /// The zone in which the symbol of an edge stands: below the upper net, but for what leads
    /// into a board, above the lower one.
    pub fn zone(&self, layout: &Layout, skeleton: &Skeleton, edge: usize, board: bool) -> usize {
        let e = &skeleton.edges[edge];
        match board {
            true => layout.bars[e.down].rank.saturating_sub(1),
            false => layout.bars[e.up].rank,
        }
    }

    /// How high some text is.
    pub fn rows(&self, pieces: &[Piece], room: i64) -> i64 {
        labels::set(pieces, room).len() as i64 * ROW
    }
}

/// Height of the symbol of a connection.
pub fn height(link: Link) -> i64 {
    match link {
        Link::Device(_) => SWITCH,
        Link::Joint(_) => JOINT,
    }
}

/// From the top of a zone to what stands in it.
pub const INSET: i64 = GAP;
