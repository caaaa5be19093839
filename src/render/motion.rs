//! Laws of the target's motion.
//!
//! | profile | way covered, τ = time ÷ length of the way |
//! | --- | --- |
//! | `ease` | (1 − cos πτ) ÷ 2: half a period of a sinusoid |
//! | `stop` | τ² against a stop, then bounces at `bounce`ⁿ of the impact speed |

use super::scene::{Motion, Profile};

/// One way of the target, from a place to another.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Way {
    pub start_s: f64,
    pub move_s: f64,
    pub from: [f64; 2],
    pub to: [f64; 2],
    profile: Profile,
    bounce: f64,
}

/// Speeds below this share of the peak are rest.
const REST: f64 = 0.05;
/// Bounces below this share of the impact speed are not made.
const LEAST_BOUNCE: f64 = 0.01;

impl Way {
    pub(crate) fn new(motion: &Motion, start_s: f64, from: [f64; 2], to: [f64; 2]) -> Self {
        Self {
            start_s,
            move_s: motion.move_ms / 1000.0,
            from,
            to,
            profile: motion.profile,
            bounce: motion.bounce,
        }
    }

    /// When nothing moves any more.
    pub(crate) fn end_s(&self) -> f64 {
        self.start_s + self.move_s * (1.0 + self.bounces().map(|(_, span)| span).sum::<f64>())
    }

    /// Share of the impact speed and length of every bounce (in ways).
    fn bounces(&self) -> impl Iterator<Item = (f64, f64)> + use<> {
        let e = match self.profile {
            Profile::Stop => self.bounce,
            Profile::Ease => 0.0,
        };
        std::iter::successors(Some(e), move |k| Some(k * e))
            .take_while(|k| *k > LEAST_BOUNCE)
            .map(|k| (k, 2.0 * k))
    }

    /// Share of the way covered at `t` and speed in ways per second.
    pub(crate) fn state(&self, t: f64) -> (f64, f64) {
        let tau = (t - self.start_s) / self.move_s;
        if tau <= 0.0 {
            return (0.0, 0.0);
        }
        match self.profile {
            Profile::Ease if tau < 1.0 => {
                let angle = std::f64::consts::PI * tau;
                let speed = std::f64::consts::FRAC_PI_2 * angle.sin() / self.move_s;
                ((1.0 - angle.cos()) / 2.0, speed)
            }
            Profile::Stop if tau < 1.0 => (tau * tau, 2.0 * tau / self.move_s),
            Profile::Ease => (1.0, 0.0),
            Profile::Stop => self.bouncing(tau - 1.0),
        }
    }

    fn bouncing(&self, mut tau: f64) -> (f64, f64) {
        for (k, span) in self.bounces() {
            if tau < span {
                // Speed 2k at the stop, the fall's own acceleration of 2.
                let back = 2.0 * k * tau - tau * tau;
                return (1.0 - back, (2.0 * k - 2.0 * tau).abs() / self.move_s);
            }
            tau -= span;
        }
        (1.0, 0.0)
    }

    /// Highest speed in ways per second.
    pub(crate) fn peak(&self) -> f64 {
        match self.profile {
            Profile::Ease => std::f64::consts::FRAC_PI_2 / self.move_s,
            Profile::Stop => 2.0 / self.move_s,
        }
    }

    pub(crate) fn place(&self, t: f64) -> [f64; 2] {
        let (s, _) = self.state(t);
        [0, 1].map(|i| self.from[i] + s * (self.to[i] - self.from[i]))
    }

    /// When the speed has fallen below 5 % of its peak and stays there.
    pub(crate) fn rest_s(&self) -> f64 {
        self.last_not(|t| self.state(t).1 < REST * self.peak())
    }

    /// When `ok` becomes true and stays true till the end of the way.
    pub(crate) fn last_not(&self, ok: impl Fn(f64) -> bool) -> f64 {
        let (mut high, mut low) = (self.end_s(), self.end_s());
        while low > self.start_s && ok(low) {
            high = low;
            low -= STEP_S;
        }
        edge(low, high, ok)
    }

    /// When `ok` first becomes true on the way.
    pub(crate) fn first(&self, ok: impl Fn(f64) -> bool) -> f64 {
        let (mut low, mut high) = (self.start_s, self.start_s);
        while high < self.end_s() && !ok(high) {
            low = high;
            high += STEP_S;
        }
        edge(low, high, ok)
    }
}

/// Steps in which a way is searched, s.
const STEP_S: f64 = 5e-5;

/// Where `ok` turns from false at `low` to true at `high`.
fn edge(mut low: f64, mut high: f64, ok: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if ok(middle) {
            high = middle;
        } else {
            low = middle;
        }
    }
    high
}

/// Share of the area (left top right bottom) that a card covers.
pub(crate) fn coverage(center: [f64; 2], size: [f64; 2], area: [f64; 4]) -> f64 {
    let overlap = |i: usize| {
        let low = (center[i] - size[i] / 2.0).max(area[i]);
        let high = (center[i] + size[i] / 2.0).min(area[i + 2]);
        (high - low).max(0.0) / (area[i + 2] - area[i])
    };
    overlap(0) * overlap(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn way(profile: Profile, move_ms: f64, bounce: f64) -> Way {
        let motion = Motion {
            profile,
            move_ms,
            bounce,
            ..Motion::default()
        };
        Way::new(&motion, 1.0, [30.0, 0.0], [-30.0, 0.0])
    }

    /// A pendulum of 1 m (g = 9.80665 m/s², small angles) let go at 30° stands
    /// at 0.150532362157° after half a second; its period is 2.00640929259 s
    /// (closed form).
    #[test]
    fn ease_is_half_a_swing_of_a_pendulum() {
        let half_period_ms = 2.006_409_292_59 / 2.0 * 1000.0;
        let way = way(Profile::Ease, half_period_ms, 0.0);
        assert!((way.place(1.5)[0] - 0.150_532_362_157).abs() < 1e-8);
        assert!((way.place(9.0)[0] + 30.0).abs() < 1e-12);
    }

    /// sin(πτ) = 0.05 on the falling side: τ = 1 − asin(0.05)/π.
    #[test]
    fn ease_rests_when_its_speed_is_a_twentieth() {
        let way = way(Profile::Ease, 400.0, 0.0);
        let want = 1.0 + 0.4 * (1.0 - 0.05_f64.asin() / std::f64::consts::PI);
        assert!((way.rest_s() - want).abs() < 1e-9);
    }

    /// Thrown back at e of its speed, the card is back after 2e ways: with
    /// e = 0.3 the second bounce (0.09) is above a twentieth, the third is not.
    #[test]
    fn a_bouncing_card_rests_after_the_last_visible_bounce() {
        let hard = way(Profile::Stop, 300.0, 0.0);
        assert!((hard.rest_s() - 1.3).abs() < 1e-9);
        let bouncing = way(Profile::Stop, 300.0, 0.3);
        let want = 1.0 + 0.3 * (1.0 + 2.0 * 0.3 + 2.0 * 0.09);
        assert!((bouncing.rest_s() - want).abs() < 1e-9);
        // Highest point of the first bounce: e² of the way.
        let top = bouncing.state(1.0 + 0.3 * 1.3).0;
        assert!((1.0 - top - 0.09).abs() < 1e-9);
    }

    #[test]
    fn speed_is_the_derivative_of_the_way() {
        for (profile, bounce) in [(Profile::Ease, 0.0), (Profile::Stop, 0.4)] {
            let way = way(profile, 300.0, bounce);
            for k in 1..500 {
                let t = 1.0 + f64::from(k) * 1e-3 + 3e-4;
                let slope = (way.state(t + 1e-7).0 - way.state(t - 1e-7).0) / 2e-7;
                assert!(
                    (slope.abs() - way.state(t).1).abs() < 1e-4,
                    "{profile:?} {t}"
                );
            }
        }
    }

    #[test]
    fn coverage_is_the_common_area() {
        let area = [0.35, 0.30, 0.65, 0.70];
        assert!((coverage([0.5, 0.5], [0.5, 0.6], area) - 1.0).abs() < 1e-12);
        assert!((coverage([0.7, 0.5], [0.4, 0.6], area) - 0.5).abs() < 1e-12);
        assert!((coverage([0.7, 0.8], [0.4, 0.6], area) - 0.25).abs() < 1e-12);
        assert!(coverage([1.2, 0.5], [0.4, 0.6], area).abs() < 1e-12);
    }
}
