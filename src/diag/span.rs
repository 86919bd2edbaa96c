//! Places in the job's files.

/// A stretch of one file's text, by byte.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    /// Which file, in the order in which they were read.
    pub file: u16,
    /// First byte.
    pub start: u32,
    /// First byte after it.
    pub end: u32,
}

/// The text of one row with the stretch that matters, so that it can be drawn without the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Excerpt {
    /// The file's name as the user knows it.
    pub file: String,
    /// Its place in the reading order.
    pub file_no: u16,
    /// Row, from 1.
    pub row: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// How many characters are marked, at least 1.
    pub width: usize,
    /// The whole row, control characters made visible.
    pub text: String,
    /// The name of the column, in a circuit schedule.
    pub cell: Option<String>,
}

/// The texts of the files read, by file number.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<File>,
}

#[derive(Clone, Debug)]
struct File {
    name: String,
    text: String,
    rows: Vec<usize>,
    cells: Vec<(Span, String)>,
}

impl Sources {
    /// Keeps a text, and returns its file number.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> u16 {
        let text = text.into();
        let rows = std::iter::once(0).chain(text.match_indices('\n').map(|(i, _)| i + 1)).collect();
        self.files.push(File { name: name.into(), text, rows, cells: Vec::new() });
        u16::try_from(self.files.len() - 1).unwrap_or(u16::MAX)
    }

    /// Remembers the column name of a cell.
    pub fn name_cell(&mut self, span: Span, column: &str) {
        if let Some(file) = self.files.get_mut(usize::from(span.file)) {
            file.cells.push((span, column.to_string()));
        }
    }

    /// The text of a file.
    pub fn text(&self, file: u16) -> &str {
        self.files.get(usize::from(file)).map_or("", |f| &f.text)
    }

    /// The row of a span with the span marked. A span over several rows is marked in its first.
    pub fn excerpt(&self, span: Span) -> Option<Excerpt> {
        let file = self.files.get(usize::from(span.file))?;
        let start = floor(&file.text, span.start as usize);
        let end = floor(&file.text, span.end as usize).max(start);
        let row = file.rows.partition_point(|r| *r <= start).saturating_sub(1);
        let from = file.rows[row];
        let to = file.rows.get(row + 1).map_or(file.text.len(), |next| next - 1);
        let text = file.text[from..to.max(from)].trim_end_matches('\r');
        let before = &file.text[from..start.min(from + text.len())];
        let marked = &file.text[start.min(from + text.len())
            ..end.min(from + text.len()).max(start.min(from + text.len()))];
        let cell = file
            .cells
            .iter()
            .find(|(s, _)| s.start == span.start && s.end == span.end)
            .map(|(_, name)| name.clone());
        Some(Excerpt {
            file: file.name.clone(),
            file_no: span.file,
            row: row + 1,
            column: before.chars().count() + 1,
            width: marked.chars().count().max(1),
            text: text
                .chars()
                .map(|c| if c.is_control() { if c == '\t' { ' ' } else { '\u{fffd}' } } else { c })
                .collect(),
            cell,
        })
    }
}

fn floor(text: &str, mut at: usize) -> usize {
    at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}
