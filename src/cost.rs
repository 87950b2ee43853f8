//! What a bath costs: per litre, batch, roll, sheet, pupil and period, beside one-shot use. Any currency, no price of its own.
//!
//! [`expected`] and [`period`] reckon with what is told, [`record::costs`] with batches that were written down; nothing here knows where they come from.

pub mod record;

use crate::quantity::{Count, Millilitres, Money, RangeError};

/// What was bought and how much working bath it makes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Paid for it.
    pub price: Money,
    /// Working bath that comes of it, ml.
    makes: f64,
}

impl Supply {
    /// A pack of concentrate of which a share from above 0 to 1 of the bath consists: 500 ml at 1+19 (0.05) make 10 l.
    ///
    /// # Errors
    /// [`RangeError`] when the share is not above 0 and at most 1.
    pub fn concentrate(price: Money, pack: Millilitres, share: f64) -> Result<Self, RangeError> {
        if !(share > 0.0 && share <= 1.0) {
            return Err(RangeError { quantity: "share of concentrate in the bath", value: share, low: 0.0, high: 1.0 });
        }
        Ok(Supply { price, makes: pack.value() / share })
    }

    /// A pack of powder, g, dissolved at so many g/l.
    ///
    /// # Errors
    /// [`RangeError`] when one of the two is not above 0, or beyond a tonne.
    pub fn powder(price: Money, grams: f64, per_litre: f64) -> Result<Self, RangeError> {
        for (quantity, value) in [("mass of the pack in grams", grams), ("strength in grams per litre", per_litre)] {
            if !(value > 0.0 && value <= 1e6) {
                return Err(RangeError { quantity, value, low: 0.0, high: 1e6 });
            }
        }
        Ok(Supply { price, makes: 1000.0 * grams / per_litre })
    }

    /// Working bath that the pack makes, l.
    #[must_use]
    pub fn litres(&self) -> f64 {
        self.makes / 1000.0
    }

    /// Price of a litre of working bath, without disposal.
    #[must_use]
    pub fn per_litre(&self) -> f64 {
        self.price.value() / self.litres()
    }
}

/// A pack as it is sold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pack {
    /// Of a liquid.
    Liquid(Millilitres),
    /// Of a powder, g.
    Powder(f64),
}

impl Pack {
    /// What it makes at so many millilitres or grams of it in a litre of bath.
    ///
    /// # Errors
    /// As [`Supply::concentrate`] and [`Supply::powder`].
    pub fn supply(&self, price: Money, per_litre: f64) -> Result<Supply, RangeError> {
        match self {
            Pack::Liquid(pack) => Supply::concentrate(price, *pack, per_litre / 1000.0),
            Pack::Powder(grams) => Supply::powder(price, *grams, per_litre),
        }
    }
}

/// How a bath is used until it is poured away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Practice {
    /// Volume of a batch.
    pub batch: Millilitres,
    /// Fee for a litre of used bath.
    pub fee_per_litre: Money,
    /// Rolls that a litre stops, or 8x10 sheets of the kind at hand: a full load of one kind.
    pub capacity_per_litre: Option<Count>,
    /// Bath for one piece used once and thrown away.
    pub one_shot: Option<Millilitres>,
    /// Pieces a month, and days that a batch is kept whatever its load.
    pub pace: Option<Pace>,
}

/// How fast a batch is used, and how long it lasts unused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Pieces in a month of 30 days.
    pub per_month: Count,
    /// Days that a batch is kept.
    pub days_kept: Count,
}

/// Figures of [`expected`], in the currency of the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Expected {
    /// A litre, disposal included.
    pub per_litre: f64,
    /// A batch, disposal included.
    pub per_batch: f64,
    /// A piece when every batch is used up.
    pub per_piece: Option<f64>,
    /// Pieces that a batch sees at the pace told: its capacity, or what comes before it is too old.
    pub pieces_per_batch: Option<f64>,
    /// A piece at that pace.
    pub per_piece_at_pace: Option<f64>,
    /// A piece when the bath is used once.
    pub per_piece_one_shot: Option<f64>,
    /// Pieces that a pack makes, used up; used once.
    pub pieces_per_pack: (Option<f64>, Option<f64>),
}

/// Days in the month that [`Pace::per_month`] counts.
const MONTH: f64 = 30.0;

/// What bath and pieces cost when batches are used as told.
#[must_use]
pub fn expected(supply: &Supply, practice: &Practice) -> Expected {
    let per_litre = supply.per_litre() + practice.fee_per_litre.value();
    let per_batch = per_litre * practice.batch.litres();
    let capacity = practice.capacity_per_litre.map(Count::value).filter(|count| *count > 0.0);
    let full = capacity.map(|count| count * practice.batch.litres());
    let before_too_old = practice.pace.map(|pace| pace.per_month.value() * pace.days_kept.value() / MONTH);
    let seen = match (full, before_too_old) {
        (Some(full), Some(aged)) => Some(full.min(aged)),
        (None, aged) => aged,
        // Without a pace nothing is known but the full load, which has a figure of its own.
        (Some(_), None) => None,
    }
    .filter(|pieces| *pieces > 0.0);
    Expected {
        per_litre,
        per_batch,
        per_piece: capacity.map(|count| per_litre / count),
        pieces_per_batch: seen,
        // A batch that is mixed serves one piece at the least, or it would not have been mixed.
        per_piece_at_pace: seen.map(|pieces| per_batch / pieces.max(1.0)),
        per_piece_one_shot: practice.one_shot.map(|volume| per_litre * volume.litres()),
        pieces_per_pack: (capacity.map(|count| count * supply.litres()), practice.one_shot.map(|volume| supply.litres() / volume.litres())),
    }
}

/// What a period saw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Counts {
    /// Batches mixed, those thrown away unused included.
    pub batches: Count,
    /// Rolls stopped.
    pub rolls: Count,
    /// 8x10 sheets stopped, other sizes by their area.
    pub sheets: Count,
    /// Pupils or members who shared the cost.
    pub pupils: Count,
}

/// Figures of [`period`], in the currency of the price.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spent {
    /// Bath mixed, l.
    pub litres: f64,
    /// All that was spent: chemicals and disposal, waste included.
    pub total: f64,
    /// Of that the fee for disposal.
    pub fee: f64,
    /// A roll or 8x10 sheet, which have about the same area; none when nothing was stopped.
    pub per_piece: Option<f64>,
    /// A pupil; none when nobody was counted.
    pub per_pupil: Option<f64>,
}

/// What a period has cost.
#[must_use]
pub fn period(supply: &Supply, practice: &Practice, counts: &Counts) -> Spent {
    let litres = counts.batches.value() * practice.batch.litres();
    let fee = litres * practice.fee_per_litre.value();
    let total = litres * supply.per_litre() + fee;
    let each = |count: f64| (count > 0.0).then(|| total / count);
    Spent { litres, total, fee, per_piece: each(counts.rolls.value() + counts.sheets.value()), per_pupil: each(counts.pupils.value()) }
}

/// Area of the sheet that counts as one: 8 x 10 inches, square metres. A 135-36 or 120 roll has about the same.
pub const ONE_SHEET: f64 = 0.2032 * 0.254;

/// Sheets of another size as sheets of 8 x 10 inches, by area; sides in metres.
///
/// # Errors
/// [`RangeError`] when a side is not from 1 cm to 3 m, or the count too large.
pub fn as_sheets(count: Count, sides: (f64, f64)) -> Result<Count, RangeError> {
    for side in [sides.0, sides.1] {
        if !(0.01..=3.0).contains(&side) {
            return Err(RangeError { quantity: "side of a sheet in metres", value: side, low: 0.01, high: 3.0 });
        }
    }
    Count::new(count.value() * sides.0 * sides.1 / ONE_SHEET)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn money(value: f64) -> Money {
        Money::new(value).unwrap()
    }

    fn count(value: f64) -> Count {
        Count::new(value).unwrap()
    }

    fn volume(value: f64) -> Millilitres {
        Millilitres::new(value).unwrap()
    }

    fn practice() -> Practice {
        Practice {
            batch: volume(1000.0),
            fee_per_litre: money(0.0),
            capacity_per_litre: Some(count(15.0)),
            one_shot: Some(volume(300.0)),
            pace: None,
        }
    }

    fn pack(price: f64) -> Supply {
        Supply::concentrate(money(price), volume(500.0), 0.05).unwrap()
    }

    // Worked figures of the trade: 500 ml at 1+19 make 10 l, at 15 rolls a litre 150 rolls: price / 150. One-shot at 300 ml a roll: 33 rolls, price / 33.
    #[test]
    fn concentrate_reused_and_one_shot() {
        let all = expected(&pack(12.0), &practice());
        assert_abs_diff_eq!(pack(12.0).litres(), 10.0, epsilon = 1e-9);
        assert_abs_diff_eq!(all.per_piece.unwrap(), 12.0 / 150.0, epsilon = 1e-9);
        assert_abs_diff_eq!(all.per_piece_one_shot.unwrap(), 12.0 / (10.0 / 0.3), epsilon = 1e-9);
        assert_abs_diff_eq!(all.pieces_per_pack.0.unwrap(), 150.0, epsilon = 1e-9);
        assert_abs_diff_eq!(all.pieces_per_pack.1.unwrap().floor(), 33.0, epsilon = 1e-9);
    }

    // Powder: 15 g/l at 6 a kilogram is 0.09 a litre.
    #[test]
    fn powder_by_the_litre() {
        assert_abs_diff_eq!(Supply::powder(money(6.0), 1000.0, 15.0).unwrap().per_litre(), 0.09, epsilon = 1e-12);
        assert!(Supply::powder(money(6.0), 0.0, 15.0).is_err() && Supply::powder(money(6.0), 1000.0, f64::NAN).is_err());
    }

    #[test]
    fn fee_counts_for_every_litre() {
        let with_fee = Practice { fee_per_litre: money(2.0), ..practice() };
        let (without, with) = (expected(&pack(12.0), &practice()), expected(&pack(12.0), &with_fee));
        assert_abs_diff_eq!(with.per_litre - without.per_litre, 2.0, epsilon = 1e-12);
        assert_abs_diff_eq!(with.per_piece_one_shot.unwrap() - without.per_piece_one_shot.unwrap(), 0.6, epsilon = 1e-12);
    }

    // Four rolls a month and a fortnight's life: a litre sees 1.87 rolls, so each costs 1.2 / 1.87, more than 0.36 used once.
    #[test]
    fn seldom_used_baths_age_before_they_are_full() {
        let slow = Practice { pace: Some(Pace { per_month: count(4.0), days_kept: count(14.0) }), ..practice() };
        let all = expected(&pack(12.0), &slow);
        assert_abs_diff_eq!(all.per_piece_at_pace.unwrap(), 1.2 / (4.0 * 14.0 / 30.0), epsilon = 1e-12);
        assert!(all.per_piece_at_pace > all.per_piece_one_shot);
        let busy = Practice { pace: Some(Pace { per_month: count(60.0), days_kept: count(14.0) }), ..practice() };
        assert_abs_diff_eq!(expected(&pack(12.0), &busy).per_piece_at_pace.unwrap(), 0.08, epsilon = 1e-12);
        // Hardly ever used: a batch for one piece, not for a part of one.
        let rare = Practice { pace: Some(Pace { per_month: count(0.5), days_kept: count(14.0) }), ..practice() };
        assert_abs_diff_eq!(expected(&pack(12.0), &rare).per_piece_at_pace.unwrap(), 1.2, epsilon = 1e-12);
    }

    // A term: 12 batches of 2 l at 1.2 a litre and 0.5 for disposal, 180 sheets and 20 rolls, 20 pupils: 40.8 in all, 0.204 a piece, 2.04 a pupil.
    #[test]
    fn a_term_counts_waste_and_pupils() {
        let term = Practice { batch: volume(2000.0), fee_per_litre: money(0.5), ..practice() };
        let counts = Counts { batches: count(12.0), rolls: count(20.0), sheets: count(180.0), pupils: count(20.0) };
        let spent = period(&pack(12.0), &term, &counts);
        assert_abs_diff_eq!(spent.total, 40.8, epsilon = 1e-9);
        assert_abs_diff_eq!(spent.fee, 12.0, epsilon = 1e-9);
        assert_abs_diff_eq!(spent.per_piece.unwrap(), 0.204, epsilon = 1e-9);
        assert_abs_diff_eq!(spent.per_pupil.unwrap(), 2.04, epsilon = 1e-9);
        // Nothing stopped and nobody there: no figure, no division by nothing.
        let nothing = Counts { rolls: count(0.0), sheets: count(0.0), pupils: count(0.0), ..counts };
        assert_eq!((period(&pack(12.0), &term, &nothing).per_piece, period(&pack(12.0), &term, &nothing).per_pupil), (None, None));
    }

    // 8x10 inches are 0.0516 square metres (texts of the trade).
    #[test]
    fn one_sheet_has_its_area() {
        assert_abs_diff_eq!(ONE_SHEET, 0.0516, epsilon = 5e-5);
        // Four of 4x5 inches are one of 8x10.
        assert_abs_diff_eq!(as_sheets(count(4.0), (0.1016, 0.127)).unwrap().value(), 1.0, epsilon = 1e-12);
        assert!(as_sheets(count(4.0), (0.0, 0.1)).is_err());
    }
}
