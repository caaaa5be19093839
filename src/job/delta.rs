//! δ, one for the whole session: how near to its end blur stays once settled.

use super::setup::Verdicts;

/// The session's δ.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Delta {
    /// ‰ of the screen's height; 0 where nothing raises what the rigs say.
    pub permille: f64,
    /// The clip whose film raised it.
    pub raised_by: Option<String>,
}

impl Delta {
    /// The largest limit of the films that can be judged, rounded up, where it
    /// is above what the rigs ask for.
    pub fn of<'a>(clips: impl Iterator<Item = &'a Verdicts<'a>>) -> Self {
        let mut out = Self::default();
        for clip in clips {
            out.permille = out.permille.max(clip.asked());
            let raised = clip.limit().map_or(0.0, |l| l.raised());
            if raised > out.permille {
                out.permille = raised;
                out.raised_by = Some(clip.path().to_owned());
            }
        }
        out
    }
}
