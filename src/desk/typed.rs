//! Figures as people type them; a refusal has two lines, what is wrong and `hint: ` with what to write.

use crate::quantity::{Day, Interval, Millilitres, Ph, RangeError};

/// A number with digits and a full stop.
///
/// # Errors
/// Message and hint.
pub fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`{}` is not a number\nhint: use digits and a full stop, such as 5.5", text.trim())),
    }
}

/// A number within the range of its kind.
///
/// # Errors
/// Message, and a hint where it is no number.
pub fn quantity<T>(text: &str, new: impl Fn(f64) -> Result<T, RangeError>) -> Result<T, String> {
    number(text).and_then(|value| new(value).map_err(|e| e.to_string()))
}

/// A volume with its unit: ml, cl, dl, l, or litre in words.
///
/// # Errors
/// Message and hint.
pub fn volume(text: &str) -> Result<Millilitres, String> {
    let text = text.trim();
    let split = text.find(|c: char| c.is_alphabetic()).unwrap_or(text.len());
    let (figure, unit) = text.split_at(split);
    let factor = match unit.to_lowercase().as_str() {
        "ml" => 1.0,
        "cl" => 10.0,
        "dl" => 100.0,
        "l" | "litre" | "litres" | "liter" | "liters" => 1000.0,
        "" => return Err(format!("`{text}` has no unit\nhint: write 100ml or 0.5l")),
        _ => return Err(format!("`{unit}` is no unit of volume\nhint: write 100ml or 0.5l")),
    };
    Millilitres::new(number(figure)? * factor).map_err(|e| format!("{e}\nhint: mix between 1 ml and 100 l"))
}

/// An interval of pH: `4.2..4.7`, `..5.0` or `6.5..`.
///
/// # Errors
/// Message and hint.
pub fn interval(text: &str) -> Result<Interval, String> {
    let wrong = || format!("`{}` is no interval of pH\nhint: write 4.2..4.7, or ..5.0 for one bound", text.trim());
    let (low, high) = text.split_once("..").ok_or_else(wrong)?;
    let end = |part: &str| if part.trim().is_empty() { Ok(None) } else { quantity(part, Ph::new).map(|ph| Some(ph.value())) };
    match (end(low)?, end(high)?) {
        (None, None) => Err(wrong()),
        (Some(low), Some(high)) if low > high => Err(wrong()),
        (low, high) => Ok(Interval { low, high }),
    }
}

/// A day: `2026-11-26`.
///
/// # Errors
/// Message and hint.
pub fn day(text: &str) -> Result<Day, String> {
    Day::parse(text).ok_or_else(|| format!("`{}` is no day\nhint: write year-month-day, such as 2026-11-26", text.trim()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn volumes_need_a_unit() {
        for (text, wanted) in [("100ml", 100.0), ("0.5 l", 500.0), (" 25 cl ", 250.0), ("1L", 1000.0), ("2 litres", 2000.0), ("3dl", 300.0)]
        {
            assert_abs_diff_eq!(volume(text).unwrap().value(), wanted, epsilon = 1e-9);
        }
        for wrong in ["100", "ml", "0ml", "-5ml", "101l", "nanml", "1e9l", "5 gal", "", "1,5l"] {
            assert!(volume(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn intervals_have_one_end_or_two() {
        assert_eq!(interval("4.2..4.7"), Ok(Interval { low: Some(4.2), high: Some(4.7) }));
        assert_eq!(interval("..5"), Ok(Interval { low: None, high: Some(5.0) }));
        for wrong in ["4.2", "..", "5..4", "a..b", "4.2..99"] {
            assert!(interval(wrong).is_err(), "{wrong}");
        }
    }
}
