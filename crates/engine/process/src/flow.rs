//! Flow: the stress a liquid or gel answers a shear rate with, as models, and the fit of models to measured curves.

pub mod film;
pub mod fit;
pub mod liquid;
pub mod model;
pub mod pipe;
pub mod solvent;
pub mod spindle;
pub mod suspension;

pub use fit::{Curve, CurveError, ModelFit, Ranking, Weights, fit_all, fit_model};
pub use liquid::{Liquid, Modelled};
pub use model::{FlowModel, Parameter};
