//! Reads the files of a job's folder: `job.toml`, the circuit schedule and the firm's durations.

use super::schema::{CircuitRow, DurationsRow, Root};
use super::value::{At, Cx, clip};
use crate::diag::{Diagnostic, Fault, Span, nearest};
use std::fs::File;
use std::io::Read;
use std::path::{Component, Path, PathBuf};
use toml::de::DeTable;

/// Largest file taken, in bytes. A job of 2,000 circuits has about half a megabyte.
const LIMIT_MB: u64 = 8;
/// Most circuits taken.
const CIRCUITS: usize = 10_000;

/// A job as written.
#[derive(Debug)]
pub struct JobFile {
    /// `job.toml`.
    pub(crate) root: Root,
    /// The rows of the schedule, then those of `[[circuit]]`.
    pub(crate) circuits: Vec<CircuitRow>,
    /// The firm's durations.
    pub(crate) firm: Option<DurationsRow>,
    /// The folder.
    pub(crate) folder: PathBuf,
    /// Texts, and the faults found so far.
    pub(crate) cx: Cx,
}

/// Reads the job in `folder`.
///
/// # Errors
/// Where a file is missing or is no text that can be read at all. Other faults wait for
/// [`super::resolve`], which tells all of them.
pub fn read(folder: &Path) -> Result<JobFile, Vec<Diagnostic>> {
    let mut cx = Cx::default();
    if folder.is_file() {
        let file = clip(&folder.display().to_string());
        let why = "it is a file; a job is the folder that it lies in".to_string();
        let fault = Fault::FileMissing { file, why };
        return Err(vec![Diagnostic { fault, at: None, also: None, hint: None }]);
    }
    for file in ["job.toml", "circuits.csv"] {
        if !stays(folder, &folder.join(file)) {
            let fault = Fault::OutsideFolder { path: file.to_owned() };
            return Err(vec![Diagnostic { fault, at: None, also: None, hint: None }]);
        }
    }
    let Some(text) = text(&folder.join("job.toml"), "job.toml", Span::default(), &mut cx) else {
        return Err(cx.faults);
    };
    cx.file = cx.sources.add("job.toml", text.clone());
    let root = match toml_table(&text, &mut cx) {
        Some(table) => Root::from_table(&table, Span { file: cx.file, start: 0, end: 0 }, &mut cx),
        None => {
            // Its faults can be told all the same, where there is a schedule of the usual name.
            let usual = folder.join("circuits.csv");
            if usual.is_file() {
                schedule(&usual, "circuits.csv", Span { file: cx.file, start: 0, end: 0 }, &mut cx);
            }
            return Err(sorted(cx.faults));
        }
    };
    let job = root.job.as_ref().map(|j| &j.value);
    let named = job.and_then(|j| j.schedule.clone());
    let mut circuits = Vec::new();
    if let Some(name) = &named {
        match inside(folder, name, &mut cx)
            .and_then(|path| schedule(&path, &name.value, name.span, &mut cx))
        {
            Some(rows) => circuits = rows,
            None => return Err(sorted(cx.faults)),
        }
    } else if folder.join("circuits.csv").exists() || root.circuit.is_none() {
        let span = root.job.as_ref().map_or(root.span, |j| j.span);
        match schedule(&folder.join("circuits.csv"), "circuits.csv", span, &mut cx) {
            Some(rows) => circuits = rows,
            None => return Err(sorted(cx.faults)),
        }
    }
    circuits.extend(root.circuit.iter().flat_map(|c| c.value.iter().cloned()));
    if circuits.len() > CIRCUITS {
        let fault = Fault::TooMany { what: "circuits", found: circuits.len(), limit: CIRCUITS };
        cx.fault(fault, root.span);
        return Err(sorted(cx.faults));
    }
    let firm = job
        .and_then(|j| j.durations_file.clone())
        .and_then(|name| durations(folder, &name, &mut cx));
    Ok(JobFile { root, circuits, firm, folder: folder.to_path_buf(), cx })
}

/// In the order of files and rows, without repeats.
pub(crate) fn sorted(mut faults: Vec<Diagnostic>) -> Vec<Diagnostic> {
    faults.sort_by_key(Diagnostic::order);
    faults
}

fn toml_table<'a>(text: &'a str, cx: &mut Cx) -> Option<DeTable<'a>> {
    let (table, errors) = DeTable::parse_recoverable(text);
    if errors.is_empty() {
        return Some(table.into_inner());
    }
    for error in errors.iter().take(20) {
        let range = error.span().unwrap_or(0..0);
        let at = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        let span = Span { file: cx.file, start: at(range.start), end: at(range.end) };
        let why = clip(&error.message().replace('\n', ", "));
        let hint = if why.contains("date") {
            "a date is written as 2027-03-29, without quotes"
        } else {
            "text stands in double quotes, and so do times"
        };
        cx.hinted(Fault::Syntax { why }, span, hint);
    }
    None
}

fn durations(folder: &Path, name: &At<String>, cx: &mut Cx) -> Option<DurationsRow> {
    let path = inside(folder, name, cx)?;
    let text = text(&path, &name.value, name.span, cx)?;
    let file = cx.sources.add(name.value.clone(), text.clone());
    let main = std::mem::replace(&mut cx.file, file);
    let row = toml_table(&text, cx)
        .map(|t| DurationsRow::from_table(&t, Span { file, start: 0, end: 0 }, cx));
    cx.file = main;
    row
}

/// The path of a file named in the job, if it lies in the folder.
pub(crate) fn inside(folder: &Path, name: &At<String>, cx: &mut Cx) -> Option<PathBuf> {
    let written = Path::new(&name.value);
    let plain = written.components().all(|c| matches!(c, Component::Normal(_)))
        && !name.value.contains(['\\', ':']);
    let path = folder.join(written);
    if plain && stays(folder, &path) {
        return Some(path);
    }
    cx.hinted(
        Fault::OutsideFolder { path: clip(&name.value) },
        name.span,
        "copy the file into the folder of the job and write its bare name",
    );
    None
}

/// Whether a path of the folder, if anything is there, leads nowhere else: a link may.
fn stays(folder: &Path, path: &Path) -> bool {
    match (path.canonicalize(), folder.canonicalize()) {
        (Ok(real), Ok(home)) => real.starts_with(home),
        _ => true,
    }
}

/// The text of a file, its byte order mark taken off.
fn text(path: &Path, name: &str, span: Span, cx: &mut Cx) -> Option<String> {
    let file = name.to_string();
    let placed = |fault: Fault, cx: &mut Cx| {
        if cx.sources.text(span.file).is_empty() {
            cx.faults.push(Diagnostic { fault, at: None, also: None, hint: None });
        } else {
            cx.fault(fault, span);
        }
        None
    };
    let missing = |why: &std::io::Error| {
        let why = match why.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_string(),
            std::io::ErrorKind::PermissionDenied => "it may not be opened".to_string(),
            kind => kind.to_string(),
        };
        Fault::FileMissing { file: file.clone(), why }
    };
    if path.is_dir() {
        let why = "it is a folder".to_string();
        return placed(Fault::FileMissing { file, why }, cx);
    }
    let mut bytes = Vec::new();
    let limit = LIMIT_MB * 1024 * 1024;
    let opened = File::open(path).and_then(|f| f.take(limit + 1).read_to_end(&mut bytes));
    if let Err(why) = opened {
        return placed(missing(&why), cx);
    }
    if bytes.len() as u64 > limit {
        return placed(Fault::FileTooLarge { file, limit_mb: LIMIT_MB }, cx);
    }
    let looks_like = match &bytes[..] {
        [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => Some("UTF-16"),
        [_, 0, _, 0, ..] | [0, _, 0, _, ..] => Some("UTF-16 without a byte order mark"),
        _ => None,
    };
    if let Some(looks_like) = looks_like {
        return placed(Fault::Encoding { file, looks_like }, cx);
    }
    if bytes.contains(&0) {
        return placed(Fault::NulByte { file }, cx);
    }
    let Ok(text) = String::from_utf8(bytes) else {
        let looks_like = "Latin-1 or a Windows code page";
        return placed(Fault::Encoding { file, looks_like }, cx);
    };
    let text = text.strip_prefix('\u{feff}').unwrap_or(&text).to_string();
    if text.trim().is_empty() {
        return placed(Fault::EmptyFile { file }, cx);
    }
    Some(text)
}

/// Reads the circuit schedule; none where it is no text at all, and then whatever the job says of
/// circuits would be told as a fault that is not there.
fn schedule(path: &Path, name: &str, span: Span, cx: &mut Cx) -> Option<Vec<CircuitRow>> {
    let text = text(path, name, span, cx)?;
    let file = cx.sources.add(name, text.clone());
    let header_row = text.lines().next().unwrap_or_default();
    let semicolons = header_row.matches(';').count() > header_row.matches(',').count();
    let delimiter = if semicolons { b';' } else { b',' };
    let mut rows = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes());
    let known = CircuitRow::keys();
    let mut header: Option<Vec<Option<&'static str>>> = None;
    let mut circuits = Vec::new();
    for record in rows.records() {
        let record = match record {
            Ok(record) => record,
            Err(why) => {
                let at = why.position().map_or(0, |p| p.byte());
                let at = u32::try_from(at).unwrap_or(u32::MAX);
                cx.fault(
                    Fault::Syntax { why: clip(&why.to_string()) },
                    Span { file, start: at, end: at },
                );
                continue;
            }
        };
        let start = record.position().map_or(0, |p| usize::try_from(p.byte()).unwrap_or(0));
        let spans = cells(&text, start, delimiter, file);
        let whole = Span {
            file,
            start: spans.first().map_or(0, |s| s.start),
            end: spans.last().map_or(0, |s| s.end),
        };
        let Some(columns) = &header else {
            header = Some(columns_of(&record, &spans, &known, whole, cx));
            continue;
        };
        if record.iter().all(|cell| cell.trim().is_empty())
            || record[0].trim_start().starts_with('#')
        {
            continue;
        }
        if record.len() != columns.len() {
            let hint = "put a cell that holds a comma in double quotes";
            cx.hinted(Fault::RowLength { found: record.len(), want: columns.len() }, whole, hint);
            continue;
        }
        let mut row = CircuitRow { span: whole, ..Default::default() };
        // A column that is not there at all has been told with the header.
        let absent = known.iter().map(|k| k.name).filter(|n| !columns.contains(&Some(n)));
        let mut written: Vec<&str> = absent.collect();
        for ((cell, column), span) in record.iter().zip(columns).zip(&spans) {
            let Some(column) = column else { continue };
            cx.sources.name_cell(*span, column);
            if !cell.trim().is_empty() {
                written.push(*column);
                row.set(column, cell, *span, cx);
            }
        }
        row.missing(&written, cx);
        circuits.push(row);
    }
    Some(circuits)
}

fn columns_of(
    record: &csv::StringRecord,
    spans: &[Span],
    known: &[super::tables::Key],
    whole: Span,
    cx: &mut Cx,
) -> Vec<Option<&'static str>> {
    let mut columns: Vec<Option<&'static str>> = Vec::new();
    for (i, name) in record.iter().enumerate() {
        let name = name.trim();
        let span = spans.get(i).copied().unwrap_or(whole);
        let found =
            known.iter().map(|k| k.name).find(|k| *k == name.to_lowercase().replace(' ', "_"));
        if found.is_none() {
            let hint =
                nearest(name, known.iter().map(|k| k.name)).map(|n| format!("did you mean `{n}`?"));
            let fault =
                Fault::UnknownKey { key: clip(name), table: "circuit schedule".to_string() };
            cx.tell(fault, span, None, hint);
        } else if columns.contains(&found) {
            cx.fault(Fault::Doubled { what: "column", name: clip(name) }, span);
        }
        columns.push(found);
    }
    let meant = |key: &str| record.iter().any(|n| nearest(n.trim(), [key]).is_some());
    for key in known.iter().filter(|k| k.default == "required") {
        if !columns.contains(&Some(key.name)) && !meant(key.name) {
            let table = "circuit schedule".to_string();
            let (key, about) = (key.name.to_string(), key.about.to_string());
            cx.fault(Fault::MissingKey { key, table, about }, whole);
        }
    }
    columns
}

/// The places of the cells of the record that starts at `start`, quotes left out.
fn cells(text: &str, start: usize, delimiter: u8, file: u16) -> Vec<Span> {
    let bytes = text.as_bytes();
    let mut at = start;
    // The reader gives the place before blank rows that it skips.
    while bytes.get(at).is_some_and(|b| matches!(b, b'\n' | b'\r')) {
        at += 1;
    }
    let (mut cell, mut quoted, mut spans) = (at, false, Vec::new());
    let mut push = |from: usize, to: usize| {
        let inner = &text[from..to];
        let lead = inner.len() - inner.trim_start_matches([' ', '"']).len();
        let trail = inner.len() - inner.trim_end_matches([' ', '"']).len();
        let (a, b) = if lead < inner.len() { (from + lead, to - trail) } else { (from, to) };
        let n = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        spans.push(Span { file, start: n(a), end: n(b) });
    };
    loop {
        match bytes.get(at) {
            Some(b'"') => quoted = !quoted,
            Some(b) if *b == delimiter && !quoted => {
                push(cell, at);
                cell = at + 1;
            }
            Some(b'\n') if !quoted => {
                push(cell, at - usize::from(at > cell && bytes[at - 1] == b'\r'));
                return spans;
            }
            None => {
                push(cell, at);
                return spans;
            }
            Some(_) => {}
        }
        at += 1;
    }
}
