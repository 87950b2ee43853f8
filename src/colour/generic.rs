//! Generic lights and cameras: a small spread of what may have taken a photo, when nothing is told.
//!
//! None of them is a measured product. Peaks and widths are round figures of the kinds of source and sensor they stand
//! for (common knowledge of lamp and sensor makers' data, no single source).

use super::spectrum::Spectrum;
use super::{light, observer};

/// The kinds of white light that a worker can name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LightKind {
    /// Sun or sky.
    Daylight,
    /// Filament lamp.
    Tungsten,
    /// White LED.
    Led,
    /// Fluorescent tube or compact lamp.
    Fluorescent,
}

impl LightKind {
    /// All kinds, in the order of reports.
    pub const ALL: [LightKind; 4] = [LightKind::Daylight, LightKind::Tungsten, LightKind::Led, LightKind::Fluorescent];

    /// Lower-case name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            LightKind::Daylight => "daylight",
            LightKind::Tungsten => "tungsten",
            LightKind::Led => "led",
            LightKind::Fluorescent => "fluorescent",
        }
    }
}

/// A sum of Gaussians: (height, centre nm, standard width nm).
fn bands(parts: &[(f64, f64, f64)]) -> Spectrum {
    Spectrum::from_fn(|nm| parts.iter().map(|&(height, centre, width)| height * (-0.5 * ((nm - centre) / width).powi(2)).exp()).sum())
}

/// Two dozen lights of the four kinds, arbitrary scale.
#[must_use]
pub fn lights() -> Vec<(LightKind, Spectrum)> {
    let mut all = Vec::new();
    for kelvin in [4800.0, 5500.0, 6500.0, 7600.0] {
        all.push((LightKind::Daylight, light::daylight(kelvin)));
    }
    for kelvin in [2700.0, 2950.0, 3300.0] {
        all.push((LightKind::Tungsten, light::black_body(kelvin)));
    }
    // Blue pump and one or two phosphors, from warm to cold; a violet pump; red, green and blue emitters.
    let led: [&[(f64, f64, f64)]; 10] = [
        &[(0.30, 452.0, 11.0), (1.00, 605.0, 62.0)],
        &[(0.42, 452.0, 11.0), (0.80, 590.0, 62.0), (0.35, 640.0, 40.0)],
        &[(0.55, 450.0, 10.0), (0.95, 575.0, 58.0)],
        &[(0.70, 452.0, 11.0), (0.70, 560.0, 52.0), (0.45, 615.0, 45.0)],
        &[(1.00, 450.0, 10.0), (0.85, 560.0, 55.0)],
        &[(1.30, 447.0, 10.0), (0.80, 550.0, 52.0), (0.20, 620.0, 50.0)],
        &[(0.50, 455.0, 14.0), (0.75, 530.0, 40.0), (0.90, 620.0, 45.0)],
        &[(0.45, 415.0, 9.0), (0.45, 470.0, 25.0), (0.70, 545.0, 45.0), (0.75, 625.0, 50.0)],
        &[(0.40, 460.0, 12.0), (0.60, 540.0, 42.0), (1.00, 632.0, 14.0)],
        &[(0.60, 462.0, 12.0), (0.65, 527.0, 17.0), (0.95, 630.0, 10.0)],
    ];
    all.extend(led.iter().map(|parts| (LightKind::Led, bands(parts))));
    // Halophosphate: broad bands with mercury lines 405, 436, 546, 578 nm.
    for (blue, orange) in [(0.35, 1.00), (0.60, 0.90), (0.90, 0.75), (0.55, 0.55)] {
        all.push((
            LightKind::Fluorescent,
            bands(&[
                (blue, 480.0, 38.0),
                (orange, 585.0, 42.0),
                (0.25, 640.0, 45.0),
                (0.6, 404.7, 3.0),
                (1.5, 435.8, 3.0),
                (1.1, 546.1, 3.0),
                (0.35, 578.0, 3.5),
            ]),
        ));
    }
    // Three-band: terbium green, europium red, blue phosphor; mercury lines.
    for (blue, green, red) in [(0.30, 2.4, 3.4), (0.55, 2.6, 2.9), (0.85, 2.6, 2.4)] {
        all.push((
            LightKind::Fluorescent,
            bands(&[
                (blue, 450.0, 24.0),
                (0.9, 435.8, 3.0),
                (0.55, 488.0, 6.0),
                (green, 544.0, 4.5),
                (0.45, 585.0, 6.0),
                (red, 611.0, 4.5),
                (0.25, 630.0, 7.0),
                (0.20, 706.0, 6.0),
                (0.15, 404.7, 3.0),
            ]),
        ));
    }
    all
}

/// Rises from 0 to 1 about `edge` within a few `width`, all in nm.
fn step(nm: f64, edge: f64, width: f64) -> f64 {
    1.0 / (1.0 + (-(nm - edge) / width).exp())
}

/// Camera sensitivities R, G, B, arbitrary scale: broad filters, narrow filters, a colorimetric camera (the CIE 1931 observer), and
/// stacked layers in place of filters.
#[must_use]
pub fn cameras() -> Vec<[Spectrum; 3]> {
    let broad = [bands(&[(1.0, 606.0, 37.0), (0.07, 440.0, 22.0)]), bands(&[(1.0, 534.0, 41.0)]), bands(&[(1.0, 456.0, 30.0)])];
    let narrow = [bands(&[(1.0, 596.0, 29.0), (0.03, 445.0, 18.0)]), bands(&[(1.0, 536.0, 33.0)]), bands(&[(1.0, 462.0, 23.0)])];
    // Stacked layers that each see nearly all of the light.
    let stacked = [
        Spectrum::from_fn(|nm| step(nm, 410.0, 15.0) * (0.03 + step(nm, 590.0, 28.0)) * step(-nm, -655.0, 8.0)),
        Spectrum::from_fn(|nm| step(nm, 465.0, 16.0) * step(-nm, -655.0, 8.0)),
        Spectrum::from_fn(|nm| step(nm, 425.0, 16.0) * (1.25 - 0.0035 * (nm - 450.0).max(0.0)) * step(-nm, -655.0, 8.0)),
    ];
    vec![broad, narrow, observer::cie_1931().clone(), stacked]
}
