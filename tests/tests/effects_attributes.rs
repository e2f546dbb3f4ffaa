//! What differences did to other readings than the pH: densities against printed ones, doubts against constants, volumes and parameters really moved.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_assess::effects::Stand;
use levigate_assess::effects::attributes::{density_of, dry_matter, ph, preservative};
use levigate_assess::flow::learning::{Experience, How};
use levigate_assess::flow::{Flowing, flowing_at};
use levigate_assess::{Assessed, Inquiry, Known};
use levigate_facts::{Facts, shipped};
use levigate_formula::sheet::Sheet;
use levigate_process::flow::Liquid as _;
use levigate_process::flow::blend::Numbered;
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use serde::Deserialize;

fn sheet(lines: &[(&str, &str)]) -> Sheet {
    let mut text = "[product]\nname = \"Gel\"\ntype = \"gel\"\nsite = \"body\"\nleave_on = true\nmarkets = [\"eu\"]\n[[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n".to_owned();
    for (material, rest) in lines {
        text.push_str(&format!("[[phase.line]]\nmaterial = \"{material}\"\n{rest}\n"));
    }
    formula_file::read("gel.toml", &text).unwrap().sheet
}

fn assessed<'a>(sheet: &'a Sheet, known: Known<'a>) -> Assessed<'a> {
    levigate_assess::assess(&Inquiry { sheet, known, day: "2026-11-01".parse().unwrap(), market: "eu" })
        .unwrap()
}

#[derive(Deserialize)]
struct Printed {
    case: Vec<Density>,
}

#[derive(Deserialize)]
struct Density {
    glycerin_percent: f64,
    g_ml: f64,
}

#[test]
fn the_printed_change_of_density_lies_inside_and_is_known_better_than_either_density() {
    let printed: Printed = toml::from_str(include_str!("../published/density.toml")).unwrap();
    let facts = shipped().unwrap();
    let known = known(&facts);
    let at = |percent: f64| {
        let sheet = sheet(&[("Glycerin", &format!("percent = {percent}"))]);
        let (_, composition, _) = levigate_assess::solved(&sheet, &known).unwrap();
        density_of(&composition, known.library).unwrap()
    };
    for pair in printed.case.windows(2) {
        let (from, to) = (at(pair[0].glycerin_percent), at(pair[1].glycerin_percent));
        let change = Stand::change(&from, &to);
        let expected = pair[1].g_ml - pair[0].g_ml;
        let half = 1.96 * change.uncertainty();
        assert!((change.value - expected).abs() <= half, "{} ± {half}, printed {expected}", change.value);
        assert!(change.uncertainty() < from.uncertainty().min(to.uncertainty()));
    }
}

#[test]
fn a_density_feels_the_volume_of_a_solid_as_far_as_it_is_really_moved() {
    let mut facts = shipped().unwrap();
    let formula = sheet(&[("Betaine", "percent = 5"), ("Glycerin", "percent = 3")]);
    let value = |facts: &Facts| {
        let known = known(facts);
        let (_, composition, _) = levigate_assess::solved(&formula, &known).unwrap();
        density_of(&composition, known.library).unwrap()
    };
    let plain = value(&facts);
    let betaine = facts.library.substances.iter().find(|(_, one)| one.name.eq_ignore_ascii_case("betaine"));
    let (key, name) = betaine.map(|(key, one)| (key.clone(), one.name.clone())).unwrap();
    let pull = plain.pulls[&format!("volume of {name}")];
    let mut density = facts.library.substances.values().find_map(|one| one.density_kg_m3.clone()).unwrap();
    // Half of 0.45 to 0.85 mL/g, evenly spread.
    density.value = 1000.0 / (0.70 + 0.2 / 3.0_f64.sqrt());
    facts.library.substances.get_mut(&key).unwrap().density_kg_m3 = Some(density);
    let really = value(&facts).value - plain.value;
    assert!((really - pull).abs() < 0.02 * pull.abs(), "{really} {pull}");
}

#[test]
fn dry_matter_is_all_but_the_water() {
    let facts = shipped().unwrap();
    let known = known(&facts);
    let at = |lines: &[(&str, &str)]| {
        let sheet = sheet(lines);
        let (_, composition, _) = levigate_assess::solved(&sheet, &known).unwrap();
        dry_matter(&composition, known.library)
    };
    let plain = at(&[("Glycerin", "percent = 3"), ("Betaine", "percent = 2")]);
    let more = at(&[("Glycerin", "percent = 3"), ("Betaine", "percent = 4.5")]);
    let change = Stand::change(&plain, &more);
    assert!(plain.value > 4.5 && plain.value <= 5.0, "{}", plain.value);
    assert!(change.value > 2.3 && change.value <= 2.5, "{}", change.value);
    assert!(change.uncertainty() < 0.1, "{}", change.uncertainty());
}

#[test]
fn a_working_preservative_feels_constants_as_far_as_they_are_really_moved() {
    let facts = shipped().unwrap();
    let known = known(&facts);
    let text =
        include_str!("../../examples/night-toner-mandelic.toml").replace("to_ph = 3.8", "percent = 3.4");
    let toner = formula_file::read("toner", &text).unwrap().sheet;
    let of = assessed(&toner, known);
    let acidity = ph(&of.mixture, &of.composition, &known);
    let stand =
        preservative("sodium-benzoate", &of.assessment, (&of.mixture, &of.composition), &acidity, &known)
            .unwrap();
    let own = known.library.preservatives.get("sodium-benzoate").unwrap();
    let levigate_formula::library::WorkingForm::Undissociated { species } = &own.working_form else {
        panic!("it works undissociated")
    };
    let place = of.mixture.system.species().iter().position(|fact| fact.name == *species).unwrap();
    let share = |moved: &str, shift: f64| {
        let mut workspace = of.mixture.workspace.clone();
        let system = of.mixture.system.with_shifted_constant(moved, shift);
        system.solve(&of.mixture.totals, of.mixture.neutral_molality, &mut workspace).unwrap();
        workspace.molalities()[place]
    };
    let (mut felt, mut itself) = (0, false);
    for fact in of.mixture.system.species().iter().filter(|fact| fact.uncertainty_log10 > 0.0) {
        let Some(pull) = stand.pulls.get(&format!("constant of {}", fact.name)) else { continue };
        let part = 0.01 * fact.uncertainty_log10;
        let really = 100.0 * stand.value * (share(&fact.name, part) - share(&fact.name, -part))
            / 2.0
            / share(&fact.name, 0.0);
        assert!((really - pull).abs() < 0.03 * pull.abs() + 2e-6, "{}: {pull} {really}", fact.name);
        felt += usize::from(pull.abs() > 1e-4);
        itself |= fact.name == *species;
    }
    assert!(felt >= 2 && itself, "its own constant and that of the acid that holds the pH: {felt}");
    // What is not in a formula is not there, and known to be not there.
    let none =
        preservative("no-such", &of.assessment, (&of.mixture, &of.composition), &acidity, &known).unwrap();
    assert_eq!((none.value, none.uncertainty()), (0.0, 0.0));
}

fn gel(percent: f64, lot: &str) -> Sheet {
    let line = format!("percent = {percent:.3}\nlot = \"{lot}\"");
    sheet(&[("Glycerin", "percent = 3"), ("hypromellose-100k", &line)])
}

fn flowing<'a>(sheet: &'a Sheet, known: &Known<'a>) -> Flowing<'a> {
    flowing_at(&assessed(sheet, *known), sheet, known, 25.0)
}

#[test]
fn two_lots_never_seen_differ_by_what_is_open_between_lots() {
    let facts = shipped().unwrap();
    let known = known(&facts);
    let sheets = [gel(1.0, "A"), gel(1.0, "B")];
    let [one, other] = [0, 1].map(|at: usize| flowing(&sheets[at], &known));
    let shared = Experience::default().shared([&one, &other].into_iter(), "gel").unwrap();
    let how = How::ShearRate(10.0);
    let (before, after) = (shared.read(&one, &how).unwrap(), shared.read(&other, &how).unwrap());
    let change = Stand::change(&before.ln_pa_s, &after.ln_pa_s);
    assert!(change.value.abs() < 1e-12);
    // Half of what is open about the strength lies between lots: ln eta = s ln strength, var = 2 s^2 var/2.
    let strength = one.thickeners[0].known.law.law.symbols()[0].1;
    let columns = one.thickeners[0].known.knowledge.columns.iter().filter(|column| column.words == strength);
    let variance: f64 = columns.map(|column| column.theta[0].powi(2)).sum();
    let slope = one.blend.sensitivities(10.0)[0][0];
    let expected = slope.abs() * variance.sqrt();
    assert!((change.uncertainty() / expected - 1.0).abs() < 0.02, "{} {expected}", change.uncertainty());
    // The same lot twice: nothing.
    let same = Stand::change(&before.ln_pa_s, &shared.read(&one, &how).unwrap().ln_pa_s);
    assert_eq!((same.value, same.uncertainty()), (0.0, 0.0));
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

#[test]
fn what_a_dose_does_scatters_as_gels_with_drawn_parameters_do() {
    let facts = shipped().unwrap();
    let known = known(&facts);
    let sheets = [gel(1.0, "A"), gel(1.2, "A")];
    let [thin, thick] = [0, 1].map(|at: usize| flowing(&sheets[at], &known));
    let shared = Experience::default().shared([&thin, &thick].into_iter(), "gel").unwrap();
    let how = How::ShearRate(10.0);
    let stands = [&thin, &thick].map(|one| shared.read(one, &how).unwrap().ln_pa_s);
    let change = Stand::change(&stands[0], &stands[1]);
    assert!(change.uncertainty() < 0.5 * stands[0].uncertainty(), "most of what is open is shared");
    // Parameters drawn from the datasheet's own columns, both gels of the same ones; what the laws miss is shared and moves both alike here.
    let knowledge = &thin.thickeners[0].known.knowledge;
    let mut chance = Chance(7);
    let draws: Vec<f64> = (0..4000)
        .map(|_| {
            let mut numbers = thin.blend.numbers();
            for column in &knowledge.columns {
                let z = chance.normal();
                numbers.thetas[0].iter_mut().zip(&column.theta).for_each(|(value, by)| *value += z * by);
            }
            let ln =
                |one: &Flowing<'_>| Numbered { blend: &one.blend, numbers: &numbers }.viscosity(10.0).ln();
            ln(&thick) - ln(&thin)
        })
        .collect();
    let mean = draws.iter().sum::<f64>() / draws.len() as f64;
    let spread =
        (draws.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / (draws.len() - 1) as f64).sqrt();
    assert!((mean - change.value).abs() < 0.15 * spread + 0.01, "{mean} {}", change.value);
    assert!((change.uncertainty() / spread - 1.0).abs() < 0.12, "{} {spread}", change.uncertainty());
}
