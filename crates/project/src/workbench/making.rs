//! Making it, one module per question.

pub mod adjust;
pub mod calibrate;
pub mod evaporate;
pub mod heat;
pub mod lethality;
pub mod mix;
pub mod scale;
pub mod uncertainty;

use crate::diagnostic::{Diagnostic, at};

/// What the facts must have; only facts without the shipped ones lack it.
fn needed<'f, T>(
    (file, text): (&str, &str),
    found: Option<&'f T>,
    table: &str,
) -> Result<&'f T, Vec<Diagnostic>> {
    found.ok_or_else(|| {
        let what = format!("the facts have no [{table}]");
        vec![at((file, text), &(0..0), "no-sizes", "", what, "lay facts with this table over")]
    })
}
