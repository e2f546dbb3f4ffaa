//! Figures: pH windows laid over each other, a titration curve, the working share of preservatives against pH, a flow curve, a recovery after
//! shear, how far a model lies from what was measured, the temperature of a batch over time, an attribute over the months of a study, rates
//! against temperature, and how far readings lay from what was foretold.
//! shear, how far a model lies from what was measured, the temperature of a batch over time, an attribute over the months of a study,
//! rates against temperature, and a reading over the blends of an experiment.
//!
//! Each figure is filled as a plain struct and gives an SVG ([`Rendition::Screen`] follows the page in light and dark,
//! [`Rendition::Print`] is black on white) and a [`Table`] of the same numbers. Coordinates stay `f64` and are written to a
//! hundredth of a pixel; nothing is rounded to whole pixels. The SVG has a title and a description for those who hear it,
//! no script, no style sheet and no reference to anything outside itself. On the `plot` group stand the ends of both axes
//! in data and in pixels (`data-x-low`, `data-left`, ...) and which of them is logarithmic (`data-x-scale`), so that a page can
//! read a value under the pointer.

mod axis;
mod canvas;
mod contour;
mod course;
mod flow;
mod foresight;
mod killing;
mod leftover;
mod life;
mod places;
mod plot;
mod recovery;
mod residual;
mod table;
mod titration;
mod trend;
mod windows;
mod working_share;

pub use contour::{AlongFigure, ContourAxis, ContourFigure, ContourMark};
pub use course::{CourseFigure, CoursePoint, CourseStage};
pub use flow::{
    FlowCurve, FlowFigure, FlowMeasured, FlowPoint, FlowSeries, FlowTarget, Scope, Settled, ShearSpan,
    Upright,
};
pub use foresight::{ForesightFigure, ForesightPoint};
pub use killing::{KillingFigure, KillingLine, KillingPoint};
pub use leftover::{Leftover, LeftoverFigure};
pub use recovery::{RecoveryFigure, RecoveryPoint};
pub use residual::{Along, Residual, ResidualFigure};
pub use table::Table;
pub use titration::{Mark, TitrationFigure, TitrationPoint};
pub use trend::{RateAt, RatesFigure, TrendFigure, TrendPoint, TrendSeries};
pub use windows::{PhWindow, WindowsFigure};
pub use working_share::{ShareCurve, SharePoint, WorkingShareFigure};

use serde::{Deserialize, Serialize};

/// Where a figure will be seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rendition {
    /// On a page: inks are taken from the page (`currentColor` and its colour variables), light or dark.
    #[default]
    Screen,
    /// On paper: black and greys, complete in greyscale.
    Print,
}

/// A closed range on an axis.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Span {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Span {
    /// A range; the ends may come in either order.
    #[must_use]
    pub fn new(a: f64, b: f64) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// Whether both ends are numbers.
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.low.is_finite() && self.high.is_finite()
    }

    /// What two ranges share; `None` when they miss each other.
    #[must_use]
    pub fn shared(self, other: Self) -> Option<Self> {
        let (low, high) = (self.low.max(other.low), self.high.min(other.high));
        (low <= high).then_some(Self { low, high })
    }
}
