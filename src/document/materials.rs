//! Materials and late deliveries: what has to be there, by when, and what is done if it is not.

use super::Input;
use super::limits;
use super::name;
use super::steps::Step;
use crate::model::*;
use crate::units::Minutes;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

#[derive(Serialize)]
pub struct View {
    deliveries: Vec<Delivery>,
    materials: Vec<Material>,
    devices: Vec<Count>,
}

#[derive(Serialize)]
struct Delivery {
    name: String,
    comes: String,
    /// What waits for it.
    waiting: Vec<Waiting>,
    needed: String,
    slack: String,
    late: bool,
}

#[derive(Serialize)]
struct Waiting {
    what: String,
    /// What is done if it does not come, and who decides.
    otherwise: String,
}

#[derive(Serialize)]
struct Material {
    number: String,
    what: String,
    comes: String,
}

/// Devices of one kind, by the schedule.
#[derive(Serialize)]
struct Count {
    what: String,
    /// How many lines it switches.
    lines: String,
    rcd: String,
    number: usize,
    /// Those of one way joined by a plus.
    circuits: String,
}

/// The sheet's view.
pub fn view(input: &Input, all: &[Step]) -> View {
    let job = input.sound.job();
    View {
        deliveries: job.deliveries.ids().map(|d| delivery(input, all, d)).collect(),
        materials: input
            .site
            .materials
            .iter()
            .map(|m| Material {
                number: format!("{} {}", m.number, m.unit).trim().to_owned(),
                what: m.what.clone(),
                comes: m.delivery.map(|d| job.deliveries.name(d).to_owned()).unwrap_or_default(),
            })
            .collect(),
        devices: devices(input),
    }
}

fn delivery(input: &Input, all: &[Step], d: DeliveryId) -> Delivery {
    let (job, plan, clock) = (input.sound.job(), input.sound.plan(), &input.site.clock);
    let comes = job.deliveries[d];
    let first = plan
        .tasks
        .iter()
        .filter(|(_, t)| t.delivery == Some(d))
        .filter_map(|(id, _)| Some((input.sound.replay().task(id)?.start, id)))
        .min();
    let step = first.and_then(|(_, t)| all.iter().find(|s| s.tasks.contains(&t)));
    let mut waiting: Vec<Waiting> = Vec::new();
    for (c, labour) in job.circuits.ids().zip(&input.labour.circuits) {
        if labour.delivery == Some(d) {
            let label = &input.site.circuits[c.index()];
            waiting.push(Waiting {
                what: format!("{}, {}", name::circuit_text(input, c), label.serves),
                otherwise: match (label.fallback.is_empty(), label.decides.is_empty()) {
                    (true, _) => String::new(),
                    (false, true) => label.fallback.clone(),
                    (false, false) => format!("{}; {} decides", label.fallback, label.decides),
                },
            });
        }
    }
    for (b, labour) in job.boards.ids().zip(&input.labour.boards) {
        if labour.delivery == Some(d) {
            let (what, otherwise) = (name::board(input, b), String::new());
            waiting.push(Waiting { what, otherwise });
        }
    }
    let slack = first.map(|(start, _)| start - comes);
    Delivery {
        name: job.deliveries.name(d).to_owned(),
        comes: clock.full(comes),
        waiting,
        needed: match (first, step) {
            (Some((at, _)), Some(s)) => format!("{}, step {}", clock.full(at), s.number),
            (Some((at, _)), None) => clock.full(at),
            (None, _) => "nothing in this plan waits for it".to_owned(),
        },
        slack: slack.map(in_days).unwrap_or_default(),
        late: input.sound.replay().visits().iter().any(|v| v.from < comes),
    }
}

/// `2 days 4 h`; minutes only below a day.
fn in_days(m: Minutes) -> String {
    match m.0 / 1440 {
        0 => name::minutes(m),
        1 => format!("1 day {} h", m.0 % 1440 / 60),
        days => format!("{days} days {} h", m.0 % 1440 / 60),
    }
}

/// Devices that the schedule names for new ways, one a way whatever the number of its circuits,
/// like ones together.
fn devices(input: &Input) -> Vec<Count> {
    let mut of_way: BTreeMap<&str, Device> = BTreeMap::new();
    for label in input.site.circuits.iter().filter(|c| !c.device.is_empty()) {
        let Some(way) = &label.new else { continue };
        let device = of_way.entry(&way.reference).or_insert_with(|| Device {
            what: &label.device,
            rcd: limits::rcd_text(label),
            lines: BTreeSet::new(),
            circuits: Vec::new(),
        });
        device.lines.extend(way.lines.split_whitespace());
        device.circuits.push(label.number.clone());
    }
    let mut kinds: BTreeMap<_, Vec<Vec<String>>> = BTreeMap::new();
    for d in of_way.into_values() {
        let key = (in_order(d.what), d.lines.len(), d.rcd, d.what);
        kinds.entry(key).or_default().push(d.circuits);
    }
    let order: BTreeMap<&str, usize> =
        input.site.circuits.iter().enumerate().map(|(i, c)| (c.number.as_str(), i)).collect();
    kinds
        .into_iter()
        .map(|((_, lines, rcd, what), mut ways)| {
            ways.sort_by_key(|all| order.get(all[0].as_str()).copied());
            let ways: Vec<String> = ways.iter().map(|all| all.join(" + ")).collect();
            Count {
                what: what.to_owned(),
                lines: if lines == 0 { String::new() } else { lines.to_string() },
                rcd,
                number: ways.len(),
                circuits: name::list(&ways),
            }
        })
        .collect()
}

/// The device of one way.
struct Device<'a> {
    what: &'a str,
    rcd: String,
    lines: BTreeSet<&'a str>,
    circuits: Vec<String>,
}

/// A key that puts `B6` before `B10`: letters as they are, figures by their size.
fn in_order(what: &str) -> Vec<(String, u64)> {
    let figure = |c: char| c.is_ascii_digit();
    let mut out = Vec::new();
    let mut rest = what;
    while !rest.is_empty() {
        let letters = rest.find(figure).unwrap_or(rest.len());
        let (words, after) = rest.split_at(letters);
        let (number, after) = after.split_at(after.find(|c| !figure(c)).unwrap_or(after.len()));
        out.push((words.to_lowercase(), number.parse().unwrap_or(0)));
        rest = after;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::in_order;

    #[test]
    fn devices_stand_by_letter_and_then_by_size() {
        let mut all = ["RCBO C16", "RCBO B6", "breaker C40", "RCBO B32", "breaker C6", "RCBO B10"];
        all.sort_by_key(|d| in_order(d));
        assert_eq!(
            all,
            ["breaker C6", "breaker C40", "RCBO B6", "RCBO B10", "RCBO B32", "RCBO C16"]
        );
    }
}
