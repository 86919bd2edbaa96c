//! Emergency lighting: its groups, and what each area has to have.

use crate::document::Input;
use crate::document::name;
use crate::document::steps::Step;
use crate::model::*;
use crate::plan::Act;
use serde::Serialize;

#[derive(Serialize)]
pub struct Group {
    name: String,
    areas: String,
    feed: String,
    watches: String,
    key_switch: String,
    luminaires: String,
    rated: String,
    rest: String,
    function: String,
    last: String,
    full: String,
}

pub fn group(input: &Input, all: &[Step], g: GroupId) -> Group {
    let (job, site, plan) = (input.sound.job(), input.site, input.sound.plan());
    let (facts, label) = (&job.groups[g], &site.groups[g.index()]);
    let clock = &site.clock;
    let rest: Vec<String> = plan
        .events
        .iter()
        .filter_map(|e| match e.act {
            Act::Rest(_, group, on) if group == g => {
                let told =
                    format!("{} {}", if on { "on" } else { "off" }, name::dated(input, e.at));
                Some(told.replace(' ', "\u{a0}"))
            }
            _ => None,
        })
        .collect();
    let tests: Vec<String> = all
        .iter()
        .filter(|s| s.kind == Some(TaskKind::FunctionTest))
        .filter(|s| s.tasks.iter().any(|t| plan.tasks[*t].group == Some(g)))
        .map(|s| format!("step {}, {}", s.number, name::dated(input, s.period.from)))
        .collect();
    let areas: Vec<String> = facts.areas.iter().map(|a| job.areas.name(*a).to_owned()).collect();
    let kept = "none, kept charged";
    Group {
        name: job.groups.name(g).to_owned(),
        areas: name::list(&areas),
        feed: name::circuit_text(input, facts.feed),
        watches: name::circuit_text(input, facts.watches),
        key_switch: label.key_switch.clone(),
        luminaires: label.luminaires.map(|n| n.to_string()).unwrap_or_default(),
        rated: name::minutes(facts.rated),
        rest: match (facts.rest_mode, rest.is_empty()) {
            (false, _) => "has none".to_owned(),
            (true, true) => kept.to_owned(),
            (true, false) => rest.join("; "),
        },
        function: if tests.is_empty() { "none in this plan".to_owned() } else { tests.join("; ") },
        last: name::date(&label.full_test),
        full: plan
            .claims
            .full_duration_tests
            .get(&g)
            .map_or_else(|| "none in this plan".to_owned(), |t| clock.full(*t)),
    }
}

/// How long emergency lighting has to last in an area.
pub fn required(area: &Area) -> String {
    match area.autonomy.0 {
        0 => "none asked for".to_owned(),
        _ => format!("{} while people are in the area", name::minutes(area.autonomy)),
    }
}

/// What each area has to have: its name, how long, what is done where it is not there.
pub fn lighting(input: &Input) -> Vec<[String; 3]> {
    let job = input.sound.job();
    job.areas
        .iter()
        .map(|(id, area)| {
            [
                job.areas.name(id).to_owned(),
                required(area),
                area.measure.clone().unwrap_or_else(|| "none".to_owned()),
            ]
        })
        .collect()
}
