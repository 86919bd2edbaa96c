//! Terminals of a board that are live behind their shroud while somebody works at it.

use super::Input;
use super::name;
use crate::model::*;
use crate::units::{Minutes, Period};

/// The terminals behind shrouds at the board of a place that are live at some minute of the span:
/// what is laid open there is dead, so that all that is live at the board is behind a shroud.
pub fn live(input: &Input, place: PositionId, span: Period) -> Vec<NodeId> {
    let job = input.sound.job();
    let Some(board) = job.positions[place].board.map(|b| &job.boards[b]) else {
        return Vec::new();
    };
    let behind = [(board.incoming, board.incoming_shrouded), (board.ways, board.ways_shrouded)];
    let mut nodes: Vec<NodeId> = Vec::new();
    for (position, _) in behind.into_iter().filter(|(_, shrouded)| *shrouded) {
        nodes.extend(job.positions[position].points.iter().filter(|n| hot(input, **n, span)));
    }
    nodes
}

/// What such terminals are called: incoming terminals by their board, others by their own name.
pub fn name(input: &Input, n: NodeId) -> String {
    let job = input.sound.job();
    let incoming = job.boards.rows().iter().map(|b| b.incoming);
    let position = incoming.into_iter().find(|p| job.positions[*p].points.contains(&n));
    position.map_or_else(|| name::node(input, n), |p| name::places(input, &[p]))
}

/// Whether a line of the node is live at some minute of the span.
fn hot(input: &Input, n: NodeId, span: Period) -> bool {
    let line = |on: &[(Wire, NodeId)]| on.iter().any(|(w, _)| w.is_line());
    let track = input.sound.replay().live(n);
    let within = |t: Minutes| span.from < t && t < span.to;
    line(track.at(span.from)) || track.changes().any(|(t, on)| within(t) && line(on))
}
