//! A batch followed through its entries: arithmetic held against another program (`tests/cross/batches.py`), and the laws.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

mod bench;

use bench::{kept, records};
use jiff::Timestamp;
use jiff::civil::date;
use levigate_formula::sheet::Amount;
use levigate_measure::weighing::BalanceRecord;
use levigate_project::formula_file;
use levigate_project::records::{
    BatchEntry, Correction, Did, How, Id, Kept, Kind, LotNamed, OverWay, Plan, PlanLine, PlanStep,
    Record as _, SignOff, SignedAs, StepKind, TypedMass, TypedNumber,
};
use levigate_project::workbench::batch::{Balanced, Progress, Standing, batch_state, sheet_as_weighed};
use proptest::prelude::*;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::Deserialize;
use uuid::Uuid;

const CASES: &str = include_str!("../../../tests/cross/batches.toml");

/// A formula of two lines.
const MADE: &str = r#"
[product]
name = "Invented gel"
type = "gel"
site = "face"
leave_on = true
markets = ["eu"]

[[phase]]
name = "A"

[[phase.line]]
material = "Water"
remainder = true

[[phase.line]]
material = "Glycerin"
percent = 10
"#;

#[derive(Deserialize)]
struct Cases {
    over: Vec<Over>,
    bench: Vec<Bench>,
    shares: Shares,
}

#[derive(Deserialize)]
struct Over {
    name: String,
    planned: Vec<String>,
    remainder: usize,
    inside: Vec<String>,
    over: usize,
    way: Vec<Way>,
}

#[derive(Deserialize)]
struct Way {
    way: String,
    size: String,
    targets: Vec<String>,
    to_add: Vec<String>,
    shares: Vec<f64>,
}

#[derive(Deserialize)]
struct Bench {
    name: String,
    vessel: String,
    weighed: String,
    samples_before: String,
    gross: String,
    given: String,
    samples_after: String,
    good: String,
    lost: String,
    went_off: String,
    missing_before_giving: String,
    missing_after: String,
    charged: String,
    r#yield: f64,
    accounted: f64,
    unexplained: String,
}

#[derive(Deserialize)]
struct Shares {
    lines: Vec<Vec<f64>>,
    readability: String,
    percent: Vec<f64>,
    half_width: Vec<f64>,
}

fn cases() -> Cases {
    toml::from_str(CASES).unwrap()
}

fn decimal(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// A plan with one weighing step for each line; the tolerance is 1 %.
fn plan(grams: &[String], remainder: usize, readability: &str) -> Plan {
    let total: Decimal = grams.iter().map(|grams| decimal(grams)).sum();
    let steps = grams
        .iter()
        .enumerate()
        .map(|(at, grams)| {
            let grams = decimal(grams);
            let line = PlanLine {
                number: at + 1,
                material: if at == remainder { "water".to_owned() } else { format!("material-{at}") },
                name: format!("Material {at}"),
                percent: (grams * Decimal::ONE_HUNDRED / total).round_dp(6),
                grams,
                tolerance_percent: Decimal::ONE,
                tolerance_g: (grams / Decimal::ONE_HUNDRED).trunc_with_scale(2),
                remainder: at == remainder,
                to_ph: None,
                first_g: None,
                lot: String::new(),
                portion: None,
            };
            PlanStep {
                number: at + 1,
                kind: StepKind::Weigh,
                phase: "A".to_owned(),
                text: format!("Weigh material {at}"),
                why: String::new(),
                line: Some(line),
                temperature_c: None,
                speed_rpm: None,
                hold_min: None,
                checks: Vec::new(),
                cautions: Vec::new(),
                procedure: None,
            }
        })
        .collect();
    Plan {
        product: "Invented gel".to_owned(),
        version: 1,
        version_code: "0".repeat(12),
        size_g: total,
        balances: vec![BalanceRecord {
            name: Some("bench".to_owned()),
            readability_g: decimal(readability),
            repeatability_g: None,
            capacity_g: None,
            certificate: None,
        }],
        steps,
        told: Vec::new(),
    }
}

fn net(text: &str) -> TypedMass {
    TypedMass { net: Some(TypedNumber::read_either(text)), unit: "g".to_owned(), ..TypedMass::default() }
}

fn full(text: &str) -> TypedMass {
    TypedMass { gross: Some(TypedNumber::read_either(text)), unit: "g".to_owned(), ..TypedMass::default() }
}

fn weighed(line: usize, text: &str) -> Did {
    let material = format!("material-{}", line - 1);
    Did::Weighed { line, material, lot: None, corrected_g: None, mass: net(text) }
}

fn entry(number: u32, did: Did) -> Kept<BatchEntry> {
    entry_at(number, i64::from(number), did)
}

fn entry_at(number: u32, second: i64, did: Did) -> Kept<BatchEntry> {
    let what = BatchEntry {
        batch: Id::from_uuid(Uuid::from_u128(7)),
        device_time: Timestamp::from_second(1_790_000_000 + second).unwrap(),
        paper: None,
        step: None,
        instrument: "bench".to_owned(),
        note: String::new(),
        did,
        sent_sha256: String::new(),
        after_sign_off: false,
        withdrawn: false,
    };
    kept(1000 + u128::from(number), number, what)
}

/// The entry that takes another back, or takes back what took it back.
fn undo(number: u32, of: &Kept<BatchEntry>) -> Kept<BatchEntry> {
    let mut undone = entry(number, of.what.did.clone());
    undone.corrects = Some(Correction { supersedes: of.id, reason: "wrong".to_owned() });
    undone.what.withdrawn = !of.what.withdrawn;
    undone
}

#[test]
fn the_ways_out_of_too_much_are_those_of_the_other_program() {
    for case in cases().over {
        let plan = plan(&case.planned, case.remainder, "0.01");
        let mut entries: Vec<Kept<BatchEntry>> = Vec::new();
        for (at, inside) in case.inside.iter().enumerate().filter(|(_, inside)| *inside != "0") {
            let number = u32::try_from(entries.len()).unwrap() + 1;
            entries.push(entry(number, weighed(at + 1, inside)));
        }
        let state = batch_state(&records(plan.clone(), entries.clone()), date(2026, 11, 24));
        let line = &state.lines[case.over];
        assert_eq!(line.verdict, "over", "{}", case.name);
        assert_eq!(line.ways.len(), case.way.len(), "{}: {:?}", case.name, line.ways);
        for (found, wanted) in line.ways.iter().zip(&case.way) {
            let way = OverWay::from_word(&wanted.way).unwrap();
            assert_eq!((found.way, found.size), (way, decimal(&wanted.size)), "{}", case.name);
            for (at, after) in found.lines.iter().enumerate() {
                let place = format!("{}, {}, line {at}", case.name, wanted.way);
                assert_eq!(after.target, decimal(&wanted.targets[at]), "{place}");
                assert_eq!(after.to_add, decimal(&wanted.to_add[at]), "{place}");
                assert!((after.percent.to_f64().unwrap() - wanted.shares[at]).abs() < 1e-5, "{place}");
            }
            // Once it is decided, the targets are these.
            let seen_g = decimal(&case.inside[case.over]);
            let decided = Did::Decided { line: case.over + 1, way, seen_g };
            let with: Vec<_> = entries.iter().cloned().chain([entry(99, decided)]).collect();
            let progress = Progress::of(&plan, &with);
            let targets: Vec<Decimal> = progress.lines.iter().map(|line| line.target_g).collect();
            assert_eq!(
                targets,
                wanted.targets.iter().map(|it| decimal(it)).collect::<Vec<_>>(),
                "{}",
                case.name
            );
            assert_eq!(progress.size_g, decimal(&wanted.size), "{}", case.name);
        }
    }
}

#[test]
fn water_yield_and_reconciliation_are_those_of_the_other_program() {
    for case in cases().bench {
        let plan = plan(std::slice::from_ref(&case.weighed), 0, "0.01");
        let sample = |text: &str| Did::Sample { purpose: "kept".to_owned(), mass: net(text) };
        let mut entries = vec![
            entry(1, Did::Vessel { mass: full(&case.vessel) }),
            entry(2, weighed(1, &case.weighed)),
            entry(3, sample(&case.samples_before)),
            entry(4, Did::Gross { mass: full(&case.gross) }),
        ];
        let before = Progress::of(&plan, &entries);
        assert_eq!(before.went_off_g(), Some(decimal(&case.went_off)), "{}", case.name);
        assert_eq!(before.water_missing_g(), Some(decimal(&case.missing_before_giving)), "{}", case.name);
        entries.extend([
            entry(5, Did::Water { lot: None, mass: net(&case.given) }),
            entry(6, sample(&case.samples_after)),
            entry(7, Did::Output { mass: net(&case.good) }),
            entry(8, Did::Lost { purpose: "vessel".to_owned(), mass: net(&case.lost) }),
        ]);
        let after = Progress::of(&plan, &entries);
        assert_eq!(after.water_missing_g(), Some(decimal(&case.missing_after)), "{}", case.name);
        let balanced = Balanced::of(&after).unwrap();
        assert_eq!(balanced.charged_g, decimal(&case.charged), "{}", case.name);
        assert_eq!(balanced.unexplained_g, decimal(&case.unexplained), "{}", case.name);
        let near =
            |found: Option<Decimal>, wanted: f64| (found.unwrap().to_f64().unwrap() - wanted).abs() < 1e-9;
        assert!(near(balanced.yield_percent(), case.r#yield), "{}", case.name);
        assert!(near(balanced.accounted_percent(), case.accounted), "{}", case.name);
    }
    // The worked example, to one decimal.
    let first = &cases().bench[0];
    assert_eq!(
        (format!("{:.1}", first.r#yield), format!("{:.1}", first.accounted)),
        ("96.6".into(), "98.6".into())
    );
}

#[test]
fn shares_and_what_the_balances_leave_open_are_those_of_random_draws() {
    let case = cases().shares;
    let grams: Vec<String> =
        case.lines.iter().map(|line| format!("{:.2}", line.iter().sum::<f64>())).collect();
    let plan = plan(&grams, 0, &case.readability);
    let mut entries = Vec::new();
    for (at, portions) in case.lines.iter().enumerate() {
        for portion in portions {
            let number = u32::try_from(entries.len()).unwrap() + 1;
            entries.push(entry(number, weighed(at + 1, &format!("{portion:.2}"))));
        }
    }
    let state = batch_state(&records(plan, entries), date(2026, 11, 24));
    assert_eq!((state.standing, state.next), (Standing::Made, None));
    for (at, line) in state.lines.iter().enumerate() {
        let (value, low, high) =
            (line.percent.value.unwrap(), line.percent.low.unwrap(), line.percent.high.unwrap());
        assert!((value - case.percent[at]).abs() < 1e-9, "line {at}: {value}");
        let half = 0.5 * (high - low);
        assert!(
            (half / case.half_width[at] - 1.0).abs() < 0.005,
            "line {at}: {half} {}",
            case.half_width[at]
        );
    }
}

#[test]
fn a_slip_of_the_sign_is_suspected_and_a_small_first_portion_is_not() {
    let plan = plan(&["184.00".to_owned(), "5.02".to_owned()], 0, "0.01");
    let slip = |entries: Vec<Kept<BatchEntry>>| {
        batch_state(&records(plan.clone(), entries), date(2026, 11, 24)).lines[1].slip.clone()
    };
    assert!(slip(vec![entry(1, weighed(2, "50.2"))]).contains("ten times"));
    assert!(slip(vec![entry(1, weighed(2, "0.50"))]).contains("a tenth"));
    assert!(slip(vec![entry(1, weighed(2, "502"))]).contains("a hundred times"));
    assert_eq!(slip(vec![entry(1, weighed(2, "2.5"))]), "");
    assert_eq!(slip(vec![entry(1, weighed(2, "5.02"))]), "");
    assert_eq!(slip(vec![entry(1, weighed(2, "0.25")), entry(2, weighed(2, "0.25"))]), "");
}

#[test]
fn gross_tare_and_net_that_contradict_each_other_are_kept_and_told() {
    let plan = plan(&["184.00".to_owned(), "5.02".to_owned()], 0, "0.01");
    let mass = TypedMass {
        tare: Some(TypedNumber::read_either("10,00")),
        gross: Some(TypedNumber::read_either("15,02")),
        net: Some(TypedNumber::read_either("5,20")),
        unit: "g".to_owned(),
    };
    let did = Did::Weighed { line: 2, material: "material-1".to_owned(), lot: None, corrected_g: None, mass };
    let state = batch_state(&records(plan, vec![entry(1, did)]), date(2026, 11, 24));
    assert!(
        state.lines[1].remarks[0].contains("5.02 g, but 5,20 g net was typed"),
        "{:?}",
        state.lines[1].remarks
    );
    assert_eq!(state.lines[1].actual, Some(decimal("5.20")));
}

#[test]
fn steps_are_begun_finished_left_out_and_taken_up_again() {
    let mut plan = plan(&["184.00".to_owned(), "16.00".to_owned()], 0, "0.01");
    let work = PlanStep {
        number: 3,
        kind: StepKind::Work,
        line: None,
        text: "Stir".to_owned(),
        ..plan.steps[0].clone()
    };
    plan.steps.push(work);
    let at = |number: u32, did: Did| {
        let mut entry = entry(number, did);
        entry.what.step = Some(3);
        entry
    };
    let follow = |entries: &[Kept<BatchEntry>]| {
        let progress = Progress::of(&plan, entries);
        (progress.next_step(), progress.steps[2].clone())
    };
    let weighings = [entry(1, weighed(1, "184.00")), entry(2, weighed(2, "15.99"))];
    assert_eq!(follow(&weighings[..1]).0, Some(2));
    let (next, stir) = follow(&weighings);
    assert_eq!((next, stir.started), (Some(3), None));
    let begun = [&weighings[..], &[at(3, Did::Started)]].concat();
    assert_eq!(follow(&begun).1.started, Some(begun[2].what.device_time));
    let done = [&begun[..], &[at(4, Did::Finished)]].concat();
    assert_eq!(follow(&done).0, None);
    let taken_back = [&done[..], &[undo(5, &done[3])]].concat();
    assert_eq!(follow(&taken_back), follow(&begun));
    let skipped = [&weighings[..], &[at(3, Did::Skipped { reason: "no stirrer".to_owned() })]].concat();
    assert_eq!(follow(&skipped).0, None);
}

#[test]
fn a_lot_of_another_assay_moves_its_line_and_the_remainder() {
    let plan = plan(&["184.00".to_owned(), "16.00".to_owned()], 0, "0.01");
    let lot = LotNamed { code: "M-1".to_owned(), key: "material-1/m-1".to_owned(), on_file: None };
    let did = Did::Weighed {
        line: 2,
        material: "material-1".to_owned(),
        lot: Some(lot),
        corrected_g: Some(decimal("16.33")),
        mass: net("16.33"),
    };
    let one = entry(1, did);
    assert_eq!(one.what.uses()[0].micrograms, 16_330_000);
    let entries = vec![one.clone()];
    let progress = Progress::of(&plan, &entries);
    assert_eq!(progress.lines[1].target_g, decimal("16.33"));
    assert_eq!(progress.lines[0].target_g, decimal("183.67"));
    assert!(progress.lines[1].is_in() && progress.lines[1].over_g().is_none());
    let back = undo(2, &one);
    assert!(back.what.uses().is_empty());
    assert_eq!(Progress::of(&plan, &[one, back]).lines[0].target_g, decimal("184.00"));
}

#[test]
fn the_formula_that_was_made_is_none_where_hardly_anything_is_left() {
    let plan = plan(&["90.00".to_owned(), "10.00".to_owned()], 0, "0.01");
    let sheet = formula_file::read("test", MADE).unwrap().sheet;
    let made = |gross: &str| {
        let done = [
            weighed(1, "90"),
            weighed(2, "10"),
            Did::Vessel { mass: full("0") },
            Did::Gross { mass: full(gross) },
        ];
        let entries: Vec<_> = (1..).zip(done).map(|(number, did)| entry(number, did)).collect();
        sheet_as_weighed(&sheet, &Progress::of(&plan, &entries), &[])
    };
    // By hand: 10 g in 95 g.
    let second = made("95").unwrap().phases[0].lines[1].amount;
    assert_eq!(second, Amount::Percent(decimal("10.52631579")));
    // A share of 1e29 % is no number a decimal can hold.
    assert!(made("1e-26").is_none());
}

#[test]
fn a_signature_says_what_was_read_and_kept_after_it() {
    let one = entry(3, weighed(2, "10"));
    let signed = SignOff {
        batch: one.what.batch,
        signed_as: SignedAs::Released,
        known_by: How::Initialled.words().to_owned(),
        through: 4,
        records: 4,
        content_sha256: "0".repeat(64),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
        note: String::new(),
        alone: String::new(),
    };
    let mut records = records(
        plan(&["90.00".to_owned(), "10.00".to_owned()], 0, "0.01"),
        vec![one, entry(6, Did::Started)],
    );
    let Kept { who, when, how, .. } = records.batch.clone();
    let id = Id::from_uuid(Uuid::from_u128(9));
    records.sign_offs =
        vec![Kept { id, number: 1, sequence: 5, who, how, when, corrects: None, what: signed }];
    records.places = vec![
        (Kind::Trial, 1),
        (Kind::Batch, 2),
        (Kind::BatchEntry, 3),
        (Kind::Reading, 4),
        (Kind::BatchEntry, 6),
        (Kind::Reading, 7),
        (Kind::RetainedSample, 8),
    ];
    let state = batch_state(&records, date(2026, 11, 27));
    assert_eq!((state.sign_offs[0].entries_after, state.sign_offs[0].others_after), (1, 2));
}

#[test]
fn a_decision_is_about_what_was_seen_and_lapses_with_it() {
    let plan = plan(&["184.00".to_owned(), "10.00".to_owned(), "6.00".to_owned()], 0, "0.01");
    let target =
        |entries: &[Kept<BatchEntry>], line: usize| Progress::of(&plan, entries).lines[line].target_g;
    let decided = Did::Decided { line: 2, way: OverWay::Rescale, seen_g: decimal("11.00") };
    let (first, decided) = (entry(1, weighed(2, "11.00")), entry(2, decided));
    let both = [first.clone(), decided.clone()];
    assert_eq!(target(&both, 2), decimal("6.60"));
    // More of it later, or from a device whose clock is behind, does not make the batch larger by itself.
    let more = [&both[..], &[entry_at(3, -60, weighed(2, "5.00"))]].concat();
    assert_eq!(target(&more, 2), decimal("6.60"));
    assert_eq!(Progress::of(&plan, &more).lines[1].over_g(), Some(decimal("5.00")));
    // It was 10.10 after all: then nothing was decided.
    let mut right = entry(4, weighed(2, "10.10"));
    right.corrects = Some(Correction { supersedes: first.id, reason: "misread".to_owned() });
    assert_eq!(target(&[&both[..], &[right]].concat(), 2), decimal("6.00"));
}

/// Things done on a plan of three lines.
fn did() -> impl Strategy<Value = Did> {
    let grams = (0_i64..30_000).prop_map(|cents| Decimal::new(cents, 2).to_string());
    (0_u8..9, 1_usize..4, grams, 0_u8..3).prop_map(|(kind, line, grams, way)| match kind {
        0..=3 => weighed(line, &grams),
        4 => Did::Water { lot: None, mass: net(&grams) },
        5 => Did::Sample { purpose: String::new(), mass: net(&grams) },
        6 => Did::Gross { mass: full(&grams) },
        7 => Did::Output { mass: net(&grams) },
        _ => Did::Decided {
            line,
            way: [OverWay::Accept, OverWay::Rescale, OverWay::FromRemainder][usize::from(way)],
            seen_g: decimal(&grams),
        },
    })
}

fn three() -> Plan {
    plan(&["184.00".to_owned(), "10.00".to_owned(), "6.00".to_owned()], 0, "0.01")
}

proptest! {
    #[test]
    fn the_order_in_which_entries_arrive_changes_nothing(
        all in prop::collection::vec((did(), 0_i64..6), 0..14),
        turned in any::<prop::sample::Index>(),
    ) {
        let mut entries: Vec<Kept<BatchEntry>> = all
            .into_iter()
            .enumerate()
            .map(|(at, (did, second))| entry_at(u32::try_from(at).unwrap() + 1, second, did))
            .collect();
        let plan = three();
        let straight = Progress::of(&plan, &entries);
        if !entries.is_empty() {
            let by = turned.index(entries.len());
            entries.rotate_left(by);
            prop_assert_eq!(&Progress::of(&plan, &entries), &straight);
            entries.reverse();
            prop_assert_eq!(&Progress::of(&plan, &entries), &straight);
        }
    }

    #[test]
    fn an_undo_is_as_if_it_had_not_been_and_its_undo_as_if_it_had(
        all in prop::collection::vec(did(), 1..12),
        pick in any::<prop::sample::Index>(),
    ) {
        let plan = three();
        let entries: Vec<Kept<BatchEntry>> =
            all.into_iter().zip(1..).map(|(did, number)| entry(number, did)).collect();
        let at = pick.index(entries.len());
        let mut without = entries.clone();
        let struck = without.remove(at);
        let back = undo(90, &struck);
        let with_undo: Vec<_> = entries.iter().cloned().chain([back.clone()]).collect();
        prop_assert_eq!(Progress::of(&plan, &with_undo), Progress::of(&plan, &without));
        let again = undo(91, &back);
        let with_both: Vec<_> = with_undo.into_iter().chain([again]).collect();
        prop_assert_eq!(Progress::of(&plan, &with_both), Progress::of(&plan, &entries));
    }

    #[test]
    fn what_was_charged_is_always_accounted_for_to_the_last_digit(all in prop::collection::vec(did(), 0..16)) {
        let entries: Vec<Kept<BatchEntry>> =
            all.into_iter().zip(1..).map(|(did, number)| entry(number, did)).collect();
        let progress = Progress::of(&three(), &entries);
        if let Some(balanced) = Balanced::of(&progress) {
            let sum = balanced.good_g + balanced.samples_g + balanced.lost_g + balanced.unexplained_g;
            prop_assert_eq!(sum, balanced.charged_g);
            prop_assert_eq!(balanced.charged_g + progress.went_off_g().unwrap_or_default(), progress.total_in_g());
        }
        // Whatever was entered, it can be shown, and nothing shown is not finite.
        let state = batch_state(&records(three(), entries), date(2026, 11, 24));
        for line in &state.lines {
            prop_assert!(line.percent.value.is_none_or(f64::is_finite));
        }
    }
}
