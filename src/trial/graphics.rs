//! Graphics that the camera draws over the picture while trials run: a focus
//! box that comes up, changes its colour or goes.
//!
//! In: small pictures of the screen, one an update, and the focus area. Out:
//! every moment at which a graphic changes within it, and where.
//!
//! A lens spreads light and keeps its sum, moves within several updates, and
//! changes the whole picture. A graphic adds light to a few cells or takes it
//! from them, from one update to the next. All three must be so. Nothing is taken
//! out by it: what a box adds to the energies depends on the picture that it
//! covers.

use std::io;

use serde::{Deserialize, Serialize};

use super::View;
use crate::ranked::middle;
use crate::screen::Thumb;

/// A moment at which a graphic changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// When it was first seen so, seconds as shot.
    pub shown_s: f64,
    /// Rectangles that hold it: left, top, right, bottom, shares of the screen.
    pub parts: Vec<[f64; 4]>,
}

impl Change {
    /// Sum of its rectangles' areas, share of the screen.
    pub fn size(&self) -> f64 {
        let of = |p: &[f64; 4]| (p[2] - p[0]) * (p[3] - p[1]);
        self.parts.iter().map(of).sum()
    }
}

/// Times by which the update must change more than both of its neighbours.
/// Chosen. Half and twice of these three, and none: the figures in
/// `tests/bench/README.md`.
const AT_ONCE: f32 = 3.0;
/// Share of the change that has one sign, less what has the other, by squares.
/// Fitted: 0.98 to 1 for drawn boxes; up to 0.92 for photographs of two real
/// focal stacks that follow each other at once and change as few cells.
const ONE_WAY: f32 = 0.95;
/// Largest share of the cells that the change is spread over (participation
/// ratio: a third for what is normally distributed). Fitted on the same: 0.07 to
/// 0.13 for boxes.
const FEW_CELLS: f32 = 0.2;
/// Updates that follow each other are less than this many updates apart: more
/// than one, less than two. Derived.
const NEXT: f64 = 1.5;

/// What changed from one update to the next.
struct Step {
    shown_s: f64,
    cells: Vec<f32>,
    rms: f32,
}

/// The cells of the focus area.
struct Area {
    columns: std::ops::Range<usize>,
    rows: std::ops::Range<usize>,
    size: (usize, usize),
    masked: Vec<bool>,
}

/// The changes of graphics within `area` (left, top, right, bottom of the
/// screen) outside `masks`.
///
/// # Errors
/// When the temporary pictures cannot be read.
pub fn changes(view: &mut View<'_>, area: [f64; 4], masks: &[[f64; 4]]) -> io::Result<Vec<Change>> {
    let Some(&first) = view.pictures.first() else {
        return Ok(Vec::new());
    };
    let mut before = view.reel.get(first)?;
    let area = Area::new(&before, area, masks);
    let mut found = Vec::new();
    // The step before the one that is looked at, and that one.
    let (mut earlier, mut held) = (f32::MAX, None::<Step>);
    for k in 1..view.pictures.len() {
        let after = view.reel.get(view.pictures[k])?;
        let follows = view.shown_s[k] - view.shown_s[k - 1] < NEXT * view.step_s;
        let step = area.step(&before, &after, view.shown_s[k]);
        let later = if follows { step.rms } else { f32::MAX };
        if let Some(s) = held.take() {
            let last = s.rms;
            if is_drawn(&s, earlier.max(later)) {
                found.push(area.change(&s));
            }
            earlier = last;
        }
        if !follows {
            earlier = f32::MAX;
        }
        held = follows.then_some(step);
        before = after;
    }
    Ok(found)
}

/// Whether a step can be no lens; `around`: the larger of its neighbours.
fn is_drawn(step: &Step, around: f32) -> bool {
    if step.rms <= 0.0 || step.rms < AT_ONCE * around {
        return false;
    }
    let squares = || step.cells.iter().map(|d| d * d);
    let sum: f32 = squares().sum();
    let one_way: f32 = step.cells.iter().map(|d| d * d.abs()).sum::<f32>() / sum;
    let fourth: f32 = squares().map(|s| s * s).sum();
    let spread = sum * sum / fourth / step.cells.len() as f32;
    one_way.abs() >= ONE_WAY && spread <= FEW_CELLS
}

impl Area {
    fn new(picture: &Thumb, area: [f64; 4], masks: &[[f64; 4]]) -> Self {
        let size = (picture.width, picture.height);
        let cells = |from: f64, to: f64, n: usize| {
            let at = |v: f64| ((v * n as f64).round().max(0.0) as usize).min(n);
            at(from)..at(to).max(at(from))
        };
        let (columns, rows) = (
            cells(area[0], area[2], size.0),
            cells(area[1], area[3], size.1),
        );
        let touches = |m: &[f64; 4], x: usize, y: usize| {
            let (w, h) = (size.0 as f64, size.1 as f64);
            let (x, y) = (x as f64, y as f64);
            m[0] * w < x + 1.0 && m[2] * w > x && m[1] * h < y + 1.0 && m[3] * h > y
        };
        let place = rows
            .clone()
            .flat_map(|y| columns.clone().map(move |x| (x, y)));
        let masked = place.map(|(x, y)| masks.iter().any(|m| touches(m, x, y)));
        Self {
            masked: masked.collect(),
            columns,
            rows,
            size,
        }
    }

    fn step(&self, before: &Thumb, after: &Thumb, shown_s: f64) -> Step {
        let row =
            |y: usize| y * self.size.0 + self.columns.start..y * self.size.0 + self.columns.end;
        let of = |t: &Thumb, y: usize| t.cells[row(y)].to_vec();
        let both = self
            .rows
            .clone()
            .flat_map(|y| of(after, y).into_iter().zip(of(before, y)));
        let cells: Vec<f32> = both
            .zip(&self.masked)
            .filter(|(_, masked)| !**masked)
            .map(|((a, b), _)| a - b)
            .collect();
        let sum: f32 = cells.iter().map(|d| d * d).sum();
        let rms = (sum / cells.len().max(1) as f32).sqrt();
        Step {
            shown_s,
            cells,
            rms,
        }
    }

    /// Where a step's change lies: the lines of a box, or all of what is none.
    fn change(&self, step: &Step) -> Change {
        let (w, h) = (self.columns.len(), self.rows.len());
        let mut kept = step.cells.iter();
        let each = self.masked.iter().map(|m| {
            if *m {
                0.0
            } else {
                kept.next().map_or(0.0, |d| d * d)
            }
        });
        let squares: Vec<f32> = each.collect();
        let columns: Vec<f32> = (0..w)
            .map(|x| (0..h).map(|y| squares[y * w + x]).sum())
            .collect();
        let rows: Vec<f32> = (0..h)
            .map(|y| squares[y * w..(y + 1) * w].iter().sum())
            .collect();
        // A line stands out in its row or column; one across it adds a cell or two.
        let (across, down) = (lines(&columns), lines(&rows));
        let ends = |l: &[[usize; 2]]| [l[0][0], l[l.len() - 1][1]];
        let (x, y) = (ends(&across), ends(&down));
        let part = |x: [usize; 2], y: [usize; 2]| {
            // Half a cell more: a line may lie at the edge of its cells.
            let share = |cells: f64, n: usize| tidy((cells / n as f64).clamp(0.0, 1.0));
            let [x, y] = [(x, &self.columns), (y, &self.rows)]
                .map(|(p, all)| p.map(|at| (all.start + at) as f64));
            [
                share(x[0] - 0.5, self.size.0),
                share(y[0] - 0.5, self.size.1),
                share(x[1] + 0.5, self.size.0),
                share(y[1] + 0.5, self.size.1),
            ]
        };
        let parts = if across.len() == 2 && down.len() == 2 {
            let sides = across.iter().map(|c| part(*c, y));
            sides.chain(down.iter().map(|r| part(x, *r))).collect()
        } else {
            vec![part(x, y)]
        };
        Change {
            shown_s: step.shown_s,
            parts,
        }
    }
}

/// Runs of rows or columns that stand out: first and one past the last. Lines
/// that run across add the same to every one between the ends, which is the
/// middle one there; what has no more than that is one run.
fn lines(sums: &[f32]) -> Vec<[usize; 2]> {
    let most = sums.iter().copied().fold(0.0, f32::max);
    let holds = |s: &f32| *s >= 0.1 * most;
    let first = sums.iter().position(holds).unwrap_or(0);
    let last = sums.iter().rposition(holds).unwrap_or(0);
    let inside = sums[first..=last].iter().map(|s| f64::from(*s)).collect();
    let across = middle(inside).unwrap_or(0.0) as f32;
    if most - across < 0.25 * most {
        return vec![[first, last + 1]];
    }
    let mut out: Vec<[usize; 2]> = Vec::new();
    let stand = |k: &usize| sums[*k] - across >= 0.25 * (most - across);
    for k in (first..=last).filter(stand) {
        match out.last_mut() {
            Some(run) if run[1] == k => run[1] = k + 1,
            _ => out.push([k, k + 1]),
        }
    }
    out
}

/// Three decimals: a cell is 0.016 of the screen.
fn tidy(v: f64) -> f64 {
    (v * 1e3).round() / 1e3
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::screen::Reel;

    const W: usize = 64;
    const H: usize = 48;
    const AREA: [f64; 4] = [0.25, 0.25, 0.75, 0.75];

    /// A texture that keeps its sum, `sharp` 0..=1.
    fn texture(x: usize, y: usize, sharp: f32) -> f32 {
        let sign = |n: usize| if n.is_multiple_of(2) { 1.0 } else { -1.0 };
        0.4 + 0.15 * sharp * sign(x / 2 + y / 3)
    }

    fn box_line(x: usize, y: usize) -> bool {
        let (columns, rows) = (24..=38, 18..=28);
        let inside = columns.contains(&x) && rows.contains(&y);
        inside && (x == 24 || x == 38 || y == 18 || y == 28)
    }

    /// What is found in pictures of the cells' light at 60 a second.
    fn found(
        n: usize,
        masks: &[[f64; 4]],
        light: impl Fn(usize, usize, usize) -> f32,
    ) -> Vec<Change> {
        let mut reel = Reel::new(W, H);
        for k in 0..n {
            let cells = (0..W * H).map(|i| light(k, i % W, i / W)).collect();
            let thumb = Thumb {
                width: W,
                height: H,
                cells,
            };
            reel.push(&thumb).unwrap();
        }
        let mut view = View {
            reel: &mut reel,
            pictures: (0..n).collect(),
            shown_s: (0..n).map(|k| k as f64 / 60.0).collect(),
            step_s: 1.0 / 60.0,
            span: 1,
            instant_u_s: 0.0,
        };
        changes(&mut view, AREA, masks).unwrap()
    }

    /// A lens that comes into focus while a box shows from 10 on, and again from
    /// 50 on.
    fn boxed(k: usize, x: usize, y: usize) -> f32 {
        let sharp = ((k % 40) as f32 / 40.0).powi(2);
        let drawn = k % 40 >= 10 && box_line(x, y);
        texture(x, y, sharp) + if drawn { 0.1 } else { 0.0 }
    }

    #[test]
    fn a_box_is_told_with_its_four_lines() {
        let all = found(80, &[], boxed);
        let at: Vec<f64> = all.iter().map(|c| (c.shown_s * 60.0).round()).collect();
        assert!(at.starts_with(&[10.0]) && at.contains(&50.0), "{at:?}");
        let [left, right, top, bottom] = all[0].parts[..] else {
            panic!("{:?}", all[0].parts);
        };
        let cell = |p: [f64; 4]| [p[0] * 64.0, p[1] * 48.0, p[2] * 64.0, p[3] * 48.0];
        let near = |p, want: [f64; 4]| {
            let off = |(a, b): (&f64, &f64)| (a - b).abs() < 0.05;
            assert!(cell(p).iter().zip(&want).all(off), "{:?}", cell(p));
        };
        near(left, [23.5, 17.5, 25.5, 29.5]);
        near(right, [37.5, 17.5, 39.5, 29.5]);
        near(top, [23.5, 17.5, 39.5, 19.5]);
        near(bottom, [23.5, 27.5, 39.5, 29.5]);
    }

    #[test]
    fn what_is_masked_is_not_looked_at() {
        let masks = &found(80, &[], boxed)[0].parts;
        assert_eq!(found(80, masks, boxed), []);
    }

    #[test]
    fn a_lens_that_jumps_and_an_exposure_are_no_graphics() {
        let jumps = |k: usize, x: usize, y: usize| texture(x, y, f32::from(u8::from(k % 40 >= 10)));
        assert_eq!(found(80, &[], jumps), []);
        let lit = |k: usize, x, y| texture(x, y, 1.0) * if k % 40 < 10 { 1.0 } else { 1.2 };
        assert_eq!(found(80, &[], lit), []);
    }
}
