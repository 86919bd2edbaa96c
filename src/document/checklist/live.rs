//! What is still live where a step lays conductors open, each source told once.

use crate::document::Input;
use crate::document::name;
use crate::document::shrouds;
use crate::document::steps::Step;
use crate::model::*;
use crate::units::{Minutes, Period};
use serde::Serialize;
use std::collections::BTreeSet;

/// What is live in the enclosures of a step.
#[derive(Serialize)]
pub struct Enclosures {
    sources: Vec<Live>,
    /// Where nothing else fed from elsewhere was found on survey, and by whom.
    none_found: Vec<String>,
}

#[derive(Serialize)]
struct Live {
    what: String,
    why: String,
    place: String,
}

/// The enclosures at these places: one row for all places at which a source is live alike.
pub fn enclosures(input: &Input, step: &Step, places: &[PositionId]) -> Enclosures {
    let job = input.sound.job();
    let mut sources: Vec<(NodeId, String, Vec<PositionId>)> = Vec::new();
    let mut none_found: Vec<(String, Vec<PositionId>)> = Vec::new();
    for p in places {
        let here = live(input, step, *p);
        if let Some(none) = &job.positions[*p].none_found {
            let besides = if here.is_empty() { "" } else { "besides what is listed above, " };
            let text = format!(
                "{besides}nothing fed from elsewhere was found on survey, {}, {}. Look again.",
                none.by,
                name::date(&none.when)
            );
            match none_found.iter_mut().find(|(t, _)| *t == text) {
                Some((_, places)) => places.push(*p),
                None => none_found.push((text, vec![*p])),
            }
        }
        for (n, why) in here {
            match sources.iter_mut().find(|(m, w, _)| *m == n && *w == why) {
                Some((.., places)) => places.push(*p),
                None => sources.push((n, why, vec![*p])),
            }
        }
    }
    // One source under another, each with all that is told of it.
    sources.sort_by_key(|(n, ..)| *n);
    let source = |(n, why, places): (NodeId, String, Vec<PositionId>)| Live {
        what: shrouds::name(input, n),
        why,
        place: name::places(input, &places),
    };
    let none = |(text, places): (String, Vec<PositionId>)| {
        format!("{}: {text}", name::places(input, &places))
    };
    Enclosures {
        sources: sources.into_iter().map(source).collect(),
        none_found: none_found.into_iter().map(none).collect(),
    }
}

/// What is live at a place up to the end of the visit, and why.
fn live(input: &Input, step: &Step, p: PositionId) -> Vec<(NodeId, String)> {
    let (job, plan, replay) = (input.sound.job(), input.sound.plan(), input.sound.replay());
    let position = &job.positions[p];
    let mut out: Vec<(NodeId, String)> = Vec::new();
    for n in &position.other_fed {
        out.push((*n, "fed from elsewhere, stays live unless proved dead here".to_owned()));
    }
    // Every dead task at this place up to the end of the visit: what is live at some minute of it.
    let end = replay
        .visits()
        .iter()
        .find(|v| v.contains(step.period.from))
        .map_or(step.period.to, |v| v.to);
    let span = Period { from: step.period.from, to: end.max(step.period.to) };
    let later = plan.claims.still_live.iter().filter(|(t, _)| {
        plan.tasks[**t].position == Some(p)
            && replay.task(**t).is_some_and(|r| span.from <= r.start && r.start < span.to)
    });
    let mut claimed: Vec<NodeId> = later.flat_map(|(_, n)| n.iter().copied()).collect();
    claimed.extend(position.enclosed.iter().filter(|n| hot(input, **n, step.period.to)));
    claimed.sort_unstable();
    let shrouded = behind(input, step.period, span, p);
    let claimed = claimed.into_iter().map(|n| (n, "behind its shroud or passing through"));
    for (n, how) in claimed.chain(shrouded.into_iter().map(|n| (n, "behind its shroud"))) {
        let why = match hot(input, n, step.period.to) {
            true => format!("{how}, LIVE now"),
            false => format!(
                "{how}; {}",
                next_live(input, n, span).unwrap_or_else(|| "goes live during the work".to_owned())
            ),
        };
        told(&mut out, n, why);
    }
    for n in &position.enclosed {
        told(&mut out, *n, "behind its shroud, not proved here; treat as live".to_owned());
    }
    out
}

/// Terminals of the board that are live behind their shroud in the step, or in dead work that comes
/// after it at this place before the visit ends.
fn behind(input: &Input, now: Period, rest: Period, p: PositionId) -> Vec<NodeId> {
    let (plan, replay) = (input.sound.plan(), input.sound.replay());
    let work = plan.tasks.iter().filter(|(_, t)| {
        t.position == Some(p) && t.kind.mode() == Mode::Dead && t.kind != TaskKind::FitCovers
    });
    let runs = work.filter_map(|(t, _)| replay.task(t)).filter_map(|r| {
        let within = rest.from <= r.start && r.start < rest.to;
        r.end.filter(|_| within).map(|(end, _)| Period { from: r.start, to: end })
    });
    let spans = std::iter::once(now).chain(runs);
    let all: BTreeSet<NodeId> = spans.flat_map(|s| shrouds::live(input, p, s)).collect();
    all.into_iter().collect()
}

/// Tells a conductor of which nothing is told yet.
fn told(out: &mut Vec<(NodeId, String)>, n: NodeId, why: String) {
    if out.iter().all(|(m, _)| *m != n) {
        out.push((n, why));
    }
}

fn hot(input: &Input, n: NodeId, t: Minutes) -> bool {
    input.sound.replay().live(n).at(t).iter().any(|(w, _)| w.is_line())
}

fn next_live(input: &Input, n: NodeId, span: Period) -> Option<String> {
    let mut changes = input.sound.replay().live(n).changes();
    changes
        .find(|(t, now)| *t > span.from && *t < span.to && now.iter().any(|(w, _)| w.is_line()))
        .map(|(t, _)| format!("GOES LIVE at {}", input.site.clock.short(t)))
}
