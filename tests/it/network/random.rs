//! Seeded random networks, and a job with nothing but a network in it.

use wayover::model::*;
use wayover::units::{Amperes, Minutes, Period, Volts, whole};

/// SplitMix64: small, seeded, the same everywhere.
pub struct Rng(pub u64);

impl Rng {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }
    pub fn percent(&mut self, p: usize) -> bool {
        self.below(100) < p
    }
}

pub fn wires(text: &str) -> WireSet {
    text.split(' ').filter_map(Wire::read).collect()
}

/// A job without anything in it; `earth` is its first node.
pub fn empty() -> Job {
    let mut nodes = Table::new();
    let earth = nodes.add("MET", bar("PE")).expect("a fresh name");
    Job {
        name: "random".into(),
        epoch: "2031-03-01T00:00:00+00:00".into(),
        span: Period::new(0, 1000),
        policy: Policy {
            f: whole(0),
            q: whole(0),
            v: whole(0),
            h: whole(0),
            margin: Minutes(30),
            dead_volts: Volts::from(10),
            proof_life: Minutes(60),
            alone: None,
            longest_stretch: Minutes(360),
            break_length: Minutes(30),
        },
        earth,
        parallel: vec![],
        neutral_groups: vec![],
        walks: vec![],
        standing_locks: vec![],
        nodes,
        devices: Table::new(),
        joints: Table::new(),
        boards: Table::new(),
        positions: Table::new(),
        circuits: Table::new(),
        loads: Table::new(),
        areas: Table::new(),
        groups: Table::new(),
        supplies: Table::new(),
        surges: Table::new(),
        windows: Table::new(),
        people: Table::new(),
        instruments: Table::new(),
        deliveries: Table::new(),
        outsiders: Table::new(),
    }
}

pub fn bar(text: &str) -> Node {
    Node { kind: NodeKind::Bar, wires: wires(text), neutral_bar: false }
}

/// A source; TN is declared reliably earthed unless `system` is another or none.
pub fn source(text: &str, system: Option<Earthing>, watches: Option<NodeId>) -> Node {
    let declared = system == Some(Earthing::Tn);
    Node {
        kind: NodeKind::Source(Source {
            watches,
            system,
            neutral_earthed: declared.then(|| "the designer".into()),
            rating: Amperes::from(100),
            diversity: whole(1),
        }),
        wires: wires(text),
        neutral_bar: false,
    }
}

/// A closed device, lockable and isolating, that breaks `breaks` of what it carries.
pub fn device(a: NodeId, b: NodeId, carries: &str, breaks: &str) -> Device {
    Device {
        a,
        b,
        wires: Lanes::straight(wires(carries)),
        breaks: wires(breaks),
        isolates: true,
        lockable: true,
        on_load: true,
        overcurrent: false,
        rcd_ma: None,
        closed: true,
        rating: Amperes::from(100),
        diversity: whole(1),
        enclosure: None,
        temporary: false,
        self_acting: None,
        third_party: None,
    }
}

pub fn joint(a: NodeId, b: NodeId, carries: &str) -> Joint {
    Joint { a, b, wires: Lanes::straight(wires(carries)), made: true, of: None }
}

/// How large and how mixed a random network is.
pub struct Shape {
    pub nodes: usize,
    pub devices: usize,
    pub sources: usize,
    /// Connections beyond those of a tree.
    pub extra: usize,
    /// Only L1, every device fit to lock: a plain graph.
    pub plain: bool,
}

/// A connected random network. Some nodes are single-phase, some devices single-pole, some unfit
/// to lock, some act by themselves, some joints swap lines or are not made.
pub fn network(rng: &mut Rng, shape: &Shape) -> Job {
    let mut job = empty();
    let mut ids: Vec<NodeId> = Vec::new();
    let all = if shape.plain { "L1" } else { "L1 L2 L3 N" };
    let single = if shape.plain { "L1" } else { "L1 N" };
    for i in 0..shape.nodes {
        let text = if rng.percent(25) { single } else { all };
        let node = if i < shape.sources {
            let system = [Some(Earthing::Tn), Some(Earthing::Tn), Some(Earthing::Tt), None];
            source(text, system[rng.below(4)], None)
        } else {
            bar(text)
        };
        ids.push(job.nodes.add(format!("n{i}"), node).expect("a fresh name"));
    }
    // Which of the connections are devices.
    let total = shape.nodes - 1 + shape.extra;
    let mut is_device: Vec<bool> = (0..total).map(|i| i < shape.devices).collect();
    for i in (1..total).rev() {
        is_device.swap(i, rng.below(i + 1));
    }
    for (i, &dev) in is_device.iter().enumerate() {
        let (x, y) = if i + 1 < shape.nodes {
            (i + 1, if rng.percent(60) { i.saturating_sub(rng.below(3)) } else { rng.below(i + 1) })
        } else {
            let x = rng.below(shape.nodes);
            (x, (x + 1 + rng.below(shape.nodes - 1)) % shape.nodes)
        };
        let (a, b) = if rng.percent(50) { (ids[x], ids[y]) } else { (ids[y], ids[x]) };
        let common: WireSet =
            job.nodes[a].wires.iter().filter(|w| job.nodes[b].wires.has(*w)).collect();
        let mut lanes = Lanes::straight(common);
        if !dev && common.len() == 4 && rng.percent(10) {
            lanes = Lanes::straight(wires("N"));
            lanes.join(Wire::L1, Wire::L2);
            lanes.join(Wire::L2, Wire::L3);
            lanes.join(Wire::L3, Wire::L1);
        }
        if dev {
            let mut d = device(a, b, "", "");
            d.wires = lanes;
            d.breaks = if !shape.plain && rng.percent(35) {
                common.iter().filter(|w| w.is_line()).collect()
            } else {
                common
            };
            if !shape.plain {
                d.isolates = rng.percent(85);
                d.lockable = rng.percent(85);
                d.closed = rng.percent(70);
                if rng.percent(8) {
                    let node = ids[rng.below(ids.len())];
                    d.self_acting = Some(SelfActing { node, closed_while_live: rng.percent(50) });
                }
            }
            job.devices.add(format!("d{i}"), d).expect("a fresh name");
        } else {
            let made = shape.plain || rng.percent(92);
            job.joints
                .add(format!("j{i}"), Joint { a, b, wires: lanes, made, of: None })
                .expect("a fresh name");
        }
    }
    job
}
