//! What is wrong with an input, drawn for the screen: the place, the line itself with a caret, and what to do.

use crate::paper::{Ink, inked};
use levigate_project::diagnostic::Diagnostic;
use std::fmt::Write as _;

/// Characters of a line that are shown around the place.
const WINDOW: usize = 88;
/// Complaints that are drawn; the rest are counted.
const MOST: usize = 40;

/// Draws the complaints.
pub(crate) fn rendered(problems: &[Diagnostic], input: Option<(&str, &str)>, colour: bool) -> String {
    let mut out = String::new();
    for problem in problems.iter().take(MOST) {
        let text = input.filter(|(name, _)| *name == problem.file).map(|(_, text)| text);
        draw(&mut out, problem, text, colour);
    }
    if problems.len() > MOST {
        let _ = writeln!(out, "and {} more", problems.len() - MOST);
    }
    out
}

fn draw(out: &mut String, problem: &Diagnostic, text: Option<&str>, colour: bool) {
    let place = match (problem.file.as_str(), problem.line) {
        ("", _) => String::new(),
        (file, 0) => format!("{}: ", shown_name(file)),
        (file, line) => format!("{}:{line}:{}: ", shown_name(file), problem.column.max(1)),
    };
    let what = inked(&clean(&problem.what), Ink::Strong, colour);
    let field = if problem.field.is_empty() { String::new() } else { format!("{}: ", clean(&problem.field)) };
    let _ = writeln!(out, "{place}{field}{what} [{}]", problem.code);
    if let Some(line) = text.and_then(|text| text.lines().nth(problem.line.checked_sub(1)?)) {
        let (shown, caret) = window(line, problem.column);
        let number = problem.line.to_string();
        let margin = " ".repeat(number.len());
        let _ = writeln!(out, "  {number} | {shown}");
        if problem.column > 0 {
            let _ = writeln!(out, "  {margin} | {}{}", " ".repeat(caret), inked("^", Ink::Strong, colour));
        }
    }
    if !problem.what_now.is_empty() {
        let _ = writeln!(out, "  help: {}", clean(&problem.what_now));
    }
}

fn shown_name(file: &str) -> String {
    if file == "-" { "standard input".to_owned() } else { clean(file) }
}

/// The part of a line around a column (from 1), without control characters, and where the caret stands in it.
fn window(line: &str, column: usize) -> (String, usize) {
    let signs: Vec<char> = clean(line).chars().collect();
    let at = column.saturating_sub(1).min(signs.len());
    let start = if at < WINDOW { 0 } else { at - WINDOW / 2 };
    let end = signs.len().min(start + WINDOW);
    let mut shown = String::new();
    if start > 0 {
        shown.push('…');
    }
    shown.extend(&signs[start..end]);
    if end < signs.len() {
        shown.push('…');
    }
    (shown, at - start + usize::from(start > 0))
}

/// Nothing in an input may steer the terminal: control characters become spaces, one for one.
pub(crate) fn clean(text: &str) -> String {
    text.chars().map(|sign| if sign.is_control() { ' ' } else { sign }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use levigate_project::diagnostic::at;

    #[test]
    fn the_line_stands_there_with_a_caret_and_help() {
        let text = "[product]\nname = \"a\"\n\tpercent = 0,5\n";
        let problem =
            at(("a.toml", text), &(31..34), "not-toml", "line 1", "a decimal comma", "write a point");
        let drawn = rendered(&[problem], Some(("a.toml", text)), false);
        assert_eq!(
            drawn,
            "a.toml:3:11: line 1: a decimal comma [not-toml]\n  3 |  percent = 0,5\n    |           ^\n  help: write a point\n"
        );
    }

    #[test]
    fn a_line_without_end_is_cut_around_the_place_and_escapes_are_not_sent() {
        let text = format!("{}\u{1b}[2J{}", "x".repeat(5000), "y".repeat(5000));
        let problem = at(("-", &text), &(5000..5001), "x", "", "what", "now");
        let drawn = rendered(&[problem], Some(("-", &text)), false);
        assert!(drawn.len() < 400, "{}", drawn.len());
        assert!(!drawn.contains('\u{1b}'));
        assert!(drawn.starts_with("standard input:1:5001: what [x]\n  1 | …x"));
    }
}
