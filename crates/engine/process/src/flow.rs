//! Flow: the stress a liquid or gel answers a shear rate with, as models, and the fit of models to measured curves.

pub mod band;
pub mod blend;
pub mod creaming;
mod curve;
pub mod datasheet;
pub mod dose;
pub mod estimate;
pub mod film;
pub mod fit;
pub mod heap;
mod integral;
pub mod levelling;
pub mod life;
pub mod line;
pub mod liquid;
pub mod model;
pub mod pipe;
pub mod points;
pub mod prediction;
mod profile;
pub mod reading;
pub mod settings;
pub mod solvent;
pub mod spindle;
pub mod spreading;
pub mod suspension;
pub mod temperature;
pub mod thickener;
pub mod thixotropy;
pub mod words;

pub use fit::{Curve, CurveError, ModelFit, Ranking, Weights, fit_all, fit_model};
pub use liquid::{Liquid, Modelled};
pub use model::{FlowModel, Parameter};
pub use prediction::Prediction;
