//! The method statement: what is done, when, by whom, and how one goes back.

mod backout;
mod defaults;
pub(super) mod hazards;
mod sequence;

pub use sequence::live;

use super::Input;
use super::name::{self, CircuitName};
use super::steps::{self, Step};
use crate::model::site::{IdentifiedBy, Severity};
use crate::model::*;
use crate::plan::Act;
use crate::units::{Period, plain};
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub struct View {
    scope: Vec<String>,
    boards: Vec<Board>,
    windows: Vec<[String; 2]>,
    work: Vec<String>,
    areas: Vec<[String; 4]>,
    roles: Vec<[String; 4]>,
    contacts: Vec<[String; 3]>,
    access: Vec<[String; 3]>,
    emergency_number: String,
    first_aid: String,
    hazards: Vec<[String; 2]>,
    tools: Vec<String>,
    materials: Vec<[String; 2]>,
    circuits: Vec<Circuit>,
    ends: Vec<[String; 3]>,
    off: Vec<Off>,
    groups: Vec<Group>,
    lighting: Vec<[String; 3]>,
    holds: Vec<Hold>,
    visits: Vec<sequence::Visit>,
    turning: Vec<backout::Turning>,
    back_out: Vec<backout::Step>,
    checkpoints: Vec<[String; 3]>,
    supplies: Vec<Supply>,
    fixed: Vec<String>,
    defaults: Vec<[String; 3]>,
    questions: Vec<[String; 3]>,
    revisions: Vec<[String; 4]>,
    team: Vec<String>,
}

#[derive(Serialize)]
struct Board {
    name: String,
    place: String,
    fed_from: String,
    ways: String,
}

#[derive(Serialize)]
struct Circuit {
    name: CircuitName,
    device: String,
    cable: String,
    identified: &'static str,
    fallback: String,
    remarks: String,
}

#[derive(Serialize)]
struct Off {
    load: String,
    circuits: String,
    importance: String,
    spans: Vec<String>,
    notice: String,
}

#[derive(Serialize)]
struct Group {
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

#[derive(Serialize)]
struct Hold {
    step: usize,
    time: String,
    what: String,
    who: String,
}

#[derive(Serialize)]
struct Supply {
    name: String,
    from: String,
    figures: String,
    circuits: Vec<String>,
}

/// The method statement's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    let (job, site) = (input.sound.job(), input.site);
    View {
        scope: scope(input),
        boards: boards(input),
        windows: windows(input),
        work: steps::chapters(input, all).iter().filter_map(|c| at_work(input, c)).collect(),
        areas: areas(input),
        roles: roles(input),
        contacts: site
            .contacts
            .iter()
            .map(|c| [c.name.clone(), c.role.clone(), c.phone.clone()])
            .collect(),
        access: site
            .access
            .iter()
            .map(|a| [a.what.clone(), a.holder.clone(), a.how.clone()])
            .collect(),
        emergency_number: site.paper.emergency_number.clone(),
        first_aid: site.paper.first_aid.clone(),
        hazards: hazards::hazards(input),
        tools: tools(input),
        materials: materials(input),
        circuits: circuits(input),
        ends: site
            .ends
            .iter()
            .map(|e| [name::circuit_text(input, e.circuit), e.end.to_owned(), e.why.clone()])
            .collect(),
        off: off(input),
        groups: job.groups.ids().map(|g| group(input, all, g)).collect(),
        lighting: lighting(input),
        holds: holds(input, all),
        visits: sequence::visits(input, all),
        turning: backout::turning(input),
        back_out: backout::steps(input, all),
        checkpoints: backout::checkpoints(input, all),
        supplies: supplies(input),
        fixed: fixed(input),
        defaults: site
            .defaults_used
            .iter()
            .map(|d| [defaults::words(&d.what), d.value.clone(), d.times.to_string()])
            .collect(),
        questions: questions(site),
        revisions: site
            .paper
            .revisions
            .iter()
            .map(|r| [r.mark.clone(), r.on.clone(), r.what.clone(), r.by.clone()])
            .collect(),
        team: job.people.names().map(str::to_owned).collect(),
    }
}

fn scope(input: &Input) -> Vec<String> {
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
        "{} circuits are taken from {} and terminated on {}.",
        moved,
        boards("OLD"),
        boards("NEW")
    ));
    if !site.profile.is_empty() {
        out.push(format!("Earthing taken as usual for: {}.", site.profile));
    }
    if !site.figure.is_empty() {
        out.push(format!("Durations in this plan are the {} figures.", site.figure));
    }
    out
}

fn boards(input: &Input) -> Vec<Board> {
    let (job, site) = (input.sound.job(), input.site);
    job.boards
        .ids()
        .map(|b| {
            let label = &site.boards[b.index()];
            let phases = if label.three_phase { "three-phase" } else { "single-phase" };
            Board {
                name: name::board(input, b),
                place: label.place.clone(),
                fed_from: label.fed_from.clone(),
                ways: format!("{} ways, {phases}", label.ways),
            }
        })
        .collect()
}

fn windows(input: &Input) -> Vec<[String; 2]> {
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
fn at_work(input: &Input, chapter: &steps::Chapter) -> Option<String> {
    let here = &chapter.steps;
    let from = here.iter().map(|s| s.period.from).min()?;
    let to = here.iter().map(|s| s.period.to).max()?;
    let (first, last) = (here.first()?.number, here.last()?.number);
    let what = if chapter.visit.is_some() { "" } else { ", outside the visits" };
    Some(format!("Steps {first} to {last}{what}: {}", name::span(input, Period { from, to })))
}

fn areas(input: &Input) -> Vec<[String; 4]> {
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
                area.task_lighting.clone().unwrap_or_default(),
                site.areas[id.index()].clone(),
            ]
        })
        .collect()
}

fn roles(input: &Input) -> Vec<[String; 4]> {
    let (job, site) = (input.sound.job(), input.site);
    let mut out: Vec<[String; 4]> = job
        .people
        .iter()
        .map(|(id, person)| {
            let label = &site.people[id.index()];
            let all = TaskKind::ALL.iter().filter(|k| **k != TaskKind::Hold);
            let may = if all.clone().all(|k| person.may.contains(k)) {
                "all work of this plan".to_owned()
            } else {
                let not: Vec<String> = all
                    .filter(|k| !person.may.contains(k))
                    .map(|k| k.name().replace('_', " "))
                    .collect();
                format!("all but: {}", not.join(", "))
            };
            let role = if label.role.is_empty() { "electrician" } else { &label.role };
            [job.people.name(id).to_owned(), role.to_owned(), may, label.phone.clone()]
        })
        .collect();
    for o in job.outsiders.names() {
        out.push([
            o.to_owned(),
            "third party".to_owned(),
            "own devices and locks only".to_owned(),
            String::new(),
        ]);
    }
    out
}

fn tools(input: &Input) -> Vec<String> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out: Vec<String> = job
        .instruments
        .iter()
        .map(|(id, i)| format!("{}, used as {}", name::instrument(input, id), name::list(&i.kinds)))
        .collect();
    let locks: Vec<String> = plan.locks.names().map(str::to_owned).collect();
    let boxes: Vec<String> = plan.boxes.names().map(str::to_owned).collect();
    let each = locks.len();
    out.push(format!("Padlocks, each with one key only, and tags ({each}): {}", locks.join(", ")));
    if !boxes.is_empty() {
        out.push(format!(
            "{}, and for each person on site one personal lock for it",
            name::list(&boxes)
        ));
    }
    out.push("Proving unit or known live source for the voltage detector".to_owned());
    out.push(
        "Insulated tools, shrouding, barriers, battery task lights, ferrules and labels".to_owned(),
    );
    out.push(
        "Clamp meter for neutrals; low-resistance and insulation tester, loop and RCD tester"
            .to_owned(),
    );
    out
}

fn materials(input: &Input) -> Vec<[String; 2]> {
    let job = input.sound.job();
    input
        .site
        .materials
        .iter()
        .map(|m| {
            let comes = m.delivery.map(|d| {
                let at = input.site.clock.full(job.deliveries[d]);
                format!("with {}, {at}", job.deliveries.name(d))
            });
            [format!("{} {} {}", m.number, m.unit, m.what), comes.unwrap_or_default()]
        })
        .collect()
}

fn circuits(input: &Input) -> Vec<Circuit> {
    let job = input.sound.job();
    job.circuits
        .ids()
        .map(|c| {
            let label = &input.site.circuits[c.index()];
            let mut remarks: Vec<String> = Vec::new();
            if !label.found_on {
                remarks.push("found OFF on survey".to_owned());
            }
            if label.ring {
                remarks.push("ring".to_owned());
            }
            if label.short {
                remarks.push("to be lengthened".to_owned());
            }
            for text in [&label.defects, &label.remarks] {
                if !text.is_empty() {
                    remarks.push(text.clone());
                }
            }
            let shared: Vec<String> = job
                .neutral_groups
                .iter()
                .filter(|g| g.contains(&c))
                .flatten()
                .filter(|o| **o != c)
                .map(|o| input.site.circuits[o.index()].number.clone())
                .collect();
            if !shared.is_empty() {
                remarks.push(format!("NEUTRAL SHARED with {}", name::list(&shared)));
            }
            let decides = match label.decides.as_str() {
                "" => String::new(),
                who => format!(" ({who} decides)"),
            };
            Circuit {
                name: name::circuit(input, c),
                device: label.device.clone(),
                cable: label.cable.clone(),
                identified: match label.identified {
                    IdentifiedBy::Traced => "traced",
                    IdentifiedBy::ChartOnly => "CHART ONLY",
                    IdentifiedBy::Unknown => "UNKNOWN",
                },
                fallback: match label.fallback.is_empty() {
                    true => String::new(),
                    false => format!("{}{decides}", label.fallback),
                },
                remarks: remarks.join("; "),
            }
        })
        .collect()
}

/// Loads off, in order of the first minute.
fn off(input: &Input) -> Vec<Off> {
    let (job, site) = (input.sound.job(), input.site);
    let mut rows: Vec<(Period, LoadId, &Vec<Period>)> = input
        .sound
        .plan()
        .claims
        .outages
        .iter()
        .filter_map(|(l, spans)| spans.first().map(|s| (*s, *l, spans)))
        .collect();
    rows.sort_unstable_by_key(|(first, l, _)| (*first, *l));
    rows.into_iter()
        .map(|(_, l, spans)| {
            let load = &job.loads[l];
            let mut notes = Vec::new();
            let label = &site.loads[l.index()];
            if !label.notice.is_empty() {
                notes.push(label.notice.clone());
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
            let circuits: Vec<String> =
                load.circuits.iter().map(|c| name::circuit_text(input, *c)).collect();
            Off {
                load: job.loads.name(l).to_owned(),
                circuits: circuits.join(", "),
                importance: label.importance.clone(),
                spans: spans.iter().map(|s| name::span(input, *s)).collect(),
                notice: notes.join("; "),
            }
        })
        .collect()
}

fn group(input: &Input, all: &[Step], g: GroupId) -> Group {
    let (job, site, plan) = (input.sound.job(), input.site, input.sound.plan());
    let (facts, label) = (&job.groups[g], &site.groups[g.index()]);
    let clock = &site.clock;
    let rest: Vec<String> = plan
        .events
        .iter()
        .filter_map(|e| match e.act {
            Act::Rest(_, group, on) if group == g => {
                Some(format!("{} {}", if on { "on" } else { "off" }, clock.short(e.at)))
            }
            _ => None,
        })
        .collect();
    let tests: Vec<String> = all
        .iter()
        .filter(|s| s.kind == Some(TaskKind::FunctionTest))
        .filter(|s| s.tasks.iter().any(|t| plan.tasks[*t].group == Some(g)))
        .map(|s| format!("step {}, {}", s.number, clock.short(s.period.from)))
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
        last: label.full_test.clone(),
        full: plan
            .claims
            .full_duration_tests
            .get(&g)
            .map_or_else(|| "none in this plan".to_owned(), |t| clock.full(*t)),
    }
}

fn lighting(input: &Input) -> Vec<[String; 3]> {
    let job = input.sound.job();
    job.areas
        .iter()
        .map(|(id, area)| {
            [
                job.areas.name(id).to_owned(),
                format!("{} while people are in", name::minutes(area.autonomy)),
                area.measure.clone().unwrap_or_default(),
            ]
        })
        .collect()
}

/// Who lets the work go on at a hold.
/// Whose act a hold is.
pub fn hold_by(input: &Input, step: &Step) -> String {
    let task = step.tasks.first().map(|t| input.sound.plan().tasks.name(*t));
    let mut holds = input.labour.holds.iter();
    let hold = holds.find(|h| task.is_some_and(|t| t.contains(h.name.as_str())));
    hold.map(|h| h.who.clone()).unwrap_or_default()
}

/// Where nobody goes on before somebody has spoken or signed.
fn holds(input: &Input, all: &[Step]) -> Vec<Hold> {
    let mut out = Vec::new();
    for step in all {
        let who = match step.kind {
            Some(TaskKind::Hold) => hold_by(input, step),
            Some(TaskKind::ProveDead) => "all readings written down; every pair dead".to_owned(),
            Some(TaskKind::Energise) => {
                "everybody clear and told; work finished, dead tests passed and signed".to_owned()
            }
            _ => continue,
        };
        out.push(Hold {
            step: step.number,
            time: input.site.clock.short(step.period.from),
            what: steps::title(input, step),
            who,
        });
    }
    out
}

fn supplies(input: &Input) -> Vec<Supply> {
    let (job, site) = (input.sound.job(), input.site);
    let clock = &site.clock;
    job.supplies
        .iter()
        .map(|(id, s)| {
            let mut used = Vec::new();
            for c in job.circuits.ids() {
                let mut from = None;
                for (t, on) in input.sound.replay().riding(c).changes() {
                    match (from, *on == Some(id)) {
                        (None, true) => from = Some(t),
                        (Some(start), false) => {
                            let name = name::circuit_text(input, c);
                            used.push(format!(
                                "{name}: {} to {}",
                                clock.short(start),
                                clock.short(t)
                            ));
                            from = None;
                        }
                        _ => {}
                    }
                }
                if let Some(start) = from {
                    let name = name::circuit_text(input, c);
                    used.push(format!("{name}: from {}, STAYS ON IT", clock.short(start)));
                }
            }
            let rcd =
                s.rcd_ma.as_ref().map(|r| format!(", RCD {} mA", plain(r))).unwrap_or_default();
            let label = &site.supplies[id.index()];
            let own = job.supplies.name(id);
            Supply {
                name: match label.is_empty() || label == own {
                    true => own.to_owned(),
                    false => format!("{own}, {label}"),
                },
                from: name::node(input, s.feed),
                figures: format!(
                    "{}, {} A, lead {} m{rcd}; loop impedance limit {} Ω",
                    if s.ways == 1 { "1 way".to_owned() } else { format!("{} ways", s.ways) },
                    plain(&s.rating.0),
                    plain(&s.length.0),
                    plain(&s.loop_limit.0)
                ),
                circuits: used,
            }
        })
        .collect()
}

fn fixed(input: &Input) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for pin in input.labour.pins.iter().filter(|p| !p.reason.is_empty()) {
        if !out.contains(&pin.reason) {
            out.push(pin.reason.clone());
        }
    }
    out
}

fn questions(site: &Site) -> Vec<[String; 3]> {
    let words: BTreeMap<Severity, &str> = BTreeMap::from([
        (Severity::Safety, "SAFETY"),
        (Severity::Plan, "may change the plan"),
        (Severity::Note, "clear up on the way"),
    ]);
    site.questions
        .iter()
        .map(|q| {
            let severity = words.get(&q.severity).copied().unwrap_or_default();
            [severity.to_owned(), q.what.clone(), q.who.clone()]
        })
        .collect()
}
