//! Fifty trials of five formulas told: laid out, foretold, learned from, and what they taught.

use criterion::{Criterion, criterion_group, criterion_main};
use levigate_assess::ph_learning::{Experience, Lesson, Making, Pot, Read, ReadHow};
use levigate_formula::sheet::Sheet;
use levigate_project::formula_file;
use levigate_project::workbench::assess::known;
use std::hint::black_box;

fn sheet(at: usize) -> Option<Sheet> {
    let text = format!(
        "[product]\nname = \"Toner\"\ntype = \"toner\"\nsite = \"face\"\nleave_on = true\nmarkets = [\"eu\"]\n\
         [[phase]]\nname = \"A\"\n[[phase.line]]\nmaterial = \"Water\"\nremainder = true\n\
         [[phase.line]]\nmaterial = \"lactic-acid-90\"\npercent = {}\n\
         [[phase.line]]\nmaterial = \"sodium-hydroxide-10\"\npercent = 3.0\n\
         [[phase.line]]\nmaterial = \"Glycerin\"\npercent = 4\n\
         [[phase.line]]\nmaterial = \"Sodium benzoate\"\npercent = 0.4\n\
         [[phase.line]]\nmaterial = \"citric-acid\"\npercent = 0.{}\n",
        1 + at % 5,
        1 + at % 3
    );
    Some(formula_file::read("toner", &text).ok()?.sheet)
}

fn told(criterion: &mut Criterion) {
    let facts = levigate_facts::shipped().unwrap_or_default();
    let sheets: Vec<Sheet> = (0..50).filter_map(sheet).collect();
    assert_eq!(sheets.len(), 50);
    let Some(convention) = facts.ph_bench.convention.as_ref() else { return };
    let story = || {
        let mut experience = Experience::default();
        for (at, sheet) in sheets.iter().enumerate() {
            let formula = ["a", "b", "c", "d", "e"][at % 5];
            let making = Making { formula, name: formula };
            let Ok(pot) = Pot::of(sheet, &known(&facts), convention, &making, ReadHow::USUAL) else {
                continue;
            };
            let ph = Experience::default().foretell(&pot).map_or(4.0, |one| one.ph) + 0.03;
            let readings = vec![Read { pot, ph }];
            experience.learn(&Lesson { trial: format!("trial {at}"), readings });
        }
        experience.numbers().len()
    };
    assert!(story() > 3, "fifty trials teach something");
    let mut group = criterion.benchmark_group("ph learning");
    group.sample_size(20);
    group.bench_function("50 trials told", |bencher| bencher.iter(|| black_box(story())));
    group.finish();
}

criterion_group!(benches, told);
criterion_main!(benches);
