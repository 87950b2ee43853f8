//! The drawing list as SVG text; coordinates have two decimals so that equal drawings give equal text.

use super::drawing::{Anchor, Colour, Drawing, Item, Pixels, Point, Stroke, Words};
use super::font;
use image::ExtendedColorType;
use image::codecs::jpeg::JpegEncoder;
use std::fmt::Write as _;

/// Quality of an embedded photo: 85 of 100 shows no blocks at the size drawn.
const JPEG_QUALITY: u8 = 85;

/// The whole SVG file.
#[must_use]
pub fn render(drawing: &Drawing) -> String {
    document(drawing, "")
}

/// The whole SVG file of a page to print: the drawing's unit is the millimetre.
#[must_use]
pub fn page(drawing: &Drawing) -> String {
    document(drawing, "mm")
}

fn document(drawing: &Drawing, unit: &str) -> String {
    let (w, h) = (number(drawing.width), number(drawing.height));
    let size = format!("xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}{unit}\" height=\"{h}{unit}\"");
    picture(drawing, &size)
}

/// The picture as part of a page in HTML, as large as the page makes it.
#[must_use]
pub fn inline(drawing: &Drawing) -> String {
    picture(drawing, "class=\"drawing\"")
}

fn picture(drawing: &Drawing, attributes: &str) -> String {
    let (w, h) = (number(drawing.width), number(drawing.height));
    let mut out = format!("<svg {attributes} viewBox=\"0 0 {w} {h}\" font-family=\"{}\" role=\"img\">\n", font::FAMILY);
    let _ = writeln!(out, "<title>{}</title>", escaped(&drawing.title));
    out.push_str(&elements(drawing));
    out.push_str("</svg>\n");
    out
}

/// What is drawn, without the element around it.
pub(super) fn elements(drawing: &Drawing) -> String {
    drawing.items.iter().map(|item| element(item) + "\n").collect()
}

fn element(item: &Item) -> String {
    match item {
        Item::Fill(points, colour) => format!("<path d=\"{}Z\" {}/>", path(points), fill(*colour)),
        Item::Line(points, is_closed, pen) => {
            format!("<path d=\"{}{}\" fill=\"none\" {}/>", path(points), if *is_closed { "Z" } else { "" }, stroke(*pen))
        }
        Item::Disc(centre, radius, colour) => format!("<circle {} {}/>", circle(*centre, *radius), fill(*colour)),
        Item::Ring(centre, radius, pen) => format!("<circle {} fill=\"none\" {}/>", circle(*centre, *radius), stroke(*pen)),
        Item::Words(words) => text(words),
        Item::Photo(pixels, area) => format!(
            "<image x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" href=\"{}\"/>",
            number(area.x),
            number(area.y),
            number(area.w),
            number(area.h),
            data_address(pixels)
        ),
    }
}

fn text(words: &Words) -> String {
    let anchor = match words.anchor {
        Anchor::Start => "start",
        Anchor::Middle => "middle",
        Anchor::End => "end",
    };
    let weight = if words.is_bold { " font-weight=\"bold\"" } else { "" };
    format!(
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\" text-anchor=\"{anchor}\"{weight} {}>{}</text>",
        number(words.at.0),
        number(words.at.1),
        number(words.size),
        fill(words.colour),
        escaped(&words.text)
    )
}

fn path(points: &[Point]) -> String {
    let mut out = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let _ = write!(out, "{}{} {}", if i == 0 { 'M' } else { 'L' }, number(*x), number(*y));
    }
    out
}

fn circle(centre: Point, radius: f64) -> String {
    format!("cx=\"{}\" cy=\"{}\" r=\"{}\"", number(centre.0), number(centre.1), number(radius))
}

fn fill(colour: Colour) -> String {
    let [r, g, b] = colour.rgb;
    let opacity = if colour.opacity < 1.0 { format!(" fill-opacity=\"{}\"", number(colour.opacity)) } else { String::new() };
    format!("fill=\"#{r:02x}{g:02x}{b:02x}\"{opacity}")
}

fn stroke(pen: Stroke) -> String {
    let [r, g, b] = pen.colour.rgb;
    let mut out = format!("stroke=\"#{r:02x}{g:02x}{b:02x}\" stroke-width=\"{}\"", number(pen.width));
    if pen.colour.opacity < 1.0 {
        let _ = write!(out, " stroke-opacity=\"{}\"", number(pen.colour.opacity));
    }
    if let Some((dash, gap)) = pen.dash {
        let _ = write!(out, " stroke-dasharray=\"{} {}\"", number(dash), number(gap));
    }
    out
}

/// Two decimals at most, no trailing zeros, no minus zero.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// Text made safe for SVG and HTML, also inside attributes in double quotes.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            // XML 1.0 forbids control characters even when escaped.
            c if c.is_control() => out.push('?'),
            c => out.push(c),
        }
    }
    out
}

fn data_address(pixels: &Pixels) -> String {
    let mut jpeg = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY);
    match image::ImageEncoder::write_image(encoder, &pixels.rgb, pixels.width, pixels.height, ExtendedColorType::Rgb8) {
        Ok(()) => format!("data:image/jpeg;base64,{}", base64(&jpeg)),
        // Only a buffer that does not fill its size can fail; the drawing stays readable without it.
        Err(_) => String::new(),
    }
}

/// Base64 with padding (RFC 4648 section 4).
fn base64(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for chunk in bytes.chunks(3) {
        let [a, b, c] = [0, 1, 2].map(|i| chunk.get(i).map_or(0, |byte| u32::from(*byte)));
        let joined = a << 16 | b << 8 | c;
        for i in 0..4 {
            let is_padding = i > chunk.len();
            let index = (joined >> (18 - 6 * i)) & 63;
            out.push(if is_padding { '=' } else { char::from(ALPHABET[index as usize]) });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    // RFC 4648 section 10, test vectors.
    #[test]
    fn base64_gives_the_vectors_of_its_standard() {
        for (plain, coded) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foob", "Zm9vYg=="), ("foobar", "Zm9vYmFy")] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }

    #[test]
    fn numbers_are_short_and_words_are_safe() {
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(12.5), "12.5");
        assert_eq!(escaped("a<b & \"c\"\u{7}"), "a&lt;b &amp; &quot;c&quot;?");
    }
}
