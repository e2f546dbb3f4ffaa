//! What the names and units of columns mean: words of the bench in some languages, units with their factor to SI.
//!
//! Words and spellings are common practice, no source; units by their definitions (1 P = 0.1 Pa s, 1 dyn/cm2 = 0.1 Pa).

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

/// A label as compared: lower case, no accents, words parted by one space.
pub(super) fn plain_label(text: &str) -> String {
    let mut out = String::new();
    for sign in text.chars().flat_map(char::to_lowercase) {
        match sign {
            'ä' | 'á' | 'à' | 'â' | 'ã' => out.push('a'),
            'é' | 'è' | 'ê' | 'ë' => out.push('e'),
            'í' | 'ì' | 'î' | 'ï' => out.push('i'),
            'ó' | 'ò' | 'ô' | 'ö' | 'õ' => out.push('o'),
            'ú' | 'ù' | 'û' | 'ü' => out.push('u'),
            'ç' => out.push('c'),
            'ß' => out.push_str("ss"),
            // The dot of the rate over a letter.
            '\u{307}' => out.push_str("dot"),
            '\'' | '’' | '"' => out.push('\''),
            sign if sign.is_alphanumeric() || sign == '%' || sign == '*' => out.push(sign),
            _ => {
                if !out.is_empty() && !out.ends_with(' ') {
                    out.push(' ');
                }
            }
        }
    }
    out.trim_end().to_owned()
}

/// Whole labels.
const LABELS: &[(&str, Meaning)] = &[
    ("rate", Meaning::ShearRate),
    ("gammadot", Meaning::ShearRate),
    ("gamma dot", Meaning::ShearRate),
    ("γdot", Meaning::ShearRate),
    ("γ", Meaning::ShearRate),
    ("sr", Meaning::ShearRate),
    ("d", Meaning::ShearRate),
    ("stress", Meaning::Stress),
    ("tau", Meaning::Stress),
    ("τ", Meaning::Stress),
    ("sigma", Meaning::Stress),
    ("σ", Meaning::Stress),
    ("ss", Meaning::Stress),
    ("contrainte", Meaning::Stress),
    ("esfuerzo", Meaning::Stress),
    ("sforzo", Meaning::Stress),
    ("eta", Meaning::Viscosity),
    ("η", Meaning::Viscosity),
    ("visc", Meaning::Viscosity),
    ("speed", Meaning::Speed),
    ("rpm", Meaning::Speed),
    ("n", Meaning::Speed),
    ("torque %", Meaning::Reading),
    ("% torque", Meaning::Reading),
    ("%torque", Meaning::Reading),
    ("torque%", Meaning::Reading),
    ("%", Meaning::Reading),
    ("percent", Meaning::Reading),
    ("percent torque", Meaning::Reading),
    ("torque percent", Meaning::Reading),
    ("m", Meaning::Torque),
    ("t", Meaning::Time),
    ("temp", Meaning::Temperature),
    ("°c", Meaning::Temperature),
    ("ramp", Meaning::Direction),
    ("sweep", Meaning::Direction),
    ("up down", Meaning::Direction),
    ("richtung", Meaning::Direction),
    ("name", Meaning::Sample),
    ("series", Meaning::Sample),
    ("curve", Meaning::Sample),
    ("run", Meaning::Sample),
    ("batch", Meaning::Sample),
    ("lot", Meaning::Sample),
    ("id", Meaning::Sample),
];

/// Parts of labels, the more particular first.
const PARTS: &[(&str, Meaning)] = &[
    ("complex viscosity", Meaning::Unused),
    ("specific viscosity", Meaning::Unused),
    ("relative viscosity", Meaning::Unused),
    ("kinematic viscosity", Meaning::Unused),
    ("yield stress", Meaning::Unused),
    ("normal stress", Meaning::Unused),
    ("shear strain", Meaning::Unused),
    ("modulus", Meaning::Unused),
    ("standard deviation", Meaning::Unused),
    ("std", Meaning::Unused),
    ("error", Meaning::Unused),
    ("shear rate", Meaning::ShearRate),
    ("shearrate", Meaning::ShearRate),
    ("rate of shear", Meaning::ShearRate),
    ("strain rate", Meaning::ShearRate),
    ("scherrate", Meaning::ShearRate),
    ("schergeschwindigkeit", Meaning::ShearRate),
    ("schergefalle", Meaning::ShearRate),
    ("vitesse de cisaillement", Meaning::ShearRate),
    ("taux de cisaillement", Meaning::ShearRate),
    ("gradient de vitesse", Meaning::ShearRate),
    ("velocidad de cizall", Meaning::ShearRate),
    ("velocita di taglio", Meaning::ShearRate),
    ("gradiente di velocita", Meaning::ShearRate),
    ("shear stress", Meaning::Stress),
    ("shearstress", Meaning::Stress),
    ("schubspannung", Meaning::Stress),
    ("scherspannung", Meaning::Stress),
    ("contrainte de cisaillement", Meaning::Stress),
    ("esfuerzo cortante", Meaning::Stress),
    ("esfuerzo de corte", Meaning::Stress),
    ("sforzo di taglio", Meaning::Stress),
    ("dial viscosity", Meaning::DialViscosity),
    ("dial reading", Meaning::Reading),
    ("torque percent", Meaning::Reading),
    ("percent torque", Meaning::Reading),
    ("% of full", Meaning::Reading),
    ("viscosity", Meaning::Viscosity),
    ("viskositat", Meaning::Viscosity),
    ("viscosite", Meaning::Viscosity),
    ("viscosidad", Meaning::Viscosity),
    ("viscosita", Meaning::Viscosity),
    ("rotational speed", Meaning::Speed),
    ("spindle speed", Meaning::Speed),
    ("drehzahl", Meaning::Speed),
    ("vitesse de rotation", Meaning::Speed),
    ("velocidad de giro", Meaning::Speed),
    ("torque", Meaning::Torque),
    ("drehmoment", Meaning::Torque),
    ("couple", Meaning::Torque),
    ("temperatur", Meaning::Temperature),
    ("temperatura", Meaning::Temperature),
    ("elapsed", Meaning::Time),
    ("time", Meaning::Time),
    ("zeit", Meaning::Time),
    ("temps", Meaning::Time),
    ("tiempo", Meaning::Time),
    ("direction", Meaning::Direction),
    ("sample", Meaning::Sample),
    ("probe", Meaning::Sample),
    ("echantillon", Meaning::Sample),
    ("muestra", Meaning::Sample),
    ("campione", Meaning::Sample),
    ("repeat", Meaning::Sample),
    ("replicate", Meaning::Sample),
    ("measurement", Meaning::Sample),
    ("messung", Meaning::Sample),
];

/// What a label without its unit means, by its words.
pub(super) fn meaning_of(label: &str) -> Option<Meaning> {
    let label = plain_label(label);
    if let Some((_, meaning)) = LABELS.iter().find(|(name, _)| *name == label) {
        return Some(*meaning);
    }
    if label.chars().count() < 3 {
        return None;
    }
    PARTS.iter().find(|(part, _)| label.contains(part)).map(|(_, meaning)| *meaning)
}

/// A header cell parted into its label and its unit, where one stands in it.
pub(super) fn parted(cell: &str) -> (String, Option<String>) {
    let cell = cell.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}')] {
        if let (Some(from), Some(to)) = (cell.rfind(open), cell.rfind(close))
            && from < to
        {
            let inner = cell[from + open.len_utf8()..to].trim();
            if is_unit(inner) || (open == '[' && inner.chars().count() <= 12) {
                let label = format!("{} {}", &cell[..from], &cell[to + close.len_utf8()..]);
                return (label.trim().to_owned(), Some(inner.to_owned()));
            }
        }
    }
    // A unit at the end, behind a comma, a stroke, a space, "in" or an underline: the longest that is one.
    let marks: Vec<usize> = cell
        .char_indices()
        .filter(|(at, sign)| *at > 0 && matches!(sign, ',' | '/' | ' ' | '_' | '\n' | '\t' | ':'))
        .map(|(at, _)| at)
        .collect();
    let near = &marks[marks.len().saturating_sub(5)..];
    for at in near {
        let tail = cell[*at..].trim_start_matches([',', '/', ' ', '_', '\n', '\t', ':']);
        let label = cell[..*at].trim_end_matches([',', '/', ' ', '_', '\n', '\t', ':']);
        let label = label.strip_suffix(" in").unwrap_or(label);
        if label.is_empty() || tail.is_empty() {
            continue;
        }
        // `shear_rate_1_s`: names for programs write a stroke as an underline.
        let stroked = tail.replacen("1_", "1/", 1);
        let known = meaning_of(label);
        let fits = |text: &str| match known {
            Some(meaning) => meaning.unit(text).is_some(),
            None => false,
        };
        for text in [stroked.as_str(), tail] {
            if fits(text) {
                return (label.to_owned(), Some(text.to_owned()));
            }
        }
    }
    (cell.to_owned(), None)
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

    #[test]
    fn header_cells_are_parted() {
        for (cell, label, unit) in [
            ("Shear Rate [1/s]", "Shear Rate", Some("1/s")),
            ("Viscosity (cP)", "Viscosity", Some("cP")),
            ("shear_rate_1_s", "shear_rate", Some("1/s")),
            ("stress_Pa", "stress", Some("Pa")),
            ("Viskosität in mPa·s", "Viskosität", Some("mPa·s")),
            ("Schubspannung, Pa", "Schubspannung", Some("Pa")),
            ("Shear rate / s-1", "Shear rate", Some("s-1")),
            ("Shear stress\n[dyn/cm2]", "Shear stress", Some("dyn/cm2")),
            ("Torque (%)", "Torque", Some("%")),
            ("sample_id", "sample_id", None),
            ("Viscosity", "Viscosity", None),
        ] {
            assert_eq!(parted(cell), (label.to_owned(), unit.map(str::to_owned)), "{cell}");
        }
    }

    #[test]
    fn labels_mean_something_in_some_languages() {
        for (label, meaning) in [
            ("γ\u{307}", Meaning::ShearRate),
            ("Shear Rate", Meaning::ShearRate),
            ("Scherrate", Meaning::ShearRate),
            ("shear_rate", Meaning::ShearRate),
            ("Schubspannung", Meaning::Stress),
            ("τ", Meaning::Stress),
            ("Viscosité", Meaning::Viscosity),
            ("Drehzahl", Meaning::Speed),
            ("Torque %", Meaning::Reading),
            ("Complex viscosity", Meaning::Unused),
            ("Temperature", Meaning::Temperature),
            ("sample_id", Meaning::Sample),
        ] {
            assert_eq!(meaning_of(label), Some(meaning), "{label}");
        }
        assert_eq!(meaning_of("point"), None);
    }
}
