//! What is kept of a clip to look for the screen: some frames reduced in
//! size, and sums of the same frames in full.

use std::io;

use super::Picture;
use crate::clip::{FrameSink, LumaFrame};
use crate::geometry::{Point, Quad, StoredPx};
use crate::screen::{Reel, ThumbMap};
use crate::units::StoredTime;

/// Longest side of the reduced pictures, px.
const LONGEST: usize = 640;
/// Cells of the small pictures of the whole frame.
const CELLS: (usize, usize) = (96, 72);
/// Value of a pixel in the bright end of its course.
const HIGH: f64 = 0.9;

/// Which frames of a clip are looked at closely: `most` stamps, evenly spread.
pub fn wanted(stamps: &[f64], most: usize) -> Vec<f64> {
    let n = stamps.len();
    let count = most.min(n);
    (0..count)
        .map(|i| stamps[(2 * i + 1) * n / (2 * count)])
        .collect()
}

/// How a clip is looked at.
#[derive(Clone, Debug)]
pub struct Look {
    /// Stored picture, px.
    pub size: (usize, usize),
    /// Stamps of the frames that are looked at closely, ascending.
    pub wanted: Vec<f64>,
    /// Half a frame, seconds.
    pub half_frame_s: f64,
    /// Every frame is kept as a small picture too.
    pub all: bool,
}

/// What was seen.
pub struct Looks {
    /// Stored picture, px.
    pub size: (usize, usize),
    /// Pixels of the stored picture along a pixel of the reduced ones.
    pub factor: usize,
    /// Reduced pictures.
    pub pictures: Vec<Picture>,
    /// The same of the strongest colour, where every frame is kept.
    pub glows: Vec<Picture>,
    /// Sum of how much the frame after each of them differs.
    pub unrest: Vec<f32>,
    pairs: usize,
    /// Sum and sum of squares of the same frames in full.
    sums: Option<(Vec<f32>, Vec<f32>)>,
    /// Times of all frames.
    pub times: Vec<StoredTime>,
    /// Small pictures of all frames, over the whole stored frame.
    pub reel: Reel,
}

impl Looks {
    /// Nothing seen yet.
    pub fn new(size: (usize, usize)) -> Self {
        Self {
            size,
            factor: size.0.max(size.1).div_ceil(LONGEST).max(1),
            pictures: Vec::new(),
            glows: Vec::new(),
            unrest: Vec::new(),
            pairs: 0,
            sums: None,
            times: Vec::new(),
            reel: Reel::new(CELLS.0, CELLS.1),
        }
    }

    /// Adds what the next stretch showed.
    ///
    /// # Errors
    /// When a temporary file cannot be written.
    pub fn append(&mut self, other: Self) -> io::Result<()> {
        self.pictures.extend(other.pictures);
        self.glows.extend(other.glows);
        self.pairs += other.pairs;
        add(&mut self.unrest, &other.unrest);
        match (&mut self.sums, other.sums) {
            (Some((a, b)), Some((c, d))) => {
                add(a, &c);
                add(b, &d);
            }
            (mine, theirs) => *mine = mine.take().or(theirs),
        }
        self.times.extend(other.times);
        self.reel.append(other.reel)
    }

    /// The mean of the frames that were looked at closely, in full.
    pub fn mean(&self) -> Picture {
        let n = self.pictures.len().max(1) as f32;
        let values = match &self.sums {
            Some((sum, _)) => sum.iter().map(|s| s / n).collect(),
            None => vec![0.0; self.size.0 * self.size.1],
        };
        Picture {
            width: self.size.0,
            height: self.size.1,
            values,
        }
    }

    /// Their standard deviation, in full.
    pub fn spread(&self) -> Picture {
        let n = self.pictures.len().max(1) as f32;
        let values = match &self.sums {
            Some((sum, squares)) => sum
                .iter()
                .zip(squares)
                .map(|(s, q)| (q / n - (s / n).powi(2)).max(0.0).sqrt())
                .collect(),
            None => vec![0.0; self.size.0 * self.size.1],
        };
        Picture {
            width: self.size.0,
            height: self.size.1,
            values,
        }
    }

    /// The bright end of every pixel's course, reduced.
    pub fn high(&self) -> Picture {
        self.each(|v| {
            let k = (HIGH * (v.len() - 1) as f64).round() as usize;
            *v.select_nth_unstable_by(k, f32::total_cmp).1
        })
    }

    /// From the low to the high end of every pixel's course, reduced.
    pub fn range(&self) -> Picture {
        self.each(|v| {
            v.sort_by(f32::total_cmp);
            let k = v.len() / 30;
            v[v.len() - 1 - k] - v[k]
        })
    }

    /// What noise alone makes two frames differ by at every reduced pixel:
    /// standard deviation of one frame.
    pub fn noise(&self) -> Vec<f32> {
        let n = self.pairs.max(1) as f32;
        // Mean size of a difference of two normal deviates: 2σ/√π.
        self.unrest.iter().map(|u| 0.886 * u / n).collect()
    }

    /// Standard deviation over time of every reduced pixel.
    pub fn course(&self) -> Vec<f32> {
        let spread = |v: &mut Vec<f32>| {
            let n = v.len() as f32;
            let mean = v.iter().sum::<f32>() / n;
            (v.iter().map(|x| (x - mean).powi(2)).sum::<f32>() / n).sqrt()
        };
        self.each(spread).values
    }

    fn each(&self, of: impl Fn(&mut Vec<f32>) -> f32) -> Picture {
        let Some(first) = self.pictures.first() else {
            return Picture::new(1, 1, 0.0);
        };
        let mut out = Picture::new(first.width, first.height, 0.0);
        let mut course = Vec::with_capacity(self.pictures.len());
        for (i, o) in out.values.iter_mut().enumerate() {
            course.clear();
            course.extend(self.pictures.iter().map(|p| p.values[i]));
            *o = of(&mut course);
        }
        out
    }

    /// A shape of the reduced pictures in the stored picture.
    pub fn to_full(&self, quad: &Quad<StoredPx>) -> Quad<StoredPx> {
        let f = self.factor as f64;
        Quad::new(quad.corners.map(|p| Point::new(p.x * f, p.y * f)))
    }
}

fn add(to: &mut Vec<f32>, more: &[f32]) {
    if to.is_empty() {
        to.extend_from_slice(more);
    } else {
        to.iter_mut().zip(more).for_each(|(a, b)| *a += b);
    }
}

/// Looks at one stretch of a clip.
pub struct Glance<'a> {
    look: &'a Look,
    looks: Looks,
    map: Option<ThumbMap>,
    next: Option<usize>,
    /// The last reduced picture waits for the frame after it.
    waiting: bool,
    row: Vec<f32>,
    failed: Option<io::Error>,
}

impl<'a> Glance<'a> {
    /// For the next stretch.
    pub fn new(look: &'a Look) -> Self {
        let (w, h) = look.size;
        let whole: Quad<StoredPx> = Quad::rect(0.0, 0.0, w as f64, h as f64);
        Self {
            looks: Looks::new(look.size),
            map: ThumbMap::new(&whole, look.size, CELLS.0, CELLS.1).filter(|_| look.all),
            look,
            next: None,
            waiting: false,
            row: Vec::new(),
            failed: None,
        }
    }

    fn reduced(&mut self, height: usize, read: impl Fn(usize, &mut [f32])) -> Picture {
        let f = self.looks.factor;
        let (w, h) = (self.looks.size.0 / f, height / f);
        let mut out = Picture::new(w, h, 0.0);
        let each = 1.0 / (f * f) as f32;
        self.row.resize(w * f, 0.0);
        for (y, line) in out.values.chunks_exact_mut(w).enumerate() {
            for k in 0..f {
                read(y * f + k, &mut self.row);
                for (o, from) in line.iter_mut().zip(self.row.chunks_exact(f)) {
                    *o += each * from.iter().sum::<f32>();
                }
            }
        }
        out
    }

    fn sum(&mut self, frame: &LumaFrame<'_>) {
        let (w, h) = frame.size;
        let (sum, squares) = self
            .looks
            .sums
            .get_or_insert_with(|| (vec![0.0; w * h], vec![0.0; w * h]));
        self.row.resize(w, 0.0);
        for y in 0..h {
            frame.row(y, 0, &mut self.row);
            let at = y * w..(y + 1) * w;
            let to = sum[at.clone()].iter_mut().zip(&mut squares[at]);
            for ((s, q), v) in to.zip(&self.row) {
                *s += v;
                *q += v * v;
            }
        }
    }
}

impl FrameSink for Glance<'_> {
    type Out = io::Result<Looks>;

    fn frame(&mut self, frame: &LumaFrame<'_>) {
        if frame.size != self.look.size {
            return;
        }
        let early = frame.time.0 + self.look.half_frame_s;
        let wanted = &self.look.wanted;
        let from = frame.time.0 - self.look.half_frame_s;
        let next = *self
            .next
            .get_or_insert_with(|| wanted.partition_point(|t| *t < from));
        if self.waiting {
            self.waiting = false;
            let picture = self.reduced(frame.size.1, |y, row| frame.row(y, 0, row));
            if let Some(before) = self.looks.pictures.last() {
                let pairs = picture.values.iter().zip(&before.values);
                let unrest: Vec<f32> = pairs.map(|(a, b)| (a - b).abs()).collect();
                add(&mut self.looks.unrest, &unrest);
                self.looks.pairs += 1;
            }
        }
        if wanted.get(next).is_some_and(|t| *t < early) {
            self.next = Some(next + 1);
            let picture = self.reduced(frame.size.1, |y, row| frame.row(y, 0, row));
            self.looks.pictures.push(picture);
            if self.look.all {
                let glow = self.reduced(frame.size.1, |y, row| frame.strongest(y, 0, row));
                self.looks.glows.push(glow);
            }
            self.sum(frame);
            self.waiting = true;
        }
        if let Some(map) = &self.map {
            self.looks.times.push(frame.time);
            let thumb = map.of(frame, &mut self.row);
            if let Err(e) = self.looks.reel.push(&thumb) {
                self.failed.get_or_insert(e);
            }
        }
    }

    fn finish(self) -> Self::Out {
        match self.failed {
            Some(e) => Err(e),
            None => Ok(self.looks),
        }
    }
}
