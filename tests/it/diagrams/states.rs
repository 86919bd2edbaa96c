//! What a drawing says, held against the replay at its minute.

use super::drawing::tags;
use std::collections::BTreeSet;
use wayover::model::*;
use wayover::units::Minutes;
use wayover::verify::{Charging, SoundPlan};

/// Every word of a drawing that the replay does not bear out, and everything that is missing.
pub fn lies(svg: &str, sound: &SoundPlan) -> Vec<String> {
    let (job, replay) = (sound.job(), sound.replay());
    let tags = tags(svg);
    let at = Minutes(tags[0].number("data-at").expect("a minute"));
    let until = Minutes(tags[0].number("data-until").expect("a minute"));
    let mut out = Vec::new();
    let live = |n: NodeId| !replay.live(n).at(at).is_empty();
    let secured = |n: NodeId| {
        let mut all = job.positions.iter().filter(|(_, p)| p.bare.contains(&n));
        all.any(|(id, _)| *replay.secured(id).at(at))
    };
    let state = |nodes: &[NodeId]| {
        if nodes.iter().any(|n| live(*n)) {
            "live"
        } else if nodes.iter().any(|n| secured(*n)) {
            "locked-off"
        } else {
            "dead"
        }
    };
    let mut says = |what: String, drawn: Option<&str>, true_: &str| {
        if drawn != Some(true_) {
            out.push(format!("at {}: {what} is drawn {drawn:?}, not {true_}", at.0));
        }
    };
    let mut locked = BTreeSet::new();
    let mut circuits = BTreeSet::new();
    let mut nodes = BTreeSet::new();
    for tag in &tags {
        if let Some(all) = tag.numbers("data-nodes") {
            let all: Vec<NodeId> = all.into_iter().map(NodeId::new).collect();
            nodes.extend(all.iter().copied());
            says(format!("net {all:?}"), tag.attr("data-state"), state(&all));
        }
        if let Some(source) = tag.numbers("data-source") {
            let n = NodeId::new(source[0]);
            says(format!("source {}", job.nodes.name(n)), tag.attr("data-state"), state(&[n]));
        }
        if let Some(device) = tag.numbers("data-device") {
            let d = DeviceId::new(device[0]);
            let now = replay.device(d).at(at);
            let stands = match (now.locks.len(), now.closed) {
                (0, true) => "closed",
                (0, false) => "open",
                _ => "locked",
            };
            let name = job.devices.name(d);
            says(format!("device {name}"), tag.attr("data-stands"), stands);
            let count = now.locks.len().to_string();
            says(format!("locks of {name}"), tag.attr("data-locks"), &count);
            if stands == "locked" {
                locked.insert(d);
            }
            for (t, _) in replay.device(d).changes() {
                let inside = at < t && t < until;
                says(
                    format!("stretch of {name}"),
                    Some(if inside { "cut" } else { "whole" }),
                    "whole",
                );
            }
        }
        if let Some(joint) = tag.numbers("data-joint") {
            let j = JointId::new(joint[0]);
            let made = if *replay.joint(j).at(at) { "made" } else { "apart" };
            says(format!("joint {}", job.joints.name(j)), tag.attr("data-stands"), made);
        }
        if let Some(position) = tag.numbers("data-position") {
            let p = PositionId::new(position[0]);
            let bare = &job.positions[p].bare;
            let is = if bare.iter().any(|n| live(*n)) {
                "live"
            } else if *replay.secured(p).at(at) {
                "locked-off"
            } else {
                "dead"
            };
            let name = job.positions.name(p);
            says(format!("position {name}"), tag.attr("data-state"), is);
            let proved = replay.proved(p).at(at).to_string();
            says(format!("proof of {name}"), tag.attr("data-proved"), &proved);
            says(
                format!("words of {name}"),
                Some(first_word(&tag.text).trim_end_matches(',')),
                match is {
                    "live" => "LIVE",
                    "dead" => "dead",
                    _ => "isolated",
                },
            );
        }
        if let (Some(of), Some(joints)) = (tag.numbers("data-circuits"), tag.numbers("data-joints"))
        {
            for (c, j) in of.iter().zip(joints) {
                let made = replay.joint(JointId::new(j)).at(at).to_string();
                circuits.insert(CircuitId::new(*c));
                says(format!("circuit {c}"), tag.attr("data-connected"), &made);
                let facts = &job.joints[JointId::new(j)];
                let own = &job.circuits[CircuitId::new(*c)].nodes;
                let way = if own.contains(&facts.a) { facts.b } else { facts.a };
                says(format!("way of circuit {c}"), tag.attr("data-state"), state(&[way]));
            }
            if tag.attr("data-stands") == Some("locked") {
                let ways = job.devices.ids().filter(|d| !replay.device(*d).at(at).locks.is_empty());
                locked.extend(ways.filter(|d| !job.devices[*d].temporary));
            }
        }
        if let Some(boards) = tag.attr("data-folded") {
            let boards = boards.split(' ').filter(|b| !b.is_empty());
            for b in boards.map(|b| BoardId::new(b.parse().expect("a number"))) {
                for what in busy(sound, b, (at, until)) {
                    says(format!("{what} of {}", job.boards.name(b)), Some("folded"), "told");
                }
            }
        }
        if let (Some(group), Some(does)) = (tag.numbers("data-group"), tag.attr("data-does")) {
            let g = GroupId::new(group[0]);
            let key = match replay.charging_at(g, at) {
                Some(Charging::Fed) | None => "fed",
                Some(Charging::Lit) => "battery",
                Some(Charging::AtRest) => "rest",
                Some(Charging::Tested) => "tested",
            };
            says(format!("group {}", job.groups.name(g)), Some(does), key);
        }
    }
    for d in job.devices.ids() {
        if !replay.device(d).at(at).locks.is_empty() && !locked.contains(&d) {
            out.push(format!("at {}: the lock on {} is not drawn", at.0, job.devices.name(d)));
        }
    }
    for (c, circuit) in job.circuits.iter() {
        let ways = job.joints.iter().any(|(_, j)| j.of.is_some_and(|(of, _)| of == c));
        if ways && !circuits.contains(&c) && circuit.left_off.is_none() {
            out.push(format!("at {}: circuit {} is not drawn", at.0, job.circuits.name(c)));
        }
    }
    for (n, node) in job.nodes.iter().filter(|(_, n)| n.source().is_some()) {
        let own = job.circuits.rows().iter().any(|c| c.nodes.contains(&n));
        if !own && !nodes.contains(&n) && !node.wires.is_empty() {
            out.push(format!("at {}: source {} is not drawn", at.0, job.nodes.name(n)));
        }
    }
    out
}

/// What happens on a board between two minutes, so that it is not idle.
fn busy(sound: &SoundPlan, b: BoardId, (from, to): (Minutes, Minutes)) -> Vec<&'static str> {
    let (job, replay) = (sound.job(), sound.replay());
    let within = |t: Minutes| from < t && t < to;
    let places = [job.boards[b].incoming, job.boards[b].ways];
    let mut out = Vec::new();
    for (d, device) in job.devices.iter().filter(|(_, d)| d.enclosure == Some(b)) {
        let track = replay.device(d);
        if !track.at(from).locks.is_empty() {
            out.push("a lock");
        }
        if track.changes().any(|(t, _)| within(t)) {
            out.push("switching");
        }
        let ends = [device.a, device.b];
        if ends.iter().any(|n| replay.live(*n).changes().any(|(t, _)| within(t))) {
            out.push("a change between live and dead");
        }
    }
    for p in places {
        if *replay.proved(p).at(from) || replay.proved(p).changes().any(|(t, _)| within(t)) {
            out.push("a proof");
        }
    }
    for (id, task) in sound.plan().tasks.iter() {
        let here = task.board == Some(b) || task.position.is_some_and(|p| places.contains(&p));
        let run = replay.task(id).filter(|_| here);
        if run.is_some_and(|r| r.start < to && r.end.is_none_or(|(end, _)| from < end)) {
            out.push("a task");
        }
    }
    out
}

/// The first word after the colon.
fn first_word(text: &str) -> &str {
    text.split(": ").nth(1).and_then(|t| t.split(' ').next()).unwrap_or("")
}
