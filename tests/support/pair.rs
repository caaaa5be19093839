//! When a trial settled by its truth, for any δ.

use focuslag::render::Truth;

/// The first updates after which the blur of trial `k` stays within 1.5 `delta`,
/// and within `delta` ÷ 1.5, of its end to the end of window and hold, seconds.
pub fn pair(truth: &Truth, k: usize, delta: f64) -> [f64; 2] {
    let t = &truth.trials[k];
    let end = t.blur_permille.end.expect("an end");
    let until = t.window_end_s + truth.hold_ms / 1000.0;
    let shown = truth.updates.iter().filter(|u| {
        u.permille.is_some() && u.side == t.side && (t.onset_s - 1e-9..until).contains(&u.shown_s)
    });
    let course: Vec<(f64, f64)> = shown
        .map(|u| (u.shown_s, (u.permille.expect("blur") - end).abs()))
        .collect();
    [1.5 * delta, delta / 1.5].map(|limit| {
        let last = course.iter().rposition(|c| c.1 > limit);
        course[last.map_or(0, |k| k + 1)].0
    })
}

/// Whether a settle agrees with its pair: to a refresh and a frame before it,
/// and to two of them after. On these small screens compression holds detail
/// back after motion, so that a settle may be late, and never early.
pub fn agrees(pair: [f64; 2], got: f64, unit: f64) -> bool {
    got > pair[0] - unit && got < pair[1] + 2.0 * unit
}
