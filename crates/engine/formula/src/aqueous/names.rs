//! Names of components and species: the charge is the suffix, and spelling is forgiven in capitals only.

/// Charge number written at the end of a name: `Ca+2` is 2, `EDTA-4` is -4, `HCO3-` is -1, `Tris` is 0.
///
/// Only the last sign counts and only digits may follow it, so that hyphens inside a name do no harm.
#[must_use]
pub fn charge_of_name(name: &str) -> i32 {
    let digits = name.len() - name.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (head, tail) = name.split_at(name.len() - digits);
    let sign = match head.chars().last() {
        Some('+') => 1,
        Some('-') => -1,
        _ => return 0,
    };
    if tail.is_empty() {
        // `++` and `--` are read as written.
        let run = head.len() - head.trim_end_matches(['+', '-']).len();
        return sign * i32::try_from(run).unwrap_or(1);
    }
    match tail.parse::<i32>() {
        Ok(size) if size <= 20 => sign * size,
        _ => 0,
    }
}

/// Folds a name for comparison: lower case, no blanks, `+1` and `-1` written as the bare sign.
#[must_use]
pub fn folded(name: &str) -> String {
    let mut text: String = name.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_lowercase).collect();
    if text.ends_with("+1") || text.ends_with("-1") {
        text.pop();
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charges_are_read_from_the_suffix() {
        for (name, charge) in [
            ("Ca+2", 2),
            ("H+", 1),
            ("EDTA-4", -4),
            ("CaH(EDTA)-", -1),
            ("Tris", 0),
            ("H2CO3", 0),
            ("CO3-2", -2),
            ("Fe(OH)2+", 1),
            ("ML2", 0),
            ("4-hydroxybenzoate-", -1),
            ("", 0),
        ] {
            assert_eq!(charge_of_name(name), charge, "{name}");
        }
    }

    #[test]
    fn names_fold_capitals_and_unit_charges() {
        assert_eq!(folded("Edta-4"), folded("EDTA-4"));
        assert_eq!(folded("Na+1"), folded("Na+"));
    }
}
