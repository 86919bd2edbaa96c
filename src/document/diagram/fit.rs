//! A drawing as large as one page lets it be.
//!
//! Letters have one height in the drawing, so a drawing laid out on less width and height is
//! printed larger. Sizes are tried from the largest down; what fits no page at 6 pt is cut.

use super::super::Input;
use super::emergency::Cells;
use super::fold::Drawn;
use super::geometry::{Geometry, LEFT, PAGE};
use super::layout::{self, Layout};
use super::notes::{self, Enclosure, Words};
use super::rank;
use super::states::Moment;
use super::tiles::{LEAST, TALL};

/// Sizes on paper, in thousandths: letters of 8, 7.5, 7.25, 7, 6.75, 6.5, 6.25 and 6 pt.
const SIZES: [i64; 8] = [1284, 1203, 1163, 1123, 1083, 1043, 1003, LEAST];

/// A drawing laid out.
pub struct Plate {
    /// What is drawn.
    pub drawn: Drawn,
    /// In which columns and ranks.
    pub layout: Layout,
    /// What is written.
    pub words: Words,
    /// The enclosures of boards.
    pub enclosures: Vec<Enclosure>,
    /// Where exactly.
    pub geometry: Geometry,
    /// It fits a page, with what stands around it.
    pub fits: bool,
}

/// Lays out `drawn`; `beside` is the room on the page for what is told around it.
pub fn plate(input: &Input, drawn: Drawn, moment: &Moment, beside: i64) -> Plate {
    let ranks = rank::depths(&drawn.skeleton);
    let layout = layout::layout(&drawn.skeleton, &ranks, &notes::slots(&drawn));
    let words = notes::words(input, &drawn, &layout, moment);
    let enclosures = notes::enclosures(input.sound.job(), &drawn.skeleton, &layout, &words);
    let notes = notes::notes(&drawn.skeleton, &layout, &words, &enclosures);
    let at = |size: i64| {
        let (width, high) = (PAGE * 1000 / size, (TALL - beside) * 1000 / size);
        let target = high - Cells::new(input, moment, width - LEFT).height();
        let found = Geometry::within(&layout, &words, &notes, width, target)?;
        (found.bottom() <= target).then_some(found)
    };
    // What fits at one size fits at every smaller one.
    let (mut small, mut large) = (SIZES.len(), 0);
    let mut best = None;
    while large < small {
        let middle = (large + small) / 2;
        match at(SIZES[middle]) {
            Some(found) => (best, small) = (Some(found), middle),
            None => large = middle + 1,
        }
    }
    let fits = best.is_some();
    let wide = PAGE * 1000 / LEAST;
    let geometry = best.unwrap_or_else(|| Geometry::new(&layout, &words, &notes, wide, 0));
    Plate { drawn, layout, words, enclosures, geometry, fits }
}
