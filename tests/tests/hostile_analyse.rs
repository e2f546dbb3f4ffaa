//! Damaged runs, equations and designs: every door answers or says what is wrong, where, and what to do; nothing panics or hangs.

use levigate_evidence::damage::damaged;
use levigate_project::diagnostic::Diagnostic;
use levigate_project::workbench::proof::analyse::{Said, analyse};
use levigate_project::workbench::proof::design::design;
use proptest::prelude::*;

const GUMS: &str = "columns = [\"a\", \"b\", \"c\", \"y\"]\nruns = [[0.8, 0.4, 0.2, 9.1], [0.8, 0.4, 0.2, 8.7], [0.1, 1.0, 0.3, 6.2],\n\
    [0.1, 0.1, 1.2, 1.1], [0.1, 0.1, 1.2, 1.4], [0.45, 0.7, 0.25, 8.9], [0.45, 0.25, 0.7, 5.2]]\ntotal_percent = 1.4\ngrid = true\nstarts = 2\n\
    [[part]]\nname = \"a\"\nlow_percent = 0.1\n[[part]]\nname = \"b\"\n[[part]]\nname = \"c\"\nhigh_percent = 1.2\n\
    [[response]]\nname = \"y\"\nwish = \"target\"\nlow = 5\ntarget = 7\nhigh = 9\n[[condition]]\nfactors = [1, -1, 0]\nleast_percent = -0.8\n\
    [[ask]]\nlevels = [0.3, 0.6, 0.5]\nmeasured = [5.9]\n";
const TABLE: &str = "run;a;b;t;check;y\n1;1;0;20;;540\n2;0;1;20;;330\n3;0,5;0,5;40;;610\n4;0,5;0,5;20;;425\n5;0,3333;0,6667;40;;500\n6;0,5;0,5;30;x;430\n7;0,2;0,8;40;;\n";
const CURVE: &str = "equation = \"y = a*exp(-k*t) + sqrt(abs(b))*t^2/(1 + t)\"\nstart = { a = 80, k = 0.1, b = 1 }\nprofile = true\n\
    columns = [\"t\", \"y\"]\nruns = [[0, 100.2], [1, 81.5], [2, 67.4], [4, 45.1], [8, 20.0], [16, 4.2]]\n";
const DESIGN: &str = "total_percent = 1.4\ngoal = \"predictions\"\nruns = 12\nstep_percent = 0.2\nmiddles = 2\nrepeats = 2\nblocks = 2\nstarts = 1\n\
    [[setting]]\nname = \"t\"\nlow = 20\nhigh = 40\n[[keep]]\nlevels = [0.5, 0.5, 0.4, 20]\n\
    [[part]]\nname = \"a\"\nlow_percent = 0.1\nhigh_percent = 0.8\n[[part]]\nname = \"b\"\nhigh_percent = 1.0\n[[part]]\nname = \"c\"\nlow_percent = 0.2\n";

/// A refusal says what and what to do.
fn told(problems: &[Diagnostic]) {
    assert!(!problems.is_empty());
    for problem in problems {
        assert!(
            !(problem.code.is_empty() || problem.what.is_empty() || problem.what_now.is_empty()),
            "{problem:?}"
        );
    }
}

fn asked(text: &str, said: &Said) {
    match analyse(("x", text.as_bytes()), said) {
        Ok(answer) => assert!(serde_json::to_string(&answer).is_ok()),
        Err(problems) => told(&problems),
    }
}

proptest! {
    #[test]
    fn damaged_runs_and_equations_are_answered_or_refused(
        text in damaged([GUMS, TABLE, CURVE].map(str::to_owned).to_vec())
    ) {
        asked(&text, &Said::default());
        asked(&text, &Said { settings: vec!["t".to_owned()], ..Said::default() });
        let equation = Some("y = c0 + c1*t + c2*exp(-t)".to_owned());
        asked(&text, &Said { equation, ..Said::default() });
    }

    #[test]
    fn damaged_designs_are_answered_or_refused(text in damaged(vec![DESIGN.to_owned()])) {
        match design(("x", &text)) {
            Ok(answer) => assert!(serde_json::to_string(&answer).is_ok()),
            Err(problems) => told(&problems),
        }
    }
}
