//! Limits by profile, laws of temperature and recoveries after shear against another program; what the fits may not name.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_process::flow::estimate::Fitted;
use levigate_process::flow::temperature::{Moved, TemperatureLaw, joint, law_through};
use levigate_process::flow::thixotropy::{RecoveryLaw, recoveries, recovery};
use levigate_process::flow::{Curve, FlowModel, Weights, fit_all, fit_model};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use std::path::{Path, PathBuf};

fn here(folder: &str, file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(folder).join(file)
}

fn read<T: DeserializeOwned>(file: &str) -> T {
    toml::from_str(&std::fs::read_to_string(here("cross", file)).unwrap()).unwrap()
}

/// A curve of a table whose last two columns are shear rate and stress; the first names the sample where there is more than one.
fn curve(file: &str, sample: &str) -> Curve {
    let text = std::fs::read_to_string(here("cross", file)).unwrap();
    let (mut rates, mut stresses) = (Vec::new(), Vec::new());
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        if sample.is_empty() || cells[0] == sample {
            rates.push(cells[cells.len() - 2].parse().unwrap());
            stresses.push(cells[cells.len() - 1].parse().unwrap());
        }
    }
    Curve::new(&rates, &stresses).unwrap()
}

fn near(ours: f64, theirs: f64, relative: f64, what: &str) {
    assert!((ours / theirs - 1.0).abs() < relative, "{what}: {ours} against {theirs}");
}

#[derive(Deserialize)]
struct Limited {
    symbol: String,
    value: f64,
    low: Option<f64>,
    high: Option<f64>,
}

impl Limited {
    /// A millionth: both programs search the same crossing of the same function, to more digits than that.
    fn holds(&self, ours: &Fitted, what: &str) {
        assert_eq!(ours.symbol, self.symbol);
        near(ours.value, self.value, 1e-5, what);
        let profile = ours.profile.unwrap();
        for (ours, theirs) in [(profile.low, self.low), (profile.high, self.high)] {
            assert_eq!(ours.is_some(), theirs.is_some(), "{what}: {ours:?} against {theirs:?}");
            if let (Some(ours), Some(theirs)) = (ours, theirs) {
                near(ours, theirs, 1e-5, what);
            }
        }
    }
}

#[derive(Deserialize)]
struct Profiles {
    case: Vec<ProfileCase>,
}

#[derive(Deserialize)]
struct ProfileCase {
    file: String,
    sample: String,
    model: FlowModel,
    sum: f64,
    parameter: Vec<Limited>,
}

#[test]
fn limits_by_profile_agree_with_another_program() {
    let profiles: Profiles = read("flow_profiles.toml");
    assert_eq!(profiles.case.len(), 6);
    for case in &profiles.case {
        let curve = curve(&case.file, &case.sample);
        let fit = fit_model(&curve, case.model, Weights::Log).unwrap().with_profiles(&curve);
        near(fit.residuals.iter().map(|r| r * r).sum(), case.sum, 1e-7, &case.file);
        for (ours, theirs) in fit.parameters.iter().zip(&case.parameter) {
            theirs.holds(ours, &format!("{} {:?} {}", case.file, case.model, theirs.symbol));
        }
    }
}

#[derive(Deserialize)]
struct Temperatures {
    joint: Vec<JointCase>,
    glycerol: Vec<ValuesCase>,
}

#[derive(Deserialize)]
struct JointCase {
    file: String,
    model: FlowModel,
    law: TemperatureLaw,
    moved: MovedAs,
    samples: Vec<Sample>,
    sum: f64,
    values: Vec<f64>,
    errors: Vec<f64>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum MovedAs {
    Place(usize),
    Word(String),
}

#[derive(Deserialize)]
struct Sample {
    name: String,
    celsius: f64,
}

#[derive(Deserialize)]
struct ValuesCase {
    law: TemperatureLaw,
    sum: f64,
    values: Vec<f64>,
    errors: Vec<f64>,
}

/// Values within a hundredth of their standard error, which is far below what the data say; errors within a thousandth.
fn same(ours: &[Fitted], values: &[f64], errors: &[f64], what: &str) {
    assert_eq!(ours.len(), values.len());
    for ((ours, value), error) in ours.iter().zip(values).zip(errors) {
        assert!(
            (ours.value - value).abs() < 0.01 * error,
            "{what} {}: {} against {value}",
            ours.symbol,
            ours.value
        );
        near(ours.standard_error.unwrap(), *error, 2e-3, what);
    }
}

#[test]
fn laws_of_temperature_agree_with_another_program() {
    let cases: Temperatures = read("flow_temperature.toml");
    assert!(cases.joint.len() == 4 && cases.glycerol.len() == 2);
    for case in &cases.joint {
        let curves: Vec<Curve> = case
            .samples
            .iter()
            .map(|sample| curve(&case.file, &sample.name).at_temperature(sample.celsius))
            .collect();
        let moved = match &case.moved {
            MovedAs::Place(place) => Moved::Parameter(*place),
            MovedAs::Word(word) => {
                assert_eq!(word, "shear-rate");
                Moved::ShearRate
            }
        };
        let fit = joint(&curves, case.model, moved, case.law, 25.0, Weights::Log).unwrap();
        let sum: f64 = fit.residuals.iter().flatten().map(|r| r * r).sum();
        near(sum, case.sum, 1e-6, &case.file);
        same(&fit.parameters, &case.values, &case.errors, &case.file);
        // Neither product obeys one shift over its whole window; the fits say so.
        assert!(fit.not_shared.is_some());
    }
    let text = std::fs::read_to_string(here("published", "glycerol_water_viscosity.csv")).unwrap();
    let pure: Vec<(f64, f64)> = text
        .lines()
        .filter_map(|line| line.strip_prefix("100.0,")?.split_once(','))
        .map(|(celsius, viscosity)| (celsius.parse().unwrap(), viscosity.parse().unwrap()))
        .collect();
    let mut criteria = Vec::new();
    for case in &cases.glycerol {
        let fit = law_through(&pure, case.law, 25.0).unwrap();
        near(fit.residuals.iter().map(|r| r * r).sum(), case.sum, 1e-6, "glycerol");
        same(&fit.parameters, &case.values, &case.errors, "glycerol");
        criteria.push(fit.aicc.unwrap());
    }
    // Glycerol is the standard example of a liquid that Arrhenius' law does not follow and VFT does.
    assert!(criteria[1] < criteria[0] - 10.0);
}

#[test]
fn the_background_of_a_carbomer_gel_has_the_activation_energy_stated() {
    // Stated with the data: the background viscosity follows Arrhenius' law; 45 kJ/mol by another program's fits at 20, 30 and 40 C.
    let values: Vec<(f64, f64)> = [20.0, 30.0, 40.0]
        .iter()
        .map(|celsius| {
            let curve = curve("flow/caggioni_carbomer_glycerin_temp.csv", &format!("T_{celsius}"));
            let fit = fit_model(&curve, FlowModel::ThreeComponent, Weights::Log).unwrap();
            (*celsius, fit.parameters[2].value)
        })
        .collect();
    let fit = law_through(&values, TemperatureLaw::Arrhenius, 25.0).unwrap();
    assert!((fit.parameters[1].value / 45e3 - 1.0).abs() < 0.02, "{}", fit.parameters[1].value);
    // Two temperatures prove nothing.
    assert!(law_through(&values[..2], TemperatureLaw::Arrhenius, 25.0).is_err());
    assert!(law_through(&values, TemperatureLaw::Vft, 25.0).is_err());
}

#[derive(Deserialize)]
struct Recoveries {
    recovery: Vec<RecoveryCase>,
}

#[derive(Deserialize)]
struct RecoveryCase {
    law: RecoveryLaw,
    time_s: Vec<f64>,
    viscosity_pa_s: Vec<f64>,
    sum: f64,
    parameter: Vec<Limited>,
    follows: Vec<Follows>,
}

#[derive(Deserialize)]
struct Follows {
    what: String,
    value: f64,
    low: f64,
    high: f64,
}

#[test]
fn recoveries_after_shear_agree_with_another_program() {
    let cases: Recoveries = read("flow_recovery.toml");
    assert_eq!(cases.recovery.len(), 3);
    for case in &cases.recovery {
        let readings: Vec<(f64, f64)> =
            case.time_s.iter().copied().zip(case.viscosity_pa_s.iter().copied()).collect();
        let found = recovery(&readings, case.law).unwrap();
        near(found.residuals.iter().map(|r| r * r).sum(), case.sum, 1e-7, "sum");
        for (ours, theirs) in found.parameters.iter().zip(&case.parameter) {
            theirs.holds(ours, &format!("{:?} {}", case.law, theirs.symbol));
        }
        for theirs in &case.follows {
            let ours = match theirs.what.as_str() {
                "reached" => found.reached,
                "at_last" => found.at_last_pa_s,
                _ => found.nine_tenths_s,
            };
            near(ours.value, theirs.value, 1e-6, &theirs.what);
            for (ours, theirs) in ours.limits.unwrap().into_iter().zip([theirs.low, theirs.high]) {
                near(ours, theirs, 1e-5, "limit");
            }
        }
        // Only what the readings came near to is named.
        let end = found.parameters[1].not_settled.is_none();
        assert_eq!(end, found.reached.value > 0.8);
        assert_eq!(recoveries(&readings).unwrap()[0].law, case.law);
    }
}

#[test]
fn a_yield_stress_is_doubted_where_a_high_viscosity_at_rest_explains_the_points() {
    // Points of a Cross liquid with 500 Pa.s at rest, measured down to where its plateau hardly shows, with the scatter of a rheometer.
    let liquid = [500.0, 120.0, 0.85];
    let (rates, stresses): (Vec<f64>, Vec<f64>) = (0..24)
        .map(|k| {
            let rate = 10f64.powf(f64::from(k) * 0.2 - 2.4);
            let scatter = 1.0 + 0.02 * (f64::from(k * k) * 1.7).sin();
            (rate, FlowModel::CrossThinning.stress(&liquid, rate) * scatter)
        })
        .unzip();
    let ranking = fit_all(&Curve::new(&rates, &stresses).unwrap(), Weights::Log);
    for fit in ranking.fits.iter().filter(|fit| fit.model.yields()) {
        assert!(fit.parameters[0].not_settled.is_some(), "{:?}", fit.model);
    }
    // A gel measured far down, whose stress stands still there, keeps its yield stress.
    let gel = curve("flow/paredes2013_fig1.csv", "phi_0.8");
    let ranking = fit_all(&gel, Weights::Log);
    let taken = &ranking.fits[ranking.taken.unwrap()];
    assert!(taken.model.yields() && taken.parameters[0].not_settled.is_none(), "{taken:?}");
}

#[test]
fn a_plateau_out_of_reach_is_not_named() {
    let rates: Vec<f64> = (0..16).map(|k| 10f64.powf(f64::from(k) * 0.2)).collect();
    let scatter = |k: usize| 1.0 + 0.01 * (k as f64 * 2.3).sin();
    let of = |at_rest: f64, time: f64| {
        let stresses: Vec<f64> = rates
            .iter()
            .enumerate()
            .map(|(k, rate)| FlowModel::Cross.stress(&[at_rest, 0.01, time, 0.7], *rate) * scatter(k))
            .collect();
        Curve::new(&rates, &stresses).unwrap()
    };
    let named = |curve: &Curve| {
        fit_model(curve, FlowModel::CrossThinning, Weights::Log).unwrap().parameters[0].not_settled.is_none()
    };
    // The bend at 0.1 1/s lies below the first point, the one at 1000 1/s three decades above it.
    assert!(!named(&of(50.0, 10.0)) && named(&of(5.0, 0.001)));
    // The second plateau, 0.01 Pa.s, lies far below all viscosities measured.
    let fit = fit_model(&of(5.0, 0.1), FlowModel::Cross, Weights::Log).unwrap();
    assert!(fit.parameters[1].not_settled.is_some());
}

#[test]
fn a_fit_keeps_what_it_rests_on_and_shows_its_residuals() {
    let curve = curve("flow/caggioni_carbomer_glycerin_temp.csv", "T_20").at_temperature(20.0);
    let good = fit_model(&curve, FlowModel::ThreeComponent, Weights::Log).unwrap();
    let poor = fit_model(&curve, FlowModel::Bingham, Weights::Relative).unwrap();
    assert_eq!(
        (poor.weights, poor.temperature_c, poor.window),
        (Weights::Relative, Some(20.0), curve.window())
    );
    let points = good.residual_points(&curve);
    assert_eq!(points.len(), curve.len());
    for point in &points {
        near((point.fitted / point.stress).ln() + 1.0, point.residual + 1.0, 1e-12, "residual");
    }
    // A Bingham line through a bent curve leaves long stretches of one sign.
    assert!(poor.runs().unwrap().systematic);
}
