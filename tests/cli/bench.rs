//! A folder with a small rendered clip, its rig, and the command to try on it.

use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::OnceLock;

use assert_cmd::Command;
use focuslag::render::{Scene, render};

/// Three plain trials on a small screen that nearly fills the frame.
const SCENE: &str = r#"
seed = 41
window_ms = 600
[near]
texture = "leaves"
[motion]
move_ms = 250
pause_ms = 1000
pause_jitter_ms = 20
lead_ms = 400
[screen]
corners = [[20, 14], [300, 16], [302, 226], [18, 224]]
bezel_px = 8
[film]
size = [320, 240]
full_well = 20000
[container]
quality = 12
[[trial]]
[[trial]]
[[trial]]
"#;

/// The rig of that scene.
pub const RIG: &str = r#"
name = "counter"
[capture]
fps = 240.0
[screen]
corners = [[20, 14], [300, 16], [302, 226], [18, 224]]
[stimulus]
kind = "swing"
[trial]
window_ms = 600
"#;

/// The clip, made once for all tests.
fn clip() -> &'static [u8] {
    static CLIP: OnceLock<Vec<u8>> = OnceLock::new();
    CLIP.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("clip.mp4");
        let scene = Scene::from_toml(SCENE, "scene").unwrap();
        render(&scene, folder.path(), &path, |_, _| {}).unwrap();
        std::fs::read(path).unwrap()
    })
}

/// A folder of its own, removed at the end.
pub struct Bench(tempfile::TempDir);

impl Bench {
    /// With `rig.toml`, `good.mp4` and `session.toml` (one setup, that clip).
    pub fn new() -> Self {
        let bench = Self(tempfile::tempdir().unwrap());
        bench.file("rig.toml", RIG);
        bench.bytes("good.mp4", clip());
        bench.session("[[setup]]\nname = \"kit-amber\"\nclips = [\"good.mp4\"]\n");
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub fn bytes(&self, name: &str, content: &[u8]) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, content).unwrap();
        path
    }

    pub fn file(&self, name: &str, content: &str) -> PathBuf {
        self.bytes(name, content.as_bytes())
    }

    /// A session with `rig.toml` and these setups.
    pub fn session(&self, setups: &str) -> PathBuf {
        self.file("session.toml", &format!("rig = \"rig.toml\"\n{setups}"))
    }

    /// The command, run in this folder.
    pub fn command(&self) -> Command {
        let mut command = Command::cargo_bin("focuslag").unwrap();
        command.current_dir(self.0.path());
        command
    }

    /// Runs with arguments split at spaces.
    pub fn run(&self, args: &str) -> Told {
        let args = args.split_whitespace();
        Told::of(self.command().args(args).output().unwrap())
    }

    /// Names in the folder that end like this.
    pub fn listed(&self, ending: &str) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.0.path())
            .unwrap()
            .map(|e| e.unwrap().file_name().into_string().unwrap())
            .filter(|n| n.ends_with(ending))
            .collect();
        names.sort();
        names
    }
}

/// What came of a run.
#[derive(Debug)]
pub struct Told {
    pub code: i32,
    pub out: String,
    pub err: String,
}

impl Told {
    pub fn of(output: Output) -> Self {
        let told = Self {
            code: output.status.code().expect("ended by itself"),
            out: String::from_utf8(output.stdout).unwrap(),
            err: String::from_utf8(output.stderr).unwrap(),
        };
        assert!(!told.err.contains("panicked"), "{told:?}");
        assert!(!told.err.contains("itself is at fault"), "{told:?}");
        told
    }

    /// Ended with this code and said all of this on standard error.
    pub fn says(&self, code: i32, words: &[&str]) {
        assert_eq!(self.code, code, "{self:?}");
        for word in words {
            assert!(self.err.contains(word), "“{word}” is missing\n{}", self.err);
        }
    }

    /// Standard output as the one JSON document it must be.
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }
}

/// The bytes of a timing file, the same however often it is written.
pub fn content(path: &Path) -> Vec<u8> {
    std::fs::read(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

/// A WAV file of silence: ordinary sound, no picture (RIFF WAVE, PCM, mono).
pub fn silence() -> Vec<u8> {
    let samples = vec![0u8; 16_000];
    let mut out = b"RIFF".to_vec();
    out.extend((36 + samples.len() as u32).to_le_bytes());
    out.extend(b"WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00");
    out.extend(8000u32.to_le_bytes());
    out.extend(16_000u32.to_le_bytes());
    out.extend(b"\x02\x00\x10\x00data");
    out.extend((samples.len() as u32).to_le_bytes());
    out.extend(samples);
    out
}
