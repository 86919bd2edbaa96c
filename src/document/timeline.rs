//! The timeline: one drawing a visit, with people, boards, loads, temporary supplies, the charge
//! of emergency lighting, checkpoints and the point of no return over one scale of time.

mod canvas;
pub mod lanes;

use super::Input;
use super::name;
use super::steps::{self, Chapter, Step};
use crate::model::*;
use crate::plan::Checkpoint;
use crate::units::{Exact, Minutes, Period, fixed, whole};
use canvas::{Anchor, Canvas, Fill, Ink, Text, fitted, listed, width};
use lanes::Lane;
use num_traits::ToPrimitive;
use serde::Serialize;

#[derive(Serialize)]
pub struct View {
    timeline: Timeline,
}

/// The drawings, for the paper of their own and for the method statement.
#[derive(Serialize)]
pub struct Timeline {
    visits: Vec<Visit>,
}

#[derive(Serialize)]
pub struct Visit {
    title: String,
    drawing: String,
    checkpoints: Vec<Check>,
}

/// A checkpoint of the drawing, in words.
#[derive(Serialize)]
struct Check {
    number: usize,
    what: String,
    latest: String,
    otherwise: String,
}

/// Width of the column of labels, in tenths of a millimetre as all measures here.
const LABELS: i64 = 540;
/// Height of a plain lane.
const LANE: i64 = 40;
/// Height of a charge lane.
const CHARGE: i64 = 62;
/// Size of most text: 8 points.
const SIZE: i64 = 28;

/// The paper's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    View { timeline: timeline(input, all, "time") }
}

/// A drawing for a landscape A4 page for each visit; `stem` begins the names of what is in them,
/// which no two on a page may share.
pub fn timeline(input: &Input, all: &[Step], stem: &str) -> Timeline {
    let visits = steps::chapters(input, all).into_iter().enumerate().filter_map(|(i, chapter)| {
        chapter.visit?;
        Some(Visit {
            drawing: draw(input, &chapter, &format!("{stem}{i}"), 2690),
            checkpoints: checkpoints(input, &chapter)
                .into_iter()
                .enumerate()
                .map(|(i, c)| check(input, all, i + 1, c))
                .collect(),
            title: chapter.title,
        })
    });
    Timeline { visits: visits.collect() }
}

fn check(input: &Input, all: &[Step], number: usize, c: &Checkpoint) -> Check {
    Check {
        number,
        what: steps::task_text(input, all, c.task),
        latest: input.site.clock.short(c.latest),
        otherwise: c.otherwise.clone(),
    }
}

/// The checkpoints of a visit, in order of time.
fn checkpoints<'a>(input: &'a Input, chapter: &Chapter) -> Vec<&'a Checkpoint> {
    let of = |c: &&Checkpoint| chapter.steps.iter().any(|s| s.tasks.contains(&c.task));
    let mut all: Vec<&Checkpoint> =
        input.sound.plan().back_out.checkpoints.iter().filter(of).collect();
    all.sort_by_key(|c| c.latest);
    all
}

/// The drawing of a visit as SVG, `wide` tenths of a millimetre wide; `id` tells it from the
/// others of a page.
pub fn draw(input: &Input, chapter: &Chapter, id: &str, wide: i64) -> String {
    let span = span(input, chapter);
    let scale = Scale { span, left: LABELS, right: wide - 10 };
    let marks = marks(input, chapter, span);
    let heavy = marks.iter().map(|m| scale.x(m.at)).collect();
    let mut canvas = Canvas::new(id.to_owned(), wide, heavy);
    let top = flags(&mut canvas, &scale, &marks);
    let mut y = hours(&mut canvas, input, &scale, top);
    let sections = [
        ("PEOPLE, by step", lanes::people(input, &chapter.steps)),
        ("BOARDS, at their ways", lanes::boards(input, span)),
        ("WHAT IS OFF", lanes::loads(input, span)),
        ("TEMPORARY SUPPLIES", lanes::supplies(input, span)),
    ];
    for (title, rows) in &sections {
        if !rows.is_empty() {
            y = heading(&mut canvas, wide, y, title);
        }
        for row in rows {
            lane(&mut canvas, &scale, y, row);
            y += LANE;
        }
    }
    let groups = &input.sound.job().groups;
    if !groups.is_empty() {
        y = heading(&mut canvas, wide, y, "CHARGE OF EMERGENCY LIGHTING");
    }
    for g in groups.ids() {
        charge(&mut canvas, input, &scale, y, g);
        y += CHARGE;
    }
    for mark in &marks {
        let x = scale.x(mark.at);
        canvas.mark([x, top - 6, x, y], mark.weight, mark.dashes);
    }
    y = legend(&mut canvas, y + 12);
    canvas.finish(y, &format!("Timeline. {}", chapter.title), &about(input, chapter, span))
}

/// Minutes to tenths of a millimetre.
struct Scale {
    span: Period,
    left: i64,
    right: i64,
}

impl Scale {
    fn x(&self, t: Minutes) -> i64 {
        let t = t.0.clamp(self.span.from.0, self.span.to.0) - self.span.from.0;
        self.left + t * (self.right - self.left) / self.span.length().0.max(1)
    }
}

/// From the visit's first step to its last, checkpoints and outages included, in full half-hours.
fn span(input: &Input, chapter: &Chapter) -> Period {
    let mut from = chapter.steps.iter().map(|s| s.period.from).min().unwrap_or_default();
    let mut to = chapter.steps.iter().map(|s| s.period.to).max().unwrap_or_default();
    let window = chapter.visit.unwrap_or(Period { from, to });
    for c in checkpoints(input, chapter) {
        to = to.max(c.latest.min(window.to));
    }
    while from.0 % 30 != 0 {
        from += Minutes(-1);
    }
    while to.0 % 30 != 0 || to <= from {
        to += Minutes(1);
    }
    Period { from, to }
}

/// A moment with a flag.
struct Mark {
    at: Minutes,
    word: String,
    bold: bool,
    weight: i64,
    dashes: &'static str,
}

fn marks(input: &Input, chapter: &Chapter, span: Period) -> Vec<Mark> {
    let (clock, plan) = (&input.site.clock, input.sound.plan());
    let mut out: Vec<Mark> = checkpoints(input, chapter)
        .into_iter()
        .enumerate()
        .map(|(i, c)| Mark {
            at: c.latest,
            word: format!("check {}, {}", i + 1, clock.time(c.latest)),
            bold: false,
            weight: 3,
            dashes: "12 8",
        })
        .collect();
    for point in &plan.back_out.points_of_no_return {
        let ours = chapter.visit.is_some_and(|v| v.overlaps(point.visit));
        if let Some(at) = point.at.filter(|_| ours) {
            let word = format!("POINT OF NO RETURN {}", clock.time(at));
            out.push(Mark { at, word, bold: true, weight: 9, dashes: "" });
        }
    }
    for window in input.sound.job().windows.rows() {
        let word = format!("window ends {}", clock.time(window.period.to));
        let twice = out.iter().any(|m| m.word == word);
        if chapter.visit.is_some_and(|v| v.overlaps(window.period)) && !twice {
            out.push(Mark { at: window.period.to, word, bold: false, weight: 5, dashes: "30 8" });
        }
    }
    out.retain(|m| span.from <= m.at && m.at <= span.to);
    out.sort_by_key(|m| m.at);
    out
}

/// Sets the flags of the marks in as many rows as they need; the height of those rows.
fn flags(canvas: &mut Canvas, scale: &Scale, marks: &[Mark]) -> i64 {
    let row = SIZE + 10;
    let mut deepest = 0;
    for mark in marks {
        let x = scale.x(mark.at);
        let room = scale.right - x;
        let (x, anchor) = match width(&mark.word, SIZE, mark.bold) + 8 <= room {
            true => (x + 8, Anchor::Start),
            false => (x - 8, Anchor::End),
        };
        for n in 1..40 {
            let text = Text {
                x,
                y: n * row,
                size: SIZE,
                anchor,
                bold: mark.bold,
                ink: Ink::Black,
                text: &mark.word,
            };
            if canvas.text(text) {
                deepest = deepest.max(n);
                break;
            }
        }
    }
    deepest * row + 10
}

/// Lines and labels of the hours; where the lanes begin.
fn hours(canvas: &mut Canvas, input: &Input, scale: &Scale, top: i64) -> i64 {
    let clock = &input.site.clock;
    for m in scale.span.from.0..=scale.span.to.0 {
        let at = clock.at(Minutes(m));
        if at.minute() == 0 || (at.minute() == 30 && scale.span.length() <= Minutes(480)) {
            let x = scale.x(Minutes(m));
            let word = clock.time(Minutes(m));
            let first = m == scale.span.from.0;
            let anchor = match (first, m == scale.span.to.0) {
                (true, _) => Anchor::Start,
                (_, true) => Anchor::End,
                _ => Anchor::Middle,
            };
            let y = top + SIZE + 4;
            let text = Text { x, y, size: SIZE, anchor, bold: true, ink: Ink::Black, text: &word };
            // Beside a heavy line its flag tells the time.
            let room = width(&word, SIZE, true) / 2 + 6;
            if anchor != Anchor::Middle || canvas.clear(x - room, x + room) {
                canvas.text(text);
            }
            canvas.line([x, y + 8, x, y + 20], 3, "");
        }
    }
    let day = fitted(&clock.day(scale.span.from), SIZE, true, LABELS - 20);
    let y = top + SIZE + 4;
    let anchor = Anchor::Start;
    canvas.text(Text { x: 4, y, size: SIZE, anchor, bold: true, ink: Ink::Black, text: &day });
    y + 20
}

fn heading(canvas: &mut Canvas, wide: i64, y: i64, title: &str) -> i64 {
    canvas.line([0, y + 4, wide, y + 4], 5, "");
    let y = y + SIZE + 10;
    let anchor = Anchor::Start;
    canvas.text(Text { x: 4, y, size: 24, anchor, bold: true, ink: Ink::Black, text: title });
    y + 12
}

fn label(canvas: &mut Canvas, y: i64, size: i64, text: &str, bold: bool) {
    let text = fitted(text, size, bold, LABELS - 16);
    let anchor = Anchor::Start;
    canvas.text(Text { x: 4, y, size, anchor, bold, ink: Ink::Black, text: &text });
}

fn lane(canvas: &mut Canvas, scale: &Scale, y: i64, lane: &Lane) {
    let base = y + SIZE + 4;
    let told = match lane.names.as_slice() {
        [] => lane.label.clone(),
        names => listed(names, SIZE, LABELS - 16),
    };
    label(canvas, base, SIZE, &told, false);
    canvas.line([0, y + LANE, scale.right, y + LANE], 1, "");
    for p in &lane.needed {
        let (from, to) = (scale.x(p.from), scale.x(p.to));
        canvas.rect([from, y + LANE - 10, to - from, 10], Fill::Dotted);
    }
    let height = if lane.needed.is_empty() { LANE - 8 } else { LANE - 16 };
    for bar in &lane.bars {
        let (from, to) =
            (scale.x(bar.period.from), scale.x(bar.period.to).max(scale.x(bar.period.from) + 3));
        canvas.rect([from, y + 4, to - from, height], bar.fill);
        let size = if lane.needed.is_empty() { SIZE } else { 26 };
        let bold = bar.fill == Fill::Solid;
        let w = width(&bar.word, size, bold);
        let top = y + 4;
        let y = top + (height + size) / 2 - 4;
        let (left, right) = match canvas.unparted(from, to) {
            (left, right) if w + 32 <= right - left => (left, right),
            _ => (from, to),
        };
        let mut text = Text {
            x: (left + right) / 2,
            y,
            size,
            anchor: Anchor::Middle,
            bold,
            ink: if bar.fill == Fill::Solid { Ink::White } else { Ink::Black },
            text: &bar.word,
        };
        if w + 8 <= to - from {
            let patterned = matches!(bar.fill, Fill::Hatched | Fill::Crossed);
            if canvas.text(text) && patterned {
                canvas.blank([text.x - w / 2 - 4, top + 2, w + 8, height - 4]);
            }
        } else if lane.beside {
            text.ink = Ink::Black;
            (text.x, text.anchor) = (to + 8, Anchor::Start);
            if !canvas.text(text) {
                (text.x, text.anchor) = (from - 8, Anchor::End);
                canvas.text(text);
            }
        }
    }
}

/// A group's charge over time, and the autonomy that its areas need.
fn charge(canvas: &mut Canvas, input: &Input, scale: &Scale, y: i64, g: GroupId) {
    let job = input.sound.job();
    let group = &job.groups[g];
    let rated = group.rated.0.max(1);
    let (top, foot) = (y + 8, y + CHARGE - 8);
    let at = |charge: &Exact| {
        let part = (charge / whole(rated)).to_f64().unwrap_or(0.0);
        foot - (part * 1000.0).round() as i64 * (foot - top) / 1000
    };
    let mut lowest = whole(rated);
    let mut points = Vec::new();
    for m in scale.span.from.0..=scale.span.to.0 {
        let t = Minutes(m);
        let charge = input.sound.replay().charge_at(job, g, t);
        points.push((scale.x(t), at(&charge)));
        lowest = lowest.min(charge);
    }
    for level in [top, foot] {
        canvas.line([scale.left, level, scale.right, level], 1, "");
    }
    let wanted = group.areas.iter().map(|a| job.areas[*a].autonomy).max().unwrap_or_default();
    let level = at(&wanted.exact());
    canvas.line([scale.left, level, scale.right, level], 2, "6 10");
    canvas.curve(&points);
    let name = job.groups.name(g);
    let low = format!("{name}: at least {} of {rated} min, {} needed", fixed(&lowest, 0), wanted.0);
    label(canvas, y + CHARGE / 2 + 10, 24, &low, false);
}

/// What the fills mean.
fn legend(canvas: &mut Canvas, y: i64) -> i64 {
    let words = [
        (Fill::Solid, "LIVE (boards); live work (people); off (what is off)"),
        (Fill::Blank, "dead, not locked; other work"),
        (Fill::Hatched, "locked off; on temporary supply"),
        (Fill::Crossed, "proved dead"),
        (Fill::Dotted, "hours in which it is needed"),
    ];
    let mut x = 4;
    for (fill, word) in words {
        canvas.rect([x, y, 44, 26], fill);
        let text = Text {
            x: x + 54,
            y: y + 24,
            size: 26,
            anchor: Anchor::Start,
            bold: false,
            ink: Ink::Black,
            text: word,
        };
        canvas.text(text);
        x += 54 + width(word, 26, false) + 40;
    }
    y + 40
}

/// The drawing in words, for those who do not see it.
fn about(input: &Input, chapter: &Chapter, span: Period) -> String {
    let clock = &input.site.clock;
    let mut out = vec![format!("From {} to {}.", clock.full(span.from), clock.full(span.to))];
    for lane in lanes::loads(input, span) {
        let times: Vec<String> = lane
            .bars
            .iter()
            .map(|b| format!("{} to {}", clock.time(b.period.from), clock.time(b.period.to)))
            .collect();
        out.push(format!("{} off {}.", lane.label, name::list(&times)));
    }
    out.extend(marks(input, chapter, span).into_iter().map(|m| format!("{}.", m.word)));
    out.join(" ")
}
