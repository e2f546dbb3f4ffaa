//! What every store must do, told through the trait alone: a new database passes this suite or it is not a store.

pub(crate) mod batches;
mod corrections;
mod drafts;
mod formulas;
mod people;
mod whole;

use std::sync::Arc;

use levigate_project::clock::{LoadedDice, SteppingClock};
use levigate_project::records::{Formula, FromDevice, Id, Method, Reading, Trial, TypedNumber};
use levigate_project::store::Store;
use levigate_project::workspace::{FormulaHead, VersionText, Workspace};

pub(crate) use corrections::PIXEL;

/// Runs every case, each on a fresh store.
pub(crate) async fn holds(fresh: impl AsyncFn() -> Arc<dyn Store>) {
    formulas::versions_are_numbered_and_read_back_byte_for_byte(&workspace(fresh().await)).await;
    formulas::the_later_of_two_saves_is_told(&workspace(fresh().await)).await;
    formulas::formulas_are_listed_with_their_newest_version(&workspace(fresh().await)).await;
    formulas::what_a_record_mentions_must_exist(&workspace(fresh().await)).await;
    formulas::a_write_is_whole_or_nothing(&workspace(fresh().await)).await;
    drafts::two_tabs_are_never_mixed(&workspace(fresh().await)).await;
    drafts::an_older_edit_never_overwrites_a_newer_one(&workspace(fresh().await)).await;
    drafts::a_save_discards_its_own_draft_only(&workspace(fresh().await)).await;
    corrections::a_correction_keeps_the_old_value(&workspace(fresh().await)).await;
    corrections::a_record_is_corrected_once(&workspace(fresh().await)).await;
    corrections::a_curve_comes_back_bit_by_bit_and_is_corrected(&workspace(fresh().await)).await;
    corrections::a_photo_comes_back_as_it_was(&workspace(fresh().await)).await;
    corrections::trials_are_copied_and_numbered_per_formula(&workspace(fresh().await)).await;
    corrections::overlays_and_settings_count_by_their_latest(&workspace(fresh().await)).await;
    people::a_password_is_kept_apart_and_never_leaves(&workspace(fresh().await)).await;
    people::how_a_writer_is_known_stands_on_the_record_and_in_the_chain(&workspace(fresh().await)).await;
    people::a_person_is_added_and_changed_under_the_rules(&workspace(fresh().await)).await;
    whole::the_chain_holds_and_starts_from_nothing(&workspace(fresh().await)).await;
    whole::a_sample_goes_into_an_empty_workspace_only(&workspace(fresh().await)).await;
    whole::a_write_that_knew_of_another_log_is_refused(&workspace(fresh().await)).await;
    whole::an_export_holds_everything(&workspace(fresh().await)).await;
    batches::a_batch_begins_with_its_trial_or_not_at_all(&workspace(fresh().await)).await;
    batches::a_list_of_deviations_goes_through_every_batch(&workspace(fresh().await)).await;
    batches::an_entry_sent_twice_is_kept_once(&workspace(fresh().await)).await;
    let mut devices = Vec::new();
    for _ in 0..6 {
        devices.push(workspace(fresh().await));
    }
    batches::replays_in_any_order_end_the_same(&devices).await;
    batches::lots_are_traced_forward_and_back(&workspace(fresh().await)).await;
    batches::a_signature_holds_what_it_covers(&workspace(fresh().await)).await;
    batches::what_a_device_sends_is_kept_once_whatever_it_is(&workspace(fresh().await)).await;
    whole::the_same_work_gives_the_same_bits(&workspace(fresh().await), &workspace(fresh().await)).await;
}

/// A workspace on a store, with a clock and dice that repeat.
pub(crate) fn workspace(store: Arc<dyn Store>) -> Workspace {
    let start = "2026-03-02T08:00:00Z".parse().unwrap();
    Workspace::new(store, Arc::new(SteppingClock::new(start, 1000)), Arc::new(LoadedDice::new(7)))
}

pub(crate) fn text(text: &str) -> VersionText {
    VersionText {
        text: text.to_owned(),
        reason: "because".to_owned(),
        engine_version: "0.1.0".to_owned(),
        data_version: "2026-03".to_owned(),
    }
}

pub(crate) async fn begun(workspace: &Workspace, name: &str) -> FormulaHead {
    workspace.create_formula("Ilse", name, text("# one\n")).await.unwrap()
}

pub(crate) fn trial(formula: Id<Formula>, version: u32) -> Trial {
    Trial {
        formula,
        version,
        parent: None,
        changed: String::new(),
        batch_size: None,
        process: "stir".to_owned(),
        made: None,
        lots: Vec::new(),
    }
}

pub(crate) fn ph(trial: Id<Trial>, typed: &str) -> Reading {
    Reading {
        trial,
        quantity: "ph".to_owned(),
        value: TypedNumber::read(typed, Default::default()),
        unit: String::new(),
        method: Method::TenPercentInWater,
        temperature_c: None,
        age_h: None,
        instrument: "pocket meter 2".to_owned(),
        conditions: [("electrode".to_owned(), "gel".to_owned())].into(),
        note: String::new(),
        from: FromDevice::default(),
        withdrawn: false,
    }
}
