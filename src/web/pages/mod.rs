//! The layout of the pages; every sentence about a reading comes from `present::words`.

pub(super) mod baths;
pub(super) mod calibrate;
mod changes;
pub(super) mod check;
pub(super) mod dispose;
pub(super) mod mix;
mod parts;
pub(super) mod place;

use super::guard;
use crate::measurement::reading::State;
use crate::present::drawing::Drawing;
use crate::present::{svg, symbol, words};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Name of the cookie that holds the theme.
pub(super) const THEME: &str = "tintpoint_theme";

/// How a page looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Theme {
    /// As the device has it, light or dark.
    Plain,
    /// Deep red on black.
    Red,
}

impl Theme {
    /// What the device wishes.
    pub(super) fn of(headers: &HeaderMap) -> Self {
        if guard::cookie(headers, THEME) == Some("red") { Theme::Red } else { Theme::Plain }
    }
}

/// The pages that the navigation names: address and word.
const PLACES: [(&str, &str); 6] =
    [("/", "Check"), ("/baths", "Baths"), ("/mix", "Mix"), ("/dispose", "Dispose"), ("/calibrate", "Calibrate"), ("/print", "Print")];

/// A whole page.
pub(super) fn page(theme: Theme, title: &str, here: &str, body: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" data-theme=(if theme == Theme::Red { "red" } else { "plain" }) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " - tintpoint" }
                link rel="stylesheet" href="/asset/page.css";
                link rel="icon" href="/asset/icon.svg" type="image/svg+xml";
                script src="/asset/check.js" defer {}
            }
            body {
                a.skip href="#main" { "to the content" }
                header {
                    nav aria-label="pages" {
                        @for (address, word) in PLACES {
                            a href=(address) aria-current=[(here == address).then_some("page")] { (word) }
                        }
                    }
                    (switch(theme, here))
                    @if theme == Theme::Red { p.fog role="note" { (words::SCREEN_FOGS) } }
                }
                main id="main" tabindex="-1" { (body) }
                footer { h2 { "Cautions" } p { (words::CAUTIONS) } }
            }
        }
    }
}

fn switch(theme: Theme, here: &str) -> Markup {
    let (wish, words) = if theme == Theme::Red { ("plain", "bright page") } else { ("red", "red page") };
    html! {
        form.theme method="post" action="/theme" {
            input type="hidden" name="theme" value=(wish);
            input type="hidden" name="back" value=(here);
            button type="submit" { (words) }
        }
    }
}

/// A page that says what failed and what to do.
pub(super) fn problem_in(status: StatusCode, theme: Theme, message: &str, hint: &str) -> Response {
    let body = html! {
        h1 { "That did not work" }
        p role="alert" { (sentence(message)) }
        p.hint { (sentence(hint)) }
        p { a.button href="/" { "To the first page" } }
    };
    (status, page(theme, "That did not work", "", &body)).into_response()
}

/// The same where nothing is known of the device.
pub(super) fn problem(status: StatusCode, message: &str, hint: &str) -> Response {
    problem_in(status, Theme::Plain, message, hint)
}

/// A message of the program as a sentence of a page.
pub(super) fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first: String = letters.next().map(|c| c.to_uppercase().collect()).unwrap_or_default();
    let end = if message.ends_with(['.', '?', '!']) { "" } else { "." };
    glued(&(first + letters.as_str() + end))
}

/// Keeps a figure and its per cent sign on one line.
pub(super) fn glued(text: &str) -> String {
    text.replace(" %", "\u{a0}%")
}

/// The shape of a state; the word stands beside it.
pub(super) fn mark(state: State) -> Markup {
    let mut drawing = Drawing { width: 24.0, height: 24.0, title: words::state(state).to_owned(), items: Vec::new() };
    symbol::draw(&mut drawing, state, (12.0, 12.0), 10.0);
    html! { span.mark aria-hidden="true" { (PreEscaped(svg::inline(&drawing))) } }
}

/// The picture of the tab.
pub(super) fn icon() -> String {
    let mut drawing = Drawing { width: 24.0, height: 24.0, title: "tintpoint".to_owned(), items: Vec::new() };
    symbol::draw(&mut drawing, State::Fresh, (12.0, 12.0), 11.0);
    svg::render(&drawing)
}

/// The page that asks for the code from the terminal.
pub(super) fn pair(theme: Theme, code: &str, said: Option<&str>) -> Markup {
    let body = html! {
        h1 { "Pair this device" }
        p { "The terminal in which " code { "tintpoint serve" } " runs shows a code. It lets in one device." }
        @if let Some(said) = said { p role="alert" { (sentence(said)) } }
        form method="post" action="/pair" {
            label for="code" { "Code" }
            input #code type="text" name="code" value=(code) autocomplete="off" autocapitalize="characters" spellcheck="false" maxlength="16" required;
            button.main type="submit" { "Pair" }
        }
        p.hint { "Without TLS, whoever shares this network can listen in: use a network that you trust." }
    };
    page(theme, "Pair this device", "/pair", &body)
}

/// The page of what can be printed.
pub(super) fn print(theme: Theme) -> Markup {
    let body = html! {
        h1 { "Print" }
        section aria-labelledby="sheet" {
            h2 #sheet { "Placement sheet" }
            p { "Circles for the cups and a place for the grey card. Print it at full size (100\u{a0}%); a photo of it is put straight by its marks." }
            form method="get" action="/print/sheet.pdf" {
                label for="cups" { "Cups" }
                select #cups name="cups" { @for n in 1..=12 { option value=(n) selected[n == 4] { (n) } } }
                label for="paper" { "Paper" }
                select #paper name="paper" { option value="a4" { "A4" } option value="letter" { "Letter" } }
                button type="submit" { "Open the sheet" }
            }
        }
        section aria-labelledby="labels" {
            h2 #labels { "Labels" }
            p { "For a bath in use: its page has one. For a bottle just mixed: the calculator writes one." }
            p { a.button href="/baths" { "Baths" } a.button href="/mix" { "Mix" } }
        }
        section.card aria-labelledby="wall" {
            h2 #wall { "Card for the wall" }
            (wall_card())
        }
        p.hint { "Print this page from the menu of the browser: only the card goes on paper." }
    };
    page(theme, "Print", "/print", &body)
}

/// A label, which alone goes on paper.
pub(super) fn label(theme: Theme, name: &str, back: &str, lines: &[&str]) -> Markup {
    let body = html! {
        h1 { "Label" }
        section.card.label aria-label={ "label of " (name) } {
            @for (i, line) in lines.iter().enumerate() { p.head[i == 0] { (line) } }
        }
        p.hint { "Print this page from the menu of the browser: only the label goes on paper." }
        p { a.button href=(back) { "Back" } }
    };
    page(theme, "Label", "/print", &body)
}

/// Plain words for those who share a darkroom.
fn wall_card() -> Markup {
    html! {
        h3 { "Is the stop bath still good?" }
        ol {
            li { "Cover all paper and film. Safelight off, white light on." }
            li { "Pour a finger's depth of the bath into the white cup. Put it beside the grey card, both in the same light." }
            li { "Take a photo from straight above, without flash, and have it read." }
            li { b { "Fresh" } " (disc with a tick): go on, and write down what you run." }
            li { b { "Nearing" } " (hourglass): mix the next bath now." }
            li { b { "Spent" } " (square with a cross): stop. Mix a new bath before the next sheet or roll." }
            li { b { "Unclear" } " (diamond with a question mark): take another photo in better light, or ask." }
            li { "Discard the sample. Never pour it back, never drink from the cup." }
        }
        p { "Yellow does not mean fresh: the colour turns only when nine tenths of the acid is gone. Count what goes through the bath." }
        p { "In the eye: rinse with running water for many minutes and call for help. Acid into water, never water into acid. Never together with bleach." }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn messages_become_sentences() {
        assert_eq!(sentence("no photo was sent"), "No photo was sent.");
        assert_eq!(sentence(""), ".");
        assert_eq!(sentence("what now?"), "What now?");
    }

    #[test]
    fn what_comes_from_outside_stays_text() {
        let page = pair(Theme::Red, "\"><script>alert(1)</script>", Some("<b>")).into_string();
        assert!(!page.contains("<script>alert") && !page.contains("<b>"), "{page}");
        assert!(page.contains("data-theme=\"red\""));
    }
}
