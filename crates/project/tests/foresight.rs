//! How well trials were foretold: only from the trials before, struck readings gone, what cannot teach said. Readings are placed relative to what is foretold
//! without any trial, so that no number here is expected from the model.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::audit::content_hash;
use levigate_project::records::{Correction, Formula, FormulaVersion, Id, Kept, Reading, Trial, TypedNumber};
use levigate_project::workbench::readings::{TypedReading, read_reading};
use levigate_project::workbench::trials::{
    AttributeForesight, Foresight, TrialRecords, flow_book, foresight,
};
use std::collections::BTreeMap;
use uuid::Uuid;

const TONER: &str = "[product]\nname = \"Lactate toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\nmarkets = [\"eu\"]\n\
    [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n\
    [[phase.line]]\nmaterial = \"Sodium lactate 60 % solution\"\npercent = 6\n\
    [[phase.line]]\nmaterial = \"Lactic acid 90 %\"\npercent = 0.4\n";

fn kept<T>(id: u128, number: u32, what: T) -> Kept<T> {
    Kept {
        id: Id::from_uuid(Uuid::from_u128(id)),
        number,
        sequence: id as u64,
        who: "Ines".to_owned(),
        how: Default::default(),
        when: "2026-11-24T09:00:00Z".parse().unwrap(),
        corrects: None,
        what,
    }
}

fn formula() -> Id<Formula> {
    Id::from_uuid(Uuid::from_u128(1))
}

fn typed(quantity: &str, value: &str, age: &str) -> TypedReading {
    TypedReading {
        quantity: quantity.to_owned(),
        value: value.to_owned(),
        temperature_c: "25".to_owned(),
        age: age.to_owned(),
        ..TypedReading::default()
    }
}

/// A formula with a trial for each of the lists of readings.
fn bench(text: &str, readings: &[&[TypedReading]]) -> TrialRecords {
    let version = FormulaVersion {
        formula: formula(),
        parent: None,
        text: text.to_owned(),
        sha256: content_hash(text.as_bytes()),
        reason: "test".to_owned(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
    };
    let trial = Trial {
        formula: formula(),
        version: 1,
        parent: None,
        changed: String::new(),
        batch_size: None,
        process: String::new(),
        made: None,
        lots: Vec::new(),
    };
    let mut records = TrialRecords {
        formula: kept(1, 1, Formula { name: "Lactate toner".to_owned() }),
        versions: vec![kept(10, 1, version)],
        trials: Vec::new(),
        readings: BTreeMap::new(),
        observations: BTreeMap::new(),
        curves: BTreeMap::new(),
        lots: Vec::new(),
        batches: BTreeMap::new(),
    };
    for (at, typed) in readings.iter().enumerate() {
        let made = kept(100 + at as u128, u32::try_from(at + 1).unwrap(), trial.clone());
        let read = |(place, one): (usize, &TypedReading)| {
            let what: Reading = read_reading(made.id, one).unwrap();
            kept(1000 + 100 * at as u128 + place as u128, u32::try_from(place + 1).unwrap(), what)
        };
        records.readings.insert(made.id, typed.iter().enumerate().map(read).collect());
        records.trials.push(made);
    }
    records
}

fn told(facts: &Facts, records: &TrialRecords) -> Foresight {
    let all = std::slice::from_ref(records);
    foresight(facts, all, &flow_book(facts, date(2026, 11, 24), "eu", all), Some(formula()))
}

fn ph(found: &Foresight) -> &AttributeForesight {
    found.attributes.iter().find(|one| one.name == "pH").unwrap()
}

/// What is foretold without any trial, and so far above it as text.
fn away(facts: &Facts, by: f64) -> String {
    let blank = told(facts, &bench(TONER, &[&[typed("ph", "7", "24")]]));
    format!("{:.2}", ph(&blank).entries[0].foretold.as_ref().unwrap().value.unwrap() + by)
}

#[test]
fn each_reading_is_foretold_from_the_trials_before_it_and_errors_shrink() {
    let facts = shipped().unwrap();
    let low = away(&facts, -0.18);
    let one = [typed("ph", &low, "24")];
    let found = told(&facts, &bench(TONER, &[&one[..]; 8]));
    let attribute = ph(&found);
    let foretold: Vec<f64> =
        attribute.entries.iter().map(|one| one.foretold.as_ref().unwrap().value.unwrap()).collect();
    let untaught: Vec<f64> =
        attribute.entries.iter().map(|one| one.untaught.as_ref().unwrap().value.unwrap()).collect();
    // The first knows nothing, every later one is nearer to what is read each time.
    assert!((foretold[0] - untaught[0]).abs() < 1e-9);
    assert!(foretold.windows(2).all(|pair| pair[1] < pair[0]), "{foretold:?}");
    assert!(attribute.say.contains("The errors shrank"), "{}", attribute.say);
    let [error, without] = [&attribute.mean_error, &attribute.mean_error_untaught]
        .map(|one| one.as_ref().unwrap().value.unwrap());
    assert!(error < 0.5 * without, "{error} {without}");
    assert!((without - 0.18).abs() < 0.006, "{without}");
    // The base bound in the lactate or the acid: these trials alone cannot say which, and say so.
    let number = found.ph_numbers.iter().find(|one| one.material == "sodium-lactate-60").unwrap();
    assert!(number.after.value.unwrap() < 0.0, "{}", number.words);
    let next = found.next_ph.as_ref().unwrap();
    assert!(next.taught.value.unwrap() < next.untaught.value.unwrap() - 0.1);
    assert!(
        next.taught.high.unwrap() - next.taught.low.unwrap()
            < next.untaught.high.unwrap() - next.untaught.low.unwrap()
    );
    assert_eq!(next.from, "8 readings of 8 trials");
    // Set aside, all of it is as if nothing had been learned.
    let bare = found.clone().untaught();
    assert!(bare.ph_numbers.is_empty() && bare.next_ph.is_none());
    assert!((ph(&bare).mean_error.as_ref().unwrap().value.unwrap() - without).abs() < 1e-9);
}

#[test]
fn a_struck_reading_disappears_from_what_was_learned() {
    let facts = shipped().unwrap();
    let low = away(&facts, -0.18);
    let one = [typed("ph", &low, "24")];
    let mut records = bench(TONER, &[&one[..]; 2]);
    let taught = told(&facts, &records);
    assert!(!taught.ph_numbers.is_empty());
    for readings in records.readings.values_mut() {
        let first = readings[0].clone();
        let withdrawn = Reading { withdrawn: true, ..first.what.clone() };
        let mut strike = kept(u128::from(first.number) + 5000 + first.sequence as u128, 2, withdrawn);
        strike.corrects = Some(Correction { supersedes: first.id, reason: "misread".to_owned() });
        readings.push(strike);
    }
    let found = told(&facts, &records);
    assert!(found.ph_numbers.is_empty() && found.attributes.is_empty() && found.next_ph.is_none());
    assert!(found.say.contains("Nothing has been read"), "{}", found.say);
}

#[test]
fn what_cannot_teach_says_why() {
    let facts = shipped().unwrap();
    let low = away(&facts, -0.1);
    let otherwise = TypedReading { method: "paper strip".to_owned(), ..typed("ph", &low, "24") };
    let readings: [&[TypedReading]; 4] =
        [&[typed("ph", &low, "1000")], &[typed("ph", &low, "1")], &[typed("ph", "1.2", "24")], &[otherwise]];
    let found = told(&facts, &bench(TONER, &readings));
    let words: Vec<&str> = ph(&found).entries.iter().map(|one| one.words.as_str()).collect();
    for (words, part) in words.iter().zip(["so old a sample", "still moves", "slip", "Read otherwise"]) {
        assert!(words.contains(part), "{words} {part}");
    }
    assert!(found.ph_numbers.is_empty());
    let solved = TONER.replace("percent = 0.4", "to_ph = 4.6");
    let found = told(&facts, &bench(&solved, &[&[typed("ph", "4.61", "24")]]));
    let entry = &ph(&found).entries[0];
    assert!(entry.foretold.is_none() && entry.words.contains("not on file"), "{}", entry.words);
}

#[test]
fn what_no_model_speaks_of_waits_for_two_trials_and_a_density_for_none() {
    let facts = shipped().unwrap();
    let both = |clarity: &str, density: &str| [typed("clarity", clarity, ""), typed("density", density, "")];
    let trials = [both("8", "1,025"), both("9", "1,026"), both("8,5", "1,0255")];
    let readings: Vec<&[TypedReading]> = trials.iter().map(|one| &one[..]).collect();
    let found = told(&facts, &bench(TONER, &readings));
    let of = |name: &str| found.attributes.iter().find(|one| one.name == name).unwrap();
    let clarity = of("Clarity");
    assert!(clarity.entries[..2].iter().all(|one| one.foretold.is_none()));
    let third = clarity.entries[2].foretold.as_ref().unwrap();
    assert!((third.value.unwrap() - 8.5).abs() < 1e-12);
    // Two values one apart: 8.5 +- 12.706 sqrt(0.5) sqrt(1.5), the factor from printed tables for one degree.
    let reach = 12.706_2 * 0.5_f64.sqrt() * 1.5_f64.sqrt();
    assert!((third.high.unwrap() - 8.5 - reach).abs() < 1e-3, "{third:?}");
    let density = of("Density");
    let errors: Vec<f64> =
        density.entries.iter().map(|one| one.error.as_ref().unwrap().value.unwrap().abs()).collect();
    assert!(errors[2] < 0.6 * errors[0], "{errors:?}");
    assert!(density.say.contains("Too few"), "{}", density.say);
    assert_eq!(TypedNumber::read_either("1,025").value, Some("1.025".parse().unwrap()));
}

#[test]
fn the_base_needed_follows_what_was_learned() {
    let facts = shipped().unwrap();
    let low = away(&facts, -0.18);
    let one = [typed("ph", &low, "24")];
    let mut records = bench(TONER, &[&one[..]; 4]);
    let mut newer = records.versions[0].clone();
    newer.number = 2;
    newer.what.text = format!("{TONER}[[phase.line]]\nmaterial = \"Sodium hydroxide 10 %\"\nto_ph = 5.2\n");
    records.versions.push(newer);
    let next = told(&facts, &records).next_ph.unwrap();
    let [amount] = next.amounts.as_slice() else { panic!("one line is solved: {:?}", next.amounts) };
    let of = |outcome: &levigate_measure::Outcome| {
        [outcome.low.unwrap(), outcome.value.unwrap(), outcome.high.unwrap()]
    };
    let (taught, untaught) = (of(&amount.taught), of(&amount.untaught));
    // What reads lower than the papers say needs more base, and how much is known better.
    assert!(taught[1] > untaught[1] * 1.1, "{taught:?} {untaught:?}");
    assert!(taught[2] - taught[0] < 0.7 * (untaught[2] - untaught[0]), "{taught:?} {untaught:?}");
}
