//! `print`: plans, checks, writes the papers.

use super::browser::Browser;
use super::{Exit, Search, load, out, say};
use crate::document::{self, Dress, Pack};
use crate::jobfile::Resolved;
use anyhow::Context;
use std::collections::BTreeMap;
use std::path::Path;

/// The most that a user's template may take.
const MOST_TEMPLATE: u64 = 1024 * 1024;

/// What is to be written, and where.
pub struct To<'a> {
    /// The folder for the papers.
    pub out: &'a Path,
    /// Also as PDF.
    pub pdf: bool,
    /// A folder with templates of the user's own.
    pub templates: Option<&'a Path>,
}

pub fn run(folder: &Path, to: &To, search: &Search) -> anyhow::Result<Exit> {
    let job = match load::job(folder) {
        Ok(job) => job,
        Err(exit) => return Ok(exit),
    };
    let dress = dress(&job, to)?;
    let mut checked = match load::plan(&job, search.options(&job.job), &search.wait()) {
        Ok(checked) => checked,
        Err(exit) => return Ok(exit),
    };
    if !search.skip_decision_costs {
        load::price_decisions(&job, &mut checked, search.options(&job.job));
    }
    let input = document::Input {
        sound: &checked.sound,
        site: &job.site,
        labour: &job.labour,
        fingerprint: &checked.fingerprint,
        costs: &checked.costs,
    };
    let pack = document::dressed(&input, &dress)?;
    let browser = if to.pdf { Browser::find() } else { None };
    write(to.out, &pack, &checked.record, browser.as_ref())
        .with_context(|| format!("cannot write `{}`", to.out.display()))?;
    out(&told(to, &pack, &checked.fingerprint, browser.is_some(), job.site.draft()));
    if let Some(why) = checked.early {
        out(&format!("{}\n", say::early(why)));
    }
    Ok(if job.site.draft() { Exit::Draft } else { Exit::Safe })
}

fn told(to: &To, pack: &Pack, fingerprint: &str, printed: bool, draft: bool) -> String {
    let mut text = format!("Wrote {} papers to {}:\n", pack.papers.len(), to.out.display());
    let mut line = |file: &str, what: &str| text.push_str(&format!("  {file:<28} {what}\n"));
    line("index.html", "what each is for: begin here");
    for paper in &pack.papers {
        line(&paper.file, paper.title);
    }
    for extra in &pack.extras {
        line(&extra.file, &extra.purpose);
    }
    for book in &pack.books {
        line(&book.file, &book.purpose);
    }
    line(&format!("{}.html", document::WHOLE), "all of them, to be printed in one go");
    match (to.pdf, printed) {
        (true, true) => text.push_str(
            "Each paper, and all in one, is there as PDF too. The one may be printed on both sides: \
             each paper begins on a fresh sheet, and what is hung up or cut out has a blank back.\n",
        ),
        (true, false) => text.push_str(&format!(
            "No PDF: no Chromium, Chrome or Edge was found on this machine. Open {}.html in any \
             browser and print it: A4, scale 100 %, the browser's own header and footer off.\n",
            document::WHOLE
        )),
        _ => {}
    }
    text.push_str(&format!("fingerprint {fingerprint}\n"));
    if draft {
        text.push_str(
            "Questions of the survey are open: every page is marked DRAFT, NOT FOR SITE.\n",
        );
    }
    text
}

/// The user's own templates and picture.
fn dress(job: &Resolved, to: &To) -> anyhow::Result<Dress> {
    let templates = match to.templates {
        Some(folder) => templates(folder)
            .with_context(|| format!("cannot use the templates in `{}`", folder.display()))?,
        None => BTreeMap::new(),
    };
    let logo = match &job.site.paper.logo {
        Some(path) => {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            let size = std::fs::metadata(path).map(|m| m.len()).unwrap_or_default();
            let most = document::logo::MOST_BYTES as u64;
            anyhow::ensure!(
                size <= most,
                "logo `{name}` has {} KiB; at most {} KiB fit on a paper",
                size.div_ceil(1024),
                most / 1024
            );
            let bytes =
                std::fs::read(path).with_context(|| format!("cannot read logo `{name}`"))?;
            document::logo::address(&name, &bytes)?
        }
        None => String::new(),
    };
    Ok(Dress { templates, logo })
}

/// The `.html` files of a folder, none of which may lie outside it.
fn templates(folder: &Path) -> anyhow::Result<BTreeMap<String, String>> {
    let root = folder.canonicalize()?;
    let mut out = BTreeMap::new();
    for entry in std::fs::read_dir(&root)? {
        let path = entry?.path();
        if path.extension().is_none_or(|e| e != "html") {
            continue;
        }
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let real = path.canonicalize().with_context(|| format!("template `{name}`"))?;
        anyhow::ensure!(real.starts_with(&root), "template `{name}` lies outside the folder");
        let size = std::fs::metadata(&real)?.len();
        anyhow::ensure!(size <= MOST_TEMPLATE, "template `{name}` is larger than 1 MiB");
        let text = std::fs::read_to_string(&real).with_context(|| format!("template `{name}`"))?;
        out.insert(name, text);
    }
    anyhow::ensure!(!out.is_empty(), "there is no .html file in it");
    Ok(out)
}

/// Everything goes into a folder beside the one asked for, which then takes its place: a pack is
/// there whole or not at all.
fn write(to: &Path, pack: &Pack, record: &str, browser: Option<&Browser>) -> anyhow::Result<()> {
    let to = if to.is_dir() { to.canonicalize()? } else { std::path::absolute(to)? };
    let beside = |ending: &str| {
        let mut name = to.file_name().unwrap_or_else(|| "papers".as_ref()).to_os_string();
        name.push(ending);
        to.with_file_name(name)
    };
    // Seen before anything is written: a file is neither replaced nor a folder to write into.
    if let Some(file) = to.ancestors().find(|p| p.exists() && !p.is_dir()) {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        anyhow::bail!("`{name}` is a file; give a folder that is yet to be made, or one of papers");
    }
    let (fresh, scratch) = (beside(".part"), beside(".browser"));
    for left in [&fresh, &scratch] {
        if left.exists() {
            std::fs::remove_dir_all(left)?;
        }
    }
    std::fs::create_dir_all(&fresh)?;
    let written = fill(&fresh, pack, record).and_then(|()| match browser {
        Some(browser) => pdfs(&fresh, pack, browser, &scratch),
        None => Ok(()),
    });
    // What a browser leaves behind is no paper; where it cannot be removed it does no harm.
    let _ = std::fs::remove_dir_all(&scratch);
    if let Err(e) = written {
        let _ = std::fs::remove_dir_all(&fresh);
        return Err(e);
    }
    let placed = if to.is_dir() {
        replace(&fresh, &to)
    } else {
        std::fs::rename(&fresh, &to).map_err(Into::into)
    };
    if placed.is_err() {
        let _ = std::fs::remove_dir_all(&fresh);
    }
    placed
}

fn fill(fresh: &Path, pack: &Pack, record: &str) -> anyhow::Result<()> {
    for paper in &pack.papers {
        std::fs::write(fresh.join(&paper.file), &paper.content)?;
    }
    for extra in &pack.extras {
        std::fs::write(fresh.join(&extra.file), &extra.content)?;
    }
    for book in &pack.books {
        std::fs::write(fresh.join(&book.file), &book.content)?;
    }
    std::fs::write(fresh.join(format!("{}.html", document::WHOLE)), &pack.whole)?;
    std::fs::write(fresh.join("index.html"), &pack.index)?;
    std::fs::write(fresh.join("plan.json"), record)?;
    Ok(())
}

fn pdfs(fresh: &Path, pack: &Pack, browser: &Browser, scratch: &Path) -> anyhow::Result<()> {
    let length = |html: &Path| -> anyhow::Result<usize> {
        let pdf = html.with_extension("pdf");
        browser.print(html, &pdf, scratch)?;
        Ok(pages(&std::fs::read(&pdf)?))
    };
    let mut lengths: Vec<(&str, usize)> = Vec::new();
    for file in pack.papers.iter().map(|p| p.file.as_str()) {
        lengths.push((file, length(&fresh.join(file))?));
    }
    let html = fresh.join("both-sides.html");
    std::fs::write(&html, &pack.list)?;
    let whole = format!("{}.html", document::WHOLE);
    lengths.push((&whole, length(&html)?));
    // How many pages each has is only known now.
    std::fs::write(&html, document::for_both_sides(&pack.whole, &lengths))?;
    browser.print(&html, &fresh.join(&whole).with_extension("pdf"), scratch)?;
    std::fs::remove_file(html.with_extension("pdf"))?;
    std::fs::write(fresh.join("index.html"), document::with_pdfs(&pack.index))?;
    Ok(std::fs::remove_file(&html)?)
}

/// How many pages a PDF has, by the entries that ISO 32000-1, 7.7.3.3, asks of each.
fn pages(pdf: &[u8]) -> usize {
    let mark = b"/Type /Page";
    let ends = |at: usize| !pdf.get(at + mark.len()).is_some_and(u8::is_ascii_alphabetic);
    pdf.windows(mark.len()).enumerate().filter(|(at, w)| *w == mark && ends(*at)).count()
}

/// Papers of an older plan go, those of this one take their place; what else lies there stays.
fn replace(fresh: &Path, to: &Path) -> anyhow::Result<()> {
    for file in older(to) {
        let old = to.join(&file);
        if !fresh.join(&file).exists() && old.is_file() {
            std::fs::remove_file(old)?;
        }
    }
    for entry in std::fs::read_dir(fresh)? {
        let entry = entry?;
        std::fs::rename(entry.path(), to.join(entry.file_name()))?;
    }
    std::fs::remove_dir_all(fresh)?;
    Ok(())
}

/// The files that the index of an older pack names, and their PDF.
fn older(to: &Path) -> Vec<String> {
    let index = std::fs::read_to_string(to.join("index.html")).unwrap_or_default();
    if !index.contains("<meta name=\"generator\" content=\"wayover\">") {
        return Vec::new();
    }
    let named = index.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
    let ours = named.filter(|n| !n.contains(['/', '\\', '&', ':']));
    ours.flat_map(|n| [n.to_owned(), n.replace(".html", ".pdf")]).collect()
}
