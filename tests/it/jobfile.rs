//! The job's files: what is read, what is refused, and what the job means.

use std::path::{Path, PathBuf};
use wayover::diag::{self, Code};
use wayover::jobfile::{Resolved, read, resolve, schema, starter_job, starter_schedule, summary};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// The resolved job of a folder, or the faults as drawn.
fn job(folder: &Path) -> Result<Resolved, String> {
    read(folder).and_then(resolve).map_err(|f| diag::render(&f))
}

/// The folders of `tests/faults`: the smallest job file that earns a code, and its message.
fn faults() -> Vec<PathBuf> {
    let dir = std::fs::read_dir(folder("tests/faults")).expect("faults are part of the checkout");
    let mut all: Vec<_> = dir.map(|e| e.expect("a readable folder").path()).collect();
    all.sort();
    all
}

fn name(path: &Path) -> String {
    path.file_name().map_or(String::new(), |n| n.to_string_lossy().into_owned())
}

#[test]
fn every_demo_is_read() {
    for name in ["a-boathouse", "b-library", "c-music-school", "d-library-refused"] {
        let path = folder("demo").join(name);
        let found = job(&path).unwrap_or_else(|f| panic!("{}:\n{f}", path.display()));
        assert!(found.labour.fits(&found.job));
    }
}

/// To take the messages anew, run with `TAKE_MESSAGES=1` and read every change.
#[test]
fn each_fault_has_its_code_and_its_message() {
    for path in faults() {
        let label = name(&path);
        let found = job(&path).err().unwrap_or_else(|| panic!("{label} has no fault"));
        let file = path.join("message.txt");
        if std::env::var_os("TAKE_MESSAGES").is_some() {
            std::fs::write(&file, &found).expect("the folder is writable");
            continue;
        }
        let wanted = std::fs::read_to_string(&file).unwrap_or_default();
        assert_eq!(found, wanted, "{label}");
        let code = label.split('-').next().unwrap_or_default().to_string();
        assert!(found.starts_with(&format!("error[{code}]")), "{label}: {found}");
        let others: Vec<&str> =
            found.lines().filter(|l| l.starts_with("error") && !l.contains(&code)).collect();
        assert!(others.is_empty(), "{label} earns more than its code: {others:?}");
        assert!(found.lines().all(|l| l.chars().count() <= 80), "{label} is too wide:\n{found}");
    }
}

#[test]
fn every_code_is_earned_by_some_job() {
    let found: Vec<String> = faults().iter().map(|p| name(p)[..4].to_string()).collect();
    // Too large, and too many, are made when they are tried.
    let made = ["J002", "J036"];
    for entry in Code::ALL {
        let code = entry.code.name();
        assert!(made.contains(&code) || found.iter().any(|f| f == code), "no job earns {code}");
        assert!(!entry.cause.is_empty() && !entry.cure.is_empty());
    }
}

/// A folder of its own, taken away at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(label: &str, files: &[(&str, &[u8])]) -> Scratch {
        let path = std::env::temp_dir().join(format!("wayover-{label}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a temporary folder");
        for (file, bytes) in files {
            std::fs::write(path.join(file), bytes).expect("a writable folder");
        }
        Scratch(path)
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn demo_text(file: &str) -> String {
    std::fs::read_to_string(folder("demo/b-library").join(file)).expect("a readable demo")
}

#[test]
fn the_starter_job_is_ready_to_plan_and_no_draft() {
    let (toml, csv) = (starter_job(), starter_schedule());
    let scratch =
        Scratch::new("starter", &[("job.toml", toml.as_bytes()), ("circuits.csv", csv.as_bytes())]);
    let found = job(&scratch.0).unwrap_or_else(|f| panic!("{f}"));
    assert!(!found.site.draft());
}

#[test]
fn the_order_of_the_rows_changes_nothing() {
    let (toml, csv) = (demo_text("job.toml"), demo_text("circuits.csv"));
    let mut rows: Vec<&str> = csv.lines().collect();
    rows[1..].reverse();
    rows[1..].rotate_left(17);
    let other = rows.join("\n");
    let files = |csv: &str| {
        [("job.toml", toml.clone().into_bytes()), ("circuits.csv", csv.as_bytes().to_vec())]
    };
    let read = |label: &str, csv: &str| {
        let files = files(csv);
        let files: Vec<(&str, &[u8])> = files.iter().map(|(n, b)| (*n, &b[..])).collect();
        let scratch = Scratch::new(label, &files);
        job(&scratch.0).unwrap_or_else(|f| panic!("{f}"))
    };
    let (a, b) = (read("rows-a", &csv), read("rows-b", &other));
    assert!(a.job == b.job && a.labour == b.labour);
    assert_eq!(summary(&a).text(), summary(&b).text());
    // Semicolons, Windows row ends and a byte order mark are the same schedule.
    let third = format!("\u{feff}{}", semicolons(&csv).replace('\n', "\r\n"));
    let c = read("rows-c", &third);
    assert!(a.job == c.job && a.labour == c.labour);
}

/// The schedule as spreadsheets write it where the comma is the decimal sign.
fn semicolons(text: &str) -> String {
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut out = csv::WriterBuilder::new().delimiter(b';').from_writer(Vec::new());
    for row in rows.records() {
        out.write_record(&row.expect("a readable row")).expect("memory takes it");
    }
    String::from_utf8(out.into_inner().expect("memory takes it")).expect("it was text")
}

#[test]
fn a_file_of_50_megabytes_is_refused_at_once() {
    let large = vec![b'a'; 50_000_000];
    let scratch = Scratch::new("large", &[("job.toml", &large)]);
    let found = job(&scratch.0).expect_err("it is too large");
    assert_eq!(found, "error[J002]: `job.toml` is larger than 8 MB, which no job is\n");
}

#[test]
fn more_circuits_than_a_job_may_have_are_refused() {
    let toml = std::fs::read(folder("tests/faults/J022/job.toml")).expect("a readable fault");
    let mut csv = String::from("circuit,old,new,serves,device,identified\n");
    for n in 0..10_001 {
        csv.push_str(&format!("C{n},DB-1/1L1,DB-2/1L1,lamp,rcbo B10,traced\n"));
    }
    let scratch = Scratch::new("many", &[("job.toml", &toml), ("circuits.csv", csv.as_bytes())]);
    assert!(job(&scratch.0).expect_err("too many").starts_with("error[J036]"));
}

/// Minutes in a window from 22:00 to 06:00 over a change of clocks (trade facts, section 11).
#[test]
fn nights_in_which_clocks_change_have_their_true_length() {
    let text = std::fs::read_to_string(folder("tests/faults/J022/job.toml")).expect("readable");
    let csv =
        "circuit,old,new,serves,device,identified\nC1,DB-1/1L1,DB-2/1L1,lamp,rcbo B10,traced\n";
    let case = |zone: &str, first: &str, last: &str, minutes: i64| {
        let toml = text
            .replace("Europe/London", zone)
            .replace("2027-03-02 21:00-06:00", &format!("{first} 22:00-06:00"))
            .replace("2027-03-01 12:00", &format!("{first} 12:00"))
            .replace("2027-03-05 12:00", &format!("{last} 12:00"));
        let files: [(&str, &[u8]); 2] =
            [("job.toml", toml.as_bytes()), ("circuits.csv", csv.as_bytes())];
        let label = format!("clock-{}-{first}", zone.replace('/', "-"));
        let found = job(&Scratch::new(&label, &files).0).unwrap_or_else(|f| panic!("{f}"));
        let window = found.job.windows.rows()[0].period;
        assert_eq!(window.length().0, minutes, "{zone} {first}");
        let clock = &found.site.clock;
        assert_eq!(
            (clock.time(window.from).as_str(), clock.time(window.to).as_str()),
            ("22:00", "06:00")
        );
    };
    case("Europe/London", "2026-10-24", "2026-10-25", 540);
    case("Europe/London", "2027-03-27", "2027-03-28", 420);
    case("Europe/London", "2027-11-27", "2027-11-28", 480);
    case("Europe/Berlin", "2027-03-27", "2027-03-28", 420);
    case("America/New_York", "2027-03-13", "2027-03-14", 420);
    case("Australia/Sydney", "2027-04-03", "2027-04-04", 540);
}

/// The hour that comes twice is printed with its offset, and read with it.
#[test]
fn the_hour_that_comes_twice_keeps_its_offset() {
    let text = std::fs::read_to_string(folder("tests/faults/J016/job.toml")).expect("readable");
    let csv =
        "circuit,old,new,serves,device,identified\nC1,DB-1/1L1,DB-2/1L1,lamp,rcbo B10,traced\n";
    for (offset, minutes) in [("+01:00", 210), ("+00:00", 270)] {
        let toml = text.replace("22:00-01:30", &format!("22:00-01:30{offset}"));
        let files: [(&str, &[u8]); 2] =
            [("job.toml", toml.as_bytes()), ("circuits.csv", csv.as_bytes())];
        let found = job(&Scratch::new(&format!("twice-{minutes}"), &files).0)
            .unwrap_or_else(|f| panic!("{f}"));
        let window = found.job.windows.rows()[0].period;
        assert_eq!(window.length().0, minutes);
        assert_eq!(found.site.clock.time(window.to), format!("01:30 {offset}"));
    }
}

/// Every key of the reference is explained, and no table has a key twice.
#[test]
fn every_key_is_explained() {
    for (table, keys) in schema::reference() {
        for (i, key) in keys.iter().enumerate() {
            assert!(!key.about.is_empty() && !key.kind.is_empty(), "{table}: {}", key.name);
            assert!(keys[..i].iter().all(|k| k.name != key.name), "{table}: {} twice", key.name);
        }
    }
}

/// Spoils the main demo in many ways: words swapped, cut, doubled. Whatever comes of it, it is
/// an answer, and every fault is drawn within 80 columns.
#[test]
fn a_spoilt_job_is_an_answer_and_never_a_crash() {
    let (toml, csv) = (demo_text("job.toml"), demo_text("circuits.csv"));
    let mut seed = 7_u64;
    let mut next = |below: usize| {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(seed >> 33).unwrap_or(0) % below
    };
    let scraps = [
        "",
        "\"",
        "-1",
        "1e9",
        "DB-1",
        "[",
        "=",
        ",",
        "2027-03-28 01:30",
        "é",
        "99999999999999999999",
    ];
    for round in 0..400 {
        let mut texts = [toml.clone(), csv.clone()];
        for _ in 0..=next(3) {
            let text = &mut texts[next(2)];
            let mut from = next(text.len());
            while !text.is_char_boundary(from) {
                from -= 1;
            }
            let mut to = (from + next(12)).min(text.len());
            while !text.is_char_boundary(to) {
                to -= 1;
            }
            text.replace_range(from.min(to)..to.max(from), scraps[next(scraps.len())]);
        }
        let files: [(&str, &[u8]); 2] =
            [("job.toml", texts[0].as_bytes()), ("circuits.csv", texts[1].as_bytes())];
        let scratch = Scratch::new("spoilt", &files);
        if let Err(found) = job(&scratch.0) {
            assert!(found.starts_with("error[J"), "round {round}: {found}");
            let wide = found.lines().find(|l| l.chars().count() > 80 && l.contains(' '));
            assert!(wide.is_none(), "round {round}: {wide:?}");
        }
    }
}
