//! The tasks of one session, with what each waits for and what must not run beside it.

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

    /// Isolation and proof of each dead set. Returns, for each, what its dead work waits for.
    fn isolate_and_prove(&mut self) -> Vec<Vec<usize>> {
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

    fn dead_work(&mut self, ready: &[Vec<usize>]) {
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

    /// Whether a hook-up box proved before the isolation is still proved when the first circuit
    /// is put on, so that no load is out for the time that its proof takes.
    fn proof_lasts(&self) -> bool {
        let first = |p: &&Piece| {
            matches!(
                p.role,
                Role::Isolate(_) | Role::Prove(_) | Role::Hold(_) | Role::Disconnect(_)
            )
        };
        let before: i64 = self.pieces.iter().filter(first).map(|p| p.effort.planned.0).sum();
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

    fn strip(&mut self, board: BoardId) -> usize {
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

    fn same_neutral(&self, a: CircuitId, b: CircuitId) -> bool {
        self.m.job.neutral_groups.iter().any(|set| set.contains(&a) && set.contains(&b))
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

    /// Whether a test of one puts its voltage on the other: a shared neutral, or one way.
    fn tied(&self, a: CircuitId, b: CircuitId) -> bool {
        let (x, y) = (&self.m.routes[a.index()], &self.m.routes[b.index()]);
        self.same_neutral(a, b) || x.ways.iter().any(|w| y.ways.contains(w))
    }

    /// Covers that have to be on first, then locks off and supplies back.
    fn energise(&mut self, dead: usize) {
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

    fn live_work(&mut self) {
        for &c in &self.s.on {
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
            self.pieces[i].board = if self.s.on.contains(&group.feed) { route.to } else { None };
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
