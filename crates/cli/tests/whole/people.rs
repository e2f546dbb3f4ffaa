//! People from the command line: let in, changed, refused; a server that asks for the login, and one in the network.
#![cfg(unix)]

use crate::program::at;
use crate::serving::Server;

const PASSWORD: &str = "grey pestle 41\n";

#[test]
fn people_are_let_in_listed_and_changed_and_then_the_server_asks_for_the_login() {
    let home = tempfile::tempdir().unwrap();
    let home = home.path();
    assert_eq!(Server::start(home, &[]).end(), Some(0));
    let list = at(home, &["people", "list"], "");
    assert!(list.code == 0 && list.out.contains("Nobody has to log in"), "{list:?}");
    let add = |name: &str, role: &str, password: &str| {
        at(home, &["people", "add", name, "--role", role, "--password-stdin"], password)
    };
    let refused = add("Ines Marrow", "bench", PASSWORD);
    assert!(refused.code == 2 && refused.err.contains("he first person must be an admin"), "{refused:?}");
    let refused = add("Ines Marrow", "admin", "short\n");
    assert!(refused.code == 2 && refused.err.contains("fewer than 10 letters"), "{refused:?}");
    let added = add("Ines Marrow", "admin", PASSWORD);
    assert_eq!(
        added.out,
        "Ines Marrow may log in as admin. From now on everybody has to log in at this workspace.\n"
    );
    assert_eq!(add("Ivo Stone", "bench", PASSWORD).out, "Ivo Stone may log in as bench.\n");
    let changed = at(home, &["people", "change", "ivo stone", "--role", "reviewer", "--initials", "IVS"], "");
    assert_eq!(changed.out, "Ivo Stone: initials from IS to IVS; role from bench to reviewer.\n");
    let refused = at(home, &["people", "change", "Ines Marrow", "--deactivate"], "");
    assert!(refused.code == 2 && refused.err.contains("obody would be left"), "{refused:?}");
    let refused = at(home, &["people", "change", "Una Reed", "--role", "bench"], "");
    assert!(refused.code == 2 && refused.err.contains("Ines Marrow; Ivo Stone"), "{refused:?}");
    let listed = at(home, &["people", "list", "--json"], "");
    let people = &listed.json()["people"];
    assert_eq!((&people[1]["name"], &people[1]["role"]), (&"Ivo Stone".into(), &"reviewer".into()));
    assert!(people[0]["password"] == "kept" && !listed.out.contains("argon2"), "{}", listed.out);
    // No number is told of people that would need a unit.
    assert!(!listed.out.contains(": 0") && !listed.out.contains(": 1"), "{}", listed.out);

    let server = Server::start(home, &[]);
    let (status, answer) = server.get("/formulas");
    assert!(status == 303 && answer.contains("location: /login?to=/formulas"), "{answer}");
    assert_eq!(server.get("/api/formulas").0, 401);
    let (status, page) = server.get("/login");
    assert!(status == 200 && page.contains("Log in"), "{page}");
    assert_eq!(server.end(), Some(0));
}

#[test]
fn the_network_has_a_certificate_a_code_and_one_address() {
    let home = tempfile::tempdir().unwrap();
    let lan = ["--lan", "127.0.0.1", "--lan-port", "0", "--lan-name", "bench.example"];
    let server = Server::start(home.path(), &lan);
    let said = server.said["lan"].clone();
    assert!(said["addresses"][0].as_str().unwrap().starts_with("https://127.0.0.1:"), "{said}");
    assert!(said["addresses"][1].as_str().unwrap().starts_with("https://bench.example:"), "{said}");
    assert_eq!(said["first_code"].as_str().unwrap().len(), 8);
    assert_eq!(server.get("/formulas").0, 200, "nobody has to log in at the machine itself yet");
    let (status, page) = server.get("/pairing");
    let first: Vec<&str> = said["certificate_sha256"].as_str().unwrap().split(' ').take(4).collect();
    assert!(status == 200 && page.contains(&first.join(" ")), "{page}");
    assert_eq!(server.end(), Some(0));
    let again = Server::start(home.path(), &lan);
    assert_eq!(again.said["lan"]["certificate_sha256"], said["certificate_sha256"], "the certificate stays");
    assert_eq!(again.end(), Some(0));

    for wrong in [
        &["serve", "--lan", "0.0.0.0"][..],
        &["serve", "--lan", "127.0.0.1", "--lan-name", "a b"],
        &["serve", "--lan-name", "a"],
        &["serve", "--lan", "here"],
    ] {
        let refused = at(home.path(), &[wrong, &["--no-browser"]].concat(), "");
        assert_eq!(refused.code, 2, "{refused:?}");
    }
    let refused = at(home.path(), &["serve", "--lan", "192.0.2.1", "--no-browser"], "");
    assert!(refused.code == 1 && refused.err.contains("cannot be listened on"), "{refused:?}");
}
