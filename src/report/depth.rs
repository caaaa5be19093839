//! How blur is drawn: its square root from 0, in focus, at the bottom.
//!
//! A lens comes from a hundred ‰ and is judged at four: on an even scale the end,
//! which decides, would be a hairline. The square root shows both, and shows
//! that nothing was cut away.

/// Marks that an axis of blur may bear, ‰.
const MARKS: [f64; 11] = [
    0.0, 1.0, 2.0, 4.0, 7.0, 15.0, 30.0, 60.0, 100.0, 200.0, 400.0,
];
/// Marks nearer than this share of the axis would run into each other.
const APART: f64 = 0.115;
/// Least blur at the top of an axis, as a multiple of the hit limit: the line
/// must not be the edge.
const ABOVE_LIMIT: f64 = 1.6;
/// Least blur at the top of an axis, ‰.
const LEAST_TOP: f64 = 4.0;

/// An axis of blur.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// Blur at its top, ‰.
    pub top: f64,
}

impl Depth {
    /// An axis that holds these values and the hit limit.
    pub fn of(values: impl Iterator<Item = f64>, hit_limit: Option<f64>) -> Self {
        let least = hit_limit.map_or(LEAST_TOP, |h| (h * ABOVE_LIMIT).max(LEAST_TOP));
        Self {
            top: values.filter(|v| v.is_finite()).fold(least, f64::max),
        }
    }

    /// Height of a blur, 0 in focus to 1 at the top; beyond it, the top.
    pub fn at(&self, permille: f64) -> f64 {
        (permille.max(0.0) / self.top).sqrt().min(1.0)
    }

    /// Marks from the bottom up, none so near to the one below that their words
    /// would touch.
    pub fn marks(&self) -> Vec<f64> {
        let mut out: Vec<f64> = Vec::new();
        for mark in MARKS.into_iter().filter(|m| *m <= self.top) {
            let room = |last: &f64| self.at(mark) - self.at(*last) >= APART;
            if out.last().is_none_or(room) {
                out.push(mark);
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn focus_is_at_the_bottom_and_the_end_can_be_seen() {
        let depth = Depth::of([3.0, 90.0, f64::NAN].into_iter(), Some(4.0));
        assert_eq!(
            (depth.at(0.0), depth.at(-1.0), depth.at(90.0)),
            (0.0, 0.0, 1.0)
        );
        assert!(depth.at(2.0) > 0.14 && depth.at(900.0) == 1.0);
        assert_eq!(Depth::of(std::iter::empty(), None).top, 4.0);
        assert_eq!(Depth::of([1.0].into_iter(), Some(10.0)).top, 16.0);
    }

    #[test]
    fn marks_do_not_touch() {
        for top in [4.0, 6.4, 31.0, 130.0, 600.0] {
            let depth = Depth { top };
            let marks = depth.marks();
            assert!(marks.len() >= 3 && marks[0] == 0.0, "{marks:?}");
            for pair in marks.windows(2) {
                assert!(depth.at(pair[1]) - depth.at(pair[0]) >= APART, "{marks:?}");
            }
        }
    }
}
