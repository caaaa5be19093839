//! Parts of a clip that are stored more slowly than others: the true rate of
//! each.
//!
//! The stamps tell where parts begin and how fast each is stored
//! ([`crate::job::runs`]). The fastest, where it runs faster than real-time
//! video does, is as it was filmed. The camera's screen is the clock for the
//! others: it changes as often in a filmed second of every part, so a part in
//! which a change takes as many frames was filmed at the same rate. A part in
//! which that cannot be seen is not guessed.

use std::io;

use super::around::changes;
use crate::clip::ClipIndex;
use crate::geometry::{Quad, StoredPx};
use crate::job::{Run, runs};
use crate::screen::find::Looks;
use crate::screen::refresh;

/// Stamps faster than this are real time.
const SURELY_TRUE_FPS: f64 = 61.0;
/// Rates that differ by less, as a share, are one.
const SAME: f64 = 0.03;
/// Weakest phase-keeping of the screen's changes in a part.
const COHERENT: f64 = 0.6;

/// A part and its true rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Where it begins, seconds of the stored clip.
    pub from_s: f64,
    /// As stored, frames a second.
    pub stored_fps: f64,
    /// As filmed, frames a second.
    pub fps: f64,
}

/// What the stamps and the screen say.
#[derive(Clone, Debug, PartialEq)]
pub enum Parts {
    /// One rate throughout.
    One,
    /// Each part's rate was told.
    Told(Vec<Part>),
    /// There are parts, and why their rates are not known.
    Unclear(String),
}

/// Tells the parts of a clip. `looks` are of its beginning, with every frame's
/// small picture; `said` is the true rate where a person or the metadata give
/// one.
///
/// # Errors
/// When temporary pictures cannot be read back.
pub fn parts(
    index: &ClipIndex,
    said: Option<f64>,
    looks: &mut Looks,
    screen: &Quad<StoredPx>,
) -> io::Result<Parts> {
    let found = runs(&index.stamps);
    if found.len() < 2 {
        return Ok(Parts::One);
    }
    let change = changes(looks, &[super::around::kept(screen.bounds(), 0.9)], 1)?;
    let times: Vec<f64> = looks.times.iter().map(|t| t.0).collect();
    Ok(told(&found, said, &times, &change[0]))
}

/// The same from the parts as stored, and every frame's stamp and change.
fn told(found: &[Run], said: Option<f64>, times: &[f64], change: &[f64]) -> Parts {
    let fastest = found.iter().map(|r| r.fps).fold(0.0, f64::max);
    let Some(full) = said.or((fastest > SURELY_TRUE_FPS).then_some(fastest)) else {
        return Parts::Unclear(
            "no part runs faster than real-time video does, so nothing tells the true rate; \
             say it with --fps"
                .to_owned(),
        );
    };
    // Changes a second, if the part was filmed at the full rate.
    let pace: Vec<Option<f64>> = (0..found.len())
        .map(|i| {
            let end = found.get(i + 1).map_or(f64::INFINITY, |r| r.from_s);
            pace(times, change, (found[i].from_s, end), full)
        })
        .collect();
    let like = |i: usize| (0..found.len()).filter(move |j| same(found[i].fps, found[*j].fps));
    let of = |i: usize| pace[i].or_else(|| like(i).find_map(|j| pace[j]));
    let first = (0..found.len()).find(|i| same(found[*i].fps, fastest));
    let Some(clock) = first.and_then(of) else {
        return Parts::Unclear(format!(
            "in the part stored at {fastest:.0} frames a second too little changes on the screen \
             to tell the others by"
        ));
    };
    let mut out = Vec::new();
    for (i, run) in found.iter().enumerate() {
        let rate = if same(run.fps, fastest) {
            Some(full)
        } else {
            of(i).and_then(|hz| rate(full, clock / hz, run.fps))
        };
        let Some(fps) = rate else {
            return Parts::Unclear(format!(
                "from {:.2} s on the screen's changes do not tell at which rate it was filmed",
                run.from_s
            ));
        };
        out.push(Part {
            from_s: run.from_s,
            stored_fps: run.fps,
            fps,
        });
    }
    Parts::Told(out)
}

/// The true rate of a part in which a change of the screen takes `ratio` times
/// as many frames as at the full rate: the full one, or real time.
fn rate(full: f64, ratio: f64, stored: f64) -> Option<f64> {
    if same(ratio, 1.0) {
        Some(full)
    } else {
        same(full * ratio, stored).then_some(stored)
    }
}

fn same(a: f64, b: f64) -> bool {
    (a / b - 1.0).abs() <= SAME
}

/// Changes of the screen a second in a part, counting frames at `fps`.
fn pace(times: &[f64], change: &[f64], (from, end): (f64, f64), fps: f64) -> Option<f64> {
    let a = times.partition_point(|t| *t < from - 5e-4);
    let b = times.partition_point(|t| *t < end - 5e-4);
    let frames: Vec<f64> = (0..b - a).map(|i| i as f64 / fps).collect();
    // The first frame follows one of another part.
    let own: Vec<Option<f64>> = (a..b)
        .map(|k| change.get(k).copied().filter(|_| k > a))
        .collect();
    let updates = refresh::measure(&frames, &own)?;
    (updates.coherence >= COHERENT).then(|| 1.0 / updates.period_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames at 240 a second of a screen that changes every `every` frames in
    /// the parts stored at 240, 30 and 240 a second.
    fn film(every: [usize; 3]) -> (Vec<f64>, Vec<f64>) {
        let (mut t, mut times, mut change) = (0.0, Vec::new(), Vec::new());
        for (part, n) in every.iter().enumerate() {
            for k in 0..480 {
                times.push(t);
                t += [240.0, 30.0, 240.0_f64][part].recip();
                let noise = 0.001 * ((k * 7919) % 13) as f64 / 13.0;
                let update = *n > 0 && k % n == 0;
                change.push(noise + if update { 0.05 } else { 0.0 });
            }
        }
        (times, change)
    }

    fn rates(every: [usize; 3], said: Option<f64>) -> Parts {
        let (times, change) = film(every);
        let found = runs(&times);
        assert_eq!(found.len(), 3, "{found:?}");
        told(&found, said, &times, &change)
    }

    #[test]
    fn a_part_in_which_a_change_takes_as_many_frames_is_of_the_same_rate() {
        let Parts::Told(parts) = rates([4, 4, 4], None) else {
            panic!("not told")
        };
        let fps: Vec<f64> = parts.iter().map(|p| p.fps.round()).collect();
        assert_eq!(fps, [240.0; 3]);
        assert!((parts[1].from_s - 2.0).abs() < 0.01, "{parts:?}");
        assert!((parts[2].from_s - 18.0).abs() < 0.04, "{parts:?}");
    }

    #[test]
    fn a_part_in_which_nothing_is_seen_is_not_guessed() {
        assert!(matches!(rates([4, 0, 4], None), Parts::Unclear(_)));
        assert!(matches!(rates([0, 4, 0], None), Parts::Unclear(_)));
        // One that is stored alike speaks for it.
        assert!(matches!(rates([4, 4, 0], None), Parts::Told(_)));
        // Neither the full rate nor real time.
        assert!(matches!(rates([4, 3, 4], None), Parts::Unclear(_)));
    }

    #[test]
    fn clips_of_one_rate_have_no_parts() {
        let times: Vec<f64> = (0..500).map(|k| f64::from(k) / 240.0).collect();
        assert!(runs(&times).len() < 2);
    }
}
