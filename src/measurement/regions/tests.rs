//! Finding card and cups on drawn pictures.

use super::drawing::{Canvas, GREY, Level, PURPLE, SLATE, WHITE, YELLOW};
use super::*;

/// Slate table, card above, nothing else.
fn table() -> Canvas {
    let mut canvas = Canvas::new(600, 450, SLATE);
    canvas.sheet((150.0, 90.0), (130.0, 100.0), 0.0, GREY);
    canvas
}

fn find(canvas: &mut Canvas) -> Regions {
    locate(&canvas.grain(2.0).frame().reduced(LONGEST), &Request::default())
}

fn codes(regions: &Regions) -> Vec<&'static str> {
    regions.notices.iter().map(Notice::code).collect()
}

/// Centre within a twentieth of the radius, radius within 4 % below and 2 % above: rings must lie on liquid.
fn assert_at(cup: &CupRegion, x: f64, y: f64, radius: f64) {
    let off = (cup.liquid.x - x).hypot(cup.liquid.y - y);
    assert!(off < 0.05 * radius, "{cup:?} should be at {x}, {y}");
    assert!((0.96..1.02).contains(&(cup.liquid.radius / radius)), "{cup:?} should have radius {radius}");
}

#[test]
fn a_row_of_cups_is_numbered_from_the_left() {
    let found = find(table().cup(470.0, 300.0, 52.0, [150, 140, 110]).cup(120.0, 310.0, 45.0, PURPLE).cup(290.0, 290.0, 40.0, YELLOW));
    assert_eq!(found.cups.len(), 3, "{found:?}");
    assert_at(&found.cups[0], 120.0, 310.0, 45.0);
    assert_at(&found.cups[1], 290.0, 290.0, 40.0);
    assert_at(&found.cups[2], 470.0, 300.0, 52.0);
    assert!(codes(&found).is_empty());
    let rim = found.cups[0].rim.unwrap();
    assert!((1.2 * 45.0..1.5 * 45.0).contains(&rim), "{rim}");
}

#[test]
fn a_column_is_numbered_from_the_top_and_rows_one_after_the_other() {
    let column = find(table().cup(420.0, 340.0, 40.0, PURPLE).cup(430.0, 90.0, 40.0, YELLOW).cup(425.0, 215.0, 40.0, YELLOW));
    let down: Vec<f64> = column.cups.iter().map(|c| c.liquid.y.round()).collect();
    assert_eq!(down, [90.0, 215.0, 340.0]);
    let mut canvas = table();
    for (x, y) in [(330.0, 260.0), (120.0, 370.0), (110.0, 240.0), (540.0, 280.0), (340.0, 390.0), (550.0, 400.0)] {
        canvas.cup(x, y, 30.0, PURPLE);
    }
    let rows = find(&mut canvas);
    let across: Vec<f64> = rows.cups.iter().map(|c| c.liquid.x.round()).collect();
    assert_eq!(across, [110.0, 330.0, 540.0, 120.0, 340.0, 550.0]);
}

#[test]
fn the_card_is_found_at_any_angle_and_the_area_lies_on_it() {
    for degrees in [0.0, 12.0, 31.0, 45.0, 77.0] {
        let mut canvas = Canvas::new(600, 450, SLATE);
        canvas.sheet((420.0, 120.0), (140.0, 100.0), degrees, GREY).cup(160.0, 280.0, 60.0, PURPLE);
        let found = find(&mut canvas);
        let card = found.card.unwrap();
        let (s, c) = f64::to_radians(degrees).sin_cos();
        for (x, y) in corners(card.area) {
            let (u, v) = ((x - 420.0) * c + (y - 120.0) * s, (y - 120.0) * c - (x - 420.0) * s);
            assert!(u.abs() < 66.0 && v.abs() < 46.0, "{degrees} degrees: {card:?}");
        }
        assert!(card.area.w > 50.0, "{degrees} degrees: {card:?}");
    }
}

#[test]
fn what_is_missing_is_said() {
    let no_card = find(Canvas::new(600, 450, SLATE).cup(160.0, 280.0, 60.0, PURPLE));
    assert_eq!((no_card.cups.len(), codes(&no_card)), (1, vec!["card-missing"]));
    let no_cup = find(&mut table());
    assert!(no_cup.cups.is_empty() && codes(&no_cup).contains(&"cup-missing"), "{no_cup:?}");
}

#[test]
fn clutter_is_neither_card_nor_cup() {
    let kraft: Level = [150, 118, 86];
    let mut canvas = Canvas::new(600, 450, SLATE);
    canvas.sheet((330.0, 330.0), (240.0, 200.0), 4.0, WHITE).cup(330.0, 330.0, 50.0, YELLOW);
    canvas.sheet((110.0, 110.0), (130.0, 100.0), 20.0, kraft).disc(90.0, 330.0, 30.0, [24, 24, 26]).disc(500.0, 80.0, 22.0, [30, 28, 28]);
    let found = find(&mut canvas);
    assert_eq!(found.cups.len(), 1, "{found:?}");
    assert_at(&found.cups[0], 330.0, 330.0, 50.0);
    assert_eq!(codes(&found), ["card-missing"], "neither paper nor kraft is a grey card");
    let light_wood: Level = [214, 186, 150];
    let caps = find(Canvas::new(600, 450, light_wood).disc(200.0, 200.0, 40.0, [24, 24, 26]).disc(400.0, 300.0, 30.0, [90, 30, 30]));
    assert!(caps.cups.is_empty(), "{caps:?}");
}

#[test]
fn dots_of_a_cloth_are_no_cups() {
    let mut canvas = Canvas::new(600, 450, WHITE);
    for i in 0..12 {
        for j in 0..9 {
            canvas.disc(25.0 + 50.0 * f64::from(i), 25.0 + 50.0 * f64::from(j), 14.0, PURPLE);
        }
    }
    assert!(find(&mut canvas).cups.is_empty());
}

#[test]
fn water_in_a_white_vessel_shows_by_its_edge() {
    let found = find(table().cup(330.0, 300.0, 60.0, [216, 218, 215]));
    assert_eq!(found.cups.len(), 1, "{found:?}");
    assert_at(&found.cups[0], 330.0, 300.0, 60.0);
}

// A half-turned liquid under lilac light is grey, and a white rim on white paper may not be seen at all.
#[test]
fn a_grey_liquid_without_a_rim_is_the_next_of_its_row() {
    let grey: Level = [168, 170, 172];
    let paper = || {
        let mut canvas = Canvas::new(600, 450, SLATE);
        canvas.sheet((330.0, 260.0), (460.0, 320.0), 4.0, WHITE);
        canvas
    };
    let row = find(paper().cup(190.0, 200.0, 40.0, YELLOW).cup(330.0, 200.0, 42.0, PURPLE).disc(460.0, 200.0, 41.0, grey));
    assert_eq!(row.cups.len(), 3, "{row:?}");
    assert_at(&row.cups[2], 460.0, 200.0, 41.0);
    let of_another_size = find(paper().cup(190.0, 200.0, 40.0, YELLOW).cup(330.0, 200.0, 42.0, PURPLE).disc(460.0, 200.0, 26.0, grey));
    assert_eq!(of_another_size.cups.len(), 2, "{of_another_size:?}");
    let beside_one = find(paper().cup(190.0, 200.0, 40.0, YELLOW).disc(460.0, 200.0, 41.0, grey));
    assert_eq!(beside_one.cups.len(), 1, "{beside_one:?}");
}

// The fold where the wall begins may be a stronger edge than a half-turned liquid's own, and close to it.
#[test]
fn a_strong_fold_beside_a_weak_liquid_does_not_take_its_place() {
    let mut canvas = table();
    canvas.disc(330.0, 300.0, 84.0, WHITE).disc(330.0, 300.0, 67.0, [200, 202, 199]).disc(330.0, 300.0, 61.0, [192, 184, 182]);
    let found = find(&mut canvas);
    assert_eq!(found.cups.len(), 1, "{found:?}");
    assert_at(&found.cups[0], 330.0, 300.0, 61.0);
}

#[test]
fn glare_neither_hides_a_cup_nor_becomes_one() {
    let mut canvas = table();
    canvas.cup(330.0, 300.0, 60.0, PURPLE).disc(350.0, 285.0, 12.0, [255; 3]).disc(315.0, 320.0, 9.0, [255; 3]);
    let found = find(&mut canvas);
    assert_eq!(found.cups.len(), 1, "{found:?}");
    assert_at(&found.cups[0], 330.0, 300.0, 60.0);
}

#[test]
fn a_slanted_cup_gets_a_circle_that_stays_on_the_liquid() {
    let mut canvas = table();
    canvas.ellipse((330.0, 300.0), (84.0, 72.0), WHITE).ellipse((330.0, 300.0), (60.0, 52.0), PURPLE);
    let cup = find(&mut canvas).cups[0];
    assert!((cup.liquid.x - 330.0).hypot(cup.liquid.y - 300.0) < 3.0, "{cup:?}");
    assert!((48.0..53.0).contains(&cup.liquid.radius), "{cup:?}");
}

#[test]
fn coordinates_are_those_of_the_whole_photo() {
    let mut canvas = Canvas::new(1500, 1200, SLATE);
    canvas.sheet((400.0, 300.0), (340.0, 280.0), 8.0, GREY).cup(1000.0, 800.0, 130.0, PURPLE);
    let found = find(&mut canvas);
    assert_at(&found.cups[0], 1000.0, 800.0, 130.0);
    let card = found.card.unwrap().area;
    assert!((card.x + card.w / 2.0 - 400.0).abs() < 6.0 && (card.y + card.h / 2.0 - 300.0).abs() < 6.0, "{card:?}");
}

#[test]
fn what_is_given_is_taken_over_in_its_order() {
    let cups = vec![Circle { x: 300.0, y: 10.0, radius: 9.0 }, Circle { x: 20.0, y: 30.0, radius: 8.0 }];
    let mut asked = Request { cups, ..Request::default() };
    let found = locate(&table().frame().reduced(LONGEST), &asked);
    assert_eq!(found.cups.iter().map(|c| c.liquid).collect::<Vec<_>>(), asked.cups);
    assert!(found.card.is_some(), "the card is still looked for");
    asked.card = Some(Rectangle { x: 1.0, y: 2.0, w: 3.0, h: 4.0 });
    let given = locate(&table().frame().reduced(LONGEST), &asked);
    assert_eq!(given.card.unwrap().corners[2], (4.0, 6.0));
    assert!(given.notices.is_empty());
}

#[test]
fn pictures_with_nothing_in_them_give_nothing() {
    for (width, height) in [(1, 1), (1, 40), (7, 3), (23, 25), (64, 64), (2, 3000)] {
        for ground in [[0; 3], [128; 3], [255; 3]] {
            let found = locate(&Canvas::new(width, height, ground).frame().reduced(LONGEST), &Request::default());
            assert!(found.card.is_none() && found.cups.is_empty(), "{width} x {height}: {found:?}");
        }
    }
    let noise = locate(&Canvas::new(500, 400, [128; 3]).grain(120.0).frame().reduced(LONGEST), &Request::default());
    assert!(noise.card.is_none() && noise.cups.is_empty(), "{noise:?}");
}

#[test]
fn a_search_begun_ahead_is_the_same_or_given_up() {
    let small = table().cup(470.0, 300.0, 52.0, YELLOW).cup(120.0, 310.0, 45.0, PURPLE).frame().reduced(LONGEST);
    assert!(Search::unless(&AtomicBool::new(true), &small).is_none());
    let ahead = Search::unless(&AtomicBool::new(false), &small).unwrap();
    assert_eq!(ahead.circles, Search::begun(&small).circles);
    let none = Request::default();
    let found = searched(&small, &none, Some(ahead));
    assert_eq!(found.cups.len(), 2);
    assert_eq!((found.cups, found.card), (locate(&small, &none).cups, locate(&small, &none).card));
}
