//! The laws of procedures, over formulas put together at random: a proposal keeps what it claims, every line goes in once, steps survive a file.

use levigate_assess::procedure::{Procedure, StepKind};
use levigate_facts::Facts;
use levigate_project::formula_file;
use levigate_project::workbench::procedure::{as_text, procedure};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::LazyLock;

static FACTS: LazyLock<Facts> = LazyLock::new(|| levigate_facts::shipped().expect("the shipped facts"));

/// Raw materials of every kind that handling asks about.
const MATERIALS: [(&str, f64); 34] = [
    ("Glycerin", 4.0),
    ("Propanediol", 5.0),
    ("Butylene glycol", 3.0),
    ("Carbomer", 0.4),
    ("xanthan-gum", 0.3),
    ("sclerotium-gum", 0.5),
    ("hypromellose-100k", 0.8),
    ("hypromellose-100k-treated", 0.8),
    ("hydroxyethylcellulose-treated", 0.5),
    ("sodium-hyaluronate-medium", 0.1),
    ("agar", 0.3),
    ("carrageenan-lambda", 0.4),
    ("glycolic-acid-70", 8.0),
    ("citric-acid", 0.2),
    ("lactic-acid-90", 1.0),
    ("sodium-benzoate", 0.4),
    ("potassium-sorbate", 0.2),
    ("sodium-chloride", 0.5),
    ("sodium-lactate-60", 2.0),
    ("disodium-edta-dihydrate", 0.1),
    ("ascorbic-acid", 5.0),
    ("copper-tripeptide-1", 0.05),
    ("acetyl-hexapeptide-8-solution", 4.0),
    ("phenoxyethanol", 0.8),
    ("ethylhexylglycerin", 0.1),
    ("lavender-oil", 0.15),
    ("polysorbate-20", 1.0),
    ("squalane", 3.0),
    ("cetearyl-alcohol", 1.0),
    ("glyceryl-stearate-citrate", 1.0),
    ("ethanol-96", 8.0),
    ("niacinamide", 4.0),
    ("salicylic-acid", 0.5),
    ("tocopherol", 0.1),
];

fn formula() -> impl Strategy<Value = String> {
    let lines = prop::collection::btree_set(0..MATERIALS.len(), 1..10);
    let setting = prop_oneof![
        Just(None),
        Just(Some(("Sodium hydroxide 10 %", 5.5))),
        Just(Some(("Tromethamine", 6.0))),
        Just(Some(("citric-acid-10", 4.5))),
    ];
    (lines, setting, prop::option::of(60..85_u32), any::<u64>()).prop_map(|(lines, setting, hot, order)| {
        let mut text = String::from(
            "[product]\nname = \"Any\"\ntype = \"gel\"\nsite = \"face\"\nleave_on = true\nmarkets = [\"eu\"]\n",
        );
        let mut lines: Vec<usize> = lines.into_iter().collect();
        lines.sort_by_key(|line| (*line as u64).wrapping_mul(order | 1));
        let half = lines.len().div_ceil(2);
        for (name, part) in [("A", &lines[..half]), ("B", &lines[half..])] {
            text.push_str(&format!("\n[[phase]]\nname = \"{name}\"\n"));
            if let (Some(celsius), "A") = (hot, name) {
                text.push_str(&format!("temperature_c = {celsius}\n"));
            }
            for line in part {
                let (material, percent) = MATERIALS[*line];
                text.push_str(&format!("[[phase.line]]\nmaterial = \"{material}\"\npercent = {percent}\n"));
            }
            if name == "A" {
                text.push_str("[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n");
            }
        }
        if let Some((material, ph)) = setting {
            text.push_str(&format!("\n[[phase]]\nname = \"C\"\n[[phase.line]]\nmaterial = \"{material}\"\nto_ph = {ph}\n"));
        }
        text
    })
}

fn broken(found: &Procedure) -> Vec<String> {
    let own = found.broken.iter().chain(found.steps.iter().flat_map(|step| &step.broken));
    own.map(|one| format!("{} {}", one.rule, one.found)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_proposal_keeps_what_it_claims_and_uses_every_line_once(text in formula()) {
        // Not every mixture reaches its pH; what cannot be assessed has no procedure.
        let Ok((found, steps)) = procedure(&FACTS, "any.toml", &text) else {
            return Err(TestCaseError::reject("cannot be assessed"));
        };
        prop_assert_eq!(broken(&found), Vec::<String>::new(), "{}", text);
        let mut sums: BTreeMap<usize, f64> = BTreeMap::new();
        for line in found.steps.iter().flat_map(|step| &step.lines) {
            *sums.entry(line.line).or_default() += line.percent;
        }
        let all: f64 = sums.values().sum();
        prop_assert!((all - 100.0).abs() < 1e-6, "{all} % go in");
        prop_assert_eq!(found.steps.last().map(|step| step.does), Some(StepKind::Check));
        for step in &found.steps {
            prop_assert_eq!(&found.steps[step.number - 1].key, &step.key);
            if let Some(at) = step.temperature {
                prop_assert!(at.celsius[0] <= at.celsius[1] && at.celsius[1] <= 100.0);
            }
        }
        for conflict in &found.conflicts {
            prop_assert!(conflict.demands.len() >= 2 && conflict.left_out >= 1);
        }

        // Taken into the file, the steps are the same procedure, and nothing is told of them.
        let file = format!("{text}\n{}", as_text(&steps));
        let read = formula_file::read("any.toml", &file).unwrap();
        prop_assert_eq!(&read.sheet.steps, &steps);
        let again = formula_file::write(&read.sheet, None).unwrap();
        prop_assert_eq!(&formula_file::read("again.toml", &again).unwrap().sheet, &read.sheet);
        let (own, _) = procedure(&FACTS, "any.toml", &file).unwrap();
        prop_assert!(own.written);
        prop_assert_eq!(broken(&own), Vec::<String>::new());
        prop_assert_eq!(own.steps.len(), found.steps.len());
    }

    #[test]
    fn any_order_of_steps_is_judged_without_a_panic_and_a_missing_step_is_told(
        text in formula(), order in any::<u64>(), gone in 0..20_usize,
    ) {
        let Ok((_, mut steps)) = procedure(&FACTS, "any.toml", &text) else { return Ok(()) };
        let taken = steps.remove(gone % steps.len());
        // Premixes are made before they are added, else the file is refused with a reason.
        let mut place = 0_u64;
        steps.sort_by_cached_key(|step| {
            place += 1;
            (step.does != StepKind::Premix, place.wrapping_mul(order | 1))
        });
        let file = format!("{text}\n{}", as_text(&steps));
        match procedure(&FACTS, "any.toml", &file) {
            Ok((found, _)) => {
                if !taken.lines.is_empty() {
                    prop_assert!(broken(&found).iter().any(|one| one.starts_with("each-line-once")));
                }
            }
            Err(told) => prop_assert!(told.iter().all(|one| one.what.contains("premix"))),
        }
    }
}

const GEL: &str = r#"
[product]
name = "Gel"
type = "gel"
site = "face"
leave_on = true
[[phase]]
name = "A"
[[phase.line]]
material = "Water"
remainder = true
[[phase.line]]
material = "Glycerin"
percent = 4
[[phase.line]]
material = "xanthan-gum"
percent = 0.5
[[step]]
does = "premix"
name = "slurry"
lines = [{ material = "Glycerin" }, { material = "xanthan-gum" }]
[[step]]
does = "add"
lines = [{ material = "Water" }]
premixes = ["slurry"]
temperature_c = [20, 25]
minutes = [20, 30]
"#;

#[test]
fn each_mistake_in_a_step_is_told_with_its_place() {
    assert!(formula_file::read("f.toml", GEL).is_ok());
    for (change, to, line, says) in [
        ("does = \"add\"", "does = \"ad\"", 23, "\"ad\" is not known here"),
        ("does = \"add\"", "", 22, "does is missing"),
        ("name = \"slurry\"", "", 18, "name is missing"),
        (
            "{ material = \"Water\" }",
            "{ material = \"Watr\" }",
            24,
            "no line of the formula is called \"Watr\"",
        ),
        ("{ material = \"Water\" }", "{ material = \"Water\", nth = 2 }", 24, "none is number 2"),
        ("{ material = \"Water\" }", "{ material = \"Water\", share_percent = 0 }", 24, "cannot go in"),
        ("premixes = [\"slurry\"]", "premixes = [\"slury\"]", 25, "makes a premix called \"slury\""),
        ("temperature_c = [20, 25]", "temperature_c = [25, 20]", 26, "runs from 25 down to 20"),
        ("temperature_c = [20, 25]", "temperature_c = [20, 250]", 26, "outside 0 to 100"),
        ("minutes = [20, 30]", "minuts = [20, 30]", 27, "\"minuts\" is not a field here"),
    ] {
        let told: Vec<String> = formula_file::read("f.toml", &GEL.replace(change, to))
            .err()
            .unwrap_or_default()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert!(
            told.iter().any(|text| text.starts_with(&format!("f.toml:{line}:")) && text.contains(says)),
            "{to}: {told:?}"
        );
    }
}

#[test]
fn what_melts_above_what_it_meets_bears_is_named_as_the_smallest_set() {
    // Retinol bears 35 C; the wax beside it melts at 70 C, and both are oil of one phase.
    let text = r#"
[product]
name = "Impossible"
type = "cream"
site = "face"
leave_on = true
[[phase]]
name = "A"
[[phase.line]]
material = "Water"
remainder = true
[[phase.line]]
material = "squalane"
percent = 5
[[phase.line]]
material = "cetearyl-alcohol"
percent = 2
[[phase.line]]
material = "retinol-10"
percent = 0.5
"#;
    let (found, _) = procedure(&FACTS, "f.toml", text).unwrap();
    let conflict = found.conflicts.first().expect("a conflict");
    let rules: Vec<&str> = conflict.demands.iter().map(|one| one.rule.as_str()).collect();
    assert!(rules.contains(&"wax-melts") && rules.contains(&"heat-limit"), "{rules:?}");
    assert!(rules.iter().filter(|rule| **rule == "carry-a-oil-phase").count() == 2, "{rules:?}");
    assert_eq!(rules.len(), 4);
    assert_eq!(found.conflicts.len(), 1);
    // The mildest gives way: the retinol is not melted with the wax, it waits for the cooled batch.
    assert!(
        conflict.demands[conflict.left_out - 1].stands.starts_with("retinol-10")
            || conflict.demands[conflict.left_out - 1].rule == "carry-a-oil-phase"
    );
    assert_eq!(broken(&found), Vec::<String>::new());
}

fn of_lines(lines: &[(&str, &str)]) -> Procedure {
    let mut text = String::from(
        "[product]\nname = \"Any\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\nmarkets = [\"eu\"]\n\n[[phase]]\nname = \"A\"\n",
    );
    for (material, amount) in lines {
        text.push_str(&format!("\n[[phase.line]]\nmaterial = \"{material}\"\n{amount}\n"));
    }
    procedure(&FACTS, "any.toml", &text).unwrap_or_else(|list| panic!("{list:?}")).0
}

#[test]
fn a_distillate_is_the_water_that_acid_and_base_go_into() {
    let found = of_lines(&[
        ("rose-water", "remainder = true"),
        ("Sodium hydroxide 10 %", "to_ph = 5.5"),
        ("citric-acid", "percent = 0.3"),
    ]);
    let why = found.steps.iter().flat_map(|step| &step.because);
    let told: Vec<&str> =
        why.filter(|one| one.rule == "water-before-acid-and-base").map(|one| one.stands.as_str()).collect();
    assert!(told.iter().any(|stands| stands.contains("Rose")), "{told:?}");
}

#[test]
fn drops_of_base_for_a_treated_powder_are_cautioned_of_where_they_fall() {
    let found = of_lines(&[("Water", "remainder = true"), ("hypromellose-100k-treated", "percent = 0.8")]);
    let swells = found.steps.iter().find(|step| step.does == StepKind::Hydrate).expect("it swells");
    assert!(swells.instruction.contains("drops of base"));
    let caustic: Vec<&str> =
        swells.cautions.iter().filter(|one| one.hazard == "caustic").map(|one| one.text.as_str()).collect();
    assert_eq!(caustic.len(), 1, "{:?}", swells.cautions);
    assert_eq!(swells.sources, ["makers-hpmc"]);
    let untreated = of_lines(&[("Water", "remainder = true"), ("xanthan-gum", "percent = 0.3")]);
    assert!(untreated.steps.iter().flat_map(|step| &step.cautions).all(|one| one.hazard != "caustic"));
}

#[test]
fn a_step_that_sets_the_ph_is_offered_where_none_does_and_never_put_in() {
    let formula = |steps: &str| {
        format!(
            "[product]\nname = \"Case\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[target]\nph = [4.2, 4.8]\n[[phase]]\nname = \"A\"\n\
             [[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Sodium benzoate\"\npercent = 0.4\n\
             [[phase.line]]\nmaterial = \"Citric acid\"\nto_ph = 4.5\n{steps}"
        )
    };
    let add = |names: &[&str]| {
        let lines: Vec<String> = names.iter().map(|name| format!("{{ material = \"{name}\" }}")).collect();
        format!("[[step]]\ndoes = \"add\"\nlines = [{}]\n", lines.join(", "))
    };
    let told = |steps: &str| procedure(&FACTS, "case", &formula(steps)).expect("a procedure").0;
    // All in already: the acid goes over into the new step, behind all that goes in and before the look at the end.
    let last = format!(
        "{}{}[[step]]\ndoes = \"check\"\n",
        add(&["Water", "Sodium benzoate"]),
        add(&["Citric acid"])
    );
    let found = told(&last);
    assert_eq!(found.steps.len(), 3, "nothing is put in by itself");
    let offer = found.offer.expect("an offer");
    assert_eq!((offer.number, offer.line, offer.brings, offer.stays_percent.as_str()), (3, 2, true, ""));
    assert!(offer.why.contains("far edge"), "{}", offer.why);
    // Something stands behind the acid: its first portion stays.
    let found = told(&format!("{}{}", add(&["Water", "Citric acid"]), add(&["Sodium benzoate"])));
    let share = found.first.as_ref().map_or(0.0, |first| first.share);
    let offer = found.offer.expect("an offer");
    assert_eq!((offer.number, offer.brings), (3, true));
    let stays: f64 = offer.stays_percent.parse().expect("a number");
    assert!((stays - 100.0 * share).abs() < 1e-4, "{stays} {share}");
    // With what is offered nothing of it is missing any more, and no more goes in unread than may.
    let mended = format!(
        "[[step]]\ndoes = \"add\"\nlines = [{{ material = \"Water\" }}, {{ material = \"Citric acid\", share_percent = {stays} }}]\n{}\
         [[step]]\ndoes = \"adjust-ph\"\nlines = [{{ material = \"Citric acid\", share_percent = {} }}]\n",
        add(&["Sodium benzoate"]),
        ((100.0 - stays) * 1e6).round() / 1e6
    );
    let found = told(&mended);
    assert!(found.offer.is_none());
    let broken = found.broken.iter().chain(found.steps.iter().flat_map(|step| &step.broken));
    let rules: Vec<&str> = broken.map(|one| one.rule.as_str()).collect();
    assert!(!rules.contains(&"first-portion") && !rules.contains(&"each-line-once"), "{rules:?}");
    // Twice as much unread is told.
    let bold = mended.replacen(&format!("share_percent = {stays}"), "share_percent = 99.9", 1);
    let bold = bold.replace(
        &format!("share_percent = {}", ((100.0 - stays) * 1e6).round() / 1e6),
        "share_percent = 0.1",
    );
    let found = told(&bold);
    assert!(
        found.steps[0].broken.iter().any(|one| one.rule == "first-portion"),
        "{:?}",
        found.steps[0].broken
    );
    // A proposal needs no offer.
    assert!(told("").offer.is_none());
}
