//! The circuit chart and the test record as spreadsheets: numbers as numbers, times as times.
//!
//! Each sheet has one header row, frozen and repeated on every printed page. What a job says is
//! only ever written as text, so that a text that begins like a formula is none.

mod chart;
mod tests;

use super::Input;
use super::steps::Step;
use crate::model::Id;
use crate::units::{Exact, Minutes, plain};
use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet,
};
use serde::Serialize;

/// A workbook, ready to be written.
#[derive(Serialize)]
pub struct Book {
    /// Name of its file.
    pub file: String,
    /// What it is for.
    pub purpose: String,
    /// The file's bytes.
    #[serde(skip)]
    pub content: Vec<u8>,
}

/// What is in a cell.
enum Cell {
    Blank,
    Text(String),
    Number(f64),
    At(Minutes),
}

impl Cell {
    fn text(text: impl Into<String>) -> Cell {
        Some(text.into()).filter(|t| !t.is_empty()).map_or(Cell::Blank, Cell::Text)
    }

    fn exact(value: Option<&Exact>) -> Cell {
        value.map_or(Cell::Blank, |v| Cell::figure(&plain(v)))
    }

    fn at(t: Option<Minutes>) -> Cell {
        t.map_or(Cell::Blank, Cell::At)
    }

    /// A number where the text is one, else the text.
    fn figure(text: &str) -> Cell {
        let digits = |c: char| c.is_ascii_digit() || c == '.';
        match text.parse() {
            Ok(number) if text.chars().all(digits) => Cell::Number(number),
            _ => Cell::text(text),
        }
    }
}

/// A sheet: its name, its columns with their widths, its rows.
struct Sheet {
    name: String,
    columns: Vec<(&'static str, f64)>,
    rows: Vec<Vec<Cell>>,
}

/// Both workbooks of a plan.
///
/// # Errors
///
/// If a text is longer than a cell may be, or a time lies outside the calendar of spreadsheets.
pub fn books(input: &Input, steps: &[Step]) -> anyhow::Result<Vec<Book>> {
    let book = |file: &str, title: &str, purpose: &str, sheets| -> anyhow::Result<Book> {
        let content = written(input, title, sheets)?;
        Ok(Book { file: file.to_owned(), purpose: purpose.to_owned(), content })
    };
    Ok(vec![
        book(
            "circuit-chart.xlsx",
            "Circuit chart",
            "The circuit chart as a spreadsheet: sort and filter it",
            chart::sheets(input, steps),
        )?,
        book(
            "test-sheets.xlsx",
            "Test record",
            "The test record as a spreadsheet, limits filled in",
            tests::sheets(input),
        )?,
    ])
}

struct Dress {
    header: Format,
    text: Format,
    formula_like: Format,
    time: Format,
}

impl Dress {
    fn new() -> Dress {
        let cell = || {
            let edge = Format::new().set_border(FormatBorder::Thin);
            edge.set_align(FormatAlign::Top).set_text_wrap()
        };
        Dress {
            header: cell().set_bold().set_background_color(Color::RGB(0x00E8_E8E8)),
            text: cell(),
            formula_like: cell().set_quote_prefix(),
            time: cell().set_num_format("ddd d mmm yyyy hh:mm"),
        }
    }
}

fn written(input: &Input, title: &str, sheets: Vec<Sheet>) -> anyhow::Result<Vec<u8>> {
    let mut book = Workbook::new();
    // The same plan gives the same bytes.
    let made = ExcelDateTime::from_ymd(2000, 1, 1)?;
    let properties = DocProperties::new().set_title(title).set_creation_datetime(&made);
    book.set_properties(&properties);
    let dress = Dress::new();
    let mut names: Vec<String> = Vec::new();
    for sheet in sheets {
        let name = unique(&sheet.name, &names);
        names.push(name.to_lowercase());
        let page = book.add_worksheet();
        page.set_name(name)?;
        fill(input, page, &sheet, &dress)?;
        page.set_header(head(input, title))
            .set_footer("&Lprove dead at the point of work&R&P / &N");
    }
    Ok(book.save_to_buffer()?)
}

/// A name that a sheet may have, and that no other has.
fn unique(name: &str, taken: &[String]) -> String {
    let plain: String =
        name.chars().map(|c| if "[]:*?/\\'".contains(c) { '-' } else { c }).take(26).collect();
    let plain = if plain.trim().is_empty() { "board".to_owned() } else { plain };
    let numbered = (2..).map(|n| format!("{plain} {n}"));
    let mut all = std::iter::once(plain.clone()).chain(numbered);
    all.find(|n| !taken.contains(&n.to_lowercase())).unwrap_or(plain)
}

/// What stands above each printed page; at most 255 characters fit there.
fn head(input: &Input, title: &str) -> String {
    let job: String = input.sound.job().name.chars().take(90).collect();
    let revision = input.site.paper.revisions.last().map(|r| r.mark.as_str());
    let revision: String = revision.unwrap_or("first issue").chars().take(20).collect();
    let draft = if input.site.draft() { "DRAFT, NOT FOR SITE | " } else { "" };
    let said = format!(
        "{draft}{} | {title} | revision {} | plan {}",
        job.replace('&', "&&"),
        revision.replace('&', "&&"),
        input.fingerprint
    );
    // A number right behind a code for letters would be taken as their size.
    format!("&L {}", said.chars().take(250).collect::<String>())
}

fn fill(input: &Input, page: &mut Worksheet, sheet: &Sheet, dress: &Dress) -> anyhow::Result<()> {
    for (col, (title, width)) in (0..).zip(&sheet.columns) {
        page.write_string_with_format(0, col, *title, &dress.header)?;
        page.set_column_width(col, *width)?;
    }
    for (row, cells) in (1..).zip(&sheet.rows) {
        for (col, cell) in (0..).zip(cells) {
            match cell {
                Cell::Blank => page.write_blank(row, col, &dress.text)?,
                Cell::Number(number) => {
                    page.write_number_with_format(row, col, *number, &dress.text)?
                }
                Cell::Text(text) => {
                    let risky = text.starts_with(['=', '+', '-', '@', '\t', '\r']);
                    let format = if risky { &dress.formula_like } else { &dress.text };
                    page.write_string_with_format(row, col, text, format)?
                }
                Cell::At(t) => {
                    let at = input.site.clock.at(*t);
                    let part = |n: i8| u8::try_from(n);
                    let day = ExcelDateTime::from_ymd(
                        u16::try_from(at.year())?,
                        part(at.month())?,
                        part(at.day())?,
                    )?;
                    let when = day.and_hms(u16::try_from(at.hour())?, part(at.minute())?, 0)?;
                    page.write_datetime_with_format(row, col, when, &dress.time)?
                }
            };
        }
    }
    page.set_freeze_panes(1, 0)?;
    page.set_repeat_rows(0, 0)?;
    page.set_landscape().set_paper_size(9).set_print_fit_to_pages(1, 0);
    Ok(())
}

/// The board and the way of a reference, and its lines.
fn way(input: &Input, way: Option<&crate::model::site::WayLabel>) -> [Cell; 3] {
    match way {
        Some(w) => [
            Cell::text(super::name::board(input, w.board)),
            Cell::figure(&w.way.to_string()),
            Cell::text(w.lines.clone()),
        ],
        None => [Cell::Blank, Cell::Blank, Cell::Blank],
    }
}

/// What is printed about a circuit.
fn label<'a>(
    input: &Input<'a>,
    c: crate::model::CircuitId,
) -> &'a crate::model::site::CircuitLabel {
    &input.site.circuits[c.index()]
}
