//! Energising and testing (W4 to W8).

use super::*;

#[test]
fn w4_energising() {
    // A circuit that has not been dead-tested.
    honest(
        SAME,
        |s| {
            let Act::Finish { pass, .. } = s.act("1491 finish test-c5") else { panic!() };
            *pass = false;
            s.task("live-b").after.retain(|_| false);
        },
        &[W4, S3],
    );
    // A board whose dead test failed.
    honest(
        SAME,
        |s| {
            let Act::Finish { pass, .. } = s.act("1514 finish test-b") else { panic!() };
            *pass = false;
            s.task("live-b").after.retain(|_| false);
        },
        &[W4],
    );
    // Somebody is still at the dead test of the board when it is energised.
    honest(
        SAME,
        |s| s.before("1514 finish test-b", "1524 start live-c7"),
        &[S3, W1, W2, W3, W4, W8],
    );
    // A circuit is put on the temporary supply, but its test there has not passed.
    honest(
        SAME,
        |s| {
            let Act::Finish { pass, .. } = s.act("1360 finish hook-c7") else { panic!() };
            *pass = false;
            s.task("ts-on").after.clear();
            s.load("alarm-panel").ride_through = Minutes(400);
        },
        &[S3, W4],
    );
}

#[test]
fn w5_live_work() {
    // The last connection ends, in the minute's order, after the first test has begun.
    spoilt(
        BESIDE,
        |s| {
            let pair = ["c1", "c6"].map(|c| s.circuit_id(c)).to_vec();
            s.job.neutral_groups.push(pair);
        },
        &[W5],
    );
    // With the cover off somebody is at the board itself, not only within reach.
    honest("75", |s| s.board("B").within_reach.clear(), &[]);
    honest(
        "75",
        |s| {
            s.board("B").within_reach.clear();
            let b = s.job.positions.find("B.ways");
            s.task("labels").position = b;
        },
        &[W5, W13],
    );
    // One of the two begins to isolate the board at which the other is still at work.
    spoilt(
        ONE_WAY,
        |s| {
            let a = s.job.boards.find("A");
            let task = s.task("prove-6");
            (task.kind, task.board) = (TaskKind::Isolate, a);
        },
        &[W5],
    );
}

#[test]
fn w6_off_load() {
    spoilt(SAME, |s| s.device("TSD").on_load = false, &[W6]);
    spoilt(SAME, |s| s.device("B.2").on_load = false, &[W6]);
    spoilt(BESIDE, |s| s.device("A.main").on_load = false, &[W6]);
    // With all behind it off it may be worked.
    spoilt(BESIDE, |s| s.device("ISO-A").on_load = false, &[]);
}

#[test]
fn w7_other_sources() {
    honest(
        BESIDE,
        |s| {
            s.drop("1321 lock kg");
            s.drop("1564 unlock kg");
        },
        &[W1, W7, W10],
    );
    spoilt(BESIDE, |s| s.device("G.iso").isolates = false, &[W1, W7, W10]);
    // It is locked in the same minute, but after the supply that it watches has gone.
    honest(BESIDE, |s| s.before("1321 lock kg", "1326 lock ka"), &[W7]);
}

#[test]
fn w8_surge() {
    spoilt(SAME, |s| s.surge("SPD-B").fitted = true, &[S2, W8]);
    honest(SAME, |s| s.before("1516 surge SPD-B true", "1524 finish live-b"), &[W8]);
    honest(
        BESIDE,
        |s| {
            s.surge("panel").fitted = true;
            s.drop("1463 surge panel true");
        },
        &[W8],
    );
    // The neutral reaches the cartridge through every closed single-pole way.
    spoilt(
        BESIDE,
        |s| {
            let node = s.node_id("c6");
            let surge = s.surge("panel");
            surge.node = node;
            surge.fitted = true;
        },
        &[S2, W8],
    );
}
