//! The batch sheet, for the page and on paper.

use super::folders::{id_of, kept, newest, one_version, text_of};
use super::troubles::diagnosed;
use super::{Inner, WorkspaceDesk};
use crate::desk::{Answer, BatchLine, BatchMaking, BatchPhase, BatchRequest, BatchSheet};
#[cfg(feature = "pdf")]
use crate::papers::paper_of;
use crate::trouble::{Kind, Trouble};
use levigate_project::batch_sheet::{self as sheet, Part};
use levigate_project::formula_file;
use levigate_project::sheet::{Target, parse_typed, ph_read_in_words};
use levigate_project::workbench::complaint::sentence;
use levigate_project::workbench::sheet::{Balance, Bench, batch_sheet};
use rust_decimal::Decimal;

/// Keeps a figure and its unit on one line.
const SPACE: char = '\u{00A0}';

/// What the sheet is made of.
pub(super) struct Order {
    pub(super) text: String,
    version: String,
    pub(super) bench: Bench,
}

/// Reads what is asked for.
pub(super) async fn order(desk: &Inner, request: &BatchRequest) -> Answer<Order> {
    let id = id_of(&request.id)?;
    let (text, version) = match request.version {
        Some(number) => (one_version(desk, id, number).await?.what.text, format!("version {number}")),
        None => match kept(desk, id).await? {
            Some(kept) => (text_of(desk, &kept.draft)?, format!("draft after version {}", kept.base)),
            None => {
                let newest = newest(desk, id).await?;
                (newest.what.text, format!("version {}", newest.number))
            }
        },
    };
    let balance = grams("balance", &request.balance_g)?;
    let bench = Bench {
        size_g: grams("size", &request.size_g)?,
        balance: balance.map(Balance::with_readability).transpose().map_err(|error| {
            let (what, what_now) = (sentence(&error.to_string()), sentence(error.hint()));
            Trouble::new(Kind::BadInput, "balance", what, "No balance reads like that.", what_now)
                .in_field("balance")
        })?,
    };
    Ok(Order { text, version, bench })
}

fn grams(field: &str, typed: &str) -> Answer<Option<Decimal>> {
    if typed.trim().is_empty() {
        return Ok(None);
    }
    let wrong = |what: String, what_now: &str| {
        Trouble::new(Kind::BadInput, "not-a-mass", what, "A batch is weighed in grams.", what_now)
            .in_field(field)
    };
    match parse_typed(typed) {
        Ok(grams) if grams > Decimal::ZERO => Ok(Some(grams)),
        Ok(grams) => {
            Err(wrong(format!("{grams} g cannot be weighed."), "Type grams above zero, such as 200."))
        }
        Err(error) => Err(wrong(sentence(&error.to_string()), &sentence(error.hint()))),
    }
}

async fn made(desk: &WorkspaceDesk, request: &BatchRequest) -> Answer<(sheet::BatchSheet, Target, String)> {
    let order = order(&desk.inner, request).await?;
    desk.work(move |desk| {
        let target = formula_file::read(super::folders::FILE, &order.text).map(|file| file.sheet.target);
        let target = target.map_err(|list| diagnosed("formula-file", &list))?;
        let facts = desk.shelf.facts();
        batch_sheet(&facts, desk.day(), &order.bench, super::folders::FILE, &order.text)
            .map(|sheet| (sheet, target, order.version))
            .map_err(|list| diagnosed("batch-sheet", &list))
    })
    .await?
}

/// The sheet for the page.
pub(super) async fn page(desk: &WorkspaceDesk, request: &BatchRequest) -> Answer<BatchSheet> {
    let (sheet, target, version) = made(desk, request).await?;
    let mass = |grams: Decimal| format!("{grams}{SPACE}g");
    Ok(BatchSheet {
        size: mass(sheet.size_g),
        balance: mass(sheet.balance.readability_g),
        cautions: Vec::new(),
        total: mass(sheet.total_g),
        checks: checks(&target),
        making: sheet.making.into_iter().map(making).collect(),
        phases: sheet.steps.into_iter().map(phase).collect(),
        product: sheet.product,
        version,
        code: sheet.version_code,
    })
}

/// The sheet on paper.
#[cfg(feature = "pdf")]
pub(super) async fn pdf(desk: &WorkspaceDesk, request: &BatchRequest) -> Answer<Vec<u8>> {
    let paper = paper_of(&request.paper)?;
    let (sheet, _, _) = made(desk, request).await?;
    desk.work(move |_| levigate_documents::sheet_pdf_on(&sheet, paper)).await?.map_err(|error| {
        Trouble::new(
            Kind::Failed,
            "pdf",
            sentence(&error.to_string()),
            "The page layout refused it.",
            sentence(error.hint()),
        )
    })
}

/// The sheet on paper, in a program built without the page layout.
#[cfg(not(feature = "pdf"))]
pub(super) async fn pdf(desk: &WorkspaceDesk, request: &BatchRequest) -> Answer<Vec<u8>> {
    made(desk, request).await?;
    Err(without_pdf())
}

#[cfg(not(feature = "pdf"))]
pub(super) fn without_pdf() -> Trouble {
    Trouble::new(
        Kind::Failed,
        "no-pdf",
        "This program was built without PDF.",
        "The page layout was left out to keep it small.",
        "Take the workbook, or print the batch sheet from its page.",
    )
}

fn making(step: sheet::MakingStep) -> BatchMaking {
    let line = |line: sheet::MakingLine| {
        let part = if line.part { "Part of line" } else { "Line" };
        format!("{part}{SPACE}{} {}, {}{SPACE}g", line.number, line.name, line.grams)
    };
    BatchMaking {
        number: step.number,
        instruction: step.instruction,
        how: step.how,
        lines: step.lines.into_iter().map(line).collect(),
        checks: step.checks,
        cautions: step.cautions,
    }
}

fn phase(step: sheet::BatchStep) -> BatchPhase {
    let degrees = step.temperature_c.map(|degrees| format!("{}{SPACE}°C", degrees.normalize()));
    let words: Vec<String> = degrees.into_iter().chain(step.instruction).collect();
    let mut cautions: Vec<String> = step.cautions.into_iter().map(|caution| caution.text).collect();
    for line in &step.lines {
        for caution in &line.cautions {
            let text = format!("{}: {}", line.name, caution.text);
            if !cautions.contains(&text) {
                cautions.push(text);
            }
        }
    }
    BatchPhase {
        name: step.phase,
        step: words.join(": "),
        cautions,
        lines: step.lines.into_iter().map(line).collect(),
    }
}

fn line(line: sheet::BatchLine) -> BatchLine {
    let tolerance = if line.tolerance_g.is_zero() {
        format!("±{SPACE}{}{SPACE}%", line.tolerance_percent)
    } else {
        format!("±{SPACE}{}{SPACE}g", line.tolerance_g)
    };
    let mut advice = Vec::new();
    if let Part::ToPh { ph, first_percent, why, first_g, .. } = &line.part {
        let how = if first_g.is_zero() {
            format!("Read the pH first, then add it in portions to pH {ph}. The meter decides. {why}")
        } else {
            format!(
                "Add {first_g}{SPACE}g ({first_percent}{SPACE}%) first, stir, read the pH, then in portions to pH {ph}. The meter decides. {why}"
            )
        };
        advice.push(how.trim_end().to_owned());
    }
    if line.weighable.is_weak() {
        advice.push(sentence(&line.verdict));
        advice.extend(line.remedies.first().map(|remedy| remedy.text.clone()));
    }
    advice.extend(line.note.as_deref().map(sentence));
    BatchLine {
        number: line.number,
        material: line.name,
        lot: line.lot.unwrap_or_default(),
        percent: line.percent.to_string(),
        grams: line.grams.to_string(),
        tolerance,
        uncertainty: line.expanded.value.map(two_figures).unwrap_or_default(),
        advice: advice.join(" "),
    }
}

/// Two figures that mean something, percent.
fn two_figures(percent: f64) -> String {
    let digits = match percent {
        percent if percent >= 9.95 => 0,
        percent if percent >= 0.995 => 1,
        percent if percent >= 0.0995 => 2,
        _ => 3,
    };
    format!("{percent:.digits$}{SPACE}%")
}

/// What to look at when it is made.
fn checks(target: &Target) -> Vec<String> {
    let mut checks = Vec::new();
    match target.ph {
        Some([low, high]) => {
            let read = ph_read_in_words(&target.ph_read).replace(" °C", &format!("{SPACE}°C"));
            checks.push(format!("pH {} to {}, {read}", low.normalize(), high.normalize()));
        }
        None => checks.push(format!("pH, neat, 25{SPACE}°C")),
    }
    if let Some(viscosity) = &target.viscosity {
        let [low, high] = viscosity.mpa_s;
        let mut words = format!("Viscosity {} to {}{SPACE}mPa·s", low.normalize(), high.normalize());
        if let Some(spindle) = &viscosity.spindle {
            words.push_str(&format!(", {spindle}"));
        }
        let conditions =
            [(viscosity.speed_rpm, "rpm"), (viscosity.temperature_c, "°C"), (viscosity.age_h, "h old")];
        for (number, unit) in conditions {
            if let Some(number) = number {
                words.push_str(&format!(", {}{SPACE}{unit}", number.normalize()));
            }
        }
        checks.push(words);
    }
    match &target.clarity {
        Some(clarity) => checks.push(format!("Appearance: {clarity}; smell")),
        None => checks.push("Appearance and smell".to_owned()),
    }
    checks
}
