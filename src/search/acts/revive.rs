//! Making live again: own locks off the box, locks off the devices, devices closed.

use super::*;

impl Writer<'_> {
    pub(super) fn energise(&mut self, turn: &Turn, board: BoardId) {
        let session = &turn.timed.session;
        let Some(k) = session.dead_of(board) else { return };
        let mut acts = self.fit_before(turn, board);
        self.unlock_set(turn, k, &mut acts);
        self.unlock_supplies(turn, &mut acts);
        let last = session.alive.iter().rev().find(|b| session.dead[k].boards.contains(b));
        let mut close = switching::feed_path(self.g, &self.out.state, board, &self.living(session));
        if last == Some(&board) {
            let again = self.opened.remove(&k).unwrap_or_default();
            let of_gone = |d: &DeviceId| {
                self.g.job.devices[*d].enclosure.is_some_and(|b| self.gone.contains(&b))
            };
            let all: Vec<DeviceId> = close.iter().chain(&again).copied().collect();
            close.extend(again.into_iter().filter(|d| {
                !of_gone(d) && switching::serves_something(self.g, &self.out.state, *d, &all)
            }));
        }
        close.sort_unstable();
        close.dedup();
        close.retain(|d| !self.out.state.locked.has(*d));
        for device in switching::closing_order(self.g, &self.out.state, &close) {
            acts.push(Act::Close(self.hand(device, turn.lead()), device));
            self.out.state.closed.insert(device);
        }
        self.spread(turn, acts);
    }

    pub(super) fn locks_off(&mut self, turn: &Turn, k: usize) {
        let mut acts = Vec::new();
        self.unlock_set(turn, k, &mut acts);
        self.unlock_supplies(turn, &mut acts);
        // What was opened for a board that is gone, but serves others, comes back.
        let again = self.opened.remove(&k).unwrap_or_default();
        let job = self.g.job;
        let all = again.clone();
        let close: Vec<DeviceId> = again
            .into_iter()
            .filter(|d| !job.devices[*d].enclosure.is_some_and(|b| self.gone.contains(&b)))
            .filter(|d| switching::serves_something(self.g, &self.out.state, *d, &all))
            .filter(|d| !self.out.state.locked.has(*d))
            .collect();
        for device in switching::closing_order(self.g, &self.out.state, &close) {
            acts.push(Act::Close(self.hand(device, turn.lead()), device));
            self.out.state.closed.insert(device);
        }
        self.spread(turn, acts);
    }

    fn spread(&mut self, turn: &Turn, acts: Vec<Act>) {
        for (at, act) in turn.spread_from_start(acts.len()).into_iter().zip(acts) {
            let slot = if at == turn.from { Slot::Starting } else { Slot::Ending };
            self.put(at, slot, act);
        }
    }

    /// Boards that are there and not stripped out: what may carry a supply.
    fn living(&self, session: &crate::work::Session) -> Vec<BoardId> {
        let old = |b: &BoardId| self.g.labour.boards[b.index()].role == BoardRole::Old;
        let dead_old = |b: &BoardId| old(b) && !session.alive.contains(b);
        self.g.job.boards.ids().filter(|b| !self.gone.contains(b) && !dead_old(b)).collect()
    }

    /// Cartridges of the board, and those of what comes back with it, go in.
    fn fit_before(&mut self, turn: &Turn, board: BoardId) -> Vec<Act> {
        let job = self.g.job;
        let b = &job.boards[board];
        let on = &turn.timed.session.on;
        let mut acts = Vec::new();
        for (id, surge) in job.surges.iter() {
            let here = surge.board == Some(board)
                || [b.incoming, b.ways]
                    .iter()
                    .any(|p| job.positions[*p].bare.contains(&surge.node));
            // Electronics of circuits that stayed on their way come back with the board.
            let carried = (job.circuits.iter()).any(|(c, circuit)| {
                circuit.nodes.contains(&surge.node)
                    && !on.contains(&c)
                    && !self.g.routes[c.index()].old.iter().any(|j| !self.out.state.made.has(*j))
            });
            if !self.fitted[id.index()] && (here || carried) {
                self.fitted[id.index()] = true;
                acts.push(Act::Surge(turn.lead(), id, true));
            }
        }
        acts
    }

    /// Everybody's lock off the box of a dead set, then its locks off the devices.
    fn unlock_set(&mut self, turn: &Turn, k: usize, acts: &mut Vec<Act>) {
        let lock_box = self.lock_box(k);
        for person in self.box_free.remove(&k).unwrap_or_default() {
            if turn.crew().contains(&person) {
                acts.push(Act::BoxUnlock(turn.by(person), lock_box));
                continue;
            }
            let by = By { task: None, who: Who::Person(person) };
            let at = free_at(turn, person);
            self.put(at, Slot::Between, Act::BoxUnlock(by, lock_box));
        }
        let devices: Vec<DeviceId> = self.padlocks.keys().copied().collect();
        for device in devices {
            let all = self.padlocks.remove(&device).unwrap_or_default();
            let (off, stay): (Vec<Padlock>, Vec<Padlock>) =
                all.into_iter().partition(|p| p.set == Some(k));
            for padlock in off.into_iter().rev() {
                let by = match padlock.owner {
                    Who::Person(person) => turn.by(person),
                    Who::Outsider(_) => By { task: None, who: padlock.owner },
                };
                acts.push(Act::Unlock(by, device, padlock.lock));
                if stay.is_empty() {
                    self.out.state.unlock(device);
                }
            }
            if !stay.is_empty() {
                self.padlocks.insert(device, stay);
            }
        }
    }

    /// The locks of temporary supplies that nothing rides on any more.
    fn unlock_supplies(&mut self, turn: &Turn, acts: &mut Vec<Act>) {
        for supply in self.g.job.supplies.ids() {
            let in_use = (self.g.job.joints.iter()).any(|(id, j)| {
                self.out.state.made.has(id)
                    && matches!(j.of, Some((_, Place::On(s))) if s == supply)
            });
            // A board may come back before the circuits that ride are put on.
            let mut pieces = turn.timed.pieces.iter().enumerate();
            let to_come = pieces.any(|(i, p)| match p.role {
                Role::HookUp(_, s)
                | Role::Unhook(_, s)
                | Role::SupplyOn(s)
                | Role::SupplyOff(s) => s == supply && turn.timed.end(i) > turn.from,
                _ => false,
            });
            if in_use || to_come {
                continue;
            }
            for device in switching::supply_devices(self.g, supply) {
                let mine = |p: &Padlock| {
                    p.set.is_none() && matches!(p.owner, Who::Person(q) if turn.crew().contains(&q))
                };
                let all = self.padlocks.remove(&device).unwrap_or_default();
                let (off, stay): (Vec<Padlock>, Vec<Padlock>) = all.into_iter().partition(mine);
                for padlock in off {
                    let by = By { task: Some(turn.task), who: padlock.owner };
                    acts.push(Act::Unlock(by, device, padlock.lock));
                    if stay.is_empty() {
                        self.out.state.unlock(device);
                    }
                }
                if !stay.is_empty() {
                    self.padlocks.insert(device, stay);
                }
            }
        }
    }

    pub(super) fn supply_on(&mut self, turn: &Turn, supply: SupplyId) {
        let nodes = self.riding_nodes(turn, supply);
        for (id, surge) in self.g.job.surges.iter() {
            if !self.fitted[id.index()] && nodes.contains(&surge.node) {
                self.fitted[id.index()] = true;
                self.put(turn.to, Slot::Ending, Act::Surge(turn.lead(), id, true));
            }
        }
        for device in switching::supply_devices(self.g, supply) {
            for padlock in self.padlocks.remove(&device).unwrap_or_default() {
                let by = By { task: Some(turn.task), who: padlock.owner };
                self.put(turn.to, Slot::Ending, Act::Unlock(by, device, padlock.lock));
            }
            self.out.state.unlock(device);
            self.put(turn.to, Slot::Ending, Act::Close(turn.lead(), device));
            self.out.state.closed.insert(device);
        }
    }

    pub(super) fn live_test(&mut self, turn: &Turn, circuit: CircuitId) {
        let nodes = &self.g.job.circuits[circuit].nodes;
        let devices = self.g.routes[circuit.index()].new_devices.clone();
        let open: Vec<DeviceId> =
            devices.into_iter().filter(|d| !self.out.state.closed.has(*d)).collect();
        // Closing the way brings every circuit on it back, not only this one.
        let mut state = self.out.state.clone();
        for device in &open {
            state.closed.insert(*device);
        }
        let (before, after) = (self.g.net.live(&self.out.state), self.g.net.live(&state));
        for (id, surge) in self.g.job.surges.iter() {
            let comes = !self.g.net.live_node(&before, surge.node)
                && self.g.net.live_node(&after, surge.node);
            if !self.fitted[id.index()] && (comes || nodes.contains(&surge.node)) {
                self.fitted[id.index()] = true;
                self.put(turn.from, Slot::Starting, Act::Surge(turn.lead(), id, true));
            }
        }
        for device in switching::closing_order(self.g, &self.out.state, &open) {
            self.put(turn.from, Slot::Starting, Act::Close(turn.lead(), device));
            self.out.state.closed.insert(device);
        }
    }

    /// Opens a final-circuit device of the group's feed, and closes it again.
    pub(super) fn function_test(&mut self, turn: &Turn, group: GroupId) {
        let live = self.g.net.live(&self.out.state);
        let feed = self.g.job.groups[group].feed;
        let first = self.g.net.first_overcurrent(&self.out.state, &live, feed);
        let Some(&device) = first.devices.first() else { return };
        let length = turn.to - turn.from;
        let (from, to) = if length.0 >= 3 {
            (turn.from + Minutes(1), turn.to - Minutes(1))
        } else {
            (turn.from, turn.to)
        };
        let slot = if from == turn.from { Slot::Starting } else { Slot::Ending };
        self.put(from, slot, Act::Open(turn.lead(), device));
        self.put(to, Slot::Ending, Act::Close(turn.lead(), device));
    }
}

/// A moment, no later than the start of the turn, at which the person is on no task: the end of
/// their last one, so that it does not fall into a break.
fn free_at(turn: &Turn, person: PersonId) -> Minutes {
    let timed = turn.timed;
    let theirs = || (0..timed.pieces.len()).filter(|i| timed.crew[*i].contains(&person));
    let running = theirs().find(|i| timed.start[*i] < turn.from && turn.from < timed.end(*i));
    match running {
        Some(i) => timed.start[i],
        None => {
            let ends = theirs().map(|i| timed.end(i)).filter(|end| *end <= turn.from);
            ends.max().unwrap_or(turn.from)
        }
    }
}
