//! What a request tells: fields of a form or an address, the theme, who writes.

use super::guard;
use super::pages::Theme;
use super::problem::Problem;
use crate::desk::book;
use axum::extract::{Form, FromRequest, FromRequestParts, Request};
use axum::http::request::Parts;
use std::convert::Infallible;

/// Name of the cookie that holds who writes.
pub(super) const WHO: &str = "tintpoint_who";

/// Fields of a form, or of the address of a page.
#[derive(Debug, Clone, Default)]
pub(super) struct Fields(pub(super) Vec<(String, String)>);

impl Fields {
    /// What a field says, without spaces around it; nothing where it is empty or absent.
    pub(super) fn told(&self, name: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
    }

    /// The same as text.
    pub(super) fn text(&self, name: &str) -> &str {
        self.told(name).unwrap_or_default()
    }

    /// What a field says must be one of a list; the first where it says nothing.
    pub(super) fn one_of<T: Copy>(&self, name: &str, all: &[(&str, T)]) -> Result<T, Problem> {
        let told = self.told(name);
        let found = told.map_or(all.first(), |told| all.iter().find(|(word, _)| *word == told));
        found
            .map(|(_, value)| *value)
            .ok_or_else(|| Problem::form("a list has no such choice", "open the page again and choose from its lists"))
    }
}

impl<S: Send + Sync> FromRequest<S> for Fields {
    type Rejection = Problem;
    async fn from_request(request: Request, state: &S) -> Result<Self, Problem> {
        let form = Form::<Vec<(String, String)>>::from_request(request, state).await;
        form.map(|Form(all)| Fields(all)).map_err(|_| Problem::form("what was sent is no form, or broke off", "open the page again"))
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Theme {
    type Rejection = Infallible;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        Ok(Theme::of(&parts.headers))
    }
}

/// Who writes into the logbook: as the device says, else the user of this machine.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Writer(pub(super) String);

impl<S: Send + Sync> FromRequestParts<S> for Writer {
    type Rejection = Infallible;
    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, Infallible> {
        let named = guard::cookie(&parts.headers, WHO).and_then(plain).filter(|who| !who.trim().is_empty());
        Ok(Writer(named.unwrap_or_else(book::user)))
    }
}

/// A name as hexadecimal digits: cookies hold no other letters than those of English.
pub(super) fn coded(name: &str) -> String {
    name.bytes().map(|byte| format!("{byte:02x}")).collect()
}

fn plain(coded: &str) -> Option<String> {
    let digits: Vec<u8> = coded.chars().map(|c| c.to_digit(16).and_then(|d| u8::try_from(d).ok())).collect::<Option<_>>()?;
    let bytes = digits.chunks(2).map(|pair| if let [high, low] = pair { Some(16 * high + low) } else { None });
    String::from_utf8(bytes.collect::<Option<_>>()?).ok()
}

/// Text as one part of an address.
pub(super) fn part(text: &str) -> String {
    let letter = |byte: u8| match byte {
        b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'_' | b'.' | b'~' => char::from(byte).to_string(),
        _ => format!("%{byte:02X}"),
    };
    text.bytes().map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_into_a_cookie_and_come_back() {
        for name in ["ada", "Ben O'Hara", "Zoë; Path=/"] {
            assert_eq!(plain(&coded(name)).as_deref(), Some(name));
        }
        assert!(plain("abc").is_none() && plain("zz").is_none() && plain("ff").is_none());
    }

    // Reserved characters by RFC 3986, section 2.2.
    #[test]
    fn parts_of_an_address_hold_no_other_sign() {
        assert_eq!(part("tray-1"), "tray-1");
        assert_eq!(part("tray 2/b?#"), "tray%202%2Fb%3F%23");
        assert_eq!(part("Schälchen"), "Sch%C3%A4lchen");
    }
}
