//! `trace`: what can make a place live, by which way, and which locks make it safe.

mod price;

use super::wait::Wait;
use super::{Exit, load, out};
use crate::document::{self, Input};
use crate::jobfile::Resolved;
use crate::model::*;
use crate::network::{Cut, Hop, Link, Loss, Network, Spot, State};
use crate::network::{Place, Trace, Tracer};
use crate::plan::{Act, Plan};
use crate::search::Options;
use crate::search::price::approx;
use crate::units::Minutes;
use std::fmt::Write;
use std::path::Path;

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
        let checked = match load::plan(&job, Options::default(), &Wait::silent()) {
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
        let locked = match (&trace.locks, state.locked.has(device)) {
            (Ok(sets), false) => sets.first().map(|s| state.with_locks(&s.devices)),
            _ => None,
        };
        let state = locked.unwrap_or_else(|| state.clone());
        let tracer = Tracer::new(&job.job, &net, &state, losses);
        let places: Vec<Place> = job.job.positions.ids().map(Place::Position).collect();
        words.without(device, state.locked.has(device), &tracer.without(device, &places));
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

struct Words<'a> {
    job: &'a Resolved,
    /// The plan that gives a moment its state.
    plan: Option<&'a Plan>,
    text: String,
}

impl Words<'_> {
    /// A row, within 80 columns: what does not fit goes on below, a little further in.
    fn line(&mut self, text: impl AsRef<str>) {
        let text = text.as_ref().trim_end();
        let lead = text.len() - text.trim_start().len();
        let (mut row, mut words) = (String::new(), 0);
        for word in text.split(' ') {
            if words > lead && row.chars().count() + 1 + word.chars().count() > 80 {
                // Writing to a String cannot fail.
                let _ = writeln!(self.text, "{}", row.trim_end());
                row = " ".repeat(lead + 4) + word;
            } else {
                if words > 0 {
                    row.push(' ');
                }
                row.push_str(word);
            }
            words += 1;
        }
        let _ = writeln!(self.text, "{}", row.trim_end());
    }

    fn node(&self, node: NodeId) -> String {
        let name = self.job.job.nodes.name(node);
        match self.job.site.nodes.get(node.index()).map(String::as_str) {
            Some("") | None => name.to_owned(),
            Some(words) => format!("{name} ({words})"),
        }
    }

    fn spot(&self, spot: Spot) -> String {
        format!("{} of {}", spot.wire, self.job.job.nodes.name(spot.node))
    }

    fn link(&self, link: Link) -> String {
        match link {
            Link::Device(d) => self.job.job.devices.name(d).to_owned(),
            Link::Joint(j) => format!("termination {}", self.job.job.joints.name(j)),
        }
    }

    fn path(&self, from: Spot, hops: &[Hop]) -> String {
        let mut text = self.spot(from);
        for hop in hops {
            // A device tells more than the bar behind it.
            text.push_str(" < ");
            text.push_str(&self.link(hop.link));
        }
        if let Some(last) = hops.last() {
            let _ = write!(text, " < {}", self.node(last.to.node));
        }
        text
    }

    fn report(&mut self, place: &str, when: &str, trace: &Trace) {
        self.line(format!("{place}, {when}"));
        self.line(if trace.secured {
            "isolated and locked off: no unlocked way leads to any supply"
        } else {
            "NOT isolated and locked off"
        });
        self.line("");
        self.line("CONDUCTOR BY CONDUCTOR");
        for c in &trace.conductors {
            let state = if c.live_from.is_empty() { "dead" } else { "LIVE" };
            let safe = if c.secured { "locked off" } else { "not locked off" };
            let from: Vec<String> = c.live_from.iter().map(|s| self.spot(*s)).collect();
            let from = if from.is_empty() {
                String::new()
            } else {
                format!(", from {}", from.join(" and "))
            };
            let name = self.spot(c.spot);
            self.line(format!("  {name:<28} {state:<5} {safe}{from}"));
        }
        self.line("");
        self.line("WAYS FROM A SUPPLY (read from the place upwards)");
        for path in &trace.paths {
            let told = self.path(path.from, &path.hops);
            self.line(format!("  {told}"));
            for cut in &path.cuts {
                let cut = match cut {
                    Cut::Lock(d) => format!("lock on {}", self.job.job.devices.name(*d)),
                    Cut::Joint(j) => format!("termination {} off", self.job.job.joints.name(*j)),
                };
                self.line(format!("      cut by {cut}"));
            }
            for d in &path.not_held {
                let d = self.job.job.devices.name(*d).to_owned();
                self.line(format!("      {d} is open, but nothing keeps it so"));
            }
        }
        if trace.paths.is_empty() {
            self.line("  none");
        }
        self.line("");
        self.line("STILL LIVE IN THIS ENCLOSURE");
        for (spot, from) in &trace.still_live {
            let from: Vec<String> = from.iter().map(|s| self.spot(*s)).collect();
            let name = self.spot(*spot);
            self.line(format!("  {name}, from {}", from.join(" and ")));
        }
        if trace.still_live.is_empty() {
            self.line("  nothing");
        }
        self.line("");
        self.locks(trace);
        self.fixed(trace.locks.is_err());
    }

    /// What the job fixes about locks, with its reasons.
    fn fixed(&mut self, none: bool) {
        let job = self.job;
        let mut told = Vec::new();
        for pin in &job.labour.pins {
            let (device, what) = match pin.what {
                PinKind::LockAt(d) => (d, "is locked wherever that helps"),
                PinKind::NoLockAt(d) if none => {
                    (d, "is never locked, which may be why none is found")
                }
                PinKind::NoLockAt(d) => (d, "is never locked"),
                _ => continue,
            };
            told.push(format!("  {} {what}: {}", job.job.devices.name(device), pin.reason));
        }
        if !told.is_empty() {
            self.line("");
            self.line("FIXED BY YOU");
            told.iter().for_each(|line| self.line(line));
        }
    }

    fn locks(&mut self, trace: &Trace) {
        match &trace.locks {
            Ok(sets) => {
                self.line("LOCKS THAT MAKE IT SAFE");
                let span = price::span(self.job, self.plan, trace.place, sets);
                for (i, set) in sets.iter().enumerate() {
                    let names: Vec<&str> =
                        set.devices.iter().map(|d| self.job.job.devices.name(*d)).collect();
                    let names =
                        if names.is_empty() { "none needed".to_owned() } else { names.join(", ") };
                    let label = if i == 0 { "chosen" } else { "or" };
                    self.line(format!("  {label:<7} {names}"));
                    let down: Vec<&str> =
                        set.takes_down.iter().map(|c| self.job.job.circuits.name(*c)).collect();
                    let told = if down.len() > 10 {
                        format!("{} circuits: {}, ...", down.len(), down[..8].join(", "))
                    } else {
                        down.join(", ")
                    };
                    let told = if told.is_empty() { "nothing".to_owned() } else { told };
                    self.line(format!("          takes down {told}"));
                    for row in price::told(self.job, span, set) {
                        self.line(format!("          {row}"));
                    }
                }
            }
            Err(no) => {
                self.line("NO LOCKS MAKE IT SAFE");
                let path = self.path(no.from, &no.hops);
                self.line(format!("  nothing breaks {path}"));
                for link in &no.add_at {
                    let link = self.link(*link);
                    self.line(format!(
                        "  a lockable isolating device would have to be added at {link}"
                    ));
                }
            }
        }
    }

    fn without(&mut self, device: DeviceId, locked: bool, found: &[crate::network::Unsafe]) {
        let name = self.job.job.devices.name(device).to_owned();
        self.line("");
        self.line(format!("WITHOUT THE LOCK ON {name}"));
        if !locked {
            self.line("  it carries no lock then, so nothing changes");
            return;
        }
        for place in found {
            let at = match place.place {
                Place::Position(p) => self.job.job.positions.name(p).to_owned(),
                Place::Circuit(c) => self.job.job.circuits.name(c).to_owned(),
                Place::Node(n) => self.job.job.nodes.name(n).to_owned(),
            };
            let path = self.path(place.from, &place.hops);
            self.line(format!("  {at} is no longer safe: {path}"));
        }
        if found.is_empty() {
            self.line("  nothing becomes unsafe: other locks hold");
        }
    }
}
