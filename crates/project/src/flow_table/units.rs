//! What columns hold, and the units each quantity is written in, with their factor to SI.
//!
//! Spellings are common practice, no source; units by their definitions (1 P = 0.1 Pa s, 1 dyn/cm2 = 0.1 Pa).

use serde::{Deserialize, Serialize};

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Meaning {
    /// Shear rate.
    ShearRate,
    /// Shear stress.
    Stress,
    /// Viscosity: stress over shear rate.
    Viscosity,
    /// Speed of a spindle.
    Speed,
    /// Percent of full torque.
    Reading,
    /// Viscosity a spindle instrument shows.
    DialViscosity,
    /// Torque.
    Torque,
    /// Temperature.
    Temperature,
    /// Time.
    Time,
    /// Up or down.
    Direction,
    /// Name of the sample, series or repeat.
    Sample,
    /// Not used.
    Unused,
}

impl Meaning {
    /// All meanings.
    pub const ALL: [Self; 12] = [
        Self::ShearRate,
        Self::Stress,
        Self::Viscosity,
        Self::Speed,
        Self::Reading,
        Self::DialViscosity,
        Self::Torque,
        Self::Temperature,
        Self::Time,
        Self::Direction,
        Self::Sample,
        Self::Unused,
    ];

    /// The word it is written with.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::ShearRate => "shear-rate",
            Self::Stress => "stress",
            Self::Viscosity => "viscosity",
            Self::Speed => "speed",
            Self::Reading => "reading",
            Self::DialViscosity => "dial-viscosity",
            Self::Torque => "torque",
            Self::Temperature => "temperature",
            Self::Time => "time",
            Self::Direction => "direction",
            Self::Sample => "sample",
            Self::Unused => "unused",
        }
    }

    /// Its name for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::ShearRate => "shear rate",
            Self::Stress => "shear stress",
            Self::Viscosity => "viscosity",
            Self::Speed => "speed",
            Self::Reading => "percent of full torque",
            Self::DialViscosity => "dial viscosity",
            Self::Torque => "torque",
            Self::Temperature => "temperature",
            Self::Time => "time",
            Self::Direction => "direction",
            Self::Sample => "sample",
            Self::Unused => "not used",
        }
    }

    /// The meaning of a word of [`Meaning::word`].
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|meaning| meaning.word() == word.trim())
    }

    /// The units it can have, the one of SI (or of the bench) first.
    #[must_use]
    pub fn units(self) -> &'static [Unit] {
        const RATE: &[Unit] = &[
            unit("1/s", 1.0, &["1/s", "s-1", "/s", "1/sec", "sec-1", "persecond", "reciprocalseconds"]),
            unit("1/min", 1.0 / 60.0, &["1/min", "min-1", "/min"]),
        ];
        const STRESS: &[Unit] = &[
            unit("Pa", 1.0, &["Pa", "N/m2", "Nm-2", "pascal"]),
            unit("mPa", 1e-3, &["mPa"]),
            unit("kPa", 1e3, &["kPa"]),
            unit("MPa", 1e6, &["MPa"]),
            unit("dyn/cm2", 0.1, &["dyn/cm2", "dyne/cm2", "dynes/cm2", "dyncm-2", "dynecm-2", "D/cm2"]),
        ];
        const VISCOSITY: &[Unit] = &[
            unit("Pa s", 1.0, &["Pas", "Pasec", "Ns/m2", "Nsm-2", "pascalsecond", "pascalseconds"]),
            unit("mPa s", 1e-3, &["mPas", "mPasec", "mNs/m2", "millipascalseconds"]),
            unit("cP", 1e-3, &["cP", "cps", "cPs", "centipoise", "cPoise"]),
            unit("P", 0.1, &["P", "Poise", "dyns/cm2", "dynes/cm2s", "g/cms"]),
            unit("uPa s", 1e-6, &["uPas"]),
            unit("kPa s", 1e3, &["kPas"]),
            unit("MPa s", 1e6, &["MPas"]),
        ];
        const SPEED: &[Unit] = &[
            unit(
                "rpm",
                1.0,
                &["rpm", "1/min", "min-1", "U/min", "rev/min", "r/min", "tr/min", "/min", "giri/min"],
            ),
            unit("1/s", 60.0, &["1/s", "s-1", "rev/s", "rps", "/s", "Hz"]),
            unit("rad/s", 60.0 / core::f64::consts::TAU, &["rad/s", "rads-1"]),
        ];
        const READING: &[Unit] = &[unit("%", 1.0, &["%", "percent", "pct", "%FS", "%FSR"])];
        const TORQUE: &[Unit] = &[
            unit("N m", 1.0, &["Nm"]),
            unit("mN m", 1e-3, &["mNm"]),
            unit("uN m", 1e-6, &["uNm"]),
            unit("nN m", 1e-9, &["nNm"]),
            unit("dyn cm", 1e-7, &["dyncm", "dynecm", "dynescm"]),
        ];
        const TEMPERATURE: &[Unit] = &[
            unit("C", 1.0, &["C", "°C", "degC", "ºC", "celsius", "℃", "GradC"]),
            Unit { symbol: "K", factor: 1.0, offset: -273.15, names: &["K", "kelvin"] },
            Unit {
                symbol: "F",
                factor: 5.0 / 9.0,
                offset: -160.0 / 9.0,
                names: &["F", "°F", "degF", "ºF", "fahrenheit", "℉"],
            },
        ];
        const TIME: &[Unit] = &[
            unit("s", 1.0, &["s", "sec", "seconds", "second", "Sek"]),
            unit("ms", 1e-3, &["ms"]),
            unit("min", 60.0, &["min", "minutes", "minute", "mins"]),
            unit("h", 3600.0, &["h", "hours", "hour", "hr", "hrs"]),
        ];
        match self {
            Self::ShearRate => RATE,
            Self::Stress => STRESS,
            Self::Viscosity | Self::DialViscosity => VISCOSITY,
            Self::Speed => SPEED,
            Self::Reading => READING,
            Self::Torque => TORQUE,
            Self::Temperature => TEMPERATURE,
            Self::Time => TIME,
            Self::Direction | Self::Sample | Self::Unused => &[],
        }
    }

    /// The unit of a text, and whether it is written as it should be; a unit in the wrong case is doubtful where case matters.
    pub(super) fn unit(self, text: &str) -> Option<(&'static Unit, bool)> {
        let plain = plain_unit(text);
        let exact = self.units().iter().find(|unit| unit.names.contains(&plain.as_str()));
        if let Some(unit) = exact {
            return Some((unit, true));
        }
        let mut alike = self
            .units()
            .iter()
            .filter(|unit| unit.names.iter().any(|name| name.eq_ignore_ascii_case(&plain)));
        let first = alike.next()?;
        Some((first, alike.next().is_none()))
    }
}

/// A unit and what turns a value in it into SI (rpm for speeds, C for temperatures, percent for readings).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// How it is written here.
    pub symbol: &'static str,
    /// Factor.
    pub factor: f64,
    /// Added after the factor.
    pub offset: f64,
    names: &'static [&'static str],
}

impl Unit {
    /// A value in this unit in SI.
    #[must_use]
    pub fn si(&self, value: f64) -> f64 {
        value * self.factor + self.offset
    }
}

const fn unit(symbol: &'static str, factor: f64, names: &'static [&'static str]) -> Unit {
    Unit { symbol, factor, offset: 0.0, names }
}

/// A unit without what people write in many ways: brackets, spaces, dots between factors, carets, raised digits.
fn plain_unit(text: &str) -> String {
    let mut plain = String::new();
    for sign in text.chars() {
        match sign {
            '[' | ']' | '(' | ')' | '{' | '}' | '.' | '·' | '•' | '⋅' | '∙' | '*' | '×' | '^' | '_' =>
                {}
            'µ' | 'μ' => plain.push('u'),
            '²' => plain.push('2'),
            '¹' => plain.push('1'),
            '⁻' | '\u{2212}' | '–' => plain.push('-'),
            '\u{2044}' | '\u{2215}' => plain.push('/'),
            sign if sign.is_whitespace() => {}
            sign => plain.push(sign),
        }
    }
    // A hyphen joins factors unless it makes a negative power.
    let mut out = String::new();
    let signs: Vec<char> = plain.chars().collect();
    for (at, sign) in signs.iter().enumerate() {
        if *sign != '-' || signs.get(at + 1).is_some_and(char::is_ascii_digit) {
            out.push(*sign);
        }
    }
    out
}

/// Whether a text is a unit of anything.
pub(super) fn is_unit(text: &str) -> bool {
    let text = text.trim();
    !text.is_empty()
        && text.chars().count() <= 24
        && (is_no_unit(text) || Meaning::ALL.iter().any(|meaning| meaning.unit(text).is_some()))
}

/// Whether a text says that there is no unit.
pub(super) fn is_no_unit(text: &str) -> bool {
    matches!(text.trim(), "[]" | "()" | "[-]" | "(-)" | "-" | "[1]" | "–")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_are_known_however_they_are_written() {
        let symbol =
            |meaning: Meaning, text: &str| meaning.unit(text).map(|(unit, sure)| (unit.symbol, sure));
        for text in ["1/s", "s^-1", "s-1", "s⁻¹", "[1/s]", "(s^(-1))", "1 / s"] {
            assert_eq!(symbol(Meaning::ShearRate, text), Some(("1/s", true)), "{text}");
        }
        for text in ["mPa.s", "mPa·s", "mPas", "mPa*s", "[mPa s]", "mPa-s", "mPa⋅s"] {
            assert_eq!(symbol(Meaning::Viscosity, text), Some(("mPa s", true)), "{text}");
        }
        for text in ["cP", "cps", "CP", "centipoise"] {
            assert_eq!(symbol(Meaning::Viscosity, text), Some(("cP", true)), "{text}");
        }
        assert_eq!(symbol(Meaning::Viscosity, "P"), Some(("P", true)));
        assert_eq!(symbol(Meaning::Viscosity, "MPas"), Some(("MPa s", true)));
        assert_eq!(symbol(Meaning::Viscosity, "MPAS"), Some(("mPa s", false)));
        assert_eq!(symbol(Meaning::Stress, "dyn/cm²"), Some(("dyn/cm2", true)));
        assert_eq!(symbol(Meaning::Stress, "D/cm²"), Some(("dyn/cm2", true)));
        assert_eq!(symbol(Meaning::Torque, "µN·m"), Some(("uN m", true)));
        assert_eq!(symbol(Meaning::Temperature, "°C"), Some(("C", true)));
        assert_eq!(symbol(Meaning::Stress, "Pa s"), None);
    }

    #[test]
    fn kelvin_and_fahrenheit_become_celsius() {
        let si = |text: &str, value: f64| Meaning::Temperature.unit(text).unwrap().0.si(value);
        assert!((si("K", 298.15) - 25.0).abs() < 1e-9);
        assert!((si("F", 77.0) - 25.0).abs() < 1e-9);
    }
}
