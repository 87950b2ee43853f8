//! The page that makes a profile of a row of buffers.

use super::super::ladder::{Ladder, Profiled, Told};
use super::check::{said, told};
use super::parts::{hidden, line, must, photo, progress, tick};
use super::{Theme, glued, page, place, sentence};
use crate::indicator::Indicator;
use crate::present::{calibration, words};
use maud::{Markup, PreEscaped, html};

/// The page that asks for a photo.
pub(in crate::web) fn first(theme: Theme, indicator: &Indicator, names: &[String]) -> Markup {
    let body = html! {
        h1 { "Calibrate" }
        p { "A row of cups with buffers of known pH, each with the same drops of indicator, beside the grey card: with the camera and in the light that you read baths with." }
        form #send method="post" action="/calibrate" enctype="multipart/form-data" {
            (photo())
            (cups(&Told::default()))
            (told(indicator.name, "auto"))
            button.main type="submit" { "Measure them" }
            (progress())
        }
        p.hint { "Fitting takes some seconds. Buffers to mix yourself: " code { "tintpoint buffer" } " on the command line." }
        h2 { "Profiles that are kept" }
        @if names.is_empty() { p { "None yet." } }
        ul { @for name in names { li { (words::printable(name)) } } }
    };
    page(theme, "Calibrate", "/calibrate", &body)
}

fn cups(of: &Told) -> Markup {
    html! {
        (must("row", "pH of each cup, in the order of the cups: 4.01, 5.00, 6.10; or buffers: phthalate@20, phosphate@20", &of.row))
        (line("temperature", "Their temperature, degrees Celsius; 25 when empty", &of.temperature))
        (line("note", "A note to keep: lamp, cups", &of.note))
    }
}

/// The page of a row that was sent.
pub(in crate::web) fn shown(theme: Theme, name: &str, ladder: &Ladder, once: &str) -> Markup {
    let address = format!("/calibrate/{name}");
    let body = html! {
        h1 { "Calibrate: " (words::printable(&ladder.upload.name)) }
        section #profile aria-labelledby="points" tabindex="-1" {
            @match &ladder.outcome {
                Ok(profiled) => {
                    h2 #points { "Points and residuals" }
                    (points(profiled))
                    (keep(&address, ladder, once))
                }
                Err(failure) => {
                    h2 #points { "No profile yet" }
                    p.told role="alert" { (sentence(&words::printable(&failure.message))) }
                    @if let Some(hint) = &failure.hint { p.hint { (sentence(hint)) } }
                    @if let Some(reading) = &ladder.reading { @for notice in words::by_gravity(&reading.warnings) { (said(notice)) } }
                }
            }
        }
        @if let (Some(shown), Some(reading)) = (&ladder.shown, &ladder.reading) {
            @let told = html! { (cups(&ladder.told)) (told(ladder.settings.indicator.name, ladder.settings.light_word())) };
            (place::editor(&address, shown, &place::found(&ladder.settings, reading), reading, &told, "Measure again"))
        }
        p { a.button href="/calibrate" { "Another photo" } }
    };
    page(theme, "Calibrate", "/calibrate", &body)
}

/// The table of buffers, what it is worth, the curve.
fn points(profiled: &Profiled) -> Markup {
    html! {
        div.scroll tabindex="0" role="group" aria-label="table of buffers" {
            table {
                thead { tr { @for column in calibration::COLUMNS { th scope="col" { (column) } } } }
                tbody { @for (k, row) in profiled.rows.iter().enumerate() {
                    tr { th scope="row" { (k + 1) } @for cell in row { td { (cell) } } }
                } }
            }
        }
        ul { @for fact in &profiled.facts { li { (glued(fact)) } } }
        div.picture.wide tabindex="0" role="group" aria-label="curve, can be moved sideways" { (PreEscaped(&profiled.curve)) }
    }
}

/// What keeps the profile.
fn keep(address: &str, ladder: &Ladder, once: &str) -> Markup {
    html! {
        @if let Some(saved) = &ladder.saved {
            p.told role="status" { "Kept as " (saved) ". Photos of this camera with this indicator are read with it from now on." }
        }
        @if let Some(refused) = &ladder.refused { p.told role="alert" { (sentence(refused)) " Nothing was written." } }
        form method="post" action={ (address) "/save" } {
            (hidden("once", once))
            label for="name" { "Name: letters, digits, hyphens, such as bench-lamp" }
            input #name type="text" name="name" value=(ladder.told.name) maxlength="64" autocomplete="off" autocapitalize="off" spellcheck="false" required;
            @if ladder.saved.is_some() || ladder.refused.is_some() { (tick("sure", "Replace the profile of that name", false)) }
            button.main type="submit" { "Keep the profile" }
        }
    }
}
