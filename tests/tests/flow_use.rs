//! Tubes, films, doses, heaps, marks, wedges and drops against another program: `cross/flow_use.py` and what it printed.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_process::flow::band::{Band, Holds};
use levigate_process::flow::creaming::{Layer, Sizes};
use levigate_process::flow::dose::Patch;
use levigate_process::flow::film::{GRAVITY_M_S2, Incline};
use levigate_process::flow::heap::Heap;
use levigate_process::flow::levelling::Marks;
use levigate_process::flow::line::Line;
use levigate_process::flow::pipe::Tube;
use levigate_process::flow::spreading::Finger;
use levigate_process::flow::suspension::Particle;
use levigate_process::flow::words::met;
use levigate_process::flow::{FlowModel, Modelled};
use levigate_project::workbench::flow_use::in_use;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

struct Case {
    question: String,
    liquid: Option<Modelled>,
    inputs: BTreeMap<String, f64>,
    result: f64,
}

impl Case {
    fn of(&self, name: &str) -> f64 {
        *self.inputs.get(name).unwrap_or_else(|| panic!("{}: no {name}", self.question))
    }

    fn incline(&self) -> Incline {
        Incline { angle_deg: self.of("angle"), density_kg_m3: self.of("density"), gravity_m_s2: GRAVITY_M_S2 }
    }

    fn drops(&self) -> (Sizes, Particle, Layer) {
        (
            Sizes::LogNormal { median_m: self.of("median"), spread: self.of("spread") },
            Particle {
                diameter_m: 0.0,
                density_difference_kg_m3: -self.of("difference"),
                inner_viscosity_pa_s: None,
            },
            Layer { height_m: self.of("height"), time_s: self.of("time"), volume_share: 0.0 },
        )
    }

    /// Our answer and how far it may be off, relative.
    fn ours(&self) -> (f64, f64) {
        let liquid = || self.liquid.as_ref().unwrap();
        match self.question.as_str() {
            "film-speed" => (self.incline().surface_speed_of(liquid(), self.of("thickness")), 1e-6),
            "film-flow" => (self.incline().flow_per_width_of(liquid(), self.of("thickness")), 1e-6),
            "tube-flow" => {
                let tube = Tube { radius_m: self.of("radius"), length_m: 1.0 };
                (tube.flow_of(liquid(), self.of("wall")), 1e-6)
            }
            "line-pressure" => {
                let tube = |r, l| Tube { radius_m: self.of(r), length_m: self.of(l) };
                let line = Line {
                    tubes: vec![tube("r1", "l1"), tube("r2", "l2")],
                    rise_m: self.of("rise"),
                    density_kg_m3: self.of("density"),
                };
                (line.pressure_for(liquid(), self.of("flow")).unwrap(), 1e-6)
            }
            "dose-front" => {
                let patch = Patch {
                    volume_m3: self.of("volume"),
                    width_m: self.of("width"),
                    length_m: self.of("length"),
                };
                // Theirs smears the front over a few cells of its grid.
                (patch.run(liquid(), &self.incline(), self.of("time")).way_m + patch.length_m, 3e-3)
            }
            "heap-radius" => {
                (Heap::of(self.of("yield"), self.of("density"), self.of("volume")).radius_m, 1e-4)
            }
            "heap-height" => {
                (Heap::of(self.of("yield"), self.of("density"), self.of("volume")).height_m, 1e-4)
            }
            "levelling" => {
                let marks = Marks {
                    film_m: self.of("film"),
                    wavelength_m: self.of("wavelength"),
                    amplitude_m: self.of("amplitude"),
                    surface_tension_n_m: self.of("tension"),
                    density_kg_m3: 0.0,
                };
                (marks.time_to(liquid(), self.of("share")), 1e-5)
            }
            "wedge" => {
                let finger = Finger {
                    speed_m_s: self.of("speed"),
                    film_m: self.of("film"),
                    length_m: self.of("length"),
                    width_m: 1.0,
                };
                (finger.wedge_pressure(liquid(), self.of("opening")), 1e-6)
            }
            "gone" => {
                let (sizes, drop, layer) = self.drops();
                (sizes.share_gone(&drop, liquid(), &layer), 1e-6)
            }
            other => panic!("no question {other}"),
        }
    }
}

fn liquid(text: &str) -> Option<Modelled> {
    let mut parts = text.split(';');
    let model = match parts.next()? {
        "herschel-bulkley" => FlowModel::HerschelBulkley,
        "cross" => FlowModel::Cross,
        "three-component" => FlowModel::ThreeComponent,
        "" => return None,
        other => panic!("no model {other}"),
    };
    Some(Modelled { model, parameters: parts.map(|part| part.parse().unwrap()).collect() })
}

fn cases() -> Vec<Case> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("cross/flow_use.csv");
    let text = std::fs::read_to_string(path).unwrap();
    let rows = text.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(|line| {
        let row: Vec<&str> = line.split(',').collect();
        let inputs = row[2].split(';').map(|pair| {
            let (name, value) = pair.split_once('=').unwrap();
            (name.to_owned(), value.parse().unwrap())
        });
        Case {
            question: row[0].to_owned(),
            liquid: liquid(row[1]),
            inputs: inputs.collect(),
            result: row[3].parse().unwrap(),
        }
    })
    .collect()
}

#[test]
fn answers_agree_with_another_program() {
    let cases = cases();
    assert!(cases.len() >= 33, "{}", cases.len());
    let mut misses = Vec::new();
    for case in &cases {
        let (ours, allowed) = case.ours();
        let off = ours / case.result - 1.0;
        if off.is_nan() || off.abs() > allowed {
            misses.push(format!(
                "{} {:?}: {ours} against {}, {off:.1e}",
                case.question, case.inputs, case.result
            ));
        }
    }
    assert!(misses.is_empty(), "{misses:#?}");
}

#[test]
fn bubbles_leave_no_sooner_than_the_scenario_says() {
    // 6 Pa s: depth 0.1 m, 0.5 mm 1.2 h, 0.2 mm 7.6 h, 0.1 mm 31 h, 0.05 mm 122 h; depth 1 m, 0.2 mm 76 h.
    for (depth_m, millimetres, hours) in
        [(0.1, 0.5, 1.2), (0.1, 0.2, 7.6), (0.1, 0.1, 31.0), (0.1, 0.05, 122.0), (1.0, 0.2, 76.0)]
    {
        let bubble = Particle {
            diameter_m: millimetres * 1e-3,
            density_difference_kg_m3: -1000.0,
            inner_viscosity_pa_s: None,
        };
        let newton = Modelled { model: FlowModel::Newton, parameters: vec![6.0] };
        let ours = depth_m / bubble.speed_in(&newton, 0.0) / 3600.0;
        assert!((ours / hours - 1.0).abs() < 0.03, "{ours} h against {hours} h");
        // Those are lower bounds: thicker at rest it takes longer, a yield stress stops it.
        let thicker_at_rest = Modelled { model: FlowModel::CrossThinning, parameters: vec![60.0, 5.0, 0.7] };
        assert!(depth_m / bubble.speed_in(&thicker_at_rest, 0.0) / 3600.0 > hours);
        let gel = Modelled { model: FlowModel::HerschelBulkley, parameters: vec![1.0, 5.0, 0.5] };
        assert_eq!(bubble.speed_in(&gel, 0.0), 0.0);
    }
}

#[test]
fn computed_shear_rates_of_the_life_meet_the_published_ones() {
    let facts = levigate_facts::shipped().unwrap();
    let mut compared = 0;
    for stage in facts.flow_use.stages.values() {
        let Some(published) = &stage.published else { continue };
        // Where weight or surface tension drives, the liquid answers: a lotion of 5 Pa s at rest.
        let lotion = Modelled { model: FlowModel::CrossThinning, parameters: vec![5.0, 1.0, 0.6] };
        let on = stage.on(&Band::exact(&lotion), 1000.0);
        assert!(
            on.shear_rate.low <= published.high && on.shear_rate.high >= published.low,
            "{}: {:?} against {} to {}",
            stage.key,
            on.shear_rate,
            published.low,
            published.high
        );
        compared += 1;
    }
    assert!(compared >= 8, "{compared}");
}

#[test]
fn everyday_liquids_meet_the_words_people_have_for_them() {
    let facts = levigate_facts::shipped().unwrap();
    let words: Vec<_> = facts.flow_use.words.values().collect();
    let surely = |liquid: &Modelled| -> Vec<&str> {
        let found = met(&words, &Band::exact(liquid), 1000.0);
        let pairs = words.iter().zip(found);
        pairs.filter(|(_, met)| met.holds == Holds::Surely).map(|(word, _)| word.key.as_str()).collect()
    };
    let newton = |eta| Modelled { model: FlowModel::Newton, parameters: vec![eta] };
    let water = surely(&newton(1e-3));
    assert!(water.contains(&"like-water") && water.contains(&"runs-away"), "{water:?}");
    // 1 Pa s is thin honey: no water, pours, neither runs away nor stays.
    let honey = surely(&newton(1.0));
    assert!(honey.contains(&"pours") && !honey.contains(&"like-water"), "{honey:?}");
    assert!(!honey.contains(&"stays-put") && !honey.contains(&"runs-away"), "{honey:?}");
    // The gel of the dip-tube example with a yield stress of a carbomer gel.
    let gel = surely(&Modelled { model: FlowModel::HerschelBulkley, parameters: vec![45.0, 20.0, 0.45] });
    assert!(gel.contains(&"standing-gel") && gel.contains(&"stays-put"), "{gel:?}");
    assert!(!gel.contains(&"pours") && !gel.contains(&"like-water"), "{gel:?}");
}

/// Sources and proofs of every result.
fn gather(value: &Value, sources: &mut BTreeSet<String>, proofs: &mut BTreeSet<String>) {
    match value {
        Value::Object(fields) => {
            for (name, inner) in fields {
                if name == "proof" {
                    proofs.extend(inner.as_str().map(str::to_owned));
                }
                if name == "sources"
                    && let Some(keys) = inner.as_array()
                {
                    sources.extend(keys.iter().filter_map(Value::as_str).map(str::to_owned));
                }
                gather(inner, sources, proofs);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| gather(item, sources, proofs)),
        _ => {}
    }
}

#[test]
fn every_source_and_proof_named_is_on_file() {
    let facts = levigate_facts::shipped().unwrap();
    let home = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let formula =
        std::fs::read_to_string(home.join("examples/scenarios/5-hypromellose-clear-gel.toml")).unwrap();
    let gel = "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 4\nK = 3\nn = 0.45\nfactor = 1.3\n";
    let (mut sources, mut proofs) = (BTreeSet::new(), BTreeSet::new());
    for text in [formula.as_str(), gel] {
        let answered = in_use(&facts, ("own.toml", text)).unwrap();
        gather(&serde_json::to_value(&answered).unwrap(), &mut sources, &mut proofs);
    }
    assert!(sources.len() >= 12, "{sources:?}");
    let missing: Vec<_> = sources.iter().filter(|key| !facts.sources.contains_key(*key)).collect();
    assert!(missing.is_empty(), "named by results but not on file: {missing:?}");
    let files: Vec<_> = proofs.iter().filter(|proof| proof.contains('/')).collect();
    assert!(files.len() >= 8, "{files:?}");
    for proof in files {
        assert!(home.join(proof).is_file(), "{proof} is no file");
    }
}
