//! What the bench teaches about the thickeners: readings of trials move what is believed of grades, lots, pairs and formulas.
//!
//! ```text
//! ln y = ln h(theta_g + e_0 l, S) + m (u + v) + noise
//! theta_g ~ datasheet less half the spread between lots,  l ~ that half,  S ~ gains,  u ~ N(0, 3/4),  v ~ N(0, 1/4)
//! ```
//!
//! | symbol | meaning |
//! |---|---|
//! | y, h | reading; what the laws give for it: the dial of a disc spindle, or the viscosity at a shear rate |
//! | theta_g | parameters of the law of a grade |
//! | l | what a lot is stronger or weaker than its grade, in the strength (first parameter) |
//! | S | gain of two thickeners together |
//! | m | standard deviation that the laws carry themselves for this formula at this shear rate |
//! | u, v | what the laws miss in every trial of one formula, and in one trial alone |
//!
//! The joint belief starts from the facts and goes from trial to trial by `measure::belief`; a trial speaks of its own grades, lots, pairs and
//! formula, and everything else follows by what it has to do with these. Half of what is open about the strength is taken to lie between
//! lots, three quarters of what the laws miss to stay with a formula: judgement, no source. Nothing is kept: the story is told anew from the
//! readings with the facts of today. Cases: `tests/tests/flow_learning.rs`, laboratories drawn from the belief itself, and the
//! trials of scenarios 5 and 6.

mod shared;

pub use shared::{FlowStand, Shared};

use super::{Flowing, KnownFlow, ThickenerIn};
use levigate_measure::belief::{Belief, Lesson as Taken, Measurement};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::Liquid;
use levigate_process::flow::blend::{Blend, Dosed, Numbered, Numbers, Taught};
use levigate_process::flow::datasheet::{Datasheet, Understood, dial_viscosity};
use levigate_process::flow::spindle::DiscSpindle;
use levigate_process::flow::thickener::{PARAMETERS, Theta};
use std::collections::BTreeMap;

/// Share of the variance of a grade's strength that lies between its lots.
const BETWEEN_LOTS: f64 = 0.5;
/// Share of the variance of what the laws miss that stays with a formula.
const WITH_FORMULA: f64 = 0.75;
/// A value further from what was believed than so many standard deviations is a slip, not a lesson: judgement, no source.
const BEYOND_BELIEF: f64 = 8.0;

/// How a value was read.
#[derive(Clone, Debug, PartialEq)]
pub enum How<'a> {
    /// On the dial of a viscometer with a disc spindle, at a speed in rpm; `None` for a disc of unknown size.
    Dial(Option<&'a DiscSpindle>, f64),
    /// As the viscosity at a shear rate, 1/s.
    ShearRate(f64),
}

impl How<'_> {
    /// What is read of a liquid, Pa s.
    #[must_use]
    pub fn shows(&self, liquid: &dyn Liquid) -> f64 {
        match self {
            Self::Dial(spindle, rpm) => dial_viscosity(liquid, *spindle, *rpm),
            Self::ShearRate(rate) => liquid.viscosity(*rate),
        }
    }
}

/// One value read.
#[derive(Clone, Debug, PartialEq)]
pub struct Seen<'a> {
    /// How.
    pub how: How<'a>,
    /// Value, Pa s.
    pub value_pa_s: f64,
    /// Its standard deviation, relative.
    pub deviation: f64,
}

/// A trial as far as its flow was read, at one temperature.
#[derive(Clone, Debug)]
pub struct Lesson<'a> {
    /// The trial, by any name of its own.
    pub trial: String,
    /// The formula it is of, by any name of its own.
    pub formula: String,
    /// The formula as made, ready at the temperature of the reading.
    pub flowing: Flowing<'a>,
    /// What was read.
    pub seen: Vec<Seen<'a>>,
    /// It is no trial of this bench but the certificate of a lot.
    pub certificate: bool,
}

/// Standard deviation of a viscosity on a certificate, relative: a reading by the maker's own method. Common practice, no source.
const CERTIFICATE_SPREAD: f64 = 0.05;
/// A certificate whose value lies further from a datasheet's range than this factor was read otherwise.
const SAME_METHOD: f64 = 2.0;

/// A value on the certificate of a lot.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CertificateValue<'c> {
    /// Lot.
    pub lot: &'c str,
    /// Percent of the test solution, where the certificate says it.
    pub percent: Option<f64>,
    /// Viscosity, Pa s.
    pub value_pa_s: f64,
}

/// What a viscosity on the certificate of a lot teaches: it is taken as read by the one method of the datasheet that is for this percent and
/// whose range it lies near. Nothing where there is no such method or more than one: a value read by another method would teach something
/// wrong. `active_share` is the share of the polymer in the powder, 0 to 1.
#[must_use]
pub fn of_certificate<'a>(
    known: &'a Understood,
    name: &str,
    CertificateValue { lot, percent, value_pa_s }: CertificateValue<'_>,
    active_share: f64,
    flow: &KnownFlow<'a>,
) -> Option<Lesson<'a>> {
    let same_method = |sheet: &&Datasheet| {
        let [low, high] = sheet.mpa_s.map(|end| end / 1e3);
        percent.is_none_or(|percent| (percent / sheet.percent - 1.0).abs() < 0.01)
            && value_pa_s >= low / SAME_METHOD
            && value_pa_s <= high * SAME_METHOD
    };
    let mut methods = known.record.datasheet.iter().filter(same_method);
    let (Some(sheet), None) = (methods.next(), methods.next()) else { return None };
    let how = match (sheet.speed_rpm, sheet.shear_rate) {
        (Some(rpm), _) => How::Dial(sheet.spindle.as_ref().and_then(|key| flow.spindles.get(key)), rpm),
        (None, Some(rate)) => How::ShearRate(rate),
        (None, None) => return None,
    };
    let around = sheet.surroundings(&known.family.reference);
    let thickener = Dosed {
        law: known.law,
        knowledge: &known.knowledge,
        dose_g_dl: sheet.dose(active_share),
        around,
        // The datasheet was learned from without a doubt about the law, and so is the certificate.
        own: 0.0,
        beyond: 0.0,
        window: known.family.evidence.shear_rate,
    };
    let flowing = Flowing {
        blend: Blend {
            solvent_pa_s: around.solvent_pa_s,
            solvent_spread: 0.0,
            thickeners: vec![thickener],
            synergies: Vec::new(),
            drops: 1.0,
            drops_spread: 0.0,
            taught: None,
        },
        thickeners: vec![ThickenerIn {
            known,
            lines: Vec::new(),
            name: name.to_owned(),
            lot: lot.to_owned(),
            outside: Vec::new(),
            dissociated: None,
        }],
        not_known: Vec::new(),
        not_predicted: Vec::new(),
        temperature_c: sheet.temperature_c,
        cosolvents: Vec::new(),
        other_solids: 0.0,
        oil_share: 0.0,
        solvent_pa_s: [around.solvent_pa_s; 3],
        learned: None,
    };
    Some(Lesson {
        trial: format!("certificate of {name}, lot {lot}"),
        formula: format!("test solution of {name}"),
        flowing,
        seen: vec![Seen { how, value_pa_s, deviation: CERTIFICATE_SPREAD }],
        certificate: true,
    })
}

/// Numbers that a trial can speak of.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Grade(String),
    Lot(String, String),
    Pair(String, String),
    Formula(String),
    Trial(String),
}

/// A number that a trial moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// What of: raw material, lot, pair or formula.
    pub of: String,
    /// The number, in words.
    pub number: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Whether value and deviation are those of its natural logarithm.
    pub logarithm: bool,
    /// Value before and after.
    pub value: [f64; 2],
    /// Standard deviation before and after.
    pub deviation: [f64; 2],
}

impl Moved {
    /// The number before (0) or after (1) with the ends that hold it with a probability of 0.95.
    #[must_use]
    pub fn stated(&self, after: usize) -> Outcome {
        let (value, reach) = (self.value[after.min(1)], 1.96 * self.deviation[after.min(1)]);
        let [low, value, high] =
            [value - reach, value, value + reach].map(|one| if self.logarithm { one.exp_e() } else { one });
        let grade = if after == 0 { Grade::RuleOfThumb } else { Grade::Calibrated };
        Outcome::new(value, self.unit, grade, "belief about the thickeners, moved by readings (Bayes)")
            .within(low, high, Some(0.95))
            .by("theta_hat = most probable value, C_hat = (C^-1 + J' R^-1 J)^-1")
            .proved_by("tests/cross/belief.toml")
    }
}

/// What one trial taught.
#[derive(Clone, Debug, PartialEq)]
pub struct Story {
    /// The trial.
    pub trial: String,
    /// Its formula.
    pub formula: String,
    /// For each value read: ln of the prediction before and after, with their standard deviations, and how surprising it was.
    pub readings: Vec<Taken>,
    /// Numbers it moved by more than a tenth of what was open, most moved first.
    pub moved: Vec<Moved>,
    /// Raw materials of its thickeners.
    pub materials: Vec<String>,
    /// Why it taught nothing, where it did not.
    pub refused: Option<String>,
    /// It is no trial of this bench but the certificate of a lot.
    pub certificate: bool,
}

/// Everything the bench has taught so far.
#[derive(Clone, Debug, Default)]
pub struct Experience {
    belief: Option<Belief>,
    places: BTreeMap<Key, usize>,
    stories: Vec<Story>,
}

/// The keys of a lesson in their order, and how many numbers each holds.
fn keys(flowing: &Flowing<'_>, formula: &str, trial: Option<&str>) -> Vec<Key> {
    let material = |place: usize| flowing.thickeners[place].known.record.material.clone();
    let thickeners = 0..flowing.thickeners.len();
    let lot = |place: usize| flowing.thickeners[place].lot.clone();
    let mut keys: Vec<Key> = thickeners.clone().map(|place| Key::Grade(material(place))).collect();
    keys.extend(thickeners.map(|place| Key::Lot(material(place), lot(place))));
    keys.extend(flowing.blend.synergies.iter().map(|gain| {
        let mut pair = gain.pair.map(material);
        pair.sort();
        let [one, other] = pair;
        Key::Pair(one, other)
    }));
    keys.push(Key::Formula(formula.to_owned()));
    keys.extend(trial.map(|trial| Key::Trial(trial.to_owned())));
    keys
}

/// Variance of the strength that nothing else explains: the column led by the strength moves it alone.
fn open_strength(of: &ThickenerIn<'_>) -> f64 {
    let (_, strength) = of.known.law.law.symbols()[0];
    let columns = of.known.knowledge.columns.iter().filter(|column| column.words == strength);
    columns.map(|column| column.theta[0] * column.theta[0]).sum()
}

/// Splits numbers in the order of [`keys`] into those of a blend.
fn numbers_of(blend: &Blend<'_>, flat: &[f64]) -> Numbers {
    let count = blend.thickeners.len();
    let (grades, rest) = flat.split_at(count * PARAMETERS);
    let (lots, rest) = rest.split_at(count);
    let (gains, misses) = rest.split_at(blend.synergies.len());
    let thetas = grades
        .chunks_exact(PARAMETERS)
        .zip(lots)
        .map(|(grade, lot)| {
            let mut theta: Theta = std::array::from_fn(|place| grade[place]);
            theta[0] += lot;
            theta
        })
        .collect();
    Numbers { thetas, gains: gains.to_vec(), miss: misses.iter().sum() }
}

impl Experience {
    /// Learns trial by trial, in the order given.
    #[must_use]
    pub fn of(lessons: &[Lesson<'_>]) -> Self {
        let mut experience = Self::default();
        for lesson in lessons {
            experience.learn(lesson);
        }
        experience
    }

    /// What each trial taught, in the order they came.
    #[must_use]
    pub fn stories(&self) -> &[Story] {
        &self.stories
    }

    /// Whether any trial spoke of a thickener of this formula.
    #[must_use]
    pub fn speaks_of(&self, flowing: &Flowing<'_>) -> bool {
        flowing.thickeners.iter().any(|one| self.knows(one))
    }

    fn knows(&self, thickener: &ThickenerIn<'_>) -> bool {
        self.places.contains_key(&Key::Grade(thickener.known.record.material.clone()))
    }

    /// From how much it speaks of every thickener of this formula; none where of one it does not.
    pub(super) fn words(&self, flowing: &Flowing<'_>) -> Option<String> {
        if flowing.thickeners.is_empty() || !flowing.thickeners.iter().all(|one| self.knows(one)) {
            return None;
        }
        let here = |story: &&Story| {
            let shared = |one: &ThickenerIn<'_>| story.materials.contains(&one.known.record.material);
            story.refused.is_none() && !story.readings.is_empty() && flowing.thickeners.iter().any(shared)
        };
        let (certificates, trials): (Vec<&Story>, Vec<&Story>) =
            self.stories.iter().filter(here).partition(|story| story.certificate);
        let values: usize = trials.iter().map(|story| story.readings.len()).sum();
        let many = |count: usize, one: &str| format!("{count} {one}{}", if count == 1 { "" } else { "s" });
        let mut from = Vec::new();
        if values > 0 {
            from.push(format!("{} of {}", many(values, "value"), many(trials.len(), "trial")));
        }
        if !certificates.is_empty() {
            from.push(many(certificates.len(), "certificate"));
        }
        Some(format!("learned from {} in this workspace", from.join(" and ")))
    }

    /// What is known of a blend after all trials; none where no trial spoke of any of its thickeners.
    #[must_use]
    pub fn taught(&self, flowing: &Flowing<'_>, formula: &str) -> Option<Taught> {
        if !self.speaks_of(flowing) {
            return None;
        }
        let mut widened = self.clone();
        let places = widened.seats(flowing, &keys(flowing, formula, None))?;
        let belief = widened.belief?.part(&places);
        let blend = &flowing.blend;
        Some(Taught {
            best: numbers_of(blend, belief.mean()),
            columns: belief.columns().iter().map(|column| numbers_of(blend, column)).collect(),
            own_miss: (1.0 - WITH_FORMULA).sqrt(),
        })
    }

    /// Places of the numbers of some keys; keys not met before get a seat with what the facts say.
    fn seats(&mut self, flowing: &Flowing<'_>, keys: &[Key]) -> Option<Vec<usize>> {
        let mut places = Vec::new();
        for (at, key) in keys.iter().enumerate() {
            if !self.places.contains_key(key) {
                let fresh = start(flowing, at, key)?;
                let seat = self.belief.as_ref().map_or(0, |belief| belief.mean().len());
                self.belief =
                    Some(self.belief.take().map_or_else(|| fresh.clone(), |belief| belief.and(&fresh)));
                self.places.insert(key.clone(), seat);
            }
            let size = if matches!(key, Key::Grade(_)) { PARAMETERS } else { 1 };
            let seat = *self.places.get(key)?;
            places.extend(seat..seat + size);
        }
        Some(places)
    }

    /// Learns from one trial, and says what.
    pub fn learn(&mut self, lesson: &Lesson<'_>) -> Story {
        let mut story = Story {
            trial: lesson.trial.clone(),
            formula: lesson.formula.clone(),
            readings: Vec::new(),
            moved: Vec::new(),
            materials: lesson
                .flowing
                .thickeners
                .iter()
                .map(|one| one.known.record.material.clone())
                .collect(),
            refused: None,
            certificate: lesson.certificate,
        };
        let before = self.clone();
        if let Err(why) = self.take_in(lesson, &mut story) {
            story.refused = Some(why);
            *self = before;
        }
        self.stories.push(story.clone());
        story
    }

    /// Moves the belief by a trial and writes down what moved; why nothing can be learned, where that is so.
    fn take_in(&mut self, lesson: &Lesson<'_>, story: &mut Story) -> Result<(), String> {
        let Lesson { trial, formula, flowing, seen, .. } = lesson;
        if flowing.thickeners.is_empty() {
            return Err("there is no thickener in it whose law is known".to_owned());
        }
        if !flowing.not_known.is_empty() {
            return Err("a thickener in it has no law to learn about".to_owned());
        }
        if seen.is_empty() {
            return Ok(());
        }
        let keys = keys(flowing, formula, Some(trial));
        let no_belief = || "what the facts say of its thickeners leaves nothing open".to_owned();
        let places = self.seats(flowing, &keys).ok_or_else(no_belief)?;
        let belief = self.belief.clone().ok_or_else(no_belief)?;
        // What the solvent and the drops leave open is nothing the thickeners can answer for.
        let aside = flowing.blend.solvent_spread.root_sum_square(flowing.blend.drops_spread);
        let measurements: Vec<Measurement> = seen
            .iter()
            .map(|one| Measurement {
                value: one.value_pa_s.log_e(),
                deviation: one.deviation.root_sum_square(aside),
            })
            .collect();
        let predict = |flat: &[f64], predictions: &mut [f64]| {
            let numbers = numbers_of(&flowing.blend, flat);
            let liquid = Numbered { blend: &flowing.blend, numbers: &numbers };
            for (prediction, one) in predictions.iter_mut().zip(seen) {
                *prediction = one.how.shows(&liquid).log_e();
            }
            true
        };
        let surprises =
            belief.part(&places).surprises(&measurements, predict).map_err(|error| error.to_string())?;
        let far =
            surprises.into_iter().fold(0.0, |most: f64, one| if one.abs() > most.abs() { one } else { most });
        if far.abs() > BEYOND_BELIEF {
            return Err(format!(
                "a value lies {:.0} standard deviations {} what was believed: look at its unit, its speed and its spindle",
                far.abs(),
                if far > 0.0 { "above" } else { "below" }
            ));
        }
        let learned =
            belief.learn_about(&places, &measurements, predict).map_err(|error| error.to_string())?;
        story.moved = moved(flowing, &keys, &places, &belief, &learned.belief, &learned.share);
        story.readings = learned.lessons;
        self.belief = Some(learned.belief);
        Ok(())
    }
}

/// What the facts say of a key, the `at`th of its lesson.
fn start(flowing: &Flowing<'_>, at: usize, key: &Key) -> Option<Belief> {
    let count = flowing.thickeners.len();
    let one = |variance: f64, mean: f64| Belief::new(vec![mean], vec![variance]).ok();
    let lot_variance = |place: usize| BETWEEN_LOTS * open_strength(&flowing.thickeners[place]);
    match key {
        Key::Grade(_) => {
            let belief = &flowing.thickeners.get(at)?.known.knowledge.belief;
            let mut covariance: Vec<f64> = (0..PARAMETERS * PARAMETERS)
                .map(|place| belief.covariance(place / PARAMETERS, place % PARAMETERS))
                .collect();
            covariance[0] -= lot_variance(at);
            Belief::new(belief.mean().to_vec(), covariance).ok()
        }
        Key::Lot(..) => one(lot_variance(at.checked_sub(count)?), 0.0),
        Key::Pair(..) => {
            let gain = flowing.blend.synergies.get(at.checked_sub(2 * count)?)?;
            one(gain.spread * gain.spread, gain.strength)
        }
        Key::Formula(_) => one(WITH_FORMULA, 0.0),
        Key::Trial(_) => one(1.0 - WITH_FORMULA, 0.0),
    }
}

/// What moved by more than a tenth of what was open about it.
fn moved(
    flowing: &Flowing<'_>,
    keys: &[Key],
    places: &[usize],
    before: &Belief,
    after: &Belief,
    shares: &[f64],
) -> Vec<Moved> {
    let names = |material: &str| {
        let known = flowing.thickeners.iter().find(|one| one.known.record.material == material);
        known.map_or_else(|| material.to_owned(), |one| one.name.clone())
    };
    let mut found: Vec<(f64, Moved)> = Vec::new();
    let mut at = 0;
    for (place, key) in keys.iter().enumerate() {
        let one = |of: String, number: &'static str, logarithm: bool| vec![(of, number, "", logarithm)];
        let numbers: Vec<(String, &'static str, &'static str, bool)> = match key {
            Key::Grade(material) => flowing
                .thickeners
                .get(place)
                .map(|one| one.known.law.law)
                .map(|law| (0..PARAMETERS).map(|number| (law, number)).collect::<Vec<_>>())
                .unwrap_or_default()
                .into_iter()
                .map(|(law, number)| {
                    let (symbol, words) = law.symbols()[number];
                    (names(material), words, law.units()[number], symbol.starts_with("ln "))
                })
                .collect(),
            Key::Lot(material, lot) => {
                let lot = if lot.is_empty() { "lot not named".to_owned() } else { format!("lot {lot}") };
                one(format!("{}, {lot}", names(material)), "strength against its grade", true)
            }
            Key::Pair(first, other) => {
                one(format!("{} with {}", names(first), names(other)), "factor gained together", true)
            }
            Key::Formula(_) => one(
                "this formula".to_owned(),
                "what the laws miss in it, in standard deviations of theirs",
                false,
            ),
            Key::Trial(_) => one("this trial".to_owned(), "what is its own", false),
        };
        for (of, number, unit, logarithm) in numbers {
            let (Some(&seat), Some(share)) = (places.get(at), shares.get(at)) else { break };
            at += 1;
            let value = [before.mean()[seat], after.mean()[seat]];
            let deviation = [before.deviation(seat), after.deviation(seat)];
            let step = if deviation[0] > 0.0 { (value[1] - value[0]).abs() / deviation[0] } else { 0.0 };
            if !matches!(key, Key::Trial(_)) && (step > 0.1 || *share > 0.1) {
                found.push((step.max(*share), Moved { of, number, unit, logarithm, value, deviation }));
            }
        }
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|(_, moved)| moved).collect()
}

/// The spindle that words of a reading mean, where they can be understood, with what was assumed for it.
#[must_use]
pub fn spindle_of<'a>(
    known: &KnownFlow<'a>,
    words: &str,
    rpm: f64,
    value_pa_s: f64,
) -> Option<(&'a DiscSpindle, Vec<String>)> {
    let torque = known.torque_n_m?;
    let choice = levigate_process::flow::spindle::chosen(
        words,
        known.spindles.values(),
        torque,
        Some((rpm, value_pa_s)),
    )?;
    Some((choice.spindle, choice.assumptions))
}
