//! The binary under test.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use super::found::{self, Clip};

/// Where it is.
pub struct Tool {
    pub binary: PathBuf,
    /// Where kept signals lie; none are kept where there is no folder.
    pub signals: Option<PathBuf>,
    /// One limit with another value, `NAME=VALUE`.
    pub tried: Option<String>,
}

/// What a run left.
pub struct Timed {
    /// None where no timing file was written.
    pub timing: Option<Value>,
    pub clips: Vec<Clip>,
    /// What it said while it failed.
    pub said: Option<String>,
}

impl Tool {
    /// The given one, else the one built with the bench.
    pub fn new(binary: Option<&String>) -> Self {
        let built = Path::new(env!("CARGO_BIN_EXE_focuslag"));
        Self {
            binary: binary.map_or(built, Path::new).to_path_buf(),
            signals: None,
            tried: None,
        }
    }

    /// `time` with a rig of its own for one setup.
    pub fn time(&self, rig: &str, setup: &str, clips: &[PathBuf], folder: &Path) -> Timed {
        std::fs::create_dir_all(folder).expect("a folder");
        let path = folder.join(format!("{setup}.rig.toml"));
        std::fs::write(&path, rig).expect("a rig");
        let mut command = self.begin(folder);
        command
            .arg("--rig")
            .arg(&path)
            .arg("--setup")
            .arg(setup)
            .args(clips);
        let said = run(command);
        read(folder, setup, said)
    }

    /// `time` of a session file; the timing files of `setups`, in their order.
    pub fn session(&self, session: &Path, setups: &[&str], folder: &Path) -> Vec<Timed> {
        let mut command = self.begin(folder);
        command.arg(session);
        let said = run(command);
        setups
            .iter()
            .map(|s| read(folder, s, said.clone()))
            .collect()
    }

    /// `compare --json` of timing files; none where it refuses.
    pub fn compare(&self, files: &[PathBuf]) -> Result<Value, String> {
        let mut command = Command::new(&self.binary);
        command.arg("compare").arg("--json").args(files);
        let out = command.output().expect("the binary runs");
        serde_json::from_slice(&out.stdout)
            .map_err(|_| String::from_utf8_lossy(&out.stderr).into_owned())
    }

    fn begin(&self, folder: &Path) -> Command {
        let mut command = Command::new(&self.binary);
        command.args(["time", "--quiet", "--force"]);
        command.arg("--out").arg(folder);
        match &self.signals {
            Some(kept) => command.arg("--signals").arg(kept),
            None => command.arg("--no-signals"),
        };
        if let Some(tried) = &self.tried {
            command.env("FOCUSLAG_TRY_LIMIT", tried);
        }
        command
    }
}

/// What was said on the way to an exit code that is not 0.
fn run(mut command: Command) -> Option<String> {
    let out = command.output().expect("the binary runs");
    (!out.status.success()).then(|| {
        let said = String::from_utf8_lossy(&out.stderr);
        format!("exit {:?}: {}", out.status.code(), said.trim())
    })
}

/// Where the timing file of a setup lies.
pub fn timing_path(folder: &Path, setup: &str) -> PathBuf {
    folder.join(format!("{setup}.timing.json"))
}

fn read(folder: &Path, setup: &str, said: Option<String>) -> Timed {
    let text = std::fs::read_to_string(timing_path(folder, setup)).ok();
    let timing: Option<Value> = text.map(|t| serde_json::from_str(&t).expect("JSON"));
    Timed {
        clips: timing.as_ref().map(found::clips).unwrap_or_default(),
        timing,
        said,
    }
}
