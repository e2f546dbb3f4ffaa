//! What the amounts of a formula are: percent, shares of one, or grams of a batch.
//!
//! A person says which, wherever the table leaves it open. Grams are shares of what the table says it fills up to, else of what it states
//! as its sum, else of what they add up to. Each percent is rounded once; the line that fills up takes what the rounding leaves, else the
//! largest line does, so that the percentages add up to 100 exactly.

use super::formula::Entry;
use super::reading::{Amount, Unread, grams_of};
use super::{Desk, Field, Question};
use rust_decimal::Decimal;

/// Places a percent made of grams has at least, and at most.
const PLACES: [u32; 2] = [4, 8];

/// What was made of the amounts.
#[derive(Debug, Default)]
pub(super) struct Settled {
    /// What was done with grams, in words; empty where nothing was.
    pub(super) words: String,
    /// What a cell says that fills up.
    pub(super) fill: String,
}

/// What amounts may be, and what the table says of it.
struct Seen {
    plain: Vec<Decimal>,
    grams: Vec<Decimal>,
    percent: bool,
    /// Grams the table fills up to.
    fills_to: Option<Decimal>,
    fills: bool,
    /// Grams in one of the unit the head of the column says.
    head: Option<Decimal>,
    head_percent: bool,
}

impl Seen {
    fn of(desk: &Desk<'_>, entries: &[Entry<'_>]) -> Self {
        let head = desk.layout.of(Field::Percent).map(|at| desk.layout.title(at)).unwrap_or_default();
        let mut seen = Self {
            plain: Vec::new(),
            grams: Vec::new(),
            percent: false,
            fills_to: None,
            fills: false,
            head: grams_in_head(&head),
            head_percent: head.contains('%') || head.to_lowercase().contains("percent"),
        };
        for entry in entries.iter().filter(|entry| entry.troubles.is_empty()) {
            match entry.amount {
                Amount::Percent(_, true) => seen.percent = true,
                Amount::Percent(value, false) => seen.plain.push(value),
                Amount::Grams(value) => seen.grams.push(value),
                Amount::FillsTo(value) => {
                    (seen.fills, seen.fills_to) = (true, seen.fills_to.or(Some(value)));
                }
                Amount::Remainder | Amount::Enough => seen.fills = true,
                Amount::ToPh(_) => {}
            }
        }
        seen
    }

    fn sum(&self) -> Decimal {
        add(self
            .plain
            .iter()
            .map(|value| times(*value, self.head.unwrap_or(Decimal::ONE)))
            .chain(self.grams.iter().copied()))
    }

    /// Why the amounts may be grams; nothing where they are not.
    fn why_grams(&self) -> Option<String> {
        let sum = self.sum().normalize();
        let adds = format!("the amounts add up to {sum} g");
        if !self.grams.is_empty() {
            return Some(format!("{} of the cells name grams; {adds}.", self.grams.len()));
        }
        if self.head.is_some() {
            return Some(format!("The head of the column names grams; {adds}."));
        }
        if let Some(to) = self.fills_to.filter(|to| *to != Decimal::ONE_HUNDRED) {
            return Some(format!("A line fills up to {} g; the others add up to {sum} g.", to.normalize()));
        }
        let much = !self.percent && !self.head_percent && sum > Decimal::from(102);
        much.then(|| format!("The numbers add up to {sum}, which is too much for percent."))
    }
}

/// Grams in one of the unit a head names: `g`, `Weight (kg)`, `mg`.
pub(super) fn grams_in_head(head: &str) -> Option<Decimal> {
    if head.contains('%') || head.contains('/') {
        return None;
    }
    let lower = head.to_lowercase();
    let mut words = lower.split(|sign: char| !sign.is_alphabetic());
    words.find_map(grams_of)
}

fn add(values: impl Iterator<Item = Decimal>) -> Decimal {
    values.fold(Decimal::ZERO, |sum, value| sum.checked_add(value).unwrap_or(Decimal::MAX))
}

/// The product; what is too large for anything stays so.
fn times(value: Decimal, factor: Decimal) -> Decimal {
    value.checked_mul(factor).unwrap_or(Decimal::MAX)
}

/// Makes percent of the amounts. `stated` is what a row of the table gives as the sum.
pub(super) fn settle(desk: &mut Desk<'_>, entries: &mut [Entry<'_>], stated: Option<Decimal>) -> Settled {
    let seen = Seen::of(desk, entries);
    let stated = stated.map(|sum| times(sum, seen.head.unwrap_or(Decimal::ONE)));
    let total = if seen.fills || seen.percent { seen.fills_to.or(stated) } else { Some(seen.sum()) };
    let why = seen.why_grams();
    // In a batch of 100 g, grams are percent.
    let same = total == Some(Decimal::ONE_HUNDRED) && !seen.percent;
    let grams = if desk.asked.shares == "grams" || why.is_some() && !same {
        ask_grams(desk, &seen, why, total) != "percent"
    } else {
        same && (seen.head.is_some() || !seen.grams.is_empty())
    };
    if grams {
        return in_grams(desk, entries, &seen, (total, stated));
    }
    let factor = if why_shares(desk, &seen) { Decimal::ONE_HUNDRED } else { Decimal::ONE };
    for entry in entries.iter_mut() {
        match entry.amount {
            Amount::Percent(value, false) => entry.amount = Amount::Percent(times(value, factor), false),
            Amount::Grams(value) => entry.amount = Amount::Percent(value, false),
            Amount::FillsTo(_) => entry.amount = Amount::Remainder,
            _ => {}
        }
    }
    Settled { words: String::new(), fill: "q.s. to 100".to_owned() }
}

/// Asks whether the amounts are grams; gives the answer.
fn ask_grams(desk: &mut Desk<'_>, seen: &Seen, why: Option<String>, total: Option<Decimal>) -> String {
    let batch = total.map_or_else(
        || "what the q.s. line fills up to".to_owned(),
        |total| format!("a batch of {} g", total.normalize()),
    );
    let answer = desk.asked.shares.clone();
    desk.ask(Question {
        id: "shares",
        what: "Are the amounts grams of a batch, or percent?".to_owned(),
        why: why.unwrap_or_else(|| format!("The amounts add up to {}.", seen.sum().normalize())),
        choices: vec![
            ("grams".to_owned(), format!("grams: shares of {batch}, made percent")),
            ("percent".to_owned(), "percent: each number as it stands".to_owned()),
        ],
        answer: answer.clone(),
    });
    answer
}

/// Asks whether the plain numbers are shares of one, where they may be; whether they are.
fn why_shares(desk: &mut Desk<'_>, seen: &Seen) -> bool {
    let plain = &seen.plain;
    let sum = add(plain.iter().copied());
    let (low, high) = (Decimal::new(98, 2), Decimal::new(102, 2));
    let all_small = plain.len() >= 3 && plain.iter().all(|value| *value < Decimal::ONE);
    let open =
        !seen.percent && plain.len() >= 2 && ((low..=high).contains(&sum) || all_small && sum < Decimal::ONE);
    let answer = desk.asked.shares.clone();
    // What was answered to the question about grams is no answer to this one.
    if !open && answer != "fraction" {
        return false;
    }
    desk.ask(Question {
        id: "shares",
        what: "Are the amounts percent, or shares of one?".to_owned(),
        why: format!("The numbers add up to {}; no cell says % and none is above 1.", sum.normalize()),
        choices: vec![
            ("percent".to_owned(), "percent: 0.05 is 0.05 %".to_owned()),
            ("fraction".to_owned(), "shares: 0.05 is 5 %".to_owned()),
        ],
        answer: answer.clone(),
    });
    answer == "fraction"
}

/// The grams as percent of the batch.
fn in_grams(
    desk: &Desk<'_>,
    entries: &mut [Entry<'_>],
    seen: &Seen,
    (total, stated): (Option<Decimal>, Option<Decimal>),
) -> Settled {
    let head = seen.head.unwrap_or(Decimal::ONE);
    let Some(total) = total.filter(|total| *total > Decimal::ZERO) else {
        return without_total(desk, entries);
    };
    let grams = |amount: &Amount| match amount {
        Amount::Percent(value, false) => Some(times(*value, head)),
        Amount::Grams(value) => Some(*value),
        _ => None,
    };
    let share = |grams: Decimal| {
        grams
            .checked_div(total)
            .and_then(|part| part.checked_mul(Decimal::ONE_HUNDRED))
            .unwrap_or(Decimal::MAX)
    };
    let shares: Vec<Option<Decimal>> = entries.iter().map(|entry| grams(&entry.amount).map(share)).collect();
    let places = places(shares.iter().flatten().copied());
    let mut most = Decimal::ZERO;
    for (entry, share) in entries.iter_mut().zip(&shares) {
        if let Some(share) = share {
            let rounded = share.round_dp(places).normalize();
            most = most.max((rounded - *share).abs());
            entry.amount = Amount::Percent(rounded, true);
        } else if matches!(entry.amount, Amount::FillsTo(_)) {
            entry.amount = Amount::Remainder;
        }
    }
    let takes = if seen.fills { None } else { largest_takes_the_rest(entries, &shares) };
    let from = if seen.fills_to == Some(total) {
        "what a line fills up to"
    } else if seen.fills || seen.percent {
        "the sum the table states"
    } else {
        "what they add up to"
    };
    let batch = total.normalize();
    let mut words = format!("The amounts were read as grams of a batch of {batch} g, {from}.");
    if let Some(stated) = stated.filter(|stated| *stated != total) {
        words.push_str(&format!(" The table states a sum of {} g.", stated.normalize()));
    }
    // A share that does not end is known to 28 digits; below that nothing was rounded.
    if most < Decimal::new(1, 20) {
        words.push_str(" The percentages are exact.");
    } else {
        let digits = most.round_sf(1).unwrap_or(most).normalize();
        words.push_str(&format!(" Each percentage was rounded to {places} places, by {digits} at most;"));
        words.push_str(&match takes {
            Some(name) => format!(" {name} takes what that leaves."),
            None => " the q.s. line takes what that leaves.".to_owned(),
        });
    }
    Settled { words, fill: format!("q.s. to {batch} g") }
}

/// Grams of nobody knows what: the line that fills up has to say to what.
fn without_total(desk: &Desk<'_>, entries: &mut [Entry<'_>]) -> Settled {
    let fills = |amount: &Amount| matches!(amount, Amount::Remainder | Amount::Enough);
    let some = entries.iter().any(|entry| fills(&entry.amount));
    for entry in entries.iter_mut() {
        let grams = matches!(entry.amount, Amount::Percent(_, false) | Amount::Grams(_));
        if some && fills(&entry.amount) {
            let unread = Unread::new(
                "the other amounts are grams, and nothing says how many grams the batch has",
                "type to how many it fills up: q.s. to 200 g",
            );
            entry.troubles.push(desk.trouble(entry.row, Field::Percent, unread));
        } else if !some && grams {
            let unread = Unread::new(
                "grams stand beside percent here",
                "type the percent, or give the others in grams",
            );
            entry.troubles.push(desk.trouble(entry.row, Field::Percent, unread));
        }
        if grams {
            entry.amount = Amount::Percent(Decimal::ZERO, true);
        }
    }
    Settled { words: String::new(), fill: "q.s. to 100".to_owned() }
}

/// Places by which the smallest share that is anything keeps four digits, between the least and the most.
fn places(shares: impl Iterator<Item = Decimal>) -> u32 {
    let smallest = shares.filter(|share| !share.is_zero()).min().unwrap_or(Decimal::ONE);
    let [least, most] = PLACES;
    (least..most).find(|places| smallest >= Decimal::new(1, places - 3)).unwrap_or(most)
}

/// Lets the largest line take what rounding left of 100; its name.
fn largest_takes_the_rest(entries: &mut [Entry<'_>], shares: &[Option<Decimal>]) -> Option<String> {
    let percent = |entry: &Entry<'_>| match entry.amount {
        Amount::Percent(value, _) => value,
        _ => Decimal::ZERO,
    };
    let rest = Decimal::ONE_HUNDRED.checked_sub(add(entries.iter().map(percent)))?;
    let (at, _) =
        shares.iter().enumerate().filter_map(|(at, share)| Some((at, (*share)?))).max_by_key(|one| one.1)?;
    let entry = entries.get_mut(at)?;
    entry.amount = Amount::Percent(percent(entry).checked_add(rest)?.normalize(), true);
    Some(entry.name.clone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bringing::{Asked, Fate, OnFile, Preview, look};
    use crate::formula_file;
    use levigate_facts::{Facts, shipped};
    use levigate_formula::sheet;
    use std::collections::BTreeMap;
    use std::sync::LazyLock;

    static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());

    fn seen(text: &str, shares: &str) -> Preview {
        let on_file = OnFile {
            facts: &FACTS,
            day: jiff::civil::date(2026, 11, 27),
            lots: &[],
            statuses: &BTreeMap::new(),
            formulas: &[],
            prices: &BTreeMap::new(),
            decides: true,
        };
        let asked = Asked { shares: shares.to_owned(), ..Asked::default() };
        look(&on_file, "list.csv", text.as_bytes(), &asked).unwrap()
    }

    /// Percent of the lines in their order, the q.s. line as `q.s.`.
    fn percents(preview: &Preview) -> Vec<String> {
        let text = &preview.formula.as_ref().unwrap().text;
        let lines =
            formula_file::read("x", text).unwrap().sheet.phases.into_iter().flat_map(|phase| phase.lines);
        lines
            .map(|line| match line.amount {
                sheet::Amount::Percent(value) => value.to_string(),
                sheet::Amount::Remainder(_) => "q.s.".to_owned(),
                other => format!("{other:?}"),
            })
            .collect()
    }

    #[test]
    fn grams_with_a_stated_sum_are_offered_as_percent_and_asked_about() {
        // 40/200 and 10/200 by hand.
        let table = "Raw material;g\nWater;150\nGlycerin 99.5 %;40\nXanthan gum;10\nTotal;200\n";
        let open = seen(table, "");
        assert!(!open.ready);
        let question = &open.questions[0];
        assert_eq!((question.id, question.answer.as_str()), ("shares", ""));
        assert!(question.why.contains("200 g"), "{question:?}");
        assert_eq!(percents(&open), ["75", "20", "5"], "offered before it is answered");
        let read = seen(table, "grams");
        assert!(read.ready, "{:?}", read.missing);
        let formula = read.formula.as_ref().unwrap();
        assert!(formula.sum_words.contains("batch of 200 g") && formula.sum_words.contains("exact"));
        assert_eq!(formula.fill.as_ref().unwrap().text, "q.s. to 200 g");
        // Percent after all: what is above 100 is not understood.
        let percent = seen(table, "percent");
        assert_eq!(percent.counts.not_understood, 1);
    }

    #[test]
    fn what_rounding_leaves_is_taken_by_the_largest_line_or_the_q_s_line() {
        // 100/3 = 33.3333..., 200/3 = 66.6666...; 0.003/300 = 0.001 %, which keeps four digits at six places.
        let table = "Material;Weight (g)\nWater;200\nGlycerin 99.5 %;100\n";
        let read = seen(table, "grams");
        assert_eq!(percents(&read), ["66.6667", "33.3333"]);
        let words = &read.formula.as_ref().unwrap().sum_words;
        assert!(words.contains("rounded to 4 places, by 0.00003 at most; Water"), "{words}");
        let table = "Material;Amount\nWater;q.s. to 300 g\nGlycerin 99.5 %;100 g\nXanthan gum;3 mg\n";
        let read = seen(table, "grams");
        assert_eq!(percents(&read), ["q.s.", "33.333333", "0.001"]);
        assert_eq!(read.formula.as_ref().unwrap().sum.value, Some(33.334333));
        let words = &read.formula.as_ref().unwrap().sum_words;
        assert!(words.contains("what a line fills up to") && words.contains("q.s. line takes"), "{words}");
        // Three times 100/3 leaves 0.0001, which the first of the largest takes: the sum is 100 exactly.
        let table = "Material;kg\nWater;1\nGlycerin 99.5 %;1\nPropanediol;1\n";
        let mut sum = Decimal::ZERO;
        for percent in percents(&seen(table, "grams")) {
            sum += percent.parse::<Decimal>().unwrap();
        }
        assert_eq!(sum, Decimal::ONE_HUNDRED);
    }

    #[test]
    fn grams_without_a_total_are_asked_for_it_where_a_line_fills_up() {
        let table = "Material;g\nWater;q.s.\nGlycerin 99.5 %;40\nXanthan gum;10\n";
        let read = seen(table, "grams");
        assert_eq!(read.counts.not_understood, 1);
        let trouble = read.rows.iter().find(|row| row.fate == Fate::NotUnderstood).unwrap();
        assert!(trouble.troubles[0].what_now.contains("q.s. to 200 g"), "{trouble:?}");
    }

    #[test]
    fn a_batch_of_a_hundred_grams_needs_no_question_and_percent_beside_grams_are_read() {
        let read = seen("Material;g\nWater;95\nGlycerin 99.5 %;5\n", "");
        assert!(read.questions.is_empty() && read.ready, "{:?}", read.missing);
        assert_eq!(percents(&read), ["95", "5"]);
        let read = seen("Material;Weight (g);%\nWater;285;95\nGlycerin 99.5 %;15;5\n", "");
        assert!(read.questions.is_empty());
        assert_eq!(percents(&read), ["95", "5"]);
        assert!(read.columns[1].why.contains("grams of a batch"), "{:?}", read.columns[1]);
    }

    #[test]
    fn a_blend_is_offered_by_the_substances_it_holds() {
        let table = "Trade name;INCI;%\nWater;Aqua;95\nHouse blend;Aqua (and) Sodium hydroxide;5\n";
        let read = seen(table, "");
        let offer = &read.unknown[0].offers[0];
        assert!(offer.why.contains("all 2 substances of its INCI name"), "{offer:?}");
        let held = &FACTS.library.materials[&offer.key].constituents;
        assert!(held.iter().any(|part| part.substance == "sodium-hydroxide") && held.len() == 2, "{offer:?}");
        assert_eq!(read.unknown[0].picked, "", "a person picks");
        let strange =
            "Trade name;INCI;%\nWater;Aqua;95\nHouse blend;Aqua (and) Unheard of (and) Nobody knows;5\n";
        assert!(
            seen(strange, "").unknown[0].offers.iter().all(|offer| !offer.why.contains("substances of its"))
        );
    }
}
