//! Loads: what the circuits serve. Also surge protection and electronics.

use super::build::{Build, get, rows, text};
use super::circuits::joined;
use super::kinds::figure;
use crate::diag::Fault;
use crate::jobfile::schema::{CircuitRow, Importance, ImportanceRow, LoadRow, SurgeWord};
use crate::jobfile::value::At;
use crate::model::site::LoadLabel;
use crate::model::*;
use crate::units::{Exact, Minutes, Period, whole};
use std::collections::BTreeMap;

/// A load being gathered from the rows that name it.
struct Gathered<'a> {
    circuits: Vec<CircuitId>,
    areas: Vec<AreaId>,
    importance: Option<Importance>,
    first: &'a CircuitRow,
}

/// Makes the loads of the schedule, with what `[[load]]` says more.
pub(super) fn loads(b: &mut Build, all: &[CircuitRow]) {
    let more = rows(&b.root.load);
    for row in &more {
        if let Some(name) = &row.name {
            b.fresh("load", &name.value, name.span);
        }
    }
    let mut serves: BTreeMap<String, usize> = BTreeMap::new();
    for row in all {
        *serves.entry(text(&row.serves)).or_default() += 1;
    }
    let mut order: Vec<String> = Vec::new();
    let mut found: BTreeMap<String, Gathered> = BTreeMap::new();
    for row in all {
        let Some(id) = row.circuit.as_ref().and_then(|n| b.job.circuits.find(&n.value)) else {
            continue;
        };
        let areas = areas_of(b, row);
        let Some(name) = load_name(row, &serves) else { continue };
        let entry = found.entry(name.clone()).or_insert_with(|| {
            order.push(name);
            Gathered { circuits: Vec::new(), areas: Vec::new(), importance: None, first: row }
        });
        entry.circuits.push(id);
        entry.areas.extend(areas);
        // The most important of its circuits counts; the words stand most important first.
        if let Some(word) = &row.importance {
            entry.importance = Some(entry.importance.map_or(word.value, |i| i.min(word.value)));
        }
    }
    for row in &more {
        let Some(name) = &row.name else { continue };
        if !found.contains_key(&name.value) {
            b.cx.unknown("load", name, order.iter().map(String::as_str));
        }
    }
    let weights = get(&b.root.importance).unwrap_or_default();
    for name in order {
        let gathered = &found[&name];
        let row = more.iter().find(|r| r.name.as_ref().is_some_and(|n| n.value == name));
        load(b, &name, gathered, row, &weights);
    }
}

/// The load that a row names, or one of its own. What only feeds emergency luminaires, and a
/// circuit that is removed, stays off or was found off (it serves nobody who would miss it), is no
/// load unless it names one.
fn load_name(row: &CircuitRow, serves: &BTreeMap<String, usize>) -> Option<String> {
    if let Some(load) = &row.load {
        return Some(load.value.clone());
    }
    let roles = rows(&row.emergency);
    let only_feeds = !roles.is_empty() && roles.iter().all(|r| r.value.ends_with(" feed"));
    let ended = row.new.as_ref().is_some_and(|n| {
        ["removed", "left off", "found off"].contains(&n.value.to_lowercase().as_str())
    });
    let found_off =
        row.found.as_ref().is_some_and(|f| f.value == crate::jobfile::schema::OnOff::Off);
    if only_feeds || ended || found_off {
        return None;
    }
    let own = text(&row.serves);
    let alone = serves.get(&own).is_some_and(|n| *n == 1);
    Some(if alone { own } else { format!("{own} ({})", text(&row.circuit)) })
}

/// The areas of a circuit; the only one there is where none is named.
pub(super) fn areas_of(b: &mut Build, row: &CircuitRow) -> Vec<AreaId> {
    if let Some(list) = &row.area {
        return list.value.iter().filter_map(|a| b.area(a)).collect();
    }
    if b.job.areas.len() == 1 {
        return b.job.areas.ids().collect();
    }
    let table = "circuit".to_string();
    let about = "the areas that it serves, for there are several".to_string();
    let fault = Fault::MissingKey { key: "area".to_string(), table, about };
    b.cx.fault(fault, row.circuit.as_ref().map_or(row.span, |c| c.span));
    Vec::new()
}

fn weight(b: &mut Build, importance: Importance, table: &ImportanceRow) -> Exact {
    let (stated, default) = match importance {
        Importance::LifeSafety => (&table.life_safety, 50),
        Importance::Critical => (&table.critical, 20),
        Importance::High => (&table.high, 5),
        Importance::Normal => (&table.normal, 2),
        Importance::Low => (&table.low, 1),
    };
    figure(stated).unwrap_or_else(|| {
        b.default(format!("weight of importance `{}`", importance.word()), default.to_string());
        whole(default)
    })
}

fn load(b: &mut Build, name: &str, found: &Gathered, row: Option<&LoadRow>, table: &ImportanceRow) {
    let blank = LoadRow::default();
    let row = row.unwrap_or(&blank);
    let importance = get(&row.importance).or(found.importance).unwrap_or_else(|| {
        b.default("importance of a load", "normal");
        Importance::Normal
    });
    let weight = figure(&row.weight).unwrap_or_else(|| weight(b, importance, table));
    if weight <= whole(0) {
        let fault = Fault::Value { want: "a weight above 0".to_string(), found: "0".to_string() };
        b.cx.fault(fault, row.weight.as_ref().map_or(found.first.span, |w| w.span));
    }
    let mut areas: Vec<AreaId> = match &row.areas {
        Some(list) => list.value.iter().filter_map(|a| b.area(a)).collect(),
        None => found.areas.clone(),
    };
    areas.sort();
    areas.dedup();
    let except: Vec<_> = rows(&row.not_needed).iter().map(|d| d.0).collect();
    let needed = match &row.needed {
        Some(rules) => b.periods(&rules.value, &except),
        None => {
            b.default("when a load is needed", "while its areas are occupied");
            let all: Vec<Period> =
                areas.iter().flat_map(|a| b.job.areas[*a].occupied.clone()).collect();
            Period::merged(all)
        }
    };
    let mins = |value: &Option<At<crate::jobfile::value::Mins>>| {
        value.as_ref().map(|m| Minutes(m.value.0))
    };
    let life_safety = importance == Importance::LifeSafety;
    let any_order = get(&row.any_order).unwrap_or(false);
    order_of_lines(b, found, any_order);
    let needs = row.needs.as_ref().and_then(|n| usize::try_from(n.value.0).ok());
    if needs.is_some_and(|n| n > found.circuits.len()) {
        let fault = Fault::Value {
            want: format!("at most its {} circuits", found.circuits.len()),
            found: needs.unwrap_or(0).to_string(),
        };
        b.cx.fault(fault, row.needs.as_ref().map_or(row.span, |n| n.span));
    }
    let load = Load {
        circuits: found.circuits.clone(),
        needs,
        areas,
        weight,
        needed,
        ride_through: mins(&row.hold_up_min).unwrap_or(Minutes(0)),
        ride_recharge: mins(&row.hold_up_recharge_min),
        max_single: mins(&row.longest_outage_min),
        max_total: mins(&row.total_outage_min),
        life_safety,
        measure: get(&row.measure),
        may_stay_out: get(&row.may_stay_out).unwrap_or(false),
        any_order,
    };
    b.job.loads.add(name, load);
    b.site
        .loads
        .push(LoadLabel { importance: importance.word().to_string(), notice: text(&row.notice) });
}

/// A three-phase circuit whose lines change their order needs a load that allows it.
fn order_of_lines(b: &mut Build, found: &Gathered, any_order: bool) {
    for id in &found.circuits {
        let changed = b.job.joints.rows().iter().any(|j| {
            matches!(j.of, Some((c, Place::New)) if c == *id)
                && j.wires.changes_lines()
                && j.wires.at_a().iter().filter(|w| w.is_line()).count() == 3
        });
        if changed && !any_order {
            let why = format!(
                "circuit `{}` changes the order of {} for a load that does not allow it",
                b.job.circuits.name(*id),
                joined(&Wire::LINES)
            );
            let hint = "keep the order, or state `any_order = true` for its load";
            b.cx.hinted(Fault::Lines { why }, found.first.span, hint);
        }
    }
}

/// Surge protection of the boards, and what `[[surge]]` adds.
pub(super) fn surge(b: &mut Build) {
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        let row = b.board_row(id);
        let Some(name) = &row.surge_protection else { continue };
        let made = b.boards[id.index()].clone();
        let fitted = matches!(made.role, BoardRole::Old | BoardRole::Stays);
        if b.fresh("surge protection", &name.value, name.span) {
            let surge =
                Surge { board: Some(id), node: made.bus, kind: SurgeKind::Cartridge, fitted };
            b.job.surges.add(name.value.clone(), surge);
        }
    }
    for row in rows(&b.root.surge) {
        let (Some(name), Some(kind)) = (&row.name, &row.kind) else { continue };
        let board = row.board.as_ref().and_then(|n| b.board(n));
        let circuit = row.circuit.as_ref().and_then(|n| b.circuit(n));
        let node = row.node.as_ref().and_then(|n| b.end(n));
        let node = node
            .or_else(|| circuit.map(|c| b.job.circuits[c].nodes[0]))
            .or_else(|| board.map(|x| b.boards[x.index()].bus));
        let Some(node) = node else {
            if row.node.is_none() && row.circuit.is_none() && row.board.is_none() {
                let about = "`circuit`, `board` or `node`: what it hangs on".to_string();
                let (key, table) = ("circuit".to_string(), "[[surge]]".to_string());
                b.cx.fault(Fault::MissingKey { key, table, about }, row.span);
            }
            continue;
        };
        let kind = match kind.value {
            SurgeWord::Cartridge => SurgeKind::Cartridge,
            SurgeWord::Electronics => SurgeKind::Electronics,
        };
        let new = board.is_some_and(|x| {
            matches!(b.boards[x.index()].role, BoardRole::NewBeside | BoardRole::NewSamePlace)
        });
        let fitted = get(&row.fitted).unwrap_or(!new);
        if b.fresh("surge protection", &name.value, name.span) {
            b.job.surges.add(name.value.clone(), Surge { board, node, kind, fitted });
        }
    }
}
