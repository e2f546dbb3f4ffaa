//! The advice in words.

use super::{Addition, Advice, Bench, COARSE, CONTRADICTS, Next, Reading, round_up};
use levigate_measure::{Note, Outcome};

/// Everything a sentence may speak of.
pub(super) struct Story<'s, 'b> {
    pub(super) bench: &'s Bench<'b>,
    pub(super) advice: &'s Advice,
    pub(super) additions: &'s [Addition],
    pub(super) readings: &'s [Reading],
    pub(super) warms_by: Option<&'s Outcome>,
}

/// Kelvin of warming from which cooling is asked for.
const WARM_K: f64 = 1.0;

/// Grams in the digits of a balance.
pub(super) fn grams(value: f64, digit: f64) -> String {
    let places = (0..6_i32).find(|places| digit * 10_f64.powi(*places) > 0.999).unwrap_or(6);
    format!("{value:.*} g", usize::try_from(places).unwrap_or(2))
}

/// A strength that a reading asks for.
pub(super) fn strength(times: f64) -> String {
    let check = "check bottle, label and decimal point of the addition, then read again in a fresh place";
    if times < 0.0 {
        return format!(
            "contradicts the model: the adjuster acted the other way round; a wrong bottle? {check}"
        );
    }
    let slip = if (0.07..=0.14).contains(&times) {
        " (a slip of ten, or a solution ten times weaker?)"
    } else if (7.0..=14.0).contains(&times) {
        " (a slip of ten, or a solution ten times stronger?)"
    } else {
        ""
    };
    format!(
        "contradicts the model: as if the adjuster were {times:.2} times as strong as stated{slip}; {check}"
    )
}

/// Acid or base that a reading asks for, mmol per kg; above zero acid.
pub(super) fn unknown_acid(mmol_kg: f64, since: bool) -> String {
    let what = if mmol_kg > 0.0 { "acid" } else { "base" };
    let from = if since {
        "came in since the reading before it"
    } else {
        "stood in the batch that the formula does not know of"
    };
    format!(
        "contradicts the model: as if {:.1} mmol/kg of {what} {from}; check electrode, weighing sheet and lots, then read again",
        mmol_kg.abs()
    )
}

impl Story<'_, '_> {
    fn name(&self) -> &str {
        &self.bench.adjusters[0].0.name
    }

    fn digit(&self) -> f64 {
        self.bench.dosing.readability_g
    }

    /// Whether the adjuster was never in and the batch stands on its far side already.
    fn wrong_way(&self) -> bool {
        self.advice.next == Next::Beyond && self.additions.iter().all(|one| one.adjuster != 0)
    }

    fn far_edge(&self) -> f64 {
        self.bench.window.ph[usize::from(self.advice.learned.base_per_gram > 0.0)]
    }

    fn near_edge(&self) -> f64 {
        self.bench.window.ph[usize::from(self.advice.learned.base_per_gram <= 0.0)]
    }

    pub(super) fn next(&self) -> &'static str {
        match self.advice.next {
            Next::Done => "done",
            Next::Read => "read",
            Next::Add { .. } => "add",
            Next::Beyond if self.wrong_way() => "wrong-way",
            Next::Beyond => "beyond",
            Next::NoneSure => "none-sure",
            Next::Finer { .. } => "finer",
        }
    }

    pub(super) fn say(&self) -> String {
        let name = self.name();
        let target = self.bench.window.method.words();
        match self.advice.next {
            Next::Add { grams: add, .. } => {
                let warm = self.warms_by.and_then(|kelvin| kelvin.value).filter(|kelvin| *kelvin >= WARM_K);
                let cool = warm.map_or_else(String::new, |_| {
                    format!(", cool to {} \u{b0}C", self.bench.window.method.temperature_c)
                });
                format!(
                    "Add {} of {name} slowly, stirring{cool}, then read settled, {target}.",
                    grams(add, self.digit())
                )
            }
            Next::Done => format!(
                "In the window: nothing more to add. The probability that the batch truly lies in it is {:.0} %.",
                100.0 * self.advice.within[0]
            ),
            Next::Read => format!(
                "Read first, settled, {target}: something went in after the last reading that counts."
            ),
            Next::Beyond if self.wrong_way() => {
                let kind = if self.advice.learned.base_per_gram > 0.0 { "an acid" } else { "a base" };
                format!(
                    "{name} moves the pH away from the window. Take {kind}, if it has to be moved at all."
                )
            }
            Next::Beyond => {
                "The batch has run past the window. Add nothing yet: read again in a fresh place first."
                    .to_owned()
            }
            Next::NoneSure => format!(
                "No addition of {name} as it is keeps surely to pH {:.2}. Read again; if the reading stands, accept it or go on with a weaker solution.",
                self.far_edge()
            ),
            Next::Finer { grams: add, times } => format!(
                "At most {:.4} g of {name} may go in, less than can be weighed: dilute it {times:.0} times (1 part slowly into {:.0} parts of \
                 water, never water onto it), mix, and start a new adjuster with that strength.",
                add,
                times - 1.0
            ),
        }
    }

    pub(super) fn because(&self) -> Vec<String> {
        let mut reasons = Vec::new();
        let advice = self.advice;
        let before = &advice.learned.before;
        let middle = 0.5 * (before[0].grams + before[1].grams);
        let digit = self.digit();
        match advice.next {
            Next::Add { by_edge, grams: add } => {
                if by_edge {
                    reasons.push(format!(
                        "The best place of the window asks for {} in all; {} is the most that keeps to pH {:.2} with {:.1} %.",
                        grams(advice.best_g, digit),
                        grams(advice.bound_g, digit),
                        self.far_edge(),
                        100.0 * (1.0 - advice.risk)
                    ));
                } else {
                    reasons.push(format!(
                        "{} in all is the best place of the window; it keeps to pH {:.2} with more than {:.1} %.",
                        grams(advice.best_g, digit),
                        self.far_edge(),
                        100.0 * (1.0 - advice.risk)
                    ));
                }
                if self.additions.is_empty() && middle > 0.0 {
                    reasons.push(format!(
                        "The model alone expects {} for the middle of the window; the first addition is {:.0} % of that.",
                        grams(middle, digit),
                        100.0 * add / middle
                    ));
                }
            }
            Next::Beyond if !self.wrong_way() => {
                reasons.push(format!(
                    "Back-titration leaves salt and a weaker gel; it is counted. Where the reading stands, ask whether the batch can be \
                     accepted or mixed with one that stopped short of pH {:.2} before an opposite adjuster goes in.",
                    self.near_edge()
                ));
                if advice.within[0] > 0.2 {
                    reasons.push(format!(
                        "It may still be in the window: the meter is only sure to \u{b1}{:.2}.",
                        1.96 * advice.reading_ph
                    ));
                }
            }
            _ => {}
        }
        if let Some(kelvin) = self.warms_by.and_then(|kelvin| kelvin.value).filter(|kelvin| *kelvin >= WARM_K)
        {
            reasons.push(format!(
                "All at once it warms the batch by about {kelvin:.0} K; a warm reading is another pH. Goggles and gloves; follow the \
                 rules of the house for acids and bases."
            ));
        }
        reasons.push(format!("A reading is sure to \u{b1}{:.2} (95 %).", 1.96 * advice.reading_ph));
        reasons
    }

    pub(super) fn notes(&self, back_titrations: usize, nothing_drifts: bool) -> Vec<Note> {
        let mut notes = Vec::new();
        let (advice, window) = (self.advice, self.bench.window.ph);
        let width = window[1] - window[0];
        if advice.too_narrow {
            notes.push(Note::new(
                "window-too-narrow",
                format!(
                    "The window of \u{b1}{:.2} is narrower than what meter and balance can tell: a reading is sure to \u{b1}{:.2}, the smallest \
                     portion moves {:.2}. Nobody can surely reach it; calibrate better, weigh finer, or widen it.",
                    0.5 * width,
                    1.96 * advice.reading_ph,
                    advice.portion_ph
                ),
            ));
        }
        if advice.portion_ph > COARSE * width {
            let times = round_up(advice.portion_ph / (COARSE * width));
            notes.push(Note::new(
                "dilute",
                format!(
                    "The smallest portion moves {:.2} pH, a large part of the window: for the last steps dilute the adjuster {times:.0} times.",
                    advice.portion_ph
                ),
            ));
        }
        if advice.contradictions().iter().any(|(_, surprise)| surprise.abs() > CONTRADICTS) {
            notes.push(Note::new(
                "contradiction",
                format!(
                    "A reading contradicts the model by more than chance allows. Check before anything more goes in. If all stands, the advice \
                     rests on the readings, with doubts taken {:.0} times as wide as stated so that they agree.",
                    advice.learned.widened
                ),
            ));
        }
        if back_titrations > 0 {
            notes.push(Note::new(
                "back-titration",
                format!(
                    "The direction was changed {back_titrations} times; every turn leaves salt in the batch."
                ),
            ));
        }
        let ages = self.readings.iter().filter_map(|reading| reading.method.age_h);
        if let Some(wanted) = self.bench.window.method.age_h
            && ages.fold(0.0, f64::max) < wanted
        {
            notes.push(Note::new(
                "younger",
                format!(
                    "The target is for a batch of {wanted} h; read it again then, whatever it shows now."
                ),
            ));
        }
        let warm = self.readings.iter().any(|reading| {
            (reading.method.temperature_c - self.bench.window.method.temperature_c).abs() > 2.0
        });
        if warm {
            notes.push(Note::new(
                "temperature",
                "A reading was taken at another temperature than the target's. The meter's compensation corrects the electrode, not the \
                 product; what the constants do with temperature is in the model, and less sure.",
            ));
        }
        if nothing_drifts && advice.next == Next::Done {
            notes.push(Note::new(
                "next-day",
                "Read again the next day; nothing in the formula is known to drift.",
            ));
        }
        notes
    }
}
