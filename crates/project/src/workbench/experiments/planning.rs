//! A plan read from what was typed, what its runs would be, and changes of it.

use super::choosing::{nearest, planned, step_of, unchosen};
use super::typed::{TypedExperiment, TypedExperimentRead};
use super::{ExperimentRecords, gather_experiment};
use crate::formula_file;
use crate::proof_file::analyse::{JOINED, PROCESS};
use crate::proof_file::design::{GOALS, MODELS, USUAL_STARTS};
use crate::records::{
    Experiment, ExperimentCondition, ExperimentOf, ExperimentPart, ExperimentRead, ExperimentSetting,
    ExperimentWish, FromDevice, Id, Kept, MOST_RUNS, TypedNumber,
};
use crate::workbench::keeping::{FieldFault, Form, KeepError, keep_sent, short};
use crate::workbench::readings::reasoned;
use crate::workspace::{KeptOnce, Workspace};
use levigate_assess::blends::{Asked, BlendsReading, Plan, blends};
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::experiment::{Condition, Goal, Joined, Model, Process, Terms};
use levigate_measure::{Grade, Outcome};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive as _;
use serde::Serialize;

/// Most parts and settings that are chosen over.
const MOST_PARTS: usize = 8;

/// Something that is wrong with a plan while it is typed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LookFault {
    /// Field.
    pub field: String,
    /// What.
    pub what: String,
    /// What to do.
    pub what_now: String,
}

/// What a plan as typed would be.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct ExperimentLook {
    /// What is wrong with it, most telling first; empty where runs could be chosen.
    pub wrong: Vec<LookFault>,
    /// Terms of the model.
    pub terms: Option<Outcome>,
    /// Fewest runs that leave three to tell scatter by, the middles beside them.
    pub advised: Option<Outcome>,
    /// The runs.
    pub plan: Option<BlendsReading>,
}

/// Plans an experiment and chooses its runs, once, however often a device sends it.
///
/// # Errors
/// What was typed cannot be kept, no runs can be chosen, or the workspace refused.
pub async fn plan_experiment(
    workspace: &Workspace,
    who: &str,
    typed: &TypedExperiment,
) -> Result<KeptOnce<Experiment>, KeepError> {
    let mut form = Form::default();
    let (id, from) = form.sent(&typed.device, uuid::Uuid::nil(), typed, None);
    let sheet = sheet_of(workspace, &mut form, typed).await?;
    let (experiment, _) = settled(form, typed, sheet.as_ref())?;
    keep_sent(workspace, who, id, (Experiment { from, ..experiment }, None), |one| &one.from).await
}

/// What a plan as typed would be; writes nothing.
///
/// # Errors
/// The workspace cannot be read.
pub async fn look_at_experiment(
    workspace: &Workspace,
    typed: &TypedExperiment,
) -> Result<ExperimentLook, KeepError> {
    let mut form = Form::default();
    let sheet = sheet_of(workspace, &mut form, typed).await?;
    // A name and what is read come last; runs are shown before.
    let named = TypedExperiment {
        name: if typed.name.trim().is_empty() { "unnamed".to_owned() } else { typed.name.clone() },
        reads: vec![TypedExperimentRead {
            name: "reading".to_owned(),
            unit: "1".to_owned(),
            ..TypedExperimentRead::default()
        }],
        ..typed.clone()
    };
    let terms = terms_of(&named);
    let counted = |count: usize, what: &'static str| {
        Outcome::new(count.to_f64().unwrap_or(f64::NAN), "", Grade::Computed, what)
    };
    let middles = named.middles.trim().parse::<usize>().unwrap_or(0);
    let mut look = ExperimentLook {
        terms: terms.map(|terms| counted(terms, "terms of the model")),
        advised: terms.map(|terms| counted(terms + 3 + middles, "terms, three more, and the middles")),
        ..ExperimentLook::default()
    };
    match settled(form, &named, sheet.as_ref()) {
        Ok((_, plan)) => look.plan = Some(plan),
        Err(KeepError::Typed(faults)) => {
            look.wrong = faults
                .into_iter()
                .map(|FieldFault { field, what, what_now, .. }| LookFault { field, what, what_now })
                .collect();
        }
        Err(error) => return Err(error),
    }
    Ok(look)
}

/// How long a choice took, for those who wait for it.
#[must_use]
pub fn time_of_choice(seconds: f64) -> Outcome {
    Outcome::new(
        1000.0 * seconds,
        "ms",
        Grade::Measured,
        "from the question to the chosen runs, on this machine",
    )
}

/// Changes the plan; the one before stays, with the reason. Once something was made or read, the runs stay as they are: name, reason,
/// what is read and wished, and the model may change.
///
/// # Errors
/// See [`plan_experiment`]; also without a reason, or where what was made or read would lose its place.
pub async fn change_experiment(
    workspace: &Workspace,
    who: &str,
    id: Id<Experiment>,
    reason: &str,
    typed: &TypedExperiment,
) -> Result<Kept<Experiment>, KeepError> {
    let reason = reasoned(reason)?;
    let records = gather_experiment(workspace, id).await?;
    let before = records.plan();
    let mut form = Form::default();
    if before.withdrawn {
        form.fault("name", "the experiment was given up", "its plan is closed", "plan another one");
    }
    let sheet = sheet_of(workspace, &mut form, typed).await?;
    let (mut experiment, _) = settled(form, typed, sheet.as_ref())?;
    if !records.batches.is_empty() || records.counted().next().is_some() {
        still_there(&records, &experiment)?;
        experiment.runs.clone_from(&before.runs);
    }
    let newest = records.plans[records.plans.len() - 1].id;
    Ok(workspace.correct(who, newest, reason, experiment).await?)
}

/// Gives an experiment up; what was made and read stays.
///
/// # Errors
/// No such experiment, without a reason, or the workspace refused.
pub async fn give_up_experiment(
    workspace: &Workspace,
    who: &str,
    id: Id<Experiment>,
    reason: &str,
) -> Result<Kept<Experiment>, KeepError> {
    let reason = reasoned(reason)?;
    let records = gather_experiment(workspace, id).await?;
    let experiment = Experiment { withdrawn: true, from: FromDevice::default(), ..records.plan().clone() };
    let newest = records.plans[records.plans.len() - 1].id;
    Ok(workspace.correct(who, newest, reason, experiment).await?)
}

fn still_there(records: &ExperimentRecords, after: &Experiment) -> Result<(), KeepError> {
    let before = records.plan();
    let mut form = Form::default();
    let region = |of: &Experiment| {
        let numbers = |list: Vec<&TypedNumber>| list.into_iter().map(|one| one.value).collect::<Vec<_>>();
        let parts: Vec<(String, Vec<Option<Decimal>>)> =
            of.parts.iter().map(|part| (part.name.clone(), numbers(vec![&part.least, &part.most]))).collect();
        let settings: Vec<(String, Vec<Option<Decimal>>)> =
            of.settings.iter().map(|one| (one.name.clone(), numbers(vec![&one.low, &one.high]))).collect();
        let conditions: Vec<Vec<Option<Decimal>>> = of
            .conditions
            .iter()
            .map(|one| numbers(one.factors.iter().chain([&one.least_percent]).collect()))
            .collect();
        (
            of.of,
            parts,
            settings,
            conditions,
            of.total_percent.value,
            of.middles,
            of.repeats,
            of.blocks,
            of.seed,
        )
    };
    if region(before) != region(after) || before.goal != after.goal {
        form.fault(
            "parts",
            "runs were begun or read by this plan",
            "another region, other settings or another choice would be other runs",
            "leave parts, settings and choice as they are, or plan another experiment beside this one",
        );
    }
    for reading in records.counted() {
        let same = |list: &[ExperimentRead]| {
            list.iter().find(|one| one.name == reading.what.read).map(|one| one.unit.clone())
        };
        if same(&before.reads) != same(&after.reads) {
            let what = format!("{} was read already", reading.what.read);
            form.fault(
                "reads",
                &what,
                "a reading without its name and unit means nothing",
                "leave its name and unit as they are",
            );
            break;
        }
    }
    form.done(())
}

/// The sheet of the version an experiment begins from.
async fn sheet_of(
    workspace: &Workspace,
    form: &mut Form,
    typed: &TypedExperiment,
) -> Result<Option<(ExperimentOf, Sheet)>, KeepError> {
    if typed.formula.trim().is_empty() {
        return Ok(None);
    }
    let Ok(formula) = typed.formula.trim().parse() else {
        form.fault(
            "formula",
            "this is not a formula",
            "runs are made from a saved version",
            "choose it from the list",
        );
        return Ok(None);
    };
    let version = workspace.version(formula, typed.version).await?;
    match formula_file::read("formula", &version.what.text) {
        Ok(file) => Ok(Some((ExperimentOf { formula, version: typed.version }, file.sheet))),
        Err(_) => {
            form.fault(
                "formula",
                "this version cannot be read",
                "runs are made from its lines",
                "save it anew",
            );
            Ok(None)
        }
    }
}

fn word<T: Copy>(
    form: &mut Form,
    field: &str,
    typed: &str,
    known: &[(&str, T)],
    usual: usize,
) -> (String, T) {
    let typed = typed.trim();
    let at = if typed.is_empty() { Some(usual) } else { known.iter().position(|(word, _)| *word == typed) };
    let at = at.unwrap_or_else(|| {
        let words: Vec<&str> = known.iter().map(|(word, _)| *word).collect();
        let what = format!("\"{}\" is none of the known ones", short(typed));
        form.fault(field, &what, "it decides which terms there are", &format!("write {}", words.join(", ")));
        usual
    });
    (known[at].0.to_owned(), known[at].1)
}

fn count(form: &mut Form, field: &str, typed: &str, most: u32, usual: u32, least: u32) -> u32 {
    match typed.trim() {
        "" => usual,
        text => text.parse().ok().filter(|count| (least..=most).contains(count)).unwrap_or_else(|| {
            let what = format!("\"{}\" is not a number that fits here", short(text));
            form.fault(
                field,
                &what,
                "it counts runs",
                &format!("type a whole number from {least} to {most}"),
            );
            usual
        }),
    }
}

fn terms_of(typed: &TypedExperiment) -> Option<usize> {
    let parts = typed.parts.len();
    let settings = typed.settings.len();
    if parts < 2 || parts + settings > MOST_PARTS {
        return None;
    }
    let mut form = Form::default();
    let (_, blend) = word(&mut form, "model", &typed.model, &MODELS, 1);
    let (_, process) = word(&mut form, "process", &typed.process, &PROCESS, 0);
    let (_, joined) = word(&mut form, "joined", &typed.joined, &JOINED, 0);
    form.done(()).ok()?;
    Some(Terms { parts, settings, blend, process, joined }.count())
}

/// Reads a number that must stand there.
fn needed(form: &mut Form, field: &str, typed: &str, range: (Decimal, Decimal), why: &str) -> TypedNumber {
    if typed.trim().is_empty() {
        form.fault(field, "this is empty", why, "type a number, with a comma or a point before the decimals");
        return TypedNumber::read_either("0");
    }
    form.number(field, typed, range, why).unwrap_or_else(|| TypedNumber::read_either("0"))
}

const ANY: (Decimal, Decimal) =
    (Decimal::from_parts(0xFFFF_FFFF, 0, 0, true, 0), Decimal::from_parts(0xFFFF_FFFF, 0, 0, false, 0));

/// Reads a plan and chooses its runs.
fn settled(
    mut form: Form,
    typed: &TypedExperiment,
    base: Option<&(ExperimentOf, Sheet)>,
) -> Result<(Experiment, BlendsReading), KeepError> {
    let f = &mut form;
    let name = f.needed("name", &typed.name, "it is found by its name", "type what it is about");
    let percent = (Decimal::ZERO, Decimal::ONE_HUNDRED);
    let total_text = if typed.total_percent.trim().is_empty() { "100" } else { &typed.total_percent };
    let total_percent = needed(f, "total_percent", total_text, percent, "it is what the parts make together");
    let total = nearest(Some(&total_percent));
    if total <= 0.0 {
        f.fault(
            "total_percent",
            "the parts make nothing together",
            "a mixture makes something",
            "type a number above zero",
        );
    }
    let parts = read_parts(f, typed, base);
    let settings: Vec<ExperimentSetting> = typed
        .settings
        .iter()
        .enumerate()
        .map(|(at, one)| {
            let field = |what: &str| format!("settings.{at}.{what}");
            let name = f.needed(
                &field("name"),
                &one.name,
                "a run sheet names it",
                "type what is set: speed, temperature",
            );
            let low = needed(f, &field("low"), &one.low, ANY, "it is the lower level");
            let high = needed(f, &field("high"), &one.high, ANY, "it is the upper level");
            if low.value >= high.value {
                f.fault(
                    &field("high"),
                    "the upper level is not above the lower one",
                    "between them it is varied",
                    "exchange the two",
                );
            }
            ExperimentSetting { name, unit: one.unit.trim().to_owned(), low, high }
        })
        .collect();
    if parts.len() + settings.len() > MOST_PARTS {
        let what = format!("{} parts and settings", parts.len() + settings.len());
        f.fault(
            "parts",
            &what,
            "terms grow with the square of them, and runs with the terms",
            &format!("vary at most {MOST_PARTS}; hold the others"),
        );
    }
    let conditions = read_conditions(f, typed, parts.len());
    let (model, blend) = word(f, "model", &typed.model, &MODELS, 1);
    let (process, of_settings) = word(f, "process", &typed.process, &PROCESS, 0);
    let (joined, join) = word(f, "joined", &typed.joined, &JOINED, 0);
    let (goal, aim) = word(f, "goal", &typed.goal, &GOALS, 0);
    let most = u32::try_from(MOST_RUNS).unwrap_or(u32::MAX);
    let runs = Some(count(f, "runs", &typed.runs, most, 0, 2)).filter(|runs| *runs > 0);
    let middles = count(f, "middles", &typed.middles, 50, 0, 0);
    let repeats = count(f, "repeats", &typed.repeats, 100, 0, 0);
    let blocks_of = count(f, "blocks", &typed.blocks, 20, 1, 1);
    let seed = u64::from(count(f, "seed", &typed.seed, u32::MAX, 1, 0));
    let reads = read_reads(f, typed);
    let asked = Asked {
        title: name.clone(),
        parts: parts
            .iter()
            .map(|part| (part.name.clone(), [&part.least, &part.most].map(|it| nearest(Some(it)).min(total))))
            .collect(),
        total_percent: total,
        conditions: bound(&conditions, total),
        model: blend,
        settings: settings
            .iter()
            .map(|one| (one.name.clone(), [&one.low, &one.high].map(|it| nearest(Some(it)))))
            .collect(),
        process: of_settings,
        joined: join,
        plan: Plan::Chosen,
        goal: aim,
        // Those that are made a second time are counted among all.
        runs: runs.map(|runs| runs.saturating_sub(repeats) as usize),
        kept: Vec::new(),
        middles: middles as usize,
        repeats: repeats as usize,
        blocks: blocks_of as usize,
        step_percent: Some(step_of(&parts, total)),
        starts: USUAL_STARTS,
        seed,
    };
    form.done(())?;
    let plan = blends(&asked).map_err(|error| unchosen(&error, &parts))?;
    let sheet = plan.runs.iter().map(|run| planned(run, total_percent.value.unwrap_or_default())).collect();
    let experiment = Experiment {
        name,
        why: typed.why.trim().to_owned(),
        of: base.map(|(of, _)| *of),
        parts,
        total_percent,
        conditions,
        settings,
        model,
        process,
        joined,
        goal,
        middles,
        repeats,
        blocks: blocks_of,
        seed,
        reads,
        runs: sheet,
        note: typed.note.trim().to_owned(),
        from: FromDevice::default(),
        withdrawn: false,
    };
    Ok((experiment, plan))
}

/// Conditions over shares.
pub(super) fn bound(conditions: &[ExperimentCondition], total: f64) -> Vec<Condition> {
    conditions
        .iter()
        .map(|one| Condition {
            factors: one.factors.iter().map(|factor| nearest(Some(factor))).collect(),
            least: nearest(Some(&one.least_percent)) / total,
        })
        .collect()
}

/// Model, terms of settings, how they are joined, goal, of a kept plan.
pub(super) fn meant(of: &Experiment) -> (Model, Process, Joined, Goal) {
    fn known<T: Copy>(list: &[(&str, T)], word: &str, usual: usize) -> T {
        list.iter().find(|(one, _)| *one == word).map_or(list[usual].1, |(_, one)| *one)
    }
    (
        known(&MODELS, &of.model, 1),
        known(&PROCESS, &of.process, 0),
        known(&JOINED, &of.joined, 0),
        known(&GOALS, &of.goal, 0),
    )
}

fn read_parts(
    f: &mut Form,
    typed: &TypedExperiment,
    base: Option<&(ExperimentOf, Sheet)>,
) -> Vec<ExperimentPart> {
    let percent = (Decimal::ZERO, Decimal::ONE_HUNDRED);
    let mut parts: Vec<ExperimentPart> = Vec::new();
    for (at, one) in typed.parts.iter().enumerate() {
        let field = |what: &str| format!("parts.{at}.{what}");
        let mut name = one.name.trim().to_owned();
        if let Some((_, sheet)) = base {
            match one.line.and_then(|line| sheet.lines().nth(line)) {
                Some((_, line)) => {
                    // Two lines of one raw material are told apart by their place.
                    let twice =
                        sheet.lines().filter(|(_, other)| other.material == line.material).count() > 1;
                    name.clone_from(&line.material);
                    if twice {
                        name = format!("{name}, line {}", one.line.unwrap_or(0) + 1);
                    }
                    if !matches!(
                        line.amount,
                        Amount::Percent(_) | Amount::ActivePercent(_) | Amount::Remainder(_)
                    ) {
                        f.fault(
                            &field("least"),
                            &format!("the amount of {name} follows from the pH"),
                            "what follows cannot be varied by hand",
                            "take another line, or give this one in percent",
                        );
                    }
                }
                None => f.fault(
                    &field("name"),
                    "this part has no line in the version",
                    "a run changes lines of the formula",
                    "choose the line anew",
                ),
            }
        } else if name.is_empty() {
            f.fault(&field("name"), "this part has no name", "a run sheet names it", "type what is weighed");
        }
        if parts.iter().any(|other| other.name.eq_ignore_ascii_case(&name)) && !name.is_empty() {
            f.fault(
                &field("name"),
                &format!("{name} stands there twice"),
                "a part is varied once",
                "leave one out",
            );
        }
        let least = needed(f, &field("least"), &one.least, percent, "it is the least that may be");
        let most = needed(f, &field("most"), &one.most, percent, "it is the most that may be");
        if least.value > most.value {
            f.fault(
                &field("most"),
                "the most is below the least",
                "between them it is varied",
                "exchange the two",
            );
        }
        parts.push(ExperimentPart { name, line: one.line.filter(|_| base.is_some()), least, most });
    }
    if parts.len() < 2 {
        f.fault(
            "parts",
            "there are not two parts yet",
            "a mixture has two parts at least: what one gives up another takes",
            "choose two lines or more, with least and most",
        );
    }
    parts
}

fn read_conditions(f: &mut Form, typed: &TypedExperiment, parts: usize) -> Vec<ExperimentCondition> {
    let mut found = Vec::new();
    for (at, one) in typed.conditions.iter().enumerate() {
        if one.factors.iter().all(|factor| factor.trim().is_empty()) && one.least_percent.trim().is_empty() {
            continue;
        }
        let mut factors: Vec<TypedNumber> = one
            .factors
            .iter()
            .take(parts)
            .map(|factor| {
                let text = if factor.trim().is_empty() { "0" } else { factor };
                needed(f, &format!("conditions.{at}.factors"), text, ANY, "it is the factor of a part")
            })
            .collect();
        factors.resize(parts, TypedNumber::read_either("0"));
        let text = if one.least_percent.trim().is_empty() { "0" } else { &one.least_percent };
        let least_percent =
            needed(f, &format!("conditions.{at}.least_percent"), text, ANY, "it is the least of the sum");
        found.push(ExperimentCondition { factors, least_percent });
    }
    found
}

fn read_reads(f: &mut Form, typed: &TypedExperiment) -> Vec<ExperimentRead> {
    let mut reads: Vec<ExperimentRead> = Vec::new();
    for (at, one) in typed.reads.iter().enumerate().filter(|(_, one)| !one.name.trim().is_empty()) {
        let field = |what: &str| format!("reads.{at}.{what}");
        let name = one.name.trim().to_owned();
        if reads.iter().any(|other| other.name.eq_ignore_ascii_case(&name)) {
            f.fault(
                &field("name"),
                &format!("{name} stands there twice"),
                "a reading is told by its name",
                "leave one out",
            );
        }
        if one.unit.trim().is_empty() && levigate_formula::names::folded(&name) != "ph" {
            f.fault(
                &field("unit"),
                &format!("{name} has no unit"),
                "a number without its unit means nothing later; only a pH has none",
                "write its unit, such as mPa·s, or points of a scale",
            );
        }
        let mut number = |what: &str, text: &str| {
            f.number(&field(what), text, ANY, "it is where the wish begins, is met or ends")
        };
        let (low, target, high) =
            (number("low", &one.low), number("target", &one.target), number("high", &one.high));
        let wanted: &[&str] = match one.wish.trim() {
            "" => &[],
            "larger" => &["low", "target"],
            "smaller" => &["target", "high"],
            "target" => &["low", "target", "high"],
            other => {
                f.fault(
                    &field("wish"),
                    &format!("\"{}\" is no wish", short(other)),
                    "it decides which way is better",
                    "choose larger, smaller or target",
                );
                &[]
            }
        };
        let ends: Vec<(&str, Option<Decimal>)> = [("low", &low), ("target", &target), ("high", &high)]
            .into_iter()
            .filter(|(what, _)| wanted.contains(what))
            .map(|(what, number)| (what, number.as_ref().and_then(|it| it.value)))
            .collect();
        for (what, _) in ends.iter().filter(|(_, value)| value.is_none()) {
            f.fault(&field(what), "this is empty", "a wish has its ends: larger from low up to target, smaller from target down to high, target all three", "type a number");
        }
        if ends.windows(2).any(|pair| pair[0].1.zip(pair[1].1).is_some_and(|(one, next)| one >= next)) {
            f.fault(
                &field("target"),
                "the numbers of this wish do not rise",
                "they are least, target and most",
                "write them in this order",
            );
        }
        let wish = match (wanted.is_empty(), target) {
            (false, Some(target)) => Some(ExperimentWish {
                wish: one.wish.trim().to_owned(),
                low: low.filter(|_| wanted.contains(&"low")),
                target,
                high: high.filter(|_| wanted.contains(&"high")),
            }),
            _ => None,
        };
        reads.push(ExperimentRead { name, unit: one.unit.trim().to_owned(), wish });
    }
    if reads.is_empty() {
        f.fault(
            "reads",
            "nothing is read yet",
            "runs are made to be read",
            "name what is read of every run, with its unit",
        );
    }
    reads
}
