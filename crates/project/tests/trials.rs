//! Trials laid out: readings beside predictions, what changed, lots, struck entries. No number here is expected from the model:
//! readings are placed relative to the prediction, and a lot's assay is held against the same assay written into the formula.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::date;
use levigate_facts::{Facts, shipped};
use levigate_project::audit::content_hash;
use levigate_project::records::{
    BatchSize, Correction, Formula, FormulaVersion, FromDevice, Id, Kept, Lot, LotTaken, Method, Observation,
    Reading, Trial, TypedNumber,
};
use levigate_project::workbench::assess::assess;
use levigate_project::workbench::readings::{TypedReading, read_reading};
use levigate_project::workbench::trials::{
    Stands, Tie, TrialBook, TrialRecords, Verdict, flow_book, trial_book, trial_effects,
};
use std::collections::BTreeMap;
use uuid::Uuid;

const TONER: &str = include_str!("../../../examples/night-toner-mandelic.toml");
const SERUM: &str = include_str!("../../../examples/zinc-balancing-serum.toml");

fn kept<T>(id: u128, number: u32, what: T) -> Kept<T> {
    Kept {
        id: Id::from_uuid(Uuid::from_u128(id)),
        number,
        sequence: u64::from(number),
        who: "Ines".to_owned(),
        how: Default::default(),
        when: "2026-11-24T09:00:00Z".parse().unwrap(),
        corrects: None,
        what,
    }
}

fn version(number: u32, text: &str) -> Kept<FormulaVersion> {
    let what = FormulaVersion {
        formula: Id::from_uuid(Uuid::from_u128(1)),
        parent: None,
        text: text.to_owned(),
        sha256: content_hash(text.as_bytes()),
        reason: "test".to_owned(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
    };
    kept(10 + u128::from(number), number, what)
}

fn trial(version: u32) -> Trial {
    Trial {
        formula: Id::from_uuid(Uuid::from_u128(1)),
        version,
        parent: None,
        changed: String::new(),
        batch_size: Some(BatchSize { size: TypedNumber::read_either("0,4"), unit: "kg".to_owned() }),
        process: String::new(),
        made: None,
        lots: Vec::new(),
    }
}

fn records(versions: &[&str], trials: Vec<Trial>) -> TrialRecords {
    let numbered = |at: usize| u32::try_from(at + 1).unwrap();
    TrialRecords {
        formula: kept(1, 1, Formula { name: "Night toner".to_owned() }),
        versions: versions.iter().enumerate().map(|(at, text)| version(numbered(at), text)).collect(),
        trials: trials
            .into_iter()
            .enumerate()
            .map(|(at, trial)| kept(100 + at as u128, numbered(at), trial))
            .collect(),
        readings: BTreeMap::new(),
        observations: BTreeMap::new(),
        curves: BTreeMap::new(),
        lots: Vec::new(),
        batches: BTreeMap::new(),
    }
}

fn laid_out(facts: &Facts, records: &TrialRecords) -> TrialBook {
    let (day, market) = (date(2026, 11, 24), "eu");
    let flow = flow_book(facts, day, market, std::slice::from_ref(records));
    trial_book(facts, day, market, records, &flow)
}

fn ph(trial: Id<Trial>, value: f64, method: Method, temperature: Option<&str>) -> Reading {
    Reading {
        trial,
        quantity: "ph".to_owned(),
        value: TypedNumber::read_either(&format!("{value:.3}")),
        unit: String::new(),
        method,
        temperature_c: temperature.map(TypedNumber::read_either),
        age_h: None,
        instrument: String::new(),
        conditions: BTreeMap::new(),
        note: String::new(),
        from: FromDevice::default(),
        withdrawn: false,
    }
}

#[test]
fn a_reading_stands_to_the_prediction_of_its_own_conditions() {
    let facts = shipped().unwrap();
    let mut records = records(&[SERUM], vec![trial(1)]);
    let predicted = laid_out(&facts, &records).trials[0].prediction.clone();
    let (neat, diluted) = (predicted.ph.unwrap(), predicted.ten_percent.unwrap());
    let (value, low, high) = (neat.value.unwrap(), neat.low.unwrap(), neat.high.unwrap());
    let id = records.trials[0].id;
    let readings = [
        (ph(id, value, Method::Neat, Some("24,5")), Stands::Inside, "Inside the interval."),
        (ph(id, low - 0.3, Method::Neat, Some("25")), Stands::Below, "0.30 below the interval"),
        (ph(id, high + 0.25, Method::Neat, Some("25.5")), Stands::Above, "above the interval"),
        (ph(id, value, Method::Neat, Some("40")), Stands::Unlike, "Read at 40 °C, predicted for 25 °C"),
        (ph(id, value, Method::Neat, None), Stands::Unlike, "was not noted"),
        (ph(id, value, Method::Other("on skin".into()), Some("25")), Stands::Unlike, "on skin"),
    ];
    let expected: Vec<_> = readings.iter().map(|(_, stands, words)| (*stands, *words)).collect();
    let kept_readings =
        readings.into_iter().enumerate().map(|(at, (reading, _, _))| kept(200 + at as u128, 1, reading));
    records.readings.insert(id, kept_readings.collect());
    for (read, (stands, words)) in laid_out(&facts, &records).trials[0].readings.iter().zip(expected) {
        let beside = read.beside.as_ref().unwrap();
        assert_eq!(beside.stands, stands, "{beside:?}");
        assert!(beside.words.contains(words), "{words}: {}", beside.words);
    }
    // The same number read in ten percent of water is laid beside the prediction for that, which is another.
    let diluted_value = diluted.value.unwrap();
    assert!((diluted_value - value).abs() > 0.01);
    records.readings.insert(id, vec![kept(300, 1, ph(id, value, Method::TenPercentInWater, Some("25")))]);
    let book = laid_out(&facts, &records);
    let beside = book.trials[0].readings[0].beside.as_ref().unwrap();
    assert_eq!(beside.predicted.as_ref().unwrap().value, Some(diluted_value));
    assert!(beside.target.contains("Not compared"), "{}", beside.target);
}

#[test]
fn a_line_solved_for_the_ph_is_said_once_with_the_prediction() {
    let facts = shipped().unwrap();
    let mut records = records(&[TONER], vec![trial(1)]);
    let id = records.trials[0].id;
    records.readings.insert(id, vec![kept(200, 1, ph(id, 3.83, Method::Neat, Some("25")))]);
    let book = laid_out(&facts, &records);
    let beside = book.trials[0].readings[0].beside.as_ref().unwrap();
    let aim = book.trials[0].prediction.aim.as_ref().unwrap();
    assert!(aim.words.contains("is solved to bring it to pH 3.8"), "{aim:?}");
    assert_eq!(beside.target, "Target 3.6 to 4.0: inside it.");
}

#[test]
fn the_assay_of_the_lot_counts_as_if_it_stood_in_the_line() {
    let facts = shipped().unwrap();
    // The same formula with the base typed in percent, so that the assay moves the pH.
    let text = TONER.replacen("to_ph = 3.8", "percent = 0.9", 1);
    assert_ne!(text, TONER);
    let mut made = trial(1);
    let lines: Vec<String> = levigate_project::formula_file::read("toner", &text)
        .unwrap()
        .sheet
        .lines()
        .map(|(_, line)| line.material.clone())
        .collect();
    let at = lines.iter().position(|name| name == "Sodium hydroxide 20 %").unwrap();
    made.lots = vec![LotTaken { line: at, material: lines[at].clone(), code: "nh-7".to_owned() }];
    let mut records = records(&[&text], vec![made]);
    let bare = laid_out(&facts, &records).trials.remove(0);
    assert_eq!(bare.lines[at].lot_remark, "Not on file.");
    let lot = Lot {
        material: "sodium-hydroxide-20".to_owned(),
        code: "NH-7".to_owned(),
        assay_percent: Some(TypedNumber::read_either("18,4")),
        expiry: Some(date(2026, 11, 1)),
        ..Lot::default()
    };
    records.lots.push(kept(400, 1, lot));
    let with_lot = laid_out(&facts, &records).trials.remove(0);
    assert_eq!(with_lot.lines[at].lot_remark, "Expired on 2026-11-01.");
    assert_eq!(with_lot.prediction.with_lots, ["Sodium hydroxide 20 %: NH-7, 18.4 %"]);
    let written = text.replacen("percent = 0.9", "percent = 0.9\nassay_percent = 18.4", 1);
    let expected = assess(&facts, date(2026, 11, 24), "eu", "toner", &written).unwrap();
    let predicted = with_lot.prediction.ph.unwrap().value.unwrap();
    assert!((predicted - expected.assessment.ph.neat.value.unwrap()).abs() < 1e-9);
    assert!((predicted - bare.prediction.ph.unwrap().value.unwrap()).abs() > 0.01, "the assay moves it");
    // Grams are those of the batch that was made, not of the sheet.
    let grams: f64 = with_lot.lines.iter().map(|line| line.exact.parse::<f64>().unwrap()).sum();
    assert!((grams - 400.0).abs() < 1e-9, "{grams}");
}

#[test]
fn what_changed_is_found_by_laying_both_trials_side_by_side() {
    let facts = shipped().unwrap();
    let newer = TONER.replacen("to_ph = 3.8", "to_ph = 4.1", 1);
    let mut second = trial(2);
    second.parent = Some(Id::from_uuid(Uuid::from_u128(100)));
    second.process = "anchor".to_owned();
    second.lots = vec![LotTaken { line: 0, material: "Water".to_owned(), code: "W-1".to_owned() }];
    let records = records(&[TONER, &newer], vec![trial(1), second]);
    let book = laid_out(&facts, &records);
    assert_eq!(book.trials[1].parent, Some(1));
    let changes = &book.trials[1].changes;
    let found = |what: &str| changes.iter().find(|change| change.what == what);
    let base = found("Sodium hydroxide 20 %").unwrap();
    assert_eq!((base.was.as_str(), base.now.as_str()), ("q.s. to pH 3.8", "q.s. to pH 4.1"));
    let first_line = &book.trials[1].lines[0].material;
    assert_eq!(found(&format!("lot of {first_line}")).unwrap().now, "W-1");
    assert_eq!(found("how it was made").unwrap().now, "anchor");
    assert!(found("batch size").is_none());
    assert!(book.trials[0].changes.is_empty());
}

#[test]
fn struck_entries_stay_and_are_not_compared() {
    let facts = shipped().unwrap();
    let mut records = records(&[SERUM], vec![trial(1)]);
    let id = records.trials[0].id;
    let wrong = kept(200, 1, ph(id, 6.45, Method::Neat, Some("25")));
    let correction = Correction { supersedes: wrong.id, reason: "misread".to_owned() };
    let right = Kept { corrects: Some(correction), ..kept(201, 2, ph(id, 5.45, Method::Neat, Some("25"))) };
    records.readings.insert(id, vec![wrong, right]);
    let photo = Observation {
        photo: Some(levigate_project::records::MediaType::Png),
        shows: "a haze".to_owned(),
        ..Observation::in_words(id, "hazy")
    };
    let seen = kept(300, 1, photo);
    let correction = Correction { supersedes: seen.id, reason: "it cleared".to_owned() };
    let again = Kept {
        corrects: Some(correction),
        ..kept(301, 2, Observation::in_words(id, "hazy at first, clear after an hour"))
    };
    records.observations.insert(id, vec![seen, again]);
    let book = laid_out(&facts, &records);
    let readings = &book.trials[0].readings;
    let struck = readings[0].struck.as_ref().unwrap();
    assert_eq!((struck.by, struck.reason.as_str()), (2, "misread"));
    assert!(readings[0].beside.is_none() && readings[1].beside.is_some());
    assert_eq!(readings[1].corrects, Some(1));
    let observations = &book.trials[0].observations;
    assert_eq!(observations[1].photo, Some(observations[0].id), "the photo stays with the corrected words");
    assert_eq!(observations[1].shows, "a haze");
}

#[test]
fn a_version_that_cannot_be_assessed_refuses_and_does_not_fall_over() {
    let facts = shipped().unwrap();
    let text = SERUM.replace("material = \"Water\"", "material = \"Unobtainium\"");
    let mut records = records(&[&text], vec![trial(1), trial(9)]);
    let id = records.trials[0].id;
    records.readings.insert(id, vec![kept(200, 1, ph(id, 5.0, Method::Neat, Some("25")))]);
    let book = laid_out(&facts, &records);
    assert!(book.trials[0].prediction.refused.as_ref().unwrap().contains("Unobtainium"));
    assert_eq!(book.trials[0].readings[0].beside.as_ref().unwrap().stands, Stands::NotPredicted);
    assert!(book.trials[1].prediction.refused.as_ref().unwrap().contains("version 9"));
}

#[test]
fn viscosity_is_held_to_the_target_with_its_conditions() {
    let facts = shipped().unwrap();
    let gel = include_str!("../../../examples/hand-gel-carbomer.toml");
    let sheet = levigate_project::formula_file::read("gel", gel).unwrap().sheet;
    let target = sheet.target.viscosity.unwrap();
    let mut records = records(&[gel], vec![trial(1)]);
    let id = records.trials[0].id;
    let mut reading = Reading {
        quantity: "viscosity".to_owned(),
        value: TypedNumber::read_either(&target.mpa_s[0].to_string()),
        unit: "mPa·s".to_owned(),
        ..ph(id, 0.0, Method::Neat, Some("31"))
    };
    reading.conditions.insert("speed".to_owned(), "20 rpm".to_owned());
    records.readings.insert(id, vec![kept(200, 1, reading)]);
    let book = laid_out(&facts, &records);
    let beside = book.trials[0].readings[0].beside.as_ref().unwrap();
    assert_eq!(beside.stands, Stands::Unlike);
    assert!(beside.words.contains("Spindle and speed"), "{}", beside.words);
    assert!(beside.target.contains("inside it"), "{}", beside.target);
    assert!(beside.target.contains("temperature 31 instead of"), "{}", beside.target);
}

#[test]
fn what_is_typed_is_kept_as_typed_and_faults_name_their_field() {
    let id = Id::from_uuid(Uuid::from_u128(1));
    let typed = TypedReading {
        quantity: "pH".to_owned(),
        value: " 5,62 ".to_owned(),
        temperature_c: "24,5".to_owned(),
        age: "1 d".to_owned(),
        conditions: [("spindle".to_owned(), " ".to_owned()), ("speed".to_owned(), "20".to_owned())].into(),
        ..TypedReading::default()
    };
    let reading = read_reading(id, &typed).unwrap();
    assert_eq!((reading.quantity.as_str(), reading.value.typed.as_str()), ("ph", "5,62"));
    assert_eq!(reading.value.value.unwrap().to_string(), "5.62");
    assert_eq!(reading.method, Method::Neat);
    let age = reading.age_h.unwrap();
    assert_eq!((age.typed.as_str(), age.value.unwrap().to_string().as_str()), ("1 d", "24"));
    assert_eq!(reading.conditions.len(), 1);
    for (typed, field) in [
        (TypedReading { value: "562".into(), ..typed.clone() }, "value"),
        (TypedReading { value: " ".into(), ..typed.clone() }, "value"),
        (TypedReading { value: "abc".into(), ..typed.clone() }, "value"),
        (TypedReading { temperature_c: "warm".into(), ..typed.clone() }, "temperature_c"),
        (TypedReading { age: "yesterday".into(), ..typed.clone() }, "age"),
        (TypedReading { age: "1e9999 d".into(), ..typed.clone() }, "age"),
        (TypedReading { quantity: String::new(), ..typed.clone() }, "quantity"),
    ] {
        let said = read_reading(id, &typed).unwrap_err().to_string();
        assert!(said.starts_with(field), "{said}");
    }
    let words =
        TypedReading { quantity: "turbidity".into(), value: "< 10".into(), unit: "NTU".into(), ..typed };
    assert_eq!(read_reading(id, &words).unwrap().value.value, None);
}

proptest::proptest! {
    #[test]
    fn no_text_panics(text in "\\PC{0,60}", more in "\\PC{0,60}") {
        let typed = TypedReading { quantity: text.clone(), value: more.clone(), temperature_c: text.clone(), age: more, ..TypedReading::default() };
        let _ = read_reading(Id::from_uuid(Uuid::from_u128(1)), &typed);
    }
}

#[test]
fn a_batch_made_step_by_step_is_predicted_from_what_was_weighed() {
    use levigate_project::records::{Batch, BatchEntry, Did, StepKind, TypedMass};
    use levigate_project::workbench::batch::{PlanOrder, plan};
    let facts = shipped().unwrap();
    let mut records = records(&[TONER], vec![Trial { batch_size: None, ..trial(1) }]);
    let order = PlanOrder {
        facts: &facts,
        day: date(2026, 11, 24),
        version: &records.versions[0],
        size_g: None,
        balances: &[],
        lots: &[],
        taken: &[],
    };
    let plan = plan(&order).unwrap();
    let trial_id = records.trials[0].id;
    let before = laid_out(&facts, &records).trials[0].prediction.clone();
    assert_eq!(before.as_weighed, None);
    // Every line as planned, but of the base only nine tenths.
    let base = plan.lines().into_iter().find(|line| line.to_ph.is_some()).unwrap().number;
    let entry = |number: u32, step: Option<usize>, did: Did| {
        let what = BatchEntry {
            batch: Id::from_uuid(Uuid::from_u128(900)),
            device_time: "2026-11-24T09:00:00Z".parse().unwrap(),
            paper: None,
            step,
            instrument: String::new(),
            note: String::new(),
            did,
            sent_sha256: String::new(),
            after_sign_off: false,
            withdrawn: false,
        };
        kept(1000 + u128::from(number), number, what)
    };
    let mut entries: Vec<_> = plan
        .lines()
        .into_iter()
        .zip(1_u32..)
        .map(|(line, number)| {
            let part =
                if line.number == base { "0.9" } else { "1" }.parse::<rust_decimal::Decimal>().unwrap();
            let net = TypedNumber::read_either(&(line.grams * part).round_dp(2).to_string());
            let did = {
                Did::Weighed {
                    line: line.number,
                    material: line.material.clone(),
                    lot: None,
                    corrected_g: None,
                    mass: TypedMass { net: Some(net), unit: "g".to_owned(), ..TypedMass::default() },
                }
            };
            entry(number, None, did)
        })
        .collect();
    // What went in before the meter was enough.
    let adjusted = plan.steps.iter().find(|step| step.kind == StepKind::Adjust).unwrap().number;
    entries.push(entry(99, Some(adjusted), Did::Finished));
    let batch = Batch {
        trial: trial_id,
        code: "B-1".to_owned(),
        plan,
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
        sent_sha256: String::new(),
        note: String::new(),
    };
    let unfinished = entries[..entries.len() - 2].to_vec();
    records.batches.insert(trial_id, (kept(900, 1, batch.clone()), unfinished));
    assert_eq!(laid_out(&facts, &records).trials[0].prediction, before, "not before every line is in");
    records.batches.insert(trial_id, (kept(900, 1, batch), entries));
    let made = laid_out(&facts, &records).trials.remove(0).prediction;
    assert_eq!(made.as_weighed.as_deref(), Some("B-1"));
    assert!(made.aim.is_none(), "nothing is solved for: what went in went in");
    let ph = |prediction: &levigate_project::workbench::trials::Prediction| {
        prediction.ph.as_ref().and_then(|ph| ph.value).unwrap()
    };
    assert!(ph(&made) < ph(&before) - 0.02, "{} {}", ph(&made), ph(&before));
}

#[test]
fn a_change_is_shared_out_among_what_differs_and_the_rest_is_told() {
    let facts = shipped().unwrap();
    let more = TONER.replace("to_ph = 3.8", "percent = 3.4").replace("percent = 3.00", "percent = 4.00");
    let older = TONER.replace("to_ph = 3.8", "percent = 2.4");
    let mut next = trial(2);
    next.process = "stirred overnight".to_owned();
    let mut records = records(&[&older, &more], vec![trial(1), next]);
    let book = laid_out(&facts, &records);
    let predicted: Vec<f64> =
        book.trials.iter().map(|trial| trial.prediction.ph.as_ref().unwrap().value.unwrap()).collect();
    let told = |records: &TrialRecords| {
        let bench = std::slice::from_ref(records);
        let told = trial_effects(&facts, date(2026, 11, 24), "eu", (records, bench), [1, 2]).unwrap();
        told.on("ph").unwrap().clone()
    };
    let bare = told(&records);
    assert!(bare.measured.is_none() && bare.unexplained.is_none(), "nothing was read");
    let names: Vec<&str> = bare.differences.iter().map(|one| one.what.as_str()).collect();
    assert_eq!(names, ["Betaine", "Sodium hydroxide 20 %"]);
    let sum: f64 = bare.differences.iter().map(|one| one.effect.value.unwrap()).sum();
    assert!((sum - (predicted[1] - predicted[0])).abs() < 1e-9, "{sum} {predicted:?}");
    assert!(
        bare.differences[1].effect.value.unwrap() > 10.0 * bare.differences[0].effect.value.unwrap().abs()
    );
    assert_eq!(bare.not_computed.len(), 1, "{:?}", bare.not_computed);
    // Read as predicted: nothing is left. Read half a unit off: it is left, and the making is what is to be tried alone.
    for (off, says) in [(0.0, "agrees within the doubts"), (0.5, "stays unexplained")] {
        for (at, value) in [(0, predicted[0]), (1, predicted[1] + off)] {
            let id = records.trials[at].id;
            let reading = kept(300 + at as u128, 1, ph(id, value, Method::Neat, Some("25")));
            records.readings.insert(id, vec![reading]);
        }
        let told = told(&records);
        assert!(told.say.contains(says), "{}", told.say);
        let rest = told.unexplained.unwrap().value.unwrap();
        assert!((rest - off).abs() < 2e-3, "{rest}");
        if off > 0.0 {
            assert!(
                told.next.starts_with("Make trial 1 again with only this changed: how it was made"),
                "{}",
                told.next
            );
        }
    }
    assert_eq!(
        trial_effects(&facts, date(2026, 11, 24), "eu", (&records, std::slice::from_ref(&records)), [1, 7])
            .unwrap_err(),
        7
    );
}

#[test]
fn any_two_formulas_can_be_told_apart_and_come_out_at_the_second() {
    // Everything differs, the q.s. line apart: materials come, go and change, in other phases.
    let facts = shipped().unwrap();
    let records = records(&[TONER, SERUM], vec![trial(1), trial(2)]);
    let (day, market) = (date(2026, 11, 24), "eu");
    let bench = std::slice::from_ref(&records);
    let book = laid_out(&facts, &records);
    let predicted: Vec<f64> =
        book.trials.iter().map(|trial| trial.prediction.ph.as_ref().unwrap().value.unwrap()).collect();
    for pair in [[1_u32, 2], [2, 1]] {
        let told = trial_effects(&facts, day, market, (&records, bench), pair).unwrap();
        assert_eq!(told.refused, None, "{told:?}");
        let told = told.on("ph").unwrap();
        let sum: f64 = told.differences.iter().map(|one| one.effect.value.unwrap()).sum();
        let change = predicted[pair[1] as usize - 1] - predicted[pair[0] as usize - 1];
        assert!((sum - change).abs() < 1e-6, "{sum} {change}");
    }
}

#[test]
fn a_tree_holds_every_trial_once_below_the_one_it_came_from() {
    let facts = shipped().unwrap();
    // A number for each trial that is copied: from which it was; none for one whose version alone tells.
    let from =
        [None, Some(0), Some(1), Some(0), None, Some(3), Some(2), Some(6), Some(1), None, Some(9), Some(5)];
    let trials = from.iter().enumerate().map(|(at, parent)| Trial {
        parent: parent.map(|parent: usize| Id::from_uuid(Uuid::from_u128(100 + parent as u128))),
        changed: format!("change {at}"),
        ..trial(if at == 9 || at == 10 { 2 } else { 1 })
    });
    let mut records = records(&[TONER, TONER], trials.collect());
    records.versions[1].what.parent = Some(1);
    let book = laid_out(&facts, &records);
    let place = |number: u32| book.tree.iter().position(|node| node.number == number).unwrap();
    let mut numbers: Vec<u32> = book.tree.iter().map(|node| node.number).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=12).collect::<Vec<u32>>());
    for (row, node) in book.tree.iter().enumerate() {
        let Some(parent) = node.parent else { continue };
        let above = &book.tree[place(parent)];
        assert!(place(parent) < row && parent < node.number);
        // The line that goes on keeps its lane, and nothing else stands in it between the two.
        let expected = if node.branches { above.lane + 1 } else { above.lane };
        assert_eq!(node.lane, expected, "trial {}", node.number);
        if !node.branches {
            for between in &book.tree[place(parent) + 1..row] {
                assert!(between.lane > node.lane && between.passes.contains(&node.lane), "{between:?}");
            }
        }
        assert_eq!(
            book.tree.iter().filter(|other| other.parent == Some(parent) && !other.branches).count(),
            1
        );
    }
    let tie = |number: u32| (book.tree[place(number)].tie, book.tree[place(number)].parent);
    assert_eq!(tie(1), (Tie::First, None));
    assert_eq!(tie(2), (Tie::Copied, Some(1)));
    assert_eq!(tie(5), (Tie::ByVersion, Some(4)), "the last earlier trial of its version");
    assert_eq!(tie(10), (Tie::ByVersion, Some(9)), "of the version that was edited from");
    assert!(book.tree.iter().all(|node| node.verdict == Verdict::Unread && node.says.starts_with("change ")));
}
