//! Invented baths: what truly happens in them, apart from all that the program reckons.
//!
//! Each piece brings developer in and takes as much of the mixture out; the pH of what is then in the bath comes from the chemistry, not from a table.

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
/// Readings taken that give no answer.
const UNANSWERED: f64 = 0.02;
/// Standard deviation of the errors, pH: the part that all readings of a life share, and each one's own. Together 0.14.
const SHARED: f64 = 0.1;
/// See [`SHARED`].
const OWN: f64 = 0.098;
/// Half-width of the interval that a reading states, pH.
const HALF_WIDTH: f64 = 0.3;
/// Below this base fraction a reading is one-sided, and says below this pH, give or take.
const FOOT: f64 = 0.05;
/// See [`FOOT`].
const BOUND: f64 = 5.1;
/// See [`FOOT`].
const BOUND_SCATTER: f64 = 0.05;
/// Salt that a reader assumes, mol/l: the default of the command line.
const ASSUMED_SALT: f64 = 0.3;

type Failure = Box<dyn std::error::Error + Send + Sync>;

/// One bath with its truth.
pub(crate) struct World {
    pub(crate) is_citric: bool,
    pub(crate) is_film: bool,
    litres: f64,
    fresh: Liquid,
    /// As the worker's darkroom has it, not as the table says.
    developer: Liquid,
    /// Litres that a piece truly carries.
    carry_over: f64,
    shared_error: f64,
    temperature: Celsius,
    dye: &'static Indicator,
    /// Pieces until the limit, not whole.
    pub(crate) capacity: f64,
}

impl World {
    /// Draws a bath: citric and acetic in turn, films and paper in turn.
    pub(crate) fn new(number: u64, random: &mut Random) -> Result<Self, Failure> {
        let mut world = World::as_assumed(number, random.between(0.5, 4.0))?;
        world.carry_over *= random.between_log(1.0 / FACTOR, FACTOR);
        world.developer = world.developer.concentrated(random.between_log(1.0 / FACTOR, FACTOR));
        world.shared_error = random.normal(SHARED);
        world.capacity = world.pieces_to(SPENT)?;
        Ok(world)
    }

    /// A bath whose carry-over and alkalinity are as assumed: bit 0 of `kind` is citric acid, bit 1 paper.
    fn as_assumed(kind: u64, litres: f64) -> Result<Self, Failure> {
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
            shared_error: 0.0,
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
        let (taken, answered) = (random.between(0.0, 1.0) >= MISSED, random.between(0.0, 1.0) >= UNANSWERED);
        let (own, bound) = (random.normal(OWN), BOUND + random.normal(BOUND_SCATTER));
        if !(taken && answered) {
            return Ok(None);
        }
        let balance = self.after(pieces).equilibrium(self.temperature)?;
        let assumed = IonicStrength::new(ASSUMED_SALT)?;
        let (true_pka, assumed_pka) =
            (pka_at(self.dye, balance.ionic_strength, self.temperature), pka_at(self.dye, assumed, self.temperature));
        // Where the dye stands, with the errors of the reader in pH.
        let turned = balance.ph.value() - true_pka + self.shared_error + own;
        let salt = Some(Salt { assumed, factor: self.dye.step });
        if 1.0 / (1.0 + 10f64.powf(-turned)) < FOOT {
            return Ok(Some(Reading { high: Some(Ph::new(bound)?), salt, ..Reading::default() }));
        }
        let ph = assumed_pka + turned;
        Ok(Some(Reading { ph: Some(Ph::new(ph)?), low: Some(Ph::new(ph - HALF_WIDTH)?), high: Some(Ph::new(ph + HALF_WIDTH)?), salt }))
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
