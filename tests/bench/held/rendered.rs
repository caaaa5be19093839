//! Films that `render` made, with `CLIP.truth.json` beside them, read by the
//! contract's keys.

use std::path::Path;

use serde_json::Value;

use super::course::{Blur, Course};
use super::truth::{Film, Trial};

/// The truth beside a clip.
pub fn truth(path: &Path) -> Film {
    let text = std::fs::read_to_string(focuslag::render::truth_path(path)).expect("a truth");
    let t: Value = serde_json::from_str(&text).expect("JSON");
    let number = |key: &str| t[key].as_f64().unwrap_or_else(|| panic!("{key}"));
    let lag_ms = number("live_view_lag_ms");
    let updates = t["updates"].as_array().map_or(&[][..], Vec::as_slice);
    // Updates that show neither side, while the target travels, have no blur.
    let (shown_s, at): (Vec<f64>, Vec<f64>) = updates
        .iter()
        .filter_map(|u| Some((u["shown_s"].as_f64()?, u["permille"].as_f64()?)))
        .unzip();
    let live = t["live_view_fps"].as_f64().unwrap_or(f64::MAX);
    let corners = &t["screen"]["corners"];
    let corner = |k: usize, axis: usize| corners[k][axis].as_f64().expect("corners");
    let side =
        |a: usize, b: usize| (corner(a, 0) - corner(b, 0)).hypot(corner(a, 1) - corner(b, 1));
    Film {
        name: path
            .file_stem()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned()),
        course: Course {
            shown_s,
            at,
            permille: [1.0; 2],
        },
        trials: list(&t["trials"])
            .iter()
            .map(|x| trial(x, lag_ms / 1e3, updates.is_empty()))
            .collect(),
        unit_ms: 1e3 / number("refresh_hz").min(live) + 1e3 / number("capture_fps"),
        lag_ms,
        high_px: f64::midpoint(side(0, 3), side(1, 2)),
        hold_s: t["hold_ms"].as_f64().unwrap_or(200.0) / 1e3,
        window_s: t["window_ms"].as_f64().expect("a window") / 1e3,
    }
}

fn list(v: &Value) -> &[Value] {
    v.as_array().map_or(&[], Vec::as_slice)
}

fn trial(t: &Value, lag_s: f64, no_course: bool) -> Trial {
    let side = match t["side"].as_str() {
        Some("near") => Some("near"),
        Some(_) => Some("far"),
        None => None,
    };
    let onset_s = t["onset_s"].as_f64().expect("an onset");
    let verdict = match t["verdict"].as_str() {
        Some("hit") => "hit",
        Some("soft") => "soft",
        Some("lost") => "lost",
        _ => "void",
    };
    let settle = &t["settle_s"];
    Trial {
        side,
        verdict,
        scored: verdict != "void",
        // A light's onset is the world's, a swing's is read from the screen.
        world_s: onset_s,
        shown_s: if side.is_none() {
            onset_s + lag_s
        } else {
            onset_s
        },
        blur: vec![Blur::Straight],
        own_pair: settle[0]
            .as_f64()
            .zip(settle[1].as_f64())
            .filter(|_| no_course),
    }
}
