//! Papers of the building's people and of the tests: facts equal to the replay's, limits equal to
//! published tables, calendars that a strict reader takes.

mod calendar;
mod papers;
mod timeline;
mod workbooks;

use crate::demos::{boathouse, library, library_pack, pack, school};
use crate::support::unmarked;
use wayover::document::Pack;
use wayover::jobfile::{self, Resolved};

/// The text of a paper: tags out, entities back, white space as one blank.
fn text(pack: &Pack, file: &str) -> String {
    let html = unmarked(html(pack, file));
    let body = html.split_once("<body").map_or(html.as_str(), |(_, b)| b);
    let mut out = String::new();
    let mut inside = true;
    for c in body.chars() {
        match c {
            '<' => inside = true,
            '>' if inside => {
                inside = false;
                out.push(' ');
            }
            c if !inside => out.push(c),
            _ => {}
        }
    }
    for (from, to) in [
        ("&#160;", " "),
        ("&lt;", "<"),
        ("&gt;", ">"),
        ("&quot;", "\""),
        ("&#x27;", "'"),
        ("&#39;", "'"),
        ("&#x2F;", "/"),
        ("&amp;", "&"),
    ] {
        out = out.replace(from, to);
    }
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn html<'a>(pack: &'a Pack, file: &str) -> &'a str {
    let found = pack.papers.iter().find(|p| p.file == file);
    &found.unwrap_or_else(|| panic!("no paper {file}")).content
}
