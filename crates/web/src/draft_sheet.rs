//! From what stands in the fields of the page to a sheet, and back.
//!
//! Fields take a decimal comma or point. What cannot be read is told beside its field and nothing is guessed in its place.

mod steps;

pub(crate) use steps::write as write_steps;

use crate::desk::{AmountKind, Bench, Draft, DraftLine, DraftPhase, DraftProduct, DraftTarget, FieldRemark};
use levigate_project::sheet::{
    Amount, Batch, FillUnit, Line, Money, Pack, PhRead, Phase, Product, Sheet, Target, ViscosityTarget,
    parse_typed,
};
use levigate_project::workbench::complaint::sentence;
use rust_decimal::Decimal;

const UNITS: [(&str, FillUnit); 5] = [
    ("mL", FillUnit::Millilitre),
    ("g", FillUnit::Gram),
    ("oz weight", FillUnit::OunceWeight),
    ("fl oz US", FillUnit::FluidOunceUs),
    ("fl oz UK", FillUnit::FluidOunceUk),
];

/// A draft that could be read.
#[derive(Clone, Debug)]
pub(crate) struct Reading {
    /// The sheet.
    pub(crate) sheet: Sheet,
    /// Id of the draft line behind each line of the sheet.
    pub(crate) line_ids: Vec<String>,
}

/// Reads a draft. A line without a raw material is not there yet; a field that cannot be read stops the reading.
pub(crate) fn read(draft: &Draft) -> Result<Reading, Vec<FieldRemark>> {
    let mut fields = Fields::default();
    let product = Product {
        name: draft.product.name.clone(),
        kind: draft.product.kind.clone(),
        site: draft.product.site.clone(),
        leave_on: draft.product.leave_on,
        markets: draft.product.markets.clone(),
        client: some(&draft.product.client),
        note: some(&draft.product.note),
    };
    let target = read_target(&mut fields, &draft.target);
    let usual = Batch::default();
    let batch = Batch {
        size_g: fields.above_zero("bench.size_g", &draft.bench.size_g).unwrap_or(usual.size_g),
        balance_g: fields.above_zero("bench.balance_g", &draft.bench.balance_g).unwrap_or(usual.balance_g),
        repeatability_g: fields.above_zero("bench.repeatability_g", &draft.bench.repeatability_g),
        water_cfu_per_ml: fields.not_below_zero("bench.water_cfu_per_ml", &draft.bench.water_cfu_per_ml),
    };
    let mut line_ids = Vec::new();
    let mut phases = Vec::new();
    for phase in &draft.phases {
        let mut lines = Vec::new();
        for line in phase.lines.iter().filter(|line| !line.material.trim().is_empty()) {
            fields.line_id = Some(line.id.clone());
            if let Some(read) = read_line(&mut fields, line) {
                lines.push(read);
                line_ids.push(line.id.clone());
            }
            fields.line_id = None;
        }
        fields.phase_id = Some(phase.id.clone());
        let temperature_c = fields.number("temperature_c", &phase.temperature_c);
        fields.phase_id = None;
        phases.push(Phase { name: phase.name.clone(), temperature_c, step: some(&phase.step), lines });
    }
    let mut sheet = Sheet { product, target, batch, phases, steps: Vec::new() };
    sheet.steps = steps::read(&mut fields, &draft.steps, &sheet, &line_ids);
    if fields.remarks.is_empty() { Ok(Reading { sheet, line_ids }) } else { Err(fields.remarks) }
}

fn read_line(fields: &mut Fields, line: &DraftLine) -> Option<Line> {
    let amount = match line.kind {
        AmountKind::Remainder => Some(Amount::Remainder(true)),
        AmountKind::Percent => fields.needed("amount", &line.amount, "%").map(Amount::Percent),
        AmountKind::ActivePercent => {
            fields.needed("amount", &line.amount, "% of active").map(Amount::ActivePercent)
        }
        AmountKind::ToPh => fields.needed("amount", &line.amount, "pH").map(Amount::ToPh),
    };
    let assay_percent = fields.number("assay_percent", &line.assay_percent);
    let tolerance_percent = fields.number("tolerance_percent", &line.tolerance_percent);
    Some(Line {
        material: line.material.trim().to_owned(),
        amount: amount?,
        assay_percent,
        lot: some(&line.lot),
        note: some(&line.note),
        tolerance_percent,
    })
}

/// Word of a pH that is read on the diluted product.
const TEN_PERCENT: &str = "10 % in water";

fn read_target(fields: &mut Fields, draft: &DraftTarget) -> Target {
    let ph = fields.window("target.ph_low", &draft.ph_low, "target.ph_high", &draft.ph_high);
    let mpa_s = fields.window(
        "target.viscosity_low",
        &draft.viscosity_low,
        "target.viscosity_high",
        &draft.viscosity_high,
    );
    let viscosity = mpa_s.map(|mpa_s| ViscosityTarget {
        mpa_s,
        spindle: some(&draft.viscosity_spindle),
        speed_rpm: fields.number("target.viscosity_rpm", &draft.viscosity_rpm),
        temperature_c: fields.number("target.viscosity_temperature_c", &draft.viscosity_temperature_c),
        age_h: fields.number("target.viscosity_age_h", &draft.viscosity_age_h),
    });
    let currency = some(&draft.currency).unwrap_or_else(|| "EUR".to_owned());
    let cost = fields.number("target.cost_per_kg", &draft.cost_per_kg);
    let pack_cost = fields.number("target.pack_cost", &draft.pack_cost);
    let pack = fields.above_zero("target.pack_fill", &draft.pack_fill).and_then(|fill| {
        let unit = UNITS.iter().find(|(name, _)| *name == draft.pack_unit).map(|(_, unit)| *unit);
        let Some(unit) = unit.or(draft.pack_unit.is_empty().then_some(FillUnit::Millilitre)) else {
            fields.say(
                "target.pack_unit",
                format!("\"{}\" is not a unit of content.", draft.pack_unit),
                "A content is a mass or a volume; an ounce of weight is not a fluid ounce.",
                "Choose mL, g, oz weight, fl oz US or fl oz UK.",
            );
            return None;
        };
        Some(Pack {
            name: some(&draft.pack_name).unwrap_or_else(|| "pack".to_owned()),
            fill,
            unit,
            cost: pack_cost.map(|amount| Money { amount, currency: currency.clone() }),
            airless: draft.pack_airless,
        })
    });
    Target {
        ph,
        ph_read: PhRead {
            diluted: draft.ph_method == TEN_PERCENT,
            temperature_c: fields.between("target.ph_temperature_c", &draft.ph_temperature_c, [0, 95]),
            age_h: fields.between("target.ph_age_h", &draft.ph_age_h, [0, 100_000]),
        },
        viscosity,
        clarity: some(&draft.clarity),
        cost_per_kg: cost.map(|amount| Money { amount, currency: currency.clone() }),
        natural_origin_percent: fields.number("target.natural_origin_percent", &draft.natural_origin_percent),
        free_from: draft
            .free_from
            .split([',', ';'])
            .map(str::trim)
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect(),
        shelf_life_months: fields.number("target.shelf_life_months", &draft.shelf_life_months),
        pack,
        metals_mg_kg: draft
            .metals_mg_kg
            .iter()
            .filter_map(|(ion, text)| {
                Some((ion.clone(), fields.number(&format!("target.metals_mg_kg.{ion}"), text)?))
            })
            .collect(),
    }
}

fn some(text: &str) -> Option<String> {
    let text = text.trim();
    (!text.is_empty()).then(|| text.to_owned())
}

/// Reads fields and gathers what is wrong with them.
#[derive(Default)]
struct Fields {
    line_id: Option<String>,
    phase_id: Option<String>,
    remarks: Vec<FieldRemark>,
}

impl Fields {
    fn say(&mut self, field: &str, what: String, why: &str, what_now: &str) {
        self.remarks.push(FieldRemark {
            line_id: self.line_id.clone(),
            phase_id: self.phase_id.clone(),
            field: field.to_owned(),
            what,
            why: why.to_owned(),
            what_now: what_now.to_owned(),
            offers: Vec::new(),
        });
    }

    fn number(&mut self, field: &str, text: &str) -> Option<Decimal> {
        if text.trim().is_empty() {
            return None;
        }
        match parse_typed(text) {
            Ok(number) => Some(number),
            Err(error) => {
                self.say(field, sentence(&error.to_string()), "", &sentence(error.hint()));
                None
            }
        }
    }

    fn needed(&mut self, field: &str, text: &str, unit: &str) -> Option<Decimal> {
        if text.trim().is_empty() {
            self.say(
                field,
                "The amount is missing.".to_owned(),
                "",
                &format!("Type the {unit}, or choose q.s."),
            );
            return None;
        }
        self.number(field, text)
    }

    fn above_zero(&mut self, field: &str, text: &str) -> Option<Decimal> {
        let number = self.number(field, text)?;
        if number > Decimal::ZERO {
            return Some(number);
        }
        self.say(field, format!("{number} cannot be."), "", "Type a number above zero.");
        None
    }

    fn between(&mut self, field: &str, text: &str, [low, high]: [i64; 2]) -> Option<Decimal> {
        let number = self.number(field, text)?;
        if (Decimal::from(low)..=Decimal::from(high)).contains(&number) {
            return Some(number);
        }
        self.say(field, format!("{number} cannot be."), "", &format!("Type a number from {low} to {high}."));
        None
    }

    fn not_below_zero(&mut self, field: &str, text: &str) -> Option<Decimal> {
        let number = self.number(field, text)?;
        if number >= Decimal::ZERO {
            return Some(number);
        }
        self.say(field, format!("{number} cannot be."), "", "Type zero or a number above it.");
        None
    }

    fn window(&mut self, low_field: &str, low: &str, high_field: &str, high: &str) -> Option<[Decimal; 2]> {
        let (low, high) = (self.number(low_field, low), self.number(high_field, high));
        match (low, high) {
            (Some(low), Some(high)) if low > high => {
                self.say(
                    low_field,
                    format!("The window runs from {low} down to {high}."),
                    "",
                    "Type the lower end first.",
                );
                None
            }
            (Some(low), Some(high)) => Some([low, high]),
            _ => None,
        }
    }
}

/// A sheet as it stands in the fields.
pub(crate) fn write(sheet: &Sheet) -> Draft {
    let mut numbers = 0;
    let mut next_id = move |kind: &str| {
        numbers += 1;
        format!("{kind}{numbers}")
    };
    let target = &sheet.target;
    let end = |window: Option<[Decimal; 2]>, end: usize| {
        window.map(|window| window[end].to_string()).unwrap_or_default()
    };
    let viscosity = target.viscosity.as_ref();
    let mpa_s = viscosity.map(|viscosity| viscosity.mpa_s);
    let text = |number: Option<Decimal>| number.map(|number| number.to_string()).unwrap_or_default();
    let pack = target.pack.as_ref();
    let money = target.cost_per_kg.as_ref().or(pack.and_then(|pack| pack.cost.as_ref()));
    let mut draft = Draft {
        product: DraftProduct {
            name: sheet.product.name.clone(),
            kind: sheet.product.kind.clone(),
            site: sheet.product.site.clone(),
            leave_on: sheet.product.leave_on,
            markets: sheet.product.markets.clone(),
            client: sheet.product.client.clone().unwrap_or_default(),
            note: sheet.product.note.clone().unwrap_or_default(),
        },
        target: DraftTarget {
            ph_low: end(target.ph, 0),
            ph_high: end(target.ph, 1),
            ph_method: if target.ph_read.diluted { TEN_PERCENT.to_owned() } else { String::new() },
            ph_temperature_c: text(target.ph_read.temperature_c),
            ph_age_h: text(target.ph_read.age_h),
            viscosity_low: end(mpa_s, 0),
            viscosity_high: end(mpa_s, 1),
            viscosity_spindle: viscosity.and_then(|it| it.spindle.clone()).unwrap_or_default(),
            viscosity_rpm: text(viscosity.and_then(|it| it.speed_rpm)),
            viscosity_temperature_c: text(viscosity.and_then(|it| it.temperature_c)),
            viscosity_age_h: text(viscosity.and_then(|it| it.age_h)),
            clarity: target.clarity.clone().unwrap_or_default(),
            cost_per_kg: text(target.cost_per_kg.as_ref().map(|money| money.amount)),
            currency: money.map(|money| money.currency.clone()).unwrap_or_default(),
            natural_origin_percent: text(target.natural_origin_percent),
            free_from: target.free_from.join(", "),
            shelf_life_months: text(target.shelf_life_months),
            pack_name: pack.map(|pack| pack.name.clone()).unwrap_or_default(),
            pack_fill: text(pack.map(|pack| pack.fill)),
            pack_unit: pack
                .and_then(|pack| UNITS.iter().find(|(_, unit)| *unit == pack.unit))
                .map(|(name, _)| (*name).to_owned())
                .unwrap_or_default(),
            pack_cost: text(pack.and_then(|pack| pack.cost.as_ref()).map(|cost| cost.amount)),
            pack_airless: pack.is_some_and(|pack| pack.airless),
            metals_mg_kg: target.metals_mg_kg.iter().map(|(ion, mg)| (ion.clone(), mg.to_string())).collect(),
        },
        bench: Bench {
            size_g: sheet.batch.size_g.to_string(),
            balance_g: sheet.batch.balance_g.to_string(),
            repeatability_g: text(sheet.batch.repeatability_g),
            water_cfu_per_ml: text(sheet.batch.water_cfu_per_ml),
        },
        own_facts: String::new(),
        steps: Vec::new(),
        phases: sheet
            .phases
            .iter()
            .map(|phase| DraftPhase {
                id: next_id("p"),
                name: phase.name.clone(),
                temperature_c: text(phase.temperature_c),
                step: phase.step.clone().unwrap_or_default(),
                lines: phase.lines.iter().map(|line| write_line(line, next_id("l"))).collect(),
            })
            .collect(),
    };
    let line_ids: Vec<String> =
        draft.phases.iter().flat_map(|phase| &phase.lines).map(|line| line.id.clone()).collect();
    draft.steps = steps::write(&sheet.steps, sheet, &line_ids);
    draft
}

fn write_line(line: &Line, id: String) -> DraftLine {
    let (kind, amount) = match line.amount {
        Amount::Percent(percent) => (AmountKind::Percent, percent.to_string()),
        Amount::ActivePercent(percent) => (AmountKind::ActivePercent, percent.to_string()),
        Amount::Remainder(_) => (AmountKind::Remainder, String::new()),
        Amount::ToPh(ph) => (AmountKind::ToPh, ph.to_string()),
    };
    DraftLine {
        id,
        material: line.material.clone(),
        kind,
        amount,
        assay_percent: line.assay_percent.map(|assay| assay.to_string()).unwrap_or_default(),
        lot: line.lot.clone().unwrap_or_default(),
        note: line.note.clone().unwrap_or_default(),
        tolerance_percent: line.tolerance_percent.map(|percent| percent.to_string()).unwrap_or_default(),
    }
}
