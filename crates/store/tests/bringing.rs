//! Tables brought into a workspace: everything or nothing, and nothing twice.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on shall stop where it is")]

use jiff::civil::{Date, date};
use levigate_project::bringing::{Asked, BringError, Brought, Fate, What, bring};
use levigate_project::clock::{Dice, LoadedDice, NoEntropy, SteppingClock};
use levigate_project::facts::{Facts, shipped};
use levigate_project::records::{Kept, Lot, LotStatus, MaterialOverlay, Status};
use levigate_project::workbench::shelf::{laid_over, own_texts};
use levigate_project::workspace::Workspace;
use levigate_store::SqliteStore;
use std::sync::{Arc, LazyLock};

static FACTS: LazyLock<Facts> = LazyLock::new(|| shipped().unwrap());
const DAY: Date = date(2026, 11, 27);

async fn workspace_with(dice: impl Dice + 'static) -> Workspace {
    let store = SqliteStore::in_memory().await.unwrap();
    let clock = SteppingClock::new("2026-11-27T08:00:00Z".parse().unwrap(), 1);
    Workspace::new(Arc::new(store), Arc::new(clock), Arc::new(dice))
}

async fn workspace() -> Workspace {
    workspace_with(LoadedDice::new(7)).await
}

async fn length(workspace: &Workspace) -> u64 {
    workspace.store().head().await.unwrap().length
}

async fn brought(
    workspace: &Workspace,
    facts: &Facts,
    text: &str,
    asked: &Asked,
) -> Result<Brought, BringError> {
    bring(workspace, (facts, DAY), ("Ines Marrow", true), ("list.csv", text.as_bytes()), asked).await
}

fn asked(what: What) -> Asked {
    Asked { what, ..Asked::default() }
}

const LOTS: &str = "Raw material;Lot;Received;Quantity;Status\nMandelic acid;MA-1;21.08.2026;5 kg;released\n\
    Propanediol;PD-7;22.08.2026;25 kg;quarantine\nPropanediol;PD-8;2 March 2026;5 lb;\n";

#[tokio::test]
async fn lots_come_in_with_what_was_decided_and_not_twice() {
    let workspace = workspace().await;
    let made = brought(&workspace, &FACTS, LOTS, &asked(What::Lot)).await.unwrap();
    assert_eq!(made.made.iter().map(|one| one.name.as_str()).collect::<Vec<_>>(), ["MA-1", "PD-7", "PD-8"]);
    let lots: Vec<Kept<Lot>> = workspace.all().await.unwrap();
    let decided: Vec<Kept<LotStatus>> = workspace.all().await.unwrap();
    assert_eq!((lots.len(), decided.len()), (3, 2));
    assert_eq!(decided[0].what.lot, lots[0].id);
    assert_eq!(decided[0].what.status, Status::Released);
    assert_eq!(lots[2].what.quantity.as_ref().unwrap().net_g().unwrap().to_string(), "2267.96185");
    assert!(lots[2].what.note.contains("5 lb") && lots[2].what.note.contains("list.csv, row 4"));
    // The same table once more, and with another location: nothing is made, and it is said.
    let before = length(&workspace).await;
    let Err(BringError::NotReady(report)) = brought(&workspace, &FACTS, LOTS, &asked(What::Lot)).await else {
        panic!("it was made twice")
    };
    assert_eq!((report.counts.made, report.counts.there), (0, 3));
    assert!(report.missing[0].contains("on file already"));
    let other = LOTS.replace("25 kg", "20 kg");
    let Err(BringError::NotReady(report)) = brought(&workspace, &FACTS, &other, &asked(What::Lot)).await
    else {
        panic!("a lot was changed")
    };
    assert!(report.rows[1].notes[0].contains("the quantity received"));
    assert_eq!(length(&workspace).await, before);
    // A new row beside the old ones makes the new one alone.
    let more = format!("{LOTS}Propanediol;PD-9;23.08.2026;1 kg;\n");
    let made = brought(&workspace, &FACTS, &more, &asked(What::Lot)).await.unwrap();
    assert_eq!(made.made.len(), 1);
}

#[tokio::test]
async fn a_row_that_is_not_understood_keeps_all_of_it_out() {
    let workspace = workspace().await;
    let text = format!("{LOTS}Unheard of;X-1;;;\n");
    let told = brought(&workspace, &FACTS, &text, &asked(What::Lot)).await;
    let Err(BringError::NotReady(report)) = told else { panic!("it was brought in") };
    assert_eq!(report.counts.not_understood, 1);
    assert_eq!(length(&workspace).await, 0);
    let left = Asked { leave_out: [5].into(), ..asked(What::Lot) };
    let made = brought(&workspace, &FACTS, &text, &left).await.unwrap();
    assert_eq!(made.report.rows[3].fate, Fate::LeftOut);
    assert_eq!(made.made.len(), 3);
}

/// Dice that give the same bytes every time from a roll on: the identities of two records then are one.
struct Stuck(std::sync::atomic::AtomicUsize, usize);

impl Dice for Stuck {
    fn roll(&self, buffer: &mut [u8]) -> Result<(), NoEntropy> {
        let rolled = self.0.fetch_add(1, std::sync::atomic::Ordering::Relaxed).min(self.1);
        buffer.fill(u8::try_from(rolled).unwrap());
        Ok(())
    }
}

#[tokio::test]
async fn a_failure_in_the_middle_leaves_nothing_behind() {
    // All records of one write have one moment, so the third lot gets the identity of the second.
    let workspace = workspace_with(Stuck(0.into(), 1)).await;
    let text = "Raw material;Lot\nPropanediol;A\nPropanediol;B\nPropanediol;C\n";
    let told = brought(&workspace, &FACTS, text, &asked(What::Lot)).await;
    assert!(matches!(told, Err(BringError::Store(_))), "{told:?}");
    assert_eq!(length(&workspace).await, 0);
    let lots: Vec<Kept<Lot>> = workspace.all().await.unwrap();
    assert!(lots.is_empty());
}

const FORMULA: &str =
    "Calm gel;;\nPhase;Raw material;%\nA;Water;ad 100\nA;Glycerin 99.5 %;5,0\nB;Phenoxyethanol;0,9\n";

#[tokio::test]
async fn a_formula_comes_in_once_and_with_other_lines_as_its_next_version() {
    let workspace = workspace().await;
    let made = brought(&workspace, &FACTS, FORMULA, &asked(What::Formula)).await.unwrap();
    assert_eq!((made.made.len(), made.made[0].what, made.made[0].name.as_str()), (1, "formula", "Calm gel"));
    let told = brought(&workspace, &FACTS, FORMULA, &asked(What::Formula)).await;
    let Err(BringError::NotReady(report)) = told else { panic!("it was made twice") };
    assert!(report.formula.unwrap().becomes.contains("version 1 of Calm gel already"));
    let other = FORMULA.replace("5,0", "4,0");
    let told = brought(&workspace, &FACTS, &other, &asked(What::Formula)).await;
    let Err(BringError::NotReady(report)) = told else { panic!("it was not asked") };
    assert_eq!(report.questions[0].id, "onto");
    let next = Asked { onto: "version".to_owned(), ..asked(What::Formula) };
    let made = brought(&workspace, &FACTS, &other, &next).await.unwrap();
    assert_eq!((made.made[0].what, made.made[0].number), ("version", 2));
    let heads = workspace.formulas().await.unwrap();
    assert_eq!((heads.len(), heads[0].newest.number), (1, 2));
    assert!(heads[0].newest.what.reason.contains("list.csv"));
    // The first version once more is still there, though it is not the newest.
    assert!(matches!(
        brought(&workspace, &FACTS, FORMULA, &asked(What::Formula)).await,
        Err(BringError::NotReady(_))
    ));
}

#[tokio::test]
async fn raw_materials_and_prices_come_in_and_are_found_afterwards() {
    let workspace = workspace().await;
    let text = "Raw material;INCI;Supplier;EUR/kg;Function;Form\nGlycerin 99.5 %;Glycerin;Fenwick;1,90;;\n\
        Diolet 13;Propanediol;Fenwick;6,20;Humectant;liquid\n";
    brought(&workspace, &FACTS, text, &asked(What::Material)).await.unwrap();
    let (facts, refused) = laid_over(&FACTS, &own_texts(&workspace).await.unwrap());
    assert_eq!(refused, 0);
    let own = &facts.library.materials[facts.names.resolve_material("Diolet 13").unwrap()];
    assert_eq!((own.functions[0].as_str(), own.prices[0].per_kg.to_string().as_str()), ("humectant", "6.20"));
    let shipped = &facts.library.materials[facts.names.resolve_material("Glycerin 99.5 %").unwrap()];
    assert_eq!(shipped.prices.last().unwrap().note.as_deref(), Some("Fenwick"));
    let before = length(&workspace).await;
    assert!(matches!(
        brought(&workspace, &facts, text, &asked(What::Material)).await,
        Err(BringError::NotReady(_))
    ));
    assert_eq!(length(&workspace).await, before);
    // A new price stands beside the one before it.
    let dearer = text.replace("1,90", "2,10");
    brought(&workspace, &facts, &dearer, &asked(What::Material)).await.unwrap();
    let (facts, refused) = laid_over(&FACTS, &own_texts(&workspace).await.unwrap());
    let shipped = &facts.library.materials[facts.names.resolve_material("Glycerin 99.5 %").unwrap()];
    let prices: Vec<String> = shipped.prices.iter().map(|price| price.per_kg.to_string()).collect();
    assert_eq!((refused, prices), (0, vec!["1.90".to_owned(), "2.10".to_owned()]));
    let overlays: Vec<Kept<MaterialOverlay>> = workspace.all().await.unwrap();
    assert_eq!(overlays.len(), 3);
}

#[tokio::test]
async fn whoever_may_not_release_lots_cannot_release_them_by_a_table() {
    let workspace = workspace().await;
    let bench = ("Ada Quill", false);
    let told =
        bring(&workspace, (&FACTS, DAY), bench, ("list.csv", LOTS.as_bytes()), &asked(What::Lot)).await;
    let Err(BringError::NotReady(report)) = told else { panic!("it was released") };
    assert_eq!(report.rows[0].troubles[0].offers, ["quarantine"]);
    assert_eq!(length(&workspace).await, 0);
}

#[tokio::test]
async fn two_who_bring_the_same_table_in_at_once_make_it_once() {
    let workspace = workspace().await;
    let question = asked(What::Lot);
    let (one, other) = tokio::join!(
        brought(&workspace, &FACTS, LOTS, &question),
        brought(&workspace, &FACTS, LOTS, &question)
    );
    assert!(one.is_ok() != other.is_ok());
    let lots: Vec<Kept<Lot>> = workspace.all().await.unwrap();
    assert_eq!(lots.len(), 3);
}
