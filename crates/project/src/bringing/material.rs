//! A table as raw materials: a price for one on file, or one of the laboratory's own.
//!
//! A raw material is opened to what it consists of, so a new one needs a composition. A sheet of purchasing rarely has it: then a person
//! picks the record on file it is like, and the new one takes composition, form, functions and cautions from there, under its own name and
//! with that said as its source. Where the sheet names substances that are on file, the composition is made from them only as far as it is
//! plain: one substance, or one substance and water with a stated active content.

use super::keep::Planned;
use super::names::{Meant, parts, what_now};
use super::reading::{self, Unread};
use super::table::{Cell, Row, Stored};
use super::{CellTrouble, Desk, Fate, Field, Question};
use crate::formula_writer::quoted;
use crate::records::{MaterialOverlay, OverlaySort};
use crate::workbench::keeping::short;
use crate::workbench::materials::form_word;
use crate::workbench::own_material::{OwnConstituent, OwnMaterial, own_material};
use jiff::civil::Date;
use levigate_formula::library::Material;
use levigate_formula::names::folded;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// Most new raw materials of one table: each is held against all facts.
const MOST_NEW: usize = 200;

/// A price as it stands in a row.
struct PriceRead {
    per_kg: Decimal,
    currency: String,
    date: Date,
    note: String,
}

pub(super) fn read(desk: &mut Desk<'_>) -> Vec<Planned> {
    let currency = currency(desk);
    let rows: Vec<&Row> = desk.listed().collect();
    let mut seen: BTreeMap<String, usize> = BTreeMap::new();
    let mut planned = Vec::new();
    for row in rows {
        if desk.set_aside(row) {
            continue;
        }
        let (name, _) = desk.name_of(row);
        let name = name.to_owned();
        if row.filled().count() == 1
            && desk.layout.columns.iter().filter(|one| one.field != Field::Unused).count() > 1
        {
            let words = format!(
                "a heading or a remark: {}",
                row.filled().next().map(|(_, cell)| short(&cell.text)).unwrap_or_default()
            );
            desk.told(row.line, Fate::PassedOver, words, Vec::new(), Vec::new());
            continue;
        }
        planned.extend(entry(desk, row, &name, &currency, &mut seen));
    }
    planned
}

/// The currency of prices without one: of the head of the column, else as a person said; asked where a price has none.
fn currency(desk: &mut Desk<'_>) -> String {
    let Some(column) = desk.layout.of(Field::Price) else { return String::new() };
    if let Some(currency) = currency_in(&desk.layout.title(column)) {
        return currency;
    }
    let rows: Vec<&Row> = desk.listed().filter(|row| !desk.asked.leave_out.contains(&row.line)).collect();
    let bare = rows.iter().any(|row| {
        desk.text(row, Field::Currency).is_empty()
            && desk
                .cell(row, Field::Price)
                .is_some_and(|cell| currency_in(&cell.text).is_none() && digits(&cell.text))
    });
    if !bare {
        return String::new();
    }
    let asked = desk.asked.currency.trim().to_uppercase();
    let mut choices: Vec<(String, String)> =
        ["EUR", "USD", "GBP", "CHF"].map(|word| (word.to_owned(), word.to_owned())).to_vec();
    if is_currency(&asked) && choices.iter().all(|(choice, _)| *choice != asked) {
        choices.push((asked.clone(), asked.clone()));
    }
    desk.ask(Question {
        id: "currency",
        what: format!("In which currency are the prices under \"{}\"?", desk.layout.title(column)),
        why: "Prices of two currencies are never added, and neither the head nor the cells say it."
            .to_owned(),
        choices,
        answer: asked.clone(),
    });
    if is_currency(&asked) { asked } else { String::new() }
}

fn digits(text: &str) -> bool {
    text.bytes().any(|byte| byte.is_ascii_digit())
}

fn is_currency(text: &str) -> bool {
    text.len() == 3 && text.bytes().all(|byte| byte.is_ascii_uppercase())
}

/// The currency a text names by sign or letters. A dollar sign alone may be of many countries; it is read as such only with letters.
fn currency_in(text: &str) -> Option<String> {
    for (sign, currency) in [("€", "EUR"), ("£", "GBP"), ("US$", "USD")] {
        if text.contains(sign) {
            return Some(currency.to_owned());
        }
    }
    let known = [
        "EUR", "USD", "GBP", "CHF", "SEK", "DKK", "NOK", "PLN", "CZK", "CAD", "AUD", "NZD", "JPY", "CNY",
        "INR", "BRL", "ZAR", "KRW", "SGD", "MXN", "TRY", "HUF", "RON", "BGN", "ISK",
    ];
    let upper = text.to_uppercase();
    let mut words = upper.split(|sign: char| !sign.is_alphabetic());
    words.find(|word| known.contains(word)).map(str::to_owned)
}

fn entry(
    desk: &mut Desk<'_>,
    row: &Row,
    name: &str,
    currency: &str,
    seen: &mut BTreeMap<String, usize>,
) -> Vec<Planned> {
    let mut troubles = Vec::new();
    let mut notes = Vec::new();
    if name.is_empty() {
        let unread = Unread::new("this row names no raw material", "type its name, or leave the row out");
        troubles.push(desk.trouble(row, Field::Material, unread));
    }
    if let Some(line) = seen.get(&folded(name)).filter(|_| !name.is_empty()) {
        let unread = Unread::new(
            format!("row {line} has the same name"),
            "a name means one raw material: tell the grades apart by their names, or leave one out",
        );
        troubles.push(desk.trouble(row, Field::Material, unread));
    }
    let price = price(desk, row, currency, &mut troubles);
    if troubles.is_empty() {
        seen.insert(folded(name), row.line);
        match desk.meant(row, name) {
            Meant::Known(key) => return known(desk, row, &key, price, notes),
            Meant::Like(key) => {
                let like = desk.on_file.facts.library.materials.get(&key);
                let Some(typed) = like.map(|like| made_like(desk, like, row, name, &mut notes)) else {
                    return Vec::new();
                };
                return own(desk, row, typed, price, notes, seen);
            }
            Meant::Unknown(offers) => match composed(desk, row, name, &mut troubles, &mut notes) {
                Some(typed) => return own(desk, row, typed, price, notes, seen),
                None if troubles.is_empty() => {
                    let unread = Unread::new(
                        format!(
                            "\"{}\" is not on file, and the table does not say what it consists of",
                            short(name)
                        ),
                        format!("{}; or say which one it is like", what_now(&offers)),
                    );
                    troubles.push(desk.trouble(row, Field::Material, unread));
                }
                None => {}
            },
        }
    }
    desk.entry(row.line, Fate::NotUnderstood, short(name), troubles, notes);
    Vec::new()
}

/// Supplier and code in one line.
fn supplier(desk: &Desk<'_>, row: &Row) -> String {
    let (supplier, code) = (desk.text(row, Field::Supplier), desk.text(row, Field::SupplierCode));
    match (supplier.is_empty(), code.is_empty()) {
        (true, true) => String::new(),
        (false, true) => supplier.to_owned(),
        (true, false) => format!("code {code}"),
        (false, false) => format!("{supplier}, code {code}"),
    }
}

fn price(desk: &Desk<'_>, row: &Row, usual: &str, troubles: &mut Vec<CellTrouble>) -> Option<PriceRead> {
    let cell = desk.cell(row, Field::Price)?;
    if ["-", "n/a", "–", "on request", "auf anfrage"].contains(&cell.text.to_lowercase().as_str()) {
        return None;
    }
    let amount = match &cell.stored {
        Stored::Number(value) => Ok(*value),
        _ => {
            let lower = cell.text.to_lowercase();
            let per = lower.split_once('/').map_or("", |(_, per)| per.trim());
            let plain: String = cell
                .text
                .split('/')
                .next()
                .unwrap_or_default()
                .chars()
                .filter(|sign| !sign.is_alphabetic() && !matches!(sign, '€' | '$' | '£' | '%'))
                .collect();
            if !per.is_empty() && !matches!(per, "kg" | "kilo" | "1 kg") {
                Err(Unread::new(
                    format!("\"{}\" is not a price per kg", short(&cell.text)),
                    "type the price of one kilogram",
                ))
            } else {
                reading::number(plain.trim(), desk.decimal)
                    .map_err(|unread| unread.with(&currency_in(&cell.text).unwrap_or_default()))
            }
        }
    };
    let amount = match amount {
        Ok(value) if value >= Decimal::ZERO && value <= Decimal::from(10_000_000) => value,
        Ok(value) => {
            let unread =
                Unread::new(format!("{value} cannot be a price per kg"), "type the price of one kilogram");
            troubles.push(desk.trouble(row, Field::Price, unread));
            return None;
        }
        Err(unread) => {
            troubles.push(desk.trouble(row, Field::Price, unread));
            return None;
        }
    };
    let written = desk.text(row, Field::Currency);
    let currency = [written, &cell.text]
        .into_iter()
        .find_map(currency_in)
        .unwrap_or_else(|| if written.is_empty() { usual.to_owned() } else { written.trim().to_uppercase() });
    if !is_currency(&currency) {
        // Where the whole column has none, one question is asked instead of one in every row.
        if !written.is_empty() || desk.questions.iter().all(|question| question.id != "currency") {
            let unread = Unread::new(
                format!("\"{}\" is no currency", short(written)),
                "type its three letters, such as EUR",
            );
            troubles.push(desk.trouble(row, Field::Currency, unread));
        }
        return None;
    }
    let date = match desk.cell(row, Field::PriceDate).map(|cell| reading::day(cell, desk.days)) {
        None => desk.on_file.day,
        Some(Ok(day)) => day,
        Some(Err(unread)) => {
            troubles.push(desk.trouble(row, Field::PriceDate, unread));
            return None;
        }
    };
    Some(PriceRead { per_kg: amount, currency, date, note: supplier(desk, row) })
}

/// One on file: a price for it, where the table has one that is not there yet.
fn known(
    desk: &mut Desk<'_>,
    row: &Row,
    key: &str,
    price: Option<PriceRead>,
    mut notes: Vec<String>,
) -> Vec<Planned> {
    let Some(material) = desk.on_file.facts.library.materials.get(key) else { return Vec::new() };
    let called = material.name.clone();
    let Some(price) = price else {
        if !supplier(desk, row).is_empty() {
            notes.push("Supplier and code stand with a price or a lot; this row has no price.".to_owned());
        }
        desk.told(row.line, Fate::There, format!("{called} is on file already"), Vec::new(), notes);
        return Vec::new();
    };
    let there = material.prices.iter().any(|one| {
        one.per_kg == price.per_kg
            && one.currency == price.currency
            && one.note.as_deref().unwrap_or_default() == price.note
    });
    if there {
        desk.told(
            row.line,
            Fate::There,
            format!("{called} and its price are on file already"),
            Vec::new(),
            notes,
        );
        return Vec::new();
    }
    let before =
        desk.on_file.prices.get(key).map(|text| format!("{}\n\n", text.trim_end())).unwrap_or_default();
    let note =
        if price.note.is_empty() { String::new() } else { format!("note = {}\n", quoted(&price.note)) };
    let text = format!(
        "{before}[[price]]\nmaterial = {}\nper_kg = {}\ncurrency = {}\ndate = {}\n{note}",
        quoted(key),
        quoted(&price.per_kg.to_string()),
        quoted(&price.currency),
        quoted(&price.date.to_string()),
    );
    let words = format!("a price for {called}: {} {} per kg of {}", price.per_kg, price.currency, price.date);
    desk.told(row.line, Fate::Made, words, Vec::new(), notes);
    let overlay = MaterialOverlay { sort: OverlaySort::Price, key: key.to_owned(), text, withdrawn: false };
    vec![Planned::Overlay(overlay)]
}

/// What a new one takes from the one it is like.
fn made_like(
    desk: &Desk<'_>,
    like: &Material,
    row: &Row,
    name: &str,
    notes: &mut Vec<String>,
) -> OwnMaterial {
    let plain = |value: f64| format!("{}", (value * 1e6).round() / 1e6);
    let share = |part: &levigate_formula::library::Constituent| OwnConstituent {
        substance: part.substance.clone(),
        min: plain(part.min),
        typical: plain(part.typical),
        max: plain(part.max),
    };
    let said = |field: Field, usual: String| {
        let text = desk.text(row, field);
        if text.is_empty() { usual } else { text.to_owned() }
    };
    notes.push(format!(
        "Composition, form and cautions are those of {}; hold them against the document of this grade.",
        like.name
    ));
    if desk.cell(row, Field::Assay).is_some() {
        notes.push(
            "The active content of the table is not taken: the composition is that of the other record."
                .to_owned(),
        );
    }
    OwnMaterial {
        from: like.key.clone(),
        name: name.to_owned(),
        form: form(desk, row).unwrap_or_else(|| form_word(like.form).to_owned()),
        functions: said(Field::Function, like.functions.join(", ")),
        constituents: like.constituents.iter().map(share).collect(),
        active: like.active.clone().unwrap_or_default(),
        balance: like.balance.clone().unwrap_or_default(),
        composition_source: format!(
            "Composition of {} taken over; {}, row {}",
            like.name,
            desk.file_words(),
            row.line
        ),
        ..OwnMaterial::default()
    }
}

fn form(desk: &Desk<'_>, row: &Row) -> Option<String> {
    let text = folded(desk.text(row, Field::Form));
    let known = ["powder", "granules", "liquid", "solution", "dispersion", "paste", "wax"];
    known
        .into_iter()
        .find(|word| text == *word || text.split(' ').any(|part| part == *word))
        .map(str::to_owned)
}

/// One whose composition is plain from the table.
fn composed(
    desk: &Desk<'_>,
    row: &Row,
    name: &str,
    troubles: &mut Vec<CellTrouble>,
    notes: &mut Vec<String>,
) -> Option<OwnMaterial> {
    let facts = desk.on_file.facts;
    let inci = desk.text(row, Field::Inci);
    let names: Vec<&str> = if inci.is_empty() {
        Some(desk.text(row, Field::Cas)).filter(|cas| !cas.is_empty()).into_iter().collect()
    } else {
        parts(inci)
    };
    let keys: Vec<&str> =
        names.iter().map(|name| facts.names.resolve_substance(name).ok()).collect::<Option<_>>()?;
    let is_water = |key: &str| facts.names.resolve_substance("water") == Ok(key);
    let (waters, others): (Vec<&str>, Vec<&str>) = keys.into_iter().partition(|key| is_water(key));
    let [main] = others.as_slice() else { return None };
    let assay: Option<&Cell> = desk.cell(row, Field::Assay);
    let share = match assay.map(|cell| reading::share(cell, desk.decimal)) {
        Some(Ok(value)) if value > Decimal::ZERO && value <= Decimal::ONE_HUNDRED => Some(value),
        Some(Ok(value)) => {
            let unread = Unread::new(format!("{value} % active cannot be"), "type the percent of active");
            troubles.push(desk.trouble(row, Field::Assay, unread));
            return None;
        }
        Some(Err(unread)) => {
            troubles.push(desk.trouble(row, Field::Assay, unread));
            return None;
        }
        None => None,
    };
    let part = |substance: &str, share: Decimal| OwnConstituent {
        substance: substance.to_owned(),
        typical: share.to_string(),
        ..OwnConstituent::default()
    };
    let hundred = Decimal::ONE_HUNDRED;
    let (constituents, active, balance) = match (waters.first(), share) {
        (None, None) => {
            notes.push("No active content is written; it is taken as the substance alone.".to_owned());
            (vec![part(main, hundred)], String::new(), String::new())
        }
        (None, Some(share)) if share == hundred => (vec![part(main, hundred)], String::new(), String::new()),
        (Some(water), Some(share)) if share < hundred => {
            (vec![part(main, share), part(water, hundred - share)], (*main).to_owned(), (*water).to_owned())
        }
        // What the rest is, or how much water there is, is not guessed.
        _ => return None,
    };
    let functions = desk.text(row, Field::Function);
    let mut needed = |field: Field, what: &str, what_now: &str| {
        troubles.push(desk.trouble(row, field, Unread::new(what, what_now)))
    };
    if functions.is_empty() {
        needed(
            Field::Function,
            "what it is for is missing",
            "give the table a column with the function, such as humectant; or say which record it is like",
        );
    }
    let form = form(desk, row);
    if form.is_none() {
        needed(
            Field::Form,
            "its form is missing",
            "give the table a column with powder, granules, liquid, solution, dispersion, paste or wax; or say which record it is like",
        );
    }
    Some(OwnMaterial {
        name: name.to_owned(),
        form: form?,
        functions: Some(functions).filter(|text| !text.is_empty())?.to_owned(),
        constituents,
        active,
        balance,
        composition_source: format!("{}, row {}", desk.file_words(), row.line),
        ..OwnMaterial::default()
    })
}

/// A new one of the laboratory's own, read by the reader of own raw materials.
fn own(
    desk: &mut Desk<'_>,
    row: &Row,
    mut typed: OwnMaterial,
    price: Option<PriceRead>,
    mut notes: Vec<String>,
    seen: &mut BTreeMap<String, usize>,
) -> Vec<Planned> {
    let name = typed.name.clone();
    if let Some(price) = &price {
        typed.price_per_kg = price.per_kg.to_string();
        typed.currency.clone_from(&price.currency);
        typed.price_date = price.date.to_string();
        typed.price_note.clone_from(&price.note);
    } else if !supplier(desk, row).is_empty() {
        notes.push("Supplier and code stand with a price or a lot; this row has no price.".to_owned());
    }
    if seen.keys().filter(|key| key.starts_with("key ")).count() >= MOST_NEW {
        let unread = Unread::new(
            format!("more than {MOST_NEW} new raw materials stand in one table"),
            "leave the rest out and bring it in with a second table",
        );
        let troubles = vec![desk.trouble(row, Field::Material, unread)];
        desk.entry(row.line, Fate::NotUnderstood, short(&name), troubles, notes);
        return Vec::new();
    }
    match own_material(desk.on_file.facts, desk.on_file.day, &typed) {
        Ok(record) if seen.insert(format!("key {}", record.key), row.line).is_some() => {
            let unread = Unread::new(
                "another row of the table has a name that differs only by signs",
                "tell the two apart by their names",
            );
            let troubles = vec![desk.trouble(row, Field::Material, unread)];
            desk.entry(row.line, Fate::NotUnderstood, short(&name), troubles, notes);
            Vec::new()
        }
        Ok(record) => {
            let price = price
                .map(|price| format!(", {} {} per kg", price.per_kg, price.currency))
                .unwrap_or_default();
            desk.told(
                row.line,
                Fate::Made,
                format!("a raw material of your own: {name}{price}"),
                Vec::new(),
                notes,
            );
            let (sort, withdrawn) = (OverlaySort::Material, false);
            vec![Planned::Overlay(MaterialOverlay { sort, key: record.key, text: record.text, withdrawn })]
        }
        Err(faults) => {
            let troubles = faults
                .iter()
                .map(|fault| {
                    let field = match fault.field.as_str() {
                        "name" => Field::Material,
                        "form" => Field::Form,
                        "functions" => Field::Function,
                        "price_per_kg" => Field::Price,
                        "currency" => Field::Currency,
                        _ => Field::Inci,
                    };
                    let plain = |text: &str| text.trim_end_matches('.').to_owned();
                    desk.trouble(row, field, Unread::new(plain(&fault.what), plain(&fault.what_now)))
                })
                .collect();
            desk.entry(row.line, Fate::NotUnderstood, short(&name), troubles, notes);
            Vec::new()
        }
    }
}
