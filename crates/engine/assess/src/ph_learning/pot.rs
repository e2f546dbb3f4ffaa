//! One making as its pH is read, for any value of what is hidden in it: contents, bound base, constants, the electrode.
//!
//! ```text
//! h(u) = pH( T0 + sum_k u_k d_k ;  log K + sum_k u_k s_k ) + sum_k u_k p_k
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | u_k | a hidden number in its own standard uncertainties |
//! | T0, d_k | amounts in 100 g as the papers say, and what one standard uncertainty moves, mol |
//! | s_k | standard uncertainty of a constant (log10) or of an apparent pKa |
//! | p_k | what moves the reading directly: electrode, coefficients, mixed solvent, weighing, pH |
//!
//! Amounts and constants are really moved and solved again, so that a titration curve keeps its bend; coefficients, solvent and weighing enter by their
//! slopes at the place.

use super::{Key, Making};
use crate::adjusting::Convention;
use crate::assess::{AssessError, Known, solved};
use crate::certainty::solvent_shift;
use crate::wanted::TENFOLD;
use levigate_formula::aqueous::interval::PH_SCALE;
use levigate_formula::aqueous::{Chemistry, Doubt, Portion, Ray, System, Workspace};
use levigate_formula::composition::{ConstituentShare, SettledLine};
use levigate_formula::library::{InWater, Library, Material};
use levigate_formula::sheet::{Amount, Sheet};
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::elementary::Elementary as _;

/// Share of the variance of a content that lies between lots: judgement, no source; the same is taken of thickeners.
const BETWEEN_LOTS: f64 = 0.5;
/// Share of the variance of an electrode that stays with it from day to day: judgement, no source.
const STAYS_WITH_ELECTRODE: f64 = 0.5;
/// A hidden number that moves the reading by less, pH, is counted among the scatter.
const TOO_LITTLE: f64 = 1e-3;

/// How a pH is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadHow {
    /// One part in nine of water instead of as it is.
    pub diluted: bool,
    /// Temperature of the sample, C.
    pub temperature_c: f64,
}

impl ReadHow {
    /// As it is, at 25 C.
    pub const USUAL: Self = Self { diluted: false, temperature_c: 25.0 };
}

/// Why a making cannot be learned from or foretold.
#[derive(Clone, Debug, PartialEq)]
pub enum NoPot {
    /// The sheet has no answer.
    Formula(AssessError),
    /// A line is solved for a pH: how much went in is not on file.
    Solved {
        /// Raw material.
        material: String,
    },
    /// Something that ionises has no constants.
    NotInModel {
        /// What.
        names: Vec<String>,
    },
}

impl NoPot {
    /// In words.
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Formula(AssessError::Settle(errors)) => {
                errors.first().map(ToString::to_string).unwrap_or_default()
            }
            Self::Formula(AssessError::Mixture(error)) => error.to_string(),
            Self::Solved { material } => format!(
                "{material} is solved for the pH and what really went in is not on file: weigh it into the trial, then its reading teaches"
            ),
            Self::NotInModel { names } => {
                format!("no constants are on file for {}: others would be blamed for it", names.join(", "))
            }
        }
    }
}

/// What a hidden number does.
#[derive(Clone, Debug)]
enum Does {
    /// Moves the constant of a species, by log10.
    Constant(usize, f64),
    /// Moves the apparent pKa of a polyacid.
    Polyacid(usize, f64),
    /// Moves amounts, mol in 100 g.
    Amounts(Vec<f64>),
    /// Moves the reading by one of the slopes the equilibrium tells, by its place among them.
    Slope(usize),
    /// Moves the reading.
    Reading(f64),
    /// All weighings together.
    Weighing,
}

/// A hidden number of a making.
#[derive(Clone, Debug)]
pub(super) struct Number {
    pub(super) key: Key,
    does: Does,
    pub(super) about: About,
}

/// What is to be said of a hidden number: its name, and how far one standard uncertainty of it is in the unit it is told in.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct About {
    pub(super) of: String,
    pub(super) what: String,
    pub(super) one: f64,
    pub(super) unit: &'static str,
}

/// A making, laid out.
#[derive(Clone, Debug)]
pub struct Pot {
    system: System,
    base: Portion,
    lines: Vec<Vec<f64>>,
    solvent: Doubt,
    pub(super) numbers: Vec<Number>,
    /// What is counted among the scatter, pH.
    pub(super) aside: f64,
    pub(super) scatter: f64,
}

/// The reading at a place, and its slopes by the hidden numbers there.
#[derive(Clone, Debug)]
pub(super) struct Straight {
    pub(super) ph: f64,
    pub(super) slopes: Vec<f64>,
}

impl Pot {
    /// Lays out a making as its pH is read.
    ///
    /// # Errors
    /// [`NoPot`].
    pub fn of(
        sheet: &Sheet,
        known: &Known<'_>,
        convention: &Convention,
        making: &Making<'_>,
        how: ReadHow,
    ) -> Result<Self, NoPot> {
        if let Some((_, line)) = sheet.lines().find(|(_, line)| matches!(line.amount, Amount::ToPh(_))) {
            return Err(NoPot::Solved { material: line.material.clone() });
        }
        let (settled, _, mixture) = solved(sheet, known).map_err(NoPot::Formula)?;
        if !mixture.not_in_model.is_empty() {
            return Err(NoPot::NotInModel { names: mixture.not_in_model.keys().cloned().collect() });
        }
        let system = if how.temperature_c == ReadHow::USUAL.temperature_c {
            mixture.system.clone()
        } else {
            mixture
                .system
                .at_temperature(known.chemistry, how.temperature_c)
                .map_err(|error| NoPot::Formula(error.into()))?
        };
        let mut base = Portion::of(&system, &mixture.phase);
        if how.diluted {
            base.water_kg += TENFOLD * 0.1;
        }
        let (solvent, _) = solvent_shift(&mixture.phase, known.library, known.chemistry);
        // Nine parts of water leave of the solvent what little a tenth of it does.
        let solvent = (solvent.fraction > 0.0 && !how.diluted).then_some(solvent);
        let ground = Ground { system: &system, library: known.library, chemistry: known.chemistry };
        let lines = settled
            .lines
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != settled.remainder)
            .map(|(_, line)| {
                let phase = WaterPhase::of_constituents(&line.constituents, known.library);
                ground.moved(&phase, line.percent * convention.line_relative)
            })
            .filter(|moved| moved.iter().any(|mol| *mol != 0.0))
            .collect();
        let lots: Vec<String> = sheet.lines().map(|(_, line)| line.lot.clone().unwrap_or_default()).collect();
        let mut numbers: Vec<Number> = Vec::new();
        for (line, material) in settled.lines.iter().zip(&settled.materials) {
            let lot = lots.get(line.line).map_or("", String::as_str);
            for part in ground.contents(line, material, convention.strength_relative) {
                split_between_lots(&mut numbers, &material.key, lot, part);
            }
        }
        let mut excess = vec![0.0; base.components_mol.len()];
        excess[0] = -convention.excess_mmol_kg / 1e4;
        numbers.push(Number {
            key: Key::Excess(making.formula.to_owned()),
            does: Does::Amounts(excess),
            about: About {
                of: making.name.to_owned(),
                what: "base that nobody counts, below zero acid".to_owned(),
                one: convention.excess_mmol_kg,
                unit: "mmol/kg",
            },
        });
        let own = convention.meter_ph;
        let direct = |key: Key, of: &str, what: &str, one: f64| Number {
            key,
            does: Does::Reading(one),
            about: About { of: of.to_owned(), what: what.to_owned(), one, unit: "pH" },
        };
        numbers.extend([
            direct(
                Key::Electrode,
                "the electrode",
                "what it reads too high",
                (own * own * STAYS_WITH_ELECTRODE + PH_SCALE * PH_SCALE).sqrt(),
            ),
            direct(
                Key::TrialElectrode,
                "this trial",
                "calibration of the day",
                own * (1.0 - STAYS_WITH_ELECTRODE).sqrt(),
            ),
            Number { key: Key::TrialWeighing, does: Does::Weighing, about: About::default() },
        ]);
        let mut pot = Self {
            system,
            base,
            lines,
            solvent: Doubt { solvent, ..Doubt::default() },
            numbers,
            aside: 0.0,
            scatter: convention.reading_ph,
        };
        pot.take_constants().map_err(NoPot::Formula)?;
        Ok(pot)
    }

    /// Adds what is open about constants, coefficients and solvent; what moves the reading too little goes aside.
    fn take_constants(&mut self) -> Result<(), AssessError> {
        let mut workspace = Workspace::new();
        let ray = self.at(&self.system, self.base.clone());
        self.system.solve_along(&ray, 0.0, &mut workspace)?;
        let sensitivities = self.system.sensitivities(&workspace);
        let (species, chains) = (self.system.species().len(), sensitivities.by_polyacid.len());
        let mut found = Vec::new();
        let mut place = 0;
        self.system.ph_pulls(
            workspace.totals_given(),
            &workspace,
            &sensitivities,
            &self.solvent,
            |name, size| {
                if size.is_finite() && size != 0.0 {
                    found.push((place, name(), size));
                }
                place += 1;
            },
        );
        for (place, name, size) in found {
            let (does, one, unit) = if place < species {
                let one = self.system.species()[place].uncertainty_log10;
                (Does::Constant(place, one), one, "in log10 K")
            } else if place < species + chains {
                let one = (size / sensitivities.by_polyacid[place - species]).abs();
                (Does::Polyacid(place - species, one), one, "in pKa")
            } else {
                (Does::Slope(place), 1.0, "of its doubt")
            };
            // Coefficients of ions and of neutral species are two doubts of one name.
            let twice = self.numbers.iter().any(|one| one.key == Key::Constant(name.clone()));
            let name = if twice { format!("{name} of neutral species") } else { name };
            let about = About { of: name.clone(), what: String::new(), one, unit };
            self.numbers.push(Number { key: Key::Constant(name), does, about });
        }
        let nothing = vec![0.0; self.numbers.len()];
        let Some(straight) = self.straight(&nothing) else { return Ok(()) };
        let mut aside = 0.0;
        let mut slopes = straight.slopes.into_iter();
        self.numbers.retain(|_| {
            let slope = slopes.next().unwrap_or(0.0);
            let little = slope.abs() < TOO_LITTLE;
            aside += if little { slope * slope } else { 0.0 };
            !little
        });
        self.aside = aside.sqrt();
        Ok(())
    }

    fn at(&self, system: &System, base: Portion) -> Ray {
        let along = Portion::of_components(vec![0.0; system.components().len()]);
        Ray { base, along, most: 1.0 }
    }

    /// The reading where the hidden numbers have these values, in their standard uncertainties; none where that is no mixture.
    pub(super) fn straight(&self, values: &[f64]) -> Option<Straight> {
        let mut base = self.base.clone();
        let (mut constants, mut polyacids) = (vec![0.0; self.system.species().len()], Vec::new());
        for (number, value) in self.numbers.iter().zip(values) {
            match &number.does {
                Does::Amounts(mol) => {
                    for (into, one) in base.components_mol.iter_mut().zip(mol) {
                        *into += value * one;
                    }
                }
                Does::Constant(place, one) => constants[*place] += value * one,
                Does::Polyacid(place, one) => {
                    polyacids.resize(polyacids.len().max(place + 1), 0.0);
                    polyacids[*place] += value * one;
                }
                Does::Slope(_) | Does::Reading(_) | Does::Weighing => {}
            }
        }
        if base.components_mol.iter().skip(1).any(|mol| *mol < 0.0) {
            return None;
        }
        let moved = self.system.with_moved_constants(&constants, &polyacids);
        let mut workspace = Workspace::new();
        let mut ph = moved.solve_along(&self.at(&moved, base.clone()), 0.0, &mut workspace).ok()?;
        let sensitivities = moved.sensitivities(&workspace);
        let along = |mol: &[f64]| -> f64 {
            let by_total = sensitivities.by_total.iter().zip(mol);
            by_total.map(|(slope, mol)| slope * mol).sum::<f64>() / base.water_kg
        };
        let mut pulls = Vec::new();
        if self.numbers.iter().any(|number| matches!(number.does, Does::Slope(_))) {
            let totals = workspace.totals_given();
            moved.ph_pulls(totals, &workspace, &sensitivities, &self.solvent, |_, size| {
                pulls.push(if size.is_finite() { size } else { 0.0 });
            });
        }
        let mut slopes = Vec::with_capacity(self.numbers.len());
        for (number, value) in self.numbers.iter().zip(values) {
            let (slope, by_slope) = match &number.does {
                Does::Amounts(mol) => (along(mol), false),
                Does::Constant(place, one) => (sensitivities.by_constant[*place] * one, false),
                Does::Polyacid(place, one) => (sensitivities.by_polyacid[*place] * one, false),
                Does::Slope(place) => (pulls.get(*place).copied().unwrap_or(0.0), true),
                Does::Reading(one) => (*one, true),
                Does::Weighing => {
                    (self.lines.iter().map(|line| along(line).powi(2)).sum::<f64>().sqrt(), true)
                }
            };
            if by_slope {
                ph += slope * value;
            }
            slopes.push(slope);
        }
        (ph.is_finite() && slopes.iter().all(|slope| slope.is_finite())).then_some(Straight { ph, slopes })
    }

    /// What would be read, but for the scatter, where every hidden number has a value of its own in its standard uncertainties; `of` is asked once for
    /// each, by a name that is the same in every making it is the same number in. None where that is no mixture.
    #[must_use]
    pub fn reads(&self, mut of: impl FnMut(&str) -> f64) -> Option<f64> {
        let values: Vec<f64> = self.numbers.iter().map(|one| of(&format!("{:?}", one.key))).collect();
        self.straight(&values).map(|straight| straight.ph)
    }

    /// What a reading scatters by beside the hidden numbers, pH.
    #[must_use]
    pub fn noise(&self) -> f64 {
        self.scatter.root_sum_square(self.aside)
    }
}

/// A content or what of base is bound in a raw material, with what one standard uncertainty of it moves.
struct Part {
    number: String,
    about: About,
    mol: Vec<f64>,
}

/// Half of the variance stays with the grade, half with the lot.
fn split_between_lots(numbers: &mut Vec<Number>, material: &str, lot: &str, part: Part) {
    let shares = [
        (Key::Grade(material.to_owned(), part.number.clone()), 1.0 - BETWEEN_LOTS),
        (Key::Lot(material.to_owned(), lot.to_owned(), part.number.clone()), BETWEEN_LOTS),
    ];
    for (key, share) in shares {
        let root = share.sqrt();
        let mol: Vec<f64> = part.mol.iter().map(|mol| mol * root).collect();
        // Two lines of one raw material are one content.
        if let Some(same) = numbers.iter_mut().find(|one| one.key == key) {
            if let Does::Amounts(known) = &mut same.does {
                known.iter_mut().zip(&mol).for_each(|(into, more)| *into += more);
            }
            continue;
        }
        let about = About { one: part.about.one * root, ..part.about.clone() };
        numbers.push(Number { key, does: Does::Amounts(mol), about });
    }
}

struct Ground<'g> {
    system: &'g System,
    library: &'g Library,
    chemistry: &'g Chemistry,
}

impl Ground<'_> {
    fn moved(&self, phase: &WaterPhase, amount: f64) -> Vec<f64> {
        Portion::of(self.system, phase).components_mol.iter().map(|mol| mol * amount).collect()
    }

    /// What is open about a line: every content by its range, the strength of an acid or base beside it, and what of base is bound in a salt.
    fn contents(&self, line: &SettledLine, material: &Material, strength: f64) -> Vec<Part> {
        let mut found = Vec::new();
        let brings = WaterPhase::of_constituents(&line.constituents, self.library);
        let cations: f64 = brings
            .components_mol
            .iter()
            .filter(|(name, _)| *name != "H+")
            .filter_map(|(name, mol)| Some((self.chemistry.components.get(name)?.charge, mol)))
            .filter(|(charge, _)| *charge > 0)
            .map(|(charge, mol)| f64::from(charge) * mol)
            .sum();
        let protons = brings.components_mol.get("H+").copied().unwrap_or(0.0);
        let salt = cations > 0.0 && protons > -0.5 * cations;
        for part in &line.constituents {
            let Some(substance) = self.library.substances.get(&part.substance) else { continue };
            let ionic = matches!(substance.in_water, InWater::Components { .. } | InWater::Polyion { .. });
            if !ionic || part.typical <= 0.0 {
                continue;
            }
            let range = 0.5 * (part.high - part.low) / part.typical / 3f64.sqrt();
            let active = material.active.as_deref().is_none_or(|key| key == part.substance);
            let relative = if salt || !active { range } else { range.root_sum_square(strength) };
            let one = ConstituentShare { typical: part.typical * relative, ..part.clone() };
            let phase = WaterPhase::of_constituents(&[one], self.library);
            let mol = self.moved(&phase, line.percent);
            if mol.iter().any(|mol| *mol != 0.0) {
                let what = format!("content of {}", substance.name);
                let about = About { of: material.name.clone(), what, one: 100.0 * relative, unit: "%" };
                // Beside the assay of a lot something else is open than the range of its grade.
                let number = if range > 0.0 {
                    part.substance.clone()
                } else {
                    format!("{}, beside its assay", part.substance)
                };
                found.push(Part { number, about, mol });
            }
        }
        if salt && strength > 0.0 {
            let mut mol = vec![0.0; self.system.components().len()];
            mol[0] = -cations * strength * line.percent;
            let what = "base bound in it (counter-ion)".to_owned();
            let about = About { of: material.name.clone(), what, one: 100.0 * strength, unit: "%" };
            found.push(Part { number: "bound base".to_owned(), about, mol });
        }
        found
    }
}
