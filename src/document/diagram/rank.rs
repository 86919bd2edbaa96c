//! Which end of a connection is nearer to the sources, and in which rank each net stands.
//!
//! Sources stand in rank 0. From each source the drawing goes down its own chain of nets (each
//! with two connections) to the first net that has more; below the first such net of the main
//! incoming supply, the nearer end is up. Every other net stands one rank below the lowest net
//! above it, so all connections go downwards.

use super::skeleton::Skeleton;
use std::collections::VecDeque;

/// Turns every edge so that `up` is above `down`. Nets that no source can reach hang below the
/// earliest of them.
pub fn turn(skeleton: &mut Skeleton, watching: impl Fn(usize) -> bool) {
    let n = skeleton.nets.len();
    let mut next: Vec<Vec<usize>> = vec![Vec::new(); n];
    for e in &skeleton.edges {
        next[e.up].push(e.down);
        next[e.down].push(e.up);
    }
    let ways: Vec<bool> = (0..n).map(|i| skeleton.ways.iter().any(|w| w.net == i)).collect();
    let mut sources: Vec<usize> = (0..n).filter(|i| skeleton.nets[*i].source.is_some()).collect();
    sources.sort_by_key(|s| (watching(*s), *s));
    // Order in which nets are met from the sources: first by chain, then by distance.
    let mut order: Vec<Option<(usize, usize)>> = vec![None; n];
    let mut heads: Vec<usize> = Vec::new();
    for &source in &sources {
        let (mut at, mut depth) = (source, 0);
        loop {
            if order[at].is_none() {
                order[at] = Some((0, depth));
            }
            let onward: Vec<usize> =
                next[at].iter().copied().filter(|m| order[*m].is_none()).collect();
            let through = next[at].len() <= if at == source { 1 } else { 2 };
            match onward.as_slice() {
                [one] if through && !ways[at] => {
                    let branches = next[*one].len() > 2 || skeleton.nets[*one].source.is_some();
                    if branches {
                        heads.push(*one);
                        break;
                    }
                    (at, depth) = (*one, depth + 1);
                }
                _ => {
                    heads.push(at);
                    break;
                }
            }
        }
    }
    let mut seeds: VecDeque<usize> = heads.into_iter().chain(0..n).collect();
    while let Some(seed) = seeds.pop_front() {
        let inside = order[seed].is_some_and(|(group, _)| group == 1);
        if inside || (order[seed].is_some() && next[seed].iter().all(|m| order[*m].is_some())) {
            continue;
        }
        if order[seed].is_none() {
            order[seed] = Some((1, 0));
        }
        let mut queue = VecDeque::from([(seed, 0)]);
        while let Some((at, depth)) = queue.pop_front() {
            for &m in &next[at] {
                if order[m].is_none() {
                    order[m] = Some((1, depth + 1));
                    queue.push_back((m, depth + 1));
                }
            }
        }
    }
    let key = |i: usize| (order[i], i);
    for e in &mut skeleton.edges {
        if key(e.up) > key(e.down) {
            std::mem::swap(&mut e.up, &mut e.down);
        }
    }
}

/// The rank of each net: one below the lowest net above it.
pub fn depths(skeleton: &Skeleton) -> Vec<usize> {
    let mut ranks = vec![0; skeleton.nets.len()];
    // No way down is longer than there are nets.
    for _ in 0..skeleton.nets.len() {
        let before = ranks.clone();
        for e in &skeleton.edges {
            ranks[e.down] = ranks[e.down].max(ranks[e.up] + 1);
        }
        if ranks == before {
            break;
        }
    }
    ranks
}
