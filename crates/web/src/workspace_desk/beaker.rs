//! The pH at the bench, from the routes to the verbs.

use super::WorkspaceDesk;
use super::troubles::diagnosed;
use crate::adjusting::BeakerDesk;
use crate::desk::Answer;
use async_trait::async_trait;
use levigate_project::workbench::making::adjust::{AdjustReading, adjust};
use levigate_project::workbench::making::calibrate::{CalibrationReading, calibrate};

#[async_trait]
impl BeakerDesk for WorkspaceDesk {
    async fn adjust(&self, text: String) -> Answer<AdjustReading> {
        self.work(move |desk| {
            adjust(&desk.shelf.facts(), ("", &text)).map_err(|problems| diagnosed("adjust", &problems))
        })
        .await?
    }

    async fn calibrate(&self, text: String) -> Answer<CalibrationReading> {
        self.work(move |desk| {
            calibrate(&desk.shelf.facts(), ("", &text)).map_err(|problems| diagnosed("calibrate", &problems))
        })
        .await?
    }
}
