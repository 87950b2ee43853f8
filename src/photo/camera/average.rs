//! Several frames to one picture, in linear light.

use super::look::linear_levels;
use crate::colour::tone::srgb_encode;
use crate::measurement::frame::Samples;

/// Frames that may be averaged, so that the memory they take stays below half a gigabyte.
pub const MOST_FRAMES: usize = 32;

/// Mean of each sample over the frames, averaged in linear light and encoded again, 0 to 65 535. The highest and the lowest quarter
/// (with three frames one of each) do not count, so a faulty frame among them moves nothing. Samples all alike come back unchanged.
///
/// `frames` are equally large and one to [`MOST_FRAMES`] in number; what lies beyond is left out, and no frame gives no sample.
#[must_use]
pub fn average(frames: &[Samples]) -> Vec<u16> {
    let frames = &frames[..frames.len().min(MOST_FRAMES)];
    let linear = linear_levels(65_535);
    let length = frames.iter().map(length).min().unwrap_or(0);
    let left_out = if frames.len() < 3 { 0 } else { (frames.len() / 4).max(1) };
    let mut levels = [0u16; MOST_FRAMES];
    let levels = &mut levels[..frames.len()];
    (0..length)
        .map(|at| {
            for (level, frame) in levels.iter_mut().zip(frames) {
                *level = sample(frame, at);
            }
            if levels.iter().all(|level| *level == levels[0]) {
                return levels[0];
            }
            levels.sort_unstable();
            let kept = &levels[left_out..levels.len() - left_out];
            let light = kept.iter().map(|&level| linear[usize::from(level)]).sum::<f64>() / kept.len() as f64;
            (srgb_encode(light) * 65_535.0 + 0.5) as u16
        })
        .collect()
}

fn length(samples: &Samples) -> usize {
    match samples {
        Samples::Eight(levels) => levels.len(),
        Samples::Sixteen(levels) => levels.len(),
    }
}

/// One sample, 0 to 65 535.
fn sample(samples: &Samples, at: usize) -> u16 {
    match samples {
        Samples::Eight(levels) => u16::from(levels[at]) * 257,
        Samples::Sixteen(levels) => levels[at],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::tone::srgb_decode;

    fn light(level: u16) -> f64 {
        srgb_decode(f64::from(level) / 65_535.0)
    }

    // IEC 61966-2-1: half the light is encoded as 0.7354 of full scale, not as 0.5.
    #[test]
    fn light_is_averaged_and_not_levels() {
        let mean = average(&[Samples::Eight(vec![0].into()), Samples::Eight(vec![255].into())]);
        assert!((f64::from(mean[0]) / 65_535.0 - 0.7354).abs() < 1e-4, "{mean:?}");
    }

    #[test]
    fn equal_frames_change_nothing() {
        let levels: Vec<u8> = (0..=255).collect();
        let mean = average(&vec![Samples::Eight(levels.clone().into()); 8]);
        assert!(mean.iter().zip(levels).all(|(&mean, level)| mean == u16::from(level) * 257));
        let odd = vec![1u16, 257, 40_001];
        assert_eq!(average(&vec![Samples::Sixteen(odd.clone()); 5]), odd);
    }

    #[test]
    fn a_faulty_frame_moves_nothing() {
        for (count, fault) in [(3, 0u8), (3, 255), (8, 0), (8, 255)] {
            let mut frames = vec![Samples::Eight(vec![120, 60, 200].into()); count];
            frames[1] = Samples::Eight(vec![fault; 3].into());
            assert_eq!(average(&frames), [120 * 257, 60 * 257, 200 * 257], "{count} {fault}");
        }
    }

    /// Pseudo-random numbers, about normal: the sum of twelve uniform ones (a fixed seed keeps the test repeatable).
    fn noise(count: usize) -> Vec<f64> {
        let mut state = 0x9E37_79B9_7F4A_7C15_u64;
        let mut uniform = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        };
        (0..count).map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0).collect()
    }

    // A quarter trimmed at either end leaves a normal mean with 84 % of its efficiency (Tukey's tables; from memory), so eight
    // frames bring noise down to about 1 / sqrt(8 x 0.84) = 0.39.
    #[test]
    fn noise_falls_and_the_mean_stays() {
        let sigma = 1500.0;
        let draws = noise(8 * 5000);
        let frames: Vec<Samples> =
            draws.chunks(5000).map(|chunk| Samples::Sixteen(chunk.iter().map(|n| (30_000.0 + sigma * n) as u16).collect())).collect();
        let mean: Vec<f64> = average(&frames).into_iter().map(f64::from).collect();
        let centre = mean.iter().sum::<f64>() / 5000.0;
        let spread = (mean.iter().map(|v| (v - centre).powi(2)).sum::<f64>() / 5000.0).sqrt();
        assert!((0.34..0.44).contains(&(spread / sigma)), "{}", spread / sigma);
        // Averaging light instead of levels lifts the mean a little; a tenth of an 8-bit level is 26 of 65 535.
        assert!((centre - 30_000.0).abs() < 60.0, "{centre}");
    }

    #[test]
    fn one_frame_is_itself_and_none_is_empty() {
        assert_eq!(average(&[Samples::Sixteen(vec![7, 8])]), [7, 8]);
        assert!(average(&[]).is_empty());
        let two = average(&[Samples::Sixteen(vec![10_000]), Samples::Sixteen(vec![30_000])]);
        assert!((light(two[0]) - (light(10_000) + light(30_000)) / 2.0).abs() < 1e-5);
    }
}
