//! What stands on the pages of a PDF, as `pdftotext -bbox` (poppler) tells it.

use std::path::Path;
use std::process::Command;

/// A word where it stands, in points from the upper left corner.
pub struct Word {
    pub text: String,
    /// Left, top, right, bottom.
    pub at: [f64; 4],
}

/// A page.
pub struct Page {
    pub size: [f64; 2],
    pub words: Vec<Word>,
}

impl Page {
    pub fn text(&self) -> String {
        let words: Vec<&str> = self.words.iter().map(|w| w.text.as_str()).collect();
        words.join(" ")
    }

    /// Words that run off the page.
    pub fn cut(&self) -> Vec<&str> {
        let off = |w: &&Word| {
            w.at[0] < -1.0
                || w.at[1] < -1.0
                || w.at[2] > self.size[0] + 1.0
                || w.at[3] > self.size[1] + 1.0
        };
        self.words.iter().filter(off).map(|w| w.text.as_str()).collect()
    }

    /// Pairs of words one over the other; a word is taken without the air around its letters.
    pub fn overlapping(&self) -> Vec<(&str, &str)> {
        let core = |w: &Word| {
            let air = (w.at[3] - w.at[1]) * 0.25;
            [w.at[0] + 0.6, w.at[1] + air, w.at[2] - 0.6, w.at[3] - air]
        };
        let mut out = Vec::new();
        for (i, a) in self.words.iter().enumerate() {
            let p = core(a);
            for b in &self.words[i + 1..] {
                let q = core(b);
                // Letters with a white rim are drawn twice in one place, told with other heights.
                let near = |i: usize, most: f64| (a.at[i] - b.at[i]).abs() < most;
                if a.text == b.text && near(0, 0.05) && near(2, 0.05) && near(3, 2.5) {
                    continue;
                }
                if p[0] < q[2] && q[0] < p[2] && p[1] < q[3] && q[1] < p[3] {
                    out.push((a.text.as_str(), b.text.as_str()));
                }
            }
        }
        out
    }
}

/// The pages of a PDF; none where there is no poppler on the machine.
pub fn pages(pdf: &Path) -> Option<Vec<Page>> {
    let out = Command::new("pdftotext").arg("-bbox").arg(pdf).arg("-").output().ok()?;
    let text = String::from_utf8_lossy(&out.stdout);
    let number = |tag: &str, name: &str| -> f64 {
        let rest = tag.split(&format!("{name}=\"")).nth(1).unwrap_or_default();
        rest.split('"').next().and_then(|n| n.parse().ok()).unwrap_or(f64::NAN)
    };
    let page = |part: &str| {
        let words = part.split("<word ").skip(1).filter_map(|w| {
            let (tag, rest) = w.split_once('>')?;
            let text = rest.split("</word>").next()?;
            let text = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
            let at = ["xMin", "yMin", "xMax", "yMax"].map(|n| number(tag, n));
            Some(Word { text: text.replace("&#39;", "'").replace("&amp;", "&"), at })
        });
        Page { size: ["width", "height"].map(|n| number(part, n)), words: words.collect() }
    };
    Some(text.split("<page ").skip(1).map(page).collect())
}
