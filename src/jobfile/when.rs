//! Dates, times and rules for times as people write them, and the instants that they name.
//!
//! `2027-03-29 22:00` is a moment, with ` +01:00` where the hour comes twice. A rule is
//! `DAYS HH:MM-HH:MM`, where DAYS is `daily`, weekdays such as `mon-fri` or `sat,sun`, a date,
//! or two dates with `..` between; an end that is not after its start is on the next day, and
//! `24:00` is the next midnight. A rule belongs to the day on which it starts.

use super::value::{At, Cx, Value, clip};
use crate::diag::{Fault, Span};
use crate::units::{Minutes, Period};
use jiff::civil::{Date, Weekday};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone, TimeZoneDatabase};
use toml::Spanned;
use toml::de::DeValue;

/// A time of day, 24:00 included, with its offset where that was written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tod {
    /// Minutes after midnight, up to 1440.
    pub minutes: i64,
    /// Offset from UTC.
    pub offset: Option<Offset>,
}

/// A date and a time of day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// The date.
    pub date: Date,
    /// The time of day.
    pub tod: Tod,
}

/// A date.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Day(pub Date);

/// On which days a rule holds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Days {
    /// On these weekdays, Monday first.
    Week([bool; 7]),
    /// From one date to another, both included.
    Dates(Date, Date),
}

/// A rule for times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Hours {
    /// All the time.
    Always,
    /// At no time.
    Never,
    /// On some days from one time of day to another.
    On(Days, Tod, Tod),
}

const MOMENT: &str = "a date and time such as `2027-03-29 22:00`";
const DAY: &str = "a date such as `2027-03-29`";
const RULE: &str = "a rule for times such as `mon-fri 07:00-21:30` or `2027-03-29 22:00-06:00`";

fn date(text: &str) -> Option<Date> {
    let well = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
    let date: Date = text.parse().ok().filter(|_| well)?;
    (2000..=2199).contains(&date.year()).then_some(date)
}

fn offset(text: &str) -> Option<Offset> {
    if text == "Z" {
        return Some(Offset::UTC);
    }
    let sign = match text.get(..1)? {
        "+" => 1,
        "-" => -1,
        _ => return None,
    };
    let (h, m) = text.get(1..)?.split_once(':')?;
    let (h, m) = (two(h)?, two(m)?);
    (h <= 15 && m < 60).then(|| Offset::from_seconds(sign * (h * 60 + m) * 60).ok())?
}

fn two(text: &str) -> Option<i32> {
    (text.len() == 2 && text.bytes().all(|b| b.is_ascii_digit())).then(|| text.parse().ok())?
}

fn tod(text: &str) -> Option<Tod> {
    let (time, rest) = text.split_at_checked(5)?;
    let (h, m) = time.split_once(':')?;
    let minutes = i64::from(two(h)? * 60 + two(m)?);
    if minutes > 1440 || two(m)? >= 60 {
        return None;
    }
    let rest = rest.trim();
    let offset = if rest.is_empty() { None } else { Some(offset(rest)?) };
    Some(Tod { minutes, offset })
}

fn moment(text: &str) -> Option<Moment> {
    let (day, time) = text.trim().split_once([' ', 'T'])?;
    let time = time.trim();
    // `22:00:00` and `22:00:00+01:00`, as TOML writes times.
    let short = match time.get(5..8) {
        Some(":00") => format!("{}{}", time.get(..5)?, time.get(8..)?),
        _ => time.to_string(),
    };
    Some(Moment { date: date(day)?, tod: tod(&short)? })
}

fn weekday(text: &str) -> Option<usize> {
    ["mon", "tue", "wed", "thu", "fri", "sat", "sun"].iter().position(|d| *d == text)
}

fn days(text: &str) -> Option<Days> {
    if text == "daily" {
        return Some(Days::Week([true; 7]));
    }
    if let Some((a, b)) = text.split_once("..") {
        return Some(Days::Dates(date(a)?, date(b)?)).filter(|_| date(a) <= date(b));
    }
    if let Some(day) = date(text) {
        return Some(Days::Dates(day, day));
    }
    let mut week = [false; 7];
    for part in text.split(',') {
        let (a, b) = part.split_once('-').unwrap_or((part, part));
        let (mut day, last) = (weekday(a)?, weekday(b)?);
        week[day] = true;
        while day != last {
            day = (day + 1) % 7;
            week[day] = true;
        }
    }
    Some(Days::Week(week))
}

/// Splits `22:00-06:00`, `01:30+01:00-05:00` and the like at the dash between two times.
fn range(text: &str) -> Option<(Tod, Tod)> {
    text.match_indices('-').find_map(|(i, _)| {
        let (a, b) = (text[..i].trim(), text[i + 1..].trim());
        Some((tod(a)?, tod(b)?))
    })
}

fn hours(text: &str) -> Option<Hours> {
    let text = text.trim();
    match text {
        "always" => return Some(Hours::Always),
        "never" => return Some(Hours::Never),
        _ => {}
    }
    let (when, times) = text.split_once(char::is_whitespace)?;
    let (from, to) = range(times.trim())?;
    (from.minutes < 1440).then_some(Hours::On(days(&when.to_lowercase())?, from, to))
}

macro_rules! written {
    ($Name:ident $kind:ident $parse:expr) => {
        impl Value for $Name {
            fn kind() -> String {
                $kind.to_string()
            }
            fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<$Name> {
                let span = cx.span(v);
                match v.get_ref() {
                    DeValue::String(s) => $Name::cell(s.as_ref(), span, cx),
                    DeValue::Datetime(d) => $Name::cell(&d.to_string(), span, cx),
                    _ => {
                        let found = clip(&String::from_utf8_lossy(
                            cx.sources
                                .text(span.file)
                                .as_bytes()
                                .get(span.start as usize..span.end as usize)
                                .unwrap_or_default(),
                        ));
                        cx.fault(Fault::NotATime { found, want: $kind }, span);
                        None
                    }
                }
            }
            fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<$Name> {
                let parse: fn(&str) -> Option<$Name> = $parse;
                let value = parse(text.trim());
                if value.is_none() {
                    let found = clip(text.trim());
                    cx.fault(Fault::NotATime { found, want: $kind }, span);
                }
                value
            }
        }
    };
}

written!(Moment MOMENT moment);
written!(Day DAY |text| date(text).map(Day));
written!(Hours RULE hours);

/// The site's zone and the epoch, from which minutes count.
#[derive(Clone, Debug)]
pub struct Zone {
    /// IANA name.
    pub name: String,
    /// Its rules, from the data that comes with the program.
    pub rules: TimeZone,
    /// Minute 0, in seconds since 1970.
    pub epoch: i64,
}

impl Zone {
    /// The zone called `name`, with the start of `first` as its epoch.
    pub fn new(name: &At<String>, first: Date, cx: &mut Cx) -> Option<Zone> {
        let data = TimeZoneDatabase::bundled();
        let Ok(rules) = data.get(&name.value) else {
            let known: Vec<String> = data.available().map(|n| n.as_str().to_string()).collect();
            let hint = crate::diag::nearest(&name.value, known.iter().map(String::as_str))
                .map(|n| format!("did you mean `{n}`?"));
            cx.tell(Fault::UnknownZone { zone: clip(&name.value) }, name.span, None, hint);
            return None;
        };
        // Midnight itself may be skipped or come twice; the start of the day always exists.
        let epoch = first
            .to_zoned_datetime(rules.clone())
            .ok()?
            .start_of_day()
            .ok()?
            .timestamp()
            .as_second();
        let canonical = rules.iana_name().unwrap_or(&name.value).to_string();
        Some(Zone { name: canonical, rules, epoch })
    }

    /// The instant at a time of day. `strict`: an offset has to fit; otherwise it only chooses
    /// where the hour comes twice.
    pub fn instant(
        &self,
        day: Date,
        at: Tod,
        strict: bool,
        span: Span,
        cx: &mut Cx,
    ) -> Option<Minutes> {
        let day = if at.minutes == 1440 { day.tomorrow().ok()? } else { day };
        let minutes = at.minutes % 1440;
        let local = day.at((minutes / 60) as i8, (minutes % 60) as i8, 0, 0);
        let time = format!("{} {:02}:{:02}", day, minutes / 60, minutes % 60);
        let chosen = match self.rules.to_ambiguous_timestamp(local).offset() {
            AmbiguousOffset::Unambiguous { offset } => match at.offset {
                Some(stated) if strict && stated != offset => {
                    let has = vec![shown(offset)];
                    cx.fault(Fault::WrongOffset { found: shown(stated), time, has }, span);
                    return None;
                }
                _ => offset,
            },
            AmbiguousOffset::Gap { .. } => {
                cx.fault(Fault::TimeSkipped { time, zone: self.name.clone() }, span);
                return None;
            }
            AmbiguousOffset::Fold { before, after } => match at.offset {
                Some(stated) if stated == before || stated == after => stated,
                Some(stated) => {
                    let has = vec![shown(before), shown(after)];
                    cx.fault(Fault::WrongOffset { found: shown(stated), time, has }, span);
                    return None;
                }
                None => {
                    let offsets = [shown(before), shown(after)];
                    let zone = self.name.clone();
                    let hint = format!(
                        "write the time with its offset: `{}{}` or `{}{}`",
                        &time[11..],
                        shown(before),
                        &time[11..],
                        shown(after)
                    );
                    cx.hinted(Fault::TimeTwice { time, zone, offsets }, span, hint);
                    return None;
                }
            },
        };
        let seconds = chosen.to_timestamp(local).ok()?.as_second() - self.epoch;
        Some(Minutes(seconds.div_euclid(60)))
    }

    /// The instant of a moment.
    pub fn moment(&self, m: &At<Moment>, cx: &mut Cx) -> Option<Minutes> {
        self.instant(m.value.date, m.value.tod, true, m.span, cx)
    }

    /// The local date on which an instant falls.
    pub fn date(&self, at: Minutes) -> Date {
        let seconds = self.epoch.saturating_add(at.0.saturating_mul(60));
        let stamp = jiff::Timestamp::from_second(seconds).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        self.rules.to_datetime(stamp).date()
    }

    /// Each day's stretch of a rule with the day it starts on, clipped to `span`, in order.
    /// Days in `except` are left out.
    pub fn stretches(
        &self,
        rule: &At<Hours>,
        except: &[Date],
        span: Period,
        cx: &mut Cx,
    ) -> Vec<(Date, Period)> {
        let (days, from, to) = match rule.value {
            Hours::Never => return Vec::new(),
            Hours::Always => return vec![(self.date(span.from), span)],
            Hours::On(days, from, to) => (days, from, to),
        };
        let strict = matches!(days, Days::Dates(a, b) if a == b);
        let mut found = Vec::new();
        let mut day = self.date(span.from).yesterday().unwrap_or(Date::MIN);
        let last = self.date(span.to);
        while day <= last {
            let holds = match days {
                Days::Week(week) => {
                    week[usize::from(day.weekday().to_monday_zero_offset().unsigned_abs())]
                }
                Days::Dates(a, b) => a <= day && day <= b,
            };
            let Ok(next) = day.tomorrow() else { break };
            if holds && !except.contains(&day) {
                let end_day = if to.minutes <= from.minutes { next } else { day };
                let start = self.instant(day, from, strict, rule.span, cx);
                let end = self.instant(end_day, to, strict, rule.span, cx);
                if let (Some(start), Some(end)) = (start, end) {
                    if start >= end {
                        let what = "a stretch of time over a clock change";
                        cx.fault(Fault::EndsBeforeItStarts { what }, rule.span);
                    }
                    let clipped = Period { from: start.max(span.from), to: end.min(span.to) };
                    if clipped.from < clipped.to {
                        found.push((day, clipped));
                    }
                }
            }
            day = next;
        }
        found
    }

    /// The stretches of several rules, merged where they touch.
    pub fn periods(
        &self,
        rules: &[At<Hours>],
        except: &[Date],
        span: Period,
        cx: &mut Cx,
    ) -> Vec<Period> {
        let all = rules.iter().flat_map(|r| self.stretches(r, except, span, cx)).map(|(_, p)| p);
        Period::merged(all)
    }
}

/// `+01:00`.
pub fn shown(offset: Offset) -> String {
    let seconds = offset.seconds();
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// The three letters of a weekday.
pub fn short(day: Weekday) -> &'static str {
    ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
        [usize::from(day.to_monday_zero_offset().unsigned_abs()) % 7]
}
