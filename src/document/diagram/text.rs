//! Text in a drawing: how wide it is, how it is broken into rows, how it is escaped.

/// Height of the letters, in tenths of a millimetre.
pub const SIZE: i64 = 22;
/// From one row of text to the next.
pub const ROW: i64 = 26;

/// A row of text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// What it says.
    pub text: String,
    /// In bold.
    pub strong: bool,
}

/// How wide a text is at most, in tenths of a millimetre: the widths of common sans-serif letters
/// in thousandths of their height, rounded up, a tenth more in bold.
pub fn width(text: &str, strong: bool) -> i64 {
    let thousandths: i64 = text.chars().map(letter).sum();
    let wide = thousandths * SIZE / 1000 + 1;
    if strong { wide * 11 / 10 } else { wide }
}

fn letter(c: char) -> i64 {
    match c {
        'i' | 'j' | 'l' | '\'' | '|' => 240,
        ' ' | '\u{a0}' | '.' | ',' | ':' | ';' | 't' | 'f' | '/' | 'I' | '!' | '[' | ']' => 290,
        '-' | '(' | ')' | 'r' | '"' => 350,
        'W' | '@' | '%' => 1020,
        'm' | 'M' => 900,
        '&' => 700,
        'w' | 'G' | 'O' | 'Q' => 790,
        c if c.is_ascii_digit() => 560,
        c if c.is_ascii_lowercase() => 560,
        c if c.is_ascii_uppercase() => 730,
        c if c.is_ascii() => 620,
        _ => 1000,
    }
}

/// `text` in rows of at most `room`, broken between words, and inside a word that is wider.
pub fn rows(text: &str, strong: bool, room: i64) -> Vec<Row> {
    let mut out: Vec<String> = vec![String::new()];
    // A no-break space keeps a figure with its unit.
    for word in text.split(|c: char| c.is_whitespace() && c != '\u{a0}') {
        if word.is_empty() {
            continue;
        }
        let last = out.len() - 1;
        let joined = match out[last].as_str() {
            "" => word.to_owned(),
            before => format!("{before} {word}"),
        };
        if width(&joined, strong) <= room {
            out[last] = joined;
            continue;
        }
        if !out[last].is_empty() {
            out.push(String::new());
        }
        for c in word.chars() {
            let last = out.len() - 1;
            let longer = format!("{}{c}", out[last]);
            if width(&longer, strong) <= room || out[last].is_empty() {
                out[last] = longer;
            } else {
                out.push(c.to_string());
            }
        }
    }
    out.into_iter().filter(|t| !t.is_empty()).map(|text| Row { text, strong }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn case(text: &str, room: i64, expect: &[&str]) {
        let rows: Vec<String> = rows(text, false, room).into_iter().map(|r| r.text).collect();
        assert_eq!(rows, expect);
    }

    #[test]
    fn rows_keep_to_their_room() {
        case("isolator Q1", 400, &["isolator Q1"]);
        case("isolator Q1", 100, &["isolator", "Q1"]);
        let parts = rows("isolator", false, 40);
        assert!(parts.len() > 1 && parts.iter().all(|r| width(&r.text, false) <= 40));
        assert_eq!(parts.iter().map(|r| r.text.as_str()).collect::<String>(), "isolator");
        case("  ", 40, &[]);
    }
}
