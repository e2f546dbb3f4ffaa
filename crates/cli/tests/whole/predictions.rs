//! How well readings were foretold, told from the command line beside a server that has the workspace open.

use crate::program::run;
use crate::serving::Server;

#[cfg(unix)]
#[test]
fn predictions_are_told_of_one_formula_of_all_and_without_what_was_learned() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    let workspace = home.path().join("levigate/sample").display().to_string();
    let at = |words: &[&str]| run(&[words, &["--workspace", &workspace]].concat());
    let told = at(&["predictions", "hand gel"]);
    assert_eq!(told.code, 0, "{}", told.err);
    for words in
        ["How well we predict: Cooling hand gel", "mean error:", "is not on file", "What viscosities taught"]
    {
        assert!(told.out.contains(words), "{words}: {}", told.out);
    }
    assert!(told.out.lines().all(|line| line.chars().count() <= 100), "{}", told.out);
    let found = at(&["predictions", "--json"]).json();
    assert_eq!(found["attributes"][0]["name"], "pH");
    assert!(found["formula"].is_null() && found["facts"].is_object());
    let viscosity = &found["attributes"][1];
    assert_eq!(viscosity["entries"].as_array().map(Vec::len), Some(2));
    assert!(viscosity["entries"][1]["foretold"]["value"] != viscosity["entries"][1]["untaught"]["value"]);
    let bare = at(&["predictions", "--untaught", "--json"]).json();
    assert_eq!(
        bare["attributes"][1]["entries"][1]["foretold"]["value"],
        viscosity["entries"][1]["untaught"]["value"]
    );
    assert_eq!(bare["flow_numbers"].as_array().map(Vec::len), Some(0));
    let (status, page) = server.get("/predictions");
    assert_eq!(status, 200, "{page}");
    assert!(page.contains("How well we predict"));
    let (status, _) = server.get("/formulas/00000000-0000-7000-8000-000000000000/predictions");
    assert_eq!(status, 404);
    let missing = at(&["predictions", "no such cream"]);
    assert_ne!(missing.code, 0);
    assert_eq!(server.end(), Some(0));
}
