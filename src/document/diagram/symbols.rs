//! Graphical symbols of IEC 60617, as SVG, in tenths of a millimetre.
//!
//! Taken from memory of the standard's general shapes: cross for a circuit-breaker, bar for the
//! isolating function, bar and circle for a switch-disconnector, rectangle for a fuse, half circle
//! for a contactor, ring around the conductor for a residual-current transformer. Unlike the
//! standard, which shows contacts at rest, a blade stands as the device does at that minute.

use super::states::Standing;
use crate::model::*;
use std::fmt::Write;

/// Height of the symbol of a switching device.
pub const SWITCH: i64 = 90;
/// Height of the symbol of a termination.
pub const JOINT: i64 = 60;
/// Height of the symbol of a source.
pub const SOURCE: i64 = 80;

/// What a switching device is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Shape {
    cross: bool,
    bar: bool,
    circle: bool,
    half: bool,
    fuse: bool,
    ring: bool,
    actor: bool,
}

/// The symbol of a device, from what it is fit for. A fuse is an overcurrent device not operable
/// on load; one operable on load is a fuse-switch where its label says fuse, else a
/// circuit-breaker.
pub fn shape(device: &Device, label: &str) -> Shape {
    let fuse = device.overcurrent && (!device.on_load || label.to_lowercase().contains("fuse"));
    Shape {
        cross: device.overcurrent && !fuse,
        bar: device.isolates && (device.on_load || !fuse),
        circle: device.isolates && device.on_load && !device.overcurrent,
        half: !device.isolates && device.self_acting.is_some(),
        fuse,
        ring: device.rcd_ma.is_some(),
        actor: device.self_acting.is_some(),
    }
}

fn stroke(out: &mut String, d: &str) {
    let _ = write!(out, r#"<path d="{d}" fill="none" stroke="black" stroke-width="4"/>"#);
}

/// A switching device on a vertical line at `x`, from `y` down to `y + SWITCH`.
pub fn switch(x: i64, y: i64, shape: Shape, standing: &Standing) -> String {
    let mut out = String::new();
    let (top, pivot, end) = (y + 26, y + 66, y + SWITCH);
    let closed = *standing == Standing::Closed;
    stroke(&mut out, &format!("M{x} {y}V{top}M{x} {pivot}V{end}"));
    let tip = if closed { (x, top) } else { (x - 24, y + 32) };
    if shape.fuse && !shape.bar {
        // A fuse has no blade: its link is in, or out beside its base.
        let left = if closed { x - 11 } else { x - 38 };
        let _ = write!(
            out,
            r#"<rect x="{left}" y="{top}" width="22" height="40" fill="white" stroke="black" stroke-width="4"/>"#
        );
        let middle = left + 11;
        stroke(&mut out, &format!("M{middle} {top}V{pivot}"));
    } else {
        stroke(&mut out, &format!("M{x} {pivot}L{} {}", tip.0, tip.1));
        if shape.fuse {
            let turn = if closed { 0 } else { -35 };
            let _ = write!(
                out,
                r#"<rect x="{}" y="{}" width="14" height="24" transform="rotate({turn} {x} {pivot})" fill="white" stroke="black" stroke-width="3"/>"#,
                x - 7,
                pivot - 34
            );
        }
    }
    if shape.cross {
        let (l, r, t, b) = (x - 9, x + 9, top - 9, top + 9);
        stroke(&mut out, &format!("M{l} {t}L{r} {b}M{l} {b}L{r} {t}"));
    }
    if shape.bar {
        let at = if shape.cross { top - 14 } else { top };
        stroke(&mut out, &format!("M{} {at}H{}", x - 12, x + 12));
    }
    if shape.circle {
        let _ = write!(
            out,
            r#"<circle cx="{x}" cy="{}" r="6" fill="white" stroke="black" stroke-width="3"/>"#,
            top + 7
        );
    }
    if shape.half {
        stroke(&mut out, &format!("M{x} {}a8 8 0 0 1 0 16", top - 16));
    }
    if shape.ring {
        let _ = write!(
            out,
            r#"<ellipse cx="{x}" cy="{}" rx="13" ry="7" fill="none" stroke="black" stroke-width="3"/>"#,
            pivot + 15
        );
    }
    if shape.actor {
        let (ax, ay) = (x - 36, y + 54);
        let d = format!("M{ax} {ay}h14M{ax} {}v20l-14 -10z", ay - 10);
        stroke(&mut out, &d);
    }
    if matches!(standing, Standing::Locked(_)) {
        padlock(&mut out, x - 26, y + 74);
    }
    out
}

/// A padlock whose body stands around (`x`, `y`).
pub fn padlock(out: &mut String, x: i64, y: i64) {
    let (left, top) = (x - 12, y - 6);
    stroke(out, &format!("M{} {top}v-8a7 7 0 0 1 14 0v8", x - 7));
    let _ = write!(out, r#"<rect x="{left}" y="{top}" width="24" height="18" fill="black"/>"#);
}

/// A termination on a vertical line: made, or apart.
pub fn joint(x: i64, y: i64, made: bool) -> String {
    let mut out = String::new();
    let (a, b) = (y + 16, y + JOINT - 16);
    stroke(&mut out, &format!("M{x} {y}V{}M{x} {}V{}", a - 6, b + 6, y + JOINT));
    if made {
        stroke(&mut out, &format!("M{x} {}V{}", a + 6, b - 6));
    }
    for cy in [a, b] {
        let _ = write!(
            out,
            r#"<circle cx="{x}" cy="{cy}" r="6" fill="white" stroke="black" stroke-width="4"/>"#
        );
    }
    out
}

/// What a source is drawn as.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Starts by itself.
    Generator,
    /// Carried by a battery: uninterruptible supply, inverter, battery system.
    Battery,
    /// Anything else: alternating current from outside.
    Incoming,
}

/// What a source is drawn as, from what it does and what it is called.
pub fn origin(source: &Source, label: &str) -> Origin {
    let label = label.to_lowercase();
    let battery = ["ups", "battery", "inverter"].iter().any(|w| label.contains(w));
    match source.watches {
        _ if battery => Origin::Battery,
        Some(_) => Origin::Generator,
        None => Origin::Incoming,
    }
}

/// A source whose line goes down from (`x`, `y + SOURCE`).
pub fn source(x: i64, y: i64, origin: Origin) -> String {
    let mut out = String::new();
    let cy = y + 30;
    if origin == Origin::Battery {
        stroke(&mut out, &format!("M{x} {}V{}", y + 50, y + SOURCE));
        out.push_str(&battery(x, y + 8));
        return out;
    }
    let _ = write!(
        out,
        r#"<circle cx="{x}" cy="{cy}" r="30" fill="white" stroke="black" stroke-width="4"/>"#
    );
    stroke(&mut out, &format!("M{x} {}V{}", y + 60, y + SOURCE));
    let wave = format!("M{} {}q7 -12 14 0t14 0", x - 14, cy + 10);
    match origin {
        Origin::Generator => {
            // The letter is drawn, since it is a sign and no text.
            stroke(&mut out, &format!("M{} {}a9 9 0 1 0 1 12v-6h-7", x + 7, cy - 16));
            stroke(&mut out, &format!("M{} {}q5 -8 10 0t10 0", x - 10, cy + 15));
        }
        _ => stroke(&mut out, &wave),
    }
    out
}

/// Two battery cells from `y` down to `y + 42`.
pub fn battery(x: i64, y: i64) -> String {
    let mut out = String::new();
    for (i, half) in [18, 9, 18, 9].into_iter().enumerate() {
        // Four plates, 14 apart: long, short, long, short.
        let at = y + 14 * [0, 1, 2, 3][i];
        stroke(&mut out, &format!("M{} {at}H{}", x - half, x + half));
    }
    out
}

/// The arrow of a load, its point at `y + 30`.
pub fn arrow(x: i64, y: i64) -> String {
    let (l, r, p) = (x - 12, x + 12, y + 30);
    format!(r#"<path d="M{l} {y}H{r}L{x} {p}z" fill="black" stroke="none"/>"#)
}

impl Shape {
    const NONE: Shape = Shape {
        cross: false,
        bar: false,
        circle: false,
        half: false,
        fuse: false,
        ring: false,
        actor: false,
    };
    /// For the legend: a switch-disconnector.
    pub const SWITCH_DISCONNECTOR: Shape = Shape { bar: true, circle: true, ..Shape::NONE };
    /// For the legend: a circuit-breaker.
    pub const BREAKER: Shape = Shape { cross: true, bar: true, ..Shape::NONE };
    /// For the legend: one with a residual-current part.
    pub const RCBO: Shape = Shape { ring: true, ..Shape::BREAKER };
    /// For the legend: a fuse.
    pub const FUSE: Shape = Shape { fuse: true, ..Shape::NONE };
    /// For the legend: a fuse-switch.
    pub const FUSE_SWITCH: Shape = Shape { fuse: true, bar: true, ..Shape::NONE };
    /// For the legend: a contactor that acts by itself.
    pub const ACTING: Shape = Shape { half: true, actor: true, ..Shape::NONE };
}
