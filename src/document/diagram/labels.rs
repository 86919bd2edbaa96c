//! What is written beside the symbols.

use super::super::Input;
use super::super::name;
use super::compact::{numbers_text, ways_text};
use super::skeleton::{Link, Net, Skeleton};
use super::states::{Condition, Group, Moment, Presence, Standing};
use super::text::{Row, rows};
use crate::model::*;
use crate::units::plain;

/// A piece of text that may take several rows, and what it says as data.
pub struct Piece {
    /// What it says.
    pub text: String,
    /// In bold.
    pub strong: bool,
    /// Attributes for its first row, escaped; each with a space before it.
    pub data: String,
}

impl Piece {
    fn plain(text: impl Into<String>) -> Piece {
        Piece { text: text.into(), strong: false, data: String::new() }
    }

    fn strong(text: impl Into<String>) -> Piece {
        Piece { text: text.into(), strong: true, data: String::new() }
    }
}

/// Pieces in rows that fit `room`, with the data on the first row of each.
pub fn set(pieces: &[Piece], room: i64) -> Vec<(Row, String)> {
    let mut out = Vec::new();
    for piece in pieces {
        let mut data = piece.data.clone();
        for row in rows(&piece.text, piece.strong, room) {
            out.push((row, std::mem::take(&mut data)));
        }
    }
    out
}

/// Beside a connection: what it is, and how it stands.
pub fn link(input: &Input, moment: &Moment, link: Link) -> Vec<Piece> {
    let job = input.sound.job();
    match link {
        Link::Device(d) => {
            let facts = &job.devices[d];
            let mut rating = format!("{}\u{a0}A", plain(&facts.rating.0));
            if let Some(ma) = &facts.rcd_ma {
                rating.push_str(&format!(", {}\u{a0}mA", plain(ma)));
            }
            let mut what = format!("{}, {rating}", name::device(input, d));
            if facts.self_acting.is_some() {
                what.push_str(", acts by itself");
            }
            // What is closed needs no row of its own; what is not, has to be seen.
            match moment.device(d) {
                Standing::Closed => vec![Piece::plain(format!("{what}: closed"))],
                stands => vec![Piece::plain(what), standing(&stands)],
            }
        }
        Link::Joint(j) => {
            let what = name::with_roles(input, job.joints.name(j));
            let how = if moment.joint(j) { "connected" } else { "NOT connected" };
            vec![Piece::plain(format!("{what}: {how}"))]
        }
    }
}

fn standing(standing: &Standing) -> Piece {
    match standing {
        Standing::Closed => Piece::plain("closed"),
        Standing::Open => Piece::plain("OPEN, not locked"),
        Standing::Locked(locks) => Piece::strong(format!("LOCKED OFF: {}", locks.join(", "))),
    }
}

/// Over a board: what it is and how its places stand.
pub fn board(input: &Input, moment: &Moment, b: BoardId) -> Vec<Piece> {
    let facts = &input.sound.job().boards[b];
    let mut out = vec![Piece::strong(name::board(input, b))];
    match moment.presence(b) {
        Presence::ToCome => out.push(Piece::plain("not mounted yet")),
        Presence::TakenOut => out.push(Piece::plain("taken out")),
        Presence::There => {
            out.push(place(input, moment, facts.incoming, "incoming"));
            out.push(place(input, moment, facts.ways, "ways"));
            if !input.sound.replay().cover_on(b).at(moment.at) {
                out.push(Piece::plain("cover off"));
            }
        }
    }
    out
}

fn place(input: &Input, moment: &Moment, p: PositionId, what: &str) -> Piece {
    let place = moment.place(p);
    let clock = &input.site.clock;
    let proof = match (place.proved, place.changes) {
        _ if place.condition == Condition::Live => String::new(),
        (true, None) => ", PROVED DEAD".to_owned(),
        (true, Some(t)) => format!(", PROVED DEAD until {}", clock.short(t)),
        (false, Some(t)) => format!(", prove dead by {}", clock.short(t)),
        (false, None) => ", not proved".to_owned(),
    };
    Piece {
        text: format!("{what}: {}{proof}", place.condition.words()),
        strong: place.condition == Condition::Live,
        data: format!(
            r#" data-position="{}" data-state="{}" data-proved="{}""#,
            p.index(),
            place.condition.key(),
            place.proved
        ),
    }
}

/// At the end of a connection: what the net there is, where that has to be told.
pub fn net(input: &Input, moment: &Moment, net: &Net) -> Vec<Piece> {
    let job = input.sound.job();
    let mut out = Vec::new();
    if let Some(supply) = net.supply {
        let node = job.supplies[supply].node;
        let own = job.positions.iter().find(|(_, p)| p.board.is_none() && p.bare.contains(&node));
        match own {
            Some((p, _)) => out.push(place(input, moment, p, "box")),
            None => out.push(condition(moment.net(net))),
        }
    }
    if net.supply.is_none() && !net.elsewhere.is_empty() && net.bus_of.is_none() {
        let what = name::node(input, net.nodes[0]);
        out.push(Piece::plain(format!("{what}: fed from elsewhere")));
        out.push(condition(moment.net(net)));
    }
    out
}

fn condition(condition: Condition) -> Piece {
    Piece {
        text: condition.words().to_owned(),
        strong: condition == Condition::Live,
        data: String::new(),
    }
}

/// Beside a source.
pub fn source(input: &Input, moment: &Moment, node: NodeId) -> Vec<Piece> {
    let job = input.sound.job();
    let runs = match job.nodes[node].source().and_then(|s| s.watches) {
        None => "LIVE",
        Some(_) if moment.node(node) == Condition::Live => "RUNNING, LIVE",
        Some(_) => "stands by, starts by itself",
    };
    vec![Piece::plain(name::node(input, node)), Piece::strong(runs)]
}

/// Beside the symbol of a group of ways.
pub fn ways(group: &Group) -> Vec<Piece> {
    let Some(device) = &group.device else { return Vec::new() };
    let mut piece = standing(device);
    if group.ways.len() > 1 {
        piece.text = format!("{} × {}", group.ways.len(), piece.text);
    }
    vec![piece]
}

/// Beside the arrow of a group.
pub fn group(input: &Input, skeleton: &Skeleton, group: &Group) -> Vec<Piece> {
    let n = group.ways.len();
    let bus = skeleton.nets[group.net].bus_of;
    let role = bus.map_or("", |b| input.site.boards[b.index()].role);
    let count = if n == 1 { "1 circuit".to_owned() } else { format!("{n} circuits") };
    let old = group.ways.first().is_some_and(|w| w.place == Place::Old);
    let what = match (group.connected, bus.is_some()) {
        (true, false) => "on temporary supply",
        (true, true) if role == "STAYS" => "not moved",
        (true, true) if old => "not moved yet",
        (true, true) => "on their new ways",
        (false, _) if old => "taken off, made safe",
        (false, _) => "not on their new ways yet",
    };
    let what = if n == 1 { what.replace("their new ways", "its new way") } else { what.to_owned() };
    let refs = match bus {
        Some(_) => ways_text(input, group),
        None => numbers_text(input, group),
    };
    let mut out = vec![Piece::plain(format!("{count} {what}"))];
    let mut state = condition(group.condition);
    if !group.connected {
        state.text = format!("way: {}", state.text);
    }
    out.push(state);
    out.push(Piece::plain(refs));
    out
}
