//! Boards coming back: covers, supplies, live tests, and what is left to do then.

use super::{Builder, exposed};
use crate::model::*;
use crate::work::piece::{Crew, Piece, Role};

impl Builder<'_> {
    /// Covers that have to be on first, then locks off and supplies back.
    pub(super) fn energise(&mut self, dead: usize) {
        let mut last = vec![None; self.s.dead.len()];
        for &board in &self.s.alive {
            let Some(k) = self.s.dead_of(board) else { continue };
            let set = &self.s.dead[k].boards;
            let works: Vec<usize> = (0..dead).filter(|p| self.opens_any(*p, set)).collect();
            let shrouded = self.shrouded(board);
            let name = self.board_name(board).to_owned();
            let mut before = works.clone();
            if !shrouded {
                let final_ones = self.s.cover.contains(&board);
                let labour = self.labour(board);
                let effort =
                    if final_ones { &labour.fit_covers } else { &labour.covers_again }.clone();
                let c = self.covers(board, effort);
                for &w in &works {
                    self.after(c, w);
                }
                before.push(c);
            }
            let boards = set.clone();
            let holds = self.holds(HoldStage::BeforeLocksOff, &boards);
            for &hold in &holds {
                for &w in &before {
                    self.after(hold, w);
                }
            }
            before.extend(holds);
            let labour = self.labour(board);
            let first = self.s.test.contains(&board);
            let effort = if first { &labour.energise } else { &labour.energise_again }.clone();
            let name = format!("energise {name}");
            let crew = self.with_keepers(effort.people);
            let i = self.push(&name, Role::Energise(board), TaskKind::Energise, effort, crew);
            self.pieces[i].board = Some(board);
            self.pieces[i].area = self.area_of_board(board);
            for b in before {
                self.after(i, b);
            }
            if let Some(earlier) = last[k] {
                self.after(i, earlier);
            }
            last[k] = Some(i);
        }
        // What feeds from a set that is energised later waits for nothing; but every cover of a
        // set is on before its first supply.
        for k in 0..self.s.dead.len() {
            let of_set = |p: &Piece| p.board.is_some_and(|b| self.s.dead[k].boards.contains(&b));
            let covers: Vec<usize> = (dead..self.pieces.len())
                .filter(|p| self.pieces[*p].kind == TaskKind::FitCovers && of_set(&self.pieces[*p]))
                .collect();
            let supplies: Vec<usize> = (dead..self.pieces.len())
                .filter(|p| self.pieces[*p].kind == TaskKind::Energise && of_set(&self.pieces[*p]))
                .collect();
            for &e in &supplies {
                for &c in &covers {
                    self.after(e, c);
                }
            }
        }
    }

    /// The lead, whoever has a lock of their own on a temporary supply that nothing rides on any
    /// more, and so many others: only its owner takes a lock off.
    fn with_keepers(&self, people: usize) -> Crew {
        let mut all: Vec<PersonId> = vec![self.s.people[0]];
        all.extend(self.supplies(|r| r.comes_off).into_iter().map(|s| self.keeper(s)));
        if all.len() == 1 {
            return Crew::WithLead;
        }
        let may = |p: &PersonId| self.m.job.people[*p].may.contains(&TaskKind::Energise);
        let others = self.s.people.iter().copied().filter(may);
        all.extend(others.take(people));
        let mut seen = Vec::new();
        all.retain(|p| {
            !seen.contains(p) && {
                seen.push(*p);
                true
            }
        });
        let keepers = 1 + self.supplies(|r| r.comes_off).len();
        all.truncate(people.max(keepers.min(all.len())));
        Crew::These(all)
    }

    pub(super) fn live_work(&mut self) {
        for c in self.s.tested_live().collect::<Vec<_>>() {
            let Some(board) = self.m.routes[c.index()].to else { continue };
            let effort = self.varied(c, |l| &l.live_test);
            let name = format!("live test {}", self.circuit_name(c));
            let i = self.push(&name, Role::LiveTest(c), TaskKind::LiveTest, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].instrument = Some(TESTER);
            let before: Vec<usize> = (0..i)
                .filter(|p| match self.pieces[*p].role {
                    Role::Energise(b) => b == board,
                    Role::DeadTest(other) => other == c || self.tied(c, other),
                    _ => false,
                })
                .collect();
            for p in before {
                self.after(i, p);
            }
        }
        let tests = self.function_tests();
        self.covers_for_good(&tests);
        self.strip_late();
        self.locks_off();
        self.users_confirm();
    }

    fn function_tests(&mut self) -> Vec<usize> {
        let mut made = Vec::new();
        for &g in &self.s.function_tests {
            let group = &self.m.job.groups[g];
            let name = format!("function test {}", self.m.job.groups.name(g));
            let effort = self.m.labour.groups[g.index()].function_test.clone();
            let i =
                self.push(&name, Role::FunctionTest(g), TaskKind::FunctionTest, effort, Crew::Free);
            self.pieces[i].area = group.areas.first().copied();
            let ways = |c: CircuitId| &self.m.routes[c.index()].ways;
            let route = &self.m.routes[group.feed.index()];
            self.pieces[i].board =
                if self.s.tested_live().any(|c| c == group.feed) { route.to } else { None };
            let before: Vec<usize> = (0..i)
                .filter(|p| match self.pieces[*p].role {
                    Role::LiveTest(c) => {
                        c == group.watches || ways(c).iter().any(|w| ways(group.feed).contains(w))
                    }
                    Role::Energise(b) => Some(b) == route.to || Some(b) == route.from,
                    _ => false,
                })
                .collect();
            for p in before {
                self.after(i, p);
            }
            made.push(i);
        }
        made
    }

    /// A shrouded board gets its covers when nothing there waits for them any more.
    fn covers_for_good(&mut self, tests: &[usize]) {
        for &board in &self.s.cover {
            if !self.shrouded(board) {
                continue;
            }
            let effort = self.labour(board).fit_covers.clone();
            let i = self.covers(board, effort);
            let before: Vec<usize> = (0..i)
                .filter(|p| match self.pieces[*p].role {
                    Role::LiveTest(c) => self.m.routes[c.index()].to == Some(board),
                    Role::Energise(b) => b == board,
                    _ => self.opens_any(*p, &[board]),
                })
                .collect();
            for p in before {
                self.after(i, p);
            }
            for &t in tests {
                self.pieces[i].apart.push(t);
            }
        }
    }

    fn strip_late(&mut self) {
        for &board in &self.s.strip_late {
            let at: Vec<PositionId> = exposed(self.m.job, self.m.job.boards[board].ways)
                .into_iter()
                .filter(|p| !self.m.job.positions[*p].points.is_empty())
                .collect();
            let what = format!("{} again", self.board_name(board));
            let p = self.prove(&at, true, Crew::Everybody, what);
            let live: Vec<usize> = (0..p)
                .filter(|q| {
                    matches!(
                        self.pieces[*q].kind,
                        TaskKind::LiveTest | TaskKind::FunctionTest | TaskKind::Energise
                    )
                })
                .collect();
            for q in live {
                self.after(p, q);
            }
            let i = self.strip(board);
            self.after(i, p);
        }
    }

    /// The locks of a set in which nothing is energised.
    fn locks_off(&mut self) {
        for (k, set) in self.s.dead.iter().enumerate() {
            let Some(&board) = set.boards.first() else { continue };
            if set.locks.is_empty() || set.boards.iter().any(|b| self.s.alive.contains(b)) {
                continue;
            }
            let n = self.pieces.len();
            let works: Vec<usize> = (0..n).filter(|p| self.opens_any(*p, &set.boards)).collect();
            let holds = self.holds(HoldStage::BeforeLocksOff, &set.boards);
            for &hold in &holds {
                for &w in &works {
                    self.after(hold, w);
                }
            }
            let effort = self.labour(board).energise_again.clone();
            let name = format!("take the locks off {}", self.board_name(board));
            let i = self.push(&name, Role::LocksOff(k), TaskKind::Isolate, effort, Crew::WithLead);
            self.pieces[i].board = Some(board);
            self.pieces[i].area = self.area_of_board(board);
            for p in works.into_iter().chain(holds) {
                self.after(i, p);
            }
        }
    }

    fn users_confirm(&mut self) {
        let boards: Vec<BoardId> = self.s.boards().collect();
        let n = self.pieces.len();
        for hold in self.holds(HoldStage::AfterEnergising, &boards) {
            for p in 0..n {
                if matches!(self.pieces[p].kind, TaskKind::Energise | TaskKind::LiveTest) {
                    self.after(hold, p);
                }
            }
        }
    }
}
