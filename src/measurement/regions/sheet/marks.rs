//! The corner marks in a reduced picture: the one place that knows the marker library.

use crate::measurement::frame::Reduced;
use crate::measurement::regions::in_photo_f64;
use crate::placement::{Corner, Point, Sheet};
use locus_core::config::TagFamily;
use locus_core::{DetectorBuilder, FrameContext, ImageView, LocusEngine};
use std::sync::OnceLock;

/// A mark that was read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::measurement::regions) struct Mark {
    pub(super) sheet: Sheet,
    pub(super) corner: Corner,
    /// Its corners in pixels of the photo, clockwise from the mark's own upper left.
    pub(super) corners: [Point; 4],
}

/// The brightest hundredth is lifted to this level of 255, so that the library's least contrast of 20 levels keeps its meaning in a
/// dim photo.
const BRIGHT: f32 = 230.0;
/// Beyond this gain there is but noise.
const GREATEST_GAIN: f32 = 6.0;
/// Smallest side of a picture in which marks are looked for, pixels: a sheet's mark is a twelfth of its length.
const SMALLEST: usize = 96;

/// Reads all marks of a placement sheet; those of any other use are left out.
pub(super) fn read(small: &Reduced) -> Vec<Mark> {
    static ENGINE: OnceLock<LocusEngine> = OnceLock::new();
    if small.width.min(small.height) < SMALLEST {
        return Vec::new();
    }
    // On the calling thread's share of the library's own pool; its results do not depend on the number of threads.
    let engine = ENGINE.get_or_init(|| DetectorBuilder::new().with_family(TagFamily::AprilTag36h11).build_engine());
    let grey = grey(small);
    let Ok(view) = ImageView::new(&grey, small.width, small.height, small.width) else { return Vec::new() };
    let mut context = FrameContext::new();
    // Only a picture of no size is refused, and that has been sorted out.
    let Ok(found) = engine.detect_with_context(&view, &mut context, None, None, false) else { return Vec::new() };
    let mut marks: Vec<Mark> = found
        .reassemble_owned()
        .into_iter()
        .filter_map(|tag| {
            let (sheet, corner) = Sheet::of_mark(tag.id as usize)?;
            // The library counts from the edge of the first pixel, the frame from its centre.
            let corners = tag.corners.map(|[x, y]| (in_photo_f64(x - 0.5, small.factor), in_photo_f64(y - 0.5, small.factor)));
            corners.iter().all(|p| p.0.is_finite() && p.1.is_finite()).then_some(Mark { sheet, corner, corners })
        })
        .collect();
    // An order of its own, for the same picture must always give the same reading.
    marks.sort_by(|a, b| (a.sheet.mark_id(a.corner)).cmp(&b.sheet.mark_id(b.corner)).then(a.corners[0].0.total_cmp(&b.corners[0].0)));
    marks
}

/// Brightness, 0 to 255.
fn grey(small: &Reduced) -> Vec<u8> {
    let levels: Vec<u16> = small.rgb.chunks_exact(3).map(|p| u16::from(p[0]) + 2 * u16::from(p[1]) + u16::from(p[2])).collect();
    let mut histogram = [0usize; 1024];
    for &level in &levels {
        histogram[usize::from(level)] += 1;
    }
    let mut above = levels.len() / 100;
    let mut bright = 1020;
    while bright > 4 && histogram[bright] <= above {
        above -= histogram[bright];
        bright -= 1;
    }
    let gain = (BRIGHT * 4.0 / bright as f32).clamp(1.0, GREATEST_GAIN) / 4.0;
    levels.iter().map(|&level| (f32::from(level) * gain).min(255.0) as u8).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::placement::{CELLS, MOST_CUPS, Paper};

    /// A grey picture of a whole sheet from straight above, two pixels a millimetre.
    fn picture(sheet: Sheet) -> Reduced {
        let (w, h) = sheet.paper().size();
        let (width, height) = ((2.0 * w) as usize, (2.0 * h) as usize);
        let mut rgb = vec![225u8; 3 * width * height];
        for corner in Corner::ALL {
            let (place, cells) = (sheet.mark(corner), sheet.mark_cells(corner));
            for y in 0..height {
                for x in 0..width {
                    let p = ((x as f64 + 0.5) / 2.0, (y as f64 + 0.5) / 2.0);
                    let cell = |u: f64| (u / place.w * CELLS as f64) as usize;
                    if p.0 > place.x && p.1 > place.y && place.holds(p, -1e-6) && cells[cell(p.1 - place.y)][cell(p.0 - place.x)] {
                        rgb[3 * (y * width + x)..][..3].fill(30);
                    }
                }
            }
        }
        Reduced { width, height, factor: 1.0, rgb }
    }

    // The library is the judge of the marks that the sheet prints: every code, its corner, and where each corner lies.
    #[test]
    fn the_library_reads_every_mark_that_is_printed() {
        for sheet in Paper::ALL.into_iter().flat_map(|paper| (1..=MOST_CUPS).map(move |cups| Sheet::new(paper, cups).unwrap())) {
            let marks = read(&picture(sheet));
            assert_eq!(marks.len(), 4, "{sheet:?}: {marks:?}");
            for (mark, corner) in marks.iter().zip(Corner::ALL) {
                assert_eq!((mark.sheet, mark.corner), (sheet, corner));
                for (seen, meant) in mark.corners.iter().zip(sheet.mark(corner).corners()) {
                    // Pixel centres count from 0: 2 pixels a millimetre put a place of u mm at 2 u - 0.5.
                    assert!((seen.0 - 2.0 * meant.0 + 0.5).abs() < 0.6 && (seen.1 - 2.0 * meant.1 + 0.5).abs() < 0.6, "{seen:?} {meant:?}");
                }
            }
        }
    }
}
