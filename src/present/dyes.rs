//! The table of indicators and their transition curves, for people.

use super::chart::{self, Axis, Subject};
use super::drawing::{Area, Drawing};
use super::text::{NARROWEST, WIDEST, put};
use super::words;
use crate::colour::space::{Matrix, apply};
use crate::colour::spectrum::Spectrum;
use crate::colour::tone::srgb_encode;
use crate::colour::{light, observer};
use crate::indicator::{Indicator, equilibrium, shape};
use crate::quantity::{BaseFraction, Celsius, IonicStrength, Ph};
use std::fmt::Write as _;

/// What the letters in the sources mean, for the end of a list.
#[must_use]
pub fn legend(width: usize) -> String {
    let mut out = String::new();
    let text = "In the sources H stands for handbook tables of pH indicators and K for pK tables of indicator monographs. \
        calibration/indicators.csv tells which figures come from memory.";
    put(&mut out, text, 0, width.clamp(NARROWEST, WIDEST));
    out
}

/// One dye in plain lines.
#[must_use]
pub fn entry(dye: &Indicator, width: usize) -> String {
    let width = width.clamp(NARROWEST, WIDEST);
    let mut out = String::new();
    put(&mut out, dye.name, 0, width);
    let lines = [
        format!("turns from pH {:.1} to {:.1}: {} to {}", dye.visual.0, dye.visual.1, dye.acid_colour, dye.base_colour),
        format!("pKa' {:.2} +/- {:.2} on the meter scale, at 25 C and 0.1 mol/l", dye.pka.value(), dye.pka_sd),
        format!("peaks: acid form {:.0} nm, base form {:.0} nm", dye.acid_nm, dye.base_nm),
        format!("base peak {:.2} times the acid peak (+/- {:.0} %)", dye.ratio, 100.0 * dye.ratio_sd),
        format!("source: {}", dye.source),
    ];
    for line in lines {
        put(&mut out, &format!("  {line}"), 4, width);
    }
    out
}

/// The transition curve drawn in characters, 40 columns wide, with the colours in daylight.
#[must_use]
pub fn curve(dye: &Indicator, ionic_strength: IonicStrength, temperature: Celsius) -> String {
    // Five columns for the share, one for the axis, 33 for the curve: 39.
    const COLUMNS: u32 = 33;
    const ROWS: u32 = 11;
    let pka = equilibrium::pka_at(dye, ionic_strength, temperature);
    let axis = Axis::around(pka, None, 0.0, f64::from(COLUMNS - 1));
    let share = |ph: f64| Ph::new(ph).map_or(0.0, |ph| equilibrium::base_fraction(ph, pka).value());
    let ph_of = |column: u32| axis.low + (axis.high - axis.low) * f64::from(column) / f64::from(COLUMNS - 1);
    let mut out = String::new();
    let _ = writeln!(out, "share in base form, pKa' {pka:.2}");
    for row in 0..ROWS {
        let level = ROWS - 1 - row;
        let name = if level.is_multiple_of(5) { format!("{:>3} %", level * 10) } else { String::new() };
        let line: String = (0..COLUMNS)
            .map(|column| if (share(ph_of(column)) * f64::from(ROWS - 1)).round() as u32 == level { '*' } else { ' ' })
            .collect();
        let _ = writeln!(out, "{}", format!("{name:>5}|{line}").trim_end());
    }
    let _ = writeln!(out, "     +{}", "-".repeat(COLUMNS as usize));
    let mut figures = vec![' '; COLUMNS as usize + 8];
    for tick in axis.ticks() {
        let at = 6 + axis.x(f64::from(tick)).round() as usize;
        for (i, c) in tick.to_string().chars().enumerate() {
            figures[at + i] = c;
        }
    }
    figures[2..4].copy_from_slice(&['p', 'H']);
    let _ = writeln!(out, "{}", figures.iter().collect::<String>().trim_end());
    for fraction in [0.0, 0.1, 0.25, 0.5, 0.75, 0.9, 1.0] {
        let [r, g, b] = colour(dye, fraction);
        let ph = match BaseFraction::new(fraction) {
            Ok(f) if f.value() > 0.0 && f.value() < 1.0 => format!("pH {:.1}", pka + (fraction / (1.0 - fraction)).log10()),
            _ if fraction < 0.5 => "acid form".to_owned(),
            _ => "base form".to_owned(),
        };
        let _ = writeln!(out, "{:>3.0} % {ph:<9} #{r:02x}{g:02x}{b:02x} {}", 100.0 * fraction, words::colour([r, g, b]));
    }
    out
}

/// The transition curve as a drawing, 900 by 620 pixels.
#[must_use]
pub fn drawing(dye: &Indicator, ionic_strength: IonicStrength, temperature: Celsius) -> Drawing {
    let (width, height) = (900.0, 620.0);
    let title = format!("transition curve of {}", dye.name.replace('-', " "));
    let mut drawing = Drawing { width, height, title, items: Vec::new() };
    drawing.fill_area(Area { x: 0.0, y: 0.0, w: width, h: height }, super::drawing::PAPER);
    let subject = Subject { indicator: dye, pka: equilibrium::pka_at(dye, ionic_strength, temperature), limits: None, chips: &chips(dye) };
    let _ = chart::transition::draw(&mut drawing, Area { x: 24.0, y: 20.0, w: width - 48.0, h: height - 30.0 }, &subject, &[]);
    drawing
}

/// Linear sRGB of CIE XYZ, rows first (IEC 61966-2-1).
const SRGB_OF_XYZ: Matrix = [[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]];

/// Optical dose of the colour chips: a sample that is plainly coloured but not yet dark.
const CHIP_DOSE: f64 = 1.0;

/// What the eye sees of the dye over white paper in daylight (D65), sRGB 0 to 255; colours beyond sRGB are clamped.
///
/// `fraction` is the share in the base form, 0 to 1; the dose is 1.
#[must_use]
pub fn colour(dye: &Indicator, fraction: f64) -> [u8; 3] {
    let Some(light) = light::named("D65") else { return [128; 3] };
    let paper_and_dye = Spectrum::from_fn(|nm| {
        let (acid, base) = shape::absorptivity(dye, nm);
        10f64.powf(-CHIP_DOSE * ((1.0 - fraction) * acid + fraction * base))
    });
    let linear = apply(&SRGB_OF_XYZ, observer::tristimulus(light, &paper_and_dye));
    linear.map(|v| (srgb_encode(v.clamp(0.0, 1.0)) * 255.0).round() as u8)
}

/// [`colour`] at 101 equal steps of the share in the base form, from 0 to 1.
#[must_use]
pub fn chips(dye: &Indicator) -> Vec<[u8; 3]> {
    (0..=100).map(|percent| colour(dye, f64::from(percent) / 100.0)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::indicator::catalogue;

    #[test]
    fn entries_fit_forty_columns_and_name_their_source() {
        for dye in catalogue::all() {
            let text = entry(dye, 40) + &curve(dye, IonicStrength::new(0.3).unwrap(), Celsius::new(25.0).unwrap());
            assert!(text.lines().all(|l| l.chars().count() <= 40), "{text}");
            assert!(text.contains("source: "));
        }
    }

    // The handbooks' words for the two forms (calibration/indicators.csv): yellow has little blue, purple little green.
    #[test]
    fn chips_have_the_colours_of_the_handbook() {
        let dye = catalogue::find("bromocresol-purple").unwrap();
        let ([r, g, b], [br, bg, bb]) = (colour(dye, 0.0), colour(dye, 1.0));
        assert!(r > 180 && g > 180 && b < 120, "{:?}", [r, g, b]);
        assert!(bg < br && bg < bb, "{:?}", [br, bg, bb]);
    }

    #[test]
    fn both_ends_are_named_as_in_the_handbook() {
        for name in ["bromocresol-purple", "bromocresol-green", "bromothymol-blue", "m-cresol-purple"] {
            let dye = catalogue::find(name).unwrap();
            assert_eq!(
                (words::colour(colour(dye, 0.0)).as_str(), words::colour(colour(dye, 1.0)).as_str()),
                (dye.acid_colour, dye.base_colour)
            );
        }
    }

    #[test]
    fn curve_rises_to_the_right() {
        let dye = catalogue::find("bromocresol-purple").unwrap();
        let text = curve(dye, IonicStrength::new(0.1).unwrap(), Celsius::new(25.0).unwrap());
        let column = |lead: &str| text.lines().find(|l| l.starts_with(lead)).and_then(|l| l.find('*')).unwrap();
        assert!(column("  0 %|") < column(" 50 %|") && column(" 50 %|") < column("100 %|"));
    }
}
