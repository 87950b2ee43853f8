//! The page that says what to measure.

use super::super::fields::Fields;
use super::super::problem::Problem;
use super::parts::{line, list, tick};
use super::{Theme, sentence};
use crate::chemistry::developer;
use crate::desk::source::Source;
use maud::{Markup, html};

/// The calculator, with its answer or why there is none: the lines of the report and the address of the label.
pub(in crate::web) fn page(theme: Theme, fields: &Fields, made: Option<Result<(Vec<String>, String), Problem>>) -> Markup {
    let body = html! {
        h1 { "Mix a stop bath" }
        @match &made {
            None => {}
            Some(Err(problem)) => (refused(problem)),
            Some(Ok((lines, label))) => {
                section #answer aria-labelledby="measure" tabindex="-1" {
                    h2 #measure { "What to measure" }
                    (report(lines))
                    p { a.button href=(label) { "Label for the bottle" } a.button href="/begin" { "Begin the bath in the logbook" } }
                }
            }
        }
        form method="get" action="/mix#answer" {
            (ingredients(fields))
            (line("make", "Bath to make in all, such as 1l", fields.told("make").unwrap_or(if made.is_none() { "1l" } else { "" })))
            details {
                summary { "More: use up a bottle, film, label" }
                (line("from-volume", "Instead of the above: acid to use up, such as 500ml", fields.text("from-volume")))
                (list("for", "What it is for", [("", "film or paper"), ("film", "film"), ("paper", "paper")], fields.text("for")))
                (developers(fields))
                (tick("half", "Half as strong, as some do for film", fields.told("half").is_some()))
                (line("temperature", "Temperature, degrees Celsius", fields.told("temperature").unwrap_or("20")))
                (line("spent", "pH from which the bath is spent", fields.told("spent").unwrap_or("5.5")))
                (list("kept", "How it is kept", [("full-bottle", "full, closed bottle"), ("part-bottle", "closed bottle with air in it"), ("cold", "full bottle in a refrigerator without food"), ("tray", "open tray")], fields.text("kept")))
                (line("age-limit", "Days that you keep a bath; common practice when empty", fields.text("age-limit")))
                (line("mixed", "Day of mixing for the label, year-month-day", fields.text("mixed")))
                (line("by", "Who mixes it, for the label", fields.text("by")))
                (line("cup", "Volume of a sample in a cup", fields.told("cup").unwrap_or("15ml")))
            }
            button.main type="submit" { "What to measure" }
        }
    };
    super::page(theme, "Mix a stop bath", "/mix", &body)
}

/// What a bath is or was mixed from.
pub(super) fn ingredients(fields: &Fields) -> Markup {
    html! {
        (list("from", "Mixed from", Source::ALL.map(|source| (source.name(), source.words())), fields.told("from").unwrap_or("citric-anhydrous")))
        (line("strength", "Strength of a liquid acid, per cent as on its label", fields.text("strength")))
        (line("to", "Strength of the bath, such as 1.7% or 15g/l", fields.text("to")))
        (line("dilution", "Or its dilution, such as 1+19", fields.text("dilution")))
        (list("colon", "What a colon in it means", [("both", "there is none, or show both"), ("in-all", "1:20 is 1 part in all 20"), ("parts", "1:20 is 1 part to 20 of water")], fields.text("colon")))
    }
}

/// The developer that goes before the bath, or none.
pub(super) fn developers(fields: &Fields) -> Markup {
    let all = developer::all().iter().map(|developer| (developer.name, developer.plain));
    list("developer", "Developer before it", std::iter::once(("", "not told")).chain(all), fields.text("developer"))
}

/// Options of the command line that reports name, and what stands on the page in their place.
const OPTIONS: [(&str, &str); 5] = [
    ("--colon in-all or --colon parts keeps one", "the list below keeps one"),
    ("--age-limit sets yours", "a field below sets yours"),
    ("such as citric --strength 50", "such as a citric concentrate of 50 %"),
    (" (--half)", ""),
    ("give --read", "give the pH as read"),
];

/// The lines of a report: those that belong to the one above stand further in, cautions are a list.
pub(super) fn report(lines: &[String]) -> Markup {
    let here = |line: &str| OPTIONS.iter().fold(line.trim().to_owned(), |line, (option, field)| line.replace(option, field));
    let (cautions, lines): (Vec<&String>, Vec<&String>) = lines.iter().partition(|line| line.starts_with("- "));
    html! {
        div.report {
            @for line in lines { p.more[line.starts_with("  ")] { (here(line)) } }
            ul { @for caution in cautions { li { (here(caution.trim_start_matches("- "))) } } }
        }
    }
}

/// Why there is no answer.
pub(super) fn refused(problem: &Problem) -> Markup {
    html! {
        section #answer aria-label="no answer" tabindex="-1" {
            p.told role="alert" { (sentence(problem.message())) }
            p.hint { (sentence(problem.hint())) }
        }
    }
}
