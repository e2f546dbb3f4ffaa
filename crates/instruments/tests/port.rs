//! A balance at a pseudo-terminal: what it writes is read, broken lines are told, a port that comes later is found.
#![cfg(target_os = "linux")]

use levigate_instruments::Listener;
use levigate_project::instrument::{self, InstrumentShown, Instruments};
use serial2::SerialPort;
use std::os::fd::AsRawFd;
use std::time::{Duration, Instant};

fn listener(port: &str) -> Listener {
    let text = format!(
        "[[instrument]]\nname = \"balance 1\"\nreads = \"mass\"\nport = \"{port}\"\nline = \"{{mark}} {{number}} {{unit}}\"\nsettled = [\"still\"]\n"
    );
    Listener::begin(instrument::read("test", &text).expect("a file")).expect("threads")
}

/// Waits until what is shown is as wanted; a machine under load may take its time.
fn until(listener: &Listener, wanted: impl Fn(&InstrumentShown) -> bool) -> InstrumentShown {
    let begun = Instant::now();
    loop {
        let shown = listener.shown().remove(0);
        if wanted(&shown) || begun.elapsed() > Duration::from_secs(30) {
            return shown;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
}

/// Where the system keeps a pseudo-terminal.
fn name(pan: &SerialPort) -> String {
    let link = std::fs::read_link(format!("/proc/self/fd/{}", pan.as_raw_fd())).expect("an open port");
    link.display().to_string()
}

fn digits(shown: &InstrumentShown) -> Option<&str> {
    shown.line.as_ref().map(|line| line.digits.as_str())
}

#[test]
fn what_a_balance_writes_is_read_as_it_stands() {
    let (balance, pan) = SerialPort::pair().expect("a pseudo-terminal");
    let listener = listener(&name(&pan));
    // A terminal that nobody has opened would echo what is written.
    until(&listener, |shown| shown.trouble.is_none());
    balance.write_all(b"moves +   12.3").expect("written");
    balance.write_all(b"38 g\r\nstill +   12.340 g\r\n").expect("written");
    let shown = until(&listener, |shown| shown.count == 2);
    let line = shown.line.clone().expect("a line");
    assert_eq!((line.digits.as_str(), line.unit, line.settled, shown.count), ("12.340", "g", Some(true), 2));
    balance.write_all(b"moves     12.400 g\n").expect("written");
    let shown = until(&listener, |shown| shown.count == 3);
    assert_eq!(
        (digits(&shown), shown.line.as_ref().and_then(|line| line.settled)),
        (Some("12.400"), Some(false))
    );
    balance.write_all(b"\x02overload\x03\n").expect("written");
    let shown = until(&listener, |shown| shown.trouble.is_some());
    assert_eq!(digits(&shown), None, "an old weight must not stay beside a new line");
    assert!(shown.trouble.expect("told").contains("does not look like the pattern"));
    balance.write_all(b"still 1.000 g\n").expect("written");
    let shown = until(&listener, |shown| shown.count == 4);
    assert_eq!((digits(&shown), shown.trouble.as_deref()), (Some("1.000"), None));
}

#[test]
fn a_cable_that_is_pulled_leaves_no_number_behind() {
    let (balance, pan) = SerialPort::pair().expect("a pseudo-terminal");
    let listener = listener(&name(&pan));
    drop(pan);
    until(&listener, |shown| shown.trouble.is_none());
    balance.write_all(b"still 7.77 g\n").expect("written");
    assert_eq!(digits(&until(&listener, |shown| shown.count == 1)), Some("7.77"));
    drop(balance);
    let shown = until(&listener, |shown| shown.trouble.is_some());
    assert_eq!(digits(&shown), None);
    assert!(shown.trouble.expect("told").contains("cannot be read"));
}

#[test]
fn a_port_that_is_not_there_is_waited_for_and_the_end_does_not_wait_for_it() {
    let listener = listener("/dev/no-such-port-of-a-balance");
    let shown = until(&listener, |shown| shown.trouble.is_some());
    assert!(shown.trouble.expect("told").starts_with("/dev/no-such-port-of-a-balance cannot be read: "));
    drop(listener);
}
