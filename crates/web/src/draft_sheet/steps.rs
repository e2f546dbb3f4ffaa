//! The steps of a procedure from the fields of the page to a sheet, and back.

use super::{Fields, some};
use crate::desk::{DraftStep, DraftStepLine};
use levigate_project::sheet::{Sheet, StepKind, StepPart, WrittenStep};
use rust_decimal::Decimal;

/// Coldest and hottest a batch of water is worked at, C.
const TEMPERATURES: [Decimal; 2] = [Decimal::ZERO, Decimal::ONE_HUNDRED];
/// Longest step, minutes: half a year.
const LONGEST: Decimal = Decimal::from_parts(250_000, 0, 0, false, 0);

/// Steps of the fields. A line that is no longer on the sheet is no longer in a step.
pub(super) fn read(
    fields: &mut Fields,
    drafts: &[DraftStep],
    sheet: &Sheet,
    line_ids: &[String],
) -> Vec<WrittenStep> {
    let mut steps = Vec::new();
    for (at, draft) in drafts.iter().enumerate() {
        let place = |name: &str| format!("steps.{}.{name}", at + 1);
        let Some(does) = StepKind::of(&draft.does) else {
            fields.say(
                &place("does"),
                format!("\"{}\" is no kind of step.", draft.does),
                "",
                "Choose one of the list.",
            );
            continue;
        };
        let lines =
            draft.lines.iter().filter_map(|part| read_part(fields, part, &place("lines"), sheet, line_ids));
        let lines: Vec<StepPart> = lines.collect();
        steps.push(WrittenStep {
            lines,
            name: name_of(draft, drafts),
            // A premix that is made later, or no longer, cannot go in.
            premixes: draft
                .premixes
                .iter()
                .filter_map(|id| drafts.iter().take(at).find(|made| &made.id == id && made.does == "premix"))
                .filter_map(|made| name_of(made, drafts))
                .collect(),
            temperature_c: window(
                fields,
                &place("temperature"),
                [&draft.temperature_low, &draft.temperature_high],
                TEMPERATURES,
            ),
            stirring: some(&draft.stirring),
            minutes: window(
                fields,
                &place("minutes"),
                [&draft.minutes_low, &draft.minutes_high],
                [Decimal::ZERO, LONGEST],
            ),
            checks: draft.checks.iter().filter_map(|check| some(check)).collect(),
            note: some(&draft.note),
            ..WrittenStep::new(does)
        });
    }
    steps
}

/// The name of a premix; one without a name, or with that of an earlier one, is called after its place.
fn name_of(draft: &DraftStep, drafts: &[DraftStep]) -> Option<String> {
    if draft.does != "premix" {
        return some(&draft.name);
    }
    let at = drafts.iter().position(|other| other.id == draft.id)?;
    let name = draft.name.trim();
    let taken = drafts[..at].iter().any(|other| other.name.trim() == name);
    Some(if name.is_empty() || taken { format!("Premix {}", at + 1) } else { name.to_owned() })
}

fn read_part(
    fields: &mut Fields,
    part: &DraftStepLine,
    place: &str,
    sheet: &Sheet,
    line_ids: &[String],
) -> Option<StepPart> {
    let line = line_ids.iter().position(|id| *id == part.line)?;
    let share = fields.number(place, &part.share_percent);
    if let Some(share) = share.filter(|share| *share <= Decimal::ZERO || *share > Decimal::ONE_HUNDRED) {
        fields.say(
            place,
            format!("{share} % of a line cannot go in."),
            "",
            "Type a share above 0, at most 100.",
        );
        return None;
    }
    sheet.part_of(line, share.filter(|share| *share != Decimal::ONE_HUNDRED))
}

fn window(
    fields: &mut Fields,
    place: &str,
    [low, high]: [&str; 2],
    [least, most]: [Decimal; 2],
) -> Option<[Decimal; 2]> {
    // One number stands for both ends.
    let (low, high) = match (low.trim().is_empty(), high.trim().is_empty()) {
        (true, false) => (high, high),
        (false, true) => (low, low),
        _ => (low, high),
    };
    let [low, high] = fields.window(place, low, place, high)?;
    if low < least || high > most {
        fields.say(
            place,
            format!("{low} to {high} is outside {least} to {most}."),
            "",
            "Correct the number.",
        );
        return None;
    }
    Some([low, high])
}

/// Steps as they stand in the fields.
pub(crate) fn write(steps: &[WrittenStep], sheet: &Sheet, line_ids: &[String]) -> Vec<DraftStep> {
    let id = |at: usize| format!("s{}", at + 1);
    let text = |end: Option<Decimal>| end.map(|end| end.to_string()).unwrap_or_default();
    steps
        .iter()
        .enumerate()
        .map(|(at, step)| DraftStep {
            id: id(at),
            does: step.does.word().to_owned(),
            name: step.name.clone().unwrap_or_default(),
            lines: step
                .lines
                .iter()
                .filter_map(|part| {
                    let line = line_ids.get(sheet.line_of(part)?)?.clone();
                    Some(DraftStepLine { line, share_percent: text(part.share_percent) })
                })
                .collect(),
            premixes: step
                .premixes
                .iter()
                .filter_map(|name| {
                    let made = |other: &WrittenStep| {
                        other.does == StepKind::Premix && other.name.as_ref() == Some(name)
                    };
                    steps.iter().position(made).map(id)
                })
                .collect(),
            temperature_low: text(step.temperature_c.map(|[low, _]| low)),
            temperature_high: text(step.temperature_c.map(|[_, high]| high)),
            stirring: step.stirring.clone().unwrap_or_default(),
            minutes_low: text(step.minutes.map(|[low, _]| low)),
            minutes_high: text(step.minutes.map(|[_, high]| high)),
            checks: step.checks.clone(),
            note: step.note.clone().unwrap_or_default(),
        })
        .collect()
}
