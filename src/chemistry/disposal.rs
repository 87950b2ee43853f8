//! What a used bath is when it is to be poured away: what it needs to be near pH 7, and which way the answers point.
//!
//! Nothing here permits anything: local rules and licensed carriers decide.

use super::developer::Developer;
use super::error::ChemistryError;
use super::liquid::Liquid;
use super::neutral::{self, Soda, Treatment, treatment};
use crate::quantity::{Celsius, Interval, Millilitres, Ph};

/// Where the liquid would go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drain {
    /// A municipal sewer.
    Sewer,
    /// A septic tank, cesspit, garden or storm drain.
    Septic,
    /// It is collected.
    Collected,
}

/// Whose it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holder {
    /// A home.
    Home,
    /// A school, club, laboratory or business.
    Institution,
}

/// Whether fixer has got in, and silver with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fixer {
    /// No.
    No,
    /// Yes.
    Yes,
    /// It may.
    Unsure,
}

/// The answers to the questions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answers {
    /// Where it would go.
    pub drain: Drain,
    /// Whose it is.
    pub holder: Holder,
    /// Whether fixer has got in.
    pub fixer: Fixer,
}

/// Which way the answers point; none of these is a permission.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    /// Collect it for a licensed carrier or collection point.
    Collect,
    /// Do not pour it there unless the local authority says otherwise.
    HoldBack,
    /// Ask the local authority first; in homes it is commonly allowed.
    AskFirst,
    /// Ask the sewer authority first, also whether treating it is.
    AskAuthority,
}

impl Answers {
    /// The cautious course: silver is collected, a septic tank gets nothing, everything else is asked about.
    #[must_use]
    pub fn course(self) -> Course {
        match (self.fixer, self.drain, self.holder) {
            (Fixer::Yes | Fixer::Unsure, ..) | (_, Drain::Collected, _) => Course::Collect,
            (Fixer::No, Drain::Septic, _) => Course::HoldBack,
            (Fixer::No, Drain::Sewer, Holder::Home) => Course::AskFirst,
            (Fixer::No, Drain::Sewer, Holder::Institution) => Course::AskAuthority,
        }
    }
}

/// What the bath was and what is known of its use.
#[derive(Debug, Clone)]
pub struct UsedBath {
    /// The bath as mixed, in each way that it may have been.
    pub fresh: Vec<Liquid>,
    /// How much is left.
    pub volume: Millilitres,
    /// pH as read; none when it was not.
    pub read: Option<Interval>,
    /// The developer that used it up; none when it is not known.
    pub developer: Option<&'static Developer>,
}

/// What it needs: each from the least to the most that what is known allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needs {
    /// pH now.
    pub ph: (f64, f64),
    /// Soda, g.
    pub grams: (f64, f64),
    /// Carbon dioxide at most, litres at [`neutral::ROOM`].
    pub gas_litres: (f64, f64),
    /// pH while the liquid is still full of its gas, with all the soda in.
    pub ph_foaming: (f64, f64),
    /// Portions in which to add it.
    pub portions: u32,
}

/// Gas of one portion over the volume of the bath: a vessel of three times the volume then has room for its foam (common practice).
const GAS_OF_A_PORTION: f64 = 0.5;
/// Fewest portions (common practice).
const FEWEST: f64 = 4.0;

/// What a bath needs to be near pH 7; none when nothing is known of what it was.
///
/// # Errors
/// As [`treatment`] and [`neutral::used`].
pub fn needs(used: &UsedBath, soda: Soda, temperature: Celsius) -> Result<Option<Needs>, ChemistryError> {
    let mut all: Vec<(f64, Treatment)> = Vec::new();
    for fresh in &used.fresh {
        for liquid in variants(fresh, used, temperature)? {
            let ph = liquid.equilibrium(temperature)?.ph.value();
            all.push((ph, treatment(&liquid, used.volume, soda, temperature)?));
        }
    }
    if all.is_empty() {
        return Ok(None);
    }
    let span = |of: &dyn Fn(&(f64, Treatment)) -> f64| {
        all.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
    };
    let gas_litres = span(&|(_, t)| t.gas_litres);
    // As many digits as the foam deserves: one more portion is no harm.
    let portions = (gas_litres.1 / (GAS_OF_A_PORTION * used.volume.litres())).ceil().clamp(FEWEST, 1e6) as u32;
    Ok(Some(Needs {
        ph: span(&|(ph, _)| *ph),
        grams: span(&|(_, t)| t.grams),
        gas_litres,
        ph_foaming: span(&|(_, t)| t.ph_foaming.value()),
        portions,
    }))
}

/// The bath at either end of the reading, used up by the developer told or, when none was, by each kind of the table and by plain alkali: sulfite leaves most to bind, a weak
/// developer least, since more of the bath went out for it.
fn variants(fresh: &Liquid, used: &UsedBath, temperature: Celsius) -> Result<Vec<Liquid>, ChemistryError> {
    let Some(read) = used.read else {
        // Doubt of the dose alone: graduates and kitchen balances.
        let dose = super::change::DOSE_SD;
        return Ok(vec![fresh.concentrated(1.0 - 2.0 * dose), fresh.concentrated(1.0 + 2.0 * dose)]);
    };
    let start = fresh.equilibrium(temperature)?.ph.value();
    // An open lower end goes down to the fresh bath; an open upper end up to where nothing is needed any more.
    let ends = [read.low.unwrap_or(start).min(7.0), read.high.unwrap_or(Ph::NEUTRAL.value()).min(7.0)];
    let mut liquids = Vec::new();
    for end in ends {
        let ph = Ph::new(end).map_err(|_| ChemistryError::Unbalanced { low: Ph::LOW, high: Ph::HIGH })?;
        match used.developer {
            Some(developer) => liquids.push(neutral::used(fresh, &developer.liquid(), ph, temperature)?),
            None => {
                liquids.push(neutral::used_with_alkali(fresh, ph, temperature)?);
                // A kind that does not bring the bath there was not the one.
                let kinds = super::developer::all().iter().map(Developer::liquid);
                liquids.extend(kinds.filter_map(|developer| neutral::used(fresh, &developer, ph, temperature).ok()));
            }
        }
    }
    Ok(liquids)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chemistry::{bath, developer, powder};

    fn used(read: Option<(f64, f64)>, developer: Option<&str>) -> UsedBath {
        UsedBath {
            fresh: vec![bath::powdered(powder::find("citric-anhydrous").unwrap(), 15.0)],
            volume: Millilitres::new(2000.0).unwrap(),
            read: read.map(|(low, high)| Interval { low: Some(low), high: Some(high) }),
            developer: developer.map(|name| developer::find(name).unwrap()),
        }
    }

    fn of(used: &UsedBath) -> Needs {
        needs(used, Soda::Bicarbonate, Celsius::STANDARD).unwrap().unwrap()
    }

    // By hand (see neutral): 19.3 g and 5.5 l a litre; within the doubt of the dose, a tenth.
    #[test]
    fn a_fresh_bath_needs_the_hand_calculation() {
        let needs = of(&used(None, None));
        assert!(needs.grams.0 < 38.6 && needs.grams.1 > 38.6 && needs.grams.1 < 1.13 * 38.6, "{needs:?}");
        assert!(needs.gas_litres.0 < 11.0 && needs.gas_litres.1 > 11.0, "{needs:?}");
        // Half a litre of gas a portion and litre of bath.
        assert!((11..=13).contains(&needs.portions), "{}", needs.portions);
        // A larger vessel holds the foam of a larger bath.
        let large = of(&UsedBath { volume: Millilitres::new(6000.0).unwrap(), ..used(None, None) });
        assert_eq!(large.portions, needs.portions);
    }

    #[test]
    fn what_is_known_narrows_the_range() {
        let (unknown, known) = (of(&used(Some((4.2, 4.6)), None)), of(&used(Some((4.2, 4.6)), Some("carbonate-1+2"))));
        assert!(unknown.grams.0 <= known.grams.0 + 1e-9 && known.grams.1 <= unknown.grams.1 + 1e-9, "{unknown:?} {known:?}");
        assert!(known.grams.1 < of(&used(None, None)).grams.0);
        let open = UsedBath { read: Some(Interval { low: None, high: Some(4.6) }), ..used(None, None) };
        assert!(of(&open).grams.1 > unknown.grams.1);
        let nothing = UsedBath { fresh: Vec::new(), ..used(None, None) };
        assert_eq!(needs(&nothing, Soda::Bicarbonate, Celsius::STANDARD).unwrap(), None);
    }

    #[test]
    fn no_answer_opens_a_drain() {
        for fixer in [Fixer::Yes, Fixer::Unsure] {
            for drain in [Drain::Sewer, Drain::Septic, Drain::Collected] {
                for holder in [Holder::Home, Holder::Institution] {
                    assert_eq!(Answers { drain, holder, fixer }.course(), Course::Collect);
                }
            }
        }
        let course = |drain, holder| Answers { drain, holder, fixer: Fixer::No }.course();
        assert_eq!(course(Drain::Septic, Holder::Home), Course::HoldBack);
        assert_eq!(course(Drain::Sewer, Holder::Home), Course::AskFirst);
        assert_eq!(course(Drain::Sewer, Holder::Institution), Course::AskAuthority);
        assert_eq!(course(Drain::Collected, Holder::Home), Course::Collect);
    }
}
