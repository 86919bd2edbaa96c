//! Every paper of every demo in a real browser: nothing cut, nothing over something else, nothing
//! split over pages that belongs together, pages that can be told apart, links that lead somewhere.
//!
//! Where there is no browser, no poppler to read its PDF, or no axe-core, the tests say so on standard
//! error; where nothing may be skipped (WAYOVER_SKIP_NOTHING, as `.ci/run` sets it), they fail.

mod chromium;
mod pdf;

use crate::demos::{FINGERPRINT, boathouse_pack, library_pack, school_pack};
use chromium::Chromium;
use pdf::Page;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Write;
use wayover::document::{HELD, LISTED, Pack, Paper, WHOLE, for_both_sides};

const MEASURE: &str = include_str!("browser/measure.js");
const ACCESS: &str = include_str!("browser/access.js");
const MARK: &str = include_str!("browser/mark.js");

/// What axe-core (MPL-2.0, `axe.min.js` of its package) finds serious or worse. It is asked where
/// the environment's WAYOVER_AXE names that file; it is no part of this repository.
const ASK_AXE: &str = "axe.run(document, {resultTypes: ['violations']}).then(found => found.violations\
    .filter(v => ['serious', 'critical'].includes(v.impact))\
    .map(v => 'axe ' + v.impact + ', ' + v.id + ', ' + v.nodes.length + ' times: ' + v.nodes[0].html)\
    .join('\\n'))";

/// Where the links of a page lead.
const LINKS: &str = "[...document.querySelectorAll('a[href]')].map(a => a.href).join('\\n')";

/// Width of a page between its margins, upright and across: 182 mm and 269 mm at 96 to the inch.
const UPRIGHT: u32 = 688;
const ACROSS: u32 = 1017;

/// How many pages a sheet of a paper takes at most, and what begins a sheet in its HTML.
const SHEETS: [(&str, &str, usize); 5] = [
    ("second-brief", "<h1>", 2),
    ("board-chart", "<h1>", 1),
    ("dated-charts", "<h1>", 1),
    ("outage-notice", "<section class=\"notice", 1),
    ("timeline", "<div class=\"drawing", 1),
];

#[test]
fn the_boathouse_prints_well() {
    let most = [
        ("method-statement", 19),
        ("lock-off-checklist", 6),
        ("circuit-chart", 2),
        ("all-papers", 80),
    ];
    prints_well("a", boathouse_pack(), &most);
}

#[test]
fn the_library_prints_well() {
    let most = [
        ("method-statement", 58),
        ("lock-off-checklist", 26),
        ("circuit-chart", 8),
        ("all-papers", 190),
    ];
    prints_well("b", library_pack(), &most);
}

#[test]
fn the_music_school_prints_well() {
    let most = [
        ("method-statement", 42),
        ("lock-off-checklist", 22),
        ("circuit-chart", 4),
        ("all-papers", 190),
    ];
    prints_well("c", school_pack(), &most);
}

/// Looks at every paper of a pack; `most` says how many pages some may have.
#[track_caller]
pub fn prints_well(label: &str, pack: &Pack, most: &[(&str, usize)]) {
    let Some(mut browser) = Chromium::start(label) else { return };
    for extra in &pack.extras {
        browser.file(&extra.file, &extra.content);
    }
    for book in &pack.books {
        browser.file(&book.file, "");
    }
    browser.file("plan.json", "{}");
    let whole = (format!("{WHOLE}.html"), &pack.whole);
    let index = ("index.html".to_owned(), &pack.index);
    let papers = pack.papers.iter().map(|p| (p.file.clone(), &p.content));
    let all: Vec<(String, &String)> = papers.chain([whole, index]).collect();
    let paths: Vec<_> = all.iter().map(|(file, html)| browser.file(file, html)).collect();
    let axe = std::env::var_os("WAYOVER_AXE")
        .map(|path| std::fs::read_to_string(path).expect("axe-core where WAYOVER_AXE says"));
    if axe.is_none() {
        not_tested(label, "WAYOVER_AXE names no axe-core, so none of its questions was asked");
    }
    let mut faults = Vec::new();
    let mut unread = false;
    // How many pages each has, the list before all papers first.
    let mut lengths: Vec<(&str, usize)> = Vec::new();
    let list = browser.file("list.html", &pack.list);
    browser.open(&list, UPRIGHT);
    if let Some(pages) = printed(&mut browser, "list") {
        lengths.push((&all[pack.papers.len()].0, pages.len()));
    }
    for ((file, html), path) in all.iter().zip(&paths) {
        let stem = file.trim_end_matches(".html");
        let mut fault = |what: String| faults.push(format!("{stem}: {what}"));
        if stem == WHOLE {
            browser.file(file, &for_both_sides(html, &lengths));
        }
        browser.open(path, UPRIGHT);
        for row in browser.run(ACCESS).lines() {
            fault(row.to_owned());
        }
        for what in dead_links(&browser.run(LINKS)) {
            fault(what);
        }
        if let Some(axe) = &axe {
            browser.run(&format!("{axe};''"));
            for row in browser.run(ASK_AXE).lines() {
                fault(row.to_owned());
            }
        }
        // All in one has each paper's own pages, which are looked at one paper at a time.
        if stem != WHOLE {
            for row in browser.run(&format!("{MEASURE}(false)")).lines() {
                fault(row.to_owned());
            }
            if html.contains("class=\"wide") || ["timeline", "stage-diagrams"].contains(&stem) {
                browser.open(path, ACROSS);
                for row in browser.run(&format!("{MEASURE}(true)")).lines() {
                    fault(row.to_owned());
                }
            }
        }
        let Some(pages) = printed(&mut browser, stem) else {
            unread = true;
            continue;
        };
        let limit = most.iter().find(|(s, _)| s == &stem).map(|(_, n)| *n);
        let sheets = SHEETS.iter().find(|(s, ..)| s == &stem);
        let limit = limit.or(sheets.map(|(_, begins, each)| html.matches(begins).count() * each));
        if limit.is_some_and(|n| pages.len() > n) {
            fault(format!("{} pages, at most {}", pages.len(), limit.unwrap_or_default()));
        }
        for what in pages_faults(&pages, stem) {
            fault(what);
        }
        if stem == WHOLE {
            let apart = pack.papers.iter().filter(|p| !HELD.contains(&p.file.as_str()));
            let titles: Vec<&str> = [LISTED].into_iter().chain(apart.map(|p| p.title)).collect();
            // A side that is longer than its page takes the backs of its paper with it.
            let whole_sides = |p: &&Paper| {
                let marks =
                    ["<!-- back -->", "<!-- page -->"].map(|m| p.content.matches(m).count());
                lengths.contains(&(p.file.as_str(), marks[0] + marks[1]))
            };
            let known: Vec<&str> =
                pack.papers.iter().filter(whole_sides).map(|p| p.title).collect();
            if limit.is_some() && known.len() != ALONE.len() {
                fault(format!("only of {known:?} is each side a page"));
            }
            for what in order_faults(&pages, &titles, &known) {
                fault(what);
            }
            continue;
        }
        lengths.push((file, pages.len()));
        if stem == "second-brief" {
            let begins = |text: &str| text.contains(", whatever this sheet says");
            for n in (1..=pages.len()).filter(|n| n % 2 == 0 && begins(&pages[n - 1].text())) {
                fault(format!("a brief begins on the back of a sheet, page {n}"));
            }
        }
        browser.run(MARK);
        let marked = printed(&mut browser, stem).unwrap_or_default();
        if marked.len() == pages.len() {
            for what in split_faults(&marked, html) {
                fault(what);
            }
        } else {
            fault(format!("{} pages with marks, {} without", marked.len(), pages.len()));
        }
    }
    if unread {
        not_tested(label, "no pdftotext (poppler), so no page of a PDF was read");
    }
    assert!(faults.is_empty(), "{} faults:\n{}", faults.len(), faults.join("\n"));
}

/// Tells what was not looked at, past the test harness, which keeps what passing tests print; where
/// nothing may be skipped, that is a failure.
pub fn not_tested(label: &str, why: &str) {
    let told = format!("NOT TESTED ({label}): {why}.");
    assert!(std::env::var_os("WAYOVER_SKIP_NOTHING").is_none(), "{told}");
    let _ = writeln!(std::io::stderr(), "{told}");
}

/// Papers whose every page is hung up or cut out, by title; of the labels, those that are.
const ALONE: [(&str, &str); 4] = [
    ("Charts for the doors, visit by visit", "Door of "),
    ("Board chart", "Chart checked against"),
    ("Outage notice", "Whom to ask"),
    ("Label sheet", "cut along the dashes"),
];

/// Papers that do not follow one another in order, that begin on the back of a sheet, that do not
/// count their own pages, or that have something on the back of what is hung up or cut out.
fn order_faults(pages: &[Page], titles: &[&str], known: &[&str]) -> Vec<String> {
    let mut faults = Vec::new();
    let (mut last, mut own, mut fronts) = (None, 0, 0);
    for (i, page) in pages.iter().enumerate() {
        let text = page.text();
        let of = titles.iter().position(|t| text.contains(&format!(" | {t} | ")));
        match (of, last) {
            (None, _) => faults.push(format!("page {} is of no paper", i + 1)),
            (Some(n), before) if Some(n) == before => {}
            (Some(n), before) if n != before.map_or(0, |b: usize| b + 1) => {
                faults.push(format!("page {} is of {}, out of its order", i + 1, titles[n]));
            }
            (Some(n), _) if i % 2 == 1 => {
                faults.push(format!("{} begins on a back, page {}", titles[n], i + 1));
            }
            _ => {}
        }
        if of != last {
            own = 0;
        }
        own += 1;
        if !text.contains(&format!("page {own} of ")) {
            faults.push(format!("page {} is not told to be {own} of its paper", i + 1));
        }
        last = of.or(last);
        let here = |t: &str| known.contains(&t) && of.is_some_and(|n| titles[n] == t);
        let Some((title, front)) = ALONE.iter().find(|(t, _)| here(t)) else {
            continue;
        };
        if text.contains(front) {
            let back = pages.get(i + 1).map(Page::text).unwrap_or_default();
            if i % 2 == 1 || !back.contains("nothing is wanted on its back") {
                faults.push(format!("page {} of {title} has no blank back", i + 1));
            }
            fronts += 1;
        }
    }
    if fronts < titles.len().min(3) {
        faults.push(format!("only {fronts} pages are hung up or cut out"));
    }
    faults
}

/// Links, one a row, that lead to no file of the pack, or to no place in it.
fn dead_links(links: &str) -> Vec<String> {
    let dead = |link: &&str| {
        let Some(path) = link.strip_prefix("file://") else { return true };
        let (path, place) = path.split_once('#').unwrap_or((path, ""));
        let there = std::fs::read(path).map(|text| String::from_utf8_lossy(&text).into_owned());
        !there.is_ok_and(|text| place.is_empty() || text.contains(&format!("id=\"{place}\"")))
    };
    links.lines().filter(dead).map(|link| format!("a link to nothing: {link}")).collect()
}

/// The page that the browser has open, printed and read.
fn printed(browser: &mut Chromium, stem: &str) -> Option<Vec<Page>> {
    let pdf = browser.pdf();
    assert!(pdf.starts_with(b"%PDF"), "{stem}");
    let path = browser.octets(&format!("{stem}.pdf"), &pdf);
    pdf::pages(&path)
}

/// What each page has to bear, and what may be on none.
fn pages_faults(pages: &[Page], stem: &str) -> Vec<String> {
    // All papers in one count their sides together, beside the pages of each.
    let word = if stem == WHOLE { "side" } else { "page" };
    let mut faults = Vec::new();
    for (i, page) in pages.iter().enumerate() {
        let n = i + 1;
        let text = page.text();
        if !text.contains(FINGERPRINT) {
            faults.push(format!("page {n} has no fingerprint"));
        }
        if !text.contains(&format!("{word} {n} of {}", pages.len())) {
            faults.push(format!("page {n} does not say that it is {word} {n} of {}", pages.len()));
        }
        for word in page.cut() {
            faults.push(format!("page {n}: `{word}` runs off the page"));
        }
        for (a, b) in page.overlapping() {
            faults.push(format!("page {n}: `{a}` and `{b}` lie over each other"));
        }
        // Margins hold some 25 words; a page with hardly more was turned for nothing.
        if page.words.len() < 40 && stem != "index" {
            faults.push(format!("page {n} is all but empty: {text}"));
        }
    }
    faults
}

/// Where the marks say that something begins and ends: kind, number, pages.
type Marks = BTreeMap<(char, usize), BTreeSet<usize>>;

fn marks(pages: &[Page]) -> Marks {
    let mut found = Marks::new();
    for (n, page) in pages.iter().enumerate() {
        for word in &page.words {
            for mark in word.text.split('@').skip(1) {
                let mut signs = mark.chars();
                let kind = signs.next().unwrap_or(' ');
                let digits: String = signs.take_while(char::is_ascii_digit).collect();
                if let Ok(number) = digits.parse() {
                    found.entry((kind, number)).or_default().insert(n + 1);
                }
            }
        }
    }
    found
}

/// Steps over two pages, headings left alone, tables that go on without their head.
fn split_faults(pages: &[Page], html: &str) -> Vec<String> {
    let found = marks(pages);
    let none = BTreeSet::new();
    let at = |kind: char, n: usize| found.get(&(kind, n)).unwrap_or(&none);
    let mut faults = Vec::new();
    for n in 0..html.matches("<article class=\"step").count() {
        let (from, to) = (at('s', n), at('e', n));
        if from.is_empty() || to.is_empty() {
            faults.push(format!("step {n}, from the top, was not found again"));
        } else if from != to {
            faults.push(format!("step {n}, from the top, is on pages {from:?} to {to:?}"));
        }
    }
    for ((kind, n), on) in &found {
        match kind {
            'h' if at('f', *n).is_empty() => {}
            'h' if on != at('f', *n) => {
                faults.push(format!("heading {n} is alone at the foot of page {on:?}"));
            }
            'c' | 'r' if found.contains_key(&('c', *n)) && at('c', *n) != at('r', *n) => {
                let (head, rows) = (at('c', *n), at('r', *n));
                faults.push(format!("table {n} has its head on {head:?} and rows on {rows:?}"));
            }
            _ => {}
        }
    }
    faults
}

/// Each fault that a browser is asked about, planted in a page, is found; the page without is clean.
#[test]
fn a_spoilt_paper_is_found_out() {
    let Some(mut browser) = Chromium::start("spoilt") else { return };
    let sound = "<!DOCTYPE html><html lang=\"en\"><head><title>t</title><style>\
        @page { size: A4; margin: 16mm 14mm; @top-left { content: \"12ab-34cd-56ef\"; } \
        @bottom-right { content: \"page \" counter(page) \" of \" counter(pages); } } \
        body { margin: 0; font: 12px sans-serif; } tr, .step { break-inside: avoid; } \
        h2 { break-after: avoid; } td, th { width: 80px; } #low { height: 560px; } \
        #high { height: 400px; } \
        </style></head><body><h1>One</h1><h2>Two</h2>\
        <p>plain <span id=\"a\">words</span> <a href=\"#a\">there</a></p>\
        <table><thead><tr><th scope=\"col\">head</th></tr></thead><tbody>\
        <tr><td>cell <span class=\"box\"></span></td></tr></tbody></table><p>WORDS</p>\
        <div id=\"low\"></div><article class=\"step\"><h3>S</h3><p>first</p>\
        <div id=\"high\"></div><p>last</p></article>\
        <h2>Foot</h2><p>what follows</p></body></html>"
        .replace("WORDS", &"word ".repeat(60));
    let mut faults = |html: &str| {
        let path = browser.file("page.html", html);
        browser.open(&path, UPRIGHT);
        let mut all = format!("{}\n", browser.run(ACCESS));
        all.push_str(&dead_links(&browser.run(LINKS)).join("\n"));
        all.push_str(&browser.run(&format!("{MEASURE}(false)")));
        if let Some(pages) = printed(&mut browser, "page") {
            all.push_str(&pages_faults(&pages, "index").join("\n"));
            browser.run(MARK);
            let marked = printed(&mut browser, "page").unwrap_or_default();
            all.push_str(&split_faults(&marked, html).join("\n"));
        }
        all.trim().to_owned()
    };
    assert_eq!(faults(&sound), "");
    let read = chromium::on_path("pdftotext").is_some();
    let poppler = |n: usize| if read { n } else { 0 };
    let spoilt = [
        (" lang=\"en\"", "", "no language"),
        ("<title>t</title>", "", "no title"),
        ("<h2>Two</h2>", "<h3>Two</h3>", "from a heading of order 1 to 3"),
        (" scope=\"col\"", "", "a head of nothing"),
        ("href=\"#a\"", "href=\"#b\"", "a link to nothing"),
        ("href=\"#a\"", "href=\"other.html\"", "a link to nothing"),
        ("href=\"#a\"", "href=\"page.html#b\"", "a link to nothing"),
        ("href=\"#a\"", "href=\"https://a.example/\"", "a link to nothing"),
        ("<p>plain", "<p id=\"a\">plain", "a name given twice"),
        ("<p>plain", "<p style=\"color: #999\">plain", "contrast 2.8"),
        ("<p>plain", "<img src=\"data:,\"><p>plain", "a picture without words"),
        ("<p>plain", "<img alt=\"\" src=\"x.png\"><p>plain", "something from outside"),
        ("<p>plain", "<svg width=\"9\" height=\"9\"></svg><p>plain", "a drawing without words"),
        ("<p>plain", "<p style=\"width: 20px; overflow: hidden\">plain", "cut: P"),
        ("<p>plain", "<p style=\"margin-left: 670px; white-space: nowrap\">plain", "runs off"),
        ("<p>plain", "<p style=\"margin-bottom: -24px\">plain", "text over text"),
        (
            "class=\"box\"",
            "class=\"box\" style=\"position: relative; left: 300px\"",
            "lies outside",
        ),
        ("tr, .step {", "tr {", "may be split over pages: ARTICLE"),
        ("<p>first</p>", "<p style=\"height: 999px\">first</p>", "taller than a page"),
    ];
    let printed = [
        ("content: \"12ab-34cd-56ef\"", "content: \"\"", "page 1 has no fingerprint"),
        ("counter(pages)", "\"9\"", "page 1 does not say that it is page 1 of"),
        ("tr, .step {", "tr {", "step 0, from the top, is on pages {1} to {2}"),
        ("h2 { break-after: avoid; }", "h2 + p { break-before: page; }", "alone at the foot"),
        (
            "<table><thead>",
            "<table><tbody><tr style=\"height: 600px\"><td>a</td></tr>\
             <tr style=\"height: 600px\"><td>b</td></tr></tbody>\
             <thead style=\"display: table-row-group\">",
            "has its head on",
        ),
        ("<p>first</p>", "<p>first</p><p style=\"margin: -27px 0 0\">other</p>", "over each other"),
    ];
    for (from, to, wanted) in spoilt.into_iter().chain(printed.into_iter().take(poppler(6))) {
        assert!(sound.contains(from), "{from}");
        let found = faults(&sound.replacen(from, to, 1));
        assert!(found.contains(wanted), "{wanted}, not in: {found}");
    }
}
