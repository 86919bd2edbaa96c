//! The papers of a checked plan: view structs filled here, set by the templates.
//!
//! Every paper takes a [`SoundPlan`], so nothing unchecked can be printed. The templates do no
//! arithmetic; what a page says in words is put together here.

mod checklist;
mod method;
mod name;
mod steps;

use crate::model::Site;
use crate::model::{Id, Labour};
use crate::verify::SoundPlan;
use serde::Serialize;
use tera::{Context, Tera};

/// What the papers are made of.
pub struct Input<'a> {
    /// The plan, with its job and its replay.
    pub sound: &'a SoundPlan,
    /// Labels, people, clock, provenance.
    pub site: &'a Site,
    /// Task templates, for the holds and who does them.
    pub labour: &'a Labour,
    /// Short fingerprint of the plan.
    pub fingerprint: &'a str,
}

/// A paper, ready to be written.
pub struct Paper {
    /// Name of its file.
    pub file: String,
    /// Its title.
    pub title: String,
    /// HTML.
    pub content: String,
}

/// What every page of a paper carries.
#[derive(Serialize)]
struct Head {
    title: String,
    job: String,
    number: String,
    company: String,
    client: String,
    place: String,
    author: String,
    approver: String,
    revision: String,
    revision_on: String,
    fingerprint: String,
    draft: bool,
    survey: String,
    /// `@page` margin text, as a CSS string.
    margin: String,
    other: String,
}

/// The two papers of a plan.
///
/// # Errors
///
/// If the site's labels do not fit the plan's job, or a template fails.
pub fn pack(input: &Input) -> anyhow::Result<Vec<Paper>> {
    fits(input)?;
    let mut tera = Tera::default();
    tera.add_raw_templates([
        ("base.html", include_str!("../templates/base.html")),
        ("method-statement.html", include_str!("../templates/method-statement.html")),
        ("lock-off-checklist.html", include_str!("../templates/lock-off-checklist.html")),
    ])?;
    let steps = steps::steps(input);
    let method = method::view(input, &steps);
    let checklist = checklist::view(input, &steps);
    Ok(vec![
        set(&tera, input, "method-statement", ["Method statement", "Lock-off checklist"], &method)?,
        set(
            &tera,
            input,
            "lock-off-checklist",
            ["Lock-off checklist", "Method statement"],
            &checklist,
        )?,
    ])
}

fn set(
    tera: &Tera,
    input: &Input,
    stem: &str,
    [title, other]: [&str; 2],
    view: &impl Serialize,
) -> anyhow::Result<Paper> {
    let file = format!("{stem}.html");
    let mut context = Context::new();
    context.insert("head", &head(input, title, other));
    context.insert("view", view);
    let content = tera.render(&file, &context)?;
    Ok(Paper { file, title: title.to_owned(), content })
}

fn head(input: &Input, title: &str, other: &str) -> Head {
    let paper = &input.site.paper;
    let last = paper.revisions.last();
    let revision = last.map_or_else(|| "first issue".to_owned(), |r| r.mark.clone());
    let job = &input.sound.job().name;
    let draft = input.site.draft();
    let mark = if draft { "DRAFT, NOT FOR SITE. " } else { "" };
    let margin =
        format!("{mark}{job} | {title} | revision {revision} | plan {}", input.fingerprint);
    Head {
        title: title.to_owned(),
        job: job.clone(),
        number: paper.number.clone(),
        company: paper.company.clone(),
        client: paper.client.clone(),
        place: paper.place.clone(),
        author: paper.author.clone(),
        approver: paper.approver.clone(),
        revision,
        revision_on: last.map(|r| r.on.clone()).unwrap_or_default(),
        fingerprint: input.fingerprint.to_owned(),
        draft,
        survey: format!("{}, {}", input.site.survey.by, input.site.survey.on),
        margin: css_string(&margin),
        other: other.to_owned(),
    }
}

/// Text as the inside of a CSS string: all but plain letters, digits and a few signs escaped, so
/// that it can end neither the string nor the style element.
fn css_string(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || " ,.:|-/()".contains(c) {
            out.push(c);
        } else if !c.is_control() {
            out.push_str(&format!("\\{:06x}", u32::from(c)));
        }
    }
    out
}

/// The labels run in step with the job that was read back from the plan's record.
fn fits(input: &Input) -> anyhow::Result<()> {
    let (job, site) = (input.sound.job(), input.site);
    let rows = [
        (site.circuits.len(), job.circuits.len()),
        (site.boards.len(), job.boards.len()),
        (site.nodes.len(), job.nodes.len()),
        (site.devices.len(), job.devices.len()),
        (site.positions.len(), job.positions.len()),
        (site.groups.len(), job.groups.len()),
        (site.supplies.len(), job.supplies.len()),
        (site.people.len(), job.people.len()),
        (site.instruments.len(), job.instruments.len()),
        (site.loads.len(), job.loads.len()),
        (site.areas.len(), job.areas.len()),
    ];
    anyhow::ensure!(
        rows.iter().all(|(labels, facts)| labels == facts) && input.labour.fits(job),
        "the labels of the site do not belong to this plan's job"
    );
    let numbers = job.circuits.ids().all(|c| {
        let label = &site.circuits[c.index()];
        label.old.as_ref().is_none_or(|w| w.board.index() < job.boards.len())
            && label.new.as_ref().is_none_or(|w| w.board.index() < job.boards.len())
    });
    anyhow::ensure!(numbers, "a circuit is labelled with a board that the job does not have");
    Ok(())
}
