//! Connections: taken, encrypted where the door leads into the network, answered, ended. Everything a client may hold up has a limit,
//! so that nobody who only waits keeps others out.

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::time::{sleep, timeout};
use tokio_rustls::TlsAcceptor;
use tower::ServiceExt;

/// Connections of one door at a time; further ones wait to be taken.
const MOST: u32 = 256;
/// Connections of one address at a time, where the door leads into the network.
const MOST_OF_ONE: usize = 32;
/// Longest time for the first byte and the agreement on a key.
const HANDSHAKE: Duration = Duration::from_secs(10);
/// Longest time for the head of a request, and between two requests.
const HEAD: Duration = Duration::from_secs(20);
/// After this time a connection is asked to end; a browser opens another without being noticed.
const AGE: Duration = Duration::from_secs(5 * 60);
/// Longest time for the answer under way when a connection is asked to end; longer than an answer may take.
const LAST_ANSWER: Duration = Duration::from_secs(45);
/// Most bytes that are held of a head.
const MOST_HELD: usize = 64 * 1024;
/// A pause when the system has no connection to give.
const BREATH: Duration = Duration::from_millis(100);
/// First byte of a TLS connection: a handshake record.
const TLS: u8 = 0x16;

/// Where a request comes from.
#[derive(Clone, Copy, Debug)]
pub struct Peer(pub SocketAddr);

/// What a door is made of.
pub(crate) struct Listening {
    pub(crate) listener: TcpListener,
    pub(crate) router: Router,
    /// Encryption, and the address that is told to whoever comes without.
    pub(crate) tls: Option<(TlsAcceptor, String)>,
}

impl std::fmt::Debug for Listening {
    fn fmt(&self, formatter: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        formatter.debug_struct("Listening").field("listener", &self.listener).finish_non_exhaustive()
    }
}

/// Connections by address.
#[derive(Default)]
struct Counted(Mutex<BTreeMap<IpAddr, usize>>);

/// A place among the connections; free again when it goes.
struct Held {
    counted: Arc<Counted>,
    address: IpAddr,
    _permit: OwnedSemaphorePermit,
}

impl Drop for Held {
    fn drop(&mut self) {
        let mut counted = self.counted.0.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(many) = counted.get_mut(&self.address) {
            *many -= 1;
            if *many == 0 {
                counted.remove(&self.address);
            }
        }
    }
}

fn hold(counted: &Arc<Counted>, address: IpAddr, most: usize, permit: OwnedSemaphorePermit) -> Option<Held> {
    let mut held = counted.0.lock().unwrap_or_else(PoisonError::into_inner);
    let many = held.entry(address).or_insert(0);
    if *many >= most {
        return None;
    }
    *many += 1;
    Some(Held { counted: Arc::clone(counted), address, _permit: permit })
}

/// Answers until told to stop, and then until the answers under way are given.
pub(crate) async fn answer(door: Listening, mut told: watch::Receiver<bool>) {
    let room = Arc::new(Semaphore::new(MOST as usize));
    let counted = Arc::new(Counted::default());
    let most = if door.tls.is_some() { MOST_OF_ONE } else { MOST as usize };
    loop {
        let Ok(permit) = Arc::clone(&room).acquire_owned().await else { return };
        let taken = tokio::select! {
            taken = door.listener.accept() => taken,
            _ = told.wait_for(|stop| *stop) => break,
        };
        let Ok((stream, peer)) = taken else {
            sleep(BREATH).await;
            continue;
        };
        let Some(held) = hold(&counted, peer.ip().to_canonical(), most, permit) else { continue };
        let (router, tls, told) = (door.router.clone(), door.tls.clone(), told.clone());
        tokio::spawn(async move {
            let _held = held;
            let _ = stream.set_nodelay(true);
            match tls {
                None => talk(stream, peer, router, told).await,
                Some((acceptor, address)) => {
                    if let Some(stream) = encrypted(stream, &acceptor, &address).await {
                        talk(stream, peer, router, told).await;
                    }
                }
            }
        });
    }
    let _ = room.acquire_many(MOST).await;
}

/// Agrees on a key. Whoever comes without encryption is told where to go, in words.
async fn encrypted(
    mut stream: TcpStream,
    acceptor: &TlsAcceptor,
    address: &str,
) -> Option<tokio_rustls::server::TlsStream<TcpStream>> {
    let mut first = [0_u8; 1];
    match timeout(HANDSHAKE, stream.peek(&mut first)).await {
        Ok(Ok(1)) if first[0] == TLS => timeout(HANDSHAKE, acceptor.accept(stream)).await.ok()?.ok(),
        Ok(Ok(1)) if first[0].is_ascii_uppercase() => {
            let words = format!("This address is encrypted. Open {address} instead.\n");
            let answer = format!(
                "HTTP/1.1 400 Bad Request\r\ncontent-type: text/plain; charset=utf-8\r\ncontent-length: {}\r\n\
                 x-content-type-options: nosniff\r\nconnection: close\r\n\r\n{words}",
                words.len()
            );
            let _ = timeout(HANDSHAKE, async {
                stream.write_all(answer.as_bytes()).await?;
                stream.shutdown().await
            })
            .await;
            None
        }
        _ => None,
    }
}

/// Answers the requests of one connection.
async fn talk(
    stream: impl AsyncRead + AsyncWrite + Unpin + Send + 'static,
    peer: SocketAddr,
    router: Router,
    mut told: watch::Receiver<bool>,
) {
    let service = service_fn(move |request: Request<Incoming>| {
        let mut request = request.map(Body::new);
        request.extensions_mut().insert(Peer(peer));
        router.clone().oneshot(request)
    });
    let mut connection = pin!(
        http1::Builder::new()
            .timer(TokioTimer::new())
            .header_read_timeout(HEAD)
            .max_buf_size(MOST_HELD)
            .serve_connection(TokioIo::new(stream), service)
    );
    tokio::select! {
        _ = connection.as_mut() => return,
        _ = told.wait_for(|stop| *stop) => {}
        () = sleep(AGE) => {}
    }
    connection.as_mut().graceful_shutdown();
    let _ = timeout(LAST_ANSWER, connection).await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use axum::routing::get;
    use tokio::io::AsyncReadExt as _;
    use tokio::sync::Notify;

    #[tokio::test]
    async fn the_last_answer_under_way_is_given_before_the_door_is_closed() {
        let (begun, go) = (Arc::new(Notify::new()), Arc::new(Notify::new()));
        let (begins, goes) = (Arc::clone(&begun), Arc::clone(&go));
        let slow = move || {
            let (begins, goes) = (Arc::clone(&begins), Arc::clone(&goes));
            async move {
                begins.notify_one();
                goes.notified().await;
                "given"
            }
        };
        let listener = TcpListener::bind((std::net::Ipv4Addr::LOCALHOST, 0)).await.unwrap();
        let address = listener.local_addr().unwrap();
        let (tell, told) = watch::channel(false);
        let door = Listening { listener, router: Router::new().route("/", get(slow)), tls: None };
        let serving = tokio::spawn(answer(door, told));
        let mut stream = TcpStream::connect(address).await.unwrap();
        stream.write_all(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n").await.unwrap();
        begun.notified().await;
        tell.send(true).unwrap();
        // Everything on this one thread that can go on has gone on.
        for _ in 0..100 {
            tokio::task::yield_now().await;
        }
        assert!(!serving.is_finished());
        go.notify_one();
        let mut read = String::new();
        stream.read_to_string(&mut read).await.unwrap();
        assert!(read.ends_with("given"), "{read}");
        serving.await.unwrap();
    }
}
