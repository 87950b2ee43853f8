//! Invented baths: what truly happens in them, apart from all that the program reckons.
//!
//! Each piece brings developer in and takes as much of the mixture out; the pH of what is then in the bath comes from the chemistry, not from a table.

use crate::readings::Readings;
use tintpoint::chemistry::liquid::Liquid;
use tintpoint::chemistry::{bath, developer, powder};
use tintpoint::indicator::equilibrium::pka_at;
use tintpoint::indicator::{Indicator, catalogue};
use tintpoint::logbook::life::{self, AcidKind, Keeping, Life, Piece, Reading, Salt};
use tintpoint::quantity::{Celsius, IonicStrength, Ph};
use tintpoint::scene::random::Random;

/// The bath is spent from here, as the command line has it unless told.
pub(crate) const SPENT: f64 = 5.5;
/// Carry-over and alkalinity are truly this many times more or less than assumed, at most.
const FACTOR: f64 = 2.0;
/// Readings that are not taken.
const MISSED: f64 = 0.30;
/// Salt that a reader assumes, mol/l: the default of the command line.
const ASSUMED_SALT: f64 = 0.3;

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// One bath with its truth.
pub(crate) struct World<'a> {
    pub(crate) is_citric: bool,
    pub(crate) is_film: bool,
    litres: f64,
    fresh: Liquid,
    /// As the worker's darkroom has it, not as the table says.
    developer: Liquid,
    /// Litres that a piece truly carries.
    carry_over: f64,
    /// What the worker's camera, lamp and dye make the program say.
    readings: &'a Readings,
    darkroom: usize,
    temperature: Celsius,
    dye: &'static Indicator,
    /// Pieces until the limit, not whole.
    pub(crate) capacity: f64,
}

impl<'a> World<'a> {
    /// Draws a bath: citric and acetic in turn, films and paper in turn.
    pub(crate) fn new(number: u64, readings: &'a Readings, random: &mut Random) -> Result<Self, Failure> {
        let mut world = World::as_assumed(number, random.between(0.5, 4.0), readings)?;
        world.carry_over *= random.between_log(1.0 / FACTOR, FACTOR);
        world.developer = world.developer.concentrated(random.between_log(1.0 / FACTOR, FACTOR));
        world.darkroom = random.below(readings.darkrooms());
        world.capacity = world.pieces_to(SPENT)?;
        Ok(world)
    }

    /// A bath whose carry-over and alkalinity are as assumed: bit 0 of `kind` is citric acid, bit 1 paper.
    fn as_assumed(kind: u64, litres: f64, readings: &'a Readings) -> Result<Self, Failure> {
        let (is_citric, is_film) = (kind.is_multiple_of(2), (kind / 2).is_multiple_of(2));
        let (name, grams) = if is_citric { ("citric-anhydrous", 15.0) } else { (powder::ACETIC_ACID, 17.0) };
        let (carry_over, developer) = stated(is_film);
        let mut world = World {
            is_citric,
            is_film,
            litres,
            fresh: bath::powdered(powder::find(name)?, grams),
            carry_over: carry_over / 1000.0,
            developer: developer::find(developer)?.liquid(),
            readings,
            darkroom: 0,
            temperature: Celsius::new(20.0)?,
            dye: catalogue::find("bromocresol-purple").ok_or("the dye is not in the catalogue")?,
            capacity: 0.0,
        };
        world.capacity = world.pieces_to(SPENT)?;
        Ok(world)
    }

    /// Pieces of the next session.
    pub(crate) fn session(&self, random: &mut Random) -> f64 {
        // Whole numbers from 1 to 6 and from 10 to 40, all as probable.
        if self.is_film { random.between(1.0, 7.0).floor() } else { random.between(10.0, 41.0).floor() }
    }

    /// Share of the fresh bath that is still there after so many pieces.
    fn stays(&self, pieces: f64) -> f64 {
        (self.litres / (self.litres + self.carry_over)).powf(pieces)
    }

    fn after(&self, pieces: f64) -> Liquid {
        let stays = self.stays(pieces);
        self.fresh.mixed(stays, &self.developer, 1.0 - stays)
    }

    /// True pH after so many pieces.
    pub(crate) fn ph(&self, pieces: f64) -> Result<f64, Failure> {
        Ok(self.after(pieces).equilibrium(self.temperature)?.ph.value())
    }

    /// Share of the reserve to the limit that is still in the bath.
    pub(crate) fn reserve(&self, pieces: f64) -> Result<f64, Failure> {
        let to = Ph::new(SPENT)?;
        Ok(self.after(pieces).reserve(to, self.temperature)?.value() / self.fresh.reserve(to, self.temperature)?.value())
    }

    fn pieces_to(&self, ph: f64) -> Result<f64, Failure> {
        let (mut low, mut high) = (0.0, 1.0);
        while self.ph(high)? < ph {
            high *= 2.0;
        }
        for _ in 0..30 {
            let middle = 0.5 * (low + high);
            if self.ph(middle)? < ph { low = middle } else { high = middle }
        }
        Ok(low)
    }

    /// What a photo of the bath says after so many pieces, if it is taken and answered.
    pub(crate) fn reading(&self, pieces: f64, random: &mut Random) -> Result<Option<Reading>, Failure> {
        let is_taken = random.between(0.0, 1.0) >= MISSED;
        let balance = self.after(pieces).equilibrium(self.temperature)?;
        let assumed = IonicStrength::new(ASSUMED_SALT)?;
        let (true_pka, assumed_pka) =
            (pka_at(self.dye, balance.ionic_strength, self.temperature), pka_at(self.dye, assumed, self.temperature));
        let said = self.readings.near(self.darkroom, balance.ph.value() - true_pka, random);
        let ph = |said: Option<f64>| said.map(|ph| Ph::new(assumed_pka + ph)).transpose();
        let reading = Reading {
            ph: ph(said.ph)?,
            low: ph(said.low)?,
            high: ph(said.high)?,
            salt: Some(Salt { assumed, factor: self.dye.step }),
            pka: Some(assumed_pka),
        };
        Ok(Some(reading).filter(|reading| is_taken && reading.low.or(reading.high).is_some()))
    }

    /// The life as the worker writes it down, with nothing in it yet.
    pub(crate) fn life(&self) -> Result<Life, Failure> {
        let (carry_over, developer) = stated(self.is_film);
        Ok(Life {
            fresh: self.fresh.clone(),
            strength_spread: 0.0,
            litres: self.litres,
            temperature: self.temperature,
            mixed: 0,
            acid: if self.is_citric { AcidKind::Citric } else { AcidKind::Acetic },
            keeping: Keeping::Bottle,
            pieces: vec![Piece { name: "piece".to_owned(), carry_over, spread: life::DEFAULT_SPREAD, area: 0.0516 }],
            developers: vec![life::Developer {
                name: developer.to_owned(),
                liquid: developer::find(developer)?.liquid(),
                spread: life::DEFAULT_SPREAD,
            }],
            counted: true,
            steps: Vec::new(),
        })
    }
}

/// Carry-over in ml and developer that are assumed: a roll in a small tank, or a sheet of 8x10 RC (common practice).
fn stated(is_film: bool) -> (f64, &'static str) {
    if is_film { (10.0, "borax-sulfite-1+1") } else { (3.0, "carbonate-1+2") }
}
