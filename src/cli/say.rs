//! A plan in plain words, 80 columns wide; a refusal in `refusal`.

mod refusal;

pub use refusal::refusal;

use super::load::Checked;
use crate::jobfile::Resolved;
use crate::model::*;
use crate::plan::{Act, DecisionCost, Plan, Way};
use crate::search::bound;
use crate::search::ground::Ground;
use crate::units::{Minutes, Period, fixed, plain, whole};
use std::collections::{BTreeMap, BTreeSet};

/// A report that grows line by line; writing to a `String` cannot fail.
#[derive(Default)]
pub(super) struct Page(pub(super) String);

impl Page {
    pub(super) fn line(&mut self, text: impl AsRef<str>) {
        self.0.push_str(text.as_ref().trim_end());
        self.0.push('\n');
    }

    fn heading(&mut self, text: &str) {
        self.line("");
        self.line(text);
    }

    /// Text after a label, broken at 80 columns, with the label's width as indent.
    pub(super) fn wrapped(&mut self, label: &str, text: &str) {
        let indent = label.chars().count();
        let mut line = label.to_owned();
        let mut used = indent;
        for word in text.split_whitespace() {
            let length = word.chars().count();
            if used > indent && used + 1 + length > 80 {
                self.line(&line);
                line = " ".repeat(indent);
                used = indent;
            }
            if used > indent {
                line.push(' ');
                used += 1;
            }
            line.push_str(word);
            used += length;
        }
        self.line(&line);
    }
}

/// The summary of a checked plan.
pub fn plan(job: &Resolved, checked: &Checked, details: bool) -> String {
    let s = Summary { job, plan: checked.sound.plan() };
    let mut page = Page::default();
    page.line(&job.job.name);
    page.line(if job.site.draft() {
        "DRAFT, NOT FOR SITE: every rule is kept, but questions of the survey are open"
    } else {
        "safe to issue: every rule of isolation, supply and time is kept"
    });
    page.line(format!("plan {}", checked.fingerprint));
    if let Some(why) = checked.early {
        page.line(early(why));
    }
    s.visits(&mut page);
    s.off(&mut page);
    s.locks(&mut page);
    s.emergency(&mut page);
    s.turning_back(&mut page);
    s.fixed(&mut page, &checked.costs);
    s.questions(&mut page);
    if details {
        s.details(&mut page);
    } else {
        page.line("");
        page.line("The cost, the best possible and every default used: --details");
    }
    page.0
}

/// That the search ended before its effort was spent.
pub fn early(why: &str) -> String {
    format!("stopped early, {why}: checked as always; a full run may find better")
}

struct Summary<'a> {
    job: &'a Resolved,
    plan: &'a Plan,
}

impl Summary<'_> {
    fn clock(&self) -> &crate::model::site::Clock {
        &self.job.site.clock
    }

    fn circuit(&self, c: CircuitId) -> &str {
        self.job.job.circuits.name(c)
    }

    /// Start, end and people of every task, in order of start.
    fn spans(&self) -> Vec<(Period, TaskId, Vec<PersonId>)> {
        let mut open: BTreeMap<TaskId, (Minutes, Vec<PersonId>)> = BTreeMap::new();
        let mut done = Vec::new();
        for event in &self.plan.events {
            match &event.act {
                Act::Start { task, who, .. } => {
                    open.insert(*task, (event.at, who.clone()));
                }
                Act::Finish { task, .. } => {
                    if let Some((from, who)) = open.remove(task) {
                        done.push((Period { from, to: event.at }, *task, who));
                    }
                }
                _ => {}
            }
        }
        done.sort_by_key(|(p, t, _)| (*p, *t));
        done
    }

    fn visits(&self, page: &mut Page) {
        let job = &self.job.job;
        page.heading("WHEN, WHO AND WHAT");
        let spans = self.spans();
        let mut visits: Vec<Period> = Vec::new();
        let mut windows: Vec<Period> = job.windows.rows().iter().map(|w| w.period).collect();
        windows.sort_unstable();
        for w in windows {
            match visits.last_mut() {
                Some(last) if w.from <= last.to => last.to = last.to.max(w.to),
                _ => visits.push(w),
            }
        }
        let inside = |v: &Period, p: &Period| v.overlaps(*p);
        let ahead: Vec<_> =
            spans.iter().filter(|(p, _, _)| !visits.iter().any(|v| inside(v, p))).collect();
        if let (Some(first), Some(last)) = (ahead.first(), ahead.last()) {
            let label = format!(
                "  ahead     {} to {}",
                self.clock().full(first.0.from),
                self.clock().full(last.0.to)
            );
            page.line(label);
            let tasks: Vec<TaskId> = ahead.iter().map(|(_, t, _)| *t).collect();
            page.wrapped("            ", &self.work(&tasks));
        }
        let mut n = 0;
        for visit in &visits {
            let here: Vec<_> = spans.iter().filter(|(p, _, _)| inside(visit, p)).collect();
            let (Some(first), Some(last)) = (here.first(), here.iter().map(|(p, _, _)| p.to).max())
            else {
                continue;
            };
            n += 1;
            let people: BTreeSet<PersonId> = here.iter().flat_map(|(_, _, w)| w.clone()).collect();
            let names: Vec<&str> = people.iter().map(|p| job.people.name(*p)).collect();
            page.line(format!(
                "  visit {n}   {} to {}, {}",
                self.clock().full(first.0.from),
                self.clock().time(last),
                names.join(", ")
            ));
            let tasks: Vec<TaskId> = here.iter().map(|(_, t, _)| *t).collect();
            page.wrapped("            ", &self.work(&tasks));
        }
    }

    /// What is done, in the order in which it begins, like tasks together.
    fn work(&self, tasks: &[TaskId]) -> String {
        let mut parts: Vec<(TaskKind, Vec<String>)> = Vec::new();
        for id in tasks {
            let task = &self.plan.tasks[*id];
            let what = match (task.kind, task.circuit, task.board, task.group) {
                (TaskKind::Hold, ..) => self
                    .plan
                    .tasks
                    .name(*id)
                    .trim_start_matches(|c: char| c.is_ascii_digit() || c == '.' || c == ' ')
                    .to_owned(),
                (_, Some(c), _, _) => self.circuit(c).to_owned(),
                (_, _, _, Some(g)) => self.job.job.groups.name(g).to_owned(),
                (_, _, Some(b), _) => self.job.job.boards.name(b).to_owned(),
                _ => String::new(),
            };
            match parts.iter_mut().find(|(kind, _)| *kind == task.kind) {
                Some((_, all)) if !all.contains(&what) => all.push(what),
                Some(_) => {}
                None => parts.push((task.kind, vec![what])),
            }
        }
        let told: Vec<String> = parts
            .into_iter()
            .filter(|(kind, _)| {
                !matches!(kind, TaskKind::DeadTest | TaskKind::LiveTest | TaskKind::ProveDead)
            })
            .map(|(kind, all)| {
                let all: Vec<String> = all.into_iter().filter(|w| !w.is_empty()).collect();
                let list = if all.len() > 8 {
                    format!("{} and {} more", all[..6].join(", "), all.len() - 6)
                } else {
                    all.join(", ")
                };
                format!("{} {list}", verb(kind)).trim_end().to_owned()
            })
            .collect();
        told.join("; ")
    }

    fn off(&self, page: &mut Page) {
        let job = &self.job.job;
        page.heading("WHAT IS OFF, AND FOR HOW LONG");
        let mut rows: Vec<(Period, LoadId)> = (self.plan.claims.outages.iter())
            .flat_map(|(l, spans)| spans.iter().map(|s| (*s, *l)))
            .collect();
        rows.sort_unstable();
        if rows.is_empty() {
            page.line("  nothing");
        }
        let mut i = 0;
        while i < rows.len() {
            let (span, _) = rows[i];
            let same: Vec<LoadId> =
                rows[i..].iter().take_while(|(s, _)| *s == span).map(|(_, l)| *l).collect();
            i += same.len();
            let names: Vec<&str> = same.iter().map(|l| job.loads.name(*l)).collect();
            let label = format!(
                "  {} to {}  {:>4} min  ",
                self.clock().short(span.from),
                self.clock().time(span.to),
                span.length().0
            );
            page.wrapped(&label, &names.join(", "));
        }
    }

    fn locks(&self, page: &mut Page) {
        let job = &self.job.job;
        page.heading("LOCKS");
        let mut on: BTreeMap<LockId, (Minutes, DeviceId, Who)> = BTreeMap::new();
        let mut rows = Vec::new();
        for event in &self.plan.events {
            match &event.act {
                Act::Lock(by, device, lock, _) => {
                    on.insert(*lock, (event.at, *device, by.who));
                }
                Act::Unlock(_, _, lock) => {
                    if let Some((from, device, who)) = on.remove(lock) {
                        rows.push((from, Some(event.at), device, *lock, who));
                    }
                }
                _ => {}
            }
        }
        rows.extend(
            on.into_iter().map(|(lock, (from, device, who))| (from, None, device, lock, who)),
        );
        rows.sort_by_key(|r| (r.0, r.2));
        for (from, to, device, lock, who) in rows {
            let owner = match who {
                Who::Person(p) => job.people.name(p),
                Who::Outsider(o) => job.outsiders.name(o),
            };
            let to = to.map_or_else(|| "stays".to_owned(), |t| self.clock().time(t));
            let label = format!("  {} to {to}  ", self.clock().short(from));
            let text =
                format!("{}, {} of {owner}", job.devices.name(device), self.plan.locks.name(lock));
            page.wrapped(&label, &text);
        }
    }

    fn emergency(&self, page: &mut Page) {
        let job = &self.job.job;
        if job.groups.is_empty() {
            return;
        }
        page.heading("EMERGENCY LIGHTING");
        for (id, group) in job.groups.iter() {
            let test = self.plan.claims.full_duration_tests.get(&id);
            let date = test.map_or_else(|| "none".to_owned(), |t| self.clock().full(*t));
            page.wrapped(
                &format!("  {}  ", job.groups.name(id)),
                &format!("rated {}; full-duration test {date}", group.rated),
            );
        }
    }

    fn turning_back(&self, page: &mut Page) {
        page.heading("TURNING BACK");
        let back = &self.plan.back_out;
        if back.points_of_no_return.is_empty() {
            page.line("  no load is out in any visit");
        }
        for point in &back.points_of_no_return {
            let day = self.clock().day(point.visit.from);
            match point.at {
                Some(at) => page.line(format!(
                    "  {day}: point of no return {}; until then go back, after it go on",
                    self.clock().time(at)
                )),
                None => page.line(format!("  {day}: no going back; go on with the plan")),
            }
        }
        let longest = back.steps.iter().filter(|s| s.way == Way::Back).map(|s| s.minutes).max();
        if let Some(longest) = longest {
            page.line(format!("  going back takes {longest} at most"));
        }
    }

    /// What the user fixed, why, and what each costs where that was worked out.
    fn fixed(&self, page: &mut Page, costs: &[DecisionCost]) {
        if self.job.labour.pins.is_empty() {
            return;
        }
        page.heading("FIXED BY YOU");
        for (i, pin) in self.job.labour.pins.iter().enumerate() {
            page.wrapped("  - ", &fixed_words(self.job, i));
            let more = self.job.labour.pins.get(i + 1).is_some_and(|p| p.decision == pin.decision);
            if let Some(cost) = costs.iter().find(|c| c.decision == pin.decision && !more) {
                page.wrapped("    ", &cost.words());
            }
        }
    }

    fn questions(&self, page: &mut Page) {
        if self.job.site.questions.is_empty() {
            return;
        }
        page.heading("OPEN QUESTIONS");
        for q in &self.job.site.questions {
            page.wrapped("  - ", &q.what);
        }
    }

    fn details(&self, page: &mut Page) {
        let c = &self.plan.claims;
        page.heading("DETAILS");
        let names = [
            "minutes out in needed hours",
            "minutes out in other hours",
            "counted outages",
            "attendance",
            "on temporary supplies",
        ];
        for (name, part) in names.iter().zip(&c.parts) {
            page.line(format!("  {name:<32}{:>12}", fixed(part, 1)));
        }
        page.line(format!("  {:<32}{:>12}", "downtime cost", fixed(&c.j, 1)));
        page.line(format!("  {:<32}{:>12}", "best possible, at least", plain(&c.lower_bound)));
        let percent = &c.gap * whole(100);
        page.line(format!("  {:<32}{:>10} %", "so the plan is within", fixed(&percent, 1)));
        let ground = Ground::new(&self.job.job, &self.job.labour);
        let timed = bound::lower_bound_in_own_tasks(&ground).floor().min(c.j.clone());
        let over = (&c.j - &timed) * whole(100) / &c.j;
        page.line(format!("  {:<32}{:>12}", "where switching has its own time", plain(&timed)));
        page.line(format!("  {:<32}{:>10} %", "so the plan is within", fixed(&over, 1)));
        page.line(format!("  {:<32}{:>12}", "locks put on or taken off", c.lock_operations));
        let own = "Switching has its own time in a plan, such as this, in which isolating, proving and \
                   energising are tasks of their own. Every plan costs at least the first figure.";
        page.wrapped("  ", own);
        page.heading("DEFAULTS USED");
        for d in &self.job.site.defaults_used {
            page.wrapped("  - ", &format!("{}: {} ({} times)", d.what, d.value, d.times));
        }
    }
}

/// What is done, as a foreman says it.
pub fn verb(kind: TaskKind) -> &'static str {
    match kind {
        TaskKind::Disconnect => "disconnect",
        TaskKind::Connect => "connect",
        TaskKind::DeadTest => "test dead",
        TaskKind::HookUp => "put on temporary supply",
        TaskKind::Unhook => "take off temporary supply",
        TaskKind::StripOut => "strip out",
        TaskKind::Mount => "mount",
        TaskKind::ConnectTails => "tails at",
        TaskKind::FitSurge => "fit surge protection in",
        TaskKind::TestBoard => "test",
        TaskKind::FitCovers => "covers on",
        TaskKind::Dress => "dress",
        TaskKind::LiveTest => "test live",
        TaskKind::Isolate => "isolate",
        TaskKind::ProveDead => "prove dead",
        TaskKind::Energise => "energise",
        TaskKind::FunctionTest => "function test",
        TaskKind::Prepare => "prepare",
        TaskKind::Identify => "identify and mark",
        TaskKind::Hold => "wait for",
    }
}

/// A decision of the user with its reason.
pub fn fixed_words(r: &Resolved, pin: usize) -> String {
    let pin = &r.labour.pins[pin];
    format!("{} ({})", pin.words(&r.job, &r.site.clock), pin.reason)
}

/// A breach on one line: rule, minute, event, words.
pub fn breach(breach: &crate::verify::Breach, job: &Job, plan: &Plan) -> String {
    let at = breach.at.map_or_else(String::new, |t| format!(", minute {}", t.0));
    let event = breach.event.map_or_else(String::new, |e| format!(", event {e}"));
    let text = format!("{}{at}{event}: {}", breach.rule.name(), breach.words(job, plan));
    labelled("breach ", &text)
}

/// Text after a label, broken at 80 columns, without a row end behind it.
pub fn labelled(label: &str, text: &str) -> String {
    let mut page = Page::default();
    page.wrapped(label, text);
    page.0.trim_end().to_owned()
}
