//! Readings of one electrode left in one place, as one piece of evidence: where a moving one ends, what repeated settled ones say together.

use crate::making_file::adjust::{Happened, MethodTyped, Shown};
use crate::records::Method;
use crate::workbench::making::adjust::{AdjustReading, SettlingReading};
use jiff::Timestamp;
use levigate_measure::{Grade, Outcome};
use levigate_process::repeated::{Repeated, Stood, repeated};
use levigate_process::settling::Moment;
use serde::Serialize;

/// A series that has moved this long without telling where it ends is a matter for the electrode, s. Common practice, no source.
const STUCK_S: i64 = 300;
/// Last digit of a display, pH.
const DIGIT: f64 = 0.01;

/// Readings of one electrode left in one place.
#[derive(Clone, Debug, Serialize)]
pub struct Series {
    /// When the last one was read.
    pub last: Timestamp,
    /// Where they end; absent where the person saw the last one stand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub settling: Option<SettlingReading>,
    /// What settled readings say together; absent where there is one or the last still moved.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together: Option<Together>,
    /// What to do about a meter that does not come to rest; empty where nothing.
    pub stuck: String,
}

/// What repeated settled readings say together.
#[derive(Clone, Debug, Serialize)]
pub struct Together {
    /// pH, with its 95 % interval by scatter and display.
    pub ph: Outcome,
    /// What is to be known of it, in sentences.
    pub words: String,
}

/// A series as it grows, reading by reading.
#[derive(Clone, Debug)]
pub(super) struct Growing {
    method: Method,
    warm: Option<f64>,
    age_h: Option<f64>,
    readings: Vec<(Timestamp, f64, bool)>,
}

impl Growing {
    pub(super) fn new(method: &Method, warm: Option<f64>) -> Self {
        Self { method: method.clone(), warm, age_h: None, readings: Vec::new() }
    }

    /// Whether a reading taken so belongs to it.
    pub(super) fn is_of(&self, method: &Method, warm: Option<f64>) -> bool {
        self.method == *method && self.warm == warm
    }

    pub(super) fn take(&mut self, at: Timestamp, ph: f64, settled: bool, age_h: Option<f64>) {
        self.readings.push((at, ph, settled));
        self.age_h = age_h;
    }

    fn start(&self) -> Timestamp {
        self.readings.first().map_or(Timestamp::UNIX_EPOCH, |(at, ..)| *at)
    }

    fn last(&self) -> Timestamp {
        self.readings.last().map_or(Timestamp::UNIX_EPOCH, |(at, ..)| *at)
    }

    fn stands(&self) -> bool {
        self.readings.last().is_some_and(|(.., settled)| *settled)
    }

    fn seconds(&self, at: Timestamp) -> f64 {
        at.duration_since(self.start()).as_secs_f64()
    }

    /// What the settled readings say together, where the last one stood.
    fn together(&self, repeatability: f64) -> Option<Repeated> {
        let stood = self.readings.iter().filter(|(.., settled)| *settled);
        let stood: Vec<Stood> =
            stood.map(|(at, ph, _)| Stood { time_s: self.seconds(*at), ph: *ph }).collect();
        repeated(&stood, repeatability, DIGIT).filter(|_| self.stands())
    }

    /// What the adjuster hears of it: one reading, or the trace of one that still moves.
    pub(super) fn happened(&self, repeatability: f64) -> Happened {
        let (shown, scatter) = match self.together(repeatability) {
            Some(together) => (Shown::Ph(together.ph), (together.count > 1).then_some(together.uncertainty)),
            None => {
                let moments = self.readings.iter();
                let moments = moments.map(|(at, ph, _)| Moment { time_s: self.seconds(*at), ph: *ph });
                (Shown::Trace(moments.collect()), None)
            }
        };
        let diluted = Some(self.method == Method::TenPercentInWater);
        Happened::Read {
            shown,
            scatter,
            method: MethodTyped { diluted, temperature_c: self.warm, age_h: self.age_h },
        }
    }

    /// How it stands, as the page shows it. `number` is its place among what happened.
    pub(super) fn shown(&self, advice: Option<&AdjustReading>, number: usize, repeatability: f64) -> Series {
        let settling = advice.and_then(|advice| {
            advice.settling.iter().find(|settling| settling.number == number && !self.stands())
        });
        let moving = settling.is_some_and(|settling| settling.ph.value.is_none());
        let held = settling.filter(|settling| settling.notes.iter().any(|note| note.code == "all-the-same"));
        let stuck = if moving && self.last().duration_since(self.start()).as_secs() >= STUCK_S {
            "The reading has not come to rest for minutes. Take the electrode out, rinse and blot it, and read it in a buffer: a film on the \
             glass or a clogged junction does this. If it is right in the buffer, stir gently and read again in a fresh place."
        } else if held.is_some() {
            "Every reading is the same to the digit: make sure that the display is not on hold."
        } else {
            ""
        };
        let together = self.together(repeatability).filter(|one| one.count + one.odd.len() > 1);
        Series {
            last: self.last(),
            settling: settling.cloned(),
            together: together.map(|one| Together { ph: outcome(&one, repeatability), words: words(&one) }),
            stuck: stuck.to_owned(),
        }
    }
}

fn outcome(one: &Repeated, repeatability: f64) -> Outcome {
    let half = 1.96 * one.uncertainty;
    let outcome = Outcome::new(one.ph, "", Grade::Measured, "settled readings together, odd ones left out")
        .within(one.ph - half, one.ph + half, Some(0.95))
        .by("R = sum R_i / n, u = max(s_r, s) / sqrt(n); R = a + b t_n where they drift")
        .proved_by("tests/cross/repeated_ph.toml")
        .input("readings that count", one.count as f64, "", None)
        .input("repeatability", repeatability, "pH", Some("convention"));
    match one.drift {
        Some(drift) => outcome.input("drift from the first to the last", drift, "pH", None),
        None => outcome,
    }
}

fn words(one: &Repeated) -> String {
    let mut words = format!("{} settled readings count as one: pH {:.2}.", one.count, one.ph);
    if let Some(drift) = one.drift {
        words.push_str(&format!(
            " They moved by {drift:+.2} from the first to the last, more than the meter scatters: the last moment counts; wait, and read once more."
        ));
    }
    if !one.odd.is_empty() {
        let odd: Vec<String> = one.odd.iter().map(|at| (at + 1).to_string()).collect();
        words.push_str(&format!(
            " Settled reading {} stands far off the others and does not count: read once more in a fresh place.",
            odd.join(" and ")
        ));
    }
    words
}
