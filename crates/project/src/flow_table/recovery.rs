//! Readings over time at one shear rate after a strong shear: alone, or as the last of three intervals.

use super::curves::{above, degrees, positive, put_counters_aside};
use super::grid::Grid;
use super::header::{Block, Column};
use super::held::{Stretches, stretches};
use super::ledger::{Fault, Ledger};
use super::number::{clock, looks_numeric, number, why_not};
use super::series::{Series, agree, put_empty_rates_aside, put_repeats_aside};
use super::units::Meaning;
use super::{Choices, Held, MOST_CURVES, MeasuredRecovery, Spindle, TimedPoint};
use crate::records::DecimalSign;

/// Fewer readings at one level are no recovery.
const FEWEST: usize = 5;
/// A temperature that moves by more than this is said, K.
const MOVES_K: f64 = 2.0;
/// What a value over time is held against, the first that is there.
const VALUES: [Meaning; 4] = [Meaning::Viscosity, Meaning::Stress, Meaning::DialViscosity, Meaning::Reading];

/// A reading on its way: where it stands, when, at what, and the value.
struct Raw {
    line: usize,
    time_s: f64,
    rate: Option<f64>,
    value: f64,
    typed: [Box<str>; 2],
    temperature_c: Option<f64>,
}

/// The columns of readings over time.
struct Columns {
    rate: Option<Column>,
    temperature: Option<Column>,
    samples: Vec<Column>,
}

/// The recoveries of a table; none where it is one of flow curves.
pub(super) fn recoveries(
    grid: &Grid<'_>,
    sign: DecimalSign,
    block: &mut Block,
    choices: &Choices,
    spindle: Option<&Spindle>,
    ledger: &mut Ledger,
) -> Result<Option<Vec<MeasuredRecovery>>, Fault> {
    if first_of(block, Meaning::Time).is_none() {
        return Ok(None);
    }
    put_repeats_aside(grid, block);
    put_empty_rates_aside(grid, sign, block);
    let of = |block: &Block, meaning| first_of(block, meaning).map(|at| block.columns[at].clone());
    let rate = of(block, Meaning::ShearRate).or_else(|| of(block, Meaning::Speed));
    if let Some(rate) = &rate
        && !held(grid, sign, block, rate)
    {
        return Ok(None);
    }
    let mut own = Ledger::default();
    agree(grid, sign, block, &mut own);
    let Some(time) = first_of(block, Meaning::Time) else { return Ok(None) };
    if !block.columns[time].has_written_unit() {
        block.columns[time].doubt("whether these are seconds decides the time of recovery".to_owned());
    }
    let values = VALUES.into_iter().find(|value| first_of(block, *value).is_some());
    let ys: Vec<Column> =
        block.columns.iter().filter(|column| Some(column.meaning) == values).cloned().collect();
    let columns = Columns {
        rate,
        temperature: of(block, Meaning::Temperature),
        samples: block.columns.iter().filter(|column| column.meaning == Meaning::Sample).cloned().collect(),
    };
    let many = ys.len() > 1;
    let series: Vec<Series> = ys
        .into_iter()
        .map(|y| Series {
            x: block.columns[time].clone(),
            name: if many { y.name.clone() } else { String::new() },
            y,
        })
        .collect();
    put_counters_aside(grid, block, &series);
    let mut found = Vec::new();
    for one in &series {
        for (sample, readings) in samples(grid, sign, block, (one, &columns), &mut own)? {
            let about = About { block, sign, choices, spindle, rate: columns.rate.as_ref(), of: one };
            if !about.recoveries(&sample, readings, &mut found, &mut own)? {
                return Ok(None);
            }
        }
    }
    if found.is_empty() && columns.rate.is_some() {
        return Ok(None);
    }
    ledger.absorb(own);
    Ok(Some(found))
}

fn first_of(block: &Block, meaning: Meaning) -> Option<usize> {
    block.columns.iter().position(|column| column.meaning == meaning)
}

/// Whether a column of shear rates holds one level, or two by turns with the lower last.
fn held(grid: &Grid<'_>, sign: DecimalSign, block: &Block, rate: &Column) -> bool {
    let [first, end] = block.rows;
    let rates: Vec<f64> = (first..end)
        .filter_map(|row| number(grid.cell(row, rate.at), sign))
        .map(|value| rate.si(value))
        .filter(|value| *value > 0.0)
        .collect();
    stretches(&rates)
        .is_some_and(|found| found.all.len() == 1 || (0..found.all.len()).any(|at| found.strong(at)))
}

/// Readings of a column by their sample, in the order of the file.
fn samples(
    grid: &Grid<'_>,
    sign: DecimalSign,
    block: &Block,
    (series, columns): (&Series, &Columns),
    ledger: &mut Ledger,
) -> Result<Vec<(String, Vec<Raw>)>, Fault> {
    let [first, end] = block.rows;
    let mut found: Vec<(String, Vec<Raw>)> = Vec::new();
    for row in first..end {
        let (cells, line) = (grid.row(row), grid.line(row));
        let text = |column: &Column| grid.cell(row, column.at);
        let (typed_time, typed) = (text(&series.x), text(&series.y));
        if (typed_time.is_empty() && typed.is_empty())
            || !cells.iter().any(|cell| looks_numeric(cell) || clock(cell).is_some())
        {
            ledger.remark(line, cells);
            continue;
        }
        let Some(time_s) =
            number(typed_time, sign).map(|time| series.x.si(time)).or_else(|| clock(typed_time))
        else {
            ledger.leave_out(line, &series.x, typed_time, why_not(typed_time, sign));
            continue;
        };
        let Some(value) = positive(&series.y, typed, sign, line, ledger) else { continue };
        let rate = match &columns.rate {
            None => None,
            Some(column) => match positive(column, text(column), sign, line, ledger) {
                None => continue,
                some => some,
            },
        };
        let temperature_c = columns
            .temperature
            .as_ref()
            .and_then(|column| number(text(column), sign).map(|value| column.si(value)));
        let sample = columns
            .samples
            .iter()
            .filter(|column| {
                block.columns.iter().any(|one| one.at == column.at && one.meaning == Meaning::Sample)
            })
            .map(text)
            .filter(|text| !text.is_empty())
            .collect::<Vec<_>>()
            .join(", ");
        let raw = Raw { line, time_s, rate, value, typed: [typed_time.into(), typed.into()], temperature_c };
        match found.iter().position(|(name, _)| *name == sample) {
            Some(at) => found[at].1.push(raw),
            None if found.len() >= MOST_CURVES => {
                return Err(Fault::new(
                    "too-many-curves",
                    format!("there are more than {MOST_CURVES} samples in this file"),
                    "look whether a column of running numbers was taken for the name of the sample: say NAME=unused",
                ));
            }
            None => found.push((sample, vec![raw])),
        }
    }
    Ok(found)
}

/// What a series of readings over time stands under.
struct About<'a> {
    block: &'a Block,
    sign: DecimalSign,
    choices: &'a Choices,
    spindle: Option<&'a Spindle>,
    rate: Option<&'a Column>,
    of: &'a Series,
}

impl About<'_> {
    /// Adds the recoveries of a sample; says no where its shear rates are those of a flow curve.
    fn recoveries(
        &self,
        sample: &str,
        readings: Vec<Raw>,
        found: &mut Vec<MeasuredRecovery>,
        ledger: &mut Ledger,
    ) -> Result<bool, Fault> {
        let rates: Vec<f64> = readings.iter().map(|raw| raw.rate.unwrap_or(1.0)).collect();
        let Some(parted) = stretches(&rates) else { return Ok(readings.is_empty()) };
        let column = self.rate.unwrap_or(&self.of.x);
        for raw in parted.between.iter().filter_map(|place| readings.get(*place)) {
            let text = raw.rate.map_or_else(String::new, |rate| format!("{rate}"));
            ledger.leave_out(
                raw.line,
                column,
                &text,
                "it lies between two shear rates that were held".to_owned(),
            );
        }
        let before = found.len();
        if let [only] = parted.all.as_slice() {
            if only.places.len() < FEWEST && self.rate.is_some() {
                return Ok(false);
            }
            found.push(self.recovery(sample, &readings, &parted, 0, ledger)?);
        } else {
            for at in 1..parted.all.len() {
                let after = !parted.strong(at) && parted.strong(at - 1);
                if after && parted.all[at].places.len() >= FEWEST {
                    found.push(self.recovery(sample, &readings, &parted, at, ledger)?);
                }
            }
        }
        if found.len() > before + 1 {
            for (number, one) in found[before..].iter_mut().enumerate() {
                let name = format!("recovery {}", number + 1);
                one.name = if one.name.is_empty() { name } else { format!("{}, {name}", one.name) };
            }
        }
        Ok(found.len() > before)
    }

    /// The recovery that a stretch shows, its time counted from the end of the strong shear.
    fn recovery(
        &self,
        sample: &str,
        readings: &[Raw],
        parted: &Stretches,
        at: usize,
        ledger: &mut Ledger,
    ) -> Result<MeasuredRecovery, Fault> {
        let rows = |at: usize| parted.all[at].places.iter().filter_map(|place| readings.get(*place));
        let names = ["sample", "sample name", "probe", "name", "test", "echantillon", "muestra"];
        let sample =
            if sample.is_empty() { above(self.block, &names).unwrap_or_default() } else { sample.to_owned() };
        let name: Vec<&str> =
            [sample.as_str(), self.of.name.as_str()].into_iter().filter(|part| !part.is_empty()).collect();
        let said = if name.is_empty() { "the readings over time".to_owned() } else { name.join(", ") };
        let turning = |at: usize| self.turning(self.rate.is_some().then(|| parted.all[at].level));
        let first = rows(at).next().map_or(0.0, |raw| raw.time_s);
        let (ended, strong) = if at > 0 {
            let last = rows(at - 1).next_back();
            let (time, line) = last.map_or((0.0, 0), |raw| (raw.time_s, raw.line));
            let level = turning(at - 1);
            let at_what = level.map_or_else(String::new, |level| format!(" at {}", level.words()));
            if first >= time {
                ledger.confirm(format!(
                    "{said}: read as a recovery after the shear{at_what}; time counts from the last reading of that, in line {line}"
                ));
                (time, level)
            } else {
                ledger.confirm(format!(
                    "{said}: read as a recovery after the shear{at_what}; the clock starts anew with it and counts as it stands"
                ));
                (0.0, level)
            }
        } else {
            if self.choices.shear_ended_s.is_none() {
                ledger.confirm(format!(
                    "{said}: read as a recovery; time is taken to count from the end of the strong shear"
                ));
            }
            (0.0, None)
        };
        let ended = self.choices.shear_ended_s.unwrap_or(ended);
        let mut points = Vec::new();
        let mut last: Option<&Raw> = None;
        for raw in rows(at) {
            if let Some(last) = last.filter(|last| raw.time_s < last.time_s) {
                return Err(Fault::new(
                    "time-runs-back",
                    format!("the time runs back from {} s to {} s", last.time_s, raw.time_s),
                    "give each run its own table, or a column that says which sample each row is of",
                )
                .on(raw.line)
                .in_column(self.of.x.at, &self.of.x.name));
            }
            last = Some(raw);
            if raw.time_s < ended {
                let why = format!("it was read before the strong shear ended, at {ended} s");
                ledger.leave_out(raw.line, &self.of.x, &raw.typed[0], why);
                continue;
            }
            points.push(self.point(raw, ended)?);
        }
        let before = match at.checked_sub(2) {
            Some(earlier) => rows(earlier)
                .map(|raw| self.point(raw, ended).map(|point| point.viscosity))
                .collect::<Result<_, _>>()?,
            None => Vec::new(),
        };
        Ok(MeasuredRecovery {
            name: name.join(", "),
            temperature_c: self.temperature(rows(at).filter_map(|raw| raw.temperature_c), &said, ledger),
            sample,
            columns: [self.of.x.name.clone(), self.of.y.name.clone()],
            units: [&self.of.x, &self.of.y].map(|column| column.unit.map_or("", |unit| unit.symbol)),
            meanings: [self.of.x.meaning, self.of.y.meaning],
            at: turning(at),
            strong,
            before,
            points,
        })
    }

    /// What it was read at: the level of the column, else what stands above the table.
    fn turning(&self, level: Option<f64>) -> Option<Held> {
        let speed = self.rate.is_some_and(|column| column.meaning == Meaning::Speed);
        let unit = if speed { "rpm" } else { "1/s" };
        if let Some(value) = level {
            return Some(Held { value, unit });
        }
        let names = [
            (Meaning::ShearRate, ["shear rate", "rate", "scherrate", "schergeschwindigkeit"]),
            (Meaning::Speed, ["speed", "rotational speed", "drehzahl", "rpm"]),
        ];
        names.into_iter().find_map(|(meaning, names)| {
            let text = above(self.block, &names)?;
            let end = text
                .find(|sign: char| !(sign.is_ascii_digit() || ".,eE-+".contains(sign)))
                .unwrap_or(text.len());
            let value = number(text[..end].trim(), self.sign)?;
            let unit = match text[end..].trim() {
                "" => meaning.units().first()?,
                written => meaning.unit(written)?.0,
            };
            let held = Held { value: unit.si(value), unit: meaning.units().first()?.symbol };
            (held.value > 0.0).then_some(held)
        })
    }

    fn point(&self, raw: &Raw, ended: f64) -> Result<TimedPoint, Fault> {
        let viscosity = match self.of.y.meaning {
            Meaning::Stress => {
                let rate = self.turning(raw.rate).filter(|held| held.unit == "1/s");
                let Some(rate) = rate else {
                    return Err(Fault::new(
                        "shear-rate-not-said",
                        "a stress over time is a viscosity only with the shear rate it was read at",
                        "give the shear rate in a column, or above the table as \"Shear rate: 1 1/s\"",
                    )
                    .in_column(self.of.y.at, &self.of.y.name));
                };
                raw.value / rate.value
            }
            Meaning::Reading => {
                let speed = self.turning(raw.rate).filter(|held| held.unit == "rpm");
                let (Some(Spindle { disc, torque_n_m }), Some(speed)) = (self.spindle, speed) else {
                    return Err(Fault::new(
                        "spindle-not-said",
                        "percent of full torque over time are no viscosity until spindle and speed are known",
                        "say the spindle by the diameter of its disc and the full-scale torque, and the speed in a column or above the table",
                    ));
                };
                disc.full_scale(speed.value, *torque_n_m) * raw.value / 100.0
            }
            _ => raw.value,
        };
        Ok(TimedPoint { line: raw.line, time_s: raw.time_s - ended, viscosity, typed: raw.typed.clone() })
    }

    /// Mean temperature, else that above the table; said where it moves.
    fn temperature(&self, read: impl Iterator<Item = f64>, said: &str, ledger: &mut Ledger) -> Option<f64> {
        let read: Vec<f64> = read.collect();
        if read.is_empty() {
            let text = above(self.block, &["temperature", "temperatur", "temp", "t"])?;
            return degrees(&text, self.sign);
        }
        let [low, high] =
            [f64::min, f64::max].map(|of: fn(f64, f64) -> f64| read.iter().copied().fold(read[0], of));
        if high - low > MOVES_K {
            ledger.confirm(format!(
                "{said}: the temperature moves from {low:.1} to {high:.1} °C meanwhile, which thins by itself"
            ));
        }
        Some(read.iter().sum::<f64>() / read.len() as f64)
    }
}
