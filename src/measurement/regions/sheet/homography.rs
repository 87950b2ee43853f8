//! The view of the flat sheet: millimetres to pixels, and where the camera was.

use crate::placement::Point;
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};

/// A projective map of the plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::measurement) struct Homography(Matrix3<f64>);

/// Where the camera was, in millimetres of the sheet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Eye {
    /// The place of the sheet's plane below it.
    pub(super) foot: Point,
    /// Its height over that plane.
    pub(super) height: f64,
}

impl Eye {
    /// Where on the sheet a place at `height` mm over it is seen: farther from the foot.
    pub(super) fn seen_at(&self, p: Point, height: f64) -> Point {
        let far = self.enlarges(height);
        (self.foot.0 + (p.0 - self.foot.0) * far, self.foot.1 + (p.1 - self.foot.1) * far)
    }

    /// Direction from a place towards the foot, and the tangent of the slant at which the place is seen.
    pub(super) fn slant(&self, p: Point) -> (Point, f64) {
        let (dx, dy) = (self.foot.0 - p.0, self.foot.1 - p.1);
        let away = dx.hypot(dy);
        ((dx / away.max(1e-9), dy / away.max(1e-9)), away / self.height)
    }

    /// How much larger things at this height look.
    pub(super) fn enlarges(&self, height: f64) -> f64 {
        1.0 / (1.0 - (height / self.height).min(0.5))
    }
}

/// Focal length over the longer side that is likely before anything is seen: 26 to 50 mm on a frame of 36 mm (common practice).
const FOCAL: f64 = 0.9;
/// Spread of its natural log.
const FOCAL_SPREAD: f64 = 0.35;
/// Uncertainty of the cosines that tell the focal length: marks are placed to about a pixel.
const SQUARENESS: f64 = 0.01;

impl Homography {
    /// The map that takes each first place to its second, by least squares; at least four pairs, no three of four on a line.
    pub(super) fn through(pairs: &[(Point, Point)]) -> Option<Self> {
        if pairs.len() < 4 {
            return None;
        }
        let (from, to) = (Scaling::of(pairs.iter().map(|p| p.0)), Scaling::of(pairs.iter().map(|p| p.1)));
        let mut rows = DMatrix::zeros(2 * pairs.len(), 8);
        let mut wanted = DVector::zeros(2 * pairs.len());
        for (i, &(a, b)) in pairs.iter().enumerate() {
            let ((x, y), (u, v)) = (from.at(a), to.at(b));
            rows.row_mut(2 * i).copy_from_slice(&[x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y]);
            rows.row_mut(2 * i + 1).copy_from_slice(&[0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y]);
            wanted[2 * i] = u;
            wanted[2 * i + 1] = v;
        }
        let normal = rows.transpose() * &rows;
        let h = normal.cholesky()?.solve(&(rows.transpose() * wanted));
        let scaled = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
        let whole = to.matrix().try_inverse()? * scaled * from.matrix();
        whole.iter().all(|v| v.is_finite()).then_some(Homography(whole))
    }

    /// Where a place goes; `None` behind the camera, or on its horizon.
    pub(in crate::measurement) fn at(&self, p: Point) -> Option<Point> {
        let [x, y, w] = self.raw(p);
        // The middle of the sheet has a positive denominator, for it is in view.
        (w > 1e-9).then(|| (x / w, y / w))
    }

    /// The same map for places told as `p` where they were `from.0 * p + from.1`, and going to `to.0 * q + to.1` where they went to `q`.
    pub(super) fn in_units(&self, from: (f64, f64), to: (f64, f64)) -> Self {
        let units = |(factor, shift): (f64, f64)| Matrix3::new(factor, 0.0, shift, 0.0, factor, shift, 0.0, 0.0, 1.0);
        Homography(units(to) * self.0 * units(from))
    }

    fn raw(&self, (x, y): Point) -> [f64; 3] {
        let v = self.0 * Vector3::new(x, y, 1.0);
        [v[0], v[1], v[2]]
    }

    /// The map with the sign that makes the denominator positive at `p`; `None` when the view is mirrored there.
    pub(super) fn facing(self, p: Point) -> Option<Self> {
        let sign = self.raw(p)[2].signum();
        let map = Homography(self.0 * sign);
        (map.0.determinant() > 0.0).then_some(map)
    }

    /// The same map after its source is moved to `centre` and scaled by `radius`: the unit disc goes where that circle went.
    pub(super) fn of_disc(&self, centre: Point, radius: f64) -> Self {
        Homography(self.0 * Matrix3::new(radius, 0.0, centre.0, 0.0, radius, centre.1, 0.0, 0.0, 1.0))
    }

    /// Where the camera was, if its axis went through the middle of a picture of this size and its pixels are square.
    pub(super) fn eye(&self, (width, height): (f64, f64)) -> Option<Eye> {
        let shift = Matrix3::new(1.0, 0.0, -0.5 * width, 0.0, 1.0, -0.5 * height, 0.0, 0.0, 1.0);
        let h = shift * self.0;
        let longest = width.max(height);
        let columns = |focal: f64| {
            let part = |k: usize| Vector3::new(h[(0, k)] / focal, h[(1, k)] / focal, h[(2, k)]);
            (part(0), part(1), part(2))
        };
        // The two directions of the sheet are square to each other and equally long; seen from straight above, any focal length does that.
        let cost = |focal: f64| {
            let (a, b, _) = columns(focal);
            let mean = 0.5 * (a.norm_squared() + b.norm_squared());
            let off = (a.dot(&b) / mean).powi(2) + (0.5 * (a.norm_squared() - b.norm_squared()) / mean).powi(2);
            off / (SQUARENESS * SQUARENESS) + ((focal / longest / FOCAL).ln() / FOCAL_SPREAD).powi(2)
        };
        // From a fisheye to a long lens in steps of 3 %.
        let focal = (0..80).map(|i| 0.4 * longest * 1.03f64.powi(i)).min_by(|p, q| cost(*p).total_cmp(&cost(*q)))?;
        let (a, b, c) = columns(focal);
        let scale = 2.0 / (a.norm() + b.norm());
        let (a, b, t) = (a * scale, b * scale, c * scale);
        let axis = a.cross(&b);
        let (x, y, z) = (-a.dot(&t) / a.norm_squared(), -b.dot(&t) / b.norm_squared(), axis.dot(&t) / axis.norm_squared());
        // The third direction points into the table, so the camera lies before it.
        (z > 0.0 && [x, y, z].iter().all(|v| v.is_finite())).then_some(Eye { foot: (x, y), height: z })
    }
}

/// Moves and scales places to about the unit square, for steady numbers.
struct Scaling {
    centre: Point,
    scale: f64,
}

impl Scaling {
    fn of(places: impl Iterator<Item = Point> + Clone) -> Self {
        let n = places.clone().count().max(1) as f64;
        let sum = places.clone().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        let centre = (sum.0 / n, sum.1 / n);
        let spread = places.map(|p| (p.0 - centre.0).hypot(p.1 - centre.1)).sum::<f64>() / n;
        Scaling { centre, scale: 1.0 / spread.max(1e-9) }
    }

    fn at(&self, p: Point) -> Point {
        ((p.0 - self.centre.0) * self.scale, (p.1 - self.centre.1) * self.scale)
    }

    fn matrix(&self) -> Matrix3<f64> {
        let s = self.scale;
        Matrix3::new(s, 0.0, -s * self.centre.0, 0.0, s, -s * self.centre.1, 0.0, 0.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A pinhole at `eye`, looking at (148, 105, 0) with this focal length, picture 1600 x 1200.
    fn pinhole(eye: [f64; 3], focal: f64) -> impl Fn(Point) -> Point {
        let eye = Vector3::from(eye);
        let axis = (Vector3::new(148.0, 105.0, 0.0) - eye).normalize();
        let right = Vector3::new(0.0, 1.0, 0.0).cross(&axis).normalize();
        let down = axis.cross(&right);
        move |(x, y)| {
            let d = Vector3::new(x, y, 0.0) - eye;
            let depth = d.dot(&axis);
            (800.0 + focal * d.dot(&right) / depth, 600.0 + focal * d.dot(&down) / depth)
        }
    }

    /// The map that a sheet seen so gives.
    fn seen_by(see: impl Fn(Point) -> Point) -> Homography {
        let places = [(12.0, 12.0), (285.0, 12.0), (285.0, 198.0), (12.0, 198.0), (148.0, 60.0)];
        let pairs: Vec<(Point, Point)> = places.iter().map(|&p| (p, see(p))).collect();
        let map = Homography::through(&pairs).unwrap().facing((148.0, 105.0)).unwrap();
        for (from, to) in &pairs {
            let seen = map.at(*from).unwrap();
            assert!((seen.0 - to.0).abs() < 1e-6 && (seen.1 - to.1).abs() < 1e-6);
        }
        map
    }

    // By hand: centimetres in, where it wanted millimetres off by 5; halves of pixels out, off by 3.
    #[test]
    fn units_change_neither_places_nor_the_horizon() {
        let map = seen_by(pinhole([350.0, 300.0, -420.0], 1500.0));
        let other = map.in_units((10.0, -5.0), (2.0, 3.0));
        for place in [(148.0, 105.0), (12.0, 198.0), (285.0, 12.0)] {
            let (wanted, seen) = (map.at(place).unwrap(), other.at(((place.0 + 5.0) / 10.0, (place.1 + 5.0) / 10.0)).unwrap());
            assert!((seen.0 - 2.0 * wanted.0 - 3.0).abs() < 1e-9 && (seen.1 - 2.0 * wanted.1 - 3.0).abs() < 1e-9);
        }
        let behind = (0..200).map(|i| 50.0 * f64::from(i)).find(|along| map.at((*along, *along)).is_none()).unwrap();
        assert_eq!(other.at(((behind + 5.0) / 10.0, (behind + 5.0) / 10.0)), None);
    }

    // The eye is at negative height, for the third direction of the sheet points into the table.
    #[test]
    fn the_camera_is_found_where_it_was() {
        // Aslant over a corner, and over one side alone.
        for eye in [[350.0, 300.0, -420.0], [148.0, 480.0, -420.0]] {
            let map = seen_by(pinhole(eye, 1500.0));
            let found = map.eye((1600.0, 1200.0)).unwrap();
            let off = [found.foot.0 - eye[0], found.foot.1 - eye[1], found.height + eye[2]];
            assert!(off[0].abs() < 15.0 && off[1].abs() < 15.0 && off[2].abs() < 20.0, "{found:?}");
        }
    }

    // Seen from straight above any camera near enough shows the same; the usual one, 0.9 of the longer side, is taken, within steps of 3 %.
    #[test]
    fn from_straight_above_the_usual_lens_is_supposed() {
        for (height, focal) in [(420.0, 0.9 * 1600.0), (210.0, 0.9 * 800.0)] {
            let eye = seen_by(pinhole([148.0, 105.0, -height], focal)).eye((1600.0, 1200.0)).unwrap();
            assert!((eye.height / 420.0 - 1.0).abs() < 0.03, "{eye:?}");
        }
    }

    #[test]
    fn a_mirrored_sheet_is_none() {
        let pairs: Vec<(Point, Point)> =
            [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0), (0.0, 50.0)].iter().map(|&(x, y)| ((x, y), (500.0 - x, y))).collect();
        assert!(Homography::through(&pairs).unwrap().facing((50.0, 25.0)).is_none());
        assert!(Homography::through(&pairs[..3]).is_none());
    }
}
