//! What there is: nodes, devices, joints, boards and positions.

use super::super::raw;
use super::{Names, Reader};
use crate::model::*;
use crate::units::Minutes;
use serde_json::Number;

impl Reader {
    pub(super) fn node(&mut self, r: &raw::Node, n: &Names) -> Node {
        let place = format!("job.nodes, `{}`", r.id);
        let kind = match r.kind.as_str() {
            "source" => NodeKind::Source(self.source(r, n, &place)),
            "bar" => NodeKind::Bar,
            "load" => NodeKind::Load,
            other => {
                self.fault(&place, format!("`{other}` is no kind of node"));
                NodeKind::Bar
            }
        };
        Node { kind, wires: self.wires(&r.wires, &place), neutral_bar: r.neutral_bar }
    }

    pub(super) fn source(&mut self, r: &raw::Node, n: &Names, place: &str) -> Source {
        let missing = [
            ("self_start", r.self_start.is_none()),
            ("watches", r.watches.is_none()),
            ("system", r.system.is_none()),
            ("neutral_earthed", r.neutral_earthed.is_none()),
            ("rating", r.rating.is_none()),
            ("diversity", r.diversity.is_none()),
        ];
        for (key, _) in missing.iter().filter(|(_, missing)| *missing) {
            self.fault(place, format!("a source needs the key `{key}`"));
        }
        let watches = r.watches.clone().flatten();
        let watches = self.find_some(&n.nodes, watches.as_deref(), place);
        if r.self_start.unwrap_or(false) && watches.is_none() {
            self.fault(place, "it starts by itself, but watches no node");
        }
        let system = match r.system.clone().flatten().as_deref() {
            None => None,
            Some("TN") => Some(Earthing::Tn),
            Some("TT") => Some(Earthing::Tt),
            Some("IT") => Some(Earthing::It),
            Some(other) => {
                self.fault(place, format!("`{other}` is no earthing system (TN, TT or IT)"));
                None
            }
        };
        let zero = Number::from(0);
        Source {
            watches: watches.filter(|_| r.self_start == Some(true)),
            system,
            neutral_earthed: r.neutral_earthed.clone().flatten(),
            rating: self.amperes(r.rating.as_ref().unwrap_or(&zero), place),
            diversity: self.figure(r.diversity.as_ref().unwrap_or(&zero), place),
        }
    }

    pub(super) fn device(&mut self, r: &raw::Device, n: &Names) -> Device {
        let place = format!("job.devices, `{}`", r.id);
        let wires = self.lanes(&r.wires, &place);
        let breaks = self.wires(&r.breaks, &place);
        if breaks.iter().any(|w| wires.across(w).is_none()) {
            self.fault(&place, "it breaks a conductor that it does not carry");
        }
        let self_acting = r.self_acting.as_ref().map(|s| SelfActing {
            node: self.find(&n.nodes, &s.node, &place),
            closed_while_live: match s.closed_while.as_str() {
                "live" => true,
                "dead" => false,
                other => {
                    self.fault(&place, format!("closed_while is `live` or `dead`, not `{other}`"));
                    true
                }
            },
        });
        let third_party = r.third_party.as_ref().and_then(|t| {
            Some(ThirdParty {
                owner: n.who(&t.owner)?,
                appointments: self.spans(&t.appointments, &place),
            })
        });
        Device {
            a: self.find(&n.nodes, &r.a, &place),
            b: self.find(&n.nodes, &r.b, &place),
            wires,
            breaks,
            isolates: r.isolates,
            lockable: r.lockable,
            on_load: r.on_load,
            overcurrent: r.overcurrent,
            rcd_ma: r.rcd_ma.as_ref().map(|x| self.figure(x, &place)),
            closed: r.closed,
            rating: self.amperes(&r.rating, &place),
            diversity: self.figure(&r.diversity, &place),
            enclosure: self.find_some(&n.boards, r.enclosure.as_deref(), &place),
            temporary: r.temporary,
            self_acting,
            third_party,
        }
    }

    pub(super) fn joint(&mut self, r: &raw::Joint, n: &Names) -> Joint {
        let place = format!("job.joints, `{}`", r.id);
        let of = match (&r.circuit, r.place.as_deref()) {
            (None, None) => None,
            (Some(circuit), Some(word)) => {
                let circuit = self.find(&n.circuits, circuit, &place);
                let spot = match word {
                    "old" => Place::Old,
                    "new" => Place::New,
                    supply => Place::On(self.find(&n.supplies, supply, &place)),
                };
                Some((circuit, spot))
            }
            _ => {
                self.fault(&place, "`circuit` and `place` are both given, or both null");
                None
            }
        };
        Joint {
            a: self.find(&n.nodes, &r.a, &place),
            b: self.find(&n.nodes, &r.b, &place),
            wires: self.lanes(&r.wires, &place),
            made: r.made,
            of,
        }
    }

    pub(super) fn board(&mut self, r: &raw::Board, n: &Names) -> Board {
        let place = format!("job.boards, `{}`", r.id);
        Board {
            incoming: self.find(&n.positions, &r.incoming, &place),
            ways: self.find(&n.positions, &r.ways, &place),
            incoming_shrouded: r.incoming_shrouded,
            ways_shrouded: r.ways_shrouded,
            covers_on: r.covers_on,
            within_reach: self.find_all(&n.boards, &r.within_reach, &place),
            replaces: self.find_some(&n.boards, r.replaces.as_deref(), &place),
            one_way: r.one_way.as_ref().map(|o| o.justification.clone()),
        }
    }

    pub(super) fn position(&mut self, r: &raw::Position, n: &Names) -> Position {
        let place = format!("job.positions, `{}`", r.id);
        Position {
            board: self.find_some(&n.boards, r.board.as_deref(), &place),
            hands: r.hands,
            bare: self.find_all(&n.nodes, &r.bare, &place),
            points: self.find_all(&n.nodes, &r.points, &place),
            row: self.find_all(&n.nodes, &r.row, &place),
            other_fed: self.find_all(&n.nodes, &r.other_fed, &place),
            enclosed: self.find_all(&n.nodes, &r.enclosed, &place),
            none_found: r
                .none_found
                .as_ref()
                .map(|f| NoneFound { by: f.by.clone(), when: f.when.clone() }),
            discharge: Minutes(r.discharge),
            live_before: r.live_before,
        }
    }
}
