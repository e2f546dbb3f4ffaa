//! How long somebody who guessed wrong has to wait. Guesses are counted per person (per
//! name where nobody has it) and per address, in memory.
//!
//! Somebody in the network can make others wait, but only in the network: at the machine itself only wrong guesses made there count,
//! and no wait is longer than a quarter of an hour. So nobody is ever locked out for good.

use levigate_project::people::{Roll, folded};
use levigate_project::records::{Id, Person};
use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// Wrong guesses of one name without a wait.
pub const FREE_GUESSES: u32 = 5;
/// Wrong guesses from one address without a wait: a tablet is used by many.
const FREE_FROM_ADDRESS: u32 = 20;
/// First wait; it doubles with every wrong guess.
const FIRST: Duration = Duration::from_secs(30);
/// Longest wait.
const LONGEST: Duration = Duration::from_secs(15 * 60);
/// After so long without a wrong guess the earlier ones are forgotten.
const FORGOTTEN: Duration = Duration::from_secs(60 * 60);
/// Most names and addresses that are remembered.
const MOST: usize = 4096;

/// Where somebody stands who guesses.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Where {
    /// At the machine itself.
    Here,
    /// In the network, at an address.
    Network(IpAddr),
}

#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Name { here: bool, whom: Whom },
    Address(IpAddr),
}

/// Whose password is guessed: somebody here, whether they are called by their name or by their initials, else a name nobody has.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Whom {
    /// Somebody here.
    Person(Id<Person>),
    /// A name nobody has, as it is compared.
    Nobody(String),
}

impl Whom {
    /// Who is meant by what was typed.
    #[must_use]
    pub fn called(roll: &Roll, name: &str) -> Self {
        roll.called(name).map_or_else(|| Self::from(name), |member| Self::Person(member.id))
    }
}

impl From<&str> for Whom {
    fn from(name: &str) -> Self {
        Self::Nobody(folded(name).chars().take(80).collect())
    }
}

#[derive(Clone, Copy)]
struct Count {
    wrong: u32,
    last: Instant,
}

impl Count {
    fn until(self, free: u32) -> Instant {
        let Some(over) = self.wrong.checked_sub(free) else { return self.last };
        let wait = FIRST.saturating_mul(2_u32.saturating_pow(over)).min(LONGEST);
        self.last + wait
    }
}

/// Wrong guesses.
#[derive(Default)]
pub struct Waits(Mutex<BTreeMap<Key, Count>>);

impl std::fmt::Debug for Waits {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Waits").field("many", &self.held().len()).finish()
    }
}

/// The part of an address that one household has: all of the old kind, the first half of the new.
fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(address) => {
            let [a, b, c, d, ..] = address.segments();
            IpAddr::from([a, b, c, d, 0, 0, 0, 0])
        }
        old => old,
    }
}

fn keys(whom: Whom, place: Where) -> Vec<(Key, u32)> {
    let mut keys = vec![(Key::Name { here: place == Where::Here, whom }, FREE_GUESSES)];
    if let Where::Network(address) = place {
        keys.push((Key::Address(network(address)), FREE_FROM_ADDRESS));
    }
    keys
}

impl Waits {
    fn held(&self) -> MutexGuard<'_, BTreeMap<Key, Count>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Counts a guess as wrong before it is looked at, so that many at once are no way round the wait.
    ///
    /// # Errors
    /// How long is still to be waited; then the guess is not counted and must not be looked at.
    pub fn guess(&self, whom: impl Into<Whom>, place: Where, now: Instant) -> Result<(), Duration> {
        let mut held = self.held();
        held.retain(|_, count| now.saturating_duration_since(count.last) < FORGOTTEN);
        let keys = keys(whom.into(), place);
        let until = keys.iter().filter_map(|(key, free)| held.get(key).map(|count| count.until(*free))).max();
        if let Some(left) =
            until.map(|until| until.saturating_duration_since(now)).filter(|left| !left.is_zero())
        {
            return Err(left);
        }
        for (key, _) in keys {
            if held.len() >= MOST
                && !held.contains_key(&key)
                && let Some(oldest) =
                    held.iter().min_by_key(|(_, count)| count.last).map(|(key, _)| key.clone())
            {
                held.remove(&oldest);
            }
            let count = held.entry(key).or_insert(Count { wrong: 0, last: now });
            *count = Count { wrong: count.wrong.saturating_add(1), last: now };
        }
        Ok(())
    }

    /// The guess was right: the name is free again, and this one guess is taken off the address.
    pub fn right(&self, whom: impl Into<Whom>, place: Where) {
        let mut held = self.held();
        for (key, _) in keys(whom.into(), place) {
            match key {
                Key::Name { .. } => {
                    held.remove(&key);
                }
                Key::Address(_) => {
                    if let Some(count) = held.get_mut(&key) {
                        count.wrong = count.wrong.saturating_sub(1);
                    }
                }
            }
        }
    }
}

/// A wait in words.
#[must_use]
pub fn words(wait: Duration) -> String {
    let seconds = wait.as_secs() + u64::from(wait.subsec_nanos() > 0);
    match seconds {
        0..=1 => "1 second".to_owned(),
        2..=90 => format!("{seconds} seconds"),
        _ => format!("{} minutes", seconds.div_ceil(60)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const TABLET: Where = Where::Network(IpAddr::V4(std::net::Ipv4Addr::new(192, 0, 2, 7)));

    fn other(number: u8) -> Where {
        Where::Network(IpAddr::from([198, 51, 100, number]))
    }

    #[test]
    fn the_wait_grows_ends_and_is_never_longer_than_a_quarter_of_an_hour() {
        let (waits, mut now) = (Waits::default(), Instant::now());
        for _ in 0..FREE_GUESSES {
            waits.guess("Ines Marrow", TABLET, now).unwrap();
        }
        let mut seen = Vec::new();
        for _ in 0..8 {
            let left = waits.guess("ines  marrow", TABLET, now).unwrap_err();
            seen.push(left.as_secs());
            now += left;
            waits.guess("Ines Marrow", TABLET, now).unwrap();
        }
        assert_eq!(seen, [30, 60, 120, 240, 480, 900, 900, 900]);
        assert!(waits.guess("Ines Marrow", TABLET, now + FORGOTTEN).is_ok());
    }

    #[test]
    fn who_stands_at_the_machine_does_not_wait_for_what_others_guess_in_the_network() {
        let (waits, now) = (Waits::default(), Instant::now());
        for guess in 0..200_u8 {
            let _ = waits.guess("admin", other(guess), now);
        }
        assert!(waits.guess("admin", other(201), now).is_err());
        assert!(waits.guess("admin", Where::Here, now).is_ok());
    }

    #[test]
    fn a_right_guess_frees_the_name_but_not_the_address() {
        let (waits, now) = (Waits::default(), Instant::now());
        for _ in 1..FREE_GUESSES {
            waits.guess("Ines", TABLET, now).unwrap();
        }
        waits.guess("Ines", TABLET, now).unwrap();
        waits.right("Ines", TABLET);
        assert!(waits.guess("Ines", TABLET, now).is_ok());
        // Many names from one address: in the end the address waits.
        let tried = (0..40)
            .filter(|guess| waits.guess(format!("name {guess}").as_str(), TABLET, now).is_ok())
            .count();
        assert_eq!(tried, FREE_FROM_ADDRESS as usize - 5);
        assert!(waits.guess("somebody", other(9), now).is_ok());
    }

    #[test]
    fn addresses_of_one_household_count_together_and_memory_is_bounded() {
        assert_eq!(
            network("2001:db8:1:2:3::4".parse().unwrap()),
            network("2001:db8:1:2:ffff::1".parse().unwrap())
        );
        assert_eq!(network("::ffff:192.0.2.7".parse().unwrap()), network("192.0.2.7".parse().unwrap()));
        let (waits, now) = (Waits::default(), Instant::now());
        for name in 0..MOST + 50 {
            let _ = waits.guess(name.to_string().as_str(), Where::Here, now);
        }
        assert_eq!(waits.held().len(), MOST);
    }

    #[test]
    fn waits_are_told_in_words() {
        assert_eq!(words(Duration::from_millis(200)), "1 second");
        assert_eq!(words(Duration::from_millis(29_100)), "30 seconds");
        assert_eq!(words(Duration::from_secs(91)), "2 minutes");
        assert_eq!(words(LONGEST), "15 minutes");
    }
}
