//! A small, strict reader of calendar files (RFC 5545), and what the outage calendars say.

use super::*;
use std::collections::BTreeMap;

/// The entries of a calendar: property to value, unescaped. Panics on anything not to the letter.
fn read(content: &str) -> Vec<BTreeMap<String, String>> {
    assert!(content.ends_with("\r\n"), "3.1: every line ends in CRLF");
    let bare = content.replace("\r\n", "");
    assert!(!bare.contains(['\r', '\n']), "3.1: no bare CR or LF");
    for line in content.split_terminator("\r\n") {
        assert!(line.len() <= 75, "3.1: a line of {} octets", line.len());
        assert!(!line.is_empty());
    }
    let unfolded = content.replace("\r\n ", "");
    let lines: Vec<&str> = unfolded.split_terminator("\r\n").collect();
    assert_eq!(lines.first(), Some(&"BEGIN:VCALENDAR"));
    assert_eq!(lines.last(), Some(&"END:VCALENDAR"));
    assert!(lines.contains(&"VERSION:2.0"), "3.7.4: required");
    assert_eq!(lines.iter().filter(|l| l.starts_with("PRODID:")).count(), 1, "3.7.3: once");
    let mut out = Vec::new();
    let mut entry: Option<BTreeMap<String, String>> = None;
    for line in &lines[1..lines.len() - 1] {
        let (name, value) = line.split_once(':').expect("3.1: name, colon, value");
        assert!(name.chars().all(|c| c.is_ascii_uppercase() || c == '-'), "{name}");
        match (name, value) {
            ("BEGIN", "VEVENT") => assert!(entry.replace(BTreeMap::new()).is_none()),
            ("END", "VEVENT") => out.push(entry.take().expect("an entry that has begun")),
            _ => {
                if let Some(entry) = &mut entry {
                    let before = entry.insert(name.to_owned(), unescaped(value));
                    assert!(before.is_none(), "{name} twice");
                }
            }
        }
    }
    assert!(entry.is_none());
    out
}

/// 3.3.11: backslash before backslash, semicolon, comma and n only, and never missing.
fn unescaped(value: &str) -> String {
    let mut out = String::new();
    let mut chars = value.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some('n') => out.push('\n'),
                Some(c @ ('\\' | ';' | ',')) => out.push(c),
                other => panic!("escaped {other:?}"),
            },
            ',' | ';' => panic!("a bare {c} in {value}"),
            c => {
                assert!(!c.is_control(), "a control character in {value}");
                out.push(c);
            }
        }
    }
    out
}

fn calendars(pack: &Pack) -> Vec<Vec<BTreeMap<String, String>>> {
    let named = |f: &str| f.starts_with("outage-notice-") && f.ends_with(".ics");
    pack.extras.iter().filter(|e| named(&e.file)).map(|e| read(&e.content)).collect()
}

/// A time in UTC (form 2 of 3.3.5) as the job's minutes.
fn minutes(job: &Resolved, value: &str) -> i64 {
    let at = jiff::civil::DateTime::strptime("%Y%m%dT%H%M%SZ", value).expect("form 2 of 3.3.5");
    let at = jiff::tz::TimeZone::UTC.to_timestamp(at).expect("in UTC");
    let zero = job.site.clock.at(wayover::units::Minutes(0)).timestamp();
    (at.as_second() - zero.as_second()) / 60
}

#[test]
fn each_entry_spans_the_outages_of_its_area_and_visit() {
    for (job, sound) in [boathouse(), school()] {
        let mut found: Vec<(i64, i64)> = Vec::new();
        let mut uids: Vec<String> = Vec::new();
        for entry in calendars(&pack(job, sound)).into_iter().flatten() {
            for required in ["UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"] {
                assert!(entry.contains_key(required), "{required}");
            }
            found.push((minutes(job, &entry["DTSTART"]), minutes(job, &entry["DTEND"])));
            uids.push(entry["UID"].clone());
        }
        let replay = sound.replay();
        let mut wanted = Vec::new();
        for area in sound.job().areas.ids() {
            for visit in replay.visits() {
                let all: Vec<_> = sound
                    .job()
                    .loads
                    .iter()
                    .filter(|(_, l)| l.areas.contains(&area))
                    .flat_map(|(id, _)| replay.outages(id))
                    .map(|o| o.whole)
                    .filter(|p| visit.from <= p.from && p.from <= visit.to)
                    .collect();
                let (from, to) = (all.iter().map(|p| p.from).min(), all.iter().map(|p| p.to).max());
                wanted.extend(from.zip(to).map(|(f, t)| (f.0, t.0)));
            }
        }
        assert!(!wanted.is_empty());
        assert_eq!(found, wanted);
        let all = uids.len();
        uids.sort();
        uids.dedup();
        assert_eq!(uids.len(), all, "3.8.4.7: no UID twice");
    }
}

#[test]
fn same_job_same_bytes_and_an_entry_keeps_its_uid_in_a_later_issue() {
    let (job, sound) = boathouse();
    let first = pack(job, sound);
    let again = pack(job, sound);
    assert!(first.extras.iter().zip(&again.extras).all(|(a, b)| a.content == b.content));
    let mut later = job.clone();
    later.site.paper.revisions.push(wayover::model::site::Revision {
        mark: "B".to_owned(),
        on: "2027-02-20".to_owned(),
        what: "times".to_owned(),
        by: String::new(),
    });
    let later = pack(&later, sound);
    let (a, b) = (calendars(&first), calendars(&later));
    assert_eq!(a[0][0]["UID"], b[0][0]["UID"]);
    assert_eq!((a[0][0]["SEQUENCE"].as_str(), b[0][0]["SEQUENCE"].as_str()), ("0", "1"));
}

#[test]
fn signs_that_mean_something_in_a_calendar_are_escaped_and_long_text_is_folded() {
    let (job, sound) = boathouse();
    let mut job = job.clone();
    let place = format!("Quay; 1, back\\yard {}", "é".repeat(120));
    job.site.paper.place = place.clone();
    job.site.loads[0].notice = "one\ntwo\r\u{7}".to_owned();
    let entries = calendars(&pack(&job, sound));
    assert_eq!(entries[0][0]["LOCATION"], format!("boathouse, {place}"));
    assert!(entries[0][0]["DESCRIPTION"].contains("one\ntwo\n"));
}
