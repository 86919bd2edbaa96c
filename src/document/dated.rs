//! Charts for the doors of the boards as they are left at the end of each visit.

use super::Input;
use super::feed::{self, Feed};
use super::name;
use super::steps::{self, Step};
use crate::model::*;
use crate::units::{Minutes, Period};
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    doors: Vec<Door>,
}

#[derive(Serialize)]
struct Door {
    board: String,
    place: String,
    after: String,
    from: String,
    until: String,
    /// Whether its ways are live.
    live: bool,
    rows: Vec<Row>,
    /// How many of the rows are fed from here.
    here: usize,
}

#[derive(Serialize)]
struct Row {
    way: String,
    number: String,
    serves: String,
    fed: String,
    here: bool,
    off: bool,
}

/// A sheet for each door and each visit.
pub fn view(input: &Input, all: &[Step]) -> View {
    let job = input.sound.job();
    let visits: Vec<Period> =
        steps::chapters(input, all).into_iter().filter_map(|c| c.visit).collect();
    let mut seen: Vec<Period> = Vec::new();
    for v in visits {
        if !seen.contains(&v) {
            seen.push(v);
        }
    }
    let mut doors = Vec::new();
    for (i, visit) in seen.iter().enumerate() {
        for b in job.boards.ids().filter(|b| hangs(input, *b, visit.to)) {
            let next = seen.get(i + 1).map(|v| v.from);
            let door = door(input, b, *visit, next, i + 1);
            if !door.rows.is_empty() {
                doors.push(door);
            }
        }
    }
    View { doors }
}

/// Whether the board hangs on its wall at `t`: mounted, and not yet stripped out.
fn hangs(input: &Input, b: BoardId, t: Minutes) -> bool {
    let (plan, replay) = (input.sound.plan(), input.sound.replay());
    let done = |kind: TaskKind| {
        let mut of = plan.tasks.iter().filter(|(_, t)| t.kind == kind && t.board == Some(b));
        of.next()
            .map(|(id, _)| replay.task(id).and_then(|r| r.end).is_some_and(|(end, _)| end <= t))
    };
    input.site.boards[b.index()].role != "STAYS"
        && done(TaskKind::StripOut) != Some(true)
        && done(TaskKind::Mount) != Some(false)
}

fn door(input: &Input, b: BoardId, visit: Period, next: Option<Minutes>, n: usize) -> Door {
    let (job, site) = (input.sound.job(), input.site);
    let clock = &site.clock;
    let t = visit.to;
    let old = site.boards[b.index()].role == "OLD";
    let mut here: Vec<(i64, String, String, CircuitId)> = job
        .circuits
        .ids()
        .filter_map(|c| {
            let label = &site.circuits[c.index()];
            let way = if old { &label.old } else { &label.new };
            let way = way.as_ref().filter(|w| w.board == b)?;
            Some((way.way, way.lines.clone(), way.reference.clone(), c))
        })
        .collect();
    here.sort();
    let rows: Vec<Row> = here.into_iter().map(|(_, _, way, c)| row(input, b, way, c, t)).collect();
    let ways = &job.positions[job.boards[b].ways];
    let live = ways
        .bare
        .iter()
        .any(|n| input.sound.replay().live(*n).at(t).iter().any(|(wire, _)| wire.is_line()));
    Door {
        board: name::board(input, b),
        place: site.boards[b.index()].place.clone(),
        after: format!("Visit {n}, {}", clock.day(visit.from)),
        from: clock.full(t),
        until: match next {
            Some(next) => name::dated(input, next),
            None => "the final chart hangs here".to_owned(),
        },
        live,
        here: rows.iter().filter(|r| r.here).count(),
        rows,
    }
}

fn row(input: &Input, b: BoardId, way: String, c: CircuitId, t: Minutes) -> Row {
    let label = &input.site.circuits[c.index()];
    let fed = feed::at(input, c, t);
    let circuit = name::circuit(input, c);
    Row {
        way,
        number: label.number.clone(),
        serves: label.serves.clone(),
        fed: match fed {
            Feed::Board(here) if here == b => "HERE".to_owned(),
            Feed::Board(there) => match input.site.boards[there.index()].role {
                "NEW" => circuit.new,
                _ => circuit.old,
            },
            Feed::Temporary(s) => format!("TEMPORARY: {}", input.sound.job().supplies.name(s)),
            Feed::Off => "OFF".to_owned(),
        },
        here: fed == Feed::Board(b),
        off: fed == Feed::Off,
    }
}
