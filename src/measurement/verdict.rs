//! From the estimate of one cup to what is said about it.

use super::estimate::CupEstimate;
use super::posterior::{Posterior, fraction};
use super::reading::{CupReading, State};
use super::request::Request;
use super::rival::Stain;
use super::state;
use super::warning::Notice;
use crate::indicator::equilibrium::pka_at;

/// Below this optical dose there is no dye to speak of.
const PALEST: f64 = 0.15;
/// Above this optical dose the liquid is too deep to see through.
const DEEPEST: f64 = 6.0;
/// Stain of this density at 420 nm hides the acid form.
pub const MOST_STAIN: f64 = 0.35;
/// Bad stain explains the cup about as well as the dye does when its fit costs less than this more ...
const STAIN_EXCESS: f64 = 0.97;
/// ... and makes the photo likelier by this, log of the odds. On rendered photos both catch 56 of 90 stained cups, as the cost alone does, and refuse 14 of 857 good ones; the cost alone refuses 23.
const STAIN_LOG_ODDS: f64 = 0.6;
/// Misfit beyond this many expected standard deviations: the colour is not one of this dye.
const MOST_MISFIT: f64 = 6.0;

/// Below this base fraction the acid form rules the colour, and a fresh bath looks like any other fresh bath.
const PLAIN: f64 = 0.1;

/// Judges one cup; `pka_sd` is what is uncertain of pKa' beyond the estimate.
pub fn judge(request: &Request, cup: &CupEstimate, pka_sd: f64, reading: &mut CupReading) {
    reading.dose = Some(cup.dose);
    reading.stain = Some(cup.stain);
    reading.misfit = Some(cup.misfit);
    if let Some(notice) = refusal(cup) {
        reading.reasons.push(notice);
        return;
    }
    let dye = request.contents.dye(reading.number);
    let pka = pka_at(dye, request.ionic_strength, request.temperature);
    let posterior = Posterior::new(&cup.components, pka, pka_sd);
    let statement = posterior.statement();
    let chance = posterior.chance(&request.limits);
    reading.ph = statement.ph;
    reading.ph_low = statement.interval.low;
    reading.ph_high = statement.interval.high;
    let base_fraction = fraction(statement.median, pka);
    reading.base_fraction = Some(base_fraction);
    reading.state = state::judge(&chance);
    reading.chance = Some(chance);
    reading.posterior = posterior.points();
    if statement.ph.is_none() {
        reading.reasons.push(Notice::BoundOnly);
    }
    if reading.state == State::Unclear {
        reading.reasons.push(Notice::Undecided { fresh: chance.fresh, spent: chance.spent });
    }
    if reading.state == State::Fresh && base_fraction < PLAIN {
        reading.reasons.push(Notice::ReserveUnseen);
    }
}

/// Whether bad stain may be what colours the cup.
fn may_be(stain: Stain) -> bool {
    stain.excess < STAIN_EXCESS && stain.log_odds > STAIN_LOG_ODDS
}

/// Why a cup that could be fitted must not be judged.
fn refusal(cup: &CupEstimate) -> Option<Notice> {
    if cup.dose < PALEST {
        Some(Notice::TooPale { dose: cup.dose })
    } else if cup.stain > MOST_STAIN || cup.bad_stain.is_some_and(may_be) {
        Some(Notice::Stained { density: cup.stain })
    } else if cup.misfit > MOST_MISFIT || cup.is_other_dye {
        Some(Notice::OtherDye { misfit: cup.misfit })
    } else if cup.dose > DEEPEST {
        Some(Notice::TooDeep { dose: cup.dose })
    } else {
        None
    }
}
