//! What is printed on the sheets, against the replay and against published figures.

use super::*;
use wayover::model::Earthing;
use wayover::model::site::{Defect, Risk};
use wayover::units::Minutes;

/// Minutes as papers write them: `45 min`, `2 h`, `5 h 26 min`.
fn length(m: Minutes) -> String {
    match (m.0 / 60, m.0 % 60) {
        (0, rest) => format!("{rest} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, rest) => format!("{hours} h {rest} min"),
    }
}

/// What stands between the marks in the part whose heading names a load.
fn rows<'h>(html: &'h str, from: &str, to: &str, name: &str) -> Option<&'h str> {
    let mut parts = html.split(from).skip(1).filter_map(|part| part.split(to).next());
    parts.find(|part| part.split("</th>").next().is_some_and(|heading| heading.contains(name)))
}

#[test]
fn the_notice_tells_every_outage_with_the_minutes_of_the_replay() {
    for (job, sound) in [boathouse(), school()] {
        let pack = pack(job, sound);
        let html = html(&pack, "outage-notice.html");
        let mut told = 0;
        for (id, _) in sound.job().loads.iter() {
            let name = sound.job().loads.name(id);
            let spans = sound.replay().outages(id);
            // A row a load with its times below each other, or across where there are many dates.
            let below = rows(html, "<tbody class=\"keep\">", "</tbody>", name);
            let across = rows(html, "<tr><th scope=\"row\">", "</tr>", name);
            let (row, each) = match (below, across) {
                (Some(row), _) => (Some(row), "<tr>"),
                (None, row) => (row, "<div>"),
            };
            assert_eq!(row.is_some(), !spans.is_empty(), "{name}");
            let row = row.unwrap_or_default();
            assert_eq!(row.matches(each).count(), spans.len(), "{name}");
            for outage in spans {
                let clock = &job.site.clock;
                let minutes = format!(">{}</", length(outage.whole.length()));
                assert!(row.contains(&minutes), "{name}: {minutes} in {row}");
                assert!(row.contains(&clock.time(outage.whole.from)), "{name}");
                assert!(row.contains(&clock.time(outage.whole.to)), "{name}");
                told += 1;
            }
        }
        assert!(told > 5);
    }
}

#[test]
fn advice_is_the_jobs_own_where_it_gives_some_and_by_name_where_not() {
    let (job, sound) = boathouse();
    let page = text(&pack(job, sound), "outage-notice.html");
    assert!(page.contains("Fridges and freezers keep the doors shut"), "{page}");
    let mut own = job.clone();
    let freezer = sound.job().loads.find("bait freezer").expect("a load");
    use wayover::model::Id;
    own.site.loads[freezer.index()].notice = "Bait into the cold box.".to_owned();
    let page = text(&pack(&own, sound), "outage-notice.html");
    assert!(page.contains("bait freezer Bait into the cold box."));
    assert!(!page.contains("Fridges and freezers keep"));
}

/// The largest Zs printed for a device, and the reading taken cold.
#[track_caller]
fn case(device: &str, rating: i64, zs: &str, cold: &str) {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    job.site.circuits[0].device = device.to_owned();
    job.site.circuits[0].rating = Some(wayover::units::whole(rating));
    let page = text(&pack(&job, sound), "test-sheets.html");
    let row =
        page.split("C1 NEW").nth(1).and_then(|r| r.split("C2 NEW").next()).unwrap_or_default();
    match zs {
        "" => assert!(row.contains(" limit ") && !row.contains(" cold"), "{device}: {row}"),
        _ => assert!(row.contains(&format!("≤ {zs} {cold} cold")), "{device}: {row}"),
    }
}

/// BS 7671:2018+A2:2022, Table 41.3, as published tables have it, and 0.8 of it.
#[test]
fn limits_of_loop_impedance_are_those_of_the_table() {
    case("rcbo B6", 6, "7.28", "5.82");
    case("rcbo B32", 32, "1.37", "1.10");
    case("breaker B45", 45, "0.97", "0.78");
    case("breaker B100", 100, "0.44", "0.35");
    case("breaker C10", 10, "2.19", "1.75"); // 2.185 exactly: halves go up
    case("rcbo C32", 32, "0.68", "0.54");
    case("breaker C125", 125, "0.17", "0.14");
    case("breaker D16", 16, "0.68", "0.54");
    case("fuse 30", 30, "", "");
    case("32 A", 32, "", "");
}

/// A source that feeds other circuits, its earthing not stated, takes no limit away.
#[test]
fn limits_are_those_of_the_source_that_feeds_the_circuit() {
    let (_, sound) = library();
    let sources = sound.job().nodes.rows().iter().filter_map(|n| n.source());
    assert!(sources.map(|s| s.system).any(|system| system.is_none()));
    let page = text(library_pack(), "test-sheets.html");
    // 0.95 x 230 V / (5 x 16 A), and / (10 x 25 A).
    for (number, limit) in [("C1", "≤ 2.73 2.18 cold"), ("C19", "≤ 0.87 0.70 cold")] {
        let row = page.split(&format!("{number} NEW")).nth(1).unwrap_or_default();
        let row = row.split(" NEW ").next().unwrap_or_default();
        assert!(row.contains(limit), "{number}: {row}");
    }
}

#[test]
fn an_earthing_that_is_not_tn_has_other_limits_or_none() {
    let (job, sound) = boathouse();
    assert!(
        sound
            .job()
            .nodes
            .rows()
            .iter()
            .filter_map(|n| n.source())
            .all(|s| s.system == Some(Earthing::Tn))
    );
    let page = text(&pack(job, sound), "test-sheets.html");
    // One RCBO in the boathouse has 30 mA: one test at rated current within 300 ms, 643.8.
    for limit in ["≤ 300", "≥ 1", "disconnection within 0.4 s", "RCD 30 mA"] {
        assert!(page.contains(limit), "{limit}");
    }
    let row =
        page.split("C5 NEW").nth(1).and_then(|r| r.split("C6 NEW").next()).unwrap_or_default();
    assert!(!row.contains("≤ 300"), "no RCD, no limit for one: {row}");
}

#[test]
fn every_moved_circuit_is_on_test_sheet_torque_record_and_labels() {
    for (job, sound) in [boathouse(), school()] {
        let pack = pack(job, sound);
        for label in &job.site.circuits {
            for file in ["test-sheets.html", "torque-record.html"] {
                let page = text(&pack, file);
                let row = format!("{} NEW", label.number);
                assert_eq!(
                    page.matches(&row).count(),
                    usize::from(label.new.is_some()),
                    "{row} in {file}"
                );
            }
        }
        // One label a way, with every circuit of it.
        let labels = html(&pack, "label-sheet.html");
        let labels: Vec<&str> = labels.split("<div class=\"w\">").skip(1).collect();
        let mut ways = std::collections::BTreeSet::new();
        for label in &job.site.circuits {
            let Some(way) = &label.new else { continue };
            ways.insert(&way.reference);
            let reference = way.reference.rsplit('/').next().unwrap_or_default();
            let own = labels.iter().find(|l| l.starts_with(&format!("{reference}<")));
            let numbers = own.and_then(|l| l.split("&#160;").next()).expect("its label");
            let numbers = numbers.split(['>', ',', ' ']);
            assert_eq!(numbers.filter(|n| *n == label.number).count(), 1, "{}", label.number);
        }
        assert_eq!(labels.len(), ways.len());
    }
}

#[test]
fn what_the_job_does_not_say_is_a_blank_and_what_it_says_is_printed() {
    let (job, sound) = boathouse();
    let page = text(&pack(job, sound), "risk-contacts-keys.html");
    assert!(page.contains("In an emergency call Say: where"), "a blank, no number made up: {page}");
    let mut job = job.clone();
    job.site.paper.emergency_number = "112".to_owned();
    job.site.risks.push(Risk {
        hazard: "wet floor in the boat bay".to_owned(),
        who: "everybody".to_owned(),
        control: "dry it first".to_owned(),
        owner: "Ash".to_owned(),
    });
    job.site.defects.push(Defect {
        what: "no main bonding to the water pipe".to_owned(),
        at: "meter cupboard".to_owned(),
        action: "told to R. Quill".to_owned(),
    });
    job.site.circuits[1].defects = "socket by the door cracked".to_owned();
    let pack = pack(&job, sound);
    let page = text(&pack, "risk-contacts-keys.html");
    assert!(page.contains("In an emergency call 112"));
    assert!(page.contains("wet floor in the boat bay everybody dry it first Ash"));
    for file in ["certificate-data.html", "waste-and-snags.html"] {
        let page = text(&pack, file);
        assert!(page.contains("no main bonding to the water pipe"), "{file}");
        assert!(page.contains("socket by the door cracked"), "{file}");
    }
}

#[test]
fn a_late_delivery_tells_what_waits_and_what_is_done_without_it() {
    let (job, sound) = school();
    let page = text(&pack(job, sound), "materials.html");
    for part in [
        "breakers second lot: comes after the first visit",
        "K10 (",
        "left off; F. Dunnock decides",
    ] {
        assert!(page.contains(part), "{part} in {page}");
    }
}

#[test]
fn the_handover_tells_the_last_state_of_the_replay() {
    let (job, sound) = school();
    let page = text(&pack(job, sound), "handover-sheet.html");
    let replay = sound.replay();
    let on = sound.job().circuits.ids().filter(|c| *replay.in_service(*c).last()).count();
    assert!(page.contains(&format!(" {on} circuits are in service")));
    assert!(page.contains("OLD DB-K corridor cupboard, left taken out"));
    assert!(page.contains("NEW DB-K2 corridor cupboard, right LIVE, covers on"));
    assert!(page.contains("K12, old organ blower"));
}

#[test]
fn markup_and_very_long_names_stay_text_on_every_sheet() {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    let evil = format!("<script>alert(1)</script>&{}", "x".repeat(200));
    job.site.circuits[0].serves = evil.clone();
    job.site.circuits[0].device = evil.clone();
    job.site.circuits[0].defects = evil.clone();
    job.site.boards[1].place = evil.clone();
    job.site.loads[0].notice = evil.clone();
    job.site.areas[0] = evil.clone();
    let risk = Risk {
        hazard: evil.clone(),
        who: evil.clone(),
        control: evil.clone(),
        owner: evil.clone(),
    };
    job.site.risks.push(risk);
    let pack = pack(&job, sound);
    for paper in &pack.papers {
        assert!(!paper.content.contains("<script"), "{}", paper.file);
    }
    for file in [
        "outage-notice.html",
        "test-sheets.html",
        "torque-record.html",
        "label-sheet.html",
        "risk-contacts-keys.html",
        "certificate-data.html",
        "waste-and-snags.html",
    ] {
        assert!(text(&pack, file).contains(&evil), "{file}");
    }
}

/// Resolves the starter's job with these tables added.
fn starter_with(label: &str, tables: &str) -> Result<Resolved, String> {
    let folder = std::env::temp_dir().join(format!("wayover-{label}-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a temporary folder");
    let toml = format!("{}\n{tables}", jobfile::starter_job());
    std::fs::write(folder.join("job.toml"), toml).expect("a writable folder");
    std::fs::write(folder.join("circuits.csv"), jobfile::starter_schedule()).expect("the same");
    let found = jobfile::read(&folder).and_then(jobfile::resolve);
    let _ = std::fs::remove_dir_all(&folder);
    found.map_err(|f| wayover::diag::render(&f))
}

#[test]
fn risks_and_defects_of_the_job_file_are_read_and_none_are_made_up() {
    let bare = starter_with("bare", "").expect("a job");
    assert!(bare.site.risks.is_empty() && bare.site.defects.is_empty());
    let tables = "[[risk]]\nhazard = \"wet floor\"\ncontrol = \"dry it\"\nwho = \"all\"\n\
                  [[defect]]\nwhat = \"no bonding\"\nat = \"cellar\"\n";
    let found = starter_with("stated", tables).expect("a job");
    let (hazard, control, who) = ("wet floor".to_owned(), "dry it".to_owned(), "all".to_owned());
    assert_eq!(found.site.risks, [Risk { hazard, who, control, owner: String::new() }]);
    let (what, at) = ("no bonding".to_owned(), "cellar".to_owned());
    assert_eq!(found.site.defects, [Defect { what, at, action: String::new() }]);
    let missing = starter_with("half", "[[risk]]\nhazard = \"wet floor\"\n");
    assert!(missing.is_err_and(|m| m.contains("control")));
}
