//! Back-out and claims (B1, C1).

use super::*;

#[test]
fn b1_back_out() {
    let longer = |minutes: i64| {
        move |s: &mut Spoil| {
            let step = s.step("dis-c6");
            step.acts[1].minutes = Minutes(minutes - 20);
            step.minutes = Minutes(minutes);
        }
    };
    // From 1370 the supply is back by 1770, 30 min before the window's end.
    spoilt(SAME, longer(400), &[]);
    spoilt(SAME, longer(401), &[B1]);
    // A limit of 330 min for the pump, out since 1322.
    spoilt(
        SAME,
        |s| {
            longer(282)(s);
            s.load("filter-pump").max_single = Some(Minutes(330));
        },
        &[],
    );
    spoilt(
        SAME,
        |s| {
            longer(283)(s);
            s.load("filter-pump").max_single = Some(Minutes(330));
        },
        &[B1],
    );
    spoilt(SAME, |s| s.plan.back_out.steps.retain(|x| x.minutes.0 != 182), &[B1]);
    spoilt(SAME, |s| s.step("strip").minutes = Minutes(181), &[B1]);
    spoilt(SAME, |s| s.step("strip").minutes = Minutes(183), &[]);
    spoilt(SAME, |s| s.step("strip").way = Way::Back, &[B1]);
    spoilt(SAME, |s| s.step("dis-c6").way = Way::Forward, &[B1]);
    spoilt(SAME, |s| s.step("iso").minutes = Minutes(31), &[B1]);
    spoilt(SAME, |s| s.step("iso").acts[1].at = Minutes(19), &[B1]);
    // Energising is planned at 5 min at least, and connecting at 6.
    spoilt(
        SAME,
        |s| {
            let step = s.step("iso");
            step.acts[1].minutes = Minutes(4);
            step.minutes = Minutes(24);
        },
        &[B1],
    );
    spoilt(
        SAME,
        |s| {
            let step = s.step("iso");
            step.acts[0].of = Some(Subject::Circuit(CircuitId::new(0)));
            step.acts[0].minutes = Minutes(5);
        },
        &[B1],
    );
    let point = |t: Option<i64>| {
        move |s: &mut Spoil| s.plan.back_out.points_of_no_return[0].at = t.map(Minutes)
    };
    // Strip out begins at 1370.
    spoilt(SAME, point(Some(1371)), &[B1]);
    spoilt(SAME, point(Some(1369)), &[B1]);
    spoilt(SAME, point(Some(1400)), &[B1]);
    spoilt(SAME, point(None), &[B1]);
    spoilt(SAME, |s| s.plan.back_out.points_of_no_return[0].visit.to = Minutes(1799), &[B1]);
    spoilt(SAME, |s| s.plan.back_out.checkpoints[0].latest = Minutes(1369), &[B1]);
    spoilt(SAME, |s| s.plan.back_out.checkpoints[0].otherwise.clear(), &[B1]);
}

#[test]
fn c1_claims() {
    type Claim = fn(&mut Claims);
    let cases: [Claim; 15] = [
        |c| c.j -= tenth(1),
        |c| c.parts[0] += tenth(1),
        |c| c.parts[1] -= tenth(1),
        |c| c.parts[2] += tenth(5),
        |c| c.parts[3] += tenth(200),
        |c| c.parts[4] = tenth(0),
        |c| c.lower_bound = -tenth(1),
        |c| c.lower_bound = tenth(3711),
        |c| c.gap = Exact::new(998.into(), 1000.into()),
        |c| c.finish = Minutes(1572),
        |c| c.lock_operations -= 1,
        |c| c.walking += 1,
        |c| drop(c.outages.remove(&LoadId::new(5))),
        |c| c.outages.values_mut().next().expect("a load")[0].to.0 += 1,
        |c| c.still_live.clear(),
    ];
    for (i, case) in cases.into_iter().enumerate() {
        let mut s = Spoil::of(SAME);
        case(&mut s.plan.claims);
        let (_, breaches) = verify::replay(&s.job, &s.plan);
        let got: BTreeSet<Rule> = breaches.iter().map(|b| b.rule).collect();
        assert_eq!(got, BTreeSet::from([C1]), "claim {i}");
    }
    // A bound of half the cost, and the gap that goes with it.
    spoilt(
        SAME,
        |s| {
            s.plan.claims.lower_bound = tenth(1855);
            s.plan.claims.gap = tenth(5);
        },
        &[],
    );
    // What the claims are held against: the prices, and what counts.
    for spoil in [
        (|s: &mut Spoil| s.job.policy.f = tenth(2)) as fn(&mut Spoil),
        |s| s.job.policy.q = whole(4),
        |s| s.job.policy.v = whole(19),
        |s| s.job.policy.h = whole(2),
        |s| s.load("heater").weight = whole(2),
        |s| s.load("heater").needed.push(Period::new(1551, 1552)),
        |s| s.load("controls").ride_through = Minutes(19),
        |s| s.position("B.ways").row.reverse(),
    ] {
        let mut s = Spoil::of(SAME);
        spoil(&mut s);
        let (_, breaches) = verify::replay(&s.job, &s.plan);
        let got: BTreeSet<Rule> = breaches.iter().map(|b| b.rule).collect();
        let last = s.node_id("B.6");
        let reversed = s.position("B.ways").row[0] == last;
        assert_eq!(got, if reversed { BTreeSet::new() } else { BTreeSet::from([C1]) });
    }
}

fn tenth(n: i64) -> Exact {
    Exact::new(n.into(), 10.into())
}
