//! The film, and what its truth says of a timed clip.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use focuslag::render::{Scene, Truth, Verdict as True, render};
use focuslag::rig::Rig;
use focuslag::store::schema::{Clip, Trial, Verdict};
use tempfile::TempDir;

use super::{pair, timed};

/// The screen lies to the upper left, so that a wrong turn looks elsewhere.
pub const CORNERS: [[f64; 2]; 4] = [[16.0, 12.0], [276.0, 14.0], [278.0, 202.0], [14.0, 200.0]];
/// Width and height of the upright frame, px.
pub const SIZE: [f64; 2] = [320.0, 250.0];

/// Two hits and one soft trial.
const SCENE: &str = "seed = 7\nwindow_ms = 700\n\
    [motion]\nmove_ms = 250\npause_ms = 1000\npause_jitter_ms = 0\nlead_ms = 400\n\
    [[trial]]\ndrive_ms = 180\n[[trial]]\ndrive_ms = 300\n\
    [[trial]]\noutcome = \"soft\"\ndrive_ms = 120\nresidual_permille = 14\n";

/// H.264 keeps every bit at this quality with 8 bits a sample.
pub const WHOLE: &str = "quality = 0\npreset = \"ultrafast\"\n";

/// A rendered film in a folder of its own.
pub struct Film {
    pub folder: TempDir,
    pub path: PathBuf,
    pub truth: Truth,
}

impl Film {
    /// The film stored as `[container]` says.
    pub fn stored(name: &str, container: &str) -> Self {
        let shot = format!(
            "[screen]\ncorners = {CORNERS:?}\n\
             [film]\nfps = 240\nsize = [320, 250]\nreadout_ms = 3.5\n\
             read_noise = 0.001\nfull_well = 40000\n"
        );
        Self::shot(name, &shot, container)
    }

    pub fn shot(name: &str, shot: &str, container: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let text = format!("{SCENE}{shot}[container]\n{container}");
        let scene = Scene::from_toml(&text, "odd.toml").expect("a scene");
        let path = folder.path().join(name);
        let truth = render(&scene, folder.path(), &path, |_, _| ()).expect("a clip");
        Self {
            folder,
            path,
            truth,
        }
    }

    /// Timed with more of a rig, and held to the truth.
    pub fn timed(&self, more: &str) -> Clip {
        let clip = time(&self.path, CORNERS, more, self.folder.path());
        agrees(&self.truth, &clip);
        clip
    }
}

/// The film in MP4 at the rate it was shot, and what is found in it.
pub struct Plain {
    bytes: Vec<u8>,
    pub truth: Truth,
    pub clip: Clip,
}

impl Plain {
    /// A copy of the file.
    pub fn copy(&self, folder: &Path) -> PathBuf {
        let path = folder.join("plain.mp4");
        std::fs::write(&path, &self.bytes).unwrap();
        path
    }
}

pub fn plain() -> &'static Plain {
    static PLAIN: OnceLock<Plain> = OnceLock::new();
    PLAIN.get_or_init(|| {
        let film = Film::stored("plain.mp4", WHOLE);
        let clip = film.timed("");
        assert!(clip.warnings.is_empty(), "{:?}", clip.warnings);
        let bytes = std::fs::read(&film.path).unwrap();
        let truth = film.truth;
        Plain { bytes, truth, clip }
    })
}

/// A copy cut to 60 % of its bytes, beside the file.
pub fn cut(path: &Path) -> PathBuf {
    let bytes = std::fs::read(path).unwrap();
    let name = path.file_name().unwrap().to_string_lossy();
    let cut = path.with_file_name(format!("cut-{name}"));
    std::fs::write(&cut, &bytes[..bytes.len() * 6 / 10]).unwrap();
    cut
}

pub fn swing() -> String {
    format!("corners = {CORNERS:?}")
}

pub fn rig(screen: &str, more: &str) -> String {
    format!(
        "name = \"r\"\n[screen]\n{screen}\n[stimulus]\nkind = \"swing\"\n\
         [trial]\nwindow_ms = 700\n{more}"
    )
}

pub fn time(path: &Path, corners: [[f64; 2]; 4], more: &str, folder: &Path) -> Clip {
    let rig = rig(&format!("corners = {corners:?}"), more);
    timed::timed(path, &rig, folder, 2).clips.remove(0)
}

/// What is said where a clip cannot be timed.
pub fn refusal(path: &Path, rig: &str, folder: &Path) -> String {
    let rig = Rig::parse(rig, "rig").expect("a rig");
    match timed::tried(path, rig, folder, 2) {
        Err(faults) => faults.iter().map(ToString::to_string).collect(),
        Ok(done) => {
            assert!(done.written.is_empty());
            done.failures.join("; ")
        }
    }
}

/// Number, sides, verdicts, onsets and settling of all trials, to within a
/// refresh and a frame; true rate to 1 %.
pub fn agrees(truth: &Truth, clip: &Clip) {
    assert_eq!(truth.trials.len(), 3);
    assert_eq!(clip.trials.len(), truth.trials.len(), "{:?}", clip.warnings);
    let rate = clip.capture_fps.expect("a rate") / truth.capture_fps;
    assert!((rate - 1.0).abs() < 0.01, "{:?}", clip.capture_fps);
    let unit = 1.0 / truth.refresh_hz + 1.0 / truth.capture_fps;
    for (k, (t, found)) in truth.trials.iter().zip(&clip.trials).enumerate() {
        let verdict = match t.verdict {
            True::Hit => Verdict::Hit,
            True::Soft => Verdict::Soft,
            True::Lost => Verdict::Lost,
            True::Void => Verdict::Void,
        };
        assert_eq!(found.verdict, verdict, "{found:?}");
        let sides = (format!("{:?}", t.side), format!("{:?}", found.side));
        assert_eq!(sides.0, sides.1);
        let late = found.onset_s - t.onset_s;
        assert!(late.abs() < unit, "onset {} {late}", t.onset_s);
        let pair = truth
            .settled(k, found.delta_permille.expect("δ"))
            .expect("a settle")
            .pair;
        let got = found.settle_s.expect("settled");
        assert!(pair::agrees(pair, got, unit), "{pair:?} {got}");
    }
}

/// The same trials: latencies within `ms`, end blur within `permille`.
pub fn same(a: &[Trial], b: &[Trial], ms: f64, permille: f64) {
    assert_eq!(a.len(), b.len());
    for (a, b) in a.iter().zip(b) {
        assert_eq!((a.side, a.verdict), (b.side, b.verdict));
        let latency = |t: &Trial| t.settle_s.expect("settled") - t.onset_s;
        let off_ms = 1000.0 * (latency(a) - latency(b));
        assert!(off_ms.abs() <= ms, "{off_ms} ms: {a:?} {b:?}");
        assert_eq!(a.latency_ms.is_some(), b.latency_ms.is_some());
        // What is sharper than its reference has no blur; below that is noise.
        let end = |t: &Trial| {
            let blur = t.blur_permille.expect("blur");
            (
                blur.end.expect("an end").max(0.0),
                blur.end_u.unwrap_or(0.0),
            )
        };
        let ((left, left_u), (right, right_u)) = (end(a), end(b));
        let room = permille.max(2.0 * left_u.hypot(right_u));
        assert!((left - right).abs() <= room, "{left} {right}: {a:?} {b:?}");
    }
}
