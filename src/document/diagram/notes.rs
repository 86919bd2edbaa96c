//! Where each text of a drawing stands: in which zone between two ranks, from which column, and up
//! to which other column nothing else is in its way.

use super::super::Input;
use super::fold::{Drawn, Fold};
use super::geometry::{BESIDE, LEFT};
use super::labels::{self, Piece};
use super::layout::Layout;
use super::skeleton::{Link, Skeleton};
use super::states::{Group, Moment};
use super::symbols::{JOINT, SOURCE, SWITCH};
use crate::model::*;

/// What stands left of the line of a box, and of the text in it.
pub const BOX: i64 = 34;
/// From the edge of a box to its text.
pub const PAD: i64 = 8;
/// Free room before what stands left of the next line.
const FREE: i64 = 12;
/// From a source's line to its text, further than from others.
pub const SIGN: i64 = 16;
/// The longest row, which the eye still follows back.
pub const LONGEST: i64 = 760;

/// What hangs below a bar.
pub enum Stub {
    /// A group of ways.
    Ways(Group),
    /// Idle branches.
    Folded(Fold),
}

/// What hangs below a bar with what is written beside its symbol and at its end.
pub struct Slot {
    /// What it is.
    pub stub: Stub,
    /// Beside the symbol.
    pub beside: Vec<Piece>,
    /// At the end.
    pub below: Vec<Piece>,
}

impl Slot {
    /// How high the symbol is.
    pub fn symbol(&self) -> i64 {
        match &self.stub {
            Stub::Ways(group) if group.device.is_none() => 0,
            Stub::Ways(_) => SWITCH,
            Stub::Folded(fold) => height(fold.branches[0].link),
        }
    }
}

/// Everything that is written on one drawing.
pub struct Words {
    /// By edge: of the board into whose busbars it goes, of the connection, and of its end.
    pub edge: Vec<Vec<Piece>>,
    /// By edge: the board of which it tells.
    pub board: Vec<Option<BoardId>>,
    /// By net: beside its source.
    pub source: Vec<Vec<Piece>>,
    /// By net, by slot.
    pub slots: Vec<Vec<Slot>>,
}

/// Height of the symbol of a connection.
pub fn height(link: Link) -> i64 {
    match link {
        Link::Device(_) => SWITCH,
        Link::Joint(_) => JOINT,
    }
}

/// How many slots each net has.
pub fn slots(drawn: &Drawn) -> Vec<usize> {
    let mut out = vec![0; drawn.skeleton.nets.len()];
    for net in drawn.groups.iter().map(|g| g.net).chain(drawn.folds.iter().map(|f| f.net)) {
        out[net] += 1;
    }
    out
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

/// The columns and the rank of the busbars of a board's enclosure.
#[derive(Clone, Copy, Debug)]
pub struct Enclosure {
    /// The board.
    pub board: BoardId,
    /// Its first column.
    pub from: usize,
    /// Its last column.
    pub to: usize,
    /// The rank of its busbars.
    pub rank: usize,
}

/// The boards drawn with an enclosure.
pub fn enclosures(
    job: &Job,
    skeleton: &Skeleton,
    layout: &Layout,
    words: &Words,
) -> Vec<Enclosure> {
    let mut out = Vec::new();
    for board in job.boards.ids() {
        let Some(bus) = skeleton.bus(board) else { continue };
        let own = |link: Link| match link {
            Link::Device(d) => job.devices[d].enclosure == Some(board),
            Link::Joint(_) => false,
        };
        let slots = layout.slots[bus].iter().zip(&words.slots[bus]);
        let inside = slots.filter(|(_, slot)| match &slot.stub {
            Stub::Ways(_) => true,
            Stub::Folded(fold) => own(fold.branches[0].link),
        });
        let mut columns: Vec<usize> = inside.map(|(column, _)| *column).collect();
        for (i, e) in skeleton.edges.iter().enumerate() {
            if own(e.link) && (e.up == bus || e.down == bus) {
                columns.push(layout.columns[i]);
            }
        }
        columns.extend(board_edge(job, skeleton, layout, board).map(|e| layout.columns[e]));
        if let (Some(from), Some(to)) = (columns.iter().min(), columns.iter().max()) {
            out.push(Enclosure { board, from: *from, to: *to, rank: layout.bars[bus].rank });
        }
    }
    out
}

/// What is written at one moment.
pub fn words(input: &Input, drawn: &Drawn, layout: &Layout, moment: &Moment) -> Words {
    let job = input.sound.job();
    let skeleton = &drawn.skeleton;
    let mut board = vec![None; skeleton.edges.len()];
    for b in job.boards.ids() {
        if let Some(e) = board_edge(job, skeleton, layout, b) {
            board[e] = Some(b);
        }
    }
    let mut told = vec![false; skeleton.nets.len()];
    let mut edge = Vec::new();
    for (e, board) in skeleton.edges.iter().zip(&board) {
        let mut pieces = board.map_or_else(Vec::new, |b| labels::board(input, moment, b));
        pieces.extend(labels::link(input, moment, e.link));
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
    for group in &drawn.groups {
        let beside = labels::ways(group);
        let below = labels::group(input, skeleton, group);
        slots[group.net].push(Slot { stub: Stub::Ways(group.clone()), beside, below });
    }
    for fold in &drawn.folds {
        let beside = labels::fold_links(input, moment, fold);
        let below = labels::fold(input, moment, fold);
        slots[fold.net].push(Slot { stub: Stub::Folded(fold.clone()), beside, below });
    }
    Words { edge, board, source, slots }
}

/// Of what a text tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    /// An edge.
    Edge(usize),
    /// The source of a net.
    Source(usize),
    /// The symbol of a slot of a net.
    Beside(usize, usize),
    /// The end of one.
    Below(usize, usize),
}

/// A text and its place.
pub struct Note<'a> {
    /// Of what it tells.
    pub of: Of,
    /// The zone below this rank; none above all ranks.
    pub zone: Option<usize>,
    /// The column at whose line it stands.
    pub column: usize,
    /// The first column after it in which something is in its way.
    pub end: usize,
    /// What is lost of the room between the lines of the two.
    pub lost: i64,
    /// How high what it stands beside is.
    pub symbol: i64,
    /// What it says.
    pub pieces: &'a [Piece],
}

impl Note<'_> {
    /// Room for it where `lines` are the columns' lines, with the right edge as the last.
    pub fn room(&self, lines: &[i64]) -> i64 {
        (lines[self.end] - lines[self.column] - self.lost).min(LONGEST)
    }
}

/// The zone in which the symbol of an edge stands: below the upper net, but for what leads into a
/// board, above the lower one.
fn zone(layout: &Layout, skeleton: &Skeleton, words: &Words, edge: usize) -> usize {
    let e = &skeleton.edges[edge];
    match words.board[edge] {
        Some(_) => layout.bars[e.down].rank.saturating_sub(1),
        None => layout.bars[e.up].rank,
    }
}

/// All texts of a drawing but those of the emergency lighting.
pub fn notes<'a>(
    skeleton: &Skeleton,
    layout: &Layout,
    words: &'a Words,
    enclosures: &[Enclosure],
) -> Vec<Note<'a>> {
    let mut taken = vec![vec![false; layout.width]; layout.tracks.len() + 1];
    for (e, column) in skeleton.edges.iter().zip(&layout.columns) {
        for zone in &mut taken[layout.bars[e.up].rank..layout.bars[e.down].rank] {
            zone[*column] = true;
        }
    }
    for (net, slots) in layout.slots.iter().enumerate() {
        let rank = layout.bars[net].rank;
        for column in slots {
            taken[rank][*column] = true;
            taken[rank + 1][*column] = true;
        }
    }
    let end = |zone: usize, column: usize| {
        let next = (column + 1..layout.width).find(|c| taken[zone][*c]);
        let mut end = next.unwrap_or(layout.width);
        for e in enclosures.iter().filter(|e| zone == e.rank || zone + 1 == e.rank) {
            if column < e.from {
                end = end.min(e.from);
            } else if column <= e.to {
                end = end.min(e.to + 1);
            }
        }
        end
    };
    let lost = BESIDE + LEFT + FREE;
    let mut out = Vec::new();
    for (i, pieces) in words.edge.iter().enumerate() {
        let (zone, column) = (zone(layout, skeleton, words, i), layout.columns[i]);
        out.push(Note {
            of: Of::Edge(i),
            zone: Some(zone),
            column,
            end: end(zone, column),
            lost,
            symbol: height(skeleton.edges[i].link),
            pieces,
        });
    }
    let tops = |net: usize| (words.source[net].len(), layout.bars[net].from);
    for (net, pieces) in words.source.iter().enumerate().filter(|(_, p)| !p.is_empty()) {
        let (rank, column) = (layout.bars[net].rank, layout.bars[net].from);
        let others = (0..words.source.len()).map(tops).filter(|(n, c)| *n > 0 && *c > column);
        let next = others.map(|(_, c)| c).min().unwrap_or(layout.width);
        let zone = rank.checked_sub(1);
        let end = zone.map_or(next, |z| end(z, column));
        let lost = lost + SIGN;
        out.push(Note { of: Of::Source(net), zone, column, end, lost, symbol: SOURCE, pieces });
    }
    for (net, slots) in words.slots.iter().enumerate() {
        let rank = layout.bars[net].rank;
        for (i, slot) in slots.iter().enumerate() {
            let column = layout.slots[net][i];
            let (symbol, lost_below) = match slot.stub {
                Stub::Ways(_) => (JOINT + 20, lost),
                Stub::Folded(_) => (0, LEFT + FREE - BOX + 2 * PAD),
            };
            out.push(Note {
                of: Of::Beside(net, i),
                zone: Some(rank),
                column,
                end: end(rank, column),
                lost,
                symbol: slot.symbol(),
                pieces: &slot.beside,
            });
            out.push(Note {
                of: Of::Below(net, i),
                zone: Some(rank + 1),
                column,
                end: end(rank + 1, column),
                lost: lost_below,
                symbol,
                pieces: &slot.below,
            });
        }
    }
    out
}
