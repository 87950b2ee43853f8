//! Where the grey card and the cups are: given, or found on a reduced picture.

mod card;
mod circle;
mod cup;
#[cfg(test)]
mod drawing;
mod order;
mod patch;
mod pyramid;
#[cfg(test)]
mod tests;
mod vote;

use super::frame::Reduced;
use super::request::Request;
use super::warning::Notice;
use cup::FoundCup;
use order::Spot;
use pyramid::Pyramid;

/// An upright rectangle in pixels of the upright picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rectangle {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

/// A circle in pixels of the upright picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circle {
    /// Centre, from the left.
    pub x: f64,
    /// Centre, from the top.
    pub y: f64,
    /// Radius of the liquid's surface, not of the rim.
    pub radius: f64,
}

/// The card as given or found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CardRegion {
    /// An upright rectangle wholly on the card.
    pub area: Rectangle,
    /// The card's corners in order around it; those of `area` when the card was given.
    pub corners: [(f64, f64); 4],
    /// 0 to 1; 1 when given.
    pub confidence: f64,
}

/// One cup as given or found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CupRegion {
    /// The liquid's surface.
    pub liquid: Circle,
    /// Outer radius of the vessel when it was seen.
    pub rim: Option<f64>,
    /// 0 to 1; 1 when given.
    pub confidence: f64,
}

/// What was given or found, and what is to be said about it.
#[derive(Debug, Clone, Default)]
pub struct Regions {
    /// The grey card.
    pub card: Option<CardRegion>,
    /// The cups in their numbering.
    pub cups: Vec<CupRegion>,
    /// Notices such as a missing card.
    pub notices: Vec<Notice>,
}

/// Longest side of the reduced picture that things are looked for on, pixels: the smallest of twelve cups then still has a radius of
/// seven pixels, and the thin rim of a glass is a pixel wide. Twice as many found no more cups on rendered photos.
pub const LONGEST: usize = 700;

/// Takes over what the request tells and finds the rest on the reduced picture, which is at most [`LONGEST`] pixels long.
#[must_use]
pub fn locate(small: &Reduced, request: &Request) -> Regions {
    let given = Regions {
        card: request.card.map(|area| CardRegion { area, corners: corners(area), confidence: 1.0 }),
        cups: request.cups.iter().map(|&liquid| CupRegion { liquid, rim: None, confidence: 1.0 }).collect(),
        notices: Vec::new(),
    };
    if given.card.is_some() && !given.cups.is_empty() {
        return given;
    }
    complete(given, small)
}

/// Finds what was not given, on the reduced picture.
fn complete(mut regions: Regions, small: &Reduced) -> Regions {
    let pyramid = Pyramid::new(small);
    let found = cup::find(&pyramid);
    if regions.card.is_none() {
        regions.card = card::find(&pyramid, &found).map(|c| c.enlarged(small.factor));
    }
    if regions.cups.is_empty() {
        let card = regions.card.map(|card| (card.area.x + 0.5 * card.area.w, card.area.y + 0.5 * card.area.h));
        regions.cups = numbered(found.iter().map(|c| enlarged(c, small.factor)).collect(), card);
    }
    if regions.card.is_none() {
        regions.notices.push(Notice::CardMissing);
    }
    if regions.cups.is_empty() {
        regions.notices.push(Notice::CupMissing);
    }
    regions
}

/// Corners of an upright rectangle, clockwise from the upper left.
fn corners(area: Rectangle) -> [(f64, f64); 4] {
    [(area.x, area.y), (area.x + area.w, area.y), (area.x + area.w, area.y + area.h), (area.x, area.y + area.h)]
}

/// A reduced coordinate in pixels of the photo.
fn in_photo(u: f32, factor: f64) -> f64 {
    (f64::from(u) + 0.5) * factor - 0.5
}

/// A found cup in pixels of the photo.
fn enlarged(cup: &FoundCup, factor: f64) -> CupRegion {
    CupRegion {
        liquid: Circle { x: in_photo(cup.x, factor), y: in_photo(cup.y, factor), radius: f64::from(cup.radius) * factor },
        rim: cup.rim.map(|r| f64::from(r) * factor),
        confidence: f64::from(cup.confidence),
    }
}

/// The cups in the order of their numbers.
fn numbered(cups: Vec<CupRegion>, card: Option<(f64, f64)>) -> Vec<CupRegion> {
    let spots: Vec<Spot> =
        cups.iter().map(|c| Spot { x: c.liquid.x, y: c.liquid.y, size: c.rim.unwrap_or(1.3 * c.liquid.radius) }).collect();
    order::numbering(&spots, card).into_iter().map(|i| cups[i]).collect()
}
