//! Maximum flow, for the lower bound of a lock set (Dinic 1970: levels, then blocking flows).

use std::collections::VecDeque;

/// More than any sum of prices; such an edge is never cut.
pub(super) const UNCUT: u128 = u128::MAX / 4;

/// An undirected network with capacities; 0 is where the flow starts, 1 where it ends.
pub(super) struct Flow {
    to: Vec<usize>,
    room: Vec<u128>,
    at: Vec<Vec<usize>>,
}

impl Flow {
    /// With `n` vertices besides the two.
    pub(super) fn new(n: usize) -> Flow {
        Flow { to: Vec::new(), room: Vec::new(), at: vec![Vec::new(); n + 2] }
    }

    /// Joins two vertices, either way.
    pub(super) fn join(&mut self, a: usize, b: usize, room: u128) {
        for (from, to) in [(a, b), (b, a)] {
            self.at[from].push(self.to.len());
            self.to.push(to);
            self.room.push(room);
        }
    }

    /// The value of a maximum flow, or [`UNCUT`] if nothing bounds it.
    pub(super) fn maximum(&mut self) -> u128 {
        let mut total = 0u128;
        loop {
            let level = self.levels();
            if level[1] == usize::MAX {
                return total;
            }
            let mut tried = vec![0; self.at.len()];
            loop {
                let pushed = self.push(&level, &mut tried);
                if pushed == 0 {
                    break;
                }
                total = total.saturating_add(pushed);
                if total >= UNCUT {
                    return UNCUT;
                }
            }
        }
    }

    /// After [`Flow::maximum`]: by vertex, whether it lies on the starting side of the cut that
    /// is nearest to the start.
    pub(super) fn near(&self) -> Vec<bool> {
        self.levels().into_iter().map(|l| l != usize::MAX).collect()
    }

    fn levels(&self) -> Vec<usize> {
        let mut level = vec![usize::MAX; self.at.len()];
        level[0] = 0;
        let mut queue = VecDeque::from([0]);
        while let Some(v) = queue.pop_front() {
            for &e in &self.at[v] {
                let w = self.to[e];
                if self.room[e] > 0 && level[w] == usize::MAX {
                    level[w] = level[v] + 1;
                    queue.push_back(w);
                }
            }
        }
        level
    }

    /// One augmenting path along the levels, without recursion: a network may be deep.
    fn push(&mut self, level: &[usize], tried: &mut [usize]) -> u128 {
        let mut path: Vec<usize> = Vec::new();
        let mut v = 0;
        while v != 1 {
            match self.at[v].get(tried[v]) {
                Some(&e) if self.room[e] > 0 && level[self.to[e]] == level[v] + 1 => {
                    path.push(e);
                    v = self.to[e];
                }
                Some(_) => tried[v] += 1,
                None => {
                    let Some(e) = path.pop() else { return 0 };
                    v = self.to[e ^ 1];
                    tried[v] += 1;
                }
            }
        }
        let room = path.iter().map(|e| self.room[*e]).min().unwrap_or(0);
        for e in path {
            self.room[e] -= room;
            self.room[e ^ 1] = self.room[e ^ 1].saturating_add(room);
        }
        room
    }
}
