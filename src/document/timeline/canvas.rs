//! A drawing in tenths of a millimetre on which no two texts overlap: a text that finds no room
//! is not drawn, and whoever asks is told.

use crate::document::markup::escaped;
use crate::document::name;

/// How a shape is filled. All of them read in black and white.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Black.
    Solid,
    /// White with an outline.
    Blank,
    /// Diagonal lines.
    Hatched,
    /// Crossed lines.
    Crossed,
    /// Dots, without an outline.
    Dotted,
}

/// Where a text stands by its x.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// What a text is written with.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    Black,
    /// For black ground.
    White,
    /// Black with white about it, for patterned ground.
    Haloed,
}

/// A text and how it is set.
#[derive(Clone, Copy)]
pub struct Text<'a> {
    pub x: i64,
    /// Its baseline.
    pub y: i64,
    pub size: i64,
    pub anchor: Anchor,
    pub bold: bool,
    pub ink: Ink,
    pub text: &'a str,
}

/// A drawing as it grows.
pub struct Canvas {
    id: String,
    width: i64,
    shapes: String,
    marks: String,
    texts: String,
    /// Left, top, right and bottom of each text.
    taken: Vec<[i64; 4]>,
    /// Where heavy lines will stand.
    heavy: Vec<i64>,
}

impl Canvas {
    /// An empty one; `id` is its own on the page, `heavy` where lines will cross all lanes.
    pub fn new(id: String, width: i64, heavy: Vec<i64>) -> Canvas {
        let (shapes, marks, texts) = (String::new(), String::new(), String::new());
        Canvas { id, width, shapes, marks, texts, taken: Vec::new(), heavy }
    }

    /// A rectangle; nothing if it has no width.
    pub fn rect(&mut self, [x, y, w, h]: [i64; 4], fill: Fill) {
        if w <= 0 {
            return;
        }
        let id = &self.id;
        let (paint, stroke) = match fill {
            Fill::Solid => ("#000".to_owned(), "#000"),
            Fill::Blank => ("#fff".to_owned(), "#000"),
            Fill::Hatched => (format!("url(#{id}-h)"), "#000"),
            Fill::Crossed => (format!("url(#{id}-c)"), "#000"),
            Fill::Dotted => (format!("url(#{id}-d)"), "none"),
        };
        self.shapes.push_str(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{paint}\" stroke=\"{stroke}\" stroke-width=\"3\"/>"
        ));
    }

    /// A white ground for a text, over the patterns and below the lines.
    pub fn blank(&mut self, [x, y, w, h]: [i64; 4]) {
        self.shapes.push_str(&format!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"#fff\"/>"
        ));
    }

    /// Whether no heavy line comes into a stretch.
    pub fn clear(&self, from: i64, to: i64) -> bool {
        self.heavy.iter().all(|x| *x < from || to < *x)
    }

    /// A line, below the texts.
    pub fn line(&mut self, [x1, y1, x2, y2]: [i64; 4], width: i64, dashes: &str) {
        self.marks.push_str(&format!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" stroke=\"#000\" stroke-width=\"{width}\" stroke-dasharray=\"{dashes}\"/>"
        ));
    }

    /// A heavy line with white beside it, so that it shows on black too.
    pub fn mark(&mut self, [x1, y1, x2, y2]: [i64; 4], width: i64, dashes: &str) {
        self.marks.push_str(&format!(
            "<line x1=\"{x1}\" y1=\"{y1}\" x2=\"{x2}\" y2=\"{y2}\" stroke=\"#fff\" stroke-width=\"{}\"/>",
            width + 8
        ));
        self.line([x1, y1, x2, y2], width, dashes);
    }

    /// A line through points.
    pub fn curve(&mut self, points: &[(i64, i64)]) {
        let all: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.marks.push_str(&format!(
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#000\" stroke-width=\"7\"/>",
            all.join(" ")
        ));
    }

    /// Draws a text if there is room for it, and says whether.
    pub fn text(&mut self, t: Text) -> bool {
        let w = width(t.text, t.size, t.bold);
        let left = match t.anchor {
            Anchor::Start => t.x,
            Anchor::Middle => t.x - w / 2,
            Anchor::End => t.x - w,
        };
        let own = [left, t.y - t.size, left + w, t.y + t.size / 4];
        let free = self
            .taken
            .iter()
            .all(|o| own[2] <= o[0] || o[2] <= own[0] || own[3] <= o[1] || o[3] <= own[1]);
        if t.text.is_empty() || !free || left < 0 || own[2] > self.width {
            return false;
        }
        self.taken.push(own);
        let anchor = match t.anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
            Anchor::End => "end",
        };
        let weight = if t.bold { "bold" } else { "normal" };
        let crossed = self.heavy.iter().any(|x| own[0] - 8 <= *x && *x <= own[2] + 8);
        let ink = if crossed && t.ink == Ink::Black { Ink::Haloed } else { t.ink };
        let paint = match ink {
            Ink::White => "fill=\"#fff\"",
            Ink::Black => "fill=\"#000\"",
            Ink::Haloed => {
                "fill=\"#000\" stroke=\"#fff\" stroke-width=\"14\" paint-order=\"stroke\""
            }
        };
        self.texts.push_str(&format!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\" font-weight=\"{weight}\" {paint}>{}</text>",
            t.x,
            t.y,
            t.size,
            escaped(t.text)
        ));
        true
    }

    /// The widest part of a stretch that no heavy line parts.
    pub fn unparted(&self, from: i64, to: i64) -> (i64, i64) {
        let mut edges: Vec<i64> =
            self.heavy.iter().copied().filter(|x| from < *x && *x < to).collect();
        edges.extend([from, to]);
        edges.sort_unstable();
        let parts = edges.iter().copied().zip(edges.iter().copied().skip(1));
        parts.max_by_key(|(a, b)| b - a).unwrap_or((from, to))
    }

    /// The whole of it as SVG, with the title and the description that stand for it.
    pub fn finish(self, height: i64, title: &str, about: &str) -> String {
        let Canvas { id, width, shapes, marks, texts, .. } = self;
        let (title, about) = (escaped(title), escaped(about));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-t {id}-a\" viewBox=\"0 0 {width} {height}\" font-family=\"Liberation Sans, Arial, Helvetica, sans-serif\">\
             <title id=\"{id}-t\">{title}</title><desc id=\"{id}-a\">{about}</desc><defs>\
             <pattern id=\"{id}-h\" width=\"14\" height=\"14\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"14\" height=\"14\" fill=\"#fff\"/><rect width=\"4\" height=\"14\" fill=\"#000\"/></pattern>\
             <pattern id=\"{id}-c\" width=\"16\" height=\"16\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect width=\"16\" height=\"16\" fill=\"#fff\"/><rect width=\"4\" height=\"16\" fill=\"#000\"/><rect width=\"16\" height=\"4\" fill=\"#000\"/></pattern>\
             <pattern id=\"{id}-d\" width=\"10\" height=\"10\" patternUnits=\"userSpaceOnUse\"><circle cx=\"5\" cy=\"5\" r=\"2.7\" fill=\"#000\"/></pattern></defs>\
             {shapes}{marks}{texts}</svg>"
        )
    }
}

/// How wide a text is at most, by the widths of the usual sans-serif letters, rounded up.
pub fn width(text: &str, size: i64, bold: bool) -> i64 {
    let mille: i64 =
        text.chars()
            .map(|c| match c {
                'i' | 'j' | 'l' | '\'' | '.' | ',' | ':' | ';' | ' ' | '|' | 'I' | '/' | 'f'
                | 't' => 290,
                'r' | '-' | '(' | ')' => 340,
                'm' | 'w' | 'M' | 'W' => 950,
                c if c.is_ascii_lowercase() || c.is_ascii_digit() => 565,
                c if c.is_ascii() => 740,
                _ => 1000,
            })
            .sum();
    let mille = if bold { mille * 109 / 100 } else { mille };
    (mille * size + 999) / 1000
}

/// The text, or as much of its beginning as fits, with an ellipsis.
pub fn fitted(text: &str, size: i64, bold: bool, room: i64) -> String {
    if width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut out = String::new();
    for c in text.chars() {
        if width(&format!("{out}{c}…"), size, bold) > room {
            break;
        }
        out.push(c);
    }
    format!("{}…", out.trim_end())
}

/// As many of the names as fit, and how many more there are.
pub fn listed(names: &[String], size: i64, room: i64) -> String {
    let all = name::list(names);
    if width(&all, size, false) <= room {
        return all;
    }
    let told = |n: usize| format!("{} + {} more", names[..n].join(", "), names.len() - n);
    let fits = (1..names.len()).rev().map(told).find(|t| width(t, size, false) <= room);
    let more = format!(" + {} more", names.len().saturating_sub(1));
    fits.unwrap_or_else(|| match names {
        [first, _, ..] => {
            let left = room - width(&more, size, false);
            format!("{}{more}", fitted(first, size, false, left))
        }
        _ => fitted(&all, size, false, room),
    })
}
