//! Temporary supplies, and which circuits are on them from when to when.

use crate::document::Input;
use crate::document::feed;
use crate::document::name;
use crate::model::*;
use crate::units::plain;
use serde::Serialize;

#[derive(Serialize)]
pub struct Supply {
    name: String,
    from: String,
    figures: String,
    /// The circuits, each with the time on it.
    circuits: Vec<[String; 2]>,
}

/// One row a supply.
pub fn supplies(input: &Input) -> Vec<Supply> {
    let (job, site) = (input.sound.job(), input.site);
    job.supplies
        .iter()
        .map(|(id, s)| {
            let used = job.circuits.ids().flat_map(|c| {
                let here = feed::rides(input, c).into_iter().filter(move |(on, ..)| *on == id);
                here.map(move |(_, from, to)| {
                    let name = name::circuit_text(input, c);
                    let from = name::dated(input, from);
                    let span = match to {
                        Some(to) => format!("{from} to {}", name::dated(input, to)),
                        None => format!("from {from}, STAYS ON IT"),
                    };
                    [name, span]
                })
            });
            let circuits = used.collect();
            let rcd =
                s.rcd_ma.as_ref().map(|r| format!(", RCD {} mA", plain(r))).unwrap_or_default();
            let label = &site.supplies[id.index()];
            let own = job.supplies.name(id);
            Supply {
                name: match (label.is_empty(), label.contains(own)) {
                    (true, _) => own.to_owned(),
                    (_, true) => label.clone(),
                    _ => format!("{own}, {label}"),
                },
                from: name::node(input, s.feed),
                figures: format!(
                    "{}, {} A, lead {} m{rcd}; loop impedance limit {} Ω",
                    if s.ways == 1 { "1 way".to_owned() } else { format!("{} ways", s.ways) },
                    plain(&s.rating.0),
                    plain(&s.length.0),
                    plain(&s.loop_limit.0)
                ),
                circuits,
            }
        })
        .collect()
}
