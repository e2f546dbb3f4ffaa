//! What the flow of a sheet means in use, with the sizes a person set: out of the pack, over the skin, on the shelf.

use super::assess::{Bench, known};
use super::complaint::{Complaint, complaints};
use jiff::civil::Date;
use levigate_assess::Inquiry;
use levigate_assess::flow_use::{Customs, Flows, InUse, in_use};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_process::flow::settings::{Dispensing, Draining, Standing, limits};
use serde::Serialize;
use std::collections::BTreeMap;

/// A size that can be set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Size {
    /// Its name.
    pub name: &'static str,
    /// Its value, in the unit of its name.
    pub value: f64,
    /// Least and most it may be.
    pub limits: [f64; 2],
}

/// What the flow of a sheet means in use.
#[derive(Clone, Debug, Serialize)]
pub struct SheetInUse {
    /// Sizes it was computed with.
    pub sizes: Vec<Size>,
    /// Why there is no answer.
    pub refused: Option<String>,
    /// The answers.
    pub answers: Option<InUse>,
}

/// The sizes of one question, changed in place.
struct Sizes {
    pack: Dispensing,
    hand: Draining,
    shelf: Standing,
}

impl Sizes {
    /// The sizes that can be set: name, the field whose limits hold, the place.
    fn places(&mut self) -> [(&'static str, &'static str, &mut f64); 10] {
        let (pack, hand, shelf) = (&mut self.pack, &mut self.hand, &mut self.shelf);
        [
            ("dose_ml", "dose_ml", &mut hand.dose.dose_ml),
            ("angle_deg", "angle_deg", &mut hand.dose.angle_deg),
            ("time_s", "time_s", &mut hand.dose.time_s),
            ("stroke_ml", "stroke_ml", &mut pack.stroke_ml),
            ("pressure_kpa", "pressure_kpa", &mut pack.pressure_kpa),
            ("nozzle_mm", "bore_mm", &mut pack.nozzle.bore_mm),
            ("finger_m_s", "speed_m_s", &mut hand.finger.speed_m_s),
            ("film_um", "film_um", &mut hand.finger.film_um),
            ("drop_um", "diameter_um", &mut shelf.drops.diameter_um),
            ("months", "months", &mut shelf.shelf.months),
        ]
    }
}

/// Answers the questions of use for a sheet; a size that is none of ours or outside its limits is not taken.
///
/// # Errors
/// Everything that is wrong with the sheet.
pub fn sheet_in_use(
    facts: &Facts,
    day: Date,
    market: &str,
    sheet: &Sheet,
    bench: Option<Bench<'_>>,
    set: &BTreeMap<String, f64>,
) -> Result<SheetInUse, Vec<Complaint>> {
    let mut known = known(facts);
    known.flow.bench = bench;
    let inquiry = Inquiry { sheet, known, day, market };
    let assessed = levigate_assess::assess(&inquiry).map_err(|error| complaints(&error))?;
    let usual = &facts.flow_use;
    let (Some(pack), Some(hand), Some(shelf)) = (&usual.dispensing, &usual.draining, &usual.standing) else {
        let refused = Some("the facts have no usual pack, hand and shelf".to_owned());
        return Ok(SheetInUse { sizes: Vec::new(), refused, answers: None });
    };
    let mut sizes = Sizes { pack: pack.clone(), hand: hand.clone(), shelf: shelf.clone() };
    let mut shown = Vec::new();
    for (name, field, place) in sizes.places() {
        let limits = limits(field);
        if let Some(value) = set.get(name).filter(|value| (limits[0]..=limits[1]).contains(*value)) {
            *place = *value;
        }
        shown.push(Size { name, value: *place, limits });
    }
    // One tilt of the hand for the dose and for the film.
    sizes.hand.film.angle_deg = sizes.hand.dose.angle_deg;
    let (refused, answers) = match Flows::of(&assessed) {
        Err(why) => (Some(why), None),
        Ok(flows) => {
            let customs = Customs {
                stages: usual.stages.values().collect(),
                words: usual.words.values().collect(),
                dispensing: &sizes.pack,
                draining: &sizes.hand,
                standing: &sizes.shelf,
            };
            (None, Some(in_use(&flows.known(), &customs)))
        }
    };
    Ok(SheetInUse { sizes: shown, refused, answers })
}
