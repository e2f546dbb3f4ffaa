//! What a change comes to, in words.

use super::Scale;
use super::about::About;
use levigate_assess::effects::{NextTrial, Stand, next_trial};
use levigate_measure::elementary::Elementary as _;

/// Standard deviations that hold with a probability of 0.95.
pub(super) const WIDTH_95: f64 = 1.96;

/// Whether what differs does anything to a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Moved {
    /// Nothing differs that its model knows of.
    NothingDiffers,
    /// What differs does nothing to it.
    Nothing,
    /// Something does, or may.
    Something,
}

/// Numbers of one reading in words.
impl About {
    fn bare(&self, change: f64) -> String {
        match self.scale {
            Scale::Difference => self.signed(change),
            Scale::Factor => format!("a factor of {}", factor(change)),
        }
    }

    fn signed(&self, change: f64) -> String {
        let decimals = self.decimals;
        format!("{change:+.decimals$}{}", self.behind())
    }

    /// How far either way: `± 0.05`, `a factor of 1.2 either way`.
    fn either_way(&self, spread: f64) -> String {
        let half = WIDTH_95 * spread;
        let decimals = self.decimals;
        match self.scale {
            Scale::Difference => format!("\u{b1} {half:.decimals$}{}", self.behind()),
            Scale::Factor => format!("a factor of {} either way", factor(half)),
        }
    }

    fn behind(&self) -> String {
        if self.unit.is_empty() { String::new() } else { format!(" {}", self.unit) }
    }

    /// What the change comes to. `measured` holds the change that was read and its standard deviation.
    pub(super) fn say(
        &self,
        moved: Moved,
        explained: &Stand,
        spread: f64,
        measured: Option<(f64, f64)>,
        expected: [&str; 2],
    ) -> String {
        let sum = if moved == Moved::NothingDiffers {
            format!("Nothing differs that the model of the {} knows of.", self.name)
        } else if moved == Moved::Nothing {
            format!("Nothing of what differs moves the {}.", self.name)
        } else {
            let (decimals, value) = (self.decimals, explained.value);
            let change = match self.scale {
                Scale::Difference if spread > 0.0 => {
                    format!("by {value:+.decimals$} {}", self.either_way(spread))
                }
                Scale::Difference => format!("by {}", self.signed(value)),
                Scale::Factor => {
                    format!("by a factor of {}, known to {}", factor(value), self.either_way(spread))
                }
            };
            format!("The differences explain a change of the {} {change}.", self.name)
        };
        let Some((change, reading)) = measured else {
            let expects = match expected {
                [was, now] if was == now => format!("{was} of both"),
                [was, now] => format!("{was}, then {now}"),
            };
            return format!("{sum} {} The engine expects {expects}.", self.no_pair);
        };
        let rest = change - explained.value;
        let far = spread.hypot(std::f64::consts::SQRT_2 * reading);
        if rest.abs() > WIDTH_95 * far {
            format!(
                "{sum} Read was {}: {} stays unexplained, more than the doubts of both ({}).",
                self.bare(change),
                self.bare(rest),
                self.either_way(far)
            )
        } else {
            format!(
                "{sum} Read was {}: that agrees within the doubts of both ({}).",
                self.bare(change),
                self.either_way(far)
            )
        }
    }

    /// The trial to make next: the first one with the one difference whose effect is least known. `named` are the differences with what
    /// they are now, those the engine speaks of first; `open` their standard deviations.
    pub(super) fn advice(
        &self,
        named: &[(&str, &str)],
        effects: &[Stand],
        rest: f64,
        reading: f64,
        [left, right]: [u32; 2],
    ) -> String {
        // Of what no model speaks of nothing is known: each may be behind all that stays unexplained, and so may a slip nobody noticed.
        let nothing_known = rest.abs().max(reading);
        let mut open: Vec<f64> = effects.iter().map(Stand::uncertainty).collect();
        open.resize(named.len() + 1, nothing_known);
        let Some(NextTrial { difference, open, open_then }) = next_trial(&open, reading) else {
            return "No single change would tell more than can be read.".to_owned();
        };
        let gain = format!(
            "is open by {}; one such trial leaves {}.",
            self.either_way(open),
            self.either_way(open_then)
        );
        let Some((what, now)) = named.get(difference) else {
            return format!(
                "Make trial {right} again as it was: what a slip in it did to the {} {gain}",
                self.name
            );
        };
        let with = if now.is_empty() {
            format!("without {what}")
        } else {
            format!("with only this changed: {what}, {now}")
        };
        format!("Make trial {left} again {with}. What it does to the {} {gain}", self.name)
    }
}

/// A factor in the digits it is worth.
fn factor(ln: f64) -> String {
    let factor = ln.exp_e();
    let digits = if factor < 0.1 {
        3
    } else if factor < 9.95 {
        2
    } else {
        0
    };
    format!("{factor:.digits$}")
}
