//! Text of a job as text of a page: it can become neither an element nor an attribute, and a
//! reference such as `DB-1/5L2` stands in one row.

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

/// What may follow a hyphen or a stroke only in the same row: U+2060, WORD JOINER. It has no width
/// and is not searched for.
const JOINER: char = '\u{2060}';

/// Elements whose text is left as it is.
const AS_IT_IS: [&str; 3] = ["style", "title", "svg"];

/// A page whose references are kept whole: wherever a run of letters, digits, hyphens and strokes
/// holds a digit or is in capitals, no row ends within it.
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

fn join(text: &str, out: &mut String) {
    let hinge = |c: char| c == '-' || c == '/';
    for run in text.split_inclusive(|c: char| !c.is_alphanumeric() && !hinge(c)) {
        let reference = run.contains(|c: char| c.is_ascii_digit())
            || !run.contains(char::is_lowercase) && run.contains(char::is_uppercase);
        let mut chars = run.chars().peekable();
        while let Some(c) = chars.next() {
            out.push(c);
            let goes_on = chars.peek().is_some_and(|next| next.is_alphanumeric());
            if reference && hinge(c) && goes_on {
                out.push(JOINER);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn case(html: &str, wanted: &str) {
        assert_eq!(unbroken(html).replace(JOINER, "~"), wanted);
    }

    #[test]
    fn a_reference_stays_whole_and_words_may_break() {
        case("<td>OLD DB-1/5L2, five-core</td>", "<td>OLD DB-~1/~5L2, five-core</td>");
        case("DB-K and EM-F: and/or", "DB-~K and EM-~F: and/or");
        case("a -5 °C, 2027-03-02, TS-", "a -~5 °C, 2027-~03-~02, TS-");
        case("<a href=\"area-1.ics\">area-1.ics</a>", "<a href=\"area-1.ics\">area-~1.ics</a>");
        case("<svg><text>DB-1</text></svg>DB-1", "<svg><text>DB-1</text></svg>DB-~1");
        case("<title>DB-1</title><p>1 < 2", "<title>DB-1</title><p>1 < 2");
    }
}
