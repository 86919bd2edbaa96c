//! Text of a job as text of a page: it can become neither an element nor an attribute, and a
//! reference such as `DB-1/5L2` stands in one row, and a word too long for any cell is broken.

/// Escaped for the text of an element and for an attribute in double quotes.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// Elements whose text is left as it is.
const AS_IT_IS: [&str; 3] = ["style", "title", "svg"];

/// A page whose references are kept whole: wherever a run of letters, digits, hyphens and strokes
/// holds a digit or is in capitals, no row ends within it or after the OLD or NEW before it, unless it is longer than a cell may be.
pub fn unbroken(html: &str) -> String {
    let mut out = String::with_capacity(html.len() + html.len() / 16);
    let mut rest = html;
    while let Some(at) = rest.find('<') {
        join(&rest[..at], &mut out);
        rest = &rest[at..];
        let skipped = AS_IT_IS.iter().find_map(|name| {
            let inside = rest[1..].strip_prefix(name)?;
            inside.starts_with(|c: char| c == '>' || c.is_whitespace()).then_some(())?;
            let close = format!("</{name}>");
            rest.find(&close).map(|end| end + close.len())
        });
        let end = skipped.or_else(|| rest.find('>').map(|end| end + 1)).unwrap_or(rest.len());
        out.push_str(&rest[..end]);
        rest = &rest[end..];
    }
    join(rest, &mut out);
    out
}

/// The longest run that is kept whole, in characters.
const LONGEST: usize = 24;

/// What stays with the reference that follows it.
const ROLES: [&str; 2] = ["OLD ", "NEW "];

/// A word longer than this, in characters, may be broken anywhere after so many.
const LONG_WORD: usize = 28;
const PIECE: usize = 12;

/// Text with references kept whole and words of any length given places to break at.
fn join(text: &str, out: &mut String) {
    let mut parts = text.split_inclusive(char::is_whitespace).peekable();
    while let Some(part) = parts.next() {
        let figure = part.trim_end().ends_with(|c: char| c.is_ascii_digit());
        if figure && let Some(unit) = parts.next_if(|next| next.starts_with("mm²")) {
            // A cross-section stays with its unit.
            let (unit, after) = unit.split_at("mm²".len());
            let start = part.rfind(|c: char| !c.is_ascii_digit() && c != '.' && !c.is_whitespace());
            let start = start.map_or(0, |n| n + part[n..].chars().next().map_or(0, char::len_utf8));
            keep(&part[..start], out);
            out.push_str(&format!("<span class=\"whole\">{}{unit}</span>", &part[start..]));
            keep(after, out);
        } else if part.len() > LONG_WORD && signs(part).count() > LONG_WORD {
            for (i, sign) in signs(part).enumerate() {
                if i > 0 && i % PIECE == 0 {
                    out.push_str("<wbr>");
                }
                out.push_str(sign);
            }
        } else {
            keep(part, out);
        }
    }
}

/// The characters of a text; what is escaped, such as `&amp;`, is one.
fn signs(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let first = rest.chars().next()?;
        let name = |c: char| c.is_ascii_alphanumeric() || c == '#';
        let escaped = (first == '&')
            .then(|| rest.find(';').filter(|end| rest[1..*end].chars().all(name)))
            .flatten();
        let (sign, after) = rest.split_at(escaped.map_or(first.len_utf8(), |end| end + 1));
        rest = after;
        Some(sign)
    })
}

fn keep(text: &str, out: &mut String) {
    let hinge = |c: char| c == '-' || c == '/';
    let inside = |c: char| c.is_alphanumeric() || hinge(c);
    let mut rest = text;
    while let Some(start) = rest.find(inside) {
        let end = rest[start..].find(|c| !inside(c)).map_or(rest.len(), |n| start + n);
        let run = &rest[start..end];
        let breakable = run.trim_end_matches(hinge).contains(hinge) && run.len() <= LONGEST;
        let reference = run.contains(|c: char| c.is_ascii_digit())
            || !run.contains(char::is_lowercase) && run.contains(char::is_uppercase);
        out.push_str(&rest[..start]);
        if breakable && reference {
            let role = ROLES.iter().find(|r| {
                let before = out.strip_suffix(**r);
                before.is_some_and(|b| !b.ends_with(inside)) && r.len() + run.len() <= LONGEST
            });
            out.truncate(out.len() - role.map_or(0, |r| r.len()));
            out.push_str("<span class=\"whole\">");
            out.push_str(role.unwrap_or(&""));
            out.push_str(run);
            out.push_str("</span>");
        } else {
            out.push_str(run);
        }
        rest = &rest[end..];
    }
    out.push_str(rest);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `[` and `]` stand for the element that keeps a run whole.
    #[track_caller]
    fn case(html: &str, wanted: &str) {
        let found = unbroken(html).replace("<span class=\"whole\">", "[").replace("</span>", "]");
        assert_eq!(found, wanted);
    }

    #[test]
    fn a_reference_stays_whole_and_words_may_break() {
        case("<td>OLD DB-1/5L2, five-core</td>", "<td>[OLD DB-1/5L2], five-core</td>");
        case("COLD DB-1, NEW <b>DB-1</b>", "COLD [DB-1], NEW <b>[DB-1]</b>");
        case("DB-K and EM-F: and/or", "[DB-K] and [EM-F]: and/or");
        case("at -5 °C, 2027-03-02, TS-", "at [-5] °C, [2027-03-02], TS-");
        case("<a href=\"area-1.ics\">area-1.ics</a>", "<a href=\"area-1.ics\">[area-1].ics</a>");
        case("<svg><text>DB-1</text></svg>DB-1", "<svg><text>DB-1</text></svg>[DB-1]");
        case("<title>DB-1</title><p>1 < 2", "<title>DB-1</title><p>1 < 2");
        case(
            "fire-resisting 1.5 mm², 10 mm² five-core",
            "fire-resisting [1.5 mm²], [10 mm²] five-core",
        );
        case("C1/2.5 mm²", "C1/[2.5 mm²]");
        let word = "é&amp;-".repeat(10);
        case(&word, &format!("{0}<wbr>{0}<wbr>é&amp;-é&amp;-", "é&amp;-".repeat(4)));
        case("ä-1, C1-C2-C3-C4-C5-C6-C7-C8-C9", "[ä-1], C1-C2-C3-C4-C5-C6-C7-C8-C9");
    }
}
