//! Handling: `[handling]`, `[[handling_rule]]`, `[[swelling]]`, `[[stirring]]`, `[[handling_question]]`, `[[step_check]]`.

use levigate_assess::procedure::handling::{Question, Rule, StepCheck, Stirring, Swelling, Usual};

use crate::records::Ledger;
use crate::text::{Place, Placed, Tables};
use crate::{Facts, Fault};

/// Refuses what no vessel of water can be.
fn sound(tables: &mut Tables<'_>, usual: &Usual, place: &Place) {
    let celsius = [usual.room_c[0], usual.room_c[1], usual.cool_down_c, usual.hot_from_c, usual.hold_c];
    let wrong = if celsius.iter().any(|celsius| !(0.0..=100.0).contains(celsius)) || !celsius.is_sorted() {
        Some("room_c, cool_down_c, hot_from_c and hold_c rise in this order between 0 and 100 C")
    } else if usual.hold_minutes[0] > usual.hold_minutes[1] || usual.hold_minutes[0] < 0.0 {
        Some("hold_minutes runs from the shorter to the longer time")
    } else if !(1.0..=99.0).contains(&usual.hot_water_percent) {
        Some("hot_water_percent lies between 1 and 99")
    } else if !(0.0..=50.0).contains(&usual.spread_c) || !(0.0..=50.0).contains(&usual.flash_margin_c) {
        Some("spread_c and flash_margin_c lie between 0 and 50")
    } else {
        None
    };
    if let Some(message) = wrong {
        tables.refuse(Fault::Incoherent { place: place.clone(), message: message.to_owned() });
    }
}

fn rising(tables: &mut Tables<'_>, name: &str, [low, high]: [f64; 2], place: &Place) {
    if !(low.is_finite() && high.is_finite() && 0.0 <= low && low <= high) {
        let message = format!("{name} runs from {low} to {high}: it rises from zero or more");
        tables.refuse(Fault::Incoherent { place: place.clone(), message });
    }
}

impl Facts {
    /// Takes everything about handling.
    pub(crate) fn take_in_handling(&mut self, tables: &mut Tables<'_>, ledger: &mut Ledger<'_>) {
        for Placed { value, place } in tables.take::<Usual>("handling") {
            sound(tables, &value, &place);
            if ledger.enter(tables, "handling", "usual", &place) {
                self.handling.usual = Some(value);
            }
        }
        for Placed { value, place } in tables.take::<Rule>("handling_rule") {
            if ledger.enter(tables, "handling_rule", &value.key, &place) {
                self.handling.rules.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Swelling>("swelling") {
            rising(tables, "minutes", value.minutes, &place);
            if ledger.enter(tables, "swelling", &value.key, &place) {
                self.handling.swelling.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Stirring>("stirring") {
            rising(tables, "tip_m_s", value.tip_m_s, &place);
            if ledger.enter(tables, "stirring", &value.key, &place) {
                self.handling.stirring.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<Question>("handling_question") {
            if ledger.enter(tables, "handling_question", &value.key, &place) {
                self.handling.questions.insert(value.key.clone(), value);
            }
        }
        for Placed { value, place } in tables.take::<StepCheck>("step_check") {
            if ledger.enter(tables, "step_check", &value.key, &place) {
                self.handling.checks.insert(value.key.clone(), value);
            }
        }
    }
}
