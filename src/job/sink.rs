//! Reads the frames of one stretch of a clip into a [`Film`].

use std::io;

use super::gauge::{Film, Gauge};
use crate::clip::{FrameSink, LumaFrame};
use crate::screen::Region;
use crate::screen::steady::{Place, Sight, Tracker};
use crate::sharpness::across::keep_across;
use crate::sharpness::{BandMeter, Meter};

/// Reads the frames of one stretch.
pub struct StretchSink<'g> {
    gauge: &'g Gauge,
    meter: Meter,
    bands: BandMeter,
    tracker: Option<Tracker<'g>>,
    film: Film,
    row: Vec<f32>,
    failed: Option<io::Error>,
}

impl<'g> StretchSink<'g> {
    /// With meters and a tracker that have seen nothing yet.
    pub fn new(
        gauge: &'g Gauge,
        (meter, bands): (Meter, BandMeter),
        tracker: Option<Tracker<'g>>,
    ) -> Self {
        Self {
            gauge,
            meter,
            bands,
            tracker,
            film: Film::new(gauge),
            row: Vec::new(),
            failed: None,
        }
    }
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
        let (mut reading, mut tiles) = self.meter.read_at(frame, shift);
        let stepped = place.is_some_and(|p| p.stepped);
        if stepped {
            // The step, not the picture, is what changed.
            reading.change = None;
        }
        self.film
            .bands
            .push(self.bands.read(frame, shift, !stepped));
        if let Some(way) = self.gauge.way {
            keep_across(way, &mut reading, &mut tiles);
        }
        self.film.readings.push(reading);
        self.film.places.extend(place);
        let moved = place.map_or([0.0; 2], |p| p.pictures());
        let screen = self.gauge.screen.of_moved(frame, moved, &mut self.row);
        let eye = &self.gauge.eye;
        let index = self.film.times.len() - 1;
        let seen = self.film.kept.see(eye, index, frame, shift, &mut self.row);
        let kept = seen.and(self.film.tiles.push(&tiles));
        let mut kept = kept.and(self.film.screen.push(&screen));
        if let (Some(map), Some(reel)) = (&self.gauge.direct, &mut self.film.direct) {
            kept = kept.and(reel.push(&map.of_moved(frame, moved, &mut self.row)));
        }
        if let Some(region) = &self.gauge.light {
            self.film
                .light
                .push(brightest(frame, region, shift, &mut self.row));
        }
        self.gauge.cues.read(frame, shift, &mut self.film.cues);
        if let Err(e) = kept {
            self.failed.get_or_insert(e);
        }
    }

    fn finish(self) -> Self::Out {
        if let Some(e) = self.failed {
            return Err(e);
        }
        Ok(self.film)
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

/// Share of a light's region that a lamp fills at least: as many of its
/// brightest pixels are read, so that a flickering surround hardly counts.
const LAMP: f64 = 0.05;
/// Fewest pixels read of a light.
const FEWEST: usize = 4;

/// Mean of the brightest pixels of a region, moved by `shift` px, each by its
/// strongest colour: a blue lamp hardly raises luma.
fn brightest(frame: &LumaFrame<'_>, region: &Region, shift: (i16, i16), row: &mut Vec<f32>) -> f64 {
    let ((x0, y0), _) = region.moved(shift, frame.size);
    row.resize(region.width, 0.0);
    let mut all = Vec::with_capacity(region.inside.len());
    for (y, inside) in region.inside.chunks_exact(region.width.max(1)).enumerate() {
        frame.strongest(y0 + y, x0, row);
        all.extend(row.iter().zip(inside).filter(|(_, i)| **i).map(|(v, _)| *v));
    }
    if all.is_empty() {
        return 0.0;
    }
    let n = ((all.len() as f64 * LAMP).ceil() as usize).clamp(FEWEST.min(all.len()), all.len());
    let (lit, at, _) = all.select_nth_unstable_by(n - 1, |a, b| b.total_cmp(a));
    let sum = lit.iter().map(|v| f64::from(*v)).sum::<f64>() + f64::from(*at);
    let n = n as f64;
    sum / n
}

/// Mean luma of a region, moved by `shift` px.
pub(super) fn mean_luma(
    frame: &LumaFrame<'_>,
    region: &Region,
    shift: (i16, i16),
    row: &mut Vec<f32>,
) -> f64 {
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
