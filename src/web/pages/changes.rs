//! Forms for what happens to a bath besides loads; each is folded away until it is wanted.

use super::super::seen::Whole;
use super::baths::developers;
use super::parts::hidden;
use crate::logbook::recipe::Acid;
use crate::present::bath::glance as said;
use maud::{Markup, html};

/// All of them.
pub(super) fn changes(bath: &Whole) -> Markup {
    html! {
        section aria-labelledby="else" {
            h2 #else { "What else happened" }
            (form(bath, "reading", "Read by hand", &html! {
                (line("reading", "ph", "pH", "", "decimal"))
                (line("reading", "low", "Or at least; alone it means above", "", "decimal"))
                (line("reading", "high", "Or at most; alone it means below", "", "decimal"))
                (line("reading", "with", "Read with: meter, pH paper, eye", "meter", "text"))
                (line("reading", "light", "Light; may stay empty", "", "text"))
            }))
            (form(bath, "drop-test", "Drop test", &html! {
                p.hint { "Drip your working developer into a sample of the bath until its dye turns, and discard the sample." }
                (line("drop-test", "sample", "Sample of the bath, ml", "10", "decimal"))
                (line("drop-test", "used", "Developer until it turned, ml", "", "decimal"))
                (choices("drop-test", "developer", "Developer", &developers(bath), bath.developer.as_deref().unwrap_or_default()))
                (line("drop-test", "alkalinity", "Your own figure for it: acid that a litre binds down to pH 5.2, meq; may stay empty", "", "decimal"))
            }))
            (form(bath, "volume", "Volume", &html! {
                p.hint { "Less than there should be is taken for evaporated; what is gone was spilt, or taken for tests." }
                (choices("volume", "what", "What is told", &[("now", "what is there now"), ("gone", "what is gone")], "now"))
                (line("volume", "volume", "Volume with its unit, such as 1.7l", "", "text"))
            }))
            (form(bath, "top-up", "Topped up", &html! {
                p.hint { "Acid adds reserve, not youth: salts, dyes and gelatin stay. More than once is not advised." }
                (line("top-up", "volume", "Volume poured in, with its unit, such as 200ml", "", "text"))
                (choices("top-up", "what", "What was poured in", &[("same", "fresh bath of the same recipe"), ("water", "plain water"), ("other", "something else, as told below")], "same"))
                (choices("top-up", "acid", "Something else: acid", &Acid::ALL.map(|acid| (acid.name(), said::acid(acid))), "acetic"))
                (line("top-up", "grams", "Of a powder: grams in a litre", "", "decimal"))
                (line("top-up", "percent", "Of a liquid: per cent on its label", "", "decimal"))
                (line("top-up", "dilution", "Of a liquid: dilution, such as 1+0 undiluted", "", "text"))
            }))
            (form(bath, "note", "A note", &html! {}))
        }
    }
}

/// One form: what is told, then what may be told with anything.
fn form(bath: &Whole, kind: &str, title: &str, told: &Markup) -> Markup {
    html! {
        details {
            summary { (title) }
            form method="post" action={ "/log/" (kind) } {
                (hidden("once", &bath.once))
                (hidden("bath", &bath.glance.id))
                (told)
                (line(kind, "note", if kind == "note" { "Note" } else { "Note; may stay empty" }, "", "text"))
                (line(kind, "at", "When, if not now: 19:30, or with its date before it", "", "text"))
                button.main type="submit" { "Write it down" }
            }
        }
    }
}

/// A line to type into; several forms of a page have the same names, so the form stands in the id. `keys` is the kind of keyboard.
fn line(form: &str, name: &str, words: &str, value: &str, keys: &str) -> Markup {
    let id = format!("{form}-{name}");
    html! {
        label for=(id) { (words) }
        input id=(id) type="text" name=(name) value=(value) inputmode=(keys) autocomplete="off" autocapitalize="off";
    }
}

fn choices(form: &str, name: &str, words: &str, all: &[(&str, &str)], chosen: &str) -> Markup {
    let id = format!("{form}-{name}");
    html! {
        label for=(id) { (words) }
        select id=(id) name=(name) {
            @for (value, words) in all { option value=(value) selected[*value == chosen] { (words) } }
        }
    }
}
