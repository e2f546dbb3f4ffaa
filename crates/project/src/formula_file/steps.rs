//! `[[step]]`: the procedure a person wrote, read from a formula file and written into one.

use crate::formula_writer::quoted;
use crate::toml_reader::{Reader, join};
use levigate_formula::sheet::{Phase, StepKind, StepPart, WrittenStep};
use rust_decimal::Decimal;
use std::fmt::Write as _;
use std::ops::Range;
use toml::de::DeTable;

pub(crate) const STEP: &[&str] =
    &["does", "name", "lines", "premixes", "temperature_c", "stirring", "minutes", "checks", "note"];
pub(crate) const PART: &[&str] = &["material", "nth", "share_percent"];

/// Coldest and hottest a batch of water is worked at, C.
const TEMPERATURES: [Decimal; 2] = [Decimal::ZERO, Decimal::ONE_HUNDRED];

/// Reads the steps; `phases` are those of the same file.
pub(super) fn read(reader: &mut Reader<'_>, table: &DeTable<'_>, phases: &[Phase]) -> Vec<WrittenStep> {
    let mut steps: Vec<WrittenStep> = Vec::new();
    for (index, (step, span)) in reader.tables(table, "", "step").into_iter().enumerate() {
        let path = format!("step {}", index + 1);
        if let Some(step) = read_step(reader, step, &span, &path, phases, &steps) {
            steps.push(step);
        }
    }
    steps
}

fn read_step(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    path: &str,
    phases: &[Phase],
    before: &[WrittenStep],
) -> Option<WrittenStep> {
    reader.known_fields(table, path, STEP);
    let words: Vec<&str> = StepKind::ALL.iter().map(|kind| kind.word()).collect();
    if !table.contains_key("does") {
        reader.missing(span, path, "does", &format!("say what is done: {}", words.join(", ")));
    }
    let does = reader.choice(table, path, "does", &words).and_then(|word| StepKind::of(&word));
    let name = reader.string(table, path, "name");
    if let Some(taken) =
        name.as_ref().filter(|name| before.iter().any(|step| step.name.as_ref() == Some(name)))
    {
        let what = format!("two steps are called \"{taken}\"");
        reader.wrong(table, path, "name", what, "give each premix a name of its own");
    }
    if does == Some(StepKind::Premix) && name.is_none() && !table.contains_key("name") {
        reader.missing(span, path, "name", "name the premix, so that a later step can add it");
    }
    let mut lines = Vec::new();
    for (number, (part, span)) in reader.tables(table, path, "lines").into_iter().enumerate() {
        let path = format!("{path}, lines {}", number + 1);
        lines.extend(read_part(reader, part, &span, &path, phases));
    }
    let mut premixes = Vec::new();
    for (premix, place) in reader.strings_with_places(table, path, "premixes") {
        if !before.iter().any(|step| step.does == StepKind::Premix && step.name.as_ref() == Some(&premix)) {
            let what = format!("no step before this one makes a premix called \"{premix}\"");
            let field = join(path, "premixes");
            reader.complain(
                &place,
                "no-premix",
                field,
                what,
                "add a step that does \"premix\" with that name before it",
            );
        }
        premixes.push(premix);
    }
    let temperature_c = within(reader, table, path, "temperature_c", TEMPERATURES, "C, liquid water");
    let minutes = within(reader, table, path, "minutes", [Decimal::ZERO, Decimal::from(100_000)], "minutes");
    Some(WrittenStep {
        does: does?,
        name,
        lines,
        premixes,
        temperature_c,
        stirring: reader.string(table, path, "stirring"),
        minutes,
        checks: reader.strings(table, path, "checks"),
        note: reader.string(table, path, "note"),
    })
}

fn within(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    [least, most]: [Decimal; 2],
    unit: &str,
) -> Option<[Decimal; 2]> {
    let window = reader.window(table, path, key)?;
    if window.iter().any(|end| !(least..=most).contains(end)) {
        let what = format!("{} to {} is outside {least} to {most} {unit}", window[0], window[1]);
        reader.wrong(table, path, key, what, "correct the number");
        return None;
    }
    Some(window)
}

fn read_part(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    path: &str,
    phases: &[Phase],
) -> Option<StepPart> {
    reader.known_fields(table, path, PART);
    let material = reader.required_string(
        table,
        path,
        "material",
        span,
        "name the raw material as its line of the formula does",
    )?;
    let many = phases.iter().flat_map(|phase| &phase.lines).filter(|line| line.material == material).count();
    if many == 0 {
        let what = format!("no line of the formula is called \"{material}\"");
        reader.wrong(table, path, "material", what, "write the name as it stands in [[phase.line]]");
        return None;
    }
    let nth = match reader.decimal(table, path, "nth") {
        None => 1,
        Some(nth) => match (1..=many).find(|at| Decimal::from(*at) == nth) {
            Some(at) => at,
            None => {
                let what = format!("there are {many} lines called \"{material}\", none is number {nth}");
                reader.wrong(table, path, "nth", what, "count the lines of that name from 1");
                return None;
            }
        },
    };
    let share_percent = reader.decimal(table, path, "share_percent");
    if let Some(share) =
        share_percent.filter(|share| *share <= Decimal::ZERO || *share > Decimal::ONE_HUNDRED)
    {
        let what = format!("{share} % of the line cannot go in");
        reader.wrong(table, path, "share_percent", what, "give a share above 0, at most 100");
        return None;
    }
    Some(StepPart { material, nth, share_percent })
}

/// Writes the steps.
pub(crate) fn write(out: &mut String, steps: &[WrittenStep]) -> std::fmt::Result {
    for step in steps {
        writeln!(out, "\n[[step]]\ndoes = {}", quoted(step.does.word()))?;
        if let Some(name) = &step.name {
            writeln!(out, "name = {}", quoted(name))?;
        }
        if !step.lines.is_empty() {
            writeln!(out, "lines = [")?;
            for part in &step.lines {
                write!(out, "    {{ material = {}", quoted(&part.material))?;
                if part.nth != 1 {
                    write!(out, ", nth = {}", part.nth)?;
                }
                if let Some(share) = part.share_percent {
                    write!(out, ", share_percent = {share}")?;
                }
                writeln!(out, " }},")?;
            }
            writeln!(out, "]")?;
        }
        let texts = |texts: &[String]| texts.iter().map(|text| quoted(text)).collect::<Vec<_>>().join(", ");
        if !step.premixes.is_empty() {
            writeln!(out, "premixes = [{}]", texts(&step.premixes))?;
        }
        for (key, window) in [("temperature_c", step.temperature_c), ("minutes", step.minutes)] {
            if let Some([low, high]) = window {
                writeln!(out, "{key} = [{low}, {high}]")?;
            }
        }
        if let Some(stirring) = &step.stirring {
            writeln!(out, "stirring = {}", quoted(stirring))?;
        }
        if !step.checks.is_empty() {
            writeln!(out, "checks = [{}]", texts(&step.checks))?;
        }
        if let Some(note) = &step.note {
            writeln!(out, "note = {}", quoted(note))?;
        }
    }
    Ok(())
}
