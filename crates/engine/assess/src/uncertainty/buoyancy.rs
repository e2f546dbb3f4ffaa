//! Air buoyancy between the lines of a batch: told, and applied where a balance could show it.

use super::Ask;
use super::balances::Balances;
use crate::assess::Assessed;
use levigate_measure::weighing::{Floating, USUAL_AIR_KG_M3, floating};
use levigate_measure::{Grade, Outcome};
use serde::Serialize;

/// What air buoyancy does to the shares of a batch.
#[derive(Clone, Debug, Serialize)]
pub struct Buoyancy {
    /// Whether the masses are corrected for it: it reaches a division of the balance on at least one line.
    pub applied: bool,
    /// Raw material whose share moves most.
    pub name: String,
    /// By how much its mass is off its reading, beside the batch as a whole, g.
    pub shift: Outcome,
    /// In words.
    pub words: String,
}

/// Tells the largest shift, and the masses with it where it counts; nothing where no density is known.
pub(super) fn of(
    ask: &Ask<'_>,
    assessed: &Assessed<'_>,
    balances: &Balances<'_>,
    readings: &[f64],
) -> (Option<Buoyancy>, Vec<f64>) {
    let uncorrected = || (None, readings.to_vec());
    let Some(batch_g_ml) = assessed.assessment.composition.density.value else { return uncorrected() };
    let lines = &assessed.composition.lines;
    let materials = &ask.inquiry.known.library.materials;
    let densities: Vec<Option<f64>> =
        lines.iter().map(|line| Some(materials.get(&line.material)?.density_kg_m3.as_ref()?.value)).collect();
    let batch_kg_m3 = 1e3 * batch_g_ml;
    let at = |air: f64| floating(air, readings, &densities, batch_kg_m3);
    let [usual, thin, dense] = USUAL_AIR_KG_M3.map(at);
    let (Some(Floating { factors, line, shift_g }), Some(thin), Some(dense)) = (usual, thin, dense) else {
        return uncorrected();
    };
    let seen = |place: usize| {
        let division = balances.of_line(lines[place].line, readings[place]).readability_g();
        (readings[place] * (factors[place] - 1.0)).abs() >= division
    };
    let applied = (0..lines.len()).any(seen);
    let division = balances.of_line(lines[line].line, readings[line]).readability_g();
    let name = assessed.settled.materials[line].name.clone();
    let off = |other: &Floating| readings[line] * (other.factors[line] - 1.0);
    let ends = [off(&thin), off(&dense)];
    let shift =
        Outcome::new(shift_g, "g", Grade::Computed, "air buoyancy of the line beside that of the batch")
            .within(ends[0].min(ends[1]), ends[0].max(ends[1]), None)
            .by("m (f_i / f - 1), f = (1 - rho_air/8000) / (1 - rho_air/rho)")
            .valid_for("air from 0.95 to 1.25 kg/m3; lines of unknown density float as the batch does")
            .proved_by("tests/published/weighing.toml")
            .source("masscor")
            .input("reading", readings[line], "g", None)
            .input("density of the line", densities[line].unwrap_or(batch_kg_m3), "kg/m3", None)
            .input("density of the batch", batch_kg_m3, "kg/m3", None)
            .input("division of the balance", division, "g", None);
    let size = format!("{shift_g:+.1e} g on {name}");
    let unknown = densities.iter().filter(|density| density.is_none()).count();
    let left_out = if unknown == 0 {
        String::new()
    } else {
        format!("; {unknown} lines have no density on file and are left out of it")
    };
    let words = if applied {
        format!(
            "air buoyancy: {size}, not below the division of {division} g; the masses are corrected for it"
        )
    } else {
        format!("air buoyancy: at most {size}, below the division of {division} g, and not applied{left_out}")
    };
    let masses = readings.iter().zip(&factors);
    let masses = masses.map(|(reading, factor)| if applied { reading * factor } else { *reading }).collect();
    (Some(Buoyancy { applied, name, shift, words }), masses)
}
