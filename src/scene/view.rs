//! The camera above the table: millimetres on the table to pixels, and back.

use crate::colour::matrix::{inverse, product};
use crate::colour::space::{Matrix, apply};

/// A place on the table in mm, or in the picture in pixels; x to the right, y downwards.
pub type Point = (f64, f64);

/// How the camera is held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pose {
    /// Degrees from looking straight down.
    pub tilt: f64,
    /// Towards where it is tilted, degrees.
    pub towards: f64,
    /// Turn of the picture, degrees.
    pub roll: f64,
    /// Height over the table, mm.
    pub height: f64,
}

/// The perspective of one photo.
#[derive(Debug, Clone)]
pub(super) struct View {
    forward: Matrix,
    backward: Matrix,
    eye: Eye,
}

/// Where the camera is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Eye {
    /// The place on the table below it, mm.
    pub(super) foot: Point,
    /// Its height over the table, mm.
    pub(super) height: f64,
}

impl Eye {
    /// Where on the table, mm, a place at `height` mm over it is seen.
    pub(super) fn seen_at(self, p: Point, height: f64) -> Point {
        let far = 1.0 / (1.0 - height / self.height);
        (self.foot.0 + (p.0 - self.foot.0) * far, self.foot.1 + (p.1 - self.foot.1) * far)
    }

    /// How much larger a thing at `height` mm over the table looks than one on it.
    pub(super) fn enlarges(self, height: f64) -> f64 {
        1.0 / (1.0 - height / self.height)
    }
}

fn through(m: &Matrix, p: Point) -> Point {
    let [x, y, w] = apply(m, [p.0, p.1, 1.0]);
    (x / w, y / w)
}

fn turn(degrees: f64) -> Matrix {
    let (s, c) = degrees.to_radians().sin_cos();
    [[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]
}

impl View {
    /// A camera held so that all `points` lie in a picture of this size, with a margin of `margin` of its sides.
    pub(super) fn fitting(points: &[Point], pose: Pose, (width, height): (usize, usize), margin: f64) -> Self {
        let n = points.len().max(1) as f64;
        let centre = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
        let shift = [[1.0, 0.0, -centre.0], [0.0, 1.0, -centre.1], [0.0, 0.0, 1.0]];
        let (sine, cosine) = pose.tilt.to_radians().sin_cos();
        // A pinhole looking along its axis: x = u / z, y = v cos(tilt) / z, z = height + v sin(tilt).
        let pinhole = [[1.0, 0.0, 0.0], [0.0, cosine, 0.0], [0.0, sine, pose.height]];
        let held = product(&turn(pose.roll + pose.towards), &product(&pinhole, &product(&turn(-pose.towards), &shift)));
        let seen: Vec<Point> = points.iter().map(|&p| through(&held, p)).collect();
        let range = |of: fn(&Point) -> f64| {
            seen.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
        };
        let (x, y) = (range(|p| p.0), range(|p| p.1));
        let (w, h) = (width as f64, height as f64);
        let scale = ((1.0 - 2.0 * margin) * w / (x.1 - x.0)).min((1.0 - 2.0 * margin) * h / (y.1 - y.0));
        let frame = [[scale, 0.0, 0.5 * w - 0.5 * scale * (x.0 + x.1)], [0.0, scale, 0.5 * h - 0.5 * scale * (y.0 + y.1)], [0.0, 0.0, 1.0]];
        let forward = product(&frame, &held);
        // The axis meets the table in the centre; the camera stands back from there against the direction of the tilt.
        let back = through(&turn(pose.towards), (0.0, -pose.height * sine));
        let eye = Eye { foot: (centre.0 + back.0, centre.1 + back.1), height: pose.height * cosine };
        View { backward: inverse(&forward), forward, eye }
    }

    /// Where the camera is.
    pub(super) fn eye(&self) -> Eye {
        self.eye
    }

    /// Table (mm) to picture (pixels).
    pub(super) fn project(&self, p: Point) -> Point {
        through(&self.forward, p)
    }

    /// Picture (pixels) to table (mm).
    pub(super) fn unproject(&self, p: Point) -> Point {
        through(&self.backward, p)
    }

    /// Smallest and mean radius in pixels that a circle of `radius` mm has in the picture.
    pub(super) fn radii(&self, centre: Point, radius: f64) -> (f64, f64) {
        // Sixteen directions: an ellipse's smallest radius is then met within 0.1 % for a tilt of 25 degrees.
        const DIRECTIONS: usize = 16;
        let c = self.project(centre);
        let all = (0..DIRECTIONS).map(|i| {
            let (s, co) = (std::f64::consts::TAU * i as f64 / DIRECTIONS as f64).sin_cos();
            let p = self.project((centre.0 + radius * co, centre.1 + radius * s));
            (p.0 - c.0).hypot(p.1 - c.1)
        });
        let (least, sum) = all.fold((f64::INFINITY, 0.0), |(least, sum), r| (r.min(least), sum + r));
        (least, sum / DIRECTIONS as f64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn there_and_back_and_inside() {
        let points = [(0.0, 0.0), (200.0, 10.0), (180.0, 150.0), (-20.0, 90.0)];
        let pose = Pose { tilt: 18.0, towards: 70.0, roll: -12.0, height: 400.0 };
        let view = View::fitting(&points, pose, (800, 600), 0.05);
        for p in points {
            let seen = view.project(p);
            assert!((39.9..760.1).contains(&seen.0) && (29.9..570.1).contains(&seen.1), "{seen:?}");
            let back = view.unproject(seen);
            assert_abs_diff_eq!(back.0, p.0, epsilon = 1e-6);
            assert_abs_diff_eq!(back.1, p.1, epsilon = 1e-6);
        }
    }

    // A column's top is seen farther from the camera's foot than its base, on the line through both.
    #[test]
    fn high_things_lean_away_from_the_eye() {
        let pose = Pose { tilt: 30.0, towards: 0.0, roll: 0.0, height: 500.0 };
        let eye = View::fitting(&[(-50.0, -50.0), (50.0, 50.0)], pose, (400, 400), 0.0).eye();
        assert_abs_diff_eq!(eye.height, 433.01, epsilon = 0.01);
        assert_abs_diff_eq!(eye.foot.0, 0.0, epsilon = 1e-9);
        assert_abs_diff_eq!(eye.foot.1, -250.0, epsilon = 1e-9);
        let top = eye.seen_at((0.0, 0.0), 43.301);
        assert_abs_diff_eq!(top.1, 250.0 / 9.0, epsilon = 1e-3);
    }

    #[test]
    fn straight_down_keeps_circles() {
        let pose = Pose { tilt: 0.0, towards: 0.0, roll: 33.0, height: 500.0 };
        let view = View::fitting(&[(-50.0, -50.0), (50.0, 50.0)], pose, (400, 400), 0.0);
        let (least, mean) = view.radii((3.0, 4.0), 20.0);
        assert_abs_diff_eq!(least, mean, epsilon = 1e-9);
    }
}
