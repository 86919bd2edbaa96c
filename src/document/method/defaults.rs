//! Defaults in the words of the trade: the job file's keys are for whoever writes one.

/// Durations by their key in the job file.
const WORK: [(&str, &str); 22] = [
    ("connect", "terminating a circuit"),
    ("covers", "putting a cover on"),
    ("dead_test", "dead test of a circuit"),
    ("disconnect", "taking a circuit off"),
    ("dress", "dressing a bank of ways"),
    ("energise", "locks off and energising"),
    ("fit_covers", "covers, blanks and labels"),
    ("fit_surge", "fitting surge protection"),
    ("function_test", "function test of an emergency group"),
    ("hold", "act of an outside person"),
    ("hook_up", "putting a circuit on temporary supply"),
    ("identify", "identifying, marking and pre-testing a circuit"),
    ("isolate", "isolating and locking off"),
    ("live_test", "live test of a circuit"),
    ("mount", "mounting a board"),
    ("prove", "proving dead"),
    ("prove_dead", "proving dead"),
    ("prove_point", "proving dead, for each point"),
    ("strip_out", "stripping a board out"),
    ("tails", "tails"),
    ("test_board", "dead test of a board"),
    ("unhook", "taking a circuit off temporary supply"),
];

use crate::model::Site;

/// What begins the words for a duration.
const DURATION: &str = "duration of ";

/// A default: what it is for, its value, how often it was used.
type Used = [String; 3];

/// Durations without their unit, which is the minute, and all other defaults.
pub fn defaults(site: &Site) -> (Vec<Used>, Vec<Used>) {
    let all = site.defaults_used.iter();
    let all = all.map(|d| [words(&d.what), d.value.clone(), d.times.to_string()]);
    let minutes = |d: &Used| d[0].starts_with(DURATION) && d[1].ends_with(" min");
    let (durations, others): (Vec<Used>, Vec<Used>) = all.partition(minutes);
    let bare = |[what, value, times]: Used| {
        let value = value.trim_end_matches(" min").to_owned();
        [what.trim_start_matches(DURATION).to_owned(), value, times]
    };
    (durations.into_iter().map(bare).collect(), others)
}

/// What a default is for; where it names a duration by its key, in words.
pub fn words(what: &str) -> String {
    // The heading says so once for all.
    let what = &what.replace(" (an estimate)", "").replace("an rcbo", "an RCBO");
    if let Some(class) = what.strip_prefix("weight of importance ") {
        return format!("importance {} counts", class.replace('`', ""));
    }
    let Some((before, rest)) = what.split_once('`') else { return what.to_owned() };
    let Some((key, after)) = rest.split_once('`') else { return what.to_owned() };
    if !before.starts_with(DURATION) {
        return what.replace('`', "");
    }
    let mut stem = key;
    let mut more = Vec::new();
    while let Some((front, end)) = stem.rsplit_once('_') {
        if WORK.iter().any(|(k, _)| *k == stem) {
            break;
        }
        more.push(match end {
            "3ph" => "three-phase".to_owned(),
            n if n.chars().all(|c| c.is_ascii_digit()) => format!("up to {n} outlets"),
            word => word.to_owned(),
        });
        stem = front;
    }
    let found = WORK.iter().find(|(k, _)| *k == stem).map(|(_, words)| *words);
    let mut all = vec![found.map_or_else(|| stem.replace('_', " "), str::to_owned)];
    all.extend(more.into_iter().rev());
    format!("{before}{}{after}", all.join(", "))
}
