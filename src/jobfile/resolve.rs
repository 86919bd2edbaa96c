//! From the job as written to the job as meant: every name looked up, every time an instant,
//! the usual network made from the boards, everything else added or changed as stated.

mod boards;
mod build;
mod checks;
mod circuits;
mod decisions;
mod durations;
mod emergency;
mod kinds;
mod loads;
mod pins;
mod positions;
mod questions;
mod refine;
mod site;
mod supply;
mod tails;
mod times;
mod ways;
mod work;

use super::files::{JobFile, sorted};
use super::matrix::{Matrix, matrix};
use crate::diag::Diagnostic;
use crate::model::{Job, Labour, Site};
use build::Build;

/// A job that is complete enough to plan.
#[derive(Clone, Debug)]
pub struct Resolved {
    /// The facts that a plan is judged by.
    pub job: Job,
    /// The work, and what is decided.
    pub labour: Labour,
    /// What is printed.
    pub site: Site,
}

/// What the job means.
///
/// # Errors
/// Every fault of the job's files, those found on reading included, in the order of the files.
pub fn resolve(file: JobFile) -> Result<Resolved, Vec<Diagnostic>> {
    survey(file).1
}

/// What the job means, and its emergency lighting old against new as far as that can be read,
/// whatever else is wrong with the job.
pub fn survey(file: JobFile) -> (Matrix, Result<Resolved, Vec<Diagnostic>>) {
    let JobFile { root, mut circuits, firm, folder, mut cx } = file;
    circuits.sort_by_key(|row| {
        let number = row.circuit.as_ref().map_or("", |n| &n.value);
        (natural(number), row.span)
    });
    let Some(frame) = times::frame(&root, &mut cx) else {
        return (Matrix::default(), Err(sorted(cx.faults)));
    };
    let mut b = Build::new(root, frame, folder, firm, cx);
    times::areas(&mut b);
    times::windows_people(&mut b);
    boards::names(&mut b);
    supply::sources_and_feeds(&mut b);
    boards::boards(&mut b);
    supply::temporary(&mut b);
    circuits::circuits(&mut b, &circuits);
    positions::positions(&mut b);
    loads::loads(&mut b, &circuits);
    emergency::groups(&mut b, &circuits);
    emergency::contactors(&mut b);
    loads::surge(&mut b);
    refine::refine(&mut b);
    circuits::further(&mut b, &circuits);
    tails::tails(&mut b);
    decisions::locks_and_walks(&mut b);
    checks::checks(&mut b);
    let labour = work::labour(&mut b, &circuits);
    site::site(&mut b, &circuits);
    questions::questions(&mut b, &circuits);
    (matrix(&b.job, &b.site.groups), b.finish(labour))
}

/// A key that sorts `C2` before `C10`.
pub(crate) fn natural(name: &str) -> Vec<(u8, u64, String)> {
    let mut parts = Vec::new();
    let mut rest = name;
    while let Some(first) = rest.chars().next() {
        let digits = first.is_ascii_digit();
        let end = rest.find(|c: char| c.is_ascii_digit() != digits).unwrap_or(rest.len());
        let (part, after) = rest.split_at(end);
        let number = part.parse().unwrap_or(u64::MAX);
        parts.push(if digits { (0, number, part.to_string()) } else { (1, 0, part.to_string()) });
        rest = after;
    }
    parts
}
