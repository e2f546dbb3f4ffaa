//! The trials of a formula laid out: lines and lots, what changed against the trial it was copied from, readings beside
//! predictions, observations.

use super::beside::{Beside, beside};
use super::effects::with_water_lost;
use super::flow::{FlowBook, FlowLesson};
use super::tree::{TreeNode, tree};
use super::{TrialRecords, size_in_grams};
use crate::diagnostic::Diagnostic;
use crate::formula_file::{self, FormulaFile};
use crate::records::{BatchSize, FormulaVersion, Id, Kept, MediaType, Observation, Reading, Trial, in_force};
use crate::workbench::assess::facts_for;
use crate::workbench::batch::BatchMade;
use crate::workbench::citations::citations_in;
use crate::workbench::curves::{CurveRead, curves_read};
use crate::workbench::difference::{Change, line_difference, words as amount_words};
use crate::workbench::draft::{SheetAssessed, assess_sheet, market_of};
use crate::workbench::keeping::{Struck, corrects, struck};
use crate::workbench::lots::{dates, lot_of};
use crate::workbench::readings::WATER_LOST;
use jiff::Timestamp;
use jiff::civil::Date;
use levigate_facts::Facts;
use levigate_formula::sheet::{Amount, Line, Sheet, Target};
use levigate_measure::Outcome;
use rust_decimal::Decimal;
use serde::Serialize;
use std::borrow::Cow;
use std::collections::BTreeMap;

/// Name of a version's text in messages.
const FILE: &str = "formula";

/// The trials of a formula.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialBook {
    /// Identity of the formula.
    pub formula: String,
    /// Name of the product in its newest version, else the name it was begun under.
    pub name: String,
    /// Its saved versions, newest first.
    pub versions: Vec<VersionBrief>,
    /// The trials in the order they were begun.
    pub trials: Vec<TrialView>,
    /// The same as a tree, in the order in which it is drawn.
    pub tree: Vec<TreeNode>,
    /// Citation of every source key in the predictions.
    pub sources: BTreeMap<String, String>,
}

/// A version a trial can be made of.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VersionBrief {
    /// Number.
    pub version: u32,
    /// When it was saved.
    pub saved: Timestamp,
    /// The version it was edited from.
    pub parent: Option<u32>,
    /// Why.
    pub reason: String,
    /// Batch size on its sheet, g, as decimal text.
    pub size_g: String,
    /// Its lines, with the lot each names.
    pub lines: Vec<TrialLine>,
}

/// One trial.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TrialView {
    /// Identity.
    pub id: Id<Trial>,
    /// Number.
    pub number: u32,
    /// Version that was made.
    pub version: u32,
    /// The day it was made, ISO.
    pub made: String,
    /// Who entered it.
    pub who: String,
    /// When it was entered.
    pub when: Timestamp,
    /// Number of the trial it was copied from.
    pub parent: Option<u32>,
    /// What was changed against it, in the person's words.
    pub changed: String,
    /// Batch size as typed.
    pub batch_size: Option<BatchSize>,
    /// How it was made.
    pub process: String,
    /// Lines with their lots and grams.
    pub lines: Vec<TrialLine>,
    /// What differs from the trial it was copied from, found by laying both side by side.
    pub changes: Vec<ChangeSince>,
    /// What is predicted for it.
    pub prediction: Prediction,
    /// What was read, in order.
    pub readings: Vec<Read>,
    /// What was seen, in order.
    pub observations: Vec<Observed>,
    /// Flow curves measured, in order.
    pub curves: Vec<CurveRead>,
    /// What the viscosities read on it taught about its thickeners.
    pub taught: Vec<FlowLesson>,
}

/// One line of a trial.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct TrialLine {
    /// Position in the version, from 0.
    pub line: usize,
    /// Phase.
    pub phase: String,
    /// Raw material as the line names it.
    pub material: String,
    /// Key of its record; empty where there is none.
    pub key: String,
    /// Amount as typed (`5 %`, `q.s. to 100`).
    pub amount: String,
    /// Grams for the batch of the trial; none when it cannot be weighed.
    pub grams: Option<Outcome>,
    /// The same as decimal text, with the decimals of the balance.
    pub exact: String,
    /// Lot that was taken; empty when none is named.
    pub lot: String,
    /// Assay of that lot, percent, as typed; empty when it is not on file.
    pub lot_assay: String,
    /// What is to be known of that lot: not on file, expired, to be tested again.
    pub lot_remark: String,
}

/// Something that differs from the trial before.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChangeSince {
    /// What.
    pub what: String,
    /// In the trial it was copied from; empty where it was not there.
    pub was: String,
    /// In this one; empty where it is gone.
    pub now: String,
}

/// What is predicted for a trial, from the version that was made and the lots that were taken.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Prediction {
    /// pH of the product as it is, 25 C.
    pub ph: Option<Outcome>,
    /// pH of 10 % in water.
    pub ten_percent: Option<Outcome>,
    /// pH after standing open to the air, where that differs.
    pub in_air: Option<Outcome>,
    /// Density, 25 C.
    pub density: Option<Outcome>,
    /// Viscosity as the brief speaks of it, from the trials before this one, and how that is meant.
    pub viscosity: Option<Outcome>,
    /// Spindle and speed, or the shear rate, that the viscosity is for.
    pub viscosity_for: String,
    /// The line that is solved for a pH.
    pub aim: Option<Aim>,
    /// Lots whose assay went into it (`Mandelic acid: MA-2608-14, 99.2 %`).
    pub with_lots: Vec<String>,
    /// Code of the batch whose weighings it rests on; none where the version itself is taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_weighed: Option<String>,
    /// Water that went off and was not given back, percent of what went in, as decimal text: it is counted with.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub water_lost_percent: Option<String>,
    /// Why nothing is predicted.
    pub refused: Option<String>,
}

/// A line that is solved for a pH.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Aim {
    /// Raw material.
    pub material: String,
    /// pH aimed at, as typed.
    pub ph: String,
    /// What that means for a reading of the pH.
    pub words: String,
}

/// A reading as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Read {
    /// Identity.
    pub id: Id<Reading>,
    /// Number on the trial.
    pub number: u32,
    /// What was kept.
    #[serde(flatten)]
    pub reading: Reading,
    /// Name of what was read.
    pub name: String,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Number of the entry it corrects.
    pub corrects: Option<u32>,
    /// What struck it out.
    pub struck: Option<Struck>,
    /// How it stands to prediction and target; none for a struck one.
    pub beside: Option<Beside>,
}

/// An observation as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Observed {
    /// Identity.
    pub id: Id<Observation>,
    /// Number on the trial.
    pub number: u32,
    /// What was seen.
    pub text: String,
    /// What the photo shows.
    pub shows: String,
    /// Identity of the record whose photo it is: its own, or that of the entry it corrects.
    pub photo: Option<Id<Observation>>,
    /// Media type of the photo.
    pub media: Option<MediaType>,
    /// What was taken out of the photo's file.
    pub taken_out: Vec<String>,
    /// Who entered it.
    pub who: String,
    /// When.
    pub when: Timestamp,
    /// Number of the entry it corrects.
    pub corrects: Option<u32>,
    /// It only takes back the entry it corrects.
    pub withdrawn: bool,
    /// What struck it out.
    pub struck: Option<Struck>,
}

/// Lays the trials of a formula out.
#[must_use]
pub fn trial_book(
    facts: &Facts,
    day: Date,
    market: &str,
    records: &TrialRecords,
    flow: &FlowBook,
) -> TrialBook {
    let desk = Desk { facts, day, market, records, flow };
    let made: Vec<Made> = records.trials.iter().map(|trial| desk.made(trial)).collect();
    let trials: Vec<TrialView> = (0..made.len()).map(|at| desk.view(at, &made)).collect();
    let sources = citations_in(facts, &serde_json::to_value(&trials).unwrap_or_default());
    let newest =
        records.versions.last().and_then(|version| formula_file::read(FILE, &version.what.text).ok());
    let versions: Vec<VersionBrief> =
        records.versions.iter().rev().map(|version| desk.brief(version)).collect();
    TrialBook {
        tree: tree(&trials, &versions),
        formula: records.formula.id.to_string(),
        name: newest
            .map(|file| file.sheet.product.name)
            .filter(|name| !name.trim().is_empty())
            .unwrap_or_else(|| records.formula.what.name.clone()),
        versions,
        trials,
        sources,
    }
}

pub(super) struct Desk<'a> {
    pub(super) facts: &'a Facts,
    pub(super) day: Date,
    pub(super) market: &'a str,
    pub(super) records: &'a TrialRecords,
    pub(super) flow: &'a FlowBook,
}

/// The sheet of a trial: the version that was made, with the lots that were taken and their assays.
pub(super) struct SheetMade {
    pub(super) sheet: Sheet,
    lines: Vec<TrialLine>,
    with_lots: Vec<String>,
    /// Code of the batch whose weighings it follows.
    batch: Option<String>,
    /// Water that went off and was not given back, percent of what went in.
    lost_percent: Decimal,
}

/// What a trial was made of.
pub(super) struct Made {
    target: Option<Target>,
    lines: Vec<TrialLine>,
    prediction: Prediction,
}

impl SheetMade {
    /// Its lines with their lots, in the order of the sheet.
    pub(super) fn lines(&self) -> &[TrialLine] {
        &self.lines
    }

    /// Whether it follows the weighings of a batch.
    pub(super) fn as_weighed(&self) -> bool {
        self.batch.is_some()
    }

    /// Water that went off and was not given back, percent of what went in.
    pub(super) fn lost_percent(&self) -> Decimal {
        self.lost_percent
    }
}

impl<'a> Desk<'a> {
    pub(super) fn version(&self, number: u32) -> Option<&Kept<FormulaVersion>> {
        self.records.versions.iter().find(|version| version.number == number)
    }

    fn brief(&self, version: &Kept<FormulaVersion>) -> VersionBrief {
        let file = formula_file::read(FILE, &version.what.text).ok();
        VersionBrief {
            version: version.number,
            saved: version.when,
            parent: version.what.parent,
            reason: version.what.reason.clone(),
            size_g: file.as_ref().map(|file| file.sheet.batch.size_g.to_string()).unwrap_or_default(),
            lines: file.map(|file| self.lines(&file, |line, _| line.lot.clone())).unwrap_or_default(),
        }
    }

    /// The lines of a version with the lots that `lot` names for them.
    fn lines(&self, file: &FormulaFile, lot: impl Fn(&Line, usize) -> Option<String>) -> Vec<TrialLine> {
        let facts = facts_for(self.facts, FILE, file);
        let names = facts.as_ref().map_or(&self.facts.names, |facts| &facts.names);
        file.sheet
            .lines()
            .enumerate()
            .map(|(at, (phase, line))| {
                let key = names.resolve_material(&line.material).map(str::to_owned).unwrap_or_default();
                let lot = lot(line, at).unwrap_or_default();
                let found = lot_of(&self.records.lots, &key, &lot);
                let remark = match found {
                    _ if lot.is_empty() => String::new(),
                    Some(found) => dates(&found.what, self.day),
                    None => "Not on file.".to_owned(),
                };
                let bare = Line {
                    assay_percent: None,
                    lot: None,
                    tolerance_percent: None,
                    note: None,
                    ..line.clone()
                };
                TrialLine {
                    line: at,
                    phase: file.sheet.phases.get(phase).map(|phase| phase.name.clone()).unwrap_or_default(),
                    material: line.material.clone(),
                    key,
                    amount: amount_words(&bare, false),
                    grams: None,
                    exact: String::new(),
                    lot_assay: found
                        .and_then(|found| found.what.assay_percent.as_ref())
                        .map(|assay| assay.typed.clone())
                        .unwrap_or_default(),
                    lot_remark: remark,
                    lot,
                }
            })
            .collect()
    }

    pub(super) fn made(&self, trial: &Kept<Trial>) -> Made {
        let refused = |why: String| Made {
            target: None,
            lines: Vec::new(),
            prediction: Prediction { refused: Some(why), ..Prediction::default() },
        };
        let (SheetMade { sheet, mut lines, with_lots, batch, lost_percent }, facts) =
            match self.sheet_made(trial) {
                Ok(made) => made,
                Err(why) => return refused(why),
            };
        let market = market_of(&sheet, self.market, &facts.rules);
        let prediction = match assess_sheet(&facts, self.day, market, &sheet, None) {
            Ok(assessed) => {
                for (line, weighed) in lines.iter_mut().zip(&assessed.weighing) {
                    line.grams = Some(weighed.reading.clone());
                    line.exact = weighed.grams.to_string();
                }
                let foreseen = self.flow.of(trial.id).and_then(|flow| flow.product.clone());
                let lost = Some(lost_percent).filter(|lost| !lost.is_zero());
                Prediction {
                    as_weighed: batch,
                    water_lost_percent: lost.map(|lost| lost.round_dp(2).normalize().to_string()),
                    ..prediction(&assessed, &sheet, with_lots, foreseen)
                }
            }
            Err(list) => Prediction {
                refused: Some(list.first().map(|one| one.what.clone()).unwrap_or_default()),
                ..Prediction::default()
            },
        };
        Made { target: Some(sheet.target), lines, prediction }
    }

    /// The sheet of a trial, and the facts it is read with.
    pub(super) fn sheet_made(&self, trial: &Kept<Trial>) -> Result<(SheetMade, Cow<'a, Facts>), String> {
        let first = |list: Vec<Diagnostic>| list.into_iter().next().map(|one| one.what).unwrap_or_default();
        let Some(version) = self.version(trial.what.version) else {
            return Err(format!("version {} is not in the workspace", trial.what.version));
        };
        let file = formula_file::read(FILE, &version.what.text).map_err(first)?;
        let facts = facts_for(self.facts, FILE, &file).map_err(first)?;
        let taken =
            |at: usize| trial.what.lots.iter().find(|taken| taken.line == at).map(|taken| taken.code.clone());
        let lines = self.lines(&file, |line, at| taken(at).or_else(|| line.lot.clone()));
        let mut sheet = file.sheet;
        if let Some(grams) = trial.what.batch_size.as_ref().and_then(size_in_grams) {
            sheet.batch.size_g = grams;
        }
        let with_lots = self.take_assays(&mut sheet, &lines);
        let sheet_lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
        for (line, made) in sheet_lines.zip(&lines) {
            line.lot = Some(made.lot.clone()).filter(|lot| !lot.is_empty());
        }
        let mut made = SheetMade { sheet, lines, with_lots, batch: None, lost_percent: Decimal::ZERO };
        self.as_weighed(trial.id, &facts, &mut made);
        self.as_dried(trial.id, &mut made);
        Ok((made, facts))
    }

    /// Where somebody wrote down how much water went off and was not given back: what is left has more of everything else. A batch whose vessel
    /// was weighed knows it already; where something else than water is q.s. nothing is taken off.
    fn as_dried(&self, trial: Id<Trial>, made: &mut SheetMade) {
        let tops_up_water =
            made.sheet.lines().zip(&made.lines).any(|((_, line), shown)| {
                matches!(line.amount, Amount::Remainder(_)) && shown.key == "water"
            });
        if !made.lost_percent.is_zero() || !tops_up_water {
            return;
        }
        let readings = self.records.readings.get(&trial).map_or(&[][..], Vec::as_slice);
        let said = in_force(readings)
            .into_iter()
            .rev()
            .find(|one| one.what.quantity == WATER_LOST && one.what.unit.trim() == "%");
        let percent = said.filter(|one| !one.what.withdrawn).and_then(|one| one.what.value.value);
        if let Some(percent) =
            percent.filter(|percent| *percent > Decimal::ZERO && *percent <= Decimal::from(50))
        {
            with_water_lost(&mut made.sheet, percent);
            made.lost_percent = percent;
        }
    }

    /// Where a batch was made step by step and every line is in: the shares it really has, and the lots it was really weighed from.
    fn as_weighed(&self, trial: Id<Trial>, facts: &Facts, made: &mut SheetMade) {
        let Some((batch, entries)) = self.records.batches.get(&trial) else { return };
        let batch = BatchMade::of(facts, &batch.what, entries, &self.records.lots);
        let Some(sheet) = batch.sheet(&made.sheet) else { return };
        made.lost_percent = batch.water_lost_percent();
        for (line, shown) in sheet.lines().map(|(_, line)| line).zip(&mut made.lines) {
            if let Some(lot) = batch.lots.iter().find(|lot| lot.line == shown.line + 1) {
                shown.lot.clone_from(&lot.code);
                if let Some(assay) = lot.assay_percent {
                    let words = format!("{}: {}, {assay} %", line.material, lot.code);
                    made.with_lots.retain(|with| !with.starts_with(&format!("{}: ", line.material)));
                    made.with_lots.push(words);
                }
            }
        }
        (made.sheet, made.batch) = (sheet, Some(batch.code));
    }

    /// Lets the assay of each lot on file decide where the line itself gives none, and names those lots.
    fn take_assays(&self, sheet: &mut Sheet, lines: &[TrialLine]) -> Vec<String> {
        let mut with = Vec::new();
        let sheet_lines = sheet.phases.iter_mut().flat_map(|phase| &mut phase.lines);
        for (line, shown) in sheet_lines.zip(lines) {
            let has_active =
                self.facts.library.materials.get(&shown.key).is_some_and(|record| record.active.is_some());
            let lot = lot_of(&self.records.lots, &shown.key, &shown.lot)
                .filter(|_| has_active && line.assay_percent.is_none());
            let assay = lot.and_then(|lot| lot.what.assay_percent.as_ref()?.value);
            if let (Some(lot), Some(assay)) =
                (lot, assay.filter(|assay| *assay > Decimal::ZERO && *assay <= Decimal::ONE_HUNDRED))
            {
                line.assay_percent = Some(assay);
                with.push(format!("{}: {}, {assay} %", line.material, lot.what.code));
            }
        }
        with
    }

    fn view(&self, at: usize, all: &[Made]) -> TrialView {
        let records = self.records;
        let (trial, made) = (&records.trials[at], &all[at]);
        let parent = trial.what.parent.and_then(|id| records.trials.iter().position(|other| other.id == id));
        let parent = parent.map(|at| (&records.trials[at], &all[at]));
        let none = Vec::new();
        let (readings, seen) = (records.readings.get(&trial.id), records.observations.get(&trial.id));
        TrialView {
            id: trial.id,
            number: trial.number,
            version: trial.what.version,
            made: trial
                .what
                .made
                .unwrap_or_else(|| jiff::tz::Offset::UTC.to_datetime(trial.when).date())
                .to_string(),
            who: trial.who.clone(),
            when: trial.when,
            parent: parent.map(|(parent, _)| parent.number),
            changed: trial.what.changed.clone(),
            batch_size: trial.what.batch_size.clone(),
            process: trial.what.process.clone(),
            lines: made.lines.clone(),
            changes: parent.map(|parent| self.changes(parent, (trial, made))).unwrap_or_default(),
            prediction: made.prediction.clone(),
            readings: self.read(trial.id, readings.unwrap_or(&Vec::new()), made),
            observations: observed(seen.unwrap_or(&none)),
            curves: records.curves.get(&trial.id).map(|curves| curves_read(curves)).unwrap_or_default(),
            taught: self.flow.of(trial.id).map(|flow| flow.lessons.clone()).unwrap_or_default(),
        }
    }

    fn read(&self, trial: Id<Trial>, readings: &[Kept<Reading>], made: &Made) -> Vec<Read> {
        let flow = self.flow.of(trial);
        let strikes = struck(readings);
        readings
            .iter()
            .map(|reading| {
                let strike = strikes.get(&reading.id);
                let stands = strike.is_none() && !reading.what.withdrawn;
                Read {
                    id: reading.id,
                    number: reading.number,
                    name: crate::workbench::readings::name_of(&reading.what.quantity).to_owned(),
                    who: reading.who.clone(),
                    when: reading.when,
                    corrects: corrects(readings, reading),
                    struck: strike.cloned(),
                    beside: stands.then(|| {
                        let foreseen = flow.and_then(|flow| flow.readings.get(&reading.id));
                        beside(&reading.what, &made.prediction, foreseen, made.target.as_ref())
                    }),
                    reading: reading.what.clone(),
                }
            })
            .collect()
    }

    /// What differs between a trial and the one it was copied from.
    pub(super) fn changes(
        &self,
        (parent, before): (&Kept<Trial>, &Made),
        (trial, made): (&Kept<Trial>, &Made),
    ) -> Vec<ChangeSince> {
        let mut changes = self.version_changes(parent.what.version, trial.what.version);
        for line in &made.lines {
            let same = |other: &&TrialLine| other.material == line.material && other.phase == line.phase;
            // A lot that the formula line itself names is told with the line.
            let told =
                changes.iter().any(|change| change.what == line.material && change.now.contains(&line.lot));
            if let Some(before) =
                before.lines.iter().find(same).filter(|before| before.lot != line.lot && !told)
            {
                let what = format!("lot of {}", line.material);
                changes.push(ChangeSince { what, was: before.lot.clone(), now: line.lot.clone() });
            }
        }
        let size = |size: Option<&BatchSize>| {
            size.map(|size| format!("{} {}", size.size.typed, size.unit)).unwrap_or_default()
        };
        let texts = [
            ("batch size", size(parent.what.batch_size.as_ref()), size(trial.what.batch_size.as_ref())),
            ("how it was made", parent.what.process.clone(), trial.what.process.clone()),
        ];
        for (what, was, now) in texts {
            if was != now {
                changes.push(ChangeSince { what: what.to_owned(), was, now });
            }
        }
        changes
    }

    fn version_changes(&self, left: u32, right: u32) -> Vec<ChangeSince> {
        let (Some(older), Some(newer)) = (self.version(left), self.version(right)) else { return Vec::new() };
        if left == right {
            return Vec::new();
        }
        let names = (format!("version {left}"), format!("version {right}"));
        let found = line_difference(
            self.facts,
            self.day,
            self.market,
            (&names.0, &older.what.text),
            (&names.1, &newer.what.text),
        );
        let Ok(found) = found else {
            return vec![ChangeSince {
                what: "version".to_owned(),
                was: left.to_string(),
                now: right.to_string(),
            }];
        };
        let moved = |was: &str, now: &str| if was == now { format!("{now}, moved") } else { now.to_owned() };
        found
            .into_iter()
            .filter(|line| line.change != Change::Same)
            .map(|line| ChangeSince {
                now: moved(&line.left, &line.right),
                what: line.material,
                was: line.left,
            })
            .collect()
    }
}

fn prediction(
    assessed: &SheetAssessed,
    sheet: &Sheet,
    with_lots: Vec<String>,
    foreseen: Option<(String, Outcome)>,
) -> Prediction {
    let (viscosity_for, viscosity) = foreseen.unzip();
    let (ph, composition) = (&assessed.assessment.ph, &assessed.assessment.composition);
    let aim = sheet.lines().find_map(|(_, line)| match line.amount {
        Amount::ToPh(ph) => Some(Aim {
            material: line.material.clone(),
            ph: ph.to_string(),
            words: format!(
                "{} is solved to bring it to pH {ph}: a reading tells where the additions ended rather than how well the formula is known.",
                line.material
            ),
        }),
        _ => None,
    });
    Prediction {
        ph: Some(ph.neat.clone()),
        ten_percent: Some(ph.ten_percent.clone()),
        in_air: ph.in_air.clone(),
        density: Some(composition.density.clone()),
        viscosity,
        viscosity_for: viscosity_for.unwrap_or_default(),
        aim,
        with_lots,
        as_weighed: None,
        water_lost_percent: None,
        refused: None,
    }
}

fn observed(seen: &[Kept<Observation>]) -> Vec<Observed> {
    let strikes = struck(seen);
    let by_id: BTreeMap<Id<Observation>, &Kept<Observation>> = seen.iter().map(|one| (one.id, one)).collect();
    seen.iter()
        .map(|one| {
            // A correction changes the words; the photo stays where it was kept.
            let mut owner = one;
            while owner.what.photo.is_none()
                && let Some(earlier) =
                    owner.corrects.as_ref().and_then(|correction| by_id.get(&correction.supersedes))
            {
                owner = earlier;
            }
            let with_photo = owner.what.photo.is_some() && !one.what.withdrawn;
            Observed {
                id: one.id,
                number: one.number,
                text: one.what.text.clone(),
                shows: if one.what.shows.is_empty() {
                    owner.what.shows.clone()
                } else {
                    one.what.shows.clone()
                },
                photo: with_photo.then_some(owner.id),
                media: owner.what.photo.filter(|_| with_photo),
                taken_out: owner.what.taken_out.clone(),
                who: one.who.clone(),
                when: one.when,
                corrects: corrects(seen, one),
                withdrawn: one.what.withdrawn,
                struck: strikes.get(&one.id).cloned(),
            }
        })
        .collect()
}
