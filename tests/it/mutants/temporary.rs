//! Temporary supplies (T).

use super::*;

#[test]
fn t1_feed() {
    spoilt(
        SAME,
        |s| {
            let node = s.node_id("A.bus");
            s.supply().feed = node;
        },
        &[T1],
    );
    spoilt(
        SAME,
        |s| {
            let node = s.node_id("MET");
            s.supply().feed = node;
        },
        &[T1],
    );
}

#[test]
fn t2_ratings() {
    spoilt(SAME, |s| s.supply().ways = 0, &[T2]);
    spoilt(SAME, |s| s.supply().rating = 10.into(), &[]);
    spoilt(SAME, |s| s.supply().rating = 9.into(), &[T2]);
    spoilt(
        SAME,
        |s| {
            s.supply().rating = 9.into();
            s.supply().diversity = wayover::units::decimal("0.9").expect("a decimal");
        },
        &[],
    );
    spoilt(SAME, |s| s.device("TSD").rating = 9.into(), &[T2]);
    // It ran through M.inc before, so that nothing is added there; a temporary link is always asked.
    spoilt(SAME, |s| s.device("M.inc").rating = 8.into(), &[]);
    spoilt(
        SAME,
        |s| {
            s.device("M.inc").rating = 8.into();
            s.device("M.inc").temporary = true;
        },
        &[T2],
    );
    // Of unknown current: counts what its device is rated at, 100 A.
    spoilt(SAME, |s| s.job.circuits[CircuitId::new(6)].amps.clear(), &[T2, T3]);
}

#[test]
fn t3_lead() {
    // 18 mV/A/m, 30 m, 10 A: 5.4 V.
    let volts = |text: &str| Volts::read(text).expect("volts");
    spoilt(SAME, |s| s.supply().drop_limit = volts("5.4"), &[]);
    spoilt(SAME, |s| s.supply().drop_limit = volts("5.39"), &[T3]);
    // 0.25 + 30 x 0.02 = 0.85 ohm to neutral, 0.90 to earth.
    let ohms = |text: &str| wayover::units::Ohms::read(text).expect("ohms");
    spoilt(SAME, |s| s.supply().loop_limit = ohms("0.85"), &[]);
    spoilt(SAME, |s| s.supply().loop_limit = ohms("0.84"), &[T3]);
    let limit = |ma: Option<i64>| {
        move |s: &mut Spoil| {
            s.supply().loop_limit = ohms("0.85");
            s.supply().rcd_ma = ma.map(whole);
        }
    };
    spoilt(SAME, limit(Some(30)), &[]);
    spoilt(SAME, limit(Some(100)), &[T3]);
    spoilt(SAME, limit(None), &[T3]);
}

#[test]
fn t4_together() {
    spoilt(SAME, |s| s.group().watches = CircuitId::new(6), &[E1, S1, T4]);
    spoilt(SAME, |s| s.group().feed = CircuitId::new(6), &[E1, E4, T4]);
}
