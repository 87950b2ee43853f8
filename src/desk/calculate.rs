//! What to measure for a bath, and what to know of one that is poured away.

use super::source::{Ingredients, SourceFailure};
use crate::chemistry::developer::Developer;
use crate::chemistry::dilution::Agent;
use crate::chemistry::disposal::{Answers, UsedBath, needs};
use crate::chemistry::keeping::{self, Vessel};
use crate::chemistry::liquid::Liquid;
use crate::chemistry::mixing::{Plan, Quantity, Terms, plans};
use crate::chemistry::neutral::Soda;
use crate::present::disposal::Disposal;
use crate::present::mixing::{Label, Mixing, words};
use crate::quantity::{Day, Interval, Millilitres, Ph};

/// pH below which a bath counts as strong acid: carbonate foams in all of them at once (common practice).
const STRONG: f64 = 3.5;
/// Hydroxide from which a developer heats a strong acid bath, g/l (common practice).
const HYDROXIDE: f64 = 1.0;

/// A bath to be mixed.
#[derive(Debug, Clone)]
pub struct Order {
    /// What of, and how strong.
    pub ingredients: Ingredients,
    /// How much.
    pub quantity: Quantity,
    /// True when film goes through it.
    pub is_for_film: bool,
    /// Developer that goes before it.
    pub developer: Option<&'static Developer>,
    /// pH up to which the reserve counts.
    pub spent: Ph,
    /// How it is kept.
    pub kept: Vessel,
    /// Days that the user keeps a bath, instead of the common ones.
    pub age_limit: Option<u32>,
    /// Day of mixing.
    pub mixed: Option<Day>,
    /// Who mixes it.
    pub by: Option<String>,
    /// The cup that a sample goes into.
    pub cup: Millilitres,
}

impl Order {
    /// What to measure, and what comes of it.
    ///
    /// # Errors
    /// [`SourceFailure`] when there can be no such bath.
    pub fn mixing(&self) -> Result<Mixing, SourceFailure> {
        let agent = self.ingredients.agent()?;
        let target = self.ingredients.target(agent)?;
        let terms = Terms { spent: self.spent, temperature: self.ingredients.temperature };
        let plans = plans(agent, &target, self.quantity, terms)?;
        Ok(Mixing {
            agent,
            named: self.ingredients.from.name(),
            notes: self.notes(agent, &plans),
            plans,
            terms,
            label: self.label(agent),
            cup: self.cup,
            changes: Vec::new(),
        })
    }

    fn label(&self, agent: Option<Agent>) -> Label {
        let common = keeping::days(agent.map_or("unknown", Agent::acid), self.kept);
        Label { mixed: self.mixed, by: self.by.clone(), days: self.age_limit.unwrap_or(common), is_own: self.age_limit.is_some() }
    }

    fn notes(&self, agent: Option<Agent>, plans: &[Plan]) -> Vec<&'static str> {
        let mut notes = Vec::new();
        if agent.is_some_and(|agent| agent.acid() == "sulfurous") {
            notes.push(words::LATE_RESERVE);
        }
        let [_, carbonate, _, _, hydroxide] = self.developer.map_or([0.0; 5], |developer| developer.grams);
        // A metabisulfite bath, near pH 4.3, is no strong acid; every plain acid bath, or one that is not known, is.
        let is_strong = plans.iter().any(|plan| plan.bath.as_ref().is_none_or(|fresh| fresh.standing.ph.value() < STRONG));
        if self.is_for_film && carbonate > 0.0 && is_strong && !self.ingredients.half {
            notes.push(words::PINHOLES);
        }
        if hydroxide > HYDROXIDE && is_strong {
            notes.push(words::HYDROXIDE);
        }
        if self.ingredients.half {
            notes.push(words::HALF);
        }
        notes
    }
}

/// A bath to be poured away.
#[derive(Debug, Clone)]
pub struct Waste {
    /// What it was mixed from.
    pub ingredients: Ingredients,
    /// How much there is.
    pub volume: Millilitres,
    /// What was answered.
    pub answers: Answers,
    /// pH as read.
    pub read: Option<Interval>,
    /// Developer that used it up.
    pub developer: Option<&'static Developer>,
    /// What to neutralise with.
    pub soda: Soda,
}

impl Waste {
    /// What is known of it.
    ///
    /// # Errors
    /// [`SourceFailure`] when there can be no such bath.
    pub fn disposal(&self) -> Result<Disposal, SourceFailure> {
        let used = UsedBath { fresh: self.fresh()?, volume: self.volume, read: self.read, developer: self.developer };
        let needs = needs(&used, self.soda, self.ingredients.temperature)?;
        Ok(Disposal { answers: self.answers, volume: self.volume, read: self.read, needs, soda: self.soda })
    }

    /// The bath as mixed, in each way its dilution may be meant; empty when its content is not known.
    fn fresh(&self) -> Result<Vec<Liquid>, SourceFailure> {
        let agent = self.ingredients.agent()?;
        if agent.is_none() || !self.ingredients.has_target() {
            // A named acid of unknown strength tells no grams; without any name there is nothing to refuse.
            return if agent.is_some() { Err(SourceFailure::NoTarget) } else { Ok(Vec::new()) };
        }
        let target = self.ingredients.target(agent)?;
        let terms = Terms { spent: Ph::NEUTRAL, temperature: self.ingredients.temperature };
        let all = plans(agent, &target, Quantity::Make(self.volume), terms)?;
        Ok(all.into_iter().filter_map(|plan| plan.bath).map(|fresh| fresh.bath.liquid).collect())
    }
}
