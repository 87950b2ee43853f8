//! The text of a profile: versioned TOML that people can read.

use super::ProfileError;
use crate::colour::generic::LightKind;
use crate::indicator::{Indicator, catalogue};
use crate::measurement::profile::{BufferSeen, Evidence, PhotoSeen, Point, Profile, Seen};
use crate::quantity::{Celsius, Interval, IonicStrength, Ph};
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Version of the format; raised when a key changes its meaning.
pub(super) const VERSION: u32 = 1;
/// The word that tells a profile from any other TOML file.
const KIND: &str = "tintpoint profile";

#[derive(Serialize, Deserialize)]
struct File {
    kind: String,
    version: u32,
    indicator: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    date: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    camera: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    light: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    lot: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    note: Option<String>,
    temperature: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    leave_one_out_rms: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    interval: Option<f64>,
    #[serde(rename = "point", default)]
    points: Vec<PointFile>,
    #[serde(rename = "photo", default)]
    photos: Vec<PhotoFile>,
}

#[derive(Serialize, Deserialize)]
struct PointFile {
    photo: usize,
    cup: usize,
    ph: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    read: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    residual: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<f64>,
    used: bool,
}

#[derive(Serialize, Deserialize)]
struct PhotoFile {
    to_srgb: [[f64; 3]; 3],
    #[serde(skip_serializing_if = "Option::is_none")]
    card: Option<CardFile>,
    #[serde(rename = "cup", default)]
    cups: Vec<CupFile>,
}

#[derive(Serialize, Deserialize)]
struct CardFile {
    reflectance: f64,
    rgb: [f64; 3],
    noise: [f64; 3],
}

#[derive(Serialize, Deserialize)]
struct CupFile {
    ph: f64,
    ph_sd: f64,
    ionic_strength: f64,
    used: bool,
    #[serde(skip_serializing_if = "Option::is_none")]
    white: Option<ColourFile>,
    rings: Vec<RingFile>,
}

#[derive(Serialize, Deserialize)]
struct ColourFile {
    rgb: [f64; 3],
    noise: [f64; 3],
}

#[derive(Serialize, Deserialize)]
struct RingFile {
    square: f64,
    rgb: [f64; 3],
    noise: [f64; 3],
}

/// Rounds to so many places: what follows is noise and makes the file hard to read.
fn rounded(value: f64, places: i32) -> f64 {
    let scale = 10f64.powi(places);
    (value * scale).round() / scale
}

/// Places kept of encoded colours: a hundredth of the noise.
const PLACES: i32 = 6;

fn colour(seen: &Seen) -> ([f64; 3], [f64; 3]) {
    (seen.value.map(|v| rounded(v, PLACES)), seen.noise.map(|v| rounded(v, PLACES)))
}

/// The text of a profile.
///
/// # Errors
/// What the writer of TOML says, which cannot happen for checked figures.
pub(super) fn text(profile: &Profile) -> Result<String, toml::ser::Error> {
    let evidence = profile.evidence.clone();
    let places = |v: f64| rounded(v, 4);
    let round = |point: &Point| Point {
        read: point.read.map(places),
        interval: Interval { low: point.interval.low.map(places), high: point.interval.high.map(places) },
        ..point.clone()
    };
    // Figures that follow from others follow from them as they are written.
    let profile = Profile { points: profile.points.iter().map(round).collect(), ..profile.clone() };
    let file = File {
        kind: KIND.to_owned(),
        version: VERSION,
        indicator: evidence.indicator.name.to_owned(),
        date: profile.date.clone(),
        camera: profile.camera.clone(),
        light: evidence.light.map(|kind| kind.name().to_owned()),
        lot: profile.lot.clone(),
        note: profile.note.clone(),
        temperature: evidence.temperature.value(),
        leave_one_out_rms: profile.left_out_rms().map(|v| rounded(v, 4)),
        interval: profile.promise().map(|v| rounded(v, 4)),
        points: profile.points.iter().map(point_file).collect(),
        photos: evidence.photos.iter().map(photo_file).collect(),
    };
    let body = toml::to_string(&file)?;
    Ok(format!(
        "# What `tintpoint calibrate` saw: the colours of buffers of known pH. `point` tells what the other buffers make of each;\n\
         # `photo` holds the colours (R G B, 0 to 1) that readings rest on. `interval` is half of a 95 % interval in pH.\n{body}"
    ))
}

fn point_file(point: &Point) -> PointFile {
    PointFile {
        photo: point.photo,
        cup: point.cup,
        ph: point.ph,
        read: point.read,
        residual: point.error().map(|v| rounded(v, 4)),
        low: point.interval.low,
        high: point.interval.high,
        used: point.is_used,
    }
}

fn photo_file(photo: &PhotoSeen) -> PhotoFile {
    PhotoFile {
        to_srgb: photo.to_srgb,
        card: photo.card.as_ref().map(|(reflectance, seen)| {
            let (rgb, noise) = colour(seen);
            CardFile { reflectance: *reflectance, rgb, noise }
        }),
        cups: photo.cups.iter().map(cup_file).collect(),
    }
}

fn cup_file(cup: &BufferSeen) -> CupFile {
    let ring = |(square, seen): &(f64, Seen)| {
        let (rgb, noise) = colour(seen);
        RingFile { square: rounded(*square, PLACES), rgb, noise }
    };
    CupFile {
        ph: cup.ph.value(),
        ph_sd: cup.ph_sd,
        ionic_strength: cup.ionic_strength.value(),
        used: cup.is_used,
        white: cup.white.as_ref().map(|seen| {
            let (rgb, noise) = colour(seen);
            ColourFile { rgb, noise }
        }),
        rings: cup.rings.iter().map(ring).collect(),
    }
}

/// A profile from its text.
pub(super) fn parsed(text: &str, path: &Path) -> Result<Profile, ProfileError> {
    let foreign = || ProfileError::Foreign { path: path.to_owned() };
    let damaged = |problem: String| ProfileError::Damaged { path: path.to_owned(), problem };
    // The head first: what is wrong further down may be the way of a newer version.
    let table: toml::Table = match text.parse() {
        Ok(table) => table,
        Err(error) if text.contains(KIND) => return Err(damaged(first_line(&error))),
        Err(_) => return Err(foreign()),
    };
    if table.get("kind").and_then(toml::Value::as_str) != Some(KIND) {
        return Err(foreign());
    }
    match table.get("version").and_then(toml::Value::as_integer) {
        Some(version) if version == i64::from(VERSION) => {}
        Some(version) if version > i64::from(VERSION) => {
            return Err(ProfileError::Newer { path: path.to_owned(), version: u32::try_from(version).unwrap_or(u32::MAX) });
        }
        _ => return Err(damaged("it has no version that was ever written".to_owned())),
    }
    let file: File = toml::from_str(text).map_err(|error| damaged(first_line(&error)))?;
    profile(file).map_err(damaged)
}

fn first_line(error: &toml::de::Error) -> String {
    error.message().lines().next().unwrap_or_default().to_owned()
}

fn profile(file: File) -> Result<Profile, String> {
    let indicator: &'static Indicator =
        catalogue::find(&file.indicator).ok_or_else(|| format!("`{}` is no indicator of this program", file.indicator))?;
    let light = match file.light {
        None => None,
        Some(name) => {
            Some(LightKind::ALL.into_iter().find(|kind| kind.name() == name).ok_or_else(|| format!("`{name}` is no kind of light"))?)
        }
    };
    let temperature = Celsius::new(file.temperature).map_err(|e| e.to_string())?;
    let photos = file.photos.into_iter().map(photo).collect::<Result<Vec<_>, _>>()?;
    if photos.iter().all(|photo| photo.cups.is_empty()) {
        return Err("it holds no buffers".to_owned());
    }
    let points = file.points.into_iter().map(|point| Point {
        photo: point.photo,
        cup: point.cup,
        ph: point.ph,
        read: point.read,
        interval: Interval { low: point.low, high: point.high },
        is_used: point.used,
    });
    let evidence = Evidence { indicator, light, temperature, photos };
    Ok(Profile { date: file.date, camera: file.camera, lot: file.lot, note: file.note, evidence, points: points.collect() })
}

/// A colour whose figures are possible.
fn seen(rgb: [f64; 3], noise: [f64; 3]) -> Result<Seen, String> {
    let is_colour = rgb.iter().all(|v| (-0.01..=1.01).contains(v));
    let is_noise = noise.iter().all(|v| (0.0..=1.0).contains(v));
    if is_colour && is_noise { Ok(Seen { value: rgb, noise }) } else { Err(format!("{rgb:?} with noise {noise:?} is no colour")) }
}

fn photo(file: PhotoFile) -> Result<PhotoSeen, String> {
    if !file.to_srgb.iter().flatten().all(|v| v.is_finite() && v.abs() < 100.0) {
        return Err("`to_srgb` is no matrix between colour spaces".to_owned());
    }
    let card = match file.card {
        None => None,
        Some(card) if card.reflectance > 0.0 && card.reflectance <= 1.0 => Some((card.reflectance, seen(card.rgb, card.noise)?)),
        Some(card) => return Err(format!("a card of reflectance {} does not exist", card.reflectance)),
    };
    Ok(PhotoSeen { to_srgb: file.to_srgb, card, cups: file.cups.into_iter().map(cup).collect::<Result<_, _>>()? })
}

fn cup(file: CupFile) -> Result<BufferSeen, String> {
    if !(file.ph_sd > 0.0 && file.ph_sd <= 7.0) {
        return Err(format!("`ph_sd` {} is not above 0 and up to 7", file.ph_sd));
    }
    let ring = |ring: RingFile| -> Result<(f64, Seen), String> {
        if (0.0..=1.0).contains(&ring.square) {
            Ok((ring.square, seen(ring.rgb, ring.noise)?))
        } else {
            Err(format!("`square` {} is not from 0 to 1", ring.square))
        }
    };
    Ok(BufferSeen {
        ph: Ph::new(file.ph).map_err(|e| e.to_string())?,
        ph_sd: file.ph_sd,
        ionic_strength: IonicStrength::new(file.ionic_strength).map_err(|e| e.to_string())?,
        is_used: file.used,
        rings: file.rings.into_iter().map(ring).collect::<Result<_, _>>()?,
        white: file.white.map(|white| seen(white.rgb, white.noise)).transpose()?,
    })
}
