//! What trials taught about flow moves the prediction of the page and of the command line alike.

use crate::program::run;
use crate::serving::Server;
use serde_json::{Value, json};

const GEL: &str = "examples/hand-gel-carbomer.toml";

fn number(of: &Value, key: &str) -> f64 {
    of[key].as_f64().unwrap_or(f64::NAN)
}

fn ends(of: &Value) -> [f64; 3] {
    ["low", "value", "high"].map(|key| number(of, key))
}

/// What stands between two marks of a page.
fn between<'p>(page: &'p str, start: &str, end: &str) -> &'p str {
    page.split_once(start).and_then(|(_, rest)| rest.split_once(end)).map(|(found, _)| found).unwrap()
}

#[cfg(unix)]
#[test]
fn page_and_command_line_give_the_demos_hand_gel_the_same_numbers() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let formulas = server.formulas();
    let of_name = |one: &&Value| one["name"] == "Cooling hand gel";
    let id = formulas.as_array().unwrap().iter().find(of_name).unwrap()["id"].as_str().unwrap().to_owned();
    let (status, page) = server.get(&format!("/formulas/{id}"));
    assert_eq!(status, 200, "{page}");
    let token = between(&page, "name=\"levigate-token\" content=\"", "\"");
    let data: Value =
        serde_json::from_str(between(&page, "<script type=\"application/json\" id=\"data\">", "</script>"))
            .unwrap();
    let on_page = &data["judgement"]["assessment"]["flow"]["at_brief"];

    let workspace = home.path().join("levigate/sample").display().to_string();
    let predicted = |formula: &str| {
        let said = run(&["flow", "predict", formula, "--workspace", &workspace, "--json"]);
        assert_eq!(said.code, 0, "{}", said.err);
        said.json()
    };
    // Beside the server that has the workspace open; by file and by name.
    let by_file = predicted(GEL);
    assert_eq!(ends(&by_file["at_brief"]), ends(on_page));
    assert_eq!(ends(&predicted("hand gel")["at_brief"]), ends(on_page));
    let untaught = run(&["flow", "predict", GEL, "--json"]).json();
    assert!(untaught["learned"].is_null());
    let width = |of: &Value| number(of, "high") / number(of, "low");
    assert!(width(&untaught["at_brief"]) > 2.0 * width(on_page), "the trials taught something");

    let draft = &data["draft"];
    let lines =
        draft["phases"].as_array().unwrap().iter().flat_map(|phase| phase["lines"].as_array().unwrap());
    let line = lines.filter(|line| line["material"] == "Carbomer").map(|line| &line["id"]).next().unwrap();
    let asked = json!({ "formula": id, "draft": draft, "line": line, "mpa_s": 12000.0 });
    let (status, answer) = server.post("/api/level", token, &asked.to_string());
    assert_eq!(status, 200, "{answer}");
    let level: Value =
        serde_json::from_str(&answer[answer.find('{').unwrap()..=answer.rfind('}').unwrap()]).unwrap();
    let said = run(&["flow", "level", GEL, "--target", "12000", "--workspace", &workspace, "--json"]);
    assert_eq!(ends(&said.json()["level"]), ends(&level["level"]), "{}", said.err);
    assert!(said.json()["ladder"].is_array());
    assert_eq!(server.end(), Some(0));

    // What was learned from which trial.
    let learned = &by_file["learned"];
    assert_eq!(learned["formula"], "Cooling hand gel");
    let taught = learned["taught"].as_array().unwrap();
    let sources: Vec<&str> = taught.iter().filter_map(|one| one["source"].as_str()).collect();
    assert_eq!(sources.len(), 3, "{sources:?}");
    assert!(sources[0].starts_with("certificate of Carbomer") && taught[0]["number"].is_null());
    assert_eq!(sources[1..], ["trial 1 of Cooling hand gel", "trial 2 of Cooling hand gel"]);
    assert!(taught.iter().all(|one| !one["moved"].as_array().unwrap().is_empty()));
    let told = run(&["flow", "predict", GEL, "--workspace", &workspace]);
    for words in ["Learned", "trial 2 of Cooling hand gel:", "strength against its"] {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    assert!(told.out.lines().all(|line| line.chars().count() <= 100), "{}", told.out);
}

#[cfg(unix)]
#[test]
fn another_formula_learns_of_its_thickeners_and_not_of_what_is_of_one_formula_alone() {
    let home = tempfile::tempdir().unwrap();
    drop(Server::start(home.path(), &[]));
    let workspace = home.path().join("levigate/sample").display().to_string();
    let renamed = std::fs::read_to_string(crate::program::root().join(GEL)).unwrap();
    let renamed = renamed.replace("Cooling hand gel", "A gel nobody made");
    let file = home.path().join("other.toml");
    std::fs::write(&file, renamed).unwrap();
    let asked = ["flow", "predict", &file.display().to_string(), "--workspace", &workspace, "--json"];
    let other = run(&asked).json();
    let own = run(&["flow", "predict", GEL, "--workspace", &workspace, "--json"]).json();
    let none = run(&["flow", "predict", GEL, "--json"]).json();
    assert!(other["learned"]["formula"].is_null());
    assert_eq!(other["learned"]["taught"].as_array().unwrap().len(), 3);
    let width = |of: &Value| number(&of["at_brief"], "high") / number(&of["at_brief"], "low");
    assert!(width(&own) < width(&other) && width(&other) < width(&none));
    // A formula without these thickeners learns nothing.
    let toner = run(&["flow", "predict", "toner", "--workspace", &workspace, "--json"]).json();
    assert_eq!(toner["learned"]["taught"], json!([]));
    let wrong = run(&["flow", "predict", "no such gel", "--workspace", &workspace]);
    assert_eq!(wrong.code, 2);
    assert!(wrong.err.contains("no formula in the workspace is called"), "{}", wrong.err);
}
