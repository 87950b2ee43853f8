//! Our figures against published ones. Each table and each check names its source; figures that no text was at hand for say so.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]
#![allow(clippy::print_stdout, reason = "each comparison is shown with --nocapture")]

#[path = "published/acidity.rs"]
mod acidity;
#[path = "published/bands.rs"]
mod bands;
#[path = "published/colour.rs"]
mod colour;
#[path = "published/equilibria.rs"]
mod equilibria;
#[path = "published/neutral.rs"]
mod neutral;

/// Rows of a CSV text without comment lines and heading, split at commas.
fn rows(text: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines().filter(|line| !line.starts_with('#')).skip(1).map(|line| line.split(',').collect())
}

/// The numbers of a row from `first` on.
fn numbers(row: &[&str], first: usize) -> Vec<f64> {
    row[first..].iter().map(|field| field.parse().unwrap()).collect()
}
