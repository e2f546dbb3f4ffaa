//! A batch turned in a vessel.

use crate::diagnostic::{Diagnostic, at};
use crate::making_file::mix::{MixFile, TypedGum, read};
use crate::workbench::flow_use::{Answered, File, of_formula, of_typed};
use levigate_assess::Assessed;
use levigate_facts::Facts;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::band::Band;
use levigate_process::flow::reading::Known;
use levigate_process::flow::{FlowModel, Modelled};
use levigate_process::hydration::reading::GumQuestion;
pub use levigate_process::hydration::reading::{GrowthReading, GumReading};
use levigate_process::mixing::reading::Asked;
pub use levigate_process::mixing::reading::StirReading;
use levigate_process::mixing::stirred::Pot;
use levigate_process::vessel::VesselError;
use serde::Serialize;

/// How a batch stands in its vessel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FillReading {
    /// Vessel.
    pub vessel: String,
    /// Impeller.
    pub impeller: String,
    /// Volume, L.
    pub volume: Outcome,
    /// Depth at the deepest, mm.
    pub depth: Outcome,
    /// Share of the vessel to its rim, percent.
    pub full: Outcome,
}

/// What a speed does, now and before it thickened.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MixReading {
    /// How it stands.
    pub fill: FillReading,
    /// At the end.
    pub stirred: StirReading,
    /// At the start; absent where nobody asked.
    pub at_start: Option<StirReading>,
    /// Its gum; absent where nobody asked.
    pub gum: Option<GumReading>,
}

/// Gum and polyol of a formula.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct GumOfFormula {
    /// Key of the hydration record.
    kind: String,
    /// Percent.
    gum: f64,
    /// Percent.
    polyol: f64,
}

/// What a speed does to a batch; `formula` gives the liquid where the file has none.
///
/// # Errors
/// All that is wrong with the texts.
pub fn mix(
    facts: &Facts,
    file: File<'_>,
    formula: Option<File<'_>>,
) -> Result<Answered<MixReading>, Vec<Diagnostic>> {
    let question = read(file.0, file.1, &facts.mixing, formula.is_some())?;
    let answer = |known: &Known<'_>, gum: Option<&GumOfFormula>| answer(facts, &question, known, gum);
    let answered = match (&question.liquid, formula) {
        (Some(liquid), _) => of_typed(liquid, |known| answer(known, None)),
        (None, Some(formula)) => {
            of_formula(facts, formula, |assessed, known| answer(known, gum_of(facts, assessed).as_ref()))?
        }
        (None, None) => return Err(Vec::new()),
    };
    let Answered { liquid, reading } = answered;
    match reading {
        Ok(reading) => Ok(Answered { liquid, reading }),
        Err(error) => Err(vec![too_full(file, &error, "vessel")]),
    }
}

/// A batch that does not go into its vessel.
pub(super) fn too_full(file: File<'_>, error: &VesselError, field: &str) -> Diagnostic {
    let start = file.1.find("batch_").unwrap_or(0);
    at(file, &(start..start), "no-vessel", field, error.to_string(), error.hint())
}

/// The gum that the formula has most of among those the facts know, with the polyols that could wet it.
fn gum_of(facts: &Facts, assessed: &Assessed<'_>) -> Option<GumOfFormula> {
    let lines = &assessed.composition.lines;
    let percent = |line: usize| {
        lines.iter().filter(|settled| settled.line == line).map(|settled| settled.percent).sum::<f64>()
    };
    let mut best: Option<GumOfFormula> = None;
    for thickener in &assessed.flowing.thickeners {
        let family = &thickener.known.record.family;
        let record = facts.mixing.hydration.values().find(|record| record.families.contains(family));
        let gum: f64 = thickener.lines.iter().map(|line| percent(*line)).sum();
        if let Some(record) = record
            && gum > best.as_ref().map_or(0.0, |best| best.gum)
        {
            best = Some(GumOfFormula { kind: record.key.clone(), gum, polyol: 0.0 });
        }
    }
    let wets = |material: &str| {
        facts.library.materials.get(material).is_some_and(|material| {
            ["humectant", "solvent"].iter().all(|word| material.functions.iter().any(|known| known == word))
        })
    };
    let polyol = lines.iter().filter(|line| wets(&line.material)).map(|line| line.percent).sum();
    best.map(|gum| GumOfFormula { polyol, ..gum })
}

fn answer(
    facts: &Facts,
    question: &MixFile,
    known: &Known<'_>,
    of_formula: Option<&GumOfFormula>,
) -> Result<MixReading, VesselError> {
    let density = known.density_kg_m3.value;
    let filling = question.vessel.filled(question.batch_kg / density)?;
    let Some(pot) = Pot::new(&question.vessel, filling, density) else {
        return Err(VesselError::Unknown {
            key: String::new(),
            what: "an impeller",
            known: facts.mixing.impellers.keys().cloned().collect(),
        });
    };
    let asked = Asked { pot: &pot, speed: question.speed_rpm / 60.0, grains: question.grains };
    let stirred = asked.reading(known);
    let at_start = question.start_pa_s.map(|viscosity| {
        let liquid = Modelled { model: FlowModel::Newton, parameters: vec![viscosity] };
        let thin = Known {
            band: Band::exact(&liquid),
            window: None,
            from: format!("{} mPa s, before it thickens", 1e3 * viscosity),
            ..known.clone()
        };
        asked.reading(&thin)
    });
    let tip = core::f64::consts::PI * asked.speed * pot.impeller.diameter_m;
    let gum = question
        .gum
        .clone()
        .or_else(|| of_formula.map(|_| TypedGum::default()))
        .and_then(|gum| gum_reading(facts, &gum, of_formula, question.batch_kg, tip));
    Ok(MixReading {
        fill: FillReading {
            vessel: question.vessel.words().to_owned(),
            impeller: pot.impeller.kind.words.clone(),
            volume: of_size("L", 1e3 * filling.volume_m3),
            depth: of_size("mm", 1e3 * filling.depth_m),
            full: of_size("%", 100.0 * filling.volume_m3 / question.vessel.brim_m3()),
        },
        stirred,
        at_start,
        gum,
    })
}

fn of_size(unit: &'static str, value: f64) -> Outcome {
    Outcome::new(value, unit, Grade::Computed, "of the sizes of vessel and batch")
        .proved_by("crates/engine/process/src/vessel.rs")
}

fn gum_reading(
    facts: &Facts,
    typed: &TypedGum,
    of_formula: Option<&GumOfFormula>,
    batch_kg: f64,
    tip_m_s: f64,
) -> Option<GumReading> {
    let kind = typed.kind.as_ref().or(of_formula.map(|gum| &gum.kind))?;
    let family = facts.mixing.hydration.get(kind)?;
    let grams = |percent: f64| 10.0 * percent * batch_kg;
    let gum = typed.gum_g.or(of_formula.map(|gum| grams(gum.gum)));
    let polyol = typed.polyol_g.or(of_formula.map(|gum| grams(gum.polyol)));
    let question = GumQuestion {
        family,
        grain_um: typed.grain_um,
        temperature_c: typed.temperature_c,
        gum_and_polyol_g: gum.zip(polyol),
        tip_m_s: Some(tip_m_s),
        readings: typed.readings.clone(),
    };
    Some(question.reading())
}
