//! Dead work: isolation, proofs, keys, one way at a time (W1, W2, W3, W9).

use super::*;

#[test]
fn w1_dead() {
    // Nobody locks the supply of the temporary lead before its circuit is put on.
    honest(
        SAME,
        |s| {
            s.drop("1328 lock k2");
            s.drop("1365 unlock k2");
        },
        &[W1],
    );
    // Switched off is not locked off.
    honest(
        SAME,
        |s| {
            s.drop("1440 lock k2");
            s.drop("1518 unlock k2");
        },
        &[W1, W10],
    );
    // A lock on a device that isolates nothing.
    spoilt(SAME, |s| s.device("ISO").isolates = false, &[W1, W10]);
    spoilt(SAME, |s| s.device("TSD").isolates = false, &[W1, W10]);
    // A neutral that nobody declares earthed counts like a line, and ISO-A breaks it.
    spoilt(SAME, |s| s.source("MAINS").neutral_earthed = None, &[]);
    // ... and where the device leaves it through it is not isolated.
    spoilt(
        SAME,
        |s| {
            s.source("MAINS").system = None;
            s.device("ISO").breaks = Wire::LINES.into_iter().collect();
        },
        &[W1, W2, W10],
    );
    // A conductor fed from elsewhere is bare there.
    spoilt(
        BESIDE,
        |s| {
            let node = s.node_id("M.bus");
            s.position("B.ways").other_fed.push(node);
        },
        &[W1, W2],
    );
    // A load that can feed back is a source of its own.
    spoilt(
        BESIDE,
        |s| {
            let mut source = s.source("MAINS").clone();
            source.watches = Some(s.node_id("M.bus"));
            s.node("c1").kind = NodeKind::Source(source);
        },
        &[W1, W10],
    );
}

#[test]
fn w2_proved() {
    spoilt(SAME, |s| s.proof("1340 prove A.ways").tester_before = false, &[W2]);
    spoilt(
        SAME,
        |s| {
            s.proof("1340 prove A.ways").readings.clear();
        },
        &[W2],
    );
    spoilt(
        SAME,
        |s| {
            let proof = s.proof("1340 prove A.incoming");
            let pairs = proof.readings.values_mut().next().expect("a point");
            pairs.remove("L3-N");
        },
        &[W2],
    );
    let read = |volts: i64| {
        move |s: &mut Spoil| {
            let proof = s.proof("1340 prove A.ways");
            let pairs = proof.readings.values_mut().next().expect("a point");
            pairs.insert("L1-N".into(), Some(Volts::from(volts)));
        }
    };
    spoilt(SAME, read(10), &[]);
    spoilt(SAME, read(11), &[W2]);
    spoilt(SAME, read(-230), &[W2]);
    // One point more to prove.
    spoilt(
        BESIDE,
        |s| {
            let node = s.node_id("A.mid");
            s.position("A.ways").points.push(node);
        },
        &[W2],
    );
    // The discharge time is over at 1330, not at 1331.
    spoilt(SAME, |s| s.position("A.ways").discharge = Minutes(7), &[]);
    spoilt(SAME, |s| s.position("A.ways").discharge = Minutes(8), &[W2]);
    // Only one of the two was there.
    spoilt(SAME, |s| s.people("1350 start hook-c7")[0] = s_person(1), &[]);
    spoilt(
        SAME,
        |s| {
            let Act::Start { who, .. } = s.act("1330 start prove-a") else { panic!() };
            who.pop();
            s.task("prove-a").people = 1;
        },
        &[W2],
    );
    // Proved at 895, the incoming terminals are not worked on before 950.
    spoilt(BESIDE, |s| s.job.policy.proof_life = Minutes(55), &[]);
    spoilt(BESIDE, |s| s.job.policy.proof_life = Minutes(54), &[W2]);
    // A window's end makes every proof void.
    honest(
        SAME,
        |s| {
            s.job.windows[WindowId::new(0)].period.to = Minutes(1345);
            let mut second = s.job.windows[WindowId::new(0)].clone();
            second.period = Period::new(1346, 1800);
            s.job.windows.add("night-1b", second);
        },
        &[W2, F1, F4, F5, B1],
    );
    // The last lock comes off and goes on again: what was proved is proved no more.
    honest(
        SAME,
        |s| {
            let Act::Lock(by, device, lock, _) = *s.act("1440 lock k2") else { panic!() };
            let by = By { task: Some(s.task_id("prove-ts2")), ..by };
            s.insert(Act::Unlock(by, device, lock), "1445 finish prove-ts2");
            s.insert(Act::Lock(by, device, lock, Key::Kept), "1445 finish prove-ts2");
        },
        &[W2],
    );
    // A lock after the proof, on a way round from the busbars that comes back to their board and
    // leaves from there: their paths meet it first, though another holds them all dead.
    honest(SAME, |s| round_about(s, true), &[W2]);
    // The same on a way that leads nowhere.
    honest(SAME, |s| round_about(s, false), &[]);
    // A lock that nobody proved behind: it came after the proof.
    honest(SAME, |s| s.before("1345 start prove-ts", "1340 finish prove-a"), &[S3]);
    // A proof of one way is needed where one way is worked on.
    spoilt(ONE_WAY, |s| s.proof("1540 prove B.ways").circuit = None, &[W2]);
}

#[test]
fn w3_keys() {
    // The key goes into a box that somebody has locked already.
    honest(SAME, |s| s.before("1326 box_lock box p1", "1324 lock k1"), &[W3]);
    // It comes out while the other's lock is still on.
    honest(SAME, |s| s.before("1519 unlock k1", "1518 box_unlock box p1"), &[W3]);
    // Somebody else takes the lock off.
    spoilt(
        SAME,
        |s| {
            let by = s.by("live-b", "p1");
            let Act::Unlock(who, ..) = s.act("1518 unlock k2") else { panic!() };
            *who = by;
        },
        &[W3],
    );
    // The key is kept by its owner, so the other holds nothing.
    spoilt(
        SAME,
        |s| {
            let Act::Lock(_, _, _, key) = s.act("1324 lock k1") else { panic!() };
            *key = Key::Kept;
        },
        &[W3],
    );
    // A lock on the box comes off in the middle of its owner's work.
    honest(
        SAME,
        |s| {
            s.drop("1518 box_unlock box p2");
            let by = s.by("mount", "p2");
            let b = BoxId::new(0);
            s.insert(Act::BoxUnlock(by, b), "1435 finish mount");
        },
        &[W3],
    );
    // The second lock on the temporary supply's device is not of the person at work.
    honest(
        SAME,
        |s| {
            let by = s.by("prove-a", "p1");
            let lock = s.plan.locks.add("k9", ()).expect("a new name");
            let device = s.device_id("TSD");
            s.insert(Act::Lock(by, device, lock, Key::Kept), "1340 finish prove-a");
            let mut unlock = s.drop("1365 unlock k2");
            unlock.act = Act::Unlock(By { task: Some(s.task_id("dis-c5")), ..by }, device, lock);
            let i = s.find("1365 finish dis-c5");
            s.plan.events.insert(i, unlock);
            let Act::Lock(by, ..) = *s.act("1328 lock k2") else { panic!() };
            let by = By { task: Some(s.task_id("hook-c7")), ..by };
            let k2 = s.plan.locks.find("k2").expect("it is there");
            s.insert(Act::Unlock(by, device, k2), "1360 make TS.c7");
        },
        &[W3],
    );
}

#[test]
fn w9_one_way() {
    spoilt(ONE_WAY, |s| s.board("B").one_way = text("  "), &[W9]);
    spoilt(ONE_WAY, |s| s.board("B").one_way = None, &[W1, W2]);
    // The lock on the way is the other's.
    spoilt(
        ONE_WAY,
        |s| {
            let by = s.by("live-b", "p1");
            let Act::Lock(who, ..) = s.act("1448 lock k6") else { panic!() };
            *who = by;
        },
        &[W3, W9],
    );
    // A live test goes on beside the work.
    honest(
        ONE_WAY,
        |s| {
            let ways = s.job.positions.find("B.ways");
            let task = s.task("permit-back");
            (task.kind, task.position) = (TaskKind::Prepare, ways);
            task.after.clear();
            let start = s.drop("1594 start permit-back");
            let finish = s.drop("1595 finish permit-back");
            let i = s.find("1546 make B.c6");
            s.plan.events.insert(i, Event { at: Minutes(1545), ..start });
            s.plan.events.insert(i + 1, Event { at: Minutes(1546), ..finish });
            s.task("clear").after.clear();
        },
        &[B1, W9],
    );
}

/// A device from the busbars of A to a spare bar, locked after the proof, and, if the way goes
/// `round`, another from there to the incoming terminals, locked before it.
fn round_about(s: &mut Spoil, round: bool) {
    let lines: WireSet = Wire::LINES.into_iter().collect();
    let mut node = s.node("A.bus").clone();
    node.neutral_bar = false;
    let spare = s.job.nodes.add("spare", node).expect("a new name");
    let [bus, incoming] = ["A.bus", "A.in"].map(|n| s.node_id(n));
    let mut device = s.device("ISO").clone();
    (device.closed, device.breaks, device.wires) = (false, lines, Lanes::straight(lines));
    (device.a, device.b) = (bus, spare);
    let near = s.job.devices.add("LX1", device.clone()).expect("a new name");
    let lock = |s: &mut Spoil, device, task, name: &str, before: &str| {
        let lock = s.plan.locks.add(name, ()).expect("a new name");
        s.insert(Act::Lock(s.by(task, "p1"), device, lock, Key::Kept), before);
        s.insert(Act::Unlock(s.by("live-b", "p1"), device, lock), "1519 unlock k1");
    };
    if round {
        (device.a, device.b) = (spare, incoming);
        let far = s.job.devices.add("LX2", device).expect("a new name");
        lock(s, far, "iso", "kx2", "1326 box_lock box p1");
    }
    lock(s, near, "dis-c5", "kx1", "1360 start ts-on");
}
