//! Emergency lighting that lets no plan through, in plain words.

use super::say::Page;
use crate::jobfile::Resolved;
use crate::search::dark::{Dark, DarkMend};

/// Which group is short by how many minutes, and what mends it.
pub fn words(r: &Resolved, dark: &Dark) -> String {
    let job = &r.job;
    let mut page = Page::default();
    for (group, area, need) in &dark.groups {
        page.wrapped(
            "  emergency lighting: ",
            &format!(
                "`{}` is {} short: `{}` asks for {need} while people are in, and with {} there is \
                 a plan (computed)",
                job.groups.name(*group),
                dark.short,
                job.areas.name(*area),
                *need - dark.short
            ),
        );
    }
    for mend in &dark.mends {
        page.wrapped("mend: ", &format!("with {} there is a plan (computed)", mend_words(r, mend)));
    }
    if dark.mends.is_empty() {
        page.wrapped(
            "mend: ",
            "no temporary supply of the job for that lighting, no earlier start and no later \
             opening that was tried gives a plan; name the measure taken instead in `measure` of \
             the area, if there is one",
        );
    }
    page.0
}

fn mend_words(r: &Resolved, mend: &DarkMend) -> String {
    let job = &r.job;
    match mend {
        DarkMend::Supply(supply, circuits, ways) => {
            let names: Vec<String> =
                circuits.iter().map(|c| format!("`{}`", job.circuits.name(*c))).collect();
            let ways = if *ways == 1 { "1 way".to_owned() } else { format!("{ways} ways") };
            format!("`{}`, of {ways}, for {}", job.supplies.name(*supply), names.join(" and "))
        }
        DarkMend::Earlier(by) => format!("every window {by} earlier"),
        DarkMend::Closed(areas) => {
            let words: Vec<String> = areas
                .iter()
                .map(|(a, t)| {
                    format!("`{}` kept closed until {}", job.areas.name(*a), r.site.clock.short(*t))
                })
                .collect();
            words.join(" and ")
        }
        DarkMend::ClosedFor(areas, span) => {
            let names: Vec<String> =
                areas.iter().map(|a| format!("`{}`", job.areas.name(*a))).collect();
            format!(
                "{} kept closed from {} to {}, which leaves time for the full-duration test,",
                names.join(" and "),
                r.site.clock.full(span.from),
                r.site.clock.short(span.to)
            )
        }
    }
}
