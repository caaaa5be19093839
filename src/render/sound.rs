//! The sound track: beeps and the tone that starts trials, over noise. Sound is
//! heard as it sounds; a slowed part is as low as it is slow.

use rand_chacha::ChaCha8Rng;

use super::marks::bases;
use super::rng::{self, Use, normal};
use super::scene::{Beep, Scene, Since, Stimulus};
use super::stretch::Stretch;
use super::truth::{CueTruth, TrialTruth};

/// Samples per second of the file.
pub(crate) const RATE: i32 = 48_000;
/// Amplitude of the tone that starts trials.
const TONE_LEVEL: f64 = 0.2;
/// Attack of that tone, s.
const TONE_ATTACK_S: f64 = 0.001;

/// One beep, s as shot.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Burst {
    begin: f64,
    end: f64,
    hz: f64,
    level: f64,
    attack: f64,
}

impl Burst {
    fn at(&self, t: f64) -> f64 {
        if !(self.begin..self.end).contains(&t) {
            return 0.0;
        }
        let edge = (t - self.begin).min(self.end - t);
        let level = self.level * (edge / self.attack.max(1e-9)).min(1.0);
        level * (std::f64::consts::TAU * self.hz * (t - self.begin)).sin()
    }
}

/// When a beep begins: with its trial, where it belongs to one.
fn begins(beep: &Beep, trials: &[TrialTruth]) -> Vec<(f64, Option<usize>)> {
    let at = beep.at_ms / 1000.0;
    if beep.since == Since::Start {
        return vec![(at, None)];
    }
    let bases = bases(beep.since, &beep.trials, trials);
    bases.map(|(i, base)| (base + at, Some(i))).collect()
}

/// When the named beeps of each trial reach half their level.
pub(crate) fn cues(scene: &Scene, trials: &[TrialTruth]) -> Vec<Vec<CueTruth>> {
    let mut out = vec![Vec::new(); trials.len()];
    for beep in &scene.beeps {
        let Some(name) = &beep.name else { continue };
        for (begin, trial) in begins(beep, trials) {
            if let Some(i) = trial {
                out[i].push(CueTruth {
                    name: name.clone(),
                    shown_s: begin + beep.attack_ms / 2000.0,
                });
            }
        }
    }
    out
}

/// A track that is made as the film goes on.
pub(crate) struct Track {
    bursts: Vec<Burst>,
    noise: f64,
    begin_s: f64,
    rng: ChaCha8Rng,
    made: i64,
}

impl Track {
    /// `None` where nothing sounds and no track is asked for.
    pub(crate) fn new(scene: &Scene, trials: &[TrialTruth]) -> Option<Self> {
        let mut bursts = Vec::new();
        for beep in &scene.beeps {
            for (begin, _) in begins(beep, trials) {
                bursts.push(Burst {
                    begin,
                    end: begin + beep.for_ms / 1000.0,
                    hz: beep.hz,
                    level: beep.level,
                    attack: beep.attack_ms / 1000.0,
                });
            }
        }
        let sound = &scene.sound;
        if scene.stimulus == Stimulus::Tone {
            bursts.extend(trials.iter().map(|t| Burst {
                // Half its level at the onset.
                begin: t.onset_s - TONE_ATTACK_S / 2.0,
                end: t.onset_s + sound.for_ms / 1000.0,
                hz: sound.hz,
                level: TONE_LEVEL,
                attack: TONE_ATTACK_S,
            }));
        }
        (sound.track || !bursts.is_empty()).then(|| Self {
            bursts,
            noise: sound.noise,
            begin_s: sound.begin_ms / 1000.0,
            rng: rng::stream(scene.seed, Use::Sound),
            made: 0,
        })
    }

    /// Sample of the file's time line with which the track begins, where the
    /// picture begins at `picture_s`.
    pub(crate) fn first(&self, picture_s: f64) -> i64 {
        ((picture_s + self.begin_s) * f64::from(RATE)).round() as i64
    }

    /// The next samples up to a stored second of the picture.
    pub(crate) fn until(&mut self, stored: f64, stretch: &Stretch) -> Vec<i16> {
        let end = ((stored - self.begin_s) * f64::from(RATE)).floor() as i64;
        let mut out = Vec::new();
        while self.made < end {
            let t = stretch.shot(self.begin_s + self.made as f64 / f64::from(RATE));
            let tones: f64 = self.bursts.iter().map(|b| b.at(t)).sum();
            let value = tones + self.noise * normal(&mut self.rng);
            out.push((value * 32767.0).clamp(-32768.0, 32767.0) as i16);
            self.made += 1;
        }
        out
    }
}
