//! What was found, told as results and in words.

use super::BetterError;
use super::asked::{Asked, Laid};
use super::pot::Pot;
use super::quantity::Quantity;
use super::usual::{NamedReading, usual};
use crate::assess::{Assessed, Inquiry, assess};
use crate::finding::{Concerns, Finding, Gravity};
use crate::findings::digits;
use levigate_formula::sheet::{Amount, Sheet};
use levigate_measure::search::conflict::Conflict;
use levigate_measure::search::relax::{Binding, Bound};
use levigate_measure::search::{Answers, Front, Point, Side};
use levigate_measure::{Grade, Note, Outcome};
use serde::Serialize;

/// The case of the search.
const PROOF: &str = "tests/tests/search.rs";

/// A gain below this share of the aim is not told.
const WORTH_SAYING: f64 = 1e-3;

/// The better formula.
#[derive(Clone, Debug, Serialize)]
pub struct BetterReading {
    /// Product.
    pub product: String,
    /// Aims in words.
    pub aims: Vec<String>,
    /// The formula as typed; absent where it cannot be assessed.
    pub before: Option<AnswerReading>,
    /// Answers, the best first; the nearest alone where the wishes cannot be had together.
    pub answers: Vec<AnswerReading>,
    /// What binds the best, most gain first.
    pub binds: Vec<BindingReading>,
    /// Wishes that contradict each other.
    pub conflict: Option<ConflictReading>,
    /// Aims against each other.
    pub front: Option<FrontReading>,
    /// Formulas that were solved.
    pub read: Outcome,
    /// Seed.
    pub seed: u64,
    /// What must be known.
    pub notes: Vec<Note>,
    /// Sheets of the answers, in their order.
    #[serde(skip)]
    pub sheets: Vec<Sheet>,
}

/// One answer.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerReading {
    /// What it is, in words.
    pub words: String,
    /// Aims.
    pub aims: Vec<Outcome>,
    /// Wishes.
    pub wishes: Vec<WishReading>,
    /// pH, viscosity, cost and others, whatever is asked.
    pub readings: Vec<NamedReading>,
    /// Lines in the order of the formula, also those that are out.
    pub lines: Vec<AnswerLine>,
    /// Findings that the formula as typed has not.
    pub gained: Vec<FindingBrief>,
    /// Findings of the formula as typed that are gone.
    pub lost: Vec<FindingBrief>,
}

/// One line of an answer.
#[derive(Clone, Debug, Serialize)]
pub struct AnswerLine {
    /// Position from 0.
    pub line: usize,
    /// Raw material as typed.
    pub material: String,
    /// Percent as supplied.
    pub percent: Outcome,
    /// `moved`, `kept`, `out`, `in`, `remainder`, `solved`.
    pub what: &'static str,
    /// The level as the formula types it, with its unit.
    pub typed: String,
}

/// A wish and how it is kept.
#[derive(Clone, Debug, Serialize)]
pub struct WishReading {
    /// The wish in words.
    pub wish: String,
    /// What it is held against.
    pub reading: Outcome,
    /// The value keeps it.
    pub kept: bool,
    /// The interval of the value reaches beyond the limit.
    pub unsure: bool,
}

/// A finding in brief.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingBrief {
    /// Code.
    pub code: String,
    /// Gravity.
    pub gravity: Gravity,
    /// What was found.
    pub found: String,
}

/// What binds, and what giving way would buy.
#[derive(Clone, Debug, Serialize)]
pub struct BindingReading {
    /// The bound in words.
    pub bound: String,
    /// By how much it was moved.
    pub moved: Outcome,
    /// What the aim gains.
    pub gain: Outcome,
    /// All of it in one sentence.
    pub words: String,
}

/// Wishes that contradict each other.
#[derive(Clone, Debug, Serialize)]
pub struct ConflictReading {
    /// The wishes.
    pub wishes: Vec<String>,
    /// It is proved, not only that nothing was found.
    pub proved: bool,
    /// No fewer wishes contradict each other; as sure as `proved` says.
    pub smallest: bool,
    /// All of it in words.
    pub words: String,
}

/// Aims against each other.
#[derive(Clone, Debug, Serialize)]
pub struct FrontReading {
    /// What each step along the front costs and buys.
    pub steps: Vec<Step>,
    /// Largest gap between neighbours, percent of the spread of an aim.
    pub widest_gap: Outcome,
}

/// A step from one answer of the front to the next.
#[derive(Clone, Debug, Serialize)]
pub struct Step {
    /// What every aim does.
    pub changes: Vec<Outcome>,
    /// In words.
    pub words: String,
}

pub(super) struct Teller<'t, 'a> {
    pub(super) inquiry: &'t Inquiry<'a>,
    pub(super) asked: &'t Asked,
    pub(super) laid: &'t Laid,
    pub(super) pot: &'t Pot<'t, 'a>,
}

type Told = Result<BetterReading, BetterError>;

impl Teller<'_, '_> {
    pub(super) fn answers(&self, found: Answers, binds: Vec<Binding>) -> Told {
        let mut reading = self.empty()?;
        for (place, point) in std::iter::once(&found.best).chain(&found.others).enumerate() {
            let words =
                if place == 0 { "best found".to_owned() } else { self.difference(&found.best, point) };
            self.add(&mut reading, point, words)?;
        }
        let unit = reading.answers.first().and_then(|best| best.aims.first()).map(|aim| aim.unit.to_string());
        // What buys next to nothing is not worth a sentence.
        let worth = |bind: &&Binding| bind.gain >= WORTH_SAYING * found.best.aim.abs();
        reading.binds = binds
            .iter()
            .filter(worth)
            .map(|bind| self.binding(&found.best, bind, unit.as_deref().unwrap_or("")))
            .collect();
        if found.straight && found.choices.1 {
            reading.notes.push(Note::new("straight", "Every reading asked for is straight in the levels, and every choice of lines was looked at: no formula on these steps is better."));
        } else {
            reading.notes.push(Note::new(
                "good",
                "The best that was found, not surely the best there is; the same seed gives the same answer.",
            ));
        }
        if !found.choices.1 {
            reading.notes.push(Note::new(
                "choices",
                format!(
                    "{} choices of lines were tried, the most promising first; there are more.",
                    found.choices.0
                ),
            ));
        }
        if found.ended {
            reading
                .notes
                .push(Note::new("ended", "It was ended before its time: more time may find better."));
        }
        Ok(reading)
    }

    pub(super) fn against(&self, found: Answers, conflict: Option<Conflict>) -> Told {
        let mut reading = self.empty()?;
        let nearest = conflict.as_ref().map_or(&found.best, |conflict| &conflict.nearest);
        self.add(&mut reading, nearest, "nearest to all wishes".to_owned())?;
        reading.conflict = Some(self.conflict(conflict.as_ref(), found.straight));
        Ok(reading)
    }

    pub(super) fn no_front(&self, conflict: Option<Conflict>) -> Told {
        let mut reading = self.empty()?;
        if let Some(conflict) = &conflict {
            self.add(&mut reading, &conflict.nearest, "nearest to all wishes".to_owned())?;
        }
        reading.conflict = Some(self.conflict(conflict.as_ref(), false));
        Ok(reading)
    }

    pub(super) fn front(&self, found: Front) -> Told {
        let mut reading = self.empty()?;
        for (place, (point, _)) in found.points.iter().enumerate() {
            self.add(
                &mut reading,
                point,
                if place == 0 {
                    format!("{} as good as it gets", self.asked.aims[0].name)
                } else {
                    self.difference(&found.points[place - 1].0, point)
                },
            )?;
        }
        let steps = reading.answers.windows(2).map(|pair| self.step(&pair[0], &pair[1])).collect();
        reading.front = Some(FrontReading {
            steps,
            widest_gap: Outcome::new(
                100.0 * found.widest_gap,
                "% of the spread",
                Grade::Computed,
                "largest gap between neighbours in one aim",
            )
            .proved_by(PROOF),
        });
        let words = if found.points.len() == 1 {
            "One formula is best in every aim: they do not stand against each other here."
        } else {
            "None of these is better than another in every aim. Between two neighbours there may be more; a corner may hide in the largest gap."
        };
        reading.notes.push(Note::new("front", words));
        if found.ended {
            reading.notes.push(Note::new("ended", "It was ended before its time: the front is not whole."));
        }
        Ok(reading)
    }

    fn empty(&self) -> Told {
        let all: Vec<usize> = (0..self.inquiry.sheet.lines().count()).collect();
        let before = assess(self.inquiry).ok().map(|assessed| {
            let values = self.values(&assessed, &all);
            self.answer(self.inquiry.sheet, &all, &assessed, &values, "as typed".to_owned())
        });
        #[expect(clippy::cast_precision_loss, reason = "a count of formulas")]
        let read =
            Outcome::new(self.pot.count() as f64, "", Grade::Computed, "formulas settled, solved and read");
        let aims = self.asked.aims.iter();
        Ok(BetterReading {
            product: self.inquiry.sheet.product.name.clone(),
            aims: aims
                .map(|aim| format!("{} {}", if aim.most { "most" } else { "least" }, aim.name))
                .collect(),
            before,
            answers: Vec::new(),
            binds: Vec::new(),
            conflict: None,
            front: None,
            read,
            seed: self.asked.seed,
            notes: Vec::new(),
            sheets: Vec::new(),
        })
    }

    fn add(&self, reading: &mut BetterReading, point: &Point, words: String) -> Result<(), BetterError> {
        let values: Vec<f64> =
            point.readings.iter().zip(&self.laid.quantities).map(|(value, of)| of.outer(*value)).collect();
        let mut told = self
            .pot
            .assessed(&point.at, |sheet, kept, assessed| {
                (self.answer(sheet, kept, assessed, &values, words), sheet.clone(), findings(assessed, kept))
            })
            .map_err(BetterError::Assess)?;
        if let Ok(before) = assess(self.inquiry) {
            let all: Vec<usize> = (0..before.settled.lines.len()).collect();
            let before = findings(&before, &all);
            told.0.gained = beside(&told.2, &before);
            told.0.lost = beside(&before, &told.2);
        }
        reading.answers.push(told.0);
        reading.sheets.push(told.1);
        Ok(())
    }

    /// Values that no outcome of an assessment holds, for the formula as typed.
    fn values(&self, assessed: &Assessed<'_>, lines: &[usize]) -> Vec<f64> {
        let solved = super::Solved::new(
            self.inquiry.sheet,
            (&assessed.settled, &assessed.composition, &assessed.mixture),
            lines,
        );
        let stops =
            assessed.assessment.findings.iter().filter(|finding| finding.gravity == Gravity::Stop).count();
        #[expect(clippy::cast_precision_loss, reason = "a count of findings")]
        let value = |of: &Quantity| {
            if of.needs_all() { stops as f64 } else { of.of(self.inquiry, &solved).unwrap_or(f64::NAN) }
        };
        self.laid.quantities.iter().map(value).collect()
    }

    fn told(&self, of: &Quantity, assessed: &Assessed<'_>, kept: &[usize], values: &[f64]) -> Outcome {
        let place = self.laid.quantities.iter().position(|known| known == of);
        of.told(assessed, kept, place.map_or(f64::NAN, |place| values[place]))
    }

    fn answer(
        &self,
        sheet: &Sheet,
        kept: &[usize],
        assessed: &Assessed<'_>,
        values: &[f64],
        words: String,
    ) -> AnswerReading {
        let aims = self.asked.aims.iter().map(|aim| self.told(&aim.of, assessed, kept, values)).collect();
        let wishes = self.asked.wishes.iter().zip(&self.laid.problem.wishes).map(|(asked, wish)| {
            let reading = self.told(&asked.on.of, assessed, kept, values);
            let value =
                self.laid.quantities.iter().position(|of| *of == asked.on.of).map(|place| values[place]);
            let kept = value.is_some_and(|value| wish.missed(asked.on.of.inner(value)) <= 1e-6);
            let unsure = asked.least.zip(reading.low).is_some_and(|(least, low)| low < least)
                || asked.most.zip(reading.high).is_some_and(|(most, high)| high > most);
            WishReading { wish: self.wish_words(asked, None), reading, kept, unsure }
        });
        let typed: Vec<&levigate_formula::sheet::Line> = sheet.lines().map(|(_, line)| line).collect();
        let lines = self.inquiry.sheet.lines().enumerate().map(|(line, (_, before))| {
            let own = kept.iter().position(|kept| *kept == line);
            let percent = own.map_or(0.0, |own| assessed.settled.lines[own].percent);
            let now = own.map(|own| &typed[own].amount);
            let was_out = matches!(before.amount, Amount::Percent(percent) | Amount::ActivePercent(percent) if percent.is_zero());
            let what = match now {
                None if was_out => "out",
                None => "taken out",
                Some(Amount::Remainder(_)) => "remainder",
                Some(_) if was_out => "taken in",
                Some(Amount::ToPh(ph)) if before.amount == Amount::ToPh(*ph) => "solved",
                Some(now) if *now == before.amount => "kept",
                Some(_) => "moved",
            };
            AnswerLine {
                line,
                material: before.material.clone(),
                percent: Outcome::new(percent, "% w/w", Grade::Computed, "settled and solved with the levels found")
                    .proved_by("exact decimal"),
                what,
                typed: now.map_or_else(String::new, level_words),
            }
        });
        AnswerReading {
            words,
            aims,
            wishes: wishes.collect(),
            readings: usual(&assessed.assessment),
            lines: lines.collect(),
            gained: Vec::new(),
            lost: Vec::new(),
        }
    }

    /// How another answer differs from the best.
    fn difference(&self, best: &Point, other: &Point) -> String {
        let lines: Vec<_> = self.inquiry.sheet.lines().map(|(_, line)| line).collect();
        let mut moved: Vec<(f64, String)> = Vec::new();
        for ((one, part), (from, to)) in
            self.asked.moves.iter().zip(&self.laid.problem.space.parts).zip(best.at.iter().zip(&other.at))
        {
            let name = &lines[one.line].material;
            let words = match (*from > 0.0, *to > 0.0) {
                (true, false) => format!("without {name}"),
                (false, true) => format!("with {name}"),
                _ if (from - to).abs() <= 1e-9 => continue,
                _ if matches!(lines[one.line].amount, Amount::ToPh(_)) => {
                    format!("pH {} instead of {}", digits(*to), digits(*from))
                }
                _ => {
                    format!("{} {name}", if to > from { "more" } else { "less" })
                }
            };
            let weight = if (*from > 0.0) == (*to > 0.0) {
                (from - to).abs() / (part.high - part.low).max(1e-9)
            } else {
                10.0
            };
            moved.push((weight, words));
        }
        moved.sort_by(|a, b| b.0.total_cmp(&a.0));
        let words: Vec<String> = moved.into_iter().take(4).map(|(_, words)| words).collect();
        if words.is_empty() { "another".to_owned() } else { words.join(", ") }
    }

    fn wish_words(&self, asked: &super::WishAsked, side: Option<Side>) -> String {
        let unit = asked.on.of.unit();
        let unit = if unit.is_empty() { String::new() } else { format!(" {unit}") };
        let name = &asked.on.name;
        match (asked.least, asked.most, side) {
            (Some(least), Some(most), None) => {
                format!("{name} between {} and {}{unit}", digits(least), digits(most))
            }
            (Some(least), _, None | Some(Side::Low)) => format!("{name} at least {}{unit}", digits(least)),
            (_, Some(most), _) => format!("{name} at most {}{unit}", digits(most)),
            (..) => name.clone(),
        }
    }

    fn binding(&self, best: &Point, bind: &Binding, unit: &str) -> BindingReading {
        let (bound, moved, moved_unit) = match bind.bound {
            Bound::Wish(place, side) => {
                let asked = &self.asked.wishes[place];
                let of = &asked.on.of;
                let limit = if side == Side::Low { asked.least } else { asked.most }.unwrap_or(0.0);
                let moved = if of.is_logarithmic() { limit * bind.moved } else { bind.moved };
                (self.wish_words(asked, Some(side)), moved, of.unit())
            }
            Bound::Part(place, side) => {
                let one = &self.asked.moves[place];
                let line = self.inquiry.sheet.lines().nth(one.line).map(|(_, line)| line);
                let is_ph = line.is_some_and(|line| matches!(line.amount, Amount::ToPh(_)));
                let (word, limit) = match side {
                    Side::Low => ("at least", one.low),
                    Side::High => ("at most", one.high),
                };
                let name = line.map_or("", |line| line.material.as_str());
                let unit = if is_ph { "" } else { "%" };
                let of = if is_ph { format!("pH aimed at with {name}") } else { name.to_owned() };
                (
                    format!("{of} {word} {}{}{unit}", limit.normalize(), if is_ph { "" } else { " " }),
                    bind.moved,
                    unit,
                )
            }
        };
        let aim = &self.asked.aims[0];
        let place = self.laid.quantities.iter().position(|of| *of == aim.of).unwrap_or(0);
        let [now, then] = [best, &bind.then].map(|point| aim.of.outer(point.readings[place]));
        let gain = (then - now).abs();
        let spaced = |unit: &str| if unit.is_empty() { String::new() } else { format!(" {unit}") };
        let words = format!(
            "{bound}: giving way by {}{} buys {}{} {} {}",
            digits(moved),
            spaced(moved_unit),
            digits(gain),
            spaced(unit),
            if aim.most { "more" } else { "less" },
            aim.name
        );
        BindingReading {
            bound,
            moved: Outcome::new(moved, moved_unit, Grade::Computed, "limit moved outwards")
                .proved_by("as asked"),
            gain: Outcome::new(gain, unit.to_owned(), Grade::Computed, "sought again with the limit moved")
                .proved_by(PROOF),
            words,
        }
    }

    fn conflict(&self, conflict: Option<&Conflict>, straight: bool) -> ConflictReading {
        let wishes: Vec<String> = conflict
            .map(|conflict| {
                conflict
                    .wishes
                    .iter()
                    .map(|place| self.wish_words(&self.asked.wishes[*place], None))
                    .collect()
            })
            .unwrap_or_default();
        let proved = conflict.map_or(straight, |conflict| conflict.straight);
        let whole = conflict.is_none_or(|conflict| conflict.whole);
        let smallest = conflict.is_some_and(|conflict| conflict.smallest);
        let found = if proved { "cannot be had" } else { "were not found" };
        let words = match wishes.as_slice() {
            [] => "No formula in these ranges keeps all wishes.".to_owned(),
            _ if !whole => {
                "It was ended before it was clear which wishes contradict each other; no formula that keeps all of them was found so far.".to_owned()
            }
            [one] if proved => format!("This wish alone cannot be had with these lines and ranges: {one}."),
            [one] => {
                format!("This wish alone was not found to be possible with these lines and ranges: {one}.")
            }
            several => format!(
                "These {} wishes {found} together; without any one of them the others can be had: {}.{}",
                several.len(),
                several.join("; "),
                if smallest {
                    " No fewer of the wishes contradict each other."
                } else {
                    " Whether fewer of the wishes contradict each other was not settled."
                }
            ),
        };
        ConflictReading { wishes, proved, smallest, words }
    }

    fn step(&self, from: &AnswerReading, to: &AnswerReading) -> Step {
        let mut words = Vec::new();
        let mut changes = Vec::new();
        for (aim, (from, to)) in self.asked.aims.iter().zip(from.aims.iter().zip(&to.aims)) {
            let change = to.value.unwrap_or(f64::NAN) - from.value.unwrap_or(f64::NAN);
            changes.push(
                Outcome::new(change, to.unit.clone(), Grade::Computed, "difference of two answers")
                    .proved_by(PROOF),
            );
            if change != 0.0 {
                let unit = if to.unit.is_empty() { String::new() } else { format!(" {}", to.unit) };
                words.push(format!(
                    "{}{unit} {} {}",
                    digits(change.abs()),
                    if change > 0.0 { "more" } else { "less" },
                    aim.name
                ));
            }
        }
        Step { changes, words: words.join(", ") }
    }
}

/// A level as the formula types it.
fn level_words(amount: &Amount) -> String {
    match amount {
        Amount::Percent(percent) => format!("{} %", percent.normalize()),
        Amount::ActivePercent(percent) => format!("{} % active", percent.normalize()),
        Amount::Remainder(_) => "q.s. 100".to_owned(),
        Amount::ToPh(ph) => format!("to pH {}", ph.normalize()),
    }
}

/// Findings that weigh more than worth knowing, with the lines of the whole sheet they concern.
pub(crate) fn findings(assessed: &Assessed<'_>, kept: &[usize]) -> Vec<(Vec<usize>, Finding)> {
    let lines = |finding: &Finding| match &finding.concerns {
        Concerns::Lines { lines } => lines.iter().filter_map(|line| kept.get(*line).copied()).collect(),
        _ => Vec::new(),
    };
    let weighty = assessed.assessment.findings.iter().filter(|finding| finding.gravity < Gravity::Know);
    weighty.map(|finding| (lines(finding), finding.clone())).collect()
}

/// Findings of one that the other has not.
pub(crate) fn beside(one: &[(Vec<usize>, Finding)], other: &[(Vec<usize>, Finding)]) -> Vec<FindingBrief> {
    let has = |lines: &[usize], finding: &Finding| {
        other.iter().any(|(theirs, their)| {
            their.code == finding.code && their.gravity == finding.gravity && theirs.as_slice() == lines
        })
    };
    one.iter()
        .filter(|(lines, finding)| !has(lines, finding))
        .map(|(_, finding)| FindingBrief {
            code: finding.code.to_string(),
            gravity: finding.gravity,
            found: finding.found.clone(),
        })
        .collect()
}
