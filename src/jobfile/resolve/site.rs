//! What is only printed.

use super::build::{Build, get, rows, text};
use super::circuits::joined;
use super::kinds::{figure, spelled};
use crate::jobfile::files::inside;
use crate::jobfile::schema::{
    CircuitRow, Figure, Identified, Length, OnOff, Profile, Role, Wiring,
};
use crate::model::site::{
    Access, BoardLabel, CircuitLabel, Contact, Defect, IdentifiedBy, LineUse, Material, Paper,
    Revision, Risk, WayLabel,
};
use crate::model::*;
use crate::units::plain;

/// Fills everything that is only printed.
pub(super) fn site(b: &mut Build, all: &[CircuitRow]) {
    paper(b);
    b.site.profile = match b.frame.profile {
        Profile::Uk => "TN, as usual in the United Kingdom; neutral declared reliably earthed by the distributor".to_string(),
        Profile::Iec => "TN; neutral treated like a line unless declared earthed".to_string(),
    };
    b.site.figure = match b.frame.figure {
        Figure::Mean => {
            "(at best + 4 × usual + at worst) ÷ 6, rounded up to a full minute".to_string()
        }
        Figure::Likely => "the usual duration".to_string(),
        Figure::Percentile => format!("met with a chance of {} %", b.frame.percentile),
    };
    for id in b.job.circuits.ids().collect::<Vec<_>>() {
        let label = circuit(b, id, all);
        b.site.circuits.push(label);
    }
    for id in b.job.boards.ids().collect::<Vec<_>>() {
        let label = board(b, id);
        b.site.boards.push(label);
    }
    b.site.nodes = b.job.nodes.ids().map(|n| word(&b.node_words, n, b.job.nodes.name(n))).collect();
    b.site.devices =
        b.job.devices.ids().map(|d| word(&b.device_words, d, b.job.devices.name(d))).collect();
    b.site.positions = b
        .job
        .positions
        .ids()
        .map(|p| word(&b.position_words, p, b.job.positions.name(p)))
        .collect();
    for row in rows(&b.root.contact) {
        let Some(name) = &row.name else { continue };
        b.site.contacts.push(Contact {
            name: name.value.clone(),
            role: text(&row.role),
            phone: text(&row.phone),
        });
    }
    for row in rows(&b.root.access) {
        b.site.access.push(Access {
            what: text(&row.what),
            holder: text(&row.holder),
            how: text(&row.how),
        });
    }
    for row in rows(&b.root.material) {
        let delivery = b.delivery(&row.delivery);
        let number = row.number.as_ref().map_or(1, |n| n.value.0);
        b.site.materials.push(Material {
            what: text(&row.what),
            number,
            unit: text(&row.unit),
            delivery,
        });
    }
    for row in rows(&b.root.risk) {
        let (hazard, control) = (text(&row.hazard), text(&row.control));
        let (who, owner) = (text(&row.who), text(&row.owner));
        b.site.risks.push(Risk { hazard, who, control, owner });
    }
    for row in rows(&b.root.defect) {
        let (what, at, action) = (text(&row.what), text(&row.at), text(&row.action));
        b.site.defects.push(Defect { what, at, action });
    }
}

fn word<K: Ord>(words: &std::collections::BTreeMap<K, String>, id: K, name: &str) -> String {
    words.get(&id).cloned().unwrap_or_else(|| name.to_string())
}

fn paper(b: &mut Build) {
    let row = get(&b.root.paper).unwrap_or_default();
    let logo = row.logo.as_ref().and_then(|name| {
        let path = inside(&b.folder.clone(), name, &mut b.cx)?;
        if !path.is_file() {
            let fault = crate::diag::Fault::FileMissing {
                file: name.value.clone(),
                why: "there is no such file".to_string(),
            };
            b.cx.fault(fault, name.span);
        }
        Some(path)
    });
    let revisions = rows(&row.revision)
        .iter()
        .map(|r| Revision {
            mark: text(&r.mark),
            on: get(&r.on).map_or(String::new(), |d| d.0.to_string()),
            what: text(&r.what),
            by: text(&r.by),
        })
        .collect();
    b.site.paper = Paper {
        place: text(&row.place),
        client: text(&row.client),
        company: text(&row.company),
        logo,
        number: text(&row.number),
        author: text(&row.author),
        approver: text(&row.approver),
        revisions,
        emergency_number: text(&row.emergency_number),
        first_aid: text(&row.first_aid),
        scope: text(&row.scope),
    };
}

fn circuit(b: &mut Build, id: CircuitId, all: &[CircuitRow]) -> CircuitLabel {
    let number = b.job.circuits.name(id).to_string();
    let blank = CircuitRow::default();
    let row = all.iter().find(|r| text(&r.circuit) == number).unwrap_or(&blank);
    let (old, new) = (way(b, id, Place::Old), way(b, id, Place::New));
    let device = |label: &Option<WayLabel>| {
        let found = label.as_ref().and_then(|l| b.job.devices.find(&l.reference));
        found.map(|d| b.job.devices[d].clone())
    };
    let there = device(&new).or_else(|| device(&old));
    let words = |written: String, device: &Option<Device>| match (written.is_empty(), device) {
        (true, Some(d)) => format!("{} A", plain(&d.rating.0)),
        _ => written,
    };
    let importance = b
        .job
        .loads
        .iter()
        .find(|(_, l)| l.circuits.contains(&id))
        .map(|(l, _)| b.site.loads[l.index()].importance.clone());
    CircuitLabel {
        number,
        serves: text(&row.serves),
        cable: spelled(&text(&row.cable)),
        length: figure(&row.length_m).map_or(String::new(), |m| format!("{} m", plain(&m))),
        device: words(spelled(&text(&row.device)), &device(&new)),
        old_device: words(spelled(&text(&row.old_device)), &device(&old)),
        rating: there.as_ref().map(|d| d.rating.0.clone()),
        rcd_ma: there.and_then(|d| d.rcd_ma),
        old,
        new,
        ring: get(&row.wiring) == Some(Wiring::Ring),
        importance: importance.unwrap_or_default(),
        identified: match get(&row.identified) {
            Some(Identified::Traced) => IdentifiedBy::Traced,
            Some(Identified::Chart) => IdentifiedBy::ChartOnly,
            _ => IdentifiedBy::Unknown,
        },
        found_on: get(&row.found) != Some(OnOff::Off),
        short: get(&row.length_left) == Some(Length::Short),
        entry: text(&row.entry),
        fallback: text(&row.fallback),
        decides: text(&row.decides),
        terminal: text(&row.terminal),
        defects: text(&row.defects),
        remarks: text(&row.remarks),
    }
}

fn way(b: &Build, id: CircuitId, place: Place) -> Option<WayLabel> {
    let joint = b.job.joints.rows().iter().find(|j| j.of == Some((id, place)))?;
    let made = b.ways.values().find(|w| w.node == joint.a)?;
    let lines: Vec<Wire> = joint.wires.at_a().iter().filter(|w| w.is_line()).collect();
    Some(WayLabel {
        board: made.board,
        way: made.number,
        lines: joined(&lines),
        reference: b.job.nodes.name(joint.a).to_string(),
    })
}

fn board(b: &mut Build, id: BoardId) -> BoardLabel {
    let row = b.board_row(id);
    let made = b.boards[id.index()].clone();
    let mut used = [LineUse::default(); 3];
    for way in b.ways.values().filter(|w| w.board == id) {
        for (i, line) in Wire::LINES.into_iter().enumerate() {
            let on = |place: Place| {
                b.job.joints.rows().iter().any(|j| {
                    j.a == way.node
                        && j.wires.at_a().has(line)
                        && j.of.is_some_and(|(_, p)| p == place)
                })
            };
            let feeds = way.circuits.is_empty() && b.job.nodes[way.node].wires.has(line);
            let stays = made.role == BoardRole::Stays;
            used[i].before += i64::from(on(Place::Old) || feeds);
            used[i].after += i64::from(on(Place::New) || feeds || (stays && on(Place::Old)));
        }
    }
    BoardLabel {
        ways: made.ways,
        outlets: if made.phases == 3 { made.ways * 3 } else { made.ways },
        three_phase: made.phases == 3,
        place: text(&row.at),
        fed_from: text(&row.fed_from),
        role: match get(&row.role) {
            Some(Role::Old) => "OLD",
            Some(Role::New) => "NEW",
            _ => "STAYS",
        },
        used,
    }
}
