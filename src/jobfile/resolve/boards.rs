//! Boards: busbars, main switch, supply and links.

use super::build::{BoardMade, Build, Fed, get, rows};
use super::kinds::{figure, fit, lines};
use crate::diag::Fault;
use crate::jobfile::schema::{BoardRow, DeviceKind, LinkRow, Role, Where};
use crate::model::*;
use crate::units::{Amperes, whole};

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
    b.node_words.insert(cable, format!("cable of {}", temporary_link(&name.value)));
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
    b.device_words
        .insert(id, format!("device of {} in {}", temporary_link(&name.value), from.value));
    let joint = b.joint(&format!("{} end", name.value), cable, old_bus, false, name.span)?;
    b.links.push((cable, joint, new, old, index));
    Some(())
}

/// What a temporary link is called on paper: the word once, whether or not its name has it.
pub(super) fn temporary_link(name: &str) -> String {
    let has_it = name.split_whitespace().next().is_some_and(|w| w.eq_ignore_ascii_case("link"));
    if has_it { format!("temporary {name}") } else { format!("temporary link {name}") }
}
