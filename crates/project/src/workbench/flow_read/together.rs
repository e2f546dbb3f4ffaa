//! Single points of one sample together: power laws through cups or runs, and their points at the flow index found.

use super::bench_file::{Entry, Instrument};
use super::turned::PROOF;
use super::{CURVE, CurveRead, EntryReading, Trouble};
use crate::flow_file::USUAL_DENSITY;
use levigate_measure::{Grade, Outcome};
use levigate_process::flow::cup::{CupReading, power_law_of_two};
use levigate_process::flow::film::{GRAVITY_M_S2, Incline};
use levigate_process::flow::run::{PlateRun, power_law};
use serde::Serialize;

/// A power law through single points of one sample.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Law {
    /// Entries it goes through.
    pub entries: Vec<String>,
    /// Name of the sample, as typed.
    pub name: String,
    /// Consistency.
    pub consistency: Outcome,
    /// Flow index.
    pub index: Outcome,
    /// Why there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trouble: Option<Trouble>,
}

/// A law as found: consistency, index and the points at that index.
type Found = (f64, f64, Vec<(f64, f64)>);

/// Laws of all named samples read twice or more by cups or by runs, and the curves of those read three times or more.
pub(super) fn laws(entries: &[Entry], readings: &[EntryReading]) -> (Vec<Law>, Vec<CurveRead>) {
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for (at, entry) in entries.iter().enumerate() {
        if !matches!(entry.instrument, Instrument::Cup { .. } | Instrument::Run { .. })
            || readings[at].points.is_empty()
            || entry.name.is_empty()
        {
            continue;
        }
        match groups.iter_mut().find(|group| of_one_sample(&entries[group[0]], entry)) {
            Some(group) => group.push(at),
            None => groups.push(vec![at]),
        }
    }
    let (mut laws, mut curves) = (Vec::new(), Vec::new());
    for group in groups.into_iter().filter(|group| group.len() > 1) {
        let members: Vec<&Entry> = group.iter().map(|at| &entries[*at]).collect();
        let found = match members[0].instrument {
            Instrument::Cup { .. } => of_cups(&members),
            _ => of_runs(&members),
        };
        if let (Ok((_, _, points)), true) = (&found, group.len() >= CURVE) {
            curves.push(CurveRead {
                name: readings[group[0]].title().to_owned(),
                temperature_c: members[0].temperature_c,
                points: points.clone(),
            });
        }
        let titles = group.iter().map(|at| readings[*at].entry.clone()).collect();
        laws.push(law(titles, members[0], found));
    }
    (laws, curves)
}

fn of_one_sample(first: &Entry, second: &Entry) -> bool {
    let alike = match (&first.instrument, &second.instrument) {
        (Instrument::Cup { .. }, Instrument::Cup { .. }) => true,
        (Instrument::Run { timed: a, .. }, Instrument::Run { timed: b, .. }) => {
            std::mem::discriminant(a) == std::mem::discriminant(b)
        }
        _ => false,
    };
    let conditions = |entry: &Entry| (entry.temperature_c, entry.age_h);
    alike && first.name == second.name && conditions(first) == conditions(second)
}

fn law(entries: Vec<String>, first: &Entry, found: Result<Found, Trouble>) -> Law {
    let method = match first.instrument {
        Instrument::Cup { .. } => "power law through the cups of lowest and highest stress",
        _ => "power law through the runs, least squares in the logarithms",
    };
    let of = |value: f64, unit: &'static str| {
        let outcome = Outcome::new(value, unit, Grade::Correlated, method).proved_by(PROOF);
        outcome.note(
            "no-interval",
            "nothing tells how well the law holds beyond the readings; with three or more, levigate flow fit does",
        )
    };
    let (consistency, index, trouble) = match found {
        Ok((consistency, index, _)) => (of(consistency, "Pa s^n"), of(index, ""), None),
        Err(trouble) => {
            let refused = |unit: &'static str| Outcome::refuse(unit, method, trouble.what.clone());
            (refused("Pa s^n"), refused(""), Some(trouble))
        }
    };
    Law { entries, name: first.name.clone(), consistency, index, trouble }
}

fn of_cups(members: &[&Entry]) -> Result<Found, Trouble> {
    let trouble = |error: levigate_process::flow::cup::CupError| Trouble {
        what: error.to_string(),
        what_now: error.hint().to_owned(),
    };
    let mut readings: Vec<CupReading> = Vec::new();
    for entry in members {
        if let Instrument::Cup { cup, time_s } = &entry.instrument {
            let density = entry.density_kg_m3.unwrap_or(USUAL_DENSITY);
            readings.push(cup.reading(*time_s, density).map_err(trouble)?);
        }
    }
    readings.sort_by(|a, b| a.wall_stress_pa.total_cmp(&b.wall_stress_pa));
    let (Some(lowest), Some(highest)) = (readings.first(), readings.last()) else {
        return Ok((f64::NAN, f64::NAN, Vec::new()));
    };
    let (consistency, index) = power_law_of_two(lowest, highest).map_err(trouble)?;
    let real = index.is_finite() && index > 0.0 && index <= 1.5;
    if !real {
        return Err(Trouble {
            what: format!("a flow index of {index:.3} came out"),
            what_now: "check times, cups and densities: a higher stress must go with a higher shear rate"
                .to_owned(),
        });
    }
    // Shear rate at the wall of a tube from that of a Newtonian liquid (Rabinowitsch).
    let factor = (3.0 * index + 1.0) / (4.0 * index);
    let points = readings.iter().map(|reading| (factor * reading.shear_rate, reading.wall_stress_pa));
    Ok((consistency, index, points.collect()))
}

fn of_runs(members: &[&Entry]) -> Result<Found, Trouble> {
    let runs: Vec<PlateRun> = members.iter().filter_map(|entry| plate_run(entry)).collect();
    let law = power_law(&runs)
        .map_err(|error| Trouble { what: error.to_string(), what_now: error.hint().to_owned() })?;
    let points = runs.iter().map(|run| {
        let (stress, rate) = run.at_index(law.index);
        (rate, stress)
    });
    Ok((law.consistency, law.index, points.collect()))
}

/// The run of an entry; none for another instrument.
pub(super) fn plate_run(entry: &Entry) -> Option<PlateRun> {
    let Instrument::Run { timed, tilt_deg, distance_m, time_s } = entry.instrument else { return None };
    let density_kg_m3 = entry.density_kg_m3.unwrap_or(USUAL_DENSITY);
    let incline = Incline { angle_deg: tilt_deg, density_kg_m3, gravity_m_s2: GRAVITY_M_S2 };
    Some(PlateRun { incline, timed, distance_m, time_s })
}
