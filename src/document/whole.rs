//! All papers in one page, to be printed in one go.

use super::Paper;
use crate::document::markup::escaped;

/// What stands before the styles of one paper alone.
const OWN: &str = "/* of this paper alone */";

/// One page with every paper, each on fresh sheets.
pub fn whole(papers: &[&Paper], job: &str) -> String {
    let mut styles = String::new();
    let mut bodies = String::new();
    for paper in papers {
        let style = paper.content.split_once("</style>").map_or("", |(before, _)| before);
        let style = style.split_once("<style>").map_or("", |(_, style)| style);
        let (common, own) = style.split_once(OWN).unwrap_or((style, ""));
        // A page's own size cannot stand in a scope.
        let (pages, own): (Vec<&str>, Vec<&str>) =
            own.lines().partition(|line| line.trim_start().starts_with("@page"));
        let stem = paper.file.trim_end_matches(".html");
        styles.push_str(&format!(
            "{common}\n{}\n@scope (.paper.{stem}) {{\n{}\n}}\n",
            pages.join("\n"),
            scoped(&own.join("\n"), stem)
        ));
        let body = between(&paper.content, "<body", "</body>");
        let (class, inside) = body.split_once('>').unwrap_or(("", body));
        bodies.push_str(&format!("<section{class}>{inside}</section>\n"));
    }
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <title>All papers: {}</title>\n<style>{styles}\n\
         section.paper {{ break-before: page; }} section.paper:first-child {{ break-before: auto; }}\n\
         .paper ~ .paper .draft {{ display: none; }}\n</style>\n</head>\n\
         <body>\n{bodies}</body>\n</html>\n",
        escaped(job)
    )
}

/// The same page with a blank side after each paper that ends on the front of a sheet, so that
/// papers printed on both sides can be parted; `odd` has the files of those papers.
pub fn for_both_sides(whole: &str, odd: &[&str]) -> String {
    let mut out = String::new();
    for (i, part) in whole.split("<section class=\"paper ").enumerate() {
        let stem = part.split('"').next().unwrap_or_default();
        let is_odd = odd.iter().any(|file| file.trim_end_matches(".html") == stem);
        if i > 0 {
            out.push_str("<section class=\"paper ");
        }
        match part.rsplit_once("</section>") {
            Some((paper, after)) if i > 0 && is_odd => {
                out.push_str(&format!("{paper}{BLANK}</section>{after}"));
            }
            _ => out.push_str(part),
        }
    }
    out
}

/// A side that says why nothing is on it.
const BLANK: &str = "<p class=\"new-page\">This side is left blank, so that the next paper begins \
    on a sheet of its own when all of them are printed on both sides.</p>\n";

fn between<'a>(text: &'a str, from: &str, to: &str) -> &'a str {
    text.split_once(from)
        .and_then(|(_, rest)| rest.rsplit_once(to))
        .map_or("", |(inside, _)| inside)
}

/// Styles of one paper with its class replaced by its scope, which no rule names within itself.
fn scoped(styles: &str, stem: &str) -> String {
    let class = format!(".{stem}");
    let mut out = String::new();
    let mut rest = styles;
    while let Some(at) = rest.find(&class) {
        let after = &rest[at + class.len()..];
        let whole = !after.starts_with(|c: char| c.is_alphanumeric() || c == '-' || c == '_');
        let before = rest[..at].trim_end_matches("body").trim_end_matches(".paper");
        out.push_str(if whole { before } else { &rest[..at] });
        out.push_str(if whole { ":scope" } else { &class });
        rest = after;
    }
    out.push_str(rest);
    out
}
