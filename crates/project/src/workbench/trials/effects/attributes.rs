//! Every reading that a model predicts and a trial can hold: what the engine expects of both trials and of everything between them.

use super::super::book::{Desk, SheetMade};
use super::super::flow::{READING_SPREAD, Spoken, USUAL_TEMPERATURE_C};
use super::about::About;
use super::patches::{Patch, patched};
use super::readings::{Taken, as_typed, most_alike, plain, taken_on, unlike_readings};
use super::words::Moved;
use super::{AttributeEffects, Difference, NotComputed, Scale, first, not_computed};
use crate::records::{Kept, Method, Reading, Trial};
use levigate_assess::effects::attributes::{density_of, dry_matter, ph, preservative};
use levigate_assess::effects::{Stand, shared_out, weighing_doubt};
use levigate_assess::flow::learning::{Experience, How, Shared, spindle_of};
use levigate_assess::flow::{Flowing, flowing_at};
use levigate_assess::{Assessed, Inquiry, Known};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use std::collections::{BTreeMap, BTreeSet};

/// Shear rate at which a viscosity is told where nobody read one and the brief names no spindle, 1/s: that of the assessment.
const STATED_RATE: f64 = 10.0;
/// Standard deviation of a density read, relative: a filled cup on the balance of a bench. Common practice, no source.
const DENSITY_SPREAD: f64 = 0.003;
/// Standard deviation of a dry residue read, % w/w. Common practice, no source.
const DRY_SPREAD: f64 = 0.1;
/// Share of a line by which it is moved to see what weighing leaves open.
const STEP: f64 = 0.01;
/// Where a line may be off by so much, relative, if nothing is on file of how a laboratory weighs. Common practice, no source.
const USUAL_WEIGHING: f64 = 0.005;
const PROOF: &str = "tests/tests/effects.rs";
const PROOF_OTHERS: &str = "tests/tests/effects_attributes.rs";

/// How a viscosity is asked for.
#[derive(Clone, Debug, PartialEq)]
struct Asked<'a> {
    how: How<'a>,
    temperature_c: f64,
}

impl Asked<'_> {
    fn words(&self) -> String {
        let how = match &self.how {
            How::Dial(Some(spindle), rpm) => format!("{} at {rpm} rpm", spindle.words()),
            How::Dial(None, rpm) => format!("a disc spindle at {rpm} rpm"),
            How::ShearRate(rate) => format!("at {rate} 1/s"),
        };
        format!("{how}, {} \u{b0}C", self.temperature_c)
    }
}

/// A making that is looked at: one of the two, something between them, or one with a line moved.
struct Making<'a> {
    assessed: Assessed<'a>,
    /// Ready to flow as the first and as the second was read.
    flowing: [Flowing<'a>; 2],
}

/// Everything needed to tell what lies between two trials.
pub(super) struct Between<'b> {
    pub(super) desk: &'b Desk<'b>,
    pub(super) known: Known<'b>,
    pub(super) facts: &'b Facts,
    pub(super) pair: [&'b Kept<Trial>; 2],
    pub(super) made: [&'b SheetMade; 2],
    /// As they went in, before water went off.
    pub(super) sheets: &'b [Sheet; 2],
    pub(super) patches: &'b [Patch],
    pub(super) experience: &'b Experience,
}

/// All makings that are looked at.
struct Makings<'a> {
    /// By which differences are in them.
    between: BTreeMap<Vec<bool>, Making<'a>>,
    /// Each of the two with one line after the other moved.
    moved: [Vec<Making<'a>>; 2],
}

/// What one reading is asked with.
struct Question<'q> {
    about: About,
    /// The reading of a making; `true` as the second was read.
    stand: &'q dyn Fn(&Making<'_>, bool) -> Result<Stand, String>,
    /// What every making has of its own, standard deviation.
    own: f64,
    /// How the two were read, where the engine follows it and it differs: then it is one more difference.
    read_otherwise: Option<[String; 2]>,
    values: [Option<f64>; 2],
    readings: [Option<String>; 2],
    not_computed: Vec<NotComputed>,
    weighing: f64,
}

impl<'b> Between<'b> {
    /// Every reading in the order a formulator asks for it.
    pub(super) fn all(&self) -> Result<Vec<AttributeEffects>, String> {
        let viscosities = self.viscosities();
        let asked = self.asked(&viscosities);
        let masks = self.masks();
        let sheets = self.sheets_between(&masks);
        let moved: [Vec<Sheet>; 2] = [false, true].map(|second| self.sheets_moved(second));
        let makings = self.makings(&masks, &sheets, &moved, &asked)?;
        let mut found = vec![self.acidity(&makings)?];
        found.extend(self.viscosity(&makings, viscosities, &asked));
        found.extend(self.density(&makings));
        found.push(self.dry(&makings)?);
        found.extend(self.preservatives(&makings));
        found.extend(self.cost(&makings));
        Ok(found)
    }

    /// Every set of differences that is asked for.
    fn masks(&self) -> BTreeSet<Vec<bool>> {
        let mut masks = BTreeSet::new();
        let all = shared_out(self.patches.len(), |marks| {
            masks.insert(marks.to_vec());
            Ok::<_, String>(Stand::default())
        });
        debug_assert!(all.is_ok());
        masks
    }

    fn sheets_between(&self, masks: &BTreeSet<Vec<bool>>) -> Vec<Sheet> {
        masks
            .iter()
            .map(|marks| {
                let chosen =
                    self.patches.iter().zip(marks).filter(|(_, mark)| **mark).map(|(patch, _)| patch);
                patched(&self.sheets[0], self.made[0].lost_percent(), chosen)
            })
            .collect()
    }

    /// One of the two with one line after the other a hundredth heavier, each at the cost of what is q.s.
    fn sheets_moved(&self, second: bool) -> Vec<Sheet> {
        let at = usize::from(second);
        let plain = patched(&self.sheets[at], self.made[at].lost_percent(), std::iter::empty());
        let more = Decimal::ONE + Decimal::try_from(STEP).unwrap_or_default();
        (0..plain.lines().count())
            .filter_map(|place| {
                let mut sheet = plain.clone();
                let line = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(place)?;
                match &mut line.amount {
                    Amount::Percent(percent) | Amount::ActivePercent(percent) => *percent *= more,
                    Amount::Remainder(_) | Amount::ToPh(_) => return None,
                }
                Some(sheet)
            })
            .collect()
    }

    fn makings<'a>(
        &'a self,
        masks: &BTreeSet<Vec<bool>>,
        sheets: &'a [Sheet],
        moved: &'a [Vec<Sheet>; 2],
        asked: &[Asked<'_>; 2],
    ) -> Result<Makings<'a>, String> {
        let of = |sheet: &'a Sheet| -> Result<Making<'a>, String> {
            let market = self.desk.market;
            let inquiry = Inquiry { sheet, known: self.known, day: self.desk.day, market };
            let assessed = levigate_assess::assess(&inquiry).map_err(|error| first(&error))?;
            let flowing =
                [0, 1].map(|at: usize| flowing_at(&assessed, sheet, &self.known, asked[at].temperature_c));
            Ok(Making { assessed, flowing })
        };
        let between = masks.iter().zip(sheets);
        let between: BTreeMap<Vec<bool>, Making<'a>> =
            between.map(|(marks, sheet)| Ok((marks.clone(), of(sheet)?))).collect::<Result<_, String>>()?;
        // A line that cannot be moved, because there is no room beside it, leaves nothing open.
        let moved = [0, 1].map(|at: usize| moved[at].iter().filter_map(|sheet| of(sheet).ok()).collect());
        Ok(Makings { between, moved })
    }

    // ---- readings

    fn acidity(&self, makings: &Makings<'_>) -> Result<AttributeEffects, String> {
        let convention = self.facts.ph_bench.convention.as_ref();
        let relative = convention.map_or(0.0, |convention| convention.line_relative);
        let weighing = [0, 1].map(|at: usize| {
            let sheet = patched(&self.sheets[at], self.made[at].lost_percent(), std::iter::empty());
            weighing_doubt(&sheet, &self.known, relative).unwrap_or(0.0)
        });
        let read = self.read(|reading| {
            let neat = reading.what.quantity == "ph" && reading.what.method == Method::Neat;
            plain(reading.what.value.value).filter(|_| neat).map(|ph| (ph, ()))
        });
        let stand = |making: &Making<'_>, _: bool| {
            Ok(ph(&making.assessed.mixture, &making.assessed.composition, &self.known))
        };
        self.told(
            makings,
            self.question(
                About {
                    key: "ph".to_owned(),
                    name: "pH".to_owned(),
                    conditions: "neat, 25 \u{b0}C".to_owned(),
                    unit: "",
                    own_unit: "",
                    scale: Scale::Difference,
                    decimals: 2,
                    method: "equilibrium of the water phase with and without the difference",
                    grade: Grade::Computed,
                    proof: PROOF,
                    reading: convention.map_or(0.0, |one| one.reading_ph.hypot(one.meter_ph)),
                    no_pair: "There are not two neat readings of the pH to hold it against.".to_owned(),
                },
                &stand,
                read,
                weighing[0].hypot(weighing[1]),
            ),
        )
    }

    /// The viscosities that stand on both, with how they were read.
    fn viscosities(&self) -> [Option<Taken<'b, Asked<'b>>>; 2] {
        let means = |reading: &Kept<Reading>| {
            let spoken = Spoken::of(reading)?.ok()?;
            let how = spoken.how(&self.known).ok()?;
            Some((spoken.pa_s().log_e(), Asked { how, temperature_c: spoken.temperature_c }))
        };
        let on = |at: usize| taken_on(self.desk.records, self.pair[at], means);
        most_alike(&on(0), &on(1), |was, now| f64::from(u8::from(was.how != now.how)))
    }

    /// How the viscosity is asked for: as it was read; where one trial was not read, as the other; else as the brief speaks of it.
    fn asked(&self, read: &[Option<Taken<'b, Asked<'b>>>; 2]) -> [Asked<'b>; 2] {
        let own = [0, 1].map(|at: usize| read[at].as_ref().map(|taken| taken.how.clone()));
        let target = self.sheets[1].target.viscosity.as_ref().or(self.sheets[0].target.viscosity.as_ref());
        let brief = || {
            let dial = target.and_then(|target| {
                let rpm = target.speed_rpm?.to_f64().filter(|rpm| *rpm > 0.0)?;
                let highest = target.mpa_s[1].to_f64()? / 1e3;
                let (spindle, _) = spindle_of(&self.known.flow, target.spindle.as_deref()?, rpm, highest)?;
                Some(How::Dial(Some(spindle), rpm))
            });
            let celsius = target.and_then(|target| target.temperature_c?.to_f64());
            Asked {
                how: dial.unwrap_or(How::ShearRate(STATED_RATE)),
                temperature_c: celsius.unwrap_or(USUAL_TEMPERATURE_C),
            }
        };
        match own {
            [Some(was), Some(now)] => [was, now],
            [Some(one), None] | [None, Some(one)] => [one.clone(), one],
            [None, None] => [brief(), brief()],
        }
    }

    fn viscosity(
        &self,
        makings: &Makings<'_>,
        read: [Option<Taken<'b, Asked<'b>>>; 2],
        asked: &[Asked<'b>; 2],
    ) -> Option<AttributeEffects> {
        let all = || makings.between.values().flat_map(|making| &making.flowing);
        if all().all(|flowing| flowing.thickeners.is_empty() && flowing.not_known.is_empty()) {
            return None;
        }
        let conditions = if asked[0] == asked[1] {
            asked[0].words()
        } else {
            format!("{}; then {}", asked[0].words(), asked[1].words())
        };
        let mut about = About {
            key: "viscosity".to_owned(),
            name: "viscosity".to_owned(),
            conditions,
            unit: "",
            own_unit: "mPa s",
            scale: Scale::Factor,
            decimals: 2,
            method: "flow of the composition with and without the difference",
            grade: Grade::RuleOfThumb,
            proof: PROOF_OTHERS,
            reading: READING_SPREAD,
            no_pair: "There are not two viscosities read with spindle and speed, or shear rate, to hold it against."
                .to_owned(),
        };
        let untold = |why: String| refused("viscosity", "viscosity", why);
        let mut not_known: Vec<&str> =
            all().flat_map(|flowing| &flowing.not_known).map(|(_, name)| name.as_str()).collect();
        not_known.sort_unstable();
        not_known.dedup();
        if !not_known.is_empty() {
            return Some(untold(format!("nothing is known of how {} thickens", not_known.join(", "))));
        }
        let formula = self.desk.records.formula.id.to_string();
        let every = all().chain(makings.moved.iter().flatten().flat_map(|making| &making.flowing));
        let Some(shared) = self.experience.shared(every, &formula) else {
            return Some(untold(
                "what is on file of its thickeners leaves nothing to compute with".to_owned(),
            ));
        };
        let ends = [(false, 0), (true, 1)].map(|(second, at): (bool, usize)| {
            let making = makings.between.get(&vec![second; self.patches.len()])?;
            shared.read(&making.flowing[at], &asked[at].how)
        });
        let own = ends.iter().flatten().map(|end| end.own.powi(2)).sum::<f64>();
        if all().any(|flowing| flowing.learned.is_some())
            || self.experience.stories().iter().any(|story| story.refused.is_none())
        {
            about.grade = Grade::Calibrated;
        }
        let stand = |making: &Making<'_>, second: bool| flow_of(making, second, &shared, asked);
        let soft: BTreeSet<&str> =
            all().flat_map(|flowing| &flowing.not_predicted).map(|(_, name)| name.as_str()).collect();
        let mut not_computed = not_computed(self.desk, self.pair, self.made, |key| {
            self.known.flow.facts.thickeners.contains_key(key)
        });
        not_computed
            .extend(unlike_readings([0, 1].map(|at: usize| read[at].as_ref().map(|one| one.reading)), true));
        for patch in self.patches.iter().filter(|patch| soft.contains(patch.what.as_str())) {
            not_computed.push(NotComputed {
                what: patch.what.clone(),
                was: patch.was.clone(),
                now: patch.now.clone(),
                why: "how it thickens by itself is not predicted; only its room in the batch is counted"
                    .to_owned(),
            });
        }
        let relative =
            self.facts.ph_bench.convention.as_ref().map_or(USUAL_WEIGHING, |one| one.line_relative);
        let weighing = self.weighing(makings, &stand, relative);
        let question = Question {
            about,
            stand: &stand,
            own: own.sqrt(),
            read_otherwise: (asked[0] != asked[1]).then(|| [asked[0].words(), asked[1].words()]),
            values: [0, 1].map(|at: usize| read[at].as_ref().map(|one| one.value)),
            readings: [0, 1].map(|at: usize| read[at].as_ref().map(|one| as_typed(one.reading))),
            not_computed,
            weighing,
        };
        Some(self.told(makings, question).unwrap_or_else(untold))
    }

    fn density(&self, makings: &Makings<'_>) -> Option<AttributeEffects> {
        let read = self.read(|reading| {
            let per_ml = match folded(&reading.what.unit).as_str() {
                "g/ml" | "g/cm3" | "g/cm³" | "kg/l" => 1.0,
                "kg/m3" | "kg/m³" | "g/l" => 1e-3,
                _ => return None,
            };
            let value = plain(reading.what.value.value).filter(|_| reading.what.quantity == "density");
            value.map(|value| (value * per_ml, ()))
        });
        let stand = |making: &Making<'_>, _: bool| {
            density_of(&making.assessed.composition, self.known.library)
                .ok_or_else(|| "nothing is in it".to_owned())
        };
        let weighing = self.weighing(makings, &stand, USUAL_WEIGHING);
        let about = About {
            key: "density".to_owned(),
            name: "density".to_owned(),
            conditions: "without air, 25 \u{b0}C".to_owned(),
            unit: "g/mL",
            own_unit: "g/mL",
            scale: Scale::Difference,
            decimals: 4,
            method: "volumes of the constituents added up, with and without the difference",
            grade: Grade::RuleOfThumb,
            proof: PROOF_OTHERS,
            reading: DENSITY_SPREAD,
            no_pair: "There are not two densities read to hold it against.".to_owned(),
        };
        self.told(makings, self.question(about, &stand, read, weighing)).ok()
    }

    fn dry(&self, makings: &Makings<'_>) -> Result<AttributeEffects, String> {
        let names = ["dry residue", "dry matter", "solids", "total solids", "dry content"];
        let read = self.read(|reading| {
            let what = &reading.what;
            let dry = names.contains(&folded(&what.quantity).as_str()) && what.unit.trim().starts_with('%');
            plain(what.value.value).filter(|_| dry).map(|percent| (percent, ()))
        });
        let stand =
            |making: &Making<'_>, _: bool| Ok(dry_matter(&making.assessed.composition, self.known.library));
        let weighing = self.weighing(makings, &stand, USUAL_WEIGHING);
        let about = About {
            key: "dry-matter".to_owned(),
            name: "dry matter".to_owned(),
            conditions: "all but the water: a dry residue, where nothing else goes off".to_owned(),
            unit: "% w/w",
            own_unit: "% w/w",
            scale: Scale::Difference,
            decimals: 2,
            method: "composition with and without the difference",
            grade: Grade::Computed,
            proof: PROOF_OTHERS,
            reading: DRY_SPREAD,
            no_pair: "There are not two dry residues read to hold it against.".to_owned(),
        };
        self.told(makings, self.question(about, &stand, read, weighing))
    }

    fn preservatives(&self, makings: &Makings<'_>) -> Vec<AttributeEffects> {
        let mut names: BTreeMap<String, (String, String)> = BTreeMap::new();
        let readings =
            makings.between.values().flat_map(|making| &making.assessed.assessment.preservatives.at);
        for reading in readings.filter(|at| at.edge == "as it stands").flat_map(|at| &at.preservatives) {
            names
                .entry(reading.substance.clone())
                .or_insert_with(|| (reading.name.clone(), reading.acts_as_name.clone()));
        }
        let asked = names.into_iter().filter_map(|(key, (name, acts_as))| {
            let stand = |making: &Making<'_>, _: bool| {
                let of = &making.assessed;
                let acidity = ph(&of.mixture, &of.composition, &self.known);
                preservative(&key, &of.assessment, (&of.mixture, &of.composition), &acidity, &self.known)
                    .ok_or_else(|| "its working form is not known".to_owned())
            };
            let weighing = self.weighing(makings, &stand, USUAL_WEIGHING);
            let about = About {
                key: format!("preservative-{key}"),
                name: format!("{name} at work"),
                conditions: format!("as {acts_as} in the form that acts, oil left aside"),
                unit: "% w/w",
                own_unit: "% w/w",
                scale: Scale::Difference,
                decimals: 4,
                method: "content times the share in the working form, with and without the difference",
                grade: Grade::Computed,
                proof: PROOF_OTHERS,
                reading: 0.0,
                no_pair: "It is not read on a trial.".to_owned(),
            };
            self.told(makings, self.question(about, &stand, [None, None], weighing)).ok()
        });
        asked.collect()
    }

    fn cost(&self, makings: &Makings<'_>) -> Option<AttributeEffects> {
        let currency = makings
            .between
            .values()
            .find_map(|making| making.assessed.assessment.rules.cost.currency.clone())?;
        let about = About {
            key: "cost".to_owned(),
            name: format!("cost per kg in {currency}"),
            conditions: "raw materials at the last price on file, losses as the brief says".to_owned(),
            unit: "",
            own_unit: "",
            scale: Scale::Difference,
            decimals: 2,
            method: "price times percent with and without the difference",
            grade: Grade::Computed,
            proof: PROOF_OTHERS,
            reading: 0.0,
            no_pair: "It is not read on a trial.".to_owned(),
        };
        let stand = |making: &Making<'_>, _: bool| {
            let cost = &making.assessed.assessment.rules.cost;
            let unpriced = || {
                let names: Vec<&str> = cost
                    .lines
                    .iter()
                    .filter(|line| line.per_kg.is_none())
                    .map(|line| line.name.as_str())
                    .collect();
                format!("no price is on file of {}", names.join(", "))
            };
            if cost.unpriced.is_empty() {
                cost.per_kg.value.map(Stand::of).ok_or_else(unpriced)
            } else {
                Err(unpriced())
            }
        };
        let name = about.name.clone();
        let mut question = self.question(about, &stand, [None, None], 0.0);
        // What a lot or the making did plays no part in the prices on file.
        question.not_computed.clear();
        Some(self.told(makings, question).unwrap_or_else(|why| refused("cost", &name, why)))
    }

    // ---- how each is told

    /// The pair of readings of both trials that mean something to `means`.
    fn read(&self, means: impl Fn(&Kept<Reading>) -> Option<(f64, ())>) -> [Option<Taken<'b, ()>>; 2] {
        let on = |at: usize| taken_on(self.desk.records, self.pair[at], &means);
        most_alike(&on(0), &on(1), |(), ()| 0.0)
    }

    fn question<'q>(
        &self,
        about: About,
        stand: &'q dyn Fn(&Making<'_>, bool) -> Result<Stand, String>,
        read: [Option<Taken<'_, ()>>; 2],
        weighing: f64,
    ) -> Question<'q> {
        let mut not_computed = not_computed(self.desk, self.pair, self.made, |_| false);
        let pair = [0, 1].map(|at: usize| read[at].as_ref().map(|one| one.reading));
        not_computed.extend(unlike_readings(pair, false));
        Question {
            about,
            stand,
            own: 0.0,
            read_otherwise: None,
            values: [0, 1].map(|at: usize| read[at].as_ref().map(|one| one.value)),
            readings: pair.map(|one| one.map(as_typed)),
            not_computed,
            weighing,
        }
    }

    /// What weighing both leaves open, standard deviation: every line of each may be off by a relative share of its own.
    fn weighing(
        &self,
        makings: &Makings<'_>,
        stand: &dyn Fn(&Making<'_>, bool) -> Result<Stand, String>,
        relative: f64,
    ) -> f64 {
        let of = |second: bool| -> f64 {
            let end = makings.between.get(&vec![second; self.patches.len()]);
            let Some(Ok(plain)) = end.map(|end| stand(end, second)) else { return 0.0 };
            let moved = makings.moved[usize::from(second)].iter().filter_map(|one| stand(one, second).ok());
            moved.map(|one| ((one.value - plain.value) / STEP * relative).powi(2)).sum()
        };
        (of(false) + of(true)).sqrt()
    }

    fn told(&self, makings: &Makings<'_>, question: Question<'_>) -> Result<AttributeEffects, String> {
        let Question { about, stand, own, read_otherwise, values, readings, not_computed, weighing } =
            question;
        let count = self.patches.len();
        let all = count + usize::from(read_otherwise.is_some());
        let of = |marks: &[bool]| {
            let second =
                if read_otherwise.is_some() { marks.get(count).copied().unwrap_or(false) } else { false };
            let making = makings.between.get(marks.get(..count).unwrap_or_default());
            making.map_or_else(
                || Err("a making between the two is missing".to_owned()),
                |making| stand(making, second),
            )
        };
        let stands = [of(&vec![false; all])?, of(&vec![true; all])?];
        let effects = shared_out(all, &of)?;
        let mut explained = Stand::default();
        effects.iter().for_each(|effect| explained.add(1.0, effect));
        let spread = explained.uncertainty().hypot(weighing).hypot(own);
        let [was, now] = values;
        let change = was.zip(now).map(|(was, now)| now - was);
        let noise = std::f64::consts::SQRT_2 * about.reading;
        let measured = was.zip(now).map(|(was, now)| about.read(was, now, noise));
        let rest = change.map(|change| change - explained.value);
        let unexplained = rest.map(|rest| {
            about
                .change(rest, spread.hypot(noise), "change read less change explained")
                .proved_by(about.proof)
        });
        let mut named: Vec<[String; 3]> = self
            .patches
            .iter()
            .map(|patch| [patch.what.clone(), patch.was.clone(), patch.now.clone()])
            .collect();
        named.extend(read_otherwise.map(|[was, now]| ["how it was read".to_owned(), was, now]));
        let suspects: Vec<(&str, &str)> = named
            .iter()
            .map(|[what, _, now]| (what.as_str(), now.as_str()))
            .chain(not_computed.iter().map(|other| (other.what.as_str(), other.now.as_str())))
            .collect();
        let numbers = self.pair.map(|trial| trial.number);
        let next = rest.map(|rest| about.advice(&suspects, &effects, rest, about.reading, numbers));
        let predicted: Vec<Outcome> =
            stands.iter().map(|stand| about.expected(stand, own, weighing)).collect();
        let shown: Vec<String> = stands.iter().map(|stand| about.shown(stand)).collect();
        let expected = [0, 1].map(|at: usize| shown.get(at).map_or("", String::as_str));
        let may_move = |effect: &Stand| effect.value.abs() + effect.uncertainty() > 1e-5;
        let moved = match (named.len(), effects.iter().any(may_move)) {
            (0, _) => Moved::NothingDiffers,
            (_, false) => Moved::Nothing,
            (_, true) => Moved::Something,
        };
        Ok(AttributeEffects {
            say: about.say(moved, &explained, spread, change.map(|change| (change, about.reading)), expected),
            key: about.key.clone(),
            name: about.name.clone(),
            conditions: about.conditions.clone(),
            scale: about.scale,
            predicted,
            readings,
            differences: named
                .into_iter()
                .zip(&effects)
                .map(|([what, was, now], effect)| Difference {
                    what,
                    was,
                    now,
                    effect: about.effect(effect, all),
                })
                .collect(),
            not_computed,
            explained: Some(
                about
                    .change(explained.value, spread, "sum of what the differences do")
                    .proved_by(about.proof)
                    .term("doubts the two do not share", explained.uncertainty(), "")
                    .term("weighing of both", weighing, ""),
            )
            .map(|outcome| {
                if own > 0.0 { outcome.term("what each making has of its own", own, "") } else { outcome }
            }),
            measured,
            unexplained,
            next: next.unwrap_or_default(),
            refused: None,
        })
    }
}

/// A reading nothing can be told of.
fn refused(key: &str, name: &str, why: String) -> AttributeEffects {
    AttributeEffects {
        key: key.to_owned(),
        name: name.to_owned(),
        conditions: String::new(),
        scale: Scale::Difference,
        predicted: Vec::new(),
        readings: [None, None],
        differences: Vec::new(),
        not_computed: Vec::new(),
        explained: None,
        measured: None,
        unexplained: None,
        say: String::new(),
        next: String::new(),
        refused: Some(why),
    }
}

fn flow_of(
    making: &Making<'_>,
    second: bool,
    shared: &Shared,
    asked: &[Asked<'_>; 2],
) -> Result<Stand, String> {
    let at = usize::from(second && asked[0] != asked[1]);
    let read = shared.read(&making.flowing[at], &asked[at].how);
    read.map(|read| read.ln_pa_s).ok_or_else(|| "the laws give no number for it".to_owned())
}
