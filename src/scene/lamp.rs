//! Lights to photograph by.

use super::random::Random;
use crate::colour::light;
use crate::colour::spectrum::Spectrum;

/// Kind of light.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LampKind {
    /// Sun or sky.
    Daylight,
    /// Filament.
    Tungsten,
    /// White LED.
    Led,
    /// Fluorescent tube.
    Fluorescent,
    /// Amber or red darkroom light.
    Safelight,
}

impl LampKind {
    /// Lower-case name, as the command line takes it where it does.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            LampKind::Daylight => "daylight",
            LampKind::Tungsten => "tungsten",
            LampKind::Led => "led",
            LampKind::Fluorescent => "fluorescent",
            LampKind::Safelight => "safelight",
        }
    }
}

/// A light with its spectrum.
#[derive(Debug, Clone, PartialEq)]
pub struct Lamp {
    /// For the truth file, such as `D65` or `black body 2900 K`.
    pub name: String,
    /// What it is.
    pub kind: LampKind,
    /// Relative power, mean 1.
    pub spectrum: Spectrum,
}

impl Lamp {
    fn new(name: String, kind: LampKind, spectrum: &Spectrum) -> Self {
        let mean = spectrum.0.iter().sum::<f64>() / spectrum.0.len() as f64;
        Lamp { name, kind, spectrum: spectrum.map(|v| v / mean) }
    }

    /// An embedded CIE illuminant; `None` when the name is unknown.
    #[must_use]
    pub fn illuminant(name: &str) -> Option<Self> {
        let kind = match name {
            "A" => LampKind::Tungsten,
            _ if name.starts_with("FL") => LampKind::Fluorescent,
            _ if name.starts_with("LED") => LampKind::Led,
            _ => LampKind::Daylight,
        };
        light::named(name).map(|spectrum| Lamp::new(name.to_owned(), kind, spectrum))
    }

    /// A filament at this temperature in kelvin.
    #[must_use]
    pub fn filament(kelvin: f64) -> Self {
        Lamp::new(format!("black body {kelvin:.0} K"), LampKind::Tungsten, &light::black_body(kelvin))
    }

    /// Daylight of this colour temperature in kelvin.
    #[must_use]
    pub fn daylight(kelvin: f64) -> Self {
        Lamp::new(format!("daylight {kelvin:.0} K"), LampKind::Daylight, &light::daylight(kelvin))
    }

    /// A white LED: a blue peak at `pump` nm and a phosphor at `phosphor` nm that is `strength` times as high.
    #[must_use]
    pub fn white_led(pump: f64, phosphor: f64, strength: f64) -> Self {
        let spectrum = Spectrum::from_fn(|nm| {
            // Widths as of common phosphor LEDs: a pump of 20 nm, a phosphor of 110 to 140 nm full width.
            let wide = if nm < phosphor { 48.0 } else { 62.0 };
            (-0.5 * ((nm - pump) / 9.0f64).powi(2)).exp() + strength * (-0.5 * ((nm - phosphor) / wide).powi(2)).exp()
        });
        Lamp::new(format!("white LED {pump:.0}/{phosphor:.0} nm"), LampKind::Led, &spectrum)
    }

    /// A safelight that passes what lies above `edge` nm, and little of it.
    #[must_use]
    pub fn safelight(edge: f64) -> Self {
        let filament = light::black_body(2700.0);
        let filter = |nm: f64| 1.0 / (1.0 + (-(nm - edge) / 5.0).exp());
        Lamp::new(format!("safelight from {edge:.0} nm"), LampKind::Safelight, &filament.times(&Spectrum::from_fn(filter)))
    }

    /// A white light as may be met: an illuminant of the tables or an invented one.
    #[must_use]
    pub fn drawn(random: &mut Random) -> Self {
        let known = light::all();
        match random.below(6) {
            0 => Lamp::daylight(random.between_log(4200.0, 9000.0)),
            1 => Lamp::filament(random.between(2500.0, 3400.0)),
            2 => Lamp::white_led(random.between(444.0, 462.0), random.between(545.0, 605.0), random.between(0.6, 2.2)),
            _ => {
                let name = known[random.below(known.len())].0;
                Lamp::illuminant(name).unwrap_or_else(|| Lamp::daylight(6504.0))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::observer::{chromaticity, white_point};

    // A white light lies near the locus of black bodies and daylight: x from 0.27 (bluish sky) to 0.48 (filament at 2500 K).
    #[test]
    fn drawn_lamps_are_white() {
        let mut random = Random::new(3);
        for _ in 0..200 {
            let lamp = Lamp::drawn(&mut random);
            let (x, y) = chromaticity(white_point(&lamp.spectrum));
            assert!((0.27..0.49).contains(&x) && (0.27..0.45).contains(&y), "{} {x} {y}", lamp.name);
        }
    }

    #[test]
    fn safelight_has_no_blue() {
        let lamp = Lamp::safelight(590.0);
        assert!(lamp.spectrum.at(450.0) < 1e-6 && lamp.spectrum.at(640.0) > 1.0);
    }
}
