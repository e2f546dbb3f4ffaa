//! The file of a question of use: a liquid, and the sizes that shall differ from the usual ones.
//!
//! ```toml
//! [liquid]
//! model = "herschel-bulkley"   # and its parameters by their symbols, SI
//! tau0 = 4.0
//! K = 3.0
//! n = 0.45
//! # or points = [[0.1, 40.0], [10.0, 3.0], [1000.0, 0.2]]    shear rate in 1/s, viscosity in Pa s
//! density_kg_m3 = 1015.0
//! factor = 1.3                 # it may be so many times thicker or thinner
//! [pack]                       # flow dispense; film, dose, marks, finger: flow drain; drops, shelf, centrifuge, bubbles: flow cream
//! stroke_ml = 0.3
//! ```
//!
//! A file without `[liquid]` that is a formula is predicted; sizes then come from a file of their own. Sizes left out are the usual ones of the
//! facts.

use crate::diagnostic::{Diagnostic, at};
use crate::toml_reader::{Reader, join, parsed};
use crate::workbench::flow_fit::model_word;
use levigate_process::flow::points::{Points, Scaled};
use levigate_process::flow::settings::{Dispensing, Draining, Drive, Standing, limits};
use levigate_process::flow::{FlowModel, Liquid, Modelled};
use rust_decimal::prelude::ToPrimitive;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use std::ops::Range;
use toml::Value;
use toml::de::DeTable;

/// `levigate schema flow-dispense`.
pub const DISPENSE_SCHEMA: &str = include_str!("flow_file/dispense.schema.json");
/// `levigate schema flow-drain`.
pub const DRAIN_SCHEMA: &str = include_str!("flow_file/drain.schema.json");
/// `levigate schema flow-cream`.
pub const CREAM_SCHEMA: &str = include_str!("flow_file/cream.schema.json");

/// Sizes of a question, and how their fields stand in a file.
pub trait Sizes: Serialize + DeserializeOwned + Clone {
    /// Tables of the file.
    const TABLES: &'static [&'static str];
    /// The table that holds all of them, where the file gives them one.
    const WITHIN: Option<&'static str>;
}

impl Sizes for Dispensing {
    const TABLES: &'static [&'static str] = &["pack"];
    const WITHIN: Option<&'static str> = Some("pack");
}

impl Sizes for Draining {
    const TABLES: &'static [&'static str] = &["film", "dose", "marks", "finger"];
    const WITHIN: Option<&'static str> = None;
}

impl Sizes for Standing {
    const TABLES: &'static [&'static str] = &["drops", "shelf", "centrifuge", "bubbles"];
    const WITHIN: Option<&'static str> = None;
}

/// For questions that ask for no sizes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct NoSizes {}

impl Sizes for NoSizes {
    const TABLES: &'static [&'static str] = &[];
    const WITHIN: Option<&'static str> = None;
}

/// A liquid as typed.
#[derive(Clone, Debug, PartialEq)]
pub enum Typed {
    /// A flow model.
    Model(Modelled),
    /// A flow curve.
    Points(Points),
}

impl Liquid for Typed {
    fn stress(&self, shear_rate: f64) -> f64 {
        match self {
            Self::Model(model) => model.stress(shear_rate),
            Self::Points(points) => points.stress(shear_rate),
        }
    }

    fn yield_stress(&self) -> f64 {
        match self {
            Self::Model(model) => model.yield_stress(),
            Self::Points(points) => points.yield_stress(),
        }
    }
}

/// The liquid of a file with what is known of it.
#[derive(Clone, Debug, PartialEq)]
pub struct TypedLiquid {
    /// The liquid.
    pub liquid: Typed,
    /// Density, kg/m3.
    pub density_kg_m3: f64,
    /// The density was not typed.
    pub density_assumed: bool,
    /// How many times thicker or thinner it may be, from 1.
    pub factor: f64,
    /// Shear rates its evidence covers, 1/s.
    pub window: Option<[f64; 2]>,
    /// In words.
    pub from: String,
}

impl TypedLiquid {
    /// The liquid at an edge of what it may be.
    #[must_use]
    pub fn edge(&self, thicker: bool) -> Scaled<Typed> {
        let factor = if thicker { self.factor } else { 1.0 / self.factor };
        Scaled { liquid: self.liquid.clone(), factor }
    }
}

/// What a text is.
#[derive(Clone, Debug, PartialEq)]
pub enum Question<S> {
    /// A liquid and the sizes to ask it with.
    Liquid(Box<TypedLiquid>, S),
    /// A formula.
    Formula,
}

/// Density where none is typed: water with what serums hold, kg/m3.
pub(crate) const USUAL_DENSITY: f64 = 1000.0;

/// Reads a question. `file` is only used in messages.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read<S: Sizes>(file: &str, text: &str, usual: &S) -> Result<Question<S>, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    if !top.contains_key("liquid") && (top.contains_key("phase") || top.contains_key("product")) {
        return Ok(Question::Formula);
    }
    let mut reader = Reader::new(file, text);
    let known: Vec<&str> = ["title", "liquid"].into_iter().chain(S::TABLES.iter().copied()).collect();
    reader.known_fields(top, "", &known);
    reader.string(top, "", "title");
    let liquid = match reader.table(top, "", "liquid") {
        Some((liquid, span)) => read_liquid(&mut reader, liquid, &span, (file, text)),
        None if top.contains_key("liquid") => None,
        None => {
            reader.missing(
                &(0..0),
                "",
                "liquid",
                "write [liquid] with a model and its parameters, or points; or name a formula file",
            );
            None
        }
    };
    let sizes = read_sizes(&mut reader, top, usual, (file, text));
    finished(reader, liquid.zip(sizes)).map(|(liquid, sizes)| Question::Liquid(Box::new(liquid), sizes))
}

/// Reads sizes alone.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read_sizes_alone<S: Sizes>(file: &str, text: &str, usual: &S) -> Result<S, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let known: Vec<&str> = ["title"].into_iter().chain(S::TABLES.iter().copied()).collect();
    reader.known_fields(table.get_ref(), "", &known);
    reader.string(table.get_ref(), "", "title");
    let sizes = read_sizes(&mut reader, table.get_ref(), usual, (file, text));
    finished(reader, sizes)
}

fn finished<T>(reader: Reader<'_>, found: Option<T>) -> Result<T, Vec<Diagnostic>> {
    let problems = reader.finish();
    match found {
        Some(found) if problems.is_empty() => Ok(found),
        _ => Err(problems),
    }
}

const IN_LIQUID: [&str; 5] = ["model", "points", "density_kg_m3", "factor", "shear_rates"];

/// Reads a `[liquid]`.
pub(crate) fn read_liquid(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    text: (&str, &str),
) -> Option<TypedLiquid> {
    let words: Vec<String> = FlowModel::ALL.into_iter().map(model_word).collect();
    let known: Vec<&str> = words.iter().map(String::as_str).collect();
    let model = reader
        .choice(table, "liquid", "model", &known)
        .and_then(|word| FlowModel::ALL.into_iter().find(|model| model_word(*model) == word));
    let symbols: Vec<&str> = model.iter().flat_map(|model| model.parameters()).map(|of| of.symbol).collect();
    let fields: Vec<&str> = IN_LIQUID.into_iter().chain(symbols).collect();
    if model.is_some() || !table.contains_key("model") {
        reader.known_fields(table, "liquid", &fields);
    }
    let density = number(reader, table, "liquid", "density_kg_m3", limits("density_kg_m3"));
    let factor = number(reader, table, "liquid", "factor", [1.0, 1000.0]).unwrap_or(1.0);
    let window = reader
        .window(table, "liquid", "shear_rates")
        .and_then(|[low, high]| Some([low.to_f64()?, high.to_f64()?]));
    let (liquid, own_window, from) = match (model, table.contains_key("points")) {
        (Some(_), true) => {
            let what = "a liquid is given by a model or by points, not by both".to_owned();
            reader.wrong(table, "liquid", "points", what, "leave one of them out");
            return None;
        }
        (Some(model), false) => {
            let modelled = read_model(reader, table, span, model)?;
            let values: Vec<String> = model
                .parameters()
                .iter()
                .zip(&modelled.parameters)
                .map(|(of, value)| format!("{} {value} {}", of.symbol, of.unit).trim().to_owned())
                .collect();
            let from = format!("{}, {}, as typed", model.words(), values.join(", "));
            (Typed::Model(modelled), None, from)
        }
        (None, true) => {
            let points = read_points(reader, table, text)?;
            let window = points.window();
            (Typed::Points(points), Some(window), "points as typed".to_owned())
        }
        (None, false) => {
            if !table.contains_key("model") {
                reader.missing(
                    span,
                    "liquid",
                    "model",
                    &format!("use one of {}; or give points", words.join(", ")),
                );
            }
            return None;
        }
    };
    Some(TypedLiquid {
        liquid,
        density_kg_m3: density.unwrap_or(USUAL_DENSITY),
        density_assumed: density.is_none(),
        factor,
        window: window.or(own_window),
        from,
    })
}

fn read_model(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    model: FlowModel,
) -> Option<Modelled> {
    let mut parameters = Vec::new();
    for of in model.parameters() {
        if !table.contains_key(of.symbol) {
            let unit = if of.unit.is_empty() { String::new() } else { format!(" in {}", of.unit) };
            reader.missing(span, "liquid", of.symbol, &format!("give the {}{unit}", of.words));
        }
        parameters.push(number(reader, table, "liquid", of.symbol, of.bounds));
    }
    let parameters: Option<Vec<f64>> = parameters.into_iter().collect();
    Some(Modelled { model, parameters: parameters? })
}

fn read_points(reader: &mut Reader<'_>, table: &DeTable<'_>, text: (&str, &str)) -> Option<Points> {
    let pairs = reader.pairs(table, "liquid", "points")?;
    let points: Option<Vec<(f64, f64)>> =
        pairs.iter().map(|[rate, eta]| Some((rate.to_f64()?, eta.to_f64()?))).collect();
    match Points::new(&points?) {
        Ok(points) => Some(points),
        Err(error) => {
            let span = reader.span(table, "points").unwrap_or(0..0);
            reader.say(at(text, &span, "no-curve", "liquid, points", error.to_string(), error.hint()));
            None
        }
    }
}

/// A number within limits.
pub(crate) fn number(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    key: &str,
    [low, high]: [f64; 2],
) -> Option<f64> {
    let value = reader.decimal(table, path, key)?.to_f64()?;
    if (low..=high).contains(&value) {
        return Some(value);
    }
    reader.wrong(
        table,
        path,
        key,
        format!("{key} is {value}"),
        &format!("it lies between {low} and {high}; the unit stands in the name of the field"),
    );
    None
}

/// The usual sizes with those of the file laid over.
fn read_sizes<S: Sizes>(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    usual: &S,
    text: (&str, &str),
) -> Option<S> {
    let mut value = Value::try_from(usual).ok()?;
    let fields = value.as_table_mut()?;
    for &name in S::TABLES {
        let Some((table, _)) = reader.table(top, "", name) else { continue };
        match S::WITHIN {
            Some(_) => lay_over(reader, table, name, fields),
            None => {
                if let Some(inner) = fields.get_mut(name).and_then(Value::as_table_mut) {
                    lay_over(reader, table, name, inner);
                }
            }
        }
    }
    match S::deserialize(value) {
        Ok(sizes) => Some(sizes),
        Err(error) => {
            let what = error.message().trim().to_owned();
            reader.say(at(text, &(0..0), "wrong-value", "", what, "compare with the schema of this file"));
            None
        }
    }
}

/// Fields that may be left out even of the usual sizes.
fn optional(path: &str) -> &'static [&'static str] {
    if path == "drops" { &["inner_viscosity_mpa_s", "class"] } else { &[] }
}

fn lay_over(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, fields: &mut toml::Table) {
    let names: Vec<String> = fields
        .keys()
        .map(String::as_str)
        .filter(|name| !["reason", "source"].contains(name))
        .chain(optional(path).iter().copied().filter(|name| !fields.contains_key(*name)))
        .map(str::to_owned)
        .collect();
    let known: Vec<&str> = names.iter().map(String::as_str).collect();
    reader.known_fields(table, path, &known);
    for name in &known {
        if !table.contains_key(*name) {
            continue;
        }
        match fields.get_mut(*name) {
            Some(Value::Table(inner)) => {
                if let Some((given, _)) = reader.table(table, path, name) {
                    lay_over(reader, given, &join(path, name), inner);
                }
            }
            Some(Value::String(word)) => {
                if let Some(given) = reader.choice(table, path, name, &Drive::WORDS) {
                    *word = given;
                }
            }
            _ if *name == "class" => {
                let classes = read_classes(reader, table, path);
                fields.insert((*name).to_owned(), Value::Array(classes));
            }
            Some(Value::Array(items)) => {
                if let Some(given) = reader.numbers(table, path, name) {
                    *items = numbers_within(reader, table, path, name, &given);
                }
            }
            _ => {
                if let Some(given) = number(reader, table, path, name, limits(name)) {
                    fields.insert((*name).to_owned(), Value::Float(given));
                }
            }
        }
    }
}

fn numbers_within(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    path: &str,
    name: &str,
    given: &[rust_decimal::Decimal],
) -> Vec<Value> {
    let [low, high] = limits(name);
    let mut values = Vec::new();
    for number in given {
        match number.to_f64() {
            Some(value) if (low..=high).contains(&value) => values.push(Value::Float(value)),
            _ => reader.wrong(
                table,
                path,
                name,
                format!("{number} stands in {name}"),
                &format!("each lies between {low} and {high}"),
            ),
        }
    }
    values
}

fn read_classes(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str) -> Vec<Value> {
    let mut classes = Vec::new();
    for (class, span) in reader.tables(table, path, "class") {
        let path = join(path, "class");
        reader.known_fields(class, &path, &["diameter_um", "volume_percent"]);
        let mut fields = toml::Table::new();
        for name in ["diameter_um", "volume_percent"] {
            if !class.contains_key(name) {
                reader.missing(&span, &path, name, "give diameter_um and volume_percent of each size");
            }
            let range = if name == "volume_percent" { [1e-9, 100.0] } else { limits(name) };
            if let Some(value) = number(reader, class, &path, name, range) {
                fields.insert(name.to_owned(), Value::Float(value));
            }
        }
        if fields.len() == 2 {
            classes.push(Value::Table(fields));
        }
    }
    classes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::workbench::flow_use::{cream, dispense, drain, in_use};
    use levigate_facts::{Facts, shipped};
    use proptest::prelude::*;
    use std::sync::LazyLock;

    static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts can be read"));

    const GEL: &str = "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 4.0\nK = 3.0\nn = 0.45\nfactor = 1.2\n[pack]\nstroke_ml = 0.3\n\
        dip_tube = { bore_mm = 2.0, length_mm = 120 }\n";

    fn usual() -> &'static Dispensing {
        FACTS.flow_use.dispensing.as_ref().expect("the usual pack is shipped")
    }

    #[test]
    fn sizes_are_laid_over_the_usual_ones() {
        let Question::Liquid(liquid, pack) = read("gel.toml", GEL, usual()).unwrap() else {
            panic!("a liquid");
        };
        assert_eq!((pack.stroke_ml, pack.dip_tube.bore_mm), (0.3, 2.0));
        assert_eq!(pack.nozzle, usual().nozzle);
        assert_eq!(liquid.liquid.yield_stress(), 4.0);
        assert!((liquid.edge(true).yield_stress() - 4.8).abs() < 1e-12);
        assert!(liquid.density_assumed && liquid.from.contains("tau0 4 Pa"), "{}", liquid.from);
    }

    #[test]
    fn what_is_wrong_is_told_with_its_place() {
        let power = "[liquid]\nmodel = \"power-law\"\nK = 3\nn = 0.5\n";
        for (text, line, field, code) in [
            (
                "[liquid]\nmodel = \"power-law\"\nK = 3\nn = 0.5\ntau0 = 1\n",
                5,
                "liquid, tau0",
                "unknown-field",
            ),
            ("[liquid]\nmodel = \"power-law\"\nK = 3\n", 1, "liquid, n", "missing"),
            ("[liquid]\nmodel = \"power-low\"\nK = 3\nn = 1\n", 2, "liquid, model", "wrong-value"),
            ("[liquid]\nmodel = \"power-law\"\nK = -3\nn = 0.5\n", 3, "liquid, K", "wrong-value"),
            ("[liquid]\nmodel = \"power-law\"\nK = \"3,5\"\nn = 0.5\n", 3, "liquid, K", "not-a-number"),
            ("[liquid]\npoints = [[1, 2], [10]]\n", 2, "liquid, points", "not-a-pair"),
            ("[liquid]\npoints = [[1, 2], [10, 0.01]]\n", 2, "liquid, points", "no-curve"),
            ("[liquid]\npoints = [[1, 2]]\n", 2, "liquid, points", "no-curve"),
            ("[liquid]\n", 1, "liquid, model", "missing"),
            ("title = \"x\"\n", 1, "liquid", "missing"),
            (
                "[liquid]\nmodel = \"newton\"\neta = 1\npoints = [[1, 2], [2, 3]]\n",
                4,
                "liquid, points",
                "wrong-value",
            ),
            (&format!("{power}[pack]\nstroke_ml = 0\n"), 6, "pack, stroke_ml", "wrong-value"),
            (&format!("{power}[pack]\nstrok_ml = 1\n"), 6, "pack, strok_ml", "unknown-field"),
            (&format!("{power}[pack]\nreason = \"x\"\n"), 6, "pack, reason", "unknown-field"),
            (&format!("{power}[pack]\nnozzle = {{ bore = 1 }}\n"), 6, "pack, nozzle, bore", "unknown-field"),
            (&format!("{power}[pack]\ndrive = \"thumb\"\n"), 6, "pack, drive", "wrong-value"),
            (&format!("{power}[film]\nangle_deg = 10\n"), 5, "film", "unknown-field"),
        ] {
            let problems = read("own.toml", text, usual()).unwrap_err();
            let found = problems
                .iter()
                .any(|problem| problem.line == line && problem.field == field && problem.code == code);
            assert!(found, "{line} {field} {code}: {problems:#?}\n{text}");
            assert!(problems.iter().all(|problem| !problem.what_now.is_empty()));
        }
        assert_eq!(read("f.toml", "[product]\nname = \"x\"\n", usual()), Ok(Question::Formula));
    }

    #[test]
    fn sizes_of_drops_may_be_given_one_by_one() {
        let text = "[liquid]\nmodel = \"newton\"\neta = 2.0\n[drops]\ninner_viscosity_mpa_s = 30\n[[drops.class]]\ndiameter_um = 2\n\
            volume_percent = 40\n[[drops.class]]\ndiameter_um = 8\nvolume_percent = 60\n[bubbles]\ndiameters_mm = [0.3]\n";
        let usual = FACTS.flow_use.standing.as_ref().unwrap();
        let Question::Liquid(_, shelf) = read("own.toml", text, usual).unwrap() else { panic!("a liquid") };
        assert_eq!((shelf.drops.class.len(), shelf.drops.inner_viscosity_mpa_s), (2, Some(30.0)));
        assert_eq!(shelf.bubbles.diameters_mm, [0.3]);
        let wrong = text.replace("volume_percent = 60", "volume_share = 60");
        let problems = read("own.toml", &wrong, usual).unwrap_err();
        assert!(problems.iter().any(|problem| problem.line == 11), "{problems:#?}");
    }

    #[test]
    fn the_schemas_name_the_fields_that_are_read() {
        fn fields(schema: &serde_json::Value) -> Vec<String> {
            let mut names: Vec<String> =
                schema["properties"].as_object().map(|of| of.keys().cloned().collect()).unwrap_or_default();
            names.sort();
            names
        }
        fn compare(schema: &serde_json::Value, value: &Value, path: &str) {
            let Some(table) = value.as_table() else { return };
            let mut read: Vec<String> = table
                .keys()
                .filter(|name| !["reason", "source"].contains(&name.as_str()))
                .cloned()
                .chain(optional(path).iter().map(|name| (*name).to_owned()))
                .collect();
            read.sort();
            read.dedup();
            assert_eq!(fields(schema), read, "{path}");
            for (name, value) in table {
                compare(&schema["properties"][name.as_str()], value, name);
            }
        }
        fn of<S: Sizes>(schema: &str, usual: &S) {
            let schema: serde_json::Value = serde_json::from_str(schema).unwrap();
            let value = Value::try_from(usual).unwrap();
            for name in S::TABLES {
                let of = &schema["properties"][*name];
                assert_eq!(of["additionalProperties"], false, "{name}");
                compare(of, if S::WITHIN.is_some() { &value } else { &value[*name] }, name);
            }
            let liquid = fields(&schema["properties"]["liquid"]);
            let symbols = FlowModel::ALL.into_iter().flat_map(FlowModel::parameters).map(|of| of.symbol);
            for name in IN_LIQUID.into_iter().chain(symbols) {
                assert!(liquid.iter().any(|known| known == name), "{name}");
            }
            let models = schema["properties"]["liquid"]["properties"]["model"]["enum"].as_array().unwrap();
            assert_eq!(models.len(), FlowModel::ALL.len());
            assert!(FlowModel::ALL.iter().all(|model| models.iter().any(|word| *word == model_word(*model))));
        }
        of(DISPENSE_SCHEMA, usual());
        of(DRAIN_SCHEMA, FACTS.flow_use.draining.as_ref().unwrap());
        of(CREAM_SCHEMA, FACTS.flow_use.standing.as_ref().unwrap());
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]

        #[test]
        fn any_slip_of_the_hand_is_read_or_told(at in 0..GEL.len(), put in "[ -~]{0,3}", gone in 0_usize..4) {
            let end = (at + gone).min(GEL.len());
            let text = format!("{}{put}{}", &GEL[..at], &GEL[end..]);
            if let Err(problems) = dispense(&FACTS, ("-", &text), None) {
                prop_assert!(!problems.is_empty());
            }
        }

        #[test]
        fn any_liquid_has_an_answer_without_a_panic(
            tau0 in -9.0..6.0_f64, consistency in -9.0..9.0_f64, index in 0.03..1.5_f64, density in 1.0..25_000.0_f64,
        ) {
            let (tau0, consistency) = (10_f64.powf(tau0), 10_f64.powf(consistency));
            let text = format!(
                "[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = {tau0:.12}\nK = {consistency:.12}\nn = {index}\ndensity_kg_m3 = {density}\n"
            );
            prop_assert!(dispense(&FACTS, ("-", &text), None).is_ok(), "{text}");
            prop_assert!(drain(&FACTS, ("-", &text), None).is_ok());
            prop_assert!(cream(&FACTS, ("-", &text), None).is_ok());
            prop_assert!(in_use(&FACTS, ("-", &text)).is_ok());
        }
    }
}
