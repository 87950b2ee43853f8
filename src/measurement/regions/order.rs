//! The numbering of cups: along the row, or row by row from the card on.
//!
//! A camera that looks straight down often does not know which side is up, so where there are several rows the card tells which is first.

/// A cup as the numbering sees it: centre and vessel radius, in pixels.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) size: f64,
}

/// Greatest tilt of rows that is still read as rows, degrees.
const GREATEST_TILT: i32 = 35;
/// What a row costs in units of a cup's size: fewer rows are tidier.
const BY_ROW: f64 = 0.6;
/// What a degree of tilt costs.
const BY_TILT: f64 = 0.01;
/// What a degree costs by which the rows do not lie across the way from the card to the cups: enough to choose between a row of two and
/// one cup behind, and a column of two and one cup beside it.
const BY_ASIDE: f64 = 0.01;

/// The indices of `spots` in their numbering; `card` is the middle of the grey card.
pub(super) fn numbering(spots: &[Spot], card: Option<(f64, f64)>) -> Vec<usize> {
    let mut order: Vec<usize> = (0..spots.len()).collect();
    if is_one_row(spots) {
        let wide = extent(spots, |s| s.x);
        let tall = extent(spots, |s| s.y);
        let place = |i: usize| if wide >= tall { spots[i].x } else { spots[i].y };
        order.sort_by(|&a, &b| place(a).total_cmp(&place(b)));
        return order;
    }
    rows(spots, card).into_iter().flatten().collect()
}

fn extent(spots: &[Spot], of: impl Fn(&Spot) -> f64) -> f64 {
    let (low, high) = spots.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)));
    (high - low).max(0.0)
}

/// All cups lie within about a vessel's radius of one straight line.
fn is_one_row(spots: &[Spot]) -> bool {
    if spots.len() < 3 {
        return true;
    }
    let n = spots.len() as f64;
    let (mx, my) = (spots.iter().map(|s| s.x).sum::<f64>() / n, spots.iter().map(|s| s.y).sum::<f64>() / n);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for s in spots {
        let (dx, dy) = (s.x - mx, s.y - my);
        xx += dx * dx;
        xy += dx * dy;
        yy += dy * dy;
    }
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let off = |s: &Spot| ((s.y - my) * angle.cos() - (s.x - mx) * angle.sin()).abs();
    spots.iter().all(|s| off(s) < 0.9 * mean_size(spots))
}

fn middle(spots: &[Spot]) -> (f64, f64) {
    let n = spots.len().max(1) as f64;
    (spots.iter().map(|s| s.x).sum::<f64>() / n, spots.iter().map(|s| s.y).sum::<f64>() / n)
}

fn mean_size(spots: &[Spot]) -> f64 {
    spots.iter().map(|s| s.size).sum::<f64>() / spots.len().max(1) as f64
}

/// Rows from the card on, without a card from the top, each from the left; or columns, each from the top, where the card lies beside
/// them. Taken at the tilt that gives the tidiest rows.
fn rows(spots: &[Spot], card: Option<(f64, f64)>) -> Vec<Vec<usize>> {
    let size = mean_size(spots).max(1e-9);
    let (x, y) = middle(spots);
    let away = card.map(|(cx, cy)| (x - cx, y - cy)).filter(|(dx, dy)| dx.hypot(*dy) > size);
    let turns: &[i32] = if away.is_some() { &[0, 90] } else { &[0] };
    let mut best: Option<(f64, Vec<Vec<usize>>)> = None;
    for (turn, tilt) in turns.iter().flat_map(|&turn| (-GREATEST_TILT..=GREATEST_TILT).map(move |tilt| (turn, tilt))) {
        let angle = f64::from(turn + tilt).to_radians();
        let (mut rows, spread) = rows_at(spots, angle, size);
        // Across the rows: down for rows, to the left for columns.
        let (across_x, across_y) = (-angle.sin(), angle.cos());
        let mut aside = 0.0;
        if let Some((dx, dy)) = away {
            let along = (dx * across_x + dy * across_y) / dx.hypot(dy);
            aside = along.abs().clamp(0.0, 1.0).acos().to_degrees();
            if along < 0.0 {
                rows.reverse();
            }
        }
        let cost = spread / size + BY_ROW * rows.len() as f64 + BY_TILT * f64::from(tilt.abs()) + BY_ASIDE * aside;
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, rows));
        }
    }
    best.map(|(_, rows)| rows).unwrap_or_default()
}

/// Rows across the given direction, and the root mean square distance of cups from the middle of their row.
fn rows_at(spots: &[Spot], angle: f64, size: f64) -> (Vec<Vec<usize>>, f64) {
    let down = |i: usize| spots[i].y * angle.cos() - spots[i].x * angle.sin();
    let along = |i: usize| spots[i].x * angle.cos() + spots[i].y * angle.sin();
    let mut order: Vec<usize> = (0..spots.len()).collect();
    order.sort_by(|&a, &b| down(a).total_cmp(&down(b)));
    let mut rows: Vec<Vec<usize>> = Vec::new();
    for i in order {
        match rows.last_mut() {
            Some(row) if row.last().is_some_and(|&last| down(i) - down(last) < 0.8 * size) => row.push(i),
            _ => rows.push(vec![i]),
        }
    }
    let mut square = 0.0;
    for row in &mut rows {
        let middle = row.iter().map(|&i| down(i)).sum::<f64>() / row.len() as f64;
        square += row.iter().map(|&i| (down(i) - middle).powi(2)).sum::<f64>();
        row.sort_by(|&a, &b| along(a).total_cmp(&along(b)));
    }
    (rows, (square / spots.len().max(1) as f64).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spots(places: &[(f64, f64)]) -> Vec<Spot> {
        places.iter().map(|&(x, y)| Spot { x, y, size: 10.0 }).collect()
    }

    #[test]
    fn two_cups_go_left_to_right_or_downwards() {
        assert_eq!(numbering(&spots(&[(90.0, 0.0), (10.0, 40.0)]), None), [1, 0]);
        assert_eq!(numbering(&spots(&[(10.0, 90.0), (30.0, 5.0)]), None), [1, 0]);
        assert!(numbering(&[], None).is_empty());
    }

    #[test]
    fn a_tilted_row_stays_one_row() {
        // Falls by 30 degrees: the first in x is the first in the row although it lies lowest.
        assert_eq!(numbering(&spots(&[(100.0, 0.0), (0.0, 58.0), (50.0, 29.0)]), None), [1, 2, 0]);
    }

    #[test]
    fn tilted_rows_are_read_as_rows() {
        // Two rows of three, turned by 20 degrees: by height alone the end of the lower row would come before the start of the upper.
        let turned = |u: f64, v: f64| {
            let (s, c) = 20f64.to_radians().sin_cos();
            (c * u + s * v, c * v - s * u)
        };
        let places = [turned(0.0, 0.0), turned(60.0, 0.0), turned(120.0, 0.0), turned(0.0, 35.0), turned(60.0, 35.0), turned(120.0, 35.0)];
        assert!(places[5].1 < places[0].1);
        assert_eq!(numbering(&spots(&places), None), [0, 1, 2, 3, 4, 5]);
    }

    #[test]
    fn the_row_beside_the_card_comes_first() {
        let places = [(0.0, 0.0), (60.0, 0.0), (120.0, 0.0), (0.0, 40.0), (60.0, 40.0), (120.0, 40.0)];
        assert_eq!(numbering(&spots(&places), Some((90.0, -50.0))), [0, 1, 2, 3, 4, 5]);
        assert_eq!(numbering(&spots(&places), Some((30.0, 90.0))), [3, 4, 5, 0, 1, 2]);
    }

    // Three cups in a corner are a row and one behind it, or a column and one beside it: the card tells which.
    #[test]
    fn the_card_tells_rows_from_columns() {
        let places = [(0.0, 0.0), (60.0, 0.0), (0.0, 60.0)];
        assert_eq!(numbering(&spots(&places), Some((30.0, -60.0))), [0, 1, 2]);
        assert_eq!(numbering(&spots(&places), Some((-60.0, 30.0))), [0, 2, 1]);
        assert_eq!(numbering(&spots(&places), Some((120.0, 30.0))), [1, 0, 2]);
    }

    // The cups' middle lies 80 to the right of the card and 50 below it: columns away from it are less aside than rows.
    #[test]
    fn a_card_in_a_corner_tells_by_the_longer_way() {
        let places = [(0.0, 0.0), (60.0, 0.0), (0.0, 60.0)];
        assert_eq!(numbering(&spots(&places), Some((-60.0, -30.0))), [0, 2, 1]);
        assert_eq!(numbering(&spots(&places), Some((-30.0, -60.0))), [0, 1, 2]);
    }

    #[test]
    fn the_middle_is_the_mean() {
        let (x, y) = middle(&spots(&[(10.0, 5.0), (60.0, 0.0), (20.0, 40.0)]));
        assert!((x - 30.0).abs() < 1e-12 && (y - 15.0).abs() < 1e-12);
        // One row, wherever it lies and whichever way: two of size 10 are off by 8 to either side of it, or by 10.
        let bent = |off: f64| {
            let (x, y) = (0.8 * off, 0.6 * off);
            spots(&[(500.0, 300.0), (530.0 - x, 340.0 + y), (560.0, 380.0), (530.0 + x, 340.0 - y)])
        };
        assert!(is_one_row(&bent(8.0)) && !is_one_row(&bent(10.0)));
    }
}
