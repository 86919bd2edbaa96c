//! Emergency lighting, old state against new: who feeds each group, which lighting it watches,
//! and whether both stay behind one device (rule E1 of the planning model).
//!
//! Made before any plan, and of a job with faults too, so that a schedule which parts a feed from
//! its lighting shows what is broken and which two references have to share a device.

use crate::model::site::GroupLabel;
use crate::model::*;
use crate::units::plain;
use std::fmt::Write;

/// Every emergency group of a job.
#[derive(Clone, Debug, Default)]
pub struct Matrix {
    /// By group, in the order of the job.
    pub rows: Vec<MatrixRow>,
}

/// One group, old against new.
#[derive(Clone, Debug)]
pub struct MatrixRow {
    /// Its name.
    pub group: String,
    /// Its areas.
    pub areas: String,
    /// Who has a part in it: the feed first, then the lighting, then control circuits.
    pub parts: Vec<Part>,
    /// Test key switch, luminaires, what kind of luminaires.
    pub fittings: String,
    /// Rated duration, recharge, charge at the start.
    pub battery: String,
    /// Lighting circuits that a declared sensing relay covers.
    pub relays: String,
    /// What becomes of the rule of one circuit.
    pub verdict: Verdict,
}

/// A circuit with its two references.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// What it does for the group.
    pub role: String,
    /// Its working number.
    pub circuit: String,
    /// Where it is at the start.
    pub old: String,
    /// Where it is at the end.
    pub new: String,
}

/// What becomes of the rule of one circuit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// One circuit feeds the group and lights its areas.
    Kept,
    /// Several circuits behind one device, before and after.
    Together,
    /// The old state breaks the rule, for the stated reason, and the change mends it.
    OnPurpose(String),
    /// The old state breaks the rule, for the stated reason, and nothing of it is moved.
    Carried(String),
    /// The old state breaks the rule, and nobody said why.
    Unexplained,
    /// Two references that have to share a device and do not.
    Broken(Part, Part),
}

/// The matrix of a job, complete or not.
pub(super) fn matrix(job: &Job, labels: &[GroupLabel]) -> Matrix {
    let row = |(id, group): (GroupId, &Group)| {
        let parts = parts(job, group);
        let label = labels.get(id.index());
        MatrixRow {
            group: job.groups.name(id).to_string(),
            areas: names(group.areas.iter().map(|a| job.areas.name(*a))),
            verdict: verdict(group, &parts),
            parts,
            fittings: fittings(group, label),
            battery: format!(
                "rated {}, recharge {}, {} min at the start",
                group.rated,
                group.recharge,
                plain(&group.charge)
            ),
            relays: names(group.relays.iter().map(|c| job.circuits.name(*c))),
        }
    };
    Matrix { rows: job.groups.iter().map(row).collect() }
}

fn names<'a>(all: impl Iterator<Item = &'a str>) -> String {
    all.collect::<Vec<_>>().join(", ")
}

fn parts(job: &Job, group: &Group) -> Vec<Part> {
    let mut parts =
        vec![part(job, "emergency feed", group.feed), part(job, "lighting watched", group.watches)];
    for (device, coil) in job.watched_coils(group) {
        parts.push(part(job, &format!("coil of {}", job.devices.name(device)), coil));
    }
    parts
}

fn part(job: &Job, role: &str, circuit: CircuitId) -> Part {
    let way = |place: Place| {
        let joint = job.joints.rows().iter().find(|j| j.of == Some((circuit, place)));
        joint.map(|j| job.nodes.name(j.a).to_string())
    };
    let old = way(Place::Old);
    // A circuit without a new way stays on its old one.
    let new = way(Place::New).or_else(|| old.clone());
    Part {
        role: role.to_string(),
        circuit: job.circuits.name(circuit).to_string(),
        old: old.unwrap_or_else(|| "-".to_string()),
        new: new.unwrap_or_else(|| "-".to_string()),
    }
}

fn verdict(group: &Group, parts: &[Part]) -> Verdict {
    let feed = &parts[0];
    let apart = parts.iter().find(|p| p.new != feed.new);
    let was_one = parts.iter().all(|p| p.old == feed.old);
    let stays = parts.iter().all(|p| p.old == p.new);
    let reason = group.old_state_exempt.clone();
    match (apart, reason) {
        (Some(_), Some(why)) if stays => Verdict::Carried(why),
        (Some(other), _) => Verdict::Broken(feed.clone(), other.clone()),
        (None, _) if was_one && parts.iter().all(|p| p.circuit == feed.circuit) => Verdict::Kept,
        (None, _) if was_one => Verdict::Together,
        (None, Some(why)) => Verdict::OnPurpose(why),
        (None, None) => Verdict::Unexplained,
    }
}

fn fittings(group: &Group, label: Option<&GroupLabel>) -> String {
    let key = label.map_or("", |l| l.key_switch.as_str());
    let key = if key.is_empty() {
        "no test key switch stated".to_string()
    } else {
        format!("test key switch {key}")
    };
    let count = match label.and_then(|l| l.luminaires) {
        Some(1) => "1 luminaire".to_string(),
        Some(n) => format!("{n} luminaires"),
        None => "luminaires not counted".to_string(),
    };
    let kind = if group.maintained { "maintained" } else { "not maintained" };
    let rest = if group.rest_mode { "has rest mode" } else { "no rest mode" };
    format!("{key}; {count}, {kind}; {rest}")
}

impl Verdict {
    /// In words.
    pub fn words(&self) -> String {
        match self {
            Verdict::Kept => "kept: one circuit".to_string(),
            Verdict::Together => "kept by moving together".to_string(),
            Verdict::OnPurpose(why) => {
                format!("changed on purpose, from old ways that differ: {why}")
            }
            Verdict::Carried(why) => format!("NOT MENDED, stays as it is: {why}"),
            Verdict::Unexplained => "old ways differ, and the job does not say why".to_string(),
            Verdict::Broken(a, b) => format!(
                "BROKEN: {} {} ends on {}, {} {} on {}; {} and {} have to share a device",
                a.role, a.circuit, a.new, b.role, b.circuit, b.new, a.new, b.new
            ),
        }
    }
}

impl Matrix {
    /// Whether a feed parts from the lighting that it watches.
    pub fn broken(&self) -> bool {
        self.rows.iter().any(|r| matches!(r.verdict, Verdict::Broken(..)))
    }

    /// As text, 80 columns wide; nothing without groups.
    pub fn text(&self) -> String {
        let mut out = String::new();
        if self.rows.is_empty() {
            return out;
        }
        out.push_str("\nemergency lighting, old against new\n");
        for row in &self.rows {
            super::summary::item(&mut out, &format!("{} in {}", row.group, row.areas));
            let width = |of: fn(&Part) -> &str| {
                row.parts.iter().map(|p| of(p).chars().count()).max().unwrap_or(0)
            };
            let (role, circuit) = (width(|p| &p.role), width(|p| &p.circuit));
            let old = width(|p| &p.old);
            for p in &row.parts {
                // Writing to a String cannot fail.
                let _ = writeln!(
                    out,
                    "    {:role$}  {:circuit$}  OLD {:old$}  NEW {}",
                    p.role, p.circuit, p.old, p.new
                );
            }
            super::summary::item(&mut out, &format!("  {}", row.fittings));
            super::summary::item(&mut out, &format!("  {}", row.battery));
            if !row.relays.is_empty() {
                let relays = format!("  sensing relay covers {}", row.relays);
                super::summary::item(&mut out, &relays);
            }
            super::summary::item(&mut out, &format!("  {}", row.verdict.words()));
        }
        out
    }
}
