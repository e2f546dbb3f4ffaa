//! The check finds what it says it finds: for every flaw a record that has it. And the shipped facts have none.

use levigate_facts::check::{Flaw, check};
use levigate_facts::{Facts, shipped};
use levigate_formula::library::Layer;
use std::sync::LazyLock;

static SHIPPED: LazyLock<Facts> = LazyLock::new(|| shipped().expect("the shipped facts follow the schema"));

/// Findings about records of this text, laid over the shipped facts.
fn findings(text: &str) -> Vec<(String, Flaw)> {
    let mut facts: Facts = SHIPPED.clone();
    facts.overlay(&[("own.toml", text)], Layer::Laboratory).expect("the text follows the schema");
    check(&facts)
        .into_iter()
        .filter(|finding| finding.place.as_ref().is_some_and(|place| &*place.file == "own.toml"))
        .map(|finding| (format!("{} {} {}", finding.table, finding.key, finding.field), finding.flaw))
        .collect()
}

/// A substance `x` with these further fields.
fn substance(fields: &str) -> String {
    format!("[[substance]]\nkey = \"x\"\nname = \"some x\"\nroles = [\"active\"]\n{fields}\n")
}

/// A material `x` with these further fields.
fn material(fields: &str) -> String {
    format!(
        "[[material]]\nkey = \"x\"\nname = \"Some x\"\nfunctions = [\"solvent\"]\nform = \"liquid\"\ncomposition_source = \"from-memory\"\n{fields}\n"
    )
}

const ALL_WATER: &str =
    "constituents = [{ substance = \"water\", min = 99.0, typical = 100.0, max = 100.0 }]\n";

fn finds(text: &str, expected: impl Fn(&Flaw) -> bool) {
    let found = findings(text);
    assert!(found.iter().any(|(_, flaw)| expected(flaw)), "not found in {found:?}\n{text}");
    for (_, flaw) in &found {
        assert!(!flaw.hint().is_empty() && !flaw.to_string().is_empty());
    }
}

#[test]
fn shipped_facts_have_no_flaw() {
    let found = check(&SHIPPED);
    let list: Vec<String> = found.iter().map(ToString::to_string).collect();
    assert!(found.is_empty(), "{} findings:\n{}", list.len(), list.join("\n"));
}

#[test]
fn good_records_are_left_alone() {
    assert_eq!(findings(&substance("log_p = { value = 1.0, source = \"from-memory\" }")), []);
    assert_eq!(findings(&material(ALL_WATER)), []);
}

#[test]
fn sources() {
    finds(
        &substance("log_p = { value = 1.0, source = \"nowhere\" }"),
        |flaw| matches!(flaw, Flaw::UnknownSource { source_key } if source_key == "nowhere"),
    );
    finds("[[source]]\nkey = \"never-cited\"\ntitle = \"t\"\nread = \"none\"\n", |flaw| {
        matches!(flaw, Flaw::UnusedSource)
    });
}

#[test]
fn identity_of_substances() {
    finds(&substance("cas = [\"7732-18-4\"]"), |flaw| {
        matches!(flaw, Flaw::CasCheckDigit { expected: 5, found: 4, .. })
    });
    finds(&substance("cas = [\"seven\"]"), |flaw| matches!(flaw, Flaw::CasForm { .. }));
    finds(&substance("cas = [\"7732-18-5\"]"), |flaw| matches!(flaw, Flaw::CasShared { .. }));
    finds(
        &substance("aliases = [\"Caustic  Soda\"]"),
        |flaw| matches!(flaw, Flaw::NameShared { other, .. } if other == "sodium-hydroxide"),
    );
    finds(&substance("inci = \"SODIUM X\""), |flaw| matches!(flaw, Flaw::Capitals { .. }));
    finds("[[substance]]\nkey = \"Not Kebab\"\nname = \"n\"\nroles = [\"active\"]\n", |flaw| {
        matches!(flaw, Flaw::KeyForm)
    });
    finds("[[substance]]\nkey = \"x\"\nname = \"some x\"\n", |flaw| matches!(flaw, Flaw::Empty));
    let mass = "molar_mass_g_mol = { value = 41.0, source = \"from-memory\" }\n";
    finds(
        &substance(&format!("formula = \"NaOH\"\n{mass}")),
        |flaw| matches!(flaw, Flaw::MolarMass { computed, .. } if (computed - 39.997).abs() < 1e-3),
    );
    finds(&substance(&format!("formula = \"NaXq\"\n{mass}")), |flaw| matches!(flaw, Flaw::Formula { .. }));
}

#[test]
fn what_substances_give_in_water() {
    let mass = "molar_mass_g_mol = { value = 40.0, source = \"from-memory\" }\n";
    let gives =
        |gives: &str| substance(&format!("{mass}in_water = {{ kind = \"components\", gives = {gives} }}"));
    finds(&gives("{ \"Na+\" = 1 }"), |flaw| matches!(flaw, Flaw::Charge { .. }));
    finds(&gives("{ \"Unobtainium+2\" = 1 }"), |flaw| matches!(flaw, Flaw::UnknownComponent { .. }));
    finds(&gives("{}"), |flaw| matches!(flaw, Flaw::Empty));
    finds(&gives("{ \"Na+\" = -1, \"Cl-\" = -1 }"), |flaw| matches!(flaw, Flaw::Range { .. }));
    finds(&substance("in_water = { kind = \"components\", gives = { \"Na+\" = 1, \"Cl-\" = 1 } }"), |flaw| {
        matches!(flaw, Flaw::Empty)
    });
}

#[test]
fn plausible_numbers_of_substances() {
    let value = |field: &str, value: &str| {
        substance(&format!("{field} = {{ value = {value}, source = \"from-memory\" }}"))
    };
    for (field, bad) in [
        ("density_kg_m3", "1.26"),
        ("density_kg_m3", "nan"),
        ("molar_mass_g_mol", "0.040"),
        ("log_p", "99"),
        ("natural_origin_index", "100"),
    ] {
        finds(&value(field, bad), |flaw| matches!(flaw, Flaw::Range { .. }));
    }
    let solubility = |of: &str, grams: f64| {
        substance(&format!(
            "solubility = [{{ of = \"{of}\", g_per_kg_water = {grams:?}, temperature_c = 25, source = \"from-memory\" }}]"
        ))
    };
    finds(&solubility("salt", 1.0), |flaw| matches!(flaw, Flaw::Word { .. }));
    finds(&solubility("neutral", -1.0), |flaw| matches!(flaw, Flaw::Range { .. }));
}

#[test]
fn shares_of_materials() {
    let share = |substance: &str, min: f64, typical: f64, max: f64| {
        format!("{{ substance = \"{substance}\", min = {min:?}, typical = {typical:?}, max = {max:?} }}")
    };
    let parts = |parts: &[String]| material(&format!("constituents = [{}]", parts.join(", ")));
    finds(&parts(&[share("water", 0.0, 99.9, 100.0)]), |flaw| matches!(flaw, Flaw::TypicalSum { .. }));
    finds(&parts(&[share("water", 100.0, 90.0, 100.0)]), |flaw| matches!(flaw, Flaw::Order { .. }));
    finds(&parts(&[share("water", 90.0, 100.0, 101.0)]), |flaw| matches!(flaw, Flaw::Order { .. }));
    finds(&parts(&[share("unheard-of", 100.0, 100.0, 100.0)]), |flaw| {
        matches!(flaw, Flaw::UnknownSubstance { .. })
    });
    finds(&parts(&[share("water", 50.0, 50.0, 50.0), share("water", 50.0, 50.0, 50.0)]), |flaw| {
        matches!(flaw, Flaw::Twice { .. })
    });
    finds(&parts(&[]), |flaw| matches!(flaw, Flaw::Empty));
    finds(&material(&format!("{ALL_WATER}active = \"glycerin\"")), |flaw| {
        matches!(flaw, Flaw::NotAConstituent { .. })
    });
}

#[test]
fn plausible_numbers_of_materials() {
    for field in [
        "ph_works = { low = 7, high = 3, source = \"from-memory\" }",
        "use_level_percent = { low = 2, high = 1, source = \"from-memory\" }",
    ] {
        finds(&material(&format!("{ALL_WATER}{field}")), |flaw| matches!(flaw, Flaw::Order { .. }));
    }
    for field in [
        "ph_survives = { low = 3, high = 15, source = \"from-memory\" }",
        "density_kg_m3 = { value = 1.05, source = \"from-memory\" }",
        "heat_limit_c = { value = 1000, source = \"from-memory\" }",
        "flash_point_c = { value = 1000, source = \"from-memory\" }",
        "natural_origin_index = { value = 1.5, source = \"from-memory\" }",
        "electrolyte_tolerance = { class = \"low\", ionic_strength_mol_kg = -1.0, source = \"from-memory\" }",
    ] {
        finds(&material(&format!("{ALL_WATER}{field}")), |flaw| matches!(flaw, Flaw::Range { .. }));
    }
    finds(
        &material(&format!(
            "{ALL_WATER}electrolyte_tolerance = {{ class = \"some\", source = \"from-memory\" }}"
        )),
        |flaw| matches!(flaw, Flaw::Word { .. }),
    );
}

#[test]
fn dated_user_data() {
    let price = |date: &str, currency: &str| {
        format!(
            "{}[[price]]\nmaterial = \"x\"\nper_kg = \"9.50\"\ncurrency = \"{currency}\"\ndate = \"{date}\"\n",
            material(ALL_WATER)
        )
    };
    assert_eq!(findings(&price("2026-02-28", "EUR")), []);
    finds(&price("2026-02-30", "EUR"), |flaw| matches!(flaw, Flaw::Date { .. }));
    finds(&price("28.02.2026", "EUR"), |flaw| matches!(flaw, Flaw::Date { .. }));
    finds(&price("2026-02-28", "euro"), |flaw| matches!(flaw, Flaw::Word { .. }));
    let document = format!(
        "{}[[document]]\nmaterial = \"x\"\nkind = \"CoA\"\ndate = \"2026-13-01\"\nplace = \"folder\"\n",
        material(ALL_WATER)
    );
    finds(&document, |flaw| matches!(flaw, Flaw::Date { .. }));
    let certificate = format!(
        "{}[[ifra_limit]]\nmaterial = \"x\"\ncategory = \"5B\"\nmax_percent = 200.0\namendment = 51\ndate = \"2026-01-01\"\n",
        material(ALL_WATER)
    );
    finds(&certificate, |flaw| matches!(flaw, Flaw::Range { .. }));
}

#[test]
fn equilibria() {
    let row = |rest: &str| {
        format!(
            "[[reaction]]\nproduct = \"NaBenzoate\"\nfrom = {{ \"Na+\" = 1, \"Benzoate-\" = 1 }}\nlog10_k = 0.1\n{rest}\n"
        )
    };
    let rest = "source = \"from-memory\"\nquality = \"M\"\n";
    finds(&row(rest), |flaw| matches!(flaw, Flaw::NoUncertainty));
    finds(&row(&format!("uncertainty_log10 = 0.0\n{rest}")), |flaw| matches!(flaw, Flaw::Range { .. }));
    finds(&row("uncertainty_log10 = 0.3\nsource = \"from-memory\"\nquality = \"Z\"\n"), |flaw| {
        matches!(flaw, Flaw::Word { .. })
    });
    finds(&row("uncertainty_log10 = 0.3\nquality = \"M\"\n"), |flaw| matches!(flaw, Flaw::Empty));
    finds("[[component]]\nname = \"Idle+\"\ncharge = 1\n", |flaw| matches!(flaw, Flaw::Empty));
    finds("[[norrish]]\nsubstance = \"unheard-of\"\nk = 1.0\nsource = \"from-memory\"\n", |flaw| {
        matches!(flaw, Flaw::UnknownSubstance { .. })
    });
}

/// A limit on `x` with these members and dates.
fn limit(members: &str, dates: &str) -> String {
    format!(
        "[[limit]]\nkey = \"own-1\"\nmarket = \"eu\"\nact = \"an act\"\nannex = \"V\"\nentry = \"1\"\nname = \"x\"\nstatus = \"verified\"\nsource = \"from-memory\"\n{members}[[limit.row]]\nrow = \"a\"\nproducts = \"all\"\nmax_percent = 1.0\ndates = {dates}\n"
    )
}

#[test]
fn rules() {
    let dated = "{ in_force_before = \"2015-08-01\" }";
    let member = |fields: &str| format!("[[limit.member]]\nname = \"Benzoic Acid\"\n{fields}\n");
    assert_eq!(findings(&limit(&member("cas = [\"65-85-0\"]"), dated)), []);
    finds(&limit(&member("cas = [\"65-85-1\"]"), dated), |flaw| matches!(flaw, Flaw::CasCheckDigit { .. }));
    finds(&limit(&member("cas = [\"65-85-0\"]\nmolar_mass_g_mol = 144.1"), dated), |flaw| {
        matches!(flaw, Flaw::MolarMass { .. })
    });
    finds(&limit("", dated), |flaw| matches!(flaw, Flaw::Empty));
}

#[test]
fn spindles() {
    let spindle = |number: u8, diameter: &str, rates: &str, range: &str| {
        format!(
            "[[spindle]]\nkey = \"own-disc\"\nnumber = {number}\ndiameter_mm = {diameter}\nthickness_mm = 1.6\ndimensions_source = \"from-memory\"\nstress_pa_per_percent = 0.5\nrate_per_rpm = {rates}\nfull_scale_pa_s_rpm = {range}\nreference_torque_n_m = 7e-4\nsource = \"from-memory\"\n"
        )
    };
    let falling = "[1.5, 0.9, 0.65, 0.53, 0.45, 0.39, 0.34, 0.31, 0.28, 0.25]";
    assert_eq!(findings(&spindle(9, "28.0", falling, "200.0")), []);
    finds(&spindle(4, "28.0", falling, "200.0"), |flaw| matches!(flaw, Flaw::NameShared { .. }));
    finds(&spindle(9, "0.028", falling, "200.0"), |flaw| matches!(flaw, Flaw::Range { .. }));
    finds(&spindle(9, "28.0", falling, "2000.0"), |flaw| matches!(flaw, Flaw::Range { .. }));
    let rising = "[0.2, 0.9, 0.65, 0.53, 0.45, 0.39, 0.34, 0.31, 0.28, 0.25]";
    finds(&spindle(9, "28.0", rising, "200.0"), |flaw| matches!(flaw, Flaw::Order { .. }));
    finds("[[torque_range]]\nkey = \"own\"\nfull_scale_n_m = 700.0\nsource = \"from-memory\"\n", |flaw| {
        matches!(flaw, Flaw::Range { .. })
    });
}

#[test]
fn flow_cups() {
    let cup = |orifice: &str, equation: &str, range: &str| {
        format!(
            "[[flow_cup]]\nkey = \"own-cup\"\nname = \"own cup\"\norifice_mm = {orifice}\nvolume_ml = 100.0\ndimensions_source = \"from-memory\"\nequation = {equation}\nrange_s = {range}\nsource = \"from-memory\"\n"
        )
    };
    let nozzle = "{ a_mm2_s2 = 1.4, b_mm2 = 200.0 }";
    assert_eq!(findings(&cup("4.0", nozzle, "[30.0, 100.0]")), []);
    finds(&cup("0.004", nozzle, "[30.0, 100.0]"), |flaw| matches!(flaw, Flaw::Range { .. }));
    finds(&cup("4.0", nozzle, "[100.0, 30.0]"), |flaw| matches!(flaw, Flaw::Order { .. }));
    finds(&cup("4.0", nozzle, "[5.0, 100.0]"), |flaw| matches!(flaw, Flaw::Range { .. }));
}

#[test]
fn what_is_refused_before_any_check() {
    let refused = |text: &str, layer: Layer, why: &str| {
        let error = SHIPPED.clone().overlay(&[("own.toml", text)], layer).unwrap_err();
        assert!(error.to_string().contains(why), "{error}");
        assert_eq!(&*error.faults[0].place().file, "own.toml");
    };
    let member = "[[limit.member]]\nname = \"X\"\n";
    refused(&limit(member, "{}"), Layer::Laboratory, "no dates");
    let price =
        "[[price]]\nmaterial = \"glycerin\"\nper_kg = \"1\"\ncurrency = \"EUR\"\ndate = \"2026-01-01\"\n";
    refused(price, Layer::Shipped, "prices are data of the user");
    refused(&price.replace("glycerin", "no such thing"), Layer::Workspace, "unknown material");
    let reaction = |product: &str, from: &str| {
        format!(
            "[[reaction]]\nproduct = \"{product}\"\nfrom = {from}\nlog10_k = 1.0\nsource = \"from-memory\"\n"
        )
    };
    refused(
        &reaction("NaBenzoate+", "{ \"Na+\" = 1, \"Benzoate-\" = 1 }"),
        Layer::Laboratory,
        "by its components",
    );
    refused(&reaction("NaX", "{ \"Na+\" = 1, \"X-\" = 1 }"), Layer::Laboratory, "not a component");
    refused("[[component]]\nname = \"X-\"\ncharge = 1\n", Layer::Laboratory, "its name says");
}

#[test]
fn sizes_of_use_that_cannot_be_are_refused_with_their_place() {
    let stage = |rate: &str| {
        format!(
            "[[life_stage]]\nkey = \"a\"\nname = \"a\"\norder = 1\nrate = {rate}\nreason = \"a\"\nsource = \"convention\"\n"
        )
    };
    for (rate, word) in [
        ("{ gap = { speed_m_s = [0.0, 0.1], thickness_um = [10.0, 20.0] } }", "speed_m_s is 0"),
        ("{ gap = { speed_m_s = [0.2, 0.1], thickness_um = [10.0, 20.0] } }", "from 0.2 down to 0.1"),
        ("{ gap = { speed_m_s = [0.1, nan], thickness_um = [10.0, 20.0] } }", "speed_m_s"),
        ("{ slit = { speed_m_s = [0.1, 0.2] } }", "slit"),
    ] {
        let mut facts = levigate_facts::shipped().unwrap();
        let text = stage(rate);
        let error = facts.overlay(&[("own.toml", text.as_str())], Layer::Laboratory).unwrap_err();
        assert!(error.to_string().contains(word), "{error}");
        assert_eq!(&*error.faults[0].place().file, "own.toml");
    }
    // A stage of the same key replaces the shipped one.
    let mut facts = levigate_facts::shipped().unwrap();
    let own = stage("{ stirrer = { rpm = [100.0, 200.0], constant = [11.0, 13.0] } }")
        .replace("\"a\"", "\"nozzle\"");
    let replaced = facts.overlay(&[("own.toml", own.as_str())], Layer::Laboratory).unwrap();
    assert_eq!((replaced[0].table.as_str(), replaced[0].key.as_str()), ("life_stage", "nozzle"));
}

#[test]
fn neutralisers_of_nothing() {
    finds(
        "[[neutraliser]]\nkey = \"own\"\nwords = \"dilution\"\nsubstances = [\"nothing\"]\nsource = \"from-memory\"",
        |flaw| matches!(flaw, Flaw::UnknownSubstance { .. }),
    );
}

#[test]
fn flow_of_solvents_and_thickeners() {
    let solvent = |substance: &str, law: &str| {
        format!(
            "[[cosolvent_viscosity]]\nsubstance = \"{substance}\"\nlaw = {law}\nsource = \"from-memory\"\nmixture_source = \"from-memory\"\nspread = 0.1\n"
        )
    };
    finds(&solvent("nothing", "{ kind = \"glycerol\" }"), |flaw| {
        matches!(flaw, Flaw::UnknownSubstance { .. })
    });
    finds(&solvent("urea", "{ kind = \"solute\", rise = 99.0, crowding = 0.5 }"), |flaw| {
        matches!(flaw, Flaw::Range { .. })
    });
    finds(
        &solvent(
            "urea",
            "{ kind = \"liquid\", interaction = 0.0, pure = [{ temperature_c = 40.0, mpa_s = 1.0 }, { temperature_c = 20.0, mpa_s = 2.0 }] }",
        ),
        |flaw| matches!(flaw, Flaw::Order { .. }),
    );
    finds(
        "[[synergy]]\nbetween = [\"xanthan\", \"nothing\"]\nstrength = { value = 0.5, spread = 0.2, source = \"from-memory\" }",
        |flaw| matches!(flaw, Flaw::UnknownSubstance { .. }),
    );
    finds(
        "[[thickener]]\nmaterial = \"tapioca-starch\"\nfamily = \"user-fitted\"\ngels_above_c = { low = 80.0, high = 60.0, source = \"from-memory\" }\n\
         datasheet = [{ percent = 5.0, mpa_s = [800.0, 1200.0], temperature_c = 25.0, shear_rate = 10.0, source = \"from-memory\" }]",
        |flaw| matches!(flaw, Flaw::Order { .. }),
    );
}

#[test]
fn a_thickener_that_contradicts_itself_is_refused_in_words() {
    let refused = |fields: &str| {
        let mut facts: Facts = SHIPPED.clone();
        let text = format!("[[thickener]]\nmaterial = \"tapioca-starch\"\n{fields}");
        facts.overlay(&[("own.toml", text)], Layer::Laboratory).unwrap_err().to_string()
    };
    let sheet = |more: &str| {
        format!(
            "family = \"user-fitted\"\ndatasheet = [{{ percent = 5.0, temperature_c = 25.0, source = \"from-memory\", {more} }}]"
        )
    };
    for (fields, says) in [
        ("family = \"nothing\"".to_owned(), "no [[flow_family]]"),
        ("family = \"user-fitted\"".to_owned(), "neither a strength nor a datasheet value"),
        (sheet("mpa_s = [800.0, 1200.0]"), "speed_rpm or shear_rate"),
        (sheet("mpa_s = [800.0, 1200.0], speed_rpm = 20.0, shear_rate = 10.0"), "speed_rpm or shear_rate"),
        (sheet("mpa_s = [1200.0, 800.0], speed_rpm = 20.0"), "cannot be"),
        (sheet("mpa_s = [0.0, 800.0], speed_rpm = 20.0"), "cannot be"),
        (sheet("mpa_s = [nan, 800.0], speed_rpm = 20.0"), "cannot be"),
        (sheet("mpa_s = [800.0, inf], speed_rpm = 20.0"), "cannot be"),
        (sheet("mpa_s = [0.01, 0.02], speed_rpm = 20.0"), "no strength"),
        (sheet("mpa_s = [800.0, 1200.0], speed_rpm = 20.0, spindle = \"disc-99\""), "spindle `disc-99`"),
    ] {
        let told = refused(&fields);
        assert!(told.contains(says), "{told}");
    }
}
