//! Where the grey card and the cups are: given, or found on a reduced picture.

mod card;
mod circle;
mod cup;
#[cfg(test)]
mod drawing;
mod median;
mod order;
mod patch;
mod pyramid;
pub mod sheet;
#[cfg(test)]
mod tests;
mod vote;

use super::frame::{Frame, Reduced};
use super::request::Request;
use super::share;
use super::warning::Notice;
use cup::FoundCup;
use order::Spot;
use pyramid::Pyramid;
use sheet::{CupLight, Homography, SeenSheet};
use std::sync::atomic::{AtomicBool, Ordering};
use vote::Candidate;

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
    /// How the liquid's surface is seen on a placement sheet: `liquid` is then the circle that fits into its ellipse.
    pub face: Option<Face>,
}

/// The view of a liquid's round surface: the unit disc to pixels of the photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Face {
    view: Homography,
    /// Unit direction towards the camera on the surface, and the farthest in that direction which no near wall hides, in radii.
    towards: (f64, f64),
    shown: f64,
}

impl Face {
    /// The pixel of a place on the surface, counted in its radii from its middle; `None` behind the camera.
    #[must_use]
    pub fn at(&self, place: (f64, f64)) -> Option<(f64, f64)> {
        self.view.at(place)
    }

    /// False where a cup's near wall may hide the surface.
    #[must_use]
    pub fn shows(&self, place: (f64, f64)) -> bool {
        place.0 * self.towards.0 + place.1 * self.towards.1 <= self.shown
    }
}

/// What was given or found, and what is to be said about it.
#[derive(Debug, Clone, Default)]
pub struct Regions {
    /// The grey card.
    pub card: Option<CardRegion>,
    /// The cups in their numbering.
    pub cups: Vec<CupRegion>,
    /// Numbers printed beside the cups; empty when they are counted instead.
    pub numbers: Vec<usize>,
    /// Light at each cup where a placement sheet tells; empty where none does.
    pub lights: Vec<Option<CupLight>>,
    /// The placement sheet, when one was seen.
    pub sheet: Option<SeenSheet>,
    /// Notices such as a missing card.
    pub notices: Vec<Notice>,
}

impl Regions {
    /// Number of the cup at this place of the list: that printed on a sheet, else counted from 1.
    #[must_use]
    pub fn number(&self, index: usize) -> usize {
        self.numbers.get(index).copied().unwrap_or(index + 1)
    }

    /// The highest number of a cup; 0 without one.
    #[must_use]
    pub fn highest_number(&self) -> usize {
        (0..self.cups.len()).map(|index| self.number(index)).max().unwrap_or(0)
    }
}

/// Longest side of the reduced picture that things are looked for on, pixels: the smallest of twelve cups then still has a radius of
/// seven pixels, and the thin rim of a glass is a pixel wide. Twice as many found no more cups on rendered photos.
pub const LONGEST: usize = 700;

/// Takes over what the request tells, then what a placement sheet tells, and finds the rest. `small` is the reduced picture of `frame`.
#[must_use]
pub fn find(frame: &Frame, small: &Reduced, request: &Request) -> Regions {
    if request.card.is_some() && !request.cups.is_empty() {
        return locate(small, request);
    }
    // Most photos show no sheet, and looking for its marks leaves a thread idle.
    let is_moot = AtomicBool::new(false);
    let marks = || {
        let marks = sheet::marks(small);
        is_moot.store(!marks.is_empty(), Ordering::Relaxed);
        marks
    };
    let (marks, search) = share::ahead(marks, || Search::unless(&is_moot, small));
    let search = search.flatten();
    let Some(on_sheet) = sheet::find(frame, small, marks) else { return complete(told(request), small, search) };
    let seen = on_sheet.seen;
    let mut asked = request.clone();
    let mut card = None;
    let mut numbers = Vec::new();
    let mut cups = Vec::new();
    if asked.card.is_none() {
        card = on_sheet.card;
        asked.card = card.map(|c| c.area);
    }
    if asked.cups.is_empty() {
        numbers = on_sheet.cups.iter().map(|cup| cup.number).collect();
        cups = on_sheet.cups.iter().map(|cup| cup.region).collect();
        asked.cups = cups.iter().map(|c| c.liquid).collect();
    }
    // What stands on a sheet stands on its places: the print itself must not be searched for things.
    let is_searched = !seen.is_used;
    let mut regions = if is_searched { searched(small, &asked, search) } else { beside(small, &asked, search) };
    if card.is_some() {
        regions.card = card;
    }
    if !cups.is_empty() {
        regions.cups = cups;
        regions.numbers = numbers;
        // The ratio is to the light on the card's place, so a card told elsewhere has no part in it.
        if card.is_some() {
            regions.lights = on_sheet.cups.iter().map(|cup| cup.light).collect();
        }
    }
    let missing = seen.missing();
    if !missing.is_empty() {
        regions.notices.push(Notice::SheetMarkMissing { missing, is_used: seen.is_used });
    }
    regions.sheet = Some(seen);
    regions
}

/// What was told, and a card that lies beside a sheet or across it, if it is surely one.
fn beside(small: &Reduced, request: &Request, search: Option<Search<'_>>) -> Regions {
    let mut regions = told(request);
    if regions.card.is_none() {
        let Search { pyramid, circles } = search.unwrap_or_else(|| Search::begun(small));
        regions.card =
            card::find(&pyramid, &cup::find(&pyramid, circles), None).map(|c| c.enlarged(small.factor)).filter(|c| c.confidence > SURE);
    }
    if regions.card.is_none() {
        regions.notices.push(Notice::CardMissing);
    }
    if regions.cups.is_empty() {
        regions.notices.push(Notice::CupMissing);
    }
    regions
}

/// A card that was not on its place must be this sure: the dashed box and the bands of words reach half of it.
const SURE: f64 = 0.6;

/// Takes over what the request tells and finds the rest on the reduced picture, which is at most [`LONGEST`] pixels long.
#[must_use]
pub fn locate(small: &Reduced, request: &Request) -> Regions {
    searched(small, request, None)
}

/// The same with a search that may have been begun.
fn searched(small: &Reduced, request: &Request, search: Option<Search<'_>>) -> Regions {
    let given = told(request);
    if given.card.is_some() && !given.cups.is_empty() {
        return given;
    }
    complete(given, small, search)
}

/// A search as far as it needs nothing to be known: the photo in its sizes, and the circles that may be there.
struct Search<'a> {
    pyramid: Pyramid<'a>,
    circles: Vec<Candidate>,
}

impl<'a> Search<'a> {
    fn begun(small: &'a Reduced) -> Self {
        let pyramid = Pyramid::new(small);
        let circles = vote::candidates(&pyramid);
        Search { pyramid, circles }
    }

    /// The same, given up when it turns out meanwhile that it will not be wanted.
    fn unless(is_moot: &AtomicBool, small: &'a Reduced) -> Option<Self> {
        let pyramid = Pyramid::new(small);
        let circles = vote::candidates_unless(is_moot, &pyramid);
        (!is_moot.load(Ordering::Relaxed)).then_some(Search { pyramid, circles })
    }
}

/// What the request tells.
fn told(request: &Request) -> Regions {
    Regions {
        card: request.card.map(|area| CardRegion { area, corners: corners(area), confidence: 1.0 }),
        cups: request.cups.iter().map(|&liquid| CupRegion { liquid, rim: None, confidence: 1.0, face: None }).collect(),
        ..Regions::default()
    }
}

/// Finds what was not given, on the reduced picture.
fn complete(mut regions: Regions, small: &Reduced, search: Option<Search<'_>>) -> Regions {
    let Search { pyramid, circles } = search.unwrap_or_else(|| Search::begun(small));
    let is_card_told = regions.card.is_some();
    let (found, patches) = share::ahead(|| cup::find(&pyramid, circles), || (!is_card_told).then(|| card::first_patches(&pyramid)));
    if !is_card_told {
        regions.card = card::find(&pyramid, &found, patches.flatten()).map(|c| c.enlarged(small.factor));
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
    in_photo_f64(f64::from(u), factor)
}

/// The same of a coordinate that was had more exactly.
fn in_photo_f64(u: f64, factor: f64) -> f64 {
    (u + 0.5) * factor - 0.5
}

/// A found cup in pixels of the photo.
fn enlarged(cup: &FoundCup, factor: f64) -> CupRegion {
    CupRegion {
        liquid: Circle { x: in_photo(cup.x, factor), y: in_photo(cup.y, factor), radius: f64::from(cup.radius) * factor },
        rim: cup.rim.map(|r| f64::from(r) * factor),
        confidence: f64::from(cup.confidence),
        face: None,
    }
}

/// The cups in the order of their numbers.
fn numbered(cups: Vec<CupRegion>, card: Option<(f64, f64)>) -> Vec<CupRegion> {
    let spots: Vec<Spot> =
        cups.iter().map(|c| Spot { x: c.liquid.x, y: c.liquid.y, size: c.rim.unwrap_or(1.3 * c.liquid.radius) }).collect();
    order::numbering(&spots, card).into_iter().map(|i| cups[i]).collect()
}
