//! Every verb on the examples: exit codes, what must be in the answer, what must never be.

use crate::program::{example, program, root, run, run_with};
use serde_json::Value;
use std::process::Stdio;

const EXAMPLES: [&str; 3] = [
    "examples/night-toner-mandelic.toml",
    "examples/hand-gel-carbomer.toml",
    "examples/zinc-balancing-serum.toml",
];

/// Fits a narrow window and carries no colour into a pipe.
fn is_plain(text: &str) {
    assert!(!text.contains('\u{1b}'), "an escape sequence in a pipe");
    for line in text.lines() {
        assert!(line.chars().count() <= 100, "{} characters: {line}", line.chars().count());
    }
}

#[test]
fn every_example_is_assessed_findings_first() {
    for path in EXAMPLES {
        let said = run(&["assess", path]);
        assert_eq!(said.code, 0, "{path}: {}", said.err);
        assert_eq!(said.err, "", "{path}");
        is_plain(&said.out);
        let mut at = 0;
        for heading in ["Findings", "Lines", "Composition", "Acidity", "Adjusters", "Limits", "Label", "Cost"]
        {
            let found = said.out[at..].find(&format!("\n{heading}"));
            at += found.unwrap_or_else(|| panic!("{path}: no {heading} after byte {at}"));
        }
        assert!(said.out.contains("pH of the product"), "{path}");
    }
}

#[test]
fn an_assessment_as_json_has_its_keys_and_every_result_explains_itself() {
    for path in EXAMPLES {
        let said = run(&["assess", path, "--json"]);
        assert_eq!(said.code, 0, "{path}: {}", said.err);
        let answer = said.json();
        for key in [
            "product",
            "as_of",
            "market",
            "lines",
            "composition",
            "ph",
            "adjusters",
            "preservatives",
            "metals",
            "limits",
            "allergens",
            "label",
            "cost",
            "findings",
            "facts",
        ] {
            assert!(answer.get(key).is_some(), "{path}: no {key}");
        }
        let mut results = 0;
        each_result(&answer, &mut |result| {
            results += 1;
            for key in
                ["value", "unit", "low", "high", "coverage", "grade", "method", "sources", "inputs", "notes"]
            {
                assert!(result.get(key).is_some(), "{path}: a result without {key}: {result}");
            }
            let refused = result.get("refused").is_some();
            assert_eq!(result["value"].is_null(), refused, "{path}: {result}");
        });
        assert!(results > 20, "{path}: only {results} results");
    }
}

/// Calls back for every outcome in the answer.
fn each_result(value: &Value, see: &mut impl FnMut(&Value)) {
    match value {
        Value::Object(fields) => {
            if fields.contains_key("grade") && fields.contains_key("method") {
                see(value);
            }
            for field in fields.values() {
                each_result(field, see);
            }
        }
        Value::Array(items) => items.iter().for_each(|item| each_result(item, see)),
        _ => {}
    }
}

#[test]
fn standard_input_gives_the_same_as_the_file() {
    let path = EXAMPLES[0];
    let day = ["--date", "2026-11-25"];
    let from_file = run(&["assess", path, day[0], day[1], "--json"]);
    let text = example("night-toner-mandelic.toml");
    let from_input = run_with(&["assess", "-", day[0], day[1], "--json"], text.as_bytes());
    assert_eq!(from_file.code, 0);
    assert_eq!(from_file.out, from_input.out);
}

#[test]
fn fail_on_decides_the_exit_code_and_nothing_else() {
    let plain = run(&["assess", EXAMPLES[2]]);
    let strict = run(&["assess", EXAMPLES[2], "--fail-on", "know"]);
    assert_eq!((plain.code, strict.code), (0, 3));
    assert_eq!(plain.out, strict.out);
}

#[test]
fn the_batch_sheet_totals_and_writes_whole_files() {
    let folder = tempfile::tempdir().unwrap();
    let out = |name: &str| folder.path().join(name).display().to_string();
    let (html, csv, pdf) = (out("sheet.html"), out("sheet.csv"), out("sheet.pdf"));
    let said = run(&[
        "sheet",
        EXAMPLES[1],
        "--size",
        "200g",
        "--balance",
        "0.01g",
        "--html",
        &html,
        "--csv",
        &csv,
        "--pdf",
        &pdf,
    ]);
    assert_eq!(said.code, 0, "{}", said.err);
    is_plain(&said.out);
    assert!(said.out.contains("Total  200.00 g"), "{}", said.out);
    assert_eq!(said.err.matches("is written.").count(), 3);
    assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-"));
    assert!(std::fs::read_to_string(&html).unwrap().contains("Cooling hand gel"));
    assert!(std::fs::read_to_string(&csv).unwrap().contains("Carbomer"));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3, "something was left beside");
}

#[test]
fn the_lines_of_a_sheet_add_up_to_the_batch_as_decimals() {
    let said = run(&["sheet", EXAMPLES[2], "--size", "137.3g", "--balance", "0.1g", "--json"]);
    assert_eq!(said.code, 0, "{}", said.err);
    let sheet = said.json();
    let hundredths = |text: &Value| -> i64 {
        let text = text.as_str().unwrap();
        let (whole, part) = text.split_once('.').unwrap();
        assert_eq!(part.len(), 1, "{text}");
        format!("{whole}{part}").parse().unwrap()
    };
    let lines = sheet["steps"].as_array().unwrap().iter().flat_map(|step| step["lines"].as_array().unwrap());
    let sum: i64 = lines.map(|line| hundredths(&line["grams"]["exact"])).sum();
    assert_eq!(sum, 1373);
    assert_eq!(sheet["total_g"]["exact"], "137.3");
}

#[test]
fn a_sheet_that_cannot_be_written_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let nowhere = folder.path().join("no/such/folder/sheet.csv").display().to_string();
    let said = run(&["sheet", EXAMPLES[1], "--csv", &nowhere]);
    assert_eq!(said.code, 1);
    assert!(said.err.contains("cannot be written"), "{}", said.err);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn sizes_need_a_unit_of_mass() {
    for (size, word) in
        [("200", "unit"), ("200mL", "volume"), ("0,5kg", "comma"), ("-3g", "g"), ("", "nothing")]
    {
        let said = run(&["sheet", EXAMPLES[1], &format!("--size={size}")]);
        assert_eq!(said.code, 2, "{size}: {}", said.out);
        assert!(said.err.contains("--size") && said.err.contains(word), "{size}: {}", said.err);
        assert!(said.err.contains("help:"), "{size}: {}", said.err);
    }
}

#[test]
fn the_label_follows_market_and_date() {
    let said = run(&["label", EXAMPLES[2], "--market", "eu", "--date", "2026-11-25"]);
    assert_eq!(said.code, 0, "{}", said.err);
    is_plain(&said.out);
    assert!(said.out.contains("ingredients: Aqua, Niacinamide"), "{}", said.out);
    let elsewhere = run(&["label", EXAMPLES[2], "--market", "atlantis", "--json"]);
    assert_eq!(elsewhere.code, 0);
    let answer = elsewhere.json();
    assert!(answer["label"].is_null());
    assert!(answer["refused"].as_str().unwrap().contains("atlantis"));
    assert_eq!(run(&["label", EXAMPLES[2], "--date", "25.11.2026"]).code, 2);
}

#[test]
fn a_titration_says_the_amount_or_why_there_is_none() {
    let up = run(&["titrate", EXAMPLES[0], "--with", "Sodium hydroxide 20 %", "--to", "3.8"]);
    assert_eq!(up.code, 0, "{}", up.err);
    is_plain(&up.out);
    assert!(up.out.contains("to be added, g/kg"), "{}", up.out);
    let wrong = run(&["titrate", EXAMPLES[0], "--with", "Citric acid 10 %", "--to", "6", "--json"]);
    assert_eq!(wrong.code, 0, "{}", wrong.err);
    let answer = wrong.json();
    assert!(answer["amount"]["value"].is_null());
    assert!(answer["amount"]["refused"].is_string());
    let unknown = run(&["titrate", EXAMPLES[0], "--with", "sodium hydroxid 20 %", "--to", "3.8"]);
    assert_eq!(unknown.code, 2);
    assert!(unknown.err.contains("did you mean"), "{}", unknown.err);
    assert_eq!(run(&["titrate", EXAMPLES[0], "--with", "Citric acid 10 %", "--to", "15"]).code, 2);
}

const SOLUTION: &str = "temperature_c = 25.0\n[[solute]]\nname = \"acetic acid\"\nmolality = 0.1\n[[solute]]\nname = \"NaOH\"\n\
    molality = 0.05\n[[solute]]\nname = \"CaCl2\"\nmolality = 0.001\n";

#[test]
fn a_bare_solution_is_speciated() {
    let said = run_with(&["speciate", "-"], SOLUTION.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    is_plain(&said.out);
    let answer = run_with(&["speciate", "-", "--json"], SOLUTION.as_bytes()).json();
    // Half neutralised acetic acid of 0.1 mol/kg: pKa 4.756, lowered by the activity of acetate.
    let ph = answer["ph"]["value"].as_f64().unwrap();
    assert!((4.6..4.72).contains(&ph), "{ph}");
    assert!(answer["ionic_strength"]["value"].as_f64().unwrap() > 0.05);
    assert!(answer["water_activity"]["value"].as_f64().unwrap() < 1.0);
    assert!(answer["free_metals"]["Ca+2"]["value"].as_f64().unwrap() < 0.001);
    for key in ["name", "molality", "charge", "components", "log10_gamma"] {
        assert!(answer["species"][0].get(key).is_some(), "{key}");
    }
    let wrong = run_with(&["speciate", "-"], b"[[solute]]\nname = \"unobtainium chloride\"\nmolality = 1\n");
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("standard input:2:8"), "{}", wrong.err);
}

#[test]
fn materials_are_found_by_every_name_and_nothing_offers_the_nearest() {
    for words in ["xanthan", "11138-66-2", "thickener xanthan"] {
        let said = run(&["materials", words]);
        assert_eq!(said.code, 0);
        is_plain(&said.out);
        assert!(said.out.contains("Xanthan gum"), "{words}: {}", said.out);
    }
    let nothing = run(&["materials", "xantan", "gum"]);
    assert_eq!(nothing.code, 0);
    assert!(nothing.out.contains("Xanthan gum, 80 mesh"), "{}", nothing.out);
    let nothing = run(&["materials", "xantan", "gum", "--json"]).json();
    assert_eq!(
        (nothing["found"].as_u64(), nothing["nearest"][0].as_str()),
        (Some(0), Some("Xanthan gum, 80 mesh"))
    );
    let all = run(&["materials", "--json"]).json();
    assert!(all["found"].as_u64().unwrap() >= 120);
    assert_eq!(all["found"].as_u64().unwrap() as usize, all["materials"].as_array().unwrap().len());
}

#[test]
fn the_shipped_facts_pass_their_own_check() {
    let said = run(&["data", "check"]);
    assert_eq!((said.code, said.err.as_str()), (0, ""), "{}", said.out);
    assert!(said.out.contains("Nothing to mend."));
}

#[test]
fn a_folder_of_own_facts_is_laid_over_and_said() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("prices")).unwrap();
    std::fs::write(folder.path().join("prices/prices.toml"), example("quillfen-prices.toml")).unwrap();
    std::fs::write(folder.path().join("readme.txt"), "not facts").unwrap();
    let facts = folder.path().display().to_string();
    let said = run(&["assess", EXAMPLES[0], "--facts", &facts]);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("laid over"), "{}", said.out);
    let answer = run(&["assess", EXAMPLES[0], "--facts", &facts, "--json"]).json();
    assert_eq!(answer["facts"]["folders"][0], facts);
    assert_ne!(answer["facts"]["version"], answer["facts"]["shipped"]);
    assert!(answer["cost"]["per_kg"]["value"].as_f64().unwrap() > 0.5);
    assert!(answer["cost"]["unpriced"].as_array().unwrap().is_empty());
}

#[test]
fn wrong_facts_are_refused_with_their_place() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("own.toml");
    std::fs::write(
        &file,
        "[[price]]\nmaterial = \"water\"\nper_kg = \"one\"\ncurrency = \"EUR\"\ndate = \"2026-01-01\"\n",
    )
    .unwrap();
    let facts = folder.path().display().to_string();
    let said = run(&["data", "check", "--facts", &facts]);
    assert_eq!(said.code, 2, "{}", said.out);
    assert!(said.err.contains("own.toml:3:"), "{}", said.err);
    assert!(said.err.contains("help:"));
    let missing = run(&["data", "check", "--facts", &folder.path().join("nowhere").display().to_string()]);
    assert_eq!(missing.code, 1, "{}", missing.err);
}

#[test]
fn facts_a_formula_brings_are_told_from_others_and_placed_in_the_file() {
    let own = "\n[[material]]\nkey = \"house-lye\"\nname = \"House lye\"\nfunctions = [\"base\"]\nform = \"solution\"\n\
        constituents = [{ substance = \"sodium-hydroxide\", min = 10, typical = 10, max = 10 },\n  \
        { substance = \"water\", min = 90, typical = 90, max = 90 }]\ncomposition_source = \"from-memory\"\n";
    let formula = example("night-toner-mandelic.toml").replace("Sodium hydroxide 20 %", "House lye") + own;
    let answer = run_with(&["assess", "-", "--json"], formula.as_bytes()).json();
    let layers: Vec<&str> =
        answer["lines"].as_array().unwrap().iter().map(|line| line["layer"].as_str().unwrap()).collect();
    assert!(layers.contains(&"formula") && layers.contains(&"shipped"), "{layers:?}");
    let broken = formula.replace("min = 10,", "min = \"10\",");
    let line = 1 + broken.lines().position(|line| line.contains("min = \"10\"")).unwrap();
    let said = run_with(&["assess", "-", "--json"], broken.as_bytes());
    assert_eq!(said.code, 2, "{}", said.out);
    let error = &said.json()["errors"][0];
    assert_eq!(
        (error["code"].as_str(), error["line"].as_u64()),
        (Some("facts"), Some(line as u64)),
        "{error}"
    );
    assert_eq!(error["field"], "material house-lye, min");
}

#[test]
fn the_program_describes_itself() {
    let schema = run(&["schema", "formula"]).json();
    assert!(schema["properties"]["phase"].is_object());
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let said = run(&["completions", shell]);
        assert_eq!(said.code, 0);
        assert!(said.out.contains("speciate"), "{shell}");
    }
    let manual = run(&["manual"]);
    assert_eq!(manual.code, 0);
    for verb in ["ASSESS", "SHEET", "SPECIATE", "TITRATE", "LABEL", "MATERIALS", "SERVE"] {
        assert!(manual.out.contains(&format!("LEVIGATE {verb}")), "{verb}");
    }
    for verb in ["assess", "sheet", "speciate", "titrate", "label", "materials", "data", "schema", "serve"] {
        let said = run(&[verb, "--help"]);
        assert_eq!(said.code, 0, "{verb}");
        is_plain(&said.out);
        assert!(said.out.contains("--json"), "{verb}");
    }
    let version = run(&["--version"]).out;
    let code = version.trim().rsplit(' ').next().unwrap();
    assert!(version.starts_with("levigate ") && code.len() == 12, "{version}");
    let checked = run(&["data", "check", "--json"]).json();
    assert!(checked["facts"]["version"].as_str().unwrap().ends_with(&format!("+{code}")), "{checked}");
}

#[test]
fn every_verb_of_the_help_stands_in_the_document_and_no_other() {
    let document = std::fs::read_to_string(root().join("docs/command-line.md")).unwrap();
    let written: std::collections::BTreeSet<&str> = document
        .lines()
        .filter_map(|line| line.strip_prefix("levigate ")?.split_whitespace().next())
        .filter(|word| {
            word.chars().all(|letter| letter.is_ascii_lowercase() || letter == '-') && *word != "the"
        })
        .collect();
    let help = run(&["--help"]).out;
    let verbs = help.split("Commands:").nth(1).unwrap().split("\n\n").next().unwrap();
    let offered: std::collections::BTreeSet<&str> = verbs
        .lines()
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
        .filter(|verb| *verb != "help")
        .collect();
    assert!(offered.len() >= 9, "{help}");
    assert_eq!(written, offered);
}

#[test]
fn a_wrong_command_line_is_bad_input() {
    for arguments in [
        &["asess"][..],
        &["assess"],
        &["assess", "a", "b"],
        &["label", "a", "--market"],
        &["data"],
        &["--port"],
    ] {
        let said = run(arguments);
        assert_eq!(said.code, 2, "{arguments:?}: {}", said.out);
        assert!(!said.err.is_empty(), "{arguments:?}");
    }
    let said = run(&["asess", "--json"]);
    assert_eq!(said.code, 2);
    assert_eq!(said.json()["errors"][0]["code"], "command-line");
}

#[test]
fn what_cannot_be_read_could_not_be_done() {
    let said = run(&["assess", "no-such-file.toml"]);
    assert_eq!(said.code, 1);
    assert!(said.err.contains("no-such-file.toml cannot be read"), "{}", said.err);
    let said = run(&["assess", "no-such-file.toml", "--json"]);
    assert_eq!((said.code, said.json()["errors"][0]["code"].as_str()), (1, Some("unreadable-file")));
}

#[test]
fn a_reader_who_has_seen_enough_is_no_error() {
    let mut child = program()
        .args(["materials", "--json"])
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}

#[test]
fn every_scenario_is_answered() {
    let folder = root().join("examples/scenarios");
    let mut files: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert!(files.len() >= 7);
    for file in files {
        let said = run(&["assess", &file.display().to_string()]);
        assert_eq!(said.code, 0, "{}: {}", file.display(), said.err);
        is_plain(&said.out);
    }
}
