//! The dates of full-duration tests as a calendar file.

use super::dates::{at_once, dates};
use crate::document::calendar::{self, Entry};
use crate::document::{Extra, Input, Step, name};
use crate::model::*;
use crate::units::{Minutes, Period};

/// The calendar of a job's full-duration tests; none without emergency groups.
///
/// # Errors
///
/// If two areas next to each other would be run down at one time.
pub fn calendar(input: &Input, _: &[Step]) -> anyhow::Result<Vec<Extra>> {
    let job = input.sound.job();
    if let Some([one, two]) = at_once(input).first() {
        anyhow::bail!(
            "the full-duration tests of `{}` and `{}`, next to each other, are at one time",
            job.groups.name(*one),
            job.groups.name(*two)
        );
    }
    if job.groups.is_empty() {
        return Ok(Vec::new());
    }
    let entries: Vec<Entry> = job.groups.ids().filter_map(|g| entry(input, g)).collect();
    Ok(vec![Extra {
        file: "emergency-tests.ics".to_owned(),
        purpose: "Full-duration tests of the emergency lighting, for a calendar".to_owned(),
        content: calendar::write(input, "Emergency lighting tests", &entries),
    }])
}

fn entry(input: &Input, g: GroupId) -> Option<Entry> {
    let d = dates(input, g)?;
    let (job, site) = (input.sound.job(), input.site);
    let group = &job.groups[g];
    let areas: Vec<String> = group.areas.iter().map(|a| job.areas.name(*a).to_owned()).collect();
    let areas = name::list(&areas);
    let mut says = vec![format!(
        "Run {} down for its rated {}, then put it back on supply. Job: {}, plan {}.",
        job.groups.name(g),
        name::minutes(group.rated),
        job.name,
        input.fingerprint
    )];
    if let Some(stretch) = d.stretch() {
        says.push(format!(
            "May start from {} to {}.",
            site.clock.full(stretch.from),
            site.clock.full(stretch.to - Minutes(1))
        ));
    }
    if !d.apart.is_empty() {
        let apart: Vec<String> = d.apart.iter().map(|o| job.groups.name(*o).to_owned()).collect();
        says.push(format!("Never at one time with {}.", name::list(&apart)));
    }
    Some(Entry {
        key: format!("full-duration test {}", job.groups.name(g)),
        period: Period { from: d.planned, to: d.planned + group.rated },
        summary: format!("Full-duration test {}, {areas}", job.groups.name(g)),
        description: says.join("\n"),
        place: site.paper.place.clone(),
    })
}
