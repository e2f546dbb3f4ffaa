//! Valid texts with the damage that hands, spreadsheets and other programs do: lines lost or doubled, numbers no one can mean, names
//! without end, letters of every script, nesting without end.

use proptest::prelude::*;
use proptest::sample::{Index, select};

/// Numbers that are hard to mean.
pub const NUMBERS: &[&str] = &[
    "nan",
    "inf",
    "-inf",
    "1e9999",
    "-1e9999",
    "1e308",
    "-1e308",
    "1e-9999",
    "5e-324",
    "0",
    "-0.0",
    "-1",
    "1e28",
    "79228162514264337593543950335",
    "99999999999999999999999999999999999999",
    "0.0000000000000000000000000000000001",
    "9223372036854775807",
    "-9223372036854775808",
    "100",
    "100.0000000000000000001",
    "14",
    "1_0",
    "0x7f",
    "1979-05-27",
    "true",
    "[]",
    "{}",
    "\"1\"",
];

/// Texts that are hard to show.
pub const TEXTS: &[&str] = &[
    "",
    " ",
    "\\u0000",
    "\\n",
    "\\u202e cba",
    "\\u0301\\u0301\\u0301",
    "😀🧪",
    "ÄÖÜẞ",
    "水",
    "שלום",
    "<script>",
    "../../etc",
    "%s%n",
    "H+",
    "H2O",
    "Ca+2",
    "EDTA-4",
    "Water",
    "NaOH",
];

/// One hurt, at a place that is chosen when the text is known.
#[derive(Clone, Debug)]
pub enum Hurt {
    /// A line is lost.
    Drop(Index),
    /// A line stands again somewhere else.
    Copy(Index, Index),
    /// A stretch of lines is repeated.
    Repeat(Index, usize, usize),
    /// A number becomes another.
    Number(Index, &'static str),
    /// A text in quotes becomes another.
    Text(Index, &'static str),
    /// A text in quotes becomes very long.
    Long(Index, usize),
    /// A value is nested.
    Nest(Index, usize, bool),
    /// Characters are put in.
    Put(Index, String),
    /// The rest is lost.
    Cut(Index),
}

/// A hurt of any kind.
pub fn hurt() -> impl Strategy<Value = Hurt> {
    let at = any::<Index>;
    prop_oneof![
        3 => at().prop_map(Hurt::Drop),
        3 => (at(), at()).prop_map(|(from, to)| Hurt::Copy(from, to)),
        1 => (at(), 1..12usize, select(vec![2, 20, 80])).prop_map(|(at, lines, times)| Hurt::Repeat(at, lines, times)),
        8 => (at(), select(NUMBERS)).prop_map(|(at, number)| Hurt::Number(at, number)),
        4 => (at(), select(TEXTS)).prop_map(|(at, text)| Hurt::Text(at, text)),
        1 => (at(), select(vec![300, 100_000])).prop_map(|(at, length)| Hurt::Long(at, length)),
        1 => (at(), select(vec![3, 5_000]), any::<bool>()).prop_map(|(at, depth, table)| Hurt::Nest(at, depth, table)),
        2 => (at(), "\\PC{1,4}").prop_map(|(at, text)| Hurt::Put(at, text)),
        1 => at().prop_map(Hurt::Cut),
    ]
}

/// One of the texts with one to four hurts.
pub fn damaged(texts: Vec<String>) -> impl Strategy<Value = String> {
    (select(texts), prop::collection::vec(hurt(), 1..5))
        .prop_map(|(text, hurts)| hurts.iter().fold(text, |text, hurt| hurt.done_to(&text)))
}

impl Hurt {
    /// The text with this hurt.
    #[must_use]
    pub fn done_to(&self, text: &str) -> String {
        if text.is_empty() {
            return String::new();
        }
        let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
        match self {
            Self::Drop(at) => {
                lines.remove(at.index(lines.len()));
                lines.concat()
            }
            Self::Copy(from, to) => {
                let line = lines[from.index(lines.len())];
                lines.insert(to.index(lines.len()), line);
                lines.concat()
            }
            Self::Repeat(at, count, times) => {
                let start = at.index(lines.len());
                let end = (start + count).min(lines.len());
                let again = lines[start..end].concat().repeat(*times);
                [&lines[..end].concat(), &again, &lines[end..].concat()].map(String::as_str).concat()
            }
            Self::Number(at, number) => replaced(text, *at, &numbers(text), number),
            Self::Text(at, with) => replaced(text, *at, &quoted(text), with),
            Self::Long(at, length) => replaced(text, *at, &quoted(text), &"ä".repeat(*length)),
            Self::Nest(at, depth, table) => {
                let (open, shut) = if *table { ("{a=", "}") } else { ("[", "]") };
                let nested = format!("{}1{}", open.repeat(*depth), shut.repeat(*depth));
                replaced(text, *at, &numbers(text), &nested)
            }
            Self::Put(at, what) => {
                let at = boundary(text, at.index(text.len()));
                [&text[..at], what, &text[at..]].concat()
            }
            Self::Cut(at) => text[..boundary(text, at.index(text.len()))].to_owned(),
        }
    }
}

fn boundary(text: &str, mut at: usize) -> usize {
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn replaced(text: &str, at: Index, spans: &[(usize, usize)], with: &str) -> String {
    if spans.is_empty() {
        return text.to_owned();
    }
    let (start, end) = spans[at.index(spans.len())];
    [&text[..start], with, &text[end..]].concat()
}

/// Stretches of digits, signs and points that stand after `=`, `:`, `,`, `[` or a space.
fn numbers(text: &str) -> Vec<(usize, usize)> {
    let bytes = text.as_bytes();
    let of_number = |byte: u8| byte.is_ascii_digit() || b".-+e".contains(&byte);
    let mut spans = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let starts =
            (bytes[at].is_ascii_digit() || bytes[at] == b'-') && at > 0 && b"=:,[ ".contains(&bytes[at - 1]);
        if starts {
            let end = (at..bytes.len()).find(|end| !of_number(bytes[*end])).unwrap_or(bytes.len());
            spans.push((at, end));
            at = end;
        }
        at += 1;
    }
    spans
}

/// What stands between quotes on one line.
fn quoted(text: &str) -> Vec<(usize, usize)> {
    let mut spans = Vec::new();
    let mut start = None;
    for (at, sign) in text.char_indices() {
        match (sign, start) {
            ('"', None) => start = Some(at + 1),
            ('"', Some(begun)) => {
                spans.push((begun, at));
                start = None;
            }
            ('\n', _) => start = None,
            _ => {}
        }
    }
    spans
}
