//! Orders for the tests of the reports.

use super::{Label, Mixing};
use crate::chemistry::change::Change;
use crate::chemistry::dilution::{Agent, Written};
use crate::chemistry::mixing::{Quantity, Target, Terms, plans, through};
use crate::chemistry::powder;
use crate::quantity::{Celsius, Day, GramsPerLitre, MassPercent, Millilitres, Ph};

fn litre() -> Quantity {
    Quantity::Make(Millilitres::new(1000.0).unwrap())
}

fn mixing(named: &'static str, agent: Option<Agent>, target: &Target) -> Mixing {
    let terms = Terms { spent: Ph::new(5.5).unwrap(), temperature: Celsius::STANDARD };
    let plans = plans(agent, target, litre(), terms).unwrap();
    let label = Label { mixed: None, by: None, days: 14, is_own: false };
    Mixing { agent, named, plans, terms, label, cup: Millilitres::new(15.0).unwrap(), changes: Vec::new(), notes: Vec::new() }
}

/// Acetic acid with a full label and changes, vinegar, citric acid, metabisulfite, and a concentrate of unknown content at 1:20.
pub(in crate::present) fn all() -> [Mixing; 5] {
    let grams = |value| Target::Strength(GramsPerLitre::new(value).unwrap());
    let acid = Agent::Acetic(MassPercent::new(28.0).unwrap());
    let vinegar = Agent::Acetic(MassPercent::new(5.0).unwrap());
    let powder = |name: &str| Some(Agent::Powder(powder::find(name).unwrap()));
    let mut acetic = mixing("acetic", Some(acid), &Target::Strength(acid.of_percent(1.7).unwrap()));
    acetic.label = Label { mixed: Day::parse("2026-11-26"), by: Some("M.".to_owned()), days: 60, is_own: false };
    let bath = acetic.plans[0].bath.clone().unwrap().bath;
    let changes = [
        Change::TakenUp(80.0),
        Change::Evaporated(100.0),
        Change::Lost(50.0),
        Change::Water(100.0),
        Change::ToppedUp(bath.liquid.clone(), 50.0),
    ];
    acetic.changes = through(&bath, &changes, acetic.terms).unwrap();
    [
        acetic,
        mixing("vinegar", Some(vinegar), &Target::Strength(vinegar.of_percent(2.5).unwrap())),
        mixing("citric-monohydrate", powder("citric-monohydrate"), &grams(16.4)),
        mixing("sodium-metabisulfite", powder("sodium-metabisulfite"), &grams(30.0)),
        mixing("concentrate", None, &Target::Dilution(Written::parse("1:20").unwrap().readings())),
    ]
}
