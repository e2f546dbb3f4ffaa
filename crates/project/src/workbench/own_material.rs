//! A raw material or grade of one's own: from what was typed to a record in the schema of the facts, read by the facts' own
//! loader and looked through by their own check before anybody keeps it.
//!
//! A record of one's own replaces the one below as a whole. What the form does not show (cautions, wetting, charge, survival) is
//! carried over from the record it began from, so that a caustic solution of another strength stays caustic.

use super::complaint::sentence;
use super::keeping::FieldFault;
use super::materials::form_word;
use crate::facts::{Layer, lay_over};
use jiff::civil::Date;
use levigate_facts::check::check;
use levigate_facts::{Facts, Source};
use levigate_formula::library::{Constituent, Form, Material, Price, Range};
use levigate_formula::names::folded;
use levigate_measure::Sourced;
use levigate_measure::decimal::parse_typed;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

/// Name the record goes by in messages.
const FILE: &str = "own raw material";
/// Most of a key.
const LONGEST_KEY: usize = 60;
const FORMS: [Form; 7] =
    [Form::Powder, Form::Granules, Form::Liquid, Form::Solution, Form::Dispersion, Form::Paste, Form::Wax];

/// A raw material as typed.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct OwnMaterial {
    /// Key of the record to change; empty for a new one.
    pub key: String,
    /// Key of the record it began from; empty for none.
    pub from: String,
    /// Name.
    pub name: String,
    /// Form in words.
    pub form: String,
    /// Functions, separated by commas.
    pub functions: String,
    /// Constituents.
    pub constituents: Vec<OwnConstituent>,
    /// Substance the assay speaks of.
    pub active: String,
    /// Substance that fills up.
    pub balance: String,
    /// Where the composition comes from: a source key, or words.
    pub composition_source: String,
    /// Price per kg.
    pub price_per_kg: String,
    /// Currency.
    pub currency: String,
    /// Date of the price, ISO; the day of entry when empty.
    pub price_date: String,
    /// Remark on the price.
    pub price_note: String,
    /// Lower end of the pH in which it works.
    pub ph_works_low: String,
    /// Upper end.
    pub ph_works_high: String,
    /// Not above this temperature, C.
    pub heat_limit_c: String,
}

/// A constituent as typed, percent w/w.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct OwnConstituent {
    /// Substance: key, name, INCI name or CAS number.
    pub substance: String,
    /// Least.
    pub min: String,
    /// Typical.
    pub typical: String,
    /// Most.
    pub max: String,
}

/// A record ready to be kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnRecord {
    /// Key.
    pub key: String,
    /// The record as TOML of the facts' schema.
    pub text: String,
}

/// Makes a record of what was typed.
///
/// # Errors
/// Everything that is wrong with it, field by field.
pub fn own_material(facts: &Facts, day: Date, typed: &OwnMaterial) -> Result<OwnRecord, Vec<FieldFault>> {
    let mut typing = Typing { facts, faults: Vec::new() };
    let key = key_of(facts, typed);
    let below = [&key, &typed.from].into_iter().find_map(|key| facts.library.materials.get(key.as_str()));
    let (source_key, source) = typing.source(&key, &typed.composition_source);
    let same = below.filter(|below| below.key == key);
    if folded(&typed.name).is_empty() {
        typing.fault(
            "name",
            "The raw material has no name.",
            "It is found by its name.",
            "Type a trade-neutral name with its grade.",
        );
    }
    let form = typing.form(&typed.form);
    let constituents = typing.constituents(&typed.constituents);
    let functions = list(&typed.functions);
    if functions.is_empty() {
        typing.fault(
            "functions",
            "It has no function yet.",
            "Tolerances and warnings go by it.",
            "Type what it is for, such as humectant or thickener.",
        );
    }
    let record = Material {
        key: key.clone(),
        name: typed.name.trim().to_owned(),
        aliases: same.map(|same| same.aliases.clone()).unwrap_or_default(),
        functions,
        form: form.unwrap_or(Form::Liquid),
        active: typing.role("active", &typed.active),
        balance: typing.role("balance", &typed.balance),
        heat_limit_c: typing
            .number("heat_limit_c", &typed.heat_limit_c)
            .and_then(|limit| Some(Sourced { value: limit.to_f64()?, source: source_key.clone() })),
        ph_works: typing.window(typed, &source_key),
        prices: typing.prices(typed, day, same.map(|same| same.prices.as_slice()).unwrap_or_default()),
        ph_survives: below.and_then(|below| below.ph_survives.clone()),
        charge: below.and_then(|below| below.charge),
        wetting: below.and_then(|below| below.wetting),
        electrolyte_tolerance: below.and_then(|below| below.electrolyte_tolerance.clone()),
        cautions: below.map(|below| below.cautions.clone()).unwrap_or_default(),
        // These belong to one composition; another grade has others.
        natural_origin_index: same
            .filter(|same| same.constituents == constituents)
            .and_then(|same| same.natural_origin_index.clone()),
        density_kg_m3: same
            .filter(|same| same.constituents == constituents)
            .and_then(|same| same.density_kg_m3.clone()),
        flash_point_c: below
            .filter(|below| below.constituents == constituents)
            .and_then(|below| below.flash_point_c.clone()),
        use_level_percent: same.and_then(|same| same.use_level_percent.clone()),
        remarks: same.map(|same| same.remarks.clone()).unwrap_or_default(),
        ifra_limits: same.map(|same| same.ifra_limits.clone()).unwrap_or_default(),
        documents: same.map(|same| same.documents.clone()).unwrap_or_default(),
        constituents,
        composition_source: source_key,
        layer: Layer::Workspace,
    };
    if !typing.faults.is_empty() {
        return Err(typing.faults);
    }
    let text = write(&record, source)?;
    prove(facts, &key, &text)?;
    Ok(OwnRecord { key, text })
}

/// The key given, the key of a record of exactly this name, or a free one made of the name.
fn key_of(facts: &Facts, typed: &OwnMaterial) -> String {
    if !typed.key.trim().is_empty() {
        return typed.key.trim().to_owned();
    }
    let materials = &facts.library.materials;
    let name = folded(&typed.name);
    if let Some(namesake) = materials.values().find(|material| folded(&material.name) == name) {
        return namesake.key.clone();
    }
    let slug = slug(&typed.name);
    std::iter::once(slug.clone())
        .chain((2..1000).map(|number| format!("{slug}-{number}")))
        .find(|key| !materials.contains_key(key))
        .unwrap_or(slug)
}

fn slug(name: &str) -> String {
    let mut slug = String::new();
    for letter in name.to_lowercase().chars().take(LONGEST_KEY) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug = slug.trim_end_matches('-');
    if slug.is_empty() { "own-material".to_owned() } else { slug.to_owned() }
}

fn list(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split([',', ';']).map(|word| word.trim().to_lowercase()).filter(|word| !word.is_empty())
    {
        if !words.contains(&word) {
            words.push(word);
        }
    }
    words
}

#[derive(Serialize)]
struct Written<'a> {
    #[serde(skip_serializing_if = "Vec::is_empty")]
    source: Vec<Source>,
    material: [&'a Material; 1],
}

fn write(record: &Material, source: Option<Source>) -> Result<String, Vec<FieldFault>> {
    toml::to_string(&Written { source: source.into_iter().collect(), material: [record] })
        .map_err(|error| vec![whole(error.to_string(), "Take unusual signs out of the fields.")])
}

fn whole(what: String, what_now: &str) -> FieldFault {
    FieldFault {
        field: "material".to_owned(),
        what: sentence(&what),
        why: "A record is only kept when it reads as a fact.".to_owned(),
        what_now: what_now.to_owned(),
    }
}

/// Reads the record with the loader of the facts and looks through it.
fn prove(facts: &Facts, key: &str, text: &str) -> Result<(), Vec<FieldFault>> {
    let laid = lay_over(facts, &[(FILE, text)], Layer::Workspace).map_err(|error| {
        error.faults.iter().map(|fault| whole(fault.to_string(), &fault.hint())).collect::<Vec<_>>()
    })?;
    let faults: Vec<FieldFault> = check(&laid)
        .into_iter()
        .filter(|finding| finding.place.as_ref().is_some_and(|place| &*place.file == FILE))
        .filter(|finding| finding.table != "material" || finding.key == key)
        .map(|finding| FieldFault {
            field: finding.field.split(',').next().unwrap_or("material").trim().to_owned(),
            what: sentence(&finding.flaw.to_string()),
            why: "The facts are looked through before a record is kept.".to_owned(),
            what_now: sentence(finding.flaw.hint()),
        })
        .collect();
    if faults.is_empty() { Ok(()) } else { Err(faults) }
}

/// Reads fields and gathers what is wrong with them.
struct Typing<'f> {
    facts: &'f Facts,
    faults: Vec<FieldFault>,
}

impl Typing<'_> {
    fn fault(&mut self, field: &str, what: impl Into<String>, why: &str, what_now: impl Into<String>) {
        self.faults.push(FieldFault {
            field: field.to_owned(),
            what: what.into(),
            why: why.to_owned(),
            what_now: what_now.into(),
        });
    }

    fn number(&mut self, field: &str, text: &str) -> Option<Decimal> {
        if text.trim().is_empty() {
            return None;
        }
        match parse_typed(text) {
            Ok(number) => Some(number),
            Err(error) => {
                self.fault(
                    field,
                    sentence(&error.to_string()),
                    "This field takes one plain number.",
                    sentence(error.hint()),
                );
                None
            }
        }
    }

    fn form(&mut self, word: &str) -> Option<Form> {
        let found = FORMS.into_iter().find(|form| form_word(*form) == word.trim().to_lowercase());
        if found.is_none() {
            let words: Vec<&str> = FORMS.into_iter().map(form_word).collect();
            let what = if word.trim().is_empty() {
                "The form is missing.".to_owned()
            } else {
                format!("\"{}\" is not a form.", word.trim())
            };
            self.fault(
                "form",
                what,
                "How it is wetted and weighed hangs on it.",
                format!("Choose one of {}.", words.join(", ")),
            );
        }
        found
    }

    fn substance(&mut self, field: &str, typed: &str) -> Option<String> {
        match self.facts.names.resolve_substance(typed.trim()) {
            Ok(key) => Some(key.to_owned()),
            Err(nearest) => {
                let what_now = if nearest.is_empty() {
                    "Type its INCI name or CAS number; a substance that is not on file goes into the facts folder.".to_owned()
                } else {
                    format!("Did you mean {}?", nearest.join(", "))
                };
                self.fault(
                    field,
                    format!("No substance is called \"{}\".", typed.trim()),
                    "pH, limits and label come from the substances.",
                    what_now,
                );
                None
            }
        }
    }

    fn role(&mut self, field: &str, typed: &str) -> Option<String> {
        if typed.trim().is_empty() { None } else { self.substance(field, typed) }
    }

    fn constituents(&mut self, typed: &[OwnConstituent]) -> Vec<Constituent> {
        let mut parts = Vec::new();
        let present =
            |part: &&OwnConstituent| !part.substance.trim().is_empty() || !part.typical.trim().is_empty();
        for (at, part) in typed.iter().enumerate().filter(|(_, part)| present(part)) {
            let field = |name: &str| format!("constituents.{at}.{name}");
            let substance = self.substance(&field("substance"), &part.substance);
            let typical = self.number(&field("typical"), &part.typical);
            if part.typical.trim().is_empty() {
                self.fault(
                    &field("typical"),
                    "The typical share is missing.",
                    "The typical shares make 100 %.",
                    "Type it, % w/w.",
                );
            }
            let min = self.number(&field("min"), &part.min).or(typical);
            let max = self.number(&field("max"), &part.max).or(typical);
            let number = |decimal: Option<Decimal>| decimal.and_then(|decimal| decimal.to_f64());
            if let (Some(substance), Some(min), Some(typical), Some(max)) =
                (substance, number(min), number(typical), number(max))
            {
                parts.push(Constituent { substance, min, typical, max });
            }
        }
        if typed.iter().filter(present).count() == 0 {
            self.fault(
                "constituents",
                "It consists of nothing yet.",
                "A raw material is opened to its substances.",
                "Name at least one substance with its share; an extract of unknown composition goes in as its INCI name with 100 %.",
            );
        }
        parts
    }

    fn window(&mut self, typed: &OwnMaterial, source: &str) -> Option<Range> {
        let low = self.number("ph_works_low", &typed.ph_works_low);
        let high = self.number("ph_works_high", &typed.ph_works_high);
        let given = |text: &str| !text.trim().is_empty();
        match (low, high) {
            (Some(low), Some(high)) => {
                Some(Range { low: low.to_f64()?, high: high.to_f64()?, source: source.to_owned() })
            }
            (Some(_), None) if !given(&typed.ph_works_high) => {
                self.fault(
                    "ph_works_high",
                    "The upper end is missing.",
                    "A window has two ends.",
                    "Type it, or empty the lower end.",
                );
                None
            }
            (None, Some(_)) if !given(&typed.ph_works_low) => {
                self.fault(
                    "ph_works_low",
                    "The lower end is missing.",
                    "A window has two ends.",
                    "Type it, or empty the upper end.",
                );
                None
            }
            _ => None,
        }
    }

    /// Earlier prices stay; a new one comes behind them, and one that is there already is the newest again, once. The price in force saved
    /// again without a day is no new one.
    fn prices(&mut self, typed: &OwnMaterial, day: Date, earlier: &[Price]) -> Vec<Price> {
        let mut prices = earlier.to_vec();
        let Some(per_kg) = self.number("price_per_kg", &typed.price_per_kg) else { return prices };
        if per_kg.is_sign_negative() && !per_kg.is_zero() {
            self.fault(
                "price_per_kg",
                "A price below zero cannot be.",
                "The cost is a sum of prices.",
                "Type the price per kg.",
            );
        }
        let currency = typed.currency.trim().to_uppercase();
        if currency.len() != 3 || !currency.bytes().all(|letter| letter.is_ascii_uppercase()) {
            self.fault(
                "currency",
                "The currency is missing.",
                "Prices of two currencies are never added.",
                "Type its three letters, such as EUR.",
            );
        }
        let date = match typed.price_date.trim() {
            "" => Some(day),
            text => text.parse::<Date>().ok(),
        };
        let Some(date) = date else {
            self.fault(
                "price_date",
                format!("\"{}\" is not a date.", typed.price_date.trim()),
                "A price without its day is worth little.",
                "Write year, month and day: 2026-11-24.",
            );
            return prices;
        };
        let note = Some(typed.price_note.trim().to_owned()).filter(|note| !note.is_empty());
        let price = Price { per_kg, currency, date: date.to_string(), note };
        let same = |one: &Price| Price { date: price.date.clone(), ..one.clone() } == price;
        if !(typed.price_date.trim().is_empty() && prices.last().is_some_and(same)) {
            prices.retain(|one| *one != price);
            prices.push(price);
        }
        prices
    }

    /// A source key stays as it is; words become a source of their own, which travels with the record.
    fn source(&self, key: &str, typed: &str) -> (String, Option<Source>) {
        let typed = typed.trim();
        let own = format!("own-{key}");
        match self.facts.sources.get(typed) {
            Some(source) if source.layer == Layer::Workspace => (source.key.clone(), Some(source.clone())),
            Some(source) => (source.key.clone(), None),
            None if typed.is_empty() => ("from-memory".to_owned(), None),
            None => (
                own.clone(),
                Some(Source {
                    key: own,
                    title: typed.to_owned(),
                    authors: None,
                    year: None,
                    identifier: None,
                    read: levigate_facts::Read::Text,
                    note: None,
                    layer: Layer::Workspace,
                }),
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day() -> Date {
        jiff::civil::date(2026, 11, 24)
    }

    fn part(substance: &str, typical: &str) -> OwnConstituent {
        OwnConstituent { substance: substance.into(), typical: typical.into(), ..OwnConstituent::default() }
    }

    fn lye() -> OwnMaterial {
        OwnMaterial {
            name: "Sodium hydroxide 12 %, Fenwick".into(),
            form: "solution".into(),
            functions: "Base, pH adjuster".into(),
            constituents: vec![part("NaOH", "12"), part("Aqua", "88,0")],
            active: "sodium hydroxide".into(),
            balance: "Water".into(),
            composition_source: "Certificate of lot 7, Fenwick".into(),
            price_per_kg: "0,80".into(),
            currency: "eur".into(),
            ..OwnMaterial::default()
        }
    }

    #[test]
    fn what_is_typed_reads_as_a_fact_and_is_found() {
        let facts = levigate_facts::shipped().unwrap();
        let record = own_material(&facts, day(), &lye()).unwrap();
        assert_eq!(record.key, "sodium-hydroxide-12-fenwick");
        let laid = lay_over(&facts, &[("own", &record.text)], Layer::Workspace).unwrap();
        let key = laid.names.resolve_material("sodium hydroxide 12 %, fenwick").unwrap();
        let material = &laid.library.materials[key];
        assert_eq!(material.layer, Layer::Workspace);
        assert_eq!(material.functions, ["base", "ph adjuster"]);
        assert_eq!(material.constituents[1].typical, 88.0);
        assert_eq!(material.prices[0].per_kg.to_string(), "0.80");
        assert_eq!(
            (material.prices[0].currency.as_str(), material.prices[0].date.as_str()),
            ("EUR", "2026-11-24")
        );
        assert_eq!(laid.sources["own-sodium-hydroxide-12-fenwick"].title, "Certificate of lot 7, Fenwick");
    }

    #[test]
    fn a_grade_keeps_the_cautions_of_the_record_it_began_from() {
        let facts = levigate_facts::shipped().unwrap();
        let below = facts
            .library
            .materials
            .values()
            .find(|material| material.key.starts_with("sodium-hydroxide") && !material.cautions.is_empty())
            .expect("the shipped lye is cautioned about");
        let typed = OwnMaterial { from: below.key.clone(), ..lye() };
        let record = own_material(&facts, day(), &typed).unwrap();
        let laid = lay_over(&facts, &[("own", &record.text)], Layer::Workspace).unwrap();
        assert_eq!(laid.library.materials[&record.key].cautions, below.cautions);
    }

    #[test]
    fn changing_a_record_again_keeps_its_source_and_its_earlier_prices() {
        let facts = levigate_facts::shipped().unwrap();
        let first = own_material(&facts, day(), &lye()).unwrap();
        let laid = lay_over(&facts, &[("own", &first.text)], Layer::Workspace).unwrap();
        let source = laid.library.materials[&first.key].composition_source.clone();
        let typed = OwnMaterial {
            key: first.key.clone(),
            composition_source: source.clone(),
            price_per_kg: "0.95".into(),
            ..lye()
        };
        let second = own_material(&laid, day(), &typed).unwrap();
        assert_eq!(second.key, first.key);
        let again = lay_over(&facts, &[("own", &second.text)], Layer::Workspace).unwrap();
        let prices: Vec<String> = again.library.materials[&second.key]
            .prices
            .iter()
            .map(|price| price.per_kg.to_string())
            .collect();
        assert_eq!(prices, ["0.80", "0.95"]);
        // Saved once more without a day, on another day and over a price record of its own: each price stands once.
        let beside = "[[price]]\nmaterial = \"KEY\"\nper_kg = \"0.80\"\ncurrency = \"EUR\"\ndate = \"DAY\"\n"
            .replace("KEY", &second.key)
            .replace("DAY", &day().to_string());
        let typed = OwnMaterial { price_date: String::new(), ..typed };
        let third = own_material(&again, day().tomorrow().unwrap(), &typed).unwrap();
        let both = [("own", third.text.as_str()), ("price", beside.as_str())];
        let again = lay_over(&facts, &both, Layer::Workspace).unwrap();
        let kept = &again.library.materials[&third.key].prices;
        let amounts: Vec<String> = kept.iter().map(|price| price.per_kg.to_string()).collect();
        assert_eq!(amounts, ["0.80", "0.95"], "{kept:?}");
        assert_eq!(again.sources[&source].title, "Certificate of lot 7, Fenwick");
    }

    #[test]
    fn every_fault_names_its_field() {
        let facts = levigate_facts::shipped().unwrap();
        let typed = OwnMaterial {
            name: " ".into(),
            form: "gas".into(),
            constituents: vec![part("Unobtainium", "12"), part("Water", "x")],
            price_per_kg: "1.000,5".into(),
            ph_works_low: "3".into(),
            ..OwnMaterial::default()
        };
        let faults = own_material(&facts, day(), &typed).unwrap_err();
        let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
        for field in [
            "name",
            "form",
            "functions",
            "constituents.0.substance",
            "constituents.1.typical",
            "price_per_kg",
            "ph_works_high",
        ] {
            assert!(fields.contains(&field), "{field} in {fields:?}");
        }
    }

    #[test]
    fn shares_that_do_not_make_a_hundred_are_refused() {
        let facts = levigate_facts::shipped().unwrap();
        let typed = OwnMaterial { constituents: vec![part("NaOH", "12"), part("Aqua", "80")], ..lye() };
        let faults = own_material(&facts, day(), &typed).unwrap_err();
        assert_eq!(faults[0].field, "constituents");
        assert!(faults[0].what.contains("92"), "{faults:?}");
    }

    #[test]
    fn keys_are_made_of_plain_letters() {
        assert_eq!(slug("Äpfel–Extrakt 10 % (öl)"), "pfel-extrakt-10-l");
        assert_eq!(slug("水"), "own-material");
    }
}
