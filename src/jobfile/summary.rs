//! What `check` says that it understood: the data, and its rendering for a terminal.

use super::Resolved;
use super::matrix::{Matrix, matrix};
use crate::model::site::{OpenQuestion, Severity};
use crate::model::*;
use crate::units::{Minutes, Period, plain};
use std::fmt::Write;

const COLUMNS: usize = 80;

/// What was understood of a job.
#[derive(Clone, Debug)]
pub struct Summary {
    /// Name of the job.
    pub name: String,
    /// Time looked at, in words.
    pub span: String,
    /// Boards.
    pub boards: Vec<BoardLine>,
    /// Circuits that move to a new way.
    pub moved: usize,
    /// Circuits with a stated end, and which.
    pub ends: Vec<(String, &'static str, String)>,
    /// Loads by importance, most important first: word, weight, names.
    pub loads: Vec<(String, String, Vec<String>)>,
    /// Emergency lighting, old against new.
    pub matrix: Matrix,
    /// Windows: name, when, areas where not all.
    pub windows: Vec<(String, String, String)>,
    /// Deliveries: name, when, what waits for them.
    pub deliveries: Vec<(String, String, Vec<String>)>,
    /// Temporary supplies: name, ways, and the circuits that may go on them.
    pub supplies: Vec<(String, i64, Vec<String>)>,
    /// Defaults used: what, value, how often.
    pub defaults: Vec<(String, String, usize)>,
    /// Open questions, worst first.
    pub questions: Vec<OpenQuestion>,
    /// Whether the papers stay drafts.
    pub draft: bool,
}

/// A board in the summary.
#[derive(Clone, Debug)]
pub struct BoardLine {
    /// Its name.
    pub name: String,
    /// `OLD`, `NEW` or `STAYS`.
    pub role: &'static str,
    /// Number of ways.
    pub ways: i64,
    /// By line: outlets used before and after, and spare after.
    pub lines: Vec<(&'static str, i64, i64, i64)>,
    /// What feeds it.
    pub fed_from: String,
}

/// What was understood of a job.
pub fn summary(r: &Resolved) -> Summary {
    let (job, site) = (&r.job, &r.site);
    let names =
        |ids: &[AreaId]| ids.iter().map(|a| job.areas.name(*a)).collect::<Vec<_>>().join(", ");
    Summary {
        name: job.name.clone(),
        span: stretch(r, job.span),
        boards: job.boards.ids().map(|id| board(r, id)).collect(),
        moved: job.joints.rows().iter().filter(|j| matches!(j.of, Some((_, Place::New)))).count(),
        ends: (site.ends.iter())
            .map(|e| (job.circuits.name(e.circuit).to_string(), e.end, e.why.clone()))
            .collect(),
        loads: loads(r),
        matrix: matrix(job, &site.groups),
        windows: (job.windows.iter())
            .map(|(id, w)| {
                let some = w.areas.len() < job.areas.len();
                let areas = if some { names(&w.areas) } else { String::new() };
                (job.windows.name(id).to_string(), stretch(r, w.period), areas)
            })
            .collect(),
        deliveries: (job.deliveries.iter())
            .map(|(id, at)| {
                (job.deliveries.name(id).to_string(), site.clock.full(*at), waiting(r, id))
            })
            .collect(),
        supplies: (job.supplies.iter())
            .map(|(id, s)| {
                let riders = (job.joints.rows().iter())
                    .filter_map(|j| j.of.filter(|(_, p)| *p == Place::On(id)))
                    .map(|(c, _)| job.circuits.name(c).to_string())
                    .collect();
                (job.supplies.name(id).to_string(), s.ways, riders)
            })
            .collect(),
        defaults: (site.defaults_used.iter())
            .map(|d| (d.what.clone(), d.value.clone(), d.times))
            .collect(),
        questions: site.questions.clone(),
        draft: site.draft(),
    }
}

/// `Tue 2 Mar 2027 21:00 to Wed 06:00, 540 min`.
fn stretch(r: &Resolved, p: Period) -> String {
    let clock = &r.site.clock;
    let long = p.length() > Minutes(6 * 1440);
    let end = if long { clock.full(p.to) } else { clock.short(p.to) };
    format!("{} to {end}, {}", clock.full(p.from), p.length())
}

fn board(r: &Resolved, id: BoardId) -> BoardLine {
    let label = &r.site.boards[id.index()];
    let bus = r.job.devices.rows().iter().find(|d| d.enclosure == Some(id)).map(|d| d.wires.at_a());
    let lines = (Wire::LINES.into_iter().zip(label.used))
        .filter(|(line, _)| bus.is_none_or(|wires| wires.has(*line)))
        .map(|(line, used)| (line.name(), used.before, used.after, label.ways - used.after))
        .collect();
    BoardLine {
        name: r.job.boards.name(id).to_string(),
        role: label.role,
        ways: label.ways,
        lines,
        fed_from: label.fed_from.clone(),
    }
}

fn loads(r: &Resolved) -> Vec<(String, String, Vec<String>)> {
    let mut out: Vec<(String, String, Vec<String>)> = Vec::new();
    let mut all: Vec<(LoadId, &Load)> = r.job.loads.iter().collect();
    all.sort_by(|(a, x), (b, y)| y.weight.cmp(&x.weight).then(a.cmp(b)));
    for (id, load) in all {
        let word = r.site.loads[id.index()].importance.clone();
        let (name, weight) = (r.job.loads.name(id).to_string(), plain(&load.weight));
        match out.iter_mut().find(|(w, p, _)| *w == word && *p == weight) {
            Some((_, _, names)) => names.push(name),
            None => out.push((word, weight, vec![name])),
        }
    }
    out
}

fn waiting(r: &Resolved, delivery: DeliveryId) -> Vec<String> {
    let circuits = r.job.circuits.ids().zip(&r.labour.circuits);
    let boards = r.job.boards.ids().zip(&r.labour.boards);
    let boards = boards.filter(|(_, l)| l.delivery == Some(delivery));
    let circuits = circuits.filter(|(_, l)| l.delivery == Some(delivery));
    (boards.map(|(id, _)| format!("board {}", r.job.boards.name(id))))
        .chain(circuits.map(|(id, _)| r.job.circuits.name(id).to_string()))
        .collect()
}

impl Summary {
    /// As text, 80 columns wide.
    pub fn text(&self) -> String {
        // Writing to a String cannot fail.
        let mut out = String::new();
        let _ = writeln!(out, "{}\n{}", self.name, self.span);
        self.boards_text(&mut out);
        let _ = writeln!(out, "\ncircuits: {} move to a new way", self.moved);
        for (circuit, end, why) in &self.ends {
            let why = if why.is_empty() { String::new() } else { format!(": {why}") };
            item(&mut out, &format!("{circuit} {end}{why}"));
        }
        let _ = writeln!(out, "\nloads by importance (weight)");
        for (word, weight, names) in &self.loads {
            item(&mut out, &format!("{word} ({weight}): {}", names.join(", ")));
        }
        out.push_str(&self.matrix.text());
        let _ = writeln!(out, "\nwindows");
        for (name, when, areas) in &self.windows {
            let areas = if areas.is_empty() { String::new() } else { format!(", only {areas}") };
            item(&mut out, &format!("{name}: {when}{areas}"));
        }
        if !self.deliveries.is_empty() {
            let _ = writeln!(out, "\ndeliveries");
        }
        for (name, at, waits) in &self.deliveries {
            let waits = if waits.is_empty() { "nothing".to_string() } else { waits.join(", ") };
            item(&mut out, &format!("{name}: {at}; waits for it: {waits}"));
        }
        if !self.supplies.is_empty() {
            let _ = writeln!(out, "\ntemporary supplies");
        }
        for (name, ways, riders) in &self.supplies {
            let riders =
                if riders.is_empty() { "no circuit".to_string() } else { riders.join(", ") };
            item(
                &mut out,
                &format!(
                    "{name} ({ways} way{}): may carry {riders}",
                    if *ways == 1 { "" } else { "s" }
                ),
            );
        }
        self.questions_text(&mut out);
        out
    }

    fn boards_text(&self, out: &mut String) {
        let _ = writeln!(out, "\nboards");
        for b in &self.boards {
            item(out, &format!("{} {}, {} ways, fed from {}", b.role, b.name, b.ways, b.fed_from));
            for (line, before, after, spare) in &b.lines {
                let used = match b.role {
                    "OLD" => format!("{before} of {} used, none at the end", b.ways),
                    "NEW" => format!("{after} of {} used at the end, {spare} spare", b.ways),
                    _ => format!("{before} used, {after} at the end"),
                };
                let _ = writeln!(out, "    {line}: {used}");
            }
        }
    }

    fn questions_text(&self, out: &mut String) {
        if self.questions.is_empty() {
            let _ = writeln!(out, "\nno open questions");
            return;
        }
        let _ = writeln!(out, "\nopen questions, worst first");
        for q in &self.questions {
            let word = match q.severity {
                Severity::Safety => "SAFETY",
                Severity::Plan => "plan",
                Severity::Note => "note",
            };
            let who =
                if q.who.is_empty() { String::new() } else { format!(" ({} can say)", q.who) };
            item(out, &format!("{word}: {}{who}", q.what));
        }
        if self.draft {
            let _ = writeln!(out, "\nDRAFT, NOT FOR SITE: questions on safety are open");
        }
    }

    /// The defaults used, as text.
    pub fn defaults_text(&self) -> String {
        let mut out = String::from("defaults used\n");
        for (what, value, times) in &self.defaults {
            let times = if *times > 1 { format!(" ({times} times)") } else { String::new() };
            item(&mut out, &format!("{what}: {value}{times}"));
        }
        out
    }
}

/// An indented line, wrapped to the columns.
pub(super) fn item(out: &mut String, text: &str) {
    let hang = "      ";
    let mut width = 0;
    let lead = text.len() - text.trim_start().len();
    for word in text.split_whitespace() {
        let long = word.chars().count();
        if width == 0 {
            out.push_str(&" ".repeat(2 + lead));
            width = 2 + lead;
        } else if width + 1 + long > COLUMNS {
            out.push('\n');
            out.push_str(hang);
            width = hang.len();
        } else {
            out.push(' ');
            width += 1;
        }
        out.push_str(word);
        width += long;
    }
    out.push('\n');
}
