//! Which of several things that blink is the trigger light.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod support;

use focuslag::render::{Scene, render};
use focuslag::scout::{Kind, Request, scout};
use support::Bench;

/// A lamp of the camera's own, brighter and larger than the trigger light, on
/// for half a second in every 1.3 s, whatever the lens does.
const STATUS_LAMP: &str = "drawbox=x=300:y=250:w=14:h=14:color=white:t=fill:\
    enable=lt(mod(t\\,1.3)\\,0.5)";

#[test]
fn the_light_that_the_screen_answers_is_the_trigger() {
    let Some(bench) = Bench::with(&["libx264"]) else {
        return;
    };
    let scene = "seed = 45\nstimulus = \"light\"\nwindow_ms = 900\n\
                 [light]\ncenter = [40, 250]\nradius = 6\ncolor = [1.0, 0.2, 0.1]\n\
                 on_ms = 1400\noff_ms = 900\n\
                 [screen]\ncorners = [[20, 14], [300, 16], [302, 226], [18, 224]]\nbezel_px = 8\n\
                 [film]\nsize = [340, 270]\n[[trial]]\n[[trial]]\n[[trial]]\n[[trial]]\n";
    let scene = Scene::from_toml(scene, "scene").unwrap();
    render(
        &scene,
        &bench.path("."),
        &bench.path("plain.mp4"),
        |_, _| {},
    )
    .unwrap();
    let args = format!("-i plain.mp4 -vf {STATUS_LAMP} -c:v libx264 -crf 16");
    let clip = bench.make("blinks.mp4", &args);
    let request = Request {
        workers: 2,
        fps: Some(240.0),
        ..Request::default()
    };
    for (clip, lamp) in [(bench.path("plain.mp4"), false), (clip, true)] {
        let (draft, _) = scout(&clip, &request, &|_, _| ()).unwrap();
        let Kind::Light(place) = draft.kind else {
            panic!("{lamp}: {:?}", draft.kind);
        };
        let [x0, y0, x1, y1] = place.rect;
        assert!(
            (x0..=x1).contains(&40.0) && (y0..=y1).contains(&250.0),
            "{lamp}: {place:?}"
        );
    }
}
