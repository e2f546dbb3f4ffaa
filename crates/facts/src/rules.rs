//! Written rules: `[[limit]]`, `[[allergen]]`, `[[label]]`, `[[exposure]]`, `[[unlisted_preservative]]` by market, and
//! `[[incompatibility]]`, `[[microbial_class]]`, `[[plating]]`, `[[challenge]]`, `[[neutraliser]]` and `[[extrapolation]]` for every market.

use levigate_rules::book::{Allergen, Dates, Exposure, LabelRules, Limit, Unlisted};
use levigate_rules::challenge::{Criterion, NeutraliserHint};
use levigate_rules::extrapolation::Reach;
use levigate_rules::incompatibility::IncompatibilityRule;
use levigate_rules::microbial::MicrobialClass;
use levigate_rules::plates::Plating;

use crate::records::Ledger;
use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault};

/// A row without a beginning cannot be applied to a day.
fn dated(tables: &mut Tables<'_>, dates: &Dates, what: &str, place: &Place) {
    if !dates.is_dated() {
        tables.refuse(Fault::Incoherent {
            place: place.clone(),
            message: format!("{what} has no dates; give in_force_before or placing_from"),
        });
    }
}

impl Facts {
    /// Takes all rules.
    pub(crate) fn take_in_rules(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        self.take_in_limits(tables, ledger);
        for Placed { value, place } in tables.take::<Allergen>("allergen") {
            dated(tables, &value.dates, &format!("allergen {}", value.key), &place);
            if ledger.enter(tables, "allergen", &value.key, &place) {
                self.rules.enter_allergen(value);
            }
        }
        for Placed { value, place } in tables.take::<LabelRules>("label") {
            dated(tables, &value.dates, &format!("the label rules of {}", value.market), &place);
            if ledger.enter(tables, "label", &value.market, &place) {
                let market = self.rules.markets.entry(value.market.clone()).or_default();
                market.label = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<Exposure>("exposure") {
            if ledger.enter(tables, "exposure", &value.key, &place) {
                let market = self.rules.markets.entry(value.market.clone()).or_default();
                market.exposure.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Unlisted>("unlisted_preservative") {
            if ledger.enter(tables, "unlisted_preservative", &value.key, &place) {
                self.rules.markets.entry(value.market.clone()).or_default().enter_unlisted(value);
            }
        }
        for Placed { value, place } in tables.take::<IncompatibilityRule>("incompatibility") {
            if ledger.enter(tables, "incompatibility", &value.key, &place) {
                self.rules.incompatibilities.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<MicrobialClass>("microbial_class") {
            if !(value.most_cfu_per_g > 0.0 && value.out_above_cfu_per_g >= value.most_cfu_per_g) {
                tables.refuse(Fault::Incoherent {
                    place: place.clone(),
                    message: format!(
                        "microbial class {}: the limit lies above zero and the count that is out of limit not below it",
                        value.key
                    ),
                });
            }
            if ledger.enter(tables, "microbial_class", &value.key, &place) {
                self.rules.microbial.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Plating>("plating") {
            if value.countable[0] == 0 || value.countable[0] > value.countable[1] {
                tables.refuse(Fault::Incoherent {
                    place: place.clone(),
                    message: format!(
                        "plating {}: countable plates hold one colony at the least, and no fewer than most",
                        value.key
                    ),
                });
            }
            if ledger.enter(tables, "plating", &value.key, &place) {
                self.rules.plating.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Criterion>("challenge") {
            let idle =
                value.asked.iter().any(|asked| asked.least_log.is_none() && asked.no_increase_from.is_none());
            let late =
                value.asked.iter().any(|asked| asked.no_increase_from.is_some_and(|from| from >= asked.day));
            if idle || late {
                tables.refuse(Fault::Incoherent {
                    place: place.clone(),
                    message: format!("challenge {}: every row asks for a reduction, or for no increase since an earlier day", value.key),
                });
            }
            if ledger.enter(tables, "challenge", &value.key, &place) {
                self.rules.challenge.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<NeutraliserHint>("neutraliser") {
            if ledger.enter(tables, "neutraliser", &value.key, &place) {
                self.rules.neutralisers.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Reach>("extrapolation") {
            if !(value.times >= 1.0 && value.more_months >= 0.0) {
                tables.refuse(Fault::Incoherent {
                    place: place.clone(),
                    message: format!(
                        "extrapolation {}: what was measured may be stated at the least",
                        value.key
                    ),
                });
            }
            if ledger.enter(tables, "extrapolation", &value.key, &place) {
                self.rules.extrapolation.insert(value.key.clone(), value);
            }
        }
    }

    fn take_in_limits(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Limit>("limit") {
            for row in &value.rows {
                dated(tables, &row.dates, &format!("limit {}, row \"{}\"", value.key, row.products), &place);
                if row.max_percent.is_some_and(|maximum| !(0.0..=100.0).contains(&maximum)) {
                    tables.refuse(Fault::Incoherent {
                        place: place.clone(),
                        message: format!("limit {}: a maximum lies between 0 and 100 %", value.key),
                    });
                }
            }
            if ledger.enter(tables, "limit", &value.key, &place) {
                self.rules.enter_limit(value);
            }
        }
    }
}
