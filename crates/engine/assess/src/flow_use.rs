//! What the predicted flow curve of a formula means for the person: out of the pack, over the skin, on the shelf, along the life.
//!
//! Not part of the assessment: it costs more than the rest of it and is asked for by itself. The questions are those of
//! [`levigate_process::flow::reading`], asked of the prediction and of its edges two standard deviations to both sides, with the density of the
//! formula and its limits. The shape in JSON is that of [`InUse`].

use crate::assess::Assessed;
use crate::flow::Prediction;
use levigate_measure::Grade;
use levigate_process::flow::band::{Band, Spread};
pub use levigate_process::flow::reading::{Customs, InUse, Known, in_use};

/// Standard deviations from the prediction to its edges.
const EDGE: f64 = 2.0;
/// Probability that the edges hold the curve.
const COVERAGE: f64 = 0.95;

/// The liquid that a formula is.
#[derive(Clone, Debug, PartialEq)]
pub struct Flows {
    edges: [Prediction; 3],
    density_kg_m3: Spread,
    grade: Grade,
    from: String,
}

impl Flows {
    /// The liquid of an assessed formula.
    ///
    /// # Errors
    /// Why its flow is not predicted.
    pub fn of(assessed: &Assessed<'_>) -> Result<Self, String> {
        let (reading, density) = (&assessed.assessment.flow, &assessed.assessment.composition.density);
        if reading.curve.is_empty() {
            let why = reading.at_brief.refused.clone();
            return Err(why.unwrap_or_else(|| "a thickener of it is not known".to_owned()));
        }
        let Some(value) = density.value else {
            return Err("its density is not known".to_owned());
        };
        let kg_m3 = |g_ml: f64| 1e3 * g_ml;
        Ok(Self {
            edges: [-EDGE, 0.0, EDGE].map(|z| assessed.flow.edge(z)),
            density_kg_m3: Spread {
                value: kg_m3(value),
                low: kg_m3(density.low.unwrap_or(value)),
                high: kg_m3(density.high.unwrap_or(value)),
            },
            grade: reading.at_brief.grade,
            from: format!("predicted from the formula at {} C", reading.temperature_c),
        })
    }

    /// The liquid to be asked.
    #[must_use]
    pub fn known(&self) -> Known<'_> {
        let [thin, middle, thick] = &self.edges;
        Known {
            band: Band { thin, middle, thick },
            density_kg_m3: self.density_kg_m3,
            grade: self.grade,
            coverage: Some(COVERAGE),
            window: Some(middle.window()),
            from: self.from.clone(),
        }
    }
}
