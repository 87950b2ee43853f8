//! The embedded tables of `calibration/`: comment lines, one line of names, rows of numbers.

use super::spectrum::{FIRST_NM, POINTS, STEP_NM, Spectrum};

/// The lines that are neither comment nor empty.
fn rows(text: &'static str) -> impl Iterator<Item = &'static str> {
    text.lines().filter(|line| !line.starts_with('#') && !line.is_empty())
}

/// Tables are part of the program, so a field that is no number is a mistake of ours that the tests of each table find.
fn number(field: &str) -> f64 {
    field.parse().unwrap_or(f64::NAN)
}

/// Spectra that stand in columns, on the grid of [`Spectrum`], the first column being the wavelength.
pub(super) fn columns(text: &'static str) -> Vec<(&'static str, Spectrum)> {
    let mut rows = rows(text);
    let names = rows.next().unwrap_or_default().split(',').skip(1);
    let mut all: Vec<(&'static str, Spectrum)> = names.map(|name| (name, Spectrum([f64::NAN; POINTS]))).collect();
    for row in rows {
        let mut fields = row.split(',');
        let index = (number(fields.next().unwrap_or_default()) - FIRST_NM) / STEP_NM;
        for (field, (_, spectrum)) in fields.zip(&mut all) {
            if let Some(place) = spectrum.0.get_mut(index as usize) {
                *place = number(field);
            }
        }
    }
    all
}

/// Spectra that stand in rows after their name, at the evenly spaced wavelengths of the heading; linear between them, the end values held.
pub(super) fn lines(text: &'static str) -> Vec<(&'static str, Spectrum)> {
    let mut rows = rows(text);
    let grid: Vec<f64> = rows.next().unwrap_or_default().split(',').skip(1).map(number).collect();
    rows.map(|row| {
        let mut fields = row.split(',');
        let name = fields.next().unwrap_or_default();
        let values: Vec<f64> = fields.map(number).collect();
        (name, Spectrum::from_fn(|nm| between(&grid, &values, nm)))
    })
    .collect()
}

/// Linear interpolation over a rising `grid`, the end values held; not a number when grid and values do not match.
fn between(grid: &[f64], values: &[f64], nm: f64) -> f64 {
    if grid.len() != values.len() || grid.is_empty() {
        return f64::NAN;
    }
    let right = grid.partition_point(|&w| w < nm);
    if right == 0 {
        values[0]
    } else if right == grid.len() {
        values[grid.len() - 1]
    } else {
        let t = (nm - grid[right - 1]) / (grid[right] - grid[right - 1]);
        values[right - 1] + t * (values[right] - values[right - 1])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn interpolates_and_holds_the_ends() {
        let (grid, values) = ([400.0, 410.0, 420.0], [1.0, 3.0, 2.0]);
        assert_abs_diff_eq!(between(&grid, &values, 405.0), 2.0);
        assert_abs_diff_eq!(between(&grid, &values, 380.0), 1.0);
        assert_abs_diff_eq!(between(&grid, &values, 410.0), 3.0);
        assert_abs_diff_eq!(between(&grid, &values, 500.0), 2.0);
        assert!(between(&grid, &values[..2], 405.0).is_nan());
    }
}
