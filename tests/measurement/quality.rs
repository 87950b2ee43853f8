//! Drawn photos with one thing wrong each: every fault has its notice, a good photo has none.

use super::table::{self, Table};
use tintpoint::measurement::quality::{Overall, Quality, assess, refusals};
use tintpoint::measurement::regions;
use tintpoint::measurement::samples::{card, cup};

fn judged(table: &Table) -> (Quality, Vec<&'static str>) {
    let frame = table::eight(&table.levels());
    let card = card(&frame, &table::card()).unwrap();
    let cups: Vec<_> = table::cups().iter().map(|region| cup(&frame, region).unwrap()).collect();
    let quality = assess(Some(&card), &cups.iter().collect::<Vec<_>>(), &Overall::of(&frame.reduced(regions::LONGEST)));
    let notices = refusals(&quality, Some(&card));
    assert!(notices.iter().all(|notice| notice.refuses()));
    (quality, notices.iter().map(|notice| notice.code()).collect())
}

#[test]
fn a_good_photo_gives_no_notice() {
    let (quality, codes) = judged(&Table::good());
    assert!(codes.is_empty(), "{codes:?}: {quality:?}");
    // White reflects 0.85 at an exposure of 0.7; eight bits round by half a level.
    assert!((quality.white.unwrap() - 0.7 * table::WHITE).abs() < 0.01, "{quality:?}");
    assert!(quality.card_clipped.unwrap() < 1e-9 && (quality.card_ratio.unwrap() - 1.0).abs() < 0.01, "{quality:?}");
    assert!((quality.balance.unwrap() - 1.0).abs() < 0.01 && quality.light_difference.unwrap() < 0.01, "{quality:?}");
}

#[test]
fn exposures_and_lamps_of_every_day_give_no_notice() {
    for exposure in [0.25, 0.5, 0.9] {
        let (quality, codes) = judged(&Table { exposure, ..Table::good() });
        assert!(codes.is_empty(), "exposure {exposure}: {codes:?}, {quality:?}");
    }
    // A filament lamp on a half-corrected balance, the same everywhere.
    let (quality, codes) = judged(&Table { light: |_, _| [1.2, 1.0, 0.55], ..Table::good() });
    assert!(codes.is_empty(), "warm light: {codes:?}, {quality:?}");
    // A tenth less light from one side of the table to the other.
    let (quality, codes) = judged(&Table { light: |x, _| [1.0 - 0.1 * x / table::WIDTH as f64; 3], ..Table::good() });
    assert!(codes.is_empty(), "fall-off: {codes:?}, {quality:?}");
}

#[test]
fn every_fault_has_its_notice() {
    let faults: [(&str, Table); 6] = [
        // The card itself (0.18) beyond full scale.
        ("card-clipped", Table { exposure: 8.0, ..Table::good() }),
        // Half the light on the left part of the card.
        ("card-shaded", Table { light: |x, _| if x < 60.0 { [0.5; 3] } else { [1.0; 3] }, ..Table::good() }),
        // A window on the right, a filament lamp on the left.
        ("mixed-light", Table { light: |x, _| [1.4 - 0.002 * x, 1.0, 0.6 + 0.002 * x], ..Table::good() }),
        ("too-dark", Table { exposure: 0.05, ..Table::good() }),
        ("blurred", Table { edge: 30.0, ..Table::good() }),
        ("safelight", Table { light: |_, _| [1.0, 0.08, 0.0], ..Table::good() }),
    ];
    for (code, table) in faults {
        let (quality, codes) = judged(&table);
        assert_eq!(codes, [code], "{quality:?}");
    }
}

#[test]
fn a_burnt_out_picture_without_a_card_counts_as_clipped() {
    let frame = table::eight(&Table { exposure: 8.0, ..Table::good() }.levels());
    let quality = assess(None, &[], &Overall::of(&frame.reduced(regions::LONGEST)));
    let codes: Vec<_> = refusals(&quality, None).iter().map(|notice| notice.code()).collect();
    assert_eq!(codes, ["card-clipped"], "{quality:?}");
}
