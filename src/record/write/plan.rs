//! A plan as it stands in the record: tasks, events, claims, back-out.

use super::{Writer, all, number, some, spans};
use crate::model::*;
use crate::plan::*;
use crate::record::raw;
use crate::units::{Minutes, Volts};
use serde_json::Value;
use std::collections::BTreeMap;

impl Writer<'_> {
    pub(super) fn task(&self, id: String, t: &Task) -> raw::Task {
        let j = self.job;
        raw::Task {
            id,
            kind: t.kind.name().to_owned(),
            duration: t.duration.map(|m| m.0),
            planned: t.planned.0,
            people: t.people,
            after: all(&self.plan.tasks, &t.after),
            position: some(&j.positions, t.position),
            area: some(&j.areas, t.area),
            circuit: some(&j.circuits, t.circuit),
            board: some(&j.boards, t.board),
            group: some(&j.groups, t.group),
            instrument: t.instrument.clone(),
            delivery: some(&j.deliveries, t.delivery),
        }
    }

    pub(super) fn plan(&self) -> raw::Plan {
        raw::Plan {
            events: self.plan.events.iter().map(|e| self.event(e)).collect(),
            claims: self.claims(),
            back_out: self.back_out(),
        }
    }

    fn event(&self, event: &Event) -> raw::Event {
        let (j, p) = (self.job, self.plan);
        let new =
            |act: &str| raw::Event { t: event.at.0, act: act.to_owned(), ..Default::default() };
        let by = |act: &str, by: &By| raw::Event {
            task: Some(some(&p.tasks, by.task)),
            who: Some(Value::from(self.who(by.who))),
            ..new(act)
        };
        let on = |act: &str, b: &By, device: DeviceId| raw::Event {
            device: Some(j.devices.name(device).to_owned()),
            ..by(act, b)
        };
        let joint = |act: &str, b: &By, joint: JointId| raw::Event {
            joint: Some(j.joints.name(joint).to_owned()),
            ..by(act, b)
        };
        let boxed = |act: &str, b: &By, lock_box: BoxId| raw::Event {
            lock_box: Some(Some(p.boxes.name(lock_box).to_owned())),
            ..by(act, b)
        };
        match &event.act {
            Act::Start { task, who, instrument } => raw::Event {
                task: Some(Some(p.tasks.name(*task).to_owned())),
                who: Some(Value::from(all(&j.people, who))),
                instrument: Some(some(&j.instruments, *instrument)),
                ..new("start")
            },
            Act::Finish { task, pass } => raw::Event {
                task: Some(Some(p.tasks.name(*task).to_owned())),
                pass: Some(*pass),
                ..new("finish")
            },
            Act::Open(b, device) => on("open", b, *device),
            Act::Close(b, device) => on("close", b, *device),
            Act::Lock(b, device, lock, key) => raw::Event {
                lock: Some(p.locks.name(*lock).to_owned()),
                lock_box: Some(match key {
                    Key::Kept => None,
                    Key::Boxed(id) => Some(p.boxes.name(*id).to_owned()),
                }),
                ..on("lock", b, *device)
            },
            Act::Unlock(b, device, lock) => raw::Event {
                lock: Some(p.locks.name(*lock).to_owned()),
                ..on("unlock", b, *device)
            },
            Act::BoxLock(b, id) => boxed("box_lock", b, *id),
            Act::BoxUnlock(b, id) => boxed("box_unlock", b, *id),
            Act::Make(b, id) => joint("make", b, *id),
            Act::Break(b, id) => joint("break", b, *id),
            Act::Prove(b, proof) => self.proof(by("prove", b), proof),
            Act::Surge(b, surge, fitted) => raw::Event {
                surge: Some(j.surges.name(*surge).to_owned()),
                fitted: Some(*fitted),
                ..by("surge", b)
            },
            Act::Rest(b, group, on) => raw::Event {
                group: Some(j.groups.name(*group).to_owned()),
                on: Some(*on),
                ..by("rest", b)
            },
            Act::HandBack(b, area) => {
                raw::Event { area: Some(j.areas.name(*area).to_owned()), ..by("hand_back", b) }
            }
        }
    }

    fn proof(&self, event: raw::Event, proof: &Proof) -> raw::Event {
        let j = self.job;
        let volts = |v: &Option<Volts>| v.as_ref().map(|v| number(&v.0));
        let readings = proof.readings.iter().map(|(node, pairs)| {
            let pairs = pairs.iter().map(|(pair, v)| (pair.clone(), volts(v))).collect();
            (j.nodes.name(*node).to_owned(), pairs)
        });
        raw::Event {
            position: Some(j.positions.name(proof.position).to_owned()),
            circuit: Some(some(&j.circuits, proof.circuit)),
            instrument: Some(Some(j.instruments.name(proof.instrument).to_owned())),
            tester_before: Some(proof.tester_before),
            tester_after: Some(proof.tester_after),
            readings: Some(readings.collect()),
            ..event
        }
    }

    fn claims(&self) -> raw::Claims {
        let (j, c) = (self.job, &self.plan.claims);
        let minutes = |m: &Minutes| m.0;
        let [needed, other, counted, visits, riding] = c.parts.each_ref().map(number);
        raw::Claims {
            outages: c
                .outages
                .iter()
                .map(|(l, s)| (j.loads.name(*l).to_owned(), spans(s)))
                .collect(),
            j: number(&c.j),
            parts: raw::Parts { needed, other, counted, visits, riding },
            lower_bound: number(&c.lower_bound),
            gap: number(&c.gap),
            finish: c.finish.0,
            lock_operations: c.lock_operations,
            walking: c.walking,
            full_duration_tests: c
                .full_duration_tests
                .iter()
                .map(|(g, t)| (j.groups.name(*g).to_owned(), minutes(t)))
                .collect(),
            still_live: c
                .still_live
                .iter()
                .map(|(t, nodes)| (self.plan.tasks.name(*t).to_owned(), all(&j.nodes, nodes)))
                .collect::<BTreeMap<_, _>>(),
        }
    }

    fn back_out(&self) -> raw::BackOut {
        let (j, b) = (self.job, &self.plan.back_out);
        let subject = |s: Subject| match s {
            Subject::Circuit(id) => j.circuits.name(id).to_owned(),
            Subject::Board(id) => j.boards.name(id).to_owned(),
            Subject::Group(id) => j.groups.name(id).to_owned(),
            Subject::Position(id) => j.positions.name(id).to_owned(),
        };
        let task = |id: TaskId| self.plan.tasks.name(id).to_owned();
        raw::BackOut {
            steps: (b.steps.iter())
                .map(|s| raw::Step {
                    task: task(s.task),
                    to: if s.way == Way::Back { "back" } else { "forward" }.to_owned(),
                    tasks: (s.acts.iter())
                        .map(|t| raw::StepTask {
                            kind: t.kind.name().to_owned(),
                            of: t.of.map(subject),
                            at: t.at.0,
                            minutes: t.minutes.0,
                        })
                        .collect(),
                    minutes: s.minutes.0,
                })
                .collect(),
            points_of_no_return: (b.points_of_no_return.iter())
                .map(|p| raw::NoReturn {
                    from: p.visit.from.0,
                    to: p.visit.to.0,
                    t: p.at.map(|t| t.0),
                })
                .collect(),
            checkpoints: (b.checkpoints.iter())
                .map(|c| raw::Checkpoint {
                    task: task(c.task),
                    latest: c.latest.0,
                    otherwise: c.otherwise.clone(),
                })
                .collect(),
        }
    }
}
