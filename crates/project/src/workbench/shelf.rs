//! The facts of a workspace: the lab's own raw materials and prices kept in it, laid over whatever lies below.

use crate::facts::{Facts, Layer, lay_over};
use crate::records::MaterialOverlay;
use crate::store::StoreError;
use crate::workspace::Workspace;

/// The own records of a workspace in the order they were kept: name and text.
///
/// # Errors
/// The workspace cannot be read.
pub async fn own_texts(workspace: &Workspace) -> Result<Vec<(String, String)>, StoreError> {
    let mut overlays = workspace.latest::<MaterialOverlay>().await?;
    overlays.retain(|overlay| !overlay.what.withdrawn);
    overlays.sort_by_key(|overlay| overlay.sequence);
    Ok(overlays
        .into_iter()
        .map(|overlay| (format!("own {} {}", overlay.what.sort.word(), overlay.what.key), overlay.what.text))
        .collect())
}

/// Lays own records over the facts below, and counts those that no longer read and are left out.
#[must_use]
pub fn laid_over(base: &Facts, texts: &[(String, String)]) -> (Facts, usize) {
    if texts.is_empty() {
        return (base.clone(), 0);
    }
    if let Ok(facts) = lay_over(base, texts, Layer::Workspace) {
        return (facts, 0);
    }
    let mut facts = base.clone();
    let mut refused = 0;
    for text in texts {
        match lay_over(&facts, std::slice::from_ref(text), Layer::Workspace) {
            Ok(laid) => facts = laid,
            Err(_) => refused += 1,
        }
    }
    (facts, refused)
}
