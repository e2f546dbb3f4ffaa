//! `trials`: the trials of a formula in a workspace, with readings beside predictions.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Trials};
use crate::input::FactsUsed;
use crate::numbers;
use crate::paper::{Lean, Look, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::{USUAL_MARKET, day};
use levigate_measure::Outcome;
use levigate_project::records::TypedNumber;
use levigate_project::workbench::curves::CurveRead;
use levigate_project::workbench::trials::{
    AttributeEffects, Effects, Read, Scale, Tie, TreeNode, TrialBook, TrialView, flow_book, gather,
    gather_bench, trial_book, trial_effects,
};
use serde::Serialize;

#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    book: &'a TrialBook,
    facts: &'a FactsUsed,
}

#[derive(Serialize)]
struct WrittenEffects<'a> {
    #[serde(flatten)]
    effects: &'a Effects,
    facts: &'a FactsUsed,
}

/// Lists the trials of a formula.
pub(crate) fn trials(common: &Common, asked: &Trials, look: Look) -> Result<Answer, Failure> {
    block_on(async {
        let shelf = Shelf::open(common, &asked.place, Want::Read).await?;
        let formula = shelf.formula(&asked.formula).await?;
        let records = gather(&shelf.workspace, formula.id).await.map_err(|error| refused(&error))?;
        let bench = gather_bench(&shelf.workspace).await.map_err(|error| refused(&error))?;
        if let Some(&[left, right]) = asked.between.as_deref() {
            let pair = [left, right];
            let found = trial_effects(&shelf.facts, day(None), USUAL_MARKET, (&records, &bench), pair)
                .map_err(|missing| {
                    Failure::bad_option(
                        "not-in-workspace",
                        "between",
                        format!("the formula has no trial {missing}"),
                        "levigate trials lists them",
                    )
                })?;
            if common.json {
                return Answer::json(&WrittenEffects { effects: &found, facts: &shelf.used });
            }
            return Ok(Answer::text(told_effects(&found, look)));
        }
        let flow = flow_book(&shelf.facts, day(None), USUAL_MARKET, &bench);
        let book = trial_book(&shelf.facts, day(None), USUAL_MARKET, &records, &flow);
        if common.json {
            return Answer::json(&Written { book: &book, facts: &shelf.used });
        }
        if asked.tree {
            return Ok(Answer::text(told_tree(&book, look)));
        }
        Ok(Answer::text(told(&book, look)))
    })
}

fn told(book: &TrialBook, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&book.name);
    if book.trials.is_empty() {
        paper.paragraph(0, "No trial yet. levigate enter trial NAME begins one of the newest saved version.");
    }
    for trial in &book.trials {
        one(&mut paper, trial);
    }
    paper.finish()
}

/// The trials as a tree: a line goes on below, a side line stands to the right.
fn told_tree(book: &TrialBook, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&book.name);
    if book.tree.is_empty() {
        paper.paragraph(0, "No trial yet. levigate enter trial NAME begins one of the newest saved version.");
        return paper.finish();
    }
    let rows: Vec<Vec<String>> = book
        .tree
        .iter()
        .map(|node| {
            let from = match (node.tie, node.parent) {
                (Tie::Copied, Some(parent)) => format!("from {parent}"),
                (Tie::ByVersion, Some(parent)) => format!("by version, after {parent}"),
                _ => String::new(),
            };
            let branch = format!("{}{} {}", rails(node), node.verdict.sign(), node.number);
            vec![
                branch,
                format!("v{}", node.version),
                node.made.clone(),
                from,
                node.says.clone(),
                node.verdict_words.clone(),
            ]
        })
        .collect();
    let heads = [
        ("trial", Lean::Left),
        ("", Lean::Left),
        ("made", Lean::Left),
        ("", Lean::Left),
        ("what changed", Lean::Left),
        ("readings against what was predicted", Lean::Left),
    ];
    paper.columns(&heads, &rows);
    paper.paragraph(
        0,
        "\u{25cf} all inside, \u{25bc} below, \u{25b2} above, \u{25c6} below and above, \u{25c7} not to be compared, \u{25cb} nothing read",
    );
    paper.finish()
}

/// The lines to the left of a trial.
fn rails(node: &TreeNode) -> String {
    (0..node.lane)
        .map(|lane| {
            let passes = node.passes.contains(&lane);
            match (node.branches && lane + 1 == node.lane, passes) {
                (true, true) => "\u{251c}\u{2500}",
                (true, false) => "\u{2514}\u{2500}",
                (false, true) => "\u{2502} ",
                (false, false) => "  ",
            }
        })
        .collect()
}

fn told_effects(found: &Effects, look: Look) -> String {
    let mut paper = Paper::new(look);
    paper.title(&format!("From trial {} to trial {}", found.left, found.right));
    if let Some(why) = &found.refused {
        paper.hanging(0, "nothing can be told:", why);
        return paper.finish();
    }
    if found.differs.is_empty() {
        paper.paragraph(0, "Nothing is found to differ: lines, lots, weights and making are the same.");
    } else {
        let rows: Vec<Vec<String>> = found
            .differs
            .iter()
            .map(|one| vec![one.what.clone(), shown(&one.was).to_owned(), shown(&one.now).to_owned()])
            .collect();
        let was = format!("trial {}", found.left);
        let now = format!("trial {}", found.right);
        paper.columns(&[("found to differ", Lean::Left), (&was, Lean::Left), (&now, Lean::Left)], &rows);
    }
    for attribute in &found.attributes {
        told_attribute(&mut paper, attribute);
    }
    paper.finish()
}

/// What the differences did to one reading.
fn told_attribute(paper: &mut Paper, told: &AttributeEffects) {
    paper.heading(&capital(&told.name), &told.conditions);
    if let Some(why) = &told.refused {
        paper.hanging(2, "nothing can be told:", why);
        return;
    }
    paper.paragraph(2, &told.say);
    let (moves, still): (Vec<_>, Vec<_>) =
        told.differences.iter().partition(|one| moves(&one.effect, told.scale));
    let rows: Vec<Vec<String>> = moves
        .iter()
        .map(|one| {
            vec![
                one.what.clone(),
                shown(&one.was).to_owned(),
                shown(&one.now).to_owned(),
                in_words(&one.effect, told.scale),
            ]
        })
        .collect();
    if !rows.is_empty() {
        let change = match told.scale {
            Scale::Difference => "what it did",
            Scale::Factor => "times",
        };
        let heads = [("differs", Lean::Left), ("was", Lean::Left), ("is", Lean::Left), (change, Lean::Left)];
        paper.columns(&heads, &rows);
    }
    if !still.is_empty() {
        let names: Vec<&str> = still.iter().map(|one| one.what.as_str()).collect();
        paper.hanging(2, "did nothing to it:", &names.join("; "));
    }
    let all = [("explained", &told.explained), ("read", &told.measured), ("unexplained", &told.unexplained)];
    for (name, outcome) in all.into_iter().filter(|_| !rows.is_empty() || told.measured.is_some()) {
        if let Some(outcome) = outcome {
            paper.hanging(2, &format!("{name}:"), &in_words(outcome, told.scale));
        }
    }
    if told.measured.is_some() {
        for one in &told.not_computed {
            let from_to = format!("{} then, {} now: {}", shown(&one.was), shown(&one.now), one.why);
            paper.hanging(2, &format!("not computed, {}:", one.what), &from_to);
        }
    }
    if !told.next.is_empty() {
        paper.hanging(2, "the next trial:", &told.next);
    }
}

/// With a capital at its start, where it is a word and no symbol.
fn capital(name: &str) -> String {
    let mut signs = name.chars();
    match (signs.next(), signs.next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => {
            first.to_uppercase().chain(name.chars().skip(1)).collect()
        }
        _ => name.to_owned(),
    }
}

/// Whether a difference does anything to a reading, or may.
fn moves(effect: &Outcome, scale: Scale) -> bool {
    let nothing = match scale {
        Scale::Difference => 0.0,
        Scale::Factor => 1.0,
    };
    let off = |end: Option<f64>| end.is_some_and(|end| (end - nothing).abs() > 5e-5);
    off(effect.value) || off(effect.low) || off(effect.high)
}

/// `+0.12 (0.08 to 0.16)`, of a factor without the sign.
fn in_words(outcome: &Outcome, scale: Scale) -> String {
    let sign = match scale {
        Scale::Difference if outcome.value.is_some_and(|value| value > 0.0) => "+",
        _ => "",
    };
    format!("{sign}{}", numbers::result(outcome, false))
}

fn shown(text: &str) -> &str {
    if text.is_empty() { "nothing written" } else { text }
}

fn one(paper: &mut Paper, trial: &TrialView) {
    let size = trial.batch_size.as_ref().map(|batch| format!(", {} {}", batch.size.typed, batch.unit));
    let made = format!(
        "version {}{}, made on {} by {}",
        trial.version,
        size.unwrap_or_default(),
        trial.made,
        trial.who
    );
    paper.heading(&format!("Trial {}", trial.number), &made);
    if !trial.process.is_empty() {
        paper.paragraph(2, &trial.process);
    }
    if let Some(parent) = trial.parent {
        paper.hanging(2, &format!("after trial {parent}:"), &trial.changed);
        let rows: Vec<Vec<String>> = trial
            .changes
            .iter()
            .map(|change| vec![change.what.clone(), change.was.clone(), change.now.clone()])
            .collect();
        if !rows.is_empty() {
            let heads = [("found to differ", Lean::Left), ("was", Lean::Left), ("is", Lean::Left)];
            paper.columns(&heads, &rows);
        }
    }
    let lots: Vec<String> = trial
        .lines
        .iter()
        .filter(|line| !line.lot.is_empty())
        .map(|line| format!("{} {} {}", line.material, line.lot, line.lot_remark).trim().to_owned())
        .collect();
    if !lots.is_empty() {
        paper.hanging(2, "lots:", &lots.join("; "));
    }
    if let Some(why) = &trial.prediction.refused {
        paper.hanging(2, "nothing is predicted:", why);
    }
    if let Some(aim) = &trial.prediction.aim {
        paper.hanging(2, "note:", &aim.words);
    }
    let rows: Vec<Vec<String>> = trial.readings.iter().map(row).collect();
    if !rows.is_empty() {
        let heads = [
            ("No.", Lean::Right),
            ("read", Lean::Left),
            ("value", Lean::Left),
            ("conditions", Lean::Left),
            ("predicted", Lean::Left),
        ];
        paper.columns(&heads, &rows);
    }
    for reading in &trial.readings {
        for words in words(reading) {
            paper.hanging(2, &format!("{}:", reading.number), &words);
        }
    }
    for curve in &trial.curves {
        paper.hanging(2, &format!("flow curve {}:", curve.number), &curve_words(curve));
    }
    for seen in &trial.observations {
        let photo = if seen.photo.is_some() { " (with a photo)" } else { "" };
        let struck = seen.struck.as_ref().map(|struck| format!(" [struck out: {}]", struck.reason));
        let text = if seen.withdrawn { "taken back" } else { &seen.text };
        paper.hanging(2, "seen:", &format!("{text}{photo}{}", struck.unwrap_or_default()));
    }
}

/// What a flow curve says of itself in a line.
fn curve_words(read: &CurveRead) -> String {
    if let Some(struck) = &read.struck {
        return format!("struck out: {} (see {})", struck.reason, struck.by);
    }
    let curve = &read.curve;
    if curve.withdrawn {
        return format!("takes {} back", read.corrects.unwrap_or_default());
    }
    let ends = |values: &mut dyn Iterator<Item = f64>| {
        let (low, high) =
            values.fold((f64::INFINITY, 0.0_f64), |(low, high), one| (low.min(one), high.max(one)));
        [low, high].map(|end| numbers::value(end, None, None))
    };
    let mut parts = match &curve.recovery {
        None => {
            let [low, high] = ends(&mut curve.points.iter().map(|point| point.shear_rate));
            vec![format!("{} points, {low} to {high} 1/s", curve.count())]
        }
        Some(over_time) => {
            let [_, last] = ends(&mut over_time.readings.iter().map(|reading| reading.time_s));
            let held = over_time
                .at
                .as_ref()
                .map(|at| format!(" at {} {}", numbers::value(at.value, None, None), at.unit));
            vec![format!(
                "recovery after shear, {} readings over {last} s{}",
                curve.count(),
                held.unwrap_or_default()
            )]
        }
    };
    parts.extend(typed(curve.temperature_c.as_ref(), "°C"));
    parts.extend(typed(curve.age_h.as_ref(), "h"));
    let words =
        [&curve.name, &curve.instrument, &curve.geometry, &curve.waiting, &curve.spindle, &curve.file];
    parts.extend(words.into_iter().filter(|text| !text.is_empty()).cloned());
    parts.extend(curve.fit.as_ref().map(|fit| format!("{} taken", fit.model)));
    parts.join(", ")
}

fn typed(number: Option<&TypedNumber>, unit: &str) -> Option<String> {
    let number = number?;
    let bare = !number.typed.contains(char::is_alphabetic);
    Some(if bare { format!("{} {unit}", number.typed) } else { number.typed.clone() })
}

fn row(read: &Read) -> Vec<String> {
    let reading = &read.reading;
    let mut conditions = vec![String::from(reading.method.clone())];
    conditions.extend(typed(reading.temperature_c.as_ref(), "°C"));
    conditions.extend(typed(reading.age_h.as_ref(), "h"));
    conditions.extend(reading.conditions.iter().map(|(name, value)| format!("{name} {value}")));
    let predicted = read.beside.as_ref().and_then(|beside| beside.predicted.as_ref());
    let value = if reading.withdrawn { "–" } else { reading.value.typed.as_str() };
    vec![
        read.number.to_string(),
        read.name.clone(),
        format!("{value} {}", reading.unit).trim().to_owned(),
        conditions.join(", "),
        predicted.map(|outcome| numbers::result(outcome, true)).unwrap_or_default(),
    ]
}

/// What is to be said of a reading: struck out, or how it stands.
fn words(read: &Read) -> Vec<String> {
    if let Some(struck) = &read.struck {
        return vec![format!("struck out: {} (see {})", struck.reason, struck.by)];
    }
    if read.reading.withdrawn {
        return vec![format!("takes {} back", read.corrects.unwrap_or_default())];
    }
    let Some(beside) = &read.beside else { return Vec::new() };
    [&beside.words, &beside.target].into_iter().filter(|words| !words.is_empty()).cloned().collect()
}
