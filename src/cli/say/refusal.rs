//! A refusal in plain words: what binds, by how much, and what would mend it.

use super::{Page, fixed_words};
use crate::cli::why;
use crate::jobfile::Resolved;
use crate::search::judge::Trouble;
use crate::search::refuse::{Fact, Mend, Met, Refusal};
use crate::units::fixed;

/// A refusal as a short tree: what binds, by how much, and what would mend it.
pub fn refusal(job: &Resolved, refusal: &Refusal) -> String {
    let mut page = Page::default();
    page.line(if refusal.proved() {
        format!("refused: no plan of `{}` can be safe and in time", job.job.name)
    } else {
        format!("none found, not proved impossible: no plan of `{}` was found", job.job.name)
    });
    for fact in &refusal.facts {
        page.wrapped("  because ", &fact_words(job, fact));
    }
    for met in &refusal.met {
        page.wrapped("  in the way: ", &met_words(job, met));
    }
    if let Some(minimal) = &refusal.minimal {
        why::reasons(&mut page, job, minimal);
    }
    if refusal.mends.is_empty() {
        page.wrapped("mend: ", "none of the changes that were tried (a tester, a person, longer windows) gives a plan; see the reasons above");
    }
    for set in &refusal.mends {
        let parts: Vec<String> = set.iter().map(mend_words).collect();
        page.wrapped("mend: ", &format!("with {} there is a plan (computed)", parts.join(" and ")));
    }
    page.0
}

fn mend_words(mend: &Mend) -> String {
    match mend {
        Mend::Tester => "one more tester".to_owned(),
        Mend::Person => "one more person, there as the first is".to_owned(),
        Mend::LongerWindows(by) => format!("every window starting {by} earlier"),
    }
}

fn fact_words(r: &Resolved, fact: &Fact) -> String {
    let job = &r.job;
    match fact {
        Fact::Testers { work, room, testers, windows } => format!(
            "dead and live tests take {work}, all of them while something is off, and {testers} \
             {} in {windows} {} has at most {room}, less the margin: over by {}",
            if *testers == 1 { "tester" } else { "testers" },
            if *windows == 1 { "window" } else { "windows" },
            *work - *room
        ),
        Fact::People { work, room } => format!(
            "the work on the circuits takes {work} of people in windows, and they are there for \
             {room}: over by {}",
            *work - *room
        ),
        Fact::SamePlace { board, least, room } => format!(
            "`{}` is renewed in its place, so that its circuits are off for at least {least}, and \
             the longest window has {room} before its margin: over by {}",
            job.boards.name(*board),
            *least - *room
        ),
        Fact::TailsChangeover { board, least, room } => format!(
            "the tails changeover to `{}`, discharged first and the board tested after it, takes at \
             least {least} with everything off, and the longest window has {room} before its margin: over by {}",
            job.boards.name(*board),
            *least - *room
        ),
        Fact::LoadLimit { load, limit, least, unsupplied } => {
            let name = job.loads.name(*load);
            let tail =
                if *unsupplied { ", and no temporary supply can be joined to it" } else { "" };
            format!(
                "`{name}` may be out for {limit}, but moving its circuit takes at least {least}{tail}: \
                 over by {}",
                *least - *limit
            )
        }
        Fact::Late { circuit, at, last } => format!(
            "what circuit `{}` waits for comes on {}, {} after the last window, and the job does \
             not say that it may stay off",
            job.circuits.name(*circuit),
            r.site.clock.full(*at),
            *at - *last
        ),
        Fact::Fixed(pins) => {
            let told: Vec<String> = pins.iter().map(|p| fixed_words(r, *p)).collect();
            format!("what you have fixed cannot all be: {}", told.join("; "))
        }
        Fact::NoIsolation { board, path } => {
            let mut way: Vec<&str> = vec![job.nodes.name(path.from.node)];
            for hop in &path.hops {
                way.push(match hop.link {
                    crate::network::Link::Device(d) => job.devices.name(d),
                    crate::network::Link::Joint(j) => job.joints.name(j),
                });
                way.push(job.nodes.name(hop.to.node));
            }
            let add: Vec<&str> = path
                .add_at
                .iter()
                .map(|link| match link {
                    crate::network::Link::Device(d) => job.devices.name(*d),
                    crate::network::Link::Joint(j) => job.joints.name(*j),
                })
                .collect();
            let mend = if add.is_empty() {
                String::new()
            } else {
                format!("; a lockable isolating device is needed at {}", add.join(", "))
            };
            format!(
                "`{}` cannot be isolated and locked off: {} stays joined by {}{mend}",
                job.boards.name(*board),
                path.from.wire,
                way.join(" - ")
            )
        }
        Fact::NoWindow { areas } => {
            let names: Vec<&str> = areas.iter().map(|a| job.areas.name(*a)).collect();
            format!("no window is open for {} together", names.join(", "))
        }
    }
}

fn met_words(r: &Resolved, met: &Met) -> String {
    let job = &r.job;
    match met {
        Met::Task { task, window, by: Some(by) } => format!(
            "in window `{}`, `{task}` came {by} min too late in the best order tried",
            job.windows.name(*window)
        ),
        Met::Task { task, window, by: None } if task.is_empty() => {
            format!(
                "window `{}` has no order in which every proof holds",
                job.windows.name(*window)
            )
        }
        Met::Task { task, window, by: None } => format!(
            "in window `{}`, nobody who may is there for `{task}`, or its place is too small",
            job.windows.name(*window)
        ),
        Met::Team(window) => {
            format!(
                "in window `{}` too few people are there for long enough",
                job.windows.name(*window)
            )
        }
        Met::Supply(supply, window) => format!(
            "in window `{}`, `{}` would itself go dead",
            job.windows.name(*window),
            job.supplies.name(*supply)
        ),
        Met::Limit(trouble) => trouble_words(r, trouble),
    }
}

fn trouble_words(r: &Resolved, trouble: &Trouble) -> String {
    let job = &r.job;
    match trouble {
        Trouble::TooLong { load, limit, is } => format!(
            "`{}` may be out for {limit} at a time; the nearest plan has {} min",
            job.loads.name(*load),
            fixed(is, 0)
        ),
        Trouble::TooMuch { load, limit, is } => format!(
            "`{}` may be out for {limit} in all; the nearest plan has {} min",
            job.loads.name(*load),
            fixed(is, 0)
        ),
        Trouble::LifeSafety { load, out } => format!(
            "`{}` serves life safety and no measure is named; in the nearest plan it is out for {} \
             min beyond its battery",
            job.loads.name(*load),
            fixed(out, 0)
        ),
        Trouble::Window { load, outage, by } => format!(
            "`{}` would be out from {} for {}, {by} beyond what its window allows",
            job.loads.name(*load),
            r.site.clock.short(outage.from),
            outage.length()
        ),
        Trouble::Autonomy { group, area, at, short } => format!(
            "`{}` would be {} min short of what `{}` requires at {}",
            job.groups.name(*group),
            fixed(&short.ceil(), 0),
            job.areas.name(*area),
            r.site.clock.short(*at)
        ),
        Trouble::Parted { group, at } => format!(
            "in the nearest plan `{}` and the lighting that it watches are not live together \
             behind one device at {}",
            job.groups.name(*group),
            r.site.clock.short(*at)
        ),
        Trouble::Fixed(pin) => {
            format!("fixed by you, and not kept by the nearest plan: {}", fixed_words(r, *pin))
        }
        Trouble::NoTest { group } => format!(
            "there is no time for the full-duration test of `{}` while nobody needs it, within the \
             time looked at",
            job.groups.name(*group)
        ),
    }
}
