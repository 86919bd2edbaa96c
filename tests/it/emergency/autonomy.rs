//! The required autonomy as a constraint: what it costs, where it refuses, and what mends it.

use super::*;
use wayover::jobfile::{self, Resolved};
use wayover::model::Job;
use wayover::search::dark::{Dark, DarkMend, dark, short};
use wayover::search::{self, Options, Outcome};
use wayover::units::{Exact, Minutes};
use wayover::verify;

fn resolved(label: &str, changes: &[(&str, &str)]) -> Resolved {
    let mut toml = demo("a-boathouse", "job.toml");
    for (part, other) in changes {
        toml = with(&toml, part, other);
    }
    let folder = Scratch::new(label, &toml, &demo("a-boathouse", "circuits.csv"));
    let read = jobfile::read(&folder.0).and_then(jobfile::resolve);
    read.unwrap_or_else(|f| panic!("{}", wayover::diag::render(&f)))
}

const QUICK: Options = Options { moves: 300, tries: 6, seed: 1 };

/// J of the plan, judged by the checker, or what the search ended with.
fn outcome(r: &Resolved, job: &Job) -> Result<Exact, Vec<search::judge::Trouble>> {
    match search::plan(job, &r.labour, QUICK) {
        Outcome::Plan(plan) => {
            let sound = verify::check(job, &plan).expect("a sound plan");
            Ok(sound.replay().cost().total())
        }
        Outcome::None { troubles, .. } => Err(troubles),
    }
}

fn asking(r: &Resolved, autonomy: i64) -> Job {
    let mut job = r.job.clone();
    for a in job.areas.ids().collect::<Vec<_>>() {
        job.areas[a].autonomy = Minutes(autonomy);
    }
    job
}

/// From none to the rated duration: J never falls, once refused it stays refused, and the refusal
/// says how much less there is a plan for. Gives the most that there is a plan for.
fn sweep(r: &Resolved) -> i64 {
    let mut last: Option<Exact> = None;
    let mut most = None;
    let mut told = Vec::new();
    for asked in (0..=180).step_by(20) {
        let job = asking(r, asked);
        match outcome(r, &job) {
            Ok(j) => {
                assert!(told.is_empty(), "a plan for {asked} min, refused for less");
                assert!(last.is_none_or(|l| l <= j), "J falls at {asked} min");
                last = Some(j);
                most = Some(asked);
            }
            Err(troubles) => {
                let found = short(&job, &r.labour, &troubles);
                let (_, short) = found.expect("emergency lighting binds");
                told.push(asked - short.0);
            }
        }
    }
    assert!(!told.is_empty() && most.is_some(), "the sweep does not tip: {told:?}");
    assert!(told.iter().all(|t| *t == told[0]), "refusals name different tipping points: {told:?}");
    let tipping = told[0];
    assert!(outcome(r, &asking(r, tipping)).is_ok(), "no plan for {tipping} min");
    assert!(outcome(r, &asking(r, tipping + 1)).is_err(), "a plan for {} min", tipping + 1);
    tipping
}

const NO_REST: (&str, &str) =
    ("full_test = 2026-09-14, rest_mode = true", "charge_min = 100, rest_mode = false");

#[test]
fn the_requirement_tips_where_its_refusal_says_for_the_return_of_people() {
    let tipping = sweep(&resolved("sweep-return", &[NO_REST]));
    assert!((1..100).contains(&tipping), "{tipping}");
}

#[test]
fn the_requirement_tips_where_its_refusal_says_for_the_full_duration_test() {
    // By hand: open every day, the test begins at 21:00 and lasts 180 min, and 06:30 is 390 min
    // later: 390 x 180 / 1440 = 48.75 min are back.
    assert_eq!(sweep(&resolved("sweep-test", &[("tue-sun", "mon-sun")])), 48);
}

fn refused(r: &Resolved) -> Dark {
    let troubles = outcome(r, &r.job).expect_err("a refusal");
    dark(&r.job, &r.labour, &troubles).expect("emergency lighting binds")
}

#[test]
fn a_refusal_offers_a_supply_for_the_lighting_and_a_later_opening() {
    let early = ("tue-sun 06:30", "tue-sun 05:00");
    let full = (NO_REST.0, "charge_min = 180, rest_mode = false");
    let r = resolved("mends", &[early, full, ("autonomy_min = 60", "autonomy_min = 90")]);
    let found = refused(&r);
    assert_eq!(found.groups.len(), 1);
    let lighting = r.job.circuits.find("C3").expect("the lighting");
    let supply = found.mends.iter().find_map(|m| match m {
        DarkMend::Supply(_, circuits, ways) => Some((circuits.clone(), *ways)),
        _ => None,
    });
    assert_eq!(supply, Some((vec![lighting], 2)));
    let until = found.mends.iter().find_map(|m| match m {
        DarkMend::Closed(areas) => Some(areas.clone()),
        _ => None,
    });
    let [(area, until)] = until.expect("a later opening")[..] else { panic!("one area") };
    // With the doors shut until then there is a plan, and it is sound.
    let mut job = r.job.clone();
    for span in &mut job.areas[area].occupied {
        if span.from < until && until < span.to {
            span.from = until;
        }
    }
    assert!(outcome(&r, &job).is_ok());
    let toml = with(&demo("a-boathouse", "job.toml"), early.0, early.1);
    let toml = with(&with(&toml, full.0, full.1), "autonomy_min = 60", "autonomy_min = 90");
    let csv = demo("a-boathouse", "circuits.csv");
    let folder = Scratch::new("mends-said", &toml, &csv);
    let (code, _, err) =
        said(&wayover(&["plan", &folder.0.to_string_lossy(), "--effort", "quick"]));
    assert_eq!(code, Some(1));
    let flat = err.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        format!("emergency lighting: `EM-1` is {} short", found.short),
        "mend: with `lead TS-1`, of 2 ways, for `C3` there is a plan (computed)".to_owned(),
        format!("mend: with `boathouse` kept closed until {}", r.site.clock.short(until)),
    ] {
        assert!(flat.contains(&part), "`{part}` is not in\n{err}");
    }
    let ours = err.split_once("  emergency lighting:").expect("our lines").1;
    assert!(ours.lines().skip(1).all(|l| l.chars().count() <= 80), "{err}");
    // The mend written into the schedule, as an electrician would: it plans, and it is sound.
    let row = csv.lines().find(|l| l.starts_with("C3,")).expect("its row");
    let rides = with(row, "traced,yes,,", "traced,yes,lead TS-1,");
    let toml = with(&toml, "ways = 1\nrating_a = 16", "ways = 2\nrating_a = 16");
    let folder = Scratch::new("mended", &toml, &with(&csv, row, &rides));
    let (code, _, err) =
        said(&wayover(&["plan", &folder.0.to_string_lossy(), "--effort", "quick"]));
    assert_eq!((code, err.as_str()), (Some(0), ""));
}

#[test]
fn a_refusal_for_want_of_a_test_offers_a_day_closed() {
    let r = resolved("no-test", &[("tue-sun", "mon-sun")]);
    let found = refused(&r);
    assert_eq!(found.short, Minutes(12));
    let day = found.mends.iter().find_map(|m| match m {
        DarkMend::ClosedFor(areas, span) => Some((areas.clone(), *span)),
        _ => None,
    });
    let (areas, span) = day.expect("a day");
    let mut job = r.job.clone();
    for a in areas {
        job.areas[a].occupied.retain(|s| !s.overlaps(span));
    }
    assert!(outcome(&r, &job).is_ok());
}
