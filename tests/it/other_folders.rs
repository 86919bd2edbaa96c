//! A job, and the templates of a firm, reach no file outside their own folder.

use crate::bad_input::{Scratch, wayover};

/// What lies beside the folder of the job, and may show in no answer and on no paper.
const SECRET: &str = "the key is under the mat";

/// A job with a picture, a file of durations and a schedule beside its folder.
fn beside(label: &str) -> Scratch {
    let s = Scratch::new(label);
    for file in ["secret.png", "secret.toml", "secret.csv", "secret.html"] {
        std::fs::write(s.path(file), SECRET).expect("a writable folder");
    }
    s
}

/// What the program says of a job that names a file so, which has to be a refusal.
fn told_of(s: &Scratch, key: &str, name: &str) -> String {
    let toml = s.path("job/job.toml");
    let plain = std::fs::read_to_string(&toml).expect("a readable job");
    assert!(!plain.contains("[paper]") && plain.matches("[job]").count() == 1);
    let named = match key {
        "logo" => format!("{plain}\n[paper]\nlogo = {name:?}\n"),
        _ => plain.replace("[job]", &format!("[job]\n{key} = {name:?}")),
    };
    std::fs::write(&toml, named).expect("a writable job");
    let mut all = String::new();
    for args in [&["check", "job"][..], &["plan", "job"], &["print", "job", "--out", "papers"]] {
        let (code, out, told) = wayover(args, &s.path(""));
        assert_eq!((code, out.as_str()), (2, ""), "{key} = {name}, {args:?}: {told}");
        all.push_str(&told);
    }
    assert!(!s.path("papers").exists());
    std::fs::write(&toml, plain).expect("a writable job");
    all
}

#[test]
fn no_file_outside_the_folder_of_a_job_is_read_by_its_name() {
    let s = beside("named");
    for (key, file) in
        [("logo", "secret.png"), ("durations_file", "secret.toml"), ("schedule", "secret.csv")]
    {
        let absolute = s.path(file).display().to_string();
        let names = [format!("../{file}"), format!("sub/../../{file}"), absolute];
        for name in names.iter().map(String::as_str).chain(["/etc/passwd", "C:\\\\secret"]) {
            let told = told_of(&s, key, name);
            assert!(told.contains("error[J020]"), "{key} = {name}: {told}");
            let row = told.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(row.contains("lies outside the folder of the job"), "{told}");
            assert!(!told.contains(SECRET), "{told}");
        }
    }
}

#[cfg(unix)]
#[test]
fn no_file_outside_the_folder_of_a_job_is_read_through_a_link() {
    use std::os::unix::fs::symlink;
    let s = beside("linked");
    std::fs::create_dir(s.path("beside")).expect("a folder");
    std::fs::write(s.path("beside/secret.png"), SECRET).expect("a writable folder");
    symlink("../beside", s.path("job/sub")).expect("a link");
    for (key, file, name) in [
        ("logo", "secret.png", "link.png"),
        ("durations_file", "secret.toml", "link.toml"),
        ("schedule", "secret.csv", "link.csv"),
    ] {
        symlink(s.path(file), s.path("job").join(name)).expect("a link");
        let told = told_of(&s, key, name);
        assert!(told.contains("error[J020]") && !told.contains(SECRET), "{told}");
    }
    let told = told_of(&s, "logo", "sub/secret.png");
    assert!(told.contains("error[J020]") && !told.contains(SECRET), "{told}");
    // The files that no key has to name.
    for (file, other) in [("circuits.csv", "secret.csv"), ("job.toml", "secret.toml")] {
        let s = beside(file);
        std::fs::remove_file(s.path("job").join(file)).expect("it was there");
        symlink(s.path(other), s.path("job").join(file)).expect("a link");
        let (code, out, told) = wayover(&["check", "job"], &s.path(""));
        assert_eq!((code, out.as_str()), (2, ""), "{told}");
        assert!(told.contains("error[J020]") && !told.contains(SECRET), "{told}");
    }
    // A link that stays in the folder is as good as the file.
    std::fs::rename(s.path("job/circuits.csv"), s.path("job/real.csv")).expect("it was there");
    symlink("real.csv", s.path("job/circuits.csv")).expect("a link");
    assert_eq!(wayover(&["check", "job"], &s.path("")).0, 0);
}

#[test]
fn no_template_reaches_a_file_outside_its_folder() {
    let s = beside("templates");
    std::fs::create_dir(s.path("ours")).expect("a folder");
    let ours = |text: &str| std::fs::write(s.path("ours/board-chart.html"), text).expect("a file");
    let absolute = s.path("secret.html").display().to_string();
    let args = ["print", "job", "--out", "papers", "--templates", "ours", "--effort", "quick"];
    for path in ["../secret.html", "secret.html", &absolute, "/etc/passwd"] {
        for text in [
            format!("{{% include \"{path}\" %}}"),
            format!("{{% extends \"{path}\" %}}"),
            format!("{{% import \"{path}\" as other %}}"),
        ] {
            ours(&text);
            let (code, out, told) = wayover(&args, &s.path(""));
            assert_eq!((code, out.as_str()), (2, ""), "{text}: {told}");
            assert!(told.contains("board-chart.html") && !told.contains(SECRET), "{text}: {told}");
            assert!(!s.path("papers").exists());
        }
    }
    #[cfg(unix)]
    {
        std::fs::remove_file(s.path("ours/board-chart.html")).expect("it was there");
        std::os::unix::fs::symlink(s.path("secret.html"), s.path("ours/board-chart.html"))
            .expect("a link");
        let (code, out, told) = wayover(&args, &s.path(""));
        assert_eq!((code, out.as_str()), (2, ""), "{told}");
        assert!(told.contains("template `board-chart.html` lies outside the folder"), "{told}");
        assert!(!told.contains(SECRET) && !s.path("papers").exists());
    }
}
