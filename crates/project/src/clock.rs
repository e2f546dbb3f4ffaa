//! Where the time and the dice come from. Nothing below the command line asks the machine for either: whoever assembles the
//! program hands both in, so that a test can repeat a day to the last bit.

use std::sync::atomic::{AtomicI64, AtomicU64, Ordering};

use jiff::Timestamp;

/// Tells the time.
pub trait Clock: Send + Sync {
    /// The present moment.
    fn now(&self) -> Timestamp;
}

/// Gives bytes nobody can foresee.
pub trait Dice: Send + Sync {
    /// Fills the buffer.
    ///
    /// # Errors
    /// The machine has no entropy to give.
    fn roll(&self, buffer: &mut [u8]) -> Result<(), NoEntropy>;
}

/// The machine had no random bytes to give.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the machine gave no random bytes: {0}")]
pub struct NoEntropy(pub String);

/// A clock that starts where it is told and moves on by a fixed step at every look: for tests and repeatable examples.
#[derive(Debug)]
pub struct SteppingClock {
    millisecond: AtomicI64,
    step: i64,
}

impl SteppingClock {
    /// Starts at a moment; every look moves on by `step_ms` milliseconds.
    #[must_use]
    pub fn new(start: Timestamp, step_ms: i64) -> Self {
        Self { millisecond: AtomicI64::new(start.as_millisecond()), step: step_ms }
    }
}

impl Clock for SteppingClock {
    fn now(&self) -> Timestamp {
        let millisecond = self.millisecond.fetch_add(self.step, Ordering::Relaxed);
        Timestamp::from_millisecond(millisecond).unwrap_or(Timestamp::MAX)
    }
}

/// Dice that fall the same way every time (the SplitMix64 sequence): for tests and repeatable examples, never for secrets.
#[derive(Debug)]
pub struct LoadedDice(AtomicU64);

impl LoadedDice {
    /// Starts from a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(AtomicU64::new(seed))
    }
}

impl Dice for LoadedDice {
    fn roll(&self, buffer: &mut [u8]) -> Result<(), NoEntropy> {
        for chunk in buffer.chunks_mut(8) {
            let state = self
                .0
                .fetch_add(0x9E37_79B9_7F4A_7C15, Ordering::Relaxed)
                .wrapping_add(0x9E37_79B9_7F4A_7C15);
            let mixed = (state ^ (state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
            let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
            let bytes = (mixed ^ (mixed >> 31)).to_le_bytes();
            chunk.copy_from_slice(&bytes[..chunk.len()]);
        }
        Ok(())
    }
}
