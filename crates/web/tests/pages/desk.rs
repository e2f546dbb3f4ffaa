//! The desk over a workspace, from the fields of the page down to the records and back.

use crate::memory::MemoryStore;
use jiff::civil::date;
use levigate_project::clock::{LoadedDice, SteppingClock};
use levigate_project::facts::shipped;
use levigate_project::workspace::Workspace;
use levigate_web::desk::{
    AmountKind, BatchRequest, Desk, Draft, DraftLine, DraftOutcome, FieldRemark, Judgement, KeepDraft, Look,
    Looking, OwnConstituent, OwnMaterial, SaveOutcome, SaveVersion,
};
use levigate_web::trouble::Kind;
use levigate_web::{DeskSetup, WorkspaceDesk};
use std::sync::Arc;

const TONER: &str = include_str!("../../../../examples/night-toner-mandelic.toml");
const GEL: &str = include_str!("../../../../examples/hand-gel-carbomer.toml");
const CLEAR_GEL: &str = include_str!("../../../../examples/scenarios/5-hypromellose-clear-gel.toml");
const SERUM: &str = include_str!("../../../../examples/zinc-balancing-serum.toml");

pub(crate) fn workspace() -> Workspace {
    let clock = SteppingClock::new("2026-11-24T09:00:00Z".parse().unwrap(), 1000);
    Workspace::new(Arc::new(MemoryStore::default()), Arc::new(clock), Arc::new(LoadedDice::new(7)))
}

pub(crate) async fn desk_at(workspace: Workspace) -> WorkspaceDesk {
    let setup = DeskSetup {
        studio: "Test bench".to_owned(),
        person: "Ines".to_owned(),
        sample: false,
        market: "eu".to_owned(),
        day: std::sync::Arc::new(|| date(2026, 11, 24)),
    };
    WorkspaceDesk::open(workspace, shipped().unwrap(), setup).await.unwrap()
}

async fn desk() -> WorkspaceDesk {
    desk_at(workspace()).await
}

fn line<'d>(draft: &'d mut Draft, material: &str) -> &'d mut DraftLine {
    let mut lines = draft.phases.iter_mut().flat_map(|phase| &mut phase.lines);
    lines.find(|line| line.material == material).unwrap()
}

fn ph(judgement: &Judgement) -> f64 {
    judgement.assessment.as_ref().unwrap()["ph"]["neat"]["value"].as_f64().unwrap()
}

fn remark<'j>(judgement: &'j Judgement, line: &DraftLine, field: &str) -> &'j FieldRemark {
    let found = judgement
        .remarks
        .iter()
        .find(|remark| remark.line_id.as_deref() == Some(&line.id) && remark.field == field);
    found.unwrap_or_else(|| panic!("no remark on {field} in {:?}", judgement.remarks))
}

#[tokio::test]
async fn an_edit_is_assessed_and_weighed_to_the_batch() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    assert!(judged.remarks.is_empty(), "{:?}", judged.remarks);
    assert!((ph(&judged) - 3.8).abs() < 1e-6);
    assert_eq!(judged.line_ids.len(), 9);
    line(&mut draft, "Sodium hydroxide 20 %").amount = "4,4".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    assert!((ph(&judged) - 4.4).abs() < 1e-6);
    let grams: Vec<f64> = judged.weighing.iter().map(|line| line.grams.parse().unwrap()).collect();
    assert_eq!(grams.len(), judged.line_ids.len());
    assert!((grams.iter().sum::<f64>() - 200.0).abs() < 1e-9, "{grams:?}");
    assert!(
        judged
            .weighing
            .iter()
            .all(|line| line.grams.split_once('.').is_some_and(|(_, after)| after.len() == 2))
    );
    let assessment = judged.assessment.as_ref().unwrap();
    // The constants of an equilibrium, the rules and the pH windows each name where they come from.
    assert!(judged.sources.len() >= 3, "{:?}", judged.sources);
    assert!(judged.sources.values().all(|words| words.len() > 10));
    let window =
        assessment["windows"]["windows"].as_array().unwrap().iter().find_map(|one| one["source"].as_str());
    assert!(judged.sources.contains_key(window.unwrap()));
}

#[tokio::test]
async fn the_new_sheet_is_not_wrong() {
    let judged = desk().await.assess_draft("", &Draft::default()).await.unwrap();
    assert!(judged.remarks.is_empty() && judged.assessment.is_none());
}

#[tokio::test]
async fn what_cannot_be_read_is_told_beside_its_field() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    line(&mut draft, "Betaine").amount = "three".to_owned();
    line(&mut draft, "Xanthan gum").material = "Xantan gum".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    assert!(judged.assessment.is_none());
    let wrong = remark(&judged, line(&mut draft, "Betaine"), "amount");
    assert!(!wrong.what.is_empty() && !wrong.what_now.is_empty());
    let unknown = remark(&judged, line(&mut draft, "Xantan gum"), "material");
    assert!(
        unknown.offers.iter().any(|name| name.to_lowercase().contains("xanthan")),
        "{:?}",
        unknown.offers
    );
}

#[tokio::test]
async fn what_does_not_settle_is_told_on_the_line_it_is_about() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    line(&mut draft, "Betaine").amount = "99".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    remark(&judged, line(&mut draft, "Water"), "kind");
    line(&mut draft, "Betaine").amount = "3".to_owned();
    line(&mut draft, "Water").kind = AmountKind::Percent;
    line(&mut draft, "Water").amount = "80".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    let whole = judged.remarks.iter().find(|remark| remark.field == "sheet").unwrap();
    assert!(whole.line_id.is_none() && whole.what_now.contains("q.s."), "{whole:?}");
}

#[tokio::test]
async fn a_ph_that_cannot_be_reached_names_the_nearest() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    // The base moves away from an acid aim.
    line(&mut draft, "Sodium hydroxide 20 %").amount = "1.2".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    assert!(judged.assessment.is_none());
    let wrong = remark(&judged, line(&mut draft, "Sodium hydroxide 20 %"), "amount");
    assert!(wrong.what.contains("nearest is pH"), "{wrong:?}");
    assert!(!wrong.why.is_empty() && !wrong.what_now.is_empty());
}

#[tokio::test]
async fn a_batch_off_the_balance_is_assessed_but_not_weighed() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    draft.bench.size_g = "33.333".to_owned();
    let judged = desk.assess_draft("", &draft).await.unwrap();
    assert!(judged.assessment.is_some() && judged.weighing.is_empty());
    assert_eq!(judged.remarks[0].field, "bench.size_g");
    assert!(judged.remarks[0].what.contains("33.33"), "{:?}", judged.remarks);
}

#[tokio::test]
async fn every_example_goes_through_the_fields_and_back_unchanged() {
    let desk = desk().await;
    for text in [TONER, GEL, SERUM] {
        let draft = desk.import_toml(text).await.unwrap();
        let written = desk.formula_as_toml(&draft).await.unwrap();
        let again = desk.import_toml(&written).await.unwrap();
        assert_eq!(draft, again);
        assert!(desk.assess_draft("", &draft).await.unwrap().assessment.is_some());
    }
}

#[tokio::test]
async fn versions_are_saved_and_a_second_save_on_the_same_base_is_a_conflict() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let begun = desk.new_formula(&draft, "first sheet").await.unwrap();
    assert_eq!(begun.version, 1);
    let kept = KeepDraft { draft: draft.clone(), base: 1, after: None };
    line(&mut draft, "Sodium benzoate").amount = "0.40".to_owned();
    desk.keep_draft(&begun.id, &KeepDraft { draft: draft.clone(), ..kept }).await.unwrap();
    let open = desk.formula(&begun.id).await.unwrap();
    assert_eq!(open.kept.unwrap().draft, draft);
    assert!(desk.formulas().await.unwrap()[0].draft);

    let save = SaveVersion { draft: draft.clone(), reason: "more benzoate".to_owned(), base: 1 };
    let SaveOutcome::Saved(saved) = desk.save_version(&begun.id, &save).await.unwrap() else {
        panic!("the first save goes through")
    };
    assert_eq!(saved.version, 2);
    assert!(desk.formula(&begun.id).await.unwrap().kept.is_none(), "a saved draft is done with");
    let late = SaveVersion { reason: "from another window".to_owned(), ..save };
    let SaveOutcome::Conflict { newest } = desk.save_version(&begun.id, &late).await.unwrap() else {
        panic!("the base has moved")
    };
    assert_eq!((newest.version, newest.reason.as_str(), newest.who.as_str()), (2, "more benzoate", "Ines"));
    let versions = desk.versions(&begun.id).await.unwrap();
    assert_eq!(versions.iter().map(|card| card.version).collect::<Vec<_>>(), [2, 1]);
    assert_ne!(versions[0].code, versions[1].code);
    assert_eq!(desk.version(&begun.id, 2).await.unwrap(), desk.formula(&begun.id).await.unwrap().draft);
}

#[tokio::test]
async fn a_draft_another_tab_kept_is_told_and_not_written_over() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let id = desk.new_formula(&draft, "first sheet").await.unwrap().id;
    let keep = |draft: &Draft, after: Option<&str>| KeepDraft {
        draft: draft.clone(),
        base: 1,
        after: after.map(str::to_owned),
    };
    line(&mut draft, "Betaine").amount = "4".to_owned();
    let first = desk.keep_draft(&id, &keep(&draft, Some(""))).await.unwrap();
    let DraftOutcome::Kept { kept_at } = first else { panic!("{first:?}") };
    // The same tab goes on; then a tab that was opened before any of it.
    line(&mut draft, "Betaine").amount = "4.5".to_owned();
    let second = desk.keep_draft(&id, &keep(&draft, Some(&kept_at))).await.unwrap();
    let DraftOutcome::Kept { kept_at } = second else { panic!("{second:?}") };
    let mut other = draft.clone();
    line(&mut other, "Betaine").amount = "2".to_owned();
    let told = desk.keep_draft(&id, &keep(&other, Some(""))).await.unwrap();
    assert_eq!(told, DraftOutcome::Elsewhere { kept_at: kept_at.clone() });
    assert_eq!(desk.formula(&id).await.unwrap().kept.unwrap().draft, draft, "nothing was written over");
    // The same content from two tabs is no conflict; and a person may decide for theirs.
    assert!(matches!(
        desk.keep_draft(&id, &keep(&draft, Some(""))).await.unwrap(),
        DraftOutcome::Kept { .. }
    ));
    desk.keep_draft(&id, &keep(&other, None)).await.unwrap();
    assert_eq!(desk.formula(&id).await.unwrap().kept.unwrap().draft, other);
}

#[tokio::test]
async fn half_a_number_is_kept_as_it_stands_but_not_saved() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let id = desk.new_formula(&draft, "first").await.unwrap().id;
    line(&mut draft, "Betaine").amount = "3..".to_owned();
    let kept = KeepDraft { draft: draft.clone(), base: 1, after: None };
    desk.keep_draft(&id, &kept).await.unwrap();
    let found = desk.formula(&id).await.unwrap().kept.unwrap();
    assert_eq!(found.draft, draft);
    assert!(!found.kept_at.is_empty());
    let save = SaveVersion { draft, reason: "too early".to_owned(), base: 1 };
    let refused = desk.save_version(&id, &save).await.unwrap_err();
    assert_eq!(refused.kind, Kind::BadInput);
    assert_eq!(refused.place.unwrap().field.as_deref(), Some("amount"));
    desk.drop_draft(&id).await.unwrap();
    assert!(desk.formula(&id).await.unwrap().kept.is_none());
}

/// The value of a result as it is sent.
fn number(outcome: &impl serde::Serialize) -> f64 {
    serde_json::to_value(outcome).unwrap()["value"].as_f64().unwrap()
}

#[tokio::test]
async fn two_versions_side_by_side() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let id = desk.new_formula(&draft, "first").await.unwrap().id;
    line(&mut draft, "Sodium hydroxide 20 %").amount = "4.6".to_owned();
    let save = SaveVersion { draft, reason: "milder".to_owned(), base: 1 };
    desk.save_version(&id, &save).await.unwrap();
    let found = desk.difference(&id, 1, 2).await.unwrap();
    assert_eq!((found.left.version, found.right.version), (1, 2));
    let found = found.found;
    let changed: Vec<_> = found.lines.iter().filter(|line| line.change.word() != "same").collect();
    assert_eq!(changed.len(), 1);
    assert_eq!((changed[0].left.as_str(), changed[0].right.as_str()), ("q.s. to pH 3.8", "q.s. to pH 4.6"));
    assert!(number(&changed[0].left_percent) < number(&changed[0].right_percent));
    let ph = found.consequences.iter().find(|one| one.name == "pH").unwrap();
    assert!((number(&ph.right) - number(&ph.left) - 0.8).abs() < 1e-6);
    // The brief asks for pH 3.6 to 4.0.
    assert!(!found.findings_new.is_empty());
    assert_eq!(desk.difference(&id, 1, 9).await.unwrap_err().kind, Kind::NotFound);
}

fn own_lye() -> OwnMaterial {
    let part = |substance: &str, typical: &str| OwnConstituent {
        substance: substance.to_owned(),
        typical: typical.to_owned(),
        ..OwnConstituent::default()
    };
    OwnMaterial {
        name: "Lye of our own, 12 %".to_owned(),
        form: "solution".to_owned(),
        functions: "base".to_owned(),
        constituents: vec![part("Sodium Hydroxide", "12"), part("Water", "88")],
        active: "Sodium hydroxide".to_owned(),
        balance: "Water".to_owned(),
        composition_source: "certificate of the maker".to_owned(),
        price_per_kg: "0.60".to_owned(),
        currency: "EUR".to_owned(),
        ..OwnMaterial::default()
    }
}

#[tokio::test]
async fn an_own_material_is_kept_found_used_and_still_there_tomorrow() {
    let workspace = workspace();
    let desk = desk_at(workspace.clone()).await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let before = desk.assess_draft("", &draft).await.unwrap();
    line(&mut draft, "Sodium hydroxide 20 %").material = "Lye of our own, 12 %".to_owned();
    assert!(!desk.assess_draft("", &draft).await.unwrap().remarks.is_empty(), "nobody knows it yet");
    let card = desk.save_material(&own_lye()).await.unwrap();
    assert!(card.own && card.hit.layer == "workspace");
    assert!(card.sources.values().any(|words| words.contains("certificate of the maker")));
    assert_eq!(desk.search_materials("lye of our own", 5).await.unwrap()[0].key, card.hit.key);
    let after = desk.assess_draft("", &draft).await.unwrap();
    assert!((ph(&after) - 3.8).abs() < 1e-6);
    let amount = |judged: &Judgement| {
        judged.assessment.as_ref().unwrap()["adjusters"][0]["percent"]["value"].as_f64().unwrap()
    };
    // 12 % against 20 %: five thirds of the amount, less what the water it brings dilutes.
    let ratio = amount(&after) / amount(&before);
    assert!((ratio - 20.0 / 12.0).abs() < 0.02, "{ratio}");
    let id = desk.new_formula(&draft, "with our own lye").await.unwrap().id;
    assert_eq!(desk.material(&card.hit.key).await.unwrap().used_in, [(id, draft.product.name.clone())]);
    let tomorrow = desk_at(workspace).await;
    assert!((ph(&tomorrow.assess_draft("", &draft).await.unwrap()) - 3.8).abs() < 1e-6);
}

#[tokio::test]
async fn an_own_material_that_is_no_fact_is_refused_and_nothing_changes() {
    let desk = desk().await;
    let wrong = OwnMaterial { constituents: vec![], ..own_lye() };
    let refused = desk.save_material(&wrong).await.unwrap_err();
    assert_eq!(refused.place.unwrap().field.as_deref(), Some("constituents"));
    let all = desk.search_materials("", 500).await.unwrap();
    assert!(!all.is_empty() && all.iter().all(|hit| hit.layer == "shipped"));
}

#[tokio::test]
async fn a_shipped_material_is_laid_over_and_never_changed() {
    let desk = desk().await;
    let shipped_card = desk.material("betaine").await.unwrap();
    assert!(!shipped_card.own);
    let own = OwnMaterial {
        key: "betaine".to_owned(),
        name: shipped_card.hit.name.clone(),
        form: shipped_card.hit.form.clone(),
        functions: shipped_card.hit.functions.join(", "),
        constituents: shipped_card.record["constituents"]
            .as_array()
            .unwrap()
            .iter()
            .map(|part| OwnConstituent {
                substance: part["substance"].as_str().unwrap().to_owned(),
                min: part["min"].to_string(),
                typical: part["typical"].to_string(),
                max: part["max"].to_string(),
            })
            .collect(),
        composition_source: shipped_card.record["composition_source"].as_str().unwrap().to_owned(),
        price_per_kg: "5.40".to_owned(),
        currency: "EUR".to_owned(),
        ..OwnMaterial::default()
    };
    let card = desk.save_material(&own).await.unwrap();
    assert_eq!((card.hit.key.as_str(), card.hit.layer.as_str()), ("betaine", "workspace"));
    assert_eq!(card.record["prices"][0]["per_kg"], "5.40");
    assert_eq!(card.record["constituents"], shipped_card.record["constituents"]);
}

#[tokio::test]
async fn an_import_error_names_line_and_column() {
    let desk = desk().await;
    let text = TONER.replace("percent = 3.00", "percent = \"3.00\"");
    let at = 1 + text.lines().position(|line| line.contains("\"3.00\"")).unwrap();
    let refused = desk.import_toml(&text).await.unwrap_err();
    let place = refused.place.unwrap();
    assert_eq!((refused.kind, place.line), (Kind::BadInput, Some(at)));
    assert!(place.column.is_some_and(|column| column > 1) && place.field.is_some());
    assert!(!refused.what.is_empty() && !refused.why.is_empty() && !refused.what_now.is_empty());
}

const BROUGHT: &str = r#"
[[material]]
key = "house-lye"
name = "House lye"
functions = ["base"]
form = "solution"
composition_source = "common-practice"
active = "sodium-hydroxide"
balance = "water"
constituents = [
  { substance = "sodium-hydroxide", min = 9.5, typical = 10.0, max = 10.5 },
  { substance = "water", min = 89.5, typical = 90.0, max = 90.5 },
]

[[price]]
material = "house-lye"
per_kg = "0.45"
currency = "EUR"
date = "2026-10-01"
"#;

#[tokio::test]
async fn facts_a_formula_brings_survive_opening_editing_and_saving() {
    let desk = desk().await;
    let text = format!("{}\n{BROUGHT}", TONER.replace("Sodium hydroxide 20 %", "House lye"));
    let mut draft = desk.import_toml(&text).await.unwrap();
    assert!(draft.own_facts.contains("house-lye"));
    assert!((ph(&desk.assess_draft("", &draft).await.unwrap()) - 3.8).abs() < 1e-6);
    let id = desk.new_formula(&draft, "from a colleague").await.unwrap().id;
    line(&mut draft, "Betaine").amount = "2.5".to_owned();
    desk.save_version(&id, &SaveVersion { draft, reason: "less".to_owned(), base: 1 }).await.unwrap();
    let opened = desk.formula(&id).await.unwrap().draft;
    assert_eq!(line(&mut opened.clone(), "Betaine").amount, "2.5");
    assert!((ph(&desk.assess_draft("", &opened).await.unwrap()) - 3.8).abs() < 1e-6);
    assert!(desk.formula_as_toml(&opened).await.unwrap().contains("[[price]]"));
    assert!(desk.search_materials("house lye", 5).await.unwrap().iter().all(|hit| hit.key != "house-lye"));
    let broken = Draft { own_facts: "[[material]]\nkey = 1\n".to_owned(), ..opened };
    let judged = desk.assess_draft("", &broken).await.unwrap();
    assert_eq!(judged.remarks[0].field, "own_facts");
}

#[tokio::test]
async fn the_list_says_the_gravest_thing_and_the_ph_and_puts_the_last_touched_first() {
    let desk = desk().await;
    let toner = desk.import_toml(TONER).await.unwrap();
    let gel = desk.import_toml(GEL).await.unwrap();
    let first = desk.new_formula(&toner, "first").await.unwrap().id;
    desk.new_formula(&gel, "second").await.unwrap();
    let cards = desk.formulas().await.unwrap();
    assert_eq!(
        (cards[0].name.as_str(), cards[1].name.as_str()),
        (gel.product.name.as_str(), toner.product.name.as_str())
    );
    assert_eq!((cards[1].ph.as_str(), cards[1].lines, cards[1].kind.as_str()), ("3.8", 9, "face toner"));
    assert!(!cards[1].first.is_empty() && !cards[1].gravity.is_empty());
    let kept = KeepDraft { draft: toner, base: 1, after: None };
    desk.keep_draft(&first, &kept).await.unwrap();
    assert_eq!(desk.formulas().await.unwrap()[0].id, first);
    assert_eq!(desk.formula("no-such").await.unwrap_err().kind, Kind::NotFound);
}

#[tokio::test]
async fn the_batch_sheet_adds_up_for_any_size_and_warns_where_the_risk_is() {
    let desk = desk().await;
    let draft = desk.import_toml(TONER).await.unwrap();
    let id = desk.new_formula(&draft, "first").await.unwrap().id;
    let request = BatchRequest {
        id: id.clone(),
        size_g: "750".to_owned(),
        balance_g: "0,1".to_owned(),
        ..BatchRequest::default()
    };
    let sheet = desk.batch_sheet(&request).await.unwrap();
    let lines: Vec<_> = sheet.phases.iter().flat_map(|phase| &phase.lines).collect();
    let total: f64 = lines.iter().map(|line| line.grams.parse::<f64>().unwrap()).sum();
    assert!((total - 750.0).abs() < 1e-9);
    assert_eq!((lines.len(), sheet.version.as_str()), (9, "version 1"));
    assert_eq!(sheet.code, desk.versions(&id).await.unwrap()[0].code);
    let lye =
        sheet.phases.iter().find(|phase| phase.lines.iter().any(|line| line.material.contains("hydroxide")));
    assert!(!lye.unwrap().cautions.is_empty(), "lye is cautioned about in its phase");
    assert!(sheet.checks[0].contains("3.6 to 4"), "{:?}", sheet.checks);
    let wrong = BatchRequest { size_g: "-1".to_owned(), ..request.clone() };
    assert_eq!(desk.batch_sheet(&wrong).await.unwrap_err().place.unwrap().field.as_deref(), Some("size"));
    let off = BatchRequest { size_g: "33.33".to_owned(), ..request };
    assert_eq!(desk.batch_sheet(&off).await.unwrap_err().kind, Kind::BadInput);
}

#[tokio::test]
async fn figures_have_a_plot_and_the_numbers_beside_it() {
    let desk = desk().await;
    let mut draft = desk.import_toml(TONER).await.unwrap();
    let plates = desk.figures(&draft, &Looking::default()).await.unwrap();
    let ids: Vec<&str> = plates.iter().map(|plate| plate.id.as_str()).collect();
    assert_eq!(ids[..3], ["windows", "titration", "working-share"]);
    for plate in &plates {
        assert!(
            plate.svg.contains("class=\"plot\"") && !plate.table.rows.is_empty() && !plate.caption.is_empty()
        );
    }
    line(&mut draft, "Betaine").amount = "x".to_owned();
    assert!(desk.figures(&draft, &Looking::default()).await.unwrap().is_empty());
}

#[tokio::test]
async fn the_level_of_a_thickener_is_found_for_its_line() {
    let desk = desk().await;
    let mut draft = desk.import_toml(CLEAR_GEL).await.unwrap();
    let gum = line(&mut draft, "Hydroxypropyl methylcellulose, surface-treated").id.clone();
    let water = line(&mut draft, "Water").id.clone();
    let level = desk.level("", &draft, &gum, 6000.0).await.unwrap().unwrap();
    assert!(level.found.level.value.is_some() && level.found.ladder.len() == 3);
    let refused = desk.level("", &draft, &water, 6000.0).await.unwrap().unwrap();
    assert!(refused.found.level.refused.is_some());
    for (id, mpa_s) in [("nobody", 6000.0), (gum.as_str(), f64::NAN), (gum.as_str(), -1.0)] {
        assert!(desk.level("", &draft, id, mpa_s).await.unwrap().is_none());
    }
}

#[tokio::test]
async fn the_flow_curve_is_looked_at_in_part_and_its_table_stays_whole() {
    let desk = desk().await;
    let draft = desk.import_toml(CLEAR_GEL).await.unwrap();
    let mut looking = Looking { only: "flow".to_owned(), ..Looking::default() };
    let [whole] = desk.figures(&draft, &looking).await.unwrap().try_into().unwrap();
    assert!(whole.zooms && whole.chosen == "viscosity" && whole.choices.len() == 2);
    assert!(whole.svg.contains("brief: 5000 to 7000 mPa\u{b7}s"), "the window of the brief");
    assert!(whole.svg.contains("pouring"), "the life of the product");
    let part = Look { upright: "stress".to_owned(), across: Some([1.0, 100.0]) };
    looking.looks.insert("flow".to_owned(), part);
    let [closer] = desk.figures(&draft, &looking).await.unwrap().try_into().unwrap();
    assert!(closer.svg.contains("data-x-low=\"1\" data-x-high=\"100\""));
    assert_eq!((closer.chosen.as_str(), closer.table.rows.len()), ("stress", whole.table.rows.len()));
    // A range no axis can show shows something all the same.
    let nowhere = Look { across: Some([f64::NAN, -1.0]), ..Look::default() };
    looking.looks.insert("flow".to_owned(), nowhere);
    assert_eq!(desk.figures(&draft, &looking).await.unwrap().len(), 1);
}

#[tokio::test]
async fn a_draft_is_made_step_by_step_and_its_own_steps_are_held_against_the_rules() {
    let desk = desk().await;
    let mut draft = desk.import_toml(CLEAR_GEL).await.unwrap();
    let made = desk.made("", &draft).await.unwrap().unwrap();
    assert!(!made.procedure.written && made.procedure.broken.is_empty());
    assert_eq!(made.fields.len(), made.procedure.steps.len());
    assert!(made.sources.contains_key("makers-hpmc") && made.ways.iter().any(|way| way.key == "vortex"));

    // Taken over as they are, the steps are the person's and break nothing; they come back from the file they are written to.
    draft.steps = made.fields.clone();
    let own = desk.made("", &draft).await.unwrap().unwrap();
    assert!(own.procedure.written);
    assert!(own.procedure.steps.iter().all(|step| step.broken.is_empty()));
    let again = desk.import_toml(&desk.formula_as_toml(&draft).await.unwrap()).await.unwrap();
    assert_eq!(again.steps.len(), draft.steps.len());

    // The acid before the gum has swollen is told, and a line that is gone is in no step any more.
    let acid = draft.steps.iter().position(|step| step.lines.len() > 2).unwrap();
    let moved = draft.steps.remove(acid);
    draft.steps.insert(0, moved);
    let gum = line(&mut draft, "Hydroxypropyl methylcellulose, surface-treated").id.clone();
    let wrong = desk.made("", &draft).await.unwrap().unwrap();
    let told = |made: &levigate_web::desk::Made, rule: &str| {
        made.procedure.steps.iter().flat_map(|step| &step.broken).any(|one| one.rule == rule)
    };
    assert!(told(&wrong, "gum-before-acid"));
    for phase in &mut draft.phases {
        phase.lines.retain(|line| line.id != gum);
    }
    let without = desk.made("", &draft).await.unwrap().unwrap();
    assert!(!told(&without, "gum-before-acid"));
    draft.steps[0].temperature_high = "hot".to_owned();
    assert!(desk.made("", &draft).await.unwrap().is_none());
    assert!(desk.assess_draft("", &draft).await.unwrap().remarks[0].field.starts_with("steps.1"));
}
