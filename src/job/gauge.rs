//! The measuring gear for one clip: what is read from every frame.

use std::io;

use super::JobError;
use super::cues::{self, CueGauge};
use super::evidence::{Eye, Kept};
use super::sink::StretchSink;
use crate::clip::ClipIndex;
use crate::geometry::{Homography, Point, Quad, ScreenFrac, StoredPx, UprightPx, whole_screen};
use crate::rig::{PixelRect, Rig, Stimulus, SwingAt};
use crate::screen::steady::{Place, Steady, Untracked};
use crate::screen::{Reel, Region, ThumbMap};
use crate::sharpness::across::Axis;
use crate::sharpness::{
    BANDS, BandMeter, BandReading, Grain, Meter, MeterError, Places, Reading, TileReel,
};
use crate::units::StoredTime;

/// Cells of the small pictures: fine enough for a slow approach, coarse
/// enough that defocus and noise average out.
pub const CELLS: (usize, usize) = (64, 48);

/// Where everything lies in this clip's stored picture.
pub struct Gauge {
    meter: Meter,
    bands: BandMeter,
    height_px: f64,
    pub(super) screen: ThumbMap,
    pub(super) direct: Option<ThumbMap>,
    pub(super) light: Option<Region>,
    pub(super) cues: CueGauge,
    steady: Result<Steady, Untracked>,
    pub(super) eye: Eye,
    /// Which way the target moves while focus is judged, where it does.
    pub(super) way: Option<Axis>,
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
    /// Mean of the brightest part of the trigger light's region by its strongest
    /// colour, where there is one.
    pub light: Vec<f64>,
    /// What was read for the rig's cues, lane by lane.
    pub cues: Vec<Vec<f32>>,
    /// Energies of the autofocus area by spatial frequency.
    pub bands: Vec<BandReading>,
    /// Small pictures of the screen.
    pub screen: Reel,
    /// Small pictures of the target seen directly, where there is such a view.
    pub direct: Option<Reel>,
    /// Crops of the focus area, for evidence.
    pub kept: Kept,
}

impl Film {
    /// An empty film that can take stretches from this gauge.
    pub fn new(gauge: &Gauge) -> Self {
        let reel = || Reel::new(CELLS.0, CELLS.1);
        Self {
            times: Vec::new(),
            readings: Vec::new(),
            tiles: TileReel::default(),
            places: Vec::new(),
            keys: Vec::new(),
            light: Vec::new(),
            cues: gauge.cues.lanes(),
            bands: Vec::new(),
            screen: reel(),
            direct: gauge.direct.as_ref().map(|_| reel()),
            kept: Kept::new(&gauge.eye),
        }
    }

    /// Makes room for so many frames at once: growing by doubling would need
    /// half as much again.
    pub fn with_room(mut self, frames: usize) -> Self {
        self.times.reserve_exact(frames);
        self.readings.reserve_exact(frames);
        self.bands.reserve_exact(frames);
        self
    }

    /// Adds the next stretch.
    ///
    /// # Errors
    /// When a temporary file cannot be written.
    pub fn append(&mut self, other: Self) -> io::Result<()> {
        let before = self.times.len();
        self.bands.extend(other.bands);
        self.keys.extend(other.keys.iter().map(|k| before + k));
        self.times.extend(other.times);
        self.readings.extend(other.readings);
        self.places.extend(other.places);
        self.light.extend(other.light);
        cues::append(&mut self.cues, other.cues);
        self.tiles.append(other.tiles)?;
        self.screen.append(other.screen)?;
        self.kept.append(other.kept, before)?;
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
        let masks: Vec<[f64; 4]> = rig.screen.masks.iter().map(|m| (*m).into()).collect();
        let area = Region::on_screen(rig.screen.af_area.into(), &masks, &to_picture, size);
        let seen = direct.map(|r| to_stored(index, &Quad::rect(r.x0, r.y0, r.x1, r.y1)));
        let is_light = matches!(rig.stimulus, Stimulus::Light { .. });
        let thumbs = |q: &Quad<StoredPx>| ThumbMap::new(q, size, CELLS.0, CELLS.1);
        let small = |source: MeterError| JobError::Area {
            file: index.path.display().to_string(),
            message: source.to_string(),
        };
        let height = upright.height();
        let meter = Meter::new(&rig.measure, area, height).map_err(small)?;
        let bands = BandMeter::new(
            rig.screen.af_area.into(),
            &masks,
            &to_picture,
            size,
            &Grain::film(height, way(rig, &stored)),
        )
        .map_err(small)?;
        let eye = Eye::new(meter.region(), index.orientation);
        let first = index.first.as_ref().ok_or(Untracked::NoFirstFrame);
        let steady = if rig.screen.feed {
            Err(Untracked::Feed)
        } else {
            first.and_then(|f| Steady::new(&stored, &f.frame()))
        };
        Ok(Self {
            cues: CueGauge::new(rig, index, &to_picture)?,
            meter,
            bands,
            height_px: height,
            steady,
            eye,
            way: way(rig, &stored),
            screen: thumbs(&stored).ok_or_else(degenerate)?,
            direct: seen.as_ref().filter(|_| !is_light).and_then(thumbs),
            light: seen
                .as_ref()
                .filter(|_| is_light)
                .map(|q| Region::of_quad(q, &[], size)),
        })
    }

    /// The same for a film of so many frames a second of true time.
    pub fn at_rate(mut self, fps: f64) -> Self {
        self.eye = self.eye.at_rate(fps);
        self
    }

    /// Where evidence is taken from.
    pub fn eye(&self) -> &Eye {
        &self.eye
    }

    /// Height of the screen, film pixels.
    pub fn height_px(&self) -> f64 {
        self.height_px
    }

    /// Mean frequency of every band, cycles per screen height.
    pub fn frequencies(&self) -> [f64; BANDS] {
        self.bands.frequencies()
    }

    /// Where the rig's cues are looked for.
    pub fn cues(&self) -> &CueGauge {
        &self.cues
    }

    /// How many pixels stand behind the tiles' sums.
    pub fn places(&self) -> &Places {
        self.meter.places()
    }

    /// Why the screen is not followed, if it is not.
    pub fn untracked(&self) -> Option<Untracked> {
        self.steady.as_ref().err().copied()
    }

    /// A sink for one stretch of the clip.
    pub fn sink(&self) -> StretchSink<'_> {
        StretchSink::new(
            self,
            (self.meter.fresh(), self.bands.fresh()),
            self.steady.as_ref().ok().map(Steady::tracker),
        )
    }
}

/// A free pendulum goes on swinging, from side to side of the screen.
fn way(rig: &Rig, screen: &Quad<StoredPx>) -> Option<Axis> {
    let swings = matches!(
        rig.stimulus,
        Stimulus::Swing {
            at: SwingAt::Cover,
            ..
        }
    );
    let [a, b, ..] = screen.corners;
    let rows = (b.x - a.x).abs() >= (b.y - a.y).abs();
    swings.then_some(if rows { Axis::Rows } else { Axis::Columns })
}

/// The screen's quadrilateral: the rig's corners, or the whole frame of a feed.
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

/// Whether a rectangle lies in the frame, half a pixel of play allowed.
fn fits(b: &[f64; 4], size: (usize, usize)) -> bool {
    b[0] >= -0.5 && b[1] >= -0.5 && b[2] <= size.0 as f64 + 0.5 && b[3] <= size.1 as f64 + 0.5
}
