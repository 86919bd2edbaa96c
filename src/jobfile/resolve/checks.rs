//! What only the whole network tells: neutral groups that part, boards that nothing isolates.

use super::build::Build;
use super::build::rows;
use crate::diag::Fault;
use crate::model::*;
use std::collections::BTreeMap;

/// All checks over the whole job.
pub(super) fn checks(b: &mut Build) {
    neutrals(b);
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        lock_above(b, id);
    }
}

/// Members of a neutral group end on one board, and behind the same residual-current devices.
fn neutrals(b: &mut Build) {
    for group in b.job.neutral_groups.clone() {
        let place = |c: CircuitId| {
            b.job.joints.rows().iter().find(|j| j.of == Some((c, Place::New))).map(|j| j.a)
        };
        let Some((first, rest)) = group.split_first() else { continue };
        for other in rest {
            let (Some(x), Some(y)) = (place(*first), place(*other)) else { continue };
            let of =
                |node: NodeId| b.ways.values().find(|w| w.node == node).map(|w| (w.board, w.span));
            let (Some((bx, sx)), Some((by, sy))) = (of(x), of(y)) else { continue };
            let rcd = |node: NodeId| {
                let device = b.job.devices.find(b.job.nodes.name(node));
                device.is_some_and(|d| b.job.devices[d].rcd_ma.is_some())
            };
            if x == y || (bx == by && !rcd(x) && !rcd(y)) {
                continue;
            }
            let name = |c: CircuitId, n: NodeId| {
                (b.job.circuits.name(c).to_string(), b.job.nodes.name(n).to_string())
            };
            let fault = Fault::NeutralSplit { first: name(*first, x), second: name(*other, y) };
            let hint = format!(
                "put both on one device: write `{}` for both, with their lines in `new_lines`",
                one_way(b.job.nodes.name(x))
            );
            b.cx.tell(fault, sy, Some((sx, "the other")), Some(hint));
        }
    }
}

/// The way without its line.
fn one_way(reference: &str) -> &str {
    match reference.rfind('L') {
        Some(i)
            if i + 2 == reference.len()
                && reference[..i].ends_with(|c: char| c.is_ascii_digit()) =>
        {
            &reference[..i]
        }
        _ => reference,
    }
}

/// A lockable device suitable for isolation stands outside a board between its incoming
/// terminals and every source (planning model, section 3).
fn lock_above(b: &mut Build, id: BoardId) {
    let made = b.boards[id.index()].clone();
    let worked = made.role != BoardRole::Stays
        || b.tails.iter().any(|t| {
            t.position == b.job.boards[id].ways || t.position == b.job.boards[id].incoming
        });
    let Some(fed) = made.fed.filter(|_| worked) else { return };
    // The board's own tails count as made, so that a new board is judged as it will be.
    let mut came: BTreeMap<NodeId, (NodeId, String)> = BTreeMap::new();
    let mut ahead = vec![made.incoming];
    came.insert(made.incoming, (made.incoming, String::new()));
    while let Some(node) = ahead.pop() {
        if b.job.nodes[node].source().is_some() {
            let mut names = vec![b.job.nodes.name(node).to_string()];
            let mut at = node;
            while at != made.incoming {
                let (back, over) = came[&at].clone();
                names.push(over);
                at = back;
            }
            names.retain(|n| !n.is_empty());
            let board = b.job.boards.name(id).to_string();
            let span = rows(&b.root.board)
                .get(made.row)
                .map_or(b.root.span, |r| r.fed_from.as_ref().map_or(r.span, |f| f.span));
            let hint = "state `lockable = true` on the feed if it can be locked open and is suitable for isolation";
            b.cx.hinted(Fault::NoLockAbove { board, path: names.join(", ") }, span, hint);
            return;
        }
        let mut step = |to: NodeId, over: String| {
            if let std::collections::btree_map::Entry::Vacant(slot) = came.entry(to) {
                slot.insert((node, over));
                ahead.push(to);
            }
        };
        for (d, device) in b.job.devices.iter() {
            let far = match (device.a == node, device.b == node) {
                (true, _) => device.b,
                (_, true) => device.a,
                _ => continue,
            };
            let lines =
                device.wires.at_a().iter().filter(|w| w.is_line()).all(|w| device.breaks.has(w));
            let locks = device.lockable
                && device.isolates
                && lines
                && device.wires.at_a().iter().any(Wire::is_line);
            if device.enclosure != Some(id) && locks {
                continue;
            }
            if device.enclosure == Some(id) && node == made.incoming && device.b == made.bus {
                continue;
            }
            step(far, b.job.devices.name(d).to_string());
        }
        for (j, joint) in b.job.joints.iter() {
            let far = match (joint.a == node, joint.b == node) {
                (true, _) => joint.b,
                (_, true) => joint.a,
                _ => continue,
            };
            let lines = joint.wires.at_a().iter().any(Wire::is_line);
            let own = j == fed.tails || fed.supply_end.is_some_and(|(_, end)| end == j);
            if lines && (joint.made || own) && joint.of.is_none() {
                step(far, String::new());
            }
        }
    }
}
