//! The films of a folder: `NAME.truth.json`, `NAME.ideal.npz` and the clip.

use std::io::Read;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::held::course::{Blur, Course};
use crate::held::truth::{Film, Trial};

/// Blur per dioptre, ‰ of the screen's height: 2 × 5.5 px on 427 px.
const PERMILLE_PER_DIOPTRE: f64 = 25.8;
/// The rig's default, s.
const HOLD_S: f64 = 0.2;
/// Windows that fit before the next stimulus, ms: of films that hunt or lose.
const LONG_MS: f64 = 1200.0;
const USUAL_MS: f64 = 700.0;
const LONG: [&str; 2] = ["hunting", "lost"];

/// A film and how it is to be filmed for.
pub struct Clip {
    pub film: Film,
    pub path: PathBuf,
    /// `A`, `B`; none stands alone.
    pub setup: Option<String>,
    geometry: Value,
    press: bool,
}

/// All films of a folder in the order of their names.
pub fn all(folder: &Path) -> Vec<Clip> {
    let entries = std::fs::read_dir(folder).expect("the folder of the films");
    let mut names: Vec<String> = entries
        .filter_map(|e| e.ok()?.file_name().into_string().ok())
        .filter_map(|n| n.strip_suffix(".truth.json").map(str::to_owned))
        .collect();
    names.sort();
    names.iter().map(|n| clip(folder, n)).collect()
}

fn clip(folder: &Path, name: &str) -> Clip {
    let text = std::fs::read_to_string(folder.join(format!("{name}.truth.json"))).expect("a truth");
    let truth: Value = serde_json::from_str(&text).expect("JSON");
    let number = |key: &str| {
        truth[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{name}: {key}"))
    };
    let lag_ms = number("live_view_lag_ms") + number("scan_delay_at_af_ms");
    let trials = truth["trials"].as_array().expect("trials");
    let window_ms = if LONG.contains(&name) {
        LONG_MS
    } else {
        USUAL_MS
    };
    let ideal = Ideal::read(&folder.join(format!("{name}.ideal.npz")));
    let trials = trials.iter().map(|t| ideal.trial(t, lag_ms / 1e3));
    let film = Film {
        name: name.to_owned(),
        trials: trials.collect(),
        course: ideal.course(lag_ms / 1e3),
        unit_ms: 1e3 / number("refresh_hz") + 1e3 / number("capture_fps"),
        lag_ms,
        high_px: high(&truth["geometry"]["screen_corners"]),
        hold_s: HOLD_S,
        window_s: window_ms / 1e3,
    };
    Clip {
        film,
        path: folder.join(truth["file"].as_str().expect("a file")),
        setup: truth["setup"].as_str().map(str::to_owned),
        geometry: truth["geometry"].clone(),
        press: truth["stimulus"] == "press",
    }
}

/// What the maker of a film knows of every instant.
struct Ideal {
    t: Vec<f64>,
    /// Where the lens is focused, dioptres.
    v: Vec<f64>,
    /// How far the card is in, 0..=1.
    u: Vec<f64>,
    /// When each update is shown.
    shown_s: Vec<f64>,
}

/// Slower than this share of the peak is rest (the definition of onset).
const REST: f64 = 0.05;
/// A way is looked at for this long after its end, s.
const AFTER_S: f64 = 0.02;

impl Ideal {
    fn read(path: &Path) -> Self {
        let file = std::fs::File::open(path).expect("the ideal signals");
        let mut zip = zip::ZipArchive::new(file).expect("an .npz");
        let [t, v, u, shown_s] = ["t", "v", "u", "lv_shown"].map(|n| array(&mut zip, n));
        Self { t, v, u, shown_s }
    }

    fn trial(&self, t: &Value, lag_s: f64) -> Trial {
        let number = |v: &Value| v.as_f64().expect("a number");
        let side = match t["kind"].as_str() {
            Some("enter") => Some("near"),
            Some("exit") => Some("far"),
            _ => None,
        };
        let way = || [number(&t["move_start_s"]), number(&t["move_end_s"])];
        let world_s = match side {
            // The file has the end of travel.
            Some("near") => self.rest(way()),
            _ => number(&t["onset_s"]),
        };
        let first = self.shown_s.partition_point(|s| *s < world_s + lag_s);
        Trial {
            side,
            verdict: match t["outcome"].as_str() {
                Some("hit") => "hit",
                Some("soft") => "soft",
                _ => "lost",
            },
            scored: t["scored"] == true,
            world_s,
            shown_s: self.shown_s[first],
            blur: vec![Blur::Folded(number(&t["v_subject_D"]))],
            own_pair: None,
        }
    }

    /// From when on the card is slower than [`REST`].
    fn rest(&self, [from_s, to_s]: [f64; 2]) -> f64 {
        let at = |s: f64| self.t.partition_point(|t| *t < s);
        let steps = at(from_s)..at(to_s + AFTER_S);
        let speed = |k: &usize| (self.u[k + 1] - self.u[*k]).abs();
        let peak = steps.clone().map(|k| speed(&k)).fold(0.0, f64::max);
        let last = steps.rev().find(|k| speed(k) >= REST * peak);
        last.map_or(to_s, |k| self.t[k + 1])
    }

    /// The lens in every update: `lag_s` before it is shown.
    fn course(self, lag_s: f64) -> Course {
        let Self { t, v, shown_s, .. } = self;
        let at = |shown: &f64| {
            let world = shown - lag_s;
            let k = t.partition_point(|t| *t <= world);
            let (Some(a), Some(b)) = (k.checked_sub(1), t.get(k)) else {
                return if k == 0 { v[0] } else { v[v.len() - 1] };
            };
            v[a] + (v[k] - v[a]) * (world - t[a]) / (b - t[a])
        };
        Course {
            at: shown_s.iter().map(at).collect(),
            shown_s,
            permille: [PERMILLE_PER_DIOPTRE; 2],
        }
    }
}

/// An array of 4 or 8 byte floats.
fn array(zip: &mut zip::ZipArchive<std::fs::File>, name: &str) -> Vec<f64> {
    let mut bytes = Vec::new();
    let mut entry = zip.by_name(&format!("{name}.npy")).expect("an array");
    entry.read_to_end(&mut bytes).expect("an array");
    let file = || npyz::NpyFile::new(&bytes[..]).expect("an array");
    file().into_vec::<f64>().unwrap_or_else(|_| {
        let narrow = file().into_vec::<f32>().expect("floats");
        narrow.into_iter().map(f64::from).collect()
    })
}

/// Mean of the left and the right side.
fn high(corners: &Value) -> f64 {
    let at = |k: usize, axis: usize| corners[k][axis].as_f64().expect("corners");
    let side = |a: usize, b: usize| (at(a, 0) - at(b, 0)).hypot(at(a, 1) - at(b, 1));
    f64::midpoint(side(0, 3), side(1, 2))
}

impl Clip {
    /// The true rig; without corners the screen is to be found.
    pub fn rig(&self, corners: bool) -> String {
        let g = &self.geometry;
        let mut text = format!(
            "name = \"{}\"\n[screen]\naf_area = {}\n",
            self.film.name, g["af_area"]
        );
        if corners {
            text += &format!("corners = {}\n", g["screen_corners"]);
        }
        text += &if self.press {
            format!(
                "[stimulus]\nkind = \"light\"\nregion = {}\n",
                g["led_region"]
            )
        } else {
            format!(
                "[stimulus]\nkind = \"swing\"\nat = \"rest\"\nregion = {}\n",
                g["direct_region"]
            )
        };
        text + &format!("[trial]\nwindow_ms = {}\n", self.film.window_s * 1e3)
    }
}
