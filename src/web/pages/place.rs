//! Card and cups on the shown photo: drawn, said in words, and put right by a tap.

use super::super::check::Shown;
use super::super::settings::{MOST_CUPS, Settings};
use crate::measurement::reading::Reading;
use crate::measurement::regions::{Circle, Rectangle};
use maud::{Markup, html};

/// Width of the photo that is tapped, CSS pixels: the smallest screen. `page.css` says the same, for a tap comes in these.
const TAP_WIDE: f64 = 300.0;
/// Side of a card that nobody has shown yet, share of the photo's shorter side.
const CARD: f64 = 0.12;
/// Radius of a cup that nobody has shown yet, share of the photo's shorter side.
const CUP: f64 = 0.08;

/// What was told, and for the rest what was found.
pub(in crate::web) fn found(told: &Settings, reading: &Reading) -> Settings {
    let mut settings = told.clone();
    settings.card = settings.card.or_else(|| reading.card.map(|card| card.area));
    if settings.cups.is_empty() {
        settings.cups = reading.cups.iter().map(|cup| cup.region.liquid).collect();
    }
    settings
}

/// The marks over the photo, in its own pixels.
fn overlay(found: &Settings, width: usize, height: usize) -> Markup {
    let size = width.min(height) as f64 * 0.05;
    html! {
        svg #marks viewBox={ "0 0 " (width) " " (height) } role="group" aria-label="card and cups" {
            @if let Some(card) = found.card { (card_mark(card, size)) }
            @for (i, cup) in found.cups.iter().enumerate() { (cup_mark(i + 1, *cup, size)) }
        }
    }
}

fn card_mark(card: Rectangle, size: f64) -> Markup {
    html! {
        g.handle data-card="" {
            @for class in ["under", "over"] { rect class=(class) x=(card.x) y=(card.y) width=(card.w) height=(card.h) fill="none" {} }
            text x=(card.x + 0.5 * card.w) y=(card.y + 0.5 * card.h) font-size=(size) text-anchor="middle" dominant-baseline="central" { "card" }
        }
    }
}

fn cup_mark(number: usize, cup: Circle, size: f64) -> Markup {
    html! {
        g.handle data-cup=(number) {
            @for class in ["under", "over"] { circle class=(class) cx=(cup.x) cy=(cup.y) r=(cup.radius) fill="none" {} }
            text x=(cup.x) y=(cup.y) font-size=(size) text-anchor="middle" dominant-baseline="central" { (number) }
        }
    }
}

/// The same for those who do not see the picture.
fn words(found: &Settings) -> String {
    let card = if found.card.is_some() { "The grey card is marked" } else { "No grey card is marked" };
    match found.cups.len() {
        0 => format!("{card}, and no cup."),
        1 => format!("{card}, and one cup."),
        n => format!("{card}, and {n} cups."),
    }
}

/// The photo with what was found on it, and the means to put that right.
/// `address` is its page, `told` are more fields, `words` stand on the button.
pub(super) fn editor(address: &str, shown: &Shown, found: &Settings, reading: &Reading, told: &Markup, words: &str) -> Markup {
    let photo = format!("{address}/photo.jpg");
    html! {
        section aria-labelledby="places" {
            h2 #places { "What was found" }
            div #stage.picture data-factor=(shown.factor) {
                img src=(photo) width=(shown.width) height=(shown.height) alt="the photo";
                (overlay(found, reading.width, reading.height))
            }
            p { (self::words(found)) }
            form #place method="post" action=(address) {
                input type="hidden" name="card" value=(found.card_text());
                input type="hidden" name="cups" value=(found.cups_text());
                (told)
                p.hint.script hidden { "Drag card and cups to where they are, or choose one with the tab key and move it with the arrows, plus and minus." }
                div.row.script hidden {
                    button type="button" data-do="add" { "Add a cup" }
                    button type="button" data-do="remove" { "Remove the chosen cup" }
                    button type="button" data-do="card" { "Place the card" }
                }
                button.main type="submit" { (words) }
                p role="status" aria-live="polite" {}
            }
            form method="post" action=(address) {
                input type="hidden" name="card" value="";
                input type="hidden" name="cups" value="";
                button type="submit" { "Find them afresh" }
            }
            details.noscript {
                summary { "Put right by tapping, one at a time" }
                form method="post" action=(address) {
                    input type="hidden" name="card" value=(found.card_text());
                    input type="hidden" name="cups" value=(found.cups_text());
                    fieldset {
                        legend { "What do you show?" }
                        @for n in 1..=found.cups.len() { (choice(&format!("cup-{n}"), &format!("the middle of cup {n}"), n == 1)) }
                        @if found.cups.len() < MOST_CUPS { (choice("add", "the middle of one more cup", found.cups.is_empty())) }
                        (choice("card", "the middle of the grey card", false))
                    }
                    label for="size" { "Its size against now" }
                    select #size name="size" {
                        @for (value, size) in [("0.8", "smaller"), ("1", "the same"), ("1.25", "larger")] { option value=(value) selected[value == "1"] { (size) } }
                    }
                    input.tap type="image" name="at" src=(photo) alt="tap the place on the photo";
                }
            }
        }
    }
}

fn choice(value: &str, words: &str, is_first: bool) -> Markup {
    html! { label { input type="radio" name="what" value=(value) checked[is_first]; " " (words) } }
}

/// Takes a tap on the photo into the settings; fields without one change nothing.
pub(in crate::web) fn apply(settings: &mut Settings, shown: Option<&Shown>, fields: &[(String, String)]) {
    let field = |name: &str| fields.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str());
    let figure = |name: &str| field(name).and_then(|v| v.parse::<f64>().ok()).filter(|v| v.is_finite());
    let (Some(what), Some(x), Some(y), Some(shown)) = (field("what"), figure("at.x"), figure("at.y"), shown) else { return };
    let scale = shown.width as f64 / TAP_WIDE * shown.factor;
    let (wide, high) = (shown.width as f64 * shown.factor, shown.height as f64 * shown.factor);
    let at = ((x * scale).clamp(0.0, wide - 1.0), (y * scale).clamp(0.0, high - 1.0));
    let larger = figure("size").unwrap_or(1.0).clamp(0.5, 2.0);
    let side = wide.min(high);
    if what == "card" {
        let (w, h) = settings.card.map_or((CARD * side, CARD * side), |card| (card.w, card.h));
        let (w, h) = ((w * larger).min(wide), (h * larger).min(high));
        settings.card = Some(Rectangle { x: (at.0 - 0.5 * w).clamp(0.0, wide - w), y: (at.1 - 0.5 * h).clamp(0.0, high - h), w, h });
    } else if what == "add" && settings.cups.len() < MOST_CUPS {
        let radius = settings.cups.first().map_or(CUP * side, |cup| cup.radius) * larger;
        settings.cups.push(Circle { x: at.0, y: at.1, radius });
    } else if let Some(number) = what.strip_prefix("cup-").and_then(|n| n.parse::<usize>().ok())
        && let Some(cup) = number.checked_sub(1).and_then(|i| settings.cups.get_mut(i))
    {
        *cup = Circle { x: at.0, y: at.1, radius: cup.radius * larger };
    }
}
