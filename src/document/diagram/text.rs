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
    wide(thousandths(text), strong)
}

fn thousandths(text: &str) -> i64 {
    text.chars().map(letter).sum()
}

fn wide(thousandths: i64, strong: bool) -> i64 {
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

/// `text` in rows of at most `room`, broken between words, and inside a word that is wider. What
/// ends in a colon stays with the word after it, so that a state is read with what has it.
pub fn rows(text: &str, strong: bool, room: i64) -> Vec<Row> {
    let mut out: Vec<String> = Vec::new();
    let mut full = 0;
    let blank = letter(' ');
    let mut put = |word: &str, parted: bool| {
        let long = thousandths(word);
        match out.last_mut() {
            Some(row) if wide(full + blank + long, strong) <= room => {
                row.push(' ');
                row.push_str(word);
                full += blank + long;
            }
            _ if wide(long, strong) <= room => {
                out.push(word.to_owned());
                full = long;
            }
            _ if !parted => return false,
            _ => {
                out.push(String::new());
                full = 0;
                for c in word.chars() {
                    let last = out.len() - 1;
                    if full > 0 && wide(full + letter(c), strong) > room {
                        out.push(c.to_string());
                        full = letter(c);
                    } else {
                        out[last].push(c);
                        full += letter(c);
                    }
                }
            }
        }
        true
    };
    for unit in units(text) {
        if !put(&unit.join(" "), unit.len() == 1) {
            unit.iter().for_each(|word| {
                put(word, true);
            });
        }
    }
    out.into_iter().map(|text| Row { text, strong }).collect()
}

/// Words, those that end in a colon with the next. A no-break space keeps a figure with its unit.
fn units(text: &str) -> Vec<Vec<&str>> {
    let mut out: Vec<Vec<&str>> = Vec::new();
    let words = text.split(|c: char| c.is_whitespace() && c != '\u{a0}').filter(|w| !w.is_empty());
    for word in words {
        match out.last_mut() {
            Some(unit) if unit.last().is_some_and(|w| w.ends_with(':')) => unit.push(word),
            _ => out.push(vec![word]),
        }
    }
    out
}

/// The widest piece of a text that stays in one row where there is room for it.
pub fn widest(text: &str, strong: bool) -> i64 {
    units(text).iter().map(|u| width(&u.join(" "), strong)).max().unwrap_or(0)
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
        case("the main isolator Q1: closed", 190, &["the main isolator", "Q1: closed"]);
        let room = width("ways:", false).max(width("LIVE", false));
        case("ways: LIVE", room, &["ways:", "LIVE"]);
    }
}
