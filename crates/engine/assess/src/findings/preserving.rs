//! Findings about preservation: asleep at the edge of the window, groups without cover, no window in common.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::preserving::{GROUPS, PreservationReading};
use crate::reading::LineReading;
use levigate_formula::preservation::Overlap;

/// A weak acid with less than this in its working form, % w/w of the product, is called asleep (common practice: working figures of
/// 0.1 to 0.15 % are quoted by experts as hearsay; this line is far below them).
const ASLEEP_PERCENT: f64 = 0.03;

/// Findings about preservation.
pub(crate) fn findings(
    reading: &PreservationReading,
    windows: &Overlap,
    sheet_lines: &[LineReading],
) -> Vec<Finding> {
    let mut found = Vec::new();
    found.extend(asleep(reading));
    found.extend(cover(reading));
    found.extend(no_window(windows, sheet_lines));
    if let Some(at) = reading.at.first() {
        for preservative in &at.preservatives {
            if !preservative.binders.is_empty() {
                found.push(
                    Finding::new(
                        "may-be-bound",
                        Gravity::Check,
                        Concerns::lines(&[preservative.lines.as_slice(), preservative.binders.as_slice()].concat()),
                        format!(
                            "{} may be bound by line {}; how much is not on file.",
                            preservative.name,
                            preservative.binders.iter().map(|line| (line + 1).to_string()).collect::<Vec<_>>().join(", ")
                        ),
                        "Let the challenge test be made on the finished formula; less surfactant or polymer leaves more free.",
                    )
                    .rule("binding by surfactants, from the facts of the preservative")
                    .source(preservative.inactivation.as_ref().map_or("", |words| words.source.as_str())),
                );
            }
        }
    }
    found.push(
        Finding::new(
            "challenge-test-required",
            Gravity::Check,
            Concerns::Product,
            if reading.at.iter().all(|at| at.preservatives.is_empty()) {
                "No preservative on file is in the formula. A calculation cannot show that a product is preserved."
            } else {
                "A calculation cannot show that a product is preserved; a MIC ranks and never passes."
            },
            "Have a challenge test made in a competent laboratory at the worst pH of the window, on an aged sample too.",
        )
        .rule("ISO 11930 or a pharmacopoeia method, by a laboratory"),
    );
    found
}

fn asleep(reading: &PreservationReading) -> Vec<Finding> {
    // The worst edge counts: a product may drift anywhere in its window.
    let mut worst: Vec<(&levigate_formula::preservation::PreservativeReading, f64)> = Vec::new();
    for at in &reading.at {
        for preservative in &at.preservatives {
            let share = preservative.share.value.unwrap_or(1.0);
            match worst.iter_mut().find(|(known, _)| known.substance == preservative.substance) {
                Some(entry) if share < entry.0.share.value.unwrap_or(1.0) => *entry = (preservative, at.ph),
                Some(_) => {}
                None => worst.push((preservative, at.ph)),
            }
        }
    }
    let mut found = Vec::new();
    for (preservative, ph) in worst {
        let (Some(share), Some(working)) = (preservative.share.value, preservative.working.value) else {
            continue;
        };
        if share >= 0.999 {
            continue;
        }
        let total = preservative.total.value.unwrap_or(0.0);
        let outside = preservative.window.as_ref().is_some_and(|window| !window.inside);
        let (code, gravity) = if working < ASLEEP_PERCENT || share < 0.1 {
            ("preservative-asleep", Gravity::Change)
        } else if outside {
            ("preservative-outside-its-window", Gravity::Change)
        } else {
            ("preservative-share", Gravity::Know)
        };
        let window = preservative
            .window
            .as_ref()
            .map(|window| format!(" It is used at pH {} to {}.", window.low, window.high))
            .unwrap_or_default();
        let change = match code {
            "preservative-share" => {
                "Keep the finished pH at least 0.3 below the top of its window; drift goes upwards too."
                    .to_owned()
            }
            _ => format!(
                "Lower the top of the pH window, or use a preservative that works at pH {}.{window}",
                digits(ph)
            ),
        };
        found.push(
            Finding::new(
                code,
                gravity,
                Concerns::lines(&preservative.lines),
                format!(
                    "At pH {}, {} % of the {} is undissociated: {} % of the product, out of {} % (as acid).",
                    digits(ph),
                    digits(share * 100.0),
                    preservative.acts_as_name,
                    digits(working),
                    digits(total)
                ),
                change,
            )
            .rule("undissociated share from the equilibrium, at the worst pH of the window")
            .source(preservative.window.as_ref().map_or("", |window| window.source.as_str()))
            .number("pH", ph, "")
            .number("undissociated", working, "% w/w")
            .number("share", share * 100.0, "%"),
        );
    }
    found
}

fn cover(reading: &PreservationReading) -> Option<Finding> {
    if reading.at.iter().all(|at| at.preservatives.is_empty()) {
        return Some(
            Finding::new(
                "no-preservative",
                Gravity::Change,
                Concerns::Product,
                "No substance on file as a preservative is in the formula.",
                "Choose a preservation for the pH of the product, or show another hurdle (water activity, alcohol, pack).",
            )
            .rule("preservatives on file"),
        );
    }
    let gaps: Vec<String> = GROUPS
        .iter()
        .filter(|group| !matches!(reading.coverage.get(**group).map(String::as_str), Some("good" | "fair")))
        .map(|group| {
            format!(
                "{} ({})",
                group.replace('-', " "),
                reading.coverage.get(*group).map_or("", String::as_str)
            )
        })
        .collect();
    let nothing_known = GROUPS
        .iter()
        .all(|group| matches!(reading.coverage.get(*group).map(String::as_str), None | Some("not known")));
    (!gaps.is_empty()).then(|| {
        let lines: Vec<usize> = reading
            .at
            .first()
            .map(|at| at.preservatives.iter().flat_map(|one| one.lines.iter().copied()).collect())
            .unwrap_or_default();
        let (found, change) = if nothing_known {
            (
                "At the top of the pH window no preservative with a published spectrum stands inside its own window: no group of microbes is covered.".to_owned(),
                "Lower the pH, or take a preservative that works there; the challenge test decides.",
            )
        } else {
            (
                format!("At the pH of the window the published spectrum leaves a gap: {}.", gaps.join(", ")),
                "Add a partner for that group, or a booster with data; the challenge test decides.",
            )
        };
        Finding::new(
            "coverage-gap",
            Gravity::Check,
            Concerns::lines(&lines),
            found,
            change,
        )
        .rule("published spectrum of the preservatives inside their pH window")
    })
}

fn no_window(windows: &Overlap, sheet_lines: &[LineReading]) -> Option<Finding> {
    if windows.shared.is_some() || windows.windows.len() < 2 {
        return None;
    }
    let ways: Vec<String> = windows
        .removals
        .iter()
        .take(4)
        .map(|removal| {
            let mut names: Vec<&str> = Vec::new();
            for name in &removal.names {
                if !names.iter().any(|known| known.eq_ignore_ascii_case(name)) {
                    names.push(name);
                }
            }
            format!("{} (opens pH {} to {})", names.join(" and "), digits(removal.low), digits(removal.high))
        })
        .collect();
    let mut lines: Vec<usize> =
        windows.removals.iter().flat_map(|removal| removal.lines.iter().copied()).collect();
    lines.sort_unstable();
    lines.dedup();
    // The window of a chelant is that of its grip on calcium; the metals that spoil a product are held far below it.
    let chelant = |line: &usize| {
        sheet_lines.get(*line).is_some_and(|line| line.functions.iter().any(|function| function == "chelant"))
    };
    let only_a_chelant = !lines.is_empty() && lines.iter().all(chelant);
    let mut change = if ways.is_empty() {
        "No single change opens a window; change more than one.".to_owned()
    } else {
        format!("Change one of: {}.", ways.join("; "))
    };
    if only_a_chelant {
        change.push_str(" Or keep it: outside its window it lets calcium go, while iron and copper may still be held; see the metals.");
    }
    Some(
        Finding::new(
            "no-shared-ph",
            if only_a_chelant { Gravity::Check } else { Gravity::Change },
            if lines.is_empty() { Concerns::target("ph") } else { Concerns::lines(&lines) },
            "The pH windows of target, preservatives, thickeners, chelants and actives have nothing in common.",
            change,
        )
        .rule("highest lower end against lowest upper end of the windows on file"),
    )
}
