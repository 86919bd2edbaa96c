//! Values as written, each with its place, and how one is read from TOML or from a cell.
//!
//! The reader walks the parsed tree itself, so that every fault of a file is told at once and
//! every value keeps its place.

use crate::diag::{Diagnostic, Fault, Sources, Span, nearest};
use crate::units::{Exact, decimal, plain, whole};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it stands.
    pub span: Span,
}

/// What reading and resolving share: the texts, and the faults found so far.
#[derive(Debug, Default)]
pub struct Cx {
    /// The texts read.
    pub sources: Sources,
    /// The faults found.
    pub faults: Vec<Diagnostic>,
    /// The file being read.
    pub file: u16,
}

impl Cx {
    /// Adds a fault at a place.
    pub fn fault(&mut self, fault: Fault, span: Span) {
        self.tell(fault, span, None, None);
    }

    /// Adds a fault with what would mend it.
    pub fn hinted(&mut self, fault: Fault, span: Span, hint: impl Into<String>) {
        self.tell(fault, span, None, Some(hint.into()));
    }

    /// Adds a fault with a second place and a hint.
    pub fn tell(
        &mut self,
        fault: Fault,
        span: Span,
        also: Option<(Span, &str)>,
        hint: Option<String>,
    ) {
        let at = self.sources.excerpt(span);
        let also = also.and_then(|(s, label)| Some((self.sources.excerpt(s)?, label.to_string())));
        let found = Diagnostic { fault, at, also, hint };
        if !self.faults.contains(&found) {
            self.faults.push(found);
        }
    }

    /// Adds a fault about a name, with the nearest name that there is.
    pub fn unknown<'a>(
        &mut self,
        what: &'static str,
        name: &At<String>,
        known: impl IntoIterator<Item = &'a str>,
    ) {
        let hint = nearest(&name.value, known).map(|n| format!("did you mean `{n}`?"));
        self.tell(Fault::Unknown { what, name: name.value.clone() }, name.span, None, hint);
    }

    /// The place of a parsed value.
    pub fn span<T>(&self, value: &Spanned<T>) -> Span {
        let range = value.span();
        let at = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Span { file: self.file, start: at(range.start), end: at(range.end) }
    }

    fn wrong(&mut self, want: String, v: &Spanned<DeValue<'_>>) {
        let found = found(v.get_ref());
        let span = self.span(v);
        self.fault(Fault::Value { want, found }, span);
    }

    /// The value as a table, or a fault.
    pub fn table<'a, 'i>(&mut self, v: &'a Spanned<DeValue<'i>>) -> Option<&'a DeTable<'i>> {
        let table = v.get_ref().as_table();
        if table.is_none() {
            self.wrong("a table".to_string(), v);
        }
        table
    }
}

fn found(v: &DeValue<'_>) -> String {
    match v {
        DeValue::String(s) => format!("the text `{}`", clip(s)),
        DeValue::Integer(n) => format!("the number {}", clip(n.as_str())),
        DeValue::Float(n) => format!("the number {}", clip(n.as_str())),
        DeValue::Boolean(b) => format!("`{b}`"),
        DeValue::Datetime(_) => "a date or time".to_string(),
        DeValue::Array(_) => "a list".to_string(),
        DeValue::Table(_) => "a table".to_string(),
    }
}

/// At most 60 characters of a text, for a message.
pub fn clip(text: &str) -> String {
    let mut out: String =
        text.chars().take(60).map(|c| if c.is_control() { ' ' } else { c }).collect();
    if text.chars().count() > 60 {
        out.push('…');
    }
    out
}

/// Something that can be read from the job's files.
pub trait Value: Sized {
    /// What it is, with unit and range, as README and the messages say.
    fn kind() -> String;
    /// From TOML.
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<Self>;
    /// From a cell of the schedule, which is not blank.
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<Self> {
        cx.fault(Fault::Value { want: Self::kind(), found: format!("`{}`", clip(text)) }, span);
        None
    }
}

/// Reads a value and keeps its place.
pub fn at<T: Value>(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<At<T>> {
    let span = cx.span(v);
    T::read(v, cx).map(|value| At { value, span })
}

impl Value for String {
    fn kind() -> String {
        "text".to_string()
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<String> {
        match v.get_ref() {
            DeValue::String(s) => String::cell(s.as_ref(), cx.span(v), cx),
            _ => {
                cx.wrong("a text in double quotes".to_string(), v);
                None
            }
        }
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<String> {
        let trimmed = text.trim();
        if trimmed.is_empty() || trimmed.chars().count() > 2000 {
            let found = if trimmed.is_empty() { "nothing" } else { "a longer text" };
            let want = "a text of 1 to 2000 characters".to_string();
            cx.fault(Fault::Value { want, found: found.to_string() }, span);
            return None;
        }
        Some(trimmed.to_string())
    }
}

impl Value for bool {
    fn kind() -> String {
        "true or false (yes or no in a cell)".to_string()
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<bool> {
        if v.get_ref().as_bool().is_none() {
            cx.wrong("true or false".to_string(), v);
        }
        v.get_ref().as_bool()
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<bool> {
        match text.trim().to_lowercase().as_str() {
            "yes" | "y" | "true" => Some(true),
            "no" | "n" | "false" => Some(false),
            _ => {
                let want = "yes or no".to_string();
                cx.fault(Fault::Value { want, found: format!("`{}`", clip(text)) }, span);
                None
            }
        }
    }
}

impl<T: Value> Value for Vec<T> {
    fn kind() -> String {
        format!("list of {}", T::kind())
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<Vec<T>> {
        let Some(array) = v.get_ref().as_array() else {
            cx.wrong(format!("a list ({}) in square brackets", T::kind()), v);
            return None;
        };
        if array.len() > 20_000 {
            let fault = Fault::TooMany { what: "items", found: array.len(), limit: 20_000 };
            let span = cx.span(v);
            cx.fault(fault, span);
            return None;
        }
        Some(array.iter().filter_map(|item| T::read(item, cx)).collect())
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<Vec<T>> {
        Some(text.split('+').filter_map(|part| T::cell(part.trim(), span, cx)).collect())
    }
}

impl<T: Value> Value for At<T> {
    fn kind() -> String {
        T::kind()
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<At<T>> {
        at(v, cx)
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<At<T>> {
        T::cell(text, span, cx).map(|value| At { value, span })
    }
}

/// An exact decimal from `LO` to `HI` hundredths of the unit called by number `UNIT`.
#[derive(Clone, Debug, PartialEq)]
pub struct Num<const LO: i64, const HI: i64, const UNIT: usize>(pub Exact);

/// Units by number.
pub const UNITS: [&str; 9] = ["", "A", "V", "Ω", "m", "mV/A/m", "Ω/m", "mA", "h"];

fn hundredths(n: i64) -> Exact {
    whole(n) / whole(100)
}

impl<const LO: i64, const HI: i64, const UNIT: usize> Num<LO, HI, UNIT> {
    fn check(text: &str, span: Span, cx: &mut Cx) -> Option<Self> {
        let text = text.trim();
        let value = decimal(&text.replace('_', "")).filter(|_| text.len() <= 30);
        match value.filter(|n| *n >= hundredths(LO) && *n <= hundredths(HI)) {
            Some(n) => Some(Num(n)),
            None => {
                let found = format!("`{}`", clip(text));
                cx.fault(Fault::Value { want: Self::kind(), found }, span);
                None
            }
        }
    }
}

impl<const LO: i64, const HI: i64, const UNIT: usize> Value for Num<LO, HI, UNIT> {
    fn kind() -> String {
        let (lo, hi) = (plain(&hundredths(LO)), plain(&hundredths(HI)));
        let unit = UNITS[UNIT];
        let space = if unit.is_empty() { "" } else { " " };
        format!("a number from {lo} to {hi}{space}{unit}")
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<Self> {
        match v.get_ref() {
            DeValue::Float(n) => Self::check(n.as_str(), cx.span(v), cx),
            DeValue::Integer(n) if n.radix() == 10 => Self::check(n.as_str(), cx.span(v), cx),
            _ => {
                cx.wrong(Self::kind(), v);
                None
            }
        }
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<Self> {
        Self::check(text, span, cx)
    }
}

/// A whole number from `LO` to `HI`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Int<const LO: i64, const HI: i64>(pub i64);

/// Whole minutes, up to a year.
pub type Mins = Int<0, 527_040>;

impl<const LO: i64, const HI: i64> Value for Int<LO, HI> {
    fn kind() -> String {
        let what = if HI == 527_040 { "whole minutes" } else { "a whole number" };
        format!("{what} from {LO} to {HI}")
    }
    fn read(v: &Spanned<DeValue<'_>>, cx: &mut Cx) -> Option<Self> {
        match v.get_ref() {
            DeValue::Integer(n) if n.radix() == 10 => Self::cell(n.as_str(), cx.span(v), cx),
            _ => {
                cx.wrong(Self::kind(), v);
                None
            }
        }
    }
    fn cell(text: &str, span: Span, cx: &mut Cx) -> Option<Self> {
        let number = text.trim().replace('_', "").parse::<i64>().ok();
        match number.filter(|n| (LO..=HI).contains(n)) {
            Some(n) => Some(Int(n)),
            None => {
                let found = format!("`{}`", clip(text.trim()));
                cx.fault(Fault::Value { want: Self::kind(), found }, span);
                None
            }
        }
    }
}
