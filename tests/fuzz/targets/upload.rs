//! A request to the page: the first byte chooses where it goes, the rest is its body, or its address behind the question mark.

#![no_main]

use axum::body::Body;
use axum::http::{Method, Request, header};
use libfuzzer_sys::fuzz_target;
use std::sync::{Arc, OnceLock};
use tintpoint::store::profiles::shelf::Shelf;
use tintpoint::web::{App, router};
use tokio::runtime::{Builder, Runtime};
use tower::ServiceExt;

const HOST: &str = "127.0.0.1:8417";
const MULTIPART: &str = "multipart/form-data; boundary=edge";
const WORDS: &str = "application/x-www-form-urlencoded";

/// Method, address and kind of the body.
const PLACES: [(Method, &str, &str); 12] = [
    (Method::POST, "/check", MULTIPART),
    (Method::POST, "/calibrate", MULTIPART),
    (Method::POST, "/check/none", WORDS),
    (Method::POST, "/log/begin", WORDS),
    (Method::POST, "/log/load", WORDS),
    (Method::POST, "/pair", WORDS),
    (Method::POST, "/who", WORDS),
    (Method::POST, "/theme", WORDS),
    (Method::GET, "/mix", ""),
    (Method::GET, "/dispose", ""),
    (Method::GET, "/print/sheet.pdf", ""),
    (Method::GET, "/mix/label", ""),
];

fn runtime() -> &'static Runtime {
    static RUNTIME: OnceLock<Runtime> = OnceLock::new();
    RUNTIME.get_or_init(|| Builder::new_current_thread().enable_all().build().unwrap())
}

fn request(place: u8, rest: &[u8]) -> Option<Request<Body>> {
    let (method, path, kind) = &PLACES[usize::from(place) % PLACES.len()];
    let sent = Request::builder().method(method).header(header::HOST, HOST).header(header::ORIGIN, format!("http://{HOST}"));
    if *method == Method::GET {
        let query = std::str::from_utf8(rest).ok()?;
        return sent.uri(format!("{path}?{query}")).body(Body::empty()).ok();
    }
    let sent = sent.uri(*path).header(header::CONTENT_TYPE, *kind).header(header::CONTENT_LENGTH, rest.len());
    sent.body(Body::from(rest.to_vec())).ok()
}

fuzz_target!(|bytes: &[u8]| {
    let Some((&place, rest)) = bytes.split_first() else { return };
    let Some(request) = request(place, rest) else { return };
    let app = router(Arc::new(App::alone(1, Shelf::default())));
    let response = runtime().block_on(app.oneshot(request)).unwrap();
    assert!(response.status().as_u16() != 500, "a fault of the program");
});
