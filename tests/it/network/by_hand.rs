//! Small networks worked by hand.

use super::random::{bar, device, empty, joint, source};
use super::secured::position;
use wayover::model::*;
use wayover::network::{Each, Link, Network, Spot, State, lock_sets};

const ALL: &str = "L1 L2 L3 N";
const LINES: &str = "L1 L2 L3";

/// Adds by name, and looks up.
struct Site(Job);

impl Site {
    fn node(&mut self, name: &str, node: Node) -> NodeId {
        self.0.nodes.add(name, node).expect("a fresh name")
    }
    fn device(&mut self, name: &str, device: Device) -> DeviceId {
        self.0.devices.add(name, device).expect("a fresh name")
    }
    fn joint(&mut self, name: &str, joint: Joint) -> JointId {
        self.0.joints.add(name, joint).expect("a fresh name")
    }
    fn circuit(&mut self, name: &str, node: NodeId) -> CircuitId {
        let circuit = Circuit { nodes: vec![node], amps: vec![], no_earth: None, left_off: None };
        self.0.circuits.add(name, circuit).expect("a fresh name")
    }
}

#[test]
fn a_generator_starts_when_its_node_is_dead_and_the_transfer_follows() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tn), None));
    let main_bar = s.node("main bar", bar(ALL));
    let generator = s.node("generator", source(ALL, None, Some(main_bar)));
    let board = s.node("board", bar(ALL));
    let load = s.node("load", bar("L1 N"));
    let q1 = s.device("Q1", device(mains, main_bar, ALL, ALL));
    let k = |closed_while_live| Some(SelfActing { node: main_bar, closed_while_live });
    let km = Device { self_acting: k(true), ..device(main_bar, board, ALL, ALL) };
    let km = s.device("KM", km);
    let kg = Device { self_acting: k(false), ..device(generator, board, ALL, ALL) };
    let kg = s.device("KG", kg);
    let f1 = s.device("F1", device(board, load, "L1 N", "L1"));
    let c = s.circuit("c", load);
    let net = Network::build(&s.0);
    let on = State::old(&s.0);
    let live = net.live(&on);
    assert_eq!(live.running, [mains]);
    assert_eq!(live.acted.iter().collect::<Vec<_>>(), [km]);
    let n = Spot { node: board, wire: Wire::N };
    assert!(!net.is_live(&live, n) && !net.fed_from(&live, n).is_empty());
    // The mains fails over to the generator, whose neutral is not declared earthed.
    let off = on.with_locks(&[q1]);
    let live = net.live(&off);
    assert_eq!(live.running, [mains, generator]);
    assert_eq!(live.acted.iter().collect::<Vec<_>>(), [kg]);
    assert!(net.is_live(&live, n) && net.is_live(&live, Spot { node: load, wire: Wire::N }));
    assert_eq!(net.goes_dead(&on, &net.live(&on), &[q1]), []);
    assert_eq!(net.goes_dead(&on, &net.live(&on), &[f1]), [c]);
    assert_eq!(net.goes_dead(&on, &net.live(&on), &[q1, kg]), [c]);
    // A contactor secures nothing by being open, and the generator is a path that needs a lock.
    assert!(!net.secured(&off, &[board]));
    assert!(net.secured(&off.with_locks(&[kg]), &[board]));
    assert!(net.secured(&on.with_locks(&[km, kg]), &[board]));
    // F1 leaves the neutral, which is dangerous on the generator.
    assert!(!net.secured(&on.with_locks(&[f1]), &[load]));
}

#[test]
fn a_single_pole_breaker_secures_in_tn_and_not_in_tt() {
    for (system, enough) in [(Some(Earthing::Tn), true), (Some(Earthing::Tt), false), (None, false)]
    {
        let mut s = Site(empty());
        let mains = s.node("mains", source(ALL, system, None));
        let bus = s.node("bus", bar(ALL));
        let way = s.node("way", bar("L2 N"));
        let qs = s.device("QS", device(mains, bus, ALL, ALL));
        let f1 = s.device("F1", device(bus, way, "L2 N", "L2"));
        let net = Network::build(&s.0);
        let old = State::old(&s.0);
        assert_eq!(net.secured(&old.with_locks(&[f1]), &[way]), enough);
        let price = Each(|d: DeviceId| if d == qs { 100 } else { 1 });
        let best = |state: &State, forbidden: &[DeviceId]| {
            lock_sets(&net, state, &[way], &price, forbidden, &[], 3)
        };
        let sets = best(&old, &[]).expect("the main switch breaks all").sets;
        let devices: Vec<_> = sets.iter().map(|s| s.devices.clone()).collect();
        assert_eq!(devices, if enough { vec![vec![f1], vec![qs]] } else { vec![vec![qs]] });
        assert_eq!(best(&old.with_locks(&[qs]), &[]).expect("secured").sets[0].devices, []);
        match best(&old, &[qs]) {
            Ok(sets) => assert!(enough && sets.sets[0].devices == [f1]),
            Err(path) => {
                assert_eq!(path.from, Spot { node: way, wire: Wire::N });
                let links: Vec<Link> = path.hops.iter().map(|h| h.link).collect();
                assert_eq!(links, [Link::Device(f1), Link::Device(qs)]);
                assert_eq!(path.add_at, [Link::Device(f1)]);
            }
        }
    }
}

#[test]
fn a_joint_secures_when_its_ends_are_insulated_and_one_never_made_always_does() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tn), None));
    let tail = s.node("tail", bar(ALL));
    let old_way = s.node("old way", bar("L1 N"));
    let load = s.node("load", bar("L1 N"));
    let new_way = s.node("new way", bar("L1 N"));
    s.device("F1", device(tail, old_way, "L1 N", "L1"));
    s.device("F2", device(tail, new_way, "L1 N", "L1"));
    s.joint("tails", joint(mains, tail, ALL));
    let c = s.circuit("c", load);
    let was = Joint { of: Some((c, Place::Old)), ..joint(old_way, load, "L1 N") };
    let was = s.joint("old", was);
    let will = Joint { of: Some((c, Place::New)), made: false, ..joint(new_way, load, "L1 N") };
    let will = s.joint("new", will);
    let net = Network::build(&s.0);
    let mut state = State::old(&s.0);
    assert_eq!(net.own_nodes(&state, c), [old_way, load]);
    assert!(!net.secured(&state, &[load]));
    state.part(was);
    assert!(!net.secured(&state, &[load]) && !net.circuit_fed(&net.live(&state), c));
    state.insulate(was);
    assert!(net.secured(&state, &[load]) && net.circuit_escape(&state, c).is_none());
    assert_eq!(net.own_nodes(&state, c), [load]);
    state.make(will);
    assert!(net.circuit_escape(&state, c).is_some() && net.circuit_fed(&net.live(&state), c));
    assert_eq!(net.own_nodes(&state, c), [load, new_way]);
}

#[test]
fn own_conductors_reach_through_an_unbroken_neutral_onto_its_bar_and_no_further() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tt), None));
    let bus = s.node("bus", Node { neutral_bar: true, ..bar(ALL) });
    s.device("QS", device(mains, bus, ALL, ALL));
    let mut loads = Vec::new();
    for i in 0..2 {
        let way = s.node(&format!("way {i}"), bar("L1 N"));
        let load = s.node(&format!("load {i}"), bar("L1 N"));
        s.device(&format!("F{i}"), device(bus, way, "L1 N", "L1"));
        let c = s.circuit(&format!("c{i}"), load);
        let of = Some((c, Place::Old));
        s.joint(&format!("j{i}"), Joint { of, ..joint(way, load, "L1 N") });
        loads.push((c, way, load));
    }
    s.0.neutral_groups.push(vec![loads[1].0, loads[0].0]);
    let net = Network::build(&s.0);
    let (c, way, load) = loads[0];
    let mut want = net.spots(&[way, load]);
    want.push(Spot { node: bus, wire: Wire::N });
    want.sort();
    assert_eq!(net.own_conductors(&State::old(&s.0), c), want);
    assert_eq!(net.neutral_group(c), [loads[1].0, c]);
}

#[test]
fn the_first_overcurrent_devices_pass_over_switches_and_look_towards_supply_only() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tn), None));
    let bus = s.node("bus", bar(ALL));
    let way = s.node("way", bar("L1 N"));
    let light = s.node("light", bar("L1 N"));
    let sub = s.node("sub", bar("L1 N"));
    let protects = |d: Device| Device { overcurrent: true, ..d };
    let q = s.device("Q", protects(device(mains, bus, ALL, LINES)));
    let f1 = s.device("F1", protects(device(bus, way, "L1 N", "L1")));
    s.device("key switch", device(way, light, "L1 N", "L1"));
    s.device("F9", protects(device(light, sub, "L1 N", "L1")));
    let (c, c_sub) = (s.circuit("c", light), s.circuit("c sub", bus));
    let net = Network::build(&s.0);
    let state = State::old(&s.0);
    let live = net.live(&state);
    let first = |c| net.first_overcurrent(&state, &live, c);
    assert_eq!((first(c).devices, first(c).unprotected), (vec![f1], false));
    assert_eq!((first(c_sub).devices, first(c_sub).unprotected), (vec![q], false));
    let dead = state.with_locks(&[f1]);
    assert_eq!(net.first_overcurrent(&dead, &net.live(&dead), c).devices, []);
}

#[test]
fn securing_devices_are_those_first_met_towards_a_source() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tn), None));
    let generator = s.node("generator", source(ALL, None, Some(mains)));
    let tail = s.node("tail", bar(ALL));
    let bus = s.node("bus", bar(ALL));
    let load = s.node("load", bar(ALL));
    let far = s.device("cut-out", device(mains, tail, ALL, ALL));
    let qs = s.device("QS", device(tail, bus, ALL, ALL));
    let qg = s.device("QG", device(generator, bus, ALL, ALL));
    let f1 = s.device("F1", device(bus, load, ALL, ALL));
    let p = s.0.positions.add("ways", position(vec![bus])).expect("a fresh name");
    let net = Network::build(&s.0);
    let old = State::old(&s.0);
    let securing = |locks: &[DeviceId]| net.securing_devices(&old.with_locks(locks), p);
    assert_eq!(securing(&[far, qs, qg, f1]), [qs, qg]);
    assert_eq!(securing(&[far, qg]), [far, qg]);
    assert_eq!(securing(&[f1]), []);
    // Two conductors of one position, with a lock between them.
    let p = s.0.positions.add("all", position(vec![bus, load])).expect("a fresh name");
    let net = Network::build(&s.0);
    let all = old.with_locks(&[qs, qg, f1]);
    assert_eq!(net.securing_devices(&all, p), [qs, qg, f1]);
}

#[test]
fn a_contactor_that_holds_itself_in_stays_out_once_it_has_dropped() {
    let mut s = Site(empty());
    let mains = s.node("mains", source(ALL, Some(Earthing::Tn), None));
    let bus = s.node("bus", bar(ALL));
    let load = s.node("load", bar(ALL));
    let q = s.device("Q", device(mains, bus, ALL, ALL));
    let held = Some(SelfActing { node: load, closed_while_live: true });
    let k = s.device("K", Device { self_acting: held, ..device(bus, load, ALL, ALL) });
    let net = Network::build(&s.0);
    let mut state = State::old(&s.0);
    assert!(net.live_node(&net.live(&state), load));
    state.closed.remove(q);
    let live = net.live(&state);
    net.settle(&mut state, &live);
    state.closed.insert(q);
    assert!(!state.closed.has(k) && !net.live_node(&net.live(&state), load));
}

#[test]
fn every_given_record_gets_an_answer_for_every_position() {
    for (name, text) in crate::records::all() {
        let Ok((job, _)) = wayover::record::read(&text) else { continue };
        let net = Network::build(&job);
        let old = State::old(&job);
        let price = Each(|_| 1);
        for position in job.positions.ids() {
            let open = net.laid_open(position);
            if let Ok(sets) = lock_sets(&net, &old, &open, &price, &[], &[], 3) {
                for set in sets.sets {
                    let locked = old.with_locks(&set.devices);
                    assert!(net.secured(&locked, &open), "{name}");
                }
            }
        }
    }
}
