//! Every formula shipped in `examples/` can be read, assessed and turned into a batch sheet.

use jiff::civil::date;
use levigate_project::workbench::assess::assess;
use std::path::Path;

fn formulas() -> Vec<(String, String)> {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples");
    let mut found = Vec::new();
    for folder in [examples.clone(), examples.join("scenarios")] {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            if name.ends_with(".toml") && !name.contains("prices") {
                found.push((name, std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    found.sort();
    found
}

#[test]
fn every_example_is_assessed() {
    let facts = levigate_facts::shipped().unwrap();
    let formulas = formulas();
    assert!(formulas.len() >= 10, "{} formulas", formulas.len());
    for (name, text) in formulas {
        match assess(&facts, date(2026, 11, 24), "eu", &name, &text) {
            Ok(done) => {
                let ph = done.assessment.ph.neat.value.unwrap();
                println!("{name}: pH {ph:.2}, {} findings", done.assessment.findings.len());
                for line in &done.assessment.lines {
                    println!("   {:<40} {:.4} {}", line.name, line.percent.value.unwrap(), line.basis);
                }
                for finding in &done.assessment.findings {
                    println!(
                        "   [{}] {} {} -> {}",
                        finding.gravity.word(),
                        finding.code,
                        finding.found,
                        finding.change
                    );
                }
            }
            Err(told) => {
                panic!("{name}: {}", told.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
            }
        }
    }
}
