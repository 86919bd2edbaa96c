//! Bad input through the built program: an answer with its place, exit code 2, and nothing written.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// A folder with a copy of the small demo, taken away at the end.
pub struct Scratch(PathBuf);

impl Scratch {
    pub fn new(label: &str) -> Scratch {
        let path = std::env::temp_dir().join(format!("wayover-bad-{label}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&path);
        std::fs::create_dir_all(path.join("job")).expect("a temporary folder");
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/a-boathouse");
        for file in ["job.toml", "circuits.csv"] {
            std::fs::copy(demo.join(file), path.join("job").join(file)).expect("a copy");
        }
        Scratch(path)
    }

    pub fn path(&self, file: &str) -> PathBuf {
        self.0.join(file)
    }

    /// Replaces a text that has to be there.
    pub fn edit(&self, file: &str, from: &str, to: &str) {
        let path = self.path("job").join(file);
        let text = std::fs::read_to_string(&path).expect("a readable file");
        assert!(text.contains(from), "{from} is not in {file}");
        std::fs::write(path, text.replacen(from, to, 1)).expect("a writable file");
    }

    fn bytes(&self, file: &str, change: impl Fn(Vec<u8>) -> Vec<u8>) {
        let path = self.path("job").join(file);
        let bytes = std::fs::read(&path).expect("a readable file");
        std::fs::write(path, change(bytes)).expect("a writable file");
    }

    /// What lies in the folder itself.
    fn names(&self) -> Vec<String> {
        let dir = std::fs::read_dir(&self.0).expect("a readable folder");
        let name = |e: std::io::Result<std::fs::DirEntry>| e.expect("an entry").file_name();
        let mut all: Vec<_> = dir.map(|e| name(e).to_string_lossy().into_owned()).collect();
        all.sort();
        all
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

/// Exit code, standard output and standard error.
pub fn wayover(args: &[&str], folder: &Path) -> (i32, String, String) {
    let mut run = Command::new(env!("CARGO_BIN_EXE_wayover"));
    let run = run.args(args).current_dir(folder).stdin(Stdio::null()).output().expect("a run");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("text");
    (run.status.code().expect("an exit code"), text(run.stdout), text(run.stderr))
}

/// `check`, `plan` and `print` say the same, end with 2, and write nothing.
fn refused(scratch: &Scratch, wanted: &[&str]) -> String {
    let (code, _, told) = wayover(&["check", "job"], &scratch.0);
    assert_eq!(code, 2, "{told}");
    for text in wanted {
        assert!(told.contains(text), "no {text:?} in:\n{told}");
    }
    for args in [&["plan", "job"][..], &["print", "job", "--out", "papers"]] {
        let (code, out, again) = wayover(args, &scratch.0);
        assert_eq!((code, &out[..], &again), (2, "", &told), "{args:?}");
    }
    assert!(!told.contains("panicked") && told.contains("error[J"), "{told}");
    assert_eq!(scratch.names(), ["job"]);
    told
}

#[test]
fn several_faults_are_told_at_once_each_with_its_place_and_code() {
    let s = Scratch::new("many");
    s.edit("job.toml", "lockable = true, place", "lokable = true, place");
    s.edit("job.toml", "2027-03-02 21:00-06:00", "2027-02-30 21:00-06:00");
    s.edit("job.toml", "rated_min = 180", "rated_min = -3");
    s.edit("circuits.csv", "C2,DB-B/2,", "C2,DB-B/1,");
    s.edit("circuits.csv", "C3,DB-B/3,DB-B2/3", "C3,DB-B/3,");
    s.edit("circuits.csv", "breaker B16,13,low,,traced,yes,,R. Quill,left off,", "breaker B16,");
    let told = refused(
        &s,
        &[
            "error[J007]",
            "--> job.toml:6:",
            "did you mean `lockable`?",
            "error[J014]",
            "`2027-02-30",
            "--> job.toml:9:36",
            "error[J009]",
            "--> job.toml:12:49",
            "error[J022]",
            "--> circuits.csv:4:",
            "error[J021]",
            "--> circuits.csv:6:",
            "error[J023]",
            "hint: put a cell that holds a comma in double quotes",
        ],
    );
    let count = told.matches("error[J").count();
    assert!(told.ends_with(&format!("\n{count} faults in the job's files\n")), "{told}");
}

#[test]
fn a_time_that_comes_twice_is_not_guessed() {
    let s = Scratch::new("twice");
    s.edit("job.toml", "2027-03-02 21:00-06:00", "2027-10-31 00:30-01:30");
    s.edit("job.toml", "from = \"2027-03-01 12:00\"", "from = \"2027-10-30 12:00\"");
    s.edit("job.toml", "to = \"2027-03-09 12:00\"", "to = \"2027-11-02 12:00\"");
    refused(&s, &["error[J016]", "--> job.toml:9:", "+01:00", "+00:00", "hint: "]);
}

#[test]
fn a_date_that_is_no_date_does_not_hide_the_schedule() {
    let s = Scratch::new("date");
    s.edit("job.toml", "full_test = 2026-09-14", "full_test = 2026-13-14");
    s.edit("circuits.csv", "C6,DB-B/6", "C6,extra,DB-B/6");
    let told =
        refused(&s, &["error[J006]", "--> job.toml:12:66", "a date is written as", "error[J021]"]);
    assert!(told.contains("--> circuits.csv:7:1"), "{told}");
}

/// The fault of a file that is no text stands alone: nothing that follows from it is told.
#[test]
fn a_schedule_that_is_no_text_is_one_fault() {
    let utf16 = |b: Vec<u8>| {
        let text = String::from_utf8(b).expect("text");
        let units = std::iter::once(0xfeff).chain(text.encode_utf16());
        units.flat_map(u16::to_le_bytes).collect::<Vec<u8>>()
    };
    let ending = |end: &'static [u8]| {
        move |mut b: Vec<u8>| {
            b.extend_from_slice(end);
            b
        }
    };
    type Change = Box<dyn Fn(Vec<u8>) -> Vec<u8>>;
    let cases: [(&str, Change, &str); 5] = [
        ("utf16", Box::new(utf16), "error[J003]"),
        ("latin1", Box::new(ending(b"C7,DB-B/7,DB-B2/7,caf\xe9,rcbo B10\n")), "error[J003]"),
        ("nul", Box::new(ending(b"C7,DB-B/7\0\n")), "error[J004]"),
        ("large", Box::new(|_| vec![b'x'; 50_000_000]), "error[J002]"),
        ("empty", Box::new(|_| Vec::new()), "error[J005]"),
    ];
    for (label, change, code) in cases {
        let s = Scratch::new(label);
        s.bytes("circuits.csv", change);
        let told = refused(&s, &[code, "`circuits.csv`", "\n1 fault in the job's files"]);
        assert!(told.starts_with(code), "{label}: {told}");
    }
}

#[test]
fn folders_and_files_in_each_others_place_are_told() {
    let s = Scratch::new("folder");
    std::fs::remove_file(s.path("job/circuits.csv")).expect("it was there");
    refused(&s, &["error[J001]", "there is no such file", "1 fault "]);
    std::fs::create_dir(s.path("job/circuits.csv")).expect("a folder");
    refused(&s, &["error[J001]", "it is a folder", "1 fault "]);
    let (code, _, told) = wayover(&["check", "job/job.toml"], &s.0);
    assert_eq!(code, 2);
    assert!(told.contains("`job/job.toml`: it is a file; a job is the folder"), "{told}");
    let (code, _, told) = wayover(&["check", "nowhere"], &s.0);
    assert!(code == 2 && told.contains("error[J001]"), "{told}");
}

#[test]
fn a_byte_order_mark_changes_nothing() {
    let s = Scratch::new("bom");
    let plain = wayover(&["check", "job"], &s.0);
    for file in ["job.toml", "circuits.csv"] {
        s.bytes(file, |b| [b"\xef\xbb\xbf".to_vec(), b].concat());
    }
    assert_eq!(plain.0, 0);
    assert_eq!(wayover(&["check", "job"], &s.0), plain);
}

#[test]
fn deep_nesting_is_refused_and_no_crash() {
    let n = 50_000;
    let texts = [
        format!("x = {}{}", "[".repeat(n), "]".repeat(n)),
        format!("x = {}1{}", "{ a = ".repeat(n), " }".repeat(n)),
        format!("x{} = 1", ".x".repeat(n)),
        format!("[x{}]", ".x".repeat(n)),
    ];
    for text in texts {
        let s = Scratch::new("deep");
        s.bytes("job.toml", |b| [format!("{text}\n").into_bytes(), b].concat());
        let told = refused(&s, &["error[J006]", "--> job.toml:1:"]);
        assert!(told.lines().all(|l| l.chars().count() <= 80), "{told}");
    }
}

#[test]
fn papers_never_take_the_place_of_a_file_and_leave_no_half() {
    let s = Scratch::new("out");
    std::fs::write(s.path("file"), "mine").expect("a writable folder");
    for out in ["file", "file/below", "file/below/deeper"] {
        let (code, told, err) = wayover(&["print", "job", "--out", out, "--effort", "quick"], &s.0);
        assert_eq!((code, &told[..]), (2, ""), "{out}: {err}");
        assert!(err.contains("`file` is a file") && !err.contains("panicked"), "{err}");
        assert_eq!(s.names(), ["file", "job"], "{out}");
        assert_eq!(std::fs::read_to_string(s.path("file")).expect("still a file"), "mine");
    }
}

#[test]
fn faults_leave_older_papers_as_they_are() {
    let s = Scratch::new("older");
    std::fs::create_dir(s.path("papers")).expect("a folder");
    std::fs::write(s.path("papers/index.html"), "older").expect("a writable folder");
    s.edit("circuits.csv", "C3,DB-B/3,DB-B2/3", "C3,DB-B/3,");
    let (code, _, told) = wayover(&["print", "job", "--out", "papers"], &s.0);
    assert!(code == 2 && told.contains("error[J022]"), "{told}");
    assert_eq!(s.names(), ["job", "papers"]);
    let left: Vec<_> = std::fs::read_dir(s.path("papers")).expect("still there").collect();
    assert_eq!(left.len(), 1);
    assert_eq!(std::fs::read_to_string(s.path("papers/index.html")).expect("text"), "older");
}
