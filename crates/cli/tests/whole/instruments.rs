//! Instruments on serial ports: what a line says, a port that is not there, the example of the help.

use crate::program::{run, run_with};

pub(crate) const BENCH: &str = "\
[[instrument]]
name = \"balance 1\"
reads = \"mass\"
port = \"/dev/no-such-port-1\"
line = \"{mark} {number} {unit}\"
settled = [\"still\"]
[[instrument]]
name = \"meter\"
reads = \"ph\"
port = \"/dev/no-such-port-2\"
line = \"{number} {unit}; {temperature} C\"
";

#[test]
fn a_line_is_understood_by_those_it_fits() {
    let asked = ["instruments", "-", "--line", "still +  12.340 g", "--line", "5.482 pH;24.9 C", "--json"];
    let said = run_with(&asked, BENCH.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    let said = said.json();
    let shown = &said["shown"];
    assert_eq!(
        (&shown[0]["digits"], &shown[0]["unit"], &shown[0]["settled"]),
        (&"12.340".into(), &"g".into(), &true.into())
    );
    assert!(shown[1]["trouble"].as_str().unwrap().contains("does not look like the pattern"));
    assert_eq!((&shown[3]["digits"], &shown[3]["temperature"]), (&"5.482".into(), &"24.9".into()));
    let page = run_with(&asked[..6], BENCH.as_bytes());
    assert!(
        page.out.contains("12.340") && page.out.contains("settled") && page.out.contains("at 24.9"),
        "{}",
        page.out
    );
}

#[test]
fn a_port_that_is_not_there_is_told_with_its_name() {
    let said = run_with(&["instruments", "-", "--listen", "1"], BENCH.as_bytes());
    assert_eq!(said.code, 0, "{}", said.err);
    assert!(said.out.contains("/dev/no-such-port-1 cannot be read"), "{}", said.out);
    let wrong = run_with(&["instruments", "-"], BENCH.replace("\"mass\"", "\"weight\"").as_bytes());
    assert_eq!(wrong.code, 2, "{}", wrong.out);
    assert!(
        wrong.err.contains("standard input:3:9") && wrong.err.contains("use one of mass, ph, temperature"),
        "{}",
        wrong.err
    );
    let served = run(&["serve", "--instruments", "no-such-file.toml", "--no-browser"]);
    assert!(served.code != 0 && served.err.contains("no-such-file.toml"), "{}", served.err);
}

#[test]
fn the_example_of_the_help_runs_as_it_stands() {
    let help = run(&["instruments", "--help"]).out;
    let example: Vec<&str> = help
        .lines()
        .skip_while(|line| !line.starts_with("  [["))
        .take_while(|line| !line.is_empty())
        .collect();
    let said =
        run_with(&["instruments", "-", "--line", "still 1.00 g", "--json"], example.join("\n").as_bytes());
    assert_eq!(said.code, 0, "{}\n{}", example.join("\n"), said.err);
    assert_eq!(said.json()["shown"][0]["digits"], "1.00");
}
