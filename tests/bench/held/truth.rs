//! What a film's maker knows of its trials.

use super::course::{Blur, Course, Pair};

/// A film and what happens in it.
pub struct Film {
    pub name: String,
    pub course: Course,
    pub trials: Vec<Trial>,
    /// A refresh and a frame, ms: the unit of settle errors.
    pub unit_ms: f64,
    /// From the world to its first showing, ms.
    pub lag_ms: f64,
    /// Height of the screen, film px.
    pub high_px: f64,
    pub hold_s: f64,
    pub window_s: f64,
}

/// One trial.
pub struct Trial {
    /// `near`, `far`; none for light.
    pub side: Option<&'static str>,
    /// `hit`, `soft`, `lost`; `miss`: soft or lost.
    pub verdict: &'static str,
    /// Whether it counts at all.
    pub scored: bool,
    /// The stimulus in the world and on the screen, s.
    pub world_s: f64,
    pub shown_s: f64,
    /// How its blur is told from the lens: where more than one, the pair spans
    /// them all.
    pub blur: Vec<Blur>,
    /// The pair of a truth that does not say where the lens was.
    pub own_pair: Option<(f64, f64)>,
}

impl Trial {
    /// The onset where it was seen.
    pub fn onset_s(&self, direct: bool) -> f64 {
        if direct { self.world_s } else { self.shown_s }
    }

    /// Whether a verdict is the true one.
    pub fn agrees(&self, verdict: &str) -> bool {
        match self.verdict {
            "miss" => ["soft", "lost"].contains(&verdict),
            own => verdict == own,
        }
    }

    /// The pair around δ; `end_s` is the end of the window as judged.
    pub fn pair(&self, film: &Film, end_s: Option<f64>, delta: f64) -> Option<Pair> {
        if let Some((first, last)) = self.own_pair {
            let [first_s, last_s] = [first, last].map(|t| t.max(self.shown_s));
            return Some(Pair {
                first_s,
                last_s,
                crossing_s: f64::midpoint(first_s, last_s),
            });
        }
        let end_s = end_s.unwrap_or(self.shown_s + film.window_s);
        let pairs: Option<Vec<Pair>> = self
            .blur
            .iter()
            .map(|b| {
                film.course
                    .pair(*b, self.shown_s, (end_s, film.hold_s), delta)
            })
            .collect();
        pairs?.into_iter().reduce(|a, b| Pair {
            first_s: a.first_s.min(b.first_s),
            last_s: a.last_s.max(b.last_s),
            ..a
        })
    }
}
