//! What may fall out: weak acids and salts at room temperature, in the cold store, and on the way through the phases.
//!
//! On the way means the mixture at the end of each phase, made of the lines so far: a benzoate that is dissolved in the finished product
//! may stand in strong acid half an hour earlier. Nothing precipitates in the model; a degree of saturation near one is a warning.

use crate::acids::{NeutralForm, neutral_forms};
use crate::assess::Assessed;
use crate::findings::saturation::MUCH_THE_SAME;
use crate::findings::water::lines_with;
use crate::mixture::{Mixture, totals_of};
use levigate_formula::aqueous::saturation::AcidSaturation;
use levigate_formula::aqueous::{AqueousError, Chemistry, System, Workspace};
use levigate_formula::composition::Composition;
use levigate_formula::library::Library;
use levigate_formula::sheet::Sheet;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// Temperature of a cold store, C (common practice, no source).
pub const COLD_C: f64 = 5.0;
/// Half-width of the interval of a degree of saturation, relative: solubilities are mostly recalled, co-solvents not counted.
const DOUBT: f64 = 0.25;
/// Degrees below this are not listed.
const LEAST_LISTED: f64 = 0.05;

struct StagePh;
impl Described for StagePh {
    const OF: Description =
        Description::computed("", "equilibrium of the water phase as it stands after the phase")
            .proved_by("tests/cross/aqueous_reference.toml");
}

/// Saturation of the product and on the way to it.
#[derive(Clone, Debug, Serialize)]
pub struct SaturationReading {
    /// At 25 C.
    pub at_25_c: Vec<DegreeReading>,
    /// In a cold store, 5 C.
    pub cold: Vec<DegreeReading>,
    /// At the end of each phase but the last, 25 C.
    pub on_the_way: Vec<StageReading>,
}

/// One substance near its solubility.
#[derive(Clone, Debug, Serialize)]
pub struct DegreeReading {
    /// Acid or solid.
    pub name: String,
    /// Component the lines bring it with; empty for a salt.
    pub component: String,
    /// Dissolved amount over solubility; for a salt ten to the saturation index.
    pub degree: Outcome,
}

/// The mixture at the end of a phase.
#[derive(Clone, Debug, Serialize)]
pub struct StageReading {
    /// Phase, from 0.
    pub phase: usize,
    /// pH then.
    #[serde(serialize_with = "result::<StagePh, _, _>")]
    pub ph: f64,
    /// What is near its solubility then.
    pub degrees: Vec<DegreeReading>,
}

/// Reads all three.
pub(crate) fn saturation(
    sheet: &Sheet,
    mixture: &Mixture,
    composition: &Composition,
    forms: &[NeutralForm<'_>],
    library: &Library,
    chemistry: &Chemistry,
) -> Result<SaturationReading, AqueousError> {
    let cold_system = mixture.system.at_temperature(chemistry, COLD_C)?;
    let degrees_of = |system: &System, workspace: &Workspace, totals: &[f64]| {
        degrees(system, chemistry, forms, workspace, totals)
    };
    let at = |system: &System, phase: &WaterPhase, workspace: &mut Workspace| {
        let (totals, neutral) = totals_of(system, phase)?;
        system.solve(&totals, neutral, workspace)?;
        Ok::<_, AqueousError>(degrees_of(system, workspace, &totals))
    };
    let mut workspace = mixture.workspace.clone();
    let mut on_the_way = Vec::new();
    let mut so_far = WaterPhase::default();
    for phase in 0..sheet.phases.len().saturating_sub(1) {
        for line in composition.lines.iter().filter(|line| line.phase == phase) {
            so_far.add_line(line, library);
        }
        if so_far.water_g < 1.0 {
            continue;
        }
        let degrees = at(&mixture.system, &so_far, &mut workspace)?;
        if !degrees.is_empty() {
            on_the_way.push(StageReading { phase, ph: workspace.ph(), degrees });
        }
    }
    Ok(SaturationReading {
        at_25_c: degrees_of(&mixture.system, &mixture.workspace, &mixture.totals),
        cold: at(&cold_system, &mixture.phase, &mut mixture.workspace.clone())?,
        on_the_way,
    })
}

/// Acids and salts near their solubility in a solved mixture.
fn degrees(
    system: &System,
    chemistry: &Chemistry,
    forms: &[NeutralForm<'_>],
    workspace: &Workspace,
    totals: &[f64],
) -> Vec<DegreeReading> {
    let mut degrees: Vec<DegreeReading> = system
        .acid_saturation(chemistry, workspace, totals)
        .iter()
        .filter(|row| row.degree >= LEAST_LISTED)
        .map(|row| acid(row, system, forms))
        .collect();
    for row in system.salt_saturation(chemistry, workspace, totals) {
        let degree = 10f64.to_the(row.index);
        if degree >= LEAST_LISTED {
            degrees.push(DegreeReading {
                name: row.solid.clone(),
                component: String::new(),
                degree: Outcome::new(
                    degree,
                    "",
                    Grade::Computed,
                    "ion activity product over solubility product",
                )
                .by("10^(log10 IAP - log10 Ksp)")
                .source(row.source.clone())
                .input("log10 Ksp", row.log10_ksp, "", Some(&row.source))
                .note("slow", "many salts stay dissolved far above saturation"),
            });
        }
    }
    degrees
}

/// A weak acid that would crystallise before the base is in.
#[derive(Clone, Debug, PartialEq)]
pub struct CrystalAcid {
    /// Name.
    pub name: String,
    /// Its degree of saturation then.
    pub degree: f64,
    /// Lines it comes from.
    pub lines: Vec<usize>,
    /// Source keys of its solubility.
    pub sources: Vec<String>,
}

/// The mixture of everything but what sets the pH.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Crystals {
    /// pH then; zero when it was not asked.
    pub ph: f64,
    /// What would crystallise.
    pub acids: Vec<CrystalAcid>,
    /// Lines it comes from.
    pub lines: Vec<usize>,
}

/// What would crystallise in everything but the lines that set the pH and does not in the product.
///
/// # Errors
/// A mixture that has no answer.
pub fn before_the_base(
    assessed: &Assessed<'_>,
    library: &Library,
    chemistry: &Chemistry,
    from: f64,
) -> Result<Crystals, AqueousError> {
    let Some((adjusters, _)) = &assessed.settled.to_ph else { return Ok(Crystals::default()) };
    let mixture = &assessed.mixture;
    let mut phase = WaterPhase::default();
    for line in assessed.composition.lines.iter().filter(|line| !adjusters.contains(&line.line)) {
        phase.add_line(line, library);
    }
    if phase.water_g < 1.0 {
        return Ok(Crystals::default());
    }
    let forms = neutral_forms(&mixture.system, library);
    let mut workspace = mixture.workspace.clone();
    let (totals, neutral) = totals_of(&mixture.system, &phase)?;
    mixture.system.solve(&totals, neutral, &mut workspace)?;
    let in_product = |name: &str| {
        let found = assessed.assessment.saturation.at_25_c.iter().find(|other| other.name == name);
        found.and_then(|other| other.degree.value).unwrap_or(0.0)
    };
    let mut crystals = Crystals { ph: workspace.ph(), ..Crystals::default() };
    for found in degrees(&mixture.system, chemistry, &forms, &workspace, &totals) {
        let degree = found.degree.value.unwrap_or(0.0);
        if found.component.is_empty() || degree < from || in_product(&found.name) >= degree * MUCH_THE_SAME {
            continue;
        }
        let lines = lines_with(&assessed.composition, library, &found.component);
        crystals.lines.extend(&lines);
        crystals.acids.push(CrystalAcid { name: found.name, degree, lines, sources: found.degree.sources });
    }
    Ok(crystals)
}

fn acid(row: &AcidSaturation, system: &System, forms: &[NeutralForm<'_>]) -> DegreeReading {
    let form = forms.iter().find(|form| form.fact.name == row.species);
    let mut degree =
        Outcome::new(row.degree, "", Grade::Correlated, "dissolved neutral form over its solubility")
            .within(row.degree * (1.0 - DOUBT), row.degree * (1.0 + DOUBT), None)
            .by("S = m / s(T)")
            .valid_for("water without co-solvents; glycols and alcohols hold more of most organic acids and less of sugars and ascorbic acid")
            .proved_by("tests/cross/scenarios.toml")
            .source(row.source.clone())
            .input("dissolved", row.molality, "mol/kg water", None)
            .input("solubility", row.solubility, "mol/kg water", Some(&row.source))
            .input("temperature", system.conditions().temperature_c, "C", None);
    if row.outside_temperatures {
        degree = degree
            .note("out-of-range", "no solubility is on file for this temperature; the nearest was used");
    }
    DegreeReading {
        name: form
            .and_then(|form| form.substance)
            .map_or_else(|| row.species.clone(), |substance| substance.name.clone()),
        component: form.map(|form| form.component.to_owned()).unwrap_or_default(),
        degree,
    }
}
