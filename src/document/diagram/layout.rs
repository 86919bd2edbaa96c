//! Columns: every connection is a straight line down a column of its own, every net a bar across
//! the columns of its connections.
//!
//! Two lines that are not of one net can therefore only cross at right angles, and never lie on
//! one another: no two share a column at the same height, and bars of one rank that would overlap
//! are put on different tracks. Subtrees are pushed together as far as their outlines let them.

use super::skeleton::Skeleton;
use std::collections::{BTreeMap, BTreeSet};

/// The bar of a net.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Bar {
    /// Its rank, from 0 at the top.
    pub rank: usize,
    /// Its track within the rank, from 0 at the top.
    pub track: usize,
    /// Its leftmost column.
    pub from: usize,
    /// Its rightmost column.
    pub to: usize,
}

/// Where everything stands.
#[derive(Clone, Debug)]
pub struct Layout {
    /// By net.
    pub bars: Vec<Bar>,
    /// By edge: its column.
    pub columns: Vec<usize>,
    /// By net: the columns of its groups of ways.
    pub slots: Vec<Vec<usize>>,
    /// How many columns there are.
    pub width: usize,
    /// By rank: how many tracks it has.
    pub tracks: Vec<usize>,
}

#[derive(Clone, Copy)]
enum Item {
    Edge(usize),
    Slot(usize),
}

/// Things in columns relative to their own first one, and the rows that they take of each.
#[derive(Default)]
struct Block {
    items: Vec<(Item, usize)>,
    /// By row: leftmost and rightmost column.
    outline: BTreeMap<usize, (usize, usize)>,
}

impl Block {
    fn take(&mut self, rows: std::ops::Range<usize>, column: usize) {
        for row in rows {
            let cell = self.outline.entry(row).or_insert((column, column));
            *cell = (cell.0.min(column), cell.1.max(column));
        }
    }

    /// Puts `other` to the right, no nearer than `least`.
    fn beside(&mut self, other: Block, least: usize) {
        let mut shift = least;
        for (row, (left, _)) in &other.outline {
            if let Some((_, right)) = self.outline.get(row) {
                shift = shift.max((right + 1).saturating_sub(*left));
            }
        }
        self.items.extend(other.items.into_iter().map(|(i, c)| (i, c + shift)));
        for (row, (left, right)) in other.outline {
            self.take(row..row + 1, left + shift);
            self.take(row..row + 1, right + shift);
        }
    }
}

struct Walk<'a> {
    skeleton: &'a Skeleton,
    ranks: &'a [usize],
    slots: &'a [usize],
    seen: BTreeSet<usize>,
    /// Edges placed or being placed.
    done: BTreeSet<usize>,
}

/// Lays out a ranked skeleton; `slots` tells how many groups of ways each net has at most.
pub fn layout(skeleton: &Skeleton, ranks: &[usize], slots: &[usize]) -> Layout {
    let mut walk = Walk { skeleton, ranks, slots, seen: BTreeSet::new(), done: BTreeSet::new() };
    let mut tops: Vec<usize> = (0..skeleton.nets.len()).filter(|i| ranks[*i] == 0).collect();
    // The source that feeds most stands first; the others where their chains join.
    tops.sort_by_key(|i| (std::cmp::Reverse(walk.below(*i)), *i));
    let mut whole = Block::default();
    for top in tops {
        if !walk.seen.contains(&top) {
            let block = walk.block(top);
            whole.beside(block, 0);
        }
    }
    let mut columns = vec![0; skeleton.edges.len()];
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); skeleton.nets.len()];
    for (item, column) in &whole.items {
        match item {
            Item::Edge(e) => columns[*e] = *column,
            Item::Slot(net) => groups[*net].push(*column),
        }
    }
    let width = whole.outline.values().map(|(_, right)| right + 1).max().unwrap_or(1);
    let bars = bars(skeleton, ranks, &columns, &groups);
    let mut tracks = vec![1; ranks.iter().max().map_or(1, |r| r + 1)];
    for bar in &bars {
        tracks[bar.rank] = tracks[bar.rank].max(bar.track + 1);
    }
    Layout { bars, columns, slots: groups, width, tracks }
}

impl Walk<'_> {
    /// How many nets hang below one, itself included.
    fn below(&self, net: usize) -> usize {
        let mut found = BTreeSet::from([net]);
        let mut queue = vec![net];
        while let Some(at) = queue.pop() {
            for e in self.skeleton.edges.iter().filter(|e| e.up == at) {
                if found.insert(e.down) {
                    queue.push(e.down);
                }
            }
        }
        found.len()
    }

    /// Whether the tree below an edge reaches a net that is fed from outside it.
    fn shared(&self, edge: usize) -> bool {
        let mut found = BTreeSet::from([self.skeleton.edges[edge].down]);
        let mut queue: Vec<usize> = found.iter().copied().collect();
        let mut through = BTreeSet::from([edge]);
        while let Some(at) = queue.pop() {
            for (i, e) in self.skeleton.edges.iter().enumerate().filter(|(_, e)| e.up == at) {
                through.insert(i);
                if found.insert(e.down) {
                    queue.push(e.down);
                }
            }
        }
        let mut edges = self.skeleton.edges.iter().enumerate();
        edges.any(|(i, e)| found.contains(&e.down) && !through.contains(&i))
    }

    fn block(&mut self, net: usize) -> Block {
        self.seen.insert(net);
        let rank = self.ranks[net];
        let mut parts: Vec<(usize, Block)> = Vec::new();
        for _ in 0..self.slots[net] {
            let mut slot = Block { items: vec![(Item::Slot(net), 0)], ..Block::default() };
            slot.take(rank..rank + 3, 0);
            parts.push((1, slot));
        }
        let mut down: Vec<usize> = (0..self.skeleton.edges.len())
            .filter(|i| self.skeleton.edges[*i].up == net && !self.done.contains(i))
            .collect();
        down.sort_by_key(|i| (self.shared(*i), *i));
        for i in down {
            let to = self.skeleton.edges[i].down;
            let met = self.seen.contains(&to);
            let class = if met { 0 } else { 2 + usize::from(self.shared(i)) };
            self.done.insert(i);
            let mut part = if met { Block::default() } else { self.block(to) };
            part.items.push((Item::Edge(i), 0));
            part.take(rank..self.ranks[to] + 1, 0);
            parts.push((class, part));
        }
        parts.sort_by_key(|(class, _)| *class);
        let mut all = Block::default();
        for (_, part) in parts {
            all.beside(part, 0);
        }
        all.take(rank..rank + 1, 0);
        if self.skeleton.nets[net].bus_of.is_some() && rank > 0 {
            // What is said of the board stands over all its columns.
            let right = all.outline.get(&rank).map_or(0, |(_, right)| *right);
            all.take(rank - 1..rank, 0);
            all.take(rank - 1..rank, right);
        }
        for chain in self.chains(net) {
            all.beside(chain, 1);
        }
        all
    }

    /// Chains that come down to a net from sources which feed nothing else.
    fn chains(&mut self, net: usize) -> Vec<Block> {
        let mut out = Vec::new();
        for (i, e) in self.skeleton.edges.iter().enumerate() {
            if e.down != net || self.done.contains(&i) {
                continue;
            }
            let mut nets = vec![e.up];
            let mut edges = vec![i];
            let own = loop {
                let at = nets[nets.len() - 1];
                let lone = self.skeleton.edges.iter().filter(|f| f.up == at).count() == 1;
                let above: Vec<usize> = (0..self.skeleton.edges.len())
                    .filter(|f| self.skeleton.edges[*f].down == at)
                    .collect();
                match above.as_slice() {
                    _ if !lone || self.seen.contains(&at) || self.slots[at] > 0 => break false,
                    [] => break true,
                    [one] => {
                        edges.push(*one);
                        nets.push(self.skeleton.edges[*one].up);
                    }
                    _ => break false,
                }
            };
            if !own {
                continue;
            }
            let mut block = Block::default();
            block.take(0..self.ranks[net] + 1, 0);
            block.items.extend(edges.iter().map(|f| (Item::Edge(*f), 0)));
            self.seen.extend(nets);
            self.done.extend(edges);
            out.push(block);
        }
        out
    }
}

fn bars(
    skeleton: &Skeleton,
    ranks: &[usize],
    columns: &[usize],
    groups: &[Vec<usize>],
) -> Vec<Bar> {
    let mut out: Vec<Bar> = Vec::new();
    for (net, rank) in ranks.iter().enumerate() {
        let edges = skeleton.edges.iter().zip(columns);
        let of_edges = edges.filter(|(e, _)| e.up == net || e.down == net).map(|(_, c)| *c);
        let all: Vec<usize> = of_edges.chain(groups[net].iter().copied()).collect();
        let from = all.iter().copied().min().unwrap_or(0);
        let to = all.iter().copied().max().unwrap_or(0);
        out.push(Bar { rank: *rank, track: 0, from, to });
    }
    let drawn = |b: &Bar, o: &Bar| b.rank == o.rank && b.from <= o.to && o.from <= b.to;
    for i in 0..out.len() {
        let taken: BTreeSet<usize> =
            out[..i].iter().filter(|b| drawn(b, &out[i])).map(|b| b.track).collect();
        out[i].track = (0..).find(|t| !taken.contains(t)).unwrap_or(0);
    }
    out
}
