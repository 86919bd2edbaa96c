//! Every padlock, and the order in which isolation is taken away again.

use crate::document::Input;
use crate::document::name;
use crate::document::steps::{self, Step};
use crate::model::*;
use crate::plan::Act;
use crate::units::Minutes;
use serde::Serialize;

#[derive(Serialize)]
pub struct Removal {
    step: usize,
    time: String,
    what: String,
    who: String,
    lock: bool,
}

#[derive(Serialize)]
pub struct Padlock {
    name: String,
    owner: String,
    /// Where it hangs, from when to when.
    uses: Vec<[String; 2]>,
}

/// The acts of a step that take isolation away again, in order.
pub fn removals(input: &Input, step: &Step) -> Vec<Removal> {
    let back = matches!(step.kind, Some(TaskKind::Energise)) || step.kind.is_none();
    step.acts
        .iter()
        .filter(|e| match &e.act {
            Act::Unlock(..) | Act::BoxUnlock(..) | Act::Rest(_, _, false) => true,
            Act::Close(..) | Act::Surge(_, _, true) => back || unlocks(step),
            _ => false,
        })
        .map(|e| Removal {
            step: step.number,
            time: input.site.clock.short(e.at),
            what: steps::act_text(input, &e.act),
            who: steps::by(&e.act).map(|b| name::who(input, b.who)).unwrap_or_default(),
            lock: matches!(e.act, Act::Unlock(..) | Act::BoxUnlock(..)),
        })
        .collect()
}

fn unlocks(step: &Step) -> bool {
    step.acts.iter().any(|e| matches!(e.act, Act::Unlock(..)))
}

/// Every padlock with its owner and where it hangs from when to when.
pub fn padlocks(input: &Input) -> Vec<Padlock> {
    let plan = input.sound.plan();
    let mut out = Vec::new();
    for lock in plan.locks.ids() {
        let mut owner = String::new();
        let mut uses = Vec::new();
        let mut on: Option<(Minutes, DeviceId)> = None;
        for e in &plan.events {
            match &e.act {
                Act::Lock(by, d, l, _) if *l == lock => {
                    owner = name::who(input, by.who);
                    on = Some((e.at, *d));
                }
                Act::Unlock(_, d, l) if *l == lock => {
                    let from = on
                        .take()
                        .map_or_else(|| "the start".to_owned(), |(t, _)| name::dated(input, t));
                    let to = name::dated(input, e.at);
                    uses.push([name::device(input, *d), format!("{from} to {to}")]);
                }
                _ => {}
            }
        }
        if let Some((t, d)) = on {
            let from = name::dated(input, t);
            uses.push([name::device(input, d), format!("from {from}, STAYS ON")]);
        }
        out.push(Padlock { name: plan.locks.name(lock).to_owned(), owner, uses });
    }
    out
}
