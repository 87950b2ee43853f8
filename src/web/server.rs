//! The only socket: takes connections within limits and hands their requests to the router.

use super::app::App;
use super::bounds::Bounds;
use super::crowd::Crowd;
use super::routes::router;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::Semaphore;

/// How long a thread waits for the next photo: longer than any server runs.
const FOR_GOOD: Duration = Duration::from_secs(10 * 365 * 86_400);
/// Bytes of a request's head, with room to read ahead.
const HEAD_BYTES: usize = 32 << 10;

/// A socket that listens, not yet served.
#[derive(Debug)]
pub struct Listening(std::net::TcpListener);

impl Listening {
    /// Listens at an address; port 0 takes any free one.
    ///
    /// # Errors
    /// What the system says, for instance that the port is in use.
    pub fn at(address: SocketAddr) -> io::Result<Self> {
        let listener = std::net::TcpListener::bind(address)?;
        listener.set_nonblocking(true)?;
        Ok(Listening(listener))
    }

    /// Where it listens.
    ///
    /// # Errors
    /// What the system says.
    pub fn address(&self) -> io::Result<SocketAddr> {
        self.0.local_addr()
    }

    /// Serves until the process is told to stop.
    ///
    /// # Errors
    /// What the system says when it gives no threads.
    pub fn serve(self, app: Arc<App>) -> io::Result<()> {
        let mut threads = tokio::runtime::Builder::new_multi_thread();
        // The same few threads read all photos: the allocator gives each new thread memory of its own and keeps what it leaves behind.
        threads.enable_all().max_blocking_threads(app.hands).thread_keep_alive(FOR_GOOD);
        threads.build()?.block_on(self.run(app))
    }

    async fn run(self, app: Arc<App>) -> io::Result<()> {
        let listener = TcpListener::from_std(self.0)?;
        let bounds = app.bounds;
        let router = router(app);
        let places = Arc::new(Semaphore::new(bounds.connections.max(1)));
        let crowd = Crowd::default();
        loop {
            let Ok(place) = Arc::clone(&places).acquire_owned().await else { return Ok(()) };
            let stream = tokio::select! {
                taken = listener.accept() => taken,
                _ = tokio::signal::ctrl_c() => return Ok(()),
            };
            match stream {
                Ok((stream, from)) => {
                    let Some(counted) = crowd.let_in(from.ip().to_canonical(), bounds.of_one) else { continue };
                    let router = router.clone();
                    tokio::spawn(async move {
                        one(stream, router, bounds).await;
                        drop((place, counted));
                    });
                }
                // No more files can be opened, most likely; waiting lets some be closed.
                Err(_) => tokio::time::sleep(Duration::from_millis(100)).await,
            }
        }
    }
}

async fn one(stream: TcpStream, router: axum::Router, bounds: Bounds) {
    let _ = stream.set_nodelay(true);
    let service = TowerToHyperService::new(router);
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(bounds.head)
        .max_buf_size(HEAD_BYTES)
        .keep_alive(true)
        .serve_connection(TokioIo::new(stream), service);
    // Whatever goes wrong on a connection is between it and its device; nothing half-done is kept.
    let _ = tokio::time::timeout(bounds.whole, connection).await;
}

/// The address by which other devices of the network reach this machine, as the system would choose it. Nothing is sent.
#[must_use]
pub fn own_address() -> Option<IpAddr> {
    // 192.0.2.1 belongs to documentation (RFC 5737): naming a far end makes the system choose its near one.
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).ok()?;
    Some(socket.local_addr().ok()?.ip()).filter(|ip| !ip.is_unspecified() && !ip.is_loopback())
}
