//! One drawing as SVG.
//!
//! What checks a drawing reads its attributes: `data-net` and `data-state` of every line,
//! `data-device`, `data-joint` and `data-position` with how they stand, numbers being those of the
//! job's tables.

use super::super::Input;
use super::geometry::{BESIDE, Geometry, INSET, LEFT, Slot, Words, board_edge, height};
use super::labels::set;
use super::layout::Layout;
use super::skeleton::{Link, Skeleton};
use super::states::{Condition, Moment, Presence, Standing};
use super::symbols::{self, SOURCE, SWITCH};
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
    /// What is drawn.
    pub skeleton: &'a Skeleton,
    /// In which columns and ranks.
    pub layout: &'a Layout,
    /// And where exactly.
    pub geometry: &'a Geometry,
    /// How it stands.
    pub moment: &'a Moment<'a>,
    /// What is written.
    pub words: &'a Words,
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
        let bottom = self.geometry.bottom();
        let across = tiles::columns(self.geometry, self.layout, &edges);
        let groups = self.groups(bottom, across[0].1);
        let height = bottom + groups.1;
        let all = tiles::tiles(self.geometry, self.layout, &edges, height, beside);
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
            width = self.geometry.width,
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
        for edge in 0..self.skeleton.edges.len() {
            self.edge(&mut out, edge);
        }
        for net in 0..self.skeleton.nets.len() {
            self.source(&mut out, net);
            for (slot, words) in self.words.slots[net].iter().enumerate() {
                self.slot(&mut out, net, self.layout.slots[net][slot], words);
            }
        }
        out.push_str(&groups.0);
        out.push_str("</g></svg>");
        let others = all[1..].iter().map(|tile| {
            let window = window(tile);
            format!(
                r##"<svg xmlns="http://www.w3.org/2000/svg" aria-hidden="true" data-part-of="{id}" {window}><use href="#{id}-all"/></svg>"##
            )
        });
        std::iter::once(out).chain(others).collect()
    }

    fn y(&self, net: usize) -> i64 {
        self.geometry.y(self.layout, net)
    }

    fn condition(&self, net: usize) -> Condition {
        self.moment.net(&self.skeleton.nets[net])
    }

    /// The enclosures of the boards, and the dashes of each.
    fn frames(&self) -> Vec<(Frame, &'static str)> {
        let mut out = Vec::new();
        let job = self.input.sound.job();
        let (g, l) = (self.geometry, self.layout);
        for b in job.boards.ids() {
            let Some(bus) = self.skeleton.bus(b) else { continue };
            let mut columns = l.slots[bus].clone();
            for (i, e) in self.skeleton.edges.iter().enumerate() {
                if let Link::Device(d) = e.link
                    && job.devices[d].enclosure == Some(b)
                    && (e.up == bus || e.down == bus)
                {
                    columns.push(l.columns[i]);
                }
            }
            columns.extend(board_edge(job, self.skeleton, l, b).map(|e| l.columns[e]));
            let (Some(from), Some(to)) = (columns.iter().min(), columns.iter().max()) else {
                continue;
            };
            let rank = l.bars[bus].rank;
            let top = g.zones[rank.saturating_sub(1)] + 4;
            let bottom = g.ranks[rank + 1] - 8;
            let left = g.x(*from) - LEFT + 2;
            let right = g.x(*to) + g.column - LEFT - 8;
            let dashes = match self.moment.presence(b) {
                Presence::There => "24 6 4 6",
                _ => "3 9",
            };
            out.push(((left, top, right, bottom), dashes));
        }
        out
    }

    fn bars(&self, out: &mut String) {
        for (net, bar) in self.layout.bars.iter().enumerate() {
            let bus = self.skeleton.nets[net].bus_of.is_some();
            let (mut from, mut to) = (self.geometry.x(bar.from), self.geometry.x(bar.to));
            let y = self.y(net);
            if bus {
                (from, to) = (from - 30, to + 60);
            } else if from == to {
                let ends = !self.skeleton.edges.iter().any(|e| e.up == net);
                if ends && self.words.slots[net].is_empty() {
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
        let all = self.skeleton.nets[net].nodes.iter().map(|n| n.index().to_string());
        all.collect::<Vec<_>>().join(" ")
    }

    /// A dot wherever three or more lines of a net meet.
    fn dots(&self, out: &mut String, net: usize, from: usize, to: usize, y: i64) {
        let used = self.words.slots[net].len();
        let mut at: Vec<usize> = self.layout.slots[net][..used].to_vec();
        for (i, e) in self.skeleton.edges.iter().enumerate() {
            if e.up == net || e.down == net {
                at.push(self.layout.columns[i]);
            }
        }
        if self.skeleton.nets[net].source.is_some() {
            at.push(from);
        }
        at.sort_unstable();
        let bus = self.skeleton.nets[net].bus_of.is_some();
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
                let x = self.geometry.x(*column);
                let _ = write!(
                    out,
                    r#"<circle class="dot" data-net="{net}" cx="{x}" cy="{y}" r="9"/>"#
                );
            }
        }
    }

    fn edge(&self, out: &mut String, edge: usize) {
        let e = self.skeleton.edges[edge];
        let (g, l) = (self.geometry, self.layout);
        let x = g.x(l.columns[edge]);
        let over = &self.words.over[edge];
        let zone = g.zones[g.zone(l, self.skeleton, edge, !over.is_empty())] + INSET;
        let over_rows = set(over, g.over_room(l, self.skeleton, edge));
        let top = zone + over_rows.len() as i64 * ROW;
        let bottom = top + height(e.link);
        self.line(out, e.up, x, self.y(e.up), top);
        self.line(out, e.down, x, bottom, self.y(e.down));
        let stands = self.moment.link(e.link);
        match e.link {
            Link::Device(d) => {
                let standing = self.moment.device(d);
                let facts = &self.input.sound.job().devices[d];
                let shape = symbols::shape(facts, &self.input.site.devices[d.index()]);
                let locks = self.input.sound.replay().device(d).at(self.moment.at).locks.len();
                let _ = write!(
                    out,
                    r#"<g data-device="{}" data-stands="{stands}" data-locks="{locks}">{}</g>"#,
                    d.index(),
                    symbols::switch(x, top, shape, &standing)
                );
            }
            Link::Joint(j) => {
                let made = self.moment.joint(j);
                let symbol = symbols::joint(x, top, made);
                let _ = write!(
                    out,
                    r#"<g data-joint="{}" data-stands="{stands}">{symbol}</g>"#,
                    j.index()
                );
            }
        }
        text(out, x + BESIDE, zone, &over_rows);
        text(out, x + BESIDE, top, &set(&self.words.edge[edge], g.room()));
    }

    /// A piece of a net's line, with a bow over every bar that it only passes.
    fn line(&self, out: &mut String, net: usize, x: i64, from: i64, to: i64) {
        let condition = self.condition(net);
        let mut crossed: Vec<i64> = self
            .layout
            .bars
            .iter()
            .enumerate()
            .filter(|(other, bar)| {
                let y = self.y(*other);
                let (left, right) = (self.geometry.x(bar.from), self.geometry.x(bar.to));
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
        let Some(node) = self.skeleton.nets[net].source else { return };
        let job = self.input.sound.job();
        let Some(facts) = job.nodes[node].source() else { return };
        let x = self.geometry.x(self.layout.bars[net].from);
        let y = self.y(net) - SOURCE;
        let origin = symbols::origin(facts, &self.input.site.nodes[node.index()]);
        let state = self.moment.node(node).key();
        let _ = write!(
            out,
            r#"<g data-source="{}" data-state="{state}">{}</g>"#,
            node.index(),
            symbols::source(x, y, origin)
        );
        let rows = set(&self.words.source[net], self.geometry.room());
        let high = rows.len() as i64 * ROW;
        text(out, x + BESIDE + 16, self.y(net) - high.max(SOURCE), &rows);
    }

    fn slot(&self, out: &mut String, net: usize, column: usize, (group, beside, below): &Slot) {
        let g = self.geometry;
        let x = g.x(column);
        let rank = self.layout.bars[net].rank;
        let (top, next) = (g.zones[rank] + INSET, g.zones[rank + 1] + INSET);
        let circuits = group.ways.iter().map(|w| w.circuit.index().to_string());
        let joints = group.ways.iter().map(|w| w.joint.index().to_string());
        let _ = write!(
            out,
            r#"<g data-circuits="{}" data-joints="{}" data-connected="{}" data-state="{}" data-stands="{}">"#,
            circuits.collect::<Vec<_>>().join(" "),
            joints.collect::<Vec<_>>().join(" "),
            group.connected,
            group.condition.key(),
            group.device.as_ref().map_or("none", Standing::key),
        );
        let mut from = self.y(net);
        if let (Some(standing), Some(way)) = (&group.device, group.ways.first())
            && let Some(d) = way.device
        {
            self.line(out, net, x, from, top);
            let job = self.input.sound.job();
            let shape = symbols::shape(&job.devices[d], &self.input.site.devices[d.index()]);
            out.push_str(&symbols::switch(x, top, shape, standing));
            from = top + SWITCH;
        }
        let (arrow, style) = (next + 44, line_style(group.condition, false));
        let ends = if group.connected { arrow } else { next };
        // Behind the device of its ways a group is a net of its own.
        let key = match group.device {
            Some(_) => format!("{net}-{column}"),
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
        text(out, x + BESIDE, top, &set(beside, g.room()));
        text(out, x + BESIDE, next, &set(below, g.room()));
        out.push_str("</g>");
    }
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
