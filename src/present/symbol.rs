//! The shapes and inks of the states. Each state differs in outline, so that no meaning rests on colour.

use super::drawing::{Anchor, Area, Colour, Drawing, Item, PAPER, Point, Stroke};
use crate::measurement::reading::State;

/// Ink of a state: blue, ochre, dark purple, grey differ in lightness as well as in hue, so they stay apart for every
/// common kind of colour vision.
#[must_use]
pub fn ink(state: State) -> Colour {
    match state {
        State::Fresh => Colour::solid(0x00, 0x66, 0xb0),
        State::Nearing => Colour::solid(0xb0, 0x70, 0x00),
        State::Spent => Colour::solid(0x5c, 0x10, 0x4c),
        State::Unclear => Colour::solid(0x55, 0x55, 0x55),
    }
}

/// Draws the shape of a state: fresh a disc with a tick, nearing an hourglass, spent a square with a cross, unclear a diamond
/// with a question mark. `radius` in pixels is half its height.
pub fn draw(drawing: &mut Drawing, state: State, centre: Point, radius: f64) {
    let at = |x: f64, y: f64| (centre.0 + x * radius, centre.1 + y * radius);
    let mark = Stroke::solid(PAPER, 0.24 * radius);
    let colour = ink(state);
    match state {
        State::Fresh => {
            drawing.items.push(Item::Disc(centre, radius, colour));
            drawing.line(&[at(-0.5, 0.05), at(-0.12, 0.42), at(0.52, -0.38)], mark);
        }
        State::Nearing => {
            let glass = [at(-0.8, -1.0), at(0.8, -1.0), at(0.14, 0.0), at(0.8, 1.0), at(-0.8, 1.0), at(-0.14, 0.0)];
            drawing.items.push(Item::Fill(glass.to_vec(), colour));
            drawing.items.push(Item::Fill(vec![at(-0.48, -0.75), at(0.48, -0.75), at(0.3, -0.45), at(-0.3, -0.45)], PAPER));
        }
        State::Spent => {
            let side = 1.8 * radius;
            drawing.fill_area(Area { x: centre.0 - 0.5 * side, y: centre.1 - 0.5 * side, w: side, h: side }, colour);
            drawing.line(&[at(-0.48, -0.48), at(0.48, 0.48)], mark);
            drawing.line(&[at(-0.48, 0.48), at(0.48, -0.48)], mark);
        }
        State::Unclear => {
            let diamond = vec![at(0.0, -1.1), at(1.1, 0.0), at(0.0, 1.1), at(-1.1, 0.0)];
            drawing.items.push(Item::Fill(diamond.clone(), PAPER));
            drawing.items.push(Item::Line(diamond, true, Stroke::solid(colour, 0.18 * radius)));
            drawing.bold(at(0.0, 0.42), "?", 1.2 * radius, Anchor::Middle, colour);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::tone::srgb_decode;

    fn luminance(colour: Colour) -> f64 {
        let [r, g, b] = colour.rgb.map(|v| srgb_decode(f64::from(v) / 255.0));
        0.2126 * r + 0.7152 * g + 0.0722 * b
    }

    // WCAG 2.1 asks 3:1 of graphics against their ground.
    #[test]
    fn inks_stand_out_and_differ_in_lightness() {
        let all = [State::Fresh, State::Nearing, State::Spent].map(|s| luminance(ink(s)));
        assert!(all.iter().all(|l| 1.05 / (l + 0.05) >= 3.0));
        for (i, a) in all.iter().enumerate() {
            for b in &all[i + 1..] {
                assert!((a + 0.05).max(b + 0.05) / (a + 0.05).min(b + 0.05) > 1.4, "{all:?}");
            }
        }
    }
}
