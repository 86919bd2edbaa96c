//! What is off, and when: loads down the page, visits across it; loads that are off at the same
//! times share a row.

use crate::document::Input;
use crate::document::name;
use crate::document::steps::{self, Step};
use crate::model::*;
use crate::units::Period;
use serde::Serialize;

/// Visits in a row that fit across a page, with what is off in them.
#[derive(Serialize)]
pub struct Off {
    visits: Vec<String>,
    rows: Vec<Row>,
}

/// Loads with the same times, importance and remarks.
#[derive(Serialize)]
struct Row {
    loads: Vec<Load>,
    /// The times in each visit.
    times: Vec<Vec<Span>>,
    /// Its importance, then its limits and measures.
    notes: String,
}

#[derive(Serialize)]
struct Load {
    name: String,
    circuits: String,
}

#[derive(Clone, Serialize)]
struct Span {
    when: String,
    length: String,
}

/// A row may not be split over pages, so that one of more loads is followed by another.
const MOST_LOADS: usize = 30;

/// So many visits stand side by side.
const MOST_ACROSS: usize = 4;

/// The tables, their rows in order of the first minute; a load stands in each in which it is off.
pub fn off(input: &Input, all: &[Step]) -> Vec<Off> {
    let mut numbered: Vec<Period> =
        steps::chapters(input, all).into_iter().filter_map(|c| c.visit).collect();
    numbered.dedup();
    let clock = &input.site.clock;
    let off = |v: &Period| {
        let mut spans = input.sound.plan().claims.outages.values().flatten();
        spans.any(|s| v.overlaps(*s))
    };
    let visits = input.sound.replay().visits().iter().copied().filter(off);
    let named: Vec<(String, Period)> = visits
        .map(|v| match numbered.iter().position(|n| *n == v) {
            Some(n) => (format!("Visit {}, {}", n + 1, whole(&clock.day(v.from))), v),
            None => (whole(&clock.day(v.from)), v),
        })
        .collect();
    let across = named.len().div_ceil(named.len().div_ceil(MOST_ACROSS).max(1)).max(1);
    let tables = named.chunks(across).map(|visits| table(input, visits));
    tables.filter(|t| !t.rows.is_empty()).collect()
}

fn table(input: &Input, visits: &[(String, Period)]) -> Off {
    let here = |s: &Period| visits.iter().any(|(_, v)| v.overlaps(*s));
    let mut all: Vec<(LoadId, Vec<Period>)> = (input.sound.plan().claims.outages.iter())
        .map(|(l, spans)| (*l, spans.iter().copied().filter(here).collect()))
        .filter(|(_, spans): &(_, Vec<Period>)| !spans.is_empty())
        .collect();
    all.sort_by_key(|(l, spans)| (spans[0], *l));
    let mut rows: Vec<(Vec<Period>, Row)> = Vec::new();
    for (l, spans) in all {
        let notes = notes(input, l);
        let alike = rows.iter_mut().rev().find(|(times, row)| {
            *times == spans && row.notes == notes && row.loads.len() < MOST_LOADS
        });
        match alike {
            Some((_, row)) => row.loads.push(load(input, l)),
            None => {
                let in_visit = |v: Period| spans.iter().filter(move |s| v.overlaps(**s));
                let times = visits.iter().map(|(_, v)| in_visit(*v).map(|s| span(input, *v, *s)));
                let times = times.map(Iterator::collect).collect();
                rows.push((spans.clone(), Row { loads: vec![load(input, l)], times, notes }));
            }
        }
    }
    let named = visits.iter().map(|(name, _)| name.clone());
    Off { visits: named.collect(), rows: rows.into_iter().map(|(_, row)| row).collect() }
}

/// A date that no row of letters parts.
fn whole(day: &str) -> String {
    day.replace(' ', "\u{a0}")
}

fn load(input: &Input, l: LoadId) -> Load {
    let job = input.sound.job();
    let numbers: Vec<String> = (job.loads[l].circuits.iter())
        .map(|c| input.site.circuits[c.index()].number.clone())
        .collect();
    Load { name: job.loads.name(l).to_owned(), circuits: numbers.join(", ") }
}

/// From and to with the time between; a day is told where it is not the night of the visit.
fn span(input: &Input, visit: Period, s: Period) -> Span {
    let clock = &input.site.clock;
    let near = |t| if visit.from <= t && t <= visit.to { clock.time(t) } else { clock.short(t) };
    Span { when: format!("{} to {}", near(s.from), near(s.to)), length: name::minutes(s.length()) }
}

/// How much it matters, what its users are told, and what limits and measures there are.
fn notes(input: &Input, l: LoadId) -> String {
    let load = &input.sound.job().loads[l];
    let label = &input.site.loads[l.index()];
    let mut notes = vec![label.importance.clone(), label.notice.clone()];
    if load.ride_through.0 > 0 {
        notes.push(format!("battery hold-up {}", name::minutes(load.ride_through)));
    }
    if let Some(limit) = load.max_single {
        notes.push(format!("at most {} at a time", name::minutes(limit)));
    }
    if let Some(measure) = &load.measure {
        notes.push(format!("measure taken instead: {measure}"));
    }
    notes.retain(|n| !n.is_empty());
    notes.join("; ")
}
