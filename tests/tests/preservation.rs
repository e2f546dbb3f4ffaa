//! Preservation against handbook tables and hand arithmetic, on the shipped facts.

use levigate_facts::Facts;
use levigate_formula::composition::{Composition, ConstituentShare, SettledLine};
use levigate_formula::library::{InWater, InhibitoryConcentration, Library, Substance};
use levigate_formula::preservation::{
    Acid, Dissociation, PreservationFacts, PreservationQuestion, PreservativeReading, coverage, hurdles,
    overlap, preservatives, statement,
};
use levigate_measure::{Grade, Outcome, Sourced};
use serde::Deserialize;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| levigate_facts::shipped().expect("the shipped facts load"));

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    undissociated: Vec<Undissociated>,
    working: Vec<Working>,
    partition: Vec<Partition>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Undissociated {
    acid: String,
    source: String,
    pka: f64,
    ph: Vec<f64>,
    percent: Vec<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Working {
    name: String,
    source: String,
    substance: String,
    percent: f64,
    share: f64,
    total_percent: f64,
    working_percent: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Partition {
    name: String,
    source: String,
    partition: f64,
    oil_l: f64,
    water_l: f64,
    share: f64,
    left_in_water: f64,
}

fn cases() -> Cases {
    let path = format!("{}/published/preservation.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).expect("the case file is there");
    toml::from_str(&text).expect("the case file follows its schema")
}

/// An equilibrium that says what a case says.
struct Said {
    share: f64,
    pka: Option<f64>,
}

impl Dissociation for Said {
    fn undissociated_share(&self, _: Acid<'_>) -> Option<f64> {
        Some(self.share)
    }

    fn share_interval(&self, _: Acid<'_>) -> Option<[f64; 2]> {
        None
    }

    fn pka(&self, _: Acid<'_>) -> Option<Sourced<f64>> {
        self.pka.map(|value| Sourced { value, source: "from-memory".to_owned() })
    }
}

fn line(at: usize, material: &str, percent: f64, substance: &str) -> SettledLine {
    SettledLine {
        line: at,
        phase: 0,
        material: material.to_owned(),
        percent,
        exact: None,
        constituents: vec![ConstituentShare {
            substance: substance.to_owned(),
            low: 100.0,
            typical: 100.0,
            high: 100.0,
        }],
    }
}

fn read(
    library: &Library,
    facts: &PreservationFacts,
    lines: Vec<SettledLine>,
    ph: f64,
    said: &Said,
) -> Vec<PreservativeReading> {
    let composition = Composition::of(lines);
    preservatives(&PreservationQuestion { composition: &composition, library, facts, dissociation: said, ph })
}

#[test]
fn concentrations_of_tests_are_brought_to_the_undissociated_form() {
    for case in &cases().undissociated {
        assert!(FACTS.sources.contains_key(&case.source));
        for (ph, percent) in case.ph.iter().zip(&case.percent) {
            let mut library = FACTS.library.clone();
            library.inhibitory = vec![InhibitoryConcentration {
                substance: "benzoic-acid".to_owned(),
                organism: "e-coli".to_owned(),
                low_mg_l: 100.0,
                high_mg_l: 200.0,
                test_ph: Some(*ph),
                source: "invented".to_owned(),
            }];
            let lines = vec![line(0, "benzoic-acid", 0.1, "benzoic-acid"), line(1, "water", 99.9, "water")];
            let said = Said { share: 0.5, pka: Some(case.pka) };
            let readings = read(&library, &FACTS.preservation, lines, 4.2, &said);
            let mic = &readings[0].mics[0];
            let found = mic.working_low_mg_l.unwrap();
            assert!((found - percent).abs() < 0.055, "{} at pH {ph}: {found} is not {percent} %", case.acid);
            assert!((mic.working_high_mg_l.unwrap() - 2.0 * found).abs() < 1e-9);
        }
    }
}

#[test]
fn working_amounts_agree_with_hand_arithmetic() {
    for case in &cases().working {
        assert!(FACTS.sources.contains_key(&case.source));
        let lines = vec![
            line(0, &case.substance, case.percent, &case.substance),
            line(1, "water", 100.0 - case.percent, "water"),
        ];
        let readings =
            read(&FACTS.library, &FACTS.preservation, lines, 5.0, &Said { share: case.share, pka: None });
        let reading = &readings[0];
        let (total, working) = (reading.total.value.unwrap(), reading.working.value.unwrap());
        assert!((total - case.total_percent).abs() < 6e-4, "{}: {total}", case.name);
        assert!((working - case.working_percent).abs() < 6e-4, "{}: {working}", case.name);
        // Without oil everything is in a litre of water phase per kilogram.
        assert!((reading.in_water.value.unwrap() - working * 10_000.0).abs() < 1e-6, "{}", case.name);
    }
}

#[test]
fn oil_takes_its_part_of_the_neutral_form() {
    for case in &cases().partition {
        assert!(FACTS.sources.contains_key(&case.source));
        let mut library = FACTS.library.clone();
        let acid = library.substances.get_mut("benzoic-acid").unwrap();
        acid.log_p = Some(Sourced { value: case.partition.log10(), source: "invented".to_owned() });
        library.substances.insert(
            "oil".to_owned(),
            Substance {
                key: "oil".to_owned(),
                in_water: InWater::Oil,
                density_kg_m3: Some(Sourced { value: 1000.0, source: "invented".to_owned() }),
                ..Substance::default()
            },
        );
        let lines = vec![
            line(0, "benzoic-acid", 1e-6, "benzoic-acid"),
            line(1, "oil", case.oil_l * 100.0, "oil"),
            line(2, "water", case.water_l * 100.0, "water"),
        ];
        let readings =
            read(&library, &FACTS.preservation, lines, 4.8, &Said { share: case.share, pka: None });
        let in_water = readings[0].in_water.value.unwrap();
        // Undissociated in water over what it would be had the oil taken nothing.
        let left = in_water * case.water_l / (1e-6 * 10_000.0 * case.share);
        assert!((left - case.left_in_water).abs() < 0.01, "{}: {left}", case.name);
        assert_eq!(readings[0].in_water.grade, Grade::RuleOfThumb);
        assert!(
            readings[0].in_water.low.unwrap() < in_water && in_water < readings[0].in_water.high.unwrap()
        );
    }
}

#[test]
fn a_test_without_a_ph_is_not_compared_and_a_form_without_ph_is() {
    let lines = vec![
        line(0, "methylparaben", 0.2, "methylparaben"),
        line(1, "phenoxyethanol", 0.9, "phenoxyethanol"),
        line(2, "water", 98.9, "water"),
    ];
    let readings =
        read(&FACTS.library, &FACTS.preservation, lines, 5.0, &Said { share: 0.999, pka: Some(8.3) });
    let by = |key: &str| readings.iter().find(|reading| reading.substance == key).unwrap();
    for mic in &by("methylparaben").mics {
        assert_eq!(mic.times_mic, None);
        assert!(mic.not_compared.as_ref().unwrap().contains("pH of the test"));
    }
    assert!(!by("methylparaben").mics.is_empty());
    for mic in &by("phenoxyethanol").mics {
        assert!(mic.times_mic.is_some() && mic.not_compared.is_none());
    }
}

#[test]
fn benzoic_acid_carries_the_measurements_that_contradict_the_simple_picture() {
    let lines = vec![line(0, "sodium-benzoate", 0.4, "sodium-benzoate"), line(1, "water", 99.6, "water")];
    let readings =
        read(&FACTS.library, &FACTS.preservation, lines, 5.2, &Said { share: 0.08, pka: Some(4.2) });
    let evidence = &readings[0].counter_evidence;
    assert_eq!(evidence.len(), 2);
    assert_eq!((evidence[0].total_percent, evidence[0].undissociated_percent), (0.055, 0.027));
    assert_eq!((evidence[1].total_percent, evidence[1].undissociated_percent), (0.190, 0.019));
}

#[test]
fn coverage_names_the_gap_and_words_never_pass() {
    let lines = vec![
        line(0, "phenoxyethanol-ethylhexylglycerin-90-10", 0.9, "phenoxyethanol"),
        line(1, "ethylhexylglycerin", 0.1, "ethylhexylglycerin"),
        line(2, "water", 99.0, "water"),
    ];
    let readings = read(&FACTS.library, &FACTS.preservation, lines, 5.8, &Said { share: 1.0, pka: None });
    let coverage = coverage(&readings);
    let mould = coverage.iter().find(|group| group.group == "mould").unwrap();
    assert!(mould.gap, "phenoxyethanol alone is weak on moulds");
    assert!(!coverage.iter().find(|group| group.group == "gram-negative").unwrap().gap);
    let said = statement(&readings, &coverage);
    assert!(said.required.contains("challenge test"));
    assert!(said.missing.iter().any(|text| text.starts_with("Moulds")));
    assert!(said.missing.iter().any(|text| text.contains("not a listed preservative")));
    let all = [said.supported, said.missing, vec![said.required]].concat().join(" ").to_lowercase();
    for word in [" safe", "compliant", "passes", "preserved"] {
        assert!(!all.contains(word), "{word}");
    }
}

#[test]
fn a_preservative_asleep_covers_nothing() {
    let lines = vec![line(0, "sodium-benzoate", 0.4, "sodium-benzoate"), line(1, "water", 99.6, "water")];
    let readings =
        read(&FACTS.library, &FACTS.preservation, lines, 6.5, &Said { share: 0.004, pka: Some(4.2) });
    assert!(coverage(&readings).iter().all(|group| group.gap && group.best.is_none()));
}

#[test]
fn low_risk_properties_are_read_from_the_formula() {
    let composition =
        Composition::of(vec![line(0, "ethanol-96", 25.0, "ethanol"), line(1, "water", 75.0, "water")]);
    let said = Said { share: 1.0, pka: None };
    let question = PreservationQuestion {
        composition: &composition,
        library: &FACTS.library,
        facts: &FACTS.preservation,
        dissociation: &said,
        ph: 3.2,
    };
    let activity = Outcome::new(0.74, "", Grade::Computed, "test").within(0.72, 0.77, None);
    let readings = hurdles(&question, Some(&activity));
    let met = |key: &str| readings.iter().find(|reading| reading.key == key).unwrap().met;
    assert_eq!(met("alcohol"), Some(true));
    assert_eq!(met("ph-low"), Some(false), "3.2 is not 3.0 or lower");
    assert_eq!(met("water-activity"), Some(false), "the upper end of the interval lies above");
    assert_eq!(met("hot-fill"), None);
}

#[test]
fn benzoate_in_a_gel_at_5_5_shares_no_window_and_the_benzoate_is_named() {
    let composition = Composition::of(vec![
        line(0, "water", 99.6, "water"),
        line(1, "sodium-benzoate", 0.4, "sodium-benzoate"),
    ]);
    let overlap = overlap(&composition, &FACTS.library, Some((5.4, 5.6)));
    assert_eq!(overlap.shared, None);
    assert!(overlap.removals.iter().any(|removal| removal.lines == [1]));
    assert!(overlap.removals.iter().any(|removal| removal.lines.is_empty()), "or the target moves");
}

#[test]
fn every_neutral_form_named_in_the_facts_is_one_the_equilibrium_forms() {
    use levigate_formula::library::WorkingForm;
    let mut acids = 0;
    for record in FACTS.library.preservatives.values() {
        if let WorkingForm::Undissociated { species } = &record.working_form {
            acids += 1;
            let reaction = FACTS
                .chemistry
                .reactions
                .iter()
                .find(|reaction| reaction.product == *species)
                .unwrap_or_else(|| panic!("{species} is not formed"));
            let acting = FACTS.library.substances.get(&record.acts_as);
            let component = levigate_formula::preservation::acting_component(acting).unwrap();
            assert!(reaction.from.contains_key(component), "{species} is not made of {component}");
        }
    }
    assert!(acids >= 20, "{acids}");
}
