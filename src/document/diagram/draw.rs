//! One drawing as SVG.
//!
//! What checks a drawing reads its attributes: `data-net` and `data-state` of every line,
//! `data-device`, `data-joint` and `data-position` with how they stand, numbers being those of the
//! job's tables.

use super::super::Input;
use super::emergency::Cells;
use super::fit::Plate;
use super::fold::Fold;
use super::geometry::{BESIDE, Geometry, LEFT};
use super::labels::set;
use super::layout::Layout;
use super::notes::{BOX, Of, PAD, SIGN, Slot, Stub, height};
use super::skeleton::{Link, Skeleton};
use super::states::{Condition, Group, Moment, Presence, Standing};
use super::symbols::{self, SOURCE};
use super::text::{ROW, SIZE};
use super::tiles::{self, Frame, Tile};
use crate::document::markup::escaped;
use crate::model::*;
use std::fmt::Write;

/// Radius of the bow with which a line passes over another.
const BOW: i64 = 10;

/// What a drawing is made of.
pub struct Sheet<'a> {
    /// The plan and its labels.
    pub input: &'a Input<'a>,
    /// How it stands.
    pub moment: &'a Moment<'a>,
    /// What is drawn, and where.
    pub plate: &'a Plate,
}

/// How a line is drawn: width and dashes tell its condition without colour.
pub fn line_style(condition: Condition, bar: bool) -> String {
    let (width, dashes) = match condition {
        Condition::Live => (9, ""),
        Condition::Dead => (5, r#" stroke-dasharray="12 7""#),
        Condition::LockedOff => (2, ""),
    };
    let width = if bar { width + 5 } else { width };
    format!(r#"fill="none" stroke="black" stroke-width="{width}"{dashes}"#)
}

impl Sheet<'_> {
    /// The drawing, in as many parts as it needs pages; `beside` is the room for what else stands
    /// on the page of one that needs no more. `id` is unique on the page; `title` and `text` tell
    /// it to who cannot see it. The first part holds all that is drawn, and the others show it.
    pub fn parts(&self, id: &str, title: &str, text: &str, beside: i64) -> Vec<String> {
        let frames = self.frames();
        let edges: Vec<Frame> = frames.iter().map(|(frame, _)| *frame).collect();
        let (geometry, layout, skeleton) = (self.geometry(), self.layout(), self.skeleton());
        let bottom = geometry.bottom();
        let across = tiles::columns(geometry, layout, &edges);
        let emergency = Cells::new(self.input, self.moment, across[0].1 - LEFT);
        let height = bottom + emergency.height();
        let all = tiles::tiles(geometry, layout, &edges, height, beside);
        let (id, title, text) = (escaped(id), escaped(title), escaped(text));
        let window = |tile: &Tile| {
            let paper = |long: i64| {
                let hundredths = long * tile.scale / 100;
                format!("{}.{:02}mm", hundredths / 100, hundredths % 100)
            };
            let Tile { left, top, width, height, .. } = *tile;
            format!(
                concat!(
                    r#"viewBox="{} {} {} {}" width="{}" height="{}" "#,
                    r#"font-family="Liberation Sans, Arial, Helvetica, sans-serif" font-size="{}""#
                ),
                left,
                top,
                width,
                height,
                paper(width),
                paper(height),
                SIZE
            )
        };
        let mut out = format!(
            concat!(
                r#"<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{id}-t {id}-d" "#,
                r#"{window} data-width="{width}" data-at="{at}" data-until="{until}">"#,
                r#"<title id="{id}-t">{title}</title><desc id="{id}-d">{text}</desc><g id="{id}-all">"#
            ),
            id = id,
            window = window(&all[0]),
            width = geometry.width,
            at = self.moment.at.0,
            until = self.moment.until.0,
            title = title,
            text = text,
        );
        for (frame, dashes) in &frames {
            let (left, top, right, bottom) = frame;
            let _ = write!(
                out,
                r#"<rect x="{left}" y="{top}" width="{}" height="{}" fill="none" stroke="black" stroke-width="2" stroke-dasharray="{dashes}"/>"#,
                right - left,
                bottom - top
            );
        }
        self.bars(&mut out);
        for edge in 0..skeleton.edges.len() {
            self.edge(&mut out, edge);
        }
        for net in 0..skeleton.nets.len() {
            self.source(&mut out, net);
            for (i, slot) in self.plate.words.slots[net].iter().enumerate() {
                match &slot.stub {
                    Stub::Ways(group) => self.ways(&mut out, (net, i), slot, group),
                    Stub::Folded(fold) => self.fold(&mut out, (net, i), slot, fold),
                }
            }
        }
        out.push_str(&emergency.draw(bottom));
        out.push_str("</g></svg>");
        let others = all[1..].iter().map(|tile| {
            let window = window(tile);
            format!(
                r##"<svg xmlns="http://www.w3.org/2000/svg" aria-hidden="true" data-part-of="{id}" {window}><use href="#{id}-all"/></svg>"##
            )
        });
        std::iter::once(out).chain(others).collect()
    }

    fn geometry(&self) -> &Geometry {
        &self.plate.geometry
    }

    fn layout(&self) -> &Layout {
        &self.plate.layout
    }

    fn skeleton(&self) -> &Skeleton {
        &self.plate.drawn.skeleton
    }

    fn y(&self, net: usize) -> i64 {
        self.geometry().y(self.layout(), net)
    }

    fn condition(&self, net: usize) -> Condition {
        self.moment.net(&self.skeleton().nets[net])
    }

    /// The enclosures of the boards, and the dashes of each.
    fn frames(&self) -> Vec<(Frame, &'static str)> {
        let g = self.geometry();
        let frame = |e: &super::notes::Enclosure| {
            let top = g.zones[e.rank.saturating_sub(1)] + 4;
            let bottom = g.ranks[e.rank + 1] - 8;
            let left = g.x(e.from) - LEFT + 2;
            let right = g.x(e.to + 1) - LEFT - 8;
            let dashes = match self.moment.presence(e.board) {
                Presence::There => "24 6 4 6",
                _ => "3 9",
            };
            ((left, top, right, bottom), dashes)
        };
        self.plate.enclosures.iter().map(frame).collect()
    }

    fn bars(&self, out: &mut String) {
        for (net, bar) in self.layout().bars.iter().enumerate() {
            let bus = self.skeleton().nets[net].bus_of.is_some();
            let (mut from, mut to) = (self.geometry().x(bar.from), self.geometry().x(bar.to));
            let y = self.y(net);
            if bus {
                (from, to) = (from - 30, to + 60);
            } else if from == to {
                let ends = !self.skeleton().edges.iter().any(|e| e.up == net);
                if ends && self.plate.words.slots[net].is_empty() {
                    let _ = write!(
                        out,
                        r#"<circle cx="{from}" cy="{y}" r="6" fill="white" stroke="black" stroke-width="4"/>"#
                    );
                }
                continue;
            }
            let condition = self.condition(net);
            let _ = write!(
                out,
                r#"<path data-net="{net}" data-nodes="{}" data-state="{}" d="M{from} {y}H{to}" {}/>"#,
                self.nodes(net),
                condition.key(),
                line_style(condition, bus)
            );
            self.dots(out, net, bar.from, bar.to, y);
        }
    }

    fn nodes(&self, net: usize) -> String {
        let all = self.skeleton().nets[net].nodes.iter().map(|n| n.index().to_string());
        all.collect::<Vec<_>>().join(" ")
    }

    /// A dot wherever three or more lines of a net meet.
    fn dots(&self, out: &mut String, net: usize, from: usize, to: usize, y: i64) {
        let used = self.plate.words.slots[net].len();
        let mut at: Vec<usize> = self.layout().slots[net][..used].to_vec();
        for (i, e) in self.skeleton().edges.iter().enumerate() {
            if e.up == net || e.down == net {
                at.push(self.layout().columns[i]);
            }
        }
        if self.skeleton().nets[net].source.is_some() {
            at.push(from);
        }
        at.sort_unstable();
        let bus = self.skeleton().nets[net].bus_of.is_some();
        let mut rest = at.as_slice();
        while let Some(column) = rest.first() {
            let lines = rest.iter().take_while(|c| *c == column).count();
            rest = &rest[lines..];
            let arms = match (from == to, *column == from || *column == to) {
                (true, _) => 0,
                (false, true) => 1,
                (false, false) => 2,
            };
            if lines + arms >= 3 || bus {
                let x = self.geometry().x(*column);
                let _ = write!(
                    out,
                    r#"<circle class="dot" data-net="{net}" cx="{x}" cy="{y}" r="9"/>"#
                );
            }
        }
    }

    fn edge(&self, out: &mut String, edge: usize) {
        let e = self.skeleton().edges[edge];
        let x = self.geometry().x(self.layout().columns[edge]);
        let (top, room) = self.geometry().place(Of::Edge(edge));
        self.line(out, e.up, x, self.y(e.up), top);
        self.line(out, e.down, x, top + height(e.link), self.y(e.down));
        let _ = write!(out, "<g{}>{}</g>", self.stands(e.link), self.symbol(x, top, e.link));
        text(out, x + BESIDE, top, &set(&self.plate.words.edge[edge], room));
    }

    fn symbol(&self, x: i64, top: i64, link: Link) -> String {
        match link {
            Link::Device(d) => {
                let facts = &self.input.sound.job().devices[d];
                let shape = symbols::shape(facts, &self.input.site.devices[d.index()]);
                symbols::switch(x, top, shape, &self.moment.device(d))
            }
            Link::Joint(j) => symbols::joint(x, top, self.moment.joint(j)),
        }
    }

    /// How a connection stands, as data.
    fn stands(&self, link: Link) -> String {
        let stands = self.moment.link(link);
        match link {
            Link::Device(d) => {
                let locks = self.input.sound.replay().device(d).at(self.moment.at).locks.len();
                format!(
                    r#" data-device="{}" data-stands="{stands}" data-locks="{locks}""#,
                    d.index()
                )
            }
            Link::Joint(j) => format!(r#" data-joint="{}" data-stands="{stands}""#, j.index()),
        }
    }

    /// A piece of a net's line, with a bow over every bar that it only passes.
    fn line(&self, out: &mut String, net: usize, x: i64, from: i64, to: i64) {
        let condition = self.condition(net);
        let mut crossed: Vec<i64> = self
            .layout()
            .bars
            .iter()
            .enumerate()
            .filter(|(other, bar)| {
                let y = self.y(*other);
                let (left, right) = (self.geometry().x(bar.from), self.geometry().x(bar.to));
                *other != net && left < x && x < right && from < y && y < to
            })
            .map(|(other, _)| self.y(other))
            .collect();
        crossed.sort_unstable();
        let mut d = format!("M{x} {from}");
        for y in crossed {
            let _ = write!(d, "V{}a{BOW} {BOW} 0 0 1 0 {}", y - BOW, 2 * BOW);
        }
        let _ = write!(d, "V{to}");
        let _ = write!(
            out,
            r#"<path data-net="{net}" data-nodes="{}" data-state="{}" d="{d}" {}/>"#,
            self.nodes(net),
            condition.key(),
            line_style(condition, false)
        );
    }

    fn source(&self, out: &mut String, net: usize) {
        let Some(node) = self.skeleton().nets[net].source else { return };
        let job = self.input.sound.job();
        let Some(facts) = job.nodes[node].source() else { return };
        let x = self.geometry().x(self.layout().bars[net].from);
        let y = self.y(net) - SOURCE;
        let origin = symbols::origin(facts, &self.input.site.nodes[node.index()]);
        let state = self.moment.node(node).key();
        let _ = write!(
            out,
            r#"<g data-source="{}" data-state="{state}">{}</g>"#,
            node.index(),
            symbols::source(x, y, origin)
        );
        let (_, room) = self.geometry().place(Of::Source(net));
        let rows = set(&self.plate.words.source[net], room);
        let high = rows.len() as i64 * ROW;
        text(out, x + BESIDE + SIGN, self.y(net) - high.max(SOURCE), &rows);
    }

    /// The symbol of a slot with its line from the bar; where the line goes on.
    fn stub(&self, out: &mut String, at: (usize, usize), slot: &Slot, symbol: &str) -> (i64, i64) {
        let (net, i) = at;
        let x = self.geometry().x(self.layout().slots[net][i]);
        let (top, room) = self.geometry().place(Of::Beside(net, i));
        text(out, x + BESIDE, top, &set(&slot.beside, room));
        if slot.symbol() == 0 {
            return (x, self.y(net));
        }
        self.line(out, net, x, self.y(net), top);
        out.push_str(symbol);
        (x, top + slot.symbol())
    }

    fn ways(&self, out: &mut String, at: (usize, usize), slot: &Slot, group: &Group) {
        let (net, i) = at;
        let _ = write!(out, "<g{}>", told(group));
        let job = self.input.sound.job();
        let device = group.ways.first().and_then(|w| w.device);
        let symbol = match (&group.device, device) {
            (Some(standing), Some(d)) => {
                let shape = symbols::shape(&job.devices[d], &self.input.site.devices[d.index()]);
                let x = self.geometry().x(self.layout().slots[net][i]);
                symbols::switch(x, self.geometry().place(Of::Beside(net, i)).0, shape, standing)
            }
            _ => String::new(),
        };
        let (x, from) = self.stub(out, at, slot, &symbol);
        let (next, room) = self.geometry().place(Of::Below(net, i));
        let (arrow, style) = (next + 44, line_style(group.condition, false));
        let ends = if group.connected { arrow } else { next };
        // Behind the device of its ways a group is a net of its own.
        let key = match group.device {
            Some(_) => format!("{net}-{i}"),
            None => net.to_string(),
        };
        let _ = write!(
            out,
            r#"<path data-net="{key}" data-state="{}" d="M{x} {from}V{ends}" {style}/>"#,
            group.condition.key()
        );
        if group.connected {
            out.push_str(&symbols::arrow(x, arrow));
        } else {
            let _ = write!(
                out,
                r#"<circle cx="{x}" cy="{}" r="6" fill="white" stroke="black" stroke-width="4"/>"#,
                next + 6
            );
        }
        text(out, x + BESIDE, next, &set(&slot.below, room));
        out.push_str("</g>");
    }

    /// Idle branches: the symbol of what they hang on, and a box.
    fn fold(&self, out: &mut String, at: (usize, usize), slot: &Slot, fold: &Fold) {
        let (net, i) = at;
        let x = self.geometry().x(self.layout().slots[net][i]);
        let top = self.geometry().place(Of::Beside(net, i)).0;
        let first = &fold.branches[0];
        let all: Vec<String> =
            fold.branches.iter().filter_map(|b| b.board).map(|b| b.index().to_string()).collect();
        let _ = write!(out, r#"<g data-folded="{}">"#, all.join(" "));
        let mut symbol = String::new();
        for branch in &fold.branches {
            let drawn = if branch.link == first.link {
                self.symbol(x, top, branch.link)
            } else {
                String::new()
            };
            let _ = write!(symbol, "<g{}>{drawn}</g>", self.stands(branch.link));
            for group in &branch.groups {
                let _ = write!(symbol, "<g{}></g>", told(group));
            }
        }
        let (x, from) = self.stub(out, at, slot, &symbol);
        let (next, room) = self.geometry().place(Of::Below(net, i));
        let nodes: Vec<String> =
            fold.branches.iter().flat_map(|b| &b.nodes).map(|n| n.index().to_string()).collect();
        let _ = write!(
            out,
            r#"<path data-net="{net}-{i}" data-nodes="{}" data-state="{}" d="M{x} {from}V{next}" {}/>"#,
            nodes.join(" "),
            first.condition.key(),
            line_style(first.condition, false)
        );
        let rows = set(&slot.below, room);
        let wide =
            rows.iter().map(|(r, _)| super::text::width(&r.text, r.strong)).max().unwrap_or(0);
        let _ = write!(
            out,
            r#"<rect x="{}" y="{next}" width="{}" height="{}" fill="none" stroke="black" stroke-width="4"/>"#,
            x - BOX,
            wide.max(BOX) + 2 * PAD,
            rows.len() as i64 * ROW + 2 * PAD
        );
        text(out, x - BOX + PAD, next + PAD - 2, &rows);
        out.push_str("</g>");
    }
}

/// What a group of ways says as data.
fn told(group: &Group) -> String {
    let circuits = group.ways.iter().map(|w| w.circuit.index().to_string());
    let joints = group.ways.iter().map(|w| w.joint.index().to_string());
    format!(
        r#" data-circuits="{}" data-joints="{}" data-connected="{}" data-state="{}" data-stands="{}""#,
        circuits.collect::<Vec<_>>().join(" "),
        joints.collect::<Vec<_>>().join(" "),
        group.connected,
        group.condition.key(),
        group.device.as_ref().map_or("none", Standing::key),
    )
}

/// Rows of text, the first one's top at `y`.
pub fn text(out: &mut String, x: i64, y: i64, rows: &[(super::text::Row, String)]) {
    for (i, (row, data)) in rows.iter().enumerate() {
        let weight = if row.strong { r#" font-weight="bold""# } else { "" };
        let base = y + i as i64 * ROW + 21;
        let _ =
            write!(out, r#"<text x="{x}" y="{base}"{weight}{data}>{}</text>"#, escaped(&row.text));
    }
}
