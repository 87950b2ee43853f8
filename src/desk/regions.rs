//! Regions that were told, checked against the picture.

use crate::measurement::regions::{Circle, Rectangle};
use crate::measurement::samples::SMALLEST_CARD;
use crate::present::Failure;

/// A region that was told and does not fit the photo.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum RegionError {
    /// Part of the card is not on the picture.
    #[error("the card {},{},{},{} reaches outside the picture of {width} x {height} pixels", card.x, card.y, card.w, card.h)]
    CardOutside {
        /// As told.
        card: Rectangle,
        /// Width of the picture, pixels.
        width: usize,
        /// Height of the picture, pixels.
        height: usize,
    },
    /// Too few pixels to measure.
    #[error("the card {},{},{},{} is too small to measure; its sides need {} pixels", card.x, card.y, card.w, card.h, SMALLEST_CARD)]
    CardSmall {
        /// As told.
        card: Rectangle,
    },
    /// The middle of the cup is not on the picture.
    #[error("the cup {},{},{} has its centre outside the picture of {width} x {height} pixels", cup.x, cup.y, cup.radius)]
    CupOutside {
        /// As told.
        cup: Circle,
        /// Width of the picture, pixels.
        width: usize,
        /// Height of the picture, pixels.
        height: usize,
    },
}

impl RegionError {
    /// The failure with code and hint.
    #[must_use]
    pub fn failure(&self) -> Failure {
        let code = match self {
            RegionError::CardOutside { .. } => "card-outside",
            RegionError::CardSmall { .. } => "card-small",
            RegionError::CupOutside { .. } => "cup-outside",
        };
        let hint = "coordinates are pixels of the upright picture, counted from its top left corner; leave the option out to have it found";
        Failure { code: code.to_owned(), message: self.to_string(), hint: Some(hint.to_owned()) }
    }
}

/// Checks the regions that were told against the size of the upright picture.
///
/// # Errors
/// [`RegionError`] for the first that does not fit.
pub fn check_regions(card: Option<Rectangle>, cups: &[Circle], width: usize, height: usize) -> Result<(), RegionError> {
    let (w, h) = (width as f64, height as f64);
    if let Some(card) = card.filter(|c| c.x < 0.0 || c.y < 0.0 || c.x + c.w > w || c.y + c.h > h) {
        return Err(RegionError::CardOutside { card, width, height });
    }
    if let Some(card) = card.filter(|c| c.w < SMALLEST_CARD || c.h < SMALLEST_CARD) {
        return Err(RegionError::CardSmall { card });
    }
    match cups.iter().find(|c| !(0.0..w).contains(&c.x) || !(0.0..h).contains(&c.y)) {
        Some(&cup) => Err(RegionError::CupOutside { cup, width, height }),
        None => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edges_count_as_inside() {
        let card = Rectangle { x: 0.0, y: 0.0, w: 100.0, h: 50.0 };
        let cup = Circle { x: 99.0, y: 49.0, radius: 500.0 };
        assert_eq!(check_regions(Some(card), &[cup], 100, 50), Ok(()));
        assert!(check_regions(Some(Rectangle { x: 0.5, ..card }), &[], 100, 50).is_err());
        assert!(check_regions(None, &[Circle { x: 100.0, ..cup }], 100, 50).is_err());
    }

    // A card that cannot be measured must not be passed over in silence.
    #[test]
    fn speck_is_no_card() {
        let card = Rectangle { x: 0.0, y: 0.0, w: 50.0, h: 11.0 };
        assert_eq!(check_regions(Some(card), &[], 100, 50), Err(RegionError::CardSmall { card }));
        assert_eq!(check_regions(Some(Rectangle { h: 12.0, ..card }), &[], 100, 50), Ok(()));
    }

    #[test]
    fn message_names_value_and_limit() {
        let error = check_regions(Some(Rectangle { x: 90.0, y: 1.0, w: 20.0, h: 5.0 }), &[], 100, 50).unwrap_err();
        assert_eq!(error.failure().message, "the card 90,1,20,5 reaches outside the picture of 100 x 50 pixels");
    }
}
