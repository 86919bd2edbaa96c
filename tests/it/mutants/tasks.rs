//! Survey, events, people and tasks (S).

use super::*;

#[test]
fn s1_survey() {
    let blank = NoneFound { by: "surveyor".into(), when: String::new() };
    spoilt(SAME, |s| s.position("B.ways").none_found = Some(blank), &[S1]);
    spoilt(SAME, |s| s.position("TS.box").none_found = None, &[S1]);
    // Fed from elsewhere, but from no source.
    spoilt(
        BESIDE,
        |s| {
            let wires: WireSet = [Wire::L1, Wire::N].into_iter().collect();
            let node = Node { kind: NodeKind::Bar, wires, neutral_bar: false };
            let id = s.job.nodes.add("control", node).expect("a new name");
            s.position("A.incoming").other_fed.push(id);
        },
        &[S1, W2],
    );
    spoilt(SAME, |s| s.device("B.1").breaks = Wire::ALL.into_iter().collect(), &[S1]);
    // What is above the isolator can be locked as well; if it could not, nothing could.
    spoilt(
        SAME,
        |s| {
            s.device("ISO").lockable = false;
            s.device("M.inc").lockable = false;
        },
        &[S1, S2],
    );
    let no_earth = |s: &mut Spoil| {
        s.node("c4").wires = [Wire::L2, Wire::N].into_iter().collect();
    };
    spoilt(SAME, no_earth, &[S1]);
    spoilt(
        SAME,
        |s| {
            no_earth(s);
            s.job.circuits[CircuitId::new(3)].no_earth = text("double insulated");
        },
        &[],
    );
    let swapped = |s: &mut Spoil| {
        let joint = s.joint_id("B.c6");
        s.job.joints[joint].wires.join(Wire::L1, Wire::L2);
        s.job.joints[joint].wires.join(Wire::L2, Wire::L1);
    };
    spoilt(SAME, swapped, &[S1]);
    spoilt(
        SAME,
        |s| {
            swapped(s);
            s.load("heater").any_order = true;
        },
        &[],
    );
    spoilt(SAME, |s| s.task("test-b").kind = TaskKind::Dress, &[S1, W4]);
    spoilt(SAME, |s| s.task("unhook-c7").kind = TaskKind::Dress, &[S1, S3]);
    spoilt(SAME, |s| s.task("live-c4").kind = TaskKind::Prepare, &[B1, C1, F1, F4, S1, S3]);
    let lighting = |s: &mut Spoil| {
        let five = s.circuit_id("c5");
        s.area("hall").lighting.push(five);
    };
    spoilt(SAME, lighting, &[S1]);
    spoilt(
        SAME,
        |s| {
            lighting(s);
            let five = s.circuit_id("c5");
            s.group().relays.push(five);
        },
        &[],
    );
}

#[test]
fn s2_events() {
    spoilt(SAME, |s| s.device("TSD").lockable = false, &[S2]);
    honest(SAME, |s| drop(s.drop("1326 box_lock box p1")), &[S2, W3]);
    let twice = |label: &'static str| {
        move |s: &mut Spoil| {
            let i = s.find(label);
            let event = s.plan.events[i].clone();
            s.plan.events.insert(i, event);
        }
    };
    for label in [
        "1323 open ISO",
        "1324 lock k1",
        "1345 break A.c7",
        "1360 make TS.c7",
        "1519 unlock k1",
        "1516 surge SPD-B true",
        "1325 rest em-hall true",
        "1522 close B.main",
        "1326 box_lock box p1",
        "1518 box_unlock box p1",
        "1405 start mount",
        "1435 finish mount",
    ] {
        honest(SAME, twice(label), &[S2]);
    }
    // Time goes back.
    honest(
        SAME,
        |s| {
            let i = s.find("1571 hand_back plant");
            s.plan.events[i].at = Minutes(1569);
        },
        &[S2],
    );
    honest(SAME, |s| s.job.span.to = Minutes(1570), &[E4, S2]);
}

#[test]
fn s3_people() {
    spoilt(SAME, |s| s.task("strip").people = 1, &[S3]);
    honest(SAME, |s| s.people("1370 start strip")[1] = s_person(0), &[S3]);
    spoilt(SAME, |s| s.job.people[s_person(1)].may.retain(|k| *k != TaskKind::Unhook), &[S3]);
    // Away for a minute in the middle of the mounting.
    spoilt(
        SAME,
        |s| s.job.people[s_person(1)].present = vec![Period::new(0, 1420), Period::new(1421, 4320)],
        &[S3],
    );
    spoilt(SAME, |s| s.people("1435 start ts-off")[0] = s_person(0), &[S3]);
    // The first works from 1320 to 1562 without a break.
    spoilt(SAME, |s| s.job.policy.longest_stretch = Minutes(242), &[S3]);
    spoilt(SAME, |s| s.job.policy.longest_stretch = Minutes(363), &[]);
    // From the temporary supply to the new board there is no time to walk.
    spoilt(SAME, |s| s.job.walks.push(walk(s, "TS.box", "B.ways", 1)), &[S3]);
    spoilt(SAME, |s| s.job.walks.push(walk(s, "B.ways", "TS.box", 0)), &[]);
    // Proving in between is done anywhere, but it is no walking.
    spoilt(SAME, |s| s.job.walks.push(walk(s, "A.ways", "TS.box", 5)), &[S3]);
    spoilt(SAME, |s| s.position("B.ways").hands = 1, &[S3]);
}

fn walk(s: &Spoil, a: &str, b: &str, minutes: i64) -> Walk {
    let find = |name| s.job.positions.find(name).expect("a position");
    Walk { a: find(a), b: find(b), minutes: Minutes(minutes) }
}

#[test]
fn s3_tasks() {
    spoilt(SAME, |s| s.task("tails").planned = Minutes(16), &[S3]);
    spoilt(SAME, |s| s.task("tails").duration = [15, 20, 30].map(Minutes), &[]);
    spoilt(SAME, |s| s.task("tails").duration = [16, 20, 30].map(Minutes), &[S3]);
    spoilt(SAME, |s| s.job.deliveries[DeliveryId::new(0)] = Minutes(1405), &[]);
    spoilt(SAME, |s| s.job.deliveries[DeliveryId::new(0)] = Minutes(1406), &[S3]);
    let after = |task: &'static str, before: &'static str| {
        move |s: &mut Spoil| {
            let before = s.task_id(before);
            s.task(task).after.push(before);
        }
    };
    spoilt(SAME, after("con-c1", "strip"), &[]);
    spoilt(SAME, after("con-c1", "con-c2"), &[S3]);
    spoilt(SAME, |s| s.job.instruments[InstrumentId::new(0)].kinds = vec!["tester".into()], &[S3]);
    spoilt(
        SAME,
        |s| s.job.instruments[InstrumentId::new(0)].kinds = vec!["detector".into()],
        &[S3],
    );
    spoilt(
        SAME,
        |s| {
            let Act::Start { instrument, .. } = s.act("1504 start test-b") else { panic!() };
            *instrument = None;
        },
        &[S3],
    );
    spoilt(SAME, |s| s.task("mount").board = None, &[S3]);
    spoilt(SAME, |s| s.task("live-c5").circuit = None, &[B1, C1, F1, F4, S1, S3]);
    // An act by somebody who is on another task, or when the task has ended.
    spoilt(
        SAME,
        |s| {
            let by = s.by("live-b", "p1");
            let Act::Close(who, _) = s.act("1524 close B.6") else { panic!() };
            *who = by;
        },
        &[S3],
    );
    honest(
        ONE_WAY,
        |s| {
            let Act::BoxUnlock(by, _) = s.act("1380 box_unlock box-a p1") else { panic!() };
            by.task = None;
        },
        &[S3],
    );
}

#[test]
fn s3_joints_and_work() {
    // Another circuit's joint, or one that its task does not work on.
    spoilt(
        SAME,
        |s| {
            let other = s.joint_id("A.c2");
            let Act::Break(_, joint) = s.act("1345 break A.c1") else { panic!() };
            *joint = other;
            let first = s.joint_id("A.c1");
            let Act::Break(_, joint) = s.act("1350 break A.c2") else { panic!() };
            *joint = first;
        },
        &[S3],
    );
    honest(SAME, |s| drop(s.drop("1400 break JA")), &[S3, W13]);
    // The board whose place it takes is never out.
    spoilt(SAME, |s| s.board("B").replaces = s_board(1), &[S3]);
    // A task that is never finished, and one that is never begun.
    honest(SAME, |s| drop(s.drop("1260 finish pre")), &[B1, S3]);
    honest(
        SAME,
        |s| {
            s.drop("1200 start pre");
            s.drop("1260 finish pre");
        },
        &[S3],
    );
    // A circuit that the job leaves off may stay off; another may not.
    let stays_off = |s: &mut Spoil| {
        for label in ["1544 start live-c5", "1544 close B.4", "1548 finish live-c5"] {
            s.drop(label);
        }
        s.task("covers").after.clear();
    };
    honest(SAME, stays_off, &[B1, F1, F4, F5, S3]);
    honest(
        SAME,
        |s| {
            stays_off(s);
            s.job.circuits[CircuitId::new(4)].left_off = text("its panel was found faulty");
        },
        &[],
    );
    // A live test that passes on a dead circuit.
    honest(SAME, |s| s.before("1544 close B.4", "1548 start live-c6"), &[S3]);
    // In the wrong order.
    spoilt(SAME, |s| s.task("test-c2").circuit = Some(CircuitId::new(2)), &[S1, S3, W4]);
}
