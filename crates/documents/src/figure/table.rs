//! The numbers of a figure as a table.

use crate::escape::Markup;
use serde::{Deserialize, Serialize};
use std::fmt::Write as _;

/// A table of texts; figures carry no unit, the head does.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Column heads.
    pub head: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    pub(super) fn new(caption: &str, head: &[&str]) -> Self {
        Self {
            caption: caption.to_owned(),
            head: head.iter().map(|&text| text.to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    /// The table as HTML, everything escaped.
    #[must_use]
    pub fn html(&self) -> String {
        let mut html =
            format!("<table class=\"calm\">\n<caption>{}</caption>\n<thead><tr>", Markup(&self.caption));
        for head in &self.head {
            let _ = write!(html, "<th scope=\"col\">{}</th>", Markup(head));
        }
        html.push_str("</tr></thead>\n<tbody>\n");
        for row in &self.rows {
            html.push_str("<tr>");
            for (at, cell) in row.iter().enumerate() {
                if at == 0 {
                    let _ = write!(html, "<th scope=\"row\">{}</th>", Markup(cell));
                } else {
                    let _ = write!(html, "<td class=\"figure\">{}</td>", Markup(cell));
                }
            }
            html.push_str("</tr>\n");
        }
        html.push_str("</tbody>\n</table>\n");
        html
    }

    /// The table as CSV (comma, CRLF, quoted where needed; a true minus becomes a hyphen so that programs read it).
    #[must_use]
    pub fn csv(&self) -> String {
        let mut text = String::new();
        for row in std::iter::once(&self.head).chain(&self.rows) {
            let cells: Vec<String> = row.iter().map(|cell| quoted(cell)).collect();
            text.push_str(&cells.join(","));
            text.push_str("\r\n");
        }
        text
    }
}

fn quoted(cell: &str) -> String {
    let cell = cell.replace('\u{2212}', "-");
    // A text a spreadsheet would run stays a text; a negative number stays a number.
    let runs = cell.starts_with(['=', '+', '@', '\t', '\r'])
        || (cell.starts_with('-') && cell.parse::<f64>().is_err());
    let cell = if runs { format!("'{cell}") } else { cell };
    if cell.contains([',', '"', '\n', '\r']) { format!("\"{}\"", cell.replace('"', "\"\"")) } else { cell }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_quotes_and_escapes() {
        let mut table = Table::new("a < b", &["x", "y, mm"]);
        table.rows.push(vec!["=1+1".to_owned(), "\u{2212}0.5".to_owned()]);
        assert_eq!(table.csv(), "x,\"y, mm\"\r\n'=1+1,-0.5\r\n");
        assert!(table.html().contains("<caption>a &lt; b</caption>"));
    }
}
