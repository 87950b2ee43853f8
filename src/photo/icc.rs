//! ICC profiles: what a matrix and three curves can say becomes a [`PhotoSpace`].

use super::metadata::printable;
use crate::colour::space::PhotoSpace;
use crate::colour::tone::{Parametric, ToneCurve};
use moxcms::{ColorProfile, DataColorSpace, LocalizableString, ProfileText, ToneReprCurve};

/// The space a profile describes.
///
/// Colorants and curves are used (ICC.1:2022, annex F.3, three-component matrix-based). Their white is the sum of
/// the colorants; it is taken to D65 by Bradford adaptation, so that white stays white whether a profile keeps to
/// the D50 of the standard or, like some old ones, does not. A lookup table beside them is left alone: it renders
/// for looks, which is not wanted here.
///
/// # Errors
/// The profile's name when it has no matrix and curves (a printer's or a camera's table), is for another kind of
/// picture, or makes no sense.
pub fn space(bytes: &[u8]) -> Result<PhotoSpace, String> {
    let profile = ColorProfile::new_from_slice(bytes).map_err(|_| "damaged".to_owned())?;
    let name = name(&profile);
    matrix_space(&profile, &name).ok_or(name)
}

fn matrix_space(profile: &ColorProfile, name: &str) -> Option<PhotoSpace> {
    if profile.color_space != DataColorSpace::Rgb || profile.pcs != DataColorSpace::Xyz {
        return None;
    }
    let curves = [curve(profile.red_trc.as_ref()?)?, curve(profile.green_trc.as_ref()?)?, curve(profile.blue_trc.as_ref()?)?];
    PhotoSpace::from_colorants(name, &profile.colorant_matrix().v, curves)
}

/// `curveType` and `parametricCurveType` (ICC.1:2022, 10.6 and 10.18).
fn curve(curve: &ToneReprCurve) -> Option<ToneCurve> {
    let curve = match curve {
        ToneReprCurve::Lut(entries) => match entries[..] {
            [] => ToneCurve::Power(1.0),
            // One entry is an exponent with eight bits after the point.
            [exponent] => ToneCurve::Power(f64::from(exponent) / 256.0),
            _ => ToneCurve::Table(entries.iter().map(|&entry| f64::from(entry) / 65535.0).collect()),
        },
        ToneReprCurve::Parametric(numbers) => {
            let numbers: Vec<f64> = numbers.iter().map(|&n| f64::from(n)).collect();
            ToneCurve::Parametric(Parametric::from_icc(&numbers)?)
        }
    };
    curve.recognised()
}

/// The description, in English if there is a choice.
fn name(profile: &ColorProfile) -> String {
    let text = match &profile.description {
        Some(ProfileText::PlainString(text)) => printable(text),
        Some(ProfileText::Description(text)) => printable(&text.ascii_string).or_else(|| printable(&text.unicode_string)),
        Some(ProfileText::Localizable(texts)) => {
            let english = |text: &&LocalizableString| text.language.eq_ignore_ascii_case("en");
            texts.iter().find(english).or(texts.first()).and_then(|text| printable(&text.value))
        }
        None => None,
    };
    text.unwrap_or_else(|| "unnamed".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space;

    fn assert_like(ours: &PhotoSpace, known: &PhotoSpace) {
        for (row, known_row) in ours.to_srgb.iter().zip(&known.to_srgb) {
            for (number, known_number) in row.iter().zip(known_row) {
                // Profiles round to 1/65536, and D50 in them is itself rounded.
                assert!((number - known_number).abs() < 5e-4, "{:?} against {:?}", ours.to_srgb, known.to_srgb);
            }
        }
        for (x, known_curve) in [0.02, 0.2, 0.5, 0.9].into_iter().zip(known.curves.iter().cycle()) {
            assert!((ours.curves[0].decode(x) - known_curve.decode(x)).abs() < 1e-4);
        }
    }

    #[test]
    fn an_srgb_profile_is_srgb() {
        let read = space(&ColorProfile::new_srgb().encode().unwrap()).unwrap();
        assert_eq!(PhotoSpace { name: "sRGB".to_owned(), ..read }, PhotoSpace::srgb());
    }

    // Against the spaces built from published primaries, whose matrices are checked in `colour::space`.
    #[test]
    fn wide_profiles_match_their_primaries() {
        assert_like(&space(&ColorProfile::new_display_p3().encode().unwrap()).unwrap(), &PhotoSpace::display_p3());
        assert_like(&space(&ColorProfile::new_adobe_rgb().encode().unwrap()).unwrap(), &PhotoSpace::adobe_rgb());
    }

    #[test]
    fn white_stays_white_without_adapted_colorants() {
        let mut profile = ColorProfile::new_display_p3();
        let columns = space::rgb_to_xyz(&space::DISPLAY_P3).unwrap();
        for (j, colorant) in [&mut profile.red_colorant, &mut profile.green_colorant, &mut profile.blue_colorant].into_iter().enumerate() {
            (colorant.x, colorant.y, colorant.z) = (columns[0][j], columns[1][j], columns[2][j]);
        }
        assert_like(&super::space(&profile.encode().unwrap()).unwrap(), &PhotoSpace::display_p3());
    }

    #[test]
    fn what_is_no_matrix_is_named() {
        assert_eq!(super::space(b"nonsense"), Err("damaged".to_owned()));
        let grey = ColorProfile::new_gray_with_gamma(2.2);
        assert!(super::space(&grey.encode().unwrap()).is_err());
        let mut bare = ColorProfile::new_srgb();
        bare.green_trc = None;
        assert_eq!(matrix_space(&bare, "bare"), None);
        let mut falling = ColorProfile::new_srgb();
        falling.red_trc = Some(ToneReprCurve::Lut(vec![0, 40000, 20000, 65535]));
        assert_eq!(matrix_space(&falling, "falling"), None);
    }
}
