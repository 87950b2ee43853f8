//! What is believed of a bath: weighted draws of all that is not known exactly, each followed through the record.

use super::life::{Life, LifeError};
use super::path::{Bath, Story};
use super::proposal::{Proposal, effective};
use super::unknowns::{Assumption, Spread};
use crate::quantity::Ph;

/// Draws of the last round: enough for a chance of 1 in 200 to rest on ten of them; below 1 in 1000 only the order of magnitude is known.
const DRAWS: usize = 2048;
/// Draws of the rounds before it.
const SCOUTS: usize = 768;
/// Share of the belief that must lie below the last look for it to contradict the count: then it is rather a slip than true, were every load written down.
const CONTRADICTED: f64 = 0.5;
/// Rounds before the last at most: each takes the evidence in more fully.
const ROUNDS: usize = 4;

/// A probability distribution over what is in the bath and what the next pieces will do to it.
#[derive(Debug, Clone)]
pub struct Belief {
    pub(super) story: Story,
    pub(super) draws: Vec<Draw>,
    is_contradicted: bool,
}

/// One way it may be.
#[derive(Debug, Clone)]
pub(super) struct Draw {
    /// The unknowns, standard normal before anything was seen.
    pub(super) unknowns: Vec<f64>,
    /// What is in the bath.
    pub(super) bath: Bath,
    /// Carry-over of each kind of piece, ml.
    pub(super) carry_overs: Vec<f64>,
    /// Litres of stated fresh bath that a litre of each developer spends.
    pub(super) appetites: Vec<f64>,
    /// Probability.
    pub(super) weight: f64,
}

/// Lower end of the 90 % interval, median, upper end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// 5 % of the probability lies below.
    pub low: f64,
    /// Half lies below.
    pub likely: f64,
    /// 5 % lies above.
    pub high: f64,
}

impl Belief {
    /// Follows a life under the limit where its bath is spent. Where the last look says that more is used than loads were written down for, what was written down does not count: a load is
    /// forgotten more easily than a wrong cup is read, and too early is the safe side.
    ///
    /// # Errors
    /// As [`Life::check`]; [`LifeError::Powerless`] when bath or developer cannot do what they are for; what the chemistry refuses.
    pub fn new(life: &Life, spent: Ph) -> Result<Self, LifeError> {
        let counted = Self::of(life, spent)?;
        if !life.counted || !counted.is_seen_further() {
            return Ok(counted);
        }
        let uncounted = Life { counted: false, ..life.clone() };
        Ok(Belief { is_contradicted: true, ..Self::of(&uncounted, spent)? })
    }

    /// True when the count does not count, because the last look says that more is used.
    #[must_use]
    pub fn is_contradicted(&self) -> bool {
        self.is_contradicted
    }

    /// True when the last look says so to most of the belief, which takes it for a slip then.
    fn is_seen_further(&self) -> bool {
        let is_so = |draw: &&Draw| self.story.is_seen_further(&draw.bath, &draw.unknowns, &draw.appetites);
        self.draws.iter().filter(is_so).map(|draw| draw.weight).sum::<f64>() > CONTRADICTED
    }

    fn of(life: &Life, spent: Ph) -> Result<Self, LifeError> {
        let story = Story::new(life, spent)?;
        let mut proposal = Proposal::prior(story.unknowns.count());
        for _ in 0..ROUNDS {
            let scouts = drawn(&story, &proposal, SCOUTS);
            let relative: Vec<(&[f64], f64)> = scouts.iter().map(|(draw, log)| (draw.unknowns.as_slice(), *log)).collect();
            let (next, whole) = Proposal::from(&relative);
            let enough = effective(scouts.iter().map(|(_, log)| log.exp())) > 0.3 * SCOUTS as f64;
            if enough && proposal.is_prior() {
                break;
            }
            proposal = next;
            if whole {
                break;
            }
        }
        let mut draws: Vec<Draw> =
            drawn(&story, &proposal, DRAWS).into_iter().map(|(draw, log)| Draw { weight: log.exp(), ..draw }).collect();
        let sum: f64 = draws.iter().map(|draw| draw.weight).sum();
        draws.iter_mut().for_each(|draw| draw.weight /= sum);
        Ok(Belief { story, draws, is_contradicted: false })
    }

    /// Share of the reserve that is used: 0 fresh, 1 at the spent limit, more when past it.
    #[must_use]
    pub fn used(&self) -> Range {
        self.range(|draw| draw.bath.used())
    }

    /// Share used by the record as it stands: every figure as stated, nothing seen.
    #[must_use]
    pub fn stated(&self) -> f64 {
        self.story.stated().used()
    }

    /// pH of the bath, as the chemistry has it.
    #[must_use]
    pub fn ph(&self) -> Range {
        self.range(|draw| self.story.curve.ph_at(draw.bath.used()))
    }

    /// Volume, litres.
    #[must_use]
    pub fn litres(&self) -> Range {
        self.range(|draw| draw.bath.litres)
    }

    /// Probability that the share used is at least this.
    #[must_use]
    pub fn chance_used(&self, at_least: f64) -> f64 {
        self.draws.iter().filter(|draw| draw.bath.used() >= at_least).map(|draw| draw.weight).sum()
    }

    /// Share used, if it is known to be from `low` to below `high`; the whole belief where nothing of it lies there.
    #[must_use]
    pub fn used_within(&self, low: f64, high: f64) -> Range {
        let inside: Vec<(f64, f64)> =
            self.sorted(|draw| draw.bath.used()).into_iter().filter(|(used, _)| (low..high).contains(used)).collect();
        let sum: f64 = inside.iter().map(|(_, weight)| weight).sum();
        if sum <= 0.0 {
            return self.used();
        }
        let at = |share: f64| quantile(&inside, share * sum);
        Range { low: at(0.05), likely: at(0.5), high: at(0.95) }
    }

    /// Share used at which the bath has this pH.
    #[must_use]
    pub fn used_at(&self, ph: Ph) -> f64 {
        self.story.curve.used_at(ph.value())
    }

    /// All unknowns of this life.
    #[must_use]
    pub fn assumptions(&self) -> &[Assumption] {
        &self.story.unknowns.list
    }

    /// The 90 % interval and median of something that each draw has.
    pub(super) fn range(&self, of: impl Fn(&Draw) -> f64) -> Range {
        let sorted = self.sorted(of);
        Range { low: quantile(&sorted, 0.05), likely: quantile(&sorted, 0.5), high: quantile(&sorted, 0.95) }
    }

    /// Values with their weights, rising.
    pub(super) fn sorted(&self, of: impl Fn(&Draw) -> f64) -> Vec<(f64, f64)> {
        let mut values: Vec<(f64, f64)> = self.draws.iter().map(|draw| (of(draw), draw.weight)).collect();
        values.sort_by(|a, b| a.0.total_cmp(&b.0));
        values
    }

    /// Share of the variance of something that a straight line in each unknown explains, in their order.
    pub(super) fn explained(&self, of: impl Fn(&Draw) -> f64) -> Vec<f64> {
        let moments = |f: &dyn Fn(&Draw) -> f64| {
            let mean: f64 = self.draws.iter().map(|draw| draw.weight * f(draw)).sum();
            let variance: f64 = self.draws.iter().map(|draw| draw.weight * (f(draw) - mean).powi(2)).sum();
            (mean, variance)
        };
        let (mean, variance) = moments(&of);
        (0..self.story.unknowns.count())
            .map(|axis| {
                let (center, width) = moments(&|draw| draw.unknowns[axis]);
                let joint: f64 = self.draws.iter().map(|draw| draw.weight * (of(draw) - mean) * (draw.unknowns[axis] - center)).sum();
                if variance * width > 0.0 { joint * joint / (variance * width) } else { 0.0 }
            })
            .collect()
    }
}

/// The value below which this share of the weight lies; weights sum to 1.
pub(super) fn quantile(sorted: &[(f64, f64)], share: f64) -> f64 {
    let mut below = 0.0;
    for (value, weight) in sorted {
        below += weight;
        if below >= share {
            return *value;
        }
    }
    sorted.last().map_or(f64::NAN, |(value, _)| *value)
}

/// Draws with the log of what corrects for where they were drawn, the largest 0.
fn drawn(story: &Story, proposal: &Proposal, count: usize) -> Vec<(Draw, f64)> {
    let spread = Spread::new(proposal.mean.len() + 1);
    let mut all: Vec<(Draw, f64)> = (0..count)
        .map(|i| {
            let unknowns = proposal.draw(spread.point(i));
            let followed = story.follow(&unknowns, i);
            let log = followed.log - proposal.log_ratio(&unknowns);
            let draw =
                Draw { unknowns, bath: followed.bath, carry_overs: followed.carry_overs, appetites: followed.appetites, weight: 0.0 };
            (draw, log)
        })
        .collect();
    let most = all.iter().map(|(_, log)| *log).fold(f64::MIN, f64::max);
    all.iter_mut().for_each(|(_, log)| *log -= most);
    all
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, SHEETS, citric, exact, load, ph, photographed, read, yellow};
    use super::super::life::{Change, DropTest, Reading};
    use super::*;
    use approx::assert_abs_diff_eq;

    fn believed(life: &Life) -> Belief {
        Belief::new(life, ph(5.5)).unwrap()
    }

    fn used(life: &Life) -> Range {
        believed(life).used()
    }

    // By hand, with x = litres carried over per litre, every figure exact: used = appetite (e^x - 1), so that the pieces left and those that went through add up to the capacity
    // ln(1 + 1/appetite) / carry-over; scatter from piece to piece is all that blurs it.
    #[test]
    fn exact_figures_add_up() {
        let fresh = believed(&exact()).left(ROLLS).pieces;
        assert_abs_diff_eq!(fresh.low, fresh.high, epsilon = 1e-9);
        let after = believed(&exact().with(load(10.0, ROLLS)));
        let left = after.left(ROLLS).pieces;
        assert_abs_diff_eq!(left.likely, fresh.likely - 10.0, epsilon = 0.5);
        let capacity = fresh.likely * 10.0 / 1000.0;
        let wanted = (0.1f64.exp() - 1.0) / (capacity.exp() - 1.0);
        assert_abs_diff_eq!(after.used().likely, wanted, epsilon = 0.01);
        // Cut into two sessions it is the same.
        let twice = used(&exact().with(load(5.0, ROLLS)).with(load(5.0, ROLLS)));
        assert_abs_diff_eq!(twice.likely, after.used().likely, epsilon = 0.01);
    }

    // What photos of an unturned dye say is half prior: taken for a likelihood, twelve of them counted it twelve times and made half of a bath out of a tenth.
    #[test]
    fn yellow_photos_do_not_use_a_bath_up() {
        let fresh = citric().with(load(4.0, ROLLS));
        let counted = used(&fresh);
        let photos = (0..12).fold(fresh, |life, _| life.with(photographed(4.28, (2.49, 4.87))));
        let seen = used(&photos);
        assert!(seen.likely < 1.1 * counted.likely && seen.high < 1.1 * counted.high, "{counted:?} {seen:?}");
    }

    // The same reading says more of a bath whose dye was read lower while nothing had gone through, and less where it was read as high then.
    #[test]
    fn a_fresh_bath_shows_how_far_off_its_readings_are() {
        let now = photographed(5.0, (4.1, 5.35));
        let after = |fresh: Change| {
            used(&citric().with(fresh.clone()).with(fresh.clone()).with(fresh).with(load(14.0, ROLLS)).with(now.clone())).likely
        };
        let (low, high) = (after(photographed(4.1, (2.4, 4.65))), after(photographed(4.85, (3.4, 5.25))));
        assert!(low > 1.1 * high, "{low} {high}");
    }

    // Worked by hand in the notes of the trade for pH 5.2, without salt: 30 rolls in film developer 1+1 at 10 ml, 77 sheets RC at 3 ml in paper developer 1+2. Salt, and
    // the limit of 5.5, let the bath take some more.
    #[test]
    fn a_fresh_litre_takes_what_the_trade_says() {
        let belief = Belief::new(&exact(), ph(5.2)).unwrap();
        let (rolls, sheets) = (belief.left(ROLLS).pieces.likely, belief.left(SHEETS).pieces.likely);
        assert!((30.0..36.0).contains(&rolls), "{rolls}");
        assert!((77.0..92.0).contains(&sheets), "{sheets}");
        assert!(believed(&exact()).left(ROLLS).pieces.likely > rolls);
    }

    // Independent normal errors of 0.4 twice and 0.05 in the logarithm: 0.568 together, so 90 % within a factor of 2.55. The share used is nearly proportional at small loads.
    #[test]
    fn a_count_alone_is_as_wide_as_its_assumptions() {
        let range = used(&citric().with(load(5.0, ROLLS)));
        assert_abs_diff_eq!((range.high / range.likely).ln(), 0.934, epsilon = 0.06);
        assert_abs_diff_eq!((range.likely / range.low).ln(), 0.934, epsilon = 0.06);
    }

    // One roll, every figure exact: what is left is the scatter from roll to roll, 0.25 in the logarithm, so 90 % within a factor of 1.51.
    #[test]
    fn one_roll_is_as_wide_as_rolls_differ() {
        let range = used(&exact().with(load(1.0, ROLLS)));
        assert_abs_diff_eq!((range.high / range.likely).ln(), 1.645 * 0.25, epsilon = 0.05);
        assert_abs_diff_eq!((range.likely / range.low).ln(), 1.645 * 0.25, epsilon = 0.05);
    }

    // Of a straight line in one unknown that unknown explains all, and the others, drawn apart from it, next to nothing; what does not vary needs no explaining.
    #[test]
    fn an_unknown_explains_what_follows_from_it() {
        let belief = believed(&citric().with(load(5.0, ROLLS)));
        for axis in 0..belief.assumptions().len() {
            for (i, part) in belief.explained(|draw| 3.0 - 0.5 * draw.unknowns[axis]).into_iter().enumerate() {
                assert_abs_diff_eq!(part, if i == axis { 1.0 } else { 0.0 }, epsilon = 0.02);
            }
        }
        assert!(belief.explained(|_| 0.0).iter().all(|part| part.abs() < 1e-12));
    }

    // A developer that brought nine tenths of the alkali shapes the curve as if there were no other.
    #[test]
    fn the_curve_is_that_of_the_developer_that_prevails() {
        let mut one = citric();
        one.developers.truncate(1);
        let curve = |life: Life| [3.5, 4.5, 5.2].map(|at| believed(&life).used_at(ph(at)));
        let (alone, prevailing) = (curve(one.with(load(5.0, ROLLS))), curve(citric().with(load(5.0, ROLLS))));
        let even = curve(citric().with(load(5.0, ROLLS)).with(load(20.0, SHEETS)));
        for i in 0..3 {
            assert_abs_diff_eq!(prevailing[i], alone[i], epsilon = 1e-9);
            assert!((even[i] - alone[i]).abs() > 1e-3, "{even:?} {alone:?}");
        }
    }

    // The same volumes in half as many pieces that carry twice as much; and another acid filled in bends the curve as well.
    #[test]
    fn the_curve_is_that_of_the_volumes_that_came_together() {
        let curve = |life: &Life| [3.5, 4.5, 5.2].map(|at| believed(life).used_at(ph(at)));
        let life = |share: f64| {
            let mut life = citric();
            life.pieces.iter_mut().for_each(|piece| piece.carry_over /= share);
            life.with(load(5.0 * share, ROLLS)).with(load(20.0 * share, SHEETS))
        };
        let (whole, half) = (curve(&life(1.0)), curve(&life(0.5)));
        let liquid = crate::chemistry::bath::powdered(crate::chemistry::powder::find("acetic-acid").unwrap(), 17.0);
        let topped = curve(&citric().with(load(5.0, ROLLS)).with(Change::TopUp { litres: 1.0, liquid }));
        let plain = curve(&citric().with(load(5.0, ROLLS)));
        for i in 0..3 {
            assert_abs_diff_eq!(whole[i], half[i], epsilon = 1e-9);
            assert!((topped[i] - plain[i]).abs() > 1e-3, "{topped:?} {plain:?}");
        }
    }

    #[test]
    fn within_all_there_is_lies_the_whole_belief() {
        let belief = believed(&citric().with(load(5.0, ROLLS)));
        let (all, used) = (belief.used_within(0.0, f64::INFINITY), belief.used());
        assert_abs_diff_eq!(all.low, used.low, epsilon = 1e-9);
        assert_abs_diff_eq!(all.likely, used.likely, epsilon = 1e-9);
        assert_abs_diff_eq!(all.high, used.high, epsilon = 1e-9);
        // Half of what lies below the median lies below its quarter.
        let lower = belief.used_within(0.0, used.likely);
        assert_abs_diff_eq!(lower.likely, quantile(&belief.sorted(|draw| draw.bath.used()), 0.25), epsilon = 2e-3);
    }

    #[test]
    fn more_load_never_leaves_more() {
        let mut before: Option<(Range, Range)> = None;
        for count in [0.0, 1.0, 3.0, 8.0, 15.0, 25.0, 40.0] {
            let belief = believed(&citric().with(load(3.0, SHEETS)).with(load(count, ROLLS)));
            let (used, left) = (belief.used(), belief.left(ROLLS).pieces);
            if let Some((used_before, left_before)) = before {
                assert!(used.low >= used_before.low && used.likely > used_before.likely && used.high > used_before.high);
                assert!(left.low <= left_before.low && left.likely <= left_before.likely && left.high <= left_before.high);
            }
            before = Some((used, left));
        }
    }

    #[test]
    fn what_is_seen_moves_the_belief_its_own_way() {
        for count in [2.0, 10.0, 20.0, 30.0] {
            let plain = citric().with(load(count, ROLLS));
            let (alone, safe, spent) = (used(&plain), used(&plain.clone().with(yellow())), used(&plain.clone().with(read(6.5))));
            assert!(safe.likely <= alone.likely + 1e-3 && safe.high <= alone.high + 1e-3, "{count}");
            assert!(spent.likely >= alone.likely - 1e-3 && spent.low >= alone.low - 1e-3, "{count}");
            // "Above 6", with the other side open, makes a spent bath likelier, never less so.
            let above = Change::Reading(Reading { low: Some(ph(6.0)), ..Reading::default() });
            assert!(believed(&plain.clone().with(above)).chance_used(1.0) >= believed(&plain).chance_used(1.0) - 1e-3);
        }
    }

    // A reading in the turn makes the multiplier known: the same load again takes what it took before, within the reading's own doubt.
    #[test]
    fn a_turn_teaches_what_a_roll_costs() {
        let life = citric().with(load(15.0, ROLLS)).with(read(5.2));
        let belief = believed(&life);
        let (now, capacity) = (belief.used(), belief.left(ROLLS).pieces.likely + 15.0);
        assert!(now.high / now.low < 1.35, "{now:?}");
        assert!((15.0..20.0).contains(&capacity), "{capacity}");
        // Still yellow after twice the likely capacity teaches the other way.
        let tough = believed(&citric().with(load(60.0, ROLLS)).with(yellow()));
        assert!(tough.used().likely < 0.9 && tough.left(ROLLS).pieces.likely > 5.0);
    }

    #[test]
    fn one_slip_of_the_pen_is_outvoted() {
        let mut life = citric();
        for _ in 0..4 {
            life = life.with(load(1.0, ROLLS)).with(yellow());
        }
        let sound = used(&life);
        let slipped = used(&life.clone().with(read(7.5)).with(yellow()).with(yellow()));
        assert!(slipped.likely < sound.likely + 0.1, "{slipped:?} {sound:?}");
    }

    // Half the bath spilt: the share used stays, what is left halves. Evaporation of a fifth changes neither.
    #[test]
    fn volume_and_strength_are_kept_apart() {
        let plain = citric().with(load(8.0, ROLLS));
        let of = |life: &Life| (used(life).likely, believed(life).left(ROLLS).pieces.likely);
        let (before, left) = of(&plain);
        let (spilt, half) = of(&plain.clone().with(Change::Lost { litres: 0.5 }));
        assert_abs_diff_eq!(spilt, before, epsilon = 1e-9);
        assert_abs_diff_eq!(half, 0.5 * left, epsilon = 1e-6);
        let (dried, still) = of(&plain.clone().with(Change::VolumeIs { litres: 0.8 }));
        assert_abs_diff_eq!(dried, before, epsilon = 1e-9);
        assert!((0.9..1.0).contains(&(still / left)), "{still} {left}");
        let (watered, _) = of(&plain.clone().with(Change::Water { litres: 0.2 }));
        assert_abs_diff_eq!(watered, before, epsilon = 1e-9);
        // A top-up of fresh bath brings reserve, not youth.
        let (topped, more) = of(&plain.clone().with(Change::TopUp { litres: 0.5, liquid: citric().fresh }));
        assert!(topped < before && more > left);
    }

    // By hand: a fresh bath whose test takes what the chemistry says leaves the developer's strength as stated; half of it says that the developer is twice as strong.
    #[test]
    fn drops_teach_the_strength_of_the_developer() {
        let belief = believed(&exact());
        let millilitres = 10.0 * belief.story.curve.used_at(6.0) / belief.story.appetite[0];
        let test = |used: f64| Change::DropTest(DropTest { developer: 0, bath: 10.0, used, turn: ph(6.0) });
        let capacity = |change: Change| believed(&citric().with(change)).left(ROLLS).pieces;
        let plain = believed(&citric()).left(ROLLS).pieces;
        let (as_stated, strong) = (capacity(test(millilitres)), capacity(test(0.5 * millilitres)));
        assert!((0.9..1.1).contains(&(as_stated.likely / plain.likely)), "{as_stated:?} {plain:?}");
        assert!(as_stated.high / as_stated.low < 0.8 * plain.high / plain.low);
        assert!((0.45..0.65).contains(&(strong.likely / plain.likely)), "{strong:?}");
    }

    // Ten times what the chemistry says is nobody's developer: such a test went wrong, and what was stated stays likelier.
    #[test]
    fn a_drop_test_gone_wrong_is_outvoted() {
        let belief = believed(&exact());
        let used = 10.0 * 10.0 * belief.story.curve.used_at(6.0) / belief.story.appetite[0];
        let slip = Change::DropTest(DropTest { developer: 0, bath: 10.0, used, turn: ph(6.0) });
        let left = |life: &Life| believed(life).left(ROLLS).pieces.likely;
        assert_abs_diff_eq!(left(&citric().with(slip)) / left(&citric()), 1.0, epsilon = 0.1);
    }

    // Twice the bath and twice the load come to the same.
    #[test]
    fn a_larger_bath_takes_more() {
        let (one, mut two) = (exact().with(load(5.0, ROLLS)), exact().with(load(10.0, ROLLS)));
        two.litres = 2.0;
        assert_abs_diff_eq!(used(&one).likely, used(&two).likely, epsilon = 0.01);
        assert_abs_diff_eq!(2.0 * believed(&one).left(ROLLS).pieces.likely, believed(&two).left(ROLLS).pieces.likely, epsilon = 0.5);
    }

    #[test]
    fn a_photo_without_a_record_is_wide_but_not_silent() {
        let mut life = citric().with(yellow());
        life.counted = false;
        let range = used(&life);
        assert!(range.low < 0.1 && (0.7..1.0).contains(&range.high), "{range:?}");
        let turned = used(&Life { steps: vec![], ..life.clone() }.with(read(5.6)));
        assert!(turned.low > 0.85 && turned.high < 1.2, "{turned:?}");
        // What came after it counts.
        assert!(used(&life.with(load(10.0, ROLLS))).likely > range.likely + 0.1);
    }

    // A mixture of developers has a curve of its own between the two; the belief must not jump when the second comes in.
    #[test]
    fn film_and_paper_in_one_bath_add_up() {
        let both = used(&exact().with(load(10.0, ROLLS)).with(load(25.0, SHEETS)));
        let (film, paper) = (used(&exact().with(load(10.0, ROLLS))), used(&exact().with(load(25.0, SHEETS))));
        assert!(both.likely > film.likely + paper.likely && both.likely < 1.15 * (film.likely + paper.likely));
        let seen = used(&exact().with(load(10.0, ROLLS)).with(load(25.0, SHEETS)).with(yellow()));
        assert_abs_diff_eq!(seen.likely, both.likely, epsilon = 0.05);
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let new = |life: &Life| Belief::new(life, ph(5.5));
        assert!(matches!(new(&citric().with(load(-1.0, ROLLS))), Err(LifeError::Figure { .. })));
        let missing = super::super::forecast::Kind { piece: 5, developer: 0 };
        assert!(matches!(new(&citric().with(load(1.0, missing))), Err(LifeError::Missing { index: 5, .. })));
        let mut dry = citric();
        dry.litres = 0.0;
        assert!(matches!(new(&dry), Err(LifeError::Figure { .. })));
        // Nothing but readings that say nothing is no harm.
        assert!(new(&citric().with(Change::Reading(Reading::default()))).is_ok());
        // Nor is a bath spilt to the dregs, or loaded past all reason.
        assert!(new(&citric().with(Change::Lost { litres: 5.0 }).with(load(2000.0, SHEETS))).unwrap().used().likely.is_finite());
    }
}
