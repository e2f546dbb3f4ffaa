//! The viscosity of one draw: the laws of flow anew, for what was weighed, what the lots hold and where the equilibrium stands.
//!
//! ```text
//! c_i = 100 sum over lines m a_i / (B V)     dose in the water phase of the draw;  eta_s, drops, ionic strength, dissociated share: of the draw
//! ln eta = ln shown(tau(c, theta + L z, ...)) + sum of z b
//! ```
//!
//! Evaluated in every draw, not a surface fitted to a few: only the way from stress to dial goes through a parabola near the shear rate of
//! the spindle (`process::flow::near`, below 0.001). Density and spindle are those of the batch as meant; how far a law misses outside its
//! evidence is taken there too. Cases: `tests/cross/uncertainty_flow.toml`.

use super::Ask;
use super::sources::{Effect, Group, Moves, Source};
use crate::assess::Assessed;
use crate::flow::{ANY_SOLID, FREE_CHARGES, OIL_G_ML, STATED_RATE, dial_of, without_groups};
use levigate_formula::aqueous::{System, Workspace};
use levigate_formula::composition::{ConstituentShare, SettledLine};
use levigate_formula::library::InWater;
use levigate_formula::water_phase::WaterPhase;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::uncertainty::Scatter;
use levigate_process::flow::blend::{Blend, Moved, Numbers, Open, drops_factor};
use levigate_process::flow::datasheet::dial_viscosity;
use levigate_process::flow::near::Near;
use levigate_process::flow::solvent::{Cosolvent, glycerol_water, mixture};
use levigate_process::flow::spindle::DiscSpindle;

/// Least dose a law is asked about, g/dL.
const LEAST_DOSE: f64 = 1e-9;

/// What a gram of a line brings to the flow.
#[derive(Clone, Debug, Default)]
struct Gives {
    water_g: f64,
    oil_g: f64,
    cosolvents_g: Vec<f64>,
    solids_g: f64,
    polymers_g: Vec<f64>,
}

/// Acid groups of a thickener in the equilibrium.
#[derive(Clone, Debug)]
struct Acid {
    component: usize,
    /// Its groups that hold a proton, by name.
    uncharged: String,
}

/// How a viscosity is read.
#[derive(Clone, Copy, Debug)]
enum Shown<'a> {
    Rate(f64),
    Dial { spindle: &'a DiscSpindle, rpm: f64, rate: f64 },
}

/// The flow of a batch as a function of everything uncertain.
#[derive(Clone, Debug)]
pub(super) struct Flow<'a> {
    blend: Blend<'a>,
    best: Numbers,
    open: Vec<Open>,
    cosolvents: Vec<&'a Cosolvent>,
    gives: Vec<Gives>,
    by_content: Vec<Gives>,
    /// Of every thickener; none where its groups do not matter or do not stand in the equilibrium.
    acids: Vec<Option<Acid>>,
    needs_groups: Vec<bool>,
    shown: Shown<'a>,
    temperature_c: f64,
    volume_ml: f64,
}

/// Room for one thread.
pub(super) struct FlowRoom<'a> {
    blend: Blend<'a>,
    moved: Moved,
    shares: Vec<f64>,
    /// Standard deviations of what is open.
    pub(super) off: Vec<f64>,
}

/// Amounts of one draw.
pub(super) struct Drawing<'d> {
    pub(super) masses: &'d [f64],
    pub(super) effects: &'d [Effect],
    pub(super) contents: &'d [f64],
    pub(super) total_g: f64,
    pub(super) system: &'d System,
    pub(super) workspace: &'d Workspace,
    pub(super) totals: &'d [f64],
}

impl<'a> Flow<'a> {
    /// The flow of a batch, where it is predicted.
    pub(super) fn of(
        ask: &Ask<'a>,
        assessed: &Assessed<'a>,
        system: &System,
        effects: &[Effect],
    ) -> Option<Self> {
        assessed.assessment.flow.at_brief.value.filter(|value| *value > 0.0)?;
        let flowing = &assessed.flowing;
        if flowing.thickeners.is_empty() {
            return None;
        }
        let known = &ask.inquiry.known;
        let blend = flowing.blend.clone();
        let cosolvents: Vec<&Cosolvent> = flowing.cosolvents.iter().map(|(one, _)| *one).collect();
        let lines = &assessed.composition.lines;
        let gives = |line: &SettledLine, constituents: &[ConstituentShare], whole: f64| {
            let phase = WaterPhase::of_constituents(constituents, known.library);
            let cosolvents_g: Vec<f64> = cosolvents
                .iter()
                .map(|one| phase.neutral_g.get(&one.substance).copied().unwrap_or(0.0))
                .collect();
            let solids_g = phase.neutral_g.values().sum::<f64>() - cosolvents_g.iter().sum::<f64>();
            let active = known.library.materials.get(&line.material).and_then(|one| one.active.as_ref());
            let share = match active {
                Some(key) => constituents
                    .iter()
                    .filter(|part| part.substance == *key)
                    .map(|part| part.typical / 100.0)
                    .sum(),
                None => whole,
            };
            let polymers_g = flowing
                .thickeners
                .iter()
                .map(|one| if one.known.record.material == line.material { share } else { 0.0 });
            Gives {
                water_g: phase.water_g,
                oil_g: phase.oil_g,
                cosolvents_g,
                solids_g,
                polymers_g: polymers_g.collect(),
            }
        };
        let changed = |effect: &Effect| {
            let line = &lines[effect.line];
            let parts = effect.changes.iter().map(|(at, by)| ConstituentShare {
                substance: line.constituents[*at].substance.clone(),
                low: *by,
                typical: *by,
                high: *by,
            });
            gives(line, &parts.collect::<Vec<_>>(), 0.0)
        };
        let acids = flowing.thickeners.iter().map(|one| {
            let active = known.library.materials.get(&one.known.record.material)?.active.as_ref()?;
            let InWater::Polyion { gives_mol_per_kg, .. } = &known.library.substances.get(active)?.in_water
            else {
                return None;
            };
            let name = gives_mol_per_kg.keys().find(|name| name.ends_with('-'))?;
            Some(Acid { component: system.place(name)?, uncharged: system.neutral_form(name)? })
        });
        let target = ask.inquiry.sheet.target.viscosity.as_ref();
        let shown = match dial_of(target, &known.flow) {
            Some((spindle, rpm)) => Shown::Dial { spindle, rpm, rate: rate_of(&blend, spindle, rpm) },
            None => Shown::Rate(STATED_RATE),
        };
        let rate = match shown {
            Shown::Rate(rate) | Shown::Dial { rate, .. } => rate,
        };
        Some(Self {
            best: blend.numbers(),
            open: blend.open(rate),
            gives: lines.iter().map(|line| gives(line, &line.constituents, 1.0)).collect(),
            by_content: effects.iter().map(changed).collect(),
            acids: acids.collect(),
            needs_groups: flowing.thickeners.iter().map(|one| one.known.family.neutralise).collect(),
            shown,
            temperature_c: flowing.temperature_c,
            volume_ml: 100.0 / assessed.assessment.composition.density.value.unwrap_or(1.0),
            cosolvents,
            blend,
        })
    }

    /// What is open about it, as sources of standard normal scatter.
    pub(super) fn sources(&self, assessed: &Assessed<'_>) -> Vec<Source> {
        let mut sources: Vec<Source> = Vec::with_capacity(self.open.len());
        for (place, open) in self.open.iter().enumerate() {
            let thickener = open.thickener.and_then(|at| assessed.flowing.thickeners.get(at));
            let words = thickener
                .map_or_else(|| open.words.to_owned(), |one| format!("{} of {}", open.words, one.name));
            let times = sources.iter().filter(|other| other.words == words).count();
            sources.push(Source {
                name: format!("flow: {words}#{times}"),
                words,
                group: Group::Flow,
                line: thickener.and_then(|one| one.lines.first().copied()),
                moves: Moves::Flow(place),
                scatter: Scatter::normal(1.0),
            });
        }
        sources
    }

    pub(super) fn room(&self) -> FlowRoom<'a> {
        FlowRoom {
            blend: self.blend.clone(),
            moved: self.blend.unmoved(),
            shares: vec![0.0; self.cosolvents.len()],
            off: vec![0.0; self.open.len()],
        }
    }

    /// ln of the viscosity of a draw, mPa s.
    pub(super) fn ln_viscosity(&self, draw: &Drawing<'_>, room: &mut FlowRoom<'a>) -> f64 {
        room.moved.begin(&self.best);
        for (open, z) in self.open.iter().zip(&room.off).filter(|(_, z)| **z != 0.0) {
            open.by(*z, &mut room.moved);
        }
        self.surround(draw, room);
        let FlowRoom { blend, moved, .. } = room;
        let stress = |rate: f64| blend.stress_with(&moved.numbers, rate);
        let shown = match self.shown {
            Shown::Rate(rate) => stress(rate) / rate,
            Shown::Dial { spindle, rpm, rate } => dial_viscosity(&Near::of(rate, stress), Some(spindle), rpm),
        };
        (1e3 * shown).log_e() + moved.ln_stress
    }

    /// Doses and what the thickeners find around them.
    fn surround(&self, draw: &Drawing<'_>, room: &mut FlowRoom<'a>) {
        let per_100_g = 100.0 / draw.total_g;
        let lines = || {
            let weighed = self.gives.iter().zip(draw.masses).map(|(gives, mass)| (gives, *mass));
            let contents = self.by_content.iter().zip(draw.effects).zip(draw.contents);
            weighed.chain(contents.map(|((gives, effect), point)| (gives, draw.masses[effect.line] * point)))
        };
        let sum = |of: &dyn Fn(&Gives) -> f64| {
            per_100_g
                * lines()
                    .filter(|(_, grams)| *grams != 0.0)
                    .map(|(gives, grams)| grams * of(gives))
                    .sum::<f64>()
        };
        let (water_g, oil_g, solids_g) =
            (sum(&|one| one.water_g), sum(&|one| one.oil_g), sum(&|one| one.solids_g).max(0.0));
        let mut solvent_g = water_g;
        for (place, share) in room.shares.iter_mut().enumerate() {
            *share = sum(&|one| one.cosolvents_g[place]).max(0.0);
            solvent_g += *share;
        }
        room.shares.iter_mut().for_each(|share| *share /= solvent_g.max(1e-9));
        let other_solids = solids_g / (solvent_g + solids_g).max(1e-9);
        let parts = self.cosolvents.iter().copied().zip(room.shares.iter().copied());
        let [mixed, _] = mixture(parts, self.temperature_c);
        let solvent_pa_s = mixed * (ANY_SOLID[0] * other_solids + room.moved.ln_solvent).exp_e();
        let water_pa_s = glycerol_water(0.0, self.temperature_c);
        let oil_ml = oil_g / OIL_G_ML;
        let water_phase_dl = ((self.volume_ml - oil_ml) / 100.0).max(1e-6);
        room.blend.solvent_pa_s = solvent_pa_s;
        room.blend.drops = drops_factor((oil_ml / self.volume_ml).clamp(0.0, 1.0));
        let ionic_strength = draw.workspace.ionic_strength();
        for (place, dosed) in room.blend.thickeners.iter_mut().enumerate() {
            dosed.dose_g_dl = (sum(&|one| one.polymers_g[place]) / water_phase_dl).max(LEAST_DOSE);
            let (dissociated, own_charges) = self.charges(place, draw);
            dosed.around.solvent_pa_s = solvent_pa_s;
            dosed.around.water_pa_s = water_pa_s;
            dosed.around.ionic_strength = ionic_strength;
            dosed.around.added_salt = (ionic_strength - 0.5 * own_charges).max(0.0);
            dosed.around.dissociated = dissociated;
        }
    }

    /// Dissociated share of the acid groups of a thickener and its free counter-ions, mol/kg water.
    fn charges(&self, place: usize, draw: &Drawing<'_>) -> (f64, f64) {
        if !self.needs_groups[place] {
            return (1.0, 0.0);
        }
        let found = self.acids[place].as_ref().map(|acid| (acid, draw.totals[acid.component]));
        match found.filter(|(_, total)| *total > 0.0) {
            Some((acid, total)) => {
                let mut units = draw.system.uncharged_units(draw.totals, draw.workspace);
                let closed =
                    units.find(|(name, _)| *name == acid.uncharged).map_or(0.0, |(_, molality)| molality);
                let dissociated = (1.0 - closed / total).clamp(0.0, 1.0);
                (dissociated, total * dissociated.min(FREE_CHARGES))
            }
            None => (without_groups(draw.workspace.ph()), 0.0),
        }
    }
}

/// The shear rate a spindle makes in a blend, 1/s.
fn rate_of(blend: &Blend<'_>, spindle: &DiscSpindle, rpm: f64) -> f64 {
    let mut rate = spindle.rate_factor(0.5) * rpm;
    for _ in 0..30 {
        let index = (blend.stress(rate * 1.01) / blend.stress(rate)).log_e() / 1.01_f64.log_e();
        // Half way each time: the factor falls so steeply at a low index that whole steps go back and forth.
        rate = (rate * spindle.rate_factor(index) * rpm).sqrt();
    }
    rate
}
