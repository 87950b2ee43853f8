//! What is found and read in the photos of `fixtures/`, figure by figure, as it was when it was last looked at. That is no check of what is true, for which there are
//! others: it shows a change that nobody meant. `TINTPOINT_REFRESH=1 cargo test --test golden` writes `readings.txt` anew.

use std::fmt::Write;
use std::fs;
use std::path::Path;
use tintpoint::measurement;
use tintpoint::measurement::reading::Reading;
use tintpoint::measurement::request::Request;

const PHOTOS: [&str; 5] = ["nearing.jpg", "row-of-cups.jpg", "warm-lamp.jpg", "safelight.jpg", "sheet.jpg"];
/// Figures may differ by this much and by this share: platforms round powers and sines differently. What turns on less is not meant to be seen.
const APART: (f64, f64) = (0.01, 1e-4);

/// One line: what, and its figures, `-` for none.
fn line(out: &mut String, what: &str, figures: impl IntoIterator<Item = Option<f64>>) {
    let figures: Vec<String> = figures.into_iter().map(|figure| figure.map_or("-".to_owned(), |v| format!("{v:.4}"))).collect();
    let _ = writeln!(out, "{}", format!("{what} {}", figures.join(" ")).trim_end());
}

fn told(name: &str, reading: &Reading) -> String {
    let mut out = String::new();
    if let Some(card) = &reading.card {
        let corners = card.corners.iter().flat_map(|(x, y)| [*x, *y]);
        line(&mut out, &format!("{name} card"), corners.chain([card.area.w, card.confidence]).map(Some));
    }
    let q = &reading.quality;
    let quality = [q.white, Some(q.burnt), q.balance, q.card_clipped, q.card_ratio, q.light_difference, q.edge.map(|edge| 100.0 * edge)];
    line(&mut out, &format!("{name} quality"), quality);
    let codes: Vec<&str> = reading.warnings.iter().map(|notice| notice.code()).collect();
    line(&mut out, &format!("{name} warnings {}", codes.join(",")), []);
    for cup in &reading.cups {
        let region = &cup.region;
        let place = [Some(region.liquid.x), Some(region.liquid.y), Some(region.liquid.radius), region.rim, Some(region.confidence)];
        line(&mut out, &format!("{name} place-{}", cup.number), place);
        let codes: Vec<&str> = cup.reasons.iter().map(|notice| notice.code()).collect();
        let what = format!("{name} cup-{} {:?} {}", cup.number, cup.state, codes.join(","));
        let chance = |of: fn(&measurement::reading::Chance) -> f64| cup.chance.as_ref().map(of);
        let figures = [cup.ph, cup.ph_low, cup.ph_high, cup.base_fraction, cup.dose, cup.stain, cup.misfit];
        line(
            &mut out,
            &what,
            figures.into_iter().chain(cup.density.into_iter().flatten().map(Some)).chain([
                chance(|c| c.fresh),
                chance(|c| c.nearing),
                chance(|c| c.spent),
            ]),
        );
        let drawn = |at: f64| cup.posterior.iter().find(|(ph, _)| (ph - at).abs() < 0.01).map(|(_, density)| *density);
        line(&mut out, &format!("{name} drawn-{}", cup.number), [drawn(5.0), drawn(5.5), drawn(6.0)]);
    }
    out
}

/// Whether two lines say the same.
fn is_same(was: &str, is: &str) -> bool {
    let (was, is): (Vec<&str>, Vec<&str>) = (was.split(' ').collect(), is.split(' ').collect());
    let same = |was: &str, is: &str| match (was.parse::<f64>(), is.parse::<f64>()) {
        (Ok(was), Ok(is)) => (was - is).abs() <= APART.0 + APART.1 * was.abs(),
        _ => was == is,
    };
    was.len() == is.len() && was.iter().zip(&is).all(|(was, is)| same(was, is))
}

#[test]
fn readings_of_the_fixtures() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let text: String = PHOTOS
        .iter()
        .map(|name| {
            let photo = tintpoint::photo::load(&root.join("fixtures").join(name)).unwrap();
            told(name, &measurement::read(&photo.frame, &Request::default()))
        })
        .collect();
    let kept = root.join("tests/golden/readings.txt");
    if std::env::var_os("TINTPOINT_REFRESH").is_some() {
        fs::write(&kept, &text).unwrap();
        panic!("readings.txt was written anew: look at what changed, then run without TINTPOINT_REFRESH");
    }
    let expected = fs::read_to_string(kept).unwrap();
    for (was, is) in expected.lines().zip(text.lines()) {
        assert!(is_same(was, is), "\nwas {was}\nis  {is}");
    }
    assert_eq!(expected.lines().count(), text.lines().count());
}
