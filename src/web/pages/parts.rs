//! Parts of forms that several pages share.

use maud::{Markup, html};

/// A line to type into, with what it is for.
pub(super) fn line(name: &str, words: &str, value: &str) -> Markup {
    html! {
        label for=(name) { (words) }
        input id=(name) type="text" name=(name) value=(value) autocomplete="off";
    }
}

/// A line that cannot be left empty.
pub(super) fn must(name: &str, words: &str, value: &str) -> Markup {
    html! {
        label for=(name) { (words) }
        input id=(name) type="text" name=(name) value=(value) autocomplete="off" required;
    }
}

/// A list to choose from: values with their words.
pub(super) fn list<'a>(name: &str, words: &str, choices: impl IntoIterator<Item = (&'a str, &'a str)>, chosen: &str) -> Markup {
    html! {
        label for=(name) { (words) }
        select id=(name) name=(name) {
            @for (value, words) in choices { option value=(value) selected[value == chosen] { (words) } }
        }
    }
}

/// A box to tick.
pub(super) fn tick(name: &str, words: &str, is_ticked: bool) -> Markup {
    html! { label.tick { input type="checkbox" name=(name) value="yes" checked[is_ticked]; " " (words) } }
}

/// What a form must know and nobody types.
pub(super) fn hidden(name: &str, value: &str) -> Markup {
    html! { input type="hidden" name=(name) value=(value); }
}

/// A photo from the camera or from what is there.
pub(super) fn photo() -> Markup {
    html! {
        label.big for="take" { "Take a photo" }
        input #take type="file" name="photo" accept="image/*" capture="environment";
        label.big for="choose" { "Choose a photo" }
        input #choose type="file" name="photo" accept="image/*";
    }
}

/// Where a form tells that it is on its way.
pub(super) fn progress() -> Markup {
    html! { p #progress role="status" aria-live="polite" {} }
}
