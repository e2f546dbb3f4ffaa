//! Stirring, scale-up and hydration against textbooks and another program: `published/mixing.toml`, `cross/mixing.py`, `cross/hydration.py`.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_facts::{Facts, shipped};
use levigate_measure::Grade;
use levigate_process::flow::band::{Band, Spread};
use levigate_process::flow::pipe::HerschelBulkley;
use levigate_process::flow::reading::Known;
use levigate_process::hydration::Form;
use levigate_process::hydration::growth::growths;
use levigate_process::mixing::reading::Asked;
use levigate_process::mixing::stirred::{Edge, Pot, Stirred};
use levigate_process::mixing::suspend::Grains;
use levigate_process::scale_up::{Rule, speed};
use levigate_process::vessel::{Baffles, Bottom, BottomShape, Impeller, Vessel};
use std::f64::consts::PI;
use std::path::Path;
use std::sync::LazyLock;
use toml::Table;

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());

fn file(path: &str) -> Table {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap().parse().unwrap()
}

fn number(table: &Table, name: &str) -> f64 {
    let value = table.get(name).unwrap_or_else(|| panic!("{name} in {table:?}"));
    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap()
}

#[track_caller]
fn near(ours: f64, theirs: f64, relative: f64) {
    assert!((ours - theirs).abs() <= relative * theirs.abs(), "{ours} against {theirs}");
}

/// Half a unit of the last of three or four printed digits.
const THREE_DIGITS: f64 = 5e-3;
const FOUR_DIGITS: f64 = 5e-4;

struct Size {
    kind: &'static str,
    vessel_m: f64,
    impeller_m: f64,
    blade_m: Option<f64>,
    blades: Option<u32>,
    angle_deg: Option<f64>,
    baffles: Option<(u32, f64)>,
    power_number: Option<f64>,
    count: u32,
}

impl Size {
    fn of(kind: &'static str, vessel_m: f64, impeller_m: f64) -> Self {
        Self {
            kind,
            vessel_m,
            impeller_m,
            blade_m: None,
            blades: None,
            angle_deg: None,
            baffles: Some((4, 0.1 * vessel_m)),
            power_number: None,
            count: 1,
        }
    }

    fn vessel(&self) -> Vessel {
        let kind = FACTS.mixing.impellers[self.kind].clone();
        let flat = Bottom { shape: BottomShape::Flat, depth_m: 0.0 };
        let mut vessel = Vessel::new("", self.vessel_m, 2.0 * self.vessel_m, flat).unwrap();
        if let Some((count, width_m)) = self.baffles {
            vessel = vessel.with_baffles(Baffles { count, width_m }).unwrap();
        }
        vessel
            .with_impeller(Impeller {
                diameter_m: self.impeller_m,
                blade_m: self.blade_m.unwrap_or(kind.blade_ratio * self.impeller_m),
                blades: self.blades.unwrap_or(kind.blades),
                angle_deg: self.angle_deg.unwrap_or(kind.angle_deg),
                clearance_m: self.vessel_m / 3.0,
                count: self.count,
                off_centre: false,
                power_number: self.power_number,
                kind,
            })
            .unwrap()
    }
}

fn pot(vessel: &Vessel, depth_m: f64, density: f64) -> Pot<'_> {
    let volume = 0.25 * PI * vessel.diameter_m().powi(2) * depth_m;
    Pot::new(vessel, vessel.filled(volume).unwrap(), density).unwrap()
}

fn newton(viscosity: f64) -> HerschelBulkley {
    HerschelBulkley { yield_pa: 0.0, consistency: viscosity, index: 1.0 }
}

fn usual(pot: &Pot<'_>, liquid: &HerschelBulkley, speed: f64) -> Stirred {
    pot.at(liquid, speed, Edge::Usual)
}

#[test]
fn turbines_of_textbooks_take_the_printed_power() {
    let cases = file("published/mixing.toml");
    let of = |name: &str| cases[name].as_table().unwrap().clone();
    let case = of("turbine");
    let at = |name: &str| number(&case, name);
    let mut size = Size::of("disc-turbine-6", at("vessel_m"), at("impeller_m"));
    size.blade_m = Some(at("blade_m"));
    size.baffles = Some((4, at("baffle_m")));
    let bare = size.vessel();
    size.power_number = Some(at("thin_power_number"));
    let stated = size.vessel();
    let thin =
        usual(&pot(&stated, at("vessel_m"), at("density")), &newton(at("thin_viscosity")), at("speed"));
    near(thin.power_w / 1e3, at("thin_power_kw"), FOUR_DIGITS);
    // The power number of slow flow is our own here; the printed one was read from a chart.
    let pot_of_bare = pot(&bare, at("vessel_m"), at("density"));
    let thick = usual(&pot_of_bare, &newton(at("thick_viscosity")), at("speed"));
    near(thick.reynolds, at("thick_reynolds"), FOUR_DIGITS);
    let least = pot_of_bare.at(&newton(at("thick_viscosity")), at("speed"), Edge::Low);
    let most = pot_of_bare.at(&newton(at("thick_viscosity")), at("speed"), Edge::High);
    assert!((least.power_w..most.power_w).contains(&(1e3 * at("thick_power_kw"))), "{thick:?}");
    assert!((least.power_number..most.power_number).contains(&at("thick_power_number")));

    let case = of("propeller");
    let at = |name: &str| number(&case, name);
    let mut size = Size::of("propeller-3", 3.0 * at("impeller_m"), at("impeller_m"));
    size.power_number = Some(at("power_number"));
    let vessel = size.vessel();
    let found = usual(&pot(&vessel, 1.5, at("density")), &newton(at("viscosity")), at("speed"));
    near(found.reynolds, at("reynolds"), FOUR_DIGITS);
    near(found.froude, at("froude"), THREE_DIGITS);
    near(found.power_w, at("power_w"), THREE_DIGITS);

    let case = of("pitched_blades");
    let at = |name: &str| number(&case, name);
    let mut size = Size::of("pitched-blade-4", at("vessel_m"), at("impeller_m"));
    size.power_number = Some(at("power_number"));
    let vessel = size.vessel();
    let found = usual(&pot(&vessel, at("vessel_m"), at("density")), &newton(at("viscosity")), at("speed"));
    near(found.reynolds, at("reynolds"), THREE_DIGITS);
    let cubic_foot = 0.3048_f64.powi(3);
    near(found.power_per_volume / 745.7 * cubic_foot, at("hp_per_cubic_foot"), THREE_DIGITS);
    let volume = 0.25 * PI * at("vessel_m").powi(3);
    near(
        found.torque_n_m / 0.112_984_8 * cubic_foot / volume,
        at("inch_pounds_per_cubic_foot"),
        THREE_DIGITS,
    );
}

#[test]
fn turbine_of_a_foot_and_three_on_a_shaft() {
    let cases = file("published/mixing.toml");
    let case = cases["turbine_of_a_foot"].as_table().unwrap();
    let at = |name: &str| number(case, name);
    let water = newton(1e-3);
    let mut size = Size::of("disc-turbine-6", at("vessel_m"), at("impeller_m"));
    size.power_number = Some(at("power_number"));
    let vessel = size.vessel();
    let foot = pot(&vessel, at("vessel_m"), 1000.0);
    let found = usual(&foot, &water, at("speed"));
    near(found.power_w / 745.7, at("power_hp"), THREE_DIGITS);
    // Another published rule gives a longer time. That our interval takes it in was decided; how far off it is, is what is held here.
    let other = at("blend_s_by_another_rule") / found.blend_s.unwrap();
    let stated: Vec<f64> =
        case["of_ours"].as_array().unwrap().iter().map(|end| end.as_float().unwrap()).collect();
    assert!((stated[0]..=stated[1]).contains(&other), "{other}");
    assert!(other <= levigate_process::mixing::blend::LONGER);
    let mut large = Size::of("disc-turbine-6", 5.0 * at("vessel_m"), 5.0 * at("impeller_m"));
    large.power_number = Some(at("power_number"));
    let large = large.vessel();
    let plant = pot(&large, 5.0 * at("vessel_m"), 1000.0);
    let speed = speed(Rule::PowerPerVolume, &water, (&foot, at("model_rpm") / 60.0), &plant).unwrap();
    near(60.0 * speed, at("plant_rpm"), THREE_DIGITS);

    let case = cases["three_on_a_shaft"].as_table().unwrap();
    let at = |name: &str| number(case, name);
    let power = |kind, power_number, count| {
        let mut size = Size::of(kind, at("vessel_m"), at("impeller_m"));
        size.power_number = Some(power_number);
        size.count = count;
        let vessel = size.vessel();
        usual(&pot(&vessel, 4.0, 1000.0), &water, at("speed")).power_w / 1e3
    };
    let turbine = power("disc-turbine-6", at("turbine_power_number"), 1);
    let pitched = power("pitched-blade-6", at("pitched_power_number"), 2);
    near(turbine, at("turbine_kw"), FOUR_DIGITS);
    near(pitched / 2.0, at("pitched_kw"), THREE_DIGITS);
    near(turbine + pitched, at("sum_kw"), FOUR_DIGITS);
}

#[test]
fn scale_up_of_textbooks_at_constant_power_number() {
    let cases = file("published/mixing.toml");
    let (first, case) = (cases["turbine"].as_table().unwrap(), cases["three_times"].as_table().unwrap());
    let stated = |vessel_m: f64, impeller_m: f64, power_number: f64, kind| {
        let mut size = Size::of(kind, vessel_m, impeller_m);
        size.power_number = Some(power_number);
        size.vessel()
    };
    let thin = newton(number(first, "thin_viscosity"));
    let bench = stated(number(first, "vessel_m"), number(first, "impeller_m"), 5.0, "disc-turbine-6");
    // The printed sizes are rounded; the ratio is the cube root of three.
    let root = 3f64.cbrt();
    let plant =
        stated(root * number(first, "vessel_m"), root * number(first, "impeller_m"), 5.0, "disc-turbine-6");
    near(plant.diameter_m(), number(case, "vessel_m"), THREE_DIGITS);
    let density = number(first, "density");
    let (bench, plant) = (pot(&bench, bench.diameter_m(), density), pot(&plant, plant.diameter_m(), density));
    for (rule, speed_name, power, per_volume) in [
        (
            Rule::PowerPerVolume,
            "power_per_volume_speed",
            "power_per_volume_power_kw",
            "power_per_volume_kw_m3",
        ),
        (Rule::TipSpeed, "tip_speed", "tip_power_kw", "tip_kw_m3"),
    ] {
        let found = speed(rule, &thin, (&bench, number(first, "speed")), &plant).unwrap();
        near(found, number(case, speed_name), FOUR_DIGITS);
        let there = usual(&plant, &thin, found);
        // Printed powers follow from rounded speeds.
        near(there.power_w / 1e3, number(case, power), THREE_DIGITS);
        near(there.power_per_volume / 1e3, number(case, per_volume), THREE_DIGITS);
    }

    let case = cases["powers"].as_table().unwrap();
    let at = |name: &str| number(case, name);
    let water = newton(1e-3);
    let ratio = at("ratio");
    let small = stated(0.07, at("bench_m"), at("power_number"), "pitched-blade-4");
    let large = stated(0.07 * ratio, at("bench_m") * ratio, at("power_number"), "pitched-blade-4");
    let (small, large) = (pot(&small, 0.052, at("density")), pot(&large, 0.052 * ratio, at("density")));
    let start = at("bench_rpm") / 60.0;
    near(usual(&small, &water, start).power_w, at("bench_w"), THREE_DIGITS);
    for (rule, name) in [
        (Rule::PowerPerVolume, "power_per_volume"),
        (Rule::TipSpeed, "tip_speed"),
        (Rule::Froude, "froude"),
        (Rule::Reynolds, "reynolds"),
        (Rule::JustSuspended, "just_suspended"),
    ] {
        near(speed(rule, &water, (&small, start), &large).unwrap() / start, at(name), THREE_DIGITS);
    }
    let there = |rule| usual(&large, &water, speed(rule, &water, (&small, start), &large).unwrap());
    let (power, tip, froude) = (there(Rule::PowerPerVolume), there(Rule::TipSpeed), there(Rule::Froude));
    near(60.0 * power.speed, at("power_per_volume_rpm"), THREE_DIGITS);
    near(power.tip_m_s, at("power_per_volume_tip"), THREE_DIGITS);
    near(power.power_w, at("power_per_volume_w"), THREE_DIGITS);
    near(60.0 * tip.speed, at("tip_rpm"), THREE_DIGITS);
    near(tip.power_w, at("tip_w"), 2e-2);
    near(60.0 * froude.speed, at("froude_rpm"), THREE_DIGITS);
    near(froude.power_w / 1e3, at("froude_kw"), THREE_DIGITS);
}

fn known(liquid: &HerschelBulkley) -> Known<'_> {
    Known {
        band: Band::exact(liquid),
        density_kg_m3: Spread { value: 1000.0, low: 1000.0, high: 1000.0 },
        grade: Grade::Measured,
        coverage: None,
        window: None,
        from: "as typed".to_owned(),
    }
}

#[test]
fn an_anchor_needs_the_turns_that_are_stated_and_no_more() {
    let mut size = Size::of("anchor", 1.0, 0.95);
    size.baffles = None;
    let vessel = size.vessel();
    let pot = pot(&vessel, 1.0, 1000.0);
    let thick = newton(5.0);
    let blend = Asked { pot: &pot, speed: 0.5, grains: None }.reading(&known(&thick)).blend_time;
    near(0.5 * blend.low.unwrap(), 35.0, 1e-9);
    near(0.5 * blend.high.unwrap(), 100.0, 1e-9);
}

#[test]
fn power_in_slow_flow_from_the_blades_says_what_a_thick_hub_does() {
    let said = |kind: &'static str, viscosity: f64| {
        let vessel = Size::of(kind, 0.3, 0.12).vessel();
        let pot = pot(&vessel, 0.3, 1000.0);
        let liquid = newton(viscosity);
        let power = Asked { pot: &pot, speed: 5.0, grains: None }.reading(&known(&liquid)).power;
        power.notes.iter().any(|note| note.code == "thick-hub")
    };
    assert!(said("pitched-blade-4", 1.0) && said("disc-turbine-6", 20.0));
    assert!(!said("pitched-blade-4", 1e-3) && !said("propeller-3", 1.0));
}

#[test]
fn power_of_a_blade_outside_the_range_of_its_law_says_so() {
    let said = |impeller_m: f64| {
        let vessel = Size::of("pitched-blade-4", 0.3, impeller_m).vessel();
        let pot = pot(&vessel, 0.3, 1000.0);
        let water = newton(1e-3);
        let power = Asked { pot: &pot, speed: 5.0, grains: None }.reading(&known(&water)).power;
        (power.grade, power.notes.iter().any(|note| note.code == "outside-range"))
    };
    assert_eq!(said(0.06), (Grade::RuleOfThumb, true));
    assert_eq!(said(0.12), (Grade::Correlated, false));
}

fn cross_vessel(table: &Table) -> (Vessel, f64, f64) {
    let at = |name: &str| number(table, name);
    let upright = at("angle_deg") > 89.0;
    let mut size =
        Size::of(if upright { "flat-paddle-2" } else { "pitched-blade-4" }, at("vessel_m"), at("impeller_m"));
    size.blade_m = Some(at("blade_m"));
    size.blades = Some(at("blades") as u32);
    size.angle_deg = Some(at("angle_deg"));
    size.baffles = (at("baffles") > 0.0).then(|| (at("baffles") as u32, at("baffle_m")));
    (size.vessel(), at("depth_m"), at("density"))
}

fn cross_liquid(case: &Table) -> HerschelBulkley {
    let of: Vec<f64> = case["liquid"]
        .as_array()
        .unwrap()
        .iter()
        .map(|value| value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap())
        .collect();
    HerschelBulkley { yield_pa: of[0], consistency: of[1], index: of[2] }
}

#[test]
fn another_program_stirs_the_same() {
    let cases = file("cross/mixing.toml");
    for case in cases["stirred"].as_array().unwrap() {
        let case = case.as_table().unwrap();
        let (vessel, depth, density) = cross_vessel(case["pot"].as_table().unwrap());
        let pot = pot(&vessel, depth, density);
        let found = usual(&pot, &cross_liquid(case), number(case, "speed"));
        near(found.reynolds, number(case, "reynolds"), 1e-9);
        near(found.viscosity_pa_s, number(case, "viscosity"), 1e-9);
        near(found.power_number, number(case, "power_number"), 1e-9);
        near(found.power_w, number(case, "power"), 1e-9);
        near(found.vortex.depth_m, number(case, "vortex"), 1e-9);
        near(found.vortex.below_rest_m, number(case, "below_rest"), 1e-7);
        match case.get("blend") {
            Some(_) => near(found.blend_s.unwrap(), number(case, "blend"), 1e-9),
            None => assert_eq!(found.blend_s, None),
        }
    }
    for case in cases["suspended"].as_array().unwrap() {
        let case = case.as_table().unwrap();
        let at = |name: &str| number(case, name);
        let grains =
            Grains { diameter_m: at("grain_m"), density_kg_m3: at("grain_density"), percent: at("percent") };
        let viscosity = at("nu") * at("density");
        near(grains.speed(at("constant"), at("impeller_m"), viscosity, at("density")), at("speed"), 1e-9);
    }
}

#[test]
fn another_program_finds_the_same_speeds() {
    let cases = file("cross/mixing.toml");
    let mut seen = std::collections::BTreeSet::new();
    for case in cases["scaled"].as_array().unwrap() {
        let case = case.as_table().unwrap();
        let word = case["rule"].as_str().unwrap();
        let rule = Rule::ALL
            .into_iter()
            .find(|rule| serde_json::to_value(rule).unwrap() == *word)
            .unwrap_or_else(|| panic!("{word}"));
        seen.insert(rule);
        let (small, small_depth, density) = cross_vessel(case["bench"].as_table().unwrap());
        let (large, large_depth, _) = cross_vessel(case["plant"].as_table().unwrap());
        let (small, large) = (pot(&small, small_depth, density), pot(&large, large_depth, density));
        let found = speed(rule, &cross_liquid(case), (&small, number(case, "speed")), &large).unwrap();
        near(found, number(case, "found"), 1e-8);
    }
    assert_eq!(seen.len(), Rule::ALL.len());
}

#[test]
fn another_program_fits_the_same_growth() {
    let cases = file("cross/hydration.toml");
    for case in cases["growth"].as_array().unwrap() {
        let case = case.as_table().unwrap();
        let readings: Vec<(f64, f64)> = case["readings"]
            .as_array()
            .unwrap()
            .iter()
            .map(|pair| {
                let of = |at: usize| {
                    let value = &pair.as_array().unwrap()[at];
                    value.as_float().or_else(|| value.as_integer().map(|whole| whole as f64)).unwrap()
                };
                (of(0), of(1))
            })
            .collect();
        let fits = growths(&readings).unwrap();
        let of = |form: Form| fits.iter().find(|fit| fit.form == form).unwrap();
        let at = |name: &str| number(case, name);
        let first = of(Form::FirstOrder);
        near(first.rate, at("tau"), 1e-5);
        near(first.scale, at("end"), 1e-5);
        near(first.aicc.unwrap(), at("first_aicc"), 1e-4);
        let limits = case["tau_limits"].as_array().unwrap();
        for (ours, theirs) in first.rate_limits.iter().zip(limits) {
            near(ours.unwrap(), theirs.as_float().unwrap(), 1e-5);
        }
        let wait = of(Form::Delayed);
        near(wait.aicc.unwrap(), at("wait_aicc"), 1e-4);
        assert!((wait.wait - at("wait")).abs() < 1e-3, "{} {}", wait.wait, at("wait"));
        near(wait.rate, at("wait_tau"), 1e-3);
        let logarithm = of(Form::Logarithm);
        near(logarithm.aicc.unwrap(), at("logarithm_aicc"), 1e-4);
        if at("slope") < 40.0 {
            near(logarithm.rate, at("slope"), 1e-4);
        }
    }
}
