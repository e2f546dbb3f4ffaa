//! The plan of a batch, frozen from the procedure of its formula: the same order and numbers as the printed sheet, portions that add up
//! to their lines, and plans frozen before there were any.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

mod bench;

use bench::{kept, records};
use jiff::Timestamp;
use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_formula::sheet::StepKind as Does;
use levigate_project::audit::content_hash;
use levigate_project::records::{
    BatchEntry, Did, FormulaVersion, Id, Kept, Plan, PlanStep, StepKind, TypedMass, TypedNumber,
};
use levigate_project::workbench::batch::{
    PlanOrder, Progress, Stands, TypedVessel, plan, temperature_course,
};
use levigate_project::workbench::sheet::{Bench, batch_sheet};
use proptest::prelude::*;
use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::sync::LazyLock;
use uuid::Uuid;

/// A slurry in part of a polyol, salts kept back in part of the water, a base that goes in by portions, at room temperature.
const TONER: &str = include_str!("../../../examples/night-toner-mandelic.toml");
/// A gel that the base thickens.
const GEL: &str = include_str!("../../../examples/hand-gel-carbomer.toml");
/// Part of the water is heated.
const HYPROMELLOSE: &str = include_str!("../../../examples/scenarios/5-hypromellose-clear-gel.toml");
const ALL: [&str; 4] =
    [TONER, GEL, HYPROMELLOSE, include_str!("../../../examples/scenarios/6-sclerotium-gum-cream-gel.toml")];

/// A warm batch whose steps a person wrote: the salt of a weak acid meets the acid, and no water is given back.
const WRITTEN: &str = r#"
[product]
name = "Invented toner"
type = "toner"
site = "face"
leave_on = true
markets = ["eu"]

[target]
ph = [4.2, 4.8]

[[phase]]
name = "A"
temperature_c = 75

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 5

[[phase.line]]
material = "Sodium benzoate"
percent = 0.40

[[phase]]
name = "B"

[[phase.line]]
material = "Citric acid"
to_ph = 4.5

[[step]]
does = "add"
lines = [{ material = "Water", share_percent = 70 }, { material = "Glycerin" }]

[[step]]
does = "heat"
temperature_c = [75, 80]

[[step]]
does = "hold"
temperature_c = [75, 80]
minutes = [20, 30]

[[step]]
does = "cool"
temperature_c = [20, 25]

[[step]]
does = "add"
lines = [{ material = "Water", share_percent = 30 }]

[[step]]
does = "adjust-ph"
lines = [{ material = "Citric acid" }]
"#;

/// Read once for the laws.
static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());

fn version(text: &str) -> Kept<FormulaVersion> {
    let what = FormulaVersion {
        formula: Id::from_uuid(Uuid::from_u128(1)),
        parent: None,
        text: text.to_owned(),
        sha256: content_hash(text.as_bytes()),
        reason: "test".to_owned(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
    };
    kept(11, 1, what)
}

fn planned(facts: &Facts, text: &str, size_g: Option<Decimal>) -> Plan {
    let version = version(text);
    let day = date(2026, 11, 24);
    plan(&PlanOrder { facts, day, version: &version, size_g, balances: &[], lots: &[], taken: &[] }).unwrap()
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

fn entry(number: u32, step: usize, did: Did) -> Kept<BatchEntry> {
    let what = BatchEntry {
        batch: Id::from_uuid(Uuid::from_u128(7)),
        device_time: Timestamp::from_second(1_790_000_000 + i64::from(number)).unwrap(),
        paper: None,
        step: Some(step).filter(|step| *step > 0),
        instrument: String::new(),
        note: String::new(),
        did,
        sent_sha256: String::new(),
        after_sign_off: false,
        withdrawn: false,
    };
    kept(1000 + u128::from(number), number, what)
}

fn weighed(step: &PlanStep, grams: Decimal) -> Did {
    let line = step.line.as_ref().unwrap();
    let net = Some(TypedNumber::read_either(&grams.to_string()));
    Did::Weighed {
        line: line.number,
        material: line.material.clone(),
        lot: None,
        corrected_g: None,
        mass: TypedMass { net, unit: "g".to_owned(), ..TypedMass::default() },
    }
}

/// The steps of a plan in which a line goes in.
fn steps_of(plan: &Plan, number: usize) -> Vec<&PlanStep> {
    plan.steps.iter().filter(|step| step.line.as_ref().is_some_and(|line| line.number == number)).collect()
}

#[test]
fn the_plan_has_the_order_and_the_numbers_of_the_printed_sheet() {
    let facts = shipped().unwrap();
    for text in ALL.into_iter().chain([WRITTEN]) {
        let plan = planned(&facts, text, None);
        let bench = Bench { size_g: None, balance: None };
        let sheet = batch_sheet(&facts, date(2026, 11, 24), &bench, "test", text).unwrap();
        let printed: Vec<(usize, usize, Decimal, Decimal)> = sheet
            .making
            .iter()
            .flat_map(|step| {
                step.lines.iter().map(|line| (step.number, line.number, line.percent, line.grams))
            })
            .collect();
        let weighed: Vec<(usize, usize, Decimal, Decimal)> = plan
            .steps
            .iter()
            .filter_map(|step| {
                let line = step.line.as_ref()?;
                Some((step.procedure.as_ref()?.number, line.number, line.percent, line.grams))
            })
            .collect();
        assert_eq!(printed, weighed, "{}", plan.product);
        let mut steps: Vec<(usize, Does)> = plan
            .steps
            .iter()
            .filter_map(|step| step.procedure.as_ref().map(|own| (own.number, own.does)))
            .collect();
        steps.dedup();
        let made: Vec<(usize, Does)> = sheet.making.iter().map(|step| (step.number, step.does)).collect();
        assert_eq!(steps, made, "{}", plan.product);
        let of_sheet: Vec<(usize, Decimal, Decimal, Decimal)> =
            sheet.lines().map(|line| (line.number, line.percent, line.grams, line.tolerance_g)).collect();
        let of_plan: Vec<(usize, Decimal, Decimal, Decimal)> = plan
            .lines()
            .into_iter()
            .map(|line| (line.number, line.percent, line.grams, line.tolerance_g))
            .collect();
        assert_eq!(of_sheet, of_plan, "{}", plan.product);
    }
}

#[test]
fn everything_a_procedure_needs_is_there() {
    let facts = shipped().unwrap();
    let plan = planned(&facts, TONER, None);
    // Half a polyol carries the gum, part of the water the salts, and a first part of the base goes in before the meter.
    let split: Vec<usize> = plan.lines().iter().map(|line| steps_of(&plan, line.number).len()).collect();
    assert!(split.iter().filter(|portions| **portions > 1).count() >= 3, "{split:?}");
    let slurry = plan
        .steps
        .iter()
        .find(|step| step.procedure.as_ref().is_some_and(|own| own.premix.starts_with("Slurry")))
        .unwrap();
    assert_eq!((slurry.kind, slurry.procedure.as_ref().unwrap().place), (StepKind::Weigh, 1));
    assert_eq!(slurry.line.as_ref().unwrap().portion.as_ref().unwrap().of, 2);
    let base = steps_of(&plan, plan.lines().iter().find(|line| line.to_ph.is_some()).unwrap().number);
    let kinds: Vec<StepKind> = base.iter().map(|step| step.kind).collect();
    assert_eq!(kinds, [StepKind::Weigh, StepKind::Adjust]);
    let whole = plan.lines().into_iter().find(|line| line.to_ph.is_some()).unwrap();
    assert_eq!(
        whole.first_g,
        Some(base[0].line.as_ref().unwrap().grams),
        "what surely keeps to the window goes in first"
    );
    assert!(base[0].procedure.as_ref().unwrap().because.iter().any(|one| one.why.contains("far edge")));
    let caustic = |step: &PlanStep| step.cautions.iter().filter(|one| one.hazard == "caustic").count();
    assert_eq!(plan.steps.iter().map(caustic).sum::<usize>(), 1, "said once, where it is handled first");
    assert_eq!(caustic(base[0]), 1);
    assert!(plan.steps.iter().any(|step| step.procedure.as_ref().is_some_and(|own| own.does == Does::DeAir)));
    let swells = plan.steps.iter().find(|step| step.hold_min.is_some()).unwrap();
    let says = swells.procedure.as_ref().unwrap();
    assert_eq!((says.does, says.minutes), (Does::Hydrate, Some([decimal("20"), decimal("40")])));
    assert_eq!(says.sources, ["handbook-hydrocolloids"], "who says how it swells");
    let last = plan.steps.last().unwrap();
    assert_eq!(last.kind, StepKind::Check);
    assert!(last.checks.iter().any(|check| check.starts_with("pH 3")), "{:?}", last.checks);
    let why = plan.steps.iter().filter_map(|step| step.procedure.as_ref()).flat_map(|own| &own.because);
    assert!(why.clone().count() > 3 && why.clone().all(|one| !one.sources.is_empty() && !one.why.is_empty()));
}

#[test]
fn what_a_person_wrote_counts_and_what_it_breaks_is_told() {
    let facts = shipped().unwrap();
    let plan = planned(&facts, WRITTEN, None);
    let does: Vec<Does> = plan
        .steps
        .iter()
        .filter(|step| step.line.is_none())
        .filter_map(|step| Some(step.procedure.as_ref()?.does))
        .collect();
    // The line that no step puts in comes before the last check; the check of the brief is there though nobody wrote one.
    assert_eq!(does, [Does::Add, Does::Heat, Does::Hold, Does::Cool]);
    let last = plan.steps.last().unwrap();
    assert_eq!(
        (last.kind, last.checks.as_slice()),
        (StepKind::Check, ["pH 4.2 to 4.8".to_owned()].as_slice())
    );
    assert_eq!(steps_of(&plan, 3).len(), 1, "sodium benzoate, which no step names");
    assert_eq!(plan.portions().map(|line| line.grams).sum::<Decimal>(), plan.size_g);
    let water = steps_of(&plan, 1);
    let portion = |at: usize| water[at].line.as_ref().unwrap();
    let whole = portion(0).portion.as_ref().unwrap();
    assert_eq!(portion(0).grams + portion(1).grams, whole.grams);
    assert_eq!(portion(0).percent + portion(1).percent, whole.percent);
    let found: Vec<&str> = plan.told.iter().map(|one| one.found.as_str()).collect();
    assert!(found.contains(&"Sodium benzoate goes in nowhere."), "{found:?}");
    assert!(found.iter().any(|one| one.contains("the make-up of water")), "{found:?}");
    let hold = plan.steps.iter().find(|step| step.hold_min.is_some()).unwrap();
    assert_eq!((hold.temperature_c, hold.hold_min), (Some(decimal("75")), Some(decimal("20"))));
    assert!(hold.reaches(decimal("75.0")) && !hold.reaches(decimal("74.9")));
    let cool =
        plan.steps.iter().find(|step| step.procedure.as_ref().is_some_and(|own| own.does == Does::Cool));
    assert!(cool.unwrap().reaches(decimal("25")) && !cool.unwrap().reaches(decimal("26")));
    let hot = plan.steps.iter().flat_map(|step| &step.cautions).filter(|one| one.hazard == "hot").count();
    assert_eq!(hot, 1, "that it scalds is said once");
}

#[test]
fn a_portion_of_which_the_balance_shows_nothing_has_no_step() {
    let facts = shipped().unwrap();
    let glycerin = "does = \"add\"\nlines = [{ material = \"Water\", share_percent = 70 }, { material = \"Glycerin\", share_percent = 99.99 }]\n\
                    [[step]]\ndoes = \"add\"\nlines = [{ material = \"Glycerin\", share_percent = 0.01 }]\n\
                    [[step]]\ndoes = \"add\"\nlines = [{ material = \"Citric acid\", share_percent = 99.9 }]\n";
    let text = WRITTEN
        .replace(
            "does = \"add\"\nlines = [{ material = \"Water\", share_percent = 70 }, { material = \"Glycerin\" }]\n",
            glycerin,
        )
        .replace("[{ material = \"Citric acid\" }]", "[{ material = \"Citric acid\", share_percent = 0.1 }]");
    let plan = planned(&facts, &text, Some(decimal("20")));
    assert!(
        plan.portions().all(|line| line.grams > Decimal::ZERO),
        "{:?}",
        plan.portions().collect::<Vec<_>>()
    );
    assert_eq!(plan.portions().map(|line| line.grams).sum::<Decimal>(), plan.size_g);
    for number in [2, 4] {
        let own = steps_of(&plan, number);
        assert_eq!((own.len(), own[0].kind), (1, StepKind::Weigh), "all of line {number} goes in at once");
        assert!(own[0].line.as_ref().unwrap().portion.is_none());
    }
    // The step that only held what cannot be weighed is gone; the pH is still looked at, with nothing to put in.
    let numbers: Vec<usize> =
        plan.steps.iter().filter_map(|step| Some(step.procedure.as_ref()?.number)).collect();
    assert!(numbers.windows(2).all(|pair| pair[1] == pair[0] || pair[1] == pair[0] + 1), "{numbers:?}");
    let reads =
        plan.steps.iter().find(|step| step.procedure.as_ref().is_some_and(|own| own.does == Does::AdjustPh));
    assert_eq!((reads.unwrap().kind, reads.unwrap().line.is_none()), (StepKind::Work, true));
    let bench = Bench { size_g: Some(decimal("20")), balance: None };
    let sheet = batch_sheet(&facts, date(2026, 11, 24), &bench, "test", &text).unwrap();
    let printed: Vec<(usize, Decimal)> = sheet
        .making
        .iter()
        .flat_map(|step| step.lines.iter().map(|line| (line.number, line.grams)))
        .collect();
    let weighed: Vec<(usize, Decimal)> = plan.portions().map(|line| (line.number, line.grams)).collect();
    assert_eq!(printed, weighed);
}

#[test]
fn a_hold_runs_from_the_first_reading_that_is_hot_enough_or_from_the_press() {
    let facts = shipped().unwrap();
    let plan = planned(&facts, WRITTEN, None);
    let hold = plan.steps.iter().find(|step| step.hold_min.is_some()).unwrap().number;
    let read = |number: u32, celsius: &str| {
        entry(number, hold, Did::Temperature { value: TypedNumber::read_either(celsius) })
    };
    let started = |entries: &[Kept<BatchEntry>]| Progress::of(&plan, entries).steps[hold - 1].started;
    let entries = [read(1, "71,5"), read(2, "75.2"), read(3, "77")];
    assert_eq!(started(&entries[..1]), None);
    assert_eq!(started(&entries), Some(entries[1].what.device_time));
    let by_hand = [vec![entry(0, hold, Did::Started)], entries.to_vec()].concat();
    assert_eq!(started(&by_hand), Some(by_hand[0].what.device_time));
}

/// The water of the written plan: 70 and 30 %.
fn water(plan: &Plan) -> [&PlanStep; 2] {
    steps_of(plan, 1).try_into().unwrap()
}

#[test]
fn too_much_of_one_portion_is_missing_from_the_other() {
    let facts = shipped().unwrap();
    let plan = planned(&facts, WRITTEN, None);
    let [first, rest] = water(&plan);
    let [a, b] = [first, rest].map(|step| step.line.as_ref().unwrap().grams);
    let over = decimal("12.50");
    let entries = vec![entry(1, first.number, weighed(first, a + over))];
    let progress = Progress::of(&plan, &entries);
    let amount = progress.steps[rest.number - 1].amount.unwrap();
    assert_eq!(amount.target_g, b - over);
    assert_eq!(progress.steps[first.number - 1].stands, Stands::Done);
    let line = progress.lines.iter().find(|line| line.planned.number == 1).unwrap();
    assert!(line.over_g().is_none() && !line.is_in());
    assert_eq!(line.to_come_g(), b - over);
    // Weighed out of turn, without a step, or short and ended by hand: the other takes what is left.
    let out_of_turn = vec![entry(1, rest.number, weighed(rest, b + over))];
    assert_eq!(Progress::of(&plan, &out_of_turn).steps[first.number - 1].amount.unwrap().target_g, a - over);
    let no_step = vec![entry(1, 0, weighed(first, a)), entry(2, 0, weighed(first, b))];
    let all = Progress::of(&plan, &no_step);
    assert!([first, rest].iter().all(|step| all.steps[step.number - 1].stands == Stands::Done));
    let short = vec![
        entry(1, first.number, weighed(first, a - decimal("10"))),
        entry(2, first.number, Did::Finished),
    ];
    let amount = Progress::of(&plan, &short).steps[rest.number - 1].amount.unwrap();
    assert_eq!(amount.target_g, b + decimal("10"));
    // Both in with too much: the line is over, and the ways out of it speak of the line.
    let both =
        vec![entry(1, first.number, weighed(first, a + over)), entry(2, rest.number, weighed(rest, b))];
    let progress = Progress::of(&plan, &both);
    let line = progress.lines.iter().find(|line| line.planned.number == 1).unwrap();
    assert_eq!(line.over_g(), Some(over));
}

#[test]
fn a_plan_frozen_before_there_were_procedures_still_reads() {
    let old = include_str!("plans/frozen_from_phases.json");
    let plan: Plan = serde_json::from_str(old).unwrap();
    assert_eq!(serde_json::to_value(&plan).unwrap(), serde_json::from_str::<serde_json::Value>(old).unwrap());
    assert_eq!(plan.lines().len(), 3);
    let [water, _, acid] = plan.steps.iter().filter(|step| step.line.is_some()).collect::<Vec<_>>()[..]
    else {
        panic!("three lines");
    };
    let grams = water.line.as_ref().unwrap().grams;
    let entries = vec![
        entry(1, water.number, weighed(water, grams)),
        entry(2, acid.number, weighed(acid, Decimal::ONE)),
    ];
    let progress = Progress::of(&plan, &entries);
    assert_eq!(progress.steps[0].stands, Stands::Done);
    assert!(progress.steps.iter().all(|step| step.amount.is_none()));
    let acid = progress.lines.iter().find(|line| line.planned.to_ph.is_some()).unwrap();
    assert!(acid.by_the_meter && acid.to_come_g() == Decimal::ZERO);
    assert!(plan.told.is_empty() && plan.steps.iter().all(|step| step.procedure.is_none()));
}

/// Readings in the steps that warm, hold and cool: minute and C.
const READ: [(i64, &str); 6] = [(0, "22.5"), (14, "52"), (24, "71,5"), (34, "73"), (45, "72"), (80, "38")];

#[test]
fn the_course_is_planned_from_the_steps_and_read_from_the_entries() {
    let facts = &FACTS;
    let plan = planned(facts, WRITTEN, None);
    let heat =
        plan.steps.iter().find(|step| step.procedure.as_ref().is_some_and(|own| own.does == Does::Heat));
    let heat = heat.unwrap().number;
    let mut entries: Vec<_> = READ
        .iter()
        .zip(1_u32..)
        .map(|((minute, celsius), number)| {
            let mut read = entry(number, heat, Did::Temperature { value: TypedNumber::read_either(celsius) });
            read.what.device_time = Timestamp::from_second(1_790_000_000 + 60 * minute).unwrap();
            read
        })
        .collect();
    // The room before anything is warmed does not move the beginning.
    let mut before = entry(90, 1, Did::Temperature { value: TypedNumber::read_either("21") });
    before.what.device_time = Timestamp::from_second(1_790_000_000 - 600).unwrap();
    entries.push(before);
    let records = records(plan, entries);
    let course = temperature_course(facts, &records, &TypedVessel::default()).unwrap();
    let shape: Vec<(f64, f64, bool)> = course
        .planned
        .iter()
        .map(|stage| (stage.points[0].1, stage.points.last().unwrap().1, stage.takes.value.is_some()))
        .collect();
    assert_eq!(shape, [(22.5, 75.0, false), (75.0, 75.0, true), (75.0, 25.0, false)]);
    assert!(course.notes.iter().any(|note| note.contains("not known without the vessel")));
    assert_eq!(
        course.typed.iter().map(|one| one.minute).collect::<Vec<_>>(),
        [-10.0, 0.0, 14.0, 24.0, 34.0, 45.0, 80.0]
    );
    // At 72 or above, by hand: 71.5 to 73 in ten minutes crosses after 10/3 of them; then 73 to 72 in eleven.
    let mut at_72 = records.clone();
    for step in &mut at_72.batch.what.plan.steps {
        if step.hold_min.is_some() {
            step.temperature_c = Some(decimal("72"));
        }
    }
    let held = temperature_course(facts, &at_72, &TypedVessel::default()).unwrap().held;
    assert!((held[0].kept.value.unwrap() - (10.0 * 2.0 / 3.0 + 11.0)).abs() < 1e-9);
    assert_eq!((held[0].at_c, held[0].planned_min), (72.0, 20.0));
    // With the vessel the ramps have times of their own and water goes off.
    let beaker = TypedVessel { vessel: "beaker-600-ml".to_owned(), ..TypedVessel::default() };
    let course = temperature_course(facts, &records, &beaker).unwrap();
    assert!(course.planned.iter().all(|stage| stage.takes.value.is_some()));
    let ends: Vec<f64> = course.planned.iter().map(|stage| stage.points.last().unwrap().0).collect();
    let begins: Vec<f64> = course.planned.iter().map(|stage| stage.points[0].0).collect();
    assert_eq!(begins[1..], ends[..2], "one stage begins where the other ends");
    assert!(course.evaporation.unwrap().loss.value.unwrap() > 0.0);
    let none = TypedVessel { vessel: "bucket".to_owned(), ..TypedVessel::default() };
    assert!(temperature_course(facts, &records, &none).unwrap_err().to_string().contains("bucket"));
}

#[test]
fn the_record_of_a_logger_counts_before_typed_readings_and_spores_are_told() {
    let facts = &FACTS;
    let plan = planned(facts, WRITTEN, None);
    let hold = plan.steps.iter().find(|step| step.hold_min.is_some()).unwrap().number;
    let points = vec![(decimal("0"), decimal("72")), (decimal("1200"), decimal("72"))];
    let told = "the record is that of probe.csv".to_owned();
    let entries = vec![
        entry(1, hold, Did::TemperatureLog { points, told }),
        entry(2, hold, Did::Temperature { value: TypedNumber::read_either("99") }),
    ];
    let course = temperature_course(facts, &records(plan, entries), &TypedVessel::default()).unwrap();
    let lethality = course.lethality.unwrap();
    // Twenty minutes at one temperature, by hand: t 10^((T - T_r)/z).
    for unit in &lethality.units {
        let known = &facts.making.lethal_units[&unit.key];
        let by_hand = 20.0 * 10f64.powf((72.0 - known.reference_c) / known.z_k);
        assert!((unit.units.value.unwrap() / by_hand - 1.0).abs() < 1e-9, "{}", unit.key);
    }
    let spores = lethality.organisms.iter().find(|one| one.key.contains("cereus")).unwrap();
    assert!(spores.log_reduction.value.unwrap() < 0.5);
    let said: String = lethality.notes.iter().map(|note| note.text.as_str()).collect();
    assert!(said.contains("spores") && said.contains("nothing here is sterile"), "{said}");
    assert_eq!((course.logged.len(), course.typed.len()), (2, 1));
    assert_eq!(course.held[0].kept.value, Some(0.0), "never at 75 C");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]
    #[test]
    fn portions_always_add_up_to_their_line(size in 20_u32..500_000, which in 0_usize..4) {
        let facts = &FACTS;
        let plan = planned(facts, ALL[which], Some(Decimal::new(i64::from(size), 1)));
        let mut sums: BTreeMap<usize, (Decimal, Decimal)> = BTreeMap::new();
        for line in plan.portions() {
            let sum = sums.entry(line.number).or_default();
            *sum = (sum.0 + line.grams, sum.1 + line.percent);
            prop_assert!(line.grams >= Decimal::ZERO && line.tolerance_g <= line.grams);
        }
        for line in plan.lines() {
            prop_assert_eq!(sums[&line.number], (line.grams, line.percent));
        }
        prop_assert_eq!(plan.portions().map(|line| line.grams).sum::<Decimal>(), plan.size_g);
        let progress = Progress::of(&plan, &[]);
        for (step, at) in plan.steps.iter().zip(&progress.steps) {
            let amount = at.amount.map(|amount| (amount.target_g, amount.tolerance_g));
            let line = step.line.as_ref().filter(|line| line.portion.is_some());
            prop_assert_eq!(amount, line.map(|line| (line.grams, line.tolerance_g)));
        }
    }
}
