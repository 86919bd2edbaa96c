//! The templates: ours, and a user's in their place; what is wrong with those in our words.

use super::{PAPERS, fields};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use tera::{ErrorKind, Tera, Value};

/// Templates that are no papers.
const FRAMES: [(&str, &str); 6] = [
    ("base.html", include_str!("../../templates/base.html")),
    ("strip.html", include_str!("../../templates/strip.html")),
    ("stage-drawings.html", include_str!("../../templates/stage-drawings.html")),
    ("timeline-drawings.html", include_str!("../../templates/timeline-drawings.html")),
    ("all-papers.html", include_str!("../../templates/all-papers.html")),
    ("index.html", include_str!("../../templates/index.html")),
];

/// What is wrong with a user's template.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// No paper is made from a template of this name.
    NoSuchPaper {
        /// The file.
        file: String,
        /// A name like it.
        meant: Option<String>,
    },
    /// It cannot be read as a template.
    Broken {
        /// The file.
        file: String,
        /// Where.
        row: Option<usize>,
        /// What the template language says of it.
        what: String,
    },
    /// It asks for a field that the paper does not have.
    Unknown {
        /// The file.
        file: String,
        /// Where.
        row: usize,
        /// The field.
        field: String,
        /// A name like it.
        meant: Option<String>,
    },
    /// It does not print what ours prints, and does not say so.
    LeftOut {
        /// The file.
        file: String,
        /// The fields.
        fields: Vec<String>,
    },
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let hint = |meant: &Option<String>| match meant {
            Some(name) => format!("; did you mean `{name}`?"),
            None => String::new(),
        };
        match self {
            Fault::NoSuchPaper { file, meant } => write!(
                f,
                "template `{file}`: no paper is made from it{} (a part for your own `include` begins with `_`)",
                hint(meant)
            ),
            Fault::Broken { file, row: Some(row), what } => {
                write!(f, "template `{file}`, row {row}: {what}")
            }
            Fault::Broken { file, row: None, what } => write!(f, "template `{file}`: {what}"),
            Fault::Unknown { file, row, field, meant } => write!(
                f,
                "template `{file}`, row {row}: there is no field `{field}`{}",
                hint(meant)
            ),
            Fault::LeftOut { file, fields } => write!(
                f,
                "template `{file}` leaves out what the paper has to say: `{}`; print it, or write `{{# leaves out: {} #}}` into the template",
                fields.join("`, `"),
                fields[0]
            ),
        }
    }
}

/// All that is wrong with a user's templates.
#[derive(Debug)]
pub struct Faults(pub Vec<Fault>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines: Vec<String> = self.0.iter().map(Fault::to_string).collect();
        f.write_str(&lines.join("\n"))
    }
}

impl std::error::Error for Faults {}

/// The engine with our templates and, in their place, those of the user.
pub struct Templates {
    tera: Tera,
    own: BTreeMap<String, String>,
}

impl Templates {
    /// Takes the user's templates by file name. Templates know of each other by name only: none
    /// can name a file.
    ///
    /// # Errors
    ///
    /// Every template that is for no paper or cannot be read.
    pub fn new(own: &BTreeMap<String, String>) -> Result<Templates, Faults> {
        let mut all: BTreeMap<String, String> = ours();
        let names: Vec<String> = all.keys().cloned().collect();
        let mut faults = Vec::new();
        for (file, text) in own {
            if !all.contains_key(file) && !file.starts_with('_') {
                let meant = like(file, &names);
                faults.push(Fault::NoSuchPaper { file: file.clone(), meant });
                continue;
            }
            let mut alone = Tera::default();
            if let Err(e) = alone.add_raw_template(file, text)
                && matches!(e.kind(), ErrorKind::SyntaxError(_))
            {
                faults.push(broken(file, &e));
                continue;
            }
            all.insert(file.clone(), text.clone());
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        let mut tera = Tera::default();
        tera.add_raw_templates(all).map_err(|e| Faults(vec![broken("", &e)]))?;
        Ok(Templates { tera, own: own.clone() })
    }

    /// Sets a paper.
    ///
    /// # Errors
    ///
    /// Every field that a user's template asks for in vain or leaves out; or what the template
    /// language says.
    pub fn set(&self, file: &str, context: BTreeMap<String, Value>) -> Result<String, Faults> {
        let faults = self.faults(file, &context);
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        let mut values = tera::Context::new();
        for (name, value) in context {
            values.insert_value(name, value);
        }
        self.tera.render(file, &values).map_err(|e| Faults(vec![broken(file, &e)]))
    }

    fn faults(&self, file: &str, context: &BTreeMap<String, Value>) -> Vec<Fault> {
        let ours = ours();
        let mut named = BTreeSet::new();
        let whole = chain(file, &ours, &BTreeMap::new(), &mut named);
        let mut named_now = BTreeSet::new();
        let now = chain(file, &ours, &self.own, &mut named_now);
        let mine: Vec<&String> = named_now.iter().filter(|n| self.own.contains_key(*n)).collect();
        if mine.is_empty() {
            return Vec::new();
        }
        let mut faults = Vec::new();
        let (mut used, mut said) = (BTreeSet::new(), Vec::new());
        for (name, text) in &now {
            let found = fields::read(text, context);
            used.extend(found.uses);
            said.extend(found.left_out);
            for (row, field, keys) in found.unknown {
                let last = field.rsplit('.').next().unwrap_or(&field);
                let meant = like(last, &keys);
                faults.push(Fault::Unknown { file: name.clone(), row, field, meant });
            }
        }
        if let Ok(roots) = self.tera.get_template_variables(file) {
            let known: Vec<String> = context.keys().cloned().collect();
            for root in roots.into_iter().filter(|r| !context.contains_key(*r)) {
                let row = now.iter().find_map(|(n, text)| {
                    let row = text.lines().position(|l| l.contains(root))?;
                    Some((n.clone(), row + 1)).filter(|(n, _)| self.own.contains_key(n))
                });
                let (file, row) = row.unwrap_or_else(|| (file.to_owned(), 1));
                let meant = like(root, &known);
                faults.push(Fault::Unknown { file, row, field: root.to_owned(), meant });
            }
        }
        let wanted: BTreeSet<String> =
            whole.iter().flat_map(|(_, text)| fields::read(text, context).uses).collect();
        let covered = |f: &String| {
            used.contains(f)
                || said.iter().any(|s| {
                    f == s || f.starts_with(&format!("{s}.")) || f.starts_with(&format!("{s}["))
                })
        };
        let missing: Vec<String> = wanted.into_iter().filter(|f| !covered(f)).collect();
        if !missing.is_empty() {
            faults.push(Fault::LeftOut { file: mine[0].clone(), fields: missing });
        }
        faults
    }
}

/// Our templates by file name.
fn ours() -> BTreeMap<String, String> {
    let papers = PAPERS.iter().map(|p| (format!("{}.html", p.stem), p.template.to_owned()));
    FRAMES.iter().map(|(n, t)| ((*n).to_owned(), (*t).to_owned())).chain(papers).collect()
}

/// A template with what it extends and includes, each once.
fn chain(
    file: &str,
    ours: &BTreeMap<String, String>,
    own: &BTreeMap<String, String>,
    seen: &mut BTreeSet<String>,
) -> Vec<(String, String)> {
    if !seen.insert(file.to_owned()) {
        return Vec::new();
    }
    let Some(text) = own.get(file).or_else(|| ours.get(file)) else { return Vec::new() };
    let mut out = vec![(file.to_owned(), text.clone())];
    let mut next = fields::read(text, &BTreeMap::new()).includes;
    if let Some(parent) = text.split("extends \"").nth(1).and_then(|r| r.split('"').next()) {
        next.push(parent.to_owned());
    }
    for name in next {
        out.extend(chain(&name, ours, own, seen));
    }
    out
}

/// What the template language says, with the row where it says one.
fn broken(file: &str, e: &tera::Error) -> Fault {
    match e.kind() {
        ErrorKind::SyntaxError(report) | ErrorKind::RenderingError(report) => Fault::Broken {
            file: match report.filename() {
                "" => file.to_owned(),
                name => name.to_owned(),
            },
            row: Some(report.span().start_line),
            what: report.message().to_owned(),
        },
        ErrorKind::MissingParent { current, parent } => Fault::Broken {
            file: current.clone(),
            row: None,
            what: format!("it extends `{parent}`, and there is no such template"),
        },
        _ => Fault::Broken { file: file.to_owned(), row: None, what: e.to_string() },
    }
}

/// The name most like `name`, if one is like it at all.
fn like(name: &str, all: &[String]) -> Option<String> {
    all.iter()
        .map(|n| (strsim::damerau_levenshtein(name, n), n))
        .filter(|(d, n)| *d <= 1 + n.len() / 4)
        .min()
        .map(|(_, n)| n.clone())
}
