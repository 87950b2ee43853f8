//! The page as a function from request to response: no socket, no browser.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod attacks;
mod baths;
mod calculators;
mod calibrate;
mod changes;
#[path = "../demo/mod.rs"]
mod demo;

use axum::body::Body;
use axum::http::{Request, Response, StatusCode, header};
use http_body_util::BodyExt;
use std::process::Command;
use std::sync::{Arc, Mutex};
use tintpoint::store::profiles::shelf::Shelf;
use tintpoint::web::{App, router};
use tower::ServiceExt;

const HOST: &str = "127.0.0.1:8417";
const ORIGIN: &str = "http://127.0.0.1:8417";

fn alone() -> axum::Router {
    router(Arc::new(App::alone(2, Shelf::default())))
}

fn runtime() -> tokio::runtime::Runtime {
    tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap()
}

async fn asked(app: &axum::Router, request: Request<Body>) -> Response<Body> {
    app.clone().oneshot(request).await.unwrap()
}

async fn text(response: Response<Body>) -> String {
    String::from_utf8(response.into_body().collect().await.unwrap().to_bytes().to_vec()).unwrap()
}

fn get(path: &str) -> Request<Body> {
    Request::get(path).header(header::HOST, HOST).body(Body::empty()).unwrap()
}

/// A form in words, as our own page sends it.
fn post(path: &str, fields: &str) -> Request<Body> {
    Request::post(path)
        .header(header::HOST, HOST)
        .header(header::ORIGIN, ORIGIN)
        .header(header::CONTENT_TYPE, "application/x-www-form-urlencoded")
        .header(header::CONTENT_LENGTH, fields.len())
        .body(Body::from(fields.to_owned()))
        .unwrap()
}

/// A form with a photo to be read.
fn upload(name: &str, bytes: &[u8], words: &[(&str, &str)]) -> Request<Body> {
    upload_to("/check", name, bytes, words)
}

/// A form with a photo.
fn upload_to(path: &str, name: &str, bytes: &[u8], words: &[(&str, &str)]) -> Request<Body> {
    let mut body = Vec::new();
    for (field, value) in words {
        body.extend_from_slice(format!("--edge\r\nContent-Disposition: form-data; name=\"{field}\"\r\n\r\n{value}\r\n").as_bytes());
    }
    let head = format!("--edge\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"{name}\"\r\nContent-Type: image/jpeg\r\n\r\n");
    body.extend_from_slice(head.as_bytes());
    body.extend_from_slice(bytes);
    body.extend_from_slice(b"\r\n--edge--\r\n");
    Request::post(path)
        .header(header::HOST, HOST)
        .header(header::ORIGIN, ORIGIN)
        .header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge")
        .header(header::CONTENT_LENGTH, body.len())
        .body(Body::from(body))
        .unwrap()
}

fn location(response: &Response<Body>) -> String {
    assert_eq!(response.status(), StatusCode::SEE_OTHER);
    response.headers()[header::LOCATION].to_str().unwrap().to_owned()
}

/// The value of the first hidden field of that name on a page.
fn hidden(page: &str, name: &str) -> String {
    let start = format!("name=\"{name}\" value=\"");
    let (_, rest) = page.split_once(&start).unwrap_or_else(|| panic!("no {name} on the page: {page}"));
    rest.split('"').next().unwrap().to_owned()
}

/// A value as a form sends it.
fn sent(value: &str) -> String {
    value.bytes().map(|b| if b.is_ascii_alphanumeric() { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

/// Fields as a form sends them.
fn form(fields: &[(&str, &str)]) -> String {
    fields.iter().map(|(name, value)| format!("{name}={}", sent(value))).collect::<Vec<_>>().join("&")
}

/// What `read` on the command line writes for the same photo.
fn told(folder: &std::path::Path, arguments: &[&str]) -> String {
    let read = Command::new(env!("CARGO_BIN_EXE_tintpoint")).current_dir(folder).arg("read").args(arguments).output().unwrap();
    String::from_utf8(read.stdout).unwrap()
}

#[test]
fn page_and_command_line_give_the_same_json() {
    let folder = demo::photos();
    runtime().block_on(async {
        let app = alone();
        let mut photos: Vec<_> = std::fs::read_dir(folder.path()).unwrap().map(|e| e.unwrap().path()).collect();
        photos.retain(|path| path.extension().is_some_and(|e| e == "jpg" || e == "png"));
        assert!(photos.len() > 3);
        for path in photos {
            let name = path.file_name().unwrap().to_str().unwrap();
            let sent = asked(&app, upload(name, &std::fs::read(&path).unwrap(), &[])).await;
            let page = asked(&app, get(&format!("{}/reading.json", location(&sent)))).await;
            assert_eq!(text(page).await, told(folder.path(), &[name, "--format", "json"]), "{name}");
        }
    });
}

#[test]
fn what_is_put_right_is_what_the_options_say() {
    let folder = demo::photos();
    let name = "fresh.jpg";
    let bytes = std::fs::read(folder.path().join(name)).unwrap();
    runtime().block_on(async {
        let app = alone();
        let place = location(&asked(&app, upload(name, &bytes, &[("light", "led")])).await);
        let sent = "card=900%2C120%2C120%2C120&cups=300%2C400%2C60&indicator=bromocresol-green&light=tungsten";
        assert_eq!(location(&asked(&app, post(&place, sent)).await), format!("{place}#reading"));
        let page = text(asked(&app, get(&format!("{place}/reading.json"))).await).await;
        let options = ["--card", "900,120,120,120", "--cup", "300,400,60", "--indicator", "bromocresol-green", "--light", "tungsten"];
        let line = told(folder.path(), &[&[name, "--format", "json"][..], &options[..]].concat());
        assert_eq!(page, line);
        // A tap moves the middle of the first cup; the photo that is tapped is 300 wide.
        asked(&app, post(&place, "what=cup-1&at.x=150&at.y=100&size=1.25")).await;
        let moved: serde_json::Value = serde_json::from_str(&text(asked(&app, get(&format!("{place}/reading.json"))).await).await).unwrap();
        let (cup, width) = (&moved["cups"][0], moved["width"].as_f64().unwrap());
        assert!((cup["x"].as_f64().unwrap() - 0.5 * width).abs() <= 1.0 && (cup["radius"].as_f64().unwrap() - 75.0).abs() < 0.1, "{cup}");
    });
}

#[test]
fn a_broken_photo_never_yields_a_number() {
    let folder = demo::photos();
    let bytes = std::fs::read(folder.path().join("fresh.jpg")).unwrap();
    runtime().block_on(async {
        let app = alone();
        for (name, bytes) in [("half.jpg", &bytes[..bytes.len() / 2]), ("words.jpg", b"no photo".as_slice())] {
            let place = location(&asked(&app, upload(name, bytes, &[])).await);
            let page = text(asked(&app, get(&place)).await).await;
            assert!(page.contains("role=\"alert\"") && !page.contains("pH "), "{page}");
        }
        let empty = asked(&app, upload("none.jpg", b"", &[])).await;
        assert_eq!(empty.status(), StatusCode::BAD_REQUEST);
        assert!(text(empty).await.contains("Take or choose a photo first."));
    });
}

#[test]
fn names_from_outside_stay_text() {
    runtime().block_on(async {
        let app = alone();
        let place = location(&asked(&app, upload("<img src=x onerror=alert(1)>.jpg", b"no photo", &[])).await);
        let page = text(asked(&app, get(&place)).await).await;
        assert!(!page.contains("<img src=x") && page.contains("&lt;img"), "{page}");
    });
}

#[test]
fn every_answer_is_guarded() {
    runtime().block_on(async {
        let app = alone();
        for path in [
            "/",
            "/print",
            "/baths",
            "/begin",
            "/mix",
            "/dispose",
            "/calibrate",
            "/check/none",
            "/nowhere",
            "/asset/page.css",
            "/../../etc/passwd",
            "/check/..%2f..%2fetc%2fpasswd",
        ] {
            let response = asked(&app, get(path)).await;
            let policy = response.headers()[header::CONTENT_SECURITY_POLICY].to_str().unwrap();
            assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{path}");
            assert_eq!(response.headers()[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
            assert!(!text(response).await.contains("root:"), "{path}");
        }
    });
}

/// Everything that takes a form.
const POSTS: [&str; 18] = [
    "/theme",
    "/who",
    "/pair",
    "/check",
    "/check/x",
    "/check/x/save",
    "/log/begin",
    "/log/load",
    "/log/undo",
    "/log/discard",
    "/log/top-up",
    "/log/volume",
    "/log/drop-test",
    "/log/reading",
    "/log/note",
    "/calibrate",
    "/calibrate/x",
    "/calibrate/x/save",
];

#[test]
fn forged_hosts_and_foreign_pages_are_refused() {
    runtime().block_on(async {
        let app = alone();
        for host in ["darkroom.example", "127.0.0.1.example.org:8417", ""] {
            let request = Request::get("/").header(header::HOST, host).body(Body::empty()).unwrap();
            assert_eq!(asked(&app, request).await.status(), StatusCode::MISDIRECTED_REQUEST, "{host}");
        }
        for origin in ["http://example.org", "null", "http://127.0.0.1:9999"] {
            for path in POSTS {
                let mut request = post(path, "theme=red");
                request.headers_mut().insert(header::ORIGIN, origin.parse().unwrap());
                assert_eq!(asked(&app, request).await.status(), StatusCode::FORBIDDEN, "{origin} {path}");
            }
        }
        let mut request = post("/theme", "theme=red");
        request.headers_mut().remove(header::ORIGIN);
        assert_eq!(asked(&app, request).await.status(), StatusCode::FORBIDDEN);
    });
}

#[test]
fn a_wish_leads_back_to_this_server_only() {
    runtime().block_on(async {
        let app = alone();
        for (back, wanted) in [
            ("/print", "/print"),
            ("//example.org/", "/"),
            ("http://example.org/", "/"),
            ("/%5Cexample.org", "/%5Cexample.org"),
            ("/\\example.org", "/"),
        ] {
            let fields = format!("theme=red&back={}", back.replace('%', "%25"));
            assert_eq!(location(&asked(&app, post("/theme", &fields)).await), wanted, "{back}");
        }
        let red = Request::get("/").header(header::HOST, HOST).header(header::COOKIE, "tintpoint_theme=red").body(Body::empty()).unwrap();
        let page = text(asked(&app, red).await).await;
        assert!(page.contains("data-theme=\"red\"") && page.contains("fog paper and film"));
    });
}

#[test]
fn too_much_is_refused_before_it_is_read() {
    runtime().block_on(async {
        let app = alone();
        let request = |length: Option<usize>| {
            let request = Request::post("/check").header(header::HOST, HOST).header(header::ORIGIN, ORIGIN);
            let request = request.header(header::CONTENT_TYPE, "multipart/form-data; boundary=edge");
            let request = length.map_or(Request::post("/check").header(header::HOST, HOST).header(header::ORIGIN, ORIGIN), |n| {
                request.header(header::CONTENT_LENGTH, n)
            });
            request.body(Body::empty()).unwrap()
        };
        assert_eq!(asked(&app, request(Some(50 << 20))).await.status(), StatusCode::PAYLOAD_TOO_LARGE);
        assert_eq!(asked(&app, request(None)).await.status(), StatusCode::LENGTH_REQUIRED);
        // More than other forms may be.
        assert!(asked(&app, post("/pair", &format!("code={}", "x".repeat(80_000)))).await.status().is_client_error());
    });
}

static CODE: Mutex<String> = Mutex::new(String::new());

#[test]
fn pairing_lets_in_whoever_has_the_code_once() {
    runtime().block_on(async {
        let app = router(Arc::new(App::paired(1, Shelf::default(), |code| code.clone_into(&mut CODE.lock().unwrap())).unwrap()));
        let code = CODE.lock().unwrap().clone();
        assert_eq!(location(&asked(&app, get("/")).await), "/pair");
        for path in ["/print", "/check/x", "/check/x/photo.jpg", "/print/sheet.pdf", "/baths", "/baths/tray-1", "/calibrate", "/mix"] {
            assert_eq!(asked(&app, get(path)).await.status(), StatusCode::UNAUTHORIZED, "{path}");
        }
        assert_eq!(asked(&app, upload("a.jpg", b"x", &[])).await.status(), StatusCode::UNAUTHORIZED);
        for path in POSTS.into_iter().filter(|path| *path != "/pair") {
            assert_eq!(asked(&app, post(path, "once=x")).await.status(), StatusCode::UNAUTHORIZED, "{path}");
        }
        assert_eq!(asked(&app, post("/pair", "code=WRONG")).await.status(), StatusCode::UNAUTHORIZED);
        let paired = asked(&app, post("/pair", &format!("code={}", code.to_lowercase()))).await;
        let cookie = paired.headers()[header::SET_COOKIE].to_str().unwrap().to_owned();
        for part in ["HttpOnly", "SameSite=Strict", "Path=/"] {
            assert!(cookie.contains(part), "{cookie}");
        }
        assert!(!cookie.contains("Secure"), "it would never come back over plain http");
        let session = cookie.split(';').next().unwrap().to_owned();
        assert_eq!(session.split('=').nth(1).unwrap().len(), 32, "128 bits");
        let mut request = get("/print");
        request.headers_mut().insert(header::COOKIE, session.parse().unwrap());
        assert_eq!(asked(&app, request).await.status(), StatusCode::OK);
        // The code is used up, and the next one has been told.
        assert_eq!(asked(&app, post("/pair", &format!("code={code}"))).await.status(), StatusCode::UNAUTHORIZED);
        assert_ne!(*CODE.lock().unwrap(), code);
    });
}

#[test]
fn first_page_is_small() {
    runtime().block_on(async {
        let app = alone();
        let mut bytes = 0;
        for path in ["/", "/asset/page.css", "/asset/check.js", "/asset/icon.svg"] {
            let response = asked(&app, get(path)).await;
            assert_eq!(response.status(), StatusCode::OK, "{path}");
            bytes += text(response).await.len();
        }
        assert!(bytes < 100_000, "{bytes}");
    });
}
