//! `procedure`: a proposal taken into its file, and what wrong steps are told.

use crate::program::{run, run_with};
use serde_json::Value;

#[test]
fn a_procedure_taken_into_its_file_is_the_same_procedure_and_breaks_nothing() {
    let formula = "examples/scenarios/2-aha-toner-serum.toml";
    let proposed = run(&["procedure", formula, "--json"]).json();
    assert_eq!(proposed["written"], false);
    let steps = run(&["procedure", formula, "--toml"]);
    assert_eq!(steps.code, 0, "{}", steps.err);
    let text = std::fs::read_to_string(format!("{}/../../{formula}", env!("CARGO_MANIFEST_DIR"))).unwrap();
    let own = run_with(&["procedure", "-", "--json"], format!("{text}\n{}", steps.out).as_bytes()).json();
    assert_eq!(own["written"], true);
    let count = |answer: &Value| answer["steps"].as_array().unwrap().len();
    assert_eq!(count(&proposed), count(&own));
    for step in own["steps"].as_array().unwrap() {
        assert_eq!(step["broken"].as_array().unwrap().len(), 0, "{step}");
    }
    assert_eq!(own["broken"].as_array().unwrap().len(), 0);
}

#[test]
fn the_page_of_a_procedure_names_reasons_and_breaches() {
    let page = run(&["procedure", "examples/hand-gel-carbomer.toml"]).out;
    for word in ["Sift Carbomer", "take care:", "After the de-airing", "[kelessidis-hatzistamou-2011]"] {
        assert!(page.contains(word), "{word}\n{page}");
    }
    let gel = std::fs::read_to_string(format!(
        "{}/../../examples/hand-gel-carbomer.toml",
        env!("CARGO_MANIFEST_DIR")
    ));
    let wrong = format!(
        "{}\n[[step]]\ndoes = \"adjust-ph\"\nlines = [{{ material = \"Tromethamine\" }}]\n[[step]]\ndoes = \"add\"\nlines = [{{ material = \"Water\" }}]\n",
        gel.unwrap()
    );
    let said = run_with(&["procedure", "-"], wrong.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("goes in nowhere") && said.out.contains("■ stop"), "{}", said.out);
}
