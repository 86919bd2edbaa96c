//! One event of a plan.

use super::super::raw;
use super::Reader;
use crate::model::*;
use crate::plan::*;
use crate::units::Volts;
use serde_json::Value;
use std::collections::BTreeMap;

/// One event with all that is needed to look its names up.
pub(super) struct EventReader<'a> {
    pub(super) reader: &'a mut Reader,
    pub(super) job: &'a Job,
    pub(super) ids: &'a Table<TaskId, ()>,
    pub(super) locks: &'a Table<LockId, ()>,
    pub(super) boxes: &'a Table<BoxId, ()>,
    pub(super) event: &'a raw::Event,
    pub(super) place: String,
}

impl EventReader<'_> {
    /// The event's act; `None` if a key is missing or its name unknown, which is reported.
    pub(super) fn act(&mut self) -> Option<Act> {
        let e = self.event;
        Some(match e.act.as_str() {
            "start" => Act::Start {
                task: self.task()?,
                who: self.people()?,
                instrument: self.instrument()?,
            },
            "finish" => Act::Finish { task: self.task()?, pass: self.key("pass", e.pass)? },
            "open" => Act::Open(self.by()?, self.device()?),
            "close" => Act::Close(self.by()?, self.device()?),
            "lock" => {
                let lock_box = self.key("box", e.lock_box.as_ref())?;
                let key = match lock_box {
                    None => Key::Kept,
                    Some(name) => Key::Boxed(self.boxes.find(name)?),
                };
                Act::Lock(self.by()?, self.device()?, self.lock()?, key)
            }
            "unlock" => Act::Unlock(self.by()?, self.device()?, self.lock()?),
            "box_lock" => Act::BoxLock(self.by()?, self.lock_box()?),
            "box_unlock" => Act::BoxUnlock(self.by()?, self.lock_box()?),
            "make" => Act::Make(self.by()?, self.joint()?),
            "break" => Act::Break(self.by()?, self.joint()?),
            "prove" => Act::Prove(self.by()?, self.proof()?),
            "surge" => {
                let name = self.key("surge", e.surge.as_deref())?;
                let surge = self.look(&self.job.surges, name)?;
                Act::Surge(self.by()?, surge, self.key("in", e.fitted)?)
            }
            "rest" => {
                let name = self.key("group", e.group.as_deref())?;
                let group = self.look(&self.job.groups, name)?;
                Act::Rest(self.by()?, group, self.key("on", e.on)?)
            }
            "hand_back" => {
                let name = self.key("area", e.area.as_deref())?;
                let area = self.look(&self.job.areas, name)?;
                // Who hands back is written down, but nothing asks for it.
                let who = e.who.as_ref().and_then(Value::as_str).and_then(|w| self.who(w));
                let who = who.unwrap_or(Who::Person(PersonId::new(0)));
                Act::HandBack(By { task: None, who }, area)
            }
            other => {
                self.reader.fault(&self.place, format!("`{other}` is no event"));
                return None;
            }
        })
    }

    fn key<T>(&mut self, name: &str, value: Option<T>) -> Option<T> {
        if value.is_none() {
            self.reader.fault(&self.place, format!("the key `{name}` is missing"));
        }
        value
    }

    fn look<K: Id, V>(&mut self, table: &Table<K, V>, name: &str) -> Option<K> {
        let found = table.find(name);
        if found.is_none() {
            self.reader.fault(&self.place, format!("`{name}` is not known to the job"));
        }
        found
    }

    fn task(&mut self) -> Option<TaskId> {
        let name = self.key("task", self.event.task.clone().flatten())?;
        self.look(self.ids, &name)
    }

    fn people(&mut self) -> Option<Vec<PersonId>> {
        let list = self.key("who", self.event.who.as_ref().and_then(Value::as_array))?;
        list.iter().map(|v| self.look(&self.job.people, v.as_str().unwrap_or(""))).collect()
    }

    fn instrument(&mut self) -> Option<Option<InstrumentId>> {
        match self.key("instrument", self.event.instrument.clone())? {
            None => Some(None),
            Some(name) => self.look(&self.job.instruments, &name).map(Some),
        }
    }

    fn who(&mut self, name: &str) -> Option<Who> {
        if let Some(person) = self.job.people.find(name) {
            return Some(Who::Person(person));
        }
        self.look(&self.job.outsiders, name).map(Who::Outsider)
    }

    fn by(&mut self) -> Option<By> {
        let who = self.key("who", self.event.who.as_ref().and_then(Value::as_str))?;
        let who = self.who(who)?;
        let task = match self.key("task", self.event.task.clone())? {
            None => None,
            Some(name) => Some(self.look(self.ids, &name)?),
        };
        Some(By { task, who })
    }

    fn device(&mut self) -> Option<DeviceId> {
        let name = self.key("device", self.event.device.as_deref())?;
        self.look(&self.job.devices, name)
    }

    fn joint(&mut self) -> Option<JointId> {
        let name = self.key("joint", self.event.joint.as_deref())?;
        self.look(&self.job.joints, name)
    }

    fn lock(&mut self) -> Option<LockId> {
        let name = self.key("lock", self.event.lock.as_deref())?;
        self.locks.find(name)
    }

    fn lock_box(&mut self) -> Option<BoxId> {
        let name = self.key("box", self.event.lock_box.clone().flatten())?;
        self.boxes.find(&name)
    }

    fn proof(&mut self) -> Option<Proof> {
        let e = self.event;
        let position = self.key("position", e.position.as_deref())?;
        let circuit = match self.key("circuit", e.circuit.clone())? {
            None => None,
            Some(name) => Some(self.look(&self.job.circuits, &name)?),
        };
        let instrument = self.instrument()?;
        let instrument = self.key("instrument", instrument)?;
        let mut readings = BTreeMap::new();
        for (node, pairs) in self.key("readings", e.readings.as_ref())? {
            let mut at_node = BTreeMap::new();
            for (pair, reading) in pairs {
                let volts = reading.as_ref().map(|n| Volts(self.reader.figure(n, &self.place)));
                at_node.insert(pair.clone(), volts);
            }
            readings.insert(self.look(&self.job.nodes, node)?, at_node);
        }
        Some(Proof {
            position: self.look(&self.job.positions, position)?,
            circuit,
            instrument,
            tester_before: self.key("tester_before", e.tester_before)?,
            tester_after: self.key("tester_after", e.tester_after)?,
            readings,
        })
    }
}
