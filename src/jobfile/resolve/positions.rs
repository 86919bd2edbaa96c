//! The two positions of every board, and what in its enclosure is fed from elsewhere.

use super::build::{Build, get, rows, text};
use super::kinds::{figure, lines};
use super::supply::described;
use super::tails::{moves_beside, shares_feed};
use crate::diag::Fault;
use crate::jobfile::schema::{BoardRow, FedRow};
use crate::jobfile::value::At;
use crate::model::*;
use crate::units::{Amperes, Minutes, whole};

impl Build {
    /// The survey's statement that nothing is fed from elsewhere.
    pub fn none_found(&self) -> NoneFound {
        NoneFound { by: self.site.survey.by.clone(), when: self.site.survey.on.clone() }
    }
}

/// The two positions of every board, once its ways are known.
pub(super) fn positions(b: &mut Build) {
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        board_positions(b, id);
    }
}

fn board_positions(b: &mut Build, id: BoardId) {
    let row = b.board_row(id);
    let made = b.boards[id.index()].clone();
    let name = b.job.boards.name(id).to_string();
    let new = matches!(made.role, BoardRole::NewBeside | BoardRole::NewSamePlace);
    let mut ways: Vec<_> = b.ways.values().filter(|w| w.board == id).cloned().collect();
    ways.sort_by_key(|w| (w.number, w.line));
    let row_nodes: Vec<NodeId> = ways.iter().map(|w| w.node).collect();
    let mut incoming_bare = vec![made.incoming];
    let mut incoming_point = made.incoming;
    if let Some(fed) = &made.fed {
        // A cable that moves from one board to one beside it is bare at neither: its end is in
        // the terminals of one, and made safe while it is on the way.
        let moves = shares_feed(b, id) && made.role == BoardRole::NewBeside
            || made.role == BoardRole::Old && moves_beside(b, fed.above);
        if !moves {
            incoming_bare.push(fed.above);
            if new {
                incoming_point = fed.above;
            }
        }
    }
    let mut ways_bare = vec![made.bus];
    ways_bare.extend(&row_nodes);
    let mut points = vec![made.bus];
    for (cable, _, from, to, _) in &b.links {
        if *to == id || *from == id {
            ways_bare.push(*cable);
        }
        if *to == id {
            points.push(*cable);
        }
    }
    let (other_fed, mut enclosed) = fed_from_elsewhere(b, id, &row);
    for name in rows(&row.passing) {
        enclosed.extend(b.end(&name));
    }
    // The lead of a temporary supply passes the boards whose circuits may go on it.
    let circuits: Vec<CircuitId> = ways.iter().flat_map(|w| w.circuits.clone()).collect();
    for (supply, row) in b.job.supplies.iter() {
        let rides = b.job.joints.rows().iter().any(
            |j| matches!(j.of, Some((c, Place::On(s))) if s == supply && circuits.contains(&c)),
        );
        if rides && !enclosed.contains(&row.node) {
            enclosed.push(row.node);
        }
    }
    let stated = get(&row.none_found);
    let none = if new && stated.is_none() && other_fed.is_empty() {
        b.default("a new board holds nothing fed from elsewhere", "stated by the survey");
        true
    } else {
        stated.unwrap_or(false)
    };
    if none && row.fed_from_elsewhere.as_ref().is_some_and(|f| !f.value.is_empty()) {
        let why = format!("board `{name}`: `none_found` and `fed_from_elsewhere` cannot both hold");
        b.cx.fault(Fault::Conflict { why }, row.none_found.as_ref().map_or(row.span, |n| n.span));
    }
    let listed = row.fed_from_elsewhere.as_ref().is_some_and(|f| !f.value.is_empty());
    if !none && !listed {
        let hint = "list it under `[[board.fed_from_elsewhere]]`, or state `none_found = true`";
        let fault = Fault::FedFromElsewhereUnstated { place: name.clone() };
        b.cx.hinted(fault, row.name.as_ref().map_or(row.span, |n| n.span), hint);
    }
    let discharge = match &row.discharge_min {
        Some(m) => m.value.0,
        None => {
            b.default("discharge time of a board", "5 min");
            5
        }
    };
    let room = match &row.room_for {
        Some(n) => n.value.0,
        None => {
            b.default("working space at the ways of a board", "2 people");
            2
        }
    };
    let room_in = row.room_at_incoming.as_ref().map_or(2, |n| n.value.0);
    let live_before = get(&row.live_before).unwrap_or(false);
    let position = |hands: i64,
                    bare: Vec<NodeId>,
                    points: Vec<NodeId>,
                    row: Vec<NodeId>,
                    other_fed: Vec<NodeId>,
                    enclosed: Vec<NodeId>,
                    none_found: Option<NoneFound>| Position {
        board: Some(id),
        hands,
        bare,
        points,
        row,
        other_fed,
        enclosed,
        none_found,
        discharge: Minutes(discharge),
        live_before,
    };
    // Whatever is fed from elsewhere is found at the ways; the statement covers the enclosure.
    let found = none.then(|| b.none_found());
    let at_incoming = found.clone().or_else(|| listed.then(|| b.none_found()));
    let incoming = position(
        room_in,
        incoming_bare,
        vec![incoming_point],
        Vec::new(),
        Vec::new(),
        Vec::new(),
        at_incoming,
    );
    let ways = position(room, ways_bare, points, row_nodes, other_fed, enclosed, found);
    let (Some(incoming), Some(ways)) = (
        b.job.positions.add(format!("{name}.incoming"), incoming),
        b.job.positions.add(format!("{name}.ways"), ways),
    ) else {
        return;
    };
    b.job.boards[id].incoming = incoming;
    b.job.boards[id].ways = ways;
    let at = text(&row.at);
    b.position_words.insert(incoming, format!("incoming terminals of {}", described(&name, &at)));
    b.position_words.insert(ways, format!("ways of {}", described(&name, &at)));
    if let Some(area) = row.area.as_ref().and_then(|a| b.area(a)) {
        b.position_areas.insert(incoming, area);
        b.position_areas.insert(ways, area);
    }
}

/// The nodes in a board that are fed from elsewhere: bare ones, and shrouded ones.
fn fed_from_elsewhere(b: &mut Build, id: BoardId, row: &BoardRow) -> (Vec<NodeId>, Vec<NodeId>) {
    let (mut bare, mut shrouded) = (Vec::new(), Vec::new());
    for row in rows(&row.fed_from_elsewhere) {
        let Some(node) = fed_node(b, id, &row) else { continue };
        let behind = b.or(&row.shrouded, "what is fed from elsewhere is shrouded", "no", false);
        if behind { &mut shrouded } else { &mut bare }.push(node);
    }
    (bare, shrouded)
}

fn fed_node(b: &mut Build, id: BoardId, row: &FedRow) -> Option<NodeId> {
    let (name, from) = (row.name.as_ref()?, row.from.as_ref()?);
    let above = b.end(from)?;
    let default = At { value: "L1".to_string(), span: name.span };
    let mut wires: WireSet =
        lines(row.lines.as_ref().unwrap_or(&default), &mut b.cx)?.into_iter().collect();
    if get(&row.neutral).unwrap_or(true) {
        wires = wires.with(Wire::N);
    }
    let board = b.job.boards.name(id).to_string();
    let node = b.bar(&format!("{board}.{}", name.value), wires, false, name.span)?;
    b.node_words.insert(node, described(&format!("{} in {board}", name.value), &text(&row.at)));
    let through = get(&row.through).unwrap_or_else(|| format!("{} fuse", name.value));
    let rating = Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(6)));
    let device = Device {
        lockable: b.or(
            &row.lockable,
            "the device of what is fed from elsewhere can be locked open",
            "no",
            false,
        ),
        on_load: false,
        overcurrent: true,
        ..b.plain_device(above, node, rating)
    };
    if let Some(device) =
        b.device(&through, device, row.through.as_ref().map_or(name.span, |t| t.span))
    {
        b.device_words.insert(device, format!("{through}, for {} in {board}", name.value));
    }
    Some(node)
}
