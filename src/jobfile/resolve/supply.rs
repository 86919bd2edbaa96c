//! Sources, the devices above the boards, transfer switches, and temporary supplies.

use super::build::{Build, get, rows, text};
use super::kinds::{figure, fit, lines};
use crate::diag::{Fault, Span};
use crate::jobfile::schema::{
    FeedRow, Profile, SourceKind, SupplyRow, SystemWord, ThirdPartyRow, TransferRow,
};
use crate::jobfile::value::At;
use crate::model::*;
use crate::units::{Amperes, Exact, Metres, Ohms, Volts, decimal, whole};

/// Name of the main earthing terminal.
const EARTH: &str = "main earthing terminal";

/// Makes sources, feeds and transfer switches, in whatever order they stand.
pub(super) fn sources_and_feeds(b: &mut Build) {
    let earth = b.bar(EARTH, WireSet::EMPTY.with(Wire::PE), false, b.root.span);
    b.job.earth = earth.unwrap_or(NodeId::new(0));
    let mut watched = Vec::new();
    for row in rows(&b.root.source) {
        let (Some(name), Some(kind)) = (&row.name, &row.kind) else { continue };
        let wired = match &row.lines {
            Some(at) => lines(at, &mut b.cx).unwrap_or_default(),
            None => Wire::LINES.to_vec(),
        };
        let mut wires: WireSet = wired.into_iter().collect();
        if get(&row.neutral).unwrap_or(true) {
            wires = wires.with(Wire::N);
        }
        let incoming = kind.value == SourceKind::Incoming;
        let mut system = row.system.as_ref().map(|s| match s.value {
            SystemWord::Tn => Earthing::Tn,
            SystemWord::Tt => Earthing::Tt,
            SystemWord::It => Earthing::It,
        });
        let mut earthed = get(&row.neutral_earthed_by);
        if incoming && system.is_none() {
            b.default("earthing system of the incoming supply", "TN, the usual one");
            system = Some(Earthing::Tn);
        }
        if incoming
            && earthed.is_none()
            && system == Some(Earthing::Tn)
            && b.frame.profile == Profile::Uk
        {
            b.default(
                "neutral of the incoming supply reliably earthed",
                "by the distributor, by profile uk",
            );
            earthed = Some("the distributor (profile uk)".to_string());
        }
        let source = Source {
            watches: None,
            system,
            neutral_earthed: earthed,
            rating: Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(1))),
            diversity: figure(&row.diversity).unwrap_or_else(|| whole(1)),
        };
        let node = Node { kind: NodeKind::Source(source), wires, neutral_bar: false };
        let Some(id) = b.node(&name.value, node, name.span) else { continue };
        b.node_words.insert(id, described(&name.value, &text(&row.place)));
        if incoming {
            origin(b, id, &name.value, name.span);
        }
        if let Some(at) = &row.starts_when_dead {
            watched.push((id, at.clone()));
        }
    }
    feeds(b);
    for (id, at) in watched {
        let node = b.end(&at);
        if let NodeKind::Source(source) = &mut b.job.nodes[id].kind {
            source.watches = node;
        }
    }
}

/// The terminals at which the incoming supply meets the main earthing terminal. Whatever names
/// the supply means these.
fn origin(b: &mut Build, source: NodeId, name: &str, span: Span) -> Option<()> {
    let wires = b.job.nodes[source].wires.with(Wire::PE);
    let origin = b.bar(&format!("{name}.origin"), wires, false, span)?;
    b.node_words.insert(origin, format!("origin of {name}"));
    b.joint(&format!("{name} service"), source, origin, true, span)?;
    b.joint(&format!("{name} earth"), b.job.earth, origin, true, span)?;
    b.below.insert(name.to_string(), origin);
    Some(())
}

/// Feeds and transfer switches may name each other in any order.
fn feeds(b: &mut Build) {
    let mut feeds = rows(&b.root.feed);
    let mut transfers = rows(&b.root.transfer);
    loop {
        let before = (feeds.len(), transfers.len());
        feeds.retain(|row| {
            let Some(from) = &row.from else { return false };
            let ready = b.end_quietly(&from.value).is_some() || from.value.contains('/');
            if ready {
                feed(b, row);
            }
            !ready
        });
        transfers.retain(|row| {
            let (Some(x), Some(y)) = (&row.normal, &row.standby) else { return false };
            let ready = b.end_quietly(&x.value).is_some() && b.end_quietly(&y.value).is_some();
            if ready {
                transfer(b, row);
            }
            !ready
        });
        if (feeds.len(), transfers.len()) == before {
            break;
        }
    }
    for at in feeds.iter().filter_map(|r| r.from.as_ref()) {
        b.end(at);
    }
    for at in transfers.iter().flat_map(|r| [&r.normal, &r.standby]).flatten() {
        b.end(at);
    }
}

fn feed(b: &mut Build, row: &FeedRow) {
    let (Some(name), Some(from), Some(kind)) = (&row.name, &row.from, &row.kind) else { return };
    let Some(a) = b.end(from) else { return };
    let wires = b.job.nodes[a].wires;
    let Some(below) = b.bar(&format!("{}.out", name.value), wires, false, name.span) else {
        return;
    };
    let cable = text(&row.cable);
    let words = if cable.is_empty() {
        format!("cable from {}", name.value)
    } else {
        format!("{cable} from {}", name.value)
    };
    b.node_words.insert(below, words);
    let fitness = fit(kind.value);
    let carried = b.common(a, below);
    let closed = match &row.closed {
        Some(at) => at.value,
        None => !feeds_only_new(b, &name.value),
    };
    let device = Device {
        breaks: b.breaks(&row.breaks, carried, name.span),
        isolates: get(&row.isolates).unwrap_or(fitness.isolates),
        lockable: b.or(&row.lockable, "a feed can be locked open", "no", false),
        on_load: get(&row.on_load).unwrap_or(fitness.on_load),
        overcurrent: fitness.overcurrent,
        rcd_ma: figure(&row.rcd_ma),
        closed,
        diversity: figure(&row.diversity).unwrap_or_else(|| whole(1)),
        third_party: b.third_party(&row.third_party),
        ..b.plain_device(a, below, Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(1))))
    };
    if let Some(id) = b.device(&name.value, device, name.span) {
        b.device_words.insert(id, described(&name.value, &text(&row.place)));
    }
    b.below.insert(name.value.clone(), below);
}

fn feeds_only_new(b: &Build, feed: &str) -> bool {
    use crate::jobfile::schema::Role;
    let fed: Vec<Role> = rows(&b.root.board)
        .iter()
        .filter(|r| r.fed_from.as_ref().is_some_and(|f| f.value == feed))
        .filter_map(|r| get(&r.role))
        .collect();
    !fed.is_empty() && fed.iter().all(|r| *r == Role::New)
}

fn transfer(b: &mut Build, row: &TransferRow) {
    let (Some(name), Some(normal), Some(standby)) = (&row.name, &row.normal, &row.standby) else {
        return;
    };
    let (Some(n), Some(s)) = (b.end(normal), b.end(standby)) else { return };
    let wires: WireSet = b.job.nodes[n].wires.iter().chain(b.job.nodes[s].wires.iter()).collect();
    let Some(out) = b.bar(&format!("{}.out", name.value), wires, false, name.span) else { return };
    b.node_words.insert(out, format!("load side of {}", name.value));
    let rating = Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(1)));
    let lockable = b.or(&row.lockable, "a transfer switch can be locked open", "no", false);
    let isolates = b.or(&row.isolates, "a transfer switch is suitable for isolation", "no", false);
    for (side, from, closed_while_live) in [("normal", n, true), ("standby", s, false)] {
        let device = Device {
            lockable,
            isolates,
            closed: closed_while_live,
            self_acting: Some(SelfActing { node: n, closed_while_live }),
            ..b.plain_device(from, out, rating.clone())
        };
        if let Some(id) = b.device(&format!("{} {side}", name.value), device, name.span) {
            let words = format!("{side} side of {}", described(&name.value, &text(&row.place)));
            b.device_words.insert(id, words);
        }
    }
    b.below.insert(name.value.clone(), out);
}

/// A name with its place, where one is given.
pub(super) fn described(name: &str, place: &str) -> String {
    if place.is_empty() { name.to_string() } else { format!("{name} ({place})") }
}

impl Build {
    /// Who operates a device, if it is not the team.
    pub fn third_party(&mut self, row: &Option<At<ThirdPartyRow>>) -> Option<ThirdParty> {
        let row = &row.as_ref()?.value;
        let owner = self.who(&row.owner.as_ref()?.value);
        let appointments = self.periods(&rows(&row.appointments), &[]);
        Some(ThirdParty { owner, appointments })
    }
}

/// Figures of flexible leads: mm2, mV/A/m single- and three-phase at 60 °C, mΩ/m at 20 °C
/// (trade facts 4.4, class 5, and 4.5, flex 60 °C; 4 mm2 and up: flex 90 °C).
const LEADS: [(&str, &str, &str, &str); 7] = [
    ("1.5", "32", "27", "13.3"),
    ("2.5", "19", "16", "7.98"),
    ("4", "12", "10", "4.95"),
    ("6", "8.5", "7.4", "3.30"),
    ("10", "5.1", "4.4", "1.91"),
    ("16", "3.2", "2.7", "1.21"),
    ("25", "2.04", "1.73", "0.780"),
];

/// Temporary supplies with their hook-up boxes.
pub(super) fn temporary(b: &mut Build) {
    for row in rows(&b.root.temporary_supply) {
        supply(b, &row);
    }
}

fn supply(b: &mut Build, row: &SupplyRow) -> Option<()> {
    let (name, from) = (row.name.as_ref()?, row.from.as_ref()?);
    let feed = b.end(from)?;
    let wired = match &row.lines {
        Some(at) => lines(at, &mut b.cx)?,
        None => b.job.nodes[feed].wires.iter().filter(|w| w.is_line()).collect(),
    };
    let three = wired.len() > 1;
    let wires: WireSet = wired.into_iter().chain([Wire::N, Wire::PE]).collect();
    let node = b.bar(&format!("{}.out", name.value), wires, true, name.span)?;
    b.node_words.insert(node, described(&name.value, &text(&row.at)));
    let rating = Amperes(figure(&row.rating_a).unwrap_or_else(|| whole(1)));
    let rcd_ma = figure(&row.rcd_ma);
    // The residual-current device is the lead's own, and opens its neutral with its lines.
    let device = Device {
        lockable: true,
        overcurrent: true,
        closed: false,
        rcd_ma: rcd_ma.clone(),
        ..b.plain_device(feed, node, rating.clone())
    };
    let id = b.device(&name.value, device, name.span)?;
    b.device_words.insert(id, format!("breaker of {}", described(&name.value, &text(&row.at))));
    let (mv, lead_n, lead_e) = lead(b, row, three, name.span)?;
    let ohms = |v: Option<Exact>| Ohms(v.unwrap_or_else(|| whole(0)));
    let supply = Supply {
        feed,
        node,
        ways: row.ways.as_ref().map_or(1, |w| w.value.0),
        rating,
        diversity: figure(&row.diversity).unwrap_or_else(|| whole(1)),
        mv_per_a_m: mv,
        length: Metres(figure(&row.length_m).unwrap_or_else(|| whole(0))),
        drop_limit: Volts(figure(&row.drop_limit_v).unwrap_or_else(|| {
            b.default("limit of the voltage drop of a temporary supply", "11.5 V (5 % of 230 V)");
            Exact::new(23.into(), 2.into())
        })),
        feed_loop: Loop {
            neutral: ohms(figure(&row.feed_loop_n_ohm)),
            earth: ohms(figure(&row.feed_loop_e_ohm)),
        },
        lead_per_m: Loop { neutral: lead_n, earth: lead_e },
        loop_limit: ohms(figure(&row.loop_limit_ohm)),
        rcd_ma,
    };
    if !b.fresh("temporary supply", &name.value, name.span) {
        return None;
    }
    b.job.supplies.add(name.value.clone(), supply);
    b.site.supplies.push(described(&name.value, &text(&row.at)));
    let none = b.or(
        &row.none_found,
        "nothing in a hook-up box is fed from elsewhere",
        "stated by the survey",
        true,
    );
    let position = Position {
        board: None,
        hands: row.room_for.as_ref().map_or(1, |r| r.value.0),
        bare: vec![node],
        points: vec![node],
        row: Vec::new(),
        other_fed: Vec::new(),
        enclosed: Vec::new(),
        none_found: none.then(|| b.none_found()),
        discharge: crate::units::Minutes(0),
        live_before: false,
    };
    let position = b.job.positions.add(format!("{}.box", name.value), position)?;
    b.position_words.insert(position, format!("box of {}", described(&name.value, &text(&row.at))));
    b.supply_positions.push(position);
    if let Some(area) = row.area.as_ref().and_then(|a| b.area(a)) {
        b.position_areas.insert(position, area);
    }
    Some(())
}

/// Drop, and loop impedance a metre (line and neutral, line and earth, hot: 20 to 60 °C is a
/// factor of 1.16), as stated or by the size of the lead.
fn lead(b: &mut Build, row: &SupplyRow, three: bool, span: Span) -> Option<(Exact, Exact, Exact)> {
    let mm2 = figure(&row.lead_mm2);
    let table = LEADS.iter().find(|(size, ..)| decimal(size) == mm2);
    let hot = |text: &str| decimal(text).map(|r| r * Exact::new((2 * 116).into(), 100_000.into()));
    let mv =
        figure(&row.mv_per_a_m).or_else(|| decimal(table.map(|t| if three { t.2 } else { t.1 })?));
    let n = figure(&row.lead_n_ohm_m).or_else(|| hot(table?.3));
    let e = figure(&row.lead_e_ohm_m).or_else(|| hot(table?.3));
    if table.is_some() && (row.mv_per_a_m.is_none() || row.lead_e_ohm_m.is_none()) {
        b.default("drop and impedance of a flexible lead", "by its size, hot");
    }
    match (mv, n, e) {
        (Some(mv), Some(n), Some(e)) => Some((mv, n, e)),
        _ => {
            let about = "size of the flexible lead (1.5 to 25), or else its drop and impedances"
                .to_string();
            let fault = Fault::MissingKey {
                key: "lead_mm2".to_string(),
                table: SupplyRow::NAME.to_string(),
                about,
            };
            b.cx.fault(fault, row.lead_mm2.as_ref().map_or(span, |m| m.span));
            None
        }
    }
}
