//! The time looked at; areas, windows, deliveries, people and instruments.

use super::build::{Build, get, rows, text};
use super::kinds::figure;
use crate::diag::Fault;
use crate::jobfile::schema::{Figure, PersonRow, Profile, Root};
use crate::jobfile::value::{At, Cx};
use crate::jobfile::when::{Days, Hours, Zone};
use crate::model::site::{Contact, PersonLabel};
use crate::model::*;
use crate::units::{Minutes, Period, Volts};

/// What holds for the whole job.
pub(super) struct Frame {
    pub zone: Zone,
    pub span: Period,
    pub profile: Profile,
    pub figure: Figure,
    pub percentile: i64,
}

/// Longest time looked at, in days.
const DAYS: i64 = 400;

/// The site's zone and the time looked at; `None` where these are not to be had.
pub(super) fn frame(root: &Root, cx: &mut Cx) -> Option<Frame> {
    let row = &root.job.as_ref()?.value;
    let (name, from, to) = (row.zone.as_ref()?, row.from.as_ref()?, row.to.as_ref()?);
    let zone = Zone::new(name, from.value.date, cx)?;
    let (start, end) = (zone.moment(from, cx), zone.moment(to, cx));
    let (start, end) = (start?, end?);
    if start >= end {
        let also = Some((from.span, "starts here"));
        cx.tell(Fault::EndsBeforeItStarts { what: "the time looked at" }, to.span, also, None);
        return None;
    }
    if (end - start).0 > DAYS * 1440 {
        let found = usize::try_from((end - start).0 / 1440).unwrap_or(usize::MAX);
        cx.fault(Fault::TooMany { what: "days", found, limit: DAYS as usize }, to.span);
        return None;
    }
    let figure = get(&row.planned).unwrap_or(Figure::Mean);
    let percentile = row.percentile.as_ref().map_or(80, |p| p.value.0);
    let profile = get(&row.profile).unwrap_or(Profile::Uk);
    Some(Frame { zone, span: Period { from: start, to: end }, profile, figure, percentile })
}

impl Build {
    /// The merged stretches of rules within the time looked at.
    pub fn periods(&mut self, rules: &[At<Hours>], except: &[jiff::civil::Date]) -> Vec<Period> {
        let span = self.frame.span;
        let zone = self.frame.zone.clone();
        zone.periods(rules, except, span, &mut self.cx)
    }
}

/// Policy, areas and deliveries.
pub(super) fn areas(b: &mut Build) {
    policy(b);
    for row in rows(&b.root.area) {
        let Some(name) = &row.name else { continue };
        let except: Vec<_> = rows(&row.closed).iter().map(|d| d.0).collect();
        let occupied = b.periods(&rows(&row.occupied), &except);
        let area = Area {
            occupied,
            autonomy: Minutes(row.autonomy_min.as_ref().map_or(0, |m| m.value.0)),
            measure: get(&row.measure),
            task_lighting: get(&row.task_lighting),
            lighting: Vec::new(),
        };
        if b.fresh("area", &name.value, name.span) {
            b.job.areas.add(name.value.clone(), area);
            b.site.areas.push(text(&row.notice_to));
        }
    }
    for row in rows(&b.root.delivery) {
        let (Some(name), Some(at)) = (&row.name, &row.at) else { continue };
        let when = b.frame.zone.clone().moment(at, &mut b.cx);
        if b.fresh("delivery", &name.value, name.span) {
            b.job.deliveries.add(name.value.clone(), when.unwrap_or(Minutes::ZERO));
        }
    }
}

/// Areas next to each other, once a pair, whichever of the two says so.
pub(super) fn neighbours(b: &mut Build) -> Vec<[AreaId; 2]> {
    let mut pairs = std::collections::BTreeSet::new();
    for row in rows(&b.root.area) {
        let area = row.name.as_ref().and_then(|n| b.job.areas.find(&n.value));
        for other in rows(&row.next_to) {
            let (Some(one), Some(two)) = (area, b.area(&other)) else { continue };
            if one == two {
                let why = format!("area `{}` is said to be next to itself", other.value);
                b.cx.fault(crate::diag::Fault::Conflict { why }, other.span);
            }
            pairs.insert([one.min(two), one.max(two)]);
        }
    }
    pairs.into_iter().collect()
}

fn policy(b: &mut Build) {
    let Some(row) = b.root.policy.as_ref().map(|p| p.value.clone()) else { return };
    let p = &mut b.job.policy;
    let mins = |value: &Option<At<crate::jobfile::value::Mins>>, old: Minutes| {
        value.as_ref().map_or(old, |m| Minutes(m.value.0))
    };
    p.f = figure(&row.other_hours).unwrap_or_else(|| p.f.clone());
    p.q = figure(&row.per_outage).unwrap_or_else(|| p.q.clone());
    p.v = figure(&row.per_attendance).unwrap_or_else(|| p.v.clone());
    p.h = figure(&row.per_temporary_hour).unwrap_or_else(|| p.h.clone());
    p.margin = mins(&row.margin_min, p.margin);
    p.dead_volts = figure(&row.dead_volts).map_or_else(|| p.dead_volts.clone(), Volts);
    p.proof_life = mins(&row.proof_life_min, p.proof_life);
    p.longest_stretch = mins(&row.longest_stretch_min, p.longest_stretch);
    p.break_length = mins(&row.break_min, p.break_length);
    p.alone = get(&row.working_alone);
}

/// Windows, then people, whose presence defaults to them, and instruments.
pub(super) fn windows_people(b: &mut Build) {
    let zone = b.frame.zone.clone();
    let all: Vec<AreaId> = b.job.areas.ids().collect();
    let mut opened = Vec::new();
    for row in rows(&b.root.window) {
        let (Some(name), Some(when)) = (&row.name, &row.when) else { continue };
        let areas = match &row.areas {
            Some(list) => list.value.iter().filter_map(|a| b.area(a)).collect(),
            None => all.clone(),
        };
        let except: Vec<_> = rows(&row.except).iter().map(|d| d.0).collect();
        let single = matches!(when.value, Hours::On(Days::Dates(x, y), _, _) if x == y);
        let told = b.cx.faults.len();
        let found = zone.stretches(when, &except, b.frame.span, &mut b.cx);
        if !b.fresh("window", &name.value, name.span) {
            continue;
        }
        let quiet = b.cx.faults.len() == told;
        if found.is_empty() && quiet && !matches!(when.value, Hours::Never) {
            let why = format!("window `{}` never opens in the time looked at", name.value);
            b.cx.fault(Fault::Conflict { why }, when.span);
        }
        for (day, period) in found {
            let id = if single { name.value.clone() } else { format!("{} {day}", name.value) };
            opened.push((period, id, areas.clone()));
        }
    }
    opened.sort_by(|a, b| (a.0, &a.1).cmp(&(b.0, &b.1)));
    for (period, id, areas) in opened {
        if b.job.windows.add(id.clone(), Window { period, areas }).is_none() {
            let span = b.root.window.as_ref().map_or(b.root.span, |w| w.span);
            b.cx.fault(Fault::Doubled { what: "window", name: id }, span);
        }
    }
    if rows(&b.root.window).is_empty() && b.root.window.is_some() {
        let span = b.root.window.as_ref().map_or(b.root.span, |w| w.span);
        b.cx.fault(Fault::NoneOf { what: "window" }, span);
    }
    let open = Period::merged(b.job.windows.rows().iter().map(|w| w.period));
    for row in rows(&b.root.person) {
        person(b, &row, &open);
    }
    if rows(&b.root.person).is_empty() && b.root.person.is_some() {
        b.cx.fault(Fault::NoneOf { what: "person" }, b.root.span);
    }
    for row in rows(&b.root.instrument) {
        let Some(name) = &row.name else { continue };
        let kinds = rows(&row.kinds).into_iter().map(|k| k.value).collect();
        if b.fresh("instrument", &name.value, name.span) {
            b.job.instruments.add(name.value.clone(), Instrument { kinds });
            let calibrated = get(&row.calibrated_to).map(|d| format!("calibrated to {}", d.0));
            let words: Vec<String> = get(&row.number).into_iter().chain(calibrated).collect();
            b.site.instruments.push(words.join(", "));
        }
    }
    for kind in [DETECTOR, TESTER] {
        if !b.job.instruments.rows().iter().any(|i| i.kinds.iter().any(|k| k == kind)) {
            let span = b.root.instrument.as_ref().map_or(b.root.span, |i| i.span);
            let what = if kind == DETECTOR {
                "instrument of kind `detector`"
            } else {
                "instrument of kind `tester`"
            };
            b.cx.fault(Fault::NoneOf { what }, span);
        }
    }
}

fn person(b: &mut Build, row: &PersonRow, open: &[Period]) {
    let Some(name) = &row.name else { return };
    let kind = |b: &mut Build, word: &At<String>| {
        let found = TaskKind::read(&word.value.replace([' ', '-'], "_"));
        if found.is_none() {
            b.cx.unknown("kind of work", word, TaskKind::ALL.iter().map(|k| k.name()));
        }
        found
    };
    let mut may: Vec<TaskKind> = match &row.may {
        Some(list) => list.value.iter().filter_map(|w| kind(b, w)).collect(),
        None => {
            b.default("what a person may do", "all work");
            TaskKind::ALL.to_vec()
        }
    };
    let not: Vec<TaskKind> = rows(&row.may_not).iter().filter_map(|w| kind(b, w)).collect();
    may.retain(|k| !not.contains(k));
    let away: Vec<_> = rows(&row.away).iter().map(|d| d.0).collect();
    let present = match &row.present {
        Some(rules) => b.periods(&rules.value, &away),
        None => {
            b.default("when a person is there", "in every window");
            open.to_vec()
        }
    };
    if b.fresh("person", &name.value, name.span) {
        b.job.people.add(name.value.clone(), Person { may, present });
        let role = b.or(&row.role, "role of a person", "electrician", "electrician".to_string());
        b.site.people.push(PersonLabel { role, phone: text(&row.phone) });
        if row.phone.is_some() {
            let (name, phone) = (name.value.clone(), text(&row.phone));
            b.site.contacts.push(Contact { name, role: text(&row.role), phone });
        }
    }
}
