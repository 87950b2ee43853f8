//! A ladder with made-up cups and opinions.

use super::*;
use crate::indicator::catalogue::usual;
use crate::measurement::frame::{Frame, Orientation, Samples};
use crate::measurement::profile::Seen;
use crate::measurement::regions::Rectangle;
use crate::measurement::request::Request;
use crate::measurement::survey;
use crate::quantity::{Interval, Ph};
use approx::assert_abs_diff_eq;

fn off(told: f64, found: Option<f64>, low: Option<f64>, high: Option<f64>) -> (f64, f64) {
    let (ph, ionic_strength) = (Ph::new(told).unwrap(), IonicStrength::new(0.1).unwrap());
    let buffer = BufferSeen { ph, ph_sd: 0.02, ionic_strength, is_used: true, rings: Vec::new(), white: None };
    contradiction(&buffer, &Statement { ph: found, interval: Interval { low, high }, median: found.unwrap_or(told) })
}

// By hand: 5.4 within 5.0 to 5.6 has 0.4 / 1.96 below and 0.2 / 1.96 above; with the buffer's own 0.02 as squares, 0.4 below it are 1.95 of these, 0.2 above 1.92.
#[test]
fn a_buffer_is_off_by_the_side_it_lies_on() {
    for (told, sds, ph) in [(5.0, 1.950, 0.4), (5.6, 1.923, 0.2), (5.4, 0.0, 0.0)] {
        let found = off(told, Some(5.4), Some(5.0), Some(5.6));
        assert_abs_diff_eq!(found.0, sds, epsilon = 1e-3);
        assert_abs_diff_eq!(found.1, ph, epsilon = 1e-9);
    }
}

// Beyond a bound by as much as a buffer may be off is as far as one may lie off; inside it says nothing.
#[test]
fn a_bound_speaks_of_what_lies_beyond() {
    for (told, low, high, sds, ph) in [
        (5.35, Some(5.5), None, OUTLYING, LEAST_OUTLYING),
        (5.2, Some(5.5), None, 2.0 * OUTLYING, 2.0 * LEAST_OUTLYING),
        (6.0, Some(5.5), None, 0.0, 0.0),
        (7.3, None, Some(7.0), 2.0 * OUTLYING, 2.0 * LEAST_OUTLYING),
        (6.9, None, Some(7.0), 0.0, 0.0),
        (6.9, None, None, 0.0, 0.0),
    ] {
        let found = off(told, None, low, high);
        assert_abs_diff_eq!(found.0, sds, epsilon = 1e-6);
        assert_abs_diff_eq!(found.1, ph, epsilon = 1e-9);
    }
}

#[test]
fn errors_name_cups_and_reasons() {
    let cups = |cups: &[usize]| CalibrationError::Contradiction { cups: cups.to_vec() }.to_string();
    assert!(cups(&[3]).ends_with(": cup 3") && cups(&[1, 4]).ends_with(": cups 1, 4"));
    let unfit = CalibrationError::Unfit { photo: 2, notices: vec![Notice::CardMissing, Notice::TooDark { white: 0.1 }] };
    assert_eq!(unfit.to_string(), "photo 2 cannot be used: card-missing, too-dark");
    assert!(unfit.hint().contains("even light") && CalibrationError::Unexplained.hint().contains("indicator"));
}

/// A buffer as the others are made to read it: sixth of each is whether it still counts.
fn judged(photo: usize, cup: usize, sds: f64, ph: f64, cost: f64, is_used: bool) -> (Point, Off) {
    let point = Point { photo, cup, ph: 6.0, read: Some(6.0 + ph), interval: Interval::OPEN, is_used };
    (point, Off { sds, ph, cost })
}

// Cup 2 is 0.3 off, its neighbour 0.2 as well because of it; without cup 2 the others fit best.
#[test]
fn the_odd_one_is_that_without_which_the_rest_agrees() {
    let mut points = vec![judged(1, 1, 0.5, 0.05, 9.0, true), judged(1, 2, 6.0, 0.3, 2.0, true), judged(2, 1, 7.0, 0.2, 8.0, true)];
    // Of three nobody can say which.
    assert_eq!(odd_one(&points), None);
    // One that is left out already does not vote, nor is it left out again.
    points.push(judged(2, 2, 9.0, 0.9, 1.0, false));
    assert_eq!(odd_one(&points), None);
    points.push(judged(2, 3, 0.1, 0.01, 9.5, true));
    assert_eq!(odd_one(&points).map(|point| (point.photo, point.cup)), Some((1, 2)));
}

// Four standard deviations and 0.15 pH are both needed, and at just as much nothing is odd yet.
#[test]
fn a_little_off_or_unsurely_off_is_not_odd() {
    let with = |sds: f64, ph: f64, is_used: bool| {
        let mut points: Vec<_> = (1..=5).map(|cup| judged(1, cup, 0.0, 0.0, 5.0, true)).collect();
        points.push(judged(1, 6, sds, ph, 1.0, is_used));
        odd_one(&points).map(|point| point.cup)
    };
    assert_eq!(with(4.1, 0.16, true), Some(6));
    assert_eq!((with(9.0, 0.14, true), with(3.9, 0.9, true), with(4.1, 0.16, false)), (None, None, None));
    assert_eq!((with(OUTLYING, 0.16, true), with(4.1, LEAST_OUTLYING, true)), (None, None));
}

/// Cups of pH 6 in photos of so many.
fn unread(cups: &[usize]) -> Evidence {
    let (ph, ionic_strength) = (Ph::new(6.0).unwrap(), IonicStrength::new(0.1).unwrap());
    let cup = BufferSeen { ph, ph_sd: 0.02, ionic_strength, is_used: true, rings: Vec::new(), white: None };
    let photo = |&count: &usize| PhotoSeen { to_srgb: PhotoSpace::srgb().to_srgb, card: None, cups: vec![cup.clone(); count] };
    Evidence { indicator: usual(), light: None, temperature: Celsius::STANDARD, photos: cups.iter().map(photo).collect() }
}

/// Opinions under which these cups (photo and cup, from 1) are odd as long as they are used.
fn odd(those: &'static [(usize, usize)]) -> impl Fn(&Evidence) -> Vec<(Point, Off)> {
    move |evidence| {
        let cups = evidence.photos.iter().enumerate().flat_map(|(p, photo)| photo.cups.iter().enumerate().map(move |(c, cup)| (p, c, cup)));
        cups.map(|(p, c, cup)| {
            let (sds, ph, cost) = if those.contains(&(p + 1, c + 1)) { (8.0, 0.4, 1.0) } else { (0.2, 0.01, 5.0) };
            judged(p + 1, c + 1, sds, ph, cost, cup.is_used)
        })
        .collect()
    }
}

// Two of six are a third, which may go; three may not. The cups of the second photo are counted on from the first.
#[test]
fn odd_buffers_are_left_out_up_to_a_third() {
    let mut evidence = unread(&[2, 4]);
    let (points, findings) = agreed(&mut evidence, odd(&[(1, 2), (2, 3)])).unwrap();
    let left_out = |photo: usize, cup: usize| Finding::LeftOut { photo, cup, ph: 6.0, read: Some(6.4) };
    assert_eq!(findings, [left_out(1, 2), left_out(2, 3)]);
    let is_used =
        |evidence: &Evidence| -> Vec<bool> { evidence.photos.iter().flat_map(|photo| &photo.cups).map(|cup| cup.is_used).collect() };
    assert_eq!(is_used(&evidence), [true, false, true, true, false, true]);
    assert_eq!(points.iter().map(|point| point.is_used).collect::<Vec<_>>(), is_used(&evidence));

    let too_many = agreed(&mut unread(&[2, 4]), odd(&[(1, 2), (2, 1), (2, 3)])).unwrap_err();
    assert_eq!(too_many, CalibrationError::Contradiction { cups: vec![2, 3, 5] });
    let (points, findings) = agreed(&mut unread(&[2, 4]), odd(&[])).unwrap();
    assert!(findings.is_empty() && points.len() == 6);
}

// The dye shows both forms between 0.2 and 0.8; five buffers leave nothing to the built-in model.
#[test]
fn a_ladder_says_how_far_it_reaches() {
    assert_eq!(reach(&[0.1, 0.3, 0.5, 0.7, 0.9]), []);
    assert_eq!(reach(&[0.2, 0.3, 0.5, 0.7, 0.8]), []);
    assert_eq!(reach(&[0.5, 0.9, 0.1, 0.7]), [Finding::Few { used: 4 }]);
    let only = |from: f64, to: f64| vec![Finding::Unspanned { from, to }];
    assert_eq!(reach(&[0.25, 0.3, 0.5, 0.7, 0.9]), only(0.25, 0.9));
    assert_eq!(reach(&[0.1, 0.3, 0.5, 0.7, 0.75]), only(0.1, 0.75));
    assert_eq!(reach(&[0.95, 0.96, 0.97, 0.98, 0.99]), only(0.95, 0.99));
    assert_eq!(reach(&[0.01, 0.02]), [Finding::Unspanned { from: 0.01, to: 0.02 }, Finding::Few { used: 2 }]);
}

/// Colours of the dye before a bright sheet, encoded: acid and base, and what stands beside them.
const YELLOW: [u8; 3] = [214, 190, 40];
const PURPLE: [u8; 3] = [96, 30, 120];
const WHITE: [u8; 3] = [222, 224, 221];
const GREY: [u8; 3] = [108, 108, 108];

/// Places of as many cups in a row, and a photo of them with a grey card below.
fn table(liquids: &[[u8; 3]], card: [u8; 3]) -> (Frame, Request) {
    let (width, height) = (80 * liquids.len().max(2), 160);
    let cups: Vec<Circle> = (0..liquids.len()).map(|k| Circle { x: 40.0 + 80.0 * k as f64, y: 40.0, radius: 25.0 }).collect();
    let area = Rectangle { x: 20.0, y: 90.0, w: 100.0, h: 60.0 };
    let mut pixels = Vec::new();
    for (y, x) in (0..height).flat_map(|y| (0..width).map(move |x| (y as f64, x as f64))) {
        let cup = cups.iter().position(|cup| (x - cup.x).hypot(y - cup.y) < cup.radius);
        let is_card = x >= area.x && x < area.x + area.w && y >= area.y && y < area.y + area.h;
        pixels.extend(cup.map_or(if is_card { card } else { WHITE }, |cup| liquids[cup]));
    }
    let frame = Frame::new(width, height, Orientation::Upright, Samples::Eight(pixels.into()), PhotoSpace::srgb()).unwrap();
    (frame, Request { cups, card: Some(area), ..Request::default() })
}

fn rungs(all: &[f64]) -> Vec<Rung> {
    let rung = |(k, ph): (usize, &f64)| Rung {
        ph: Ph::new(*ph).unwrap(),
        sd: 0.01 * (k + 1) as f64,
        ionic_strength: IonicStrength::new(0.05 * (k + 1) as f64).unwrap(),
    };
    all.iter().enumerate().map(rung).collect()
}

/// What comes of photos whose cups were told to hold these.
fn of_photos(photos: &[(Frame, Request)], ph: &[f64], is_told: bool) -> Result<(Evidence, Vec<Finding>), CalibrationError> {
    let surveys: Vec<Survey> = photos.iter().map(|(frame, request)| survey(frame, request)).collect();
    let seen: Vec<(&PhotoSpace, &Survey)> = photos.iter().map(|(frame, _)| frame.space()).zip(&surveys).collect();
    evidence(usual(), None, Celsius::STANDARD, Reflectance::new(0.18).unwrap(), &seen, &rungs(ph), is_told)
}

#[test]
fn buffers_go_to_the_cups_photo_after_photo() {
    let photos = [table(&[YELLOW], GREY), table(&[PURPLE], GREY)];
    let (evidence, findings) = of_photos(&photos, &[4.0, 7.4], false).unwrap();
    assert!(findings.is_empty());
    let cups = evidence.photos.iter().map(|photo| (photo.cups.len(), photo.cups[0].ph.value(), photo.cups[0].rings[0].1.value));
    let level = |liquid: [u8; 3]| liquid.map(|level| f64::from(level) / 255.0);
    for ((count, ph, value), (wanted, liquid)) in cups.zip([(4.0, YELLOW), (7.4, PURPLE)]) {
        assert_eq!(count, 1);
        assert_abs_diff_eq!(ph, wanted);
        assert_abs_diff_eq!(value.as_slice(), level(liquid).as_slice(), epsilon = 1e-4);
    }
    let (reflectance, card) = evidence.photos[1].card.unwrap();
    assert_abs_diff_eq!(reflectance, 0.18);
    assert_abs_diff_eq!(card.value.as_slice(), level(GREY).as_slice(), epsilon = 1e-4);
}

#[test]
fn cups_and_buffers_must_be_as_many() {
    let photos = [table(&[YELLOW], GREY), table(&[PURPLE, PURPLE], GREY)];
    for told in [&[4.0, 7.4][..], &[4.0, 7.4, 7.4, 7.4]] {
        assert_eq!(of_photos(&photos, told, true).unwrap_err(), CalibrationError::Count { told: told.len(), found: 3 });
    }
}

// The white card clips in every channel; the cup hardly in the picture has no pixels.
#[test]
fn photos_and_cups_that_cannot_be_used_are_named() {
    let clipped = of_photos(&[table(&[YELLOW], GREY), table(&[PURPLE], [255; 3])], &[4.0, 7.4], false).unwrap_err();
    let CalibrationError::Unfit { photo: 2, notices } = &clipped else { panic!("{clipped:?}") };
    assert!(notices.iter().all(Notice::refuses) && notices.iter().any(|notice| notice.code() == "card-clipped"), "{notices:?}");

    let mut second = table(&[YELLOW, PURPLE], GREY);
    second.1.cups[1].x = 400.0;
    let outside = of_photos(&[table(&[YELLOW], GREY), second], &[4.0, 4.0, 7.4], false).unwrap_err();
    assert_eq!(outside, CalibrationError::Cup { photo: 2, cup: 2 });
}

/// pH, its uncertainty and ionic strength that each cup of the second photo came to have.
fn second_photo(liquids: &[[u8; 3]], ph: &[f64], is_told: bool) -> Result<(Vec<[f64; 3]>, Vec<Finding>), CalibrationError> {
    let mut photos = [table(&[YELLOW], GREY), table(liquids, GREY)];
    // Numbered from the right.
    photos[1].1.cups.reverse();
    let told: Vec<f64> = [4.0].iter().chain(ph).copied().collect();
    let (evidence, findings) = of_photos(&photos, &told, is_told)?;
    let cup = |cup: &BufferSeen| [cup.ph.value(), cup.ph_sd, cup.ionic_strength.value()];
    Ok((evidence.photos[1].cups.iter().map(cup).collect(), findings))
}

// The dye turns at about 6.1: yellow at 4.0, purple at 7.4. From the left the cups are yellow and purple, and were told in that order.
#[test]
fn buffers_told_along_the_row_go_to_the_cups_of_their_colour() {
    let (cups, findings) = second_photo(&[YELLOW, PURPLE], &[4.0, 7.4], false).unwrap();
    assert_eq!(findings, [Finding::Reordered { photo: 2, is_across: true }]);
    for (cup, wanted) in cups.iter().zip([[7.4, 0.03, 0.15], [4.0, 0.02, 0.10]]) {
        assert_abs_diff_eq!(cup.as_slice(), wanted.as_slice(), epsilon = 1e-12);
    }
    let (cups, findings) = second_photo(&[YELLOW, PURPLE], &[7.4, 4.0], false).unwrap();
    assert!(findings.is_empty());
    assert_abs_diff_eq!(cups[0][0], 7.4);
    let told = second_photo(&[YELLOW, PURPLE], &[4.0, 7.4], true).unwrap_err();
    assert_eq!(told, CalibrationError::Unordered { photo: 2, cups: vec![1, 2] });
    // A single cup has no order to doubt.
    assert!(second_photo(&[PURPLE], &[4.0], false).is_ok());
}

// Colours that no light explains: not a number.
#[test]
fn colours_without_explanation_are_refused() {
    let mut evidence = unread(&[1, 2]);
    let seen = Seen { value: [f64::NAN; 3], noise: [0.01; 3] };
    evidence.photos[0].cups[0].rings = vec![(0.1, seen)];
    let points = points(&evidence);
    assert_eq!(points.iter().map(|(point, _)| (point.photo, point.cup)).collect::<Vec<_>>(), [(1, 1), (2, 1), (2, 2)]);
    for (point, off) in &points {
        assert!(point.read.is_none() && point.interval == Interval::OPEN && off.cost.is_infinite() && off.sds.abs() + off.ph.abs() < 1e-12);
    }
    assert_eq!(calibrate(&mut evidence).unwrap_err(), CalibrationError::Unexplained);
}

/// The colour of a dye that turns at 6.1, by Beer's law in three broad bands: densities of the two forms, mixed by their shares.
fn turned(ph: f64) -> [u8; 3] {
    let base = 1.0 / (1.0 + 10f64.powf(6.1 - ph));
    [0, 1, 2].map(|c| {
        let density = |form: [u8; 3]| 2.2 * (f64::from(WHITE[c]) / f64::from(form[c])).log10();
        let mixed = (1.0 - base) * density(YELLOW) + base * density(PURPLE);
        (f64::from(WHITE[c]) * 10f64.powf(-mixed / 2.2)).round() as u8
    })
}

/// Calibrates on photos of cups of these pH that were told to have others.
fn calibrated(truth: &[&[f64]], told: &[f64]) -> Result<(Vec<Point>, Vec<Finding>), CalibrationError> {
    let photo = |cups: &&[f64]| table(&cups.iter().map(|ph| turned(*ph)).collect::<Vec<_>>(), GREY);
    let (mut evidence, _) = of_photos(&truth.iter().map(photo).collect::<Vec<_>>(), told, true)?;
    let (_, points, findings) = calibrate(&mut evidence)?;
    Ok((points, findings))
}

const LADDER: [f64; 6] = [4.4, 5.5, 5.9, 6.3, 6.7, 7.6];

/// A buffer whose dye is turning reads what it is, within a tenth, and says so; towards the ends the dye tells less.
fn assert_reads(point: &Point, truth: f64) {
    let read = point.read.unwrap();
    assert!((read - truth).abs() < 0.1, "{point:?}");
    assert!(point.interval.low.unwrap() < truth && truth < point.interval.high.unwrap(), "{point:?}");
}

#[test]
fn each_buffer_is_read_by_the_others() {
    let (points, findings) = calibrated(&[&LADDER], &LADDER).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    for (k, point) in points.iter().enumerate() {
        assert_eq!((point.photo, point.cup, point.is_used), (1, k + 1, true));
        assert_abs_diff_eq!(point.ph, LADDER[k]);
    }
    points[1..5].iter().zip(&LADDER[1..5]).for_each(|(point, truth)| assert_reads(point, *truth));
    assert!(points.is_sorted_by(|a, b| a.read < b.read), "{points:?}");
    let (points, findings) = calibrated(&[&LADDER[1..5]], &LADDER[1..5]).unwrap();
    assert_eq!((points.len(), findings), (4, vec![Finding::Few { used: 4 }]));
}

#[test]
fn a_buffer_told_a_unit_too_high_is_left_out() {
    let (points, findings) = calibrated(&[&LADDER], &[4.4, 5.5, 5.9, 7.3, 6.7, 7.6]).unwrap();
    let [Finding::LeftOut { photo: 1, cup: 4, ph, read: Some(read) }] = findings[..] else { panic!("{findings:?}") };
    assert_abs_diff_eq!(ph, 7.3);
    assert_abs_diff_eq!(read, 6.3, epsilon = 0.1);
    assert_eq!(points.iter().map(|point| point.is_used).collect::<Vec<_>>(), [true, true, true, false, true, true]);
    [1, 2, 3].into_iter().for_each(|k| assert_reads(&points[k], LADDER[k]));
}

// Cups of two photos, where the dye turns, come into one order; at the acid end so crude colours tell it within a photo only.
#[test]
fn photos_of_one_camera_read_each_others_buffers() {
    let (first, second) = ([5.2, 6.3, 7.2], [5.6, 5.9, 6.7]);
    let told = [first, second].concat();
    let (points, findings) = calibrated(&[&first, &second], &told).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(points.iter().map(|point| (point.photo, point.cup)).collect::<Vec<_>>(), [(1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3)]);
    let is_rising = |order: &[usize]| order.is_sorted_by(|a, b| points[*a].read < points[*b].read);
    assert!(is_rising(&[0, 1, 2]) && is_rising(&[3, 4, 5]) && is_rising(&[4, 1, 5, 2]), "{points:?}");
}
