//! Sound of clips made by the `ffmpeg` tool, in several coders and containers,
//! with tracks that begin late: beeps must lie where that tool put them.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use focuslag::clip::{ProbeOptions, probe, sound};
use focuslag::trial::cue::tones;
use support::Bench;

/// Two beeps of 3 kHz at 0.5 and 1.25 s in noise, over a picture.
const BEEPS: &str = "-f lavfi -i testsrc2=s=160x120:r=120:d=2 DELAY -f lavfi -i \
    aevalsrc=exprs='0.2*sin(2*PI*3000*t)*(between(t\\,0.5\\,0.6)+between(t\\,1.25\\,1.33))+0.004*(random(0)-0.5)':s=48000:d=2 \
    -c:v libx264 -preset ultrafast";

/// Seconds of the beeps from the first shown frame.
fn heard(bench: &Bench, name: &str, delay: &str, coder: &str) -> Vec<f64> {
    let args = format!(
        "{} {coder}",
        BEEPS.replace("DELAY", delay).replace('\'', "")
    );
    let clip = bench.make(name, &args);
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    let track = sound(&index).unwrap().expect("a sound track");
    let found = tones(&track.samples, f64::from(track.rate));
    let starts = found.iter().filter_map(|t| t.start_s);
    starts.map(|s| track.start.0 + s).collect()
}

#[test]
fn beeps_lie_where_they_were_put() {
    let Some(bench) = Bench::with(&["libx264", "aac", "pcm_s16le"]) else {
        return;
    };
    for (name, delay, coder, at) in [
        ("a.mp4", "", "-c:a aac", 0.0),
        ("b.mov", "", "-c:a pcm_s16le", 0.0),
        ("c.mkv", "", "-c:a aac -ac 2", 0.0),
        ("d.mp4", "-itsoffset 0.35", "-c:a aac", 0.35),
        ("e.mov", "-itsoffset 0.2", "-c:a pcm_s24le", 0.2),
        ("f.mkv", "-itsoffset 0.1", "-c:a pcm_f32le", 0.1),
        ("g.avi", "", "-c:a pcm_u8", 0.0),
    ] {
        let found = heard(&bench, name, delay, coder);
        assert_eq!(found.len(), 2, "{name}: {found:?}");
        for (got, want) in found.iter().zip([0.5 + at, 1.25 + at]) {
            assert!((got - want).abs() < 0.005, "{name}: {got} for {want}");
        }
    }
}

/// Stamps that jump by 3,000 s within a film of two seconds: the silence between
/// is not made up.
#[test]
fn silence_is_bounded_by_the_film() {
    let Some(bench) = Bench::with(&["libx264", "pcm_s16le"]) else {
        return;
    };
    let args = "-f lavfi -i testsrc2=s=160x120:r=120:d=2 -f lavfi -i \
        aevalsrc=exprs=0.2*sin(2*PI*3000*t):s=48000:d=2 -af \
        asetpts=if(gt(N\\,40000)\\,PTS+3000/TB\\,PTS) -c:v libx264 -preset ultrafast \
        -c:a pcm_s16le";
    let clip = bench.make("gap.mkv", args);
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    let track = sound(&index).unwrap().expect("a sound track");
    let seconds = track.samples.len() as f64 / f64::from(track.rate);
    assert!((0.3..13.0).contains(&seconds), "{seconds} s");
}

#[test]
fn a_clip_without_sound_has_none() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let clip = bench.moving("mute.mp4", "160x120", "60", 30, "-c:v libx264");
    let index = probe(&clip, &ProbeOptions::default()).unwrap();
    assert_eq!(sound(&index).unwrap(), None);
}
