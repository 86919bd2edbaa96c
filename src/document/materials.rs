//! Materials and late deliveries: what has to be there, by when, and what is done if it is not.

use super::Input;
use super::name;
use super::steps::Step;
use crate::model::*;
use crate::units::Minutes;
use serde::Serialize;
use std::collections::BTreeMap;

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
    number: usize,
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

/// Devices that the schedule names for new ways, like ones together.
fn devices(input: &Input) -> Vec<Count> {
    let mut kinds: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for label in input.site.circuits.iter().filter(|c| c.new.is_some() && !c.device.is_empty()) {
        kinds.entry(&label.device).or_default().push(label.number.clone());
    }
    kinds
        .into_iter()
        .map(|(what, all)| Count {
            what: what.to_owned(),
            number: all.len(),
            circuits: name::list(&all),
        })
        .collect()
}
