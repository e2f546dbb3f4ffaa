//! A formula whose flow is asked for, with what the trials of a workspace taught about its thickeners.

use crate::answer::Failure;
use crate::arguments::{Common, Where};
use crate::input::{self, FactsUsed, Input};
use crate::numbers;
use crate::paper::{Lean, Paper};
use crate::shelf::{Shelf, Want, block_on, refused};
use crate::verbs::{USUAL_MARKET, day};
use levigate_facts::Facts;
use levigate_formula::names::folded;
use levigate_project::formula_file;
use levigate_project::records::{Formula, Kept};
use levigate_project::workbench::assess::Bench;
use levigate_project::workbench::trials::{FlowBook, TaughtBy, flow_book, formulas_called, gather_bench};
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A formula, the facts that count for it and what a workspace taught.
pub(crate) struct Asking {
    pub(crate) facts: Facts,
    pub(crate) used: FactsUsed,
    pub(crate) input: Input,
    bench: Option<(FlowBook, Option<Kept<Formula>>)>,
}

/// What was learned, and from which trial.
#[derive(Debug, Serialize)]
pub(crate) struct Learned {
    /// The formula of the workspace whose own trials count for it; none where the workspace knows no formula of its name.
    formula: Option<String>,
    /// Lessons about its thickeners, in the order they came.
    taught: Vec<TaughtBy>,
}

impl Asking {
    /// Reads a formula file, or in a workspace the newest version of the formula of a name.
    pub(crate) fn read(
        common: &Common,
        formula: &Path,
        workspace: Option<&PathBuf>,
    ) -> Result<Self, Failure> {
        let Some(folder) = workspace else {
            let (facts, used) = input::facts(&common.facts)?;
            return Ok(Self { facts, used, input: Input::read(formula)?, bench: None });
        };
        block_on(async {
            let place = Where { workspace: Some(folder.clone()) };
            let shelf = Shelf::open(common, &place, Want::Read).await?;
            let (input, own) = if formula.is_file() || formula.as_os_str() == "-" {
                let input = Input::read(formula)?;
                let own = of_its_name(&shelf, &input).await?;
                (input, own)
            } else {
                let own = shelf.formula(&formula.display().to_string()).await?;
                (newest(&shelf, &own).await?, Some(own))
            };
            let all = gather_bench(&shelf.workspace).await.map_err(|error| refused(&error))?;
            let book = flow_book(&shelf.facts, day(None), USUAL_MARKET, &all);
            Ok(Self { facts: shelf.facts, used: shelf.used, input, bench: Some((book, own)) })
        })
    }

    /// What the bench taught, asked for this formula.
    pub(crate) fn with_bench<T>(&self, ask: impl FnOnce(Option<Bench<'_>>) -> T) -> T {
        let Some((book, own)) = &self.bench else { return ask(None) };
        let formula = own.as_ref().map(|own| own.id.to_string()).unwrap_or_default();
        ask(Some(book.for_formula(&formula)))
    }

    /// What was learned from which trial; none without a workspace.
    pub(crate) fn learned(&self) -> Option<Learned> {
        let (book, own) = self.bench.as_ref()?;
        Some(Learned {
            formula: own.as_ref().map(|own| own.what.name.clone()),
            taught: book.taught_about(&self.facts, self.input.pair()),
        })
    }
}

/// The newest version of a formula.
async fn newest(shelf: &Shelf, own: &Kept<Formula>) -> Result<Input, Failure> {
    let heads = shelf.workspace.formulas().await.map_err(|error| refused(&error))?;
    let head = heads.into_iter().find(|head| head.formula.id == own.id).ok_or_else(|| {
        let what = format!("{} has no saved version", own.what.name);
        Failure::bad_option(
            "no-version",
            "FORMULA",
            what,
            "save one in levigate serve, or name a formula file",
        )
    })?;
    let name = format!("{}, version {}", own.what.name, head.newest.number);
    Ok(Input { name, text: head.newest.what.text })
}

/// The one formula of the workspace that has the name of a file's product.
async fn of_its_name(shelf: &Shelf, input: &Input) -> Result<Option<Kept<Formula>>, Failure> {
    let Ok(file) = formula_file::read(&input.name, &input.text) else { return Ok(None) };
    let name = file.sheet.product.name;
    let mut found = formulas_called(&shelf.workspace, &name).await.map_err(|error| refused(&error))?;
    found.retain(|formula| folded(&formula.what.name) == folded(&name));
    Ok(if found.len() == 1 { found.pop() } else { None })
}

/// What was learned, for people.
pub(crate) fn learned(paper: &mut Paper, learned: &Learned) {
    let remark = match &learned.formula {
        Some(name) => format!("from the workspace, where it is {name}"),
        None => "from the workspace, which has no single formula of this name: what was learned of one formula alone is left out"
            .to_owned(),
    };
    paper.heading("Learned", &remark);
    if learned.taught.is_empty() {
        paper.paragraph(2, "No trial and no certificate speaks of its thickeners.");
    }
    for one in &learned.taught {
        paper.paragraph(2, &format!("{}: {}", one.source, one.lesson.words));
        let rows: Vec<Vec<String>> = one
            .lesson
            .moved
            .iter()
            .map(|moved| {
                let number = |of| numbers::result(of, true);
                vec![moved.of.clone(), moved.number.clone(), number(&moved.before), number(&moved.after)]
            })
            .collect();
        if !rows.is_empty() {
            let heads =
                [("of", Lean::Left), ("number", Lean::Left), ("before", Lean::Right), ("after", Lean::Right)];
            paper.columns(&heads, &rows);
        }
    }
}
