//! The file of `pack`.
//!
//! ```toml
//! temperature_c = 25             # filled and used at
//! fill_g = 31.5
//! water_percent = 65
//! [oxygen]
//! headspace_ml = 5
//! doses = 60
//! air_per_dose_ml = [0.0, 1.0]   # one number, or from and to
//! ingress_ul_day = 4
//! months = 12
//! [[takes_up]]
//! name = "ascorbic acid"
//! percent = 15.2
//! molar_mass_g_mol = 176.12
//! per_oxygen = [1, 2]
//! [water]
//! loss_g = [0.20, 0.26]
//! over_days = 84
//! tested = { temperature_c = 40, humidity_percent = 20 }
//! stored = { temperature_c = 25, humidity_percent = 50 }
//! limit_percent = 3
//! ```

use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use crate::workbench::studies::StudyPractice;
use levigate_process::pack::{Asked, OxygenAsked, Permeation, Place, Range, TakesUp, WaterAsked};
use rust_decimal::prelude::ToPrimitive;
use toml::de::DeTable;

/// `levigate schema pack`.
pub const SCHEMA: &str = include_str!("pack.schema.json");

const FIELDS: [&str; 9] = [
    "title",
    "note",
    "temperature_c",
    "humidity_percent",
    "fill_g",
    "water_percent",
    "oxygen",
    "takes_up",
    "water",
];
const TEMPERATURES: [f64; 2] = [0.0, 60.0];
/// Room, where nobody says one.
const USUAL: Place = Place { temperature_c: 25.0, humidity: 0.5 };
const USUAL_WATER_ACTIVITY: f64 = 1.0;

/// Reads a question.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<Asked, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &FIELDS);
    reader.string(top, "", "note");
    let title = reader.string(top, "", "title").unwrap_or_default();
    let temperature_c =
        number(&mut reader, top, "", "temperature_c", TEMPERATURES).unwrap_or(USUAL.temperature_c);
    let humidity = number(&mut reader, top, "", "humidity_percent", [0.0, 100.0])
        .map_or(USUAL.humidity, |percent| percent / 100.0);
    let fill_g = number(&mut reader, top, "", "fill_g", [0.01, 1e6]);
    if fill_g.is_none() && !top.contains_key("fill_g") {
        reader.missing(&(0..0), "", "fill_g", "write what is in the pack, fill_g = 30");
    }
    let water_percent = number(&mut reader, top, "", "water_percent", [0.0, 100.0]);
    let oxygen = reader.table(top, "", "oxygen").map(|(table, _)| oxygen(&mut reader, table));
    let takes_up = takes_up(&mut reader, top);
    let water = reader.table(top, "", "water").and_then(|(table, span)| water(&mut reader, table, &span));
    if !(top.contains_key("oxygen") || top.contains_key("water")) {
        reader.missing(
            &(0..0),
            "",
            "oxygen",
            "write [oxygen] with what lets air in, or [water] with what the pack lost",
        );
    }
    if !takes_up.is_empty() && oxygen.is_none() {
        reader.missing(
            &(0..0),
            "",
            "oxygen",
            "write [oxygen] with headspace_ml: what takes oxygen up is held against it",
        );
    }
    finished(
        reader,
        fill_g.map(|fill_g| Asked {
            title,
            temperature_c,
            humidity,
            fill_g,
            water_percent,
            oxygen,
            takes_up,
            water,
        }),
    )
}

/// A number, or from and to.
fn range(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    [low, high]: [f64; 2],
) -> Option<Range> {
    if table.get(key)?.get_ref().as_array().is_none() {
        return number(reader, table, path, key, [low, high]).map(|value| [value, value]);
    }
    let [from, to] = reader.window(table, path, key)?;
    let (from, to) = (from.to_f64()?, to.to_f64()?);
    if low <= from && from <= to && to <= high {
        return Some([from, to]);
    }
    let what = format!("{key} from {from} to {to}");
    reader.wrong(table, path, key, what, &format!("write from and to, between {low} and {high}"));
    None
}

fn oxygen(reader: &mut Reader<'_>, table: &DeTable<'_>) -> OxygenAsked {
    let path = "oxygen";
    reader.known_fields(
        table,
        path,
        &["headspace_ml", "doses", "air_per_dose_ml", "ingress_ul_day", "months"],
    );
    let none = [0.0, 0.0];
    let ingress_ul_day = range(reader, table, path, "ingress_ul_day", [0.0, 1e6]).unwrap_or(none);
    let air_per_dose_ml = range(reader, table, path, "air_per_dose_ml", [0.0, 1e3]).unwrap_or(none);
    for (first, then) in
        [("ingress_ul_day", "months"), ("air_per_dose_ml", "doses"), ("doses", "air_per_dose_ml")]
    {
        if table.contains_key(first) && !table.contains_key(then) {
            let what_now = format!("write {then} beside {first}");
            let span = reader.span(table, first).unwrap_or_default();
            reader.missing(&span, path, then, &what_now);
        }
    }
    OxygenAsked {
        headspace_ml: range(reader, table, path, "headspace_ml", [0.0, 1e5]).unwrap_or(none),
        doses: number(reader, table, path, "doses", [0.0, 1e5]).unwrap_or(0.0),
        air_per_dose_ml,
        ingress_ul_day,
        months: number(reader, table, path, "months", [0.0, 120.0]).unwrap_or(0.0),
    }
}

fn takes_up(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<TakesUp> {
    let mut found = Vec::new();
    for (at, (table, span)) in reader.tables(top, "", "takes_up").into_iter().enumerate() {
        let path = format!("takes_up {}", at + 1);
        reader.known_fields(table, &path, &["name", "percent", "molar_mass_g_mol", "per_oxygen"]);
        let name = reader.required_string(table, &path, "name", &span, "name it, name = \"ascorbic acid\"");
        for (key, what_now) in [
            ("percent", "write its content in the product, percent = 15"),
            ("molar_mass_g_mol", "write its molar mass, molar_mass_g_mol = 176.12"),
            ("per_oxygen", "write the mol of it that one mol of oxygen takes, per_oxygen = [1, 2]"),
        ] {
            if !table.contains_key(key) {
                reader.missing(&span, &path, key, what_now);
            }
        }
        let percent = number(reader, table, &path, "percent", [1e-6, 100.0]);
        let molar_mass_g_mol = number(reader, table, &path, "molar_mass_g_mol", [10.0, 1e7]);
        let per_oxygen = range(reader, table, &path, "per_oxygen", [0.01, 100.0]);
        if let (Some(name), Some(percent), Some(molar_mass_g_mol), Some(per_oxygen)) =
            (name, percent, molar_mass_g_mol, per_oxygen)
        {
            found.push(TakesUp { name, percent, molar_mass_g_mol, per_oxygen });
        }
    }
    found
}

fn place(reader: &mut Reader<'_>, table: &DeTable<'_>, key: &str) -> Option<Place> {
    let (place, span) = reader.table(table, "water", key)?;
    let path = format!("water.{key}");
    reader.known_fields(place, &path, &["temperature_c", "humidity_percent"]);
    for field in ["temperature_c", "humidity_percent"] {
        if !place.contains_key(field) {
            reader.missing(&span, &path, field, "write { temperature_c = 25, humidity_percent = 50 }");
        }
    }
    let temperature_c = number(reader, place, &path, "temperature_c", TEMPERATURES);
    let humidity = number(reader, place, &path, "humidity_percent", [0.0, 100.0]);
    Some(Place { temperature_c: temperature_c?, humidity: humidity? / 100.0 })
}

fn water(reader: &mut Reader<'_>, table: &DeTable<'_>, span: &std::ops::Range<usize>) -> Option<WaterAsked> {
    let path = "water";
    reader.known_fields(
        table,
        path,
        &["loss_g", "over_days", "tested", "stored", "water_activity", "permeation_kj_mol", "limit_percent"],
    );
    for (key, what_now) in [
        ("loss_g", "write what a filled pack lost, loss_g = 0.25"),
        ("over_days", "write in how many days, over_days = 84"),
        ("tested", "write tested = { temperature_c = 40, humidity_percent = 20 }"),
        ("stored", "write stored = { temperature_c = 25, humidity_percent = 50 }"),
    ] {
        if !table.contains_key(key) {
            reader.missing(span, path, key, what_now);
        }
    }
    let loss_g = range(reader, table, path, "loss_g", [0.0, 1e5]);
    let over_days = number(reader, table, path, "over_days", [0.1, 4000.0]);
    let (tested, stored) = (place(reader, table, "tested"), place(reader, table, "stored"));
    let water_activity =
        number(reader, table, path, "water_activity", [0.1, 1.0]).unwrap_or(USUAL_WATER_ACTIVITY);
    let energies = range(reader, table, path, "permeation_kj_mol", [0.0, 150.0]);
    let limit_percent = number(reader, table, path, "limit_percent", [1e-3, 100.0]);
    if let Some(tested) = tested.filter(|place| place.humidity >= water_activity) {
        let what = format!("air of {} % moisture takes no water from it", 100.0 * tested.humidity);
        reader.wrong(table, path, "tested", what, "test where the air is drier than the product");
        return None;
    }
    Some(WaterAsked {
        loss_g: loss_g?,
        over_days: over_days?,
        tested: tested?,
        stored: stored?,
        water_activity,
        permeation: Permeation {
            j_mol: energies
                .unwrap_or(StudyPractice::shipped().permeation.kj_mol)
                .map(|energy| 1000.0 * energy),
            stated: energies.is_some(),
        },
        limit_percent,
    })
}
