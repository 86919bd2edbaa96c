//! The paper on emergency lighting: what happens to each group's battery over the whole job, its
//! function test and what to look for, the date of its full-duration test, the test sheet, and
//! the completion note.

mod calendar;
mod chart;
mod dates;
mod tests;

pub use calendar::calendar;

use super::Input;
use super::method::lighting;
use super::name;
use super::steps::Step;
use crate::model::*;
use crate::units::Minutes;
use crate::verify::{ChargeStep, Charging};
use dates::Dates;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    groups: Vec<Group>,
    areas: Vec<[String; 3]>,
    /// Whether anything is done in place of emergency lighting in any of them.
    measures: bool,
    /// Whether any group may not be run down together with another.
    apart: bool,
}

/// A group, from its survey to its tests.
#[derive(Serialize)]
struct Group {
    name: String,
    areas: String,
    /// For the foreman.
    foreman: String,
    /// The drawing.
    chart: String,
    feed: String,
    watches: String,
    coils: Vec<String>,
    /// What the survey found that the change mends or leaves, if anything.
    old_state: String,
    fittings: String,
    battery: String,
    spans: Vec<Span>,
    function: tests::Function,
    full: tests::Full,
    /// Numbers of the luminaires, for the sheet.
    luminaires: Vec<String>,
}

/// A span in which the battery does one thing.
#[derive(Serialize)]
struct Span {
    number: usize,
    when: String,
    what: &'static str,
    charge: String,
}

/// What the paper shows.
pub fn view(input: &Input, steps: &[Step]) -> View {
    let job = input.sound.job();
    let groups: Vec<Group> = job.groups.ids().map(|g| group(input, steps, g)).collect();
    let areas = lighting::lighting(input);
    View {
        measures: job.areas.iter().any(|(_, area)| area.measure.is_some()),
        apart: groups.iter().any(|g| !g.full.apart.is_empty()),
        groups,
        areas,
    }
}

fn group(input: &Input, steps: &[Step], g: GroupId) -> Group {
    let (job, site) = (input.sound.job(), input.site);
    let (facts, label) = (&job.groups[g], &site.groups[g.index()]);
    let areas: Vec<String> = facts.areas.iter().map(|a| job.areas.name(*a).to_owned()).collect();
    let areas = name::list(&areas);
    let dates = dates::dates(input, g);
    let foreman = foreman(input, g, &areas);
    let spans = spans(input, g);
    let said: Vec<String> =
        spans.iter().map(|s| format!("{}: {}, {}", s.when, s.what, s.charge)).collect();
    let count = label.luminaires.unwrap_or(8).clamp(1, 60);
    Group {
        chart: chart::chart(input, g, dates.as_ref(), &format!("{foreman}. {}.", said.join(". "))),
        name: job.groups.name(g).to_owned(),
        feed: name::circuit_text(input, facts.feed),
        watches: name::circuit_text(input, facts.watches),
        coils: coils(input, facts.watches),
        old_state: old_state(input, facts),
        fittings: fittings(facts, label),
        battery: format!(
            "rated {}, full again after {} on charge, {} at the start",
            name::minutes(facts.rated),
            name::minutes(facts.recharge),
            autonomy(dates::printed(&facts.charge.clone().min(facts.rated.exact())))
        ),
        spans,
        function: tests::function(input, steps, g, &areas),
        full: tests::full(input, g, dates.as_ref()),
        luminaires: (1..=count).map(|n| n.to_string()).collect(),
        areas,
        foreman,
    }
}

fn autonomy(minutes: i64) -> String {
    format!("{minutes} min")
}

fn fittings(facts: &crate::model::Group, label: &crate::model::site::GroupLabel) -> String {
    let count = match label.luminaires {
        Some(1) => "1 luminaire".to_owned(),
        Some(n) => format!("{n} luminaires"),
        None => "luminaires not counted".to_owned(),
    };
    let kind = if facts.maintained { "maintained (lit all the time)" } else { "not maintained" };
    let key = if label.key_switch.is_empty() {
        "no test key switch stated".to_owned()
    } else {
        format!("test key switch {}", label.key_switch)
    };
    let rest = if facts.rest_mode { "can be put in rest mode" } else { "no rest mode" };
    format!("{count}, {kind}; {key}; {rest}")
}

/// Contactors before the lamps, with the circuit of each coil.
fn coils(input: &Input, lighting: CircuitId) -> Vec<String> {
    let job = input.sound.job();
    let own = &job.circuits[lighting].nodes;
    let mut all = Vec::new();
    for (id, device) in job.devices.iter().filter(|(_, d)| own.contains(&d.a) && own.contains(&d.b))
    {
        let Some(act) = device.self_acting else { continue };
        let coil = job.circuits.iter().find(|(_, c)| c.nodes.contains(&act.node));
        let coil = coil.map_or(String::new(), |(c, _)| {
            format!(": its coil is on {}", name::circuit_text(input, c))
        });
        all.push(format!("Through {}{coil}", name::device(input, id)));
    }
    all
}

fn old_state(input: &Input, facts: &crate::model::Group) -> String {
    let Some(why) = &facts.old_state_exempt else { return String::new() };
    let moves = |c: CircuitId| input.site.circuits[c.index()].new.is_some();
    let becomes = if moves(facts.feed) || moves(facts.watches) {
        "mended by this job: both end behind one device"
    } else {
        "not mended by this job"
    };
    format!("Found on survey: {why}; {becomes}")
}

/// What the battery does, span by span, as the replay has it.
fn spans(input: &Input, g: GroupId) -> Vec<Span> {
    let (job, clock) = (input.sound.job(), &input.site.clock);
    let steps = input.sound.replay().charge(g);
    let at = |t: Minutes| input.sound.replay().charge_at(job, g, t);
    let span = |(i, step): (usize, &ChargeStep)| {
        let to = steps.get(i + 1).map_or(job.span.to, |s| s.from);
        let what = match step.does {
            Charging::Fed => return None,
            Charging::Lit => "supply dead, lit on its batteries",
            Charging::AtRest => "supply dead, in rest mode: gives no light",
            Charging::Tested => "function test",
        };
        let left = [&step.charge, &at(to)].map(dates::printed);
        Some(Span {
            number: 0,
            when: format!(
                "{}, {} to {}",
                clock.day(step.from),
                clock.time(step.from),
                match clock.day(step.from) == clock.day(to) {
                    true => clock.time(to),
                    false => clock.short(to),
                }
            ),
            what,
            charge: format!("{} to {} min left", left[0], left[1]),
        })
    };
    let mut all: Vec<Span> = steps.iter().enumerate().filter_map(span).collect();
    for (i, span) in all.iter_mut().enumerate() {
        span.number = i + 1;
    }
    all
}

/// The one line for the foreman: what is left when people come in with the least.
fn foreman(input: &Input, g: GroupId, areas: &str) -> String {
    let (job, replay, clock) = (input.sound.job(), input.sound.replay(), &input.site.clock);
    let group = &job.groups[g];
    let steps = replay.charge(g);
    let first = steps.iter().find(|s| s.does != Charging::Fed).map(|s| s.from);
    let who = format!("{} ({areas})", job.groups.name(g));
    let Some(first) = first else { return format!("{who}: never without supply in this job") };
    // What the batteries hold, and nothing while they are at rest.
    let has = |t: Minutes| match replay.charging_at(g, t) {
        Some(Charging::AtRest) => crate::units::whole(0),
        _ => replay.charge_at(job, g, t),
    };
    let arrivals = group.areas.iter().flat_map(|a| &job.areas[*a].occupied).map(|p| p.from);
    let worst = arrivals.filter(|t| first <= *t && *t < job.span.to).map(|t| (has(t), t)).min();
    let Some((charge, at)) = worst else {
        return format!("{who}: nobody comes in after its supply was off");
    };
    let mut says = format!(
        "{who}: {} of {} min on {} {}",
        dates::printed(&charge),
        group.rated.0,
        clock.day(at),
        clock.time(at)
    );
    if charge < group.rated.exact()
        && let Some(full) = full_again(input, g, at)
    {
        says.push_str(&format!(", full again {} {}", clock.day(full), clock.time(full)));
    }
    says
}

/// When the batteries are next full from `at` on, before the full-duration test; none if never.
fn full_again(input: &Input, g: GroupId, at: Minutes) -> Option<Minutes> {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let group = &job.groups[g];
    let steps = replay.charge(g);
    steps.iter().enumerate().find_map(|(i, step)| {
        let to = steps.get(i + 1).map_or(job.span.to, |s| s.from);
        let from = step.from.max(at);
        if step.does != Charging::Fed || to <= from {
            return None;
        }
        let missing = group.rated.exact() - replay.charge_at(job, g, from);
        let full = from + dates::up(missing * group.recharge.exact() / group.rated.exact());
        (full <= to).then_some(full)
    })
}
