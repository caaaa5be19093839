//! Signals to and from their file: one line an array each way.
//!
//! To keep another array: a field of [`Signals`], a line in [`pack`], a line in
//! [`unpack`], a row in the table of `src/store/README.md`, and one more on
//! [`crate::store::signals::VERSION`].

use std::io::{self, ErrorKind};
use std::path::Path;

use super::signals::{Facts, Signals};
use super::subject::Energy;
use crate::screen::Reel;
use crate::screen::steady::{Place, Sight};
use crate::sharpness::{BANDS, Reading};
use crate::store::schema::{OnsetSeen, Side};
use crate::store::signals::{About, SignalsReader, SignalsWriter, Unnamed};
use crate::trial::Stimulus;
use crate::trial::motion::Shift;
use crate::units::{StoredTime, TimeScale};

/// Cells of a kept picture.
const CELLS: (usize, usize) = super::gauge::CELLS;
/// Steps per film pixel in which the screen's place is written.
const PER_PX: f32 = 256.0;

/// Writes signals to a file that is yet to be named; `about` with their facts in
/// it.
///
/// # Errors
/// When the file cannot be written.
pub fn pack(path: &Path, about: &About, s: &mut Signals, scale: &TimeScale) -> io::Result<Unnamed> {
    let mut out = SignalsWriter::create(path)?;
    out.about(about)?;
    out.numbers("time_s", s.times.iter().map(|t| t.0))?;
    out.numbers("mean", s.readings.iter().map(|r| narrow(r.mean)))?;
    out.numbers("energy", s.readings.iter().map(|r| narrow(r.energy)))?;
    let change = |r: &Reading| r.change.map_or(f32::NAN, narrow);
    out.numbers("change", s.readings.iter().map(change))?;
    out.numbers("white", s.readings.iter().map(|r| narrow(r.white)))?;
    out.numbers("light", s.light.iter().map(|v| narrow(*v)))?;
    out.numbers("keys", s.keys.iter().map(|k| whole(*k)))?;
    let lost = s.facts.footing.lost();
    out.numbers("lost", lost.iter().map(|l| u8::from(*l)))?;
    pack_places(&mut out, &s.seen)?;
    // The curve and its updates, for looking at: they are made anew.
    let curve = s.curve(&s.shot(scale));
    let samples = &curve.samples;
    out.numbers("update_s", samples.iter().map(|u| u.shown_s))?;
    out.numbers("update_first", samples.iter().map(|u| whole(u.first)))?;
    out.numbers("sharpness", samples.iter().map(|u| narrow(u.value)))?;
    list(&mut out, "band_energy", BANDS, &s.energy.updates, |e| {
        e.to_vec()
    })?;
    out.numbers("band_cph", s.energy.frequencies.iter().copied())?;
    let mut k = 0..;
    out.changes("pictures", (s.pictures.len(), CELLS.0 * CELLS.1), |row| {
        row.extend(s.pictures.codes(k.next().unwrap_or(0))?);
        Ok(())
    })?;
    list(&mut out, "shifts", 5, &s.shifts, |m| {
        [m.dx, m.dy, m.moved, m.strength, m.explained]
            .map(narrow)
            .to_vec()
    })?;
    out.numbers("cover", s.cover.iter().map(|v| narrow(*v)))?;
    out.numbers("row_light", s.row_light.iter().copied())?;
    list(&mut out, "started", STARTED, &s.started, |t| {
        pack_start(t).to_vec()
    })?;
    out.close()
}

/// Reads signals back.
///
/// # Errors
/// When the file cannot be read, or its arrays do not belong together.
pub fn unpack(
    file: &mut SignalsReader,
    scale: impl Fn(&Facts, &[StoredTime]) -> io::Result<TimeScale>,
) -> io::Result<Signals> {
    let mut facts: Facts = serde_json::from_value(file.about().facts.clone())?;
    let lost: Vec<u8> = file.numbers("lost")?;
    facts
        .footing
        .set_lost(lost.iter().map(|l| *l != 0).collect());
    let times: Vec<f64> = file.numbers("time_s")?;
    let readings = readings(file, times.len())?;
    let light = wide(&file.numbers("light")?);
    let frequencies: Vec<f64> = file.numbers("band_cph")?;
    let mut updates = Vec::new();
    file.rows("band_energy", BANDS, |row: &[f32]| {
        updates.push(row.try_into().map_err(|_| unfit("band_energy"))?);
        Ok(())
    })?;
    let mut pictures = Reel::new(CELLS.0, CELLS.1);
    // What is judged from is made of them already; only a limit that is tried
    // makes it anew.
    if cfg!(feature = "try-limits") {
        file.changes("pictures", CELLS.0 * CELLS.1, |row| {
            pictures.push_codes(row.iter().copied())
        })?;
    }
    let mut started = Vec::new();
    file.rows("started", STARTED, |row: &[f64]| {
        started.push(unpack_start(row).ok_or_else(|| unfit("started"))?);
        Ok(())
    })?;
    let mut shifts = Vec::new();
    file.rows("shifts", 5, |m: &[f32]| {
        let [dx, dy, moved, strength, explained] = [0, 1, 2, 3, 4].map(|i| f64::from(m[i]));
        shifts.push(Shift {
            dx,
            dy,
            moved,
            strength,
            explained,
        });
        Ok(())
    })?;
    let signals = Signals {
        times: times.into_iter().map(StoredTime).collect(),
        readings,
        light,
        seen: Vec::new(),
        keys: Vec::new(),
        shifts,
        cover: wide(&file.numbers("cover")?),
        row_light: file.numbers("row_light")?,
        started,
        energy: Energy {
            updates,
            frequencies: frequencies.try_into().map_err(|_| unfit("band_cph"))?,
        },
        pictures,
        sights: None,
        facts,
    };
    fits(&signals, &scale(&signals.facts, &signals.times)?)?;
    Ok(signals)
}

/// Whether the arrays belong together: what is read by number later is there.
fn fits(s: &Signals, scale: &TimeScale) -> io::Result<()> {
    let frames = s.times.len();
    let same = |n: usize| n == 0 || n == frames;
    if frames == 0 || !same(s.light.len()) || !same(s.facts.footing.lost().len()) {
        return Err(unfit("light"));
    }
    let times = s.shot(scale);
    if !times.iter().all(|t| t.is_finite()) || times.windows(2).any(|w| w[0] >= w[1]) {
        return Err(unfit("time_s"));
    }
    let updates = s.updates(&times);
    let same = |n: usize| n == 0 || n == updates;
    if s.energy.updates.len() != updates || !same(s.pictures.len()) {
        return Err(unfit("band_energy"));
    }
    if !s.row_light.len().is_multiple_of(updates.max(1)) {
        return Err(unfit("row_light"));
    }
    if !same(s.cover.len()) {
        return Err(unfit("cover"));
    }
    let steps = if s.facts.direct {
        s.facts.footing.seen(&times, &times).0.len()
    } else {
        updates
    };
    let same = |n: usize| n == 0 || n == steps;
    if same(s.shifts.len()) {
        Ok(())
    } else {
        Err(unfit("shifts"))
    }
}

/// Numbers of a stimulus.
const STARTED: usize = 6;
/// In this order, by number.
const SIDES: [Option<Side>; 3] = [None, Some(Side::Near), Some(Side::Far)];
const SEEN: [OnsetSeen; 3] = [OnsetSeen::Screen, OnsetSeen::Direct, OnsetSeen::Sound];

fn pack_start(s: &Stimulus) -> [f64; STARTED] {
    let place = |p: Option<usize>| p.map_or(f64::NAN, |p| p as f64);
    [
        place(SIDES.iter().position(|x| *x == s.side)),
        s.move_s.unwrap_or(f64::NAN),
        s.onset_s,
        place(SEEN.iter().position(|x| *x == s.seen)),
        s.onset_u_s,
        s.off_s.unwrap_or(f64::NAN),
    ]
}

fn of_number<T>(all: &[T], number: f64) -> Option<&T> {
    all.iter()
        .zip(0..)
        .find(|(_, k)| f64::from(*k) == number)
        .map(|(x, _)| x)
}

/// `None` where it is no stimulus.
fn unpack_start(row: &[f64]) -> Option<Stimulus> {
    let [side, move_s, onset_s, seen, onset_u_s, off_s] = *row.first_chunk::<STARTED>()?;
    let told = |v: f64| Some(v).filter(|v| v.is_finite());
    Some(Stimulus {
        side: *of_number(&SIDES, side)?,
        move_s: told(move_s),
        onset_s: told(onset_s)?,
        seen: *of_number(&SEEN, seen)?,
        onset_u_s: told(onset_u_s)?,
        off_s: told(off_s),
    })
}

fn readings(file: &mut SignalsReader, frames: usize) -> io::Result<Vec<Reading>> {
    let [mean, energy, change, white] =
        ["mean", "energy", "change", "white"].map(|name| file.numbers::<f32>(name));
    let (mean, energy, change, white) = (mean?, energy?, change?, white?);
    if [&mean, &energy, &change, &white]
        .iter()
        .any(|a| a.len() != frames)
    {
        return Err(unfit("energy"));
    }
    let at = |k: usize| Reading {
        mean: f64::from(mean[k]),
        energy: f64::from(energy[k]),
        change: Some(f64::from(change[k])).filter(|c| !c.is_nan()),
        white: f64::from(white[k]),
    };
    Ok((0..frames).map(at).collect())
}

/// Where the screen was, in 1/256 px; `sight`: 0 seen, 1 too dark, 2 lost.
fn pack_places(out: &mut SignalsWriter, places: &[Place]) -> io::Result<()> {
    let steps = |px: f32| (px * PER_PX).round() as i16;
    list(out, "moved_px256", 2, places, |p| {
        p.moved.map(steps).to_vec()
    })?;
    out.numbers("edge_px256", places.iter().map(|p| steps(p.edge_px)))?;
    let sight = |p: &Place| match p.sight {
        Sight::Seen => 0u8,
        Sight::Dark => 1,
        Sight::Lost => 2,
    };
    out.numbers("sight", places.iter().map(sight))
}

fn list<E, T: crate::store::signals::Number>(
    out: &mut SignalsWriter,
    name: &str,
    width: usize,
    items: &[E],
    row_of: impl Fn(&E) -> Vec<T>,
) -> io::Result<()> {
    let mut items = items.iter();
    out.rows(name, (items.len(), width), |row| {
        row.extend(items.next().into_iter().flat_map(&row_of));
        Ok(())
    })
}

fn wide(values: &[f32]) -> Vec<f64> {
    values.iter().map(|v| f64::from(*v)).collect()
}

/// Exact: the signals were rounded to this before.
fn narrow(v: f64) -> f32 {
    v as f32
}

fn whole(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn unfit(name: &str) -> io::Error {
    io::Error::new(
        ErrorKind::InvalidData,
        format!("{name}: does not fit the other arrays"),
    )
}
