//! The charge of an emergency group over the whole job, as a drawing in black and white.
//!
//! Nothing is told by a shade alone: what is drawn has a label, and the spans are listed in words
//! beside it. The line is the replay's; from the full-duration test on it is as rule E4 reckons:
//! empty from its start to its end, then charging.

use super::dates::Dates;
use crate::document::Input;
use crate::document::markup::escaped;
use crate::model::*;
use crate::units::{Exact, Minutes, Period};
use crate::verify::Charging;
use num_traits::{ToPrimitive, Zero};
use std::fmt::Write;

/// Left and right edge, top and bottom of the plot, in the units of the drawing.
const LEFT: f64 = 38.0;
const RIGHT: f64 = 690.0;
const TOP: f64 = 24.0;
const BOTTOM: f64 = 108.0;
/// How far below the top a full battery stands, so that its line is seen.
const HEADROOM: f64 = 9.0;

struct Frame {
    span: Period,
    rated: Minutes,
}

impl Frame {
    fn x(&self, t: Minutes) -> f64 {
        let t = t.max(self.span.from).min(self.span.to);
        let part = (t - self.span.from).0 as f64 / self.span.length().0.max(1) as f64;
        LEFT + (RIGHT - LEFT) * part
    }

    fn y(&self, charge: &Exact) -> f64 {
        let part = charge.to_f64().unwrap_or(0.0) / self.rated.0.max(1) as f64;
        BOTTOM - (BOTTOM - TOP - HEADROOM) * part.clamp(0.0, 1.0)
    }
}

/// The corners of the charge line up to `until`, and the legs that follow a test at `test`.
fn corners(input: &Input, g: GroupId, until: Minutes) -> Vec<(Minutes, Exact)> {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let group = &job.groups[g];
    let mut times: Vec<Minutes> = replay.charge(g).iter().map(|s| s.from).collect();
    for step in replay.charge(g) {
        // Where it is empty or full before the next step.
        let left = match step.does {
            Charging::Fed => {
                (group.rated.exact() - &step.charge) * group.recharge.exact() / group.rated.exact()
            }
            Charging::Lit | Charging::Tested => step.charge.clone(),
            Charging::AtRest => Exact::zero(),
        };
        times.push(step.from + super::dates::up(left));
    }
    times.push(until);
    times.retain(|t| *t <= until);
    times.sort_unstable();
    times.dedup();
    times.into_iter().map(|t| (t, replay.charge_at(job, g, t))).collect()
}

/// The drawing of a group.
pub fn chart(input: &Input, g: GroupId, dates: Option<&Dates>, summary: &str) -> String {
    let (job, replay, clock) = (input.sound.job(), input.sound.replay(), &input.site.clock);
    let group = &job.groups[g];
    let f = Frame { span: job.span, rated: group.rated };
    let (n, name) = (g.index(), escaped(job.groups.name(g)));
    let mut out = String::new();
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<svg role=\"img\" aria-labelledby=\"em{n}-title em{n}-desc\" viewBox=\"0 0 700 149\" \
         width=\"100%\" font-family=\"sans-serif\" font-size=\"10\" stroke=\"none\" \
         fill=\"#000\">\n<title id=\"em{n}-title\">Charge of {name} over the job</title>\n\
         <desc id=\"em{n}-desc\">{}</desc>\n<defs><pattern id=\"em{n}-in\" width=\"5\" \
         height=\"5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
         <rect width=\"1\" height=\"5\" fill=\"#999\"/></pattern></defs>\n",
        escaped(summary)
    );
    for span in occupied(input, group) {
        let (from, to) = (f.x(span.from), f.x(span.to));
        let _ = writeln!(
            out,
            "<rect x=\"{from:.1}\" y=\"{TOP}\" width=\"{:.1}\" height=\"{:.1}\" \
             fill=\"url(#em{n}-in)\"/>",
            to - from,
            BOTTOM - TOP
        );
    }
    days(&mut out, &f, input);
    let line = |out: &mut String, points: &[(Minutes, Exact)], style: &str| {
        let points: Vec<String> =
            points.iter().map(|(t, c)| format!("{:.1},{:.1}", f.x(*t), f.y(c))).collect();
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#000\" {style}/>",
            points.join(" ")
        );
    };
    required(&mut out, &f, input, group);
    let until = dates.map_or(job.span.to, |d| d.planned);
    line(&mut out, &corners(input, g, until), "stroke-width=\"2\"");
    if let Some(d) = dates {
        let (done, before) = (d.planned + group.rated, replay.charge_at(job, g, d.planned));
        let back = (done + group.recharge).min(job.span.to);
        let again = group.rated.exact() * (back - done).exact() / group.recharge.exact();
        let zero = Exact::zero();
        let legs = [
            (d.planned, before),
            (d.planned, zero.clone()),
            (done, zero),
            (back, again),
            (job.span.to, group.rated.exact().min(again_at(group, job.span.to - done))),
        ];
        line(&mut out, &legs, "stroke-width=\"1.4\" stroke-dasharray=\"5 3\"");
        let x = f.x(d.planned);
        let (tx, anchor) = if x > 560.0 { (x - 3.0, "end") } else { (x + 3.0, "start") };
        let _ = writeln!(
            out,
            "<line x1=\"{x:.1}\" y1=\"{TOP}\" x2=\"{x:.1}\" y2=\"{BOTTOM}\" stroke=\"#000\" \
             stroke-width=\"0.8\"/><text x=\"{tx:.1}\" y=\"{:.1}\" text-anchor=\"{anchor}\">\
             full-duration test {}</text>",
            TOP - 6.0,
            clock.short(d.planned)
        );
    }
    strip(&mut out, &f, input, g);
    for (label, charge) in
        [("0", Exact::zero()), (group.rated.0.to_string().as_str(), group.rated.exact())]
    {
        let y = f.y(&charge);
        let _ =
            writeln!(out, "<text x=\"34\" y=\"{:.1}\" text-anchor=\"end\">{label}</text>", y + 3.0);
    }
    let _ = writeln!(
        out,
        "<text x=\"34\" y=\"{:.1}\" text-anchor=\"end\">min</text><rect x=\"{LEFT}\" y=\"{TOP}\" width=\"{:.1}\" \
         height=\"{:.1}\" fill=\"none\" stroke=\"#000\"/>\n</svg>",
        TOP - 5.0,
        RIGHT - LEFT,
        BOTTOM - TOP
    );
    out
}

/// What has come back after so long on charge, from empty.
fn again_at(group: &Group, minutes: Minutes) -> Exact {
    let on = minutes.max(Minutes::ZERO).exact();
    group.rated.exact() * on / group.recharge.exact()
}

/// When people are in any of the group's areas, merged.
fn occupied(input: &Input, group: &Group) -> Vec<Period> {
    let replay = input.sound.replay();
    Period::merged(group.areas.iter().flat_map(|a| replay.occupied(*a).iter().copied()))
}

/// Midnights, with the days between them.
fn days(out: &mut String, f: &Frame, input: &Input) {
    let clock = &input.site.clock;
    let (mut from, mut first) = (f.span.from, true);
    for t in (f.span.from.0 + 1..=f.span.to.0).map(Minutes) {
        let midnight = clock.day(t) != clock.day(t - Minutes(1));
        if !midnight && t < f.span.to {
            continue;
        }
        let (x, middle) = (f.x(t), (f.x(from) + f.x(t)) / 2.0);
        if midnight {
            let _ = writeln!(
                out,
                "<line x1=\"{x:.1}\" y1=\"{TOP}\" x2=\"{x:.1}\" y2=\"{:.1}\" stroke=\"#777\" \
                 stroke-width=\"0.5\"/>",
                BOTTOM + 4.0
            );
        }
        if let Some(label) = day_label(&clock.day(from), first, f.x(t) - f.x(from)) {
            first = false;
            let _ = writeln!(
                out,
                "<text x=\"{middle:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{label}</text>",
                BOTTOM + 12.0,
            );
        }
        from = t;
    }
}

/// A day's name as far as its width takes it: whole, or the month only where it begins, or of
/// narrow days the Mondays.
fn day_label(day: &str, first: bool, width: f64) -> Option<String> {
    let [weekday, date, month] = day.split(' ').collect::<Vec<_>>()[..] else {
        return Some(day.to_owned());
    };
    let begins = first || date == "1";
    match width {
        w if w > 52.0 => Some(day.to_owned()),
        w if w > 34.0 && begins => Some(format!("{date} {month}")),
        w if w > 34.0 => Some(format!("{weekday} {date}")),
        _ => (weekday == "Mon").then(|| format!("{date} {month}")),
    }
}

/// The autonomy required, over the hours in which it is.
fn required(out: &mut String, f: &Frame, input: &Input, group: &Group) {
    let (job, replay) = (input.sound.job(), input.sound.replay());
    let mut labelled = Vec::new();
    for a in &group.areas {
        let area = &job.areas[*a];
        if area.measure.is_some() || area.autonomy <= Minutes::ZERO {
            continue;
        }
        let y = f.y(&area.autonomy.exact());
        for span in replay.occupied(*a) {
            let _ = writeln!(
                out,
                "<line x1=\"{:.1}\" y1=\"{y:.1}\" x2=\"{:.1}\" y2=\"{y:.1}\" stroke=\"#000\" \
                 stroke-width=\"2.6\"/>",
                f.x(span.from),
                f.x(span.to)
            );
        }
        if !labelled.contains(&area.autonomy) {
            labelled.push(area.autonomy);
            let _ = writeln!(
                out,
                "<text x=\"34\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
                y + 3.0,
                area.autonomy.0
            );
        }
    }
}

/// Below the plot: what the battery does, and the function tests.
fn strip(out: &mut String, f: &Frame, input: &Input, g: GroupId) {
    let steps = input.sound.replay().charge(g);
    let top = BOTTOM + 18.0;
    let _ = writeln!(
        out,
        "<rect x=\"{LEFT}\" y=\"{top}\" width=\"{:.1}\" height=\"9\" fill=\"none\" \
         stroke=\"#000\"/><text x=\"34\" y=\"{:.1}\" text-anchor=\"end\">supply</text>",
        RIGHT - LEFT,
        top + 8.0
    );
    let (mut tags, mut number): (f64, usize) = (LEFT, 0);
    for (i, step) in steps.iter().enumerate() {
        let to = steps.get(i + 1).map_or(f.span.to, |s| s.from);
        let (x, wide) = (f.x(step.from), (f.x(to) - f.x(step.from)).max(1.2));
        let fill = match step.does {
            Charging::Fed => continue,
            Charging::Lit => "fill=\"#000\"",
            Charging::AtRest => "fill=\"#fff\" stroke=\"#000\" stroke-dasharray=\"2 1\"",
            Charging::Tested => "fill=\"#777\"",
        };
        let _ = writeln!(
            out,
            "<rect x=\"{x:.1}\" y=\"{top}\" width=\"{wide:.1}\" height=\"9\" {fill}/>"
        );
        number += 1;
        // A number of the list beside the drawing; those that would overlap move on a little.
        let at = (x + wide / 2.0).max(tags);
        let _ = writeln!(
            out,
            "<text x=\"{at:.1}\" y=\"{:.1}\" text-anchor=\"middle\" font-weight=\"bold\">{}</text>",
            top + 18.0,
            number
        );
        tags = at + 14.0;
    }
}

#[cfg(test)]
mod tests {
    use super::day_label;

    #[test]
    fn a_days_name_is_as_long_as_its_day_is_wide() {
        let label = |day, first, width| day_label(day, first, width).unwrap_or_default();
        assert_eq!(label("Wed 10 Mar", false, 60.0), "Wed 10 Mar");
        assert_eq!(label("Wed 10 Mar", false, 46.6), "Wed 10");
        assert_eq!(label("Tue 9 Mar", true, 46.6), "9 Mar");
        assert_eq!(label("Thu 1 Apr", false, 46.6), "1 Apr");
        assert_eq!(label("Wed 10 Mar", false, 20.0), "");
        assert_eq!(label("Mon 8 Mar", false, 20.0), "8 Mar");
    }
}
