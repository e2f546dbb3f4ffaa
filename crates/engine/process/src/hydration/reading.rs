//! Taking up water as results that explain themselves.

use super::growth::{Growth, growths};
use super::{Form, Hydration, constants_to};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

const CROSS: &str = "tests/cross/hydration.toml";

/// What is asked of a gum.
#[derive(Clone, Debug, PartialEq)]
pub struct GumQuestion<'a> {
    /// What is known of its family.
    pub family: &'a Hydration,
    /// Grain, um; that of reference where nobody says.
    pub grain_um: Option<f64>,
    /// Temperature, deg C; that of reference where nobody says.
    pub temperature_c: Option<f64>,
    /// Gum and polyol that wets it, g.
    pub gum_and_polyol_g: Option<(f64, f64)>,
    /// Speed of the tip, m/s.
    pub tip_m_s: Option<f64>,
    /// Readings, minutes and mPa s.
    pub readings: Vec<(f64, f64)>,
}

/// A form fitted to readings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GrowthReading {
    /// Form.
    pub form: Form,
    /// Its name.
    pub words: &'static str,
    /// Time constant, minutes; for the logarithm, which has none, refused.
    pub time_constant: Outcome,
    /// Viscosity in the end, mPa s.
    pub end: Outcome,
    /// Root mean square of the residuals, percent.
    pub residual: Outcome,
    /// Akaike's criterion.
    pub aicc: Outcome,
}

/// What is known of a gum and what its readings say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GumReading {
    /// Family.
    pub words: String,
    /// How it is dispersed.
    pub disperse: String,
    /// What starts it.
    pub trigger: Option<String>,
    /// Risk of lumps.
    pub fish_eyes: &'static str,
    /// What shear does, where it is known.
    pub shear: Option<String>,
    /// Polyol for each part of gum; refused where the family needs none.
    pub wetting: Outcome,
    /// Polyol there is for each part of gum.
    pub wetting_given: Option<Outcome>,
    /// Time to 95 % of the viscosity, minutes.
    pub to_95: Outcome,
    /// Time to 99 %, minutes.
    pub to_99: Outcome,
    /// Speed of the tip while it hydrates, m/s.
    pub tip_speed: Outcome,
    /// Hours after which the viscosity is measured.
    pub measure_after: Outcome,
    /// Forms fitted to the readings, the one taken first.
    pub growth: Vec<GrowthReading>,
    /// What to mind.
    pub minds: Vec<String>,
}

impl GumQuestion<'_> {
    /// Answers.
    #[must_use]
    pub fn reading(&self) -> GumReading {
        let family = self.family;
        let mut minds = Vec::new();
        let fits = if self.readings.is_empty() {
            Vec::new()
        } else {
            match growths(&self.readings) {
                Ok(fits) => fits,
                Err(error) => {
                    minds.push(format!("The readings are not fitted: {error}; {}.", error.hint()));
                    Vec::new()
                }
            }
        };
        let [to_95, to_99] = [0.95, 0.99].map(|degree| self.time_to(degree, fits.first()));
        let measure_after = self.measure_after(&to_99);
        self.mind(&mut minds, fits.first());
        let number = |of: &crate::impeller::Number, unit: &'static str, method: &'static str| {
            Outcome::new(of.value, unit, Grade::RuleOfThumb, method)
                .within(of.low, of.high, None)
                .source(of.source.clone())
        };
        GumReading {
            words: family.words.clone(),
            disperse: family.disperse.clone(),
            trigger: family.trigger.clone(),
            fish_eyes: family.fish_eyes.words(),
            shear: family.shear_note.clone(),
            wetting: family.wetting.as_ref().map_or_else(
                || Outcome::refuse("g/g", "polyol for each part of gum", "it is sifted into water"),
                |of| number(of, "g/g", "polyol for each part of gum"),
            ),
            wetting_given: self.gum_and_polyol_g.map(|(gum, polyol)| {
                Outcome::new(polyol / gum, "g/g", Grade::Computed, "polyol over gum, as given")
                    .proved_by("exact arithmetic")
            }),
            to_95,
            to_99,
            tip_speed: number(&family.tip_m_s, "m/s", "speed of the tip while it hydrates"),
            measure_after,
            growth: fits.iter().map(fitted).collect(),
            minds,
        }
    }

    fn time_to(&self, degree: f64, fit: Option<&Growth>) -> Outcome {
        let family = self.family;
        if let Some(fit) = fit {
            return match fit.time_to(degree) {
                Some((time, [low, high])) => Outcome::new(time, "min", Grade::Calibrated, fit.form.words())
                    .within(low.unwrap_or(f64::NAN), high.unwrap_or(f64::NAN), Some(0.95))
                    .by("t = t0 - tau ln(1 - x)")
                    .proved_by(CROSS),
                None => Outcome::refuse(
                    "min",
                    fit.form.words(),
                    "the viscosity grows with the logarithm of time and has no end in these readings: compare with the reading after 24 hours",
                ),
            };
        }
        let (grain, temperature) =
            (self.grain_um.unwrap_or(family.grain_um), self.temperature_c.unwrap_or(family.temperature_c));
        let [value, low, high] = family.minutes_for(grain, temperature);
        let constants = constants_to(degree);
        let mut outcome = Outcome::new(
            constants * value,
            "min",
            Grade::RuleOfThumb,
            "first order with the time constant of the family, shifted by size and temperature",
        )
        .within(constants * low, constants * high, None)
        .by("t = -tau ln(1 - x), tau ~ d^2")
        .valid_for("wetted grains without lumps; a wide span, to be narrowed by readings of your own")
        .proved_by(CROSS)
        .source(family.minutes.source.clone())
        .source("from-memory")
        .input("grain", grain, "um", None)
        .input("temperature", temperature, "deg C", None);
        if self.grain_um.is_none() || self.temperature_c.is_none() {
            outcome = outcome.note("assumed", "grain or temperature of reference was taken");
        }
        if family.form == Form::Logarithm {
            outcome = outcome.note(
                "logarithm",
                "flours of this gum grow with the logarithm of time: the last percent take longer than this",
            );
        }
        outcome
    }

    fn measure_after(&self, to_99: &Outcome) -> Outcome {
        let rule = self.family.measure_after_h;
        let hours = to_99.high.or(to_99.value).map_or(rule, |minutes| (minutes / 60.0).max(rule));
        Outcome::new(
            hours,
            "h",
            Grade::RuleOfThumb,
            "24 hours, or as long as 99 % may take if that is longer",
        )
        .source("common-practice")
        .note("not-before", "a viscosity that changes over 24 hours shows that hydration was not complete")
    }

    fn mind(&self, minds: &mut Vec<String>, fit: Option<&Growth>) {
        let family = self.family;
        if let (Some((gum, polyol)), Some(wetting)) = (self.gum_and_polyol_g, &family.wetting)
            && gum > 0.0
        {
            let ratio = polyol / gum;
            if ratio < wetting.low {
                minds.push(format!(
                    "{ratio:.1} parts of polyol for each part of gum are too few to wet it: take at least {:.0}, or blend the gum dry with another powder.",
                    wetting.low
                ));
            } else {
                minds.push(format!(
                    "{ratio:.1} parts of polyol for each part of gum wet it: {:.0} to {:.0} are usual.",
                    wetting.low, wetting.high
                ));
            }
        }
        if let (Some(tip), Some(limit)) = (self.tip_m_s, family.shear_tip_m_s)
            && tip > limit
        {
            minds.push(format!(
                "A tip speed of {tip:.1} m/s is above {limit:.1} m/s, where shear may harm it: {}",
                family.shear_note.as_deref().unwrap_or("stir more slowly.")
            ));
        }
        if let Some(reached) = fit.and_then(|fit| fit.reached).filter(|reached| *reached < 0.95) {
            minds
                .push(format!("The last reading had come {:.0} % of the way: read longer.", 100.0 * reached));
        }
        minds.push(
            "Lumps that have formed do not go, even with high shear: a lump ten times as wide as a grain takes a hundred times as long."
                .to_owned(),
        );
        minds.push(
            "Powder floats at first: a vortex or a high impeller draws it down; sift slowly, and do not breathe the dust."
                .to_owned(),
        );
    }
}

fn fitted(fit: &Growth) -> GrowthReading {
    let words = fit.form.words();
    let logarithm = fit.form == Form::Logarithm;
    let number =
        |value: f64, unit: &'static str| Outcome::new(value, unit, Grade::Calibrated, words).proved_by(CROSS);
    GrowthReading {
        form: fit.form,
        words,
        time_constant: if logarithm {
            Outcome::refuse("min", words, "this form has no time constant")
        } else {
            let [low, high] = fit.rate_limits;
            number(fit.rate, "min").within(low.unwrap_or(f64::NAN), high.unwrap_or(f64::NAN), Some(0.95))
        },
        end: if logarithm {
            Outcome::refuse("mPa s", words, "this form has no end")
        } else {
            number(fit.scale, "mPa s")
        },
        residual: number(100.0 * fit.root_mean_square, "%"),
        aicc: fit.aicc.map_or_else(
            || Outcome::refuse("", words, "too few readings to judge this form"),
            |aicc| number(aicc, ""),
        ),
    }
}
