//! The pages of the logbook.

use super::super::routes::baths::{KEEPING, WORK};
use super::super::seen::{Acted, Glance, Whole};
use super::changes::changes;
use super::parts::{hidden, line, list as choices, must, tick};
use super::{Theme, glued, mark, page, sentence};
use crate::chemistry::developer;
use crate::indicator::catalogue;
use crate::logbook::belief::Range;
use crate::logbook::event::Load;
use crate::logbook::recipe::Acid;
use crate::present::bath::glance as said;
use crate::present::words;
use maud::{Markup, PreEscaped, html};

/// Entries that the page shows before the rest is opened.
const RECENT: usize = 6;
/// Share of the reserve at the right end of the bar.
const BAR: f64 = 1.25;
/// Kinds of film and paper that the form proposes.
const KINDS: [&str; 8] = ["135-36", "120", "4x5film", "8x10rc", "8x10fb", "5x7rc", "18x24cmfb", "24x30cmrc"];

/// All baths.
pub(in crate::web) fn list(theme: Theme, baths: &[Glance], who: &str) -> Markup {
    let (live, gone): (Vec<&Glance>, Vec<&Glance>) = baths.iter().partition(|bath| bath.gone.is_none());
    let body = html! {
        h1 { "Baths" }
        @if live.is_empty() { p { "No bath is in use. Begin one, and its state stands here." } }
        @for bath in &live { (card(bath)) }
        p { a.button href="/begin" { "Begin a bath" } }
        @if !gone.is_empty() {
            details {
                summary { "Discarded" }
                ul { @for bath in &gone {
                    li { a.button href=(bath.address) { (bath.name) } " discarded " (bath.gone.as_deref().unwrap_or_default()) }
                } }
            }
        }
        details {
            summary { "Who writes: " (who) }
            form method="post" action="/who" {
                (hidden("back", "/baths"))
                (line("who", "Name for what this device writes down", who))
                button type="submit" { "Keep the name" }
            }
        }
    };
    page(theme, "Baths", "/baths", &body)
}

fn card(bath: &Glance) -> Markup {
    html! {
        article.bath {
            h2.state { (mark(bath.state)) (words::state(bath.state)) ": " (bath.name) @if let Some(place) = &bath.place { ", " (place) } }
            @if let Some(next) = &bath.next { p { (sentence(next)) } }
            @if let Some(used) = bath.used { (bar(used)) }
            (facts(bath))
            @if bath.notes > 0 { p { b { (bath.notes) " to look at." } } }
            p { a.button.main href=(bath.address) { "Open " (bath.name) } }
        }
    }
}

fn facts(bath: &Glance) -> Markup {
    html! {
        dl {
            @for (name, text) in &bath.facts { div { dt { (name) } dd { (glued(text)) } } }
            div { dt { "last read" } dd { (bath.read.as_deref().unwrap_or("never")) } }
        }
    }
}

/// The share of the reserve used: a box from least to most, a line at the likely share; the words stand below.
fn bar(used: Range) -> Markup {
    let x = |share: f64| 100.0 * share.clamp(0.0, BAR) / BAR;
    let (low, high) = (x(used.low), x(used.high));
    html! {
        svg.bar viewBox="0 0 100 8" preserveAspectRatio="none" aria-hidden="true" focusable="false" {
            rect.whole x="0" y="0.5" width=(x(1.0)) height="7" {}
            rect.between x=(low) y="1.5" width=((high - low).max(0.8)) height="5" {}
            rect.likely x=((x(used.likely) - 0.6).max(0.0)) y="0" width="1.2" height="8" {}
        }
    }
}

/// One bath.
pub(in crate::web) fn one(theme: Theme, bath: &Whole) -> Markup {
    let glance = &bath.glance;
    let body = html! {
        h1 { (glance.name) }
        @if let Some(said) = &bath.said { p.told role="status" { (sentence(said)) } }
        @match &glance.gone {
            Some(day) => p.state { b { "Discarded " (day) "." } }
            None => {
                p.state.verdict { (mark(glance.state)) b { (words::state(glance.state)) } }
                // What the state alone advises knows of no session.
                p { (sentence(glance.next.as_deref().unwrap_or(words::advice(glance.state)))) }
                @if glance.next.is_some() { (other_session(&glance.address)) }
                @if let Some(used) = glance.used { (bar(used)) }
                (facts(glance))
                (through(bath))
            }
        }
        (back(bath))
        @if glance.gone.is_none() { (changes(bath)) }
        @if !bath.sentences.is_empty() {
            section aria-labelledby="known" {
                h2 #known { "What is known" }
                ul { @for known in &bath.sentences { li { (sentence(known)) } } }
                @for (message, hint) in &bath.notes { p { b { "To look at: " } (message) "." } p.hint { (sentence(hint)) } }
            }
        }
        @if let Some(trend) = &bath.trend { div.picture.wide tabindex="0" role="group" aria-label="trend, can be moved sideways" { (PreEscaped(trend)) } }
        (entries(bath))
        p { "Mixed as: " (bath.start) "." }
        p { a.button href={ (glance.address) "/label" } { "Label" } a.button href="/" { "Check a photo" } }
        @if glance.gone.is_none() { (discard(bath)) }
    };
    page(theme, &glance.name, "/baths", &body)
}

/// Asks about another number of pieces than is usual.
fn other_session(address: &str) -> Markup {
    html! {
        details {
            summary { "Another number" }
            form method="get" action=(address) {
                (must("next", "Pieces of the next session", ""))
                button type="submit" { "Ask" }
            }
        }
    }
}

/// What goes through: a tap for what went through last, a form for anything else.
fn through(bath: &Whole) -> Markup {
    html! {
        section aria-labelledby="through" {
            h2 #through { "What goes through now" }
            @if bath.offers.is_empty() { p { "The first load tells kind and developer; from then on there are buttons here." } }
            div.grid { @for load in &bath.offers { (offer(bath, load)) } }
            details open[bath.offers.is_empty()] {
                summary { "Anything else" }
                form method="post" action="/log/load" {
                    (hidden("once", &bath.once))
                    (hidden("bath", &bath.glance.id))
                    label for="kind" { "Kind: 135-36 or 120, or a size with rc, fb, fbsw or film" }
                    input #kind type="text" name="kind" list="kinds" autocomplete="off" autocapitalize="off" spellcheck="false" required;
                    datalist #kinds { @for kind in KINDS { option value=(kind) {} } }
                    label for="count" { "How many" }
                    input #count type="text" name="count" inputmode="decimal" autocomplete="off" value="1" required;
                    (choices("developer", "Developer they came from", developers(bath), bath.developer.as_deref().unwrap_or_default()))
                    (line("films", "Names of films or prints, with commas; may stay empty", ""))
                    (line("by", "Who made them, such as a class; may stay empty", ""))
                    (line("note", "Note; may stay empty", ""))
                    (line("at", "When, if not now: 19:30, or with its date before it", ""))
                    (tick("guessed", "Nobody counted: take the generous figure", false))
                    details {
                        summary { "Measured by yourself" }
                        (line("carry", "Developer that one piece brings along, ml", ""))
                        (line("alkalinity", "Your developer: acid that a litre of it binds down to pH 5.2, meq", ""))
                        (line("own", "What you call that developer, if it is not the one chosen above", ""))
                    }
                    button.main type="submit" { "Write it down" }
                }
            }
        }
    }
}

pub(super) fn developers(bath: &Whole) -> Vec<(&str, &str)> {
    let all = developer::all().iter().map(|developer| (developer.name, developer.plain));
    // A developer with a figure of one's own stands in no table.
    let own = bath.developer.as_deref().filter(|name| developer::find(name).is_err()).map(|name| (name, name));
    own.into_iter().chain(all).collect()
}

fn offer(bath: &Whole, load: &Load) -> Markup {
    html! {
        form method="post" action="/log/load" {
            (hidden("once", &bath.once))
            (hidden("bath", &bath.glance.id))
            @for pieces in &load.pieces {
                (hidden("kind", &pieces.piece.to_string()))
                (hidden("count", &pieces.count.to_string()))
            }
            (hidden("developer", &load.developer.name))
            button.main type="submit" { span { (said::button(load)) small { "out of " (load.developer.name) } } }
        }
    }
}

/// What can be taken back.
fn back(bath: &Whole) -> Markup {
    let form = |acted: &Acted, words: &str| {
        html! {
            form.back method="post" action="/log/undo" {
                (hidden("once", &bath.once))
                (hidden("bath", &bath.glance.id))
                (hidden("entry", &acted.id))
                p { (acted.text) }
                button type="submit" { (words) }
            }
        }
    };
    html! {
        section aria-labelledby="last" {
            h2 #last { "Last entry" }
            @if let Some(last) = &bath.last { (form(last, "Take it back")) }
            @if let Some(undone) = &bath.undone {
                h3 { "Taken back" }
                (form(undone, "Let it count again"))
            }
        }
    }
}

fn entries(bath: &Whole) -> Markup {
    let item = |(text, counts): &(String, bool)| html! { li { @if *counts { (text) } @else { s { (text) } " - does not count" } } };
    html! {
        section aria-labelledby="entries" {
            h2 #entries { "Entries" }
            ul { @for entry in bath.entries.iter().take(RECENT) { (item(entry)) } }
            @if bath.entries.len() > RECENT {
                details { summary { "Earlier" } ul { @for entry in bath.entries.iter().skip(RECENT) { (item(entry)) } } }
            }
        }
    }
}

fn discard(bath: &Whole) -> Markup {
    html! {
        details {
            summary { "Discard this bath" }
            p { "Where it may be poured away, local rules say; " a href="/dispose" { "what is known of it" } "." }
            form method="post" action="/log/discard" {
                (hidden("once", &bath.once))
                (hidden("bath", &bath.glance.id))
                (must("reason", "Why", "spent"))
                button type="submit" { "Write down that it is gone" }
            }
        }
    }
}

/// The form of a new bath.
pub(in crate::web) fn begin(theme: Theme, once: &str) -> Markup {
    let dyes: Vec<(&str, String)> = catalogue::all().iter().map(|dye| (dye.name, dye.name.replace('-', " "))).collect();
    let dyes = std::iter::once(("none", "none")).chain(dyes.iter().map(|(name, words)| (*name, words.as_str())));
    let body = html! {
        h1 { "Begin a bath" }
        p { "Not mixed yet? " a href="/mix" { "What to measure" } "." }
        form method="post" action="/log/begin" {
            (hidden("once", once))
            (must("name", "What to call it", ""))
            (choices("acid", "Acid", Acid::ALL.map(|acid| (acid.name(), said::acid(acid))), "citric-anhydrous"))
            (line("grams", "Of a powder: grams in a litre, such as 15", ""))
            (line("percent", "Of a liquid: per cent on its label, such as 28", ""))
            (line("dilution", "Of a liquid: dilution, such as 1+19", ""))
            (must("volume", "Volume with its unit, such as 1.5l", "1l"))
            (choices("indicator", "Indicator in it", dyes, "none"))
            (choices("work", "What it is for", WORK.map(|(value, work)| (value, said::work(work))), "both"))
            (choices("keeping", "How it is kept", KEEPING.map(|(value, keeping)| (value, said::keeping(keeping))), "bottle"))
            (line("place", "Where it stands; may stay empty", ""))
            button.main type="submit" { "Write it down" }
        }
    };
    page(theme, "Begin a bath", "/baths", &body)
}
