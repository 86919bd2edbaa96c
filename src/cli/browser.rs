//! Papers to PDF by a browser that is on the machine.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// What such a browser is called on a search path.
const NAMES: [&str; 7] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "msedge",
];

/// Where it is where it is not on the search path.
const PLACES: [&str; 6] = [
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe",
    "C:\\Program Files (x86)\\Google\\Chrome\\Application\\chrome.exe",
    "C:\\Program Files (x86)\\Microsoft\\Edge\\Application\\msedge.exe",
];

/// How long one paper may take.
const LIMIT: Duration = Duration::from_secs(120);

/// A browser that prints.
pub struct Browser(PathBuf);

impl Browser {
    /// The first one found.
    pub fn find() -> Option<Browser> {
        let path = std::env::var_os("PATH").unwrap_or_default();
        let on_path = std::env::split_paths(&path).flat_map(|folder| {
            NAMES.iter().flat_map(move |n| [folder.join(n), folder.join(format!("{n}.exe"))])
        });
        on_path.chain(PLACES.iter().map(PathBuf::from)).find(|p| p.is_file()).map(Browser)
    }

    /// Prints an HTML file; `scratch` is a folder of its own for the browser.
    pub fn print(&self, html: &Path, pdf: &Path, scratch: &Path) -> anyhow::Result<()> {
        // Most systems let no browser of an administrator keep its sandbox. The papers hold no
        // scripts and load nothing, so that it may go where it has to.
        for extra in [None, Some("--no-sandbox")] {
            let mut child = Command::new(&self.0)
                .args(["--headless", "--disable-gpu", "--no-first-run", "--disable-extensions"])
                .args(["--disable-background-networking", "--host-resolver-rules=MAP * ~NOTFOUND"])
                // Headings as bookmarks; a browser that does not know of it leaves them out.
                .args(["--no-pdf-header-footer", "--generate-pdf-document-outline"])
                .args(extra)
                .arg(format!("--user-data-dir={}", scratch.display()))
                .arg(format!("--print-to-pdf={}", pdf.display()))
                .arg(address(html))
                .stdin(Stdio::null())
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()?;
            wait(&mut child)?;
            if std::fs::read(pdf).is_ok_and(|bytes| bytes.starts_with(b"%PDF")) {
                return Ok(());
            }
        }
        anyhow::bail!("{} made no PDF of {}", self.0.display(), html.display())
    }
}

fn wait(child: &mut Child) -> anyhow::Result<()> {
    let start = Instant::now();
    while child.try_wait()?.is_none() {
        if start.elapsed() > LIMIT {
            child.kill()?;
            child.wait()?;
            anyhow::bail!("the browser took longer than {} s over a paper", LIMIT.as_secs());
        }
        std::thread::sleep(Duration::from_millis(20));
    }
    Ok(())
}

/// A `file:` address: all but plain letters, digits and a few signs escaped.
fn address(path: &Path) -> String {
    let text = path.display().to_string().replace('\\', "/");
    let mut out = String::from(if text.starts_with('/') { "file://" } else { "file:///" });
    for byte in text.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' | b':' => {
                out.push(char::from(byte));
            }
            _ => out.push_str(&format!("%{byte:02X}")),
        }
    }
    out
}
