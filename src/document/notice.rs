//! The outage notice: for those who use an area and need know nothing of electricity. One page an
//! area, and the same as a calendar file.

mod advice;
mod size;

use super::calendar::{self, Entry};
use super::name;
use super::steps::Step;
use super::{Extra, Input};
use crate::model::*;
use crate::units::{Minutes, Period};
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    safety: &'static str,
    areas: Vec<AreaPage>,
}

#[derive(Serialize)]
struct AreaPage {
    area: String,
    /// In which stretch anything is off, one a visit.
    spans: Vec<Span>,
    /// What is off, each with its times.
    off: Vec<Off>,
    /// A column for each of the stretches, where a row for each time would not fit on the page.
    across: Option<Across>,
    /// Letters of its text in points: as large as fits on one page.
    size: String,
    /// What goes on without a break.
    stays: String,
    before: Vec<Before>,
    ask: Vec<Ask>,
    told_by: String,
    emergency_number: String,
    /// Its calendar file, if anything is off.
    file: String,
}

/// A stretch in plain words.
#[derive(Serialize)]
struct Span {
    from: String,
    to: String,
}

/// Loads down the page, stretches across it.
#[derive(Serialize)]
struct Across {
    days: Vec<String>,
    /// One for the names, and the days.
    columns: usize,
    rows: Vec<OffThen>,
}

/// Loads off at the same times, with those times by stretch.
#[derive(Serialize)]
struct OffThen {
    what: String,
    /// Whether its names stand above its times.
    long: bool,
    times: Vec<Vec<Time>>,
}

/// Loads off at the same times.
#[derive(Serialize)]
struct Off {
    what: String,
    times: Vec<Time>,
}

#[derive(Serialize)]
struct Time {
    from: String,
    to: String,
    minutes: String,
}

/// What to do for one load, or for things of a kind.
#[derive(Serialize)]
struct Before {
    what: String,
    text: String,
}

#[derive(Serialize)]
struct Ask {
    name: String,
    role: String,
    phone: String,
}

/// The notice's view.
pub fn view(input: &Input, _: &[Step]) -> View {
    let areas = input.sound.job().areas.ids().map(|a| page(input, a)).collect();
    View { safety: SAFETY, areas }
}

/// A calendar file for each area in which something is off: one entry a visit.
pub fn calendars(input: &Input, _: &[Step]) -> anyhow::Result<Vec<Extra>> {
    let job = input.sound.job();
    let mut out = Vec::new();
    for area in job.areas.ids() {
        let rows = rows(input, area);
        let entries: Vec<Entry> = stretches(input, &rows)
            .into_iter()
            .enumerate()
            .map(|(i, period)| entry(input, area, i, period, &rows))
            .collect();
        if !entries.is_empty() {
            let title = format!("Electricity off: {}", job.areas.name(area));
            let content = calendar::write(input, &title, &entries);
            let purpose = format!("{title}, for people's own calendars");
            out.push(Extra { file: file(input, area), purpose, content });
        }
    }
    Ok(out)
}

/// What is off in an area: loads off at the very same times together, in order of time.
fn rows(input: &Input, area: AreaId) -> Vec<(Vec<Period>, Vec<LoadId>)> {
    let job = input.sound.job();
    let mut rows: Vec<(Vec<Period>, Vec<LoadId>)> = Vec::new();
    for (id, _) in job.loads.iter().filter(|(_, l)| l.areas.contains(&area)) {
        let times: Vec<Period> = input.sound.replay().outages(id).iter().map(|o| o.whole).collect();
        match rows.iter_mut().find(|(t, _)| *t == times) {
            _ if times.is_empty() => {}
            Some((_, loads)) => loads.push(id),
            None => rows.push((times, vec![id])),
        }
    }
    rows.sort_unstable();
    // No row is split over pages.
    let parts = |(times, loads): (Vec<Period>, Vec<LoadId>)| -> Vec<_> {
        loads.chunks(MOST_LOADS).map(|some| (times.clone(), some.to_vec())).collect()
    };
    rows.into_iter().flat_map(parts).collect()
}

/// The most loads that share a row.
const MOST_LOADS: usize = 30;

/// From the first minute in which anything is off to the last, by visit.
fn stretches(input: &Input, rows: &[(Vec<Period>, Vec<LoadId>)]) -> Vec<Period> {
    let visits = input.sound.replay().visits();
    let visit = |t: Minutes| visits.iter().position(|v| v.from <= t && t <= v.to);
    let mut all: Vec<Period> = rows.iter().flat_map(|(times, _)| times).copied().collect();
    all.sort_unstable();
    let mut out: Vec<Period> = Vec::new();
    for p in all {
        match out.last_mut() {
            Some(last) if visit(last.from) == visit(p.from) => last.to = last.to.max(p.to),
            _ => out.push(p),
        }
    }
    out
}

fn page(input: &Input, area: AreaId) -> AreaPage {
    let (job, site) = (input.sound.job(), input.site);
    let rows = rows(input, area);
    let out: Vec<LoadId> = rows.iter().flat_map(|(_, l)| l.iter().copied()).collect();
    let stays: Vec<String> = job
        .loads
        .iter()
        .filter(|(id, l)| l.areas.contains(&area) && !out.contains(id))
        .map(|(id, _)| job.loads.name(id).to_owned())
        .collect();
    let before = before(input, &out);
    let ask = ask(input);
    let spans = stretches(input, &rows);
    let across = (spans.len() > 1).then(|| across(input, &spans, &rows));
    let mut page = AreaPage {
        area: job.areas.name(area).to_owned(),
        spans: spans
            .into_iter()
            .map(|p| Span { from: moment(input, p.from), to: moment(input, p.to) })
            .collect(),
        across,
        size: String::new(),
        off: rows.iter().map(|(times, loads)| off(input, times, loads)).collect(),
        stays: name::list(&stays),
        before,
        ask,
        told_by: site.areas[area.index()].clone(),
        emergency_number: site.paper.emergency_number.clone(),
        file: if rows.is_empty() { String::new() } else { file(input, area) },
    };
    let (size, across) = size::size(&page, SAFETY);
    page.size = size;
    page.across = page.across.filter(|_| across);
    page
}

/// A list of names with more letters than this stands above its times, not before them.
const LONG_NAMES: usize = 160;

fn across(input: &Input, spans: &[Period], rows: &[(Vec<Period>, Vec<LoadId>)]) -> Across {
    let clock = &input.site.clock;
    // The day of its column is left out.
    let from = |t: Period, column: Period| match clock.day(t.from) == clock.day(column.from) {
        true => clock.time(t.from),
        false => clock.short(t.from),
    };
    let row = |(times, loads): &(Vec<Period>, Vec<LoadId>)| {
        let then = |span: &Period| -> Vec<Time> {
            let here = times.iter().filter(|t| span.overlaps(**t));
            here.map(|t| Time { from: from(*t, *span), ..time(input, *t) }).collect()
        };
        let what = off(input, times, loads).what;
        let long = what.chars().count() > LONG_NAMES;
        OffThen { what, long, times: spans.iter().map(then).collect() }
    };
    Across {
        days: spans.iter().map(|p| clock.day(p.from)).collect(),
        columns: spans.len() + 1,
        rows: rows.iter().map(row).collect(),
    }
}

/// Those whom the job names to be asked; the team itself only if it names nobody else.
fn ask(input: &Input) -> Vec<Ask> {
    let (job, contacts) = (input.sound.job(), &input.site.contacts);
    let others = contacts.iter().any(|c| job.people.find(&c.name).is_none());
    contacts
        .iter()
        .filter(|c| !others || job.people.find(&c.name).is_none())
        .map(|c| Ask { name: c.name.clone(), role: c.role.clone(), phone: c.phone.clone() })
        .collect()
}

/// `Tuesday 2 March 2027, 21:50`.
fn moment(input: &Input, t: Minutes) -> String {
    let clock = &input.site.clock;
    format!("{}, {}", clock.at(t).strftime("%A %-d %B %Y"), clock.time(t))
}

fn off(input: &Input, times: &[Period], loads: &[LoadId]) -> Off {
    let names: Vec<String> = loads.iter().map(|l| called(input, *l, times)).collect();
    Off { what: name::list(&names), times: times.iter().map(|p| time(input, *p)).collect() }
}

/// A load by name, with what its battery does meanwhile.
fn called(input: &Input, l: LoadId, times: &[Period]) -> String {
    let name = input.sound.job().loads.name(l);
    match battery(input, l, times) {
        note if note.is_empty() => name.to_owned(),
        note => format!("{name} ({note})"),
    }
}

fn time(input: &Input, p: Period) -> Time {
    let clock = &input.site.clock;
    Time {
        from: format!("{}, {}", clock.day(p.from), clock.time(p.from)),
        to: match clock.day(p.from) == clock.day(p.to) {
            true => clock.time(p.to),
            false => clock.short(p.to),
        },
        minutes: name::minutes(p.length()),
    }
}

/// What a load's battery does for its users in these outages.
fn battery(input: &Input, load: LoadId, times: &[Period]) -> String {
    let hold_up = input.sound.job().loads[load].ride_through;
    if hold_up.0 == 0 {
        return String::new();
    }
    let outages = input.sound.replay().outages(load);
    match outages.iter().filter(|o| times.contains(&o.whole)).all(|o| o.counts_from.is_none()) {
        true => "runs on its battery meanwhile".to_owned(),
        false => format!("its battery lasts {} at most", name::minutes(hold_up)),
    }
}

fn before(input: &Input, loads: &[LoadId]) -> Vec<Before> {
    let (job, site) = (input.sound.job(), input.site);
    let own = |l: &LoadId| !site.loads[l.index()].notice.is_empty();
    let mut out: Vec<Before> = loads
        .iter()
        .filter(|l| own(l))
        .map(|l| Before {
            what: job.loads.name(*l).to_owned(),
            text: site.loads[l.index()].notice.clone(),
        })
        .collect();
    let others = loads.iter().filter(|l| !own(l)).map(|l| job.loads.name(*l));
    out.extend(advice::of(others).into_iter().map(|text| {
        let (what, text) = text.split_once(": ").unwrap_or(("", text));
        Before { what: what.to_owned(), text: text.to_owned() }
    }));
    out
}

fn entry(
    input: &Input,
    area: AreaId,
    number: usize,
    p: Period,
    rows: &[(Vec<Period>, Vec<LoadId>)],
) -> Entry {
    let (job, site) = (input.sound.job(), input.site);
    let mut loads: Vec<LoadId> = Vec::new();
    let mut lines = Vec::new();
    for (times, of) in rows {
        let here: Vec<Period> = times.iter().filter(|t| p.overlaps(**t)).copied().collect();
        if here.is_empty() {
            continue;
        }
        let off = off(input, &here, of);
        let times: Vec<String> =
            off.times.iter().map(|t| format!("{} to {} ({})", t.from, t.to, t.minutes)).collect();
        lines.push(format!("{}: {}.", off.what, times.join("; ")));
        loads.extend(of);
    }
    lines.push(SAFETY.to_owned());
    lines.extend(before(input, &loads).into_iter().map(|b| format!("{}: {}", b.what, b.text)));
    let ask: Vec<String> = ask(input)
        .into_iter()
        .map(|c| format!("{} {}", c.name, c.phone).trim().to_owned())
        .collect();
    if !ask.is_empty() {
        lines.push(format!("Questions: {}.", name::list(&ask)));
    }
    lines.push(format!("Plan {}.", input.fingerprint));
    let area = job.areas.name(area);
    Entry {
        key: format!("outage {area} {number}"),
        period: p,
        summary: format!("Electricity off: {area}"),
        description: lines.join("\n"),
        place: match site.paper.place.is_empty() {
            true => area.to_owned(),
            false => format!("{area}, {}", site.paper.place),
        },
    }
}

/// What everybody must know, on the page and in the calendar.
const SAFETY: &str = "These times are planned. The supply can come back at any moment: never \
                      think that something is safe because it is off.";

/// `outage-notice-boat-bay.ics`: letters and digits of the area's name, and its number where that
/// would name two areas alike or none.
fn file(input: &Input, area: AreaId) -> String {
    let areas = &input.sound.job().areas;
    let plain = |a: AreaId| {
        let words: Vec<String> = areas
            .name(a)
            .split(|c: char| !c.is_ascii_alphanumeric())
            .filter(|w| !w.is_empty())
            .map(str::to_ascii_lowercase)
            .collect();
        words.join("-").chars().take(40).collect::<String>()
    };
    let stem = plain(area);
    let alone = !stem.is_empty() && areas.ids().filter(|a| plain(*a) == stem).count() == 1;
    match alone {
        true => format!("outage-notice-{stem}.ics"),
        false => format!("outage-notice-area-{}.ics", area.index() + 1),
    }
}
