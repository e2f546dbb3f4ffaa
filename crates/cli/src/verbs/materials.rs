//! `materials`: raw materials by part of a name, INCI name, CAS number or function.

use crate::answer::{Answer, Failure};
use crate::arguments::{Common, Materials};
use crate::input::{self, FactsUsed};
use crate::paper::{Lean, Look, Paper};
use levigate_facts::Facts;
use levigate_formula::library::{Material, Range};
use levigate_project::workbench::materials::{MaterialSearch, find_materials, form_word};
use serde::Serialize;

#[derive(Serialize)]
struct Found<'a> {
    #[serde(flatten)]
    search: &'a MaterialSearch,
    facts: &'a FactsUsed,
}

/// Finds raw materials.
pub(crate) fn materials(common: &Common, asked: &Materials, look: Look) -> Result<Answer, Failure> {
    let (facts, used) = input::facts(&common.facts)?;
    let search = find_materials(&facts.library, &asked.words.join(" "), asked.most);
    if common.json {
        return Answer::json(&Found { search: &search, facts: &used });
    }
    let mut paper = Paper::new(look);
    if search.materials.is_empty() {
        paper.paragraph(0, &nothing(&search));
    } else if let ([only], 1) = (search.materials.as_slice(), search.found)
        && let Some(material) = facts.library.materials.get(&only.key)
    {
        card(&mut paper, material, &facts);
    } else {
        list(&mut paper, &search);
    }
    if let Some(remark) = used.remark() {
        paper.heading("", &remark);
    }
    Ok(Answer::text(paper.finish()))
}

fn nothing(search: &MaterialSearch) -> String {
    let near = match search.nearest.as_slice() {
        [] => "Try part of an INCI name, a CAS number or a function such as thickener.".to_owned(),
        names => format!("The nearest names: {}.", names.join("; ")),
    };
    format!(
        "No raw material has \"{}\" in its name, INCI names, CAS numbers or functions. {near}",
        search.words
    )
}

fn list(paper: &mut Paper, search: &MaterialSearch) {
    let own = search.materials.iter().any(|hit| hit.layer != "shipped");
    let mut heads = vec![
        ("Raw material", Lean::Left),
        ("INCI", Lean::Left),
        ("CAS", Lean::Left),
        ("Functions", Lean::Left),
    ];
    if own {
        heads.push(("From", Lean::Left));
    }
    let rows: Vec<Vec<String>> = search
        .materials
        .iter()
        .map(|hit| {
            let mut row = vec![
                hit.name.clone(),
                some(&hit.inci, 3),
                hit.cas.first().cloned().unwrap_or_default(),
                some(&hit.functions, 3),
            ];
            if own {
                row.push(if hit.layer == "shipped" { String::new() } else { hit.layer.clone() });
            }
            row
        })
        .collect();
    paper.columns(&heads, &rows);
    let shown = search.materials.len();
    let count = if shown < search.found { format!("{shown} of {}", search.found) } else { shown.to_string() };
    paper.heading("", &format!("{count} raw materials"));
}

/// The first few of a list, and that there are more.
fn some(names: &[String], most: usize) -> String {
    let mut text = names.iter().take(most).map(String::as_str).collect::<Vec<_>>().join(", ");
    if names.len() > most {
        text.push_str(", …");
    }
    text
}

fn card(paper: &mut Paper, material: &Material, facts: &Facts) {
    paper.title(&material.name);
    let layer = match material.layer {
        levigate_formula::library::Layer::Shipped => "shipped",
        levigate_formula::library::Layer::Laboratory => "your own folder",
        levigate_formula::library::Layer::Workspace => "workspace",
        levigate_formula::library::Layer::Formula => "the formula file",
    };
    paper.paragraph(
        0,
        &format!(
            "{}; {}; key {}; record: {layer}",
            material.functions.join(", "),
            form_word(material.form),
            material.key
        ),
    );
    let rows: Vec<Vec<String>> = material
        .constituents
        .iter()
        .map(|part| {
            let substance = facts.library.substances.get(&part.substance);
            vec![
                substance.and_then(|record| record.inci.clone()).unwrap_or_else(|| part.substance.clone()),
                substance.and_then(|record| record.cas.first().cloned()).unwrap_or_default(),
                format!("{}", part.typical),
                format!("{} to {}", part.min, part.max),
            ]
        })
        .collect();
    paper.heading("Consists of", &format!("% w/w; source: {}", material.composition_source));
    paper.columns(
        &[("INCI", Lean::Left), ("CAS", Lean::Left), ("typical", Lean::Right), ("range", Lean::Left)],
        &rows,
    );
    let known = known(material);
    if !known.is_empty() {
        paper.heading("Known", "");
        paper.columns(&[("", Lean::Left), ("", Lean::Left), ("", Lean::Left)], &known);
    }
    for caution in &material.cautions {
        paper.heading("Caution", &format!("{} ({})", caution.text, caution.source));
    }
    for price in &material.prices {
        let note = price.note.as_deref().map(|note| format!("; {note}")).unwrap_or_default();
        paper.heading("Price", &format!("{} {} per kg, {}{note}", price.per_kg, price.currency, price.date));
    }
}

/// What the record knows: name, value, source.
fn known(material: &Material) -> Vec<Vec<String>> {
    let mut rows = Vec::new();
    let mut say = |name: &str, value: String, source: &str| {
        rows.push(vec![name.to_owned(), value, source.to_owned()]);
    };
    let range = |range: &Range| format!("{} to {}", range.low, range.high);
    if let Some(works) = &material.ph_works {
        say("works at pH", range(works), &works.source);
    }
    if let Some(survives) = &material.ph_survives {
        say("survives at pH", range(survives), &survives.source);
    }
    if let Some(heat) = &material.heat_limit_c {
        say("not above", format!("{} °C", heat.value), &heat.source);
    }
    if let Some(level) = &material.use_level_percent {
        say("usual level", format!("{} %", range(level)), &level.source);
    }
    if let Some(density) = &material.density_kg_m3 {
        say("density", format!("{} kg/m³", density.value), &density.source);
    }
    if let Some(flash) = &material.flash_point_c {
        say("flash point", format!("{} °C", flash.value), &flash.source);
    }
    if let Some(index) = &material.natural_origin_index {
        say("natural-origin index", format!("{}", index.value), &index.source);
    }
    for remark in &material.remarks {
        say("remark", remark.value.clone(), &remark.source);
    }
    rows
}
