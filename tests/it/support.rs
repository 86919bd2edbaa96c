//! What several modules of tests build on.

use std::collections::BTreeMap;
use wayover::model::*;
use wayover::plan::{Act, Event, Plan};
use wayover::search::Options;
use wayover::units::Minutes;

/// How hard the planner looks where it is measured: as hard as is usual, or with `WAYOVER_MOVES`.
pub fn effort(job: &Job) -> Options {
    let moves = std::env::var("WAYOVER_MOVES").map(|m| m.parse().expect("a number of moves"));
    let usual = Options::usual(job);
    moves.map_or(usual, |moves| Options { moves, ..usual })
}

/// A page without the elements that keep a reference such as `DB-1/5L2` in one row, and without the
/// places at which very long words may be broken.
pub fn unmarked(html: &str) -> String {
    let html = html.replace("<wbr>", "");
    let mut parts = html.split("<span class=\"whole\">");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (run, rest) = part.split_once("</span>").expect("an end of the element");
        assert!(!run.contains('<') && !run.is_empty(), "{run}");
        out.push_str(run);
        out.push_str(rest);
    }
    out
}

/// Task templates for the job of a record, with the durations that its own tasks have.
pub fn labour_of(job: &Job, plan: &Plan) -> Labour {
    let mut by_kind: BTreeMap<TaskKind, Effort> = BTreeMap::new();
    for (_, task) in plan.tasks.iter() {
        by_kind.entry(task.kind).or_insert(Effort {
            duration: task.duration,
            planned: task.planned,
            people: task.people,
        });
    }
    let five =
        Effort { duration: [Minutes(3), Minutes(4), Minutes(9)], planned: Minutes(5), people: 1 };
    let of = |kind: TaskKind| by_kind.get(&kind).cloned().unwrap_or(five.clone());
    let varied = |kind: TaskKind| Varied { fresh: of(kind), prepared: of(kind) };
    let delivered =
        plan.tasks.rows().iter().find(|t| t.kind == TaskKind::Mount).and_then(|t| t.delivery);
    let has_old = |b: BoardId| {
        let ways = &job.positions[job.boards[b].ways].row;
        job.joints.rows().iter().any(|j| {
            matches!(j.of, Some((_, Place::Old))) && (ways.contains(&j.a) || ways.contains(&j.b))
        })
    };
    let role = |b: BoardId| match (has_old(b), job.boards[b].replaces) {
        (true, _) => BoardRole::Old,
        (false, Some(_)) => BoardRole::NewSamePlace,
        (false, None) => BoardRole::NewBeside,
    };
    let new = job.boards.ids().find(|b| role(*b) != BoardRole::Old).expect("a new board");
    let stage =
        if role(new) == BoardRole::NewBeside { TailsStage::Beforehand } else { TailsStage::CutIn };
    let makes: Vec<JointId> =
        job.joints.iter().filter(|(_, j)| j.of.is_none() && !j.made).map(|(i, _)| i).collect();
    let area = plan.tasks.rows().iter().find(|t| t.kind == TaskKind::Isolate).and_then(|t| t.area);
    Labour {
        circuits: job
            .circuits
            .ids()
            .map(|_| CircuitLabour {
                readiness: Readiness::Prepared,
                identify: of(TaskKind::Identify),
                disconnect: varied(TaskKind::Disconnect),
                connect: varied(TaskKind::Connect),
                dead_test: varied(TaskKind::DeadTest),
                live_test: varied(TaskKind::LiveTest),
                hook_up: of(TaskKind::HookUp),
                unhook: of(TaskKind::Unhook),
                delivery: None,
                dressing_rank: None,
                fallback: None,
            })
            .collect(),
        boards: job
            .boards
            .ids()
            .map(|b| BoardLabour {
                role: role(b),
                isolate: of(TaskKind::Isolate),
                isolate_again: of(TaskKind::Isolate),
                energise: Effort { people: 2, ..of(TaskKind::Energise) },
                energise_again: of(TaskKind::Energise),
                strip_out: of(TaskKind::StripOut),
                mount: of(TaskKind::Mount),
                fit_surge: of(TaskKind::FitSurge),
                test_board: of(TaskKind::TestBoard),
                fit_covers: of(TaskKind::FitCovers),
                covers_again: of(TaskKind::FitCovers),
                delivery: delivered.filter(|_| role(b) != BoardRole::Old),
            })
            .collect(),
        positions: job
            .positions
            .ids()
            .map(|_| PositionLabour { area, prove: five.clone(), prove_again: five.clone() })
            .collect(),
        groups: job
            .groups
            .ids()
            .map(|_| GroupLabour { function_test: of(TaskKind::FunctionTest) })
            .collect(),
        supplies: job
            .supplies
            .ids()
            .map(|s| SupplyLabour {
                position: job
                    .positions
                    .iter()
                    .find(|(_, p)| p.board.is_none() && p.bare.contains(&job.supplies[s].node))
                    .map(|(i, _)| i)
                    .expect("a hook-up box"),
                isolate: five.clone(),
                energise: five.clone(),
            })
            .collect(),
        tails: vec![Tails {
            name: "new tails on".to_owned(),
            stage,
            board: new,
            position: job.boards[new].incoming,
            breaks: vec![],
            makes,
            effort: of(TaskKind::ConnectTails),
        }],
        banks: vec![],
        holds: vec![],
        pins: vec![],
        neighbours: vec![],
        lock_box: "box".to_owned(),
    }
}

/// The tasks of a plan in order of time, a line each.
pub fn starts(plan: &Plan) -> String {
    let line = |event: &Event| match &event.act {
        Act::Start { task, who, .. } => {
            let row = &plan.tasks[*task];
            let who: Vec<usize> = who.iter().map(|p| p.index()).collect();
            Some(format!("{} {} ({}) by {who:?}", event.at, plan.tasks.name(*task), row.planned))
        }
        _ => None,
    };
    plan.events.iter().filter_map(line).collect::<Vec<_>>().join("\n")
}
