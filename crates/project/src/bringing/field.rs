//! What a column can hold, and the words by which its head says so.

use super::What;
use crate::flow_table::words::plain_label;
use serde::{Deserialize, Serialize};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Field {
    /// Phase of a formula.
    Phase,
    /// Raw material by the name it goes by here.
    Material,
    /// INCI name.
    Inci,
    /// CAS number.
    Cas,
    /// Percent w/w, or q.s.
    Percent,
    /// Assay or active content, percent w/w.
    Assay,
    /// Lot code.
    Lot,
    /// Remark.
    Note,
    /// Supplier.
    Supplier,
    /// Order code of the supplier.
    SupplierCode,
    /// Price per kilogram.
    Price,
    /// Currency.
    Currency,
    /// Day of the price.
    PriceDate,
    /// What it is for.
    Function,
    /// Powder, liquid, ...
    Form,
    /// Received on.
    Received,
    /// Not to be used after.
    Expiry,
    /// To be tested again on.
    Retest,
    /// How much was received.
    Quantity,
    /// Unit of the quantity.
    Unit,
    /// Where it stands.
    Location,
    /// Quarantine, released, rejected, used up.
    Status,
    /// Not read.
    Unused,
}

/// All fields with the word they are chosen by and what they hold, in the order of a form.
const FIELDS: [(Field, &str, &str); 23] = [
    (Field::Phase, "phase", "phase"),
    (Field::Material, "material", "raw material"),
    (Field::Inci, "inci", "INCI name"),
    (Field::Cas, "cas", "CAS number"),
    (Field::Percent, "percent", "amount"),
    (Field::Lot, "lot", "lot code"),
    (Field::Assay, "assay", "assay, percent w/w"),
    (Field::Function, "function", "function"),
    (Field::Form, "form", "form"),
    (Field::Supplier, "supplier", "supplier"),
    (Field::SupplierCode, "supplier-code", "supplier's code"),
    (Field::Price, "price", "price per kg"),
    (Field::Currency, "currency", "currency"),
    (Field::PriceDate, "price-date", "day of the price"),
    (Field::Quantity, "quantity", "quantity received"),
    (Field::Unit, "unit", "unit of the quantity"),
    (Field::Received, "received", "received on"),
    (Field::Expiry, "expiry", "expires on"),
    (Field::Retest, "retest", "to be tested again on"),
    (Field::Location, "location", "where it stands"),
    (Field::Status, "status", "status"),
    (Field::Note, "note", "remark"),
    (Field::Unused, "unused", "not read"),
];

impl Field {
    /// The word it is chosen by.
    #[must_use]
    pub fn word(self) -> &'static str {
        FIELDS.iter().find(|(field, ..)| *field == self).map_or("unused", |(_, word, _)| word)
    }

    /// What it holds, in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        FIELDS.iter().find(|(field, ..)| *field == self).map_or("not read", |(_, _, words)| words)
    }

    /// The field of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        FIELDS.iter().find(|(_, known, _)| *known == word).map(|(field, ..)| *field)
    }

    /// Whether numbers stand in it.
    pub(super) fn numeric(self) -> bool {
        matches!(self, Self::Percent | Self::Assay | Self::Price | Self::Quantity)
    }

    /// Whether days stand in it.
    pub(super) fn dated(self) -> bool {
        matches!(self, Self::Received | Self::Expiry | Self::Retest | Self::PriceDate)
    }
}

impl What {
    /// What the columns of its table can hold, in the order of a form.
    #[must_use]
    pub fn fields(self) -> Vec<Field> {
        FIELDS.iter().map(|(field, ..)| *field).filter(|field| self.takes(*field)).collect()
    }

    /// Whether a column of its table can hold this.
    #[must_use]
    pub fn takes(self, field: Field) -> bool {
        use Field as F;
        let everywhere = matches!(field, F::Material | F::Inci | F::Cas | F::Assay | F::Note | F::Unused);
        everywhere
            || match self {
                Self::Formula => matches!(field, F::Phase | F::Percent | F::Lot),
                Self::Material => matches!(
                    field,
                    F::Function
                        | F::Form
                        | F::Supplier
                        | F::SupplierCode
                        | F::Price
                        | F::Currency
                        | F::PriceDate
                ),
                Self::Lot => matches!(
                    field,
                    F::Lot
                        | F::Supplier
                        | F::Quantity
                        | F::Unit
                        | F::Received
                        | F::Expiry
                        | F::Retest
                        | F::Location
                        | F::Status
                ),
            }
    }

    /// What must be there for a row to make anything.
    pub(super) fn must(self) -> &'static [Field] {
        match self {
            Self::Formula => &[Field::Percent],
            Self::Material => &[],
            Self::Lot => &[Field::Lot],
        }
    }
}

/// Whole heads, without marks and brackets.
const HEADS: &[(&str, Field)] = &[
    ("ph", Field::Phase),
    ("%", Field::Percent),
    ("% w w", Field::Percent),
    ("w w", Field::Percent),
    ("w w %", Field::Percent),
    ("wt %", Field::Percent),
    ("m %", Field::Percent),
    ("gew %", Field::Percent),
    ("ma %", Field::Percent),
    ("amount", Field::Percent),
    ("amount %", Field::Percent),
    ("menge %", Field::Percent),
    ("qty %", Field::Percent),
    ("level", Field::Percent),
    ("dosage", Field::Percent),
    ("name", Field::Material),
    ("product", Field::Material),
    ("item", Field::Material),
    ("material", Field::Material),
    ("stoff", Field::Material),
    ("inci", Field::Inci),
    ("cas", Field::Cas),
    ("lot", Field::Lot),
    ("batch", Field::Lot),
    ("ch b", Field::Lot),
    ("code", Field::SupplierCode),
    ("art nr", Field::SupplierCode),
    ("sku", Field::SupplierCode),
    ("ref", Field::SupplierCode),
    ("vendor", Field::Supplier),
    ("eur kg", Field::Price),
    ("usd kg", Field::Price),
    ("gbp kg", Field::Price),
    ("kg", Field::Quantity),
    ("g", Field::Quantity),
    ("qty", Field::Quantity),
    ("menge", Field::Quantity),
    // Of a formula, what was weighed.
    ("g", Field::Percent),
    ("kg", Field::Percent),
    ("mg", Field::Percent),
    ("qty", Field::Percent),
    ("menge", Field::Percent),
    ("exp", Field::Expiry),
    ("mhd", Field::Expiry),
    ("dlu", Field::Expiry),
    ("received", Field::Received),
    ("rec d", Field::Received),
    ("rec'd", Field::Received),
    ("state", Field::Status),
    ("qc", Field::Status),
];

/// Parts of heads, the more particular first.
const PARTS: &[(&str, Field)] = &[
    ("total price", Field::Unused),
    ("price per 100", Field::Unused),
    ("max", Field::Unused),
    ("min", Field::Unused),
    ("supplier code", Field::SupplierCode),
    ("supplier article", Field::SupplierCode),
    ("supplier no", Field::SupplierCode),
    ("product code", Field::SupplierCode),
    ("product no", Field::SupplierCode),
    ("item no", Field::SupplierCode),
    ("item code", Field::SupplierCode),
    ("order code", Field::SupplierCode),
    ("order no", Field::SupplierCode),
    ("article", Field::SupplierCode),
    ("artikel", Field::SupplierCode),
    ("bestellnummer", Field::SupplierCode),
    ("catalog", Field::SupplierCode),
    ("code fournisseur", Field::SupplierCode),
    ("price date", Field::PriceDate),
    ("quoted on", Field::PriceDate),
    ("date of price", Field::PriceDate),
    ("price as of", Field::PriceDate),
    ("preisdatum", Field::PriceDate),
    ("currency", Field::Currency),
    ("wahrung", Field::Currency),
    ("devise", Field::Currency),
    ("moneda", Field::Currency),
    ("valuta", Field::Currency),
    ("price", Field::Price),
    ("cost", Field::Price),
    ("preis", Field::Price),
    ("prix", Field::Price),
    ("precio", Field::Price),
    ("prezzo", Field::Price),
    ("lot supplier", Field::Supplier),
    ("supplier", Field::Supplier),
    ("lieferant", Field::Supplier),
    ("hersteller", Field::Supplier),
    ("fournisseur", Field::Supplier),
    ("proveedor", Field::Supplier),
    ("fornitore", Field::Supplier),
    ("manufacturer", Field::Supplier),
    ("inci", Field::Inci),
    ("cas", Field::Cas),
    ("phase", Field::Phase),
    ("fase", Field::Phase),
    ("trade name", Field::Material),
    ("tradename", Field::Material),
    ("handelsname", Field::Material),
    ("nom commercial", Field::Material),
    ("nombre comercial", Field::Material),
    ("nome commerciale", Field::Material),
    ("raw material", Field::Material),
    ("rohstoff", Field::Material),
    ("matiere premiere", Field::Material),
    ("materia prima", Field::Material),
    ("ingredient", Field::Material),
    ("ingrediente", Field::Material),
    ("inhaltsstoff", Field::Material),
    ("lot number", Field::Lot),
    ("lot no", Field::Lot),
    ("lot code", Field::Lot),
    ("lot id", Field::Lot),
    ("batch no", Field::Lot),
    ("batch code", Field::Lot),
    ("batch number", Field::Lot),
    ("charge", Field::Lot),
    ("lote", Field::Lot),
    ("lotto", Field::Lot),
    ("numero de lot", Field::Lot),
    ("retest", Field::Retest),
    ("re test", Field::Retest),
    ("test again", Field::Retest),
    ("nachprufung", Field::Retest),
    ("reanalyse", Field::Retest),
    ("expiry", Field::Expiry),
    ("expires", Field::Expiry),
    ("expiration", Field::Expiry),
    ("exp date", Field::Expiry),
    ("best before", Field::Expiry),
    ("use by", Field::Expiry),
    ("shelf life end", Field::Expiry),
    ("haltbar", Field::Expiry),
    ("verfall", Field::Expiry),
    ("peremption", Field::Expiry),
    ("caducidad", Field::Expiry),
    ("scadenza", Field::Expiry),
    ("recd", Field::Received),
    ("rcvd", Field::Received),
    ("delivered", Field::Received),
    ("date in", Field::Received),
    ("received on", Field::Received),
    ("date received", Field::Received),
    ("received date", Field::Received),
    ("receipt", Field::Received),
    ("eingang", Field::Received),
    ("reception", Field::Received),
    ("recepcion", Field::Received),
    ("arrived", Field::Received),
    ("assay", Field::Assay),
    ("active", Field::Assay),
    ("purity", Field::Assay),
    ("gehalt", Field::Assay),
    ("dosage actif", Field::Assay),
    ("titre", Field::Assay),
    ("unit", Field::Unit),
    ("einheit", Field::Unit),
    ("unite", Field::Unit),
    ("uom", Field::Unit),
    ("quantity", Field::Quantity),
    ("amount received", Field::Quantity),
    ("quantite", Field::Quantity),
    ("cantidad", Field::Quantity),
    ("stock", Field::Quantity),
    ("weight", Field::Quantity),
    ("gewicht", Field::Quantity),
    ("location", Field::Location),
    ("storage", Field::Location),
    ("lagerort", Field::Location),
    ("lagerplatz", Field::Location),
    ("emplacement", Field::Location),
    ("shelf", Field::Location),
    ("status", Field::Status),
    ("freigabe", Field::Status),
    ("statut", Field::Status),
    ("released", Field::Status),
    ("function", Field::Function),
    ("funktion", Field::Function),
    ("fonction", Field::Function),
    ("funcion", Field::Function),
    ("funzione", Field::Function),
    ("role", Field::Function),
    ("physical form", Field::Form),
    ("appearance", Field::Form),
    ("aggregat", Field::Form),
    ("form", Field::Form),
    ("percent", Field::Percent),
    ("prozent", Field::Percent),
    ("pourcentage", Field::Percent),
    ("porcentaje", Field::Percent),
    ("percentuale", Field::Percent),
    ("anteil", Field::Percent),
    ("concentration", Field::Percent),
    ("konzentration", Field::Percent),
    ("% w", Field::Percent),
    ("w w", Field::Percent),
    ("wt", Field::Percent),
    ("gram", Field::Percent),
    ("quantity", Field::Percent),
    ("weight", Field::Percent),
    ("gewicht", Field::Percent),
    ("remark", Field::Note),
    ("comment", Field::Note),
    ("note", Field::Note),
    ("bemerkung", Field::Note),
    ("remarque", Field::Note),
    ("observacion", Field::Note),
    ("osservazioni", Field::Note),
];

/// What a head says its column holds, in a table of this kind; whether it says so with its whole text.
pub(super) fn field_of(what: What, head: &str) -> Option<(Field, bool)> {
    let label = plain_label(head);
    let bare = plain_label(&without_brackets(head));
    for text in [&label, &bare] {
        if let Some((_, field)) = HEADS.iter().find(|(name, field)| name == text && what.takes(*field)) {
            return Some((*field, true));
        }
    }
    // A long text is a remark of the sheet, not the head of a column.
    if label.chars().count() < 2 || label.chars().count() > 60 {
        return None;
    }
    let padded = format!(" {label} ");
    let found = PARTS.iter().find(|(part, field)| {
        let held = if part.chars().count() <= 4 {
            padded.contains(&format!(" {part} "))
        } else {
            label.contains(part)
        };
        held && what.takes(*field)
    });
    found.map(|(part, field)| (*field, *part == label || *part == bare))
}

/// A head without what stands in brackets.
fn without_brackets(head: &str) -> String {
    let mut depth = 0_usize;
    let mut out = String::new();
    for sign in head.chars() {
        match sign {
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth = depth.saturating_sub(1),
            sign if depth == 0 => out.push(sign),
            _ => {}
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_are_understood_in_some_languages() {
        for (what, head, wanted) in [
            (What::Formula, "% w/w", Field::Percent),
            (What::Formula, "Gew.-%", Field::Percent),
            (What::Formula, "Amount (% w/w)", Field::Percent),
            (What::Formula, "INCI-Name", Field::Inci),
            (What::Formula, "Rohstoff / Handelsname", Field::Material),
            (What::Formula, "Phase", Field::Phase),
            (What::Material, "Price [EUR/kg]", Field::Price),
            (What::Material, "Prix (€/kg)", Field::Price),
            (What::Material, "Artikel-Nr.", Field::SupplierCode),
            (What::Material, "Lieferant", Field::Supplier),
            (What::Material, "Active matter %", Field::Assay),
            (What::Lot, "Lot No.", Field::Lot),
            (What::Lot, "Charge", Field::Lot),
            (What::Lot, "Qty (kg)", Field::Quantity),
            (What::Lot, "Best before", Field::Expiry),
            (What::Lot, "Date received", Field::Received),
            (What::Lot, "MHD", Field::Expiry),
            (What::Lot, "Lagerort", Field::Location),
        ] {
            assert_eq!(field_of(what, head).map(|found| found.0), Some(wanted), "{head}");
        }
        assert_eq!(field_of(What::Formula, "Price"), None);
        assert_eq!(field_of(What::Formula, &"long ".repeat(30)), None);
        assert_eq!(field_of(What::Material, "Max. use level"), Some((Field::Unused, false)));
    }

    #[test]
    fn every_field_has_a_word_of_its_own() {
        for (field, word, _) in FIELDS {
            assert_eq!(Field::from_word(word), Some(field));
            assert_eq!(field.word(), word);
        }
        for what in [What::Formula, What::Material, What::Lot] {
            assert!(what.fields().len() > 7 && what.must().iter().all(|field| what.takes(*field)));
        }
    }
}
