//! Who and what is let in: the host that is asked for, the page that asks, the session, and what every answer tells the browser.

use super::app::App;
use super::pages;
use axum::extract::{Request, State};
use axum::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode, Uri};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use std::net::IpAddr;
use std::sync::Arc;
use std::time::Instant;

/// Name of the cookie that holds the session.
pub(super) const SESSION: &str = "tintpoint_session";
/// Nothing but what this server hands out, no frame around it, no form to elsewhere.
const POLICY: &str = "default-src 'none'; img-src 'self' blob:; style-src 'self'; script-src 'self'; connect-src 'self'; \
                      form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Lets a request through, or answers in its place.
pub(super) async fn guard(State(app): State<Arc<App>>, request: Request, next: Next) -> Response {
    let mut response = match refusal(&app, &request) {
        Some(response) => response,
        None => next.run(request).await,
    };
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    // With `no-referrer` browsers would send `Origin: null` with our own forms.
    set(header::REFERRER_POLICY, "same-origin");
    set(header::X_FRAME_OPTIONS, "DENY");
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(header::CACHE_CONTROL, "no-store");
    response
}

fn refusal(app: &App, request: &Request) -> Option<Response> {
    let Some(host) = host(request.headers(), request.uri()).filter(|host| is_ours(host)) else {
        return Some(pages::problem(
            StatusCode::MISDIRECTED_REQUEST,
            "this address is asked for by a name",
            "open the page by the figures that `tintpoint serve` shows",
        ));
    };
    if !matches!(*request.method(), Method::GET | Method::HEAD) && !is_own_page(request.headers(), &host) {
        return Some(pages::problem(StatusCode::FORBIDDEN, "another page sent this", "open the page itself and try again there"));
    }
    let path = request.uri().path();
    if !app.asks_for_code() || path == "/pair" || path.starts_with("/asset/") || app.knows(session(request.headers()), Instant::now()) {
        return None;
    }
    if *request.method() == Method::GET && path == "/" {
        return Some(Redirect::to("/pair").into_response());
    }
    Some(pages::problem(StatusCode::UNAUTHORIZED, "this device is not paired", "open the first page and type the code from the terminal"))
}

/// The host and port that are asked for.
fn host(headers: &HeaderMap, uri: &Uri) -> Option<String> {
    let told = headers.get(header::HOST).and_then(|value| value.to_str().ok()).map(str::to_owned);
    told.or_else(|| uri.authority().map(ToString::to_string)).map(|host| host.to_ascii_lowercase())
}

/// Figures, or this machine itself. A page elsewhere can give a name of its own the address of this machine and then counts as the same
/// origin; it cannot do so with figures.
fn is_ours(host: &str) -> bool {
    let name = match host.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host.split(':').next().unwrap_or_default(),
    };
    name == "localhost" || name.parse::<IpAddr>().is_ok()
}

/// True when the browser says that one of our own pages sends this.
fn is_own_page(headers: &HeaderMap, host: &str) -> bool {
    let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    if text(HeaderName::from_static("sec-fetch-site")).is_some_and(|site| site != "same-origin") {
        return false;
    }
    let origin = text(header::ORIGIN).map(str::to_ascii_lowercase);
    // Every browser sends its origin with a post; what does not is no browser, and no page can make it send anything.
    origin.is_some_and(|origin| origin == format!("http://{host}") || origin == format!("https://{host}"))
}

/// The session of a request, or nothing.
pub(super) fn session(headers: &HeaderMap) -> &str {
    cookie(headers, SESSION).unwrap_or_default()
}

/// The value of a cookie.
pub(super) fn cookie<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let all = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    all.flat_map(|line| line.split(';')).filter_map(|part| part.trim().split_once('=')).find(|(n, _)| *n == name).map(|(_, v)| v)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_figures_and_this_machine_are_ours() {
        for host in ["127.0.0.1:8417", "localhost", "localhost:80", "[::1]:8417", "192.168.4.20:8417", "10.0.0.7"] {
            assert!(is_ours(host), "{host}");
        }
        for host in ["", "example.org", "127.0.0.1.example.org", "localhost.example.org:8417", "[example]", "darkroom"] {
            assert!(!is_ours(host), "{host}");
        }
    }

    fn headers(pairs: &[(&'static str, &'static str)]) -> HeaderMap {
        pairs.iter().map(|(name, value)| (HeaderName::from_static(name), HeaderValue::from_static(value))).collect()
    }

    #[test]
    fn only_our_own_page_may_post() {
        let host = "192.168.4.20:8417";
        assert!(is_own_page(&headers(&[("origin", "http://192.168.4.20:8417")]), host));
        assert!(is_own_page(&headers(&[("origin", "http://192.168.4.20:8417"), ("sec-fetch-site", "same-origin")]), host));
        for wrong in [
            vec![],
            vec![("origin", "null")],
            vec![("origin", "http://192.168.4.20:8418")],
            vec![("origin", "http://example.org")],
            vec![("sec-fetch-site", "same-origin")],
            vec![("origin", "http://192.168.4.20:8417"), ("sec-fetch-site", "cross-site")],
            vec![("origin", "http://192.168.4.20:8417"), ("sec-fetch-site", "same-site")],
        ] {
            assert!(!is_own_page(&headers(&wrong), host), "{wrong:?}");
        }
    }

    #[test]
    fn cookies_are_told_apart() {
        let sent = headers(&[("cookie", "other=1; tintpoint_session=abc; tintpoint_session2=def")]);
        assert_eq!(session(&sent), "abc");
        assert_eq!(session(&HeaderMap::new()), "");
    }
}
