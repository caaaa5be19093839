//! What may disturb all clips of a set.

use focuslag::render::Scene;

pub type Change = fn(&mut Scene);

const ALL: [(&str, Change); 9] = [
    ("none", |_| ()),
    ("120-60", |s| s.film.fps = 120.0),
    ("480-120", |s| {
        s.film.fps = 480.0;
        s.screen.refresh_hz = 120.0;
    }),
    ("live30", |s| s.live_view.fps = Some(30.0)),
    ("glare", |s| {
        s.glare.level = 0.15;
        s.glare.soft = 0.3;
        s.glare.area = [0.1, 0.1, 0.7, 0.6];
    }),
    ("mains", |s| {
        s.lamp.hz = 100.0;
        s.lamp.depth = 0.15;
    }),
    ("switched", |s| {
        s.screen.pwm.hz = 230.0;
        s.screen.pwm.depth = 0.5;
    }),
    ("noisy", |s| {
        s.film.read_noise = 0.008;
        s.film.full_well = 900.0;
    }),
    ("shaking", |s| {
        s.film.tremor.px = 1.5;
        s.film.tremor.hz = 5.0;
    }),
];

/// By name.
pub fn change(name: &str) -> Change {
    let names: Vec<&str> = ALL.iter().map(|c| c.0).collect();
    let found = ALL.iter().find(|c| c.0 == name);
    found
        .unwrap_or_else(|| panic!("--disturb: one of {names:?}"))
        .1
}
