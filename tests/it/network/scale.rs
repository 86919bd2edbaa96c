//! Two thousand circuits on fifty boards: all places together take time about linear in the
//! network. Ratios within one run; no absolute times.

use super::random::{bar, device, empty, joint, source};
use super::secured::position;
use std::time::{Duration, Instant};
use wayover::model::{self, *};
use wayover::network::{Loss, Network, Place, Price, State, Tracer};

const ALL: &str = "L1 L2 L3 N PE";
const POLES: &str = "L1 L2 L3 N";
const WAYS: usize = 40;

/// A site with mains and a generator behind a transfer switch, sub-boards of 40 single-phase
/// ways, and a coupler from every fifth board to the next.
pub fn site(boards: usize) -> Job {
    let mut job = empty();
    let mut node = |name: String, node: Node| job.nodes.add(name, node).expect("a fresh name");
    let mains = node("mains".into(), source(POLES, Some(Earthing::Tn), None));
    let main_in = node("main in".into(), bar(ALL));
    let generator = node("generator".into(), source(POLES, None, Some(main_in)));
    let main_bar = node("main bar".into(), Node { neutral_bar: true, ..bar(ALL) });
    let mut at = Vec::new();
    for b in 0..boards {
        let incoming = node(format!("{b} in"), bar(ALL));
        let bus = node(format!("{b} bus"), Node { neutral_bar: true, ..bar(ALL) });
        let line = |w: usize| ["L1 N PE", "L2 N PE", "L3 N PE"][w % 3];
        let ways: Vec<(NodeId, NodeId)> = (0..WAYS)
            .map(|w| {
                let way = node(format!("{b} way {w}"), bar(line(w)));
                (way, node(format!("{b} load {w}"), bar(line(w))))
            })
            .collect();
        at.push((incoming, bus, ways));
    }
    let mut add = |name: String, d: Device| job.devices.add(name, d).expect("a fresh name");
    let acting = |closed_while_live| Some(SelfActing { node: main_in, closed_while_live });
    add("Q1".into(), device(mains, main_in, POLES, POLES));
    add("KM".into(), Device { self_acting: acting(true), ..device(main_in, main_bar, ALL, POLES) });
    let kg = Device { self_acting: acting(false), ..device(generator, main_bar, POLES, POLES) };
    add("KG".into(), kg);
    for (b, (incoming, bus, ways)) in at.iter().enumerate() {
        add(format!("{b} submain"), device(main_bar, *incoming, ALL, POLES));
        add(format!("{b} QS"), device(*incoming, *bus, ALL, POLES));
        for (w, (way, _)) in ways.iter().enumerate() {
            let line = ["L1", "L2", "L3"][w % 3];
            add(format!("{b} F{w}"), device(*bus, *way, &format!("{line} N PE"), line));
        }
        if b % 5 == 0 && b + 1 < boards {
            let coupler = device(*bus, at[b + 1].1, ALL, POLES);
            add(format!("{b} coupler"), Device { closed: false, ..coupler });
        }
    }
    for (b, (incoming, bus, ways)) in at.iter().enumerate() {
        job.positions.add(format!("{b} incoming"), position(vec![*incoming]));
        let bare = ways.iter().map(|(way, _)| *way).chain([*bus]).collect();
        job.positions.add(format!("{b} ways"), position(bare));
        for (w, (way, load)) in ways.iter().enumerate() {
            let c = Circuit { nodes: vec![*load], amps: vec![], no_earth: None, left_off: None };
            let c = job.circuits.add(format!("{b} c{w}"), c).expect("a fresh name");
            let line = ["L1 N PE", "L2 N PE", "L3 N PE"][w % 3];
            let of = Some((c, model::Place::Old));
            job.joints.add(format!("{b} j{w}"), Joint { of, ..joint(*way, *load, line) });
        }
    }
    job
}

/// Every circuit as a loss of its own.
pub fn each(job: &Job) -> Vec<Loss> {
    job.circuits.ids().map(|c| Loss { weight: 1, circuits: vec![c] }).collect()
}

/// Building, and tracing every position and every circuit.
fn all_places(boards: usize) -> (Duration, Duration) {
    let job = site(boards);
    let start = Instant::now();
    let net = Network::build(&job);
    let tracer = Tracer::new(&job, &net, &State::old(&job), each(&job));
    let built = start.elapsed();
    let places = job.positions.ids().map(Place::Position);
    for place in places.chain(job.circuits.ids().map(Place::Circuit)) {
        let trace = tracer.trace(place, &[], &[]);
        assert!(trace.exact && trace.locks.is_ok_and(|sets| !sets.is_empty()));
    }
    (built, start.elapsed())
}

#[test]
fn tracing_all_places_of_twice_the_site_takes_about_twice_as_long() {
    // The least of the runs of each, taken in turn, since other work shares the machine. Time
    // that went with the square would be four times as long however often it is tried.
    let mut least = [(Duration::MAX, Duration::MAX); 2];
    let mut ratio = f64::INFINITY;
    for _ in 0..15 {
        for (i, boards) in [25, 50].into_iter().enumerate() {
            let (built, all) = all_places(boards);
            least[i] = (least[i].0.min(built), least[i].1.min(all));
        }
        ratio = least[1].1.as_secs_f64() / least[0].1.as_secs_f64();
        if ratio < 2.8 {
            break;
        }
    }
    println!("25 boards {:?}, 50 boards {:?}, ratio {ratio:.2}", least[0], least[1]);
    assert!(ratio < 2.8, "{ratio:.2} times as long");
}

#[test]
#[ignore = "figures for a person to read"]
fn timings() {
    for boards in [2, 50] {
        let job = site(boards);
        let net = Network::build(&job);
        let old = State::old(&job);
        let p = job.positions.find("1 ways").expect("there");
        let qs = job.devices.find("1 QS").expect("there");
        let coupler = job.devices.find("0 coupler").expect("there");
        let locked = old.with_locks(&[qs, coupler]);
        let around = [coupler, qs];
        let outages = wayover::network::Outages::new(&net, &old, each(&job));
        let up = wayover::network::Upstream::new(&net, &old);
        let joined = wayover::network::Upstream::joined(&net, &old);
        let open = net.laid_open(p);
        let spots = net.spots(&open);
        let time = |name: &str, f: &mut dyn FnMut()| {
            let start = Instant::now();
            for _ in 0..200 {
                f();
            }
            println!("{} conductors: {name} {:?}", net.size().0, start.elapsed() / 200);
        };
        time("live", &mut || drop(net.live(&old)));
        time("secured, yes", &mut || assert!(net.secured(&locked, &open)));
        time("secured, no", &mut || assert!(!net.secured(&old, &open)));
        time("securing devices", &mut || assert_eq!(net.securing_devices(&locked, p), around));
        time("securing devices, way up known", &mut || {
            assert_eq!(joined.securing_devices(&net, &locked, &spots), around);
        });
        time("way up", &mut || drop(wayover::network::Upstream::new(&net, &old)));
        time("lock sets, way up known", &mut || {
            let price = outages.beyond(&[]);
            assert!(up.lock_sets(&net, &open, &price, &[], &[], 3).is_ok());
        });
        let live = net.live(&old);
        let c = CircuitId::new(3);
        time("first overcurrent", &mut || drop(net.first_overcurrent(&old, &live, c)));
        time("own conductors", &mut || drop(net.own_conductors(&old, c)));
    }
}

#[test]
fn a_load_is_lost_once_however_many_of_its_circuits_go_down() {
    let job = site(2);
    let net = Network::build(&job);
    let circuit = |name: &str| job.circuits.find(name).expect("there");
    let device = |name: &str| job.devices.find(name).expect("there");
    let (a, b, far) = (circuit("0 c0"), circuit("0 c1"), circuit("1 c0"));
    let losses =
        vec![Loss { weight: 5, circuits: vec![a, b] }, Loss { weight: 7, circuits: vec![b, far] }];
    let outages = wayover::network::Outages::new(&net, &State::old(&job), losses);
    let price = |own: &[CircuitId], locks: &[&str]| {
        let mut locks: Vec<DeviceId> = locks.iter().map(|l| device(l)).collect();
        locks.sort();
        outages.beyond(own).whole(&locks)
    };
    // Worked by hand: what is lost by the circuits that are not the place's own.
    assert_eq!(price(&[], &["0 F0"]), 5);
    assert_eq!(price(&[], &["0 submain"]), 12, "5 + 7, each once");
    assert_eq!(price(&[], &["0 submain", "1 submain"]), 12, "no more with the other board");
    assert_eq!(price(&[a], &["0 submain"]), 12, "both are lost by the other circuit too");
    assert_eq!(price(&[a, b], &["0 submain"]), 0, "all that goes down is out anyhow");
    assert_eq!(price(&[a, b], &["0 submain", "1 submain"]), 7);
}
