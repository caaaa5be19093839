//! The pendulum: how long the target stays, how fast it passes.
//!
//! Source: exact period T₀ ÷ agm(1, cos(θ₀/2)), motion by Jacobi's elliptic
//! functions (Nelson & Olsson 1986, Am. J. Phys. 54:112, from memory).

use serde::Serialize;

use super::{PlanError, within};

/// Standard gravity, m/s².
const G: f64 = 9.806_65;

/// A free pendulum that carries the target in and out of the AF area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SwingQuestion {
    /// From pivot to target, m.
    pub length_m: f64,
    /// Largest angle from the vertical, degrees.
    pub angle_deg: f64,
    /// Width of the target, m.
    pub target_m: f64,
    /// Width the AF area covers where the target passes, m.
    pub area_m: f64,
    /// Where the AF area's centre lies: angle from the vertical, degrees (0:
    /// the lowest point; the largest angle: the turning point).
    pub area_deg: f64,
    /// Window of a trial, ms.
    pub window_ms: Option<f64>,
}

/// What the pendulum does.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Swing {
    /// Time there and back, s.
    pub period_s: f64,
    /// What the small-angle formula would say, s.
    pub small_angle_period_s: f64,
    /// Largest speed, at the lowest point, m/s.
    pub top_speed_m_s: f64,
    /// Speed where the AF area's centre lies, m/s.
    pub speed_in_area_m_s: f64,
    /// Longest stretch in a cycle during which the target covers at least 90 %
    /// of the AF area, s; null if it never does.
    pub covered_s: Option<f64>,
    /// Longest stretch in a cycle during which it covers at most 10 %, s; null
    /// if it never does.
    pub clear_s: Option<f64>,
    /// Longest window that fits both stretches, ms.
    pub longest_window_ms: Option<f64>,
    /// What stands against this swing.
    pub warnings: Vec<String>,
}

/// Steps of a cycle looked at.
const STEPS: usize = 20_000;

/// What this pendulum does.
///
/// # Errors
/// Values out of range.
pub fn swing(question: &SwingQuestion) -> Result<Swing, PlanError> {
    let length = within("length-m", question.length_m, 0.01, 100.0, " m")?;
    let angle = within("angle-deg", question.angle_deg, 0.5, 170.0, " degrees")?;
    let target = within("target-m", question.target_m, 0.001, 100.0, " m")?;
    let area = within("area-m", question.area_m, 0.0001, 100.0, " m")?;
    let at = within("area-deg", question.area_deg, -angle, angle, " degrees")?;
    if let Some(ms) = question.window_ms {
        within("window-ms", ms, 100.0, 60_000.0, " ms")?;
    }
    let pendulum = Pendulum {
        length,
        angle: angle.to_radians(),
    };
    let (covered, clear) = stretches(&pendulum, target, area, at.to_radians());
    let longest = covered.zip(clear).map(|(a, b)| a.min(b) * 1000.0);
    Ok(Swing {
        period_s: pendulum.period(),
        small_angle_period_s: pendulum.small_angle_period(),
        top_speed_m_s: pendulum.speed(0.0),
        speed_in_area_m_s: pendulum.speed(at.to_radians()),
        covered_s: covered,
        clear_s: clear,
        longest_window_ms: longest,
        warnings: warnings(covered, clear, longest, question.window_ms),
    })
}

fn warnings(
    covered: Option<f64>,
    clear: Option<f64>,
    longest: Option<f64>,
    window_ms: Option<f64>,
) -> Vec<String> {
    let mut said = Vec::new();
    if covered.is_none() {
        said.push("The target never covers 90 % of the AF area: use a wider target.".to_owned());
    }
    if clear.is_none() {
        said.push(
            "The target never clears the AF area: swing wider, or use a narrower target."
                .to_owned(),
        );
    }
    if let Some((longest, window)) = longest.zip(window_ms).filter(|(l, w)| l < w) {
        said.push(format!(
            "A window of {window:.0} ms does not fit: the target stays in or out for {longest:.0} \
             ms at most, so most trials would be cut. Shorten the window, lengthen the pendulum, \
             or stop the target against a rest."
        ));
    }
    said
}

struct Pendulum {
    length: f64,
    angle: f64,
}

impl Pendulum {
    fn small_angle_period(&self) -> f64 {
        2.0 * std::f64::consts::PI * (self.length / G).sqrt()
    }

    fn period(&self) -> f64 {
        self.small_angle_period() / agm(1.0, (self.angle / 2.0).cos())
    }

    /// Speed at an angle from the vertical, m/s.
    fn speed(&self, theta: f64) -> f64 {
        (2.0 * G * self.length * (theta.cos() - self.angle.cos()).max(0.0)).sqrt()
    }

    /// Angle `t` seconds after release from the largest angle.
    fn theta(&self, t: f64) -> f64 {
        let k = (self.angle / 2.0).sin();
        let omega = (G / self.length).sqrt();
        let (cn, dn) = jacobi(omega * t, k * k);
        2.0 * (k * cn / dn).asin()
    }
}

/// Arithmetic–geometric mean.
fn agm(a: f64, b: f64) -> f64 {
    let (mut a, mut b) = (a, b);
    for _ in 0..40 {
        (a, b) = (f64::midpoint(a, b), (a * b).sqrt());
    }
    a
}

/// Jacobi's cn and dn of `u` for the parameter m = k², by descending Landen
/// steps (Abramowitz & Stegun 16.4).
fn jacobi(u: f64, m: f64) -> (f64, f64) {
    let (mut a, mut b, mut c) = (1.0, (1.0 - m).sqrt(), m.sqrt());
    let mut steps = Vec::new();
    while c > 1e-15 && steps.len() < 40 {
        let next = (f64::midpoint(a, b), (a * b).sqrt(), (a - b) / 2.0);
        steps.push((next.0, next.2));
        (a, b, c) = next;
    }
    let mut phi = 2f64.powi(steps.len() as i32) * a * u;
    for (a, c) in steps.into_iter().rev() {
        phi = f64::midpoint(phi, (c / a * phi.sin()).asin());
    }
    let dn = (1.0 - m * phi.sin().powi(2)).sqrt();
    (phi.cos(), dn)
}

/// Longest stretches of a cycle, s, in which the target covers at least 90 %,
/// and at most 10 %, of the AF area. Widths are taken along the arc.
fn stretches(p: &Pendulum, target: f64, area: f64, at: f64) -> (Option<f64>, Option<f64>) {
    let step = p.period() / STEPS as f64;
    let cover = |k: usize| {
        let offset = (p.theta(k as f64 * step) - at) * p.length;
        let (low, high) = (offset - target / 2.0, offset + target / 2.0);
        ((high.min(area / 2.0) - low.max(-area / 2.0)) / area).max(0.0)
    };
    let covers: Vec<f64> = (0..STEPS).map(cover).collect();
    let longest = |test: &dyn Fn(f64) -> bool| {
        let (mut best, mut run) = (0, 0);
        // Twice around, so that a stretch over the seam is seen whole.
        for &c in covers.iter().chain(&covers) {
            run = if test(c) { run + 1 } else { 0 };
            best = best.max(run.min(STEPS));
        }
        (best > 0).then_some(best as f64 * step)
    };
    (longest(&|c| c >= 0.9), longest(&|c| c <= 0.1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pendulum(deg: f64) -> Pendulum {
        Pendulum {
            length: 1.0,
            angle: deg.to_radians(),
        }
    }

    /// Closed form; the period also confirmed by running scipy 1.17.1
    /// `special.ellipk`.
    #[test]
    fn exact_period_and_top_speed() {
        let rows = [
            (5.0, 2.007_364_689_49, 0.273_193_206),
            (10.0, 2.010_235_892_60, 0.545_866_374),
            (20.0, 2.021_796_497_20, 1.087_578_37),
            (30.0, 2.041_338_465_86, 1.621_013_25),
            (45.0, 2.086_612_179_83, 2.396_790_06),
            (60.0, 2.153_242_351_78, 3.131_557_12),
            (90.0, 2.368_246_346_29, 4.428_690_55),
            (120.0, 2.754_560_194_05, 5.424_016_04),
            (170.0, 4.894_360_028_75, 6.239_281_2),
        ];
        for (deg, period, speed) in rows {
            let p = pendulum(deg);
            assert!((p.period() - period).abs() < 1e-10, "{deg}: {}", p.period());
            assert!((p.speed(0.0) - speed).abs() < 1e-7, "{deg}");
        }
        assert!((pendulum(1.0).small_angle_period() - 2.006_409_292_59).abs() < 1e-11);
    }

    /// Closed form by elliptic functions; the 60° row also confirmed by running
    /// scipy 1.17.1 `solve_ivp`.
    #[test]
    fn motion_from_rest() {
        let rows = [
            (
                30.0,
                [28.605_241_969_4, 21.608_350_897_8, 0.959_682_876_711],
            ),
            (60.0, [57.577_059_843_6, 45.211_588_699_4, 6.857_411_613_7]),
            (90.0, [87.190_826_842_9, 72.495_972_526_5, 23.040_560_914_4]),
        ];
        for (deg, at) in rows {
            for (t, want) in [0.1, 0.25, 0.5].into_iter().zip(at) {
                let got = pendulum(deg).theta(t).to_degrees();
                assert!((got - want).abs() < 1e-9, "{deg}° at {t}: {got}");
            }
            let p = pendulum(deg);
            assert!((p.theta(p.period()) - p.angle).abs() < 1e-9);
        }
    }

    fn ask() -> SwingQuestion {
        SwingQuestion {
            length_m: 1.0,
            angle_deg: 30.0,
            target_m: 0.4,
            area_m: 0.1,
            area_deg: 30.0,
            window_ms: None,
        }
    }

    /// At a turning point the target covers while its edge is inside: the
    /// stretch ends where the arc from the turning point is
    /// (target − area)/2 + 0.1·area.
    #[test]
    fn dwell_at_the_turning_point() {
        let got = swing(&ask()).unwrap();
        let covered = got.covered_s.unwrap();
        let p = pendulum(30.0);
        let edge = p.angle - ((0.4 - 0.1) / 2.0 + 0.01);
        assert!((p.theta(covered / 2.0) - edge).abs() < 1e-3, "{covered}");
        assert!(got.clear_s.unwrap() + covered < got.period_s);
    }

    #[test]
    fn a_window_that_does_not_fit_is_said() {
        let tight = SwingQuestion {
            window_ms: Some(1500.0),
            ..ask()
        };
        let got = swing(&tight).unwrap();
        assert!(
            got.warnings[0].contains("1500 ms does not fit"),
            "{:?}",
            got.warnings
        );
        let narrow = SwingQuestion {
            target_m: 0.02,
            ..ask()
        };
        assert_eq!(swing(&narrow).unwrap().covered_s, None);
        let still = SwingQuestion {
            angle_deg: 2.0,
            area_deg: 0.0,
            ..ask()
        };
        assert_eq!(swing(&still).unwrap().clear_s, None);
        let far = SwingQuestion {
            area_deg: 40.0,
            ..ask()
        };
        assert_eq!(swing(&far).unwrap_err().key, "area-deg");
    }
}
