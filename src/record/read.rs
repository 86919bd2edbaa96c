//! From the record as written to a [`Job`] and a [`Plan`], every name looked up.

use super::raw;
use crate::model::*;
use crate::plan::*;
use crate::units::{Amperes, Exact, Metres, Minutes, Ohms, Period, Volts, decimal};
use serde_json::{Number, Value};
use std::collections::BTreeMap;
use std::fmt;

/// A fault that makes a record unusable.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordFault {
    /// Where in the record, as a path of keys or a line and column.
    pub place: String,
    /// What is wrong.
    pub what: String,
}

impl fmt::Display for RecordFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.place, self.what)
    }
}

/// Reads a record.
///
/// # Errors
///
/// Every fault found, in the order of the file: text that is no such JSON (then only that one),
/// names that stand twice or are unknown, numbers that are no figures.
pub fn read(text: &str) -> Result<(Job, Plan), Vec<RecordFault>> {
    let raw: raw::Record = serde_json::from_str(text).map_err(|e| {
        let place = format!("line {}, column {}", e.line(), e.column());
        let what = e.to_string();
        let what = what.split(" at line ").next().unwrap_or(&what).to_owned();
        vec![RecordFault { place, what }]
    })?;
    let mut reader = Reader::default();
    let job = reader.job(&raw.job);
    let plan = reader.plan(&raw, &job);
    if reader.faults.is_empty() { Ok((job, plan)) } else { Err(reader.faults) }
}

#[derive(Default)]
struct Reader {
    faults: Vec<RecordFault>,
}

/// A table of the names of one list, made before its rows are read, since rows of different
/// lists refer to each other.
fn names<K: Id>(
    reader: &mut Reader,
    list: &str,
    ids: impl Iterator<Item = String>,
) -> Table<K, ()> {
    let mut table = Table::new();
    for id in ids {
        if table.add(id.clone(), ()).is_none() {
            reader.fault(list, format!("the id `{id}` stands twice"));
        }
    }
    table
}

/// Rows in the order of their names. A doubled name has been reported by [`names`].
fn fill<K: Id, R, V>(
    rows: &[R],
    id: impl Fn(&R) -> &str,
    mut row: impl FnMut(&R) -> V,
) -> Table<K, V> {
    let mut table = Table::new();
    for r in rows {
        table.add(id(r), row(r));
    }
    table
}

struct Names {
    nodes: Table<NodeId, ()>,
    devices: Table<DeviceId, ()>,
    boards: Table<BoardId, ()>,
    positions: Table<PositionId, ()>,
    circuits: Table<CircuitId, ()>,
    areas: Table<AreaId, ()>,
    supplies: Table<SupplyId, ()>,
    people: Table<PersonId, ()>,
    outsiders: Table<OutsiderId, ()>,
}

impl Names {
    fn who(&self, name: &str) -> Option<Who> {
        match self.people.find(name) {
            Some(person) => Some(Who::Person(person)),
            None => self.outsiders.find(name).map(Who::Outsider),
        }
    }
}

impl Reader {
    fn fault(&mut self, place: impl Into<String>, what: impl Into<String>) {
        self.faults.push(RecordFault { place: place.into(), what: what.into() });
    }

    fn find<K: Id, V>(&mut self, table: &Table<K, V>, name: &str, place: &str) -> K {
        table.find(name).unwrap_or_else(|| {
            self.fault(place, format!("`{name}` is not in the list that this key names"));
            K::new(0)
        })
    }

    fn find_all<K: Id, V>(&mut self, table: &Table<K, V>, all: &[String], place: &str) -> Vec<K> {
        all.iter().map(|name| self.find(table, name, place)).collect()
    }

    fn find_some<K: Id, V>(
        &mut self,
        t: &Table<K, V>,
        name: Option<&str>,
        place: &str,
    ) -> Option<K> {
        name.map(|name| self.find(t, name, place))
    }

    fn figure(&mut self, n: &Number, place: &str) -> Exact {
        decimal(&n.to_string()).unwrap_or_else(|| {
            self.fault(place, format!("`{n}` is no figure that can be taken"));
            Exact::from_integer(0.into())
        })
    }

    fn amperes(&mut self, n: &Number, place: &str) -> Amperes {
        Amperes(self.figure(n, place))
    }

    fn wires(&mut self, names: &[String], place: &str) -> WireSet {
        let mut set = WireSet::EMPTY;
        for name in names {
            match Wire::read(name) {
                Some(wire) => set = set.with(wire),
                None => self.fault(place, format!("`{name}` is no conductor")),
            }
        }
        set
    }

    fn lanes(&mut self, names: &[String], place: &str) -> Lanes {
        let mut lanes = Lanes::default();
        for name in names {
            let (a, b) = name.split_once('>').unwrap_or((name, name));
            match (Wire::read(a), Wire::read(b)) {
                (Some(a), Some(b)) if a == b || (a.is_line() && b.is_line()) => {
                    if lanes.across(a).is_some() || lanes.back(b).is_some() {
                        self.fault(place, format!("`{name}`: a conductor is joined twice"));
                    }
                    lanes.join(a, b);
                }
                _ => self.fault(place, format!("`{name}` joins no two conductors that may meet")),
            }
        }
        lanes
    }

    fn spans(&mut self, spans: &[raw::Span], place: &str) -> Vec<Period> {
        let spans: Vec<Period> = spans.iter().map(|[a, b]| Period::new(*a, *b)).collect();
        let ordered = spans.windows(2).all(|w| w[0].to <= w[1].from);
        if !ordered || spans.iter().any(|s| s.to < s.from) {
            self.fault(place, "spans must be disjoint and in order");
        }
        spans
    }

    fn job(&mut self, raw: &raw::Job) -> Job {
        if raw.format != super::FORMAT {
            self.fault(
                "job.format",
                format!("`{}`, but this reads `{}`", raw.format, super::FORMAT),
            );
        }
        let n = self.names(raw);
        let policy = self.policy(&raw.policy);
        let earth = self.find(&n.nodes, &raw.earth, "job.earth");
        let nodes = fill(&raw.nodes, |r| &r.id, |r| self.node(r, &n));
        let devices = fill(&raw.devices, |r| &r.id, |r| self.device(r, &n));
        let joints = fill(&raw.joints, |r| &r.id, |r| self.joint(r, &n));
        let boards = fill(&raw.boards, |r| &r.id, |r| self.board(r, &n));
        let positions = fill(&raw.positions, |r| &r.id, |r| self.position(r, &n));
        let circuits = fill(&raw.circuits, |r| &r.id, |r| self.circuit(r, &n));
        let loads = fill(&raw.loads, |r| &r.id, |r| self.load(r, &n));
        let areas = fill(&raw.areas, |r| &r.id, |r| self.area(r, &n));
        let groups = fill(&raw.emergency_groups, |r| &r.id, |r| self.group(r, &n));
        let supplies = fill(&raw.temporary_supplies, |r| &r.id, |r| self.supply(r, &n));
        let surges = fill(&raw.surge_devices, |r| &r.id, |r| self.surge(r, &n));
        let windows = fill(
            &raw.windows,
            |r| &r.id,
            |r| Window {
                period: self.spans(&[[r.from, r.to]], "job.windows")[0],
                areas: self.find_all(
                    &n.areas,
                    &r.areas,
                    &format!("job.windows, `{}`, areas", r.id),
                ),
            },
        );
        let people = fill(&raw.people, |r| &r.id, |r| self.person(r));
        let instruments =
            fill(&raw.instruments, |r| &r.id, |r| Instrument { kinds: r.kinds.clone() });
        let deliveries = fill(&raw.deliveries, |r| &r.id, |r| Minutes(r.at));
        Job {
            name: raw.name.clone(),
            epoch: raw.epoch.clone(),
            span: Period::new(raw.from, raw.to),
            policy,
            earth,
            parallel: raw
                .parallel
                .iter()
                .map(|set| self.find_all(&n.nodes, set, "job.parallel"))
                .collect(),
            neutral_groups: raw
                .neutral_groups
                .iter()
                .map(|set| self.find_all(&n.circuits, set, "job.neutral_groups"))
                .collect(),
            walks: raw
                .walks
                .iter()
                .map(|w| Walk {
                    a: self.find(&n.positions, &w.a, "job.walks"),
                    b: self.find(&n.positions, &w.b, "job.walks"),
                    minutes: Minutes(w.minutes),
                })
                .collect(),
            standing_locks: raw
                .standing_locks
                .iter()
                .filter_map(|l| {
                    Some(StandingLock {
                        device: self.find(&n.devices, &l.device, "job.standing_locks"),
                        owner: n.who(&l.owner)?,
                        reason: l.reason.clone(),
                    })
                })
                .collect(),
            nodes,
            devices,
            joints,
            boards,
            positions,
            circuits,
            loads,
            areas,
            groups,
            supplies,
            surges,
            windows,
            people,
            instruments,
            deliveries,
            outsiders: n.outsiders,
        }
    }

    fn names(&mut self, raw: &raw::Job) -> Names {
        fn of<R>(rows: &[R], id: impl Fn(&R) -> &String) -> impl Iterator<Item = String> {
            rows.iter().map(move |r| id(r).clone())
        }
        let people = names(self, "job.people", of(&raw.people, |r| &r.id));
        let mut outsiders = Table::new();
        let third = raw.devices.iter().filter_map(|d| Some(&d.third_party.as_ref()?.owner));
        for owner in third.chain(raw.standing_locks.iter().map(|l| &l.owner)) {
            if people.find(owner).is_none() {
                outsiders.add(owner, ());
            }
        }
        for (list, ids) in [
            ("job.joints", of(&raw.joints, |r| &r.id).collect::<Vec<_>>()),
            ("job.loads", of(&raw.loads, |r| &r.id).collect()),
            ("job.emergency_groups", of(&raw.emergency_groups, |r| &r.id).collect()),
            ("job.surge_devices", of(&raw.surge_devices, |r| &r.id).collect()),
            ("job.windows", of(&raw.windows, |r| &r.id).collect()),
            ("job.instruments", of(&raw.instruments, |r| &r.id).collect()),
            ("job.deliveries", of(&raw.deliveries, |r| &r.id).collect()),
            ("job.tasks", of(&raw.tasks, |r| &r.id).collect()),
        ] {
            names::<NodeId>(self, list, ids.into_iter());
        }
        Names {
            nodes: names(self, "job.nodes", of(&raw.nodes, |r| &r.id)),
            devices: names(self, "job.devices", of(&raw.devices, |r| &r.id)),
            boards: names(self, "job.boards", of(&raw.boards, |r| &r.id)),
            positions: names(self, "job.positions", of(&raw.positions, |r| &r.id)),
            circuits: names(self, "job.circuits", of(&raw.circuits, |r| &r.id)),
            areas: names(self, "job.areas", of(&raw.areas, |r| &r.id)),
            supplies: names(self, "job.temporary_supplies", of(&raw.temporary_supplies, |r| &r.id)),
            people,
            outsiders,
        }
    }

    fn policy(&mut self, raw: &raw::Policy) -> Policy {
        let place = "job.policy";
        Policy {
            f: self.figure(&raw.f, place),
            q: self.figure(&raw.q, place),
            v: self.figure(&raw.v, place),
            h: self.figure(&raw.h, place),
            margin: Minutes(raw.margin),
            dead_volts: Volts(self.figure(&raw.dead_volts, place)),
            proof_life: Minutes(raw.proof_life),
            alone: raw.alone.clone(),
            longest_stretch: Minutes(raw.longest_stretch),
            break_length: Minutes(raw.break_length),
        }
    }

    fn node(&mut self, r: &raw::Node, n: &Names) -> Node {
        let place = format!("job.nodes, `{}`", r.id);
        let kind = match r.kind.as_str() {
            "source" => NodeKind::Source(self.source(r, n, &place)),
            "bar" => NodeKind::Bar,
            "load" => NodeKind::Load,
            other => {
                self.fault(&place, format!("`{other}` is no kind of node"));
                NodeKind::Bar
            }
        };
        Node { kind, wires: self.wires(&r.wires, &place), neutral_bar: r.neutral_bar }
    }

    fn source(&mut self, r: &raw::Node, n: &Names, place: &str) -> Source {
        let missing = [
            ("self_start", r.self_start.is_none()),
            ("watches", r.watches.is_none()),
            ("system", r.system.is_none()),
            ("neutral_earthed", r.neutral_earthed.is_none()),
            ("rating", r.rating.is_none()),
            ("diversity", r.diversity.is_none()),
        ];
        for (key, _) in missing.iter().filter(|(_, missing)| *missing) {
            self.fault(place, format!("a source needs the key `{key}`"));
        }
        let watches = r.watches.clone().flatten();
        let watches = self.find_some(&n.nodes, watches.as_deref(), place);
        if r.self_start.unwrap_or(false) && watches.is_none() {
            self.fault(place, "it starts by itself, but watches no node");
        }
        let system = match r.system.clone().flatten().as_deref() {
            None => None,
            Some("TN") => Some(Earthing::Tn),
            Some("TT") => Some(Earthing::Tt),
            Some("IT") => Some(Earthing::It),
            Some(other) => {
                self.fault(place, format!("`{other}` is no earthing system (TN, TT or IT)"));
                None
            }
        };
        let zero = Number::from(0);
        Source {
            watches: watches.filter(|_| r.self_start == Some(true)),
            system,
            neutral_earthed: r.neutral_earthed.clone().flatten(),
            rating: self.amperes(r.rating.as_ref().unwrap_or(&zero), place),
            diversity: self.figure(r.diversity.as_ref().unwrap_or(&zero), place),
        }
    }

    fn device(&mut self, r: &raw::Device, n: &Names) -> Device {
        let place = format!("job.devices, `{}`", r.id);
        let wires = self.lanes(&r.wires, &place);
        let breaks = self.wires(&r.breaks, &place);
        if breaks.iter().any(|w| wires.across(w).is_none()) {
            self.fault(&place, "it breaks a conductor that it does not carry");
        }
        let self_acting = r.self_acting.as_ref().map(|s| SelfActing {
            node: self.find(&n.nodes, &s.node, &place),
            closed_while_live: match s.closed_while.as_str() {
                "live" => true,
                "dead" => false,
                other => {
                    self.fault(&place, format!("closed_while is `live` or `dead`, not `{other}`"));
                    true
                }
            },
        });
        let third_party = r.third_party.as_ref().and_then(|t| {
            Some(ThirdParty {
                owner: n.who(&t.owner)?,
                appointments: self.spans(&t.appointments, &place),
            })
        });
        Device {
            a: self.find(&n.nodes, &r.a, &place),
            b: self.find(&n.nodes, &r.b, &place),
            wires,
            breaks,
            isolates: r.isolates,
            lockable: r.lockable,
            on_load: r.on_load,
            overcurrent: r.overcurrent,
            rcd_ma: r.rcd_ma.as_ref().map(|x| self.figure(x, &place)),
            closed: r.closed,
            rating: self.amperes(&r.rating, &place),
            diversity: self.figure(&r.diversity, &place),
            enclosure: self.find_some(&n.boards, r.enclosure.as_deref(), &place),
            temporary: r.temporary,
            self_acting,
            third_party,
        }
    }

    fn joint(&mut self, r: &raw::Joint, n: &Names) -> Joint {
        let place = format!("job.joints, `{}`", r.id);
        let of = match (&r.circuit, r.place.as_deref()) {
            (None, None) => None,
            (Some(circuit), Some(word)) => {
                let circuit = self.find(&n.circuits, circuit, &place);
                let spot = match word {
                    "old" => Place::Old,
                    "new" => Place::New,
                    supply => Place::On(self.find(&n.supplies, supply, &place)),
                };
                Some((circuit, spot))
            }
            _ => {
                self.fault(&place, "`circuit` and `place` are both given, or both null");
                None
            }
        };
        Joint {
            a: self.find(&n.nodes, &r.a, &place),
            b: self.find(&n.nodes, &r.b, &place),
            wires: self.lanes(&r.wires, &place),
            made: r.made,
            of,
        }
    }

    fn board(&mut self, r: &raw::Board, n: &Names) -> Board {
        let place = format!("job.boards, `{}`", r.id);
        Board {
            incoming: self.find(&n.positions, &r.incoming, &place),
            ways: self.find(&n.positions, &r.ways, &place),
            incoming_shrouded: r.incoming_shrouded,
            ways_shrouded: r.ways_shrouded,
            covers_on: r.covers_on,
            within_reach: self.find_all(&n.boards, &r.within_reach, &place),
            replaces: self.find_some(&n.boards, r.replaces.as_deref(), &place),
            one_way: r.one_way.as_ref().map(|o| o.justification.clone()),
        }
    }

    fn position(&mut self, r: &raw::Position, n: &Names) -> Position {
        let place = format!("job.positions, `{}`", r.id);
        Position {
            board: self.find_some(&n.boards, r.board.as_deref(), &place),
            hands: r.hands,
            bare: self.find_all(&n.nodes, &r.bare, &place),
            points: self.find_all(&n.nodes, &r.points, &place),
            row: self.find_all(&n.nodes, &r.row, &place),
            other_fed: self.find_all(&n.nodes, &r.other_fed, &place),
            enclosed: self.find_all(&n.nodes, &r.enclosed, &place),
            none_found: r
                .none_found
                .as_ref()
                .map(|f| NoneFound { by: f.by.clone(), when: f.when.clone() }),
            discharge: Minutes(r.discharge),
            live_before: r.live_before,
        }
    }

    fn circuit(&mut self, r: &raw::Circuit, n: &Names) -> Circuit {
        let place = format!("job.circuits, `{}`", r.id);
        let mut amps = Vec::new();
        for (name, figure) in &r.amps {
            match Wire::read(name).filter(|w| w.is_line()) {
                Some(line) => amps.push((line, self.amperes(figure, &place))),
                None => self.fault(&place, format!("amps: `{name}` is no line")),
            }
        }
        Circuit {
            nodes: self.find_all(&n.nodes, &r.nodes, &place),
            amps,
            no_earth: r.no_earth.clone(),
            left_off: r.left_off.clone(),
        }
    }

    fn load(&mut self, r: &raw::Load, n: &Names) -> Load {
        let place = format!("job.loads, `{}`", r.id);
        let needs = match (&r.needs, r.needs.as_u64()) {
            (Value::String(word), _) if word == "all" => None,
            (_, Some(k)) => usize::try_from(k).ok(),
            _ => {
                self.fault(&place, "needs is \"all\" or a number");
                None
            }
        };
        Load {
            circuits: self.find_all(&n.circuits, &r.circuits, &place),
            needs,
            areas: self.find_all(&n.areas, &r.areas, &place),
            weight: self.figure(&r.weight, &place),
            needed: self.spans(&r.needed, &place),
            ride_through: Minutes(r.ride_through),
            ride_recharge: r.ride_recharge.map(Minutes),
            max_single: r.max_single.map(Minutes),
            max_total: r.max_total.map(Minutes),
            life_safety: r.life_safety,
            measure: r.measure.clone(),
            may_stay_out: r.may_stay_out,
            any_order: r.any_order,
        }
    }

    fn area(&mut self, r: &raw::Area, n: &Names) -> Area {
        let place = format!("job.areas, `{}`", r.id);
        Area {
            occupied: self.spans(&r.occupied, &place),
            autonomy: Minutes(r.autonomy),
            measure: r.measure.clone(),
            task_lighting: r.task_lighting.clone(),
            lighting: self.find_all(&n.circuits, &r.lighting, &place),
        }
    }

    fn group(&mut self, r: &raw::Group, n: &Names) -> Group {
        let place = format!("job.emergency_groups, `{}`", r.id);
        if r.recharge <= 0 {
            self.fault(&place, "the recharge time must be more than 0");
        }
        Group {
            areas: self.find_all(&n.areas, &r.areas, &place),
            watches: self.find(&n.circuits, &r.watches, &place),
            relays: self.find_all(&n.circuits, &r.relays, &place),
            feed: self.find(&n.circuits, &r.feed, &place),
            maintained: r.maintained,
            rated: Minutes(r.rated),
            recharge: Minutes(r.recharge.max(1)),
            charge: self.figure(&r.charge, &place),
            rest_mode: r.rest_mode,
            old_state_exempt: r.old_state_exempt.clone(),
        }
    }

    fn supply(&mut self, r: &raw::Supply, n: &Names) -> Supply {
        let place = format!("job.temporary_supplies, `{}`", r.id);
        Supply {
            feed: self.find(&n.nodes, &r.feed, &place),
            node: self.find(&n.nodes, &r.node, &place),
            ways: r.ways,
            rating: self.amperes(&r.rating, &place),
            diversity: self.figure(&r.diversity, &place),
            mv_per_a_m: self.figure(&r.mv_per_a_m, &place),
            length: Metres(self.figure(&r.length_m, &place)),
            drop_limit: Volts(self.figure(&r.drop_limit_v, &place)),
            feed_loop: Loop {
                neutral: Ohms(self.figure(&r.feed_loop_ohm.neutral, &place)),
                earth: Ohms(self.figure(&r.feed_loop_ohm.earth, &place)),
            },
            lead_per_m: Loop {
                neutral: self.figure(&r.lead_ohm_per_m.neutral, &place),
                earth: self.figure(&r.lead_ohm_per_m.earth, &place),
            },
            loop_limit: Ohms(self.figure(&r.loop_limit_ohm, &place)),
            rcd_ma: r.rcd_ma.as_ref().map(|x| self.figure(x, &place)),
        }
    }

    fn surge(&mut self, r: &raw::Surge, n: &Names) -> Surge {
        let place = format!("job.surge_devices, `{}`", r.id);
        let kind = match r.kind.as_str() {
            "cartridge" => SurgeKind::Cartridge,
            "electronics" => SurgeKind::Electronics,
            other => {
                self.fault(&place, format!("`{other}` is neither `cartridge` nor `electronics`"));
                SurgeKind::Cartridge
            }
        };
        Surge {
            board: self.find_some(&n.boards, r.board.as_deref(), &place),
            node: self.find(&n.nodes, &r.node, &place),
            kind,
            fitted: r.fitted,
        }
    }

    fn person(&mut self, r: &raw::Person) -> Person {
        let place = format!("job.people, `{}`", r.id);
        let mut may = Vec::new();
        for name in &r.may {
            match TaskKind::read(name) {
                Some(kind) => may.push(kind),
                None => self.fault(&place, format!("`{name}` is no kind of task")),
            }
        }
        Person { may, present: self.spans(&r.present, &place) }
    }

    fn task(&mut self, r: &raw::Task, job: &Job, ids: &Table<TaskId, ()>) -> Task {
        let place = format!("job.tasks, `{}`", r.id);
        let kind = TaskKind::read(&r.kind).unwrap_or_else(|| {
            self.fault(&place, format!("`{}` is no kind of task", r.kind));
            TaskKind::Prepare
        });
        Task {
            kind,
            duration: r.duration.map(Minutes),
            planned: Minutes(r.planned),
            people: r.people,
            after: self.find_all(ids, &r.after, &place),
            position: self.find_some(&job.positions, r.position.as_deref(), &place),
            area: self.find_some(&job.areas, r.area.as_deref(), &place),
            circuit: self.find_some(&job.circuits, r.circuit.as_deref(), &place),
            board: self.find_some(&job.boards, r.board.as_deref(), &place),
            group: self.find_some(&job.groups, r.group.as_deref(), &place),
            instrument: r.instrument.clone(),
            delivery: self.find_some(&job.deliveries, r.delivery.as_deref(), &place),
        }
    }

    fn plan(&mut self, raw: &raw::Record, job: &Job) -> Plan {
        let mut ids = Table::new();
        for task in &raw.job.tasks {
            ids.add(&task.id, ());
        }
        let tasks = fill(&raw.job.tasks, |r| &r.id, |r| self.task(r, job, &ids));
        let mut locks = Table::new();
        let mut boxes = Table::new();
        let mut events = Vec::new();
        for (i, event) in raw.plan.events.iter().enumerate() {
            if let Some(lock) = &event.lock {
                locks.add(lock, ());
            }
            if let Some(Some(lock_box)) = &event.lock_box {
                boxes.add(lock_box, ());
            }
            let place = format!("plan.events[{i}] (`{}` at {})", event.act, event.t);
            let mut reader = EventReader {
                reader: self,
                job,
                ids: &ids,
                locks: &locks,
                boxes: &boxes,
                event,
                place,
            };
            if let Some(act) = reader.act() {
                events.push(Event { at: Minutes(event.t), act });
            }
        }
        let claims = self.claims(&raw.plan.claims, job, &ids);
        let back_out = self.back_out(&raw.plan.back_out, job, &ids);
        Plan { tasks, locks, boxes, events, claims, back_out }
    }

    fn claims(&mut self, raw: &raw::Claims, job: &Job, ids: &Table<TaskId, ()>) -> Claims {
        let place = "plan.claims";
        let p = &raw.parts;
        Claims {
            outages: raw
                .outages
                .iter()
                .map(|(load, spans)| {
                    // A plan may claim anything; whether the spans are in order is for `verify`.
                    let spans = spans.iter().map(|[a, b]| Period::new(*a, *b)).collect();
                    (self.find(&job.loads, load, place), spans)
                })
                .collect(),
            j: self.figure(&raw.j, place),
            parts: [&p.needed, &p.other, &p.counted, &p.visits, &p.riding]
                .map(|n| self.figure(n, place)),
            lower_bound: self.figure(&raw.lower_bound, place),
            gap: self.figure(&raw.gap, place),
            finish: Minutes(raw.finish),
            lock_operations: raw.lock_operations,
            walking: raw.walking,
            full_duration_tests: raw
                .full_duration_tests
                .iter()
                .map(|(group, t)| (self.find(&job.groups, group, place), Minutes(*t)))
                .collect(),
            still_live: raw
                .still_live
                .iter()
                .map(|(task, nodes)| {
                    (self.find(ids, task, place), self.find_all(&job.nodes, nodes, place))
                })
                .collect(),
        }
    }

    fn back_out(&mut self, raw: &raw::BackOut, job: &Job, ids: &Table<TaskId, ()>) -> BackOut {
        let place = "plan.back_out";
        BackOut {
            steps: raw.steps.iter().map(|s| self.step(s, job, ids, place)).collect(),
            points_of_no_return: raw
                .points_of_no_return
                .iter()
                .map(|p| PointOfNoReturn { visit: Period::new(p.from, p.to), at: p.t.map(Minutes) })
                .collect(),
            checkpoints: raw
                .checkpoints
                .iter()
                .map(|c| Checkpoint {
                    task: self.find(ids, &c.task, place),
                    latest: Minutes(c.latest),
                    otherwise: c.otherwise.clone(),
                })
                .collect(),
        }
    }

    fn step(
        &mut self,
        raw: &raw::Step,
        job: &Job,
        ids: &Table<TaskId, ()>,
        place: &str,
    ) -> BackOutStep {
        let way = match raw.to.as_str() {
            "back" => Way::Back,
            "forward" => Way::Forward,
            other => {
                self.fault(place, format!("a step goes `back` or `forward`, not `{other}`"));
                Way::Forward
            }
        };
        let acts = raw
            .tasks
            .iter()
            .map(|t| BackOutTask {
                kind: TaskKind::read(&t.kind).unwrap_or_else(|| {
                    self.fault(place, format!("`{}` is no kind of task", t.kind));
                    TaskKind::Prepare
                }),
                of: t.of.as_ref().and_then(|name| self.subject(name, job, place)),
                at: Minutes(t.at),
                minutes: Minutes(t.minutes),
            })
            .collect();
        BackOutStep {
            task: self.find(ids, &raw.task, place),
            way,
            acts,
            minutes: Minutes(raw.minutes),
        }
    }

    fn subject(&mut self, name: &str, job: &Job, place: &str) -> Option<Subject> {
        let found = (job.circuits.find(name).map(Subject::Circuit))
            .or_else(|| job.boards.find(name).map(Subject::Board))
            .or_else(|| job.groups.find(name).map(Subject::Group))
            .or_else(|| job.positions.find(name).map(Subject::Position));
        if found.is_none() {
            self.fault(place, format!("`{name}` is no circuit, board, group or position"));
        }
        found
    }
}

/// One event with all that is needed to look its names up.
struct EventReader<'a> {
    reader: &'a mut Reader,
    job: &'a Job,
    ids: &'a Table<TaskId, ()>,
    locks: &'a Table<LockId, ()>,
    boxes: &'a Table<BoxId, ()>,
    event: &'a raw::Event,
    place: String,
}

impl EventReader<'_> {
    /// The event's act; `None` if a key is missing or its name unknown, which is reported.
    fn act(&mut self) -> Option<Act> {
        let e = self.event;
        Some(match e.act.as_str() {
            "start" => Act::Start {
                task: self.task()?,
                who: self.people()?,
                instrument: self.instrument()?,
            },
            "finish" => Act::Finish { task: self.task()?, pass: self.key("pass", e.pass)? },
            "open" => Act::Open(self.by()?, self.device()?),
            "close" => Act::Close(self.by()?, self.device()?),
            "lock" => {
                let lock_box = self.key("box", e.lock_box.as_ref())?;
                let key = match lock_box {
                    None => Key::Kept,
                    Some(name) => Key::Boxed(self.boxes.find(name)?),
                };
                Act::Lock(self.by()?, self.device()?, self.lock()?, key)
            }
            "unlock" => Act::Unlock(self.by()?, self.device()?, self.lock()?),
            "box_lock" => Act::BoxLock(self.by()?, self.lock_box()?),
            "box_unlock" => Act::BoxUnlock(self.by()?, self.lock_box()?),
            "make" => Act::Make(self.by()?, self.joint()?),
            "break" => Act::Break(self.by()?, self.joint()?),
            "prove" => Act::Prove(self.by()?, self.proof()?),
            "surge" => {
                let name = self.key("surge", e.surge.as_deref())?;
                let surge = self.look(&self.job.surges, name)?;
                Act::Surge(self.by()?, surge, self.key("in", e.fitted)?)
            }
            "rest" => {
                let name = self.key("group", e.group.as_deref())?;
                let group = self.look(&self.job.groups, name)?;
                Act::Rest(self.by()?, group, self.key("on", e.on)?)
            }
            "hand_back" => {
                let name = self.key("area", e.area.as_deref())?;
                let area = self.look(&self.job.areas, name)?;
                // Who hands back is written down, but nothing asks for it.
                let who = e.who.as_ref().and_then(Value::as_str).and_then(|w| self.who(w));
                let who = who.unwrap_or(Who::Person(PersonId::new(0)));
                Act::HandBack(By { task: None, who }, area)
            }
            other => {
                self.reader.fault(&self.place, format!("`{other}` is no event"));
                return None;
            }
        })
    }

    fn key<T>(&mut self, name: &str, value: Option<T>) -> Option<T> {
        if value.is_none() {
            self.reader.fault(&self.place, format!("the key `{name}` is missing"));
        }
        value
    }

    fn look<K: Id, V>(&mut self, table: &Table<K, V>, name: &str) -> Option<K> {
        let found = table.find(name);
        if found.is_none() {
            self.reader.fault(&self.place, format!("`{name}` is not known to the job"));
        }
        found
    }

    fn task(&mut self) -> Option<TaskId> {
        let name = self.key("task", self.event.task.clone().flatten())?;
        self.look(self.ids, &name)
    }

    fn people(&mut self) -> Option<Vec<PersonId>> {
        let list = self.key("who", self.event.who.as_ref().and_then(Value::as_array))?;
        list.iter().map(|v| self.look(&self.job.people, v.as_str().unwrap_or(""))).collect()
    }

    fn instrument(&mut self) -> Option<Option<InstrumentId>> {
        match self.key("instrument", self.event.instrument.clone())? {
            None => Some(None),
            Some(name) => self.look(&self.job.instruments, &name).map(Some),
        }
    }

    fn who(&mut self, name: &str) -> Option<Who> {
        if let Some(person) = self.job.people.find(name) {
            return Some(Who::Person(person));
        }
        self.look(&self.job.outsiders, name).map(Who::Outsider)
    }

    fn by(&mut self) -> Option<By> {
        let who = self.key("who", self.event.who.as_ref().and_then(Value::as_str))?;
        let who = self.who(who)?;
        let task = match self.key("task", self.event.task.clone())? {
            None => None,
            Some(name) => Some(self.look(self.ids, &name)?),
        };
        Some(By { task, who })
    }

    fn device(&mut self) -> Option<DeviceId> {
        let name = self.key("device", self.event.device.as_deref())?;
        self.look(&self.job.devices, name)
    }

    fn joint(&mut self) -> Option<JointId> {
        let name = self.key("joint", self.event.joint.as_deref())?;
        self.look(&self.job.joints, name)
    }

    fn lock(&mut self) -> Option<LockId> {
        let name = self.key("lock", self.event.lock.as_deref())?;
        self.locks.find(name)
    }

    fn lock_box(&mut self) -> Option<BoxId> {
        let name = self.key("box", self.event.lock_box.clone().flatten())?;
        self.boxes.find(&name)
    }

    fn proof(&mut self) -> Option<Proof> {
        let e = self.event;
        let position = self.key("position", e.position.as_deref())?;
        let circuit = match self.key("circuit", e.circuit.clone())? {
            None => None,
            Some(name) => Some(self.look(&self.job.circuits, &name)?),
        };
        let instrument = self.instrument()?;
        let instrument = self.key("instrument", instrument)?;
        let mut readings = BTreeMap::new();
        for (node, pairs) in self.key("readings", e.readings.as_ref())? {
            let mut at_node = BTreeMap::new();
            for (pair, reading) in pairs {
                let volts = reading.as_ref().map(|n| Volts(self.reader.figure(n, &self.place)));
                at_node.insert(pair.clone(), volts);
            }
            readings.insert(self.look(&self.job.nodes, node)?, at_node);
        }
        Some(Proof {
            position: self.look(&self.job.positions, position)?,
            circuit,
            instrument,
            tester_before: self.key("tester_before", e.tester_before)?,
            tester_after: self.key("tester_after", e.tester_after)?,
            readings,
        })
    }
}
