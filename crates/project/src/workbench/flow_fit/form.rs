//! The same question as a TOML with the points in it.
//!
//! ```toml
//! weights = "log"                    # or relative, linear
//! shear_rate_1_s = [0.1, 100.0]      # lowest and highest to fit; leave out for all
//! [[curve]]
//! name = "T7"
//! temperature_c = 25.0
//! shear_rate_1_s = [0.1, 1.0, 10.0, 100.0]
//! stress_pa = [6.1, 8.2, 12.5, 30.1]         # or viscosity_pa_s, viscosity_mpa_s
//! ```
//!
//! A recovery after a strong shear, read at one low shear rate:
//!
//! ```toml
//! [[recovery]]
//! name = "T7"
//! shear_rate_1_s = 1.0               # needed beside stress_pa; else it is only told
//! strong_shear_rate_1_s = 1000.0     # told, where it is known
//! before_mpa_s = [9800, 9900]        # viscosities before the strong shear, or before_pa_s; leave out where none were read
//! time_s = [0, 5, 10, 20, 40, 80]    # from the end of the strong shear
//! viscosity_mpa_s = [3000, 4100, 5000, 6500, 8200, 9300]      # or viscosity_pa_s, stress_pa
//! ```
//!
//! Readings of a spindle: `spindle = "disc, 27 mm, 700 uN.m"` with `speed_rpm` and `reading_percent` or `dial_viscosity_mpa_s`.

mod over_time;

use super::{Asked, spindle_of};
use crate::diagnostic::{Diagnostic, at};
use crate::flow_table::{
    Direction, FlowTable, Form, LeftOutAll, Meaning, MeasuredCurve, MeasuredPoint, Spindle, complaint,
};
use crate::records::DecimalSign;
use levigate_facts::Facts;
use levigate_process::flow::fit::Weights;
use levigate_process::flow::spindle::DialReading;
use serde::Deserialize;

/// The form of the TOML, as JSON Schema.
pub const SCHEMA: &str = include_str!("form.schema.json");

/// Fields that tell such a TOML from a table.
const FIELDS: [&str; 5] = ["model", "weights", "shear_rate_1_s", "spindle", "curve"];
/// Tables that begin such a TOML.
const TABLES: [&str; 2] = ["[[curve]]", "[[recovery]]"];

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Question {
    #[serde(default)]
    title: Option<String>,
    model: Option<String>,
    weights: Option<Weights>,
    shear_rate_1_s: Option<[f64; 2]>,
    #[serde(default, rename = "curve")]
    curves: Vec<Written>,
    #[serde(default, rename = "recovery")]
    recoveries: Vec<over_time::Written>,
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Written {
    name: String,
    temperature_c: Option<f64>,
    direction: Option<Direction>,
    spindle: String,
    shear_rate_1_s: Vec<f64>,
    stress_pa: Vec<f64>,
    viscosity_pa_s: Vec<f64>,
    viscosity_mpa_s: Vec<f64>,
    speed_rpm: Vec<f64>,
    reading_percent: Vec<f64>,
    dial_viscosity_mpa_s: Vec<f64>,
}

/// The text, when it is such a TOML and no table.
pub(super) fn as_toml<'b>(file: &str, bytes: &'b [u8]) -> Option<&'b str> {
    let text = std::str::from_utf8(bytes).ok()?;
    let named = std::path::Path::new(file).extension().is_some_and(|end| end.eq_ignore_ascii_case("toml"));
    let first = text.lines().map(str::trim).find(|line| !line.is_empty() && !line.starts_with('#'))?;
    let begins = TABLES.iter().any(|table| first.starts_with(table))
        || first.split_once('=').is_some_and(|(name, value)| {
            (FIELDS.contains(&name.trim()) || name.trim() == "title")
                && (value.trim_start().starts_with(['"', '\'', '[']))
        });
    (named || begins).then_some(text)
}

/// Reads it. What the door asks (command line, page) lies over what the file asks.
pub(super) fn read(
    facts: &Facts,
    file: &str,
    text: &str,
    asked: &Asked,
) -> Result<(FlowTable, Asked), Vec<Diagnostic>> {
    let question: Question = toml::from_str(text).map_err(|error| {
        let span = error.span().unwrap_or(0..0);
        let what = format!("this is not the question it should be: {}", error.message());
        vec![at(
            (file, text),
            &span,
            "not-toml",
            "",
            what,
            "see levigate schema flow-fit; numbers are written with a decimal point",
        )]
    })?;
    let mut asked = asked.clone();
    if asked.model.is_empty() {
        asked.model = question.model.unwrap_or_default();
    }
    if asked.weights == Weights::default() {
        asked.weights = question.weights.unwrap_or_default();
    }
    if asked.shear == [None, None] {
        asked.shear = question.shear_rate_1_s.map_or([None, None], |ends| ends.map(Some));
    }
    if question.curves.is_empty() && question.recoveries.is_empty() {
        let what_now = "write the points under [[curve]]: shear_rate_1_s with stress_pa or viscosity_mpa_s; or under [[recovery]]: time_s with viscosity_mpa_s";
        return Err(vec![complaint(file, "no-points", "curve", "there is no curve in it", what_now)]);
    }
    let mut table = FlowTable {
        form: Form {
            kind: "toml",
            encoding: None,
            separator: None,
            decimal: DecimalSign::Point,
            sheets: Vec::new(),
            rows: 0,
        },
        understood: Vec::new(),
        curves: Vec::new(),
        recoveries: Vec::new(),
        left_out: LeftOutAll::default(),
        to_confirm: Vec::new(),
        remarks: question.title.into_iter().collect(),
    };
    let many = question.curves.len() > 1;
    for (number, written) in question.curves.iter().enumerate() {
        let field = format!("curve {}", number + 1);
        let mut curve = curve(facts, file, &field, written, &asked.spindle, &mut table.to_confirm)?;
        if many && curve.name.is_empty() {
            curve.name.clone_from(&field);
        }
        table.form.rows += curve.points.len();
        table.curves.push(curve);
    }
    let many = question.recoveries.len() > 1;
    for (number, written) in question.recoveries.iter().enumerate() {
        let field = format!("recovery {}", number + 1);
        let mut one = over_time::measured(file, &field, written)?;
        if one.name.is_empty() && (many || !table.curves.is_empty()) {
            one.name = field;
        }
        table.form.rows += one.points.len();
        table.recoveries.push(one);
    }
    Ok((table, asked))
}

fn curve(
    facts: &Facts,
    file: &str,
    field: &str,
    written: &Written,
    spindle: &str,
    to_confirm: &mut Vec<String>,
) -> Result<MeasuredCurve, Vec<Diagnostic>> {
    let fault = |what: String, what_now: &str| vec![complaint(file, "no-curve", field, what, what_now)];
    let by_speed = !written.speed_rpm.is_empty();
    let (xs, x_meaning) = if by_speed {
        (&written.speed_rpm, Meaning::Speed)
    } else {
        (&written.shear_rate_1_s, Meaning::ShearRate)
    };
    let pairs: &[(&Vec<f64>, Meaning, f64)] = if by_speed {
        &[
            (&written.reading_percent, Meaning::Reading, 1.0),
            (&written.dial_viscosity_mpa_s, Meaning::DialViscosity, 1e-3),
        ]
    } else {
        &[
            (&written.stress_pa, Meaning::Stress, 1.0),
            (&written.viscosity_pa_s, Meaning::Viscosity, 1.0),
            (&written.viscosity_mpa_s, Meaning::Viscosity, 1e-3),
        ]
    };
    let given: Vec<_> = pairs.iter().filter(|(values, _, _)| !values.is_empty()).collect();
    let [(ys, y_meaning, factor)] = given.as_slice() else {
        let what_now = if by_speed {
            "beside speed_rpm give reading_percent or dial_viscosity_mpa_s, one of them"
        } else {
            "give shear_rate_1_s with one of stress_pa, viscosity_pa_s and viscosity_mpa_s"
        };
        return Err(fault(
            format!("{} values stand beside the {}", given.len(), x_meaning.words()),
            what_now,
        ));
    };
    if xs.len() != ys.len() {
        let what = format!(
            "{} of {} and {} of {} do not pair up",
            xs.len(),
            x_meaning.words(),
            ys.len(),
            y_meaning.words()
        );
        return Err(fault(what, "give one value for every one of the other"));
    }
    let usable = |value: f64| value.is_finite() && value > 0.0;
    if let Some(point) = xs.iter().zip(ys.iter()).position(|(x, y)| !(usable(*x) && usable(*y))) {
        let what = format!("point {}: {} with {} cannot be on a flow curve", point + 1, xs[point], ys[point]);
        return Err(fault(what, "leave out points at rest and readings below zero"));
    }
    let typed = |at: usize| [xs[at].to_string().into(), ys[at].to_string().into()];
    let mut points = Vec::with_capacity(xs.len());
    if by_speed {
        let words = if written.spindle.is_empty() { spindle } else { &written.spindle };
        let (Some(Spindle { disc, torque_n_m }), assumed) = spindle_of(facts, file, words)? else {
            return Err(fault(
                "speeds of a spindle are no flow curve until the spindle is known".to_owned(),
                "write spindle = \"disc, 27 mm, 700 uN.m\"",
            ));
        };
        to_confirm.extend(assumed);
        let readings: Vec<DialReading> = xs
            .iter()
            .zip(ys.iter())
            .map(|(rpm, value)| {
                let full = disc.full_scale(*rpm, torque_n_m);
                let percent =
                    if *y_meaning == Meaning::Reading { *value } else { 100.0 * value * factor / full };
                DialReading { rpm: *rpm, percent }
            })
            .collect();
        let turned = disc
            .flow_points(&readings, torque_n_m)
            .map_err(|error| fault(error.to_string(), error.hint()))?;
        let mut order: Vec<usize> = (0..xs.len()).collect();
        order.sort_by(|a, b| xs[*a].total_cmp(&xs[*b]));
        if order.windows(2).any(|pair| xs[pair[0]] == xs[pair[1]]) {
            return Err(fault("a speed stands there twice".to_owned(), "give one reading for every speed"));
        }
        for (at, point) in order.into_iter().zip(turned) {
            points.push(MeasuredPoint {
                line: at + 1,
                shear_rate: point.shear_rate,
                stress: point.stress_pa,
                typed: typed(at),
            });
        }
    } else {
        for (at, (x, y)) in xs.iter().zip(ys.iter()).enumerate() {
            let stress = if *y_meaning == Meaning::Viscosity { x * y * factor } else { *y };
            points.push(MeasuredPoint { line: at + 1, shear_rate: *x, stress, typed: typed(at) });
        }
    }
    let unit = |meaning: Meaning| meaning.units().first().map_or("", |unit| unit.symbol);
    Ok(MeasuredCurve {
        name: written.name.clone(),
        sample: written.name.clone(),
        temperature_c: written.temperature_c,
        direction: written.direction,
        columns: [x_meaning.word(), y_meaning.word()].map(str::to_owned),
        units: [unit(x_meaning), if *factor == 1e-3 { "mPa s" } else { unit(*y_meaning) }],
        meanings: [x_meaning, *y_meaning],
        points,
    })
}
