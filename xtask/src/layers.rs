//! Direction: what a crate may depend on. Anything else is an upward dependency and refused.

use std::path::Path;

/// Package, folder, and the house packages it may depend on (dev-dependencies included).
const MAY: &[(&str, &str, &[&str])] = &[
    ("levigate-measure", "crates/engine/measure", &[]),
    ("levigate-formula", "crates/engine/formula", &["levigate-measure"]),
    ("levigate-process", "crates/engine/process", &["levigate-measure"]),
    ("levigate-rules", "crates/engine/rules", &["levigate-measure", "levigate-formula"]),
    (
        "levigate-assess",
        "crates/engine/assess",
        &["levigate-measure", "levigate-formula", "levigate-process", "levigate-rules"],
    ),
    (
        "levigate-facts",
        "crates/facts",
        &["levigate-measure", "levigate-formula", "levigate-process", "levigate-rules", "levigate-assess"],
    ),
    (
        "levigate-project",
        "crates/project",
        &[
            "levigate-measure",
            "levigate-formula",
            "levigate-process",
            "levigate-rules",
            "levigate-assess",
            "levigate-facts",
        ],
    ),
    ("levigate-store", "crates/store", &["levigate-project"]),
    ("levigate-instruments", "crates/instruments", &["levigate-project"]),
    ("levigate-documents", "crates/documents", &["levigate-measure", "levigate-formula", "levigate-project"]),
    // The evidence lends its tests the damage done to valid texts.
    ("levigate-web", "crates/web", &["levigate-project", "levigate-documents", "levigate-evidence"]),
];

/// Packages the engine must never reach, directly.
const NOT_IN_ENGINE: &[&str] =
    &["tokio", "axum", "sqlx", "rand", "getrandom", "reqwest", "clap", "tracing", "log", "chrono"];

/// Modules of `formula` in order: a module may use only those before it.
const FORMULA_ORDER: &[&str] = &[
    "library",
    "names",
    "sheet",
    "composition",
    "settle",
    "density",
    "water_phase",
    "aqueous",
    "preservation",
];

/// Refuses upward dependencies.
pub(crate) fn check(root: &Path) -> Result<String, Vec<String>> {
    let mut complaints = Vec::new();
    for (package, folder, may) in MAY {
        let manifest = root.join(folder).join("Cargo.toml");
        let table: toml::Table = match std::fs::read_to_string(&manifest).map(|text| text.parse()) {
            Ok(Ok(table)) => table,
            _ => {
                complaints.push(format!("{folder}/Cargo.toml cannot be read; every room has a manifest"));
                continue;
            }
        };
        for section in ["dependencies", "dev-dependencies", "build-dependencies"] {
            let Some(dependencies) = table.get(section).and_then(toml::Value::as_table) else { continue };
            for name in dependencies.keys() {
                if name.starts_with("levigate") && !may.contains(&name.as_str()) {
                    complaints.push(format!("{package} depends upward on {name} ({folder}/Cargo.toml)"));
                }
                if folder.starts_with("crates/engine")
                    && section == "dependencies"
                    && NOT_IN_ENGINE.contains(&name.as_str())
                {
                    complaints.push(format!("{package} is engine and must not depend on {name}"));
                }
            }
        }
    }
    let source = root.join("crates/engine/formula/src");
    for (position, module) in FORMULA_ORDER.iter().enumerate() {
        let mut files = Vec::new();
        crate::tidy::files_below(&source.join(module), &mut files);
        files.push(source.join(format!("{module}.rs")));
        for file in files {
            let Ok(text) = std::fs::read_to_string(&file) else { continue };
            for later in &FORMULA_ORDER[position + 1..] {
                if text.contains(&format!("use crate::{later}")) {
                    complaints.push(format!("{} uses {later}, which stands above it", file.display()));
                }
            }
        }
    }
    if complaints.is_empty() {
        Ok("layers: every dependency points down".to_owned())
    } else {
        Err(complaints)
    }
}
