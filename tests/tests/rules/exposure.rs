//! Frames of exposure against the table of the committee.

use crate::question::{cases, close, eu, known_source, usage};
use levigate_rules::exposure::{applied_dose, frames, margin, systemic_dose};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ExposureFile {
    default: Vec<DefaultCase>,
    margin: Vec<MarginCase>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DefaultCase {
    name: String,
    source: String,
    site: String,
    percent: f64,
    exposure: f64,
    dose: f64,
    tolerance: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MarginCase {
    name: String,
    source: String,
    exposure: f64,
    percent: f64,
    absorption_percent: f64,
    point_of_departure: f64,
    dose: f64,
    margin: f64,
    tolerance: f64,
}

#[test]
fn exposure_frames_agree_with_the_committees_table() {
    let file: ExposureFile = cases("rules_exposure");
    for case in &file.default {
        known_source(&case.source);
        let frames = frames(&usage(&case.site, true), eu());
        assert_eq!(frames.len(), 1, "{}", case.name);
        let found = frames[0].product.value.unwrap();
        assert!(close(found, case.exposure, case.tolerance), "{}: {found}", case.name);
        let dose = applied_dose(&frames[0].product, "it", case.percent).value.unwrap();
        assert!(close(dose, case.dose, case.tolerance), "{}: {dose}", case.name);
    }
    for case in &file.margin {
        known_source(&case.source);
        let dose = systemic_dose(case.exposure, case.percent, case.absorption_percent);
        // The printed dose has three digits.
        assert!(close(dose.value.unwrap(), case.dose, 2e-3), "{}: {:?}", case.name, dose.value);
        let found = margin(case.point_of_departure, &dose).value.unwrap();
        assert!(close(found, case.margin, case.tolerance), "{}: {found}", case.name);
    }
}

#[test]
fn no_exposure_is_invented_for_the_eye_contour() {
    let frames = frames(&usage("eye", true), eu());
    assert_eq!(frames.len(), 1);
    assert_eq!(frames[0].product.value, None);
    assert!(frames[0].product.refused.as_ref().unwrap().contains("enter the amount"));
    assert_eq!(applied_dose(&frames[0].product, "it", 5.0).value, None);
}
