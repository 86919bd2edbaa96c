//! Whether a connection lies on some path that meets no conductor twice.
//!
//! Such a path from `s` to a source over the connection `u`-`v` is a pair of paths without a
//! conductor in common, from `s` and from the sources to `u` and `v`: a flow of two where each
//! conductor carries one (Menger's theorem). All sources are one end.

use super::wiring::{Conductor, Wiring};
use std::collections::{BTreeMap, VecDeque};

/// A conductor's two sides, and the ends of the flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Point {
    From,
    Sources,
    In(Conductor),
    Out(Conductor),
    To,
}

/// Whether `lane` lies on a path from `start` to a source, all of `passes` being there.
pub(super) fn on_a_path(
    w: &Wiring,
    start: Conductor,
    lane: usize,
    passes: &impl Fn(usize) -> bool,
) -> bool {
    let (u, v) = (w.lanes[lane].a, w.lanes[lane].b);
    let mut left: BTreeMap<Point, BTreeMap<Point, u8>> = BTreeMap::new();
    let mut arc = |a: Point, b: Point| {
        left.entry(a).or_default().insert(b, 1);
        left.entry(b).or_default().entry(a).or_insert(0);
    };
    // Only what hangs together with the three is looked at.
    let mut seen = std::collections::BTreeSet::from([start, u, v]);
    let mut queue: Vec<Conductor> = seen.iter().copied().collect();
    while let Some(c) = queue.pop() {
        arc(Point::In(c), Point::Out(c));
        if w.hot(c) {
            arc(Point::Sources, Point::In(c));
        }
        for &(other_lane, other) in &w.next[c] {
            if other_lane == lane || !passes(other_lane) {
                continue;
            }
            arc(Point::Out(c), Point::In(other));
            if seen.insert(other) {
                queue.push(other);
            }
        }
    }
    arc(Point::From, Point::In(start));
    arc(Point::From, Point::Sources);
    arc(Point::Out(u), Point::To);
    arc(Point::Out(v), Point::To);
    (0..2).all(|_| augment(&mut left))
}

/// Sends one more from end to end, if that can be.
fn augment(left: &mut BTreeMap<Point, BTreeMap<Point, u8>>) -> bool {
    let mut back: BTreeMap<Point, Point> = BTreeMap::new();
    let mut queue = VecDeque::from([Point::From]);
    while let Some(at) = queue.pop_front() {
        for (&to, &room) in left.get(&at).into_iter().flatten() {
            if room > 0 && to != Point::From && !back.contains_key(&to) {
                back.insert(to, at);
                queue.push_back(to);
            }
        }
    }
    let mut at = Point::To;
    while let Some(&before) = back.get(&at) {
        let mut turn = |a: Point, b: Point, by: i8| {
            let room = left.entry(a).or_default().entry(b).or_insert(0);
            *room = room.saturating_add_signed(by);
        };
        turn(before, at, -1);
        turn(at, before, 1);
        at = before;
    }
    at == Point::From
}

#[cfg(test)]
mod tests {
    use super::super::wiring::{Feed, Lane, Part};
    use super::*;
    use crate::model::{DeviceId, Id, NodeId, Wire};

    /// Conductors in a row of connections, the last conductor a source.
    fn wiring(count: usize, lanes: &[(Conductor, Conductor)]) -> Wiring {
        let node = |n: usize| (NodeId::new(n), Wire::L1);
        let mut next = vec![Vec::new(); count];
        for (i, (a, b)) in lanes.iter().enumerate() {
            next[*a].push((i, *b));
            next[*b].push((i, *a));
        }
        let mut feed = vec![None; count];
        feed[count - 1] = Some(Feed { source: NodeId::new(count - 1), wire: Wire::L1, hot: true });
        let lane = |&(a, b): &(Conductor, Conductor)| Lane {
            a,
            b,
            part: Part::Switched(DeviceId::new(a)),
            wire: Wire::L1,
        };
        Wiring {
            at: (0..count).map(node).collect(),
            feed,
            lanes: lanes.iter().map(lane).collect(),
            next,
            of_device: vec![],
            of_joint: vec![],
            ends_at: BTreeMap::new(),
            hot_neutral: false,
        }
    }

    #[track_caller]
    fn case(lanes: &[(Conductor, Conductor)], start: Conductor, expect: &[usize]) {
        let count = 1 + lanes.iter().map(|(a, b)| *a.max(b)).max().unwrap_or(0);
        let w = wiring(count, lanes);
        let on = (0..lanes.len()).filter(|l| on_a_path(&w, start, *l, &|_| true));
        assert_eq!(on.collect::<Vec<_>>(), expect);
    }

    #[test]
    fn a_connection_counts_where_a_path_goes_over_it_to_the_end() {
        // A row; a row with a dead end.
        case(&[(0, 1), (1, 2)], 0, &[0, 1]);
        case(&[(0, 1), (0, 2), (2, 3)], 0, &[1, 2]);
        // A loop on the way counts both ways round; one that comes back to its own conductor not.
        case(&[(0, 1), (1, 2), (0, 2), (2, 3)], 0, &[0, 1, 2, 3]);
        case(&[(0, 1), (1, 2), (2, 1), (0, 3)], 0, &[3]);
        case(&[(0, 1), (1, 2), (2, 0), (0, 3)], 0, &[3]);
    }
}
