//! `analyse`: runs of mixtures and typed equations through the door.

use crate::program::{run, run_with};
use serde_json::Value;

/// Three gums at ten blends, with a wish, a check batch and a grid.
pub(crate) const GUMS: &str = "title = \"three gums\"\ncolumns = [\"Xanthan gum\", \"Sclerotium gum\", \"HEC\", \"yield stress\", \"viscosity\"]\n\
    runs = [[0.8, 0.4, 0.2, 9.1, 5.0], [0.8, 0.4, 0.2, 8.7, 5.2], [0.1, 1.0, 0.3, 6.2, 2.9], [0.1, 0.1, 1.2, 1.1, 4.1], [0.1, 0.1, 1.2, 1.4, 4.3],\n\
    [0.45, 0.7, 0.25, 8.9, 4.2], [0.45, 0.25, 0.7, 5.2, 4.9], [0.1, 0.55, 0.75, 3.1, 3.3], [0.4, 0.5, 0.5, 6.4, 4.4], [0.4, 0.5, 0.5, 6.0, 4.5]]\n\
    grid = true\n\
    [[response]]\nname = \"yield stress\"\nunit = \"Pa\"\nwish = \"target\"\nlow = 5\ntarget = 7\nhigh = 9\n\
    [[response]]\nname = \"viscosity\"\nunit = \"Pa s\"\nwish = \"smaller\"\ntarget = 3\nhigh = 6\n\
    [[ask]]\nlevels = [0.3, 0.6, 0.5]\nmeasured = [5.9]\n[[ask]]\nlevels = [1.2, 0.1, 0.1]\nmeasured = [2.0, 30]\n";
/// A decay in data with an equation.
pub(crate) const CURVE: &str = "title = \"decay\"\nequation = \"y = a*exp(-k*t)\"\nstart = { a = 80, k = 0.1 }\nprofile = true\n\
    columns = [\"t\", \"y\"]\nruns = [[0, 100.2], [1, 81.5], [2, 67.4], [4, 45.1], [8, 20.0], [16, 4.2]]\n";
/// Elongation of yarn of three fibres (Cornell; tests/published/mixtures.toml).
const YARN: &str = "ethylene,styrene,propylene,elongation\n1,0,0,11.0\n1,0,0,12.4\n0.5,0.5,0,15.0\n0.5,0.5,0,14.8\n0.5,0.5,0,16.1\n0,1,0,8.8\n0,1,0,10.0\n\
    0,0.5,0.5,10.0\n0,0.5,0.5,9.7\n0,0.5,0.5,11.8\n0,0,1,16.8\n0,0,1,16.0\n0.5,0,0.5,17.7\n0.5,0,0.5,16.4\n0.5,0,0.5,16.6\n";
/// Rate of etching by three acids (Myers and Montgomery; the same file).
const ETCH: &str = "run;a;b;c;rate\n1;1;0;0;540\n2;1;0;0;560\n3;0;1;0;330\n4;0;1;0;350\n5;0;0;1;295\n6;0;0;1;260\n7;0,5;0,5;0;610\n8;0,5;0;0,5;425\n9;0;0,5;0,5;330\n\
    10;0,3333;0,3333;0,3333;800\n11;0,3333;0,3333;0,3333;850\n12;0,6667;0,1667;0,1667;710\n13;0,1667;0,6667;0,1667;640\n14;0,1667;0,1667;0,6667;460\n\
    15;0,4;0,3;0,3;\n";

fn answer(arguments: &[&str], text: &str) -> Value {
    let said = run_with(&[&["analyse", "-", "--json"], arguments].concat(), text.as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", said.out, said.err);
    said.json()
}

fn value(outcome: &Value) -> f64 {
    outcome["value"].as_f64().unwrap_or_else(|| panic!("{outcome}"))
}

fn codes(notes: &Value) -> Vec<&str> {
    notes.as_array().unwrap().iter().filter_map(|note| note["code"].as_str()).collect()
}

#[test]
fn a_table_takes_wishes_beside_it_and_is_drawn_across_its_parts() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("yarn.svg");
    let plot = file.to_str().unwrap();
    let said = answer(&["--wish", "elongation=larger:8:20", "--plot", plot], YARN);
    // By hand: the top of the published polynomial between the first and the third fibre.
    let best = said["best"]["levels"].as_array().unwrap();
    assert!(
        (value(&best[0]["value"]) - 6.7 / 22.8).abs() < 0.006 && value(&best[1]["value"]) < 1e-4,
        "{best:?}"
    );
    let drawn = std::fs::read_to_string(&file).unwrap();
    for words in [
        "elongation across ethylene, styrene, propylene",
        ">ethylene<",
        ">11; 12.4<",
        ">14<",
        "within the region from",
    ] {
        assert!(drawn.to_lowercase().contains(&words.to_lowercase()), "{words}: {}", &drawn[..600]);
    }
    let of_wishes = ["--wish", "elongation=larger:8:20", "--plot", plot, "--of", "wishes"];
    answer(&of_wishes, YARN);
    assert!(std::fs::read_to_string(&file).unwrap().contains(">best<"));
    let wrong = run_with(&["analyse", "-", "--plot", plot, "--of", "strength"], YARN.as_bytes());
    assert!(wrong.code != 0 && wrong.err.contains("was not measured"), "{}", wrong.err);
    let wrong = run_with(&["analyse", "-", "--wish", "elongation=larger:17:8"], YARN.as_bytes());
    assert!(wrong.code != 0 && wrong.err.contains("do not rise"), "{}", wrong.err);
}

#[test]
fn a_table_of_a_lattice_gives_its_published_terms() {
    let said = answer(&[], YARN);
    let response = &said["responses"][0];
    assert_eq!(
        (&response["name"], &response["model"]),
        (&Value::from("elongation"), &Value::from("quadratic"))
    );
    let terms: Vec<f64> =
        response["terms"].as_array().unwrap().iter().map(|term| value(&term["coefficient"])).collect();
    for (ours, printed) in terms.iter().zip([11.7, 9.4, 16.4, 19.0, 11.4, -9.6]) {
        assert!((ours - printed).abs() < 1e-9, "{terms:?}");
    }
    assert_eq!(response["terms"][3]["name"], "ethylene × styrene");
    assert!((value(&response["fit"]["scatter"]) - 0.85375).abs() < 1e-5);
    assert!(
        response["fit"]["lack_of_fit"]["refused"].as_str().unwrap().contains("nothing to see a misfit by")
    );
    // Seven blends would carry a seventh term; six do not.
    assert!(response["steps"][2]["refused"].as_str().unwrap().contains("ethylene × styrene × propylene"));
    assert!(response["words"].as_str().unwrap().contains("beyond chance"));
    let page = run_with(&["analyse", "-"], YARN.as_bytes()).out;
    assert!(page.contains("quadratic (taken)") && page.contains("ethylene × propylene"), "{page}");
}

#[test]
fn a_misfit_is_flagged_and_the_data_choose_the_larger_model() {
    let chosen = answer(&[], ETCH);
    let cubic = &chosen["responses"][0];
    assert_eq!(cubic["model"], "special cubic");
    assert!(!codes(&cubic["notes"]).contains(&"misfit"));
    // Shares written as 0.3333 add up only within their digits: said, and taken as shares of their sum.
    assert!(codes(&chosen["notes"]).contains(&"rounded"));
    assert!((value(&cubic["terms"][6]["coefficient"]) / 9243.3 - 1.0).abs() < 1e-3);
    let asked = &cubic["asked"][0];
    assert!(asked["within"].is_null() && value(&asked["mean"]) > 700.0, "{asked}");
    let [mean, next] = [&asked["mean"], &asked["next"]].map(|one| one["high"].as_f64().unwrap());
    assert!(next > mean);
    let quadratic = answer(&["--model", "quadratic"], ETCH);
    let quadratic = &quadratic["responses"][0];
    assert!(codes(&quadratic["notes"]).contains(&"misfit"), "{}", quadratic["notes"]);
    assert!((value(&quadratic["fit"]["explained"]) - 0.758).abs() < 1e-3);
    assert_eq!(quadratic["taken"], "asked_for");
}

#[test]
fn wishes_find_a_blend_within_the_region_and_a_check_batch_is_judged() {
    let said = answer(&[], GUMS);
    let best = &said["best"];
    let shares: Vec<f64> =
        best["levels"].as_array().unwrap().iter().map(|level| value(&level["value"])).collect();
    assert!((shares.iter().sum::<f64>() - 1.4).abs() < 1e-9, "{shares:?}");
    for (share, [low, high]) in shares.iter().zip([[0.1, 0.8], [0.1, 1.0], [0.2, 1.2]]) {
        assert!((low - 1e-9..=high + 1e-9).contains(share), "{shares:?}");
    }
    let met: Vec<f64> = best["wishes"].as_array().unwrap().iter().map(|wish| value(&wish["met"])).collect();
    assert!((value(&best["worth"]) - met.iter().product::<f64>().sqrt()).abs() < 1e-9);
    // No point of the grid meets the wishes better.
    let wish = |point: &Value| {
        let [stress, viscosity] = [0, 1].map(|at| value(&point["values"][at]));
        let target: f64 = if stress < 7.0 { (stress - 5.0) / 2.0 } else { (9.0 - stress) / 2.0 };
        let smaller: f64 = ((6.0 - viscosity) / 3.0).min(1.0);
        (target.max(0.0) * smaller.max(0.0)).sqrt()
    };
    let grid = said["grid"].as_array().unwrap();
    assert!(grid.len() > 30 && grid.iter().all(|point| wish(point) <= value(&best["worth"]) + 1e-9));
    let asked = &said["responses"][0]["asked"];
    assert_eq!((&asked[0]["within"], &asked[1]["within"]), (&Value::from(true), &Value::from(false)));
    assert_eq!(codes(&asked[1]["next"]["notes"]), ["outside"]);
    assert!(said["responses"][1]["asked"][0]["within"].is_null());
    let page = run_with(&["analyse", "-"], GUMS.as_bytes()).out;
    assert!(page.contains("Best blend by the wishes") && page.contains("check batch:"), "{page}");
    assert_eq!(answer(&[], GUMS)["best"], said["best"], "the same seed, the same blend");
}

#[test]
fn settings_go_beside_a_blend_or_stand_alone() {
    let mut table = "a,b,temperature,y\n".to_owned();
    for temperature in [20.0, 40.0] {
        for a in [0.0, 0.25, 0.5, 0.75, 1.0] {
            let y = 3.0 * a
                + 5.0 * (1.0 - a)
                + 4.0 * a * (1.0 - a)
                + 0.1 * (temperature - 30.0)
                + if a == 0.5 { 0.01 } else { 0.0 };
            table += &format!("{a},{},{temperature},{y}\n", 1.0 - a);
        }
    }
    let said = answer(&["--setting", "temperature", "--model", "quadratic"], &table);
    let terms = said["responses"][0]["terms"].as_array().unwrap();
    assert_eq!((terms.len(), &terms[3]["name"]), (4, &Value::from("temperature")));
    // Coded from -1 to 1: ten degrees to either side.
    assert!((value(&terms[3]["coefficient"]) - 1.0).abs() < 1e-9);
    let alone = answer(
        &["--setting", "t", "--setting", "v"],
        "t,v,y\n20,1,3\n40,1,5\n20,2,4\n40,2,6.1\n30,1.5,4.4\n30,1.5,4.6\n30,1.5,4.5\n",
    );
    assert!(alone["total"].is_null() && alone["responses"][0]["terms"][0]["name"] == "constant");
}

#[test]
fn an_equation_is_fitted_from_a_start_and_says_what_it_cannot_settle() {
    let said = answer(&[], CURVE);
    assert_eq!((&said["kind"], &said["solved_at_once"]), (&Value::from("equation"), &Value::from(false)));
    let [a, k] = [0, 1].map(|at| &said["parameters"][at]);
    assert!((value(&a["value"]) - 100.0).abs() < 1.0 && (value(&k["value"]) - 0.2).abs() < 0.01);
    let width = |outcome: &Value| outcome["high"].as_f64().unwrap() - outcome["low"].as_f64().unwrap();
    assert!((width(&k["profile"]) / width(&k["value"]) - 1.0).abs() < 0.1);
    let table = "x,y\n1,2.9\n2,5.2\n3,7.1\n4,8.8\n";
    let straight = answer(&["--equation", "y = b0 + b1*x"], table);
    assert_eq!(straight["solved_at_once"], true);
    assert!((value(&straight["parameters"][1]["value"]) - 1.96).abs() < 1e-9);
    let product = answer(&["--equation", "y = a*b*x^c", "--start", "a=1,b=2,c=1"], table);
    assert!(codes(&product["notes"]).contains(&"not-settled"), "{}", product["notes"]);
    assert!(product["parameters"][0]["error"]["refused"].is_string());
    let page = run_with(&["analyse", "-"], CURVE.as_bytes()).out;
    assert!(page.contains("y = a*exp(-k*t)") && page.contains("along the profile"), "{page}");
}

#[test]
fn a_reference_set_comes_out_to_the_digits_of_the_program() {
    // NIST StRD, Misra1a (tests/published/nist_strd.toml), from the far start.
    let mut table = "y x\n".to_owned();
    for (y, x) in [
        (10.07, 77.6),
        (14.73, 114.9),
        (17.94, 141.1),
        (23.93, 190.8),
        (29.61, 239.9),
        (35.18, 289.0),
        (40.02, 332.8),
        (44.82, 378.4),
        (50.76, 434.8),
        (55.05, 477.3),
        (61.01, 536.8),
        (66.40, 593.1),
        (75.47, 689.1),
        (81.78, 760.0),
    ] {
        table += &format!("{y};{x}\n");
    }
    let table = table.replacen("y x", "y;x", 1);
    let said = answer(&["--equation", "y = b1*(1-exp(-b2*x))", "--start", "b1=500,b2=0.0001"], &table);
    for (at, certified, deviation) in
        [(0, 238.942_129_18, 2.707_007_524_1), (1, 5.501_564_318_1e-4, 7.266_868_838_2e-6)]
    {
        let parameter = &said["parameters"][at];
        assert!((value(&parameter["value"]) / certified - 1.0).abs() < 1e-9, "{parameter}");
        assert!((value(&parameter["error"]) / deviation - 1.0).abs() < 1e-9, "{parameter}");
    }
    assert!((value(&said["residual_sum"]) / 1.245_513_889_4e-1 - 1.0).abs() < 1e-9);
}

#[test]
fn bad_runs_and_equations_are_refused_in_words_with_their_place() {
    for (arguments, text, words) in [
        // A published set of a propellant holds such rows (cran/mixexp).
        (
            &[][..],
            "a,b,c,y\n0.5,0.3,0.201,1\n0.664,0.289,0.170,2\n0.4,0.4,0.2,3\n0.2,0.5,0.3,4\n",
            "standard input:3:1",
        ),
        (
            &[],
            "a,b,c,y\n0.5,0.3,0.201,1\n0.664,0.289,0.170,2\n0.4,0.4,0.2,3\n0.2,0.5,0.3,4\n",
            "add up to 1.123, not to 1",
        ),
        (&[], "a,b,y\n0.5,0.5,1\n0.4,0.6,2\n0.2,lots,3\n", "\u{201c}lots\u{201d} is not a number"),
        (&[], "a,b,y\n0.5,0.5,1\n0.4,,2\n", "a run without the share of a part"),
        (&[], "0.5,0.5,1\n0.4,0.6,2\n", "should name the columns"),
        (&[], "a,b,y\n0.5,0.5,1\n0.5,0.5,2\n0.5,0.5,2\n", "do not tell b apart from a"),
        (&[], "a,b,y\n0.5,0.5,1\n", "1 runs cannot settle 2 terms"),
        (&["--model", "quadratic"], "a,b,y\n0.5,0.5,1\n0.2,0.8,2\n", "2 runs cannot settle 3 terms"),
        (&["--model", "cubic"], "a,b,y\n0.5,0.5,1\n0.2,0.8,2\n", "there is no model cubic"),
        (&["--response", "z"], "a,b,y\n0.5,0.5,1\n0.2,0.8,2\n", "the columns are a, b, y"),
        (&[], "a,y\n1,2\n1,3\n", "1 columns are left as parts"),
        (&[], "columns = [\"a\", \"b\", \"y\"]\nruns = [[0.5, 0.5, 1], [0.2, 0.8]]\n", "standard input:2:"),
        (
            &[],
            "columns = [\"a\", \"b\", \"y\"]\nruns = [[0.5, 0.5, 1]]\n[[response]]\nname = \"y\"\nwish = \"target\"\nlow = 3\n",
            "target all three",
        ),
        (
            &["--equation", "y = a + 2x"],
            "x,y\n1,2\n2,3\n",
            "`x` follows without a sign between (character 10, at `x`)",
        ),
        (
            &["--equation", "y = a*exp(-k*x)", "--start", "a=1"],
            "x,y\n1,2\n2,3\n",
            "`k` is neither a column of the data nor given a start",
        ),
        (
            &["--equation", "y = a*exp(-k*x)", "--start", "a=1,k=1"],
            "x,y\n1,2\n",
            "1 points cannot settle 2 parameters",
        ),
        (&["--equation", "ln(y) = a + b*x"], "x,y\n1,2\n2,0\n3,4\n", "no number for row 2"),
        (&["--equation", "y = a + b*x + c*2*x"], "x,y\n1,2\n2,3\n3,4\n4,1\n", "do not tell c apart"),
    ] {
        let said = run_with(&[&["analyse", "-"], arguments].concat(), text.as_bytes());
        assert_eq!(said.code, 2, "{text}{}", said.out);
        let flat = said.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{text}{}", said.err);
    }
    assert_eq!(run(&["analyse", "-", "--equation", "y = a", "--start", "a=much"]).code, 2);
}

#[test]
fn the_example_of_the_help_is_answered_and_the_schema_shown() {
    let help = run(&["analyse", "--help"]).out;
    let example: String = help
        .lines()
        .skip_while(|line| !line.contains("levigate schema"))
        .skip(1)
        .map(|line| format!("{line}\n"))
        .collect();
    let said = run_with(&["analyse", "-", "--json"], example.as_bytes());
    assert_eq!(said.code, 0, "{example}{}", said.err);
    assert!(run(&["schema", "analyse"]).json()["properties"].is_object());
}
