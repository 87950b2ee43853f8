//! The embedded tables of `calibration/` that this layer reads: comment lines, one line of names, rows.

/// The rows below the heading, split at commas.
pub(super) fn rows(text: &'static str) -> impl Iterator<Item = Vec<&'static str>> {
    text.lines().filter(|line| !line.starts_with('#') && !line.is_empty()).skip(1).map(|line| line.split(',').collect())
}

/// Tables are part of the program, so a field that is no number is a mistake of ours that the tests of each table find.
pub(super) fn number(field: &str) -> f64 {
    field.parse().unwrap_or(f64::NAN)
}
