//! Hazards of this job, each with what is done about it.

use crate::document::Input;
use crate::document::name;
use crate::document::shrouds;
use crate::model::*;
use crate::plan::Act;
use crate::units::Period;

/// Hazard and control, worst first.
pub fn hazards(input: &Input) -> Vec<[String; 2]> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out: Vec<[String; 2]> = Vec::new();
    let mut add = |hazard: &str, control: String| out.push([hazard.to_owned(), control]);
    add(
        "Electric shock and arc at the boards",
        "Isolated and locked off at every point of the lock-off checklist; proved dead at the point of work; \
         no live work but the live tests, with covers on or shrouds in place."
            .to_owned(),
    );
    let names = |nodes: Vec<NodeId>| {
        let all: Vec<String> = nodes.into_iter().map(|n| name::node(input, n)).collect();
        name::list(&all)
    };
    let self_starting: Vec<NodeId> = job
        .nodes
        .iter()
        .filter(|(_, n)| n.source().is_some_and(|s| s.watches.is_some()))
        .map(|(id, _)| id)
        .collect();
    if !self_starting.is_empty() {
        add(
            "A source that starts by itself when its mains fails",
            format!(
                "{}: treated as live at all times; its way to the work is locked off.",
                names(self_starting)
            ),
        );
    }
    let sources: Vec<NodeId> =
        job.nodes.iter().filter(|(_, n)| n.source().is_some()).map(|(i, _)| i).collect();
    if sources.len() > 1 {
        add(
            "More than one source",
            format!("Known sources: {}. Prove at each point against all.", names(sources)),
        );
    }
    let mut fed: Vec<NodeId> =
        job.positions.rows().iter().flat_map(|p| p.other_fed.iter().copied()).collect();
    fed.sort_unstable();
    fed.dedup();
    if !fed.is_empty() {
        add(
            "Conductors fed from elsewhere, which stay live in the enclosure",
            format!("{}: marked, shrouded, and named on the checklist at every step.", names(fed)),
        );
    }
    let shrouded = shrouded(input);
    if !shrouded.is_empty() {
        add(
            "Conductors and terminals that stay live behind a shroud, beside dead work",
            format!(
                "{}: named at every step while they are live; the shroud is looked at before work begins and \
                 stays on.",
                name::list(&shrouded.iter().map(|n| shrouds::name(input, *n)).collect::<Vec<_>>())
            ),
        );
    }
    for group in &job.neutral_groups {
        let all: Vec<String> = group.iter().map(|c| name::circuit_text(input, *c)).collect();
        add(
            "Shared neutral",
            format!(
                "{}: isolated together; the neutral is clamped and is not opened while any of them carries current.",
                name::list(&all)
            ),
        );
    }
    if job.circuits.len() > 1 {
        add(
            "A circuit that is not the one it is taken for, or is fed back from another",
            "Each circuit's own terminals are proved and its neutral clamped before it is disconnected.".to_owned(),
        );
    }
    let discharge: Vec<i64> =
        job.positions.rows().iter().map(|p| p.discharge.0).filter(|m| *m > 0).collect();
    if let Some(longest) = discharge.iter().max() {
        add(
            "Stored charge",
            format!("Wait after the last point is opened, up to {longest} min, then prove."),
        );
    }
    if !job.supplies.is_empty() {
        add(
            "Temporary supplies: a live lead beside dead work",
            "Leads routed clear and marked; isolated, locked off and proved before circuits are put on or taken off; \
             figures under Temporary supplies."
                .to_owned(),
        );
    }
    if !job.groups.is_empty() {
        add(
            "People in the dark",
            "Emergency lighting as printed under its heading; task lighting for the team; nobody enters an area \
             whose lighting is off without a lamp."
                .to_owned(),
        );
    }
    let life: Vec<String> = job
        .loads
        .iter()
        .filter(|(_, l)| l.life_safety)
        .map(|(id, l)| match &l.measure {
            Some(m) => format!("{} ({m})", job.loads.name(id)),
            None => format!("{} (kept in service)", job.loads.name(id)),
        })
        .collect();
    if !life.is_empty() {
        add("Life-safety systems", name::list(&life));
    }
    if !job.surges.is_empty() {
        let mut moved: Vec<String> = Vec::new();
        for e in &plan.events {
            if let Act::Surge(_, s, _) = e.act {
                let text = job.surges.name(s).to_owned();
                if !moved.contains(&text) {
                    moved.push(text);
                }
            }
        }
        let which =
            if moved.is_empty() { String::new() } else { format!(": {}", name::list(&moved)) };
        add(
            "Insulation tests damage electronics",
            format!("Cartridges and listed electronics out before the test{which}."),
        );
    }
    add(
        "Tired people",
        format!(
            "No stretch longer than {} without a break of {}.",
            name::minutes(job.policy.longest_stretch),
            name::minutes(job.policy.break_length)
        ),
    );
    match &job.policy.alone {
        Some(why) => add("Working alone", format!("Allowed here: {why}.")),
        None => add("Working alone", "Nobody lays conductors open alone on site.".to_owned()),
    }
    add(
        "An interrupted job",
        format!(
            "After {} with nobody at work a proof is void: prove again before touching.",
            name::minutes(job.policy.proof_life)
        ),
    );
    add(
        "The public and other trades at the board",
        format!(
            "Barriers and a notice; open boards are never left; covers on before anybody leaves.{}",
            uncovered(input)
        ),
    );
    out
}

/// What the plan has live behind a shroud while dead work goes on beside it, leads left out.
fn shrouded(input: &Input) -> Vec<NodeId> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out: Vec<NodeId> = plan.claims.still_live.values().flatten().copied().collect();
    for (id, task) in plan.tasks.iter() {
        let run = input.sound.replay().task(id).and_then(|r| Some((r.start, r.end?.0)));
        let dead = task.kind.mode() == Mode::Dead && task.kind != TaskKind::FitCovers;
        if let (Some(p), Some((from, to)), true) = (task.position, run, dead) {
            out.extend(shrouds::live(input, p, Period { from, to }));
        }
    }
    out.retain(|n| job.supplies.iter().all(|(_, s)| s.node != *n));
    out.sort_unstable();
    out.dedup();
    out
}

/// Boards that the plan leaves live at the end of a visit with the cover not yet put back: it
/// counts on their shrouds, which is no reason to leave them open.
fn uncovered(input: &Input) -> String {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let open = |b: &BoardId| {
        replay.visits().iter().any(|v| {
            let end = Period { from: v.to, to: v.to };
            let live = !shrouds::live(input, job.boards[*b].ways, end).is_empty();
            !replay.cover_on(*b).at(v.to) && live
        })
    };
    let boards: Vec<String> =
        job.boards.ids().filter(open).map(|b| name::board(input, b)).collect();
    match boards.is_empty() {
        true => String::new(),
        false => format!(
            " Between visits the plan counts on the shrouds of {}: put the cover back on as well.",
            name::list(&boards)
        ),
    }
}
