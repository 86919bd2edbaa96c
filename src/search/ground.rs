//! What every step of the search looks things up in.

use super::bound;
use super::watch::{self, Watch};
use crate::model::*;
use crate::network::{LiveSet, Network, State};
use crate::units::{Exact, Minutes, Period};
use crate::work::projects::{self, Project, Route};
use crate::work::session::Material;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

/// The job with all that is computed from it once.
pub struct Ground<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its task templates.
    pub labour: &'a Labour,
    /// Its conductors.
    pub net: Network,
    /// The route of each circuit.
    pub routes: Vec<Route>,
    /// Boards that belong together.
    pub projects: Vec<Project>,
    /// The loads of each circuit.
    pub loads_of: Vec<Vec<LoadId>>,
    /// What is joined to each node: the far node, by a device or a joint.
    pub edges: Vec<Vec<(NodeId, Edge)>>,
    /// It is only a part of what is planned.
    pub partial: bool,
    /// People and visits, by their number, that what is planned already pays for.
    pub attended: BTreeSet<(PersonId, usize)>,
    /// Who waits for the search.
    pub watch: &'a Watch<'a>,
    /// No plan costs less; computed when it is first asked for.
    bound: OnceLock<Exact>,
    /// Minutes between positions.
    walks: BTreeMap<(PositionId, PositionId), i64>,
}

/// A device or a joint between two nodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// A device.
    Device(DeviceId),
    /// A joint.
    Joint(JointId),
}

impl<'a> Ground<'a> {
    /// Looks everything up.
    pub fn new(job: &'a Job, labour: &'a Labour) -> Ground<'a> {
        Ground::watched(job, labour, &watch::NOBODY)
    }

    /// The same, for somebody who waits.
    pub fn watched(job: &'a Job, labour: &'a Labour, watch: &'a Watch<'a>) -> Ground<'a> {
        let mut loads_of = vec![Vec::new(); job.circuits.len()];
        for (id, load) in job.loads.iter() {
            for c in &load.circuits {
                loads_of[c.index()].push(id);
            }
        }
        let mut walks = BTreeMap::new();
        for walk in &job.walks {
            walks.insert((walk.a, walk.b), walk.minutes.0);
            walks.insert((walk.b, walk.a), walk.minutes.0);
        }
        let mut edges = vec![Vec::new(); job.nodes.len()];
        let devices = job.devices.iter().map(|(id, d)| (d.a, d.b, Edge::Device(id)));
        let joints = job.joints.iter().map(|(id, j)| (j.a, j.b, Edge::Joint(id)));
        for (a, b, edge) in devices.chain(joints) {
            edges[a.index()].push((b, edge));
            edges[b.index()].push((a, edge));
        }
        Ground {
            job,
            labour,
            edges,
            net: Network::build(job),
            routes: projects::routes(job),
            projects: projects::projects(job, labour),
            loads_of,
            partial: false,
            attended: BTreeSet::new(),
            watch,
            bound: OnceLock::new(),
            walks,
        }
    }

    /// A part of a job, as its planner sees it: what somebody who waits is told is of the whole.
    pub fn part_of(job: &'a Job, labour: &'a Labour, whole: &Ground<'a>) -> Ground<'a> {
        let bound = OnceLock::from(whole.bound().clone());
        Ground { bound, partial: true, ..Ground::watched(job, labour, whole.watch) }
    }

    /// The lower bound.
    pub fn bound(&self) -> &Exact {
        self.bound.get_or_init(|| bound::lower_bound(self))
    }

    /// Minutes from one position to another.
    pub fn walk(&self, a: PositionId, b: PositionId) -> i64 {
        self.walks.get(&(a, b)).copied().unwrap_or(0)
    }

    /// What the tasks of sessions are made from, with the circuits prepared that `prepared` says.
    pub fn material<'b>(&'b self, prepared: &'b [bool]) -> Material<'b> {
        Material { job: self.job, labour: self.labour, routes: &self.routes, prepared }
    }

    /// Windows that overlap or touch, as one visit each, in order of time.
    pub fn visits(&self) -> Vec<Period> {
        Period::merged(self.job.windows.rows().iter().map(|w| w.period))
    }

    /// In which visits, by their number, people have a task.
    pub fn attended_by(
        &self,
        work: impl Iterator<Item = (PersonId, Period)>,
    ) -> BTreeSet<(PersonId, usize)> {
        let visits = self.visits();
        work.flat_map(|(person, period)| {
            let here = visits.iter().enumerate().filter(move |(_, v)| v.overlaps(period));
            here.map(move |(i, _)| (person, i))
        })
        .collect()
    }

    /// The circuits that are fed in `live`.
    pub fn fed(&self, live: &LiveSet) -> Vec<bool> {
        self.job.circuits.ids().map(|c| self.net.circuit_fed(live, c)).collect()
    }

    /// The circuits that lose their supply when `locks` are opened and locked in `state`.
    pub fn lost(&self, state: &State, locks: &[DeviceId]) -> Vec<CircuitId> {
        self.net.goes_dead(state, &self.net.live(state), locks)
    }

    /// The areas that must be open while these circuits are out.
    pub fn areas_of(&self, circuits: &[CircuitId]) -> Vec<AreaId> {
        let mut areas: Vec<AreaId> = circuits
            .iter()
            .flat_map(|c| &self.loads_of[c.index()])
            .flat_map(|l| self.job.loads[*l].areas.iter().copied())
            .collect();
        areas.sort_unstable();
        areas.dedup();
        areas
    }

    /// Whether everything that may be cut in the window by losing these circuits is open in it.
    pub fn window_open(&self, window: WindowId, circuits: &[CircuitId]) -> bool {
        let open = &self.job.windows[window].areas;
        self.areas_of(circuits).iter().all(|a| open.contains(a))
    }
}

/// The latest of some instants, or `or`.
pub fn latest(times: impl IntoIterator<Item = Minutes>, or: Minutes) -> Minutes {
    times.into_iter().max().unwrap_or(or)
}
