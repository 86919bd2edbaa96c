//! What an event does to the state, and whether it can happen in it (S2).
//!
//! After an event that cannot happen the replay goes on as if it had not been written, or, where
//! the state wanted is plain (a lock on a device that takes none), as if it could.

use super::breach::{Kind, Report, facts};
use super::now::{Now, Padlock, Run};
use super::wiring::Part;
use crate::model::*;
use crate::plan::{Act, By, Event, Key};

impl Now<'_> {
    /// Applies one event; `out` takes what cannot happen.
    pub fn apply(&mut self, event: &Event, out: &mut Report) {
        match &event.act {
            Act::Start { task, who, instrument } => self.start(*task, who, *instrument, out),
            Act::Finish { task, pass } => self.finish(*task, *pass, out),
            Act::Open(_, device) => self.switch(*device, false, out),
            Act::Close(_, device) => self.switch(*device, true, out),
            Act::Lock(by, device, lock, key) => self.lock(*by, *device, *lock, *key, out),
            Act::Unlock(by, device, lock) => self.unlock(*by, *device, *lock, out),
            Act::BoxLock(by, b) => {
                if self.boxes[b.index()].insert(by.who) {
                    self.regrip_box(*b);
                } else {
                    out.add(Kind::BoxLockedAlready, self, facts![by.who, *b]);
                }
            }
            Act::BoxUnlock(by, b) => {
                if self.boxes[b.index()].remove(&by.who) {
                    self.regrip_box(*b);
                } else {
                    out.add(Kind::BoxNotLocked, self, facts![by.who, *b]);
                }
            }
            Act::Make(by, joint) => self.join(*by, *joint, true, out),
            Act::Break(by, joint) => self.join(*by, *joint, false, out),
            Act::Prove(by, proof) => {
                if let Some(task) = by.task.filter(|t| self.is_running(*t)) {
                    self.proving.push((proof.position, task));
                }
                if let Some(b) = self.site.job.positions[proof.position].board {
                    self.covers[b.index()] = false;
                }
            }
            Act::Surge(_, surge, fitted) => {
                if self.surges[surge.index()] == *fitted {
                    out.add(Kind::SurgeAlready, self, facts![*surge]);
                }
                self.surges[surge.index()] = *fitted;
            }
            Act::Rest(_, group, on) => self.put_to_rest(*group, *on, out),
            Act::HandBack(..) => {}
        }
        self.settle();
        for (id, group) in self.site.job.groups.iter() {
            // Rest mode ends by itself when the supply returns.
            if self.rest[id.index()] && self.circuit_live(group.feed) {
                self.rest[id.index()] = false;
            }
        }
    }

    /// Whether an act can happen as things stand; of one that cannot, S2 tells all.
    pub fn possible(&self, act: &Act) -> bool {
        let device = |d: &DeviceId| &self.devices[d.index()];
        let by_hand = |d: &DeviceId| self.site.job.devices[*d].self_acting.is_none();
        match act {
            Act::Open(_, d) => device(d).closed && by_hand(d),
            Act::Close(_, d) => !device(d).closed && device(d).locks.is_empty() && by_hand(d),
            Act::Lock(_, d, ..) => !device(d).closed,
            Act::Unlock(_, d, lock) => device(d).locks.iter().any(|l| l.lock == *lock),
            Act::BoxLock(by, b) => !self.boxes[b.index()].contains(&by.who),
            Act::BoxUnlock(by, b) => self.boxes[b.index()].contains(&by.who),
            Act::Make(_, j) => !self.joints[j.index()],
            Act::Break(_, j) => self.joints[j.index()],
            _ => true,
        }
    }

    fn start(
        &mut self,
        id: TaskId,
        who: &[PersonId],
        instrument: Option<InstrumentId>,
        out: &mut Report,
    ) {
        if self.run(id).is_some() {
            out.add(Kind::StartedAlready, self, facts![id]);
            return;
        }
        self.runs[id.index()] = Some(Run {
            start: self.t,
            start_event: self.event,
            who: who.to_vec(),
            instrument,
            end: None,
        });
        self.running.push(id);
        let task = self.site.task(id);
        if task.kind.opens_board()
            && let Some(b) = task.position.and_then(|p| self.site.job.positions[p].board)
        {
            self.covers[b.index()] = false;
        }
        match (task.kind, task.circuit) {
            (TaskKind::Disconnect | TaskKind::Unhook | TaskKind::Connect, Some(c)) => {
                self.circuits[c.index()].out = true;
            }
            (TaskKind::Mount, _) => {
                if let Some(b) = self.site.board_of(task) {
                    self.mounted[b.index()] = true;
                }
            }
            _ => {}
        }
    }

    fn finish(&mut self, id: TaskId, pass: bool, out: &mut Report) {
        if !self.is_running(id) {
            out.add(Kind::NotRunning, self, facts![id]);
            return;
        }
        let apart: Vec<JointId> =
            self.loose.iter().filter(|(_, by)| **by == Some(id)).map(|(joint, _)| *joint).collect();
        for joint in apart {
            self.loose.remove(&joint);
            self.rejoint(joint);
        }
        let (t, event) = (self.t, self.event);
        let mut began = 0;
        if let Some(run) = &mut self.runs[id.index()] {
            run.end = Some((t, event, pass));
            began = run.start_event;
        }
        self.running.retain(|r| *r != id);
        self.proving.retain(|(_, task)| *task != id);
        let task = self.site.task(id);
        if !pass {
            return;
        }
        if let Some(c) = task.circuit {
            let state = &mut self.circuits[c.index()];
            match task.kind {
                TaskKind::Disconnect => state.disconnected = true,
                TaskKind::Connect => state.connected = Some(event),
                TaskKind::DeadTest => state.tested = Some(began),
                TaskKind::HookUp => {
                    state.hooked = Some(event);
                    state.out = false;
                }
                TaskKind::LiveTest => state.out = false,
                _ => {}
            }
        }
        let Some(b) = self.site.board_of(task).or(task.board) else { return };
        match task.kind {
            TaskKind::FitCovers => {
                let open = self.running.iter().any(|r| {
                    let other = self.site.task(*r);
                    other.kind.opens_board() && self.site.board_of(other) == Some(b)
                });
                self.covers[b.index()] |= !open;
            }
            TaskKind::StripOut => self.stripped[b.index()] = true,
            _ => {}
        }
    }

    fn switch(&mut self, device: DeviceId, close: bool, out: &mut Report) {
        let state = &self.devices[device.index()];
        if self.site.job.devices[device].self_acting.is_some() {
            out.add(Kind::ActsByItself, self, facts![device]);
        } else if close && !state.locks.is_empty() {
            out.add(Kind::ClosedLocked, self, facts![device]);
        } else if state.closed == close {
            out.add(
                if close { Kind::ClosedAlready } else { Kind::OpenAlready },
                self,
                facts![device],
            );
        } else {
            self.set_closed(device, close);
        }
    }

    fn lock(&mut self, by: By, device: DeviceId, lock: LockId, key: Key, out: &mut Report) {
        let used = self.devices.iter().any(|d| d.locks.iter().any(|l| l.lock == lock));
        if used {
            out.add(Kind::LockInUse, self, facts![lock]);
            return;
        }
        if self.devices[device.index()].closed {
            out.add(Kind::LockedClosed, self, facts![device, lock]);
            return;
        }
        if !self.site.job.devices[device].lockable {
            out.add(Kind::NotLockable, self, facts![device, lock]);
        }
        let state = &mut self.devices[device.index()];
        if state.locks.is_empty() {
            self.locked_at[device.index()] = Some(self.event);
        }
        state.locks.push(Padlock { lock, owner: by.who, key });
        self.regrip(device);
    }

    fn unlock(&mut self, _by: By, device: DeviceId, lock: LockId, out: &mut Report) {
        let state = &mut self.devices[device.index()];
        let Some(i) = state.locks.iter().position(|l| l.lock == lock) else {
            out.add(Kind::NoSuchLock, self, facts![device, lock]);
            return;
        };
        state.locks.remove(i);
        if state.locks.is_empty() {
            self.locked_at[device.index()] = None;
        }
        self.regrip(device);
    }

    fn regrip_box(&mut self, b: BoxId) {
        for device in self.site.job.devices.ids() {
            if self.devices[device.index()].locks.iter().any(|l| l.key == Key::Boxed(b)) {
                self.regrip(device);
            }
        }
    }

    fn join(&mut self, by: By, joint: JointId, make: bool, out: &mut Report) {
        if self.joints[joint.index()] == make {
            out.add(if make { Kind::MadeAlready } else { Kind::NotMade }, self, facts![joint]);
            return;
        }
        self.joints[joint.index()] = make;
        self.loose.remove(&joint);
        if !make {
            // Until the task ends its ends are not insulated and apart; without one, never.
            self.loose.insert(joint, by.task);
        }
        self.joined = true;
        self.rejoint(joint);
        if let Some((c, place)) = self.site.job.joints[joint].of {
            let state = &mut self.circuits[c.index()];
            state.last_joint = Some(self.event);
            if let Place::On(s) = place {
                let made = state.on.entry(s).or_default();
                *made = if make { *made + 1 } else { made.saturating_sub(1) };
            }
        }
    }

    fn put_to_rest(&mut self, group: GroupId, on: bool, out: &mut Report) {
        if self.rest[group.index()] == on {
            out.add(Kind::RestAlready, self, facts![group]);
        }
        if on && !self.site.job.groups[group].rest_mode {
            out.add(Kind::NoRestMode, self, facts![group]);
        }
        // With the supply live it ends as soon as it begins; that it was asked for is E2.
        self.rest[group.index()] = on;
    }

    /// Whether a lane of a device is one that it opens.
    pub fn switched(part: Part) -> Option<DeviceId> {
        match part {
            Part::Switched(d) => Some(d),
            _ => None,
        }
    }
}
