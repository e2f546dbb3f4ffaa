//! Counts of a finished product as somebody types them beside the formula.

use crate::proof_file::microbes::{CountRow, LowRisk, MicrobesFile, Water};
use crate::records::TypedNumber;
use crate::workbench::keeping::{FieldFault, Form, KeepError, short};
use levigate_assess::microbes::Looked;
use levigate_rules::book::RuleBook;
use levigate_rules::plates::Plate;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

/// Most rows, plates and organisms anybody types.
const MOST_ROWS: usize = 40;
/// Most colonies anybody counts on a plate.
const MOST_COLONIES: u32 = 10_000;

/// What was typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedMicrobes {
    /// Batch or sample.
    pub title: String,
    /// Counts.
    pub counts: Vec<TypedCount>,
    /// Organisms looked for.
    pub looked: Vec<TypedLooked>,
    /// Count of the water, CFU/mL; `<10` for nothing found above ten.
    pub water: String,
    /// Temperature of filling, C.
    pub fill_c: String,
}

/// Plates of one kind.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedCount {
    /// Key of the plating.
    pub of: String,
    /// Volume on a plate, mL; one where it is empty.
    pub plated_ml: String,
    /// Dilutions.
    pub rows: Vec<TypedPlates>,
}

/// Plates of one dilution.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedPlates {
    /// Product in what was plated: `0.1` g/mL or `1:10`.
    pub dilution: String,
    /// Colonies, one number per plate.
    pub colonies: String,
}

/// An organism as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct TypedLooked {
    /// Name, as the class has it.
    pub organism: String,
    /// `found`, `not-found`; empty where it was not looked for.
    pub answer: String,
    /// In how much product, g.
    pub in_g: String,
}

/// Reads what was typed; empty rows are passed over.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub fn read_typed(rules: &RuleBook, typed: &TypedMicrobes) -> Result<MicrobesFile, KeepError> {
    let mut form = Form::default();
    let rows = typed.counts.iter().map(|count| count.rows.len()).sum::<usize>() + typed.looked.len();
    if rows > MOST_ROWS {
        let what_now = "leave some out";
        return Err(FieldFault::new(
            "counts.0.of",
            "these are too many rows",
            "they would not be read",
            what_now,
        )
        .into());
    }
    let counts =
        typed.counts.iter().enumerate().filter_map(|(at, count)| counted(&mut form, rules, at, count));
    let counts: Vec<CountRow> = counts.collect();
    let mut looked = Vec::new();
    for (at, one) in typed.looked.iter().enumerate().filter(|(_, one)| !one.answer.is_empty()) {
        let field = |name: &str| format!("looked.{at}.{name}");
        if !["found", "not-found"].contains(&one.answer.as_str()) {
            let what_now = "choose found, not found or not looked for";
            form.fault(&field("answer"), "this is no answer", "an organism is there or not", what_now);
        }
        let grams = form.needed(
            &field("in_g"),
            &one.in_g,
            "not found speaks of the product that was looked at",
            "type the grams, usually 1",
        );
        let range = (Decimal::new(1, 3), Decimal::from(1000));
        let grams = form.number(&field("in_g"), &grams, range, "a sample is weighed out");
        if let Some(in_g) = grams.and_then(|grams| grams.value).and_then(|grams| grams.to_f64()) {
            let organism = one.organism.chars().take(100).collect();
            looked.push(Looked { organism, found: one.answer == "found", in_g });
        }
    }
    let water = water(&mut form, &typed.water);
    let range = (Decimal::ZERO, Decimal::from(100));
    let fill = form.number("fill_c", &typed.fill_c, range, "water boils at 100 \u{b0}C");
    let fill_c = fill.and_then(|fill| fill.value).and_then(|fill| fill.to_f64());
    form.done(MicrobesFile {
        title: typed.title.trim().chars().take(200).collect(),
        class: None,
        counts,
        looked,
        water,
        materials: Vec::new(),
        low_risk: Some(LowRisk { fill_c, ..LowRisk::default() }),
    })
}

fn counted(form: &mut Form, rules: &RuleBook, at: usize, typed: &TypedCount) -> Option<CountRow> {
    let mut plates = Vec::new();
    for (row, one) in typed.rows.iter().enumerate().filter(|(_, one)| !one.colonies.trim().is_empty()) {
        let field = |name: &str| format!("counts.{at}.rows.{row}.{name}");
        let product = dilution(&one.dilution);
        if product.is_none() {
            form.fault(
                &field("dilution"),
                &format!("\"{}\" is not a dilution", short(&one.dilution)),
                "it is the product in what was plated",
                "type it like 1:10 or 0.1",
            );
        }
        for text in one.colonies.split([' ', ';', '/', '\t']).filter(|text| !text.is_empty()) {
            match text.parse::<u32>() {
                Ok(colonies) if colonies <= MOST_COLONIES => {
                    plates.extend(product.map(|product_g_ml| Plate { product_g_ml, colonies }));
                }
                _ => form.fault(
                    &field("colonies"),
                    &format!("\"{}\" is not a number of colonies", short(text)),
                    "colonies are whole",
                    "type one number for each plate with a space between; leave out a plate nobody could count",
                ),
            }
        }
    }
    let range = (Decimal::new(1, 3), Decimal::from(1000));
    let plated =
        form.number(&format!("counts.{at}.plated_ml"), &typed.plated_ml, range, "it is what a plate holds");
    let plated_ml = plated.and_then(|plated| plated.value).and_then(|plated| plated.to_f64()).unwrap_or(1.0);
    if !rules.plating.contains_key(&typed.of) {
        let what = format!("\"{}\" is nothing that is counted", short(&typed.of));
        form.fault(
            &format!("counts.{at}.of"),
            &what,
            "limits speak of bacteria and of fungi",
            "load the page anew",
        );
    }
    (!plates.is_empty()).then(|| CountRow { of: typed.of.clone(), plated_ml, plates })
}

/// `0.1`, `0,1`, `1:10`, `1/10`.
fn dilution(text: &str) -> Option<f64> {
    let number = |text: &str| TypedNumber::read_either(text).value.and_then(|value| value.to_f64());
    let share = match text.split_once([':', '/']) {
        Some((part, whole)) => number(part)? / number(whole)?,
        None => number(text)?,
    };
    Some(share).filter(|share| *share > 0.0 && *share <= 1.0)
}

fn water(form: &mut Form, text: &str) -> Option<Water> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    let (below, digits) = text.strip_prefix('<').map_or((false, text), |digits| (true, digits));
    let count = TypedNumber::read_either(digits).value.and_then(|value| value.to_f64());
    let Some(cfu_per_ml) = count.filter(|count| (0.0..=1e12).contains(count)) else {
        form.fault(
            "water",
            &format!("\"{}\" is not a count", short(text)),
            "it is what a millilitre of the water holds",
            "type it like 40, 2.4e3, or <10 where nothing was found",
        );
        return None;
    };
    Some(Water { cfu_per_ml, below, percent: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rules() -> RuleBook {
        levigate_facts::shipped().unwrap().rules
    }

    fn plates(dilution: &str, colonies: &str) -> TypedPlates {
        TypedPlates { dilution: dilution.to_owned(), colonies: colonies.to_owned() }
    }

    #[test]
    fn plates_are_read_by_dilution_and_empty_rows_are_passed_over() {
        let rows = vec![plates("1:10", "182 164"), plates("0,01", "19"), plates("1:1000", "")];
        let count = TypedCount { of: "bacteria".to_owned(), rows, ..TypedCount::default() };
        let typed =
            TypedMicrobes { counts: vec![count], water: "<10".to_owned(), ..TypedMicrobes::default() };
        let read = read_typed(&rules(), &typed).unwrap();
        let shares: Vec<(f64, u32)> =
            read.counts[0].plates.iter().map(|plate| (plate.product_g_ml, plate.colonies)).collect();
        assert_eq!(shares, [(0.1, 182), (0.1, 164), (0.01, 19)]);
        assert!(read.water.is_some_and(|water| water.below && water.cfu_per_ml == 10.0));
    }

    #[test]
    fn what_cannot_be_read_is_told_beside_its_field() {
        let rows = vec![plates("10:1", "182"), plates("0.1", "many 3.5")];
        let count = TypedCount { of: "algae".to_owned(), rows, plated_ml: "0".to_owned() };
        let looked = TypedLooked { answer: "found".to_owned(), ..TypedLooked::default() };
        let typed = TypedMicrobes {
            counts: vec![count],
            looked: vec![looked],
            water: "some".to_owned(),
            ..TypedMicrobes::default()
        };
        let Err(KeepError::Typed(faults)) = read_typed(&rules(), &typed) else { panic!() };
        let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
        assert_eq!(
            fields,
            [
                "counts.0.rows.0.dilution",
                "counts.0.rows.1.colonies",
                "counts.0.rows.1.colonies",
                "counts.0.plated_ml",
                "counts.0.of",
                "looked.0.in_g",
                "water"
            ]
        );
    }
}
