//! Jobs as they come: names that try to be markup, very long ones, accents, nothing at all, three
//! circuits and three hundred, each from its files to its pages in a browser.

use crate::browser::prints_well;
use crate::demos::{Planned, pack, planned, resolved};
use crate::support::unmarked;
use std::path::{Path, PathBuf};
use wayover::document::Pack;
use wayover::search::Options;

/// A folder with a job, taken away at the end.
struct Folder(PathBuf);

impl Folder {
    fn new(label: &str, toml: &str, csv: &str) -> Folder {
        let path = std::env::temp_dir().join(format!("wayover-odd-{label}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a temporary folder");
        std::fs::write(path.join("job.toml"), toml).expect("a writable folder");
        std::fs::write(path.join("circuits.csv"), csv).expect("a writable folder");
        Folder(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn demo(name: &str, file: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name);
    std::fs::read_to_string(folder.join(file)).expect("a readable demo")
}

fn printed(label: &str, toml: &str, csv: &str) -> (Planned, Pack) {
    let folder = Folder::new(label, toml, csv);
    let planned = planned(resolved(&folder.0), Options { moves: 300, tries: 6, seed: 1 });
    let pack = pack(&planned.0, &planned.1);
    (planned, pack)
}

fn paper<'a>(pack: &'a Pack, stem: &str) -> &'a str {
    let file = format!("{stem}.html");
    &pack.papers.iter().find(|p| p.file == file).expect("a paper").content
}

/// Only our own elements, in every paper: nothing of a job's text has become one.
fn holds_no_markup_of_the_job(pack: &Pack) {
    let papers = pack.papers.iter().map(|p| &p.content);
    for html in papers.chain([&pack.index, &pack.whole]) {
        for tag in ["<script", "<img", "<iframe", "<b>cellar", "onerror=\"", "javascript:"] {
            assert!(!html.to_lowercase().contains(tag), "{tag}");
        }
        for once in ["</html>", "</style>", "</body>"] {
            assert_eq!(html.matches(once).count(), 1, "{once}");
        }
    }
    for extra in &pack.extras {
        assert!(!extra.file.contains(['/', '\\', '<', '&', '"']), "{}", extra.file);
    }
    for book in &pack.books {
        assert!(!book.file.contains(['/', '\\', '<', '&', '"']), "{}", book.file);
    }
}

#[test]
fn names_that_try_to_be_markup_and_names_that_are_too_long_print_well() {
    let unbroken = "Kühlhausverdichterzuleitung".repeat(8);
    let long = "sockets along the north wall, the bench and the two lockers by the door ".repeat(3);
    let names = [
        ("workshop sockets", "\"<script>alert(1)</script>\""),
        (
            "boat bay sockets",
            "\"R&D \"\"sockets\"\" & 'more' &lt; \\ { } {{ head.job }} {% if %}\"",
        ),
        ("lighting", &format!("\"lighting {}\"", &long[..190])),
        ("bait freezer", "bait freezer żółć ñandú Ωμέγα"),
        ("water heater", &unbroken[..200]),
        ("door winch", "</td></tr></table><img src=x onerror=alert(1)>"),
    ];
    let mut csv = demo("a-boathouse", "circuits.csv");
    for (from, to) in names {
        assert_eq!(csv.matches(from).count(), 1, "{from}");
        csv = csv.replace(from, to);
    }
    let toml = demo("a-boathouse", "job.toml")
        .replace(
            "name = \"Boathouse, board DB-B renewed in its place\"",
            "name = \"Boat & house <b>cellar</b> \\\"B\\\"\"",
        )
        .replace("R. Quill", "R. Quill <R&D>")
        .replace("meter cupboard", "<b>cellar</b> & \\\"meter\\\" cupboard");
    let csv = csv.replace("R. Quill", "R. Quill <R&D>");
    let (_, pack) = printed("names", &toml, &csv);
    holds_no_markup_of_the_job(&pack);
    for stem in ["circuit-chart", "method-statement", "test-sheets", "board-chart"] {
        let html = unmarked(paper(&pack, stem));
        assert!(html.contains("&lt;script&gt;alert(1)&lt;"), "{stem}");
        assert!(html.contains("Ωμέγα"), "{stem}");
        assert!(html.contains(&unbroken[..200]), "{stem}");
        // What looks like the templates' own language is text too.
        assert!(html.contains("{{ head.job }} {% if %}"), "{stem}");
    }
    prints_well("names", &pack, &[]);
}

#[test]
fn three_circuits_with_nothing_said_of_them_print_well() {
    let csv = demo("a-boathouse", "circuits.csv");
    let rows: Vec<&str> =
        csv.lines().filter(|l| ["ci", "C1", "C3", "C4"].iter().any(|c| l.starts_with(c))).collect();
    let csv = rows.join("\n").replace("with its emergency luminaires", "");
    let ((job, _), pack) = printed("three", &demo("a-boathouse", "job.toml"), &csv);
    assert_eq!(job.site.circuits.len(), 3);
    prints_well("three", &pack, &[("second-brief", 2), ("circuit-chart", 2)]);
}

/// The school with 285 circuits more in the main panel, which stay where they are.
#[test]
fn three_hundred_circuits_are_told_in_rows_that_fit_a_page() {
    let mut csv = demo("c-music-school", "circuits.csv");
    let serves = ["lighting", "sockets", "ventilation of the practice rooms and the corridor"];
    for n in 0..285 {
        let (way, line, what) = (6 + n / 3, n % 3 + 1, serves[n % 3]);
        csv.push_str(&format!(
            "X{n},MP/{}L{line},stays,{what} {n},,breaker B16,4,studios,,low,,,traced,on,,,,,,2.5 mm2,,\n",
            way + 3
        ));
    }
    let toml = demo("c-music-school", "job.toml");
    let panel = toml.replacen("role = \"stays\"\nways = 8", "role = \"stays\"\nways = 110", 1);
    assert_ne!(panel, toml);
    let ((job, _), pack) = printed("many", &panel, &csv);
    assert_eq!(job.site.circuits.len(), 300);
    let chart = paper(&pack, "circuit-chart");
    for n in [0, 150, 284] {
        assert!(chart.contains(&format!(">X{n}<")), "X{n}");
    }
    // One area loses them all at once: no row, which is never split, holds more than a page does.
    for stem in ["outage-notice", "method-statement"] {
        let rows = paper(&pack, stem).split("<tr").filter_map(|row| row.split_once("</tr>"));
        let sockets: Vec<usize> = rows.map(|(row, _)| row.matches("sockets ").count()).collect();
        assert!(sockets.iter().sum::<usize>() >= 95, "{stem}");
        assert!(sockets.iter().all(|n| *n <= 30), "{stem}: {sockets:?}");
    }
    // Names of 288 loads in one area fill more than a page, however small they are set.
    prints_well("many", &pack, &[("outage-notice", 4)]);
}
