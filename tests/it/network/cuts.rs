//! The cheapest locks: against every set of devices on small networks, and against the minimum
//! cuts of a general graph library on larger ones (`tests/outside/cuts.py`; where no `python3` with
//! `networkx` is found there is nothing to compare with).

use super::oracle;
use super::random::{Rng, Shape, network};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::PathBuf;
use std::process::{Command, Output};
use wayover::model::*;
use wayover::network::{Cost, Each, Link, Network, Price, Spot, State, lock_sets};

/// Weighted loads, of which each device takes some down: a price that is no sum.
struct Union {
    takes: BTreeMap<DeviceId, u64>,
    weights: [u64; 16],
}

impl Price for Union {
    fn whole(&self, devices: &[DeviceId]) -> u64 {
        let down = devices.iter().fold(0, |all, d| all | self.takes[d]);
        (0..16).filter(|i| down >> i & 1 != 0).map(|i| self.weights[i]).sum()
    }
}

fn case(seed: u64) -> (Job, State, Vec<NodeId>, Rng) {
    let mut rng = Rng(seed);
    let nodes = 3 + rng.below(10);
    let extra = rng.below(6);
    let devices = (nodes - 1 + extra).min(5 + rng.below(6));
    let sources = 1 + rng.below(3.min(nodes - 1));
    let shape = Shape { nodes, devices, sources, extra, plain: false };
    let mut job = network(&mut rng, &shape);
    if rng.percent(85) {
        for device in job.devices.ids() {
            let device = &mut job.devices[device];
            (device.isolates, device.lockable) = (true, true);
            if rng.percent(50) {
                device.breaks = device.wires.at_a();
            }
        }
    }
    let mut state = State::old(&job);
    for device in job.devices.ids() {
        if rng.percent(10) {
            state.lock(device);
        }
    }
    let bars: Vec<NodeId> = job.nodes.ids().skip(1 + shape.sources).collect();
    let count = if bars.is_empty() { 0 } else { 1 + rng.below(2) };
    let targets = (0..count).map(|_| bars[rng.below(bars.len())]).collect();
    (job, state, targets, rng)
}

/// The outages and lock counts of all minimal sets, cheapest first, by trying every set.
fn all_minimal(
    job: &Job,
    state: &State,
    targets: &[Spot],
    usable: &[DeviceId],
    price: &dyn Price,
) -> Vec<(u64, u64, Vec<DeviceId>)> {
    let secures = |bits: u32| {
        let set: Vec<DeviceId> =
            (0..usable.len()).filter(|i| bits >> i & 1 != 0).map(|i| usable[i]).collect();
        let live = oracle::threatened(job, &state.with_locks(&set));
        !targets.iter().any(|t| live.contains(t))
    };
    let good: Vec<bool> = (0..1 << usable.len()).map(secures).collect();
    let mut sets = Vec::new();
    for bits in 0u32..1 << usable.len() {
        let minimal =
            (0..usable.len()).all(|i| bits >> i & 1 == 0 || !good[(bits & !(1 << i)) as usize]);
        if good[bits as usize] && minimal {
            let set: Vec<DeviceId> =
                (0..usable.len()).filter(|i| bits >> i & 1 != 0).map(|i| usable[i]).collect();
            sets.push((price.whole(&set), set.len() as u64, set));
        }
    }
    sets.sort();
    sets
}

#[test]
fn the_best_three_lock_sets_are_those_found_by_trying_every_set() {
    let (mut found, mut none, mut several) = (0, 0, 0);
    for seed in 0..1000 {
        let (job, state, targets, mut rng) = case(seed);
        let net = Network::build(&job);
        let forbidden: Vec<DeviceId> = job.devices.ids().filter(|_| rng.percent(6)).collect();
        let usable: Vec<DeviceId> = job
            .devices
            .iter()
            .filter(|(id, d)| {
                d.lockable && d.isolates && !state.locked.has(*id) && !forbidden.contains(id)
            })
            .map(|(id, _)| id)
            .collect();
        let prices: Vec<u64> = job.devices.ids().map(|_| rng.below(6) as u64).collect();
        let sum = Each(|d: DeviceId| prices[d.index()]);
        let union = Union {
            takes: job.devices.ids().map(|d| (d, rng.next() & rng.next() & 0xffff)).collect(),
            weights: std::array::from_fn(|_| 1 + rng.below(5) as u64),
        };
        let prices: [&dyn Price; 2] = [&sum, &union];
        let price = prices[(seed % 2) as usize];
        let spots = net.spots(&targets);
        let want = all_minimal(&job, &state, &spots, &usable, price);
        match lock_sets(&net, &state, &targets, price, &forbidden, &[], 3) {
            Ok(got) => {
                assert!(got.exact, "seed {seed}");
                let costs: Vec<_> =
                    got.sets.iter().map(|s| (s.cost.outage, s.cost.locks)).collect();
                let least: Vec<_> = want.iter().take(3).map(|w| (w.0, w.1)).collect();
                assert_eq!(costs, least, "seed {seed}");
                for set in &got.sets {
                    assert!(want.iter().any(|w| w.2 == set.devices), "seed {seed}: {set:?}");
                    assert!(net.secured(&state.with_locks(&set.devices), &targets));
                }
                found += 1;
                several += usize::from(got.sets.len() == 3);
            }
            Err(path) => {
                assert!(want.is_empty(), "seed {seed}: {path:?}, but {want:?}");
                assert!(targets.contains(&path.from.node), "seed {seed}");
                oracle::assert_real(&job, path.from, &path.hops, &|link, wire| {
                    let fit = |d: DeviceId| usable.contains(&d) && job.devices[d].breaks.has(wire);
                    oracle::cut(&job, &state, link, wire)
                        || matches!(link, Link::Device(d) if fit(d))
                });
                none += 1;
            }
        }
    }
    assert!(found > 400 && none > 100 && several > 50, "{found}, {none}, {several}");
}

#[test]
fn a_device_added_where_the_refusal_says_mends_it() {
    let mut mended = 0;
    for seed in 0..600 {
        let (mut job, state, targets, _) = case(seed);
        let free = Each(|_| 1);
        let refused =
            |job: &Job| lock_sets(&Network::build(job), &state, &targets, &free, &[], &[], 1).err();
        let Some(path) = refused(&job) else { continue };
        assert!(!path.add_at.is_empty() || path.hops.is_empty(), "seed {seed}");
        for link in &path.add_at {
            match link {
                Link::Device(d) => {
                    let device = &mut job.devices[*d];
                    (device.isolates, device.lockable) = (true, true);
                    device.breaks = device.wires.at_a();
                }
                // As good as a device there: the joint is gone.
                Link::Joint(j) => job.joints[*j].wires = Lanes::default(),
            }
        }
        if !path.add_at.is_empty() {
            assert_eq!(refused(&job), None, "seed {seed}");
            mended += 1;
        }
    }
    assert!(mended > 50, "only {mended} mended");
}

#[test]
fn forced_devices_are_locked_where_they_can_cut_and_only_there() {
    for seed in 3000..3300 {
        let (job, state, targets, _) = case(seed);
        let net = Network::build(&job);
        let price = Each(|_| 1);
        let Ok(best) = lock_sets(&net, &state, &targets, &price, &[], &[], 1) else { continue };
        for device in job.devices.ids().filter(|d| !state.locked.has(*d)) {
            let got = lock_sets(&net, &state, &targets, &price, &[], &[device], 1)
                .expect("more locks secure no less");
            assert!(net.secured(&state.with_locks(&got.sets[0].devices), &targets));
            assert!(got.sets[0].cost >= best.sets[0].cost, "seed {seed}");
        }
    }
}

const LARGER: u64 = 400;

/// Larger plain graphs, on which one maximum flow is the answer: `{edges: [a, b, outage or null],
/// sources, target, outage, locks}` for the script to judge, one a line. Every edge is one lane;
/// null is a joint.
fn larger() -> String {
    let mut text = String::from("[");
    for seed in 0..LARGER {
        let mut rng = Rng(70_000 + seed);
        let nodes = 40 + rng.below(21);
        let extra = 10 + rng.below(30);
        let devices = (nodes - 1 + extra) * 3 / 4;
        let sources = 1 + rng.below(4);
        let job = network(&mut rng, &Shape { nodes, devices, sources, extra, plain: true });
        let net = Network::build(&job);
        let prices: Vec<u64> = job.devices.ids().map(|_| rng.below(20) as u64).collect();
        let target = NodeId::new(1 + sources + rng.below(nodes - sources));
        let price = Each(|d: DeviceId| prices[d.index()]);
        let got = lock_sets(&net, &State::old(&job), &[target], &price, &[], &[], 1);
        let answer = got.as_ref().ok().map(|sets| (sets.sets[0].cost, sets.exact));
        let edges: Vec<String> = job
            .devices
            .iter()
            .map(|(id, d)| format!("[{},{},{}]", d.a.index(), d.b.index(), prices[id.index()]))
            .chain(
                job.joints.rows().iter().map(|j| format!("[{},{},null]", j.a.index(), j.b.index())),
            )
            .collect();
        let (outage, locks) = match answer {
            Some((Cost { outage, locks, .. }, exact)) => {
                assert!(exact, "seed {seed} used up its steps");
                (outage.to_string(), locks.to_string())
            }
            None => ("null".into(), "null".into()),
        };
        let from: Vec<usize> = (1..=sources).collect();
        let comma = if seed == 0 { "" } else { "," };
        write!(
            text,
            "{comma}\n{{\"edges\":[{}],\"sources\":{from:?},\"target\":{},\
             \"outage\":{outage},\"locks\":{locks}}}",
            edges.join(","),
            target.index()
        )
        .expect("a string takes all");
    }
    text.push_str("\n]\n");
    text
}

/// The script's run over some cases, or nothing where it cannot run.
fn judged(name: &str, cases: &str) -> Option<Output> {
    let has = Command::new("python3").args(["-c", "import networkx"]).output();
    if !has.is_ok_and(|run| run.status.success()) {
        eprintln!("no python3 with networkx: larger cuts are compared with nothing");
        return None;
    }
    let file = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
        .join(format!("network-cuts-{name}-{}.json", std::process::id()));
    std::fs::write(&file, cases).expect("the build's own folder is writable");
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/outside/cuts.py");
    let run = Command::new("python3").arg(script).arg(&file).output();
    std::fs::remove_file(&file).expect("the file just written");
    Some(run.expect("python3 was found before"))
}

#[test]
fn larger_cuts_cost_what_a_graph_library_finds() {
    let cases = larger();
    assert!(cases.matches("\"outage\":null").count() < LARGER as usize / 2, "too few have a cut");
    let Some(run) = judged("given", &cases) else { return };
    let told = String::from_utf8_lossy(&run.stdout);
    assert!(run.status.success(), "{told}{}", String::from_utf8_lossy(&run.stderr));
    assert!(
        told.starts_with(&format!("{LARGER} cases, ")) && told.contains(", 0 differ"),
        "{told}"
    );
    // A figure of ours that is one out is found.
    let (before, after) = cases.split_once("\"locks\":1}").expect("a cut of one lock");
    let spoilt = format!("{before}\"locks\":2}}{after}");
    let told = judged("spoilt", &spoilt).expect("it ran before");
    assert!(!told.status.success());
    assert!(String::from_utf8_lossy(&told.stdout).contains(", 1 differ"));
}
