//! The page of one photo: send it, see what was found, put it right, read the verdict.

use super::super::check::Check;
use super::super::settings;
use super::{Theme, mark, page, parts, place, sentence};
use crate::indicator::{Indicator, catalogue};
use crate::measurement::reading::{CupReading, Reading, State};
use crate::measurement::warning::Notice;
use crate::present::{number, words};
use maud::{Markup, PreEscaped, html};

/// The page that asks for a photo.
pub(in crate::web) fn first(theme: Theme, indicator: &Indicator) -> Markup {
    let body = html! {
        h1 { "Check a stop bath" }
        ol {
            li { "Cover paper and film, safelight off, white light on." }
            li { "Stand the sample cup and the grey card side by side in the same light." }
            li { "Take the photo from straight above, without flash." }
        }
        form #send method="post" action="/check" enctype="multipart/form-data" {
            (parts::photo())
            (told(indicator.name, "auto"))
            button.main type="submit" { "Read it" }
            (parts::progress())
        }
        p.hint { "The photo stays on this machine: it is kept in memory for an hour at most, and goes nowhere else." }
    };
    page(theme, "Check a stop bath", "/", &body)
}

/// What can be told of the photo.
pub(super) fn told(indicator: &str, light: &str) -> Markup {
    html! {
        details {
            summary { "Indicator and light" }
            label for="indicator" { "Indicator in the bath" }
            select #indicator name="indicator" {
                @for dye in catalogue::all() { option value=(dye.name) selected[dye.name == indicator] { (dye.name.replace('-', " ")) } }
            }
            label for="light" { "Light" }
            select #light name="light" {
                @for (value, words) in settings::lights() { option value=(value) selected[value == light] { (words) } }
            }
        }
    }
}

/// What the page knows of the logbook.
#[derive(Debug)]
pub(in crate::web) struct Keeping {
    /// Ids and names of the baths in use, or why they cannot be told.
    pub(in crate::web) baths: Result<Vec<(String, String)>, String>,
    /// Mark of the form, which is taken once.
    pub(in crate::web) once: String,
    /// True when the form had been taken before.
    pub(in crate::web) is_again: bool,
}

/// Which bath each cup belongs to, and writing that down.
fn keep(name: &str, check: &Check, reading: &Reading, keeping: &Keeping) -> Markup {
    html! {
        section #keep aria-labelledby="belongs" {
            h2 #belongs { "Which bath is it?" }
            @for kept in &check.kept { p.told role="status" { "Written for " a href=(kept.address) { (words::printable(&kept.name)) } "." } }
            @if keeping.is_again { p.told role="status" { "That was written already; nothing was written a second time." } }
            @if let Some(why) = &check.refused { p role="alert" { (sentence(why)) " Nothing was written." } }
            @match &keeping.baths {
                Err(why) => p { (sentence(why)) },
                Ok(baths) if baths.is_empty() => p { "No bath is in use. " a href="/begin" { "Begin one" } " to keep readings." },
                Ok(baths) => form method="post" action={ "/check/" (name) "/save" } {
                    (parts::hidden("once", &keeping.once))
                    @for cup in &reading.cups { (belongs(cup, baths, reading.cups.len())) }
                    @if check.refused.is_some() || !check.kept.is_empty() { (parts::tick("sure", "Write it although it is there already", false)) }
                    button.main type="submit" { "Save to the logbook" }
                },
            }
        }
    }
}

fn belongs(cup: &CupReading, baths: &[(String, String)], cups: usize) -> Markup {
    let field = format!("cup-{}", cup.number);
    // A guess is offered only where nothing else can be meant.
    let only = baths.first().filter(|_| baths.len() == 1 && cups == 1).map_or("", |(id, _)| id.as_str());
    let choices = std::iter::once(("", "none")).chain(baths.iter().map(|(id, name)| (id.as_str(), name.as_str())));
    parts::list(&field, &format!("Bath of {}", words::cup(cup)), choices, only)
}

/// The page of a photo that was sent.
pub(in crate::web) fn shown(theme: Theme, name: &str, check: &Check, keeping: &Keeping) -> Markup {
    let body = html! {
        h1 { (words::printable(&check.entry.photo)) }
        @match &check.entry.outcome {
            Ok(reading) => {
                section #reading aria-labelledby="verdict" tabindex="-1" {
                    h2 #verdict { "Reading" }
                    (verdict(reading))
                    @if let Some(curve) = &check.curve { div.picture { (PreEscaped(curve.as_str())) } }
                }
                @if !reading.cups.is_empty() { (keep(name, check, reading, keeping)) }
                @if let Some(shown) = &check.shown {
                    (place::editor(&format!("/check/{name}"), shown, &place::found(&check.settings, reading), reading, &told(check.settings.indicator.name, check.settings.light_word()), "Read again"))
                }
            }
            Err(failure) => {
                p role="alert" { (sentence(&words::printable(&failure.message))) }
                @if let Some(hint) = &failure.hint { p.hint { (sentence(hint)) } }
            }
        }
        p { a.button href="/" { "Another photo" } a.button href={ "/check/" (name) "/reading.json" } { "The figures as JSON" } }
    };
    page(theme, "Reading", "/", &body)
}

fn verdict(reading: &Reading) -> Markup {
    html! {
        @if reading.cups.is_empty() {
            p.state { (mark(State::Unclear)) (words::state(State::Unclear)) ": " (words::NOTHING_TO_JUDGE) }
        }
        @for notice in words::by_gravity(&reading.warnings) { (said(notice)) }
        @for cup in &reading.cups { (cup_part(cup, reading)) }
        @for (state, cups) in words::by_state(reading) {
            p { b { "Next for " (cups) ":" } " " (sentence(words::advice(state))) }
        }
    }
}

fn cup_part(cup: &CupReading, reading: &Reading) -> Markup {
    let ph = number::ph(cup.ph, cup.ph_low, cup.ph_high).map_or_else(|| words::PH_UNKNOWN.to_owned(), |ph| format!("pH {ph}"));
    html! {
        article.cup {
            h3.state { (mark(cup.state)) (words::cup(cup)) ": " (words::state(cup.state)) }
            p.figure { (ph) }
            @if let Some(chance) = cup.chance { p { "Chance: " (words::chances(&chance)) } }
            @if let Some(why) = words::why(cup, reading.limits) { p { (sentence(&why)) } }
            @for notice in &cup.reasons { (said(notice)) }
        }
    }
}

pub(super) fn said(notice: &Notice) -> Markup {
    html! {
        p { (sentence(&words::message(notice))) }
        @if let Some(remedy) = words::remedy(notice) { p.hint { (sentence(remedy)) } }
    }
}
