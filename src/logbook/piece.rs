//! Film and paper by kind and size, and the developer that one brings along.

use serde::{Deserialize, Serialize};
use std::fmt;

/// An 8x10 sheet, square metres: 8 by 10 inches of 25.4 mm.
const AREA_8X10: f64 = 0.2032 * 0.254;
/// A 4x5 sheet, square metres.
const AREA_4X5: f64 = AREA_8X10 / 4.0;
/// Smallest and largest side of a sheet, millimetres: a test strip, a mural.
const SIDES: std::ops::RangeInclusive<f64> = 10.0..=3000.0;

/// A kind of film or paper, such as `135-36`, `120`, `8x10rc`, `18x24cmfb`, `4x5film`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Piece(String);

/// A text that names no piece.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is no kind of film or paper")]
pub struct PieceError(String);

impl PieceError {
    /// The next action.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        "rolls are 135-36 and 120; sheets are their size in inches, or with cm, and rc, fb (fibre, double weight), fbsw (single weight) \
         or film: 8x10rc, 18x24cmfb, 4x5film"
    }
}

/// What a piece is made of, which decides how much it drags along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Make {
    Roll,
    SheetFilm,
    ResinCoated,
    DoubleWeight,
    SingleWeight,
}

impl Make {
    /// Usual and generous carry-over of the area given with it, ml and square metres (common practice: a roll 8 to 15 in a small
    /// tank, 4x5 film 1 to 2, 8x10 RC 2 to 4, fibre double weight 8 to 15, single weight 5 to 8).
    fn carry_over(self) -> (f64, f64, f64) {
        match self {
            Make::Roll => (10.0, 15.0, AREA_8X10),
            Make::SheetFilm => (1.5, 2.0, AREA_4X5),
            Make::ResinCoated => (3.0, 4.0, AREA_8X10),
            Make::DoubleWeight => (11.0, 15.0, AREA_8X10),
            Make::SingleWeight => (6.5, 8.0, AREA_8X10),
        }
    }
}

impl Piece {
    /// Area, square metres.
    #[must_use]
    pub fn area(&self) -> f64 {
        parsed(&self.0).map_or(AREA_8X10, |(_, area)| area)
    }

    /// Developer that one brings along unless measured, ml; `generous` for what nobody watched.
    #[must_use]
    pub fn carry_over(&self, generous: bool) -> f64 {
        let Some((make, area)) = parsed(&self.0) else { return 0.0 };
        let (usual, most, of) = make.carry_over();
        (if generous { most } else { usual }) * area / of
    }

    /// True for a roll of film.
    #[must_use]
    pub fn is_roll(&self) -> bool {
        parsed(&self.0).is_some_and(|(make, _)| make == Make::Roll)
    }

    /// True for rolls and sheet film.
    #[must_use]
    pub fn is_film(&self) -> bool {
        parsed(&self.0).is_some_and(|(make, _)| matches!(make, Make::Roll | Make::SheetFilm))
    }
}

fn parsed(text: &str) -> Option<(Make, f64)> {
    match text {
        // One 135-36 or 120 roll has about the area of an 8x10 sheet.
        "135-36" | "120" => return Some((Make::Roll, AREA_8X10)),
        _ => {}
    }
    let ends = [("fbsw", Make::SingleWeight), ("fb", Make::DoubleWeight), ("rc", Make::ResinCoated), ("film", Make::SheetFilm)];
    let (size, make) = ends.iter().find_map(|(end, make)| Some((text.strip_suffix(end)?, *make)))?;
    let (size, unit) = size.strip_suffix("cm").map_or((size, 25.4), |size| (size, 10.0));
    let (width, height) = size.split_once('x')?;
    let side = |text: &str| text.parse::<f64>().ok().map(|side| side * unit).filter(|side| SIDES.contains(side));
    Some((make, side(width)? * side(height)? / 1e6))
}

impl TryFrom<String> for Piece {
    type Error = PieceError;
    fn try_from(text: String) -> Result<Self, PieceError> {
        let name = text.trim().to_lowercase();
        match parsed(&name) {
            Some(_) => Ok(Piece(name)),
            None => Err(PieceError(text)),
        }
    }
}

impl From<Piece> for String {
    fn from(piece: Piece) -> String {
        piece.0
    }
}

impl fmt::Display for Piece {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn piece(text: &str) -> Piece {
        Piece::try_from(text.to_owned()).unwrap()
    }

    // An 8x10 sheet has 0.0516 m2, worked by hand; twice the area drags along twice as much.
    #[test]
    fn carry_over_goes_with_area() {
        assert_abs_diff_eq!(piece("8x10rc").area(), 0.0516, epsilon = 5e-5);
        assert_abs_diff_eq!(piece("20.32x25.4cmfb").carry_over(false), piece("8x10fb").carry_over(false), epsilon = 1e-9);
        assert_abs_diff_eq!(piece("16x10RC").carry_over(false), 2.0 * piece("8x10rc").carry_over(false), epsilon = 1e-9);
        assert!(piece("8x10fbsw").carry_over(false) < piece("8x10fb").carry_over(false));
        assert!(piece("120").carry_over(true) > piece("120").carry_over(false));
        assert!(piece("4x5film").is_film() && !piece("4x5rc").is_film());
    }

    #[test]
    fn nonsense_is_refused() {
        for text in ["", "rc", "8x10", "8xrc", "0x10rc", "-8x10rc", "nanx10rc", "8x1e9rc", "135"] {
            assert!(Piece::try_from(text.to_owned()).is_err(), "{text}");
        }
    }
}
