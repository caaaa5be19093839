//! Clips for the tests, made on the spot with the `ffmpeg` tool, and what that
//! tool and `ffprobe` say about them: the reference decoder and its times.

#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use sha2::{Digest, Sha256};

/// A folder for one test's clips, removed at the end.
pub struct Bench {
    dir: tempfile::TempDir,
}

impl Bench {
    /// `None`, with a note, where the `ffmpeg` tool or an encoder is missing.
    pub fn with(encoders: &[&str]) -> Option<Self> {
        let Ok(list) = Command::new("ffmpeg")
            .args(["-v", "quiet", "-encoders"])
            .output()
        else {
            println!("skipped: the ffmpeg tool is not installed");
            return None;
        };
        let list = String::from_utf8_lossy(&list.stdout).into_owned();
        for encoder in encoders {
            if !list.split_whitespace().any(|word| word == *encoder) {
                println!("skipped: this ffmpeg has no encoder {encoder}");
                return None;
            }
        }
        Some(Self {
            dir: tempfile::tempdir().unwrap(),
        })
    }

    /// A path inside the folder.
    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// Writes a file as it stands.
    pub fn file(&self, name: &str, content: &[u8]) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, content).unwrap();
        path
    }

    /// Runs `ffmpeg ARGS name` (arguments split at spaces).
    pub fn make(&self, name: &str, args: &str) -> PathBuf {
        let path = self.path(name);
        let mut command = Command::new("ffmpeg");
        command.current_dir(self.dir.path());
        command.args(["-v", "error", "-nostdin", "-y"]);
        command.args(args.split_whitespace()).arg(&path);
        succeed(&mut command);
        path
    }

    /// A moving test picture of so many frames.
    pub fn moving(&self, name: &str, size: &str, fps: &str, frames: u32, args: &str) -> PathBuf {
        self.make(
            name,
            &format!("-f lavfi -i testsrc2=s={size}:r={fps} -frames:v {frames} {args}"),
        )
    }
}

fn succeed(command: &mut Command) -> Output {
    let output = command.output().unwrap();
    assert!(
        output.status.success(),
        "{command:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    output
}

/// SHA-256 of every frame's luma plane as the `ffmpeg` tool decodes it, in one
/// go and with one thread.
pub fn reference_hashes(path: &Path) -> Vec<String> {
    let mut command = Command::new("ffmpeg");
    command
        .args([
            "-v",
            "quiet",
            "-nostdin",
            "-threads",
            "1",
            "-noautorotate",
            "-i",
        ])
        .arg(path);
    command.args("-map V:0 -an -fps_mode passthrough -vf extractplanes=y".split(' '));
    command.args("-f framehash -hash sha256 -".split(' '));
    let output = succeed(&mut command);
    String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.rsplit(',').next().map(|h| h.trim().to_owned()))
        .collect()
}

/// Presentation times of the decoded frames in seconds, from `ffprobe`
/// (`best_effort_timestamp_time`), counted from the first.
pub fn reference_times(path: &Path) -> Vec<f64> {
    let mut command = Command::new("ffprobe");
    command.args("-v quiet -select_streams V:0 -of csv=p=0".split(' '));
    command.args("-show_entries frame=best_effort_timestamp_time".split(' '));
    let output = succeed(command.arg(path));
    let times: Vec<f64> = String::from_utf8_lossy(&output.stdout)
        .lines()
        .filter_map(|line| line.trim_matches(',').split(',').next()?.parse().ok())
        .collect();
    times.iter().map(|t| t - times[0]).collect()
}

/// Hash of bytes as [`reference_hashes`] gives it.
pub fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|b| format!("{b:02x}"))
        .collect()
}

/// Bytes of `path` with the ones at `at` replaced.
pub fn patched(path: &Path, at: usize, with: &[u8]) -> Vec<u8> {
    let mut bytes = std::fs::read(path).unwrap();
    bytes[at..at + with.len()].copy_from_slice(with);
    bytes
}

/// Where `needle` stands in the file.
pub fn find(path: &Path, needle: &[u8]) -> usize {
    let bytes = std::fs::read(path).unwrap();
    bytes
        .windows(needle.len())
        .position(|w| w == needle)
        .unwrap()
}
