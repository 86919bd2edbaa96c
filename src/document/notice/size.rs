//! How large a notice may be set so that it stays one page: read from a wall, it is as large as fits.
//!
//! Heights are reckoned from numbers of letters, a little too high rather than too low; the
//! template's measures (padding, columns, relative sizes) are repeated here. What is longer than a
//! page at the smallest size goes on to a second page.

use super::{AreaPage, Time};

/// Sizes in tenths of a point, largest first.
const SIZES: [u32; 9] = [115, 110, 105, 100, 95, 90, 85, 80, 75];

/// Below this, in tenths of a point, days stand side by side if that allows larger letters.
const SMALL: u32 = 95;

/// What follows the caution in its frame.
const ALONE: &str = " Leave open cupboards, leads on the floor and padlocks with tags alone.";

/// From here down, in tenths of a point, a time that stands side by side with others may be broken.
const LEAST_ACROSS: u32 = 80;

/// What a page may come to, in mm: 264 between its margins, and the reckoning is 10 to 20 too high.
const PAGE: f64 = 262.0;
const WIDTH: f64 = 182.0;

/// The column of names where days stand side by side.
const NAMES: f64 = 38.0;

/// Letters of one size: what they take, in mm.
struct Type(f64);

impl Type {
    /// A row, in letters that are `times` as large.
    fn row(&self, times: f64) -> f64 {
        self.0 * times * 0.353 * 1.27
    }

    /// How many rows a text takes in this width.
    fn rows(&self, text: &str, times: f64, width: f64) -> f64 {
        let wide = text.chars().count() as f64 * self.0 * times * 0.353 * 0.46;
        (wide / width).ceil().max(1.0)
    }

    fn text(&self, text: &str, times: f64, width: f64) -> f64 {
        self.rows(text, times, width) * self.row(times)
    }
}

/// The size of a page in points, and whether its days stand side by side.
pub fn size(page: &AreaPage, safety: &str) -> (String, bool) {
    let largest = |across: bool| {
        let fits = |s: &&u32| {
            let t = Type(f64::from(**s) / 10.0);
            (!across || **s <= LEAST_ACROSS || whole_times(page, &t))
                && height(page, safety, t, across) <= PAGE
        };
        SIZES.iter().find(fits).copied()
    };
    let side_by_side = page.across.is_some();
    let (size, across) = match (largest(false), side_by_side.then(|| largest(true)).flatten()) {
        (Some(down), Some(beside)) if down < SMALL && beside > down => (beside, true),
        (Some(down), _) => (down, false),
        (None, Some(beside)) => (beside, true),
        (None, None) => (SIZES[SIZES.len() - 1], side_by_side),
    };
    (format!("{}.{}", size / 10, size % 10), across)
}

fn height(page: &AreaPage, safety: &str, t: Type, across: bool) -> f64 {
    let band = 4.0 + t.row(1.0) + t.rows(&page.area, 2.4, WIDTH - 8.0) * t.row(2.0);
    let spans = 3.0 + page.spans.len() as f64 * t.row(1.18);
    let table = t.row(0.9) + 3.0 + if across { beside(page, &t) } else { down(page, &t) };
    let stays = if page.stays.is_empty() { 0.0 } else { 3.0 + t.text(&page.stays, 1.0, WIDTH) };
    let warning = 6.5 + t.rows(&format!("{safety}{ALONE}"), 1.14, WIDTH - 8.0) * t.row(1.06);
    let headings = 2.0 * (t.row(1.1) + 2.5);
    let advice = |what: &str, text: &str| {
        1.2 + t.text(text, 1.0, WIDTH - 52.0).max(t.text(what, 1.1, 37.0)).max(t.row(1.15))
    };
    let before: f64 = page.before.iter().map(|b| advice(&b.what, &b.text)).sum();
    let other = advice("Anything not named here", &"x".repeat(110));
    let ask: f64 = page.ask.iter().map(|a| 1.8 + t.text(&a.role, 1.0, 100.0)).sum();
    let foot = 2.0 + 2.6 * t.row(1.0);
    band + spans
        + t.row(1.0)
        + 3.0
        + table
        + stays
        + warning
        + headings
        + before
        + other
        + t.row(0.9)
        + 3.0
        + ask
        + foot
}

/// A row for each load and time.
fn down(page: &AreaPage, t: &Type) -> f64 {
    let row = |times: &[Time], what: &str| {
        let own = times.len() as f64 * (t.row(1.0) + 2.0);
        own.max(t.text(what, 1.1, WIDTH - 95.0) + 2.0)
    };
    page.off.iter().map(|o| row(&o.times, &o.what)).sum()
}

/// Whether each time of days side by side stands in one row.
fn whole_times(page: &AreaPage, t: &Type) -> bool {
    let Some(across) = &page.across else { return true };
    let column = column(across.days.len());
    let times = across.rows.iter().flat_map(|r| r.times.iter().flatten());
    let mut times = times.map(|s| format!("{} to {}", s.from, s.to));
    times.all(|text| t.rows(&text, 0.98, column) <= 1.0)
}

fn column(days: usize) -> f64 {
    (WIDTH - NAMES) / days.max(1) as f64 - 2.2
}

/// A row for each load, a column for each stretch.
fn beside(page: &AreaPage, t: &Type) -> f64 {
    let Some(across) = &page.across else { return 0.0 };
    let column = column(across.days.len());
    let cell = |times: &Vec<Time>| {
        let rows = |s: &Time| t.rows(&format!("{} to {}", s.from, s.to), 0.92, column) + 1.0;
        times.iter().map(rows).sum::<f64>().max(1.0)
    };
    let row = |what: &str, times: &[Vec<Time>]| {
        let cells = times.iter().map(cell).fold(1.0, f64::max);
        // A long list of names stands above its times.
        match what.chars().count() > super::LONG_NAMES {
            true => t.text(what, 0.92, WIDTH) + cells * t.row(0.92) + 2.4,
            false => cells.max(t.rows(what, 1.04, NAMES - 2.2)) * t.row(0.92) + 1.2,
        }
    };
    across.rows.iter().map(|r| row(&r.what, &r.times)).sum()
}
