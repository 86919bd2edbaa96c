//! What every page of a paper carries.

use super::{Dress, Input, name};
use serde::Serialize;

#[derive(Serialize)]
pub struct Head {
    /// Stem of the paper's file, which is its class on the page.
    stem: String,
    title: String,
    job: String,
    number: String,
    company: String,
    client: String,
    place: String,
    author: String,
    approver: String,
    revision: String,
    /// `revision B`, or that there was none.
    issue: String,
    revision_on: String,
    fingerprint: String,
    draft: bool,
    survey: String,
    /// `@page` margin text, as a CSS string.
    margin: String,
    cautions: Vec<String>,
    /// The company's picture, as a `data:` address.
    logo: String,
    revisions: Vec<[String; 4]>,
}

/// The head of the paper with this stem and title.
pub fn head(input: &Input, dress: &Dress, stem: &str, title: &str) -> Head {
    let paper = &input.site.paper;
    let last = paper.revisions.last();
    let revision = last.map_or_else(|| "first issue".to_owned(), |r| r.mark.clone());
    let issue = last.map_or_else(|| revision.clone(), |r| format!("revision {}", r.mark));
    let job = &input.sound.job().name;
    let draft = input.site.draft();
    let mark = if draft { "DRAFT, NOT FOR SITE. " } else { "" };
    let margin = format!("{mark}{job} | {title} | {issue} | plan {}", input.fingerprint);
    Head {
        stem: stem.to_owned(),
        title: title.to_owned(),
        job: job.clone(),
        number: paper.number.clone(),
        company: paper.company.clone(),
        client: paper.client.clone(),
        place: paper.place.clone(),
        author: paper.author.clone(),
        approver: paper.approver.clone(),
        revision,
        issue,
        revision_on: last.map(|r| name::date(&r.on)).unwrap_or_default(),
        fingerprint: input.fingerprint.to_owned(),
        draft,
        survey: format!("{}, {}", input.site.survey.by, name::date(&input.site.survey.on)),
        margin: css_string(&margin),
        cautions: cautions(),
        logo: dress.logo.clone(),
        revisions: paper
            .revisions
            .iter()
            .map(|r| [r.mark.clone(), name::date(&r.on), r.what.clone(), r.by.clone()])
            .collect(),
    }
}

/// The usual cautions, on the first page of every paper that is worked from.
fn cautions() -> Vec<String> {
    [
        "Competent persons only. Whoever works from this paper is trained for isolation, proving dead and work on distribution boards, and says so on the sign-on sheet.",
        "Local rules, and the person in control of the installation, come first. Where they ask for more than this paper, do more; where they forbid, stop.",
        "The plan is only as true as the survey. Where the installation is found different from what is printed, stop, make safe, and have the plan made again.",
        "Prove dead at the point of work, whatever this paper says: detector proved before, every pair measured, detector proved after.",
        "Times are planned times. A step begins when the step before it is finished and signed, not when the clock says so.",
        "Earthing and short-circuiting at the point of work is omitted: indoor low voltage, with no induced or stored supply known. Where either is found, earth and short-circuit before touching.",
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Text as the inside of a CSS string: all but plain letters, digits and a few signs escaped, so
/// that it can end neither the string nor the style element. An escape takes one space after it away.
fn css_string(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || " ,.:|-/()".contains(c) {
            out.push(c);
        } else if !c.is_control() {
            out.push_str(&format!("\\{:06x} ", u32::from(c)));
        }
    }
    out
}
