//! The file of `microbes`.
//!
//! ```toml
//! title = "Balancing serum, batch Q-26-041"
//! class = "other"                 # key of a class; that of the formula, where one is named
//! [[count]]
//! of = "bacteria"                 # fungi: yeast and mould
//! plated_ml = 1
//! plates = [[0.1, 182], [0.1, 164], [0.01, 19], [0.01, 15]]   # product in what was plated, g/mL, and colonies
//! [[looked_for]]
//! organism = "Escherichia coli"
//! found = false
//! in_g = 1
//! [water]
//! cfu_per_ml = 40
//! below = true                    # the count is a floor
//! percent = 82                    # that of the formula, where one is named
//! [[material]]
//! name = "Oat extract"
//! percent = 2
//! cfu_per_g = 300
//! [low_risk]
//! ph = 5.4
//! water_activity = 0.96
//! alcohol_percent = 0
//! water_percent = 82
//! fill_c = 22
//! ```

use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use levigate_assess::microbes::{Brings, Looked};
use levigate_rules::book::RuleBook;
use levigate_rules::plates::Plate;
use rust_decimal::prelude::ToPrimitive;
use std::collections::BTreeSet;
use toml::de::DeTable;

/// `levigate schema microbes`.
pub const SCHEMA: &str = include_str!("microbes.schema.json");

/// Largest count anybody writes.
const MOST: f64 = 1e12;
/// Most colonies anybody counts on a plate.
const MOST_COLONIES: u32 = 10_000;

/// A count of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct CountRow {
    /// Key of the plating.
    pub of: String,
    /// Volume on a plate, mL.
    pub plated_ml: f64,
    /// Plates.
    pub plates: Vec<Plate>,
}

/// The water of the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Water {
    /// Its count, CFU/mL.
    pub cfu_per_ml: f64,
    /// The count is a floor.
    pub below: bool,
    /// Its share; that of the formula where it is left out.
    pub percent: Option<f64>,
}

/// What is known of the low-risk properties beside the formula.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct LowRisk {
    /// pH.
    pub ph: Option<f64>,
    /// Water activity.
    pub water_activity: Option<f64>,
    /// Ethanol and other alcohols, % w/w.
    pub alcohol_percent: Option<f64>,
    /// Aluminium chlorohydrate, % w/w.
    pub aluminium_chlorohydrate_percent: Option<f64>,
    /// Water, % w/w.
    pub water_percent: Option<f64>,
    /// Temperature of filling, C.
    pub fill_c: Option<f64>,
}

/// A question as read.
#[derive(Clone, Debug, PartialEq)]
pub struct MicrobesFile {
    /// What it is about.
    pub title: String,
    /// Key of the class.
    pub class: Option<String>,
    /// Counts.
    pub counts: Vec<CountRow>,
    /// Organisms looked for.
    pub looked: Vec<Looked>,
    /// Water.
    pub water: Option<Water>,
    /// Raw materials.
    pub materials: Vec<Brings>,
    /// Low-risk properties, where they are asked for.
    pub low_risk: Option<LowRisk>,
}

/// Reads a question; `rules` name classes and platings. `of_a_formula` says that class and shares may be left to it.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(
    file: &str,
    text: &str,
    rules: &RuleBook,
    of_a_formula: bool,
) -> Result<MicrobesFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    reader.known_fields(top, "", &["title", "class", "count", "looked_for", "water", "material", "low_risk"]);
    let title = reader.string(top, "", "title").unwrap_or_default();
    let classes: Vec<&str> = rules.microbial.keys().map(String::as_str).collect();
    let class = reader.choice(top, "", "class", &classes);
    if !of_a_formula && !top.contains_key("class") {
        let what_now =
            format!("write class = \"{}\", or name a formula with --formula", classes.join("\", \""));
        reader.missing(&(0..0), "", "class", &what_now);
    }
    let counts = counts(&mut reader, top, rules);
    let looked = looked(&mut reader, top, rules);
    let water = reader.table(top, "", "water").and_then(|(table, span)| {
        const PATH: &str = "water";
        reader.known_fields(table, PATH, &["cfu_per_ml", "below", "percent"]);
        if !table.contains_key("cfu_per_ml") {
            reader.missing(&span, PATH, "cfu_per_ml", "write the count of the water, CFU/mL");
        }
        if !of_a_formula && !table.contains_key("percent") {
            reader.missing(
                &span,
                PATH,
                "percent",
                "write its share in the product, or name a formula with --formula",
            );
        }
        Some(Water {
            cfu_per_ml: number(&mut reader, table, PATH, "cfu_per_ml", [0.0, MOST])?,
            below: reader.bool(table, PATH, "below").unwrap_or(false),
            percent: number(&mut reader, table, PATH, "percent", [0.0, 100.0]),
        })
    });
    let materials = materials(&mut reader, top);
    let low_risk = reader.table(top, "", "low_risk").map(|(table, _)| {
        const PATH: &str = "low_risk";
        const FIELDS: [&str; 6] = [
            "ph",
            "water_activity",
            "alcohol_percent",
            "aluminium_chlorohydrate_percent",
            "water_percent",
            "fill_c",
        ];
        reader.known_fields(table, PATH, &FIELDS);
        let mut value = |key: &str, range: [f64; 2]| number(&mut reader, table, PATH, key, range);
        LowRisk {
            ph: value("ph", [-1.0, 15.0]),
            water_activity: value("water_activity", [0.0, 1.0]),
            alcohol_percent: value("alcohol_percent", [0.0, 100.0]),
            aluminium_chlorohydrate_percent: value("aluminium_chlorohydrate_percent", [0.0, 100.0]),
            water_percent: value("water_percent", [0.0, 100.0]),
            fill_c: value("fill_c", [-20.0, 150.0]),
        }
    });
    finished(reader, Some(MicrobesFile { title, class, counts, looked, water, materials, low_risk }))
}

fn counts(reader: &mut Reader<'_>, top: &DeTable<'_>, rules: &RuleBook) -> Vec<CountRow> {
    let known: Vec<&str> = rules.plating.keys().map(String::as_str).collect();
    let mut found = Vec::new();
    let mut named = BTreeSet::new();
    for (place, (table, span)) in reader.tables(top, "", "count").into_iter().enumerate() {
        let path = format!("count {}", place + 1);
        reader.known_fields(table, &path, &["of", "plated_ml", "plates"]);
        if !table.contains_key("of") {
            reader.missing(&span, &path, "of", &format!("write of = \"{}\"", known.join("\" or \"")));
        }
        let of = reader.choice(table, &path, "of", &known).unwrap_or_default();
        if !of.is_empty() && !named.insert(of.clone()) {
            let what = format!("{of} are counted here twice");
            reader.wrong(table, &path, "of", what, "put all plates under one heading");
        }
        if !table.contains_key("plates") {
            reader.missing(
                &span,
                &path,
                "plates",
                "write plates = [[0.1, 182], [0.1, 164]]: product in what was plated, g/mL, and colonies",
            );
        }
        let plated_ml = if table.contains_key("plated_ml") {
            number(reader, table, &path, "plated_ml", [0.001, 1000.0])
        } else {
            Some(1.0)
        };
        let mut plates = Vec::new();
        for [product, colonies] in reader.pairs(table, &path, "plates").unwrap_or_default() {
            let product = product.to_f64().unwrap_or(0.0);
            let whole = colonies.fract().is_zero().then(|| colonies.to_u32()).flatten();
            match whole.filter(|count| *count <= MOST_COLONIES) {
                Some(colonies) if product > 0.0 && product <= 1.0 => {
                    plates.push(Plate { product_g_ml: product, colonies });
                }
                _ => {
                    let what = format!("a plate of {product} g/mL with {colonies} colonies");
                    let what_now = format!(
                        "product in what was plated lies above 0 and up to 1 g/mL (0.1 for one gram in ten millilitres), \
                         colonies are whole and at most {MOST_COLONIES}; leave out a plate nobody could count"
                    );
                    reader.wrong(table, &path, "plates", what, &what_now);
                }
            }
        }
        if table.contains_key("plates") && plates.is_empty() {
            reader.wrong(
                table,
                &path,
                "plates",
                "no plate".to_owned(),
                "write at least one plate, or leave the count out",
            );
        }
        if let Some(plated_ml) = plated_ml {
            found.push(CountRow { of, plated_ml, plates });
        }
    }
    found
}

fn looked(reader: &mut Reader<'_>, top: &DeTable<'_>, rules: &RuleBook) -> Vec<Looked> {
    let known: BTreeSet<&str> =
        rules.microbial.values().flat_map(|class| class.absent.iter().map(String::as_str)).collect();
    let known: Vec<&str> = known.into_iter().collect();
    let mut all = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "looked_for").into_iter().enumerate() {
        let path = format!("looked_for {}", place + 1);
        reader.known_fields(table, &path, &["organism", "found", "in_g"]);
        for (key, what_now) in [
            ("organism", "write its name"),
            ("found", "write found = true or found = false"),
            ("in_g", "write in how many grams of product it was looked for"),
        ] {
            if !table.contains_key(key) {
                reader.missing(&span, &path, key, what_now);
            }
        }
        let organism = reader.choice(table, &path, "organism", &known);
        let found = reader.bool(table, &path, "found");
        let in_g = number(reader, table, &path, "in_g", [0.001, 1000.0]);
        if let (Some(organism), Some(found), Some(in_g)) = (organism, found, in_g) {
            all.push(Looked { organism, found, in_g });
        }
    }
    all
}

fn materials(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<Brings> {
    let mut all = Vec::new();
    for (place, (table, span)) in reader.tables(top, "", "material").into_iter().enumerate() {
        let path = format!("material {}", place + 1);
        reader.known_fields(table, &path, &["name", "percent", "cfu_per_g", "below"]);
        let name = reader.required_string(table, &path, "name", &span, "write its name");
        for key in ["percent", "cfu_per_g"] {
            if !table.contains_key(key) {
                reader.missing(&span, &path, key, "write its share in the product and its count");
            }
        }
        let percent = number(reader, table, &path, "percent", [0.0, 100.0]);
        let cfu_per_g = number(reader, table, &path, "cfu_per_g", [0.0, MOST]);
        let below = reader.bool(table, &path, "below").unwrap_or(false);
        if let (Some(name), Some(percent), Some(cfu_per_g)) = (name, percent, cfu_per_g) {
            all.push(Brings { name, percent, cfu_per_g, below });
        }
    }
    all
}
