//! Findings from the written rules.

use super::digits;
use crate::finding::{Concerns, Finding, Gravity};
use crate::verdicts::Verdicts;
use levigate_rules::allergens::Naming;
use levigate_rules::book::Status;
use levigate_rules::incompatibility::Severity;
use levigate_rules::limits::{LimitReading, Verdict};
use levigate_rules::microbial::MicrobialReading;

/// Everything the rules object to or ask for.
pub(crate) fn findings(verdicts: &Verdicts) -> Vec<Finding> {
    let mut found: Vec<Finding> = verdicts.limits.iter().filter_map(limit).collect();
    found.extend(markets(verdicts));
    found.extend(verdicts.microbial.as_ref().and_then(microbes));
    for unlisted in &verdicts.unlisted {
        found.push(
            Finding::new(
                "not-a-listed-preservative",
                Gravity::Know,
                Concerns::lines(&unlisted.lines),
                format!("{} ({} %): {}", unlisted.name, digits(unlisted.amount.percent), unlisted.text),
                "Do not count it as a preservative of the list; the challenge test decides what it adds.",
            )
            .rule("list of permitted preservatives")
            .source(&unlisted.source),
        );
    }
    allergens(verdicts, &mut found);
    for certificate in verdicts.certificates.iter() {
        let amount = certificate.amount.value.unwrap_or(0.0);
        match (certificate.exceeds, certificate.maximum_percent) {
            (Some(true), Some(maximum)) => found.push(
                Finding::new(
                    "above-certificate",
                    Gravity::Stop,
                    Concerns::lines(&certificate.lines),
                    format!(
                        "{}: {} % is above the {} % of its certificate.",
                        certificate.name,
                        digits(amount),
                        digits(maximum)
                    ),
                    format!("Use at most {} %, or ask for another fragrance.", digits(maximum)),
                )
                .rule("use limit on the fragrance certificate, as entered")
                .number("amount", amount, "%")
                .number("limit", maximum, "%"),
            ),
            (None, _) if certificate.category.is_none() => found.push(
                Finding::new(
                    "certificate-missing",
                    Gravity::Check,
                    Concerns::lines(&certificate.lines),
                    format!("{}: no certificate with a use limit is on file.", certificate.name),
                    "Ask the supplier for the certificate and enter the limit of the category.",
                )
                .rule("use limit on the fragrance certificate, as entered"),
            ),
            _ => {}
        }
    }
    for pair in &verdicts.pairs {
        let gravity = match pair.severity {
            Severity::Stop => Gravity::Stop,
            Severity::Serious => Gravity::Change,
            Severity::Watch => Gravity::Check,
        };
        let names = |side: &[levigate_rules::incompatibility::SideItem]| {
            let mut names: Vec<&str> = side.iter().map(|item| item.name.as_str()).collect();
            names.dedup();
            names.join(", ")
        };
        // A pure number means nothing without what it is; that both are there is said anyway.
        let size = match (pair.size.value, pair.size.unit.as_ref()) {
            (Some(value), "") if pair.size.equation.is_some() => {
                format!(" ({}: {})", pair.size.method, digits(value))
            }
            (None, _) | (Some(_), "") => String::new(),
            (Some(value), unit) => format!(" ({} {unit})", digits(value)),
        };
        let between = if pair.second.is_empty() {
            names(&pair.first)
        } else {
            format!("{} with {}", names(&pair.first), names(&pair.second))
        };
        let mut finding = Finding::new(
            "does-not-go-together",
            gravity,
            Concerns::lines(&pair.lines),
            format!("{}: {between}{size}. {}", pair.title, pair.why),
            pair.change.clone(),
        )
        .rule(format!("incompatibility \"{}\"", pair.key));
        for source in &pair.size.sources {
            finding = finding.source(source);
        }
        if let Some(value) = pair.size.value {
            finding = finding.number(&pair.size.method, value, pair.size.unit.clone());
        }
        found.push(finding);
    }
    found
}

/// From this share of the limit on, what the water brings is worth a finding; from the second on it must change (common practice).
const WATER_WORTH_A_WORD: f64 = 0.1;
const WATER_LEAVES_NO_MARGIN: f64 = 0.5;

/// What the water brings of the microbes the product may hold; the strict classes are named even where no count is given.
fn microbes(reading: &MicrobialReading) -> Option<Finding> {
    let most = reading.most.value?;
    let class = format!(
        "At most {} CFU/g and none of {}: {}",
        digits(most),
        reading.absent.join(", "),
        reading.class
    );
    let counted = reading.from_water.as_ref().and_then(|outcome| outcome.value);
    let finding = match counted {
        Some(count) if count >= WATER_WORTH_A_WORD * most => Finding::new(
            "water-brings-microbes",
            if count >= WATER_LEAVES_NO_MARGIN * most { Gravity::Change } else { Gravity::Check },
            Concerns::lines(&reading.water_lines),
            format!("The water alone brings {} CFU/g. {class}.", digits(count)),
            format!(
                "Use water of at most {} CFU/mL, free of pseudomonads, and count it on the day; the preservative is for what comes later.",
                digits(WATER_WORTH_A_WORD * most)
            ),
        )
        .number("from the water", count, "CFU/g"),
        _ if reading.strict => Finding::new(
            "strict-microbial-class",
            Gravity::Know,
            Concerns::Product,
            format!("{class}."),
            "Hold water, raw materials and pack to it, and judge the challenge test by the stricter criterion.",
        ),
        _ => return None,
    };
    let finding = reading.most.sources.iter().fold(finding, |finding, source| finding.source(source));
    Some(
        finding
            .rule("microbial limits of finished products, a standard and not law")
            .number("limit", most, "CFU/g"),
    )
}

/// Markets that nothing was read for: a gap when they are all the brief names, a reminder beside one that was read.
fn markets(verdicts: &Verdicts) -> Option<Finding> {
    let missing = &verdicts.markets_without_rules;
    if missing.is_empty() {
        return None;
    }
    let names = missing.iter().map(|market| format!("\"{market}\"")).collect::<Vec<_>>().join(", ");
    let (gravity, read) = if verdicts.market_known {
        (Gravity::Know, format!("; limits and label are those of \"{}\"", verdicts.market))
    } else {
        (Gravity::Check, "; limits and label were not read".to_owned())
    };
    Some(
        Finding::new(
            "market-not-known",
            gravity,
            Concerns::target("markets"),
            format!("No rules for the market {names} are on file{read}."),
            "Read the rules of that market yourself, or lay your own rules over the facts.",
        )
        .rule("rules on file"),
    )
}

fn limit(reading: &LimitReading) -> Option<Finding> {
    let amount = reading.amount.value.unwrap_or(0.0);
    let basis = reading.basis.as_deref().map(|basis| format!(" as {basis}")).unwrap_or_default();
    let act = format!("{} annex {}, entry {}", reading.act, reading.annex, reading.entry);
    let broken: Vec<&str> = reading
        .conditions
        .iter()
        .filter(|condition| condition.met == Some(false))
        .map(|condition| condition.text.as_str())
        .collect();
    let (code, gravity, found, change) = match reading.verdict {
        Verdict::Exceeds => (
            "limit-exceeded",
            Gravity::Stop,
            format!(
                "{}: {} %{basis} is above the maximum of {} % for {}.",
                reading.name,
                digits(amount),
                digits(reading.maximum_percent.unwrap_or(0.0)),
                reading.products
            ),
            format!(
                "Bring the sum over all lines to at most {} %{basis}.",
                digits(reading.maximum_percent.unwrap_or(0.0))
            ),
        ),
        Verdict::MayExceed => (
            "limit-may-be-exceeded",
            Gravity::Check,
            format!(
                "{}: {} %{basis} lies under the maximum of {} %, but the upper end of its range ({} %) lies above.",
                reading.name,
                digits(amount),
                digits(reading.maximum_percent.unwrap_or(0.0)),
                digits(reading.amount.high.unwrap_or(amount))
            ),
            "Ask the supplier for the content of the lot, or lower the line.".to_owned(),
        ),
        Verdict::Prohibited => (
            "prohibited",
            Gravity::Stop,
            format!("{} is on the list of prohibited substances.", reading.name),
            "Take it out, or show that it is a technically unavoidable trace.".to_owned(),
        ),
        Verdict::NotPermittedHere => (
            "not-permitted-here",
            Gravity::Stop,
            format!("{} is not permitted for this kind of product ({}).", reading.name, reading.products),
            "Replace it.".to_owned(),
        ),
        Verdict::NotComparable => (
            "limit-not-comparable",
            Gravity::Check,
            format!("{}: the amount could not be brought to the basis of the limit.", reading.name),
            "Add the molar mass of the substance to the facts, or compute the content yourself.".to_owned(),
        ),
        Verdict::Within | Verdict::ConditionsOnly if !broken.is_empty() => (
            "limit-condition",
            Gravity::Change,
            format!("{}: a condition of the limit is not met: {}.", reading.name, broken.join("; ")),
            "Change the product so that the condition holds.".to_owned(),
        ),
        Verdict::Within | Verdict::ConditionsOnly | Verdict::DoesNotApply => return None,
    };
    let guidance = reading.status == Status::Guidance;
    let (code, gravity, found, change) = if guidance {
        let found = format!("Outside a guidance, which is not law: {found}");
        ("outside-guidance", Gravity::Check, found, format!("The safety assessor decides. {change}"))
    } else {
        (code, gravity, found, change)
    };
    let act = if guidance { format!("guidance, not law ({})", reading.name) } else { act };
    let mut finding = Finding::new(code, gravity, Concerns::lines(&reading.lines), found, change)
        .rule(act)
        .source(&reading.source);
    finding = finding.number("amount", amount, "%");
    if let Some(maximum) = reading.maximum_percent {
        finding = finding.number("maximum", maximum, "%");
    }
    Some(finding)
}

fn allergens(verdicts: &Verdicts, found: &mut Vec<Finding>) {
    let named: Vec<_> = verdicts.allergens.iter().filter(|reading| reading.must_be_named()).collect();
    let maybe: Vec<_> = verdicts
        .allergens
        .iter()
        .filter(|reading| !reading.must_be_named() && reading.naming == Naming::MayNeedNaming)
        .collect();
    let lines_of = |readings: &[&levigate_rules::allergens::AllergenReading]| {
        let mut lines: Vec<usize> =
            readings.iter().flat_map(|reading| reading.from.iter().map(|from| from.line)).collect();
        lines.sort_unstable();
        lines.dedup();
        lines
    };
    if !named.is_empty() {
        let text: Vec<String> = named
            .iter()
            .map(|reading| {
                format!("{} {} %", reading.label_name, digits(reading.amount.value.unwrap_or(0.0)))
            })
            .collect();
        let mut finding = Finding::new(
            "allergens-to-name",
            Gravity::Know,
            Concerns::lines(&lines_of(&named)),
            format!("Fragrance allergens to be named on the label: {}.", text.join(", ")),
            "They are in the proposed ingredient list; check them against the supplier's statement.",
        )
        .rule(format!("above {} %, summed over all sources", digits(named[0].above_percent)));
        for reading in &named {
            finding = finding.source(&reading.source);
        }
        found.push(finding);
    }
    if !maybe.is_empty() {
        let names: Vec<&str> = maybe.iter().map(|reading| reading.label_name.as_str()).collect();
        found.push(
            Finding::new(
                "allergens-uncertain",
                Gravity::Check,
                Concerns::lines(&lines_of(&maybe)),
                format!(
                    "These stay under the threshold at the typical content of the oils, not at the highest: {}.",
                    names.join(", ")
                ),
                "Ask for the statement of the lot; name them if in doubt.",
            )
            .rule(format!("above {} %, summed over all sources", digits(maybe[0].above_percent)))
            .source(&maybe[0].source),
        );
    }
}
