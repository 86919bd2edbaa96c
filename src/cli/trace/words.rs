//! The answer of a trace in words, within 80 columns.

use super::price;
use crate::jobfile::Resolved;
use crate::model::*;
use crate::network::{Conductor, Cut, Hop, Link, Path, Spot, Trace, Unsafe};
use crate::plan::Plan;
use std::fmt::Write;

/// What is told of a place.
pub struct Words<'a> {
    /// The job with its labels.
    pub job: &'a Resolved,
    /// The plan that gives a moment its state.
    pub plan: Option<&'a Plan>,
    /// What has been told so far.
    pub text: String,
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

    fn path(&self, wires: &str, from: NodeId, hops: &[Hop]) -> String {
        let mut text = format!("{wires} of {}", self.job.job.nodes.name(from));
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

    /// The whole answer, but for a lock that is missing.
    pub fn report(&mut self, place: &str, when: &str, trace: &Trace) {
        self.line(format!("{place}, {when}"));
        self.line(match (trace.secured, trace.relies_on.is_empty()) {
            (true, false) => "isolated and locked off: no unlocked way leads to any supply",
            (true, true) => "no way leads to any supply, and no lock is needed for that",
            (false, _) => "NOT isolated and locked off",
        });
        self.line("");
        self.line("CONDUCTOR BY CONDUCTOR");
        let conductors = trace.conductors.iter().map(|c| (self.stands(c), c.spot));
        self.grouped(&conductors.collect::<Vec<_>>());
        self.line("");
        self.line("WAYS FROM A SUPPLY (read from the place upwards)");
        self.ways(&trace.paths);
        self.line("");
        self.line("STILL LIVE IN THIS ENCLOSURE");
        let live = trace.still_live.iter().map(|(s, from)| (self.from(*s, from), *s));
        self.grouped(&live.collect::<Vec<_>>());
        if trace.still_live.is_empty() {
            self.line("  nothing");
        }
        self.line("");
        self.locks(trace);
        self.fixed(trace.locks.is_err());
    }

    /// How a conductor stands.
    fn stands(&self, c: &Conductor) -> String {
        match (c.live_from.is_empty(), c.secured, c.reached) {
            (false, false, _) => {
                format!("LIVE, not locked off, {}", self.from(c.spot, &c.live_from))
            }
            (false, true, _) => format!("LIVE, {}", self.from(c.spot, &c.live_from)),
            (true, false, _) => "dead, but NOT locked off".to_owned(),
            (true, true, true) => "dead, locked off".to_owned(),
            (true, true, false) => "dead, no way leads here from a supply".to_owned(),
        }
    }

    /// What a conductor is live from; lines by their names only where they change.
    fn from(&self, spot: Spot, from: &[Spot]) -> String {
        let one = |s: &Spot| match s.wire == spot.wire {
            true => self.job.job.nodes.name(s.node).to_owned(),
            false => self.spot(*s),
        };
        format!("from {}", from.iter().map(one).collect::<Vec<_>>().join(" and "))
    }

    /// Conductors by what is told of them, and then by the wires of their nodes.
    fn grouped(&mut self, all: &[(String, Spot)]) {
        let mut told: Vec<&str> = Vec::new();
        for (what, _) in all {
            if !told.contains(&what.as_str()) {
                told.push(what);
            }
        }
        for what in told {
            let mut nodes: Vec<(NodeId, Vec<&str>)> = Vec::new();
            for (_, spot) in all.iter().filter(|(w, _)| w == what) {
                match nodes.iter_mut().find(|(n, _)| *n == spot.node) {
                    Some((_, wires)) => wires.push(spot.wire.name()),
                    None => nodes.push((spot.node, vec![spot.wire.name()])),
                }
            }
            self.line(format!("  {what}:"));
            while let Some((_, wires)) = nodes.first().cloned() {
                let alike = nodes.iter().filter(|(_, w)| *w == wires);
                let names: Vec<&str> = alike.map(|(n, _)| self.job.job.nodes.name(*n)).collect();
                self.line(format!("    {} of {}", wires.join(" "), names.join(", ")));
                nodes.retain(|(_, w)| *w != wires);
            }
        }
    }

    /// Ways from a supply; those that differ only in the line as one.
    fn ways(&mut self, paths: &[Path]) {
        let way = |p: &Path| {
            let hops: Vec<(Link, NodeId)> = p.hops.iter().map(|h| (h.link, h.to.node)).collect();
            (p.from.node, hops, p.cuts.clone(), p.not_held.clone())
        };
        let mut told: Vec<(_, &Path, Vec<&str>)> = Vec::new();
        for path in paths {
            let key = way(path);
            match told.iter_mut().find(|(k, ..)| *k == key) {
                Some((.., wires)) if wires.contains(&path.from.wire.name()) => {}
                Some((.., wires)) => wires.push(path.from.wire.name()),
                None => told.push((key, path, vec![path.from.wire.name()])),
            }
        }
        for (_, path, wires) in told {
            let told = self.path(&wires.join(" "), path.from.node, &path.hops);
            self.line(format!("  {told}"));
            for cut in &path.cuts {
                let cut = match cut {
                    Cut::Lock(d) => format!("lock on {}", self.job.job.devices.name(*d)),
                    Cut::Joint(j) => format!("termination {} off", self.job.job.joints.name(*j)),
                };
                self.line(format!("      cut by {cut}"));
            }
            for d in &path.not_held {
                let name = self.job.job.devices.name(*d).to_owned();
                self.line(match self.job.job.devices[*d].self_acting {
                    Some(_) => format!("      {name} acts by itself, so it counts as closed"),
                    None => format!("      {name} is open, but nothing keeps it so"),
                });
            }
        }
        if paths.is_empty() {
            self.line("  none");
        }
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
                let path = self.path(no.from.wire.name(), no.from.node, &no.hops);
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

    /// What a missing lock lays open; `chosen` is the set of locks taken as on, where the moment
    /// itself has no lock there.
    pub fn without(
        &mut self,
        device: DeviceId,
        chosen: Option<&[DeviceId]>,
        locked: bool,
        found: &[Unsafe],
    ) {
        let name = self.job.job.devices.name(device).to_owned();
        self.line("");
        self.line(format!("WITHOUT THE LOCK ON {name}"));
        if !locked {
            let set: Vec<&str> =
                chosen.unwrap_or_default().iter().map(|d| self.job.job.devices.name(*d)).collect();
            self.line(match set.is_empty() {
                true => "  it carries no lock then, so nothing changes".to_owned(),
                false => format!(
                    "  it is none of the chosen locks ({}), so nothing changes",
                    set.join(", ")
                ),
            });
            return;
        }
        if let Some(rest) = chosen {
            let rest = rest.iter().filter(|d| **d != device);
            let rest: Vec<&str> = rest.map(|d| self.job.job.devices.name(*d)).collect();
            if !rest.is_empty() {
                self.line(format!("  with the other chosen locks on: {}", rest.join(", ")));
            }
        }
        for place in found {
            let at = match place.place {
                crate::network::Place::Position(p) => self.job.job.positions.name(p).to_owned(),
                crate::network::Place::Circuit(c) => self.job.job.circuits.name(c).to_owned(),
                crate::network::Place::Node(n) => self.job.job.nodes.name(n).to_owned(),
            };
            let path = self.path(place.from.wire.name(), place.from.node, &place.hops);
            self.line(format!("  {at} is no longer safe: {path}"));
        }
        if found.is_empty() {
            self.line("  nothing becomes unsafe: other locks hold");
        }
    }
}
