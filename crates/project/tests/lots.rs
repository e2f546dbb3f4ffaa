//! Lots read from what was typed: names are resolved, dates and numbers looked through, faults beside their fields.

use levigate_facts::shipped;
use levigate_project::records::{AgainstSpecification, CoaValue, TypedNumber};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workbench::lots::{TypedCoaValue, TypedLot, read_lot};

fn typed() -> TypedLot {
    TypedLot {
        material: "Mandelic acid".to_owned(),
        code: " MA-2608-14 ".to_owned(),
        assay_percent: "99,2".to_owned(),
        received: "2026-08-21".to_owned(),
        retest: "2027-08-20".to_owned(),
        certificate: vec![
            TypedCoaValue {
                name: "Loss on drying".into(),
                value: "0,3".into(),
                unit: "%".into(),
                most: "0,5".into(),
                ..TypedCoaValue::default()
            },
            TypedCoaValue::default(),
        ],
        documents: "certificate MA-2608-14.pdf; safety data sheet".to_owned(),
        ..TypedLot::default()
    }
}

#[test]
fn a_lot_is_read_with_its_material_found_by_any_name() {
    let facts = shipped().unwrap();
    let lot = read_lot(&facts, &typed()).unwrap();
    assert_eq!((lot.material.as_str(), lot.code.as_str()), ("mandelic-acid", "MA-2608-14"));
    assert_eq!(lot.assay_percent.unwrap().value.unwrap().to_string(), "99.2");
    assert_eq!(lot.certificate.len(), 1);
    assert_eq!(lot.certificate[0].against(), AgainstSpecification::Within);
    assert_eq!(lot.documents, ["certificate MA-2608-14.pdf", "safety data sheet"]);
}

#[test]
fn every_fault_names_its_field() {
    let facts = shipped().unwrap();
    let typed = TypedLot {
        material: "Mandelic acd".into(),
        code: " ".into(),
        assay_percent: "120".into(),
        received: "21.8.2026".into(),
        certificate: vec![TypedCoaValue {
            value: "3".into(),
            least: "no".into(),
            ..TypedCoaValue::default()
        }],
        quantity: "much".into(),
        quantity_unit: "lb".into(),
        ..typed()
    };
    let Err(KeepError::Typed(faults)) = read_lot(&facts, &typed) else { panic!("it was kept") };
    let fields: Vec<&str> = faults.iter().map(|fault| fault.field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "material",
            "code",
            "assay_percent",
            "received",
            "certificate.0.name",
            "certificate.0.least",
            "quantity",
            "unit"
        ]
    );
    assert!(faults.iter().all(|fault| !fault.what.is_empty() && !fault.what_now.is_empty()));
    let backwards = TypedLot { expiry: "2026-01-01".into(), ..self::typed() };
    assert!(read_lot(&facts, &backwards).unwrap_err().to_string().starts_with("expiry"));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(32))]
    #[test]
    fn no_text_panics(text in "\\PC{0,60}") {
        let facts = FACTS.get_or_init(|| shipped().unwrap());
        let _ = read_lot(facts, &TypedLot { material: text.clone(), code: text.clone(), assay_percent: text.clone(), received: text.clone(), expiry: text.clone(), documents: text, ..TypedLot::default() });
    }
}

static FACTS: std::sync::OnceLock<levigate_facts::Facts> = std::sync::OnceLock::new();

#[test]
fn a_value_is_held_against_its_specification_and_where_that_decides_nothing_a_person_is_asked() {
    let number = |text: &str| Some(text).filter(|text| !text.is_empty()).map(TypedNumber::read_either);
    let stands = |value: &str, least: &str, most: &str| {
        let value = TypedNumber::read_either(value);
        let (least, most) = (number(least), number(most));
        CoaValue { name: "x".to_owned(), value, unit: String::new(), least, most }.against()
    };
    assert_eq!(stands("5", "", ""), AgainstSpecification::NoLimit);
    assert_eq!(stands("5", "5", "5"), AgainstSpecification::Within);
    assert_eq!(stands("4,99", "5", ""), AgainstSpecification::Below);
    assert_eq!(stands("0.51", "", "0,5"), AgainstSpecification::Above);
    assert_eq!(stands("< 0,1", "", "0.5"), AgainstSpecification::Within);
    assert_eq!(stands("<1", "", "0.5"), AgainstSpecification::NotCompared);
    assert_eq!(stands("< 10", "5", ""), AgainstSpecification::NotCompared);
    assert_eq!(stands("clear", "", "0.5"), AgainstSpecification::NotCompared);
    assert_eq!(stands("119 to 121", "118", "122"), AgainstSpecification::NotCompared);
}
