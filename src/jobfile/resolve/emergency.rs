//! Emergency groups, from the schedule's column and their figures, and contactors.

use super::build::{Build, get, rows, text};
use super::circuits::group_of;
use super::loads::areas_of;
use super::supply::described;
use crate::diag::{Fault, Span};
use crate::jobfile::schema::{CircuitRow, GroupRow};
use crate::jobfile::value::At;
use crate::model::site::GroupLabel;
use crate::model::*;
use crate::units::{Amperes, Exact, Minutes, whole};
use std::collections::BTreeMap;

/// Who feeds a group, and which lighting it watches.
#[derive(Default)]
struct Roles {
    feed: Option<(CircuitId, At<String>)>,
    watched: Option<(CircuitId, At<String>)>,
}

/// Makes the emergency groups.
pub(super) fn groups(b: &mut Build, all: &[CircuitRow]) {
    let mut roles: BTreeMap<String, Roles> = BTreeMap::new();
    let known: Vec<At<String>> =
        rows(&b.root.emergency_group).iter().filter_map(|r| r.name.clone()).collect();
    let mut lit: Vec<(CircuitId, Vec<AreaId>)> = Vec::new();
    for row in all {
        let Some(id) = row.circuit.as_ref().and_then(|n| b.job.circuits.find(&n.value)) else {
            continue;
        };
        let mut lights = get(&row.lights).unwrap_or(false);
        for entry in rows(&row.emergency) {
            let name = group_of(&entry.value).to_string();
            if !known.iter().any(|k| k.value == name) {
                let at = At { value: name, span: entry.span };
                b.cx.unknown("emergency group", &at, known.iter().map(|k| k.value.as_str()));
                continue;
            }
            let role = roles.entry(name.clone()).or_default();
            let both = !entry.value.ends_with(" feed") && !entry.value.ends_with(" lighting");
            for (wanted, slot, what) in
                [(" feed", &mut role.feed, "feed"), (" lighting", &mut role.watched, "lighting")]
            {
                if !(both || entry.value.ends_with(wanted)) {
                    continue;
                }
                if let Some((_, first)) = slot {
                    let why = format!("emergency group `{name}` has two circuits as its {what}");
                    let first = first.span;
                    b.cx.tell(
                        Fault::Conflict { why },
                        entry.span,
                        Some((first, "the other")),
                        None,
                    );
                } else {
                    *slot = Some((id, entry.clone()));
                }
            }
            lights |= both || entry.value.ends_with(" lighting");
        }
        if lights {
            let areas = areas_of(b, row);
            for area in &areas {
                let lighting = &mut b.job.areas[*area].lighting;
                if !lighting.contains(&id) {
                    lighting.push(id);
                }
            }
            lit.push((id, areas));
        }
    }
    for row in rows(&b.root.emergency_group) {
        let Some(name) = &row.name else { continue };
        if !b.fresh("emergency group", &name.value, name.span) {
            continue;
        }
        let role = roles.remove(&name.value).unwrap_or_default();
        for (found, missing) in [(&role.feed, "feed"), (&role.watched, "lighting")] {
            if found.is_none() {
                let hint = format!(
                    "write `{0}`, `{0} feed` or `{0} lighting` in the column `emergency`",
                    name.value
                );
                b.cx.hinted(
                    Fault::EmergencyIncomplete { group: name.value.clone(), missing },
                    name.span,
                    hint,
                );
            }
        }
        if let (Some(feed), Some(watched)) = (role.feed, role.watched) {
            group(b, &row, name, &feed, &watched, &lit);
        }
    }
    unwatched(b, &lit);
}

fn group(
    b: &mut Build,
    row: &GroupRow,
    name: &At<String>,
    feed: &(CircuitId, At<String>),
    watched: &(CircuitId, At<String>),
    lit: &[(CircuitId, Vec<AreaId>)],
) {
    let old_state = get(&row.old_state);
    let pair = Pair {
        group: &name.value,
        part: "its feed",
        circuit: feed.0,
        at: feed.1.span,
        lighting: watched.0,
        other: watched.1.span,
    };
    one_device(b, &pair, old_state.is_some());
    let areas: Vec<AreaId> = match &row.areas {
        Some(list) => list.value.iter().filter_map(|a| b.area(a)).collect(),
        None => lit.iter().find(|(c, _)| *c == watched.0).map_or(Vec::new(), |(_, a)| a.clone()),
    };
    let rated = row.rated_min.as_ref().map_or(0, |m| m.value.0);
    let recharge = match &row.recharge_min {
        Some(m) => m.value.0,
        None => {
            b.default("recharge of an emergency group", "24 h");
            1440
        }
    };
    if rated == 0 || recharge == 0 {
        let fault =
            Fault::Value { want: "more than 0 minutes".to_string(), found: "0".to_string() };
        b.cx.fault(fault, row.rated_min.as_ref().map_or(row.span, |m| m.span));
    }
    let relays: Vec<CircuitId> = rows(&row.relays).iter().filter_map(|c| b.circuit(c)).collect();
    let charge = charge(b, row, rated);
    let group = Group {
        areas,
        watches: watched.0,
        relays,
        feed: feed.0,
        maintained: get(&row.maintained).unwrap_or(false),
        rated: Minutes(rated),
        recharge: Minutes(recharge.max(1)),
        charge,
        rest_mode: b.or(&row.rest_mode, "an emergency group has a rest mode", "no", false),
        old_state_exempt: old_state,
    };
    b.job.groups.add(name.value.clone(), group);
    let key_switch = described(&text(&row.key_switch), &text(&row.key_switch_at));
    b.site.groups.push(GroupLabel {
        key_switch,
        luminaires: row.luminaires.as_ref().map(|n| n.value.0),
        full_test: get(&row.full_test).map_or(String::new(), |d| d.0.to_string()),
    });
    if let Some(switch) = &row.key_switch {
        behind(b, feed.0, switch, "luminaires", None);
    }
}

/// Two circuits of a group that have to be behind one device.
struct Pair<'a> {
    group: &'a str,
    /// What the first is for the group.
    part: &'a str,
    circuit: CircuitId,
    at: Span,
    lighting: CircuitId,
    other: Span,
}

/// A feed or a contactor's coil shares the way of the lighting, in the new state always, and in
/// the old one unless the job says why not.
fn one_device(b: &mut Build, pair: &Pair, exempt: bool) {
    for place in [Place::New, Place::Old] {
        let ways = [pair.circuit, pair.lighting].map(|c| way_of(b, c, place));
        if ways[0] == ways[1] || (place == Place::Old && exempt) {
            continue;
        }
        // A circuit without a new way ends on its old one.
        let shown = [pair.circuit, pair.lighting].map(|c| {
            let node = way_of(b, c, place).or_else(|| way_of(b, c, Place::Old));
            let way = node.map_or("no way".to_string(), |n| b.job.nodes.name(n).to_string());
            (b.job.circuits.name(c).to_string(), way)
        });
        let [f, w] = shown;
        if place == Place::New {
            let board = |way: &str| way.split('/').next().unwrap_or_default().to_string();
            let why = if board(&f.1) == board(&w.1) {
                ""
            } else {
                "; a feed from another board or a central battery system is refused, sensing \
                 relay or not: both have to go out with one device (rule E1), and a relay stands \
                 in only for a contactor's coil or a further lighting circuit"
            };
            let hint = format!("give `{}` and `{}` the same new way{why}", f.0, w.0);
            let fault = Fault::EmergencySplit {
                group: pair.group.to_string(),
                part: pair.part.to_string(),
                feed: f,
                watched: w,
            };
            b.cx.tell(fault, pair.at, Some((pair.other, "the lighting")), Some(hint));
        } else {
            let what = format!(
                "the old state of emergency group `{}`, {} on `{}` while its lighting is on `{}`,",
                pair.group, pair.part, f.1, w.1
            );
            let hint = "if the survey found it so, say why in `old_state` of the group".to_string();
            let also = Some((pair.other, "the lighting"));
            b.cx.tell(Fault::ReasonMissing { what }, pair.at, also, Some(hint));
        }
    }
}

/// Autonomy at the start: as stated; rated where the last full test is within 12 months; half.
fn charge(b: &mut Build, row: &GroupRow, rated: i64) -> Exact {
    if let Some(stated) = &row.charge_min {
        if stated.value.0 > rated {
            let want = format!("at most its rated {rated} minutes");
            b.cx.fault(Fault::Value { want, found: stated.value.0.to_string() }, stated.span);
        }
        return whole(stated.value.0);
    }
    let start = b.frame.zone.date(b.frame.span.from);
    let year_ago = start.checked_sub(jiff::Span::new().years(1)).unwrap_or(start);
    let tested = get(&row.full_test).is_some_and(|d| d.0 >= year_ago && d.0 <= start);
    if tested {
        return whole(rated);
    }
    b.default(
        "charge of an emergency group without a full test within 12 months",
        "half its rated duration",
    );
    Exact::new(rated.into(), 2.into())
}

fn way_of(b: &Build, circuit: CircuitId, place: Place) -> Option<NodeId> {
    b.job.joints.rows().iter().find(|j| j.of == Some((circuit, place))).map(|j| j.a)
}

/// Lighting of an area with emergency groups, watched by none and covered by no relay.
fn unwatched(b: &mut Build, lit: &[(CircuitId, Vec<AreaId>)]) {
    for (circuit, areas) in lit {
        for area in areas {
            let here: Vec<&Group> =
                b.job.groups.rows().iter().filter(|g| g.areas.contains(area)).collect();
            let watched = here.iter().any(|g| g.watches == *circuit || g.relays.contains(circuit));
            if !here.is_empty() && !watched {
                let fault = Fault::LightingUnwatched {
                    circuit: b.job.circuits.name(*circuit).to_string(),
                    area: b.job.areas.name(*area).to_string(),
                };
                b.cx.fault(fault, b.root.emergency_group.as_ref().map_or(b.root.span, |g| g.span));
            }
        }
    }
}

/// Contactors: what a circuit serves lies behind one, which closes while its coil is live.
pub(super) fn contactors(b: &mut Build) {
    for row in rows(&b.root.contactor) {
        let (Some(name), Some(circuit), Some(coil)) = (&row.name, &row.circuit, &row.coil) else {
            continue;
        };
        let (at, other) = (coil.span, circuit.span);
        let (Some(circuit), Some(coil)) = (b.circuit(circuit), b.circuit(coil)) else { continue };
        // Its coil dead, the lamps are out while the lighting circuit is live: the coil is watched
        // too, unless a declared sensing relay covers it.
        for (id, group) in b.job.groups.clone().iter().filter(|(_, g)| g.watches == circuit) {
            if group.relays.contains(&circuit) || group.relays.contains(&coil) {
                continue;
            }
            let group_name = b.job.groups.name(id).to_string();
            let pair = Pair {
                group: &group_name,
                part: &format!("the coil of contactor `{}`", name.value),
                circuit: coil,
                at,
                lighting: circuit,
                other,
            };
            one_device(b, &pair, group.old_state_exempt.is_some());
        }
        let coil = b.job.circuits[coil].nodes[0];
        if let Some(device) = behind(b, circuit, name, "lamps", Some(coil)) {
            b.device_words
                .insert(device, format!("contactor {}", described(&name.value, &text(&row.at))));
        }
    }
}

/// Puts a switch or contactor between a circuit's cable and what it serves.
fn behind(
    b: &mut Build,
    circuit: CircuitId,
    name: &At<String>,
    what: &str,
    coil: Option<NodeId>,
) -> Option<DeviceId> {
    let near = b.job.circuits[circuit].nodes[0];
    let wires = b.job.nodes[near].wires;
    let number = b.job.circuits.name(circuit).to_string();
    let node = Node { kind: NodeKind::Load, wires, neutral_bar: false };
    let far = b.node(&format!("{number}.{what} behind {}", name.value), node, name.span)?;
    b.node_words.insert(far, format!("{what} of {number}, behind {}", name.value));
    let carried = b.common(near, far);
    let device = Device {
        breaks: carried.iter().filter(|w| w.is_line()).collect(),
        isolates: false,
        self_acting: coil.map(|node| SelfActing { node, closed_while_live: true }),
        ..b.plain_device(near, far, Amperes::from(100))
    };
    let device = b.device(&name.value, device, name.span)?;
    b.device_words.insert(device, format!("test key switch {}", name.value));
    b.job.circuits[circuit].nodes.push(far);
    Some(device)
}
