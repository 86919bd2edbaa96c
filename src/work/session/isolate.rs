//! Boards isolated and proved dead, with the holds before and after.

use super::Builder;
use crate::model::*;
use crate::work::piece::{Crew, Role};

impl Builder<'_> {
    /// Isolation and proof of each dead set. Returns, for each, what its dead work waits for.
    pub(super) fn isolate_and_prove(&mut self) -> Vec<Vec<usize>> {
        let all: Vec<BoardId> = self.s.boards().collect();
        let before = self.holds(HoldStage::BeforeIsolation, &all);
        let mut ready = Vec::new();
        let mut last: Option<usize> = None;
        for (k, set) in self.s.dead.iter().enumerate() {
            let mut wait = Vec::new();
            let Some(&board) = set.boards.first() else {
                ready.push(wait);
                continue;
            };
            let known = self.s.known.contains(&board);
            if !set.locks.is_empty() {
                let labour = self.labour(board);
                let effort = if known { &labour.isolate_again } else { &labour.isolate }.clone();
                let name = format!("isolate {}", self.board_name(board));
                let i =
                    self.push(&name, Role::Isolate(k), TaskKind::Isolate, effort, Crew::WithLead);
                self.pieces[i].board = Some(board);
                self.pieces[i].area = self.area_of_board(board);
                for &hold in &before {
                    self.after(i, hold);
                }
                if !set.apart {
                    if let Some(earlier) = last {
                        self.after(i, earlier);
                    }
                    last = Some(i);
                }
                wait.push(i);
            }
            let known = set.boards.iter().all(|b| self.s.known.contains(b));
            if !set.prove.is_empty() {
                let p = self.prove(
                    &set.prove,
                    known,
                    Crew::Everybody,
                    self.board_name(board).to_owned(),
                );
                let discharge = set.prove.iter().map(|p| self.m.job.positions[*p].discharge).max();
                if let Some(i) = wait.last().copied() {
                    self.pieces[p].after.push((i, discharge.unwrap_or_default()));
                }
                wait.push(p);
            }
            ready.push(wait);
        }
        // Where one set's locks may secure another's place, all isolation comes before the first proof.
        if let Some(last) = last {
            for p in 0..self.pieces.len() {
                // The last device opened may be a securing device of any of them.
                if let Role::Prove(at) = &self.pieces[p].role {
                    let discharge = at.iter().map(|p| self.m.job.positions[*p].discharge).max();
                    let wait = (last, discharge.unwrap_or_default());
                    self.pieces[p].after.retain(|(before, _)| *before != last);
                    self.pieces[p].after.push(wait);
                }
            }
        }
        let boards = self.s.dead.iter().map(|set| set.boards.clone()).collect::<Vec<_>>();
        for (k, boards) in boards.iter().enumerate() {
            if ready[k].is_empty() {
                continue;
            }
            let holds = self.holds(HoldStage::AfterProof, boards);
            for &hold in &holds {
                for &w in &ready[k].clone() {
                    self.after(hold, w);
                }
            }
            ready[k].extend(holds);
        }
        // A hold without a board is made for the first set, but holds up all of them.
        let shared: Vec<usize> = ready
            .iter()
            .flatten()
            .copied()
            .filter(|p| match self.pieces[*p].role {
                Role::Hold(h) => self.m.labour.holds[h].board.is_none(),
                _ => false,
            })
            .collect();
        for (k, wait) in ready.iter_mut().enumerate() {
            if !self.s.dead[k].locks.is_empty() || !wait.is_empty() {
                wait.extend(
                    shared.iter().filter(|p| !wait.contains(p)).copied().collect::<Vec<_>>(),
                );
            }
        }
        ready
    }
}
