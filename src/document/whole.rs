//! All papers in one page, to be printed in one go.

use super::Paper;
use crate::document::markup::escaped;

/// What stands before the styles of one paper alone.
const OWN: &str = "/* of this paper alone */";

/// What ends a section of a paper that is one page: one whose back has to be left blank, since it is
/// hung up or cut out, and one that may be printed on both sides.
const BACK: &str = "<!-- back -->";
const PAGE: &str = "<!-- page -->";

/// One page with every paper, each on fresh sheets, with the list of them first.
pub fn whole(list: &str, papers: &[&Paper], job: &str) -> String {
    let mut styles = String::new();
    let mut bodies = String::new();
    let papers = papers.iter().map(|p| (stem(&p.file), p.content.as_str()));
    for (stem, content) in [(super::WHOLE, list)].into_iter().chain(papers) {
        let style = content.split_once("</style>").map_or("", |(before, _)| before);
        let style = style.split_once("<style>").map_or("", |(_, style)| style);
        let (common, own) = style.split_once(OWN).unwrap_or((style, ""));
        // A page's own size cannot stand in a scope.
        let (pages, own): (Vec<&str>, Vec<&str>) =
            own.lines().partition(|line| line.trim_start().starts_with("@page"));
        styles.push_str(&format!(
            "{common}\n{}\n@scope (.paper.{stem}) {{\n{}\n}}\n",
            pages.join("\n"),
            scoped(&own.join("\n"), stem)
        ));
        let body = between(content, "<body", "</body>");
        let (class, inside) = body.split_once('>').unwrap_or(("", body));
        bodies.push_str(&format!("<section{class} id=\"paper-{stem}\">{inside}</section>\n"));
    }
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <title>All papers: {}</title>\n<style>{styles}\n{UNLISTED}\
         section.paper {{ break-before: page; }} section.paper:first-child {{ break-before: auto; }}\n\
         .paper ~ .paper .draft {{ display: none; }}\n</style>\n</head>\n\
         <body>\n{bodies}</body>\n</html>\n",
        escaped(job)
    )
}

/// The same page for printing on both sides: a blank side after each paper that ends on the front
/// of a sheet, and on the back of all that is hung up or cut out; each paper counts its own sides,
/// and stands in the list of papers with them. `pages` has how many pages each file has.
pub fn for_both_sides(whole: &str, pages: &[(&str, usize)]) -> String {
    let mut parts = whole.split(BEGINS);
    let mut head = parts.next().unwrap_or_default().replace(UNLISTED, "");
    let (mut bodies, mut styles) = (String::new(), String::new());
    let mut places = Vec::new();
    let mut first = 1;
    for part in parts {
        let name = part.split('"').next().unwrap_or_default();
        let counted = pages.iter().find(|(file, _)| stem(file) == name).map_or(0, |(_, n)| *n);
        let (paper, after) = part.rsplit_once("</section>").unwrap_or((part, ""));
        let (paper, sides) = evened(paper, counted);
        bodies.push_str(&format!("{BEGINS}{paper}</section>{after}"));
        if sides > 0 {
            let last = first + sides - 1;
            places.push((name.to_owned(), format!("{first} to {last}")));
            styles.push_str(&own_count(name, sides));
            first = last + 1;
        }
    }
    for (name, sides) in places {
        bodies = bodies.replace(&format!("<!-- sides of {name} -->"), &sides);
    }
    head.insert_str(head.find("</style>").unwrap_or(head.len()), &styles);
    head + &bodies
}

/// The index with a link to the PDF beside each paper, where there are any.
pub fn with_pdfs(index: &str) -> String {
    let mut parts = index.split("<!-- pdf of ");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let (file, rest) = part.split_once(" -->").unwrap_or(("", part));
        if !file.is_empty() {
            out.push_str(&format!(" (<a href=\"{}.pdf\">PDF</a>)", stem(file)));
        }
        out.push_str(rest);
    }
    out
}

/// What a paper begins with in the page of all of them.
const BEGINS: &str = "<section class=\"paper ";

/// Until then the list of papers does not tell on which sides they are.
const UNLISTED: &str = ".paper.all-papers .sides { display: none; }\n";

/// A paper with the blank sides that it needs, and how many sides it then has.
fn evened(paper: &str, pages: usize) -> (String, usize) {
    let marks = paper.matches(BACK).count() + paper.matches(PAGE).count();
    // Where a section is longer than its page, no place in the paper is known to be a front.
    let known = paper.contains(BACK) && marks == pages;
    let (mut out, mut sides, mut rest) = (String::new(), 0, paper);
    while let Some(at) = rest.find("<!-- ").filter(|_| known) {
        let (text, mark) = rest.split_at(at);
        let back = mark.starts_with(BACK);
        let ends = back || mark.starts_with(PAGE);
        let length = if ends { BACK.len() } else { "<!-- ".len() };
        if back && sides % 2 == 1 {
            out.push_str(BLANK);
            sides += 1;
        }
        out.push_str(text);
        out.push_str(if ends { "" } else { &mark[..length] });
        sides += usize::from(ends);
        if back {
            out.push_str(BLANK_BACK);
            sides += 1;
        }
        rest = &mark[length..];
    }
    out.push_str(rest);
    sides = sides.max(pages);
    if sides % 2 == 1 {
        out.push_str(BLANK);
        sides += 1;
    }
    (out, sides)
}

/// A paper's own pages counted at the foot, upright and across, beside the count of all sides.
fn own_count(stem: &str, sides: usize) -> String {
    let rule = |page: String| {
        format!(
            "@page {page} {{ counter-increment: of-{stem}; \
             @bottom-right {{ content: \"page \" counter(of-{stem}) \" of {sides}\"; }} \
             @bottom-center {{ content: \"all papers: side \" counter(page) \" of \" \
             counter(pages); font: 7.5pt sans-serif; }} }}\n"
        )
    };
    rule(stem.to_owned()) + &rule(format!("{stem}-wide"))
}

/// Sides that say why nothing is on them.
const BLANK: &str = "<p class=\"new-page\">This side is left blank, so that what follows begins on a \
    sheet of its own when all papers are printed on both sides.</p>\n";
const BLANK_BACK: &str = "<p class=\"new-page\">This side is left blank: what is on the front of this \
    sheet is hung up or cut out, and nothing is wanted on its back.</p>\n";

/// The stem of a paper's file.
pub fn stem(file: &str) -> &str {
    file.trim_end_matches(".html")
}

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
