//! A correction keeps what it corrects and is made once.

use levigate_project::flow_table::Meaning;
use levigate_project::records::{
    CurveColumn, CurvePoint, FitTaken, FlowCurve, FromDevice, Id, MaterialOverlay, Observation, OverlaySort,
    Photo, Reading, Setting, Theme, Trial, TypedNumber, in_force,
};
use levigate_project::store::StoreError;
use levigate_project::workspace::Workspace;

use super::{begun, ph, trial};

/// The smallest whole PNG: one pixel.
pub(crate) const PIXEL: &[u8] = &[
    0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A, 0, 0, 0, 13, 0x49, 0x48, 0x44, 0x52, 0, 0, 0, 1, 0, 0, 0,
    1, 8, 0, 0, 0, 0, 0x3A, 0x7E, 0x9B, 0x55, 0, 0, 0, 10, 0x49, 0x44, 0x41, 0x54, 0x78, 0x9C, 0x63, 0x60, 0,
    0, 0, 2, 0, 1, 0x48, 0xAF, 0xA4, 0x71, 0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82,
];

pub(super) async fn a_correction_keeps_the_old_value(workspace: &Workspace) {
    let formula = begun(workspace, "Toner").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let wrong = workspace.add("Ilse", ph(made, "52.0")).await.unwrap();
    let right = workspace.correct("Ben", wrong.id, "point slipped", ph(made, "5.20")).await.unwrap();
    let readings = workspace.of::<Reading, _>(made).await.unwrap();
    assert_eq!(readings, [wrong.clone(), right.clone()]);
    assert_eq!(readings[0].what.value.typed, "52.0");
    assert_eq!(readings[1].what.value.value.map(|value| value.to_string()).as_deref(), Some("5.20"));
    let correction = readings[1].corrects.as_ref().unwrap();
    assert_eq!((correction.supersedes, correction.reason.as_str()), (wrong.id, "point slipped"));
    assert_eq!(in_force(&readings), [&right]);
}

pub(super) async fn a_record_is_corrected_once(workspace: &Workspace) {
    let formula = begun(workspace, "Toner").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let elsewhere = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let wrong = workspace.add("Ilse", ph(made, "5.0")).await.unwrap().id;
    let unfit = workspace.correct("Ben", wrong, " ", ph(made, "5.1")).await;
    assert!(matches!(unfit, Err(StoreError::Unfit(_))), "a correction without a reason");
    let moved = workspace.correct("Ben", wrong, "other trial", ph(elsewhere, "5.1")).await;
    assert!(matches!(moved, Err(StoreError::Missing { .. })), "a correction belongs to the same trial");
    let first = workspace.correct("Ben", wrong, "misread", ph(made, "5.1")).await.unwrap();
    let second = workspace.correct("Ilse", wrong, "misread", ph(made, "5.2")).await;
    assert!(matches!(second, Err(StoreError::AlreadyCorrected { id, .. }) if id == wrong.uuid()));
    let third = workspace.correct("Ilse", first.id, "misread again", ph(made, "5.2")).await.unwrap();
    let readings = workspace.of::<Reading, _>(made).await.unwrap();
    assert_eq!(in_force(&readings), [&third]);
    assert_eq!(readings.len(), 3);
}

/// A measured curve of a trial.
pub(super) fn curve(made: Id<Trial>) -> FlowCurve {
    let column = |name: &str, meaning: Meaning, unit: &str| CurveColumn {
        name: name.to_owned(),
        meaning,
        unit: unit.to_owned(),
    };
    // Numbers that are no short decimals, and one at the edge of what a number can be.
    let points = [(1.0 / 3.0, 0.1 + 0.2), (f64::MIN_POSITIVE, 1e300), (700.0, 2.0_f64.sqrt())];
    let point = |(at, (shear_rate, stress)): (usize, (f64, f64))| CurvePoint {
        line: at + 2,
        typed: ["0,33".to_owned(), "300".to_owned()],
        shear_rate,
        stress,
    };
    FlowCurve {
        trial: made,
        name: "up".to_owned(),
        file: "T7.csv".to_owned(),
        sha256: "ab".repeat(32),
        columns: [
            column("Shear rate [1/s]", Meaning::ShearRate, "1/s"),
            column("Viscosity [cP]", Meaning::Viscosity, "cP"),
        ],
        points: points.into_iter().enumerate().map(point).collect(),
        recovery: None,
        spindle: String::new(),
        temperature_c: Some(TypedNumber::read_either("25,0")),
        age_h: None,
        instrument: "the old one".to_owned(),
        geometry: "cone".to_owned(),
        direction: None,
        waiting: "1 min".to_owned(),
        note: String::new(),
        fit: Some(FitTaken {
            model: "cross".to_owned(),
            weights: "log".to_owned(),
            shear_rate_1_s: [Some("0.1".to_owned()), None],
        }),
        from: FromDevice::default(),
        withdrawn: false,
    }
}

pub(super) async fn a_curve_comes_back_bit_by_bit_and_is_corrected(workspace: &Workspace) {
    let formula = begun(workspace, "Gel").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let curve = curve(made);
    let kept = workspace.add("Ilse", curve.clone()).await.unwrap();
    assert_eq!(workspace.get(kept.id).await.unwrap().what, curve);
    let withdrawn = FlowCurve { withdrawn: true, ..curve.clone() };
    let right = workspace.correct("Ben", kept.id, "wrong beaker", withdrawn).await.unwrap();
    let curves = workspace.of::<FlowCurve, _>(made).await.unwrap();
    assert_eq!(curves, [kept, right.clone()]);
    assert_eq!(in_force(&curves), [&right]);
    let none = FlowCurve { points: Vec::new(), ..curve.clone() };
    assert!(matches!(workspace.add("Ilse", none).await, Err(StoreError::Unfit(_))));
    let mut below = curve;
    below.points[0].stress = -1.0;
    assert!(matches!(workspace.add("Ilse", below).await, Err(StoreError::Unfit(_))));
}

pub(super) async fn a_photo_comes_back_as_it_was(workspace: &Workspace) {
    let formula = begun(workspace, "Gel").await.formula.id;
    let made = workspace.add("Ilse", trial(formula, 1)).await.unwrap().id;
    let photo = Photo::new(PIXEL.to_vec()).unwrap();
    let seen = workspace
        .observe("Ilse", Observation::in_words(made, "fish eyes"), Some(photo.clone()))
        .await
        .unwrap();
    let words =
        workspace.observe("Ilse", Observation::in_words(made, "clear after an hour"), None).await.unwrap();
    assert_eq!(workspace.photo(seen.id).await.unwrap(), photo);
    assert!(matches!(workspace.photo(words.id).await, Err(StoreError::Missing { .. })));
    assert!(matches!(
        workspace.observe("Ilse", Observation::in_words(made, ""), None).await,
        Err(StoreError::Unfit(_))
    ));
    assert_eq!(workspace.of::<Observation, _>(made).await.unwrap(), [seen, words]);
    workspace.verify().await.unwrap();
}

pub(super) async fn trials_are_copied_and_numbered_per_formula(workspace: &Workspace) {
    let (one, two) = (begun(workspace, "One").await.formula.id, begun(workspace, "Two").await.formula.id);
    let first = workspace.add("Ilse", trial(one, 1)).await.unwrap();
    assert_eq!(workspace.add("Ilse", trial(two, 1)).await.unwrap().number, 1);
    let next = workspace.add("Ilse", Trial::copied_from(&first, 1, "xanthan first")).await.unwrap();
    assert_eq!((next.number, next.what.parent, next.what.process.as_str()), (2, Some(first.id), "stir"));
    assert_eq!(workspace.of::<Trial, _>(one).await.unwrap(), [first, next]);
}

pub(super) async fn overlays_and_settings_count_by_their_latest(workspace: &Workspace) {
    let overlay = |sort, text: &str| MaterialOverlay {
        sort,
        key: "own-xanthan".to_owned(),
        text: text.to_owned(),
        withdrawn: false,
    };
    workspace.add_after("Ilse", overlay(OverlaySort::Material, "a = 1"), 0).await.unwrap();
    workspace.add_after("Ilse", overlay(OverlaySort::Price, "p = 1"), 0).await.unwrap();
    let newer = workspace.add_after("Ben", overlay(OverlaySort::Material, "a = 2"), 1).await.unwrap();
    let stale = workspace.add_after("Ilse", overlay(OverlaySort::Material, "a = 3"), 1).await;
    assert!(matches!(stale, Err(StoreError::Moved { yours: 1, theirs: 2, .. })));
    let latest = workspace.latest::<MaterialOverlay>().await.unwrap();
    assert_eq!(latest.iter().map(|kept| kept.what.text.as_str()).collect::<Vec<_>>(), ["p = 1", "a = 2"]);
    assert_eq!(latest[1], newer);
    assert_eq!(workspace.all::<MaterialOverlay>().await.unwrap().len(), 3);

    let setting = |theme| Setting { person: "Ilse".to_owned(), decimal_sign: Default::default(), theme };
    assert_eq!(workspace.setting("Ilse").await.unwrap(), setting(Theme::System));
    workspace.add("Ilse", setting(Theme::Light)).await.unwrap();
    workspace.add("Ilse", setting(Theme::Dark)).await.unwrap();
    assert_eq!(workspace.setting("Ilse").await.unwrap().theme, Theme::Dark);
    assert_eq!(workspace.setting("Ben").await.unwrap().theme, Theme::System);
}
