//! What holds in every state (W10 to W14).

use super::*;

#[test]
fn w10_protective_conductor() {
    let no_pe = |device: &mut Device| {
        device.wires =
            Lanes::straight([Wire::L1, Wire::L2, Wire::L3, Wire::N].into_iter().collect());
    };
    honest(
        SAME,
        |s| {
            no_pe(s.device("TSD"));
            s.load("alarm-panel").ride_through = Minutes(400);
        },
        &[W10],
    );
    honest(
        SAME,
        |s| {
            no_pe(s.device("TSD"));
            s.job.circuits[CircuitId::new(6)].no_earth = text("double insulated throughout");
        },
        &[],
    );
    // The link to the main earthing terminal comes off while all rely on it.
    honest(
        SAME,
        |s| {
            let by = s.by("strip", "p1");
            let joint = s.joint_id("JE");
            s.insert(Act::Break(by, joint), "1400 finish strip");
            let by = s.by("tails", "p2");
            s.insert(Act::Make(by, joint), "1476 finish tails");
            s.load("alarm-panel").ride_through = Minutes(400);
        },
        &[S3, W10],
    );
}

#[test]
fn w11_two_sources() {
    let both = |s: &mut Spoil| {
        let sources = vec![s.node_id("MAINS"), s.node_id("UPS")];
        s.job.parallel.push(sources);
    };
    honest("27", both, &[]);
    honest(
        "27",
        |s| {
            both(s);
            let wires = &mut s.device("U.iso").wires;
            wires.join(Wire::L1, Wire::L2);
            wires.join(Wire::L2, Wire::L1);
        },
        &[W11],
    );
    honest(
        "27",
        |s| {
            both(s);
            s.job.parallel[0].pop();
        },
        &[W11],
    );
}

#[test]
fn w12_neutral_groups() {
    let rcd = Some(whole(30));
    spoilt(BESIDE, |s| s.device("B.4").rcd_ma = rcd.clone(), &[W12]);
    spoilt(
        BESIDE,
        |s| {
            s.device("B.4").rcd_ma = rcd.clone();
            s.device("B.5").rcd_ma = rcd.clone();
        },
        &[W12],
    );
    spoilt(BESIDE, |s| s.device("B.main").rcd_ma = rcd.clone(), &[]);
    spoilt(BESIDE, |s| s.node("B.bus").neutral_bar = false, &[]);
    spoilt(
        BESIDE,
        |s| {
            let five = s.node_id("B.5");
            s.job.nodes[five].neutral_bar = true;
        },
        &[W12],
    );
}

#[test]
fn w13_closed_when_live() {
    // A cover that is never put on again.
    honest(
        UNSHROUDED,
        |s| {
            s.drop("1514 start covers");
            s.drop("1524 finish covers");
        },
        &[F5, W13],
    );
    spoilt(SAME, |s| s.board("A").covers_on = false, &[W13]);
    // The old board is made live again without its cover.
    honest(ONE_WAY, |s| s.task("covers-a").kind = TaskKind::Prepare, &[W13]);
    spoilt(SAME, |s| s.board("B").ways_shrouded = false, &[W1, W2, W4, W5, W13]);
    // A cable that no board takes over stays live where the old board was.
    honest(
        BESIDE,
        |s| {
            s.drop("1447 box_unlock box-b p1");
            let by = s.by("clear", "p1");
            let device = s.device_id("ISO-A");
            s.insert(Act::Close(by, device), "1571 finish clear");
            let b = s.plan.boxes.find("box-b").expect("a box");
            let by = s.by("live-b", "p1");
            s.insert(Act::BoxUnlock(by, b), "1448 unlock kc-b");
        },
        &[W13],
    );
}

#[test]
fn w14_not_alone() {
    honest("78", |s| s.job.policy.alone = text("the keyholder stays in the room"), &[]);
    honest("78", |s| s.job.policy.alone = text(" "), &[W14]);
    spoilt(
        SAME,
        |s| s.job.people[s_person(1)].present = vec![Period::new(0, 1524), Period::new(1525, 4320)],
        &[W14],
    );
}
