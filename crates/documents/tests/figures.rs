//! Figures: they say what their numbers say, nothing a person typed becomes markup, and no input breaks them.

use levigate_documents::figure::{
    Along, FlowCurve, FlowFigure, FlowMeasured, FlowPoint, FlowSeries, FlowTarget, Mark, PhWindow, RateAt,
    RatesFigure, RecoveryFigure, RecoveryPoint, Rendition, Residual, ResidualFigure, Scope, Settled,
    ShareCurve, SharePoint, ShearSpan, Span, TitrationFigure, TitrationPoint, TrendFigure, TrendPoint,
    TrendSeries, Upright, WindowsFigure, WorkingShareFigure,
};
use proptest::prelude::*;

const HOSTILE: &str = "</text><script>alert(1)</script>\" onload='x' & <b>";

fn window(name: &str, low: Option<f64>, high: Option<f64>) -> PhWindow {
    PhWindow { name: name.to_owned(), why: "works".to_owned(), low, high }
}

fn windows(target: Option<Span>, windows: Vec<PhWindow>) -> WindowsFigure {
    WindowsFigure { id: "w".to_owned(), title: "Windows".to_owned(), target, ph: None, windows }
}

fn titration(points: Vec<TitrationPoint>) -> TitrationFigure {
    TitrationFigure {
        id: "t".to_owned(),
        title: "Titration".to_owned(),
        titrant: "acid".to_owned(),
        unit: "%".to_owned(),
        points,
        target: Some(Span::new(4.5, 5.0)),
        marks: Vec::new(),
    }
}

fn series(name: &str, points: &[(f64, f64, bool)]) -> FlowSeries {
    let point =
        |&(shear_rate, viscosity, apart): &(f64, f64, bool)| FlowMeasured { shear_rate, viscosity, apart };
    FlowSeries { name: name.to_owned(), points: points.iter().map(point).collect() }
}

/// A power law of 2 Pa s^0.5 and index 0.5 with a band of a factor of 1.2, over eight decades.
fn flow() -> FlowFigure {
    let point = |step: i32| {
        let shear_rate = 10f64.powf(f64::from(step) / 4.0);
        let viscosity = 2.0 / shear_rate.sqrt();
        FlowPoint { shear_rate, viscosity, low: Some(viscosity / 1.2), high: Some(viscosity * 1.2) }
    };
    FlowFigure {
        id: "f".to_owned(),
        title: "Flow".to_owned(),
        upright: Upright::Viscosity,
        curves: vec![FlowCurve {
            name: "predicted".to_owned(),
            points: (-16..=16).map(point).collect(),
            evidence: Some(Span::new(0.1, 100.0)),
        }],
        measured: vec![series("trial 3", &[(1.0, 2.1, false), (10.0, 0.6, false), (100.0, 0.9, true)])],
        life: vec![
            ShearSpan { name: "settling".to_owned(), shear_rate: Span::new(1e-4, 1e-2) },
            ShearSpan { name: "pouring".to_owned(), shear_rate: Span::new(10.0, 100.0) },
            ShearSpan { name: "spreading".to_owned(), shear_rate: Span::new(50.0, 1e4) },
        ],
        targets: vec![FlowTarget {
            name: "brief".to_owned(),
            shear_rate: Span::new(4.0, 4.0),
            viscosity: Span::new(0.8, 1.2),
        }],
        settled: Vec::new(),
        scope: None,
    }
}

fn number(svg: &str, name: &str) -> f64 {
    let at = svg.find(&format!("{name}=\"")).expect("the attribute") + name.len() + 2;
    svg[at..].split('"').next().expect("a value").parse().expect("a number")
}

/// Where a value lies on a logarithmic axis between two ends, px.
fn along(value: f64, (low, high): (f64, f64), (from, to): (f64, f64)) -> f64 {
    from + (value / low).log10() / (high / low).log10() * (to - from)
}

/// Every attribute quoted, every element closed or nested: enough of a reader to notice markup that slipped in.
fn elements(svg: &str) -> Vec<String> {
    let mut open = Vec::new();
    let mut seen = Vec::new();
    for piece in svg.split('<').skip(1) {
        let tag = piece.split('>').next().expect("a tag ends");
        assert_eq!(tag.matches('"').count() % 2, 0, "{tag}");
        if let Some(closed) = tag.strip_prefix('/') {
            assert_eq!(open.pop().as_deref(), Some(closed), "closing {closed}");
            continue;
        }
        let name = tag.split([' ', '/', '\n']).next().expect("a name").to_owned();
        seen.push(name.clone());
        if !tag.ends_with('/') {
            open.push(name);
        }
    }
    assert!(open.is_empty(), "left open: {open:?}");
    seen
}

fn check(svg: &str) {
    let allowed = ["svg", "title", "desc", "g", "clipPath", "rect", "line", "path", "circle", "text"];
    for element in elements(svg) {
        assert!(allowed.contains(&element.as_str()), "{element}");
    }
    for word in ["NaN", "inf", "href", "<style", "style="] {
        assert!(!svg.contains(word), "{word} in {svg}");
    }
    assert!(svg.contains("role=\"img\"") && svg.contains("aria-labelledby="));
}

#[test]
fn windows_share_what_the_narrowest_ends_leave() {
    let target = Some(Span::new(4.6, 5.2));
    let figure = windows(target, vec![window("a", Some(2.5), Some(5.0)), window("b", Some(4.8), None)]);
    assert_eq!(figure.shared(), Some(Span::new(4.8, 5.0)));
    assert_eq!(figure.sentence(), "All windows hold from pH 4.80 to 5.00.");
    let figure = windows(target, vec![window("a", Some(2.5), Some(4.7)), window("b", Some(4.8), None)]);
    assert_eq!(figure.shared(), None);
    for rendition in [Rendition::Screen, Rendition::Print] {
        let svg = figure.svg(rendition);
        check(&svg);
        assert!(svg.contains("no pH lies in all windows"));
    }
    assert_eq!(figure.table().rows.len(), 3);
}

#[test]
fn the_target_band_of_a_titration_lies_where_the_axis_says() {
    let points = [(0.0, 7.0, 6.0), (0.1, 5.0, 4.0), (0.2, 3.0, 2.0)]
        .map(|(amount, ph, low)| TitrationPoint { amount, ph, low: Some(low), high: Some(ph + 0.5) });
    let svg = titration(points.to_vec()).svg(Rendition::Print);
    check(&svg);
    let number = |name: &str| number(&svg, name);
    let (low, high) = (number("data-y-low"), number("data-y-high"));
    let (top, bottom) = (number("data-top"), number("data-bottom"));
    let y = |ph: f64| bottom - (ph - low) / (high - low) * (bottom - top);
    let band = format!("y=\"{:.2}\" width=\"676.00\" height=\"{:.2}\"", y(5.0), y(4.5) - y(5.0));
    assert!(svg.contains(&band), "{band}");
}

#[test]
fn a_share_is_read_between_its_points_and_the_table_has_it() {
    let point = |ph: f64, percent: f64| SharePoint { ph, percent, low: None, high: None };
    let curve =
        ShareCurve { name: "benzoic acid".to_owned(), points: vec![point(4.0, 60.0), point(5.0, 10.0)] };
    assert_eq!(curve.at(4.5), Some(35.0));
    assert_eq!(curve.at(5.5), None);
    let figure = WorkingShareFigure {
        id: "s".to_owned(),
        title: "Shares".to_owned(),
        curves: vec![curve],
        window: Some(Span::new(4.0, 5.0)),
        logarithmic: false,
    };
    let svg = figure.svg(Rendition::Screen);
    check(&svg);
    assert!(svg.contains("60 % to 10 %"), "{svg}");
    assert!(figure.description().contains("not a passed challenge test"));
    assert_eq!(figure.table().csv(), "pH,\"benzoic acid, %\"\r\n4.00,60.0\r\n5.00,10.0\r\n");
    let mut figure = figure;
    for point in &mut figure.curves[0].points {
        (point.low, point.high) = (Some(point.percent - 5.0), Some(point.percent + 4.0));
    }
    assert_eq!(
        figure.table().csv(),
        "pH,\"benzoic acid, %\",\"from, %\",\"to, %\"\r\n4.00,60.0,55.0,64.0\r\n5.00,10.0,5.00,14.0\r\n"
    );
}

#[test]
fn a_flow_curve_lies_where_its_logarithmic_axes_say() {
    let svg = flow().svg(Rendition::Print);
    check(&svg);
    assert!(svg.contains("data-x-scale=\"logarithmic\" data-y-scale=\"logarithmic\""));
    let x = (number(&svg, "data-x-low"), number(&svg, "data-x-high"));
    let y = (number(&svg, "data-y-low"), number(&svg, "data-y-high"));
    let across = (number(&svg, "data-left"), number(&svg, "data-right"));
    let up = (number(&svg, "data-bottom"), number(&svg, "data-top"));
    // Measured at 1 and 10 1/s: rings at 2100 and 600 mPa s.
    for (rate, viscosity) in [(1.0, 2100.0), (10.0, 600.0)] {
        let ring = format!("cx=\"{:.2}\" cy=\"{:.2}\"", along(rate, x, across), along(viscosity, y, up));
        assert!(svg.contains(&ring), "{ring}");
    }
    // The target box spans 800 to 1200 mPa s.
    let (top, bottom) = (along(1200.0, y, up), along(800.0, y, up));
    assert!(svg.contains(&format!("y=\"{top:.2}\" width=\"18.00\" height=\"{:.2}\"", bottom - top)));
    assert!(svg.contains("brief: 800 to 1200 mPa\u{b7}s"));
    for name in ["predicted", "trial 3", "settling", "pouring", "spreading"] {
        assert!(svg.contains(&format!(">{name}<")), "{name}");
    }
}

#[test]
fn the_stress_is_the_viscosity_times_the_shear_rate() {
    let mut figure = flow();
    figure.upright = Upright::Stress;
    let table = figure.table();
    assert_eq!(table.head[1], "predicted, Pa");
    let row = table.rows.iter().find(|row| row[0] == "100" && !row[1].is_empty()).expect("a row at 100 1/s");
    assert_eq!(row[1..4], ["20.0", "16.7", "24.0"]);
    let measured =
        table.rows.iter().find(|row| row[0] == "100" && !row[4].is_empty()).expect("a measured row");
    assert_eq!(measured[4], "90.0");
}

#[test]
fn what_is_not_settled_is_not_named_and_looking_closer_leaves_the_table_whole() {
    let mut figure = flow();
    let whole = figure.table();
    assert!(!figure.svg(Rendition::Screen).contains("yield stress"));
    figure.scope = Some(Scope { shear_rate: Span::new(1.0, 50.0), upright: None });
    let svg = figure.svg(Rendition::Screen);
    check(&svg);
    assert!((number(&svg, "data-x-low"), number(&svg, "data-x-high")) == (1.0, 50.0));
    assert!(!svg.contains(">settling<") && svg.contains(">pouring<"));
    assert_eq!(figure.table(), whole);
    figure.scope = None;
    for point in &mut figure.curves[0].points {
        point.viscosity += 12.0 / point.shear_rate;
        (point.low, point.high) = (None, None);
    }
    figure.settled.push(Settled::YieldStress(12.0));
    let svg = figure.svg(Rendition::Print);
    check(&svg);
    assert!(svg.contains("yield stress 12 Pa"));
    assert!(figure.description().contains("yield stress 12 Pa"));
}

#[test]
fn residuals_say_where_the_model_is_too_thick() {
    let point = |shear_rate, ln_ratio, apart| Residual { at: shear_rate, ln_ratio, apart };
    let figure = ResidualFigure {
        id: "r".to_owned(),
        title: "Left over".to_owned(),
        along: Along::ShearRate,
        points: vec![point(10.0, 0.01, false), point(1.0, -0.02, false), point(100.0, 0.3, true)],
        scatter: Some(0.015),
    };
    let svg = figure.svg(Rendition::Screen);
    check(&svg);
    assert!(svg.contains("the model is thicker than what was measured"));
    // exp(0.3) - 1 = 0.34986, exp(-0.02) - 1 = -0.019801
    assert!(svg.contains("apart: +35 %"));
    assert_eq!(figure.table().rows[0][2], "\u{2212}2.0 %");
    assert_eq!(figure.table().rows[2][3], "apart");
}

#[test]
fn a_recovery_stands_over_time_and_names_only_the_end_that_is_settled() {
    // 30 - 20 exp(-t / 50) Pa s, 40 before.
    let law = |time_s: f64| 30.0 - 20.0 * (-time_s / 50.0).exp();
    let point = |step: i32| {
        let time_s = f64::from(step) * 25.0;
        RecoveryPoint { time_s, viscosity: law(time_s), law: Some(law(time_s)), apart: step == 3 }
    };
    let figure = RecoveryFigure {
        id: "r".to_owned(),
        title: "Recovery".to_owned(),
        law: "first order".to_owned(),
        curve: (0..=50).map(|step| (f64::from(step) * 5.0, law(f64::from(step) * 5.0))).collect(),
        points: (0..=8).map(point).collect(),
        in_the_end: Some(30.0),
        before: Some(40.0),
        across: None,
    };
    let svg = figure.svg(Rendition::Screen);
    check(&svg);
    // A linear axis from the shear to the last reading, from nought upwards.
    assert!(!svg.contains("data-x-scale"));
    assert_eq!((number(&svg, "data-x-low"), number(&svg, "data-x-high")), (0.0, 200.0));
    assert_eq!(number(&svg, "data-y-low"), 0.0);
    assert!(svg.contains("in the end 30000") && svg.contains("before the shear 40000"));
    assert!(svg.contains("first order"));
    assert_eq!(figure.table().rows.len(), 9);
    // 30 - 20 exp(-1) = 22.642
    assert_eq!(figure.table().rows[2][..3], ["50.0", "22600", "22600"]);
    assert_eq!(figure.table().rows[3][3], "apart");
    assert!(figure.description().contains("from 10000 mPa\u{b7}s after 0 s"), "{}", figure.description());
    let open =
        RecoveryFigure { in_the_end: None, before: None, across: Some(Span::new(0.0, 50.0)), ..figure };
    let svg = open.svg(Rendition::Print);
    check(&svg);
    assert_eq!(number(&svg, "data-x-high"), 50.0);
    assert!(!svg.contains("in the end"));
    let empty = RecoveryFigure { curve: Vec::new(), points: Vec::new(), ..open };
    check(&empty.svg(Rendition::Screen));
    assert!(empty.table().rows.is_empty());
}

#[test]
fn names_that_people_typed_stay_text() {
    let mut figure = windows(None, vec![window(HOSTILE, Some(3.0), None)]);
    figure.title = HOSTILE.to_owned();
    figure.id = "\"><script>".to_owned();
    check(&figure.svg(Rendition::Screen));
    assert!(!figure.table().html().contains("<script"));
    let mut figure = titration(vec![TitrationPoint { amount: 0.0, ph: 7.0, low: None, high: None }]);
    figure.titrant = HOSTILE.to_owned();
    figure.marks.push(Mark { amount: 0.0, ph: 7.0, label: HOSTILE.to_owned() });
    check(&figure.svg(Rendition::Print));
    let mut figure = flow();
    figure.title = HOSTILE.to_owned();
    figure.curves[0].name = HOSTILE.to_owned();
    figure.measured[0].name = HOSTILE.to_owned();
    figure.life[0].name = HOSTILE.to_owned();
    figure.targets[0].name = HOSTILE.to_owned();
    check(&figure.svg(Rendition::Screen));
    let figure = WorkingShareFigure {
        id: String::new(),
        title: HOSTILE.to_owned(),
        curves: vec![ShareCurve { name: HOSTILE.to_owned(), points: Vec::new() }],
        window: None,
        logarithmic: true,
    };
    check(&figure.svg(Rendition::Screen));
}

#[test]
fn screens_take_their_inks_from_the_page_and_paper_has_its_own() {
    let figure = windows(Some(Span::new(4.0, 5.0)), vec![window("a", Some(3.0), Some(6.0))]);
    assert!(figure.svg(Rendition::Screen).contains("currentColor"));
    let print = figure.svg(Rendition::Print);
    assert!(!print.contains("currentColor") && !print.contains("var("));
}

proptest! {
    #[test]
    fn no_numbers_break_a_figure(
        numbers in prop::collection::vec(prop::num::f64::ANY, 0..30),
        a in prop::num::f64::ANY,
        b in prop::num::f64::ANY,
    ) {
        let span = Some(Span { low: a, high: b });
        let pairs: Vec<(f64, f64)> = numbers.windows(2).map(|pair| (pair[0], pair[1])).collect();
        let rows = pairs.iter().map(|(low, high)| window("x", Some(*low), Some(*high))).collect();
        let mut figure = windows(span, rows);
        figure.ph = Some(a);
        check(&figure.svg(Rendition::Screen));
        let _ = (figure.table(), figure.description());
        let points =
            pairs.iter().map(|(x, y)| TitrationPoint { amount: *x, ph: *y, low: Some(a), high: Some(b) }).collect();
        let mut figure = titration(points);
        figure.target = span;
        figure.marks.push(Mark { amount: a, ph: b, label: "m".to_owned() });
        check(&figure.svg(Rendition::Print));
        let _ = (figure.table(), figure.description());
        for logarithmic in [false, true] {
            let points =
                pairs.iter().map(|(x, y)| SharePoint { ph: *x, percent: *y, low: Some(a), high: Some(b) }).collect();
            let figure = WorkingShareFigure {
                id: "p".to_owned(),
                title: "p".to_owned(),
                curves: vec![ShareCurve { name: "c".to_owned(), points }],
                window: span,
                logarithmic,
            };
            check(&figure.svg(Rendition::Print));
            let _ = (figure.table(), figure.description());
        }
        for upright in [Upright::Viscosity, Upright::Stress] {
            let points = pairs
                .iter()
                .map(|(x, y)| FlowPoint { shear_rate: *x, viscosity: *y, low: Some(a), high: Some(b) })
                .collect();
            let measured: Vec<(f64, f64, bool)> = pairs.iter().map(|(x, y)| (*y, *x, false)).collect();
            let figure = FlowFigure {
                upright,
                curves: vec![FlowCurve { name: "c".to_owned(), points, evidence: span }],
                measured: vec![series("m", &measured)],
                life: vec![ShearSpan { name: "l".to_owned(), shear_rate: Span { low: a, high: b } }],
                targets: vec![FlowTarget {
                    name: "t".to_owned(),
                    shear_rate: Span { low: a, high: b },
                    viscosity: Span { low: b, high: a },
                }],
                settled: vec![Settled::YieldStress(a), Settled::AtRest(b)],
                scope: span.map(|span| Scope { shear_rate: span, upright: Some(span) }),
                ..flow()
            };
            check(&figure.svg(Rendition::Screen));
            let (_, _) = (figure.table(), figure.description());
            let whole = FlowFigure { scope: None, ..figure };
            check(&whole.svg(Rendition::Print));
        }
        let points =
            pairs.iter().map(|(x, y)| Residual { at: *x, ln_ratio: *y, apart: *x > *y }).collect();
        let figure = ResidualFigure {
            id: "r".to_owned(),
            title: "r".to_owned(),
            along: if a > b { Along::Time } else { Along::ShearRate },
            points,
            scatter: Some(a),
        };
        check(&figure.svg(Rendition::Screen));
        let reading = |&(x, y): &(f64, f64)| RecoveryPoint { time_s: x, viscosity: y, law: Some(x), apart: x > y };
        let recovery = RecoveryFigure {
            id: "r".to_owned(),
            title: HOSTILE.to_owned(),
            law: HOSTILE.to_owned(),
            curve: pairs.clone(),
            points: pairs.iter().map(reading).collect(),
            in_the_end: Some(a),
            before: Some(b),
            across: span,
        };
        check(&recovery.svg(Rendition::Print));
        let _ = (recovery.table(), recovery.description());
        let _ = (figure.table(), figure.description());
    }
}

fn trend(points: Vec<(f64, f64)>) -> TrendFigure {
    let batch =
        |name: &str| TrendSeries { name: name.to_owned(), points: points.clone(), line: Some((5.5, -0.02)) };
    TrendFigure {
        id: "t".to_owned(),
        title: "pH over time".to_owned(),
        attribute: "pH".to_owned(),
        unit: String::new(),
        batches: vec![batch("QL-1"), batch(HOSTILE)],
        band: (0..5)
            .map(|month| {
                let (months, value) = (f64::from(month), 5.5 - 0.02 * f64::from(month));
                TrendPoint { months, value, low: value - 0.01, high: value + 0.01 }
            })
            .collect(),
        lower: Some(5.2),
        upper: None,
        leaves: Some(12.3),
        wanted: Some(24.0),
    }
}

#[test]
fn a_trend_shows_points_line_limit_and_when_it_is_reached() {
    let figure = trend(vec![(0.0, 5.5), (1.0, 5.48), (3.0, 5.44)]);
    let svg = figure.svg(Rendition::Print);
    assert!(
        svg.contains("limit reached: 12.3 months")
            && svg.contains("wanted: 24.0 months")
            && svg.contains("least 5.20")
    );
    assert!(!svg.contains("<script") && !svg.contains("onload='x'"));
    let table = figure.table();
    assert_eq!(table.rows.len(), 2 * 3 + 5);
    assert!(table.rows.iter().any(|row| row[0] == "3.00" && row[2] == "5.4400"));
    assert!(figure.description().contains("6 readings of 2 batches"));
}

#[test]
fn a_trend_or_rates_without_numbers_still_draw() {
    let mut figure = trend(vec![(f64::NAN, 5.0), (1.0, f64::INFINITY)]);
    figure.band.clear();
    figure.leaves = Some(f64::NAN);
    assert!(figure.svg(Rendition::Screen).starts_with("<svg"));
    let rates = RatesFigure {
        id: "r".to_owned(),
        title: "Rates".to_owned(),
        unit: "per month".to_owned(),
        rates: vec![RateAt { celsius: f64::NAN, rate: 0.0, low: None, high: None }],
        stored: Vec::new(),
        law: None,
    };
    assert!(rates.svg(Rendition::Screen).starts_with("<svg"));
}

#[test]
fn rates_stand_at_their_temperatures() {
    let at = |celsius: f64, rate: f64| RateAt { celsius, rate, low: None, high: None };
    let figure = RatesFigure {
        id: "r".to_owned(),
        title: "Rates".to_owned(),
        unit: "per month".to_owned(),
        rates: vec![at(40.0, 0.0387), at(25.0, 0.01)],
        stored: vec![at(25.0, 0.01)],
        law: Some((70.0, at(25.0, 0.01))),
    };
    let svg = figure.svg(Rendition::Print);
    assert!(svg.contains("40 \u{b0}C") && svg.contains("25 \u{b0}C, by the law"));
    assert_eq!(figure.table().rows[0][1], "40");
}
