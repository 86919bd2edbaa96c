//! Single-line diagrams: the whole network in one drawing for each stretch between changes of
//! isolation.
//!
//! ```text
//! SoundPlan ─ skeleton ─▶ nets, connections, ways ─ rank, fold, layout ─▶ columns and ranks
//! Replay, minute ─ states ─▶ how each stands ─ labels, notes, fit, geometry ─▶ places
//! places ─ symbols, draw, tiles ─▶ SVG
//! ```
//!
//! States come from the checker's own replay, so that what is drawn is what was judged. State is told by the width and dashes of a line, by the symbol and
//! in words, never by colour.

mod compact;
mod draw;
mod emergency;
mod fit;
mod fold;
mod geometry;
mod labels;
mod layout;
mod notes;
mod rank;
mod skeleton;
mod stages;
mod states;
mod symbols;
mod text;
mod tiles;

use super::Input;
use super::name;
use super::steps::{self, Step};
use crate::model::JointId;
use crate::units::Period;
use draw::Sheet;
use serde::Serialize;
use skeleton::{Link, Skeleton};
use states::{Condition, Moment, Standing};

/// The paper's view.
#[derive(Serialize)]
pub struct View {
    stages: Stages,
}

/// The drawings with their signs, for the paper of their own and for the method statement.
#[derive(Serialize)]
pub struct Stages {
    drawings: Vec<Drawing>,
    legend: Vec<Sign>,
}

/// One drawing with what is told around it.
#[derive(Serialize)]
pub struct Drawing {
    /// Which stage it is.
    pub title: String,
    /// From when to when.
    pub span: String,
    /// The drawing, safe to put into a page as it is: one part for each page that it needs.
    pub parts: Vec<String>,
    /// The switching and locking that leads into it.
    pub changes: Vec<String>,
    /// The steps that run during it.
    pub steps: Vec<Work>,
}

/// A step that runs during a stage.
#[derive(Serialize)]
pub struct Work {
    number: usize,
    title: String,
    when: String,
    people: String,
}

#[derive(Serialize)]
struct Sign {
    svg: String,
    words: &'static str,
}

/// The paper of stage diagrams.
pub fn view(input: &Input, all: &[Step]) -> View {
    View { stages: stages(input, all, "stage") }
}

/// The drawings; `stem` begins the names of what is in them, which no two on a page may share.
pub fn stages(input: &Input, all: &[Step], stem: &str) -> Stages {
    Stages { drawings: drawings(input, all, stem), legend: legend() }
}

/// A drawing for each stage, in order of time; the first is the single-line diagram as found.
fn drawings(input: &Input, all: &[Step], stem: &str) -> Vec<Drawing> {
    let mut skeleton = skeleton::skeleton(input);
    let job = input.sound.job();
    let watches: Vec<bool> = skeleton
        .nets
        .iter()
        .map(|n| n.source.and_then(|s| job.nodes[s].source()).is_some_and(|s| s.watches.is_some()))
        .collect();
    rank::turn(&mut skeleton, |net| watches[net]);
    let stages = stages::stages(input, &skeleton);
    let moments: Vec<Moment> =
        stages.iter().map(|s| Moment::new(input, stages::drawn_at(input, s), s.period)).collect();
    let last = stages.len() - 1;
    let mut out = Vec::new();
    for (i, (stage, moment)) in stages.iter().zip(&moments).enumerate() {
        let title = match i {
            0 => "Single-line diagram as found".to_owned(),
            _ if i == last && stage.changes.is_empty() => "As left".to_owned(),
            _ if i == last => format!("Stage {i}, as left"),
            _ => format!("Stage {i}"),
        };
        let mut span = span(input, stage.period, i == 0, i == last);
        if moment.at > stage.period.from {
            span.push_str(&format!(", drawn as left at {}", input.site.clock.short(moment.at)));
        }
        let told = told(input, &skeleton, moment);
        let changes = stage.changes.iter().map(|e| {
            let by = steps::by(&e.act).map(|b| name::who(input, b.who)).unwrap_or_default();
            format!("{} {} ({by})", input.site.clock.short(e.at), steps::act_text(input, &e.act))
        });
        let changes: Vec<String> = changes.collect();
        let steps = work(input, all, stage.period);
        let beside = around(&changes, &steps);
        let id = format!("{stem}-{i}");
        // As found and as left the whole network is told, if a page holds it.
        let whole = || fit::plate(input, fold::whole(&skeleton, moment), moment, beside);
        let idle = || {
            let drawn = fold::folded(input, &skeleton, moment, stage);
            fit::plate(input, drawn, moment, beside)
        };
        let plate = match i == 0 || i == last {
            true => Some(whole()).filter(|p| p.fits).unwrap_or_else(idle),
            false => idle(),
        };
        let sheet = Sheet { input, moment, plate: &plate };
        let parts = sheet.parts(&id, &format!("{title}: {span}"), &told, beside);
        out.push(Drawing { title, span, parts, changes, steps });
    }
    out
}

/// Room for what is told below a drawing in three columns, in tenths of a millimetre: letters of
/// 7 pt, paragraphs that are not broken.
fn around(changes: &[String], steps: &[Work]) -> i64 {
    const ROW: i64 = 30;
    const APART: i64 = 4;
    // A column of 86 mm in the letters of the drawing, with some room for what is in bold.
    const COLUMN: i64 = 720;
    let mut told: Vec<String> = steps
        .iter()
        .map(|s| format!("Step {}, {}: {} ({})", s.number, s.when, s.title, s.people))
        .collect();
    if !changes.is_empty() {
        told.insert(0, format!("Switched and locked before it: {}.", changes.join("; ")));
    }
    let rows = |t: &String| text::rows(t, false, COLUMN).len() as i64;
    let high: Vec<i64> = told.iter().map(|t| rows(t) * ROW + APART).collect();
    let columns = |room: i64| {
        let (mut count, mut left) = (1, room);
        for one in &high {
            if *one > left {
                (count, left) = (count + 1, room);
            }
            left -= one;
        }
        count
    };
    let most = high.iter().copied().max().unwrap_or(0);
    (most..).step_by(10).find(|room| columns(*room) <= 3).unwrap_or(most) + ROW / 2
}

fn span(input: &Input, period: Period, first: bool, last: bool) -> String {
    let clock = &input.site.clock;
    match (first, last) {
        (true, true) => "no isolation changes".to_owned(),
        (true, false) => format!("until {}", clock.full(period.to)),
        (false, true) => format!("from {}", clock.full(period.from)),
        (false, false) => name::span(input, period),
    }
}

fn work(input: &Input, all: &[Step], period: Period) -> Vec<Work> {
    let running = all.iter().filter(|s| s.period.overlaps(period) && s.kind.is_some());
    running
        .map(|s| Work {
            number: s.number,
            title: steps::title(input, s),
            when: format!(
                "{} to {}",
                input.site.clock.short(s.period.from),
                input.site.clock.time(s.period.to)
            ),
            people: name::people(input, &s.people.iter().copied().collect::<Vec<_>>()),
        })
        .collect()
}

/// The drawing in words, for who cannot see it.
fn told(input: &Input, skeleton: &Skeleton, moment: &Moment) -> String {
    let job = input.sound.job();
    let mut out = Vec::new();
    for condition in [Condition::Live, Condition::LockedOff, Condition::Dead] {
        let boards = job.boards.ids().filter(|b| {
            let place = moment.place(job.boards[*b].ways);
            moment.presence(*b) == states::Presence::There && place.condition == condition
        });
        let names: Vec<String> = boards.map(|b| name::board(input, b)).collect();
        if !names.is_empty() {
            out.push(format!("Ways of {}: {}.", name::list(&names), condition.words()));
        }
    }
    for e in &skeleton.edges {
        match e.link {
            Link::Device(d) => {
                let how = match moment.device(d) {
                    Standing::Closed => continue,
                    Standing::Open => "open, not locked".to_owned(),
                    Standing::Locked(locks) => format!("locked off with {}", name::list(&locks)),
                };
                out.push(format!("{}: {how}.", name::device(input, d)));
            }
            Link::Joint(j) if !moment.joint(j) => {
                out.push(format!("{}: not connected.", joint_name(input, j)));
            }
            Link::Joint(_) => {}
        }
    }
    out.join(" ")
}

fn joint_name(input: &Input, j: JointId) -> String {
    name::with_roles(input, input.sound.job().joints.name(j))
}

fn legend() -> Vec<Sign> {
    let frame = |inside: &str| {
        format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" aria-hidden="true" viewBox="0 0 90 100" width="9mm" height="10mm">{inside}</svg>"#
        )
    };
    let line = |c: Condition| {
        let style = draw::line_style(c, false);
        frame(&format!(r#"<path d="M5 50H85" {style}/>"#))
    };
    let locked = Standing::Locked(Vec::new());
    let switch = |shape, standing: &Standing| frame(&symbols::switch(50, 2, shape, standing));
    use symbols::{Origin, Shape};
    let mut out = vec![
        Sign { svg: line(Condition::Live), words: "live" },
        Sign { svg: line(Condition::Dead), words: "dead, NOT isolated: treat as live" },
        Sign {
            svg: line(Condition::LockedOff),
            words: "isolated: all ways to it locked off, or parted",
        },
    ];
    let shapes = [
        (Shape::SWITCH_DISCONNECTOR, "switch-disconnector"),
        (Shape::BREAKER, "circuit-breaker, fit for isolation"),
        (Shape::RCBO, "with residual-current part"),
        (Shape::FUSE, "fuse"),
        (Shape::FUSE_SWITCH, "fuse-switch"),
        (Shape::ACTING, "contactor or transfer switch, acts by itself"),
    ];
    out.extend(shapes.map(|(s, words)| Sign { svg: switch(s, &Standing::Closed), words }));
    out.push(Sign { svg: switch(Shape::SWITCH_DISCONNECTOR, &Standing::Open), words: "open" });
    out.push(Sign { svg: switch(Shape::SWITCH_DISCONNECTOR, &locked), words: "locked off" });
    let origins = [
        (Origin::Incoming, "incoming supply"),
        (Origin::Generator, "generator"),
        (Origin::Battery, "battery or its converter"),
    ];
    out.extend(origins.map(|(o, words)| Sign { svg: frame(&symbols::source(45, 10, o)), words }));
    out.push(Sign { svg: frame(&symbols::joint(45, 20, true)), words: "termination, made" });
    out.push(Sign { svg: frame(&symbols::joint(45, 20, false)), words: "termination, apart" });
    let arrow =
        format!(r#"<path d="M45 10V40" {}/>"#, draw::line_style(Condition::LockedOff, false));
    out.push(Sign { svg: frame(&format!("{arrow}{}", symbols::arrow(45, 40))), words: "loads" });
    out.push(Sign {
        svg: frame(r#"<path d="M5 50H85" stroke="black" stroke-width="2"/><path d="M45 5V40a10 10 0 0 1 0 20V95" fill="none" stroke="black" stroke-width="2"/>"#),
        words: "passes over, not connected",
    });
    out
}
