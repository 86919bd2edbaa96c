//! The job and the plan as the checker asks about them: which positions a task lays open,
//! which conductors a circuit has, which visits there are.

use super::wiring::{Conductor, Wiring, of};
use crate::model::*;
use crate::plan::{Act, Plan};
use crate::units::{Minutes, Period};

/// Whether a statement was made: a blank text states nothing.
pub(super) fn stated(text: &Option<String>) -> bool {
    text.as_deref().is_some_and(|t| !t.trim().is_empty())
}

/// A circuit's own conductors, joints, and the circuits that share its neutral.
#[derive(Debug)]
pub(super) struct Own {
    pub nodes: Vec<NodeId>,
    pub lines: Vec<Conductor>,
    pub neutral: Vec<Conductor>,
    /// Empty where the job says why there is none.
    pub earth: Vec<Conductor>,
    pub joints: Vec<JointId>,
    /// Itself, and the other members of its neutral group.
    pub group: Vec<CircuitId>,
    /// It moves: some joint puts it on a new way.
    pub moves: bool,
}

/// Facts of job and plan, looked up once.
#[derive(Debug)]
pub(super) struct Site<'a> {
    pub job: &'a Job,
    pub plan: &'a Plan,
    pub wiring: Wiring,
    pub own: Vec<Own>,
    /// Conductors bare at a position that could carry voltage, fed from elsewhere included.
    pub bare: Vec<Vec<Conductor>>,
    /// By task: the positions that it lays open; none for what is no dead work.
    pub open: Vec<Vec<PositionId>>,
    /// By task: the joints that it makes or removes.
    pub works: Vec<Vec<JointId>>,
    /// By task: the positions that it proves.
    pub proves: Vec<Vec<PositionId>>,
    /// Windows that overlap or touch, as one.
    pub visits: Vec<Period>,
    /// Boards that a task of the plan mounts.
    pub mounted_by_plan: Vec<bool>,
}

impl<'a> Site<'a> {
    pub fn new(job: &'a Job, plan: &'a Plan) -> Site<'a> {
        let wiring = Wiring::new(job);
        let mut site = Site {
            job,
            plan,
            own: job.circuits.ids().map(|c| own(job, c)).collect(),
            bare: job
                .positions
                .iter()
                .map(|(_, p)| {
                    let mut all: Vec<Conductor> = nodes_bare(p)
                        .flat_map(|n| job.nodes[n].wires.iter().map(move |w| (n, w)))
                        .filter(|(_, w)| wiring.carries(*w))
                        .map(|(n, w)| of(n, w))
                        .collect();
                    all.sort_unstable();
                    all.dedup();
                    all
                })
                .collect(),
            wiring,
            open: Vec::new(),
            works: vec![Vec::new(); plan.tasks.len()],
            proves: vec![Vec::new(); plan.tasks.len()],
            visits: visits(job),
            mounted_by_plan: vec![false; job.boards.len()],
        };
        site.open = plan.tasks.rows().iter().map(|t| site.lays_open(t)).collect();
        for event in &plan.events {
            if let Act::Make(by, joint) | Act::Break(by, joint) = &event.act
                && let Some(task) = by.task
                && job.joints[*joint].of.is_none_or(|(c, _)| plan.tasks[task].circuit == Some(c))
            {
                site.works[task.index()].push(*joint);
            }
            if let Act::Prove(by, proof) = &event.act
                && let Some(task) = by.task
            {
                site.proves[task.index()].push(proof.position);
            }
        }
        for task in plan.tasks.rows() {
            if let (TaskKind::Mount, Some(b)) = (task.kind, site.board_of(task)) {
                site.mounted_by_plan[b.index()] = true;
            }
        }
        site
    }

    pub fn task(&self, task: TaskId) -> &'a Task {
        &self.plan.tasks[task]
    }

    /// The board that a task is at.
    pub fn board_of(&self, task: &Task) -> Option<BoardId> {
        match task.position {
            Some(p) => self.job.positions[p].board,
            None => task.board,
        }
    }

    /// Whether a position stays shrouded to IP2X with the cover off.
    pub fn shrouded(&self, position: PositionId) -> bool {
        self.job.positions[position].board.is_some_and(|b| {
            let board = &self.job.boards[b];
            (position == board.incoming && board.incoming_shrouded)
                || (position == board.ways && board.ways_shrouded)
        })
    }

    pub fn both_shrouded(&self, board: BoardId) -> bool {
        self.job.boards[board].incoming_shrouded && self.job.boards[board].ways_shrouded
    }

    /// Dead work in the sense of the rules: fitting covers where all is shrouded is none.
    pub fn dead(&self, task: &Task) -> bool {
        task.kind.mode() == Mode::Dead
            && !(task.kind == TaskKind::FitCovers
                && self.board_of(task).is_some_and(|b| self.both_shrouded(b)))
    }

    fn lays_open(&self, task: &Task) -> Vec<PositionId> {
        let Some(position) = task.position.filter(|_| self.dead(task)) else { return Vec::new() };
        let mut open = vec![position];
        if let Some(b) = self.job.positions[position].board {
            let board = &self.job.boards[b];
            if position == board.incoming && board.ways != position {
                open.push(board.ways);
            } else if position == board.ways && !board.incoming_shrouded {
                open.push(board.incoming);
            }
        }
        open
    }

    /// Nodes bare at a board's two positions.
    pub fn board_nodes(&self, board: BoardId) -> Vec<NodeId> {
        let b = &self.job.boards[board];
        let mut all: Vec<NodeId> = [b.incoming, b.ways]
            .into_iter()
            .flat_map(|p| nodes_bare(&self.job.positions[p]))
            .collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// Nodes bare at a board that no other board has as well: a cable that two boards take
    /// in turn is not the board itself.
    pub fn board_own_nodes(&self, board: BoardId) -> Vec<NodeId> {
        let others: Vec<NodeId> = self
            .job
            .positions
            .rows()
            .iter()
            .filter(|p| p.board.is_some_and(|b| b != board))
            .flat_map(nodes_bare)
            .collect();
        self.board_nodes(board).into_iter().filter(|n| !others.contains(n)).collect()
    }

    /// The visit in which an instant lies.
    pub fn visit(&self, t: Minutes) -> Option<Period> {
        self.visits.iter().copied().find(|v| v.contains(t))
    }

    /// Tasks of a kind for a circuit.
    pub fn tasks_of(&self, circuit: CircuitId, kind: TaskKind) -> impl Iterator<Item = TaskId> {
        let plan = self.plan;
        plan.tasks
            .iter()
            .filter(move |(_, t)| t.kind == kind && t.circuit == Some(circuit))
            .map(|(id, _)| id)
    }
}

/// Nodes bare at a position: its own, and those fed from elsewhere.
pub(super) fn nodes_bare(p: &Position) -> impl Iterator<Item = NodeId> {
    p.bare.iter().chain(&p.other_fed).copied()
}

fn visits(job: &Job) -> Vec<Period> {
    Period::merged(job.windows.rows().iter().map(|w| w.period))
}

fn own(job: &Job, circuit: CircuitId) -> Own {
    let row = &job.circuits[circuit];
    let joints: Vec<JointId> = job
        .joints
        .iter()
        .filter(|(_, j)| j.of.is_some_and(|(c, _)| c == circuit))
        .map(|(id, _)| id)
        .collect();
    let nodes = row.nodes.clone();
    let wires = |keep: fn(Wire) -> bool| -> Vec<Conductor> {
        nodes
            .iter()
            .flat_map(|n| job.nodes[*n].wires.iter().map(move |w| (*n, w)))
            .filter(|(_, w)| keep(*w))
            .map(|(n, w)| of(n, w))
            .collect()
    };
    let group = job
        .neutral_groups
        .iter()
        .find(|g| g.contains(&circuit))
        .map_or_else(|| vec![circuit], Clone::clone);
    Own {
        lines: wires(Wire::is_line),
        neutral: wires(|w| w == Wire::N),
        earth: if stated(&row.no_earth) { Vec::new() } else { wires(|w| w == Wire::PE) },
        moves: joints.iter().any(|j| matches!(job.joints[*j].of, Some((_, Place::New)))),
        nodes,
        joints,
        group,
    }
}
