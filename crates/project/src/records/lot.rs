//! Lots of raw materials and what their certificates say.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::{Kind, LINE_LIMIT, Record, RecordError, TEXT_LIMIT, TypedMass, TypedNumber, at_most, required};

/// A lot of a raw material on the shelf.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
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
    /// How much was received, in `net`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub quantity: Option<TypedMass>,
    /// Where it stands.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub location: String,
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
    /// Least that the specification allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<TypedNumber>,
    /// Most that it allows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most: Option<TypedNumber>,
}

/// How a value of a certificate stands to its specification.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum AgainstSpecification {
    /// Within the limits.
    Within,
    /// Below the least.
    Below,
    /// Above the most.
    Above,
    /// A limit or the value is no number: a person must look.
    NotCompared,
    /// There is no limit.
    NoLimit,
}

impl CoaValue {
    /// How it stands to its specification. `< 0.1` is compared by its number where that decides it.
    #[must_use]
    pub fn against(&self) -> AgainstSpecification {
        let (least, most) = (self.least.as_ref(), self.most.as_ref());
        if least.is_none() && most.is_none() {
            return AgainstSpecification::NoLimit;
        }
        let typed = self.value.typed.trim();
        let below_that = typed.strip_prefix(['<', '\u{2264}']);
        let found = self.value.value.or_else(|| TypedNumber::read_either(below_that?).value);
        let limits = [least, most].into_iter().flatten().all(|limit| limit.value.is_some());
        let (Some(found), true) = (found, limits) else { return AgainstSpecification::NotCompared };
        let (least, most) = (least.and_then(|it| it.value), most.and_then(|it| it.value));
        if least.is_some_and(|least| found < least) {
            return AgainstSpecification::Below;
        }
        match most {
            Some(most) if found > most && below_that.is_some() => AgainstSpecification::NotCompared,
            Some(most) if found > most => AgainstSpecification::Above,
            // "Less than 5" says nothing of a least.
            _ if below_that.is_some() && least.is_some() => AgainstSpecification::NotCompared,
            _ => AgainstSpecification::Within,
        }
    }
}

impl Record for Lot {
    const KIND: Kind = Kind::Lot;
    fn check(&self) -> Result<(), RecordError> {
        required("material", &self.material)?;
        required("lot code", &self.code)?;
        at_most("supplier", &self.supplier, LINE_LIMIT)?;
        at_most("location", &self.location, LINE_LIMIT)?;
        if let Some(quantity) = &self.quantity {
            quantity.check()?;
        }
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
            for limit in [&value.least, &value.most].into_iter().flatten() {
                required("limit of a certificate value", &limit.typed)?;
            }
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
