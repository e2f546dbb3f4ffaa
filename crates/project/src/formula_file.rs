//! The formula file: TOML to a sheet and back, with the place of everything that is wrong.
//!
//! Numbers are read as decimals exactly as written; `0,5` is never guessed. A file may carry its own prices, grades and
//! substances (`[[price]]`, `[[material]]`, `[[substance]]`, `[[source]]`), laid over the facts for this formula only.

pub(crate) mod steps;

use crate::diagnostic::{Diagnostic, at};
use crate::toml_reader::{Reader, parsed};
use levigate_formula::settle::SettleError;
use levigate_formula::sheet::{
    Amount, Batch, FillUnit, Line, Money, Pack, PhRead, Phase, Product, Sheet, Target, ViscosityTarget,
};
use rust_decimal::Decimal;
use std::ops::Range;
use toml::de::DeTable;

/// A formula as read from text.
#[derive(Clone, Debug)]
pub struct FormulaFile {
    /// The sheet.
    pub sheet: Sheet,
    /// Facts the file brings along, as TOML of the facts' own schema.
    pub own_facts: Option<String>,
    places: Vec<LinePlace>,
    file: String,
    text: String,
}

#[derive(Clone, Debug)]
struct LinePlace {
    field: String,
    whole: Range<usize>,
    material: Range<usize>,
    amount: Range<usize>,
    assay: Option<Range<usize>>,
}

pub(crate) const TOP: &[&str] = &[
    "product",
    "target",
    "batch",
    "phase",
    "step",
    "price",
    "material",
    "substance",
    "source",
    "thickener",
    "flow_family",
    "cosolvent_viscosity",
    "synergy",
];
pub(crate) const PRODUCT: &[&str] = &["name", "type", "site", "leave_on", "markets", "client", "note"];
pub(crate) const TARGET: &[&str] = &[
    "ph",
    "ph_read",
    "viscosity",
    "clarity",
    "cost_per_kg",
    "natural_origin_percent",
    "free_from",
    "shelf_life_months",
    "pack",
    "metals_mg_kg",
];
pub(crate) const PH_READ: &[&str] = &["method", "temperature_c", "age_h"];
/// How a pH is read: as the product is, and diluted.
pub(crate) const PH_METHODS: [&str; 2] = ["neat", "10 % in water"];
pub(crate) const VISCOSITY: &[&str] = &["mpa_s", "spindle", "speed_rpm", "temperature_c", "age_h"];
pub(crate) const MONEY: &[&str] = &["amount", "currency"];
pub(crate) const PACK: &[&str] = &["name", "fill", "unit", "cost", "airless"];
pub(crate) const BATCH: &[&str] = &["size_g", "balance_g", "repeatability_g", "water_cfu_per_ml"];
pub(crate) const PHASE: &[&str] = &["name", "temperature_c", "step", "line"];
pub(crate) const LINE: &[&str] = &[
    "material",
    "percent",
    "active_percent",
    "remainder",
    "to_ph",
    "assay_percent",
    "lot",
    "note",
    "tolerance_percent",
];
pub(crate) const FACT_TABLES: &[&str] = &[
    "price",
    "material",
    "substance",
    "source",
    "thickener",
    "flow_family",
    "cosolvent_viscosity",
    "synergy",
];
const AMOUNTS: &[&str] = &["percent", "active_percent", "remainder", "to_ph"];
const CLARITIES: &[&str] = &["clear", "hazy", "opaque"];
const UNITS: &[(&str, FillUnit)] = &[
    ("mL", FillUnit::Millilitre),
    ("ml", FillUnit::Millilitre),
    ("g", FillUnit::Gram),
    ("oz weight", FillUnit::OunceWeight),
    ("fl oz US", FillUnit::FluidOunceUs),
    ("fl oz UK", FillUnit::FluidOunceUk),
];

/// The JSON Schema of the formula file.
pub const SCHEMA: &str = include_str!("formula.schema.json");

/// Reads a formula. `file` is only used in messages.
///
/// # Errors
/// Everything that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str) -> Result<FormulaFile, Vec<Diagnostic>> {
    read_beside(file, text, &[])
}

/// Reads a formula out of a text that holds other tables besides, which somebody else reads.
///
/// # Errors
/// As [`read`].
pub(crate) fn read_beside(file: &str, text: &str, others: &[&str]) -> Result<FormulaFile, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    let table = root.get_ref();
    let whole = 0..0;
    reader.known_fields(table, "", &[TOP, others].concat());
    let product = match reader.table(table, "", "product") {
        Some((product, span)) => read_product(&mut reader, product, &span),
        None => {
            reader.missing(&whole, "", "product", "add [product] with name, type, site and leave_on");
            None
        }
    };
    let target = reader
        .table(table, "", "target")
        .map_or_else(Target::default, |(target, _)| read_target(&mut reader, target));
    let batch = reader
        .table(table, "", "batch")
        .map_or_else(Batch::default, |(batch, _)| read_batch(&mut reader, batch));
    let mut phases = Vec::new();
    let mut places = Vec::new();
    for (index, (phase, span)) in reader.tables(table, "", "phase").into_iter().enumerate() {
        phases.push(read_phase(&mut reader, phase, &span, index, &mut places));
    }
    if phases.is_empty() {
        reader.missing(&whole, "", "phase", "add [[phase]] with a name and its [[phase.line]] entries");
    }
    let steps = steps::read(&mut reader, table, &phases);
    let own_facts = own_facts(text);
    match (product, reader.finish()) {
        (Some(product), problems) if problems.is_empty() => Ok(FormulaFile {
            sheet: Sheet { product, target, batch, phases, steps },
            own_facts,
            places,
            file: file.to_owned(),
            text: text.to_owned(),
        }),
        (_, problems) => Err(problems),
    }
}

/// Writes a sheet as a formula file. What is read back is the same sheet.
///
/// # Errors
/// When the sheet holds something TOML cannot say; the message names it.
pub fn write(sheet: &Sheet, own_facts: Option<&str>) -> Result<String, String> {
    let mut out = crate::formula_writer::write(sheet)?;
    if let Some(facts) = own_facts {
        out.push('\n');
        out.push_str(facts.trim());
        out.push('\n');
    }
    Ok(out)
}

impl FormulaFile {
    /// The text it was read from.
    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// Places a complaint about a line in the file.
    #[must_use]
    pub fn diagnose(&self, error: &SettleError) -> Diagnostic {
        let input = (self.file.as_str(), self.text.as_str());
        let place = error.line().and_then(|line| self.places.get(line));
        let (span, field) = match place {
            None => (0..0, String::new()),
            Some(place) => match error.field() {
                "material" => (place.material.clone(), format!("{}, material", place.field)),
                "assay_percent" => (
                    place.assay.clone().unwrap_or(place.whole.clone()),
                    format!("{}, assay_percent", place.field),
                ),
                other => (place.amount.clone(), format!("{}, {other}", place.field)),
            },
        };
        let mut diagnostic = at(input, &span, settle_code(error), field, error.to_string(), error.hint());
        diagnostic.sheet_line = error.line();
        diagnostic
    }

    /// A complaint about the amount of one line, or about the whole file.
    #[must_use]
    pub fn diagnose_line(
        &self,
        line: Option<usize>,
        code: &str,
        what: String,
        what_now: String,
    ) -> Diagnostic {
        let place = line.and_then(|line| self.places.get(line));
        let (span, field) =
            place.map_or((0..0, String::new()), |place| (place.amount.clone(), place.field.clone()));
        let mut diagnostic = at((self.file.as_str(), self.text.as_str()), &span, code, field, what, what_now);
        diagnostic.sheet_line = line;
        diagnostic
    }
}

/// Stable code of a settling error.
#[must_use]
pub fn settle_code(error: &SettleError) -> &'static str {
    match error {
        SettleError::UnknownMaterial { .. } => "unknown-material",
        SettleError::BelowZero { .. } => "below-zero",
        SettleError::AboveHundred { .. } => "above-hundred",
        SettleError::NoActive { .. } => "no-active",
        SettleError::AssayOutOfRange { .. } => "assay-out-of-range",
        SettleError::TwoRemainders { .. } => "two-remainders",
        SettleError::NoRemainder { .. } => "no-remainder",
        SettleError::OverHundred { .. } => "over-hundred",
        SettleError::TwoAims { .. } => "two-aims",
        SettleError::PhOutOfRange { .. } => "ph-out-of-range",
        SettleError::Empty => "empty",
        _ => "settle",
    }
}

fn own_facts(text: &str) -> Option<String> {
    let table: toml::Table = toml::from_str(text).ok()?;
    let own: toml::Table = table.into_iter().filter(|(key, _)| FACT_TABLES.contains(&key.as_str())).collect();
    if own.is_empty() { None } else { toml::to_string(&own).ok() }
}

fn read_product(reader: &mut Reader<'_>, table: &DeTable<'_>, span: &Range<usize>) -> Option<Product> {
    let path = "product";
    reader.known_fields(table, path, PRODUCT);
    let name = reader.required_string(table, path, "name", span, "give the product a name");
    let kind =
        reader.required_string(table, path, "type", span, "say what it is: serum, gel, toner, lotion, cream");
    let site = reader.required_string(
        table,
        path,
        "site",
        span,
        "say where it is used: face, eye, body, hand, scalp",
    );
    let leave_on = reader.bool(table, path, "leave_on");
    if leave_on.is_none() && !table.contains_key("leave_on") {
        reader.missing(
            span,
            path,
            "leave_on",
            "write leave_on = true, or false for a product that is rinsed off",
        );
    }
    Some(Product {
        name: name?,
        kind: kind?,
        site: site?,
        leave_on: leave_on?,
        markets: reader.strings(table, path, "markets"),
        client: reader.string(table, path, "client"),
        note: reader.string(table, path, "note"),
    })
}

fn read_target(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Target {
    let path = "target";
    reader.known_fields(table, path, TARGET);
    let mut target = Target {
        ph: reader.window(table, path, "ph"),
        clarity: reader.choice(table, path, "clarity", CLARITIES),
        cost_per_kg: reader
            .table(table, path, "cost_per_kg")
            .and_then(|(t, span)| read_money(reader, t, &span)),
        natural_origin_percent: reader.decimal(table, path, "natural_origin_percent"),
        free_from: reader.strings(table, path, "free_from"),
        shelf_life_months: reader.decimal(table, path, "shelf_life_months"),
        ..Target::default()
    };
    if let Some((read, _)) = reader.table(table, path, "ph_read") {
        let path = "target.ph_read";
        reader.known_fields(read, path, PH_READ);
        target.ph_read = PhRead {
            diluted: reader
                .choice(read, path, "method", &PH_METHODS)
                .is_some_and(|word| word == PH_METHODS[1]),
            temperature_c: decimal_between(reader, read, (path, "temperature_c"), [0, 95]),
            age_h: decimal_between(reader, read, (path, "age_h"), [0, 100_000]),
        };
    }
    if let Some((viscosity, span)) = reader.table(table, path, "viscosity") {
        let path = "target.viscosity";
        reader.known_fields(viscosity, path, VISCOSITY);
        match reader.window(viscosity, path, "mpa_s") {
            Some(mpa_s) => {
                target.viscosity = Some(ViscosityTarget {
                    mpa_s,
                    spindle: reader.string(viscosity, path, "spindle"),
                    speed_rpm: reader.decimal(viscosity, path, "speed_rpm"),
                    temperature_c: reader.decimal(viscosity, path, "temperature_c"),
                    age_h: reader.decimal(viscosity, path, "age_h"),
                });
            }
            None if !viscosity.contains_key("mpa_s") => {
                reader.missing(&span, path, "mpa_s", "give the window, for example mpa_s = [4000, 8000]");
            }
            None => {}
        }
    }
    if let Some((pack, span)) = reader.table(table, path, "pack") {
        target.pack = read_pack(reader, pack, &span);
    }
    if let Some((metals, _)) = reader.table(table, path, "metals_mg_kg") {
        for key in metals.keys() {
            let name = key.get_ref().to_string();
            if let Some(value) = reader.decimal(metals, "target.metals_mg_kg", &name) {
                target.metals_mg_kg.insert(name, value);
            }
        }
    }
    target
}

fn decimal_between(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    (path, key): (&str, &str),
    [low, high]: [i64; 2],
) -> Option<Decimal> {
    let value = reader.decimal(table, path, key)?;
    if (Decimal::from(low)..=Decimal::from(high)).contains(&value) {
        return Some(value);
    }
    let what = format!("{value} is outside {low} to {high}");
    reader.wrong(table, path, key, what, &format!("write a number from {low} to {high}"));
    None
}

fn read_money(reader: &mut Reader<'_>, table: &DeTable<'_>, span: &Range<usize>) -> Option<Money> {
    let path = "cost";
    reader.known_fields(table, path, MONEY);
    let amount = reader.decimal(table, path, "amount");
    if amount.is_none() && !table.contains_key("amount") {
        reader.missing(span, path, "amount", "write { amount = 2.00, currency = \"EUR\" }");
    }
    let currency =
        reader.required_string(table, path, "currency", span, "name the currency, for example \"EUR\"");
    Some(Money { amount: amount?, currency: currency? })
}

fn read_pack(reader: &mut Reader<'_>, table: &DeTable<'_>, span: &Range<usize>) -> Option<Pack> {
    let path = "target.pack";
    reader.known_fields(table, path, PACK);
    let name = reader.string(table, path, "name").unwrap_or_else(|| "pack".to_owned());
    let fill = reader.decimal(table, path, "fill");
    if fill.is_none() && !table.contains_key("fill") {
        reader.missing(span, path, "fill", "write fill = 30 and unit = \"mL\"");
    }
    let unit = reader.required_string(
        table,
        path,
        "unit",
        span,
        "one of \"mL\", \"g\", \"oz weight\", \"fl oz US\", \"fl oz UK\"",
    );
    let unit = unit.and_then(|unit| {
        let found = UNITS.iter().find(|(name, _)| *name == unit).map(|(_, unit)| *unit);
        if found.is_none() {
            reader.wrong(
                table,
                path,
                "unit",
                format!("\"{unit}\" is not a unit of content"),
                "use \"mL\", \"g\", \"oz weight\" (mass), \"fl oz US\" or \"fl oz UK\" (volume)",
            );
        }
        found
    });
    let cost = reader.table(table, path, "cost").and_then(|(cost, span)| read_money(reader, cost, &span));
    let airless = reader.bool(table, path, "airless").unwrap_or(false);
    Some(Pack { name, fill: fill?, unit: unit?, cost, airless })
}

fn read_batch(reader: &mut Reader<'_>, table: &DeTable<'_>) -> Batch {
    let path = "batch";
    reader.known_fields(table, path, BATCH);
    let usual = Batch::default();
    let mut positive = |key: &str| {
        let value = reader.decimal(table, path, key)?;
        if value <= Decimal::ZERO {
            reader.wrong(table, path, key, format!("{value} g cannot be"), "give grams above zero");
            return None;
        }
        Some(value)
    };
    let usual = Batch {
        size_g: positive("size_g").unwrap_or(usual.size_g),
        balance_g: positive("balance_g").unwrap_or(usual.balance_g),
        repeatability_g: positive("repeatability_g"),
        ..usual
    };
    let count = reader.decimal(table, path, "water_cfu_per_ml");
    if let Some(count) = count.filter(|count| *count < Decimal::ZERO) {
        let what = format!("{count} CFU/mL cannot be");
        reader.wrong(table, path, "water_cfu_per_ml", what, "give the count of the water, zero or more");
    }
    Batch { water_cfu_per_ml: count.filter(|count| *count >= Decimal::ZERO), ..usual }
}

fn read_phase(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    index: usize,
    places: &mut Vec<LinePlace>,
) -> Phase {
    let path = format!("phase {}", index + 1);
    reader.known_fields(table, &path, PHASE);
    let name = reader.required_string(table, &path, "name", span, "name the phase, for example \"A\"");
    let temperature_c = reader.decimal(table, &path, "temperature_c");
    let step = reader.string(table, &path, "step");
    let mut lines = Vec::new();
    for (number, (line, span)) in reader.tables(table, &path, "line").into_iter().enumerate() {
        if let Some((line, place)) = read_line(reader, line, &span, &format!("{path}, line {}", number + 1)) {
            lines.push(line);
            places.push(place);
        }
    }
    Phase { name: name.unwrap_or_default(), temperature_c, step, lines }
}

fn read_line(
    reader: &mut Reader<'_>,
    table: &DeTable<'_>,
    span: &Range<usize>,
    path: &str,
) -> Option<(Line, LinePlace)> {
    reader.known_fields(table, path, LINE);
    let material = reader.required_string(table, path, "material", span, "name the raw material");
    let given: Vec<&str> = AMOUNTS.iter().copied().filter(|key| table.contains_key(*key)).collect();
    let amount = match given.as_slice() {
        [] => {
            reader.missing(span, path, "percent", "give percent, active_percent, to_ph or remainder = true");
            None
        }
        ["percent"] => reader.decimal(table, path, "percent").map(Amount::Percent),
        ["active_percent"] => reader.decimal(table, path, "active_percent").map(Amount::ActivePercent),
        ["to_ph"] => reader.decimal(table, path, "to_ph").map(Amount::ToPh),
        [_, second, ..] => {
            reader.wrong(
                table,
                path,
                second,
                format!("a line takes one amount, this one has {}", given.join(" and ")),
                "keep one of them",
            );
            None
        }
        [_] => match reader.bool(table, path, "remainder") {
            Some(true) => Some(Amount::Remainder(true)),
            Some(false) => {
                reader.wrong(
                    table,
                    path,
                    "remainder",
                    "remainder = false says nothing".to_owned(),
                    "give a percent instead, or write remainder = true",
                );
                None
            }
            None => None,
        },
    };
    let assay_percent = reader.decimal(table, path, "assay_percent");
    let tolerance_percent = reader.decimal(table, path, "tolerance_percent");
    let lot = reader.string(table, path, "lot");
    let note = reader.string(table, path, "note");
    let place = LinePlace {
        field: path.to_owned(),
        whole: span.clone(),
        material: reader.span(table, "material").unwrap_or(span.clone()),
        amount: given.first().and_then(|key| reader.span(table, key)).unwrap_or(span.clone()),
        assay: reader.span(table, "assay_percent"),
    };
    Some((Line { material: material?, amount: amount?, assay_percent, lot, note, tolerance_percent }, place))
}
