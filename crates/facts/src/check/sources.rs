//! Every source that is cited is defined, and every source that is defined is cited.

use super::{Desk, Finding, Flaw};

pub(super) fn look(desk: &mut Desk<'_>) {
    let facts = desk.facts;
    for (key, place) in &facts.cited {
        if !facts.sources.contains_key(key) {
            desk.findings.push(Finding {
                place: Some(place.clone()),
                table: "source",
                key: key.clone(),
                field: "source".to_owned(),
                flaw: Flaw::UnknownSource { source_key: key.clone() },
            });
        }
    }
    for (key, source) in &facts.sources {
        desk.kebab("source", key);
        if !facts.cited.contains_key(key) {
            desk.report("source", key, "", Flaw::UnusedSource);
        }
        if let Some(year) = source.year {
            desk.within("source", key, "year", f64::from(year), (1850.0, 2100.0), "");
        }
    }
}
