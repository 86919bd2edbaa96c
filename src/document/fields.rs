//! Which fields a template asks for, and which of those are not there.
//!
//! A template is read tag by tag, with the names that `for` and `set` bind; what a field holds is
//! looked up in the very view that will be printed. A field below a list that is empty in this
//! job cannot be looked up and is let pass. Fields are written as paths: `view.rows[].time`.

use std::collections::{BTreeMap, BTreeSet};
use tera::Value;

/// What was found in a template.
#[derive(Default)]
pub struct Found {
    /// Every field asked for.
    pub uses: BTreeSet<String>,
    /// Fields that the view does not have: row, path, and the names that there are instead.
    pub unknown: Vec<(usize, String, Vec<String>)>,
    /// Templates included.
    pub includes: Vec<String>,
    /// Fields that the template says it leaves out, in a comment `{# leaves out: a, b #}`.
    pub left_out: Vec<String>,
}

/// A name and what it stands for: its path, and the values that it takes in this job.
type Bound = (String, Option<(String, Vec<Value>)>);

/// Reads a template against its context.
pub fn read(text: &str, context: &BTreeMap<String, Value>) -> Found {
    let mut found = Found::default();
    let mut scope: Vec<Bound> = context
        .iter()
        .map(|(name, value)| (name.clone(), Some((name.clone(), vec![value.clone()]))))
        .collect();
    let mut loops: Vec<usize> = Vec::new();
    let mut at = 0;
    while let Some(start) = text[at..].find('{').map(|i| at + i) {
        let (close, kind) = match text[start..].get(..2) {
            Some("{{") => ("}}", '{'),
            Some("{%") => ("%}", '%'),
            Some("{#") => ("#}", '#'),
            _ => {
                at = start + 1;
                continue;
            }
        };
        let Some(end) = text[start..].find(close).map(|i| start + i) else { break };
        let row = text[..start].matches('\n').count() + 1;
        let inside = text[start + 2..end].trim_matches('-').trim();
        at = end + 2;
        match kind {
            '#' => {
                if let Some(list) = inside.strip_prefix("leaves out:") {
                    found.left_out.extend(list.split(',').map(|s| s.trim().to_owned()));
                }
            }
            '%' => tag(inside, row, &mut scope, &mut loops, &mut found),
            _ => {
                paths(inside, row, &scope, &mut found);
            }
        }
    }
    found
}

fn tag(
    inside: &str,
    row: usize,
    scope: &mut Vec<Bound>,
    loops: &mut Vec<usize>,
    found: &mut Found,
) {
    let (word, rest) = inside.split_once(char::is_whitespace).unwrap_or((inside, ""));
    match word {
        "for" => {
            let (names, over) = rest.split_once(" in ").unwrap_or((rest, ""));
            let first = paths(over, row, scope, found).into_iter().next();
            loops.push(scope.len());
            let names: Vec<&str> = names.split(',').map(str::trim).collect();
            for name in &names {
                let bound = first.clone().filter(|_| names.len() == 1).map(|(path, values)| {
                    let each = values.iter().filter_map(Value::as_array).flatten().cloned();
                    (format!("{path}[]"), each.collect())
                });
                scope.push(((*name).to_owned(), bound));
            }
        }
        "endfor" => {
            if let Some(depth) = loops.pop() {
                scope.truncate(depth);
            }
        }
        "set" | "set_global" => {
            let (name, value) = rest.split_once('=').unwrap_or((rest, ""));
            let all = paths(value, row, scope, found);
            let plain = all.len() == 1 && !value.contains(['|', '(', '+', '~']);
            let bound = if plain { all.into_iter().next() } else { None };
            scope.push((name.trim().to_owned(), bound));
        }
        "include" => found.includes.extend(quoted(rest)),
        "if" | "elif" | "filter" => {
            paths(rest, row, scope, found);
        }
        _ => {}
    }
}

fn quoted(text: &str) -> Option<String> {
    let quote = text.find(['"', '\'', '`'])?;
    let rest = &text[quote + 1..];
    let end = rest.find(['"', '\'', '`'])?;
    Some(rest[..end].to_owned())
}

/// The bound paths of an expression, in order, each noted and looked up.
fn paths(text: &str, row: usize, scope: &[Bound], found: &mut Found) -> Vec<(String, Vec<Value>)> {
    let mut out = Vec::new();
    let mut rest = text;
    let mut before = ' ';
    while let Some(c) = rest.chars().next() {
        if matches!(c, '"' | '\'' | '`') {
            let skip = rest[1..].find(c).map_or(rest.len(), |i| i + 2);
            rest = &rest[skip..];
            before = c;
            continue;
        }
        let starts = (c.is_alphabetic() || c == '_')
            && !(before.is_alphanumeric() || "_.|".contains(before));
        if !starts {
            if !c.is_whitespace() {
                before = c;
            } else if before.is_alphanumeric() {
                before = ' ';
            }
            rest = &rest[c.len_utf8()..];
            continue;
        }
        let len = rest.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(rest.len());
        let (name, after) = rest.split_at(len);
        let bound = scope.iter().rev().find(|(n, _)| n == name).and_then(|(_, b)| b.clone());
        rest = after;
        before = 'a';
        if let Some(bound) = bound {
            let (path, used) = follow(bound, after, row, found);
            rest = &after[used..];
            out.push(path);
        }
    }
    out
}

/// Follows `.key` and `[n]` as far as they go; says how much of the text that was.
fn follow(
    (mut path, mut values): (String, Vec<Value>),
    text: &str,
    row: usize,
    found: &mut Found,
) -> ((String, Vec<Value>), usize) {
    let mut used = 0;
    loop {
        let rest = &text[used..];
        let key = |s: &str| s.find(|c: char| !c.is_alphanumeric() && c != '_').unwrap_or(s.len());
        if let Some(after) = rest.strip_prefix('.').filter(|a| key(a) > 0) {
            let name = &after[..key(after)];
            used += 1 + name.len();
            let maps: Vec<_> = values.iter().filter_map(Value::as_map).collect();
            let keys: BTreeSet<String> =
                maps.iter().flat_map(|m| m.keys().map(ToString::to_string)).collect();
            let next: Vec<Value> =
                values.iter().filter_map(|v| v.get_from_path(name)).cloned().collect();
            path = format!("{path}.{name}");
            if !maps.is_empty() && !keys.contains(name) {
                found.unknown.push((row, path.clone(), keys.into_iter().collect()));
            }
            values = next;
        } else if let Some((index, after)) = rest.strip_prefix('[').and_then(|r| r.split_once(']'))
        {
            used = text.len() - after.len();
            path = format!("{path}[{index}]");
            let n: Option<usize> = index.trim().parse().ok();
            values = values.iter().filter_map(|v| v.as_array()?.get(n?)).cloned().collect();
        } else {
            break;
        }
    }
    found.uses.insert(path.clone());
    ((path, values), used)
}
