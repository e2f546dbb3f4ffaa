//! The pages: a small server on the loopback address, and in the network where that is asked for, that shows formulas as sheets with a margin.
//!
//! [`serve::bind`] takes a [`desk::Desk`], which does the work, and gives the bound address back before the first request is answered.
//! Nothing here computes: a request is read, handed to the desk, and its answer is written as a page or as JSON.
//!
//! | Module | What it is for |
//! | --- | --- |
//! | [`desk`] | the questions the pages ask, and the shapes of the answers |
//! | [`serve`] | binding, routing, running |
//! | [`guard`] | who may ask: Host, Origin, login, role, token, headers, limits |
//! | [`people`] | who is logged in, what they may do, how they come and go |
//! | [`lan`] | the certificate and what a tablet has to be told |
//! | [`listen`] | connections, with and without TLS, and their limits |
//! | [`api`] | JSON routes of formulas and raw materials |
//! | [`mod@bench`] | JSON routes of trials, readings, observations, photos and lots |
//! | [`lot_pages`] | the lots on the shelf, and one lot |
//! | [`batches`] | JSON routes of batches, lots on the shelf, and where a lot went |
//! | [`better`] | the better formula: page and JSON routes |
//! | [`bringing`] | a table brought in: page and JSON routes |
//! | [`challenge`] | challenge tests of a formula: page and JSON routes |
//! | [`microbes`] | counts of a finished product beside its formula: page and JSON routes |
//! | [`instead`] | what could stand in the place of a raw material: page and JSON routes |
//! | [`foresight`] | how well trials were foretold: pages and JSON routes |
//! | [`experiments`] | designed experiments: pages and JSON routes |
//! | [`making`] | JSON routes of how sure a batch is and how it goes to the plant |
//! | [`measured`] | JSON routes of measured flow curves |
//! | [`measurement`] | shapes and JSON route of measured flow curves |
//! | [`instruments`] | JSON route of what balances, meters and thermometers show |
//! | [`pages`] | HTML routes |
//! | [`batch_pages`] | HTML routes of batches: the list, and one at the beaker |
//! | [`assets`] | scripts, style sheets and fonts in the binary |
//! | [`trouble`] | what, why, what now |
//! | [`workspace_desk`] | the desk over a workspace and the verbs |

pub mod adjusting;
pub mod api;
pub mod assets;
pub mod batch_pages;
pub mod batches;
pub mod bench;
pub mod better;
pub mod bringing;
pub mod challenge;
pub mod desk;
mod draft_sheet;
pub mod experiments;
pub mod foresight;
pub mod guard;
pub mod instead;
pub mod instruments;
pub mod lan;
pub mod listen;
pub mod lot_pages;
pub mod making;
pub mod measured;
pub mod measurement;
pub mod microbes;
pub mod pages;
pub mod papers;
pub mod people;
pub mod serve;
pub mod studies;
pub mod trouble;
pub mod window;
pub mod workspace_desk;

pub use desk::Desk;
pub use lan::LanOptions;
pub use serve::{Bound, ServeOptions, bind};
pub use trouble::Trouble;
pub use workspace_desk::{DeskSetup, WorkspaceDesk};
