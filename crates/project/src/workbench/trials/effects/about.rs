//! One reading: its name, its unit, how effects on it add up, and changes of it as results.

use super::Scale;
use super::words::WIDTH_95;
use levigate_assess::effects::{MOST_TOGETHER, Stand};
use levigate_measure::elementary::Elementary as _;
use levigate_measure::{Grade, Outcome};

/// A change below this is what rounding leaves.
const DUST: f64 = 1e-10;

/// What is asked about.
pub(super) struct About {
    pub(super) key: String,
    pub(super) name: String,
    pub(super) conditions: String,
    pub(super) unit: &'static str,
    /// Unit of what is expected of one making, where effects are factors.
    pub(super) own_unit: &'static str,
    pub(super) scale: Scale,
    pub(super) decimals: usize,
    pub(super) method: &'static str,
    pub(super) grade: Grade,
    pub(super) proof: &'static str,
    /// Standard deviation of a reading, on the scale effects add up on.
    pub(super) reading: f64,
    /// Said where there are not two readings.
    pub(super) no_pair: String,
}

impl About {
    /// A change with its interval.
    pub(super) fn change(&self, value: f64, spread: f64, how: &'static str) -> Outcome {
        // What sums of many terms leave where they should cancel is no change.
        let value = if value.abs() < DUST { 0.0 } else { value };
        let ends = [value - WIDTH_95 * spread, value, value + WIDTH_95 * spread];
        let [low, value, high] = match self.scale {
            Scale::Difference => ends,
            Scale::Factor => ends.map(|ln| ln.exp_e()),
        };
        Outcome::new(value, self.unit, self.grade, how).within(low, high, Some(0.95))
    }

    pub(super) fn effect(&self, effect: &Stand, all: usize) -> Outcome {
        let mut outcome = self.change(effect.value, effect.uncertainty(), self.method).proved_by(self.proof);
        outcome = if all > MOST_TOGETHER {
            outcome.note("two-orders", "shared out over two orders of the differences only: what two do together is shared between those two roughly")
        } else {
            outcome.by("mean over all orders of the differences")
        };
        let mut largest: Vec<(&String, &f64)> = effect.pulls.iter().collect();
        largest.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
        for (doubt, pull) in largest.into_iter().take(3).filter(|(_, pull)| pull.abs() > 1e-4) {
            outcome = outcome.term(doubt.clone(), pull.abs(), "");
        }
        outcome
    }

    /// What the engine expects of one making.
    pub(super) fn expected(&self, stand: &Stand, own: f64, weighing: f64) -> Outcome {
        let spread = stand.uncertainty().hypot(std::f64::consts::FRAC_1_SQRT_2 * own.hypot(weighing));
        let ends = [-WIDTH_95, 0.0, WIDTH_95].map(|z| stand.value + z * spread);
        let [low, value, high] = match self.scale {
            Scale::Difference => ends,
            Scale::Factor => ends.map(|ln| 1e3 * ln.exp_e()),
        };
        Outcome::new(value, self.own_unit, self.grade, self.method)
            .within(low, high, Some(0.95))
            .proved_by(self.proof)
            .note("of-one", "what both trials share is in it; it cancels in the change")
    }

    pub(super) fn shown(&self, stand: &Stand) -> String {
        let decimals = self.decimals;
        match self.scale {
            Scale::Difference => format!("{:.decimals$} {}", stand.value, self.own_unit).trim().to_owned(),
            Scale::Factor => {
                let value = 1e3 * stand.value.exp_e();
                let digits = 10.0_f64.powi(((value.log_10().floor() as i32) - 2).max(0));
                format!("{} mPa\u{b7}s", (value / digits).round() * digits)
            }
        }
    }

    pub(super) fn read(&self, was: f64, now: f64, noise: f64) -> Outcome {
        let own = |value: f64| match self.scale {
            Scale::Difference => value,
            Scale::Factor => 1e3 * value.exp_e(),
        };
        let mut outcome = self.change(now - was, noise, "difference of the readings that stand");
        outcome.grade = Grade::Measured;
        outcome
            .input("read then", own(was), self.own_unit, None)
            .input("read now", own(now), self.own_unit, None)
            .note(
                "each-by-itself",
                "each reading carries its scatter and the doubt of the instrument by itself",
            )
    }
}
