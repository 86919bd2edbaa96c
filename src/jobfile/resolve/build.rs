//! The job under construction, and how rows are added to its tables.

use super::Resolved;
use super::times::Frame;
use crate::diag::{Fault, Span};
use crate::jobfile::files::sorted;
use crate::jobfile::schema::{DurationsRow, Root};
use crate::jobfile::value::{At, Cx};
use crate::model::site::{Clock, DefaultUsed, Paper, Site, Survey};
use crate::model::*;
use crate::units::{Amperes, Exact, Minutes, Volts, whole};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A way of a board, as made for the circuits on it.
#[derive(Clone, Debug)]
pub(super) struct WayMade {
    pub board: BoardId,
    pub number: i64,
    pub line: Option<Wire>,
    pub node: NodeId,
    pub circuits: Vec<CircuitId>,
    pub span: Span,
}

/// How a board is supplied.
#[derive(Clone, Debug)]
pub(super) struct Fed {
    /// The node at the far side of its tails.
    pub above: NodeId,
    /// The joint between that and its incoming terminals.
    pub tails: JointId,
    /// The way of a staying board at which its submain ends, with the joint there.
    pub supply_end: Option<(BoardId, JointId)>,
}

/// What is known of a board before its circuits are.
#[derive(Clone, Debug)]
pub(super) struct BoardMade {
    pub incoming: NodeId,
    pub bus: NodeId,
    pub role: BoardRole,
    pub ways: i64,
    pub phases: i64,
    pub line: Wire,
    pub fed: Option<Fed>,
    pub row: usize,
}

/// The job under construction.
pub(super) struct Build {
    pub root: Root,
    pub frame: Frame,
    pub folder: PathBuf,
    pub firm: Option<DurationsRow>,
    pub cx: Cx,
    pub job: Job,
    pub site: Site,
    pub boards: Vec<BoardMade>,
    pub ways: BTreeMap<String, WayMade>,
    /// Links: device, cable node, joint, new board, old board, row.
    pub links: Vec<(NodeId, JointId, BoardId, BoardId, usize)>,
    pub supply_positions: Vec<PositionId>,
    pub position_areas: BTreeMap<PositionId, AreaId>,
    /// Names of feeds and transfer switches, and the node below each.
    pub below: BTreeMap<String, NodeId>,
    pub tails: Vec<Tails>,
    pub node_words: BTreeMap<NodeId, String>,
    pub device_words: BTreeMap<DeviceId, String>,
    pub position_words: BTreeMap<PositionId, String>,
    defaults: BTreeMap<(String, String), usize>,
    seen: BTreeMap<(&'static str, String), Span>,
}

/// The value of an optional key.
pub(super) fn get<T: Clone>(value: &Option<At<T>>) -> Option<T> {
    value.as_ref().map(|at| at.value.clone())
}

/// The text of an optional key, or nothing.
pub(super) fn text(value: &Option<At<String>>) -> String {
    get(value).unwrap_or_default()
}

/// The items of an optional list.
pub(super) fn rows<T: Clone>(value: &Option<At<Vec<T>>>) -> Vec<T> {
    get(value).unwrap_or_default()
}

impl Build {
    pub fn new(
        root: Root,
        frame: Frame,
        folder: PathBuf,
        firm: Option<DurationsRow>,
        cx: Cx,
    ) -> Build {
        let zone = &frame.zone;
        let clock = Clock::new(zone.name.clone(), zone.rules.clone(), zone.epoch);
        let epoch = clock.at(Minutes::ZERO).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
        let job = Job {
            name: root.job.as_ref().map_or(String::new(), |j| text(&j.value.name)),
            epoch,
            span: frame.span,
            policy: Policy {
                f: Exact::new(1.into(), 10.into()),
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
            parallel: Vec::new(),
            neutral_groups: Vec::new(),
            walks: Vec::new(),
            standing_locks: Vec::new(),
            nodes: Table::new(),
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
        };
        let survey = root.survey.as_ref().map(|s| &s.value);
        let site = Site {
            clock,
            paper: Paper::default(),
            survey: Survey {
                by: survey.map_or(String::new(), |s| text(&s.by)),
                on: survey.and_then(|s| get(&s.on)).map_or(String::new(), |d| d.0.to_string()),
            },
            profile: String::new(),
            figure: String::new(),
            circuits: Vec::new(),
            boards: Vec::new(),
            nodes: Vec::new(),
            devices: Vec::new(),
            positions: Vec::new(),
            groups: Vec::new(),
            supplies: Vec::new(),
            people: Vec::new(),
            instruments: Vec::new(),
            loads: Vec::new(),
            areas: Vec::new(),
            contacts: Vec::new(),
            access: Vec::new(),
            materials: Vec::new(),
            risks: Vec::new(),
            defects: Vec::new(),
            ends: Vec::new(),
            defaults_used: Vec::new(),
            questions: Vec::new(),
        };
        Build {
            root,
            frame,
            folder,
            firm,
            cx,
            job,
            site,
            boards: Vec::new(),
            ways: BTreeMap::new(),
            links: Vec::new(),
            supply_positions: Vec::new(),
            position_areas: BTreeMap::new(),
            below: BTreeMap::new(),
            tails: Vec::new(),
            node_words: BTreeMap::new(),
            device_words: BTreeMap::new(),
            position_words: BTreeMap::new(),
            defaults: BTreeMap::new(),
            seen: BTreeMap::new(),
        }
    }

    /// Notes that a default was used.
    pub fn default(&mut self, what: impl Into<String>, value: impl Into<String>) {
        *self.defaults.entry((what.into(), value.into())).or_default() += 1;
    }

    /// The value, or the default, which is noted.
    pub fn or<T: Clone>(
        &mut self,
        value: &Option<At<T>>,
        what: &str,
        words: &str,
        default: T,
    ) -> T {
        match value {
            Some(at) => at.value.clone(),
            None => {
                self.default(what, words);
                default
            }
        }
    }

    /// Whether this name of this kind is new; else tells both places.
    pub fn fresh(&mut self, what: &'static str, name: &str, span: Span) -> bool {
        match self.seen.get(&(what, name.to_string())) {
            Some(first) => {
                let first = *first;
                let fault = Fault::Doubled { what, name: name.to_string() };
                self.cx.tell(fault, span, Some((first, "first here")), None);
                false
            }
            None => {
                self.seen.insert((what, name.to_string()), span);
                true
            }
        }
    }

    /// Adds a node, telling a doubled name.
    pub fn node(&mut self, name: &str, node: Node, span: Span) -> Option<NodeId> {
        if !self.fresh("node", name, span) {
            return None;
        }
        self.job.nodes.add(name, node)
    }

    /// Adds a bar.
    pub fn bar(
        &mut self,
        name: &str,
        wires: WireSet,
        neutral_bar: bool,
        span: Span,
    ) -> Option<NodeId> {
        self.node(name, Node { kind: NodeKind::Bar, wires, neutral_bar }, span)
    }

    /// Adds a device, telling a doubled name.
    pub fn device(&mut self, name: &str, device: Device, span: Span) -> Option<DeviceId> {
        if !self.fresh("device", name, span) {
            return None;
        }
        self.job.devices.add(name, device)
    }

    /// Adds a joint that belongs to no circuit.
    pub fn joint(
        &mut self,
        name: &str,
        a: NodeId,
        b: NodeId,
        made: bool,
        span: Span,
    ) -> Option<JointId> {
        let wires = Lanes::straight(self.common(a, b));
        self.add_joint(name, Joint { a, b, wires, made, of: None }, span)
    }

    /// Adds a joint.
    pub fn add_joint(&mut self, name: &str, joint: Joint, span: Span) -> Option<JointId> {
        if !self.fresh("joint", name, span) {
            return None;
        }
        self.job.joints.add(name, joint)
    }

    /// The conductors that both nodes have.
    pub fn common(&self, a: NodeId, b: NodeId) -> WireSet {
        let there = self.job.nodes[b].wires;
        self.job.nodes[a].wires.iter().filter(|w| there.has(*w)).collect()
    }

    /// A closed device between two nodes that isolates, switches on load and carries what both have.
    pub fn plain_device(&self, a: NodeId, b: NodeId, rating: Amperes) -> Device {
        let wires = self.common(a, b);
        Device {
            a,
            b,
            wires: Lanes::straight(wires),
            breaks: wires.iter().filter(|w| *w != Wire::PE).collect(),
            isolates: true,
            lockable: false,
            on_load: true,
            overcurrent: false,
            rcd_ma: None,
            closed: true,
            rating,
            diversity: whole(1),
            enclosure: None,
            temporary: false,
            self_acting: None,
            third_party: None,
        }
    }

    /// The named area, or a fault.
    pub fn area(&mut self, name: &At<String>) -> Option<AreaId> {
        let found = self.job.areas.find(&name.value);
        if found.is_none() {
            self.cx.unknown("area", name, self.job.areas.names());
        }
        found
    }

    /// The named board, or a fault.
    pub fn board(&mut self, name: &At<String>) -> Option<BoardId> {
        let found = self.job.boards.find(&name.value);
        if found.is_none() {
            self.cx.unknown("board", name, self.job.boards.names());
        }
        found
    }

    /// The named circuit, or a fault.
    pub fn circuit(&mut self, name: &At<String>) -> Option<CircuitId> {
        let found = self.job.circuits.find(&name.value);
        if found.is_none() {
            self.cx.unknown("circuit", name, self.job.circuits.names());
        }
        found
    }

    /// The named delivery, or a fault.
    pub fn delivery(&mut self, name: &Option<At<String>>) -> Option<DeliveryId> {
        let name = name.as_ref()?;
        let found = self.job.deliveries.find(&name.value);
        if found.is_none() {
            self.cx.unknown("delivery", name, self.job.deliveries.names());
        }
        found
    }

    /// The named device, or a fault.
    pub fn find_device(&mut self, name: &At<String>) -> Option<DeviceId> {
        let found = self.job.devices.find(&name.value);
        if found.is_none() {
            self.cx.unknown("device", name, self.job.devices.names());
        }
        found
    }

    /// Somebody outside the team, or one of it.
    pub fn who(&mut self, name: &str) -> Who {
        if let Some(person) = self.job.people.find(name) {
            return Who::Person(person);
        }
        let found = self.job.outsiders.find(name);
        let id = found.or_else(|| self.job.outsiders.add(name, ()));
        Who::Outsider(id.unwrap_or(OutsiderId::new(0)))
    }

    /// The job, or all faults.
    pub fn finish(mut self, labour: Labour) -> Result<Resolved, Vec<crate::diag::Diagnostic>> {
        if !self.cx.faults.is_empty() {
            return Err(sorted(self.cx.faults));
        }
        self.site.defaults_used = self
            .defaults
            .into_iter()
            .map(|((what, value), times)| DefaultUsed { what, value, times })
            .collect();
        self.site.questions.sort();
        self.site.questions.dedup();
        debug_assert!(labour.fits(&self.job));
        Ok(Resolved { job: self.job, labour, site: self.site })
    }
}
