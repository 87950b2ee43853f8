//! A row of buffers, seen in one photo or several: which cup is which, which of them can be used, and what the rest proves.

use super::order::{Arrangement, arrange};
use crate::colour::generic::LightKind;
use crate::colour::space::PhotoSpace;
use crate::indicator::Indicator;
use crate::indicator::equilibrium::pka_at;
use crate::measurement::Survey;
use crate::measurement::posterior::{Statement, fraction};
use crate::measurement::profile::{BufferSeen, Calibrated, Evidence, PhotoSeen, Point};
use crate::measurement::regions::Circle;
use crate::measurement::warning::Notice;
use crate::quantity::{Celsius, IonicStrength, Ph, Reflectance};

/// What is known of one cup of buffer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rung {
    /// Its pH at the temperature of use.
    pub ph: Ph,
    /// Standard uncertainty of the pH, above 0.
    pub sd: f64,
    /// Its ionic strength.
    pub ionic_strength: IonicStrength,
}

/// Why there is no profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum CalibrationError {
    /// Another number of cups than of buffers.
    #[error("{told} buffers were told, but the photos show {found} cups")]
    Count {
        /// Buffers told.
        told: usize,
        /// Cups in all photos.
        found: usize,
    },
    /// The photo is not good enough.
    #[error("photo {photo} cannot be used: {}", codes(notices))]
    Unfit {
        /// Its number, from 1.
        photo: usize,
        /// Why.
        notices: Vec<Notice>,
    },
    /// A cup cannot be measured.
    #[error("cup {cup} of photo {photo} cannot be measured")]
    Cup {
        /// Number of the photo, from 1.
        photo: usize,
        /// Number of the cup, from 1.
        cup: usize,
    },
    /// The colours do not follow the pH in any order along the photo.
    #[error("the colours of photo {photo} do not follow the pH that was told; most at odds: {}", list(cups))]
    Unordered {
        /// Number of the photo, from 1.
        photo: usize,
        /// Numbers of the cups that are furthest off, from 1.
        cups: Vec<usize>,
    },
    /// Too many buffers contradict the others.
    #[error("the buffers contradict each other; most at odds: {}", list(cups))]
    Contradiction {
        /// Numbers of the cups over all photos, from 1.
        cups: Vec<usize>,
    },
    /// No light and camera explain the colours.
    #[error("no light and camera explain the colours of the buffers")]
    Unexplained,
}

fn codes(notices: &[Notice]) -> String {
    notices.iter().map(Notice::code).collect::<Vec<_>>().join(", ")
}

fn list(cups: &[usize]) -> String {
    let numbers: Vec<String> = cups.iter().map(usize::to_string).collect();
    format!("cup{} {}", if cups.len() == 1 { "" } else { "s" }, numbers.join(", "))
}

impl CalibrationError {
    /// The next thing to do.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            CalibrationError::Count { .. } => "give one pH for each cup, photo after photo, or say where the cups are with --cup",
            CalibrationError::Unfit { .. } | CalibrationError::Cup { .. } => {
                "take the photo again: even light, a grey card, whole cups, nothing clipped"
            }
            CalibrationError::Unordered { .. } => {
                "values follow the order of --cup, else the numbers that `tintpoint read` gives the cups; check order and buffers"
            }
            CalibrationError::Contradiction { .. } => "check the buffers: fresh, of the temperature told, with this indicator alone",
            CalibrationError::Unexplained => "check the name of the indicator and the reflectance of the card",
        }
    }
}

/// Something to be told of a calibration that succeeded.
#[derive(Debug, Clone, PartialEq)]
pub enum Finding {
    /// The cups of a photo were taken from left to right, or from top to bottom, against the numbers of a reading.
    Reordered {
        /// Number of the photo, from 1.
        photo: usize,
        /// True from left to right.
        is_across: bool,
    },
    /// A buffer contradicts the others and was left out: the pH told and what the others make of it.
    LeftOut {
        /// Number of the photo, from 1.
        photo: usize,
        /// Number of the cup, from 1.
        cup: usize,
        /// The pH told.
        ph: f64,
        /// What the others read; `None` for a bound.
        read: Option<f64>,
    },
    /// The buffers show only one side of the transition: base fractions from, to.
    Unspanned {
        /// Lowest base fraction.
        from: f64,
        /// Highest base fraction.
        to: f64,
    },
    /// Where the dye of a ladder was taken to turn, and where it did by the colours, pH with standard deviations.
    Turned {
        /// As taken.
        taken: f64,
        /// Its standard uncertainty.
        taken_sd: f64,
        /// By the colours.
        seen: f64,
        /// Its standard uncertainty.
        seen_sd: f64,
    },
    /// So few buffers that the built-in model carries most.
    Few {
        /// Buffers used.
        used: usize,
    },
}

/// Base fractions that a ladder should reach on either side to fix the scale: below and above, the dye still shows both forms.
const SPAN: (f64, f64) = (0.2, 0.8);
/// With this many buffers the dye, its pKa' and the camera's tone are all fitted freely.
const FREE: usize = 5;
/// A buffer is left out when the others contradict it by this many standard deviations,
const OUTLYING: f64 = 4.0;
/// and by at least this much, pH: below, the buffer itself may be off (common practice: opened bottles drift by 0.05 to 0.1).
const LEAST_OUTLYING: f64 = 0.15;
/// Fewest buffers of which one can be called the odd one.
const FEWEST_VOTERS: usize = 4;
/// Odd ones beyond this share of all make the calibration worthless.
const MOST_LEFT_OUT: f64 = 0.34;

/// Puts what was measured together with what is known of the buffers: rungs follow the cups photo by photo.
///
/// `is_told` when the places of the cups were told, whose order then stands.
///
/// # Errors
/// [`CalibrationError`] when a photo is not fit, numbers differ, or the colours follow the pH in no order.
pub fn evidence(
    indicator: &'static Indicator,
    light: Option<LightKind>,
    temperature: Celsius,
    card_reflectance: Reflectance,
    photos: &[(&PhotoSpace, &Survey)],
    rungs: &[Rung],
    is_told: bool,
) -> Result<(Evidence, Vec<Finding>), CalibrationError> {
    let mut evidence = Evidence { indicator, light, temperature, photos: Vec::new() };
    let mut findings = Vec::new();
    for (k, (_, survey)) in photos.iter().enumerate() {
        let notices: Vec<Notice> = survey.reading.warnings.iter().filter(|notice| notice.refuses()).cloned().collect();
        if !notices.is_empty() {
            return Err(CalibrationError::Unfit { photo: k + 1, notices });
        }
    }
    let found: usize = photos.iter().map(|(_, survey)| survey.cups().len()).sum();
    if found != rungs.len() {
        return Err(CalibrationError::Count { told: rungs.len(), found });
    }
    let mut rest = rungs;
    for (k, (space, survey)) in photos.iter().enumerate() {
        let (own, others) = rest.split_at(survey.cups().len());
        rest = others;
        let mut cups = Vec::new();
        for (number, (samples, rung)) in survey.cups().iter().zip(own).enumerate() {
            let samples = samples.as_ref().ok_or(CalibrationError::Cup { photo: k + 1, cup: number + 1 })?;
            cups.push(BufferSeen::new(samples, rung.ph, rung.sd, rung.ionic_strength));
        }
        evidence.photos.push(PhotoSeen::new(space, survey.card().map(|card| (card, card_reflectance.value())), cups));
        let places: Vec<Circle> = survey.reading.cups.iter().map(|cup| cup.region.liquid).collect();
        findings.extend(order(&mut evidence, k, &places, own, is_told)?);
    }
    Ok((evidence, findings))
}

/// Gives the cups of a photo the pH in an order that their colours bear out.
fn order(
    evidence: &mut Evidence,
    photo: usize,
    places: &[Circle],
    rungs: &[Rung],
    is_told: bool,
) -> Result<Option<Finding>, CalibrationError> {
    if rungs.len() < 2 {
        return Ok(None);
    }
    let seen = evidence.fractions_unseen(photo).ok_or(CalibrationError::Unexplained)?;
    let told: Vec<f64> =
        rungs.iter().map(|rung| fraction(rung.ph.value(), pka_at(evidence.indicator, rung.ionic_strength, evidence.temperature))).collect();
    match arrange(&seen, &told, places, is_told) {
        Arrangement::AsNumbered => Ok(None),
        Arrangement::Along { is_across, cups } => {
            for (cup, rung) in cups.into_iter().zip(rungs) {
                let buffer = &mut evidence.photos[photo].cups[cup];
                (buffer.ph, buffer.ph_sd, buffer.ionic_strength) = (rung.ph, rung.sd, rung.ionic_strength);
            }
            Ok(Some(Finding::Reordered { photo: photo + 1, is_across }))
        }
        Arrangement::AtOdds { cups } => Err(CalibrationError::Unordered { photo: photo + 1, cups }),
    }
}

/// How far a buffer is from what the others make of it, and how well these fit without it.
#[derive(Debug, Clone, Copy)]
struct Off {
    /// In standard deviations.
    sds: f64,
    /// In pH.
    ph: f64,
    /// Cost of the fit of the others.
    cost: f64,
}

/// How far a buffer is from what the others make of it: in standard deviations and in pH.
fn contradiction(buffer: &BufferSeen, read: &Statement) -> (f64, f64) {
    let ph = buffer.ph.value();
    match (read.ph, read.interval.low, read.interval.high) {
        (Some(found), Some(low), Some(high)) => {
            // The 95 % interval is 1.96 standard deviations to either side.
            let sd = (if ph > found { high - found } else { found - low }) / 1.96;
            let off = (found - ph).abs();
            (off / sd.hypot(buffer.ph_sd).max(1e-3), off)
        }
        (_, low, high) => {
            let off = low.map_or(0.0, |low| low - ph).max(high.map_or(0.0, |high| ph - high)).max(0.0);
            // Beyond a bound by as much as leaves no doubt.
            (off / LEAST_OUTLYING * OUTLYING, off)
        }
    }
}

/// Fits, leaves out what contradicts, and says what came of it.
///
/// # Errors
/// [`CalibrationError::Contradiction`] when too many buffers are odd, [`CalibrationError::Unexplained`] when nothing fits.
pub fn calibrate(evidence: &mut Evidence) -> Result<(Calibrated, Vec<Point>, Vec<Finding>), CalibrationError> {
    let (points, mut findings) = agreed(evidence, points)?;
    let calibrated = Calibrated::new(evidence).ok_or(CalibrationError::Unexplained)?;
    let used = evidence.photos.iter().flat_map(|photo| &photo.cups).filter(|cup| cup.is_used);
    let fractions = used.map(|cup| fraction(cup.ph.value(), pka_at(evidence.indicator, cup.ionic_strength, evidence.temperature)));
    findings.extend(reach(&fractions.collect::<Vec<_>>()));
    Ok((calibrated, points, findings))
}

/// Leaves out one odd buffer after the other until the rest agrees; `judged` says how far each is off.
fn agreed(
    evidence: &mut Evidence,
    judged: impl Fn(&Evidence) -> Vec<(Point, Off)>,
) -> Result<(Vec<Point>, Vec<Finding>), CalibrationError> {
    let total: usize = evidence.photos.iter().map(|photo| photo.cups.len()).sum();
    let (mut findings, mut numbers) = (Vec::new(), Vec::new());
    loop {
        let points = judged(evidence);
        let Some(odd) = odd_one(&points) else { return Ok((points.into_iter().map(|(point, _)| point).collect(), findings)) };
        evidence.photos[odd.photo - 1].cups[odd.cup - 1].is_used = false;
        findings.push(Finding::LeftOut { photo: odd.photo, cup: odd.cup, ph: odd.ph, read: odd.read });
        numbers.push(evidence.photos[..odd.photo - 1].iter().map(|photo| photo.cups.len()).sum::<usize>() + odd.cup);
        if findings.len() as f64 > MOST_LEFT_OUT * total as f64 {
            return Err(CalibrationError::Contradiction { cups: numbers });
        }
    }
}

/// The buffer to leave out, if the others contradict any. An odd buffer makes its neighbours look odd as well; it is the one without
/// which the rest agrees best.
fn odd_one(points: &[(Point, Off)]) -> Option<&Point> {
    let used: Vec<&(Point, Off)> = points.iter().filter(|(point, _)| point.is_used).collect();
    let is_odd = |off: &Off| off.sds > OUTLYING && off.ph > LEAST_OUTLYING;
    if used.len() < FEWEST_VOTERS || !used.iter().any(|(_, off)| is_odd(off)) {
        return None;
    }
    used.into_iter().min_by(|a, b| a.1.cost.total_cmp(&b.1.cost)).map(|(point, _)| point)
}

/// What is to be said of a calibration by buffers of these base fractions.
fn reach(fractions: &[f64]) -> Vec<Finding> {
    let (from, to) = fractions.iter().fold((1.0f64, 0.0f64), |(low, high), &a| (low.min(a), high.max(a)));
    let unspanned = (from > SPAN.0 || to < SPAN.1).then_some(Finding::Unspanned { from, to });
    let few = (fractions.len() < FREE).then_some(Finding::Few { used: fractions.len() });
    unspanned.into_iter().chain(few).collect()
}

/// Every buffer as the others read it, and how far it is off.
fn points(evidence: &Evidence) -> Vec<(Point, Off)> {
    let mut all = Vec::new();
    for (p, photo) in evidence.photos.iter().enumerate() {
        for (c, cup) in photo.cups.iter().enumerate() {
            let left_out = evidence.left_out(p, c);
            let statement = left_out.map(|left_out| left_out.statement);
            let (sds, ph) = statement.as_ref().map_or((0.0, 0.0), |statement| contradiction(cup, statement));
            let off = Off { sds, ph, cost: left_out.map_or(f64::INFINITY, |left_out| left_out.cost) };
            let point = Point {
                photo: p + 1,
                cup: c + 1,
                ph: cup.ph.value(),
                read: statement.and_then(|s| s.ph),
                interval: statement.map_or(crate::quantity::Interval::OPEN, |s| s.interval),
                is_used: cup.is_used,
            };
            all.push((point, off));
        }
    }
    all
}

#[cfg(test)]
mod tests;
