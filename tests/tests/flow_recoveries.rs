//! Measured tables of readings over time through the reader and the fit: recoveries after a strong shear in every form they are written in,
//! tables that are none, and tables that are wrong. Constants are those another program found (`tests/cross/flow_recovery.toml`).

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_facts::Facts;
use levigate_process::flow::thixotropy::RecoveryLaw;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::flow_table::{Choices, ColumnChoice, FlowTable, Meaning, read};
use levigate_project::workbench::flow_fit::{Asked, FlowFit, RecoveryFit, flow_fit};
use proptest::prelude::*;
use serde::Deserialize;
use std::sync::LazyLock;

#[derive(Deserialize)]
struct Cases {
    recovery: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    time_s: Vec<f64>,
    viscosity_pa_s: Vec<f64>,
    parameter: Vec<Limited>,
    follows: Vec<Limited>,
}

#[derive(Deserialize)]
struct Limited {
    value: f64,
    low: f64,
    high: f64,
}

fn cases() -> Vec<Case> {
    let text = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/flow_recovery.toml"),
    );
    toml::from_str::<Cases>(&text.unwrap()).unwrap().recovery
}

static FACTS: LazyLock<Facts> = LazyLock::new(|| levigate_facts::shipped().unwrap());

fn table(text: &str, choices: &Choices) -> FlowTable {
    read("a table", text.as_bytes(), choices, None).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

fn fitted(text: &str, asked: &Asked) -> FlowFit {
    flow_fit(&FACTS, "a table", text.as_bytes(), asked).unwrap_or_else(|problems| panic!("{}", problems[0]))
}

fn only(text: &str) -> RecoveryFit {
    let fit = fitted(text, &Asked::default());
    assert!(fit.curves.is_empty(), "{:?}", fit.curves);
    assert_eq!(fit.recoveries.len(), 1);
    fit.recoveries[0].clone()
}

fn refused(text: &str, asked: &Asked) -> Diagnostic {
    match flow_fit(&FACTS, "a table", text.as_bytes(), asked) {
        Ok(fit) => panic!("{:?}", fit.recoveries),
        Err(problems) => {
            assert!(!problems[0].what.is_empty() && !problems[0].what_now.is_empty());
            problems[0].clone()
        }
    }
}

fn rows(head: &str, case: &Case, row: impl Fn(f64, f64) -> String) -> String {
    let rows = case.time_s.iter().zip(&case.viscosity_pa_s).map(|(time, eta)| row(*time, *eta));
    std::iter::once(head.to_owned()).chain(rows).collect::<Vec<_>>().join("\n")
}

fn near(found: f64, wanted: f64) {
    assert!((found / wanted - 1.0).abs() < 2e-6, "{found} where {wanted} is expected");
}

#[test]
fn every_form_of_a_table_gives_the_constants_of_another_program() {
    let case = &cases()[0];
    let [minutes, stress, dial, above, clock] = [
        rows("time (min);viscosity (cP)", case, |time, eta| format!("{:.9};{:.9}", time / 60.0, eta * 1e3)),
        rows("Zeit [s]\tScherrate [1/s]\tSchubspannung [Pa]", case, |time, eta| {
            format!("{time}\t2.0\t{:.9}", eta * 2.0)
        }),
        rows("elapsed time [s],speed [rpm],dial viscosity [mPa.s]", case, |time, eta| {
            format!("{time},5,{:.9}", eta * 1e3)
        }),
        rows("Shear rate: 0.5 1/s\ntime [s];stress [Pa]", case, |time, eta| {
            format!("{time};{:.9}", eta * 0.5)
        }),
        rows("time\tshear rate [1/s]\tviscosity [Pa.s]", case, |time, eta| {
            format!("0:{:02}:{:012.9}\t1\t{eta}", (time / 60.0).floor(), time % 60.0)
        }),
    ];
    for (text, at) in [
        (minutes, None),
        (stress, Some((2.0, "1/s"))),
        (dial, Some((5.0, "rpm"))),
        (above, Some((0.5, "1/s"))),
        (clock, Some((1.0, "1/s"))),
    ] {
        let fit = only(&text);
        assert_eq!(fit.taken.as_ref().unwrap().law, RecoveryLaw::FirstOrder);
        for (ours, theirs) in fit.laws[0].parameters.iter().zip(&case.parameter) {
            near(ours.estimate.value.unwrap(), theirs.value);
            near(ours.estimate.low.unwrap(), theirs.low);
            near(ours.estimate.high.unwrap(), theirs.high);
        }
        near(fit.in_the_end.value.unwrap(), case.parameter[1].value);
        near(fit.nine_tenths.value.unwrap(), case.follows[2].value);
        assert_eq!(fit.at.value.zip(Some(fit.at.unit.as_ref())).filter(|_| at.is_some()), at);
        assert!(fit.before.value.is_none() && fit.share_of_before.refused.is_some());
    }
    let toml = format!(
        "[[recovery]]\nname = \"T7\"\nshear_rate_1_s = 2.0\nbefore_pa_s = [12.0, 12.0, 12.5]\ntime_s = {:?}\nstress_pa = {:?}\n",
        case.time_s,
        case.viscosity_pa_s.iter().map(|eta| eta * 2.0).collect::<Vec<_>>()
    );
    let fit = only(&toml);
    assert_eq!(fit.name, "T7");
    near(fit.time_constant.value.unwrap(), case.parameter[2].value);
    near(fit.share_of_before.value.unwrap(), case.follows[1].value / (12.0_f64 * 12.5).sqrt());
}

#[test]
fn an_end_that_was_not_reached_is_refused_and_the_share_of_the_way_is_told() {
    let case = &cases()[2];
    let fit = only(&rows("time [s];viscosity [Pa.s]", case, |time, eta| format!("{time};{eta}")));
    for outcome in [&fit.in_the_end, &fit.time_constant, &fit.nine_tenths] {
        assert!(outcome.value.is_none());
        assert!(outcome.refused.as_ref().unwrap().contains("read longer"), "{outcome:?}");
    }
    let reached = &fit.reached;
    for (ours, theirs) in [
        (reached.value, case.follows[0].value),
        (reached.low, case.follows[0].low),
        (reached.high, case.follows[0].high),
    ] {
        assert!((ours.unwrap() / theirs - 1.0).abs() < 1e-5);
    }
    assert!(!fit.taken.unwrap().not_settled.is_empty());
}

/// Rest at 0.5 1/s, shear at 1000 1/s, then back, in tenths of a decade of noise-free numbers: 40 before, 0.2 under shear, from 10 to 30 after.
fn three_intervals(clock_starts_anew: bool) -> String {
    let mut text =
        String::from("Sample: Hand gel T7\ntime [s];shear rate [1/s];viscosity [Pa.s];temperature [C]\n");
    let mut time = 0.0;
    let mut row = |time: f64, rate: f64, eta: f64| text.push_str(&format!("{time};{rate};{eta:.9};25.0\n"));
    for step in 0..8 {
        time = 5.0 * f64::from(step);
        row(time, 0.5 + 0.001 * f64::from(step % 2), 40.0);
    }
    for _ in 0..4 {
        time += 5.0;
        row(time, 1000.0, 0.2);
    }
    // The motor is on its way.
    row(time + 0.5, 37.0, 1.0);
    let ended = if clock_starts_anew { 0.0 } else { time };
    for step in 0..25 {
        let after = 10.0 * f64::from(step) + 1.0;
        row(ended + after, 0.5, 30.0 - 20.0 * (-after / 50.0).exp());
    }
    text
}

#[test]
fn three_intervals_are_parted_and_time_counts_from_the_end_of_the_strong_shear() {
    for anew in [false, true] {
        let text = three_intervals(anew);
        let read = table(&text, &Choices::default());
        let [recovery] = read.recoveries.as_slice() else { panic!("{:?}", read.recoveries) };
        assert_eq!((recovery.points.len(), recovery.before.len()), (25, 8));
        assert!((recovery.points[0].time_s - 1.0).abs() < 1e-9);
        assert_eq!(recovery.meanings, [Meaning::Time, Meaning::Viscosity]);
        assert_eq!(recovery.points[0].typed[0].as_ref(), if anew { "1" } else { "56" });
        assert_eq!(recovery.strong.unwrap().words(), "1000 1/s");
        let counted = if anew { "the clock starts anew" } else { "line 14" };
        assert!(read.to_confirm.iter().any(|text| text.contains(counted)), "{:?}", read.to_confirm);
        assert_eq!((read.left_out.count, read.left_out.first[0].line), (1, 15));
        let fit = only(&text);
        assert_eq!(fit.name, "Hand gel T7");
        // Made as 30 - 20 exp(-t / 50), and 40 before.
        for (ours, made) in fit.laws[0].parameters.iter().zip([10.0, 30.0, 50.0]) {
            assert!((ours.estimate.value.unwrap() / made - 1.0).abs() < 1e-6);
        }
        let last = 30.0 - 20.0 * (-241.0_f64 / 50.0).exp();
        assert!((fit.share_of_before.value.unwrap() / (last / 40.0) - 1.0).abs() < 1e-6);
        assert_eq!((fit.strong.value, fit.temperature_c), (Some(1000.0), Some(25.0)));
    }
}

#[test]
fn what_is_taken_for_a_recovery_is_to_be_confirmed_and_can_be_said_otherwise() {
    let case = &cases()[0];
    let text = rows("time;viscosity [Pa.s]", case, |time, eta| format!("{};{eta}", time + 30.0));
    let read = table(&text, &Choices::default());
    let time = read.understood.iter().find(|column| column.meaning == Meaning::Time).unwrap();
    assert!(!time.sure && time.why.contains("seconds"), "{time:?}");
    assert!(read.to_confirm.iter().any(|text| text.contains("from the end of the strong shear")));
    let ended = Choices { shear_ended_s: Some(30.0), ..Choices::default() };
    let asked = Asked { table: ended, ..Asked::default() };
    let fit = &fitted(&text, &asked).recoveries[0];
    near(fit.time_constant.value.unwrap(), case.parameter[2].value);
    let later = Choices { shear_ended_s: Some(31.1), ..Choices::default() };
    let read = table(&text, &later);
    assert_eq!(read.recoveries[0].points.len(), case.time_s.len() - 2);
    assert!(read.left_out.first[0].why.contains("before the strong shear ended"));
    // Named minutes, they are.
    let minutes =
        Choices { columns: vec![ColumnChoice::read("time=time:min").unwrap()], ..Choices::default() };
    let last = |read: &FlowTable| read.recoveries[0].points.last().unwrap().time_s;
    near(last(&table(&text, &minutes)), 60.0 * last(&table(&text, &Choices::default())));
    // A time that is not used leaves no recovery.
    let without = Choices { columns: vec![ColumnChoice::read("time=unused").unwrap()], ..Choices::default() };
    assert!(read_refused(&three_intervals(false), &without).is_empty());
}

/// Recoveries that are left when a choice says otherwise.
fn read_refused(text: &str, choices: &Choices) -> Vec<String> {
    let read = table(text, choices);
    assert!(!read.curves.is_empty());
    read.recoveries.into_iter().map(|one| one.name).collect()
}

#[test]
fn sweeps_and_steps_with_a_clock_stay_flow_curves() {
    let sweep: String = (0..40)
        .map(|step| {
            let up = if step < 20 { step } else { 39 - step };
            let rate = 10f64.powf(f64::from(up) * 0.15 - 1.0);
            format!("{};{rate:.5};{:.5}\n", step * 10, 5.0 + 2.0 * rate.sqrt())
        })
        .collect();
    let read = table(&format!("time [s];shear rate [1/s];stress [Pa]\n{sweep}"), &Choices::default());
    assert_eq!((read.curves.len(), read.recoveries.len()), (2, 0));
    let steps: String = (0..5)
        .flat_map(|step| (0..10).map(move |at| (10 * step + at, 10f64.powi(step))))
        .map(|(time, rate)| format!("{time};{rate};{:.5}\n", 5.0 + rate.sqrt()))
        .collect();
    let read = table(&format!("time [s];shear rate [1/s];stress [Pa]\n{steps}"), &Choices::default());
    assert_eq!((read.curves.len(), read.recoveries.len()), (1, 0));
}

#[test]
fn what_is_wrong_is_told_with_its_place() {
    let usual = Asked::default();
    for (text, words) in [
        ("time [s],viscosity [Pa.s]\n0,30\n1,40\n", "needs 5"),
        ("time [s],viscosity [Pa.s]\n0,30\n1,30.1\n2,29.9\n3,30\n4,30.1\n5,29.9\n", "nothing comes back"),
        ("time [s],viscosity [Pa.s]\n0,60\n1,50\n2,46\n3,40\n4,38\n5,37\n6,36.5\n", "no recovery"),
        ("time [s],stress [Pa]\n0,3\n1,4\n2,5\n3,6\n4,7\n5,8\n", "shear rate it was read at"),
        (
            "time [s],speed [rpm],torque [%]\n0,5,3\n1,5,4\n2,5,5\n3,5,6\n4,5,7\n5,5,8\n",
            "until spindle and speed are known",
        ),
        ("time [s],viscosity [Pa.s]\n0,x\n1,-4\n2,0\n3,\n4,nan\n", "no point left"),
        ("time [s],viscosity [1/s]\n0,3\n1,4\n", "not a unit of viscosity"),
        ("[[recovery]]\ntime_s = [0, 1]\nviscosity_pa_s = [1]\n", "do not pair up"),
        ("[[recovery]]\ntime_s = [0, 1]\nstress_pa = [1, 2]\n", "shear rate it was read at"),
        ("[[recovery]]\ntime_s = [-1, 1]\nviscosity_pa_s = [1, 2]\n", "reading 1"),
        ("[[recovery]]\ntime_s = [0, 1]\nviscosity_pas = [1, 2]\n", "viscosity_pas"),
        (
            "[[recovery]]\ntime_s = [0, 1]\nviscosity_pa_s = [1, 2]\nbefore_pa_s = [0]\n",
            "before the strong shear",
        ),
    ] {
        let problem = refused(text, &usual);
        assert!(problem.what.contains(words), "{words}: {problem}");
    }
    let back = refused("time [s],viscosity [Pa.s]\n0,30\n1,35\n2,37\n1.5,38\n4,39\n5,40\n", &usual);
    assert_eq!((back.line, back.code.as_str()), (5, "time-runs-back"));
    let cross = Asked { model: "cross".to_owned(), ..Asked::default() };
    assert_eq!(refused(&three_intervals(false), &cross).code, "model-does-not-fit");
    let first_order = Asked { model: "first-order".to_owned(), ..Asked::default() };
    assert_eq!(
        refused("shear rate [1/s];stress [Pa]\n1;2\n2;3\n4;5\n", &first_order).code,
        "model-does-not-fit"
    );
    let one = fitted(&three_intervals(false), &first_order);
    assert_eq!(one.recoveries[0].laws.len(), 1);
    let unknown = Asked { model: "second-order".to_owned(), ..Asked::default() };
    assert!(refused(&three_intervals(false), &unknown).what_now.contains("first-order or stretched"));
}

#[test]
fn many_readings_are_gathered_and_keep_their_constants() {
    let mut text = String::from("time [s]\tviscosity [mPa.s]\n");
    for step in 0..5000 {
        let time = f64::from(step) * 0.1;
        text.push_str(&format!("{time:.1}\t{:.6}\n", 12000.0 - 9000.0 * (-(time / 40.0).powf(0.6)).exp()));
    }
    let fit = only(&text);
    assert_eq!(fit.measured, 5000);
    assert!(fit.points.len() <= 200 && fit.gathered.as_ref().unwrap().contains("5000 readings"));
    assert_eq!(fit.points[0].time_s, 0.0);
    let taken = &fit.laws[0];
    assert_eq!(taken.law, RecoveryLaw::Stretched);
    for (ours, made) in taken.parameters.iter().zip([3.0, 12.0, 40.0, 0.6]) {
        assert!((ours.estimate.value.unwrap() / made - 1.0).abs() < 5e-3, "{ours:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn readings_of_any_size_are_fitted_or_refused_in_words(
        readings in prop::collection::vec((0.0..1e6_f64, -1e3..1e7_f64), 0..30),
        rate in prop::option::of(-1.0..1e4_f64),
    ) {
        let mut text = String::from("time [s];shear rate [1/s];viscosity [Pa.s]\n");
        for (time, eta) in &readings {
            text.push_str(&format!("{time};{};{eta}\n", rate.map_or_else(String::new, |rate| rate.to_string())));
        }
        for text in [text.clone(), text.replace("shear rate [1/s]", "remark")] {
            match flow_fit(&FACTS, "a table", text.as_bytes(), &Asked::default()) {
                Ok(fit) => {
                    let shown = serde_json::to_string(&fit).unwrap();
                    prop_assert!(!shown.contains("NaN"));
                }
                Err(problems) => prop_assert!(!problems[0].what.is_empty() && !problems[0].what_now.is_empty()),
            }
        }
    }
}
