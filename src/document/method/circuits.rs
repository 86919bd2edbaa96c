//! The circuits, each with what has to be known of it.

use crate::document::Input;
use crate::document::name::{self, CircuitName};
use crate::document::ways;
use crate::model::site::IdentifiedBy;
use crate::model::*;
use serde::Serialize;

#[derive(Serialize)]
pub struct Circuit {
    name: CircuitName,
    device: String,
    cable: String,
    identified: &'static str,
    fallback: String,
    remarks: String,
}

/// One row a circuit.
pub fn circuits(input: &Input) -> Vec<Circuit> {
    let job = input.sound.job();
    job.circuits
        .ids()
        .map(|c| {
            let label = &input.site.circuits[c.index()];
            let mut remarks: Vec<String> = Vec::new();
            if !label.found_on {
                remarks.push("found OFF on survey".to_owned());
            }
            if label.ring {
                remarks.push("ring".to_owned());
            }
            if label.short {
                remarks.push("to be lengthened".to_owned());
            }
            for text in [&label.defects, &label.remarks] {
                if !text.is_empty() {
                    remarks.push(text.clone());
                }
            }
            if let Some(others) = ways::shared_with(input, c) {
                remarks.push(format!("NEUTRAL SHARED with {others}"));
            }
            let decides = match label.decides.as_str() {
                "" => String::new(),
                who => format!(" ({who} decides)"),
            };
            Circuit {
                name: name::circuit(input, c),
                device: label.device.clone(),
                cable: label.cable.clone(),
                identified: match label.identified {
                    IdentifiedBy::Traced => "traced",
                    IdentifiedBy::ChartOnly => "CHART ONLY",
                    IdentifiedBy::Unknown => "UNKNOWN",
                },
                fallback: match label.fallback.is_empty() {
                    true => String::new(),
                    false => format!("{}{decides}", label.fallback),
                },
                remarks: remarks.join("; "),
            }
        })
        .collect()
}
