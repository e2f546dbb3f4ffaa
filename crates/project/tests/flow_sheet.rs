//! What the flow figure shows hangs together: the curve runs through the box exactly when the reading lies in the window.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::date;
use levigate_assess::Inquiry;
use levigate_facts::shipped;
use levigate_process::flow::Liquid as _;
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use levigate_project::workbench::flow_sheet;

const CLEAR_GEL: &str = include_str!("../../../examples/scenarios/5-hypromellose-clear-gel.toml");
const THIN: &str = r#"
[product]
name = "Thin"
type = "toner"
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
percent = 5
"#;

fn shown(text: &str, with: impl FnOnce(&flow_sheet::FlowSheet, &levigate_assess::Assessed<'_>)) {
    let facts = &shipped().unwrap();
    let formula = formula_file::read("test", text).unwrap();
    let inquiry =
        Inquiry { sheet: &formula.sheet, known: known(facts), day: date(2026, 11, 26), market: "eu" };
    let assessed = levigate_assess::assess(&inquiry).unwrap();
    with(&flow_sheet::of(facts, &formula.sheet, &assessed), &assessed);
}

#[test]
fn the_box_lies_where_the_curve_shows_what_is_read() {
    shown(CLEAR_GEL, |shown, assessed| {
        let wanted = shown.wanted.as_ref().unwrap();
        let read = assessed.assessment.flow.at_brief.value.unwrap();
        let on_curve = 1e3 * assessed.flow.viscosity(wanted.shear_rate);
        assert!((on_curve / read - 1.0).abs() < 1e-6, "{on_curve} and {read}");
        assert_eq!(wanted.mpa_s, [5000.0, 7000.0]);
        assert!(shown.curve.iter().all(|point| point.viscosity_pa_s.is_sorted()));
        assert!(shown.life.iter().all(|(_, [low, high])| low <= high));
    });
}

#[test]
fn a_thin_liquid_has_neither_yield_stress_nor_box() {
    shown(THIN, |shown, _| {
        assert!(shown.yield_stress.is_none() && shown.wanted.is_none() && shown.refused.is_none());
        assert!(!shown.curve.is_empty());
    });
}
