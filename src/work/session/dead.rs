//! Dead work: circuits off, on temporary supplies and off them, boards out and in, circuits on,
//! dead tests.

use super::Builder;
use crate::model::*;
use crate::work::piece::{Crew, Piece, Role};

impl Builder<'_> {
    pub(super) fn dead_work(&mut self, ready: &[Vec<usize>]) {
        self.disconnect(ready);
        self.put_on_supplies();
        self.strip_in_outage(ready);
        self.mount(ready);
        let tails = self.tails(ready);
        self.surge_and_board_test(ready, &tails);
        self.take_off_supplies();
        self.connect(ready);
        self.dead_tests();
    }

    fn disconnect(&mut self, ready: &[Vec<usize>]) {
        let riders = |c: &CircuitId| self.s.ride(*c).is_some_and(|r| r.goes_on);
        let mut order: Vec<CircuitId> = self.s.off.iter().copied().filter(riders).collect();
        order.extend(self.s.off.iter().copied().filter(|c| !riders(c)));
        for c in order {
            let Some(board) = self.m.routes[c.index()].from else { continue };
            let effort = self.varied(c, |l| &l.disconnect);
            let name = format!("disconnect {}", self.circuit_name(c));
            let i = self.push(&name, Role::Disconnect(c), TaskKind::Disconnect, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.wait_for(i, ready, board);
        }
    }

    /// Whether a hook-up box proved before the isolation is still proved when the first circuit
    /// is put on, so that no load is out for the time that its proof takes. Riders come off first.
    fn proof_lasts(&self) -> bool {
        let minutes = |p: &Piece| p.effort.planned.0;
        let first = self
            .pieces
            .iter()
            .filter(|p| matches!(p.role, Role::Isolate(_) | Role::Prove(_) | Role::Hold(_)));
        let rides = |c: CircuitId| self.s.ride(c).is_some_and(|r| r.goes_on);
        let rider =
            self.pieces.iter().filter(|p| matches!(p.role, Role::Disconnect(c) if rides(c)));
        let before = first.map(minutes).sum::<i64>() + rider.map(minutes).max().unwrap_or(0);
        before < self.m.job.policy.proof_life.0
    }

    fn put_on_supplies(&mut self) {
        let early = self.proof_lasts();
        for supply in self.supplies(|r| r.goes_on) {
            let labour = &self.m.labour.supplies[supply.index()];
            let keeper = Crew::These(vec![self.keeper(supply)]);
            let name = self.m.job.supplies.name(supply).to_owned();
            let prove = self.prove(&[labour.position], false, keeper.clone(), name.clone());
            let on = self.push(
                &format!("switch {name} on"),
                Role::SupplyOn(supply),
                TaskKind::Energise,
                Effort { people: 1, ..labour.energise.clone() },
                keeper.clone(),
            );
            self.pieces[on].area = self.m.labour.positions[labour.position.index()].area;
            let isolations =
                (0..prove).filter(|p| matches!(self.pieces[*p].role, Role::Isolate(_)));
            for isolation in isolations.collect::<Vec<_>>() {
                if early {
                    self.after(isolation, prove);
                }
            }
            let riders: Vec<CircuitId> = (self.s.rides.iter())
                .filter(|r| r.goes_on && r.supply == supply)
                .map(|r| r.circuit)
                .collect();
            for c in riders {
                let effort = self.m.labour.circuits[c.index()].hook_up.clone();
                let i = self.push(
                    &format!("put {} on {name}", self.circuit_name(c)),
                    Role::HookUp(c, supply),
                    TaskKind::HookUp,
                    Effort { people: 1, ..effort },
                    keeper.clone(),
                );
                self.at(i, labour.position);
                self.pieces[i].instrument = Some(TESTER);
                self.after(i, prove);
                self.after(on, i);
                if let Some(d) = self.find(&Role::Disconnect(c)) {
                    self.after(i, d);
                    if !early {
                        self.after(prove, d);
                    }
                }
            }
        }
    }

    fn strip_in_outage(&mut self, ready: &[Vec<usize>]) {
        for &board in &self.s.strip_dead {
            let i = self.strip(board);
            self.wait_for(i, ready, board);
        }
    }

    pub(super) fn strip(&mut self, board: BoardId) -> usize {
        let name = format!("strip out {}", self.board_name(board));
        let effort = self.labour(board).strip_out.clone();
        let i = self.push(&name, Role::StripOut(board), TaskKind::StripOut, effort, Crew::Free);
        self.at(i, self.m.job.boards[board].ways);
        self.pieces[i].board = Some(board);
        for p in 0..self.pieces.len() {
            let off = self.pieces[p]
                .role
                .circuit()
                .filter(|_| self.pieces[p].kind == TaskKind::Disconnect);
            if off.is_some_and(|c| self.m.routes[c.index()].from == Some(board)) {
                self.after(i, p);
            }
        }
        i
    }

    fn mount(&mut self, ready: &[Vec<usize>]) {
        for &board in &self.s.mount {
            let labour = self.labour(board);
            let (effort, delivery) = (labour.mount.clone(), labour.delivery);
            let name = format!("mount {}", self.board_name(board));
            let i = self.push(&name, Role::Mount(board), TaskKind::Mount, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].board = Some(board);
            self.pieces[i].delivery = delivery;
            self.wait_for(i, ready, board);
            let old = self.m.job.boards[board].replaces;
            let strip = old.and_then(|old| self.find(&Role::StripOut(old)));
            let set = self.s.dead_of(board).map(|k| self.s.dead[k].prove_after_strip.clone());
            match (strip, set) {
                (Some(strip), Some(at)) if !at.is_empty() => {
                    let what = self.board_name(board).to_owned();
                    let p = self.prove(&at, false, Crew::Everybody, what);
                    self.after(p, strip);
                    self.after(i, p);
                }
                (Some(strip), _) => self.after(i, strip),
                _ => {}
            }
        }
        for (n, bank) in self.m.labour.banks.iter().enumerate() {
            if let Some(mount) = self.find(&Role::Mount(bank.board)) {
                let name = format!("dress {}, bank {}", self.board_name(bank.board), n + 1);
                let effort = bank.effort.clone();
                let i = self.push(&name, Role::Dress(n), TaskKind::Dress, effort, Crew::Free);
                self.at(i, self.m.job.boards[bank.board].ways);
                self.pieces[i].board = Some(bank.board);
                self.after(i, mount);
            }
        }
    }

    fn tails(&mut self, ready: &[Vec<usize>]) -> Vec<usize> {
        let mut made: Vec<usize> = Vec::new();
        for &t in &self.s.tails {
            let tails = &self.m.labour.tails[t];
            let kind = TaskKind::ConnectTails;
            let i = self.push(&tails.name, Role::Tails(t), kind, tails.effort.clone(), Crew::Free);
            self.at(i, tails.position);
            self.pieces[i].board = Some(tails.board);
            let open = self.m.job.positions[tails.position].board;
            self.wait_for(i, ready, open.unwrap_or(tails.board));
            if let Some(mount) = self.find(&Role::Mount(tails.board)) {
                self.after(i, mount);
            }
            if let Some(&last) = made.last() {
                self.after(i, last);
            }
            if let Some(strip) = open.and_then(|b| self.find(&Role::StripOut(b))) {
                self.after(strip, i);
            }
            made.push(i);
        }
        made
    }

    fn surge_and_board_test(&mut self, ready: &[Vec<usize>], tails: &[usize]) {
        for &board in &self.s.surge {
            let effort = self.labour(board).fit_surge.clone();
            let name = format!("fit surge protection in {}", self.board_name(board));
            let i = self.push(&name, Role::FitSurge(board), TaskKind::FitSurge, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].board = Some(board);
            self.wait_for(i, ready, board);
            if let Some(mount) = self.find(&Role::Mount(board)) {
                self.after(i, mount);
            }
        }
        for &board in &self.s.test {
            let effort = self.labour(board).test_board.clone();
            let name = format!("test {}", self.board_name(board));
            let i =
                self.push(&name, Role::TestBoard(board), TaskKind::TestBoard, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].board = Some(board);
            self.pieces[i].instrument = Some(TESTER);
            self.wait_for(i, ready, board);
            for before in [Role::Mount(board), Role::FitSurge(board)] {
                if let Some(p) = self.find(&before) {
                    self.after(i, p);
                }
            }
            for &t in tails {
                self.after(i, t);
            }
        }
    }

    fn take_off_supplies(&mut self) {
        for supply in self.supplies(|r| r.comes_off) {
            let labour = &self.m.labour.supplies[supply.index()];
            let keeper = Crew::These(vec![self.keeper(supply)]);
            let name = self.m.job.supplies.name(supply).to_owned();
            let off = self.push(
                &format!("switch {name} off"),
                Role::SupplyOff(supply),
                TaskKind::Isolate,
                Effort { people: 1, ..labour.isolate.clone() },
                keeper.clone(),
            );
            self.pieces[off].area = self.m.labour.positions[labour.position.index()].area;
            if let Some(on) = self.find(&Role::SupplyOn(supply)) {
                self.after(off, on);
            }
            let prove = self.prove(&[labour.position], true, keeper.clone(), name.clone());
            let discharge = self.m.job.positions[labour.position].discharge;
            self.pieces[prove].after.push((off, discharge));
            let riders: Vec<CircuitId> = (self.s.rides.iter())
                .filter(|r| r.comes_off && r.supply == supply)
                .map(|r| r.circuit)
                .collect();
            for c in riders {
                let effort = self.m.labour.circuits[c.index()].unhook.clone();
                let i = self.push(
                    &format!("take {} off {name}", self.circuit_name(c)),
                    Role::Unhook(c, supply),
                    TaskKind::Unhook,
                    Effort { people: 1, ..effort },
                    keeper.clone(),
                );
                self.at(i, labour.position);
                self.after(i, prove);
            }
        }
    }

    fn connect(&mut self, ready: &[Vec<usize>]) {
        let rides = |c: &CircuitId| self.s.ride(*c).is_some_and(|r| r.comes_off);
        let mut order: Vec<CircuitId> = self.s.on.iter().copied().filter(|c| !rides(c)).collect();
        order.extend(self.s.on.iter().copied().filter(rides));
        for &c in &order {
            let Some(board) = self.m.routes[c.index()].to else { continue };
            let effort = self.varied(c, |l| &l.connect);
            let name = format!("connect {}", self.circuit_name(c));
            let i = self.push(&name, Role::Connect(c), TaskKind::Connect, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].delivery = self.m.labour.circuits[c.index()].delivery;
            self.wait_for(i, ready, board);
            if let Some(mount) = self.find(&Role::Mount(board)) {
                self.after(i, mount);
            }
            for p in 0..i {
                // Whoever works on one of a neutral group has the whole group off its old ways.
                let first = match self.pieces[p].role {
                    Role::Disconnect(other) => other == c || self.same_neutral(c, other),
                    Role::Unhook(other, _) => other == c || self.same_neutral(c, other),
                    Role::Dress(bank) => self.m.labour.banks[bank].board == board,
                    _ => false,
                };
                if first {
                    self.after(i, p);
                }
            }
        }
        self.dressing_order();
        self.rider_gate(&order);
    }

    /// Connections of one bank follow the dressing order, where it is not freed.
    fn dressing_order(&mut self) {
        for bank in &self.m.labour.banks {
            let mut ranked: Vec<(u32, usize)> = Vec::new();
            for (i, piece) in self.pieces.iter().enumerate() {
                let Role::Connect(c) = piece.role else { continue };
                let in_bank = self.m.routes[c.index()].ways.iter().any(|w| bank.ways.contains(w));
                if let Some(rank) =
                    self.m.labour.circuits[c.index()].dressing_rank.filter(|_| in_bank)
                {
                    ranked.push((rank, i));
                }
            }
            ranked.sort_unstable();
            for pair in ranked.windows(2).filter(|pair| pair[0].0 < pair[1].0) {
                self.after(pair[1].1, pair[0].1);
            }
        }
    }

    /// Riders stay on their supply until so many of the other connections are done.
    fn rider_gate(&mut self, order: &[CircuitId]) {
        let staying =
            order.iter().filter(|c| !self.s.ride(**c).is_some_and(|r| r.comes_off)).count();
        let Some(gate) = self.s.gate.min(staying).checked_sub(1) else { return };
        let Some(gate) = self.find(&Role::Connect(order[gate])) else { return };
        for p in 0..self.pieces.len() {
            if matches!(self.pieces[p].role, Role::SupplyOff(_)) {
                self.after(p, gate);
            }
        }
    }

    fn dead_tests(&mut self) {
        for &c in &self.s.on {
            let Some(board) = self.m.routes[c.index()].to else { continue };
            let effort = self.varied(c, |l| &l.dead_test);
            let name = format!("dead test {}", self.circuit_name(c));
            let i = self.push(&name, Role::DeadTest(c), TaskKind::DeadTest, effort, Crew::Free);
            self.at(i, self.m.job.boards[board].ways);
            self.pieces[i].instrument = Some(TESTER);
            for p in 0..i {
                if let Role::Connect(other) = self.pieces[p].role
                    && (other == c || self.tied(c, other))
                {
                    self.after(i, p);
                }
            }
        }
    }
}
