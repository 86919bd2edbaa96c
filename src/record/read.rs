//! From the record as written to a [`Job`] and a [`Plan`], every name looked up.

mod event;
mod network;
mod plan;
mod served;

use super::raw;
use crate::model::*;
use crate::plan::*;
use crate::units::{Amperes, Exact, Minutes, Period, Volts, decimal};
use serde_json::Number;
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
}
