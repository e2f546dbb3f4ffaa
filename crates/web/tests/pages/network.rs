//! The door to the network, over real sockets: the certificate holds for a client that knows the root and nothing else, whoever
//! comes without encryption is told, and the first person comes in with the code.

use crate::desk::{desk_at, workspace};
use crate::people::PASSWORD;
use levigate_web::{Bound, LanOptions, ServeOptions, bind};
use rustls::pki_types::{CertificateDer, ServerName};
use rustls::{ClientConfig, RootCertStore};
use serde_json::json;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::Path;
use std::sync::Arc;
use tokio::io::{AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt};
use tokio::net::TcpStream;

async fn bound(folder: &Path) -> Bound {
    let lan = LanOptions {
        address: Ipv4Addr::LOCALHOST.into(),
        port: 0,
        names: vec!["bench.example".to_owned()],
        folder: folder.to_owned(),
    };
    bind(Arc::new(desk_at(workspace()).await), ServeOptions { lan: Some(lan), ..ServeOptions::default() })
        .await
        .unwrap()
}

/// Sends a request and gives the whole answer.
async fn asked(mut stream: impl AsyncRead + AsyncWrite + Unpin, head: &str, body: &str) -> String {
    let request = format!("{head}\r\nConnection: close\r\nContent-Length: {}\r\n\r\n{body}", body.len());
    stream.write_all(request.as_bytes()).await.unwrap();
    let mut answer = Vec::new();
    // A peer that ends without a goodbye of TLS has still said everything.
    let _ = stream.read_to_end(&mut answer).await;
    String::from_utf8_lossy(&answer).into_owned()
}

fn client(root: &[u8]) -> tokio_rustls::TlsConnector {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from(root.to_vec())).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = ClientConfig::builder_with_provider(provider)
        .with_safe_default_protocol_versions()
        .unwrap()
        .with_root_certificates(roots)
        .with_no_client_auth();
    tokio_rustls::TlsConnector::from(Arc::new(config))
}

#[tokio::test]
async fn the_door_to_the_network_is_encrypted_and_everything_has_its_answer() {
    let folder = tempfile::tempdir().unwrap();
    let bound = bound(folder.path()).await;
    let (home, code) = (bound.address, bound.first_code().unwrap());
    let told = bound.pairing().unwrap().clone();
    let port: u16 = told.urls[0].trim_end_matches('/').rsplit(':').next().unwrap().parse().unwrap();
    assert_eq!(told.urls, [format!("https://127.0.0.1:{port}/"), format!("https://bench.example:{port}/")]);
    let network = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let serving = tokio::spawn(bound.run(async move {
        let _ = stopped.await;
    }));

    // The names of the certificate, and no other.
    for (name, sound) in [("127.0.0.1", true), ("bench.example", true), ("elsewhere.example", false)] {
        let stream = TcpStream::connect(network).await.unwrap();
        let agreed = client(&told.root).connect(ServerName::try_from(name).unwrap(), stream).await;
        assert_eq!(agreed.is_ok(), sound, "{name}");
        let Ok(stream) = agreed else { continue };
        let answer = asked(stream, &format!("GET /login HTTP/1.1\r\nHost: {name}:{port}"), "").await;
        assert!(answer.starts_with("HTTP/1.1 200 "), "{answer}");
        let low = answer.to_lowercase();
        assert!(low.contains("content-security-policy:") && !low.contains("strict-transport"), "{answer}");
    }
    let stream = TcpStream::connect(network).await.unwrap();
    let stream =
        client(&told.root).connect(ServerName::try_from("127.0.0.1").unwrap(), stream).await.unwrap();
    let answer = asked(stream, &format!("GET /formulas HTTP/1.1\r\nHost: 127.0.0.1:{port}"), "").await;
    assert!(
        answer.starts_with("HTTP/1.1 403 ") && answer.contains("Nobody can log in here yet."),
        "{answer}"
    );

    // Without encryption.
    let answer = asked(TcpStream::connect(network).await.unwrap(), "GET / HTTP/1.1\r\nHost: x", "").await;
    assert!(answer.starts_with("HTTP/1.1 400 "), "{answer}");
    assert!(answer.contains(&format!("This address is encrypted. Open https://127.0.0.1:{port}/ instead.")));
    // Neither one nor the other.
    let answer = asked(TcpStream::connect(network).await.unwrap(), "\0\0\0", "").await;
    assert_eq!(answer, "");

    // At the machine itself: the fingerprint, and the first person.
    let page =
        asked(TcpStream::connect(home).await.unwrap(), &format!("GET /pairing HTTP/1.1\r\nHost: {home}"), "")
            .await;
    for four in told.fingerprint.split(' ').collect::<Vec<_>>().chunks(4) {
        assert!(page.contains(&four.join(" ")), "{page}");
    }
    assert!(page.contains("<svg") && page.contains("id=\"first-person\"") && !page.contains(&code));
    let token = page.split("levigate-token\" content=\"").nth(1).unwrap()[..64].to_owned();
    let first = |code: &str| json!({ "code": code, "name": "Ines Marrow", "password": PASSWORD }).to_string();
    let head = format!(
        "POST /api/people/first HTTP/1.1\r\nHost: {home}\r\nOrigin: http://{home}\r\nX-Levigate-Token: {token}"
    );
    let answer = asked(TcpStream::connect(home).await.unwrap(), &head, &first("22222222")).await;
    assert!(answer.starts_with("HTTP/1.1 403 ") && answer.contains("9 tries are left"), "{answer}");
    let typed = format!("{} {}", &code[..4], code[4..].to_lowercase());
    let answer = asked(TcpStream::connect(home).await.unwrap(), &head, &first(&typed)).await;
    assert!(answer.starts_with("HTTP/1.1 200 ") && answer.contains("\"admin\""), "{answer}");
    let answer = asked(TcpStream::connect(home).await.unwrap(), &head, &first(&code)).await;
    assert!(answer.starts_with("HTTP/1.1 403 "), "the code is good once: {answer}");
    let answer = asked(
        TcpStream::connect(home).await.unwrap(),
        &format!("GET /formulas HTTP/1.1\r\nHost: {home}"),
        "",
    )
    .await;
    assert!(answer.starts_with("HTTP/1.1 303 "), "now everybody logs in, here too: {answer}");

    let _ = stop.send(());
    serving.await.unwrap().unwrap();
}

#[tokio::test]
async fn a_code_is_worthless_after_ten_wrong_ones() {
    let folder = tempfile::tempdir().unwrap();
    let bound = bound(folder.path()).await;
    let (home, code) = (bound.address, bound.first_code().unwrap());
    let serving = tokio::spawn(bound.run(std::future::pending()));
    let page =
        asked(TcpStream::connect(home).await.unwrap(), &format!("GET /pairing HTTP/1.1\r\nHost: {home}"), "")
            .await;
    let token = page.split("levigate-token\" content=\"").nth(1).unwrap()[..64].to_owned();
    let head = format!("POST /api/people/first HTTP/1.1\r\nHost: {home}\r\nX-Levigate-Token: {token}");
    for _ in 0..10 {
        let body = json!({ "code": "22222222", "name": "A B", "password": PASSWORD }).to_string();
        let answer = asked(TcpStream::connect(home).await.unwrap(), &head, &body).await;
        assert!(answer.starts_with("HTTP/1.1 403 "), "{answer}");
    }
    let body = json!({ "code": code, "name": "Ines Marrow", "password": PASSWORD }).to_string();
    let answer = asked(TcpStream::connect(home).await.unwrap(), &head, &body).await;
    assert!(answer.starts_with("HTTP/1.1 403 "), "{answer}");
    serving.abort();
}
