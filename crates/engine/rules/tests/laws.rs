//! Laws that hold for any formula: the order of lines means nothing, more of a substance is never judged more mildly, splitting a
//! line changes nothing.

use jiff::civil::Date;
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::library::{InWater, Library, Substance};
use levigate_formula::sheet::Product;
use levigate_measure::Sourced;
use levigate_rules::allergens::allergens;
use levigate_rules::book::{
    Allergen, Basis, Dates, LabelRules, Limit, Market, Member, Otherwise, Purpose, Row, Status,
};
use levigate_rules::label::ingredient_list;
use levigate_rules::limits::{Verdict, limits};
use levigate_rules::{Question, Usage};
use proptest::prelude::*;

const NAMES: [&str; 5] = ["water", "salt-of-acid", "acid", "scent", "glycerin"];

fn library() -> Library {
    let mut library = Library::default();
    for (at, key) in NAMES.iter().enumerate() {
        library.substances.insert(
            (*key).to_owned(),
            Substance {
                key: (*key).to_owned(),
                name: (*key).to_owned(),
                inci: Some((*key).to_owned()),
                molar_mass_g_mol: Some(Sourced {
                    value: 100.0 + 50.0 * at as f64,
                    source: "test".to_owned(),
                }),
                in_water: if at == 0 { InWater::Water } else { InWater::Neutral },
                ..Substance::default()
            },
        );
    }
    library
}

fn member(name: &str) -> Member {
    Member { name: name.to_owned(), ..Member::default() }
}

fn market() -> Market {
    let dates = Dates { in_force_before: Some(Date::constant(2015, 8, 1)), ..Dates::default() };
    let mut market = Market::default();
    market.enter_limit(Limit {
        key: "acid".to_owned(),
        market: "test".to_owned(),
        act: "test".to_owned(),
        amended_by: None,
        annex: "V".to_owned(),
        entry: "1".to_owned(),
        name: "acid".to_owned(),
        basis: Some(Basis { name: "acid".to_owned(), molar_mass_g_mol: 120.0 }),
        purpose: Purpose::Any,
        otherwise: Otherwise::NotPermitted,
        members: vec![member("salt-of-acid"), member("acid")],
        rows: vec![Row {
            row: None,
            scope: levigate_rules::usage::Scope::default(),
            products: "all".to_owned(),
            max_percent: Some(0.5),
            each: false,
            only: Vec::new(),
            conditions: Vec::new(),
            warnings: Vec::new(),
            dates: dates.clone(),
            status: None,
            source: None,
        }],
        status: Status::Verified,
        source: "test".to_owned(),
        note: None,
    });
    market.enter_allergen(Allergen {
        key: "scent".to_owned(),
        market: "test".to_owned(),
        act: "test".to_owned(),
        entry: "1".to_owned(),
        label_name: "Scent".to_owned(),
        members: vec![member("scent")],
        natural: false,
        leave_on_above_percent: 0.001,
        rinse_off_above_percent: 0.01,
        dates: dates.clone(),
        note: None,
        status: Status::Verified,
        source: "test".to_owned(),
    });
    market.label = Some(LabelRules {
        market: "test".to_owned(),
        act: "test".to_owned(),
        heading: "Ingredients".to_owned(),
        any_order_below_percent: 1.0,
        exactly_is_free: false,
        water: "Aqua".to_owned(),
        fragrance: "Parfum".to_owned(),
        nano_mark: "(nano)".to_owned(),
        durability_months: Some(30.0),
        notes: Vec::new(),
        dates,
        status: Status::Verified,
        source: "test".to_owned(),
    });
    market
}

fn usage() -> Usage {
    Usage::of(&Product {
        name: "Law".to_owned(),
        kind: "serum".to_owned(),
        site: "face".to_owned(),
        leave_on: true,
        markets: Vec::new(),
        client: None,
        note: None,
    })
}

/// A line of one or two substances.
fn line(at: usize, (percent, first, second, split): (f64, usize, usize, f64)) -> SettledLine {
    let share = |substance: usize, typical: f64| ConstituentShare {
        substance: NAMES[substance].to_owned(),
        low: typical * 0.9,
        typical,
        high: (typical * 1.1).min(100.0),
    };
    let mut constituents = vec![share(first, split)];
    if second != first {
        constituents.push(share(second, 100.0 - split));
    }
    SettledLine { line: at, phase: 0, material: format!("m{at}"), percent, exact: None, constituents }
}

/// Decimal places a person would type, so that sums in another order differ by rounding only.
fn lines() -> impl Strategy<Value = Vec<(f64, usize, usize, f64)>> {
    prop::collection::vec((0.0001f64..20.0, 0usize..5, 0usize..5, 0.0f64..100.0), 1..8)
}

fn rank(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Within => 0,
        Verdict::MayExceed => 1,
        Verdict::Exceeds => 2,
        other => panic!("{other:?} cannot come from this rule"),
    }
}

proptest! {
    #[test]
    fn the_order_of_lines_means_nothing(specs in lines()) {
        let (library, market, usage) = (library(), market(), usage());
        let forward: Vec<_> = specs.iter().enumerate().map(|(at, spec)| line(at, *spec)).collect();
        let mut backward = forward.clone();
        backward.reverse();
        let (one, other) = (Composition::of(forward), Composition::of(backward));
        let ask = |composition: &Composition| {
            let question = Question {
                composition, library: &library, usage: &usage, day: Date::constant(2026, 11, 24), ph: None,
            };
            let limits = limits(&question, &market);
            let allergens = allergens(&question, &market);
            let label = ingredient_list(&question, &market, &limits, &allergens, None).unwrap();
            let names: Vec<(String, f64)> =
                label.entries.iter().map(|entry| (entry.name.clone(), entry.amount.percent)).collect();
            (limits.first().and_then(|reading| reading.amount.value), limits.first().map(|reading| reading.verdict),
             allergens.first().and_then(|reading| reading.amount.value), names)
        };
        let (a, b) = (ask(&one), ask(&other));
        prop_assert!((a.0.unwrap_or(0.0) - b.0.unwrap_or(0.0)).abs() < 1e-9);
        prop_assert_eq!(a.1, b.1);
        prop_assert!((a.2.unwrap_or(0.0) - b.2.unwrap_or(0.0)).abs() < 1e-9);
        prop_assert_eq!(a.3.len(), b.3.len());
        for ((name, percent), (_, same)) in a.3.iter().zip(&b.3) {
            prop_assert!((percent - same).abs() < 1e-9, "{}", name);
        }
    }

    #[test]
    fn more_is_never_judged_more_mildly(percent in 0.0001f64..2.0, more in 0.0f64..2.0, substance in 1usize..3) {
        let (library, market, usage) = (library(), market(), usage());
        let verdict = |percent: f64| {
            let composition = Composition::of(vec![line(0, (percent, substance, substance, 100.0))]);
            let question = Question {
                composition: &composition, library: &library, usage: &usage,
                day: Date::constant(2026, 11, 24), ph: None,
            };
            let readings = limits(&question, &market);
            (rank(readings[0].verdict), readings[0].amount.value.unwrap())
        };
        let (less, greater) = (verdict(percent), verdict(percent + more));
        prop_assert!(greater.0 >= less.0);
        prop_assert!(greater.1 >= less.1);
    }

    #[test]
    fn the_label_loses_nothing_and_descends(specs in lines()) {
        let (library, market, usage) = (library(), market(), usage());
        let settled: Vec<_> = specs.iter().enumerate().map(|(at, spec)| line(at, *spec)).collect();
        let composition = Composition::of(settled);
        let question = Question {
            composition: &composition, library: &library, usage: &usage,
            day: Date::constant(2026, 11, 24), ph: None,
        };
        let (limits, allergens) = (limits(&question, &market), allergens(&question, &market));
        let list = ingredient_list(&question, &market, &limits, &allergens, None).unwrap();
        let written: f64 = list.entries.iter().map(|entry| entry.amount.percent).sum();
        let held: f64 = composition.substances.values().map(|share| share.percent).sum();
        prop_assert!((written - held).abs() < 1e-9, "{} against {}", written, held);
        for pair in list.entries.windows(2) {
            prop_assert!(
                pair[0].zone < pair[1].zone || pair[0].amount.percent >= pair[1].amount.percent,
                "{} before {}", pair[0].name, pair[1].name
            );
        }
    }
}
