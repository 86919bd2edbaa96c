//! The way of current: every device on some path from a circuit to its running sources.
//!
//! All running sources are taken as one root. Cut the live network into its blocks (what stays
//! in one piece when any one conductor is taken out): a path from a circuit to the root crosses
//! a fixed chain of blocks, and within a block every lane lies on some such path. So where
//! closed paths run in parallel each of them carries the whole, as T2 asks.

use super::now::Now;
use super::wiring::Conductor;
use crate::model::Id;

const NONE: usize = usize::MAX;

/// The live network, hung from its sources.
pub(super) struct Ways {
    /// The block through which a conductor hangs, and the conductor at the top of each block.
    block: Vec<usize>,
    top: Vec<usize>,
    /// Lanes of each block.
    lanes: Vec<Vec<usize>>,
}

struct Frame {
    at: Conductor,
    by: usize,
    next: usize,
}

impl Ways {
    /// Of all conductors with a path to a running source, along lines or along neutrals.
    pub fn new(now: &Now) -> Ways {
        let w = &now.site.wiring;
        let n = w.at.len();
        let mut ways = Ways { block: vec![NONE; n], top: Vec::new(), lanes: Vec::new() };
        let roots: Vec<Conductor> =
            (0..n).filter(|c| w.feed[*c].is_some_and(|f| now.sources[f.source.index()])).collect();
        // The root is a conductor of its own, with a lane without number to each source.
        let mut order = vec![0usize; n + 1];
        let mut low = vec![0usize; n + 1];
        let mut clock = 1;
        order[n] = 1;
        low[n] = 1;
        let is_root = {
            let mut mark = vec![false; n];
            for r in &roots {
                mark[*r] = true;
            }
            mark
        };
        let neighbours = |c: Conductor, i: usize| -> Option<(usize, Conductor)> {
            if c == n {
                return roots.get(i).map(|r| (NONE, *r));
            }
            let all = &w.next[c];
            match i.checked_sub(all.len()) {
                None => Some(all[i]),
                Some(0) if is_root[c] => Some((NONE, n)),
                Some(_) => None,
            }
        };
        let mut stack = vec![Frame { at: n, by: NONE, next: 0 }];
        let mut edges: Vec<(usize, Conductor, Conductor)> = Vec::new();
        while let Some(frame) = stack.last_mut() {
            let at = frame.at;
            if let Some((lane, other)) = neighbours(at, frame.next) {
                frame.next += 1;
                let closed = lane == NONE || now.live.on(lane);
                // A conductor that hangs from the root came along its lane to the root.
                if !closed || (at != n && lane == frame.by) {
                    continue;
                }
                if order[other] == 0 {
                    clock += 1;
                    order[other] = clock;
                    low[other] = clock;
                    edges.push((lane, at, other));
                    stack.push(Frame { at: other, by: lane, next: 0 });
                } else if order[other] < order[at] {
                    low[at] = low[at].min(order[other]);
                    edges.push((lane, at, other));
                }
                continue;
            }
            stack.pop();
            let Some(parent) = stack.last() else { break };
            let up = parent.at;
            low[up] = low[up].min(low[at]);
            if low[at] >= order[up] {
                let id = ways.top.len();
                ways.top.push(up);
                ways.lanes.push(Vec::new());
                while let Some((lane, from, to)) = edges.pop() {
                    if lane != NONE {
                        ways.lanes[id].push(lane);
                    }
                    for c in [from, to] {
                        if c != up && c != n {
                            ways.block[c] = id;
                        }
                    }
                    if (from, to) == (up, at) {
                        break;
                    }
                }
            }
        }
        ways
    }

    /// Every lane on some path from `c` to a source.
    pub fn of(&self, c: Conductor) -> impl Iterator<Item = usize> {
        let mut at = c;
        let mut chain = Vec::new();
        while let Some(&block) = self.block.get(at).filter(|b| **b != NONE) {
            chain.push(block);
            at = self.top[block];
        }
        chain.into_iter().flat_map(|b| self.lanes[b].iter().copied())
    }
}
