//! The planner's own guard over E1: no candidate with a moment at which a feed and its lighting
//! are parted, and nothing planned that leads to one.

use super::*;
use wayover::model::*;
use wayover::plan::Plan;
use wayover::search::ground::Ground;
use wayover::search::judge::Trouble;
use wayover::search::{self, Options, Outcome, claims};
use wayover::units::Minutes;
use wayover::verify::{self, Rule};

fn record(name: &str) -> (Job, Plan) {
    let all = crate::records::all();
    let (_, text) = all.iter().find(|(n, _)| n.starts_with(name)).expect("one of the records");
    wayover::record::read(text).expect("a record that can be read")
}

/// When the planner's replay and the checker's first see each group parted.
fn seen(job: &Job, plan: &Plan) -> (Vec<Option<Minutes>>, Option<Minutes>) {
    let labour = crate::support::labour_of(job, plan);
    let g = Ground::new(job, &labour);
    let ours = claims::history(&g, &plan.tasks, &plan.events).parted;
    let (_, breaches) = verify::replay(job, plan);
    let told = breaches.iter().filter(|b| b.rule == Rule::E1).filter_map(|b| b.at).min();
    (ours, told)
}

fn put(job: &mut Job, joint: &str, way: &str) {
    let (joint, way) = (job.joints.find(joint), job.nodes.find(way).expect("a way"));
    job.joints[joint.expect("a joint")].a = way;
}

#[test]
fn the_planner_sees_them_parted_when_the_checker_does() {
    let (job, plan) = record("01");
    assert_eq!(seen(&job, &plan), (vec![None], None));
    for (joint, way) in [("A.c3", "A.1"), ("A.c2", "A.1"), ("B.c3", "B.1"), ("B.c2", "B.1")] {
        let mut job = job.clone();
        put(&mut job, joint, way);
        let (ours, told) = seen(&job, &plan);
        assert!(told.is_some(), "{joint} on {way}");
        assert_eq!(ours, [told], "{joint} on {way}");
    }
    let (mut job, plan) = record("30");
    job.groups[GroupId::new(0)].old_state_exempt = Some("fed from another way of old".to_owned());
    let (ours, told) = seen(&job, &plan);
    assert!(told.is_some());
    assert_eq!(ours, [told]);
}

/// Every candidate of a job whose new ways part them has such a moment: none becomes a plan.
#[test]
fn a_candidate_with_a_moment_apart_is_no_plan() {
    let quick = Options { moves: 300, tries: 6, seed: 1 };
    let (job, plan) = record("01");
    let labour = crate::support::labour_of(&job, &plan);
    assert!(matches!(search::plan(&job, &labour, quick), Outcome::Plan(_)));
    for joint in ["B.c3", "B.c2"] {
        let mut job = job.clone();
        put(&mut job, joint, "B.1");
        let Outcome::None { troubles, .. } = search::plan(&job, &labour, quick) else {
            panic!("a plan with {joint} on another way")
        };
        let group = GroupId::new(0);
        assert!(
            troubles
                .iter()
                .any(|t| matches!(t, Trouble::Parted { group: parted, .. } if *parted == group)),
            "{troubles:?}"
        );
    }
}

/// Two boards with feeds of their own, lighting behind a contactor, two nights.
fn shop(fixed: &[(&str, &str)]) -> String {
    let toml = include_str!("../../faults/J027-coil/job.toml");
    let toml = with(toml, "coil = \"C2\"", "coil = \"C3\"");
    let toml = with(&toml, "[{ name = \"Ash\" }]", "[{ name = \"Ash\" }, { name = \"Birch\" }]");
    let toml = with(
        &toml,
        "window = [{ name = \"night\", when = \"2027-03-02 21:00-06:00\" }]",
        "window = [{ name = \"night 1\", when = \"2027-03-01 21:00-06:00\" }, \
         { name = \"night 2\", when = \"2027-03-02 21:00-06:00\" }]",
    );
    let toml = with(
        &toml,
        "feed = [",
        "feed = [{ name = \"Q2\", from = \"mains\", kind = \"breaker\", rating_a = 63, \
         lockable = true }, ",
    );
    let mut toml = with(
        &toml,
        "role = \"new\"\nways = 4\nfed_from = \"Q1\"",
        "role = \"new\"\nways = 4\nfed_from = \"Q2\"\nincoming_shrouded = true\n\
         ways_shrouded = true",
    );
    for (circuit, window) in fixed {
        toml.push_str(&format!(
            "\n[[fixed]]\ncircuit = \"{circuit}\"\nwindow = \"{window}\"\nwhy = \"as agreed\"\n"
        ));
    }
    toml
}

const ROWS: &str = "circuit,old,new,serves,device,identified,emergency,with,lights
C1,DB-1/1L1,DB-2/1L1,lighting,rcbo B10,traced,EM-1 lighting,C2,
C2,DB-1/1L1,DB-2/1L1,emergency luminaires,rcbo B10,traced,EM-1 feed,,
C3,DB-1/1L1,DB-2/1L1,coil of K1,rcbo B10,traced,,C1,
C4,DB-1/2L1,DB-2/2L1,sockets,rcbo B16,traced,,,
";

fn planned(label: &str, fixed: &[(&str, &str)]) -> (Option<i32>, String, String) {
    let folder = Scratch::new(label, &shop(fixed), ROWS);
    said(&wayover(&[
        "plan",
        &folder.0.to_string_lossy(),
        "--effort",
        "quick",
        "--skip-decision-costs",
    ]))
}

/// The coil goes with its lighting and the feed, on whichever night one of them is fixed.
#[test]
fn the_coil_moves_with_the_lighting_and_the_feed() {
    for circuit in ["C1", "C2", "C3"] {
        let fixed = [(circuit, "night 1"), ("C4", "night 2")];
        let (code, out, err) = planned(&format!("coil-with-{circuit}"), &fixed);
        assert_eq!((code, err.as_str()), (Some(0), ""), "{out}");
        let (first, second) = out.split_once("visit 2").expect("two visits");
        let moved = |text: &str| {
            let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
            let what = flat.split("; ").find(|p| p.contains("disconnect ")).map(str::to_owned);
            what.unwrap_or_default()
        };
        for c in ["C1", "C2", "C3"] {
            assert!(moved(first).contains(c), "{c} in {out}");
        }
        assert!(!moved(first).contains("C4") && moved(second).contains("C4"), "{out}");
    }
}

#[test]
fn a_coil_fixed_in_another_night_than_its_lighting_is_refused_with_both_decisions() {
    let (code, _, err) = planned("coil-other", &[("C1", "night 1"), ("C3", "night 2")]);
    assert_eq!(code, Some(1), "{err}");
    let flat = err.split_whitespace().collect::<Vec<_>>().join(" ");
    let both = "what you have fixed cannot all be: `C1` moves in window `night 1` (as agreed); \
                `C3` moves in window `night 2` (as agreed)";
    assert!(flat.contains(both), "{err}");
}

/// A new board without shrouds beside the old one, and an earlier night that is not used: its cover
/// is not left off over the end of that night (F5).
#[test]
fn a_new_board_without_shrouds_is_mounted_when_no_window_ends_before_its_outage() {
    let late = shop(&[("C1", "night 2"), ("C4", "night 2")]);
    let bare = with(&late, "incoming_shrouded = true\nways_shrouded = true", "");
    for (label, toml) in [("shrouded", &late), ("bare", &bare)] {
        let folder = Scratch::new(&format!("early-{label}"), toml, ROWS);
        let (code, out, err) = said(&wayover(&[
            "plan",
            &folder.0.to_string_lossy(),
            "--effort",
            "quick",
            "--skip-decision-costs",
        ]));
        assert_eq!((code, err.as_str()), (Some(0), ""), "{label}: {out}");
    }
}
