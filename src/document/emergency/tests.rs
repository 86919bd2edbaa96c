//! Function test and full-duration test of a group, in words.

use super::Dates;
use crate::document::Input;
use crate::document::name;
use crate::document::steps::Step;
use crate::model::*;
use crate::plan::Act;
use crate::units::Minutes;
use serde::Serialize;

/// A function test, and what to look for.
#[derive(Serialize)]
pub struct Function {
    /// Step and time, for each one planned.
    pub when: String,
    /// What is opened and closed.
    pub device: String,
    /// What to look for, in order.
    pub look: Vec<String>,
}

/// A full-duration test and its dates.
#[derive(Serialize)]
pub struct Full {
    /// As planned.
    pub planned: String,
    /// The earliest and the latest start of that night or day.
    pub stretch: String,
    /// The last start within the time looked at, if it is later than that.
    pub last: String,
    /// Groups not to be tested at one time.
    pub apart: String,
    /// The last one before the job.
    pub before: String,
}

/// The function test of a group.
pub fn function(input: &Input, steps: &[Step], g: GroupId, areas: &str) -> Function {
    let (job, plan, site) = (input.sound.job(), input.sound.plan(), input.site);
    let facts = &job.groups[g];
    let of_group = |t: &TaskId| plan.tasks[*t].group == Some(g);
    let ours: Vec<&Step> = steps
        .iter()
        .filter(|s| s.kind == Some(TaskKind::FunctionTest) && s.tasks.iter().any(of_group))
        .collect();
    let when: Vec<String> = ours
        .iter()
        .map(|s| format!("step {}, {}", s.number, name::dated(input, s.period.from)))
        .collect();
    let mut devices: Vec<String> = Vec::new();
    for event in &plan.events {
        let Act::Open(by, device) = &event.act else { continue };
        let device = name::device(input, *device);
        if by.task.as_ref().is_some_and(of_group) && !devices.contains(&device) {
            devices.push(device);
        }
    }
    let all = match site.groups[g.index()].luminaires {
        Some(1) => "the luminaire".to_owned(),
        Some(n) => format!("all {n} luminaires"),
        None => "all luminaires".to_owned(),
    };
    let lit = if facts.maintained {
        format!("{all} of {} stay lit, now on their batteries", job.groups.name(g))
    } else {
        format!("{all} of {} light, and are seen one by one", job.groups.name(g))
    };
    let back = if facts.maintained {
        "close: normal lighting is back, the luminaires stay lit, charge indicators show healthy"
    } else {
        "close: normal lighting is back, the luminaires go out, charge indicators show healthy"
    };
    let mut look = vec![
        format!(
            "open the final-circuit device, not only the key switch: normal lighting of {areas} goes out"
        ),
        lit,
        back.to_owned(),
    ];
    if !site.groups[g.index()].key_switch.is_empty() {
        let lit = if facts.maintained { "stay lit on their batteries" } else { "light" };
        look.push(format!(
            "test key switch {}: the luminaires {lit}, normal lighting stays on; key back to the \
             responsible person",
            site.groups[g.index()].key_switch
        ));
    }
    Function {
        when: if when.is_empty() { "none in this plan".to_owned() } else { when.join("; ") },
        device: name::list(&devices),
        look,
    }
}

/// The full-duration test of a group.
pub fn full(input: &Input, g: GroupId, dates: Option<&Dates>) -> Full {
    let (job, site) = (input.sound.job(), input.site);
    let clock = &site.clock;
    let before = name::date(&site.groups[g.index()].full_test);
    let Some(d) = dates else {
        let planned = "none in this plan".to_owned();
        return Full {
            planned,
            stretch: String::new(),
            last: String::new(),
            apart: String::new(),
            before,
        };
    };
    let ends = |t: Minutes| clock.full(t);
    let end = d.stretch().map(|s| s.to - Minutes(1));
    let later = d.last().filter(|last| Some(*last) != end);
    let apart: Vec<String> = d.apart.iter().map(|o| job.groups.name(*o).to_owned()).collect();
    Full {
        planned: planned(input, d.planned, d.planned + job.groups[g].rated),
        stretch: d.stretch().map_or_else(String::new, |s| {
            let last = s.to - Minutes(1);
            match clock.day(s.from) == clock.day(last) {
                _ if s.from == last => format!("start {}, no later", ends(last)),
                true => format!("start {} to {}", ends(s.from), clock.time(last)),
                false => format!("start {} to {}", ends(s.from), ends(last)),
            }
        }),
        last: later.map_or_else(String::new, ends),
        apart: name::list(&apart),
        before,
    }
}

/// `Fri 19 Mar 2027 20:00 to 23:00`.
fn planned(input: &Input, from: Minutes, to: Minutes) -> String {
    let clock = &input.site.clock;
    let to = if clock.day(from) == clock.day(to) { clock.time(to) } else { clock.short(to) };
    format!("{} to {to}", clock.full(from))
}
