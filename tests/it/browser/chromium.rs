//! A browser driven over a pipe: the DevTools protocol (public, of the Chromium project), one
//! JSON message after the other, each ended by a zero octet.

use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

/// What such a browser is called on a search path.
const NAMES: [&str; 6] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
];

/// How long it may think over one question.
const LIMIT: Duration = Duration::from_secs(180);

/// A program of the search path.
pub fn on_path(name: &str) -> Option<PathBuf> {
    let path = std::env::var_os("PATH")?;
    std::env::split_paths(&path).map(|folder| folder.join(name)).find(|p| p.is_file())
}

/// A running browser with one empty page, and a folder of its own that goes with it.
pub struct Chromium {
    child: Child,
    to: ChildStdin,
    from: Receiver<Value>,
    page: String,
    asked: u64,
    scratch: PathBuf,
}

impl Chromium {
    /// Starts the first that is found; where there is none, says so and gives none.
    pub fn start(label: &str) -> Option<Chromium> {
        let found = NAMES.iter().find_map(|name| on_path(name)).filter(|_| on_path("sh").is_some());
        let Some(program) = found else {
            super::not_tested(
                label,
                "no Chromium, Chrome or Edge on the search path, so no paper was looked at in a \
                 browser",
            );
            return None;
        };
        let scratch =
            std::env::temp_dir().join(format!("wayover-browser-{label}-{}", std::process::id()));
        std::fs::create_dir_all(&scratch).expect("a temporary folder");
        // The browser hears on descriptor 3 and speaks on 4, which are our end of its pipes.
        let mut child = Command::new("sh")
            .args(["-c", "exec \"$0\" \"$@\" 3<&0 4>&1 </dev/null >/dev/null 2>&1"])
            .arg(program)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-gpu",
                "--no-first-run",
                "--hide-scrollbars",
            ])
            .args(["--disable-extensions", "--disable-background-networking"])
            .args(["--disable-dev-shm-usage", "--host-resolver-rules=MAP * ~NOTFOUND"])
            .args(["--remote-debugging-pipe", "about:blank"])
            .arg(format!("--user-data-dir={}", scratch.join("profile").display()))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell that starts the browser");
        let to = child.stdin.take().expect("its pipe");
        let mut out = BufReader::new(child.stdout.take().expect("its pipe"));
        let (tell, from) = channel();
        std::thread::spawn(move || {
            let mut message = Vec::new();
            while out.read_until(0, &mut message).is_ok_and(|n| n > 0) {
                message.pop();
                let Ok(value) = serde_json::from_slice(&message) else { break };
                if tell.send(value).is_err() {
                    break;
                }
                message.clear();
            }
        });
        let mut this = Chromium { child, to, from, page: String::new(), asked: 0, scratch };
        // A name on the search path may be a stub that starts nothing.
        let _ = this.to.write_all(b"{\"id\":0,\"method\":\"Browser.getVersion\"}\0");
        if this.from.recv_timeout(Duration::from_secs(90)).is_err() {
            super::not_tested(label, "the browser on the search path does not start");
            return None;
        }
        let target = this.ask("Target.createTarget", json!({"url": "about:blank"}));
        let target = json!({"targetId": target["targetId"], "flatten": true});
        let page = this.ask("Target.attachToTarget", target)["sessionId"].clone();
        this.page = page.as_str().expect("a page").to_owned();
        this.ask("Page.enable", json!({}));
        this.ask("Emulation.setEmulatedMedia", json!({"media": "print"}));
        Some(this)
    }

    /// A file in the browser's folder, with this text in it.
    pub fn file(&self, name: &str, text: &str) -> PathBuf {
        self.octets(name, text.as_bytes())
    }

    /// The same with any octets.
    pub fn octets(&self, name: &str, octets: &[u8]) -> PathBuf {
        let path = self.scratch.join(name);
        std::fs::write(&path, octets).expect("a file of ours");
        path
    }

    /// Loads a page as it would be printed on paper of that width, in CSS pixels.
    pub fn open(&mut self, page: &Path, width: u32) {
        let size = json!({"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": false});
        self.ask("Emulation.setDeviceMetricsOverride", size);
        let address = format!("file://{}", page.display());
        let told = self.ask("Page.navigate", json!({"url": address}));
        assert!(told.get("errorText").is_none(), "{address}: {told}");
        self.until(|m| m["method"] == "Page.loadEventFired");
    }

    /// What a script in the page comes to, as text.
    pub fn run(&mut self, script: &str) -> String {
        let asked = json!({"expression": script, "returnByValue": true, "awaitPromise": true});
        let told = self.ask("Runtime.evaluate", asked);
        assert!(told.get("exceptionDetails").is_none(), "{told}");
        told["result"]["value"].as_str().unwrap_or_default().to_owned()
    }

    /// The page as PDF, on the paper that its styles ask for.
    pub fn pdf(&mut self) -> Vec<u8> {
        let asked = json!({"preferCSSPageSize": true, "printBackground": true});
        let told = self.ask("Page.printToPDF", asked);
        from_base64(told["data"].as_str().expect("a PDF"))
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        self.asked += 1;
        let id = self.asked;
        let mut message = json!({"id": id, "method": method, "params": params});
        if !self.page.is_empty() {
            message["sessionId"] = json!(self.page);
        }
        let mut octets = message.to_string().into_bytes();
        octets.push(0);
        self.to.write_all(&octets).expect("a browser that listens");
        let told = self.until(|m| m["id"] == id);
        assert!(told.get("error").is_none(), "{method}: {told}");
        told["result"].clone()
    }

    /// The next message of that kind; others are let go.
    fn until(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        loop {
            let message = self.from.recv_timeout(LIMIT).expect("a word from the browser in time");
            if wanted(&message) {
                return message;
            }
        }
    }
}

impl Drop for Chromium {
    fn drop(&mut self) {
        let _ = self.to.write_all(b"{\"id\":0,\"method\":\"Browser.close\"}\0");
        let _ = self.from.recv_timeout(Duration::from_secs(5));
        let _ = self.child.kill();
        let _ = self.child.wait();
        let _ = std::fs::remove_dir_all(&self.scratch);
    }
}

/// RFC 4648, section 4, backwards.
fn from_base64(text: &str) -> Vec<u8> {
    let six = |c: u8| match c {
        b'A'..=b'Z' => Some(c - b'A'),
        b'a'..=b'z' => Some(c - b'a' + 26),
        b'0'..=b'9' => Some(c - b'0' + 52),
        b'+' => Some(62),
        b'/' => Some(63),
        _ => None,
    };
    let signs: Vec<u32> = text.bytes().filter_map(six).map(u32::from).collect();
    let mut out = Vec::with_capacity(signs.len());
    for four in signs.chunks(4) {
        let bits = (0..4).fold(0, |n, i| n << 6 | four.get(i).copied().unwrap_or(0));
        out.extend(bits.to_be_bytes().into_iter().skip(1).take(four.len().saturating_sub(1)));
    }
    out
}

#[test]
fn base64_is_read_as_it_is_written() {
    // RFC 4648, section 10.
    for (text, wanted) in [("Zg==", "f"), ("Zm8=", "fo"), ("Zm9v", "foo"), ("Zm9vYmFy", "foobar")] {
        assert_eq!(from_base64(text), wanted.as_bytes());
    }
}
