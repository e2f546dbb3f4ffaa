//! Writes a sheet as TOML, in the order a person would.

use crate::formula_file::PH_METHODS;
use levigate_formula::sheet::{Amount, Batch, FillUnit, Money, PhRead, Sheet, Target};
use rust_decimal::Decimal;
use std::fmt::Write as _;

pub(crate) fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn list(texts: &[String]) -> String {
    let quoted: Vec<String> = texts.iter().map(|text| self::quoted(text)).collect();
    format!("[{}]", quoted.join(", "))
}

fn money(money: &Money) -> String {
    format!("{{ amount = {}, currency = {} }}", money.amount, quoted(&money.currency))
}

/// Unit of a content as the file writes it.
pub(crate) fn unit(unit: FillUnit) -> &'static str {
    match unit {
        FillUnit::Millilitre => "mL",
        FillUnit::Gram => "g",
        FillUnit::OunceWeight => "oz weight",
        FillUnit::FluidOunceUs => "fl oz US",
        FillUnit::FluidOunceUk => "fl oz UK",
    }
}

/// The sheet as text.
pub(crate) fn write(sheet: &Sheet) -> Result<String, String> {
    let mut out = String::new();
    write_all(&mut out, sheet).map_err(|error| error.to_string())?;
    Ok(out)
}

fn write_all(out: &mut String, sheet: &Sheet) -> std::fmt::Result {
    let product = &sheet.product;
    writeln!(out, "[product]\nname = {}", quoted(&product.name))?;
    writeln!(out, "type = {}\nsite = {}", quoted(&product.kind), quoted(&product.site))?;
    writeln!(out, "leave_on = {}\nmarkets = {}", product.leave_on, list(&product.markets))?;
    if let Some(client) = &product.client {
        writeln!(out, "client = {}", quoted(client))?;
    }
    if let Some(note) = &product.note {
        writeln!(out, "note = {}", quoted(note))?;
    }
    write_target(out, &sheet.target)?;
    if sheet.batch != Batch::default() {
        writeln!(out, "\n[batch]\nsize_g = {}\nbalance_g = {}", sheet.batch.size_g, sheet.batch.balance_g)?;
        if let Some(repeatability) = sheet.batch.repeatability_g {
            writeln!(out, "repeatability_g = {repeatability}")?;
        }
        if let Some(count) = sheet.batch.water_cfu_per_ml {
            writeln!(out, "water_cfu_per_ml = {count}")?;
        }
    }
    for phase in &sheet.phases {
        writeln!(out, "\n[[phase]]\nname = {}", quoted(&phase.name))?;
        if let Some(temperature) = phase.temperature_c {
            writeln!(out, "temperature_c = {temperature}")?;
        }
        if let Some(step) = &phase.step {
            writeln!(out, "step = {}", quoted(step))?;
        }
        for line in &phase.lines {
            writeln!(out, "\n[[phase.line]]\nmaterial = {}", quoted(&line.material))?;
            match line.amount {
                Amount::Percent(percent) => writeln!(out, "percent = {percent}")?,
                Amount::ActivePercent(percent) => writeln!(out, "active_percent = {percent}")?,
                Amount::Remainder(_) => writeln!(out, "remainder = true")?,
                Amount::ToPh(ph) => writeln!(out, "to_ph = {ph}")?,
            }
            if let Some(assay) = line.assay_percent {
                writeln!(out, "assay_percent = {assay}")?;
            }
            if let Some(lot) = &line.lot {
                writeln!(out, "lot = {}", quoted(lot))?;
            }
            if let Some(tolerance) = line.tolerance_percent {
                writeln!(out, "tolerance_percent = {tolerance}")?;
            }
            if let Some(note) = &line.note {
                writeln!(out, "note = {}", quoted(note))?;
            }
        }
    }
    crate::formula_file::steps::write(out, &sheet.steps)
}

/// `ph_read = { method = "10 % in water", temperature_c = 20, age_h = 24 }`.
fn write_ph_read(out: &mut String, read: &PhRead) -> std::fmt::Result {
    let method = read.diluted.then(|| format!("method = {}", quoted(PH_METHODS[1])));
    let number = |key: &str, value: Option<Decimal>| value.map(|value| format!("{key} = {value}"));
    let said: Vec<String> =
        [method, number("temperature_c", read.temperature_c), number("age_h", read.age_h)]
            .into_iter()
            .flatten()
            .collect();
    writeln!(out, "ph_read = {{ {} }}", said.join(", "))
}

fn write_target(out: &mut String, target: &Target) -> std::fmt::Result {
    if *target == Target::default() {
        return Ok(());
    }
    writeln!(out, "\n[target]")?;
    if let Some([low, high]) = target.ph {
        writeln!(out, "ph = [{low}, {high}]")?;
    }
    if !target.ph_read.says_nothing() {
        write_ph_read(out, &target.ph_read)?;
    }
    if let Some(clarity) = &target.clarity {
        writeln!(out, "clarity = {}", quoted(clarity))?;
    }
    if let Some(cost) = &target.cost_per_kg {
        writeln!(out, "cost_per_kg = {}", money(cost))?;
    }
    if let Some(percent) = target.natural_origin_percent {
        writeln!(out, "natural_origin_percent = {percent}")?;
    }
    if !target.free_from.is_empty() {
        writeln!(out, "free_from = {}", list(&target.free_from))?;
    }
    if let Some(months) = target.shelf_life_months {
        writeln!(out, "shelf_life_months = {months}")?;
    }
    if let Some(viscosity) = &target.viscosity {
        let [low, high] = viscosity.mpa_s;
        writeln!(out, "\n[target.viscosity]\nmpa_s = [{low}, {high}]")?;
        if let Some(spindle) = &viscosity.spindle {
            writeln!(out, "spindle = {}", quoted(spindle))?;
        }
        for (key, value) in [
            ("speed_rpm", viscosity.speed_rpm),
            ("temperature_c", viscosity.temperature_c),
            ("age_h", viscosity.age_h),
        ] {
            if let Some(value) = value {
                writeln!(out, "{key} = {value}")?;
            }
        }
    }
    if let Some(pack) = &target.pack {
        writeln!(out, "\n[target.pack]\nname = {}", quoted(&pack.name))?;
        writeln!(
            out,
            "fill = {}\nunit = {}\nairless = {}",
            pack.fill,
            quoted(unit(pack.unit)),
            pack.airless
        )?;
        if let Some(cost) = &pack.cost {
            writeln!(out, "cost = {}", money(cost))?;
        }
    }
    if !target.metals_mg_kg.is_empty() {
        writeln!(out, "\n[target.metals_mg_kg]")?;
        for (metal, amount) in &target.metals_mg_kg {
            writeln!(out, "{} = {amount}", quoted(metal))?;
        }
    }
    Ok(())
}
