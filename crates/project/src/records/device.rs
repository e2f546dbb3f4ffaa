//! What stands in a record that was typed on a device and sent to the workspace.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// When a record was typed, and by what a second sending of it is known. The identity of the record itself is made by the device.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FromDevice {
    /// What the clock of the device said when it was typed. The envelope has the time it was kept; both are far apart where it had to
    /// wait for a connection.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub device_time: Option<Timestamp>,
    /// SHA-256 of what was sent, by which a second sending is told from another record with the same identity. Empty in records from
    /// before devices gave identities, and in those that no device sent.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub sent_sha256: String,
}
