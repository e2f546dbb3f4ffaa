//! `serve --lan`: on which address of the network, under which names, and what is said about it on the terminal.

use crate::answer::Failure;
use crate::arguments::Serve;
use levigate_web::{Bound, LanOptions};
use serde_json::{Value, json};
use std::net::{IpAddr, Ipv4Addr, UdpSocket};
use std::path::Path;

/// Port in the network when none is named.
const PORT: u16 = 7447;

/// Where to listen in the network, if that is asked for.
pub(crate) fn wanted(asked: &Serve, folder: &Path) -> Result<Option<LanOptions>, Failure> {
    let Some(address) = asked.lan else { return Ok(None) };
    let address = match address {
        Some(address) => address,
        None => own_address()?,
    };
    if address.is_unspecified() || address.is_multicast() {
        return Err(Failure::bad_option(
            "not-one-address",
            "--lan",
            format!("{address} does not say which address of this machine is meant"),
            "name the one address others reach it by: the certificate is made for it, and every other is refused",
        ));
    }
    for name in &asked.lan_name {
        let sound = !name.is_empty()
            && name.len() <= 253
            && name.split('.').all(|part| {
                (1..=63).contains(&part.len())
                    && part.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-')
            });
        if !sound {
            return Err(Failure::bad_option(
                "no-name",
                "--lan-name",
                format!("\"{name}\" is no name of a machine"),
                "write it as others type it, such as bench.example: letters, digits, - and dots",
            ));
        }
    }
    let names = asked.lan_name.iter().map(|name| name.to_ascii_lowercase()).collect();
    let port = asked.lan_port.unwrap_or(PORT);
    Ok(Some(LanOptions { address, port, names, folder: folder.to_owned() }))
}

/// The address this machine reaches others by. Nothing is sent: the system only chooses a way.
fn own_address() -> Result<IpAddr, Failure> {
    let chosen = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).and_then(|socket| {
        // An address for documentation that no machine has.
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        socket.local_addr()
    });
    match chosen {
        Ok(address) if !address.ip().is_unspecified() && !address.ip().is_loopback() => Ok(address.ip()),
        _ => Err(Failure::could_not(
            "no-network",
            "this machine has no way into a network, so its address there is not known",
            "connect it, or name its address: levigate serve --lan 192.168.1.20",
        )),
    }
}

/// Says in words of its own when the port in the network cannot be had, before the ports of this machine are tried.
pub(crate) async fn free(lan: Option<&LanOptions>) -> Result<(), Failure> {
    let Some(lan) = lan else { return Ok(()) };
    match tokio::net::TcpListener::bind((lan.address, lan.port)).await {
        Ok(_) => Ok(()),
        Err(error) => Err(Failure::could_not(
            "lan-not-bound",
            format!("{} port {} cannot be listened on: {error}", lan.address, lan.port),
            "see that the address is one of this machine's, or choose another port with --lan-port",
        )),
    }
}

/// What is said on the terminal about the door to the network.
pub(crate) fn in_words(bound: &Bound) -> String {
    let Some(told) = bound.pairing() else { return String::new() };
    let urls = told.urls.join("\n    ");
    let code = bound.first_code().map_or_else(String::new, |code| {
        format!(
            "Nobody may log in yet. Code for the first person, on the pairing page: {} {}\n",
            &code[..4],
            &code[4..]
        )
    });
    format!(
        "In the network, encrypted and with login:\n\n    {urls}\n\n\
         Certificate, SHA-256: {}\nTo pair a tablet, open {}pairing on this machine.\n{code}\n",
        told.fingerprint,
        bound.url()
    )
}

/// The same for programs.
pub(crate) fn as_json(bound: &Bound) -> Option<Value> {
    let told = bound.pairing()?;
    Some(json!({
        "addresses": told.urls,
        "certificate_sha256": told.fingerprint,
        "root_sha256": told.root_fingerprint,
        "until": told.until.to_string(),
        "first_code": bound.first_code(),
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(address: &str, names: &[&str]) -> Serve {
        Serve {
            lan: Some(Some(address.parse().unwrap())),
            lan_name: names.iter().map(|name| (*name).to_owned()).collect(),
            ..Serve::default()
        }
    }

    #[test]
    fn an_address_must_be_one_and_a_name_a_name() {
        let folder = Path::new("lab");
        assert!(wanted(&Serve::default(), folder).unwrap().is_none());
        let found = wanted(&asked("192.0.2.7", &["Bench.Example"]), folder).unwrap().unwrap();
        assert_eq!((found.port, found.names), (PORT, vec!["bench.example".to_owned()]));
        for (address, names) in [
            ("0.0.0.0", &[][..]),
            ("::", &[]),
            ("224.0.0.1", &[]),
            ("192.0.2.7", &["a b"]),
            ("192.0.2.7", &["a..b"]),
        ] {
            assert!(wanted(&asked(address, names), folder).is_err(), "{address} {names:?}");
        }
    }
}
