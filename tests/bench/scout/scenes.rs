//! The scenes, with chance from the seed.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What must be said of a scene.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Want {
    /// A screen, on which something swings.
    Swing,
    /// The same, seen directly as well.
    Direct,
    /// A screen and a trigger light.
    Light,
    /// The feed, as the person says.
    Feed,
    /// There is no screen.
    Nothing,
}

pub struct Case {
    pub name: String,
    /// A scene file.
    pub scene: String,
    pub want: Want,
    /// The true rig's `[capture]`, where the rate alone does not say it.
    pub capture: Option<&'static str>,
}

/// How a scene differs from the plain one.
struct Odd {
    size: [usize; 2],
    /// Height of the screen, share of the frame's; width ÷ height.
    high: f64,
    aspect: f64,
    /// Largest roll, degrees, and perspective.
    roll: f64,
    tilt: f64,
    screen: &'static str,
    film: &'static str,
    more: &'static str,
    want: Want,
}

const PLAIN: Odd = Odd {
    size: [960, 540],
    high: 0.62,
    aspect: 1.4,
    roll: 2.0,
    tilt: 0.1,
    screen: "",
    film: "fps = 120",
    more: "",
    want: Want::Swing,
};

/// The middle three seconds of a film at 240 a second are stored eight times
/// as slowly; and the same in stored time.
const SLOWED: &str =
    "[container]\nsegments = [{ from_s = 1.5, fps = 30 }, { from_s = 4.5, fps = 240 }]\n";
const SLOWED_TRUE: &str = "segments = [{ from_s = 0.0, fps = 240 }, { from_s = 1.5, fps = 240 }, \
    { from_s = 25.5, fps = 240 }]";

/// All cases of a seed.
pub fn cases(seed: u64) -> Vec<Case> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    odds()
        .into_iter()
        .map(|(name, odd)| Case {
            name: name.to_owned(),
            scene: scene(&odd, &mut rng),
            want: odd.want,
            capture: (name == "slowed").then_some(SLOWED_TRUE),
        })
        .collect()
}

/// Trigger lights: five colours, 4 to 30 px across, three surrounds, under a
/// steady or a flickering lamp.
pub fn lights(seed: u64, count: usize) -> Vec<Case> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    const COLOURS: [(&str, &str); 5] = [
        ("red", "[1.0, 0.1, 0.1]"),
        ("green", "[0.1, 1.0, 0.2]"),
        ("blue", "[0.1, 0.2, 1.0]"),
        ("amber", "[1.0, 0.6, 0.0]"),
        ("white", "[1.0, 1.0, 1.0]"),
    ];
    const SURROUNDS: [(&str, &str); 3] = [
        ("desk", "surround_px = 0.0"),
        (
            "texture",
            "surround_px = 24.0\nsurround = { mean = 0.2, contrast = 0.5 }",
        ),
        (
            "bright",
            "surround_px = 24.0\nsurround = { mean = 0.5, contrast = 0.3 }",
        ),
    ];
    let mut one = |k: usize| {
        let (colour, rgb) = COLOURS[k % 5];
        let (surround, keys) = SURROUNDS[k % 3];
        let flickers = k % 2 == 1;
        let radius = (rng.random_range(20..=150u32) as f64) / 10.0;
        let lamp = if flickers {
            "[lamp]\nhz = 100.0\ndepth = 0.2\n"
        } else {
            ""
        };
        let more = format!(
            "[light]\ncenter = [{}.0, {}.0]\nradius = {radius}\ncolor = {rgb}\n{keys}\n\
             on_ms = 1400\noff_ms = 800\n{lamp}",
            rng.random_range(40..80u32),
            rng.random_range(40..80u32),
        );
        let odd = Odd {
            size: [720, 480],
            high: 0.6,
            film: "fps = 240",
            more: more.leak(),
            want: Want::Light,
            ..PLAIN
        };
        Case {
            name: format!(
                "{k:02}-{colour}-{:.0}-{surround}{}",
                2.0 * radius,
                if flickers { "-flicker" } else { "" }
            ),
            scene: scene(&odd, &mut rng),
            want: Want::Light,
            capture: None,
        }
    };
    (0..count).map(&mut one).collect()
}

#[rustfmt::skip]
fn odds() -> Vec<(&'static str, Odd)> {
    let bright = "[[bright]]\nshape = \"window\"\narea = [6.0, 10.0, 150.0, 250.0]\n\
        [[bright]]\nshape = \"lamp\"\narea = [830.0, 380.0, 950.0, 500.0]\nlight = 1.5\n";
    let framed = "[[bright]]\nshape = \"window\"\narea = [16.0, 60.0, 190.0, 300.0]\nrim_px = 10.0\n";
    vec![
        ("plain", PLAIN),
        ("fps-240", Odd { film: "fps = 240", ..PLAIN }),
        ("tilt", Odd { tilt: 0.35, roll: 4.0, ..PLAIN }),
        ("roll", Odd { roll: 12.0, high: 0.5, ..PLAIN }),
        ("dim", Odd { screen: "brightness = 0.25", film: "fps = 120\nread_noise = 0.008\nfull_well = 700.0", ..PLAIN }),
        ("very-dim", Odd { screen: "brightness = 0.1", film: "fps = 120\nread_noise = 0.004", ..PLAIN }),
        ("glare", Odd { more: "[glare]\nlevel = 0.5\narea = [0.0, 0.0, 0.45, 0.5]\nsoft = 0.2\n", ..PLAIN }),
        ("glare-drift", Odd { more: "[glare]\nlevel = 0.25\narea = [0.3, 0.0, 1.0, 1.0]\ndrift = 0.4\nwander = 0.2\n", ..PLAIN }),
        ("bright-beside", Odd { high: 0.55, more: bright, ..PLAIN }),
        ("framed-window", Odd { high: 0.5, more: framed, ..PLAIN }),
        ("tremor", Odd { more: "[film.tremor]\npx = 1.5\nhz = 5.0\n", ..PLAIN }),
        ("bumped", Odd { more: "[film.bump]\npx = [3.0, 2.0]\nstay_px = [0.5, 0.0]\n", ..PLAIN }),
        ("hd", Odd { size: [1920, 1080], film: "fps = 60\nexposure_ms = 4.0", ..PLAIN }),
        ("wide-16-9", Odd { aspect: 1.78, high: 0.55, ..PLAIN }),
        ("small", Odd { high: 0.32, ..PLAIN }),
        ("large", Odd { high: 0.86, ..PLAIN }),
        ("thin-rim", Odd { screen: "bezel_px = 8.0", ..PLAIN }),
        ("screen-30", Odd { screen: "refresh_hz = 30.0", ..PLAIN }),
        ("screen-100", Odd { screen: "refresh_hz = 100.0", film: "fps = 240", ..PLAIN }),
        ("noisy", Odd { film: "fps = 120\nread_noise = 0.012\nfull_well = 500.0", ..PLAIN }),
        ("grid", Odd { more: "[screen.grid]\npixels = [480, 320]\n", ..PLAIN }),
        ("lamp-flicker", Odd { film: "fps = 240", more: "[lamp]\nhz = 100.0\ndepth = 0.3\n", ..PLAIN }),
        ("compressed", Odd { more: "[container]\nquality = 30.0\n", ..PLAIN }),
        ("turned-90", Odd { size: [540, 960], high: 0.28, more: "[container]\nrotation = 90\n", ..PLAIN }),
        ("boxed", Odd { more: "[[overlay]]\nshape = \"box\"\n[[overlay]]\nshape = \"icon\"\narea = [0.85, 0.04, 0.95, 0.1]\n", ..PLAIN }),
        ("direct", Odd { high: 0.5, film: "fps = 240\ndirect_view = [16.0, 340.0, 200.0, 500.0]", want: Want::Direct, ..PLAIN }),
        ("light", Odd { high: 0.55, film: "fps = 240", more: "[light]\ncenter = [70.0, 80.0]\nradius = 14.0\n", want: Want::Light, ..PLAIN }),
        ("feed", Odd { size: [640, 480], film: "feed = true", want: Want::Feed, ..PLAIN }),
        ("none-noise", Odd { size: [640, 480], film: "feed = true", want: Want::Nothing, ..PLAIN }),
        ("none-strokes", Odd { size: [640, 480], film: "feed = true", more: "[near]\ntexture = \"strokes\"\n", want: Want::Nothing, ..PLAIN }),
        ("none-boxed", Odd { size: [640, 480], film: "feed = true", more: "[[overlay]]\nshape = \"box\"\narea = [0.2, 0.2, 0.8, 0.8]\nline_permille = 20.0\n", want: Want::Nothing, ..PLAIN }),
        ("none-dark", Odd { size: [640, 480], film: "feed = true", more: "[far]\nmean = 0.05\ncontrast = 0.1\n", want: Want::Nothing, ..PLAIN }),
        ("slowed", Odd { film: "fps = 240", more: SLOWED, ..PLAIN }),
    ]
}

fn scene(odd: &Odd, rng: &mut ChaCha8Rng) -> String {
    let light = odd.want == Want::Light;
    let (seed, quad) = (rng.random_range(1..1_000_000u32), corners(odd, rng));
    let corners = if odd.film.contains("feed = true") {
        String::new()
    } else {
        format!("corners = {quad:?}\n")
    };
    let kind = if light { "stimulus = \"light\"\n" } else { "" };
    let outcomes = ["hit", "hit", "soft", "hit"];
    let trials: String = outcomes
        .iter()
        .map(|o| format!("[[trial]]\noutcome = \"{o}\"\n"))
        .collect();
    let [w, h] = odd.size;
    format!(
        "seed = {seed}\n{kind}window_ms = 900\n[motion]\nmove_ms = 320\npause_ms = 1250\n\
         lead_ms = 500\n[screen]\n{corners}{}\n[film]\nsize = [{w}, {h}]\n{}\n{trials}{}",
        odd.screen, odd.film, odd.more
    )
}

fn corners(odd: &Odd, rng: &mut ChaCha8Rng) -> [[f64; 2]; 4] {
    let [w, h] = odd.size.map(|n| n as f64);
    let high = odd.high * h;
    let wide = odd.aspect * high;
    let (cx, cy) = (
        w * rng.random_range(0.48..0.53),
        h * rng.random_range(0.48..0.52),
    );
    let roll = rng.random_range(-odd.roll..odd.roll).to_radians();
    let mut lean = || rng.random_range(-odd.tilt..odd.tilt);
    let (kx, ky) = (lean() / wide, lean() / high);
    [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)].map(|(x, y)| {
        let (x, y) = (x * wide, y * high);
        let d = 1.0 + kx * x + ky * y;
        let (x, y) = (x / d, y / d);
        let (c, s) = (roll.cos(), roll.sin());
        let round = |v: f64| (v * 100.0).round() / 100.0;
        [round(cx + x * c - y * s), round(cy + x * s + y * c)]
    })
}
