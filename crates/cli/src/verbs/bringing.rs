//! `import`: a formula, raw materials or lots out of a spreadsheet, all of it or nothing.

use crate::answer::{Answer, Failure, complaint};
use crate::arguments::{Common, Days, Import, ImportTable, ImportWhat, Months, Onto, Shares, Where};
use crate::input::{self, FactsUsed, InputBytes};
use crate::numbers;
use crate::paper::{Ink, Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused, who};
use crate::verbs::day;
use levigate_facts::Facts;
use levigate_project::bringing::{
    Asked, BringError, Changed, ColumnAsked, Fate, Field, Made, Preview, Standing, What, bring,
    look as look_at, standing,
};
use levigate_project::diagnostic::Diagnostic;
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    report: &'a Preview,
    made: &'a [Made],
    facts: &'a FactsUsed,
}

/// Brings a table in, or shows what it would bring.
pub(crate) fn import(common: &Common, asked: &Import, look: Look) -> Result<Answer, Failure> {
    let (what, table) = match &asked.what {
        ImportWhat::Formula(formula) => (What::Formula, &formula.table),
        ImportWhat::Material(table) => (What::Material, table),
        ImportWhat::Lot(table) => (What::Lot, table),
    };
    let mut question = question(what, table)?;
    if let ImportWhat::Formula(formula) = &asked.what {
        question.name.clone_from(&formula.name);
        question.kind.clone_from(&formula.kind);
        question.site.clone_from(&formula.site);
        question.rinse_off = formula.rinse_off;
        let shares = formula.shares.map(|shares| match shares {
            Shares::Percent => "percent",
            Shares::Fraction => "fraction",
            Shares::Grams => "grams",
        });
        question.shares = shares.unwrap_or_default().to_owned();
        let onto = formula.onto.map(|onto| match onto {
            Onto::Version => "version",
            Onto::Formula => "formula",
        });
        question.onto = onto.unwrap_or_default().to_owned();
    }
    let input = InputBytes::measured(&table.file)?;
    block_on(run(common, table, &input, &question, look))
}

async fn run(
    common: &Common,
    table: &ImportTable,
    input: &InputBytes,
    question: &Asked,
    look: Look,
) -> Result<Answer, Failure> {
    let (file, bytes) = (input.name.as_str(), input.bytes.as_slice());
    let wrong = |problems: Vec<Diagnostic>| Failure::bad_input(problems, None);
    let (report, made, used) = if table.dry_run {
        let (facts, used, standing) = on_file(common, &table.by.place, question.what).await?;
        let on_file = standing.clone().unwrap_or_default();
        let on_file = on_file.on_file(&facts, day(None), true);
        let mut report = look_at(&on_file, file, bytes, question).map_err(wrong)?;
        if standing.is_none() {
            report.remarks.push("There is no workspace yet, so nothing on file was compared.".to_owned());
        }
        (report, Vec::new(), used)
    } else {
        let shelf = Shelf::open(common, &table.by.place, Want::Write).await?;
        let who = who(table.by.who.as_ref(), shelf.sample);
        let brought =
            bring(&shelf.workspace, (&shelf.facts, day(None)), (&who, true), (file, bytes), question).await;
        match brought {
            Ok(brought) => (brought.report, brought.made, shelf.used),
            Err(BringError::Table(problems)) => return Err(wrong(problems)),
            Err(BringError::NotReady(report)) => return Err(wrong(problems(file, &report))),
            Err(BringError::Store(error)) => return Err(refused(&error)),
        }
    };
    if common.json {
        return Answer::json(&Written { report: &report, made: &made, facts: &used });
    }
    let mut paper = Paper::new(look);
    told(&mut paper, &report, &made, table.dry_run);
    Ok(Answer::text(paper.finish()))
}

/// The facts and what is on file; of the shipped and the named facts alone where there is no workspace, which is not made to look.
async fn on_file(
    common: &Common,
    place: &Where,
    what: What,
) -> Result<(Facts, FactsUsed, Option<Standing>), Failure> {
    if !Shelf::is_there(place)? {
        let (facts, used) = input::facts(&common.facts)?;
        return Ok((facts, used, None));
    }
    let shelf = Shelf::open(common, place, Want::Read).await?;
    let standing = standing(&shelf.workspace, what).await.map_err(|error| refused(&error))?;
    Ok((shelf.facts, shelf.used, Some(standing)))
}

fn question(what: What, table: &ImportTable) -> Result<Asked, Failure> {
    let mut asked = Asked {
        what,
        sheet: table.sheet.clone(),
        head: table.head,
        unit: table.unit.clone(),
        currency: table.currency.clone(),
        leave_out: table.leave_out.iter().copied().collect(),
        leave_out_rest: table.leave_out_rest,
        ..Asked::default()
    };
    asked.days = match table.days {
        Some(Days::DayFirst) => "day-first".to_owned(),
        Some(Days::MonthFirst) => "month-first".to_owned(),
        None => String::new(),
    };
    asked.months = match table.months {
        Some(Months::Last) => "last".to_owned(),
        Some(Months::First) => "first".to_owned(),
        None => String::new(),
    };
    for text in &table.columns {
        let (field, column) = pair("--columns", text, "write it like percent=Amount or percent=#3")?;
        asked.columns.push(ColumnAsked { column: column.to_owned(), field: field.to_owned() });
    }
    for text in &table.picks {
        let (name, picked) = pair("--pick", text, "write it like \"Gly 99=Glycerin 99.5 %\"")?;
        asked.picks.insert(name.to_owned(), picked.to_owned());
    }
    for text in &table.cells {
        let (cell, instead) = pair("--cell", text, "write it like C7=5.0")?;
        let (line, column) = place(cell).ok_or_else(|| {
            let what = format!("\"{cell}\" is not a cell");
            Failure::bad_option("not-a-cell", "--cell", what, "name it by column and row, like C7")
        })?;
        asked.changed.push(Changed { line, column, text: instead.to_owned() });
    }
    Ok(asked)
}

fn pair<'t>(option: &str, text: &'t str, what_now: &str) -> Result<(&'t str, &'t str), Failure> {
    match text.split_once('=') {
        Some((name, value)) if !name.trim().is_empty() => Ok((name.trim(), value.trim())),
        _ => {
            let what = format!("\"{text}\" has no equals sign with a name before it");
            Err(Failure::bad_option("not-a-pair", option, what, what_now))
        }
    }
}

/// Row and column of a cell, both from 1.
fn place(cell: &str) -> Option<(usize, usize)> {
    let digits = cell.find(|sign: char| sign.is_ascii_digit())?;
    let (letters, row) = cell.split_at(digits);
    if letters.is_empty() || letters.len() > 3 {
        return None;
    }
    let column = letters.chars().try_fold(0_usize, |sum, letter| {
        let letter = letter.to_ascii_uppercase();
        letter.is_ascii_uppercase().then(|| sum * 26 + (letter as usize - 'A' as usize) + 1)
    })?;
    Some((row.parse().ok()?, column))
}

/// Why nothing was brought in, each with its row and the option that helps.
fn problems(file: &str, report: &Preview) -> Vec<Diagnostic> {
    let mut problems = Vec::new();
    for question in report.questions.iter().filter(|question| question.answer.is_empty()) {
        let answers: Vec<String> = question
            .choices
            .iter()
            .map(|(answer, words)| format!("--{} {answer} ({words})", question.id))
            .collect();
        let what = format!("{} {}", question.what, question.why);
        problems.push(complaint(
            "not-answered",
            file,
            "",
            what,
            format!("answer with {}", answers.join(" or ")),
        ));
    }
    for row in report.rows.iter().filter(|row| row.fate == Fate::NotUnderstood) {
        for trouble in &row.troubles {
            let help = match trouble.offers.as_slice() {
                [] => trouble.what_now.clone(),
                offers => format!("{} ({})", trouble.what_now, offers.join(" or ")),
            };
            let mut problem = complaint("not-understood", file, &trouble.name, trouble.what.clone(), help);
            (problem.line, problem.column) = (row.line, trouble.column);
            problems.push(problem);
        }
    }
    if problems.is_empty() {
        let what_now = match report.what {
            _ if report.counts.there > 0 => "nothing is to be done",
            _ => "look at it with --dry-run, and say with --columns what the columns hold",
        };
        for missing in &report.missing {
            let what = missing.trim_end_matches('.').to_owned();
            problems.push(complaint("not-ready", file, "", what, what_now));
        }
    } else {
        let what = "nothing was written";
        let now = "mend the table, answer with --cell, --pick or --columns, or leave rows out with --leave-out or --leave-out-rest";
        problems.push(complaint("nothing-written", file, "", what, now));
    }
    problems
}

fn told(paper: &mut Paper, report: &Preview, made: &[Made], dry: bool) {
    let counts = report.counts;
    let verb = if dry { "would be made" } else { "were made" };
    let from = if report.form.sheet.is_empty() {
        report.file.clone()
    } else {
        format!("{}, sheet {}", report.file, report.form.sheet)
    };
    paper.title(&format!("From {from}"));
    let entries = match report.what {
        What::Formula => "lines",
        What::Material => "records",
        What::Lot => "lots",
    };
    let (entries, verb) = if counts.made == 1 {
        (entries.trim_end_matches('s'), verb.replace("were", "was"))
    } else {
        (entries, verb.to_owned())
    };
    let mut says = vec![format!("{} {entries} {verb}", counts.made)];
    for (count, words) in [
        (counts.there, "on file already"),
        (counts.passed_over, "that are no entries"),
        (counts.left_out, "left out"),
        (counts.not_understood, "not understood"),
    ] {
        if count > 0 {
            says.push(format!("{count} rows {words}"));
        }
    }
    paper.paragraph(0, &format!("{}.", says.join("; ")));
    if let Some(formula) = &report.formula {
        paper.paragraph(
            0,
            &format!("{} ({}); {}.", formula.name, formula.name_from, formula.becomes.trim_end_matches('.')),
        );
        paper.paragraph(
            0,
            &format!("Sum of the percentages {}. {}", numbers::result(&formula.sum, true), formula.sum_words),
        );
    }
    for made in made.iter().filter(|made| matches!(made.what, "formula" | "version")) {
        paper.paragraph(0, &format!("Kept as formula {}, version {}.", made.id, made.number));
    }
    paper.heading("Columns", "");
    let columns: Vec<Vec<String>> = report
        .columns
        .iter()
        .filter(|column| column.field != Field::Unused || !column.name.is_empty())
        .map(|column| {
            let sure = if column.sure { "" } else { "look: " };
            vec![
                column.letter.clone(),
                column.name.clone(),
                column.words.to_owned(),
                format!("{sure}{}", column.why),
            ]
        })
        .collect();
    let heads = [("", Lean::Left), ("Head", Lean::Left), ("Read as", Lean::Left), ("Because", Lean::Left)];
    paper.columns(&heads, &columns);
    for question in report.questions.iter().filter(|question| question.answer.is_empty()) {
        let choices: Vec<String> = question
            .choices
            .iter()
            .map(|(answer, words)| format!("--{} {answer} ({words})", question.id))
            .collect();
        paper.marked(
            "asked:",
            Ink::Red,
            &format!("{} {} Answer with {}.", question.what, question.why, choices.join(" or ")),
        );
    }
    paper.heading("Rows", "");
    for row in &report.rows {
        let (word, ink) = match row.fate {
            Fate::Made => ("made", Ink::Strong),
            Fate::There => ("there", Ink::Faint),
            Fate::PassedOver => ("passed", Ink::Faint),
            Fate::LeftOut => ("left out", Ink::Amber),
            Fate::NotUnderstood => ("not understood", Ink::Red),
        };
        paper.marked(&format!("{:>5} {word}", row.line), ink, &row.words);
        for trouble in &row.troubles {
            let offers = if trouble.offers.is_empty() {
                String::new()
            } else {
                format!(" ({})", trouble.offers.join(" or "))
            };
            paper.hanging(
                8,
                &format!("{}:", trouble.name),
                &format!("{}; {}{offers}", trouble.what, trouble.what_now),
            );
        }
        for note in &row.notes {
            paper.hanging(8, "note:", note);
        }
    }
    if !report.unknown.is_empty() {
        paper.heading("Names that are not on file", "answer with --pick \"NAME=MATERIAL\"");
        for unknown in &report.unknown {
            let offers: Vec<String> =
                unknown.offers.iter().map(|offer| format!("{} ({})", offer.name, offer.why)).collect();
            let offers =
                if offers.is_empty() { "nothing on file comes near".to_owned() } else { offers.join("; ") };
            let picked = if unknown.picked.is_empty() {
                String::new()
            } else {
                format!("picked {}; ", unknown.picked)
            };
            paper.hanging(2, &format!("{}:", unknown.name), &format!("{picked}{offers}"));
        }
    }
    if !report.remarks.is_empty() {
        paper.gap();
        for remark in &report.remarks {
            paper.paragraph(0, remark);
        }
    }
    if dry {
        paper.gap();
        let ready = if report.ready {
            "It can be brought in as it stands. Nothing was written.".to_owned()
        } else {
            format!("It cannot be brought in yet. {} Nothing was written.", report.missing.join(" "))
        };
        paper.paragraph(0, &ready);
    }
}

#[cfg(test)]
mod tests {
    use super::place;

    #[test]
    fn cells_are_named_as_in_a_spreadsheet() {
        assert_eq!((place("C7"), place("aa12")), (Some((7, 3)), Some((12, 27))));
        for text in ["7", "C", "", "C-7", "ABCD1", "Ä1", "C7x"] {
            assert_eq!(place(text), None, "{text}");
        }
    }
}
