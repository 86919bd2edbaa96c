//! Draws diagnostics: one after another, 80 columns, no colour.

use super::{Diagnostic, Excerpt};
use std::fmt::Write;

const COLUMNS: usize = 80;

/// All diagnostics as text for a terminal, in the order given, a blank line between them.
pub fn render(faults: &[Diagnostic]) -> String {
    let mut out = String::new();
    for (i, fault) in faults.iter().enumerate() {
        if i > 0 {
            out.push('\n');
        }
        one(&mut out, fault);
    }
    out
}

fn one(out: &mut String, fault: &Diagnostic) {
    // Writing to a String cannot fail.
    let head = format!("error[{}]: {}", fault.code(), fault.message());
    out.push_str(&wrap(&head, "  "));
    let gutter = [fault.at.as_ref(), fault.also.as_ref().map(|(e, _)| e)]
        .into_iter()
        .flatten()
        .map(|e| e.row.to_string().len())
        .max()
        .unwrap_or(1);
    if let Some(at) = &fault.at {
        let cell = at.cell.as_ref().map_or(String::new(), |c| format!(", column `{c}`"));
        let _ = writeln!(out, "  --> {}:{}:{}{cell}", at.file, at.row, at.column);
        marked(out, at, gutter, '^', fault.label());
    }
    if let Some((also, label)) = &fault.also {
        if fault.at.as_ref().is_some_and(|at| at.file != also.file) {
            let _ = writeln!(out, "  and {}:{}:{}", also.file, also.row, also.column);
        }
        marked(out, also, gutter, '-', label);
    }
    if let Some(hint) = &fault.hint {
        out.push('\n');
        out.push_str(&wrap(&format!("hint: {hint}"), "      "));
    }
}

fn marked(out: &mut String, e: &Excerpt, gutter: usize, mark: char, label: &str) {
    let room = COLUMNS - gutter - 4;
    let chars: Vec<char> = e.text.chars().collect();
    let at = (e.column - 1).min(chars.len());
    // A long row is shown from a little before the mark.
    let from = if chars.len() <= room || at + e.width.min(20) + 8 <= room {
        0
    } else {
        at.saturating_sub(16)
    };
    let cut_left = if from > 0 { "…" } else { "" };
    let shown: String = chars[from..].iter().take(room - cut_left.len().min(1) - 1).collect();
    let cut_right = if from + shown.chars().count() < chars.len() { "…" } else { "" };
    let _ = writeln!(out, " {:>gutter$} | {cut_left}{shown}{cut_right}", e.row);
    let indent = at - from + usize::from(from > 0);
    let width = e.width.min(room.saturating_sub(indent)).max(1);
    let marks: String = std::iter::repeat_n(mark, width).collect();
    let beside = gutter + 4 + indent + width + 1 + label.chars().count() <= COLUMNS;
    if beside || label.is_empty() {
        let line = format!(" {:gutter$} | {:indent$}{marks} {label}", "", "");
        let _ = writeln!(out, "{}", line.trim_end());
    } else {
        let _ = writeln!(out, " {:gutter$} | {:indent$}{marks}", "", "");
        let _ = writeln!(out, " {:gutter$} | {label}", "");
    }
}

/// Wraps at spaces to 80 columns; further rows are indented by `hang`. Ends with a newline.
fn wrap(text: &str, hang: &str) -> String {
    let mut out = String::new();
    let mut width = 0;
    for word in text.split(' ') {
        let long = word.chars().count();
        if width > 0 && width + 1 + long > COLUMNS {
            out.push('\n');
            out.push_str(hang);
            width = hang.len();
        } else if width > 0 {
            out.push(' ');
            width += 1;
        }
        out.push_str(word);
        width += long;
    }
    out.push('\n');
    out
}
