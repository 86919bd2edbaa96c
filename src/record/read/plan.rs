//! Tasks, claims, back-out and the plan itself.

use super::super::raw;
use super::event::EventReader;
use super::{Reader, fill};
use crate::model::*;
use crate::plan::*;
use crate::units::{Minutes, Period};

impl Reader {
    pub(super) fn task(&mut self, r: &raw::Task, job: &Job, ids: &Table<TaskId, ()>) -> Task {
        let place = format!("job.tasks, `{}`", r.id);
        let kind = TaskKind::read(&r.kind).unwrap_or_else(|| {
            self.fault(&place, format!("`{}` is no kind of task", r.kind));
            TaskKind::Prepare
        });
        Task {
            kind,
            duration: r.duration.map(Minutes),
            planned: Minutes(r.planned),
            people: r.people,
            after: self.find_all(ids, &r.after, &place),
            position: self.find_some(&job.positions, r.position.as_deref(), &place),
            area: self.find_some(&job.areas, r.area.as_deref(), &place),
            circuit: self.find_some(&job.circuits, r.circuit.as_deref(), &place),
            board: self.find_some(&job.boards, r.board.as_deref(), &place),
            group: self.find_some(&job.groups, r.group.as_deref(), &place),
            instrument: r.instrument.clone(),
            delivery: self.find_some(&job.deliveries, r.delivery.as_deref(), &place),
        }
    }

    pub(super) fn plan(&mut self, raw: &raw::Record, job: &Job) -> Plan {
        let mut ids = Table::new();
        for task in &raw.job.tasks {
            ids.add(&task.id, ());
        }
        let tasks = fill(&raw.job.tasks, |r| &r.id, |r| self.task(r, job, &ids));
        let mut locks = Table::new();
        let mut boxes = Table::new();
        let mut events = Vec::new();
        for (i, event) in raw.plan.events.iter().enumerate() {
            if let Some(lock) = &event.lock {
                locks.add(lock, ());
            }
            if let Some(Some(lock_box)) = &event.lock_box {
                boxes.add(lock_box, ());
            }
            let place = format!("plan.events[{i}] (`{}` at {})", event.act, event.t);
            let mut reader = EventReader {
                reader: self,
                job,
                ids: &ids,
                locks: &locks,
                boxes: &boxes,
                event,
                place,
            };
            if let Some(act) = reader.act() {
                events.push(Event { at: Minutes(event.t), act });
            }
        }
        let claims = self.claims(&raw.plan.claims, job, &ids);
        let back_out = self.back_out(&raw.plan.back_out, job, &ids);
        Plan { tasks, locks, boxes, events, claims, back_out }
    }

    pub(super) fn claims(
        &mut self,
        raw: &raw::Claims,
        job: &Job,
        ids: &Table<TaskId, ()>,
    ) -> Claims {
        let place = "plan.claims";
        let p = &raw.parts;
        Claims {
            outages: raw
                .outages
                .iter()
                .map(|(load, spans)| {
                    // A plan may claim anything; whether the spans are in order is for `verify`.
                    let spans = spans.iter().map(|[a, b]| Period::new(*a, *b)).collect();
                    (self.find(&job.loads, load, place), spans)
                })
                .collect(),
            j: self.figure(&raw.j, place),
            parts: [&p.needed, &p.other, &p.counted, &p.visits, &p.riding]
                .map(|n| self.figure(n, place)),
            lower_bound: self.figure(&raw.lower_bound, place),
            gap: self.figure(&raw.gap, place),
            finish: Minutes(raw.finish),
            lock_operations: raw.lock_operations,
            walking: raw.walking,
            full_duration_tests: raw
                .full_duration_tests
                .iter()
                .map(|(group, t)| (self.find(&job.groups, group, place), Minutes(*t)))
                .collect(),
            still_live: raw
                .still_live
                .iter()
                .map(|(task, nodes)| {
                    (self.find(ids, task, place), self.find_all(&job.nodes, nodes, place))
                })
                .collect(),
        }
    }

    pub(super) fn back_out(
        &mut self,
        raw: &raw::BackOut,
        job: &Job,
        ids: &Table<TaskId, ()>,
    ) -> BackOut {
        let place = "plan.back_out";
        BackOut {
            steps: raw.steps.iter().map(|s| self.step(s, job, ids, place)).collect(),
            points_of_no_return: raw
                .points_of_no_return
                .iter()
                .map(|p| PointOfNoReturn { visit: Period::new(p.from, p.to), at: p.t.map(Minutes) })
                .collect(),
            checkpoints: raw
                .checkpoints
                .iter()
                .map(|c| Checkpoint {
                    task: self.find(ids, &c.task, place),
                    latest: Minutes(c.latest),
                    otherwise: c.otherwise.clone(),
                })
                .collect(),
        }
    }

    pub(super) fn step(
        &mut self,
        raw: &raw::Step,
        job: &Job,
        ids: &Table<TaskId, ()>,
        place: &str,
    ) -> BackOutStep {
        let way = match raw.to.as_str() {
            "back" => Way::Back,
            "forward" => Way::Forward,
            other => {
                self.fault(place, format!("a step goes `back` or `forward`, not `{other}`"));
                Way::Forward
            }
        };
        let acts = raw
            .tasks
            .iter()
            .map(|t| BackOutTask {
                kind: TaskKind::read(&t.kind).unwrap_or_else(|| {
                    self.fault(place, format!("`{}` is no kind of task", t.kind));
                    TaskKind::Prepare
                }),
                of: t.of.as_ref().and_then(|name| self.subject(name, job, place)),
                at: Minutes(t.at),
                minutes: Minutes(t.minutes),
            })
            .collect();
        BackOutStep {
            task: self.find(ids, &raw.task, place),
            way,
            acts,
            minutes: Minutes(raw.minutes),
        }
    }

    pub(super) fn subject(&mut self, name: &str, job: &Job, place: &str) -> Option<Subject> {
        let found = (job.circuits.find(name).map(Subject::Circuit))
            .or_else(|| job.boards.find(name).map(Subject::Board))
            .or_else(|| job.groups.find(name).map(Subject::Group))
            .or_else(|| job.positions.find(name).map(Subject::Position));
        if found.is_none() {
            self.fault(place, format!("`{name}` is no circuit, board, group or position"));
        }
        found
    }
}
