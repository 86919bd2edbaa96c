//! Seeded faults in jobs of real size: what a survey or a plan gets wrong, put into a sound one.
//!
//! Every fault has to be found, by the rule that it breaks, with the way named by which voltage
//! comes; and the sound original has to pass. The invented devices are spare parts of the tests.

use std::collections::BTreeSet;
use wayover::model::*;
use wayover::network::{Network, State};
use wayover::plan::*;
use wayover::search::{self, Options, Outcome};
use wayover::units::{Amperes, Exact, whole};
use wayover::verify::{self, Rule, Rule::*};

use crate::generator::{Family, Recipe, job};

/// A sound plan with its job.
#[derive(Clone)]
struct Original {
    name: String,
    job: Job,
    plan: Plan,
}

/// What was spoilt, which rules may tell it, and what their words have to name.
struct Fault {
    what: String,
    job: Job,
    plan: Plan,
    rules: &'static [Rule],
    names: Vec<String>,
    /// A lock that may be there for good measure only, so that to forget it does no harm.
    spare: bool,
    /// Whose protection is spoilt, if only one person's.
    of: Option<PersonId>,
}

fn one() -> Exact {
    whole(1)
}

fn read_back(name: &str, job: &Job, plan: &Plan) -> Original {
    let text = wayover::record::write(job, plan);
    let (job, plan) = wayover::record::read(&text).expect("a record just written");
    Original { name: name.to_owned(), job, plan }
}

fn planned(name: &str, job: &Job, labour: &Labour, options: Options) -> Original {
    match search::plan(job, labour, options) {
        Outcome::Plan(plan) => read_back(name, job, &plan),
        Outcome::None { misses, .. } => panic!("{name}: no plan, {} misses", misses.len()),
    }
}

fn record(name: &str) -> Original {
    let all = crate::records::all();
    let (_, text) = all.iter().find(|(n, _)| n.starts_with(name)).expect("a given record");
    let (job, plan) = wayover::record::read(text).expect("a record that can be read");
    Original { name: name.to_owned(), job, plan }
}

fn generated(family: Family, circuits: usize, boards: usize) -> Original {
    let plain = Recipe::new(family, circuits, 11);
    let (recipe, tries) = match family {
        // One night has to do for all of a board that is changed in the same place.
        Family::SamePlace => (Recipe { people: 3, testers: 2, ..plain }, 30),
        _ => (Recipe { boards, supplies: 1, groups: 2, ..plain }, 12),
    };
    let (job, labour) = job(recipe);
    planned(
        &format!("{family:?} {boards} x {circuits}"),
        &job,
        &labour,
        Options { moves: 20, tries, seed: 2 },
    )
}

fn demo(folder: &str) -> Original {
    let sound = match folder {
        "a-boathouse" => &crate::demos::boathouse().1,
        "c-music-school" => &crate::demos::school().1,
        other => panic!("no demo {other}"),
    };
    Original { name: folder.to_owned(), job: sound.job().clone(), plan: sound.plan().clone() }
}

impl Original {
    fn fault(&self, what: String, rules: &'static [Rule], names: &[&str]) -> Fault {
        let names = names.iter().map(|n| (*n).to_owned()).collect();
        Fault {
            what,
            job: self.job.clone(),
            plan: self.plan.clone(),
            rules,
            names,
            spare: false,
            of: None,
        }
    }

    /// A source that always runs.
    fn supply(&self) -> NodeId {
        let runs = |n: &Node| n.source().is_some_and(|s| s.watches.is_none());
        self.job.nodes.iter().find(|(_, n)| runs(n)).expect("a supply").0
    }

    /// Dead tasks, with their positions.
    fn dead(&self) -> Vec<(TaskId, PositionId)> {
        let dead = |t: &Task| t.kind.mode() == Mode::Dead && t.kind != TaskKind::FitCovers;
        let of = |(id, t): (TaskId, &Task)| t.position.filter(|_| dead(t)).map(|p| (id, p));
        self.plan.tasks.iter().filter_map(of).collect()
    }

    /// Circuits with a disconnect in the plan: the first, the middle and the last one.
    fn some_circuits(&self) -> Vec<CircuitId> {
        let moved = |t: &Task| t.circuit.filter(|_| t.kind == TaskKind::Disconnect);
        let all: Vec<CircuitId> = self.plan.tasks.rows().iter().filter_map(moved).collect();
        let few = [0, all.len() / 2, all.len().saturating_sub(1)];
        let few: BTreeSet<CircuitId> = few.iter().filter_map(|i| all.get(*i).copied()).collect();
        few.into_iter().collect()
    }

    /// Devices that the plan locks, the isolators above the boards first, a dozen at most.
    fn locked(&self) -> Vec<DeviceId> {
        let lock = |e: &Event| match e.act {
            Act::Lock(_, d, ..) => Some(d),
            _ => None,
        };
        let all: BTreeSet<DeviceId> = self.plan.events.iter().filter_map(lock).collect();
        let mut all: Vec<DeviceId> = all.into_iter().collect();
        all.sort_by_key(|d| self.job.devices[*d].enclosure.is_some());
        all.truncate(12);
        all
    }
}

/// A device that the survey did not see, between two nodes.
fn add_device(job: &mut Job, name: &str, a: NodeId, b: NodeId, closed: bool) {
    let wires: WireSet = job.nodes[a].wires.iter().filter(|w| job.nodes[b].wires.has(*w)).collect();
    let device = Device {
        a,
        b,
        wires: Lanes::straight(wires),
        breaks: wires.iter().filter(|w| *w != Wire::PE).collect(),
        isolates: true,
        lockable: true,
        on_load: true,
        overcurrent: true,
        rcd_ma: None,
        closed,
        rating: Amperes::from(100),
        diversity: one(),
        enclosure: None,
        temporary: false,
        self_acting: None,
        third_party: None,
    };
    job.devices.add(name, device).expect("a new name");
}

/// An open coupler from the supply to the busbar of each board where dead work is done.
fn forgotten_coupler(o: &Original) -> Vec<Fault> {
    let boards: BTreeSet<BoardId> =
        o.dead().iter().filter_map(|(_, p)| o.job.positions[*p].board).collect();
    let faults = boards.into_iter().filter_map(|b| {
        let bus = *o.job.positions[o.job.boards[b].ways].points.first()?;
        let supply = o.job.nodes.name(o.supply());
        let what = format!("a forgotten coupler to {}", o.job.boards.name(b));
        let mut f = o.fault(what, &[W1], &[supply, "coupler Z"]);
        add_device(&mut f.job, "coupler Z", o.supply(), bus, false);
        Some(f)
    });
    faults.collect()
}

/// A locked device that nobody locks.
fn forgotten_lock(o: &Original) -> Vec<Fault> {
    let faults = o.locked().into_iter().map(|d| {
        let name = o.job.devices.name(d);
        let mut f = o.fault(format!("no lock on {name}"), &[W1, W7], &[name]);
        let on = |e: &Event| matches!(e.act, Act::Lock(_, x, ..) | Act::Unlock(_, x, _) if x == d);
        f.spare = true;
        f.plan.events.retain(|e| !on(e));
        f
    });
    faults.collect()
}

/// A control panel with a feed besides its circuit's own.
fn second_feed(o: &Original) -> Vec<Fault> {
    let faults = o.some_circuits().into_iter().filter_map(|c| {
        let load = *o.job.circuits[c].nodes.first()?;
        let what = format!("a second feed to {}", o.job.circuits.name(c));
        let supply = o.job.nodes.name(o.supply());
        let mut f = o.fault(what, &[W1], &[supply, "control feed Z"]);
        add_device(&mut f.job, "control feed Z", o.supply(), load, true);
        Some(f)
    });
    faults.collect()
}

/// A circuit that moves shares its neutral with a circuit of a board that stays in use.
fn shared_neutral(o: &Original) -> Vec<Fault> {
    let faults = o.some_circuits().into_iter().map(|c| {
        let name = o.job.circuits.name(c).to_owned();
        let supply = o.job.nodes.name(o.supply());
        let what = format!("{name} shares its neutral with another board");
        let mut f = o.fault(what, &[W1, W12], &[supply, "other board Z"]);
        let (supply, job) = (o.supply(), &mut f.job);
        let wires = Wire::ALL.into_iter().filter(|w| job.nodes[supply].wires.has(*w)).collect();
        let bar = Node { kind: NodeKind::Bar, wires, neutral_bar: true };
        let bar = job.nodes.add("bus of board Z", bar).expect("a new name");
        add_device(job, "other board Z", supply, bar, true);
        let node = |wires| Node { kind: NodeKind::Load, wires, neutral_bar: false };
        let line: WireSet = [Wire::L1, Wire::N].into_iter().collect();
        let load = job.nodes.add("load Z", node(line)).expect("a new name");
        add_device(job, "way Z", bar, load, true);
        let other = Circuit {
            nodes: vec![load],
            amps: [(Wire::L1, Amperes::from(1))].into_iter().collect(),
            no_earth: Some("class II lighting".to_owned()),
            left_off: None,
        };
        let other = job.circuits.add("circuit Z", other).expect("a new name");
        match job.neutral_groups.iter_mut().find(|g| g.contains(&c)) {
            Some(group) => group.push(other),
            None => job.neutral_groups.push(vec![c, other]),
        }
        f
    });
    faults.collect()
}

/// A generator that starts when the board that it feeds goes dead.
fn able_to_start(o: &Original) -> Vec<Fault> {
    let boards: BTreeSet<BoardId> = o
        .dead()
        .iter()
        .filter(|(t, _)| o.plan.tasks[*t].kind == TaskKind::Disconnect)
        .filter_map(|(_, p)| o.job.positions[*p].board)
        .collect();
    let faults = boards.into_iter().filter_map(|b| {
        let bus = *o.job.positions[o.job.boards[b].ways].points.first()?;
        let what = format!("a generator at {} left able to start", o.job.boards.name(b));
        let mut f = o.fault(what, &[W1, W7], &["generator Z", "generator switch Z"]);
        let kind = NodeKind::Source(Source {
            watches: Some(bus),
            system: Some(Earthing::Tn),
            neutral_earthed: Some("the designer".into()),
            rating: Amperes::from(100),
            diversity: one(),
        });
        let wires = f.job.nodes[o.supply()].wires;
        let node = Node { kind, wires, neutral_bar: false };
        let source = f.job.nodes.add("generator Z", node).expect("a new name");
        add_device(&mut f.job, "generator switch Z", source, bus, true);
        Some(f)
    });
    faults.collect()
}

/// The same job where no neutral counts as earthed, and all that is locked breaks the neutral.
fn all_pole_tt(o: &Original) -> Original {
    let mut tt = o.clone();
    tt.name = format!("{} as TT", o.name);
    let sources: Vec<NodeId> = tt.job.nodes.ids().collect();
    for n in sources {
        if let NodeKind::Source(source) = &mut tt.job.nodes[n].kind {
            (source.system, source.neutral_earthed) = (Some(Earthing::Tt), None);
        }
    }
    for d in o.locked() {
        let device = &mut tt.job.devices[d];
        let carried: WireSet = device.wires.iter().map(|(a, _)| a).collect();
        device.breaks = carried.iter().filter(|w| *w != Wire::PE).collect();
    }
    tt
}

/// One of the locked devices leaves the neutral through.
fn single_pole(tt: &Original) -> Vec<Fault> {
    let faults = tt.locked().into_iter().map(|d| {
        let name = tt.job.devices.name(d);
        let what = format!("{name} does not break the neutral");
        let mut f = tt.fault(what, &[W1], &[name, "does not break N"]);
        f.spare = true;
        let device = &mut f.job.devices[d];
        device.breaks = device.breaks.iter().filter(|w| w.is_line()).collect();
        f
    });
    faults.collect()
}

/// A lock whose key its owner keeps, or the lock on the box, is that of somebody else.
fn wrong_person(o: &Original) -> Vec<Fault> {
    let mut faults = Vec::new();
    for (i, event) in o.plan.events.iter().enumerate() {
        let (by, what) = match &event.act {
            Act::Lock(by, d, _, Key::Kept) => (by, o.job.devices.name(*d).to_owned()),
            Act::BoxLock(by, b) => (by, o.plan.boxes.name(*b).to_owned()),
            _ => continue,
        };
        let Who::Person(owner) = by.who else { continue };
        // Only where the owner is at dead work before it comes off again.
        let off = |e: &Event| match (&event.act, &e.act) {
            (Act::Lock(_, _, lock, _), Act::Unlock(_, _, l)) => lock == l,
            (Act::BoxLock(by, b), Act::BoxUnlock(other, c)) => b == c && by.who == other.who,
            _ => false,
        };
        let rest = &o.plan.events[i..];
        let end = rest.iter().position(off).map_or(o.plan.events.len(), |n| i + n);
        let works = |e: &Event| match &e.act {
            Act::Start { task, who, .. } => {
                who.contains(&owner)
                    && matches!(
                        o.plan.tasks[*task].kind,
                        TaskKind::Disconnect | TaskKind::Connect | TaskKind::ConnectTails
                    )
            }
            _ => false,
        };
        if !o.plan.events[i..end].iter().any(works) {
            continue;
        }
        // Nobody locks the same box twice.
        let boxed = |p: PersonId| match &event.act {
            Act::BoxLock(_, b) => o.plan.events.iter().any(
                |e| matches!(&e.act, Act::BoxLock(by, c) if c == b && by.who == Who::Person(p)),
            ),
            _ => false,
        };
        let other = o.job.people.ids().find(|p| *p != owner && !boxed(*p));
        let what = format!("{what} not locked by its owner at {}", event.at);
        let name = o.job.people.name(owner);
        let mut f = o.fault(what, &[W3], &[name, "locked, but not by them"]);
        (f.spare, f.of) = (true, Some(owner));
        for at in [end, i] {
            let Some(other) = other else {
                // All the others have locks of their own on: this one is simply not there.
                if at < f.plan.events.len() {
                    f.plan.events.remove(at);
                }
                continue;
            };
            if let Some(event) = f.plan.events.get_mut(at) {
                match &mut event.act {
                    Act::Lock(by, ..)
                    | Act::Unlock(by, ..)
                    | Act::BoxLock(by, _)
                    | Act::BoxUnlock(by, _) => by.who = Who::Person(other),
                    _ => {}
                }
            }
        }
        faults.push(f);
    }
    // Ten are as good as a hundred of the same kind.
    let step = faults.len().div_ceil(10).max(1);
    faults.into_iter().step_by(step).collect()
}

/// What is wrong with the answer to a fault, if anything is.
fn missed(f: &Fault) -> Option<String> {
    let (_, breaches) = verify::replay(&f.job, &f.plan);
    let words = |b: &verify::Breach| b.words(&f.job, &f.plan);
    let tells = |b: &&verify::Breach| {
        let words = words(b);
        f.rules.contains(&b.rule) && f.names.iter().all(|n| words.contains(n.as_str()))
    };
    if breaches.iter().any(|b| tells(&b)) {
        return None;
    }
    let told: Vec<String> =
        breaches.iter().take(6).map(|b| format!("{} {}", b.rule, words(b))).collect();
    Some(format!("{}: {:?} {:?} not among\n    {}", f.what, f.rules, f.names, told.join("\n    ")))
}

/// Whether all that is bare or of the circuit is isolated at the start of every dead task, as the
/// planner's network sees it, which shares no code with the checker: a lock that a plan hangs on
/// beyond what is needed may be forgotten without harm. Of somebody's own lock only their tasks
/// and what they hold are asked.
fn harmless(f: &Fault) -> bool {
    let net = Network::build(&f.job);
    let mut state = State::old(&f.job);
    let mut locks: Vec<(DeviceId, LockId, Who, Key)> = Vec::new();
    let mut boxes: BTreeSet<(BoxId, Who)> = BTreeSet::new();
    let mut parted = Vec::new();
    for event in &f.plan.events {
        match &event.act {
            Act::Open(_, d) => state.closed.set(*d, false),
            Act::Close(_, d) => state.closed.set(*d, true),
            Act::Lock(by, d, lock, key) => locks.push((*d, *lock, by.who, *key)),
            Act::Unlock(_, _, lock) => locks.retain(|(_, l, ..)| l != lock),
            Act::BoxLock(by, b) => {
                boxes.insert((*b, by.who));
            }
            Act::BoxUnlock(by, b) => {
                boxes.remove(&(*b, by.who));
            }
            Act::Make(_, j) => state.make(*j),
            Act::Break(by, j) => {
                state.part(*j);
                parted.push((by.task, *j));
            }
            Act::Finish { task, .. } => {
                for (by, j) in &parted {
                    if *by == Some(*task) && !state.made.has(*j) {
                        state.insulate(*j);
                    }
                }
            }
            Act::Start { task, who, .. } if f.of.is_none_or(|p| who.contains(&p)) => {
                let held = |(_, _, owner, key): &&(DeviceId, LockId, Who, Key)| match (f.of, key) {
                    (None, _) => true,
                    (Some(p), Key::Kept) => *owner == Who::Person(p),
                    (Some(p), Key::Boxed(b)) => boxes.contains(&(*b, Who::Person(p))),
                };
                let held: Vec<DeviceId> = locks.iter().filter(held).map(|l| l.0).collect();
                let row = &f.plan.tasks[*task];
                let (Mode::Dead, Some(at)) = (row.kind.mode(), row.position) else { continue };
                let shrouded =
                    |b: BoardId| f.job.boards[b].incoming_shrouded && f.job.boards[b].ways_shrouded;
                if row.kind == TaskKind::FitCovers
                    && f.job.positions[at].board.is_some_and(shrouded)
                {
                    continue;
                }
                let mut nodes = net.laid_open(at);
                if let Some(c) = row.circuit {
                    let group = f.job.neutral_groups.iter().find(|g| g.contains(&c));
                    for member in group.map_or(vec![c], Clone::clone) {
                        nodes.extend(net.own_nodes(&state, member));
                    }
                }
                if !net.secured(&state.with_locks(&held), &nodes) {
                    return false;
                }
            }
            _ => {}
        }
    }
    true
}

fn sound(o: &Original) {
    let (_, breaches) = verify::replay(&o.job, &o.plan);
    let rest: Vec<String> = breaches
        .iter()
        .filter(|b| b.rule != C1)
        .map(|b| format!("{} {}", b.rule, b.words(&o.job, &o.plan)))
        .collect();
    assert!(rest.is_empty(), "{}:\n{}", o.name, rest.join("\n"));
}

fn all_found(o: &Original) {
    if let Err(breaches) = verify::check(&o.job, &o.plan) {
        let words = breaches.iter().map(|b| format!("{} {}", b.rule, b.words(&o.job, &o.plan)));
        panic!("{} is not sound: {:#?}", o.name, words.collect::<Vec<_>>());
    }
    let tt = all_pole_tt(o);
    sound(&tt);
    let kinds = [
        ("forgotten coupler", forgotten_coupler(o)),
        ("forgotten lock", forgotten_lock(o)),
        ("second feed", second_feed(o)),
        ("shared neutral", shared_neutral(o)),
        ("able to start", able_to_start(o)),
        ("single pole", single_pole(&tt)),
        ("wrong person", wrong_person(o)),
    ];
    let mut wrong = Vec::new();
    for (kind, faults) in kinds {
        let mut found = 0;
        for fault in &faults {
            match missed(fault) {
                None => found += 1,
                Some(_) if fault.spare && harmless(fault) => {}
                Some(words) => wrong.push(words),
            }
        }
        println!("{}: {kind}, {found} found of {} tried", o.name, faults.len());
        if found == 0 {
            wrong.push(format!("no {kind} found"));
        }
    }
    assert!(wrong.is_empty(), "{}: {} missed\n{}", o.name, wrong.len(), wrong.join("\n"));
}

#[test]
fn faults_in_given_plans_are_found_with_their_path() {
    for name in ["01", "02", "07", "48", "80"] {
        all_found(&record(name));
    }
}

#[test]
fn faults_in_a_board_of_24_in_the_same_place_are_found_with_their_path() {
    all_found(&generated(Family::SamePlace, 24, 1));
}

#[test]
fn faults_in_a_board_of_36_with_its_own_supply_are_found_with_their_path() {
    all_found(&generated(Family::OwnSupply, 36, 1));
}

#[test]
fn faults_in_two_boards_of_24_whose_tails_move_are_found_with_their_path() {
    all_found(&generated(Family::TailsOver, 24, 2));
}

#[test]
fn faults_in_the_music_school_are_found_with_their_path() {
    all_found(&demo("c-music-school"));
}
