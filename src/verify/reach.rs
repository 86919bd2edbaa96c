//! What is connected with what, kept up to date while connections come and go.
//!
//! Conductors in one piece carry the same number. A connection made renumbers the smaller
//! piece; one removed is searched from both ends at once, so that the cost is that of the
//! smaller side: a few steps for a final circuit, a board's size for its main switch.

use super::wiring::{Conductor, Feed, Wiring};

#[derive(Clone, Debug, Default)]
struct Piece {
    size: usize,
    feeds: Vec<Feed>,
}

/// One way of looking at the wiring: which lanes count as connected.
#[derive(Clone, Debug)]
pub(super) struct Reach {
    on: Vec<bool>,
    piece: Vec<usize>,
    pieces: Vec<Piece>,
    mark: Vec<u32>,
    stamp: u32,
}

impl Reach {
    pub fn new(w: &Wiring, on: Vec<bool>) -> Reach {
        let n = w.at.len();
        let mut reach = Reach {
            on,
            piece: vec![usize::MAX; n],
            pieces: Vec::new(),
            mark: vec![0; n],
            stamp: 0,
        };
        for c in 0..n {
            if reach.piece[c] == usize::MAX {
                reach.renumber(w, c, usize::MAX);
            }
        }
        reach
    }

    /// Gives a new number to all that is connected with `from` and has the number `old`.
    fn renumber(&mut self, w: &Wiring, from: Conductor, old: usize) {
        let new = self.pieces.len();
        let mut piece = Piece::default();
        let mut queue = vec![from];
        self.piece[from] = new;
        while let Some(c) = queue.pop() {
            piece.size += 1;
            piece.feeds.extend(w.feed[c]);
            for &(lane, other) in &w.next[c] {
                if self.on[lane] && self.piece[other] == old {
                    self.piece[other] = new;
                    queue.push(other);
                }
            }
        }
        if let Some(before) = self.pieces.get_mut(old) {
            before.size -= piece.size;
            for feed in &piece.feeds {
                if let Some(i) = before.feeds.iter().position(|f| f == feed) {
                    before.feeds.swap_remove(i);
                }
            }
        }
        self.pieces.push(piece);
    }

    /// Connects or disconnects a lane; tells whether that changed it.
    pub fn set(&mut self, w: &Wiring, lane: usize, on: bool) -> bool {
        if self.on[lane] == on {
            return false;
        }
        self.on[lane] = on;
        let (a, b) = (w.lanes[lane].a, w.lanes[lane].b);
        if on {
            let (pa, pb) = (self.piece[a], self.piece[b]);
            if pa != pb {
                let (from, into) =
                    if self.pieces[pa].size < self.pieces[pb].size { (a, pb) } else { (b, pa) };
                self.absorb(w, from, into);
            }
        } else if let Some(cut) = self.cut_off(w, a, b) {
            let old = self.piece[cut];
            self.renumber(w, cut, old);
        }
        true
    }

    fn absorb(&mut self, w: &Wiring, from: Conductor, into: usize) {
        let old = self.piece[from];
        let mut queue = vec![from];
        self.piece[from] = into;
        while let Some(c) = queue.pop() {
            for &(lane, other) in &w.next[c] {
                if self.on[lane] && self.piece[other] == old {
                    self.piece[other] = into;
                    queue.push(other);
                }
            }
        }
        let gone = std::mem::take(&mut self.pieces[old]);
        self.pieces[into].size += gone.size;
        self.pieces[into].feeds.extend(gone.feeds);
    }

    /// The end whose side is used up first when both are searched in turn; `None` if they meet.
    fn cut_off(&mut self, w: &Wiring, a: Conductor, b: Conductor) -> Option<Conductor> {
        let (mine, theirs) = (self.stamp + 1, self.stamp + 2);
        self.stamp += 2;
        self.mark[a] = mine;
        self.mark[b] = theirs;
        let mut sides = [(a, mine, theirs, vec![a]), (b, theirs, mine, vec![b])];
        loop {
            for (end, own, other, queue) in &mut sides {
                let Some(c) = queue.pop() else { return Some(*end) };
                for &(lane, next) in &w.next[c] {
                    if !self.on[lane] || self.mark[next] == *own {
                        continue;
                    }
                    if self.mark[next] == *other {
                        return None;
                    }
                    self.mark[next] = *own;
                    queue.push(next);
                }
            }
        }
    }

    pub fn on(&self, lane: usize) -> bool {
        self.on[lane]
    }

    /// The sources that a path leads to.
    pub fn feeds(&self, c: Conductor) -> &[Feed] {
        &self.pieces[self.piece[c]].feeds
    }

    pub fn same(&self, a: Conductor, b: Conductor) -> bool {
        self.piece[a] == self.piece[b]
    }

    /// The number of the piece that `c` is in; good until the next change.
    pub fn piece(&self, c: Conductor) -> usize {
        self.piece[c]
    }

    /// Whether some path leads to a source that can put voltage on it.
    pub fn fed(&self, c: Conductor) -> bool {
        self.feeds(c).iter().any(|f| f.hot)
    }
}
