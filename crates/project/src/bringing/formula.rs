//! A table as one formula: a line in every row, phases in rows of their own or in a column.
//!
//! The sum is told and never repaired. A name that is not on file stays as it stands: the formula page asks about it, as it does about a
//! name typed there.

use super::keep::Planned;
use super::names::Meant;
use super::reading::{self, Amount, Unread};
use super::shares::{self, Settled};
use super::table::{Cell, Row, Stored};
use super::{CellTrouble, Changed, Desk, Fate, Field, FormulaRead, Question, says_sum};
use crate::formula_file;
use crate::records::{Formula, FormulaVersion, Kept};
use crate::workbench::keeping::short;
use levigate_formula::names::folded;
use levigate_formula::sheet;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Name of a phase that the table does not name.
const UNNAMED: &str = "A";
/// Most characters of remarks around the list that are kept with the formula.
const MOST_ASIDES: usize = 2_000;
/// Longest name taken from a title block.
const LONGEST_NAME: usize = 120;

/// An entry before the amounts are looked at together.
pub(super) struct Entry<'r> {
    pub(super) row: &'r Row,
    phase: usize,
    pub(super) name: String,
    words: String,
    pub(super) amount: Amount,
    assay: Option<Decimal>,
    notes: Vec<String>,
    pub(super) troubles: Vec<CellTrouble>,
}

pub(super) fn read(desk: &mut Desk<'_>) -> (Option<FormulaRead>, Vec<Planned>) {
    let (phases, mut entries, stated) = entries(desk);
    let settled = shares::settle(desk, &mut entries, stated);
    let lines = settle(desk, &phases, entries);
    let Some((read, planned)) = lines.and_then(|lines| formula(desk, phases, lines, &settled)) else {
        return (None, Vec::new());
    };
    desk.rows.sort_by_key(|row| row.line);
    (Some(read), planned.into_iter().collect())
}

/// The rows as entries, with the phases in the order they come, and what the last row that sums up the others states.
fn entries<'r>(desk: &mut Desk<'r>) -> (Vec<String>, Vec<Entry<'r>>, Option<Decimal>) {
    let rows: Vec<&Row> = desk.listed().collect();
    let has_amount = |desk: &Desk<'_>, row: &Row| {
        desk.cell(row, Field::Percent).is_some_and(|cell| reading::amount(cell, desk.decimal).is_ok())
    };
    let last = rows.iter().rposition(|row| has_amount(desk, row)).unwrap_or(0);
    let mut phases: Vec<String> = Vec::new();
    let mut current: Option<usize> = None;
    let mut entries = Vec::new();
    let mut stated = None;
    let enter_phase = |name: &str, phases: &mut Vec<String>| {
        let found = phases.iter().position(|phase| folded(phase) == folded(name));
        found.unwrap_or_else(|| {
            phases.push(name.to_owned());
            phases.len() - 1
        })
    };
    for (at, row) in rows.into_iter().enumerate() {
        if desk.set_aside(row) {
            continue;
        }
        let named = desk.text(row, Field::Phase);
        if !named.is_empty() {
            current = Some(enter_phase(&phase_name(named).unwrap_or_else(|| short(named)), &mut phases));
        }
        let (name, _) = desk.name_of(row);
        let amount = desk.cell(row, Field::Percent);
        let only: Vec<&Cell> = row.filled().map(|(_, cell)| cell).collect();
        if let ([one], None) = (only.as_slice(), amount)
            && let Some(phase) = phase_name(&one.text)
        {
            current = Some(enter_phase(&phase, &mut phases));
            desk.told(row.line, Fate::PassedOver, format!("begins phase {phase}"), Vec::new(), Vec::new());
            continue;
        }
        if let Some(words) = sum_row(row, name, amount) {
            stated = match amount.map(|cell| reading::amount(cell, desk.decimal)) {
                Some(Ok(Amount::Percent(value, false) | Amount::Grams(value))) => Some(value),
                _ => stated,
            };
            desk.told(row.line, Fate::PassedOver, words, Vec::new(), Vec::new());
            continue;
        }
        if amount.is_none() && (name.is_empty() || at > last || only.len() == 1) {
            let words =
                format!("a remark: {}", only.first().map(|cell| short(&cell.text)).unwrap_or_default());
            let whole: Vec<&str> = only.iter().map(|cell| cell.text.as_str()).collect();
            desk.asides.push(whole.join(" "));
            desk.told(row.line, Fate::PassedOver, words, Vec::new(), Vec::new());
            continue;
        }
        let phase = current.unwrap_or_else(|| enter_phase(UNNAMED, &mut phases));
        entries.push(entry(desk, row, phase));
    }
    (phases, entries, stated)
}

fn entry<'r>(desk: &mut Desk<'r>, row: &'r Row, phase: usize) -> Entry<'r> {
    let mut troubles = Vec::new();
    let mut notes = Vec::new();
    let (typed, _) = desk.name_of(row);
    let typed = typed.to_owned();
    let mut words = typed.clone();
    let mut name = typed.clone();
    if typed.is_empty() {
        let unread = Unread::new("this amount has no raw material", "type its name, or leave the row out");
        troubles.push(desk.trouble(row, Field::Material, unread));
    } else {
        match desk.meant(row, &typed) {
            Meant::Known(key) | Meant::Like(key) => {
                if let Some(material) = desk.on_file.facts.library.materials.get(&key) {
                    name.clone_from(&material.name);
                    if folded(&material.name) != folded(&typed) {
                        words = format!("{typed}, taken as {}", material.name);
                    } else {
                        words.clone_from(&material.name);
                    }
                }
            }
            Meant::Unknown(offers) => {
                let name = short(&typed);
                notes.push(match offers.first() {
                    Some(first) => format!("\"{name}\" is not on file; it stands as it is until you pick what it is, perhaps {}.", first.name),
                    None => format!("\"{name}\" is not on file; it stands as it is, and the formula page asks about it."),
                });
            }
        }
    }
    let amount = match desk.cell(row, Field::Percent) {
        None => Err(Unread::new("the amount is missing", "type the percent, q.s. to 100, or to pH 5.5")),
        Some(cell) => reading::amount(cell, desk.decimal),
    };
    let amount = amount.unwrap_or_else(|unread| {
        troubles.push(desk.trouble(row, Field::Percent, unread));
        Amount::Percent(Decimal::ZERO, false)
    });
    let assay = desk.cell(row, Field::Assay).map(|cell| reading::share(cell, desk.decimal));
    let assay = match assay {
        Some(Ok(value)) if value > Decimal::ZERO && value <= Decimal::ONE_HUNDRED => Some(value),
        Some(Ok(value)) => {
            notes.push(format!("An assay of {value} % cannot be; it is left out."));
            None
        }
        Some(Err(unread)) => {
            notes.push(format!("The assay is left out: {}.", unread.what));
            None
        }
        None => None,
    };
    Entry { row, phase, name, words, amount, assay, notes, troubles }
}

/// `Phase A`, `B)`, `A - water phase`: the name of the phase.
fn phase_name(text: &str) -> Option<String> {
    let trimmed = text.trim().trim_end_matches([':', '.', ')', '-', ' ']);
    let lower = trimmed.to_lowercase();
    let prefix = ["phase", "fase", "part", "teil"]
        .into_iter()
        .find(|word| lower.strip_prefix(word).is_some_and(|rest| rest.starts_with([' ', ':', '-', '.'])));
    if let Some(prefix) = prefix {
        let rest = trimmed.get(prefix.len()..)?.trim_start_matches([' ', ':', '-', '.']).trim();
        return (!rest.is_empty()).then(|| short(rest));
    }
    if lower.ends_with(" phase") || lower.ends_with("phase") && lower.chars().count() < 30 {
        return Some(short(trimmed));
    }
    let short_mark = trimmed.chars().count() <= 2 && trimmed.chars().all(char::is_alphanumeric);
    let letter = trimmed.chars().next().is_some_and(char::is_alphabetic);
    (short_mark && letter).then(|| trimmed.to_uppercase())
}

/// A row that sums the others up, in words.
fn sum_row(row: &Row, name: &str, amount: Option<&Cell>) -> Option<String> {
    let hundred = name.is_empty()
        && amount.is_some_and(|cell| match &cell.stored {
            Stored::Number(value) | Stored::Percent(value) => cell.formula || *value == Decimal::ONE_HUNDRED,
            _ => cell.text.trim_end_matches(['%', ' ']).trim_end_matches(['0', '.', ',']) == "1",
        });
    if !says_sum(row) && !hundred {
        return None;
    }
    let written =
        amount.filter(|cell| cell.stored != Stored::Error).map(|cell| format!(": {}", short(&cell.text)));
    Some(format!("a sum of the sheet{}", written.unwrap_or_default()))
}

/// The lines with their amounts, looked at together.
fn settle(
    desk: &mut Desk<'_>,
    phases: &[String],
    mut entries: Vec<Entry<'_>>,
) -> Option<Vec<(usize, usize, sheet::Line)>> {
    let filling: Vec<usize> =
        (0..entries.len()).filter(|at| entries[*at].amount == Amount::Remainder).collect();
    // A bare q.s. fills up where nothing else does and it is the only one, or stands at the water.
    let bare: Vec<usize> = (0..entries.len()).filter(|at| entries[*at].amount == Amount::Enough).collect();
    let water = bare.iter().copied().find(|at| is_water(desk, &entries[*at].name));
    let fills =
        filling.first().copied().or(water).or(if bare.len() == 1 { bare.first().copied() } else { None });
    for at in bare {
        if Some(at) == fills {
            entries[at].amount = Amount::Remainder;
            continue;
        }
        let unread = Unread::new(
            "q.s. does not say to what, and another line fills up to 100",
            "type the percent, or the pH it is added for: to pH 5.5",
        );
        let trouble = desk.trouble(entries[at].row, Field::Percent, unread);
        entries[at].troubles.push(trouble);
    }
    for at in filling.into_iter().skip(1) {
        let unread =
            Unread::new("a line above fills up to 100 already", "only one line can; type the percent");
        let trouble = desk.trouble(entries[at].row, Field::Percent, unread);
        entries[at].troubles.push(trouble);
    }
    let mut lines = Vec::new();
    for mut entry in entries {
        let amount = match entry.amount {
            Amount::Remainder => Some((sheet::Amount::Remainder(true), "q.s. to 100".to_owned())),
            Amount::ToPh(ph) if ph >= Decimal::ZERO && ph <= Decimal::from(14) => {
                Some((sheet::Amount::ToPh(ph), format!("q.s. to pH {ph}")))
            }
            Amount::Percent(value, _) if value >= Decimal::ZERO && value <= Decimal::ONE_HUNDRED => {
                Some((sheet::Amount::Percent(value), format!("{value} %")))
            }
            _ => None,
        };
        let row = entry.row;
        if amount.is_none() && entry.troubles.is_empty() {
            let unread = Unread::new(
                "this amount cannot be in a formula",
                "type 0 to 100 percent, or a pH from 0 to 14",
            );
            entry.troubles.push(desk.trouble(row, Field::Percent, unread));
        }
        let (Some((amount, words)), true) = (amount, entry.troubles.is_empty()) else {
            desk.entry(row.line, Fate::NotUnderstood, entry.words, entry.troubles, entry.notes);
            continue;
        };
        let filled = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
        let line = sheet::Line {
            material: entry.name,
            amount,
            assay_percent: entry.assay,
            lot: filled(desk.text(row, Field::Lot)),
            note: filled(desk.text(row, Field::Note)),
            tolerance_percent: None,
        };
        let phase = phases.get(entry.phase).map(String::as_str).unwrap_or(UNNAMED);
        desk.told(
            row.line,
            Fate::Made,
            format!("phase {phase}: {}, {words}", entry.words),
            Vec::new(),
            entry.notes,
        );
        lines.push((row.line, entry.phase, line));
    }
    if lines.is_empty() {
        if desk.missing.is_empty() {
            desk.missing.push("No row of it is a line of a formula.".to_owned());
        }
        return None;
    }
    Some(lines)
}

fn is_water(desk: &Desk<'_>, name: &str) -> bool {
    desk.on_file.facts.names.resolve_material(name) == desk.on_file.facts.names.resolve_material("water")
}

fn formula(
    desk: &mut Desk<'_>,
    phases: Vec<String>,
    lines: Vec<(usize, usize, sheet::Line)>,
    settled: &Settled,
) -> Option<(FormulaRead, Option<Planned>)> {
    let (sum, sum_words, fill) = summed(desk, &lines, &settled.fill);
    let sum_words = format!("{} {sum_words}", settled.words).trim_start().to_owned();
    let (name, name_from) = name(desk);
    let given = |text: &str, usual: &str| if text.trim().is_empty() { usual.to_owned() } else { short(text) };
    let (kind, site) = (given(&desk.asked.kind, "serum"), given(&desk.asked.site, "face"));
    let product = sheet::Product {
        name: name.clone(),
        kind: kind.clone(),
        site: site.clone(),
        leave_on: !desk.asked.rinse_off,
        markets: Vec::new(),
        client: None,
        note: Some(note(desk, &sum_words)),
    };
    let phases: Vec<sheet::Phase> = phases
        .into_iter()
        .enumerate()
        .map(|(at, name)| sheet::Phase {
            name,
            temperature_c: None,
            step: None,
            lines: lines.iter().filter(|(_, phase, _)| *phase == at).map(|(.., line)| line.clone()).collect(),
        })
        .filter(|phase| !phase.lines.is_empty())
        .collect();
    let made = sheet::Sheet {
        product,
        target: sheet::Target::default(),
        batch: sheet::Batch::default(),
        phases,
        steps: Vec::new(),
    };
    // What could not be read again would be lost to everybody.
    let text = formula_file::write(&made, None).ok().filter(|text| formula_file::read("x", text).is_ok());
    let Some(text) = text else {
        desk.missing.push(
            "The formula holds signs that a formula file cannot; take unusual signs out of the names."
                .to_owned(),
        );
        return None;
    };
    let (becomes, planned) = becomes(desk, &name, &made, text.clone());
    let read = FormulaRead {
        name,
        name_from,
        kind,
        site,
        leave_on: !desk.asked.rinse_off,
        sum,
        sum_words,
        fill,
        becomes,
        text,
    };
    Some((read, planned))
}

/// What the percentages add up to, what follows, and a cell that would let the water fill up.
fn summed(
    desk: &Desk<'_>,
    lines: &[(usize, usize, sheet::Line)],
    fill: &str,
) -> (Outcome, String, Option<Changed>) {
    let percents = lines.iter().filter_map(|(.., line)| match line.amount {
        sheet::Amount::Percent(value) => Some(value),
        _ => None,
    });
    let sum: Decimal = percents.sum::<Decimal>().normalize();
    let outcome = Outcome::new(
        sum.to_f64().unwrap_or(f64::NAN),
        "%",
        Grade::Computed,
        "sum of the percentages of the lines",
    )
    .proved_by("exact decimal");
    let hundred = Decimal::ONE_HUNDRED;
    let fills = lines.iter().find(|(.., line)| matches!(line.amount, sheet::Amount::Remainder(true)));
    if let Some((.., line)) = fills {
        let words = if sum >= hundred {
            format!("The other lines add up to {sum} %, so nothing is left for {}.", line.material)
        } else {
            let adjusted = lines.iter().any(|(.., line)| matches!(line.amount, sheet::Amount::ToPh(_)));
            let less = if adjusted { ", less what adjusts the pH" } else { "" };
            let left = hundred - sum;
            let filling = &line.material;
            format!("The other lines add up to {sum} %; {filling} fills up the {left} % that are left{less}.")
        };
        return (outcome, words, None);
    }
    let water = lines.iter().find(|(.., line)| is_water(desk, &line.material));
    let fill = water.zip(desk.layout.of(Field::Percent)).map(|((row, ..), column)| Changed {
        line: *row,
        column: column + 1,
        text: fill.to_owned(),
    });
    let words = if sum == hundred {
        "The amounts add up to 100 %, and no line is q.s.: the formula page asks which one fills up to 100."
            .to_owned()
    } else {
        format!(
            "The amounts add up to {sum} %, not 100 %, and no line is q.s. Nothing was changed: look whether a row is missing."
        )
    };
    (outcome, words, fill)
}

/// The name and where it comes from.
fn name(desk: &Desk<'_>) -> (String, String) {
    if !desk.asked.name.trim().is_empty() {
        return (desk.asked.name.trim().chars().take(LONGEST_NAME).collect(), "typed".to_owned());
    }
    let above = desk.layout.header.unwrap_or(0);
    let cells: Vec<(usize, &Cell)> = desk.table.rows[..above]
        .iter()
        .flat_map(|row| row.filled().map(|(_, cell)| (row.line, cell)))
        .filter(|(_, cell)| cell.stored == Stored::Text)
        .collect();
    let labels = [
        "product name",
        "formula name",
        "product",
        "formula",
        "name",
        "produkt",
        "rezeptur",
        "formule",
        "produit",
        "title",
    ];
    for (at, (line, cell)) in cells.iter().enumerate() {
        let (label, rest) =
            cell.text.split_once(':').map_or((cell.text.as_str(), ""), |(label, rest)| (label, rest.trim()));
        if !labels.contains(&folded(label).as_str()) {
            continue;
        }
        let beside = cells.get(at + 1).filter(|(other, _)| other == line).map(|(_, cell)| cell.text.as_str());
        if let Some(name) = Some(rest).filter(|rest| !rest.is_empty()).or(beside) {
            return (name.chars().take(LONGEST_NAME).collect(), format!("row {line} of the table"));
        }
    }
    let titled = cells.iter().find(|(_, cell)| {
        let letters = cell.text.chars().filter(|sign| sign.is_alphabetic()).count();
        letters >= 4 && cell.text.chars().count() <= LONGEST_NAME && !cell.text.contains(':')
    });
    if let Some((line, cell)) = titled {
        return (cell.text.clone(), format!("row {line} of the table"));
    }
    let sheet = desk.table.sheet.trim();
    let usual = folded(sheet).trim_end_matches(|sign: char| sign.is_ascii_digit() || sign == ' ').to_owned();
    if !sheet.is_empty()
        && !["sheet", "tabelle", "feuil", "hoja", "foglio", "table"].contains(&usual.as_str())
    {
        return (sheet.to_owned(), "the name of the sheet".to_owned());
    }
    let file = desk.file.rsplit(['/', '\\']).next().unwrap_or_default();
    let stem = file.rsplit_once('.').map_or(file, |(stem, _)| stem).replace('_', " ");
    if stem.trim().is_empty() || stem == "-" {
        return ("Formula brought in".to_owned(), "nothing in the table names it".to_owned());
    }
    (stem.trim().chars().take(LONGEST_NAME).collect(), "the name of the file".to_owned())
}

/// What is written on the formula about where it comes from and what was not understood.
fn note(desk: &Desk<'_>, sum_words: &str) -> String {
    let mut parts = vec![format!("Brought in from {}.", desk.file_words())];
    let rows = |fate: Fate| {
        let lines: Vec<String> = desk
            .rows
            .iter()
            .filter(|row| row.fate == fate)
            .take(20)
            .map(|row| {
                let what = row.troubles.first().map(|one| format!(": {}", one.what)).unwrap_or_default();
                format!("row {} ({}{what})", row.line, short(&row.words))
            })
            .collect();
        lines.join("; ")
    };
    let left = rows(Fate::LeftOut);
    if !left.is_empty() {
        parts.push(format!("Left out: {left}."));
    }
    let unknown: Vec<String> = desk
        .rows
        .iter()
        .filter(|row| row.fate == Fate::Made && row.notes.iter().any(|note| note.contains("is not on file")))
        .take(20)
        .map(|row| format!("row {}", row.line))
        .collect();
    if !unknown.is_empty() {
        parts.push(format!("Not on file under their names: {}.", unknown.join(", ")));
    }
    parts.push(sum_words.to_owned());
    if !desk.asides.is_empty() {
        let asides: String = desk.asides.join(" / ").chars().take(MOST_ASIDES).collect();
        parts.push(format!("Written around the list: {asides}"));
    }
    parts.join(" ")
}

/// The same lines in the same phases, whatever is written beside them.
fn same(one: &sheet::Sheet, other: &sheet::Sheet) -> bool {
    let plain = |sheet: &sheet::Sheet| -> Vec<(String, Vec<sheet::Line>)> {
        let lines = |phase: &sheet::Phase| {
            phase.lines.iter().cloned().map(|line| sheet::Line { note: None, ..line }).collect()
        };
        sheet.phases.iter().map(|phase| (folded(&phase.name), lines(phase))).collect()
    };
    plain(one) == plain(other)
}

/// What becomes of it: a formula, the next version of one, nothing.
fn becomes(desk: &mut Desk<'_>, name: &str, made: &sheet::Sheet, text: String) -> (String, Option<Planned>) {
    let reason = format!("Brought in from {}", desk.file_words());
    let wanted = folded(name);
    let namesakes: Vec<&(Kept<Formula>, Vec<Kept<FormulaVersion>>)> = desk
        .on_file
        .formulas
        .iter()
        .filter(|(formula, versions)| {
            let newest = versions.last().and_then(|version| formula_file::read("x", &version.what.text).ok());
            folded(&formula.what.name) == wanted
                || newest.is_some_and(|file| folded(&file.sheet.product.name) == wanted)
        })
        .collect();
    for (formula, versions) in &namesakes {
        let there = versions.iter().rev().find(|version| {
            formula_file::read("x", &version.what.text).is_ok_and(|file| same(&file.sheet, made))
        });
        if let Some(version) = there {
            let words = format!(
                "It is version {} of {} already; nothing is made.",
                version.number, formula.what.name
            );
            for row in desk.rows.iter_mut().filter(|row| row.fate == Fate::Made) {
                row.fate = Fate::There;
            }
            return (words, None);
        }
    }
    let new = Planned::Formula { name: name.to_owned(), text: text.clone(), reason: reason.clone() };
    let Some((formula, versions)) = namesakes.first() else {
        return ("A new formula, its first version.".to_owned(), Some(new));
    };
    let newest = versions.last().map_or(0, |version| version.number);
    desk.ask(Question {
        id: "onto",
        what: format!(
            "A formula called {} is on file already, with other lines. What is this?",
            formula.what.name
        ),
        why: "Nothing that was saved is overwritten.".to_owned(),
        choices: vec![
            ("version".to_owned(), format!("its next version, number {}", newest + 1)),
            ("formula".to_owned(), "another formula of the same name".to_owned()),
        ],
        answer: desk.asked.onto.clone(),
    });
    match desk.asked.onto.as_str() {
        "version" => {
            let words = format!("Version {} of {}.", newest + 1, formula.what.name);
            (words, Some(Planned::Version { formula: formula.id, based_on: newest, text, reason }))
        }
        "formula" => ("A new formula, its first version.".to_owned(), Some(new)),
        _ => (String::new(), None),
    }
}
