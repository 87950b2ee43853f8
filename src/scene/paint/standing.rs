//! A cup with a height, seen from aside: its far wall shows, its near wall hides some of the liquid, and what is high lies elsewhere.

use super::{PaintedCup, Painter, Seen, blend, cover, plus, smooth, times};
use crate::scene::sheet::Standing;
use crate::scene::vessel::Ware;
use crate::scene::view::Point;

/// Radius of a cup's foot over that of its rim: sample cups taper a little.
const FOOT: f64 = 0.78;
/// Heights at which the outline of the wall is worked out.
const STEPS: usize = 12;
/// Light on the outside of a wall over that on its rim.
const OUTSIDE: f64 = 0.62;

impl Painter<'_> {
    /// Paints one standing cup over what lies below. `p` is where the line of sight meets the paper.
    pub(super) fn standing(&self, cup: &PaintedCup, stand: &Standing, p: Point, pixel: f64, below: Seen) -> Seen {
        let (c, rim) = (cup.centre, cup.rim);
        let towards = ((self.eye.foot.0 - p.0) / self.eye.height, (self.eye.foot.1 - p.1) / self.eye.height);
        // Where the line of sight is at this height over the paper, from the cup's axis.
        let at = |z: f64| (p.0 + towards.0 * z - c.0, p.1 + towards.1 * z - c.1);
        let away = |z: f64| {
            let (x, y) = at(z);
            x.hypot(y)
        };
        let reach = stand.height * (1.0 + towards.0.hypot(towards.1)) + 2.0 * rim;
        if away(0.0) > reach {
            return below;
        }
        let vessel = &self.options.vessel;
        let lamp = self.lamp_direction;
        let ground = at(0.0);
        let shadow_at = (ground.0 + 0.35 * stand.height * lamp.0).hypot(ground.1 + 0.35 * stand.height * lamp.1);
        let dark = self.options.lighting.shadow * (1.0 - smooth(0.75 * rim, 1.25 * rim, shadow_at));
        let mut seen = times(below, 1.0 - dark);
        let outline = (0..=STEPS)
            .map(|i| {
                let share = i as f64 / STEPS as f64;
                away(share * stand.height) - rim * (FOOT + (1.0 - FOOT) * share)
            })
            .fold(f64::INFINITY, f64::min);
        let (x, y) = at(0.5 * stand.height);
        let facing = (x * lamp.0 + y * lamp.1) / rim;
        let outside = match vessel.ware {
            Ware::Glazed => times(self.wall, OUTSIDE * (1.0 + 0.2 * facing.clamp(-1.0, 1.0))),
            Ware::Glass => times(seen, 0.88),
        };
        seen = blend(seen, outside, cover(outline, pixel));
        let from_rim = away(stand.height);
        let rim_light = if vessel.ware == Ware::Glazed { 1.0 } else { 0.8 };
        seen = blend(seen, times(self.wall, rim_light), cover(from_rim - rim, pixel));
        let inside = cover(from_rim - 0.93 * rim, pixel);
        if inside <= 0.0 { seen } else { blend(seen, self.within(cup, at(stand.level), pixel), inside) }
    }

    /// What is seen through the opening: liquid, or the wall above it; `q` is the place on the liquid's level, mm from the axis.
    fn within(&self, cup: &PaintedCup, q: Point, pixel: f64) -> Seen {
        let vessel = &self.options.vessel;
        let from_axis = q.0.hypot(q.1);
        let facing = -(q.0 * self.lamp_direction.0 + q.1 * self.lamp_direction.1) / from_axis.max(1e-6);
        let climb = ((from_axis - cup.liquid) / (0.93 * cup.rim - cup.liquid).max(1e-6)).clamp(0.0, 1.0);
        let light = (vessel.wall_light + (1.0 - vessel.wall_light) * climb) * (1.0 + vessel.wall_contrast * facing * (1.0 - climb));
        let mut wall = times(self.wall, light);
        if vessel.ware == Ware::Glass {
            let line = (-((from_axis - 1.03 * cup.liquid) / (0.02 * cup.rim)).powi(2)).exp();
            wall = plus(times(wall, 1.0 - 0.4 * line), self.white, 0.0);
        }
        let share = cover(from_axis - cup.liquid, pixel);
        if share > 0.0 { blend(wall, self.liquid_at(cup, (q.0 / cup.liquid, q.1 / cup.liquid)), share) } else { wall }
    }
}
