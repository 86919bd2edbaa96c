//! Emergency lighting (E).

use super::*;

#[test]
fn e1_same_circuit() {
    spoilt(SAME, |s| s.group().feed = CircuitId::new(0), &[E1, E4]);
    // Behind B.2 both are, but that is no overcurrent device; the one behind it is the same.
    spoilt(SAME, |s| s.device("B.2").overcurrent = false, &[E4]);
    spoilt(
        SAME,
        |s| {
            s.device("B.2").overcurrent = false;
            s.device("M.inc").overcurrent = false;
        },
        &[E1, E4],
    );
    // Its circuit is closed a minute after the lighting that it watches.
    honest("30", |s| s.group().old_state_exempt = text("fed from the stair way of old"), &[E1]);
    // A neutral that is parted: not wholly live.
    honest(
        SAME,
        |s| {
            let joint = s.joint_id("B.c3");
            s.job.joints[joint].wires = Lanes::straight([Wire::L1, Wire::PE].into_iter().collect());
        },
        &[E1, S3, W4],
    );
}

/// The joint of a circuit moved to another way.
fn put(joint: &'static str, way: &'static str) -> impl FnOnce(&mut Spoil) {
    move |s| {
        let (joint, way) = (s.joint_id(joint), s.node_id(way));
        s.job.joints[joint].a = way;
    }
}

/// The feed, or the lighting, is behind another way of the old board from the survey on.
#[test]
fn e1_separated_at_the_old_board() {
    honest(SAME, put("A.c3", "A.1"), &[E1]);
    honest(SAME, put("A.c2", "A.1"), &[E1]);
}

/// The feed is live before its lighting, and then behind another device; the function test opens
/// the device of the lighting, by which the feed stays live.
#[test]
fn e1_feed_separated_in_the_new_state() {
    honest(SAME, put("B.c3", "B.1"), &[E1, E4]);
}

/// The lighting is live before the feed; the function test opens the device of the feed.
#[test]
fn e1_lighting_separated_in_the_new_state() {
    honest(SAME, put("B.c2", "B.1"), &[E1]);
}

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
