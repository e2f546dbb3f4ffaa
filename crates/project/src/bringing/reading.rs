//! One cell as a number, an amount, a day or a weight. What could be two things is asked about; nothing is guessed.

use super::NOT_COMPUTED;
use super::table::{Cell, Stored, day_of};
use crate::records::DecimalSign;
use jiff::civil::Date;
use levigate_measure::decimal::{parse_typed, parse_typed_size, reads_like_grouping};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// Why a cell is not what it should be, and texts that may have been meant.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Unread {
    pub(super) what: String,
    pub(super) what_now: String,
    pub(super) offers: Vec<String>,
    /// One answer for the whole table settles it.
    pub(super) asked: bool,
}

impl Unread {
    pub(super) fn new(what: impl Into<String>, what_now: impl Into<String>) -> Self {
        Self { what: what.into(), what_now: what_now.into(), offers: Vec::new(), asked: false }
    }

    pub(super) fn offering(mut self, offers: impl IntoIterator<Item = String>) -> Self {
        self.offers = offers.into_iter().collect();
        self
    }

    /// The same where a question is asked about the table as a whole.
    pub(super) fn asked(mut self) -> Self {
        self.asked = true;
        self
    }

    /// The same with something behind every offer: a unit, a percent sign.
    pub(super) fn with(mut self, behind: &str) -> Self {
        if !behind.is_empty() {
            self.offers = self.offers.iter().map(|offer| format!("{offer} {behind}")).collect();
        }
        self
    }
}

/// A cell in which the spreadsheet has no value.
fn spreadsheet_error(cell: &Cell, what_now: &str) -> Unread {
    if cell.text == NOT_COMPUTED {
        let now = "open the sheet in a spreadsheet, save it and choose it again";
        return Unread::new(
            "a formula stands here that no spreadsheet has computed yet",
            format!("{now}, or {what_now}"),
        );
    }
    Unread::new(format!("{} is an error of the spreadsheet", cell.text), what_now)
}

/// The decimal sign of a table, told from the cells that leave no doubt.
pub(super) fn decimal_sign<'t>(texts: impl Iterator<Item = &'t str>) -> Option<DecimalSign> {
    let (mut points, mut commas) = (0_usize, 0_usize);
    for text in texts {
        let text = text.trim_end_matches(|sign: char| !sign.is_ascii_digit());
        let begin =
            text.trim_start_matches(|sign: char| !sign.is_ascii_digit() && !matches!(sign, '-' | '.' | ','));
        if parse_typed(begin).is_ok() && !reads_like_grouping(begin) {
            points += usize::from(begin.contains('.'));
            commas += usize::from(begin.contains(','));
        }
    }
    match (points, commas) {
        (0, 0) => None,
        (_, 0) => Some(DecimalSign::Point),
        (0, _) => Some(DecimalSign::Comma),
        _ => None,
    }
}

/// A number as it stands in a cell of text.
pub(super) fn number(text: &str, sign: Option<DecimalSign>) -> Result<Decimal, Unread> {
    let text = text.trim();
    let both = text.contains(',') && text.contains('.') || text.contains(['\'', '’', '\u{A0}', ' ']);
    match parse_typed(text) {
        Ok(value) => {
            let own = if text.contains(',') { DecimalSign::Comma } else { DecimalSign::Point };
            if reads_like_grouping(text) && sign != Some(own) {
                let whole = text.replace([',', '.'], "");
                let mark = if own == DecimalSign::Comma { "comma" } else { "point" };
                return Err(Unread::new(
                    format!("the {mark} in \"{text}\" may part thousands or decimals"),
                    "say which number it is",
                )
                .offering([whole, value.normalize().to_string()]));
            }
            Ok(value)
        }
        Err(error) => {
            let unread = Unread::new(error.to_string(), error.hint());
            Err(match grouped(text).filter(|_| both) {
                Some(meant) => unread.offering([meant]),
                None => unread,
            })
        }
    }
}

/// `1.234,5` or `1 234.5` without what parts its thousands, where it can only be read in one way.
fn grouped(text: &str) -> Option<String> {
    let at = text.rfind([',', '.']);
    let (whole, places) = match at {
        Some(at) => (&text[..at], &text[at + 1..]),
        None => (text, ""),
    };
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let parts: Vec<&str> = whole.split([',', '.', '\'', '’', ' ', '\u{A0}']).collect();
    let fits = parts.iter().enumerate().all(|(at, part)| {
        digits(part) && if at == 0 { (1..=3).contains(&part.len()) } else { part.len() == 3 }
    });
    if !fits || parts.len() < 2 || !digits(places) {
        return None;
    }
    let whole = parts.concat();
    Some(if places.is_empty() { whole } else { format!("{whole}.{places}") })
}

/// An amount of a formula line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Amount {
    /// Percent; whether the cell said so itself, with a sign or by the form it is shown in.
    Percent(Decimal, bool),
    /// Grams; the cell said so itself.
    Grams(Decimal),
    /// Fills up to 100.
    Remainder,
    /// Fills up to so many grams.
    FillsTo(Decimal),
    /// As much as brings the pH.
    ToPh(Decimal),
    /// q.s. without saying to what.
    Enough,
}

/// Words before what a line fills up to, without points and blanks.
const FILLS: [&str; 15] = [
    "qs",
    "qsp",
    "ad",
    "to",
    "upto",
    "rest",
    "remainder",
    "balance",
    "bal",
    "csp",
    "qb",
    "addto",
    "auf",
    "qsad",
    "qsto",
];

/// Whether a text looks like an amount.
pub(super) fn is_amount(text: &str) -> bool {
    amount(&Cell { text: text.to_owned(), ..Cell::default() }, None).is_ok()
}

/// Reads an amount.
pub(super) fn amount(cell: &Cell, sign: Option<DecimalSign>) -> Result<Amount, Unread> {
    match &cell.stored {
        Stored::Number(value) => return Ok(Amount::Percent(*value, false)),
        Stored::Percent(value) => return Ok(Amount::Percent(*value, true)),
        Stored::Day(_) => {
            return Err(Unread::new(
                "the spreadsheet made a day of this",
                "type the number; 5.10 turns into a date where a point is no decimal sign",
            ));
        }
        Stored::Error => return Err(spreadsheet_error(cell, "type the number")),
        Stored::Text => {}
    }
    let text = cell.text.trim();
    let plain = text.to_lowercase().replace(['.', ' '], "");
    if let Some(ph) = aim(text) {
        return ph.map(Amount::ToPh);
    }
    if let Some(amount) = fills_to_grams(&text.to_lowercase(), sign) {
        return Ok(amount);
    }
    let hundred = plain.trim_end_matches(['%', 'g']).strip_suffix("00").and_then(|begin| {
        // `100`, `100.00` and `100,00` lose their marks above.
        let begin = begin.trim_end_matches([',', '0']);
        begin.strip_suffix('1')
    });
    if let Some(begin) = hundred
        && !begin.is_empty()
        && FILLS.contains(&begin.trim_end_matches(['=', ':', '(']))
    {
        return Ok(Amount::Remainder);
    }
    if ["rest", "remainder", "balance", "bal", "reste", "resto"].contains(&plain.as_str()) {
        return Ok(Amount::Remainder);
    }
    if ["qs", "qsp", "csp", "qb", "asrequired", "asneeded", "nachbedarf"].contains(&plain.as_str()) {
        return Ok(Amount::Enough);
    }
    let (digits, said) = match text.strip_suffix("% w/w").or_else(|| text.strip_suffix('%')) {
        Some(digits) => (digits, true),
        None => (text, false),
    };
    if let Some((digits, factor)) = with_unit(text) {
        let value = number(digits, sign).map_err(|unread| unread.with(&text[digits.len()..]))?;
        return Ok(Amount::Grams(value.checked_mul(factor).unwrap_or(Decimal::MAX)));
    }
    match number(digits, sign) {
        Ok(value) => Ok(Amount::Percent(value, said)),
        Err(unread) => Err(unread.with(if said { "%" } else { "" })),
    }
}

/// Grams in one of a unit of mass.
pub(super) fn grams_of(unit: &str) -> Option<Decimal> {
    Some(match unit.to_lowercase().as_str() {
        "g" | "gr" | "gram" | "grams" | "gramm" | "gramme" | "grammes" | "grammi" | "gramos" => Decimal::ONE,
        "kg" | "kilogram" | "kilograms" => Decimal::ONE_THOUSAND,
        "mg" | "milligram" | "milligrams" => Decimal::new(1, 3),
        _ => return None,
    })
}

/// A number with a unit of mass behind it: the number, and the grams in one of the unit.
fn with_unit(text: &str) -> Option<(&str, Decimal)> {
    let at = text.rfind(|sign: char| !sign.is_ascii_alphabetic())?;
    let digits = text.get(..=at).filter(|digits| digits.bytes().any(|byte| byte.is_ascii_digit()))?;
    Some((digits.trim_end(), grams_of(text.get(at + 1..)?)?))
}

/// `q.s. to 200 g`: how far it fills up.
fn fills_to_grams(text: &str, sign: Option<DecimalSign>) -> Option<Amount> {
    let at = text.find(|sign: char| sign.is_ascii_digit())?;
    let (begin, rest) = text.split_at(at);
    let begin = begin.replace(['.', ' ', '=', ':', '('], "");
    let (digits, factor) = with_unit(rest.trim_end_matches(')'))?;
    let value = number(digits, sign).ok()?.checked_mul(factor)?;
    (FILLS.contains(&begin.as_str()) && value > Decimal::ZERO).then_some(Amount::FillsTo(value))
}

/// `q.s. to pH 5.5`, `pH 5,5`: the aim.
fn aim(text: &str) -> Option<Result<Decimal, Unread>> {
    let lower = text.to_lowercase();
    let letter = |sign: Option<char>| sign.is_some_and(char::is_alphabetic);
    let at = lower
        .match_indices("ph")
        .map(|(at, _)| at)
        .find(|at| !letter(lower[..*at].chars().next_back()) && !letter(lower[at + 2..].chars().next()))?;
    let rest = lower[at + 2..].trim_matches(|sign: char| !sign.is_ascii_digit());
    if rest.is_empty() {
        return Some(Err(Unread::new("the pH it is added for is missing", "type it like: to pH 5.5")));
    }
    Some(match parse_typed(rest) {
        Ok(ph) => Ok(ph),
        Err(_) => Err(Unread::new(
            format!("\"{text}\" names no single pH"),
            "type the pH to adjust to, like: to pH 5.5",
        )),
    })
}

/// A share in percent: assay, active content.
pub(super) fn share(cell: &Cell, sign: Option<DecimalSign>) -> Result<Decimal, Unread> {
    match amount(cell, sign)? {
        Amount::Percent(value, _) => Ok(value),
        _ => Err(Unread::new(
            format!("\"{}\" is not a percentage", cell.text),
            "type the percent as one number",
        )),
    }
}

/// How days of a table are meant where they leave it open.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct DayForm {
    /// What stands first of two numbers.
    pub(super) order: Option<DayOrder>,
    /// Which day a month alone means: its last, else its first.
    pub(super) last_of_month: Option<bool>,
}

/// In which order a day is written with numbers alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum DayOrder {
    DayFirst,
    MonthFirst,
}

/// What can be told of the order from the days of a table; both where the table contradicts itself.
pub(super) fn day_orders<'t>(texts: impl Iterator<Item = &'t str>) -> (bool, bool, bool) {
    let (mut day_first, mut month_first, mut either) = (false, false, false);
    for text in texts {
        if let Some((first, second, _)) = two_and_a_year(text) {
            match (first > 12, second > 12) {
                (true, false) => day_first = true,
                (false, true) => month_first = true,
                (false, false) => either |= first != second,
                (true, true) => {}
            }
        }
    }
    (day_first, month_first, either)
}

/// `a/b/year` or `a-b-year`: the two numbers in front and the year. With points the day always stands first, so those are not among them.
fn two_and_a_year(text: &str) -> Option<(i8, i8, i16)> {
    let text = text.trim();
    let sign = if text.contains('/') { '/' } else { '-' };
    let parts: Vec<&str> = text.split(sign).map(str::trim).collect();
    let [first, second, year] = parts.as_slice() else { return None };
    let fits = |part: &str| (1..=2).contains(&part.len()) && part.bytes().all(|byte| byte.is_ascii_digit());
    if !fits(first) || !fits(second) || !matches!(year.len(), 2 | 4) {
        return None;
    }
    Some((first.parse().ok()?, second.parse().ok()?, full_year(year)?))
}

fn full_year(text: &str) -> Option<i16> {
    let year: i16 = text.parse().ok()?;
    match text.len() {
        // Lots are of this century.
        2 => Some(2000 + year),
        4 => Some(year),
        _ => None,
    }
}

const MONTHS: [&[&str]; 12] = [
    &["jan", "ene", "gen"],
    &["feb", "fev", "fév"],
    &["mar", "mär", "mrz"],
    &["apr", "avr", "abr"],
    &["may", "mai", "mag"],
    &["jun", "juin", "giu"],
    &["jul", "juil", "lug"],
    &["aug", "aou", "aoû", "ago"],
    &["sep", "set"],
    &["oct", "okt", "ott"],
    &["nov"],
    &["dec", "dez", "déc", "dic"],
];

/// Reads a day.
pub(super) fn day(cell: &Cell, form: DayForm) -> Result<Date, Unread> {
    let text = cell.text.trim();
    match &cell.stored {
        Stored::Day(day) => return Ok(*day),
        Stored::Number(value) => {
            let days = value.to_f64().filter(|days| (20_000.0..80_000.0).contains(days));
            if let Some(day) = days.and_then(|days| day_of(days, false)) {
                return Ok(day);
            }
        }
        Stored::Error => return Err(spreadsheet_error(cell, "type the day")),
        Stored::Text | Stored::Percent(_) => {}
    }
    if let Ok(day) = text.parse::<Date>() {
        return Ok(day);
    }
    // A moment of which the day counts.
    if let Some(day) =
        text.get(..10).filter(|_| text.get(10..11).is_some_and(|sign| matches!(sign, "T" | " ")))
        && let Ok(day) = day.parse::<Date>()
    {
        return Ok(day);
    }
    if text.len() == 8
        && text.bytes().all(|byte| byte.is_ascii_digit())
        && let Some(day) = made(text[..4].parse().ok(), text[4..6].parse().ok(), text[6..].parse().ok())
    {
        return Ok(day);
    }
    if let Some(read) = with_points(text).or_else(|| with_name(text)) {
        return read;
    }
    if let Some((first, second, year)) = two_and_a_year(text) {
        return ordered(text, first, second, year, form.order);
    }
    if let Some((month, year)) = month_alone(text) {
        let ends = made(Some(year), Some(month), Some(1)).map(|first| [first, first.last_of_month()]);
        if let Some([first, last]) = ends {
            if let Some(last_of_month) = form.last_of_month {
                return Ok(if last_of_month { last } else { first });
            }
            return Err(Unread::new(
                format!("\"{text}\" is a month, not a day"),
                "say which day of the month is meant; an expiry is mostly the last",
            )
            .offering([last.to_string(), first.to_string()])
            .asked());
        }
    }
    Err(Unread::new(format!("\"{text}\" is not a day"), "type year, month and day: 2026-11-24"))
}

fn ordered(text: &str, first: i8, second: i8, year: i16, order: Option<DayOrder>) -> Result<Date, Unread> {
    let day_first = made(Some(year), Some(second), Some(first));
    let month_first = made(Some(year), Some(first), Some(second));
    let chosen = match order {
        Some(DayOrder::DayFirst) => day_first,
        Some(DayOrder::MonthFirst) => month_first,
        None if first == second => day_first,
        None => {
            let offers = [day_first, month_first].into_iter().flatten().map(|day| day.to_string());
            return Err(Unread::new(
                format!("in \"{text}\" the day or the month may stand first"),
                "say which; one answer holds for the whole table",
            )
            .offering(offers)
            .asked());
        }
    };
    chosen.ok_or_else(|| {
        let other = if order == Some(DayOrder::DayFirst) { month_first } else { day_first };
        Unread::new(format!("\"{text}\" is no day of the calendar in this order"), "type the day: 2026-11-24")
            .offering(other.map(|day| day.to_string()))
    })
}

fn made(year: Option<i16>, month: Option<i8>, day: Option<i8>) -> Option<Date> {
    Date::new(year?, month?, day?).ok()
}

/// `24.11.2026`.
fn with_points(text: &str) -> Option<Result<Date, Unread>> {
    let parts: Vec<&str> = text.trim_end_matches('.').split('.').map(str::trim).collect();
    let [day, month, year] = parts.as_slice() else { return None };
    if day.len() > 2 || month.len() > 2 {
        return None;
    }
    let year = full_year(year)?;
    let (day, month): (i8, i8) = (day.parse().ok()?, month.parse().ok()?);
    Some(made(Some(year), Some(month), Some(day)).ok_or_else(|| {
        Unread::new(format!("\"{text}\" is no day of the calendar"), "type the day: 2026-11-24")
    }))
}

/// `24 Nov 2026`, `Nov 24, 2026`, `24-Nov-26`.
fn with_name(text: &str) -> Option<Result<Date, Unread>> {
    let lower = text.to_lowercase();
    let parts: Vec<&str> = lower.split([' ', '-', '/', '.', ',']).filter(|part| !part.is_empty()).collect();
    let [first, second, third] = parts.as_slice() else { return None };
    let month_of = |word: &str| {
        let fits = |names: &[&str]| names.iter().any(|name| word.starts_with(name));
        MONTHS.iter().position(|names| fits(names)).and_then(|at| i8::try_from(at + 1).ok())
    };
    let (day, month) = match (month_of(first), month_of(second)) {
        (None, Some(month)) => (first, month),
        (Some(month), None) => (second, month),
        _ => return None,
    };
    let day = day.trim_end_matches(|sign: char| sign.is_alphabetic() || sign == 'º');
    let found = made(full_year(third), Some(month), day.parse().ok());
    Some(found.ok_or_else(|| {
        Unread::new(format!("\"{text}\" is no day of the calendar"), "type the day: 2026-11-24")
    }))
}

/// Whether some of these is a month without a day.
pub(super) fn months_alone<'t>(mut texts: impl Iterator<Item = &'t str>) -> bool {
    texts.any(|text| month_alone(text).is_some())
}

/// `06/2027`, `2027-06`, `Jun 2027`.
fn month_alone(text: &str) -> Option<(i8, i16)> {
    let lower = text.to_lowercase();
    let parts: Vec<&str> = lower.split([' ', '-', '/', '.']).filter(|part| !part.is_empty()).collect();
    let [first, second] = parts.as_slice() else { return None };
    let named = MONTHS.iter().position(|names| names.iter().any(|name| first.starts_with(name)));
    if let Some(month) = named {
        return Some((i8::try_from(month + 1).ok()?, full_year(second)?));
    }
    let (month, year) = if first.len() == 4 { (second, first) } else { (first, second) };
    if month.len() > 2 || year.len() != 4 {
        return None;
    }
    Some((month.parse().ok().filter(|month| (1..=12).contains(month))?, full_year(year)?))
}

/// A weight with its unit: digits and unit as kept, and how it was written where that is another unit.
pub(super) fn weight(
    cell: &Cell,
    unit: &str,
    sign: Option<DecimalSign>,
) -> Result<(String, String, Option<String>), Unread> {
    let text = cell.text.trim();
    let at = text.find(|sign: char| sign.is_alphabetic()).unwrap_or(text.len());
    let (digits, own) = match &cell.stored {
        Stored::Number(value) => (value.to_string(), String::new()),
        _ => (text[..at].trim().to_owned(), text[at..].trim().to_owned()),
    };
    let unit = if own.is_empty() { unit.trim().to_owned() } else { own.clone() };
    let value = number(&digits, sign).map_err(|unread| unread.with(&own))?;
    if unit.is_empty() {
        return Err(
            Unread::new(format!("\"{text}\" has no unit"), "say in which unit the quantities are").asked()
        );
    }
    let known = ["mg", "g", "kg"].into_iter().find(|known| unit.eq_ignore_ascii_case(known));
    let same =
        [("kgs", "kg"), ("kilo", "kg"), ("gr", "g"), ("gram", "g"), ("grams", "g"), ("kilogram", "kg")];
    let known =
        known.or_else(|| same.iter().find(|(word, _)| unit.eq_ignore_ascii_case(word)).map(|pair| pair.1));
    if let Some(known) = known {
        return Ok((value.to_string(), known.to_owned(), None));
    }
    match parse_typed_size(&format!("{value} {}", unit.trim_end_matches('.'))) {
        Ok(grams) => Ok((grams.normalize().to_string(), "g".to_owned(), Some(format!("{value} {unit}")))),
        Err(error) => Err(Unread::new(error.to_string(), error.hint())),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(text: &str) -> Cell {
        Cell { text: text.to_owned(), ..Cell::default() }
    }

    fn decimal(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    #[test]
    fn amounts_are_read_in_the_ways_they_are_written() {
        for text in [
            "q.s. to 100",
            "to 100",
            "ad 100",
            "qs 100 %",
            "q.s.p. 100",
            "Rest",
            "balance",
            "ad 100,00",
            "up to 100.0",
            "q.s. ad 100",
        ] {
            assert_eq!(amount(&cell(text), None), Ok(Amount::Remainder), "{text}");
        }
        for text in ["q.s.", "qs", "as required"] {
            assert_eq!(amount(&cell(text), None), Ok(Amount::Enough), "{text}");
        }
        for (text, wanted, said) in [
            ("5", "5", false),
            ("5 %", "5", true),
            ("0,50%", "0.50", true),
            ("100", "100", false),
            ("12.5", "12.5", false),
        ] {
            assert_eq!(amount(&cell(text), None), Ok(Amount::Percent(decimal(wanted), said)), "{text}");
        }
        for text in ["q.s. to pH 5.5", "to pH 5,5", "pH 5.5"] {
            assert_eq!(amount(&cell(text), None), Ok(Amount::ToPh(decimal("5.5"))), "{text}");
        }
        for text in ["5.0-5.5", "", "a little", "to pH", "pH 5.0-5.5", "<1", "trace", "1,2,3"] {
            assert!(amount(&cell(text), None).is_err(), "{text}");
        }
    }

    #[test]
    fn a_sign_that_may_part_thousands_is_asked_about() {
        let told = number("1,250", None).unwrap_err();
        assert_eq!(told.offers, ["1250", "1.25"]);
        assert_eq!(number("1,250", Some(DecimalSign::Comma)), Ok(decimal("1.250")));
        assert!(number("1,250", Some(DecimalSign::Point)).is_err());
        assert_eq!(number("1.234,5", None).unwrap_err().offers, ["1234.5"]);
        assert_eq!(number("1 234", None).unwrap_err().offers, ["1234"]);
        assert_eq!(decimal_sign(["0,5", "1,250"].into_iter()), Some(DecimalSign::Comma));
        assert_eq!(decimal_sign(["0,5", "1.25"].into_iter()), None);
    }

    #[test]
    fn days_are_read_and_an_ambiguous_one_is_asked_about() {
        for text in [
            "2026-11-24",
            "24.11.2026",
            "24.11.26",
            "24 Nov 2026",
            "Nov 24, 2026",
            "24-Nov-26",
            "24. November 2026",
            "20261124",
            "24/11/2026",
            "2026-11-24T10:00:00",
        ] {
            let order = if text.contains('/') { Some(DayOrder::DayFirst) } else { None };
            assert_eq!(
                day(&cell(text), DayForm { order, last_of_month: None })
                    .map(|day| day.to_string())
                    .as_deref(),
                Ok("2026-11-24"),
                "{text}"
            );
        }
        let told = day(&cell("03/04/2027"), DayForm::default()).unwrap_err();
        assert_eq!(told.offers, ["2027-04-03", "2027-03-04"]);
        assert_eq!(
            day(&cell("05/05/2027"), DayForm::default()).map(|day| day.to_string()).as_deref(),
            Ok("2027-05-05")
        );
        assert_eq!(
            day(&cell("11/24/2026"), DayForm { order: Some(DayOrder::DayFirst), last_of_month: None })
                .unwrap_err()
                .offers,
            ["2026-11-24"]
        );
        assert_eq!(
            day(&cell("06/2027"), DayForm::default()).unwrap_err().offers,
            ["2027-06-30", "2027-06-01"]
        );
        for text in ["31.02.2026", "soon", "2026", "99/99/9999", "1/2/3/4", "n/a"] {
            assert!(day(&cell(text), DayForm::default()).is_err(), "{text}");
        }
        let serial = Cell { text: "46350".into(), stored: Stored::Number(decimal("46350")), formula: false };
        // 46350 days from 1899-12-30, counted by Python's datetime.
        assert_eq!(day(&serial, DayForm::default()).map(|day| day.to_string()).as_deref(), Ok("2026-11-24"));
    }

    #[test]
    fn a_month_means_the_day_that_was_answered_and_an_offer_keeps_its_unit() {
        let last = DayForm { order: None, last_of_month: Some(true) };
        assert_eq!(day(&cell("02/2028"), last).map(|day| day.to_string()).as_deref(), Ok("2028-02-29"));
        assert!(months_alone(["x", "06/2027"].into_iter()) && !months_alone(["24.11.2026"].into_iter()));
        assert_eq!(weight(&cell("1,500 g"), "kg", None).unwrap_err().offers, ["1500 g", "1.5 g"]);
        assert_eq!(amount(&cell("1,250 %"), None).unwrap_err().offers, ["1250 %", "1.25 %"]);
    }

    #[test]
    fn the_order_is_told_by_the_days_that_leave_no_doubt() {
        assert_eq!(day_orders(["03/04/2027", "24/11/2026"].into_iter()), (true, false, true));
        assert_eq!(day_orders(["11/24/2026"].into_iter()), (false, true, false));
        assert_eq!(day_orders(["5.6.2026", "x"].into_iter()), (false, false, false));
    }

    #[test]
    fn weights_of_other_units_become_grams_and_say_so() {
        let read = |text: &str, unit: &str| weight(&cell(text), unit, None);
        assert_eq!(read("25", "kg"), Ok(("25".into(), "kg".into(), None)));
        assert_eq!(read("500 g", ""), Ok(("500".into(), "g".into(), None)));
        // The avoirdupois pound and ounce are exact by agreement.
        assert_eq!(read("5 lb", "kg"), Ok(("2267.96185".into(), "g".into(), Some("5 lb".into()))));
        assert_eq!(read("16", "oz"), Ok(("453.59237".into(), "g".into(), Some("16 oz".into()))));
        for (text, unit) in [("5", ""), ("5 L", ""), ("much", "g"), ("1,250", "g"), ("-5", "lb")] {
            assert!(read(text, unit).is_err(), "{text} {unit}");
        }
    }

    proptest::proptest! {
        #[test]
        fn no_cell_ever_panics(text in "\\PC{0,40}", days in proptest::prelude::any::<f64>()) {
            let text = cell(&text);
            let _ = amount(&text, None);
            let _ = day(&text, DayForm::default());
            let _ = weight(&text, "kg", Some(DecimalSign::Comma));
            let _ = day_of(days, false);
            let _ = day_of(days, true);
        }
        #[test]
        fn what_looks_like_a_number_never_panics(text in "[0-9.,/ %-]{0,14}") {
            let text = cell(&text);
            let _ = (amount(&text, None), day(&text, DayForm::default()), weight(&text, "oz", None));
        }
    }
}
