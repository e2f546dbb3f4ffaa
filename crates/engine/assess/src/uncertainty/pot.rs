//! The batch as a function of everything uncertain: quick enough to be asked a hundred thousand times.

use super::sources::{Effect, Group, Moves, Source, of_equilibrium, of_making};
use super::{Ask, BatchError};
use crate::acids::neutral_forms;
use crate::assess::Assessed;
use crate::certainty::solvent_shift;
use crate::flow::{Ask as FlowAsk, brief_temperature, ready};
use crate::metals::brought;
use crate::mixture::{Mixture, totals_of};
use levigate_formula::aqueous::{Departure, Speciation, System, Workspace};
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::uncertainty::Scatter;
use levigate_rules::limits::{LimitReading, Verdict};
use rust_decimal::prelude::ToPrimitive;

/// Ways of a line into its water phase, per gram of it.
#[derive(Clone, Debug, Default)]
struct Brings {
    /// Components of the system, mol.
    components: Vec<f64>,
    water_g: f64,
    neutral_mol: f64,
}

/// What is read of every draw.
#[derive(Clone, Debug)]
pub(super) enum Output {
    /// pH of the product.
    Ph,
    /// Share of an acid that stands in its uncharged form, %: species, component, units per species.
    Undissociated { species: usize, component: usize, count: f64 },
    /// Cost of a kilogram; price of every line per gram of it.
    Cost { per_g: Vec<f64> },
    /// Amount on the basis of a limit, % w/w: per gram of every line, and what every content adds to it per point.
    Limited { per_g: Vec<f64>, by_content: Vec<f64> },
    /// ln viscosity: at the values, and how it answers to every source, in the order of the sources.
    LnViscosity { at: f64, slopes: Vec<f64> },
}

/// The batch.
pub(super) struct Pot {
    pub(super) system: System,
    base: Workspace,
    shifts: (Vec<f64>, f64),
    brings: Vec<Brings>,
    by_content: Vec<Brings>,
    effects: Vec<Effect>,
    /// Comes with every 100 g without being weighed.
    brought: Vec<f64>,
    pub(super) masses: Vec<f64>,
    pub(super) sources: Vec<Source>,
    pub(super) outputs: Vec<Output>,
}

/// Room for one thread.
pub(super) struct Room {
    system: System,
    workspace: Workspace,
    departure: Departure,
    masses: Vec<f64>,
    prices: Vec<f64>,
    contents: Vec<f64>,
    totals: Vec<f64>,
    departed: bool,
}

impl Pot {
    pub(super) fn of(ask: &Ask<'_>, assessed: &Assessed<'_>, masses: &[f64]) -> Result<Self, BatchError> {
        let known = &ask.inquiry.known;
        let mixture = &assessed.mixture;
        let priced = prices(assessed);
        let is_priced: Vec<bool> = priced.iter().map(Option::is_some).collect();
        let (mut sources, effects) = of_making(ask, assessed, masses, &is_priced)?;
        let mut outputs = vec![Output::Ph];
        let mut kept = Vec::new();
        for form in neutral_forms(&mixture.system, known.library) {
            let Some(component) = mixture.system.place(form.component) else { continue };
            if mixture.totals[component] > 0.0 && form.component != "H+" && preserves(&form, assessed, ask) {
                let count = f64::from(form.fact.components.get(form.component).copied().unwrap_or(1));
                outputs.push(Output::Undissociated { species: form.place, component, count });
                kept.push(form.place);
            }
        }
        let (solvent, _) = solvent_shift(&mixture.phase, known.library, known.chemistry);
        sources.extend(of_equilibrium(assessed, solvent, &kept));
        if is_priced.iter().any(|priced| *priced) && assessed.assessment.rules.cost.per_kg.value.is_some() {
            outputs.push(Output::Cost { per_g: priced.iter().map(|price| price.unwrap_or(0.0)).collect() });
        }
        for limit in comparable_limits(assessed) {
            outputs.push(limited(limit, assessed, &effects));
        }
        let line = |line: &SettledLine| brings(&mixture.system, &line.constituents, ask);
        let by_content = effects.iter().map(|effect| {
            let constituents = &assessed.composition.lines[effect.line].constituents;
            let changed: Vec<ConstituentShare> = effect
                .changes
                .iter()
                .map(|(at, by)| ConstituentShare {
                    substance: constituents[*at].substance.clone(),
                    low: *by,
                    typical: *by,
                    high: *by,
                })
                .collect();
            brings(&mixture.system, &changed, ask)
        });
        let (extra, _) = brought(ask.inquiry.sheet, known.chemistry);
        let mut pot = Self {
            base: mixture.workspace.clone(),
            shifts: mixture.system.solvent_shifts(solvent),
            brings: assessed.composition.lines.iter().map(line).collect(),
            by_content: by_content.collect(),
            brought: mixture
                .system
                .components()
                .iter()
                .map(|name| extra.get(name).copied().unwrap_or(0.0))
                .collect(),
            system: mixture.system.clone(),
            masses: masses.to_vec(),
            effects,
            sources,
            outputs,
        };
        pot.add_flow(ask, assessed);
        Ok(pot)
    }

    pub(super) fn room(&self) -> Room {
        Room {
            system: self.system.clone(),
            workspace: self.base.clone(),
            departure: Departure {
                constants: vec![0.0; self.system.species().len()],
                polyacids: vec![0.0; self.system.polyacids()],
                ..Departure::default()
            },
            masses: self.masses.clone(),
            prices: vec![1.0; self.masses.len()],
            contents: vec![0.0; self.effects.len()],
            totals: vec![0.0; self.system.components().len()],
            departed: true,
        }
    }

    /// Computes the outputs with every source off its value by so much. False where the equilibrium has no answer.
    pub(super) fn at(&self, off: &[f64], room: &mut Room, outputs: &mut [f64]) -> bool {
        room.masses.copy_from_slice(&self.masses);
        room.prices.fill(1.0);
        let (mut scale, mut flow, mut departs) = (0.0, 0.0, false);
        for (source, off) in self.sources.iter().zip(off) {
            let departure = &mut room.departure;
            match source.moves {
                Moves::Mass(line) => room.masses[line] = (self.masses[line] + off).max(0.0),
                Moves::Content(effect) => room.contents[effect] = *off,
                Moves::Price(line) => room.prices[line] = 1.0 + off,
                Moves::Constant(species) => departure.constants[species] = *off,
                Moves::Polyacid(chain) => departure.polyacids[chain] = *off,
                Moves::Charged => departure.charged = *off,
                Moves::Neutral => departure.neutral = *off,
                Moves::Solvent => departure.solvent = *off,
                Moves::Scale => scale = *off,
                Moves::Flow => flow = *off,
            }
            departs |= *off != 0.0 && source.group == Group::Prediction;
        }
        // Constants that stand where they stood need not be put there again.
        if departs || room.departed {
            room.system.depart(&self.system, &room.departure, &self.shifts);
        }
        room.departed = departs;
        let total: f64 = room.masses.iter().sum();
        if !self.solve(total, room) {
            return false;
        }
        for (output, value) in self.outputs.iter().zip(outputs) {
            *value = match output {
                Output::Ph => room.workspace.ph() + scale,
                Output::Undissociated { species, component, count } => {
                    100.0 * count * room.workspace.molalities()[*species] / room.totals[*component]
                }
                Output::Cost { per_g } => {
                    let priced = room.masses.iter().zip(&room.prices).zip(per_g);
                    1000.0 * priced.map(|((mass, price), per_g)| mass * price * per_g).sum::<f64>() / total
                }
                Output::Limited { per_g, by_content } => {
                    let weighed: f64 = room.masses.iter().zip(per_g).map(|(mass, per_g)| mass * per_g).sum();
                    let contents = self.effects.iter().zip(&room.contents).zip(by_content);
                    let off: f64 =
                        contents.map(|((effect, point), by)| room.masses[effect.line] * point * by).sum();
                    100.0 * (weighed + off) / total
                }
                Output::LnViscosity { at, slopes } => {
                    at + flow + slopes.iter().zip(off).map(|(slope, off)| slope * off).sum::<f64>()
                }
            };
        }
        true
    }

    /// Solves the water phase of what was weighed.
    fn solve(&self, total_g: f64, room: &mut Room) -> bool {
        let (mut water_g, mut neutral_mol) = (0.0, 0.0);
        for (total, brought) in room.totals.iter_mut().zip(&self.brought) {
            *total = brought * total_g / 100.0;
        }
        let lines = self.brings.iter().zip(&room.masses).map(|(brings, mass)| (brings, *mass));
        let contents = self.by_content.iter().zip(&self.effects).zip(&room.contents);
        let contents = contents.map(|((brings, effect), point)| (brings, room.masses[effect.line] * point));
        for (brings, grams) in lines.chain(contents) {
            if grams == 0.0 {
                continue;
            }
            water_g += grams * brings.water_g;
            neutral_mol += grams * brings.neutral_mol;
            for (total, mol) in room.totals.iter_mut().zip(&brings.components) {
                *total += grams * mol;
            }
        }
        let kg = water_g / 1000.0;
        room.totals.iter_mut().for_each(|total| *total /= kg);
        let Room { system, workspace, totals, .. } = room;
        if system.solve(totals, neutral_mol / kg, workspace).is_ok() {
            return true;
        }
        workspace.forget();
        system.solve(totals, neutral_mol / kg, workspace).is_ok()
    }

    /// The viscosity at the conditions of the brief, where it can be predicted: to first order along every weighing and every content.
    fn add_flow(&mut self, ask: &Ask<'_>, assessed: &Assessed<'_>) {
        let named = &assessed.assessment.flow.at_brief;
        let (Some(value), Some(low), Some(high)) = (named.value, named.low, named.high) else { return };
        if assessed.flowing.thickeners.is_empty() || low <= 0.0 {
            return;
        }
        let mut slopes = Vec::with_capacity(self.sources.len());
        for source in &self.sources {
            let step = 0.5 * source.scatter.standard_deviation();
            let slope = match source.moves {
                Moves::Mass(_) | Moves::Content(_) => {
                    let ln_at = |off: f64| self.ln_viscosity(ask, assessed, source.moves, off);
                    ln_at(step).zip(ln_at(-step)).map(|(up, down)| (up - down) / (2.0 * step))
                }
                _ => Some(0.0),
            };
            let Some(slope) = slope.filter(|slope| slope.is_finite()) else { return };
            slopes.push(slope);
        }
        slopes.push(0.0);
        self.sources.push(Source {
            name: "laws of flow".to_owned(),
            words: "laws of flow and what is known of the thickeners".to_owned(),
            group: Group::Prediction,
            line: None,
            moves: Moves::Flow,
            // The band of the prediction is two standard deviations to either side.
            scatter: Scatter::normal((high / low).log_e() / 4.0),
        });
        self.outputs.push(Output::LnViscosity { at: value.log_e(), slopes });
    }

    /// ln viscosity of the batch with one thing off, by the whole way from the composition.
    fn ln_viscosity(&self, ask: &Ask<'_>, assessed: &Assessed<'_>, moves: Moves, off: f64) -> Option<f64> {
        let mut lines = assessed.composition.lines.clone();
        let mut masses = self.masses.clone();
        match moves {
            Moves::Mass(line) => masses[line] = (masses[line] + off).max(0.0),
            Moves::Content(effect) => {
                let Effect { line, changes } = &self.effects[effect];
                for (at, by) in changes {
                    lines[*line].constituents[*at].typical += by * off;
                }
            }
            _ => {}
        }
        let total: f64 = masses.iter().sum();
        for (line, mass) in lines.iter_mut().zip(&masses) {
            line.percent = 100.0 * mass / total;
        }
        let known = &ask.inquiry.known;
        let mut phase = WaterPhase::of_lines(&lines, known.library);
        for (component, mol) in brought(ask.inquiry.sheet, known.chemistry).0 {
            *phase.components_mol.entry(component).or_default() += mol;
        }
        let (totals, neutral_molality) = totals_of(&self.system, &phase).ok()?;
        let mut workspace = self.base.clone();
        self.system.solve(&totals, neutral_molality, &mut workspace).ok()?;
        let speciation: Speciation = self.system.read(&totals, &workspace);
        let mixture = Mixture {
            phase,
            system: self.system.clone(),
            totals,
            neutral_molality,
            speciation,
            workspace,
            sensitivities: assessed.mixture.sensitivities.clone(),
            not_in_model: assessed.mixture.not_in_model.clone(),
        };
        let composition = Composition::of(lines);
        let target = ask.inquiry.sheet.target.viscosity.as_ref();
        let flow = FlowAsk {
            sheet: ask.inquiry.sheet,
            composition: &composition,
            mixture: &mixture,
            library: known.library,
            density_g_ml: assessed.assessment.composition.density.value,
            known: known.flow,
        };
        let flowing = ready(&flow, brief_temperature(target));
        let prediction = flowing.blend.predict();
        crate::flow::at_brief(&flowing, &prediction, target, &known.flow)
            .value
            .filter(|value| *value > 0.0)
            .map(f64::log_e)
    }
}

/// What a gram of a raw material brings.
fn brings(system: &System, constituents: &[ConstituentShare], ask: &Ask<'_>) -> Brings {
    // The phase of constituents is that of 100 g of product with 1 % of them, one gram.
    let phase = WaterPhase::of_constituents(constituents, ask.inquiry.known.library);
    let of = |name: &String| phase.components_mol.get(name).copied().unwrap_or(0.0);
    Brings {
        components: system.components().iter().map(of).collect(),
        water_g: phase.water_g,
        neutral_mol: phase.neutral_mol.values().sum(),
    }
}

/// Whether the acid of a form is in the formula as a preservative.
fn preserves(form: &crate::acids::NeutralForm<'_>, assessed: &Assessed<'_>, ask: &Ask<'_>) -> bool {
    let library = ask.inquiry.known.library;
    assessed.composition.substances.keys().filter_map(|key| library.substances.get(key)).any(|substance| {
        let is_preservative = substance.roles.iter().any(|role| role == "preservative");
        let gives = match &substance.in_water {
            levigate_formula::library::InWater::Components { gives, .. } => {
                gives.contains_key(form.component)
            }
            _ => false,
        };
        is_preservative && gives
    })
}

/// Price of every line per gram, where there is one.
fn prices(assessed: &Assessed<'_>) -> Vec<Option<f64>> {
    let cost = &assessed.assessment.rules.cost;
    let of = |line: &SettledLine| {
        let priced = cost.lines.iter().find(|one| one.line == line.line)?;
        priced.price.as_ref().and_then(|price| price.per_kg.to_f64()).map(|per_kg| per_kg / 1000.0)
    };
    assessed.composition.lines.iter().map(of).collect()
}

/// Limits with a maximum that can be compared.
pub(super) fn comparable_limits<'r>(assessed: &'r Assessed<'_>) -> impl Iterator<Item = &'r LimitReading> {
    assessed.assessment.rules.limits.iter().filter(|limit| {
        limit.maximum_percent.is_some()
            && limit.amount.value.is_some_and(|amount| amount > 0.0)
            && limit.counted.iter().all(|part| part.factor.is_some() || limit.basis.is_none())
            && matches!(limit.verdict, Verdict::Within | Verdict::MayExceed | Verdict::Exceeds)
    })
}

fn limited(limit: &LimitReading, assessed: &Assessed<'_>, effects: &[Effect]) -> Output {
    let lines = &assessed.composition.lines;
    let factor = |substance: &str| {
        let counted = limit.counted.iter().find(|part| part.substance == substance);
        counted.map_or(0.0, |part| part.factor.unwrap_or(1.0)) / 100.0
    };
    let per_g = lines.iter().map(|line| {
        // A limit may count a whole raw material by its key, which some substances share.
        let opened = line.constituents.iter().any(|part| part.substance == line.material);
        let whole = limit
            .counted
            .iter()
            .find(|part| !opened && part.substance == line.material && part.lines.contains(&line.line));
        let parts: f64 = line.constituents.iter().map(|part| part.typical * factor(&part.substance)).sum();
        whole.map_or(parts, |part| part.factor.unwrap_or(1.0))
    });
    let by_content = effects.iter().map(|effect| {
        let constituents = &lines[effect.line].constituents;
        effect.changes.iter().map(|(at, by)| by * factor(&constituents[*at].substance)).sum()
    });
    Output::Limited { per_g: per_g.collect(), by_content: by_content.collect() }
}
