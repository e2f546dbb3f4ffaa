//! What of an acid or base may go in before the pH is read for the first time: the adjuster's own first addition, on the model alone.
//!
//! ```text
//! m_1 = min( best, bound, m )   rounded down to what can be weighed
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | m | amount solved for the pH | g |
//! | bound | largest addition that runs past the far edge of the window with a risk of 2 % | g |
//! | best | addition that makes the window most probable | g |
//!
//! It is [`Bench::advise`] before anything was added or read. Constants, contents and strengths are doubted as they are at the beaker; an electrode
//! that is off plays no part before it was read. Range and proof: those of the adjuster; `tests/tests/adjusting.rs` leads its batches by it.

use super::{Batch, Bench, Convention, Dosing, Meter, Method, Next, Setting, Trouble, Window};
use crate::assess::Known;
use crate::findings::digits;
use levigate_formula::library::Material;
use levigate_formula::settle::Settled;
use levigate_formula::sheet::{PhRead, Sheet, Target};
use levigate_measure::weighing::{Balance, BalanceRecord};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// What goes in before the pH is read.
#[derive(Clone, Debug, PartialEq)]
pub struct FirstPortion {
    /// Line of the formula, from 0.
    pub line: usize,
    /// Grams, in whole divisions of the balance; zero where nothing may go in.
    pub grams: f64,
    /// Grams solved for the pH.
    pub whole_g: f64,
    /// The one over the other, 0 to 1.
    pub share: f64,
    /// Where it begins, in words: `First 21.3 g of the 24.2 g, then read the pH`.
    pub stands: String,
    /// Why it is so much and no more, with the numbers.
    pub why: String,
    /// Source of the doubts.
    pub source: String,
}

/// The window of a pH that is set, with how it is read: that of the formula where it holds the pH, else the pH with the convention's half width.
/// A window that is read otherwise than the pH is solved for (diluted, at another temperature) is taken as it is: the two are not compared.
#[must_use]
pub fn window_about(target: &Target, to_ph: Decimal, convention: &Convention) -> Window {
    let plain = |value: Decimal| value.to_f64().unwrap_or(f64::NAN);
    let method = Method::of(&target.ph_read);
    let of_formula = target
        .ph
        .filter(|[low, high]| *low < *high && (!method.is_usual() || (*low..=*high).contains(&to_ph)));
    match of_formula {
        Some(edges) => Window { ph: edges.map(plain), method },
        None => Window {
            ph: [plain(to_ph) - convention.target_ph, plain(to_ph) + convention.target_ph],
            method: Method { age_h: method.age_h, ..Method::of(&PhRead::default()) },
        },
    }
}

impl Dosing {
    /// By a balance; of a liquid no less than a drop is let fall, whatever the balance shows.
    #[must_use]
    pub fn with(balance: &Balance, adjuster: Option<&Material>, convention: &Convention) -> Self {
        use levigate_formula::library::Form;
        let in_drops =
            adjuster.is_some_and(|material| matches!(material.form, Form::Liquid | Form::Solution));
        let drop_g = if in_drops { convention.drop_g } else { 0.0 };
        Self {
            readability_g: balance.readability_g(),
            uncertainty_g: balance.standard_uncertainty_g(0.0),
            portion_g: balance.readability_g().max(drop_g),
        }
    }
}

/// The first portion of the line that is added to the pH; none where nothing is added to one, or where it does not reach it.
///
/// # Errors
/// [`Trouble`] of the adjuster, and several lines added to the pH: what each does depends on the others.
pub fn first_portion(
    sheet: &Sheet,
    settled: &Settled<'_>,
    known: &Known<'_>,
    convention: &Convention,
) -> Result<Option<FirstPortion>, Trouble> {
    let Some((lines, to_ph)) = &settled.to_ph else { return Ok(None) };
    let (&[line], Some(&material)) =
        (lines.as_slice(), lines.first().and_then(|line| settled.materials.get(*line)))
    else {
        return Err(Trouble::Several { lines: lines.len() });
    };
    let finished_g = sheet.batch.size_g.to_f64().unwrap_or(0.0);
    let whole_g = settled.lines[line].percent / 100.0 * finished_g;
    if !(whole_g > 0.0 && whole_g.is_finite()) {
        return Ok(None);
    }
    let record = BalanceRecord {
        name: None,
        readability_g: sheet.batch.balance_g,
        repeatability_g: sheet.batch.repeatability_g.and_then(|value| value.to_f64()),
        capacity_g: None,
        certificate: None,
    };
    let balance = Balance::try_from(record).map_err(|_| Trouble::NotUsable {
        what: "the readability of the balance",
        value: sheet.batch.balance_g.to_f64().unwrap_or(f64::NAN),
    })?;
    let assay = sheet.lines().nth(line).and_then(|(_, line)| line.assay_percent?.to_f64());
    let window = window_about(&sheet.target, *to_ph, convention);
    let setting = Setting {
        adjusters: vec![(material, assay)],
        batch: Batch { finished_g, held_back_g: whole_g },
        window,
        meter: Meter { offset_uncertainty: convention.meter_ph },
        dosing: Dosing::with(&balance, Some(material), convention),
        temperatures_c: Vec::new(),
    };
    let mut bench = Bench::of(sheet, *known, setting, convention)?;
    let advice = bench.advise(&[], &[])?;
    Ok(Some(portion(&bench, &advice, (line, &material.name), whole_g)))
}

fn portion(
    bench: &Bench<'_>,
    advice: &super::Advice,
    (line, name): (usize, &str),
    whole_g: f64,
) -> FirstPortion {
    let digit = bench.dosing.readability_g;
    let told = |grams: f64| super::words::grams(grams, digit);
    let far = usize::from(advice.learned.base_per_gram > 0.0);
    let far_ph = bench.window.ph[far];
    let [grams, deviation] = advice.edges()[far];
    let edge = format!(
        "By the model it takes {} \u{b1} {} g to run past pH {far_ph:.2}, the far edge of the window (95 %, by constants, \
         contents and strength)",
        digits(grams),
        digits(super::LADDER[0] * deviation)
    );
    let risk = digits(100.0 * advice.risk);
    let all = (whole_g / digit).round() * digit;
    let (first, why) = match advice.next {
        Next::Add { grams, by_edge } if grams < all => (
            grams,
            if by_edge {
                format!(
                    "{edge}. So much runs past it with a risk of at most {risk} %; the meter decides about the rest."
                )
            } else {
                format!(
                    "{edge}. More than that would leave the window less probable; the meter decides about the rest."
                )
            },
        ),
        Next::Add { .. } => (
            all,
            format!(
                "{edge}. All that is computed runs past it with a risk below {risk} %; the meter has the last word."
            ),
        ),
        Next::Finer { grams, times } => (
            0.0,
            format!(
                "{edge}. At a risk of {risk} % only {} g may go in, less than can be weighed or let fall: read first, and dilute it \
                 {times} times",
                digits(grams)
            ) + ".",
        ),
        _ => (0.0, format!("{edge}. No amount keeps to it at a risk of {risk} %: read the pH first.")),
    };
    // What cannot be weighed of the rest is none.
    let share = if whole_g - first < 0.5 * digit { 1.0 } else { first / whole_g };
    FirstPortion {
        line,
        grams: first,
        whole_g,
        share,
        stands: if first > 0.0 {
            format!("First {} of the {} of {name}, then read the pH", told(first), told(whole_g))
        } else {
            format!("None of the {} of {name} before the pH is read", told(whole_g))
        },
        why,
        source: bench.convention.source.clone(),
    }
}
