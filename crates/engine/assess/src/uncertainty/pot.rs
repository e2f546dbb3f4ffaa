//! The batch as a function of everything uncertain: quick enough to be asked a hundred thousand times.

use super::balances::Balances;
use super::flow::{Drawing, Flow, FlowRoom};
use super::sources::{Effect, Group, Moves, Source, of_equilibrium, of_making};
use super::{Ask, BatchError};
use crate::acids::neutral_forms;
use crate::assess::Assessed;
use crate::certainty::solvent_shift;
use crate::metals::brought;
use levigate_formula::aqueous::{Departure, System, Workspace};
use levigate_formula::composition::{ConstituentShare, SettledLine};
use levigate_formula::water_phase::WaterPhase;
use levigate_rules::limits::{LimitReading, Verdict};
use rust_decimal::prelude::ToPrimitive;

/// Part of a line that is always there: a weighing that comes out below nothing leaves this, so that shares of what it brings stay defined.
const LEAST_PART: f64 = 1e-6;

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
    /// ln of the viscosity at the conditions of the brief, mPa s.
    LnViscosity,
}

/// The batch.
pub(super) struct Pot<'a> {
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
    flow: Option<Flow<'a>>,
}

/// Room for one thread.
pub(super) struct Room<'a> {
    system: System,
    workspace: Workspace,
    departure: Departure,
    masses: Vec<f64>,
    prices: Vec<f64>,
    contents: Vec<f64>,
    totals: Vec<f64>,
    departed: bool,
    flow: Option<FlowRoom<'a>>,
}

impl<'a> Pot<'a> {
    pub(super) fn of(
        ask: &Ask<'a>,
        assessed: &Assessed<'a>,
        balances: &Balances<'_>,
        masses: &[f64],
    ) -> Result<Self, BatchError> {
        let known = &ask.inquiry.known;
        let mixture = &assessed.mixture;
        let priced = prices(assessed);
        let is_priced: Vec<bool> = priced.iter().map(Option::is_some).collect();
        let (mut sources, effects) = of_making(ask, assessed, (balances, masses), &is_priced)?;
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
        let flow = Flow::of(ask, assessed, &mixture.system, &effects);
        if let Some(flow) = &flow {
            sources.extend(flow.sources(assessed));
            outputs.push(Output::LnViscosity);
        }
        let (extra, _) = brought(ask.inquiry.sheet, known.chemistry);
        Ok(Self {
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
            flow,
        })
    }

    pub(super) fn room(&self) -> Room<'a> {
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
            flow: self.flow.as_ref().map(Flow::room),
        }
    }

    /// Computes the outputs with every source off its value by so much. False where the equilibrium has no answer.
    pub(super) fn at(&self, off: &[f64], room: &mut Room<'a>, outputs: &mut [f64]) -> bool {
        room.masses.copy_from_slice(&self.masses);
        room.prices.fill(1.0);
        let (mut scale, mut departs) = (0.0, false);
        for (source, off) in self.sources.iter().zip(off) {
            let departure = &mut room.departure;
            match source.moves {
                Moves::Mass(line) => {
                    room.masses[line] = (self.masses[line] + off).max(LEAST_PART * self.masses[line])
                }
                Moves::Content(effect) => room.contents[effect] = *off,
                Moves::Price(line) => room.prices[line] = 1.0 + off,
                Moves::Constant(species) => departure.constants[species] = *off,
                Moves::Polyacid(chain) => departure.polyacids[chain] = *off,
                Moves::Charged => departure.charged = *off,
                Moves::Neutral => departure.neutral = *off,
                Moves::Solvent => departure.solvent = *off,
                Moves::Scale => scale = *off,
                Moves::Flow(part) => {
                    if let Some(flow) = &mut room.flow {
                        flow.off[part] = *off;
                    }
                }
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
                Output::LnViscosity => {
                    let Some((flow, own)) = self.flow.as_ref().zip(room.flow.as_mut()) else { return false };
                    let draw = Drawing {
                        masses: &room.masses,
                        effects: &self.effects,
                        contents: &room.contents,
                        total_g: total,
                        system: &room.system,
                        workspace: &room.workspace,
                        totals: &room.totals,
                    };
                    flow.ln_viscosity(&draw, own)
                }
            };
            if !value.is_finite() {
                return false;
            }
        }
        true
    }

    /// Solves the water phase of what was weighed.
    fn solve(&self, total_g: f64, room: &mut Room<'a>) -> bool {
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
