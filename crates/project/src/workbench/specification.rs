//! The specification of a product: what a batch of this version must be like, with the method without which a limit means nothing.
//!
//! It says what the formula's own target says and nothing more. What the formula leaves open is named as open, never filled in. The
//! microbial limits are those of a standard, stated as such.

use super::assess::assess;
use super::sheet::version_code;
use crate::diagnostic::Diagnostic;
use jiff::civil::Date;
use levigate_assess::adjusting::Method;
use levigate_facts::Facts;
use levigate_formula::sheet::{FillUnit, PhRead, Target};
use levigate_measure::Outcome;
use levigate_rules::label::IngredientList;
use levigate_rules::microbial::MicrobialReading;
use rust_decimal::Decimal;
use serde::Serialize;

/// The standard of the microbial limits, as it is cited on the paper.
const MICROBIAL_STANDARD: &str = "ISO 17516";

/// A specification.
#[derive(Clone, Debug, Serialize)]
pub struct Specification {
    /// Product.
    pub product: String,
    /// Client or project.
    pub client: Option<String>,
    /// Type, site of use, and whether it stays on, in words.
    pub used: String,
    /// Code of the formula text.
    pub version_code: String,
    /// Market of the ingredient list.
    pub market: String,
    /// Day the rules were read for, ISO.
    pub as_of: String,
    /// What is tested.
    pub properties: Vec<Property>,
    /// Limits of microbes; none where no class is on file.
    pub microbes: Option<Microbes>,
    /// The ingredient list; none where no label rules for the market are on file.
    pub label: Option<IngredientList>,
    /// Pack and fill, shelf life wanted: name and words.
    pub keeping: Vec<(String, String)>,
    /// What the formula leaves open, in words.
    pub open: Vec<String>,
}

/// Something that is tested.
#[derive(Clone, Debug, Serialize)]
pub struct Property {
    /// Name.
    pub name: String,
    /// Limits, in words; empty where the formula sets none.
    pub limits: String,
    /// Method and conditions; what is not stated is said.
    pub method: String,
    /// What is computed for the formula as written; none where nothing is.
    pub expected: Option<Outcome>,
}

/// Limits of microbes in the finished product.
#[derive(Clone, Debug, Serialize)]
pub struct Microbes {
    /// The standard.
    pub standard: String,
    /// The class of the product in it.
    pub class: String,
    /// Limits.
    pub limits: MicrobialReading,
}

/// Writes the specification of a formula text.
///
/// # Errors
/// What is wrong with the formula.
pub fn specification(
    facts: &Facts,
    day: Date,
    market: &str,
    file: &str,
    text: &str,
) -> Result<Specification, Vec<Diagnostic>> {
    let assessed = assess(facts, day, market, file, text)?;
    let (sheet, assessment) = (assessed.formula.sheet, assessed.assessment);
    let product = &sheet.product;
    let stays = if product.leave_on { "stays on the skin" } else { "is rinsed off" };
    let mut open = Vec::new();
    let properties = properties(&sheet.target, &assessment, &mut open);
    let keeping = keeping(&sheet.target, &mut open);
    if assessment.rules.label.is_none() {
        open.push(format!(
            "No label rules for the market \"{market}\" are on file, so that no ingredient list is written."
        ));
    }
    if assessment.rules.microbial.is_none() {
        open.push("No class of microbial limits is on file for this product.".to_owned());
    }
    Ok(Specification {
        product: product.name.clone(),
        client: product.client.clone(),
        used: format!("{} for {}, {stays}", product.kind, product.site),
        version_code: version_code(text),
        market: market.to_owned(),
        as_of: day.to_string(),
        properties,
        microbes: assessment.rules.microbial.map(|limits| Microbes {
            standard: MICROBIAL_STANDARD.to_owned(),
            class: limits.class.clone(),
            limits,
        }),
        label: assessment.rules.label,
        keeping,
        open,
    })
}

fn window([low, high]: [Decimal; 2], unit: &str) -> String {
    format!("{low} to {high} {unit}").trim().to_owned()
}

/// How the pH is read, as a method is written.
fn ph_method(read: &PhRead) -> String {
    let method = Method::of(read);
    let how = if method.diluted { "product 10 % in water" } else { "product neat" };
    let age = method.age_h.map_or_else(|| "not stated".to_owned(), |hours| format!("{hours} h"));
    format!("glass electrode, {how}, {} \u{00B0}C; age of the sample: {age}", method.temperature_c)
}

fn properties(
    target: &Target,
    assessment: &levigate_assess::Assessment,
    open: &mut Vec<String>,
) -> Vec<Property> {
    let property = |name: &str, limits: String, method: String, expected: Option<Outcome>| Property {
        name: name.to_owned(),
        limits,
        method,
        expected,
    };
    let mut found = Vec::new();
    found.push(property(
        "Appearance",
        target.clarity.clone().unwrap_or_default(),
        "by eye against a light and a dark ground; the sample kept is the standard".to_owned(),
        None,
    ));
    if target.clarity.is_none() {
        open.push("Clarity: the formula sets none.".to_owned());
    }
    for name in ["Colour", "Odour"] {
        found.push(property(name, String::new(), "against the sample kept".to_owned(), None));
    }
    open.push(
        "Colour and odour: a formula says nothing about them; write them from the sample that was approved."
            .to_owned(),
    );
    found.push(property(
        "pH",
        target.ph.map(|limits| window(limits, "")).unwrap_or_default(),
        ph_method(&target.ph_read),
        Some(assessment.ph.at_target.clone().unwrap_or_else(|| assessment.ph.neat.clone())),
    ));
    if target.ph.is_none() {
        open.push("pH: the formula sets no window.".to_owned());
    }
    match &target.viscosity {
        Some(viscosity) => {
            let stated = |name: &str, value: Option<String>| match value {
                Some(value) => value,
                None => format!("{name}: not stated"),
            };
            let method = [
                stated("spindle", viscosity.spindle.as_ref().map(|spindle| format!("spindle {spindle}"))),
                stated("speed", viscosity.speed_rpm.map(|speed| format!("{speed} rpm"))),
                stated("temperature", viscosity.temperature_c.map(|celsius| format!("{celsius} \u{00B0}C"))),
                stated("age of the sample", viscosity.age_h.map(|age| format!("after {age} h"))),
            ];
            found.push(property(
                "Viscosity",
                window(viscosity.mpa_s, "mPa\u{00B7}s"),
                method.join(", "),
                None,
            ));
        }
        None => {
            found.push(property("Viscosity", String::new(), String::new(), None));
            open.push(
                "Viscosity: the formula sets no window, and one without its conditions means nothing."
                    .to_owned(),
            );
        }
    }
    found.push(property(
        "Density",
        String::new(),
        "25 \u{00B0}C".to_owned(),
        Some(assessment.composition.density.clone()),
    ));
    open.push("Density: the formula sets no limits; the computed value is for filling by volume.".to_owned());
    found
}

fn keeping(target: &Target, open: &mut Vec<String>) -> Vec<(String, String)> {
    let mut keeping = Vec::new();
    match &target.pack {
        Some(pack) => {
            let unit = match pack.unit {
                FillUnit::Millilitre => "mL",
                FillUnit::Gram => "g",
                FillUnit::OunceWeight => "oz (weight)",
                FillUnit::FluidOunceUs => "fl oz (US)",
                FillUnit::FluidOunceUk => "fl oz (UK)",
            };
            let airless = if pack.airless { ", keeps fingers and air out" } else { "" };
            keeping.push(("Pack".to_owned(), format!("{}, {} {unit}{airless}", pack.name, pack.fill)));
        }
        None => open.push("Pack and fill: the formula names none.".to_owned()),
    }
    match target.shelf_life_months {
        Some(months) => keeping.push((
            "Shelf life wanted".to_owned(),
            format!("{months} months; to be shown by a stability test"),
        )),
        None => open.push("Shelf life: the formula names none.".to_owned()),
    }
    if !target.free_from.is_empty() {
        keeping.push(("Must not hold".to_owned(), target.free_from.join(", ")));
    }
    open.push(
        "Storage: a formula does not say how the product is stored; write it from the stability test."
            .to_owned(),
    );
    keeping
}
