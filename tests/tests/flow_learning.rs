//! What the bench teaches about thickeners: laboratories whose truth is drawn from the belief itself, and readings that contradict it.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_assess::flow::learning::{Experience, How, Lesson, Seen};
use levigate_assess::flow::{Flowing, flowing_at};
use levigate_assess::{Assessed, Inquiry};
use levigate_facts::Facts;
use levigate_formula::sheet::Sheet;
use levigate_process::flow::blend::{Blend, Numbers};
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;

fn facts() -> Facts {
    levigate_facts::shipped().unwrap()
}

/// A gel with so many percent of hypromellose, and of another thickener where that is above zero.
fn gel(percent: f64, other: (&str, f64)) -> &'static Sheet {
    let second = if other.1 > 0.0 {
        format!("[[phase.line]]\nmaterial = \"{}\"\npercent = {:.3}\n", other.0, other.1)
    } else {
        String::new()
    };
    let text = format!(
        "[product]\nname = \"Gel\"\ntype = \"gel\"\nsite = \"body\"\nleave_on = true\nmarkets = [\"eu\"]\n\
         [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n\
         [[phase.line]]\nmaterial = \"Glycerin\"\npercent = 3\n\
         [[phase.line]]\nmaterial = \"hypromellose-100k\"\npercent = {percent:.3}\n{second}"
    );
    // A test's few sheets may live as long as the test.
    Box::leak(Box::new(formula_file::read("gel.toml", &text).unwrap().sheet))
}

fn assessed<'a>(facts: &'a Facts, sheet: &'static Sheet) -> Assessed<'a> {
    let day = "2026-11-01".parse().unwrap();
    levigate_assess::assess(&Inquiry { sheet, known: known(facts), day, market: "eu" }).unwrap()
}

fn flowing<'a>(facts: &'a Facts, sheet: &'static Sheet) -> Flowing<'a> {
    flowing_at(&assessed(facts, sheet), sheet, &known(facts), 25.0)
}

fn lesson<'a>(trial: &str, flowing: Flowing<'a>, rate: f64, value_pa_s: f64, deviation: f64) -> Lesson<'a> {
    let seen = vec![Seen { how: How::ShearRate(rate), value_pa_s, deviation }];
    Lesson { trial: trial.to_owned(), formula: "gel".to_owned(), flowing, seen, certificate: false }
}

/// Normal numbers from a seed (a linear congruence and Box and Muller's turn).
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (2.0 * std::f64::consts::PI * self.even()).cos()
    }
}

fn moved(numbers: &Numbers, by: &Numbers, z: f64) -> Numbers {
    let mut moved = numbers.clone();
    for (theta, by) in moved.thetas.iter_mut().zip(&by.thetas) {
        for (value, by) in theta.iter_mut().zip(by) {
            *value += z * by;
        }
    }
    for (gain, by) in moved.gains.iter_mut().zip(&by.gains) {
        *gain += z * by;
    }
    moved.miss += z * by.miss;
    moved
}

#[test]
fn a_reading_that_says_nothing_changes_nothing() {
    let facts = facts();
    for other in [("Xanthan gum", 0.0), ("hypromellose-4k", 0.3)] {
        let sheet = gel(1.2, other);
        let plain = flowing(&facts, sheet);
        let experience = Experience::of(&[
            lesson("1", plain.clone(), 10.0, 5.0, 1e6),
            lesson("2", plain.clone(), 1.0, 9.0, 1e6),
        ]);
        assert!(experience.speaks_of(&plain));
        let taught = experience.taught(&plain, "gel").unwrap();
        let again = Blend { taught: Some(taught), ..plain.blend.clone() }.predict();
        let before = plain.blend.predict();
        for rate in [1e-3, 1.0, 30.0, 1e4] {
            use levigate_process::flow::Liquid as _;
            assert!((again.stress(rate) / before.stress(rate) - 1.0).abs() < 1e-6);
            assert!((again.spread(rate) / before.spread(rate) - 1.0).abs() < 1e-6, "{rate}");
        }
    }
}

#[test]
fn the_band_holds_the_truth_as_often_as_it_says_before_and_after() {
    let facts = facts();
    for (other, seed) in [(("Xanthan gum", 0.0), 7), (("hypromellose-4k", 0.3), 11)] {
        let made: Vec<Flowing<'_>> =
            [1.0, 1.3, 1.15].iter().map(|percent| flowing(&facts, gel(*percent, other))).collect();
        let next = flowing(&facts, gel(1.2, other));
        let nothing = Experience::of(&[lesson("0", next.clone(), 10.0, 1.0, 1e9)]);
        let open = nothing.taught(&next, "gel").unwrap();
        let mut chance = Chance(seed);
        let (laboratories, rate) = (200, 10.0);
        let (mut before_holds, mut after_holds, mut narrower) = (0, 0, 0.0);
        for _ in 0..laboratories {
            let truth = open
                .columns
                .iter()
                .fold(open.best.clone(), |truth, column| moved(&truth, column, chance.normal()));
            let value = |of: &Flowing<'_>, own: f64| {
                let numbers = Numbers { miss: truth.miss + 0.5 * own, ..truth.clone() };
                of.blend.stress_with(&numbers, rate) / rate
            };
            let lessons: Vec<Lesson<'_>> = made
                .iter()
                .enumerate()
                .map(|(at, of)| {
                    let read = value(of, chance.normal()) * (0.04 * chance.normal()).exp();
                    lesson(&at.to_string(), of.clone(), rate, read, 0.04)
                })
                .collect();
            let real = value(&next, chance.normal()).ln();
            let within = |blend: &Blend<'_>| {
                let prediction = blend.predict();
                let best = (blend.stress(rate) / rate).ln();
                ((real - best).abs() <= 1.96 * prediction.spread(rate), prediction.spread(rate))
            };
            let (held, wide) = within(&next.blend);
            let taught = Experience::of(&lessons).taught(&next, "gel").unwrap();
            let (holds, narrow) = within(&Blend { taught: Some(taught), ..next.blend.clone() });
            before_holds += usize::from(held);
            after_holds += usize::from(holds);
            narrower += narrow / wide / f64::from(laboratories);
        }
        // 95 % of 200 with three standard deviations of chance, and one more for straight lines through what bends.
        for (when, held) in [("before", before_holds), ("after", after_holds)] {
            assert!((178..=199).contains(&held), "{held} of {laboratories} held {when} learning");
        }
        assert!(narrower < 0.6, "three trials leave {narrower} of the width");
    }
}

#[test]
fn a_weaker_lot_is_learned_as_the_lot_and_leaves_the_other_alone() {
    let facts = facts();
    let sheet = gel(1.2, ("", 0.0));
    let plain = flowing(&facts, sheet);
    // At a low shear rate, where a longer chain tells.
    let usual = plain.blend.stress(0.5) / 0.5;
    let of_lot = |lot: &str| {
        let mut flowing = plain.clone();
        flowing.thickeners[0].lot = lot.to_owned();
        flowing
    };
    let with_lot = |trial: &str, lot: &str, value: f64| lesson(trial, of_lot(lot), 0.5, value, 0.03);
    let experience = Experience::of(&[
        with_lot("1", "A", usual),
        with_lot("2", "A", usual * 1.01),
        with_lot("3", "B", usual * 0.82),
        with_lot("4", "B", usual * 0.84),
    ]);
    let with = |lot: &str| {
        let taught = experience.taught(&of_lot(lot), "gel").unwrap();
        Blend { taught: Some(taught), ..plain.blend.clone() }
    };
    let (a, b, c) = (with("A"), with("B"), with("C"));
    let value = |blend: &Blend<'_>| blend.stress(0.5) / 0.5 / usual;
    assert!((value(&a) - 1.0).abs() < 0.06, "{}", value(&a));
    assert!((value(&b) - 0.83).abs() < 0.06, "{}", value(&b));
    // A lot nobody has met lies between, and is less sure.
    assert!(value(&b) < value(&c) && value(&c) < value(&a));
    assert!(c.predict().spread(0.5) > 1.3 * a.predict().spread(0.5));
    let about_b = experience.stories()[2].moved.iter().find(|moved| moved.of.contains("lot B")).unwrap();
    assert!(about_b.value[1] < 0.0);
}

#[test]
fn a_reading_in_the_wrong_unit_contradicts() {
    let facts = facts();
    let plain = flowing(&facts, gel(1.2, ("", 0.0)));
    let usual = plain.blend.stress(10.0) / 10.0;
    let story = |factor: f64| {
        let experience = Experience::of(&[lesson("1", plain.clone(), 10.0, usual * factor, 0.04)]);
        (experience.stories()[0].clone(), experience.speaks_of(&plain))
    };
    // Typed in Pa s for mPa s: refused, and nothing is learned.
    let (refused, taught) = story(1000.0);
    assert!(refused.refused.unwrap().contains("unit") && !taught);
    // Two and a half times is learned from, and said to contradict.
    let (contradicting, taught) = story(2.5);
    assert!(contradicting.readings[0].contradicts() && taught);
    let (usual, _) = story(1.2);
    assert!(!usual.readings[0].contradicts());
}

#[test]
fn whatever_was_learned_a_curve_still_thins() {
    use levigate_process::flow::Liquid as _;
    let facts = facts();
    let plain = flowing(&facts, gel(1.2, ("", 0.0)));
    let usual = plain.blend.stress(10.0) / 10.0;
    for factors in [[0.6, 0.45], [1.7, 2.2], [0.6, 1.6]] {
        let lessons: Vec<Lesson<'_>> = factors
            .iter()
            .enumerate()
            .map(|(at, factor)| lesson(&at.to_string(), plain.clone(), 10.0, usual * factor, 0.04))
            .collect();
        let taught = Experience::of(&lessons).taught(&plain, "gel").unwrap();
        let learned = Blend { taught: Some(taught), ..plain.blend.clone() }.predict();
        for step in 0..100 {
            let rate = 10f64.powf(-5.0 + 0.1 * f64::from(step));
            assert!(
                learned.viscosity(rate * 1.26) <= learned.viscosity(rate) * 1.002,
                "{factors:?} at {rate}"
            );
        }
    }
}

#[test]
fn what_a_formula_taught_does_not_swell_outside_the_evidence() {
    let facts = facts();
    let plain = flowing(&facts, gel(1.2, ("", 0.0)));
    let usual = plain.blend.stress(10.0) / 10.0;
    let lessons: Vec<Lesson<'_>> =
        ["1", "2", "3"].iter().map(|trial| lesson(trial, plain.clone(), 10.0, usual * 1.5, 0.04)).collect();
    let experience = Experience::of(&lessons);
    // A trace of the gum thickens as little as it did before, whatever thicker gels of the same formula showed.
    let trace = flowing(&facts, gel(0.02, ("", 0.0)));
    let taught = experience.taught(&trace, "gel").unwrap();
    let learned = Blend { taught: Some(taught), ..trace.blend.clone() };
    let ratio = learned.stress(10.0) / trace.blend.stress(10.0);
    assert!(ratio > 0.9 && ratio < 1.6, "{ratio}");
}
