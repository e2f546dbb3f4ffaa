//! Challenge tests as they are typed: what is kept, what is refused beside its field, and what is drawn.

use levigate_project::records::{Formula, Id, Record as _};
use levigate_project::workbench::challenge_tests::{
    TypedChallenge, TypedOrganism, points_of, read_challenge,
};
use levigate_project::workbench::keeping::KeepError;
use uuid::Uuid;

fn formula() -> Id<Formula> {
    Id::from_uuid(Uuid::from_u128(1))
}

fn row(organism: &str, kind: &str, initial: &str, counts: &[&str]) -> TypedOrganism {
    TypedOrganism {
        organism: organism.to_owned(),
        kind: kind.to_owned(),
        initial: initial.to_owned(),
        counts: counts.iter().map(|count| (*count).to_owned()).collect(),
    }
}

fn typed(days: &[&str], rows: Vec<TypedOrganism>) -> TypedChallenge {
    TypedChallenge {
        version: 1,
        days: days.iter().map(|day| (*day).to_owned()).collect(),
        rows,
        ..TypedChallenge::default()
    }
}

#[test]
fn days_come_in_order_and_their_counts_with_them() {
    let rows = vec![
        row("Escherichia coli", "bacteria", "6,1e5", &["<10", "240 260", ""]),
        row("Candida albicans", "yeast", "", &["", "", ""]),
    ];
    let test = read_challenge(formula(), &typed(&["14", "7", ""], rows)).unwrap();
    assert_eq!(test.days, [7, 14]);
    assert_eq!(test.organisms.len(), 1, "a row without counts is passed over");
    assert_eq!(test.organisms[0].counts, ["240 260", "<10"]);
    test.check().unwrap();
    let (organism, points) = &points_of(&test)[0];
    assert_eq!(organism, "Escherichia coli");
    let days: Vec<(u16, bool)> = points.iter().map(|one| (one.day, one.below)).collect();
    assert_eq!(days, [(0, false), (7, false), (14, true)]);
    assert!((points[1].log - 250f64.log10()).abs() < 1e-12);
    // Read back from what is stored, it is the same.
    let stored = serde_json::to_string(&test).unwrap();
    assert_eq!(serde_json::from_str::<levigate_project::records::ChallengeTest>(&stored).unwrap(), test);
}

#[test]
fn everything_wrong_is_told_beside_its_field() {
    let rows = vec![
        row("Escherichia coli", "bacteria", "<10", &["many", "10"]),
        row("Escherichia coli", "algae", "1e5", &["10", "0"]),
        row("", "yeast", "1e5", &["10", "10"]),
    ];
    let mut wrong = typed(&["7", "7"], rows);
    wrong.recovered_percent = "80".to_owned();
    wrong.unit = "CFU".to_owned();
    let Err(KeepError::Typed(faults)) = read_challenge(formula(), &wrong) else {
        panic!("it is kept");
    };
    let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
    for field in [
        "days.1",
        "rows.0.initial",
        "rows.0.counts.0",
        "rows.1.organism",
        "rows.1.kind",
        "rows.1.counts.1",
        "rows.2.organism",
        "unit",
        "alone_percent",
    ] {
        assert!(fields.contains(&field), "{field}: {fields:?}");
    }
    assert!(read_challenge(formula(), &typed(&["7"], Vec::new())).is_err(), "no organism");
    assert!(
        read_challenge(formula(), &typed(&["0"], vec![row("E. coli", "bacteria", "1e5", &["3"])])).is_err()
    );
}
