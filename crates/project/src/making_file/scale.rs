//! The file of `scale`.
//!
//! ```toml
//! tip_limit_m_s = 6                  # what the material stands
//! [liquid]                           # or --formula FILE
//! model = "power-law"
//! K = 3.0
//! n = 0.4
//! [bench]
//! vessel = "beaker-250-ml"
//! batch_kg = 0.2
//! speed_rpm = 600
//! [pilot]                            # may be left out
//! vessel = "kettle-10-l"
//! batch_kg = 8
//! speed_rpm = 320                    # where it is known to work
//! [plant]
//! vessel = "vessel-1200-l"
//! batch_kg = 1000
//! [[addition]]
//! name = "xanthan in glycerol"
//! minutes = 2
//! kg = 0.01
//! powder = true
//! [heat]                             # as the steps of the formula say, where it is left out
//! to_c = 75
//! hold_min = 20
//! down_to_c = 40                     # [plant.jacket] heat_c = 95, cool_c = 15
//! [making]                           # what the plant batch costs
//! material_per_kg = "3.47"           # of the formula's prices, where it is left out
//! loss_percent = 4
//! fill_ml = 30
//! [[making.pack]]
//! name = "bottle"
//! each = "0.38"
//! scrap_percent = 2
//! [[making.work]]
//! name = "weighing and mixing"
//! hours = 8                          # or while_made = true
//! count = 1
//! per_hour = "28"
//! [[making.buy]]
//! name = "an active"
//! need_kg = 2.65
//! pack_kg = 1
//! breaks = [[1, 45], [5, 38]]        # from kg, price per kg
//! ```

use super::finished;
use super::heated::{HeatedFile, WARMED_BY, WarmedBy, read_heated, read_warmed_by};
use super::mix::{SPEEDS, grains, liquid, required};
use super::place::read_mass;
use super::vessel::read_vessel;
use crate::diagnostic::Diagnostic;
use crate::flow_file::{TypedLiquid, number};
use crate::toml_reader::{Reader, join, parsed};
use levigate_facts::Facts;
use levigate_process::mixing::suspend::Grains;
use levigate_process::scale_up::reading::Addition;
use levigate_process::vessel::Vessel;
use levigate_rules::batch_cost::{Break, Offer, PackPart, Work};
use rust_decimal::Decimal;
use std::ops::Range;
use toml::de::DeTable;

/// `levigate schema scale`.
pub const SCHEMA: &str = include_str!("scale.schema.json");

/// A scale.
#[derive(Clone, Debug)]
pub struct ScaleOf {
    /// Vessel.
    pub vessel: Vessel,
    /// Batch, kg.
    pub batch_kg: f64,
    /// The same as typed.
    pub batch_typed: Decimal,
    /// Speed, rpm, where it is known.
    pub speed_rpm: Option<f64>,
    /// What heats and cools it; none where the facts have no usual plate.
    pub warmed_by: Option<WarmedBy>,
}

/// What goes into a unit, as typed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TypedFill {
    /// mL.
    Millilitres(Decimal),
    /// g.
    Grams(Decimal),
}

/// Something bought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Buy {
    /// What.
    pub words: String,
    /// Need, kg.
    pub need_kg: Decimal,
    /// How it is sold.
    pub offer: Offer,
}

/// People or a vessel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TypedWork {
    /// Hours, count and price; hours of nothing where they follow from the making.
    pub work: Work,
    /// Hours are those of the batch in the vessel: warming, holding, cooling and additions.
    pub while_made: bool,
}

/// What the plant batch costs, as typed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Making {
    /// Currency/kg.
    pub material_per_kg: Option<Decimal>,
    /// Percent.
    pub loss_percent: Decimal,
    /// Into a unit.
    pub fill: Option<TypedFill>,
    /// Percent.
    pub give_away_percent: Decimal,
    /// Percent.
    pub overhead_percent: Decimal,
    /// Currency per batch.
    pub fixed: Decimal,
    /// Parts of the pack.
    pub pack: Vec<PackPart>,
    /// People and vessels.
    pub work: Vec<TypedWork>,
    /// Bought.
    pub buy: Vec<Buy>,
}

/// A question of `scale`.
#[derive(Clone, Debug)]
pub struct ScaleFile {
    /// The bench; its speed is known.
    pub bench: ScaleOf,
    /// Speed at the bench, rpm.
    pub bench_rpm: f64,
    /// A step between.
    pub pilot: Option<ScaleOf>,
    /// The plant.
    pub plant: ScaleOf,
    /// Liquid; none where a formula says it.
    pub liquid: Option<Box<TypedLiquid>>,
    /// Grains.
    pub grains: Option<Grains>,
    /// Speed of a tip not to be passed, m/s.
    pub tip_limit_m_s: Option<f64>,
    /// Additions.
    pub additions: Vec<Addition>,
    /// Warming, holding and cooling; none where the facts have no usual room.
    pub heat: Option<HeatedFile>,
    /// Cost.
    pub making: Option<Making>,
}

/// Reads a question. `formula` says that a formula gives the liquid.
///
/// # Errors
/// All that is wrong with the text, each with its place.
pub fn read(file: &str, text: &str, facts: &Facts, formula: bool) -> Result<ScaleFile, Vec<Diagnostic>> {
    let table = parsed(file, text)?;
    let top = table.get_ref();
    let mut reader = Reader::new(file, text);
    let fields = [
        "title",
        "tip_limit_m_s",
        "liquid",
        "bench",
        "pilot",
        "plant",
        "grains",
        "addition",
        "heat",
        "making",
    ];
    reader.known_fields(top, "", &fields);
    reader.string(top, "", "title");
    let text = (file, text);
    let tip_limit_m_s = number(&mut reader, top, "", "tip_limit_m_s", [0.01, 100.0]);
    let liquid = liquid(&mut reader, top, text, formula);
    let bench = one_scale(&mut reader, top, "bench", text, facts);
    let pilot =
        if top.contains_key("pilot") { one_scale(&mut reader, top, "pilot", text, facts) } else { None };
    let plant = one_scale(&mut reader, top, "plant", text, facts);
    let bench_rpm = bench.as_ref().and_then(|bench| bench.speed_rpm);
    if bench.is_some() && bench_rpm.is_none() {
        reader.missing(&(0..0), "bench", "speed_rpm", "the speed that works at the bench, in rpm");
    }
    let grains = grains(&mut reader, top);
    let additions = additions(&mut reader, top);
    let heat = read_heated(&mut reader, top, facts);
    let making = making(&mut reader, top);
    let found = bench.zip(bench_rpm).zip(plant).filter(|_| liquid.is_some() || formula);
    let found = found.map(|((bench, bench_rpm), plant)| ScaleFile {
        bench,
        bench_rpm,
        pilot,
        plant,
        liquid,
        grains,
        tip_limit_m_s,
        additions,
        heat,
        making,
    });
    finished(reader, found)
}

fn one_scale(
    reader: &mut Reader<'_>,
    top: &DeTable<'_>,
    name: &str,
    text: (&str, &str),
    facts: &Facts,
) -> Option<ScaleOf> {
    if !top.contains_key(name) {
        let what_now = format!("write [{name}] with vessel and batch_kg");
        reader.missing(&(0..0), "", name, &what_now);
        return None;
    }
    let (table, span) = reader.table(top, "", name)?;
    let fields = ["vessel", "batch_g", "batch_kg", "speed_rpm"].into_iter().chain(WARMED_BY);
    reader.known_fields(table, name, &fields.collect::<Vec<_>>());
    let mass = read_mass(reader, table, name);
    let speed_rpm = number(reader, table, name, "speed_rpm", SPEEDS);
    let vessel = read_vessel(reader, (table, name), text, &facts.mixing);
    let warmed_by = read_warmed_by(reader, (table, name), facts);
    if vessel.as_ref().is_some_and(|vessel| vessel.impeller().is_none()) {
        let path = join(name, "vessel");
        reader.missing(&span, &path, "impeller", "write impeller = { kind = \"anchor\", diameter_mm = 300 }");
        return None;
    }
    let mass = mass?;
    Some(ScaleOf { vessel: vessel?, batch_kg: mass.kg, batch_typed: mass.typed_kg, speed_rpm, warmed_by })
}

fn additions(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Vec<Addition> {
    let mut found = Vec::new();
    for (table, span) in reader.tables(top, "", "addition") {
        reader.known_fields(table, "addition", &["name", "minutes", "kg", "powder", "acts_at_once"]);
        let words = reader.required_string(table, "addition", "name", &span, "say what is added");
        let minutes = required(
            reader,
            table,
            "addition",
            "minutes",
            [1e-3, 1e5],
            "the time it takes at the bench, in minutes",
        );
        let mass_kg = number(reader, table, "addition", "kg", [1e-9, 1e6]);
        let powder = reader.bool(table, "addition", "powder").unwrap_or(false);
        let acts_at_once = reader.bool(table, "addition", "acts_at_once").unwrap_or(false);
        if powder && acts_at_once {
            let what = "a powder that acts at once".to_owned();
            let what_now = "dissolve it first, and leave powder out; or leave acts_at_once out";
            reader.wrong(table, "addition", "acts_at_once", what, what_now);
        }
        if let (Some(words), Some(minutes)) = (words, minutes) {
            found.push(Addition { words, time_s: 60.0 * minutes, mass_kg, powder, acts_at_once });
        }
    }
    found
}

/// A price with or without quotes.
fn money(reader: &mut Reader<'_>, table: &DeTable<'_>, path: &str, key: &str) -> Option<Decimal> {
    if table.get(key)?.get_ref().as_str().is_none() {
        return reader.decimal(table, path, key);
    }
    let typed = reader.string(table, path, key)?;
    match typed.parse() {
        Ok(price) => Some(price),
        Err(_) => {
            let what = format!("\"{typed}\" is not a price");
            reader.wrong(table, path, key, what, "write it with a decimal point and without a currency");
            None
        }
    }
}

fn needed(
    reader: &mut Reader<'_>,
    (table, path, span): (&DeTable<'_>, &str, &Range<usize>),
    key: &str,
    what_now: &str,
) -> Option<Decimal> {
    if !table.contains_key(key) {
        reader.missing(span, path, key, what_now);
        return None;
    }
    money(reader, table, path, key)
}

fn making(reader: &mut Reader<'_>, top: &DeTable<'_>) -> Option<Making> {
    const PATH: &str = "making";
    let (table, _) = reader.table(top, "", PATH)?;
    let fields = [
        "material_per_kg",
        "loss_percent",
        "fill_ml",
        "fill_g",
        "give_away_percent",
        "overhead_percent",
        "fixed",
        "pack",
        "work",
        "buy",
    ];
    reader.known_fields(table, PATH, &fields);
    let material_per_kg = money(reader, table, PATH, "material_per_kg");
    let zero = |value: Option<Decimal>| value.unwrap_or(Decimal::ZERO);
    let [loss, give_away, overhead] =
        ["loss_percent", "give_away_percent", "overhead_percent"].map(|key| reader.decimal(table, PATH, key));
    let fixed = money(reader, table, PATH, "fixed");
    let fill = match (reader.decimal(table, PATH, "fill_ml"), reader.decimal(table, PATH, "fill_g")) {
        (Some(_), Some(_)) => {
            let what = "a unit is filled by volume and by mass".to_owned();
            reader.wrong(table, PATH, "fill_g", what, "leave one of them out");
            None
        }
        (Some(ml), None) => Some(TypedFill::Millilitres(ml)),
        (None, Some(grams)) => Some(TypedFill::Grams(grams)),
        (None, None) => None,
    };
    Some(Making {
        material_per_kg,
        loss_percent: zero(loss),
        fill,
        give_away_percent: zero(give_away),
        overhead_percent: zero(overhead),
        fixed: zero(fixed),
        pack: pack(reader, table),
        work: work(reader, table),
        buy: buy(reader, table),
    })
}

fn pack(reader: &mut Reader<'_>, making: &DeTable<'_>) -> Vec<PackPart> {
    const PATH: &str = "making, pack";
    let mut found = Vec::new();
    for (table, span) in reader.tables(making, "making", "pack") {
        reader.known_fields(table, PATH, &["name", "each", "scrap_percent"]);
        let words = reader.required_string(table, PATH, "name", &span, "say what it is");
        let each = needed(reader, (table, PATH, &span), "each", "the price of one");
        let scrap = reader.decimal(table, PATH, "scrap_percent");
        if let (Some(words), Some(each)) = (words, each) {
            found.push(PackPart { words, each, scrap_percent: scrap.unwrap_or(Decimal::ZERO) });
        }
    }
    found
}

fn work(reader: &mut Reader<'_>, making: &DeTable<'_>) -> Vec<TypedWork> {
    const PATH: &str = "making, work";
    let mut found = Vec::new();
    for (table, span) in reader.tables(making, "making", "work") {
        reader.known_fields(table, PATH, &["name", "hours", "while_made", "count", "per_hour"]);
        let words = reader.required_string(table, PATH, "name", &span, "people or a vessel, and at what");
        let while_made = reader.bool(table, PATH, "while_made").unwrap_or(false);
        let hours = if while_made {
            if table.contains_key("hours") {
                let what = "the hours are typed and follow from the making".to_owned();
                reader.wrong(table, PATH, "hours", what, "leave out hours or while_made");
            }
            Some(Decimal::ZERO)
        } else {
            let what_now = "how long, or while_made = true for as long as the batch is in the vessel";
            needed(reader, (table, PATH, &span), "hours", what_now)
        };
        let per_hour = needed(reader, (table, PATH, &span), "per_hour", "what an hour of each costs");
        let count = reader.decimal(table, PATH, "count").unwrap_or(Decimal::ONE);
        if let (Some(words), Some(hours), Some(per_hour)) = (words, hours, per_hour) {
            found.push(TypedWork { work: Work { words, hours, count, per_hour }, while_made });
        }
    }
    found
}

fn buy(reader: &mut Reader<'_>, making: &DeTable<'_>) -> Vec<Buy> {
    const PATH: &str = "making, buy";
    let mut found = Vec::new();
    for (table, span) in reader.tables(making, "making", "buy") {
        reader.known_fields(table, PATH, &["name", "need_kg", "pack_kg", "least_kg", "breaks"]);
        let words = reader.required_string(table, PATH, "name", &span, "say what is bought");
        let need = needed(reader, (table, PATH, &span), "need_kg", "how much is needed, in kg");
        let pack = needed(reader, (table, PATH, &span), "pack_kg", "the mass of a pack, in kg");
        let least = reader.decimal(table, PATH, "least_kg").unwrap_or(Decimal::ZERO);
        let pairs = reader.pairs(table, PATH, "breaks");
        if pairs.is_none() && !table.contains_key("breaks") {
            reader.missing(&span, PATH, "breaks", "write [[1, 45], [5, 38]]: from kg, price per kg");
        }
        if let (Some(words), Some(need_kg), Some(pack_kg), Some(pairs)) = (words, need, pack, pairs) {
            let breaks = pairs.into_iter().map(|[from_kg, per_kg]| Break { from_kg, per_kg }).collect();
            found.push(Buy { words, need_kg, offer: Offer { pack_kg, least_kg: least, breaks } });
        }
    }
    found
}
