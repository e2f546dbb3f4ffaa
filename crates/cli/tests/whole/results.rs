//! No number leaves the program without its unit, method and certainty: the whole JSON of every verb is walked.

use crate::program::{run, run_with};
use serde_json::Value;
use std::collections::BTreeSet;

/// Keys of a result; what stands beside them in the same object is looked at for itself.
const OF_A_RESULT: [&str; 16] = [
    "value", "exact", "unit", "low", "high", "coverage", "grade", "method", "equation", "range", "proof",
    "sources", "inputs", "terms", "notes", "refused",
];

/// Numbers that are no results, by the end of their path, with the reason.
const NOT_RESULTS: &[(&str, &str)] = &[
    ("line", "position"),
    ("lines", "position"),
    ("water_lines", "position"),
    ("runs.number", "order of the runs"),
    ("properties.gone", "as the facts have it, in words; their sources stand in the record"),
    ("properties.other", "as the facts have it, in words; their sources stand in the record"),
    ("runs.block", "position"),
    ("cells.day", "day of the plan, as typed"),
    ("tests.age_h.value", "as typed"),
    ("tests.ph.value", "as typed"),
    ("tests.recovered_percent.value", "as typed"),
    ("tests.alone_percent.value", "as typed"),
    ("tests.days", "as typed"),
    ("tests.organisms.*", "as typed"),
    ("points.months", "months between two days, beside what was read"),
    ("points.value", "as read, its spread in the answer beside it"),
    ("trend.lower", "as planned"),
    ("trend.upper", "as planned"),
    ("trials", "number of a trial"),
    ("versions", "number of a version"),
    ("substances.from", "position, beside the result it belongs to"),
    ("phase", "position"),
    ("number", "position"),
    ("carrier_number", "position"),
    ("binders", "position"),
    ("unpriced", "position"),
    ("lines.exact", "as typed, beside the result"),
    ("per_kg_exact", "the same without rounding, beside the result"),
    ("price.per_kg", "as typed"),
    ("ph.target", "as typed"),
    ("left", "number of a trial"),
    ("right", "number of a trial"),
    ("entries.trial", "number of a trial"),
    ("entries.reading", "position"),
    ("tree.parent", "number of a trial"),
    ("trials.parent", "number of a trial"),
    ("trials.batch_size.value", "as typed"),
    ("trials.lines.lot_assay", "as typed"),
    ("trials.prediction.aim.ph", "as typed"),
    ("trials.readings.age_h.value", "as typed"),
    ("trials.readings.temperature_c.value", "as typed"),
    ("trials.readings.value", "as typed"),
    ("attributes.readings", "as typed"),
    ("tree.lane", "position"),
    ("versions.parent", "position"),
    ("to_ph", "as typed"),
    ("part.ph", "as typed"),
    ("batch_g", "as typed"),
    ("size_g", "as typed"),
    ("readability_g", "as typed"),
    ("repeatability_g", "as typed"),
    ("tolerance_percent", "as typed, or the practice of the house"),
    ("first_percent", "its grams beside it"),
    ("temperature_c", "as typed"),
    ("age_h", "as typed"),
    ("log10_pco2_atm", "as typed"),
    ("curve.added_g_per_kg", "where the curve is asked"),
    ("windows.windows.low", "published, its source beside it"),
    ("windows.windows.high", "published, its source beside it"),
    ("window.low", "published, its source beside it"),
    ("window.high", "published, its source beside it"),
    ("add_below_c.value", "published, its source beside it"),
    ("mics.total_low_mg_l", "published, its source beside it"),
    ("mics.total_high_mg_l", "published, its source beside it"),
    ("mics.test_ph", "published, its source beside it"),
    ("counter_evidence.ph", "published, its source beside it"),
    ("counter_evidence.total_percent", "published, its source beside it"),
    ("counter_evidence.undissociated_percent", "published, its source beside it"),
    ("limits.maximum_percent", "written in the act"),
    ("limits.entry", "written in the act"),
    ("allergens.above_percent", "written in the act"),
    ("certificates.maximum_percent", "written in the certificate"),
    ("frame.row.*", "published, its source beside it"),
    ("findings.numbers.value", "restates a result of the same answer"),
    ("species.charge", "identity of the species"),
    ("species.components.*", "identity of the species"),
    ("residuals.*", "how well the solver closed, not what it found"),
    ("iterations", "how well the solver closed, not what it found"),
    ("below_pharmacy_minimum", "count"),
    ("vessel.density_assumed", "count"),
    ("lines.portions", "count"),
    ("form.rows", "count"),
    ("understood.column", "position"),
    ("understood.factor", "by the definition of the unit"),
    ("left_out.count", "count"),
    ("by_reason.count", "count"),
    ("left_out.first.text", "as it stands in the file"),
    ("curves.measured", "count"),
    ("curves.outside", "count"),
    ("recoveries.measured", "count"),
    ("points.time_s", "as measured, the unit and its factor under what was understood"),
    ("points.viscosity", "as measured, the unit and its factor under what was understood"),
    ("laws.aicc", "how well the fit closed, not what it found"),
    ("laws.root_mean_square", "how well the fit closed, not what it found"),
    ("laws.residuals", "how well the fit closed, not what it found"),
    ("laws.fitted_viscosity", "how well the fit closed, not what it found"),
    ("laws.outliers", "position"),
    ("points.count", "count"),
    ("points.shear_rate", "as measured, the unit and its factor under what was understood"),
    ("points.stress", "as measured, the unit and its factor under what was understood"),
    ("models.aicc", "how well the fit closed, not what it found"),
    ("models.root_mean_square", "how well the fit closed, not what it found"),
    ("models.residuals", "how well the fit closed, not what it found"),
    ("models.fitted_stress", "how well the fit closed, not what it found"),
    ("models.outliers", "position"),
    ("back_titrations", "count"),
    ("draws", "count"),
    ("seed", "as typed"),
    ("coverage", "as typed"),
    ("found", "count"),
    ("records.*", "count"),
    ("records", "count"),
    ("entries_after", "count"),
    ("others_after", "count"),
    ("facts_files", "count"),
    ("batches.steps", "count"),
    ("batches", "count"),
    ("rows.entry", "position"),
    ("seal.place", "position"),
    ("lots.assay", "as typed"),
    ("version", "position"),
    ("trial_number", "position"),
    ("deviations", "position"),
    ("entries.corrects", "position"),
    ("entries.step", "position"),
    ("struck.by", "position"),
    ("typed", "as typed"),
    ("shown.digits", "as the instrument shows it"),
    ("net.value", "as typed"),
    ("gross.value", "as typed"),
    ("entries.value.value", "as typed"),
    ("assay_percent.value", "as typed"),
    ("certificate.value", "as typed"),
    ("certificate.most.value", "as typed"),
    ("procedure.place", "position"),
    ("procedure.of", "count"),
    ("steps.hold_min", "frozen when the batch was started"),
    ("procedure.minutes", "frozen when the batch was started"),
    ("columns.column", "position"),
    ("columns.examples", "as it stands in the table"),
    ("troubles.column", "position"),
    ("troubles.text", "as it stands in the table"),
    ("troubles.offers", "texts that may have been meant"),
    ("fill.column", "position"),
    ("form.head_line", "position"),
    ("counts.*", "count"),
    ("typed.*", "as typed, with its entry and step"),
    ("speeds.*", "as typed, with its entry and step"),
    ("logged", "as logged"),
    ("advice.step", "position"),
    ("advice.entries", "count"),
    ("advice.buffers.called", "identity of the buffer"),
    ("readings.corrects", "position"),
    ("wanted", "count"),
    ("read", "count"),
    ("outside", "count"),
    ("planned", "count"),
    ("whole", "count"),
    ("runs.run", "position"),
    ("readings.run", "position"),
    ("read.run", "position"),
    ("runs.percent", "as the runs were chosen, to the last digit"),
    ("parts.least", "as typed"),
    ("parts.most", "as typed"),
    ("reads.low", "as typed"),
    ("reads.target", "as typed"),
    ("reads.high", "as typed"),
    ("attributes.lower", "as typed"),
    ("attributes.upper", "as typed"),
    ("conditions.humidity_percent", "as typed"),
    ("plan.steps.line.*", "frozen when the batch was started; the state beside it explains each"),
];

fn ends(path: &[&str], pattern: &str) -> bool {
    let wanted: Vec<&str> = pattern.split('.').collect();
    path.len() >= wanted.len()
        && path[path.len() - wanted.len()..]
            .iter()
            .zip(&wanted)
            .all(|(have, want)| *want == "*" || have == want)
}

fn is_result(fields: &serde_json::Map<String, Value>) -> bool {
    ["value", "unit", "low", "high", "coverage", "grade", "method", "sources", "inputs", "notes"]
        .iter()
        .all(|key| fields.contains_key(*key))
}

/// Collects the paths of numbers, and of texts that are numbers, outside results.
fn bare<'v>(
    value: &'v Value,
    path: &mut Vec<&'v str>,
    used: &mut BTreeSet<&'static str>,
    found: &mut BTreeSet<String>,
) {
    let a_number = match value {
        Value::Number(_) => true,
        Value::String(text) => text.parse::<f64>().is_ok_and(f64::is_finite),
        _ => false,
    };
    if a_number {
        match NOT_RESULTS.iter().find(|(pattern, _)| ends(path, pattern)) {
            Some((pattern, _)) => {
                used.insert(pattern);
            }
            None => {
                found.insert(path.join("."));
            }
        }
    }
    match value {
        Value::Object(fields) => {
            let result = is_result(fields);
            // A code of twelve digits may happen to be a number.
            for (key, field) in fields.iter().filter(|(key, _)| *key != "version_code") {
                if !(result && OF_A_RESULT.contains(&key.as_str())) {
                    path.push(key);
                    bare(field, path, used, found);
                    path.pop();
                }
            }
        }
        // Pairs such as [line, result] and lists share the path of what holds them.
        Value::Array(items) => items.iter().for_each(|item| bare(item, path, used, found)),
        _ => {}
    }
}

#[test]
fn every_number_is_a_result_that_explains_itself() {
    let mut answers = Vec::new();
    let formulas = [
        "examples/night-toner-mandelic.toml",
        "examples/hand-gel-carbomer.toml",
        "examples/zinc-balancing-serum.toml",
        "examples/scenarios/1-niacinamide-gel-serum.toml",
        "examples/scenarios/6-sclerotium-gum-cream-gel.toml",
    ];
    for formula in formulas {
        answers.push(run(&["assess", formula, "--json"]));
        answers.push(run(&["sheet", formula, "--size", "200g", "--balance", "0.01g", "--json"]));
        answers.push(run(&["label", formula, "--json"]));
    }
    let with = ["--with", "Sodium hydroxide 20 %", "--to", "3.8", "--json"];
    answers.push(run(&[&["titrate", formulas[0]][..], &with].concat()));
    let solution =
        b"temperature_c = 25.0\nlog10_pco2_atm = -3.4\n[[solute]]\nname = \"acetic acid\"\nmolality = 0.1\n\
        [[solute]]\nname = \"CaCl2\"\nmolality = 0.01\n";
    answers.push(run_with(&["speciate", "-", "--json"], solution));
    let conditions =
        ["--temperature", "30", "--shear", "5", "--spindle", "disc, 27 mm", "--speed", "20", "--json"];
    answers.push(run(&[&["flow", "predict", formulas[1]][..], &conditions].concat()));
    answers.push(run(&["flow", "fit", "tests/cross/flow/caggioni_carbomer_glycerin_temp.csv", "--json"]));
    answers.push(run_with(&["flow", "fit", "-", "--json"], crate::measured::LOOP.as_bytes()));
    answers.push(run_with(&["flow", "fit", "-", "--json"], crate::measured::thousand_rows().as_bytes()));
    answers.push(run_with(&["flow", "fit", "-", "--json"], crate::measured::three_intervals().as_bytes()));
    answers.push(run(&["materials", "xanthan", "--json"]));
    let gel = b"[liquid]\nmodel = \"herschel-bulkley\"\ntau0 = 4\nK = 3\nn = 0.45\nfactor = 1.3\n";
    for verb in ["dispense", "drain", "cream", "life"] {
        answers.push(run_with(&["flow", verb, "-", "--json"], gel));
        answers.push(run(&["flow", verb, "examples/scenarios/5-hypromellose-clear-gel.toml", "--json"]));
    }
    answers.push(run(&["flow", "level", "examples/scenarios/5-hypromellose-clear-gel.toml", "--json"]));
    answers.push(run_with(&["flow", "read", "-", "--json"], crate::flow_read::BENCH.as_bytes()));
    answers.push(run_with(&["evaporate", "-", "--json"], crate::making::WEIGHED.as_bytes()));
    answers.push(run_with(&["heat", "-", "--json"], crate::making::TONNE.as_bytes()));
    answers.push(run_with(&["heat", "-", "--json"], crate::making::BEAKER.as_bytes()));
    for formula in formulas.iter().chain(&[
        "examples/scenarios/2-aha-toner-serum.toml",
        "examples/scenarios/5-hypromellose-clear-gel.toml",
    ]) {
        answers.push(run(&["procedure", formula, "--json"]));
    }
    answers.push(run_with(&["lethality", "-", "--json"], crate::making::HOLD.as_bytes()));
    answers.push(run_with(&["mix", "-", "--json"], crate::making::STIRRED.as_bytes()));
    answers.push(run_with(&["scale", "-", "--json"], crate::making::SCALED.as_bytes()));
    answers.push(run_with(
        &["instruments", "-", "--line", "still 1.25 g", "--json"],
        crate::instruments::BENCH.as_bytes(),
    ));
    answers.push(run_with(&["calibrate", "-", "--json"], crate::adjusting::BUFFERS.as_bytes()));
    answers.push(run_with(&["adjust", "-", "--json"], crate::adjusting::BEAKER.as_bytes()));
    answers.push(run_with(
        &["uncertainty", "-", "--draws", "2000", "--json"],
        crate::uncertainty::TONER.as_bytes(),
    ));
    answers.push(run(&["uncertainty", formulas[1], "--draws", "2000", "--json"]));
    for (verb, text) in [
        ("challenge", crate::proof::COUNTS),
        ("microbes", crate::proof::PLATES),
        ("shelf-life", crate::proof::STUDY),
        ("arrhenius", crate::proof::WARM),
        ("pack", crate::proof::BOTTLE),
        ("design", crate::proof::PARTS),
        ("optimise", crate::proof::BETTER),
        ("optimise", &format!("{}{}", crate::proof::BETTER, crate::proof::AGAINST)),
        ("optimise", &format!("{}{}", crate::proof::BETTER, crate::proof::TOO_MUCH)),
        ("design", crate::proof::DAYS),
        ("analyse", crate::analyse::GUMS),
        ("analyse", crate::analyse::CURVE),
    ] {
        answers.push(run_with(&[verb, "-", "--json"], text.as_bytes()));
    }
    answers
        .push(run_with(&["substitute", "Sodium benzoate", "-", "--json"], crate::proof::toner().as_bytes()));
    let home = tempfile::tempdir().unwrap();
    drop(crate::serving::Server::start(home.path(), &[]));
    let workspace = home.path().join("levigate/sample").display().to_string();
    let between = ["trials", "night toner", "--between", "1", "2", "--workspace", &workspace, "--json"];
    answers.push(run(&between));
    answers.push(run(&["substitute", "Xanthan gum", "--most", "2", "--workspace", &workspace, "--json"]));
    answers.push(run(&["predictions", "--workspace", &workspace, "--json"]));
    answers.push(run(&["predictions", "hand gel", "--workspace", &workspace, "--json"]));
    answers.push(run(&["trials", "night toner", "--tree", "--workspace", &workspace, "--json"]));
    for verb in ["predict", "level"] {
        answers.push(run(&["flow", verb, "hand gel", "--workspace", &workspace, "--json"]));
    }
    for what in ["formula", "material", "lot"] {
        let import = ["import", what, "-", "--dry-run", "--workspace", &workspace, "--json"];
        answers.push(run_with(&import, crate::bringing::TABLE.as_bytes()));
    }
    answers.push(run(&["sheet", formulas[0], "--of", "submission", "--json"]));
    answers.push(run(&["data", "check", "--json"]));
    #[cfg(unix)]
    answers.extend(crate::records::answers());
    #[cfg(unix)]
    answers.extend(crate::at_bench::answers());
    let (mut used, mut found) = (BTreeSet::new(), BTreeSet::new());
    for said in &answers {
        assert_eq!(said.code, 0, "{}", said.err);
        bare(&said.json(), &mut Vec::new(), &mut used, &mut found);
    }
    assert!(found.is_empty(), "numbers that explain nothing: {found:#?}");
    let idle: Vec<_> = NOT_RESULTS.iter().filter(|(pattern, _)| !used.contains(pattern)).collect();
    assert!(idle.is_empty(), "exceptions that nothing needs: {idle:?}");
}
