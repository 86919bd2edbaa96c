//! Where nobody goes on before somebody has spoken or signed.

use crate::document::Input;
use crate::document::name;
use crate::document::steps::{self, Step};
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct Hold {
    step: usize,
    time: String,
    what: String,
    who: String,
}

/// Where nobody goes on before somebody has spoken or signed.
pub fn holds(input: &Input, all: &[Step]) -> Vec<Hold> {
    let mut out = Vec::new();
    for step in all {
        let who = match step.kind {
            Some(TaskKind::Hold) => steps::hold_by(input, step),
            Some(TaskKind::ProveDead) => "all readings written down; every pair dead".to_owned(),
            Some(TaskKind::Energise) => {
                "everybody clear and told; work finished, dead tests passed and signed".to_owned()
            }
            _ => continue,
        };
        out.push(Hold {
            step: step.number,
            time: name::dated(input, step.period.from),
            what: steps::title(input, step),
            who,
        });
    }
    out
}
