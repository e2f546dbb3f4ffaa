//! The batch sheet as one standalone HTML page: no script, nothing fetched, fonts and style inside.

use super::words::{Printed, PrintedCaution, PrintedLine, PrintedMaking, PrintedRemedies, PrintedStep};
use crate::escape::{Markup, StyleString};
use levigate_project::batch_sheet::BatchSheet;
use std::fmt::{self, Display, Formatter};

/// What the page needs from a content security policy: its own style and its own fonts, nothing else.
pub const SHEET_CONTENT_SECURITY_POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; font-src data:; \
     base-uri 'none'; form-action 'none'; frame-ancestors 'self'";

const STYLE: &str = include_str!("sheet.css");
const FONTS: [(&str, u16, &[u8]); 4] = [
    ("Hyperlegible", 400, include_bytes!("../../fonts/atkinson-hyperlegible-next-regular.woff2")),
    ("Hyperlegible", 600, include_bytes!("../../fonts/atkinson-hyperlegible-next-semibold.woff2")),
    ("Hyperlegible", 700, include_bytes!("../../fonts/atkinson-hyperlegible-next-bold.woff2")),
    ("Literata", 500, include_bytes!("../../fonts/literata-medium.woff2")),
];

/// The sheet as a page to print on A4 or Letter: black on white, weights in large tabular figures, boxes to write in.
#[must_use]
pub fn sheet_html(sheet: &BatchSheet) -> String {
    Page(&Printed::of(sheet)).to_string()
}

struct Page<'a>(&'a Printed);

impl Display for Page<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        let printed = self.0;
        f.write_str("<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n")?;
        f.write_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")?;
        writeln!(f, "<title>Batch sheet: {}</title>", Markup(&printed.running))?;
        f.write_str("<style>\n")?;
        for (family, weight, bytes) in FONTS {
            writeln!(
                f,
                "@font-face{{font-family:\"{family}\";font-weight:{weight};src:url(data:font/woff2;base64,{}) format(\"woff2\")}}",
                Base64(bytes)
            )?;
        }
        f.write_str(STYLE)?;
        writeln!(
            f,
            "@page {{ @bottom-left {{ content: \"{}\"; }} @bottom-right {{ content: \"Page \" counter(page) \" of \" counter(pages); }} }}",
            StyleString(&printed.running)
        )?;
        f.write_str("</style>\n</head>\n<body>\n<main class=\"paper\">\n")?;
        head(f, printed)?;
        f.write_str(TABLE_HEAD)?;
        for step in &printed.steps {
            one_step(f, step)?;
        }
        f.write_str("</table>\n")?;
        making(f, &printed.making)?;
        end(f, printed)?;
        f.write_str("</main>\n</body>\n</html>\n")
    }
}

fn head(f: &mut Formatter<'_>, printed: &Printed) -> fmt::Result {
    writeln!(
        f,
        "<header class=\"head\">\n<p class=\"what\">Batch sheet</p>\n<h1>{}</h1>",
        Markup(&printed.product)
    )?;
    f.write_str("<dl class=\"particulars\">\n")?;
    for (label, value) in &printed.particulars {
        writeln!(f, "<div><dt>{}</dt><dd>{}</dd></div>", Markup(label), Markup(value))?;
    }
    f.write_str("</dl>\n<div class=\"blanks\">")?;
    for label in ["Made by", "Made on", "Batch number", "Vessel and stirrer empty, g"] {
        write!(f, "<span class=\"blank\"><span class=\"label\">{label}</span></span>")?;
    }
    f.write_str("</div>\n</header>\n")
}

/// One table for all phases, so that its head stands once on every page.
const TABLE_HEAD: &str = "<table>\n<colgroup><col class=\"number\"><col class=\"material\"><col class=\"grams\"><col class=\"actual\">\
    <col class=\"lot\"><col class=\"time\"><col class=\"initials\"></colgroup>\n<thead><tr><th scope=\"col\">Line</th>\
    <th scope=\"col\" class=\"material\">Raw material</th><th scope=\"col\" class=\"grams\">Weigh, g</th><th scope=\"col\">Actual, g</th>\
    <th scope=\"col\">Lot</th><th scope=\"col\">Time</th><th scope=\"col\">Initials</th></tr></thead>\n";

fn one_step(f: &mut Formatter<'_>, step: &PrintedStep) -> fmt::Result {
    write!(
        f,
        "<tbody class=\"step\">\n<tr><th scope=\"rowgroup\"><span class=\"visually-hidden\">Phase </span>{}</th><td colspan=\"6\">",
        Markup(&step.phase)
    )?;
    f.write_str("<p class=\"instruction\">")?;
    if let Some(temperature) = &step.temperature {
        write!(f, "<strong class=\"temperature\">{}</strong> ", Markup(temperature))?;
    }
    if let Some(instruction) = &step.instruction {
        write!(f, "{}", Markup(instruction))?;
    }
    f.write_str("</p>\n")?;
    cautions(f, &step.cautions)?;
    f.write_str("</td></tr>\n</tbody>\n")?;
    for line in &step.lines {
        one_line(f, line)?;
    }
    if step.lines.len() > 1 {
        writeln!(
            f,
            "<tbody class=\"subtotal\"><tr><td></td><td class=\"material\">Phase {} together</td><td class=\"grams\">{}</td><td colspan=\"4\"></td></tr></tbody>",
            Markup(&step.phase),
            Markup(step.subtotal.trim_end_matches("\u{00A0}g"))
        )?;
    }
    Ok(())
}

fn cautions(f: &mut Formatter<'_>, cautions: &[PrintedCaution]) -> fmt::Result {
    if cautions.is_empty() {
        return Ok(());
    }
    f.write_str("<ul class=\"cautions\" aria-label=\"Take care\">\n")?;
    for caution in cautions {
        f.write_str("<li>")?;
        f.write_str(CARE_SHAPE)?;
        f.write_str("<span>")?;
        if let Some(concerns) = &caution.concerns {
            write!(f, "<strong>{}.</strong> ", Markup(concerns))?;
        }
        writeln!(f, "{}</span></li>", Markup(&caution.text))?;
    }
    f.write_str("</ul>\n")
}

/// A triangle, drawn: it says "care" in greyscale too.
const CARE_SHAPE: &str = "<svg class=\"shape\" viewBox=\"0 0 20 20\" role=\"img\" aria-label=\"care\"><path d=\"M10 2 19 18H1Z\"/></svg>";
/// A half-filled disc: the balance sees only half of it.
const WEAK_SHAPE: &str = "<svg class=\"shape\" viewBox=\"0 0 20 20\" role=\"img\" aria-label=\"weak\"><circle cx=\"10\" cy=\"10\" r=\"8\" class=\"open\"/><path d=\"M10 2a8 8 0 0 1 0 16Z\"/></svg>";

fn one_line(f: &mut Formatter<'_>, line: &PrintedLine) -> fmt::Result {
    write!(f, "<tbody class=\"line\">\n<tr><th scope=\"row\" class=\"number\">{}", Markup(&line.number))?;
    if line.has_caution {
        f.write_str(CARE_SHAPE)?;
    }
    write!(f, "</th><td class=\"material\"><span class=\"name\">{}</span>", Markup(&line.name))?;
    for detail in [&line.share, &line.known].into_iter().chain(&line.note) {
        write!(f, "<span class=\"detail\">{}</span>", Markup(detail))?;
    }
    write!(
        f,
        "</td><td class=\"grams\"><strong>{}</strong><span class=\"detail\">{}</span></td>",
        Markup(&line.grams),
        Markup(&line.tolerance)
    )?;
    writeln!(
        f,
        "<td class=\"box\"></td><td class=\"box\">{}</td><td class=\"box\"></td><td class=\"box\"></td></tr>",
        Markup(&line.lot)
    )?;
    if let Some(weak) = &line.weak {
        writeln!(
            f,
            "<tr class=\"aside\"><td>{WEAK_SHAPE}</td><td colspan=\"6\"><p>{}</p></td></tr>",
            Markup(weak)
        )?;
    }
    if let Some(adjust) = &line.adjust {
        write!(f, "<tr class=\"aside\"><td></td><td colspan=\"6\"><p>{}</p>", Markup(adjust))?;
        f.write_str("<div class=\"additions\" role=\"group\" aria-label=\"Additions\">")?;
        for number in 1..=5 {
            write!(f, "<span><b>{number}</b><i>g</i><i>pH</i></span>")?;
        }
        f.write_str("</div></td></tr>\n")?;
    }
    f.write_str("</tbody>\n")
}

/// How it is made: what is done, with boxes for what happened.
fn making(f: &mut Formatter<'_>, steps: &[PrintedMaking]) -> fmt::Result {
    if steps.is_empty() {
        return Ok(());
    }
    f.write_str("<section class=\"making\">\n<h2 class=\"title\">How it is made</h2>\n<table>\n<colgroup><col class=\"number\"><col class=\"material\"><col class=\"lot\"><col class=\"lot\"><col class=\"initials\"></colgroup>\n")?;
    f.write_str("<thead><tr><th scope=\"col\">Step</th><th scope=\"col\" class=\"material\">What is done</th><th scope=\"col\">Temperature, \u{00B0}C, and speed</th><th scope=\"col\">From, to</th><th scope=\"col\">Initials</th></tr></thead>\n")?;
    for step in steps {
        write!(
            f,
            "<tbody class=\"line\"><tr><th scope=\"row\" class=\"number\">{}</th><td class=\"material\"><p>{}</p>",
            Markup(&step.number),
            Markup(&step.instruction)
        )?;
        for detail in std::iter::once(&step.how).chain(&step.lines).filter(|detail| !detail.is_empty()) {
            write!(f, "<span class=\"detail\">{}</span>", Markup(detail))?;
        }
        for check in &step.checks {
            write!(f, "<span class=\"detail look\"><i></i>{}</span>", Markup(check))?;
        }
        let care: Vec<PrintedCaution> =
            step.cautions.iter().map(|text| PrintedCaution { concerns: None, text: text.clone() }).collect();
        cautions(f, &care)?;
        f.write_str(
            "</td><td class=\"box\"></td><td class=\"box\"></td><td class=\"box\"></td></tr></tbody>\n",
        )?;
    }
    f.write_str("</table>\n</section>\n")
}

fn end(f: &mut Formatter<'_>, printed: &Printed) -> fmt::Result {
    f.write_str("<section class=\"end\">\n")?;
    writeln!(
        f,
        "<p class=\"total\"><span>All lines together</span><strong>{}</strong></p>",
        Markup(&printed.total)
    )?;
    f.write_str("<div class=\"blanks\">")?;
    let mut blanks =
        vec!["Vessel with product, g", "Water made up, g", "Net product, g", "Temperature, \u{00B0}C"];
    blanks.extend(["pH, neat", "Viscosity, with spindle and speed", "Look and smell", "Checked by"]);
    for label in blanks {
        write!(f, "<span class=\"blank\"><span class=\"label\">{label}</span></span>")?;
    }
    f.write_str("</div>\n</section>\n")?;
    if !printed.remedies.is_empty() {
        f.write_str("<section class=\"remedies\">\n<h2 class=\"title\">Lines this balance weighs poorly, and what helps</h2>\n")?;
        for remedies in &printed.remedies {
            one_remedy(f, remedies)?;
        }
        f.write_str("<p class=\"small\">Each way stands for itself; where several stocks take water off one line, take the sum.</p>\n</section>\n")?;
    }
    f.write_str("<section class=\"notes\">\n<h2 class=\"title\">How to read this sheet</h2>\n<ul>\n")?;
    for text in printed.legend.iter().chain(&printed.notes) {
        writeln!(f, "<li>{}</li>", Markup(text))?;
    }
    writeln!(
        f,
        "</ul>\n<p class=\"small colophon\">{}. {}. Levigate.</p>\n</section>",
        Markup(&printed.running),
        Markup(&printed.date)
    )
}

fn one_remedy(f: &mut Formatter<'_>, remedies: &PrintedRemedies) -> fmt::Result {
    writeln!(
        f,
        "<div class=\"remedy\"><h3>{}</h3><p>{}.</p><dl>",
        Markup(&remedies.line),
        Markup(&remedies.verdict)
    )?;
    for (way, text) in &remedies.ways {
        writeln!(f, "<div><dt>{}</dt><dd>{}</dd></div>", Markup(way), Markup(text))?;
    }
    f.write_str("</dl></div>\n")
}

struct Base64<'a>(&'a [u8]);

impl Display for Base64<'_> {
    fn fmt(&self, f: &mut Formatter<'_>) -> fmt::Result {
        const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        let mut text = String::with_capacity(self.0.len().div_ceil(3) * 4);
        for chunk in self.0.chunks(3) {
            let word = chunk
                .iter()
                .enumerate()
                .fold(0u32, |word, (at, byte)| word | u32::from(*byte) << (16 - 8 * at));
            for place in 0..4 {
                let index = (word >> (18 - 6 * place)) & 63;
                text.push(if place <= chunk.len() { char::from(ALPHABET[index as usize]) } else { '=' });
            }
        }
        f.write_str(&text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_follows_the_vectors_of_rfc_4648() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(Base64(plain.as_bytes()).to_string(), coded);
        }
    }
}
