//! Another place, zoom or tilt of the filming camera: everything in its frame
//! lies elsewhere, what the screen shows stays the same.

use crate::geometry::{Point, Quad, UprightPx};
use crate::render::scene::{Framing, Scene};

/// Where things lie in the frame as it is filmed.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Placed {
    middle: [f64; 2],
    shift: [f64; 2],
    turn: (f64, f64),
    /// Size as filmed ÷ size without any of it.
    pub zoom: f64,
}

impl Placed {
    pub(crate) fn of(scene: &Scene) -> Self {
        let Framing {
            shift_px,
            turn_deg,
            zoom,
        } = scene.film.framing;
        Self {
            middle: scene.film.size.map(|n| n as f64 / 2.0),
            shift: shift_px,
            turn: turn_deg.to_radians().sin_cos(),
            zoom,
        }
    }

    /// A place of the frame (px): zoomed and turned (clockwise, y runs down)
    /// about its middle, then shifted.
    pub(crate) fn point(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let (dx, dy) = (x - self.middle[0], y - self.middle[1]);
        let (sin, cos) = self.turn;
        [
            self.middle[0] + self.shift[0] + self.zoom * (cos * dx - sin * dy),
            self.middle[1] + self.shift[1] + self.zoom * (sin * dx + cos * dy),
        ]
    }

    pub(crate) fn quad(&self, quad: &Quad<UprightPx>) -> Quad<UprightPx> {
        Quad::new(quad.corners.map(|p| {
            let [x, y] = self.point([p.x, p.y]);
            Point::new(x, y)
        }))
    }

    /// A rectangle (left top right bottom, px), zoomed and moved with its
    /// middle; it stays upright.
    pub(crate) fn rect(&self, [x0, y0, x1, y1]: [f64; 4]) -> [f64; 4] {
        let [cx, cy] = self.point([f64::midpoint(x0, x1), f64::midpoint(y0, y1)]);
        let (rx, ry) = (self.zoom * (x1 - x0) / 2.0, self.zoom * (y1 - y0) / 2.0);
        [cx - rx, cy - ry, cx + rx, cy + ry]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn placed(framing: Framing) -> Placed {
        let mut scene = Scene::default();
        scene.film.size = [200, 100];
        scene.film.framing = framing;
        Placed::of(&scene)
    }

    fn near(a: [f64; 2], b: [f64; 2]) -> bool {
        (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-9
    }

    /// The rotation and similarity of the plane: any textbook.
    #[test]
    fn places_turn_about_the_middle_of_the_frame() {
        let turned = placed(Framing {
            turn_deg: 90.0,
            ..Framing::default()
        });
        assert!(near(turned.point([110.0, 50.0]), [100.0, 60.0]));
        let all = placed(Framing {
            shift_px: [7.0, -3.0],
            turn_deg: 30.0,
            zoom: 1.05,
        });
        assert!(near(all.point([100.0, 50.0]), [107.0, 47.0]));
        let want = [107.0 + 10.5 * 0.75_f64.sqrt(), 47.0 + 5.25];
        assert!(near(all.point([110.0, 50.0]), want));
        let rect = all.rect([90.0, 45.0, 110.0, 55.0]);
        assert!(near([rect[0], rect[1]], [96.5, 41.75]));
        assert!(near([rect[2], rect[3]], [117.5, 52.25]));
    }

    #[test]
    fn without_a_framing_nothing_moves() {
        let rect = [16.0, 34.0, 90.0, 71.0];
        assert_eq!(placed(Framing::default()).rect(rect), rect);
    }
}
