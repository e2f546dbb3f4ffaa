//! Reads balances, pH meters and thermometers off serial ports. Nothing is ever written to an instrument.
//!
//! One thread per port: it opens the port, reads lines, and opens it again when it is gone. What a line says is
//! [`levigate_project::instrument`]'s matter.

mod lines;

use levigate_project::instrument::{Instrument, InstrumentShown, Instruments, Line, Parity, SerialLine};
use lines::Lines;
use serial2::{CharSize, FlowControl, SerialPort, Settings, StopBits};
use std::io::ErrorKind;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// How long a port is waited on before it is looked whether the end has come.
const PATIENCE: Duration = Duration::from_millis(200);
/// Between two trials to open a port.
const AGAIN: Duration = Duration::from_secs(2);

/// Instruments that are listened to until this is dropped.
#[derive(Debug)]
pub struct Listener {
    places: Vec<Arc<Place>>,
    end: Arc<End>,
    threads: Vec<JoinHandle<()>>,
}

/// The end, which wakes who waits for a port.
#[derive(Debug, Default)]
struct End {
    come: AtomicBool,
    lock: Mutex<()>,
    wake: Condvar,
}

#[derive(Debug)]
struct Place {
    instrument: Instrument,
    stands: Mutex<Stands>,
}

#[derive(Debug, Default)]
struct Stands {
    line: Option<Line>,
    count: u64,
    last: Option<Instant>,
    trouble: Option<String>,
}

impl Listener {
    /// Begins to listen. A port that is not there yet is waited for.
    ///
    /// # Errors
    /// When the system has no thread left.
    pub fn begin(instruments: Vec<Instrument>) -> std::io::Result<Self> {
        let end = Arc::new(End::default());
        let places: Vec<Arc<Place>> = instruments
            .into_iter()
            .map(|instrument| Arc::new(Place { instrument, stands: Mutex::default() }))
            .collect();
        let threads = places
            .iter()
            .map(|place| {
                let (place, end) = (Arc::clone(place), Arc::clone(&end));
                thread::Builder::new().name("instrument".to_owned()).spawn(move || place.listen(&end))
            })
            .collect::<std::io::Result<_>>()?;
        Ok(Self { places, end, threads })
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.end.come.store(true, Ordering::Relaxed);
        self.end.wake.notify_all();
        for thread in self.threads.drain(..) {
            // A thread that broke has nothing left to wait for.
            let _ = thread.join();
        }
    }
}

impl Instruments for Listener {
    fn shown(&self) -> Vec<InstrumentShown> {
        self.places.iter().map(|place| place.shown()).collect()
    }
}

impl End {
    fn come(&self) -> bool {
        self.come.load(Ordering::Relaxed)
    }

    /// Waits, or less when the end comes.
    fn wait(&self, time: Duration) {
        let lock = self.lock.lock().unwrap_or_else(PoisonError::into_inner);
        let _ = self.wake.wait_timeout_while(lock, time, |()| !self.come());
    }
}

impl Place {
    fn stands(&self) -> MutexGuard<'_, Stands> {
        self.stands.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn shown(&self) -> InstrumentShown {
        let stands = self.stands();
        let age = stands.last.map_or(Duration::ZERO, |last| last.elapsed());
        InstrumentShown {
            name: self.instrument.name.clone(),
            reads: self.instrument.reads,
            writes: self.instrument.writes,
            line: stands.line.clone(),
            count: stands.count,
            age_ms: u64::try_from(age.as_millis()).unwrap_or(u64::MAX),
            trouble: stands.trouble.clone(),
        }
    }

    fn listen(&self, end: &End) {
        while !end.come() {
            match open(&self.instrument.serial) {
                Ok(port) => {
                    self.stands().trouble = None;
                    let why = self.read(&port, end);
                    self.broken(&why);
                }
                Err(error) => self.broken(&error.to_string()),
            }
            end.wait(AGAIN);
        }
    }

    /// Reads until the port is gone or the end comes; why it is gone.
    fn read(&self, port: &SerialPort, end: &End) -> String {
        let mut lines = Lines::default();
        let mut bytes = [0; 256];
        while !end.come() {
            match port.read(&mut bytes) {
                Ok(0) => return "nothing is at its other end".to_owned(),
                Ok(count) => {
                    for line in lines.take(&bytes[..count]) {
                        self.hear(&line);
                    }
                }
                Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => {}
                Err(error) => return error.to_string(),
            }
        }
        String::new()
    }

    fn hear(&self, line: &str) {
        let read = self.instrument.pattern.read(line);
        let mut stands = self.stands();
        match read {
            Ok(line) => {
                stands.line = Some(line);
                stands.count += 1;
                stands.last = Some(Instant::now());
                stands.trouble = None;
            }
            Err(unread) => {
                stands.line = None;
                stands.trouble = Some(format!("{unread}; {}", unread.hint()));
            }
        }
    }

    /// A number of a line that broke off must not be taken for what stands on the pan.
    fn broken(&self, why: &str) {
        let mut stands = self.stands();
        stands.line = None;
        stands.trouble = Some(format!("{} cannot be read: {why}", self.instrument.serial.port));
    }
}

fn open(serial: &SerialLine) -> std::io::Result<SerialPort> {
    let mut port = SerialPort::open(&serial.port, |mut settings: Settings| {
        settings.set_raw();
        settings.set_baud_rate(serial.baud)?;
        settings.set_char_size(if serial.data_bits == 7 { CharSize::Bits7 } else { CharSize::Bits8 });
        settings.set_stop_bits(if serial.stop_bits == 2 { StopBits::Two } else { StopBits::One });
        settings.set_parity(match serial.parity {
            Parity::None => serial2::Parity::None,
            Parity::Even => serial2::Parity::Even,
            Parity::Odd => serial2::Parity::Odd,
        });
        settings.set_flow_control(FlowControl::None);
        Ok(settings)
    })?;
    port.set_read_timeout(PATIENCE)?;
    Ok(port)
}

/// Names of the serial ports of this machine.
#[must_use]
pub fn ports() -> Vec<String> {
    // A system that does not say which ports it has still opens one by its name.
    SerialPort::available_ports().unwrap_or_default().iter().map(|port| port.display().to_string()).collect()
}
