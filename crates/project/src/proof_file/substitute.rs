//! The file of `substitute`: which raw material is gone, what may stand in its place, and in which formulas.
//!
//! ```toml
//! [substitute]
//! material = "Xanthan gum"
//! with = ["Sclerotium gum"]        # the nearest ones, where it is left out
//! most = 5                         # how many of the nearest
//! formulas = ["toner.toml"]        # files beside this one; left out for all formulas of a workspace
//! ```

use crate::diagnostic::Diagnostic;
use crate::flow_file::number;
use crate::making_file::finished;
use crate::toml_reader::{Reader, parsed};
use crate::workbench::proof::substitute::Substituted;
use rust_decimal::prelude::ToPrimitive;

/// `levigate schema substitute`.
pub const SCHEMA: &str = include_str!("substitute.schema.json");

const PATH: &str = "substitute";
/// How many of the nearest, where nobody says it.
pub const USUAL_MOST: usize = 5;
/// Most of the nearest.
pub const MOST: usize = 50;

/// A question with the formulas it names.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SubstituteFile {
    /// What is to be substituted.
    pub asked: Substituted,
    /// Names of formula files.
    pub formulas: Vec<String>,
}

/// Reads the file.
///
/// # Errors
/// All that is wrong with it, each with its place.
pub fn read(file: &str, text: &str) -> Result<SubstituteFile, Vec<Diagnostic>> {
    let root = parsed(file, text)?;
    let mut reader = Reader::new(file, text);
    reader.known_fields(root.get_ref(), "", &[PATH]);
    let Some((table, span)) = reader.table(root.get_ref(), "", PATH) else {
        reader.missing(&(0..0), "", PATH, "write [substitute] with material = \"Xanthan gum\"");
        return Err(reader.finish());
    };
    reader.known_fields(table, PATH, &["material", "with", "most", "formulas"]);
    let material =
        reader.required_string(table, PATH, "material", &span, "name the raw material that is gone");
    let mut strings = |key: &str| -> Vec<String> {
        reader.strings_with_places(table, PATH, key).into_iter().map(|(typed, _)| typed).collect()
    };
    let (with, formulas) = (strings("with"), strings("formulas"));
    #[expect(clippy::cast_precision_loss, reason = "a small count")]
    let most = number(&mut reader, table, PATH, "most", [1.0, MOST as f64]).and_then(|most| most.to_usize());
    let most = most.unwrap_or(USUAL_MOST);
    let asked = Substituted { material: material.unwrap_or_default(), with, most };
    finished(reader, Some(SubstituteFile { asked, formulas }))
}
