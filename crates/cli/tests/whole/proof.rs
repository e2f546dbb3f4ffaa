//! The verbs of proof: a study and a warm study through the door, complaints.

use crate::program::{run, run_with};
use serde_json::Value;

/// An assay at room temperature over half a year, and what somebody would like to state.
pub(crate) const STUDY: &str = "attribute = \"ascorbic acid\"\nunit = \"% of label\"\ncondition = \"25 C\"\ntime_unit = \"weeks\"\nlower = 90\nwanted_months = 24\n\
    [[batch]]\nname = \"trial 3\"\nreadings = [[0, 101.3], [4, 100.2], [8, 99.6], [12, 98.3], [16, 97.9], [20, 96.6], [24, 96.1]]\n";
/// The same assay, warm beside it.
pub(crate) const WARM: &str = "attribute = \"ascorbic acid\"\nunit = \"% of label\"\ntime_unit = \"weeks\"\norder = \"first\"\nlower = 90\nstore_c = [25, 30, 40, 45]\n\
    seasons_c = [15, 20, 25, 30]\n[[condition]]\ntemperature_c = 25\n\
    readings = [[0, 101.3], [4, 100.2], [8, 99.6], [12, 98.3], [16, 97.9], [20, 96.6], [24, 96.1]]\n\
    [[condition]]\ntemperature_c = 40\nreadings = [[0, 101.3], [4, 97.8], [8, 94.9], [12, 91.6]]\n";

/// Counts of three organisms; the yeast falls short on day 7.
pub(crate) const COUNTS: &str = "title = \"serum, trial 4\"\n[neutraliser]\nrecovered_percent = 82\nalone_percent = 95\n\
    [[organism]]\nname = \"Pseudomonas aeruginosa\"\nkind = \"bacteria\"\ninitial = 4.7e5\ncounts = [[7, 240], [7, 260]]\nbelow = [[14, 10], [28, 10]]\n\
    [[organism]]\nname = \"Candida albicans\"\nkind = \"yeast\"\ninitial = 6.1e4\ncounts = [[7, 1.2e4], [14, 420]]\nbelow = [[28, 10]]\n\
    [[organism]]\nname = \"Aspergillus brasiliensis\"\nkind = \"mould\"\ninitial = 3.2e4\ncounts = [[7, 2.9e4], [14, 2.1e4], [28, 2.6e3]]\n";

/// Plates of a finished product, organisms, water, low-risk properties.
pub(crate) const PLATES: &str = "title = \"serum, batch 7\"\nclass = \"other\"\n[[count]]\nof = \"bacteria\"\nplates = [[0.1, 144], [0.1, 138], [0.01, 4]]\n\
    [[count]]\nof = \"fungi\"\nplates = [[0.1, 0], [0.1, 0]]\n\
    [[looked_for]]\norganism = \"Escherichia coli\"\nfound = false\nin_g = 1\n[[looked_for]]\norganism = \"Pseudomonas aeruginosa\"\nfound = false\nin_g = 1\n\
    [[looked_for]]\norganism = \"Staphylococcus aureus\"\nfound = false\nin_g = 1\n[[looked_for]]\norganism = \"Candida albicans\"\nfound = false\nin_g = 1\n\
    [water]\ncfu_per_ml = 40\npercent = 82\n[[material]]\nname = \"Oat extract\"\npercent = 2\ncfu_per_g = 100\nbelow = true\n\
    [low_risk]\nph = 5.4\nwater_activity = 0.97\nalcohol_percent = 0\nwater_percent = 82\n";

/// Three thickeners.
pub(crate) const PARTS: &str = "title = \"three thickeners\"\ntotal_percent = 1.4\nruns = 10\nstep_percent = 0.1\n\
    [[part]]\nname = \"Xanthan gum\"\nlow_percent = 0.1\nhigh_percent = 0.8\n[[part]]\nname = \"Sclerotium gum\"\nhigh_percent = 1.0\n\
    [[part]]\nname = \"Hydroxyethylcellulose\"\nlow_percent = 0.2\nhigh_percent = 1.2\n";

/// A toner of which three lines may move.
pub(crate) const BETTER: &str = "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\n[target]\nph = [4.8, 5.2]\n\
    [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Glycerin\"\npercent = 4\n\
    [[phase.line]]\nmaterial = \"Propanediol\"\npercent = 3\n[[phase.line]]\nmaterial = \"Sodium benzoate\"\npercent = 0.4\n\
    [[phase.line]]\nmaterial = \"Lactic acid 90 %\"\nto_ph = 5.0\n\
    [[price]]\nmaterial = \"glycerin\"\nper_kg = \"2.10\"\ncurrency = \"EUR\"\ndate = \"2026-09-01\"\n\
    [[price]]\nmaterial = \"propanediol\"\nper_kg = \"6.50\"\ncurrency = \"EUR\"\ndate = \"2026-09-01\"\n\
    [[optimise.aim]]\nof = \"cost_per_kg\"\n[[optimise.line]]\nmaterial = \"Glycerin\"\nleast = 1\nmost = 4\n\
    [[optimise.line]]\nmaterial = \"Propanediol\"\nleast = 1\nmost = 5\noptional = true\n\
    [[optimise.line]]\nmaterial = \"Sodium benzoate\"\nleast = 0.2\nmost = 0.5\n\
    [[optimise.wish]]\nsum = [\"Glycerin\", \"Propanediol\"]\nleast = 6\n\
    [[optimise.wish]]\nof = \"free_preservative_mg_kg\"\nmaterial = \"Sodium benzoate\"\nleast = 250\n";
/// The formula alone.
pub(crate) fn toner() -> &'static str {
    BETTER.split("[[optimise.aim]]").next().unwrap_or_default()
}
/// Two aims of it against each other.
pub(crate) const AGAINST: &str = "[[optimise.aim]]\nof = \"osmolality_mol_kg\"\nwant = \"most\"\n";
/// A wish it cannot have.
pub(crate) const TOO_MUCH: &str = "[[optimise.wish]]\nsum = [\"Glycerin\", \"Propanediol\"]\nmost = 5\n";
/// The same with a setting, in two days.
pub(crate) const DAYS: &str = "total_percent = 1.4\ngoal = \"predictions\"\nruns = 12\nstep_percent = 0.1\nmiddles = 2\nrepeats = 2\nblocks = 2\n\
    [[setting]]\nname = \"temperature\"\nlow = 20\nhigh = 40\n[[keep]]\nlevels = [0.5, 0.5, 0.4, 20]\n\
    [[part]]\nname = \"Xanthan gum\"\nlow_percent = 0.1\nhigh_percent = 0.8\n[[part]]\nname = \"Sclerotium gum\"\nhigh_percent = 1.0\n\
    [[part]]\nname = \"Hydroxyethylcellulose\"\nlow_percent = 0.2\nhigh_percent = 1.2\n";

/// Weeks of a month.
const WEEKS: f64 = 30.4375 / 7.0;

fn answer(verb: &str, text: &str) -> Value {
    let said = run_with(&[verb, "-", "--json"], text.as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", said.out, said.err);
    said.json()
}

fn value(outcome: &Value) -> f64 {
    outcome["value"].as_f64().unwrap_or_else(|| panic!("{outcome}"))
}

#[test]
fn a_study_says_what_may_be_stated_and_refuses_what_may_not() {
    let said = answer("shelf-life", STUDY);
    // The straight line meets 90 % of label at 51 weeks, its one-sided limit at about 48.
    let batch = &said["batches"][0];
    let [start, slope] = [value(&batch["start"]), value(&batch["slope"])];
    assert!((slope / WEEKS + 0.219).abs() < 0.001, "{slope}");
    assert!(((90.0 - start) / slope * WEEKS - 51.0).abs() < 0.6);
    // Limits of 95 % to one side hold together with 90 %.
    for both in [&batch["slope"], &said["drawn"][9]["value"]] {
        assert!((both["coverage"].as_f64().unwrap() - 0.9).abs() < 1e-12, "{both}");
    }
    assert!((value(&said["leaves"]) * WEEKS - 48.0).abs() < 0.5, "{}", value(&said["leaves"]));
    assert_eq!(said["wanted"]["support"], "limit_left");
    // Nothing is known of warmer storage: nothing beyond the data may be stated.
    assert_eq!(value(&said["stated"]), 5.0);
    let known = answer("shelf-life", &format!("accelerated = \"unchanged\"\n{STUDY}"));
    // 48 weeks are 11.0 months, but 24 weeks of data may be stretched to twice as long at most, in whole months.
    assert!((value(&known["reach"]) - 48.0 / WEEKS).abs() < 1e-9);
    assert_eq!(value(&known["stated"]), (value(&known["leaves"]).min(48.0 / WEEKS)).floor());
    assert!((10.0..=11.0).contains(&value(&known["stated"])));
    assert_eq!(known["stated"]["notes"][0]["code"], "extrapolated");
    assert!(said["slopes"].is_null() && said["lack_of_fit"]["value"].is_null());
    let page = run_with(&["shelf-life", "-"], STUDY.as_bytes());
    assert!(page.out.contains("24 months wanted") && page.out.contains("not carried"), "{}", page.out);
}

#[test]
fn criteria_stand_side_by_side_with_the_cell_that_decides() {
    let said = answer("challenge", COUNTS);
    let criteria = said["criteria"].as_array().unwrap();
    assert_eq!(criteria.len(), 5);
    let of = |key: &str| criteria.iter().find(|one| one["key"] == key).unwrap();
    let (strict, lenient) = (of("iso-11930-a"), of("iso-11930-b"));
    assert_eq!((&strict["says"], &lenient["says"]), (&Value::from("not_met"), &Value::from("met")));
    assert_eq!(strict["decided_by"][0], "Candida albicans, day 7: a reduction of 1 at least");
    assert_eq!(lenient["verdict"], "meets criterion B of ISO 11930 by these data");
    let cell = strict["cells"]
        .as_array()
        .unwrap()
        .iter()
        .find(|cell| cell["organism"] == "Candida albicans")
        .unwrap();
    assert_eq!(cell["by_the_other_reading"], "met");
    // Day 2 was never counted.
    assert_eq!(of("ph-eur-topical-a")["says"], "not_met");
    let dying = said["dying"].as_array().unwrap();
    assert!(value(&dying[0]["d"]) > 20.0 && dying[0]["d"]["notes"][0]["code"] == "two-counts");
    // Four counts of the mould were found, on four days: a bend may be told; the yeast has three.
    let dying = said["dying"].as_array().unwrap();
    assert!(dying[1]["bend"]["shape"]["value"].is_null() && dying[2]["bend"]["words"].is_string());
    assert!((value(&dying[2]["three_log"]) / value(&dying[2]["d"]) - 3.0).abs() < 1e-9);
    let page = run_with(&["challenge", "-"], COUNTS.as_bytes()).out;
    assert!(page.contains("When a thousandth is left"), "{page}");
    assert!(
        page.contains("not met: does not meet criterion A of ISO 11930") && page.contains("\u{2265}"),
        "{page}"
    );
    let bare = answer(
        "challenge",
        &COUNTS.replace("[neutraliser]\nrecovered_percent = 82\nalone_percent = 95\n", ""),
    );
    assert!(bare["criteria"][0]["notes"].to_string().contains("neutraliser-not-shown"));
    let bare_b = bare["criteria"].as_array().unwrap().iter().find(|one| one["key"] == "iso-11930-b").unwrap();
    assert_eq!(bare_b["says"], "not_shown");
}

#[test]
fn runs_keep_their_bounds_and_make_the_total() {
    let said = answer("design", PARTS);
    let runs = said["runs"].as_array().unwrap();
    assert_eq!((runs.len(), said["terms"].as_array().unwrap().len()), (10, 6));
    for run in runs {
        let percent: Vec<f64> = run["percent"].as_array().unwrap().iter().map(value).collect();
        assert!((percent.iter().sum::<f64>() - 1.4).abs() < 1e-9, "{percent:?}");
        for (share, [low, high]) in percent.iter().zip([[0.1, 0.8], [0.0, 1.0], [0.2, 1.2]]) {
            assert!((low - 1e-9..=high + 1e-9).contains(share), "{percent:?}");
        }
    }
    assert!(value(&said["g_efficiency"]) > 50.0 && value(&said["g_efficiency"]) <= 100.0);
    assert_eq!(answer("design", PARTS)["runs"], said["runs"], "the same seed, the same runs");
    // A side condition is kept: no more sclerotium than cellulose.
    let beside = format!("{PARTS}[[condition]]\nfactors = [0, -1, 1]\n");
    for run in answer("design", &beside)["runs"].as_array().unwrap() {
        assert!(value(&run["percent"][2]) >= value(&run["percent"][1]) - 1e-9, "{run}");
    }
}

#[test]
fn runs_come_in_blocks_with_repeats_kept_runs_and_settings() {
    let said = answer("design", DAYS);
    let runs = said["runs"].as_array().unwrap();
    assert_eq!((runs.len(), said["terms"].as_array().unwrap().len()), (14, 7));
    let of = |run: &Value| -> Vec<f64> {
        run["percent"]
            .as_array()
            .unwrap()
            .iter()
            .chain(run["settings"].as_array().unwrap())
            .map(value)
            .collect()
    };
    let near = |wanted: &[f64]| {
        let same = |run: &&Value| of(run).iter().zip(wanted).all(|(one, other)| (one - other).abs() < 1e-9);
        runs.iter().filter(same).count()
    };
    assert!(near(&[0.5, 0.5, 0.4, 20.0]) >= 1, "{runs:?}");
    let middle: Vec<Vec<f64>> = runs.iter().map(of).filter(|run| (run[3] - 30.0).abs() < 1e-9).collect();
    assert!(middle.len() >= 2, "{middle:?}");
    let blocks: Vec<u64> = runs.iter().map(|run| run["block"].as_u64().unwrap()).collect();
    assert_eq!(blocks.iter().filter(|block| **block == 1).count(), 7);
    assert!(blocks.is_sorted() && value(&said["blocks_clear"]) > 80.0, "{}", said["blocks_clear"]);
    // A choice for the terms foretells less well on the mean.
    let terms = answer("design", &DAYS.replace("predictions", "terms"));
    assert!(value(&terms["mean_variance"]) >= value(&said["mean_variance"]) - 1e-9);
    let lattice = PARTS
        .replace("runs = 10", "plan = \"centroid\"")
        .replace("high_percent = 0.8", "")
        .replace("high_percent = 1.0", "")
        .replace("high_percent = 1.2", "");
    let lattice = answer("design", &lattice);
    assert_eq!(lattice["runs"].as_array().unwrap().len(), 7);
    let page = run_with(&["design", "-"], DAYS.as_bytes()).out;
    assert!(page.contains("block") && page.contains("temperature"), "{page}");
}

#[test]
fn every_run_is_a_formula_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).display().to_string();
    let base = "[product]\nname = \"Gum gel\"\ntype = \"gel\"\nsite = \"hand\"\nleave_on = true\nmarkets = [\"eu\"]\n\
        [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n[[phase.line]]\nmaterial = \"Glycerin\"\npercent = 3\n\
        [[phase.line]]\nmaterial = \"Xanthan gum\"\npercent = 0.4\n[[phase.line]]\nmaterial = \"Sclerotium gum\"\npercent = 0.5\n\
        [[phase.line]]\nmaterial = \"Hydroxyethylcellulose\"\npercent = 0.5\n";
    std::fs::write(place("base.toml"), base).unwrap();
    std::fs::write(place("design.toml"), PARTS).unwrap();
    let arguments = [
        "design",
        &place("design.toml"),
        "--json",
        "--formula",
        &place("base.toml"),
        "--into",
        &place("runs"),
    ];
    let said = run(&arguments);
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.err.contains("10 formulas were written"), "{}", said.err);
    for planned in said.json()["runs"].as_array().unwrap() {
        let file = place(&format!("runs/run-{:02}.toml", planned["number"].as_u64().unwrap()));
        let assessed = run(&["assess", &file, "--json"]);
        assert_eq!(assessed.code, 0, "{}", assessed.err);
        let assessed = assessed.json();
        let lines = assessed["lines"].as_array().unwrap();
        let total: f64 = lines.iter().map(|line| value(&line["percent"])).sum();
        assert!((total - 100.0).abs() < 1e-9, "{total}");
        for (at, percent) in planned["percent"].as_array().unwrap().iter().enumerate() {
            assert!((value(&lines[at + 2]["percent"]) - value(percent)).abs() < 1e-4, "{}", lines[at + 2]);
        }
    }
    // Nothing is written over, and a part without a line is told.
    assert_eq!(run(&arguments).code, 1);
    std::fs::write(place("base.toml"), base.replace("Sclerotium gum", "Agar")).unwrap();
    let refused = run(&arguments);
    assert_eq!(refused.code, 2, "{}", refused.out);
    assert!(refused.out.contains("no line of this formula is Sclerotium gum"), "{}", refused.out);
}

#[test]
fn two_temperatures_give_an_energy_and_say_what_they_cannot_tell() {
    let said = answer("arrhenius", WARM);
    let law = &said["laws"][0];
    assert!((value(&law["energy"]) - 68.0).abs() < 1.0);
    assert!(law["bend"]["refused"].as_str().unwrap().contains("two temperatures always agree"));
    let [room, warmer, warm, hot] = [0, 1, 2, 3].map(|place| &law["stored"][place]);
    assert!((value(&room["rate"]) / WEEKS - 0.0022).abs() < 0.00005);
    assert!((value(&warm["rate"]) / WEEKS - 0.0083).abs() < 0.00005);
    assert!((value(&warm["time_to_limit"]) * WEEKS - 14.2).abs() < 0.3);
    assert!(
        (value(&warmer["time_to_limit"]) * WEEKS - 34.0).abs() < 0.7,
        "{}",
        value(&warmer["time_to_limit"]) * WEEKS
    );
    assert!((value(&room["ten_kelvin"]) - 2.4).abs() < 0.06);
    assert!(hot["rate"]["notes"][0]["text"].as_str().unwrap().contains("outside the temperatures measured"));
    let seasons = value(&law["seasons"]);
    assert!(seasons > 22.5 && seasons < 30.0);
    // Without an order the three laws stand side by side, and it is said that these data do not choose.
    let all = answer("arrhenius", &WARM.replace("order = \"first\"\n", ""));
    assert_eq!(all["laws"].as_array().unwrap().len(), 3);
    assert!(all["notes"].as_array().unwrap().iter().any(|note| note["code"] == "orders"));
}

#[test]
fn the_better_formula_is_on_its_steps_and_says_what_binds_and_what_contradicts() {
    let said = answer("optimise", BETTER);
    let best = &said["answers"][0];
    // Four of the cheap polyol, two of the dear one: by hand.
    let percent = |line: usize| value(&best["lines"][line]["percent"]);
    assert_eq!((percent(1), percent(2)), (4.0, 2.0), "{best}");
    assert!((value(&best["aims"][0]) - (0.04 * 2.10 + 0.02 * 6.50)).abs() < 1e-12);
    // Three tenths less of the sum is three tenths less of the dear one.
    let bind = &said["binds"][0];
    assert_eq!(bind["bound"], "the sum of Glycerin + Propanediol at least 6 %");
    assert!((value(&bind["gain"]) / value(&bind["moved"]) - 0.065).abs() < 1e-9, "{bind}");
    assert!(best["wishes"].as_array().unwrap().iter().all(|wish| wish["kept"] == true));
    let file = run_with(&["optimise", "-", "--toml"], BETTER.as_bytes());
    assert!(file.out.contains("material = \"Propanediol\"\npercent = 2\n"), "{}", file.out);
    let assessed = run_with(&["assess", "-", "--json"], file.out.as_bytes()).json();
    assert_eq!(value(&assessed["cost"]["per_kg"]), value(&best["aims"][0]));
    let none = answer("optimise", &format!("{BETTER}{TOO_MUCH}"));
    assert_eq!(none["conflict"]["wishes"].as_array().unwrap().len(), 2, "{}", none["conflict"]);
    assert!(
        none["binds"].as_array().unwrap().is_empty()
            && none["conflict"]["words"].as_str().unwrap().contains("the others can be had")
    );
    let front = answer("optimise", &format!("{BETTER}{AGAINST}"));
    assert!(
        front["answers"].as_array().unwrap().len() > 2
            && front["front"]["steps"][0]["words"].as_str().unwrap().contains("cost"),
        "{front}"
    );
    let page = run_with(&["optimise", "-"], BETTER.as_bytes()).out;
    assert!(page.contains("What binds") && page.contains("as typed"), "{page}");
}

#[test]
fn a_substitute_goes_in_by_its_function_and_tells_what_changes() {
    let substituted = |text: &str, arguments: &[&str]| {
        let said = run_with(&[&["substitute"], arguments, &["--json"]].concat(), text.as_bytes());
        assert_eq!(said.code, 0, "{}", said.err);
        said.json()
    };
    let said = substituted(toner(), &["Sodium benzoate", "-", "--with", "Potassium sorbate"]);
    let candidate = &said["candidates"][0];
    let consequence = &candidate["formulas"][0];
    // The same working form at the pH of the window where each is least, read by an assessment of its own.
    let least = |text: &str, substance: &str| {
        let assessed = run_with(&["assess", "-", "--json"], text.as_bytes()).json();
        let at = assessed["preservatives"]["at"].as_array().unwrap().iter();
        let working = at.map(|at| {
            let own = at["preservatives"]
                .as_array()
                .unwrap()
                .iter()
                .find(|one| one["substance"] == substance)
                .unwrap();
            value(&own["working"])
        });
        working.fold(f64::INFINITY, f64::min)
    };
    let percent = value(&consequence["amount"]);
    let exchanged = toner().replace(
        "material = \"Sodium benzoate\"\npercent = 0.4",
        &format!("material = \"Potassium sorbate\"\npercent = {percent}"),
    );
    let [before, after] = [least(toner(), "sodium-benzoate"), least(&exchanged, "potassium-sorbate")];
    assert!((after / before - 1.0).abs() < 0.01, "{after} for {before}");
    assert!(consequence["rule"].as_str().unwrap().contains("same working form"));
    assert!(consequence["label"].as_str().unwrap().contains("Potassium Sorbate"), "{}", consequence["label"]);
    assert!(
        candidate["properties"].as_array().unwrap().iter().any(|one| one["distance"]["refused"].is_string())
    );
    // A polyol has no rule of its own: the same percent, and that is said; the nearest first.
    let said = substituted(toner(), &["Glycerin", "-", "--most", "3"]);
    let all = said["candidates"].as_array().unwrap();
    assert_eq!(all.len(), 3);
    assert!(all.windows(2).all(|pair| value(&pair[0]["distance"]) <= value(&pair[1]["distance"])));
    let consequence = &all[0]["formulas"][0];
    assert_eq!(value(&consequence["amount"]), 4.0);
    assert!(consequence["rule"].as_str().unwrap().contains("no rule of equal function"));
    // A thickener by the viscosity that is predicted.
    let gel =
        toner().replace("material = \"Glycerin\"\npercent = 4", "material = \"Xanthan gum\"\npercent = 0.4");
    let said = substituted(&gel, &["Xanthan gum", "-", "--with", "Sclerotium gum"]);
    let changes = said["candidates"][0]["formulas"][0]["changes"].as_array().unwrap();
    let viscosity = changes.iter().find(|change| change["name"] == "viscosity").unwrap();
    assert!((value(&viscosity["after"]) / value(&viscosity["before"]) - 1.0).abs() < 0.02, "{viscosity}");
    let not_used = substituted(toner(), &["Xanthan gum", "-", "--most", "1"]);
    assert_eq!(not_used["without"][0], "Toner");
    let wrong = run_with(&["substitute", "Xanthum gun", "-"], toner().as_bytes());
    assert!(wrong.code == 2 && wrong.err.contains("no raw material known here"), "{}", wrong.err);
    let page = run_with(&["substitute", "Sodium benzoate", "-", "--most", "2"], toner().as_bytes()).out;
    assert!(page.contains("distance") && page.contains("becomes"), "{page}");
}

#[test]
fn a_substitute_is_looked_at_in_every_formula_of_a_workspace_or_as_a_file_says() {
    let home = tempfile::tempdir().unwrap();
    drop(crate::serving::Server::start(home.path(), &[]));
    let workspace = home.path().join("levigate/sample").display().to_string();
    let asked =
        ["substitute", "Xanthan gum", "--with", "Sclerotium gum", "--workspace", &workspace, "--json"];
    let said = run(&asked).json();
    let own = said["candidates"][0]["formulas"].as_array().unwrap();
    let products: Vec<&str> = own.iter().map(|one| one["product"].as_str().unwrap()).collect();
    assert!(
        products.iter().any(|product| product.starts_with("Night toner") && product.contains(", version "))
    );
    assert!(own.iter().all(|one| one["rule"].as_str().unwrap().contains("same viscosity")), "{products:?}");
    // Every formula of the workspace is either one that uses it or one that does not.
    let uses =
        products.len() + said["without"].as_array().unwrap().len() + said["unread"].as_array().unwrap().len();
    assert!(uses >= 3, "{said}");
    // One formula asked alone as a file says the same of itself, but for what the trials of the workspace taught about its flow.
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("toner.toml"), toner()).unwrap();
    let question = folder.path().join("question.toml");
    let text = "[substitute]\nmaterial = \"Sodium benzoate\"\nwith = [\"Potassium sorbate\"]\nformulas = [\"toner.toml\"]\n";
    std::fs::write(&question, text).unwrap();
    let question = question.display().to_string();
    let by_file = run(&["substitute", "--question", &question, "--json"]).json();
    let by_words = run_with(
        &["substitute", "Sodium benzoate", "-", "--with", "Potassium sorbate", "--json"],
        toner().as_bytes(),
    );
    assert_eq!(by_file["candidates"], by_words.json()["candidates"]);
    assert!(run(&["schema", "substitute"]).json()["properties"]["substitute"].is_object());
    for (text, words) in [
        ("[substitute]\nmost = 3\n", "name the raw material"),
        ("[substitute]\nmaterial = \"Xanthan gum\"\nmost = 0\n", "most"),
        ("[substitute]\nmaterial = \"Xanthan gum\"\nwidth = 1\n", "width"),
        ("[substitute]\nmaterial = \"Xanthan gum\"\n", "names no formulas"),
    ] {
        let wrong = run_with(&["substitute", "--question", "-"], text.as_bytes());
        assert!(wrong.code == 2 && wrong.err.contains(words), "{text}{}", wrong.err);
    }
}

#[test]
fn bad_studies_are_refused_in_words_with_their_place() {
    let wrong = |part: &str, by: &str| BETTER.replacen(part, by, 1);
    for (text, words) in [
        (
            wrong("material = \"Glycerin\"\nleast", "material = \"Glycerol gum\"\nleast"),
            "in no line of the formula",
        ),
        (wrong("of = \"cost_per_kg\"", "of = \"price\""), "not known here"),
        (wrong("least = 1\nmost = 4", "least = 5\nmost = 4"), "no range here"),
        (wrong("least = 1\nmost = 4", "least = 1.01\nmost = 1.04"), "no multiple of its step"),
        (
            wrong("material = \"Propanediol\"\nleast", "material = \"Water\"\nleast"),
            "takes up what the others leave",
        ),
        (wrong("[[optimise.aim]]\nof = \"cost_per_kg\"\n", ""), "write [[optimise.aim]]"),
        (wrong("of = \"cost_per_kg\"", "of = \"natural_origin_percent\"\nwant = \"more\""), "least, most"),
    ] {
        let said = run_with(&["optimise", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}{}", said.out);
        assert!(said.err.contains(words), "{text}{}", said.err);
    }
    for (verb, text, words) in [
        ("design", "total_percent = 2\n[[part]]\nname = \"a\"\n", "two of them at least"),
        (
            "design",
            "total_percent = 2\n[[part]]\nname = \"a\"\nhigh_percent = 0.5\n[[part]]\nname = \"b\"\nhigh_percent = 1\n",
            "no blend keeps",
        ),
        (
            "design",
            "total_percent = 2\nruns = 2\n[[part]]\nname = \"a\"\n[[part]]\nname = \"b\"\n",
            "2 runs cannot settle 3 terms",
        ),
        ("challenge", "title = \"x\"\n", "write [[organism]]"),
        (
            "challenge",
            "[[organism]]\nname = \"E. coli\"\ninitial = 1e5\ncounts = [[7, 10]]\n",
            "criteria ask different things",
        ),
        (
            "challenge",
            "[[organism]]\nname = \"E. coli\"\nkind = \"bacteria\"\ninitial = 1e5\ncounts = [[7, 0]]\n",
            "write the floor under below",
        ),
        (
            "challenge",
            "criteria = [\"iso\"]\n[[organism]]\nname = \"E. coli\"\nkind = \"bacteria\"\ninitial = 1e5\nbelow = [[7.5, 10]]\n",
            "not a day of a test",
        ),
        (
            "shelf-life",
            "lower = 90\n[[batch]]\nreadings = [[3, 99], [3, 98]]\n",
            "measured at one time only, 3 months",
        ),
        (
            "shelf-life",
            "lower = 90\n[[batch]]\nreadings = [[0, 99], [3, 98]]\n",
            "leave none to tell the scatter by",
        ),
        (
            "shelf-life",
            "[[batch]]\nreadings = [[0, 99], [3, 98], [6, 97]]\n",
            "without a limit nothing is ever left",
        ),
        ("shelf-life", "lower = 90\n", "write [[batch]]"),
        (
            "shelf-life",
            "lower = 9\nupper = 8\n[[batch]]\nreadings = [[0, 99], [3, 98], [6, 97]]\n",
            "not above the lower limit",
        ),
        (
            "shelf-life",
            "lower = 90\ntime_unit = \"years\"\n[[batch]]\nreadings = [[0, 99], [3, 98], [6, 97]]\n",
            "days, weeks, months",
        ),
        (
            "shelf-life",
            "lower = 90\n[[batch]]\nreadings = [[0, 99], [-3, 98], [6, 97]]\n",
            "times count from the start",
        ),
        (
            "shelf-life",
            "lower = 0.1\nscale = \"logarithm\"\n[[batch]]\nreadings = [[0, 1], [3, 0], [6, 2]]\n",
            "no place in this scale",
        ),
        (
            "arrhenius",
            "[[condition]]\ntemperature_c = 25\nreadings = [[0, 100], [3, 99], [6, 98], [9, 97]]\n",
            "temperature is not in them",
        ),
        (
            "arrhenius",
            "[[condition]]\ntemperature_c = 25\nreadings = [[0, 100], [3, 101], [6, 102]]\n[[condition]]\ntemperature_c = 40\nreadings = [[0, 100], [3, 90]]\n",
            "rises or stays",
        ),
        ("arrhenius", "lower = 90\n", "write [[condition]]"),
        ("arrhenius", "[[condition]]\nreadings = [[0, 100]]\n", "write temperature_c = 40"),
    ] {
        let said = run_with(&[verb, "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}{}", said.out);
        assert!(said.err.contains(words), "{text}{}", said.err);
    }
}

#[test]
fn plates_are_held_against_the_limit_of_their_class() {
    let said = answer("microbes", PLATES);
    // 282 colonies on 0.2 g, and less than 10 of fungi: above a thousand, within the factor of two.
    assert!((value(&said["counts"][0]["count"]) - 1410.0).abs() < 1e-6);
    assert_eq!(said["counts"][1]["written"], "< 10");
    assert_eq!((value(&said["total"]), &said["total_says"]), (1420.0, &Value::from("within_tolerance")));
    assert_eq!(said["says"], "within_tolerance");
    // 40 per mL at 82 %, and at most 2 per gram by the extract.
    let brings = &said["brings"]["total"];
    assert_eq!([value(brings), brings["low"].as_f64().unwrap()], [34.8, 32.8]);
    // Filling was not said: nothing carries it, and not all is known.
    assert!(said["low_risk"]["verdict"].as_str().unwrap().starts_with("cannot say"), "{}", said["low_risk"]);
    let strict = answer("microbes", &PLATES.replace("\"other\"", "\"eye-mucous-under-three\""));
    assert_eq!(strict["says"], "out");
    let open = answer(
        "microbes",
        &PLATES.replace("found = false\nin_g = 1\n[water]", "found = false\nin_g = 0.1\n[water]"),
    );
    assert_eq!(
        (&open["says"], &open["organisms"][3]["says"]),
        (&Value::from("cannot_say"), &Value::from("cannot_say"))
    );
    let acid = answer("microbes", &PLATES.replace("ph = 5.4", "ph = 2.8"));
    assert_eq!(acid["low_risk"]["decided_by"][0], "pH 3.0 or lower");
    let page = run_with(&["microbes", "-"], PLATES.as_bytes()).out;
    assert!(page.contains("within the tolerance of a count") && !page.contains("safe"), "{page}");
}

#[test]
fn a_formula_brings_its_class_its_water_and_what_carries_it() {
    let text = "[[count]]\nof = \"bacteria\"\nplates = [[0.1, 0]]\n[water]\ncfu_per_ml = 100\n[low_risk]\nfill_c = 70\n";
    let asked = ["microbes", "-", "--formula", "examples/night-toner-mandelic.toml", "--json"];
    let said = run_with(&asked, text.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    let said = said.json();
    let water = value(&said["brings"]["parts"][0][1]);
    assert!((50.0..100.0).contains(&water), "{water}");
    assert_eq!(said["low_risk"]["decided_by"][0], "filled hot above 65 C");
    assert_eq!(said["total_says"], "cannot_say");
    for (text, words) in [
        ("title = \"x\"\n", "write class = "),
        ("class = \"other\"\n[[count]]\nof = \"algae\"\nplates = [[0.1, 3]]\n", "use one of bacteria, fungi"),
        (
            "class = \"other\"\n[[count]]\nof = \"fungi\"\nplates = [[10, 3.5]]\n",
            "0.1 for one gram in ten millilitres",
        ),
        ("class = \"other\"\n[water]\ncfu_per_ml = 3\n", "--formula"),
        (
            "class = \"other\"\n[[looked_for]]\norganism = \"Candida albicans\"\n",
            "found = true or found = false",
        ),
    ] {
        let said = run_with(&["microbes", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}{}", said.out);
        assert!(said.err.contains(words), "{text}{}", said.err);
    }
}

#[test]
fn the_weaker_edge_is_what_is_sent() {
    let asked = ["sheet", "examples/night-toner-mandelic.toml", "--of", "submission"];
    let said = run(&[&asked[..], &["--json"]].concat()).json();
    // The benzoate of the toner works by its undissociated acid: least of it at the upper edge of pH 3.6 to 4.0.
    assert_eq!(value(&said["ph"][0]), 4.0);
    let benzoate = said["preservatives"]
        .as_array()
        .unwrap()
        .iter()
        .find(|one| one["name"] == "Sodium Benzoate")
        .unwrap();
    assert!(value(&benzoate["at_high"]) < value(&benzoate["at_low"]));
    assert!(benzoate["neutraliser"].as_str().unwrap().contains("polysorbate"));
    assert_eq!(said["organisms"].as_array().unwrap().len(), 5);
    let place = tempfile::tempdir().unwrap();
    let out = place.path().join("order.xlsx").display().to_string();
    assert_eq!(run(&[&asked[..], &["--xlsx", &out]].concat()).code, 0);
    assert!(std::fs::metadata(&out).unwrap().len() > 1000);
}

/// A serum with ascorbic acid in a dropper bottle.
pub(crate) const BOTTLE: &str = "fill_g = 31.68\nwater_percent = 65\n[oxygen]\nheadspace_ml = 5\ndoses = 60\nair_per_dose_ml = 1\n\
    [[takes_up]]\nname = \"ascorbic acid\"\npercent = 15.2\nmolar_mass_g_mol = 176.12\nper_oxygen = [1, 2]\n[water]\nloss_g = 0.25\n\
    over_days = 84\ntested = { temperature_c = 40, humidity_percent = 20 }\nstored = { temperature_c = 25, humidity_percent = 50 }\n\
    limit_percent = 3\n";

#[test]
fn what_a_pack_lets_in_and_out_is_told_with_what_is_not_known() {
    let said = answer("pack", BOTTLE);
    assert_eq!(said["oxygen"].as_array().unwrap().len(), 3);
    assert!(
        said["water"]["until"]["low"].as_f64().unwrap() < said["water"]["until"]["high"].as_f64().unwrap()
    );
    let text = run_with(&["pack", "-"], BOTTLE.as_bytes()).out;
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in
        ["with the doses", "air over the fill", "No pack stops that", "until the limit", "weigh several"]
    {
        assert!(text.contains(words), "{words}: {text}");
    }
    for (text, words) in [
        ("fill_g = 30\n", "write [oxygen]"),
        ("[oxygen]\nheadspace_ml = 5\n", "fill_g = 30"),
        ("fill_g = 30\n[oxygen]\ndoses = 60\n", "write air_per_dose_ml beside doses"),
        ("fill_g = 30\n[oxygen]\nheadspace_ml = [5, 2]\n", "headspace_ml"),
        (
            "fill_g = 30\n[water]\nloss_g = 1\nover_days = 9\nwater_activity = 0.7\ntested = { temperature_c = 40, humidity_percent = 75 }\n\
             stored = { temperature_c = 25, humidity_percent = 50 }\n",
            "drier than the product",
        ),
    ] {
        let said = run_with(&["pack", "-"], text.as_bytes());
        assert_eq!(said.code, 2, "{text}{}", said.out);
        assert!(said.err.contains(words), "{text}{}", said.err);
    }
}

#[test]
fn the_examples_of_the_help_are_answered_and_the_schemas_shown() {
    for verb in ["challenge", "microbes", "shelf-life", "arrhenius", "design", "optimise", "pack"] {
        let help = run(&[verb, "--help"]).out;
        let example: String = help
            .lines()
            .skip_while(|line| !line.contains("levigate schema"))
            .skip(1)
            .map(|line| format!("{line}\n"))
            .collect();
        let said = run_with(&[verb, "-", "--json"], example.as_bytes());
        assert_eq!(said.code, 0, "{example}{}", said.err);
        assert!(run(&["schema", verb]).json()["properties"].is_object());
    }
}
