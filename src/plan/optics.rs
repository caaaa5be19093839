//! Does the change show? Blur of the wrong subject, and depth of field.
//!
//! Source: thin lens, Ray, *Applied Photographic Optics* (from memory):
//! m = f/(s − f), blur disc (f/N)·m·|s₂ − s|/s₂, H = f²/(N·c) + f, near
//! s(H − f)/(H + s − 2f), far s(H − f)/(H − s). Circle of confusion: picture
//! diagonal ÷ 1500 (common practice). Effective f-number N(1 + m).

use serde::Serialize;

use super::{PlanError, within};

/// Lens, sensor and distances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpticsQuestion {
    /// Focal length of the lens alone, mm.
    pub focal_mm: f64,
    /// f-number of the lens alone.
    pub f_number: f64,
    /// Width and height of the sensor, mm.
    pub sensor_mm: [f64; 2],
    /// Factor of a converter behind the lens (1.4, 2), 1 for none.
    pub converter: f64,
    /// Distance of the target when in, mm.
    pub near_mm: f64,
    /// Distance of the background, mm.
    pub far_mm: f64,
}

/// What the distances give.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Optics {
    /// Focal length with the converter, mm.
    pub focal_mm: f64,
    /// f-number with the converter.
    pub f_number: f64,
    /// Light lost to the converter, stops.
    pub light_lost_stops: f64,
    /// Circle of confusion, mm.
    pub circle_of_confusion_mm: f64,
    /// Hyperfocal distance, mm.
    pub hyperfocal_mm: f64,
    /// Focused on the target.
    pub near: Focused,
    /// Focused on the background.
    pub far: Focused,
    /// Whether both changes of focus show: the subject left behind is blurred
    /// beyond the circle of confusion.
    pub change_shows: bool,
    /// What stands against these distances.
    pub warnings: Vec<String>,
}

/// Focused on one of the two.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Focused {
    /// Distance focused at, mm.
    pub distance_mm: f64,
    /// Magnification on the sensor.
    pub magnification: f64,
    /// Near end of the depth of field, mm.
    pub sharp_from_mm: f64,
    /// Far end of the depth of field, mm; null at infinity.
    pub sharp_to_mm: Option<f64>,
    /// Blur disc of the other subject on the sensor, mm.
    pub other_blur_mm: f64,
    /// The same in ‰ of the picture's height, as on the screen.
    pub other_blur_permille: f64,
    /// The same in circles of confusion.
    pub other_blur_circles: f64,
    /// Effective f-number at this distance.
    pub effective_f_number: f64,
}

/// Blur that is plain to any measure, in circles of confusion.
const PLAIN: f64 = 3.0;

/// What these distances give.
///
/// # Errors
/// Values out of range, or a subject closer than the lens can focus.
pub fn optics(question: &OpticsQuestion) -> Result<Optics, PlanError> {
    let factor = within("converter", question.converter, 1.0, 4.0, "")?;
    let focal = within("focal-mm", question.focal_mm, 1.0, 5000.0, " mm")? * factor;
    let number = within("f-number", question.f_number, 0.5, 128.0, "")? * factor;
    let [width, height] = question.sensor_mm;
    within("sensor-mm", width, 1.0, 500.0, " mm")?;
    within("sensor-mm", height, 1.0, 500.0, " mm")?;
    for (key, distance) in [("near-mm", question.near_mm), ("far-mm", question.far_mm)] {
        within(key, distance, 1.0, 1e8, " mm")?;
        if distance <= focal * 1.01 {
            return Err(PlanError::new(
                key,
                format!(
                    "{distance} mm is within the focal length of {focal} mm: no lens focuses there"
                ),
            ));
        }
    }
    if question.far_mm <= question.near_mm {
        return Err(PlanError::new(
            "far-mm",
            "the background must lie behind the target",
        ));
    }
    let lens = Lens {
        focal,
        number,
        circle: width.hypot(height) / 1500.0,
        height,
    };
    let near = lens.focused(question.near_mm, question.far_mm);
    let far = lens.focused(question.far_mm, question.near_mm);
    let least = near.other_blur_circles.min(far.other_blur_circles);
    Ok(Optics {
        focal_mm: focal,
        f_number: number,
        light_lost_stops: 2.0 * factor.log2(),
        circle_of_confusion_mm: lens.circle,
        hyperfocal_mm: lens.hyperfocal(),
        near,
        far,
        change_shows: least > 1.0,
        warnings: warnings(least),
    })
}

fn warnings(least: f64) -> Vec<String> {
    if least <= 1.0 {
        vec![format!(
            "The subject left behind stays within the depth of field (blur {least:.1} circles of \
             confusion): nothing is tested. Open the aperture, or move target and background apart."
        )]
    } else if least < PLAIN {
        vec![format!(
            "The change is slight (blur {least:.1} circles of confusion, {PLAIN:.0} or more are \
             plain): settle will be uncertain. Open the aperture, or move target and background \
             apart."
        )]
    } else {
        Vec::new()
    }
}

/// Size on the sensor ÷ size of the subject at distance `s`, both mm.
pub(super) fn magnification(focal: f64, s: f64) -> f64 {
    focal / (s - focal)
}

struct Lens {
    focal: f64,
    number: f64,
    circle: f64,
    height: f64,
}

impl Lens {
    fn magnification(&self, s: f64) -> f64 {
        magnification(self.focal, s)
    }

    /// Blur disc of a point at `other` when focused at `s`, mm.
    fn blur(&self, s: f64, other: f64) -> f64 {
        self.focal / self.number * self.magnification(s) * (other - s).abs() / other
    }

    fn hyperfocal(&self) -> f64 {
        self.focal * self.focal / (self.number * self.circle) + self.focal
    }

    fn depth(&self, s: f64) -> (f64, Option<f64>) {
        let (h, f) = (self.hyperfocal(), self.focal);
        let near = s * (h - f) / (h + s - 2.0 * f);
        (near, (s < h).then(|| s * (h - f) / (h - s)))
    }

    fn focused(&self, s: f64, other: f64) -> Focused {
        let blur = self.blur(s, other);
        let (from, to) = self.depth(s);
        Focused {
            distance_mm: s,
            magnification: self.magnification(s),
            sharp_from_mm: from,
            sharp_to_mm: to,
            other_blur_mm: blur,
            other_blur_permille: blur / self.height * 1000.0,
            other_blur_circles: blur / self.circle,
            effective_f_number: self.number * (1.0 + self.magnification(s)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lens(focal: f64, number: f64, circle: f64) -> Lens {
        Lens {
            focal,
            number,
            circle,
            height: 24.0,
        }
    }

    /// Thin-lens formulas of Ray (from memory); values by closed form, near and
    /// far checked by putting them back into the blur formula.
    #[test]
    fn depth_of_field() {
        let rows = [
            (
                50.,
                2.8,
                0.03,
                2000.,
                29_811.904_762,
                1_877.017_794,
                2_140.227_720,
            ),
            (
                50.,
                8.0,
                0.03,
                3000.,
                10_466.666_667,
                2_337.905_237,
                4_185.267_857,
            ),
            (
                85.,
                1.8,
                0.03,
                2000.,
                133_881.296_296,
                1_971.778_326,
                2_029.041_267,
            ),
            (24., 8.0, 0.03, 1500., 2424.0, 928.792_570, 3_896.103_896),
            (35., 4.0, 0.02, 1000., 15_347.5, 940.715_712, 1_067.259_104),
            (
                200.,
                4.0,
                0.03,
                5000.,
                333_533.333_333,
                4_929.022_082,
                5_073.051_948,
            ),
        ];
        for (f, n, c, s, h, near, far) in rows {
            let lens = lens(f, n, c);
            assert!((lens.hyperfocal() - h).abs() < 1e-6);
            let (from, to) = lens.depth(s);
            assert!((from - near).abs() < 1e-6 && (to.unwrap() - far).abs() < 1e-6);
            assert!((lens.blur(s, from) - c).abs() < 1e-12);
            assert!((lens.blur(s, far) - c).abs() < 1e-9);
        }
        let wide = lens(24.0, 8.0, 0.03);
        assert_eq!(wide.depth(2424.0).1, None);
        assert!((wide.depth(2424.0).0 - 1212.0).abs() < 1e-9);
    }

    /// Closed form.
    #[test]
    fn blur_of_the_other_subject() {
        let rows = [
            (50., 2.8, 2000., 2200., 0.041_625_041_6),
            (50., 2.8, 2000., 1800., 0.050_875_050_9),
            (85., 1.8, 2000., 2050., 0.051_122_573_9),
            (50., 1.4, 1000., 1100., 0.170_881_749_8),
            (35., 4.0, 1000., 1200., 0.052_892_918_8),
        ];
        for (f, n, s, other, blur) in rows {
            assert!((lens(f, n, 0.03).blur(s, other) - blur).abs() < 1e-10);
        }
    }

    fn ask() -> OpticsQuestion {
        OpticsQuestion {
            focal_mm: 50.0,
            f_number: 2.0,
            sensor_mm: [36.0, 24.0],
            converter: 1.0,
            near_mm: 1000.0,
            far_mm: 3000.0,
        }
    }

    #[test]
    fn a_converter_costs_light() {
        let plain = optics(&ask()).unwrap();
        assert!((plain.circle_of_confusion_mm - 36f64.hypot(24.0) / 1500.0).abs() < 1e-12);
        assert!(plain.change_shows && plain.warnings.is_empty());
        let doubled = OpticsQuestion {
            converter: 2.0,
            ..ask()
        };
        let got = optics(&doubled).unwrap();
        assert_eq!(
            (got.focal_mm, got.f_number, got.light_lost_stops),
            (100.0, 4.0, 2.0)
        );
    }

    #[test]
    fn a_change_that_does_not_show_is_said() {
        let deep = OpticsQuestion {
            focal_mm: 16.0,
            f_number: 11.0,
            ..ask()
        };
        let got = optics(&deep).unwrap();
        assert!(!got.change_shows && got.warnings[0].contains("nothing is tested"));
        let close = OpticsQuestion {
            near_mm: 40.0,
            ..ask()
        };
        assert_eq!(optics(&close).unwrap_err().key, "near-mm");
        let turned = OpticsQuestion {
            far_mm: 900.0,
            ..ask()
        };
        assert_eq!(optics(&turned).unwrap_err().key, "far-mm");
    }
}
