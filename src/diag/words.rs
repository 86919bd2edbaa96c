//! The words of each fault. Lower case, no full stop, names in backticks.

use super::Fault;

/// What is wrong.
pub fn message(fault: &Fault) -> String {
    match fault {
        Fault::FileMissing { file, why } => format!("cannot read `{file}`: {why}"),
        Fault::FileTooLarge { file, limit_mb } => {
            format!("`{file}` is larger than {limit_mb} MB, which no job is")
        }
        Fault::Encoding { file, looks_like } => {
            format!("`{file}` is not written in UTF-8; it looks like {looks_like}")
        }
        Fault::NulByte { file } => format!("`{file}` holds NUL bytes, so it is no text file"),
        Fault::EmptyFile { file } => format!("`{file}` is empty"),
        Fault::Syntax { why } => format!("this cannot be read: {why}"),
        Fault::UnknownKey { key, table } => format!("`{table}` has no key `{key}`"),
        Fault::MissingKey { key, table, about } => format!("`{table}` lacks `{key}`: {about}"),
        Fault::Value { want, found } => format!("expected {want}, found {found}"),
        Fault::NotOneOf { found, words } => {
            format!("`{found}` is not one of {}", listed(words))
        }
        Fault::Doubled { what, name } => format!("{what} `{name}` stands twice"),
        Fault::Unknown { what, name } => format!("there is no {what} `{name}`"),
        Fault::NoSuchWay { reference, board, has } => {
            format!("`{reference}`: board `{board}` has no such way; it has {has}")
        }
        Fault::NotATime { found, want } => format!("`{found}` is not {want}"),
        Fault::TimeSkipped { time, zone } => {
            format!("{time} does not exist in {zone}: the clocks go forward over it")
        }
        Fault::TimeTwice { time, zone, offsets } => format!(
            "{time} comes twice in {zone}, once with {} and once with {}",
            offsets[0], offsets[1]
        ),
        Fault::WrongOffset { found, time, has } => {
            format!("{time} does not have the offset {found} there, but {}", has.join(" or "))
        }
        Fault::UnknownZone { zone } => format!("there is no time zone `{zone}`"),
        Fault::EndsBeforeItStarts { what } => format!("{what} ends before it starts"),
        Fault::OutsideFolder { path } => format!("`{path}` lies outside the folder of the job"),
        Fault::RowLength { found, want } => {
            format!("this row has {found} cells, but the header has {want}")
        }
        Fault::NoNewWay { circuit } => {
            format!("circuit `{circuit}` has neither a new way nor a stated end")
        }
        Fault::WayShared { way, first, second } => {
            format!("circuits `{first}` and `{second}` both stand on way `{way}`")
        }
        Fault::ReasonMissing { what } => format!("{what} needs a reason"),
        Fault::Lines { why } => why.clone(),
        Fault::FedFromElsewhereUnstated { place } => {
            format!("nothing says what in `{place}` is fed from elsewhere")
        }
        Fault::EmergencySplit { group, part, feed, watched } => format!(
            "emergency group `{group}`: {part}, `{}`, goes to `{}`, the lighting \
             `{}` that it watches to `{}`; they have to share one device",
            feed.0, feed.1, watched.0, watched.1
        ),
        Fault::EmergencyIncomplete { group, missing } => {
            format!("emergency group `{group}` has no circuit that is its {missing}")
        }
        Fault::LightingUnwatched { circuit, area } => format!(
            "`{circuit}` lights area `{area}`, but no emergency group of that area watches it"
        ),
        Fault::NeutralSplit { first, second } => format!(
            "circuits `{}` and `{}` share a neutral, but part to `{}` and `{}`",
            first.0, second.0, first.1, second.1
        ),
        Fault::DurationOrder { found } => {
            format!("the durations {found} are not in order: shortest, likely, longest")
        }
        Fault::Conflict { why } => why.clone(),
        Fault::NoneOf { what } => format!("the job has no {what}"),
        Fault::WrongPlace { why } => why.clone(),
        Fault::NoLockAbove { board, path } => format!(
            "no lockable device suitable for isolation parts board `{board}` from its supply: {path}"
        ),
        Fault::TooMany { what, found, limit } => {
            format!("{found} {what} are more than the {limit} that a job may have")
        }
    }
}

/// A word beside the caret.
pub fn label(fault: &Fault) -> &'static str {
    match fault {
        Fault::UnknownKey { .. } => "no such key",
        Fault::MissingKey { .. } => "in here",
        Fault::Doubled { .. } => "again here",
        Fault::Unknown { .. } => "no such name",
        Fault::NoSuchWay { .. } => "no such way",
        Fault::TimeSkipped { .. } => "never shown by a clock",
        Fault::TimeTwice { .. } => "which of the two?",
        Fault::NoNewWay { .. } => "where does it go?",
        Fault::WayShared { .. } => "this way again",
        Fault::EmergencySplit { .. } => "parts from its lighting",
        Fault::NeutralSplit { .. } => "parts from its neutral",
        _ => "",
    }
}

/// The words in backticks, with commas and a last `or`.
fn listed(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|w| format!("`{w}`")).collect();
    match quoted.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        None => String::new(),
    }
}
