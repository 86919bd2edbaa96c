//! The timeline: texts apart, outages where the replay has them, words for those who cannot see.

use super::*;

/// The drawings of the timeline paper.
fn drawings(pack: &Pack) -> Vec<String> {
    let page = html(pack, "timeline.html");
    page.split("<svg ")
        .skip(1)
        .map(|d| d.split("</svg>").next().unwrap_or_default().to_owned())
        .collect()
}

fn attribute<'a>(tag: &'a str, name: &str) -> &'a str {
    let start = format!(" {name}=\"");
    tag.split_once(&start).and_then(|(_, rest)| rest.split('"').next()).unwrap_or_default()
}

fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).parse().unwrap_or_else(|_| panic!("{name} of {tag}"))
}

/// Left, top, right, bottom and words of each text. Widths are those of the letters of the usual
/// sans-serif (its published metrics, in thousandths of the size), rounded to classes of letters.
fn boxes(drawing: &str) -> Vec<([f64; 4], String)> {
    let mut out = Vec::new();
    for tag in drawing.split("<text").skip(1) {
        let (head, rest) = tag.split_once('>').expect("a text");
        let words = rest.split("</text>").next().unwrap_or_default().replace("&amp;", "&");
        let (x, y, size) = (number(head, "x"), number(head, "y"), number(head, "font-size"));
        let mille: f64 = words
            .chars()
            .map(|c| match c {
                'i' | 'j' | 'l' => 222.0,
                ' ' | '.' | ',' | ':' | ';' | '/' | 'f' | 't' | 'I' => 278.0,
                'r' | '(' | ')' | '-' => 333.0,
                'm' => 833.0,
                'w' | 'G' | 'O' | 'Q' => 750.0,
                'M' | 'W' => 900.0,
                c if c.is_uppercase() => 690.0,
                _ => 556.0,
            })
            .sum();
        let bold = if attribute(head, "font-weight") == "bold" { 1.06 } else { 1.0 };
        let w = mille * size / 1000.0 * bold;
        let left = match attribute(head, "text-anchor") {
            "start" => x,
            "middle" => x - w / 2.0,
            _ => x - w,
        };
        out.push(([left, y - 0.8 * size, left + w, y + 0.21 * size], words));
    }
    out
}

#[test]
fn no_two_texts_overlap_and_none_leaves_the_drawing() {
    for (job, sound) in [boathouse(), school()] {
        let all = drawings(&pack(job, sound));
        assert!(!all.is_empty());
        for drawing in all {
            let view = attribute(&drawing, "viewBox");
            let size: Vec<f64> = view.split(' ').filter_map(|n| n.parse().ok()).collect();
            let boxes = boxes(&drawing);
            assert!(boxes.len() > 30, "{} texts", boxes.len());
            for (i, (a, words)) in boxes.iter().enumerate() {
                assert!(
                    a[0] >= 0.0 && a[2] <= size[2] && a[3] <= size[3],
                    "{words} {a:?} {size:?}"
                );
                for (b, other) in &boxes[i + 1..] {
                    let apart = a[2] <= b[0] || b[2] <= a[0] || a[3] <= b[1] || b[3] <= a[1];
                    assert!(apart, "{words} {a:?} on {other} {b:?}");
                }
            }
        }
    }
}

#[test]
fn a_drawing_a_visit_with_each_outage_told_in_its_description() {
    for (job, sound) in [boathouse(), school()] {
        let (replay, clock) = (sound.replay(), &job.site.clock);
        let all = drawings(&pack(job, sound));
        let mut told = 0;
        for (id, _) in sound.job().loads.iter() {
            for outage in replay.outages(id) {
                let (from, to) = (clock.time(outage.whole.from), clock.time(outage.whole.to));
                let words = format!("{from} to {to}");
                let name = sound.job().loads.name(id);
                let found = all.iter().any(|d| {
                    let about = d.split("<desc ").nth(1).and_then(|d| d.split("</desc>").next());
                    about.is_some_and(|a| {
                        a.split(". ").any(|s| s.contains(name) && s.contains(&words))
                    })
                });
                assert!(found, "{name} {words}");
                told += 1;
            }
        }
        assert!(told > 5);
        for drawing in &all {
            assert!(drawing.contains("role=\"img\"") && drawing.contains("<title "));
        }
        let points = &sound.plan().back_out.points_of_no_return;
        let marks: Vec<String> = points
            .iter()
            .filter_map(|p| Some(format!("POINT OF NO RETURN {}", clock.time(p.at?))))
            .collect();
        for mark in marks {
            assert!(all.iter().any(|d| d.contains(&mark)), "{mark}");
        }
    }
}

/// The black bars of a load are as long as its outages: width over the scale of the hours.
#[test]
fn bars_are_as_long_as_the_outages() {
    let (job, sound) = boathouse();
    let drawing = drawings(&pack(job, sound)).remove(0);
    let freezer = sound.job().loads.find("bait freezer").expect("a load");
    let texts: Vec<&str> = drawing.split("<text").skip(1).collect();
    let y = |words: &str| {
        let tag = texts.iter().find(|t| t.contains(&format!(">{words}<"))).expect("a text");
        number(tag, "y")
    };
    let x = |words: &str| {
        let tag = texts.iter().find(|t| t.contains(&format!(">{words}<"))).expect("a text");
        number(tag, "x")
    };
    let minute = (x("23:00") - x("22:00")) / 60.0;
    let row = y("bait freezer");
    let bars: Vec<f64> = drawing
        .split("<rect")
        .skip(1)
        .filter(|t| t.contains("fill=\"#000\" stroke"))
        .filter(|t| (number(t, "y") - row).abs() < 40.0 && number(t, "y") < row)
        .map(|t| number(t, "width") / minute)
        .collect();
    let wanted: Vec<f64> =
        sound.replay().outages(freezer).iter().map(|o| o.whole.length().0 as f64).collect();
    assert_eq!(bars.len(), wanted.len(), "{bars:?} {wanted:?}");
    for (bar, minutes) in bars.iter().zip(&wanted) {
        assert!((bar - minutes).abs() < 1.0, "{bars:?} {wanted:?}");
    }
}

#[test]
fn markup_in_a_board_stays_text_in_the_drawing() {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    job.site.circuits[3].number = "<script>\"'&".to_owned();
    let drawing = drawings(&pack(&job, sound)).remove(0);
    assert!(!drawing.contains("<script"));
    assert!(drawing.contains("&lt;script&gt;&quot;&#39;&amp;"));
}
