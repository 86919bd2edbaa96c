//! What the job adds to the usual network, or states otherwise: nodes, devices, joints,
//! positions and work on terminations by their ids.

use super::build::{Build, get, rows, text};
use super::kinds::{figure, fit, lanes, wires};
use crate::diag::Fault;
use crate::jobfile::schema::{
    DeviceKind, DeviceRow, JointRow, NodeRow, NodeWord, PositionRow, StageWord, While,
};
use crate::jobfile::value::At;
use crate::model::*;
use crate::units::{Amperes, Minutes};

/// Takes the explicit tables, in the order nodes, devices, joints, positions.
pub(super) fn refine(b: &mut Build) {
    for row in rows(&b.root.node) {
        node(b, &row);
    }
    for row in rows(&b.root.device) {
        device(b, &row);
    }
    for row in rows(&b.root.joint) {
        joint(b, &row);
    }
    for row in rows(&b.root.position) {
        position(b, &row);
    }
}

fn node(b: &mut Build, row: &NodeRow) -> Option<()> {
    let name = row.name.as_ref()?;
    let kind = match get(&row.kind).unwrap_or(NodeWord::Bar) {
        NodeWord::Bar => NodeKind::Bar,
        NodeWord::Load => NodeKind::Load,
    };
    let id = match b.job.nodes.find(&name.value) {
        Some(id) => {
            if let Some(at) = &row.wires {
                b.job.nodes[id].wires = wires(at, &mut b.cx)?;
            }
            id
        }
        None => {
            let own = match &row.wires {
                Some(at) => wires(at, &mut b.cx)?,
                None => Wire::ALL.into_iter().collect(),
            };
            b.node(&name.value, Node { kind, wires: own, neutral_bar: false }, name.span)?
        }
    };
    if let Some(bar) = get(&row.neutral_bar) {
        b.job.nodes[id].neutral_bar = bar;
    }
    if row.at.is_some() || !b.node_words.contains_key(&id) {
        b.node_words.insert(id, super::supply::described(&name.value, &text(&row.at)));
    }
    Some(())
}

fn ends(
    b: &mut Build,
    table: &str,
    a: &Option<At<String>>,
    z: &Option<At<String>>,
    span: crate::diag::Span,
) -> Option<(NodeId, NodeId)> {
    let mut found = [None, None];
    for (i, (key, at)) in [("a", a), ("b", z)].into_iter().enumerate() {
        match at {
            Some(at) => found[i] = b.end(at),
            None => {
                let about = "node at this end, for one that no other table makes".to_string();
                let fault =
                    Fault::MissingKey { key: key.to_string(), table: table.to_string(), about };
                b.cx.fault(fault, span);
            }
        }
    }
    Some((found[0]?, found[1]?))
}

fn device(b: &mut Build, row: &DeviceRow) -> Option<()> {
    let name = row.name.as_ref()?;
    let existing = b.job.devices.find(&name.value);
    let mut d = match existing {
        Some(id) => b.job.devices[id].clone(),
        None => {
            let (x, y) = ends(b, DeviceRow::NAME, &row.a, &row.b, name.span)?;
            b.plain_device(x, y, Amperes::from(100))
        }
    };
    if existing.is_some() {
        if let Some(at) = &row.a {
            d.a = b.end(at)?;
        }
        if let Some(at) = &row.b {
            d.b = b.end(at)?;
        }
    }
    if existing.is_none() || row.kind.is_some() {
        let fitness = fit(get(&row.kind).unwrap_or(DeviceKind::SwitchDisconnector));
        d.isolates = fitness.isolates;
        d.on_load = fitness.on_load;
        d.overcurrent = fitness.overcurrent;
    }
    if let Some(at) = &row.wires {
        d.wires = lanes(at, &mut b.cx)?;
        let bad = d
            .wires
            .iter()
            .any(|(x, y)| !b.job.nodes[d.a].wires.has(x) || !b.job.nodes[d.b].wires.has(y));
        if bad {
            let why =
                format!("device `{}` carries a conductor that its ends do not have", name.value);
            b.cx.fault(Fault::Lines { why }, at.span);
        }
        d.breaks = d.wires.at_a().iter().filter(|w| *w != Wire::PE).collect();
    }
    if row.breaks.is_some() {
        d.breaks = b.breaks(&row.breaks, d.wires.at_a(), name.span);
    }
    d.isolates = get(&row.isolates).unwrap_or(d.isolates);
    d.lockable = get(&row.lockable).unwrap_or(d.lockable);
    d.on_load = get(&row.on_load).unwrap_or(d.on_load);
    d.overcurrent = get(&row.overcurrent).unwrap_or(d.overcurrent);
    d.rcd_ma = figure(&row.rcd_ma).or(d.rcd_ma);
    d.closed = get(&row.closed).unwrap_or(d.closed);
    d.rating = figure(&row.rating_a).map_or(d.rating, Amperes);
    d.diversity = figure(&row.diversity).unwrap_or(d.diversity);
    d.temporary = get(&row.temporary).unwrap_or(d.temporary);
    if let Some(at) = &row.enclosure {
        d.enclosure = b.board(at);
    }
    if let Some(at) = &row.follows {
        let node = b.end(at)?;
        let closed_while_live = get(&row.closed_while).unwrap_or(While::Live) == While::Live;
        d.self_acting = Some(SelfActing { node, closed_while_live });
        if row.closed.is_none() {
            d.closed = closed_while_live;
        }
    }
    if row.third_party.is_some() {
        d.third_party = b.third_party(&row.third_party);
    }
    let id = match existing {
        Some(id) => {
            b.job.devices[id] = d;
            id
        }
        None => b.device(&name.value, d, name.span)?,
    };
    if row.at.is_some() || !b.device_words.contains_key(&id) {
        b.device_words.insert(id, super::supply::described(&name.value, &text(&row.at)));
    }
    Some(())
}

fn joint(b: &mut Build, row: &JointRow) -> Option<()> {
    let name = row.name.as_ref()?;
    let existing = b.job.joints.find(&name.value);
    let mut j = match existing {
        Some(id) => b.job.joints[id].clone(),
        None => {
            let (x, y) = ends(b, JointRow::NAME, &row.a, &row.b, name.span)?;
            Joint { a: x, b: y, wires: Lanes::straight(b.common(x, y)), made: true, of: None }
        }
    };
    if existing.is_some() {
        if let Some(at) = &row.a {
            j.a = b.end(at)?;
        }
        if let Some(at) = &row.b {
            j.b = b.end(at)?;
        }
    }
    if let Some(at) = &row.wires {
        j.wires = lanes(at, &mut b.cx)?;
    }
    let bad = j
        .wires
        .iter()
        .any(|(x, y)| !b.job.nodes[j.a].wires.has(x) || !b.job.nodes[j.b].wires.has(y));
    if bad || j.wires == Lanes::default() {
        let why = format!("`{}` joins conductors that its ends do not have", name.value);
        b.cx.fault(Fault::Lines { why }, row.wires.as_ref().map_or(name.span, |w| w.span));
    }
    j.made = get(&row.made).unwrap_or(j.made);
    if let Some(at) = &row.circuit {
        let circuit = b.circuit(at)?;
        let place = match &row.place {
            Some(at) if at.value == "old" => Place::Old,
            Some(at) if at.value == "new" => Place::New,
            Some(at) => match b.job.supplies.find(&at.value) {
                Some(supply) => Place::On(supply),
                None => {
                    let known: Vec<String> = b.job.supplies.names().map(String::from).collect();
                    b.cx.unknown(
                        "place `old`, `new` or temporary supply",
                        at,
                        known.iter().map(String::as_str),
                    );
                    return None;
                }
            },
            None => {
                let (key, table) = ("place".to_string(), JointRow::NAME.to_string());
                let about = "where it puts its circuit".to_string();
                b.cx.fault(Fault::MissingKey { key, table, about }, at.span);
                return None;
            }
        };
        j.of = Some((circuit, place));
    }
    match existing {
        Some(id) => b.job.joints[id] = j,
        None => {
            b.add_joint(&name.value, j, name.span)?;
        }
    }
    Some(())
}

fn position(b: &mut Build, row: &PositionRow) -> Option<()> {
    let name = row.name.as_ref()?;
    let list = |b: &mut Build, names: &Option<At<Vec<At<String>>>>| -> Vec<NodeId> {
        rows(names).iter().filter_map(|n| b.end(n)).collect()
    };
    let (bare, points) = (list(b, &row.bare), list(b, &row.points));
    let (fed, enclosed, in_row) =
        (list(b, &row.fed_from_elsewhere), list(b, &row.enclosed), list(b, &row.row));
    let id = match b.job.positions.find(&name.value) {
        Some(id) => id,
        None => {
            if !b.fresh("position", &name.value, name.span) {
                return None;
            }
            if bare.is_empty() {
                let (key, table) = ("bare".to_string(), PositionRow::NAME.to_string());
                let about = "nodes bare there, for one that no other table makes".to_string();
                b.cx.fault(Fault::MissingKey { key, table, about }, name.span);
            }
            let new = Position {
                board: None,
                hands: 1,
                bare: Vec::new(),
                points: bare.first().copied().filter(|_| points.is_empty()).into_iter().collect(),
                row: Vec::new(),
                other_fed: Vec::new(),
                enclosed: Vec::new(),
                none_found: None,
                discharge: Minutes(5),
                live_before: false,
            };
            b.job.positions.add(name.value.clone(), new)?
        }
    };
    let none = b.none_found();
    let p = &mut b.job.positions[id];
    for (into, more) in [
        (&mut p.bare, bare),
        (&mut p.points, points),
        (&mut p.other_fed, fed),
        (&mut p.enclosed, enclosed),
    ] {
        for node in more {
            if !into.contains(&node) {
                into.push(node);
            }
        }
    }
    if row.row.is_some() {
        p.row = in_row;
    }
    p.hands = row.room_for.as_ref().map_or(p.hands, |n| n.value.0);
    p.discharge = row.discharge_min.as_ref().map_or(p.discharge, |n| Minutes(n.value.0));
    p.live_before = get(&row.live_before).unwrap_or(p.live_before);
    match get(&row.none_found) {
        Some(true) => p.none_found = Some(none),
        Some(false) => p.none_found = None,
        None => {}
    }
    let unstated = p.none_found.is_none() && p.other_fed.is_empty() && p.enclosed.is_empty();
    if unstated && p.board.is_none() {
        let hint = "list it under `fed_from_elsewhere` or `enclosed`, or state `none_found = true`";
        b.cx.hinted(Fault::FedFromElsewhereUnstated { place: name.value.clone() }, name.span, hint);
    }
    if let Some(area) = row.area.as_ref().and_then(|a| b.area(a)) {
        b.position_areas.insert(id, area);
    }
    if row.at.is_some() || !b.position_words.contains_key(&id) {
        b.position_words.insert(id, super::supply::described(&name.value, &text(&row.at)));
    }
    Some(())
}

/// Takes `[[tails]]`.
pub(super) fn tails(b: &mut Build) {
    for row in rows(&b.root.tails) {
        let (Some(name), Some(stage), Some(board)) = (&row.name, &row.stage, &row.board) else {
            continue;
        };
        let Some(board) = b.board(board) else { continue };
        let stage = match stage.value {
            StageWord::Beforehand => TailsStage::Beforehand,
            StageWord::SupplyEnd => TailsStage::SupplyEnd,
            StageWord::CutIn => TailsStage::CutIn,
            StageWord::LinkOn => TailsStage::LinkOn,
            StageWord::LinkOff => TailsStage::LinkOff,
            StageWord::StripOut => TailsStage::StripOut,
        };
        let position = match &row.position {
            Some(at) => match b.job.positions.find(&at.value) {
                Some(id) => id,
                None => {
                    let known: Vec<String> = b.job.positions.names().map(String::from).collect();
                    b.cx.unknown("position", at, known.iter().map(String::as_str));
                    continue;
                }
            },
            None => b.job.boards[board].incoming,
        };
        let mut joints = |names: &Option<At<Vec<At<String>>>>| -> Vec<JointId> {
            rows(names)
                .iter()
                .filter_map(|at| {
                    let found = b.job.joints.find(&at.value);
                    if found.is_none() {
                        b.cx.unknown("joint", at, b.job.joints.names());
                    }
                    found
                })
                .collect()
        };
        let (breaks, makes) = (joints(&row.breaks), joints(&row.makes));
        // What is stated here replaces what the boards call for.
        for t in &mut b.tails {
            t.breaks.retain(|j| !breaks.contains(j));
            t.makes.retain(|j| !makes.contains(j));
        }
        b.tails.retain(|t| !t.breaks.is_empty() || !t.makes.is_empty());
        let mut effort = b.tails_effort(stage, board);
        if let Some(at) = &row.minutes
            && let Some(duration) = b.three(at)
        {
            effort = b.effort(duration, effort.people);
        }
        b.tails.push(Tails {
            name: name.value.clone(),
            stage,
            board,
            position,
            breaks,
            makes,
            effort,
        });
    }
}
