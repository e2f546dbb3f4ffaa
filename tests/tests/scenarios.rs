//! The open acceptance scenarios: what their author computed, held against what this program reads.

use jiff::civil::date;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::workbench::assess::assess;
use levigate_project::workbench::making::evaporate::evaporate;
use serde::Deserialize;
use serde_json::Value;
use std::io::Write as _;
use std::path::Path;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    point: String,
    formula: String,
    #[serde(default)]
    replace: Vec<[String; 2]>,
    read: Option<String>,
    low: Option<f64>,
    high: Option<f64>,
    starts: Option<String>,
    is: Option<String>,
    finding: Option<String>,
    says: Option<String>,
    gravity: Option<String>,
    /// The number is divided by the same one of the formula with these changes.
    #[serde(default)]
    over: Vec<[String; 2]>,
    no_finding: Option<String>,
    /// A file of `evaporate` that is asked instead of the formula.
    evaporate: Option<String>,
    /// Why the value lies outside the author's band.
    disagrees: Option<String>,
}

fn walk<'v>(value: &'v Value, path: &str) -> Option<&'v Value> {
    path.split('/').try_fold(value, |value, step| {
        if let Some((field, wanted)) = step.split_once('=') {
            let same = |found: &Value| {
                let shown = found.as_str().map_or_else(|| found.to_string(), str::to_owned);
                shown == wanted
            };
            value.as_array()?.iter().find(|entry| entry.get(field).is_some_and(same))
        } else if let Some((field, word)) = step.split_once('~') {
            let has = |found: &Value| found.as_str().is_some_and(|text| text.contains(word));
            value.as_array()?.iter().find(|entry| entry.get(field).is_some_and(has))
        } else if let Ok(at) = step.parse::<usize>() {
            value.get(at)
        } else {
            value.get(step)
        }
    })
}

fn number(assessment: &Value, path: &str) -> Result<f64, String> {
    let found = walk(assessment, path).ok_or(format!("{path} is not there"))?;
    found.as_f64().or_else(|| found.as_str().and_then(|text| text.parse().ok())).ok_or(found.to_string())
}

fn judge(case: &Case, assessment: &Value, other: Option<&Value>) -> Result<(), String> {
    let none = Vec::new();
    let findings = assessment["findings"].as_array().unwrap_or(&none);
    if let Some(code) = &case.no_finding {
        let says = case.says.as_deref().unwrap_or("");
        let fits = |one: &Value| {
            one["code"] == **code && one["found"].as_str().is_some_and(|text| text.contains(says))
        };
        return (!findings.iter().any(fits))
            .then_some(())
            .ok_or(format!("there is a finding {code} that says \"{says}\""));
    }
    if let Some(code) = &case.finding {
        let says = case.says.as_deref().unwrap_or("");
        let fits = |one: &&Value| {
            one["code"] == **code
                && ["found", "change"]
                    .iter()
                    .any(|part| one[*part].as_str().is_some_and(|text| text.contains(says)))
                && case.gravity.as_ref().is_none_or(|gravity| one["gravity"] == **gravity)
        };
        return findings
            .iter()
            .any(|one| fits(&one))
            .then_some(())
            .ok_or(format!("no finding {code} that says \"{says}\""));
    }
    let path = case.read.as_deref().ok_or("the case asks for nothing")?;
    let found = walk(assessment, path).ok_or(format!("{path} is not there"))?;
    if let Some(starts) = &case.starts {
        return found
            .as_str()
            .is_some_and(|text| text.starts_with(starts.as_str()))
            .then_some(())
            .ok_or(found.to_string());
    }
    if let Some(is) = &case.is {
        return (found == is.as_str()).then_some(()).ok_or(found.to_string());
    }
    let other = other.map_or(Ok(1.0), |other| number(other, path))?;
    let number = number(assessment, path)? / other;
    let (low, high) = case.low.zip(case.high).ok_or("the case has no band")?;
    (low..=high).contains(&number).then_some(()).ok_or(format!("{number} is not in {low} to {high}"))
}

#[test]
fn the_open_scenarios_come_out() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let cases: Cases =
        toml::from_str(&std::fs::read_to_string(here.join("cross/scenarios.toml")).unwrap()).unwrap();
    assert!(cases.case.len() >= 50);
    let facts = levigate_facts::shipped().unwrap();
    let (mut failures, mut disagreements) = (Vec::new(), Vec::new());
    for case in &cases.case {
        let path = here.join("../examples/scenarios").join(&case.formula);
        let text = std::fs::read_to_string(&path).unwrap();
        let told =
            |told: Vec<Diagnostic>| told.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ");
        let assessed = |changes: &[[String; 2]]| {
            let mut text = text.clone();
            for [from, to] in changes {
                assert!(text.contains(from.as_str()), "{}: {from:?} is not in the formula", case.point);
                text = text.replace(from.as_str(), to);
            }
            assess(&facts, date(2026, 11, 24), "eu", &case.formula, &text)
                .map(|done| serde_json::to_value(&done.assessment).unwrap())
                .map_err(told)
        };
        let other = (!case.over.is_empty()).then(|| assessed(&case.over).unwrap());
        let read = match &case.evaporate {
            Some(question) => evaporate(&facts, (&case.point, question), None)
                .map(|reading| serde_json::to_value(&reading).unwrap())
                .map_err(told),
            None => assessed(&case.replace),
        };
        let answer = read.and_then(|assessment| judge(case, &assessment, other.as_ref()));
        match (answer, &case.disagrees) {
            (Err(found), Some(why)) => disagreements.push(format!("{}: {found}. {}", case.point, why.trim())),
            (Ok(()), Some(_)) => failures.push(format!("{}: agrees now; take `disagrees` out", case.point)),
            (Err(why), None) => failures.push(format!("{}: {why}", case.point)),
            (Ok(()), None) => {}
        }
    }
    // Past the capture of the test harness: a disagreement with the author is shown on every run.
    let mut stderr = std::io::stderr();
    for told in &disagreements {
        writeln!(stderr, "\nDISAGREES WITH THE AUTHOR OF THE SCENARIOS\n{told}").unwrap();
    }
    assert!(failures.is_empty(), "{} of {} fail:\n{}", failures.len(), cases.case.len(), failures.join("\n"));
}
