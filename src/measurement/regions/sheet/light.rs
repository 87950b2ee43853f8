//! How the light falls off over the sheet, from its white paper.

use crate::colour::tone::{srgb_decode, srgb_encode};
use crate::placement::{Point, Sheet};
use nalgebra::{SMatrix, SVector};

/// A constant, two slopes, three bends.
const TERMS: usize = 6;

/// Light at a cup against that at the card.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CupLight {
    /// Natural log of the ratio.
    pub log_level: f64,
    /// Its standard uncertainty.
    pub sd: f64,
}

/// Uncertainty of the log ratio of two places under an even light: the paper's own unevenness, and light from wall to wall.
const EVEN_SD: f64 = 0.015;
/// What it grows by with the ratio itself: the photo's tone curve bends it by about a quarter.
const TONE_SD: f64 = 0.25;

/// A smooth field of light over the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LightField {
    size: Point,
    terms: [f64; TERMS],
    spread: f64,
}

/// Fewest places of blank paper that make a field.
const FEWEST: usize = 40;
/// Share of burnt-out paper beyond which its level tells nothing.
const MOST_BURNT: f64 = 0.2;
/// Encoded level from which a place counts as burnt out, as in the samples.
const BURNT: f32 = 0.985;
/// Rounds of reweighting; the weights have settled after half of them.
const ROUNDS: usize = 12;
/// Residuals count fully up to about this many spreads: shadows darken, so below it is stricter than above.
const REACH: (f64, f64) = (2.5, 4.0);
/// Least spread of a place's log light: 8-bit levels and paper.
const LEAST_SPREAD: f64 = 0.004;

impl LightField {
    /// Fits the paper seen at these places (mm; encoded colour). `None` when there is too little of it, or it is burnt out.
    pub(super) fn fit(sheet: Sheet, paper: &[(Point, [f32; 3])]) -> Option<Self> {
        let burnt = paper.iter().filter(|(_, c)| c.iter().any(|v| *v > BURNT)).count();
        if paper.len() < FEWEST || burnt as f64 > MOST_BURNT * paper.len() as f64 {
            return None;
        }
        let size = sheet.paper().size();
        // Green and red tell the level; blue is weak under warm light.
        let level = |c: &[f32; 3]| (0.3 * srgb_decode(f64::from(c[0])) + 0.7 * srgb_decode(f64::from(c[1]))).max(1e-4).ln();
        let rows: Vec<(SVector<f64, TERMS>, f64)> =
            paper.iter().filter(|(_, c)| c.iter().all(|v| *v <= BURNT)).map(|(p, c)| (basis(size, *p), level(c))).collect();
        let mut weights = vec![1.0; rows.len()];
        let mut terms = SVector::<f64, TERMS>::zeros();
        let mut spread = LEAST_SPREAD;
        for _ in 0..ROUNDS {
            // A weak pull on slopes and bends keeps the field sane where paper is seen on one side only.
            let mut normal = SMatrix::<f64, TERMS, TERMS>::from_diagonal(&SVector::from([1e-9, 0.02, 0.02, 0.2, 0.2, 0.2]));
            let mut wanted = SVector::<f64, TERMS>::zeros();
            for ((row, value), weight) in rows.iter().zip(&weights) {
                normal += *weight * row * row.transpose();
                wanted += *weight * *value * row;
            }
            terms = normal.cholesky()?.solve(&wanted);
            let residuals: Vec<f64> = rows.iter().map(|(row, value)| value - row.dot(&terms)).collect();
            let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
            let middle = sizes.len() / 2;
            // 1.48 times the median of absolute residuals is the standard deviation of a Gaussian.
            spread = (1.48 * *sizes.select_nth_unstable_by(middle, f64::total_cmp).1).max(LEAST_SPREAD);
            for (weight, r) in weights.iter_mut().zip(&residuals) {
                let share = r / (spread * if *r < 0.0 { REACH.0 } else { REACH.1 });
                // Tukey's biweight.
                *weight = (1.0 - share * share).max(0.0).powi(2);
            }
        }
        terms.iter().all(|t| t.is_finite()).then(|| LightField { size, terms: terms.into(), spread })
    }

    /// Natural log of the light at a place, mm, up to a constant; beyond the paper as at its edge.
    #[must_use]
    pub fn log_level_at(&self, (x, y): Point) -> f64 {
        let inside = (x.clamp(0.0, self.size.0), y.clamp(0.0, self.size.1));
        basis(self.size, inside).dot(&SVector::from(self.terms))
    }

    /// Light at a place against that at another, mm.
    #[must_use]
    pub fn between(&self, place: Point, other: Point) -> CupLight {
        let log_level = self.log_level_at(place) - self.log_level_at(other);
        CupLight { log_level, sd: (EVEN_SD.powi(2) + (TONE_SD * log_level).powi(2)).sqrt() }
    }

    /// Encoded colour that paper would have at a place, from the paper within `reach` mm of it; `None` where there is too little.
    pub(super) fn white_at(&self, place: Point, paper: &[(Point, [f32; 3])], reach: f64) -> Option<[f64; 3]> {
        let here = self.log_level_at(place);
        let near = || paper.iter().filter(|(p, _)| (p.0 - place.0).hypot(p.1 - place.1) < reach);
        let white = [0, 1, 2].map(|c| {
            let mut levels: Vec<f64> =
                near().map(|(p, colour)| srgb_decode(f64::from(colour[c])) * (here - self.log_level_at(*p)).exp()).collect();
            let middle = levels.len() / 2;
            if levels.len() < FEWEST { f64::NAN } else { srgb_encode(*levels.select_nth_unstable_by(middle, f64::total_cmp).1) }
        });
        white.iter().all(|v| v.is_finite() && *v < f64::from(BURNT)).then_some(white)
    }

    /// Robust spread of the paper's log light around the field.
    #[must_use]
    pub fn spread(&self) -> f64 {
        self.spread
    }
}

/// Up to squares in coordinates from -1 to 1.
fn basis(size: Point, (x, y): Point) -> SVector<f64, TERMS> {
    let (u, v) = (2.0 * x / size.0 - 1.0, 2.0 * y / size.1 - 1.0);
    SVector::from([1.0, u, v, u * u, u * v, v * v])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::placement::Paper;

    #[test]
    fn terms_run_from_corner_to_corner() {
        let terms = |at: Point| basis((200.0, 100.0), at).iter().copied().collect::<Vec<f64>>();
        for (at, wanted) in [
            ((0.0, 0.0), [1.0, -1.0, -1.0, 1.0, 1.0, 1.0]),
            ((200.0, 0.0), [1.0, 1.0, -1.0, 1.0, -1.0, 1.0]),
            ((100.0, 75.0), [1.0, 0.0, 0.5, 0.0, 0.0, 0.25]),
        ] {
            assert!(terms(at).iter().zip(wanted).all(|(found, wanted)| (found - wanted).abs() < 1e-12), "{at:?}");
        }
    }

    // Light of a lamp 600 mm up and 250 mm aside (cosine and distance law), a fifth of the paper in shadow: the field must follow the
    // lamp and not the shadow.
    #[test]
    fn a_field_follows_the_lamp_and_not_a_shadow() {
        let sheet = Sheet::new(Paper::A4, 4).unwrap();
        let lamp = |x: f64, y: f64| (1.0 + ((x + 100.0).powi(2) + (y - 50.0).powi(2)) / 600f64.powi(2)).powf(-1.5);
        let paper: Vec<(Point, [f32; 3])> = (0..40)
            .flat_map(|i| (0..28).map(move |j| (4.0 + 7.4 * f64::from(i), 4.0 + 7.4 * f64::from(j))))
            .map(|(x, y)| {
                let shadow = if (x - 200.0).hypot(y - 100.0) < 55.0 { 0.7 } else { 1.0 };
                ((x, y), [srgb_encode(0.6 * shadow * lamp(x, y)) as f32; 3])
            })
            .collect();
        let field = LightField::fit(sheet, &paper).unwrap();
        let truth = (lamp(260.0, 180.0) / lamp(40.0, 100.0)).ln();
        let seen = field.log_level_at((260.0, 180.0)) - field.log_level_at((40.0, 100.0));
        assert!(truth < -0.2, "the light does fall off: {truth}");
        assert!((seen - truth).abs() < 0.02, "{seen} {truth}");
        assert!(LightField::fit(sheet, &paper[..20]).is_none());
        let burnt: Vec<_> = paper.iter().map(|(p, _)| (*p, [1.0f32; 3])).collect();
        assert!(LightField::fit(sheet, &burnt).is_none());
    }

    /// A field whose light doubles from the left edge to the right, on paper 200 mm wide.
    fn doubling() -> LightField {
        let half = 0.5 * 2f64.ln();
        LightField { size: (200.0, 100.0), terms: [half, half, 0.0, 0.0, 0.0, 0.0], spread: 0.004 }
    }

    // Paper at the right edge has twice the light that it would have at the left; what lies beyond reach has no say.
    #[test]
    fn white_is_brought_to_the_light_of_its_place() {
        let paper = |count: usize, x: f64, levels: [f64; 3]| vec![((x, 50.0), levels.map(|level| srgb_encode(level) as f32)); count];
        let here = [paper(40, 200.0, [0.8, 0.7, 0.6]), paper(60, 150.0, [0.1; 3])].concat();
        let white = doubling().white_at((190.0, 50.0), &here, 30.0).unwrap();
        for (found, level) in white.into_iter().zip([0.8, 0.7, 0.6]) {
            assert!((srgb_decode(found) - level / 2f64.powf(0.05)).abs() < 1e-5, "{white:?}");
        }
        let far = doubling().white_at((0.0, 50.0), &here[..40], 201.0).unwrap();
        assert!((srgb_decode(far[0]) - 0.4).abs() < 1e-5, "{far:?}");
        // Too little paper, or such that it would be burnt out in the light of the place.
        assert!(doubling().white_at((190.0, 50.0), &here[1..40], 30.0).is_none());
        assert!(doubling().white_at((200.0, 50.0), &paper(40, 180.0, [0.95, 0.7, 0.6]), 30.0).is_none());
    }

    // By hand: the light doubles, so the log ratio is 0.693 and its quarter 0.173, with 0.015 of the paper.
    #[test]
    fn light_between_places_is_surer_where_it_is_alike() {
        let all = doubling().between((200.0, 10.0), (0.0, 90.0));
        assert!((all.log_level - 2f64.ln()).abs() < 1e-9 && (all.sd - 0.1739).abs() < 1e-4, "{all:?}");
        let none = doubling().between((20.0, 10.0), (20.0, 90.0));
        assert!(none.log_level.abs() < 1e-12 && (none.sd - 0.015).abs() < 1e-12);
        // Beyond the paper it is as at its edge.
        assert!((doubling().log_level_at((250.0, 50.0)) - doubling().log_level_at((200.0, 50.0))).abs() < 1e-12);
    }
}
