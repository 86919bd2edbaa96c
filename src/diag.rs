//! Faults in the job's files: what they are, where they are, and the only code that draws one.
//!
//! A [`Fault`] holds the facts; its words are made once, in `words`. A [`Diagnostic`] adds the
//! place in the file, a second place where that is the cause, and what would mend it.

mod code;
mod fault;
mod render;
mod span;
mod words;

pub use code::{Code, Entry};
pub use fault::Fault;
pub use render::render;
pub use span::{Excerpt, Sources, Span};

/// One fault, with the places that show it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// The facts.
    pub fault: Fault,
    /// Where the fault is; `None` where a whole file is missing.
    pub at: Option<Excerpt>,
    /// A second place, such as the first of two equal names, with a word on it.
    pub also: Option<(Excerpt, String)>,
    /// What would mend it.
    pub hint: Option<String>,
}

impl Diagnostic {
    /// The code of the fault.
    pub fn code(&self) -> Code {
        self.fault.code()
    }

    /// What is wrong, in words.
    pub fn message(&self) -> String {
        words::message(&self.fault)
    }

    /// A word beside the caret.
    pub fn label(&self) -> &'static str {
        words::label(&self.fault)
    }

    /// Where it sorts: by file, row and column, then by code and words.
    pub fn order(&self) -> (Option<(u16, usize, usize)>, Code, String) {
        (self.at.as_ref().map(|e| (e.file_no, e.row, e.column)), self.code(), self.message())
    }
}

/// The name out of `known` that is nearest to `name`, if one is near.
pub fn nearest<'a>(name: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let folded = name.to_lowercase();
    let mut best: Option<(f64, &str)> = None;
    for candidate in known {
        let likeness = strsim::jaro_winkler(&folded, &candidate.to_lowercase());
        if likeness >= 0.8 && best.is_none_or(|(b, _)| likeness > b) {
            best = Some((likeness, candidate));
        }
    }
    best.map(|(_, name)| name)
}
