//! From the steps of a procedure to instructions for the bench: one line or portion to weigh at a time, then what is done with it.

use crate::batch_sheet::{
    BatchLine, BatchSheet, MakingLine, MakingStep, Part, Practice, caution, how_in_words,
};
use crate::records::{PlanCaution, PlanLine, PlanPortion, PlanProcedure, PlanReason, PlanStep, StepKind};
use levigate_assess::adjusting::Method;
use levigate_assess::procedure::{Because, Caution, Procedure, Step, StepKind as Does};
use levigate_formula::library::Library;
use levigate_formula::sheet::Target;
use levigate_measure::rounding;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// Names beyond this many are counted in a title, not listed.
const NAMED: usize = 3;

/// What the steps are made from.
pub(super) struct Making<'a> {
    pub(super) procedure: &'a Procedure,
    pub(super) made: &'a BatchSheet,
    pub(super) target: &'a Target,
    pub(super) library: &'a Library,
    pub(super) practice: &'a Practice,
    /// Warmest room, C.
    pub(super) room_c: f64,
}

/// Portions of the lines: how many there are, and how many are in the steps so far.
type Portions = BTreeMap<usize, (usize, usize)>;

/// The steps, in the order and with the numbers of the printed sheet; at the end the checks of the brief.
pub(super) fn steps(making: &Making<'_>) -> Vec<PlanStep> {
    let lines: BTreeMap<usize, &BatchLine> = making.made.lines().map(|line| (line.number, line)).collect();
    let mut portions = Portions::new();
    for line in making.made.making.iter().flat_map(|step| &step.lines) {
        portions.entry(line.number).or_default().0 += 1;
    }
    let mut steps: Vec<PlanStep> = Vec::new();
    for step in &making.made.making {
        let own = of_step(making, step, &lines, &mut portions);
        let of = own.len();
        for (at, mut one) in own.into_iter().enumerate() {
            if let Some(procedure) = &mut one.procedure {
                (procedure.place, procedure.of) = (at + 1, of);
            }
            steps.push(one);
        }
    }
    let brief = checks(making.target);
    match steps.last_mut().filter(|last| last.kind == StepKind::Check) {
        Some(last) => last.checks.splice(0..0, brief).for_each(drop),
        None if brief.is_empty() => {}
        None => steps
            .push(PlanStep { checks: brief, ..bare(StepKind::Check, "Check the batch against the brief") }),
    }
    for (at, step) in steps.iter_mut().enumerate() {
        step.number = at + 1;
    }
    steps
}

fn bare(kind: StepKind, text: &str) -> PlanStep {
    PlanStep {
        number: 0,
        kind,
        phase: String::new(),
        text: text.to_owned(),
        why: String::new(),
        line: None,
        temperature_c: None,
        speed_rpm: None,
        hold_min: None,
        checks: Vec::new(),
        cautions: Vec::new(),
        procedure: None,
    }
}

/// The instructions of one step of the procedure.
fn of_step(
    making: &Making<'_>,
    step: &MakingStep,
    lines: &BTreeMap<usize, &BatchLine>,
    portions: &mut Portions,
) -> Vec<PlanStep> {
    let source = step.of.and_then(|at| making.procedure.steps.get(at));
    let mut open: Vec<Caution> = source.map(|source| source.cautions.clone()).unwrap_or_default();
    let mut own = Vec::new();
    for part in &step.lines {
        let Some(line) = lines.get(&part.number) else { continue };
        let (of, before) = portions.entry(part.number).or_default();
        *before += 1;
        // Where all of a line went in before the pH is set, it was weighed; the meter only looks.
        let set_later = step.does != Does::AdjustPh
            && making.made.making.iter().any(|one| one.does == Does::AdjustPh && one.number > step.number);
        let mut weighed = weighing(making, line, part, (*before, *of), *before == *of && !set_later);
        if *before == 1 {
            let material = making.library.materials.get(&line.material);
            let worked_c = source.and_then(|source| worked_c(source, making.room_c));
            let own = material
                .map(|material| caution::of_line(material, worked_c, making.library, making.practice))
                .unwrap_or_default();
            weighed.cautions = cautions(own.iter().filter(|one| one.hazard != "heat"));
        }
        // Of a portion the line was cautioned of when its first one was weighed.
        let said = making.library.materials.get(&line.material).map(|one| one.cautions.as_slice());
        let texts: Vec<&str> = said.unwrap_or_default().iter().map(|one| one.text.as_str()).collect();
        open.retain(|one| {
            !weighed.cautions.iter().any(|told| told.text == one.text)
                && (*before == 1 || !texts.contains(&one.text.as_str()))
        });
        own.push(weighed);
    }
    let alone = own.len() == 1 && source.is_none_or(|source| source.premixes.is_empty());
    let by_the_meter = own.iter().any(|one| one.kind == StepKind::Adjust);
    // What is weighed straight into the batch needs no second screen; nor does what is added by the meter.
    let folded =
        step.does == Does::Add && alone && step.checks.is_empty() || by_the_meter || source.is_none();
    if !folded || own.is_empty() {
        own.push(work(step, source));
    }
    let procedure = told(step, source);
    let last = own.len() - 1;
    for (at, one) in own.iter_mut().enumerate() {
        if at == last {
            one.checks.clone_from(&step.checks);
            one.cautions.extend(cautions(open.iter()));
        }
        one.procedure = Some(PlanProcedure {
            // Said with the work itself; what is weighed for it needs no reason.
            because: if at == last { procedure.because.clone() } else { Vec::new() },
            sources: if at == last { procedure.sources.clone() } else { Vec::new() },
            instruction: if at == last || one.kind != StepKind::Weigh {
                procedure.instruction.clone()
            } else {
                String::new()
            },
            how: if at == last { procedure.how.clone() } else { String::new() },
            minutes: procedure.minutes.filter(|_| at == last),
            ..procedure.clone()
        });
    }
    own
}

/// Where a step is worked warmer than a room, C.
fn worked_c(step: &Step, room_c: f64) -> Option<f64> {
    step.temperature.map(|at| at.celsius[1]).filter(|celsius| *celsius > room_c)
}

fn cautions<'c>(list: impl Iterator<Item = &'c Caution>) -> Vec<PlanCaution> {
    list.map(|one| PlanCaution {
        hazard: one.hazard.clone(),
        text: one.text.clone(),
        source: one.source.clone(),
    })
    .collect()
}

fn weighing(
    making: &Making<'_>,
    line: &BatchLine,
    part: &MakingLine,
    (nth, of): (usize, usize),
    by_the_meter: bool,
) -> PlanStep {
    let (kind, text, to_ph, first_g) = match &line.part {
        // The meter has the last word on the last portion; what goes in before it is weighed.
        Part::ToPh { ph, first_g, .. } if by_the_meter => {
            let what = if of > 1 { format!("the rest of {}", line.name) } else { line.name.clone() };
            let text = format!("Add {what} in portions until the pH is {ph}");
            (StepKind::Adjust, text, Some(*ph), (of == 1).then_some(*first_g))
        }
        _ => (StepKind::Weigh, format!("Weigh {}", line.name), None, None),
    };
    let text = match &line.note {
        Some(note) => format!("{text} ({note})"),
        None => text,
    };
    let division = making.made.balance.readability_g;
    let tolerance_g = if of == 1 {
        line.tolerance_g
    } else {
        let exact = part.grams * line.tolerance_percent / Decimal::ONE_HUNDRED;
        rounding::down_to_division(exact, division).unwrap_or_default()
    };
    let planned = PlanLine {
        number: line.number,
        material: line.material.clone(),
        name: line.name.clone(),
        percent: part.percent,
        grams: part.grams,
        tolerance_percent: line.tolerance_percent,
        tolerance_g,
        remainder: line.part == Part::Remainder,
        to_ph,
        first_g,
        lot: line.lot.clone().unwrap_or_default(),
        portion: (of > 1).then_some(PlanPortion {
            number: nth,
            of,
            percent: line.percent,
            grams: line.grams,
            tolerance_g: line.tolerance_g,
        }),
    };
    PlanStep { line: Some(planned), ..bare(kind, &text) }
}

/// What is done once everything for it is weighed.
fn work(step: &MakingStep, source: Option<&Step>) -> PlanStep {
    let kind = match step.does {
        Does::MakeUp => StepKind::MakeUp,
        Does::Check => StepKind::Check,
        _ => StepKind::Work,
    };
    // A goal for the thermometer: to be reached from below, or from above where it cools.
    let celsius = source.and_then(temperature);
    let temperature_c = match step.does {
        Does::Heat | Does::Hold => celsius.map(|[low, _]| low),
        Does::Cool => celsius.map(|[_, high]| high),
        _ => None,
    };
    let hold_min = source.and_then(minutes).map(|[least, _]| least).filter(|least| *least > Decimal::ZERO);
    PlanStep { temperature_c, hold_min, ..bare(kind, &title(step, source, celsius)) }
}

/// A short name for the step; the sentences stand beside it.
fn title(step: &MakingStep, source: Option<&Step>, celsius: Option<[Decimal; 2]>) -> String {
    let at = |word: &str| match celsius {
        Some([low, high]) if low != high => format!("{word} {low} to {high} \u{00B0}C"),
        Some([low, _]) => format!("{word} {low} \u{00B0}C"),
        None => word.split_whitespace().next().unwrap_or_default().to_owned(),
    };
    let premixes = source.map(|source| source.premixes.as_slice()).unwrap_or_default();
    let lines = step.lines.iter().map(|line| line.name.as_str());
    let names: Vec<&str> = lines.chain(premixes.iter().map(String::as_str)).collect();
    let named = |verb: &str| match names.as_slice() {
        [] => verb.to_owned(),
        [one] => format!("{verb} {one}"),
        many if many.len() > NAMED => format!("{verb} {} and {} others", many[0], many.len() - 1),
        [first @ .., last] => format!("{verb} {} and {last}", first.join(", ")),
    };
    match step.does {
        Does::Premix => step.name.clone().unwrap_or_else(|| "Premix".to_owned()),
        Does::Add => named("Add:"),
        Does::Disperse => named("Disperse:"),
        Does::Hydrate => "Let it swell".to_owned(),
        Does::Heat => at("Warm to"),
        Does::Hold => at("Hold at"),
        Does::Cool => at("Cool to"),
        Does::MakeUp => "Give back the water that went off".to_owned(),
        Does::DeAir => "Let the air out".to_owned(),
        Does::AdjustPh => "Read the pH".to_owned(),
        Does::Check => "Check the batch".to_owned(),
    }
}

fn decimals(pair: [f64; 2]) -> Option<[Decimal; 2]> {
    let one = |value: f64| Decimal::try_from(value).ok().map(|value| value.round_dp(1).normalize());
    Some([one(pair[0])?, one(pair[1])?])
}

fn temperature(step: &Step) -> Option<[Decimal; 2]> {
    decimals(step.temperature?.celsius)
}

fn minutes(step: &Step) -> Option<[Decimal; 2]> {
    decimals(step.minutes?)
}

/// What the procedure says of a step.
fn told(step: &MakingStep, source: Option<&Step>) -> PlanProcedure {
    let reason = |one: &Because| PlanReason {
        stands: one.stands.clone(),
        why: one.why.clone(),
        sources: one.sources.clone(),
    };
    PlanProcedure {
        number: step.number,
        place: 1,
        of: 1,
        does: step.does,
        premix: step.name.clone().filter(|_| step.does == Does::Premix).unwrap_or_default(),
        instruction: step.instruction.clone(),
        how: source.map(how_in_words).unwrap_or_default(),
        temperature_c: source.and_then(temperature),
        minutes: source.and_then(minutes),
        because: source.map(|source| source.because.iter().map(reason).collect()).unwrap_or_default(),
        sources: source.map(|source| source.sources.clone()).unwrap_or_default(),
    }
}

/// The points of the brief that are looked at.
pub(in crate::workbench::batch) fn checks(target: &Target) -> Vec<String> {
    let mut checks = Vec::new();
    if let Some([low, high]) = target.ph {
        let read = Method::of(&target.ph_read);
        let how = if read.is_usual() && read.age_h.is_none() {
            String::new()
        } else {
            format!(", {}", read.words())
        };
        checks.push(format!("pH {low} to {high}{how}"));
    }
    if let Some(viscosity) = &target.viscosity {
        let [low, high] = viscosity.mpa_s;
        let mut words = format!("viscosity {low} to {high} mPa\u{00B7}s");
        let spindle = viscosity.spindle.as_ref().map(|spindle| format!("spindle {spindle}"));
        let speed = viscosity.speed_rpm.map(|speed| format!("{speed} rpm"));
        let warm = viscosity.temperature_c.map(|celsius| format!("{celsius} \u{00B0}C"));
        let age = viscosity.age_h.map(|age| format!("after {age} h"));
        for condition in [spindle, speed, warm, age].into_iter().flatten() {
            words.push_str(", ");
            words.push_str(&condition);
        }
        checks.push(words);
    }
    if let Some(clarity) = &target.clarity {
        checks.push(format!("clarity: {clarity}"));
    }
    checks
}
