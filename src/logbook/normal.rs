//! The normal distribution: what it leaves below a point, and back.

/// Share below `z`, with an error under 1e-7 (Abramowitz and Stegun 1964, 26.2.17).
pub(super) fn below(z: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.231_641_9 * z.abs());
    let series = t * (0.319_381_530 + t * (-0.356_563_782 + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let above = density(z) * series;
    if z > 0.0 { 1.0 - above } else { above }
}

/// Density at `z`.
pub(super) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// The point with `share` below, share above 0 and below 1: Abramowitz and Stegun 26.2.23 (error under 4.5e-4), then one step of Newton.
pub(super) fn quantile(share: f64) -> f64 {
    let share = share.clamp(1e-9, 1.0 - 1e-9);
    let t = (-2.0 * share.min(1.0 - share).ln()).sqrt();
    let far = t - (2.515_517 + t * (0.802_853 + t * 0.010_328)) / (1.0 + t * (1.432_788 + t * (0.189_269 + t * 0.001_308)));
    let rough = if share < 0.5 { -far } else { far };
    rough - (below(rough) - share) / density(rough)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    // Tables of the normal distribution: 2.5 % above 1.959964, 1 % above 2.326348, 0.1 % above 3.090232.
    #[test]
    fn as_tabulated() {
        for (z, share) in [(0.0, 0.5), (1.959_964, 0.975), (2.326_348, 0.99), (-3.090_232, 0.001), (-1.0, 0.158_655_3)] {
            assert_abs_diff_eq!(below(z), share, epsilon = 2e-7);
            assert_abs_diff_eq!(quantile(share), z, epsilon = 1e-4);
        }
    }
}
