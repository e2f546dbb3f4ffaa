//! The sample workspace: the formulas, prices, lots, trials and readings of an invented studio. Everything in it is made up.

mod batch;
mod challenge;
mod experiments;
mod stock;
mod studies;

use levigate_facts::Facts;
use levigate_project::records::{
    BatchSize, CoaValue, DecimalSign, Formula, FromDevice, Id, Lot, LotTaken, Method, Observation, Reading,
    Trial, TypedNumber,
};
use levigate_project::store::StoreError;
use levigate_project::workspace::{SampleFormula, VersionText, Workspace};
use std::collections::BTreeMap;

/// The invented studio.
pub(crate) const STUDIO: &str = "Quillfen Laboratory";
/// Name of the file of prices in the workspace's facts folder.
pub(crate) const PRICES_FILE: &str = "quillfen-prices.toml";
/// Its text.
pub(crate) const PRICES: &str = include_str!("../../../examples/quillfen-prices.toml");

const TONER: &str = include_str!("../../../examples/night-toner-mandelic.toml");
const GEL: &str = include_str!("../../../examples/hand-gel-carbomer.toml");
const SERUM: &str = include_str!("../../../examples/zinc-balancing-serum.toml");

/// An earlier version is the shipped text with these pieces put back.
struct Earlier {
    pieces: &'static [(&'static str, &'static str)],
    reason: &'static str,
}

struct Story {
    name: &'static str,
    text: &'static str,
    earlier: &'static [Earlier],
    reason: &'static str,
}

const STORIES: [Story; 3] = [
    Story {
        name: "Night toner with mandelic acid",
        text: TONER,
        earlier: &[Earlier {
            pieces: &[("ph = [3.6, 4.0]", "ph = [4.2, 4.6]"), ("to_ph = 3.8", "to_ph = 4.4")],
            reason: "First sheet from the brief of Marl & Moss",
        }],
        reason: "Down to pH 3.8: at 4.4 much less of the benzoate is in its working form; window agreed with the client",
    },
    Story {
        name: "Cooling hand gel",
        text: GEL,
        earlier: &[Earlier {
            pieces: &[("percent = 0.50\n\n[[phase]]", "percent = 0.35\n\n[[phase]]")],
            reason: "First sheet from the brief of Bramble Court",
        }],
        reason: "Carbomer up from 0.35 to 0.50 %: trial 1 was too thin for the tube",
    },
    Story {
        name: "Balancing serum with zinc",
        text: SERUM,
        earlier: &[],
        reason: "First sheet from the brief of Marl & Moss, chelant taken over from the house template",
    },
];

/// The sample formulas with their versions.
pub(crate) fn formulas(data_version: &str) -> Vec<SampleFormula> {
    let version = |text: String, reason: &str| VersionText {
        text,
        reason: reason.to_owned(),
        engine_version: env!("CARGO_PKG_VERSION").to_owned(),
        data_version: data_version.to_owned(),
    };
    STORIES
        .iter()
        .map(|story| {
            let mut versions: Vec<VersionText> = story
                .earlier
                .iter()
                .map(|earlier| {
                    let text = earlier
                        .pieces
                        .iter()
                        .fold(story.text.to_owned(), |text, (now, then)| text.replacen(now, then, 1));
                    version(text, earlier.reason)
                })
                .collect();
            versions.push(version(story.text.to_owned(), story.reason));
            SampleFormula { name: story.name.to_owned(), versions }
        })
        .collect()
}

/// Puts formulas, lots, trials and readings into a workspace that holds nothing yet, and says whether it did.
pub(crate) async fn seed(workspace: &Workspace, facts: &Facts) -> Result<bool, StoreError> {
    if !workspace.seed(STUDIO, &formulas(&facts.version())).await? {
        return Ok(false);
    }
    let mut shelf = Vec::new();
    for lot in lots() {
        shelf.push(workspace.add(STUDIO, lot).await?);
    }
    stock::decide(workspace, &shelf).await?;
    for head in workspace.formulas().await? {
        let id = head.formula.id;
        match head.formula.what.name.as_str() {
            "Night toner with mandelic acid" => toner_trials(workspace, id).await?,
            "Cooling hand gel" => {
                gel_trials(workspace, id).await?;
                experiments::keep(workspace, id).await?;
            }
            _ => {
                serum_trials(workspace, id).await?;
                batch::make(workspace, facts, id).await?;
                studies::keep(workspace, id).await?;
            }
        }
    }
    Ok(true)
}

fn number(typed: &str) -> TypedNumber {
    TypedNumber::read(typed, DecimalSign::Point)
}

fn lots() -> Vec<Lot> {
    [
        ("mandelic-acid", "MA-2608-14", Some("99.2"), (2026, 8, 21), (2028, 8, 20)),
        ("sodium-hydroxide-20", "NH-2609-03", Some("20.1"), (2026, 9, 18), (2027, 9, 17)),
        ("carbomer", "CB-2607-31", None, (2026, 8, 5), (2029, 7, 31)),
        ("tromethamine", "TR-2606-09", Some("99.8"), (2026, 6, 30), (2029, 6, 9)),
        ("zinc-pca", "ZP-2608-02", Some("98.6"), (2026, 8, 21), (2028, 8, 2)),
        ("phenoxyethanol-ethylhexylglycerin-90-10", "PX-2609-22", None, (2026, 9, 24), (2028, 9, 22)),
    ]
    .into_iter()
    .map(|(material, code, assay, received, expiry)| Lot {
        material: material.to_owned(),
        code: code.to_owned(),
        supplier: "Fenwick Raw Goods (invented)".to_owned(),
        assay_percent: assay.map(number),
        certificate: certificate(material),
        received: day(received),
        expiry: day(expiry),
        quantity: stock::received(material).0,
        location: stock::received(material).1.to_owned(),
        retest: None,
        documents: vec![format!("certificate-{code}.pdf")],
        note: String::new(),
    })
    .collect()
}

/// What the certificates of the invented supplier say besides the assay.
fn certificate(material: &str) -> Vec<CoaValue> {
    // Name, value, unit, most that the specification allows.
    let values: &[(&str, &str, &str, &str)] = match material {
        "mandelic-acid" => {
            &[("Loss on drying", "0.2", "%", "0.5"), ("Melting point", "119 to 121", "°C", "")]
        }
        "sodium-hydroxide-20" => {
            &[("Density at 20 °C", "1.221", "g/mL", ""), ("Sodium carbonate", "< 0.1", "%", "0.4")]
        }
        "carbomer" => &[
            ("Viscosity, 0.5 % at pH 7.5", "52000", "mPa·s", "60000"),
            ("Loss on drying", "1.1", "%", "2.0"),
        ],
        _ => &[],
    };
    values
        .iter()
        .map(|(name, value, unit, most)| CoaValue {
            name: (*name).to_owned(),
            value: number(value),
            unit: (*unit).to_owned(),
            least: None,
            most: Some(number(most)).filter(|most| !most.typed.is_empty()),
        })
        .collect()
}

fn day((year, month, day): (i16, i8, i8)) -> Option<jiff::civil::Date> {
    jiff::civil::Date::new(year, month, day).ok()
}

fn trial(formula: Id<Formula>, version: u32, process: &str) -> Trial {
    Trial {
        formula,
        version,
        parent: None,
        changed: String::new(),
        batch_size: Some(BatchSize { size: number("200"), unit: "g".to_owned() }),
        process: process.to_owned(),
        made: None,
        lots: Vec::new(),
    }
}

/// The lots taken for lines named by their raw material, in the order of the sheet.
fn taken(text: &str, lots: &[(&str, &str)]) -> Vec<LotTaken> {
    let Ok(file) = levigate_project::formula_file::read("sample", text) else { return Vec::new() };
    let lines = file.sheet.lines().enumerate();
    lines
        .filter_map(|(at, (_, line))| {
            let (_, code) = lots.iter().find(|(material, _)| *material == line.material)?;
            Some(LotTaken { line: at, material: line.material.clone(), code: (*code).to_owned() })
        })
        .collect()
}

/// A reading on the product as it is, at 25 C.
fn reading(
    trial: Id<Trial>,
    quantity: &str,
    value: &str,
    unit: &str,
    age_h: &str,
    instrument: &str,
) -> Reading {
    Reading {
        trial,
        quantity: quantity.to_owned(),
        value: number(value),
        unit: unit.to_owned(),
        method: Method::Neat,
        temperature_c: Some(number("25")),
        age_h: Some(number(age_h)),
        instrument: instrument.to_owned(),
        conditions: BTreeMap::new(),
        note: String::new(),
        from: FromDevice::default(),
        withdrawn: false,
    }
}

const METER: &str = "bench pH meter, calibrated at 4.01 and 7.00 the same day";
const VISCOMETER: &str = "rotational viscometer";

/// A viscosity with the spindle and speed without which it means nothing.
fn flow(trial: Id<Trial>, value: &str) -> Reading {
    let conditions = [("spindle", "disc, 30 mm"), ("speed", "20 rpm")];
    let conditions = conditions.map(|(name, value)| (name.to_owned(), value.to_owned()));
    Reading {
        conditions: conditions.into(), ..reading(trial, "viscosity", value, "mPa·s", "24", VISCOMETER)
    }
}

async fn toner_trials(workspace: &Workspace, formula: Id<Formula>) -> Result<(), StoreError> {
    let lots = taken(TONER, &[("Mandelic acid", "MA-2608-14"), ("Sodium hydroxide 20 %", "NH-2609-03")]);
    let first = trial(formula, 1, "Beaker, magnetic bar; base in four portions, pH read after each");
    let first = workspace.add(STUDIO, Trial { lots, ..first }).await?;
    workspace.add(STUDIO, reading(first.id, "ph", "4.37", "", "1", METER)).await?;
    let second = Trial::copied_from(&first, 2, "pH 3.8 instead of 4.4");
    let second = workspace.add(STUDIO, second).await?;
    let misread = workspace.add(STUDIO, reading(second.id, "ph", "8.33", "", "1", METER)).await?;
    let right = reading(second.id, "ph", "3.83", "", "1", METER);
    workspace.correct(STUDIO, misread.id, "Digits swapped when copied from the meter", right).await?;
    let diluted =
        Reading { method: Method::TenPercentInWater, ..reading(second.id, "ph", "3.91", "", "1", METER) };
    workspace.add(STUDIO, diluted).await?;
    workspace.add(STUDIO, reading(second.id, "ph", "3.82", "", "168", METER)).await?;
    let seen = "Clear, faintly almond. No crystals after a week at 5 °C.";
    workspace.observe(STUDIO, Observation::in_words(second.id, seen), None).await?;
    challenge::keep(workspace, formula, second.id).await
}

async fn gel_trials(workspace: &Workspace, formula: Id<Formula>) -> Result<(), StoreError> {
    let lots = taken(
        GEL,
        &[
            ("Carbomer", "CB-2607-31"),
            ("Phenoxyethanol 90 / ethylhexylglycerin 10", "PX-2609-22"),
            ("Tromethamine", "TR-2606-09"),
        ],
    );
    let process = "Carbomer sifted into the vortex, 40 min at 600 rpm; neutralised at 200 rpm with an anchor";
    let first = workspace.add(STUDIO, Trial { lots, ..trial(formula, 1, process) }).await?;
    workspace.add(STUDIO, flow(first.id, "5800")).await?;
    workspace.add(STUDIO, reading(first.id, "ph", "6.05", "", "24", METER)).await?;
    let seen = "Runs out of the tube; feels fine on the hand.";
    workspace.observe(STUDIO, Observation::in_words(first.id, seen), None).await?;
    let second =
        workspace.add(STUDIO, Trial::copied_from(&first, 2, "Carbomer 0.50 % instead of 0.35 %")).await?;
    workspace.add(STUDIO, flow(second.id, "9400")).await?;
    workspace.add(STUDIO, reading(second.id, "ph", "6.12", "", "24", METER)).await?;
    Ok(())
}

async fn serum_trials(workspace: &Workspace, formula: Id<Formula>) -> Result<(), StoreError> {
    let process = "Gum wetted in the glycol, poured into the vortex, 30 min; phase B below 40 C";
    let lots = taken(SERUM, &[("Zinc PCA", "ZP-2608-02")]);
    let first = workspace.add(STUDIO, Trial { lots, ..trial(formula, 1, process) }).await?;
    workspace.add(STUDIO, reading(first.id, "ph", "5.46", "", "1", METER)).await?;
    workspace
        .observe(
            STUDIO,
            Observation::in_words(
                first.id,
                "Slight haze. The client asks whether the zinc still does anything beside the EDTA.",
            ),
            None,
        )
        .await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use levigate_project::formula_file;

    #[test]
    fn every_sample_version_is_a_formula_and_differs_from_the_one_before() {
        for sample in formulas("test") {
            for (number, version) in sample.versions.iter().enumerate() {
                let read = formula_file::read("sample", &version.text);
                assert!(read.is_ok(), "{} version {}: {read:?}", sample.name, number + 1);
            }
            for pair in sample.versions.windows(2) {
                assert_ne!(pair[0].text, pair[1].text, "{}", sample.name);
            }
            assert_eq!(
                formula_file::read("sample", &sample.versions[0].text).unwrap().sheet.product.name,
                sample.name
            );
        }
    }

    #[test]
    fn every_piece_put_back_is_in_the_text() {
        for story in &STORIES {
            for (now, _) in story.earlier.iter().flat_map(|earlier| earlier.pieces) {
                assert!(story.text.contains(now), "{}: {now}", story.name);
            }
        }
    }

    #[test]
    fn prices_and_lots_speak_of_shipped_materials() {
        let mut facts = levigate_facts::shipped().unwrap();
        facts.overlay(&[(PRICES_FILE, PRICES)], levigate_formula::library::Layer::Workspace).unwrap();
        for lot in lots() {
            assert!(facts.library.materials.contains_key(&lot.material), "{}", lot.material);
        }
        assert!(facts.library.materials["water"].prices.len() == 1);
    }

    #[test]
    fn a_workspace_is_seeded_once_and_never_again() {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let store = levigate_store::SqliteStore::in_memory().await.unwrap();
            let workspace = levigate_store::with_machine(std::sync::Arc::new(store));
            let facts = levigate_facts::shipped().unwrap();
            assert!(seed(&workspace, &facts).await.unwrap());
            let before = workspace.verify().await.unwrap().length;
            assert!(!seed(&workspace, &facts).await.unwrap());
            assert_eq!(workspace.verify().await.unwrap().length, before);
            assert_eq!(workspace.formulas().await.unwrap().len(), 3);
            let made = workspace.batch_of_code(batch::CODE).await.unwrap();
            let records =
                levigate_project::workbench::batch::gather_batch(&workspace, made.id).await.unwrap();
            let state =
                levigate_project::workbench::batch::batch_state(&records, jiff::civil::date(2026, 11, 27));
            assert_eq!(state.next, None, "every step is done");
            assert!(state.lines.iter().all(|line| line.verdict == "within" && line.slip.is_empty()));
            assert!(state.entries.iter().any(|entry| entry.struck.is_some()), "one slip was taken back");
            let balanced = state.balanced.unwrap();
            assert!(balanced.remark.is_empty(), "{}", balanced.remark);
            assert_eq!(state.water.to_give_back.unwrap(), rust_decimal::Decimal::ZERO);
            let today = jiff::tz::Offset::UTC.to_datetime(workspace.clock().now()).date();
            let due = levigate_project::workbench::studies::due_pulls(&workspace, today, 0);
            assert_eq!(due.await.unwrap().len(), 3, "three pulls are due on the day the sample is made");
            assert!(workspace.signatures().await.unwrap().iter().all(|(_, _, holds)| *holds));
        });
    }
}
