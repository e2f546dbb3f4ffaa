//! The machine's own clock and dice.

use jiff::Timestamp;
use levigate_project::clock::{Clock, Dice, NoEntropy};

/// The machine's clock.
#[derive(Clone, Copy, Debug)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Timestamp {
        Timestamp::now()
    }
}

/// The operating system's random bytes, fit for secrets.
#[derive(Clone, Copy, Debug)]
pub struct SystemDice;

impl Dice for SystemDice {
    fn roll(&self, buffer: &mut [u8]) -> Result<(), NoEntropy> {
        getrandom::fill(buffer).map_err(|error| NoEntropy(error.to_string()))
    }
}
