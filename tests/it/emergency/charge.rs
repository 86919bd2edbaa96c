//! Charge against worked figures and a count minute by minute: the planner's and the checker's,
//! which share no code.

use crate::generator::Dice;
use std::path::Path;
use wayover::model::*;
use wayover::plan::{Act, By, Event};
use wayover::search::emergency::{Course, legs};
use wayover::units::{Exact, Minutes, Period, whole};
use wayover::verify;

fn group(charge: i64) -> Group {
    Group {
        areas: vec![],
        watches: CircuitId::new(0),
        relays: vec![],
        feed: CircuitId::new(0),
        maintained: false,
        rated: Minutes(180),
        recharge: Minutes(1440),
        charge: whole(charge),
        rest_mode: true,
        old_state_exempt: None,
    }
}

/// Charge at every minute up to `to`, a minute at a time, by the words of rule E2.
fn counted(group: &Group, course: Course, to: i64) -> Vec<Exact> {
    let inside = |spans: &[Period], t: i64| spans.iter().any(|s| s.from.0 <= t && t < s.to.0);
    let full = group.rated.exact();
    let gain = &full / group.recharge.exact();
    let mut all = vec![group.charge.clone()];
    for t in 0..to {
        let charge = &all[all.len() - 1];
        let lost =
            inside(course.tested, t) || (inside(course.dead, t) && !inside(course.resting, t));
        let next = if lost {
            (charge - whole(1)).max(whole(0))
        } else if inside(course.dead, t) || *charge == full {
            charge.clone()
        } else {
            (charge + &gain).min(full.clone())
        };
        all.push(next);
    }
    all
}

fn planned(group: &Group, dead: &[Period], at: i64) -> Exact {
    let course = Course { dead, resting: &[], tested: &[] };
    legs(group, course, Period::new(0, at)).last().expect("a leg").charge.clone()
}

/// Oracles of linear charge: rated 180 min, recharge 24 h (reckoned by hand from the model).
#[test]
fn charge_is_as_worked_by_hand() {
    #[track_caller]
    fn case(charge: i64, dead: &[(i64, i64)], at: i64, wanted: i64) {
        let dead: Vec<Period> = dead.iter().map(|(a, b)| Period::new(*a, *b)).collect();
        let group = group(charge);
        assert_eq!(planned(&group, &dead, at), whole(wanted));
        let course = Course { dead: &dead, resting: &[], tested: &[] };
        assert_eq!(counted(&group, course, at).last(), Some(&whole(wanted)));
    }
    // Dead for 45 min: 0.75 left, and full after 6 h on supply.
    case(180, &[(0, 45)], 45, 135);
    case(180, &[(0, 45)], 45 + 360, 180);
    // Empty at 02:00 and fed: 45 min at 08:00, 60 at 10:00, full at 02:00 the next day.
    case(0, &[], 360, 45);
    case(0, &[], 480, 60);
    case(0, &[], 1440, 180);
    // From full, 30 min dead, 2 h fed, 30 min dead.
    case(180, &[(0, 30), (150, 180)], 180, 135);
}

#[test]
fn the_planner_counts_as_slowly_counted_on_random_courses() {
    let mut dice = Dice::new(7);
    for _ in 0..500 {
        let mut group = group(0);
        group.rated = Minutes(60 + dice.below(180) as i64);
        group.recharge = Minutes(300 + dice.below(1500) as i64);
        group.charge = whole(dice.below(group.rated.0 as u64 + 1) as i64);
        let (mut dead, mut resting, mut tested, mut t) = (vec![], vec![], vec![], 0);
        while t < 1400 {
            let from = t + 1 + dice.below(200) as i64;
            let to = from + 1 + dice.below(150) as i64;
            match dice.below(4) {
                0 => tested.push(Period::new(from, to)),
                1 => {
                    dead.push(Period::new(from, to));
                    resting.push(Period::new(from + (to - from) / 2, to));
                }
                _ => dead.push(Period::new(from, to)),
            }
            t = to;
        }
        let course = Course { dead: &dead, resting: &resting, tested: &tested };
        let count = counted(&group, course, t);
        for leg in legs(&group, course, Period::new(0, t)) {
            assert_eq!(leg.charge, count[leg.from.0 as usize], "{group:?} {course:?}");
        }
    }
}

/// A sound record whose events are replaced by random switching and rest mode: the checker's
/// ledger, breaches or not, against the count, at every event and in between.
#[test]
fn the_checker_counts_as_slowly_counted_on_random_plans() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/records/01-sound-same-place.json");
    let text = std::fs::read_to_string(file).expect("a record");
    let (job, plan) = wayover::record::read(&text).expect("a good record");
    let main = job.devices.find("A.main").expect("the old main switch");
    let g = GroupId::new(0);
    let task = plan.tasks.iter().find(|(_, t)| t.kind == TaskKind::Isolate).expect("one").0;
    let person = PersonId::new(0);
    let by = By { task: Some(task), who: Who::Person(person) };
    let mut dice = Dice::new(11);
    let mut told_apart = 0;
    for _ in 0..500 {
        let (mut job, mut plan) = (job.clone(), plan.clone());
        job.groups[g].charge = whole(dice.below(job.groups[g].rated.0 as u64 + 1) as i64);
        let mut events = vec![Event {
            at: Minutes(1),
            act: Act::Start { task, who: vec![person], instrument: None },
        }];
        let (mut dead, mut resting, mut at) = (vec![], vec![], 1);
        for _ in 0..4 {
            let from = at + 1 + dice.below(300) as i64;
            let to = from + 2 + dice.below(150) as i64;
            events.push(Event { at: Minutes(from), act: Act::Open(by, main) });
            if dice.below(2) == 0 {
                let rest = from + 1 + dice.below((to - from) as u64 - 1) as i64;
                events.push(Event { at: Minutes(rest), act: Act::Rest(by, g, true) });
                events.push(Event { at: Minutes(to), act: Act::Rest(by, g, false) });
                resting.push(Period::new(rest, to));
            }
            events.push(Event { at: Minutes(to), act: Act::Close(by, main) });
            dead.push(Period::new(from, to));
            at = to;
        }
        plan.events = events;
        let (replay, _) = verify::replay(&job, &plan);
        let course = Course { dead: &dead, resting: &resting, tested: &[] };
        let count = counted(&job.groups[g], course, at + 100 - job.span.from.0);
        for t in (0..=at + 100).step_by(37).chain(dead.iter().flat_map(|p| [p.from.0, p.to.0])) {
            let count = &count[(t - job.span.from.0) as usize];
            assert_eq!(replay.charge_at(&job, g, Minutes(t)), *count, "at {t}: {course:?}");
            told_apart += usize::from(*count != job.groups[g].rated.exact());
        }
    }
    assert!(told_apart > 1000, "the courses do too little: {told_apart}");
}
