//! The tasks of one session, with what each waits for and what must not run beside it.

mod back;
mod dead;
mod isolate;

use super::piece::{Crew, Piece, Role};
use super::projects::Route;
use super::structure::{Opening, Session};
use crate::model::*;
use crate::units::Minutes;

/// What the tasks of a session are made from.
#[derive(Clone, Copy)]
pub struct Material<'a> {
    /// The job.
    pub job: &'a Job,
    /// Its task templates.
    pub labour: &'a Labour,
    /// The route of each circuit.
    pub routes: &'a [Route],
    /// Whether each circuit is prepared when its outage begins.
    pub prepared: &'a [bool],
}

/// All tasks of `session`. `tag` goes before their names, so that no two sessions share one.
pub fn pieces(m: Material, session: &Session, tag: &str) -> Vec<Piece> {
    let mut b = Builder { m, s: session, tag, pieces: Vec::new() };
    b.identify();
    let ready = b.isolate_and_prove();
    b.dead_work(&ready);
    let dead = b.pieces.len();
    b.energise(dead);
    b.live_work();
    b.keep_apart();
    b.pieces
}

/// Positions that work at a board's ways, or at its incoming terminals, lays open.
pub fn exposed(job: &Job, position: PositionId) -> Vec<PositionId> {
    let Some(board) = job.positions[position].board.map(|b| &job.boards[b]) else {
        return vec![position];
    };
    if position == board.ways && board.incoming_shrouded {
        vec![position]
    } else if position == board.ways || position == board.incoming {
        vec![board.incoming, board.ways]
    } else {
        vec![position]
    }
}

/// The sum of several efforts done one after the other by the most people that one of them needs.
pub fn sum<'a>(efforts: impl IntoIterator<Item = &'a Effort>) -> Effort {
    let none = Effort { duration: [Minutes::ZERO; 3], planned: Minutes::ZERO, people: 1 };
    efforts.into_iter().fold(none, |mut total, e| {
        for (t, d) in total.duration.iter_mut().zip(e.duration) {
            *t += d;
        }
        total.planned += e.planned;
        total.people = total.people.max(e.people);
        total
    })
}

struct Builder<'a> {
    m: Material<'a>,
    s: &'a Session,
    tag: &'a str,
    pieces: Vec<Piece>,
}

impl Builder<'_> {
    fn push(
        &mut self,
        name: &str,
        role: Role,
        kind: TaskKind,
        effort: Effort,
        crew: Crew,
    ) -> usize {
        let mut unique = format!("{}{name}", self.tag);
        let mut nth = 2;
        while self.pieces.iter().any(|p| p.name == unique) {
            unique = format!("{}{name}, {nth}", self.tag);
            nth += 1;
        }
        self.pieces.push(Piece {
            name: unique,
            role,
            kind,
            effort,
            crew,
            position: None,
            area: None,
            board: None,
            instrument: None,
            delivery: None,
            release: self.s.period.from,
            after: Vec::new(),
            apart: Vec::new(),
        });
        self.pieces.len() - 1
    }

    /// Says that `piece` starts when `before` is over.
    fn after(&mut self, piece: usize, before: usize) {
        if piece != before && !self.pieces[piece].after.iter().any(|(p, _)| *p == before) {
            self.pieces[piece].after.push((before, Minutes::ZERO));
        }
    }

    fn find(&self, role: &Role) -> Option<usize> {
        self.pieces.iter().position(|p| p.role == *role)
    }

    fn at(&mut self, piece: usize, position: PositionId) {
        self.pieces[piece].position = Some(position);
        self.pieces[piece].area = self.m.labour.positions[position.index()].area;
    }

    fn area_of_board(&self, board: BoardId) -> Option<AreaId> {
        self.m.labour.positions[self.m.job.boards[board].ways.index()].area
    }

    fn board_name(&self, board: BoardId) -> &str {
        self.m.job.boards.name(board)
    }

    fn circuit_name(&self, circuit: CircuitId) -> &str {
        self.m.job.circuits.name(circuit)
    }

    fn labour(&self, board: BoardId) -> &BoardLabour {
        &self.m.labour.boards[board.index()]
    }

    fn varied(&self, circuit: CircuitId, of: impl Fn(&CircuitLabour) -> &Varied) -> Effort {
        let varied = of(&self.m.labour.circuits[circuit.index()]);
        let ready = self.m.prepared[circuit.index()];
        if ready { varied.prepared.clone() } else { varied.fresh.clone() }
    }

    fn identify(&mut self) {
        for &c in &self.s.identify {
            let effort = self.m.labour.circuits[c.index()].identify.clone();
            let name = format!("identify {}", self.circuit_name(c));
            let i = self.push(&name, Role::Identify(c), TaskKind::Identify, effort, Crew::Free);
            if let Some(board) = self.m.routes[c.index()].from {
                self.pieces[i].area = self.area_of_board(board);
            }
        }
    }

    fn holds(&mut self, stage: HoldStage, boards: &[BoardId]) -> Vec<usize> {
        let mut made = Vec::new();
        if self.s.opening == Opening::Ahead {
            return made;
        }
        for (i, hold) in self.m.labour.holds.iter().enumerate() {
            let here = hold.board.is_none_or(|b| boards.contains(&b));
            let due = !hold.once || self.s.opening == Opening::FirstOfAll;
            let there = self.find(&Role::Hold(i)).is_some();
            if hold.stage == stage && here && due && !there {
                let effort = Effort { people: 0, ..hold.effort.clone() };
                let piece =
                    self.push(&hold.name, Role::Hold(i), TaskKind::Hold, effort, Crew::Nobody);
                made.push(piece);
            }
        }
        made
    }

    fn prove(&mut self, at: &[PositionId], known: bool, crew: Crew, what: String) -> usize {
        let efforts = at.iter().map(|p| {
            let labour = &self.m.labour.positions[p.index()];
            if known { &labour.prove_again } else { &labour.prove }
        });
        let effort = sum(efforts);
        let name = format!("prove {what} dead");
        let i = self.push(&name, Role::Prove(at.to_vec()), TaskKind::ProveDead, effort, crew);
        self.pieces[i].instrument = Some(DETECTOR);
        self.pieces[i].area = at.first().and_then(|p| self.m.labour.positions[p.index()].area);
        i
    }

    fn wait_for(&mut self, piece: usize, ready: &[Vec<usize>], board: BoardId) {
        if let Some(k) = self.s.dead_of(board) {
            for &w in &ready[k].clone() {
                self.after(piece, w);
            }
        }
    }

    /// The one who does all the work at a temporary supply, and keeps the key of its lock.
    fn keeper(&self, supply: SupplyId) -> PersonId {
        let nth = self.m.job.supplies.ids().position(|s| s == supply).unwrap_or(0);
        self.s.people[(nth + 1) % self.s.people.len()]
    }

    fn supplies(&self, wanted: impl Fn(&super::Ride) -> bool) -> Vec<SupplyId> {
        let mut all: Vec<SupplyId> =
            self.s.rides.iter().filter(|r| wanted(r)).map(|r| r.supply).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    fn same_neutral(&self, a: CircuitId, b: CircuitId) -> bool {
        self.m.job.neutral_groups.iter().any(|set| set.contains(&a) && set.contains(&b))
    }

    /// Whether a test of one puts its voltage on the other: a shared neutral, or one way.
    fn tied(&self, a: CircuitId, b: CircuitId) -> bool {
        let (x, y) = (&self.m.routes[a.index()], &self.m.routes[b.index()]);
        self.same_neutral(a, b) || x.ways.iter().any(|w| y.ways.contains(w))
    }

    fn covers(&mut self, board: BoardId, effort: Effort) -> usize {
        let name = format!("covers on {}", self.board_name(board));
        let i = self.push(&name, Role::Covers(board), TaskKind::FitCovers, effort, Crew::Free);
        self.at(i, self.m.job.boards[board].ways);
        self.pieces[i].board = Some(board);
        i
    }

    fn shrouded(&self, board: BoardId) -> bool {
        let b = &self.m.job.boards[board];
        b.incoming_shrouded && b.ways_shrouded
    }

    /// Whether the piece lays a position of one of these boards open.
    fn opens_any(&self, piece: usize, boards: &[BoardId]) -> bool {
        let piece = &self.pieces[piece];
        let at = piece.position.and_then(|p| self.m.job.positions[p].board);
        let dead = matches!(piece.kind.mode(), Mode::Dead) || piece.kind == TaskKind::ProveDead;
        let proves = match &piece.role {
            Role::Prove(at) => at
                .iter()
                .filter_map(|p| self.m.job.positions[*p].board)
                .any(|b| boards.contains(&b)),
            _ => false,
        };
        dead && (at.is_some_and(|b| boards.contains(&b)) || proves)
    }

    /// Dead work that would be in reach of a test's voltage or of a board being switched.
    fn keep_apart(&mut self) {
        let n = self.pieces.len();
        for a in 0..n {
            for b in 0..n {
                if a != b && self.clash(a, b) && !self.pieces[a].apart.contains(&b) {
                    self.pieces[a].apart.push(b);
                }
            }
        }
    }

    /// Whether `b` is dead work that must not run while `a` runs (W5).
    fn clash(&self, a: usize, b: usize) -> bool {
        let (first, second) = (&self.pieces[a], &self.pieces[b]);
        if !second.kind.opens_board() && second.kind != TaskKind::FitCovers {
            return false;
        }
        match first.role {
            Role::DeadTest(c) | Role::HookUp(c, _) => {
                second.role.circuit().is_some_and(|other| other == c || self.tied(c, other))
            }
            Role::TestBoard(board) => self.opens_any(b, &[board]),
            Role::Isolate(_) | Role::Energise(_) | Role::LiveTest(_) | Role::FunctionTest(_) => {
                let covers = second.kind == TaskKind::FitCovers;
                let board = match first.role {
                    Role::LiveTest(c) => self.m.routes[c.index()].to,
                    _ => first.board,
                };
                board.is_some_and(|board| {
                    !(covers && self.shrouded(board)) && self.opens_any(b, &[board])
                })
            }
            _ => false,
        }
    }
}
