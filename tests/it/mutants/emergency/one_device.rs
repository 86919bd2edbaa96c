//! E1: feed and lighting parted at the old board, on leads, by device, by moment, in the new
//! state; once the feed and once the lighting.

use super::*;

pub(super) fn feed() -> CircuitId {
    CircuitId::new(2)
}

pub(super) fn lighting() -> CircuitId {
    CircuitId::new(1)
}

/// The joint of a circuit moved to another way.
fn put(joint: &'static str, way: &'static str) -> impl FnOnce(&mut Spoil) {
    move |s| {
        let (joint, way) = (s.joint_id(joint), s.node_id(way));
        s.job.joints[joint].a = way;
    }
}

/// A switch between a circuit's new way and its cable, closed, with no overcurrent protection.
pub(super) fn switched(s: &mut Spoil, circuit: CircuitId, joint: &str) -> DeviceId {
    let (cable, joint) = (s.job.circuits[circuit].nodes[0], s.joint_id(joint));
    let node = s.job.nodes[cable].clone();
    let end = s.job.nodes.add("end of the cable", node).expect("a new name");
    s.job.joints[joint].b = end;
    let way = s.job.devices[s.device_id("B.2")].clone();
    let switch =
        Device { a: end, b: cable, overcurrent: false, closed: true, enclosure: None, ..way };
    s.job.devices.add("KS", switch).expect("a new name")
}

#[test]
fn no_overcurrent_device_and_a_parted_neutral() {
    // Behind B.2 both are, but that is no overcurrent device; the one behind it is the same.
    spoilt(SAME, |s| s.device("B.2").overcurrent = false, &[E4]);
    spoilt(
        SAME,
        |s| {
            s.device("B.2").overcurrent = false;
            s.device("M.inc").overcurrent = false;
        },
        &[E1, E4],
    );
    // Without its lighting the hall cannot open again.
    for (joint, rules) in [("B.c3", &[E1, S3, W4][..]), ("B.c2", &[E1, S3, W4, F1, F4, B1])] {
        honest(
            SAME,
            |s| {
                let joint = s.joint_id(joint);
                s.job.joints[joint].wires =
                    Lanes::straight([Wire::L1, Wire::PE].into_iter().collect());
            },
            rules,
        );
    }
}

#[test]
fn another_circuit_as_feed_or_as_lighting() {
    spoilt(SAME, |s| s.group().feed = CircuitId::new(0), &[E1, E4]);
    spoilt(SAME, |s| s.group().watches = CircuitId::new(0), &[E1, S1]);
}

/// The feed, or the lighting, is behind another way of the old board from the survey on.
#[test]
fn separated_at_the_old_board() {
    honest(SAME, put("A.c3", "A.1"), &[E1]);
    honest(SAME, put("A.c2", "A.1"), &[E1]);
    // With the reason stated it is carried until the change, which mends it.
    for joint in ["A.c3", "A.c2"] {
        honest(
            SAME,
            |s| {
                put(joint, "A.1")(s);
                s.group().old_state_exempt = text("found so on survey");
            },
            &[],
        );
    }
}

/// The feed is live before its lighting, and then behind another device; the function test opens
/// the device of the lighting, by which the feed stays live.
#[test]
fn feed_separated_in_the_new_state() {
    honest(SAME, put("B.c3", "B.1"), &[E1, E4]);
}

/// The lighting is live before the feed; the function test opens the device of the feed.
#[test]
fn lighting_separated_in_the_new_state() {
    honest(SAME, put("B.c2", "B.1"), &[E1]);
}

/// A switch between way and cable is passed over; an overcurrent device there is another device.
#[test]
fn separated_by_device() {
    for (circuit, joint) in [(feed(), "B.c3"), (lighting(), "B.c2")] {
        honest(
            SAME,
            |s| {
                switched(s, circuit, joint);
            },
            &[],
        );
        let fused = |s: &mut Spoil| {
            let switch = switched(s, circuit, joint);
            s.job.devices[switch].overcurrent = true;
        };
        // The test opens B.2, which is not the feed's own device where the feed has the other.
        let rules: &[Rule] = if circuit == feed() { &[E1, E4] } else { &[E1] };
        honest(SAME, fused, rules);
    }
}

/// Both behind B.2 at last, one of them two minutes later.
#[test]
fn separated_by_moment() {
    for (circuit, joint) in [(feed(), "B.c3"), (lighting(), "B.c2")] {
        let late = |minute: &'static str| {
            move |s: &mut Spoil| {
                let switch = switched(s, circuit, joint);
                s.job.devices[switch].closed = false;
                let by = s.by("live-c2", "p1");
                s.insert(Act::Close(by, switch), minute);
            }
        };
        // Before the way is closed both go live with it.
        honest(SAME, late("1532 close B.2"), &[]);
        honest(SAME, late("1536 finish live-c2"), &[E1]);
    }
    // Its circuit is closed a minute after the lighting that it watches, or before it.
    let stated = |s: &mut Spoil| {
        s.group().old_state_exempt = text("fed from the stair way of old");
    };
    honest("30", stated, &[E1]);
    // The feed first; the function test opens the device of the lighting.
    let other_way_round = |s: &mut Spoil| {
        stated(s);
        the_other_way_round(s);
    };
    honest("30", other_way_round, &[E1, E4]);
}

fn the_other_way_round(s: &mut Spoil) {
    let group = s.group();
    (group.feed, group.watches) = (group.watches, group.feed);
    s.area("hall").lighting = vec![feed()];
}

/// Lighting and feed on one lead while the board is out: sound, and what the rows below spoil.
fn riding() -> Spoil {
    let mut s = Spoil::of("44");
    s.supply().ways = 2;
    s.job.circuits[feed()].amps = [(Wire::L1, 1.into())].into_iter().collect();
    let joint = s.joint_id("TS.c2");
    let mut wired = s.job.joints[joint].clone();
    wired.b = s.job.circuits[feed()].nodes[0];
    wired.of = wired.of.map(|(_, place)| (feed(), place));
    let joint = s.job.joints.add("TS.c3", wired).expect("a new name");
    for name in ["hook", "unhook"] {
        let task = s.task(&format!("{name}-c7"));
        task.duration = [3, 4, 9].map(Minutes);
        task.planned = Minutes(5);
        let mut other = task.clone();
        other.circuit = Some(feed());
        s.plan.tasks.add(format!("{name}-c3"), other).expect("a new name");
    }
    for claim in ["hook", "unhook"] {
        let (old, new) = (s.task_id(&format!("{claim}-c7")), s.task_id(&format!("{claim}-c3")));
        let steps = &mut s.plan.back_out.steps;
        let copied = steps.iter().find(|step| step.task == old).cloned();
        steps.extend(copied.map(|step| BackOutStep { task: new, ..step }));
    }
    let (p2, tester) = (vec![s.person("p2")], s.job.instruments.find("meter-1"));
    let start = |s: &Spoil, task: &str, instrument| {
        let task = s.task_id(task);
        Act::Start { task, who: p2.clone(), instrument }
    };
    // On: the lighting from 1350 to 1355, the feed from 1355 to 1360.
    s.before("1360 make TS.c2", "1355 start dis-c4");
    s.before("1360 finish hook-c7", "1355 start dis-c4");
    s.insert(start(&s, "hook-c3", tester), "1355 start dis-c4");
    s.insert(Act::Make(s.by("hook-c3", "p2"), joint), "1360 start ts-on");
    s.insert(Act::Finish { task: s.task_id("hook-c3"), pass: true }, "1360 start ts-on");
    // Off: the feed from 1445 to 1450, the lighting from 1450 to 1455; c4 is connected in between.
    s.insert(start(&s, "unhook-c3", None), "1445 start unhook-c7");
    s.drop("1445 start unhook-c7");
    for act in [
        Act::Break(s.by("unhook-c3", "p2"), joint),
        Act::Finish { task: s.task_id("unhook-c3"), pass: true },
        start(&s, "unhook-c7", None),
    ] {
        let i = s.find("1453 make B.c3");
        s.plan.events.insert(i, Event { at: Minutes(1450), act });
    }
    let acts = |s: &Spoil, task: &str, joint: &str| {
        let (id, by, joint) = (s.task_id(task), s.by(task, "p1"), s.joint_id(joint));
        let start = Act::Start { task: id, who: vec![s.person("p1")], instrument: None };
        [start, Act::Make(by, joint), Act::Finish { task: id, pass: true }]
    };
    let first = ["1447 start con-c3", "1453 make B.c3", "1453 finish con-c3"];
    let second = ["1453 start con-c4", "1459 make B.c4", "1459 finish con-c4"];
    let places = [first, second].map(|labels| labels.map(|label| s.find(label)));
    let swapped = [acts(&s, "con-c4", "B.c4"), acts(&s, "con-c3", "B.c3")];
    for (i, act) in places.into_iter().flatten().zip(swapped.into_iter().flatten()) {
        s.plan.events[i].act = act;
    }
    s
}

/// A second lead of the same kind, live when the first is, on which a circuit is instead.
fn on_the_other(s: &mut Spoil, joint: &str) {
    let (first, end) = (SupplyId::new(0), s.node_id("TS.out"));
    let node = s.job.nodes[end].clone();
    let other = s.job.nodes.add("TS2.out", node).expect("a new name");
    let device = s.job.devices[s.device_id("TSD")].clone();
    let device = Device { a: end, b: other, closed: true, ..device };
    s.job.devices.add("TSD2", device).expect("a new name");
    let supply = Supply { node: other, ..s.job.supplies[first].clone() };
    let supply = s.job.supplies.add("TS2", supply).expect("a new name");
    s.position("TS.box").bare.push(other);
    s.position("A.ways").enclosed.push(other);
    let joint = s.joint_id(joint);
    let joint = &mut s.job.joints[joint];
    joint.a = other;
    joint.of = joint.of.map(|(circuit, _)| (circuit, Place::On(supply)));
}

#[track_caller]
fn ridden(spoil: impl FnOnce(&mut Spoil), expect: &[Rule]) {
    let mut s = riding();
    spoil(&mut s);
    s.honest();
    judge(&s, expect);
}

/// On leads of their own they are behind devices of their own (E1), and do not ride together (T4).
#[test]
fn separated_on_different_temporary_supplies() {
    ridden(|_| (), &[]);
    ridden(|s| on_the_other(s, "TS.c3"), &[E1, T4]);
    ridden(|s| on_the_other(s, "TS.c2"), &[E1, T4]);
}

/// One on the lead, the other dead: T4 tells of that, as in the record of that breach.
#[test]
fn one_of_them_alone_on_a_temporary_supply() {
    honest("44", |_| (), &[T4]);
    honest("44", the_other_way_round, &[T4]);
}
