//! What may come of a bath: whether to replace it now, or to run one more session and look again.

use super::belief::{Belief, Draw};
use super::forecast::{Kind, pieces};
use super::normal;

/// Reserve that may be thrown away of a bath that counts as used up, in fresh baths: there a dye that is fit for the limit has begun to turn, and no more can be aimed at.
const REST: f64 = 0.2;
/// A dye that is fit for a limit begins to turn so far below it, pH: bromocresol purple shows 1 part in 20 at 4.85, for the usual limit of 5.5.
const FOOT: f64 = 0.65;
/// Standard deviation of where that is seen, pH, without the error that all readings share.
const FOOT_SPREAD: f64 = 0.1;
/// What is not known of the error that all readings share blurs that by so much, pH, for each of its standard deviations. Chosen on seed 11 of `cargo bench --bench lives`: it states 0.3,
/// but looks to come tell more of it, and with 0.3 half of a bath was thrown away.
const FOOT_SHARED: f64 = 0.1;
/// Sessions that are looked ahead at most: with 8 a film bath is given up earlier, more than 24 change little.
const HORIZON: usize = 24;
/// No further session is looked at once draws of this probability are spent.
const MOST_SPENT: f64 = 0.98;
/// Neighbouring draws that are taken together: a quarter of the work.
const TOGETHER: usize = 4;
/// Chance of passing the limit in a session that is too small to be weighed: the draws do not tell it.
const NEGLIGIBLE: f64 = 1e-4;
/// Numbers of pieces that are tried for the last session of a bath, evenly from none to a whole one.
const TRIED: usize = 6;

/// What is to be decided.
#[derive(Debug, Clone, Copy)]
pub(super) struct Plan {
    /// Pieces of the session.
    pub(super) session: f64,
    /// Pieces of those to come.
    pub(super) usual: f64,
    /// What a bath that passes the limit costs, in baths used up.
    pub(super) failure: f64,
}

/// Pieces of the session that are worth most: all of it when the bath goes on, fewer when it is replaced after them.
///
/// Draws that are spent already do not count: whatever is decided changes nothing there.
pub(super) fn best(belief: &Belief, kind: Kind, plan: Plan) -> f64 {
    let with_left = belief.draws.iter().map(|draw| (pieces(draw, kind), draw));
    let mut draws: Vec<(f64, &Draw)> = with_left.filter(|(left, draw)| *left > 0.0 && draw.weight > 0.0).collect();
    draws.sort_by(|a, b| a.0.total_cmp(&b.0));
    let whole: f64 = draws.iter().map(|(_, draw)| draw.weight).sum();
    let spent = |count: f64| draws.iter().take_while(|(left, _)| *left <= count).map(|(_, draw)| draw.weight).sum::<f64>() / whole;
    if spent(plan.session) < NEGLIGIBLE {
        return plan.session;
    }
    let mut looks = vec![0.0, plan.session];
    while let Some(count) = looks.last().copied().filter(|count| looks.len() <= HORIZON && spent(*count) < MOST_SPENT) {
        looks.push(count + plan.usual.max(1.0));
    }
    let ahead = Ahead::new(belief, kind, plan, &draws, looks);
    let fewer: Vec<f64> = (0..plan.session.ceil() as usize).map(|count| count as f64).collect();
    let (last, ended) = ahead.end(&ahead.seen(0, 0), 0.0, &fewer);
    if ahead.go_on() >= ended { plan.session } else { last }
}

/// A few draws that are alike.
#[derive(Debug, Clone, Copy)]
struct Prospect {
    /// Pieces from now until the limit.
    left: f64,
    /// Pieces from now until no more than [`REST`] would be thrown away.
    enough: f64,
}

/// All that may be seen before each session to come.
struct Ahead {
    failure: f64,
    /// Chance that a look tells something before a session.
    read: f64,
    /// Numbers of pieces tried for a last session.
    tried: Vec<f64>,
    /// Pieces from now until each look; the first is now.
    looks: Vec<f64>,
    /// By pieces left, rising.
    prospects: Vec<Prospect>,
    /// Probability of each draw.
    weights: Vec<f64>,
    /// For each look and draw the chance that the dye has not turned.
    unturned: Vec<Vec<f64>>,
}

impl Ahead {
    fn new(belief: &Belief, kind: Kind, plan: Plan, draws: &[(f64, &Draw)], looks: Vec<f64>) -> Self {
        let foot = belief.story.curve.ph_at(1.0) - FOOT;
        // What is believed of the readers' error by then is allowed for by whoever looks; what is not known of it blurs what is seen.
        let error = |draw: &Draw| belief.story.unknowns.shared(&draw.unknowns).at_foot();
        let whole: f64 = draws.iter().map(|(_, draw)| draw.weight).sum();
        let known = draws.iter().map(|(_, draw)| draw.weight * error(draw)).sum::<f64>() / whole;
        let unturned = |left: f64, draw: &Draw, count: f64| {
            let ph = belief.story.curve.ph_at(used(draw, kind, count)) + FOOT_SHARED * (error(draw) - known);
            if count < left { normal::below((foot - ph) / FOOT_SPREAD) } else { 0.0 }
        };
        let prospects = draws.chunks(TOGETHER).map(|alike| {
            let whole: f64 = alike.iter().map(|(_, draw)| draw.weight).sum();
            let mean = |of: &dyn Fn(f64, &Draw) -> f64| alike.iter().map(|(left, draw)| draw.weight * of(*left, draw)).sum::<f64>() / whole;
            Prospect { left: mean(&|left, _| left), enough: mean(&|_, draw| enough(draw, kind)) }
        });
        Ahead {
            failure: plan.failure,
            read: belief.story.read,
            tried: (0..TRIED).map(|i| (plan.usual - 1.0).max(0.0) * i as f64 / (TRIED - 1) as f64).collect(),
            prospects: prospects.collect(),
            weights: draws.iter().map(|(_, draw)| draw.weight).collect(),
            unturned: looks.iter().map(|count| draws.iter().map(|(left, draw)| unturned(*left, draw, *count)).collect()).collect(),
            looks,
        }
    }

    /// Probability of each prospect together with a dye seen unturned at these looks; at the first nothing new is seen.
    fn seen(&self, one: usize, other: usize) -> Vec<f64> {
        let chance = |look: usize, i: usize| if look == 0 { 1.0 } else { self.unturned[look][i] };
        let weights: Vec<f64> = self.weights.iter().enumerate().map(|(i, weight)| weight * chance(one, i) * chance(other, i)).collect();
        weights.chunks(TOGETHER).map(|alike| alike.iter().sum()).collect()
    }

    /// The first prospect that is not spent after so many pieces.
    fn first(&self, count: f64) -> usize {
        self.prospects.partition_point(|prospect| prospect.left <= count)
    }

    /// Probability of not being spent after so many pieces.
    fn alive(&self, weights: &[f64], count: f64) -> f64 {
        weights[self.first(count)..].iter().sum()
    }

    /// The best of these numbers of pieces to replace the bath after, `from` having gone through, and its worth: the chance that enough is used, less what passing costs.
    fn end(&self, weights: &[f64], from: f64, tried: &[f64]) -> (f64, f64) {
        let first = self.first(from);
        let worth = |count: f64| -> f64 {
            let each = |(prospect, weight): (&Prospect, &f64)| match () {
                () if prospect.left <= count => -self.failure * weight,
                () if prospect.enough <= count => *weight,
                () => 0.0,
            };
            self.prospects[first..].iter().zip(&weights[first..]).map(each).sum()
        };
        // The most pieces of those that are worth the same.
        tried
            .iter()
            .map(|count| (*count, worth(from + count)))
            .fold((0.0, f64::NEG_INFINITY), |best, new| if new.1 >= best.1 { new } else { best })
    }

    /// Worth of the whole session, worked out from the last look backwards.
    ///
    /// Before each session to come one knows at which look the dye was last seen unturned, and that nothing was read since; earlier looks add little to that. Once it
    /// is seen turned, the bath ends with a part of a session at most.
    fn go_on(&self) -> f64 {
        let last = self.looks.len() - 1;
        let known: Vec<Vec<f64>> = (0..=last).map(|look| self.seen(look, 0)).collect();
        let ended = |weights: &[f64], look: usize| self.end(weights, self.looks[look], &self.tried).1;
        // Worth given that, and given that the bath is not spent.
        let given = |worth: f64, weights: &[f64], look: usize| worth / self.alive(weights, self.looks[look]).max(f64::MIN_POSITIVE);
        let mut worths: Vec<f64> = known.iter().map(|weights| given(ended(weights, last), weights, last).max(0.0)).collect();
        let on = |worths: &[f64], look: usize, unturned_at: usize| {
            let weights = &known[unturned_at];
            let (before, after) = (self.alive(weights, self.looks[look]), self.alive(weights, self.looks[look + 1]));
            let unturned = self.seen(unturned_at, look + 1);
            let turned: Vec<f64> = weights.iter().zip(&unturned).map(|(all, unturned)| all - unturned).collect();
            let read = ended(&turned, look + 1) + self.alive(&unturned, self.looks[look + 1]) * worths[look + 1];
            self.read * read + (1.0 - self.read) * after * worths[unturned_at] - self.failure * (before - after)
        };
        for look in (1..last).rev() {
            let best = |unturned_at: usize| on(&worths, look, unturned_at).max(ended(&known[unturned_at], look));
            worths = (0..=look).map(|unturned_at| given(best(unturned_at), &known[unturned_at], look)).collect();
        }
        on(&worths, 0, 0)
    }
}

/// Share used after so many more pieces.
fn used(draw: &Draw, kind: Kind, count: f64) -> f64 {
    let per_litre = count / 1000.0 * draw.carry_overs[kind.piece] / draw.bath.litres;
    draw.bath.used() + draw.appetites[kind.developer] / draw.bath.acid * per_litre.exp_m1()
}

/// Pieces until no more than [`REST`] is left, 0 when it is so already.
fn enough(draw: &Draw, kind: Kind) -> f64 {
    let appetite = draw.appetites[kind.developer];
    let per_litre = ((draw.bath.acid - draw.bath.alkali + appetite) / (REST + appetite)).ln().max(0.0);
    1000.0 * draw.bath.litres * per_litre / draw.carry_overs[kind.piece]
}

#[cfg(test)]
mod tests {
    use super::super::example::{ROLLS, citric, exact, load, ph, read, yellow};
    use super::super::life::Life;
    use super::*;
    use approx::assert_abs_diff_eq;

    fn believed(life: &Life) -> Belief {
        Belief::new(life, ph(5.5)).unwrap()
    }

    fn ahead(prospects: Vec<Prospect>, weights: Vec<f64>, failure: f64) -> Ahead {
        let weights = weights.into_iter().flat_map(|weight| [weight / TOGETHER as f64; TOGETHER]).collect();
        Ahead { failure, read: 0.7, tried: vec![0.0], looks: vec![0.0], prospects, weights, unturned: vec![] }
    }

    // What has gone through and what is left agree: after `enough` pieces a fifth of the fresh reserve is there, after all that are left none.
    #[test]
    fn enough_leaves_a_fifth() {
        let fresh = believed(&exact());
        let (draw, left) = (&fresh.draws[0], pieces(&fresh.draws[0], ROLLS));
        assert_abs_diff_eq!(used(draw, ROLLS, 0.0), 0.0);
        assert_abs_diff_eq!(used(draw, ROLLS, left), 1.0, epsilon = 1e-9);
        // What is left shrinks with the acid carried out as well: 0.2 = exp(-x) (1 - used).
        let count = enough(draw, ROLLS);
        assert_abs_diff_eq!((-count / 100.0).exp() * (1.0 - used(draw, ROLLS, count)), 0.2, epsilon = 1e-9);
    }

    // By hand: one bath in ten takes 4 pieces, and 2 are enough for it; the others take 10, and 5 are enough. Where passing costs 2, 5 to 9 pieces gain 0.9 - 0.2; where
    // it costs 10, they gain 0.9 - 1, and 2 or 3 pieces, which serve the weak bath, gain 0.1.
    #[test]
    fn the_end_is_where_most_is_gained() {
        let tried: Vec<f64> = (0..12).map(f64::from).collect();
        let end = |failure| {
            let two = vec![Prospect { left: 4.0, enough: 2.0 }, Prospect { left: 10.0, enough: 5.0 }];
            let ahead = ahead(two, vec![0.1, 0.9], failure);
            ahead.end(&ahead.seen(0, 0), 0.0, &tried)
        };
        let (cheap, dear) = (end(2.0), end(10.0));
        assert_abs_diff_eq!(cheap.0, 9.0);
        assert_abs_diff_eq!(cheap.1, 0.7, epsilon = 1e-12);
        assert_abs_diff_eq!(dear.0, 3.0);
        assert_abs_diff_eq!(dear.1, 0.1, epsilon = 1e-12);
    }

    // By hand: one bath in four takes 3 pieces (1 is enough), the others 6 (4 are enough); looks are two pieces apart, the weak bath is turned at the first, the strong one in
    // 1 of 5, and in half of the cases at the second. At the second look all that lives has had enough: worth 1. At the first, with nothing seen since the beginning, one stops for
    // the weak bath: 0.25; with the dye unturned it is the strong one: 1. Now: 0.7 (0.25 + 0.6) with a reading, 0.3 x 0.25 without.
    #[test]
    fn going_on_is_worth_what_the_looks_to_come_are() {
        let two = vec![Prospect { left: 3.0, enough: 1.0 }, Prospect { left: 6.0, enough: 4.0 }];
        let each = |weak: f64, strong: f64| [[weak; TOGETHER], [strong; TOGETHER]].concat();
        let ahead = Ahead {
            tried: vec![0.0, 1.0],
            looks: vec![0.0, 2.0, 4.0],
            unturned: vec![each(1.0, 1.0), each(0.0, 0.8), each(0.0, 0.5)],
            ..ahead(two, vec![0.25, 0.75], 10.0)
        };
        assert_abs_diff_eq!(ahead.go_on(), 0.7 * 0.85 + 0.3 * 0.25, epsilon = 1e-12);
    }

    #[test]
    fn dearer_failures_run_no_more() {
        for life in [citric().with(load(9.0, ROLLS)).with(yellow()), citric().with(load(14.0, ROLLS)).with(yellow()).with(load(4.0, ROLLS))]
        {
            let belief = believed(&life);
            let run = |failure| best(&belief, ROLLS, Plan { session: 4.0, usual: 4.0, failure });
            let runs = [0.0, 4.0, 16.0, 1e4].map(run);
            assert!(runs.windows(2).all(|pair| pair[0] >= pair[1]) && runs[0] >= 4.0 && runs[3] < 4.0, "{runs:?}");
        }
    }

    // Half turned at 5.3, more than four fifths are used: nothing is won by the next piece. Not turned after a few rolls, much is.
    #[test]
    fn a_turned_bath_ends_and_a_fresh_one_goes_on() {
        let run = |life: &Life| best(&believed(life), ROLLS, Plan { session: 2.0, usual: 2.0, failure: 16.0 });
        assert_abs_diff_eq!(run(&citric().with(load(15.0, ROLLS)).with(read(5.4))), 0.0);
        assert_abs_diff_eq!(run(&citric().with(load(5.0, ROLLS)).with(yellow())), 2.0);
    }

    // What is decided rests on how probable a draw is against the others that are not spent: neither on the sum of all, nor on those that are.
    #[test]
    fn only_proportions_of_what_is_left_count() {
        let lives = [
            citric().with(load(15.0, ROLLS)).with(read(5.4)),
            citric().with(load(5.0, ROLLS)).with(yellow()),
            citric().with(load(14.0, ROLLS)).with(yellow()).with(load(4.0, ROLLS)),
        ];
        for life in lives {
            let belief = believed(&life);
            let run = |draws: Vec<Draw>| {
                let mut belief = belief.clone();
                belief.draws = draws;
                best(&belief, ROLLS, Plan { session: 4.0, usual: 4.0, failure: 8.0 })
            };
            let wanted = run(belief.draws.clone());
            for factor in [1e-6, 1e6] {
                let scaled = belief.draws.iter().map(|draw| Draw { weight: factor * draw.weight, ..draw.clone() });
                assert_abs_diff_eq!(run(scaled.collect()), wanted);
            }
            let mut with_spent = belief.draws.clone();
            with_spent.extend(belief.draws.iter().map(|draw| {
                let mut spent = Draw { weight: 3.0 * draw.weight, ..draw.clone() };
                spent.bath.alkali = 1.5 * spent.bath.acid;
                spent
            }));
            assert_abs_diff_eq!(run(with_spent), wanted);
        }
    }
}
