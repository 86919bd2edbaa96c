//! E1 where an area is lit by several circuits, and where the lamps are behind a contactor.

use super::*;

/// The lamps of the hall behind a contactor that closes while its coil, on `coil`, is live.
fn contactor(s: &mut Spoil, coil: &str) {
    let (cable, coil) = (s.node_id("c2"), s.node_id(coil));
    let node = s.job.nodes[cable].clone();
    let lamps = s.job.nodes.add("lamps", node).expect("a new name");
    s.job.circuits[lighting()].nodes.push(lamps);
    let way = s.job.devices[s.device_id("B.2")].clone();
    let acting = SelfActing { node: coil, closed_while_live: true };
    let contactor = Device {
        a: cable,
        b: lamps,
        isolates: false,
        lockable: false,
        overcurrent: false,
        closed: true,
        enclosure: None,
        self_acting: Some(acting),
        ..way
    };
    s.job.devices.add("K1", contactor).expect("a new name");
}

/// The coil's way is closed with the lighting's, just before it.
fn coil_first(s: &mut Spoil) {
    s.drop("1540 close B.3");
    let (by, way) = (s.by("live-c2", "p1"), s.device_id("B.3"));
    s.insert(Act::Close(by, way), "1532 close B.2");
}

#[test]
fn the_coil_before_the_lamps_is_watched_too() {
    // On the feed's own circuit, behind the same way.
    honest(SAME, |s| contactor(s, "c3"), &[]);
    // On another way, though live whenever the lamps are.
    honest(
        SAME,
        |s| {
            contactor(s, "c4");
            coil_first(s);
        },
        &[E1],
    );
    // A declared sensing relay on the lighting, or on the coil, sees it fail.
    for relay in [lighting(), CircuitId::new(3)] {
        honest(
            SAME,
            |s| {
                contactor(s, "c4");
                coil_first(s);
                s.group().relays.push(relay);
            },
            &[],
        );
    }
    // A relay elsewhere does not.
    honest(
        SAME,
        |s| {
            contactor(s, "c4");
            coil_first(s);
            s.group().relays.push(CircuitId::new(4));
        },
        &[E1],
    );
}

/// Coil dead, area dark, luminaires still fed and so not lit: eight minutes of it, and the
/// stricter reading holds though a relay is declared.
#[test]
fn a_dead_coil_is_told_by_its_moment() {
    honest(
        SAME,
        |s| {
            contactor(s, "c4");
            s.group().relays.push(lighting());
        },
        &[E1],
    );
    let mut s = Spoil::of(SAME);
    contactor(&mut s, "c4");
    s.group().relays.push(lighting());
    s.honest();
    let (_, breaches) = verify::replay(&s.job, &s.plan);
    assert_eq!(breaches.iter().map(|b| b.at).collect::<Vec<_>>(), [Some(Minutes(1532))]);
}

/// Each lighting circuit of an area has a group that watches it, or a relay; and each group is
/// held to its own circuit.
#[test]
fn an_area_lit_by_several_circuits() {
    let other = CircuitId::new(4);
    let lit = move |s: &mut Spoil| s.area("hall").lighting.push(other);
    spoilt(SAME, lit, &[S1]);
    spoilt(
        SAME,
        |s| {
            lit(s);
            s.group().relays.push(other);
        },
        &[],
    );
    let second = move |s: &mut Spoil, feed: CircuitId| {
        lit(s);
        let group = Group { watches: other, feed, ..s.group().clone() };
        let id = s.job.groups.add("em-hall west", group).expect("a new name");
        s.plan.claims.full_duration_tests.insert(id, Minutes(3010));
    };
    // Its own circuit on its own way; but nothing puts it at rest, so that it runs down, and
    // nothing tests it before the hall is handed back.
    honest(SAME, |s| second(s, other), &[E3, E4]);
    honest(SAME, |s| second(s, feed()), &[E1, E3, E4]);
}
