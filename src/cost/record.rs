//! What recorded batches have cost: by batch, kind of piece and period, beside one-shot use. Only what a price is known of goes into a figure.

use crate::quantity::{Count, Millilitres, Money};

/// Pieces of one kind that went through a batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Kind {
    /// Its name, such as `135-36` or `8x10rc`.
    pub name: String,
    /// How many.
    pub count: f64,
    /// Area of one, in sheets of 8x10 inches, above 0; a roll is one.
    pub area: f64,
    /// True for a roll.
    pub is_roll: bool,
}

/// One batch.
#[derive(Debug, Clone, PartialEq)]
pub struct Batch {
    /// Bath mixed and poured in, l; water that was added costs nothing and does not count.
    pub litres: f64,
    /// What that cost, without disposal; none when no price is known.
    pub price: Option<Money>,
    /// What went through.
    pub kinds: Vec<Kind>,
}

impl Batch {
    /// What went through, in rolls or sheets of 8x10 inches.
    #[must_use]
    pub fn pieces(&self) -> f64 {
        self.kinds.iter().map(|kind| kind.count * kind.area).sum()
    }

    /// What it cost with disposal.
    fn cost(&self, fee_per_litre: Money) -> Option<f64> {
        self.price.map(|price| price.value() + self.litres * fee_per_litre.value())
    }
}

/// What one kind of piece cost.
#[derive(Debug, Clone, PartialEq)]
pub struct KindCost {
    /// Its name.
    pub name: String,
    /// How many went through batches of known price.
    pub count: f64,
    /// Their part of these batches, by area.
    pub cost: f64,
    /// True for a roll.
    pub is_roll: bool,
    /// Area of all, in sheets of 8x10 inches.
    area: f64,
}

impl KindCost {
    /// One piece.
    #[must_use]
    pub fn each(&self) -> f64 {
        self.cost / self.count
    }
}

/// The same pieces through bath that is used once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Once {
    /// Bath for a roll or 8x10 sheet.
    pub volume: Millilitres,
    /// A roll or 8x10 sheet.
    pub per_piece: f64,
    /// All of them.
    pub total: f64,
}

/// What batches have cost, in the currency of their prices. Batches without a price are in none of the figures.
#[derive(Debug, Clone, PartialEq)]
pub struct Costs {
    /// Batches with a price.
    pub batches: usize,
    /// Batches without one.
    pub unpriced: usize,
    /// Bath in batches with a price, l.
    pub litres: f64,
    /// Spent on them, disposal included.
    pub total: f64,
    /// Of that for disposal.
    pub fee: f64,
    /// What each kind of piece cost; a batch that stopped nothing is in the total alone.
    pub kinds: Vec<KindCost>,
    /// Rolls and 8x10 sheets, other sizes by area.
    pub pieces: f64,
    /// The same through bath used once; none when no volume was told or nothing went through.
    pub once: Option<Once>,
}

impl Costs {
    fn each(&self, amount: f64, of: f64) -> Option<f64> {
        (of > 0.0).then(|| amount / of)
    }

    /// A litre.
    #[must_use]
    pub fn per_litre(&self) -> Option<f64> {
        self.each(self.total, self.litres)
    }

    /// A batch.
    #[must_use]
    pub fn per_batch(&self) -> Option<f64> {
        self.each(self.total, self.batches as f64)
    }

    /// A roll or 8x10 sheet, batches that stopped nothing included.
    #[must_use]
    pub fn per_piece(&self) -> Option<f64> {
        self.each(self.total, self.pieces)
    }

    /// A roll, without batches that stopped nothing.
    #[must_use]
    pub fn per_roll(&self) -> Option<f64> {
        self.by_area(true)
    }

    /// A sheet of 8x10 inches, other sizes by area, without batches that stopped nothing.
    #[must_use]
    pub fn per_sheet(&self) -> Option<f64> {
        self.by_area(false)
    }

    fn by_area(&self, rolls: bool) -> Option<f64> {
        let of = self.kinds.iter().filter(|kind| kind.is_roll == rolls);
        let (cost, area) = of.fold((0.0, 0.0), |(cost, area), kind| (cost + kind.cost, area + kind.area));
        self.each(cost, area)
    }

    /// Bath that a roll or 8x10 sheet has taken, ml: one-shot use with less costs less.
    #[must_use]
    pub fn bath_per_piece(&self) -> Option<f64> {
        self.each(1000.0 * self.litres, self.pieces)
    }

    /// A pupil; none when nobody was counted.
    #[must_use]
    pub fn per_pupil(&self, pupils: Count) -> Option<f64> {
        self.each(self.total, pupils.value())
    }
}

/// What these batches have cost; `one_shot` is the bath for a roll or 8x10 sheet used once.
#[must_use]
pub fn costs(batches: &[Batch], fee_per_litre: Money, one_shot: Option<Millilitres>) -> Costs {
    let priced: Vec<(&Batch, f64)> = batches.iter().filter_map(|batch| Some((batch, batch.cost(fee_per_litre)?))).collect();
    let litres: f64 = priced.iter().map(|(batch, _)| batch.litres).sum();
    let total: f64 = priced.iter().map(|(_, cost)| cost).sum();
    let mut kinds: Vec<KindCost> = Vec::new();
    for (batch, cost) in &priced {
        let pieces = batch.pieces();
        for kind in batch.kinds.iter().filter(|kind| kind.count * kind.area > 0.0) {
            let area = kind.count * kind.area;
            let (count, cost) = (kind.count, cost * area / pieces);
            match kinds.iter_mut().find(|known| known.name == kind.name) {
                Some(known) => (known.count, known.cost, known.area) = (known.count + count, known.cost + cost, known.area + area),
                None => kinds.push(KindCost { name: kind.name.clone(), count, cost, is_roll: kind.is_roll, area }),
            }
        }
    }
    let pieces: f64 = kinds.iter().map(|kind| kind.area).sum();
    let once = one_shot.filter(|_| pieces > 0.0 && litres > 0.0).map(|volume| {
        let per_piece = total / litres * volume.litres();
        Once { volume, per_piece, total: pieces * per_piece }
    });
    let fee = litres * fee_per_litre.value();
    Costs { batches: priced.len(), unpriced: batches.len() - priced.len(), litres, total, fee, kinds, pieces, once }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn money(value: f64) -> Money {
        Money::new(value).unwrap()
    }

    fn kind(name: &str, count: f64, area: f64, is_roll: bool) -> Kind {
        Kind { name: name.to_owned(), count, area, is_roll }
    }

    fn batch(litres: f64, price: Option<f64>, kinds: Vec<Kind>) -> Batch {
        Batch { litres, price: price.map(money), kinds }
    }

    /// Film, paper of two sizes, one that stopped nothing, one of unknown price.
    fn term() -> Vec<Batch> {
        vec![
            batch(1.0, Some(1.2), vec![kind("135-36", 10.0, 1.0, true)]),
            batch(2.0, Some(0.6), vec![kind("8x10rc", 30.0, 1.0, false), kind("4x5rc", 40.0, 0.25, false)]),
            batch(2.0, Some(0.6), Vec::new()),
            batch(1.0, None, vec![kind("8x10rc", 5.0, 1.0, false)]),
        ]
    }

    // By hand: 1.2 + 0.6 + 0.6 = 2.4 for 5 l; a roll 1.2 / 10; a sheet of 8x10 0.6 / (30 + 10), one of 4x5 a quarter of it; a piece with waste 2.4 / 50.
    #[test]
    fn a_term_by_hand() {
        let costs = costs(&term(), money(0.0), Some(Millilitres::new(300.0).unwrap()));
        assert_eq!((costs.batches, costs.unpriced, costs.kinds.len()), (3, 1, 3));
        assert_abs_diff_eq!(costs.total, 2.4, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.per_batch().unwrap(), 0.8, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.per_roll().unwrap(), 0.12, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.per_sheet().unwrap(), 0.015, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.kinds[2].each(), 0.015 / 4.0, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.per_piece().unwrap(), 0.048, epsilon = 1e-12);
        // 5 l for 50 pieces: 100 ml each; 300 ml used once cost three times that.
        assert_abs_diff_eq!(costs.bath_per_piece().unwrap(), 100.0, epsilon = 1e-9);
        let once = costs.once.unwrap();
        assert_abs_diff_eq!(once.per_piece, 3.0 * 0.048, epsilon = 1e-12);
        assert_abs_diff_eq!(once.total, 7.2, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.per_pupil(Count::new(20.0).unwrap()).unwrap(), 0.12, epsilon = 1e-12);
    }

    // Half a unit of money a litre on 5 l of known price, not on the litre of unknown price.
    #[test]
    fn the_fee_is_paid_for_every_litre() {
        let costs = costs(&term(), money(0.5), None);
        assert_abs_diff_eq!(costs.fee, 2.5, epsilon = 1e-12);
        assert_abs_diff_eq!(costs.total, 4.9, epsilon = 1e-12);
        assert!(costs.once.is_none());
    }

    #[test]
    fn nothing_known_or_nothing_stopped_gives_no_figure() {
        let unknown = costs(&[batch(1.0, None, vec![kind("120", 3.0, 1.0, true)])], money(0.5), Some(Millilitres::new(300.0).unwrap()));
        assert_eq!((unknown.batches, unknown.per_litre(), unknown.per_piece(), unknown.once), (0, None, None, None));
        let unused = costs(&[batch(1.0, Some(1.0), Vec::new())], money(0.0), Some(Millilitres::new(300.0).unwrap()));
        assert_eq!((unused.per_piece(), unused.per_roll(), unused.per_sheet(), unused.bath_per_piece()), (None, None, None, None));
        assert_eq!((unused.per_batch(), unused.once, unused.per_pupil(Count::new(0.0).unwrap())), (Some(1.0), None, None));
    }
}
