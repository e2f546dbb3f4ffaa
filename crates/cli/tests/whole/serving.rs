//! The server: says where it is, answers, keeps what is there, ends when told.

use crate::program::{program, run};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Stdio};
use std::time::Duration;

/// A server that is running; killed when a test fails before it was told to stop.
pub(crate) struct Server {
    child: Child,
    address: String,
    sample: bool,
    /// Everything it said when it started.
    pub(crate) said: serde_json::Value,
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Server {
    pub(crate) fn start(home: &Path, more: &[&str]) -> Self {
        let mut child = program()
            .args(["serve", "--no-browser", "--port", "0", "--json"])
            .args(more)
            .env("XDG_DATA_HOME", home)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let Ok(said) = serde_json::from_str::<serde_json::Value>(&line) else {
            let mut said = String::new();
            child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
            panic!("no address: {line}{said}");
        };
        let address = said["address"].as_str().unwrap().to_owned();
        Self { child, address, sample: said["sample"].as_bool().unwrap(), said }
    }

    /// Status and body of a page.
    pub(crate) fn get(&self, path: &str) -> (u16, String) {
        self.ask(&format!("GET {path} HTTP/1.1\r\n"), "")
    }

    /// Status and answer to something sent as a page with this token sends it.
    pub(crate) fn post(&self, path: &str, token: &str, body: &str) -> (u16, String) {
        let length = body.len();
        let head = format!(
            "POST {path} HTTP/1.1\r\nx-levigate-token: {token}\r\nContent-Type: application/json\r\nContent-Length: {length}\r\n"
        );
        self.ask(&head, body)
    }

    fn ask(&self, head: &str, body: &str) -> (u16, String) {
        let host = self.address.trim_start_matches("http://").trim_end_matches('/');
        let mut stream = TcpStream::connect(host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        write!(stream, "{head}Host: {host}\r\nConnection: close\r\n\r\n{body}").unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        let status = answer.split(' ').nth(1).unwrap().parse().unwrap();
        (status, answer)
    }

    /// The formulas of the workspace.
    pub(crate) fn formulas(&self) -> serde_json::Value {
        let (status, answer) = self.get("/api/formulas");
        assert_eq!(status, 200, "{answer}");
        let body = answer.split_once("\r\n\r\n").unwrap().1;
        let (start, end) = (body.find('[').unwrap(), body.rfind(']').unwrap());
        serde_json::from_str(&body[start..=end]).unwrap()
    }

    /// Asks the program to end, as a system does, and gives its exit code.
    #[cfg(unix)]
    pub(crate) fn end(mut self) -> Option<i32> {
        let ended = std::process::Command::new("kill").arg(self.child.id().to_string()).status().unwrap();
        assert!(ended.success());
        self.child.wait().unwrap().code()
    }
}

#[cfg(unix)]
#[test]
fn the_sample_is_seeded_once_served_and_kept() {
    let home = tempfile::tempdir().unwrap();
    let server = Server::start(home.path(), &[]);
    assert!(server.sample);
    assert_eq!(server.formulas().as_array().unwrap().len(), 3);
    let (status, page) = server.get("/formulas");
    assert_eq!(status, 200, "{page}");
    assert!(page.contains("Night toner with mandelic acid"), "{page}");
    // A second program finds the workspace in use and says by whom.
    let second = program()
        .args(["serve", "--no-browser", "--port", "0"])
        .env("XDG_DATA_HOME", home.path())
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(second.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&second.stderr).contains("help:"));
    assert_eq!(server.end(), Some(0));

    // What a person did to the sample stays: here they threw the prices away.
    let folder = home.path().join("levigate/sample");
    let prices = folder.join("facts/quillfen-prices.toml");
    assert!(prices.is_file());
    std::fs::remove_file(&prices).unwrap();
    let again = Server::start(home.path(), &[]);
    assert_eq!(again.formulas().as_array().unwrap().len(), 3);
    assert!(!prices.exists());
    assert_eq!(again.end(), Some(0));
}

#[cfg(unix)]
#[test]
fn a_workspace_of_ones_own_begins_empty_and_is_only_made_where_nothing_is() {
    let home = tempfile::tempdir().unwrap();
    let own = home.path().join("my laboratory");
    let own_name = own.display().to_string();
    let server = Server::start(home.path(), &["--workspace", &own_name]);
    assert!(!server.sample);
    assert!(server.formulas().as_array().unwrap().is_empty());
    assert_eq!(server.end(), Some(0));
    assert!(!home.path().join("levigate").exists(), "the sample was touched");

    let full = home.path().join("documents");
    std::fs::create_dir(&full).unwrap();
    std::fs::write(full.join("letter.txt"), "dear").unwrap();
    let said = run(&["serve", "--no-browser", "--port", "0", "--workspace", &full.display().to_string()]);
    assert_eq!(said.code, 1);
    assert!(said.err.contains("nothing was written"), "{}", said.err);
    assert_eq!(std::fs::read_dir(&full).unwrap().count(), 1);
}

#[cfg(unix)]
#[test]
fn wrong_facts_in_the_workspace_are_told_with_their_place() {
    let home = tempfile::tempdir().unwrap();
    let own = home.path().join("own");
    std::fs::create_dir_all(own.join("facts")).unwrap();
    std::fs::write(
        own.join("facts/mine.toml"),
        "[[price]]\nmaterial = \"no-such\"\nper_kg = \"1\"\ncurrency = \"EUR\"\ndate = \"2026-01-01\"\n",
    )
    .unwrap();
    let said = run(&["serve", "--no-browser", "--port", "0", "--workspace", &own.display().to_string()]);
    assert_eq!(said.code, 2, "{}", said.err);
    assert!(said.err.contains("mine.toml:1:1"), "{}", said.err);
}

#[test]
fn a_port_in_use_is_told() {
    let home = tempfile::tempdir().unwrap();
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let own = home.path().join("own").display().to_string();
    let said = run(&["serve", "--no-browser", "--port", &port, "--workspace", &own]);
    assert_eq!(said.code, 1);
    assert!(said.err.contains(&port) && said.err.contains("help:"), "{}", said.err);
}
