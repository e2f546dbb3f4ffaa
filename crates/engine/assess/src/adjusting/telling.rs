//! The advice with everything that explains it: every number as a result, reasons in words, the adjuster counted into the formula.

use super::beaker::Place;
use super::drift::{Drift, Drifting, drifts};
use super::learning::Amount;
use super::words;
use super::{Addition, Advice, Bench, Next, Reading, Trouble, quantile};
use crate::warming::Mixing;
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

const PROOF: &str = "tests/tests/adjusting.rs";
const MODEL: &str = "equilibrium of the water phase, learned from the readings so far";
/// Half width of 95 % in standard deviations.
const COVER: f64 = 1.959_964;

/// What to do next at the beaker, and why.
#[derive(Clone, Debug, Serialize)]
pub struct Report {
    /// `add`, `done`, `read`, `beyond`, `wrong-way`, `none-sure`, `finer`.
    pub next: &'static str,
    /// The instruction, one sentence or two.
    pub say: String,
    /// Why, in order.
    pub because: Vec<String>,
    /// The adjuster.
    pub adjuster: String,
    /// What to add now, g.
    pub add: Outcome,
    /// Of it in the batch so far, g.
    pub added: Outcome,
    /// Most that may be in the batch after this step, by the far edge, g.
    pub most: Outcome,
    /// What brings the batch to the best place of the window, in all, g.
    pub best: Outcome,
    /// In all to the lower and to the upper edge, g.
    pub to_edges: [Outcome; 2],
    /// pH now by all that is known.
    pub ph_now: Outcome,
    /// pH to be expected after the addition.
    pub ph_then: Outcome,
    /// Probability that the batch is in the window now, %.
    pub within_now: Outcome,
    /// The same after the addition, %.
    pub within_then: Outcome,
    /// Standard uncertainty of a reading.
    pub reading: Outcome,
    /// What the smallest portion that can be added moves in the window.
    pub portion: Outcome,
    /// Buffer capacity in the window, mmol per kg and pH.
    pub capacity: Outcome,
    /// Acid (above zero: base needed) the model did not know of, mmol per kg.
    pub excess: Outcome,
    /// What the electrode seems to be off by.
    pub electrode: Outcome,
    /// Warming if the addition goes in at once; absent where nothing is added.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub warms_by: Option<Outcome>,
    /// The readings.
    pub readings: Vec<HeardReading>,
    /// The adjusters counted into the formula.
    pub counted: Vec<Counted>,
    /// Water of the q.s. line still to go in, g.
    pub water_to_add: Outcome,
    /// What the other lines shrink to where more went in than was held back: percent of what they were.
    pub others: Outcome,
    /// Changes of direction.
    pub back_titrations: usize,
    /// What neutralised each other and stays as salt, mmol per kg.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub wasted: Option<Outcome>,
    /// What moves the pH later.
    pub drifts: Vec<Drifting>,
    /// What the person must know.
    pub notes: Vec<Note>,
}

/// What a reading said.
#[derive(Clone, Debug, Serialize)]
pub struct HeardReading {
    /// Its place, from 1.
    pub number: usize,
    /// What it says, or why it was not used.
    pub words: String,
    /// Whether it was used.
    pub used: bool,
    /// Measured less expected, in standard deviations of both; absent where it was not used.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub surprise: Option<Outcome>,
}

/// An adjuster in the product.
#[derive(Clone, Debug, Serialize)]
pub struct Counted {
    /// Name.
    pub name: String,
    /// Grams, the addition of now included.
    pub grams: Outcome,
    /// Percent of the product.
    pub percent: Outcome,
    /// What it brings, mmol per kg of product, by component.
    pub brings: Vec<Reported>,
}

/// A number with its name.
#[derive(Clone, Debug, Serialize)]
pub struct Reported {
    /// Name.
    pub name: String,
    /// The number.
    pub amount: Outcome,
}

fn computed(value: f64, unit: &'static str) -> Outcome {
    Outcome::new(value, unit, Grade::Computed, MODEL).proved_by(PROOF)
}

fn exact(value: f64, unit: &'static str, method: &'static str) -> Outcome {
    Outcome::new(value, unit, Grade::Measured, method)
}

fn ph([value, low, high]: [f64; 3]) -> Outcome {
    computed(value, "").within(low, high, Some(0.95))
}

fn amount(of: &Amount) -> Outcome {
    let half = COVER * of.deviation;
    computed(of.grams, "g").within(of.grams - half, of.grams + half, Some(0.95))
}

impl Bench<'_> {
    /// The advice with all that explains it. `known` are the drifts of the facts.
    ///
    /// # Errors
    /// Those of [`Bench::advise`].
    pub fn report(
        &mut self,
        additions: &[Addition],
        readings: &[Reading],
        known: &[&Drift],
    ) -> Result<Report, Trouble> {
        let advice = self.advise(additions, readings)?;
        let add = if let Next::Add { grams, .. } = advice.next { grams } else { 0.0 };
        let mut then = self.grams_after(additions, additions.len());
        let before = then.clone();
        then[0] += add;
        let mass = self.beaker.mass_g + then.iter().sum::<f64>();
        let width = self.window.ph[1] - self.window.ph[0];
        let per_kg = |mol: f64| mol * 1e6 / mass;
        let [between, between_deviation] = advice.learned.between_mol;
        let capacity = [between, between_deviation].map(|mol| per_kg(mol.abs()) / width);
        let names: Vec<String> = self.adjusters.iter().map(|(material, _)| material.name.clone()).collect();
        let (back_titrations, wasted) = self.turns(additions)?;
        let drifts = drifts(&self.settled, &self.adjusters, known, self.window.ph[1], Some(capacity[0]));
        let shift = |at: usize| 0.5 * (advice.learned.shifts[0][at] + advice.learned.shifts[1][at]);
        let (excess, excess_deviation) = (per_kg(shift(0)), per_kg(shift(1)));
        let warms_by = (add > 0.0).then(|| self.warms(&before, &then, add, mass));
        let readings_told = self.tell_readings(&advice, additions, readings)?;
        let story =
            words::Story { bench: self, advice: &advice, additions, readings, warms_by: warms_by.as_ref() };
        let (next, say, because, notes) =
            (story.next(), story.say(), story.because(), story.notes(back_titrations, drifts.is_empty()));
        let contributions = self.contributions(&advice, &names)?;
        let far = usize::from(advice.learned.base_per_gram > 0.0);
        let mut to_edges = [amount(&advice.learned.edges[0]), amount(&advice.learned.edges[1])];
        for (name, grams) in contributions {
            to_edges[far] = to_edges[far].clone().term(name, grams, "g");
        }
        let percent = |share: f64| computed(100.0 * share, "%");
        let [own, own_deviation] = advice.learned.electrode;
        let over = mass - self.batch.finished_g;
        Ok(Report {
            next,
            say,
            because,
            adjuster: names[0].clone(),
            add: computed(add, "g")
                .by("the smaller of best and most, less what is in, rounded down to the balance")
                .input(
                    "risk of this step to run past the window",
                    100.0 * advice.risk,
                    "%",
                    Some("convention"),
                )
                .input("quantile", quantile(additions), "", None),
            added: exact(advice.grams, "g", "sum of the additions"),
            most: computed(advice.bound_g, "g").by("P(grams to the far edge < most) = risk of this step"),
            best: computed(advice.best_g, "g").by("most probable to lie in the window"),
            to_edges,
            ph_now: ph(advice.now),
            ph_then: ph(advice.then),
            within_now: percent(advice.within[0]),
            within_then: percent(advice.within[1]),
            reading: computed(advice.reading_ph, "").by("u^2 = u^2(electrode) + scatter^2"),
            portion: computed(advice.portion_ph, ""),
            capacity: computed(capacity[0], "mmol/kg per pH").within(
                (capacity[0] - COVER * capacity[1]).max(0.0),
                capacity[0] + COVER * capacity[1],
                Some(0.95),
            ),
            excess: computed(excess, "mmol/kg").within(
                excess - COVER * excess_deviation,
                excess + COVER * excess_deviation,
                Some(0.95),
            ),
            electrode: computed(own, "").within(
                own - COVER * own_deviation,
                own + COVER * own_deviation,
                Some(0.95),
            ),
            warms_by,
            readings: readings_told,
            counted: self.counted(&then, mass),
            water_to_add: exact((-over).max(0.0), "g", "finished batch less what is in the beaker"),
            others: exact(
                100.0 * (self.batch.finished_g / mass).min(1.0),
                "%",
                "finished batch over what is in the beaker",
            ),
            back_titrations,
            wasted: wasted.map(|mol| computed(per_kg(mol), "mmol/kg")),
            drifts,
            notes,
        })
    }

    /// Warming by the addition at once.
    fn warms(&self, before: &[f64], then: &[f64], add: f64, mass_g: f64) -> Outcome {
        let own = levigate_formula::water_phase::WaterPhase::default().along(&self.beaker.brings[0], add);
        let (before, after) = (self.beaker.phase_with(before), self.beaker.phase_with(then));
        Mixing { before: &before, own: &own, own_g: add, after: &after, mass_g }
            .warming(self.beaker.system(), self.known.chemistry)
    }

    /// Every adjuster in the product that is in it.
    fn counted(&self, grams: &[f64], mass_g: f64) -> Vec<Counted> {
        let product_g = mass_g.max(self.batch.finished_g);
        self.adjusters
            .iter()
            .zip(grams)
            .zip(&self.beaker.brings)
            .filter(|((_, grams), _)| **grams > 0.0)
            .map(|(((material, _), grams), brings)| Counted {
                name: material.name.clone(),
                grams: exact(*grams, "g", "sum of the additions, the one of now included"),
                percent: exact(100.0 * grams / product_g, "% w/w", "grams over the finished batch"),
                brings: brings
                    .components_mol
                    .iter()
                    .filter(|(name, _)| *name != "H+")
                    .map(|(name, mol)| Reported {
                        name: self
                            .known
                            .chemistry
                            .components
                            .get(name)
                            .map_or_else(|| name.clone(), |component| component.label.clone()),
                        amount: exact(
                            mol * grams * 1e6 / product_g,
                            "mmol/kg",
                            "grams by the composition of the adjuster",
                        ),
                    })
                    .collect(),
            })
            .collect()
    }

    /// How often the direction was changed, and what of acid and base went to waste by it, mol.
    fn turns(&mut self, additions: &[Addition]) -> Result<(usize, Option<f64>), Trouble> {
        if additions.iter().all(|one| one.adjuster == 0) {
            return Ok((0, None));
        }
        let middle = 0.5 * (self.window.ph[0] + self.window.ph[1]);
        let none = vec![0.0; self.adjusters.len()];
        let from = self.beaker.needed(&Place::neat(&none), middle)?;
        let mut strengths = Vec::with_capacity(none.len());
        for at in 0..none.len() {
            let mut grams = none.clone();
            grams[at] = 1e-3 * self.beaker.mass_g;
            strengths.push((from - self.beaker.needed(&Place::neat(&grams), middle)?) / grams[at]);
        }
        let mut turns = 0;
        let mut last = 0.0_f64;
        let (mut base, mut acid) = (0.0, 0.0);
        for one in additions.iter().filter(|one| one.grams > 0.0) {
            let brought = strengths[one.adjuster] * one.grams;
            turns += usize::from(last * brought < 0.0);
            last = brought;
            if brought > 0.0 { base += brought } else { acid -= brought }
        }
        Ok((turns, (turns > 0).then_some(f64::min(base, acid))))
    }

    /// The largest contributions to the doubt about the far edge before any reading, g.
    fn contributions(&mut self, advice: &Advice, names: &[String]) -> Result<Vec<(String, f64)>, Trouble> {
        let mut all = vec![0.0; names.len()];
        all[0] = advice.learned.before[0].grams.max(0.0);
        let place = Place { system: 0, diluted: self.window.method.diluted, grams: &all };
        let middle = 0.5 * (self.window.ph[0] + self.window.ph[1]);
        let borrowed: Vec<&str> = names.iter().map(String::as_str).collect();
        let doubts = self.beaker.doubts(&place, middle, &borrowed)?;
        let mut found: Vec<(String, f64)> = doubts
            .into_iter()
            .zip(&advice.learned.contributions)
            .map(|(name, grams)| (name, grams.abs()))
            .collect();
        found.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        found.truncate(5);
        Ok(found)
    }

    fn tell_readings(
        &mut self,
        advice: &Advice,
        additions: &[Addition],
        readings: &[Reading],
    ) -> Result<Vec<HeardReading>, Trouble> {
        let surprises: Vec<(usize, f64)> = advice.surprises().collect();
        let mut told = Vec::with_capacity(readings.len());
        for (at, reading) in readings.iter().enumerate() {
            let surprise = surprises.iter().find(|(place, _)| *place == at).map(|(_, surprise)| *surprise);
            let words = match surprise {
                None => {
                    let why = advice.left_out.iter().find(|(place, _)| *place == at);
                    let why = why.map_or("", |(_, why)| why.as_str());
                    format!("not used: {why}{}", self.other_way(additions, reading)?)
                }
                Some(surprise) => self.tell_reading(at, surprise, &surprises, additions, readings)?,
            };
            told.push(HeardReading {
                number: at + 1,
                words: format!("pH {:.2}, {}: {words}", reading.ph, reading.method.words()),
                used: surprise.is_some(),
                surprise: surprise.map(|surprise| computed(surprise, "standard deviations")),
            });
        }
        Ok(told)
    }

    /// How far the two ways of reading lie apart in this batch by the model, where a reading was taken the other way.
    fn other_way(&mut self, additions: &[Addition], reading: &Reading) -> Result<String, Trouble> {
        if reading.method.diluted == self.window.method.diluted {
            return Ok(String::new());
        }
        let grams = self.grams_after(additions, reading.after);
        let neat = self.beaker.ph(&Place::neat(&grams), 0.0)?;
        let diluted = self.beaker.ph(&Place { diluted: true, ..Place::neat(&grams) }, 0.0)?;
        Ok(format!("; by the model the batch reads {neat:.2} neat and {diluted:.2} at 10 %"))
    }

    /// What a reading says against the model: how strong the adjuster must be for it, or how much acid nobody knew of.
    fn tell_reading(
        &mut self,
        at: usize,
        surprise: f64,
        used: &[(usize, f64)],
        additions: &[Addition],
        readings: &[Reading],
    ) -> Result<String, Trouble> {
        if surprise.abs() <= super::CONTRADICTS {
            return Ok("as the model and the readings before it let expect".to_owned());
        }
        let mut needed = |of: usize| -> Result<(f64, f64), Trouble> {
            let grams = self.grams_after(additions, readings[of].after);
            let system = self.beaker.system_at(readings[of].method.temperature_c).unwrap_or(0);
            let place = Place { system, diluted: readings[of].method.diluted, grams: &grams };
            Ok((self.beaker.needed(&place, readings[of].ph)?, grams[0]))
        };
        let (here, grams) = needed(at)?;
        let earlier = used.iter().rev().find(|(place, _)| *place < at).map(|(place, _)| *place);
        let (there, grams_there) = match earlier {
            Some(earlier) => needed(earlier)?,
            None => (0.0, 0.0),
        };
        let mass = self.beaker.mass_g;
        if grams <= grams_there {
            return Ok(words::unknown_acid((there - here) * 1e6 / mass, earlier.is_some()));
        }
        let none = vec![0.0; self.adjusters.len()];
        let mut some = none.clone();
        some[0] = 1e-3 * mass;
        let ph = readings[at].ph;
        let per_gram = (self.beaker.needed(&Place::neat(&none), ph)?
            - self.beaker.needed(&Place::neat(&some), ph)?)
            / some[0];
        let given = per_gram * (grams - grams_there);
        Ok(words::strength(1.0 + (here - there) / given))
    }
}
