//! A table as lots of raw materials, one in every row.

use super::keep::Planned;
use super::names::{Meant, what_now};
use super::reading::{self, Unread};
use super::table::{Row, Stored};
use super::{CellTrouble, Desk, Fate, Field, Question};
use crate::records::{Id, Kept, Lot, Status, in_force};
use crate::workbench::keeping::{KeepError, short};
use crate::workbench::lots::{TypedLot, read_lot};
use levigate_formula::names::folded;
use std::collections::BTreeMap;

/// Words for what was decided about a lot.
const STATUSES: [(&[&str], Status); 4] = [
    (
        &[
            "released",
            "approved",
            "ok",
            "passed",
            "accepted",
            "free",
            "freigegeben",
            "frei",
            "libere",
            "libéré",
            "liberado",
            "rilasciato",
        ],
        Status::Released,
    ),
    (
        &[
            "quarantine",
            "in quarantine",
            "hold",
            "on hold",
            "blocked",
            "pending",
            "waiting",
            "quarantäne",
            "gesperrt",
            "quarantaine",
            "cuarentena",
            "quarantena",
        ],
        Status::Quarantine,
    ),
    (
        &[
            "rejected",
            "refused",
            "failed",
            "not approved",
            "abgelehnt",
            "refusé",
            "refuse",
            "rechazado",
            "respinto",
        ],
        Status::Rejected,
    ),
    (
        &[
            "used up",
            "used_up",
            "empty",
            "consumed",
            "finished",
            "leer",
            "verbraucht",
            "épuisé",
            "epuise",
            "agotado",
            "esaurito",
        ],
        Status::UsedUp,
    ),
];

/// Fields of a typed lot and the columns they are read from.
const COLUMNS: [(&str, Field); 7] = [
    ("material", Field::Material),
    ("code", Field::Lot),
    ("assay_percent", Field::Assay),
    ("quantity", Field::Quantity),
    ("received", Field::Received),
    ("expiry", Field::Expiry),
    ("retest", Field::Retest),
];

/// The lots on file, found at once in a table of many rows.
struct Shelf<'w> {
    in_force: BTreeMap<(&'w str, String), &'w Kept<Lot>>,
    corrects: BTreeMap<Id<Lot>, Id<Lot>>,
}

impl<'w> Shelf<'w> {
    fn of(lots: &'w [Kept<Lot>]) -> Self {
        let named =
            in_force(lots).into_iter().map(|lot| ((lot.what.material.as_str(), folded(&lot.what.code)), lot));
        let corrects = lots.iter().filter_map(|lot| Some((lot.id, lot.corrects.as_ref()?.supersedes)));
        Self { in_force: named.collect(), corrects: corrects.collect() }
    }

    /// The first entry of a lot; a chain of corrections is no longer than there are corrections.
    fn root(&self, mut id: Id<Lot>) -> Id<Lot> {
        for _ in 0..self.corrects.len() {
            match self.corrects.get(&id) {
                Some(earlier) => id = *earlier,
                None => break,
            }
        }
        id
    }
}

pub(super) fn read(desk: &mut Desk<'_>) -> Vec<Planned> {
    let shelf = Shelf::of(desk.on_file.lots);
    let unit = unit(desk);
    let rows: Vec<&Row> = desk.listed().collect();
    let mut seen: BTreeMap<(String, String), (usize, Lot)> = BTreeMap::new();
    let mut planned = Vec::new();
    let mut material_above = String::new();
    for row in rows {
        if desk.set_aside(row) {
            continue;
        }
        let code = desk.text(row, Field::Lot).to_owned();
        let (name, _) = desk.name_of(row);
        let name = name.to_owned();
        if code.is_empty() && row.filled().count() == 1 {
            // A heading such as the name of a group of raw materials.
            let words = format!(
                "a heading or a remark: {}",
                row.filled().next().map(|(_, cell)| short(&cell.text)).unwrap_or_default()
            );
            desk.told(row.line, Fate::PassedOver, words, Vec::new(), Vec::new());
            continue;
        }
        if let Some(kept) = entry(desk, row, (&name, &code), (&unit, &material_above), &shelf, &mut seen) {
            planned.push(kept);
        }
        if !name.is_empty() {
            material_above = name;
        }
    }
    planned
}

/// The unit of quantities without one: of the head of the column, else as a person said; asked where a quantity has none.
fn unit(desk: &mut Desk<'_>) -> String {
    let Some(column) = desk.layout.of(Field::Quantity) else { return String::new() };
    let head = desk.layout.title(column).to_lowercase();
    let of_head = ["kg", "mg", "lb", "oz", "g"]
        .into_iter()
        .find(|unit| head.split(|sign: char| !sign.is_alphabetic()).any(|word| word == *unit));
    if let Some(unit) = of_head {
        return unit.to_owned();
    }
    let rows: Vec<&Row> = desk.listed().filter(|row| !desk.asked.leave_out.contains(&row.line)).collect();
    let bare = rows.iter().any(|row| {
        desk.text(row, Field::Unit).is_empty()
            && desk.cell(row, Field::Quantity).is_some_and(|cell| {
                matches!(cell.stored, Stored::Number(_))
                    || cell.text.bytes().any(|byte| byte.is_ascii_digit())
                        && !cell.text.chars().any(char::is_alphabetic)
            })
    });
    if !bare {
        return String::new();
    }
    let choices =
        [("kg", "kilograms"), ("g", "grams"), ("lb", "pounds"), ("oz", "ounces"), ("mg", "milligrams")];
    desk.ask(Question {
        id: "unit",
        what: format!("In which unit are the quantities under \"{}\"?", desk.layout.title(column)),
        why: "Neither the head of the column nor the cells say it.".to_owned(),
        choices: choices.iter().map(|(unit, words)| ((*unit).to_owned(), (*words).to_owned())).collect(),
        answer: desk.asked.unit.clone(),
    });
    desk.asked.unit.clone()
}

fn entry(
    desk: &mut Desk<'_>,
    row: &Row,
    (name, code): (&str, &str),
    (unit, above): (&str, &str),
    shelf: &Shelf<'_>,
    seen: &mut BTreeMap<(String, String), (usize, Lot)>,
) -> Option<Planned> {
    let mut troubles: Vec<CellTrouble> = Vec::new();
    let mut notes = Vec::new();
    let words = format!("lot {code} of {name}");
    let material = if name.is_empty() {
        let offers = Some(above.to_owned()).filter(|above| !above.is_empty());
        let unread = Unread::new("this lot has no raw material", "type its name").offering(offers);
        troubles.push(desk.trouble(row, Field::Material, unread));
        String::new()
    } else {
        match desk.meant(row, name) {
            Meant::Known(key) => key,
            Meant::Like(_) => {
                let unread = Unread::new(
                    format!("\"{}\" is not on file", short(name)),
                    "add the raw material first, then its lots",
                );
                troubles.push(desk.trouble(row, Field::Material, unread));
                String::new()
            }
            Meant::Unknown(offers) => {
                let unread = Unread::new(format!("\"{}\" is not on file", short(name)), what_now(&offers));
                troubles.push(desk.trouble(row, Field::Material, unread));
                String::new()
            }
        }
    };
    if code.is_empty() {
        let unread = Unread::new("the lot code is missing", "type it as printed on the drum");
        troubles.push(desk.trouble(row, Field::Lot, unread));
    }
    let mut typed = TypedLot {
        material: material.clone(),
        code: code.to_owned(),
        supplier: desk.text(row, Field::Supplier).to_owned(),
        location: desk.text(row, Field::Location).to_owned(),
        ..TypedLot::default()
    };
    for (field, into) in [
        (Field::Received, &mut typed.received),
        (Field::Expiry, &mut typed.expiry),
        (Field::Retest, &mut typed.retest),
    ] {
        let Some(cell) = desk.cell(row, field) else { continue };
        if is_nothing(&cell.text) {
            continue;
        }
        match reading::day(cell, desk.days) {
            Ok(day) => {
                if matches!(cell.stored, Stored::Number(_)) {
                    notes.push(format!("{} was read as a day number of the spreadsheet: {day}.", cell.text));
                }
                *into = day.to_string();
            }
            Err(unread) => troubles.push(desk.trouble(row, field, unread)),
        }
    }
    match desk
        .cell(row, Field::Assay)
        .filter(|cell| !is_nothing(&cell.text))
        .map(|cell| reading::share(cell, desk.decimal))
    {
        Some(Ok(value)) => typed.assay_percent = value.to_string(),
        Some(Err(unread)) => troubles.push(desk.trouble(row, Field::Assay, unread)),
        None => {}
    }
    if let Some(cell) = desk.cell(row, Field::Quantity).filter(|cell| !is_nothing(&cell.text)) {
        let own = desk.text(row, Field::Unit);
        match reading::weight(cell, if own.is_empty() { unit } else { own }, desk.decimal) {
            Ok((net, unit, written)) => {
                if let Some(written) = written {
                    notes.push(format!("{written} are {net} {unit}."));
                    typed.note = format!("Quantity as written: {written}.");
                }
                (typed.quantity, typed.quantity_unit) = (net, unit);
            }
            Err(unread) => troubles.push(desk.trouble(row, Field::Quantity, unread)),
        }
    }
    let status = status(desk, row, &mut troubles);
    let remark = desk.text(row, Field::Note);
    let from = format!("From {}, row {}.", desk.file_words(), row.line);
    typed.note = [remark, &typed.note, &from]
        .into_iter()
        .filter(|part| !part.is_empty())
        .collect::<Vec<_>>()
        .join(" ");
    if !troubles.is_empty() {
        desk.entry(row.line, Fate::NotUnderstood, words, troubles, notes);
        return None;
    }
    let lot = match read_lot(desk.on_file.facts, &typed) {
        Ok(lot) => lot,
        Err(error) => {
            troubles.extend(faults(desk, row, &error));
            desk.entry(row.line, Fate::NotUnderstood, words, troubles, notes);
            return None;
        }
    };
    let facts = desk.on_file.facts;
    let called =
        facts.library.materials.get(&material).map_or(material.as_str(), |record| record.name.as_str());
    let words = format!("lot {} of {called}", lot.code);
    let there = shelf.in_force.get(&(lot.material.as_str(), folded(&lot.code))).copied();
    if let Some(there) = there {
        let status = desk.on_file.statuses.get(&shelf.root(there.id)).copied().zip(status);
        let differs = differs(there, &lot, status);
        if !differs.is_empty() {
            notes.push(format!(
                "What is on file is kept; it says otherwise about {}. Correct it on its page.",
                differs.join(", ")
            ));
        }
        desk.told(row.line, Fate::There, format!("{words} is on file already"), Vec::new(), notes);
        return None;
    }
    let key = (lot.material.clone(), folded(&lot.code));
    if let Some((line, before)) = seen.get(&key) {
        let same =
            Lot { note: String::new(), ..before.clone() } == Lot { note: String::new(), ..lot.clone() };
        if same {
            desk.told(
                row.line,
                Fate::PassedOver,
                format!("{words}, the same as row {line}"),
                Vec::new(),
                notes,
            );
            return None;
        }
        let unread = Unread::new(
            format!("row {line} has the same code with other contents"),
            "a code means one lot of a raw material: mend one of the two, or leave one out",
        );
        troubles.push(desk.trouble(row, Field::Lot, unread));
        desk.entry(row.line, Fate::NotUnderstood, words, troubles, notes);
        return None;
    }
    seen.insert(key, (row.line, lot.clone()));
    let facts_of = [
        lot.quantity
            .as_ref()
            .and_then(|mass| mass.net.as_ref().map(|net| format!("{} {}", net.typed, mass.unit))),
        lot.assay_percent.as_ref().map(|assay| format!("assay {} %", assay.typed)),
        lot.received.map(|day| format!("received {day}")),
        lot.expiry.map(|day| format!("expires {day}")),
        lot.retest.map(|day| format!("test again {day}")),
        status.map(|status| status.words().to_owned()),
    ];
    let said: Vec<String> = facts_of.into_iter().flatten().collect();
    let words = if said.is_empty() { words } else { format!("{words}: {}", said.join(", ")) };
    desk.told(row.line, Fate::Made, words, Vec::new(), notes);
    let reason = format!("As written in {}, row {}", desk.file_words(), row.line);
    Some(Planned::Lot { lot: Box::new(lot), status: status.map(|status| (status, reason)) })
}

/// A mark for nothing.
fn is_nothing(text: &str) -> bool {
    ["-", "--", "–", "—", "n/a", "na", "none", "/", "?"].contains(&text.to_lowercase().as_str())
}

fn status(desk: &Desk<'_>, row: &Row, troubles: &mut Vec<CellTrouble>) -> Option<Status> {
    let text = desk.text(row, Field::Status);
    if text.is_empty() || is_nothing(text) {
        return None;
    }
    let plain = folded(text);
    let found =
        STATUSES.iter().find(|(words, _)| words.iter().any(|word| folded(word) == plain)).map(|pair| pair.1);
    let unread = match found {
        Some(Status::Released | Status::Rejected) if !desk.on_file.decides => Unread::new(
            "whether a lot may be used is for a reviewer to say",
            "let a reviewer bring the table in, or take the status as quarantine",
        )
        .offering(["quarantine".to_owned()]),
        Some(status) => return Some(status),
        None => {
            Unread::new(format!("\"{}\" is no status of a lot here", short(text)), "choose what is meant")
                .offering(["quarantine", "released", "rejected", "used up"].map(str::to_owned))
        }
    };
    troubles.push(desk.trouble(row, Field::Status, unread));
    None
}

fn faults(desk: &Desk<'_>, row: &Row, error: &KeepError) -> Vec<CellTrouble> {
    let KeepError::Typed(faults) = error else {
        let unread = Unread::new(error.to_string(), "look at the row");
        return vec![desk.trouble(row, Field::Lot, unread)];
    };
    faults
        .iter()
        .map(|fault| {
            let field =
                COLUMNS.iter().find(|(name, _)| *name == fault.field).map_or(Field::Note, |pair| pair.1);
            let plain = |text: &str| text.trim_end_matches('.').to_owned();
            desk.trouble(row, field, Unread::new(plain(&fault.what), plain(&fault.what_now)))
        })
        .collect()
}

/// About what a lot on file says otherwise than the table; what the table does not say is no difference.
fn differs(there: &Kept<Lot>, lot: &Lot, status: Option<(Status, Status)>) -> Vec<&'static str> {
    let there = &there.what;
    let number = |lot: &Lot| lot.assay_percent.as_ref().and_then(|assay| assay.value);
    let grams = |lot: &Lot| lot.quantity.as_ref().and_then(crate::records::TypedMass::net_g);
    [
        (lot.assay_percent.is_some() && number(there) != number(lot), "the assay"),
        (lot.quantity.is_some() && grams(there) != grams(lot), "the quantity received"),
        (lot.received.is_some() && there.received != lot.received, "the day it was received"),
        (lot.expiry.is_some() && there.expiry != lot.expiry, "the expiry"),
        (lot.retest.is_some() && there.retest != lot.retest, "the day it is tested again"),
        (!lot.supplier.is_empty() && folded(&there.supplier) != folded(&lot.supplier), "the supplier"),
        (!lot.location.is_empty() && folded(&there.location) != folded(&lot.location), "where it stands"),
        (status.is_some_and(|(kept, written)| kept != written), "the status"),
    ]
    .into_iter()
    .filter_map(|(differs, what)| differs.then_some(what))
    .collect()
}
