//! A slow, obvious planner for tiny jobs, against which the search and its bound are measured. It
//! shares no code with them: tasks, schedules and cost are its own; only the model's types and the
//! task templates are common ground.
//!
//! Boards that are fed apart have an oracle of their own, `apart`. This page is about the others.
//!
//! **Jobs.** One board, in the same place or side by side with its tails brought over; 1 to 4
//! circuits, all prepared, one load each (1 or 2 circuits where there is a temporary supply); one
//! person or two who may do everything, one instrument; at most one temporary supply and one
//! emergency group whose lights and feed are one circuit; one or two night windows in which
//! nothing is needed. Durations are so short that no break falls due, and proofs last.
//!
//! **Plans.** All in one visit and one dead period. Every set of circuits may ride; they go on
//! together and come off together, on the key of one person each time. The tasks are those of
//! section 3 in its order, once each; whoever is on the job sees the board proved. Every order,
//! every choice of people and all useful waiting are tried (see `schedule`). Acts of a task are a
//! minute apart, the last at its end (isolation: open, lock, and cartridges out where fitted);
//! a function test holds its device open for all but its first and last minute.
//!
//! **Why the best is among them.** A second visit, or a second dead period, interrupts every load
//! once more, takes no task away, and puts back none of the time for which a board is dead. All
//! minutes of the windows cost the same, so that the start does not matter. All people are alike
//! but for the keys. What a plan might still gain, and the class leaves out: acts of one task in
//! the same minute; riders that come and go one by one; the new place proved before the old
//! board is out of it.

mod apart;
mod schedule;
mod tiny;
mod work;

use crate::generator::Family;
use crate::support::{effort, starts};
use schedule::{Rate, Schedules};
use std::collections::{BTreeMap, BTreeSet};
use tiny::{Tiny, in_windows, tiny};
use wayover::model::*;
use wayover::plan::Plan;
use wayover::search::bound;
use wayover::search::ground::Ground;
use wayover::search::{self, Options, Outcome};
use wayover::units::{Exact, fixed, whole};
use work::{Riders, What, Work, works};

/// What the oracle found: the least cost, and who does what when.
struct Best {
    j: Exact,
    plan: String,
}

/// What is out of service while these tasks are done, priced in twentieths.
struct Outages<'a> {
    works: &'a [Work],
    weight: Vec<i64>,
}

impl Outages<'_> {
    fn done(&self, done: u64, what: What) -> bool {
        (self.works.iter().position(|w| w.what == what)).is_some_and(|i| done & (1 << i) != 0)
    }

    fn out(&self, done: u64, c: usize) -> bool {
        let rides = self.done(done, What::HookUp(c))
            && self.done(done, What::SupplyOn)
            && !self.done(done, What::SupplyOff);
        self.done(done, What::Isolate) && !rides && !self.done(done, What::LiveTest(c))
    }
}

impl Rate for Outages<'_> {
    /// A load out for a minute costs a tenth of its weight; a circuit on a supply a twentieth.
    fn rate(&self, done: u64) -> i64 {
        let carried = |c| self.done(done, What::HookUp(c)) && !self.done(done, What::Unhook(c));
        (0..self.weight.len())
            .map(|c| 2 * self.weight[c] * i64::from(self.out(done, c)) + i64::from(carried(c)))
            .sum()
    }
}

/// Minutes from the first load out to the end of all tests.
struct Length(u64);

impl Rate for Length {
    fn rate(&self, done: u64) -> i64 {
        i64::from(done & self.0 != 0)
    }
}

fn bits(works: &[Work], wanted: impl Fn(What) -> bool) -> u64 {
    (works.iter().enumerate()).filter(|(_, w)| wanted(w.what)).map(|(i, _)| 1 << i).sum()
}

fn weights(t: &Tiny) -> Vec<i64> {
    let of = |c: CircuitId| {
        let load = t.job.loads.rows().iter().find(|l| l.circuits == [c]).expect("a load each");
        (1..10).find(|w| whole(*w) == load.weight).expect("a small weight")
    };
    t.job.circuits.ids().map(of).collect()
}

/// Every choice of riders, with every choice of keepers.
fn all_riders(t: &Tiny) -> Vec<Riders> {
    let n = if t.job.supplies.is_empty() { 0 } else { t.job.circuits.len() };
    let others = t.job.people.len();
    let mut all = vec![Riders::default()];
    for set in 1..1u32 << n {
        let circuits: BTreeSet<usize> = (0..n).filter(|c| set & (1 << c) != 0).collect();
        // People are alike: the first keeper is the first person.
        all.extend((0..others).map(|k| Riders { circuits: circuits.clone(), keepers: [0, k] }));
    }
    all
}

/// From the first device opened to the end of the isolation.
fn opened_before(t: &Tiny) -> i64 {
    if t.family == Family::SamePlace { 1 } else { 2 }
}

/// The best plan of the class.
fn best(t: &Tiny) -> Best {
    if t.family == Family::OwnSupply {
        let (j, plan) = apart::best(t, &weights(t));
        return Best { j, plan };
    }
    let all = all_riders(t).into_iter().map(|riders| {
        let works = works(&t.job, &t.labour, t.family, &riders, false);
        let rate = Outages { works: &works, weight: weights(t) };
        let goal = bits(&works, |w| matches!(w, What::LiveTest(_)));
        let (cost, starts) = Schedules::new(&works, t.job.people.len(), &rate, goal).best();
        let j = replay(t, &works, &starts, &riders);
        // The recursion and the recomputation agree but for what no order changes.
        let fixed = unavoidable(t, &riders);
        assert_eq!(j, Exact::new(cost.into(), 20.into()) + fixed, "seed {}", t.seed);
        let mut lines: Vec<(i64, String)> = (works.iter().zip(&starts))
            .map(|(w, s)| (*s, format!("{s} {:?} ({}) {:?}", w.what, w.minutes, w.crew)))
            .collect();
        lines.sort();
        let plan: Vec<String> = lines.into_iter().map(|(_, l)| l).collect();
        Best { j, plan: plan.join("\n") }
    });
    all.min_by_key(|b| b.j.clone()).expect("a choice of riders")
}

/// What is paid whatever the order: opening before the isolation ends, interruptions, function
/// tests, attendances.
fn unavoidable(t: &Tiny, riders: &Riders) -> Exact {
    let weight = weights(t);
    let mut tenths = 0;
    for (c, w) in weight.iter().enumerate() {
        let times = if riders.circuits.contains(&c) { 2 } else { 1 };
        tenths += w * (opened_before(t) + 5 * times);
    }
    for (g, group) in t.job.groups.iter() {
        let minutes = t.labour.groups[g.index()].function_test.planned.0 - 2;
        tenths += weight[group.feed.index()] * (minutes + 5);
    }
    Exact::new(tenths.into(), 10.into()) + &t.job.policy.v * whole(t.job.people.len() as i64)
}

/// J of a schedule, minute by minute (planning model, section 8).
fn replay(t: &Tiny, works: &[Work], starts: &[i64], riders: &Riders) -> Exact {
    let policy = &t.job.policy;
    let find = |what: What| works.iter().position(|w| w.what == what).expect("a task");
    let end = |what: What| starts[find(what)] + works[find(what)].minutes;
    let (mut minutes, mut outages, mut carried) = (Exact::from_integer(0.into()), 0, 0);
    let mut interruptions = Exact::from_integer(0.into());
    let weight = weights(t);
    // Function tests come after everything else, one after the other.
    let last = (0..weight.len()).map(|c| end(What::LiveTest(c))).max().unwrap_or(0);
    let mut tests: Vec<(usize, i64, i64)> = Vec::new();
    let mut now = last;
    for (g, group) in t.job.groups.iter() {
        let length = t.labour.groups[g.index()].function_test.planned.0;
        tests.push((group.feed.index(), now + 1, now + length - 1));
        now += length;
    }
    let opened = end(What::Isolate) - opened_before(t);
    for (c, w) in weight.iter().enumerate() {
        let mut before = false;
        for minute in opened..now {
            let rides = riders.circuits.contains(&c)
                && end(What::SupplyOn) <= minute
                && minute < end(What::SupplyOff);
            let tested =
                tests.iter().any(|(x, from, to)| *x == c && (*from..*to).contains(&minute));
            let out = (minute < end(What::LiveTest(c)) && !rides) || tested;
            if out {
                minutes += &policy.f * whole(*w);
            }
            if out && !before {
                outages += 1;
                interruptions += &policy.f * &policy.q * whole(*w);
            }
            before = out;
        }
        if riders.circuits.contains(&c) {
            carried += end(What::Unhook(c)) - end(What::HookUp(c));
        }
    }
    assert!(outages >= weight.len());
    let visits = &policy.v * whole(t.job.people.len() as i64);
    minutes + interruptions + visits + &policy.h * Exact::new(carried.into(), 60.into())
}

/// The shortest time from the first load out to the last test, of all plans of the class in
/// which nothing rides.
fn shortest(t: &Tiny) -> i64 {
    let works = works(&t.job, &t.labour, t.family, &Riders::default(), true);
    let rate = Length(bits(&works, |w| w == What::Isolate));
    let goal = bits(&works, |w| matches!(w, What::LiveTest(_) | What::FunctionTest(_)));
    opened_before(t) + Schedules::new(&works, t.job.people.len(), &rate, goal).best().0
}

/// How the search and its bound compare with the oracle on some jobs.
#[derive(Debug, Default)]
struct Tally {
    jobs: usize,
    /// The search's J is the least there is.
    equal: usize,
    /// It is cheaper than any plan of the class, since its boards are dead more often.
    below: usize,
    /// Its bound is the least there is.
    proved: usize,
    /// So is its bound on plans that give switching its own time, as all here do.
    timed: usize,
    /// The greatest excess of J over the least, in parts of a thousand.
    worst: i64,
    /// The same of the bound below the least.
    loosest: i64,
    /// And of the bound on plans that give switching its own time.
    loosest_timed: i64,
}

/// One job by all: whether numbers are the least there is, and by how much they are not.
struct Compared {
    equal: bool,
    below: bool,
    proved: bool,
    timed: bool,
    over: i64,
    under: i64,
    under_timed: i64,
}

impl Tally {
    fn count(&mut self, c: &Compared) {
        self.jobs += 1;
        self.equal += usize::from(c.equal);
        self.below += usize::from(c.below);
        self.proved += usize::from(c.proved);
        self.timed += usize::from(c.timed);
        self.worst = self.worst.max(c.over);
        self.loosest = self.loosest.max(c.under);
        self.loosest_timed = self.loosest_timed.max(c.under_timed);
    }
}

/// How often a board is isolated.
fn isolations(plan: &Plan) -> usize {
    let of_board = |t: &&Task| t.kind == TaskKind::Isolate && t.board.is_some();
    plan.tasks.rows().iter().filter(of_board).count()
}

/// A third of the jobs has boards that are fed apart.
fn jobs(count: u64) -> impl Iterator<Item = Tiny> {
    (0..count).map(|n| if n % 3 == 2 { tiny::apart(n / 3) } else { tiny(n - n / 3) })
}

fn compare(jobs: impl Iterator<Item = Tiny>) -> Tally {
    let (mut all, mut families) = (Tally::default(), BTreeMap::<String, Tally>::new());
    for t in jobs {
        let name = format!("{:?} {}", t.family, t.seed);
        let least = best(&t);
        let Outcome::Plan(plan) = search::plan(&t.job, &t.labour, effort(&t.job)) else {
            panic!("{name}: no plan, where there is one of {}:\n{}", least.j, least.plan);
        };
        let (j, bound) = (&plan.claims.j, &plan.claims.lower_bound);
        let timed = bound::lower_bound_in_own_tasks(&Ground::new(&t.job, &t.labour));
        // Claims are stated to a tenth.
        let near = Exact::new(1.into(), 20.into());
        assert!(*bound <= least.j, "{name}: bound {bound}, but a plan of {}", least.j);
        assert!(timed <= least.j, "{name}: bound in own tasks {timed}, but {}", least.plan);
        // Where boards are not fed apart the class has one dead time: a plan with more may be cheaper.
        let below = *j < &least.j - &near;
        let outside = t.family != Family::OwnSupply && isolations(&plan) > 1;
        assert!(!below || outside, "{name}: J {j}, below the least, {}", least.j);
        assert!(*bound <= *j && timed <= j + &near, "{name}: bounds {bound}, {timed} above J {j}");
        let over = (j - &least.j).max(whole(0));
        let parts = |x: Exact| (x * whole(1000) / &least.j).ceil().to_integer();
        let thousandths = |x: Exact| i64::try_from(parts(x)).expect("a small number");
        let compared = Compared {
            equal: over <= near,
            below,
            proved: least.j.floor() == bound.floor(),
            timed: least.j.floor() == timed.floor(),
            over: thousandths(over.clone()),
            under: thousandths(&least.j - bound),
            under_timed: thousandths(&least.j - &timed),
        };
        all.count(&compared);
        let family = format!("{:?}, {} supplies", t.family, t.job.supplies.len());
        families.entry(family).or_default().count(&compared);
        if !compared.timed {
            println!("{name}: least {}, in own tasks {}", fixed(&least.j, 2), fixed(&timed, 2));
        }
        if !compared.equal {
            let (circuits, people) = (t.job.circuits.len(), t.job.people.len());
            println!(
                "{name}: {circuits} circuits, {people} people, {} supplies: J {}, least {}, bound {bound}",
                t.job.supplies.len(),
                fixed(j, 2),
                fixed(&least.j, 2)
            );
        }
        if std::env::var("WAYOVER_ORACLE").is_ok_and(|told| told == name) {
            println!("{}", least.plan);
            println!("{}", starts(&plan));
        }
    }
    for (family, tally) in families {
        println!("{family}: {tally:?}");
    }
    println!("all: {all:?}");
    all
}

#[test]
fn tiny_jobs_get_plans_and_bounds_that_stand_beside_the_best_there_is() {
    let tally = compare(jobs(20));
    assert!(tally.equal == 20, "{tally:?}");
}

#[test]
#[ignore = "minutes; the figures are in DEVELOPERS.md"]
fn two_hundred_tiny_jobs() {
    assert_eq!(compare(jobs(200)).jobs, 200);
}

/// A window is long enough, or it is not: same verdict. Left out are windows too short by less
/// than what of the isolation could come before them: the search begins it in the window.
#[test]
fn a_window_is_long_enough_for_both_or_for_neither() {
    let seeds =
        (0..).map(tiny).filter(|t| t.family == Family::SamePlace && t.job.supplies.is_empty());
    for t in seeds.take(20) {
        let margin = t.job.policy.margin.0;
        let need = shortest(&t) + margin;
        let ahead = t.labour.boards.iter().map(|b| b.isolate.planned.0).max().unwrap_or(0);
        for (minutes, fits) in [(need - 1, false), (need + ahead, true)] {
            let t = in_windows(tiny(t.seed), minutes);
            let found = search::plan(&t.job, &t.labour, Options::usual(&t.job));
            let is_plan = matches!(found, Outcome::Plan(_));
            assert_eq!(is_plan, fits, "seed {}, {minutes} minutes, {need} needed", t.seed);
        }
    }
}

/// The optimum itself never gets worse by one more of anything, attendance being free: what the
/// planner is held to is true of the best there is.
#[test]
fn one_more_person_or_tester_never_worsens_the_optimum() {
    let (mut seen, mut better) = (0, 0);
    for mut t in jobs(60).filter(|t| t.job.people.len() == 1).take(20) {
        t.job.policy.v = whole(0);
        let plain = best(&t).j;
        for extra in ["person", "tester"] {
            let mut job = t.job.clone();
            if extra == "person" {
                let person = job.people.rows()[0].clone();
                job.people.add("one more".to_owned(), person).expect("a new name");
            } else {
                let tester = job.instruments.rows()[0].clone();
                job.instruments.add("one more".to_owned(), tester).expect("a new name");
            }
            let more = Tiny { family: t.family, seed: t.seed, job, labour: t.labour.clone() };
            let j = best(&more).j;
            assert!(j <= plain, "{:?} {}, one more {extra}: {j} for {plain}", t.family, t.seed);
            seen += 1;
            better += usize::from(j < plain);
        }
    }
    assert!(seen >= 30 && better >= 10, "{better} of {seen} better");
}
