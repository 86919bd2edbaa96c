//! What each lane of a timeline shows, as stretches of time with a fill and a word.

use super::canvas::Fill;
use crate::document::Input;
use crate::document::name;
use crate::document::steps::Step;
use crate::document::ways::main_switch;
use crate::model::*;
use crate::units::{Minutes, Period};

/// A stretch of a lane.
pub struct Bar {
    pub period: Period,
    pub fill: Fill,
    /// In it or beside it, where there is room.
    pub word: String,
}

/// One lane.
pub struct Lane {
    pub label: String,
    /// What the label lists, where it may be cut short.
    pub names: Vec<String>,
    pub bars: Vec<Bar>,
    /// A thin band at its foot: when the load is needed.
    pub needed: Vec<Period>,
    /// Whether a word that does not fit in its bar may stand beside it.
    pub beside: bool,
}

fn lane(label: String, bars: Vec<Bar>) -> Lane {
    Lane { label, names: Vec::new(), bars, needed: Vec::new(), beside: false }
}

/// People with work among the steps, then those outside the team, by hold.
pub fn people(input: &Input, steps: &[&Step]) -> Vec<Lane> {
    let (job, plan) = (input.sound.job(), input.sound.plan());
    let mut out = Vec::new();
    let mut holds: Vec<Bar> = Vec::new();
    for p in job.people.ids() {
        let mut runs: Vec<(Period, usize, bool)> = Vec::new();
        for step in steps {
            for t in &step.tasks {
                let Some(run) = input.sound.replay().task(*t) else { continue };
                let end = run.end.map_or(step.period.to, |(e, _)| e);
                let live = plan.tasks[*t].kind.mode() == Mode::Live;
                if run.who.contains(&p) {
                    runs.push((Period { from: run.start, to: end }, step.number, live));
                }
            }
        }
        runs.sort_unstable();
        let mut bars: Vec<(Period, usize, bool)> = Vec::new();
        for (period, number, live) in runs {
            match bars.last_mut() {
                Some((last, n, l)) if (*n, *l) == (number, live) => last.to = period.to,
                _ => bars.push((period, number, live)),
            }
        }
        let bars: Vec<Bar> = bars
            .into_iter()
            .map(|(period, number, live)| Bar {
                period,
                fill: if live { Fill::Solid } else { Fill::Blank },
                word: number.to_string(),
            })
            .collect();
        if !bars.is_empty() {
            out.push(lane(job.people.name(p).to_owned(), bars));
        }
    }
    for step in steps.iter().filter(|s| s.kind == Some(TaskKind::Hold)) {
        let (period, word) = (step.period, step.number.to_string());
        holds.push(Bar { period, fill: Fill::Blank, word });
    }
    if !holds.is_empty() {
        out.push(lane("outside people".to_owned(), holds));
    }
    out
}

/// How a board stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stand {
    Absent,
    Live,
    Dead,
    Locked,
    Proved,
}

/// Boards, each live, dead, locked off or proved dead.
pub fn boards(input: &Input, span: Period) -> Vec<Lane> {
    let job = input.sound.job();
    job.boards
        .ids()
        .map(|b| {
            let mut bars: Vec<(Period, Stand)> = Vec::new();
            for m in span.from.0..span.to.0 {
                let stand = stand(input, b, Minutes(m));
                match bars.last_mut() {
                    Some((last, s)) if *s == stand => last.to = Minutes(m + 1),
                    _ => bars.push((Period::new(m, m + 1), stand)),
                }
            }
            let bars = bars
                .into_iter()
                .filter_map(|(period, stand)| {
                    let (fill, word) = match stand {
                        Stand::Absent => return None,
                        Stand::Live => (Fill::Solid, "LIVE"),
                        Stand::Dead => (Fill::Blank, "dead"),
                        Stand::Locked => (Fill::Hatched, "locked off"),
                        Stand::Proved => (Fill::Crossed, "proved dead"),
                    };
                    Some(Bar { period, fill, word: word.to_owned() })
                })
                .collect();
            lane(name::board(input, b), bars)
        })
        .collect()
}

fn stand(input: &Input, b: BoardId, t: Minutes) -> Stand {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let done = |kind: TaskKind| {
        let tasks = input.sound.plan().tasks.iter();
        tasks
            .filter(|(_, task)| task.kind == kind && task.board == Some(b))
            .filter_map(|(id, _)| replay.task(id)?.end)
            .map(|(end, _)| end)
            .min()
    };
    let there = done(TaskKind::Mount).is_none_or(|end| end <= t)
        && done(TaskKind::StripOut).is_none_or(|end| t < end);
    let ways = job.boards[b].ways;
    if !there {
        Stand::Absent
    } else if live(job, b).iter().any(|n| replay.live(*n).at(t).iter().any(|(w, _)| w.is_line())) {
        Stand::Live
    } else if *replay.proved(ways).at(t) {
        Stand::Proved
    } else if *replay.secured(ways).at(t) {
        Stand::Locked
    } else {
        Stand::Dead
    }
}

/// The nodes by which a board is live: its busbars, below the main switch.
pub fn live(job: &Job, b: BoardId) -> Vec<NodeId> {
    let ways = &job.positions[job.boards[b].ways];
    match main_switch(job, b) {
        Some(d) => vec![job.devices[d].b],
        None => ways.bare.iter().filter(|n| !ways.other_fed.contains(n)).copied().collect(),
    }
}

/// Loads out in the span: those with the same outages and the same needed hours in one lane.
pub fn loads(input: &Input, span: Period) -> Vec<Lane> {
    let job = input.sound.job();
    let mut rows: Vec<(Vec<Period>, Vec<Period>, Vec<String>)> = Vec::new();
    for (id, load) in job.loads.iter() {
        let out: Vec<Period> = input
            .sound
            .replay()
            .outages(id)
            .iter()
            .map(|o| o.whole)
            .filter(|p| p.overlaps(span))
            .collect();
        let needed: Vec<Period> =
            load.needed.iter().filter(|p| p.overlaps(span)).copied().collect();
        let name = job.loads.name(id).to_owned();
        match rows.iter_mut().find(|(o, n, _)| *o == out && *n == needed) {
            _ if out.is_empty() => {}
            Some((_, _, names)) => names.push(name),
            None => rows.push((out, needed, vec![name])),
        }
    }
    rows.sort();
    rows.into_iter()
        .map(|(out, needed, names)| Lane {
            label: name::list(&names),
            names,
            bars: out
                .into_iter()
                .map(|period| Bar {
                    period,
                    fill: Fill::Solid,
                    word: name::minutes(period.length()),
                })
                .collect(),
            needed,
            beside: true,
        })
        .collect()
}

/// Circuits on temporary supplies in the span.
pub fn supplies(input: &Input, span: Period) -> Vec<Lane> {
    let job = input.sound.job();
    let mut out = Vec::new();
    for s in job.supplies.ids() {
        for c in job.circuits.ids() {
            let mut bars = Vec::new();
            let mut since: Option<Minutes> = None;
            let changes: Vec<(Minutes, bool)> = input
                .sound
                .replay()
                .riding(c)
                .changes()
                .map(|(t, on)| (t, *on == Some(s)))
                .collect();
            for (t, on) in changes.into_iter().chain([(span.to, false)]) {
                match (since, on) {
                    (None, true) => since = Some(t),
                    (Some(from), false) => {
                        bars.push(Period { from, to: t });
                        since = None;
                    }
                    _ => {}
                }
            }
            bars.retain(|p| p.overlaps(span));
            if !bars.is_empty() {
                let circuit = name::circuit(input, c);
                let (number, serves) = (circuit.number, circuit.serves);
                let bar = |period| Bar { period, fill: Fill::Hatched, word: serves.clone() };
                let label = format!("{}: {number}", job.supplies.name(s));
                out.push(Lane { beside: true, ..lane(label, bars.into_iter().map(bar).collect()) });
            }
        }
    }
    out
}
