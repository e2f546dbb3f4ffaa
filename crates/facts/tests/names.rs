//! What people write for a solute means the substance they mean: plain names, INCI names, CAS numbers, formulas.

use levigate_facts::shipped;

#[test]
fn common_solutes_are_understood() {
    let facts = shipped().unwrap();
    for (typed, key) in [
        ("NaOH", "sodium-hydroxide"),
        ("KOH", "potassium-hydroxide"),
        ("HCl", "hydrochloric-acid"),
        ("NaCl", "sodium-chloride"),
        ("KCl", "potassium-chloride"),
        ("CaCl2", "calcium-chloride"),
        ("CaCl2.2H2O", "calcium-chloride-dihydrate"),
        ("MgCl2", "magnesium-chloride"),
        ("ZnCl2", "zinc-chloride"),
        ("CuCl2", "copper-chloride"),
        ("FeCl2", "iron-ii-chloride"),
        ("FeCl3", "iron-iii-chloride"),
        ("AlCl3", "aluminium-chloride"),
        ("CaSO4", "calcium-sulfate"),
        ("MgSO4", "magnesium-sulfate"),
        ("NaHCO3", "sodium-bicarbonate"),
        ("Na2CO3", "sodium-carbonate"),
        ("KH2PO4", "monopotassium-phosphate"),
        ("NaH2PO4", "monosodium-phosphate"),
        ("Na2HPO4", "disodium-phosphate"),
        ("Na3PO4", "trisodium-phosphate"),
        ("borax", "borax"),
        ("Na2B4O7", "sodium-tetraborate"),
        ("Ca(OH)2", "calcium-hydroxide"),
        ("NH3", "ammonia"),
        ("H3BO3", "boric-acid"),
        ("H3PO4", "phosphoric-acid"),
        ("sodium citrate", "sodium-citrate"),
        ("Trisodium citrate dihydrate", "sodium-citrate-dihydrate"),
        ("77-92-9", "citric-acid"),
        ("Disodium EDTA", "disodium-edta"),
        ("disodium EDTA dihydrate", "disodium-edta-dihydrate"),
        ("trisodium EDTA", "trisodium-edta"),
        ("tetrasodium EDTA", "tetrasodium-edta"),
        ("Tetrasodium Glutamate Diacetate", "tetrasodium-glutamate-diacetate"),
        ("GLDA", "glda"),
        ("Trisodium Dicarboxymethyl Alaninate", "trisodium-dicarboxymethyl-alaninate"),
        ("MGDA", "mgda"),
        ("tris", "tromethamine"),
        ("triethanolamine", "triethanolamine"),
        ("Aminomethyl Propanol", "aminomethyl-propanol"),
        ("ethanolamine", "ethanolamine"),
        ("arginine", "arginine"),
        ("L-arginine", "arginine"),
        ("L-lysine", "lysine"),
        ("potassium hydrogen phthalate", "potassium-hydrogen-phthalate"),
        ("potassium hydrogen tartrate", "potassium-hydrogen-tartrate"),
        ("niacinamide", "niacinamide"),
        ("vitamin C", "ascorbic-acid"),
        ("sodium hyaluronate", "sodium-hyaluronate"),
    ] {
        assert_eq!(facts.names.resolve_substance(typed), Ok(key), "{typed}");
    }
}

#[test]
fn every_acid_has_its_sodium_and_potassium_salt() {
    let facts = shipped().unwrap();
    for anion in [
        "citrate",
        "lactate",
        "glycolate",
        "mandelate",
        "malate",
        "tartrate",
        "gluconate",
        "ascorbate",
        "succinate",
        "acetate",
        "formate",
        "benzoate",
        "sorbate",
        "dehydroacetate",
        "salicylate",
        "anisate",
        "levulinate",
        "azelate",
        "ferulate",
        "kojate",
        "4-hydroxybenzoate",
        "propionate",
        "nicotinate",
        "lactobionate",
        "oxalate",
        "phthalate",
        "glutamate",
        "aspartate",
        "PCA",
        "glycinate",
    ] {
        for metal in ["sodium", "potassium"] {
            let name = format!("{metal} {anion}");
            assert!(
                facts.names.resolve_substance(&name).is_ok(),
                "{name}: {:?}",
                facts.names.resolve_substance(&name)
            );
        }
    }
}

#[test]
fn every_record_is_found_by_its_own_key_name_and_numbers() {
    let facts = shipped().unwrap();
    for substance in facts.library.substances.values() {
        for typed in [&substance.key, &substance.name].into_iter().chain(&substance.cas) {
            assert_eq!(facts.names.resolve_substance(typed), Ok(substance.key.as_str()), "{typed}");
        }
    }
    for material in facts.library.materials.values() {
        for typed in [&material.key, &material.name] {
            assert_eq!(facts.names.resolve_material(typed), Ok(material.key.as_str()), "{typed}");
        }
    }
}
