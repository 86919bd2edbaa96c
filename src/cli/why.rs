//! `why`: what an outage waits for, what would shorten it, and what the plan as a whole costs whom.

use super::say::{self, Page};
use super::{Exit, Search, load};
use crate::jobfile::Resolved;
use crate::model::*;
use crate::plan::Plan;
use crate::search::changes::{self, Change, Help};
use crate::search::minimal::{Minimal, Reason};
use crate::search::why::{self, Link, Waited};
use crate::units::{Minutes, fixed};
use std::path::Path;

pub fn run(folder: &Path, name: Option<&str>, search: &Search) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let about = match name.map(|n| (n, find(&job, n))) {
        None => None,
        Some((_, Some(found))) => Some(found),
        Some((name, None)) => {
            eprintln!("error: `{name}` is no circuit and no load of this job");
            let known = job.job.loads.names().chain(job.job.circuits.names());
            if let Some(near) = crate::diag::nearest(name, known) {
                eprintln!("hint: did you mean `{near}`?");
            }
            return Ok(Exit::Unusable);
        }
    };
    let checked = match load::plan(&job, search.options(&job.job), &search.wait()) {
        Ok(checked) => checked,
        Err(exit) => return Ok(exit),
    };
    let plan = checked.sound.plan();
    let mut page = Page::default();
    page.line(&job.job.name);
    page.line(format!("plan {}", checked.fingerprint));
    match about {
        Some(loads) => {
            for l in loads {
                one(&mut page, &job, plan, l, search);
            }
        }
        None => whole_plan(&mut page, &job, plan, search),
    }
    super::out(&page.0);
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}

/// The loads that are meant: one by its name, or those of a circuit.
fn find(r: &Resolved, name: &str) -> Option<Vec<LoadId>> {
    if let Some(l) = r.job.loads.find(name) {
        return Some(vec![l]);
    }
    let c = r.job.circuits.find(name)?;
    Some(r.job.loads.iter().filter(|(_, l)| l.circuits.contains(&c)).map(|(id, _)| id).collect())
}

fn one(page: &mut Page, r: &Resolved, plan: &Plan, id: LoadId, search: &Search) {
    let (job, clock) = (&r.job, &r.site.clock);
    let load = &job.loads[id];
    page.line("");
    let outages = plan.claims.outages.get(&id).map_or(&[][..], Vec::as_slice);
    if outages.is_empty() {
        page.wrapped("", &format!("{} is never out.", job.loads.name(id)));
        return;
    }
    for outage in outages {
        page.wrapped(
            "",
            &format!(
                "{} is out from {} to {}, {}. That end waits for, in order of time:",
                job.loads.name(id),
                clock.full(outage.from),
                clock.time(outage.to),
                outage.length()
            ),
        );
        let links = why::chain(plan, &load.circuits, *outage);
        let mut last = None;
        for link in &links {
            row(page, r, plan, link, last);
            last = Some(link.span.period.to);
        }
    }
    page.line("");
    page.line("WHAT WOULD SHORTEN IT (each planned anew)");
    let ready = |c: &CircuitId| r.labour.circuits[c.index()].readiness == Readiness::Prepared;
    let mut tried = changes::resources(job);
    tried.extend(load.circuits.iter().copied().filter(|c| !ready(c)).map(Change::Prepared));
    let before = why::minutes_out(plan, id);
    let mut helps: Vec<(Minutes, Help)> =
        changes::helps(job, &r.labour, &tried, &plan.claims.j, search.options(job))
            .into_iter()
            .map(|h| (why::minutes_out(&h.plan, id), h))
            .filter(|(out, _)| *out < before)
            .collect();
    helps.sort_by_key(|(out, _)| *out);
    if helps.is_empty() {
        page.wrapped("  ", "none of the changes that were tried (a person, a tester, a supply, a window, longer windows, the circuit pre-tested) makes it shorter without making the plan dearer");
    }
    for (out, help) in helps {
        let what = change_words(r, help.change);
        page.wrapped("  - ", &format!("{what}: out for {out} instead of {before}"));
    }
}

fn row(page: &mut Page, r: &Resolved, plan: &Plan, link: &Link, last: Option<Minutes>) {
    let job = &r.job;
    let from = link.span.period.from;
    let idle = last.map_or(0, |t| (from - t).0);
    let wait = match link.waited {
        Waited::Begins => "the outage begins here".to_owned(),
        Waited::Order => "needs the row above".to_owned(),
        Waited::Person(p) => format!("{} was on the row above", job.people.name(p)),
        Waited::Instrument(i) => format!("{} was on the row above", job.instruments.name(i)),
        Waited::Place => "its place was taken by the row above".to_owned(),
    };
    let idle = if idle > 0 { format!(", and {idle} min more of waiting") } else { String::new() };
    let name = plan.tasks.name(link.span.task);
    let name = name.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ' ');
    page.wrapped(
        &format!("  {}  {:>4} min  ", r.site.clock.time(from), link.span.period.length().0),
        &format!("{name} ({wait}{idle})"),
    );
}

fn whole_plan(page: &mut Page, r: &Resolved, plan: &Plan, search: &Search) {
    let (job, clock) = (&r.job, &r.site.clock);
    page.line("");
    page.line("THE DEAREST OUTAGES");
    for dear in why::dearest(job, plan, 5) {
        let label = format!(
            "  {} to {}  {:>4} min  ",
            clock.short(dear.outage.from),
            clock.time(dear.outage.to),
            dear.outage.length().0
        );
        page.wrapped(
            &label,
            &format!(
                "{}: importance {} times {} min while needed and {} min at other hours (each at \
                 {}) = {}",
                job.loads.name(dear.load),
                fixed(&job.loads[dear.load].weight, 1),
                fixed(&dear.needed, 0),
                fixed(&dear.other, 0),
                fixed(&job.policy.f, 2),
                fixed(&dear.costs, 1)
            ),
        );
    }
    page.line("");
    page.line("WHAT WOULD HELP MOST (each planned anew)");
    let before = &plan.claims.j;
    let helps =
        changes::helps(job, &r.labour, &changes::resources(job), before, search.options(job));
    if helps.is_empty() {
        page.wrapped("  ", "none of the changes that were tried (a person, a tester, a supply, a window, an hour more in each window) gives a cheaper plan");
    }
    for help in helps.iter().take(3) {
        page.wrapped(
            "  - ",
            &format!(
                "{}: downtime cost {} instead of {}",
                change_words(r, help.change),
                fixed(&help.after, 1),
                fixed(before, 1)
            ),
        );
    }
}

fn change_words(r: &Resolved, change: Change) -> String {
    match change {
        Change::Person => "one more person, there as the first is".to_owned(),
        Change::Tester => "one more tester".to_owned(),
        Change::Supply(s) => format!("one more supply like {}", r.job.supplies.name(s)),
        Change::Window(days) => {
            let day = if days == 1 { "day" } else { "days" };
            format!("one more window like the last, {days} {day} after it")
        }
        Change::Longer(by) => format!("every window starting {by} earlier"),
        Change::Prepared(c) => {
            format!("circuit {} identified and pre-tested before", r.job.circuits.name(c))
        }
    }
}

/// A smallest set of reasons for a refusal.
pub fn reasons(page: &mut Page, r: &Resolved, minimal: &Minimal) {
    page.wrapped(
        "",
        "A smallest set of reasons. With all of them no plan was found, whatever else of the job \
         was given up; without one of them there is one, planned each time:",
    );
    for reason in &minimal.needed {
        let without = if minimal.enough.contains(reason) {
            "giving up this alone is enough"
        } else {
            "giving up this is enough only together with more"
        };
        page.wrapped("  - ", &format!("{}; {without}", reason_words(r, reason)));
    }
    let told: Vec<String> = minimal.give_up.iter().map(|d| reason_words(r, d)).collect();
    if !told.is_empty() {
        page.wrapped(
            "mend: ",
            &format!("there is a plan (computed) without what is {}", told.join(", and ")),
        );
    }
}

fn reason_words(r: &Resolved, reason: &Reason) -> String {
    let job = &r.job;
    match reason {
        Reason::People => format!("there are {} people (two more would do)", job.people.len()),
        Reason::Testers => "there are so few testers (two more would do)".to_owned(),
        Reason::Margin => format!("outages end {} before their window does", job.policy.margin),
        Reason::Autonomy(a) => {
            format!(
                "emergency lighting of {} has to last {}",
                job.areas.name(*a),
                job.areas[*a].autonomy
            )
        }
        Reason::LifeSafety(l) => format!("{} serves life safety: never out", job.loads.name(*l)),
        Reason::Single(l) => format!(
            "{} may be out for {} at a time",
            job.loads.name(*l),
            job.loads[*l].max_single.unwrap_or_default()
        ),
        Reason::Total(l) => format!(
            "{} may be out for {} in all",
            job.loads.name(*l),
            job.loads[*l].max_total.unwrap_or_default()
        ),
        Reason::Delivery(d) => format!(
            "{} comes on {}",
            job.deliveries.name(*d),
            r.site.clock.full(job.deliveries[*d])
        ),
        Reason::Areas => "windows are open for some areas only".to_owned(),
        Reason::Windows => "windows are as long as they are (six hours more would do)".to_owned(),
        Reason::Fixed(decision) => {
            let pins = r.labour.pins.iter().enumerate().filter(|(_, p)| p.decision == *decision);
            let told: Vec<String> = pins.map(|(i, _)| say::fixed_words(r, i)).collect();
            format!("fixed by you: {}", told.join("; "))
        }
    }
}
