//! δ, one for the whole session: how near to its end blur stays once settled.

use super::setup::Verdicts;

/// The session's δ, ‰ of the screen's height: the largest that its rigs ask for,
/// or the largest limit of its films that can be judged, rounded up, where that
/// is more.
pub fn delta<'a>(clips: impl Iterator<Item = &'a Verdicts<'a>>) -> f64 {
    clips
        .map(|clip| {
            let told = clip.limit().filter(|_| clip.has_yardstick());
            clip.asked().max(told.map_or(0.0, |l| l.raised()))
        })
        .fold(0.0, f64::max)
}
