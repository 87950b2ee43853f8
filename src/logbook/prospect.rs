//! What may come of a bath: whether to replace it now, or to run one more session and look again.

mod ahead;

use super::belief::{Belief, Draw};
use super::forecast::{Kind, pieces};
use ahead::Ahead;

/// Reserve that may be thrown away of a bath that counts as used up, in fresh baths: there a dye that is fit for the limit has begun to turn, and no more can be aimed at.
const REST: f64 = 0.2;
/// Sessions that are looked ahead at most: with 8 a film bath is given up earlier, more than 24 change little.
const HORIZON: usize = 24;
/// No further session is looked at once draws of this probability are spent.
const MOST_SPENT: f64 = 0.98;
/// Chance of passing the limit in a session that is too small to be weighed: the draws do not tell it.
const NEGLIGIBLE: f64 = 1e-4;

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
    let (last, ended) = ahead.end_now(plan.session);
    if ahead.go_on() >= ended { plan.session } else { last }
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

    // The worth of going on, too, is one among what is left, whatever that weighs.
    #[test]
    fn going_on_is_worth_the_same_of_few_draws_as_of_many() {
        let belief = believed(&citric().with(load(9.0, ROLLS)).with(yellow()));
        let worth = |factor: f64| {
            let mut draws: Vec<Draw> = belief.draws.iter().map(|draw| Draw { weight: factor * draw.weight, ..draw.clone() }).collect();
            draws.sort_by(|a, b| pieces(a, ROLLS).total_cmp(&pieces(b, ROLLS)));
            let with_left: Vec<(f64, &Draw)> =
                draws.iter().map(|draw| (pieces(draw, ROLLS), draw)).filter(|(left, _)| *left > 0.0).collect();
            let plan = Plan { session: 4.0, usual: 4.0, failure: 10.0 };
            Ahead::new(&belief, ROLLS, plan, &with_left, vec![0.0, 4.0, 8.0, 12.0]).go_on()
        };
        assert_abs_diff_eq!(worth(1e-8), worth(1.0), epsilon = 1e-9);
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
