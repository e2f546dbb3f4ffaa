//! What a flow curve means for the person: out of the pack, over the skin, on the shelf, along the life and in the words of a brief. Of a liquid as
//! typed or of a formula as predicted.

use super::assess::with_assessed;
use crate::diagnostic::{Diagnostic, at};
use crate::flow_file::{NoSizes, Question, Sizes, TypedLiquid, read, read_sizes_alone};
use jiff::civil::Date;
use levigate_assess::Assessed;
use levigate_assess::flow_use::Flows;
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::Liquid;
use levigate_process::flow::band::{Band, Spread};
use levigate_process::flow::reading as of;
pub use levigate_process::flow::reading::{
    BubbleReading, CreamReading, DispenseReading, DrainReading, InUse, StageReading, TubeReading, Verdict,
    WordBandReading, WordReading,
};
use levigate_process::flow::reading::{Customs, Known};
use levigate_process::flow::settings::{Dispensing, Draining, Standing};
use serde::Serialize;

/// A file by its name and text.
pub type File<'t> = (&'t str, &'t str);

/// The liquid that was asked.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LiquidReading {
    /// Where its flow curve comes from.
    pub from: String,
    /// Density, kg/m3.
    pub density: Outcome,
    /// Yield stress, Pa.
    pub yield_stress: Outcome,
}

/// An answer with the liquid it is about.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answered<R> {
    /// The liquid.
    pub liquid: LiquidReading,
    /// The answer.
    #[serde(flatten)]
    pub reading: R,
}

/// Out of the pack.
///
/// # Errors
/// All that is wrong with the texts.
pub fn dispense(
    facts: &Facts,
    file: File<'_>,
    sizes: Option<File<'_>>,
) -> Result<Answered<DispenseReading>, Vec<Diagnostic>> {
    let usual: &Dispensing = usual(file, facts.flow_use.dispensing.as_ref(), "flow_dispense")?;
    ask(facts, file, sizes, usual, of::dispense)
}

/// Over the skin.
///
/// # Errors
/// All that is wrong with the texts.
pub fn drain(
    facts: &Facts,
    file: File<'_>,
    sizes: Option<File<'_>>,
) -> Result<Answered<DrainReading>, Vec<Diagnostic>> {
    let usual: &Draining = usual(file, facts.flow_use.draining.as_ref(), "flow_drain")?;
    ask(facts, file, sizes, usual, of::drain)
}

/// On the shelf.
///
/// # Errors
/// All that is wrong with the texts.
pub fn cream(
    facts: &Facts,
    file: File<'_>,
    sizes: Option<File<'_>>,
) -> Result<Answered<CreamReading>, Vec<Diagnostic>> {
    let usual: &Standing = usual(file, facts.flow_use.standing.as_ref(), "flow_cream")?;
    ask(facts, file, sizes, usual, of::cream)
}

/// The sizes of the facts; only facts without the shipped ones lack them.
fn usual<'f, S>((file, text): File<'_>, found: Option<&'f S>, table: &str) -> Result<&'f S, Vec<Diagnostic>> {
    found.ok_or_else(|| {
        let what = format!("the facts have no [{table}]");
        vec![at((file, text), &(0..0), "no-sizes", "", what, "lay facts with this table over")]
    })
}

fn ask<S: Sizes, R>(
    facts: &Facts,
    file: File<'_>,
    sizes: Option<File<'_>>,
    usual: &S,
    answer: impl Fn(&Known<'_>, &S) -> R,
) -> Result<Answered<R>, Vec<Diagnostic>> {
    let usual = match sizes {
        Some((name, text)) => read_sizes_alone(name, text, usual)?,
        None => usual.clone(),
    };
    match read(file.0, file.1, &usual)? {
        Question::Liquid(liquid, sizes) => Ok(of_typed(&liquid, |known| answer(known, &sizes))),
        Question::Formula => of_formula(facts, file, |_, known| answer(known, &usual)),
    }
}

pub(crate) fn answered<R>(
    known: &Known<'_>,
    density_note: Option<&str>,
    answer: impl FnOnce(&Known<'_>) -> R,
) -> Answered<R> {
    let at = known.density_kg_m3;
    let mut density = Outcome::new(at.value, "kg/m3", known.grade, "as given");
    if at.low < at.high {
        density = density.within(at.low, at.high, known.coverage);
    }
    if let Some(note) = density_note {
        density = density.note("assumed", note);
    }
    let yields = known.band.spread(|liquid| liquid.yield_stress());
    let mut yield_stress = Outcome::new(yields.value, "Pa", known.grade, "of the flow curve");
    if yields.low < yields.high {
        yield_stress = yield_stress.within(yields.low, yields.high, known.coverage);
    }
    Answered {
        liquid: LiquidReading { from: known.from.clone(), density, yield_stress },
        reading: answer(known),
    }
}

/// An answer about a liquid as typed.
pub(crate) fn of_typed<R>(typed: &TypedLiquid, answer: impl FnOnce(&Known<'_>) -> R) -> Answered<R> {
    let (thin, thick) = (typed.edge(false), typed.edge(true));
    let middle: &dyn Liquid = &typed.liquid;
    let band =
        if typed.factor > 1.0 { Band { thin: &thin, middle, thick: &thick } } else { Band::exact(middle) };
    let density = typed.density_kg_m3;
    let known = Known {
        band,
        density_kg_m3: Spread { value: density, low: density, high: density },
        grade: Grade::Computed,
        coverage: None,
        window: typed.window,
        from: typed.from.clone(),
    };
    let note = typed.density_assumed.then_some("no density was given: that of water is taken");
    answered(&known, note, answer)
}

/// A day and a market change nothing about how a formula flows; the assessment asks for them.
const ANY_DAY: Date = Date::constant(2026, 1, 1);

/// An answer about a formula as predicted, with the formula assessed.
pub(crate) fn of_formula<R>(
    facts: &Facts,
    (file, text): File<'_>,
    answer: impl Fn(&Assessed<'_>, &Known<'_>) -> R,
) -> Result<Answered<R>, Vec<Diagnostic>> {
    with_assessed(facts, (ANY_DAY, ""), file, text, |formula, _, assessed| {
        let flows = Flows::of(assessed).map_err(|why| {
            vec![formula.diagnose_line(
                None,
                "no-flow-curve",
                format!("the flow of this formula is not predicted: {why}"),
                "measure it and give the curve under [liquid] instead of the formula".to_owned(),
            )]
        })?;
        Ok(answered(&flows.known(), None, |known| answer(assessed, known)))
    })
}

/// Everything that a flow curve means for the person, of a liquid or a formula, with the usual sizes.
///
/// # Errors
/// All that is wrong with the text.
pub fn in_use(facts: &Facts, file: File<'_>) -> Result<Answered<InUse>, Vec<Diagnostic>> {
    let sizes = &facts.flow_use;
    let customs = Customs {
        stages: sizes.stages.values().collect(),
        words: sizes.words.values().collect(),
        dispensing: usual(file, sizes.dispensing.as_ref(), "flow_dispense")?,
        draining: usual(file, sizes.draining.as_ref(), "flow_drain")?,
        standing: usual(file, sizes.standing.as_ref(), "flow_cream")?,
    };
    ask(facts, file, None, &NoSizes {}, |known, _| of::in_use(known, &customs))
}

/// The life of the product on its flow curve, and the words of a brief it meets.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LifeReading {
    /// Stages in their order.
    pub life: Vec<StageReading>,
    /// Words.
    pub words: Vec<WordReading>,
}

/// The life of the product on its flow curve, and the words of a brief it meets, of a liquid or a formula.
///
/// # Errors
/// All that is wrong with the text.
pub fn life(facts: &Facts, file: File<'_>) -> Result<Answered<LifeReading>, Vec<Diagnostic>> {
    let stages: Vec<_> = facts.flow_use.stages.values().collect();
    let words: Vec<_> = facts.flow_use.words.values().collect();
    ask(facts, file, None, &NoSizes {}, |known, _| LifeReading {
        life: of::life(known, &stages),
        words: of::words(known, &words),
    })
}
