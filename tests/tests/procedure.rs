//! How formulas are made, held against what the author of the scenarios and the rules of the trade expect.

use levigate_project::workbench::procedure::procedure;
use serde::Deserialize;
use serde_json::Value;
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
    steps: Option<String>,
    #[serde(default)]
    order: Vec<String>,
    #[serde(default)]
    premix: Vec<String>,
    ratio: Option<[f64; 2]>,
    number: Option<String>,
    low: Option<f64>,
    high: Option<f64>,
    departs: Option<String>,
    says: Option<String>,
    asks: Option<String>,
    tells: Option<String>,
    #[serde(default)]
    breaks: Vec<String>,
    #[serde(default)]
    keeps: Vec<String>,
}

/// Names of the lines as the formula writes them, in order.
fn lines_of(text: &str) -> Vec<String> {
    let formula: toml::Table = toml::from_str(text).expect("a formula");
    let phases = formula["phase"].as_array().expect("phases");
    phases
        .iter()
        .flat_map(|phase| phase["line"].as_array().expect("lines"))
        .map(|line| line["material"].as_str().expect("a name").to_owned())
        .collect()
}

fn list<'v>(value: &'v Value, key: &str) -> &'v [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

fn holds(step: &Value, line: usize) -> bool {
    list(step, "lines").iter().any(|own| own["line"] == line)
}

/// First step in which a line joins the batch, or first of a kind.
fn joins(found: &Value, lines: &[String], name: &str) -> Option<usize> {
    let steps = list(found, "steps");
    let Some(line) = lines.iter().position(|own| own == name) else {
        return steps.iter().position(|step| step["does"] == name);
    };
    let adds = |step: &Value| {
        let premixed = list(step, "premixes").iter().any(|premix| {
            steps.iter().any(|made| made["does"] == "premix" && made["name"] == *premix && holds(made, line))
        });
        premixed || step["does"] != "premix" && holds(step, line)
    };
    steps.iter().position(adds)
}

fn rules(found: &Value) -> Vec<&str> {
    let own = list(found, "broken").iter();
    let all = own.chain(list(found, "steps").iter().flat_map(|step| list(step, "broken")));
    all.filter_map(|one| one["rule"].as_str()).collect()
}

fn judge(case: &Case, found: &Value, lines: &[String]) -> Result<(), String> {
    let mut before = None;
    for name in &case.order {
        let at = joins(found, lines, name).ok_or(format!("{name} is nowhere"))?;
        if before.is_some_and(|before| before > at) {
            return Err(format!("{name} stands too early"));
        }
        before = Some(at);
    }
    if !case.premix.is_empty() {
        let wanted: Vec<usize> =
            case.premix.iter().filter_map(|name| lines.iter().position(|own| own == name)).collect();
        assert_eq!(wanted.len(), case.premix.len(), "{}", case.point);
        let met = list(found, "steps")
            .iter()
            .find(|step| step["does"] == "premix" && wanted.iter().all(|line| holds(step, *line)))
            .ok_or("they do not meet in one premix")?;
        if let Some([low, high]) = case.ratio {
            let ratio = met["parts"]["value"].as_f64().ok_or("no ratio")?;
            if !(low..=high).contains(&ratio) {
                return Err(format!("{ratio} parts"));
            }
        }
    }
    if let Some(path) = &case.number {
        let walked = path.split('/').try_fold(found, |value, step| match step.parse::<usize>() {
            Ok(at) => value.get(at),
            Err(_) => value.get(step),
        });
        let number = walked.and_then(Value::as_f64).ok_or(format!("{path} is not there"))?;
        let (low, high) = case.low.zip(case.high).ok_or("no band")?;
        if !(low..=high).contains(&number) {
            return Err(format!("{number} is not in {low} to {high}"));
        }
    }
    if let Some(rule) = &case.departs {
        let says = case.says.as_deref().unwrap_or("");
        let told = list(found, "departures").iter().any(|one| {
            one["rule"] == **rule
                && ["found", "breaks"]
                    .iter()
                    .any(|part| one[*part].as_str().is_some_and(|text| text.contains(says)))
        });
        if !told {
            return Err(format!("no departure {rule} that says {says}"));
        }
    }
    if let Some(key) = &case.asks
        && !list(found, "questions").iter().any(|one| one["key"] == **key)
    {
        return Err(format!("{key} is not asked"));
    }
    if let Some(words) = &case.tells
        && !list(found, "steps")
            .iter()
            .any(|step| step["instruction"].as_str().is_some_and(|text| text.contains(words)))
    {
        return Err(format!("no step says {words}"));
    }
    let told = rules(found);
    if let Some(rule) = case.breaks.iter().find(|rule| !told.contains(&rule.as_str())) {
        return Err(format!("{rule} is not told; told are {told:?}"));
    }
    if let Some(rule) = case.keeps.iter().find(|rule| told.contains(&rule.as_str())) {
        return Err(format!("{rule} is told and kept"));
    }
    if case.steps.is_none() && !told.is_empty() {
        return Err(format!("the proposal breaks {told:?}"));
    }
    Ok(())
}

#[test]
fn formulas_are_made_as_the_trade_makes_them() {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    let cases: Cases =
        toml::from_str(&std::fs::read_to_string(here.join("cross/procedure.toml")).unwrap()).unwrap();
    let facts = levigate_facts::shipped().unwrap();
    let mut failures = Vec::new();
    for case in &cases.case {
        let mut text = std::fs::read_to_string(here.join("../examples").join(&case.formula)).unwrap();
        for [from, to] in &case.replace {
            assert!(text.contains(from.as_str()), "{}: {from:?} is not in the formula", case.point);
            text = text.replacen(from.as_str(), to, 1);
        }
        let lines = lines_of(&text);
        text.push_str(case.steps.as_deref().unwrap_or(""));
        let answer = match procedure(&facts, &case.formula, &text) {
            Ok((found, _)) => judge(case, &serde_json::to_value(&found).unwrap(), &lines),
            Err(told) => Err(told.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")),
        };
        if let Err(why) = answer {
            failures.push(format!("{}: {why}", case.point));
        }
    }
    assert!(failures.is_empty(), "{} of {} fail:\n{}", failures.len(), cases.case.len(), failures.join("\n"));
}
