//! Jobs made from a seed: the families that tests and benchmarks run on.

use wayover::model::*;
use wayover::units::{Amperes, Exact, Metres, Minutes, Ohms, Period, Volts, decimal, whole};

/// How new boards come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// In the place of the old one.
    SamePlace,
    /// Beside it, taking its tails over, the old one kept alive by a temporary link.
    TailsOver,
    /// Beside it, with a supply of its own.
    OwnSupply,
}

/// What to make.
#[derive(Clone, Copy, Debug)]
pub struct Recipe {
    pub family: Family,
    pub boards: usize,
    /// Of each board.
    pub circuits: usize,
    pub people: usize,
    pub testers: usize,
    /// Temporary supplies of each board.
    pub supplies: usize,
    /// Emergency groups of each board.
    pub groups: usize,
    /// Nights in which all areas may be cut.
    pub nights: usize,
    /// How long each of them is; after a long one, over a closed day, comes a whole day between.
    pub hours: i64,
    pub seed: u64,
}

impl Recipe {
    pub fn new(family: Family, circuits: usize, seed: u64) -> Recipe {
        Recipe {
            family,
            boards: 1,
            circuits,
            people: 2,
            testers: 1,
            supplies: 0,
            groups: 0,
            nights: 3,
            hours: 10,
            seed,
        }
    }
}

/// A small generator of our own (splitmix64), so that a seed gives the same job everywhere.
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    pub fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % n
    }
}

const DAY: i64 = 1440;

fn dec(text: &str) -> Exact {
    decimal(text).expect("a decimal")
}

fn all_wires() -> WireSet {
    Wire::ALL.into_iter().collect()
}

fn live_wires() -> WireSet {
    [Wire::L1, Wire::L2, Wire::L3, Wire::N].into_iter().collect()
}

fn effort(a: i64, m: i64, b: i64, people: usize) -> Effort {
    let planned = (a + 4 * m + b + 5) / 6;
    Effort { duration: [a, m, b].map(Minutes), planned: Minutes(planned), people }
}

fn every_day(days: i64, from: i64, to: i64) -> Vec<Period> {
    (0..days).map(|d| Period::new(d * DAY + from, d * DAY + to)).collect()
}

/// The nights in which work is done.
fn nights(r: Recipe) -> Vec<Period> {
    let apart = (r.hours + 10).div_euclid(24).max(1) * DAY;
    let from = |n: i64| DAY - 180 + n * apart;
    (0..r.nights as i64).map(|n| Period::new(from(n), from(n) + r.hours * 60)).collect()
}

/// When people are in and loads are needed: by day, but for days that lie in a night of work.
fn by_day(r: Recipe) -> Vec<Period> {
    let nights = nights(r);
    let days = nights.last().map_or(1, |n| n.to.0.div_euclid(DAY) + 1);
    let mut all = every_day(days, 7 * 60, 21 * 60);
    all.retain(|day| nights.iter().all(|n| day.to <= n.from || n.to <= day.from));
    all
}

struct Maker {
    job: Job,
    labour: Labour,
    dice: Dice,
}

impl Maker {
    fn bar(&mut self, name: &str, wires: WireSet, neutral_bar: bool) -> NodeId {
        self.node(name, NodeKind::Bar, wires, neutral_bar)
    }

    fn node(&mut self, name: &str, kind: NodeKind, wires: WireSet, neutral_bar: bool) -> NodeId {
        self.job.nodes.add(name, Node { kind, wires, neutral_bar }).expect("a new name")
    }

    fn device(&mut self, name: &str, a: NodeId, b: NodeId, like: Switch) -> DeviceId {
        let wires =
            self.job.nodes[b].wires.iter().filter(|w| self.job.nodes[a].wires.has(*w)).collect();
        let breaks: WireSet = match like.poles {
            Poles::LinesAndNeutral => live_wires(),
            Poles::Lines => Wire::LINES.into_iter().collect(),
        };
        let carried: WireSet = wires;
        let device = Device {
            a,
            b,
            wires: Lanes::straight(carried),
            breaks: breaks.iter().filter(|w| carried.has(*w)).collect(),
            isolates: true,
            lockable: true,
            on_load: true,
            overcurrent: like.overcurrent,
            rcd_ma: None,
            closed: like.closed,
            rating: Amperes::from(like.amps),
            diversity: whole(1),
            enclosure: like.enclosure,
            temporary: like.temporary,
            self_acting: None,
            third_party: None,
        };
        self.job.devices.add(name, device).expect("a new name")
    }

    fn joint(
        &mut self,
        name: &str,
        a: NodeId,
        b: NodeId,
        made: bool,
        of: Option<(CircuitId, Place)>,
    ) -> JointId {
        let wires =
            self.job.nodes[b].wires.iter().filter(|w| self.job.nodes[a].wires.has(*w)).collect();
        let joint = Joint { a, b, wires: Lanes::straight(wires), made, of };
        self.job.joints.add(name, joint).expect("a new name")
    }

    fn position(
        &mut self,
        name: &str,
        board: Option<BoardId>,
        bare: Vec<NodeId>,
        points: Vec<NodeId>,
        row: Vec<NodeId>,
        hands: i64,
    ) -> PositionId {
        let position = Position {
            board,
            hands,
            bare,
            points,
            row,
            other_fed: vec![],
            enclosed: vec![],
            none_found: Some(NoneFound { by: "the surveyor".into(), when: "on the survey".into() }),
            discharge: Minutes(0),
            live_before: false,
        };
        let id = self.job.positions.add(name, position).expect("a new name");
        let area = self.job.areas.find("switch room");
        self.labour.positions.push(PositionLabour {
            area,
            prove: effort(3, 5, 10, 1),
            prove_again: effort(2, 3, 6, 1),
        });
        id
    }

    fn board(&mut self, name: &str, role: BoardRole, replaces: Option<BoardId>) -> BoardId {
        let new = role != BoardRole::Old;
        let at = PositionId::new(self.job.positions.len());
        let ways = PositionId::new(self.job.positions.len() + 1);
        let board = Board {
            incoming: at,
            ways,
            incoming_shrouded: new,
            ways_shrouded: new,
            covers_on: true,
            within_reach: vec![],
            replaces,
            one_way: None,
        };
        self.labour.boards.push(BoardLabour {
            role,
            isolate: effort(8, 15, 30, 2),
            isolate_again: effort(4, 6, 12, 1),
            energise: effort(10, 15, 30, 2),
            energise_again: effort(3, 5, 10, 1),
            strip_out: effort(20, 35, 75, 2),
            mount: effort(30, 45, 100, 2),
            fit_surge: effort(10, 20, 45, 1),
            test_board: effort(10, 15, 40, 1),
            fit_covers: effort(10, 20, 40, 1),
            covers_again: effort(3, 5, 10, 1),
            delivery: None,
        });
        self.job.boards.add(name, board).expect("a new name")
    }
}

#[derive(Clone, Copy)]
enum Poles {
    LinesAndNeutral,
    Lines,
}

#[derive(Clone, Copy)]
struct Switch {
    poles: Poles,
    overcurrent: bool,
    closed: bool,
    amps: i64,
    enclosure: Option<BoardId>,
    temporary: bool,
}

/// The job of a recipe, with its task templates.
pub fn job(r: Recipe) -> (Job, Labour) {
    let mut m = empty(r);
    let net = Switch {
        poles: Poles::LinesAndNeutral,
        overcurrent: false,
        closed: true,
        amps: 400,
        enclosure: None,
        temporary: false,
    };
    let mains = NodeKind::Source(Source {
        watches: None,
        system: Some(Earthing::Tn),
        neutral_earthed: Some("the designer".into()),
        rating: Amperes::from(4000),
        diversity: whole(1),
    });
    let mains = m.node("MAINS", mains, live_wires(), false);
    let met = m.bar("MET", [Wire::PE].into_iter().collect(), false);
    m.job.earth = met;
    let bus = m.bar("M.bus", all_wires(), true);
    m.joint("JE", met, bus, true, None);
    m.device("M.inc", mains, bus, Switch { amps: 4000, overcurrent: true, ..net });
    for b in 0..r.boards {
        board_pair(&mut m, r, b, bus);
    }
    let (people, testers) = (r.people, r.testers);
    for p in 0..people {
        let person = Person { may: TaskKind::ALL.to_vec(), present: vec![m.job.span] };
        m.job.people.add(format!("p{}", p + 1), person);
    }
    for t in 0..testers.max(1) {
        let kinds = vec![DETECTOR.to_owned(), TESTER.to_owned()];
        m.job.instruments.add(format!("tester {}", t + 1), Instrument { kinds });
    }
    (m.job, m.labour)
}

fn board_pair(m: &mut Maker, r: Recipe, b: usize, bus: NodeId) {
    let net = Switch {
        poles: Poles::LinesAndNeutral,
        overcurrent: false,
        closed: true,
        amps: 250,
        enclosure: None,
        temporary: false,
    };
    let id = b + 1;
    let supplies = supplies(m, r, id, bus);
    let tail = m.bar(&format!("T{id}"), all_wires(), false);
    m.device(&format!("ISO{id}"), bus, tail, net);
    let old = m.board(&format!("A{id}"), BoardRole::Old, None);
    let a_in = m.bar(&format!("A{id}.in"), all_wires(), false);
    let a_bus = m.bar(&format!("A{id}.bus"), all_wires(), true);
    m.device(&format!("A{id}.main"), a_in, a_bus, Switch { enclosure: Some(old), ..net });
    let ja = m.joint(&format!("JA{id}"), tail, a_in, true, None);
    let same = r.family == Family::SamePlace;
    let role = if same { BoardRole::NewSamePlace } else { BoardRole::NewBeside };
    let b_in = m.bar(&format!("B{id}.in"), all_wires(), false);
    let b_bus = m.bar(&format!("B{id}.bus"), all_wires(), true);
    let own_tail = match r.family {
        Family::OwnSupply => {
            let own = m.bar(&format!("TB{id}"), all_wires(), false);
            m.device(&format!("ISOB{id}"), bus, own, Switch { closed: false, ..net });
            own
        }
        _ => tail,
    };
    let jb = m.joint(&format!("JB{id}"), own_tail, b_in, false, None);
    let mut a_bare = vec![a_bus];
    let mut b_bare = vec![b_bus];
    let mut link = None;
    if r.family == Family::TailsOver {
        let cable = m.bar(&format!("L{id}"), all_wires(), false);
        let jl = m.joint(&format!("JL{id}"), cable, a_bus, false, None);
        a_bare.push(cable);
        link = Some((cable, jl));
    }
    let (a_row, b_row) = circuits(m, r, b, old, a_bus, b_bus, &supplies);
    a_bare.extend(&a_row);
    b_bare.extend(&b_row);
    let hands = 2;
    // The positions in the order that `board` promised.
    let at = [(format!("A{id}"), a_in, tail, a_bare, a_bus, a_row)];
    for (name, inlet, tail, bare, points, row) in at {
        m.position(
            &format!("{name}.incoming"),
            Some(old),
            vec![inlet, tail],
            vec![inlet],
            vec![],
            hands,
        );
        m.position(&format!("{name}.ways"), Some(old), bare, vec![points], row, hands);
    }
    let new = m.board(&format!("B{id}"), role, same.then_some(old));
    for device in m.job.devices.ids().collect::<Vec<_>>() {
        if m.job.devices[device].a == b_bus {
            m.job.devices[device].enclosure = Some(new);
        }
    }
    m.device(
        &format!("B{id}.main"),
        b_in,
        b_bus,
        Switch { enclosure: Some(new), closed: false, ..net },
    );
    if let Some((cable, _)) = link {
        let like = Switch {
            enclosure: Some(new),
            closed: false,
            temporary: true,
            overcurrent: true,
            ..net
        };
        m.device(&format!("LINK{id}"), b_bus, cable, like);
    }
    m.position(
        &format!("B{id}.incoming"),
        Some(new),
        vec![b_in, own_tail],
        vec![own_tail],
        vec![],
        hands,
    );
    m.position(&format!("B{id}.ways"), Some(new), b_bare, vec![b_bus], b_row, hands);
    let surge = Surge { board: Some(new), node: b_bus, kind: SurgeKind::Cartridge, fitted: false };
    m.job.surges.add(format!("SPD{id}"), surge);
    let boards = m.job.boards.clone();
    let mut tails = |name: String,
                     stage,
                     board: BoardId,
                     breaks: Vec<JointId>,
                     makes: Vec<JointId>,
                     at_ways: bool| {
        let position = if at_ways { boards[board].ways } else { boards[board].incoming };
        m.labour.tails.push(Tails {
            name,
            stage,
            board,
            position,
            breaks,
            makes,
            effort: effort(20, 30, 60, 2),
        });
    };
    match r.family {
        Family::SamePlace => {
            tails(format!("new tails on B{id}"), TailsStage::CutIn, new, vec![], vec![jb], false)
        }
        Family::OwnSupply => {
            tails(format!("tails on B{id}"), TailsStage::Beforehand, new, vec![], vec![jb], false)
        }
        Family::TailsOver => {
            let jl = link.expect("a link").1;
            tails(format!("old tails off A{id}"), TailsStage::CutIn, old, vec![ja], vec![], false);
            tails(format!("new tails on B{id}"), TailsStage::CutIn, new, vec![], vec![jb], false);
            tails(format!("link on A{id}"), TailsStage::LinkOn, old, vec![], vec![jl], true);
            tails(format!("link off A{id}"), TailsStage::LinkOff, old, vec![jl], vec![], true);
        }
    }
}

/// The temporary supplies of one board pair.
fn supplies(m: &mut Maker, r: Recipe, id: usize, bus: NodeId) -> Vec<SupplyId> {
    let mut supplies = Vec::new();
    for s in 0..r.supplies {
        let node = m.bar(&format!("TS{id}.{}", s + 1), all_wires(), true);
        let like = Switch {
            poles: Poles::LinesAndNeutral,
            overcurrent: true,
            closed: false,
            amps: 63,
            enclosure: None,
            temporary: false,
        };
        m.device(&format!("TSD{id}.{}", s + 1), bus, node, like);
        let position =
            m.position(&format!("TS{id}.{} box", s + 1), None, vec![node], vec![node], vec![], 1);
        let supply = Supply {
            feed: bus,
            node,
            ways: 3,
            rating: Amperes::from(32),
            diversity: whole(1),
            mv_per_a_m: dec("7.3"),
            length: Metres::from(20),
            drop_limit: Volts(dec("11.5")),
            feed_loop: Loop { neutral: Ohms(dec("0.2")), earth: Ohms(dec("0.25")) },
            lead_per_m: Loop { neutral: dec("0.008"), earth: dec("0.008") },
            loop_limit: Ohms(dec("1.37")),
            rcd_ma: Some(whole(30)),
        };
        supplies.push(m.job.supplies.add(format!("TS{id}.{}", s + 1), supply).expect("a new name"));
        m.labour.supplies.push(SupplyLabour {
            position,
            isolate: effort(3, 5, 10, 1),
            energise: effort(3, 5, 10, 1),
        });
    }
    supplies
}

/// The circuits of one board pair; returns the rows of old and new ways.
fn circuits(
    m: &mut Maker,
    r: Recipe,
    b: usize,
    old: BoardId,
    a_bus: NodeId,
    b_bus: NodeId,
    supplies: &[SupplyId],
) -> (Vec<NodeId>, Vec<NodeId>) {
    let id = b + 1;
    let (mut a_row, mut b_row) = (vec![], vec![]);
    for n in 0..r.circuits {
        let three = m.dice.below(6) == 0;
        let line = Wire::LINES[n % 3];
        let wires: WireSet =
            if three { all_wires() } else { [line, Wire::N, Wire::PE].into_iter().collect() };
        let name = format!("{id}.{}", n + 1);
        let load = m.node(&format!("c{name}"), NodeKind::Load, wires, false);
        let a_way = m.bar(&format!("A{name}"), wires, false);
        let b_way = m.bar(&format!("B{name}"), wires, false);
        let way = Switch {
            poles: Poles::Lines,
            overcurrent: true,
            closed: true,
            amps: 32,
            enclosure: Some(old),
            temporary: false,
        };
        m.device(&format!("A{name}"), a_bus, a_way, way);
        m.device(
            &format!("B{name}"),
            b_bus,
            b_way,
            Switch { closed: false, enclosure: None, ..way },
        );
        let amps = 2 + m.dice.below(9) as i64;
        let lines: Vec<Wire> = wires.iter().filter(|w| w.is_line()).collect();
        let circuit = Circuit {
            nodes: vec![load],
            amps: lines.iter().map(|l| (*l, Amperes::from(amps))).collect(),
            no_earth: None,
            left_off: None,
        };
        let c = m.job.circuits.add(format!("c{name}"), circuit).expect("a new name");
        m.joint(&format!("A{name} end"), a_way, load, true, Some((c, Place::Old)));
        m.joint(&format!("B{name} end"), b_way, load, false, Some((c, Place::New)));
        for s in supplies {
            let node = m.job.supplies[*s].node;
            m.joint(
                &format!("TS{} c{name}", s.index() + 1),
                node,
                load,
                false,
                Some((c, Place::On(*s))),
            );
        }
        labour_of_circuit(m, three);
        let area = m.job.areas.find(if n % 2 == 0 { "hall" } else { "offices" }).expect("an area");
        let load = Load {
            circuits: vec![c],
            needs: None,
            areas: vec![area],
            weight: whole(1 + m.dice.below(9) as i64),
            needed: by_day(r),
            ride_through: Minutes(0),
            ride_recharge: None,
            max_single: None,
            max_total: None,
            life_safety: false,
            measure: None,
            may_stay_out: false,
            any_order: false,
        };
        m.job.loads.add(format!("load {name}"), load).expect("a new name");
        if n < r.groups {
            m.job.areas[area].lighting.push(c);
            let group = Group {
                areas: vec![area],
                watches: c,
                relays: vec![],
                feed: c,
                maintained: false,
                rated: Minutes(180),
                recharge: Minutes(DAY),
                charge: whole(180),
                rest_mode: true,
                old_state_exempt: None,
            };
            m.job.groups.add(format!("group {name}"), group).expect("a new name");
            m.labour.groups.push(GroupLabour { function_test: effort(4, 8, 20, 1) });
        }
        a_row.push(a_way);
        b_row.push(b_way);
    }
    (a_row, b_row)
}

fn labour_of_circuit(m: &mut Maker, three: bool) {
    let d = &mut m.dice;
    let vary = |d: &mut Dice, e: [i64; 3]| {
        let x = d.below(2) as i64;
        effort(e[0], e[1] + x, e[2] + x, 1)
    };
    let rows = if three {
        [[2, 4, 8], [5, 9, 18], [4, 7, 16], [4, 7, 15]]
    } else {
        [[1, 2, 5], [3, 5, 12], [2, 4, 12], [2, 4, 10]]
    };
    let varied = rows.map(|e| {
        let prepared = vary(d, e);
        Varied { fresh: effort(2 * e[0], 2 * e[1], 2 * e[2], 1), prepared }
    });
    let [disconnect, connect, dead_test, live_test] = varied;
    m.labour.circuits.push(CircuitLabour {
        readiness: Readiness::Prepared,
        identify: effort(6, 12, 30, 1),
        disconnect,
        connect,
        dead_test,
        live_test,
        hook_up: effort(6, 12, 30, 1),
        unhook: effort(3, 6, 15, 1),
        delivery: None,
        dressing_rank: None,
        fallback: None,
    });
}

fn empty(r: Recipe) -> Maker {
    let last = nights(r).last().map_or(0, |n| n.to.0.div_euclid(DAY));
    let span = Period::new(0, (last + 3) * DAY);
    let mut areas = Table::new();
    for name in ["switch room", "hall", "offices"] {
        let public = name != "switch room";
        areas.add(
            name,
            Area {
                occupied: if public { by_day(r) } else { vec![] },
                autonomy: Minutes(if public { 60 } else { 0 }),
                measure: None,
                task_lighting: Some("battery task lights".into()),
                lighting: vec![],
            },
        );
    }
    let mut windows = Table::new();
    for (n, period) in nights(r).into_iter().enumerate() {
        windows.add(format!("night {}", n + 1), Window { period, areas: areas.ids().collect() });
    }
    let job = Job {
        name: format!("{:?}, {} boards of {} circuits", r.family, r.boards, r.circuits),
        epoch: "2031-03-01T00:00:00+00:00".into(),
        span,
        policy: Policy {
            f: dec("0.1"),
            q: whole(5),
            v: whole(200),
            h: whole(3),
            margin: Minutes(30),
            dead_volts: Volts::from(10),
            proof_life: Minutes(60),
            alone: None,
            longest_stretch: Minutes(360),
            break_length: Minutes(30),
        },
        earth: NodeId::new(0),
        parallel: vec![],
        neutral_groups: vec![],
        walks: vec![],
        standing_locks: vec![],
        nodes: Table::new(),
        devices: Table::new(),
        joints: Table::new(),
        boards: Table::new(),
        positions: Table::new(),
        circuits: Table::new(),
        loads: Table::new(),
        areas,
        groups: Table::new(),
        supplies: Table::new(),
        surges: Table::new(),
        windows,
        people: Table::new(),
        instruments: Table::new(),
        deliveries: Table::new(),
        outsiders: Table::new(),
    };
    let labour = Labour {
        circuits: vec![],
        boards: vec![],
        positions: vec![],
        groups: vec![],
        supplies: vec![],
        tails: vec![],
        banks: vec![],
        holds: vec![],
        pins: vec![],
        neighbours: vec![],
        lock_box: "lock box".into(),
    };
    Maker { job, labour, dice: Dice::new(r.seed) }
}
