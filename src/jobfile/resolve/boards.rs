//! Boards: busbars, main switch, supply, positions, links, and the tails to be moved.

use super::build::{BoardMade, Build, Fed, get, rows, text};
use super::kinds::{figure, fit, lines};
use super::supply::described;
use crate::diag::Fault;
use crate::jobfile::schema::{BoardRow, DeviceKind, FedRow, LinkRow, Role, Where};
use crate::jobfile::value::At;
use crate::model::*;
use crate::units::{Amperes, Minutes, whole};

/// Makes every board's terminals and busbars, so that others can name it.
pub(super) fn names(b: &mut Build) {
    let mut olds = 0;
    for (index, row) in rows(&b.root.board).iter().enumerate() {
        let Some(name) = &row.name else { continue };
        // A role that could not be read has been told; the board is made all the same, so that
        // references to it are not told as well.
        let role = get(&row.role).unwrap_or(Role::Old);
        if !b.fresh("board", &name.value, name.span) {
            continue;
        }
        if name.value.contains('/') {
            let why = format!(
                "`{}`: the name of a board has no `/`, which parts it from a way",
                name.value
            );
            b.cx.fault(Fault::WrongPlace { why }, name.span);
        }
        let phases = row.phases.as_ref().map_or(3, |p| p.value.0);
        let line = row
            .line
            .as_ref()
            .and_then(|at| lines(at, &mut b.cx))
            .and_then(|l| l.first().copied())
            .unwrap_or(Wire::L1);
        let wired: Vec<Wire> = if phases == 1 { vec![line] } else { Wire::LINES.to_vec() };
        if phases == 2 {
            let why = "a board has 1 or 3 phases".to_string();
            b.cx.fault(Fault::Lines { why }, row.phases.as_ref().map_or(row.span, |p| p.span));
        }
        let wires: WireSet = wired.into_iter().chain([Wire::N, Wire::PE]).collect();
        let incoming = b.bar(&format!("{}.in", name.value), wires, false, name.span);
        let bus = b.bar(&format!("{}.bus", name.value), wires, true, name.span);
        let (Some(incoming), Some(bus)) = (incoming, bus) else { continue };
        b.node_words.insert(incoming, format!("incoming terminals of {}", name.value));
        b.node_words.insert(bus, format!("busbars of {}", name.value));
        let place = match (role, get(&row.place)) {
            (Role::Old, _) => BoardRole::Old,
            (Role::Stays, _) => BoardRole::Stays,
            (Role::New, Some(Where::SamePlace)) => BoardRole::NewSamePlace,
            (Role::New, place) => {
                if place.is_none() {
                    b.default("where a new board comes", "beside the old one");
                }
                BoardRole::NewBeside
            }
        };
        olds += usize::from(role == Role::Old);
        let ways = row.ways.as_ref().map_or(1, |w| w.value.0);
        b.boards.push(BoardMade {
            incoming,
            bus,
            role: place,
            ways,
            phases,
            line,
            fed: None,
            row: index,
        });
        let none = PositionId::new(0);
        let board = Board {
            incoming: none,
            ways: none,
            incoming_shrouded: b.or(
                &row.incoming_shrouded,
                "incoming terminals shrouded to IP2X",
                "no",
                false,
            ),
            ways_shrouded: b.or(&row.ways_shrouded, "ways shrouded to IP2X", "no", false),
            covers_on: get(&row.covers_on).unwrap_or(true),
            within_reach: Vec::new(),
            replaces: None,
            one_way: get(&row.one_way),
        };
        b.job.boards.add(name.value.clone(), board);
    }
    if b.job.boards.is_empty() {
        b.cx.fault(Fault::NoneOf { what: "board" }, b.root.span);
    } else if olds == 0 {
        b.cx.fault(Fault::NoneOf { what: "old board" }, b.root.span);
    }
}

/// Main switches, supplies and links.
pub(super) fn boards(b: &mut Build) {
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        let row = b.board_row(id);
        main_switch(b, id, &row);
        for name in rows(&row.within_reach) {
            if let Some(other) = b.board(&name) {
                b.job.boards[id].within_reach.push(other);
            }
        }
        if matches!(b.boards[id.index()].role, BoardRole::NewSamePlace) {
            b.job.boards[id].replaces = replaced(b, id, &row);
        }
    }
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        supplied(b, id);
    }
    for (index, row) in rows(&b.root.link).iter().enumerate() {
        link(b, row, index);
    }
}

/// The old board whose place or circuits a new one takes.
pub(super) fn replaced(b: &mut Build, id: BoardId, row: &BoardRow) -> Option<BoardId> {
    let _ = id;
    if let Some(name) = &row.replaces {
        let old = b.board(name)?;
        if b.boards[old.index()].role != BoardRole::Old {
            let why = format!("`{}` is no old board, so it cannot be replaced", name.value);
            b.cx.fault(Fault::WrongPlace { why }, name.span);
        }
        return Some(old);
    }
    let olds: Vec<BoardId> =
        b.job.boards.ids().filter(|o| b.boards[o.index()].role == BoardRole::Old).collect();
    match olds[..] {
        [only] => Some(only),
        _ => {
            let (key, table) = ("replaces".to_string(), BoardRow::NAME.to_string());
            let about = "the old board whose place it takes".to_string();
            b.cx.fault(Fault::MissingKey { key, table, about }, row.span);
            None
        }
    }
}

fn main_switch(b: &mut Build, id: BoardId, row: &BoardRow) {
    let made = b.boards[id.index()].clone();
    let main = get(&row.main).unwrap_or_default();
    let span = row.main.as_ref().map_or(row.span, |m| m.span);
    let kind = b.or(
        &main.kind,
        "kind of a main switch",
        "switch-disconnector",
        DeviceKind::SwitchDisconnector,
    );
    let rating = match figure(&main.rating_a) {
        Some(a) => Amperes(a),
        None => {
            b.default("rating of a main switch", "100 A");
            Amperes::from(100)
        }
    };
    let fitness = fit(kind);
    let carried = b.job.nodes[made.bus].wires;
    let device = Device {
        breaks: b.breaks(&main.breaks, carried, span),
        isolates: get(&main.isolates).unwrap_or(fitness.isolates),
        lockable: b.or(&main.lockable, "a main switch can be locked open", "no", false),
        on_load: get(&main.on_load).unwrap_or(fitness.on_load),
        overcurrent: fitness.overcurrent,
        rcd_ma: figure(&main.rcd_ma),
        closed: matches!(made.role, BoardRole::Old | BoardRole::Stays),
        enclosure: Some(id),
        ..b.plain_device(made.incoming, made.bus, rating)
    };
    let name = format!("{}.main", b.job.boards.name(id));
    if let Some(device) = b.device(&name, device, row.span) {
        let words = format!("main switch of {}", b.job.boards.name(id));
        b.device_words.insert(device, words);
    }
}

/// Joins a board to what feeds it: a feed, or a way of another board by a submain.
fn supplied(b: &mut Build, id: BoardId) -> Option<()> {
    let row = b.board_row(id);
    let name = b.job.boards.name(id).to_string();
    let from = row.fed_from.as_ref()?;
    let above = b.end(from)?;
    let there = matches!(b.boards[id.index()].role, BoardRole::Old | BoardRole::Stays);
    let incoming = b.boards[id.index()].incoming;
    let way = b.ways.values().find(|w| w.node == above).map(|w| w.board);
    let (above, supply_end) = match way {
        Some(upstream) => {
            let wires = b.common(above, incoming);
            let cable = b.bar(&format!("{name}.submain"), wires, false, from.span)?;
            b.node_words.insert(cable, format!("submain of {name}"));
            if let Some(device) = b.job.devices.find(&from.value) {
                let rating = b
                    .job
                    .devices
                    .find(&format!("{name}.main"))
                    .map(|m| b.job.devices[m].rating.clone());
                b.job.devices[device].rating = rating.unwrap_or_else(|| Amperes::from(100));
                if !there {
                    b.job.devices[device].closed = false;
                }
            }
            let end = b.joint(&format!("{name} supply end"), above, cable, there, from.span)?;
            (cable, Some((upstream, end)))
        }
        None => (above, None),
    };
    let carried = b.common(above, incoming);
    if carried != b.job.nodes[incoming].wires {
        let lacks: Vec<&str> = b.job.nodes[incoming]
            .wires
            .iter()
            .filter(|w| !carried.has(*w))
            .map(Wire::name)
            .collect();
        let why = format!("`{}` brings no {} to board `{name}`", from.value, lacks.join(", "));
        b.cx.fault(Fault::Lines { why }, from.span);
    }
    let tails = b.joint(&format!("{name} tails"), above, incoming, there, from.span)?;
    b.boards[id.index()].fed = Some(Fed { above, tails, supply_end });
    Some(())
}

fn link(b: &mut Build, row: &LinkRow, index: usize) -> Option<()> {
    let (name, from, to) = (row.name.as_ref()?, row.from.as_ref()?, row.to.as_ref()?);
    let (new, old) = (b.board(from)?, b.board(to)?);
    let roles = (b.boards[new.index()].role, b.boards[old.index()].role);
    if !matches!(roles, (BoardRole::NewBeside | BoardRole::NewSamePlace, BoardRole::Old)) {
        let why = format!("link `{}` leads from a new board to an old one", name.value);
        b.cx.fault(Fault::WrongPlace { why }, from.span);
        return None;
    }
    let (bus, old_bus) = (b.boards[new.index()].bus, b.boards[old.index()].bus);
    let wires = b.common(bus, old_bus);
    let cable = b.bar(&format!("{}.cable", name.value), wires, false, name.span)?;
    b.node_words.insert(cable, format!("cable of temporary link {}", name.value));
    let rating = Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(1)));
    let device = Device {
        lockable: b.or(
            &row.lockable,
            "the device of a temporary link can be locked open",
            "yes",
            true,
        ),
        overcurrent: true,
        closed: false,
        enclosure: Some(new),
        temporary: true,
        ..b.plain_device(bus, cable, rating)
    };
    let id = b.device(&name.value, device, name.span)?;
    b.device_words.insert(id, format!("device of temporary link {} in {}", name.value, from.value));
    let joint = b.joint(&format!("{} end", name.value), cable, old_bus, false, name.span)?;
    b.links.push((cable, joint, new, old, index));
    Some(())
}

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

/// Whether a new board gets the incoming cable of an old one.
pub(super) fn shares_feed(b: &Build, id: BoardId) -> bool {
    let Some(fed) = &b.boards[id.index()].fed else { return false };
    fed.supply_end.is_none()
        && b.boards.iter().any(|o| {
            o.role == BoardRole::Old && o.fed.as_ref().is_some_and(|f| f.above == fed.above)
        })
}

/// Whether the cable at `above` ends at a new board that comes beside an old one.
fn moves_beside(b: &Build, above: NodeId) -> bool {
    b.boards
        .iter()
        .any(|n| n.role == BoardRole::NewBeside && n.fed.as_ref().is_some_and(|f| f.above == above))
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

/// Work on terminations that the boards call for.
pub(super) fn tails(b: &mut Build) {
    let ids: Vec<BoardId> = b.job.boards.ids().collect();
    for &id in &ids {
        let made = b.boards[id.index()].clone();
        let Some(fed) = made.fed else { continue };
        let name = b.job.boards.name(id).to_string();
        let board = b.job.boards[id].clone();
        match made.role {
            BoardRole::Old => {
                let taken = moves_beside(b, fed.above);
                let (stage, position) = if taken {
                    (TailsStage::CutIn, board.incoming)
                } else {
                    (TailsStage::StripOut, board.ways)
                };
                push(
                    b,
                    format!("incoming tails off {name}"),
                    stage,
                    id,
                    position,
                    vec![fed.tails],
                    vec![],
                );
            }
            BoardRole::NewBeside | BoardRole::NewSamePlace => {
                let stage =
                    if shares_feed(b, id) { TailsStage::CutIn } else { TailsStage::Beforehand };
                let words = format!("incoming tails on {name}");
                push(b, words, stage, id, board.incoming, vec![], vec![fed.tails]);
                if let Some((upstream, joint)) = fed.supply_end {
                    let position = b.job.boards[upstream].ways;
                    let words = format!(
                        "supply end of the submain of {name}, at {}",
                        b.job.boards.name(upstream)
                    );
                    push(b, words, TailsStage::SupplyEnd, id, position, vec![], vec![joint]);
                }
            }
            BoardRole::Stays => {}
        }
    }
    for (_, joint, new, old, index) in b.links.clone() {
        let _ = new;
        let name = rows(&b.root.link).get(index).map_or(String::new(), |r| text(&r.name));
        let position = b.job.boards[old].ways;
        push(
            b,
            format!("temporary link {name} on"),
            TailsStage::LinkOn,
            old,
            position,
            vec![],
            vec![joint],
        );
        push(
            b,
            format!("temporary link {name} off"),
            TailsStage::LinkOff,
            old,
            position,
            vec![joint],
            vec![],
        );
    }
    super::refine::tails(b);
    // What else ends at an old board comes off with it.
    for &id in ids.iter().filter(|i| b.boards[i.index()].role == BoardRole::Old).collect::<Vec<_>>()
    {
        let board = b.job.boards[id].clone();
        let bare: Vec<NodeId> = [board.incoming, board.ways]
            .iter()
            .flat_map(|p| b.job.positions[*p].bare.clone())
            .collect();
        let loose: Vec<JointId> = b
            .job
            .joints
            .iter()
            .filter(|(j, joint)| {
                joint.made
                    && joint.of.is_none()
                    && (bare.contains(&joint.a) || bare.contains(&joint.b))
                    && joint.a != b.job.earth
                    && joint.b != b.job.earth
                    && !b.boards.iter().any(|m| {
                        m.fed.as_ref().is_some_and(|f| f.supply_end.is_some_and(|(_, e)| e == *j))
                    })
                    && !b.tails.iter().any(|t| t.breaks.contains(j))
            })
            .map(|(j, _)| j)
            .collect();
        if !loose.is_empty() {
            let words = format!("what else ends at {}", b.job.boards.name(id));
            push(b, words, TailsStage::StripOut, id, board.ways, loose, vec![]);
        }
    }
}

fn push(
    b: &mut Build,
    name: String,
    stage: TailsStage,
    board: BoardId,
    position: PositionId,
    breaks: Vec<JointId>,
    makes: Vec<JointId>,
) {
    let effort = b.tails_effort(stage, board);
    b.tails.push(Tails { name, stage, board, position, breaks, makes, effort });
}
