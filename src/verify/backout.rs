//! Back-out (B1): every task during which a load is out says how the loads come back.

use super::breach::{Kind, Report, facts};
use super::cost::Worked;
use super::limits::{back_in_time, left_off};
use super::outages::Outage;
use super::site::Site;
use crate::model::*;
use crate::plan::{BackOutStep, BackOutTask, Subject, Way};
use crate::units::{Minutes, Period};
use std::collections::BTreeMap;

/// A task's moments in its visit.
#[derive(Clone, Copy, Debug)]
struct Moments {
    task: TaskId,
    first: Minutes,
    last: Minutes,
    visit: Option<Period>,
}

/// B1 of the whole plan.
pub(super) fn b1_back_out(
    site: &Site,
    worked: &Worked,
    outages: &[Vec<Outage>],
    finished: &BTreeMap<TaskId, Minutes>,
    out: &mut Report,
) {
    let back_out = &site.plan.back_out;
    let mut points: Vec<(Period, Option<Minutes>)> = Vec::new();
    for p in &back_out.points_of_no_return {
        if points.iter().any(|(v, _)| *v == p.visit) {
            out.add_at(Kind::PointTwice, Some(p.visit.from), None, facts![p.visit.from]);
            continue;
        }
        // Ways and tails are whole until strip out begins; after that nothing goes back.
        let stripped = worked.iter().any(|(task, _, start, _)| {
            site.task(*task).kind == TaskKind::StripOut
                && p.visit.contains(*start)
                && p.at.is_some_and(|t| *start < t)
        });
        let within = !stripped && p.at.is_none_or(|t| p.visit.from <= t && t <= p.visit.to);
        if !site.visits.contains(&p.visit) || !within {
            out.add_at(Kind::PointOutsideVisit, p.at, None, facts![p.visit.from]);
        }
        points.push((p.visit, p.at));
    }
    let spans: Vec<Vec<Period>> =
        outages.iter().map(|o| o.iter().map(|o| o.whole).collect()).collect();
    // A load that the job leaves off comes back by neither way.
    let ending: Vec<Vec<Period>> = site
        .job
        .loads
        .iter()
        .map(|(id, load)| {
            let stays = |o: &&Period| left_off(site.job, load) && o.to >= site.job.span.to;
            spans[id.index()].iter().filter(|o| !stays(o)).copied().collect()
        })
        .collect();
    for m in moments(site, worked) {
        let needs = needed_forward(&ending, m.first, m.last);
        let mut steps = back_out.steps.iter().filter(|s| s.task == m.task);
        let Some(step) = steps.next() else {
            if needs.is_some() {
                out.add_at(Kind::NoStep, Some(m.first), None, facts![m.task]);
            }
            continue;
        };
        if steps.next().is_some() {
            out.add_at(Kind::StepTwice, Some(m.first), None, facts![m.task]);
        }
        lengths(site, step, out);
        let Some(forward) = needs else { continue };
        let point = points.iter().find(|(v, _)| Some(*v) == m.visit).and_then(|(_, p)| *p);
        let way = if point.is_some_and(|p| m.last <= p) { Way::Back } else { Way::Forward };
        if step.way != way {
            let kind = if way == Way::Back { Kind::ShouldGoBack } else { Kind::ShouldGoForward };
            out.add_at(kind, Some(m.first), None, facts![m.task]);
            continue;
        }
        match way {
            Way::Forward if step.minutes < forward => {
                let facts = facts![m.task, step.minutes, forward];
                out.add_at(Kind::ForwardTooShort, Some(m.first), None, facts);
            }
            Way::Forward => {}
            Way::Back => back(site, worked, step, m, &spans, out),
        }
    }
    for c in &back_out.checkpoints {
        match finished.get(&c.task) {
            Some(t) if *t <= c.latest => {}
            _ => out.add_at(Kind::CheckpointMissed, Some(c.latest), None, facts![c.task, c.latest]),
        }
        if c.otherwise.trim().is_empty() {
            out.add_at(Kind::CheckpointSilent, Some(c.latest), None, facts![c.task]);
        }
    }
}

/// From its start to its finish, and on to the next start of any task in the visit.
fn moments(site: &Site, worked: &Worked) -> Vec<Moments> {
    // `worked` is in order of start, as the events are.
    let visits: Vec<Option<Period>> = worked
        .iter()
        .map(|(_, _, start, end)| {
            site.visit(*start).or_else(|| {
                site.visits.iter().copied().find(|v| v.overlaps(Period { from: *start, to: *end }))
            })
        })
        .collect();
    worked
        .iter()
        .enumerate()
        .map(|(i, (task, _, start, end))| {
            let visit = visits[i];
            let next = worked
                .iter()
                .skip(i + 1)
                .find(|w| visit.is_some_and(|v| v.contains(w.2)))
                .map(|w| w.2);
            Moments { task: *task, first: *start, last: next.map_or(*end, |n| n.max(*end)), visit }
        })
        .collect()
}

/// How long the plan takes at most, from any moment at which a load is out, until all loads
/// then out are back; `None` if none is out at any of them. An outage that begins in the minute
/// in which the task ends belongs to what comes next, as the given records have it.
fn needed_forward(spans: &[Vec<Period>], first: Minutes, last: Minutes) -> Option<Minutes> {
    // From a given moment the wait is until the last end of the outages then on, so that the
    // first moment of each outage among these is the worst.
    spans
        .iter()
        .flatten()
        .filter(|o| o.from < last && first < o.to)
        .map(|o| o.to - o.from.max(first))
        .max()
}

fn lengths(site: &Site, step: &BackOutStep, out: &mut Report) {
    let longest = step.acts.iter().map(|a| a.at + a.minutes).max();
    let listed = longest.is_none_or(|l| l == step.minutes);
    let needed = step.way == Way::Back && longest.is_none();
    let early = step.acts.iter().any(|a| a.at < Minutes::ZERO);
    if !listed || needed || early {
        out.add_at(Kind::StepLength, None, None, facts![step.task, step.minutes]);
    }
    for act in &step.acts {
        if let Some(planned) = planned(site, act).filter(|p| act.minutes < *p) {
            out.add_at(
                Kind::BackOutTaskTooShort,
                None,
                None,
                facts![step.task, act.minutes, planned],
            );
        }
    }
}

/// What the plan takes for a back-out task's kind and subject.
fn planned(site: &Site, act: &BackOutTask) -> Option<Minutes> {
    site.plan
        .tasks
        .rows()
        .iter()
        .filter(|t| {
            t.kind == act.kind
                && match act.of {
                    None => true,
                    Some(Subject::Circuit(c)) => t.circuit == Some(c),
                    Some(Subject::Board(b)) => t.board == Some(b) || site.board_of(t) == Some(b),
                    Some(Subject::Group(g)) => t.group == Some(g),
                    Some(Subject::Position(p)) => t.position == Some(p),
                }
        })
        .map(|t| t.planned)
        .min()
}

fn back(
    site: &Site,
    worked: &Worked,
    step: &BackOutStep,
    m: Moments,
    spans: &[Vec<Period>],
    out: &mut Report,
) {
    let stripped = worked.iter().any(|(task, _, start, _)| {
        site.task(*task).kind == TaskKind::StripOut
            && m.visit.is_some_and(|v| v.contains(*start))
            && *start < m.last
    });
    if stripped {
        out.add_at(Kind::BackAfterStrip, Some(m.first), None, facts![m.task]);
    }
    for load in site.job.loads.ids() {
        for (i, o) in spans[load.index()].iter().enumerate() {
            if o.from >= m.last || o.to <= m.first {
                continue;
            }
            // The latest moment at which this outage is on is the worst.
            let moment = m.last.min(o.to - Minutes(1));
            if !back_in_time(site, load, &spans[load.index()], i, moment + step.minutes) {
                out.add_at(
                    Kind::BackTooLate,
                    Some(moment),
                    None,
                    facts![m.task, load, step.minutes],
                );
            }
        }
    }
}
