//! What is done, where, in which windows, and who is in the building meanwhile.

use crate::document::Input;
use crate::document::name;
use crate::document::steps;
use crate::document::ways;
use crate::model::*;
use crate::units::Period;
use serde::Serialize;

#[derive(Serialize)]
pub struct Board {
    name: String,
    place: String,
    fed_from: String,
    ways: String,
}

pub fn scope(input: &Input) -> Vec<String> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out = Vec::new();
    if !site.paper.scope.is_empty() {
        out.push(site.paper.scope.clone());
    }
    let boards = |role: &str| {
        let all: Vec<String> = job
            .boards
            .ids()
            .filter(|b| site.boards[b.index()].role == role)
            .map(|b| name::board(input, b))
            .collect();
        name::list(&all)
    };
    let moved = site.circuits.iter().filter(|c| c.new.is_some()).count();
    out.push(format!(
        "{moved} {} taken from {} and terminated on {}.",
        if moved == 1 { "circuit is" } else { "circuits are" },
        boards("OLD"),
        boards("NEW")
    ));
    if !site.profile.is_empty() {
        out.push(format!("Earthing system, where the job states none: {}.", site.profile));
    }
    if !site.figure.is_empty() {
        out.push(format!("Planned duration of each task: {}.", site.figure));
    }
    out
}

pub fn boards(input: &Input) -> Vec<Board> {
    let (job, site) = (input.sound.job(), input.site);
    job.boards
        .ids()
        .map(|b| {
            let label = &site.boards[b.index()];
            Board {
                name: name::board_and_role(input, b),
                place: stated(&label.place),
                fed_from: label.fed_from.clone(),
                ways: ways::count(input, b),
            }
        })
        .collect()
}

/// What the job says, or that it does not.
fn stated(text: &str) -> String {
    if text.is_empty() { "not stated" } else { text }.to_owned()
}

pub fn windows(input: &Input) -> Vec<[String; 2]> {
    let job = input.sound.job();
    let visits = input.sound.replay().visits();
    let used = |p: Period| {
        input.sound.plan().events.iter().any(|e| p.from <= e.at && e.at <= p.to)
            && visits.iter().any(|v| v.overlaps(p))
    };
    job.windows
        .rows()
        .iter()
        .filter(|w| used(w.period))
        .map(|w| {
            let areas: Vec<String> =
                w.areas.iter().map(|a| job.areas.name(*a).to_owned()).collect();
            [name::span(input, w.period), name::list(&areas)]
        })
        .collect()
}

/// The work of a visit, from its first step to its last.
pub fn at_work(input: &Input, chapter: &steps::Chapter) -> Option<[String; 2]> {
    let here = &chapter.steps;
    let from = here.iter().map(|s| s.period.from).min()?;
    let to = here.iter().map(|s| s.period.to).max()?;
    let (first, last) = (here.first()?.number, here.last()?.number);
    let steps = if first == last { format!("{first}") } else { format!("{first} to {last}") };
    let what = if chapter.visit.is_some() { "" } else { ", outside the visits" };
    Some([format!("{steps}{what}"), name::span(input, Period { from, to })])
}

pub fn areas(input: &Input) -> Vec<[String; 4]> {
    let (job, site) = (input.sound.job(), input.site);
    job.areas
        .iter()
        .map(|(id, area)| {
            let times: Vec<String> = area
                .occupied
                .iter()
                .filter(|p| input.sound.replay().visits().iter().any(|v| v.overlaps(**p)))
                .map(|p| name::span(input, *p))
                .collect();
            [
                job.areas.name(id).to_owned(),
                if times.is_empty() {
                    "nobody, by the survey".to_owned()
                } else {
                    times.join("; ")
                },
                stated(area.task_lighting.as_deref().unwrap_or_default()),
                stated(&site.areas[id.index()]),
            ]
        })
        .collect()
}
