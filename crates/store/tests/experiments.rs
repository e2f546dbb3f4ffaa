//! Designed experiments in a workspace: planned, begun as trials, read, corrected, answered; against a published mixture (yarn of three
//! fibres, `tests/published/mixtures.toml`).

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use levigate_project::clock::{LoadedDice, SteppingClock};
use levigate_project::records::{Experiment, Formula, FormulaVersion, Id, Kept, Trial};
use levigate_project::workbench::experiments::{
    Asking, ExperimentAnswer, Looking, TypedExperiment, TypedExperimentPart, TypedExperimentRead,
    TypedExperimentSetting, TypedMaking, TypedRunReading, TypedRunReadings, bring_run_readings,
    change_experiment, correct_experiment_reading, experiment_answer, experiment_book, experiment_cards,
    experiment_seen, gather_experiment, give_up_experiment, ground_lines, keep_run_readings,
    look_at_experiment, look_at_run_readings, make_run, plan_experiment, region_seen, typed_experiment,
};
use levigate_project::workbench::keeping::KeepError;
use levigate_project::workspace::{VersionText, Workspace};
use levigate_store::SqliteStore;
use serde::Deserialize;
use std::sync::Arc;

const WHO: &str = "Ines Marrow";
const GEL: &str = include_str!("../../../examples/hand-gel-carbomer.toml");

#[derive(Deserialize)]
struct Published {
    yarn: Yarn,
}

#[derive(Deserialize)]
struct Yarn {
    runs: Vec<[f64; 4]>,
    coefficients: [f64; 6],
}

fn yarn() -> Yarn {
    toml::from_str::<Published>(include_str!("../../../tests/published/mixtures.toml")).unwrap().yarn
}

async fn workspace() -> (Workspace, Id<Formula>) {
    let store = SqliteStore::in_memory().await.unwrap();
    let clock = SteppingClock::new("2026-11-27T08:00:00Z".parse().unwrap(), 1);
    let workspace = Workspace::new(Arc::new(store), Arc::new(clock), Arc::new(LoadedDice::new(7)));
    let text = VersionText {
        text: GEL.to_owned(),
        reason: "first".to_owned(),
        engine_version: "test".to_owned(),
        data_version: "test".to_owned(),
    };
    let head = workspace.create_formula(WHO, "Gel", text).await.unwrap();
    (workspace, head.formula.id)
}

fn part(name: &str, line: Option<usize>, least: &str, most: &str) -> TypedExperimentPart {
    TypedExperimentPart { name: name.to_owned(), line, least: least.to_owned(), most: most.to_owned() }
}

fn read(name: &str, unit: &str) -> TypedExperimentRead {
    TypedExperimentRead { name: name.to_owned(), unit: unit.to_owned(), ..TypedExperimentRead::default() }
}

/// The yarn as it would be planned: three fibres, a quadratic model, as many runs as terms.
fn of_yarn() -> TypedExperiment {
    TypedExperiment {
        name: "Yarn of three fibres".to_owned(),
        parts: ["First", "Second", "Third"].map(|name| part(name, None, "0", "100")).to_vec(),
        runs: "6".to_owned(),
        reads: vec![TypedExperimentRead {
            wish: "larger".to_owned(),
            low: "8".to_owned(),
            target: "20".to_owned(),
            ..read("Elongation", "points")
        }],
        ..TypedExperiment::default()
    }
}

/// Humectants of the gel, with a setting.
fn of_gel(formula: Id<Formula>) -> TypedExperiment {
    let lines = ground_lines(GEL).unwrap();
    let line = |material: &str| lines.iter().find(|line| line.material == material).map(|line| line.line);
    TypedExperiment {
        formula: formula.to_string(),
        version: 1,
        name: "Humectants".to_owned(),
        parts: vec![
            part("", line("Propanediol"), "2", "5,5"),
            part("", line("Ectoin"), "0.3", "2"),
            part("", line("Sodium PCA 50 %"), "0.5", "3"),
        ],
        total_percent: "6,5".to_owned(),
        settings: vec![TypedExperimentSetting {
            name: "Stirring".to_owned(),
            unit: "rpm".to_owned(),
            low: "400".to_owned(),
            high: "900".to_owned(),
        }],
        model: "linear".to_owned(),
        repeats: "2".to_owned(),
        reads: vec![read("Viscosity", "mPa·s"), read("pH", "")],
        ..TypedExperiment::default()
    }
}

fn reading(run: &str, name: &str, value: &str) -> TypedRunReading {
    TypedRunReading {
        run: run.to_owned(),
        read: name.to_owned(),
        value: value.to_owned(),
        ..TypedRunReading::default()
    }
}

async fn enter(workspace: &Workspace, id: Id<Experiment>, values: Vec<TypedRunReading>) {
    keep_run_readings(workspace, WHO, id, &TypedRunReadings { values }).await.unwrap();
}

async fn answered(workspace: &Workspace, id: Id<Experiment>, asking: &Asking) -> ExperimentAnswer {
    experiment_answer(&gather_experiment(workspace, id).await.unwrap(), asking).unwrap()
}

fn faults(error: KeepError) -> Vec<(String, String)> {
    match error {
        KeepError::Typed(faults) => faults.into_iter().map(|one| (one.field, one.what)).collect(),
        KeepError::Store(error) => panic!("{error}"),
    }
}

#[tokio::test]
async fn a_published_mixture_is_planned_read_and_answered_from_end_to_end() {
    let (workspace, _) = workspace().await;
    let typed = of_yarn();
    let look = look_at_experiment(&workspace, &typed).await.unwrap();
    assert_eq!(look.wrong, []);
    assert_eq!((look.terms.unwrap().value, look.advised.unwrap().value), (Some(6.0), Some(9.0)));
    let region = region_seen(&typed, &look.plan.unwrap()).unwrap();
    assert_eq!((region.runs.len(), region.seen.outline.len()), (6, 3));
    let kept = plan_experiment(&workspace, WHO, &typed).await.unwrap().kept;
    // Six runs for six terms over the whole triangle: the {3,2} lattice is the D-optimal plan (Scheffe 1958; Kiefer 1961).
    let yarn = yarn();
    let mut values = Vec::new();
    for run in &kept.what.runs {
        let blend: Vec<f64> =
            run.percent.iter().map(|one| one.to_string().parse::<f64>().unwrap() / 100.0).collect();
        let read: Vec<String> = yarn
            .runs
            .iter()
            .filter(|[a, b, c, _]| {
                [a, b, c].iter().zip(&blend).all(|(one, other)| (*one - other).abs() < 1e-9)
            })
            .map(|[.., value]| value.to_string())
            .collect();
        assert!(!read.is_empty(), "{blend:?} is no blend of the lattice");
        values.push(reading(&run.number.to_string(), "Elongation", &read.join("; ")));
    }
    enter(&workspace, kept.id, values).await;
    let told = answered(&workspace, kept.id, &Asking::default()).await;
    let answer = told.answer.unwrap();
    for (term, published) in answer.responses[0].terms.iter().zip(yarn.coefficients) {
        // Published to one decimal.
        assert!((term.coefficient.value.unwrap() - published).abs() < 0.051, "{term:?}");
    }
    // Across the three: every height by the published polynomial, the runs at their corners and middles.
    let records = gather_experiment(&workspace, kept.id).await.unwrap();
    let polynomial = |x: &[f64]| {
        let b = yarn.coefficients;
        b[0] * x[0] + b[1] * x[1] + b[2] * x[2] + b[3] * x[0] * x[1] + b[4] * x[0] * x[2] + b[5] * x[1] * x[2]
    };
    let seen = experiment_seen(&records, &Looking::default()).unwrap();
    assert_eq!((seen.name.as_str(), seen.runs.len()), ("Elongation", 6));
    assert!(seen.seen.points.len() > 200);
    for point in &seen.seen.points {
        let shares: Vec<f64> = point.levels.iter().map(|level| level / 100.0).collect();
        assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        assert!((point.says[0].0 - polynomial(&shares)).abs() < 0.06, "{point:?}");
    }
    // A line of equal height has that height by the published polynomial.
    let line = seen.seen.mesh.lines(&seen.seen.means[0], 15.0);
    assert!(!line.is_empty());
    for [x, y] in line.iter().flatten() {
        let up = y / 0.866_025_403_784_438_6;
        let right = x - 0.5 * up;
        assert!((polynomial(&[up, 1.0 - up - right, right]) - 15.0).abs() < 0.1, "{x} {y}");
    }
    // The best blend lies between the first and the third fibre; its 17.4 is below the target, so that worth has one top: by hand, that of 11.7 a + 16.4 c + 11.4 a c with a + c = 1 is at
    // a = (11.4 - 4.7)/22.8.
    let best = answer.best.unwrap();
    assert!((best.levels[0].value.value.unwrap() - 100.0 * 6.7 / 22.8).abs() < 0.6, "{:?}", best.levels);
    assert!(best.levels[1].value.value.unwrap() < 0.01);
    let wishes =
        experiment_seen(&records, &Looking { of: "wishes".to_owned(), ..Looking::default() }).unwrap();
    assert!(
        wishes.best.unwrap()[1] > 0.2 && wishes.seen.worths.iter().all(|worth| (0.0..=1.0).contains(worth))
    );
    let refused =
        experiment_seen(&records, &Looking { across: vec!["First".to_owned(); 3], ..Looking::default() });
    assert!(refused.unwrap_err().what.contains("cannot be laid across"));
    // A larger model is refused in words.
    let told =
        answered(&workspace, kept.id, &Asking { model: "full-cubic".to_owned(), ..Asking::default() }).await;
    assert!(
        told.answer.is_none() && told.refused[0].what.contains("6 runs cannot settle 10 terms"),
        "{:?}",
        told.refused
    );
}

#[tokio::test]
async fn a_run_is_begun_as_a_trial_of_a_version_with_exactly_its_percents() {
    let (workspace, formula) = workspace().await;
    let kept: Kept<Experiment> = plan_experiment(&workspace, WHO, &of_gel(formula)).await.unwrap().kept;
    let by = (WHO, "facts");
    let mut versions = std::collections::BTreeSet::new();
    for run in &kept.what.runs {
        let making = TypedMaking { run: Some(run.number), size: "200".to_owned(), ..TypedMaking::default() };
        let batch = make_run(&workspace, by, kept.id, &making).await.unwrap();
        let trial: Kept<Trial> = workspace.get(batch.what.trial.unwrap()).await.unwrap();
        assert_eq!(Some(trial.what.version), batch.what.version);
        assert!(trial.what.process.starts_with("Stirring "), "{}", trial.what.process);
        let version: Kept<FormulaVersion> = workspace.version(formula, trial.what.version).await.unwrap();
        let lines = ground_lines(&version.what.text).unwrap();
        for (part, percent) in kept.what.parts.iter().zip(&run.percent) {
            let line = lines.iter().find(|line| Some(line.line) == part.line).unwrap();
            assert_eq!(line.percent, percent.normalize().to_string());
        }
        assert_eq!(run.percent.iter().sum::<rust_decimal::Decimal>().normalize().to_string(), "6.5");
        versions.insert(trial.what.version);
        let twice = make_run(&workspace, by, kept.id, &making).await.unwrap_err();
        assert!(faults(twice)[0].1.contains("begun already"));
    }
    // Runs of one blend are made from one version.
    let blends: std::collections::BTreeSet<String> =
        kept.what.runs.iter().map(|run| format!("{:?}", run.percent)).collect();
    assert_eq!(versions.len(), blends.len());
    assert!(blends.len() < kept.what.runs.len());
    // A check batch of a blend of its own; percents that do not add up are refused where they stand.
    let check = |percent: [&str; 3]| TypedMaking {
        percent: percent.map(str::to_owned).to_vec(),
        settings: vec!["500".to_owned()],
        ..TypedMaking::default()
    };
    let wrong = make_run(&workspace, by, kept.id, &check(["3", "1", "1"])).await.unwrap_err();
    let wrong = faults(wrong);
    assert_eq!(wrong[0].0, "percent.0");
    assert!(wrong[0].1.contains("not 6.5 %"), "{wrong:?}");
    let batch = make_run(&workspace, by, kept.id, &check(["4", "1", "1,5"])).await.unwrap();
    assert_eq!(batch.what.check, "check 1");
    let book = experiment_book(&gather_experiment(&workspace, kept.id).await.unwrap());
    assert_eq!(book.checks.len(), 1);
    assert!(book.runs.iter().all(|run| run.batch.as_ref().is_some_and(|batch| batch.trial_number > 0)));
    // Now the runs are made: another region is refused, another wish is not.
    let mut changed = typed_experiment(&kept.what);
    changed.parts[0].most = "5".to_owned();
    let error = change_experiment(&workspace, WHO, kept.id, "narrower", &changed).await.unwrap_err();
    assert!(faults(error)[0].1.contains("begun or read"));
    let mut wished = typed_experiment(&kept.what);
    wished.reads[0].wish = "target".to_owned();
    let wish = &mut wished.reads[0];
    (wish.low, wish.target, wish.high) = ("9000".to_owned(), "12000".to_owned(), "15000".to_owned());
    let after = change_experiment(&workspace, WHO, kept.id, "window agreed", &wished).await.unwrap();
    assert_eq!(after.what.runs, kept.what.runs);
}

#[tokio::test]
async fn readings_are_kept_whole_corrected_and_brought_in_from_a_table() {
    let (workspace, formula) = workspace().await;
    let kept = plan_experiment(&workspace, WHO, &of_gel(formula)).await.unwrap().kept;
    let values = vec![
        reading("1", "Viscosity", "11200"),
        reading("2", "pH", "61"),
        reading("99", "pH", "6,1"),
        reading("3", "Colour", "1"),
    ];
    let wrong = keep_run_readings(&workspace, WHO, kept.id, &TypedRunReadings { values }).await.unwrap_err();
    let wrong = faults(wrong);
    assert_eq!(
        wrong.iter().map(|(field, _)| field.as_str()).collect::<Vec<_>>(),
        ["2 | pH", "99 | pH", "3 | Colour"]
    );
    assert_eq!(gather_experiment(&workspace, kept.id).await.unwrap().readings.len(), 0);
    enter(&workspace, kept.id, vec![reading("1", "Viscosity", "11200; 11400"), reading("2", "pH", "6,1")])
        .await;
    let book = experiment_book(&gather_experiment(&workspace, kept.id).await.unwrap());
    assert_eq!(book.runs[0].read[0].as_ref().unwrap().mean.value, Some(11300.0));
    let id = book.readings[0].id.parse().unwrap();
    correct_experiment_reading(&workspace, WHO, id, "misread", Some(&reading("", "", "11800")))
        .await
        .unwrap();
    let records = gather_experiment(&workspace, kept.id).await.unwrap();
    let book = experiment_book(&records);
    assert_eq!(book.runs[0].read[0].as_ref().unwrap().typed, "11800");
    assert!(book.readings[0].struck.is_some() && book.readings.len() == 3);
    // A table: the sheet as it is taken away, with other units and unknown runs refused, then kept whole.
    let wrong = look_at_run_readings(&records, ("t.csv", b"run;Viscosity (Pa s);Smell\n3;12;1\n")).unwrap();
    assert!(!wrong.ready && wrong.wrong.len() == 2, "{wrong:?}");
    let twice =
        look_at_run_readings(&records, ("t.csv", b"run;Viscosity\n3;12000\n3;12100\n77;1\n1;5\n")).unwrap();
    assert_eq!(twice.lines.iter().filter(|line| !line.wrong.is_empty()).count(), 3, "{twice:?}");
    let table = "run,block,Propanediol (%),Viscosity (mPa·s),pH,remark\n3,,4,12000,6.2,thick\n4,,4,,,\n";
    let brought = bring_run_readings(&workspace, WHO, kept.id, ("t.csv", table.as_bytes())).await.unwrap();
    assert_eq!(brought.len(), 2);
    let told = answered(&workspace, kept.id, &Asking::default()).await;
    assert!(told.answer.is_none() && told.refused.len() == 2, "{told:?}");
    give_up_experiment(&workspace, WHO, kept.id, "the client went another way").await.unwrap();
    let values = vec![reading("5", "pH", "6")];
    assert!(keep_run_readings(&workspace, WHO, kept.id, &TypedRunReadings { values }).await.is_err());
    assert_eq!(experiment_cards(&workspace).await.unwrap()[0].stands, "given up");
}

#[tokio::test]
async fn a_plan_that_cannot_be_is_told_field_by_field() {
    let (workspace, formula) = workspace().await;
    let mut typed = of_gel(formula);
    typed.name.clear();
    typed.parts[0].least = "two".to_owned();
    typed.parts[1].most = "0,1".to_owned();
    typed.settings[0].high = "400".to_owned();
    typed.reads[0].unit.clear();
    typed.reads[1].wish = "larger".to_owned();
    let wrong = faults(plan_experiment(&workspace, WHO, &typed).await.unwrap_err());
    let fields: Vec<&str> = wrong.iter().map(|(field, _)| field.as_str()).collect();
    assert_eq!(
        fields,
        [
            "name",
            "parts.0.least",
            "parts.1.most",
            "settings.0.high",
            "reads.0.unit",
            "reads.1.low",
            "reads.1.target"
        ]
    );
    // No room: told as what the region lacks, while it is typed too.
    let mut typed = of_gel(formula);
    typed.total_percent = "50".to_owned();
    let look = look_at_experiment(&workspace, &typed).await.unwrap();
    assert!(look.plan.is_none() && look.wrong[0].what.contains("no blend keeps"), "{:?}", look.wrong);
    // One part of a line that takes up the rest, and one that follows from the pH.
    let lines = ground_lines(GEL).unwrap();
    assert!(lines.iter().any(|line| line.rest) && !lines.iter().any(|line| line.material == "Tromethamine"));
    let mut typed = of_gel(formula);
    typed.parts[0].line = Some(6);
    let wrong = faults(plan_experiment(&workspace, WHO, &typed).await.unwrap_err());
    assert!(wrong[0].1.contains("follows from the pH"), "{wrong:?}");
}

/// A law without scatter: what is seen must be that law, wherever it is looked at.
#[tokio::test]
async fn what_is_seen_is_the_law_behind_the_readings() {
    let (workspace, formula) = workspace().await;
    let kept = plan_experiment(&workspace, WHO, &of_gel(formula)).await.unwrap().kept;
    let law = |levels: &[f64]| 900.0 * levels[0] + 250.0 * levels[1] - 400.0 * levels[2] + 3.0 * levels[3];
    let float = |one: &rust_decimal::Decimal| one.to_string().parse::<f64>().unwrap();
    let values = kept.what.runs.iter().map(|run| {
        let levels: Vec<f64> = run.percent.iter().chain(&run.settings).map(float).collect();
        reading(&run.number.to_string(), "Viscosity", &format!("{:.6}", law(&levels)))
    });
    enter(&workspace, kept.id, values.collect()).await;
    let records = gather_experiment(&workspace, kept.id).await.unwrap();
    let look = |of: &str, across: &[&str], held: &[(&str, &str)]| {
        let own = |text: &&str| (*text).to_owned();
        let looking = Looking {
            of: of.to_owned(),
            across: across.iter().map(own).collect(),
            held: held.iter().map(|(name, level)| ((*name).to_owned(), (*level).to_owned())).collect(),
            model: String::new(),
        };
        experiment_seen(&records, &looking)
    };
    let seen = look("Viscosity", &[], &[("Stirring", "500")]).unwrap();
    assert_eq!(seen.seen.held, [(3, 500.0)]);
    for point in &seen.seen.points {
        assert!(
            (point.levels[3] - 500.0).abs() < 1e-9
                && (point.levels[..3].iter().sum::<f64>() - 6.5).abs() < 1e-9
        );
        assert!((2.0 - 1e-9..=5.5 + 1e-9).contains(&point.levels[0]) && point.levels[1] <= 2.0 + 1e-9);
        assert!((point.says[0].0 - law(&point.levels)).abs() < 1e-3, "{point:?}");
    }
    // No run was stirred at 500; those at the ends lie off this cut, and on their own.
    assert!(seen.runs.is_empty());
    let at_end = look("Viscosity", &[], &[("Stirring", "900")]).unwrap();
    assert!(!at_end.runs.is_empty() && at_end.runs.len() < kept.what.runs.len());
    assert!(at_end.runs.iter().all(|run| run.value.is_some()));
    // A setting alone is a line through the middle of the region.
    let line = look("Viscosity", &["Stirring"], &[]).unwrap();
    assert!(line.seen.mesh.triangles.is_empty());
    let ends = [line.seen.points[0].levels[3], line.seen.points.last().unwrap().levels[3]];
    assert_eq!(ends, [400.0, 900.0]);
    for point in &line.seen.points {
        assert!((point.says[0].0 - law(&point.levels)).abs() < 1e-3);
    }
    // What cannot be seen is told.
    let outside = look("Viscosity", &[], &[("Stirring", "2000")]).unwrap_err();
    assert!(outside.what.contains("outside its 400 to 900"), "{outside:?}");
    assert!(
        look("Viscosity", &["Stirring", "Propanediol"], &[])
            .unwrap_err()
            .what
            .contains("cannot be laid across")
    );
    assert!(look("pH", &[], &[]).unwrap_err().what.contains("no run is read"));
    assert!(look("wishes", &[], &[]).unwrap_err().what.contains("nothing is wished"));
}
