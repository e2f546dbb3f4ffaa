//! Laws that flow models, tubes and fits obey whatever the numbers.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_measure::elementary::Elementary as _;
use levigate_process::flow::pipe::{HerschelBulkley, Tube};
use levigate_process::flow::temperature::{Moved, TemperatureLaw, joint, law_through};
use levigate_process::flow::thixotropy::{loop_between, recoveries};
use levigate_process::flow::{Curve, FlowModel, Weights, fit_all, fit_model};
use proptest::prelude::*;
use std::f64::consts::PI;

/// Parameters anywhere within the bounds a fit keeps, those of many decades by their logarithm.
fn within_bounds() -> impl Strategy<Value = (FlowModel, Vec<f64>)> {
    (0..FlowModel::ALL.len(), proptest::collection::vec(0.0..1.0f64, 5)).prop_map(|(which, shares)| {
        let model = FlowModel::ALL[which];
        let parameters = model
            .parameters()
            .iter()
            .zip(shares)
            .map(|(parameter, share)| {
                let [low, high] = parameter.bounds;
                if parameter.by_logarithm {
                    low * (high / low).to_the(share)
                } else {
                    low + (high - low) * share
                }
            })
            .collect();
        (model, parameters)
    })
}

/// A number of a decade or several.
fn decades(low: f64, high: f64) -> impl Strategy<Value = f64> {
    (0.0..1.0f64).prop_map(move |share| low * (high / low).to_the(share))
}

fn close(ours: f64, theirs: f64, relative: f64) -> bool {
    (ours / theirs - 1.0).abs() < relative
}

/// A curve of a model at 25 shear rates over six decades about a middle.
fn exact(model: FlowModel, parameters: &[f64], middle: f64) -> Curve {
    let rates: Vec<f64> = (0..25).map(|k| middle * 10f64.to_the(f64::from(k) * 0.25 - 3.0)).collect();
    let stresses: Vec<f64> = rates.iter().map(|rate| model.stress(parameters, *rate)).collect();
    Curve::new(&rates, &stresses).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn a_viscosity_is_never_negative((model, parameters) in within_bounds(), rate in decades(1e-8, 1e8)) {
        let viscosity = model.viscosity(&parameters, rate);
        prop_assert!(viscosity >= 0.0 && viscosity.is_finite(), "{model:?} {parameters:?} at {rate}: {viscosity}");
    }

    #[test]
    fn a_stress_rises_with_the_shear_rate((model, parameters) in within_bounds(), rate in decades(1e-6, 1e6)) {
        // But for models whose stress may fall: an exponent above one.
        let falls = matches!(model, FlowModel::Cross | FlowModel::CrossThinning) && parameters[parameters.len() - 1] > 1.0;
        let first = parameters.first().copied().unwrap_or_default();
        let turned = model.parameters().get(1).is_some_and(|second| second.symbol == "eta_inf") && parameters[1] > first;
        if !falls && !turned {
            let (here, above) = (model.stress(&parameters, rate), model.stress(&parameters, 1.1 * rate));
            prop_assert!(above >= here * (1.0 - 1e-12), "{model:?} {parameters:?} at {rate}: {here} {above}");
        }
    }

    #[test]
    fn an_index_of_one_gives_hagen_and_poiseuille(
        viscosity in decades(1e-4, 1e3), radius_m in decades(1e-4, 0.1), length_m in decades(1e-3, 10.0), pressure in decades(1.0, 1e7),
    ) {
        let tube = Tube { radius_m, length_m };
        let liquid = HerschelBulkley { yield_pa: 0.0, consistency: viscosity, index: 1.0 };
        let flow = tube.flow(&liquid, tube.wall_stress(pressure));
        prop_assert!(close(flow, PI * radius_m.powi(4) * pressure / (8.0 * viscosity * length_m), 1e-12));
    }

    #[test]
    fn a_yield_stress_that_vanishes_leaves_the_power_law(
        consistency in decades(1e-2, 1e3), index in 0.1..1.2f64, wall in decades(1.0, 1e4),
    ) {
        let tube = Tube { radius_m: 1e-3, length_m: 0.1 };
        let with = |yield_pa: f64| tube.flow(&HerschelBulkley { yield_pa, consistency, index }, wall);
        prop_assert!(close(with(1e-9 * wall), with(0.0), 1e-7));
        prop_assert!(with(0.1 * wall) < with(0.0));
    }

    #[test]
    fn models_meet_in_their_limits(
        at_rest in decades(1e-2, 1e3), ratio in decades(1e-6, 0.5), time in decades(1e-4, 1e4), index in 0.1..0.95f64, rate in decades(1e-4, 1e6),
    ) {
        let high = ratio * at_rest;
        let carreau = FlowModel::Carreau.viscosity(&[at_rest, high, time, index], rate);
        prop_assert!(close(FlowModel::CarreauYasuda.viscosity(&[at_rest, high, time, 2.0, index], rate), carreau, 1e-10));
        // Far beyond the bend: K = eta0 L^-m, n = 1 - m.
        let far = (1e10_f64).to_the(1.0 / (1.0 - index)) / time;
        let law = at_rest * (time * far).to_the(index - 1.0);
        prop_assert!(close(FlowModel::CrossThinning.viscosity(&[at_rest, time, 1.0 - index], far), law, 1e-9));
        let far = 1e6 / time;
        let law = at_rest * (time * far).to_the(index - 1.0);
        prop_assert!(close(FlowModel::CarreauThinning.viscosity(&[at_rest, time, index], far), law, 1e-9));
        let bingham = FlowModel::Bingham.stress(&[at_rest, high], rate);
        prop_assert!(close(FlowModel::HerschelBulkley.stress(&[at_rest, high, 1.0], rate), bingham, 1e-12));
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    #[test]
    fn exact_points_give_their_parameters_back(
        scale in decades(1e-2, 1e3), ratio in decades(1e-4, 1e-2), time in decades(1e-2, 1e2), exponent in 0.35..0.9f64,
    ) {
        let cases: [(FlowModel, Vec<f64>, f64); 7] = [
            (FlowModel::PowerLaw, vec![scale, exponent], 1.0),
            (FlowModel::HerschelBulkley, vec![scale, scale * time.to_the(exponent), exponent], time.recip()),
            (FlowModel::ThreeComponent, vec![scale, time.recip(), scale * time * 0.3], time.recip()),
            (FlowModel::Cross, vec![scale, ratio * scale, time, exponent], 10.0 / time),
            (FlowModel::CarreauThinning, vec![scale, time, 1.0 - exponent], time.recip()),
            (FlowModel::Carreau, vec![scale, ratio * scale, time, 1.0 - exponent], 30.0 / time),
            (FlowModel::Ellis, vec![scale, scale / time, 1.0 / (1.0 - 0.8 * exponent)], time.recip()),
        ];
        for (model, parameters, middle) in cases {
            let fit = fit_model(&exact(model, &parameters, middle), model, Weights::Log).unwrap();
            for (fitted, wanted) in fit.parameters.iter().zip(&parameters) {
                prop_assert!(close(fitted.value, *wanted, 1e-6), "{model:?} {parameters:?}: {fitted:?}");
            }
        }
    }
}

/// Deviations of a rheometer, the same in all units.
fn scattered(model: FlowModel, parameters: &[f64], stress_unit: f64, rate_unit: f64) -> Curve {
    let (rates, stresses): (Vec<f64>, Vec<f64>) = (0..25)
        .map(|k| {
            let rate = 10f64.to_the(f64::from(k) * 0.25 - 3.0);
            let scatter = 1.0 + 0.02 * (f64::from(k * k) * 0.7).sine();
            (rate * rate_unit, model.stress(parameters, rate) * scatter * stress_unit)
        })
        .unzip();
    Curve::new(&rates, &stresses).unwrap()
}

#[test]
fn units_do_not_matter() {
    // mPa and 1/min instead of Pa and 1/s: viscosities times 1000/60, times by 1/60, exponents as they were.
    let (stress_unit, rate_unit) = (1000.0, 60.0);
    let factor = |unit: &str, index: f64| match unit {
        "Pa" => stress_unit,
        "Pa s" => stress_unit / rate_unit,
        "Pa s^n" => stress_unit / rate_unit.to_the(index),
        "s" => 1.0 / rate_unit,
        "1/s" => rate_unit,
        _ => 1.0,
    };
    for (model, parameters) in [
        (FlowModel::Cross, vec![10.0, 0.05, 2.0, 0.7]),
        (FlowModel::HerschelBulkley, vec![8.0, 5.0, 0.45]),
        (FlowModel::ThreeComponent, vec![7.5, 0.05, 2.0]),
        (FlowModel::CarreauYasudaThinning, vec![10.0, 2.0, 0.8, 0.4]),
        (FlowModel::Ellis, vec![10.0, 4.0, 2.6]),
    ] {
        let plain = scattered(model, &parameters, 1.0, 1.0);
        let scaled = scattered(model, &parameters, stress_unit, rate_unit);
        for weights in [Weights::Log, Weights::Relative, Weights::Linear] {
            let (a, b) =
                (fit_model(&plain, model, weights).unwrap(), fit_model(&scaled, model, weights).unwrap());
            let index = a.parameters.iter().find(|it| it.symbol == "n").map_or(1.0, |it| it.value);
            for (a, b) in a.parameters.iter().zip(&b.parameters) {
                let wanted = a.value * factor(a.unit, index);
                assert!(
                    close(b.value, wanted, 1e-5),
                    "{model:?} {weights:?} {}: {} {wanted}",
                    a.symbol,
                    b.value
                );
                assert_eq!(
                    a.not_settled.is_some(),
                    b.not_settled.is_some(),
                    "{model:?} {weights:?} {}",
                    a.symbol
                );
            }
        }
        let (a, b) = (fit_all(&plain, Weights::Log), fit_all(&scaled, Weights::Log));
        let taken = |ranking: &levigate_process::flow::Ranking| ranking.fits[ranking.taken.unwrap()].model;
        assert_eq!(taken(&a), taken(&b));
        for fit in &a.fits {
            let same = b.fits.iter().find(|other| other.model == fit.model).unwrap();
            assert!((fit.aicc.unwrap() - same.aicc.unwrap()).abs() < 1e-4, "{:?}", fit.model);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    /// Points no rheometer gives: whatever they are, there is an answer or a refusal, and every number shown is one.
    #[test]
    fn wild_points_bring_no_fit_down(
        points in proptest::collection::vec((decades(1e-150, 1e150), decades(1e-150, 1e150)), 2..14),
        tame in proptest::collection::vec((decades(1e-3, 1e3), decades(1e-1, 1e1)), 2..14),
        same in any::<bool>(),
    ) {
        for mut points in [points, tame] {
            if same {
                points.iter_mut().for_each(|point| point.1 = 1.0);
            }
            let (rates, stresses): (Vec<f64>, Vec<f64>) = points.iter().copied().unzip();
            let Ok(curve) = Curve::new(&rates, &stresses) else { continue };
            for weights in [Weights::Log, Weights::Relative, Weights::Linear] {
                for fit in fit_all(&curve, weights).fits {
                    for parameter in &fit.with_profiles(&curve).parameters {
                        prop_assert!(!parameter.value.is_nan());
                        prop_assert!(parameter.standard_error.is_none_or(|it| it.is_finite()));
                        prop_assert!(parameter.limits.is_none_or(|limits| limits.iter().all(|it| it.is_finite())));
                    }
                }
            }
            let _ = loop_between(&curve, &curve, Some(0.01)).map(|found| found.builds_up());
            for recovery in recoveries(&points).unwrap_or_default() {
                prop_assert!(recovery.parameters.iter().all(|it| !it.value.is_nan()));
            }
            let curves = [10.0, 20.0, 30.0, 40.0].map(|celsius| curve.clone().at_temperature(celsius));
            for law in [TemperatureLaw::Arrhenius, TemperatureLaw::Vft] {
                let _ = joint(&curves, FlowModel::Cross, Moved::ShearRate, law, 25.0, Weights::Log);
                let _ = law_through(&[(10.0, rates[0]), (20.0, rates[1]), (30.0, stresses[0]), (40.0, stresses[1])], law, 25.0);
            }
        }
    }
}
