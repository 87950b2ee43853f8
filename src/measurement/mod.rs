//! The pipeline: one photo in, one [`reading::Reading`] out.

pub mod appearance;
pub mod estimate;
pub mod frame;
pub mod model;
pub mod posterior;
pub mod quality;
pub mod reading;
pub mod regions;
pub mod request;
pub mod rival;
pub mod samples;
pub mod share;
pub mod state;
pub mod verdict;
pub mod warning;

use frame::Frame;
use reading::{CupReading, LightReport, Reading};
use regions::Regions;
use request::Request;
use samples::{CardSamples, CupSamples};
use warning::Notice;

use crate::colour::generic::LightKind;

/// What was taken from the picture.
struct Taken {
    /// `None` for a card that was not found, or is too small.
    card: Option<CardSamples>,
    /// `None` for a cup that cannot be measured.
    cups: Vec<Option<CupSamples>>,
}

/// Reads one photo: finds card and cups (unless told), measures, judges.
#[must_use]
pub fn read(frame: &Frame, request: &Request) -> Reading {
    let small = frame.reduced(regions::LONGEST);
    let regions = regions::locate(&small, request);
    let taken = take(frame, &regions);
    let cups: Vec<&CupSamples> = taken.cups.iter().flatten().collect();
    let quality = quality::assess(taken.card.as_ref(), &cups, &small);
    let mut warnings = regions.notices.clone();
    if regions.card.is_some() && taken.card.is_none() {
        warnings.push(Notice::CardMissing);
    }
    warnings.extend(quality::refusals(&quality, taken.card.as_ref()));
    let mut readings = describe(frame, request, &regions, &taken);
    let mut light = LightReport { told: request.light.kind().map(|kind| kind.name()), weights: Vec::new() };
    if !warnings.iter().any(Notice::refuses) && !cups.is_empty() {
        light.weights = judge(frame, request, &taken, &cups, &mut readings);
    }
    Reading {
        width: frame.upright_width(),
        height: frame.upright_height(),
        card: regions.card,
        light,
        quality,
        warnings,
        cups: readings,
        limits: request.limits,
    }
}

fn take(frame: &Frame, regions: &Regions) -> Taken {
    Taken {
        card: regions.card.as_ref().and_then(|card| samples::card(frame, card)),
        cups: share::map(&regions.cups, |cup| samples::cup(frame, cup)),
    }
}

/// What is plain to see of each cup: place, rings, colour.
fn describe(frame: &Frame, request: &Request, regions: &Regions, taken: &Taken) -> Vec<CupReading> {
    let card = taken.card.as_ref().map(|card| (&card.whole, request.card_reflectance.value()));
    regions
        .cups
        .iter()
        .zip(&taken.cups)
        .enumerate()
        .map(|(index, (region, samples))| {
            let mut reading = CupReading::unjudged(index + 1, region, request.indicator.name);
            match samples {
                Some(samples) => appearance::describe(frame.space(), card, samples, &mut reading),
                None => reading.reasons.push(Notice::CupUnusable),
            }
            reading
        })
        .collect()
}

/// Fits the model and judges every cup that could be measured; returns the weight of each kind of light.
fn judge(frame: &Frame, request: &Request, taken: &Taken, cups: &[&CupSamples], readings: &mut [CupReading]) -> Vec<(&'static str, f64)> {
    let card = taken.card.as_ref().map(|card| (card, request.card_reflectance.value()));
    let measured = estimate::measured(card, cups);
    let hypotheses = model::hypothesis::all(frame.space(), request.light.kind());
    let Some(found) = estimate::estimate(&hypotheses, request.indicator, &measured) else {
        return Vec::new();
    };
    let measurable = readings.iter_mut().zip(&taken.cups).filter(|(_, samples)| samples.is_some());
    for ((reading, _), cup) in measurable.zip(&found.cups) {
        verdict::judge(request, cup, found.rival, reading);
    }
    LightKind::ALL
        .iter()
        .map(|kind| {
            let weight = hypotheses.iter().zip(&found.weights).filter(|(h, _)| h.kind == *kind).map(|(_, w)| w).sum();
            (kind.name(), weight)
        })
        .collect()
}
