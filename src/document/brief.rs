//! The brief of everybody but the first electrician: a sheet a visit.

mod words;

use super::Input;
use super::name;
use super::steps::{self, Chapter, Step};
use crate::model::*;
use crate::plan::{Act, Key};
use crate::units::Minutes;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    sheets: Vec<Sheet>,
}

#[derive(Serialize)]
struct Sheet {
    person: String,
    others: String,
    visit: String,
    /// So much is done that smaller letters keep it on one sheet.
    dense: bool,
    rows: Vec<Row>,
    locks: Vec<[String; 4]>,
    live: Vec<[String; 2]>,
    stop: Vec<String>,
}

/// What somebody does, and what the others do from then on.
#[derive(Default, Serialize)]
struct Row {
    /// Said above it where another day begins with it.
    day: String,
    mine: Option<Part>,
    theirs: Vec<Part>,
}

/// Somebody's part in a step.
#[derive(Serialize)]
struct Part {
    time: String,
    step: usize,
    title: String,
    /// Other people, or in the other column those who do it.
    who: String,
    lines: String,
    hold: bool,
    say: Option<words::Say>,
}

/// What a sheet holds in letters of the usual size, both sides together.
const MOST_LETTERS: usize = 5_200;

impl Part {
    fn letters(&self) -> usize {
        let said = self.say.as_ref().map_or(0, words::Say::letters);
        [&self.title, &self.who, &self.lines].iter().map(|t| t.chars().count()).sum::<usize>()
            + said
    }
}

/// The briefs, one for each visit and person; none where somebody works alone.
pub fn view(input: &Input, all: &[Step]) -> View {
    let team: Vec<PersonId> = input.sound.job().people.ids().collect();
    let first = first(input, &team);
    let mut sheets = Vec::new();
    for p in team.iter().filter(|p| Some(**p) != first) {
        let mine = |c: &Chapter| c.steps.iter().any(|s| s.people.contains(p));
        let chapters: Vec<Chapter> = steps::chapters(input, all).into_iter().filter(mine).collect();
        let mut next = 0;
        while let Some(chapter) = chapters.get(next) {
            let both = chapters.get(next + 1).map(|visit| with_visit(chapter, visit));
            let both =
                both.filter(|c| chapter.visit.is_none() && letters(input, c, *p) <= MOST_LETTERS);
            next += 1 + usize::from(both.is_some());
            sheets.push(sheet(input, both.as_ref().unwrap_or(chapter), *p, first));
        }
    }
    View { sheets }
}

/// Work before a visit, and the visit, on one sheet.
fn with_visit<'s, 'a>(before: &Chapter<'s, 'a>, visit: &Chapter<'s, 'a>) -> Chapter<'s, 'a> {
    Chapter {
        title: format!("{}, and {}", before.title, visit.title),
        visit: visit.visit,
        steps: before.steps.iter().chain(&visit.steps).copied().collect(),
    }
}

/// How much stands in the rows of a sheet, and in what is live around it.
fn letters(input: &Input, chapter: &Chapter, me: PersonId) -> usize {
    let rows = rows(input, chapter, me);
    let parts = rows.iter().flat_map(|r| r.mine.iter().chain(&r.theirs)).map(Part::letters);
    let live = around(input, chapter, me).into_iter().flatten();
    parts.sum::<usize>() + live.map(|cell| cell.chars().count()).sum::<usize>()
}

/// Whose role says that they are in charge, else the first of the team.
fn first(input: &Input, team: &[PersonId]) -> Option<PersonId> {
    let charge = |p: &&PersonId| input.site.people[p.index()].role.contains("charge");
    team.iter().find(charge).or(team.first()).copied()
}

fn sheet(input: &Input, chapter: &Chapter, me: PersonId, first: Option<PersonId>) -> Sheet {
    let people = &input.sound.job().people;
    let others: Vec<String> = people
        .ids()
        .filter(|p| *p != me && chapter.steps.iter().any(|s| s.people.contains(p)))
        .map(|p| people.name(p).to_owned())
        .collect();
    let rows = rows(input, chapter, me);
    Sheet {
        person: people.name(me).to_owned(),
        others: name::list(&others),
        visit: chapter.title.clone(),
        dense: letters(input, chapter, me) > MOST_LETTERS,
        rows,
        locks: locks(input, chapter, me),
        live: around(input, chapter, me),
        stop: words::stop(input, chapter, first.filter(|p| *p != me)),
    }
}

/// My steps down the page, beside each what the others begin until my next one.
fn rows(input: &Input, chapter: &Chapter, me: PersonId) -> Vec<Row> {
    let mut all: Vec<(Minutes, bool, Part)> = Vec::new();
    for step in &chapter.steps {
        let (mine, theirs) = split(input, step, me);
        if let Some(mine) = mine {
            all.push((mine.period.from, true, part(input, &mine, Some(me))));
        }
        if let Some(theirs) = theirs {
            all.push((theirs.period.from, false, part(input, &theirs, None)));
        }
    }
    // At the same minute mine comes first, so that what the others do stands beside it.
    all.sort_by_key(|(t, mine, part)| (*t, !mine, part.step));
    let mut out: Vec<Row> = Vec::new();
    let mut day = String::new();
    for (t, mine, part) in all {
        let today = input.site.clock.day(t);
        if today != day {
            day.clone_from(&today);
            out.push(Row { day: today, ..Row::default() });
        }
        match out.last_mut() {
            Some(row) if !mine => row.theirs.push(part),
            Some(row) if row.mine.is_none() && row.theirs.is_empty() => row.mine = Some(part),
            _ => out.push(Row { mine: Some(part), ..Row::default() }),
        }
    }
    out
}

/// The part of a step that `me` has a hand in, and the part of the others alone.
fn split<'a>(
    input: &Input<'a>,
    step: &Step<'a>,
    me: PersonId,
) -> (Option<Step<'a>>, Option<Step<'a>>) {
    let replay = input.sound.replay();
    let is_mine = |t: &TaskId| replay.task(*t).is_some_and(|r| r.who.contains(&me));
    let half = |mine: bool| -> Option<Step<'a>> {
        let tasks: Vec<TaskId> =
            step.tasks.iter().filter(|t| is_mine(t) == mine).copied().collect();
        let acts: Vec<_> = step
            .acts
            .iter()
            .filter(|e| match steps::by(&e.act) {
                Some(by) if by.task.is_some() => by.task.is_some_and(|t| is_mine(&t)) == mine,
                Some(by) => (by.who == Who::Person(me)) == mine,
                None => false,
            })
            .copied()
            .collect();
        let idle = tasks.is_empty() && (step.kind.is_some() || acts.is_empty());
        if idle {
            return None;
        }
        let runs = || tasks.iter().filter_map(|t| replay.task(*t));
        let from = runs().map(|r| r.start).min().unwrap_or(step.period.from);
        let to = runs().filter_map(|r| r.end.map(|e| e.0)).max().unwrap_or(step.period.to);
        let of = |who: &Who| match who {
            Who::Person(p) => Some(*p),
            Who::Outsider(_) => None,
        };
        let people = match step.kind {
            Some(_) => runs().flat_map(|r| r.who.iter().copied()).collect(),
            None => acts.iter().filter_map(|e| of(&steps::by(&e.act)?.who)).collect(),
        };
        Some(Step {
            number: step.number,
            kind: step.kind,
            tasks,
            period: crate::units::Period { from, to },
            people,
            acts,
        })
    };
    (half(true), half(false))
}

fn part(input: &Input, step: &Step, me: Option<PersonId>) -> Part {
    let clock = &input.site.clock;
    let others: Vec<PersonId> = step.people.iter().copied().filter(|p| Some(*p) != me).collect();
    let circuits = circuits(input, step);
    let lines = match (circuits.is_empty(), me) {
        (false, _) => circuits,
        (true, Some(me)) => acts(input, step, me),
        (true, None) => String::new(),
    };
    let to = match step.period.length() {
        Minutes(0) => String::new(),
        _ => format!(" to {}", clock.time(step.period.to)),
    };
    Part {
        time: format!("{}{to}", clock.time(step.period.from)),
        step: step.number,
        title: steps::title(input, step),
        who: match step.kind {
            Some(TaskKind::Hold) => steps::hold_by(input, step),
            _ => name::people(input, &others),
        },
        lines,
        hold: matches!(step.kind, Some(TaskKind::Hold | TaskKind::ProveDead | TaskKind::Energise)),
        // A proof at which I have no hand lets me begin nothing.
        say: words::say(input, step, me)
            .filter(|_| me.is_some() || step.kind != Some(TaskKind::ProveDead)),
    }
}

/// My acts of a step and what is made in it, in a line; the readings of all its proofs together.
fn acts(input: &Input, step: &Step, me: PersonId) -> String {
    let mut out: Vec<String> = Vec::new();
    let mut others = false;
    for e in &step.acts {
        let mine = steps::by(&e.act).is_some_and(|by| by.who == Who::Person(me));
        match &e.act {
            Act::Prove(..) => {}
            Act::Make(..) | Act::Break(..) => out.push(steps::act_text(input, &e.act)),
            _ if !mine => others = true,
            Act::BoxLock(_, b) => {
                out.push(format!("Your own lock on {}", name::lock_box(input, *b)));
            }
            Act::BoxUnlock(_, b) => {
                out.push(format!("Your own lock off {}", name::lock_box(input, *b)));
            }
            act => out.push(steps::act_text(input, act)),
        }
    }
    let readings: usize = step
        .proofs()
        .map(|(_, _, p)| p.readings.values().map(|pairs| pairs.len()).sum::<usize>())
        .sum();
    if readings > 0 {
        out.push(format!("{readings} readings; detector proved before and after"));
    }
    if others {
        out.push("The others do theirs, in the order of the checklist".to_owned());
    }
    out.join(". ")
}

/// The circuits of a step with the way that matters in it: where a circuit is found, or goes.
fn circuits(input: &Input, step: &Step) -> String {
    let all: Vec<String> = steps::circuits(input, step)
        .into_iter()
        .map(|c| {
            let name::CircuitName { number, old, new, serves } = name::circuit(input, c);
            match step.kind {
                Some(TaskKind::Disconnect) => format!("{number}\u{a0}({old})"),
                Some(TaskKind::Identify) => format!("{number} ({old}, later {new})"),
                Some(TaskKind::HookUp) => format!("{number} (off {old}: {serves})"),
                Some(TaskKind::Unhook) => format!("{number} (to go on {new}: {serves})"),
                _ => format!("{number}\u{a0}({new})"),
            }
        })
        .collect();
    all.join(", ")
}

/// Padlocks and box locks of `me` in this visit: what, where, on at, off at.
fn locks(input: &Input, chapter: &Chapter, me: PersonId) -> Vec<[String; 4]> {
    let plan = input.sound.plan();
    let clock = &input.site.clock;
    let mut out: Vec<[String; 4]> = Vec::new();
    let acts = chapter.steps.iter().flat_map(|s| s.acts.iter().map(|e| (s.number, *e)));
    for (step, e) in acts {
        if steps::by(&e.act).map(|b| b.who) != Some(Who::Person(me)) {
            continue;
        }
        let when = format!("{}, step {step}", clock.short(e.at));
        let (what, place, on) = match &e.act {
            Act::Lock(_, d, l, key) => {
                let key = match key {
                    Key::Kept => "keep the key".to_owned(),
                    Key::Boxed(b) => format!("key into {}", name::lock_box(input, *b)),
                };
                (format!("{}: {key}", plan.locks.name(*l)), name::device(input, *d), true)
            }
            Act::Unlock(_, d, l) => {
                (plan.locks.name(*l).to_owned(), name::device(input, *d), false)
            }
            Act::BoxLock(_, b) => {
                ("your own lock".to_owned(), plan.boxes.name(*b).to_owned(), true)
            }
            Act::BoxUnlock(_, b) => {
                ("your own lock".to_owned(), plan.boxes.name(*b).to_owned(), false)
            }
            _ => continue,
        };
        if on {
            out.push([what, place, when, String::new()]);
        } else if let Some(row) = out
            .iter_mut()
            .rev()
            .find(|r| r[1] == place && r[0].starts_with(&what) && r[3].is_empty())
        {
            row[3] = when;
        } else {
            out.push([what, place, String::new(), when]);
        }
    }
    out
}

/// What is live where `me` works; places with the same in them together.
fn around(input: &Input, chapter: &Chapter, me: PersonId) -> Vec<[String; 2]> {
    let mut out: Vec<(PositionId, Vec<String>)> = Vec::new();
    for step in chapter.steps.iter().filter(|s| s.people.contains(&me)) {
        let here = steps::live(input, step);
        let Some(place) = step.position(input.sound.plan()).filter(|_| !here.is_empty()) else {
            continue;
        };
        match out.iter_mut().find(|(p, _)| *p == place) {
            Some((_, all)) => all.extend(here),
            None => out.push((place, here)),
        }
    }
    let mut alike: Vec<(Vec<PositionId>, Vec<String>)> = Vec::new();
    for (place, mut all) in out {
        let mut seen = std::collections::BTreeSet::new();
        all.retain(|n| seen.insert(n.clone()));
        match alike.iter_mut().find(|(_, other)| *other == all) {
            Some((places, _)) => places.push(place),
            None => alike.push((vec![place], all)),
        }
    }
    let told = |(places, all): (Vec<PositionId>, Vec<String>)| {
        [name::places(input, &places), all.join("; ")]
    };
    alike.into_iter().map(told).collect()
}
