//! The aqueous equilibrium against another program, published buffers and textbook answers. Cases are TOML files beside this crate.

#![expect(clippy::unwrap_used, reason = "tests stop at the first surprise")]

use levigate_formula::aqueous::{
    ActivityModel, Chemistry, Conditions, Doubt, EquilibriumFile, Portion, Ray, Reach, Reaction, Speciation,
    System, Workspace, solve, water, water_activity,
};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::path::Path;

fn text(path: &str) -> String {
    let full = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
    std::fs::read_to_string(&full).unwrap_or_else(|error| panic!("{}: {error}", full.display()))
}

fn file<T: serde::de::DeserializeOwned>(path: &str) -> T {
    toml::from_str(&text(path)).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn solved(chemistry: &Chemistry, totals: &BTreeMap<String, f64>, conditions: &Conditions) -> Speciation {
    let system = System::prepare(chemistry, totals.keys().map(String::as_str), conditions).unwrap();
    let row = system.totals(totals).unwrap();
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    let speciation = system.read(&row, &workspace);
    assert!(speciation.residuals.mass_balance < 1e-10, "{:?}", speciation.residuals);
    speciation
}

#[derive(Deserialize)]
struct ReferenceFile {
    gates: Gates,
    case: Vec<ReferenceCase>,
}

#[derive(Deserialize)]
struct Gates {
    ph: f64,
    species_relative: f64,
    species_above: f64,
    free_metal_log10: f64,
    ionic_strength_relative: f64,
}

#[derive(Deserialize)]
struct ReferenceCase {
    id: String,
    title: String,
    temperature_c: f64,
    log10_pco2_atm: Option<f64>,
    totals: BTreeMap<String, f64>,
    ph: f64,
    ionic_strength: f64,
    water_activity: f64,
    free_metals: BTreeMap<String, f64>,
    species: BTreeMap<String, f64>,
}

fn reference_chemistry(path: &str) -> Chemistry {
    let file: EquilibriumFile = file(path);
    let gases = file.gases.clone();
    let mut chemistry = Chemistry::from_reactions(file.reactions, Vec::new()).unwrap();
    chemistry.gases = gases;
    chemistry
}

#[test]
fn thirty_reference_speciations_agree() {
    agree_with_reference("cross/aqueous_reference_constants.toml", "cross/aqueous_reference.toml", 30);
}

#[test]
fn random_solutions_agree_with_the_reference() {
    agree_with_reference("cross/random_reference_constants.toml", "cross/random_reference.toml", 60);
}

fn agree_with_reference(constants: &str, cases: &str, number: usize) {
    let chemistry = reference_chemistry(constants);
    let reference: ReferenceFile = file(cases);
    let gates = &reference.gates;
    assert_eq!(reference.case.len(), number);
    let mut misses = Vec::new();
    for case in &reference.case {
        let conditions = Conditions {
            temperature_c: case.temperature_c,
            activity: ActivityModel::Davies,
            log10_pco2_atm: case.log10_pco2_atm,
        };
        let ours = solved(&chemistry, &case.totals, &conditions);
        let mut check = |what: &str, ours: f64, theirs: f64, miss: f64, gate: f64| {
            if miss.is_nan() || miss > gate {
                misses.push(format!(
                    "{} {}, {what}: {ours} against {theirs} (miss {miss:.2e}, gate {gate})",
                    case.id, case.title
                ));
            }
        };
        check("pH", ours.ph, case.ph, (ours.ph - case.ph).abs(), gates.ph);
        let relative = (ours.ionic_strength / case.ionic_strength - 1.0).abs();
        check(
            "ionic strength",
            ours.ionic_strength,
            case.ionic_strength,
            relative,
            gates.ionic_strength_relative,
        );
        let apart = (ours.water_activity - case.water_activity).abs();
        check("water activity", ours.water_activity, case.water_activity, apart, 1e-5);
        for (name, &theirs) in &case.species {
            if theirs > gates.species_above {
                let value = ours.molality(name);
                check(name, value, theirs, (value / theirs - 1.0).abs(), gates.species_relative);
            }
        }
        for (name, &theirs) in &case.free_metals {
            let value = ours.free_metals.get(name).copied().unwrap_or(0.0);
            check(name, value, theirs, (value / theirs).log10().abs(), gates.free_metal_log10);
        }
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[derive(Deserialize)]
struct BufferFile {
    gates: BufferGates,
    case: Vec<BufferCase>,
}

#[derive(Deserialize)]
struct BufferGates {
    to_40_c: f64,
    to_60_c: f64,
}

#[derive(Deserialize)]
struct BufferCase {
    name: String,
    totals: BTreeMap<String, f64>,
    certified: Vec<[f64; 2]>,
}

fn shipped_chemistry() -> Chemistry {
    levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}")).chemistry
}

/// pH and the ends of its interval.
fn with_interval(
    chemistry: &Chemistry,
    totals: &BTreeMap<String, f64>,
    conditions: &Conditions,
) -> (f64, f64, f64) {
    let system = System::prepare(chemistry, totals.keys().map(String::as_str), conditions).unwrap();
    let row = system.totals(totals).unwrap();
    let mut workspace = Workspace::new();
    system.solve(&row, 0.0, &mut workspace).unwrap();
    let slopes = system.sensitivities(&workspace);
    let interval = system.ph_interval(&row, &workspace, &slopes, &Doubt::default());
    (interval.ph, interval.low, interval.high)
}

#[test]
fn primary_standards_come_out_of_their_recipes() {
    let chemistry = shipped_chemistry();
    let buffers: BufferFile = file("published/aqueous_buffers.toml");
    let mut misses = Vec::new();
    for case in &buffers.case {
        let mut line = format!("{:16}", case.name);
        for &[temperature_c, certified] in &case.certified {
            let conditions = Conditions { temperature_c, ..Conditions::default() };
            let (ph, low, high) = with_interval(&chemistry, &case.totals, &conditions);
            line += &format!(" {temperature_c}: {:+.3}", ph - certified);
            let gate = match temperature_c {
                t if t <= 40.0 => buffers.gates.to_40_c,
                t if t <= 60.0 => buffers.gates.to_60_c,
                _ => 0.0,
            };
            if (ph - certified).abs() > gate && !(low..=high).contains(&certified) {
                misses.push(format!(
                    "{} at {temperature_c} C: {ph:.3} [{low:.3}, {high:.3}] against {certified}",
                    case.name
                ));
            }
        }
        println!("{line}");
    }
    assert!(misses.is_empty(), "{}", misses.join("\n"));
}

#[derive(Deserialize)]
struct TextbookFile {
    case: Vec<TextbookCase>,
    hydrochemistry: Vec<Hydrochemistry>,
}

#[derive(Deserialize)]
struct TextbookCase {
    name: String,
    reactions: Vec<(String, BTreeMap<String, i32>, f64)>,
    totals: BTreeMap<String, f64>,
    ph: Option<f64>,
    at_ph: Option<f64>,
    tolerance: Option<f64>,
    /// Species, component, share, tolerance.
    share: Option<(String, String, f64, f64)>,
    /// Metal, molality, relative tolerance.
    free: Option<(String, f64, f64)>,
}

#[derive(Deserialize)]
struct Hydrochemistry {
    gate: f64,
    row: Vec<HydrochemistryRow>,
}

#[derive(Deserialize)]
struct HydrochemistryRow {
    name: String,
    per_mol: BTreeMap<String, f64>,
    ph: Vec<[f64; 2]>,
}

fn reaction(product: &str, from: &BTreeMap<String, i32>, log10_k: f64) -> Reaction {
    Reaction {
        product: product.to_owned(),
        from: from.clone(),
        log10_k,
        enthalpy_kj_mol: None,
        heat_capacity_j_mol_k: None,
        uncertainty_log10: None,
        source: String::new(),
        quality: Some("ref".to_owned()),
        note: None,
    }
}

#[test]
fn textbook_answers_agree() {
    let book: TextbookFile = file("published/aqueous_textbook.toml");
    let conditions = Conditions { activity: ActivityModel::Ideal, ..Conditions::default() };
    for case in &book.case {
        let mut rows: Vec<Reaction> =
            case.reactions.iter().map(|(product, from, k)| reaction(product, from, *k)).collect();
        // The ion product of the books, without the activity of water.
        rows.push(reaction("OH-", &BTreeMap::from([("H+".to_owned(), -1), ("H2O".to_owned(), 0)]), -14.0));
        let chemistry = Chemistry::from_reactions(rows, Vec::new()).unwrap();
        let mut totals = case.totals.clone();
        totals.entry("H+".to_owned()).or_insert(0.0);
        let system = System::prepare(&chemistry, totals.keys().map(String::as_str), &conditions).unwrap();
        let mut row = system.totals(&totals).unwrap();
        let mut workspace = Workspace::new();
        if let Some(ph) = case.at_ph {
            row[0] = 2.0;
            let mut per_unit = vec![0.0; row.len()];
            per_unit[0] = -1.0;
            let ray = Ray {
                base: Portion::of_totals(&row, 0.0),
                along: Portion::of_components(per_unit),
                most: 4.0,
            };
            let Reach::At(amount) = system.solve_to_ph(&ray, ph, &mut workspace).unwrap() else {
                panic!("{}: pH {ph} is not reached", case.name);
            };
            row[0] = 2.0 - amount;
        }
        system.solve(&row, 0.0, &mut workspace).unwrap();
        let speciation = system.read(&row, &workspace);
        if let (Some(ph), Some(tolerance)) = (case.ph, case.tolerance) {
            assert!((speciation.ph - ph).abs() <= tolerance, "{}: {} against {ph}", case.name, speciation.ph);
        }
        if let Some((species, component, share, tolerance)) = &case.share {
            let ours = speciation.share(species, component).unwrap();
            assert!((ours - share).abs() <= *tolerance, "{}: {ours} against {share}", case.name);
        }
        if let Some((metal, molality, tolerance)) = &case.free {
            let ours = speciation.free_metals[metal];
            assert!((ours / molality - 1.0).abs() <= *tolerance, "{}: {ours} against {molality}", case.name);
        }
        assert!(case.ph.is_some() || case.share.is_some() || case.free.is_some(), "{}", case.name);
    }
}

#[test]
fn a_published_table_of_real_solutions_agrees() {
    let book: TextbookFile = file("published/aqueous_textbook.toml");
    let chemistry = shipped_chemistry();
    for table in &book.hydrochemistry {
        for row in &table.row {
            for &[molality, published] in &row.ph {
                let mut totals: BTreeMap<String, f64> =
                    row.per_mol.iter().map(|(name, times)| (name.clone(), times * molality)).collect();
                totals.entry("H+".to_owned()).or_insert(0.0);
                let ours = solved(&chemistry, &totals, &Conditions::default()).ph;
                assert!(
                    (ours - published).abs() <= table.gate,
                    "{} {molality}: {ours:.3} against {published}",
                    row.name
                );
            }
        }
    }
}

#[derive(Deserialize)]
struct WaterFile {
    water: Vec<[f64; 5]>,
    sodium_chloride: ActivityPoints,
    non_electrolyte: Vec<NonElectrolyte>,
}

#[derive(Deserialize)]
struct ActivityPoints {
    points: Vec<[f64; 2]>,
    tolerance: f64,
}

#[derive(Deserialize)]
struct NonElectrolyte {
    name: String,
    molar_mass: f64,
    k: f64,
    points: Vec<[f64; 2]>,
    tolerance: f64,
}

#[test]
fn properties_of_water_agree_with_their_tables() {
    let table: WaterFile = file("published/aqueous_water.toml");
    for [t, rho, eps, a, pkw] in table.water {
        assert!((water::density_kg_m3(t) - rho).abs() <= 0.015, "density at {t}");
        assert!(
            (water::permittivity(t) - eps).abs() <= 0.015,
            "permittivity at {t}: {}",
            water::permittivity(t)
        );
        assert!((water::debye_huckel_a(t) - a).abs() <= 0.000_15, "A at {t}: {}", water::debye_huckel_a(t));
        assert!((water::pkw(t) - pkw).abs() <= 0.0015, "pKw at {t}: {}", water::pkw(t));
    }
    for [molality, published] in table.sodium_chloride.points {
        let ours = solve::water_activity(2.0 * molality);
        assert!((ours - published).abs() <= table.sodium_chloride.tolerance, "NaCl {molality}: {ours}");
    }
    for solute in table.non_electrolyte {
        for [percent, published] in solute.points {
            let molality = percent / solute.molar_mass / (100.0 - percent) * 1000.0;
            let ours = water_activity::norrish(molality, solute.k);
            assert!(
                (ours - published).abs() <= solute.tolerance,
                "{} {percent} %: {ours} against {published}",
                solute.name
            );
        }
    }
}

/// The reference cases once more as solution files: own constants written out as text, solutes by name.
#[test]
fn solution_files_with_their_own_constants_reproduce_the_reference() {
    let facts = levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}"));
    let reference: ReferenceFile = file("cross/aqueous_reference.toml");
    let constants = text("cross/aqueous_reference_constants.toml");
    // Without the gas row: the file then takes Henry's constant from the shipped facts.
    let constants = constants.split("[[gas]]").next().unwrap();
    let named: BTreeMap<&str, &[(&str, f64)]> = BTreeMap::from([
        ("O02", &[("HCl", 0.01)][..]),
        ("O03", &[("NaOH", 0.01)]),
        ("O08", &[("citric acid", 0.01), ("NaOH", 0.02)]),
        ("O14", &[("sodium benzoate", 0.02102844), ("potassium sorbate", 0.01344829), ("lactic acid", 0.02)]),
        ("O16", &[("disodium EDTA", 0.0027), ("CaCl2", 0.002), ("MgCl2", 0.001), ("NaHCO3", 0.003)]),
        ("O18", &[("disodium EDTA", 0.0011), ("CaCl2", 0.001), ("CuCl2", 1e-5), ("NaOH", 0.0018)]),
        ("O19", &[("disodium EDTA", 0.0005), ("citric acid", 0.005), ("FeCl3", 1e-5), ("NaOH", 0.0108)]),
        ("O21", &[("KH2PO4", 0.025), ("Na2HPO4", 0.025)]),
        ("O23", &[("borax", 0.01)]),
        ("O24", &[("potassium hydrogen phthalate", 0.05)]),
        ("O25", &[("NaHCO3", 0.025), ("Na2CO3", 0.025)]),
        ("O26", &[("glycine", 0.1), ("HCl", 0.05)]),
        ("O28", &[("tris", 0.05), ("HCl", 0.025)]),
        ("O29", &[]),
        ("O30", &[("triethanolamine", 0.1), ("lactic acid", 0.05), ("sodium benzoate", 0.02)]),
    ]);
    let mut checked = 0;
    for case in &reference.case {
        let Some(solutes) = named.get(case.id.as_str()) else { continue };
        let mut source = format!("temperature_c = {:?}\nconstants = \"replace\"\n", case.temperature_c);
        if let Some(pressure) = case.log10_pco2_atm {
            source += &format!("log10_pco2_atm = {pressure}\n");
        }
        for (name, molality) in *solutes {
            source += &format!("[[solute]]\nname = \"{name}\"\nmolality = {molality:e}\n");
        }
        source += constants;
        let report = levigate_project::solution_file::speciate("case.toml", &source, &facts)
            .unwrap_or_else(|problems| panic!("{}: {problems:?}", case.id));
        let ph = report.ph.value.unwrap();
        assert!((ph - case.ph).abs() <= reference.gates.ph, "{}: {ph} against {}", case.id, case.ph);
        for (metal, theirs) in &case.free_metals {
            let ours = report.free_metals[metal];
            assert!((ours / theirs).log10().abs() <= reference.gates.free_metal_log10, "{} {metal}", case.id);
        }
        checked += 1;
    }
    assert_eq!(checked, named.len());
}

#[test]
fn faults_of_a_solution_file_have_a_place_and_a_remedy() {
    let facts = levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}"));
    for (source, code, line) in [
        ("temperature_c = 120\n", "wrong-value", 1),
        ("[[solute]]\nname = \"citric acd\"\nmolality = 0.1\n", "unknown-solute", 2),
        (
            "[[solute]]\nname = \"glycerin\"\npercent = 60\n[[solute]]\nname = \"NaCl\"\npercent = 40\n",
            "no-water",
            2,
        ),
        ("[[solute]]\nname = \"NaCl\"\n", "missing", 1),
        ("[[solute]]\nname = \"NaCl\"\nmolality = -1\n", "wrong-value", 3),
        ("[[solute]]\nname = \"NaCl\"\nmolality = \"0,5\"\n", "wrong-value", 3),
        ("temperature = 25\n", "unknown-field", 1),
        ("molality = 0,5\n", "not-toml", 1),
        (
            "constants = \"replace\"\n[[reaction]]\nproduct = \"CaOH+2\"\nfrom = { \"Ca+2\" = 1, \"H+\" = -1 }\nlog10_k = 1\n",
            "constants",
            3,
        ),
        ("inert = [\"malic acid\"]\n[[solute]]\nname = \"malic acid\"\nmolality = 0.1\n", "wrong-value", 1),
        (
            "constants = \"replace\"\ninert = [\"NaOH\"]\n[[solute]]\nname = \"NaCl\"\nmolality = 0.1\n",
            "not-inert",
            2,
        ),
    ] {
        let problems = levigate_project::solution_file::speciate("x.toml", source, &facts).unwrap_err();
        let first = &problems[0];
        assert_eq!((first.code.as_str(), first.line), (code, line), "{source}: {first}");
        assert!(!first.what_now.is_empty(), "{source}");
    }
}

#[test]
fn what_a_solution_file_leaves_open_is_said() {
    let facts = levigate_facts::shipped().unwrap_or_else(|error| panic!("{error}"));
    let report = |source: &str| {
        levigate_project::solution_file::speciate("x.toml", source, &facts)
            .unwrap_or_else(|problems| panic!("{problems:?}"))
    };
    let note = |source: &str, code: &str| {
        report(source).notes.into_iter().find(|note| note.code == code).map(|note| note.text)
    };
    // Fully dissociated malic acid of 0.001 mol/kg is two protons each: pH 2.7 by -log10(0.002) and a little activity.
    let inert = "constants = \"replace\"\ninert = [\"malic acid\"]\n[[solute]]\nname = \"malic acid\"\nmolality = 0.001\n";
    assert!(note(inert, "inert").unwrap().contains("Malate"));
    assert!((report(inert).ph.value.unwrap() - 2.7).abs() < 0.05);
    let unsaid = inert.replace("inert = [\"malic acid\"]\n", "");
    assert!(note(&unsaid, "no-constants").unwrap().contains("malic acid gives Malate"));
    assert_eq!(note(inert, "no-constants"), None);
    let borate = |water: &str| {
        format!(
            "constants = \"replace\"\n[[solute]]\nname = \"boric acid\"\nmolality = 0.1\n[[reaction]]\nproduct = \"B(OH)4-\"\n\
             from = {{ \"B(OH)3\" = 1, \"H+\" = -1, \"H2O\" = 1 }}\nlog10_k = -9.24\n[[reaction]]\nproduct = \"B2O(OH)5-\"\n\
             from = {{ \"B(OH)3\" = 2, \"H+\" = -1{water} }}\nlog10_k = -9.3\n"
        )
    };
    let said = note(&borate(""), "water-inferred").unwrap();
    assert!(said.contains("B2O(OH)5- (1)") && !said.contains("B(OH)4-"), "{said}");
    assert_eq!(note(&borate(", \"H2O\" = 0"), "water-inferred"), None);
}

/// A system moved to another temperature is the one laid out there.
#[test]
fn a_system_moved_to_a_temperature_is_the_one_laid_out_there() {
    let chemistry = shipped_chemistry();
    let totals: BTreeMap<String, f64> = [
        ("H+", 0.09),
        ("EDTA-4", 0.002),
        ("Ca+2", 0.001),
        ("Fe+3", 1e-5),
        ("Citrate-3", 0.02),
        ("Benzoate-", 0.03),
        ("Acrylate-", 0.03),
        ("CO3-2", 0.001),
        ("Na+", 0.05),
    ]
    .map(|(name, total)| (name.to_owned(), total))
    .into();
    let at = |temperature_c: f64| Conditions { temperature_c, ..Conditions::default() };
    let names = || totals.keys().map(String::as_str);
    let warm = System::prepare(&chemistry, names(), &at(25.0)).unwrap();
    let row = warm.totals(&totals).unwrap();
    for temperature in [5.0, 45.0, 90.0] {
        let moved = warm.at_temperature(&chemistry, temperature).unwrap();
        let laid_out = System::prepare(&chemistry, names(), &at(temperature)).unwrap();
        let solve = |system: &System| {
            let mut workspace = Workspace::new();
            system.solve(&row, 0.0, &mut workspace).unwrap();
            system.read(&row, &workspace)
        };
        assert_eq!(solve(&moved), solve(&laid_out));
        assert_eq!(moved.species(), laid_out.species());
    }
    assert!(warm.at_temperature(&chemistry, 120.0).is_err());
}
