//! The best place of a few parts that may move, where what is wanted is read by a computation that takes its time.
//!
//! A [`Space`] says how far each part may move, in which steps, and which may be left out; a [`Problem`] says what is aimed at and what is
//! wished. Nothing is known of the readings but their values: [`Oracle::readings`] is asked. About a point the readings are taken as
//! straight (differences), the best point of the straight problem is sought by a mixed-integer linear solver, and it is kept only where
//! the true readings are better (`climb`). Which parts are in is chosen by the same solver, each choice once (`answers`); the answer
//! is then brought onto the steps and bettered there by trying its neighbours (`grid`).
//!
//! ```text
//! merit = aim/s_a + mu * sum of max(0, r - high, low - r)/s_r        accepted where the true gain is a tenth of the gain expected
//! ```
//!
//! A wish is kept where its excess over its scale is below [`KEPT`]. It finds a good place: where readings are not straight, not surely the
//! best one, and "none was found" is then no proof that there is none. The same seed gives the same answer.
//!
//! Source: sequential linear programming with an exact penalty and a trust region (Fletcher and Sainz de la Maza, Math. Program. 43 (1989)
//! 235, from memory). Cases: `tests/published/search.toml`, `tests/cross/search.toml`.

pub mod answers;
mod climb;
pub mod conflict;
mod front;
mod grid;
mod model;
pub mod relax;
mod space;

pub use answers::{Answers, Effort, answers};
pub use front::{Front, front};
pub use space::{Aim, Group, Oracle, Part, Point, Problem, SearchError, Side, Space, Watch, Wish};

/// A wish counts as kept up to this excess over its scale.
pub const KEPT: f64 = 1e-6;
