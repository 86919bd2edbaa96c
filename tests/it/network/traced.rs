//! What a trace tells, against the naive walk.

use super::oracle;
use super::random::Rng;
use super::scale::each;
use super::secured::{case, position};
use std::collections::BTreeSet;
use wayover::model::*;
use wayover::network::{Cut, Link, Network, Place, Spot, State, Tracer};

/// The sources that some path joins to one of `spots`, everything closed, with the joints that
/// are there or were before the work.
fn sources(job: &Job, state: &State, spots: &[Spot]) -> BTreeSet<NodeId> {
    let there = |j: JointId| state.made.has(j) || state.loose.has(j) || job.joints[j].made;
    let mut found = BTreeSet::new();
    for danger in oracle::dangers(job) {
        let ends = |s| oracle::ends(job, s);
        let reached = oracle::spread(job, &[danger], &|_, _| true, &there, &ends);
        if spots.iter().any(|s| reached.contains(s)) {
            found.insert(danger.node);
        }
    }
    found
}

#[test]
fn every_source_is_told_every_path_is_real_and_its_cuts_are_all_it_has() {
    let (mut paths, mut cut_paths, mut relied) = (0, 0, 0);
    for seed in 0..1000 {
        let (mut job, state) = case(seed);
        for node in job.nodes.ids() {
            job.positions.add(format!("p{}", node.index()), position(vec![node]));
        }
        let net = Network::build(&job);
        let tracer = Tracer::new(&job, &net, &state, each(&job));
        // Some of the places; all of a large network would only repeat them.
        let step = 1 + job.nodes.len() / 6;
        for p in job.positions.ids().skip(seed as usize % step).step_by(step) {
            let trace = tracer.trace(Place::Position(p), &[], &[]);
            let spots: Vec<Spot> = trace.conductors.iter().map(|c| c.spot).collect();
            let told: BTreeSet<NodeId> = trace.paths.iter().map(|p| p.source).collect();
            assert_eq!(told, sources(&job, &state, &spots), "seed {seed}, {p:?}");
            for path in &trace.paths {
                oracle::assert_real(&job, path.from, &path.hops, &|link, _| {
                    let apart = |j| !state.made.has(j) && !state.loose.has(j);
                    matches!(link, Link::Joint(j) if apart(j) && !job.joints[j].made)
                });
                assert!(spots.contains(&path.from));
                assert_eq!(path.cuts, cuts(&job, &state, path.from, &path.hops), "seed {seed}");
                let last = path.hops.last().map_or(path.from, |h| h.to);
                assert_eq!(last.node, path.source);
                paths += 1;
                cut_paths += usize::from(!path.cuts.is_empty());
            }
            let uncut = trace.paths.iter().any(|p| p.cuts.is_empty());
            let threatened = oracle::threatened(&job, &state);
            let secured = !spots.iter().any(|s| threatened.contains(s));
            assert_eq!((trace.secured, uncut), (secured, !secured), "seed {seed}, {p:?}");
            assert_eq!(trace.relies_on, net.securing_devices(&state, p), "seed {seed}, {p:?}");
            relied += usize::from(!trace.relies_on.is_empty());
        }
    }
    assert!(paths > 10_000 && cut_paths > 2_000 && relied > 500, "{paths} {cut_paths} {relied}");
}

/// What breaks a path, worked out from the job.
fn cuts(job: &Job, state: &State, from: Spot, hops: &[wayover::network::Hop]) -> Vec<Cut> {
    let (mut at, mut cuts) = (from, Vec::new());
    for hop in hops {
        let wire = match hop.link {
            Link::Device(d) if job.devices[d].a == at.node => at.wire,
            Link::Device(_) => hop.to.wire,
            Link::Joint(_) => at.wire,
        };
        if oracle::cut(job, state, hop.link, wire) {
            cuts.push(match hop.link {
                Link::Device(d) => Cut::Lock(d),
                Link::Joint(j) => Cut::Joint(j),
            });
        }
        at = hop.to;
    }
    cuts
}

#[test]
fn a_missing_lock_lays_open_what_the_oracle_says() {
    let mut found = 0;
    for seed in 5000..5200 {
        let (job, state) = case(seed);
        let net = Network::build(&job);
        let tracer = Tracer::new(&job, &net, &state, each(&job));
        let places: Vec<Place> = job.nodes.ids().map(Place::Node).collect();
        let before = oracle::threatened(&job, &state);
        for device in state.locked.iter() {
            let after = oracle::threatened(&job, &state.without_lock(device));
            let is_unsafe = |node: NodeId| {
                let spots = net.spots(&[node]);
                !spots.iter().any(|s| before.contains(s)) && spots.iter().any(|s| after.contains(s))
            };
            let want: Vec<Place> =
                job.nodes.ids().filter(|n| is_unsafe(*n)).map(Place::Node).collect();
            let got = tracer.without(device, &places);
            assert_eq!(got.iter().map(|u| u.place).collect::<Vec<_>>(), want, "seed {seed}");
            for u in got {
                found += 1;
                let uses = u.hops.iter().any(|h| h.link == Link::Device(device));
                assert!(uses, "seed {seed}: the path does not use the missing lock");
            }
        }
    }
    assert!(found > 300, "only {found} found");
}

#[test]
fn what_goes_down_with_some_locks_is_what_is_cut_off_from_every_running_source() {
    let mut lost = 0;
    for seed in 6000..6300 {
        let (mut job, _) = case(seed);
        for node in job.nodes.ids().skip(1) {
            let circuit =
                Circuit { nodes: vec![node], amps: vec![], no_earth: None, left_off: None };
            job.circuits.add(format!("c{}", node.index()), circuit);
        }
        let mut rng = Rng(seed);
        let (net, state) = (Network::build(&job), State::old(&job));
        let live = net.live(&state);
        let locks: Vec<DeviceId> = job.devices.ids().filter(|_| rng.percent(30)).collect();
        let fed = |locks: &[DeviceId]| {
            let starts: Vec<Spot> = job
                .nodes
                .iter()
                .filter(|(_, n)| n.source().is_some())
                .flat_map(|(node, n)| n.wires.iter().map(move |wire| Spot { node, wire }))
                .collect();
            let closed = |d: DeviceId, wire: Wire| {
                let device = &job.devices[d];
                let shut =
                    if device.self_acting.is_some() { live.acted.has(d) } else { device.closed };
                !device.breaks.has(wire) || shut && !locks.contains(&d)
            };
            let reached =
                oracle::spread(&job, &starts, &closed, &|j| job.joints[j].made, &|_| false);
            let whole = |c: &CircuitId| {
                net.spots(&job.circuits[*c].nodes).iter().all(|s| reached.contains(s))
            };
            job.circuits.ids().filter(whole).collect::<BTreeSet<_>>()
        };
        let want: Vec<CircuitId> = fed(&[]).difference(&fed(&locks)).copied().collect();
        lost += want.len();
        assert_eq!(net.takes_down(&state, &live, &locks), want, "seed {seed}");
        let none: &[CircuitId] = &[];
        assert_eq!(net.takes_down(&state, &live, &[]), none);
    }
    assert!(lost > 400, "only {lost} lost");
}
