//! Lots of raw materials and what their certificates say.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Kind, LINE_LIMIT, Record, RecordError, TEXT_LIMIT, TypedNumber, at_most, required};

/// A lot of a raw material on the shelf.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lot {
    /// Key of the raw material.
    pub material: String,
    /// Lot code as printed on the drum.
    pub code: String,
    /// Supplier.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub supplier: String,
    /// Assay of the active substance, percent, as typed from the certificate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub assay_percent: Option<TypedNumber>,
    /// Values of the certificate of analysis.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub certificate: Vec<CoaValue>,
    /// Received on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub received: Option<Date>,
    /// Not to be used after.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expiry: Option<Date>,
    /// To be tested again on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retest: Option<Date>,
    /// Names of its documents, such as the file of the certificate.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub documents: Vec<String>,
    /// Remark.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// One value of a certificate of analysis.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CoaValue {
    /// What was determined.
    pub name: String,
    /// The value as typed, with the number where it is one.
    #[serde(flatten)]
    pub value: TypedNumber,
    /// Unit, as printed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
}

impl Record for Lot {
    const KIND: Kind = Kind::Lot;
    fn check(&self) -> Result<(), RecordError> {
        required("material", &self.material)?;
        required("lot code", &self.code)?;
        at_most("supplier", &self.supplier, LINE_LIMIT)?;
        at_most("note", &self.note, TEXT_LIMIT)?;
        if let Some(assay) = &self.assay_percent {
            required("assay", &assay.typed)?;
            if assay.value.is_some_and(|percent| percent < Decimal::ZERO) {
                let what = format!("{} % is below zero", assay.typed);
                return Err(RecordError::Contradiction { field: "assay", what });
            }
        }
        for value in &self.certificate {
            required("certificate value's name", &value.name)?;
            at_most("certificate value", &value.value.typed, LINE_LIMIT)?;
            at_most("certificate value's unit", &value.unit, LINE_LIMIT)?;
        }
        for name in &self.documents {
            required("name of a document", name)?;
        }
        for (field, day) in [("expiry", self.expiry), ("retest", self.retest)] {
            if let (Some(received), Some(day)) = (self.received, day)
                && day < received
            {
                let what = format!("{day} is before the day it was received, {received}");
                return Err(RecordError::Contradiction { field, what });
            }
        }
        Ok(())
    }
}
