//! Making dead: devices opened and locked, keys into the box, own locks on it.

use super::*;
use crate::network::LiveSet;

impl Writer<'_> {
    pub(super) fn isolate(&mut self, turn: &Turn, k: usize) {
        let session = &turn.timed.session;
        let set = &session.dead[k];
        let (flicks, _) = switching::make_dead(self.g, &self.out.state, &set.locks);
        let lead = turn.lead();
        let lock_box = self.lock_box(k);
        let before = self.g.net.live(&self.out.state);
        let aside = switching::aside(self.g, &self.out.state, &set.boards, &set.locks);
        let mut acts: Vec<Act> = Vec::new();
        for flick in flicks {
            match flick {
                Flick::Open(device) => {
                    acts.push(Act::Open(self.hand(device, lead), device));
                    self.out.state.closed.remove(device);
                    self.opened.entry(k).or_default().push(device);
                }
                Flick::Lock(device) => self.put_locks(&mut acts, k, device, lead, lock_box),
            }
        }
        for device in aside {
            acts.push(Act::Open(lead, device));
            self.out.state.closed.remove(device);
            self.opened.entry(k).or_default().push(device);
        }
        for surge in self.to_take_out(turn, k) {
            self.fitted[surge.index()] = false;
            acts.push(Act::Surge(lead, surge, false));
        }
        acts.extend(
            self.begun_to_rest(session, &before)
                .into_iter()
                .map(|group| Act::Rest(lead, group, true)),
        );
        let times = turn.spread_to_end(acts.len());
        for (at, act) in times.into_iter().zip(acts) {
            let slot = if at == turn.from { Slot::Starting } else { Slot::Ending };
            self.put(at, slot, act);
        }
        for person in self.workers(turn.timed) {
            if turn.crew().contains(&person) {
                self.put(turn.to, Slot::Ending, Act::BoxLock(turn.by(person), lock_box));
            } else {
                let by = By { task: None, who: Who::Person(person) };
                let at = next_task(turn, person);
                self.put(at, Slot::Between, Act::BoxLock(by, lock_box));
            }
            self.box_free.entry(k).or_default().push(person);
        }
    }

    /// Groups to be at rest whose feed these acts have taken down: rest mode ends by itself with the
    /// feed live, so it begins anew each time that it goes dead.
    fn begun_to_rest(&self, session: &crate::work::Session, before: &LiveSet) -> Vec<GroupId> {
        let now = self.g.net.live(&self.out.state);
        let fed =
            |live: &LiveSet, x: &GroupId| self.g.net.circuit_live(live, self.g.job.groups[*x].feed);
        let gone = |x: &GroupId| fed(before, x) && !fed(&now, x);
        session.rest.iter().copied().filter(gone).collect()
    }

    /// Who operates a device: a third party's is its owner's.
    pub(super) fn hand(&self, device: DeviceId, by: By) -> By {
        match &self.g.job.devices[device].third_party {
            Some(third) => By { task: None, who: third.owner },
            None => by,
        }
    }

    /// The team's lock on a device, after its owner's if it is a third party's.
    fn put_locks(
        &mut self,
        acts: &mut Vec<Act>,
        k: usize,
        device: DeviceId,
        lead: By,
        into: BoxId,
    ) {
        if let Some(third) = &self.g.job.devices[device].third_party {
            let by = By { task: None, who: third.owner };
            let lock = self.spare_lock();
            acts.push(Act::Lock(by, device, lock, Key::Kept));
            self.remember(device, lock, third.owner, k);
        }
        let lock = self.spare_lock();
        acts.push(Act::Lock(lead, device, lock, Key::Boxed(into)));
        self.remember(device, lock, lead.who, k);
        self.out.state.lock(device);
    }

    fn remember(&mut self, device: DeviceId, lock: LockId, owner: Who, k: usize) {
        let padlock = Padlock { lock, owner, set: Some(k) };
        self.padlocks.entry(device).or_default().push(padlock);
    }

    /// The lowest-numbered padlock that is not on anything.
    pub(super) fn spare_lock(&mut self) -> LockId {
        let used: BTreeSet<LockId> = self.padlocks.values().flatten().map(|p| p.lock).collect();
        if let Some(free) = self.out.locks.ids().find(|id| !used.contains(id)) {
            return free;
        }
        let name = format!("padlock {}", self.out.locks.len() + 1);
        // The number is new, so the name is.
        self.out.locks.add(name, ()).unwrap_or(LockId::new(0))
    }

    pub(super) fn lock_box(&mut self, k: usize) -> BoxId {
        let base = &self.g.labour.lock_box;
        let name = if k == 0 { base.clone() } else { format!("{base} {}", k + 1) };
        match self.out.boxes.find(&name) {
            Some(id) => id,
            None => self.out.boxes.add(name, ()).unwrap_or(BoxId::new(0)),
        }
    }

    /// Everybody who does dead work in the session, in order of the team.
    fn workers(&self, timed: &Timed) -> Vec<PersonId> {
        let dead = |i: &usize| {
            timed.pieces[*i].kind.mode() == Mode::Dead && timed.pieces[*i].kind != TaskKind::HookUp
        };
        let pieces = (0..timed.pieces.len()).filter(dead);
        let people: BTreeSet<PersonId> = pieces.flat_map(|i| timed.crew[i].clone()).collect();
        people.into_iter().collect()
    }

    /// Cartridges and electronics that an insulation test of this session could reach.
    fn to_take_out(&self, turn: &Turn, k: usize) -> Vec<SurgeId> {
        let job = self.g.job;
        let session = &turn.timed.session;
        // A board that nothing feeds yet has no isolation of its own.
        let with = |n: usize| n == k || session.dead[n].locks.is_empty();
        let boards: Vec<BoardId> = (0..session.dead.len())
            .filter(|n| with(*n))
            .flat_map(|n| session.dead[n].boards.iter().copied())
            .collect();
        let here = |node: NodeId| {
            let at = (job.positions.rows().iter())
                .filter(|p| p.board.is_some_and(|b| boards.contains(&b)))
                .any(|p| p.bare.contains(&node));
            let moved = session.off.iter().chain(&session.on);
            at || moved.into_iter().any(|c| job.circuits[*c].nodes.contains(&node))
        };
        (job.surges.iter())
            .filter(|(id, s)| {
                self.fitted[id.index()]
                    && (here(s.node) || s.board.is_some_and(|b| boards.contains(&b)))
            })
            .map(|(id, _)| id)
            .collect()
    }

    pub(super) fn lock_supply(&mut self, turn: &Turn, supply: SupplyId, at: Minutes, slot: Slot) {
        for device in switching::supply_devices(self.g, supply) {
            if self.padlocks.get(&device).is_some_and(|all| !all.is_empty()) {
                continue;
            }
            let lead = turn.lead();
            if self.out.state.closed.has(device) {
                self.put(at, slot, Act::Open(lead, device));
            }
            let lock = self.spare_lock();
            self.put(at, slot, Act::Lock(lead, device, lock, Key::Kept));
            let padlock = Padlock { lock, owner: lead.who, set: None };
            self.padlocks.entry(device).or_default().push(padlock);
            self.out.state.lock(device);
        }
    }

    pub(super) fn supply_off(&mut self, turn: &Turn, supply: SupplyId) {
        self.lock_supply(turn, supply, turn.to, Slot::Ending);
        let nodes = self.riding_nodes(turn, supply);
        for (id, surge) in self.g.job.surges.iter() {
            if self.fitted[id.index()] && nodes.contains(&surge.node) {
                self.fitted[id.index()] = false;
                self.put(turn.to, Slot::Ending, Act::Surge(turn.lead(), id, false));
            }
        }
    }

    /// The load points of what rides on a supply in this session.
    pub(super) fn riding_nodes(&self, turn: &Turn, supply: SupplyId) -> Vec<NodeId> {
        let rides = turn.timed.session.rides.iter().filter(|r| r.supply == supply);
        rides.flat_map(|r| self.g.job.circuits[r.circuit].nodes.clone()).collect()
    }
}

/// The first moment from the end of the turn on at which a task of the person ends or begins: their
/// lock goes on the box as they come from or to work, not in a break.
fn next_task(turn: &Turn, person: PersonId) -> Minutes {
    let timed = turn.timed;
    let theirs = || (0..timed.pieces.len()).filter(|i| timed.crew[*i].contains(&person));
    let running = theirs().find(|i| timed.start[*i] < turn.to && turn.to < timed.end(*i));
    let next = theirs().map(|i| timed.start[i]).filter(|start| *start >= turn.to).min();
    running.map(|i| timed.end(i)).or(next).unwrap_or(turn.to)
}
