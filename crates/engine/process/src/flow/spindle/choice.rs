//! Which spindle a person means: the diameter of its disc, its number in the set, or only "a disc".
//!
//! What is said wins; what is not said is assumed and the assumption stands in the result. Words for other instruments (a cylinder, a
//! cone, a plate) and codes that are not understood choose nothing: no reading is better than that of another spindle.

use super::DiscSpindle;

/// Diameters this much apart, relative, are not the same disc, but the nearest is taken and said.
const NEAR: f64 = 0.15;

/// A spindle as understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice<'s> {
    /// The spindle.
    pub spindle: &'s DiscSpindle,
    /// Full-scale torque, N m.
    pub torque_n_m: f64,
    /// What was assumed, in sentences; empty where all was said.
    pub assumptions: Vec<String>,
}

/// The spindle meant by some words (`disc, 27 mm`; `spindle 3`; `disc`; a torque may stand in them: `disc, 27 mm, 700 uN.m`).
///
/// `assumed_torque_n_m` is taken where no torque is said. `target` is the speed (rpm) and the highest viscosity (Pa s) the reading must hold:
/// where the words name no spindle, the most sensitive one that still holds it is taken. `None` where the words are not understood.
#[must_use]
pub fn chosen<'s>(
    words: &str,
    spindles: impl IntoIterator<Item = &'s DiscSpindle>,
    assumed_torque_n_m: f64,
    target: Option<(f64, f64)>,
) -> Option<Choice<'s>> {
    let mut spindles: Vec<&DiscSpindle> = spindles.into_iter().collect();
    spindles.sort_by(|a, b| a.full_scale_pa_s_rpm.total_cmp(&b.full_scale_pa_s_rpm));
    let by_key = spindles.iter().find(|spindle| spindle.key == words.trim());
    let said = if by_key.is_some() { Said::default() } else { Said::read(words)? };
    let mut assumptions = Vec::new();
    let torque_n_m = said.torque_n_m.unwrap_or_else(|| {
        assumptions.push(format!(
            "a full-scale torque of {:.0} uN m is assumed; enter the one of the instrument",
            assumed_torque_n_m * 1e6
        ));
        assumed_torque_n_m
    });
    let spindle = if let Some(by_key) = by_key {
        by_key
    } else if let Some(diameter) = said.diameter_mm {
        let apart = |spindle: &DiscSpindle| (spindle.diameter_mm / diameter - 1.0).abs();
        let nearest = spindles.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)))?;
        if apart(nearest) > NEAR {
            return None;
        }
        if apart(nearest) > 0.02 {
            assumptions.push(format!(
                "the nearest spindle known is taken: {} instead of {diameter} mm",
                nearest.words()
            ));
        }
        nearest
    } else if let Some(number) = said.number {
        let numbered = spindles.iter().find(|spindle| spindle.number == Some(number))?;
        assumptions
            .push(format!("spindle {number} is taken as the one of the set of seven: {}", numbered.words()));
        numbered
    } else {
        let (rpm, highest) = target?;
        let holds = spindles.iter().find(|spindle| spindle.full_scale(rpm, torque_n_m) >= highest)?;
        assumptions
            .push(format!("the size is not said: {} holds the viscosity wanted at {rpm} rpm", holds.words()));
        holds
    };
    Some(Choice { spindle, torque_n_m, assumptions })
}

/// What the words say.
#[derive(Default)]
struct Said {
    diameter_mm: Option<f64>,
    number: Option<u8>,
    torque_n_m: Option<f64>,
}

impl Said {
    fn read(words: &str) -> Option<Self> {
        const KNOWN: [&str; 12] =
            ["disc", "disk", "discs", "spindle", "rod", "no", "nr", "number", "size", "torque", "with", "at"];
        let spaced = words.to_lowercase().replace(['\u{b5}', '\u{3bc}'], "u").replace(['\u{b7}', '*'], ".");
        let mut said = Self::default();
        let mut value: Option<f64> = None;
        for token in split(&spaced) {
            if let Ok(number) = token.parse::<f64>() {
                said.loose(value.replace(number))?;
                continue;
            }
            match (value, token.as_str()) {
                (Some(number), "mm") if number > 0.0 => said.diameter_mm = Some(number),
                (Some(number), "un.m" | "unm" | "un m") => said.torque_n_m = Some(number * 1e-6),
                (Some(number), "mn.m" | "mnm") => said.torque_n_m = Some(number * 1e-3),
                (Some(_), "rpm" | "1/min" | "c" | "h") => {}
                (loose, word) if KNOWN.contains(&word) => said.loose(loose)?,
                _ => return None,
            }
            value = None;
        }
        said.loose(value)?;
        // A torque of nothing turns no spindle.
        said.torque_n_m.is_none_or(|torque| torque > 0.0).then_some(said)
    }

    /// A number without a unit is that of the spindle.
    fn loose(&mut self, number: Option<f64>) -> Option<()> {
        let Some(number) = number else { return Some(()) };
        let whole = (1.0..=99.0).contains(&number) && number.fract() == 0.0;
        if !whole || self.number.is_some() {
            return None;
        }
        self.number = Some(number as u8);
        Some(())
    }
}

/// Words and numbers, numbers apart from the unit that clings to them (`27mm`); codes of letters and figures stay whole.
fn split(text: &str) -> Vec<String> {
    let mut tokens = Vec::new();
    for part in text.split(|letter: char| letter.is_whitespace() || ",;:()#".contains(letter)) {
        let part = part.trim_end_matches('.');
        let end = part.find(|letter: char| !(letter.is_ascii_digit() || letter == '.')).unwrap_or(part.len());
        let (number, unit) = part.split_at(end);
        tokens.extend([number, unit].into_iter().filter(|token| !token.is_empty()).map(str::to_owned));
    }
    tokens
}

#[cfg(test)]
mod tests {
    use super::*;

    const TORQUE: f64 = 7.187e-4;

    fn set() -> Vec<DiscSpindle> {
        [("disc-47", 2, 46.93, 40.0), ("disc-35", 3, 34.69, 100.0), ("disc-27", 4, 27.3, 200.0)]
            .map(|(key, number, diameter_mm, full_scale_pa_s_rpm)| DiscSpindle {
                key: key.to_owned(),
                number: Some(number),
                diameter_mm,
                thickness_mm: 1.65,
                dimensions_source: "from-memory".to_owned(),
                stress_pa_per_percent: 0.3,
                rate_per_rpm: [0.3; 10],
                full_scale_pa_s_rpm,
                reference_torque_n_m: TORQUE,
                source: "from-memory".to_owned(),
            })
            .to_vec()
    }

    fn key(words: &str) -> Option<(String, f64, usize)> {
        let set = set();
        chosen(words, &set, TORQUE, Some((20.0, 8.0)))
            .map(|choice| (choice.spindle.key.clone(), choice.torque_n_m, choice.assumptions.len()))
    }

    #[test]
    fn what_is_said_wins_and_the_rest_is_assumed_aloud() {
        let is = |key: &str, torque: f64, assumed: usize| Some((key.to_owned(), torque, assumed));
        assert_eq!(key("disc, 27.3 mm, 67.4 uN.m"), is("disc-27", 67.4 * 1e-6, 0));
        assert_eq!(key("disc-35"), is("disc-35", TORQUE, 1));
        assert_eq!(key("disc, 35mm"), is("disc-35", TORQUE, 1));
        assert_eq!(key("disc, 30 mm"), is("disc-27", TORQUE, 2));
        assert_eq!(key("Spindle 3"), is("disc-35", TORQUE, 2));
        assert_eq!(key("disc no. 2, 20 rpm"), is("disc-47", TORQUE, 2));
        // 8 Pa s at 20 rpm: 40 / 20 and 100 / 20 do not hold it.
        assert_eq!(key("disc"), is("disc-27", TORQUE, 2));
        assert_eq!(key(""), is("disc-27", TORQUE, 2));
    }

    #[test]
    fn what_is_not_understood_chooses_nothing() {
        for words in [
            "bob",
            "coaxial cylinder",
            "xy3",
            "disc, 80 mm",
            "spindle 9",
            "spindle 3 4",
            "disc, 0 uN.m",
            "disc 2.5",
        ] {
            assert_eq!(key(words), None, "{words}");
        }
        assert_eq!(chosen("disc", &set(), TORQUE, None), None);
    }
}
