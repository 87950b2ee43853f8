//! The pipeline: one photo in, one [`reading::Reading`] out.

pub mod estimate;
pub mod frame;
pub mod model;
pub mod posterior;
pub mod reading;
pub mod regions;
pub mod request;
pub mod samples;
pub mod state;
pub mod warning;

use frame::Frame;
use reading::{CupReading, Reading};
use request::Request;

/// Reads one photo: finds card and cups (unless told), measures, judges.
#[must_use]
pub fn read(frame: &Frame, request: &Request) -> Reading {
    let regions = regions::locate(frame, request);
    let mut cups: Vec<CupReading> =
        regions.cups.iter().enumerate().map(|(index, cup)| CupReading::unjudged(index + 1, cup, request.indicator.name)).collect();
    let card = regions.card.as_ref().and_then(|card| samples::card(frame, card));
    let taken: Vec<Option<samples::CupSamples>> = regions.cups.iter().map(|cup| samples::cup(frame, cup)).collect();
    let usable: Vec<usize> = (0..cups.len()).filter(|&k| taken[k].is_some()).collect();
    let chosen: Vec<&samples::CupSamples> = usable.iter().filter_map(|&k| taken[k].as_ref()).collect();
    let measured = estimate::measured(card.as_ref().map(|c| (c, request.card_reflectance.value())), &chosen);
    let hypotheses = model::hypothesis::all(frame.space(), None);
    if let Some(found) = estimate::estimate(&hypotheses, request.indicator, &measured) {
        let pka = crate::indicator::equilibrium::pka_at(request.indicator, request.ionic_strength, request.temperature);
        for (&k, cup) in usable.iter().zip(&found.cups) {
            let posterior = posterior::Posterior::new(&cup.components, pka, request.indicator.pka_sd, 1.0);
            let statement = posterior.statement();
            let chance = posterior.chance(&request.limits);
            let reading = &mut cups[k];
            reading.ph = statement.ph;
            reading.ph_low = statement.interval.low;
            reading.ph_high = statement.interval.high;
            reading.base_fraction = Some(statement.base_fraction);
            reading.dose = Some(cup.dose);
            reading.state = state::judge(&chance);
            reading.chance = Some(chance);
            reading.posterior = posterior.points();
        }
    }
    Reading {
        width: frame.upright_width(),
        height: frame.upright_height(),
        card: regions.card,
        light: reading::LightReport::default(),
        warnings: regions.notices,
        cups,
        limits: request.limits,
    }
}
