//! What somebody on the same network may try: over a real socket where the order or the pace of bytes matters.

use super::*;
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;
use tintpoint::web::bounds::Bounds;
use tintpoint::web::server::Listening;

/// Bounds that a test can wait for.
const SHORT: Bounds = Bounds {
    connections: 16,
    of_one: 16,
    head: Duration::from_millis(300),
    silence: Duration::from_millis(300),
    whole: Duration::from_secs(2),
};
/// A server that has not answered or hung up by then never will.
const NEVER: Duration = Duration::from_secs(30);

/// A server on a port of its own, until the test ends.
fn served(bounds: Bounds) -> SocketAddr {
    let listening = Listening::at(SocketAddr::from(([127, 0, 0, 1], 0))).unwrap();
    let address = listening.address().unwrap();
    let app = Arc::new(App::alone(1, Shelf::default()).within(bounds));
    std::thread::spawn(move || listening.serve(app));
    address
}

fn connected(to: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(to).unwrap();
    stream.set_read_timeout(Some(NEVER)).unwrap();
    stream
}

/// All that comes until the server hangs up.
fn rest(mut stream: TcpStream) -> String {
    let mut all = Vec::new();
    match stream.read_to_end(&mut all) {
        Ok(_) => {}
        Err(error) => assert!(error.kind() == ErrorKind::ConnectionReset, "the server neither answers nor hangs up: {error}"),
    }
    String::from_utf8_lossy(&all).into_owned()
}

/// Sends the bytes as they are, and reads the answer.
fn raw(to: SocketAddr, request: &[u8]) -> String {
    let mut stream = connected(to);
    stream.write_all(request).unwrap();
    rest(stream)
}

fn status(answer: &str) -> u16 {
    answer.split(' ').nth(1).and_then(|status| status.parse().ok()).unwrap_or_default()
}

fn line_of(to: SocketAddr, path: &str) -> String {
    format!("GET {path} HTTP/1.1\r\nHost: {to}\r\nConnection: close\r\n\r\n")
}

/// Sends a part over and over, with a pause, until the server hangs up.
fn drips(mut stream: TcpStream, part: &[u8], pause: Duration) -> String {
    let mut writing = stream.try_clone().unwrap();
    let dripping = std::thread::spawn({
        let part = part.to_vec();
        move || {
            let many = NEVER.as_millis() / pause.as_millis();
            let sent = (0..many).take_while(|_| {
                std::thread::sleep(pause);
                writing.write_all(&part).is_ok()
            });
            sent.count() as u128 == many
        }
    });
    let mut all = Vec::new();
    let _ = stream.read_to_end(&mut all);
    drop(stream);
    assert!(!dripping.join().unwrap(), "the server takes it for ever");
    String::from_utf8_lossy(&all).into_owned()
}

#[test]
fn slow_heads_are_cut_off() {
    let to = served(SHORT);
    // Nothing at all, half a line, a line after another.
    for start in ["", "GET / HT", "GET / HTTP/1.1\r\n"] {
        let mut stream = connected(to);
        stream.write_all(start.as_bytes()).unwrap();
        assert_ne!(status(&rest(stream)), 200, "{start}");
    }
    let mut stream = connected(to);
    stream.write_all(b"GET / HTTP/1.1\r\n").unwrap();
    assert_ne!(status(&drips(stream, b"X-Slow: 1\r\n", Duration::from_millis(50))), 200);
    // A connection that has asked and stays open for nothing.
    let mut stream = connected(to);
    stream.write_all(format!("GET / HTTP/1.1\r\nHost: {to}\r\n\r\n").as_bytes()).unwrap();
    assert_eq!(status(&rest(stream)), 200);
    assert_eq!(status(&raw(to, line_of(to, "/").as_bytes())), 200);
}

#[test]
fn slow_forms_are_cut_off() {
    let to = served(SHORT);
    let head = |path: &str, kind: &str| {
        format!("POST {path} HTTP/1.1\r\nHost: {to}\r\nOrigin: http://{to}\r\nContent-Type: {kind}\r\nContent-Length: 60000\r\n\r\n")
    };
    let photo = "multipart/form-data; boundary=edge";
    let part = "--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\n";
    for (path, kind, start) in [("/check", photo, part), ("/check", photo, ""), ("/theme", "application/x-www-form-urlencoded", "theme=")] {
        let mut stream = connected(to);
        stream.write_all(head(path, kind).as_bytes()).unwrap();
        stream.write_all(start.as_bytes()).unwrap();
        assert_eq!(status(&rest(stream)), 408, "{path} after `{start}`");
    }
    // A byte now and then: a form of words has its time for the whole, a photo only ends with the connection.
    let mut stream = connected(to);
    stream.write_all(head("/theme", "application/x-www-form-urlencoded").as_bytes()).unwrap();
    assert_eq!(status(&drips(stream, b"x", Duration::from_millis(50))), 408);
    let mut stream = connected(to);
    stream.write_all(format!("{}{part}", head("/check", photo)).as_bytes()).unwrap();
    assert_ne!(status(&drips(stream, b"x", Duration::from_millis(50))), 303);
    assert_eq!(status(&raw(to, line_of(to, "/").as_bytes())), 200);
}

#[test]
fn idle_connections_do_not_keep_others_out() {
    let to = served(SHORT);
    let idle: Vec<TcpStream> = (0..100).map(|_| connected(to)).collect();
    assert_eq!(status(&raw(to, line_of(to, "/").as_bytes())), 200);
    drop(idle);
}

#[test]
fn no_path_leads_to_a_file() {
    let to = served(Bounds::default());
    for path in [
        "/../../../../etc/passwd",
        "/asset/../../../../etc/passwd",
        "/asset/%2e%2e/%2e%2e/etc/passwd",
        "/asset/..%2f..%2fetc%2fpasswd",
        "/asset/page.css%00.svg",
        "/asset//etc/passwd",
        "/check/..%5c..%5cetc%5cpasswd/photo.jpg",
        "/baths/%2e%2e",
        "/baths/%00",
        "/baths/%ff%fe",
        "/print/..%2fsheet.pdf",
        "//etc/passwd",
        "/\0",
        "/check/\x7f",
    ] {
        let answer = raw(to, line_of(to, path).as_bytes());
        assert!((400..500).contains(&status(&answer)), "{path:?}: {answer}");
        assert!(!answer.contains("root:"), "{path}");
    }
}

#[test]
fn heads_that_are_none_are_refused() {
    let to = served(Bounds::default());
    let long = "x".repeat(64 << 10);
    for request in [
        "GET / HTTP/1.1\r\nConnection: close\r\n\r\n".to_owned(),
        format!("GET /{long} HTTP/1.1\r\nHost: {to}\r\nConnection: close\r\n\r\n"),
        format!("GET / HTTP/1.1\r\nHost: {to}\r\nCookie: {long}\r\nConnection: close\r\n\r\n"),
        "\r\n\r\n\0\0\0".to_owned(),
        "GET / HTTP/9.9\r\n\r\n".to_owned(),
        format!("POST /theme HTTP/1.1\r\nHost: {to}\r\nOrigin: http://{to}\r\nContent-Length: -1\r\nConnection: close\r\n\r\n"),
        format!(
            "POST /theme HTTP/1.1\r\nHost: {to}\r\nOrigin: http://{to}\r\nContent-Length: 5\r\nContent-Length: 6\r\nConnection: close\r\n\r\ntheme="
        ),
    ] {
        let answer = raw(to, request.as_bytes());
        assert!(answer.is_empty() || (400..500).contains(&status(&answer)), "{}: {answer}", &request[..request.len().min(60)]);
    }
    assert_eq!(status(&raw(to, line_of(to, "/").as_bytes())), 200);
}

fn broken(kind: &str, body: &[u8]) -> Request<Body> {
    Request::post("/check")
        .header(header::HOST, HOST)
        .header(header::ORIGIN, ORIGIN)
        .header(header::CONTENT_TYPE, kind)
        .header(header::CONTENT_LENGTH, body.len())
        .body(Body::from(body.to_vec()))
        .unwrap()
}

#[test]
fn broken_forms_are_refused() {
    runtime().block_on(async {
        let app = alone();
        let kind = "multipart/form-data; boundary=edge";
        let part = |more: &str, body: &str| format!("--edge\r\nContent-Disposition: form-data; name=\"{more}\"\r\n\r\n{body}\r\n");
        let many = (0..40).map(|n| part(&format!("field-{n}"), "x")).collect::<String>() + "--edge--\r\n";
        let long = part("light", &"x".repeat(10_000)) + "--edge--\r\n";
        for (kind, body) in [
            ("multipart/form-data", "--edge--\r\n"),
            ("multipart/form-data; boundary=", "--edge--\r\n"),
            (kind, ""),
            (kind, "--other\r\n\r\nx\r\n--other--\r\n"),
            (kind, "--edge\r\nno header at all"),
            (kind, "--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"a.jpg\"\r\n\r\nbroken off"),
            (kind, "--edge\r\nContent-Disposition: \0\r\n\r\nx\r\n--edge--\r\n"),
            (kind, "--edge--\r\n"),
            (kind, &many),
            (kind, &long),
            ("application/json", "{\"photo\": 1}"),
        ] {
            let status = asked(&app, broken(kind, body.as_bytes())).await.status();
            assert!(status.is_client_error(), "{status} for {kind}: {}", &body[..body.len().min(80)]);
        }
        assert_eq!(asked(&app, get("/")).await.status(), StatusCode::OK);
    });
}

// A few bytes must not make us unpack gigabytes.
#[test]
fn pictures_of_impossible_size_yield_no_number() {
    let folder = demo::photos();
    let mut bytes = std::fs::read(folder.path().join("fresh.jpg")).unwrap();
    // Height and width in the frame header (ITU-T T.81, B.2.2).
    let frame = bytes.windows(2).position(|two| two == [0xFF, 0xC0]).unwrap();
    bytes[frame + 5..frame + 9].fill(0xFF);
    // A PNG of 2^31 - 1 pixels each way (PNG 3rd edition, 11.2.1); sums of its chunks are wrong as well.
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\x7f\xff\xff\xff\x7f\xff\xff\xff\x08\x02\0\0\0\0\0\0\0".to_vec();
    png.extend_from_slice(b"\0\0\0\0IEND\xae\x42\x60\x82");
    runtime().block_on(async {
        let app = alone();
        for (name, bytes) in [("huge.jpg", &bytes), ("huge.png", &png)] {
            let place = location(&asked(&app, upload(name, bytes, &[])).await);
            let page = text(asked(&app, get(&place)).await).await;
            assert!(page.contains("role=\"alert\"") && !page.contains("pH "), "{name}: {page}");
        }
    });
}

/// Codes shown by the server of the next two tests.
static SHOWN: Mutex<Vec<String>> = Mutex::new(Vec::new());

#[test]
fn guessing_costs_time_and_the_code() {
    let shown = || SHOWN.lock().unwrap().clone();
    runtime().block_on(async {
        let app = router(Arc::new(App::paired(1, Shelf::default(), |code| SHOWN.lock().unwrap().push(code.to_owned())).unwrap()));
        let first = shown()[0].clone();
        let start = std::time::Instant::now();
        // All at once, so that the test takes no longer than one.
        let guesses: Vec<_> = (0..10).map(|n| tokio::spawn(app.clone().oneshot(post("/pair", &format!("code=WRONG{n:03}"))))).collect();
        for guess in guesses {
            assert_eq!(guess.await.unwrap().unwrap().status(), StatusCode::UNAUTHORIZED);
        }
        assert!(start.elapsed() >= Duration::from_secs(1), "a wrong code is answered late");
        assert_eq!(shown().len(), 2, "a new code is shown");
        assert_ne!(shown()[1], first);
        assert_eq!(asked(&app, post("/pair", &format!("code={first}"))).await.status(), StatusCode::UNAUTHORIZED);
        let paired = asked(&app, post("/pair", &format!("code={}", shown()[1]))).await;
        assert_eq!(location(&paired), "/");
        // A forged session opens nothing, whatever is sent beside it.
        let session = paired.headers()[header::SET_COOKIE].to_str().unwrap().split(';').next().unwrap().to_owned();
        let value = session.split('=').nth(1).unwrap();
        let changed = format!("tintpoint_session={}{}", &value[..31], if value.ends_with('0') { '1' } else { '0' });
        for forged in [
            "",
            "tintpoint_session=",
            "tintpoint_session=00000000000000000000000000000000",
            &changed,
            &session.to_uppercase(),
            &format!("other=1; tintpoint_session=x; {session}"),
            &format!("tintpoint_session={}", "0".repeat(5000)),
        ] {
            let mut request = get("/baths");
            request.headers_mut().insert(header::COOKIE, forged.parse().unwrap());
            assert_eq!(asked(&app, request).await.status(), StatusCode::UNAUTHORIZED, "{forged}");
        }
        let mut request = get("/print");
        request.headers_mut().insert(header::COOKIE, session.parse().unwrap());
        assert_eq!(asked(&app, request).await.status(), StatusCode::OK);
    });
}

#[test]
fn what_a_browser_says_of_foreign_pages_is_heeded() {
    runtime().block_on(async {
        let app = alone();
        for site in ["cross-site", "same-site", "none"] {
            for path in POSTS {
                // Even with the right origin: one of the two is forged then.
                let mut request = post(path, "theme=red");
                request.headers_mut().insert("sec-fetch-site", site.parse().unwrap());
                assert_eq!(asked(&app, request).await.status(), StatusCode::FORBIDDEN, "{site} {path}");
            }
        }
    });
}

#[test]
fn cookies_are_for_this_server_alone() {
    runtime().block_on(async {
        let app = alone();
        for fields in ["/theme theme=red", "/who who=ada%3B+Domain%3Dexample.org"] {
            let (path, fields) = fields.split_once(' ').unwrap();
            let answer = asked(&app, post(path, fields)).await;
            let cookie = answer.headers()[header::SET_COOKIE].to_str().unwrap().to_owned();
            let attributes: Vec<&str> = cookie.split("; ").skip(1).collect();
            assert_eq!(attributes, ["Path=/", "HttpOnly", "SameSite=Strict", "Max-Age=31536000"], "{cookie}");
        }
    });
}

// Refusals and redirects too: a browser shows each of them as a page of ours.
#[test]
fn refusals_are_guarded_as_pages_are() {
    runtime().block_on(async {
        let app = alone();
        let mut foreign = post("/theme", "theme=red");
        foreign.headers_mut().insert(header::ORIGIN, "http://example.org".parse().unwrap());
        let elsewhere = Request::get("/").header(header::HOST, "example.org").body(Body::empty()).unwrap();
        for request in [foreign, elsewhere, post("/theme", "theme=red"), post("/check", "x=1"), post("/log/load", ""), get("/theme")] {
            let answer = asked(&app, request).await;
            let said = |name: &str| answer.headers().get(name).and_then(|value| value.to_str().ok()).unwrap_or_default().to_owned();
            assert!(said("content-security-policy").contains("frame-ancestors 'none'"), "{}", answer.status());
            assert!(said("content-security-policy").contains("form-action 'self'"), "{}", answer.status());
            assert_eq!((said("x-frame-options"), said("cache-control")), ("DENY".to_owned(), "no-store".to_owned()));
            assert_eq!(said("cross-origin-resource-policy"), "same-origin");
        }
    });
}
