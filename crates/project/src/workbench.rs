//! The verbs: what a person can ask of a formula, whichever door they come in by.

pub mod assess;
pub mod citations;
pub mod complaint;
pub mod curves;
pub mod difference;
pub mod draft;
pub mod figures;
pub mod flow_drawing;
pub mod flow_fit;
pub mod flow_in_use;
pub mod flow_level;
pub mod flow_predict;
pub mod flow_sheet;
pub mod flow_use;
pub mod keeping;
pub mod label;
pub mod lots;
pub mod materials;
pub mod own_material;
pub mod readings;
pub mod sheet;
pub mod shelf;
pub mod summary;
pub mod titrate;
pub mod trials;
pub mod weigh;
