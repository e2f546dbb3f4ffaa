//! `mix`: a batch turned in a vessel.

use super::{Texts, Written};
use crate::answer::{Answer, Failure};
use crate::arguments::{Common, MakingOfFormula};
use crate::input;
use crate::paper::{Look, Paper};
use crate::verbs::tables::results;
use levigate_project::workbench::making::mix::{self as of, GumReading, MixReading, StirReading};

/// Answers.
pub(crate) fn mix(common: &Common, asked: &MakingOfFormula, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let texts = Texts::read(asked)?;
    let answered = of::mix(&facts, texts.question.pair(), texts.formula())
        .map_err(|problems| texts.refused(problems))?;
    if common.json {
        return Answer::json(&Written { reading: &answered, facts: &used });
    }
    let mut paper = Paper::new(look);
    paper.title("Stirring");
    paper.paragraph(0, &format!("Flow curve: {}.", answered.liquid.from));
    page(&mut paper, &answered.reading);
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn page(paper: &mut Paper, reading: &MixReading) {
    let fill = &reading.fill;
    paper.paragraph(0, &format!("{}; {}.", fill.vessel, fill.impeller));
    paper.gap();
    results(paper, &[("volume", &fill.volume), ("depth", &fill.depth), ("full to the rim", &fill.full)]);
    if let Some(start) = &reading.at_start {
        stirred(paper, "At the start", start);
        stirred(paper, "At the end", &reading.stirred);
    } else {
        stirred(paper, "At this speed", &reading.stirred);
    }
    if let Some(gum) = &reading.gum {
        gum_page(paper, gum);
    }
}

/// Verdicts and numbers of one speed.
pub(super) fn stirred(paper: &mut Paper, heading: &str, at: &StirReading) {
    paper.heading(heading, at.regime.word());
    for verdict in &at.verdicts {
        paper.hanging(
            2,
            &format!("{}:", verdict.holds.word()),
            &format!("{}; {}", verdict.question, verdict.because),
        );
    }
    paper.gap();
    let mut rows = vec![
        ("speed", &at.speed),
        ("tip speed", &at.tip_speed),
        ("mean shear rate", &at.shear_rate),
        ("viscosity there", &at.viscosity),
        ("Reynolds number", &at.reynolds),
        ("Froude number", &at.froude),
        ("power number", &at.power_number),
        ("power", &at.power),
        ("power per volume", &at.power_per_volume),
        ("torque", &at.torque),
        ("pumped", &at.pumping),
        ("turnover", &at.turnover),
        ("time to blend, 95 %", &at.blend_time),
        ("vortex, wall to axis", &at.vortex),
        ("vortex below rest", &at.vortex_below_rest),
        ("air drawn in from", &at.air_from),
    ];
    rows.extend(at.cave.iter().map(|cave| ("moving cave", cave)));
    rows.extend(at.suspending.iter().map(|speed| ("grains just suspended", speed)));
    results(paper, &rows);
}

fn gum_page(paper: &mut Paper, gum: &GumReading) {
    paper.heading("Taking up water", &gum.words);
    paper.hanging(2, "disperse:", &gum.disperse);
    paper.hanging(2, "lumps:", gum.fish_eyes);
    if let Some(trigger) = &gum.trigger {
        paper.hanging(2, "starts:", trigger);
    }
    if let Some(shear) = &gum.shear {
        paper.hanging(2, "shear:", shear);
    }
    for mind in &gum.minds {
        paper.hanging(2, "mind:", mind);
    }
    paper.gap();
    let mut rows = vec![("polyol for each part of gum", &gum.wetting)];
    rows.extend(gum.wetting_given.iter().map(|given| ("polyol there is", given)));
    rows.extend([
        ("tip speed", &gum.tip_speed),
        ("time to 95 %", &gum.to_95),
        ("time to 99 %", &gum.to_99),
        ("measure after", &gum.measure_after),
    ]);
    results(paper, &rows);
    for growth in &gum.growth {
        paper.heading("Fitted", growth.words);
        results(
            paper,
            &[
                ("time constant", &growth.time_constant),
                ("viscosity in the end", &growth.end),
                ("residuals", &growth.residual),
                ("AICc", &growth.aicc),
            ],
        );
    }
}
