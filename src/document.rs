//! The papers of a checked plan: view structs filled here, set by the templates.
//!
//! Every paper takes a [`SoundPlan`], so nothing unchecked can be printed. The templates do no
//! arithmetic; what a page says in words is put together here. A paper is a line in [`PAPERS`], a
//! module with a `view`, and a template of the same stem; a file that is no paper (a drawing, a
//! calendar) is a line in [`EXTRAS`].

mod brief;
mod calendar;
mod certificate;
mod chart;
mod checklist;
mod dated;
mod diagram;
mod emergency;
mod feed;
mod fields;
mod final_chart;
mod handover;
mod hazards;
mod head;
mod label_sheet;
mod ledger;
mod limits;
pub mod logo;
mod markup;
mod materials;
mod method;
mod name;
mod notice;
mod risk;
mod shrouds;
mod steps;
pub mod template;
mod test_sheets;
mod timeline;
mod torque;
mod waste_snags;
mod ways;
mod whole;
mod workbook;

use crate::model::{Id, Labour, Site};
use crate::plan::DecisionCost;
use crate::verify::SoundPlan;
use serde::Serialize;
use std::collections::BTreeMap;
use steps::Step;
use template::Templates;
use tera::{TeraResult, Value};
pub use whole::{for_both_sides, with_pdfs};
pub use workbook::Book;

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
    /// What each decision of the user costs, where that was worked out.
    pub costs: &'a [DecisionCost],
}

/// How a firm wants its papers.
#[derive(Default)]
pub struct Dress {
    /// Its own templates, by file name, in place of ours of the same name.
    pub templates: BTreeMap<String, String>,
    /// Its picture, as a `data:` address.
    pub logo: String,
}

/// Everything that is written for a plan.
pub struct Pack {
    /// The papers, in the order of the index.
    pub papers: Vec<Paper>,
    /// Files that go with them.
    pub extras: Vec<Extra>,
    /// Spreadsheets of papers that are sorted and filled in.
    pub books: Vec<Book>,
    /// The list of papers that they begin with when all are in one page.
    pub list: String,
    /// All papers in one page, to be printed in one go.
    pub whole: String,
    /// The page that tells what each is for.
    pub index: String,
}

/// A paper, ready to be written.
#[derive(Serialize)]
pub struct Paper {
    /// Name of its file.
    pub file: String,
    /// What it and those after it are there for, where that changes.
    pub group: &'static str,
    /// Its title.
    pub title: &'static str,
    /// Who carries it.
    pub reader: &'static str,
    /// What it is for.
    pub purpose: &'static str,
    /// HTML.
    #[serde(skip)]
    pub content: String,
}

/// A file that is no paper: a drawing, a calendar.
#[derive(Serialize)]
pub struct Extra {
    /// Name of its file.
    pub file: String,
    /// What it is for.
    pub purpose: String,
    /// What is in it.
    #[serde(skip)]
    pub content: String,
}

/// How a paper is made.
struct Recipe {
    stem: &'static str,
    title: &'static str,
    reader: &'static str,
    purpose: &'static str,
    template: &'static str,
    view: fn(&Input, &[Step]) -> TeraResult<Value>,
}

/// A recipe: the stem of its template and file, its module, its title, who carries it, what for.
macro_rules! paper {
    ($stem:literal, $module:ident, $title:literal, $reader:literal, $purpose:literal) => {
        Recipe {
            stem: $stem,
            title: $title,
            reader: $reader,
            purpose: $purpose,
            template: include_str!(concat!("../templates/", $stem, ".html")),
            view: |input, steps| Value::try_from_serializable(&$module::view(input, steps)),
        }
    };
}

/// All papers, in the order of the index.
#[rustfmt::skip]
const PAPERS: &[Recipe] = &[
    // For the client and the file.
    paper!("method-statement", method, "Method statement", "Client, supervisor, file",
        "What is done, when, by whom, and how to go back."),

    // Carried on the job.
    paper!("lock-off-checklist", checklist, "Lock-off checklist", "Whoever isolates and proves",
        "Every point of isolation, lock, key and reading, and the removal order."),
    paper!("lock-ledger", ledger, "Lock ledger", "Whoever is in charge of the locks",
        "Which lock is on what, whose, where its key is, and what work relies on it, at any minute."),
    paper!("second-brief", brief, "Brief for the second electrician", "Everybody but the first electrician",
        "What you do when, your locks, what is live around you, the words at each hold point."),
    paper!("circuit-chart", chart, "Circuit chart", "Whoever works at either board",
        "Old reference to new and new to old, and the order in which circuits move."),
    paper!("stage-diagrams", diagram, "Single-line and stage diagrams", "Whoever isolates, supervisor",
        "The supply as found and after every change of isolation: what is live, locked off, proved dead."),

    // For the doors of the boards.
    paper!("dated-charts", dated, "Charts for the doors, visit by visit", "Door of each board",
        "What is fed from where after each visit, until the next one."),
    paper!("board-chart", final_chart, "Board chart", "Door of the new board",
        "The final chart: what each way serves."),

    // For the building and its people.
    paper!("timeline", timeline, "Timeline", "Client, everybody on the job",
        "People, boards, what is off, emergency charge and points of decision over time: a drawing for each visit."),
    paper!("outage-notice", notice, "Outage notice", "Everybody in the building",
        "What is off, when and for how long, what to do beforehand, and whom to ask: a page for each area."),

    paper!("risk-contacts-keys", risk, "Risk assessment, contacts and keys", "Everybody on the job",
        "Whom to call, who decides, who holds which key, and what is dangerous."),

    // Filled in on the job, kept afterwards.
    paper!("emergency-lighting", emergency, "Emergency lighting", "Foreman, tester, log book",
        "Charge of each group over the job, tests and their dates, test sheet, completion note."),
    paper!("test-sheets", test_sheets, "Test record sheets", "Whoever tests",
        "Limits printed, boxes for every reading and for the instruments."),
    paper!("torque-record", torque, "Torque record", "Whoever terminates",
        "Every termination, with boxes for the maker's figure and the tool."),
    paper!("label-sheet", label_sheet, "Label sheet", "Whoever labels the boards",
        "Way labels to cut out, ferrules, and the notices that each board carries."),
    paper!("materials", materials, "Materials and late deliveries", "Stores, foreman",
        "What must be on site, by when, and what is done if it is late."),
    paper!("waste-and-snags", waste_snags, "Waste and snag list", "Foreman",
        "What is open, and what leaves the site."),
    paper!("handover-sheet", handover, "Handover sheet", "Client, person in charge",
        "How everything is left at the end, and what is handed over."),
    paper!("certificate-data", certificate, "Data for the installation certificate", "Whoever certifies",
        "What the job knows, blanks for what is measured or judged, defects seen."),

];

/// What papers are there for, from the one with this stem on.
const GROUPS: [(&str, &str); 5] = [
    ("method-statement", "For the client and the file"),
    ("lock-off-checklist", "Carried on the job"),
    ("dated-charts", "For the doors of the boards"),
    ("timeline", "For the building and its people"),
    ("emergency-lighting", "Filled in on the job, kept afterwards"),
];

/// Makes files that are no papers.
type Maker = fn(&Input, &[Step]) -> anyhow::Result<Vec<Extra>>;

/// All makers of extra files.
const EXTRAS: &[Maker] = &[notice::calendars, emergency::calendar];

/// What the index page shows.
#[derive(Serialize)]
struct Index<'a> {
    papers: &'a [Paper],
    extras: &'a [Extra],
    books: &'a [Book],
}

/// What the list before all papers in one shows.
#[derive(Serialize)]
struct Contents {
    papers: Vec<Entry>,
}

#[derive(Serialize)]
struct Entry {
    stem: String,
    group: &'static str,
    title: &'static str,
    reader: &'static str,
    purpose: &'static str,
}

/// All papers of a plan, as we dress them.
///
/// # Errors
///
/// If the site's labels do not fit the plan's job, or a template fails.
pub fn pack(input: &Input) -> anyhow::Result<Pack> {
    dressed(input, &Dress::default())
}

/// All papers of a plan, as a firm wants them.
///
/// # Errors
///
/// As [`pack`]; and every fault of the firm's templates, as [`template::Faults`].
pub fn dressed(input: &Input, dress: &Dress) -> anyhow::Result<Pack> {
    fits(input)?;
    let templates = Templates::new(&dress.templates)?;
    let steps = steps::steps(input);
    let mut faults = Vec::new();
    let mut set = |stem: &str, title: &str, view: Value| -> anyhow::Result<String> {
        let head = head::head(input, dress, stem, title);
        let context = BTreeMap::from([
            ("head".to_owned(), Value::try_from_serializable(&head)?),
            ("view".to_owned(), view),
        ]);
        Ok(templates.set(&format!("{stem}.html"), context).unwrap_or_else(|found| {
            faults.extend(found.0.into_iter().filter(|f| !faults.contains(f)).collect::<Vec<_>>());
            String::new()
        }))
    };
    let mut papers = Vec::new();
    for Recipe { stem, title, reader, purpose, view, .. } in PAPERS {
        let content = markup::unbroken(&set(stem, title, view(input, &steps)?)?);
        let group = GROUPS.iter().find(|(first, _)| first == stem).map_or("", |(_, group)| group);
        papers.push(Paper { file: format!("{stem}.html"), group, title, reader, purpose, content });
    }
    let mut extras = Vec::new();
    for make in EXTRAS {
        extras.extend(make(input, &steps)?);
    }
    let books = workbook::books(input, &steps)?;
    let view =
        Value::try_from_serializable(&Index { papers: &papers, extras: &extras, books: &books })?;
    let index = set("index", "The papers of this plan", view)?;
    let apart: Vec<&Paper> = papers.iter().filter(|p| !HELD.contains(&p.file.as_str())).collect();
    let mut group = "";
    let mut entries = Vec::new();
    for p in &papers {
        group = if p.group.is_empty() { group } else { p.group };
        if !HELD.contains(&p.file.as_str()) {
            let stem = whole::stem(&p.file).to_owned();
            entries.push(Entry {
                stem,
                group: std::mem::take(&mut group),
                title: p.title,
                reader: p.reader,
                purpose: p.purpose,
            });
        }
    }
    let view = Value::try_from_serializable(&Contents { papers: entries })?;
    let list = markup::unbroken(&set(WHOLE, LISTED, view)?);
    if !faults.is_empty() {
        return Err(template::Faults(faults).into());
    }
    let whole = whole::whole(&list, &apart, &input.sound.job().name);
    Ok(Pack { papers, extras, books, list, whole, index })
}

/// Papers that the method statement holds whole, and that all papers in one page leave out.
pub const HELD: [&str; 2] = ["stage-diagrams.html", "timeline.html"];

/// Stem of the file that holds all papers, and the title of the list that they begin with.
pub const WHOLE: &str = "all-papers";
/// See [`WHOLE`].
pub const LISTED: &str = "All papers of this plan";

/// When the step with that number in the method statement starts.
pub fn step_start(input: &Input, number: usize) -> Option<crate::units::Minutes> {
    let all = steps::steps(input);
    all.iter().find(|s| s.number == number).map(|s| s.period.from)
}

/// How many steps the method statement has.
pub fn step_count(input: &Input) -> usize {
    steps::steps(input).iter().map(|s| s.number).max().unwrap_or(0)
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
