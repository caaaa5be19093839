//! Reads the frames of one stretch of a clip into a [`Film`].

use std::io;

use super::gauge::{Film, Gauge};
use crate::clip::{FrameSink, LumaFrame};
use crate::screen::Region;
use crate::screen::steady::{Place, Sight, Tracker};
use crate::sharpness::across::keep_across;
use crate::sharpness::{Averager, Meter, Reading};

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

impl<'g> StretchSink<'g> {
    /// With a meter and a tracker that have seen nothing yet.
    #[must_use]
    pub fn new(gauge: &'g Gauge, meter: Meter, tracker: Option<Tracker<'g>>) -> Self {
        Self {
            gauge,
            meter,
            tracker,
            film: Film::new(gauge),
            averager: Averager::default(),
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
        if place.is_some_and(|p| p.stepped) {
            // The step, not the picture, is what changed.
            reading.change = None;
        }
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
        self.gauge.cues.read(frame, shift, &mut self.film.cues);
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

    /// Where the screen is, where it is followed.
    fn follow(&mut self, frame: &LumaFrame<'_>) -> Option<Place> {
        let mut place = self.tracker.as_mut()?.place(frame);
        if !self.meter.fits(place.shift, frame.size) {
            place.sight = Sight::Lost;
        }
        Some(place)
    }
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
