//! Emergency lighting (E).

mod one_device;
mod several;

use super::*;
use one_device::{feed, lighting, switched};

#[test]
fn e2_rest_mode() {
    honest(SAME, |s| s.before("1325 rest em-hall true", "1322 open A.main"), &[E2, E3]);
    honest(
        SAME,
        |s| {
            let by = s.by("live-c4", "p1");
            s.insert(Act::Rest(by, GroupId::new(0), true), "1544 finish live-c4");
        },
        &[E2],
    );
    spoilt(SAME, |s| s.group().rest_mode = false, &[S2]);
    // Its supply never comes back: at rest it stays, which counts as no light when people are in.
    honest(
        SAME,
        |s| {
            let switch = switched(s, feed(), "B.c3");
            s.job.devices[switch].closed = false;
        },
        &[E1, E3, E4, F5, S3],
    );
}

#[test]
fn e3_occupied_areas() {
    spoilt(SAME, |s| s.area("hall").autonomy = Minutes(180), &[E3]);
    spoilt(
        SAME,
        |s| {
            s.area("hall").autonomy = Minutes(180);
            s.area("hall").measure = text("hand lamps at the desk");
        },
        &[],
    );
    // At rest counts as none.
    spoilt(SAME, |s| s.area("hall").occupied.push(Period::new(1330, 1331)), &[E3]);
    // People at work in the hall while the group is at rest, with task lighting or without.
    spoilt(SAME, |s| s.task("strip").area = s_area(0), &[E3]);
    spoilt(
        SAME,
        |s| {
            s.task("strip").area = s_area(0);
            s.area("hall").task_lighting = text("battery task lights");
        },
        &[],
    );
    // 180 min at 1324, a minute a minute on the battery: 60 are left at 1444.
    spoilt(BESIDE, |s| s.area("plant").occupied = vec![Period::new(1320, 1444)], &[]);
    spoilt(BESIDE, |s| s.area("plant").occupied = vec![Period::new(1320, 1445)], &[E3]);
    // Empty at the start, and fed: 60 min at 480.
    let empty = |from: i64| {
        move |s: &mut Spoil| {
            s.group().charge = whole(0);
            s.area("plant").occupied = vec![Period::new(from, 960)];
        }
    };
    spoilt(BESIDE, empty(480), &[]);
    spoilt(BESIDE, empty(479), &[E3]);
}

#[test]
fn e4_proof() {
    let full_test = |t: i64| {
        move |s: &mut Spoil| {
            s.plan.claims.full_duration_tests.insert(GroupId::new(0), Minutes(t));
        }
    };
    // The function test ends at 1563, and a recharge takes 1440.
    spoilt(SAME, full_test(3003), &[]);
    spoilt(SAME, full_test(3002), &[E4]);
    spoilt(SAME, full_test(4321), &[E4]);
    spoilt(SAME, |s| s.plan.claims.full_duration_tests.clear(), &[E4]);
    // Empty from 3100 to 3280, and 60 min again 480 min later.
    spoilt(SAME, |s| s.area("hall").occupied.push(Period::new(3760, 3800)), &[]);
    spoilt(SAME, |s| s.area("hall").occupied.push(Period::new(3759, 3800)), &[E4]);
    honest(SAME, |s| drop(s.drop("1571 hand_back plant")), &[E4]);
    honest(SAME, |s| s.before("1571 hand_back plant", "1562 finish covers"), &[E4]);
    // The test opens the key switch's device, or closes nothing again, or does not pass.
    spoilt(
        SAME,
        |s| {
            let Act::Finish { pass, .. } = s.act("1563 finish em-test") else { panic!() };
            *pass = false;
        },
        &[E4],
    );
    honest(SAME, |s| s.before("1553 start em-test", "1536 start live-c3"), &[S3]);
}

#[test]
fn e4_no_function_test_that_counts() {
    let no_opening = |s: &mut Spoil| {
        s.drop("1554 open B.2");
        s.drop("1560 close B.2");
    };
    honest(SAME, no_opening, &[E4]);
    // Another circuit's device is opened.
    honest(
        SAME,
        |s| {
            let other = s.device_id("B.3");
            for label in ["1554 open B.2", "1560 close B.2"] {
                match s.act(label) {
                    Act::Open(_, device) | Act::Close(_, device) => *device = other,
                    _ => panic!("`{label}` is no switching"),
                }
            }
        },
        &[E4],
    );
    // The termination of the feed, or of the lighting, is taken off and made again afterwards.
    for joint in ["B.c3", "B.c2"] {
        honest(
            SAME,
            |s| {
                let (by, joint) = (s.by("covers", "p1"), s.joint_id(joint));
                s.insert(Act::Break(by, joint), "1562 finish covers");
                s.insert(Act::Make(by, joint), "1562 finish covers");
            },
            &[E1, E4, S3, W1, W10],
        );
    }
}

/// Work in the area while it is still the team's is no breach; after its hand-back it is.
#[test]
fn e4_work_in_the_area_after_its_hand_back() {
    let in_the_hall = |s: &mut Spoil| s.task("em-test").area = s_area(0);
    honest(SAME, in_the_hall, &[]);
    honest(
        SAME,
        |s| {
            in_the_hall(s);
            s.before("1570 hand_back hall", "1563 finish em-test");
        },
        &[E4],
    );
    // Handed back twice, the last one counts.
    honest(
        SAME,
        |s| {
            in_the_hall(s);
            let by = By { task: None, who: Who::Person(s.person("p1")) };
            s.insert(Act::HandBack(by, AreaId::new(0)), "1563 finish em-test");
        },
        &[],
    );
}
