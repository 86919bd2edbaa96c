//! What things are called on paper.

use super::Input;
use crate::model::site::WayLabel;
use crate::model::*;
use crate::units::{Minutes, Period};
use serde::Serialize;

/// A circuit as every paper names it.
#[derive(Clone, Debug, Serialize)]
pub struct CircuitName {
    /// Working number.
    pub number: String,
    /// `OLD` and its old reference.
    pub old: String,
    /// `NEW` and its new reference, or its stated end.
    pub new: String,
    /// What it serves.
    pub serves: String,
}

/// Working number, old and new reference of a circuit.
pub fn circuit(input: &Input, c: CircuitId) -> CircuitName {
    let label = &input.site.circuits[c.index()];
    let end = input.site.ends.iter().find(|e| e.circuit == c);
    CircuitName {
        number: label.number.clone(),
        old: match &label.old {
            Some(way) => with_role(input, way, "OLD"),
            None => "OLD: no way".to_owned(),
        },
        new: match (&label.new, end) {
            (Some(way), _) => with_role(input, way, "NEW"),
            (None, _) if stays(input, c) => "stays there".to_owned(),
            (None, Some(end)) => format!("NEW: no way, {}", end.end),
            (None, None) => "NEW: no way".to_owned(),
        },
        serves: label.serves.clone(),
    }
}

/// Whether a circuit keeps its way on a board that stays.
pub fn stays(input: &Input, c: CircuitId) -> bool {
    let label = &input.site.circuits[c.index()];
    let board = label.old.as_ref().filter(|_| label.new.is_none()).map(|w| w.board);
    board.is_some_and(|b| input.site.boards[b.index()].role == "STAYS")
}

/// A reference with OLD or NEW before it, unless its board stays.
fn with_role(input: &Input, way: &WayLabel, role: &str) -> String {
    match input.site.boards[way.board.index()].role {
        "STAYS" => way.reference.clone(),
        _ => format!("{role} {}", way.reference),
    }
}

/// A circuit in running text.
pub fn circuit_text(input: &Input, c: CircuitId) -> String {
    let name = circuit(input, c);
    format!("{} ({}, {})", name.number, name.old, name.new)
}

/// A board, with OLD or NEW before it unless it stays.
pub fn board(input: &Input, b: BoardId) -> String {
    let name = input.sound.job().boards.name(b);
    match input.site.boards[b.index()].role {
        "STAYS" => name.to_owned(),
        role => format!("{role} {name}"),
    }
}

/// A board with what becomes of it, where it stands in a list or over a drawing.
pub fn board_and_role(input: &Input, b: BoardId) -> String {
    match input.site.boards[b.index()].role {
        "STAYS" => format!("{} (stays)", board(input, b)),
        _ => board(input, b),
    }
}

/// A lock box in running text: `the red lock box`, but `lock box 2`.
pub fn lock_box(input: &Input, b: BoxId) -> String {
    let name = input.sound.plan().boxes.name(b);
    let last = name.rsplit(' ').next().unwrap_or_default();
    match last.chars().all(char::is_lowercase) && !name.starts_with("the ") {
        true => format!("the {name}"),
        false => name.to_owned(),
    }
}

/// Somebody who switches or owns a lock.
pub fn who(input: &Input, who: Who) -> String {
    match who {
        Who::Person(p) => input.sound.job().people.name(p).to_owned(),
        Who::Outsider(o) => format!("{} (third party)", input.sound.job().outsiders.name(o)),
    }
}

/// People, by name.
pub fn people(input: &Input, who: &[PersonId]) -> String {
    who.iter().map(|p| input.sound.job().people.name(*p)).collect::<Vec<_>>().join(", ")
}

/// The label of a thing, or else its name, with OLD or NEW before every board that it mentions.
fn labelled(input: &Input, name: &str, label: &str) -> String {
    with_roles(input, if label.is_empty() { name } else { label })
}

/// Text with OLD or NEW before the names of the boards in it.
pub fn with_roles(input: &Input, text: &str) -> String {
    let boards = &input.sound.job().boards;
    let mut all: Vec<BoardId> = boards.ids().collect();
    all.sort_by_key(|b| std::cmp::Reverse(boards.name(*b).len()));
    let part = |c: char| c.is_alphanumeric() || c == '-';
    let mut out = String::new();
    let mut rest = text;
    'text: while let Some(next) = rest.chars().next() {
        let free = !out.ends_with(part) && !out.ends_with("OLD ") && !out.ends_with("NEW ");
        for b in all.iter().filter(|_| free) {
            let name = boards.name(*b);
            let Some(after) = rest.strip_prefix(name) else { continue };
            if !name.is_empty() && !after.starts_with(part) {
                let role = input.site.boards[b.index()].role;
                if role != "STAYS" {
                    out.push_str(role);
                    out.push(' ');
                }
                out.push_str(name);
                rest = after;
                continue 'text;
            }
        }
        out.push(next);
        rest = &rest[next.len_utf8()..];
    }
    out
}

/// Text with no OLD or NEW before the names of boards, for papers that outlast the changeover.
pub fn without_roles(input: &Input, text: &str) -> String {
    let mut out = text.to_owned();
    for (b, label) in input.sound.job().boards.ids().zip(&input.site.boards) {
        let name = input.sound.job().boards.name(b);
        out = out.replace(&format!("{} {name}", label.role), name);
    }
    out
}

/// A device: what and where.
pub fn device(input: &Input, d: DeviceId) -> String {
    labelled(input, input.sound.job().devices.name(d), &input.site.devices[d.index()])
}

/// A node: what and where.
pub fn node(input: &Input, n: NodeId) -> String {
    labelled(input, input.sound.job().nodes.name(n), &input.site.nodes[n.index()])
}

/// A position: what and where.
pub fn position(input: &Input, p: PositionId) -> String {
    labelled(input, input.sound.job().positions.name(p), &input.site.positions[p.index()])
}

/// An instrument with its number and calibration.
pub fn instrument(input: &Input, i: InstrumentId) -> String {
    let (name, label) = (input.sound.job().instruments.name(i), &input.site.instruments[i.index()]);
    if label.is_empty() || label == name { name.to_owned() } else { format!("{name} ({label})") }
}

/// Places, board by board: `incoming terminals and ways of OLD DB-1 and NEW DB-2`.
pub fn places(input: &Input, all: &[PositionId]) -> String {
    let job = input.sound.job();
    let mut boards: Vec<(BoardId, Vec<&str>)> = Vec::new();
    let mut others: Vec<String> = Vec::new();
    for p in all {
        let part = job.boards.iter().find_map(|(b, facts)| match *p {
            p if p == facts.incoming => Some((b, "incoming terminals")),
            p if p == facts.ways => Some((b, "ways")),
            _ => None,
        });
        match (part, boards.iter_mut().find(|(b, _)| part.is_some_and(|(here, _)| here == *b))) {
            (Some((_, part)), Some((_, parts))) if !parts.contains(&part) => parts.push(part),
            (Some(_), Some(_)) => {}
            (Some((b, part)), None) => boards.push((b, vec![part])),
            (None, _) => {
                let name = position(input, *p);
                if !others.contains(&name) {
                    others.push(name);
                }
            }
        }
    }
    // Boards with the same parts are told together.
    let mut alike: Vec<(Vec<&str>, Vec<String>)> = Vec::new();
    for (b, parts) in boards {
        let name = board(input, b);
        match alike.iter_mut().find(|(p, _)| *p == parts) {
            Some((_, names)) => names.push(name),
            None => alike.push((parts, vec![name])),
        }
    }
    let told = alike.into_iter().map(|(parts, names)| {
        let parts: Vec<String> = parts.into_iter().map(str::to_owned).collect();
        format!("{} of {}", list(&parts), list(&names))
    });
    list(&told.chain(others).collect::<Vec<_>>())
}

/// From and to on the site's clock, with the minutes between.
pub fn span(input: &Input, p: Period) -> String {
    let clock = &input.site.clock;
    let same = clock.day(p.from) == clock.day(p.to);
    let to = if same { clock.time(p.to) } else { clock.short(p.to) };
    format!("{} to {to} ({})", clock.full(p.from), minutes(p.length()))
}

/// `Wed 10 Mar 21:05`: a time that stands apart from a heading with its date.
pub fn dated(input: &Input, t: Minutes) -> String {
    format!("{} {}", input.site.clock.day(t), input.site.clock.time(t))
}

/// `2027-02-26` as `26 Feb 2027`; text that is no date as it is.
pub fn date(text: &str) -> String {
    match text.parse::<jiff::civil::Date>() {
        Ok(date) => date.strftime("%-d %b %Y").to_string(),
        Err(_) => text.to_owned(),
    }
}

/// `45 min`, `2 h`, `5 h 26 min`.
pub fn minutes(m: Minutes) -> String {
    match (m.0 / 60, m.0 % 60) {
        (0, rest) => format!("{rest} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest} min"),
    }
}

/// `a`, `a and b`, `a, b and c`.
pub fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}
