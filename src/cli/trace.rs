//! `trace`: what can make a place live, by which way, and which locks make it safe.

mod price;
mod words;

use super::wait::Wait;
use super::{Exit, load, out};
use crate::document::{self, Input};
use crate::jobfile::Resolved;
use crate::model::*;
use crate::network::{Loss, Network, Place, State, Tracer};
use crate::plan::{Act, Plan};
use crate::search::Options;
use crate::search::price::approx;
use crate::units::Minutes;
use std::path::Path;
use words::Words;

pub fn run(
    folder: &Path,
    place: &str,
    without: Option<&str>,
    at: Option<&str>,
) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let Some(wanted) = find(&job, place) else {
        eprintln!("error: `{place}` is no position, way, circuit or node of this job");
        let meant: Vec<String> = by_digits(&job, place)
            .iter()
            .map(|c| format!("`{}`", job.job.circuits.name(*c)))
            .collect();
        if !meant.is_empty() {
            eprintln!("hint: did you mean {}?", meant.join(" or "));
        } else if let Some(near) = nearest(&job, place) {
            eprintln!("hint: did you mean `{near}`?");
        }
        return Ok(Exit::Unusable);
    };
    let device = match without.map(|name| (name, job.job.devices.find(name))) {
        None => None,
        Some((_, Some(device))) => Some(device),
        Some((name, None)) => {
            eprintln!("error: `{name}` is no device of this job");
            let names = job.job.devices.names();
            if let Some(near) = crate::diag::nearest(name, names) {
                eprintln!("hint: did you mean `{near}`?");
            }
            return Ok(Exit::Unusable);
        }
    };
    let net = Network::build(&job.job);
    let mut state = State::old(&job.job);
    let mut when = "before the work".to_owned();
    let mut planned = None;
    if let Some(step) = at {
        let checked = match load::plan(&job, Options::usual(&job.job), &Wait::silent()) {
            Ok(checked) => checked,
            Err(exit) => return Ok(exit),
        };
        let plan = checked.sound.plan();
        let input = Input {
            sound: &checked.sound,
            site: &job.site,
            labour: &job.labour,
            fingerprint: &checked.fingerprint,
            costs: &checked.costs,
        };
        let Some(moment) = moment(&input, step) else {
            eprintln!("error: `{step}` is no step, minute or task of the plan");
            if let Some(near) = crate::diag::nearest(step, plan.tasks.names()) {
                eprintln!("hint: did you mean `{near}`?");
            } else {
                let (from, to) = (job.job.span.from, job.job.span.to);
                let steps = document::step_count(&input);
                eprintln!(
                    "hint: steps are 1 to {steps}, minutes `{} min` to `{} min`",
                    from.0,
                    to.0 - 1
                );
            }
            return Ok(Exit::Unusable);
        };
        replay(plan, moment, &mut state);
        when = format!("at {}", job.site.clock.full(moment));
        planned = Some(plan.clone());
    }
    // A load is lost once, whichever of its circuits goes down. All sets of locks for a place
    // last equally long, so that the order is that of minutes times importance, as printed.
    let loss = |l: &Load| Loss {
        weight: (1000.0 * approx(&l.weight)) as u64,
        circuits: l.circuits.clone(),
    };
    let losses: Vec<Loss> = job.job.loads.rows().iter().map(loss).collect();
    let tracer = Tracer::new(&job.job, &net, &state, losses.clone());
    let (mut forbidden, mut forced) = (Vec::new(), Vec::new());
    for pin in &job.labour.pins {
        match pin.what {
            PinKind::NoLockAt(d) => forbidden.push(d),
            PinKind::LockAt(d) => forced.push(d),
            _ => {}
        }
    }
    let trace = tracer.trace(wanted, &forbidden, &forced);
    let mut words = Words { job: &job, plan: planned.as_ref(), text: String::new() };
    let known = match wanted {
        // A number without its letters is told in full.
        Place::Circuit(c) if !by_digits(&job, place).is_empty() => job.job.circuits.name(c),
        _ => place,
    };
    words.report(known, &when, &trace);
    if let Some(device) = device {
        // Where nothing is locked yet, the question is about the locks that the place would have.
        let chosen = match (&trace.locks, state.locked.has(device)) {
            (Ok(sets), false) => sets.first().map(|s| s.devices.as_slice()),
            _ => None,
        };
        let locked = chosen.map(|set| state.with_locks(set));
        let state = locked.unwrap_or_else(|| state.clone());
        let tracer = Tracer::new(&job.job, &net, &state, losses);
        let places: Vec<Place> = job.job.positions.ids().map(Place::Position).collect();
        words.without(device, chosen, state.locked.has(device), &tracer.without(device, &places));
    }
    out(&words.text);
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}

/// A position, a circuit or a node of that name; a board's name means its ways.
fn find(job: &Resolved, name: &str) -> Option<Place> {
    let j = &job.job;
    let by_label = || {
        let labels = job.site.circuits.iter().enumerate();
        let same = |l: &crate::model::site::CircuitLabel| {
            [&l.old, &l.new].into_iter().flatten().any(|w| w.reference == name)
        };
        labels.into_iter().find(|(_, l)| same(l)).map(|(i, _)| Place::Circuit(CircuitId::new(i)))
    };
    (j.positions.find(name).map(Place::Position))
        .or_else(|| j.circuits.find(name).map(Place::Circuit))
        .or_else(|| j.nodes.find(name).map(Place::Node))
        .or_else(|| j.boards.find(name).map(|b| Place::Position(j.boards[b].ways)))
        .or_else(by_label)
        .or_else(|| match &by_digits(job, name)[..] {
            [one] => Some(Place::Circuit(*one)),
            _ => None,
        })
}

/// The circuits whose numbers are `name` once the letters before it are left away: `7` for `K7`.
fn by_digits(job: &Resolved, name: &str) -> Vec<CircuitId> {
    if name.is_empty() || !name.chars().all(|c| c.is_ascii_digit()) {
        return Vec::new();
    }
    let same = |c: &CircuitId| {
        job.job.circuits.name(*c).trim_start_matches(|c: char| !c.is_ascii_digit()) == name
    };
    job.job.circuits.ids().filter(same).collect()
}

fn nearest<'a>(job: &'a Resolved, name: &str) -> Option<&'a str> {
    let j = &job.job;
    let all = (j.positions.names())
        .chain(j.circuits.names())
        .chain(j.nodes.names())
        .chain(j.boards.names());
    crate::diag::nearest(name, all)
}

/// The start of a step of the method statement, by its number; a minute (`850 min`); or the start
/// of a task.
fn moment(input: &Input, step: &str) -> Option<Minutes> {
    if let Ok(number) = step.parse::<usize>() {
        return document::step_start(input, number);
    }
    let plan = input.sound.plan();
    if let Some(minute) = step.strip_suffix("min").and_then(|n| n.trim().parse().ok()) {
        return input.sound.job().span.contains(Minutes(minute)).then_some(Minutes(minute));
    }
    let task = plan.tasks.find(step)?;
    let start =
        plan.events.iter().find(|e| matches!(e.act, Act::Start { task: t, .. } if t == task));
    start.map(|e| e.at)
}

/// The switching state after every event up to `until`.
fn replay(plan: &Plan, until: Minutes, state: &mut State) {
    let mut locks = std::collections::BTreeMap::<DeviceId, usize>::new();
    for event in plan.events.iter().take_while(|e| e.at <= until) {
        match &event.act {
            Act::Open(_, d) => {
                state.closed.remove(*d);
            }
            Act::Close(_, d) => {
                state.closed.insert(*d);
            }
            Act::Lock(_, d, ..) => {
                *locks.entry(*d).or_default() += 1;
                state.lock(*d);
            }
            Act::Unlock(_, d, _) => {
                let left = locks.entry(*d).or_default();
                *left = left.saturating_sub(1);
                if *left == 0 {
                    state.unlock(*d);
                }
            }
            Act::Make(_, j) => state.make(*j),
            Act::Break(_, j) => state.insulate(*j),
            _ => {}
        }
    }
}
