//! The bound on boards that are dead as often as one likes, held against every order and every
//! way to part a few circuits into batches.

use crate::generator::{Dice, Family, Recipe, job};
use wayover::model::*;
use wayover::search::bound::facts::{Member, Parts, Work};
use wayover::search::bound::often::{self, Ways};
use wayover::search::bound::own_tasks::OwnTasks;
use wayover::search::bound::{few, pair};
use wayover::search::ground::Ground;

/// Prices in the bound's own parts, so that its rounding stays small.
const PRICE: Parts = 100_000;

fn members(d: &mut Dice, n: usize) -> Vec<Member> {
    let mut one = |from: u64, spread: u64| {
        let minutes = (from + d.below(spread)) as i64;
        Work { minutes, crew_minutes: minutes, people: 1 }
    };
    let mut all: Vec<Member> = (0..n)
        .map(|c| Member {
            circuit: CircuitId::new(c),
            off: one(1, 6),
            connect: one(2, 12),
            dead_test: one(2, 8),
            live_test: one(1, 9),
            hook_up: 0,
            unhook: 0,
            rate: 0,
            once: 0,
            opened: [0, 0],
            saved: 0,
            rides: false,
            tight: true,
        })
        .collect();
    for m in &mut all {
        m.rate = PRICE * (1 + Parts::from(d.below(9)));
    }
    all
}

/// Every way to give each of `n` circuits one of `n` batches.
fn all_batches(n: usize) -> impl Iterator<Item = Vec<usize>> {
    (0..n.pow(n as u32)).map(move |mut code| {
        let mut of = vec![0; n];
        for batch in &mut of {
            *batch = code % n;
            code /= n;
        }
        of
    })
}

/// No batch before the last is empty.
fn without_gaps(of: &[usize]) -> bool {
    (0..*of.iter().max().unwrap_or(&0)).all(|k| of.contains(&k))
}

/// `A`, times people: connections of the own batch and later ones, disconnections of earlier ones.
fn price_of_connections(members: &[Member], of: &[usize], w: &Ways) -> Parts {
    let mut sum = 0;
    for (i, c) in members.iter().enumerate() {
        for (j, d) in members.iter().enumerate() {
            if of[j] >= of[i] {
                sum += c.rate * Parts::from(d.back().crew_minutes);
            }
            if of[j] < of[i] {
                sum += c.rate * Parts::from(d.off.crew_minutes);
            }
        }
        sum += c.rate * Parts::try_from(of[i]).unwrap() * (w.again_old + w.q) * w.people;
    }
    sum
}

/// `B` with one tester: the tests before one's own in the own batch, in the best order.
fn price_of_tests(members: &[Member], of: &[usize], w: &Ways) -> Parts {
    let last = *of.iter().max().unwrap();
    let mut sum = 0;
    for (i, c) in members.iter().enumerate() {
        for (j, d) in members[..i].iter().enumerate() {
            if of[i] == of[j] {
                let first = c.rate * Parts::from(d.live_test.minutes);
                sum += first.min(d.rate * Parts::from(c.live_test.minutes));
            }
        }
        sum += c.rate * Parts::try_from(last - of[i]).unwrap() * (w.again_new + w.q);
    }
    sum
}

#[test]
fn batches_cost_no_less_than_levels_tell() {
    let mut d = Dice::new(41);
    let (mut told, mut least) = (0, 0);
    for _ in 0..60 {
        let n = 2 + d.below(4) as usize;
        let members = members(&mut d, n);
        let w = Ways {
            people: 1 + Parts::from(d.below(3)),
            machines: 1,
            again_old: Parts::from(d.below(12)),
            again_new: Parts::from(d.below(12)),
            q: 1 + Parts::from(d.below(5)),
            ..Ways::default()
        };
        let batches: Vec<Vec<usize>> = all_batches(n).filter(|b| without_gaps(b)).collect();
        let a = batches.iter().map(|b| price_of_connections(&members, b, &w)).min().unwrap();
        let b = batches.iter().map(|b| price_of_tests(&members, b, &w)).min().unwrap();
        let told_a = often::connections(&members, 0, &w, false);
        let told_b = often::tests(&members, 1, w.again_new + w.q);
        assert!(told_a * w.people <= a, "{members:?}: {told_a} x {}, {a}", w.people);
        assert!(told_b <= b, "{members:?}: {told_b}, {b}");
        told += told_a * w.people + told_b;
        least += a + b;
    }
    println!("levels tell {} %", told * 100 / least);
    // Levels part batches each for itself, and circuits into bits: that loses no more than a quarter.
    assert!(told * 4 >= least * 3, "{told} of {least}");
}

/// A circuit that one person works on, off at once, back in ten minutes.
fn plain() -> Member {
    let one = |minutes| Work { minutes, crew_minutes: minutes, people: 1 };
    Member {
        circuit: CircuitId::new(0),
        off: one(0),
        connect: one(6),
        dead_test: one(4),
        live_test: one(5),
        hook_up: 0,
        unhook: 0,
        rate: PRICE,
        once: 0,
        opened: [0, 0],
        saved: 0,
        rides: false,
        tight: true,
    }
}

#[test]
fn batches_are_worked_by_hand() {
    let m = plain();
    let two = [m.clone(), m];
    let w = |q| Ways { people: 1, machines: 1, q, ..Ways::default() };
    // One batch: each waits for 20. In two the second waits for 10 and pays q: cheaper up to q = 10.
    // With amounts of any size: x + y = 20, (20^2 + x^2 + y^2) / 2 + q y at a price of a tenth.
    assert_eq!(often::connections(&two, 0, &w(20), false), 40 * PRICE);
    // q = 10: x = 15, y = 5: 200 + 125 + 50.
    assert_eq!(often::connections(&two, 0, &w(10), false), PRICE * 375 / 10);
}

#[test]
fn what_riders_escape_is_worked_by_hand() {
    let m = Member { hook_up: 3, unhook: 2, once: 5 * PRICE, saved: PRICE, rides: true, ..plain() };
    let two = [m.clone(), m];
    // One person, 100 minutes that hold up all, 20 of connections and dead tests. Each escapes all but its
    // own 10, and pays an outage and 5 minutes at the box: 110 - 10.
    let w = |at_box| Ways { people: 1, beside: 100, hooks_up: true, at_box, ..Ways::default() };
    assert_eq!(often::saved(&two[..1], 1, &w(Some(0))), 90 * PRICE);
    assert_eq!(often::saved(&two, 2, &w(Some(0))), 200 * PRICE);
    // On one way the second has 10 of 110 minutes left.
    assert_eq!(often::saved(&two, 1, &w(Some(0))), 100 * PRICE + (1000 * PRICE + 109) / 110);
    // Switching the supply on and off and proving its box takes 6 minutes more of each.
    assert_eq!(often::saved(&two, 2, &w(Some(6))), 188 * PRICE);
}

#[test]
fn few_cost_no_less_than_levels_tell() {
    let mut seen = 0;
    for (family, n) in [Family::TailsOver, Family::OwnSupply].into_iter().zip([4, 5]) {
        for seed in 0..4 {
            let ways = [(2, false, 0), (2, true, 0), (3, true, 0), (2, false, 1), (2, true, 1)];
            for (people, given, supplies) in ways {
                let recipe = Recipe { people, supplies, ..Recipe::new(family, n, 300 + seed) };
                let (job, labour) = job(recipe);
                let g = Ground::new(&job, &labour);
                let pair = pair::pairs(&g).remove(0);
                let own =
                    if given { OwnTasks::of(&g, pair.old, pair.new) } else { OwnTasks::default() };
                let w = Ways::of(&pair, &own, people as i64, 5, false);
                let levels = often::lower_bound(&pair, &w);
                let all = few::lower_bound(&pair, &own, &w).expect("few circuits");
                assert!(levels <= all, "{family:?} {n} {seed}: {levels} by levels, {all}");
                seen += 1;
            }
        }
    }
    assert_eq!(seen, 40);
}
