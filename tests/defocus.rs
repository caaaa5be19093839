//! Defocus through the whole chain: a rendered film of a card out of focus,
//! read by the spectral measure, must show the transfer function of a uniform
//! disc, 2·J₁(πu)/(πu) with u = diameter × frequency (closed form, agrees with
//! `scipy.special.j1`; values at the u used here).

#![allow(clippy::unwrap_used, missing_docs)]

use std::path::Path;

use focuslag::clip::{Codec, FrameSink, LumaFrame, ProbeOptions, decode, probe};
use focuslag::geometry::Quad;
use focuslag::render::scene::{Outcome, Texture, Trial};
use focuslag::render::{Scene, render};
use focuslag::rig::MeasureSpec;
use focuslag::screen::Region;
use focuslag::sharpness::Meter;

const SIZE: (usize, usize) = (640, 480);
/// Blur of the card out of focus, film px (‰ of 480 rows).
const BLUR_PX: f64 = 6.0;

fn film(outcome: Outcome, out: &Path) -> f64 {
    let mut s = Scene::default();
    s.near.texture = Texture::Noise;
    s.near.size = [0.9, 0.9];
    s.near.away = [1.6, 0.5];
    s.optics.near_permille = BLUR_PX / 480.0 * 1000.0;
    s.film.feed = true;
    s.film.size = [SIZE.0, SIZE.1];
    s.film.gamma = 1.0;
    s.film.read_noise = 0.0;
    s.film.full_well = 0.0;
    s.container.codec = Codec::Ffv1;
    s.trials = vec![Trial {
        outcome,
        ..Trial::default()
    }];
    let truth = render(&s, out.parent().unwrap(), out, |_, _| ()).unwrap();
    truth.trials[0].onset_s + 1.2
}

struct Energy {
    meter: Meter,
    at_s: f64,
    found: Option<f64>,
}

impl FrameSink for Energy {
    type Out = Option<f64>;
    fn frame(&mut self, frame: &LumaFrame<'_>) {
        if self.found.is_none() && frame.time.0 >= self.at_s {
            self.found = Some(self.meter.read(frame).0.energy);
        }
    }
    fn finish(self) -> Option<f64> {
        self.found
    }
}

/// Spectral energy in a narrow band around `frequency` (cycles per px).
fn energy(clip: &Path, at_s: f64, frequency: f64) -> f64 {
    let index = probe(clip, &ProbeOptions::default()).unwrap();
    let area = Quad::rect(160.0, 120.0, 480.0, 360.0);
    let height = SIZE.1 as f64;
    let spec = MeasureSpec::MidBand {
        low_cph: (frequency - 0.006) * height,
        high_cph: (frequency + 0.006) * height,
    };
    let mut found = None;
    decode(
        &index,
        1,
        |_| Energy {
            meter: Meter::new(&spec, Region::of_quad(&area, &[], SIZE), height).unwrap(),
            at_s,
            found: None,
        },
        |e| found = found.or(e),
        |_| (),
    )
    .unwrap();
    found.unwrap()
}

#[test]
fn a_card_out_of_focus_shows_the_transfer_function_of_a_disc() {
    let folder = tempfile::tempdir().unwrap();
    let sharp = folder.path().join("sharp.mkv");
    let blurred = folder.path().join("blurred.mkv");
    let at_sharp = film(Outcome::Hit, &sharp);
    let at_blurred = film(Outcome::NeverMoved, &blurred);
    for (u, mtf) in [
        (0.3, 0.893_001_187_288),
        (0.5, 0.721_702_844_903),
        (0.7, 0.505_738_842_065),
        (0.9, 0.283_316_978_465),
    ] {
        let f = u / BLUR_PX;
        let ratio = energy(&blurred, at_blurred, f) / energy(&sharp, at_sharp, f);
        // Eight bits, and a window of 64 px that mixes neighbouring frequencies.
        assert!(
            (ratio.sqrt() - mtf).abs() < 0.05,
            "u {u}: {} against {mtf}",
            ratio.sqrt()
        );
    }
}
