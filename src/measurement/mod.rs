//! The pipeline: one photo in, one [`reading::Reading`] out.

pub mod appearance;
pub mod check;
pub mod estimate;
pub mod frame;
pub mod model;
pub mod panel;
pub mod posterior;
pub mod profile;
pub mod quality;
pub mod reading;
pub mod regions;
pub mod request;
pub mod rival;
pub mod samples;
mod search;
pub mod share;
pub mod state;
pub mod verdict;
pub mod warning;

use estimate::Content;
use frame::Frame;
use model::hypothesis::Hypothesis;
use reading::{CupReading, LightReport, Reading};
use regions::Regions;
use request::{Contents, Request};
use samples::{CardSamples, CupSamples};
use warning::Notice;

use crate::colour::generic::LightKind;
use crate::colour::tone::srgb_decode;
use crate::indicator::Indicator;

/// What was taken from the picture.
#[derive(Debug)]
struct Taken {
    /// `None` for a card that was not found, or is too small.
    card: Option<CardSamples>,
    /// `None` for a cup that cannot be measured.
    cups: Vec<Option<CupSamples>>,
    /// Encoded white of a placement sheet's paper, as it would be in the card's light.
    paper: Option<[f64; 3]>,
}

/// Reflectance by the card's from which a surface beside a cup passes for white: paper and ware have 0.8 to 0.9 (common practice), in
/// the shade of a cup a third less.
const LEAST_WHITE: f64 = 0.55;

impl Taken {
    /// Drops what is bright beside a cup but, by the card, not white: where water shows the ground, nothing needs to be.
    fn keep_white(&mut self, card_reflectance: f64) {
        let Some(card) = &self.card else { return };
        let full = srgb_decode(card.whole.value[1]).max(1e-3) / card_reflectance;
        for cup in self.cups.iter_mut().flatten() {
            if cup.white.is_some_and(|white| srgb_decode(white.value[1]) < LEAST_WHITE * full) {
                (cup.white, cup.white_halves) = (None, None);
            }
        }
    }
}

/// Reads one photo: finds card and cups (unless told), measures, judges.
#[must_use]
pub fn read(frame: &Frame, request: &Request) -> Reading {
    let Survey { mut reading, taken } = survey(frame, request);
    if !reading.warnings.iter().any(Notice::refuses) {
        judge(frame, request, &taken, &mut reading);
    }
    reading
}

/// What is to see in a photo, before anything is made of it.
#[derive(Debug)]
pub struct Survey {
    /// Places, colours, quality and warnings; nothing is judged.
    pub reading: Reading,
    taken: Taken,
}

impl Survey {
    /// What the card shows; `None` when it was not found or is too small.
    #[must_use]
    pub fn card(&self) -> Option<&CardSamples> {
        self.taken.card.as_ref()
    }

    /// What each cup shows, in the order of the reading; `None` for one that cannot be measured.
    #[must_use]
    pub fn cups(&self) -> &[Option<CupSamples>] {
        &self.taken.cups
    }
}

/// Finds card and cups (unless told), measures them, and looks whether the photo is good enough.
#[must_use]
pub fn survey(frame: &Frame, request: &Request) -> Survey {
    let small = frame.reduced(regions::LONGEST);
    let regions = regions::find(frame, &small, request);
    let (mut taken, overall) = share::beside(
        || take(frame, &regions),
        || {
            // Wanted later, and nothing but the thread is needed for it.
            model::hypothesis::prepare();
            quality::Overall::of(&small)
        },
    );
    if !request.contents.blanks.is_empty() {
        taken.keep_white(request.card_reflectance.value());
    }
    let seen: Vec<&CupSamples> = taken.cups.iter().flatten().collect();
    let quality = quality::assess(taken.card.as_ref(), &seen, &overall);
    let mut warnings = regions.notices.clone();
    if regions.card.is_some() && taken.card.is_none() {
        warnings.push(Notice::CardMissing);
    }
    warnings.extend(quality::refusals(&quality, taken.card.as_ref()));
    warnings.extend(counted(&request.contents, regions.highest_number()));
    let reading = Reading {
        width: frame.upright_width(),
        height: frame.upright_height(),
        card: regions.card,
        sheet: regions.sheet.clone(),
        light: LightReport { told: request.light.kind().map(|kind| kind.name()), weights: Vec::new() },
        quality,
        cups: describe(frame, request, &regions, &taken, &warnings),
        panel: request.contents.is_panel.then(|| panel::unjudged(Notice::PanelEmpty)),
        warnings,
        limits: request.limits,
    };
    Survey { reading, taken }
}

fn take(frame: &Frame, regions: &Regions) -> Taken {
    let (cups, card) = share::beside(
        || share::map(&regions.cups, |cup| samples::cup(frame, cup)),
        || regions.card.as_ref().and_then(|card| samples::card(frame, card)),
    );
    Taken { card, cups, paper: regions.sheet.as_ref().and_then(|sheet| sheet.paper) }
}

/// What is to be said when cups were named that are not there.
fn counted(contents: &Contents, found: usize) -> Vec<Notice> {
    // No cup at all has a notice of its own.
    if found == 0 {
        return Vec::new();
    }
    let names = contents.miscounted(found).map(|named| Notice::CupCount { named, found });
    let labels = contents.mislabelled(found).map(|named| Notice::LabelCount { named, found });
    names.into_iter().chain(labels).collect()
}

/// What is plain to see of each cup: place, rings, colour.
fn describe(frame: &Frame, request: &Request, regions: &Regions, taken: &Taken, warnings: &[Notice]) -> Vec<CupReading> {
    let card = taken.card.as_ref().map(|card| (&card.whole, request.card_reflectance.value()));
    let contents = &request.contents;
    let is_labelled = !warnings.iter().any(|notice| matches!(notice, Notice::LabelCount { .. }));
    regions
        .cups
        .iter()
        .zip(&taken.cups)
        .enumerate()
        .map(|(index, (region, samples))| {
            let number = regions.number(index);
            let mut reading = CupReading::unjudged(number, region, contents.dye(number).name);
            reading.label = contents.label(number).filter(|_| is_labelled).map(str::to_owned);
            reading.light = regions.lights.get(index).copied().flatten();
            match samples {
                Some(samples) => appearance::describe(frame.space(), card, samples, &mut reading),
                None => reading.reasons.push(Notice::CupUnusable),
            }
            if contents.is_blank(number) && samples.is_some() {
                // Without white beside it water cannot be told from what it stands on.
                let is_beside_white = samples.as_ref().is_some_and(|samples| samples.white.is_some());
                reading.reasons.push(if is_beside_white { blank(&reading) } else { Notice::Blank });
            }
            reading
        })
        .collect()
}

/// A cup that was told to be plain water with a density above this is not: a white cup in the shade of its own wall reaches half of it.
const MOST_BLANK: f64 = 0.15;

/// Is the water as clear as was told?
fn blank(reading: &CupReading) -> Notice {
    let [red, green, blue] = reading.density.unwrap_or_default();
    let density = red.max(green).max(blue);
    if density > MOST_BLANK { Notice::BlankColoured { density } } else { Notice::Blank }
}

/// Fits the model and judges every cup that could be measured.
fn judge(frame: &Frame, request: &Request, taken: &Taken, reading: &mut Reading) {
    let contents = &request.contents;
    let mut dyes: Vec<&'static Indicator> = Vec::new();
    let mut numbers = Vec::new();
    let mut cups = Vec::new();
    let mut lights = Vec::new();
    for (cup, samples) in reading.cups.iter().zip(&taken.cups) {
        let Some(samples) = samples else { continue };
        let content = if cup.reasons.contains(&Notice::Blank) {
            Content::Water
        } else if contents.is_blank(cup.number) {
            continue;
        } else {
            let dye = contents.dye(cup.number);
            let known = dyes.iter().position(|known| known.name == dye.name);
            Content::Dyed(known.unwrap_or_else(|| {
                dyes.push(dye);
                dyes.len() - 1
            }))
        };
        numbers.push(cup.number);
        cups.push((samples, content));
        lights.push(cup.light);
    }
    let card = taken.card.as_ref().map(|card| (card, request.card_reflectance.value()));
    let mut measured = estimate::measured(card, &cups);
    if card.is_some() {
        estimate::add_light(&mut measured, &lights, taken.paper);
    }
    let calibrated = request.calibrated.as_deref().filter(|calibrated| calibrated.is_for(&dyes));
    let (hypotheses, priors) = match calibrated {
        Some(calibrated) => {
            let (hypotheses, priors) = calibrated.hypotheses(frame.space(), request.light.kind());
            (hypotheses, Some(priors))
        }
        None => (model::hypothesis::all(frame.space(), request.light.kind()), None),
    };
    let fitted = |measured: &model::fit::Measured| estimate::estimate_from(&hypotheses, priors.as_deref(), &dyes, measured);
    let Some(mut found) = fitted(&measured) else {
        return;
    };
    reading.warnings.extend(told_profile(request, calibrated));
    if let Some((calibrated, (number, ph))) = calibrated.zip(request.check) {
        let place = numbers.iter().position(|n| *n == number);
        let notice = check::judge(request, calibrated, number, ph, place.map(|place| &found.cups[place]));
        let is_refused = notice.refuses();
        reading.warnings.push(notice);
        if is_refused {
            return;
        }
        measured.anchors = (0..cups.len()).map(|k| (Some(k) == place).then(|| calibrated.anchor(ph, request.temperature))).collect();
        found = fitted(&measured).unwrap_or(found);
    }
    let salt_unsure = calibrated.map(|calibrated| calibrated.salt_unsure(request.ionic_strength, request.temperature));
    for ((number, (_, content)), cup) in numbers.iter().zip(&cups).zip(&found.cups) {
        if *content == Content::Water {
            continue;
        }
        if let Some(judged) = reading.cups.iter_mut().find(|judged| judged.number == *number) {
            let dye = contents.dye(*number);
            verdict::judge(request, cup, salt_unsure.unwrap_or(dye.pka_sd), judged);
        }
    }
    if contents.is_panel {
        reading.panel = Some(panel::judge(request, &found, &numbers, &reading.cups, salt_unsure));
    }
    reading.light.weights = weights_of_kinds(&hypotheses, &found.weights);
}

/// What is to be said of the profile that was asked for.
fn told_profile(request: &Request, used: Option<&profile::Calibrated>) -> Option<Notice> {
    let asked = request.calibrated.as_deref()?;
    Some(match used {
        Some(used) => used.notice(request.ionic_strength, request.temperature),
        None => Notice::OtherProfile { name: asked.name.clone(), indicator: asked.indicator.name },
    })
}

/// Weight of each kind of light.
fn weights_of_kinds(hypotheses: &[Hypothesis], weights: &[f64]) -> Vec<(&'static str, f64)> {
    LightKind::ALL
        .iter()
        .map(|kind| (kind.name(), hypotheses.iter().zip(weights).filter(|(h, _)| h.kind == *kind).map(|(_, w)| w).sum()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::space::PhotoSpace;
    use approx::assert_abs_diff_eq;

    // Every kind is told with all that speaks for it, also when that is nothing.
    #[test]
    fn the_weight_of_a_kind_is_that_of_its_lights() {
        let hypotheses = model::hypothesis::all(&PhotoSpace::srgb(), None);
        let first = |kind: LightKind| hypotheses.iter().position(|h| h.kind == kind).unwrap();
        let mut weights = vec![0.0; hypotheses.len()];
        weights[first(LightKind::Led)] = 0.5;
        weights[first(LightKind::Led) + 1] = 0.2;
        weights[first(LightKind::Daylight)] = 0.3;
        let found = weights_of_kinds(&hypotheses, &weights);
        assert_eq!(found.iter().map(|(name, _)| *name).collect::<Vec<_>>(), LightKind::ALL.map(LightKind::name));
        for (kind, (_, weight)) in LightKind::ALL.into_iter().zip(found) {
            let wanted = if kind == LightKind::Led {
                0.7
            } else if kind == LightKind::Daylight {
                0.3
            } else {
                0.0
            };
            assert_abs_diff_eq!(weight, wanted, epsilon = 1e-12);
        }
    }
}
