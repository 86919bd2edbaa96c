//! Somebody waits for the search: how far it has come, a limit of time, and Ctrl-C.

use crate::search::watch::{Brake, Progress};
use crate::units::{fixed, whole};
use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// How often Ctrl-C was pressed.
static PRESSED: AtomicUsize = AtomicUsize::new(0);

/// Somebody who waits.
pub struct Wait {
    begun: Instant,
    limit: Option<Duration>,
    line: Option<Line>,
}

/// How progress is shown.
struct Line {
    /// Over and over in one place; otherwise a line of its own each time.
    in_place: bool,
    last: Mutex<Last>,
}

#[derive(Default)]
struct Last {
    shown: Option<Instant>,
    text: String,
}

impl Wait {
    /// Nobody sees anything, nothing ends the search.
    pub fn silent() -> Wait {
        Wait { begun: Instant::now(), limit: None, line: None }
    }

    /// Ends the search after `limit` or Ctrl-C, and shows progress on a terminal, or anywhere if
    /// it is `asked` for.
    pub fn begin(limit: Option<Duration>, asked: bool) -> Wait {
        // The first press ends the search with the best plan found, the second with none, and
        // the third the program. Without a handler the first ends the program.
        let _ = ctrlc::set_handler(|| {
            if PRESSED.fetch_add(1, Ordering::Relaxed) >= 2 {
                std::process::exit(130);
            }
        });
        let in_place = std::io::stderr().is_terminal();
        let line = (in_place || asked).then(|| Line { in_place, last: Mutex::default() });
        Wait { begun: Instant::now(), limit, line }
    }

    /// Whether the search is to end.
    pub fn brake(&self) -> Brake {
        let over = self.limit.map_or(Brake::Off, |limit| {
            let passed = self.begun.elapsed();
            if passed < limit {
                Brake::Off
            } else if passed < limit * 2 {
                Brake::FirstPlan
            } else {
                Brake::Now
            }
        });
        let pressed = match PRESSED.load(Ordering::Relaxed) {
            0 => Brake::Off,
            1 => Brake::FirstPlan,
            _ => Brake::Now,
        };
        over.max(pressed)
    }

    /// What ended the search.
    pub fn why(&self) -> &'static str {
        if PRESSED.load(Ordering::Relaxed) > 0 { "by Ctrl-C" } else { "by --at-most" }
    }

    /// Whether progress is shown.
    pub fn shows(&self) -> bool {
        self.line.is_some()
    }

    /// Shows how far the search has come, now and then.
    pub fn tell(&self, progress: &Progress) {
        let Some(line) = &self.line else { return };
        let mut last = line.last.lock().unwrap_or_else(PoisonError::into_inner);
        let every = Duration::from_millis(if line.in_place { 100 } else { 1000 });
        last.text = words(progress, self.begun.elapsed());
        if last.shown.is_some_and(|at| at.elapsed() < every) {
            return;
        }
        last.shown = Some(Instant::now());
        // Nobody is helped by a failure to show progress.
        let mut out = std::io::stderr().lock();
        let _ = if line.in_place {
            write!(out, "\r{:<79}", last.text).and_then(|()| out.flush())
        } else {
            writeln!(out, "{}", last.text)
        };
    }

    /// The search is over: the line is cleared, or the last one that was not shown is.
    pub fn end(&self) {
        let Some(line) = &self.line else { return };
        let last = line.last.lock().unwrap_or_else(PoisonError::into_inner);
        let mut out = std::io::stderr().lock();
        let _ = if line.in_place {
            write!(out, "\r{:<79}\r", "").and_then(|()| out.flush())
        } else {
            writeln!(out, "{}", last.text)
        };
    }
}

fn words(p: &Progress, elapsed: Duration) -> String {
    let seconds = elapsed.as_secs();
    let time = format!("{}:{:02}", seconds / 60, seconds % 60);
    let least = fixed(&p.bound, 0);
    match &p.best {
        Some(best) => {
            let gap = (best - &p.bound) / best.clone().max(whole(1));
            let percent = fixed(&(gap * whole(100)), 1);
            let cost = fixed(best, 1);
            format!(
                "{time}  {} tried  downtime cost {cost}, best possible {least}, within {percent} %",
                p.tried
            )
        }
        None => format!("{time}  {} tried  no plan yet, best possible {least}", p.tried),
    }
}

/// A time such as `30s`, `5m`, `1h` or `500ms`.
pub fn duration(text: &str) -> Result<Duration, String> {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let millis = match &text[digits.len()..] {
        "ms" => 1,
        "s" => 1_000,
        "m" | "min" => 60_000,
        "h" => 3_600_000,
        _ => return Err("a number and a unit, such as 30s, 5m or 1h".to_owned()),
    };
    let number: u32 =
        digits.parse().map_err(|_| "a whole number before its unit, such as 30s".to_owned())?;
    Ok(Duration::from_millis(u64::from(number) * millis))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_with_their_unit() {
        for (text, millis) in [("30s", 30_000), ("5m", 300_000), ("1h", 3_600_000), ("7ms", 7)] {
            assert_eq!(duration(text), Ok(Duration::from_millis(millis)), "{text}");
        }
        for text in ["30", "s", "-1s", "1.5h", "5 m", "1d", "", "é", "99999999999s"] {
            assert!(duration(text).is_err(), "{text}");
        }
    }
}
