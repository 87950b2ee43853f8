//! Numbers for people: rounded by their uncertainty, bounds rounded outwards.

/// A pH in words: `5.4 (5.1 to 5.7)`, `5.1 to 5.7`, `below 5.0`, `above 7.2`; `None` when nothing is known.
///
/// The ends are rounded outwards so that the words never claim more than the figures.
#[must_use]
pub fn ph(likely: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<String> {
    let finite = |end: Option<f64>| end.filter(|v| v.is_finite());
    match (finite(likely), finite(low), finite(high)) {
        (likely, Some(low), Some(high)) => {
            let places = decimals(high - low);
            let range = format!("{:.places$} to {:.places$}", down(low, places), up(high, places));
            Some(match likely {
                Some(ph) => format!("{ph:.places$} ({range})"),
                None => range,
            })
        }
        (_, None, Some(high)) => Some(format!("below {:.1}", up(high, 1))),
        (_, Some(low), None) => Some(format!("above {:.1}", down(low, 1))),
        (_, None, None) => None,
    }
}

/// The shortest form, for a label on a picture: `pH 5.4`, `pH < 5.0`, `pH > 7.2`; `None` when there is no such single figure.
#[must_use]
pub fn ph_short(likely: Option<f64>, low: Option<f64>, high: Option<f64>) -> Option<String> {
    let text = match (low, high) {
        (Some(_), Some(_)) => ph(likely, low, high)?,
        _ => ph(None, low, high)?.replace("below", "<").replace("above", ">"),
    };
    text.split(" (").next().map(|short| format!("pH {short}"))
}

/// The chance of a state in words; what rests on a model is never told as certain.
#[must_use]
pub fn chance(share: f64) -> String {
    percent(if share >= 1.0 {
        0.999
    } else if share <= 0.0 {
        0.001
    } else {
        share
    })
}

/// Decimals for a value whose 95 % interval has this width: two only when the interval is narrower than 0.1.
fn decimals(width: f64) -> usize {
    if width < 0.1 { 2 } else { 1 }
}

/// Slack against values such as 5.1 that are a little above themselves in binary.
const SLACK: f64 = 1e-9;

fn down(value: f64, places: usize) -> f64 {
    let unit = if places == 2 { 100.0 } else { 10.0 };
    (value * unit + SLACK).floor() / unit
}

fn up(value: f64, places: usize) -> f64 {
    -down(-value, places)
}

/// A value rounded to the first digit of its standard uncertainty: 1.6234 +/- 0.016 is `1.62`, 1234 +/- 12 is `1230`.
#[must_use]
pub fn by_uncertainty(value: f64, sd: f64) -> String {
    if !(value.is_finite() && sd.is_finite() && sd > 0.0) {
        return "unknown".to_owned();
    }
    let exponent = sd.log10().floor().clamp(-9.0, 9.0) as i32;
    let unit = 10f64.powi(exponent);
    let places = usize::try_from(-exponent).unwrap_or(0);
    format!("{:.places$}", (value / unit).round() * unit)
}

/// A pH with half the width of its 95 % interval: `5.50 +/- 0.07`, `5.50 +/- 0.15`, `5.5 +/- 0.3`; the half-width is rounded up.
#[must_use]
pub fn ph_with(ph: f64, half: f64) -> String {
    let places = half_decimals(half);
    format!("{ph:.places$} +/- {}", half_width(half))
}

/// Hundredths while rounding a half-width up to tenths would inflate it by more than a third.
fn half_decimals(half: f64) -> usize {
    if half < 0.25 { 2 } else { 1 }
}

/// Half the width of an interval of pH, rounded up: to hundredths below 0.25, else to tenths.
#[must_use]
pub fn half_width(half: f64) -> String {
    let places = half_decimals(half);
    format!("{:.places$}", up(half, places))
}

/// A share from 0 to 1 as whole per cent; never 0 or 100 unless it is exactly that.
#[must_use]
pub fn percent(share: f64) -> String {
    if !share.is_finite() {
        return "unknown".to_owned();
    }
    match share {
        s if s <= 0.0 => "0 %".to_owned(),
        s if s < 0.005 => "under 1 %".to_owned(),
        s if (0.995..1.0).contains(&s) => "over 99 %".to_owned(),
        s => format!("{:.0} %", 100.0 * s),
    }
}

/// One decimal.
#[must_use]
pub fn one_decimal(value: f64) -> String {
    format!("{value:.1}")
}

/// Rounded to `places` decimals for a report; `None` when not finite.
#[must_use]
pub fn rounded(value: f64, places: i32) -> Option<f64> {
    let unit = 10f64.powi(places);
    let rounded = (value * unit).round() / unit;
    // Adding zero turns -0 into 0.
    rounded.is_finite().then_some(rounded + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_are_rounded_outwards() {
        assert_eq!(ph(Some(5.42), Some(5.14), Some(5.68)).as_deref(), Some("5.4 (5.1 to 5.7)"));
        assert_eq!(ph(Some(5.42), Some(5.19), Some(5.61)).as_deref(), Some("5.4 (5.1 to 5.7)"));
        assert_eq!(ph(None, None, Some(4.91)).as_deref(), Some("below 5.0"));
        assert_eq!(ph(None, Some(7.29), None).as_deref(), Some("above 7.2"));
    }

    #[test]
    fn round_ends_stay() {
        assert_eq!(ph(Some(5.3), Some(5.1), Some(5.7)).as_deref(), Some("5.3 (5.1 to 5.7)"));
        assert_eq!(ph(None, None, Some(5.1)).as_deref(), Some("below 5.1"));
    }

    #[test]
    fn a_narrow_interval_earns_a_second_decimal() {
        assert_eq!(ph(Some(5.423), Some(5.391), Some(5.455)).as_deref(), Some("5.42 (5.39 to 5.46)"));
    }

    #[test]
    fn nothing_known_says_nothing() {
        assert_eq!(ph(Some(5.0), None, None), None);
        assert_eq!(ph(Some(f64::NAN), Some(f64::NAN), None), None);
    }

    #[test]
    fn certainty_is_never_rounded_up_to_whole() {
        assert_eq!(percent(0.999), "over 99 %");
        assert_eq!(percent(0.001), "under 1 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.347), "35 %");
        assert_eq!(percent(f64::NAN), "unknown");
    }

    #[test]
    fn figures_end_where_their_doubt_begins() {
        assert_eq!(by_uncertainty(1.6234, 0.016), "1.62");
        assert_eq!(by_uncertainty(1234.0, 12.0), "1230");
        assert_eq!(by_uncertainty(0.95, 0.0095), "0.950");
        assert_eq!(by_uncertainty(1.0, f64::NAN), "unknown");
        assert_eq!((ph_with(5.5, 0.063), ph_with(5.5, 0.263)), ("5.50 +/- 0.07".to_owned(), "5.5 +/- 0.3".to_owned()));
    }

    #[test]
    fn labels_are_short() {
        assert_eq!(ph_short(Some(5.42), Some(5.14), Some(5.68)).as_deref(), Some("pH 5.4"));
        assert_eq!(ph_short(None, None, Some(4.91)).as_deref(), Some("pH < 5.0"));
        assert_eq!(ph_short(None, Some(7.29), None).as_deref(), Some("pH > 7.2"));
        assert_eq!(ph_short(None, None, None), None);
    }

    #[test]
    fn no_state_is_told_as_certain() {
        assert_eq!((chance(1.0), chance(0.0)), ("over 99 %".to_owned(), "under 1 %".to_owned()));
    }

    #[test]
    fn minus_zero_and_nan_do_not_leave() {
        assert_eq!(rounded(-0.000_01, 3).map(f64::is_sign_negative), Some(false));
        assert_eq!(rounded(f64::NAN, 3), None);
    }
}
