//! What is off, and when: loads that are off at the same times share a row.

use crate::document::Input;
use crate::document::name;
use crate::model::*;
use crate::units::Period;
use serde::Serialize;

/// Loads with the same times, importance and remarks.
#[derive(Serialize)]
pub struct Off {
    loads: Vec<Load>,
    importance: String,
    spans: Vec<String>,
    notice: String,
}

#[derive(Serialize)]
struct Load {
    name: String,
    circuits: String,
}

/// A row may not be split over pages, so that one of more loads is followed by another.
const MOST_LOADS: usize = 30;

/// The rows, in order of the first minute.
pub fn off(input: &Input) -> Vec<Off> {
    let mut all: Vec<(LoadId, &Vec<Period>)> =
        input.sound.plan().claims.outages.iter().map(|(l, spans)| (*l, spans)).collect();
    all.retain(|(_, spans)| !spans.is_empty());
    all.sort_by_key(|(l, spans)| (spans[0], *l));
    let mut rows: Vec<(&Vec<Period>, Off)> = Vec::new();
    for (l, spans) in all {
        let label = &input.site.loads[l.index()];
        let notice = notes(input, l);
        let alike = rows.iter_mut().rev().find(|(times, row)| {
            let told = (&row.importance, &row.notice);
            *times == spans && told == (&label.importance, &notice) && row.loads.len() < MOST_LOADS
        });
        match alike {
            Some((_, row)) => row.loads.push(load(input, l)),
            None => {
                let row = Off {
                    loads: vec![load(input, l)],
                    importance: label.importance.clone(),
                    spans: spans.iter().map(|s| span(input, *s)).collect(),
                    notice,
                };
                rows.push((spans, row));
            }
        }
    }
    rows.into_iter().map(|(_, row)| row).collect()
}

fn load(input: &Input, l: LoadId) -> Load {
    let job = input.sound.job();
    let circuits = job.loads[l].circuits.iter().map(|c| name::circuit_text(input, *c));
    Load { name: job.loads.name(l).to_owned(), circuits: circuits.collect::<Vec<_>>().join(", ") }
}

/// From and to with the minutes between, the year left out.
fn span(input: &Input, p: Period) -> String {
    let clock = &input.site.clock;
    let day = clock.day(p.from);
    let to = if day == clock.day(p.to) { clock.time(p.to) } else { clock.short(p.to) };
    format!("{day} {} to {to} ({})", clock.time(p.from), name::minutes(p.length()))
}

/// What its users are told, and what limits and measures there are.
fn notes(input: &Input, l: LoadId) -> String {
    let load = &input.sound.job().loads[l];
    let mut notes = Vec::new();
    let notice = &input.site.loads[l.index()].notice;
    if !notice.is_empty() {
        notes.push(notice.clone());
    }
    if load.ride_through.0 > 0 {
        notes.push(format!("battery hold-up {}", name::minutes(load.ride_through)));
    }
    if let Some(limit) = load.max_single {
        notes.push(format!("at most {} at a time", name::minutes(limit)));
    }
    if let Some(measure) = &load.measure {
        notes.push(format!("measure taken instead: {measure}"));
    }
    notes.join("; ")
}
