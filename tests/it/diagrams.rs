//! Single-line and stage diagrams: true to the replay, and legible.

mod drawing;
mod states;

use crate::demos::{boathouse, library, school};
use crate::generator::{Family, Recipe};
use std::path::Path;
use wayover::document::{self, Input};
use wayover::model::site::*;
use wayover::model::*;
use wayover::search::{self, Options, Outcome};
use wayover::verify::{self, SoundPlan};

fn sound(job: &Job, labour: &Labour) -> SoundPlan {
    let Outcome::Plan(plan) = search::plan(job, labour, Options::usual(job)) else {
        panic!("no plan")
    };
    verify::check(job, &plan).expect("a sound plan")
}

fn page(site: &Site, labour: &Labour, sound: &SoundPlan) -> String {
    let input = Input { sound, site, labour, fingerprint: "12ab-34cd-56ef", costs: &[] };
    let pack = document::pack(&input).expect("a pack");
    if let Ok(dir) = std::env::var("WAYOVER_PAPERS") {
        let file = Path::new(&dir).join(format!("{}.html", sound.job().name.replace(' ', "_")));
        let paper = pack.papers.iter().find(|p| p.file == "stage-diagrams.html");
        std::fs::write(file, &paper.expect("the diagrams").content).expect("a writable folder");
    }
    let mut papers = pack.papers.into_iter();
    papers.find(|p| p.file == "stage-diagrams.html").expect("the diagrams").content
}

fn is_true_and_legible(page: &str, sound: &SoundPlan, at_least: usize) {
    let letters = drawing::smallest_letters(page);
    assert!(letters >= 6.0, "letters of {letters:.2} pt");
    assert!(!page.contains("data-part-of"), "a drawing takes more than a page");
    let all = drawing::drawings(page);
    assert!(all.len() >= at_least, "{} drawings", all.len());
    for svg in all {
        assert_eq!(states::lies(svg, sound), Vec::<String>::new());
        assert_eq!(drawing::faults(svg), Vec::<String>::new());
        assert_eq!(drawing::passed_over_without_a_bow(svg), Vec::<String>::new());
        assert!(svg.contains("<title ") && svg.contains("<desc "));
        assert!(!svg.contains("fill=\"red\"") && !svg.contains('#') || svg.contains("&#39;"));
    }
}

#[test]
fn drawings_of_the_demos_are_true_and_legible() {
    for ((job, sound), least) in [(boathouse(), 5), (school(), 8)] {
        let page = page(&job.site, &job.labour, sound);
        is_true_and_legible(&page, sound, least);
        assert_eq!(page, self::page(&job.site, &job.labour, sound), "not the same bytes");
    }
}

#[test]
fn drawings_of_the_library_are_true_and_legible() {
    let (job, sound) = library();
    is_true_and_legible(&page(&job.site, &job.labour, sound), sound, 8);
}

#[test]
fn a_spoilt_drawing_is_found_out() {
    let (job, sound) = boathouse();
    let page = page(&job.site, &job.labour, sound);
    let svg = drawing::drawings(&page)[1];
    let spoilt = [
        ("data-stands=\"locked\"", "data-stands=\"open\""),
        ("data-state=\"live\"", "data-state=\"dead\""),
        ("data-state=\"locked-off\"", "data-state=\"live\""),
        ("data-proved=\"false\"", "data-proved=\"true\""),
        ("data-connected=\"true\"", "data-connected=\"false\""),
        ("data-does=\"battery\"", "data-does=\"fed\""),
        ("data-until=\"", "data-until=\"9"),
    ];
    for (from, to) in spoilt {
        let all = drawing::drawings(&page);
        let one = all.into_iter().find(|svg| svg.contains(from)).expect(from);
        assert!(!states::lies(&one.replacen(from, to, 1), sound).is_empty(), "{to}");
    }
    let text = drawing::tags(svg).into_iter().find(|t| t.name == "text").expect("a text");
    let (x, y) = (text.number("x").expect("x"), text.number("y").expect("y"));
    let twice = format!("{svg}<text x=\"{}\" y=\"{}\">over it", x + 9, y + 9);
    assert!(!drawing::faults(&twice).is_empty());
    let (net, line) = drawing::lines(svg)[0].clone();
    let across = format!(
        "{svg}<path data-net=\"{net}0\" d=\"M{} {}V{}\"/>",
        line.from.0,
        line.from.1 - 50,
        line.from.1 + 50
    );
    assert!(!drawing::faults(&across).is_empty());
    let lines = drawing::lines(svg);
    let flat = |(_, l): &&(String, drawing::Segment)| l.from.1 == l.to.1 && l.from.0 != l.to.0;
    let (net, bar) = lines.iter().find(flat).expect("a bar").clone();
    let (x, y) = ((bar.from.0 + bar.to.0) / 2, bar.from.1);
    let through = format!("{svg}<path data-net=\"{net}0\" d=\"M{x} {}V{}\"/>", y - 50, y + 50);
    assert!(!drawing::passed_over_without_a_bow(&through).is_empty());
    let bow = format!(
        "{svg}<path data-net=\"{net}0\" d=\"M{x} {}V{}a10 10 0 0 1 0 20V{}\"/>",
        y - 50,
        y - 10,
        y + 50
    );
    assert!(drawing::passed_over_without_a_bow(&bow).is_empty());
    let small = page.replace("font-size=\"22\"", "font-size=\"16\"");
    assert!(drawing::smallest_letters(&small) < 6.0);
}

#[test]
fn markup_in_a_label_stays_text() {
    let (job, sound) = boathouse();
    let mut site = job.site.clone();
    for label in site.devices.iter_mut().chain(&mut site.nodes) {
        *label = "</svg><script>alert(1)</script> & \"x\"".into();
    }
    let page = page(&site, &job.labour, sound);
    assert!(!page.contains("<script>"));
    for svg in drawing::drawings(&page) {
        assert_eq!(drawing::faults(svg), Vec::<String>::new());
    }
}

/// Labels for a made-up job: ways numbered in the order of the circuits.
fn labels(job: &Job) -> Site {
    let mut site = boathouse().0.site.clone();
    let way = |b: usize, n: usize| WayLabel {
        board: BoardId::new(b),
        way: n as i64 + 1,
        lines: String::new(),
        reference: format!("{}/{}", job.boards.name(BoardId::new(b)), n + 1),
    };
    let each = job.circuits.len() * 2 / job.boards.len();
    let like = site.circuits[0].clone();
    site.circuits = job
        .circuits
        .ids()
        .map(|c| CircuitLabel {
            number: job.circuits.name(c).to_owned(),
            old: Some(way(c.index() / each * 2, c.index() % each)),
            new: Some(way(c.index() / each * 2 + 1, c.index() % each)),
            ..like.clone()
        })
        .collect();
    let like = site.boards[0].clone();
    let role = |b: BoardId| if b.index().is_multiple_of(2) { "OLD" } else { "NEW" };
    site.boards = job.boards.ids().map(|b| BoardLabel { role: role(b), ..like.clone() }).collect();
    site.nodes = vec![String::new(); job.nodes.len()];
    site.devices = vec![String::new(); job.devices.len()];
    site.positions = vec![String::new(); job.positions.len()];
    site.supplies = vec![String::new(); job.supplies.len()];
    site.instruments = vec![String::new(); job.instruments.len()];
    site.areas = vec![String::new(); job.areas.len()];
    site.groups = vec![site.groups[0].clone(); job.groups.len()];
    site.people = vec![site.people[0].clone(); job.people.len()];
    site.loads = vec![site.loads[0].clone(); job.loads.len()];
    site.ends.clear();
    site.materials.clear();
    site.defects.clear();
    site
}

#[test]
fn four_boards_renewed_with_eighty_circuits_are_drawn_true_and_free_of_overlap() {
    let recipe =
        Recipe { boards: 4, supplies: 1, nights: 6, ..Recipe::new(Family::OwnSupply, 20, 3) };
    let (job, labour) = crate::generator::job(recipe);
    let sound = sound(&job, &labour);
    let page = page(&labels(&job), &labour, &sound);
    is_true_and_legible(&page, &sound, 8);
    let all = drawing::drawings(&page);
    let folded = |svg: &&&str| {
        let boards = svg.split("data-folded=\"").skip(1).filter_map(|s| s.split('"').next());
        boards.map(|b| b.split(' ').filter(|b| !b.is_empty()).count()).sum::<usize>() >= 4
    };
    let stages = &all[1..all.len() - 1];
    let few = stages.iter().filter(folded).count();
    assert!(few == stages.len(), "{few} of {} stages leave out what is idle", stages.len());
    let letters = drawing::smallest_letters(&page);
    assert!(letters >= 7.0, "letters of {letters:.2} pt");
    // A board with work on it, folded all the same.
    let busy = stages.iter().find_map(|svg| {
        let of: Vec<BoardId> = sound
            .job()
            .boards
            .ids()
            .filter(|b| {
                let place = sound.job().boards[*b].ways;
                svg.contains(&format!("data-position=\"{}\"", place.index()))
                    && svg.contains("PROVED DEAD")
            })
            .collect();
        let first = of
            .iter()
            .map(|b| svg.replacen("data-folded=\"", &format!("data-folded=\"{} ", b.index()), 1));
        first.into_iter().find(|spoilt| !states::lies(spoilt, &sound).is_empty())
    });
    assert!(busy.is_some(), "no folded work is found out");
}
