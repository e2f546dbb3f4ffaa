//! Opening a browser where there is one. Never an error: the address is printed anyway.

use std::process::{Command, Stdio};

/// Asks the system to show an address.
pub(crate) fn open(url: &str) {
    let Some((program, arguments)) = opener() else { return };
    let started = Command::new(program)
        .args(arguments)
        .arg(url)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn();
    if let Ok(mut child) = started {
        // Waited for aside, so that it leaves no dead entry behind while the server runs.
        std::thread::spawn(move || child.wait());
    }
}

/// The system's own way to show an address; none where there is no screen.
fn opener() -> Option<(&'static str, &'static [&'static str])> {
    if cfg!(windows) {
        Some(("rundll32", &["url.dll,FileProtocolHandler"]))
    } else if cfg!(target_os = "macos") {
        Some(("open", &[]))
    } else {
        let screen = ["DISPLAY", "WAYLAND_DISPLAY"]
            .iter()
            .any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty()));
        screen.then_some(("xdg-open", &[] as &[&str]))
    }
}
