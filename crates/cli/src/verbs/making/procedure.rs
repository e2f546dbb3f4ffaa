//! `procedure`: how a formula is made, step by step, with why each step stands where it does.

use super::Written;
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingProcedure};
use crate::input::{self, Input};
use crate::numbers;
use crate::paper::{Ink, Lean, Look, Paper};
use crate::verbs::tables::results;
use levigate_assess::Gravity;
use levigate_assess::procedure::{Broken, Procedure, Step, StepKind};
use levigate_project::workbench::procedure::{as_text, procedure as of};

/// Answers.
pub(crate) fn procedure(common: &Common, asked: &MakingProcedure, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let input = Input::read(&asked.formula)?;
    let (name, text) = input.pair();
    let (found, steps) = of(&facts, name, text).map_err(|problems| input.refused(problems))?;
    if asked.toml {
        return Ok(Answer::text(as_text(&steps)));
    }
    if common.json {
        return Answer::json(&Written { reading: &found, facts: &used });
    }
    let mut paper = Paper::new(look);
    page(&mut paper, &found);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn page(paper: &mut Paper, found: &Procedure) {
    paper.title(&format!("How {} is made", found.product));
    let from = if found.written {
        "The steps of the file, held against what the handling of its raw materials asks."
    } else {
        "Proposed from the raw materials and the order of the phases. Times of heating and cooling depend on vessel and heat and are left open."
    };
    paper.paragraph(0, from);
    breaches(paper, "As a whole", &found.broken);
    offer(paper, found);
    questions(paper, found);
    conflicts(paper, found);
    for step in &found.steps {
        one_step(paper, step);
    }
    if !found.departures.is_empty() {
        paper.heading("Where this leaves the order of the phases", "");
        for one in &found.departures {
            let (shape, ink) = shape(one.gravity);
            let word = format!("{shape} {:<6}", one.gravity.word());
            paper.marked(&word, ink, &format!("{} {}", one.found, one.breaks));
            paper.hanging(10, "why:", &reason(&one.why, &one.sources));
        }
    }
    paper.heading(
        "Mind",
        "follow safety data sheets, local rules and the people qualified for this work; the cautions are not complete",
    );
}

fn shape(gravity: Gravity) -> (&'static str, Ink) {
    match gravity {
        Gravity::Stop => ("■", Ink::Red),
        Gravity::Change => ("◆", Ink::Amber),
        Gravity::Check => ("◎", Ink::Blue),
        Gravity::Know => ("–", Ink::Faint),
    }
}

fn reason(why: &str, sources: &[String]) -> String {
    if sources.is_empty() { why.to_owned() } else { format!("{why} [{}]", sources.join(", ")) }
}

/// What a step does, as a heading.
fn title(does: StepKind) -> &'static str {
    match does {
        StepKind::Premix => "Premix",
        StepKind::Add => "Add",
        StepKind::Disperse => "Disperse",
        StepKind::Hydrate => "Let it swell",
        StepKind::Heat => "Heat",
        StepKind::Hold => "Hold",
        StepKind::Cool => "Cool",
        StepKind::MakeUp => "Make up the water",
        StepKind::DeAir => "Let the air out",
        StepKind::AdjustPh => "Set the pH",
        StepKind::Check => "Look and measure",
    }
}

/// Hours in a year.
const YEAR_H: f64 = 8766.0;

/// Bubbles that hardly rise in the product, in words.
fn still(step: &Step) -> Option<String> {
    let first = step.bubbles.first()?;
    let size = first.diameter.value.map(plain).unwrap_or_default();
    match first.time.value {
        None => {
            first.time.refused.as_ref().map(|why| format!("in the finished product they do not rise ({why})"))
        }
        Some(hours) => (hours > YEAR_H).then(|| {
            format!("in the finished product even one of {size} mm needs longer than a year to rise")
        }),
    }
}

/// Four figures without idle zeros.
fn plain(number: f64) -> String {
    let text = numbers::value(number, None, None);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

fn breaches(paper: &mut Paper, heading: &str, broken: &[Broken]) {
    if broken.is_empty() {
        return;
    }
    if !heading.is_empty() {
        paper.heading(heading, "");
    }
    for one in broken {
        let (shape, ink) = shape(one.gravity);
        let word = format!("{shape} {:<6}", one.gravity.word());
        paper.marked(&word, ink, &format!("{} {}", one.found, one.breaks));
        paper.hanging(10, "why:", &reason(&one.why, &one.sources));
    }
}

/// The step that sets the pH, where the steps of the file have none: said, never put in.
fn offer(paper: &mut Paper, found: &Procedure) {
    let Some(one) = &found.offer else { return };
    paper.heading("Offered", "nothing is changed by itself");
    paper.paragraph(2, &one.says);
    paper.hanging(2, "write:", &format!("[[step]] does = \"adjust-ph\" as step {} of the file", one.number));
    paper.hanging(10, "why:", &reason(&one.why, &one.sources));
}

fn questions(paper: &mut Paper, found: &Procedure) {
    if found.questions.is_empty() {
        return;
    }
    paper.heading("Ask first", "");
    for one in &found.questions {
        let otherwise = match one.otherwise.as_slice() {
            [] => String::new(),
            others => format!(" If not, write {} on the line.", others.join(" or ")),
        };
        let asked = format!("{} Taken here: {}.{otherwise}", one.asks, one.taken);
        paper.hanging(2, &format!("line {}:", one.line + 1), &asked);
        paper.hanging(10, "why:", &reason(&one.why, &one.sources));
    }
}

fn conflicts(paper: &mut Paper, found: &Procedure) {
    for one in &found.conflicts {
        paper.heading("No procedure keeps all of these", "the smallest such set");
        for (at, demand) in one.demands.iter().enumerate() {
            let left = if at + 1 == one.left_out { " (left out below)" } else { "" };
            paper.hanging(2, "-", &format!("{}{left}", demand.stands));
            paper.hanging(10, "why:", &reason(&demand.why, &demand.sources));
        }
        paper.hanging(2, "so:", &one.breaks);
    }
}

fn one_step(paper: &mut Paper, step: &Step) {
    let mut how = Vec::new();
    if let Some(at) = step.temperature {
        let [low, high] = at.celsius;
        how.push(if low == high { format!("{low} C") } else { format!("{low} to {high} C") });
    }
    if let Some([low, high]) = step.minutes {
        how.push(if low == high { format!("{low} min") } else { format!("{low} to {high} min") });
    }
    if let Some(way) = &step.stirring {
        let tip = way.tip_speed.map(|[low, high]| format!(" (tip {low} to {high} m/s)"));
        how.push(format!("{}{}", way.words, tip.unwrap_or_default()));
    }
    let named: Vec<&str> = step.lines.iter().map(|line| line.name.as_str()).collect();
    let name = match (&step.name, step.does, named.as_slice()) {
        (Some(name), ..) => name.clone(),
        (None, StepKind::Add | StepKind::Disperse, [one]) => format!("{} {one}", title(step.does)),
        _ => title(step.does).to_owned(),
    };
    paper.heading(&format!("{}. {name}", step.number), &how.join("; "));
    paper.paragraph(2, step.note.as_deref().unwrap_or(&step.instruction));
    if !step.lines.is_empty() {
        let rows: Vec<Vec<String>> = step
            .lines
            .iter()
            .map(|line| {
                let share = line.share_percent.map(|share| format!(" ({} % of its line)", plain(share)));
                vec![
                    (line.line + 1).to_string(),
                    format!("{}{}", line.name, share.unwrap_or_default()),
                    plain(line.percent),
                    plain(line.grams),
                ]
            })
            .collect();
        let heads = [("line", Lean::Right), ("", Lean::Left), ("%", Lean::Right), ("g", Lean::Right)];
        paper.columns(&heads, &rows);
    }
    if let Some(parts) = step.parts {
        paper.hanging(2, "ratio:", &format!("{} parts to one", plain(parts)));
    }
    for adding in &step.adding {
        if let Some(grams) = adding.first_g {
            let text = format!("{} g of {}", plain(grams), adding.name);
            paper.hanging(2, "first:", &text);
        }
        if let Some(grams) = adding.for_0_05_ph {
            let text = format!("{} g for 0.05 pH", plain(grams));
            paper.hanging(2, "then:", &text);
        }
        if let Some(warms) = &adding.warms_by {
            results(paper, &[("warms the batch, all at once", warms)]);
        }
    }
    if let Some(words) = still(step) {
        paper.hanging(2, "bubbles:", &words);
    } else if !step.bubbles.is_empty() {
        let named: Vec<(String, _)> = step
            .bubbles
            .iter()
            .map(|bubble| {
                let size = bubble.diameter.value.map(plain);
                (format!("in the product a bubble of {} mm rises in", size.unwrap_or_default()), &bubble.time)
            })
            .collect();
        let rows: Vec<(&str, _)> = named.iter().map(|(name, time)| (name.as_str(), *time)).collect();
        results(paper, &rows);
    }
    for caution in &step.cautions {
        paper.hanging(2, "take care:", &caution.text);
    }
    for check in &step.checks {
        paper.hanging(2, "look:", check);
    }
    for one in &step.because {
        paper.hanging(2, "why:", &format!("{}. {}", one.stands, reason(&one.why, &one.sources)));
    }
    breaches(paper, "", &step.broken);
}
