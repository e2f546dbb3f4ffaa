//! An invented challenge test of the toner: everything in it is made up.

use super::{STUDIO, number};
use levigate_project::records::{ChallengeTest, Formula, FromDevice, Id, Inoculated, Trial};
use levigate_project::store::StoreError;
use levigate_project::workspace::Workspace;
use levigate_rules::challenge::Kind;

/// Puts the test into the workspace.
pub(super) async fn keep(
    workspace: &Workspace,
    formula: Id<Formula>,
    trial: Id<Trial>,
) -> Result<(), StoreError> {
    // Organism, kind, initial count, counts on days 2, 7, 14, 21 and 28.
    let rows = [
        ("Pseudomonas aeruginosa", Kind::Bacteria, "4.7e5", ["1.1e3", "<10", "<10", "", "<10"]),
        ("Staphylococcus aureus", Kind::Bacteria, "5.2e5", ["8.4e3", "210 190", "<10", "", "<10"]),
        ("Escherichia coli", Kind::Bacteria, "6.1e5", ["2.2e3", "40 20", "<10", "", "<10"]),
        ("Candida albicans", Kind::Yeast, "6.1e4", ["3.9e4", "8.2e3", "640", "30", "<10"]),
        ("Aspergillus brasiliensis", Kind::Mould, "3.2e4", ["", "2.6e4", "1.4e4", "6.0e3", "1.9e3"]),
    ];
    let test = ChallengeTest {
        formula,
        version: 2,
        trial: Some(trial),
        sample: "trial 2, amber glass, kept 4 weeks at 40 °C before".to_owned(),
        laboratory: "Harrow Lane Microbiology (invented)".to_owned(),
        started: super::day((2026, 10, 12)),
        method: "ISO 11930".to_owned(),
        ph: Some(number("3.96")),
        age_h: Some(number("672")),
        unit: "CFU/g".to_owned(),
        recovered_percent: Some(number("78")),
        alone_percent: Some(number("94")),
        days: vec![2, 7, 14, 21, 28],
        organisms: rows
            .into_iter()
            .map(|(organism, kind, initial, counts)| Inoculated {
                organism: organism.to_owned(),
                kind,
                initial: initial.to_owned(),
                counts: counts.map(str::to_owned).to_vec(),
            })
            .collect(),
        note: "Sent near the upper edge of the pH window, where least of the benzoate works.".to_owned(),
        from: FromDevice::default(),
        withdrawn: false,
    };
    workspace.add(STUDIO, test).await?;
    Ok(())
}
