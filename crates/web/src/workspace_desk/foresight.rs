//! How well trials were foretold, from the pages to the verbs and back, with a figure for each attribute.

use super::WorkspaceDesk;
use super::bench::flow;
use super::folders::id_of;
use super::plates::plate;
use super::troubles::stored;
use crate::desk::{Answer, Plate};
use crate::foresight::{ForesightDesk, ForesightTold};
use async_trait::async_trait;
use levigate_documents::figure::{ForesightFigure, ForesightPoint, Rendition};
use levigate_project::workbench::trials::{AttributeForesight, Foreseen, foresight, gather_bench};

#[async_trait]
impl ForesightDesk for WorkspaceDesk {
    async fn foresight(&self, formula: Option<&str>, untaught: bool) -> Answer<ForesightTold> {
        let only = formula.map(id_of).transpose()?;
        let workspace = &self.inner.workspace;
        if let Some(id) = only {
            // A formula that is not there is said to be missing, one without a trial is not.
            workspace.get(id).await.map_err(|error| stored(&error))?;
        }
        let all = gather_bench(workspace).await.map_err(|error| stored(&error))?;
        let flow = flow(self).await?;
        self.work(move |desk| {
            let mut found = foresight(&desk.shelf.facts(), &all, &flow, only);
            if untaught {
                found = found.untaught();
            }
            let plates = found.attributes.iter().enumerate().map(|(at, one)| drawn(at, one)).collect();
            let formula_id = only.map(|id| id.to_string());
            ForesightTold { foresight: found, plates, formula_id, untaught }
        })
        .await
    }
}

fn drawn(at: usize, attribute: &AttributeForesight) -> Option<Plate> {
    let relative = attribute.error_unit == "%" && attribute.unit != "%";
    let several = attribute.entries.windows(2).any(|pair| pair[0].formula_id != pair[1].formula_id);
    let point = |entry: &Foreseen| {
        let foretold = entry.foretold.as_ref()?;
        let (value, read) = (foretold.value?, entry.read.as_ref()?.value?);
        let far = |end: f64| if relative { 100.0 * (end / value - 1.0) } else { end - value };
        Some(ForesightPoint {
            trial: if several {
                format!("{} {}", entry.formula, entry.trial)
            } else {
                format!("trial {}", entry.trial)
            },
            foretold: value,
            read,
            error: entry.error.as_ref()?.value?,
            band: foretold.low.zip(foretold.high).map(|(low, high)| [far(low), far(high)]),
            running: entry.running.as_ref()?.value?,
        })
    };
    let points: Vec<ForesightPoint> = attribute.entries.iter().filter_map(point).collect();
    if points.is_empty() {
        return None;
    }
    let id = format!("foresight-{at}");
    let figure = ForesightFigure {
        id: id.clone(),
        title: format!("{}: how far readings lay from what was foretold", attribute.name),
        attribute: attribute.name.clone(),
        unit: attribute.unit.clone(),
        error_unit: attribute.error_unit.clone(),
        points,
    };
    let caption = "Each upright bar is the band meant to hold 95 % of such readings, from the trials before; a ring is a reading inside its band, a square one \
                   outside. The broken line is the mean of the last five errors without their sign.";
    Some(plate(&id, figure.title.clone(), caption.to_owned(), figure.svg(Rendition::Screen), figure.table()))
}
