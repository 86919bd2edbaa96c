//! Ways and circuits in few letters: `1–4 L1–L3, 5, 7 L2`.

use super::super::Input;
use super::states::Group;
use crate::model::*;
use std::collections::BTreeMap;

/// The ways of a group on its board, in order: like ways in a row as one.
pub fn ways_text(input: &Input, group: &Group) -> String {
    let mut lines: BTreeMap<i64, Vec<&str>> = BTreeMap::new();
    let mut others: Vec<&str> = Vec::new();
    for way in &group.ways {
        let label = &input.site.circuits[way.circuit.index()];
        let at = match way.place {
            Place::Old => &label.old,
            Place::New => &label.new,
            Place::On(_) => &None,
        };
        match at {
            Some(at) => lines.entry(at.way).or_default().push(suffix(&at.reference, at.way)),
            None => others.push(&label.number),
        }
    }
    let mut runs: Vec<(i64, i64, String)> = Vec::new();
    for (way, mut of) in lines {
        of.sort_unstable();
        of.dedup();
        let of = match of.as_slice() {
            ["L1", "L2", "L3"] => "L1–L3".to_owned(),
            some => some.join("+"),
        };
        match runs.last_mut() {
            Some((_, last, same)) if *last + 1 == way && *same == of => *last = way,
            _ => runs.push((way, way, of)),
        }
    }
    let words = runs.into_iter().map(|(from, to, of)| {
        let ways = match to - from {
            0 => from.to_string(),
            1 if of.is_empty() => format!("{from}, {to}"),
            _ => format!("{from}–{to}"),
        };
        if of.is_empty() { ways } else { format!("{ways} {of}") }
    });
    let words: Vec<String> = words.chain(others.into_iter().map(str::to_owned)).collect();
    format!("ways {}", words.join(", "))
}

/// What follows the number of the way in a reference as painted: `L2` of `DB-1/7L2`.
fn suffix(reference: &str, way: i64) -> &str {
    let last = reference.rsplit('/').next().unwrap_or(reference);
    last.strip_prefix(&way.to_string()).unwrap_or(last)
}

/// The working numbers of the circuits of a group.
pub fn numbers_text(input: &Input, group: &Group) -> String {
    let number = |c: CircuitId| input.site.circuits[c.index()].number.clone();
    group.ways.iter().map(|w| number(w.circuit)).collect::<Vec<_>>().join(", ")
}
