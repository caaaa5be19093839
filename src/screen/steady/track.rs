//! From sides to a place, frame by frame.

use super::Untracked;
use super::side::{Seen, Side};
use crate::clip::LumaFrame;
use crate::geometry::{Point, Quad, StoredPx};
use crate::ranked::median;

/// How far the screen is followed: share of the screen's shorter side, and
/// bounds in px. Beyond, it is lost.
const REACH: f64 = 0.08;
const REACH_PX: std::ops::RangeInclusive<usize> = 16..=64;
/// Regions follow when the screen is this far from them, px: half a pixel and
/// play, so that noise does not move them to and fro.
const PLAY: f64 = 0.75;
/// Sides across from one another that disagree by more are not both believed
/// px.
const DISAGREE: f64 = 2.0;

/// Of two sides that were seen together this many frames ago or less, one by
/// itself is not believed farther from there than so many px: a black band
/// that runs through the picture has an edge too.
const LATELY: usize = 60;
const ALONE: f64 = 1.5;

/// Whether the screen was seen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Sight {
    /// Its edges were found.
    Seen,
    /// Too dark along the edges to say: taken to be where it was.
    #[default]
    Dark,
    /// It is not where it can be followed.
    Lost,
}

/// Where the screen is in one frame.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Place {
    /// Px to the right and down since the first frame; as last seen where it
    /// is not seen.
    pub moved: [f32; 2],
    /// Whole px by which regions follow.
    pub shift: (i16, i16),
    /// Whether regions stand elsewhere than in the frame before.
    pub stepped: bool,
    /// Whether it was seen.
    pub sight: Sight,
    /// Median width of its edges (rise ÷ slope), px; 0 where not seen.
    pub edge_px: f32,
    /// By how much more one part of it moved than another: it has grown,
    /// shrunk or turned, px.
    pub bent_px: f32,
}

/// A screen this near to where it began has not moved, px: noise stays below.
const STILL: f32 = 0.3;

impl Place {
    /// By how much small pictures for motion follow, px to the right and down:
    /// as well as is known, so that the filming camera's movement is not taken
    /// for the target's; nothing while it stands still.
    pub fn pictures(&self) -> [f32; 2] {
        if self.moved[0].hypot(self.moved[1]) < STILL {
            return [0.0; 2];
        }
        self.moved
    }
}

/// A screen as the clip's first frame shows it.
pub struct Steady {
    /// In the order of the corners; `None` where its edge does not show.
    sides: [Option<Side>; 4],
    reach: usize,
}

/// Follows the screen through one stretch of the clip.
pub struct Tracker<'a> {
    steady: &'a Steady,
    place: Place,
    widths: Vec<f64>,
    /// For sides 0 and 2, and 1 and 3: how far inwards the first of them was
    /// when both were last seen to agree, px, and how many frames ago.
    agreed: [Option<(f64, usize)>; 2],
}

/// What the sides say together.
struct Fit {
    moved: (f64, f64),
    bent: f64,
    edge: f64,
    /// How far inwards sides 0 and 1 moved, where the side across agrees.
    agreed: [Option<f64>; 2],
}

impl Fit {
    fn length(&self) -> f64 {
        self.moved.0.hypot(self.moved.1)
    }
}

impl Steady {
    /// The screen at `quad` in the clip's `first` frame.
    ///
    /// # Errors
    /// [`Untracked::Edges`] where no side, or no two sides that meet, can be
    /// made out.
    pub fn new(quad: &Quad<StoredPx>, first: &LumaFrame<'_>) -> Result<Self, Untracked> {
        let c = &quad.corners;
        let short = quad.width().min(quad.height());
        let reach = ((REACH * short) as usize).clamp(*REACH_PX.start(), *REACH_PX.end());
        let middle: Point<StoredPx> = Point::new(
            c.iter().map(|p| p.x).sum::<f64>() / 4.0,
            c.iter().map(|p| p.y).sum::<f64>() / 4.0,
        );
        let sides = [0, 1, 2, 3].map(|i| Side::new([c[i], c[(i + 1) % 4]], middle, reach, first));
        let pair = |i: usize| sides[i].is_some() || sides[i + 2].is_some();
        if pair(0) && pair(1) {
            Ok(Self { sides, reach })
        } else {
            Err(Untracked::Edges)
        }
    }

    /// Follows the screen from the first frame of a stretch on.
    pub fn tracker(&self) -> Tracker<'_> {
        Tracker {
            steady: self,
            place: Place::default(),
            widths: Vec::new(),
            agreed: [None; 2],
        }
    }

    /// A look at where the screen should be; `None` where the sides do not
    /// give a place. The second value: two sides across from one another are
    /// not there, and one of them plainly elsewhere.
    fn look(
        &self,
        frame: &LumaFrame<'_>,
        shift: (i32, i32),
        agreed: [Option<f64>; 2],
        widths: &mut Vec<f64>,
    ) -> (Option<Fit>, bool) {
        widths.clear();
        let seen = [0, 1, 2, 3].map(|i| {
            let side = self.sides[i].as_ref();
            side.map_or(Seen::Unclear, |s| s.look(frame, shift, widths))
        });
        let gone = [0, 1].iter().any(|i| {
            let pair = [&seen[*i], &seen[i + 2]];
            let edge = pair.iter().any(|s| matches!(s, Seen::Edge { .. }));
            !edge && pair.iter().any(|s| matches!(s, Seen::Gone))
        });
        (self.fit(&seen, shift, agreed, widths), gone)
    }

    /// `before`: as [`Fit::agreed`], of not long ago.
    fn fit(
        &self,
        seen: &[Seen; 4],
        shift: (i32, i32),
        before: [Option<f64>; 2],
        widths: &mut [f64],
    ) -> Option<Fit> {
        let mut agreed = [None; 2];
        let mut bent = 0.0f64;
        let mut used: [Option<((f64, f64), f64)>; 4] = [None; 4];
        for (i, s) in seen.iter().enumerate() {
            if let (Seen::Edge { moved, turn }, Some(side)) = (s, &self.sides[i]) {
                used[i] = Some((side.inward, *moved));
                bent = bent.max(turn.abs());
            }
        }
        for i in [0, 1] {
            let (Some((n, a)), Some((_, b))) = (used[i], used[i + 2]) else {
                continue;
            };
            bent = bent.max((a + b).abs());
            if (a + b).abs() <= DISAGREE {
                agreed[i] = Some(f64::midpoint(a, -b));
            } else {
                // One of them met something else: the one nearer to where
                // the screen was is believed.
                let expected = f64::from(shift.0) * n.0 + f64::from(shift.1) * n.1;
                let wrong = if (a - expected).abs() > (b + expected).abs() {
                    i
                } else {
                    i + 2
                };
                used[wrong] = None;
            }
        }
        for i in [0, 1] {
            let (Some(before), None) = (before[i], agreed[i]) else {
                continue;
            };
            for (side, sign) in [(i, 1.0), (i + 2, -1.0)] {
                if let Some((_, moved)) = &mut used[side]
                    && (*moved - sign * before).abs() > ALONE
                {
                    *moved = sign * before;
                }
            }
        }
        let moved = translation(&used)?;
        Some(Fit {
            moved,
            agreed,
            bent,
            edge: median(widths.to_vec()).unwrap_or(0.0),
        })
    }

    /// Where the screen might be, of all places within reach.
    fn search(&self, frame: &LumaFrame<'_>) -> Option<(i32, i32)> {
        let mut used: [Option<((f64, f64), f64)>; 4] = [None; 4];
        for i in [0, 1] {
            let mut votes = vec![0u32; 2 * self.reach + 1];
            let mut strips = 0;
            for (side, across) in [(&self.sides[i], false), (&self.sides[i + 2], true)] {
                if let Some(s) = side {
                    s.vote(frame, across, &mut votes);
                    strips += s.strips();
                }
            }
            let most = votes.iter().copied().max().unwrap_or(0);
            if 3 * most as usize <= strips {
                return None;
            }
            let first = votes.iter().position(|v| *v == most)?;
            let run = votes[first..].iter().take_while(|v| **v == most).count();
            let s = first as f64 + (run - 1) as f64 / 2.0 - self.reach as f64;
            let n = self.sides[i].as_ref().map(|s| s.inward);
            let across = self.sides[i + 2].as_ref().map(|s| s.inward);
            let inward = n.or_else(|| across.map(|n| (-n.0, -n.1)))?;
            used[i] = Some((inward, s));
        }
        let (x, y) = translation(&used)?;
        Some((x.round() as i32, y.round() as i32))
    }
}

/// The translation that moves sides with these inward vectors inwards by so
/// much, least squares.
fn translation(used: &[Option<((f64, f64), f64)>; 4]) -> Option<(f64, f64)> {
    let (mut xx, mut xy, mut yy, mut x, mut y) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for ((nx, ny), d) in used.iter().flatten() {
        xx += nx * nx;
        xy += nx * ny;
        yy += ny * ny;
        x += nx * d;
        y += ny * d;
    }
    let det = xx * yy - xy * xy;
    (det > 0.3).then(|| ((yy * x - xy * y) / det, (xx * y - xy * x) / det))
}

impl Tracker<'_> {
    /// Where the screen is in the next frame of the stretch.
    pub fn place(&mut self, frame: &LumaFrame<'_>) -> Place {
        let at = whole(self.place.moved);
        let lately = self
            .agreed
            .map(|a| a.filter(|(_, age)| *age <= LATELY).map(|(moved, _)| moved));
        let look = |at, widths: &mut Vec<f64>| self.steady.look(frame, at, lately, widths);
        let (mut fit, mut gone) = look(at, &mut self.widths);
        if fit.is_none()
            && let Some(elsewhere) = self.steady.search(frame).filter(|s| *s != at)
        {
            fit = look(elsewhere, &mut self.widths).0;
        }
        let reach = self.steady.reach as f64;
        gone |= fit.as_ref().is_some_and(|f| f.length() > reach);
        let fit = fit.filter(|f| f.length() <= reach);
        for (a, now) in self
            .agreed
            .iter_mut()
            .zip(fit.as_ref().map_or([None; 2], |f| f.agreed))
        {
            *a = match now {
                Some(moved) => Some((moved, 0)),
                None => a.map(|(moved, age)| (moved, age + 1)),
            };
        }
        let before = self.place.shift;
        self.place = match fit {
            Some(f) => Place {
                moved: [f.moved.0 as f32, f.moved.1 as f32],
                shift: (follow(before.0, f.moved.0), follow(before.1, f.moved.1)),
                stepped: false,
                sight: Sight::Seen,
                edge_px: f.edge as f32,
                bent_px: f.bent as f32,
            },
            None => Place {
                sight: if gone { Sight::Lost } else { Sight::Dark },
                edge_px: 0.0,
                bent_px: 0.0,
                ..self.place
            },
        };
        self.place.stepped = self.place.shift != before;
        self.place
    }
}

fn follow(shift: i16, moved: f64) -> i16 {
    if (moved - f64::from(shift)).abs() <= PLAY {
        return shift;
    }
    moved.round() as i16
}

fn whole(moved: [f32; 2]) -> (i32, i32) {
    (moved[0].round() as i32, moved[1].round() as i32)
}
