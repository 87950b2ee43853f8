//! The drawing list as PNG bytes.

use super::drawing::{Anchor, Area, Colour, Drawing, Item, PAPER, Pixels, Point, Stroke, Words};
use super::font::{self, Pen};
use image::codecs::png::PngEncoder;
use image::{ExtendedColorType, ImageEncoder};
use tiny_skia::{FillRule, FilterQuality, Mask, Paint, Path, PathBuilder, Pixmap, PixmapPaint, StrokeDash, Transform};

/// Longest side of a picture, pixels: nothing here draws more, and a broken layout must not fill the memory.
const LONGEST: f64 = 4000.0;

/// Why there is no PNG.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RasterError {
    /// The size is no picture.
    #[error("a picture of {width} x {height} pixels cannot be drawn")]
    Size {
        /// Width, pixels.
        width: f64,
        /// Height, pixels.
        height: f64,
    },
    /// The encoder failed.
    #[error("the picture could not be encoded")]
    Encoding(#[source] image::ImageError),
}

/// The whole PNG file.
///
/// # Errors
/// [`RasterError`] when the drawing has no size or more than 4000 pixels a side.
pub fn render(drawing: &Drawing) -> Result<Vec<u8>, RasterError> {
    let map = paint(drawing)?;
    let mut png = Vec::new();
    let rgb: Vec<u8> = map.pixels().iter().flat_map(|p| [p.red(), p.green(), p.blue()]).collect();
    PngEncoder::new(&mut png).write_image(&rgb, map.width(), map.height(), ExtendedColorType::Rgb8).map_err(RasterError::Encoding)?;
    Ok(png)
}

fn paint(drawing: &Drawing) -> Result<Pixmap, RasterError> {
    let (width, height) = (drawing.width, drawing.height);
    let is_fit = |side: f64| (1.0..=LONGEST).contains(&side);
    let map = if is_fit(width) && is_fit(height) { Pixmap::new(width.ceil() as u32, height.ceil() as u32) } else { None };
    let mut map = map.ok_or(RasterError::Size { width, height })?;
    map.fill(tiny_skia::Color::from_rgba8(PAPER.rgb[0], PAPER.rgb[1], PAPER.rgb[2], 255));
    for item in &drawing.items {
        draw(&mut map, item);
    }
    Ok(map)
}

fn draw(map: &mut Pixmap, item: &Item) {
    match item {
        Item::Fill(points, colour) => fill(map, through(points, true), *colour),
        Item::Line(points, is_closed, pen) => stroke(map, through(points, *is_closed), *pen),
        Item::Disc(centre, radius, colour) => fill(map, circle(*centre, *radius), *colour),
        Item::Ring(centre, radius, pen) => stroke(map, circle(*centre, *radius), *pen),
        Item::Words(words) => write(map, words),
        Item::Photo(pixels, area) => photo(map, pixels, *area),
    }
}

fn single(value: f64) -> f32 {
    value as f32
}

fn through(points: &[Point], is_closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    for (i, (x, y)) in points.iter().enumerate() {
        if i == 0 { path.move_to(single(*x), single(*y)) } else { path.line_to(single(*x), single(*y)) }
    }
    if is_closed {
        path.close();
    }
    path.finish()
}

fn circle(centre: Point, radius: f64) -> Option<Path> {
    PathBuilder::from_circle(single(centre.0), single(centre.1), single(radius))
}

fn ink(colour: Colour) -> Paint<'static> {
    let mut paint = Paint::default();
    let [r, g, b] = colour.rgb;
    paint.set_color_rgba8(r, g, b, (colour.opacity.clamp(0.0, 1.0) * 255.0).round() as u8);
    paint.anti_alias = true;
    paint
}

fn fill(map: &mut Pixmap, path: Option<Path>, colour: Colour) {
    if let Some(path) = path {
        map.fill_path(&path, &ink(colour), FillRule::Winding, Transform::identity(), None::<&Mask>);
    }
}

fn stroke(map: &mut Pixmap, path: Option<Path>, pen: Stroke) {
    if let Some(path) = path {
        let dash = pen.dash.and_then(|(dash, gap)| StrokeDash::new(vec![single(dash), single(gap)], 0.0));
        let stroke = tiny_skia::Stroke { width: single(pen.width), dash, ..tiny_skia::Stroke::default() };
        map.stroke_path(&path, &ink(pen.colour), &stroke, Transform::identity(), None);
    }
}

struct Outline(PathBuilder);

impl Pen for Outline {
    fn start(&mut self, at: Point) {
        self.0.move_to(single(at.0), single(at.1));
    }
    fn line(&mut self, to: Point) {
        self.0.line_to(single(to.0), single(to.1));
    }
    fn bend(&mut self, control: Point, to: Point) {
        self.0.quad_to(single(control.0), single(control.1), single(to.0), single(to.1));
    }
    fn close(&mut self) {
        self.0.close();
    }
}

fn write(map: &mut Pixmap, words: &Words) {
    let width = font::width(&words.text, words.size, words.is_bold);
    let left = match words.anchor {
        Anchor::Start => words.at.0,
        Anchor::Middle => words.at.0 - 0.5 * width,
        Anchor::End => words.at.0 - width,
    };
    let mut pen = Outline(PathBuilder::new());
    font::outline(&words.text, (left, words.at.1), words.size, words.is_bold, &mut pen);
    fill(map, pen.0.finish(), words.colour);
}

fn photo(map: &mut Pixmap, pixels: &Pixels, area: Area) {
    let Some(mut source) = Pixmap::new(pixels.width, pixels.height) else { return };
    for (to, from) in source.pixels_mut().iter_mut().zip(pixels.rgb.chunks_exact(3)) {
        *to = tiny_skia::ColorU8::from_rgba(from[0], from[1], from[2], 255).premultiply();
    }
    let (sx, sy) = (area.w / f64::from(pixels.width), area.h / f64::from(pixels.height));
    let place = Transform::from_row(single(sx), 0.0, 0.0, single(sy), single(area.x), single(area.y));
    let paint = PixmapPaint { quality: FilterQuality::Bilinear, ..PixmapPaint::default() };
    map.draw_pixmap(0, 0, source.as_ref(), &paint, place, None);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::drawing::INK;

    fn blank(width: f64, height: f64) -> Drawing {
        Drawing { width, height, title: String::new(), items: Vec::new() }
    }

    #[test]
    fn paints_where_it_is_told() {
        let mut drawing = blank(40.0, 30.0);
        drawing.fill_area(Area { x: 10.0, y: 5.0, w: 10.0, h: 10.0 }, INK);
        let png = image::load_from_memory(&render(&drawing).unwrap()).unwrap().to_rgb8();
        assert_eq!((png.width(), png.height()), (40, 30));
        assert_eq!(png.get_pixel(15, 10).0, INK.rgb);
        assert_eq!(png.get_pixel(25, 10).0, [255, 255, 255]);
    }

    #[test]
    fn words_leave_ink_between_their_ends() {
        let mut drawing = blank(200.0, 40.0);
        drawing.words((100.0, 30.0), "pH 5.4", 24.0, Anchor::Middle, INK);
        let png = image::load_from_memory(&render(&drawing).unwrap()).unwrap().to_luma8();
        let half = 0.5 * font::width("pH 5.4", 24.0, false);
        let inked: Vec<f64> = png.enumerate_pixels().filter(|(_, _, p)| p.0[0] < 128).map(|(x, _, _)| f64::from(x)).collect();
        assert!(inked.len() > 100);
        assert!(inked.iter().all(|x| (x - 100.0).abs() <= half + 1.0));
    }

    #[test]
    fn a_photo_fills_its_box() {
        let mut drawing = blank(20.0, 20.0);
        let pixels = Pixels { width: 2, height: 1, rgb: vec![200, 0, 0, 0, 0, 200] };
        drawing.items.push(Item::Photo(pixels, Area { x: 0.0, y: 0.0, w: 20.0, h: 10.0 }));
        let png = image::load_from_memory(&render(&drawing).unwrap()).unwrap().to_rgb8();
        assert!(png.get_pixel(2, 5).0[0] > 150 && png.get_pixel(17, 5).0[2] > 150);
        assert_eq!(png.get_pixel(10, 15).0, [255, 255, 255]);
    }

    #[test]
    fn refuses_a_size_that_is_none() {
        for size in [0.0, f64::NAN, 1e9] {
            assert!(matches!(render(&blank(size, 10.0)), Err(RasterError::Size { .. })));
        }
    }
}
