//! Everything that differs between two trials as they were made: lines, lots, weights, what went off, steps, heat and stirring.

use super::book::{ChangeSince, Desk, SheetMade};
use crate::records::{BatchEntry, Did, Kept, Trial, in_force};
use crate::workbench::difference::{Change, difference};
use crate::workbench::readings::KINDS;
use levigate_formula::names::folded;
use levigate_formula::sheet::Amount;
use rust_decimal::Decimal;
use std::collections::BTreeMap;

/// Units in which a reading of a name of its own tells of the making rather than of the product: times, speeds, heat, pressure.
const UNITS_OF_MAKING: [&str; 14] =
    ["s", "min", "minutes", "h", "hours", "rpm", "1/min", "/min", "1/s", "m/s", "w", "bar", "mbar", "°c"];

impl Desk<'_> {
    /// Everything that is found to differ between two trials.
    pub(super) fn differs(&self, before: &Kept<Trial>, after: &Kept<Trial>) -> Vec<ChangeSince> {
        let (was, now) = (self.made(before), self.made(after));
        let mut found = self.changes((before, &was), (after, &now));
        found.extend(self.steps_differ(before.what.version, after.what.version));
        if let (Ok((was, _)), Ok((now, _))) = (self.sheet_made(before), self.sheet_made(after)) {
            found.extend(weights_differ(&was, &now));
        }
        found.extend(self.making_differs(before, after));
        found
    }

    /// Steps of the procedures of two versions, proposed or written.
    fn steps_differ(&self, left: u32, right: u32) -> Vec<ChangeSince> {
        let (Some(older), Some(newer)) = (self.version(left), self.version(right)) else { return Vec::new() };
        if left == right {
            return Vec::new();
        }
        let names = [left, right].map(|number| format!("version {number}"));
        let texts =
            ((names[0].as_str(), older.what.text.as_str()), (names[1].as_str(), newer.what.text.as_str()));
        let Ok(found) = difference(self.facts, self.day, self.market, texts.0, texts.1) else {
            return Vec::new();
        };
        let steps = found.steps.into_iter().filter(|step| step.change != Change::Same);
        steps
            .map(|step| {
                let number = step.right_number.or(step.left_number).unwrap_or_default();
                let moved = step.change == Change::Moved;
                let was = step.left_number.filter(|_| moved).map(|number| format!("as step {number}"));
                ChangeSince {
                    what: format!("step {number} of the making"),
                    was: was.unwrap_or(step.left),
                    now: if moved { format!("as step {number}: {}", step.right) } else { step.right },
                }
            })
            .collect()
    }

    /// What was done otherwise, as far as it is a number or a step on record: heat, stirring, times, and readings of the making.
    pub(super) fn making_differs(&self, before: &Kept<Trial>, after: &Kept<Trial>) -> Vec<ChangeSince> {
        let (was, now) = (self.making_of(before), self.making_of(after));
        let names: std::collections::BTreeSet<&String> = was.keys().chain(now.keys()).collect();
        names
            .into_iter()
            .filter(|name| was.get(*name) != now.get(*name))
            .map(|name| ChangeSince {
                what: name.clone(),
                was: was.get(name).cloned().unwrap_or_default(),
                now: now.get(name).cloned().unwrap_or_default(),
            })
            .collect()
    }

    /// What is on record of how a trial was made, by name.
    fn making_of(&self, trial: &Kept<Trial>) -> BTreeMap<String, String> {
        let mut found = BTreeMap::new();
        let readings = self.records.readings.get(&trial.id).map_or(&[][..], Vec::as_slice);
        for reading in in_force(readings).into_iter().map(|one| &one.what).filter(|one| !one.withdrawn) {
            let own = !KINDS.iter().any(|(word, _, _)| *word == reading.quantity);
            if own && UNITS_OF_MAKING.contains(&folded(&reading.unit).as_str()) {
                found.insert(reading.quantity.clone(), format!("{} {}", reading.value.typed, reading.unit));
            }
        }
        if let Some((_, entries)) = self.records.batches.get(&trial.id) {
            found.extend(course_of(entries));
        }
        found
    }
}

/// Heat, stirring and time of a batch.
fn course_of(entries: &[Kept<BatchEntry>]) -> Vec<(String, String)> {
    let entries: Vec<&Kept<BatchEntry>> =
        in_force(entries).into_iter().filter(|one| !one.what.withdrawn).collect();
    let (mut hottest, mut fastest): (Option<Decimal>, Option<Decimal>) = (None, None);
    for entry in &entries {
        match &entry.what.did {
            Did::Temperature { value } => hottest = hottest.max(value.value),
            Did::TemperatureLog { points, .. } => {
                hottest = hottest.max(points.iter().map(|(_, celsius)| *celsius).max());
            }
            Did::Speed { value } => fastest = fastest.max(value.value),
            _ => {}
        }
    }
    let times = || entries.iter().map(|one| one.what.device_time);
    let minutes =
        times().max().zip(times().min()).map(|(last, first)| (last.as_second() - first.as_second()) / 60);
    let numbers = [
        ("hottest reading in the vessel", hottest.map(|celsius| format!("{} °C", celsius.normalize()))),
        ("fastest stirring", fastest.map(|rpm| format!("{} rpm", rpm.normalize()))),
        ("time from the first entry to the last", minutes.map(|minutes| format!("{minutes} min"))),
    ];
    numbers.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect()
}

/// Shares as they were weighed, where one of the two was made step by step, and what went off.
fn weights_differ(was: &SheetMade, now: &SheetMade) -> Vec<ChangeSince> {
    let mut found = Vec::new();
    if was.as_weighed() || now.as_weighed() {
        for (line, shown) in now.sheet.lines().map(|(_, line)| line).zip(now.lines()) {
            let older = was.sheet.lines().map(|(_, line)| line).zip(was.lines());
            let same =
                older.into_iter().find(|(_, other)| other.key == shown.key).map(|(line, _)| line.amount);
            if let (Amount::Percent(now), Some(Amount::Percent(was))) = (line.amount, same)
                && now.normalize() != was.normalize()
            {
                let words =
                    |percent: Decimal| format!("{} %", percent.round_sf(5).unwrap_or(percent).normalize());
                found.push(ChangeSince {
                    what: format!("{} as weighed", line.material),
                    was: words(was),
                    now: words(now),
                });
            }
        }
    }
    let lost = [was.lost_percent(), now.lost_percent()];
    if lost[0] != lost[1] {
        let [was, now] = lost.map(|lost| format!("{} %", lost.round_dp(2).normalize()));
        found.push(ChangeSince { what: "water that went off and was not given back".to_owned(), was, now });
    }
    found
}
