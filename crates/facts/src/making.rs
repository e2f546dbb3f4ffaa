//! How a product is made: `[[heat_resistance]]`, `[[lethal_unit]]`, `[room]`, `[evaporation]`, `[heat_loss]`, `[hot_plate]`,
//! `[jacket_side]`, `[[vessel_film]]`, `[[balance_class]]`.

use levigate_measure::weighing::ErrorSteps;
use levigate_process::heat::film::VesselFilm;
use levigate_process::heat::lethality::{HeatResistance, LethalUnit};
use levigate_process::heat::settings::{EvaporationDoubt, HeatLoss, HotPlate, JacketSide, RoomSizes, limits};
use levigate_process::impeller::Family;
use std::collections::BTreeMap;

use crate::records::Ledger;
use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault};

/// What is known of the making of a product.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Making {
    /// Organisms by key.
    pub heat_resistance: BTreeMap<String, HeatResistance>,
    /// Units of heat treatment by key.
    pub lethal_units: BTreeMap<String, LethalUnit>,
    /// The usual air.
    pub room: Option<RoomSizes>,
    /// How a vessel loses heat.
    pub heat_loss: Option<HeatLoss>,
    /// The usual hot plate.
    pub hot_plate: Option<HotPlate>,
    /// The usual jacket.
    pub jacket_side: Option<JacketSide>,
    /// Films of stirred vessels by the impeller.
    pub vessel_films: BTreeMap<Family, VesselFilm>,
    /// How far the law of evaporation may be off.
    pub evaporation: Option<EvaporationDoubt>,
    /// Errors that the classes of balances permit, by class.
    pub balance_classes: BTreeMap<String, ErrorSteps>,
}

fn refuse(tables: &mut Tables<'_>, place: &Place, message: String) {
    tables.refuse(Fault::Incoherent { place: place.clone(), message });
}

/// Refuses sizes outside their limits.
fn refuse_outside<'f>(tables: &mut Tables<'_>, place: &Place, sizes: impl Iterator<Item = (&'f str, f64)>) {
    for (field, value) in sizes {
        let [low, high] = limits(field);
        if !(low..=high).contains(&value) {
            refuse(tables, place, format!("{field} is {value}: it lies between {low} and {high}"));
        }
    }
}

/// What is wrong with an organism: everything is computed from these numbers, so that nothing may be zero or run backwards.
fn flaw_of(organism: &HeatResistance) -> Option<String> {
    let [least, most] = organism.z_k;
    if !(1.0..=100.0).contains(&least) || !(least..=100.0).contains(&most) {
        return Some(format!("z_k runs from {least} to {most}: it lies between 1 and 100, the least first"));
    }
    if organism.d.is_empty() {
        return Some("d is empty".to_owned());
    }
    for d in &organism.d {
        if !(1e-6..=1e6).contains(&d.least_min) || !(d.least_min..=1e6).contains(&d.most_min) {
            return Some(format!("d at {} C runs from {} to {} min", d.at_c, d.least_min, d.most_min));
        }
        if !(0.0..=150.0).contains(&d.at_c) {
            return Some(format!("d is given at {} C: it lies between 0 and 150", d.at_c));
        }
    }
    organism
        .d
        .windows(2)
        .find(|pair| pair[0].at_c >= pair[1].at_c)
        .map(|pair| format!("d at {} C stands before that at {} C", pair[0].at_c, pair[1].at_c))
}

impl Facts {
    /// Takes all organisms and units.
    pub(crate) fn take_in_making(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<HeatResistance>("heat_resistance") {
            if let Some(message) = flaw_of(&value) {
                refuse(tables, &place, message);
            }
            if ledger.enter(tables, "heat_resistance", &value.key, &place) {
                self.making.heat_resistance.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<LethalUnit>("lethal_unit") {
            if !(1.0..=100.0).contains(&value.z_k) || !(0.0..=150.0).contains(&value.reference_c) {
                refuse(tables, &place, format!("z_k is {} K at {} C", value.z_k, value.reference_c));
            }
            if ledger.enter(tables, "lethal_unit", &value.key, &place) {
                self.making.lethal_units.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<EvaporationDoubt>("evaporation") {
            let sizes =
                [("within_percent", value.within_percent), ("outside_percent", value.outside_percent)];
            refuse_outside(tables, &place, sizes.into_iter());
            if ledger.enter(tables, "evaporation", "law", &place) {
                self.making.evaporation = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<ErrorSteps>("balance_class") {
            if let Some(flaw) = value.flaw() {
                refuse(tables, &place, flaw.to_owned());
            }
            if ledger.enter(tables, "balance_class", &value.class, &place) {
                self.making.balance_classes.insert(value.class.clone(), value);
            }
        }
        self.take_in_heat(tables, ledger);
        for Placed { value, place } in tables.take::<RoomSizes>("room") {
            let sizes = [
                ("temperature_c", value.temperature_c),
                ("humidity_percent", value.humidity_percent),
                ("speed_m_s", value.speed_m_s),
                ("altitude_m", value.altitude_m),
            ];
            let pressure = value.pressure_kpa.map(|kpa| ("pressure_kpa", kpa));
            refuse_outside(tables, &place, sizes.into_iter().chain(pressure));
            if ledger.enter(tables, "room", "room", &place) {
                self.making.room = Some(value);
            }
        }
    }

    fn take_in_heat(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<HeatLoss>("heat_loss") {
            let sizes = [
                ("wall_w_m2_k", value.wall_w_m2_k),
                ("surface_w_m2_k", value.surface_w_m2_k),
                ("emissivity", value.emissivity),
                ("doubt_percent", value.doubt_percent),
            ];
            refuse_outside(tables, &place, sizes.into_iter());
            if ledger.enter(tables, "heat_loss", "vessel", &place) {
                self.making.heat_loss = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<HotPlate>("hot_plate") {
            let sizes = [
                ("power_w", value.power_w),
                ("heat_capacity_j_k", value.heat_capacity_j_k),
                ("contact_w_m2_k", value.contact_w_m2_k),
                ("loss_w_k", value.loss_w_k),
                ("most_c", value.most_c),
                ("doubt_percent", value.doubt_percent),
            ];
            refuse_outside(tables, &place, sizes.into_iter());
            if ledger.enter(tables, "hot_plate", "plate", &place) {
                self.making.hot_plate = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<JacketSide>("jacket_side") {
            let sizes = [
                ("liquid_w_m2_k", value.liquid_w_m2_k),
                ("steam_w_m2_k", value.steam_w_m2_k),
                ("fouling_m2_k_w", value.fouling_m2_k_w),
                ("doubt_percent", value.doubt_percent),
            ];
            refuse_outside(tables, &place, sizes.into_iter());
            if ledger.enter(tables, "jacket_side", "jacket", &place) {
                self.making.jacket_side = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<VesselFilm>("vessel_film") {
            let flaw = value.laws.iter().find(|law| {
                !(0.001..=100.0).contains(&law.factor)
                    || !(0.1..=1.0).contains(&law.power)
                    || law.reynolds[0] >= law.reynolds[1]
            });
            if flaw.is_some() || value.laws.is_empty() {
                refuse(
                    tables,
                    &place,
                    "laws need a factor, a power up to 1 and rising Reynolds numbers".to_owned(),
                );
            }
            let key = format!("{:?}", value.impeller);
            if ledger.enter(tables, "vessel_film", &key, &place) {
                self.making.vessel_films.insert(value.impeller, value);
            }
        }
    }
}
