//! The paper on emergency lighting and the calendar of its tests.

use super::*;
use crate::support::unmarked;
use wayover::document::{self, Input, Pack};
use wayover::jobfile::{self, Resolved};
use wayover::model::{GroupId, Id};
use wayover::search::{self, Options, Outcome};
use wayover::units::Minutes;
use wayover::verify::{self, SoundPlan};

fn planned(toml: &str, csv: &str, label: &str) -> (Resolved, SoundPlan) {
    let folder = Scratch::new(label, toml, csv);
    let read = jobfile::read(&folder.0).and_then(jobfile::resolve);
    let job = read.unwrap_or_else(|f| panic!("{}", wayover::diag::render(&f)));
    let options = Options { moves: 300, tries: 6, seed: 1 };
    let Outcome::Plan(plan) = search::plan(&job.job, &job.labour, options) else {
        panic!("no plan");
    };
    let sound = verify::check(&job.job, &plan).expect("a sound plan");
    (job, sound)
}

fn pack(job: &Resolved, sound: &SoundPlan) -> anyhow::Result<Pack> {
    let input = Input {
        sound,
        site: &job.site,
        labour: &job.labour,
        fingerprint: "12ab-34cd-56ef",
        costs: &[],
    };
    document::pack(&input)
}

fn boathouse(label: &str) -> (Resolved, SoundPlan) {
    planned(&demo("a-boathouse", "job.toml"), &demo("a-boathouse", "circuits.csv"), label)
}

fn paper(pack: &Pack) -> String {
    let found = pack.papers.iter().find(|p| p.file == "emergency-lighting.html");
    unmarked(&found.expect("the paper").content)
}

#[test]
fn the_paper_shows_each_group_with_its_chart_tests_sheet_and_note() {
    let (job, sound) = boathouse("paper");
    let pack = pack(&job, &sound).expect("papers");
    let page = paper(&pack);
    for part in [
        "EM-1 (boathouse): 180 of 180 min on Wed 3 Mar 06:30",
        "<title id=\"em0-title\">Charge of EM-1 over the job</title>",
        "<desc id=\"em0-desc\">",
        "open the final-circuit device, not only the key switch",
        "all 4 luminaires of EM-1 light",
        "With <b>NEW DB-B2&#x2F;3",
        "Test sheet EM-1: boathouse",
        "Completion note",
    ] {
        let plain = part.replace("&#x2F;", "/");
        assert!(page.contains(part) || page.contains(&plain), "`{part}` is not there");
    }
}

#[test]
fn a_group_that_comes_back_short_tells_what_is_left_and_when_it_is_full() {
    let toml = with(
        &demo("a-boathouse", "job.toml"),
        "full_test = 2026-09-14, rest_mode = true",
        "charge_min = 100, rest_mode = false, recharge_min = 2880",
    );
    let toml =
        with(&toml, "occupied = [\"tue-sun", "measure = \"hand lamps\", occupied = [\"tue-sun");
    let (job, sound) = planned(&toml, &demo("a-boathouse", "circuits.csv"), "short");
    let g = GroupId::new(0);
    let page = pack(&job, &sound).expect("papers");
    let page = paper(&page);
    let line = page.split("<li><b>").nth(1).expect("a line").split("</b>").next();
    // Worked from the replay: the charge at 06:30 on Wednesday, rounded down to 15 min, and the
    // first minute from there at which a minute-by-minute count is full.
    let clock = &job.site.clock;
    let at = (0..job.job.span.to.0)
        .map(Minutes)
        .find(|t| clock.short(*t) == "Wed 06:30")
        .expect("a Wednesday");
    let charge = sound.replay().charge_at(&job.job, g, at);
    let left = (0..=180 / 15).map(|n| n * 15).rfind(|n| Minutes(*n).exact() <= charge);
    let full = (at.0..job.job.span.to.0)
        .map(Minutes)
        .find(|t| sound.replay().charge_at(&job.job, g, *t) == Minutes(180).exact())
        .expect("full again");
    let wanted = format!(
        "EM-1 (boathouse): {} of 180 min on Wed 3 Mar 06:30, full again {} {}",
        left.expect("some"),
        clock.day(full),
        clock.time(full)
    );
    assert_eq!(line, Some(wanted.as_str()));
    assert!(charge < Minutes(100).exact(), "the batteries lost something: {charge}");
}

#[test]
fn the_calendar_keeps_to_its_standard_and_the_same_plan_gives_the_same_bytes() {
    let (mut job, sound) = boathouse("calendar");
    job.site.paper.place = format!("{}, back\\slash; \u{e9}\nline two", "Long lane ".repeat(9));
    let [text, again] = [(); 2].map(|()| {
        let extras = pack(&job, &sound).expect("papers").extras;
        extras.into_iter().find(|e| e.file == "emergency-tests.ics").expect("a calendar").content
    });
    assert_eq!(text, again);
    // RFC 5545, 3.1: every line ends in CR LF and has 75 octets at most.
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert!(text.ends_with("END:VCALENDAR\r\n"));
    assert!(text.split("\r\n").all(|line| line.len() <= 75), "{text}");
    let whole = text.replace("\r\n ", "");
    let lines: Vec<&str> = whole.split("\r\n").collect();
    let start = *sound.plan().claims.full_duration_tests.values().next().expect("a date");
    // 3.3.5, form 2. The boathouse is on UTC in March.
    let begins = job.site.clock.at(start).strftime("DTSTART:%Y%m%dT%H%M00Z").to_string();
    for line in [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "BEGIN:VEVENT",
        "DTSTAMP:20270301T120000Z",
        &begins,
        "SUMMARY:Full-duration test EM-1\\, boathouse",
        "END:VEVENT",
    ] {
        assert!(lines.contains(&line), "`{line}` is not in\n{whole}");
    }
    // 3.3.11: backslash, semicolon, comma and line end are escaped.
    let place = lines.iter().find(|l| l.starts_with("LOCATION:")).expect("a place");
    assert!(place.ends_with("\\, back\\\\slash\\; \u{e9}\\nline two"), "{place}");
}

#[test]
fn the_sensible_times_are_those_that_the_checker_takes() {
    let (job, sound) = boathouse("times");
    let pack = pack(&job, &sound).expect("papers");
    let page = paper(&pack);
    let g = GroupId::new(0);
    // Every minute is asked of the checker: the claim moved there, and no other rule broken.
    let taken = |t: i64| {
        let mut plan = sound.plan().clone();
        plan.claims.full_duration_tests.insert(g, Minutes(t));
        verify::check(&job.job, &plan).is_ok()
    };
    let clock = &job.site.clock;
    let start = sound.plan().claims.full_duration_tests[&g].0;
    let between = |from: &str, to: &str| {
        page.split(from).nth(1).and_then(|r| r.split(to).next()).expect("a date").to_owned()
    };
    let (first, last) = (between("<td>start ", " to "), between("<td>start ", "<"));
    let last = last.split(" to ").nth(1).and_then(|l| l.split(';').next());
    let last = last.expect("an end").to_owned();
    assert_eq!(first, clock.full(Minutes(start)));
    // Of one day, the end is told by its time alone.
    let told = |t: i64| match clock.day(Minutes(t)) == clock.day(Minutes(start)) {
        true => clock.time(Minutes(t)),
        false => clock.full(Minutes(t)),
    };
    assert!(!taken(start - 1));
    let end =
        (start..job.job.span.to.0).find(|t| told(*t) == last).expect("within the time looked at");
    for t in [start, start + 1, (start + end) / 2, end - 1, end] {
        assert!(taken(t), "{}", clock.full(Minutes(t)));
    }
    assert!(!taken(end + 1), "{last} is not the last");
}

#[test]
fn neighbours_run_down_at_one_time_are_never_printed() {
    let (mut job, sound) = neighbours::planned("printed", "");
    assert!(pack(&job, &sound).is_ok());
    job.labour.neighbours = vec![[wayover::model::AreaId::new(0), wayover::model::AreaId::new(1)]];
    let found = pack(&job, &sound).err().expect("a refusal").to_string();
    assert!(found.contains("next to each other, are at one time"), "{found}");
}

#[test]
fn maintained_luminaires_stay_lit_in_the_words_of_the_tests() {
    let toml = with(
        &demo("a-boathouse", "job.toml"),
        "rest_mode = true,",
        "rest_mode = true, maintained = true,",
    );
    let (job, sound) = planned(&toml, &demo("a-boathouse", "circuits.csv"), "maintained");
    let pack = pack(&job, &sound).expect("papers");
    let page = paper(&pack);
    for part in [
        "4 luminaires, maintained (lit all the time); test key switch KS-1",
        "all 4 luminaires of EM-1 stay lit, now on their batteries",
        "normal lighting is back, the luminaires stay lit, charge indicators show healthy",
        "test key switch KS-1: the luminaires stay lit on their batteries, normal lighting stays on",
    ] {
        assert!(page.contains(part), "`{part}` is not there");
    }
    for part in ["the luminaires light", "luminaires of EM-1 light", "the luminaires go out"] {
        assert!(!page.contains(part), "`{part}` is there");
    }
}

/// Planning model, E4: printed autonomy is rounded down to 15 min, in the list of spans too.
#[test]
fn every_autonomy_on_the_paper_is_rounded_down() {
    let (job, sound) = boathouse("rounded");
    let pack = pack(&job, &sound).expect("papers");
    let text = paper(&pack);
    let spans: Vec<&str> =
        text.split(" min left").filter_map(|part| part.rsplit(['>', ' ']).next()).collect();
    let figures: Vec<i64> = spans.iter().filter_map(|s| s.parse().ok()).collect();
    assert!(figures.len() > 3, "{figures:?}");
    assert!(figures.iter().all(|f| f % 15 == 0), "{figures:?}");
    let (replay, g) = (sound.replay(), GroupId::new(0));
    let exact = replay.charge(g).iter().map(|s| s.charge.floor());
    assert!(exact.into_iter().any(|c| c % wayover::units::whole(15) != wayover::units::whole(0)));
}
