//! Findings, gravest first: what was found, what to change, by which rule, from which source.

use super::line_names;
use crate::paper::{Ink, Paper};
use levigate_assess::finding::Concerns;
use levigate_assess::{Assessment, Gravity};

/// The findings.
pub(crate) fn findings(paper: &mut Paper, assessment: &Assessment) {
    let counts: Vec<String> = Gravity::ALL
        .iter()
        .filter_map(|gravity| {
            let count = assessment.findings.iter().filter(|finding| finding.gravity == *gravity).count();
            (count > 0).then(|| format!("{count} {}", gravity.word()))
        })
        .collect();
    if counts.is_empty() {
        paper.heading("Findings", "none by the rules and models applied");
        return;
    }
    paper.heading("Findings", &counts.join(", "));
    for finding in &assessment.findings {
        let (shape, ink) = match finding.gravity {
            Gravity::Stop => ("■", Ink::Red),
            Gravity::Change => ("◆", Ink::Amber),
            Gravity::Check => ("◎", Ink::Blue),
            Gravity::Know => ("–", Ink::Faint),
        };
        let about = concerns(assessment, &finding.concerns);
        let about = if about.is_empty() { String::new() } else { format!("{about}: ") };
        paper.marked(
            &format!("{shape} {:<6}", finding.gravity.word()),
            ink,
            &format!("{about}{}", finding.found),
        );
        if !finding.change.is_empty() {
            paper.hanging(10, "do:", &finding.change);
        }
        let sources = if finding.sources.is_empty() {
            String::new()
        } else {
            format!("; source: {}", finding.sources.join(", "))
        };
        paper.hanging(10, "by:", &format!("{} [{}]{sources}", finding.rule, finding.code));
    }
}

fn concerns(assessment: &Assessment, concerns: &Concerns) -> String {
    match concerns {
        Concerns::Lines { lines } => match lines.first() {
            None => String::new(),
            Some(first) if lines.iter().all(|line| line == first) => {
                format!("line {}", line_names(assessment, lines))
            }
            Some(_) => format!("lines {}", line_names(assessment, lines)),
        },
        Concerns::Phase { phase } => format!("phase {}", phase + 1),
        Concerns::Target { target } => format!("target {target}"),
        Concerns::Product => String::new(),
    }
}
