//! All that may be seen of a bath before the sessions to come, and what each way from there is worth.

use super::super::belief::{Belief, Draw};
use super::super::forecast::Kind;
use super::super::normal;
use super::{Plan, enough, used};

/// How far the dye is seen turned: pH below the limit where one step ends and the next begins, half-way. For the usual limit of 5.5 bromocresol purple shows 1 part in 70 at 4.3, where a
/// photo begins to tell something, and 1 in 9 at 5.2. With one step alone, at 0.65, a third of a bath was thrown away where with six it is a fifth (seeds 21 and 31 of `cargo bench --bench lives`).
const STEPS: [f64; 5] = [1.2, 0.95, 0.7, 0.5, 0.3];
/// Standard deviation of where a step is seen, pH, without the error that all readings share.
const SPREAD: f64 = 0.1;
/// What is not known of the error that all readings share blurs that by so much, pH, for each of its standard deviations. Chosen on seed 11 of `cargo bench --bench lives`: it states 0.3,
/// but looks to come tell more of it, and with 0.3 half of a bath was thrown away.
const SHARED: f64 = 0.1;
/// Neighbouring draws that are taken together: a quarter of the work.
const TOGETHER: usize = 4;
/// Numbers of pieces that are tried for the last session of a bath, evenly from none to a whole one.
const TRIED: usize = 6;
/// What is seen with a smaller probability than this is not followed.
const HARDLY: f64 = 1e-6;

/// A few draws that are alike.
#[derive(Debug, Clone, Copy)]
struct Prospect {
    /// Pieces from now until the limit.
    left: f64,
    /// Pieces from now until no more than [`super::REST`] would be thrown away.
    enough: f64,
    /// Probability among all that are not spent.
    weight: f64,
}

/// The looks to come and what may be seen then.
pub(super) struct Ahead {
    /// What a bath that passes the limit costs.
    failure: f64,
    /// Chance that a look tells something before a session.
    read: f64,
    /// Numbers of pieces tried for a last session.
    tried: Vec<f64>,
    /// By pieces left, rising.
    prospects: Vec<Prospect>,
    /// The first is now.
    looks: Vec<Look>,
}

/// What may be seen before a session.
struct Look {
    /// Pieces from now until then.
    count: f64,
    /// For each step of the dye and each prospect the chance that it is seen.
    steps: Vec<Vec<f64>>,
}

impl Ahead {
    /// Takes draws by pieces left, rising, and the numbers of pieces after which the bath is looked at; the first is 0.
    pub(super) fn new(belief: &Belief, kind: Kind, plan: Plan, draws: &[(f64, &Draw)], looks: Vec<f64>) -> Self {
        let story = &belief.story;
        // What is believed of the readers' error by then is allowed for by whoever looks; what is not known of it blurs what is seen.
        let error = |draw: &Draw| story.unknowns.shared(&draw.unknowns).at_foot();
        let whole: f64 = draws.iter().map(|(_, draw)| draw.weight).sum();
        let known = draws.iter().map(|(_, draw)| draw.weight * error(draw)).sum::<f64>() / whole;
        let limit = story.curve.ph_at(1.0);
        let each = |of: &dyn Fn(f64, &Draw) -> f64| -> Vec<f64> {
            let mean = |alike: &[(f64, &Draw)]| {
                let whole: f64 = alike.iter().map(|(_, draw)| draw.weight).sum();
                alike.iter().map(|(left, draw)| draw.weight * of(*left, draw)).sum::<f64>() / whole
            };
            draws.chunks(TOGETHER).map(mean).collect()
        };
        let look = |count: f64| {
            let below = |step: f64| {
                each(&|left, draw| {
                    let ph = story.curve.ph_at(used(draw, kind, count)) + SHARED * (error(draw) - known);
                    if count < left { normal::below((limit - step - ph) / SPREAD) } else { 0.0 }
                })
            };
            Look { count, steps: parted(&STEPS.map(below)) }
        };
        let weights = draws.chunks(TOGETHER).map(|alike| alike.iter().map(|(_, draw)| draw.weight).sum::<f64>() / whole);
        let (lefts, enoughs) = (each(&|left, _| left), each(&|_, draw| enough(draw, kind)));
        Ahead {
            failure: plan.failure,
            read: story.read,
            tried: (0..TRIED).map(|i| (plan.usual - 1.0).max(0.0) * i as f64 / (TRIED - 1) as f64).collect(),
            prospects: weights
                .zip(lefts.into_iter().zip(enoughs))
                .map(|(weight, (left, enough))| Prospect { left, enough, weight })
                .collect(),
            looks: looks.into_iter().map(look).collect(),
        }
    }

    fn weights(&self) -> Vec<f64> {
        self.prospects.iter().map(|prospect| prospect.weight).collect()
    }

    /// The first prospect that is not spent after so many pieces.
    fn first(&self, count: f64) -> usize {
        self.prospects.partition_point(|prospect| prospect.left <= count)
    }

    /// Worth of each prospect if the bath is replaced after `count` pieces more than `from`: 1 where enough is used, less what passing costs, and nothing where it was spent before.
    fn ended_after(&self, from: f64, count: f64) -> Vec<f64> {
        let each = |prospect: &Prospect| match () {
            () if prospect.left <= from => 0.0,
            () if prospect.left <= from + count => -self.failure,
            () if prospect.enough <= from + count => 1.0,
            () => 0.0,
        };
        self.prospects.iter().map(each).collect()
    }

    /// The best number of pieces below `session` to replace the bath after, and its worth; the most of those that are worth the same.
    pub(super) fn end_now(&self, session: f64) -> (f64, f64) {
        let weights = self.weights();
        (0..session.ceil() as usize)
            .map(|count| (count as f64, sum_of_products(&weights, &self.ended_after(0.0, count as f64))))
            .fold((0.0, f64::NEG_INFINITY), |best, new| if new.1 >= best.1 { new } else { best })
    }

    /// Worth of the whole session, worked out from the last look backwards.
    ///
    /// Before each session to come one knows which step of the dye was seen last and at which look, and that nothing was read since; earlier looks add little to that.
    pub(super) fn go_on(&self) -> f64 {
        let steps = self.looks.first().map_or(0, |look| look.steps.len());
        let firsts: Vec<usize> = self.looks.iter().map(|look| self.first(look.count)).collect();
        let ends: Vec<Vec<Vec<f64>>> =
            self.looks.iter().map(|look| self.tried.iter().map(|count| self.ended_after(look.count, *count)).collect()).collect();
        // Probability of each prospect together with what was seen last: nothing, then each step at each look from the second on.
        let weights = self.weights();
        let seen = self.looks.iter().skip(1).flat_map(|look| &look.steps).map(|chances| products(&weights, chances));
        let known: Vec<Vec<f64>> = std::iter::once(weights.clone()).chain(seen).collect();
        let alive = |weights: &[f64], look: usize| weights[firsts[look]..].iter().sum::<f64>();
        let ended = |weights: &[f64], look: usize| {
            let worth = |end: &Vec<f64>| sum_of_products(&weights[firsts[look]..], &end[firsts[look]..]);
            ends[look].iter().map(worth).fold(f64::NEG_INFINITY, f64::max)
        };
        // Worth given that, and given that the bath is not spent.
        let given = |worth: f64, weights: &[f64], look: usize| worth / alive(weights, look).max(f64::MIN_POSITIVE);
        let last = self.looks.len() - 1;
        let mut worths: Vec<f64> = known.iter().map(|weights| given(ended(weights, last), weights, last)).collect();
        for look in (0..last).rev() {
            let next = look + 1;
            let on = |(weights, unread): (&Vec<f64>, &f64)| {
                let (before, after) = (alive(weights, look), alive(weights, next));
                let after_step = |(step, chances): (usize, &Vec<f64>)| {
                    let both = products(weights, chances);
                    let on = alive(&both, next) * worths[1 + look * steps + step];
                    if alive(&both, next) < HARDLY { on } else { on.max(ended(&both, next)) }
                };
                let read: f64 = self.looks[next].steps.iter().enumerate().map(after_step).sum();
                self.read * read + (1.0 - self.read) * after * unread - self.failure * (before - after)
            };
            if look == 0 {
                return on((&known[0], &worths[0]));
            }
            let best = |state: (&Vec<f64>, &f64)| given(on(state).max(ended(state.0, look)), state.0, look);
            worths = known[..=look * steps].iter().zip(&worths).map(best).collect();
        }
        0.0
    }
}

/// Chances of lying between neighbours from chances of lying below each, which rise.
fn parted(below: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let between = |step: usize, i: usize| {
        let (low, high) = (step.checked_sub(1).map_or(0.0, |before| below[before][i]), below.get(step).map_or(1.0, |below| below[i]));
        high - low
    };
    (0..=below.len()).map(|step| (0..below.first().map_or(0, Vec::len)).map(|i| between(step, i)).collect()).collect()
}

fn products(one: &[f64], other: &[f64]) -> Vec<f64> {
    one.iter().zip(other).map(|(a, b)| a * b).collect()
}

/// Eight sums side by side, which the compiler takes at once.
fn sum_of_products(one: &[f64], other: &[f64]) -> f64 {
    let (ones, others) = (one.chunks_exact(8), other.chunks_exact(8));
    let rest: f64 = ones.remainder().iter().zip(others.remainder()).map(|(a, b)| a * b).sum();
    let mut sums = [0.0; 8];
    for (a, b) in ones.zip(others) {
        for i in 0..8 {
            sums[i] += a[i] * b[i];
        }
    }
    sums.iter().sum::<f64>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn look(count: f64, steps: &[[f64; 2]]) -> Look {
        Look { count, steps: steps.iter().map(|chances| chances.to_vec()).collect() }
    }

    // By hand: one bath in ten takes 4 pieces, and 2 are enough for it; the others take 10, and 5 are enough. Where passing costs 2, 5 to 9 pieces gain 0.9 - 0.2; where
    // it costs 10, they gain 0.9 - 1, and 2 or 3 pieces, which serve the weak bath, gain 0.1.
    #[test]
    fn the_end_is_where_most_is_gained() {
        let end = |failure| {
            let prospects = vec![Prospect { left: 4.0, enough: 2.0, weight: 0.1 }, Prospect { left: 10.0, enough: 5.0, weight: 0.9 }];
            Ahead { failure, read: 0.7, tried: vec![0.0], prospects, looks: vec![] }.end_now(12.0)
        };
        let (cheap, dear) = (end(2.0), end(10.0));
        assert_abs_diff_eq!(cheap.0, 9.0);
        assert_abs_diff_eq!(cheap.1, 0.7, epsilon = 1e-12);
        assert_abs_diff_eq!(dear.0, 3.0);
        assert_abs_diff_eq!(dear.1, 0.1, epsilon = 1e-12);
    }

    // By hand: one bath in four takes 3 pieces (1 is enough), the others 6 (4 are enough); looks are two pieces apart, the weak bath is turned at the first, the strong one in
    // 1 of 5, and in half of the cases at the second. At the second look all that lives has had enough: worth 1. At the first, with nothing seen since the beginning, one stops for
    // the weak bath: 0.25. With the dye unturned it is the strong one, worth 1 for what is to come. Turned it is the weak one (0.25) or the strong one (0.15): one stops for the weak one. Now:
    // 0.7 (0.6 + 0.25) with a reading, 0.3 x 0.25 without.
    #[test]
    fn going_on_is_worth_what_the_looks_to_come_are() {
        let prospects = vec![Prospect { left: 3.0, enough: 1.0, weight: 0.25 }, Prospect { left: 6.0, enough: 4.0, weight: 0.75 }];
        let looks = vec![look(0.0, &[[1.0, 1.0], [0.0, 0.0]]), look(2.0, &[[0.0, 0.8], [1.0, 0.2]]), look(4.0, &[[0.0, 0.5], [1.0, 0.5]])];
        let ahead = Ahead { failure: 10.0, read: 0.7, tried: vec![0.0, 1.0], prospects, looks };
        assert_abs_diff_eq!(ahead.go_on(), 0.7 * 0.85 + 0.3 * 0.25, epsilon = 1e-12);
    }

    // By hand: as before, but the strong bath shows a step between, which the weak one never shows. It is then known to be the strong one, and going on is worth all of it.
    #[test]
    fn a_step_between_tells_baths_apart() {
        let prospects = vec![Prospect { left: 3.0, enough: 1.0, weight: 0.25 }, Prospect { left: 6.0, enough: 4.0, weight: 0.75 }];
        let looks = vec![
            look(0.0, &[[1.0, 1.0], [0.0, 0.0], [0.0, 0.0]]),
            look(2.0, &[[0.0, 0.8], [0.0, 0.2], [1.0, 0.0]]),
            look(4.0, &[[0.0, 0.0], [0.0, 1.0], [1.0, 0.0]]),
        ];
        let ahead = Ahead { failure: 10.0, read: 1.0, tried: vec![0.0, 1.0], prospects, looks };
        assert_abs_diff_eq!(ahead.go_on(), 1.0, epsilon = 1e-12);
    }

    // Below 1 in 0.3 of the cases, below 2 in 0.8.
    #[test]
    fn steps_lie_between_neighbours() {
        let parts = parted(&[vec![0.3], vec![0.8]]);
        for (part, wanted) in parts.iter().zip([0.3, 0.5, 0.2]) {
            assert_abs_diff_eq!(part[0], wanted, epsilon = 1e-12);
        }
        assert_eq!(parts.len(), 3);
    }

    #[test]
    fn products_are_summed_to_the_last() {
        let numbers: Vec<f64> = (1..=19).map(f64::from).collect();
        assert_abs_diff_eq!(sum_of_products(&numbers, &numbers), 2470.0);
    }
}
