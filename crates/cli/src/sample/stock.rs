//! What stands on the shelf of the sample workspace: decisions about its lots, and one count that differed.

use super::STUDIO;
use levigate_project::records::{
    FromDevice, Kept, Lot, LotStatus, Status, StockMovement, TypedMass, TypedNumber,
};
use levigate_project::store::StoreError;
use levigate_project::workspace::Workspace;

/// A weight as typed.
pub(super) fn mass(net: &str, unit: &str) -> TypedMass {
    TypedMass { net: Some(TypedNumber::read_either(net)), unit: unit.to_owned(), ..TypedMass::default() }
}

/// Where a lot stands and how much of it came.
pub(super) fn received(material: &str) -> (Option<TypedMass>, &'static str) {
    let (net, unit, location) = match material {
        "mandelic-acid" => ("500", "g", "cabinet A, shelf 2"),
        "sodium-hydroxide-20" => ("1", "kg", "caustics tray"),
        "carbomer" => ("250", "g", "cabinet A, shelf 1"),
        "tromethamine" => ("500", "g", "cabinet A, shelf 1"),
        "zinc-pca" => ("100", "g", "cabinet A, shelf 3"),
        _ => ("1", "kg", "cabinet B"),
    };
    (Some(mass(net, unit)), location)
}

/// Decides about the lots and moves a little stock.
pub(super) async fn decide(workspace: &Workspace, lots: &[Kept<Lot>]) -> Result<(), StoreError> {
    for kept in lots {
        let (status, reason) = match kept.what.code.as_str() {
            "PX-2609-22" => (Status::Quarantine, "Certificate not here yet"),
            _ => (Status::Released, "Certificate looked through"),
        };
        let decided =
            LotStatus { lot: kept.id, status, reason: reason.to_owned(), from: FromDevice::default() };
        workspace.add(STUDIO, decided).await?;
        if kept.what.material == "mandelic-acid" {
            let counted = StockMovement {
                lot: kept.id,
                mass: mass("12.5", "g"),
                taken: true,
                reason: "Counted: less than on paper".to_owned(),
                note: String::new(),
                from: FromDevice::default(),
            };
            workspace.add(STUDIO, counted).await?;
        }
    }
    Ok(())
}
