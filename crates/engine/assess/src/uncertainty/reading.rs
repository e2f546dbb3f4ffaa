//! What is said of a batch's uncertainty, as results that explain themselves.

use super::buoyancy::Buoyancy;
use super::draws::{Drawn, Followed, Manner, draw, follow};
use super::lines::Weighed;
use super::pot::{Output, Pot, comparable_limits};
use super::sources::Group;
use super::{Ask, BatchError};
use crate::assess::Assessed;
use levigate_measure::elementary::Elementary as _;
use levigate_measure::uncertainty::shares::Spread;
use levigate_measure::uncertainty::student::factor;
use levigate_measure::uncertainty::{Coverage, Validation};
use levigate_measure::weighing::{Balance, Dilution};
use levigate_measure::written::{Described, Description, result};
use levigate_measure::{Grade, Outcome};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

pub(super) const CASES: &str = "tests/cross/uncertainty_batch.toml";
const PROPAGATED: &str = "law of propagation, first order";
const DRAWN: &str = "Monte Carlo";
/// Sources named with every result.
const MOST_NAMED: usize = 6;
/// Sources below this share of the variance are not named, %.
const LEAST_NAMED: f64 = 0.5;

struct OfVariance;
impl Described for OfVariance {
    const OF: Description = Description::computed("%", "share of the variance, law of propagation")
        .by("(c u)^2 / sum of (c u)^2")
        .proved_by(CASES)
        .sources(&["jcgm-100"]);
}

struct Met;
impl Described for Met {
    const OF: Description = Description::computed("%", "share of the draws that meet the target")
        .proved_by(CASES)
        .sources(&["jcgm-101"]);
}

struct Wanted;
impl Described for Wanted {
    const OF: Description =
        Description::computed("", "end of the target, in the unit of what it is held against")
            .proved_by("exact arithmetic");
}

struct Grams;
impl Described for Grams {
    const OF: Description = Description::computed("g", "percent of the batch")
        .by("m = p * batch / 100")
        .proved_by("exact arithmetic");
}

struct Without;
impl Described for Without {
    const OF: Description = Description::computed(
        "%",
        "standard uncertainty that is left when this source is sure, of that with it",
    )
    .by("sqrt(1 - share)")
    .sources(&["jcgm-100"]);
}

struct Relative;
impl Described for Relative {
    const OF: Description =
        Description::computed("% of the line", "law of propagation on the share of the line, times k")
            .by("U = k sqrt((1 - w)^2 (u/m)^2 + sum over the other lines of (u_j/B)^2)")
            .proved_by("tests/published/weighing.toml")
            .sources(&["masscor", "jcgm-100"]);
}

/// How sure a batch is.
#[derive(Clone, Debug, Serialize)]
pub struct BatchUncertainty {
    /// Batch, g.
    pub batch_g: f64,
    /// Draws made with all doubt counted.
    pub draws: usize,
    /// Digits of every standard uncertainty that were to stand still; absent where a fixed number was drawn.
    pub steady_digits: Option<i32>,
    /// Names of results that did not stand still within the draws allowed.
    pub not_steady: Vec<String>,
    /// Seed.
    pub seed: u64,
    /// Coverage of every interval.
    pub coverage: f64,
    /// Lines with something in them, in the order of the sheet.
    pub lines: Vec<LineUncertainty>,
    /// Air buoyancy between the lines; nothing where no density is known.
    pub buoyancy: Option<Buoyancy>,
    /// pH, acids, viscosity, cost, limits.
    pub results: Vec<ResultUncertainty>,
    /// What would help, the worst line first.
    pub helps: Vec<Help>,
    /// What is counted.
    pub counted: Vec<String>,
    /// What is not.
    pub not_counted: Vec<String>,
}

/// One line of the batch.
#[derive(Clone, Debug, Serialize)]
pub struct LineUncertainty {
    /// Line, from 0.
    pub line: usize,
    /// Raw material.
    pub name: String,
    /// Target, g.
    #[serde(serialize_with = "result::<Grams, _, _>")]
    pub grams: f64,
    /// Balance: its name or its readability.
    pub balance: String,
    /// Portions it is weighed in.
    pub portions: usize,
    /// What the assay of a lot speaks of; nothing where the record names no active substance.
    pub assay_of: Option<String>,
    /// Share of the batch as drawn, % w/w.
    pub percent: Outcome,
    /// Expanded uncertainty by the law of propagation, percent of the line.
    #[serde(serialize_with = "result::<Relative, _, _>")]
    pub expanded_percent: f64,
    /// Tolerance, percent of the line.
    pub tolerance_percent: Option<f64>,
    /// Chance of keeping within it, %.
    #[serde(serialize_with = "result::<Met, _, _>")]
    pub within_tolerance: Option<f64>,
}

/// One result of the batch.
#[derive(Clone, Debug, Serialize)]
pub struct ResultUncertainty {
    /// `ph`, `ph-read`, `undissociated`, `viscosity`, `cost`, `limit`.
    pub key: &'static str,
    /// In words.
    pub name: String,
    /// By the law of propagation, all sources.
    pub propagated: Outcome,
    /// By Monte Carlo, all sources.
    pub drawn: Outcome,
    /// By Monte Carlo, only what differs from batch to batch.
    pub batch_to_batch: Outcome,
    /// Whether the intervals of both ways agree within half a unit of the first digit of the standard uncertainty.
    pub agree: bool,
    /// What contributes most to all of it.
    pub from: Vec<ShareOfVariance>,
    /// What contributes most to the difference from batch to batch.
    pub from_making: Vec<ShareOfVariance>,
    /// Chance of landing in the target, where the brief or a rule sets one.
    pub target: Option<TargetChance>,
}

/// A source and its share in the variance of a result.
#[derive(Clone, Debug, Serialize)]
pub struct ShareOfVariance {
    /// What.
    pub name: String,
    /// Kind.
    pub group: Group,
    /// Line it belongs to, from 0.
    pub line: Option<usize>,
    /// Share, %.
    #[serde(serialize_with = "result::<OfVariance, _, _>")]
    pub percent: f64,
    /// Standard uncertainty left without it, % of that with it.
    #[serde(serialize_with = "result::<Without, _, _>")]
    pub without: f64,
}

/// A target and the chance of landing in it.
#[derive(Clone, Debug, Serialize)]
pub struct TargetChance {
    /// In words.
    pub words: String,
    /// Its lower end, in the unit of the result; none where it has none.
    #[serde(serialize_with = "result::<Wanted, _, _>")]
    pub least: Option<f64>,
    /// Its upper end.
    #[serde(serialize_with = "result::<Wanted, _, _>")]
    pub most: Option<f64>,
    /// Whether the formula aims into it: its value as predicted lies within.
    pub aimed: bool,
    /// Chance with everything that is uncertain, %.
    #[serde(serialize_with = "result::<Met, _, _>")]
    pub as_predicted: f64,
    /// Chance if the prediction were right in the middle: only weighing and lots, %.
    #[serde(serialize_with = "result::<Met, _, _>")]
    pub batch_to_batch: f64,
    /// The ends as the draws are held against them.
    #[serde(skip)]
    pub(super) ends: [f64; 2],
    /// The line that does most to it and what would help; nothing where the target is met as good as always, or is not aimed into.
    pub help: Option<TargetHelp>,
}

/// The line that does most to a target from batch to batch.
#[derive(Clone, Debug, Serialize)]
pub struct TargetHelp {
    /// Line, from 0.
    pub line: usize,
    /// Raw material.
    pub name: String,
    /// Whether it is its weighing or its lots.
    pub group: Group,
    /// Its share of the variance from batch to batch, %.
    #[serde(serialize_with = "result::<OfVariance, _, _>")]
    pub percent: f64,
    /// Ways, each drawn anew.
    pub remedies: Vec<TargetRemedy>,
}

/// One way to meet a target more often.
#[derive(Clone, Debug, Serialize)]
pub struct TargetRemedy {
    /// `finer-balance`, `stock-solution`, `larger-batch`, `certificate`.
    pub key: &'static str,
    /// What to do.
    pub words: String,
    /// Chance of the target from batch to batch with it, %.
    #[serde(serialize_with = "result::<Met, _, _>")]
    pub batch_to_batch: f64,
}

/// What would help a line.
#[derive(Clone, Debug, Serialize)]
pub struct Help {
    /// Line, from 0.
    pub line: usize,
    /// Raw material.
    pub name: String,
    /// Why it needs help.
    pub why: String,
    /// Ways, each computed anew.
    pub remedies: Vec<Remedy>,
}

/// One way to help.
#[derive(Clone, Debug, Serialize)]
pub struct Remedy {
    /// `finer-balance`, `stock-solution`, `larger-batch`.
    pub key: &'static str,
    /// What to do.
    pub words: String,
    /// Expanded uncertainty with it, percent of the line.
    #[serde(serialize_with = "result::<Relative, _, _>")]
    pub expanded_percent: f64,
    /// Chance of keeping within the tolerance with it, %.
    #[serde(serialize_with = "result::<Met, _, _>")]
    pub within_tolerance: Option<f64>,
    /// The stock solution.
    pub stock: Option<Dilution>,
}

impl LineUncertainty {
    pub(super) fn of(
        ask: &Ask<'_>,
        one: &Weighed,
        (name, grams): (String, f64),
        (balance, portions): (&Balance, usize),
        relative: f64,
        spread: &Spread,
        tolerance: Option<f64>,
    ) -> Self {
        let grade =
            if balance.record().repeatability_g.is_some() { Grade::Computed } else { Grade::RuleOfThumb };
        let percent = Outcome::new(100.0 * spread.mean, "% w/w", grade, DRAWN)
            .within(100.0 * spread.interval.low, 100.0 * spread.interval.high, Some(ask.coverage))
            .by("w = m / sum of m")
            .valid_for("each line weighed on its own; no spillage, residue or evaporation")
            .proved_by("tests/cross/uncertainty.toml")
            .source("jcgm-101")
            .source("masscor")
            .input("target", grams, "g", None)
            .input("readability d", balance.readability_g(), "g", None)
            .input("repeatability s", balance.repeatability_g(), "g", None)
            .term("standard deviation", 100.0 * spread.standard_deviation, "% w/w");
        Self {
            line: one.line,
            name,
            grams,
            balance: called(balance),
            portions,
            assay_of: None,
            percent,
            expanded_percent: 100.0 * factor(ask.coverage, f64::INFINITY) * relative,
            tolerance_percent: tolerance.map(|tolerance| 100.0 * tolerance),
            within_tolerance: spread.met.map(|met| 100.0 * met),
        }
    }
}

/// A balance by its name, else by its readability.
pub(super) fn called(balance: &Balance) -> String {
    let record = balance.record();
    record.name.clone().unwrap_or_else(|| format!("{} g balance", record.readability_g.normalize()))
}

/// The same within a sentence.
pub(super) fn spoken_of(balance: &Balance) -> String {
    match &balance.record().name {
        Some(name) => format!("the balance called {name}"),
        None => format!("the {}", called(balance)),
    }
}

/// How an output is spoken of.
struct Spoken {
    key: &'static str,
    name: String,
    unit: String,
    /// Whether the output is the logarithm of what is shown.
    logarithm: bool,
    grade: Grade,
    target: Option<(String, f64, f64)>,
}

/// Every output followed and drawn.
/// Results with how they were drawn.
pub(super) struct Results {
    pub(super) results: Vec<ResultUncertainty>,
    made: usize,
    not_steady: Vec<String>,
}

pub(super) fn results(ask: &Ask<'_>, assessed: &Assessed<'_>, pot: &Pot<'_>) -> Result<Results, BatchError> {
    let followed = follow(pot)?;
    let scatters = |counts: fn(Group) -> bool| -> Vec<_> {
        pot.sources.iter().map(|one| counts(one.group).then_some(one.scatter)).collect()
    };
    let Ask { draws, steady_digits, coverage, seed, .. } = *ask;
    let manner = Manner { draws, steady_digits, coverage, seed };
    let all = draw(pot, manner, &scatters(|_| true))?;
    let making = draw(pot, manner, &scatters(Group::of_making))?;
    let spoken = spoken(ask, assessed, pot);
    let outputs = spoken.iter().zip(&followed).zip(all.iter().zip(&making));
    let mut results: Vec<ResultUncertainty> = outputs
        .map(|((spoken, followed), (all, making))| one(ask, pot, spoken, followed, all, making))
        .collect();
    let moving = results
        .iter()
        .zip(all.iter().zip(&making))
        .filter(|(_, (all, making))| !(all.steady && making.steady));
    let not_steady =
        steady_digits.map(|_| moving.map(|(result, _)| result.name.clone()).collect()).unwrap_or_default();
    if let Some(meter) = ask.meter_ph.filter(|meter| *meter > 0.0) {
        let read = read_at_the_bench(ask, &results[0], meter);
        results.insert(1, read);
    }
    Ok(Results { results, made: all.first().map_or(0, Drawn::made), not_steady })
}

fn spoken(ask: &Ask<'_>, assessed: &Assessed<'_>, pot: &Pot<'_>) -> Vec<Spoken> {
    let target = &ask.inquiry.sheet.target;
    let mut limits = comparable_limits(assessed);
    let mut spoken = Vec::new();
    for output in &pot.outputs {
        spoken.push(match output {
            Output::Ph => {
                let ph = &assessed.assessment.ph;
                let read = ph.target_read.as_ref().map_or_else(String::new, |how| format!(" read {how}"));
                let words = |[low, high]: [f64; 2]| format!("pH {low} to {high}{read}");
                let window = ph.target.zip(ph.target_neat);
                Spoken {
                    key: "ph",
                    name: "pH of the batch as weighed".to_owned(),
                    unit: String::new(),
                    logarithm: false,
                    grade: Grade::Computed,
                    target: window.map(|(typed, [low, high])| (words(typed), low, high)),
                }
            }
            Output::Undissociated { species, .. } => Spoken {
                key: "undissociated",
                name: format!("undissociated share of {}", acid_name(assessed, pot, *species)),
                unit: "%".to_owned(),
                logarithm: false,
                grade: Grade::Computed,
                target: None,
            },
            Output::Cost { .. } => {
                let currency = assessed.assessment.rules.cost.currency.clone().unwrap_or_default();
                let most =
                    target.cost_per_kg.as_ref().filter(|most| most.currency.eq_ignore_ascii_case(&currency));
                let most = most.and_then(|most| most.amount.to_f64());
                Spoken {
                    key: "cost",
                    name: "cost of the bulk".to_owned(),
                    target: most
                        .map(|most| (format!("at most {most} {currency}/kg"), f64::NEG_INFINITY, most)),
                    unit: format!("{currency}/kg"),
                    logarithm: false,
                    grade: Grade::Computed,
                }
            }
            Output::Limited { .. } => {
                let limit = limits.next();
                let most = limit.and_then(|limit| limit.maximum_percent).unwrap_or(f64::INFINITY);
                let name = limit.map_or_else(String::new, |limit| limit.name.clone());
                Spoken {
                    key: "limit",
                    name: format!("amount of {name}"),
                    unit: "% w/w".to_owned(),
                    logarithm: false,
                    grade: Grade::Computed,
                    target: Some((format!("at most {most} %"), f64::NEG_INFINITY, most)),
                }
            }
            Output::LnViscosity => {
                let window = target.viscosity.as_ref().and_then(|viscosity| {
                    let [low, high] = viscosity.mpa_s;
                    Some((low.to_f64()?, high.to_f64()?))
                });
                Spoken {
                    key: "viscosity",
                    name: assessed.assessment.flow.condition.clone(),
                    unit: "mPa s".to_owned(),
                    logarithm: true,
                    grade: assessed.assessment.flow.at_brief.grade,
                    target: window.map(|(low, high)| (format!("{low} to {high} mPa s"), low, high)),
                }
            }
        });
    }
    spoken
}

/// Name of the acid of a neutral species.
fn acid_name(assessed: &Assessed<'_>, pot: &Pot<'_>, species: usize) -> String {
    let fact = &pot.system.species()[species];
    let component = fact.components.keys().find(|name| *name != "H+");
    let acid = assessed.assessment.acids.iter().find(|acid| Some(&acid.component) == component);
    acid.map_or_else(|| fact.name.clone(), |acid| acid.name.clone())
}

fn one(
    ask: &Ask<'_>,
    pot: &Pot<'_>,
    spoken: &Spoken,
    followed: &Followed,
    all: &Drawn,
    making: &Drawn,
) -> ResultUncertainty {
    let shown = |value: f64| if spoken.logarithm { value.exp_e() } else { value };
    let half = factor(ask.coverage, f64::INFINITY) * followed.standard(|_| true);
    let propagated = Coverage { low: followed.value - half, high: followed.value + half };
    let say = |value: f64, interval: Coverage, method: &'static str, source: &'static str| {
        Outcome::new(shown(value), spoken.unit.clone(), spoken.grade, method)
            .within(shown(interval.low), shown(interval.high), Some(ask.coverage))
            .valid_for("what is counted and what is not stands with the answer")
            .proved_by(CASES)
            .source(source)
    };
    let deviation = |outcome: Outcome, standard: f64| {
        if spoken.logarithm {
            outcome.term("standard deviation of the logarithm", standard, "")
        } else {
            outcome.term("standard uncertainty", standard, spoken.unit.clone())
        }
    };
    // The middle of a logarithm is a median, as the prediction of flow states it.
    let drawn = say(all.mean, all.interval, DRAWN, "jcgm-101");
    let between = say(making.mean, making.interval, DRAWN, "jcgm-101");
    let limit = |value: f64| if spoken.logarithm { value.log_e() } else { value };
    // What is typed as the limit itself lies on it to the last bit.
    let upper = |high: f64| limit(high) * if spoken.key == "limit" { 1.0 + 1e-12 } else { 1.0 };
    let target = spoken.target.as_ref().map(|(words, low, high)| TargetChance {
        words: words.clone(),
        least: Some(*low).filter(|low| low.is_finite()),
        most: Some(*high).filter(|high| high.is_finite()),
        aimed: (limit(*low)..=upper(*high)).contains(&followed.value),
        as_predicted: 100.0 * all.within(limit(*low), upper(*high)),
        batch_to_batch: 100.0 * making.within(limit(*low), upper(*high)),
        ends: [limit(*low), upper(*high)],
        help: None,
    });
    ResultUncertainty {
        key: spoken.key,
        name: spoken.name.clone(),
        propagated: deviation(
            say(followed.value, propagated, PROPAGATED, "jcgm-100"),
            followed.standard(|_| true),
        ),
        drawn: deviation(drawn, all.standard),
        batch_to_batch: deviation(between, making.standard),
        agree: Validation::of(propagated, all.interval, all.standard, 1).confirmed() || all.standard == 0.0,
        from: named(pot, followed, |_| true),
        from_making: named(pot, followed, Group::of_making),
        target,
    }
}

/// The sources that count, by their share.
fn named(pot: &Pot<'_>, followed: &Followed, counts: impl Fn(Group) -> bool) -> Vec<ShareOfVariance> {
    let all = followed.standard(|place| counts(pot.sources[place].group));
    if all <= 0.0 {
        return Vec::new();
    }
    let sources = pot.sources.iter().zip(&followed.contributions).filter(|(source, _)| counts(source.group));
    let mut named: Vec<ShareOfVariance> = sources
        .map(|(source, part)| {
            let share = (part / all) * (part / all);
            ShareOfVariance {
                name: source.words.clone(),
                group: source.group,
                line: source.line,
                percent: 100.0 * share,
                without: 100.0 * (1.0 - share).max(0.0).sqrt(),
            }
        })
        .filter(|one| one.percent >= LEAST_NAMED)
        .collect();
    named.sort_by(|a, b| b.percent.total_cmp(&a.percent).then_with(|| a.name.cmp(&b.name)));
    named.truncate(MOST_NAMED);
    named
}

/// The pH as a meter shows it: its uncertainty joins what makes the pH uncertain.
fn read_at_the_bench(ask: &Ask<'_>, ph: &ResultUncertainty, meter: f64) -> ResultUncertainty {
    let k = factor(ask.coverage, f64::INFINITY);
    let with_meter = |outcome: &Outcome| {
        let (Some(value), Some(low), Some(high)) = (outcome.value, outcome.low, outcome.high) else {
            return outcome.clone();
        };
        let half = |side: f64| side.abs().root_sum_square(k * meter);
        let mut read =
            outcome.clone().within(value - half(value - low), value + half(high - value), Some(ask.coverage));
        read.terms.clear();
        read.input("standard uncertainty of the meter", meter, "", None)
            .note("joined", "half-widths joined as the root of the sum of their squares")
    };
    ResultUncertainty {
        key: "ph-read",
        name: "pH as the meter will show it".to_owned(),
        propagated: with_meter(&ph.propagated),
        drawn: with_meter(&ph.drawn),
        batch_to_batch: with_meter(&ph.batch_to_batch),
        target: None,
        from: Vec::new(),
        from_making: Vec::new(),
        agree: ph.agree,
    }
}

/// Joins everything and says what is in it.
pub(super) fn together(
    ask: &Ask<'_>,
    pot: &Pot<'_>,
    (lines, buoyancy): (Vec<LineUncertainty>, Option<Buoyancy>),
    Results { results, made, not_steady }: Results,
    helps: Vec<Help>,
) -> BatchUncertainty {
    let count = |group: Group| pot.sources.iter().filter(|source| source.group == group).count();
    let mut counted = vec![
        format!(
            "weighing of {} lines: repeatability and the rounding of two readings of each",
            count(Group::Weighing)
        ),
        format!(
            "{} contents of raw materials: the range of the grade as an even spread about its typical value, or the certificate of the lot",
            count(Group::Lots)
        ),
        format!(
            "{} constants and coefficients of the equilibrium, as its interval counts them",
            count(Group::Prediction)
        ),
    ];
    if count(Group::Flow) > 0 {
        counted.push(format!(
            "{} parts of what is open about the flow (grade and parameters of the thickeners, their laws, the solvent), the viscosity worked out anew in every draw",
            count(Group::Flow)
        ));
    }
    let mut not_counted =
        vec!["spillage, residues in boats and beakers, evaporation, slips and mistakes".to_owned()];
    match &buoyancy {
        Some(found) if found.applied => counted.push(found.words.clone()),
        Some(found) => not_counted.push(found.words.clone()),
        None => not_counted.push("air buoyancy: no density is on file to compute it with".to_owned()),
    }
    let balances = || std::iter::once(&ask.balance).chain(ask.others.iter().map(|other| &other.balance));
    for class in balances().filter_map(Balance::class) {
        counted.push(format!(
            "a balance of class {} with a verification interval of {} g: an even spread within the errors permitted in service",
            class.steps.class, class.interval_g
        ));
    }
    if balances().any(|balance| balance.record().certificate.is_none() && balance.class().is_none()) {
        not_counted.push("the error of a balance for which no calibration certificate is given".to_owned());
    }
    match ask.price_half_width_percent {
        Some(percent) => counted.push(format!("prices: an even spread of {percent} % to either side")),
        None => not_counted.push("the spread of prices: none was given".to_owned()),
    }
    match ask.meter_ph {
        Some(meter) => {
            counted.push(format!("a pH meter with a standard uncertainty of {meter}, in what it shows"))
        }
        None => not_counted.push("the pH meter: no uncertainty was given".to_owned()),
    }
    if ask.inquiry.sheet.lines().any(|(_, line)| line.assay_percent.is_some()) {
        let covered = |index: usize| ask.lots.iter().any(|lot| lot.line == index);
        let bare = ask
            .inquiry
            .sheet
            .lines()
            .enumerate()
            .filter(|(index, (_, line))| line.assay_percent.is_some() && !covered(*index));
        if bare.count() > 0 {
            not_counted.push("the uncertainty of an assay that is typed without a spread".to_owned());
        }
    }
    not_counted.push("adjusting the pH at the bench: the adjuster is weighed as the sheet says".to_owned());
    BatchUncertainty {
        batch_g: ask.batch_g,
        draws: made,
        steady_digits: ask.steady_digits,
        not_steady,
        seed: ask.seed,
        coverage: ask.coverage,
        lines,
        buoyancy,
        results,
        helps,
        counted,
        not_counted,
    }
}
