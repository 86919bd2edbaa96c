//! People over the whole plan (S3): breaks, walking, and work that is left undone.

use super::breach::{Kind, Report, facts};
use super::cost::Worked;
use super::now::Now;
use super::site::{Site, stated};
use crate::model::*;
use crate::plan::Act;
use crate::units::{Minutes, Period};
use std::collections::BTreeMap;

/// Breaks and walking of each person.
pub(super) fn people(site: &Site, worked: &Worked, out: &mut Report) {
    let mut days: BTreeMap<PersonId, Vec<(Period, TaskId)>> = BTreeMap::new();
    for (task, who, start, end) in worked {
        for p in who {
            days.entry(*p).or_default().push((Period { from: *start, to: *end }, *task));
        }
    }
    for (person, mut spans) in days {
        spans.sort_by_key(|(s, _)| *s);
        walking(site, person, &spans, out);
        breaks(site, person, &spans, out);
    }
}

/// The minutes from place to place lie in the time between tasks.
fn walking(site: &Site, person: PersonId, spans: &[(Period, TaskId)], out: &mut Report) {
    let mut last: Option<PositionId> = None;
    let mut free = Minutes::ZERO;
    let mut end: Option<Minutes> = None;
    for (span, task) in spans {
        if let Some(end) = end {
            free += (span.from - end).max(Minutes::ZERO);
        }
        end = Some(end.map_or(span.to, |e| e.max(span.to)));
        let Some(position) = site.task(*task).position else { continue };
        if let Some(before) = last {
            let minutes = walk(site.job, before, position);
            if free < minutes {
                out.add_at(
                    Kind::NoTimeToWalk,
                    Some(span.from),
                    None,
                    facts![person, *task, minutes],
                );
            }
        }
        last = Some(position);
        free = Minutes::ZERO;
    }
}

fn walk(job: &Job, from: PositionId, to: PositionId) -> Minutes {
    let listed = job
        .walks
        .iter()
        .filter(|w| (w.a, w.b) == (from, to) || (w.b, w.a) == (from, to))
        .map(|w| w.minutes)
        .max();
    listed.filter(|_| from != to).unwrap_or(Minutes::ZERO)
}

/// No stretch from the first task after a break to the end of the last before the next is too long.
fn breaks(site: &Site, person: PersonId, spans: &[(Period, TaskId)], out: &mut Report) {
    let policy = &site.job.policy;
    let acts: Vec<Minutes> = site
        .plan
        .events
        .iter()
        .filter(|e| match &e.act {
            Act::BoxLock(by, _) | Act::BoxUnlock(by, _) => {
                by.task.is_none() && by.who == Who::Person(person)
            }
            _ => false,
        })
        .map(|e| e.at)
        .collect();
    let mut began: Option<Minutes> = None;
    let mut end = Minutes::ZERO;
    for (span, _) in spans {
        match began {
            Some(_) if !rested(end, span.from, &acts, policy.break_length) => {}
            _ => began = Some(span.from),
        }
        end = end.max(span.to);
        if let Some(began) = began
            && span.to - began > policy.longest_stretch
        {
            let stretch = span.to - began;
            out.add_at(Kind::NoBreak, Some(span.to), None, facts![person, stretch]);
            return;
        }
    }
}

/// Whether `[from, to)` holds a break in which nothing is done.
fn rested(from: Minutes, to: Minutes, acts: &[Minutes], length: Minutes) -> bool {
    let mut at = from;
    for act in acts.iter().filter(|a| from <= **a && **a <= to) {
        if *act - at >= length {
            return true;
        }
        at = *act;
    }
    to - at >= length
}

/// The state at the end of the last window: every circuit that moves is where it goes, live and
/// tested.
pub(super) fn unfinished(now: &Now, at: Minutes, out: &mut Report) {
    let site = now.site;
    for c in site.job.circuits.ids() {
        let own = &site.own[c.index()];
        if !own.moves || stated(&site.job.circuits[c].left_off) {
            continue;
        }
        let placed = own.joints.iter().all(|j| {
            let new = matches!(site.job.joints[*j].of, Some((_, Place::New)));
            now.joints[j.index()] == new
        });
        let done = |kind| site.tasks_of(c, kind).any(|t| now.passed(t));
        let tested =
            [TaskKind::Connect, TaskKind::DeadTest, TaskKind::LiveTest].into_iter().all(done);
        if !placed {
            out.add_at(Kind::NotMoved, Some(at), None, facts![c]);
        }
        if !tested {
            out.add_at(Kind::NotTested, Some(at), None, facts![c]);
        }
        if !now.fully_live(c) {
            out.add_at(Kind::NotLiveAtEnd, Some(at), None, facts![c]);
        }
    }
}

/// Tasks begun and not finished, or owed and never begun.
pub(super) fn left_undone(now: &Now, out: &mut Report) {
    use TaskKind::*;
    let site = now.site;
    for (id, row) in site.plan.tasks.iter() {
        let optional = matches!(
            row.kind,
            Isolate | ProveDead | Energise | FitCovers | Dress | HookUp | Unhook
        );
        let left_off = row.circuit.is_some_and(|c| stated(&site.job.circuits[c].left_off));
        match now.run(id) {
            Some(run) if run.end.is_none() => {
                out.add_at(Kind::NotFinished, Some(run.start), None, facts![id]);
            }
            // What a failed test of a board or group means, W4 and E4 tell.
            Some(_) if matches!(row.kind, TestBoard | FunctionTest) => {}
            Some(_) if !now.passed(id) && !again(now, row) => {
                out.add_at(Kind::NotPassed, None, None, facts![id]);
            }
            None if !optional && !left_off => {
                out.add_at(Kind::NeverBegun, None, None, facts![id]);
            }
            _ => {}
        }
    }
}

/// Whether another task of the same kind and subject has passed: what failed was done again.
fn again(now: &Now, row: &Task) -> bool {
    let subject = |t: &Task| (t.kind, t.circuit, t.board, t.group, t.position);
    now.site.plan.tasks.iter().any(|(id, t)| subject(t) == subject(row) && now.passed(id))
}
