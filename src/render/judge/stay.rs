//! Where a course of blur stays: the definitions of a stay and of what is no
//! stay, on the blur of every update, without noise.
//!
//! In: updates in the order they are shown. Out: places among them. A stay is
//! within a band around a centre; strays out of it are single, never at its
//! ends and at most one in twenty of its updates.

/// One update: when it is shown, s, and its blur, ‰ of the screen's height.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::render) struct Shown {
    pub at_s: f64,
    pub permille: f64,
}

/// Strays of a stay: at most one update in so many (the definition's own).
const STRAY_IN: usize = 20;

/// A band of blur, ‰.
#[derive(Clone, Copy, Debug)]
pub(in crate::render) struct Band {
    pub center: f64,
    pub half: f64,
}

impl Band {
    fn holds(self, s: Shown) -> bool {
        (s.permille - self.center).abs() <= self.half
    }
}

/// First update of the stay that reaches to the last update.
pub(super) fn last_stay(course: &[Shown], band: Band) -> Option<usize> {
    let n = course.len();
    if n == 0 || !band.holds(course[n - 1]) {
        return None;
    }
    let (mut first, mut strays) = (n - 1, 0);
    for i in (0..n - 1).rev() {
        if band.holds(course[i]) {
            if strays * STRAY_IN <= n - i {
                first = i;
            }
        } else if i == 0 || !band.holds(course[i - 1]) {
            break;
        } else {
            strays += 1;
        }
    }
    Some(first)
}

/// First update of the first stay: the one that reaches to the end, or one
/// that lasts `span_s`.
pub(in crate::render) fn first_stay(course: &[Shown], band: Band, span_s: f64) -> Option<usize> {
    let last = last_stay(course, band)?;
    Some(
        (0..last)
            .find(|i| lasts(&course[*i..], band, span_s))
            .unwrap_or(last),
    )
}

/// Whether a stay of `span_s` begins with the first update.
fn lasts(course: &[Shown], band: Band, span_s: f64) -> bool {
    if !band.holds(course[0]) {
        return false;
    }
    let mut strays = 0;
    for (k, s) in course.iter().enumerate().skip(1) {
        if !band.holds(*s) {
            strays += 1;
            if !band.holds(course[k - 1]) {
                return false;
            }
        } else if s.at_s - course[0].at_s >= span_s - 1e-9 && strays * STRAY_IN <= k + 1 {
            return true;
        }
    }
    false
}

/// Whether some stretch of `span_s` stays within `half` of its own median,
/// itself at most `limit`.
pub(super) fn held_once(course: &[Shown], half: f64, span_s: f64, limit: f64) -> bool {
    (0..course.len()).any(|i| {
        let end = course[i].at_s + span_s;
        let to = course.partition_point(|s| s.at_s < end - 1e-9);
        if to >= course.len() {
            return false;
        }
        let stretch = &course[i..=to];
        let Some(center) = median(stretch) else {
            return false;
        };
        center <= limit && lasts(stretch, Band { center, half }, span_s)
    })
}

/// Median blur, ‰; `None` of nothing.
pub(super) fn median(course: &[Shown]) -> Option<f64> {
    let mut v: Vec<f64> = course.iter().map(|s| s.permille).collect();
    v.sort_by(f64::total_cmp);
    match v.len() {
        0 => None,
        n if n % 2 == 1 => Some(v[n / 2]),
        n => Some(f64::midpoint(v[n / 2 - 1], v[n / 2])),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten updates a second.
    fn course(permille: &[f64]) -> Vec<Shown> {
        let shown = |(i, p): (usize, &f64)| Shown {
            at_s: i as f64 / 10.0,
            permille: *p,
        };
        permille.iter().enumerate().map(shown).collect()
    }

    const BAND: Band = Band {
        center: 0.0,
        half: 2.0,
    };

    #[test]
    fn the_last_stay_reaches_back_to_where_the_band_was_entered() {
        let c = course(&[9.0, 5.0, 1.9, 0.0, 0.0, 2.0]);
        assert_eq!(last_stay(&c, BAND), Some(2));
        assert_eq!(last_stay(&course(&[0.0, 0.0, 2.1]), BAND), None);
        assert_eq!(last_stay(&[], BAND), None);
    }

    /// One stray in twenty updates is borne, one in nineteen is not, two
    /// together never.
    #[test]
    fn single_strays_are_borne_one_in_twenty() {
        let with = |n: usize, out: &[usize]| {
            let mut v = vec![0.0; n];
            out.iter().for_each(|i| v[*i] = 3.0);
            last_stay(&course(&v), BAND)
        };
        assert_eq!(with(20, &[10]), Some(0));
        assert_eq!(with(19, &[10]), Some(11));
        assert_eq!(with(60, &[10, 11]), Some(12));
        assert_eq!(with(60, &[0]), Some(1));
        assert_eq!(with(41, &[10, 20]), Some(0));
    }

    #[test]
    fn a_stay_that_is_left_counts_once_it_has_lasted() {
        let mut v = vec![0.0; 8];
        v.extend([9.0; 3]);
        v.extend([0.5; 4]);
        let c = course(&v);
        assert_eq!(first_stay(&c, BAND, 0.7), Some(0));
        assert_eq!(first_stay(&c, BAND, 0.8), Some(11));
        // No stay where the course ends is none at all.
        assert_eq!(first_stay(&c[..10], BAND, 0.7), None);
    }

    #[test]
    fn what_was_held_in_focus_and_left_is_seen() {
        let mut v = vec![1.5, 3.2, 1.4, 2.5, 3.3, 2.5, 2.6, 9.0, 3.0];
        assert!(held_once(&course(&v), 2.0, 0.6, 4.0));
        assert!(!held_once(&course(&v), 2.0, 0.7, 4.0));
        assert!(!held_once(&course(&v), 0.5, 0.6, 4.0));
        v.iter_mut().for_each(|p| *p += 3.0);
        assert!(!held_once(&course(&v), 2.0, 0.6, 4.0));
    }

    #[test]
    fn the_median_of_an_even_number_is_between() {
        assert_eq!(median(&course(&[4.0, 1.0, 2.0])), Some(2.0));
        assert_eq!(median(&course(&[4.0, 1.0, 2.0, 3.0])), Some(2.5));
        assert_eq!(median(&[]), None);
    }
}
