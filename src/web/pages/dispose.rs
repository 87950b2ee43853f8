//! The page that says what is known of pouring a bath away.

use super::super::fields::Fields;
use super::super::problem::Problem;
use super::Theme;
use super::mix::{developers, ingredients, refused, report};
use super::parts::{line, list};
use maud::{Markup, html};

/// The questions, with what comes of the answers or why nothing does.
pub(in crate::web) fn page(theme: Theme, fields: &Fields, made: Option<Result<Vec<String>, Problem>>) -> Markup {
    let body = html! {
        h1 { "Pour a used bath away" }
        p { "Nothing here is a permission: local rules come first." }
        @match &made {
            None => {}
            Some(Err(problem)) => (refused(problem)),
            Some(Ok(lines)) => section #answer aria-labelledby="known" tabindex="-1" {
                h2 #known { "What is known" }
                (report(lines))
            },
        }
        form method="get" action="/dispose#answer" {
            (question(fields, "fixer", "Has fixer got into the bath?", &[("no", "no"), ("yes", "yes"), ("unsure", "perhaps")]))
            (question(fields, "drain", "Where would it go?", &[("sewer", "a municipal sewer"), ("septic", "septic tank, cesspit, garden or storm drain"), ("collected", "it is collected")]))
            (question(fields, "holder", "Whose is it?", &[("home", "a home"), ("institution", "a school, club, laboratory or business")]))
            (line("volume", "How much there is, such as 2l", fields.text("volume")))
            (ingredients(fields))
            details {
                summary { "More: pH as read, developer, soda" }
                (line("read", "pH as read: 4.2..4.7, or ..5.0 for a bound", fields.text("read")))
                (developers(fields))
                (list("with", "What to neutralise with", [("bicarbonate", "sodium bicarbonate, baking soda"), ("carbonate", "sodium carbonate, washing soda without water"), ("carbonate-monohydrate", "sodium carbonate with one water")], fields.text("with")))
                (line("temperature", "Temperature, degrees Celsius", fields.told("temperature").unwrap_or("20")))
            }
            button.main type="submit" { "What is known of it" }
        }
    };
    super::page(theme, "Pour a used bath away", "/dispose", &body)
}

/// A question whose answer is never guessed.
fn question(fields: &Fields, name: &str, words: &str, answers: &[(&str, &str)]) -> Markup {
    html! {
        fieldset {
            legend { (words) }
            @for (value, words) in answers {
                label { input type="radio" name=(name) value=(value) checked[fields.text(name) == *value] required; " " (words) }
            }
        }
    }
}
