//! The pH at the bench through the routes.

use crate::batches::start;
use crate::house::House;
use serde_json::{Value, json};

/// Buffers that were read.
pub(crate) const BUFFERS: &str = "[calibration]\ntemperature_c = 25\npoints = [{ buffer = \"standard-phthalate\", mv = 174.3 },\n\
    { buffer = \"standard-phosphate\", mv = 6.8 }]\n";

/// A batch at the beaker.
pub(crate) const BEAKER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[batch]\nsize_g = 250\n\
    balance_g = 0.01\n[[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\n\
    material = \"Glycolic acid 70 %\"\npercent = 10\n[[phase.line]]\nmaterial = \"Sodium hydroxide 20 %\"\nto_ph = 3.8\n[adjust]\n\
    with = \"Sodium hydroxide 20 %\"\nwindow = [3.7, 3.9]\n[[bench]]\nph = 1.75\n[[bench]]\nadd_g = 20\n[[bench]]\n\
    trace = [[0, 3.70], [10, 3.64], [20, 3.62], [30, 3.61], [40, 3.61], [50, 3.61]]\n";

#[tokio::test]
async fn a_batch_at_the_beaker_gets_its_next_addition() {
    let house = House::open().await;
    let (status, told) = house.post("/api/adjust", &json!({ "text": BEAKER })).await;
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["next"], "add");
    assert!(told["add"]["value"].as_f64().unwrap() > 0.0);
    let (status, told) = house.post("/api/calibrate", &json!({ "text": BUFFERS })).await;
    assert_eq!(status, 200, "{told}");
    assert!((told["slope_percent"]["value"].as_f64().unwrap() - 99.2).abs() < 1.0, "{told}");
}

#[tokio::test]
async fn what_is_wrong_is_told_with_its_line() {
    let house = House::open().await;
    let wrong = BEAKER.replace("add_g = 20", "add_g = \"20\"");
    let (status, told) = house.post("/api/adjust", &json!({ "text": wrong })).await;
    assert_eq!(status, 422, "{told}");
    assert_eq!(told["place"]["line"], 26, "{told}");
    let (status, told) = house.post("/api/adjust", &json!({ "text": "x".repeat(600_000) })).await;
    assert_eq!((status, told["code"].as_str()), (422, Some("too-long")), "{told}");
}

/// A batch at the beaker whose lines before the base are in.
struct Beaker {
    house: House,
    batch: String,
    step: u64,
    line: u64,
    entries: u32,
}

impl Beaker {
    async fn open() -> Self {
        Self::of_version(House::open().await, 2).await
    }

    /// Of a formula whose target is read on the diluted product.
    async fn open_diluted() -> Self {
        let house = House::open().await;
        let mut draft = house.draft.clone();
        draft.target.ph_low = "3.6".to_owned();
        draft.target.ph_high = "4.2".to_owned();
        draft.target.ph_method = "10 % in water".to_owned();
        draft.target.ph_temperature_c = "20".to_owned();
        let kept = json!({ "draft": draft, "reason": "read diluted", "base": 2 });
        let (status, told) = house.post(&format!("/api/formulas/{}/versions", house.formula), &kept).await;
        assert_eq!(status, 200, "{told}");
        Self::of_version(house, 3).await
    }

    async fn of_version(house: House, version: u32) -> Self {
        let mut begun = start();
        begun["version"] = json!(version);
        let (_, told) = house.post(&format!("/api/formulas/{}/batches", house.formula), &begun).await;
        let batch = told["id"].as_str().unwrap().to_owned();
        let state = house.read(&format!("/api/batches/{batch}")).await;
        let steps = state["steps"].as_array().unwrap();
        let step = steps.iter().find(|step| step["kind"] == "adjust").unwrap();
        let (number, line) = (step["number"].as_u64().unwrap(), step["line"].as_u64().unwrap());
        let mut beaker = Self { house, batch, step: number, line, entries: 0 };
        for of in state["lines"].as_array().unwrap().iter().filter(|of| of["number"] != line) {
            let net = format!("{:.2}", of["target"]["value"].as_f64().unwrap());
            beaker.enter(json!({ "did": "weighed", "line": of["number"], "net": net, "unit": "g" })).await;
        }
        beaker
    }

    /// Enters something a minute after what was entered before.
    async fn enter(&mut self, what: Value) -> Value {
        self.entries += 1;
        self.enter_at(60 * i64::from(self.entries), what).await
    }

    async fn enter_at(&mut self, second: i64, mut what: Value) -> Value {
        let number = 50_000 + self.entries;
        self.entries += 1;
        what["id"] = json!(format!("018f0000-0000-7000-8000-{number:012}"));
        let at = jiff::Timestamp::from_second(1_795_496_400 + second).unwrap();
        what["at"] = json!(at.to_string());
        let (status, told) = self.house.post(&format!("/api/batches/{}/entries", self.batch), &what).await;
        assert_eq!(status, 200, "{what} {told}");
        told
    }

    async fn read_ph(&mut self, value: &str) {
        let step = self.step;
        self.enter(
            json!({ "did": "ph", "step": step, "value": value, "temperature_c": "25", "method": "neat",
            "age": "0", "settled": true }),
        )
        .await;
    }

    async fn put_in(&mut self, net: &str) {
        let (step, line) = (self.step, self.line);
        self.enter(json!({ "did": "weighed", "step": step, "line": line, "net": net, "unit": "g" })).await;
    }

    async fn advice(&self) -> Value {
        self.house.read(&format!("/api/batches/{}/steps/{}/advice", self.batch, self.step)).await
    }

    async fn state(&self) -> Value {
        self.house.read(&format!("/api/batches/{}", self.batch)).await
    }

    /// The same question as a person would write it into a file: the lines as weighed, what was read and what went in.
    async fn by_file(&self, bench: &str) -> Value {
        self.by_file_wanting("window = [3.5, 4.0]", bench).await
    }

    async fn by_file_wanting(&self, wanted: &str, bench: &str) -> Value {
        let state = self.state().await;
        let lines = state["lines"].as_array().unwrap();
        let grams = |of: &Value| of["actual"]["value"].as_f64().unwrap_or(0.0);
        let in_it: f64 = lines.iter().filter(|of| of["number"] != self.line).map(grams).sum();
        let mut text = format!(
            "[product]\nname = \"N\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[batch]\nsize_g = {in_it}\nbalance_g = 0.01\n[[phase]]\nname = \"A\"\n"
        );
        for of in lines {
            let amount = if of["remainder"] == true {
                "remainder = true".to_owned()
            } else if of["number"] == self.line {
                format!("to_ph = {}", of["to_ph"].as_str().unwrap())
            } else {
                format!("percent = {:.8}", 100.0 * grams(of) / in_it)
            };
            let assay = if of["material"] == "mandelic-acid" { "assay_percent = 99.2\n" } else { "" };
            text.push_str(&format!("[[phase.line]]\nmaterial = {}\n{amount}\n{assay}", of["material"]));
        }
        text.push_str(&format!("[adjust]\nwith = {}\n{wanted}\nheld_back_g = 0\n", lines[8]["material"]));
        text.push_str(bench);
        let (status, told) = self.house.post("/api/adjust", &json!({ "text": text })).await;
        assert_eq!(status, 200, "{told}\n{text}");
        told
    }
}

fn number(value: &Value) -> f64 {
    value["value"].as_f64().unwrap_or_else(|| panic!("{value}"))
}

#[tokio::test]
async fn a_target_that_is_read_diluted_and_cool_leads_the_batch_there() {
    let mut beaker = Beaker::open_diluted().await;
    let first = beaker.advice().await;
    assert_eq!(first["read"], "10 % in water, 20 \u{b0}C", "{first}");
    assert!(first["say"].as_str().unwrap().contains("10 % in water, 20 \u{b0}C"), "{first}");
    assert!((number(&first["window"]) - 3.9).abs() < 1e-12);
    // Another way of reading is another number: it is kept, not counted.
    beaker.read_ph("2.80").await;
    let unlike = beaker.advice().await;
    assert_eq!(unlike["next"], "read", "{unlike}");
    let step = beaker.step;
    beaker
        .enter(json!({ "did": "ph", "step": step, "value": "2.90", "temperature_c": "20",
            "method": "10 % in water", "age": "0", "settled": true }))
        .await;
    let told = beaker.advice().await;
    assert_eq!(told["next"], "add", "{told}");
    let wanted = "window = [3.6, 4.2]\nmethod = \"10 % in water\"\ntemperature_c = 20";
    let read = "[[bench]]\nph = 2.80\nmethod = \"neat\"\ntemperature_c = 25\n[[bench]]\nph = 2.90\n\
        method = \"10 % in water\"\ntemperature_c = 20\n";
    let file = beaker.by_file_wanting(wanted, read).await;
    for field in ["add", "best", "most", "ph_then"] {
        let (here, there) = (number(&told["advice"][field]), number(&file[field]));
        assert!((here - there).abs() <= 1e-6 * there.abs().max(1.0), "{field}: {here} {there}");
    }
}

#[tokio::test]
async fn the_advice_at_the_beaker_is_that_of_a_file_written_by_hand() {
    let mut beaker = Beaker::open().await;
    let first = beaker.advice().await;
    assert_eq!(
        (first["next"].as_str(), first["line"].as_u64()),
        (Some("read"), Some(beaker.line)),
        "{first}"
    );
    assert!(first["say"].as_str().unwrap().contains("neat, 25"), "{first}");
    assert_eq!(number(&first["window"]), 3.75);
    beaker.read_ph("2.22").await;
    let told = beaker.advice().await;
    let file = beaker.by_file("[[bench]]\nph = 2.22\n").await;
    assert_eq!(told["next"], "add", "{told}");
    for field in ["add", "most", "best", "ph_then", "capacity", "within_then"] {
        let (here, there) = (number(&told["advice"][field]), number(&file[field]));
        assert!((here - there).abs() <= 1e-6 * there.abs().max(1.0), "{field}: {here} {there}");
    }
    // What was really put in counts, not what was advised.
    beaker.put_in("3.10").await;
    let unread = beaker.advice().await;
    assert_eq!(unread["next"], "read", "{unread}");
    beaker.read_ph("3.30").await;
    let told = beaker.advice().await;
    let file = beaker.by_file("[[bench]]\nph = 2.22\n[[bench]]\nadd_g = 3.10\n[[bench]]\nph = 3.30\n").await;
    for field in ["add", "most", "capacity"] {
        let (here, there) = (number(&told["advice"][field]), number(&file[field]));
        assert!((here - there).abs() <= 1e-6 * there.abs().max(1.0), "{field}: {here} {there}");
    }
    assert_eq!(told["entries"], beaker.state().await["entries"].as_array().unwrap().len());
    // The composition of the batch holds it.
    let line = beaker.state().await["lines"][8].clone();
    assert_eq!(number(&line["actual"]), 3.1);
    let all: f64 =
        beaker.state().await["lines"].as_array().unwrap().iter().map(|of| number(&of["actual"])).sum();
    assert!((number(&line["percent"]) - 310.0 / all).abs() < 1e-6, "{line}");
}

#[tokio::test]
async fn what_was_taken_back_at_the_beaker_never_happened() {
    let mut beaker = Beaker::open().await;
    beaker.read_ph("2.22").await;
    let before = beaker.advice().await;
    beaker.put_in("3.10").await;
    beaker.read_ph("2.95").await;
    let state = beaker.state().await;
    let entries = state["entries"].as_array().unwrap();
    for (number, entry) in entries.iter().rev().take(2).enumerate() {
        let typed = json!({ "id": format!("018f0000-0000-7000-8000-{:012}", 70_000 + number), "entry": entry["id"],
            "reason": "another beaker" });
        let (status, told) = beaker.house.post(&format!("/api/batches/{}/undo", beaker.batch), &typed).await;
        assert_eq!(status, 200, "{told}");
    }
    let after = beaker.advice().await;
    assert_eq!(after["advice"]["add"], before["advice"]["add"]);
    assert_eq!(after["advice"]["readings"], before["advice"]["readings"]);
}

#[tokio::test]
async fn a_moving_reading_tells_where_it_ends_and_a_stuck_meter_has_its_words() {
    let mut beaker = Beaker::open().await;
    let (step, start) = (beaker.step, 100_000);
    let moving = |value: String| json!({ "did": "ph", "step": step, "value": value, "temperature_c": "25", "method": "neat" });
    // An approach with a time constant of 20 s to 2.22.
    for at in [0_i64, 10, 20, 30, 40, 50, 60] {
        let ph = 2.22 + 0.30 * (-(at as f64) / 20.0).exp();
        beaker.enter_at(start + at, moving(format!("{ph:.2}"))).await;
    }
    let told = beaker.advice().await;
    let settling = &told["series"]["settling"];
    assert!((number(&settling["ph"]) - 2.22).abs() < 0.02, "{settling}");
    assert!(number(&settling["wait"]) >= 0.0 && number(&settling["wait"]) < 60.0, "{settling}");
    assert_eq!(told["next"], "add", "the end of the series counts as a reading");
    assert_eq!(told["advice"]["readings"].as_array().unwrap().len(), 1, "one series is one reading");
    assert_eq!(told["series"]["stuck"], "");
    // After an addition the meter creeps on in a straight line.
    let line = beaker.line;
    let put = json!({ "did": "weighed", "step": step, "line": line, "net": "1.00", "unit": "g" });
    beaker.enter_at(start + 300, put).await;
    for at in 0..12_i64 {
        let ph = 2.60 - 0.02 * at as f64;
        beaker.enter_at(start + 600 + 60 * at, moving(format!("{ph:.2}"))).await;
    }
    let told = beaker.advice().await;
    assert_eq!(told["next"], "read", "{}", told["say"]);
    assert!(told["series"]["settling"]["ph"]["value"].is_null(), "{}", told["series"]);
    assert!(told["series"]["stuck"].as_str().unwrap().contains("electrode"), "{}", told["series"]);
}

#[tokio::test]
async fn settled_readings_repeated_count_as_one_and_say_what_stands_off() {
    let mut beaker = Beaker::open().await;
    let (step, start) = (beaker.step, 200_000);
    let stood = |value: &str| json!({ "did": "ph", "step": step, "value": value, "temperature_c": "25", "method": "neat", "settled": true });
    beaker.enter_at(start, stood("2.22")).await;
    let once = beaker.advice().await;
    assert!(once["series"]["together"].is_null(), "one reading is no series: {}", once["series"]);
    for (at, value) in [(60, "2.24"), (120, "2.23"), (180, "3.22"), (240, "2.23")] {
        beaker.enter_at(start + at, stood(value)).await;
    }
    let told = beaker.advice().await;
    assert_eq!(told["advice"]["readings"].as_array().unwrap().len(), 1, "one series is one reading");
    let together = &told["series"]["together"];
    // The mean of 2.22, 2.24, 2.23 and 2.23; 3.22 is left out and named.
    assert!((number(&together["ph"]) - 2.23).abs() < 1e-9, "{together}");
    assert!((together["ph"]["high"].as_f64().unwrap() - 2.23 - 1.96 * 0.01 / 2.0).abs() < 1e-9, "{together}");
    let words = together["words"].as_str().unwrap();
    assert!(words.contains("4 settled readings") && words.contains("reading 4 stands far off"), "{words}");
    assert!(
        number(&told["advice"]["reading"]) < number(&once["advice"]["reading"]),
        "together they are surer"
    );
}

#[tokio::test]
async fn a_calibration_is_kept_with_its_meter_and_offered_to_the_next_batch_of_the_day() {
    let mut beaker = Beaker::open().await;
    beaker.read_ph("2.22").await;
    let blind = number(&beaker.advice().await["advice"]["reading"]);
    let step = beaker.step;
    let typed = json!({ "did": "calibrated", "step": step, "instrument": "meter 2", "temperature_c": "25",
        "buffers": [{ "buffer": "technical-4-00", "mv": "173,0" }, { "buffer": "technical-7-00", "mv": "-1.5" }] });
    beaker.enter(typed).await;
    let told = beaker.advice().await;
    let kept = &told["calibration"];
    // (173.0 + 1.5) / 3 mV per pH of 59.16 mV.
    assert!(
        (number(&kept["reading"]["slope_percent"]) - 174.5 / 3.0 / 59.1597 * 100.0).abs() < 0.1,
        "{kept}"
    );
    assert_eq!((kept["instrument"].as_str(), kept["brackets"].as_bool()), (Some("meter 2"), Some(false)));
    assert!(number(&told["advice"]["reading"]) < blind, "a calibrated meter is surer");
    let state = beaker.state().await;
    let entry = state["entries"].as_array().unwrap().last().unwrap();
    assert_eq!((entry["did"].as_str(), entry["slope_percent"].as_str()), (Some("calibrated"), Some("98.3")));
    assert_eq!(entry["buffers"][0]["millivolt"]["typed"], "173,0", "typed digits are kept");
    // Another batch of the day is offered it, as it was typed.
    let other = beaker.house.read(&format!("/api/batches/{}", beaker.house.batch)).await;
    let step = other["steps"].as_array().unwrap().iter().find(|step| step["kind"] == "adjust").unwrap();
    let path = format!("/api/batches/{}/steps/{}/advice", beaker.house.batch, step["number"]);
    let offered = beaker.house.read(&path).await["offered"].clone();
    assert_eq!(offered.as_array().unwrap().len(), 1, "{offered}");
    assert_eq!(
        (offered[0]["batch"].as_str(), offered[0]["instrument"].as_str()),
        (Some("QUILL-7"), Some("meter 2"))
    );
    assert_eq!(offered[0]["buffers"][0]["millivolt"]["typed"], "173,0");
    assert!(told["offered"].as_array().unwrap().is_empty(), "not to the batch itself");
    // One buffer is no line, and a buffer that nobody knows is none.
    let entries = format!("/api/batches/{}/entries", beaker.batch);
    for buffers in [
        json!([{ "buffer": "technical-4-00", "mv": "173" }]),
        json!([{ "buffer": "tea", "mv": "1" }, { "buffer": "", "mv": "2" }]),
    ] {
        let wrong = json!({ "id": "018f0000-0000-7000-8000-000000099999", "did": "calibrated", "temperature_c": "25", "buffers": buffers });
        let (status, told) = beaker.house.post(&entries, &wrong).await;
        assert_eq!(status, 422, "{told}");
        assert!(told["place"]["field"].as_str().unwrap().starts_with("buffers"), "{told}");
    }
}

#[tokio::test]
async fn past_the_window_another_acid_or_base_is_asked_about_with_its_caution() {
    let mut beaker = Beaker::open().await;
    beaker.read_ph("2.22").await;
    beaker.put_in("6.50").await;
    beaker.read_ph("4.60").await;
    let told = beaker.advice().await;
    assert_eq!(told["next"], "beyond", "{}", told["say"]);
    let path = format!("/api/batches/{}/steps/{}/advice", beaker.batch, beaker.step);
    let unknown = beaker.house.read(&format!("{path}?with=brewed%20leaves")).await;
    assert_eq!(unknown["next"], "refused");
    assert!(unknown["say"].as_str().unwrap().contains("No raw material is called"), "{}", unknown["say"]);
    let counter = beaker.house.read(&format!("{path}?with=Citric%20acid%2050%20%25")).await;
    assert_eq!(
        (counter["next"].as_str(), counter["line"].is_null()),
        (Some("add"), true),
        "{}",
        counter["say"]
    );
    assert!(!counter["cautions"].as_array().unwrap().is_empty());
    let grams = format!("{:.2}", number(&counter["advice"]["add"]));
    let (step, with) = (beaker.step, counter["with"].clone());
    beaker.enter(json!({ "did": "added", "step": step, "material": with, "net": grams, "unit": "g" })).await;
    beaker.read_ph("3.80").await;
    let told = beaker.advice().await;
    assert_eq!(told["with"], with, "it goes on with what went in last");
    assert_eq!(told["advice"]["back_titrations"], 1);
    assert_eq!(beaker.state().await["added"][0]["material"], with);
    // A step that adds to no pH has no such advice, nor has one that is not there.
    for step in ["1", "999", "x"] {
        let request = crate::house::get(&format!("/api/batches/{}/steps/{step}/advice", beaker.batch));
        assert_eq!(beaker.house.send(request).await.status().as_u16(), 404);
    }
}
