//! The measuring gear for one clip: what is read from every frame.

use std::io;

use super::JobError;
use crate::clip::{ClipIndex, FrameSink, LumaFrame};
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx, UprightPx, whole_screen};
use crate::rig::{AreaFrac, PixelRect, Rig, Stimulus};
use crate::screen::steady::{Place, Sight, Steady, Tracker, Untracked};
use crate::screen::{Reel, Region, ThumbMap};
use crate::sharpness::{Averager, BlurSums, Meter, Places, Reading, Stills, TileReel};
use crate::units::StoredTime;

/// Cells of the small pictures: fine enough for a slow approach, coarse
/// enough that defocus and noise average out.
pub const CELLS: (usize, usize) = (64, 48);

/// Where everything lies in this clip's stored picture.
pub struct Gauge {
    meter: Meter,
    screen: ThumbMap,
    direct: Option<ThumbMap>,
    light: Option<Region>,
    steady: Result<Steady, Untracked>,
}

/// What every frame of a stretch, or of a whole clip, said.
pub struct Film {
    /// Times on the container's time line.
    pub times: Vec<StoredTime>,
    /// Sharpness readings of the autofocus area.
    pub readings: Vec<Reading>,
    /// The same tile by tile.
    pub tiles: TileReel,
    /// Where the screen was, where it can be followed.
    pub places: Vec<Place>,
    /// Numbers of the frames that were coded as key frames.
    pub keys: Vec<usize>,
    /// Mean luma of the trigger light's region, where there is one.
    pub light: Vec<f64>,
    /// Mean pictures of the autofocus area while it was sharp.
    pub stills: Stills,
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
            places: Vec::new(),
            keys: Vec::new(),
            light: Vec::new(),
            stills: Stills::default(),
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
        self.stills.append(other.stills, before)?;
        self.keys.extend(other.keys.iter().map(|k| before + k));
        self.times.extend(other.times);
        self.readings.extend(other.readings);
        self.places.extend(other.places);
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
        let first = index.first.as_ref().ok_or(Untracked::NoFirstFrame);
        let steady = if rig.screen.feed {
            Err(Untracked::Feed)
        } else {
            first.and_then(|f| Steady::new(&stored, &f.frame()))
        };
        Ok(Self {
            meter,
            steady,
            screen: thumbs(&stored).ok_or_else(degenerate)?,
            direct: seen.as_ref().filter(|_| !is_light).and_then(thumbs),
            light: seen
                .as_ref()
                .filter(|_| is_light)
                .map(|q| Region::of_quad(q, &[], size)),
        })
    }

    /// What blur does to the measure, from a still of the area.
    #[must_use]
    pub fn blur_sums(&self, still: &[f32]) -> BlurSums {
        self.meter.blur_sums(still)
    }

    /// Film pixels per ‰ of the screen's height.
    #[must_use]
    pub fn px_per_permille(&self) -> f64 {
        self.meter.screen_height_px() / 1000.0
    }

    /// How many pixels stand behind the tiles' sums.
    #[must_use]
    pub fn places(&self) -> &Places {
        self.meter.places()
    }

    /// Why the screen is not followed, if it is not.
    #[must_use]
    pub fn untracked(&self) -> Option<Untracked> {
        self.steady.as_ref().err().copied()
    }

    /// A sink for one stretch of the clip.
    #[must_use]
    pub fn sink(&self) -> StretchSink<'_> {
        StretchSink {
            gauge: self,
            meter: self.meter.fresh(),
            tracker: self.steady.as_ref().ok().map(Steady::tracker),
            film: Film::new(self),
            averager: Averager::default(),
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
    tracker: Option<Tracker<'g>>,
    film: Film,
    averager: Averager,
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
        let place = self.follow(frame);
        let shift = place.map_or((0, 0), |p| p.shift);
        let (mut reading, tiles) = self.meter.read_at(frame, shift);
        if place.is_some_and(|p| p.stepped) {
            // The step, not the picture, is what changed.
            reading.change = None;
        }
        self.film.readings.push(reading);
        self.film.places.extend(place);
        let moved = place.map_or([0.0; 2], |p| p.pictures());
        let screen = self.gauge.screen.of_moved(frame, moved, &mut self.row);
        let kept = self.film.tiles.push(&tiles);
        let kept = kept.and(self.average(frame, shift, &reading));
        let mut kept = kept.and(self.film.screen.push(&screen));
        if let (Some(map), Some(reel)) = (&self.gauge.direct, &mut self.film.direct) {
            kept = kept.and(reel.push(&map.of_moved(frame, moved, &mut self.row)));
        }
        if let Some(region) = &self.gauge.light {
            self.film
                .light
                .push(mean_luma(frame, region, shift, &mut self.row));
        }
        if let Err(e) = kept {
            self.failed.get_or_insert(e);
        }
    }

    fn finish(mut self) -> Self::Out {
        if let Some(e) = self.failed {
            return Err(e);
        }
        self.film.stills = self.averager.finish()?;
        Ok(self.film)
    }
}

impl StretchSink<'_> {
    fn average(
        &mut self,
        frame: &LumaFrame<'_>,
        shift: (i16, i16),
        reading: &Reading,
    ) -> io::Result<()> {
        let region = self.meter.region();
        let ((x0, y0), _) = region.moved(shift, frame.size);
        let row = &mut self.row;
        let level = reading.energy / reading.mean.max(1e-3).powi(2);
        let index = self.film.readings.len() - 1;
        self.averager.see(index, level, |sum, add| {
            sum.resize(region.width * region.height, 0.0);
            if !add {
                for (y, line) in sum.chunks_exact_mut(region.width).enumerate() {
                    frame.row(y0 + y, x0, line);
                }
                return;
            }
            row.resize(region.width, 0.0);
            for (y, line) in sum.chunks_exact_mut(region.width).enumerate() {
                frame.row(y0 + y, x0, row);
                line.iter_mut().zip(row.iter()).for_each(|(s, v)| *s += v);
            }
        })
    }
}

impl StretchSink<'_> {
    /// Where the screen is, where it is followed.
    fn follow(&mut self, frame: &LumaFrame<'_>) -> Option<Place> {
        let mut place = self.tracker.as_mut()?.place(frame);
        if !self.meter.fits(place.shift, frame.size) {
            place.sight = Sight::Lost;
        }
        Some(place)
    }
}

fn mean_luma(frame: &LumaFrame<'_>, region: &Region, shift: (i16, i16), row: &mut Vec<f32>) -> f64 {
    let ((x0, y0), _) = region.moved(shift, frame.size);
    row.resize(region.width, 0.0);
    let (mut sum, mut n) = (0.0f64, 0.0f64);
    for y in 0..region.height {
        frame.row(y0 + y, x0, row);
        let inside = &region.inside[y * region.width..(y + 1) * region.width];
        for (v, _) in row.iter().zip(inside).filter(|(_, i)| **i) {
            sum += f64::from(*v);
            n += 1.0;
        }
    }
    if n > 0.0 { sum / n } else { 0.0 }
}
