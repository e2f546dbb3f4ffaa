//! The weighing model against figures printed elsewhere and against a Monte Carlo that shares no code with it.

use levigate_measure::weighing::{
    Air, Balance, BalanceRecord, Certificate, DilutionLimits, Indication, USUAL_AIR_KG_M3, Verified,
    Weighing, buoyancy_factor, floating,
};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    net_weight: Vec<NetWeight>,
    linearity: Vec<Linearity>,
    minimum_weight: Vec<MinimumWeight>,
    batch: Vec<Batch>,
    dilution: Vec<DilutionCase>,
    reading: Vec<ReadingCase>,
    air: Vec<AirCase>,
    buoyancy: Vec<BuoyancyCase>,
    class: Vec<ClassCase>,
    floating: Vec<FloatingCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NetWeight {
    name: String,
    source: String,
    readability_g: String,
    repeatability_g: f64,
    eccentricity_per_load: f64,
    #[serde(default)]
    expanded_g: f64,
    coverage_factor: Option<f64>,
    net_g: f64,
    variance_g2: f64,
    tolerance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Linearity {
    name: String,
    source: String,
    linearity_g: f64,
    standard_uncertainty_g: f64,
    tolerance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MinimumWeight {
    name: String,
    source: String,
    readability_g: String,
    repeatability_g: f64,
    tolerance_percent: f64,
    grams: f64,
    tolerance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Batch {
    name: String,
    source: String,
    readability_g: String,
    batch_g: f64,
    percent: Vec<f64>,
    relative_sd_percent: Vec<f64>,
    tolerance_percent_absolute: f64,
    monte_carlo_percent: Vec<f64>,
    monte_carlo_tolerance: f64,
    monte_carlo_rounding_percent: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DilutionCase {
    name: String,
    source: String,
    readability_g: String,
    needed_g: String,
    tolerance_percent: f64,
    strength_percent: String,
    made_g: String,
    expanded_percent: f64,
    tolerance: f64,
}

fn cases() -> Cases {
    toml::from_str(include_str!("../published/weighing.toml")).expect("the cases can be read")
}

fn balance(readability: &str, repeatability_g: Option<f64>, certificate: Option<Certificate>) -> Balance {
    Balance::try_from(BalanceRecord {
        name: None,
        readability_g: readability.parse().expect("a readability"),
        repeatability_g,
        capacity_g: None,
        certificate,
    })
    .expect("a balance")
}

fn near(name: &str, source: &str, got: f64, expected: f64, relative: f64) {
    assert!(!source.is_empty(), "{name} has no source");
    assert!(
        (got - expected).abs() <= relative * expected.abs(),
        "{name}: got {got}, {source} has {expected} within {relative}"
    );
}

#[test]
fn a_net_weight_carries_what_the_certificate_says() {
    for case in cases().net_weight {
        let certificate = Certificate {
            expanded_g: case.expanded_g,
            coverage_factor: case.coverage_factor.unwrap_or(2.0),
            linearity_g: None,
            eccentricity_per_load: Some(case.eccentricity_per_load),
            at: Vec::new(),
        };
        let balance = balance(&case.readability_g, Some(case.repeatability_g), Some(certificate));
        let variance = balance.standard_uncertainty_g(case.net_g).powi(2);
        near(&case.name, &case.source, variance, case.variance_g2, case.tolerance);
    }
}

#[test]
fn linearity_counts_twice() {
    for case in cases().linearity {
        let bare = balance("0.0001", Some(0.0), None).standard_uncertainty_g(1.0);
        let certificate = Certificate {
            expanded_g: 0.0,
            coverage_factor: 2.0,
            linearity_g: Some(case.linearity_g),
            eccentricity_per_load: None,
            at: Vec::new(),
        };
        let with = balance("0.0001", Some(0.0), Some(certificate)).standard_uncertainty_g(1.0);
        let got = (with * with - bare * bare).sqrt();
        near(&case.name, &case.source, got, case.standard_uncertainty_g, case.tolerance);
    }
}

#[test]
fn minimum_weights_are_the_printed_ones() {
    for case in cases().minimum_weight {
        let balance = balance(&case.readability_g, Some(case.repeatability_g), None);
        let got = balance.minimum_weight_g(case.tolerance_percent / 100.0);
        near(&case.name, &case.source, got, case.grams, case.tolerance);
    }
}

#[test]
fn every_line_of_the_batch_has_the_uncertainty_a_simulation_finds() {
    for case in cases().batch {
        let balance = balance(&case.readability_g, None, None);
        let masses: Vec<f64> = case.percent.iter().map(|percent| percent / 100.0 * case.batch_g).collect();
        let weighing = Weighing::of(&balance, &masses);
        assert_eq!(case.percent.len(), case.relative_sd_percent.len());
        assert_eq!(case.percent.len(), case.monte_carlo_percent.len());
        for line in 0..masses.len() {
            let got = 100.0 * weighing.relative_standard(line).expect("a line of something");
            let expected = case.relative_sd_percent[line];
            assert!(
                (got - expected).abs() <= case.tolerance_percent_absolute,
                "{} ({}), line {line}: got {got}, expected {expected}",
                case.name,
                case.source
            );
            let simulated = case.monte_carlo_percent[line];
            let allowed = case.monte_carlo_rounding_percent + case.monte_carlo_tolerance * simulated;
            assert!(
                (got - simulated).abs() <= allowed,
                "{}, line {line}: got {got}, simulated {simulated}",
                case.name
            );
        }
    }
}

#[test]
fn a_dilution_has_the_uncertainty_a_simulation_finds() {
    for case in cases().dilution {
        let balance = balance(&case.readability_g, None, None);
        let limits = DilutionLimits {
            needed_g: case.needed_g.parse().expect("a mass"),
            tolerance: case.tolerance_percent / 100.0,
            strongest_percent: case.strength_percent.parse().expect("a strength"),
            carrier_to_spare_g: "1.90".parse().expect("a mass"),
        };
        // The limits leave one choice of strength; the amount made is the smallest that does.
        let dilution = balance.dilution(&limits).expect("a dilution");
        assert_eq!(dilution.strength_percent.to_string(), case.strength_percent);
        assert_eq!((dilution.material_g + dilution.carrier_g).normalize().to_string(), case.made_g);
        near(&case.name, &case.source, dilution.expanded_percent, case.expanded_percent, case.tolerance);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ReadingCase {
    name: String,
    source: String,
    readability_g: String,
    repeatability_g: f64,
    eccentricity_per_load: f64,
    at: Vec<Indication>,
    reading_g: f64,
    mass_g: f64,
    mass_within_g: f64,
    standard_g: f64,
    standard_within_g: f64,
}

#[test]
fn a_reading_is_corrected_between_the_loads_of_the_certificate() {
    for case in cases().reading {
        let certificate = Certificate {
            expanded_g: 0.0,
            coverage_factor: 2.0,
            linearity_g: None,
            eccentricity_per_load: Some(case.eccentricity_per_load),
            at: case.at.clone(),
        };
        let balance = balance(&case.readability_g, Some(case.repeatability_g), Some(certificate));
        let found = balance.one_reading(case.reading_g);
        assert!(!case.source.is_empty());
        assert!((found.mass_g - case.mass_g).abs() <= case.mass_within_g, "{}: {}", case.name, found.mass_g);
        let off = (found.standard_g - case.standard_g).abs();
        assert!(off <= case.standard_within_g, "{}: {}", case.name, found.standard_g);
        // Of two readings the errors at both loads count; an empty vessel of nothing is one reading with a second, uncertain zero.
        let net = balance.two_readings(5.0, 5.0 + case.reading_g);
        let (empty, full) =
            (balance.error_of_indication(5.0), balance.error_of_indication(5.0 + case.reading_g));
        assert!((net.mass_g - (case.reading_g - (full.0 - empty.0))).abs() < 1e-12);
        assert!(net.standard_g > found.standard_g);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct AirCase {
    name: String,
    source: String,
    pressure_hpa: f64,
    humidity_percent: f64,
    temperature_c: f64,
    kg_m3: f64,
    within: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BuoyancyCase {
    name: String,
    source: String,
    sample_kg_m3: f64,
    factor: f64,
    within: f64,
}

#[test]
fn air_has_its_density_and_carries_its_share() {
    for case in cases().air {
        let air = Air {
            pressure_hpa: case.pressure_hpa,
            humidity_percent: case.humidity_percent,
            temperature_c: case.temperature_c,
        };
        let got = air.density_kg_m3().expect("within the range");
        assert!((got - case.kg_m3).abs() <= case.within, "{} ({}): {got}", case.name, case.source);
        assert!(Air { temperature_c: 40.0, ..air }.density_kg_m3().is_none());
    }
    for case in cases().buoyancy {
        let got = buoyancy_factor(1.2, case.sample_kg_m3);
        assert!((got - case.factor).abs() <= case.within, "{} ({}): {got}", case.name, case.source);
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ClassCase {
    name: String,
    source: String,
    class: String,
    interval_g: f64,
    loads_g: Vec<f64>,
    in_service_g: Vec<f64>,
}

#[test]
fn a_class_permits_what_its_table_says() {
    let facts = levigate_facts::shipped().expect("the shipped facts");
    for ClassCase { name, source, class, interval_g, loads_g, in_service_g } in cases().class {
        let steps = &facts.making.balance_classes[&class];
        assert_eq!(steps.source, source, "{name}");
        let verified = Verified::of(steps, Some(interval_g), 0.1 * interval_g);
        for (load, most) in loads_g.iter().zip(&in_service_g) {
            let got = verified.most_g(*load);
            assert!((got - most).abs() < 1e-12, "{name}: {load} g {got}");
        }
        // Without an interval the most it can be for a division counts; a certificate says more than a class.
        let unknown = Verified::of(steps, None, interval_g);
        assert!(
            unknown.interval_g >= interval_g && unknown.most_g(loads_g[0]) >= verified.most_g(loads_g[0])
        );
        let bare = Balance::with_readability("0.01".parse().unwrap()).unwrap();
        let known = bare.clone().verified(verified.clone());
        let squared = known.standard_uncertainty_g(loads_g[0]).powi(2)
            - bare.standard_uncertainty_g(loads_g[0]).powi(2);
        assert!((squared - in_service_g[0].powi(2) / 3.0).abs() < 1e-12, "{name}: {squared}");
        let scatter = known.scatter(loads_g[0]).standard_deviation();
        assert!(
            (scatter / known.standard_uncertainty_g(loads_g[0]) - 1.0).abs() < 1e-12,
            "{name}: {scatter}"
        );
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FloatingCase {
    name: String,
    source: String,
    batch_kg_m3: f64,
    reading_g: f64,
    densities_kg_m3: [f64; 2],
    shifts_g: [f64; 2],
    within_g: f64,
}

#[test]
fn a_powder_and_an_oil_float_less_and_more_than_the_batch() {
    for case in cases().floating {
        let readings = [case.reading_g; 3];
        let [powder, oil] = case.densities_kg_m3;
        let found =
            floating(USUAL_AIR_KG_M3[0], &readings, &[Some(powder), Some(oil), None], case.batch_kg_m3);
        let found = found.expect("a density is known");
        for (factor, shift) in found.factors.iter().zip(case.shifts_g) {
            let got = case.reading_g * (factor - 1.0);
            assert!((got - shift).abs() <= case.within_g, "{} ({}): {got}", case.name, case.source);
        }
        assert_eq!((found.factors[2], found.line), (1.0, 0), "what is not known floats as the batch does");
        assert_eq!(floating(USUAL_AIR_KG_M3[0], &readings, &[None; 3], case.batch_kg_m3), None);
    }
}
