//! How large a pixel of the screen is on the subject.
//!
//! Thin lens, as in [`super::optics`]: the picture's height on the sensor ÷
//! magnification is the height of the field seen at the subject.

use serde::Serialize;

use super::optics::magnification;
use super::{PlanError, within};

/// Lens, distance and screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldQuestion {
    /// Focal length with any converter, mm.
    pub focal_mm: f64,
    /// From lens to subject, m.
    pub distance_m: f64,
    /// Height of the sensor, mm.
    pub sensor_height_mm: f64,
    /// Rows of the screen as it is filmed, pixels.
    pub screen_px: f64,
}

/// What the screen shows of a subject.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Field {
    /// Height of the field at the subject, mm.
    pub height_mm: f64,
    /// Millimetres of the subject a pixel of the screen.
    pub mm_per_pixel: f64,
}

/// The field at a subject.
///
/// # Errors
/// Values out of range, or a subject closer than the lens can focus.
pub fn field(question: &FieldQuestion) -> Result<Field, PlanError> {
    let focal = within("focal-mm", question.focal_mm, 1.0, 5000.0, " mm")?;
    let distance = within("distance-m", question.distance_m, 0.01, 1000.0, " m")? * 1000.0;
    let sensor = within(
        "sensor-height-mm",
        question.sensor_height_mm,
        1.0,
        500.0,
        " mm",
    )?;
    let rows = within("screen-px", question.screen_px, 100.0, 10_000.0, " pixels")?;
    if distance <= focal * 1.01 {
        return Err(PlanError::new(
            "distance-m",
            format!(
                "{} m is within the focal length of {focal} mm: no lens focuses there",
                question.distance_m
            ),
        ));
    }
    let height_mm = sensor / magnification(focal, distance);
    Ok(Field {
        height_mm,
        mm_per_pixel: height_mm / rows,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const ASK: FieldQuestion = FieldQuestion {
        focal_mm: 50.0,
        distance_m: 1.05,
        sensor_height_mm: 24.0,
        screen_px: 480.0,
    };

    /// By hand: m = 50 ÷ (1050 − 50) = 1/20, the field is 20 × 24 mm.
    #[test]
    fn the_field_is_sensor_over_magnification() {
        let got = field(&ASK).unwrap();
        assert!((got.height_mm - 480.0).abs() < 1e-9);
        assert!((got.mm_per_pixel - 1.0).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_is_named() {
        for (ask, key) in [
            (
                FieldQuestion {
                    distance_m: 0.05,
                    ..ASK
                },
                "distance-m",
            ),
            (
                FieldQuestion {
                    focal_mm: 0.0,
                    ..ASK
                },
                "focal-mm",
            ),
            (
                FieldQuestion {
                    sensor_height_mm: f64::NAN,
                    ..ASK
                },
                "sensor-height-mm",
            ),
            (
                FieldQuestion {
                    screen_px: 3.0,
                    ..ASK
                },
                "screen-px",
            ),
        ] {
            assert_eq!(field(&ask).unwrap_err().key, key);
        }
    }
}
