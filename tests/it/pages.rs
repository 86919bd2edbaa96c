//! The papers of planned jobs: what every page has to say, and what none may.

use crate::demos::{FINGERPRINT, boathouse, school};
use crate::support::unmarked;
use std::path::Path;
use wayover::document::{self, Paper};
use wayover::jobfile::Resolved;
use wayover::model::Wire;
use wayover::model::site::{OpenQuestion, Revision, Severity};
use wayover::plan::Act;
use wayover::verify::SoundPlan;

fn papers(job: &Resolved, sound: &SoundPlan) -> Vec<Paper> {
    let input = crate::demos::input(job, sound);
    let mut papers = document::pack(&input).expect("papers").papers;
    if let Ok(dir) = std::env::var("WAYOVER_PAPERS") {
        let dir = Path::new(&dir).join(job.job.name.replace(' ', "_"));
        std::fs::create_dir_all(&dir).expect("a writable folder");
        for paper in &papers {
            std::fs::write(dir.join(&paper.file), &paper.content).expect("a writable folder");
        }
    }
    for paper in &mut papers {
        paper.content = unmarked(&paper.content);
    }
    papers
}

#[test]
fn both_papers_name_the_plan_and_every_circuit() {
    let (job, sound) = boathouse();
    let papers = papers(job, sound);
    let files: Vec<&str> = papers.iter().map(|p| p.file.as_str()).collect();
    assert_eq!(files[..2], ["method-statement.html", "lock-off-checklist.html"]);
    for paper in &papers[..2] {
        assert!(paper.content.contains(FINGERPRINT), "{}", paper.title);
        assert!(paper.content.contains("<html lang=\"en\">"));
        assert!(!paper.content.contains("{{") && !paper.content.contains("{%"));
        for circuit in &job.site.circuits {
            let old = format!("OLD {}", circuit.old.as_ref().expect("an old way").reference);
            let new = format!("NEW {}", circuit.new.as_ref().expect("a new way").reference);
            for text in [&circuit.number, &old, &new] {
                let text = text.replace('/', "&#x2F;");
                let plain = text.replace("&#x2F;", "/");
                assert!(
                    paper.content.contains(&text) || paper.content.contains(&plain),
                    "{} in {}",
                    plain,
                    paper.title
                );
            }
        }
    }
    assert!(papers[0].content.contains("POINT OF NO RETURN"));
    assert!(papers[1].content.contains("STILL LIVE IN THIS ENCLOSURE"));
    assert!(papers[1].content.contains("Removal order"));
}

#[test]
fn every_lock_of_the_plan_is_on_the_checklist() {
    let (job, sound) = boathouse();
    let papers = papers(job, sound);
    for lock in sound.plan().locks.names() {
        assert!(papers[1].content.contains(lock), "{lock}");
    }
}

#[test]
fn markup_in_a_name_stays_text_and_a_draft_says_so() {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    let clean = papers(&job, sound);
    assert!(clean.iter().all(|p| !p.content.contains("DRAFT, NOT FOR SITE")));
    job.job.name = "a draft".to_owned();
    job.site.circuits[0].serves = "<script>alert(1)</script>".to_owned();
    job.site.paper.client = "<script>alert(2)</script>".to_owned();
    job.site.paper.revisions.push(Revision {
        mark: "\"; } </style><b>".to_owned(),
        on: String::new(),
        what: String::new(),
        by: String::new(),
    });
    job.site.questions.push(OpenQuestion {
        severity: Severity::Safety,
        what: "which way is \"C1\"?".to_owned(),
        who: String::new(),
    });
    let drafts = papers(&job, sound);
    for paper in &drafts {
        assert!(!paper.content.contains("<script>"), "{}", paper.title);
        assert_eq!(paper.content.matches("</style>").count(), 1, "{}", paper.title);
        assert!(paper.content.contains("DRAFT, NOT FOR SITE"), "{}", paper.title);
    }
    for paper in &drafts[..2] {
        assert!(paper.content.contains("&lt;script&gt;"), "{}", paper.title);
    }
}

#[test]
fn a_job_of_several_visits_has_a_removal_order_for_each() {
    let (job, sound) = school();
    let papers = papers(job, sound);
    let removals = papers[1].content.matches("Removal order. Visit").count();
    assert!(removals > 1);
    assert_eq!(removals, papers[0].content.matches("<h3>Visit").count());
    for place in ["HOLD: ", "Group EM-"] {
        assert!(papers[0].content.contains(place), "{place}");
    }
}

/// Readings at a point with so many conductors, earth included: n (n - 1) / 2, every pair once.
/// Sources: 3 for a single-phase point, a student guide to isolation; 10 for three lines, neutral
/// and earth, a thread of the IET's forum for engineers; 6 in between is the same count.
#[test]
fn every_point_has_a_box_for_each_pair_of_its_conductors() {
    let mut met = std::collections::BTreeSet::new();
    for (_, sound) in [boathouse(), school()] {
        for event in &sound.plan().events {
            let Act::Prove(_, proof) = &event.act else { continue };
            for (node, readings) in &proof.readings {
                let wires = sound.job().nodes[*node].wires;
                let conductors = 1 + wires.iter().filter(|w| *w != Wire::PE).count();
                let wanted = match conductors {
                    2 => 1,
                    3 => 3,
                    4 => 6,
                    5 => 10,
                    n => panic!("{n} conductors at one point"),
                };
                assert_eq!(readings.len(), wanted, "{}", sound.job().nodes.name(*node));
                met.insert(wanted);
            }
        }
    }
    assert!(met.contains(&3) && met.contains(&10), "{met:?}");
}
