//! CAS numbers prove themselves.
//!
//! Equation: the last digit is the sum of the others, each times its position counted from the right, modulo 10.
//! Source: the rule is published with the registry numbers; water, 7732-18-5, is its usual example.

/// Digit that a CAS number must end in and the digit it ends in, or none when it is not written as a CAS number.
#[must_use]
pub fn check_digit(number: &str) -> Option<(u32, u32)> {
    let parts: Vec<&str> = number.split('-').collect();
    let [first, second, last] = parts.as_slice() else { return None };
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !(2..=7).contains(&first.len()) || second.len() != 2 || last.len() != 1 || first.starts_with('0') {
        return None;
    }
    if ![first, second, last].iter().all(|part| digits(part)) {
        return None;
    }
    let sum: u32 = first
        .chars()
        .chain(second.chars())
        .rev()
        .zip(1..)
        .map(|(digit, position): (char, u32)| digit.to_digit(10).unwrap_or(0) * position)
        .sum();
    Some((sum % 10, last.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::check_digit;

    #[test]
    fn known_numbers_hold() {
        for (number, digit) in [("7732-18-5", 5), ("107-07-3", 3), ("50-00-0", 0), ("10043-52-4", 4)] {
            assert_eq!(check_digit(number), Some((digit, digit)), "{number}");
        }
        assert_eq!(check_digit("7732-18-4"), Some((5, 4)));
        for number in ["7732185", "7732-18-", "a732-18-5", "07-18-5", "12345678-12-1", "7732-18-55"] {
            assert_eq!(check_digit(number), None, "{number}");
        }
    }
}
