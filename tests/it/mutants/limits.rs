//! Windows, limits and how things are left (F).

use super::*;

#[test]
fn f1_windows() {
    // The last outage ends at 1560, so with 30 min of margin the window may end at 1590.
    let until = |to: i64| {
        move |s: &mut Spoil| {
            s.job.windows[WindowId::new(0)].period.to = Minutes(to);
            s.plan.back_out.points_of_no_return[0].visit.to = Minutes(to);
        }
    };
    spoilt(SAME, until(1590), &[]);
    spoilt(SAME, until(1589), &[F1]);
    spoilt(SAME, |s| s.job.policy.margin = Minutes(240), &[]);
    spoilt(SAME, |s| s.job.policy.margin = Minutes(241), &[F1]);
    // Not open for one of the alarm's two areas.
    spoilt(SAME, |s| s.job.windows[WindowId::new(0)].areas.truncate(1), &[B1, F1]);
    // The window opens a minute after the supply goes.
    spoilt(
        SAME,
        |s| {
            s.job.windows[WindowId::new(0)].period.from = Minutes(1323);
            s.plan.back_out.points_of_no_return[0].visit.from = Minutes(1323);
        },
        &[B1, F1],
    );
}

/// The window of `SAME` cut in two at 1520, with the second from 1530: no load is back by then,
/// and the proofs end with the first.
fn in_two(s: &mut Spoil) {
    s.job.windows[WindowId::new(0)].period.to = Minutes(1520);
    let mut second = s.job.windows[WindowId::new(0)].clone();
    second.period = Period::new(1521, 1800);
    s.job.windows.add("night-1b", second);
    for load in ["filter-pump", "hall-lighting", "dosing", "controls", "heater", "alarm-panel"] {
        s.load(load).may_stay_out = true;
    }
    let points = &mut s.plan.back_out.points_of_no_return;
    points[0].visit.to = Minutes(1520);
}

#[test]
fn f4_in_service_at_a_windows_end() {
    // The alarm is needed all the time, and the lighting has no window of its own left after.
    honest(SAME, in_two, &[F1, F4, F5]);
    honest(
        SAME,
        |s| {
            in_two(s);
            s.load("alarm-panel").needed = vec![Period::new(0, 1500), Period::new(1521, 4320)];
        },
        &[F5],
    );
    honest(
        SAME,
        |s| {
            in_two(s);
            s.load("alarm-panel").needed = vec![Period::new(0, 1500)];
            s.load("heater").may_stay_out = false;
        },
        &[F1, F5],
    );
}

#[test]
fn f2_limits() {
    let pump =
        |limit: i64| move |s: &mut Spoil| s.load("filter-pump").max_single = Some(Minutes(limit));
    // Out for 210 min; the panel for 226, of which its battery carries 20.
    spoilt(SAME, pump(210), &[]);
    spoilt(SAME, pump(209), &[F2]);
    let controls =
        |limit: i64| move |s: &mut Spoil| s.load("controls").max_total = Some(Minutes(limit));
    spoilt(SAME, controls(206), &[]);
    spoilt(SAME, controls(205), &[F2]);
    let lighting =
        |limit: i64| move |s: &mut Spoil| s.load("hall-lighting").max_total = Some(Minutes(limit));
    spoilt(SAME, lighting(220), &[]);
    spoilt(SAME, lighting(219), &[F2]);
}

#[test]
fn f3_life_safety() {
    // A step that goes back would keep it out longer as well, so B1 with it.
    spoilt(SAME, |s| s.load("dosing").life_safety = true, &[B1, F3]);
    spoilt(
        SAME,
        |s| {
            s.load("dosing").life_safety = true;
            s.load("dosing").measure = text("dosed by hand");
        },
        &[],
    );
    honest(SAME, |s| s.load("alarm-panel").ride_through = Minutes(42), &[B1, F2, F3]);
}

#[test]
fn f5_left_as_it_must_be() {
    honest("55", |s| s.job.standing_locks.push(standing(s, "the next crew goes on")), &[]);
    honest("55", |s| s.job.standing_locks.push(standing(s, " ")), &[F5]);
    honest(SAME, |s| drop(s.drop("1518 box_unlock box p2")), &[F5, W3]);
    honest(BESIDE, |s| drop(s.drop("1463 surge panel true")), &[F5]);
    honest(SAME, |s| drop(s.drop("1516 surge SPD-B true")), &[F5, W8]);
    // A generator that stood switched through to the old board reaches nothing any more.
    spoilt(
        BESIDE,
        |s| {
            let device = s.device("A.auto-g");
            (device.self_acting, device.closed) = (None, true);
        },
        &[F5],
    );
}

fn standing(s: &Spoil, reason: &str) -> StandingLock {
    StandingLock {
        device: s.device_id("TSD"),
        owner: Who::Person(s.person("p2")),
        reason: reason.to_owned(),
    }
}
