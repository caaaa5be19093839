//! Films of a screen whose rows go black, its backlight being switched while
//! the filming camera exposes briefly: what can be told of them.

use std::io;

use crate::sharpness::clean::Flicker;
use crate::sharpness::{COLUMNS, Places, ROWS, TILES, UpdateTiles};
use crate::store::schema::Side;
use crate::trial::{Curve, Stimulus, median};

/// Rows that no frame of an update shows lit: up to this share, what was seen
/// before stands in for them.
const MOST_HIDDEN: f64 = 0.01;
/// Seconds before the next stimulus in which a lens rests.
const REST_S: f64 = 0.4;

/// In words, where rows go black and no frame of an update shows them, or
/// where the sharpness wanders with them: no trial can be told then.
pub fn hides(
    f: &Flicker,
    hidden: f64,
    curve: &Curve,
    stimuli: &[Stimulus],
    tolerance: f64,
) -> Option<String> {
    if !f.goes_black() {
        return None;
    }
    let advice = "so the trials cannot be told: set the screen to full brightness, or film with a \
                  longer exposure";
    let black = 100.0 * f.black;
    if hidden > MOST_HIDDEN {
        return Some(format!(
            "black bands cover {black:.0} % of the rows, and {:.1} % of what the screen shows is \
             black in every frame of it, {advice}",
            100.0 * hidden
        ));
    }
    let wander = wander(curve, stimuli)?;
    (wander > 2.0 * tolerance).then(|| {
        format!(
            "black bands cover {black:.0} % of the rows, and the sharpness wanders by {:.0} % \
             with them while nothing moves, {advice}",
            100.0 * wander
        )
    })
}

/// By what share of its level the sharpness wanders before the next stimulus
/// comes: the middle trial. Most lenses rest by then.
fn wander(curve: &Curve, stimuli: &[Stimulus]) -> Option<f64> {
    let of = |s: &Stimulus| {
        let until = s.move_s.unwrap_or(s.onset_s) - 2.0 * curve.period_s;
        let rest = curve.between(until - REST_S, until);
        let smooth = rest
            .windows(5)
            .filter_map(|w| median(w.iter().map(|s| s.value).collect()));
        let (low, high) = smooth.fold((f64::MAX, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
        (high > 0.0).then(|| (high - low) / high)
    };
    median(stimuli.iter().skip(1).filter_map(of).collect())
}

/// A row with less than this share of the light it has in another trial of its
/// side lies in the dark.
const DARK: f64 = 0.45;
/// A row with less light than this in every trial says nothing, ÷ the
/// brightest row.
const LEAST_LIGHT: f64 = 0.2;

/// In words, where part of the area is lit in one trial and dark in another of
/// the same side, everything at rest: a band that hardly moves, or a shadow.
///
/// # Errors
/// When the tiles cannot be read back.
pub fn shaded(
    tiles: &mut UpdateTiles,
    places: &Places,
    curve: &Curve,
    stimuli: &[Stimulus],
) -> io::Result<Option<String>> {
    let mut ends: Vec<(Option<Side>, [f64; ROWS])> = Vec::new();
    for (n, s) in stimuli.iter().enumerate() {
        let next = stimuli.get(n + 1).map(|s| s.move_s.unwrap_or(s.onset_s));
        let until = next.map_or(s.onset_s + REST_S, |t| t - 2.0 * curve.period_s);
        let k = curve.at_or_after(until).min(tiles.len().saturating_sub(1));
        if k < tiles.len() {
            ends.push((s.side, rows_of(&tiles.get(k)?.1, places)));
        }
    }
    let apart = |side: Option<Side>, r: usize| {
        let of = ends.iter().filter(|(s, _)| *s == side).map(|(_, v)| v[r]);
        let (low, high) = of.fold((f64::MAX, 0.0f64), |(l, h), v| (l.min(v), h.max(v)));
        high > LEAST_LIGHT && low < DARK * high
    };
    let sides = [None, Some(Side::Near), Some(Side::Far)];
    let rows = (0..ROWS).filter(|r| sides.iter().any(|s| apart(*s, *r)));
    let rows = rows.count();
    #[allow(clippy::cast_precision_loss)]
    Ok((rows > 0).then(|| {
        format!(
            "{:.0} % of the focus area's rows are lit in some trials and dark in others while \
             nothing moves, as by a dark band that hardly moves or a shadow, so the trials cannot \
             be told: set the screen to full brightness, film with a longer exposure, and keep \
             shadows off the screen",
            100.0 * rows as f64 / ROWS as f64
        )
    }))
}

/// Light of each row of tiles, the brightest being 1.
fn rows_of(mean: &[f32; TILES], places: &Places) -> [f64; ROWS] {
    let rows: [f64; ROWS] = std::array::from_fn(|r| {
        let row = r * COLUMNS..(r + 1) * COLUMNS;
        let pixels: f32 = places.mean[row.clone()].iter().sum();
        let light = row.map(|i| mean[i] * places.mean[i]).sum::<f32>();
        f64::from(light / pixels.max(1.0))
    });
    let most = rows.iter().copied().fold(1e-6, f64::max);
    rows.map(|r| r / most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trial::Sample;

    fn flicker(black: f64) -> Flicker {
        Flicker {
            seen_hz: Some(30.0),
            depth: 0.2,
            bands: 0.3,
            black,
            exponent: 2.0,
            half: 8,
        }
    }

    fn curve(level: impl Fn(f64) -> f64) -> Curve {
        let sample = |k: usize| {
            let shown_s = k as f64 / 60.0;
            Sample {
                shown_s,
                first: 4 * k,
                end: 4 * k + 4,
                value: level(shown_s),
                mean: 0.4,
                white: 0.0,
                sigma_most: 0.0,
            }
        };
        Curve {
            samples: (0..600).map(sample).collect(),
            period_s: 1.0 / 60.0,
            frame_s: 1.0 / 240.0,
            every_frame: false,
        }
    }

    fn stimuli() -> Vec<Stimulus> {
        let stimulus = |k: u32| Stimulus {
            side: Some(Side::Near),
            move_s: Some(2.0 * f64::from(k) + 0.7),
            onset_s: 2.0 * f64::from(k) + 1.0,
            onset_u_s: 0.0,
        };
        (0..4).map(stimulus).collect()
    }

    #[test]
    fn a_sharpness_that_wanders_with_the_bands_cannot_be_told() {
        let told = |black, hidden, c: &Curve| hides(&flicker(black), hidden, c, &stimuli(), 0.05);
        let beat = |depth: f64| curve(move |t| 1.0 + depth * (12.0 * t).sin());
        assert_eq!(told(0.2, 0.0, &beat(0.01)), None);
        assert!(told(0.2, 0.0, &beat(0.1)).is_some_and(|w| w.contains("wanders by")));
        // Without black rows it is no business of theirs.
        assert_eq!(told(0.01, 0.0, &beat(0.1)), None);
        // One lens of four that hunts to the end is no band.
        let hunts = curve(|t| {
            if (3.5..5.0).contains(&t) {
                1.0 + (20.0 * t).sin()
            } else {
                1.0
            }
        });
        assert_eq!(told(0.2, 0.0, &hunts), None);
        assert!(told(0.2, 0.05, &beat(0.0)).is_some_and(|w| w.contains("5.0 %")));
    }
}
