//! The measuring gear for one clip: what is read from every frame.

use std::io;

use super::JobError;
use crate::clip::{ClipIndex, FrameSink, LumaFrame};
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx, UprightPx, whole_screen};
use crate::rig::{AreaFrac, PixelRect, Rig, Stimulus};
use crate::screen::{Reel, Region, ThumbMap};
use crate::sharpness::{Meter, Places, Reading, TileReel};
use crate::units::StoredTime;

/// Cells of the small pictures: fine enough for a slow approach, coarse
/// enough that defocus and noise average out.
const CELLS: (usize, usize) = (64, 48);

/// Where everything lies in this clip's stored picture.
pub struct Gauge {
    meter: Meter,
    screen: ThumbMap,
    direct: Option<ThumbMap>,
    light: Option<Region>,
}

/// What every frame of a stretch, or of a whole clip, said.
pub struct Film {
    /// Times on the container's time line.
    pub times: Vec<StoredTime>,
    /// Sharpness readings of the autofocus area.
    pub readings: Vec<Reading>,
    /// The same tile by tile.
    pub tiles: TileReel,
    /// Numbers of the frames that were coded as key frames.
    pub keys: Vec<usize>,
    /// Mean luma of the trigger light's region, where there is one.
    pub light: Vec<f64>,
    /// Small pictures of the screen.
    pub screen: Reel,
    /// Small pictures of the target seen directly, where there is such a view.
    pub direct: Option<Reel>,
}

impl Film {
    /// An empty film that can take stretches from this gauge.
    #[must_use]
    pub fn new(gauge: &Gauge) -> Self {
        let reel = || Reel::new(CELLS.0, CELLS.1);
        Self {
            times: Vec::new(),
            readings: Vec::new(),
            tiles: TileReel::default(),
            keys: Vec::new(),
            light: Vec::new(),
            screen: reel(),
            direct: gauge.direct.as_ref().map(|_| reel()),
        }
    }

    /// Makes room for so many frames at once: growing by doubling would need
    /// half as much again.
    #[must_use]
    pub fn with_room(mut self, frames: usize) -> Self {
        self.times.reserve_exact(frames);
        self.readings.reserve_exact(frames);
        self
    }

    /// Adds the next stretch.
    ///
    /// # Errors
    /// When a temporary file cannot be written.
    pub fn append(&mut self, other: Self) -> io::Result<()> {
        let before = self.times.len();
        self.keys.extend(other.keys.iter().map(|k| before + k));
        self.times.extend(other.times);
        self.readings.extend(other.readings);
        self.light.extend(other.light);
        self.tiles.append(other.tiles)?;
        self.screen.append(other.screen)?;
        if let (Some(mine), Some(more)) = (&mut self.direct, other.direct) {
            mine.append(more)?;
        }
        Ok(())
    }
}

impl Gauge {
    /// Places the rig's areas in a clip.
    ///
    /// # Errors
    /// What the person wrote does not fit this clip: every fault at once.
    pub fn new(rig: &Rig, index: &ClipIndex) -> Result<Self, Vec<JobError>> {
        let mut faults = Vec::new();
        let size = index.orientation.upright_size();
        let file = || index.path.display().to_string();
        if let Some(want) = rig.capture.frame_size.filter(|s| *s != size) {
            faults.push(JobError::FrameSize {
                file: file(),
                rig: rig.name.clone(),
                want,
                got: size,
            });
            return Err(faults);
        }
        let upright = screen_quad(rig, size).ok_or_else(|| {
            vec![JobError::NoScreen {
                rig: rig.name.clone(),
            }]
        })?;
        if !fits(&upright.bounds(), size) {
            faults.push(JobError::OffFrame {
                file: file(),
                key: "screen.corners",
                bounds: upright.bounds(),
                size,
            });
        }
        let direct = region(rig);
        if let Some(r) = direct.filter(|r| !fits(&[r.x0, r.y0, r.x1, r.y1], size)) {
            faults.push(JobError::OffFrame {
                file: file(),
                key: "stimulus.region",
                bounds: [r.x0, r.y0, r.x1, r.y1],
                size,
            });
        }
        if !faults.is_empty() {
            return Err(faults);
        }
        Self::place(rig, index, &upright, direct).map_err(|e| vec![e])
    }

    fn place(
        rig: &Rig,
        index: &ClipIndex,
        upright: &Quad<UprightPx>,
        direct: Option<PixelRect>,
    ) -> Result<Self, JobError> {
        let size = index.orientation.stored;
        let stored = to_stored(index, upright);
        let degenerate = || JobError::NoScreen {
            rig: rig.name.clone(),
        };
        let to_picture: Homography<ScreenFrac, StoredPx> =
            Homography::between(&whole_screen(), &stored).ok_or_else(degenerate)?;
        let masks: Vec<[f64; 4]> = rig.screen.masks.iter().map(fractions).collect();
        let area = Region::on_screen(fractions(&rig.screen.af_area), &masks, &to_picture, size);
        let seen = direct.map(|r| to_stored(index, &Quad::rect(r.x0, r.y0, r.x1, r.y1)));
        let is_light = matches!(rig.stimulus, Stimulus::Light { .. });
        let thumbs = |q: &Quad<StoredPx>| ThumbMap::new(q, size, CELLS.0, CELLS.1);
        let meter =
            Meter::new(&rig.measure, area, upright.height()).map_err(|source| JobError::Area {
                file: index.path.display().to_string(),
                message: source.to_string(),
            })?;
        Ok(Self {
            meter,
            screen: thumbs(&stored).ok_or_else(degenerate)?,
            direct: seen.as_ref().filter(|_| !is_light).and_then(thumbs),
            light: seen
                .as_ref()
                .filter(|_| is_light)
                .map(|q| Region::of_quad(q, &[], size)),
        })
    }

    /// How many pixels stand behind the tiles' sums.
    #[must_use]
    pub fn places(&self) -> &Places {
        self.meter.places()
    }

    /// A sink for one stretch of the clip.
    #[must_use]
    pub fn sink(&self) -> StretchSink<'_> {
        StretchSink {
            gauge: self,
            meter: self.meter.fresh(),
            film: Film::new(self),
            row: Vec::new(),
            failed: None,
        }
    }
}

/// The screen's quadrilateral: the rig's corners, or the whole frame of a feed.
#[allow(clippy::cast_precision_loss)]
fn screen_quad(rig: &Rig, size: (usize, usize)) -> Option<Quad<UprightPx>> {
    if rig.screen.feed {
        return Some(Quad::rect(0.0, 0.0, size.0 as f64, size.1 as f64));
    }
    rig.screen.corners
}

fn region(rig: &Rig) -> Option<PixelRect> {
    match &rig.stimulus {
        Stimulus::Swing { region, .. } => *region,
        Stimulus::Light { region } => Some(*region),
        Stimulus::Tone => None,
    }
}

fn to_stored(index: &ClipIndex, quad: &Quad<UprightPx>) -> Quad<StoredPx> {
    Quad::new(
        quad.corners
            .map(|c: Point<UprightPx>| index.orientation.to_stored(c)),
    )
}

fn fractions(a: &AreaFrac) -> [f64; 4] {
    [a.left, a.top, a.right, a.bottom]
}

/// Whether a rectangle lies in the frame, half a pixel of play allowed.
#[allow(clippy::cast_precision_loss)]
fn fits(b: &[f64; 4], size: (usize, usize)) -> bool {
    b[0] >= -0.5 && b[1] >= -0.5 && b[2] <= size.0 as f64 + 0.5 && b[3] <= size.1 as f64 + 0.5
}

/// Reads the frames of one stretch.
pub struct StretchSink<'g> {
    gauge: &'g Gauge,
    meter: Meter,
    film: Film,
    row: Vec<f32>,
    failed: Option<io::Error>,
}

impl FrameSink for StretchSink<'_> {
    type Out = io::Result<Film>;

    fn frame(&mut self, frame: &LumaFrame<'_>) {
        if frame.key {
            self.film.keys.push(self.film.times.len());
        }
        self.film.times.push(frame.time);
        let (reading, tiles) = self.meter.read(frame);
        self.film.readings.push(reading);
        let screen = self.gauge.screen.of(frame, &mut self.row);
        let kept = self.film.tiles.push(&tiles);
        let mut kept = kept.and(self.film.screen.push(&screen));
        if let (Some(map), Some(reel)) = (&self.gauge.direct, &mut self.film.direct) {
            kept = kept.and(reel.push(&map.of(frame, &mut self.row)));
        }
        if let Some(region) = &self.gauge.light {
            self.film
                .light
                .push(mean_luma(frame, region, &mut self.row));
        }
        if let Err(e) = kept {
            self.failed.get_or_insert(e);
        }
    }

    fn finish(self) -> Self::Out {
        match self.failed {
            Some(e) => Err(e),
            None => Ok(self.film),
        }
    }
}

fn mean_luma(frame: &LumaFrame<'_>, region: &Region, row: &mut Vec<f32>) -> f64 {
    row.resize(region.width, 0.0);
    let (mut sum, mut n) = (0.0f64, 0.0f64);
    for y in 0..region.height {
        frame.row(region.y0 + y, region.x0, row);
        let inside = &region.inside[y * region.width..(y + 1) * region.width];
        for (v, _) in row.iter().zip(inside).filter(|(_, i)| **i) {
            sum += f64::from(*v);
            n += 1.0;
        }
    }
    if n > 0.0 { sum / n } else { 0.0 }
}
