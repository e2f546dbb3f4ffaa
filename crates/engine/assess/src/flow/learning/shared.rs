//! Several makings of a formula under one belief about its thickeners, so that what moves all of them alike cancels in what differs.
//!
//! ```text
//! pull_k = ( ln y(theta + L_k / 2) - ln y(theta - L_k / 2) )       L_k: column k of the belief about all grades, lots and pairs of all makings
//! ```
//!
//! | symbol | meaning | unit |
//! |---|---|---|
//! | y | what is read: the dial of a disc spindle, or the viscosity at a shear rate | Pa s |
//! | theta | numbers of grades, lots, pairs and of the formula | - |
//!
//! What a making has of its own is no doubt about its composition and stands apart. Two lots of one grade share what is open about the grade
//! and differ in what is open between lots. Case: `tests/tests/effects_attributes.rs`.

use super::super::{Flowing, ThickenerIn};
use super::{Experience, How, Key, WITH_FORMULA, keys, numbers_of};
use crate::effects::Stand;
use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::Liquid;
use levigate_process::flow::blend::{Blend, Moved, Open, Taught};
use levigate_process::flow::thickener::PARAMETERS;
use std::collections::BTreeMap;

/// Shear rate of a disc for one turn a minute, 1/s, as near as a doubt needs it: 10 1/s at 20 rpm. Judgement, no source.
const RATE_OF_TURN: f64 = 0.5;

/// One belief about several makings.
#[derive(Clone, Debug)]
pub struct Shared {
    formula: String,
    /// Places of the numbers of each key.
    places: BTreeMap<Key, usize>,
    mean: Vec<f64>,
    /// Columns of the spread with what leads each.
    columns: Vec<(String, Vec<f64>)>,
}

/// What is read of one making.
#[derive(Clone, Debug, PartialEq)]
pub struct FlowStand {
    /// ln of the viscosity in Pa s, with every doubt that other makings may share.
    pub ln_pa_s: Stand,
    /// Standard deviation of what this one making has of its own, ln.
    pub own: f64,
}

impl Experience {
    /// One belief about several makings of a formula; none where a thickener has no numbers to believe.
    #[must_use]
    pub fn shared<'f, 'a: 'f>(
        &self,
        makings: impl Iterator<Item = &'f Flowing<'a>>,
        formula: &str,
    ) -> Option<Shared> {
        let mut widened = self.clone();
        let mut wanted: BTreeMap<Key, usize> = BTreeMap::new();
        let mut names: BTreeMap<Key, Vec<String>> = BTreeMap::new();
        for flowing in makings {
            let keys = keys(flowing, formula, None);
            widened.seats(flowing, &keys)?;
            for key in keys {
                if let Some(seat) = widened.places.get(&key) {
                    wanted.insert(key.clone(), *seat);
                }
                names.entry(key.clone()).or_insert_with(|| words(flowing, &key));
            }
        }
        let belief = widened.belief?;
        let (mut seats, mut words, mut places) = (Vec::new(), Vec::new(), BTreeMap::new());
        for (key, seat) in wanted {
            let of_key = names.remove(&key).unwrap_or_default();
            places.insert(key, seats.len());
            seats.extend((0..of_key.len()).map(|at| seat + at));
            words.extend(of_key);
        }
        let part = belief.part(&seats);
        let columns = part.columns().into_iter().map(|column| {
            // The first number of a column of Cholesky's root leads it.
            let lead = column.iter().position(|value| *value != 0.0).unwrap_or(0);
            (words.get(lead).cloned().unwrap_or_default(), column)
        });
        Some(Shared {
            formula: formula.to_owned(),
            places,
            mean: part.mean().to_vec(),
            columns: columns.collect(),
        })
    }
}

/// The numbers of a key in words.
fn words(flowing: &Flowing<'_>, key: &Key) -> Vec<String> {
    let of = |material: &str| -> Option<&ThickenerIn<'_>> {
        flowing.thickeners.iter().find(|one| one.known.record.material == material)
    };
    let name = |material: &str| of(material).map_or(material.to_owned(), |one| one.name.clone());
    match key {
        Key::Grade(material) => {
            let symbols = of(material).map(|one| one.known.law.law.symbols());
            let word = |number: usize| symbols.map_or("", |symbols| symbols[number].1);
            (0..PARAMETERS).map(|number| format!("{} of {}", word(number), name(material))).collect()
        }
        Key::Lot(material, lot) if lot.is_empty() => {
            vec![format!("strength of the lot of {}", name(material))]
        }
        Key::Lot(material, lot) => vec![format!("strength of lot {lot} of {}", name(material))],
        Key::Pair(first, other) => {
            vec![format!("gain of {} and {} together", name(first), name(other))]
        }
        Key::Formula(_) | Key::Trial(_) => vec!["what the laws of flow miss in this formula".to_owned()],
    }
}

/// A blend moved within what is open, as a liquid.
struct Elsewhere<'b, 'k> {
    blend: &'b Blend<'k>,
    moved: &'b Moved,
}

impl Liquid for Elsewhere<'_, '_> {
    fn stress(&self, shear_rate: f64) -> f64 {
        self.blend.stress_with(&self.moved.numbers, shear_rate) * self.moved.ln_stress.exp_e()
    }

    fn yield_stress(&self) -> f64 {
        // A dial and a shear rate are read in flow; what holds at rest plays no part.
        0.0
    }
}

impl Shared {
    /// What is read of one of the makings; none of a making that was not among them.
    #[must_use]
    pub fn read(&self, flowing: &Flowing<'_>, how: &How<'_>) -> Option<FlowStand> {
        let mut places = Vec::new();
        for key in keys(flowing, &self.formula, None) {
            let first = *self.places.get(&key)?;
            let size = if matches!(key, Key::Grade(_)) { PARAMETERS } else { 1 };
            places.extend(first..first + size);
        }
        let numbers = |all: &[f64]| {
            let own: Vec<f64> = places.iter().map(|place| all[*place]).collect();
            numbers_of(&flowing.blend, &own)
        };
        let taught = Taught {
            best: numbers(&self.mean),
            columns: self.columns.iter().map(|(_, column)| numbers(column)).collect(),
            own_miss: (1.0 - WITH_FORMULA).sqrt(),
        };
        let mut blend = Blend { taught: Some(taught), ..flowing.blend.clone() };
        let solvent = blend.solvent_pa_s;
        let rate = match how {
            How::ShearRate(rate) => *rate,
            How::Dial(_, rpm) => RATE_OF_TURN * rpm,
        };
        let open = blend.open(rate);
        let mut moved = blend.unmoved();
        let best = moved.numbers.clone();
        let mut at = |part: Option<(&Open, f64)>| {
            moved.begin(&best);
            if let Some((part, z)) = part {
                part.by(z, &mut moved);
            }
            blend.solvent_pa_s = solvent * moved.ln_solvent.exp_e();
            how.shows(&Elsewhere { blend: &blend, moved: &moved }).log_e()
        };
        let mut stand = Stand::of(at(None));
        let mut own = 0.0_f64;
        for (place, part) in open.iter().enumerate() {
            let pull = at(Some((part, 0.5))) - at(Some((part, -0.5)));
            if pull == 0.0 || !pull.is_finite() {
                continue;
            }
            let thickener = part.thickener.and_then(|one| flowing.thickeners.get(one));
            let doubt = match (self.columns.get(place), thickener) {
                (Some((lead, _)), _) => lead.clone(),
                (None, Some(one)) => format!("{} of {}", part.words, one.name),
                // The first part behind the columns is what belongs to this making alone.
                (None, None) if place == self.columns.len() => {
                    own = pull;
                    continue;
                }
                (None, None) => part.words.to_owned(),
            };
            *stand.pulls.entry(doubt).or_default() += pull;
        }
        stand.value.is_finite().then_some(FlowStand { ln_pa_s: stand, own: own.abs() })
    }
}
