//! What the names of columns mean: words of the bench in some languages. Common practice, no source.

use super::units::{Meaning, is_unit};

/// A label as compared: lower case, no accents, words parted by one space.
pub(crate) fn plain_label(text: &str) -> String {
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
