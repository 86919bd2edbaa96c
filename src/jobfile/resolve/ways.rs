//! References such as `DB-1/7L2`, and the way nodes and devices that they call for.

use super::build::{Build, WayMade, get};
use super::kinds::{described, fit};
use crate::diag::{Fault, Span, nearest};
use crate::jobfile::schema::DeviceKind;
use crate::jobfile::value::{At, clip};
use crate::model::*;
use crate::units::{Amperes, Exact, whole};

/// A reference taken apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Reference {
    pub board: BoardId,
    pub number: i64,
    pub line: Option<Wire>,
}

impl Build {
    /// Takes `BOARD/WAY` or `BOARD/WAYL2` apart; tells a board or way that is not there.
    pub fn reference(&mut self, at: &At<String>) -> Option<Reference> {
        let Some((board, way)) = at.value.rsplit_once('/') else {
            let hint = self
                .job
                .boards
                .names()
                .next()
                .map(|n| format!("write it as `{n}/{}`", clip(&at.value)));
            let fault = Fault::Value {
                want: "a way as BOARD/WAY".to_string(),
                found: format!("`{}`", clip(&at.value)),
            };
            self.cx.tell(fault, at.span, None, hint);
            return None;
        };
        let board = board.trim();
        let Some(id) = self.job.boards.find(board) else {
            let hint = nearest(board, self.job.boards.names())
                .map(|n| format!("did you mean `{n}/{way}`?"));
            let fault = Fault::Unknown { what: "board", name: clip(board) };
            self.cx.tell(fault, at.span, None, hint);
            return None;
        };
        let made = &self.boards[id.index()];
        let upper = way.trim().to_uppercase();
        let (digits, line) = match upper.find('L') {
            Some(i) => (&upper[..i], Wire::read(&upper[i..]).map(Some)),
            None => (&upper[..], Some(None)),
        };
        let number: Option<i64> = digits.parse().ok().filter(|n| (1..=made.ways).contains(n));
        let line = line.filter(|l| l.is_none() || made.phases == 3 || *l == Some(made.line));
        match (number, line) {
            (Some(number), Some(line)) => Some(Reference { board: id, number, line }),
            _ => {
                let has = if made.phases == 3 {
                    format!("ways 1 to {}, each with L1, L2 and L3", made.ways)
                } else {
                    format!("ways 1 to {}, all on {}", made.ways, made.line)
                };
                let fault =
                    Fault::NoSuchWay { reference: clip(&at.value), board: board.to_string(), has };
                self.cx.fault(fault, at.span);
                None
            }
        }
    }

    /// The reference as printed; on a single-phase board without its line.
    pub fn shown(&self, r: Reference) -> String {
        let line = r.line.filter(|_| self.boards[r.board.index()].phases == 3);
        let name = self.job.boards.name(r.board);
        format!("{name}/{}{}", r.number, line.map_or("", Wire::name))
    }

    /// The way's node and device, made or widened to carry `wires`.
    pub fn way(&mut self, r: Reference, wires: WireSet, span: Span) -> Option<NodeId> {
        let name = self.shown(r);
        if let Some(made) = self.ways.get(&name) {
            let node = made.node;
            let all: WireSet = self.job.nodes[node].wires.iter().chain(wires.iter()).collect();
            self.job.nodes[node].wires = all;
            if let Some(device) = self.job.devices.find(&name) {
                let carried = self.carried(r.board, all);
                let breaks = self.way_breaks(r.board, carried);
                let d = &mut self.job.devices[device];
                d.wires = Lanes::straight(carried);
                d.breaks = breaks;
            }
            return Some(node);
        }
        // One outlet cannot be part of a multi-pole way and a way of its own.
        let clash = self.ways.values().find(|w| {
            w.board == r.board && w.number == r.number && (w.line.is_none() || r.line.is_none())
        });
        if let Some(clash) = clash {
            let other = self.job.nodes.name(clash.node).to_string();
            let first = clash.span;
            let why = format!("`{name}` and `{other}` are the same terminals");
            self.cx.tell(Fault::Lines { why }, span, Some((first, "also here")), None);
            return None;
        }
        let node = self.bar(&name, wires, false, span)?;
        let bus = self.boards[r.board.index()].bus;
        let row = self.board_row(r.board);
        let role = self.boards[r.board.index()].role;
        let kind = match &row.way_device {
            Some(kind) => kind.value,
            None => {
                self.default("device of a way where the schedule says nothing", "breaker");
                DeviceKind::Breaker
            }
        };
        let fitness = fit(kind);
        let carried = self.carried(r.board, wires);
        let device = Device {
            wires: Lanes::straight(carried),
            breaks: self.way_breaks(r.board, carried),
            isolates: fitness.isolates,
            lockable: self.or(
                &row.ways_lockable,
                "devices of ways can be locked open",
                "no",
                false,
            ),
            on_load: fitness.on_load,
            overcurrent: fitness.overcurrent,
            closed: matches!(role, BoardRole::Old | BoardRole::Stays),
            enclosure: Some(r.board),
            ..self.plain_device(bus, node, Amperes::from(100))
        };
        self.device(&name, device, span)?;
        let made = WayMade {
            board: r.board,
            number: r.number,
            line: r.line,
            node,
            circuits: Vec::new(),
            span,
        };
        self.ways.insert(name, made);
        Some(node)
    }

    fn carried(&self, board: BoardId, wires: WireSet) -> WireSet {
        let bus = self.job.nodes[self.boards[board.index()].bus].wires;
        wires.iter().filter(|w| bus.has(*w)).collect()
    }

    fn way_breaks(&mut self, board: BoardId, carried: WireSet) -> WireSet {
        let row = self.board_row(board);
        let neutral = match &row.ways_break {
            Some(at) if at.value == "lines N" => true,
            Some(at) if at.value == "lines" => false,
            Some(at) => {
                let words = vec!["lines", "lines N"];
                self.cx.fault(Fault::NotOneOf { found: clip(&at.value), words }, at.span);
                false
            }
            None => {
                self.default("what devices of ways open", "lines only");
                false
            }
        };
        carried.iter().filter(|w| w.is_line() || (*w == Wire::N && neutral)).collect()
    }

    /// Sets what the schedule says about a way's device. Two circuits on it have to agree.
    pub fn describe_way(
        &mut self,
        node: NodeId,
        words: &Option<At<String>>,
        rating: Option<&At<Exact>>,
        rcd: Option<&At<Exact>>,
        span: Span,
    ) {
        let name = self.job.nodes.name(node).to_string();
        let Some(device) = self.job.devices.find(&name) else { return };
        let (kind, said) = words.as_ref().map_or((None, None), |w| described(&w.value));
        let is_rcbo = kind == Some(DeviceKind::Rcbo);
        if let (Some(a), Some(b)) = (&said, rating)
            && a.0 != b.value
        {
            let why = format!(
                "the device is `{}`, but `rating_a` says {}",
                text_of(words),
                Amperes(b.value.clone())
            );
            self.cx.fault(Fault::Conflict { why }, b.span);
        }
        let rating = rating.map(|r| Amperes(r.value.clone())).or(said);
        let rcd = rcd.map(|r| r.value.clone());
        if is_rcbo && rcd.is_none() {
            self.default("residual-current rating of an rcbo", "30 mA");
        }
        let rcd = rcd.or(is_rcbo.then(|| whole(30)));
        let first = self.ways.get(&name).is_none_or(|w| w.circuits.is_empty());
        let d = &mut self.job.devices[device];
        if let Some(kind) = kind {
            let fitness = fit(kind);
            d.isolates = fitness.isolates;
            d.on_load = fitness.on_load;
            d.overcurrent = fitness.overcurrent;
        }
        let (had, had_rcd) = (d.rating.clone(), d.rcd_ma.clone());
        if let Some(rating) = rating.clone() {
            d.rating = rating;
        }
        d.rcd_ma = if first { rcd.clone() } else { rcd.clone().or(had_rcd.clone()) };
        let clash = rating.is_some_and(|r| r != had)
            || (rcd.is_some() && had_rcd.is_some() && rcd != had_rcd);
        if !first && clash {
            let why = format!("the circuits on `{name}` give its device different figures");
            self.cx.fault(Fault::Conflict { why }, words.as_ref().map_or(span, |w| w.span));
        }
    }

    /// A node by any name that the job may use for it; tells a name that nothing has.
    pub fn end(&mut self, at: &At<String>) -> Option<NodeId> {
        if let Some(found) = self.end_quietly(&at.value) {
            return Some(found);
        }
        if at.value.contains('/') {
            let r = self.reference(at)?;
            let bus = self.boards[r.board.index()].bus;
            let mut wires = self.job.nodes[bus].wires;
            if let Some(line) = r.line {
                wires = wires.iter().filter(|w| !w.is_line() || *w == line).collect();
            }
            return self.way(r, wires, at.span);
        }
        let known: Vec<String> = self
            .below
            .keys()
            .cloned()
            .chain(self.job.boards.names().map(String::from))
            .chain(self.job.nodes.names().map(String::from))
            .collect();
        self.cx.unknown("node, source, feed or board", at, known.iter().map(String::as_str));
        None
    }

    /// The same without a word, and without making a way.
    pub fn end_quietly(&self, name: &str) -> Option<NodeId> {
        self.below
            .get(name)
            .copied()
            .or_else(|| self.job.nodes.find(name))
            .or_else(|| self.job.boards.find(name).map(|b| self.boards[b.index()].bus))
            .or_else(|| self.job.supplies.find(name).map(|s| self.job.supplies[s].node))
    }

    /// The table of a board as written.
    pub fn board_row(&self, board: BoardId) -> crate::jobfile::schema::BoardRow {
        let index = self.boards[board.index()].row;
        get(&self.root.board).and_then(|rows| rows.get(index).cloned()).unwrap_or_default()
    }
}

fn text_of(words: &Option<At<String>>) -> String {
    words.as_ref().map_or(String::new(), |w| clip(&w.value))
}
