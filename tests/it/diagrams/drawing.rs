//! A drawing read back from its SVG: lines, dots, texts, and what it says as data.

/// An element with its attributes as written, and the text that follows it.
pub struct Tag<'a> {
    pub name: &'a str,
    inside: &'a str,
    pub text: String,
}

impl<'a> Tag<'a> {
    pub fn attr(&self, name: &str) -> Option<&'a str> {
        let from = self.inside.find(&format!(" {name}=\""))? + name.len() + 3;
        self.inside[from..].split('"').next()
    }

    pub fn number(&self, name: &str) -> Option<i64> {
        self.attr(name)?.parse().ok()
    }

    /// Numbers divided by spaces.
    pub fn numbers(&self, name: &str) -> Option<Vec<usize>> {
        Some(self.attr(name)?.split(' ').map(|n| n.parse().expect("a number")).collect())
    }
}

/// The drawings of a page: those that are pictures, not signs of the legend.
pub fn drawings(page: &str) -> Vec<&str> {
    let all = page.split("<svg ").skip(1).filter_map(|s| s.split_once("</svg>"));
    all.map(|(svg, _)| svg).filter(|svg| svg.contains("role=\"img\"")).collect()
}

pub fn tags(svg: &str) -> Vec<Tag<'_>> {
    let all = format_free(svg).filter_map(|part| {
        let (inside, text) = part.split_once('>')?;
        let name = inside.split([' ', '/']).next()?;
        Some(Tag { name, inside, text: unescape(text) })
    });
    all.collect()
}

/// The first element is the `svg` itself, whose `<svg ` has been cut off.
fn format_free(svg: &str) -> impl Iterator<Item = &str> {
    svg.split('<')
}

fn unescape(text: &str) -> String {
    text.replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&amp;", "&")
}

/// A line along one axis.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Segment {
    pub from: (i64, i64),
    pub to: (i64, i64),
}

impl Segment {
    /// Whether the two share a point.
    pub fn meets(self, other: Segment) -> bool {
        let over = |a: (i64, i64), b: (i64, i64)| {
            a.0.min(a.1) <= b.0.max(b.1) && b.0.min(b.1) <= a.0.max(a.1)
        };
        over((self.from.0, self.to.0), (other.from.0, other.to.0))
            && over((self.from.1, self.to.1), (other.from.1, other.to.1))
    }
}

/// The lines of a path made of M, V, H and of bows, which are left out: there it passes over.
pub fn segments(d: &str) -> Vec<Segment> {
    let mut out = Vec::new();
    let mut at = (0, 0);
    let starts: Vec<usize> =
        d.char_indices().filter(|(_, c)| c.is_ascii_alphabetic()).map(|(i, _)| i).collect();
    for (n, start) in starts.iter().enumerate() {
        let end = starts.get(n + 1).copied().unwrap_or(d.len());
        let figures: Vec<i64> = d[start + 1..end]
            .split([' ', ','])
            .filter(|f| !f.is_empty())
            .map(|f| f.parse().expect("a whole number"))
            .collect();
        let next = match (&d[*start..start + 1], figures.as_slice()) {
            ("M", [x, y]) => (*x, *y),
            ("V", [y]) => (at.0, *y),
            ("H", [x]) => (*x, at.1),
            ("a", [.., dx, dy]) => (at.0 + dx, at.1 + dy),
            other => panic!("{other:?} in {d}"),
        };
        if matches!(&d[*start..start + 1], "V" | "H") {
            out.push(Segment { from: at, to: next });
        }
        at = next;
    }
    out
}

/// All lines of a drawing, each with the net that it belongs to.
pub fn lines(svg: &str) -> Vec<(String, Segment)> {
    let mut out = Vec::new();
    for tag in tags(svg).iter().filter(|t| t.name == "path") {
        if let (Some(net), Some(d)) = (tag.attr("data-net"), tag.attr("d")) {
            out.extend(segments(d).into_iter().map(|s| (net.to_owned(), s)));
        }
    }
    out
}

/// Where a text stands: left, top, right, bottom, in the widths of Helvetica, to which Liberation
/// Sans and Arial keep (from memory of its published metrics); an unknown letter counts as wide.
pub fn text_box(tag: &Tag) -> (i64, i64, i64, i64) {
    let (x, y) = (tag.number("x").expect("x"), tag.number("y").expect("y"));
    let thousandths: i64 = tag.text.chars().map(wide).sum();
    let bold = if tag.attr("font-weight").is_some() { 107 } else { 100 };
    (x, y - 17, x + thousandths * 22 * bold / 100_000, y + 5)
}

fn wide(c: char) -> i64 {
    match c {
        'i' | 'j' | 'l' | '\'' => 222,
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | '/' | 'f' | 't' | 'I' => 278,
        'r' | '(' | ')' | '-' => 333,
        'c' | 'k' | 's' | 'v' | 'x' | 'y' | 'z' | 'J' => 500,
        'm' | 'M' => 833,
        'w' | 'C' | 'D' | 'H' | 'N' | 'R' | 'U' => 722,
        'G' | 'O' | 'Q' => 778,
        'F' | 'T' | 'Z' => 611,
        'W' => 944,
        '<' | '>' | '×' => 584,
        '–' => 556,
        c if c.is_ascii_digit() || c.is_ascii_lowercase() || c == 'L' => 556,
        c if c.is_ascii_uppercase() || c == '&' => 667,
        _ => 600,
    }
}

/// Texts that lie on one another or are struck through, and lines of different nets that meet.
pub fn faults(svg: &str) -> Vec<String> {
    let mut out = Vec::new();
    let tags = tags(svg);
    let texts: Vec<&Tag> = tags.iter().filter(|t| t.name == "text").collect();
    let boxes: Vec<_> = texts.iter().map(|t| text_box(t)).collect();
    for (i, a) in boxes.iter().enumerate() {
        for (j, b) in boxes.iter().enumerate().skip(i + 1) {
            if a.0 < b.2 && b.0 < a.2 && a.1 < b.3 && b.1 < a.3 {
                out.push(format!("`{}` lies on `{}`", texts[i].text, texts[j].text));
            }
        }
    }
    let lines = lines(svg);
    for (net, line) in &lines {
        for (i, b) in boxes.iter().enumerate() {
            // An outline as the two diagonals' hull: a line meets a box where it meets its cross.
            let cross = [
                Segment { from: (b.0, (b.1 + b.3) / 2), to: (b.2, (b.1 + b.3) / 2) },
                Segment { from: ((b.0 + b.2) / 2, b.1), to: ((b.0 + b.2) / 2, b.3) },
            ];
            if cross.iter().any(|c| c.meets(*line)) {
                out.push(format!("`{}` is struck through by net {net}", texts[i].text));
            }
        }
    }
    for (i, (a, one)) in lines.iter().enumerate() {
        for (b, other) in &lines[i + 1..] {
            if a != b && one.meets(*other) {
                out.push(format!("nets {a} and {b} meet: {one:?} {other:?}"));
            }
        }
    }
    for dot in tags.iter().filter(|t| t.attr("class") == Some("dot")) {
        let at = (dot.number("cx").expect("cx"), dot.number("cy").expect("cy"));
        let net = dot.attr("data-net").expect("a net");
        let here = Segment { from: at, to: at };
        if !lines.iter().any(|(n, s)| n == net && s.meets(here)) {
            out.push(format!("a dot of net {net} on no line of it"));
        }
        if lines.iter().any(|(n, s)| n != net && s.meets(here)) {
            out.push(format!("a dot of net {net} on a line of another"));
        }
    }
    let wide = tags[0].number("data-width");
    for (i, b) in boxes.iter().enumerate() {
        if b.0 < 0 || wide.is_none_or(|w| b.2 > w) {
            out.push(format!("`{}` leaves the drawing", texts[i].text));
        }
    }
    out
}

/// The height of the smallest letters on paper, in points, over all parts of all drawings.
pub fn smallest_letters(page: &str) -> f64 {
    let parts = page.split("<svg ").skip(1).filter_map(|s| s.split_once('>')).map(|(s, _)| s);
    let figure = |inside: &str, name: &str| {
        let (_, rest) = inside.split_once(&format!(" {name}=\""))?;
        Some(rest.split('"').next()?.to_owned())
    };
    let size = |inside: &str| -> Option<f64> {
        let letters: f64 = figure(inside, "font-size")?.parse().ok()?;
        let units: f64 = figure(inside, "viewBox")?.split(' ').nth(2)?.parse().ok()?;
        let paper: f64 = figure(inside, "width")?.strip_suffix("mm")?.parse().ok()?;
        Some(letters * paper / units / 25.4 * 72.0)
    };
    parts.filter_map(size).fold(f64::INFINITY, f64::min)
}

/// Where a line comes to both sides of another net's line at right angles, so passes over it,
/// and has no bow there.
pub fn passed_over_without_a_bow(svg: &str) -> Vec<String> {
    let lines = lines(svg);
    let mut out = Vec::new();
    for (over, down) in lines.iter().filter(|(_, s)| s.from.0 == s.to.0) {
        for (under, bar) in lines.iter().filter(|(net, s)| net != over && s.from.1 == s.to.1) {
            let within = |a: i64, b: i64, x: i64| a.min(b) < x && x < a.max(b);
            let (x, y) = (down.from.0, bar.from.1);
            if within(bar.from.0, bar.to.0, x) && within(down.from.1, down.to.1, y) {
                out.push(format!("net {over} goes straight through net {under} at {x} {y}"));
            }
        }
    }
    out
}
