//! A lamp mirrored in the screen's glass.

use crate::render::scene::Glare;

/// Light added to the screen at some time.
#[derive(Clone, Copy, Debug)]
pub(super) struct Gleam {
    level: f64,
    area: [f64; 4],
    soft: f64,
}

impl Gleam {
    /// At `t`; `None` where there is none.
    pub(super) fn at(glare: &Glare, t: f64) -> Option<Self> {
        if glare.level == 0.0 {
            return None;
        }
        let angle = std::f64::consts::TAU * t / glare.period_s;
        let shift = glare.wander * angle.cos();
        let [l, t, r, b] = glare.area;
        Some(Self {
            level: glare.level * (1.0 + glare.drift * angle.sin()),
            area: [l + shift, t, r + shift, b],
            soft: glare.soft,
        })
    }

    /// Light added at a place of the screen (fractions), linear.
    pub(super) fn light(&self, u: f64, v: f64) -> f32 {
        let [l, t, r, b] = self.area;
        let side = |inside: f64| smooth((inside / self.soft.max(1e-6) + 0.5).clamp(0.0, 1.0));
        // An edge on the screen's own edge goes on behind it.
        let low = |x: f64, edge: f64| if edge <= 0.0 { 1.0 } else { side(x - edge) };
        let high = |x: f64, edge: f64| if edge >= 1.0 { 1.0 } else { side(edge - x) };
        let across = low(u, l) * high(u, r);
        (self.level * across * low(v, t) * high(v, b)) as f32
    }
}

/// 3x² − 2x³.
fn smooth(x: f64) -> f64 {
    x * x * (3.0 - 2.0 * x)
}
