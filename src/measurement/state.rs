//! From chances to a verdict: cautious, since a bath is cheap and a roll is not.

use super::reading::{Chance, State};

/// Spent from this chance on.
pub const SPENT_FROM: f64 = 0.25;
/// Fresh only from this chance on.
pub const FRESH_FROM: f64 = 0.9;
/// Unclear when fresh and spent both stay above this.
pub const UNDECIDED_ABOVE: f64 = 0.1;

/// The verdict.
#[must_use]
pub fn judge(chance: &Chance) -> State {
    if chance.fresh > UNDECIDED_ABOVE && chance.spent > UNDECIDED_ABOVE {
        State::Unclear
    } else if chance.spent >= SPENT_FROM {
        State::Spent
    } else if chance.fresh >= FRESH_FROM {
        State::Fresh
    } else {
        State::Nearing
    }
}
