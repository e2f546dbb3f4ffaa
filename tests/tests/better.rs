//! The better formula: against every formula of a grid read by the engine itself, and the laws a search must keep.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use jiff::civil::date;
use levigate_assess::better::{AimAsked, Asked, Move, Quantity, WishAsked, WishOn, better};
use levigate_assess::{Inquiry, assess};
use levigate_facts::Facts;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_project::formula_file;
use levigate_project::workbench::assess::{facts_for, known};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

const TONER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[target]\nph = [4.8, 5.2]\n\
    [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Propanediol\"\npercent = 3\n\
    [[phase.line]]\nmaterial = \"Xanthan gum\"\npercent = 0.3\n[[phase.line]]\nmaterial = \"Sodium benzoate\"\npercent = 0.4\n\
    [[phase.line]]\nmaterial = \"Potassium sorbate\"\npercent = 0.2\n[[phase.line]]\nmaterial = \"Lactic acid 90 %\"\nto_ph = 5.0\n";
const PRICES: [(&str, &str); 5] = [
    ("propanediol", "6.50"),
    ("xanthan-gum", "14.50"),
    ("sodium-benzoate", "4.10"),
    ("potassium-sorbate", "7.20"),
    ("lactic-acid-90", "5.00"),
];

fn priced() -> String {
    let price = |(material, per_kg): &(&str, &str)| {
        format!(
            "[[price]]\nmaterial = \"{material}\"\nper_kg = \"{per_kg}\"\ncurrency = \"EUR\"\ndate = \"2026-09-01\"\n"
        )
    };
    format!("{TONER}{}", PRICES.iter().map(price).collect::<String>())
}

fn moved(line: usize, low: i64, high: i64, step: i64, may_be_off: bool) -> Move {
    let of = |hundredths| Decimal::new(hundredths, 2);
    Move { line, low: of(low), high: of(high), step: of(step), may_be_off }
}

fn wish(of: Quantity, least: Option<f64>, most: Option<f64>) -> WishAsked {
    WishAsked { on: WishOn { of, name: "wish".to_owned() }, least, most }
}

fn plain(word: &str) -> Quantity {
    Quantity::plain(word).unwrap()
}

fn cheapest(moves: Vec<Move>, wishes: Vec<WishAsked>) -> Asked {
    Asked {
        moves,
        groups: Vec::new(),
        aims: vec![AimAsked { of: plain("cost_per_kg"), name: "cost".to_owned(), most: false }],
        wishes,
        others: 0,
        near_percent: 10.0,
        rungs: None,
        seed: 1,
    }
}

fn with(text: &str, work: impl FnOnce(&Inquiry<'_>)) {
    let shipped: Facts = levigate_facts::shipped().unwrap();
    let formula = formula_file::read("toner", text).unwrap();
    let facts = facts_for(&shipped, "toner", &formula).unwrap();
    work(&Inquiry { sheet: &formula.sheet, known: known(&facts), day: date(2026, 11, 24), market: "eu" });
}

/// The cheapest of all formulas on the steps that keep the wishes, each assessed as a whole.
fn cheapest_of_all(
    inquiry: &Inquiry<'_>,
    moves: &[Move],
    keeps: impl Fn(&levigate_assess::Assessment) -> bool,
) -> Option<f64> {
    let places = |one: &Move| {
        let count = ((one.high - one.low) / one.step).floor().to_i64().unwrap();
        let on = (0..=count).map(|step| one.low + one.step * Decimal::from(step));
        let off = one.may_be_off.then_some(Decimal::ZERO);
        off.into_iter().chain(on).collect::<Vec<_>>()
    };
    let mut all: Vec<Vec<Decimal>> = vec![Vec::new()];
    for one in moves {
        all = all
            .into_iter()
            .flat_map(|at| places(one).into_iter().map(move |level| [at.clone(), vec![level]].concat()))
            .collect();
    }
    let mut best: Option<f64> = None;
    for levels in all {
        let mut sheet: Sheet = inquiry.sheet.clone();
        for (one, level) in moves.iter().zip(levels) {
            let line = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines).nth(one.line).unwrap();
            line.amount = if matches!(line.amount, Amount::ToPh(_)) {
                Amount::ToPh(level)
            } else {
                Amount::Percent(level)
            };
        }
        let assessed = assess(&Inquiry { sheet: &sheet, ..*inquiry }).unwrap();
        let cost = assessed.assessment.rules.cost.per_kg.value.unwrap();
        if keeps(&assessed.assessment) && best.is_none_or(|best| cost < best) {
            best = Some(cost);
        }
    }
    best
}

/// Least working form of a substance over the pH looked at, mg/kg.
fn free(reading: &levigate_assess::Assessment, substance: &str) -> f64 {
    let at = reading.preservatives.at.iter().filter_map(|at| {
        at.preservatives.iter().find(|one| one.substance == substance).and_then(|one| one.working.value)
    });
    at.fold(f64::INFINITY, f64::min) * 1e4
}

#[test]
fn no_formula_on_the_steps_is_cheaper_than_the_one_that_is_found() {
    with(&priced(), |inquiry| {
        let moves = vec![
            moved(1, 100, 400, 50, false),
            moved(2, 10, 60, 5, false),
            moved(3, 10, 50, 5, false),
            moved(4, 10, 40, 10, true),
        ];
        for [benzoic, sorbic, thick] in [[250.0, 0.0, 300.0], [150.0, 250.0, 450.0], [200.0, 200.0, 100.0]] {
            let wishes = vec![
                wish(Quantity::FreePreservative(3), Some(benzoic), None),
                wish(Quantity::FreePreservative(4), Some(sorbic), None),
                wish(Quantity::ViscosityAt(10.0), Some(thick), None),
                wish(Quantity::Sum(vec![(1, 1.0), (2, 10.0)]), Some(6.0), None),
            ];
            let asked = cheapest(moves.clone(), wishes);
            let found = better(inquiry, &asked, &mut |_, _| true).unwrap();
            let best = &found.answers[0];
            assert!(found.conflict.is_none(), "{:?}", found.conflict);
            // Every formula is assessed as a whole: sums by the lines, viscosity from the curve.
            let all = cheapest_of_all(inquiry, &moves, |reading| {
                let percent = |line: usize| reading.lines[line].percent.value.unwrap();
                let at_ten = reading.flow.curve.iter().min_by(|a, b| {
                    (a.shear_rate.ln() - 10f64.ln()).abs().total_cmp(&(b.shear_rate.ln() - 10f64.ln()).abs())
                });
                let at_ten = at_ten.unwrap();
                assert!((at_ten.shear_rate - 10.0).abs() < 1e-6, "{}", at_ten.shear_rate);
                free(reading, "sodium-benzoate") >= benzoic
                    && (sorbic == 0.0
                        || free(reading, "potassium-sorbate").min(1e9) >= sorbic && percent(4) > 0.0)
                    && at_ten.viscosity_pa_s[1] * 1e3 >= thick
                    && percent(1) + 10.0 * percent(2) >= 6.0 - 1e-9
            })
            .unwrap();
            let cost = best.aims[0].value.unwrap();
            assert!((cost - all).abs() < 1e-9, "{cost} for {all}: {:?}", best.lines);
            assert!(best.wishes.iter().all(|wish| wish.kept));
        }
    });
}

#[test]
fn a_ph_may_move_and_giving_way_never_costs() {
    with(&priced(), |inquiry| {
        let moves = vec![moved(3, 10, 50, 5, false), moved(5, 480, 520, 5, false)];
        let cost = |least: f64, most: f64| {
            let wishes = vec![
                wish(Quantity::FreePreservative(3), Some(least), None),
                wish(plain("adjuster_percent"), None, Some(most)),
            ];
            let found = better(inquiry, &cheapest(moves.clone(), wishes), &mut |_, _| true).unwrap();
            found.conflict.is_none().then(|| found.answers[0].aims[0].value.unwrap())
        };
        let costs: Vec<f64> =
            [150.0, 200.0, 250.0, 300.0].iter().map(|least| cost(*least, 0.2).unwrap()).collect();
        assert!(costs.windows(2).all(|pair| pair[0] <= pair[1] + 1e-12), "{costs:?}");
        assert!(cost(250.0, 0.2).unwrap() <= cost(250.0, 0.055).unwrap() + 1e-12);
        assert!(cost(5_000.0, 0.2).is_none());
    });
}

#[test]
fn the_order_of_lines_and_moves_does_not_matter_and_groups_are_kept() {
    let turned = {
        let text = priced();
        let lines: Vec<&str> = text.split("[[phase.line]]").collect();
        // Head, water, propanediol, gum, benzoate, sorbate, acid with prices: two of them exchanged.
        [lines[0], lines[1], lines[4], lines[3], lines[2], lines[5], lines[6]].join("[[phase.line]]")
    };
    let mut costs = Vec::new();
    for (text, glycol, benzoate) in [(priced(), 1, 3), (turned, 3, 1)] {
        with(&text, |inquiry| {
            let mut moves = vec![
                moved(glycol, 100, 400, 50, true),
                moved(2, 10, 60, 5, true),
                moved(benzoate, 10, 50, 5, true),
                moved(4, 10, 40, 5, true),
            ];
            if glycol == 3 {
                moves.reverse();
            }
            let wishes = vec![
                wish(Quantity::FreePreservative(benzoate), Some(150.0), None),
                wish(Quantity::Sum(vec![(glycol, 1.0), (2, 5.0)]), Some(2.5), None),
            ];
            let mut asked = cheapest(moves, wishes);
            asked.groups = vec![(vec![glycol, 2], 1, 1), (vec![benzoate, 4], 2, 2)];
            let found = better(inquiry, &asked, &mut |_, _| true).unwrap();
            let on = |line: usize| found.answers[0].lines[line].percent.value.unwrap() > 0.0;
            assert!(on(glycol) != on(2) && on(benzoate) && on(4), "{:?}", found.answers[0].lines);
            costs.push(found.answers[0].aims[0].value.unwrap());
            let again = better(inquiry, &asked, &mut |_, _| true).unwrap();
            assert_eq!(again.answers[0].aims, found.answers[0].aims);
        });
    }
    assert!((costs[0] - costs[1]).abs() < 1e-9, "{costs:?}");
}

#[test]
fn aims_against_each_other_beat_no_answer_in_both() {
    with(&priced(), |inquiry| {
        let moves =
            vec![moved(1, 100, 400, 50, false), moved(3, 10, 50, 5, false), moved(4, 10, 40, 5, false)];
        let mut asked = cheapest(moves, vec![wish(plain("limit_use_percent"), None, Some(100.0))]);
        asked.aims.push(AimAsked { of: Quantity::FreePreservative(3), name: "free".to_owned(), most: true });
        let found = better(inquiry, &asked, &mut |_, _| true).unwrap();
        let aims: Vec<[f64; 2]> =
            found.answers.iter().map(|answer| [0, 1].map(|aim| answer.aims[aim].value.unwrap())).collect();
        assert!(aims.len() >= 5, "{aims:?}");
        // Dearer and more of it, one after the other: on steps of 0.05 from 0.1 to 0.5 % there are nine at most.
        assert!(aims.windows(2).all(|pair| pair[0][0] < pair[1][0] && pair[0][1] < pair[1][1]), "{aims:?}");
        assert!(aims.len() <= 9);
    });
}
