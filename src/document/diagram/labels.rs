//! What is written beside the symbols.

use super::super::Input;
use super::super::name;
use super::compact::{numbers_text, ways_text};
use super::fold::{Branch, Fold};
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
            let gone = facts.enclosure.is_some_and(|b| moment.presence(b) == Presence::TakenOut);
            match moment.device(d) {
                Standing::Closed | Standing::Open if gone => {
                    vec![Piece::plain(format!("{}: gone with it", name::device(input, d)))]
                }
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
    let mut out = vec![Piece::strong(name::board_and_role(input, b))];
    match moment.presence(b) {
        Presence::ToCome => out.push(Piece::plain("not mounted yet")),
        Presence::TakenOut => out.push(Piece::plain("taken out")),
        Presence::There => {
            out.push(place(input, moment, facts.incoming, "incoming"));
            out.push(place(input, moment, facts.ways, "ways"));
            if !input.sound.replay().cover_on(b).at(moment.at) {
                out.push(Piece::plain(match facts.incoming_shrouded && facts.ways_shrouded {
                    true => "cover off, shrouds on",
                    false => "cover off",
                }));
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
    let state = condition(group.condition);
    let text = match (group.connected, n) {
        (true, _) => format!("{} {what}: {}", circuits(n), state.text),
        (false, 1) => format!("{} {what}; way: {}", circuits(n), state.text),
        (false, _) => format!("{} {what}; ways: {}", circuits(n), state.text),
    };
    vec![Piece { text, ..state }, Piece::plain(refs)]
}

fn circuits(n: usize) -> String {
    if n == 1 { "1 circuit".to_owned() } else { format!("{n} circuits") }
}

/// Beside the symbol of idle branches: what they hang on.
pub fn fold_links(input: &Input, moment: &Moment, fold: &Fold) -> Vec<Piece> {
    if let [one] = fold.branches.as_slice() {
        return link(input, moment, one.link);
    }
    let what = |b: &Branch| match b.link {
        Link::Device(d) => name::device(input, d),
        Link::Joint(j) => name::with_roles(input, input.sound.job().joints.name(j)),
    };
    let all: Vec<String> = fold.branches.iter().map(what).collect();
    let how = match fold.branches[0].link {
        Link::Device(d) => standing(&moment.device(d)).text,
        Link::Joint(j) if moment.joint(j) => "connected".to_owned(),
        Link::Joint(_) => "NOT connected".to_owned(),
    };
    vec![Piece::plain(format!("{}: {how}", name::list(&all)))]
}

/// In the box of idle branches.
pub fn fold(input: &Input, moment: &Moment, fold: &Fold) -> Vec<Piece> {
    fold.branches.iter().flat_map(|b| branch(input, moment, b)).collect()
}

/// An idle branch in words: its board and how that stands, its circuits, temporary supplies.
fn branch(input: &Input, moment: &Moment, branch: &Branch) -> Vec<Piece> {
    let job = input.sound.job();
    let apart = if branch.apart { ", NOT connected" } else { "" };
    let mut out = Vec::new();
    for s in &branch.supplies {
        let state = condition(branch.condition);
        let text = format!("{}, box: {}{apart}", job.supplies.name(*s), state.text);
        out.push(Piece { text, ..state });
    }
    let Some(b) = branch.board else { return out };
    let name = name::board(input, b);
    match moment.presence(b) {
        Presence::ToCome => out.push(Piece::plain(format!("{name}: not mounted yet{apart}"))),
        Presence::TakenOut => out.push(Piece::plain(format!("{name}: taken out{apart}"))),
        Presence::There => {
            let facts = &job.boards[b];
            let (incoming, ways) = (moment.place(facts.incoming), moment.place(facts.ways));
            let mut piece = place(input, moment, facts.ways, &name);
            if incoming.condition == ways.condition {
                piece.text = format!("{name}: {}{apart}", ways.condition.words());
            } else {
                out.push(place(input, moment, facts.incoming, &format!("{name}, incoming")));
                piece.text = format!("{name}, ways: {}{apart}", ways.condition.words());
            }
            out.push(piece);
        }
    }
    for group in &branch.groups {
        let n = group.ways.len();
        let alike = group.condition == branch.condition && group.connected;
        let open = group.device.as_ref().is_some_and(|d| *d == Standing::Open);
        let text = match (group.connected, alike) {
            (true, true) => circuits(n),
            (true, false) => format!("{}: {}", circuits(n), group.condition.words()),
            (false, _) => format!("{} taken off, way: {}", circuits(n), group.condition.words()),
        };
        let open = if open { ", OPEN, not locked" } else { "" };
        out.push(Piece::plain(format!("{text}{open}")));
    }
    out
}
