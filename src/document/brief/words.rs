//! What is said aloud at each hold point, and what to do when something is not as drawn.

use crate::document::Input;
use crate::document::name;
use crate::document::steps::{self, Chapter, Step};
use crate::model::*;
use crate::plan::Act;
use crate::units::Minutes;
use serde::Serialize;

/// Words at a hold point and the words that answer them.
#[derive(Serialize)]
pub struct Say {
    speaker: String,
    words: String,
    answer: String,
    /// Whoever holds the sheet speaks first.
    mine: bool,
}

impl Say {
    /// How much is said, both ways.
    pub fn letters(&self) -> usize {
        self.words.chars().count() + self.answer.chars().count()
    }
}

/// What is said at a step, if it is a hold point; `me` holds the sheet and has a hand in it.
pub fn say(input: &Input, step: &Step, me: Option<PersonId>) -> Option<Say> {
    let (words, answer) = match step.kind? {
        TaskKind::Isolate => {
            let what = devices(input, step, |a| matches!(a, Act::Open(..) | Act::Lock(..)));
            (
                format!("I open and lock off {what}."),
                format!("You open and lock off {what}. Hands off until it is proved dead."),
            )
        }
        TaskKind::ProveDead => {
            let places = steps::proved_places(input, step);
            let count: usize = step
                .proofs()
                .map(|(_, _, p)| p.readings.values().map(|r| r.len()).sum::<usize>())
                .sum();
            (
                format!("{places}: {count} readings, all dead, detector proved before and after."),
                format!("{places} proved dead, {count} readings. I begin."),
            )
        }
        TaskKind::Energise => {
            let what = devices(input, step, |a| matches!(a, Act::Close(..)));
            let place = energised(input, step);
            match what.as_str() {
                "" => (format!("{place} is live."), format!("{place} is live. Hands off.")),
                _ => (
                    format!("I close {what}. Who is at {place}?"),
                    format!("I am clear of {place}, hands off, no lock of mine is on it. Close."),
                ),
            }
        }
        TaskKind::Hold => {
            let title = steps::title(input, step);
            let what = title.trim_start_matches("HOLD: ").to_owned();
            (format!("{what}."), format!("{what}, heard. We go on."))
        }
        _ => return None,
    };
    let speaker = match step.kind {
        Some(TaskKind::Hold) => steps::hold_by(input, step),
        _ => name::people(input, &step.people.iter().copied().take(1).collect::<Vec<_>>()),
    };
    let mine = me.is_some() && step.people.first().copied() == me;
    Some(Say { speaker, words, answer, mine })
}

/// What is made live in the step: its board and every other that its devices feed, or the supply.
fn energised(input: &Input, step: &Step) -> String {
    let (job, plan, replay) = (input.sound.job(), input.sound.plan(), input.sound.replay());
    let board = step.tasks.iter().find_map(|t| plan.tasks[*t].board);
    let live = |b: BoardId, t: Minutes| {
        let bare = |p: PositionId| job.positions[p].bare.iter();
        let mut nodes = bare(job.boards[b].incoming).chain(bare(job.boards[b].ways));
        nodes.any(|n| replay.live(*n).at(t).iter().any(|(wire, _)| wire.is_line()))
    };
    let closed = step.acts.iter().filter(|e| matches!(e.act, Act::Close(..)));
    let closed: Vec<Minutes> = closed.map(|e| e.at).collect();
    let made = |b: &BoardId| closed.iter().any(|t| live(*b, *t) && !live(*b, *t - Minutes(1)));
    let boards: Vec<String> = (job.boards.ids())
        .filter(|b| board == Some(*b) || board.is_some() && made(b))
        .map(|b| name::board(input, b))
        .collect();
    if !boards.is_empty() {
        return name::list(&boards);
    }
    let closed = step.acts.iter().filter_map(|e| match e.act {
        Act::Close(_, d) => Some(&job.devices[d]),
        _ => None,
    });
    let ends: Vec<NodeId> = closed.flat_map(|d| [d.a, d.b]).collect();
    match job.supplies.iter().find(|(_, s)| ends.contains(&s.node)) {
        Some((s, _)) => format!("{} and what is on it", job.supplies.name(s)),
        None => "what it feeds".to_owned(),
    }
}

fn devices(input: &Input, step: &Step, which: fn(&Act) -> bool) -> String {
    let mut out: Vec<String> = Vec::new();
    for e in step.acts.iter().filter(|e| which(&e.act)) {
        if let Act::Open(_, d) | Act::Close(_, d) | Act::Lock(_, d, ..) = &e.act {
            let text = name::device(input, *d);
            if !out.contains(&text) {
                out.push(text);
            }
        }
    }
    match out.len() {
        0..4 => name::list(&out),
        n => format!("{} and {} more", out[..2].join(", "), n - 2),
    }
}

/// What to do when something is not as drawn.
pub fn stop(input: &Input, chapter: &Chapter, first: Option<PersonId>) -> Vec<String> {
    let people = &input.sound.job().people;
    let first = first.map_or("the person in charge".to_owned(), |p| people.name(p).to_owned());
    let mut out = vec![
        "Say STOP aloud. Hands away. Leave it as it is: close, open and pull nothing.".to_owned(),
        "It counts whatever it is: voltage or current where there should be none; a number, a colour or a line that is not as printed; a neutral that belongs elsewhere; a lock that is not where it should be.".to_owned(),
        format!("Tell {first}. Your locks stay on."),
        "Go on only when both of you know why, it is written down, and the place is proved dead again.".to_owned(),
    ];
    let points = &input.sound.plan().back_out.points_of_no_return;
    if let Some(visit) = chapter.visit {
        let at = points.iter().find(|p| p.visit.overlaps(visit)).and_then(|p| p.at);
        out.push(match at {
            Some(at) => format!(
                "If it cannot be cleared up: until {} we go back as it stood; after that we go on with the plan. {first} decides.",
                input.site.clock.short(at)
            ),
            None => format!("If it cannot be cleared up, {first} decides how the plan goes on."),
        });
    }
    let paper = &input.site.paper;
    if !paper.emergency_number.is_empty() {
        let aid = match paper.first_aid.as_str() {
            "" => String::new(),
            place => format!(" First aid: {place}."),
        };
        out.push(format!("Somebody hurt: switch off first, then {}.{aid}", paper.emergency_number));
    }
    out
}
