//! The server under load: a reading against the command line, twenty phones at once, a thousand connections at once, and a long run of
//! sound and broken uploads.
//!
//! `cargo bench --bench serve` for the first three, `cargo bench --bench serve -- --soak 2000` for all.

#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a bench that cannot go on stops, and prints its figures")]

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// A textured photo of 12 megapixels; `TINTPOINT_PHOTO` names another.
fn photo(folder: &Path) -> PathBuf {
    if let Some(path) = std::env::var_os("TINTPOINT_PHOTO") {
        return PathBuf::from(path);
    }
    let made = Command::new(env!("CARGO_BIN_EXE_tintpoint")).arg("demo").arg(folder).output().unwrap();
    assert!(made.status.success());
    folder.join("row-of-cups.jpg")
}

struct Served {
    child: Child,
    host: String,
}

impl Served {
    fn start(folder: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_tintpoint"))
            .args(["serve", "--listen", "127.0.0.1:0"])
            .env("TINTPOINT_DATA", folder)
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.as_mut().unwrap()).read_line(&mut line).unwrap();
        let host = line.trim().trim_start_matches("http://").trim_end_matches('/').to_owned();
        Served { child, host }
    }

    /// Resident memory now, MB; 0 where the system does not tell.
    fn memory(&self) -> f64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap_or_default();
        let line = status.lines().find(|line| line.starts_with("VmRSS:")).unwrap_or_default();
        line.split_whitespace().nth(1).and_then(|kb| kb.parse::<f64>().ok()).unwrap_or_default() / 1024.0
    }

    fn asked(&self, head: &str, body: &[u8]) -> std::io::Result<(u16, String)> {
        let mut stream = TcpStream::connect(&self.host)?;
        stream.set_read_timeout(Some(Duration::from_secs(60)))?;
        stream.write_all(head.as_bytes())?;
        stream.write_all(body)?;
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer)?;
        let text = String::from_utf8_lossy(&answer).into_owned();
        let status = text.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or_default();
        Ok((status, text))
    }

    fn get(&self, path: &str) -> std::io::Result<(u16, String)> {
        self.asked(&format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.host), b"")
    }

    fn head(&self, length: usize) -> String {
        format!(
            "POST /check HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nContent-Type: multipart/form-data; boundary=edge\r\nContent-Length: {length}\r\nConnection: close\r\n\r\n",
            self.host
        )
    }

    /// Sends a photo and waits for its page; true when that shows a pH or a reason.
    fn read(&self, body: &[u8]) -> bool {
        let Ok((303, answer)) = self.asked(&self.head(body.len()), body) else { return false };
        let place = answer.lines().find_map(|line| line.strip_prefix("location: ")).unwrap_or_default().to_owned();
        self.get(&place).is_ok_and(|(status, page)| status == 200 && (page.contains("pH ") || page.contains("role=\"alert\"")))
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn form(photo: &[u8]) -> Vec<u8> {
    let mut body = b"--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\n".to_vec();
    body.extend_from_slice(photo);
    body.extend_from_slice(b"\r\n--edge--\r\n");
    body
}

fn median(mut times: Vec<f64>) -> f64 {
    times.sort_by(f64::total_cmp);
    times[times.len() / 2]
}

fn timed(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let soak = arguments.iter().position(|a| a == "--soak").and_then(|i| arguments.get(i + 1)?.parse().ok()).unwrap_or(0);
    let folder = tempfile::tempdir().unwrap();
    let path = photo(folder.path());
    let body = form(&std::fs::read(&path).unwrap());
    let served = Served::start(folder.path());
    assert!(served.read(&body), "the photo is read");

    let (mut page, mut line) = (Vec::new(), Vec::new());
    for _ in 0..15 {
        page.push(timed(|| assert!(served.read(&body))));
        line.push(timed(|| drop(Command::new(env!("CARGO_BIN_EXE_tintpoint")).arg("read").arg(&path).output().unwrap())));
    }
    let (page, line) = (median(page), median(line));
    println!(
        "one photo of {:.1} MB: page {:.0} ms, command line {:.0} ms, {:.2} times",
        body.len() as f64 / 1e6,
        1e3 * page,
        1e3 * line,
        page / line
    );

    let slowest = std::thread::scope(|scope| {
        let phones: Vec<_> = (0..20).map(|_| scope.spawn(|| timed(|| assert!(served.read(&body))))).collect();
        phones.into_iter().map(|phone| phone.join().unwrap()).fold(0.0, f64::max)
    });
    println!("20 phones at once: slowest {slowest:.2} s; memory {:.0} MB", served.memory());

    // Connections that ask for nothing, as many as the system lets one process open; then somebody who wants a page.
    let idle: Vec<TcpStream> = (0..1000).map_while(|_| TcpStream::connect(&served.host).ok()).collect();
    let waited = timed(|| assert!(served.get("/").is_ok_and(|(status, _)| status == 200)));
    println!("{} idle connections: the page comes after {waited:.1} s; memory {:.0} MB", idle.len(), served.memory());
    drop(idle);

    if soak > 0 {
        soaked(&served, &body, soak);
    }
}

/// Uploads of five kinds in turn by four phones: sound, cut short, nonsense, dropped in the middle, and slow.
fn soaked(served: &Served, body: &[u8], uploads: usize) {
    let broken = form(&body[200..body.len() / 2]);
    let nonsense = form(b"no photo at all");
    let next = AtomicUsize::new(0);
    let good = AtomicUsize::new(0);
    let mut marks = Vec::new();
    let start = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..4 {
            scope.spawn(|| {
                loop {
                    let n = next.fetch_add(1, Ordering::Relaxed);
                    if n >= uploads {
                        break;
                    }
                    match n % 5 {
                        0 | 1 => drop(good.fetch_add(usize::from(served.read(body)), Ordering::Relaxed)),
                        2 => assert!(served.read(&broken)),
                        3 => assert!(served.read(&nonsense)),
                        _ => dropped(served, body, n.is_multiple_of(2)),
                    }
                }
            });
        }
        while next.load(Ordering::Relaxed) < uploads {
            std::thread::sleep(Duration::from_millis(200));
            let done = next.load(Ordering::Relaxed);
            if done * 10 / uploads > marks.len() {
                marks.push(served.memory());
            }
        }
    });
    let wanted = (0..uploads).filter(|n| n % 5 < 2).count();
    println!("{uploads} uploads in {:.0} s: {} of {wanted} sound ones read", start.elapsed().as_secs_f64(), good.into_inner());
    println!("memory at every tenth, MB: {}", marks.iter().map(|m| format!("{m:.0}")).collect::<Vec<_>>().join(" "));
    // The first fifth fills what is kept.
    let late = marks.get(marks.len() / 5..).unwrap_or_default().to_vec();
    if !late.is_empty() {
        let most = late.iter().copied().fold(0.0, f64::max);
        println!("beyond its first fifth it is {:.0} % above its median at most", 100.0 * (most / median(late) - 1.0));
    }
    assert!(served.read(body), "it still reads");
}

fn dropped(served: &Served, body: &[u8], is_slow: bool) {
    let Ok(mut stream) = TcpStream::connect(&served.host) else { return };
    let _ = stream.write_all(served.head(body.len()).as_bytes());
    for part in body[..body.len() / 3].chunks(64 << 10) {
        if is_slow {
            std::thread::sleep(Duration::from_millis(20));
        }
        if stream.write_all(part).is_err() {
            return;
        }
    }
}
