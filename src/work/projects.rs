//! Which boards belong together, and where each circuit comes from and goes to.

use crate::model::*;
use std::collections::BTreeSet;

/// Where a circuit comes from and goes to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Route {
    /// Its joints on old ways.
    pub old: Vec<JointId>,
    /// Its joints on new ways.
    pub new: Vec<JointId>,
    /// The board of the old ways.
    pub from: Option<BoardId>,
    /// The board of the new ways.
    pub to: Option<BoardId>,
    /// The devices of its new ways: what is closed for its live test.
    pub new_devices: Vec<DeviceId>,
    /// The nodes of its old and new ways.
    pub ways: Vec<NodeId>,
}

/// Old boards, the new boards that take their circuits over, and everything between them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Project {
    /// Boards that go.
    pub old: Vec<BoardId>,
    /// Boards that come.
    pub new: Vec<BoardId>,
    /// Circuits that move or end, in units that have to move in one session.
    pub units: Vec<Vec<CircuitId>>,
    /// Work on terminations that belongs to it, as indices into the labour's list.
    pub tails: Vec<usize>,
}

impl Project {
    /// All its boards, old ones first.
    pub fn boards(&self) -> impl Iterator<Item = BoardId> + '_ {
        self.old.iter().chain(&self.new).copied()
    }
}

/// The board at whose positions a node is bare.
pub fn board_of(job: &Job, node: NodeId) -> Option<BoardId> {
    let at = |p: &Position| p.bare.contains(&node) || p.row.contains(&node);
    job.positions.rows().iter().find(|p| at(p)).and_then(|p| p.board)
}

/// The route of each circuit.
pub fn routes(job: &Job) -> Vec<Route> {
    let mut routes = vec![Route::default(); job.circuits.len()];
    for (id, joint) in job.joints.iter() {
        let Some((circuit, place)) = joint.of else { continue };
        let route = &mut routes[circuit.index()];
        let own = &job.circuits[circuit].nodes;
        let way = if own.contains(&joint.a) { joint.b } else { joint.a };
        match place {
            Place::Old => {
                route.old.push(id);
                route.from = route.from.or_else(|| board_of(job, way));
                route.ways.push(way);
            }
            Place::New => {
                route.new.push(id);
                route.to = route.to.or_else(|| board_of(job, way));
                route.ways.push(way);
                let devices = job.devices.iter().filter(|(_, d)| d.a == way || d.b == way);
                route.new_devices.extend(devices.map(|(id, _)| id));
            }
            Place::On(_) => {}
        }
    }
    for route in &mut routes {
        route.new_devices.sort_unstable();
        route.new_devices.dedup();
    }
    routes
}

/// Circuits tied to each other: by an emergency group (E1, T4), by a shared neutral (W12, T4), or
/// because the user keeps them together. Each inner list has to move in one session.
fn units(job: &Job, labour: &Labour) -> Vec<usize> {
    let mut unit: Vec<usize> = (0..job.circuits.len()).collect();
    let mut tie = |a: CircuitId, b: CircuitId| {
        let (from, to) = (unit[a.index()], unit[b.index()]);
        let (keep, drop) = (from.min(to), from.max(to));
        for u in unit.iter_mut().filter(|u| **u == drop) {
            *u = keep;
        }
    };
    for group in job.groups.rows() {
        tie(group.feed, group.watches);
        for (_, coil) in job.watched_coils(group) {
            tie(coil, group.watches);
        }
    }
    let kept = labour.pins.iter().filter_map(|pin| match &pin.what {
        PinKind::Together(circuits) => Some(circuits),
        _ => None,
    });
    for set in job.neutral_groups.iter().chain(kept) {
        for pair in set.windows(2) {
            tie(pair[0], pair[1]);
        }
    }
    unit
}

/// All projects of the job, in the order of their first board.
pub fn projects(job: &Job, labour: &Labour) -> Vec<Project> {
    let routes = routes(job);
    let unit = units(job, labour);
    let moved = |b: BoardId| labour.boards[b.index()].role != BoardRole::Stays;
    let mut set: Vec<usize> = (0..job.boards.len()).collect();
    let mut join = |a: BoardId, b: BoardId| {
        let (from, to) = (set[a.index()], set[b.index()]);
        let (keep, drop) = (from.min(to), from.max(to));
        for s in set.iter_mut().filter(|s| **s == drop) {
            *s = keep;
        }
    };
    let ends = |r: &Route| [r.from, r.to].into_iter().flatten().filter(|b| moved(*b)).collect();
    for (i, route) in routes.iter().enumerate() {
        let mut boards: Vec<BoardId> = ends(route);
        boards.extend(ends(&routes[unit[i]]));
        for pair in boards.windows(2) {
            join(pair[0], pair[1]);
        }
    }
    for (id, board) in job.boards.iter() {
        if let Some(old) = board.replaces {
            join(id, old);
        }
    }
    let roots: BTreeSet<usize> =
        job.boards.ids().filter(|b| moved(*b)).map(|b| set[b.index()]).collect();
    let in_set = |b: BoardId, root: usize| moved(b) && set[b.index()] == root;
    roots
        .into_iter()
        .map(|root| {
            let boards = || job.boards.ids().filter(|b| in_set(*b, root));
            let role = |b: &BoardId| labour.boards[b.index()].role;
            let mine = |r: &Route| [r.from, r.to].into_iter().flatten().any(|b| in_set(b, root));
            let mut units: Vec<Vec<CircuitId>> = Vec::new();
            for (key, _) in routes.iter().enumerate().filter(|(i, _)| unit[*i] == *i) {
                let members: Vec<CircuitId> = (job.circuits.ids())
                    .filter(|c| unit[c.index()] == key && mine(&routes[c.index()]))
                    .collect();
                if !members.is_empty() {
                    units.push(members);
                }
            }
            let tails = labour.tails.iter().enumerate().filter(|(_, t)| {
                let ends = t.breaks.iter().chain(&t.makes).flat_map(|j| {
                    let joint = &job.joints[*j];
                    [board_of(job, joint.a), board_of(job, joint.b)]
                });
                in_set(t.board, root)
                    || (!moved(t.board) && ends.flatten().any(|b| in_set(b, root)))
                    || (t.stage == TailsStage::SupplyEnd && roots_at(job, t, |b| in_set(b, root)))
            });
            Project {
                old: boards().filter(|b| role(b) == BoardRole::Old).collect(),
                new: boards().filter(|b| role(b) != BoardRole::Old).collect(),
                units,
                tails: tails.map(|(i, _)| i).collect(),
            }
        })
        .collect()
}

/// Whether a cable whose end is worked on at a board that stays leads to a board of the set.
fn roots_at(job: &Job, tails: &Tails, wanted: impl Fn(BoardId) -> bool) -> bool {
    let ends: Vec<NodeId> = tails
        .breaks
        .iter()
        .chain(&tails.makes)
        .flat_map(|j| [job.joints[*j].a, job.joints[*j].b])
        .collect();
    let beyond = job.joints.rows().iter().filter(|j| ends.contains(&j.a) || ends.contains(&j.b));
    let mut nodes = beyond.flat_map(|j| [j.a, j.b]);
    nodes.any(|n| board_of(job, n).is_some_and(&wanted))
}
