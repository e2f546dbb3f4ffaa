//! The page a table is written on: headings, paragraphs and columns within a width, colour only where somebody can see it.

use crate::diagnostics::clean;
use comfy_table::presets::NOTHING;
use comfy_table::{Cell, CellAlignment, ContentArrangement, Table};
use std::fmt::Write as _;
use std::io::IsTerminal;

/// Width when nobody says how wide the screen is.
const USUAL_WIDTH: usize = 96;
/// Stands for a space until the table is drawn.
const ROOM: char = '\u{e000}';
/// Most decimals that are aligned on the sign.
const MOST_ALIGNED: usize = 6;
const LEAST_WIDTH: usize = 60;
const MOST_WIDTH: usize = 120;

/// How the page looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Look {
    /// Characters across.
    pub(crate) width: usize,
    /// Whether colour and weight may be used.
    pub(crate) colour: bool,
}

impl Look {
    /// As the screen and the person's settings say: no colour when piped, when `NO_COLOR` is set, or on a dumb terminal.
    pub(crate) fn of_screen() -> Self {
        let width = std::env::var("COLUMNS").ok().and_then(|text| text.parse().ok()).unwrap_or(USUAL_WIDTH);
        Self {
            width: width.clamp(LEAST_WIDTH, MOST_WIDTH),
            colour: std::io::stdout().is_terminal() && colour_is_welcome(),
        }
    }

    /// The same for messages, which go to standard error.
    pub(crate) fn of_messages() -> Self {
        Self { colour: std::io::stderr().is_terminal() && colour_is_welcome(), ..Self::of_screen() }
    }
}

fn colour_is_welcome() -> bool {
    let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    !refused && !dumb
}

/// Weight or colour of a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ink {
    /// Heavier.
    Strong,
    /// Lighter.
    Faint,
    /// Gravest.
    Red,
    /// To be changed.
    Amber,
    /// To be looked into.
    Blue,
}

/// A text with weight or colour, or as it is.
pub(crate) fn inked(text: &str, ink: Ink, colour: bool) -> String {
    if !colour {
        return text.to_owned();
    }
    let code = match ink {
        Ink::Strong => "1",
        Ink::Faint => "2",
        Ink::Red => "1;31",
        Ink::Amber => "1;33",
        Ink::Blue => "1;34",
    };
    format!("\u{1b}[{code}m{text}\u{1b}[0m")
}

/// Which side a column leans to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Lean {
    /// Words.
    Left,
    /// Numbers, aligned on the decimal sign where all of the column are plain ones.
    Right,
}

/// A page being written.
#[derive(Debug)]
pub(crate) struct Paper {
    look: Look,
    text: String,
}

impl Paper {
    /// An empty page.
    pub(crate) fn new(look: Look) -> Self {
        Self { look, text: String::new() }
    }

    /// What was written.
    pub(crate) fn finish(self) -> String {
        self.text
    }

    /// The title of the page.
    pub(crate) fn title(&mut self, text: &str) {
        let _ = writeln!(self.text, "{}", inked(&clean(text), Ink::Strong, self.look.colour));
    }

    /// A heading, with a remark behind it.
    pub(crate) fn heading(&mut self, text: &str, remark: &str) {
        self.text.push('\n');
        self.marked(&clean(text), Ink::Strong, remark);
    }

    /// An empty line.
    pub(crate) fn gap(&mut self) {
        self.text.push('\n');
    }

    /// A paragraph, indented, wrapped.
    pub(crate) fn paragraph(&mut self, indent: usize, text: &str) {
        self.hanging(indent, "", text);
    }

    /// A paragraph with a word before it that stands out to the left.
    pub(crate) fn hanging(&mut self, indent: usize, word: &str, text: &str) {
        let inner = indent + if word.is_empty() { 0 } else { word.chars().count() + 1 };
        for (number, line) in wrapped(&clean(text), self.look.width.saturating_sub(inner)).iter().enumerate()
        {
            if number == 0 && !word.is_empty() {
                let word = inked(word, Ink::Faint, self.look.colour);
                let _ = writeln!(self.text, "{}{word} {line}", " ".repeat(indent));
            } else {
                let _ = writeln!(self.text, "{}{line}", " ".repeat(inner));
            }
        }
    }

    /// A line that begins with a marked word.
    pub(crate) fn marked(&mut self, word: &str, ink: Ink, text: &str) {
        let inner = word.chars().count() + if word.is_empty() { 0 } else { 2 };
        let lines = wrapped(&clean(text), self.look.width.saturating_sub(inner));
        if lines.is_empty() {
            let _ = writeln!(self.text, "{}", inked(word, ink, self.look.colour));
        }
        for (number, line) in lines.iter().enumerate() {
            if number == 0 && !word.is_empty() {
                let _ = writeln!(self.text, "{}  {line}", inked(word, ink, self.look.colour));
            } else {
                let _ = writeln!(self.text, "{}{line}", " ".repeat(inner));
            }
        }
    }

    /// Columns under headings. The last column takes what room is left and is wrapped.
    pub(crate) fn columns(&mut self, heads: &[(&str, Lean)], rows: &[Vec<String>]) {
        if rows.is_empty() {
            return;
        }
        let mut table = Table::new();
        table.load_style(NOTHING);
        table.set_content_arrangement(ContentArrangement::Dynamic);
        table.set_width(u16::try_from(self.look.width.saturating_sub(2)).unwrap_or(u16::MAX));
        if heads.iter().any(|(head, _)| !head.is_empty()) {
            table.set_header(heads.iter().map(|(head, lean)| cell(head, *lean)).collect::<Vec<_>>());
        }
        let places: Vec<usize> = (0..heads.len()).map(|column| decimal_places(rows, column)).collect();
        for row in rows {
            let cells = row.iter().zip(heads).zip(&places).map(|((text, (_, lean)), places)| match lean {
                Lean::Left => cell(&clean(text), Lean::Left),
                Lean::Right => cell(&on_the_sign(&clean(text), *places), Lean::Right),
            });
            table.add_row(cells.collect::<Vec<_>>());
        }
        for (at, column) in table.column_iter_mut().enumerate() {
            column.set_padding((u16::from(at > 0), 1));
        }
        let drawn = table.to_string().replace(ROOM, " ");
        for (number, line) in drawn.lines().enumerate() {
            let line = line.trim_end();
            let line = if number == 0 && !heads.iter().all(|(head, _)| head.is_empty()) {
                inked(line, Ink::Faint, self.look.colour)
            } else {
                line.to_owned()
            };
            let _ = writeln!(self.text, "  {line}");
        }
    }
}

/// Decimals of the longest number of a column; none when something else stands in it.
fn decimal_places(rows: &[Vec<String>], column: usize) -> usize {
    let texts =
        || rows.iter().filter_map(|row| row.get(column)).filter(|text| !text.is_empty() && *text != "–");
    let plain = |text: &String| text.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b'-'));
    if !texts().all(plain) {
        return 0;
    }
    let places =
        texts().map(|text| text.split_once('.').map_or(0, |(_, part)| part.len())).max().unwrap_or(0);
    // A column of percents beside traces would become a sea of spaces.
    if places > MOST_ALIGNED { 0 } else { places }
}

/// A number with room for the decimals it does not have.
fn on_the_sign(text: &str, places: usize) -> String {
    if places == 0 || text.is_empty() {
        return text.to_owned();
    }
    let missing = match text.split_once('.') {
        Some((_, part)) => places.saturating_sub(part.len()),
        None => places + 1,
    };
    // Not yet a space, at which a cell would be trimmed.
    format!("{text}{}", ROOM.to_string().repeat(missing))
}

fn cell(text: &str, lean: Lean) -> Cell {
    Cell::new(text).set_alignment(match lean {
        Lean::Left => CellAlignment::Left,
        Lean::Right => CellAlignment::Right,
    })
}

/// Lines of at most `width` characters, broken at spaces; a longer word stands on its own.
pub(crate) fn wrapped(text: &str, width: usize) -> Vec<String> {
    let width = width.max(20);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in text.split_whitespace() {
        let letters = word.chars().count();
        if length > 0 && length + 1 + letters > width {
            lines.push(std::mem::take(&mut line));
            length = 0;
        }
        if length > 0 {
            line.push(' ');
            length += 1;
        }
        line.push_str(word);
        length += letters;
    }
    if length > 0 {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_keep_to_the_width_and_numbers_lean_right() {
        let mut paper = Paper::new(Look { width: 60, colour: false });
        paper.columns(
            &[("Name", Lean::Left), ("%", Lean::Right), ("Remark", Lean::Left)],
            &[
                vec![
                    "Water".into(),
                    "92.15".into(),
                    "a long remark that must be wrapped because the page is narrow".into(),
                ],
                vec!["Gum".into(), "0.8".into(), String::new()],
            ],
        );
        let text = paper.finish();
        assert!(text.lines().all(|line| line.chars().count() <= 60), "{text}");
        let signs: Vec<Option<usize>> = text.lines().map(|line| line.find('.')).collect();
        assert!(signs[1].is_some() && signs[1] == signs[3], "{text}");
    }

    #[test]
    fn text_is_wrapped_at_spaces() {
        assert_eq!(wrapped("one two three four five", 20), ["one two three four", "five"]);
        assert!(wrapped("", 20).is_empty());
    }
}
