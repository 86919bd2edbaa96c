//! Calendar files (iCalendar, RFC 5545), for people's own diaries.
//!
//! Times are written in UTC (form 2 of RFC 5545, 3.3.5), so no zone table is needed and an hour
//! that comes twice is no doubt. Same input, same bytes: an entry's UID comes from the job's name
//! and its own key, so a later issue replaces an earlier one, and DTSTAMP is the start of the time
//! looked at. Lines end in CRLF (3.1), are folded at 75 octets (3.1), text is escaped (3.3.11).

use super::Input;
use crate::units::{Minutes, Period};

/// One entry of a calendar.
pub struct Entry {
    /// What tells it from the others of the same job, whatever the issue.
    pub key: String,
    /// From when to when.
    pub period: Period,
    /// One line.
    pub summary: String,
    /// More, with line breaks.
    pub description: String,
    /// Where.
    pub place: String,
}

/// A whole calendar file.
pub fn write(input: &Input, title: &str, entries: &[Entry]) -> String {
    let job = input.sound.job();
    let draft = input.site.draft();
    let mark = if draft { "DRAFT, not for site. " } else { "" };
    let stamp = utc(input, job.span.from);
    let mut out = String::new();
    line(&mut out, "BEGIN", "VCALENDAR");
    line(&mut out, "VERSION", "2.0");
    line(&mut out, "PRODID", "-//wayover//papers of a changeover//EN");
    line(&mut out, "CALSCALE", "GREGORIAN");
    line(&mut out, "METHOD", "PUBLISH");
    line(&mut out, "X-WR-CALNAME", &escaped(&format!("{mark}{title}")));
    for entry in entries {
        line(&mut out, "BEGIN", "VEVENT");
        line(&mut out, "UID", &uid(&job.name, &entry.key));
        line(&mut out, "DTSTAMP", &stamp);
        line(&mut out, "SEQUENCE", &input.site.paper.revisions.len().to_string());
        line(&mut out, "STATUS", if draft { "TENTATIVE" } else { "CONFIRMED" });
        line(&mut out, "TRANSP", "TRANSPARENT");
        line(&mut out, "DTSTART", &utc(input, entry.period.from));
        line(&mut out, "DTEND", &utc(input, entry.period.to));
        line(&mut out, "SUMMARY", &escaped(&format!("{mark}{}", entry.summary)));
        if !entry.place.is_empty() {
            line(&mut out, "LOCATION", &escaped(&entry.place));
        }
        if !entry.description.is_empty() {
            line(&mut out, "DESCRIPTION", &escaped(&entry.description));
        }
        line(&mut out, "END", "VEVENT");
    }
    line(&mut out, "END", "VCALENDAR");
    out
}

fn utc(input: &Input, t: Minutes) -> String {
    input.site.clock.at(t).timestamp().strftime("%Y%m%dT%H%M%SZ").to_string()
}

/// FNV-1a (64 bits) of the job's name and the entry's key: the same in every issue.
fn uid(job: &str, key: &str) -> String {
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    for byte in job.bytes().chain([0]).chain(key.bytes()) {
        hash = (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    }
    format!("{hash:016x}@wayover.invalid")
}

/// A content line, folded: no line is longer than 75 octets, and no character is cut.
fn line(out: &mut String, name: &str, value: &str) {
    let mut octets = 0;
    for c in format!("{name}:{value}").chars() {
        if octets + c.len_utf8() > 75 {
            out.push_str("\r\n ");
            octets = 1;
        }
        out.push(c);
        octets += c.len_utf8();
    }
    out.push_str("\r\n");
}

fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}
